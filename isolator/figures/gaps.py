"""The room inside as bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

from isolator.figures.style import FILLS, HATCHES, INK, LABEL, TITLE, answer, axes, folded
from isolator.inside import FACES

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.verdict import Check


MOST = 10
"""How many obstacles and other bodies one picture shows."""


def tightest(assessment: Assessment, frame: str | None = None) -> list[Check]:
    """Clearances of a body beside those of its walls, the one with the least left last."""
    start = f"{frame}: clearance/" if frame else "clearance/"
    walls = {assessment.facing(face, frame).id for face in FACES}
    found = [c for c in assessment.checks if c.id.startswith(start) and c.id not in walls]

    def left(check: Check) -> float:
        known = check.demand is not None and check.capacity is not None
        return (check.capacity or 0.0) - (check.demand or 0.0) if known else -float("inf")

    return sorted(found, key=left, reverse=True)[-MOST:]


def room(assessment: Assessment, *, frame: str | None = None, ax: Axes | None = None) -> Axes:
    """Draw how far the payload moves towards each face, against the gap there.

    The frame is the gap, the bar in it the motion; the words beside it and the hatching give the
    status. Where another body stands before a wall, the gap is to it and both move. Below the
    walls stand the tightest of obstacles, ribs, rounded edges and other bodies.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    frame : str, optional
        Name of a further body of the brief; the main payload if left out.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> ax = room(case, ax=Figure().subplots())
    >>> [label.get_text() for label in ax.get_yticklabels()][-1]
    'lid'
    """
    more = tightest(assessment, frame)
    rows = [*more, *(assessment.facing(face, frame) for face in FACES)]
    stands = assessment.body(frame).designs[0].stands_before
    ax = axes(ax)
    for y, check in enumerate(rows):
        reach = max((v for v in (check.demand, check.capacity) if v is not None), default=0.0)
        if check.capacity is not None:
            ax.barh(y, check.capacity, 0.7, fill=False, edgecolor=INK, lw=1.4, zorder=3)
        if check.demand is not None:
            ax.barh(
                y,
                check.demand,
                0.4,
                facecolor=FILLS[check.status],
                edgecolor=INK,
                lw=0.8,
                hatch=HATCHES[check.status],
            )
        ax.annotate(
            folded(answer(check), 1.5 * LABEL),
            (reach, y),
            (5, 0),
            textcoords="offset points",
            va="center",
            weight="bold" if check.status == "fail" and not check.waived else "normal",
        )
    labels = [folded(check.id.rpartition("/")[2], LABEL) for check in more]
    labels += [
        folded(f"{face}, to {stands[face]}" if face in stands else face, LABEL) for face in FACES
    ]
    ax.set_yticks(range(len(rows)), labels)
    ax.set_xlim(0, 1.45 * max(1.0, *(v for c in rows for v in (c.demand, c.capacity) if v)))
    ax.set_xlabel("frame: gap, bar: motion towards the face [mm]")
    ax.set_title(folded(f"{frame}: room inside" if frame else "room inside", TITLE), loc="left")
    return ax

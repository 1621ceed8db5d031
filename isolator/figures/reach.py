"""How far the payload swings, over its outline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from isolator.clearance import towards_faces
from isolator.figures.labels import Labels
from isolator.figures.style import FADED, INK, LABEL, MIDDLE, NAME, PALE, TITLE, answer, folded
from isolator.figures.views import VIEWS, View, others, sheet, standing, whole
from isolator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.response import Response

LINES = {
    "rest": ("at rest in all attitudes", {"edgecolor": INK, "ls": ":", "lw": 1.3}),
    "shaking": ("vibration, sine, steps", {"edgecolor": MIDDLE, "ls": "-", "lw": 1.3}),
    "fall": ("drop and set-down", {"edgecolor": FADED, "ls": "-", "lw": 2.6}),
    "worst": ("worst, held against the gap", {"edgecolor": INK, "ls": "-.", "lw": 1.2}),
}
"""Kind of motion → what the legend calls it, and how its rectangle is drawn."""


def sway(
    assessment: Assessment,
    view: View = "plan",
    *,
    frame: str | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw how far the payload's corners reach over its outline, against the walls.

    Each line is the rectangle that the corners reach face by face, tolerance included, about the
    box as the gaps were measured; the words at a wall are its clearance check.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    view : "plan", "front" or "side"
        From above, from the handle side, from the right end.
    frame : str, optional
        Name of a further body of the brief; the main payload if left out.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No such view or body.

    Examples
    --------
    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> ax = sway(case, ax=Figure().subplots())
    >>> [text.get_text().split(",")[0] for text in ax.texts][0]
    'left end\\npass'
    """
    page, response = sheet(assessment, view, ax, frame), assessment.body(frame)
    sides = [2 * k + n for k in (page.across, page.up) for n in (0, 1)]
    box = page.edges(np.zeros(4))
    page.box(
        box, folded(frame or "payload", LABEL), facecolor=PALE, edgecolor=INK, lw=1.4, zorder=2
    )
    page.walls()
    reach = [box, page.inner()]
    more = others(page, assessment, frame)
    reach += [*standing(page, response.designs[0]), *more.values()]
    known = [check.demand for check in page.checks.values()]
    moves = {kind: 1e3 * towards[sides] for kind, towards in _towards(response).items()}
    moves["worst"] = np.array([np.nan if d is None else d for d in known])
    for kind, way in moves.items():
        name, style = LINES[kind]
        if np.isfinite(way).all():
            reach.append(page.edges(way))
            page.box(reach[-1], name, fill=False, zorder=4, **style)
        else:
            page.ax.plot([], [], " ", label=f"{name}: not known on every side")
    most = whole(reach)
    for side, check in page.checks.items():
        face = check.id.rpartition(": ")[2].partition("/")[2]
        text = folded(answer(check), 1.5 * LABEL)
        text = text if check.capacity is not None else f"gap not given,\n{text}"
        bold = check.status == "fail" and not check.waived
        page.word(
            side,
            f"{face}\n{text}" if side in ("left", "right") else f"{face}: {text}",
            most,
            weight="bold" if bold else "normal",
            zorder=6,
        )
    title = f"{f'{frame}: ' if frame else ''}sway, {VIEWS[view][2]}"
    page.finish(folded(title, TITLE), most, 0.12)
    if more:
        labels = Labels(page.ax)
        for name, edges in more.items():
            labels.name(folded(name, NAME), edges, most, zorder=6)
    return page.ax


def _towards(response: Response) -> dict[str, FloatArray]:
    """Kind of motion → how far it takes the corners towards the faces (6,), tolerance in. [m]"""
    towards = towards_faces(response.needed[0, :, 0])
    known = [np.isfinite(way).all() for way in towards]
    out: dict[str, FloatArray] = {}
    for motion, way, every in zip(response.motions, towards, known, strict=True):
        way = way if every else np.full(6, np.nan)
        out[motion.kind] = np.maximum(out.get(motion.kind, way), way)
    return out

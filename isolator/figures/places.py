"""What sits where: a sketch to scale."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.design import Design
from isolator.figures.labels import LEADER, LETTER, LINE, Labels
from isolator.figures.style import INK, MIDDLE, NAME, PALE, SMALL, folded
from isolator.figures.views import VIEWS, Sheet, View, about, others, sheet, standing, whole
from isolator.inside import Obstacle
from isolator.payload import Part
from isolator.units import FloatArray, si_array, si_array_or_none, si_or_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.response import Response

BACKING = {"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85}
"""Behind words that stand over hatching."""

CLEAR = 9.0
"""From all that is drawn to the loads. [pt]"""


MOST_NAMES = 30
"""How many parts and obstacles are named, the largest ones."""


def layout(assessment: Assessment, view: View = "plan", *, ax: Axes | None = None) -> Axes:
    """Draw to scale what sits where, with the load of every mount at rest with the lid up.

    The payload's box lies about the origin; the walls stand off it by the gaps.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    view : "plan", "front" or "side"
        From above, from the handle side, from the right end.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No such view.

    Examples
    --------
    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> ax = layout(case, "side", ax=Figure().subplots())
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('y [mm]', 'z [mm]')
    """
    page = sheet(assessment, view, ax)
    design = assessment.design
    reach = [page.inner()]
    page.walls()
    for label, boxes, style in _outlines(design, page):
        for n, edges in enumerate(boxes):
            page.box(edges, None if n else label, **style)
        reach += boxes
    more = others(page, assessment, None)
    reach += [*standing(page, design), *more.values()]
    at = page.flat(design.payload.centre_of_gravity())
    taken = " (taken: payload.centre is not given)" if design.payload.centre is None else ""
    page.ax.plot(*at, "o", ms=13, mfc="white", mec=INK, mew=1.5, zorder=6)
    page.ax.plot(*at, "+", ms=13, color=INK, mew=1.5, zorder=7, label=f"centre of gravity{taken}")
    for n, cable in enumerate(design.cables):
        spot = page.flat(si_array(cable, "position"))
        word = None if n else "cable"
        page.ax.plot(*spot, "D", ms=6, mfc="white", mec=INK, ls="none", label=word, zorder=7)
    bodies = [_loads(body, page) for body in assessment.bodies().values()]
    spots = [spot for loads in bodies for spot in loads.spots]
    most = whole([*reach, *(np.repeat(spot, 2) for spot in spots)])
    ends = most.copy()
    for n, (side, gap) in enumerate(zip(page.checks, page.gaps(), strict=True)):
        if np.isnan(gap):
            page.word(side, "gap not given", most)
            ends[n] += (2 * (n % 2) - 1) * 1.3 * LINE * page.span(most)
    beyond = ends.copy()
    ends[:2] += _aside(design, page, most)
    listed = len(bodies) > 1 or bodies[0].crowded(page.span(ends))
    if listed:
        lines = [line for loads in bodies for line in loads.lines]
        page.ax.annotate(
            "\n".join(lines),
            (1, 1),
            (8, 0),
            xycoords="axes fraction",
            textcoords="offset points",
            va="top",
            fontsize=SMALL,
        )
    else:
        rows = bodies[0].written(page, beyond, page.span(ends))
        ends[2:] += rows * LINE * page.span(ends) * np.array([-1, 1])
    for loads in bodies:
        loads.marks(page)
    page.finish(f"{VIEWS[view][2]}: load [N] at rest, lid up", ends, 0.025)
    labels = Labels(page.ax)
    if listed:
        for loads in bodies:
            loads.numbered(labels)
    for name, edges in more.items():
        labels.name(folded(name, NAME), edges, most, color=INK, zorder=5)
    _names(design, page, labels, most)
    return page.ax


def _outlines(
    design: Design, page: Sheet
) -> Iterator[tuple[str, Sequence[FloatArray], Mapping[str, Any]]]:
    """Words, boxes by left, right, bottom and top [mm], and style, from the back to the front."""
    thin: dict[str, Any] = {"fill": False, "edgecolor": MIDDLE, "lw": 0.9, "zorder": 3}
    outside = si_array_or_none(design.case, "size")
    if outside is not None:
        middle = page.inner().reshape(2, 2).mean(axis=1)
        case = about(middle, page.flat(outside))
        yield "outside of the case, centred", [case], thin | {"edgecolor": INK, "ls": "--"}
    box = {"facecolor": PALE, "edgecolor": INK, "lw": 1.4, "zorder": 2}
    yield "payload", [page.edges(np.zeros(4))], box
    yield "parts", [edges for _, edges in _boxes(design.payload.parts, page)], thin


def _boxes(things: Sequence[Part | Obstacle], page: Sheet) -> list[tuple[str, FloatArray]]:
    """Name and box of everything that has a size."""
    return [
        (thing.name, about(page.flat(si_array(thing, "position")), page.flat(size)))
        for thing in things
        if (size := si_array_or_none(thing, "size")) is not None
    ]


def _named(design: Design, page: Sheet) -> list[tuple[str, FloatArray, bool]]:
    """Name, box and whether it is a part of the payload, of all that has a size; small ones first.

    A part that is fixed in the case is among its obstacles too: one name is enough.
    """
    inside = {part.name for part in design.payload.parts}
    things: list[Part | Obstacle] = [*design.payload.parts, *design.case.parts]
    things += design.case.standing()
    boxes = _boxes(list({thing.name: thing for thing in things}.values()), page)
    boxes.sort(key=lambda one: (one[1][1] - one[1][0]) * (one[1][3] - one[1][2]))
    return [(name, edges, name in inside) for name, edges in boxes]


def _aside(design: Design, page: Sheet, most: FloatArray) -> FloatArray:
    """What the names of narrow obstacles take left and right of the drawing (2,). [mm]"""
    taken = np.zeros(2)
    for name, edges, floats in _named(design, page)[-MOST_NAMES:]:
        wide = LETTER * page.span(most) * (2 + max(map(len, folded(name, NAME).split("\n"))))
        if not floats and wide > edges[1] - edges[0]:
            side = 0 if edges[:2].mean() < most[:2].mean() else 1
            taken[side] = max(taken[side], wide)
    return np.asarray(taken * np.array([-1, 1]))


def _names(design: Design, page: Sheet, labels: Labels, most: FloatArray) -> None:
    """Names of parts and obstacles inside of them, of narrow obstacles beside the drawing.

    A part whose name finds no place is named in another view.
    """
    named = _named(design, page)
    for n, (name, edges, floats) in [*enumerate(named)][-MOST_NAMES:]:
        words, style = folded(name, NAME), {"color": INK, "zorder": 5}
        smaller = [
            own for m, (_, own, other) in enumerate(named) if m < n or (floats and not other)
        ]
        behind = {} if floats else {"bbox": BACKING}
        if not labels.within(words, edges, smaller, **style, **behind) and not floats:
            other = [own for _, own, part in named if not part and _apart(own, edges)]
            labels.beside(words, edges, most, other, **style)


def _apart(one: FloatArray, other: FloatArray) -> bool:
    """Whether two boxes (4,) do not overlap."""
    return bool((one[1::2] <= other[::2]).any() or (other[1::2] <= one[::2]).any())


@dataclass(frozen=True)
class _Loads:
    """The mounts of a body on paper: groups of those that lie behind each other at one spot."""

    spots: Sequence[FloatArray]
    groups: Sequence[Sequence[int]]
    lines: Sequence[str]
    over: Sequence[bool]

    def bad(self, group: Sequence[int]) -> bool:
        """Whether one of them bears more than it is rated for."""
        return any(self.over[n] for n in group)

    def crowded(self, span: float) -> bool:
        """Whether loads on two lines, above and below the drawing, would touch."""
        return self._touch(max(len(part) for x in self.lines for part in _halves(x)), span)

    def _touch(self, letters: int, span: float) -> bool:
        apart = (letters + 1) * LETTER * span
        return any(
            abs(a[0] - b[0]) < apart and (a[1] >= 0) == (b[1] >= 0)
            for n, a in enumerate(self.spots)
            for b in self.spots[:n]
        )

    def marks(self, page: Sheet) -> None:
        """A square at each mount, a cross where its rating is passed."""
        seen = set(page.ax.get_legend_handles_labels()[1])
        for spot, group in zip(self.spots, self.groups, strict=True):
            bad = self.bad(group)
            label = "mount over its rated load" if bad else "mount: load of rated load"
            page.ax.plot(
                *spot,
                "X" if bad else "s",
                ms=10 if bad else 8,
                color=INK,
                mec="white",
                zorder=8,
                ls="none",
                label=None if label in seen else label,
            )
            seen.add(label)

    def written(self, page: Sheet, beyond: FloatArray, span: float) -> FloatArray:
        """Write the loads above and below all that is drawn; the lines of each (below, above)."""
        from matplotlib.transforms import ScaledTranslation

        figure = page.ax.get_figure(root=True)
        assert figure is not None
        split = self._touch(max(map(len, self.lines)), span)
        count = np.zeros(2)
        for spot, group in zip(self.spots, self.groups, strict=True):
            above = int(spot[1] >= 0)
            rows = [part for n in group for part in (_halves if split else _one)(self.lines[n])]
            count[above] = max(count[above], len(rows) + 0.7)
            away = ScaledTranslation(0, (2 * above - 1) * CLEAR / 72, figure.dpi_scale_trans)
            page.ax.annotate(
                "\n".join(rows),
                (float(spot[0]), float(spot[1])),
                (float(spot[0]), float(beyond[2 + above])),
                textcoords=page.ax.transData + away,
                ha="center",
                va="bottom" if above else "top",
                fontsize=SMALL,
                weight="bold" if self.bad(group) else "normal",
                arrowprops=LEADER | {"relpos": (0.5, 1 - above)},
                zorder=7,
            )
        return count

    def numbered(self, labels: Labels) -> None:
        """Write the numbers of the mounts near their marks."""
        for spot, group in zip(self.spots, self.groups, strict=True):
            words = ", ".join(str(n + 1) for n in group)
            weight = "bold" if self.bad(group) else "normal"
            at = (float(spot[0]), float(spot[1]))
            labels.near(words, at, weight=weight, zorder=9)


def _one(line: str) -> list[str]:
    return [line]


def _halves(line: str) -> list[str]:
    """A load and its rating on two lines."""
    return line.replace(" of ", "\nof ").split("\n")


def _loads(response: Response, page: Sheet) -> _Loads:
    """Where the mounts of a body lie on paper, and what each bears."""
    design = response.designs[0]
    name = f"{folded(design.name, NAME)} " if si_array_or_none(design, "at") is not None else ""
    stands = bool(response.pose.found[0, 0])
    groups: dict[tuple[float, float], list[int]] = {}
    for n, place in enumerate(design.places):
        x, y = np.round(page.flat(design.middle() + si_array(place, "position")), 1)
        groups.setdefault((float(x), float(y)), []).append(n)
    lines, over = [], []
    for n, place in enumerate(design.places):
        load = float(response.load[0, 0, n])
        rated = si_or_none(place.mount, "rated_load")
        text = f"{name}{n + 1}: {load:.3g}" if stands else f"{name}{n + 1}: not at rest"
        over.append(stands and rated is not None and load > rated)
        if stands and rated is not None:
            text += f" of {rated:.3g} N"
        elif stands:
            text += " N"
        lines.append(text)
    return _Loads([np.array(spot) for spot in groups], list(groups.values()), lines, over)

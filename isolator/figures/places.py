"""What sits where: a sketch to scale."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.design import Design
from isolator.figures.style import INK, MIDDLE, NAME, PALE, SMALL, folded
from isolator.figures.views import VIEWS, Sheet, View, about, others, sheet, standing
from isolator.inside import Obstacle
from isolator.payload import Part
from isolator.units import FloatArray, si_array, si_array_or_none, si_or_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.response import Response

BACKING = {"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85}
"""Behind words that stand over lines or hatching."""

NARROW = 1.4
"""From here on letters are so large beside a picture that loads may not fit on one line."""

APART, WELL_APART = 0.3, 0.46
"""What marks must be apart for loads on two lines and on one. [share of the payload's size]"""


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
    for side, gap in zip(page.checks, page.gaps(), strict=True):
        if np.isnan(gap):
            page.word(side, "gap not given")
    for label, boxes, style in _outlines(design, page):
        for n, edges in enumerate(boxes):
            page.box(edges, None if n else label, **style)
        reach += boxes
    reach += [*standing(page, design), *others(page, assessment, None)]
    at = page.flat(design.payload.centre_of_gravity())
    taken = " (taken: payload.centre is not given)" if design.payload.centre is None else ""
    page.ax.plot(*at, "o", ms=13, mfc="white", mec=INK, mew=1.5, zorder=6)
    page.ax.plot(*at, "+", ms=13, color=INK, mew=1.5, zorder=7, label=f"centre of gravity{taken}")
    for n, cable in enumerate(design.cables):
        spot = page.flat(si_array(cable, "position"))
        word = None if n else "cable"
        page.ax.plot(*spot, "D", ms=6, mfc="white", mec=INK, ls="none", label=word, zorder=7)
    spots, beside = [], []
    for body in assessment.bodies().values():
        some, lines = _mounts(body, page)
        spots += some
        beside += lines
    if beside:
        page.ax.annotate(
            "\n".join(beside),
            (1, 1),
            (8, 0),
            xycoords="axes fraction",
            textcoords="offset points",
            va="top",
            fontsize=SMALL,
        )
    _names(design, page, [at, *spots])
    ends = np.array([*reach, *(np.repeat(spot, 2) for spot in spots)])
    most = np.where([True, False, True, False], ends.min(axis=0), ends.max(axis=0))
    page.finish(f"{VIEWS[view][2]}: load [N] at rest, lid up", most, 0.06)
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


def _names(design: Design, page: Sheet, taken: Sequence[FloatArray]) -> None:
    """Names of parts and obstacles in their middles, where nothing else is."""
    inside = {part.name for part in design.payload.parts}
    things: list[Part | Obstacle] = [*design.payload.parts, *design.case.parts]
    things += design.case.standing()
    parts = _boxes(list({thing.name: thing for thing in things}.values()), page)
    areas = [(e[1] - e[0]) * (e[3] - e[2]) for _, e in parts]
    used = list(taken)
    width = 2 * page.half.max() * page.finer()
    for order in np.argsort(areas):
        name, edges = parts[order]
        at = edges.reshape(2, 2).mean(axis=1)
        words = folded(name, NAME)
        rows = words.split("\n")
        smaller = [e for (_, e), area in zip(parts, areas, strict=True) if area < areas[order]]
        covered = any(e[0] <= at[0] <= e[1] and e[2] <= at[1] <= e[3] for e in smaller)
        wide = 0.012 * max(map(len, rows)) * width
        reach = np.array([wide + 0.06 * width, (0.03 + 0.05 * len(rows)) * width])
        # It may be named in another view; of obstacles only a short name goes over the wall.
        long = 2 * wide > edges[1] - edges[0] and (name in inside or len(rows) > 1)
        if covered or long or any((np.abs(at - other) < reach).all() for other in used):
            continue
        used.append(at)
        page.ax.annotate(
            words,
            at,
            ha="center",
            va="center",
            color=INK,
            fontsize=SMALL,
            bbox=BACKING | {"facecolor": PALE} if name in inside else BACKING,
            zorder=5,
        )


def _mounts(response: Response, page: Sheet) -> tuple[list[FloatArray], list[str]]:
    """Marks with loads, and their places on paper.

    Where the loads would run into each other they come as lines for a list beside.
    """
    design = response.designs[0]
    name = f"{folded(design.name, NAME)} " if si_array_or_none(design, "at") is not None else ""
    stands = bool(response.pose.found[0, 0])
    groups: dict[tuple[float, float], list[int]] = {}
    for n, place in enumerate(design.places):
        x, y = np.round(page.flat(design.middle() + si_array(place, "position")), 1)
        groups.setdefault((float(x), float(y)), []).append(n)
    spots = [np.array(spot) for spot in groups]
    most, width = max(map(len, groups.values())), 2 * page.half.max() * page.finer()
    beside = bool(name) or _crowded(spots, most, APART * width, width)
    small = page.finer() > NARROW and not beside
    narrow = small and _crowded(spots, most, WELL_APART * width, width)
    inward = 8 if small and not narrow else 0
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
        lines.append(text.replace(" of ", "\nof ") if narrow else text)
    seen = {text for text in page.ax.get_legend_handles_labels()[1] if text.startswith("mount")}
    for number, (spot, members) in enumerate(zip(spots, groups.values(), strict=True)):
        bad = any(over[n] for n in members)
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
        above = number % 2 == 0 if beside else spot[1] >= 0
        page.ax.annotate(
            ", ".join(str(n + 1) for n in members)
            if beside
            else "\n".join(lines[n] for n in members),
            tuple(spot),
            (-inward * np.sign(spot[0]), 9 if above else -9),
            textcoords="offset points",
            ha="center",
            va="bottom" if above else "top",
            fontsize=SMALL,
            weight="bold" if bad else "normal",
            bbox=BACKING,
            zorder=9,
        )
    return spots, lines if beside else []


def _crowded(spots: Sequence[FloatArray], lines: int, apart: float, width: float) -> bool:
    """Whether loads written at two marks would touch, if they are no further apart sideways."""
    reach = np.array([apart, (0.07 * lines + 0.05) * width])
    return any(
        (np.abs(a - b) < reach).all() and (a[1] >= 0) == (b[1] >= 0)
        for n, a in enumerate(spots)
        for b in spots[:n]
    )

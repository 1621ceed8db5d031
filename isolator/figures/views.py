"""Flat views of the case in mm: what lies where on paper, walls, boxes, a bar for the scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

import numpy as np

from isolator.design import Design
from isolator.figures.style import INK, MIDDLE, SMALL, axes, legend_below
from isolator.inside import FACES
from isolator.trip import AXES
from isolator.units import FloatArray, InputError, si_array

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.verdict import Check

View: TypeAlias = Literal["plan", "front", "side"]

VIEWS: Mapping[str, tuple[int, int, str]] = {
    "plan": (0, 1, "plan, from above"),
    "front": (0, 2, "front, from the handle side"),
    "side": (1, 2, "side, from the right end"),
}
"""Axis to the right, axis upwards, words."""

SIZE_IN = (7.2, 6.0)
"""Of a picture of full size. [in]"""

NARROW_IN = 5.5
"""In a narrower picture the numbers along x would touch if they were many. [in]"""

OBSTACLE: Mapping[str, Any] = {
    "facecolor": "none",
    "edgecolor": MIDDLE,
    "hatch": "////",
    "lw": 1.0,
    "zorder": 3,
}


@dataclass(frozen=True)
class Sheet:
    """Axes that show one view.

    Attributes
    ----------
    ax : matplotlib Axes
    across, up : int
        Case axes to the right and upwards.
    half : (2,) array
        Half of the payload's box, which lies about the origin. [mm]
    checks : mapping of side to Check
        Clearance at the left, right, bottom and top of the paper.
    contour : sequence of (m, 2) arrays
        Closed lines of the room inside; empty where only its gaps are known. [mm]
    """

    ax: Axes
    across: int
    up: int
    half: FloatArray
    checks: Mapping[str, Check]
    contour: Sequence[FloatArray]

    def flat(self, points: FloatArray) -> FloatArray:
        """Points (..., 3) [m] on paper (..., 2). [mm]"""
        return np.asarray(1e3 * points[..., [self.across, self.up]])

    def edges(self, beyond: Sequence[float] | FloatArray) -> FloatArray:
        """Left, right, bottom, top (4,) of the payload's box moved outwards by (4,). [mm]"""
        sign = np.array([-1.0, 1.0, -1.0, 1.0])
        return np.asarray(sign * (np.repeat(self.half, 2) + np.asarray(beyond)))

    def gaps(self) -> FloatArray:
        """Gap at the left, right, bottom and top (4,), nan if unknown. [mm]"""
        given = [check.capacity for check in self.checks.values()]
        return np.array([np.nan if gap is None else gap for gap in given])

    def finer(self) -> float:
        """How many times larger letters are beside the drawing than in a picture of full size."""
        figure = self.ax.get_figure(root=True)
        assert figure is not None
        return max(1.0, float(np.max(np.array(SIZE_IN) / figure.get_size_inches())))

    def span(self, reach: FloatArray) -> float:
        """Larger side of what is drawn (4,), as it would be in a picture of full size. [mm]"""
        left, right, bottom, top = reach
        return self.finer() * float(max(right - left, top - bottom))

    def inner(self) -> FloatArray:
        """Left, right, bottom, top (4,) of the room, of the payload's box where it is unknown."""
        if not self.contour:
            return self.edges(np.nan_to_num(self.gaps()))
        points = np.concatenate(self.contour)
        return np.stack([points.min(axis=0), points.max(axis=0)], axis=-1).reshape(4)

    def box(self, edges: FloatArray, label: str | None, **style: Any) -> None:
        """A rectangle by its left, right, bottom and top. [mm]"""
        from matplotlib.patches import Rectangle

        left, right, bottom, top = edges
        size = (right - left, top - bottom)
        self.ax.add_patch(Rectangle((left, bottom), *size, label=label, **style))

    def walls(self) -> None:
        """The inside of the case, open where nobody gave the gap."""
        style: dict[str, Any] = {"color": INK, "lw": 2.2, "solid_capstyle": "projecting"}
        for n, line in enumerate(self.contour):
            words = ("inside of the case", "the same at the floor")[n]
            self.ax.plot(*line.T, label=words, zorder=5, **style | {"lw": (2.2, 1.0)[n]})
        if self.contour:
            return
        gaps = self.gaps()
        left, right, bottom, top = self.edges(np.where(np.isnan(gaps), 0.0, gaps))
        ends = [((left, left), (bottom, top)), ((right, right), (bottom, top))]
        ends += [((left, right), (bottom, bottom)), ((left, right), (top, top))]
        label: str | None = "inside of the case"
        for (x, y), gap in zip(ends, gaps, strict=True):
            if not np.isnan(gap):
                self.ax.plot(x, y, label=label, zorder=5, **style)
                label = None

    def word(self, side: str, text: str, beyond: FloatArray, **style: Any) -> None:
        """Words at a side of all that is drawn, by its left, right, bottom and top (4,). [mm]"""
        left, right, bottom, top = beyond
        at, shift, turned = {
            "left": ((left, (bottom + top) / 2), (-5, 0), True),
            "right": ((right, (bottom + top) / 2), (5, 0), True),
            "bottom": (((left + right) / 2, bottom), (0, -5), False),
            "top": (((left + right) / 2, top), (0, 5), False),
        }[side]
        self.ax.annotate(
            text,
            at,
            shift,
            textcoords="offset points",
            ha={"left": "right", "right": "left"}.get(side, "center"),
            va={"bottom": "top", "top": "bottom"}.get(side, "center"),
            multialignment="center",
            rotation="vertical" if turned else "horizontal",
            fontsize=SMALL,
            **style,
        )

    def finish(self, title: str, reach: FloatArray, spare: float) -> None:
        """Limits, units, title, the bar for the scale and the legend.

        Parameters
        ----------
        reach : (4,) array
            Left, right, bottom and top of what is drawn. [mm]
        spare : float
            Room for words around it, as a share of its larger side.
        """
        left, right, bottom, top = reach
        page_size = self.span(reach)
        margin = spare * page_size
        unit = 10.0 ** np.floor(np.log10((right - left) / 4))
        bar = unit * max(n for n in (1, 2, 5) if n * unit <= (right - left) / 4)
        low = bottom - margin - 0.06 * max(right - left, top - bottom)
        ax = self.ax
        ax.plot([left, left + bar], [low, low], color=INK, lw=3, solid_capstyle="butt")
        ax.annotate(
            f"scale: {bar:g} mm",
            (left + bar, low),
            (5, 0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL,
        )
        below = low - max(margin / 3, 0.05 * page_size)
        ax.update_datalim([(left - margin, below), (right + margin, top + margin)])
        ax.set_xlim(left - margin, right + margin, auto=True)  # the aspect may widen them
        ax.set_ylim(below, top + margin, auto=True)
        ax.set_aspect("equal", adjustable="datalim")
        figure = ax.get_figure(root=True)
        if figure is not None and figure.get_size_inches()[0] < NARROW_IN:
            ax.locator_params(axis="x", nbins=6)
        ax.set_xlabel(f"{AXES[self.across]} [mm]")
        ax.set_ylabel(f"{AXES[self.up]} [mm]")
        ax.set_title(title, loc="left")
        legend_below(ax)


def sheet(assessment: Assessment, view: str, ax: Axes | None, frame: str | None = None) -> Sheet:
    """The axes of a view about a body; refuses one that there is not."""
    if view not in VIEWS:
        raise InputError(f"view = {view!r}: write one of {', '.join(VIEWS)}")
    across, up, _ = VIEWS[view]
    faces = [FACES[2 * k + n] for k in (across, up) for n in (0, 1)]
    sides = ("left", "right", "bottom", "top")
    shown = {s: assessment.facing(f, frame) for s, f in zip(sides, faces, strict=True)}
    design = assessment.body(frame).designs[0]
    size, inside = si_array(design.payload, "size"), design.case.inside
    half = 1e3 * size[[across, up]] / 2
    contour = [] if inside is None else [1e3 * x for x in inside.outlines(across, up, size)]
    return Sheet(axes(ax, SIZE_IN), across, up, half, shown, contour)


def standing(page: Sheet, design: Design) -> list[FloatArray]:
    """Draw the obstacles and ribs of a case; their edges (4,) on paper. [mm]"""
    drawn = []
    for n, thing in enumerate(design.case.standing()):
        middle, own = (page.flat(si_array(thing, name)) for name in ("position", "size"))
        drawn.append(about(middle, own))
        page.box(drawn[-1], None if n else "obstacles", **OBSTACLE)
    for n, ends in enumerate(design.case.rib_boxes(si_array(design.payload, "size"))):
        drawn.append(page.flat(ends).T.reshape(4))
        page.box(drawn[-1], None if n else "ribs", **{**OBSTACLE, "hatch": "xxxx"})
    return drawn


def others(page: Sheet, assessment: Assessment, frame: str | None) -> dict[str, FloatArray]:
    """Draw the outlines of the other bodies: their names, and edges (4,) on paper. [mm]"""
    here = assessment.body(frame).designs[0]
    drawn: dict[str, FloatArray] = {}
    for name, body in assessment.bodies().items():
        there = body.designs[0]
        if there is here:
            continue
        size = page.flat(si_array(there.payload, "size"))
        style = {"facecolor": "none", "edgecolor": INK, "lw": 1.2, "ls": "--", "zorder": 3}
        label = None if drawn else "other bodies"
        drawn[name] = about(page.flat(there.middle() - here.middle()), size)
        page.box(drawn[name], label, **style)
    return drawn


def whole(edges: Sequence[FloatArray]) -> FloatArray:
    """Left, right, bottom, top (4,) of the box around some of these."""
    ends = np.array(edges)
    return np.asarray(np.where([True, False, True, False], ends.min(axis=0), ends.max(axis=0)))


def about(middle: FloatArray, size: FloatArray) -> FloatArray:
    """Left, right, bottom, top (4,) of a box by its middle and size (2,)."""
    return np.repeat(middle, 2) + np.array([-1.0, 1.0, -1.0, 1.0]) * np.repeat(size, 2) / 2

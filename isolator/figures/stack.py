"""The stack-up of a mount in section: what lies on what, with the sizes that are known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from isolator.buildsheet import BuildSheet, KindOfMount
from isolator.figures.style import (
    FADED,
    INK,
    MIDDLE,
    PALE,
    SHADE,
    SMALL,
    axes,
    folded,
    legend_below,
)
from isolator.template.letters import POINT, fitted, text_width
from isolator.units import InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

METAL: dict[str, Any] = {"facecolor": "white", "edgecolor": INK, "lw": 1.0, "zorder": 3}

TAKEN = {
    "hole": 12.0, "panel": 2.0, "sleeve": 7.0, "flange": 18.0, "flange_thickness": 4.0,
    "tube": 12.0, "tube_length": 10.0, "diameter": 20.0, "bore": 8.0, "thickness": 12.0,
    "length": 20.0, "width": 20.0, "cord": 5.0,
}  # fmt: skip
"""Drawn where a size is not known, which its words then say. [mm]"""

TRIM = 1.5
"""Thickness of a washer as it is drawn: nobody asks for it. [mm]"""


GROWS = 1.12
"""How much wider than at first the axes are when all round them has its place."""

FOLD = 16.0
"""How wide words beside a dimension may be. [small letters]"""


@dataclass(frozen=True)
class _Part:
    """What is cut, and how it is drawn."""

    name: str
    style: Mapping[str, Any]


PANEL = _Part("panel", {**METAL, "hatch": "////"})
CASE = _Part("case", {**METAL, "hatch": "////"})
RUBBER = _Part("rubber", {"facecolor": SHADE, "edgecolor": INK, "lw": 1.0, "zorder": 2})
PAYLOAD = _Part("payload", {**METAL, "facecolor": PALE, "hatch": "\\\\\\\\"})
SLEEVE = _Part("sleeve", {**METAL, "hatch": "xxxx"})
WASHER = _Part("washer", {**METAL, "facecolor": MIDDLE})
BOLT = _Part("bolt", {**METAL, "zorder": 4})
NUT = _Part("lock nut", {**METAL, "facecolor": FADED, "zorder": 4})
BONDED = _Part("bonded nut", {**METAL, "hatch": "xxxx"})


@dataclass
class _Section:
    """Axes with a section about the bolt, and the sizes of a mount. [mm]"""

    ax: Axes
    kind: KindOfMount
    guessed: bool = False
    words: list[tuple[float, float]] = field(default_factory=list)
    """Where each line of words begins, and how far it goes from there on paper, < 0 to the left."""

    def size(self, name: str, other: float | None = None) -> float:
        """A size as it is known, else as it is drawn."""
        value = 1e3 * self.kind.sizes.size(name)
        if math.isnan(value):
            self.guessed = self.guessed or other is None
            return TAKEN[name] if other is None else other
        return float(value)

    def said(self, name: str) -> str:
        """The size in words."""
        value = 1e3 * self.kind.sizes.size(name)
        word = name.replace("_", " ")
        return f"{word}: not known" if math.isnan(value) else f"{word} {value:.4g} mm"

    def ring(self, bore: float, outer: float, low: float, high: float, part: _Part) -> None:
        """Both cut faces of a ring by its diameters, one face of what has no bore."""
        from matplotlib.patches import Rectangle

        style = {**part.style, "label": part.name}
        thick = (outer - bore) / 2
        faces = [(-outer / 2, thick), (bore / 2, thick)] if bore else [(-outer / 2, outer)]
        for left, wide in faces:
            self.ax.add_patch(Rectangle((left, low), wide, high - low, **style))

    def across(
        self, width: float, at: float, reach: float, words: str, beside: float, va: str = "center"
    ) -> None:
        """A dimension of a diameter, its line at a height; the words beside it."""
        ends = [(-width / 2, at), (width / 2, at)]
        for x, _ in ends:
            self.ax.plot([x, x], [reach, at], color=MIDDLE, lw=0.6, zorder=1)
        self._arrow(ends, (beside, at), words, va, "left" if beside > 0 else "right")

    def along(
        self, low: float, high: float, at: float, reach: float, words: str, va: str = "center"
    ) -> None:
        """A dimension of a height, its line at a place across; the words beyond it."""
        for y in (low, high):
            self.ax.plot([reach, at], [y, y], color=MIDDLE, lw=0.6, zorder=1)
        words = "\n".join(folded(line, FOLD) for line in words.split("\n"))
        side = "left" if at > 0 else "right"
        self._arrow([(at, low), (at, high)], (at, (low + high) / 2), words, va, side)

    def _arrow(
        self,
        ends: Sequence[tuple[float, float]],
        at: tuple[float, float],
        words: str,
        va: str,
        ha: str,
    ) -> None:
        arrow = {"arrowstyle": "<->", "color": INK, "lw": 0.8, "shrinkA": 0, "shrinkB": 0}
        self.ax.annotate("", ends[0], ends[1], arrowprops=arrow, zorder=6)
        shift = 4 if ha == "left" else -4
        self.ax.annotate(
            words, at, (shift, 0), textcoords="offset points", ha=ha, va=va, fontsize=SMALL,
            zorder=7,
        )  # fmt: skip
        self._noted(at[0], words, 1 if ha == "left" else -1)

    def word(
        self, at: tuple[float, float], words: str, *, ha: str = "left", va: str = "center"
    ) -> None:
        """Words to the right of a place, or to the left of it."""
        self.ax.text(*at, words, fontsize=SMALL, zorder=7, ha=ha, va=va)
        self._noted(at[0], words, 1 if ha == "left" else -1)

    def _noted(self, at: float, words: str, side: int) -> None:
        far = max(text_width(line, SMALL * POINT) for line in words.split("\n"))
        self.words.append((at, side * (far + 3.0)))

    def page(self) -> float:
        """Width of the whole figure. [mm of paper]"""
        figure = self.ax.get_figure(root=True)
        assert figure is not None
        return float(25.4 * figure.get_figwidth())

    def ends(self) -> tuple[float, float]:
        """Left and right end of the axes, so that all words are inside. [mm of the mount]"""
        paper = GROWS * self.page() * self.ax.get_position().width
        first, last = self.ax.dataLim.x0, self.ax.dataLim.x1
        scale = least = paper / (last - first)
        least /= 8
        for _ in range(60):  # to where words and drawing share the width
            reach = [at + way / max(scale, least) for at, way in self.words]
            left, right = min(first, *reach), max(last, *reach)
            scale = paper / (right - left)
        return left, right


def stack(sheet: BuildSheet, *, kind: str | None = None, ax: Axes | None = None) -> Axes:
    """Draw how a mount sits, in section: panel, rubber, sleeve and its way in, washers, nut.

    The payload's side is drawn above; where it is not so as built, the axis says so. Sizes that
    nobody gave are said to be not known, and then the drawing is not to scale and its axes have no
    numbers; washers, bolt and nut never are to scale.
    Of a kind that nobody told it is a sketch.

    Parameters
    ----------
    sheet : BuildSheet
    kind : str, optional
        Name of a kind of mount on the sheet; the first if left out.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No such kind of mount.

    Examples
    --------
    >>> import isolator
    >>> from isolator.buildsheet import build_sheet
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> sheet = build_sheet(isolator.assess(str(data_file("starter/case.toml"))))
    >>> stack(sheet, ax=Figure().subplots()).get_title(loc="left")
    'ring: a sketch, not to scale'
    """
    kinds = {one.name: one for one in sheet.kinds}
    name = next(iter(kinds)) if kind is None else kind
    if name not in kinds:
        raise InputError(f"kind = {name!r}: no such mount; write one of {', '.join(kinds)}")
    section = _Section(axes(ax, (7.2, 6.0)), kinds[name])
    shape = kinds[name].shape
    if shape == "panel grommet":
        _grommet(section)
    elif shape == "threaded nut":
        _nut(section)
    else:
        _plain(section)
    drawn = section.ax
    drawn.update_datalim([(end, drawn.dataLim.y0) for end in section.ends()])
    drawn.margins(0.0, 0.06)
    drawn.autoscale_view()
    drawn.set_aspect("equal", adjustable="datalim")
    unit = "" if section.guessed else " [mm]"
    drawn.set_xlabel(f"across{unit}")
    side = kinds[name].payload_side
    there = (
        "the payload above" if side == "above" else f"the payload drawn above,\nas built {side} it"
    )
    drawn.set_ylabel(f"along its axis, {there}{unit}")
    if section.guessed:  # numbers beside a guess would be read as sizes
        drawn.set_xticks([])
        drawn.set_yticks([])
    handles = {
        label: handle for handle, label in zip(*drawn.get_legend_handles_labels(), strict=True)
    }
    legend_below(drawn, handles, columns=4)
    what = "in section"
    if section.guessed:
        what = "in section, not to scale" if shape else "a sketch, not to scale"
    most = 4.1 * section.page() / float(drawn.title.get_fontsize())  # small letters on a line
    drawn.set_title(folded(f"{fitted(name, 100.0, 4.3)}: {what}", most), loc="left")
    return drawn


def _bolt(section: _Section, width: float, low: float, high: float) -> None:
    """A bolt from its head below to the mount's own nut above, and the end that carries."""
    section.ring(0, width, low, high + 2.2 * width, BOLT)
    section.ring(0, 2 * width, low - 0.7 * width, low, BOLT)
    section.ring(0, 2 * width, high, high + 0.8 * width, NUT)


def _diameters(section: _Section, below: float, lines: Sequence[tuple[float, float, str]]) -> None:
    """Dimensions of diameters under each other: width, from where they come, words."""
    beside = max(width for width, _, _ in lines) / 2
    step = 0.055 * max(3 * max(width for width, _, _ in lines), -below)
    for n, (width, reach, words) in enumerate(lines):
        # right and left in turn, the first two up and the others down: none meets another
        va = "center" if len(lines) < 3 else "bottom" if n < 2 else "top"
        at = below - (n + 1) * step
        section.across(width, at, reach, f"ø {words}", -beside if n % 2 else beside, va)


def _grommet(section: _Section) -> None:
    hole, panel, sleeve = (section.size(name) for name in ("hole", "panel", "sleeve"))
    flange, thick = section.size("flange"), section.size("flange_thickness")
    long = section.size("sleeve_length", 2 * 0.9 * thick + panel)
    section.guessed |= math.isnan(section.kind.sizes.size("sleeve_length"))
    washer = section.size("washer", flange)
    end = panel / 2 + min(thick, (long - panel) / 2)
    wide = max(flange, washer)
    section.ring(hole, 1.6 * wide, -panel / 2, panel / 2, PANEL)
    section.ring(sleeve, hole, -panel / 2, panel / 2, RUBBER)
    section.ring(sleeve, flange, panel / 2, end, RUBBER)
    section.ring(sleeve, flange, -end, -panel / 2, RUBBER)
    bolt = 0.7 * sleeve
    section.ring(bolt, sleeve, -long / 2, long / 2, SLEEVE)
    for low in (long / 2, -long / 2 - TRIM):
        section.ring(bolt, washer, low, low + TRIM, WASHER)
    top = long / 2 + TRIM
    _bolt(section, bolt, -top, top)
    far = 0.95 * wide
    fit = section.kind.fit["pinch"]
    pinch = "pinch: not known" if fit.value is None else f"pinch {fit.text}"
    pinch = f"{section.said('flange_thickness')}\n{pinch}"
    section.along(-panel / 2, panel / 2, far, 0.8 * wide, section.said("panel"), "top")
    section.along(panel / 2, end, far, flange / 2, pinch, "bottom")
    section.along(-long / 2, long / 2, -far, -sleeve / 2, section.said("sleeve_length"))
    names = ("sleeve", "hole", "flange", "washer")
    wides, froms = (sleeve, hole, flange, washer), (-long / 2, -panel / 2, -end, -top)
    words = [section.said(name) for name in names]
    _diameters(section, -top - 0.7 * bolt, list(zip(wides, froms, words, strict=True)))
    high = top + 3.2 * bolt
    arrow = {"arrowstyle": "-|>", "color": INK, "lw": 1.6}
    section.ax.annotate("", (0, high - 0.8 * bolt), (0, high + bolt), arrowprops=arrow, zorder=6)
    way = folded(section.kind.sleeve_way, 1.3 * FOLD)
    section.word((-0.7 * bolt, high), way, ha="right")
    section.ax.update_datalim([(0, high + bolt)])


def _nut(section: _Section) -> None:
    hole, panel, screw = (section.size(name) for name in ("hole", "panel", "sleeve"))
    flange, thick = section.size("flange"), section.size("flange_thickness")
    tube, long = section.size("tube"), section.size("tube_length")
    section.ring(hole, 1.8 * flange, -panel, 0, PANEL)
    section.ring(screw, hole, -panel, 0, RUBBER)
    section.ring(screw, flange, 0, thick, RUBBER)
    section.ring(screw, tube, -panel - long, -panel, RUBBER)
    nut = 0.9 * screw
    section.ring(screw, tube, -panel - long - nut, -panel - long, BONDED)
    washer = section.size("washer", 0.0)
    top = thick + (TRIM if washer else 0.0)
    if washer:
        section.ring(screw, washer, thick, top, WASHER)
    section.ring(0, 1.8 * flange, top, top + 3, PAYLOAD)
    low = -panel - long - 2 * nut
    section.ring(0, screw, low, top + 3, BOLT)
    section.ring(0, 2 * screw, top + 3, top + 3 + 0.7 * screw, BOLT)
    section.ring(0, 2 * screw, low, low + 0.8 * nut, NUT)
    far = 1.1 * flange
    section.along(-panel, 0, -far, -0.9 * flange, section.said("panel"))
    section.along(0, thick, far, flange / 2, section.said("flange_thickness"), "bottom")
    section.along(-panel - long, -panel, far, tube / 2, section.said("tube_length"))
    lines = [
        (screw, low, f"screw{section.said('sleeve').removeprefix('sleeve')}"),
        (tube, -panel - long, section.said("tube")),
        (hole, -panel / 2, section.said("hole")),
        (flange, 0.0, section.said("flange")),
    ]
    if washer:
        lines.append((washer, thick, section.said("washer")))
    _diameters(section, low, lines)


SIDES = {
    "pad": ("length", "thickness"),
    "disc": ("diameter", "thickness"),
    "bobbin": ("diameter", "thickness"),
    "ring": ("diameter", "thickness"),
    "bush": ("diameter", "length"),
    "o-ring": ("diameter", "cord"),
}
"""Shape → what is measured across and along."""


def _plain(section: _Section) -> None:
    """A block between the payload's plate and the case's, or a shape that nobody told."""
    shape = section.kind.shape
    sides = SIDES.get(shape)
    wide, tall = (section.size(name) for name in sides or ("diameter", "thickness"))
    bore = section.size("bore") if shape in ("ring", "bush") else 0.0
    outside = wide + (tall if shape == "o-ring" else 0.0)
    plate, low = 1.4 * outside, -3.0
    if shape == "bush":
        section.ring(bore, wide, 0, tall, RUBBER)
        section.ring(wide, plate, 0, tall, PANEL)
        _bolt(section, bore, 0, tall)
        low = -0.7 * bore
    else:
        section.ring(wide - tall if shape == "o-ring" else bore, outside, 0, tall, RUBBER)
        section.ring(0, plate, tall, tall + 3, PAYLOAD)
        section.ring(0, plate, -3, 0, CASE)
    section.guessed |= not sides
    words = ["shape: not known", "height: not known"]
    if sides:
        words = [section.said(name) for name in sides]
    section.along(0, tall, 0.8 * outside, outside / 2, words[1])
    lines = [(wide, 0.0, words[0])]
    if bore:
        lines.append((bore, 0.0, section.said("bore")))
    if shape in ("pad", ""):
        section.across(wide, low - 0.1 * wide, 0.0, words[0], wide / 2)
    else:
        _diameters(section, low, lines)
    hole = folded(f"hole: {fitted(section.kind.fit['hole'].text, 85.0, 3.0)}", 2 * FOLD)
    at = low - 0.3 * wide
    section.word((-plate / 2, at), hole, va="top")
    section.ax.update_datalim([(0, at - 0.2 * wide * (1 + hole.count("\n")))])

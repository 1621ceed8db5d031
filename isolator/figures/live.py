"""Pictures that follow a control: drawn once, and then only what moves in them."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.figures.gaps import tightest
from isolator.figures.shake import Passed, paper
from isolator.figures.style import (
    FILLS,
    HATCHES,
    INK,
    LABEL,
    TITLE,
    answer,
    axes,
    folded,
    legend_below,
)
from isolator.inside import FACES

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.text import Text

    from isolator.assessment import Assessment
    from isolator.verdict import Check

DPI = 110
"""Dots per inch of pictures on a screen."""

COLOURS = 128
"""Of such a picture at the most: greys and a few shades."""

DECADES = -4.0, 1.5
"""Where the axis of |T| begins at the latest, and ends at the earliest."""

SMALLEST = 20.0
"""The shortest axis of the room; longer ones are this times a power of 2. [mm]"""


class Live:
    """Axes of which what stays is drawn once, and the artists that move anew on top of it.

    Parameters
    ----------
    width, height : float
        [in]
    margins : float
        Of the figure, as `Figure.subplots_adjust` has them.
    """

    def __init__(self, width: float, height: float, **margins: float) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.figure = Figure(figsize=(width, height), dpi=DPI)
        self._canvas: Any = FigureCanvasAgg(self.figure)
        self.ax: Axes = axes(self.figure.subplots())
        self.figure.subplots_adjust(**margins)

    def stays(self) -> None:
        """Draw what stays: all that is not animated."""
        self._canvas.draw()
        self._background = self._canvas.copy_from_bbox(self.figure.bbox)

    def png(self, moving: Iterable[Artist]) -> bytes:
        """The picture with the artists that move, the lowest first."""
        from PIL import Image

        self._canvas.restore_region(self._background)
        for artist in sorted(moving, key=lambda one: one.get_zorder()):
            self.ax.draw_artist(artist)
        # So few colours that a palette has them, which is packed in a third of the time.
        pixels = Image.fromarray(np.asarray(self._canvas.buffer_rgba())).convert("RGB")
        made = io.BytesIO()
        pixels.quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).save(
            made, format="png", compress_level=1
        )
        return made.getvalue()


class Room:
    """The walls as `figures.room` shows them, with the least that is left of all gaps.

    Parameters
    ----------
    assessment : Assessment
        Of one design; later ones are of the same body in other gaps, on another trip or mounts.

    Examples
    --------
    >>> from isolator.brief import read_brief
    >>> from isolator.sources import data_file
    >>> from isolator.sweep import glance
    >>> case = glance(read_brief(str(data_file("starter/case.toml"))))
    >>> Room(case).png(case)[1:4]
    b'PNG'
    """

    def __init__(self, assessment: Assessment) -> None:
        self._live = Live(5.6, 3.4, left=0.2, right=0.98, bottom=0.15, top=0.9)
        self.ax = self._live.ax
        rows = range(len(FACES))
        self._gaps = self.ax.barh(rows, 0.0, 0.7, fill=False, edgecolor=INK, lw=1.4, zorder=3)
        self._moved = self.ax.barh(rows, 0.0, 0.4, edgecolor=INK, lw=0.8)
        self._words = [self.ax.text(0.0, y, "", va="center") for y in rows]
        self.least: Text = self.ax.text(
            0.0, 1.03, "", transform=self.ax.transAxes, fontsize="large", va="bottom"
        )
        self._moving = [*self._moved, *self._gaps, *self._words, self.least]
        for artist in self._moving:
            artist.set_animated(True)
        before = assessment.design.stands_before
        names = [f"{face}, to {before[face]}" if face in before else face for face in FACES]
        self.ax.set_yticks(rows, [folded(name, LABEL) for name in names])
        self.ax.set_ylim(-0.6, len(FACES) - 0.4)
        self.ax.set_xlabel("frame: gap, bar: motion towards the face [mm]")
        self._reach = 0.0

    def png(self, assessment: Assessment) -> bytes:
        """The picture of a verdict."""
        checks = [assessment.facing(face) for face in FACES]
        for check, gap, moved, words in zip(
            checks, self._gaps, self._moved, self._words, strict=True
        ):
            gap.set_width(check.capacity or 0.0)
            moved.set_width(check.demand or 0.0)
            moved.set_facecolor(FILLS[check.status])
            moved.set_hatch(HATCHES[check.status])
            words.set_text("  " + folded(said(check), LABEL))
            words.set_x(max(gap.get_width(), moved.get_width()))
            words.set_fontweight(
                "bold" if check.status == "fail" and not check.waived else "normal"
            )
        self.least.set_text(folded(least_left([*checks, *tightest(assessment)]), TITLE))
        self._on_axis(max(words.get_position()[0] for words in self._words))
        return self._live.png(self._moving)

    def _on_axis(self, most: float) -> None:
        """An axis that is long enough for so much [mm] and words beside it, if it is not yet."""
        steps = np.ceil(np.log2(max(most, SMALLEST) / SMALLEST))
        if (reach := float(SMALLEST * 2**steps)) == self._reach:
            return
        self._reach = reach
        self.ax.set_xlim(0, 1.7 * reach)
        self._live.stays()


class Transmissibility:
    """|T| as `figures.transmissibility` shows it, on an axis that stays where it can.

    Examples
    --------
    >>> from isolator.brief import read_brief
    >>> from isolator.sources import data_file
    >>> from isolator.sweep import glance
    >>> case = glance(read_brief(str(data_file("starter/case.toml"))))
    >>> Transmissibility().png(case, "by van")[1:4]
    b'PNG'
    """

    def __init__(self) -> None:
        self._live = Live(7.6, 4.6, left=0.15, right=0.97, bottom=0.28)
        self.ax = self._live.ax
        paper(self.ax)
        self._over = [*self.ax.lines, *self.ax.texts, self.ax.set_title("", loc="left")]
        for artist in self._over:
            artist.set_animated(True)
        self._on: tuple[Any, ...] = ()

    def png(self, assessment: Assessment, leg: str) -> bytes:
        """The picture of a leg.

        Raises
        ------
        InputError
            As `figures.transmissibility`.
        """
        found = Passed.of(assessment, leg=leg)
        drawn = found.draw(self.ax)
        for artist in drawn:
            artist.set_animated(True)
        self._on_axes(found)
        self._modes.set_text(found.named)
        picture = self._live.png([*drawn, *self._over, self._modes])
        for artist in drawn:
            artist.remove()
        return picture

    def _on_axes(self, found: Passed) -> None:
        """Axes that reach over so many decades, with legend and room for the title."""
        low, high = np.log10(found.limits)
        low, high = min(np.floor(low), DECADES[0]), max(np.ceil(2 * high) / 2, DECADES[1])
        named = self.ax.get_legend_handles_labels()[1]
        on = low, high, found.title.count("\n"), *(name for name in named if name != found.named)
        if on == self._on:
            return
        self._on = on
        self.ax.set_ylim(10**low, 10**high)
        self.ax.set_ylabel(found.passes)
        self._live.figure.subplots_adjust(top=0.92 - 0.05 * on[2])
        self._modes: Text = legend_below(self.ax).get_texts()[named.index(found.named)]
        self._modes.set_visible(False)
        self._live.stays()
        self._modes.set_visible(True)


def said(check: Check) -> str:
    """What a clearance check says, with what is left even where that is not all."""
    if check.status != "incomplete" or check.waived or check.demand is None:
        return answer(check)
    left = None if check.capacity is None else check.capacity - check.demand
    if left is None or not np.isfinite(left):
        return answer(check)
    return f"incomplete, {abs(left):.3g} mm {'left' if left >= 0 else 'short'}"


def least_left(checks: list[Check]) -> str:
    """The gap of which least is left, in words."""
    known = [
        (check.capacity - check.demand, check.id.rpartition("/")[2])
        for check in checks
        if check.demand is not None and check.capacity is not None
    ]
    if not known:
        return "worst corner: unknown"
    left, name = min(known)
    if not np.isfinite(left):
        return f"worst corner: nothing stops it at: {name}"
    word = "left" if left >= 0 else "short"
    return f"worst corner: {abs(left):.3g} mm {word}, at: {name}"

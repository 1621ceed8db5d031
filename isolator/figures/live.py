"""Pictures that follow a control: drawn once, and then only what moves in them."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.figures.gaps import tightest
from isolator.figures.style import FILLS, HATCHES, INK, LABEL, TITLE, answer, axes, folded
from isolator.inside import FACES

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

    from isolator.assessment import Assessment
    from isolator.verdict import Check

DPI = 110
"""Dots per inch of pictures on a screen."""

SMALLEST = 20.0
"""The shortest axis of the room; longer ones are this times a power of 2. [mm]"""


class Room:
    """The walls as `figures.room` shows them, with the least that is left of all gaps.

    Everything that stays is drawn once; a picture of the next verdict redraws bars and words.

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
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        figure = Figure(figsize=(5.6, 3.4), dpi=DPI)
        self._canvas: Any = FigureCanvasAgg(figure)
        self.ax: Axes = axes(figure.subplots())
        figure.subplots_adjust(left=0.2, right=0.98, bottom=0.15, top=0.9)
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
        from matplotlib.image import imsave

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
        self._canvas.restore_region(self._background)
        for artist in self._moving:
            self.ax.draw_artist(artist)
        made = io.BytesIO()
        pixels = np.asarray(self._canvas.buffer_rgba())
        imsave(made, pixels, format="png", pil_kwargs={"compress_level": 1})
        return made.getvalue()

    def _on_axis(self, most: float) -> None:
        """An axis that is long enough for so much [mm] and words beside it, if it is not yet."""
        steps = np.ceil(np.log2(max(most, SMALLEST) / SMALLEST))
        if (reach := float(SMALLEST * 2**steps)) == self._reach:
            return
        self._reach = reach
        self.ax.set_xlim(0, 1.7 * reach)
        self._canvas.draw()
        self._background = self._canvas.copy_from_bbox(self._canvas.figure.bbox)


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

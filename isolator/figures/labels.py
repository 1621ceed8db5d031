"""Words in a drawing, where they cover no line, no mark and no other words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from isolator.figures.style import INK, MIDDLE, SMALL
from isolator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.text import Annotation

Spot: TypeAlias = tuple[float, float]

LETTER, LINE = 0.0155, 0.042
"""Width of a letter and height of a line. [share of the larger side of a drawing of full size]"""

AROUND = 7.0
"""What a mark keeps free around its middle. [pt]"""

AIR = 1.6
"""Between words and the nearest line. [pt]"""

TRIES = 9
"""Places along and across a box where its name is tried."""

LEADER = {"arrowstyle": "-", "color": MIDDLE, "lw": 0.7, "shrinkA": 1.0, "shrinkB": 0.0}
"""From words to what they name."""


class Labels:
    """The free places of a drawing whose limits stand: its figure is laid out and measured.

    Parameters
    ----------
    ax : matplotlib Axes
        All that is drawn so far counts as taken: outlines, leaders, words and marks.
    """

    def __init__(self, ax: Axes) -> None:
        figure = ax.get_figure(root=True)
        assert figure is not None
        figure.draw_without_rendering()
        self._ax, self._dot = ax, figure.dpi / 72
        self._lines = np.concatenate(
            [
                np.zeros((0, 2, 2)),
                *(piece for one in (*ax.patches, *ax.lines) for piece in _pieces(one)),
            ]
        )
        self._taken: list[FloatArray] = []
        for line in ax.lines:
            if line.get_marker() not in ("None", "none", None, ""):
                spots = line.get_transform().transform(line.get_xydata())
                by = AROUND * self._dot
                self._taken += [np.stack([spot - by, spot + by]) for spot in spots]
        for text in ax.texts:
            self._took(text)  # type: ignore[arg-type]

    def within(
        self, words: str, edges: FloatArray, inner: Sequence[FloatArray], **style: Any
    ) -> bool:
        """Write words inside of a box, as near to its middle as a free place is.

        Parameters
        ----------
        edges : (4,) array
            Left, right, bottom and top of the box. [mm]
        inner : sequence of (4,) arrays
            Smaller boxes that have names of their own: these words stand in none of them. [mm]

        Returns
        -------
        bool
            Whether there was a free place; nothing is written where there was none.
        """
        text = self._ax.annotate(words, (0, 0), ha="center", va="center", fontsize=SMALL, **style)
        half = self._size(text) / 2
        low, high = self._ax.transData.transform(edges.reshape(2, 2).T)
        for at in _grid(low + half, high - half):
            spot = self._ax.transData.inverted().transform(at)
            if any(e[0] <= spot[0] <= e[1] and e[2] <= spot[1] <= e[3] for e in inner):
                continue
            if self._free(np.stack([at - half, at + half])):
                text.xy = (float(spot[0]), float(spot[1]))
                text.set_position(text.xy)
                self._took(text)
                return True
        text.remove()
        return False

    def beside(
        self,
        words: str,
        edges: FloatArray,
        beyond: FloatArray,
        avoid: Sequence[FloatArray] = (),
        **style: Any,
    ) -> bool:
        """Write words left or right of a whole drawing, with a leader to a box in it.

        Parameters
        ----------
        edges : (4,) array
            Of the box. [mm]
        beyond : (4,) array
            Edges of all that is drawn. [mm]
        avoid : sequence of (4,) arrays
            Boxes that the leader does not pass over. [mm]

        Returns
        -------
        bool
            As of `within`.
        """
        middle = edges.reshape(2, 2).mean(axis=1)
        side = 0 if middle[0] < beyond[:2].mean() else 1
        text = self._ax.annotate(
            words,
            (float(edges[side] * 0.75 + edges[1 - side] * 0.25), float(middle[1])),
            (0.0, 0.0),
            ha="center",
            va="center",
            fontsize=SMALL,
            arrowprops=LEADER | {"relpos": (1 - side, 0.5)},
            **style,
        )
        half = self._size(text) / 2
        out = (2 * side - 1) * np.array([half[0], 0.0])
        start = self._ax.transData.transform((beyond[side], middle[1]))
        start += out + (2 * side - 1) * np.array([8 * self._dot, 0.0])
        passed = [self._ax.transData.transform(one.reshape(2, 2).T) for one in avoid]
        frame = self._ax.get_window_extent().get_points()
        for n in range(2 * TRIES):
            shift = (n + 1) // 2 * (1 - 2 * (n % 2)) * half[1]
            at = start + np.array([0.0, shift])
            box = np.stack([at - half, at + half])
            leader = np.stack([self._ax.transData.transform(text.xy), at - out])
            if any(_crossed(leader[None], other) for other in (*passed, *self._taken)):
                continue
            if (frame[0] < box[0]).all() and (box[1] < frame[1]).all() and self._free(box):
                text.set_position(tuple(self._ax.transData.inverted().transform(at)))
                self._took(text)
                return True
        text.remove()
        return False

    def name(self, words: str, edges: FloatArray, beyond: FloatArray, **style: Any) -> None:
        """Write words inside of a box, or beside the drawing where they find no place in it."""
        if not self.within(words, edges, (), **style):
            self.beside(words, edges, beyond, **style)

    def near(self, words: str, spot: Spot, **style: Any) -> None:
        """Write words close to a mark, on the side where they cover least."""
        text = self._ax.annotate(
            words, spot, ha="center", va="center", fontsize=SMALL, color=INK, **style
        )
        half = self._size(text) / 2
        mark = self._ax.transData.transform(spot)
        places = [
            mark + np.array([x, y]) * (half + scale * AROUND * self._dot)
            for scale in (1.0, 1.6)
            for x, y in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1))
        ]
        boxes = [np.stack([at - half, at + half]) for at in places]
        free = next((n for n, box in enumerate(boxes) if self._free(box)), 0)
        text.set_position(tuple(self._ax.transData.inverted().transform(places[free])))
        self._took(text)

    def _size(self, text: Annotation) -> FloatArray:
        """Width and height of words with a little air. [dots]"""
        from matplotlib.text import Text

        box = Text.get_window_extent(text)
        return np.array([box.width, box.height]) + 2 * AIR * self._dot

    def _took(self, text: Annotation) -> None:
        """Words, and their leader if they have one, are in the way of what comes after them."""
        from matplotlib.text import Text

        text.get_window_extent()  # it puts words and leader where they now belong
        self._taken.append(Text.get_window_extent(text).get_points())
        if text.arrow_patch is not None:
            leader = [self._ax.transData.transform(text.xy), self._taken[-1].mean(axis=0)]
            self._lines = np.concatenate([self._lines, np.array([leader])])

    def _free(self, box: FloatArray) -> bool:
        """Whether nothing is in a box of its lower left and upper right (2, 2). [dots]"""
        if any((box[0] < other[1]).all() and (other[0] < box[1]).all() for other in self._taken):
            return False
        return not _crossed(self._lines, box)


def _pieces(drawn: Artist) -> Iterator[FloatArray]:
    """The straight pieces (n, 2, 2) of a line or an outline. [dots]"""
    path = drawn.get_transform().transform_path(drawn.get_path())  # type: ignore[attr-defined]
    for polygon in path.to_polygons(closed_only=False):
        corners = np.asarray(polygon, dtype=float)
        yield np.stack([corners[:-1], corners[1:]], axis=1)


def _crossed(lines: FloatArray, box: FloatArray) -> bool:
    """Whether a straight piece of some (n, 2, 2) has a point in a box (2, 2).

    Two convex shapes are apart only if their shadows are, on the normal of a side of one.
    """
    half, reach = (box[1] - box[0]) / 2, (lines[:, 1] - lines[:, 0]) / 2
    off = lines.mean(axis=1) - box.mean(axis=0)
    beside = (np.abs(off) > half + np.abs(reach)).any(axis=1)
    away = np.abs(reach[:, 0] * off[:, 1] - reach[:, 1] * off[:, 0])
    return bool((~beside & (away <= np.abs(reach[:, ::-1]) @ half)).any())


def _grid(low: FloatArray, high: FloatArray) -> Iterator[FloatArray]:
    """Places between two corners, those nearest to the middle first; none if they are crossed."""
    if (low > high).any():
        return
    share = np.linspace(-0.5, 0.5, TRIES)
    at = np.stack(np.meshgrid(share, share), axis=-1).reshape(-1, 2)
    for one in at[np.argsort(np.abs(at).sum(axis=1), kind="stable")]:
        yield (low + high) / 2 + one * (high - low)

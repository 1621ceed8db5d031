"""The room in a case: walls that lean, rounded corners, gaps by corner, what stands in the way.

Every description ends in two arrays by corner of the payload's box and face of the case: the gap,
and how it changes as the corner moves along the faces. Corners count as in `payload.CORNERS`,
faces as in `FACES`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import tan
from typing import Literal

import numpy as np

from isolator.payload import SIGNS
from isolator.units import (
    DRAFT,
    GAP,
    POSITION,
    SIZE,
    FloatArray,
    InputError,
    Measure,
    OptionalMeasure,
    si,
    si_array,
    si_array_or_none,
    si_or_none,
)

FACES = ("left end", "right end", "handle side", "hinge side", "floor", "lid")
"""The six faces inside: −x, +x, −y, +y, −z, +z."""

OWN = np.stack([SIGNS < 0, SIGNS > 0], axis=-1).reshape(8, 6)
"""Which faces (8, 6) each corner is at."""

ENDS, SIDES, LEVELS = ("left", "right"), ("handle", "hinge"), ("floor", "lid")
"""Words for a corner, the one with the minus sign first."""

ROUNDINGS = {
    "draft": "the walls stand upright",
    "corner_radius": "the upright edges of the room are square",
    "floor_radius": "the walls meet the floor at a square edge",
}
"""What is taken of a contour where nobody says: key of `Inside` → sentence."""

EXACT = 1e-9
"""Lengths that differ by less are equal. [m]"""


@dataclass(frozen=True, kw_only=True)
class Inside:
    """The contour of the room: four walls that may lean, with rounded edges.

    Parameters
    ----------
    size : three texts or a quantity [length]
        Along x and y at the rim, where the room is widest, and along z from the floor to the lid.
    draft : text or quantity [angle], optional
        By how much each of the four walls leans inwards going down; 0 if left out, and the page
        says so.
    corner_radius : text or quantity [length], optional
        Of the upright edges, in plan; likewise.
    floor_radius : text or quantity [length], optional
        Between the walls and the floor; likewise.
    floor : text or quantity [length], optional
        Gap under the payload's box.
    middle : two texts or a quantity [length], optional
        Middle of the payload's box along x and y, from the middle of the room.

    Raises
    ------
    InputError
        A contour that crosses itself: walls that meet above the floor, a radius of more than half
        the width of the floor.
    """

    size: Measure = Measure(SIZE, shape=(3,))
    draft: OptionalMeasure = OptionalMeasure(DRAFT)
    corner_radius: OptionalMeasure = OptionalMeasure(GAP)
    floor_radius: OptionalMeasure = OptionalMeasure(GAP)
    floor: OptionalMeasure = OptionalMeasure(GAP)
    middle: OptionalMeasure = OptionalMeasure(POSITION, shape=(2,))

    def __post_init__(self) -> None:
        size = si_array(self, "size")
        least = size[:2] - 2 * self.lean() * size[2]
        if least.min() <= 0:
            k = int(least.argmin())
            raise InputError(
                f"Inside.draft = {DRAFT.text(si(self, 'draft'))}: the walls would meet "
                f"{SIZE.text(size[k] / 2 / self.lean())} below the rim, above the floor at "
                f"{SIZE.text(size[2])}; measure the width at the floor too, draft is half the "
                "difference over the depth"
            )
        bounds = {"corner_radius": least.min() / 2, "floor_radius": min(*least / 2, size[2])}
        lines = [
            f"Inside.{name} = {SIZE.text(radius)}: more than half the width of the floor or its "
            f"depth, {SIZE.text(most)}, so the contour crosses itself; was the diameter meant?"
            for name, most in bounds.items()
            if (radius := self.radius(name)) > most + EXACT
        ]
        if lines:
            raise InputError(*lines)

    def lean(self) -> float:
        """How much each wall comes in for a way down, the tangent of the draft. [-]"""
        return tan(si_or_none(self, "draft") or 0.0)

    def radius(self, name: str) -> float:
        """A radius, 0 if it was left out. [m]"""
        return si_or_none(self, name) or 0.0

    def around(self, at: FloatArray, size: FloatArray, other: FloatArray) -> Inside:
        """The same contour from another body in it.

        Parameters
        ----------
        at : (3,) array
            Middle of that body's box from the middle of the payload's. [m]
        size, other : (3,) arrays
            Of the payload's box and of the other one. [m]

        Raises
        ------
        InputError
            It would lie in the floor.
        """
        middle, floor = si_array_or_none(self, "middle"), si_or_none(self, "floor")
        below = None if floor is None else floor + at[2] + (size[2] - other[2]) / 2
        if below is not None and below < -EXACT:
            raise InputError(
                f"case.inside: at puts its box {SIZE.text(-below)} into the floor; correct at, or "
                "case.inside.floor, which is under the payload's box"
            )
        return replace(
            self,
            middle=None if middle is None else POSITION.quantity(middle + at[:2]),
            floor=None if below is None else GAP.quantity(max(below, 0.0)),
        )

    def room(self, size: FloatArray) -> FloatArray:
        """Gap (8, 6) between the box of a payload (3,) and the walls at its corners. [m]

        inf at the faces that a corner is not at, nan where the place of the payload is unknown.
        """
        own = si_array(self, "size")
        under = si_or_none(self, "floor")
        below = np.nan if under is None else under
        given = si_array_or_none(self, "middle")
        middle = np.full(2, np.nan) if given is None else given
        lower = SIGNS[:, 2] < 0
        height = np.where(lower, below, below + size[2])
        lean = self.lean()
        width = own[:2] / 2 - (lean * (own[2] - height)[:, None] if lean else np.zeros((8, 1)))
        across = width - size[:2] / 2 - SIGNS[:, :2] * middle
        level = np.where(lower, below, own[2] - below - size[2])
        return by_face(np.concatenate([across, level[:, None]], axis=1))

    def outlines(self, across: int, up: int, size: FloatArray) -> list[FloatArray]:
        """The contour as closed lines (m, 2) on a view, none where the payload's place is unknown.

        From above at the rim, and at the floor where the walls lean; else one upright section.

        Parameters
        ----------
        across, up : int
            Axes of the view, 0 and 1 from above.
        size : (3,) array
            Of the payload's box, whose middle is the origin. [m]
        """
        middle, under = si_array_or_none(self, "middle"), si_or_none(self, "floor")
        if middle is None or under is None:
            return []
        own, low = si_array(self, "size"), -size[2] / 2 - under
        top, bottom = own[:2] / 2, own[:2] / 2 - self.lean() * own[2]
        if up == 1:
            levels = [top, bottom] if self.lean() else [top]
            signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
            radii = np.full(4, self.radius("corner_radius"))
            return [rounded(signs * half - middle, radii) for half in levels]
        at = -middle[across]
        x = [at - bottom[across], at + bottom[across], at + top[across], at - top[across]]
        z = [low, low, low + own[2], low + own[2]]
        radius = self.radius("floor_radius")
        return [rounded(np.stack([x, z], axis=-1), np.array([radius, radius, 0.0, 0.0]))]

    def slope(self) -> FloatArray:
        """By how much a gap (8, 6) grows for a way along x, y, z, (8, 6, 3). [-]"""
        out = np.zeros((8, 6, 3))
        out[:, :4, 2] = self.lean()
        return out


def rounded(corners: FloatArray, radii: FloatArray) -> FloatArray:
    """A convex polygon (n, 2) whose corners are rounded by radii (n,), as a closed line (m, 2).

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    >>> line = rounded(square, np.full(4, 0.5))
    >>> np.allclose(np.hypot(*(line - 0.5).T), 0.5)
    True
    """
    line = []
    for at, before, after, radius in zip(
        corners, np.roll(corners, 1, 0), np.roll(corners, -1, 0), radii, strict=True
    ):
        ways = np.stack([before - at, after - at])
        ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
        half = np.arccos(np.clip(ways[0] @ ways[1], -1.0, 1.0)) / 2
        centre = at + ways.sum(axis=0) / np.linalg.norm(ways.sum(axis=0)) * radius / np.sin(half)
        ends = at + ways * radius / np.tan(half) - centre
        first, last = np.arctan2(ends[:, 1], ends[:, 0])
        turn = first + np.linspace(0.0, 1.0, 13) * ((last - first + np.pi) % (2 * np.pi) - np.pi)
        line.append(centre + radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1))
    out = np.concatenate(line)
    return np.concatenate([out, out[:1]])


@dataclass(frozen=True, kw_only=True)
class CornerGap:
    """The gaps at one corner of the payload's box.

    Parameters
    ----------
    end : "left" or "right"
    side : "handle" or "hinge"
    level : "floor" or "lid"
    to_end, to_side, to_level : text or quantity [length], optional
        Gap to the wall of that name, measured at this corner.
    """

    end: Literal["left", "right"]
    side: Literal["handle", "hinge"]
    level: Literal["floor", "lid"]
    to_end: OptionalMeasure = OptionalMeasure(GAP)
    to_side: OptionalMeasure = OptionalMeasure(GAP)
    to_level: OptionalMeasure = OptionalMeasure(GAP)

    def __post_init__(self) -> None:
        for name, words in (("end", ENDS), ("side", SIDES), ("level", LEVELS)):
            if getattr(self, name) not in words:
                raise InputError(
                    f"CornerGap.{name} = {getattr(self, name)!r}: write {' or '.join(words)}"
                )

    def index(self) -> int:
        """Place of the corner in `payload.CORNERS`."""
        return 4 * ENDS.index(self.end) + 2 * SIDES.index(self.side) + LEVELS.index(self.level)


def corner_gaps(corners: Sequence[CornerGap]) -> FloatArray:
    """Gap of each corner to its three walls (8, 3), nan where nobody gave it. [m]

    Raises
    ------
    InputError
        A corner that stands twice.
    """
    out = np.full((8, 3), np.nan)
    seen: set[int] = set()
    for corner in corners:
        where = corner.index()
        if where in seen:
            raise InputError(
                f"gaps: the corner {corner.end}, {corner.side}, {corner.level} stands twice; "
                "keep one"
            )
        seen.add(where)
        for k, name in enumerate(("to_end", "to_side", "to_level")):
            gap = si_or_none(corner, name)
            out[where, k] = np.nan if gap is None else gap
    return out


def by_face(own: FloatArray) -> FloatArray:
    """Gaps (8, 6) by face from those of each corner to its own three walls (8, 3); else inf."""
    return np.where(OWN, np.repeat(own, 2, axis=1), np.inf)


def slope_between(own: FloatArray, size: FloatArray) -> FloatArray:
    """Slope (8, 6, 3) of walls through the gaps (8, 3) measured at the corners of a box (3,).

    Where a gap is unknown the wall is taken as straight: its own check is open anyway.

    Parameters
    ----------
    own : (8, 3) array
        [m]
    size : (3,) array
        [m]

    Returns
    -------
    (8, 6, 3) array
        By how much the gap grows for a way along x, y, z. [-]

    Examples
    --------
    >>> own = np.full((8, 3), 0.05)
    >>> own[SIGNS[:, 2] > 0, 0] = 0.06
    >>> print(f"{slope_between(own, np.array([0.4, 0.3, 0.1]))[0, 0, 2]:.2f}")
    0.10
    """
    grid = own.reshape(2, 2, 2, 3)
    out = np.zeros((2, 2, 2, 3, 3))
    for j in range(3):
        out[..., j] = np.diff(grid, axis=j) / size[j]
        out[..., j, j] = 0.0  # along its own way a gap is used, not changed
    return np.asarray(np.repeat(np.nan_to_num(out).reshape(8, 3, 3), 2, axis=1))


def own_walls(room: FloatArray) -> FloatArray:
    """Gaps (..., 8, 3) of each corner to its own three walls, from (..., 8, 6)."""
    return np.asarray(room.reshape(*room.shape[:-1], 3, 2).min(axis=-1))


def in_corner(room: FloatArray, radius: FloatArray | float) -> FloatArray:
    """How far a corner is out from the middle of a rounded upright edge.

    A point with the gaps x, y to two walls that meet in a radius R is inside while
    √(max(R − x, 0)² + max(R − y, 0)²) ≤ R (Pythagoras). The room is convex, so a box is inside
    with its corners.

    Parameters
    ----------
    room : (..., 8, 6) array
        Gaps to the walls, negative beyond them. [m]
    radius : (...) array
        [m]

    Returns
    -------
    (..., 8) array
        At most the radius while it is inside; nan if a gap is unknown. [m]

    Examples
    --------
    >>> room = by_face(np.full((8, 3), 0.02))
    >>> print(f"{in_corner(room, 0.05)[0]:.4f}")
    0.0424
    """
    gaps = own_walls(room)[..., :2]
    left = np.maximum(np.asarray(radius, dtype=float)[..., None, None] - gaps, 0.0)
    return np.asarray(np.hypot(left[..., 0], left[..., 1]))


def in_fillet(
    room: FloatArray, corner_radius: FloatArray | float, floor_radius: FloatArray | float
) -> FloatArray:
    """How far a corner is out from the middle of the rounding between walls and floor.

    The same, between the floor and the distance in plan to the nearest wall, which is
    R − `in_corner` in the rounded edge. Where the walls lean, their rounding with the floor is less
    than a quarter of a circle; taking a quarter is on the safe side.

    Parameters
    ----------
    room : (..., 8, 6) array
        [m]
    corner_radius, floor_radius : (...) arrays
        [m]

    Returns
    -------
    (..., 8) array
        At most the floor radius while it is inside; 0 for corners at the lid. [m]
    """
    gaps = own_walls(room)
    out = in_corner(room, corner_radius)
    edge = np.asarray(corner_radius, dtype=float)[..., None]
    wall = np.where(out > 0, edge - out, gaps[..., :2].min(axis=-1))
    wall = np.where(np.isnan(out), np.nan, wall)
    radius = np.asarray(floor_radius, dtype=float)[..., None]
    left = np.hypot(np.maximum(radius - wall, 0.0), np.maximum(radius - gaps[..., 2], 0.0))
    return np.where(SIGNS[:, 2] < 0, left, 0.0)


@dataclass(frozen=True, kw_only=True)
class Obstacle:
    """A box that stands in the case.

    Parameters
    ----------
    name : str
    position : three texts or a quantity [length]
        Its middle from the middle of the payload's box, as that hangs or out as the case says.
    size : three texts or a quantity [length]
        Along x, y, z.
    on_lid : bool
        Whether it goes with the lid when that is opened.
    """

    name: str
    position: Measure = Measure(POSITION, shape=(3,))
    size: Measure = Measure(SIZE, shape=(3,))
    on_lid: bool = False


@dataclass(frozen=True, kw_only=True)
class Rib:
    """A rib that runs over the whole of a wall, up an end or a side, across the floor or lid.

    Parameters
    ----------
    name : str
    wall : one of `FACES`
    width : text or quantity [length]
        Along the wall: along y at an end, along x elsewhere.
    height : text or quantity [length]
        How far it stands out of the wall.
    at : text or quantity [length]
        Its middle along the wall from the middle of the payload's box.
    """

    name: str
    wall: str
    width: Measure = Measure(SIZE)
    height: Measure = Measure(SIZE)
    at: Measure = Measure(POSITION)

    def __post_init__(self) -> None:
        if self.wall not in FACES:
            raise InputError(f"Rib.wall = {self.wall!r}: not a wall; write {', '.join(FACES)}")

    def along(self) -> int:
        """Axis of the wall along which its width lies."""
        return 1 if FACES.index(self.wall) < 2 else 0


@dataclass(frozen=True)
class Solids:
    """Obstacles and ribs as one array.

    Attributes
    ----------
    names : sequence of str (o)
    gap : (..., o, 6) array
        From the payload's box at rest towards each face until it meets the near side; negative
        where it overlaps on that axis, −inf where it always does, nan if unknown. [m]
    wall : (o,) array of int
        Face that a rib belongs to, −1 for an obstacle.
    on_lid : (o,) bool array
    """

    names: Sequence[str]
    gap: FloatArray
    wall: np.ndarray[tuple[int], np.dtype[np.intp]]
    on_lid: np.ndarray[tuple[int], np.dtype[np.bool_]]

    @classmethod
    def of(
        cls,
        obstacles: Sequence[Obstacle],
        ribs: Sequence[Rib],
        size: FloatArray,
        room: FloatArray,
    ) -> Solids:
        """Those of a case around the box of a payload (3,) with gaps (8, 6) at its corners."""
        at = np.array([si_array(o, "position") for o in obstacles]).reshape(-1, 3)
        own = np.array([si_array(o, "size") for o in obstacles]).reshape(-1, 3)
        reach = (own + size) / 2
        gap = np.stack([-at - reach, at - reach], axis=-1).reshape(-1, 6)
        standing = [_rib_gaps(rib, size, room) for rib in ribs]
        return cls(
            [*(o.name for o in obstacles), *(rib.name for rib in ribs)],
            np.concatenate([gap, np.array(standing).reshape(-1, 6)]),
            np.array([-1] * len(obstacles) + [FACES.index(rib.wall) for rib in ribs], dtype=int),
            np.array([o.on_lid for o in obstacles] + [r.wall == "lid" for r in ribs], dtype=bool),
        )


def _rib_gaps(rib: Rib, size: FloatArray, room: FloatArray) -> FloatArray:
    """Gaps (6,) of one rib; a wall that leans counts where it is nearest."""
    out = np.full(6, -np.inf)
    face, along = FACES.index(rib.wall), rib.along()
    out[face] = room[OWN[:, face], face].min() - si(rib, "height")
    reach = (si(rib, "width") + size[along]) / 2
    out[2 * along] = -si(rib, "at") - reach
    out[2 * along + 1] = si(rib, "at") - reach
    return out


def touching(solids: Solids) -> Iterator[tuple[str, str]]:
    """Name and line of each obstacle of one case that overlaps the payload at rest."""
    unknown = np.asarray(np.isnan(solids.gap).any(axis=1))
    nearest = np.where(np.isnan(solids.gap), -np.inf, solids.gap).argmax(axis=1)
    least = solids.gap[np.arange(len(nearest)), nearest]
    for n in np.flatnonzero(~unknown & (least < -EXACT)).tolist():
        yield (
            solids.names[n],
            "already touching: it overlaps the payload's box at rest by "
            f"{SIZE.text(-least[n])} along {'xyz'[nearest[n] // 2]}, and by more along the "
            "others; positions count from the middle of that box, check them and the sizes",
        )

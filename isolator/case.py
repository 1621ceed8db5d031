"""What the payload floats in: the shell, the room inside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import Any, Literal

import numpy as np

from isolator.cushion import Cushion
from isolator.inside import (
    EXACT,
    FACES,
    OWN,
    CornerGap,
    Inside,
    Obstacle,
    Rib,
    Solids,
    by_face,
    corner_gaps,
    in_corner,
    in_fillet,
    own_walls,
    slope_between,
    touching,
)
from isolator.payload import CORNERS, Part
from isolator.units import (
    DURATION,
    GAP,
    MASS,
    POSITION,
    SIZE,
    STIFFNESS,
    FloatArray,
    InputError,
    OptionalMeasure,
    number,
    si,
    si_array,
    si_array_or_none,
    si_or_none,
)

FAR = 0.3
"""A wall whose gap nobody gives is nearer than this, or than the payload is long. [m]"""

SUMS = ("worst case", "root sum square")
"""How what moves the payload and what the build may be off are added."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """The case.

    Parameters
    ----------
    floor, lid, left_end, right_end, handle_side, hinge_side : text or quantity [length], optional
        Gap between the payload's box and that wall, as measured. Unknown gaps leave their
        clearance unchecked.
    measured : "hanging" or "out", optional
        Whether the gaps were measured with the payload hanging on its mounts with the lid up, or
        are those of the unloaded pose (from a drawing, or with the payload's weight taken off).
    mass : text or quantity [mass], optional
        Shell and everything rigid in it.
    size : three texts or a quantity [length], optional
        Outer size along x, y, z.
    centre : three texts or a quantity [length], optional
        Gross centre of gravity, from the middle of the outer box; that middle if left out, and the
        page says so where it counts.
    tolerance : text or quantity [length], optional
        What the build may be off at a gap; 0 if left out, and the page says so.
    restitution : number, optional
        Rebound speed over landing speed of the shell, 0 to 1; 0 if left out, and the page says
        so.
    stopping_time : text or quantity [time], optional
        Over which the shell stops on the floor by its own give; at once if left out.
    cushion : Cushion, optional
        Foam outside, under the face that lands; none if left out.
    wall : text or quantity [stiffness], optional
        Of what a corner of the payload meets at a wall; then the hit is followed. A payload passes
        through walls that have none, and the clearance fails.
    parts : sequence of Part
        Those that are rigid in it and feel its full input; `mass` holds theirs.
    inside : Inside, optional
        The contour of the room, in place of the gaps above.
    gaps : sequence of CornerGap
        Gaps measured at the corners of the payload's box, in place of the two above along each
        axis that they give: for walls that are not parallel to the box.
    obstacles : sequence of Obstacle
    ribs : sequence of Rib
    sum : "worst case" or "root sum square"
        Whether the tolerance adds to what swings as it is, or as the root of the sum of squares.

    Raises
    ------
    InputError
        Wrong units or limits, a gap that is given twice, names that are used twice or are those
        of a wall.
    """

    floor: OptionalMeasure = OptionalMeasure(GAP)
    lid: OptionalMeasure = OptionalMeasure(GAP)
    left_end: OptionalMeasure = OptionalMeasure(GAP)
    right_end: OptionalMeasure = OptionalMeasure(GAP)
    handle_side: OptionalMeasure = OptionalMeasure(GAP)
    hinge_side: OptionalMeasure = OptionalMeasure(GAP)
    measured: Literal["hanging", "out"] | None = None
    mass: OptionalMeasure = OptionalMeasure(MASS)
    size: OptionalMeasure = OptionalMeasure(SIZE, shape=(3,))
    centre: OptionalMeasure = OptionalMeasure(POSITION, shape=(3,))
    tolerance: OptionalMeasure = OptionalMeasure(GAP)
    restitution: float | None = None
    stopping_time: OptionalMeasure = OptionalMeasure(DURATION)
    wall: OptionalMeasure = OptionalMeasure(STIFFNESS)
    cushion: Cushion | None = None
    parts: Sequence[Part] = ()
    inside: Inside | None = None
    gaps: Sequence[CornerGap] = ()
    obstacles: Sequence[Obstacle] = ()
    ribs: Sequence[Rib] = ()
    sum: Literal["worst case", "root sum square"] = "worst case"

    def __post_init__(self) -> None:
        if self.measured not in ("hanging", "out", None):
            raise InputError(
                f"Case.measured = {self.measured!r}: write hanging (payload in place, lid up) "
                "or out (unloaded)"
            )
        if self.restitution is not None:
            given = number(self.restitution, "Case.restitution", 0.0, 1.0)
            object.__setattr__(self, "restitution", given)

        whole, sum_of_parts = si_or_none(self, "mass"), sum(si(part, "mass") for part in self.parts)
        if whole is not None and sum_of_parts > whole * (1 + 1e-9):
            raise InputError(
                f"Case.mass = {MASS.text(whole)}: the parts that are fixed in it weigh "
                f"{MASS.text(sum_of_parts)}, and it holds theirs too; weigh the case with them in"
            )
        outer, centre = si_array_or_none(self, "size"), si_array_or_none(self, "centre")
        if centre is not None and (outer is None or np.any(np.abs(centre) >= outer / 2)):
            raise InputError(
                f"Case.centre = {POSITION.text(float(np.abs(centre).max()))} at most: it lies in "
                "the outer box and counts from its middle; give case.size too"
            )
        if self.cushion is not None and whole is None:
            raise InputError(
                f"Case.cushion {self.cushion.name!r:.60}: what foam does under a case goes by its "
                "mass, which is not given; weigh the empty case and give case.mass"
            )
        if self.sum not in SUMS:
            raise InputError(f"Case.sum = {self.sum!r}: write {' or '.join(SUMS)}")
        lines = [*self._given_twice(), *self._names()]
        if lines:
            raise InputError(*lines)

    @cached_property
    def _at_corners(self) -> list[bool]:
        """Whether the gaps along x, y, z are given corner by corner."""
        return [bool(np.isfinite(way).any()) for way in corner_gaps(self.gaps).T]

    def _given_twice(self) -> Iterator[str]:
        own = self._at_corners
        if self.inside is not None and self.gaps:
            yield "Case.gaps stand beside case.inside, which gives them too; keep one of the two"
        for k, face in enumerate(FACES):
            key = face.replace(" ", "_")
            if getattr(self, key) is None:
                continue
            if self.inside is not None:
                yield f"Case.{key} stands beside case.inside, which gives it too; keep one of them"
            elif own[k // 2]:
                yield (
                    f"Case.{key} stands beside case.gaps, which give it by corner; keep one of them"
                )

    def _names(self) -> Iterator[str]:
        names = [*(o.name for o in self.standing()), *(rib.name for rib in self.ribs)]
        taken = {*FACES, "corner radius", "floor radius"}
        for name in dict.fromkeys(names):
            if "/" in name:
                yield f"{self._key(name)}: check ids are cut at /; write the name without one"
            if name in taken:
                yield f"{self._key(name)}: a check has this name already; give it another"
            if names.count(name) > 1:
                yield f"{self._key(name)}: the name stands twice; give each its own"

    def _key(self, name: str) -> str:
        """What stands in the case under this name, as messages name it."""
        if name in [rib.name for rib in self.ribs]:
            return f"case.rib {name!r}"
        own = [obstacle.name for obstacle in self.obstacles]
        return f"case.{'obstacle' if name in own else 'parts'} {name!r}"

    def by_face(self) -> FloatArray:
        """Gap given for each face (6,) in the order of `FACES`, nan if it is not. [m]"""
        given = [si_or_none(self, face.replace(" ", "_")) for face in FACES]
        return np.array([np.nan if gap is None else gap for gap in given])

    def room(self, size: FloatArray) -> FloatArray:
        """Gap (8, 6) at each corner of the box of a payload (3,) and each face of the case. [m]

        inf at the faces that a corner is not at, nan where it is unknown.
        """
        if self.inside is not None:
            return self.inside.room(size)
        own = corner_gaps(self.gaps)
        given = by_face(own)
        plain = ~np.array(self.measured_at_corners())
        return np.where(OWN & plain, self.by_face(), given)

    def slope(self, size: FloatArray) -> FloatArray:
        """By how much those gaps grow for a way along x, y, z, (8, 6, 3). [-]"""
        if self.inside is not None:
            return self.inside.slope()
        return slope_between(corner_gaps(self.gaps), size)

    def measured_at_corners(self) -> list[bool]:
        """Whether the gaps at each face (6,) were measured corner by corner."""
        return [self._at_corners[k // 2] for k in range(6)]

    def gap_key(self, face: int) -> str:
        """Key of the brief that would give the gaps at a face."""
        if self.inside is not None:
            level = self.inside.floor is None and (face > 3 or self.inside.draft is not None)
            return f"case.inside.{'floor' if level else 'middle'}"
        if self._at_corners[face // 2]:
            return "case.gaps"
        return f"case.{FACES[face].replace(' ', '_')}"

    def fall_lines(self, group: str) -> tuple[list[str], FloatArray]:
        """The edges or corners that it may land on: names, and unit vectors (l, 3) of what is down.

        From the gross centre of gravity to the corner, or square to the edge; none where the outer
        size is unknown.

        Examples
        --------
        >>> names, down = Case(size=["0.5 m", "0.4 m", "0.2 m"]).fall_lines("corners")
        >>> print(names[-1], np.abs(down[-1]).round(3).tolist())
        right end, hinge side and lid [0.745, 0.596, 0.298]
        """
        outer, given = si_array_or_none(self, "size"), si_array_or_none(self, "centre")
        if outer is None:
            return [], np.zeros((0, 3))
        centre = np.zeros(3) if given is None else given
        count = {"edges": 2, "corners": 3}[group]
        names, lines = list[str](), list[FloatArray]()
        for signs in product((-1, 0, 1), repeat=3):
            if np.count_nonzero(signs) != count:
                continue
            *first, last = (FACES[2 * k + (s > 0)] for k, s in enumerate(signs) if s)
            names.append(f"{', '.join(first)} and {last}")
            way = np.where(np.array(signs) != 0, np.array(signs) * outer / 2 - centre, 0.0)
            lines.append(way / np.linalg.norm(way))
        return names, np.array(lines)

    def standing(self) -> list[Obstacle]:
        """All boxes that stand in the case: obstacles, and fixed parts of known size.

        An obstacle with the name of a part takes its place.
        """
        listed = {obstacle.name for obstacle in self.obstacles}
        return [
            *self.obstacles,
            *(
                Obstacle(name=part.name, position=part.position, size=part.size)
                for part in self.parts
                if part.size is not None and part.name not in listed
            ),
        ]

    def rib_boxes(self, size: FloatArray) -> list[FloatArray]:
        """Ends (2, 3) of each rib from the middle of the payload's box (3,), on the nearest wall.

        None of those of a wall whose place is unknown. [m]
        """
        near = np.where(OWN, self.room(size), np.inf).min(axis=0)
        walls = np.stack([-size / 2 - near[::2], size / 2 + near[1::2]])
        boxes = []
        for rib in self.ribs:
            (k, side), box = divmod(FACES.index(rib.wall), 2), walls.copy()
            box[1 - side, k] = walls[side, k] + (1 - 2 * side) * si(rib, "height")
            box[:, rib.along()] = si(rib, "at") + np.array([-0.5, 0.5]) * si(rib, "width")
            boxes.append(box)
        return [box for box in boxes if np.isfinite(box).all()]

    def solids(self, size: FloatArray) -> Solids:
        """Obstacles, fixed parts and ribs around the box of a payload (3,)."""
        return Solids.of(self.standing(), self.ribs, size, self.room(size))

    def around(
        self, at: FloatArray, size: FloatArray, other: FloatArray, gaps: Mapping[str, Any]
    ) -> Case:
        """The same case as another body in it has it; what is fixed in it is the payload's to ask.

        Parameters
        ----------
        at : (3,) array
            Middle of that body's box from the middle of the payload's. [m]
        size, other : (3,) arrays
            Of the payload's box and of the other one. [m]
        gaps : mapping
            Fields of the faces: its own gaps, as they were measured.
        """
        solids = [
            replace(o, position=POSITION.quantity(si_array(o, "position") - at))
            for o in self.standing()
        ]
        ribs = [replace(r, at=POSITION.quantity(si(r, "at") - at[r.along()])) for r in self.ribs]
        faces = dict.fromkeys(face.replace(" ", "_") for face in FACES)
        return replace(
            self,
            **{**faces, **gaps},
            parts=(),
            gaps=(),
            inside=self.inside and self.inside.around(at, size, other),
            obstacles=solids,
            ribs=ribs,
        )

    @cached_property
    def _misfits(self) -> dict[tuple[float, ...], list[str]]:
        """Lines of `misfits` by the size of the box: a sweep asks a thousand times."""
        return {}

    def misfits(self, size: FloatArray) -> list[str]:
        """A line for everything that cannot be around the box of a payload (3,) at rest."""
        key = tuple(size.tolist())
        if key not in self._misfits:
            self._misfits[key] = list(self._around(size))
        return self._misfits[key]

    def _around(self, size: FloatArray) -> Iterator[str]:
        room = self.room(size)
        yield from self._overlaps(size, room)
        outer = si_array_or_none(self, "size")
        if outer is not None:
            taken = size + _between(np.nan_to_num(room, nan=0.0, posinf=np.inf))
            yield from (
                f"case.size: {'xyz'[k]} = {SIZE.text(outer[k])} outside, but the payload and its "
                f"gaps take {SIZE.text(taken[k])}; measure again, or check the units"
                for k in np.flatnonzero(taken > outer)
            )
        within = size + _between(np.nan_to_num(room, nan=np.inf, posinf=np.inf))
        within = within if outer is None else np.minimum(within, outer)
        if self.inside is not None:
            within = np.minimum(within, si_array(self.inside, "size"))
        yield from self._too_wide(within)
        solids = self.solids(size)
        yield from (f"{self._key(name)}: {line}" for name, line in touching(solids))
        yield from self._outside(solids, size, room)

    def _overlaps(self, size: FloatArray, room: FloatArray) -> Iterator[str]:
        """A line for each axis along which the payload is in a wall, or for its rounded edges."""
        if self.inside is None:
            return
        inner = si_array(self.inside, "size")
        own = own_walls(room)
        lines = 0
        for k in range(3):
            where = f"case.inside: the payload's box of {SIZE.text(size[k])} along {'xyz'[k]}"
            deepest = float(np.nanmin(np.append(own[:, k], np.inf)))
            if size[k] > inner[k] + EXACT:
                lines += 1
                yield f"{where} is larger than the room, {SIZE.text(inner[k])}; check both sizes"
            elif deepest < -EXACT:
                lines += 1
                corner = CORNERS[int(np.nanargmin(own[:, k]))]
                yield (
                    f"{where} is {SIZE.text(-deepest)} in the "
                    f"{FACES[2 * k + (corner[k] == '+')]} at its corner {corner}; check "
                    "case.inside.size, middle and floor, which count at the rim and from its middle"
                )
        rounded = (
            ("corner_radius", in_corner(room, self.inside.radius("corner_radius"))),
            (
                "floor_radius",
                in_fillet(
                    room, self.inside.radius("corner_radius"), self.inside.radius("floor_radius")
                ),
            ),
        )
        for name, used in () if lines else rounded:
            over = np.nan_to_num(used - self.inside.radius(name)).max()
            if self.inside.radius(name) and over > EXACT:
                yield (
                    f"case.inside.{name} = {SIZE.text(self.inside.radius(name))}: the payload's "
                    f"box is {SIZE.text(over)} in that rounding at rest; give it more room, or a "
                    "box that its own rounded edges fit"
                )

    def _too_wide(self, within: FloatArray) -> Iterator[str]:
        """A line for each obstacle that is larger than the room (3,); unknown room takes all."""
        for obstacle in self.standing():
            own, where = si_array(obstacle, "size"), f"{self._key(obstacle.name)}: size"
            yield from (
                f"{where}: {'xyz'[k]} = {SIZE.text(own[k])} is more than the "
                f"case has, {SIZE.text(within[k])}; a slip of units?"
                for k in np.flatnonzero(own > within + EXACT)
            )
        for rib in self.ribs:
            for name, k in (("width", rib.along()), ("height", FACES.index(rib.wall) // 2)):
                if (own_size := si(rib, name)) > within[k] + EXACT:
                    yield (
                        f"case.rib {rib.name!r}: {name} = {SIZE.text(own_size)}: more than the "
                        f"case has along {'xyz'[k]}, {SIZE.text(within[k])}; a slip of units?"
                    )

    def _outside(self, solids: Solids, size: FloatArray, room: FloatArray) -> Iterator[str]:
        """A line for each obstacle or rib behind a wall; one that leans counts at its rim."""
        above = np.abs(self.slope(size)[..., 2]) * room[OWN[:, 5], 5].max()
        widest = np.where(OWN, room + np.where(above > 0, above, 0.0), -np.inf).max(axis=0)
        unknown = np.isnan(widest)
        widest = np.where(unknown, np.repeat(np.maximum(size, FAR), 2), widest)
        for n, k in zip(*np.nonzero(solids.gap >= widest + EXACT), strict=True):
            if k != solids.wall[n]:
                begins = POSITION.text(solids.gap[n, k])
                behind = f"behind the {FACES[k]} at {GAP.text(widest[k])}"
                yield (
                    f"{self._key(solids.names[n])}: it begins {begins} from the payload's box, "
                    f"{f'too far for the {FACES[k]}' if unknown[k] else behind}: a slip of "
                    "units? Positions count from the middle of that box, check them and the gaps"
                )


def _between(room: FloatArray) -> FloatArray:
    """Largest sum (3,) of the gaps on both sides of a box, nan if unknown. [m]"""
    both = [
        np.sum([room[OWN[:, 2 * k + s], 2 * k + s] for s in (0, 1)], axis=0).max() for k in range(3)
    ]
    return np.array(both)

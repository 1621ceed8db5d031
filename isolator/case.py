"""What the payload floats in: the shell, the room inside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from isolator.payload import Part
from isolator.units import (
    GAP,
    MASS,
    SIZE,
    FloatArray,
    InputError,
    OptionalMeasure,
    number,
    si,
    si_or_none,
)

FACES = ("left end", "right end", "handle side", "hinge side", "floor", "lid")
"""The six faces inside: −x, +x, −y, +y, −z, +z."""


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
    tolerance : text or quantity [length], optional
        What the build may be off at a gap; 0 if left out, and the page says so.
    restitution : number, optional
        Rebound speed over landing speed of the shell, 0 to 1; 0 if left out, and the page says
        so.
    parts : sequence of Part
        Those that are rigid in it and feel its full input; `mass` holds theirs.
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
    tolerance: OptionalMeasure = OptionalMeasure(GAP)
    restitution: float | None = None
    parts: Sequence[Part] = ()

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

    def gaps(self) -> FloatArray:
        """Gap at each face (6,) in the order of `FACES`, nan if unknown. [m]"""
        given = [si_or_none(self, face.replace(" ", "_")) for face in FACES]
        return np.array([np.nan if gap is None else gap for gap in given])

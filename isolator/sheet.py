"""The sheet that a mount stands on, as a spring: a thin plate that is pressed at its middle.

A mount off the middle of its span, ribs and a stiffening fold all make the sheet stiffer than
this; cut-outs make it softer. What is taken here bends, and does not stretch: it holds while the
sheet gives way by less than about half its thickness.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from isolator.sources import read_table
from isolator.units import (
    MODULUS,
    SIZE,
    FloatArray,
    InputError,
    Measure,
    OptionalMeasure,
    number,
    si,
    si_array,
    si_or_none,
)

EDGES = ("supported", "clamped")
"""How the sheet is held along its edges: free to turn there, or not. A real edge lies between."""

THICKEST = 0.2
"""Thickness over clear span up to which a plate counts as thin. [-]"""


@cache
def _deflections(edges: str) -> tuple[FloatArray, FloatArray]:
    """Short side over long one, rising, and deflection under the force over F·a²/D. [-]"""
    rows = [row for row in read_table("plates.csv") if row["edges"] == edges]
    table = np.array([(1 / float(row["long/short"]), float(row["alpha"])) for row in rows])
    table = table[table[:, 0].argsort()]
    return table[:, 0], table[:, 1]


def rigidity(
    thickness: npt.ArrayLike, modulus: npt.ArrayLike, poisson: npt.ArrayLike
) -> FloatArray:
    """Bending stiffness of a plate, D = E·t³/(12(1 − ν²)).

    Parameters
    ----------
    thickness : (...) array
        [m]
    modulus : (...) array
        Young's modulus. [Pa]
    poisson : (...) array
        Poisson's ratio. [-]

    Returns
    -------
    (...) array
        [N·m]
    """
    t, nu = np.asarray(thickness, dtype=float), np.asarray(poisson, dtype=float)
    return np.asarray(np.asarray(modulus, dtype=float) * t**3 / (12 * (1 - nu**2)))


def rectangle_stiffness(
    rigidity: npt.ArrayLike, span: npt.ArrayLike, edges: Literal["supported", "clamped"]
) -> FloatArray:
    """Force at the middle of a rectangular plate over its deflection there, D/(α·a²).

    α is that of ``data/plates.csv`` (Timoshenko and Woinowsky-Krieger, Tables 23 and 37), taken
    along straight lines in a/b between its rows: within 1 %.

    Parameters
    ----------
    rigidity : (...) array
        D. [N·m]
    span : (..., 2) array
        Clear sides, in any order; a is the shorter one. [m]
    edges : "supported" or "clamped"
        All four alike.

    Returns
    -------
    (...) array
        [N/m]

    Examples
    --------
    >>> print(f"{rectangle_stiffness(1.0, [1.0, 1.0], 'supported'):.1f}")
    86.2
    """
    sides = np.sort(np.asarray(span, dtype=float), axis=-1)
    factor = np.interp(sides[..., 0] / sides[..., 1], *_deflections(edges))
    return np.asarray(np.asarray(rigidity, dtype=float) / (factor * sides[..., 0] ** 2))


def circle_stiffness(
    rigidity: npt.ArrayLike,
    diameter: npt.ArrayLike,
    poisson: npt.ArrayLike,
    edges: Literal["supported", "clamped"],
) -> FloatArray:
    """Force at the middle of a round plate over its deflection there.

    16πD/r² clamped, and (1 + ν)/(3 + ν) of it simply supported (Timoshenko and Woinowsky-Krieger,
    chapter 3; Roark).

    Parameters
    ----------
    rigidity : (...) array
        D. [N·m]
    diameter : (...) array
        Clear. [m]
    poisson : (...) array
        [-]
    edges : "supported" or "clamped"

    Returns
    -------
    (...) array
        [N/m]
    """
    nu = np.asarray(poisson, dtype=float)
    share = (1 + nu) / (3 + nu) if edges == "supported" else 1.0
    radius = np.asarray(diameter, dtype=float) / 2
    return np.asarray(16 * np.pi * np.asarray(rigidity, dtype=float) / radius**2 * share)


@dataclass(frozen=True)
class Material:
    """What a sheet is made of: Young's modulus [Pa], Poisson's ratio [-], where both come from."""

    name: str
    modulus: float
    poisson: float
    label: str
    source: str


@cache
def materials() -> Mapping[str, Material]:
    """The materials of ``data/sheets.csv`` by name."""
    return {
        row["material"]: Material(
            name=row["material"],
            modulus=float(row["modulus [GPa]"]) * 1e9,
            poisson=float(row["poisson"]),
            label=row["label"],
            source=row["source"],
        )
        for row in read_table("sheets.csv")
    }


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A flat sheet with a mount at the middle of its clear span.

    Parameters
    ----------
    thickness : text or quantity [length]
    span : one, two texts or a quantity [length]
        Clear sides of a rectangle, or the one diameter of a circle.
    edges : "supported" or "clamped"
        Supported is the softer: a sheet on a frame, held by a few screws. Clamped: folded, glued
        or moulded to something stiff all round.
    material : str, optional
        One of `materials`; instead of `modulus` and `poisson`.
    modulus : text or quantity [pressure], optional
        Young's modulus.
    poisson : number, optional
        Poisson's ratio, 0 to 0.5.

    Raises
    ------
    InputError
        Wrong units or limits; neither a material nor a modulus with its ratio, or both; a plate
        that is not thin.

    Examples
    --------
    >>> floor = Sheet(thickness="2 mm", span=["200 mm", "200 mm"], edges="supported",
    ...               material="aluminium")
    >>> print(f"{floor.stiffness() / 1e3:.0f} N/mm")
    113 N/mm
    """

    thickness: Measure = Measure(SIZE)
    span: Measure = Measure(SIZE, shape=None)
    edges: Literal["supported", "clamped"]
    material: str | None = None
    modulus: OptionalMeasure = OptionalMeasure(MODULUS)
    poisson: float | None = None

    def __post_init__(self) -> None:
        if self.edges not in EDGES:
            raise InputError(f"Sheet.edges = {self.edges!r}: write {' or '.join(EDGES)}")
        if (self.material is None) == (self.modulus is None):
            raise InputError(
                "Sheet.material: the stiffness of what the sheet is made of is given once; write "
                f"material (one of {', '.join(materials())}), or modulus and poisson"
            )
        if self.material is not None and self.material not in materials():
            raise InputError(
                f"Sheet.material = {self.material!r}: not in the table; write one of "
                f"{', '.join(materials())}, or give modulus and poisson"
            )
        if (self.modulus is None) != (self.poisson is None):
            raise InputError(
                "Sheet.poisson: a modulus and its Poisson's ratio go together; give both or neither"
            )
        if self.poisson is not None:
            given = number(self.poisson, "Sheet.poisson", 0.0, 0.5)
            object.__setattr__(self, "poisson", given)
        span = np.atleast_1d(si_array(self, "span"))
        if span.shape not in ((1,), (2,)):
            raise InputError(
                f"Sheet.span has {span.size} values: give two clear sides, or one diameter"
            )
        if (thickness := si(self, "thickness")) > THICKEST * span.min():
            raise InputError(
                f"Sheet.thickness = {SIZE.text(thickness)}: more than a fifth of its span of "
                f"{SIZE.text(span.min())} is no thin sheet; leave it out, which makes it rigid"
            )

    def stiffness(self) -> float:
        """Force on the mount over what the sheet gives way under it. [N/m]"""
        if self.material is not None:
            made = materials()[self.material]
            modulus, poisson = made.modulus, made.poisson
        else:
            modulus, poisson = si_or_none(self, "modulus") or 0.0, self.poisson or 0.0
        plate = rigidity(si(self, "thickness"), modulus, poisson)
        span = np.atleast_1d(si_array(self, "span"))
        if span.size == 1:
            return float(circle_stiffness(plate, span[0], poisson, self.edges))
        return float(rectangle_stiffness(plate, span, self.edges))

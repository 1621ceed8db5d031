"""Stiffness of a piece of rubber from its shape and shear modulus.

Rubber hardly changes its volume, so a flat pad between plates that hold its faces is much stiffer
than its Young's modulus E = 3G says. All factors here are for k = 1 and go onto 3G: on Lindley's E0
they overstate (see `rubber.Lindley`). Arrays broadcast over leading axes; lengths in m, moduli in
Pa, stiffness in N/m.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from isolator.units import FloatArray

BULK = 2000.0
"""Bulk modulus over shear modulus where nobody knows better (common practice). [-]"""

BOTTOMED = 10.0
"""A block is at its end where its tangent is so many times what it was (common practice). [-]"""

BUSH_END = 0.225
"""What the free ends of a bush take off its length, in (b − a) (fitted to finite elements)."""


MOST_CORD = 0.5
"""Squeeze of a cord over its diameter up to which Lindley's relation is used. [-]"""


class Rates(NamedTuple):
    """Stiffness of a piece: squeezed with faces that are held or slip, and sheared. [N/m]"""

    stuck: FloatArray
    slipping: FloatArray
    sheared: FloatArray


def squeeze(strain: npt.ArrayLike) -> FloatArray:
    """Force of a block that is pressed flat, over its initial stiffness times its thickness. [-]

    f(x) = [(1 − x)⁻² − (1 − x)]/3 for x > 0, else 0: neo-Hookean, its faces slipping, and its
    slope at x = 0 is 1.

    Parameters
    ----------
    strain : (...,) array
        Compression over thickness x, below 1. [-]
    """
    x = np.maximum(np.asarray(strain, dtype=float), 0.0)
    return np.asarray(((1 - x) ** -2 - (1 - x)) / 3)


def squeeze_slope(strain: npt.ArrayLike) -> FloatArray:
    """Slope of `squeeze`, [2(1 − x)⁻³ + 1]/3 for x > 0, else 0. [-]"""
    x = np.asarray(strain, dtype=float)
    return np.where(x > 0, (2 * (1 - np.maximum(x, 0.0)) ** -3 + 1) / 3, 0.0)


def bottoming_strain(multiple: npt.ArrayLike = BOTTOMED) -> FloatArray:
    """Compression over thickness (...) at which the tangent is so many times the initial one.

    >>> print(f"{squeeze_slope(bottoming_strain(10.0)):.1f}")
    10.0
    """
    m = np.asarray(multiple, dtype=float)
    return np.asarray(1 - (2 / (3 * m - 1)) ** (1 / 3))


def shape_factor(loaded: npt.ArrayLike, free: npt.ArrayLike) -> FloatArray:
    """Loaded area over the area that is free to bulge, S (...). [-]

    Of a disc D/4h, of a rectangle ab/2h(a + b).
    """
    return np.asarray(np.asarray(loaded, dtype=float) / np.asarray(free, dtype=float))


def compression_modulus(
    young: npt.ArrayLike, factor: npt.ArrayLike, k: npt.ArrayLike = 1.0
) -> FloatArray:
    """E(1 + 2kS²) (...), held faces, by Lindley's E0 with the k beside it, or 3G with k = 1. [Pa]

    >>> print(f"{compression_modulus(2.2e6, 0.5, 0.73) / 1e6:.3f} MPa")
    3.003 MPa
    """
    s = np.asarray(factor, dtype=float)
    return np.asarray(np.asarray(young) * (1 + 2 * np.asarray(k) * s**2))


def held_modulus(
    shear: npt.ArrayLike, factor: npt.ArrayLike, bulk: npt.ArrayLike | None = None
) -> FloatArray:
    """Compression modulus of a solid pad with held faces, (...). [Pa]

    Ec = 3G(1 + 2S²), and with the bulk modulus 1/Ec' = 1/Ec + 1/B (Gent and Lindley 1959).
    Against finite elements −6 to +3 % up to S = 8 where the rubber keeps its volume; with
    B = 2000 G the rule is 6 % stiff at S = 8. Of a long strip it is up to 12 % high, for whose
    exact value is 4G(1 + S²).

    Parameters
    ----------
    shear : (...) array
        G. [Pa]
    factor : (...) array
        S. [-]
    bulk : (...) array
        B; `BULK` times G if left out. [Pa]

    Examples
    --------
    >>> print(f"{held_modulus(1.0, 1.0, np.inf):.2f}")
    9.00
    """
    g = np.asarray(shear, dtype=float)
    return _with_bulk(compression_modulus(3 * g, factor), g, bulk)


def _with_bulk(modulus: FloatArray, shear: FloatArray, bulk: npt.ArrayLike | None) -> FloatArray:
    """A modulus with the bulk modulus in series. [Pa]"""
    volume = BULK * shear if bulk is None else np.asarray(bulk, dtype=float)
    return np.asarray(1 / (1 / modulus + 1 / volume))


def ring_modulus(
    inner: npt.ArrayLike,
    outer: npt.ArrayLike,
    thickness: npt.ArrayLike,
    shear: npt.ArrayLike,
    bulk: npt.ArrayLike | None = None,
) -> FloatArray:
    """Compression modulus of a ring with held faces and a bore that is free, (...). [Pa]

    Ec = 4G + 6GS²λ with S = (a − b)/2h and λ = [a² + b² − (a² − b²)/ln(a/b)]/(a − b)²; within
    2.5 % of finite elements for flat rings of b/a ≥ 0.3, −5 to +11 % where S is 1 and less
    (computed). The bulk modulus in series as for `held_modulus`.

    Parameters
    ----------
    inner, outer, thickness : (...) arrays
        Radii b < a, and h. [m]
    shear, bulk : (...) arrays
        [Pa]

    Raises
    ------
    ValueError
        A bore that is not smaller than the outside.
    """
    b, a = _rising(inner, outer, "inner", "outer")
    h, g = np.asarray(thickness, dtype=float), np.asarray(shear, dtype=float)
    s = (a - b) / (2 * h)
    lam = (a**2 + b**2 - (a**2 - b**2) / np.log(a / b)) / (a - b) ** 2
    return _with_bulk(4 * g + 6 * g * s**2 * lam, g, bulk)


def _above(**sizes: npt.ArrayLike) -> FloatArray:
    """One size as an array, refused unless it is above 0."""
    ((name, given),) = sizes.items()
    value = np.asarray(given, dtype=float)
    if not np.all(value > 0):
        raise ValueError(f"{name}: must be above 0")
    return value


def _rising(
    low: npt.ArrayLike, high: npt.ArrayLike, one: str, other: str
) -> tuple[FloatArray, FloatArray]:
    a, b = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    if not np.all((a > 0) & (b > a)):
        raise ValueError(f"{one} must be above 0 and below {other}; were two exchanged?")
    return a, b


def sheared(
    area: npt.ArrayLike, thickness: npt.ArrayLike, gyration: npt.ArrayLike, shear: npt.ArrayLike
) -> FloatArray:
    """Shear stiffness of a pad with held faces, with what its bending gives way. [N/m]

    (GA/h)/(1 + h²/36rg²) (Lindley, Engineering Design with Natural Rubber, memory).

    Parameters
    ----------
    area, thickness : (...) arrays
        Of the section, and its height h. [m², m]
    gyration : (...) array
        Radius of gyration rg of the section about the axis of bending. [m]
    shear : (...) array
        [Pa]
    """
    h, r = np.asarray(thickness, dtype=float), np.asarray(gyration, dtype=float)
    stiff = np.asarray(shear, dtype=float) * np.asarray(area, dtype=float) / h
    return np.asarray(stiff / (1 + h**2 / (36 * r**2)))


def disc(
    diameter: npt.ArrayLike,
    thickness: npt.ArrayLike,
    shear: npt.ArrayLike,
    bulk: npt.ArrayLike | None = None,
) -> Rates:
    """A round pad, a bobbin between two plates (...). Lengths in m, moduli in Pa.

    Examples
    --------
    40 by 20 mm, G = 0.64 MPa: held 1.5 times 3G on A/h, sheared 40.2 N/mm less its bending.

    >>> pad = disc(0.04, 0.02, 0.64e6, np.inf)
    >>> print(f"{pad.stuck / 1e3:.1f} {pad.slipping / 1e3:.1f} {pad.sheared / 1e3:.1f} N/mm")
    181.0 120.6 36.2 N/mm
    """
    r, h = _above(diameter=diameter) / 2, _above(thickness=thickness)
    area, g = np.pi * r**2, np.asarray(shear, dtype=float)
    s = shape_factor(area, 2 * np.pi * r * h)
    held = held_modulus(g, s, bulk) * area / h
    return Rates(held, np.asarray(3 * g * area / h), sheared(area, h, r / 2, g))


def rectangle(
    length: npt.ArrayLike,
    width: npt.ArrayLike,
    thickness: npt.ArrayLike,
    shear: npt.ArrayLike,
    bulk: npt.ArrayLike | None = None,
) -> Rates:
    """A block (...), sheared along its shorter side, where it bends more. Lengths in m, Pa.

    Held: Ec = 3G·K + 3G·J/(h²ab), K = 4/3 − (2/3)(ab + h²)/(a² + b² + 2h²) (Gent and Meinecke 1970,
    memory) from a square to a strip, and the pressure of a film that flows out under it, by the
    torsion constant J of the rectangle (derived). Exact for a long flat strip, 4G(1 + S²); −8 to
    +1.4 % off finite elements between (computed), where 3G(1 + 2S²) is −16 to +14 %.

    Raises
    ------
    ValueError
        A size that is not above 0.
    """
    one, other = _above(length=length), _above(width=width)
    h, g = _above(thickness=thickness), np.asarray(shear, dtype=float)
    a, b = np.maximum(one, other), np.minimum(one, other)
    twist = a * b**3 * (1 / 3 - 0.21 * b / a * (1 - b**4 / (12 * a**4)))
    shape = 4 / 3 - 2 / 3 * (a * b + h**2) / (a**2 + b**2 + 2 * h**2)
    modulus = _with_bulk(3 * g * (shape + twist / (h**2 * a * b)), g, bulk)
    area = a * b
    bends = sheared(area, h, b / np.sqrt(12), g)
    return Rates(np.asarray(modulus * area / h), np.asarray(3 * g * area / h), bends)


def filled_ring_modulus(
    inner: npt.ArrayLike,
    outer: npt.ArrayLike,
    thickness: npt.ArrayLike,
    shear: npt.ArrayLike,
    bulk: npt.ArrayLike | None = None,
) -> FloatArray:
    """Compression modulus of a ring with held faces and a bore that is filled, (...). [Pa]

    Ec = G(3 + b²/a²) + (12πG/h²A)[(a² − b²)²/8 − b²(a² − b²)/4 + (b⁴/2) ln(a/b)]: the rubber flows
    outwards only, past a bolt or sleeve that it slips on; −6 to +3 % off finite elements
    (computed), and a solid disc where there is no bore. The bulk modulus in series as for
    `held_modulus`.

    Parameters
    ----------
    inner, outer, thickness : (...) arrays
        Radii b < a, and h. [m]
    shear, bulk : (...) arrays
        [Pa]

    Raises
    ------
    ValueError
        A bore that is not smaller than the outside.
    """
    b, a = _rising(inner, outer, "inner", "outer")
    h, g = np.asarray(thickness, dtype=float), np.asarray(shear, dtype=float)
    square = a**2 - b**2
    flow = square**2 / 8 - b**2 * square / 4 + b**4 / 2 * np.log(a / b)
    return _with_bulk(g * (3 + b**2 / a**2) + 12 * g * flow / (h**2 * square), g, bulk)


def ring(
    bore: npt.ArrayLike,
    diameter: npt.ArrayLike,
    thickness: npt.ArrayLike,
    shear: npt.ArrayLike,
    bulk: npt.ArrayLike | None = None,
    *,
    filled: bool = False,
) -> Rates:
    """A flat ring whose bore is free, or filled by a bolt (...). Diameters and thickness in m.

    In shear it is 5 to 13 % stiff up to a height of its wall, 30 % at twice that (computed).

    Raises
    ------
    ValueError
        A bore that is not smaller than the diameter.
    """
    b, a = _rising(bore, diameter, "bore", "diameter")
    b, a, h, g = b / 2, a / 2, _above(thickness=thickness), np.asarray(shear, dtype=float)
    area = np.pi * (a**2 - b**2)
    slips = g * (3 + b**2 / a**2) if filled else 3 * g
    modulus = filled_ring_modulus if filled else ring_modulus
    held = modulus(b, a, h, g, bulk) * area / h
    return Rates(held, np.asarray(slips * area / h), sheared(area, h, np.hypot(a, b) / 2, g))


class Bush(NamedTuple):
    """Stiffness of a bonded bush: along its axis, across it, turned about it, tilted.

    [N/m, N/m, N·m/rad, N·m/rad]
    """

    axial: FloatArray
    radial: FloatArray
    torsional: FloatArray
    conical: FloatArray


def bush_long(inner: npt.ArrayLike, outer: npt.ArrayLike, shear: npt.ArrayLike) -> FloatArray:
    """Radial stiffness of a bush for each length, its ends held: Adkins and Gent 1954. [N/m²]

    4πG/[ln(b/a) − (b² − a²)/(b² + a²)], radii a < b in m.
    """
    a, b = _rising(inner, outer, "inner", "outer")
    return np.asarray(
        4 * np.pi * np.asarray(shear) / (np.log(b / a) - (b**2 - a**2) / (b**2 + a**2))
    )


def bush_short(inner: npt.ArrayLike, outer: npt.ArrayLike, shear: npt.ArrayLike) -> FloatArray:
    """The same of a short bush, its ends free: Adkins and Gent 1954. [N/m²]

    80πG(a² + b²)/[25(a² + b²) ln(b/a) − 9(b² − a²)].
    """
    a, b = _rising(inner, outer, "inner", "outer")
    square = a**2 + b**2
    return np.asarray(
        80 * np.pi * np.asarray(shear) * square / (25 * square * np.log(b / a) - 9 * (b**2 - a**2))
    )


def bush_radial(
    inner: npt.ArrayLike, outer: npt.ArrayLike, length: npt.ArrayLike, shear: npt.ArrayLike
) -> FloatArray:
    """Radial stiffness of a bush of finite length, between the two limits. [N/m]

    short + (long − short)(1 − tanh x/x) with x = L/(a + b): within ±5 % of finite elements, no fit
    (computed).

    Examples
    --------
    b/a = 2, L/a = 1, G = 1: finite elements have 25.59 a.

    >>> print(f"{bush_radial(1.0, 2.0, 1.0, 1.0):.2f}")
    25.11
    """
    a, b = _rising(inner, outer, "inner", "outer")
    x = np.asarray(length, dtype=float) / (a + b)
    short, long = bush_short(a, b, shear), bush_long(a, b, shear)
    return np.asarray(np.asarray(length) * (short + (long - short) * (1 - np.tanh(x) / x)))


def bush(
    bore: npt.ArrayLike, diameter: npt.ArrayLike, length: npt.ArrayLike, shear: npt.ArrayLike
) -> Bush:
    """A bush bonded to a sleeve and a shell (...).

    Axial 2πGL/ln(b/a), less what free ends take off it by `_ends`: −8 to +3 % off finite elements
    for b/a up to 2, down to −20 % at 4. Torsional 4πGL/(1/a² − 1/b²), exact. Radial as
    `bush_radial`. Conical: slices move across by θz under a pressure that is 0 in the middle too,
    (L²/12)·[short + (long − short)(1 − 3(x coth x − 1)/x²)], and shear along the axis, half of the
    torsional less its ends; −9 to +5 % off for b/a up to 2, −25 % at 4 (derived; finite elements
    computed).

    Parameters
    ----------
    bore, diameter, length : (...) arrays
        Of the rubber, 2a < 2b, and L. [m]
    shear : (...) array
        [Pa]

    Raises
    ------
    ValueError
        A bore that is not smaller than the diameter.

    Examples
    --------
    >>> rubber = bush(0.02, 0.04, 0.03, 0.64e6)
    >>> print(f"{rubber.torsional:.2f} N·m/rad")
    32.17 N·m/rad
    """
    a, b = _rising(bore, diameter, "bore", "diameter")
    a, b, long = a / 2, b / 2, np.asarray(length, dtype=float)
    g = np.asarray(shear, dtype=float)
    torsional = np.asarray(4 * np.pi * g * long / (1 / a**2 - 1 / b**2))
    x = long / (a + b)
    short, whole = bush_short(a, b, g), bush_long(a, b, g)
    slices = short + (whole - short) * (1 - 3 * (x / np.tanh(x) - 1) / x**2)
    near = (b - a) * np.sqrt(2 * a / (a + b))
    return Bush(
        np.asarray(2 * np.pi * g * long * _ends((b - a) / long) / np.log(b / a)),
        bush_radial(a, b, long, g),
        torsional,
        np.asarray(long**3 / 12 * slices + torsional / 2 * _ends(near / long)),
    )


def _ends(wall: FloatArray) -> FloatArray:
    """What free ends leave of the axial stiffness, by wall over length (...). [-]

    1 − 0.225u fitted to finite elements; for bushes shorter than their wall 1/(1 + u²/4), a clamped
    plate in plane strain; they meet at u = 1.2536.
    """
    return np.where(wall < 1.2536, 1 - BUSH_END * wall, 1 / (1 + wall**2 / 4))


def cord_force(
    squeezed: npt.ArrayLike, cord: npt.ArrayLike, length: npt.ArrayLike, shear: npt.ArrayLike
) -> FloatArray:
    """Force of a round cord, an O-ring unrolled, between two plates. [N]

    F = E d L (1.25 x^1.5 + 50 x⁶), x the deflection over the cord's diameter d (Lindley 1967,
    memory), E = 3G; up to x = 0.5.

    Parameters
    ----------
    squeezed : (...) array
        Deflection. [m]
    cord, length : (...) arrays
        d, and L: of a ring π times its mean diameter. [m]
    shear : (...) array
        [Pa]
    """
    d = _above(cord=cord)
    x = np.maximum(np.asarray(squeezed, dtype=float) / d, 0.0)
    if np.any(x > MOST_CORD):
        raise ValueError(f"squeezed: at most {MOST_CORD:g} of cord, where the relation ends")
    young = 3 * np.asarray(shear, dtype=float)
    return np.asarray(young * d * np.asarray(length) * (1.25 * x**1.5 + 50 * x**6))

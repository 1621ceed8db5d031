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
    b = BULK * g if bulk is None else np.asarray(bulk, dtype=float)
    return np.asarray(1 / (1 / compression_modulus(3 * g, factor) + 1 / b))


def ring_modulus(
    inner: npt.ArrayLike,
    outer: npt.ArrayLike,
    thickness: npt.ArrayLike,
    shear: npt.ArrayLike,
    bulk: npt.ArrayLike | None = None,
) -> FloatArray:
    """Compression modulus of a ring with held faces and a bore that is free, (...). [Pa]

    Ec = 4G + 6GS²λ with S = (a − b)/2h and λ = [a² + b² − (a² − b²)/ln(a/b)]/(a − b)²; within
    2.5 % of finite elements for b/a ≥ 0.3. The bulk modulus in series as for `held_modulus`.

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
    volume = BULK * g if bulk is None else np.asarray(bulk, dtype=float)
    return np.asarray(1 / (1 / (4 * g + 6 * g * s**2 * lam) + 1 / volume))


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
    r, h = np.asarray(diameter, dtype=float) / 2, np.asarray(thickness, dtype=float)
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
    """A block (...), sheared along its shorter side, where it bends more. Lengths in m."""
    a, b = np.asarray(length, dtype=float), np.asarray(width, dtype=float)
    h, g = np.asarray(thickness, dtype=float), np.asarray(shear, dtype=float)
    s = shape_factor(a * b, 2 * h * (a + b))
    held = held_modulus(g, s, bulk) * a * b / h
    bends = np.minimum(a, b) / np.sqrt(12)
    return Rates(held, np.asarray(3 * g * a * b / h), sheared(a * b, h, bends, g))


def filled_ring_modulus(
    inner: npt.ArrayLike,
    outer: npt.ArrayLike,
    thickness: npt.ArrayLike,
    shear: npt.ArrayLike,
    bulk: npt.ArrayLike | None = None,
) -> FloatArray:
    """Compression modulus of a ring with held faces and a bore that is filled, (...). [Pa]

    Ec = 3G + (12πG/h²A)[(a² − b²)²/8 − b²(a² − b²)/4 + (b⁴/2) ln(a/b)]: the rubber flows outwards
    only, past a bolt or sleeve that it slips on; within 3 % of finite elements (computed), and a
    solid disc where there is no bore. The bulk modulus in series as for `held_modulus`.

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
    volume = BULK * g if bulk is None else np.asarray(bulk, dtype=float)
    return np.asarray(1 / (1 / (3 * g + 12 * g * flow / (h**2 * square)) + 1 / volume))


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

    Raises
    ------
    ValueError
        A bore that is not smaller than the diameter.
    """
    b, a = _rising(bore, diameter, "bore", "diameter")
    b, a, h, g = b / 2, a / 2, np.asarray(thickness, dtype=float), np.asarray(shear, dtype=float)
    area = np.pi * (a**2 - b**2)
    modulus = filled_ring_modulus if filled else ring_modulus
    held = modulus(b, a, h, g, bulk) * area / h
    return Rates(held, np.asarray(3 * g * area / h), sheared(area, h, np.hypot(a, b) / 2, g))


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

    short + (long − short)(1 − tanh x/x) with x = L/(a + b): within ±4.5 % of eight bushes by finite
    elements, no fit (computed).

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

    Axial 2πG(L − 0.225(b − a))/ln(b/a) (its ends by finite elements), torsional
    4πGL/(1/a² − 1/b²), radial as `bush_radial`, conical as if that were spread evenly along it,
    kr·L²/12 (low confidence).

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
    radial = bush_radial(a, b, long, g)
    return Bush(
        np.asarray(2 * np.pi * g * (long - BUSH_END * (b - a)) / np.log(b / a)),
        radial,
        np.asarray(4 * np.pi * g * long / (1 / a**2 - 1 / b**2)),
        radial * long**2 / 12,
    )


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
    d = np.asarray(cord, dtype=float)
    x = np.maximum(np.asarray(squeezed, dtype=float) / d, 0.0)
    young = 3 * np.asarray(shear, dtype=float)
    return np.asarray(young * d * np.asarray(length) * (1.25 * x**1.5 + 50 * x**6))

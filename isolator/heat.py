"""Heat through the rubber of mounts: where bolts conducted it, rubber hardly does.

Steady conduction from the payload's side of a mount to the case's side, the metal parts each at one
temperature. What air carries off is left out, so a rise is an upper bound of what rubber leaves.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from isolator.mount import Sizes
from isolator.units import FloatArray

CONDUCTIVITY = (0.15, 0.25)
"""Of solid rubber, by its filler (common practice). [W/(m·K)]"""

EDGE = 0.54
"""Shape factor of an edge where two walls of equal thickness meet, over its length (Incropera and
DeWitt, Fundamentals of Heat and Mass Transfer, table of shape factors; memory). [-]"""


RIM = 2 * np.log(2) / np.pi
"""How far a plate's edge reaches into a sheet that goes on, over its thickness: conformal map of a
half strip. [-]"""


def block(area: npt.ArrayLike, height: npt.ArrayLike) -> FloatArray:
    """Shape factor of a block between two plates, A/h (Fourier), (...). [m]

    Parameters
    ----------
    area, height : (...) arrays
        [m², m]
    """
    return np.asarray(np.asarray(area, dtype=float) / np.asarray(height))


def wall(inner: npt.ArrayLike, outer: npt.ArrayLike, length: npt.ArrayLike) -> FloatArray:
    """Shape factor of a tube from its bore to its outside, 2πL/ln(b/a) (Fourier), (...). [m]

    Parameters
    ----------
    inner, outer, length : (...) arrays
        Radii and length. [m]

    Examples
    --------
    A wall that is thin beside its radius is a block of the mean circumference:

    >>> print(f"{float(wall(1.0, 1.001, 1.0)) / float(block(2 * np.pi * 1.0005, 0.001)):.6f}")
    1.000000
    """
    a, b = np.asarray(inner, dtype=float), np.asarray(outer, dtype=float)
    return np.asarray(2 * np.pi * np.asarray(length) / np.log(b / a))


def path(sizes: Sizes | None) -> float:
    """Shape factor of a mount by its shape; nan where it is unknown. [m]

    A pad, disc, ring and bobbin are a `block`, a bush a `wall`, an O-ring a strip half as wide as
    high (a guess). A panel grommet is the wall of the panel's thickness, two flanges between
    washer and panel with what lies around the washer, and the two `EDGE` between them; a threaded
    nut has one flange. Held against finite elements in tests/cross/test_heat.py: six grommets
    within 3 % (computed).

    Examples
    --------
    >>> pad = Sizes(kind="pad", length="20 mm", width="20 mm", thickness="10 mm")
    >>> print(f"{path(pad):.3f} m")
    0.040 m
    """
    if sizes is None or sizes.kind is None:
        return np.nan
    size = sizes.size
    outer, bore, thick = size("diameter"), size("bore"), size("thickness")
    match sizes.kind:
        case "pad":
            found = block(size("length") * size("width"), thick)
        case "disc" | "bobbin":
            found = block(np.pi * outer**2 / 4, thick)
        case "ring":
            found = block(np.pi * (outer**2 - bore**2) / 4, thick)
        case "bush":
            found = wall(bore / 2, outer / 2, size("length"))
        case "o-ring":
            found = np.asarray(np.pi * outer / 2)
        case "panel grommet" | "threaded nut":
            flanges = 2 if sizes.kind == "panel grommet" else 1
            hole, rim, thick = size("hole"), size("flange"), size("flange_thickness")
            washer = float(np.fmin(size("washer"), rim))
            reach = washer + 2 * RIM * min(thick, (rim - washer) / 2)
            flange = block(np.pi * (reach**2 - hole**2) / 4, thick)
            around = wall(size("sleeve") / 2, hole / 2, size("panel"))
            found = around + flanges * (flange + EDGE * np.pi * hole)
        case _:
            return np.nan
    return float(found)


def rise(power: float, shape: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """By how much a power heats what floats on rubber of a shape factor, low and high end. [K]

    P/(λS) at both ends of `CONDUCTIVITY`, the rubber alone carrying it off.

    Parameters
    ----------
    power : float
        [W]
    shape : (...) array
        Of all mounts together. [m]

    Examples
    --------
    >>> low, high = rise(4.0, 0.16)
    >>> print(f"{low:.0f} to {high:.0f} K")
    100 to 167 K
    """
    least, most = CONDUCTIVITY
    whole = np.asarray(shape, dtype=float)
    return np.asarray(power / (most * whole)), np.asarray(power / (least * whole))

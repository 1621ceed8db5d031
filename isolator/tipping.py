"""A whole case that tips: slap-down from a tilt, toppling from its balance point, in closed form.

Case and payload turn as one rigid body about an edge; a floor that stops the edge gives it an
impulse there. How far the payload swings inside meanwhile is for `landing` to say.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from isolator.units import G0, FloatArray


def slap_down(
    arm: npt.ArrayLike,
    height: npt.ArrayLike,
    gyration: npt.ArrayLike,
    tilt: npt.ArrayLike = 0.0,
    *,
    pinned: bool = True,
) -> FloatArray:
    """Angular speed after an edge has landed, for a drop speed of 1 m/s.

    The floor stops the edge without rebound. A pinned edge stays where it landed: angular momentum
    about it holds, ω = x/(k² + x² + y²) with the centre of gravity x beside the edge and y above
    it. An edge that slides without friction stops downwards only: ω = x/(k² + x²). Times the drop
    speed and the distance of a point from the edge this is the speed with which that point lands,
    less what gravity adds on its way.

    Parameters
    ----------
    arm : (...) array
        From the edge to the centre of gravity along the face that lands. [m]
    height : (...) array
        Of the centre of gravity above that face. [m]
    gyration : (...) array
        Radius of gyration k about the axis through the centre of gravity along the edge. [m]
    tilt : (...) array
        By how much the face stands up when the edge lands. [rad]
    pinned : bool
        False for an edge that slides.

    Returns
    -------
    (...) array
        Negative where the centre of gravity is beyond the edge, and the case turns away. [rad/m]

    Notes
    -----
    Limits: a rigid case that does not turn as it falls, a point of contact, no rebound of the edge,
    no gravity while the floor stops it. Rigid-body impact (meriam-kraige).

    Examples
    --------
    A uniform box of 0.5 m × 0.2 m, flat: the far edge lands 1.293 times as fast as the box fell,
    1.442 times if the edge slides.

    >>> k = np.sqrt((0.5**2 + 0.2**2) / 12)
    >>> [round(0.5 * float(slap_down(0.25, 0.1, k, pinned=way)), 3) for way in (True, False)]
    [1.293, 1.442]
    """
    x, y = _aside(arm, height, tilt)
    k = np.asarray(gyration, dtype=float)
    return np.asarray(x / (k**2 + x**2 + (y**2 if pinned else 0.0)))


def topple_speed(
    arm: npt.ArrayLike,
    height: npt.ArrayLike,
    gyration: npt.ArrayLike,
    tilt: npt.ArrayLike = 0.0,
    *,
    gravity: float = G0,
) -> FloatArray:
    """Angular speed of a case that topples from its balance point about an edge.

    It starts at rest with its centre of gravity above the edge, r = √(x² + y²) high, and falls to
    where that is h above the floor: ω² = 2g(r − h)/(k² + r²). The edge does not slide, which a
    slippery floor does not grant.

    Parameters
    ----------
    arm : (...) array
        From the edge to the centre of gravity along the face that lands. [m]
    height : (...) array
        Of the centre of gravity above that face. [m]
    gyration : (...) array
        Radius of gyration k about the axis through the centre of gravity along the edge. [m]
    tilt : (...) array
        By how much the face still stands up: 0 when it lands. [rad]
    gravity : float
        [m/s²]

    Returns
    -------
    (...) array
        [rad/s]

    Notes
    -----
    Energy of a rigid body about a fixed axis (meriam-kraige), no loss at the edge.

    Examples
    --------
    A uniform box of 0.5 m × 0.2 m that stands on its 0.2 m side lands with 2.93 m/s at its far
    edge, like a drop of 0.438 m:

    >>> speed = 0.5 * topple_speed(0.25, 0.1, np.sqrt((0.5**2 + 0.2**2) / 12))
    >>> print(f"{speed:.3f} m/s, {speed**2 / 2 / G0:.3f} m")
    2.930 m/s, 0.438 m
    """
    x, y = _aside(arm, height, tilt)
    k, lever = np.asarray(gyration, dtype=float), np.hypot(x, y)
    return np.asarray(np.sqrt(2 * gravity * np.maximum(lever - y, 0.0) / (k**2 + lever**2)))


def _aside(
    arm: npt.ArrayLike, height: npt.ArrayLike, tilt: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Where the centre of gravity is beside the edge and above it at a tilt. [m]"""
    x, y = np.asarray(arm, dtype=float), np.asarray(height, dtype=float)
    sine, cosine = np.sin(tilt), np.cos(tilt)
    return np.asarray(x * cosine - y * sine), np.asarray(y * cosine + x * sine)

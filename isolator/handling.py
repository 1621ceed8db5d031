"""Carrying by hand: footsteps, a swing at the handle; a loose case that hops on its floor.

All of it is an estimate by common practice, with its limits stated where it stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.sdof import TAU, expected_peak_factor
from isolator.spectrum import mean_square
from isolator.units import (
    ANGLE,
    FREQUENCY,
    G0,
    FloatArray,
    Measure,
    OptionalMeasure,
    si,
    si_or_none,
)

STEPS = FREQUENCY.within(1.2, 2.5, example="2 Hz")
"""Step rates of walking: below it is strolling, above it is running, with both feet in the air."""

SWING = ANGLE.within(0.0, 1.0471975511966, open_low=True)

USUAL = 2.0
"""Step rate at which the `FOOTFALL` holds. [Hz]"""

FOOTFALL = {
    "vertical": {1.0: 0.40, 2.0: 0.10, 3.0: 0.10, 4.0: 0.05},
    "transverse": {0.5: 0.10, 1.5: 0.10},
    "longitudinal": {1.0: 0.20, 2.0: 0.10},
}
"""Peak acceleration of the trunk by road axis and multiple of the step rate, at `USUAL`. [g]

Common practice, on its high side: Fourier coefficients of the force on the ground over the weight
of who walks, which are the trunk's acceleration in g. The first of them is a rise and fall by
5 cm."""

UNSTEADY = 0.1
"""Nobody keeps a step rate better than by this share (common practice). [-]"""

NEAR = 0.2
"""A mode closer than this to a multiple of the step rate is said to be near it. [-]"""

MEET = 2.13
"""Speed at which a case and a sine floor meet after one hop from rest, over the largest speed of
the floor, at the worst level: 2, and what the case falls below where it left (computed). [-]"""


@dataclass(frozen=True, kw_only=True)
class Walk:
    """A case that is carried on foot, at a handle or on a strap.

    The case is taken to move as the trunk of who walks does. An arm or a strap softens the higher
    multiples and has a bounce of its own, near the step rate for an elastic strap: neither is
    known here. Stairs, running and jumps are not in it.

    Parameters
    ----------
    step_rate : text or quantity [frequency]
        Steps a second, 1.2 to 2.5. The accelerations grow with its square, displacements kept.
    swing : text or quantity [angle], optional
        How far it swings about its handle to either side, up to 60 deg; left out, that is not
        looked at.

    Raises
    ------
    InputError
        Wrong units or limits.

    Examples
    --------
    >>> frequency, level = Walk().tones([2.0])
    >>> print(frequency[:, 0], level[:, 0, 0].round(3))
    [1. 2. 3. 4. 6. 8.] [0.    3.923 0.    0.981 0.981 0.49 ]
    """

    step_rate: Measure = Measure(STEPS, default="2 Hz")
    swing: OptionalMeasure = OptionalMeasure(SWING)

    def multiples(self) -> FloatArray:
        """The multiples (t,) of the step rate at which the case moves, rising. [-]"""
        return np.array(sorted({m for axis in FOOTFALL.values() for m in axis}))

    def tones(self, rate: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Frequency and peak acceleration of each multiple, at step rates (...).

        Parameters
        ----------
        rate : (...) array
            [Hz]

        Returns
        -------
        frequency : (t, ...) array
            [Hz]
        level : (t, ..., 3) array
            Along the vertical, across the way and along it. [m/s²]
        """
        steps = np.asarray(rate, dtype=float)
        multiples = self.multiples()
        level = np.array([[axis.get(m, 0.0) for axis in FOOTFALL.values()] for m in multiples])
        faster = (steps / USUAL)[..., None] ** 2
        return (
            np.multiply.outer(multiples, steps),
            G0 * level.reshape(len(level), *[1] * steps.ndim, 3) * faster,
        )

    def rates(self, natural: npt.ArrayLike) -> FloatArray:
        """Step rates (..., r) that find the largest response: within `UNSTEADY` of the stated.

        Even steps, and those of which a multiple meets a natural frequency (..., k) [Hz].
        """
        mean = si(self, "step_rate")
        low, high = mean * (1 - UNSTEADY), mean * (1 + UNSTEADY)
        modes = np.asarray(natural, dtype=float)
        meets = np.clip(modes[..., None] / self.multiples(), low, high)
        meets = meets.reshape(*modes.shape[:-1], -1)
        even = np.broadcast_to(np.linspace(low, high, 21), (*modes.shape[:-1], 21))
        return np.concatenate([even, meets], axis=-1)

    def near(self, natural: npt.ArrayLike, way: str = "") -> tuple[FloatArray, FloatArray]:
        """How close each natural frequency (...) [Hz] is to a multiple of the step rate.

        Parameters
        ----------
        natural : (...) array
            [Hz]
        way : str
            Road axis along which the case has to move at that multiple; any if left out.

        Returns
        -------
        multiple : (...) array
            The nearest of those at which the case moves. [-]
        off : (...) array
            Natural frequency over that tone, less 1. [-]
        """
        f = np.asarray(natural, dtype=float)
        multiples = np.array(sorted(FOOTFALL[way])) if way else self.multiples()
        ratio = f[..., None] / (multiples * si(self, "step_rate")) - 1.0
        nearest = np.abs(ratio).argmin(axis=-1)
        off = np.take_along_axis(ratio, nearest[..., None], axis=-1)[..., 0]
        return multiples[nearest], off

    def swung(self, down: npt.ArrayLike, across: npt.ArrayLike) -> FloatArray:
        """Specific forces on the payload at rest and while the case swings.

        Quasi-static: at the end of the swing by φ gravity leans by φ, g·sin φ across the case; at
        its lowest a pendulum of any length feels g(3 − 2cos φ) along it. Both are taken at once,
        which neither end reaches: a hand that drives the swing is between them.

        Parameters
        ----------
        down : (3,) array
            Direction that points down. [-]
        across : (n, 3) array
            Directions in which it may swing, to either side. [-]

        Returns
        -------
        (1 + 2n, 3) array
            At rest first; that alone without a swing. [m/s²]

        Examples
        --------
        >>> Walk(swing="60 deg").swung([0, 0, -1], [[1, 0, 0]])[1:].round(2).tolist()
        [[8.49, 0.0, -19.61], [-8.49, 0.0, -19.61]]
        """
        below, ways = np.asarray(down, dtype=float), np.asarray(across, dtype=float)
        angle = si_or_none(self, "swing")
        if angle is None:
            return G0 * below[None]
        aside = np.sin(angle) * np.stack([ways, -ways], axis=1).reshape(-1, 3)
        lowest = (3.0 - 2.0 * np.cos(angle)) * below
        return G0 * np.concatenate([below[None], lowest + aside])


def floor_speed(lines: FloatArray, density: FloatArray, seconds: float) -> float:
    """Largest speed upwards that a floor reaches in so long, expected of a Gaussian road.

    The density over ω² is made of straight lines too, so that its integral is exact. What is
    slower than the first line is not in it.

    Parameters
    ----------
    lines, density : (n,) arrays
        Straight lines in log-log. [Hz, (m/s²)²/Hz]
    seconds : float
        [s]

    Returns
    -------
    float
        [m/s]

    Examples
    --------
    Nearly a tone of 1 g rms at 10 Hz has 0.156 m/s rms, and 4.10 times that in 1000 cycles at the
    least:

    >>> lines = np.array([9.9999, 10.0001])
    >>> print(f"{floor_speed(lines, np.full(2, G0**2 / 2e-4), 100.0):.3f}")
    0.604
    """
    slow = density / (TAU * lines) ** 2
    square = float(mean_square(lines, slow))
    crossings = np.sqrt(float(mean_square(lines, slow * lines**2)) / square)
    return float(np.sqrt(square) * expected_peak_factor(max(crossings * seconds, 10.0)))


def hop_height(speed: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """How high a loose case hops off a floor, and the drop that its landing is like.

    It leaves with the floor's speed v at the most and flies v²/2g high. It lands with about v
    again, on a floor that may come up with v: as hard as after a fall of (`MEET`·v)²/2g.

    Parameters
    ----------
    speed : (...) array
        Largest speed of the floor, v. [m/s]

    Returns
    -------
    height, equivalent : (...) arrays
        [m]

    Notes
    -----
    Common practice, one hop from rest: a case that leaps again before it comes to rest may gain,
    from hop to hop, up to (1 + e)/(1 − e) times v with a rebound e. Lower is common: the floor is
    not at its fastest where it begins to fall faster than 1 g.

    Examples
    --------
    >>> height, equivalent = hop_height(0.5)
    >>> print(f"{height * 1e3:.1f} mm, like a drop of {equivalent * 1e3:.1f} mm")
    12.7 mm, like a drop of 57.8 mm
    """
    height = np.asarray(speed, dtype=float) ** 2 / (2.0 * G0)
    return height, MEET**2 * height

"""What the payload feels of a drop: the flat landing by energy, with the true curves.

The case falls from a height without turning, lands flat and does not give; the payload goes on
along the fall line until the mounts have taken its energy. No damping, no rotation of the
payload: for linear mounts the first makes the peak an upper estimate at light damping, the
second makes the peak at the centre an upper bound (see `rocking` for what rotation adds to the
travel of the corners).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.suspension import Suspension, congruent, motion_at
from isolator.units import G0, FloatArray

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)


@dataclass(frozen=True)
class Line:
    """All mounts of a suspension as one spring along a fall line.

    Attributes
    ----------
    suspension : Suspension of designs (...)
    slope : (..., n, 3) array
        Local deflection of each mount for unit travel of the payload. [-]
    """

    suspension: Suspension
    slope: FloatArray

    @classmethod
    def along(cls, suspension: Suspension, direction: npt.ArrayLike) -> Line:
        """The fall line of a direction (..., 3): where the payload goes in the case. [-]"""
        e = np.asarray(direction, dtype=float)[..., None, None, :]
        return cls(suspension, (suspension.frames @ np.swapaxes(e, -1, -2))[..., 0])

    def energy(self, travel: FloatArray) -> FloatArray:
        """Energy (...) in the mounts at a travel (...) [m]. [J]"""
        at = self.slope * travel[..., None, None]
        return np.asarray(self.suspension.energy_in(at).sum(axis=-1))

    def force(self, travel: FloatArray) -> FloatArray:
        """Force (...) of the mounts against the travel (...) [m]. [N]"""
        at = self.slope * travel[..., None, None]
        return np.asarray((self.slope * self.suspension.force_at(at)).sum(axis=(-1, -2)))

    def mount_force(self, travel: FloatArray) -> FloatArray:
        """Magnitude of each mount's force, (..., n). [N]"""
        at = self.slope * travel[..., None, None]
        return np.asarray(np.linalg.norm(self.suspension.force_at(at), axis=-1))

    def reach(self, limit: npt.ArrayLike) -> FloatArray:
        """Travel (...) at which the first mount is at its limit (..., n, 3, 2), nan if unknown.

        Across its axis a mount is round: what counts there is the length of its deflection.
        """
        sense = np.where(self.slope > 0, 0, 1)[..., None]
        limit = np.broadcast_to(limit, (*self.slope.shape, 2))
        room = np.take_along_axis(limit, sense, axis=-1)[..., 0]
        used = np.abs(self.slope)
        share = np.where(used > 1e-9, used / room, 0.0)
        across = np.hypot(share[..., 1], share[..., 2])
        with np.errstate(divide="ignore"):
            return np.asarray(1 / np.maximum(share[..., 0], across).max(axis=-1))

    def catch(self, energy: FloatArray, weight: FloatArray) -> FloatArray:
        """Travel (...) at which the mounts have taken the energy. [m]

        Solves U(d) = energy + weight·d. U is convex because no curve falls, so Newton's method
        from a point beyond the root comes down to it without overshoot. inf where the mounts
        never take it (they lift off).

        Parameters
        ----------
        energy : (...) array
            Kinetic energy relative to the case at the unloaded pose. [J]
        weight : (...) array
            Force that goes on pushing: weight downward, minus it upward, 0 in flight. [N]
        """
        start = np.full(np.broadcast_shapes(np.shape(energy), self.slope.shape[:-2]), 1e-3)
        for _ in range(60):
            short = self.energy(start) < energy + weight * start
            if not short.any():
                break
            start = np.where(short, 2 * start, start)
        lost = start > 1e3
        d = np.where(lost, 1.0, start)
        for _ in range(60):
            miss = self.energy(d) - energy - weight * d
            pull = self.force(d) - weight
            step = np.where(lost | (miss <= 0), 0.0, miss / np.where(pull > 0, pull, np.inf))
            d = d - step
            if (np.abs(step) <= 1e-13 * d).all():
                break
        return np.where(lost, np.inf, d)


@dataclass(frozen=True)
class Drop:
    """A flat landing from a height, by energy.

    Attributes
    ----------
    travel : (...) array
        Travel of the payload from its unloaded pose, with the static curves carried on
        straight beyond their end. [m]
    rebound : (...) array
        Travel to the other side when it springs back undamped, no further than the mounts go;
        inf where it flies off. [m]
    bottom : (...) array
        Travel at which the first mount reaches its limit, nan if unknown. [m]
    bottoms : (...) array
        1 where it bottoms, 0 where not, nan if unknown.
    contact_speed : (...) array
        Speed with which it bottoms; 0 where not, nan if unknown. [m/s]
    bottoming_height : (...) array
        Height from which it just bottoms, nan if unknown. [m]
    peak : (...) array
        Specific force from the dynamic curves, no further than the travel limit. [g]
    duration : (...) array
        Time above a tenth of the peak. [s]
    velocity_change : (...) array
        Integral of specific force less gravity over that time. [m/s]
    mount_force : (..., n) array
        Largest force of each mount, from the dynamic curves. [N]
    """

    travel: FloatArray
    rebound: FloatArray
    bottom: FloatArray
    bottoms: FloatArray
    contact_speed: FloatArray
    bottoming_height: FloatArray
    peak: FloatArray
    duration: FloatArray
    velocity_change: FloatArray
    mount_force: FloatArray


def flat_drop(
    suspension: Suspension,
    direction: npt.ArrayLike,
    height: npt.ArrayLike,
    limit: npt.ArrayLike,
    *,
    restitution: float = 0.0,
) -> Drop:
    """Flat landing of a heavy shell, by energy along the fall line.

    With `restitution` 0 the shell stays on the floor and gravity is kept: U(d) = m g (h + d).
    With e > 0 it rebounds and the relative motion sees no gravity in this first flight:
    U(d) = m g h (1 + e)². Travel, bottoming and rebound use the static curves; peak, duration,
    velocity change and mount forces the dynamic ones.

    Parameters
    ----------
    suspension : Suspension of designs (...)
    direction : (..., 3) array
        Unit vector along which the payload moves in the case: what points down. [-]
    height : (...) array
        Drop height, case's lowest point above the floor. [m]
    limit : (..., n, 3, 2) array
        How far each mount may deflect along its local axes, in the positive and the negative
        sense; nan if unknown. [m]
    restitution : float
        Of the shell on the floor, 0 to 1. [-]

    Examples
    --------
    8 kg on a linear 10 Hz suspension from 0.762 m: 25.79 g.

    >>> k = 8 * (2 * np.pi * 10) ** 2 / 4
    >>> corners = [(x, y, 0.) for x in (-.1, .1) for y in (-.1, .1)]
    >>> tray = Suspension.of_springs(8., np.eye(3), corners, k, k)
    >>> drop = flat_drop(tray, (0, 0, -1), .762, np.full((4, 3, 2), np.nan))
    >>> print(f"{drop.peak:.2f}")
    25.79
    """
    static, stiff = Line.along(suspension, direction), Line.along(suspension.dynamic(), direction)
    mass = np.asarray(suspension.mass)
    fall = mass * G0 * np.asarray(height, dtype=float) * (1 + restitution) ** 2
    weight = mass * G0 if restitution == 0 else 0 * mass

    bottom = static.reach(limit)
    back = Line.along(suspension, -np.asarray(direction, dtype=float))

    travel = static.catch(fall, weight)
    metal = np.where(np.isfinite(bottom), bottom, np.nan)
    left = fall + weight * metal - static.energy(metal)
    bottoms = np.where(np.isnan(bottom), np.nan, travel > bottom)
    speed = np.where(bottoms == 1, np.sqrt(2 * np.maximum(left, 0) / mass), bottoms)
    lift = static.energy(metal) - weight * metal
    least = np.maximum(lift, 0) / (mass * G0 * (1 + restitution) ** 2)

    full = stiff.catch(fall, weight)
    caught = np.isfinite(travel) & np.isfinite(full)
    d = np.where(caught, np.where(full > bottom, bottom, full), np.nan)
    force = stiff.force(d)
    duration, change = _pulse(stiff, d, force / 10, fall, weight, mass)
    return Drop(
        travel=travel,
        rebound=np.fmin(back.catch(fall, -weight), back.reach(limit)),
        bottom=bottom,
        bottoms=bottoms,
        contact_speed=speed,
        bottoming_height=least,
        peak=force / (mass * G0),
        duration=duration,
        velocity_change=change,
        mount_force=stiff.mount_force(d),
    )


def _pulse(
    line: Line,
    end: FloatArray,
    threshold: FloatArray,
    fall: FloatArray,
    weight: FloatArray,
    mass: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Time above a force threshold and the velocity change over it, both ways. [s, m/s]

    dt = dx/v(x) with v from the energy; x = start + (end − start) sin φ takes the square root
    out of the turning point.
    """
    low, high = np.zeros_like(end), end
    for _ in range(40):
        middle = (low + high) / 2
        under = line.force(middle) < threshold
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    start = (low + high) / 2
    turn = (np.pi / 4 * (1 + _NODES)).reshape(-1, *[1] * end.ndim)
    x = start + (end - start) * np.sin(turn)
    kinetic = line.energy(end) - line.energy(x) - weight * (end - x)
    speed = np.sqrt(2 * np.maximum(kinetic, 1e-300) / mass)
    steps = (end - start) * np.cos(turn) / speed
    duration = np.pi / 2 * np.tensordot(_WEIGHTS, steps, axes=1)
    entry = np.sqrt(2 * np.maximum(fall + weight * start - line.energy(start), 0) / mass)
    return duration, 2 * entry


def rocking(suspension: Suspension, direction: npt.ArrayLike, points: npt.ArrayLike) -> FloatArray:
    """How far points may travel in a landing, over the travel of the centre without rotation.

    The linear modes of the unloaded pose share the landing speed; the sum of the absolute modal
    amplitudes is the most that a point can reach while no mode is damped and gravity is left out
    of the stroke. 1 along the fall line and 0 across where the mounts' stiffness lies on it.
    Gravity adds what a slow mode sags beyond the centre: up to 7 % at 0.02 m and 5 % at 0.1 m
    without damping, where the centre of gravity is a fifth of the box off the middle.

    Parameters
    ----------
    suspension : Suspension of designs (...)
    direction : (..., 3) array
        Fall line. [-]
    points : (..., p, 3) array
        From the centre of gravity. [m]

    Returns
    -------
    (..., p, 3) array
        By case axis. [-]
    """
    e = np.asarray(direction, dtype=float)
    mass = suspension.mass_matrix()
    stiffness = suspension.mount_stiffness()
    lower = np.linalg.cholesky(mass)
    value, vector = np.linalg.eigh(congruent(lower, stiffness))
    rate = np.sqrt(np.maximum(value, 1e-9 * value[..., -1:]))
    shape = np.linalg.solve(np.swapaxes(lower, -1, -2), vector)
    push = np.concatenate([e, np.zeros_like(e)], axis=-1)[..., None]
    part = (np.swapaxes(shape, -1, -2) @ (mass @ push))[..., 0]
    at = motion_at(points) @ shape[..., None, :, :]
    reach = np.abs(at) @ np.abs(part / rate)[..., None, :, None]
    stiff = np.swapaxes(push, -1, -2) @ stiffness @ push
    flat = np.sqrt(np.asarray(suspension.mass) / stiff[..., 0, 0])
    return np.asarray(reach[..., 0] / flat[..., None, None])

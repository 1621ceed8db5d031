"""What the payload feels of a pulse of its case: six modes, each solved exactly in time.

The case moves as a rigid body along one of its axes; z = q − q_base obeys
M z̈ + C ż + K z = −M T a. The damping is causal: viscous in each undamped mode φ with ζ = η/2,
which loses at resonance what structural damping η = φᵀK″φ/φᵀK′φ loses.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import numpy.typing as npt

from isolator.pulse import A_CYCLE, Pulse, Step, extremes
from isolator.suspension import Pose, Suspension, congruent, motion_at
from isolator.units import FloatArray

LINES = 256
"""Straight lines for a curved pulse: 1e-5 of its velocity change are missing."""

RINGS, INSTANTS = 6, 1600
"""How many cycles of the lowest mode are followed after the pulse, and at how many instants."""

ABOVE = 0.1
"""A pulse lasts as long as it is above this part of its peak."""


@dataclass(frozen=True)
class TimeModes:
    """The six undamped modes of a suspension with a viscous damper each.

    Attributes
    ----------
    omega, zeta : (..., 6) arrays
        [rad/s, -]
    shape : (..., 6, 6) array
        Columns: the motion of each mode, φᵀMφ = 1.
    share : (..., 6, 6) array
        Rows: how much of a uniform acceleration of each motion enters each mode.
    """

    omega: FloatArray
    zeta: FloatArray
    shape: FloatArray
    share: FloatArray

    @classmethod
    def of(cls, held: Suspension, pose: Pose | None = None) -> TimeModes:
        """Modes from the dynamic tangent at a pose; a motion without stiffness has ω and ζ of 0."""
        mass = held.mass_matrix(pose)
        lower = np.linalg.cholesky(mass)
        springs = held.damped_stiffness(pose)
        stored = springs.real + held.stiffness(pose) - held.mount_stiffness(pose)
        value, vector = np.linalg.eigh(congruent(lower, stored))
        shape = np.linalg.solve(np.swapaxes(lower, -1, -2), vector)
        lost = np.einsum("...ik,...ij,...jk->...k", shape, springs.imag, shape, optimize=True)
        held_by = value > 1e-12 * np.abs(value).max(axis=-1, keepdims=True)
        zeta = np.where(held_by, lost / np.where(held_by, value, 1.0), 0.0) / 2
        omega = np.sqrt(np.where(held_by, value, 0.0))
        return cls(omega, zeta, shape, np.swapaxes(shape, -1, -2) @ mass)

    def as_springs(self) -> TimeModes:
        """The same with each shape over ω²: what then is its acceleration is a deflection.

        That at which the springs alone call up what springs and dampers do together. [m]
        """
        square = np.where(self.omega > 0, self.omega, np.inf) ** 2
        return replace(self, shape=self.shape / square[..., None, :])


@dataclass(frozen=True)
class PulseResponse:
    """Response to a pulse along one axis of the case, towards its positive end.

    The other way round the response is the same with its sign turned.

    Attributes
    ----------
    acceleration : (..., p, 3) array
        Largest absolute acceleration (specific force less gravity) either way by payload axis.
        [m/s²]
    duration, velocity_change : (..., p, 3) arrays
        How long it is above `ABOVE` of that around its peak, and its integral over that time.
        [s, m/s]
    low, high : (..., p, 3) arrays
        Range of the travel relative to the case. [m]
    """

    acceleration: FloatArray
    duration: FloatArray
    velocity_change: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def travel(self) -> FloatArray:
        """Largest travel (..., p, 3) either way, whichever way the pulse is. [m]"""
        return np.maximum(-self.low, self.high)


def base_pulse(
    modes: TimeModes,
    points: npt.ArrayLike,
    axis: int,
    pulse: Pulse,
    *,
    frames: npt.ArrayLike | None = None,
) -> PulseResponse:
    """Response at points to a pulse of the case along one axis.

    Exact on the straight lines of `Pulse.pieces`, mode by mode; peaks between instants are found
    to 1e-5. After the pulse six cycles of the lowest mode are followed, fewer where the highest
    one is far above it, and what the modes could add up to after that counts as a peak too: an
    upper bound where they are hardly damped.

    Linear: the mounts keep the tangent of the pose, and reach no end. Not seen: what moves the
    case otherwise, and gravity beyond the pose.

    Parameters
    ----------
    modes : TimeModes of designs (...)
    points : (..., p, 3) array
        From the centre of gravity. [m]
    axis : int
        Case axis that moves: 0, 1, 2 for x, y, z.
    pulse : Pulse
    frames : (..., p, 3, 3) array, optional
        Local axes at each point, rows; the case axes if left out. [-]

    Examples
    --------
    Undamped, a long rectangle of 3 g reaches 6 g: mounts make a long pulse worse than bolting.

    >>> feet = [(x, y, 0) for x in (-.1, .1) for y in (-.1, .1)]
    >>> held = Suspension.of_springs(8, np.eye(3) * .1, feet, 4e3, 4e3, loss_factor=0)
    >>> long = Pulse(shape="rectangle", peak="3 g0", duration="300 ms")
    >>> out = base_pulse(TimeModes.of(held), [[0, 0, 0]], 2, long)
    >>> print(f"{out.acceleration[0, 2] / 9.80665:.3f}")
    6.000
    """
    rows = motion_at(points)
    if frames is not None:
        rows = np.asarray(frames, dtype=float) @ rows
    part = rows @ (modes.shape * modes.share[..., None, :, axis])[..., None, :, :]
    stretches = list(_stretches(modes, pulse))
    after = _after(modes, stretches[-1])
    of_points = [
        _at_point(np.broadcast_to(part, (*after[0].shape[:-1], *part.shape[-3:]))[..., p, :, :],
                  stretches, after)
        for p in range(part.shape[-3])
    ]  # fmt: skip
    return PulseResponse(
        *(np.stack([getattr(one, f.name) for one in of_points], -2) for f in fields(PulseResponse))
    )


@dataclass(frozen=True)
class _Stretch:
    """What masses on the springs of the modes do along a stretch of the pulse, or after it.

    Attributes
    ----------
    step : (..., 1) array
        [s]
    travel, travel_rate, felt, felt_rate : (n, ..., 6) arrays
        Relative to the base; absolute acceleration. [m, m/s, m/s², m/s³]
    """

    step: FloatArray
    travel: FloatArray
    travel_rate: FloatArray
    felt: FloatArray
    felt_rate: FloatArray


def _stretches(modes: TimeModes, pulse: Pulse) -> Iterator[_Stretch]:
    """The pieces of a pulse, and what rings after it."""
    omega, zeta = modes.omega, modes.zeta
    top = np.maximum(omega.max(axis=-1, keepdims=True), 1e-9)
    z = speed = np.zeros_like(omega)

    def along(step: FloatArray, base: FloatArray) -> _Stretch:
        travel, rate = Step.of(step, omega, zeta).march(base, z, speed)
        felt = -(omega**2) * travel - 2 * zeta * omega * rate
        own = base.reshape(-1, *[1] * omega.ndim)
        jerk = -(omega**2) * rate - 2 * zeta * omega * (felt - own)
        return _Stretch(step, travel, rate, felt, jerk)

    for piece in pulse.pieces(LINES):
        fine = piece.finer(2 * np.pi / (A_CYCLE * float(top.max())))
        stretch = along(np.full_like(top, fine.step), fine.values)
        z, speed = stretch.travel[-1], stretch.travel_rate[-1]
        yield stretch
    lowest = np.where(omega > 0, omega, top).min(axis=-1, keepdims=True)
    count = int(min(np.ceil(RINGS * A_CYCLE * (top / lowest).max()), INSTANTS))
    yield along(2 * np.pi / A_CYCLE / top, np.zeros(count + 1))


def _after(modes: TimeModes, last: _Stretch) -> tuple[FloatArray, FloatArray]:
    """Amplitudes (..., 6) of travel and acceleration with which the modes fade from the end on."""
    fading = modes.zeta * modes.omega
    damped = modes.omega * np.sqrt(np.maximum(1 - modes.zeta**2, 1e-6))
    damped = np.where(damped > 0, damped, np.inf)
    return tuple(
        np.hypot(value[-1], (rate[-1] + fading * value[-1]) / damped)
        for value, rate in ((last.travel, last.travel_rate), (last.felt, last.felt_rate))
    )


def _at_point(
    part: FloatArray, stretches: Sequence[_Stretch], after: tuple[FloatArray, FloatArray]
) -> PulseResponse:
    """Response (..., 3) at a point; `part` (..., 3, 6) is that of each mode in it."""

    def summed(of_modes: FloatArray) -> FloatArray:
        return np.asarray((part @ of_modes[..., None])[..., 0])

    moves, feels, felt, times = [], [], [], []
    start = np.zeros_like(stretches[0].step)
    for stretch in stretches:
        values = summed(stretch.felt)
        feels.append(extremes(values, summed(stretch.felt_rate), stretch.step))
        moves.append(extremes(summed(stretch.travel), summed(stretch.travel_rate), stretch.step))
        felt.append(values)
        times.append(start + stretch.step * _count(values))
        start = times[-1][-1]
    travel, acceleration = (
        np.stack([np.min(each, axis=0)[0], np.max(each, axis=0)[1]]) for each in (moves, feels)
    )
    later = [(np.abs(part) @ amplitude[..., None])[..., 0] for amplitude in after]
    peak = np.maximum(np.abs(acceleration).max(axis=0), later[1])
    long, change = _main(np.concatenate(felt), np.concatenate(times), peak)
    return PulseResponse(
        acceleration=peak,
        duration=long,
        velocity_change=change,
        low=np.minimum(travel[0], -later[0]),
        high=np.maximum(travel[1], later[0]),
    )


def _count(values: FloatArray) -> FloatArray:
    """Numbers of the instants of values (n, ...), in their shape."""
    return np.arange(len(values), dtype=float).reshape(-1, *[1] * (values.ndim - 1))


def _main(values: FloatArray, times: FloatArray, peak: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How long (...) values (n, ...) stay above `ABOVE` of a peak around it, and their integral.

    Where the peak is only a bound, the integral grows with it.
    """
    number = _count(values)
    top = np.abs(values).argmax(axis=0)[None]
    most = np.take_along_axis(values, top, axis=0)
    own = values * np.sign(most)
    size = np.abs(most)
    under = own <= ABOVE * size
    before = np.where(under & (number < top), number, -1.0).max(axis=0).astype(int)[None]
    behind = np.where(under & (number > top), number, np.inf).min(axis=0)[None]
    behind = np.minimum(behind, len(values)).astype(int)
    times = np.broadcast_to(times, values.shape)
    steps = np.diff(times, axis=0) * (own[1:] + own[:-1]) / 2
    area = np.concatenate([np.zeros_like(most), np.cumsum(steps, axis=0)])

    def at(which: npt.NDArray[np.intp], inner: npt.NDArray[np.intp]) -> list[FloatArray]:
        """Time of crossing, and the area between it and the first instant that is above."""
        here = np.clip(which, 0, len(values) - 1)
        t, v = (np.take_along_axis(a, inner, axis=0) for a in (times, own))
        off, out = (np.take_along_axis(a, here, axis=0) for a in (times, own))
        share = np.where(v > out, (v - ABOVE * size) / np.where(v > out, v - out, 1.0), 0.0)
        return [t + share * (off - t), np.abs(share * (off - t)) * (v + ABOVE * size) / 2]

    first, last = before + 1, behind - 1
    begins, early = at(before, first)
    ends, late = at(behind, last)
    whole = np.take_along_axis(area, last, axis=0) - np.take_along_axis(area, first, axis=0)
    grown = peak / np.where(size > 0, size, 1.0)
    return (ends - begins)[0], ((whole + early + late) * grown)[0]

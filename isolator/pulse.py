"""A shock as a pulse in time: its shape, its velocity change, its shock spectrum.

Between two instants a pulse is taken as a straight line, for which one mass on one spring has an
exact answer: the ramp-invariant recursion. A pulse may jump only where two `Piece` meet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from isolator.units import (
    ACCELERATION,
    DURATION,
    FREQUENCY,
    FloatArray,
    Given,
    InputError,
    Kind,
    Measure,
    OptionalMeasure,
    si,
    si_array,
    si_or_none,
)

SHAPES = (
    "half-sine",
    "terminal-peak sawtooth",
    "haversine",
    "trapezoid",
    "rectangle",
    "record",
)

SIGNED = Kind("acceleration", "m/s**2", "g0", example="-30 g0")
INSTANT = Kind("time", "s", "s", example="0.5 ms")
RAMP = DURATION.within(0.0)

JITTER = 0.01
"""By how much of their step the times of a record may be off."""

FEWEST = 3
"""A record with fewer samples has no shape."""

CURVED = 2048
"""Straight lines for a curved pulse: 2e-7 of its velocity change are missing."""

A_CYCLE = 24
"""Steps for a cycle of the mass: a cubic between two of them is 1e-5 of a peak off."""

RATE = 10.0
"""Samples for a cycle of the mass that a record needs.

Straight lines between so many samples have sinc²(1/10), 3.3 % less, of a sine of that frequency.
"""

Which: TypeAlias = Literal["maximax", "positive", "negative", "primary", "residual"]
WHICH: tuple[Which, ...] = ("maximax", "positive", "negative", "primary", "residual")
Responds: TypeAlias = Literal["absolute acceleration", "relative displacement", "pseudo-velocity"]
RESPONSES: tuple[Responds, ...] = (
    "absolute acceleration",
    "relative displacement",
    "pseudo-velocity",
)

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)
_BLOCK = 1024


@dataclass(frozen=True)
class Piece:
    """A part of a pulse without a jump, straight between even instants.

    Attributes
    ----------
    step : float
        [s]
    values : (n + 1, ...) array
        At the instants. [m/s²]
    """

    step: float
    values: FloatArray

    def finer(self, step: float) -> Piece:
        """The same lines in steps no longer than `step`. [s]"""
        times = max(1, int(np.ceil(self.step / step - 1e-9)))
        share = np.arange(times).reshape(-1, *[1] * (self.values.ndim - 1)) / times
        low, high = self.values[:-1, None], self.values[1:, None]
        inner = (low + (high - low) * share).reshape(-1, *self.values.shape[1:])
        return Piece(self.step / times, np.concatenate([inner, self.values[-1:]]))


@dataclass(frozen=True, kw_only=True)
class Pulse:
    """A shock: the case is accelerated so, along each of some road axes in turn, both ways.

    Parameters
    ----------
    shape : one of `SHAPES`
    peak : text or quantity [acceleration]
        Of a record its largest value, either way.
    duration : text or quantity [time]
        From its start to its end.
    rise, fall : text or quantity [time], optional
        Of a trapezoid: from nothing to the peak, and back.
    record : texts or a quantity (n,) [acceleration], optional
        Samples at even times from the start to the end; see `of_record`.
    ways : sequence of road axes

    Raises
    ------
    InputError
        Wrong units, an unknown shape, a trapezoid without rise and fall or longer than it lasts.

    Examples
    --------
    A half-sine has the velocity change of a sawtooth of 4/π times its peak:

    >>> saw = Pulse(shape="terminal-peak sawtooth", peak="40 g0", duration="11 ms")
    >>> half = Pulse(shape="half-sine", peak="31.4159 g0", duration="11 ms")
    >>> print(f"{saw.velocity_change():.3f} {half.velocity_change():.3f}")
    2.157 2.157
    """

    shape: str
    peak: Measure = Measure(ACCELERATION)
    duration: Measure = Measure(DURATION)
    rise: OptionalMeasure = OptionalMeasure(RAMP)
    fall: OptionalMeasure = OptionalMeasure(RAMP)
    record: OptionalMeasure = OptionalMeasure(SIGNED, shape=None)
    ways: Sequence[str] = ("vertical", "transverse", "longitudinal")

    def __post_init__(self) -> None:
        if self.shape not in SHAPES:
            raise InputError(
                f"Pulse.shape = {self.shape!r}: no such shape; write one of {', '.join(SHAPES)}"
            )
        if (self.record is not None) != (self.shape == "record"):
            raise InputError(
                f"Pulse.record belongs to the shape 'record' and to no other, not to "
                f"{self.shape!r}; make it by Pulse.of_record"
            )
        ramps = [si_or_none(self, name) for name in ("rise", "fall")]
        for name, ramp in zip(("rise", "fall"), ramps, strict=True):
            if (ramp is not None) != (self.shape == "trapezoid"):
                raise InputError(
                    f"Pulse.{name} is {'missing: a' if ramp is None else 'for a'} trapezoid"
                    f"{' has one' if ramp is None else f', not for a {self.shape}'}; "
                    f"{'give it' if ramp is None else 'leave it out'}"
                )
        if sum(ramp or 0.0 for ramp in ramps) > si(self, "duration") * (1 + 1e-12):
            raise InputError(
                f"Pulse.rise + Pulse.fall = {1e3 * sum(ramp or 0.0 for ramp in ramps):.4g} ms: "
                f"longer than the duration of {1e3 * si(self, 'duration'):.4g} ms; give less"
            )

    @classmethod
    def of_record(
        cls,
        samples: Given,
        *,
        rate: Given | None = None,
        times: Given | None = None,
        ways: Sequence[str] = ("vertical", "transverse", "longitudinal"),
    ) -> Pulse:
        """A pulse as it was recorded, straight between its samples.

        Parameters
        ----------
        samples : texts or a quantity (n,) [acceleration]
            Without gravity; no acceleration before the first and after the last.
        rate : text or quantity [frequency], optional
            Samples a second.
        times : texts or a quantity (n,) [time], optional
            In the place of a rate: of each sample, even within `JITTER` of their step.
        ways : sequence of road axes

        Raises
        ------
        InputError
            A sample that is no number, too few of them, times with a gap, nothing but zeros,
            both or neither of rate and times.

        Examples
        --------
        >>> jolt = Pulse.of_record(["0 g0", "10 g0", "0 g0"], rate="100 Hz")
        >>> print(f"{jolt.velocity_change():.3f}")
        0.981
        """
        a = np.atleast_1d(SIGNED.read_array(samples, "samples"))
        if a.ndim != 1 or a.size < FEWEST:
            raise InputError(
                f"samples: {a.size} given, too short a record; give one list of {FEWEST} or more"
            )
        if not a.any():
            raise InputError("samples: nothing but zeros; give the part in which the shock is")
        if (rate is None) == (times is None):
            raise InputError("rate and times: give one of them, with the samples")
        if times is None:
            assert rate is not None
            step = 1 / FREQUENCY.read(rate, "rate")
        else:
            step = _even(np.atleast_1d(INSTANT.read_array(times, "times")), a.size)
        return cls(
            shape="record",
            peak=ACCELERATION.quantity(float(np.abs(a).max())),
            duration=DURATION.quantity(step * (a.size - 1)),
            record=SIGNED.quantity(a),
            ways=ways,
        )

    def acceleration(self, time: npt.ArrayLike) -> FloatArray:
        """Acceleration (...) at times (...) [s] from its start, nothing outside of it. [m/s²]

        Examples
        --------
        >>> half = Pulse(shape="half-sine", peak="10 m/s**2", duration="10 ms")
        >>> half.acceleration([0.0025, 0.005, 0.02]).round(3).tolist()
        [7.071, 10.0, 0.0]
        """
        t = np.asarray(time, dtype=float)
        peak, whole = si(self, "peak"), si(self, "duration")
        part = t / whole
        match self.shape:
            case "half-sine":
                inside = peak * np.sin(np.pi * part)
            case "terminal-peak sawtooth":
                inside = peak * part
            case "haversine":
                inside = peak * np.sin(np.pi * part) ** 2
            case "rectangle":
                inside = np.full_like(t, peak)
            case "trapezoid":
                rise, fall = si(self, "rise"), si(self, "fall")
                up = t / rise if rise > 0 else np.ones_like(t)
                down = (whole - t) / fall if fall > 0 else np.ones_like(t)
                inside = peak * np.minimum(1.0, np.minimum(up, down))
            case _:
                own = si_array(self, "record")
                inside = np.interp(part, np.linspace(0.0, 1.0, own.size), own)
        return np.where((part >= 0) & (part <= 1), inside, 0.0)

    def velocity_change(self) -> float:
        """Integral of the acceleration over the pulse, in its closed form. [m/s]

        2AD/π for a half-sine, AD/2 for a sawtooth and a haversine, AD for a rectangle,
        A(D − rise/2 − fall/2) for a trapezoid.
        """
        area = si(self, "peak") * si(self, "duration")
        match self.shape:
            case "half-sine":
                return 2 * area / np.pi
            case "terminal-peak sawtooth" | "haversine":
                return area / 2
            case "rectangle":
                return area
            case "trapezoid":
                return area - si(self, "peak") * (si(self, "rise") + si(self, "fall")) / 2
        own = si_array(self, "record")
        mean = (own[:-1] + own[1:]).sum() / 2 / (own.size - 1)
        return abs(float(mean)) * si(self, "duration")

    def pieces(self, curved: int = CURVED) -> list[Piece]:
        """The pulse as straight lines: exact, or so many for a half-sine and a haversine."""
        whole = si(self, "duration")
        if self.shape == "record":
            own = si_array(self, "record")
            return [Piece(whole / (own.size - 1), own)]
        if self.shape != "trapezoid":
            count = curved if self.shape in ("half-sine", "haversine") else 1
            at = np.linspace(0.0, whole, count + 1)
            return [Piece(whole / count, self.acceleration(np.minimum(at, whole)))]
        peak, rise, fall = si(self, "peak"), si(self, "rise"), si(self, "fall")
        lines = [(rise, 0.0, peak), (whole - rise - fall, peak, peak), (fall, peak, 0.0)]
        return [Piece(long, np.array(ends)) for long, *ends in lines if long > 1e-12 * whole]

    def shock_spectrum(
        self,
        frequency: npt.ArrayLike,
        damping_ratio: npt.ArrayLike,
        which: Which = "maximax",
        response: Responds = "absolute acceleration",
    ) -> FloatArray:
        """Shock spectrum (f,) of the pulse; see the function `shock_spectrum`.

        A recorded pulse must have `RATE` samples a cycle of the highest frequency.

        Examples
        --------
        An undamped mass under a long rectangle feels twice its level:

        >>> flat = Pulse(shape="rectangle", peak="10 m/s**2", duration="1 s")
        >>> print(f"{flat.shock_spectrum([5.0], 0.0)[0]:.3f}")
        20.000
        """
        f, zeta = _mass_on_spring(frequency, damping_ratio)
        pieces = self.pieces()
        if self.shape == "record":
            _fast_enough(1 / pieces[0].step, f)
        return _spectrum(pieces, f, zeta, which, response)


def _even(times: FloatArray, count: int) -> float:
    """The step of even times. [s]"""
    if times.size != count:
        raise InputError(
            f"times: {times.size} of them with {count} samples; give one for each sample"
        )
    step = float(np.median(np.diff(times)))
    off = np.flatnonzero(~(np.abs(np.diff(times) - step) <= JITTER * abs(step)))
    if step <= 0 or off.size:
        at = int(off[0]) + 1 if off.size else 1
        raise InputError(
            f"times[{at}] = {1e3 * times[at]:.6g} ms: {1e3 * (times[at] - times[at - 1]):.4g} ms "
            f"after the one before it, where the others are {1e3 * step:.4g} ms apart, within "
            f"{JITTER:.0%}; give the part without gap or jitter, or resample it evenly"
        )
    return float(times[-1] - times[0]) / (count - 1)


def shock_spectrum(
    record: npt.ArrayLike,
    rate: float,
    frequency: npt.ArrayLike,
    damping_ratio: npt.ArrayLike,
    which: Which = "maximax",
    response: Responds = "absolute acceleration",
) -> FloatArray:
    """Largest response of one mass on one spring and damper to a recorded motion of its base.

    z̈ + 2ζωż + ω²z = −a for a that is straight between the samples, solved exactly (the
    ramp-invariant filter of iso-18431-4), with a mass at rest before the first sample and no
    acceleration after the last. What comes after the record is a free decay in closed form.

    Parameters
    ----------
    record : (..., n) array
        Acceleration of the base at even times, n ≥ `FEWEST`. [m/s²]
    rate : float
        Samples a second, at least `RATE` times the highest frequency. [Hz]
    frequency : (f,) array
        Undamped natural frequencies. [Hz]
    damping_ratio : (f,) array or one for all
        0 ≤ ζ < 1. [-]
    which : "maximax", "positive", "negative", "primary" or "residual"
        Largest |response| at any time, largest response that way, largest |response| during the
        record, after it.
    response : "absolute acceleration", "relative displacement" or "pseudo-velocity"
        −(2ζωż + ω²z) [m/s²], z [m] or ωz [m/s].

    Returns
    -------
    (..., f) array
        Not negative.

    Raises
    ------
    InputError
        Too low a rate, too short a record, a sample that is no number, ζ out of range.

    Notes
    -----
    iso-18431-4. Straight lines between samples take sinc²(f/rate) of a sine, 3.3 % less at ten
    samples a cycle; peaks between samples are found, to 1e-5.

    Examples
    --------
    A short jolt is a velocity change V, which leaves 2πfV: 0.1 m/s at 1 Hz.

    >>> jolt = np.zeros(2000)
    >>> jolt[1] = 100.0
    >>> print(f"{shock_spectrum(jolt, 1000.0, [1.0], 0.0)[0]:.3f}")
    0.628
    """
    a = np.asarray(record, dtype=float)
    if a.ndim < 1 or a.shape[-1] < FEWEST:
        count = a.shape[-1] if a.ndim else 1
        raise InputError(f"record: {count} samples, too short; give {FEWEST} or more")
    bad = np.argwhere(~np.isfinite(a))
    if bad.size:
        at = ", ".join(str(int(k)) for k in bad[0])
        raise InputError(
            f"record[{at}] = {a[tuple(bad[0])]:g}: not a number; cut the record there, or mend it"
        )
    f, zeta = _mass_on_spring(frequency, damping_ratio)
    _fast_enough(rate, f)
    values = np.moveaxis(a, -1, 0)[..., None]
    return _spectrum([Piece(1 / rate, values)], f, zeta, which, response)


def _mass_on_spring(
    frequency: npt.ArrayLike, damping_ratio: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    f = np.atleast_1d(np.asarray(frequency, dtype=float))
    if not f.size or not (np.isfinite(f) & (f > 0)).all():
        raise InputError("frequency: not above 0 everywhere; give frequencies above 0 Hz")
    zeta = np.broadcast_to(np.asarray(damping_ratio, dtype=float), f.shape)
    if not ((zeta >= 0) & (zeta < 1)).all():
        raise InputError(
            f"damping_ratio = {float(zeta[~((zeta >= 0) & (zeta < 1))][0]):.4g}: outside 0 to 1, "
            "where a mass does not swing; give less than 1"
        )
    return f, zeta


def _fast_enough(rate: float, frequency: FloatArray) -> None:
    most = float(frequency.max())
    if not rate >= RATE * most * (1 - 1e-9):
        raise InputError(
            f"rate = {rate:.6g} Hz: too low for {most:.6g} Hz, where a response needs {RATE:g} "
            f"samples a cycle to be 3.3 % off at the most; ask up to {rate / RATE:.4g} Hz, or "
            "record faster"
        )


def _spectrum(
    pieces: Sequence[Piece],
    frequency: FloatArray,
    damping_ratio: FloatArray,
    which: Which,
    response: Responds,
) -> FloatArray:
    if which not in WHICH:
        raise InputError(f"which = {which!r}: no such spectrum; write one of {', '.join(WHICH)}")
    if response not in RESPONSES:
        raise InputError(
            f"response = {response!r}: no such response; write one of {', '.join(RESPONSES)}"
        )
    omega, zeta = 2 * np.pi * frequency, damping_ratio

    def read(z: FloatArray, speed: FloatArray, base: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Response and its rate."""
        felt = -(omega**2) * z - 2 * zeta * omega * speed
        match response:
            case "absolute acceleration":
                return felt, -(omega**2) * speed - 2 * zeta * omega * (felt - base)
            case "relative displacement":
                return z, speed
        return omega * z, omega * speed

    still = np.zeros(np.broadcast_shapes(pieces[0].values.shape[1:], omega.shape))
    z, speed = still, still
    low = high = still
    for piece in pieces:
        fine = piece.finer(1 / (A_CYCLE * float(frequency.max())))
        step = Step.of(fine.step, omega, zeta)
        for block in _blocks(fine.values):
            travel, speeds = step.march(block, z, speed)
            z, speed = travel[-1], speeds[-1]
            base = block if block.ndim > 1 else block[:, None]
            ends = extremes(*read(travel, speeds, base), np.asarray(fine.step))
            low, high = np.minimum(low, ends[0]), np.maximum(high, ends[1])
    left = _decay(*read(z, speed, np.zeros(())), omega, zeta)
    if which == "primary":
        return np.maximum(-low, high)
    if which == "residual":
        return np.maximum(-left[0], left[1])
    low, high = np.minimum(low, left[0]), np.maximum(high, left[1])
    if which == "positive":
        return high
    return -low if which == "negative" else np.maximum(-low, high)


def _blocks(values: FloatArray) -> Iterator[FloatArray]:
    """Stretches of instants that share their ends and are no longer than memory allows."""
    for first in range(0, len(values) - 1, _BLOCK):
        yield values[first : first + _BLOCK + 1]


def _decay(
    start: FloatArray, rate: FloatArray, omega: FloatArray, zeta: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest value of a free decay from a value and its rate, the start included.

    u = e^(−ζωt)[u0·cos ω_d t + (u̇0 + ζωu0)/ω_d·sin ω_d t] turns first where
    tan ω_d t = u̇0·ω_d/(ω²u0 + ζωu̇0), and again half a cycle later.
    """
    damped = omega * np.sqrt(1 - zeta**2)
    turn = np.arctan2(rate * damped, omega**2 * start + zeta * omega * rate) % np.pi
    swing = start * np.cos(turn) + (rate + zeta * omega * start) / damped * np.sin(turn)
    first = np.exp(-zeta * omega / damped * turn) * swing
    second = -np.exp(-zeta * omega / damped * np.pi) * first
    each = np.stack([start, first, second])
    return each.min(axis=0), each.max(axis=0)


def extremes(values: FloatArray, rates: FloatArray, step: FloatArray) -> FloatArray:
    """Lowest and highest value (2, ...) of curves that are smooth between even instants.

    Where a curve turns between two instants, that of the cubic through both values and slopes.

    Parameters
    ----------
    values, rates : (n, ...) arrays
        At the instants, and their rate of change.
    step : (...) array
        Between two instants. [s]

    Examples
    --------
    t(1 − t) is highest between its ends:

    >>> extremes(np.array([0.0, 0.0]), np.array([1.0, -1.0]), np.ones(())).tolist()
    [0.0, 0.25]
    """
    turns = rates[:-1] * rates[1:] < 0
    long = np.broadcast_to(step, turns.shape)[turns]
    start, rise = values[:-1][turns], (values[1:] - values[:-1])[turns]
    first, last = long * rates[:-1][turns], long * rates[1:][turns]
    # start + first·s + two·s² + three·s³ for s from 0 to 1, whose slope changes sign once: at its
    # root that is nearer to nothing, unless that lies before the start
    two, three = 3 * rise - 2 * first - last, first + last - 2 * rise
    square = np.maximum(two**2 - 3 * three * first, 0.0)  # below 0 by rounding alone
    root = -(two + np.copysign(np.sqrt(square), two))
    with np.errstate(divide="ignore", invalid="ignore"):
        near, far = first / root, root / (3 * three)
    s = np.where(near >= 0, near, far)
    between = values[1:].copy()
    between[turns] = start + s * (first + s * (two + s * three))
    low = np.minimum(values.min(axis=0), between.min(axis=0))
    return np.stack([low, np.maximum(values.max(axis=0), between.max(axis=0))])


@dataclass(frozen=True)
class Step:
    """The exact step of masses on springs (...) whose base moves on straight lines.

    Of z̈ + 2ζωż + ω²z = −a(t), with a from a0 to a1 along the step: z and ż at its end are linear in
    z, ż, a0 and a1. Absolute acceleration −(2ζωż + ω²z) then is that of the ramp-invariant filter
    of iso-18431-4. The weights of a0 and a1 are integrals of the answer to a unit impulse, by
    Gauss-Legendre in twelve nodes, which loses no digits where a step is a small part of a cycle.

    Attributes
    ----------
    travel, speed : (4, ...) arrays
        Weights of z, ż, a0, a1 in z and in ż at the end.
    """

    travel: FloatArray
    speed: FloatArray

    @classmethod
    def of(cls, step: npt.ArrayLike, omega: npt.ArrayLike, zeta: npt.ArrayLike) -> Step:
        """Of a step (...) [s] no longer than half a cycle, ω (...) ≥ 0 [rad/s] and ζ (...) ≥ 0.

        Examples
        --------
        A free mass falls behind by a·t²/2:

        >>> still = np.zeros(1)
        >>> travel, _ = Step.of(2.0, [0.0], [0.0]).march(np.ones(2), still, still)
        >>> print(f"{travel[-1, 0]:.12f}")
        -2.000000000000
        """
        h, w, d = (np.asarray(value, dtype=float) for value in (step, omega, zeta))
        damped = w * np.sqrt(1 - d**2 + 0j)

        def answer(t: FloatArray) -> FloatArray:
            """Travel and speed (2, ...) a time after a kick to unit speed."""
            fading, sine = np.exp(-d * w * t), t * np.sinc(damped * t / np.pi)
            return np.stack([fading * sine, fading * (np.cos(damped * t) - d * w * sine)]).real

        early = late = np.zeros(())
        for node, weight in zip((_NODES + 1) / 2, _WEIGHTS / 2, strict=True):
            part = -h * weight * answer(h * node)
            early, late = early + node * part, late + (1 - node) * part
        kicked = answer(h)
        # Let go from z = 1 it has g' + 2ζωg, with the speed −ω²g.
        released = np.stack([kicked[1] + 2 * d * w * kicked[0], -(w**2) * kicked[0]])
        both = np.stack([released, kicked, early, late])
        return cls(both[:, 0], both[:, 1])

    def as_filter(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The same step as a recursive filter of the base's acceleration.

        Returns
        -------
        travel, speed, below : (3, ...) arrays
            What stands above the fraction for z and for ż, and below it for both, in falling
            powers.

        Examples
        --------
        >>> of_z, _, below = Step.of(0.01, 2 * np.pi, 0.5).as_filter()
        >>> print(f"{of_z.sum() / below.sum() * (2 * np.pi) ** 2:.6f}")
        -1.000000
        """
        (zz, zv, z0, z1), (vz, vv, v0, v1) = self.travel, self.speed
        of_z = np.stack([z1, z0 - vv * z1 + zv * v1, zv * v0 - vv * z0])
        of_v = np.stack([v1, v0 - zz * v1 + vz * z1, vz * z0 - zz * v0])
        return of_z, of_v, np.stack([np.ones_like(zz), -(zz + vv), zz * vv - zv * vz])

    def march(
        self, values: FloatArray, travel: FloatArray, speed: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """How the masses move from a start on.

        Parameters
        ----------
        values : (n + 1, ...) array
            Acceleration of the base at the ends of n steps. [m/s²]
        travel, speed : (...) arrays
            z and ż at the start. [m, m/s]

        Returns
        -------
        travel, speed : (n + 1, ...) arrays
        """
        z = np.empty((len(values), *np.broadcast_shapes(travel.shape, self.travel.shape[1:])))
        v = np.empty_like(z)
        z[0], v[0] = travel, speed
        of_z, of_v, of_first, of_last = zip(self.travel, self.speed, strict=True)
        for k in range(len(values) - 1):
            for end, i in ((z, 0), (v, 1)):
                end[k + 1] = of_z[i] * z[k] + of_v[i] * v[k]
                end[k + 1] += of_first[i] * values[k] + of_last[i] * values[k + 1]
        return z, v

"""What a payload survives: a peak, a pulse that was tried, a velocity change; running or not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from isolator.payload import Payload
from isolator.pulse import Pulse
from isolator.units import FREQUENCY, G0, SPEED, FloatArray, si, si_or_none

Bools: TypeAlias = npt.NDArray[np.bool_]

PART_DAMPING = 0.05
"""Damping ratio of what rings inside: Q = 10 (common practice)."""

SAME = 1.001
"""Two shock spectra that are so close count as one."""

_REACH = np.geomspace(1e-4, 1e3, 1401)


@dataclass(frozen=True)
class Rating:
    """What a payload survives at rest, or while it runs; nan or None where nobody said.

    Attributes
    ----------
    key : str
        Of the brief, that holds the acceleration.
    acceleration : float
        Critical peak. [m/s²]
    pulse : Pulse, optional
        Shape and duration of the test that it comes from; its peak is the acceleration.
    velocity_change : float
        Critical velocity change. [m/s]
    lowest : float
        Lowest known resonance inside. [Hz]
    """

    key: str = "payload.fragility"
    acceleration: float = np.nan
    pulse: Pulse | None = None
    velocity_change: float = np.nan
    lowest: float = np.nan

    @classmethod
    def of(cls, payload: Payload, running: bool = False) -> Rating:
        """The rating at rest, or the one while it runs and no other.

        Examples
        --------
        >>> disk = Payload(mass="1 kg", size=["1 m"] * 3, fragility="60 g0")
        >>> Rating.of(disk, running=True).acceleration
        nan
        """
        resonances = [si_or_none(part, "resonance") for part in payload.parts]
        known = [f for f in (si_or_none(payload, "bending"), *resonances) if f is not None]
        lowest = min(known, default=np.nan)

        def number(name: str) -> float:
            value = si_or_none(payload, name)
            return np.nan if value is None else value

        if running:
            key = "payload.running_fragility"
            return cls(key, number("running_fragility"), lowest=lowest)
        return cls(
            acceleration=number("fragility"),
            pulse=payload.fragility_pulse,
            velocity_change=number("critical_velocity"),
            lowest=lowest,
        )

    def words(self) -> str:
        """The pulse of its test, ``a half-sine of 40 g for 11 ms``."""
        assert self.pulse is not None
        long = 1e3 * si(self.pulse, "duration")
        return f"a {self.pulse.shape} of {self.acceleration / G0:.3g} g for {long:.3g} ms"


@dataclass(frozen=True)
class Judgement:
    """What becomes of designs (b,) under shocks (b, ...).

    What is neither survived nor failed is open.

    Attributes
    ----------
    survives, fails : (b, ...) bool arrays
    capacity : (b, ...) array
        Peak that it survives; inf where the velocity change is too small to damage it at any
        peak, nan if unknown. [m/s²]
    covered_from : (b, ...) array
        From which resonance upward the tested pulse was no milder; 0 for all of them, nan where
        no pulse is known. [Hz]
    reason, missing : functions of an index (b, ...)
        A sentence for a person; the key of the brief that would settle what is open.
    """

    survives: Bools
    fails: Bools
    capacity: FloatArray
    covered_from: FloatArray
    reason: Callable[..., str]
    missing: Callable[..., str]

    @property
    def open(self) -> Bools:
        """Neither survived nor failed (b, ...)."""
        return ~(self.survives | self.fails)


def judge(
    ratings: Sequence[Rating],
    peak: npt.ArrayLike,
    duration: npt.ArrayLike,
    velocity_change: npt.ArrayLike,
) -> Judgement:
    """Hold what reaches payloads against what they survive.

    - A velocity change up to the critical one is survived at any peak, and a peak up to the
      critical one is survived whatever its velocity change: damage needs both (damage boundary).
    - Above the critical peak it fails, unless the velocity change saves it.
    - Up to the critical peak a rating with a tested pulse holds only where that pulse was no
      milder: where its shock spectrum is not below that of a half-sine of this peak and duration,
      for all resonances from the lowest known one upward, each with `PART_DAMPING`. Otherwise it
      is open: the test said nothing about it.
    - A rating without its pulse is taken as a critical peak for pulses of any length.

    Parameters
    ----------
    ratings : sequence of b Rating
    peak, duration, velocity_change : (b, ...) arrays
        Of the pulse that arrives, rebound included; nan where unknown. A velocity change only
        counts where a critical one is known, a duration where a tested pulse is.
        [m/s², s, m/s]

    Returns
    -------
    Judgement of (b, ...)

    Examples
    --------
    50 g for 2 ms are 0.6 m/s: less than the 2 m/s that damage needs. 30 g for 40 ms are milder
    than the 40 g of a test for 11 ms, but not for what rings slowly.

    >>> tried = Pulse(shape="half-sine", peak="40 g0", duration="11 ms")
    >>> both = [Rating(acceleration=392, velocity_change=2.), Rating(acceleration=392, pulse=tried)]
    >>> found = judge(both, [490., 294.], [.002, .04], [.62, 7.5])
    >>> found.survives.tolist(), found.open.tolist()
    ([True, False], [False, True])
    >>> print(f"{found.covered_from[1]:.0f} Hz")
    31 Hz
    """
    a, d, v = (np.asarray(x, dtype=float) for x in np.broadcast_arrays(
        peak, duration, velocity_change
    ))  # fmt: skip

    def each(name: str) -> FloatArray:
        values = np.array([getattr(rating, name) for rating in ratings], dtype=float)
        return np.broadcast_to(values.reshape(-1, *[1] * (a.ndim - 1)), a.shape)

    limit, slow, lowest = each("acceleration"), each("velocity_change"), each("lowest")
    tried = np.stack([_covered_from(r, a[b], d[b]) for b, r in enumerate(ratings)])
    with_pulse = ~np.isnan(tried)
    soft = v <= slow
    over = a > limit
    unsure = over & ~np.isnan(slow) & np.isnan(v)
    covered = ~with_pulse | (tried <= np.where(np.isnan(lowest), 0.0, lowest))
    survives = (soft | ((a <= limit) & covered)) & ~np.isnan(a) & ~np.isnan(limit)
    fails = over & ~soft & ~unsure

    def reason(*index: int) -> str:
        i = index if len(index) > 1 else index[0]
        own = ratings[index[0]]
        if np.isnan(a[i]):
            return "what reaches it is not known"
        felt = f"{a[i] / G0:.3g} g"
        if np.isnan(own.acceleration):
            lasting = "" if np.isnan(d[i]) else f" for {1e3 * d[i]:.3g} ms"
            running = " while it runs" if own.key != "payload.fragility" else ""
            return f"it must survive {felt}{lasting}{running}, and what it survives is not known"
        text = f"{felt}, of {own.acceleration / G0:.3g} g"
        if soft[i]:
            return (
                f"{text}: a velocity change of {SPEED.text(v[i])}, and none up to "
                f"{SPEED.text(slow[i])} damages it at any peak"
            )
        if unsure[i]:
            return f"{text}; its velocity change, which may be too small to matter, is not known"
        if over[i]:
            both = f", and a velocity change of {SPEED.text(v[i])}, of {SPEED.text(slow[i])}"
            return text if np.isnan(slow[i]) else text + both
        if own.pulse is None:
            return text
        if np.isnan(d[i]):
            return f"{text}; how long it lasts, for {own.words()} it was tried with, is not known"
        if survives[i]:
            above = f" above {FREQUENCY.text(lowest[i])}" if tried[i] > 0 else ""
            return f"{text}; {own.words()} was no milder for anything inside that rings{above}"
        where = (
            "and what rings lowest inside is not known"
            if np.isnan(lowest[i])
            else f"and what is inside rings at {FREQUENCY.text(lowest[i])}"
        )
        return (
            f"{text}, but for {1e3 * d[i]:.3g} ms: {own.words()}, with which it was tried, was "
            f"milder below {FREQUENCY.text(tried[i])} and says nothing about a resonance there, "
            f"{where}"
        )

    def missing(*index: int) -> str:
        i = index if len(index) > 1 else index[0]
        own = ratings[index[0]]
        if np.isnan(own.acceleration):
            return own.key
        if np.isnan(a[i]) or unsure[i] or not with_pulse[i] or np.isnan(d[i]) or survives[i]:
            return ""
        return "payload.bending" if np.isnan(lowest[i]) else "payload.fragility_pulse"

    return Judgement(
        survives=survives,
        fails=fails,
        capacity=np.where(soft, np.inf, limit),
        covered_from=tried,
        reason=reason,
        missing=missing,
    )


def _covered_from(rating: Rating, peak: FloatArray, duration: FloatArray) -> FloatArray:
    """From which resonance (...) upward the tested pulse is not milder than half-sines. [Hz]

    nan without a pulse, inf where a peak or a duration is unknown.
    """
    if rating.pulse is None:
        return np.full(peak.shape, np.nan)
    long = si(rating.pulse, "duration")
    ramps = [(si_or_none(rating.pulse, name) or 0.0) / long for name in ("rise", "fall")]
    tested = rating.acceleration * _unit(rating.pulse.shape, *ramps)
    usable = np.isfinite(duration) & (duration > 0) & np.isfinite(peak)
    times = np.where(usable, duration, long)
    # Both spectra over the geometric mean of both durations, so that either is covered.
    middle = np.sqrt(times * long)
    frequency = _REACH / middle[..., None]
    arriving = peak[..., None] * _at(frequency * times[..., None], _unit())
    milder = arriving > SAME * _at(frequency * long, tested)
    last = _REACH.size - 1 - milder[..., ::-1].argmax(axis=-1)
    last = np.minimum(last + 1, _REACH.size - 1)
    first = np.take_along_axis(frequency, last[..., None], axis=-1)[..., 0]
    return np.where(usable, np.where(milder.any(axis=-1), first, 0.0), np.inf)


_GRID = np.geomspace(2e-3, 60.0, 500)


@cache
def _unit(shape: str = "half-sine", rise: float = 0.0, fall: float = 0.0) -> FloatArray:
    """Shock spectrum of a pulse over its peak at `_GRID` cycles in its duration."""
    ramps = {"rise": f"{rise} s", "fall": f"{fall} s"} if shape == "trapezoid" else {}
    pulse = Pulse(shape=shape, peak="1 m/s**2", duration="1 s", **ramps)
    return pulse.shock_spectrum(_GRID, PART_DAMPING)


def _at(cycles: FloatArray, spectrum: FloatArray) -> FloatArray:
    """A spectrum (n,) over `_GRID` at cycles (...): proportional below it, level above it."""
    inside = np.exp(np.interp(np.log(cycles), np.log(_GRID), np.log(spectrum)))
    return np.asarray(inside * np.minimum(cycles / _GRID[0], 1.0))

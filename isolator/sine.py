"""Sine vibration: a sweep through a band of frequencies, a dwell at one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.units import (
    ACCELERATION,
    DURATION,
    FREQUENCY,
    SIZE,
    FloatArray,
    InputError,
    Measure,
    OptionalMeasure,
    number,
    si,
    si_or_none,
)

FASTEST = 77.6
"""A sweep of `FASTEST`·f/Q² octaves a minute keeps the steady state within 5 % (iso-7626-2,
memory); integration in time finds 6 to 7 % missing."""


@dataclass(frozen=True, kw_only=True)
class Sweep:
    """A sine that goes slowly through a band.

    Parameters
    ----------
    start, stop : text or quantity [frequency]
    level : text or quantity [acceleration]
        Peak acceleration of the case.
    displacement : text or quantity [length], optional
        Peak displacement of the case; it counts below the crossover, where it gives less than
        the level.
    rate : number, optional
        Octaves a minute.

    Raises
    ------
    InputError
        Wrong units, a band that does not rise.

    Examples
    --------
    2 mm cross over to 1 g at 11.1 Hz:

    >>> sweep = Sweep(start="5 Hz", stop="200 Hz", level="1 g0", displacement="2 mm")
    >>> sweep.amplitude([5.0, 100.0]).round(3).tolist()
    [1.974, 9.807]
    """

    start: Measure = Measure(FREQUENCY)
    stop: Measure = Measure(FREQUENCY)
    level: Measure = Measure(ACCELERATION)
    displacement: OptionalMeasure = OptionalMeasure(SIZE)
    rate: float | None = None

    def __post_init__(self) -> None:
        if si(self, "start") >= si(self, "stop"):
            raise InputError(
                f"Sweep.stop = {FREQUENCY.text(si(self, 'stop'))}: not above the start, "
                f"{FREQUENCY.text(si(self, 'start'))}; give the lower frequency first"
            )
        if self.rate is not None:
            rate = number(self.rate, "Sweep.rate", 0.0, 1000.0, open_low=True)
            object.__setattr__(self, "rate", rate)

    def amplitude(self, frequency: npt.ArrayLike) -> FloatArray:
        """Peak acceleration (...) of the case at a frequency (...) [Hz]. [m/s²]"""
        omega = 2 * np.pi * np.asarray(frequency, dtype=float)
        most = si_or_none(self, "displacement")
        below = np.full_like(omega, np.inf) if most is None else omega**2 * most
        return np.minimum(si(self, "level"), below)

    def crossover(self) -> float:
        """Frequency from which on the level counts; 0 if it counts everywhere. [Hz]"""
        most = si_or_none(self, "displacement")
        return 0.0 if most is None else float(np.sqrt(si(self, "level") / most) / (2 * np.pi))

    def fastest(self, natural: FloatArray, loss_factor: FloatArray) -> FloatArray:
        """Rate that a sweep is faster than, although a mode needs it to reach its steady state.

        Parameters
        ----------
        natural, loss_factor : (...) arrays
            Frequency of the mode and 1/Q. [Hz, -]

        Returns
        -------
        (...) array
            nan where the sweep does not pass, is slow enough, or of unknown rate. [octaves/min]
        """
        limit = FASTEST * natural * loss_factor**2
        passed = (natural >= si(self, "start")) & (natural <= si(self, "stop"))
        rate = 0.0 if self.rate is None else self.rate
        return np.where(passed & (limit < rate), limit, np.nan)


@dataclass(frozen=True, kw_only=True)
class Dwell:
    """A sine that stays.

    Parameters
    ----------
    at : text or quantity [frequency], optional
        Left out: at every resonance of the payload on its mounts, one after the other.
    level : text or quantity [acceleration]
        Peak acceleration of the case.
    duration : text or quantity [time], optional
    """

    at: OptionalMeasure = OptionalMeasure(FREQUENCY)
    level: Measure = Measure(ACCELERATION)
    duration: OptionalMeasure = OptionalMeasure(DURATION)


@dataclass(frozen=True, kw_only=True)
class Sine:
    """Sine vibration of a leg, one road axis after the other.

    Parameters
    ----------
    ways : sequence of road axes
    sweep : Sweep, optional
    dwell : Dwell, optional

    Raises
    ------
    InputError
        Neither a sweep nor a dwell.
    """

    ways: Sequence[str] = ("vertical", "transverse", "longitudinal")
    sweep: Sweep | None = None
    dwell: Dwell | None = None

    def __post_init__(self) -> None:
        if self.sweep is None and self.dwell is None:
            raise InputError("Sine: neither a sweep nor a dwell; give one of them")

    def most(self) -> float:
        """Largest peak acceleration of the case. [m/s²]"""
        sweep = 0.0 if self.sweep is None else float(self.sweep.amplitude(si(self.sweep, "stop")))
        return max(sweep, 0.0 if self.dwell is None else si(self.dwell, "level"))

    def speed(self) -> float:
        """Largest speed of the case; nan for a dwell at resonances, which only a payload has. [m/s]

        Examples
        --------
        2 mm up to 11.1 Hz, 1 g from there on:

        >>> sweep = Sweep(start="5 Hz", stop="200 Hz", level="1 g0", displacement="2 mm")
        >>> print(f"{Sine(sweep=sweep).speed():.4f}")
        0.1400
        """
        most = 0.0
        if self.sweep is not None:
            low, high = si(self.sweep, "start"), si(self.sweep, "stop")
            at = min(max(self.sweep.crossover(), low), high)
            most = float(self.sweep.amplitude(at)) / (2 * np.pi * at)
        if self.dwell is None:
            return most
        tone = si_or_none(self.dwell, "at")
        dwell = np.nan if tone is None else si(self.dwell, "level") / (2 * np.pi * tone)
        return float(np.maximum(most, dwell))

"""A recording of acceleration over time, whatever it came from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from isolator.units import ACCELERATION, FREQUENCY, FloatArray, Given, InputError, clipped

LEAST = 16
"""Samples below which nothing can be said."""

SLOWEST, FASTEST = 4.0, 100e3
"""Rates that a logger has, unless told otherwise. [Hz]"""

GAP = 1.5
"""A step so many times the median one has lost a sample."""

LARGEST = 1e6
"""More than any accelerometer can feel. [m/s²]"""

LOST = 0.1
"""Share of the samples that may be missing."""


@dataclass(frozen=True)
class Recording:
    """What accelerometers felt, over time.

    Attributes
    ----------
    time : (n,) array
        Of each sample from the first on, rising. [s]
    acceleration : (n, c) array
        A column for each channel. [m/s²]
    names : tuple of str
        Of the channels: "x", or "base x" with more than one sensor.
    guessed : tuple of str
        What was taken from headings or from the numbers, a sentence each.
    source : str
        Name of the file.
    missing : int
        Samples that were there without a number, and were left out.
    linear : bool
        Gravity was taken out before, as the headings say.
    """

    time: FloatArray = field(repr=False, compare=False)
    acceleration: FloatArray = field(repr=False, compare=False)
    names: tuple[str, ...]
    guessed: tuple[str, ...] = ()
    source: str = "array"
    missing: int = 0
    linear: bool = False

    def __post_init__(self) -> None:
        for array in (self.time, self.acceleration):
            array.setflags(write=False)

    @classmethod
    def of(
        cls,
        acceleration: npt.ArrayLike,
        *,
        unit: Given,
        rate: Given | None = None,
        time: npt.ArrayLike | None = None,
        names: Sequence[str] = (),
        source: str = "array",
    ) -> Recording:
        """A recording from arrays.

        Parameters
        ----------
        acceleration : (n,) or (n, c) array
            nan where a sample is missing.
        unit : text or quantity [acceleration]
            What one stands for: "1 g0", "1 m/s**2".
        rate : text or quantity [frequency], optional
            Samples a second.
        time : (n,) array, optional
            In the place of a rate. [s]
        names : texts, optional
            Of the channels; x, y, z if left out.

        Raises
        ------
        InputError
            Too few samples or too many missing, time that does not rise, both or neither of rate
            and time, a rate that no logger has.

        Examples
        --------
        >>> still = Recording.of(np.ones((100, 1)), unit="1 g0", rate="100 Hz", names=["z"])
        >>> round(float(still.acceleration[0, 0]), 5), round(float(still.time[-1]), 2)
        (9.80665, 0.99)
        """
        a = _floats(acceleration, "acceleration")
        a = a[:, None] if a.ndim == 1 else a
        if a.ndim != 2:
            raise InputError(
                f"acceleration: {a.ndim} dimensions; give samples, or samples by channels"
            )
        if (rate is None) == (time is None):
            raise InputError("rate and time: give one of them, with the samples")
        if time is None:
            assert rate is not None
            t = np.arange(len(a)) / stated_rate(rate)
        else:
            t = _floats(time, "time")
            if t.shape != (len(a),):
                raise InputError(f"time: {t.size} given with {len(a)} samples; give one for each")
        if not names:
            count = a.shape[1]
            names = ("x", "y", "z")[:count] if count <= 3 else [str(k + 1) for k in range(count)]
        if len(names) != a.shape[1]:
            raise InputError(f"names: {len(names)} for {a.shape[1]} channels; give one for each")
        with np.errstate(over="ignore"):
            a = a * ACCELERATION.read(unit, "unit")
        t, a, missing = kept(t, a, source, 1)
        enough(len(t), missing, source)
        if time is not None:
            plausible(t, source, told=False)
        return cls(t - t[0], a, tuple(names), (), source, missing)

    @property
    def sensors(self) -> tuple[str, ...]:
        """Names of the sensors, in order; one without a name is ""."""
        return tuple(dict.fromkeys(_sensor(name) for name in self.names))

    @property
    def rate(self) -> float:
        """Samples a second where none are lost, by the mean step. [Hz]"""
        return true_rate(self.time)

    @property
    def duration(self) -> float:
        """From the first sample to the last. [s]"""
        return float(self.time[-1] - self.time[0])

    def only(self, *names: str) -> Recording:
        """The same with these channels only; the name of a sensor stands for all of its own.

        Raises
        ------
        InputError
            No such channel.

        Examples
        --------
        >>> two = Recording.of(np.ones((50, 2)), unit="1 g0", rate="100 Hz",
        ...                    names=["base z", "tray z"])
        >>> two.only("tray").names
        ('tray z',)
        """
        at: list[int] = []
        for name in names:
            found = [k for k, own in enumerate(self.names) if name in (own, _sensor(own))]
            if not found:
                raise InputError(
                    f"channel = {clipped(name)}: not in {self.source}; "
                    f"it has {', '.join(map(clipped, self.names))}"
                )
            at += found
        return replace(
            self,
            acceleration=self.acceleration[:, at],
            names=tuple(self.names[k] for k in at),
        )

    def between(self, start: float, end: float) -> Recording:
        """The part from `start` to `end`, on the same clock. [s]

        Raises
        ------
        InputError
            Fewer than `LEAST` samples in it.
        """
        inside = (self.time >= start) & (self.time <= end)
        if inside.sum() < LEAST:
            raise InputError(
                f"{self.source}: {int(inside.sum())} samples from {start:.4g} to {end:.4g} s, "
                f"fewer than {LEAST}; it runs from {self.time[0]:.4g} to {self.time[-1]:.4g} s"
            )
        return replace(self, time=self.time[inside], acceleration=self.acceleration[inside])


def true_rate(time: FloatArray) -> float:
    """Samples a second (n,) [s] where none are lost. [Hz]

    Examples
    --------
    >>> true_rate(np.array([0.0, 0.1, 0.2, 0.9, 1.0])).__round__(9)
    10.0
    """
    steps = np.diff(time)
    return 1.0 / float(steps[steps < GAP * np.median(steps)].mean())


def _sensor(name: str) -> str:
    return name[:-2].strip() if name[-2:] in (" x", " y", " z") else ("" if name in "xyz" else name)


def _floats(values: npt.ArrayLike, name: str) -> FloatArray:
    try:
        return np.array(values, dtype=float)
    except (TypeError, ValueError):
        raise InputError(f"{name}: not an array of numbers; give numbers only") from None


def stated_rate(rate: Given) -> float:
    value = FREQUENCY.read(rate, "rate")
    if not SLOWEST < value <= 100 * FASTEST:
        raise InputError(
            f"rate = {value:.6g} Hz: no logger is of use at that rate; "
            f"{'kHz meant?' if value <= SLOWEST else 'Hz meant?'} Give samples a second"
        )
    return value


def enough(count: int, missing: int, source: str) -> None:
    if missing and not count:
        raise InputError(
            f"{source}: none of its {missing} rows has a number in every channel; give "
            "another recording, or only the channels that are whole"
        )
    if count < LEAST:
        raise InputError(f"{source}: {count} samples, fewer than {LEAST}; give a longer recording")
    if missing > LOST * (count + missing):
        raise InputError(
            f"{source}: {missing} of {count + missing} samples have no number, more than "
            f"{LOST:.0%}; give the part without them, or only the channels that are whole"
        )


def kept(
    time: FloatArray, acceleration: FloatArray, source: str, line: int
) -> tuple[FloatArray, FloatArray, int]:
    """The samples that have all their numbers; time must rise from one to the next."""
    if not np.isfinite(time).all():
        at = int(np.flatnonzero(~np.isfinite(time))[0])
        raise InputError(
            f"{source}, row {line + at}: no time; give the part with a time in each row, or a rate"
        )
    steps = np.diff(time)
    wrong = np.flatnonzero(steps <= 0)
    if wrong.size:
        at = int(wrong[0]) + 1
        what = "the same as" if steps[at - 1] == 0 else "before"
        raise InputError(
            f"{source}, row {line + at}: time {time[at]:.9g} s is {what} that of the row above, "
            f"{time[at - 1]:.9g} s; sort it and give each time once, or leave time out "
            "(time='none') and state the rate"
        )
    huge = np.abs(acceleration) > LARGEST
    if huge.any():
        at = int(np.flatnonzero(huge.any(axis=1))[0])
        most = np.nanmax(np.abs(acceleration[at]))
        raise InputError(
            f"{source}, row {line + at}: {most:.3g} m/s², more than any "
            f"accelerometer feels ({LARGEST:g} m/s²); check the unit, or leave the field empty"
        )
    whole = np.isfinite(acceleration).all(axis=1)
    if whole.all():
        return time, acceleration, 0
    return time[whole], acceleration[whole], int((~whole).sum())


def plausible(time: FloatArray, source: str, *, told: bool) -> None:
    """Refuse a rate that no logger has, unless the unit of time was told by the user."""
    rate = 1.0 / float(np.median(np.diff(time)))
    if told or SLOWEST < rate <= FASTEST:
        return
    slip = "milliseconds read as seconds?" if rate <= SLOWEST else "seconds read as milliseconds?"
    raise InputError(
        f"{source}: {rate:.4g} samples a second by its time column; {slip} Give time_unit='1 "
        f"{'ms' if rate <= SLOWEST else 's'}', or the unit that it truly has"
    )


def joined(parts: Iterable[Recording]) -> Recording:
    """Blocks of one recording as one."""
    whole = list(parts)
    first = whole[0]
    missing = sum(part.missing for part in whole)
    enough(sum(len(part.time) for part in whole), missing, first.source)
    return replace(
        first,
        time=np.concatenate([part.time for part in whole]),
        acceleration=np.concatenate([part.acceleration for part in whole]),
        missing=missing,
    )

"""The record of a trip: spectra, how rough it was over time, shocks and falls.

It is read a block at a time and nothing but sums, a table of levels and one number for each window
is kept, so that memory does not grow with the record.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from isolator.enveloping import enveloping_lines
from isolator.events import Fall, Shock, find_falls, find_shocks
from isolator.logger import read_blocks
from isolator.record_quality import NYQUIST_SHARE, refuse_spacing
from isolator.recording import Recording, enough, true_rate
from isolator.segments import effective, even_pieces, spectra
from isolator.spectrum import mean_square
from isolator.trip import Spectrum
from isolator.units import (
    ACCELERATION,
    DURATION,
    FREQUENCY,
    G0,
    SPECTRAL_DENSITY,
    FloatArray,
    Given,
    InputError,
    Measure,
    refuse_other,
    si,
)

SEGMENTS = 16
"""Of a window; their mean is one level of each line."""

SPACING = 0.5
"""Between lines, if none is stated and the record is long enough. [Hz]"""

ROAD = 60.0
"""A record that is shorter is an event and no road: with lines half a hertz apart the mean of a
minute is known within 14 %, and there are three windows to take the highest of. Our own choice. [s]
"""

MOST_SHOCKS = 50
"""That are kept, the largest."""

STILL = 1e-6
"""A channel that moves by less, rms, does not move. [m/s²]"""

TAIL = 3.0
"""Of a block, looked at once more with the next: events that lie over its end. [s]"""

SEEN = 0.3
"""A sensor whose mean is above so many g sees gravity."""

BLOCKS = "a Recording, the path of one or blocks of one"
"""What a trip may be given as."""

_LOW, _BIN, _BINS = -11.0, 0.05, 360
"""Levels of the table: decades of (m/s²)²/Hz."""


@dataclass(frozen=True, kw_only=True)
class TripRecord:
    """What a trip was like.

    Attributes
    ----------
    names : tuple of str
        Of the channels.
    duration : quantity [time]
        That was looked at, without gaps.
    spacing : quantity [frequency]
    averages : float
        Independent segments in the mean. [-]
    random_error : float
        Of each line of the mean, one standard deviation over it. [-]
    frequency : (f,) array
        Up to 0.4 of the rate. [Hz]
    mean, highest : (c, f) arrays
        Density, mean over the trip and largest of any window. [(m/s²)²/Hz]
    window_time, window_rms, window_kurtosis, window_crest : (w,) and (w, c) arrays
        Start of each window, and what it holds; a normal one has a kurtosis of 3. [s, m/s², -, -]
    rms, kurtosis, crest : (c,) arrays
        Over the whole. [m/s², -, -]
    shocks : tuple of Shock
        The largest first.
    falls : tuple of Fall or None
        In order; None where no sensor has three axes and sees gravity.
    sentences : tuple of str
    """

    names: tuple[str, ...]
    duration: Measure = Measure(DURATION)
    spacing: Measure = Measure(FREQUENCY)
    averages: float
    random_error: float
    frequency: FloatArray = field(repr=False, compare=False)
    mean: FloatArray = field(repr=False, compare=False)
    highest: FloatArray = field(repr=False, compare=False)
    window_time: FloatArray = field(repr=False, compare=False)
    window_rms: FloatArray = field(repr=False, compare=False)
    window_kurtosis: FloatArray = field(repr=False, compare=False)
    window_crest: FloatArray = field(repr=False, compare=False)
    rms: FloatArray = field(repr=False, compare=False)
    kurtosis: FloatArray = field(repr=False, compare=False)
    crest: FloatArray = field(repr=False, compare=False)
    shocks: tuple[Shock, ...] = field(repr=False)
    falls: tuple[Fall, ...] | None = field(repr=False)
    sentences: tuple[str, ...] = field(repr=False)
    levels: npt.NDArray[np.int32] = field(repr=False, compare=False)

    def percentile(self, share: float = 95.0) -> FloatArray:
        """Density (c, f) that so many per cent of the windows do not exceed, line by line.

        Raises
        ------
        InputError
            Too few windows for that share; it is then the highest at the most.

        Notes
        -----
        From a table of levels a twentieth of a decade wide, which is 6 % of a density at most. A
        level is the mean of `SEGMENTS` segments, whose random error of a quarter widens it.
        """
        windows = len(self.window_time)
        if not 0 < share < 100 or windows * (100 - share) < 100:
            raise InputError(
                f"share = {share:g}: not known from {windows} windows; give at most "
                f"{100 - 100 / max(windows, 1):.3g}, or use the highest"
            )
        total = self.levels.cumsum(axis=0)
        wanted = share / 100 * windows
        at = (total < wanted).sum(axis=0)
        below = np.where(at > 0, np.take_along_axis(total, np.maximum(at - 1, 0)[None], 0)[0], 0)
        here = np.take_along_axis(self.levels, at[None], 0)[0]
        part = (wanted - below) / np.maximum(here, 1)
        return np.asarray(10 ** (_LOW + (at + part) * _BIN))

    def road(
        self,
        channel: str,
        *,
        points: int = 8,
        of: str = "highest",
        lowest: Given | None = None,
    ) -> Spectrum:
        """A few lines over the spectrum of a channel, as a brief's road has them.

        Parameters
        ----------
        channel : str
        points : int
            Breakpoints, 2 to 40.
        of : "mean", "highest" or a percentage such as "95 %"
        lowest : text or quantity [frequency], optional
            Where the lines begin; the second line of the spectrum if left out.

        Raises
        ------
        InputError
            No such channel or spectrum, too few windows, a record shorter than `ROAD`.
        """
        k = self._channel(channel)
        if (long := si(self, "duration")) < ROAD:
            raise InputError(
                f"record: {long:.4g} s of it are an event and no road, its lines "
                f"{self.random_error:.0%} uncertain and {si(self, 'spacing'):.2g} Hz apart; "
                f"record {ROAD:g} s or more"
            )
        if of == "mean":
            density = self.mean
        elif of == "highest":
            density = self.highest
        else:
            try:
                share = float(of.removesuffix("%"))
            except ValueError:
                raise InputError(
                    f"of = {of!r:.20}: write mean, highest or a percentage such as '95 %'"
                ) from None
            density = self.percentile(share)
        f = self.frequency
        start = 1.5 * si(self, "spacing") if lowest is None else FREQUENCY.read(lowest, "lowest")
        use = (f >= start) & (density[k] > 0)
        at, high = enveloping_lines(f[use], density[k][use], points)
        return Spectrum(f"recorded {channel}, {of}", at, high, "recorded")

    def _channel(self, channel: str) -> int:
        if channel not in self.names:
            raise InputError(f"channel = {channel!r}: not recorded; it has {', '.join(self.names)}")
        return self.names.index(channel)


def road_table(road: Spectrum) -> str:
    """A spectrum as the CSV file that a brief's `leg.road` names.

    Examples
    --------
    >>> flat = Spectrum.of(frequency=["10 Hz", "100 Hz"], density=["0.01 g0^2/Hz"] * 2, name="a")
    >>> print(road_table(flat))
    frequency [Hz],density [g0^2/Hz]
    10,0.01
    100,0.01
    <BLANKLINE>
    """
    rows = [
        f"{f:.6g},{SPECTRAL_DENSITY.quantity(w).magnitude:.4g}"
        for f, w in zip(road.lines, road.density, strict=True)
    ]
    return "\n".join(["frequency [Hz],density [g0^2/Hz]", *rows, ""])


def road_file(trip: TripRecord, channel: str, source: str) -> str:
    """The highest spectrum of a channel as `road_table`, under what is known of it.

    How long the record is, how many independent averages it has, the random error.

    Parameters
    ----------
    trip : TripRecord
    channel : str
    source : str
        Name of the record.

    Raises
    ------
    InputError
        As of `TripRecord.road`.
    """
    road = trip.road(channel)
    window = float(effective(SEGMENTS) ** -0.5)
    # No sign of a name ends the line or begins a cell.
    of, file = (re.sub(r"[^\w .()-]", "_", name) for name in (channel, source))
    return (
        f"# the highest of {len(trip.window_time)} windows of {of}, recorded in {file}\n"
        f"# {si(trip, 'duration'):.4g} s in lines {si(trip, 'spacing'):.3g} Hz apart, "
        f"{trip.averages:.3g} independent averages\n"
        f"# random error, one standard deviation: {trip.random_error:.1%} of the mean, "
        f"{window:.0%} of a window\n{road_table(road)}"
    )


def trip_record(
    record: Recording | str | os.PathLike[str] | Iterable[Recording],
    *,
    spacing: Given | None = None,
    shocks_above: Given = "1 g0",
    progress: Callable[[float], None] | None = None,
    **reading: Any,
) -> TripRecord:
    """Look at a long record.

    Parameters
    ----------
    record : Recording, path, or blocks of one recording in order
        A path is read by `read_blocks`, which takes `reading`.
    spacing : text or quantity [frequency], optional
        Of the lines: half a hertz, or wider where the record is short.
    shocks_above : text or quantity [acceleration]
        Shocks exceed this, and six times the vibration around them.
    progress : function of a number, optional
        Called with the share of a file that is read.

    Raises
    ------
    InputError
        Lines finer than the record, nothing in it, what `read_recording` raises.

    Notes
    -----
    welch-1967: segments under a Hann window that overlap by half, the mean of each taken off;
    random error 1/√n for n independent segments. Gaps are jumped.

    Examples
    --------
    >>> x = np.random.default_rng(0).normal(size=100_000)
    >>> found = trip_record(Recording.of(x, unit="1 m/s**2", rate="200 Hz"))
    >>> print(f"{found.mean.mean():.3f} {found.kurtosis[0]:.1f} {len(found.shocks)}")
    0.010 3.0 0
    """
    blocks = as_blocks(record, progress=progress, **reading)
    least = ACCELERATION.read(shocks_above, "shocks_above")
    wide = None if spacing is None else FREQUENCY.read(spacing, "spacing")
    sums: _Sums | None = None
    lost = 0
    for block in blocks:
        if len(block.time) < 2:
            lost, source = lost + block.missing, block.source
            continue
        if sums is None:
            sums = _Sums.of(block, wide, least)
        sums.add(block.time, block.acceleration)
        sums.source, sums.missing = block.source, sums.missing + block.missing
    if sums is None and lost:
        enough(0, lost, source)
    if sums is None:
        raise InputError("record: there is nothing in it; give a recording or blocks of one")
    return sums.result()


def as_blocks(
    record: Recording | str | os.PathLike[str] | Iterable[Recording],
    *,
    progress: Callable[[float], None] | None = None,
    **reading: Any,
) -> Iterator[Recording]:
    """A record in blocks, whatever it is given as; see `trip_record`."""
    if isinstance(record, Recording):
        return iter([record])
    if isinstance(record, str | os.PathLike):
        return read_blocks(Path(record), progress=progress, **reading)
    refuse_other("record", record, Iterable, BLOCKS)
    return _each_block(record)


def _each_block(blocks: Iterable[Recording]) -> Iterator[Recording]:
    for block in blocks:
        refuse_other("record", block, Recording, BLOCKS)
        yield block


class _Sums:
    """What is kept while blocks go by."""

    def __init__(
        self, names: tuple[str, ...], rate: float, length: int, least: float, linear: bool
    ) -> None:
        self.names, self.rate, self.length, self.least = names, rate, length, least
        self.linear = linear
        lines = np.arange(length // 2 + 1) * rate / length
        self.use = (lines > 0) & (lines <= NYQUIST_SHARE * rate)
        self.frequency = lines[self.use]
        shape = (len(names), len(self.frequency))
        self.mean, self.highest = np.zeros(shape), np.zeros(shape)
        self.levels = np.zeros((_BINS, *shape), dtype=np.int32)
        self.count = 0
        self.moments = np.zeros((4, len(names)))  # n, Σx², Σx⁴, largest |x|
        self.windows: list[tuple[float, FloatArray, FloatArray, FloatArray]] = []
        self.shocks: list[Shock] = []
        self.falls: list[Fall] = []
        self.triples = [
            [names.index(f"{sensor} {axis}".strip()) for axis in "xyz"]
            for sensor in dict.fromkeys(name[:-1].strip() for name in names)
            if all(f"{sensor} {axis}".strip() in names for axis in "xyz")
        ]
        self.felt = np.zeros((len(self.triples), 3))
        self.samples = self.missing = 0
        self.source = "record"
        self.rest: tuple[FloatArray, FloatArray] | None = None
        self.tail: tuple[FloatArray, FloatArray] | None = None
        self.looked = -np.inf

    @classmethod
    def of(cls, first: Recording, spacing: float | None, least: float) -> _Sums:
        rate = true_rate(first.time)
        pieces = even_pieces(first.time, first.acceleration[:, :1], rate)
        whole = max((len(x) for _, x in pieces), default=0) / rate
        wide = max(SPACING, (SEGMENTS + 1) / 2 / whole) if spacing is None else spacing
        refuse_spacing(wide, whole)
        length = max(8, round(rate / wide))
        return cls(first.names, rate, length + length % 2, least, first.linear)

    def add(self, time: FloatArray, values: FloatArray) -> None:
        self._events(time, values, last=False)
        if self.rest is not None:
            time = np.concatenate([self.rest[0], time])
            values = np.concatenate([self.rest[1], values])
        pieces = even_pieces(time, values, self.rate)
        self.rest = None
        for k, (t, x) in enumerate(pieces):
            done = self._windows(t, x)
            if k == len(pieces) - 1:
                self.rest = (t[done:], x[done:])
            else:
                self._short(t[done:], x[done:])

    def _windows(self, t: FloatArray, x: FloatArray) -> int:
        """Take whole windows off the front; how many samples they had."""
        size = (SEGMENTS + 1) * self.length // 2
        for first in range(0, len(x) - size + 1, size):
            self._window(t[first], x[first : first + size])
        return len(x) // size * size

    def _short(self, t: FloatArray, x: FloatArray) -> None:
        """What is left before a gap or the end: in the mean, but no level of its own."""
        if len(x) >= self.length:
            self._density(x)
            self._moments(x - x.mean(axis=0))

    def _density(self, x: FloatArray) -> FloatArray:
        power = np.zeros((len(self.names), len(self.frequency)))
        count = 0
        for each in spectra(x, self.length, self.rate):
            part = each[:, :, self.use]
            power += (part.real**2 + part.imag**2).sum(axis=0)
            count += len(each)
        self.mean += power
        self.count += count
        return power / count

    def _moments(self, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        square = x * x
        two, four = square.sum(axis=0), (square * square).sum(axis=0)
        most = np.sqrt(square.max(axis=0))
        self.moments[0] += len(x)
        self.moments[1] += two
        self.moments[2] += four
        self.moments[3] = np.maximum(self.moments[3], most)
        return two, four, most

    def _window(self, start: float, x: FloatArray) -> None:
        density = self._density(x)
        self.highest = np.maximum(self.highest, density)
        with np.errstate(divide="ignore"):
            level = np.clip((np.log10(density) - _LOW) / _BIN, 0, _BINS - 1).astype(np.intp)
        channel, line = np.ogrid[: level.shape[0], : level.shape[1]]
        self.levels[level, channel, line] += 1
        two, four, most = self._moments(x - x.mean(axis=0))
        n = len(x)
        rms = np.sqrt(two / n)
        with np.errstate(divide="ignore", invalid="ignore"):
            self.windows.append((start, rms, four * n / two**2, most / rms))

    def _events(self, time: FloatArray, values: FloatArray, *, last: bool) -> None:
        if self.tail is not None:
            time = np.concatenate([self.tail[0], time])
            values = np.concatenate([self.tail[1], values])
        until = np.inf if last else time[-1] - TAIL / 2
        if not last:
            self.felt += np.array([values[:, at].sum(axis=0) for at in self.triples]).reshape(-1, 3)
            self.samples += len(values)
        for t, x in even_pieces(time, values, self.rate):
            for shock in find_shocks(t, x, self.names, self.rate, self.least):
                if self.looked < shock.time <= until:
                    self.shocks.append(shock)
            for at in (at for at, seen in zip(self.triples, self._seen(), strict=True) if seen):
                for fall in find_falls(t, x[:, at], self.rate):
                    if self.looked < fall.time + si(fall, "duration") <= until:
                        self.falls.append(fall)
        self.shocks.sort(key=lambda one: -si(one, "peak"))
        del self.shocks[MOST_SHOCKS:]
        keep = time > time[-1] - TAIL
        self.tail = (time[keep], values[keep])
        self.looked = until

    def _seen(self) -> npt.NDArray[np.bool_]:
        """Which sensors with three axes have felt gravity so far."""
        means = np.linalg.norm(self.felt / max(self.samples, 1), axis=1) / G0
        return np.asarray((means > SEEN) & (not self.linear))

    def result(self) -> TripRecord:
        enough(self.samples, self.missing, self.source)
        if self.tail is not None:
            self._events(np.empty(0), np.empty((0, len(self.names))), last=True)
        if self.rest is not None:
            self._short(*self.rest)
        if not self.count:
            raise InputError(
                f"record: no stretch of {self.length / self.rate:.3g} s without a gap, which lines "
                f"{self.rate / self.length:.3g} Hz apart need; give a wider spacing"
            )
        n, two, four, most = self.moments
        rms = np.sqrt(two / n)
        with np.errstate(divide="ignore", invalid="ignore"):
            kurtosis, crest = four * n / two**2, most / rms
        averages = float(effective(self.count))
        columns: list[Any] = [[one[k] for one in self.windows] for k in range(4)]
        when, levels, peaked, crests = columns
        shape = (len(when), len(self.names))
        made = TripRecord(
            names=self.names,
            duration=DURATION.quantity(float(n[0] / self.rate)),
            spacing=FREQUENCY.quantity(self.rate / self.length),
            averages=averages,
            random_error=float(averages**-0.5),
            frequency=self.frequency,
            mean=self.mean / self.count,
            highest=self.highest if self.windows else self.mean / self.count,
            window_time=np.array(when, dtype=float),
            window_rms=np.array(levels, dtype=float).reshape(shape),
            window_kurtosis=np.array(peaked, dtype=float).reshape(shape),
            window_crest=np.array(crests, dtype=float).reshape(shape),
            rms=rms,
            kurtosis=kurtosis,
            crest=crest,
            shocks=tuple(self.shocks),
            falls=tuple(self.falls) if self._seen().any() else None,
            sentences=(),
            levels=self.levels,
        )
        object.__setattr__(made, "sentences", tuple(_sentences(made, self.missing)))
        return made


def _sentences(trip: TripRecord, missing: int) -> list[str]:
    out = [
        f"{si(trip, 'duration'):.4g} s in lines {si(trip, 'spacing'):.3g} Hz apart, each by "
        f"{trip.averages:.3g} independent averages known within {trip.random_error:.0%} (one "
        "standard deviation)."
    ]
    if missing:
        out.append(f"{missing} samples had no number and are left out, as gaps are.")
    for k, name in enumerate(trip.names):
        if not trip.rms[k] > STILL:
            out.append(f"{name}: it stands still.")
            continue
        f = trip.frequency[1:]
        inside = float(np.sqrt(mean_square(f, np.maximum(trip.mean[k, 1:], 1e-300)))) / G0
        text = (
            f"{name}: {trip.rms[k] / G0:.3g} g rms, {inside:.3g} g of it from {f[0]:.3g} to "
            f"{f[-1]:.4g} Hz; kurtosis {trip.kurtosis[k]:.3g}, crest {trip.crest[k]:.3g}."
        )
        out.append(text)
    rough = [n for n, k in zip(trip.names, trip.kurtosis, strict=True) if k > 4]
    if rough:
        out.append(
            f"Not Gaussian: {', '.join(rough)}; three times the rms is exceeded more often than a "
            "spectrum says, use the crest and the shocks."
        )
    out.append(f"{len(trip.shocks)} shocks" + (", the largest are kept." if trip.shocks else "."))
    if trip.falls is None:
        out.append("Falls are not known: that needs three axes of one sensor that sees gravity.")
    else:
        out.append(f"{len(trip.falls)} falls.")
    return out

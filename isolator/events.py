"""What happens in a recording now and then: shocks, and falls in which nothing is felt."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from isolator.pulse import RATE, shock_spectrum
from isolator.record_quality import A_PULSE, refuse_pulse
from isolator.units import (
    ACCELERATION,
    DURATION,
    G0,
    HEIGHT,
    SPEED,
    FloatArray,
    Measure,
    si,
)

CREST = 6.0
"""A shock exceeds the vibration around it so many times: by chance once in 5e8 samples."""

APART = 0.05
"""Peaks nearer than this are one shock. [s]"""

AROUND = 0.25
"""What is kept of a recording on either side of a shock. [s]"""

FALLING = 0.5
"""Below so many g, all axes together, a case falls."""

SHORTEST = 0.1
"""Falls that are shorter, from less than 5 cm, are set down by hand. [s]"""

HIT = 2.0
"""A fall ends in a hit above so many g within `APART`."""

_SAMPLE = 40_000


@dataclass(frozen=True, kw_only=True)
class Shock:
    """One shock.

    Attributes
    ----------
    time : float
        Of its peak. [s]
    channel : str
        In which it is largest.
    peak : quantity [acceleration]
        Its magnitude, from the mean of the part around it.
    duration : quantity [time]
        Of the same sign and above a tenth of the peak.
    velocity_change : quantity [speed]
        Integral over that time.
    crest : float
        Peak over the rms of what is around it. [-]
    rate : float
        [Hz]
    samples : (n, c) array
        What was felt, all channels, less that mean. [m/s²]
    """

    time: float
    channel: str
    peak: Measure = Measure(ACCELERATION)
    duration: Measure = Measure(DURATION)
    velocity_change: Measure = Measure(SPEED.within(0.0))
    crest: float
    rate: float
    samples: FloatArray = field(repr=False, compare=False)

    @property
    def resolved(self) -> bool:
        """Long enough for its peak to be known."""
        return si(self, "duration") * self.rate >= A_PULSE * (1 - 1e-9)

    @property
    def sentence(self) -> str:
        """One line."""
        text = (
            f"{self.time:.3f} s, {self.channel}: {si(self, 'peak') / G0:.3g} g for "
            f"{1e3 * si(self, 'duration'):.3g} ms, {si(self, 'velocity_change'):.3g} m/s"
        )
        short = f"; shorter than {A_PULSE:g} samples, so the peak is at least that"
        return f"{text}{'' if self.resolved else short}."

    def spectrum(
        self, frequency: npt.ArrayLike | None = None, damping_ratio: float = 0.05
    ) -> tuple[FloatArray, FloatArray]:
        """Frequencies (f,) [Hz] and the largest |acceleration| (c, f) of a mass on them. [m/s²]

        Raises
        ------
        InputError
            A pulse that the sensor does not resolve; a frequency above a tenth of the rate.

        Notes
        -----
        iso-18431-4, see `pulse.shock_spectrum`. From two cycles in what was kept up to a tenth of
        the rate, unless frequencies are given.
        """
        refuse_pulse(si(self, "duration"), self.rate)
        f = np.geomspace(1 / AROUND, self.rate / RATE, 60) if frequency is None else frequency
        f = np.atleast_1d(np.asarray(f, dtype=float))
        return f, shock_spectrum(self.samples.T, self.rate, f, damping_ratio)


@dataclass(frozen=True, kw_only=True)
class Fall:
    """A time in which nothing was felt.

    Attributes
    ----------
    time : float
        Of its start. [s]
    duration : quantity [time]
    height, lowest, highest : quantities [length]
        ½gt², and what the duration and the rest that was felt leave open: drag slows a fall, spin
        is felt without slowing it. A case that is thrown up falls from less, a quarter at least.
    felt : float
        Mean of what was still felt. [g]
    hit : float
        Largest reading just after it. [g]
    """

    time: float
    duration: Measure = Measure(DURATION)
    height: Measure = Measure(HEIGHT)
    lowest: Measure = Measure(HEIGHT)
    highest: Measure = Measure(HEIGHT)
    felt: float
    hit: float

    @property
    def sentence(self) -> str:
        """One line."""
        end = f"a hit of {self.hit:.3g} g" if self.hit > HIT else "no hit, so it was caught"
        return (
            f"{self.time:.3f} s: {si(self, 'duration'):.3g} s of fall, {si(self, 'height'):.2g} m "
            f"if let go at rest ({si(self, 'lowest'):.2g} to {si(self, 'highest'):.2g} m by drag "
            f"and timing, with {self.felt:.2g} g still felt, by drag or spin; a quarter of it if "
            f"thrown up), then {end}."
        )


def find_shocks(
    time: FloatArray,
    values: FloatArray,
    names: tuple[str, ...],
    rate: float,
    least: float,
) -> list[Shock]:
    """Shocks in a stretch of even samples without a gap.

    Parameters
    ----------
    time : (n,) array
        [s]
    values : (n, c) array
        [m/s²]
    names : texts
    rate : float
        [Hz]
    least : float
        What does not exceed it is none. [m/s²]

    Returns
    -------
    list of Shock
        In order.
    """
    thin = values[:: max(1, len(values) // _SAMPLE)]
    x = values - np.median(thin, axis=0)
    # Of Gaussian vibration its rms, whatever hits.
    usual = np.median(np.abs(thin - np.median(thin, axis=0)), axis=0) / 0.6745
    loud = (np.abs(x) > np.maximum(CREST * usual, least)).any(axis=1)
    at = np.flatnonzero(loud)
    if not at.size:
        return []
    groups = np.split(at, np.flatnonzero(np.diff(at) > APART * rate) + 1)
    wide = int(AROUND * rate)
    out = []
    for group in groups:
        part = np.abs(x[group])
        top, channel = np.unravel_index(int(part.argmax()), part.shape)
        k = int(group[top])
        own = x[:, channel] * np.sign(x[k, channel])
        low = own <= 0.1 * own[k]
        before, after = np.flatnonzero(low[:k]), np.flatnonzero(low[k:])
        first = int(before[-1]) + 1 if before.size else 0
        last = k + int(after[0]) - 1 if after.size else len(own) - 1
        around = slice(max(0, k - wide), k + wide + 1)
        out.append(
            Shock(
                time=float(time[k]),
                channel=names[int(channel)],
                peak=ACCELERATION.quantity(float(own[k])),
                duration=DURATION.quantity((last - first + 1) / rate),
                velocity_change=SPEED.quantity(abs(float(own[first : last + 1].sum())) / rate),
                crest=float(own[k] / max(float(usual[channel]), 1e-12)),
                rate=rate,
                samples=x[around].copy(),
            )
        )
    return out


def find_falls(time: FloatArray, values: FloatArray, rate: float) -> list[Fall]:
    """Falls in a stretch (n,) [s] of the three axes (n, 3) [m/s²] of a sensor that sees gravity.

    A fall that the stretch begins or ends with is left out.
    """
    size = np.sqrt((values**2).sum(axis=1)) / G0
    light = size < FALLING
    edges = np.flatnonzero(np.diff(np.concatenate([[0], light.astype(np.int8), [0]])))
    starts, ends = edges[::2], edges[1::2]
    whole = (starts > 0) & (ends < len(size)) & ((ends - starts + 1) / rate >= SHORTEST)
    out = []
    for first, last in zip(starts[whole], ends[whole], strict=True):

        def crossing(k: int) -> float:
            part = (FALLING - size[k - 1]) / (size[k] - size[k - 1])
            return float(time[k - 1] + part * (time[k] - time[k - 1]))

        long = crossing(last) - crossing(first)
        if long < SHORTEST:
            continue
        inner = size[first:last]
        trim = len(inner) // 8
        felt = float(inner[trim : len(inner) - trim].mean())
        hit = float(size[last : last + int(APART * rate) + 1].max())
        fast = G0 / 2 * (1 - felt)
        out.append(
            Fall(
                time=crossing(first),
                duration=DURATION.quantity(long),
                height=HEIGHT.quantity(G0 / 2 * long**2),
                lowest=HEIGHT.quantity(fast * max(long - 2 / rate, 0.5 * long) ** 2),
                highest=HEIGHT.quantity(G0 / 2 * (long + 2 / rate) ** 2),
                felt=felt,
                hit=hit,
            )
        )
    return out

"""A tone that stays and a tone that sweeps: what it is, and what the mounts make of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from isolator.pair import RESONANT, ComplexArray, two_channels
from isolator.record_quality import NYQUIST_SHARE, refuse_frequency
from isolator.recording import Recording
from isolator.segments import even_pieces
from isolator.sine import FASTEST
from isolator.units import FREQUENCY, FloatArray, InputError, Measure, OptionalMeasure, number, si

CYCLES = 10.0
"""Of a sweep in the window that follows it."""

WHOLE = 2.0
"""Cycles of a tone that a record must have: of fewer, a tone is not told from a ramp or a step."""


@dataclass(frozen=True, kw_only=True)
class Tone:
    """A steady sine in one channel.

    Attributes
    ----------
    frequency, frequency_within : quantities [frequency]
        With half of its 95 % interval, on the recorder's own clock.
    amplitude : complex
        Of a cosine at time zero. [m/s²]
    within : float
        Half of the 95 % interval of its magnitude. [m/s²]
    distortion : float
        Rms of the rest over that of the sine. [-]
    """

    frequency: Measure = Measure(FREQUENCY)
    frequency_within: Measure = Measure(FREQUENCY.within(0.0))
    amplitude: complex
    within: float
    distortion: float


def tone(recording: Recording, channel: str) -> Tone:
    """Fit the strongest sine of a channel: amplitude, phase, offset and frequency.

    Raises
    ------
    InputError
        No such channel, no tone in it, fewer than `WHOLE` cycles, more than 0.4 of the rate.

    Notes
    -----
    The sine fit of four parameters of ieee-1057, at the times that the samples have.

    Examples
    --------
    >>> t = np.arange(500) / 1000
    >>> made = Recording.of(3 * np.cos(2 * np.pi * 31.7 * t), unit="1 m/s**2", rate="1 kHz")
    >>> found = tone(made, "x")
    >>> print(f"{found.frequency:.3f~} {abs(found.amplitude):.3f}")
    31.700 Hz 3.000
    """
    one = recording.only(channel)
    if len(one.names) != 1:
        raise InputError(f"channel = {channel!r}: {len(one.names)} channels; name one")
    x, length = one.acceleration[:, 0] - one.acceleration.mean(), one.duration
    t = (one.time - one.time[0]) / length
    grid = np.linspace(0, 1, len(t))
    even = np.interp(grid, t, x) * np.hanning(len(t))
    power = np.abs(np.fft.rfft(even, 4 * len(t)))
    omega = 2 * np.pi * int(power.argmax()) / (4 * len(t) / (len(t) - 1))
    highest = 2 * np.pi * NYQUIST_SHARE * one.rate * length
    for _ in range(30):
        c, s = np.cos(omega * t), np.sin(omega * t)
        base = np.stack([c, s, np.ones_like(t)], axis=1)
        p = np.linalg.lstsq(base, x)[0]
        slope = t * (p[1] * c - p[0] * s)
        full = np.column_stack([base, slope])
        if not np.pi < omega <= highest:
            break
        step = float(np.linalg.lstsq(full, x)[0][3])
        omega += step
        if abs(step) < 1e-12 * omega:
            break
    rest, height = x - base @ p, float(np.hypot(p[0], p[1]))
    if not height**2 / 2 > rest.var():
        raise _no_tone(channel)
    cycles = omega / (2 * np.pi)
    if not cycles >= WHOLE:
        raise InputError(
            f"channel = {channel!r}: {max(cycles, 0.0):.4g} cycles of its strongest tone in "
            f"{length:.4g} s, fewer than {WHOLE:g}; record longer, or give one that shakes"
        )
    refuse_frequency(cycles / length, one.rate, f"tone of {channel!r}")
    within, cycles_within = _within(full, p, rest)
    if not height > 4 / 1.96 * within:
        raise _no_tone(channel)
    return Tone(
        frequency=FREQUENCY.quantity(cycles / length),
        frequency_within=FREQUENCY.quantity(cycles_within / length),
        amplitude=complex(p[0], -p[1]),
        within=within,
        distortion=float(rest.std() * np.sqrt(2) / height),
    )


def _within(full: FloatArray, p: FloatArray, rest: FloatArray) -> tuple[float, float]:
    """Half of the 95 % intervals of the magnitude [m/s²] and of the cycles in the record [-].

    From the columns (n, 4) of the fit, its sine (3,) and what it leaves (n,); infinite where the
    columns tell nothing.
    """
    size = np.linalg.norm(full, axis=0)
    _, singular, ways = np.linalg.svd(full / size, full_matrices=False)
    if not singular[-1] > 1e-9:
        return np.inf, np.inf
    sigma = np.sqrt((rest @ rest) / (len(rest) - 4))
    root = sigma * ways / singular[:, None] / size
    height = np.hypot(p[0], p[1])
    magnitude = float(np.linalg.norm(root[:, :2] @ (p[:2] / height)))
    return 1.96 * magnitude, 1.96 * float(np.linalg.norm(root[:, 3])) / (2 * np.pi)


def _no_tone(channel: str) -> InputError:
    return InputError(f"channel = {channel!r}: there is no tone in it; give one that shakes")


def dwell(recording: Recording, *, base: str, payload: str) -> tuple[Tone, complex, float]:
    """The tone of the base, the payload over it, and half of the 95 % interval of the magnitude.

    Raises
    ------
    InputError
        No such channel, no tone in the base.

    Examples
    --------
    >>> t = np.arange(500) / 1000
    >>> both = np.stack([np.cos(200 * t), 0.5 * np.cos(200 * t - 1)], axis=1)
    >>> made = Recording.of(both, unit="1 g0", rate="1 kHz", names=["b", "p"])
    >>> found, ratio, within = dwell(made, base="b", payload="p")
    >>> print(f"{abs(ratio):.3f} {np.angle(ratio):.3f}")
    0.500 -1.000
    """
    both = two_channels(recording, base, payload)
    found = tone(recording, base)
    t = recording.time - recording.time[0]
    omega = 2 * np.pi * si(found, "frequency")
    shapes = np.stack([np.cos(omega * t), np.sin(omega * t), np.ones_like(t)], axis=1)
    p = np.linalg.lstsq(shapes, both[:, 1])[0]
    rest = both[:, 1] - shapes @ p
    off = 1.96 * float(rest.std() * np.sqrt(2 / len(t)))
    size = abs(found.amplitude)
    ratio = complex(p[0], -p[1]) / found.amplitude
    return found, ratio, float(np.hypot(off / size, abs(ratio) * found.within / size))


@dataclass(frozen=True, kw_only=True)
class Swept:
    """What comes through while a tone goes through its band.

    Attributes
    ----------
    frequency : (k,) array
        [Hz]
    ratio : (k,) complex array
        Payload over base. [-]
    rate : float
        Octaves a minute. [-]
    resonance, peak : quantity [frequency] or None, float
        Where the largest ratio is, and the ratio there.
    too_fast : bool or None
        So fast that the peak is lower than a steady one by more than 5 %, or that the tone moves by
        half the width of the peak within a window; None without a peak.
    """

    frequency: FloatArray = field(repr=False, compare=False)
    ratio: ComplexArray = field(repr=False, compare=False)
    rate: float
    resonance: OptionalMeasure = OptionalMeasure(FREQUENCY)
    peak: float
    too_fast: bool | None


def swept(recording: Recording, *, base: str, payload: str, cycles: float = CYCLES) -> Swept:
    """Payload over base in a window of so many cycles that follows the tone of the base.

    Both are weighed by a Hann window and compared at the frequency that the base has there. In half
    of the windows that tone must be half of the mean square of the base, as for `tone`.

    Raises
    ------
    InputError
        No such channel, cycles out of range, no tone that moves, a tone above 0.4 of the rate, a
        rate that is none.
    """
    cycles = number(cycles, "cycles", WHOLE, 1000.0)
    rate = recording.rate
    pieces = even_pieces(recording.time, two_channels(recording, base, payload), rate)
    t, x = max(pieces, key=lambda piece: len(piece[0]))
    x = x - x.mean(axis=0)
    found: list[tuple[float, float, complex, float]] = []
    most = float(np.abs(x[:, 0]).max())
    at, f = 0, _loudest(x[: max(64, int(rate)), 0], rate)
    while True:
        wide = max(16, int(cycles * rate / f))
        part = x[at : at + wide]
        if len(part) < wide:
            break
        now = _loudest(part[:, 0], rate)
        window = np.hanning(wide)
        turn = np.exp(-2j * np.pi * now * np.arange(wide) / rate) * window
        of_base, of_payload = turn @ part
        if abs(of_base) > 0.02 * most * wide / 4 and now * wide >= WHOLE * rate:
            whole = ((window * part[:, 0]) ** 2).sum() / (window**2).sum()
            share = 2 * abs(of_base / window.sum()) ** 2 / whole
            found.append((float(t[at]) + wide / rate / 2, now, of_payload / of_base, share))
        f = float(np.clip(now, f / 2, 2 * f))
        at += max(1, wide // 4)
    if len(found) < 8 or not np.median([share for *_, share in found]) > 0.5:
        raise InputError(
            f"base = {base!r}: there is no tone to follow; give the sweep alone, or fewer cycles"
        )
    when, tones, ratio, _ = (np.array(column) for column in zip(*found, strict=True))
    refuse_frequency(float(tones.max()), rate, "sweep")
    octaves = float(np.log2(tones[-1] / tones[0]))
    if abs(octaves) < 0.1:
        raise InputError(
            f"base = {base!r}: its tone stays at {tones.mean():.4g} Hz; that is a dwell, use dwell"
        )
    speed = abs(octaves) / float(when[-1] - when[0]) * 60
    size = np.abs(ratio)
    top = int(size.argmax())
    inside = 0 < top < len(size) - 1 and size[top] > RESONANT
    fast = None
    if inside:
        steady = FASTEST * tones[top] / size[top] ** 2
        sharp = 60 * tones[top] / (2 * np.log(2) * cycles * size[top])
        fast = bool(speed > min(steady, sharp))
    return Swept(
        frequency=tones,
        ratio=ratio,
        rate=speed,
        resonance=FREQUENCY.quantity(float(tones[top])) if inside else None,
        peak=float(size[top]) if inside else np.nan,
        too_fast=fast,
    )


def _loudest(x: FloatArray, rate: float) -> float:
    """Frequency of the strongest line, between lines by a parabola through three. [Hz]"""
    n = 8 * len(x)
    power = np.abs(np.fft.rfft((x - x.mean()) * np.hanning(len(x)), n))
    k = 4 + int(power[4:-1].argmax())
    a, b, c = power[k - 1 : k + 2]
    aside = 0.5 * (a - c) / (a - 2 * b + c) if b > max(a, c) else 0.0
    return float((k + aside) * rate / n)

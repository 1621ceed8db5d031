"""A tone that stays and a tone that sweeps: what it is, and what the mounts make of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from isolator.pair import RESONANT, ComplexArray, two_channels
from isolator.record_quality import refuse_frequency
from isolator.recording import Recording
from isolator.segments import even_pieces
from isolator.sine import FASTEST
from isolator.units import FREQUENCY, FloatArray, InputError, Measure, OptionalMeasure, si

CYCLES = 10.0
"""Of a sweep in the window that follows it."""


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
        No such channel, no tone in it.

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
    t, x = one.time - one.time[0], one.acceleration[:, 0]
    grid = np.linspace(0, t[-1], len(t))
    even = np.interp(grid, t, x - x.mean()) * np.hanning(len(t))
    power = np.abs(np.fft.rfft(even, 4 * len(t)))
    omega = 2 * np.pi * int(power.argmax()) / (4 * t[-1] * len(t) / (len(t) - 1))
    if omega == 0:
        raise _no_tone(channel)
    for _ in range(30):
        c, s = np.cos(omega * t), np.sin(omega * t)
        base = np.stack([c, s, np.ones_like(t)], axis=1)
        p = np.linalg.lstsq(base, x)[0]
        slope = t * (p[1] * c - p[0] * s)
        full = np.column_stack([base, slope])
        step = float(np.linalg.lstsq(full, x)[0][3])
        omega += step
        if abs(step) < 1e-12 * omega:
            break
    rest = x - base @ p
    try:
        spread = np.linalg.inv(full.T @ full) * (rest @ rest) / (len(t) - 4)
    except np.linalg.LinAlgError:
        raise _no_tone(channel) from None
    height = float(np.hypot(p[0], p[1]))
    way = p[:2] / max(height, 1e-300)
    if not height > 4 * float(np.sqrt(way @ spread[:2, :2] @ way)) or height**2 / 2 < rest.var():
        raise _no_tone(channel)
    return Tone(
        frequency=FREQUENCY.quantity(omega / (2 * np.pi)),
        frequency_within=FREQUENCY.quantity(1.96 * float(np.sqrt(spread[3, 3])) / (2 * np.pi)),
        amplitude=complex(p[0], -p[1]),
        within=1.96 * float(np.sqrt(way @ spread[:2, :2] @ way)),
        distortion=float(rest.std() * np.sqrt(2) / height),
    )


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

    Both are weighed by a Hann window and compared at the frequency that the base has there.

    Raises
    ------
    InputError
        No such channel, no tone that moves, a tone above 0.4 of the rate.
    """
    rate = recording.rate
    pieces = even_pieces(recording.time, two_channels(recording, base, payload), rate)
    t, x = max(pieces, key=lambda piece: len(piece[0]))
    x = x - x.mean(axis=0)
    found: list[tuple[float, float, complex]] = []
    most = float(np.abs(x[:, 0]).max())
    at, f = 0, _loudest(x[: max(64, int(rate)), 0], rate)
    while True:
        wide = max(16, int(cycles * rate / f))
        part = x[at : at + wide]
        if len(part) < wide:
            break
        now = _loudest(part[:, 0], rate)
        turn = np.exp(-2j * np.pi * now * np.arange(wide) / rate) * np.hanning(wide)
        of_base, of_payload = turn @ part
        if abs(of_base) > 0.02 * most * wide / 4:
            found.append((float(t[at]) + wide / rate / 2, now, of_payload / of_base))
        f = float(np.clip(now, f / 2, 2 * f))
        at += max(1, wide // 4)
    if len(found) < 8:
        raise InputError(f"base = {base!r}: there is no tone to follow; give the sweep alone")
    when, tones, ratio = (np.array(column) for column in zip(*found, strict=True))
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
    bend = a - 2 * b + c
    return float((k + (0.5 * (a - c) / bend if bend else 0.0)) * rate / n)

"""Two sensors, one on the case and one on the payload: what the mounts let through.

By H1 from any vibration that is broad enough, with coherence and random error; by fitted tones
from a dwell; by a window that follows the tone from a sweep.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from isolator.quality import NYQUIST_SHARE, refuse_frequency, refuse_spacing
from isolator.recording import Recording
from isolator.segments import effective, even_pieces, spectra
from isolator.sine import FASTEST
from isolator.units import (
    FREQUENCY,
    FloatArray,
    Given,
    InputError,
    Measure,
    OptionalMeasure,
    si,
)

A_BANDWIDTH = 13.0
"""Lines that the half-power width of a resonance needs for its peak to read within 1 %."""

AVERAGES = 16
"""Segments into which a record is cut, unless the spacing is stated."""

COHERENT = 0.5
"""Coherence below which a line says nothing of the mounts."""

RESONANT = 1.2
"""A ratio above which a peak is called a resonance."""

A_SIDE = 6
"""Lines on each side of a peak that a fit of it takes at least."""

CYCLES = 10.0
"""Of a sweep in the window that follows it."""

ComplexArray = npt.NDArray[np.complex128]


@dataclass(frozen=True, kw_only=True)
class Transfer:
    """What comes through, line by line.

    Attributes
    ----------
    frequency : (f,) array
        Above zero. [Hz]
    ratio : (f,) complex array
        Payload over base, H1. [-]
    coherence : (f,) array
        0 to 1. [-]
    error : (f,) array
        Random error of |ratio|, one standard deviation over the value. [-]
    spacing : quantity [frequency]
    averages : float
        Independent segments. [-]
    resonance, damping_ratio : quantity [frequency] or None, float
        Of the highest peak that is coherent, by a fit of one mode beside a constant; None and nan
        where there is none.
    needed_spacing : quantity [frequency] or None
        With which that peak reads within 1 %.
    reads_low : float
        Share by which that peak reads low at this spacing; nan without one. [-]
    sentences : tuple of str
    """

    frequency: FloatArray = field(repr=False, compare=False)
    ratio: ComplexArray = field(repr=False, compare=False)
    coherence: FloatArray = field(repr=False, compare=False)
    error: FloatArray = field(repr=False, compare=False)
    spacing: Measure = Measure(FREQUENCY)
    averages: float
    resonance: OptionalMeasure = OptionalMeasure(FREQUENCY)
    damping_ratio: float
    needed_spacing: OptionalMeasure = OptionalMeasure(FREQUENCY)
    reads_low: float
    sentences: tuple[str, ...] = field(repr=False)


def together(base: Recording, payload: Recording, *, lag: float = 0.0) -> Recording:
    """Two recordings as one with the sensors "base" and "payload", on the clock of the first.

    The faster one is read at the times of the slower one by cubic splines, so that a tone at a
    tenth of the rate keeps its height within 0.1 %.

    Parameters
    ----------
    base, payload : Recording
    lag : float
        What the payload's clock shows when the base's shows zero. [s]

    Raises
    ------
    InputError
        No time in common.

    Notes
    -----
    Two clocks drift. Magnitudes bear that as long as a segment is short, phases do not.
    """
    from scipy.interpolate import CubicSpline

    late = payload.time - lag
    slow = base.time if base.rate <= payload.rate else late
    t = slow[(slow >= max(base.time[0], late[0])) & (slow <= min(base.time[-1], late[-1]))]
    if len(t) < 16:
        raise InputError(
            f"base and payload have {len(t)} samples in common: they last {base.duration:.4g} and "
            f"{payload.duration:.4g} s; give recordings of the same time, or the lag"
        )
    both = [
        clock.acceleration if np.array_equal(own, t) else CubicSpline(own, clock.acceleration)(t)
        for own, clock in ((base.time, base), (late, payload))
    ]
    names: list[str] = []
    for who, one in (("base", base), ("payload", payload)):
        axes = [name.split()[-1] for name in one.names]
        names += [f"{who} {n}" for n in (axes if len(set(axes)) == len(axes) else one.names)]
    return Recording(t - t[0], np.hstack(both), tuple(names), source=f"{base.source} and others")


def transmissibility(
    recording: Recording,
    *,
    base: str,
    payload: str,
    spacing: Given | None = None,
    highest: Given | None = None,
) -> Transfer:
    """Payload over base by H1 = Gxy/Gxx.

    Parameters
    ----------
    recording : Recording
    base, payload : str
        Names of the two channels.
    spacing : text or quantity [frequency], optional
        Of the lines; left out, as the record gives about sixteen segments.
    highest : text or quantity [frequency], optional
        0.4 of the rate if left out.

    Raises
    ------
    InputError
        Lines finer than the record, a frequency above 0.4 of the rate, a base that does not move,
        no such channel.

    Notes
    -----
    bendat-piersol: coherence γ² = |Gxy|²/(Gxx·Gyy), random error of |H1| √(1 − γ²)/(|γ|√(2n)) for n
    independent segments. Noise in the base lowers H1, noise in the payload does not. Hann windows
    that overlap by half.

    Examples
    --------
    A payload that is bolted down feels what its case feels:

    >>> x = np.random.default_rng(0).normal(size=4000)
    >>> made = Recording.of(np.stack([x, x], 1), unit="1 g0", rate="400 Hz", names=["b", "p"])
    >>> through = transmissibility(made, base="b", payload="p")
    >>> bool(np.allclose(through.ratio, 1)), bool(np.allclose(through.coherence, 1))
    (True, True)
    """
    rate = recording.rate
    top = NYQUIST_SHARE * rate if highest is None else FREQUENCY.read(highest, "highest")
    refuse_frequency(top, rate, "highest")
    pieces = even_pieces(recording.time, _two(recording, base, payload), rate)
    whole = max((len(x) for _, x in pieces), default=0) / rate
    wide = (AVERAGES + 1) / 2 / whole if spacing is None else FREQUENCY.read(spacing, "spacing")
    refuse_spacing(wide, whole)
    length = max(8, round(rate / wide))
    length += length % 2
    sums = np.zeros((3, length // 2 + 1), dtype=complex)
    count = 0
    for _, x in pieces:
        if len(x) < length:
            continue
        for each in spectra(x, length, rate):
            b, p = each[:, 0], each[:, 1]
            sums += np.stack([(u.conj() * v).sum(axis=0) for u, v in ((b, b), (b, p), (p, p))])
            count += len(each)
    f = np.arange(length // 2 + 1) * rate / length
    use = (f > 1.5 * rate / length) & (f <= top)  # what takes off the mean reaches the first line
    xx, xy, yy = sums[0].real[use], sums[1][use], sums[2].real[use]
    if not (xx > 0).all():
        raise InputError(f"base = {base!r}: it does not move; give the channel on the case")
    coherence = np.minimum(np.abs(xy) ** 2 / (xx * np.maximum(yy, 1e-300)), 1.0)
    n = float(effective(count))
    with np.errstate(divide="ignore"):
        error = np.sqrt((1 - coherence) / (2 * n * coherence))
    ratio = xy / xx
    known = coherence > COHERENT if count > 1 else np.zeros(len(xx), dtype=bool)
    tall = known & (np.abs(ratio) > RESONANT)
    at, zeta = peak_mode(f[use], ratio, tall) if tall.any() else (np.nan, np.nan)
    step = rate / length
    low = np.nan if np.isnan(zeta) else reads_low(at, zeta, step)
    needed = None if np.isnan(zeta) else 2 * zeta * at / A_BANDWIDTH
    words = _sentences(coherence, n, step, at, zeta, low, needed)
    return Transfer(
        frequency=f[use],
        ratio=ratio,
        coherence=coherence,
        error=error,
        spacing=FREQUENCY.quantity(step),
        averages=n,
        resonance=None if np.isnan(at) else FREQUENCY.quantity(at),
        damping_ratio=zeta,
        needed_spacing=None if needed is None else FREQUENCY.quantity(needed),
        reads_low=low,
        sentences=words,
    )


def _two(recording: Recording, base: str, payload: str) -> FloatArray:
    both = [recording.only(name) for name in (base, payload)]
    for name, one in zip((base, payload), both, strict=True):
        if len(one.names) != 1:
            raise InputError(
                f"channel = {name!r}: {len(one.names)} channels; name one, as in {one.names[0]!r}"
            )
    return np.hstack([one.acceleration for one in both])


def peak_mode(
    frequency: npt.ArrayLike, ratio: npt.ArrayLike, known: npt.ArrayLike | None = None
) -> tuple[float, float]:
    """Frequency and damping ratio of the highest peak of a frequency response.

    H ≈ R/(s − f²) + D around it: multiplied out, H·f² = H·s + D·f² − (R + D·s) is linear in s, D
    and R + D·s. Where the peak has fallen to half, six lines at least. √s = f_n(√(1 − ζ²) + iζ), as of
    a ring-down; structural damping η, s = f_n²(1 + iη), reads f_n(1 + η²/4) and ζ near η/2.

    Parameters
    ----------
    frequency : (n,) array
        Even and rising. [Hz]
    ratio : (n,) complex array
        Of any kind.
    known : (n,) bool array, optional
        Lines that count; all if left out.

    Returns
    -------
    float, float
        nan where the peak is at an end of the lines that are known. [Hz, -]

    Examples
    --------
    >>> f = np.arange(10.0, 30.0, 0.1)
    >>> at, zeta = peak_mode(f, 1 / ((20 * (np.sqrt(1 - 0.08**2) + 0.08j)) ** 2 - f**2))
    >>> f"{at:.6f} {zeta:.6f}"
    '20.000000 0.080000'
    """
    f, h = np.asarray(frequency, dtype=float), np.asarray(ratio, dtype=complex)
    size = np.abs(h) if known is None else np.where(known, np.abs(h), 0.0)
    top = int(size.argmax()) if size.size else 0
    if not 1 < top < len(f) - 2 or not size[top] > 0:
        return np.nan, np.nan
    near = np.flatnonzero(size[: top + 1] < size[top] / 2)
    far = np.flatnonzero(size[top:] < size[top] / 2)
    low = min(int(near[-1]) if near.size else 0, top - A_SIDE)
    high = max(top + int(far[0]) if far.size else len(f) - 1, top + A_SIDE)
    part = slice(max(low, 0), min(high, len(f) - 1) + 1)
    y, g = h[part] / size[top], f[part] ** 2 / f[top] ** 2
    shapes = np.stack([y, g.astype(complex), -np.ones_like(y)], axis=1)
    s = complex(np.linalg.lstsq(shapes, y * g)[0][0])
    if not s.real > 0:
        return np.nan, np.nan
    root = np.sqrt(s)
    return float(f[top] * abs(root)), float(abs(root.imag) / abs(root))


def reads_low(frequency: float, damping_ratio: float, spacing: float) -> float:
    """Share by which the peak of a transmissibility reads low between lines that are wide apart.

    Under a flat base H1 is H, averaged over the power of the Hann window.

    Parameters
    ----------
    frequency, spacing : float
        Of the resonance; between lines. [Hz]
    damping_ratio : float
        Viscous. [-]

    Examples
    --------
    >>> round(reads_low(20.0, 0.08, 0.2441), 3)
    0.009
    """
    offsets = np.linspace(-8, 8, 3201)
    window = (np.sinc(offsets) / np.where(np.abs(offsets**2 - 1) < 1e-9, 1, 1 - offsets**2)) ** 2
    window[np.abs(offsets**2 - 1) < 1e-9] = 0.25
    window /= window.sum()
    lines = spacing * np.arange(
        max(1, int(0.5 * frequency / spacing)), int(1.5 * frequency / spacing) + 2
    )

    def through(f: FloatArray) -> ComplexArray:
        r = np.abs(f) / frequency
        return np.asarray((1 + 2j * damping_ratio * r) / (1 - r**2 + 2j * damping_ratio * r))

    seen = np.abs((through(lines[:, None] + spacing * offsets) * window).sum(axis=1)).max()
    true = np.abs(through(frequency * np.linspace(0.7, 1.1, 4001))).max()
    return float(1 - seen / true)


def _sentences(
    coherence: FloatArray,
    averages: float,
    spacing: float,
    at: float,
    zeta: float,
    low: float,
    needed: float | None,
) -> tuple[str, ...]:
    part = float((coherence > COHERENT).mean())
    out = [
        f"Lines {spacing:.3g} Hz apart from {averages:.3g} independent segments.",
        f"Coherence is above {COHERENT:g} at {part:.0%} of the lines; the others say nothing.",
    ]
    if averages < 2:
        out[1] = "One segment alone is always coherent: the record is too short for these lines."
    if needed is None:
        return (*out, f"No resonance stands out above {RESONANT:g}.")
    out.append(f"Resonance at {at:.4g} Hz, damping ratio {zeta:.3g}.")
    text = f"Its peak reads low by {low:.1%} at this spacing"
    if spacing > needed:
        text += (
            f"; within 1 % it needs {needed:.3g} Hz, with {AVERAGES} segments "
            f"{(AVERAGES + 1) / 2 / needed:.3g} s of record"
        )
    return (*out, f"{text}.")


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
    if omega == 0 or power.max() == 0:
        raise InputError(f"channel = {channel!r}: there is no tone in it; give one that shakes")
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
    spread = np.linalg.inv(full.T @ full) * (rest @ rest) / (len(t) - 4)
    height = float(np.hypot(p[0], p[1]))
    way = p[:2] / max(height, 1e-300)
    if not height > 4 * float(np.sqrt(way @ spread[:2, :2] @ way)) or height**2 / 2 < rest.var():
        raise InputError(f"channel = {channel!r}: there is no tone in it; give one that shakes")
    return Tone(
        frequency=FREQUENCY.quantity(omega / (2 * np.pi)),
        frequency_within=FREQUENCY.quantity(1.96 * float(np.sqrt(spread[3, 3])) / (2 * np.pi)),
        amplitude=complex(p[0], -p[1]),
        within=1.96 * float(np.sqrt(way @ spread[:2, :2] @ way)),
        distortion=float(rest.std() * np.sqrt(2) / height),
    )


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
    both = _two(recording, base, payload)
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
    pieces = even_pieces(recording.time, _two(recording, base, payload), rate)
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
    k = int(np.clip(power[4:-1].argmax() + 4, 4, len(power) - 2))
    a, b, c = power[k - 1 : k + 2]
    bend = a - 2 * b + c
    return float((k + (0.5 * (a - c) / bend if bend else 0.0)) * rate / n)

"""Two sensors, one on the case and one on the payload: what the mounts let through.

By H1, from any vibration that is broad enough, with coherence and random error.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from isolator.record_quality import NYQUIST_SHARE, refuse_frequency, refuse_spacing
from isolator.recording import Recording
from isolator.sdof import viscous_peak
from isolator.segments import effective, even_pieces, spectra
from isolator.units import (
    FREQUENCY,
    FloatArray,
    Given,
    InputError,
    Measure,
    OptionalMeasure,
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
        no such channel, one for both.

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
    pieces = even_pieces(recording.time, two_channels(recording, base, payload), rate)
    whole = max(len(x) for _, x in pieces) / rate
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
    if not (xx > np.finfo(float).tiny).all():
        raise InputError(f"base = {base!r}: it does not move; give the channel on the case")
    size = np.abs(xy)
    coherence = np.minimum(size / xx * (size / np.maximum(yy, 1e-300)), 1.0)
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


def two_channels(recording: Recording, base: str, payload: str) -> FloatArray:
    """Both (n, 2), each named so that it is one channel, and not the same. [m/s²]"""
    both = [recording.only(name) for name in (base, payload)]
    for name, one in zip((base, payload), both, strict=True):
        if len(one.names) != 1:
            raise InputError(
                f"channel = {name!r}: {len(one.names)} channels; name one, as in {one.names[0]!r}"
            )
    if both[0].names == both[1].names:
        raise InputError(
            f"base = {base!r}: the channel of the payload too; name one on the case and one on "
            "the payload"
        )
    return np.hstack([one.acceleration for one in both])


def peak_mode(
    frequency: npt.ArrayLike, ratio: npt.ArrayLike, known: npt.ArrayLike | None = None
) -> tuple[float, float]:
    """Frequency and damping ratio of the highest peak of a frequency response.

    H ≈ R/(s − f²) + D around it: multiplied out, H·f² = H·s + D·f² − (R + D·s) is linear in s, D
    and R + D·s. Where the peak has fallen to half, six lines at least. √s = f_n(√(1 − ζ²) + iζ), as
    of a ring-down; structural damping η, s = f_n²(1 + iη), reads f_n(1 + η²/4) and ζ near η/2.

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
    near = np.flatnonzero(size[:top] < size[top] / 2)
    far = np.flatnonzero(size[top:] < size[top] / 2)
    low = min(int(near[-1]) if near.size else 0, top - A_SIDE)
    high = max(top + int(far[0]) if far.size else len(f), top + A_SIDE)
    part = slice(max(low, 0), high + 1)
    y, g = h[part] / size[top], f[part] ** 2 / f[top] ** 2
    shapes = np.stack([y, g.astype(complex), np.ones_like(y)], axis=1)
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
    window = (np.sinc(offsets) + (np.sinc(offsets - 1) + np.sinc(offsets + 1)) / 2) ** 2
    window /= window.sum()
    lines = spacing * np.arange(
        max(1, int(0.5 * frequency / spacing)), int(1.5 * frequency / spacing) + 2
    )

    def through(f: FloatArray) -> ComplexArray:
        r = f / frequency
        return np.asarray((1 + 2j * damping_ratio * r) / (1 - r**2 + 2j * damping_ratio * r))

    seen = np.abs((through(lines[:, None] + spacing * offsets) * window).sum(axis=1)).max()
    return float(1 - seen / viscous_peak(damping_ratio)[1])


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

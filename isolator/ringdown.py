"""A tap and what rings after it: natural frequencies and damping, with what they may be off.

What follows a tap is taken as a sum of decaying sines, fitted to the samples at the times that
they have, so that jitter and gaps do no harm. The two hand methods stand beside the fit.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from isolator.decay import MOST_MODES, Fit, Mode, best_fit, credible, fit_near
from isolator.record_quality import refuse_frequency
from isolator.recording import Recording
from isolator.units import (
    DURATION,
    FREQUENCY,
    FloatArray,
    Given,
    InputError,
    Measure,
    refuse_other,
    si,
)

STANDS_OUT = 3.0
"""The tap must be so many times what the record has otherwise."""

EXPLAINED = 0.6
"""Share of the mean square after the tap that the modes must explain."""

CLEAR = 0.9
"""Share above which what is left may swing as well: a mode that shifts with amplitude leaves it."""

QUIET = 0.11
"""Rms near the frequency of the tap, away from it, as a share of its largest swing at the most; of
vibration that goes on it is a quarter or so."""

ABRUPT = 0.25
"""What swings before the tap, as a share of what swings after it, at the most."""


@dataclass(frozen=True, kw_only=True)
class RingDown:
    """What a tap tells.

    Attributes
    ----------
    modes : tuple of Mode
        The strongest first.
    start, end : quantities [time]
        The part of the recording that was fitted.
    explained : float
        Share of the mean square that the modes explain. [-]
    decrement, half_power : floats
        Damping ratio of the strongest mode by the hand methods; nan where they fail. [-]
    early, late : Mode or None
        The strongest mode while it is above and below 1/e of its first amplitude.
    names : tuple of str
        Of the channels.
    sentences : tuple of str
    """

    modes: tuple[Mode, ...]
    start: Measure = Measure(DURATION.within(0.0))
    end: Measure = Measure(DURATION)
    explained: float
    decrement: float
    half_power: float
    early: Mode | None
    late: Mode | None
    names: tuple[str, ...]
    sentences: tuple[str, ...] = field(repr=False)

    @property
    def amplitude_matters(self) -> bool | None:
        """Intervals of frequency or damping of the early and the late part do not meet.

        None where one of the parts is too short.
        """
        if self.early is None or self.late is None:
            return None
        first, last = self.early, self.late
        apart = abs(si(first, "frequency") - si(last, "frequency"))
        within = si(first, "frequency_within") + si(last, "frequency_within")
        lossy = abs(first.damping_ratio - last.damping_ratio)
        return bool(apart > within or lossy > first.damping_within + last.damping_within)


def log_decrement(first: npt.ArrayLike, last: npt.ArrayLike, cycles: npt.ArrayLike) -> FloatArray:
    """Damping ratio from two peaks, δ = ln(x0/xn)/n, ζ = δ/√(4π² + δ²).

    Parameters
    ----------
    first, last : (...) arrays
        Peaks of the same sign, `cycles` apart; any unit.
    cycles : (...) array
        From one to the other, above 0. [-]

    Returns
    -------
    (...) array
        [-]

    Raises
    ------
    InputError
        Peaks of unlike sign or zero; no cycle between them; a peak that grows.

    Notes
    -----
    open-vibrations, chapter 2. An offset, noise in the last peak and a second mode shift it.

    Examples
    --------
    >>> round(float(log_decrement(2.0, 0.22, 1)), 3)
    0.331
    """
    a, b, n = (np.asarray(value, dtype=float) for value in (first, last, cycles))
    if not np.all((a * b > 0) & (np.abs(b) <= np.abs(a)) & (n > 0)):
        raise InputError(
            "first and last: not two peaks of one sign, the second no larger, a cycle or more "
            "apart; read them again"
        )
    delta = np.log(a / b) / n
    return np.asarray(delta / np.sqrt(4 * np.pi**2 + delta**2))


def half_power(frequency: npt.ArrayLike, amplitude: npt.ArrayLike) -> float:
    """Damping ratio by the width of a peak at 1/√2 of its height, ζ ≈ (f2 − f1)/2fp.

    Parameters
    ----------
    frequency : (n,) array
        Rising. [Hz]
    amplitude : (n,) array
        Of a response, above 0; any unit.

    Returns
    -------
    float
        nan without a point, where the peak is at an end, or where it does not fall so far on both
        sides. [-]

    Notes
    -----
    Common practice, for one light mode: on a displacement response it reads .0503, .1021 and .2183
    at .05, .10 and .20. Straight lines between the points.

    Examples
    --------
    >>> r = np.linspace(0.5, 1.5, 20001)
    >>> round(half_power(r, 1 / np.hypot(1 - r**2, 2 * 0.05 * r)), 4)
    0.0503
    """
    f, x = np.asarray(frequency, dtype=float), np.asarray(amplitude, dtype=float)
    if not x.size:
        return np.nan
    top = int(x.argmax())
    level = x[top] / np.sqrt(2)
    below, above = np.flatnonzero(x[:top] < level), np.flatnonzero(x[top:] < level)
    if not below.size or not above.size:
        return np.nan
    i, j = int(below[-1]), top + int(above[0])
    low = f[i] + (level - x[i]) / (x[i + 1] - x[i]) * (f[i + 1] - f[i])
    high = f[j - 1] + (x[j - 1] - level) / (x[j - 1] - x[j]) * (f[j] - f[j - 1])
    return float((high - low) / (2 * f[top]))


def ring_down(
    recording: Recording,
    *,
    modes: int | None = None,
    start: float | None = None,
    end: float | None = None,
    expected: Given | None = None,
) -> RingDown:
    """Find the free decay after the strongest tap and fit it.

    Each channel is x = x0 + Σ e^(−σt)(p·cos ω_d t + q·sin ω_d t), with the same σ and ω_d in all
    channels: least squares over σ and ω_d, the rest being linear. Starting values come from the
    matrix pencil of Hua and Sarkar (1990). Intervals hold for noise that is uneven in time or
    correlated, too: the larger of the usual covariance and that of Newey and West (1987).

    Parameters
    ----------
    recording : Recording
        One body; one to three axes.
    modes : int, optional
        How many, 1 to `MOST_MODES`; left out, as many as the criterion of Schwarz (1978) bears.
    start, end : float, optional
        Of the free decay, where it is known. [s]
    expected : text or quantity [frequency], optional
        The highest that is looked for.

    Raises
    ------
    InputError
        No free decay in it, above 0.4 of the rate, a wrong number of modes.

    Notes
    -----
    hua-sarkar-1990, newey-west-1987. Of rubber the frequency falls with amplitude: compare `early`
    and `late`. A decay of less than about a cycle and a half gives nothing.

    Examples
    --------
    >>> t = np.arange(400) / 200
    >>> tap = np.where(t < 0.5, 0.0, np.exp(-4 * (t - 0.5)) * np.cos(50 * (t - 0.5)))
    >>> noise = np.random.default_rng(1).normal(0, 0.002, 400)
    >>> found = ring_down(Recording.of(tap + noise, unit="1 g0", rate="200 Hz"))
    >>> print(f"{found.modes[0].frequency:.2f~} {found.modes[0].damping_ratio:.3f}")
    7.98 Hz 0.080
    """
    refuse_other("recording", recording, Recording, "a Recording, as read_recording gives one")
    rate = recording.rate
    if expected is not None:
        refuse_frequency(FREQUENCY.read(expected, "expected"), rate, "expected")
    if modes is not None and modes not in range(1, MOST_MODES + 1):
        raise InputError(
            f"modes = {modes!r:.20}: not 1 to {MOST_MODES}; give how many are looked for"
        )
    first, last = _window(recording, start, end)
    given, began, after = start is not None, first, first
    fit = None
    for _ in range(3):
        t, x = recording.time[after:last], recording.acceleration[after:last]
        if len(t) < 24:
            break
        first, fit = after, best_fit(t - t[0], x, rate, modes)
        if fit is None or given or not _loud_start(fit):
            break
        after += int(rate * np.pi / fit.poles[0].imag)  # the tap still pushed
    if fit is None:
        raise _none(recording, "no sum of a few decaying sines is near it")
    _believe(fit, recording, began)
    if not given and _goes_on(fit, recording, began, last):
        raise _none(recording, "it swings on at that frequency, so nothing was let go")
    found = fit.modes()
    early, late = _parts(fit)
    by_peaks, by_width = _by_hand(fit)
    words = _sentences(found, fit, by_peaks, by_width, early, late)
    return RingDown(
        modes=found,
        start=DURATION.quantity(float(recording.time[first])),
        end=DURATION.quantity(float(recording.time[last - 1])),
        explained=fit.explained,
        decrement=by_peaks,
        half_power=by_width,
        early=early,
        late=late,
        names=recording.names,
        sentences=words,
    )


def _none(recording: Recording, why: str) -> InputError:
    return InputError(
        f"{recording.source}: there is no free decay in it ({why}), so no frequency and no damping "
        "are given; tap once, let it ring out, keep still before and after, or state start and end"
    )


def _window(recording: Recording, start: float | None, end: float | None) -> tuple[int, int]:
    """Samples from where the strongest tap no longer pushes to where nothing is left of it."""
    t, x = recording.time, recording.acceleration
    x = x - np.median(x, axis=0)
    if start is not None or end is not None:
        low = t[0] if start is None else start
        part = (t >= low) & (t <= (t[-1] if end is None else end))
        if part.sum() < 24:
            raise InputError(
                f"start and end: {int(part.sum())} samples between them, too few; the recording "
                f"has {t[0]:.4g} to {t[-1]:.4g} s"
            )
        at = np.flatnonzero(part)
        if start is not None:
            return int(at[0]), int(at[-1]) + 1
        x = x[: at[-1] + 1]
    power = (x**2).sum(axis=1)
    peak = int(power.argmax())
    wide = _cycle(x[peak:])
    smooth = np.sqrt(_running(power, wide))
    floor = float(np.quantile(smooth, 0.2))
    if not np.sqrt(power[peak]) > STANDS_OUT * floor:
        raise _none(recording, "nothing stands out")
    after = smooth[peak:]
    least = np.minimum.accumulate(after)
    stop = np.flatnonzero(
        (after < 1.3 * floor) | ((after > STANDS_OUT * least) & (after > 4 * floor))
    )
    last = peak + int(stop[0]) if stop.size else len(x)
    if last - peak < 4:
        raise _none(recording, "nothing rings on")
    strongest = x[peak:last, int((x[peak] ** 2).argmax())]
    turned = np.flatnonzero(strongest * strongest[0] < 0)
    return peak + (int(turned[0]) if turned.size else 1), last


def _running(x: FloatArray, wide: int) -> FloatArray:
    """Mean over so many samples around each, fewer at the ends."""
    total = np.concatenate([[0.0], x.cumsum()])
    at = np.arange(len(x))
    low, high = np.maximum(at - wide // 2, 0), np.minimum(at - wide // 2 + wide, len(x))
    return np.asarray((total[high] - total[low]) / (high - low))


def _cycle(x: FloatArray) -> int:
    """Samples of a cycle of what is strongest in x (n, c); a tenth at most, eight at least."""
    n = len(x)
    fading = np.linspace(1.0, 0.0, n)[:, None] ** 2
    power = (np.abs(np.fft.rfft((x - x.mean(axis=0)) * fading, axis=0)) ** 2).sum(axis=1)
    return max(8, min(n // max(1, int(power.argmax())), n // 10))


def _loud_start(fit: Fit) -> bool:
    """What the fit leaves is loud within the first half cycle: the tap still pushed."""
    half = fit.t < np.pi / fit.poles[0].imag
    if half.sum() < 4 or (~half).sum() < 4:
        return False
    early, rest = (fit.left[half] ** 2).mean(), (fit.left[~half] ** 2).mean()
    return bool(early > 4 * rest and early > 1e-6 * (fit.x[half] ** 2).mean())


def _believe(fit: Fit, recording: Recording, first: int) -> None:
    clear = fit.explained > CLEAR
    if not fit.explained > EXPLAINED or not (clear or _white(fit.left)):
        raise _none(recording, f"decaying sines explain {max(fit.explained, 0):.0%} of it")
    sigma, off = -fit.poles[0].real, np.sqrt(fit.covariance[0, 0])
    if not (sigma > 2 * off and sigma * fit.t[-1] > 0.7):
        raise _none(recording, "what swings in it does not die away")
    t = recording.time - recording.time[first]
    period = 2 * np.pi / fit.poles[0].imag
    before = (t > -4 * period) & (t < -1.5 * period)
    if before.sum() > 3:
        moved = (recording.acceleration[before] - fit.linear[-1]) ** 2
        if moved.sum(axis=1).mean() > ABRUPT**2 * (fit.linear[:-1] ** 2).sum():
            raise _none(recording, "it swings before as well as after, so nothing was let go")
    refuse_frequency(float(np.abs(fit.poles).max()) / (2 * np.pi), recording.rate, "ring-down")


def _goes_on(fit: Fit, recording: Recording, first: int, last: int) -> bool:
    """What swings near the strongest mode away from the tap is no small part of the tap."""
    t = recording.time
    channel = int(np.hypot(fit.linear[0], fit.linear[len(fit.poles)]).argmax())
    f, step = fit.poles[0].imag / (2 * np.pi), 1 / recording.rate
    even = np.arange(t[0], t[-1], step)
    outside = (even < t[first] - 1.5 / f) | (even > t[last - 1])
    if outside.sum() * step * f < 5:
        return False  # cut to the tap: it cannot be told
    x = np.interp(even, t, recording.acceleration[:, channel])
    lines = np.fft.rfftfreq(len(x), step)
    near = np.where(np.abs(lines - f) < 0.25 * f, np.fft.rfft(x), 0.0)
    power = _running(np.fft.irfft(near, len(x)) ** 2, int(1 / f / step))
    height = np.abs(fit.x[:, channel] - fit.linear[-1, channel]).max()
    return bool(np.sqrt(np.median(power[outside])) > QUIET * height)


def _white(left: FloatArray) -> bool:
    """Neighbours in what is left (n, c) are little alike; of vibration that goes on they are."""
    return bool((left[1:] * left[:-1]).sum() < 0.5 * (left**2).sum())


def _parts(fit: Fit) -> tuple[Mode | None, Mode | None]:
    """The strongest mode before and after its amplitude is 1/e of the first."""
    split = -1 / fit.poles[0].real
    whole = fit.modes()[0]
    out: list[Mode | None] = []
    for part in (fit.t <= split, fit.t > split):
        t, x = fit.t[part], fit.x[part]
        one = fit_near(t - t[0], x, fit.poles) if len(t) > 16 else None
        if one is None or not credible(one):
            out.append(None)
            continue
        near = min(
            one.modes(), key=lambda mode: abs(si(mode, "frequency") - si(whole, "frequency"))
        )
        out.append(near)
    return out[0], out[1]


def _by_hand(fit: Fit) -> tuple[float, float]:
    """The damping ratio by peaks that can be read, and by the width of a spectrum."""
    from scipy.signal import find_peaks

    channel = int(np.abs(fit.modes()[0].amplitude).argmax())
    t, x = fit.t, fit.x[:, channel] - fit.linear[-1, channel]
    period = 2 * np.pi / fit.poles[0].imag
    step = t[-1] / (len(t) - 1)
    noise = float(np.sqrt((fit.left[:, channel] ** 2).mean()))
    tops = find_peaks(x, distance=max(1, int(0.7 * period / step)), height=max(3 * noise, 1e-12))[0]
    by_peaks = np.nan
    if len(tops) >= 2:
        cycles = round((t[tops[-1]] - t[tops[0]]) / period)
        if cycles >= 1 and x[tops[-1]] < x[tops[0]]:
            by_peaks = float(log_decrement(x[tops[0]], x[tops[-1]], cycles))
    even = np.interp(np.arange(len(t)) * step, t, x)
    spectrum = np.abs(np.fft.rfft(even, 16 * len(even)))
    lines = np.fft.rfftfreq(16 * len(even), step)
    f = fit.poles[0].imag / (2 * np.pi)
    near = (lines > 0.6 * f) & (lines < 1.5 * f)
    return by_peaks, half_power(lines[near], spectrum[near])


def _sentences(
    modes: tuple[Mode, ...],
    fit: Fit,
    by_peaks: float,
    by_width: float,
    early: Mode | None,
    late: Mode | None,
) -> tuple[str, ...]:
    out = [
        f"{si(m, 'frequency'):.4g} Hz ± {si(m, 'frequency_within'):.2g}, damping ratio "
        f"{m.damping_ratio:.3g} ± {m.damping_within:.2g} (95 %)."
        for m in modes
    ]
    truth = modes[0].damping_ratio
    for name, value, why in (
        ("log decrement", by_peaks, "noise and other modes lift its last peak"),
        ("half power", by_width, "a short record widens its peak"),
    ):
        if np.isnan(value):
            out.append(f"By {name} it cannot be read.")
        else:
            out.append(f"By {name} {value:.3g}, {value - truth:+.2g} off the fit: {why}.")
    if early is None or late is None:
        out.append("Too short to compare its early with its late part.")
    else:
        out.append(
            f"Early {si(early, 'frequency'):.4g} Hz ± {si(early, 'frequency_within'):.2g} and "
            f"{early.damping_ratio:.3g} ± {early.damping_within:.2g}, late "
            f"{si(late, 'frequency'):.4g} Hz ± {si(late, 'frequency_within'):.2g} and "
            f"{late.damping_ratio:.3g} ± {late.damping_within:.2g}."
        )
    out.append(f"The modes explain {fit.explained:.1%} of what follows the tap.")
    return tuple(out)

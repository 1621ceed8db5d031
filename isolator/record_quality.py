"""What a recording can know and what it cannot, before any number is taken from it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from isolator.recording import GAP, Recording
from isolator.units import (
    ACCELERATION,
    DURATION,
    FREQUENCY,
    G0,
    MASS,
    FloatArray,
    Given,
    InputError,
    Measure,
    OptionalMeasure,
    si,
)

NYQUIST_SHARE = 0.4
"""Share of the rate up to which a frequency is read: half is the end, and filters need room."""

A_PULSE = 5.0
"""Samples that a pulse needs: the highest of a half-sine is then read within 5 %,
1 − cos(π/2N) at worst."""

CYCLES = 5.0
"""Cycles that a record needs of the lowest frequency that is read from it."""

SMEARED = 0.32
"""Over 2πσ, σ the jitter: above that frequency even times would take 5 % of a sine,
1 − e^(−(2πfσ)²/2)."""

REPEATS = 3
"""Equal samples in a row at the end of the range that may be a stop."""

STEEP = 5.0
"""Steps of the resolution by which the signal must jump away from a stop; a round top does not."""

STEADY = 0.01
"""Jitter, as a share of the step, below which times count as even."""

FEW = 200
"""Samples of the beginning and of the end that are compared at the most are a tenth, and so many
at least."""

_SAMPLE = 200_000


@dataclass(frozen=True)
class Finding:
    """One line of the page.

    Attributes
    ----------
    what : str
    sentence : str
    good : bool or None
        None where the record cannot tell.
    """

    what: str
    sentence: str
    good: bool | None


@dataclass(frozen=True, kw_only=True)
class Quality:
    """What a recording can know.

    Attributes
    ----------
    rate, highest, lowest : quantities [frequency]
        Samples a second without gaps; the band that can be used.
    jitter : quantity [time]
        Standard deviation of the steps that are no gaps.
    duration, longest_gap : quantities [time]
    gaps : int
        Steps in which samples are lost.
    missing : int
        Samples without a number, left out.
    resolution, peak : (c,) arrays
        Smallest step, largest magnitude. [m/s²]
    clipped : (c,) bool array
        The channel repeats its end and jumps away from it.
    offset, zero_shift, velocity_left : (c,) arrays
        Mean of the first tenth; by how much the mean of the last tenth differs, and what may be off
        in both together (95 %); integral over the record from the first mean. [m/s²; m/s]
    saturated : (c,) bool array or None
        Within 5 % of the full scale; None where that is not stated.
    gravity : "seen", "not seen" or None
    pulls_down : float
        Share by which the recorder's own mass lowers a natural frequency; nan if not stated. [-]
    findings : tuple of Finding
    """

    rate: Measure = Measure(FREQUENCY)
    highest: Measure = Measure(FREQUENCY)
    lowest: Measure = Measure(FREQUENCY)
    jitter: Measure = Measure(DURATION.within(0.0))
    duration: Measure = Measure(DURATION)
    longest_gap: OptionalMeasure = OptionalMeasure(DURATION)
    gaps: int
    missing: int
    names: tuple[str, ...]
    resolution: FloatArray = field(repr=False, compare=False)
    peak: FloatArray = field(repr=False, compare=False)
    clipped: npt.NDArray[np.bool_] = field(repr=False, compare=False)
    offset: FloatArray = field(repr=False, compare=False)
    zero_shift: FloatArray = field(repr=False, compare=False)
    zero_within: FloatArray = field(repr=False, compare=False)
    velocity_left: FloatArray = field(repr=False, compare=False)
    saturated: npt.NDArray[np.bool_] | None = field(repr=False, compare=False)
    gravity: str | None
    pulls_down: float
    findings: tuple[Finding, ...] = field(repr=False)


def quality(
    recording: Recording,
    *,
    full_scale: Given | None = None,
    recorder_mass: Given | None = None,
    on_mass: Given | None = None,
) -> Quality:
    """Look at a recording before anything is computed from it.

    Parameters
    ----------
    recording : Recording
    full_scale : text or quantity [acceleration], optional
        Largest reading that the sensor has.
    recorder_mass, on_mass : texts or quantities [mass], optional
        Of the recorder, and of the body that it lies on.

    Raises
    ------
    InputError
        Wrong units; one of the masses without the other.

    Notes
    -----
    A mass m on a body M lowers a natural frequency by 1 − √(M/(M + m)). Clipping is seen as three
    or more equal samples at the end of the range with a jump of five resolutions beside them.
    Whether a filter before the sampling kept higher frequencies out no recording can tell.

    Examples
    --------
    >>> t = np.arange(1000) / 200
    >>> still = Recording.of(0 * t + 1.0, unit="1 g0", rate="200 Hz", names=["z"])
    >>> seen = quality(still)
    >>> f"{seen.highest:~}", seen.gravity
    ('80.0 Hz', 'seen')
    """
    t, a = recording.time, recording.acceleration
    steps = np.diff(t)
    usual = steps[steps < GAP * np.median(steps)]
    rate, jitter = 1 / float(usual.mean()), float(usual.std())
    lost = steps[steps >= GAP * np.median(steps)]
    thin = a[:: max(1, len(a) // _SAMPLE)]
    resolution = np.array([_resolution(column) for column in thin.T])
    clipped = np.array(
        [_clipped(x, q) for x, q in zip(a.T, resolution, strict=True)], dtype=np.bool_
    )
    peak = np.abs(a).max(axis=0)
    saturated = None
    if full_scale is not None:
        saturated = peak > 0.95 * ACCELERATION.read(full_scale, "full_scale")
    offset, shift, within = _zeros(a)
    middle = (a[1:] + a[:-1]) / 2 - offset
    left = (middle * steps[:, None]).sum(axis=0)
    gravity = _gravity(recording)
    pulled = _pulled_down(recorder_mass, on_mass)
    smeared = SMEARED / (2 * np.pi * jitter) if jitter > STEADY / rate else np.inf
    seen = Quality(
        rate=FREQUENCY.quantity(rate),
        highest=FREQUENCY.quantity(min(NYQUIST_SHARE * rate, smeared)),
        lowest=FREQUENCY.quantity(CYCLES / recording.duration),
        jitter=DURATION.quantity(jitter),
        duration=DURATION.quantity(recording.duration),
        longest_gap=DURATION.quantity(float(lost.max())) if lost.size else None,
        gaps=int(lost.size),
        missing=recording.missing,
        names=recording.names,
        resolution=resolution,
        peak=peak,
        clipped=clipped,
        offset=offset,
        zero_shift=shift,
        zero_within=within,
        velocity_left=left,
        saturated=saturated,
        gravity=gravity,
        pulls_down=pulled,
        findings=(),
    )
    object.__setattr__(seen, "findings", tuple(_sentences(seen)))
    return seen


def _resolution(x: FloatArray) -> float:
    """A low quantile of the steps between distinct values: a converter's, or the noise's. [m/s²]"""
    apart = np.diff(np.unique(x))
    return float(np.quantile(apart, 0.02)) if apart.size else np.nan


def _clipped(x: FloatArray, resolution: float) -> bool:
    if np.isnan(resolution):
        return False
    for end in (x.max(), x.min()):
        at = np.abs(x - end) < resolution / 2
        edges = np.flatnonzero(np.diff(np.concatenate([[False], at, [False]]).astype(np.int8)))
        starts, stops = edges[::2], edges[1::2]
        runs = stops - starts >= REPEATS
        before = np.abs(x[np.maximum(starts[runs] - 1, 0)] - end)
        after = np.abs(x[np.minimum(stops[runs], len(x) - 1)] - end)
        if runs.any() and np.median(np.maximum(before, after)) > STEEP * resolution:
            return True
    return False


def _zeros(a: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean of the first tenth, how the last one differs, and what that may be off (95 %)."""
    count = min(max(len(a) // 10, min(FEW, len(a) // 2)), len(a) // 2)
    first, last = a[:count], a[-count:]
    # Means of eight parts each: neighbours in time are not independent.
    parts = [np.array([p.mean(axis=0) for p in np.array_split(x, 8)]) for x in (first, last)]
    within = 2.15 * np.sqrt(sum(p.var(axis=0, ddof=1) / 8 for p in parts))  # t of 14
    return first.mean(axis=0), last.mean(axis=0) - first.mean(axis=0), np.asarray(within)


def _gravity(recording: Recording) -> str | None:
    """Whether a sensor feels 1 g at rest, by the largest mean of any sensor."""
    if recording.linear:
        return "not seen"
    by_sensor = [recording.only(sensor) for sensor in recording.sensors]
    means = [float(np.linalg.norm(one.acceleration.mean(axis=0))) / G0 for one in by_sensor]
    whole = all(one.acceleration.shape[1] >= 3 for one in by_sensor)
    if all(0.8 < mean < 1.1 for mean in means):
        return "seen"
    return "not seen" if whole and all(mean < 0.2 for mean in means) else None


def _pulled_down(recorder: Given | None, body: Given | None) -> float:
    if recorder is None and body is None:
        return np.nan
    if recorder is None or body is None:
        raise InputError("recorder_mass and on_mass: one says nothing; give both or neither")
    m, whole = MASS.read(recorder, "recorder_mass"), MASS.read(body, "on_mass")
    return float(1 - np.sqrt(whole / (whole + m)))


def _which(names: tuple[str, ...], chosen: npt.NDArray[np.bool_]) -> str:
    return ", ".join(name for name, one in zip(names, chosen, strict=True) if one)


def _sentences(q: Quality) -> list[Finding]:
    rate, jitter = si(q, "rate"), si(q, "jitter")
    share = jitter * rate
    low, high = si(q, "lowest"), si(q, "highest")
    out = [
        Finding("rate", f"{rate:.6g} samples a second for {si(q, 'duration'):.4g} s.", True),
        Finding(
            "jitter",
            f"Steps vary by {1e3 * jitter:.3g} ms, {share:.1%} of one; "
            + ("they count as even." if share < STEADY else "fits use the times as they are."),
            share < STEADY,
        ),
    ]
    if q.gaps:
        longest = q.longest_gap
        assert longest is not None
        text = f"{q.gaps} steps have lost samples, the longest {longest.m_as('s'):.4g} s."
        out.append(Finding("gaps", text, False))
    else:
        out.append(Finding("gaps", "No samples are lost between the first and the last.", True))
    if q.missing:
        text = f"{q.missing} samples had no number and are left out."
        out.append(Finding("missing", text, False))
    coarse = q.resolution > q.peak / 20
    steps = ", ".join(
        f"{name} {step / G0:.2g} g" for name, step in zip(q.names, q.resolution, strict=True)
    )
    out.append(Finding("resolution", f"Smallest steps: {steps}.", not bool(coarse.any())))
    clipped = _which(q.names, q.clipped)
    text = f"Repeats its largest value and jumps away from it: {clipped}; peaks are cut there."
    out.append(
        Finding("clipping", text if clipped else "No channel stops at its end.", not clipped)
    )
    if q.saturated is None:
        text = f"The sensor's range is not stated; the largest reading is {q.peak.max() / G0:.4g} g"
        out.append(Finding("saturation", f"{text}, compare it with the sheet.", None))
    else:
        near = _which(q.names, q.saturated)
        text = f"Near the full scale: {near}; what is beyond is lost, and what follows is doubtful."
        out.append(Finding("saturation", text if near else "Far from the full scale.", not near))
    moved = np.abs(q.zero_shift) > np.maximum(q.zero_within, q.resolution)
    shift = float(np.abs(q.zero_shift).max())
    text = (
        f"The zero of {_which(q.names, moved)} moved by up to {shift / G0:.3g} g, which leaves "
        f"{float(np.abs(q.velocity_left).max()):.3g} m/s: turned meanwhile, or overloaded; take no "
        "velocity from it."
    )
    still = f"The zero moves by less than it scatters, {float(q.zero_within.max()) / G0:.2g} g."
    out.append(Finding("zero", text if moved.any() else still, not bool(moved.any())))
    known = {
        "seen": "Gravity is seen: it feels 1 g at rest.",
        "not seen": "Gravity is not seen: free fall cannot be found.",
        None: "Whether gravity is seen cannot be told from its mean.",
    }
    out.append(Finding("gravity", known[q.gravity], None if q.gravity is None else True))
    text = f"From {low:.3g} to {high:.4g} Hz"
    if low >= high:
        text = f"None: {low:.3g} Hz at least by its length, {high:.3g} Hz at most by its rate"
    out.append(Finding("band", f"{text}; a filter before the sampling is not known.", low < high))
    if np.isnan(q.pulls_down):
        text = "The recorder's own mass is not stated; on a light body it lowers frequencies."
        out.append(Finding("recorder", text, None))
    else:
        text = f"The recorder's mass lowers a frequency by {q.pulls_down:.2%}."
        out.append(Finding("recorder", text, q.pulls_down < 0.02))
    return out


def refuse_frequency(frequency: float, rate: float, what: str = "frequency") -> None:
    """Refuse what lies above `NYQUIST_SHARE` of the rate. [Hz]

    Raises
    ------
    InputError
        The record cannot know it.

    Examples
    --------
    >>> refuse_frequency(5.0, 10.0)
    Traceback (most recent call last):
    ...
    isolator.units.InputError: frequency = 5 Hz: above 0.4 of the rate of 10 Hz, where a record ...
    """
    if not frequency <= NYQUIST_SHARE * rate:
        raise InputError(
            f"{what} = {frequency:.4g} Hz: above {NYQUIST_SHARE:g} of the rate of {rate:.4g} Hz, "
            "where a record may mistake it for another; record at "
            f"{frequency / NYQUIST_SHARE:.4g} samples a second or more"
        )


def refuse_pulse(duration: float, rate: float) -> None:
    """Refuse a pulse shorter than `A_PULSE` samples. [s, Hz]

    Raises
    ------
    InputError
        The sensor does not resolve it: its peak is not known.
    """
    if not duration * rate >= A_PULSE * (1 - 1e-9):
        raise InputError(
            f"duration = {1e3 * duration:.4g} ms: shorter than {A_PULSE:g} samples at {rate:.4g} "
            f"Hz, so its peak is not known; record at {A_PULSE / duration:.4g} samples a second "
            "or more"
        )


def refuse_spacing(spacing: float, duration: float) -> None:
    """Refuse lines of a spectrum that are finer than the record. [Hz, s]

    Raises
    ------
    InputError
        Lines 1/duration apart are the finest that a record has.
    """
    if not spacing * duration >= 1 - 1e-9:
        raise InputError(
            f"spacing = {spacing:.4g} Hz: finer than the record of {duration:.4g} s, whose lines "
            f"are {1 / duration:.4g} Hz apart at the least; record {1 / spacing:.4g} s or longer"
        )

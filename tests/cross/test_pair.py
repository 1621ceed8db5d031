"""Two sensors against scipy's own estimates, simulated mounts of known truth, real shakers."""

from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

import control
import numpy as np
import pytest
from scipy import optimize, signal
from scipy.io import loadmat

from isolator.logger import read_recording
from isolator.pair import peak_mode, reads_low, together, transmissibility
from isolator.recording import Recording
from isolator.tones import _loudest as loudest
from isolator.tones import dwell, swept, tone
from isolator.units import G0, InputError, si

FOLDER = Path(__file__).parents[3] / "shared" / "recordings"
RATE = 1000.0
FREQUENCY, ZETA = 20.0, 0.08


def passes(f: np.ndarray | float, at: float = FREQUENCY, zeta: float = ZETA) -> np.ndarray:
    r = np.asarray(f) / at
    return (1 + 2j * zeta * r) / (1 - r**2 + 2j * zeta * r)


def felt(base: np.ndarray, at: float = FREQUENCY, zeta: float = ZETA) -> np.ndarray:
    """What a payload on one spring and dashpot feels: python-control's system, sampled by scipy."""
    omega = 2 * np.pi * at
    system = control.ss(control.tf([2 * zeta * omega, omega**2], [1, 2 * zeta * omega, omega**2]))
    a, b, c, d, _ = signal.cont2discrete(
        (system.A, system.B, system.C, system.D), 1 / RATE, method="foh"
    )
    upper, lower = signal.ss2tf(a, b, c, d)
    return signal.lfilter(upper[0], lower, base)


def shaken(seed: int, seconds: float, noise: float = 0.0) -> Recording:
    rng = np.random.default_rng(seed)
    base = rng.normal(size=int(seconds * RATE))
    payload = felt(base) + noise * rng.normal(size=len(base))
    both = np.stack([base, payload], axis=1)
    return Recording.of(both, unit="1 m/s**2", rate="1 kHz", names=["base z", "tray z"])


def flat(made: Recording) -> Recording:
    """Two channels for each of two sensors."""
    one = Recording.of(made.acceleration, unit="1 m/s**2", rate="1 kHz", names=["x", "y"])
    return together(one, one)


def through(made: Recording, **more):
    return transmissibility(made, base="base z", payload="tray z", **more)


def test_it_is_what_scipy_estimates():
    made = shaken(0, 20, 0.2)
    ours = through(made, spacing="0.5 Hz", highest="100 Hz")
    keys = {"fs": RATE, "window": "hann", "nperseg": 2000, "noverlap": 1000}
    x, y = made.acceleration.T
    f, xy = signal.csd(x, y, **keys)
    use = np.isin(np.round(f, 6), np.round(ours.frequency, 6))
    np.testing.assert_allclose(ours.ratio, (xy / signal.welch(x, **keys)[1])[use], rtol=1e-9)
    np.testing.assert_allclose(ours.coherence, signal.coherence(x, y, **keys)[1][use], rtol=1e-9)


def test_lines_scatter_about_the_truth_by_the_random_error():
    """Of 30 records 68 % are within one error and 95 % within two, where coherence is high."""
    off = []
    for seed in range(30):
        got = through(shaken(seed, 30, 0.5), spacing="0.5 Hz", highest="32 Hz")
        far = np.abs(got.frequency - FREQUENCY) > 8
        truth = np.abs(passes(got.frequency))
        off.append(((np.abs(got.ratio) - truth) / (got.error * truth))[far])
    every = np.abs(np.concatenate(off))
    assert 0.63 < (every < 1).mean() < 0.73
    assert 0.93 < (every < 2).mean() < 0.97


@pytest.mark.parametrize("power", [9, 10, 11, 12])
def test_wide_lines_lower_the_peak_as_said(power):
    """Ten long records: what they lose is `reads_low`, whatever the page prints."""
    spacing = RATE / 2**power
    lost = []
    for seed in range(10):
        got = through(shaken(seed, 400), spacing=f"{spacing} Hz", highest="40 Hz")
        assert got.reads_low == pytest.approx(reads_low(FREQUENCY, ZETA, spacing), rel=0.6)
        lost.append(1 - np.abs(got.ratio).max() / np.abs(passes(np.linspace(18, 21, 999))).max())
    within = 4 * np.std(lost) / np.sqrt(10) + 0.001
    assert np.mean(lost) == pytest.approx(reads_low(FREQUENCY, ZETA, spacing), abs=within)


def test_resonance_and_what_it_needs_are_found():
    got = through(shaken(1, 300, 0.1), highest="60 Hz", spacing="0.2 Hz")
    assert si(got, "resonance") == pytest.approx(FREQUENCY, rel=0.005)
    assert got.damping_ratio == pytest.approx(ZETA, rel=0.05)
    assert si(got, "needed_spacing") == pytest.approx(2 * ZETA * FREQUENCY / 13, rel=0.05)
    assert got.reads_low < 0.01
    coarse = through(shaken(1, 10), highest="60 Hz")
    assert coarse.reads_low > 0.05
    assert any("with 16 segments" in sentence for sentence in coarse.sentences)


def test_a_gap_costs_segments_and_no_truth():
    made = shaken(2, 60)
    keep = np.ones(len(made.time), dtype=bool)
    keep[20_000:20_500] = False
    part = Recording.of(
        made.acceleration[keep], unit="1 m/s**2", time=made.time[keep], names=made.names
    )
    whole, cut = (through(r, spacing="0.5 Hz", highest="60 Hz") for r in (made, part))
    assert cut.averages < whole.averages
    np.testing.assert_allclose(np.abs(cut.ratio), np.abs(whole.ratio), rtol=0.15)


def test_noise_in_the_base_lowers_coherence_and_is_not_a_resonance():
    rng = np.random.default_rng(3)
    both = rng.normal(size=(60_000, 2))
    made = Recording.of(both, unit="1 g0", rate="1 kHz", names=["base z", "tray z"])
    got = through(made)
    assert got.resonance is None
    assert np.isnan(got.damping_ratio)
    assert got.coherence.mean() == pytest.approx(1 / got.averages, rel=0.3)


def test_a_dwell_gives_ratio_and_phase():
    t = np.arange(4000) / RATE
    base = 5 * np.sin(2 * np.pi * 27.3 * t + 0.4)
    payload = np.abs(passes(27.3)) * 5 * np.sin(2 * np.pi * 27.3 * t + 0.4 + np.angle(passes(27.3)))
    noise = np.random.default_rng(4).normal(0, 0.3, (4000, 2))
    both = np.stack([base, payload], axis=1) + noise
    made = Recording.of(both, unit="1 m/s**2", rate="1 kHz", names=["base z", "tray z"])
    found, ratio, within = dwell(made, base="base z", payload="tray z")
    assert abs(si(found, "frequency") - 27.3) < 1.6 * si(found, "frequency_within")
    assert abs(abs(ratio) - abs(passes(27.3))) < 1.6 * within < 0.02
    assert np.angle(ratio) == pytest.approx(np.angle(passes(27.3)), abs=0.02)


def test_the_interval_of_a_tone_holds_its_truth():
    holds = []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        t = (np.arange(500) + rng.uniform(-0.3, 0.3, 500)) / 500
        x = 2 * np.cos(2 * np.pi * 40.2 * t + 1) + rng.normal(0, 0.5, 500)
        found = tone(Recording.of(x, unit="1 m/s**2", time=t), "x")
        holds.append(abs(si(found, "frequency") - 40.2) < si(found, "frequency_within"))
        holds.append(abs(abs(found.amplitude) - 2) < found.within)
    assert 0.92 < np.mean(holds) < 0.98


T = np.arange(2000) / RATE
"""Two seconds, in which tones of whole hertz and halves share nothing."""


def alone(x: np.ndarray) -> Recording:
    return Recording.of(x, unit="1 m/s**2", rate="1 kHz")


def test_the_intervals_of_a_tone_are_those_of_its_rest():
    """Amplitude ±1.96·σ√(2/n); frequency by Rife and Boorstyn 1974 (memory), of the variance
    24σ²/(A²T²n) of ω; the rest is another tone, σ = 2.9/√2."""
    rest = 2.9 * np.sin(2 * np.pi * 170 * T)
    found = tone(alone(3 * np.cos(2 * np.pi * 40 * T + 1) + rest), "x")
    sigma = 2.9 / np.sqrt(2)
    assert found.within == pytest.approx(1.96 * sigma * np.sqrt(2 / 2000), rel=0.01)
    omega = 1.96 * np.sqrt(24 / 2000) * sigma / (3 * 2.0)
    assert si(found, "frequency_within") == pytest.approx(omega / (2 * np.pi), rel=0.01)
    assert found.distortion == pytest.approx(2.9 / 3, rel=1e-3)
    assert np.angle(found.amplitude) == pytest.approx(1.0, abs=0.01)


def test_the_fit_of_few_samples_is_that_of_scipy():
    """Cross: curve_fit of all four numbers with its covariance, two dozen samples."""

    def wave(t, p, q, c, f):
        return p * np.cos(2 * np.pi * f * t) + q * np.sin(2 * np.pi * f * t) + c

    t = np.arange(24) / 24.0
    for size in (1.0, 0.1):
        x = size * wave(t, 2.0, -1.0, 5.0, 4.3) + np.random.default_rng(2).normal(0, 0.3 * size, 24)
        near = [2.0 * size, -1.0 * size, 5.0 * size, 4.3]
        best, covariance = optimize.curve_fit(wave, t, x, near, xtol=1e-13)
        found = tone(Recording.of(x, unit="1 m/s**2", rate="24 Hz"), "x")
        assert si(found, "frequency") == pytest.approx(best[3], rel=1e-7)
        assert found.amplitude == pytest.approx(complex(best[0], -best[1]), rel=1e-6)
        way = best[:2] / np.hypot(*best[:2])
        within = 1.96 * np.sqrt([way @ covariance[:2, :2] @ way, covariance[3, 3]])
        got = [found.within, si(found, "frequency_within")]
        assert got == pytest.approx(within.tolist(), rel=1e-4)


def test_a_tone_is_at_least_half_of_what_a_channel_has():
    """3 m/s² against two of 2.9: 4.5 of mean square against 8.4."""
    rest = 2.9 * np.sin(2 * np.pi * 170 * T) + 2.9 * np.sin(2 * np.pi * 290.5 * T)
    with pytest.raises(InputError, match="no tone in it"):
        tone(alone(3 * np.cos(2 * np.pi * 40 * T) + rest), "x")
    with pytest.raises(InputError, match="no tone in it"):
        tone(alone((T - 1) ** 2), "x")  # a slow bend


SOME = np.arange(24.0)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    ("x", "rate", "says"),
    [
        (SOME, 200, "cycles of its strongest tone in 0.115 s, fewer than 2; record longer"),
        (np.arange(40.0), 1e6, "cycles of its strongest tone in 3.9e-05 s, fewer than 2"),
        (SOME > 11, 200, "0.7926 cycles of its strongest tone"),
        ((SOME - 8) ** 2, 200, "fewer than 2"),
        (np.cos(2 * np.pi * 0.3 * SOME / 23), 200, "fewer than 2"),
        (np.full(24, 0.1), 200, "fewer than 2"),
        (np.full(24, 0.5), 200, "there is no tone in it"),
        (SOME == 9, 200, "there is no tone in it"),
        (np.cos(2 * np.pi * 99 * np.arange(25) / 200), 200, "tone of 'x' = 100 Hz: above 0.4 of"),
        (np.cos(2 * np.pi * 85 * SOME / 200), 200, "above 0.4 of the rate of 200 Hz"),
    ],
)
def test_a_ramp_a_step_and_what_a_record_may_mistake_are_no_tones(x, rate, says):
    with pytest.raises(InputError) as error:
        tone(Recording(SOME[:1] + np.arange(len(x)) / rate, x[:, None].astype(float), ("x",)), "x")
    assert says in str(error.value)


@pytest.mark.parametrize(
    ("cycles", "found"), [(1.99, False), (2.01, True), (9.1, True), (9.3, False)]
)
def test_a_tone_has_two_cycles_and_two_and_a_half_samples_in_each(cycles, found):
    """24 samples, 0.4 of which are 9.2 cycles over 23 steps."""
    made = Recording.of(np.cos(2 * np.pi * cycles * SOME / 23 + 1), unit="1 g0", rate="23 Hz")
    if found:
        assert si(tone(made, "x"), "frequency") == pytest.approx(cycles, rel=1e-9)
    else:
        with pytest.raises(InputError, match=r"fewer than 2|above 0\.4"):
            tone(made, "x")


def test_two_samples_in_each_cycle_tell_no_tone():
    """At the same two phases: cosine, sine and offset are then not told apart."""
    t = (np.arange(30)[:, None] + np.array([0.0, 0.2])).ravel()
    made = Recording(t, np.cos(2 * np.pi * t)[:, None], ("x",))
    with pytest.raises(InputError, match="there is no tone in it"):
        tone(made, "x")


def test_a_part_of_a_recording_has_its_phase_from_its_own_start():
    made = alone(3 * np.cos(2 * np.pi * 40.25 * T + 1))
    found = tone(made.between(0.3, 1.7), "x")
    t = made.between(0.3, 1.7).time[0]
    turned = (2 * np.pi * 40.25 * (t - made.time[0]) + 1 - np.angle(found.amplitude)) / (2 * np.pi)
    assert turned == pytest.approx(round(turned), abs=1e-6)


def test_the_interval_of_a_ratio_is_that_of_the_payloads_rest():
    """A pure base; the payload has another tone of 0.8 m/s² beside the one of 2 m/s²."""
    base = 4 * np.cos(2 * np.pi * 40 * T)
    payload = 2 * np.cos(2 * np.pi * 40 * T - 0.7) + 0.8 * np.sin(2 * np.pi * 170 * T) + 7.0
    both = np.stack([base, payload], axis=1)
    made = Recording.of(both, unit="1 m/s**2", rate="1 kHz", names=["base z", "tray z"])
    _, ratio, _ = dwell(made.between(0.31, 1.81), base="base z", payload="tray z")
    assert ratio == pytest.approx(0.5 * np.exp(-0.7j), abs=1e-3)
    _, ratio, within = dwell(made, base="base z", payload="tray z")
    assert ratio == pytest.approx(0.5 * np.exp(-0.7j), abs=1e-4)
    assert within == pytest.approx(1.96 * 0.8 / np.sqrt(2) * np.sqrt(2 / 2000) / 4, rel=1e-3)


def steady_sweep(
    peak: float, rate: float, *, scale: float = 1.0, top: float = 40.0, quiet: float = 1.0
) -> Recording:
    """10 to 40 Hz at so many octaves a minute; a ratio with a peak at 20 Hz, without any ring. Both
    may be quiet below 14 Hz."""
    k = rate / 60 * np.log(2)
    t = np.arange(int(np.log(top / 10) / k * 200)) / 200
    f = 10 * np.exp(k * t)
    base = np.where(f < 14, quiet, 1.0) * np.sin(2 * np.pi * (f - 10) / k)
    payload = scale * peak / np.sqrt(1 + (10 * np.log(f / 20)) ** 2) * base
    both = np.stack([base, payload], axis=1)
    return Recording.of(both, unit="1 g0", rate="200 Hz", names=["base z", "tray z"])


def test_the_rate_of_a_sweep_is_that_of_its_first_and_last_tone():
    """Few wide windows: one of 20 left out would be 5 %."""
    got = swept(steady_sweep(3.0, 12.0), base="base z", payload="tray z", cycles=25)
    assert 12 < len(got.frequency) < 40
    assert got.rate == pytest.approx(12.0, rel=0.01)


def test_a_large_payload_does_not_drown_its_base():
    plain, large = (
        swept(steady_sweep(3.0, 12.0, scale=scale), base="base z", payload="tray z")
        for scale in (1.0, 200.0)
    )
    np.testing.assert_allclose(large.ratio, 200 * plain.ratio, rtol=1e-9)


@pytest.mark.parametrize(("rate", "fast"), [(2.0, False), (3.0, True)])
def test_a_sharp_peak_wants_a_slow_sweep(rate, fast):
    """77.6·f/Q² octaves a minute (iso-7626-2, memory): 2.48 at 20 Hz and a ratio of 25."""
    got = swept(steady_sweep(25.0, rate), base="base z", payload="tray z")
    assert got.too_fast is fast


@pytest.mark.parametrize("rate", [24.0, 25.4, 26.0])
def test_a_tone_must_not_move_half_the_width_of_a_peak_in_its_window(rate):
    """In ten cycles at f it moves by ln 2·rate/60·10, and half of the width is f/2Q."""
    got = swept(steady_sweep(3.5, rate), base="base z", payload="tray z")
    moves = np.log(2) * got.rate / 60 * 10
    assert got.too_fast is bool(moves > si(got, "resonance") / (2 * got.peak))


def test_a_delayed_payload_lags():
    """By τ it turns by −2πfτ."""
    made = steady_sweep(1.0, 6.0)
    base = made.acceleration[:, 0]
    late = 0.5 * np.concatenate([np.zeros(3), base[:-3]])
    both = np.stack([base + 600.0, late - 20.0], axis=1)
    moved = Recording.of(both, unit="1 m/s**2", rate="200 Hz", names=["base z", "tray z"])
    got = swept(moved, base="base z", payload="tray z")
    expected = 0.5 * np.exp(-2j * np.pi * got.frequency * 3 / 200)
    np.testing.assert_allclose(got.ratio[1:], expected[1:], atol=0.01)
    assert got.resonance is None
    assert got.too_fast is None
    assert np.isnan(got.peak)


def test_a_resonance_lies_within_the_sweep():
    """Not at its first or last window, but at the next, however the sweep is cut."""
    made = steady_sweep(3.0, 12.0)
    places = set()
    for k in range(20):
        for part in (made.between(0.0, 4.6 + 0.1 * k), made.between(3.8 + 0.08 * k, 9.5)):
            got = swept(part, base="base z", payload="tray z")
            size = np.abs(got.ratio)
            top, last = int(size.argmax()), len(size) - 1
            assert (got.resonance is not None) is (0 < top < last)
            places |= {top, top - last - 1}
    assert {0, 1, -1, -2} <= places
    low = swept(steady_sweep(1.15, 6.0), base="base z", payload="tray z")
    assert low.resonance is None
    short = swept(steady_sweep(3.0, 3.0, top=15.0), base="base z", payload="tray z")
    assert short.frequency[-1] / short.frequency[0] < 1.5  # a good half octave is a sweep


def test_eight_windows_are_a_sweep():
    made = steady_sweep(3.0, 12.0)
    counts = []
    for k in range(30):
        try:
            part = made.between(0.0, 1.5 + 0.08 * k)
            counts.append(len(swept(part, base="base z", payload="tray z").frequency))
        except InputError:  # no tone to follow in so few
            assert not counts
    assert len(counts) < 30
    assert min(counts) == 8


@pytest.mark.parametrize(("quiet", "followed"), [(0.018, False), (0.023, True)])
def test_a_base_below_a_fiftieth_of_its_most_is_not_followed(quiet, followed):
    got = swept(steady_sweep(3.0, 6.0, quiet=quiet), base="base z", payload="tray z")
    assert bool(got.frequency[0] < 12) is followed


@pytest.mark.parametrize("cycles", [2.0, 10.3, 41.7])
def test_the_loudest_line_lies_between_its_neighbours(cycles):
    """Of a sine about an offset; a parabola through three of eight lines is that near."""
    at = np.arange(200) / 200
    x = np.sin(2 * np.pi * cycles * at + 0.4) + 30.0
    assert loudest(x, 200.0) == pytest.approx(cycles, abs=0.03 if cycles == 2.0 else 3e-3)


def test_a_line_that_is_no_top_is_not_read_beside_itself():
    """Of a bend and an early step half a cycle, the first line looked at, has less than those below
    it: a parabola through it has its top far away."""
    at = np.arange(200) / 200
    for x in ((2 * at - 1) ** 2, at > 0.05):
        assert loudest(x.astype(float), 200.0) == 0.5
    assert loudest(np.zeros(200), 200.0) == 0.5  # of nothing there is no top


def noisy(base: np.ndarray, size: float, count: int = 1000) -> Recording:
    x = base + size * np.random.default_rng(count).normal(size=count)
    both = np.stack([x, x], axis=1)
    return Recording.of(both, unit="1 m/s**2", rate="50 Hz", names=["base z", "tray z"])


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("count", [100, 1000])
@pytest.mark.parametrize("size", [1e-9, 0.01, 0.1])
def test_what_is_no_sweep_is_not_followed(count, size):
    """A step, a ramp, a bend, nothing, one sample, a walk, noise."""
    k = np.arange(count)
    walk = np.cumsum(np.random.default_rng(1).normal(size=count))
    for base in (
        k > 40,
        k / count,
        (k / count) ** 3,
        0 * k + 0.1,
        k == 50,
        walk,
        30 * size * k * 0,
    ):
        with pytest.raises(InputError, match=r"no tone to follow|above 0\.4"):
            swept(noisy(base, size, count), base="base z", payload="tray z")
    low = np.random.default_rng(2).normal(size=count)
    low = np.convolve(low, np.hanning(7), "same")  # of nothing above 0.4 of the rate
    with pytest.raises(InputError, match="no tone to follow"):
        swept(noisy(low, 0.0, count), base="base z", payload="tray z")


@pytest.mark.parametrize(("size", "followed"), [(0.65, True), (0.78, False)])
def test_the_tone_of_a_sweep_is_half_of_its_base(size, followed):
    """Noise of 0.42 and of 0.61 beside a sine of 0.5, mean squares all."""
    made = steady_sweep(3.0, 6.0)
    noise = size * G0 * np.random.default_rng(7).normal(size=made.acceleration.shape)
    loud = Recording(made.time, made.acceleration + noise, made.names)
    if followed:
        assert swept(loud, base="base z", payload="tray z").rate == pytest.approx(6.0, rel=0.1)
    else:
        with pytest.raises(InputError, match="no tone to follow"):
            swept(loud, base="base z", payload="tray z")


def test_a_push_in_the_middle_of_a_sweep_is_no_tone_of_it():
    """A bump of three times its height, half a window long: of less than two cycles there."""
    made = steady_sweep(1.0, 6.0)
    t = made.time
    push = 3 * G0 * np.exp(-(((t - t[-1] / 2) / 0.15) ** 2))
    pushed = Recording(t, made.acceleration + push[:, None], made.names)
    got = swept(pushed, base="base z", payload="tray z")
    assert got.frequency.min() > 9.5
    assert (np.diff(got.frequency) > -0.5).all()


@pytest.mark.parametrize("way", [1, -1])
def test_a_sweep_up_to_where_a_record_may_mistake_it_is_refused(way):
    made = steady_sweep(3.0, 12.0, top=90.0)
    turned = Recording(made.time, made.acceleration[::way].copy(), made.names)
    with pytest.raises(InputError, match=r"sweep = 8\d.* above 0\.4 of the rate of 200 Hz"):
        swept(turned, base="base z", payload="tray z")


@pytest.mark.parametrize(("rest", "found"), [(0.8, True), (0.95, False)])
def test_a_tone_of_few_samples_is_four_times_its_scatter(rest, found):
    """Of 16, four fitted: 1 over √(0.95²/2·16/12·2/16) is 3.6, and more than half of the whole."""
    at = 2 * np.pi * np.arange(16) / 16
    made = Recording.of(np.cos(4 * at) + rest * np.sin(6 * at), unit="1 g0", rate="16 Hz")
    if found:
        assert si(tone(made, "x"), "frequency") == pytest.approx(4.0, abs=0.2)
    else:
        with pytest.raises(InputError, match="there is no tone in it"):
            tone(made, "x")


def test_the_longest_stretch_without_a_gap_is_followed():
    whole = steady_sweep(3.0, 12.0)
    first = np.arange(len(whole.time)) < 100
    time = np.where(first, whole.time - 5.0, whole.time)
    cut = Recording.of(whole.acceleration / G0, unit="1 g0", time=time, names=["base z", "tray z"])
    got = swept(cut, base="base z", payload="tray z")
    assert si(got, "resonance") == pytest.approx(20.0, rel=0.03)
    assert got.rate == pytest.approx(12.0, rel=0.02)


def sweep(rate: float, top: float = 80.0) -> Recording:
    """From 5 Hz on at so many octaves a minute."""
    k = rate / 60 * np.log(2)
    t = np.arange(int(np.log(top / 5) / k * RATE)) / RATE
    base = np.sin(2 * np.pi * 5 * (np.exp(k * t) - 1) / k)
    both = np.stack([base, felt(base)], axis=1)
    return Recording.of(both, unit="1 g0", rate="1 kHz", names=["base z", "tray z"])


def test_a_slow_sweep_shows_the_steady_ratio():
    got = swept(sweep(4.0), base="base z", payload="tray z")
    assert got.rate == pytest.approx(4.0, rel=0.02)
    np.testing.assert_allclose(np.abs(got.ratio), np.abs(passes(got.frequency)), rtol=0.06)
    assert si(got, "resonance") == pytest.approx(20.0, rel=0.02)
    assert got.too_fast is False


def test_a_fast_sweep_is_said_to_be_one():
    got = swept(sweep(60.0), base="base z", payload="tray z")
    assert got.too_fast is True
    assert got.peak < 0.95 * np.abs(passes(np.linspace(18, 21, 999))).max()


def test_two_recorders_of_unlike_rate_are_set_on_one_clock():
    def wave(t: np.ndarray) -> np.ndarray:
        return np.sin(2 * np.pi * 12 * t) + 0.5 * np.sin(2 * np.pi * 31 * t)

    slow, fast = np.arange(800) / 400, 0.25 + np.arange(2000) / 1000
    one = Recording.of(wave(slow), unit="1 g0", time=slow, names=["z"])
    two = Recording.of(wave(fast), unit="1 g0", time=fast, names=["z"])
    both = together(one, two, lag=-0.25)
    assert both.names == ("base z", "payload z")
    x, y = both.acceleration.T
    np.testing.assert_allclose(x, y, atol=2e-3 * G0)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda r: through(r, spacing="0.1 Hz"), ["0.1 Hz", "finer than the record", "10 s"]),
        (lambda r: through(r, highest="450 Hz"), ["highest = 450 Hz", "0.4 of the rate"]),
        (lambda r: through(r.only("tray")), ["channel = 'base z'", "it has 'tray z'"]),
        (
            lambda r: transmissibility(flat(r), base="base", payload="payload"),
            ["'base'", "name one"],
        ),
        (
            lambda r: through(
                Recording.of(
                    r.acceleration * [0, 1], unit="1 g0", rate="1 kHz", names=["base z", "tray z"]
                )
            ),
            ["base = 'base z'", "does not move"],
        ),
        (lambda r: tone(r, "base z"), ["'base z'", "no tone in it"]),
        (lambda r: dwell(r, base="base z", payload="tray z"), ["no tone in it"]),
        (lambda r: swept(r.between(0, 0.5), base="base z", payload="tray z"), ["sweep"]),
        (
            lambda r: swept(r, base="base z", payload="tray z", cycles=1.9),
            ["cycles = 1.9", "2"],
        ),
        (
            lambda r: swept(r, base="base z", payload="tray z", cycles=1000.1),
            ["cycles = 1000.1", "1000"],
        ),
        (lambda r: together(r, r, lag=99.0), ["in common", "the lag"]),
    ],
)
def test_what_cannot_be_asked(make, says):
    with pytest.raises(InputError) as error:
        make(shaken(5, 5))
    for part in says:
        assert part in str(error.value)


def test_a_dwell_is_no_sweep():
    x = np.sin(2 * np.pi * 20 * np.arange(20_000) / RATE)
    made = Recording.of(np.stack([x, x], 1), unit="1 g0", rate="1 kHz", names=["base z", "tray z"])
    with pytest.raises(InputError, match="that is a dwell"):
        swept(made, base="base z", payload="tray z")


@pytest.mark.skipif(
    not FOLDER.is_dir(), reason="the recordings are not beside this checkout (../shared/recordings)"
)
def test_two_sensors_on_one_shaker_agree():
    """100.00 Hz, about 10.1 g and 10.07 g: the README of the recordings."""
    both = [read_recording(FOLDER / f"shaker_sine_{name}.csv") for name in ("fast", "slow")]
    tones = [tone(one, "x") for one in both]
    for found, level in zip(tones, (10.1, 10.07), strict=True):
        assert si(found, "frequency") == pytest.approx(100.00, abs=0.005)
        assert abs(found.amplitude) / G0 == pytest.approx(level, abs=0.05)
    _, ratio, _ = dwell(together(*both), base="base x", payload="payload x")
    assert abs(ratio) == pytest.approx(abs(tones[1].amplitude) / abs(tones[0].amplitude), rel=0.003)


def beams() -> list[Path]:
    try:
        found = files("vibration-toolbox") or []
    except PackageNotFoundError:
        return []
    return sorted(Path(f.locate()) for f in found if f.name in ("case1.mat", "case2.mat"))


@pytest.mark.skipif(len(beams()) < 2, reason="vibration-toolbox, with its two beams, is missing")
@pytest.mark.parametrize(("case", "frequency", "lines"), [(0, 212.0925, 0.1), (1, 192.5938, 0.5)])
def test_two_measured_beams_have_their_frequencies(case, frequency, lines):
    """Within a tenth of a line, and within half of one where the coherence is a half."""
    data = loadmat(beams()[case])
    f, h = data["Freq_domain"][:, 0], data["Hf_chan_2"][:, 0]
    at, zeta = peak_mode(f, h)
    assert at == pytest.approx(frequency, abs=lines * float(f[1] - f[0]))
    assert 0 < zeta < 0.01

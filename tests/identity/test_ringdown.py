"""What is taken for a ring-down, and what for something else: signals built for one answer each."""

import numpy as np
import pytest

from isolator.decay import Fit, Mode
from isolator.recording import Recording
from isolator.ringdown import (
    RingDown,
    _believe,
    _by_hand,
    _cycle,
    _goes_on,
    _loud_start,
    _parts,
    _running,
    _sentences,
    _white,
    _window,
    half_power,
    log_decrement,
    ring_down,
)
from isolator.units import DURATION, FREQUENCY, InputError, si


def ring(t, pole, start=0.0):
    """The real part of a decaying complex exponential from some time on."""
    return np.where(t < start, 0.0, np.exp(pole * np.maximum(t - start, 0.0)).real)


def record(x, rate=100.0):
    x = np.asarray(x, dtype=float)
    return Recording.of(x, unit="1 m/s**2", rate=f"{rate} Hz")


def fit_of(x, left, poles, t, linear=None, off=1e-3):
    """A fit that was not fitted."""
    x, left = (np.asarray(each, dtype=float) for each in (x, left))
    x, left = (each[:, None] if each.ndim == 1 else each for each in (x, left))
    m, poles = len(poles), np.array(poles, dtype=complex)
    if linear is None:
        linear = np.vstack([np.ones((m, x.shape[1])), np.zeros((m + 1, x.shape[1]))])
    return Fit(t, x, poles, np.asarray(linear, dtype=float), off**2 * np.eye(2 * m), left)


def mode(f=8.0, f_within=0.1, zeta=0.05, zeta_within=0.01):
    return Mode(
        frequency=FREQUENCY.quantity(f),
        frequency_within=FREQUENCY.quantity(f_within),
        damping_ratio=zeta,
        damping_within=zeta_within,
        amplitude=np.array([1.0 + 0j]),
    )


# The hand methods.


@pytest.mark.parametrize("zeta", [0.0, 0.02, 0.3])
@pytest.mark.parametrize("cycles", [0.5, 1, 7])
def test_the_decrement_of_an_exact_decay_is_its_damping(zeta, cycles):
    """One decay e^(−2πζn/√(1 − ζ²)); scale and common sign do not matter."""
    last = np.exp(-2 * np.pi * zeta * cycles / np.sqrt(1 - zeta**2))
    found = log_decrement([0.01, -300.0], [0.01 * last, -300.0 * last], cycles)
    np.testing.assert_allclose(found, [zeta, zeta], atol=1e-12)


@pytest.mark.parametrize(
    ("first", "last", "cycles"),
    [
        ([2.0, 2.0], [1.0, -1.0], 1),
        ([2.0, 2.0], [1.0, -2.5], 1),
        ([2.0, 2.0], [1.0, 2.5], 1),
        ([2.0, 2.0], [1.0, 1.0], [1, 0]),
        ([2.0, 2.0], [1.0, 0.0], 1),
    ],
)
def test_one_pair_of_peaks_that_is_none_is_refused(first, last, cycles):
    with pytest.raises(InputError, match="not two peaks of one sign"):
        log_decrement(first, last, cycles)


def test_half_power_lies_on_straight_lines_between_the_points():
    """numpy's interpolation on both flanks; what lies beyond a valley does not count."""
    f = np.array([1.0, 2.0, 4.0, 7.0, 8.0, 8.5, 12.0, 13.0])
    x = np.array([0.9, 0.5, 0.6, 1.1, 2.0, 1.5, 0.3, 1.6])
    level = 2.0 / np.sqrt(2)
    low, high = np.interp(level, [1.1, 2.0], [7.0, 8.0]), np.interp(-level, [-1.5, -0.3], [8.5, 12])
    assert half_power(f, x) == pytest.approx((high - low) / 16.0, rel=1e-12)
    assert half_power(f, x * np.array([4, 1, 1, 1, 1, 1, 1, 1])) != half_power(f, x)
    assert np.isnan(half_power(f[3:], [1.5, 2.0, 0.1, 0.1, 0.1]))  # not so far on the left
    assert np.isnan(half_power(f[:4], [0.1, 0.2, 2.0, 1.5]))  # nor on the right


# Parts of the search.


def test_running_mean_is_that_of_the_samples_around():
    x = np.array([3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0])
    for wide, before in ((1, 0), (3, 1), (4, 2)):
        slow = [x[max(k - before, 0) : k - before + wide].mean() for k in range(len(x))]
        np.testing.assert_allclose(_running(x, wide), slow, rtol=1e-12)


def test_a_cycle_is_that_of_what_swings_first():
    """A half that fades as (1 − u)²: the first half outweighs the last sevenfold, as its line; as
    1 − u it would threefold, as (1 − u)³ fifteenfold."""
    n = 800
    at = np.arange(n)
    slow, fast = np.sin(2 * np.pi * at / 40), np.sin(2 * np.pi * at / 20)
    early = at < n / 2
    assert _cycle(slow[:, None]) == 40
    assert _cycle((slow + 30.0)[:, None]) == 40
    assert _cycle(np.where(early, slow, 4 * fast)[:, None]) == 40
    assert _cycle(np.where(early, slow, 11 * fast)[:, None]) == 20
    for height, cycle in ((0.75, 40), (0.65, 20)):  # by the sum of squares
        assert _cycle(np.stack([height * slow, fast, height * slow], 1)) == cycle
    assert _cycle(np.sin(2 * np.pi * at / 4)[:, None]) == 8
    assert _cycle(np.sin(2 * np.pi * at / 200)[:, None]) == 80
    assert _cycle(np.ones((5, 1))) == 8


def pieces(*parts):
    """Samples of alternating sign: (level, how many), so that their power is exact."""
    level = np.concatenate([np.full(count, value) for value, count in parts])
    return record(level * np.where(np.arange(len(level)) % 2, -1.0, 1.0))


def test_a_window_runs_from_the_first_turn_to_where_nothing_is_left():
    """Means of the power of eight samples, k - 4 to k + 3, worked out by hand at each step."""
    quiet, tap = (0.1, 400), [(10.0, 1), (5.0, 61)]
    assert _window(pieces(quiet, *tap, quiet), None, None) == (401, 466)
    for level, last in ((0.12, 466), (0.14, 561)):  # 1.3 times what is there otherwise
        assert _window(pieces(quiet, *tap, (level, 100), quiet), None, None)[1] == last
    for level, last in ((2.9, 748), (3.2, 565)):  # a second tap: 3 times the least before it
        made = pieces(quiet, *tap, (1.0, 100), (level, 50), (1.0, 136))
        assert _window(made, None, None)[1] == last
    for level, last in ((0.397, 612), (0.42, 566)):  # and 4 times what is there otherwise
        assert _window(pieces(quiet, *tap, (0.131, 100), (level, 50)), None, None)[1] == last


def test_a_window_knows_no_offset_and_goes_by_the_strongest_channel():
    """It turns in one channel after five samples, in the other after two."""
    strong, weak = np.zeros(300), np.zeros(300)
    strong[100:110] = [9, 8, 7, 6, 5, -4, -3, 2, 1, 1]
    weak[100:110] = [3, 2, -2, -1, 1, 1, -1, -1, 1, 1]
    both = np.stack([weak, strong], axis=1)
    assert _window(record(both), None, None)[0] == 105
    assert _window(record(both * np.array([1.0, -1.0])), None, None)[0] == 105
    assert _window(record(both + np.array([7.0, -20.0])), None, None)[0] == 105
    one_way = np.zeros(300)
    one_way[100:110] = 1.0
    assert _window(record(one_way), None, None)[0] == 101


def test_a_tap_must_stand_out_and_ring_on():
    assert _window(pieces((1.0, 100), (3.1, 1), (1.0, 101)), None, None) == (101, 105)
    with pytest.raises(InputError, match="nothing stands out"):
        _window(pieces((1.0, 100), (2.9, 1), (1.0, 101)), None, None)
    assert _window(pieces((0.1, 98), (5.0, 1), (0.1, 3)), None, None) == (99, 102)
    with pytest.raises(InputError, match="nothing rings on"):
        _window(pieces((0.1, 99), (5.0, 1), (0.1, 2)), None, None)


def test_a_window_that_is_given_is_taken_as_it_is():
    t = np.arange(400) / 100.0
    made = record(ring(t, -2 + 30j, 0.5) + 3 * ring(t, -2 + 30j, 2.0))
    assert _window(made, 0.6, 1.9) == (60, 191)
    assert _window(made, 0.6, None) == (60, 400)
    assert _window(made, 0.6, 0.83) == (60, 84)
    with pytest.raises(InputError, match=r"start and end: 23 samples .* 0 to 3\.99 s"):
        _window(made, 0.6, 0.82)
    assert _window(made, None, 1.9) == (56, 191)
    with pytest.raises(InputError, match="nothing stands out"):
        _window(made, None, 0.23)
    with pytest.raises(InputError, match="start and end: 23 samples"):
        _window(made, None, 0.22)
    assert _window(made, None, None)[0] > 200


@pytest.mark.parametrize(
    ("period", "count", "loud", "quiet", "says"),
    [
        (8.0, 40, 1.0, 0.1, True),
        (6.0, 40, 1.0, 0.1, False),  # three samples in the first half, and one at its very end
        (8.0, 8, 1.0, 0.1, True),
        (8.0, 7, 1.0, 0.1, False),
        (8.0, 40, 0.21, 0.1, True),
        (8.0, 40, 0.19, 0.1, False),
        (8.0, 40, 3.3e-3, 0.0, True),
        (8.0, 40, 2.7e-3, 0.0, False),
    ],
)
def test_a_loud_start_is_four_times_the_power_of_the_rest(period, count, loud, quiet, says):
    """And a millionth of what was felt there."""
    t = np.arange(count, dtype=float)
    left = np.where(t < period / 2, loud, quiet)
    x = np.where(t < period / 2, 3.0, 50.0)
    omega = 2 * np.pi / period
    assert _loud_start(fit_of(x, left, [complex(-0.01, omega)], t)) is says


def test_what_is_left_is_white_where_neighbours_are_little_alike():
    """(1, a, 1): their products are 2a of 2 + a², half of it at 2 − √2; channels stay apart."""
    half = 2 - np.sqrt(2)
    for a, white in ((half - 0.01, True), (half + 0.01, False), (-1.0, True)):
        assert _white(np.array([[1.0], [a], [1.0]])) is white
    assert _white(np.array([[1.0, 1.0], [-1.0, -1.0], [1.0, 1.0]])) is True


# A period of 1.25 s, 0.1 s between samples, a tap after 10 s of quiet.
TIMES = np.arange(101) / 10.0
BEFORE = np.arange(200) / 10.0
PERIOD = 1.25
TURNS = 2 * np.pi / PERIOD


def believed(*, explained=0.95, alike=True, pole=-0.5 + 1j * TURNS, off=1e-3, moved=None):
    """Fit and record for `_believe`; what moved before the tap by periods before it."""
    sign = 1.0 if alike else (-1.0) ** np.arange(len(TIMES))
    x = np.full(len(TIMES), 3.0)
    left = sign * np.sqrt((1 - explained) * 4.0) * np.ones(len(TIMES))
    fit = fit_of(x, left, [pole], TIMES, [[0.6], [0.8], [1.0]], off)
    a = np.ones(len(BEFORE))
    for since, until, level in moved or ():
        at = (BEFORE - 10.0) / PERIOD
        a[(at > since + 1e-6) & (at < until - 1e-6)] += level
    return fit, record(a, 10.0), 100


BELIEVED = {
    "well explained": ({}, None),
    "alike and not clear": ({"explained": 0.89}, "explain 89% of it"),
    "alike and clear": ({"explained": 0.91}, None),
    "white": ({"explained": 0.61, "alike": False}, None),
    "white and little": ({"explained": 0.59, "alike": False}, "explain 59% of it"),
    "none": ({"explained": -0.5, "alike": False}, "explain 0% of it"),
    "known": ({"off": 0.24}, None),
    "not known to decay": ({"off": 0.26}, "does not die away"),
    "decays": ({"pole": -0.0703 + 1j * TURNS}, None),
    "hardly decays": ({"pole": -0.0697 + 1j * TURNS}, "does not die away"),
    "moved a little": ({"moved": [(-4, -1.5, 0.24)]}, None),
    "moved": ({"moved": [(-4, -1.5, 0.26)]}, "swings before as well as after"),
    "moved long before": ({"moved": [(-9.9, -4, 9.0), (-1.5, 0.1, 9.0)]}, None),
    "moved four periods before": ({"moved": [(-4, -3.8, 1.4)]}, "swings before"),
    "moved at last": ({"moved": [(-1.8, -1.5, 1.2)]}, "swings before"),
}


@pytest.mark.parametrize("name", BELIEVED)
def test_which_ring_downs_are_believed(name):
    """Limits on either side: 60 % and 90 % explained, half of σ, 0.7/σ, a quarter before it."""
    changed, why = BELIEVED[name]
    if why is None:
        _believe(*believed(**changed))
    else:
        with pytest.raises(InputError, match=why):
            _believe(*believed(**changed))


def test_too_few_samples_before_a_tap_say_nothing():
    """Between 4 and 1.5 periods before it there must be four; the rate must bear every mode."""
    fit, made, _ = believed()
    loud = record(made.acceleration + 9.0, 10.0)
    _believe(fit, loud, 21)  # 2.1, 2.0 and 1.9 s before
    with pytest.raises(InputError, match="swings before"):
        _believe(fit, loud, 22)
    two = fit_of(fit.x, fit.left, [fit.poles[0], -0.5 + 26j], TIMES, [[1], [1], [0], [0], [1]])
    with pytest.raises(InputError, match=r"ring-down = 4\.139 Hz: above 0.4 of the rate of 10 Hz"):
        _believe(two, made, 100)


LONG = np.arange(12000) / 1000.0


def going(extra, channel=0, outside=None):
    """A ring of 10 Hz and height 1 from 5 s to 7 s in a record of 12 s, and what else swings."""
    tapped = ring(LONG, -2 + 1j * 20 * np.pi, 5.0) * (LONG < 7.0)
    x = np.zeros((len(LONG), 2))
    x[:, channel] = tapped + extra + 4.0
    x[:, 1 - channel] = 0.2 * tapped - 2.0
    first, last = 5000, 7000
    low, high = (0, len(LONG)) if outside is None else outside
    linear = np.zeros((3, 2))
    linear[:2, channel], linear[:2, 1 - channel] = [0.8, 0.6], [0.1, 0.7]
    linear[2, [channel, 1 - channel]] = [4.0, -2.0]
    t = LONG[first:last] - 5.0
    fit = fit_of(x[first:last], 0 * x[first:last], [-2 + 1j * 20 * np.pi], t, linear)
    return _goes_on(fit, record(x[low:high], 1000.0), first - low, last - low)


def tone(height, f=10.0):
    """Silent where the tap is."""
    return height * np.sin(2 * np.pi * f * LONG) * ((LONG < 4.8) | (LONG > 7.0))


@pytest.mark.parametrize(
    ("extra", "on"),
    [
        (0.0, False),
        (tone(0.145), False),
        (tone(0.165), True),  # an rms of 0.117
        (tone(0.12, 9.7) + tone(0.12, 10.3), True),  # of the middle of the beat: 0.12
        (tone(0.10, 9.7) + tone(0.10, 10.3), False),
        (tone(0.8, 7.0), False),
        (tone(0.8, 8.0), True),
        (tone(0.8, 12.0), True),
        (tone(0.8, 13.0), False),
        (tone(0.8) * (LONG < 4.0), False),  # in less than half of what is away from the tap
        (tone(0.8) * (LONG > 2.0), True),
    ],
)
@pytest.mark.parametrize("channel", [0, 1])
def test_what_swings_on_is_told_by_its_rms_near_the_tap(extra, on, channel):
    assert going(extra, channel) is on


@pytest.mark.parametrize(
    ("outside", "on"),
    [((4370, 7010), False), ((4340, 7010), True), ((4870, 7480), False), ((4870, 7515), True)],
)
def test_a_record_cut_to_the_tap_cannot_tell(outside, on):
    """Five cycles away from it, a cycle and a half before it left out."""
    steady = 0.3 * np.sin(2 * np.pi * 10.0 * LONG)
    assert going(steady, 0, outside) is on


def test_what_swings_on_is_seen_up_to_what_the_rate_knows():
    t = np.arange(360) / 30.0
    x = ring(t, -2 + 1j * 20 * np.pi, 5.0) * (t < 7.0) + 0.3 * np.sin(20 * np.pi * t + 0.3)
    fit = fit_of(x[150:210], 0 * x[150:210], [-2 + 1j * 20 * np.pi], t[150:210] - 5.0)
    assert _goes_on(fit, record(x, 30.0), 150, 210) is True


def test_early_and_late_parts_are_those_before_and_after_a_fall_to_1_over_e():
    """A ring that is another from then on: each part has the pole of its own."""
    t = np.arange(300) / 100.0
    split = 0.8
    early, late = t <= split, t > split
    after = t[late][0]
    x = np.where(early, ring(t, -1 + 100j), 0.3 * ring(t, -2 + 104j, after))
    found = _parts(fit_of(x, 0 * x, [-1 / split + 102j], t))
    for part, pole, height in zip(found, (-1 + 100j, -2 + 104j), (1.0, 0.3), strict=True):
        assert part is not None
        assert si(part, "frequency") == pytest.approx(abs(pole) / 2 / np.pi, rel=1e-6)
        assert part.damping_ratio == pytest.approx(-pole.real / abs(pole), rel=1e-5)
        assert abs(part.amplitude[0]) == pytest.approx(height, rel=1e-5)
    noise = np.random.default_rng(1).normal(size=len(t))
    none = _parts(fit_of(np.where(early, x, noise), 0 * x, [-1 / split + 102j], t))
    assert none[0] is not None
    assert none[1] is None
    for many, there in ((16, False), (17, True)):
        short = t[: early.sum() + many]
        cut = _parts(fit_of(x[: len(short)], 0 * short, [-1 / split + 102j], short))
        assert (cut[1] is not None) is there
    exact = np.arange(64) / 64.0  # the seventeenth lies at 1/e itself and is early
    whole = ring(exact, -4 + 80j)
    assert _parts(fit_of(whole, 0 * whole, [-4 + 80j], exact))[0] is not None


def test_the_late_part_of_a_mode_is_not_that_of_one_that_outlasts_it():
    """At last the second mode is the strongest of both, be it slower or faster."""
    t = np.arange(600) / 200.0
    for poles in ([-4 + 40j, -0.5 + 90j], [-4 + 90j, -0.5 + 40j]):
        x = 3 * ring(t, poles[0]) + ring(t, poles[1])
        for part in _parts(fit_of(x, 0 * x, poles, t)):
            assert part is not None
            assert si(part, "frequency") == pytest.approx(abs(poles[0]) / 2 / np.pi, rel=1e-4)


# The hand methods on a fit.

POLE = complex(-1.0, 2 * np.pi * 5.0)
SAMPLED = np.arange(800) / 100.0  # twenty samples a cycle: each peak is met at the same phase


def by_hand(x, noise=1e-9, pole=POLE, t=SAMPLED):
    return _by_hand(fit_of(x, np.full_like(x, noise), [pole], t))


def test_peaks_of_an_exact_ring_read_its_damping():
    x = ring(SAMPLED, POLE)
    zeta = -POLE.real / abs(POLE)
    assert by_hand(x)[0] == pytest.approx(zeta, rel=1e-9)
    # A bump less than a cycle after a peak is none; the strongest channel counts, less offset.
    bump = (x + 0.6 * (np.arange(len(x)) == 46))[:49]
    assert by_hand(bump, t=SAMPLED[:49])[0] == pytest.approx(zeta, rel=1e-9)
    both = np.stack([0.1 * np.cos(31 * SAMPLED), x + 7.0], axis=1)
    linear = [[0.1, 0.0], [0.0, -1.0], [0.0, 7.0]]
    fit = fit_of(both, np.full_like(both, 1e-9), [POLE], SAMPLED, linear)
    assert _by_hand(fit)[0] == pytest.approx(zeta, rel=1e-9)


def test_peaks_that_noise_could_make_do_not_count():
    """From 2 s on it decays otherwise: 0.13 is the last peak before, three times the noise."""
    x = np.where(SAMPLED < 1.95, ring(SAMPLED, POLE), np.exp(-1.95) * ring(SAMPLED, -4 + POLE, 2.0))
    zeta = -POLE.real / abs(POLE)
    assert by_hand(x, noise=0.16 / 3)[0] == pytest.approx(zeta, rel=1e-9)
    assert by_hand(x, noise=1e-9)[0] > 2 * zeta
    assert np.isnan(by_hand(x, noise=0.9 / 3)[0])  # one peak alone
    assert by_hand(x, noise=0.6 / 3)[0] == pytest.approx(zeta, rel=1e-9)  # two, a cycle apart


def test_peaks_that_grow_or_share_a_cycle_are_not_read():
    assert np.isnan(by_hand(np.exp(2 * SAMPLED) * ring(SAMPLED, POLE))[0])
    assert np.isnan(by_hand(np.where(SAMPLED < 4, 1.0, 1e4) * ring(SAMPLED, POLE))[0])
    assert np.isnan(by_hand(np.tile(ring(SAMPLED[:20], 1j * POLE.imag), 40))[0])
    slow = complex(-1.0, 2 * np.pi * 1.0)
    assert np.isnan(by_hand(ring(SAMPLED[:30], POLE), pole=slow, t=SAMPLED[:30])[0])


def test_the_width_is_that_of_the_spectrum_of_the_ring():
    """Of a whole ring |ω_d/((σ + iΩ)² + ω_d²)|, with what is loud beyond 0.6 and 1.5 f left out."""
    x = np.exp(-SAMPLED) * np.sin(POLE.imag * SAMPLED)
    f = np.linspace(3.0, 7.5, 200_001)
    exact = half_power(f, 1 / np.abs((1.0 + 2j * np.pi * f) ** 2 + POLE.imag**2))
    assert by_hand(x)[1] == pytest.approx(exact, rel=2e-3)
    t = SAMPLED
    for far in (2.0, 9.0):
        loud = x + 1.5 * np.exp(-t) * np.sin(2 * np.pi * far * t)
        assert by_hand(loud)[1] == pytest.approx(exact, rel=0.1)
    for near in (3.2, 7.3):
        loud = x + 3 * np.exp(-t) * np.sin(2 * np.pi * near * t)
        assert by_hand(loud)[1] == pytest.approx(exact * 5 / near, rel=0.1)
    uneven = t + 0.001 * np.sin(np.arange(len(t)))
    uneven -= uneven[0]
    jittered = np.exp(-uneven) * np.sin(POLE.imag * uneven)
    assert by_hand(jittered, t=uneven)[1] == pytest.approx(exact, rel=0.02)


# What is said.


def found(early, late):
    return RingDown(
        modes=(mode(),),
        start=DURATION.quantity(0.5),
        end=DURATION.quantity(1.5),
        explained=0.9,
        decrement=0.05,
        half_power=0.05,
        early=early,
        late=late,
        names=("z",),
        sentences=(),
    )


def test_amplitude_matters_where_intervals_do_not_meet():
    one = mode(8.0, 0.1, 0.05, 0.01)
    near = mode(8.25, 0.2, 0.075, 0.02)
    by_frequency, by_damping = mode(8.35, 0.2, 0.05, 0.02), mode(8.0, 0.2, 0.085, 0.02)
    touching = mode(8.5, 0.25, 0.5, 0.125), mode(8.0, 0.25, 0.25, 0.125)
    assert found(*touching).amplitude_matters is False
    for other, matters in ((near, False), (by_frequency, True), (by_damping, True), (None, None)):
        assert found(one, other).amplitude_matters is matters
        assert found(other, one).amplitude_matters is matters
    assert found(None, None).amplitude_matters is None


def test_sentences_say_each_number_with_its_interval():
    x = np.array([3.0, -1.0, 1.0, 1.0])
    fit = fit_of(x, np.full(4, 0.5), [-1 + 50j], np.arange(4.0), [[1.0], [0.0], [1.0]])
    modes = (mode(8.1234, 0.123, 0.0512, 0.0123), mode(17.0, 0.5, 0.02, 0.01))
    early, late = mode(8.0, 0.11, 0.061, 0.012), mode(8.5, 0.22, 0.041, 0.021)
    assert _sentences(modes, fit, 0.0612, np.nan, early, late) == (
        "8.123 Hz ± 0.12, damping ratio 0.0512 ± 0.012 (95 %).",
        "17 Hz ± 0.5, damping ratio 0.02 ± 0.01 (95 %).",
        "By log decrement 0.0612, +0.01 off the fit: noise and other modes lift its last peak.",
        "By half power it cannot be read.",
        "Early 8 Hz ± 0.11 and 0.061 ± 0.012, late 8.5 Hz ± 0.22 and 0.041 ± 0.021.",
        "The modes explain 87.5% of what follows the tap.",
    )
    for parts in ((None, late), (early, None)):
        said = _sentences(modes, fit, np.nan, 0.0412, *parts)
        assert said[2] == "By log decrement it cannot be read."
        assert said[3] == "By half power 0.0412, -0.01 off the fit: a short record widens its peak."
        assert said[4] == "Too short to compare its early with its late part."
        assert len(said) == 6


# The whole.


def test_a_window_that_is_given_is_the_one_that_is_fitted():
    """Even where the tap still pushes in it, and where the record swings on."""
    t = np.arange(600) / 200.0
    noise = np.random.default_rng(2).normal(0, 1e-3, 600)
    x = ring(t, -3 + 50j) + 0.5 * (t < 0.06) + noise
    given = ring_down(record(x, 200.0), start=0.0, end=2.0, modes=1)
    assert [si(given, "start"), si(given, "end")] == [0.0, 2.0]
    assert len(given.modes) == 1
    assert given.explained < 0.999
    on = 0.2 * np.cos(50 * t) * ((t < 0.4) | (t > 2.0)) + ring(t, -3 + 50j, 1.0) * (t < 2.0) + noise
    assert si(ring_down(record(on, 200.0), start=1.001, end=2.0), "start") == 1.005
    with pytest.raises(InputError, match="it swings on at that frequency"):
        ring_down(record(on, 200.0), end=2.0)


def test_start_and_end_are_those_of_what_was_fitted():
    """A push that goes on for longer than the search follows it: the same part, stated, gives the
    same mode."""
    t = np.arange(400) / 200.0
    x = ring(t, -2 + 50j, 0.5) + np.random.default_rng(3).normal(0, 0.003, len(t))
    x += 0.08 * np.sign(np.sin(330 * t)) * ((t > 0.5) & (t < 0.9))
    free = ring_down(record(x, 200.0), modes=1)
    again = ring_down(record(x, 200.0), start=si(free, "start"), end=si(free, "end"), modes=1)
    assert again.modes == free.modes
    assert again.explained == free.explained
    assert si(free, "start") > 0.6


def test_every_number_of_modes_that_can_be_asked_for_is_found():
    t = np.arange(300) / 200.0
    x = ring(t, -2 + 40j) + ring(t, -2 + 110j) + ring(t, -3 + 180j) + ring(t, -3 + 240j)
    x = x + np.random.default_rng(4).normal(0, 1e-3, len(t))
    got = ring_down(record(x, 200.0), start=0.0, modes=4).modes
    np.testing.assert_allclose([each.amplitude[0] for each in got], np.ones(4), atol=0.01)
    with pytest.raises(InputError, match="modes = 5: not 1 to 4"):
        ring_down(record(x, 200.0), modes=5)


@pytest.mark.parametrize(("many", "enough"), [(24, True), (23, False)])
def test_two_dozen_samples_are_enough(many, enough):
    """The cosine turns after two samples, and the record ends so many later."""
    t = np.arange(202 + many) / 100.0
    made = record(ring(t, -6 + 2j * np.pi * 15, 2.0))
    if enough:
        assert si(ring_down(made).modes[0], "frequency") == pytest.approx(15.03, abs=0.01)
    else:
        with pytest.raises(InputError, match="no sum of a few decaying sines"):
            ring_down(made)

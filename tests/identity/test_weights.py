"""A mount under weights: truth is found again within the stated band, mistakes get one line."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import brentq, curve_fit

from isolator.block import squeeze, squeeze_slope
from isolator.units import G0
from isolator.weights import (
    COVERAGE,
    SHAPE_WORTH,
    SLIP_WITHIN,
    SLIPS,
    Measured,
    WeightsTest,
    combined,
    measure,
    next_weight,
    slip,
)

LOADS = G0 * np.array([0.2, 0.5, 1.0, 1.5, 2.0])


def readings(stiffness, ruler, samples=1, noise=0.0, seed=0, height=np.inf, zero=3e-3):
    rng = np.random.default_rng(seed)
    load, deflection, sample = [], [], []
    for n in range(samples):
        d = LOADS / stiffness
        if np.isfinite(height):
            grid = np.linspace(0, 0.6, 4000) * height
            d = np.interp(LOADS, stiffness * height * squeeze(grid / height), grid)
        d = d + zero * (n + 1) + noise * rng.standard_normal(len(LOADS))
        load += list(LOADS)
        deflection += list(np.round(d / ruler) * ruler)
        sample += [n] * len(LOADS)
    return WeightsTest(
        np.array(load), np.array(deflection), np.array(sample), np.ones(len(load), bool), ruler
    )


def test_a_straight_line_is_that_of_the_textbook():
    """Cross: scipy.stats.linregress and its confidence interval (one sample, fine ruler)."""
    test = readings(8e3, 1e-6, noise=4e-5, seed=3)
    ours = measure(test)
    line = stats.linregress(test.load, test.deflection)
    assert ours.stiffness == pytest.approx(1 / line.slope, rel=1e-9)
    half = stats.t.ppf((1 + COVERAGE) / 2, len(LOADS) - 2) * line.stderr / line.slope
    assert math.log(ours.high) == pytest.approx(math.hypot(half, SHAPE_WORTH), rel=1e-6)
    assert ours.low == pytest.approx(1 / ours.high)
    assert np.isinf(ours.height)
    assert ours.tangent(5.0) == ours.stiffness
    assert ours.curve().force(1e-3) == pytest.approx(ours.stiffness * 1e-3)


@pytest.mark.heavy
def test_the_truth_is_inside_as_often_as_is_said():
    """Seeded: 95 % of 600, within three standard errors."""
    hits = 0
    for seed in range(600):
        found = measure(readings(8e3, 1e-6, noise=3e-5, seed=seed))
        k = found.stiffness if np.isinf(found.height) else float(found.tangent(0.0))
        hits += k * found.low <= 8e3 <= k * found.high
    assert hits / 600 > COVERAGE - 3 * math.sqrt(COVERAGE * (1 - COVERAGE) / 600)


def of_block(load, ruler, stiffness=2e3, height=15e-3):
    """One sample that hardens as a block, read without any error."""
    x = np.linspace(0, 0.9, 200001)
    d = height * np.interp(load, stiffness * height * squeeze(x), x)
    ones = np.ones(len(load), bool)
    return WeightsTest(np.asarray(load, float), d, np.zeros(len(load), int), ones, ruler)


def half_width(test, free, samples=1):
    """Student's t of a ruler's steps alone, and the choice of a shape. [logarithm]"""
    spread = sum(((test.load[test.sample == n] - LOADS.mean()) ** 2).sum() for n in range(samples))
    slope = np.polyfit(test.load[: len(LOADS)], test.deflection[: len(LOADS)], 1)[0]
    own = stats.t.ppf((1 + COVERAGE) / 2, free) * test.ruler / math.sqrt(12) / math.sqrt(spread)
    return math.hypot(own / slope, SHAPE_WORTH)


def test_a_ruler_is_never_finer_than_its_steps():
    """Exact readings: what is left is step/√12 at five loads, less a line and a zero of each."""
    one, two = readings(8e3, 2e-4), readings(8e3, 2e-4, samples=2)
    exact = [t.load / 8e3 + 3e-3 * (t.sample + 1) for t in (one, two)]
    for test, read, free, samples in ((one, exact[0], 3, 1), (two, exact[1], 7, 2)):
        test = WeightsTest(test.load, read, test.sample, test.rising, 2e-4)
        assert math.log(measure(test).high) == pytest.approx(half_width(test, free, samples))
    bent = of_block(LOADS, 2e-4)
    assert np.isfinite(measure(bent).height)
    assert math.log(measure(bent).high) == pytest.approx(half_width(bent, 2), rel=1e-6)


@pytest.mark.parametrize("share", [0.02, 0.75, 0.9])
def test_a_block_is_found_again_however_flat_it_was_pressed(share):
    x = np.linspace(0, share, 8)[1:]
    found = measure(of_block(2e3 * 15e-3 * squeeze(x), 1e-7))
    assert found.stiffness == pytest.approx(2e3, rel=1e-4)
    assert found.height == pytest.approx(15e-3, rel=1e-3)
    curve, load = found.curve(), found.most * np.linspace(0.05, 1.0, 50)
    np.testing.assert_allclose(curve.force(found.deflection(load)), load, rtol=3e-3)


@pytest.mark.parametrize("zero", [0.0, 0.02, 0.1, -1.0])
def test_where_the_ruler_stands_says_nothing_of_a_block(zero):
    """Each sample has its own zero: its bends alone tell how high the block is."""
    x = np.linspace(0.02, 0.6, 8)
    load = 2e3 * 15e-3 * squeeze(x)
    read = np.concatenate([15e-3 * x, 15e-3 * x + zero])
    sample, rising = np.repeat([0, 1], 8), np.ones(16, dtype=bool)
    found = measure(WeightsTest(np.tile(load, 2), read, sample, rising, 1e-7))
    assert found.stiffness == pytest.approx(2e3, rel=1e-4)
    assert found.height == pytest.approx(15e-3, rel=1e-3)


def test_a_stop_is_no_block():
    """Readings that end at once would be a block in its last twentieth, far from any load."""
    load = np.array([1.0, 2, 3, 4, 20, 100])
    for d in ([0, 1, 2, 3, 3.01, 3.02], [0, 1, 2, 2.5, 2.6, 2.61]):
        test = WeightsTest(load, 1e-3 * np.array(d), np.zeros(6, int), np.ones(6, bool), 1e-4)
        assert np.isinf(measure(test).height)
        assert measure(test).high > 2.0


def test_a_bend_counts_where_the_ruler_could_show_it():
    """Exact readings of a block: the line's squares against those of the steps, n·step²/12."""
    load = np.linspace(2, 30, 8)
    d = of_block(load, 1e-4).deflection
    left = ((d - np.polyval(np.polyfit(load, d, 1), load)) ** 2).sum()
    even = math.sqrt(12 * left / len(load))
    assert np.isfinite(measure(of_block(load, 0.97 * even)).height)
    assert np.isinf(measure(of_block(load, 1.03 * even)).height)


def test_three_readings_are_a_line_and_four_may_bend():
    three, four = (measure(of_block(np.linspace(2, 30, n), 1e-6)) for n in (3, 4))
    assert np.isinf(three.height)
    assert four.height == pytest.approx(15e-3, rel=1e-3)
    assert four.stiffness == pytest.approx(2e3, rel=1e-3)
    soft = of_block(LOADS, 1e-6)
    soft = WeightsTest(soft.load, soft.load**2 / 1e5, soft.sample, soft.rising, 1e-6)
    assert np.isinf(measure(soft).height)  # what softens is no block


@pytest.mark.parametrize("seed", range(2))
def test_a_bend_by_chance_is_a_line(seed):
    """Cross: scipy.optimize.curve_fit of the block, and the F test of one parameter more."""
    load = np.linspace(3, 24, 8)
    x = np.linspace(0, 0.9, 20001)

    def block(f, log_stiffness, log_height, zero):
        height = math.exp(log_height)
        return height * np.interp(f, math.exp(log_stiffness) * height * squeeze(x), x) + zero

    start = (math.log(8e3), math.log(12e-3), 0.0)
    exact, noise = block(load, *start), np.random.default_rng(seed).standard_normal(8)

    def fits(read):
        """Slope of the line, squares that are left of line and block, the block."""
        fit, _ = curve_fit(block, load, read, start)
        line = np.polyfit(load, read, 1)
        left = [((read - at) ** 2).sum() for at in (np.polyval(line, load), block(load, *fit))]
        return line[0], left, fit

    def chance(size):
        _, (line, bent), _ = fits(exact + size * noise)
        return stats.f.sf((line - bent) / (bent / 5), 1, 5)

    for wanted, bends in ((0.046, True), (0.054, False)):
        size = brentq(lambda size, p=wanted: chance(size) - p, 1e-6, 1e-3, rtol=1e-3)
        read = exact + size * noise
        test = WeightsTest(load, read, np.zeros(8, int), np.ones(8, bool), 1e-7)
        found = measure(test)
        assert np.isfinite(found.height) == bends
        line, left, (log_stiffness, log_height, _) = fits(read)
        own = math.sqrt((left[1] / 5 if bends else left[0] / 6) / ((load - load.mean()) ** 2).sum())
        own *= stats.t.ppf(0.975, 5 if bends else 6) / line
        assert math.log(found.high) == pytest.approx(math.hypot(own, SHAPE_WORTH), rel=1e-4)
        if bends:
            assert found.stiffness == pytest.approx(math.exp(log_stiffness), rel=1e-3)
            assert found.height == pytest.approx(math.exp(log_height), rel=1e-2)


@pytest.mark.parametrize("seed", range(8))
def test_a_coarse_ruler_leaves_the_truth_inside(seed):
    rng = np.random.default_rng(seed)
    stiffness = rng.uniform(2e3, 9e3)
    found = measure(readings(stiffness, 0.5e-3, zero=rng.uniform(0, 5e-3)))
    assert found.stiffness * found.low <= stiffness <= found.stiffness * found.high
    assert found.high > 1.02


@pytest.mark.parametrize("bend", [0.05, 0.3, 1.0])
def test_a_curve_of_another_family_is_inside_too(bend):
    """F = k·d(1 + bend·(d/2 mm)²), seven loads read to .02 mm: its tangent at half of them."""
    d = np.linspace(0, 6e-3, 60001)
    force = 8e3 * d * (1 + bend * (d / 2e-3) ** 2)
    loads = np.linspace(30 / 7, 30, 7)
    at = np.interp(15.0, force, d)
    true = 8e3 * (1 + 3 * bend * (at / 2e-3) ** 2)
    hits = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)
        read = np.interp(loads, force, d) + 2e-5 * rng.standard_normal(7)
        test = WeightsTest(
            loads, np.round(read / 2e-5) * 2e-5, np.zeros(7, int), np.ones(7, bool), 2e-5
        )
        found = measure(test)
        hits += found.tangent(15.0) * found.low <= true <= found.tangent(15.0) * found.high
    assert hits >= 85


def test_a_load_may_be_read_many_times():
    rng = np.random.default_rng(1)
    load = np.repeat(LOADS, 3)
    read = load / 8e3 + 2e-4 * rng.standard_normal(len(load))
    test = WeightsTest(load, read, np.zeros(15, int), np.ones(15, bool), 5e-5)
    found = measure(test)
    assert found.stiffness * found.low <= 8e3 <= found.stiffness * found.high


def test_a_block_that_hardens_is_noticed():
    test = readings(2e3, 1e-5, height=15e-3)
    found = measure(test)
    assert found.height == pytest.approx(15e-3, rel=0.05)
    assert found.stiffness == pytest.approx(2e3, rel=0.03)
    np.testing.assert_allclose(
        np.diff(found.deflection(LOADS)), np.diff(test.deflection), atol=2e-5
    )
    curve = found.curve()
    at = found.deflection(np.array([5.0, 12.0]))
    np.testing.assert_allclose(curve.force(at), [5.0, 12.0], rtol=2e-3)
    np.testing.assert_allclose(curve.tangent(at), found.tangent([5.0, 12.0]), rtol=2e-2)
    assert curve.force(-at[0]) == pytest.approx(-5.0, rel=2e-3)


def test_what_was_measured_is_a_line_or_a_block():
    """Closed forms: F/k; F = k·h·f(x) at x = d/h, and its slope."""
    line = Measured(5e3, np.inf, 0.9, 1.1, np.nan, np.nan, 20.0)
    np.testing.assert_allclose(line.deflection([5.0, 40.0]), [1e-3, 8e-3])
    block = Measured(5e3, 12e-3, 0.9, 1.1, np.nan, np.nan, 20.0)
    x = np.array([1e-4, 0.1, 0.4, 0.94])
    np.testing.assert_allclose(block.deflection(5e3 * 12e-3 * squeeze(x)), 12e-3 * x, rtol=1e-12)
    tangents = block.tangent(5e3 * 12e-3 * squeeze(x))
    np.testing.assert_allclose(tangents, 5e3 * squeeze_slope(x), rtol=1e-9)
    assert block.deflection(1e9) == pytest.approx(0.95 * 12e-3, rel=1e-12)
    curve = block.curve()
    end = float(block.deflection(20.0))
    assert curve.force(end) == pytest.approx(20.0)
    assert curve.force(1.5 * end) == pytest.approx(20.0 + end / 2 * float(block.tangent(20.0)))
    assert curve.tangent(0.0) == pytest.approx(5e3)


def test_samples_that_have_nothing_in_common_scatter_by_nine_tenths():
    parts = [readings(k, 1e-6) for k in (2e3, 4e4)]
    test = WeightsTest(
        np.tile(LOADS, 2), np.concatenate([p.deflection for p in parts]),
        np.repeat([0, 1], 5), np.ones(10, bool), 1e-6,
    )  # fmt: skip
    assert measure(test).scatter == 0.9


def test_unlike_samples_are_scatter_and_not_reading():
    parts = [readings(k, 1e-5) for k in (7e3, 8e3, 9.2e3)]
    test = WeightsTest(
        np.concatenate([p.load for p in parts]),
        np.concatenate([p.deflection for p in parts]),
        np.repeat([0, 1, 2], len(LOADS)),
        np.ones(3 * len(LOADS), bool),
        1e-5,
    )
    found = measure(test)
    log = np.log([7e3, 8e3, 9.2e3])
    assert found.scatter == pytest.approx(stats.t.ppf(0.975, 2) * log.std(ddof=1), rel=0.02)
    expected = math.hypot(found.scatter / math.sqrt(3), SHAPE_WORTH)  # each is read well
    assert math.log(found.high) == pytest.approx(expected, rel=0.05)
    assert math.isnan(measure(parts[0]).scatter)


def test_samples_may_be_read_under_loads_of_their_own():
    """Exact lines of 7.5 and 8 N/mm: their slopes do not know under how many weights."""
    load = np.concatenate([LOADS, 2 * LOADS[1:]])
    sample = np.repeat([0, 1], (5, 4))
    read = load / np.array([7.5e3, 8e3])[sample]
    found = measure(WeightsTest(load, read, sample, np.ones(9, bool), 1e-6))
    expected = stats.t.ppf(0.975, 1) * np.log([7.5e3, 8e3]).std(ddof=1)
    assert found.scatter == pytest.approx(expected, rel=1e-9)
    assert (found.add, found.narrows) == next_weight(
        WeightsTest(load, read, sample, np.ones(9, bool), 1e-6), 4 * G0
    )


def test_what_is_lost_is_the_area_of_the_loop():
    """Exact: on the way down each load stands 0.4 mm further, of a way of 2 mm, so of the work
    (F1 + F0)/2·(d1 − d0) nothing but the shift of both ends is missing."""
    load = np.array([0.0, 5, 10, 15, 20])
    up, down = load / 1e4, load / 1e4 + 4e-4 * (1 - (load / 20) ** 2)
    test = WeightsTest(
        np.concatenate([load, load[::-1]]),
        np.concatenate([up, down[::-1]]),
        np.zeros(10, int),
        np.repeat([True, False], 5),
        1e-5,
    )
    grid = np.linspace(0, 20, 200)
    area = [np.trapezoid(grid, np.interp(grid, load, d)) for d in (up, down)]
    assert measure(test).lost == pytest.approx(1 - area[1] / area[0], rel=1e-6)
    assert measure(test).lost > 0.1
    assert measure(test).stiffness == pytest.approx(1e4)


def looped(*samples):
    """Share lost of samples, each of (loads up, travels up, loads down, travels down) [N, mm]."""
    load, travel, sample, rising = [], [], [], []
    for n, (up, on, down, off) in enumerate(samples):
        load += [*up, *down]
        travel += [*on, *off]
        sample += [n] * (len(up) + len(down))
        rising += [True] * len(up) + [False] * len(down)
    test = WeightsTest(
        np.array(load, float), 1e-3 * np.array(travel), np.array(sample), np.array(rising), 1e-5
    )
    return measure(test).lost


def test_a_loop_counts_between_the_loads_that_both_branches_have():
    """∫F dd of straight branches: on the way back four fifths of the travel between 5 and 15 N,
    whatever they do outside of that."""
    up, on = [5, 10, 15, 20], [0.5, 1, 1.5, 2.6]
    fifth = (up, on, [15, 10, 5, 0], [1.6, 1.2, 0.8, 0.1])
    assert looped(fifth) == pytest.approx(0.2)
    half = (up, on, [15, 5], [1.6, 1.1])
    assert looped(half) == pytest.approx(0.5)  # two readings on the way back are enough
    assert looped(fifth, half) == pytest.approx(0.35)
    once = (up, on, [10], [1.2])
    assert math.isnan(looped(once))
    assert looped(once, half) == pytest.approx(0.5)
    apart = (up, on, [4, 1], [0.5, 0.1])
    assert math.isnan(looped(apart))
    stuck = ([5, 10, 15, 20], [0.5, 1, 2, 2], [20, 15], [2, 1.8])
    assert math.isnan(looped(stuck))  # no work on the way up, nothing to lose


def test_the_next_weight_is_far_from_the_others():
    test = readings(8e3, 1e-4)
    load, share = next_weight(test, 30.0)
    assert load == pytest.approx(45.0)
    assert 0.3 < share < 1
    assert next_weight(test, 5.0)[0] == 0.0
    # the same line with that reading taken: its band is so much of what it was
    more = WeightsTest(
        np.append(test.load, load), np.append(test.deflection, load / 8e3 + 3e-3),
        np.zeros(6, int), np.ones(6, bool), 1e-4,
    )  # fmt: skip
    spreads = [((t.load - t.load.mean()) ** 2).sum() for t in (test, more)]
    assert share == pytest.approx(math.sqrt(spreads[0] / spreads[1]))


ends = st.tuples(st.floats(100, 1e5), st.floats(1.01, 20)).map(lambda v: (v[0], v[0] * v[1]))


@given(ends, ends)
def test_two_bands_together_are_narrower_than_either(one, other):
    low, middle, high = combined(one, other)
    assert low <= middle <= high
    assert high / low <= min(one[1] / one[0], other[1] / other[0]) * (1 + 1e-9)
    assert combined(other, one) == pytest.approx((low, middle, high))
    same = combined(one, one)
    assert math.log(same[2] / same[0]) == pytest.approx(
        math.log(one[1] / one[0]) / math.sqrt(2), rel=1e-6
    )


def test_every_slip_is_named_and_the_truth_is_not():
    for true in SLIPS.values():
        found = slip(1e4 / true, (8e3, 12.5e3))
        assert SLIPS[found] == pytest.approx(true, rel=0.03)
    assert slip(35e3, (5e3, 7.5e3)) == "lbf/in typed as N/mm"  # 35 lbf/in is 6.13 N/mm
    assert slip(1e4, (8e3, 12.5e3)) == ""
    assert slip(3e4, (8e3, 12.5e3)) == ""


def test_slips_are_the_units_definitions():
    """1 lbf is 4.4482216152605 N, 1 inch 25.4 mm, 1 kgf 9.80665 N (published, by definition)."""
    inch = 4.4482216152605 / 25.4
    factors = {
        "lbf/in typed as N/mm": inch,
        "N/mm typed as lbf/in": 1 / inch,
        "N/m typed as N/mm": 1 / 1000,
        "N/mm typed as N/m": 1000,
        "kgf/mm typed as N/mm": 9.80665,
        "N/mm typed as kgf/mm": 1 / 9.80665,
        "a decimal point": 10,
        "a decimal point, the other way": 1 / 10,
    }
    assert pytest.approx(factors, rel=1e-5) == SLIPS
    for name, true in factors.items():
        assert slip(1e4 / true, (1e4, 1.0001e4)) == name


def test_inside_of_twice_a_wide_band_nothing_slipped():
    band = (1e3, 1e5)
    for stated in (500.0, 1500.0, 6e4, 2e5):
        assert slip(stated, band) == ""
    assert slip(499.0, band) == "a decimal point"
    assert slip(2.01e5, band).startswith("a decimal point")
    narrow, inch = (1e4, 1.001e4), SLIPS["lbf/in typed as N/mm"]
    for edge, way in ((narrow[0] / SLIP_WITHIN, 1), (narrow[1] * SLIP_WITHIN, -1)):
        assert slip(edge * 1.01**way / inch, narrow) == "lbf/in typed as N/mm"
        assert slip(edge * 0.99**way / inch, narrow) == ""


@pytest.mark.parametrize(
    ("travels", "words"),
    [
        ([0, 8, 6, 12], ""),  # it falls by two steps of the ruler
        ([0, 8, 5, 12], "it falls by 3e3 mm"),
        ([0, 1, 2, 3], ""),  # it moves by three
        ([0, 1, 2, 2], "it moved 2e3 mm, read in steps of 1e3 mm"),
    ],
)
def test_two_steps_back_are_reading_and_three_ahead_are_moving(travels, words):
    """In whole steps of 1 m, so that the limits are met exactly."""
    given = (np.arange(1.0, 5), np.array(travels, float), np.zeros(4, int), np.ones(4, bool), 1.0)
    if not words:
        assert measure(WeightsTest(*given)).stiffness > 0
    else:
        with pytest.raises(ValueError, match=words.replace("e3", r"e\+03")):
            WeightsTest(*given)


def test_three_loads_are_enough_and_numbers_are_shown_in_mm():
    """1.0045 mm is 1 mm in three digits, and 1.01 mm were it a thousandth more."""
    three = {"sample": np.zeros(3, int), "rising": np.ones(3, bool)}
    load = np.array([1.0, 2, 3])
    assert measure(WeightsTest(load, load / 8e3, ruler=1e-6, **three)).stiffness > 0
    with pytest.raises(ValueError, match=r"falls by 1 mm from"):
        WeightsTest(load, np.array([1.0045e-3, 0, 2e-3]), ruler=1e-6, **three)
    with pytest.raises(ValueError, match=r"moved 1 mm, read in steps of 1 mm; hang"):
        WeightsTest(load, np.array([0, 0, 1.0045e-3]), ruler=1.0045e-3, **three)


MISTAKES = {
    "two loads": (lambda t: t | {"load": np.array([1.0, 1, 2, 2, 2])}, "2 different loads"),
    "falling": (lambda t: t | {"deflection": t["deflection"][::-1]}, "it falls by"),
    "still": (lambda t: t | {"deflection": np.full(5, 1e-3)}, "hang on more, or read finer"),
    "unlike": (lambda t: t | {"load": t["load"][:4]}, "give as many of each"),
    "a load": (lambda t: t | {"load": np.append(LOADS[:4], np.inf)}, "not all are finite"),
    "a way": (lambda t: t | {"deflection": np.append(LOADS[:4], np.nan)}, "not all are finite"),
    "all of it falls a little": (
        lambda t: t | {"deflection": -1.5e-4 * np.arange(5)},
        "sample 0: on the whole it goes no further as more hangs on it",
    ),
    "as far down as up": (
        lambda t: t | {"load": np.arange(1.0, 6), "deflection": 1e-4 * np.array([0, 2, 4, 2, 0])},
        "sample 0: on the whole it goes no further",
    ),
    "a sample": (
        lambda t: t | {"sample": np.array([0, 0, 0, 1, 1])},
        "sample 1: 2 different loads put on, 3 are the least",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_test_that_says_nothing_is_refused(mistake):
    change, words = MISTAKES[mistake]
    given = {
        "load": LOADS,
        "deflection": LOADS / 8e3,
        "sample": np.zeros(5, int),
        "rising": np.ones(5, bool),
        "ruler": 1e-4,
    }
    with pytest.raises(ValueError, match=words):
        WeightsTest(**change(given))

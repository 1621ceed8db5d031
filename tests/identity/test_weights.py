"""A mount under weights: truth is found again within the stated band, mistakes get one line."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from isolator.block import squeeze
from isolator.units import G0
from isolator.weights import (
    COVERAGE,
    SHAPE_WORTH,
    SLIPS,
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
    assert math.log(found.high) >= found.scatter / math.sqrt(3)
    assert math.isnan(measure(parts[0]).scatter)


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


MISTAKES = {
    "two loads": (lambda t: t | {"load": np.array([1.0, 1, 2, 2, 2])}, "2 different loads"),
    "falling": (lambda t: t | {"deflection": t["deflection"][::-1]}, "it falls by"),
    "still": (lambda t: t | {"deflection": np.full(5, 1e-3)}, "hang on more, or read finer"),
    "unlike": (lambda t: t | {"load": t["load"][:4]}, "give as many of each"),
    "not finite": (lambda t: t | {"load": t["load"] * np.nan}, "not all are finite"),
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

"""Exact facts about load-deflection curves."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from isolator.curve import Curve

# Whole hundredths: a slope of 1e-300 N/m is not a mount, and overflows the library's means.
HUNDREDTHS = st.integers(0, 10_000).map(lambda n: n / 100)
STEPS = st.lists(st.tuples(st.floats(0.1, 10.0), HUNDREDTHS), min_size=1, max_size=7)


def table(steps: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    d, f = np.cumsum(np.array(steps), axis=0).T
    return d * 1e-3, f


def reach(curve: Curve) -> np.ndarray:
    """From well below the curve to well above it, past its kinks but not on them."""
    end = np.abs(curve.deflection).max()
    return np.linspace(-2.013 * end, 2.017 * end, 301)


@given(STEPS)
def test_a_curve_meets_its_points_and_never_falls(steps: list[tuple[float, float]]) -> None:
    d, f = table(steps)
    curve = Curve.through(d, f)
    np.testing.assert_allclose(curve.force(d), f, rtol=1e-12, atol=1e-12)
    x = reach(curve)
    assert np.all(np.diff(curve.force(x)) >= -1e-9 * max(f[-1], 1.0))
    assert np.all(curve.tangent(x) >= -1e-9 * max(f[-1], 1.0) / d[0])
    np.testing.assert_allclose(curve.force(-x), -curve.force(x), atol=1e-9 * max(f[-1], 1.0))
    assert np.all(curve.energy(x) >= -1e-15)
    assert curve.force(0.0) == 0.0
    assert curve.energy(0.0) == 0.0


@given(STEPS)
def test_force_and_energy_are_those_of_a_shape_preserving_library(
    steps: list[tuple[float, float]],
) -> None:
    d, f = table(steps)
    both = np.concatenate([-d[::-1], [0.0], d]), np.concatenate([-f[::-1], [0.0], f])
    library = PchipInterpolator(*both)
    stored = library.antiderivative()
    x = np.linspace(-d[-1], d[-1], 101)
    curve = Curve.through(d, f)
    size = max(f[-1], 1.0)
    np.testing.assert_allclose(curve.force(x), library(x), atol=1e-10 * size)
    np.testing.assert_allclose(curve.tangent(x), library(x, 1), atol=1e-8 * size / d.min())
    np.testing.assert_allclose(curve.energy(x), stored(x) - stored(0.0), atol=1e-10 * size * d[-1])


@given(STEPS)
def test_tangent_is_the_slope_of_force_and_force_of_energy(
    steps: list[tuple[float, float]],
) -> None:
    d, f = table(steps)
    curve = Curve.through(d, f)
    size, h = max(f[-1], 1.0), 1e-6 * d[-1]
    # The tangent bends at the nodes: look beside them.
    x = reach(curve)
    x = x[np.abs(x[:, None] - curve.deflection).min(axis=1) > 2 * h]
    slope = (curve.force(x + h) - curve.force(x - h)) / (2 * h)
    np.testing.assert_allclose(slope, curve.tangent(x), rtol=1e-4, atol=1e-4 * size / d.min())
    force = (curve.energy(x + h) - curve.energy(x - h)) / (2 * h)
    np.testing.assert_allclose(force, curve.force(x), rtol=1e-5, atol=1e-5 * size)


def test_points_on_a_line_are_that_line() -> None:
    x = np.linspace(-0.05, 0.05, 41)
    for curve in (
        Curve.straight(np.array(9e3)),
        Curve.through([0.001, 0.004, 0.01], [9.0, 36.0, 90.0]),
        Curve.through([-0.002, 0.0, 0.01], [-18.0, 0.0, 90.0]),
    ):
        np.testing.assert_allclose(curve.force(x), 9e3 * x, rtol=1e-12, atol=1e-12)
        np.testing.assert_allclose(curve.tangent(x), 9e3, rtol=1e-12)
        np.testing.assert_allclose(curve.energy(x), 9e3 * x**2 / 2, rtol=1e-11, atol=1e-15)


def test_a_tension_branch_is_its_own() -> None:
    curve = Curve.through([-0.004, 0.002, 0.006], [-1.0, 20.0, 120.0])
    assert curve.force(-0.004) == pytest.approx(-1.0)
    assert curve.force(0.006) == pytest.approx(120.0)
    # Beyond its ends a curve goes on with the slope that it has there.
    for end, way in ((-0.004, -1.0), (0.006, 1.0)):
        slope = curve.tangent(end)
        assert curve.force(end + way * 0.01) == pytest.approx(curve.force(end) + way * slope * 0.01)
        assert curve.tangent(end + way * 0.01) == pytest.approx(slope)


def test_a_mount_without_tension_carries_nothing_when_pulled() -> None:
    whole = Curve.through([0.002, 0.006], [20.0, 120.0])
    loose = whole.without_tension()
    pushed, pulled = np.linspace(0.0, 0.02, 21), np.linspace(-0.05, -1e-9, 21)
    for name in ("force", "tangent", "energy"):
        np.testing.assert_allclose(getattr(loose, name)(pushed), getattr(whole, name)(pushed))
        np.testing.assert_array_equal(getattr(loose, name)(pulled), 0.0)
    with pytest.raises(ValueError, match="one curve at a time"):
        Curve.straight(np.array([1e3, 2e3])).without_tension()


@given(STEPS, st.floats(0.1, 50.0))
def test_scaled_padded_and_stacked_curves_are_the_same_curves(
    steps: list[tuple[float, float]], factor: float
) -> None:
    one, other = Curve.through(*table(steps)), Curve.through([0.004], [10.0])
    x = reach(one)
    for name in ("force", "tangent", "energy"):
        plain = getattr(one, name)(x)
        size = np.abs(plain).max() + 1e-9
        for same, times in ((one.scaled(factor), factor), (one.padded(24), 1.0)):
            np.testing.assert_allclose(
                getattr(same, name)(x), times * plain, rtol=1e-9, atol=1e-9 * size * times
            )
        both = getattr(Curve.stacked([one, other]), name)(x[:, None])
        expected = np.stack([plain, getattr(other, name)(x)], axis=-1)
        np.testing.assert_allclose(both, expected, rtol=1e-9, atol=1e-9 * np.abs(expected).max())


def test_padding_a_batch_pads_each_of_its_curves() -> None:
    batch = Curve.straight(np.array([1e3, 9e3, 4e3])).padded(6)
    assert batch.deflection.shape == (3, 6)
    for x in (-0.05, 0.004, 0.05):
        np.testing.assert_allclose(batch.force(x), [1e3 * x, 9e3 * x, 4e3 * x], rtol=1e-12)
        np.testing.assert_allclose(batch.tangent(x), [1e3, 9e3, 4e3], rtol=1e-12)


@pytest.mark.parametrize(
    ("deflection", "force", "message"),
    [
        ([0.002, 0.001], [1.0, 2.0], "must rise"),
        ([0.0, 0.001, 0.001], [0.0, 1.0, 2.0], "must rise"),
        ([0.001, 0.002], [2.0, 1.0], "must not fall"),
        ([0.001], [-1.0], "must not fall"),
        ([-0.001, 0.002], [1.0, 2.0], "must not fall"),
        ([0.0, 0.001], [0.5, 1.0], "zero deflection must be zero"),
        ([-0.002, 0.0], [-1.0, 0.0], "point in compression"),
        ([-0.002], [-1.0], "point in compression"),
        ([0.0], [0.0], "point in compression"),
        ([], [], "point in compression"),
    ],
)
def test_points_that_make_no_curve(
    deflection: list[float], force: list[float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        Curve.through(deflection, force)


@pytest.mark.parametrize("count", [2.0, 3.0])
def test_springs_in_series_share_the_way_and_not_the_force(count: float) -> None:
    one = Curve.through([-0.004, 0.002, 0.006], [-1.0, 20.0, 120.0])
    x = reach(one)
    several = one.slower(count)
    np.testing.assert_allclose(several.force(count * x), one.force(x), rtol=1e-12, atol=1e-9)
    np.testing.assert_allclose(several.tangent(count * x), one.tangent(x) / count, rtol=1e-9)
    np.testing.assert_allclose(several.energy(count * x), count * one.energy(x), atol=1e-12)


def test_two_springs_against_each_other_push_with_their_difference() -> None:
    """Exact at the nodes of both, in force and, where nothing kinks, in slope."""
    one = Curve.through([-0.004, 0.002, 0.006], [-1.0, 20.0, 120.0])
    both = one.opposed()
    nodes = np.array([0.006, 0.004, 0.002, 0.0])
    for x in (nodes, -nodes):
        np.testing.assert_allclose(both.force(x), one.force(x) - one.force(-x), atol=1e-12)
    np.testing.assert_array_equal(np.unique(np.abs(both.deflection)), nodes[::-1])
    smooth = one.tangent(0.002) + one.tangent(-0.002)
    assert both.tangent(0.002) == pytest.approx(smooth, rel=1e-5)
    straight = Curve.straight(np.array(9e3)).opposed()
    np.testing.assert_allclose(straight.force(reach(one)), 18e3 * reach(one), rtol=1e-9)
    with pytest.raises(ValueError, match="one curve at a time is set against itself"):
        Curve.straight(np.array([1e3, 2e3])).opposed()


def test_two_pads_against_each_other_are_one_mount_that_is_pulled_too() -> None:
    """Where one lets go the other takes over: no kink is left at rest."""
    whole = Curve.through([0.002, 0.006], [20.0, 120.0])
    both = whole.without_tension().opposed()
    for name in ("force", "tangent", "energy"):
        ours, wanted = (getattr(curve, name)(reach(whole)) for curve in (both, whole))
        np.testing.assert_allclose(ours, wanted, rtol=1e-5, atol=1e-9)


def test_a_spring_behind_a_curve_gives_way_under_the_same_force() -> None:
    one = Curve.through([0.002, 0.006], [20.0, 120.0])
    both = one.in_series(8e3)
    x = one.deflection
    np.testing.assert_allclose(both.force(x + one.force(x) / 8e3), one.force(x), atol=1e-12)
    slope = one.tangent(x)
    np.testing.assert_allclose(both.slope, slope * 8e3 / (slope + 8e3), rtol=1e-9)
    np.testing.assert_array_equal(one.in_series(np.inf).deflection, one.deflection)
    soft = Curve.straight(np.array(0.5)).in_series(0.5)
    assert soft.force(0.1) == pytest.approx(0.025)
    for wrong in (0.0, [8e3, -8e3]):
        with pytest.raises(ValueError, match="above zero"):
            one.in_series(wrong)


def test_tangent_elasticity_is_a_tangent_up_to_its_straight_end() -> None:
    """2·k·d/π·tan(πx/2d) and its energy up to 0.95·d, from there on a straight line (mindlin)."""
    k, d = 2e3, 0.03
    curve = Curve.tangent_elasticity(k, d)
    x = np.linspace(-0.95, 0.95, 39) * d
    angle = np.pi * x / (2 * d)
    np.testing.assert_allclose(curve.force(x), 2 * k * d / np.pi * np.tan(angle), rtol=1e-5)
    energy = k * (2 * d / np.pi) ** 2 * np.log(1 / np.cos(angle))
    np.testing.assert_allclose(curve.energy(x), energy, rtol=1e-5, atol=1e-12)
    end = float(curve.tangent(0.95 * d))
    assert end == pytest.approx(k / np.cos(0.475 * np.pi) ** 2, rel=1e-9)
    assert curve.force(1.2 * d) == pytest.approx(float(curve.force(0.95 * d)) + end * 0.25 * d)
    assert Curve.tangent_elasticity(0.5, d).force(d / 2) == pytest.approx(d / np.pi)
    for wrong in ((0.0, d), (k, 0.0), (-k, d), (k, -d), ([k, -k], d), (k, [d, -d])):
        with pytest.raises(ValueError, match="above zero"):
            Curve.tangent_elasticity(*wrong)

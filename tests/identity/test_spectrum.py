"""Exact facts about spectra of straight log-log lines."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolator.spectrum import density_at, mean_square

DENSITY = st.floats(1e-8, 1e3)
WIDTH = st.floats(1.0001, 100.0)


@given(st.floats(0.1, 100.0), WIDTH, DENSITY, DENSITY, st.floats(0.01, 0.99))
def test_mean_square_splits_at_any_inner_frequency(
    start: float, width: float, first: float, last: float, part: float
) -> None:
    frequency, density = [start, start * width], [first, last]
    inner = start * width**part
    left = mean_square([start, inner], [first, density_at(inner, frequency, density)])
    right = mean_square([inner, frequency[1]], [density_at(inner, frequency, density), last])
    assert left + right == pytest.approx(mean_square(frequency, density), rel=1e-9)


@given(st.floats(0.1, 100.0), WIDTH, DENSITY, DENSITY)
def test_mean_square_is_the_same_read_from_the_other_end(
    start: float, width: float, first: float, last: float
) -> None:
    """On log paper f → 1/f mirrors the lines: a(f) df turns into a(1/u)/u² du."""
    stop = start * width
    mirrored = mean_square([1.0 / stop, 1.0 / start], [last * stop**2, first * start**2])
    assert mirrored == pytest.approx(mean_square([start, stop], [first, last]), rel=1e-9)


@given(st.floats(-6.0, 6.0))
def test_mean_square_is_the_integral_of_a_power_law(slope: float) -> None:
    value = mean_square([2.0, 30.0], [0.5 * 2.0**slope, 0.5 * 30.0**slope])
    power = slope + 1.0
    exact = (
        0.5 * np.log(15.0)
        if power == 0.0
        else 0.5 * 2.0**power * np.expm1(power * np.log(15.0)) / power
    )
    assert value == pytest.approx(exact, rel=1e-9)


def test_one_over_f_and_vertical_steps_are_silent() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert mean_square([10.0, 100.0], [1.0, 0.1]) == pytest.approx(10.0 * np.log(10.0))
        assert mean_square([1.0, 2.0], [1.0, 0.5]) == pytest.approx(np.log(2.0))
        assert mean_square([1.0, 2.0, 2.0, 3.0], [1.0, 1.0, 5.0, 5.0]) == pytest.approx(6.0)


def test_steep_steps_stay_finite() -> None:
    """78→79 and 120→121 Hz of the truck: the power law's own exponents reach 178 and 326."""
    value = mean_square([78.0, 79.0, 120.0, 121.0], [2e-5, 1.9e-4, 2e-4, 3e-3])
    assert np.isfinite(value)
    # Between the least and the greatest area that lines through these points can hold.
    assert 2e-5 + 1.9e-4 * 41.0 + 2e-4 < value < 1.9e-4 + 2e-4 * 41.0 + 3e-3


def test_mean_square_broadcasts_over_leading_axes() -> None:
    frequency = np.array([10.0, 40.0, 500.0])
    shape = np.array([0.015, 0.015, 0.00015])
    levels = np.array([[1.0], [0.5], [0.25]])
    batch = mean_square(frequency, levels * shape)
    assert batch.shape == (3,)
    np.testing.assert_allclose(batch, levels[:, 0] * mean_square(frequency, shape), rtol=1e-12)


def test_density_meets_the_breakpoints_and_nothing_outside() -> None:
    frequency = [10.0, 40.0, 500.0]
    density = [0.015, 0.02, 0.00015]
    np.testing.assert_allclose(density_at(frequency, frequency, density), density, rtol=1e-12)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        outside = density_at([0.0, 9.999, 500.001], frequency, density)
    np.testing.assert_array_equal(outside, 0.0)


@given(st.floats(0.001, 0.999))
def test_density_is_geometric_along_a_line(part: float) -> None:
    read = density_at(10.0 * 50.0**part, [10.0, 500.0], [0.02, 0.0003])
    assert read == pytest.approx(0.02 * (0.0003 / 0.02) ** part, rel=1e-9)

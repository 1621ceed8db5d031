"""Lines over a spectrum: which they are where the spectrum is made of lines itself."""

import numpy as np
import pytest

from isolator.enveloping import enveloping_lines
from isolator.units import InputError

F = np.geomspace(10.0, 1000.0, 101)


def read(at: np.ndarray, high: np.ndarray) -> np.ndarray:
    return np.exp(np.interp(np.log(F), np.log(at), np.log(high)))


def test_two_points_are_a_line_and_no_more_is_used_than_is_needed():
    w = 3.0 * F**-1.5
    for points in (2, 8):
        at, high = enveloping_lines(F, w, points)
        assert at == pytest.approx([10.0, 1000.0])
        assert high == pytest.approx(3.0 * at**-1.5, rel=1e-6)


@pytest.mark.parametrize("points", [3, 8])
def test_a_roof_is_found_and_nothing_beside_it(points: int):
    f = np.unique(np.append(F, 200.0))
    w = np.exp(np.interp(np.log(f), np.log([10.0, 200.0, 1000.0]), np.log([0.01, 1.0, 0.001])))
    at, high = enveloping_lines(f, w, points)
    assert at == pytest.approx([10.0, 200.0, 1000.0])
    assert high == pytest.approx([0.01, 1.0, 0.001], rel=1e-6)


def test_a_line_over_a_single_peak_lies_on_it_and_nowhere_below():
    w = np.full(101, 0.1)
    w[50] = 2.0
    at, high = enveloping_lines(F, w, 2)
    assert at == pytest.approx([10.0, 1000.0])
    assert read(at, high)[50] == pytest.approx(2.0)
    assert (read(at, high) >= w * (1 - 1e-12)).all()
    at, high = enveloping_lines(F, w, 40)
    assert (read(at, high) >= w * (1 - 1e-12)).all()
    assert F[50] in at
    assert high[at.tolist().index(F[50])] == pytest.approx(2.0)


def test_more_points_never_lie_higher():
    w = np.exp(np.random.default_rng(3).normal(size=101))
    areas = []
    for points in (2, 3, 5, 8):
        lines = read(*enveloping_lines(F, w, points))
        assert (lines >= w * (1 - 1e-9)).all()
        areas.append(np.log(lines).sum())
    assert (np.diff(areas) <= 1e-9).all()
    assert areas[-1] < areas[0]


def test_a_low_roof_is_found_too():
    """Its area over a straight line is 0.4 on log paper."""
    f = np.unique(np.append(F, 100.0))
    w = np.exp(np.interp(np.log(f), np.log([10.0, 100.0, 1000.0]), np.log([1.0, 1.2, 1.0])))
    assert enveloping_lines(f, w)[0] == pytest.approx([10.0, 100.0, 1000.0])


def test_two_peaks_near_the_end_are_two():
    w = np.full(101, 0.1)
    w[95], w[98] = 2.0, 1.5
    assert {F[95], F[98]} <= set(enveloping_lines(F, w, 40)[0].tolist())


def test_eight_points_unless_others_are_asked_for():
    w = np.exp(np.random.default_rng(3).normal(size=101))
    assert len(enveloping_lines(F, w)[0]) == 8


def test_two_lines_are_enough():
    at, high = enveloping_lines([1.0, 2.0], [3.0, 4.0], 2)
    assert (at.tolist(), high.tolist()) == ([1.0, 2.0], pytest.approx([3.0, 4.0]))


@pytest.mark.parametrize(
    ("f", "w"),
    [
        ([1.0], [1.0]),
        ([1.0, 2.0], [1.0, 0.0]),
        ([0.0, 2.0], [1.0, 1.0]),
        ([1.0, 2.0], [1.0, 1.0, 1.0]),
        ([[1.0, 2.0]], [[1.0, 1.0]]),
        ([1.0, 2.0], [1.0, np.nan]),
    ],
)
def test_lines_that_are_none(f: list[float], w: list[float]):
    with pytest.raises(InputError, match="density: give two lines or more, each above zero"):
        enveloping_lines(f, w)


@pytest.mark.parametrize("points", [1, 41, 2.5])
def test_so_many_points_are_not_given(points: float):
    with pytest.raises(InputError, match=r"points = .*: not 2 to 40"):
        enveloping_lines(F, F, points)

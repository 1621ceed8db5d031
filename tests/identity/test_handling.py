"""Exact facts about carrying by hand."""

import numpy as np
import pytest

from isolator.handling import FOOTFALL, UNSTEADY, Walk, floor_speed, hop_height
from isolator.sdof import expected_peak_factor
from isolator.suspension import Suspension
from isolator.units import G0, InputError


def test_the_first_tone_is_a_rise_and_fall_by_five_centimetres():
    """Common practice at 2 steps a second."""
    frequency, level = Walk().tones([2.0, 1.6])
    first = list(Walk().multiples()).index(1.0)
    rise = 2 * level[first, :, 0] / (2 * np.pi * frequency[first]) ** 2
    np.testing.assert_allclose(rise, 0.05, rtol=0.01)  # the same at any step rate
    assert level[first, 0, 0] == pytest.approx(0.4 * G0)


def test_sideways_goes_at_half_the_step_rate():
    frequency, level = Walk().tones(2.0)
    sideways = level[:, 1] > 0
    assert frequency[sideways].tolist() == [1.0, 3.0]
    assert {m for m in FOOTFALL["vertical"]} == {1.0, 2.0, 3.0, 4.0}


def test_rates_stay_with_the_walker_and_meet_every_mode_that_they_can():
    natural = np.array([[3.9, 5.8, 6.2, 9.0, 20.0, 31.0]])
    rates = Walk().rates(natural)
    assert rates.min() >= 2 * (1 - UNSTEADY) - 1e-12
    assert rates.max() <= 2 * (1 + UNSTEADY) + 1e-12
    for mode, multiple in ((3.9, 2.0), (5.8, 3.0), (6.2, 3.0)):
        assert np.abs(rates * multiple - mode).min() < 1e-12
    multiple, off = Walk().near(natural[0])
    assert multiple.tolist() == [2.0, 3.0, 3.0, 4.0, 4.0, 4.0]
    np.testing.assert_allclose(off[:4], [3.9 / 4 - 1, 5.8 / 6 - 1, 6.2 / 6 - 1, 9 / 8 - 1])


def test_a_swing_leans_the_payload_as_gravity_does():
    """On linear mounts through the centre the shift is m·a/k along each axis."""
    at = [(x, y, 0.0) for x in (-0.2, 0.2) for y in (-0.15, 0.15)]
    tray = Suspension.of_springs(8.0, np.diag([0.1, 0.15, 0.2]), at, 9e3, 6e3)
    walk = Walk(swing="20 deg")
    forces = walk.swung([0.0, 0.0, -1.0], [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    assert forces.shape == (5, 3)
    angle = np.radians(20)
    np.testing.assert_allclose(forces[0], [0, 0, -G0])
    np.testing.assert_allclose(np.abs(forces[1:, :2]).sum(axis=1), G0 * np.sin(angle))
    np.testing.assert_allclose(forces[1:, 2], -G0 * (3 - 2 * np.cos(angle)))
    np.testing.assert_allclose(forces[1:, :2].sum(axis=0), 0.0, atol=1e-12)
    shift = tray.pose(forces).shift
    np.testing.assert_allclose(shift[:, :2], 8 * forces[:, :2] / 24e3, rtol=1e-3, atol=1e-9)
    np.testing.assert_allclose(shift[:, 2], 8 * forces[:, 2] / 36e3, rtol=1e-3)
    assert Walk().swung([0.0, 0.0, -1.0], [[1.0, 0.0, 0.0]]).shape == (1, 3)


def test_the_speed_of_a_floor_in_closed_form():
    """White acceleration W from f1 to f2: v² = W/4π²·(1/f1 − 1/f2)."""
    lines, level = np.array([4.0, 50.0]), 0.3
    square = level / (4 * np.pi**2) * (1 / 4 - 1 / 50)
    crossings = np.sqrt(level / (4 * np.pi**2) * 46 / square)
    factor = float(expected_peak_factor(crossings * 3600))
    found = floor_speed(lines, np.full(2, level), 3600.0)
    assert found == pytest.approx(np.sqrt(square) * factor, rel=1e-9)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"step_rate": "3 Hz"}, "Walk.step_rate = '3 Hz': 3 Hz is outside 1.2 to 2.5 Hz"),
        ({"step_rate": 2.0}, "Walk.step_rate = 2.0: a number without a unit"),
        ({"swing": "80 deg"}, "Walk.swing = '80 deg': 80 ° is outside 0 to 60 °"),
    ],
)
def test_a_walk_that_is_none_gets_one_line(given, words):
    with pytest.raises(InputError) as caught:
        Walk(**given)
    assert len(caught.value.lines) == 1
    assert caught.value.lines[0].startswith(words)


def test_the_levels_of_a_step_by_axis_as_typed_once_more():
    """Fourier coefficients of footfall over the weight (common practice), at 2 steps a second."""
    frequency, level = Walk().tones(2.0)
    assert frequency.tolist() == [1.0, 2.0, 3.0, 4.0, 6.0, 8.0]
    expected = [
        [0.0, 0.10, 0.0],
        [0.40, 0.0, 0.20],
        [0.0, 0.10, 0.0],
        [0.10, 0.0, 0.10],
        [0.10, 0.0, 0.0],
        [0.05, 0.0, 0.0],
    ]
    np.testing.assert_allclose(level, G0 * np.array(expected), rtol=1e-12)
    faster = Walk().tones([[1.0, 3.0]])[1]
    assert faster.shape == (6, 1, 2, 3)
    np.testing.assert_allclose(faster[:, 0, 0], level / 4, rtol=1e-12)
    np.testing.assert_allclose(faster[:, 0, 1], level * 2.25, rtol=1e-12)


def test_rates_go_evenly_from_a_tenth_below_to_a_tenth_above():
    rates = Walk(step_rate="1.5 Hz").rates([100.0])
    np.testing.assert_allclose(rates[:21], np.linspace(1.35, 1.65, 21), rtol=1e-12)
    np.testing.assert_allclose(rates[21:], 1.65, rtol=1e-12)  # of 100 Hz no multiple is in reach
    np.testing.assert_allclose(Walk(step_rate="1.5 Hz").rates([0.1])[21:], 1.35, rtol=1e-12)


def test_a_mode_is_near_the_multiples_of_its_own_way():
    multiple, off = Walk().near([1.1, 2.3, 5.8], "transverse")
    assert multiple.tolist() == [0.5, 1.5, 1.5]
    np.testing.assert_allclose(off, [0.1, 2.3 / 3 - 1, 5.8 / 3 - 1], rtol=1e-12)
    assert Walk().near([2.3], "longitudinal")[0].tolist() == [1.0]
    many, apart = Walk().near([[[1.1, 2.3, 5.8]] * 2], "transverse")
    assert many.tolist() == [[[0.5, 1.5, 1.5]] * 2]
    np.testing.assert_array_equal(apart, [[off] * 2])


def test_a_swing_goes_up_to_sixty_degrees():
    assert Walk(swing="60 deg").swing.to("deg").magnitude == pytest.approx(60.0)
    for wrong in ("60.1 deg", "0 deg"):
        with pytest.raises(InputError, match=r"Walk\.swing"):
            Walk(swing=wrong)


def test_a_hop_by_hand():
    """v²/2g, and the drop whose landing speed is 2.13 times v (computed in tests/cross)."""
    height, equivalent = hop_height([1.0, 2.0])
    np.testing.assert_allclose(height, np.array([1.0, 4.0]) / (2 * 9.80665), rtol=1e-12)
    np.testing.assert_allclose(np.sqrt(2 * 9.80665 * equivalent), [2.13, 4.26], rtol=1e-12)


def test_a_floor_is_watched_for_ten_cycles_at_least():
    lines, density = np.array([9.99, 10.01]), np.full(2, 50.0)
    few = [floor_speed(lines, density, seconds) for seconds in (0.1, 0.9, 1.1)]
    assert few[0] == few[1] < few[2]


@pytest.mark.parametrize("rate", ["1.19 Hz", "2.51 Hz"])
def test_nobody_walks_slower_or_faster(rate):
    assert [float(Walk(step_rate=f"{good} Hz").step_rate.magnitude) for good in (1.2, 2.5)] == [
        1.2,
        2.5,
    ]
    with pytest.raises(InputError, match=r"is outside 1\.2 to 2\.5 Hz"):
        Walk(step_rate=rate)

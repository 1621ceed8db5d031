"""Exact facts about a sweep and a dwell: where they cross over, who is too fast, what is most."""

import numpy as np
import pytest

from isolator.sine import Dwell, Sine, Sweep
from isolator.units import InputError, si

SWEEP = {"start": "5 Hz", "stop": "50 Hz", "level": "2 m/s^2"}


def test_without_a_displacement_the_level_counts_from_zero_on():
    assert Sweep(**SWEEP).crossover() == 0.0


def test_a_sweep_is_too_fast_from_the_published_rate_on():
    """iso-7626-2 (memory): 77.6·f/Q² octaves a minute; f = 20 Hz and Q = 10 allow 15.52."""
    natural, loss = np.array(20.0), np.array(0.1)
    assert np.isnan(Sweep(**SWEEP, rate=15.5).fastest(natural, loss))
    assert Sweep(**SWEEP, rate=15.6).fastest(natural, loss) == pytest.approx(15.52, rel=1e-12)
    # 77.6·10 Hz at Q = 1 are 776 to the last digit
    assert np.isnan(Sweep(**SWEEP, rate=776).fastest(np.array(10.0), np.array(1.0)))


def test_only_modes_in_the_band_can_be_swept_too_fast():
    natural = np.array([4.99, 5.0, 50.0, 50.01])
    found = Sweep(**SWEEP, rate=1000).fastest(natural, np.full(4, 0.05))
    assert np.isfinite(found).tolist() == [False, True, True, False]


def test_a_sweep_of_unknown_rate_is_not_called_too_fast():
    assert np.isnan(Sweep(**SWEEP).fastest(np.array(5.0), np.array(0.001)))


def test_a_sweep_slower_than_an_octave_a_minute_is_one():
    assert Sweep(**SWEEP, rate=0.25).rate == 0.25


@pytest.mark.parametrize(
    ("sine", "most", "speed"),
    [
        (Sine(sweep=Sweep(**SWEEP)), 2.0, 2.0 / (2 * np.pi * 5)),
        (Sine(dwell=Dwell(at="10 Hz", level="0.5 m/s^2")), 0.5, 0.5 / (2 * np.pi * 10)),
        (
            Sine(sweep=Sweep(**SWEEP), dwell=Dwell(at="1 Hz", level="1 m/s^2")),
            2.0,
            1.0 / (2 * np.pi),
        ),
        (
            Sine(sweep=Sweep(**SWEEP | {"level": "0.2 m/s^2"})),
            0.2,
            0.2 / (2 * np.pi * 5),
        ),
    ],
)
def test_the_most_of_sweep_and_dwell(sine: Sine, most: float, speed: float):
    assert sine.most() == pytest.approx(most, rel=1e-12)
    assert sine.speed() == pytest.approx(speed, rel=1e-12)


def test_a_crossover_above_the_band_leaves_its_upper_end():
    """0.01 mm give less than 2 m/s² up to 71 Hz, beyond the band."""
    sweep = Sweep(**SWEEP, displacement="0.01 mm")
    assert sweep.crossover() == pytest.approx(np.sqrt(2.0 / 1e-5) / (2 * np.pi), rel=1e-12)
    at = 2 * np.pi * si(sweep, "stop")
    assert Sine(sweep=sweep).speed() == pytest.approx(1e-5 * at, rel=1e-12)
    assert Sine(sweep=sweep).most() == pytest.approx(1e-5 * at**2, rel=1e-12)


def test_a_dwell_at_resonances_has_no_speed_of_its_own():
    assert np.isnan(Sine(dwell=Dwell(level="1 m/s^2")).speed())


def test_a_band_of_no_width_is_refused():
    with pytest.raises(InputError, match=r"Sweep\.stop = 5 Hz: not above the start"):
        Sweep(**SWEEP | {"stop": "5 Hz"})


@pytest.mark.parametrize("rate", [0.0, 1000.1])
def test_a_rate_that_no_sweep_has_is_refused(rate):
    with pytest.raises(InputError, match=r"Sweep\.rate = "):
        Sweep(**SWEEP, rate=rate)


def test_a_whole_rate_is_read_as_a_number():
    assert type(Sweep(**SWEEP, rate=1).rate) is float

"""Wear of a sine against a flat test, by hand and by quadrature; its doors."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from isolator.dose import (
    damage,
    equivalence,
    equivalent_test,
    gaussian_damage,
    rainflow_cycles,
    relative_motion,
    worn,
)
from isolator.recording import Recording
from isolator.trip import Spectrum
from isolator.units import InputError, si

FLAT = Spectrum.of(frequency=["2 Hz", "7 Hz", "40 Hz"], density=["0.5 m^2/s^4/Hz"] * 3, name="flat")
KEYS = {"channel": "x", "frequency": "12 Hz", "damping_ratio": 0.08, "exponent": 3.0}
F, ZETA, TONE, LEVEL, SECONDS = 12.0, 0.08, 9.0, 2.0, 80


def sine(rate: float = 500.0, seconds: int = SECONDS, level: float = LEVEL) -> Recording:
    time = np.arange(int(seconds * rate) + 1) / rate
    wave = level * np.sin(2 * np.pi * TONE * time) + 3.0
    return Recording.of(wave, unit="1 m/s**2", rate=f"{rate} Hz", names=["x"])


def gain(f: float) -> float:
    """Travel over acceleration. [s²]"""
    omega, own = 2 * math.pi * f, 2 * math.pi * F
    return 1 / abs(own**2 - omega**2 + 2j * ZETA * own * omega)


@pytest.mark.parametrize("exponent", [1.0, 3.0, 6.0])
def test_a_sine_wears_by_its_cycles_and_a_flat_test_by_rayleigh(exponent: float):
    travel = LEVEL * gain(TONE)
    trip = TONE * SECONDS * travel**exponent
    square, bent = (
        quad(lambda f, power=power: 0.5 * gain(f) ** 2 * f**power, 2, 40, points=[F], limit=200)[0]
        for power in (0, 2)
    )
    rate = math.sqrt(bent / square)
    test = rate * (2 * square) ** (exponent / 2) * math.gamma(1 + exponent / 2)
    found = equivalent_test(sine(), FLAT, **KEYS | {"exponent": exponent})
    assert si(found, "test") == pytest.approx(trip / test, rel=0.01)
    assert si(found, "trip") == pytest.approx(SECONDS, rel=1e-9)
    assert worn(found) == pytest.approx(si(found, "test") / SECONDS, rel=1e-12)
    # Its start swings further than its steady state, by less than a free swing of the same size.
    assert travel < found.hardest < 2 * travel
    assert found.exponent == exponent
    assert found.sentences[0].endswith(f"an exponent of {exponent:g}.")


def test_each_piece_of_a_record_counts():
    whole = sine()
    time = whole.time.copy()
    time[len(time) // 2 :] += 7.0
    parts = Recording.of(whole.acceleration[:, 0], unit="1 m/s**2", time=time, names=["x"])
    one, two = (equivalent_test(record, FLAT, **KEYS) for record in (whole, parts))
    assert si(two, "trip") == pytest.approx(SECONDS, rel=1e-3)
    assert si(two, "test") == pytest.approx(si(one, "test"), rel=0.02)
    assert two.hardest >= one.hardest * 0.999


def test_damage_by_hand():
    assert damage([2.0, 4.0], [1.0, 0.5], 3.0) == 1.0 + 0.5 * 8.0
    # ν(√2σ)^b·Γ(1 + b/2): for b = 2 that is 2σ²ν, for b = 4 it is 8σ⁴ν.
    assert gaussian_damage(3.0, 5.0, 2.0) == pytest.approx(90.0, rel=1e-12)
    assert gaussian_damage(3.0, 5.0, 4.0) == pytest.approx(3240.0, rel=1e-12)


def test_a_motion_without_turns_has_no_cycles():
    for still in ([1.0], [1.0, 1.0, 1.0]):
        ranges, counts = rainflow_cycles(still)
        assert (ranges.size, counts.size) == (0, 0)
    ranges, counts = rainflow_cycles([0.0, 1.0, 2.0, 1.0])
    assert (ranges.tolist(), counts.tolist()) == ([2.0, 1.0], [0.5, 0.5])
    ranges, counts = rainflow_cycles([0.0, 3.0, 3.0, 0.0])
    assert (ranges.tolist(), counts.tolist()) == ([3.0, 3.0], [0.5, 0.5])


def test_travel_follows_its_last_axis():
    both = relative_motion(np.stack([np.ones(300), np.zeros(300)]), 100.0, 5.0, 0.2)
    alone = relative_motion(np.ones(300), 100.0, 5.0, 0.2)
    np.testing.assert_array_equal(both, [alone, np.zeros(300)])


@pytest.mark.parametrize(
    ("record", "other", "words"),
    [
        (
            sine(seconds=2),
            {"frequency": "50.1 Hz"},
            "above a tenth of the rate of 500 Hz.* record at 501 samples",
        ),
        (sine(seconds=2), {"frequency": "2 Hz"}, "flat has lines from 2 to 40 Hz only"),
        (sine(seconds=2), {"frequency": "40 Hz"}, "flat has lines from 2 to 40 Hz only"),
        (sine(seconds=2), {"damping_ratio": 0.0049}, "damping_ratio"),
        (sine(seconds=2), {"damping_ratio": 1.0}, "damping_ratio"),
        (sine(seconds=2), {"exponent": 0.99}, "exponent"),
        (sine(seconds=2), {"exponent": 15.01}, "exponent"),
        (sine(seconds=2, level=0.0), {}, "channel = 'x': it does not move"),
    ],
)
def test_what_no_test_is_worth(record: Recording, other: dict[str, object], words: str):
    with pytest.raises(InputError, match=words):
        equivalent_test(record, FLAT, **KEYS | other)


@pytest.mark.parametrize(
    "other",
    [{"exponent": 1.0}, {"exponent": 15.0}, {"damping_ratio": 0.005}, {"damping_ratio": 0.999}],
)
def test_limits_themselves_are_within(other: dict[str, float]):
    assert si(equivalent_test(sine(seconds=2), FLAT, **KEYS | other), "test") > 0


def test_a_tenth_of_the_rate_itself_is_slow_enough():
    wide = Spectrum.of(frequency=["2 Hz", "90 Hz"], density=["0.5 m^2/s^4/Hz"] * 2, name="wide")
    found = equivalent_test(sine(seconds=2), wide, **KEYS | {"frequency": "50 Hz"})
    assert si(found, "test") > 0


def test_a_test_that_does_not_move_the_mount_wears_nothing():
    given = {"hardest": 1e-3, "name": "still", "of": "A mount"}
    with pytest.raises(InputError, match=r"test = 'still': it does not move this mount"):
        equivalence(1.0, 10.0, [(0.0, 5.0)], 3.0, **given)
    half = equivalence(1.0, 10.0, [(0.0, 5.0), (1.0, 5.0)], 3.0, **given)
    whole = equivalence(1.0, 10.0, [(1.0, 5.0)], 3.0, **given)
    assert si(half, "test") == si(whole, "test")

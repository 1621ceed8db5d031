"""Shocks and falls of made records, with sizes that are known by hand."""

import numpy as np
import pytest

from isolator.events import APART, find_falls, find_shocks
from isolator.record_quality import A_PULSE
from isolator.units import G0, InputError, si

RATE = 1000.0
TIME = 5.0 + np.arange(4000) / RATE


def quiet(seed: int = 0) -> np.ndarray:
    """Two channels of 0.1 m/s² rms, exactly, on means of their own."""
    x = np.random.default_rng(seed).normal(size=(4000, 2))
    return 0.1 * x / x.std(axis=0) + [9.81, -2.0]


def shocks(values: np.ndarray, least: float = 5.0):
    return find_shocks(TIME, values, ("x", "y"), RATE, least)


def with_pulse(at: int, length: int, size: float, channel: int = 0, base=None) -> np.ndarray:
    """A rectangle of so many samples on silence or on a base."""
    values = np.zeros((4000, 2)) if base is None else base.copy()
    values[at : at + length, channel] += size
    return values


@pytest.mark.parametrize("size", [50.0, -50.0])
def test_a_rectangle_has_its_height_length_and_speed(size: float):
    (found,) = shocks(with_pulse(1000, 20, size, channel=1))
    assert found.channel == "y"
    assert found.time == TIME[1000]
    assert si(found, "peak") == 50.0
    assert si(found, "duration") == pytest.approx(0.02, rel=1e-12)
    assert si(found, "velocity_change") == pytest.approx(1.0, rel=1e-12)
    assert found.rate == RATE
    assert found.samples.shape == (501, 2)
    assert found.samples[250, 1] == size


def test_a_pulse_is_cut_where_it_falls_to_a_tenth():
    values = np.zeros((4000, 2))
    values[1000:1007, 0] = [4.0, 6.0, 40.0, 50.0, 30.0, 5.0, -20.0]
    (found,) = shocks(values)
    assert si(found, "duration") == pytest.approx(4e-3, rel=1e-12)
    assert si(found, "velocity_change") == pytest.approx(0.126, rel=1e-12)
    assert found.time == TIME[1003]


def test_a_shock_at_an_end_is_kept_as_far_as_it_goes():
    values = with_pulse(0, 10, 50.0)
    values[3990:, 0] = 80.0
    first, last = shocks(values)
    assert (first.samples.shape[0], last.samples.shape[0]) == (251, 260)
    assert si(first, "duration") == si(last, "duration") == pytest.approx(0.01, rel=1e-12)
    assert (si(first, "peak"), si(last, "peak")) == (50.0, 80.0)


def test_what_does_not_exceed_the_least_is_no_shock():
    assert shocks(with_pulse(1000, 20, 5.0)) == []
    assert len(shocks(with_pulse(1000, 20, 5.01))) == 1


def test_what_does_not_exceed_six_times_the_vibration_is_no_shock():
    """A rms of 0.1 m/s² hides what stays below 0.6 m/s², whatever the least is."""
    base = quiet()
    assert shocks(with_pulse(1000, 1, 0.55 - base[1000, 0] + 9.81, base=base), 0.1) == []
    (found,) = shocks(with_pulse(1000, 1, 0.7 - base[1000, 0] + 9.81, base=base), 0.1)
    assert found.crest == pytest.approx(7.0, rel=0.05)


def test_peaks_near_each_other_are_one_shock():
    near, far = int(APART * RATE), int(APART * RATE) + 1
    for gap, count in ((near, 1), (far, 2)):
        values = with_pulse(1000, 1, 50.0)
        values[1000 + gap, 0] = 60.0
        assert len(shocks(values)) == count


def test_shocks_are_told_in_order_each_with_its_own_size():
    values = with_pulse(1000, 10, 50.0)
    values[2000:2020, 1] = -70.0
    values[3000:3030, 0] = 60.0
    found = shocks(values)
    assert [si(shock, "duration") for shock in found] == pytest.approx([0.01, 0.02, 0.03])
    assert [si(shock, "peak") for shock in found] == [50.0, 70.0, 60.0]
    assert [shock.time for shock in found] == [TIME[k] for k in (1000, 2000, 3000)]


def test_the_vibration_of_a_long_record_is_known_from_a_part_of_it():
    """More samples than are looked at for the rms: 0.1 m/s² still hide 0.5 and show 0.8."""
    x = np.random.default_rng(1).normal(size=(90_000, 1))
    x = 0.1 * np.clip(x / x.std(), -3, 3)
    for size, count in ((0.5, 0), (0.8, 1)):
        x[50_001] = size
        time = np.arange(90_000) / RATE
        assert len(find_shocks(time, x, ("x",), RATE, 0.01)) == count


def test_a_pulse_of_few_samples_is_not_resolved():
    """From `A_PULSE` samples on a peak is known, and its spectrum is given."""
    enough = int(A_PULSE)
    (known,) = shocks(with_pulse(1000, enough, 50.0))
    (short,) = shocks(with_pulse(1000, enough - 1, 50.0))
    assert known.resolved
    assert not short.resolved
    assert known.sentence == (f"6.000 s, x: 5.1 g for {enough:.3g} ms, {enough * 0.05:.3g} m/s.")
    assert "so the peak is at least that" in short.sentence
    frequency, peaks = known.spectrum()
    assert frequency[[0, -1]] == pytest.approx([4.0, 100.0])
    assert (len(frequency), peaks.shape) == (60, (2, 60))
    assert peaks[1].max() == 0.0
    with pytest.raises(InputError):
        short.spectrum()


def fallen(samples: int, felt: float = 0.1, hit: float = 30.0, at: int = 1000) -> np.ndarray:
    """1 g at rest, a rectangle of weightlessness, a hit of one sample."""
    values = np.zeros((4000, 3))
    values[:, 2] = G0
    values[at : at + samples, 2] = felt * G0
    values[at + samples, 2] = hit * G0
    return values


def test_a_fall_by_hand():
    """Between 1 g and 0.1 g the half lies 5/9 of a step in; up to 30 g it lies 0.4/29.9 in."""
    values = fallen(400)
    values[998, 2] = 1.3 * G0  # what came before the last sample at rest does not count
    (found,) = find_falls(TIME, values, RATE)
    begins, ends = TIME[999] + 5 / 9 / RATE, TIME[1399] + 0.4 / 29.9 / RATE
    long = ends - begins
    assert found.time == pytest.approx(begins, abs=1e-9)
    assert si(found, "duration") == pytest.approx(long, abs=1e-9)
    assert si(found, "height") == pytest.approx(G0 / 2 * long**2, rel=1e-9)
    assert si(found, "lowest") == pytest.approx(0.9 * G0 / 2 * (long - 0.002) ** 2, rel=1e-9)
    assert si(found, "highest") == pytest.approx(G0 / 2 * (long + 0.002) ** 2, rel=1e-9)
    assert (found.felt, found.hit) == (pytest.approx(0.1), pytest.approx(30.0))
    assert "then a hit of 30 g." in found.sentence


def test_a_fall_of_few_samples_is_at_least_half_as_long():
    """At 30 Hz two steps are more than half of four."""
    slow = np.arange(40) / 30.0
    (found,) = find_falls(slow, fallen(4, felt=0.0, hit=1.0, at=20)[:40], 30.0)
    long = si(found, "duration")
    assert si(found, "lowest") == pytest.approx(G0 / 2 * max(long - 2 / 30, long / 2) ** 2)


def test_the_start_and_the_end_of_a_fall_do_not_say_what_is_felt():
    """An eighth at each end is left out."""
    values = fallen(400)
    values[1000:1050, 2] = values[1350:1400, 2] = 0.4 * G0
    (found,) = find_falls(TIME, values, RATE)
    assert found.felt == pytest.approx(0.1)


def test_a_fall_without_a_hit_was_caught():
    (found,) = find_falls(TIME, fallen(400, hit=2.0), RATE)
    assert found.sentence.endswith("then no hit, so it was caught.")
    (found,) = find_falls(TIME, fallen(400, hit=2.01), RATE)
    assert found.sentence.endswith("then a hit of 2.01 g.")


def test_a_hit_counts_within_a_twentieth_of_a_second():
    for after, expected in ((50, 30.0), (51, 1.0)):
        values = fallen(400, hit=1.0)
        values[1400 + after, 2] = 30.0 * G0
        (found,) = find_falls(TIME, values, RATE)
        assert found.hit == pytest.approx(expected)


def test_what_is_short_or_cut_off_is_no_fall():
    assert find_falls(TIME, fallen(99), RATE) == []
    assert len(find_falls(TIME, fallen(102), RATE)) == 1
    assert find_falls(TIME[1000:], fallen(400)[1000:], RATE) == []
    assert find_falls(TIME[:1400], fallen(400)[:1400], RATE) == []
    cut = np.zeros((4000, 3))
    cut[:, 2] = G0
    cut[:200, 2], cut[3800:, 2] = 0.2 * G0, 0.1 * G0
    assert find_falls(TIME, cut, RATE) == []
    both = fallen(400)
    both[2000:2300, 2] = 0.0
    assert len(find_falls(TIME, both, RATE)) == 2


def test_half_a_g_is_no_fall_and_a_tenth_of_a_second_is_one():
    """From a sample of exactly half a g to the next such one, a hundred steps further."""
    values = np.zeros((200, 3))
    values[:, 2] = 0.5 * G0
    assert find_falls(np.arange(200) / RATE, values, RATE) == []
    values[1:100, 2] = 0.0
    (found,) = find_falls(np.arange(200) / RATE, values, RATE)
    assert (found.time, si(found, "duration")) == (0.0, 0.1)
    values[99, 2] = 0.5 * G0
    assert find_falls(np.arange(200) / RATE, values, RATE) == []

"""A pulse and its shock spectrum: closed forms, and what must not matter."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter

from isolator.pulse import A_CYCLE, RATE, Piece, Pulse, Step, extremes, shock_spectrum
from isolator.units import InputError

SHAPES = {
    "half-sine": {},
    "haversine": {},
    "terminal-peak sawtooth": {},
    "rectangle": {},
    "trapezoid": {"rise": "2 ms", "fall": "5 ms"},
}


def pulse(shape: str, **keys: str) -> Pulse:
    return Pulse(**{"shape": shape, "peak": "30 g0", "duration": "11 ms"} | SHAPES[shape] | keys)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_closed_form_is_the_integral(shape: str) -> None:
    whole = pulse(shape).duration.m_as("s")
    middle = (np.arange(100000) + 0.5) / 100000 * whole
    area = pulse(shape).acceleration(middle).mean() * whole
    assert pulse(shape).velocity_change() == pytest.approx(area, rel=1e-7)
    lines = sum(
        float(piece.step * (piece.values[:-1] + piece.values[1:]).sum() / 2)
        for piece in pulse(shape).pieces()
    )
    assert lines == pytest.approx(area, rel=2e-6)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_straight_lines_are_the_pulse(shape: str) -> None:
    given, start = pulse(shape), 0.0
    for piece in given.pieces():
        at = start + piece.step * (np.arange(len(piece.values) - 1) + 0.5)
        lines = (piece.values[:-1] + piece.values[1:]) / 2
        np.testing.assert_allclose(given.acceleration(at), lines, atol=1e-6 * 30 * 9.81)
        start += piece.step * (len(piece.values) - 1)
    assert start == pytest.approx(given.duration.m_as("s"), rel=1e-12)


def test_a_trapezoid_without_ramps_is_a_rectangle_and_with_a_long_one_a_sawtooth() -> None:
    f = np.array([20.0, 60.0, 200.0])
    flat = pulse("trapezoid", rise="0 ms", fall="0 ms")
    steep = pulse("trapezoid", rise="11 ms", fall="0 ms")
    for one, other in ((flat, "rectangle"), (steep, "terminal-peak sawtooth")):
        assert one.velocity_change() == pytest.approx(pulse(other).velocity_change())
        np.testing.assert_allclose(
            one.shock_spectrum(f, 0.05), pulse(other).shock_spectrum(f, 0.05), rtol=1e-9
        )


def test_a_trapezoid_without_ramps_has_its_peak_at_once_and_until_its_end() -> None:
    flat, peak = pulse("trapezoid", rise="0 ms", fall="0 ms"), 30 * 9.80665
    found = flat.acceleration([-1e-6, 0.0, 5e-3, 11e-3, 12e-3])
    np.testing.assert_allclose(found, [0.0, peak, peak, peak, 0.0], rtol=1e-12)


@pytest.mark.parametrize(
    ("step", "count"), [(8e-3, 1), (4e-3, 1), (3.9e-3, 2), (1e-3, 4), (0.9e-3, 5)]
)
def test_finer_steps_are_as_few_as_do(step: float, count: int) -> None:
    """The same lines, two of them and for two pulses at a time."""
    rough = Piece(4e-3, np.array([[0.0, 8.0], [4.0, 0.0], [2.0, 4.0]]))
    fine = rough.finer(step)
    assert fine.step == pytest.approx(4e-3 / count)
    at = np.linspace(0, 2, 2 * count + 1)
    for k in range(2):
        np.testing.assert_allclose(fine.values[:, k], np.interp(at, range(3), rough.values[:, k]))


def test_a_short_ramp_of_a_short_trapezoid_is_kept() -> None:
    short = pulse("trapezoid", duration="10 us", rise="0.05 us", fall="0 us")
    rise, level = short.pieces()
    assert (rise.step, level.step) == pytest.approx((5e-8, 9.95e-6))


def test_silence_before_a_shock_changes_nothing() -> None:
    record = np.array([0.0, 3.0, 10.0, -4.0, 1.0])
    late = np.concatenate([np.zeros(7), record])
    for which in ("maximax", "residual"):
        alone = shock_spectrum(record, 100.0, [3.0, 9.0], 0.1, which)
        np.testing.assert_allclose(
            shock_spectrum(late, 100.0, [3.0, 9.0], 0.1, which), alone, rtol=1e-9
        )


def test_the_damping_that_is_too_much_is_the_one_that_is_named() -> None:
    with pytest.raises(InputError, match=r"damping_ratio = 1\.5: outside 0 to 1"):
        shock_spectrum(np.ones(3), 100.0, [3.0, 9.0], [0.0, 1.5])


@pytest.mark.parametrize("ratio", [0.1, 0.3, 0.8, 1.0, 2.2, 4.0])
def test_the_residual_of_a_half_sine_is_its_closed_form(ratio: float) -> None:
    """|4fD·cos(πfD)/(1 − 4f²D²)| of the peak, undamped; the published closed form."""
    given = Pulse(shape="half-sine", peak="1 m/s**2", duration="1 s")
    expected = abs(4 * ratio * math.cos(math.pi * ratio) / (1 - 4 * ratio**2))
    found = given.shock_spectrum([ratio], 0.0, "residual")[0]
    assert found == pytest.approx(expected, rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_slow_mass_feels_the_velocity_change_and_a_fast_one_the_peak(shape: str) -> None:
    """2πf·V for fD → 0; the pulse itself for fD → ∞, twice over where it jumps up."""
    slow, given = 0.01, pulse(shape)
    kick = 2 * math.pi * slow * given.velocity_change()
    assert given.shock_spectrum([slow], 0.0)[0] == pytest.approx(kick, rel=1e-4)
    stiff = given.shock_spectrum([40e3 / 11], 0.0)[0]
    peak = given.peak.m_as("m/s**2")
    assert stiff == pytest.approx(2 * peak if shape == "rectangle" else peak, rel=0.07)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_maximax_is_the_largest_of_its_parts(shape: str) -> None:
    f = np.geomspace(5, 500, 9)
    part = {
        which: pulse(shape).shock_spectrum(f, 0.03, which)
        for which in ("maximax", "positive", "negative", "primary", "residual")
    }
    np.testing.assert_array_equal(part["maximax"], np.maximum(part["positive"], part["negative"]))
    np.testing.assert_array_equal(part["maximax"], np.maximum(part["primary"], part["residual"]))


def test_a_record_of_a_pulse_is_the_pulse() -> None:
    time = np.linspace(0, 11e-3, 800)
    half = pulse("half-sine")
    by_rate = Pulse.of_record(
        [f"{a} m/s**2" for a in half.acceleration(time)], rate=f"{799 / 11e-3} Hz"
    )
    by_time = Pulse.of_record(
        [f"{a} m/s**2" for a in half.acceleration(time)], times=[f"{t} s" for t in time + 3.0]
    )
    f = np.array([10.0, 80.0, 300.0])
    for record in (by_rate, by_time):
        assert record.velocity_change() == pytest.approx(half.velocity_change(), rel=1e-5)
        assert record.duration.m_as("s") == pytest.approx(11e-3)
        np.testing.assert_allclose(
            record.shock_spectrum(f, 0.05), half.shock_spectrum(f, 0.05), rtol=1e-5
        )
        np.testing.assert_allclose(
            record.acceleration(time[3:9]), half.acceleration(time[3:9]), rtol=1e-6
        )
    assert by_rate.peak.m_as("g0") == pytest.approx(30, rel=1e-5)


@given(st.lists(st.floats(-50, 50), min_size=3, max_size=30), st.floats(0.1, 20))
def test_sign_scale_and_time_turn_the_spectrum_as_they_must(values: list, factor: float) -> None:
    record, f = np.array(values), np.array([3.0, 9.0])
    plain = shock_spectrum(record, 100.0, f, 0.1, "positive")
    close = {"rtol": 1e-9, "atol": 1e-9}
    turned = shock_spectrum(-record, 100.0, f, 0.1, "negative")
    np.testing.assert_allclose(plain, turned, **close)
    np.testing.assert_allclose(
        shock_spectrum(factor * record, 100.0, f, 0.1, "positive"), factor * plain, **close
    )
    faster = shock_spectrum(record, 1000.0, 10 * f, 0.1, "positive")
    np.testing.assert_allclose(faster, plain, **close)


def test_records_and_frequencies_broadcast() -> None:
    records = np.random.default_rng(3).normal(size=(2, 3, 50))
    f = np.array([2.0, 5.0, 9.0, 10.0])
    whole = shock_spectrum(records, 100.0, f, [0.0, 0.1, 0.2, 0.9])
    assert whole.shape == (2, 3, 4)
    one = shock_spectrum(records[1, 2], 100.0, [9.0], 0.2)
    assert one[0] == pytest.approx(whole[1, 2, 2], rel=1e-4)


@pytest.mark.parametrize("phase", [0.0, 0.4, 1.1])
def test_the_least_rate_costs_what_is_said(phase: float) -> None:
    """Straight lines between ten samples a cycle take sinc²(1/10), 3.3 % less at resonance."""
    f, rate = 10.0, RATE * 10.0
    coarse, fine = np.arange(0, 3, 1 / rate), np.arange(0, 3, 1 / (40 * rate))
    felt = [
        shock_spectrum(np.sin(2 * np.pi * f * t + phase), f_s, [f], 0.02)[0]
        for t, f_s in ((coarse, rate), (fine, 40 * rate))
    ]
    assert felt[0] / felt[1] == pytest.approx(np.sinc(1 / RATE) ** 2, abs=2e-3)


@pytest.mark.parametrize("offset", np.linspace(0, 1, 7))
def test_a_peak_between_instants_is_met(offset: float) -> None:
    at = 2 * np.pi * (np.arange(3 * A_CYCLE) + offset) / A_CYCLE
    step = np.asarray(2 * np.pi / A_CYCLE)
    np.testing.assert_allclose(extremes(np.sin(at), np.cos(at), step), [-1, 1], rtol=1.3e-5)


def test_a_curve_that_only_rises_ends_at_its_ends() -> None:
    at = np.linspace(0, 1, 5)
    assert extremes(np.exp(at), np.exp(at), at[1]).tolist() == [1.0, np.e]
    falls = extremes(np.exp(-at), -np.exp(-at), at[1])
    np.testing.assert_allclose(falls, [1 / np.e, 1.0], rtol=1e-15)


@pytest.mark.parametrize("before", [0.2, 0.6, 30.0])
@pytest.mark.parametrize("side", [2, -2])
def test_a_cubic_turns_where_its_slope_is_nothing(before: float, side: int) -> None:
    """Slope ±2(s + before)(½ − s) from 0 to 1, nothing at ½ and outside, either way round."""
    s = np.array([0.0, 0.5, 1.0])
    u = before * s / 2 + (0.5 - before) * s**2 / 2 - s**3 / 3
    slope = (s + before) * (0.5 - s)
    found = extremes(side * u[::2], side * slope[::2], np.ones(()))
    np.testing.assert_allclose(np.sort(found / side), [min(u[0], u[2]), u[1]], rtol=1e-12)
    back = extremes(side * u[::-2], -side * slope[::-2], np.ones(()))
    np.testing.assert_allclose(back, found, rtol=1e-12)


def test_a_curve_that_all_but_turns_at_an_instant_ends_there() -> None:
    """Slope 1 − s, less a rounding."""
    found = extremes(np.array([0.0, 0.5]), np.array([1.0, -1e-20]), np.ones(()))
    np.testing.assert_allclose(found, [0.0, 0.5], atol=1e-12)
    # f·(s − s² + s³/3): the slope f·(1 − s)² has one root, twice, and the last rate is a rounding
    steep = np.random.default_rng(1).uniform(0.1, 10.0, 1000)
    rates = np.stack([steep, -1e-18 * steep])
    found = extremes(np.stack([0 * steep, steep / 3]), rates, np.ones(1000))
    np.testing.assert_allclose(found, [0 * steep, steep / 3], rtol=1e-9, atol=1e-12)


def test_one_start_is_that_of_all_masses() -> None:
    step = Step.of(0.01, np.array([3.0, 7.0, 9.0]), np.array([0.1, 0.2, 0.0]))
    base, still = np.array([1.0, 2.0, -1.0]), np.zeros(())
    for one, three in zip(
        step.march(base, still, still), step.march(base, *np.zeros((2, 3))), strict=True
    ):
        np.testing.assert_array_equal(one, three)


def test_the_step_as_a_filter_is_the_step() -> None:
    """Travel and speed by a recursive filter of the library."""
    record = np.random.default_rng(5).normal(size=400)
    record[0] = 0.0
    step = Step.of(1e-3, np.array([190.0]), np.array([0.05]))
    of_z, of_v, below = step.as_filter()
    for top, moved in zip((of_z, of_v), step.march(record, *np.zeros((2, 1))), strict=True):
        filtered = lfilter(top[:, 0], below[:, 0], record)
        np.testing.assert_allclose(filtered, moved[:, 0], atol=1e-9 * np.abs(moved).max())

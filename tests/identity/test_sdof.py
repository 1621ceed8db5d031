"""Exact facts about one mass on one spring."""

import math
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolator import formulas, sdof
from isolator.units import G0

TAU = 2.0 * math.pi
DAMPING = st.floats(0.0, 10.0)
RATIO = st.floats(0.0, 100.0)
HERTZ = st.floats(0.5, 200.0)
HEIGHT = st.floats(0.001, 5.0)


@given(DAMPING)
def test_transmissibility_is_one_at_root_two_for_every_damping(damping: float) -> None:
    root = math.sqrt(2.0)
    assert sdof.viscous_transmissibility(root, damping) == pytest.approx(1.0, rel=1e-12)
    assert sdof.structural_transmissibility(root, damping) == pytest.approx(1.0, rel=1e-12)


@given(RATIO.filter(lambda r: abs(r - 1.0) > 1e-3), st.floats(0.001, 10.0))
def test_damping_helps_below_root_two_and_hurts_above(ratio: float, damping: float) -> None:
    free = sdof.viscous_transmissibility(ratio, 0.0)
    for damped in (
        sdof.viscous_transmissibility(ratio, damping),
        sdof.structural_transmissibility(ratio, damping),
    ):
        if ratio < math.sqrt(2.0):
            assert damped <= free * (1.0 + 1e-12)
        else:
            assert damped >= free * (1.0 - 1e-12)


@given(st.floats(0.001, 2.0))
def test_both_dampings_agree_at_resonance_where_eta_is_two_zeta(zeta: float) -> None:
    assert sdof.viscous_transmissibility(1.0, zeta) == sdof.structural_transmissibility(
        1.0, 2.0 * zeta
    )


def test_undamped_resonance_is_infinite_and_silent() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert sdof.viscous_transmissibility(1.0, 0.0) == math.inf
        assert sdof.structural_transmissibility([0.5, 1.0], 0.0)[1] == math.inf
        assert sdof.viscous_peak(0.0) == (1.0, math.inf)
        assert sdof.isolation_ratio(1.0) == math.inf
        assert sdof.cushion_travel(1.0, 2.0) == math.inf
        assert sdof.ideal_travel(1.0, 0.5) == math.inf


@given(st.floats(0.01, 5.0))
def test_peak_is_a_maximum_and_follows_its_printed_form(zeta: float) -> None:
    ratio, peak = sdof.viscous_peak(zeta)
    assert ratio == pytest.approx(
        math.sqrt(math.sqrt(1.0 + 8.0 * zeta**2) - 1.0) / (2.0 * zeta), rel=1e-9
    )
    assert peak > sdof.viscous_transmissibility(0.99 * ratio, zeta)
    assert peak > sdof.viscous_transmissibility(1.01 * ratio, zeta)


@given(st.floats(0.0, 0.999))
def test_isolation_ratio_gives_the_isolation(isolation: float) -> None:
    passed = sdof.viscous_transmissibility(sdof.isolation_ratio(isolation), 0.0)
    assert passed == pytest.approx(1.0 - isolation, rel=1e-9)


@given(st.floats(1.0, 1e7), st.floats(0.001, 500.0))
def test_stiffness_sag_and_frequency_are_one_fact(stiffness: float, mass: float) -> None:
    frequency = sdof.natural_frequency(stiffness, mass)
    assert sdof.stiffness_for(frequency, mass) == pytest.approx(stiffness, rel=1e-12)
    sag = sdof.static_deflection(stiffness, mass)
    assert sdof.natural_frequency_from_deflection(sag) == pytest.approx(frequency, rel=1e-12)


def test_newtons_and_pounds_give_the_same_answer() -> None:
    # 1 lbf = 0.45359237 kg × 9.80665 m/s² and 1 in = 25.4 mm, both exact by definition.
    per_inch = 0.45359237 * 9.80665 / 25.4
    metric = formulas.natural_frequency(stiffness=f"{35.0 * per_inch:.15g} N/mm", mass="7.8 kg")
    imperial = formulas.natural_frequency(stiffness="35 lbf/in", mass=f"{7.8 / 0.45359237:.15g} lb")
    assert imperial.to("Hz").magnitude == pytest.approx(metric.to("Hz").magnitude, rel=1e-12)
    sag = formulas.static_deflection(stiffness="35 lbf/in", mass="35 lb")
    assert sag.to("in").magnitude == pytest.approx(1.0, rel=1e-12)


def test_hertz_are_no_radians() -> None:
    """250 kN/m under 50 kg: 11.25 Hz, and not the 70.7 of radians a second."""
    frequency = formulas.natural_frequency(stiffness="250 kN/m", mass="50 kg")
    assert frequency.to("Hz").magnitude == pytest.approx(math.sqrt(5000.0) / TAU, rel=1e-12)


@given(HERTZ, st.floats(0.0, 0.99), st.floats(-1.0, 1.0), st.floats(-10.0, 10.0))
def test_decay_starts_where_it_is_released(
    frequency: float, zeta: float, displacement: float, velocity: float
) -> None:
    step = 1e-7 / frequency
    start, later = sdof.free_decay([0.0, step], frequency, zeta, displacement, velocity)
    assert start == displacement
    assert (later - start) / step == pytest.approx(
        velocity, abs=1e-5 * (abs(velocity) + TAU * frequency)
    )


@given(HERTZ, st.floats(0.0, 0.9))
def test_decay_loses_the_logarithmic_decrement_each_swing(frequency: float, zeta: float) -> None:
    period = 1.0 / sdof.damped_frequency(frequency, zeta)
    first, second = sdof.free_decay([0.3 * period, 1.3 * period], frequency, zeta, 1.0, 0.5)
    decrement = TAU * zeta / math.sqrt(1.0 - zeta**2)
    assert second == pytest.approx(first * math.exp(-decrement), rel=1e-9, abs=1e-12)


def test_critical_decay_creeps_back() -> None:
    omega = TAU * 3.0
    time = np.linspace(0.0, 0.5, 7)
    exact = 0.2 * (1.0 + omega * time) * np.exp(-omega * time)
    np.testing.assert_allclose(sdof.free_decay(time, 3.0, 1.0, 0.2), exact, rtol=1e-12)


@pytest.mark.parametrize("call", [sdof.damped_frequency, lambda f, z: sdof.free_decay(0, f, z, 1)])
def test_no_swing_beyond_critical_damping(call) -> None:
    with pytest.raises(ValueError, match=r"damping_ratio = 1\.2"):
        call(10.0, [0.5, 1.2])


@given(HEIGHT, HERTZ)
def test_drop_closes_its_energy(height: float, frequency: float) -> None:
    stiffness = sdof.stiffness_for(frequency, 1.0)
    peak, travel = sdof.linear_drop(height, frequency, gravity=True)
    assert 0.5 * stiffness * travel**2 == pytest.approx(G0 * (height + travel), rel=1e-9)
    assert peak * G0 == pytest.approx(stiffness * travel, rel=1e-9)
    peak, travel = sdof.linear_drop(height, frequency, gravity=False)
    assert 0.5 * stiffness * travel**2 == pytest.approx(G0 * height, rel=1e-9)
    assert peak == pytest.approx(2.0 * height / travel, rel=1e-9)


@given(HEIGHT, HERTZ, st.floats(0.0, 1.0))
def test_rebound_raises_peak_and_travel_alike(
    height: float, frequency: float, rebound: float
) -> None:
    plain = np.array(sdof.linear_drop(height, frequency, gravity=False))
    thrown = sdof.linear_drop(height, frequency, gravity=False, restitution=rebound)
    np.testing.assert_allclose(thrown, (1.0 + rebound) * plain, rtol=1e-12)


@given(HEIGHT, HERTZ)
def test_cushion_travel_is_the_drop_read_backwards(height: float, frequency: float) -> None:
    peak, travel = sdof.linear_drop(height, frequency, gravity=True)
    assert sdof.cushion_travel(height, peak) == pytest.approx(travel, rel=1e-6)


@given(HEIGHT, st.floats(2.1, 500.0))
def test_no_cushion_beats_the_ideal_one(height: float, fragility: float) -> None:
    ideal = sdof.ideal_travel(height, fragility)
    assert G0 * (height + ideal) == pytest.approx(fragility * G0 * ideal, rel=1e-9)
    assert ideal < sdof.cushion_travel(height, fragility)


def test_dropped_from_nothing_a_mass_bears_twice_its_weight() -> None:
    peak, travel = sdof.linear_drop(0.0, 10.0, gravity=True)
    assert peak == 2.0
    assert travel == pytest.approx(2.0 * sdof.static_deflection(sdof.stiffness_for(10.0, 1.0), 1.0))


def test_free_fall_adds_one_g_of_ringing_at_most() -> None:
    """From 0.3 m at 5 Hz the recoil of the sag moves the landing by one g: 8.83 ± 1 (computed)."""
    peak, _ = sdof.linear_drop(0.3, 5.0, gravity=True)
    assert peak == pytest.approx(8.83, abs=0.005)


def test_rebound_sees_no_gravity() -> None:
    with pytest.raises(ValueError, match=r"restitution = 0\.4.*gravity=False"):
        sdof.linear_drop(0.762, 10.0, gravity=True, restitution=0.4)
    with pytest.raises(ValueError, match=r"restitution = 0\.4.*gravity=False"):
        sdof.linear_drop(0.762, 10.0, gravity=True, restitution=[0.0, 0.4, 0.1])


@given(HERTZ, st.floats(0.5, 100.0), st.floats(1e-6, 10.0))
def test_miles_acceleration_is_the_spring_at_the_miles_displacement(
    frequency: float, amplification: float, density: float
) -> None:
    travel = sdof.miles_displacement(frequency, amplification, density)
    acceleration = sdof.miles_acceleration(frequency, amplification, density)
    assert (TAU * frequency) ** 2 * travel == pytest.approx(acceleration, rel=1e-12)


def test_few_cycles_have_no_expected_peak() -> None:
    with pytest.raises(ValueError, match=r"cycles = 5: .* 10 cycles"):
        sdof.expected_peak_factor([1000.0, 5.0])


def test_kernels_broadcast() -> None:
    stiffness = np.array([[1e3], [2e3], [4e3]])
    mass = np.array([1.0, 2.0])
    table = sdof.natural_frequency(stiffness, mass)
    assert table.shape == (3, 2)
    assert table[2, 1] == sdof.natural_frequency(4e3, 2.0)
    peak, travel = sdof.linear_drop(np.array([[0.3], [0.762]]), table[0], gravity=True)
    assert peak.shape == travel.shape == (2, 2)
    assert sdof.viscous_peak(np.full((2, 3), 0.1))[1].shape == (2, 3)


def test_lists_go_in_and_arrays_come_out() -> None:
    sags = formulas.natural_frequency_from_deflection(["1 mm", "4 mm"]).to("Hz").magnitude
    assert sags[0] == pytest.approx(2.0 * sags[1], rel=1e-12)
    curve = formulas.transmissibility(
        ["5 Hz", "10 Hz", "20 Hz"], natural_frequency="10 Hz", damping_ratio=0.0
    )
    np.testing.assert_allclose(curve, [4.0 / 3.0, np.inf, 1.0 / 3.0], rtol=1e-12)
    drops = formulas.linear_drop(
        height=["0.3 m", "1.2 m"], natural_frequency="10 Hz", gravity=False
    )
    assert drops.peak_specific_force[1] == pytest.approx(2.0 * drops.peak_specific_force[0])
    assert drops.travel.to("m").magnitude.shape == (2,)


def test_scalars_stay_scalars() -> None:
    assert isinstance(formulas.natural_frequency_from_deflection("1 mm").magnitude, float)
    drop = formulas.linear_drop(height="0.3 m", natural_frequency="10 Hz", gravity=True)
    assert isinstance(drop.peak_specific_force, float)
    assert isinstance(drop.travel.magnitude, float)
    assert isinstance(
        formulas.transmissibility("5 Hz", natural_frequency="10 Hz", loss_factor=0.1), float
    )


def test_a_shell_does_not_rebound_unless_that_is_said():
    one, other = (
        sdof.linear_drop(0.5, 12.0, gravity=False, **more) for more in ({}, {"restitution": 0.0})
    )
    assert one == other
    again = sdof.linear_drop(0.5, 12.0, gravity=False, restitution=1.0)
    assert again[0] == pytest.approx(2 * one[0], rel=1e-12)


def test_ten_cycles_are_enough_for_an_expected_peak():
    spread = math.sqrt(2 * math.log(10))
    found = sdof.expected_peak_factor(10.0)
    assert found == pytest.approx(spread + 0.5772156649015329 / spread, rel=1e-12)

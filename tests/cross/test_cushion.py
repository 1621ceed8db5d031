"""Foam and pads against integration in time by an independent solver."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from isolator.curve import Curve
from isolator.cushion import Cushion, snubber_for
from isolator.sdof import cushion_travel, drop_speed, ideal_travel
from isolator.units import G0

A, B, THICKNESS, AREA, MASS = 20e3, 0.08e-3, 0.06, 0.02, 8.0
FOAM = Cushion(
    name="block",
    thickness="60 mm",
    area="200 cm^2",
    initial_stress="20 kPa",
    growth="0.08 1/kPa",
)
HEIGHTS = (0.1, 0.25, 0.4, 0.6, 0.76)


def landing(force, mass: float, speed: float, gravity: float) -> tuple[float, float]:
    """Greatest force [N] and deflection [m] of a mass that meets a spring at a speed."""

    def motion(_: float, state: np.ndarray) -> list[float]:
        return [state[1], gravity - float(force(state[0])) / mass]

    def lowest(_: float, state: np.ndarray) -> float:
        return state[1]

    lowest.terminal, lowest.direction = True, -1
    run = solve_ivp(
        motion, (0.0, 1.0), [0.0, speed], events=lowest, rtol=1e-9, atol=1e-12, max_step=2e-4
    )
    deepest = float(run.y_events[0][0, 0])
    return float(force(deepest)), deepest


@pytest.mark.parametrize("height", HEIGHTS)
def test_a_mass_on_the_elastic_law_gives_the_stress_energy_curve(height):
    """Burgess's relation (memory) comes back from the motion, gravity off as in s·h/t."""
    force, deepest = landing(FOAM.curve().force, MASS, float(drop_speed(height)), 0.0)
    assert force / (MASS * G0) == pytest.approx(float(FOAM.peak_g(MASS, height)), rel=1e-3)
    law = -np.expm1(-B * MASS * G0 * height / (AREA * THICKNESS)) / (A * B)
    # The straight rise out of zero costs 1 % of the thickness, and nothing of the peak.
    assert deepest / THICKNESS == pytest.approx(law + 0.01, abs=3e-4)


@pytest.mark.parametrize("height", HEIGHTS)
def test_gravity_adds_its_work_over_the_stroke(height):
    force, deepest = landing(FOAM.curve().force, MASS, float(drop_speed(height)), G0)
    fallen = float(FOAM.peak_g(MASS, height + deepest))
    assert force / (MASS * G0) == pytest.approx(fallen, rel=1e-3)


@pytest.mark.parametrize("height", [0.3, 0.76, 1.22])
@pytest.mark.parametrize("peak", [20.0, 60.0])
def test_linear_and_ideal_cushions_stop_in_the_travel_of_the_closed_form(height, peak):
    speed = float(drop_speed(height))
    travel = float(cushion_travel(height, peak))
    spring = Curve.straight(peak * G0 / travel)
    force, deepest = landing(spring.force, 1.0, speed, G0)
    assert (force / G0, deepest) == pytest.approx((peak, travel), rel=1e-6)
    least = float(ideal_travel(height, peak))
    force, deepest = landing(lambda x: peak * G0, 1.0, speed, G0)
    assert deepest == pytest.approx(least, rel=1e-6)
    assert least < travel / 2 * 1.1


@pytest.mark.parametrize("mass", [0.3, 12.0])
def test_linear_foam_has_the_peak_of_its_motion(mass):
    foam = Cushion(name="slab", thickness="80 mm", stiffness=f"{mass * 40.0} N/mm")
    force, deepest = landing(foam.curve().force, mass, float(drop_speed(0.5)), G0)
    assert deepest < 0.08
    assert force / (mass * G0) == pytest.approx(float(foam.peak_g(mass, 0.5)), rel=1e-6)


@pytest.mark.parametrize("height", [0.3, 0.76])
@pytest.mark.parametrize("peak", [30.0, 60.0])
def test_a_pad_just_meets_peak_and_travel(height, peak):
    mass, stiffness = 8.0, 8.0 * (2 * np.pi * 5.0) ** 2
    least = float(snubber_for(mass, stiffness, height, peak, 1.0)[2])
    for travel in (least, 1.2 * least):
        gap, pad, _ = (float(v) for v in snubber_for(mass, stiffness, height, peak, travel))

        def force(x, gap=gap, pad=pad):
            return stiffness * x + pad * max(x - gap, 0.0)

        most, deepest = landing(force, mass, float(drop_speed(height)), G0)
        assert most / (mass * G0) == pytest.approx(peak, rel=1e-5)
        assert deepest == pytest.approx(travel, rel=1e-5)
        assert gap >= mass * G0 / stiffness * (1 - 1e-9)
    # At the least travel the payload hangs on the pad's very surface.
    gap = float(snubber_for(mass, stiffness, height, peak, least)[0])
    assert gap == pytest.approx(mass * G0 / stiffness, rel=1e-9)


def test_no_pad_does_better_than_the_least_travel():
    """Every pad and gap that stops in less passes the peak, by brute force."""
    mass, stiffness, height, peak = 8.0, 8.0 * (2 * np.pi * 5.0) ** 2, 0.76, 40.0
    weight, sag = mass * G0, mass * G0 / stiffness
    least = float(snubber_for(mass, stiffness, height, peak, 1.0)[2])
    gap = np.linspace(sag, 3 * sag, 200)[:, None]
    pad = np.geomspace(1e3, 1e7, 400)
    # mg(h + x) = kx²/2 + p(x − c)²/2, solved for its larger root.
    a, b = (stiffness + pad) / 2, -(weight + pad * gap)
    c = pad * gap**2 / 2 - weight * height
    travel = (-b + np.sqrt(b**2 - 4 * a * c)) / (2 * a)
    caught = np.where(travel > gap, (stiffness * travel + pad * (travel - gap)) / weight, np.inf)
    assert np.all(caught[travel < least * 0.999] > peak)
    assert np.min(travel[caught <= peak]) == pytest.approx(least, rel=0.02)

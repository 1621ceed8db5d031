"""One mass on one spring against time integration, a control library and quadrature."""

import math
from collections.abc import Callable
from itertools import pairwise

import control
import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from isolator import sdof
from isolator.spectrum import density_at, mean_square
from isolator.units import G0

TAU = 2.0 * math.pi
SOLVER = {"method": "DOP853", "rtol": 1e-10, "atol": 1e-13}


def shaken(frequency_ratio: float, damping: float) -> float:
    """Amplitude of the mass over that of its base, x″ = 2ζ(y′ − x′) + (y − x) in unit of ω_n."""

    def motion(time: float, state: np.ndarray) -> list[float]:
        base = math.sin(frequency_ratio * time)
        base_speed = frequency_ratio * math.cos(frequency_ratio * time)
        x, v = state
        return [v, 2.0 * damping * (base_speed - v) + (base - x)]

    settled = 20.0 / damping
    times = settled + np.linspace(0.0, TAU / frequency_ratio, 65)[:-1]
    found = solve_ivp(motion, (0.0, times[-1]), [0.0, 0.0], t_eval=times, **SOLVER)
    phase = np.exp(-1j * frequency_ratio * times)
    return float(abs(2.0 * np.mean(found.y[0] * phase)))


@pytest.mark.parametrize("ratio", [0.5, 1.0, math.sqrt(2.0), 3.0])
@pytest.mark.parametrize("zeta", [0.1, 0.4])
def test_viscous_transmissibility_against_time_integration(ratio: float, zeta: float) -> None:
    assert sdof.viscous_transmissibility(ratio, zeta) == pytest.approx(
        shaken(ratio, zeta), rel=1e-6
    )


@pytest.mark.parametrize("ratio", [0.5, 1.0, 3.0])
def test_structural_transmissibility_against_time_integration(ratio: float) -> None:
    """At one frequency a dashpot c = ηk/ω loses the same energy a cycle as k(1 + iη)."""
    eta = 0.3
    assert sdof.structural_transmissibility(ratio, eta) == pytest.approx(
        shaken(ratio, eta / (2.0 * ratio)), rel=1e-6
    )


@pytest.mark.parametrize("zeta", [0.0, 0.02, 0.1, 0.7, 2.0])
def test_viscous_transmissibility_against_a_control_library(zeta: float) -> None:
    ratio = np.geomspace(0.05, 30.0, 60)
    plant = control.tf([2.0 * zeta, 1.0], [1.0, 2.0 * zeta, 1.0])
    response = control.frequency_response(plant, ratio)
    np.testing.assert_allclose(
        sdof.viscous_transmissibility(ratio, zeta), response.magnitude, rtol=1e-9
    )


def test_viscous_peak_against_a_control_library() -> None:
    zeta = 0.15
    plant = control.tf([2.0 * zeta, 1.0], [1.0, 2.0 * zeta, 1.0])
    grid = np.linspace(0.9, 1.1, 20001)
    response = control.frequency_response(plant, grid).magnitude
    ratio, peak = sdof.viscous_peak(zeta)
    assert peak == pytest.approx(response.max(), rel=1e-8)
    assert ratio == pytest.approx(grid[response.argmax()], abs=1e-5)


@pytest.mark.parametrize("zeta", [0.0, 0.1, 0.6, 1.0])
def test_free_decay_against_time_integration(zeta: float) -> None:
    omega = TAU * 4.0
    times = np.linspace(0.0, 1.0, 21)
    found = solve_ivp(
        lambda _, s: [s[1], -2.0 * zeta * omega * s[1] - omega**2 * s[0]],
        (0.0, 1.0),
        [0.2, -1.5],
        t_eval=times,
        **SOLVER,
    )
    np.testing.assert_allclose(
        sdof.free_decay(times, 4.0, zeta, 0.2, -1.5), found.y[0], rtol=1e-6, atol=1e-9
    )


def landed(height: float, frequency: float, *, gravity: float, rebound: float) -> tuple:
    """Peak spring force over weight, and compression, of a payload above a heavy shell.

    Absolute motion of shell and payload under the same gravity; the shell leaves the floor with
    the rebound or stays on it.
    """
    omega = TAU * frequency
    speed = math.sqrt(2.0 * G0 * height)
    shell_gravity = gravity if rebound else 0.0

    def motion(_: float, state: np.ndarray) -> list[float]:
        shell, shell_speed, payload, payload_speed = state
        return [
            shell_speed,
            -shell_gravity,
            payload_speed,
            omega**2 * (shell - payload) - gravity,
        ]

    def stopped(_: float, state: np.ndarray) -> float:
        return state[1] - state[3]

    stopped.terminal = True
    stopped.direction = -1.0
    found = solve_ivp(
        motion,
        (0.0, 1.0 / frequency),
        [0.0, rebound * speed, 0.0, -speed],
        events=stopped,
        **SOLVER,
    )
    assert found.status == 1
    travel = found.y_events[0][0][0] - found.y_events[0][0][2]
    return omega**2 * travel / G0, travel


@pytest.mark.parametrize("height", [0.05, 0.762])
@pytest.mark.parametrize("frequency", [4.0, 10.0, 40.0])
def test_drop_against_time_integration(height: float, frequency: float) -> None:
    np.testing.assert_allclose(
        sdof.linear_drop(height, frequency, gravity=True),
        landed(height, frequency, gravity=G0, rebound=0.0),
        rtol=1e-8,
    )
    np.testing.assert_allclose(
        sdof.linear_drop(height, frequency, gravity=False),
        landed(height, frequency, gravity=0.0, rebound=0.0),
        rtol=1e-8,
    )


def test_first_flight_against_time_integration() -> None:
    """8 kg at 10 Hz, 0.762 m, rebound 0.4, heavy shell, gravity on: 34.7 g (computed)."""
    drop = sdof.linear_drop(0.762, 10.0, gravity=False, restitution=0.4)
    np.testing.assert_allclose(drop, landed(0.762, 10.0, gravity=G0, rebound=0.4), rtol=1e-8)
    assert drop[0] == pytest.approx(34.7, abs=0.05)


def power(squared: Callable[[float], float]) -> float:
    """Integral of a squared response over all frequency ratios."""
    options = {"epsabs": 0.0, "epsrel": 1e-10, "limit": 500}
    return (
        quad(squared, 0.0, 2.0, points=[1.0], **options)[0]
        + quad(squared, 2.0, np.inf, **options)[0]
    )


@pytest.mark.parametrize("zeta", [0.02, 0.1, 0.3])
def test_white_noise_against_quadrature(zeta: float) -> None:
    frequency, density = 25.0, 0.3
    shaken_hard = power(lambda r: float(sdof.viscous_transmissibility(r, zeta) ** 2))
    miles = sdof.miles_acceleration(frequency, 0.5 / zeta, density)
    assert miles * sdof.white_noise_factor(zeta) == pytest.approx(
        math.sqrt(density * frequency * shaken_hard), rel=1e-8
    )
    stretched = power(lambda r: 1.0 / ((1.0 - r**2) ** 2 + (2.0 * zeta * r) ** 2))
    assert sdof.miles_displacement(frequency, 0.5 / zeta, density) == pytest.approx(
        math.sqrt(density * frequency * stretched) / (TAU * frequency) ** 2, rel=1e-8
    )


@pytest.mark.parametrize(("cycles", "within"), [(10.0, 0.02), (1e3, 0.005), (72e3, 0.002)])
def test_expected_peak_against_the_exact_mean(cycles: float, within: float) -> None:
    """Mean of the greatest of N independent Rayleigh peaks, by quadrature."""
    exact, _ = quad(
        lambda x: -math.expm1(cycles * math.log1p(-math.exp(-(x**2) / 2.0))) if x else 1.0,
        0.0,
        12.0,
        limit=200,
    )
    assert sdof.expected_peak_factor(cycles) == pytest.approx(exact, rel=within)


def test_mean_square_against_quadrature() -> None:
    """The longitudinal truck lines, whose step from 120 to 121 Hz is the steepest."""
    frequency = np.array([10.0, 20.0, 120.0, 121.0, 200.0, 240.0, 340.0, 500.0])
    density = np.array([6.5e-3, 6.5e-3, 2e-4, 3e-3, 3e-3, 1.5e-3, 3e-5, 1.5e-4])
    area = sum(
        quad(lambda f: float(density_at(f, frequency, density)), low, high, epsrel=1e-11)[0]
        for low, high in pairwise(frequency)
    )
    assert mean_square(frequency, density) == pytest.approx(area, rel=1e-9)

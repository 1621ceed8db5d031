"""Shaking and dropping a rigid body against direct solutions, a control library, quadrature,
Lyapunov's equation and integration in time."""

import math
from collections.abc import Callable
from itertools import pairwise

import control
import numpy as np
import pytest
from scipy.integrate import quad, quad_vec, solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.linalg import block_diag, solve_continuous_lyapunov
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from isolator import sdof
from isolator.curve import Curve
from isolator.shock import flat_drop
from isolator.spectrum import density_at
from isolator.suspension import Suspension
from isolator.trip import roads
from isolator.units import G0
from isolator.vibration import (
    around_modes,
    peak,
    random_response,
    sine_response,
    tones_response,
    touches_an_hour,
    transmissibility,
    worse_than_bolted,
)

TAU = 2.0 * math.pi
DOWN = np.array([0.0, 0.0, -1.0])
POINTS = np.array([(0.0, 0.0, 0.0), (0.2, 0.15, 0.1), (-0.2, 0.15, -0.05)])


class Crooked:
    """Five different mounts with tilted axes under a body with products of inertia."""

    rng = np.random.default_rng(11)
    mass = 9.5
    inertia = np.array([[0.30, 0.03, -0.02], [0.03, 0.35, 0.04], [-0.02, 0.04, 0.40]])
    position = rng.uniform(-0.3, 0.3, (5, 3))
    along = rng.uniform(2e3, 4e4, 5)
    across = rng.uniform(1e3, 2e4, 5)
    ratio = rng.uniform(1.0, 1.8, 5)
    loss = np.array([0.02, 0.05, 0.1, 0.3, 0.6])
    push = rng.normal(size=(5, 3))
    push /= np.linalg.norm(push, axis=-1, keepdims=True)

    @classmethod
    def suspension(cls, loss: object = None) -> Suspension:
        return Suspension.of_springs(
            cls.mass,
            cls.inertia,
            cls.position,
            cls.along,
            cls.across,
            push=cls.push,
            dynamic_ratio=cls.ratio,
            loss_factor=cls.loss if loss is None else loss,
        )

    @classmethod
    def matrices(cls, loss: object = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Mass, stored and lost stiffness (6, 6), spring by spring."""
        stored, lost = np.zeros((6, 6)), np.zeros((6, 6))
        eta = np.broadcast_to(cls.loss if loss is None else loss, 5)
        for r, axis, k, kt, c, n in zip(
            cls.position, cls.push, cls.along, cls.across, cls.ratio, eta, strict=True
        ):
            point = np.hstack([np.eye(3), np.column_stack([np.cross(e, r) for e in np.eye(3)])])
            spring = kt * np.eye(3) + (k - kt) * np.outer(axis, axis)
            stored += c * point.T @ spring @ point
            lost += c * n * point.T @ spring @ point
        return block_diag(cls.mass * np.eye(3), cls.inertia), stored, lost


def at(point: np.ndarray) -> np.ndarray:
    return np.hstack([np.eye(3), np.column_stack([np.cross(e, point) for e in np.eye(3)])])


def solved(frequency: float) -> np.ndarray:
    """Motion (6, 3) of the body relative to a case that accelerates by 1 m/s²."""
    mass, stored, lost = Crooked.matrices()
    dynamic = stored + 1j * lost - (TAU * frequency) ** 2 * mass
    return -np.linalg.solve(dynamic, mass[:, :3])


def test_transmissibility_of_mixed_damping_against_a_direct_solve() -> None:
    frequency = np.geomspace(0.5, 200.0, 40)
    ours = transmissibility(Crooked.suspension().modes(), POINTS, frequency)
    for f, computed in zip(frequency, ours, strict=True):
        acceleration = -((TAU * f) ** 2) * solved(f)
        for point, response in zip(POINTS, computed, strict=True):
            expected = np.eye(3) + at(point) @ acceleration
            np.testing.assert_allclose(response, expected, rtol=1e-9, atol=1e-11)


def test_tones_add_whatever_their_phases_against_a_direct_solve() -> None:
    """Two tones along all axes in three runs, on axes of each point's own."""
    rng = np.random.default_rng(4)
    tones, levels = rng.uniform(3.0, 30.0, (2, 3)), rng.uniform(0.2, 2.0, (2, 3, 3))
    frames = Rotation.random(len(POINTS), rng=rng).as_matrix()
    ours = tones_response(Crooked.suspension().modes(), POINTS, tones, levels, frames=frames)
    travel, felt = np.zeros((2, 3, len(POINTS), 3)), np.zeros((2, 3, len(POINTS), 3))
    for tone, run, p in np.ndindex(2, 3, len(POINTS)):
        f, level = tones[tone, run], levels[tone, run]
        moved = at(POINTS[p]) @ solved(f)
        shaken = np.eye(3) - (TAU * f) ** 2 * moved
        travel[tone, run, p] = np.abs(frames[p] @ moved) @ level
        felt[tone, run, p] = np.abs(frames[p] @ shaken) @ level
    np.testing.assert_allclose(ours.travel, travel.sum(axis=0).max(axis=0), rtol=1e-9)
    np.testing.assert_allclose(ours.acceleration, felt.sum(axis=0).max(axis=0), rtol=1e-9)
    square = (felt**2 / 2).sum(axis=0).max(axis=0)
    np.testing.assert_allclose(ours.acceleration_rms, np.sqrt(square), rtol=1e-9)


def test_the_largest_of_a_sine_against_a_direct_solve() -> None:
    """Along y, level and frequency in a batch of two sweeps of three lines each."""
    lines = np.array([[4.0, 9.0, 21.0], [6.0, 13.0, 30.0]])
    level = np.array([[1.0, 0.5, 2.0], [0.3, 3.0, 1.0]])
    held = Suspension.stacked([Crooked.suspension()] * 2)
    ours = sine_response(held.modes(), POINTS, 1, lines, level)
    for sweep, p in np.ndindex(2, len(POINTS)):
        moved = np.array([at(POINTS[p]) @ solved(f)[:, 1] for f in lines[sweep]])
        shaken = np.eye(3)[1] - ((TAU * lines[sweep]) ** 2)[:, None] * moved
        felt = np.abs(shaken) * level[sweep][:, None]
        top = felt.argmax(axis=0)
        np.testing.assert_allclose(ours.acceleration[sweep, p], felt.max(axis=0), rtol=1e-9)
        np.testing.assert_array_equal(ours.frequency[sweep, p], lines[sweep][top])
        travel = (np.abs(moved) * level[sweep][:, None]).max(axis=0)
        np.testing.assert_allclose(ours.travel[sweep, p], travel, rtol=1e-9)


def test_a_batch_is_searched_design_by_design() -> None:
    one, other = centred(5.0, 0.1), centred(12.0, 0.02)
    batch = around_modes(Suspension.stacked([one, other]).modes(), 3.0, 40.0, 7.0)
    for got, alone in zip(batch, (one, other), strict=True):
        np.testing.assert_allclose(got, around_modes(alone.modes(), 3.0, 40.0, 7.0), rtol=1e-9)


def test_the_peak_of_a_very_soft_payload_is_met() -> None:
    """√(1 + η²)/η at 0.3 Hz, below 1 from √2 of that on."""
    worse = worse_than_bolted(centred(0.3, 0.1).modes(), POINTS[:1], 2)
    assert worse.peak[0] == pytest.approx(math.sqrt(1.01) / 0.1, rel=1e-6)
    assert worse.peak_frequency[0] == pytest.approx(0.3, rel=1e-6)
    assert worse.below[0] == pytest.approx(0.3 * math.sqrt(2), rel=1e-6)


@pytest.mark.parametrize("frequency", [3.0, 9.0, 14.0, 40.0])
def test_transmissibility_against_a_control_library(frequency: float) -> None:
    """At one frequency the dashpots C = K″/ω lose what structural damping loses."""
    mass, stored, lost = Crooked.matrices()
    omega = TAU * frequency
    inverse = np.linalg.inv(mass)
    damper = lost / omega
    a = np.block([[np.zeros((6, 6)), np.eye(6)], [-inverse @ stored, -inverse @ damper]])
    b = np.vstack([np.zeros((6, 3)), -np.eye(6)[:, :3]])
    point = at(POINTS[1])
    c = point @ inverse @ np.hstack([-stored, -damper])
    plant = control.ss(a, b, c, np.zeros((3, 3)))
    ours = transmissibility(Crooked.suspension().modes(), POINTS, [frequency])[0, 1]
    np.testing.assert_allclose(ours, plant(1j * omega), rtol=1e-8, atol=1e-10)


def test_worst_band_against_a_dense_direct_search() -> None:
    worse = worse_than_bolted(Crooked.suspension().modes(), POINTS, 2)
    grid = np.arange(1.0, 80.0, 2e-3)
    mass, stored, lost = Crooked.matrices()
    square = (TAU * grid[:, None]) ** 2
    dynamic = stored + 1j * lost - square[..., None] * mass
    motion = square * np.linalg.solve(dynamic, mass[:, 2:3])[..., 0]
    for i, point in enumerate(POINTS):
        size = np.abs(1 + motion @ at(point)[2])
        assert worse.peak[i] == pytest.approx(size.max(), rel=1e-4)
        assert worse.peak_frequency[i] == pytest.approx(grid[size.argmax()], rel=2e-3)
        assert worse.below[i] == pytest.approx(grid[np.flatnonzero(size > 1)[-1]], rel=1e-3)


def centred(frequency: float, eta: float, ratio: float = 1.0) -> Suspension:
    """Mounts around the centre of gravity: 8 kg on one spring along every axis."""
    stiffness = 8.0 * (TAU * frequency) ** 2 / 4 / ratio
    corners = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    return Suspension.of_springs(
        8.0, np.eye(3) * 0.1, corners, stiffness, stiffness, dynamic_ratio=ratio, loss_factor=eta
    )


@pytest.mark.parametrize("eta", [0.001, 0.01])
def test_peak_of_light_damping_is_not_lost_between_grid_lines(eta: float) -> None:
    worse = worse_than_bolted(centred(10.0, eta).modes(), np.zeros((1, 3)), 2)
    assert worse.peak[0] == pytest.approx(math.sqrt(1 + eta**2) / eta, rel=1e-9)
    assert worse.below[0] == pytest.approx(10.0 * math.sqrt(2), rel=1e-6)


def over_lines(of: object, lines: np.ndarray, resonance: float, width: float) -> float:
    """Integral over the lines, one at a time, broken at the resonance and its flanks."""
    total = 0.0
    breaks = resonance + width * np.array([-30, -5, -1, 0, 1, 5, 30])
    for low, high in pairwise(lines):
        inside = [b for b in breaks if low < b < high]
        for start, stop in pairwise([low, *inside, high]):
            total += quad(of, start, stop, epsabs=0.0, epsrel=1e-9, limit=400)[0]
    return total


SPECTRA = {s.name: s for axes in roads().values() for s in axes.values()}


@pytest.mark.parametrize("eta", [0.002, 0.05, 0.2, 0.6])
@pytest.mark.parametrize("name", SPECTRA)
def test_random_response_on_every_road_against_quadrature(name: str, eta: float) -> None:
    lines, density = SPECTRA[name].lines, SPECTRA[name].density
    inside = math.sqrt(lines[0] * lines[-1])
    for natural in (inside, 0.7 * lines[0]):
        ours = random_response(centred(natural, eta).modes(), np.zeros((1, 3)), 2, lines, density)

        def integral(power: int, natural: float = natural) -> float:
            """∫ ω^power W |1/(ω0²(1 + iη) − ω²)|² df."""

            def integrand(f: float) -> float:
                receptance = 1 / ((TAU * natural) ** 2 * (1 + 1j * eta) - (TAU * f) ** 2)
                return (TAU * f) ** power * density_at(f, lines, density) * abs(receptance) ** 2

            return math.sqrt(over_lines(integrand, lines, natural, eta * natural / 2))

        stiffness = (TAU * natural) ** 2 * math.sqrt(1 + eta**2)
        travel, speed = integral(0), integral(2)
        assert ours.travel[0, 2] == pytest.approx(travel, rel=1e-6)
        assert ours.acceleration[0, 2] == pytest.approx(stiffness * travel, rel=1e-6)
        assert ours.travel_speed[0, 2] == pytest.approx(speed, rel=1e-6)
        assert ours.acceleration_rate[0, 2] == pytest.approx(stiffness * speed, rel=1e-6)


@pytest.mark.parametrize("loss", [0.01, None, 0.6])
@pytest.mark.parametrize(
    "road", ["us highway truck 810, longitudinal", "truck d4169-16 high, vertical"]
)
def test_random_response_of_six_motions_against_quadrature(road: str, loss: object) -> None:
    lines, density = SPECTRA[road].lines, SPECTRA[road].density
    suspension = Crooked.suspension(loss)
    mass, stored, lost = Crooked.matrices(loss)
    stack = np.vstack([at(p) for p in POINTS])

    def integrand(f: float) -> np.ndarray:
        omega = TAU * f
        relative = -np.linalg.solve(stored + 1j * lost - omega**2 * mass, mass[:, 1])
        travel = stack @ relative
        absolute = np.tile([0.0, 1.0, 0.0], len(POINTS)) - omega**2 * travel
        squares = np.abs(np.concatenate([absolute, travel, omega * travel, omega * absolute])) ** 2
        return squares * density_at(f, lines, density)

    breaks = [f for f in suspension.frequencies() if lines[0] < f < lines[-1]]
    total = sum(
        quad_vec(integrand, low, high, epsrel=1e-8, epsabs=0.0, norm="max")[0]
        for low, high in pairwise(sorted([*lines, *breaks]))
    )
    expected = np.sqrt(total).reshape(4, len(POINTS), 3)
    ours = random_response(suspension.modes(), POINTS, 1, lines, density)
    for computed, wanted in zip(
        (ours.acceleration, ours.travel, ours.travel_speed, ours.acceleration_rate),
        expected,
        strict=True,
    ):
        np.testing.assert_allclose(computed, wanted, rtol=1e-6)


def mean_receptance(eta: float) -> float:
    """∫₀^∞ dx/|1 + iη − x²|², structural, in closed form: (π/2η)·Re 1/√(1 + iη)."""
    return math.pi / (2 * eta) * (1 / np.sqrt(1 + 1j * eta)).real


@pytest.mark.parametrize("eta", [0.002, 0.05, 0.3])
def test_flat_spectrum_against_the_closed_form(eta: float) -> None:
    natural, low, high = 8.0, 1e-3, 1e4
    lines, density = np.array([low, high]), np.ones(2)
    ours = random_response(centred(natural, eta).modes(), np.zeros((1, 3)), 2, lines, density)

    def outside(x: float) -> float:
        return 1 / abs(1 + 1j * eta - x**2) ** 2

    tails = quad(outside, 0, low / natural, epsrel=1e-12)[0]
    tails += quad(outside, high / natural, np.inf, epsrel=1e-12)[0]
    expected = math.sqrt((mean_receptance(eta) - tails) * natural) / (TAU * natural) ** 2
    assert ours.travel[0, 2] == pytest.approx(expected, rel=1e-9)


def test_structural_and_viscous_damping_part_with_the_square_of_the_loss_factor() -> None:
    """White noise: the viscous mean square by Lyapunov's equation, ζ = η/2 a mode.

    Both dissipate the same at resonance; one mode parts by 1 − Re 1/√(1 + iη) ≈ 3η²/8 and a sum
    of modes by as much in order.
    """
    mass, stored, _ = Crooked.matrices(0.0)
    modes = Crooked.suspension(0.0).modes()
    shape, omega = modes.shape.real, np.sqrt(modes.eigenvalue.real)
    lines, density = np.array([1e-4, 1e4]), np.ones(2)
    point = at(POINTS[1])
    parted = []
    for eta in (0.005, 0.01):
        damper = mass @ shape @ np.diag(eta * omega) @ shape.T @ mass
        inverse = np.linalg.inv(mass)
        a = np.block([[np.zeros((6, 6)), np.eye(6)], [-inverse @ stored, -inverse @ damper]])
        b = np.concatenate([np.zeros(6), -np.eye(6)[2]])
        # A one-sided density of 1 is a two-sided intensity of ½.
        covariance = solve_continuous_lyapunov(a, -0.5 * np.outer(b, b))[:6, :6]
        viscous = np.sqrt(np.diag(point @ covariance @ point.T))
        ours = random_response(Crooked.suspension(eta).modes(), POINTS, 2, lines, density)
        parted.append(1 - (ours.travel[1] / viscous) ** 2)
        # One mode would part by 3η²/8; coupled modes share out their part.
        assert np.all(np.abs(parted[-1]) < eta**2)
    np.testing.assert_allclose(parted[1] / parted[0], 4.0, rtol=0.05)

    single = random_response(centred(9.0, 0.08).modes(), np.zeros((1, 3)), 2, lines, density)
    viscous = sdof.miles_displacement(9.0, 1 / 0.08, 1.0)
    assert 1 - (single.travel[0, 2] / viscous) ** 2 == pytest.approx(3 * 0.08**2 / 8, rel=0.02)


@pytest.mark.parametrize("eta", [0.05, 0.1, 0.2, 0.3])
def test_either_damping_gives_the_same_level_on_a_road(eta: float) -> None:
    """A mode inside a road spectrum: g rms within 4 % for η ≤ 0.3 (computed)."""
    for spectrum in SPECTRA.values():
        lines, density = spectrum.lines, spectrum.density
        natural = math.sqrt(lines[0] * lines[-1]) / 1.5
        ours = random_response(centred(natural, eta).modes(), np.zeros((1, 3)), 2, lines, density)

        def viscous(
            f: float, natural: float = natural, lines: object = lines, density: object = density
        ) -> float:
            gain = sdof.viscous_transmissibility(f / natural, eta / 2)
            return float(gain**2 * density_at(f, lines, density))

        level = math.sqrt(over_lines(viscous, lines, natural, eta * natural / 2))
        assert ours.acceleration[0, 2] == pytest.approx(level, rel=0.04)


def test_expected_peak_and_touches() -> None:
    rms, rate = np.array([0.002, 0.0]), np.array([0.002 * TAU * 20.0, 0.0])
    highest = peak(rms, rate, 3600.0, 1.3)
    # 20 upward crossings a second, both signs: 4.99 rms (computed).
    assert highest[0] == pytest.approx(1.3 * 0.002 * sdof.expected_peak_factor(2 * 72e3), rel=1e-12)
    assert highest[0] / 1.3 / 0.002 == pytest.approx(4.99, abs=0.005)
    assert highest[1] == 0.0
    touches = touches_an_hour(rms, rate, np.array([0.006, 0.006]))
    assert touches[0] == pytest.approx(72e3 * math.exp(-4.5), rel=1e-12)
    assert touches[1] == 0.0
    assert touches_an_hour(rms[:1], rate[:1], -0.001)[0] == pytest.approx(72e3)


def test_touches_of_a_simulated_travel() -> None:
    """Crossings counted in a Gaussian record of 4000 s made of 8000 random waves."""
    rng = np.random.default_rng(5)
    duration, rate = 4000.0, 200.0
    time = np.arange(int(duration * rate)) / rate
    spectrum = np.zeros(time.size // 2 + 1, dtype=complex)
    frequency = np.fft.rfftfreq(time.size, 1 / rate)
    band = (frequency > 7.0) & (frequency < 9.0)
    spectrum[band] = rng.normal(size=band.sum()) + 1j * rng.normal(size=band.sum())
    travel, speed = np.fft.irfft(spectrum), np.fft.irfft(1j * TAU * frequency * spectrum)
    gap = 1.5 * travel.std()
    counted = np.count_nonzero((travel[:-1] < gap) & (travel[1:] >= gap)) * 3600 / duration
    expected = touches_an_hour(np.array(travel.std()), np.array(speed.std()), gap)
    assert counted == pytest.approx(expected, rel=0.05)


# A hardening and a softening curve of a mount, along and across its axis.
DEFLECTION = np.array([0.0, 0.004, 0.010, 0.018, 0.026])
HARDENING = np.array([0.0, 20.0, 65.0, 190.0, 520.0])
SOFTENING = np.array([0.0, 60.0, 110.0, 140.0, 155.0])


class Spring:
    """Shape-preserving cubics through the points, odd in deflection, straight beyond them."""

    def __init__(self, force: np.ndarray) -> None:
        d = np.concatenate([-DEFLECTION[:0:-1], DEFLECTION])
        f = np.concatenate([-force[:0:-1], force])
        self.inside = PchipInterpolator(d, f)
        self.end = float(self.inside.derivative()(DEFLECTION[-1]))

    def __call__(self, deflection: float) -> float:
        within = min(max(deflection, -DEFLECTION[-1]), DEFLECTION[-1])
        return float(self.inside(within)) + self.end * (deflection - within)


def curved(ratio: float) -> Suspension:
    along, across = (Curve.through(DEFLECTION, f) for f in (HARDENING, SOFTENING))
    mounts = Curve.stacked([Curve.stacked([along, across])] * 4)
    plain = centred(5.0, 0.1, ratio)
    return Suspension(
        plain.mass,
        plain.inertia,
        plain.position,
        plain.frames,
        mounts,
        plain.dynamic_ratio,
        plain.loss_factor,
    )


def falls(
    direction: np.ndarray, height: float, factor: float, rebound: float, stop: float = np.inf
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, travel and speed from contact to the turning point and back, or to the stop."""
    along, across = Spring(HARDENING), Spring(SOFTENING)
    cosine = abs(direction[2])
    sine = math.hypot(direction[0], direction[1])

    def force(x: float) -> float:
        # Across, a mount is round: the curve acts on the length of the deflection.
        return 4 * factor * (cosine * along(cosine * x) + sine * across(sine * x))

    weight = 0.0 if rebound else G0

    def motion(_: float, state: np.ndarray) -> list[float]:
        return [state[1], weight - force(state[0]) / 8.0]

    def back(_: float, state: np.ndarray) -> float:
        return state[0] + 1e-12

    def stopped(_: float, state: np.ndarray) -> float:
        return state[0] - stop

    back.terminal = stopped.terminal = True
    back.direction = -1.0
    speed = (1 + rebound) * math.sqrt(2 * G0 * height)
    found = solve_ivp(
        motion,
        (0.0, 2.0),
        [0.0, speed],
        events=[back, stopped] if np.isfinite(stop) else [back],
        method="DOP853",
        rtol=1e-10,
        atol=1e-12,
        max_step=2e-5,
    )
    force_along = np.array([force(x) for x in found.y[0]])
    return found.t, found.y, force_along


@pytest.mark.parametrize("rebound", [0.0, 0.3])
@pytest.mark.parametrize(
    "direction",
    [
        (0.0, 0.0, -1.0),
        pytest.param((0.6, 0.0, -0.8), marks=pytest.mark.heavy),
        (2 / 7, 3 / 7, -6 / 7),
    ],
)
def test_drop_through_true_curves_against_time_integration(
    direction: tuple[float, float, float], rebound: float
) -> None:
    way, ratio, height = np.array(direction), 1.4, 0.3
    unknown = np.full((4, 3), np.nan)
    drop = flat_drop(curved(ratio), way, height, unknown, restitution=rebound)

    _, state, _ = falls(way, height, 1.0, rebound)
    assert drop.travel == pytest.approx(state[0].max(), rel=1e-4)

    time, state, force = falls(way, height, ratio, rebound)
    assert drop.peak == pytest.approx(force.max() / (8.0 * G0), rel=1e-4)
    above = force >= force.max() / 10
    first, last = np.flatnonzero(above)[[0, -1]]
    rise = np.interp(force.max() / 10, force[first - 1 : first + 1], time[first - 1 : first + 1])
    fall = np.interp(-force.max() / 10, -force[last : last + 2], time[last : last + 2])
    assert drop.duration == pytest.approx(fall - rise, rel=1e-4)
    weight = 0.0 if rebound else G0
    inner = np.linspace(rise, fall, 200001)
    specific = np.interp(inner, time, force) / 8.0 - weight
    assert drop.velocity_change == pytest.approx(np.trapezoid(specific, inner), rel=1e-4)
    turn = state[0].argmax()
    along, across = abs(way[2]) * state[0][turn], math.hypot(way[0], way[1]) * state[0][turn]
    springs = [Spring(HARDENING)(along), Spring(SOFTENING)(across)]
    np.testing.assert_allclose(drop.mount_force, ratio * np.linalg.norm(springs), rtol=1e-4)


@pytest.mark.parametrize("rebound", [0.0, 0.3])
def test_bottoming_against_time_integration(rebound: float) -> None:
    stop, height = 0.015, 0.3
    limit = np.full((4, 3), stop)
    drop = flat_drop(curved(1.0), DOWN, height, limit, restitution=rebound)
    _, state, force = falls(DOWN, height, 1.0, rebound, stop)
    assert drop.bottoms == 1
    assert drop.bottom == stop
    assert drop.contact_speed == pytest.approx(state[1][-1], rel=1e-6)
    assert drop.peak == pytest.approx(force[-1] / (8.0 * G0), rel=1e-6)
    _, state, _ = falls(DOWN, float(drop.bottoming_height), 1.0, rebound)
    assert state[0].max() == pytest.approx(stop, rel=1e-6)
    again = flat_drop(curved(1.0), DOWN, drop.bottoming_height, limit, restitution=rebound)
    assert again.travel == pytest.approx(stop, rel=1e-9)


@pytest.mark.parametrize("height", [0.05, 0.3])
def test_the_ring_and_the_rebound_against_time_integration(height: float) -> None:
    """Every phase of the ring from the sag, then a landing and the way back, undamped."""
    unknown = np.full((4, 3), np.nan)
    drop = flat_drop(curved(1.0), DOWN, height, unknown)
    spring = Spring(HARDENING)
    weight, mass = 8.0 * G0, 8.0
    sag = brentq(lambda x: 4 * spring(x) - weight, 0.0, 0.01)

    def motion(gravity: float) -> Callable[[float, np.ndarray], list[float]]:
        return lambda _, s: [s[1], gravity - 4 * spring(s[0]) / mass]

    settings = {"method": "DOP853", "rtol": 1e-9, "atol": 1e-12, "max_step": 2e-3}
    ring = solve_ivp(motion(0.0), (0.0, 0.2), [sag, 0.0], **settings)
    deepest, highest = 0.0, 0.0
    for x, v in ring.y.T[::3]:
        start = [x, v + math.sqrt(2 * G0 * height)]
        # The turning points lie between the solver's own steps.
        after = solve_ivp(motion(G0), (0.0, 0.3), start, events=lambda _, s: s[1], **settings)
        turns = after.y_events[0][:, 0]
        deepest, highest = max(deepest, turns.max()), min(highest, turns.min())
    assert deepest <= drop.travel_most * (1 + 1e-6)
    assert deepest == pytest.approx(drop.travel_most, rel=0.02)
    assert -highest <= drop.rebound * (1 + 1e-6)
    assert -highest == pytest.approx(drop.rebound, rel=0.03)

"""Parts on a floating payload against a direct solve of payload and part together, Lyapunov's
equation, and linear propagation in time."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad_vec
from scipy.linalg import block_diag, expm, solve_continuous_lyapunov

from isolator import sdof
from isolator.resonance import bolted_response, riding_response
from isolator.shock import flat_drop, jolt
from isolator.spectrum import density_at
from isolator.suspension import Suspension, motion_at
from isolator.trip import roads
from isolator.units import G0
from isolator.vibration import random_response

TAU = 2.0 * math.pi
ROAD = roads()["us highway truck 810"]["vertical"]
POINT = np.array([0.15, -0.1, 0.08])
LIGHT = 1e-9
"""Mass of the part; what it does to the payload is of that order. [kg]"""


class Tray:
    """Four different mounts under a body with products of inertia."""

    mass = 9.5
    inertia = np.array([[0.30, 0.03, -0.02], [0.03, 0.35, 0.04], [-0.02, 0.04, 0.40]])
    position = np.array([(-0.2, -0.15, -0.1), (0.2, -0.12, -0.05), (-0.18, 0.15, 0), (0.2, 0.1, 0)])
    along = np.array([1.2e4, 2e4, 0.9e4, 3e4])
    across = np.array([0.8e4, 1e4, 0.7e4, 1.1e4])
    loss = np.array([0.05, 0.3, 0.1, 0.15])

    @classmethod
    def suspension(cls, loss: object = None) -> Suspension:
        return Suspension.of_springs(
            cls.mass, cls.inertia, cls.position, cls.along, cls.across,
            loss_factor=cls.loss if loss is None else loss,
        )  # fmt: skip

    @classmethod
    def matrices(cls, loss: object = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        stored, lost = np.zeros((6, 6)), np.zeros((6, 6))
        eta = np.broadcast_to(cls.loss if loss is None else loss, 4)
        for r, k, kt, n in zip(cls.position, cls.along, cls.across, eta, strict=True):
            spring = at(r).T @ np.diag([kt, kt, k]) @ at(r)
            stored += spring
            lost += n * spring
        return block_diag(cls.mass * np.eye(3), cls.inertia), stored, lost


def at(point: np.ndarray) -> np.ndarray:
    return np.hstack([np.eye(3), np.column_stack([np.cross(e, point) for e in np.eye(3)])])


def with_part(
    mass: np.ndarray, stiffness: np.ndarray, natural: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mass and stiffness of the payload with a light part, and the part's spring alone."""
    spring = LIGHT * (TAU * natural) ** 2
    link = np.hstack([-at(POINT), np.eye(3)])
    own = spring * link.T @ link
    return block_diag(mass, LIGHT * np.eye(3)), block_diag(stiffness, np.zeros((3, 3))) + own, own


def over_the_road(square: object, breaks: list[float]) -> np.ndarray:
    lines, density = ROAD.lines, ROAD.density
    inside = [b for b in breaks if lines[0] < b < lines[-1]]
    return np.sqrt(
        sum(
            quad_vec(
                lambda f: square(f) * density_at(f, lines, density),
                low, high, epsrel=1e-8, epsabs=0.0, norm="max",
            )[0]
            for low, high in pairwise(sorted([*lines, *inside]))
        )
    )  # fmt: skip


@pytest.mark.parametrize(("natural", "amplification"), [(14.0, 5.0), (80.0, 40.0), (22.0, 200.0)])
def test_a_part_against_a_direct_solve_of_two_bodies(natural: float, amplification: float) -> None:
    mass, stored, lost = Tray.matrices()
    mass, whole, own = with_part(mass, stored, natural)
    whole = whole + 1j * (block_diag(lost, np.zeros((3, 3))) + own / amplification)
    ride = np.array([0.0, 0, 1, 0, 0, 0, 0, 0, 1])

    def square(f: float) -> np.ndarray:
        relative = -np.linalg.solve(whole - (TAU * f) ** 2 * mass, mass @ ride)
        return np.abs(np.array([0.0, 0, 1]) - (TAU * f) ** 2 * relative[6:]) ** 2

    modes = Tray.suspension().modes()
    half = natural / amplification / 2
    breaks = [*Tray.suspension().frequencies(), *(natural + half * np.array([-9, -2, 0, 2, 9]))]
    expected = over_the_road(square, breaks)
    ours = riding_response(modes, POINT, 2, ROAD.lines, ROAD.density, natural, amplification)
    np.testing.assert_allclose(np.sqrt(ours[0]), expected, rtol=1e-6)


def viscous(eta: float, natural: float, amplification: float) -> tuple[np.ndarray, ...]:
    """Mass, stiffness, dashpots: η/2 of critical in every mode, and the part's own."""
    mass, stored, _ = Tray.matrices(0.0)
    modes = Tray.suspension(0.0).modes()
    shape, omega = modes.shape.real, np.sqrt(modes.eigenvalue.real)
    damper = mass @ shape @ np.diag(eta * omega) @ shape.T @ mass
    mass, stiffness, own = with_part(mass, stored, natural)
    own = own / (TAU * natural * amplification)
    return mass, stiffness, block_diag(damper, np.zeros((3, 3))) + own


@pytest.mark.parametrize("eta", [0.1, 0.4])
def test_the_viscous_reading_against_a_direct_solve_of_two_bodies(eta: float) -> None:
    natural, amplification = 90.0, 12.0
    mass, stiffness, damper = viscous(eta, natural, amplification)
    ride = np.array([0.0, 0, 1, 0, 0, 0, 0, 0, 1])

    def square(f: float) -> np.ndarray:
        omega = TAU * f
        dynamic = stiffness + 1j * omega * damper - omega**2 * mass
        relative = -np.linalg.solve(dynamic, mass @ ride)
        return np.abs(np.array([0.0, 0, 1]) - omega**2 * relative[6:]) ** 2

    modes = Tray.suspension(eta).modes()
    breaks = [*Tray.suspension().frequencies(), 60.0, 82.0, 90.0, 98.0, 130.0]
    expected = over_the_road(square, breaks)
    ours = riding_response(modes, POINT, 2, ROAD.lines, ROAD.density, natural, amplification)
    np.testing.assert_allclose(np.sqrt(ours[1]), expected, rtol=1e-6)
    assert ours[1, 2] > 1.005 * ours[0, 2]


def test_the_viscous_reading_against_lyapunov() -> None:
    """White noise: the mean square of the part's acceleration without any integral over f."""
    eta, natural, amplification = 0.15, 30.0, 8.0
    mass, stiffness, damper = viscous(eta, natural, amplification)
    ride = np.array([0.0, 0, 1, 0, 0, 0, 0, 0, 1])
    inverse = np.linalg.inv(mass)
    a = np.block([[np.zeros((9, 9)), np.eye(9)], [-inverse @ stiffness, -inverse @ damper]])
    # A one-sided density of 1 is a two-sided intensity of ½.
    b = np.concatenate([np.zeros(9), -ride])
    covariance = solve_continuous_lyapunov(a, -0.5 * np.outer(b, b))
    felt = -inverse @ np.hstack([stiffness, damper])
    expected = np.diag(felt @ covariance @ felt.T)[6:]
    wide = np.array([1e-4, 1e5])
    ours = riding_response(
        Tray.suspension(eta).modes(), POINT, 2, wide, np.ones(2), natural, amplification
    )
    np.testing.assert_allclose(ours[1], expected, rtol=1e-6)


def test_a_part_of_very_high_resonance_is_as_rigid_as_the_payload() -> None:
    modes = Tray.suspension().modes()
    rigid = random_response(modes, POINT[None], 2, ROAD.lines, ROAD.density).acceleration[0]
    for resonance in (None, 1e7):
        ours = riding_response(modes, POINT, 2, ROAD.lines, ROAD.density, resonance, 10.0)
        np.testing.assert_allclose(np.sqrt(ours[0]), rigid, rtol=1e-8)


@pytest.mark.parametrize("resonance", [25.0, 300.0])
def test_a_part_that_is_bolted_down_is_one_mass_on_one_spring(resonance: float) -> None:
    ours = bolted_response(ROAD.lines, ROAD.density, resonance, 10.0)
    f = np.geomspace(ROAD.lines[0], ROAD.lines[-1], 400_001)
    w = density_at(f, ROAD.lines, ROAD.density)
    gains = (
        sdof.structural_transmissibility(f / resonance, 0.1),
        sdof.viscous_transmissibility(f / resonance, 0.05),
    )
    for square, gain in zip(ours, gains, strict=True):
        assert square == pytest.approx(np.trapezoid(gain**2 * w, f), rel=1e-6)


def falls(
    tray: Suspension, way: np.ndarray, height: float, rebound: float, point: np.ndarray
) -> float:
    """Largest specific force at a point along one axis, from many phases of the ring."""
    mass, stiffness = tray.mass_matrix(), tray.mount_stiffness()
    inverse = np.linalg.inv(mass)
    push = np.concatenate([way, np.zeros(3)])
    a = np.block([[np.zeros((6, 6)), np.eye(6)], [-inverse @ stiffness, np.zeros((6, 6))]])
    step, felt = expm(a * 5e-4), -at(point) @ inverse @ stiffness
    ring = np.concatenate([np.linalg.solve(stiffness, mass @ push) * G0, np.zeros(6)])
    state = []
    for _ in range(700):
        ring = step @ ring
        state.append(ring)
    speed = (1 + rebound) * math.sqrt(2 * G0 * height)
    now = np.array(state).T + np.concatenate([np.zeros(6), speed * push])[:, None]
    rest = np.concatenate([np.linalg.solve(stiffness, mass @ push) * G0, np.zeros(6)])
    rest = rest[:, None] * (rebound == 0)
    most = 0.0
    for _ in range(700):
        now = rest + step @ (now - rest)
        most = max(most, float(np.abs(felt @ now[:6]).max()))
    return most


@pytest.mark.parametrize("rebound", [0.0, 0.4])
@pytest.mark.parametrize("landing", ["lid up", "on the left end"])
def test_what_a_part_feels_in_a_drop_is_not_exceeded_in_time(landing: str, rebound: float) -> None:
    height, way = 0.3, {"lid up": (0.0, 0, -1), "on the left end": (-1.0, 0, 0)}[landing]

    def bound(tray: Suspension, point: np.ndarray) -> float:
        flat = flat_drop(tray, way, height, np.full((4, 3), np.nan), restitution=rebound)
        rows = motion_at(point[None])
        peak = flat.peak_most * G0
        return float(jolt(tray, way, height, rows, peak, restitution=rebound).max())

    for point in (np.zeros(3), POINT):
        most = falls(Tray.suspension(), np.array(way), height, rebound, point)
        assert most <= bound(Tray.suspension(), point) <= 2.5 * most
    corners = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    plain = Suspension.of_springs(8.0, np.eye(3) * 0.1, corners, 8e3, 8e3)
    most = falls(plain, np.array(way), height, rebound, POINT)
    assert most == pytest.approx(bound(plain, POINT), rel=2e-3)

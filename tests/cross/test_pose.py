"""The pose under gravity: pendulums, energy that is minimised from first principles, toppling."""

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.linalg import eigh
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation

from isolator.curve import Curve
from isolator.suspension import ATTITUDES, Pose, Suspension
from isolator.units import G0

TAU = 2.0 * math.pi
DOWN, UP = np.array([0.0, 0.0, -1.0]), np.array([0.0, 0.0, 1.0])


@pytest.mark.parametrize("length", [0.05, 0.3])
def test_a_body_hung_from_one_point_is_a_compound_pendulum(length: float) -> None:
    """One hard mount l above the centre of gravity: ω² = m g l/(I + m l²) about x and y."""
    mass, inertia, stiffness = 8.0, np.diag([0.05, 0.08, 0.10]), 1e9
    hung = Suspension.of_springs(
        mass, inertia, [(0.0, 0.0, length)], stiffness, stiffness, push=(0.0, 0.0, 1.0)
    )
    pose = hung.pose(G0 * DOWN)
    assert pose.found
    swing = np.sqrt(mass * G0 * length / (np.diag(inertia)[:2] + mass * length**2)) / TAU
    np.testing.assert_allclose(hung.frequencies(pose)[1:3], np.sort(swing), rtol=1e-6)
    assert hung.frequencies(pose)[0] == pytest.approx(0.0, abs=1e-3)

    stood = hung.pose(G0 * UP)
    assert stood.found
    assert np.isnan(hung.frequencies(stood)[:2]).all()
    assert hung.gravity_left(stood) <= 0


@pytest.mark.parametrize("attitude", ["lid up", "lid down"])
@pytest.mark.parametrize("height", [0.03, 0.1])
def test_sway_and_rock_with_gravity_against_the_two_by_two_problem(
    attitude: str, height: float
) -> None:
    """Mounts h under the centre: gravity takes m·g·h from the rocking stiffness, or adds it.

    x″ and θ″ about y of a body whose feet move by x − hθ sideways and by ±bθ upright.
    """
    mass, inertia, arm, along, across = 8.0, 0.06, 0.1, 2e3, 1.5e3
    feet = [(x, y, -height) for x, y in product((-arm, arm), (-arm, arm))]
    tray = Suspension.of_springs(mass, np.diag([0.05, inertia, 0.08]), feet, along, across)
    down = np.array(ATTITUDES[attitude])
    gravity = mass * G0 * height * -down[2]
    k = 4 * np.array(
        [
            [across, -across * height],
            [-across * height, across * height**2 + along * arm**2 - gravity / 4],
        ]
    )
    expected = np.sqrt(eigh(k, np.diag([mass, inertia]), eigvals_only=True)) / TAU
    frequency, energy = tray.undamped(tray.pose(G0 * down))
    own = energy[:, [0, 4]].sum(axis=1) > 1 - 1e-9
    np.testing.assert_allclose(frequency[own], expected, rtol=1e-9)
    without = tray.frequencies()[own]
    assert np.all((frequency[own] < without) == (attitude == "lid up"))


DEFLECTION = np.array([0.0, 0.002, 0.006, 0.012])
POINTS = {"soft": np.array([0.0, 8.0, 40.0, 200.0]), "hard": np.array([0.0, 30.0, 60.0, 240.0])}


class Well:
    """Energy of a mount curve: odd cubics through the points, straight beyond them."""

    def __init__(self, force: np.ndarray) -> None:
        d = np.concatenate([-DEFLECTION[:0:-1], DEFLECTION])
        inside = PchipInterpolator(d, np.concatenate([-force[:0:-1], force]))
        self.antiderivative = inside.antiderivative()
        self.last = float(force[-1])
        self.slope = float(inside.derivative()(DEFLECTION[-1]))

    def __call__(self, deflection: float) -> float:
        end = DEFLECTION[-1]
        within = min(abs(deflection), end)
        over = abs(deflection) - within
        stored = self.antiderivative(within) - self.antiderivative(0.0)
        return float(stored) + self.last * over + self.slope * over**2 / 2


MASS, CENTRE = 9.0, np.array([0.02, -0.015, 0.06])
PLACES = np.array([(x, y, 0.0) for x, y in product((-0.15, 0.15), (-0.1, 0.1))]) - CENTRE
KINDS = ("soft", "hard", "hard", "soft")
PUSH = np.array([(0.2, 0.0, -1.0), (0.0, 0.0, -1.0), (0.0, -0.3, -1.0), (0.0, 0.0, 1.0)])
PUSH /= np.linalg.norm(PUSH, axis=-1, keepdims=True)


def hardening() -> Suspension:
    linear = Suspension.of_springs(
        MASS, np.diag([0.05, 0.08, 0.1]), PLACES, 1e3, 1e3, push=PUSH, loss_factor=0.1
    )
    kinds = {name: Curve.through(DEFLECTION, force) for name, force in POINTS.items()}
    return replace(linear, curve=Curve.stacked([Curve.stacked([kinds[n]] * 2) for n in KINDS]))


@pytest.mark.parametrize("attitude", ATTITUDES)
def test_pose_against_a_minimised_energy(attitude: str) -> None:
    """The six numbers that make the energy of mounts and weight the least."""
    suspension, gravity = hardening(), G0 * np.array(ATTITUDES[attitude])
    wells = {name: Well(force) for name, force in POINTS.items()}

    def energy(x: np.ndarray) -> float:
        turned = Rotation.from_rotvec(x[3:]).apply(PLACES)
        moved = x[:3] + turned - PLACES
        stored = 0.0
        for kind, axes, motion in zip(KINDS, suspension.frames, moved, strict=True):
            along, *across = axes @ motion
            stored += wells[kind](float(along)) + wells[kind](math.hypot(*across))
        return stored - MASS * float(gravity @ x[:3])

    best = minimize(energy, np.zeros(6), method="BFGS", options={"gtol": 1e-9})
    best = minimize(energy, best.x, method="Nelder-Mead", options={"xatol": 1e-11, "fatol": 1e-15})
    pose = suspension.pose(gravity)
    assert pose.found
    np.testing.assert_allclose(pose.shift, best.x[:3], atol=2e-7)
    np.testing.assert_allclose(Rotation.from_matrix(pose.turn).as_rotvec(), best.x[3:], atol=2e-6)
    ours = np.concatenate([pose.shift, Rotation.from_matrix(pose.turn).as_rotvec()])
    assert energy(ours) <= best.fun + 1e-13
    assert pose.tilt == pytest.approx(np.linalg.norm(best.x[3:]), abs=2e-6)

    force = suspension.mount_force(pose)
    weight = MASS * G0
    np.testing.assert_allclose(force.sum(axis=0), -MASS * gravity, atol=1e-9 * weight)
    arms = PLACES @ pose.turn.T
    np.testing.assert_allclose(np.cross(arms, force).sum(axis=0), 0.0, atol=1e-9 * weight)


def test_stiffness_at_the_pose_is_the_slope_of_the_forces() -> None:
    """Central differences of the resultant and the moment over small motions of the pose."""
    suspension = hardening()
    pose = suspension.pose(G0 * DOWN)

    def resultant(motion: np.ndarray) -> np.ndarray:
        turn = Rotation.from_rotvec(motion[3:]).as_matrix() @ pose.turn
        there = Pose(pose.shift + motion[:3], turn, pose.found)
        force = suspension.mount_force(there)
        moment = np.cross(PLACES @ turn.T, force).sum(axis=0)
        return np.concatenate([force.sum(axis=0), moment])

    step = 1e-7
    columns = [(resultant(-step * e) - resultant(step * e)) / (2 * step) for e in np.eye(6)]
    stiffness = suspension.stiffness(pose)
    atol = 1e-6 * np.abs(stiffness).max()
    np.testing.assert_allclose(np.array(columns).T, stiffness, rtol=1e-5, atol=atol)


def test_inertia_turns_with_the_payload() -> None:
    """A cloud of points: the inertia at a large tilt is the sum over the points where they are."""
    rng = np.random.default_rng(3)
    points = rng.uniform(-0.2, 0.2, (30, 3))
    points -= points.mean(axis=0)

    def inertia(at: np.ndarray) -> np.ndarray:
        return sum(0.3 * (r @ r * np.eye(3) - np.outer(r, r)) for r in at)

    turn = Rotation.from_rotvec([0.5, -0.3, 0.4]).as_matrix()
    pose = Pose(np.zeros(3), turn, np.array(True))
    body = replace(hardening(), inertia=inertia(points))
    expected = inertia(points @ turn.T)
    np.testing.assert_allclose(body.mass_matrix(pose)[3:, 3:], expected, atol=1e-12)


def column(height: float, *, aside: float = 0.0) -> Suspension:
    """A top-heavy payload on four soft mounts, its centre of gravity off the middle."""
    feet = [(x - aside, y, -height) for x, y in product((-0.05, 0.05), (-0.05, 0.05))]
    return Suspension.of_springs(8.0, np.diag([0.05, 0.06, 0.08]), feet, 800.0, 800.0)


def topples(suspension: Suspension) -> bool:
    pose = suspension.pose(G0 * DOWN)
    return not pose.found or bool(suspension.gravity_left(pose) <= 0)


def test_a_top_heavy_payload_topples() -> None:
    """m·g·h against Σkz·b² = 8 N·m: the height at which it topples is 0.102 m."""
    limit = 4 * 800.0 * 0.05**2 / (8.0 * G0)
    assert not topples(column(0.95 * limit))
    assert topples(column(1.05 * limit))
    # Off the middle it rolls over and hangs upside down: a rest, but not a pose that it holds.
    for aside in (1e-3, 4e-3):
        for above in (1.02, 1.3):
            assert topples(column(above * limit, aside=aside))
    assert not topples(column(0.9 * limit, aside=0.004))
    pose = column(1.05 * limit).pose(G0 * DOWN)
    assert column(1.05 * limit).gravity_left(pose) == pytest.approx(-0.05, abs=1e-6)


def test_mounts_that_only_push_do_not_hold_a_payload_upside_down() -> None:
    feet = [(x, y, -0.05) for x, y in product((-0.1, 0.1), (-0.1, 0.1))]
    captive = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, 4e3, 3e3)
    along, across = (Curve.straight(np.array(k)) for k in (4e3, 3e3))
    loose = replace(
        captive,
        curve=Curve.stacked([Curve.stacked([along.without_tension(), across])] * 4),
    )
    upright = loose.pose(G0 * DOWN)
    assert upright.found
    np.testing.assert_allclose(upright.shift, captive.pose(G0 * DOWN).shift, atol=1e-12)
    assert captive.pose(G0 * UP).found
    assert not loose.pose(G0 * UP).found
    # All attitudes at once: the one that fails does not spoil the others.
    both = loose.repeated().pose(G0 * np.array([DOWN, UP]))
    np.testing.assert_array_equal(both.found, [True, False])
    np.testing.assert_allclose(both.shift[0], upright.shift, atol=1e-12)

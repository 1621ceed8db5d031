"""Motion towards the walls against brute-force sampling of the motion itself."""

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import eigh
from scipy.spatial.transform import Rotation

from isolator.clearance import (
    Motion,
    approach,
    both_ways,
    demand,
    narrowed,
    shut_out,
    towards_faces,
)
from isolator.curve import Curve
from isolator.inside import Solids
from isolator.payload import box_corners
from isolator.shock import ALLOWANCE, flat_drop, jolt, swing
from isolator.suspension import ATTITUDES, Pose, Suspension, motion_at, strokes
from isolator.units import G0

BOX = np.array([0.4, 0.3, 0.15])
UNKNOWN = np.full((4, 3), np.nan)
seeds = st.integers(0, 2**32 - 1)


def towards(displacement: np.ndarray) -> np.ndarray:
    """Motion towards the faces of corners that are displaced."""
    return towards_faces(both_ways(displacement, displacement))


def extent(points: np.ndarray) -> np.ndarray:
    """How far points (..., 3) reach towards −x, +x, −y, +y, −z, +z, all of them together."""
    flat = points.reshape(-1, 3)
    return np.stack([-flat.min(axis=0), flat.max(axis=0)], axis=-1).ravel()


@given(seeds)
def test_a_displaced_box_reaches_towards_the_faces_as_its_points_do(seed: int) -> None:
    """A tilt that leaves every corner on its side: the extremes of the box are its corners."""
    rng = np.random.default_rng(seed)
    turn = Rotation.from_rotvec(rng.uniform(-0.1, 0.1, 3)).as_matrix()
    pose = Pose(rng.uniform(-0.05, 0.05, 3), turn, np.array(True))
    moved = pose.moved(box_corners(BOX))
    inside = np.array(list(product(np.linspace(-0.5, 0.5, 9), repeat=3))) * BOX
    reach = extent(inside + pose.moved(inside)) - extent(inside)
    np.testing.assert_allclose(towards(moved), reach, atol=1e-12)


def test_only_the_corners_of_a_face_count() -> None:
    moved = np.zeros((8, 3))
    moved[0] = [0.01, 0.02, -0.03]  # the corner ---
    each = both_ways(moved, moved)
    np.testing.assert_allclose(towards_faces(each), [0.0, 0.0, 0.0, 0.0, 0.03, 0.0])
    np.testing.assert_array_equal(each[0], [-0.01, 0.01, -0.02, 0.02, 0.03, -0.03])
    away = np.tile([0.0, 0.0, 0.01], (8, 1))
    assert towards_faces(both_ways(away, away))[4] == -0.01


@given(seeds)
def test_a_swing_reaches_as_far_as_its_worst_moment(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rest, swing = rng.uniform(-0.02, 0.02, (8, 3)), rng.uniform(0.0, 0.02, (8, 3))
    samples = np.stack([rest + swing * s for s in (-1.0, -0.5, 0.0, 0.5, 1.0)])
    foretold = towards_faces(both_ways(rest - swing, rest + swing))
    np.testing.assert_allclose(foretold, towards(samples).max(axis=0), atol=1e-15)
    batch = np.stack([rest, -rest])
    both = towards_faces(both_ways(batch - swing, batch + swing))
    np.testing.assert_array_equal(both[0], foretold)


def uneven(seed: int) -> tuple[Suspension, np.ndarray]:
    """A box whose centre and mounts are off, and its corners from the centre of gravity."""
    rng = np.random.default_rng(seed)
    centre = rng.uniform(-0.2, 0.2, 3) * BOX
    feet = np.array([(x, y, -0.075) for x, y in product((-0.16, 0.16), (-0.11, 0.11))])
    inertia = np.diag((BOX**2).sum() - BOX**2)
    tray = Suspension.of_springs(
        12.0, inertia, feet - centre, rng.uniform(3e3, 9e3, 4), rng.uniform(2e3, 6e3, 4)
    )
    return tray, box_corners(BOX) - centre


def landed(
    tray: Suspension, way: np.ndarray, speed: float, gravity: float, phase: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Modal motion (t, 6) after the case has stopped, undamped, and mode shapes and rates.

    Every mode begins at a phase of its own ring about the unloaded pose, the sag its amplitude.
    """
    value, shape = eigh(tray.mount_stiffness(), tray.mass_matrix())
    rate = np.sqrt(value)
    part = shape.T @ tray.mass_matrix() @ np.concatenate([way, np.zeros(3)])
    time = np.linspace(0.0, 6 * math.pi / rate.min(), 4000)[:, None]
    ring = G0 / value
    start, going = ring * np.cos(phase), -ring * rate * np.sin(phase)
    sag = gravity / value
    modal = (speed + going) / rate * np.sin(rate * time) + sag
    modal = modal + (start - sag) * np.cos(rate * time)
    return modal * part, shape, rate


def at_corners(motion: np.ndarray, corners: np.ndarray) -> np.ndarray:
    return motion[:, None, :3] + np.cross(motion[:, None, 3:], corners)


@settings(max_examples=60, deadline=None)
@given(
    seeds,
    st.sampled_from(list(ATTITUDES)),
    st.floats(0.02, 1.2),
    st.lists(st.floats(0, 2 * math.pi), min_size=6, max_size=6),
    st.sampled_from([(0.0, True), (0.3, True), (0.3, False)]),
)
def test_a_landing_and_its_rebound_stay_within_what_is_foretold(
    seed: int, attitude: str, height: float, phases: list[float], landing: tuple[float, bool]
) -> None:
    """Undamped modes from any phases of the ring; gravity kept, or not in the first flight."""
    rebound, heavy = landing
    tray, corners = uneven(seed)
    way = np.array(ATTITUDES[attitude])
    drop = flat_drop(tray, way, height, UNKNOWN, restitution=rebound)
    rows = motion_at(corners)
    low, high = swing(tray, way, height, rows, drop.travel_most, drop.rebound, restitution=rebound)
    speed = (1.0 if heavy else 1 + rebound) * math.sqrt(2 * G0 * height)
    modal, shape, rate = landed(tray, way, speed, G0 if heavy else 0.0, np.array(phases))
    moves = at_corners(modal @ shape.T, corners)
    room = 1e-9 + 1e-9 * np.abs(moves).max()
    assert np.all(moves.max(axis=0) <= high + room)
    assert np.all(moves.min(axis=0) >= low - room)
    foretold = towards_faces(both_ways(low, high))
    assert np.all(towards(moves).max(axis=0) <= foretold + room)
    # It is not a bound of another size: the face that it lands on is missed by less than half.
    ahead = int(np.flatnonzero(way)[0]) * 2 + int(way.sum() > 0)
    assert rebound or towards(moves).max(axis=0)[ahead] > 0.25 * foretold[ahead]

    felt = np.abs(at_corners((rate**2 * modal) @ shape.T, corners)) / G0
    most = jolt(tray, way, height, rows, drop.peak_most, restitution=rebound)
    assert np.all(felt.max(axis=0) <= most * (1 + 1e-9))
    assert rebound or felt.max() > 0.25 * most.max()


@settings(max_examples=60, deadline=None)
@given(
    seeds,
    st.sampled_from(list(ATTITUDES)),
    st.floats(0.02, 1.2),
    st.floats(0.02, 0.5),
    st.lists(st.floats(0, 2 * math.pi), min_size=6, max_size=6),
)
def test_a_damped_landing_stays_within_what_is_foretold(
    seed: int, attitude: str, height: float, loss: float, phases: list[float]
) -> None:
    """Each mode loses η of its energy a radian, as the mounts do; followed for sixty cycles."""
    tray, corners = uneven(seed)
    tray = replace(tray, loss_factor=np.full(4, loss))
    way = np.array(ATTITUDES[attitude])
    drop = flat_drop(tray, way, height, UNKNOWN)
    rows = motion_at(corners)
    low, high = swing(tray, way, height, rows, drop.travel_most, drop.rebound)
    undamped = replace(tray, loss_factor=np.full(4, np.nan))
    wide = swing(undamped, way, height, rows, drop.travel_most, drop.rebound)
    assert np.all(low >= wide[0] - 1e-12)
    assert np.all(high <= wide[1] + 1e-12)
    value, shape = eigh(tray.mount_stiffness(), tray.mass_matrix())
    rate, sag = np.sqrt(value), G0 / value
    part = shape.T @ tray.mass_matrix() @ np.concatenate([way, np.zeros(3)])
    time = np.linspace(0.0, 120 * math.pi / rate.max(), 6000)[:, None]
    start, going = sag * np.cos(phases), -sag * rate * np.sin(phases)
    motion = (start - sag) * np.cos(rate * time)
    motion = motion + (math.sqrt(2 * G0 * height) + going) / rate * np.sin(rate * time)
    modal = (sag + motion * np.exp(-loss / 2 * rate * time)) * part
    moves = at_corners(modal @ shape.T, corners)
    room = 1e-9 + 1e-9 * np.abs(moves).max()
    assert np.all(moves.max(axis=0) <= high + room)
    assert np.all(moves.min(axis=0) >= low - room)
    felt = np.abs(at_corners((rate**2 * modal) @ shape.T, corners)) / G0
    most = jolt(tray, way, height, rows, drop.peak_most)
    assert np.all(felt.max(axis=0) <= most * (1 + 1e-9))


def test_a_payload_that_does_not_turn_feels_at_its_corners_what_its_centre_feels() -> None:
    feet = [(x, y, 0.0) for x, y in product((-0.16, 0.16), (-0.11, 0.11))]
    tray = Suspension.of_springs(12.0, np.eye(3) * 0.1, feet, 9e3, 9e3)
    drop = flat_drop(tray, [0, 0, -1], 0.3, UNKNOWN)
    most = jolt(tray, [0, 0, -1], 0.3, motion_at(box_corners(BOX)), drop.peak_most)
    np.testing.assert_allclose(most[:, 2], drop.peak_most, rtol=1e-9)
    np.testing.assert_allclose(most[:, :2], 0.0, atol=1e-9)


def integrated(tray: Suspension, way: np.ndarray, height: float, phases: int) -> np.ndarray:
    """Local deflections (t, phases, n, 3) of the mounts in a landing, six motions, true curves.

    Velocity Verlet from free fall: the ring about the unloaded pose runs first, so that every
    phase begins with a motion that the curves themselves allow.
    """
    mass = tray.mass_matrix()
    rows = tray.frames @ motion_at(tray.position)
    rate = math.sqrt(eigh(tray.mount_stiffness(), mass, eigvals_only=True)[-1])

    def pull(q: np.ndarray, gravity: float) -> np.ndarray:
        force = tray.force_at((rows @ q[:, None, :, None])[..., 0])
        load = -np.einsum("nij,pni->pj", rows, force)
        load[:, :3] += gravity * float(tray.mass) * way
        return np.linalg.solve(mass, load.T).T

    def run(q: np.ndarray, v: np.ndarray, gravity: float, steps: int, dt: float) -> list:
        track, a = [], pull(q, gravity)
        for _ in range(steps):
            track.append((q, v))
            v = v + a * dt / 2
            q = q + v * dt
            a = pull(q, gravity)
            v = v + a * dt / 2
        return track

    rest = tray.pose(G0 * way)
    sag = np.concatenate([rest.shift, Rotation.from_matrix(rest.turn).as_rotvec()])[None]
    dt = 2 * math.pi / rate / 80
    ring = run(sag, 0 * sag, 0.0, 400, dt)
    pick = np.linspace(0, len(ring) - 1, phases).astype(int)
    q, v = (np.concatenate([ring[i][k] for i in pick]) for k in (0, 1))
    v = v + math.sqrt(2 * G0 * height) * np.concatenate([way, np.zeros(3)])
    track = run(q, v, G0, 500, dt)
    return np.stack([(rows @ q[:, None, :, None])[..., 0] for q, _ in track])


@settings(max_examples=15, deadline=None)
@given(seeds, st.sampled_from(list(ATTITUDES)), st.floats(0.03, 0.2), st.booleans())
def test_curves_and_rotation_stay_within_the_allowance(
    seed: int, attitude: str, height: float, harder: bool
) -> None:
    """Against integration of six motions on curves that harden or soften."""
    tray, _ = uneven(seed)
    rng = np.random.default_rng(seed)
    d = np.linspace(0.0, 0.06, 6)[1:]
    bend = rng.uniform(1.3, 2.2) if harder else rng.uniform(0.6, 0.9)
    scale = rng.uniform(60.0, 120.0, 2)
    curves = [Curve.through(d, f * (d / d[0]) ** bend) for f in scale]
    tray = replace(tray, curve=Curve.stacked([Curve.stacked(curves)] * 4))
    way = np.array(ATTITUDES[attitude])
    drop = flat_drop(tray, way, height, UNKNOWN)
    feet = tray.frames @ motion_at(tray.position)
    foretold = strokes(*swing(tray, way, height, feet, drop.travel_most, drop.rebound))
    track = integrated(tray, way, height, 12)
    happened = strokes(track.min(axis=(0, 1)), track.max(axis=(0, 1)))
    length = np.linalg.norm(track[..., 1:], axis=-1).max(axis=(0, 1))
    happened[..., 2] = length
    assert np.all(happened <= ALLOWANCE * foretold.max(axis=0))


@pytest.mark.parametrize("attitude", ATTITUDES)
def test_a_centred_payload_lands_by_its_travel_and_no_further(attitude: str) -> None:
    feet = [(x, y, 0.0) for x, y in product((-0.16, 0.16), (-0.11, 0.11))]
    tray = Suspension.of_springs(12.0, np.eye(3) * 0.1, feet, 9e3, 9e3)
    way = np.array(ATTITUDES[attitude])
    drop = flat_drop(tray, way, 0.3, UNKNOWN)
    rows = motion_at(box_corners(BOX))
    toward = towards_faces(both_ways(*swing(tray, way, 0.3, rows, drop.travel_most, drop.rebound)))
    expected = np.zeros(6)
    axis, sense = int(np.flatnonzero(way)[0]), int(way.sum() > 0)
    expected[2 * axis + sense] = drop.travel_most
    expected[2 * axis + 1 - sense] = drop.rebound
    np.testing.assert_allclose(toward, expected, atol=1e-9)
    assert drop.rebound < drop.travel_most  # gravity holds it back
    # A payload that flies off is at every distance; across it still stays on its line.
    lost = towards_faces(both_ways(*swing(tray, way, 0.3, rows, drop.travel_most, np.inf)))
    assert lost[2 * axis + 1 - sense] == np.inf
    assert np.delete(lost, [2 * axis, 2 * axis + 1]).max() < 1e-9


def solids(gap: np.ndarray, wall: list[int], on_lid: list[bool]) -> Solids:
    return Solids([str(k) for k in range(len(wall))], gap, np.array(wall), np.array(on_lid))


def test_each_motion_leaves_an_obstacle_by_the_axis_that_is_best() -> None:
    """In loops, as one would say it: the best axis of each motion, of these the worst motion."""
    rng = np.random.default_rng(8)
    swept, narrow = rng.uniform(-0.01, 0.03, (3, 2, 6)), rng.uniform(0.0, 0.05, (3, 2, 6))
    gap = rng.uniform(-0.04, 0.05, (2, 40, 6))
    gap[gap < -0.02] = -np.inf
    gap[..., 0] = 0.01  # apart on one axis at least
    wall, on_lid = rng.integers(-1, 6, 40), rng.random(40) < 0.4
    lid = np.array([True, False, True])
    found = shut_out(swept, narrow, lid, solids(gap, wall.tolist(), on_lid.tolist()))
    for b, o in np.ndindex(2, 40):
        leaves = []
        for m in range(3):
            if on_lid[o] and not lid[m]:
                continue
            moves = [max((narrow if f == wall[o] else swept)[m, b, f], 0.0) for f in range(6)]
            room = [
                (gap[b, o, f] - moves[f], f, m, moves[f]) for f in range(6) if gap[b, o, f] >= 0
            ]
            leaves.append(max(room))
        _, face, cause, moved = min(leaves)
        assert (found.face[b, o], found.cause[b, o]) == (face, cause)
        assert (found.demand[b, o], found.gap[b, o]) == (moved, gap[b, o, face])


def test_an_unknown_gap_is_what_an_obstacle_hangs_on_where_no_other_clears_it() -> None:
    """It moves 2 mm towards each face; x overlaps, or has 5 mm, or 1 mm; y is unknown."""
    gap = np.full((1, 4, 6), -np.inf)
    gap[0, :, 2] = np.nan
    gap[0, :, 1] = [-0.01, 0.005, 0.001, -5e-10]
    moves = np.full((1, 1, 6), 0.002)
    found = shut_out(moves, moves, np.array([True]), solids(gap, [-1] * 4, [False] * 4))
    assert np.isnan(found.gap[0]).tolist() == [True, False, True, True]
    assert (found.gap[0, 1], found.face[0, 1], found.demand[0, 1]) == (0.005, 1, 0.002)
    # what touches is apart, within a rounding, and has no room
    gap[..., 2] = -np.inf
    touching = shut_out(moves, moves, np.array([True]), solids(gap, [-1] * 4, [False] * 4))
    assert (touching.face[0, 3], touching.gap[0, 3], touching.demand[0, 3]) == (1, 0.0, 0.002)


def test_what_is_on_an_open_lid_is_not_there() -> None:
    gap = np.full((1, 2, 6), 0.01)
    moves = np.full((1, 1, 6), 0.02)
    found = shut_out(moves, moves, np.array([False]), solids(gap, [-1, -1], [True, False]))
    assert found.demand.tolist() == [[0.0, 0.02]]
    assert found.cause.tolist() == [[0, 0]]  # the number of a motion in either case


def test_a_doubted_swing_counts_as_often_as_it_is_doubted() -> None:
    """rest + swing·doubt + tolerance − start, or the root of swing² + tolerance²."""
    rest, start = np.full((2, 8, 6), 0.010), np.full((2, 8, 6), 0.002)
    swing = np.full((2, 8, 6), 0.003)
    swing[1, 0, 0] = np.nan
    motion = Motion("fall", "a fall", rest, swing, doubt=np.array([2.0, 1.0]))
    tolerance, root = np.array([0.004, 0.004]), np.array([False, True])
    plain = demand(motion, start, tolerance, root)
    assert plain[0, 0, 0] == pytest.approx(0.015)
    assert plain[1, 1, 1] == pytest.approx(0.013)
    assert plain[1, 0, 0] == -np.inf
    assert demand(motion, start, tolerance, root, doubted=True)[0, 0, 0] == pytest.approx(0.018)
    sure = Motion("fall", "a fall", rest, swing)
    np.testing.assert_array_equal(demand(sure, start, tolerance, root, doubted=True), plain)
    one = Motion("fall", "a fall", rest[:1], swing[:1])
    alone = demand(one, start[:1], tolerance[:1], root[:1], doubted=True)
    np.testing.assert_array_equal(alone, plain[:1])


def test_where_walls_lean_the_worst_corner_of_the_way_costs_room() -> None:
    """All eight corners of the way that a motion may go; the gap grows by slope·way."""
    rng = np.random.default_rng(2)
    motion, slope = rng.uniform(0.0, 0.02, (8, 6)), rng.uniform(-0.1, 0.1, (8, 6, 3))
    slope[:, :2, 0] = 0.0
    found = narrowed(motion, slope)
    for k, face in np.ndindex(8, 6):
        ways = product(*((-motion[k, 2 * j], motion[k, 2 * j + 1]) for j in range(3)))
        worst = max(-slope[k, face] @ np.array(way) for way in ways)
        assert found[k, face] == pytest.approx(motion[k, face] + worst)
    motion[0, 0] = np.inf
    assert np.isfinite(narrowed(motion, np.zeros((8, 6, 3)))[0, 1:]).all()
    motion[0, 1] = np.inf
    slope[0, 2] = [0.0, 0.1, 0.0]
    assert np.isfinite(narrowed(motion, slope)[0, 2])  # it does not lean along that way
    assert (narrowed(np.full((8, 6), -np.inf), slope) == -np.inf).all()  # unknown as it was


def test_bodies_come_together_on_the_sides_that_face_each_other() -> None:
    one, other = np.arange(12.0).reshape(2, 6), 10 * np.arange(12.0).reshape(2, 6)
    found = approach(np.array([[-1.0, 0.5, -2.0], [1.0, -1.0, 0.0]]), one, other)
    # towards −x, +x, −y, +y, −z, +z: the first goes −x and the second +x, and so on
    np.testing.assert_array_equal(found, [[0 + 10, 3 + 20, 4 + 50], [7 + 60, 8 + 90, 11 + 100]])

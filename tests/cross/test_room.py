"""Walls, rounded edges and obstacles against brute-force sampling of the motion and the room."""

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import eigh
from scipy.spatial.transform import Rotation

from isolator.clearance import both_ways, narrowed, shut_out, towards_faces
from isolator.inside import Inside, Solids, by_face, in_corner, in_fillet, slope_between
from isolator.payload import SIGNS, box_corners
from isolator.shock import flat_drop, swing
from isolator.suspension import ATTITUDES, Pose, Suspension, motion_at
from isolator.units import G0, GAP, POSITION, SIZE

BOX = np.array([0.4, 0.3, 0.15])
UNKNOWN = np.full((4, 3), np.nan)
GRID = np.array(list(product((-0.5, -0.2, 0.2, 0.5), repeat=3)))
GRID = GRID[np.abs(GRID).max(axis=1) == 0.5] * BOX
seeds = st.integers(0, 2**32 - 1)


def turned(rng, count, most=0.05):
    """Random rigid motions: shift (n, 3) and rotation matrices (n, 3, 3)."""
    shift = rng.uniform(-0.03, 0.03, (count, 3))
    return shift, Rotation.from_rotvec(rng.uniform(-most, most, (count, 3))).as_matrix()


def displaced(points, shift, turn):
    """Where points (p, 3) of the payload go, (n, p, 3)."""
    poses = [Pose(s, t, np.array(True)) for s, t in zip(shift, turn, strict=True)]
    return np.stack([pose.moved(points) for pose in poses])


def boxes(rng, count):
    """Obstacles around the payload that do not overlap it at rest: middles and sizes (o, 3)."""
    at = rng.uniform(-0.6, 0.6, (8 * count, 3)) * BOX * 2
    size = rng.uniform(0.005, 0.15, (8 * count, 3))
    free = (np.abs(at) - (size + BOX) / 2).max(axis=1) > 0
    return at[free][:count], size[free][:count]


def solids(at, size):
    reach = (size + BOX) / 2
    gap = np.stack([-at - reach, at - reach], axis=-1).reshape(-1, 6)
    none = np.full(len(at), -1), np.zeros(len(at), dtype=bool)
    return Solids([str(n) for n in range(len(at))], gap[None], *none)


def cleared(low, high, at, size):
    """Which obstacles (o,) the check lets pass for corners within a range (8, 3)."""
    swept = towards_faces(both_ways(low, high))[None, None]
    shut = shut_out(swept, swept, np.array([True]), solids(at, size))
    return (shut.demand <= shut.gap)[0]


def touched(points, at, size):
    """Which obstacles (o,) hold any of the points (n, p, 3) of the payload at any time."""
    flat = points.reshape(-1, 1, 3)
    return (np.abs(flat - at) < size / 2 - 1e-9).all(axis=-1).any(axis=0)


@settings(max_examples=25, deadline=None)
@given(seeds)
def test_what_passes_is_never_touched_by_any_pose(seed):
    rng = np.random.default_rng(seed)
    shift, turn = turned(rng, 60)
    corners = displaced(box_corners(BOX), shift, turn)
    at, size = boxes(rng, 40)
    passes = cleared(corners.min(axis=0), corners.max(axis=0), at, size)
    hits = touched(GRID + displaced(GRID, shift, turn), at, size)
    assert not np.any(passes & hits)
    assert passes.any()


def uneven(seed):
    """A box whose centre and mounts are off, its inertia, and its centre from its middle."""
    rng = np.random.default_rng(seed)
    centre = rng.uniform(-0.2, 0.2, 3) * BOX
    feet = np.array([(x, y, -0.075) for x, y in product((-0.16, 0.16), (-0.11, 0.11))])
    inertia = np.diag((BOX**2).sum() - BOX**2)
    along, across = rng.uniform(3e3, 9e3, 4), rng.uniform(2e3, 6e3, 4)
    return Suspension.of_springs(12.0, inertia, feet - centre, along, across), centre


def stepped(tray, way, height, points, *, steps=300, seconds=0.5):
    """Displacement (n, p, 3) of points after a landing, by small steps of leapfrog in time."""
    mass, stiffness = tray.mass_matrix(), tray.mount_stiffness()
    force = mass @ np.concatenate([G0 * way, np.zeros(3)])
    inverse = np.linalg.inv(mass)
    x, v = np.zeros(6), np.concatenate([math.sqrt(2 * G0 * height) * way, np.zeros(3)])
    inner = 4
    dt = seconds / steps / inner
    out = np.empty((steps, 6))
    for n in range(steps):
        for _ in range(inner):
            v = v + dt / 2 * inverse @ (force - stiffness @ x)
            x = x + dt * v
            v = v + dt / 2 * inverse @ (force - stiffness @ x)
        out[n] = x
    return out[:, None, :3] + np.cross(out[:, None, 3:], points)


@settings(max_examples=6, deadline=None)
@given(seeds, st.sampled_from(list(ATTITUDES)), st.floats(0.02, 0.4))
def test_what_passes_is_never_touched_in_a_drop(seed, attitude, height):
    tray, centre = uneven(seed)
    way = np.array(ATTITUDES[attitude])
    drop = flat_drop(tray, way, height, UNKNOWN)
    rows = motion_at(box_corners(BOX) - centre)
    low, high = swing(tray, way, height, rows, drop.travel_most, drop.rebound)
    at, size = boxes(np.random.default_rng(seed), 40)
    passes = cleared(low, high, at, size)
    hits = touched(GRID + stepped(tray, way, height, GRID - centre), at, size)
    assert not np.any(passes & hits)
    assert passes.any()


@settings(max_examples=8, deadline=None)
@given(seeds)
def test_what_passes_is_never_touched_by_any_mix_of_modes(seed):
    """Six harmonic motions of any phase; the range of a corner is the sum of their amplitudes."""
    rng = np.random.default_rng(seed)
    tray, centre = uneven(seed)
    rate, shape = eigh(tray.mount_stiffness(), tray.mass_matrix())
    amplitude = rng.uniform(0.0, 0.02, 6)
    parts = motion_at(box_corners(BOX) - centre) @ (shape * amplitude)
    most = np.abs(parts).sum(axis=-1)
    phase = np.sqrt(rate) * np.linspace(0, 3, 200)[:, None] + rng.uniform(0, 6.3, 6)
    moves = np.sin(phase) @ (shape * amplitude).T
    at, size = boxes(rng, 40)
    passes = cleared(-most, most, at, size)
    path = GRID + moves[:, None, :3] + np.cross(moves[:, None, 3:], GRID - centre)
    assert not np.any(passes & touched(path, at, size))
    assert passes.any()


@pytest.mark.parametrize("attitude", ATTITUDES)
def test_what_fails_is_touched_where_nothing_turns(attitude):
    """A centred payload in a drop: posts ahead of it are hit exactly where the check fails."""
    feet = [(x, y, 0.0) for x, y in product((-0.16, 0.16), (-0.11, 0.11))]
    tray = Suspension.of_springs(12.0, np.eye(3) * 0.1, feet, 9e3, 9e3)
    way = np.array(ATTITUDES[attitude])
    path = stepped(tray, way, 0.3, GRID, seconds=0.4, steps=1000)
    low, high = (f(displaced_corners(path)) for f in (lambda c: c.min(0), lambda c: c.max(0)))
    axis, sense = int(np.flatnonzero(way)[0]), int(way.sum())
    reach = np.abs(path[..., axis]).max()
    share = np.array([0.2, 0.6, 0.9, 0.99, 1.01, 1.2, 2.0])
    size = np.full((len(share), 3), 0.2)
    at = np.zeros((len(share), 3))
    at[:, axis] = sense * (BOX[axis] / 2 + 0.1 + share * reach)
    passes = cleared(low, high, at, size)
    np.testing.assert_array_equal(passes, share > 1)
    np.testing.assert_array_equal(touched(GRID + path, at, size), ~passes)
    # and the bound of the drop, which adds the ring of the fall, is no smaller than that path
    drop = flat_drop(tray, way, 0.3, UNKNOWN)
    assert drop.travel_most >= reach


def displaced_corners(path):
    """Displacement (n, 8, 3) of the corners among points of `GRID`."""
    where = [int(np.abs(GRID - c).sum(axis=1).argmin()) for c in box_corners(BOX)]
    return path[:, where]


def in_plan(gaps, radius):
    """Is a point with these gaps to two walls (n, 2) inside their rounded edge? By its circle.

    Computed: the nearest of many centres that the circle can have while it touches no wall.
    """
    centres = radius + np.concatenate([[0.0], np.geomspace(1e-4, 0.3, 400)])
    x, y = (np.abs(gaps[:, k, None] - centres).min(axis=1) for k in (0, 1))
    inside = gaps.min(axis=1) >= 0
    return inside & (np.hypot(x, y) <= radius + 2e-3)


@settings(max_examples=30, deadline=None)
@given(seeds, st.floats(0.005, 0.08))
def test_a_rounded_edge_holds_what_its_circle_holds(seed, radius):
    rng = np.random.default_rng(seed)
    gaps = rng.uniform(0.0, 0.15, (400, 2))
    own = np.concatenate([gaps, np.ones((400, 1))], axis=1)
    room = np.stack([by_face(np.tile(one, (8, 1))) for one in own])
    used = in_corner(room, np.full(400, radius))[:, 0]
    clear = np.abs(used - radius) > 3e-3  # as fine as the centres above
    np.testing.assert_array_equal((used <= radius)[clear], in_plan(gaps, radius)[clear])


def beyond_fillet(out, height, radius, draft):
    """Is a point `out` from the wall at its height above the floor within the rounding's material?

    The circle that touches the floor and a wall that leans by the draft; computed in the section.
    """
    lean = math.tan(draft)
    u = out - height * lean  # from the foot of the wall
    centre = radius / math.cos(draft) - radius * lean
    du, dz = u - centre, height - radius
    outward = -du / math.cos(draft)
    down = -dz + du * lean
    return (outward > 0) & (down > 0) & (np.hypot(du, dz) > radius)


@settings(max_examples=30, deadline=None)
@given(seeds, st.floats(0.005, 0.06), st.floats(0.0, 0.2))
def test_the_rounding_at_the_floor_is_on_the_safe_side_and_exact_where_walls_are_upright(
    seed, radius, draft
):
    rng = np.random.default_rng(seed)
    out, height = rng.uniform(1e-6, 0.1, (2, 500))
    own = np.stack([out, np.ones(500), height], axis=1)
    room = np.stack([by_face(np.tile(one, (8, 1))) for one in own])
    used = in_fillet(room, np.zeros(500), np.full(500, radius))[:, 0]
    material = beyond_fillet(out, height, radius, draft)
    assert not np.any((used <= radius - 1e-9) & material)
    if draft == 0:
        np.testing.assert_array_equal(used > radius, material)


def held(points, size, draft, radius):
    """Which points (..., 3), from the middle of the rim, lie in a room that leans and is rounded.

    In plan at each height a point is inside while its part beyond the core rectangle is no longer
    than the radius.
    """
    half = size[:2] / 2 + np.minimum(points[..., 2:], 0.0) * math.tan(draft)
    far = np.maximum(np.abs(points[..., :2]) - (half - radius), 0.0)
    walls = (np.abs(points[..., :2]) <= half + 1e-12).all(axis=-1)
    level = (points[..., 2] <= 1e-12) & (points[..., 2] >= -size[2] - 1e-12)
    return walls & level & (np.hypot(far[..., 0], far[..., 1]) <= radius + 1e-12)


@settings(max_examples=25, deadline=None)
@given(seeds, st.floats(0.0, 0.12), st.floats(0.0, 0.06))
def test_a_payload_that_clears_a_contour_is_in_it_at_every_moment(seed, draft, radius):
    """Twelve edges of the box in random poses, in a room that holds some of them.

    Of a single pose the extremes come together, and the answer is exact both ways.
    """
    rng = np.random.default_rng(seed)
    size = BOX + rng.uniform(0.05, 0.12, 3)
    middle, floor = rng.uniform(-0.01, 0.01, 2), rng.uniform(0.02, 0.05)
    inside = Inside(
        size=SIZE.quantity(size),
        draft=f"{draft:.12f} rad",
        corner_radius=GAP.quantity(radius),
        floor=GAP.quantity(floor),
        middle=POSITION.quantity(middle),
    )
    shift, turn = turned(rng, 300, 0.03)
    moves = displaced(box_corners(BOX), 1.5 * shift, turn)

    def passes(low, high):
        left = inside.room(BOX) - narrowed(both_ways(low, high), inside.slope())
        rounded = in_corner(left, np.full(len(low), radius)).max(axis=1)
        return (left.min(axis=(1, 2)) >= 0) & (rounded <= radius)

    home = np.array([*middle, floor + BOX[2] / 2 - size[2]])
    corners = home + box_corners(BOX) + moves
    exact = passes(moves, moves)
    np.testing.assert_array_equal(exact, held(corners, size, draft, radius).all(axis=1))

    some = moves[exact][:30] if exact.any() else moves[:1]
    together = passes(some.min(axis=0)[None], some.max(axis=0)[None])[0]
    if together:
        along = np.linspace(0.0, 1.0, 9)[:, None, None]
        pairs = [(a, b) for a in range(8) for b in range(a) if np.sum(SIGNS[a] != SIGNS[b]) == 1]
        one, two = np.array(pairs).T
        ends = home + box_corners(BOX) + some
        edges = ends[:, None, one] * along + ends[:, None, two] * (1 - along)
        assert held(edges, size, draft, radius).all()


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_a_payload_that_clears_gaps_by_corner_stays_between_walls_through_them(seed):
    """Six planes at random angles, the gaps measured to them at the corners."""
    rng = np.random.default_rng(seed)
    corners = box_corners(BOX)
    own = np.empty((8, 3))
    walls = []
    for axis, way in product(range(3), (-1.0, 1.0)):
        lean = rng.uniform(-0.1, 0.1, 3)
        lean[axis] = 0.0
        gap = 0.06 + corners @ lean
        here = SIGNS[:, axis] == way
        own[here, axis] = gap[here]
        walls.append((axis, way, lean))
    shift, turn = turned(rng, 80, 0.03)
    moves = displaced(corners, shift * rng.uniform(0.5, 1.5), turn)
    each = both_ways(moves.min(axis=0), moves.max(axis=0))
    left = by_face(own) - narrowed(each, slope_between(own, BOX))
    for axis, way, lean in walls:
        here = SIGNS[:, axis] == way
        face = 2 * axis + int(way > 0)
        out = 0.06 + (corners + moves)[:, here] @ lean - way * moves[:, here, axis]
        assert out.min() >= left[here, face].min() - 1e-12

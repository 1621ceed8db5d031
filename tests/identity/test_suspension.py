"""A rigid payload on mounts: frames, forces and tangents, rest, gravity, modes, in batches."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.spatial.transform import Rotation

from isolator.cable import Cable
from isolator.curve import Curve
from isolator.mount import Mount, Place
from isolator.payload import Payload
from isolator.suspension import (
    ATTITUDES,
    Pose,
    Suspension,
    along_and_across,
    congruent,
    frame,
    largest_force,
    motion_at,
    motion_name,
    rotation,
    skew,
    strokes,
)
from isolator.units import G0

FEET = [(x, y, -0.06) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
INERTIA = np.array([[0.08, 0.01, 0.0], [0.01, 0.12, -0.01], [0.0, -0.01, 0.16]])
DOWN = np.array([0.0, 0.0, -G0])
HARD = Curve.through([0.004, 0.012, 0.025], [32.0, 130.0, 480.0])
SOFT = Curve.through([0.003, 0.01, 0.03], [12.0, 55.0, 210.0])


def crooked(seed: int = 1, cables: bool = True, hard: bool = True) -> Suspension:
    """Five mounts with axes every which way on curves, two cables, sheets under the mounts."""
    rng = np.random.default_rng(seed)
    push = rng.normal(size=(5, 3))
    held = Suspension.of_springs(
        8.0 + seed, INERTIA, rng.uniform(-0.2, 0.2, (5, 3)), rng.uniform(5e3, 2e4, 5), 6e3,
        push=push / np.linalg.norm(push, axis=-1, keepdims=True),
        dynamic_ratio=rng.uniform(1.0, 2.0, 5), loss_factor=rng.uniform(0.02, 0.5, 5),
    )  # fmt: skip
    if hard:
        curve = Curve.stacked(
            [Curve.stacked([HARD, SOFT.scaled(c)]) for c in (0.5, 0.7, 1, 1.2, 2)]
        )
        held = replace(held, curve=curve, sheet=rng.uniform(2e4, 2e5, 5))
    if not cables:
        return held
    return replace(
        held, cable_position=rng.uniform(-0.2, 0.2, (2, 3)),
        cable_stiffness=rng.uniform(100, 900, (2, 3)), cable_loss=np.array([0.1, 0.2]),
    )  # fmt: skip


def somewhere(held: Suspension, *vector: float) -> Pose:
    """A pose that turns by a vector and shifts by 2, −3 and −4 mm."""
    turn = rotation(np.array(vector))
    return Pose(np.array([0.002, -0.003, -0.004]), turn, np.array(True))


def test_attitudes_say_what_points_down() -> None:
    """x runs to the right end, y to the hinge, z to the lid."""
    sides = {"right end": (0, 1), "left end": (0, -1), "hinge side": (1, 1), "handle side": (1, -1)}
    wanted = {f"on the {name}": sign * np.eye(3)[axis] for name, (axis, sign) in sides.items()}
    wanted |= {"lid up": -np.eye(3)[2], "lid down": np.eye(3)[2]}
    assert set(wanted) == set(ATTITUDES)
    for name, way in ATTITUDES.items():
        np.testing.assert_array_equal(way, wanted[name], err_msg=name)


def test_turns_crosses_and_frames_in_batches() -> None:
    rng = np.random.default_rng(5)
    a, b = rng.normal(size=(2, 4, 6, 3))
    np.testing.assert_allclose((skew(a) @ b[..., None])[..., 0], np.cross(a, b), atol=1e-14)
    turned = Rotation.from_rotvec(a.reshape(-1, 3)).as_matrix().reshape(4, 6, 3, 3)
    np.testing.assert_allclose(rotation(a), turned, atol=1e-13)
    np.testing.assert_array_equal(rotation(np.zeros((2, 3))), np.stack([np.eye(3)] * 2))
    q = rng.normal(size=(4, 6, 6))
    moved = (motion_at(b) @ q[..., None])[..., 0]
    np.testing.assert_allclose(moved, q[..., :3] + np.cross(q[..., 3:], b), atol=1e-13)
    axes = frame(a / np.linalg.norm(a, axis=-1, keepdims=True))
    np.testing.assert_allclose(axes @ np.swapaxes(axes, -1, -2), np.eye(3) + 0 * axes, atol=1e-13)
    np.testing.assert_allclose(np.linalg.det(axes), 1.0)
    np.testing.assert_allclose(axes[..., 0, :], a / np.linalg.norm(a, axis=-1, keepdims=True))
    lower = np.tril(rng.normal(size=(2, 4, 4))) + 3 * np.eye(4)
    whole = rng.normal(size=(2, 4, 4))
    whole = whole + np.swapaxes(whole, -1, -2)
    for i in range(2):
        inverse = np.linalg.inv(lower[i])
        np.testing.assert_allclose(congruent(lower, whole)[i], inverse @ whole[i] @ inverse.T)


def test_strokes_are_pushed_pulled_and_across() -> None:
    """From −3 to 4 mm along, and at the most 3 and 4 mm across: 4, 3 and 5 mm."""
    low = np.array([[-3.0, -3.0, 1.0], [1.0, 0.0, -4.0], [-5.0, 2.0, 0.0]])
    high = np.array([[4.0, 2.0, 4.0], [2.0, 3.0, 2.0], [-1.0, 2.5, 6.0]])
    np.testing.assert_allclose(strokes(low, high), [[4, 3, 5], [2, 0, 5], [0, 5, 6.5]])
    each = strokes(np.stack([low, 2 * low]), np.stack([high, 2 * high]))
    np.testing.assert_allclose(each, [strokes(low, high), 2 * strokes(low, high)])
    local = np.array([[[-1.0, 3.0, 4.0]], [[2.0, -5.0, 12.0]]])
    np.testing.assert_allclose(along_and_across(local), [[[-1, 5]], [[2, 13]]])


def test_a_pose_knows_its_tilt_and_where_points_go() -> None:
    turns = np.array([[0.3, 0.0, 0.0], [0.0, -0.4, 0.3], [0.0, 0.0, 0.0]])
    pose = Pose(np.arange(9.0).reshape(3, 3), rotation(turns), np.ones(3, dtype=bool))
    np.testing.assert_allclose(pose.tilt, [0.3, 0.5, 0.0], atol=1e-7)
    axes = np.random.default_rng(2).normal(size=(50, 3))
    half = rotation(math.pi * axes / np.linalg.norm(axes, axis=-1, keepdims=True))
    over = Pose(np.zeros((50, 3)), half, np.ones(50, dtype=bool))
    np.testing.assert_allclose(over.tilt, math.pi, atol=1e-7)  # whatever the last digit is
    back = rotation(axes) @ rotation(-axes)
    assert (np.trace(back, axis1=-2, axis2=-1) > 3).any()
    same = Pose(np.zeros((50, 3)), back, np.ones(50, dtype=bool))
    np.testing.assert_allclose(same.tilt, 0.0, atol=1e-7)
    points = np.array([[0.2, 0.1, -0.3], [0.0, 0.5, 0.1]])
    for i, one in enumerate(turns):
        moved = Rotation.from_rotvec(one).apply(points) + pose.shift[i] - points
        np.testing.assert_allclose(pose.moved(points)[i], moved, atol=1e-13)


@pytest.mark.parametrize("cables", [True, False])
def test_forces_are_what_the_energy_falls_by_and_tangents_what_they_grow_by(cables: bool) -> None:
    """By central differences over all six motions, in a pose that is turned."""
    held = crooked(cables=cables)
    pose = somewhere(held, 0.02, -0.03, 0.04)

    def at(i: int, by: float) -> Pose:
        step = np.zeros(6)
        step[i] = by
        return Pose(pose.shift + step[:3], rotation(step[3:]) @ pose.turn, pose.found)

    def energy(there: Pose) -> float:
        stored = held.energy_in(held.deflection(there)).sum()
        return float(stored + held.cable_energy(there.moved(held.cable_position)).sum())

    def pull(there: Pose) -> np.ndarray:
        arms = np.concatenate([held.position, held.cable_position]) @ there.turn.T
        force = np.concatenate([held.mount_force(there), held.cable_force(there)])
        return np.concatenate([force.sum(axis=0), np.cross(arms, force).sum(axis=0)])

    small = 1e-6
    work = np.array([energy(at(i, small)) - energy(at(i, -small)) for i in range(6)])
    force = pull(pose)
    np.testing.assert_allclose(-work / (2 * small), force, rtol=1e-5, atol=1e-5)
    grown = np.stack([pull(at(i, small)) - pull(at(i, -small)) for i in range(6)], axis=1)
    whole = held.mount_stiffness(pose) + held.geometric_stiffness(pose)
    # the moment of a force whose arm turns: (θ × r) × F, as in the docstring
    np.testing.assert_allclose(-grown / (2 * small), whole, rtol=1e-4, atol=0.05)
    sym = held.stiffness(pose)
    np.testing.assert_allclose(sym, sym.T, rtol=1e-12, atol=1e-9)
    np.testing.assert_allclose(sym, (whole + whole.T) / 2, rtol=1e-9, atol=1e-9)
    np.testing.assert_array_equal(held.stiffness(), held.mount_stiffness(held.unloaded()))
    ratio = held.damped_stiffness(pose)
    lossless = replace(held, loss_factor=0 * held.loss_factor, cable_loss=0 * held.cable_loss)
    np.testing.assert_allclose(
        lossless.damped_stiffness(pose).real,
        held.mount_stiffness(pose, factor=held.dynamic_ratio),
        rtol=1e-9, atol=1e-6,
    )  # fmt: skip
    assert (np.linalg.eigvalsh(ratio.imag) > 0).all()


def test_the_tangent_of_a_mount_that_is_moved_across() -> None:
    """Along its way the tangent of the curve, crosswise its secant; straight where it is still."""
    held = crooked(cables=False)
    held = replace(held, sheet=np.full(5, np.inf))
    local = np.array(
        [[0.003, 0.006, 0.008], [-0.002, 0.01, 0], [0, 0, -0.004], [0, 0, 0], [0.02, 0, 0]]
    )
    ours = held.tangent_at(local)
    for i, c in enumerate((0.5, 0.7, 1, 1.2, 2)):
        size = math.hypot(*local[i, 1:])
        along = SOFT.scaled(c).tangent(size)
        cross = SOFT.scaled(c).force(size) / size if size else along
        way = local[i, 1:] / size if size else np.zeros(2)
        wanted = cross * np.eye(2) + (along - cross) * np.outer(way, way)
        np.testing.assert_allclose(ours[i, 1:, 1:], wanted, rtol=1e-9)
        assert ours[i, 0, 0] == pytest.approx(HARD.tangent(local[i, 0]))
        np.testing.assert_array_equal([ours[i, 0, 1:], ours[i, 1:, 0]], 0.0)
        force = held.force_at(local)[i]
        assert force[0] == pytest.approx(HARD.force(local[i, 0]))
        np.testing.assert_allclose(force[1:], SOFT.scaled(c).force(size) * way, atol=1e-12)


def test_designs_are_stacked_repeated_and_taken() -> None:
    each = [crooked(s) for s in (1, 2, 3)]
    batch = Suspension.stacked(each)
    index = np.array([2, 0, 2, 1])
    some = batch.taken(index)
    for f in fields(Suspension):
        if f.name == "curve":
            for g in fields(Curve):
                own = getattr(some.curve, g.name)
                np.testing.assert_array_equal(own, getattr(batch.curve, g.name)[index])
        else:
            np.testing.assert_array_equal(getattr(some, f.name), getattr(batch, f.name)[index])
    # what all designs share is given once
    shared = replace(batch, sheet=np.array([3e4]), inertia=INERTIA).taken(index)
    assert shared.sheet.shape == (4, 1)
    assert shared.inertia.shape == (4, 3, 3)
    long = batch.repeated()
    assert long.mass.shape == (3, 1)
    assert long.frames.shape == (3, 1, 5, 3, 3)
    assert long.cable_loss.shape == (3, 1, 2)
    assert long.curve.slope.shape[:3] == (3, 1, 5)
    bare = Suspension.of_springs(8.0, INERTIA, FEET, 9e3, 6e3)
    assert bare.cable_position.shape == bare.cable_stiffness.shape == (0, 3)
    assert bare.cable_loss.shape == (0,)
    plain = batch.without_cables()
    assert plain.cable_position.shape == plain.cable_stiffness.shape == (3, 0, 3)
    assert plain.cable_loss.shape == (3, 0)
    assert np.isinf(batch.on_rigid_sheets().sheet).all()
    rest = batch.unloaded()
    assert rest.found.tolist() == [True] * 3
    assert rest.turn.shape == (3, 3, 3)
    np.testing.assert_array_equal(batch.deflection(rest), 0.0)


def test_a_loss_that_one_mount_or_cable_lacks() -> None:
    batch = Suspension.stacked([crooked(s) for s in (1, 2, 3)])
    loss, cable = batch.loss_factor.copy(), batch.cable_loss.copy()
    loss[1, 3], cable[2, 0] = np.nan, np.nan
    lacking = replace(batch, loss_factor=loss, cable_loss=cable)
    assert lacking.loss_unknown().tolist() == [False, True, True]
    assert batch.loss_unknown().tolist() == [False] * 3
    assert batch.without_cables().loss_unknown().tolist() == [False] * 3
    assert lacking.repeated().loss_unknown().tolist() == [[False], [True], [True]]
    for one in (replace(batch, loss_factor=loss), replace(batch, cable_loss=cable)):
        with pytest.raises(ValueError, match="the loss factor of every mount and cable"):
            one.modes()
    band = lacking.inertia[:, None] * np.array([1.0, 1.5])[:, None, None]
    known = lacking.across(band, 0.3)
    assert known.frequencies().shape == (3, 2, 6)
    assert (known.loss_factor[1, 0, 3], known.cable_loss[2, 0, 0]) == (0.3, 0.3)
    np.testing.assert_array_equal(known.loss_factor[0, 0], batch.loss_factor[0])
    np.testing.assert_array_equal(known.cable_loss[1, 0], batch.cable_loss[1])
    for k, inertia in enumerate((1.0, 1.5)):
        alone = replace(batch, inertia=inertia * batch.inertia).frequencies()
        np.testing.assert_allclose(known.frequencies()[:, k], alone, rtol=1e-12)


@pytest.mark.parametrize("steep", [1.0, 6.0])
def test_rest_is_where_nothing_pulls_and_its_arms_do_not_turn(steep: float) -> None:
    """On curves that harden, in every attitude, weighed down many times over."""
    batch = Suspension.stacked([crooked(s) for s in (1, 2, 4)]).repeated()
    ways = steep * G0 * np.array(list(ATTITUDES.values()))
    pose = batch.pose(ways)
    assert pose.found.shape == (3, 6)
    rests(batch, pose, ways)


def rests(batch: Suspension, pose: Pose, ways: np.ndarray) -> None:
    """All of it is found, and there neither a force nor a moment is left."""
    assert pose.found.all()
    mounts, cables = batch.mount_force(pose), batch.cable_force(pose)
    arms = batch.position @ np.swapaxes(pose.turn, -1, -2)
    ends = batch.cable_position @ np.swapaxes(pose.turn, -1, -2)
    left = mounts.sum(axis=-2) + cables.sum(axis=-2) + batch.mass[..., None] * ways
    moment = np.cross(arms, mounts).sum(axis=-2) + np.cross(ends, cables).sum(axis=-2)
    np.testing.assert_allclose(left, 0.0, atol=1e-7)
    np.testing.assert_allclose(moment, 0.0, atol=1e-8)
    np.testing.assert_allclose(np.linalg.det(pose.turn), 1.0, rtol=1e-9)


def test_rest_is_found_where_whole_steps_overshoot() -> None:
    """Hardly any force up to 12 mm and 4800 N a millimetre later: the search has to hold back."""
    sudden = Curve.stacked([
        Curve.through([0.004, 0.012, 0.013], [3.0, 10.0, 4800.0]),
        Curve.through([0.003, 0.004], [1.0, 500.0]),
    ])  # fmt: skip
    each = [replace(crooked(s, cables=False), sheet=np.array([np.inf])) for s in range(4)]
    batch = Suspension.stacked([replace(one, curve=Curve.stacked([sudden] * 5)) for one in each])
    ways = 3 * G0 * np.array(list(ATTITUDES.values()))
    rests(batch.repeated(), batch.repeated().pose(ways), ways)


@pytest.mark.parametrize(("lean", "holds"), [(0.999, True), (1.001, False)])
def test_what_leans_by_more_than_a_radian_has_toppled(lean: float, holds: bool) -> None:
    """Hung from one point it comes to hang along whatever points down."""
    hung = Suspension.of_springs(8.0, np.eye(3) * 0.1, [(0.0, 0.0, 0.2)], 1e3, 1e3)
    pose = hung.pose(G0 * np.array([math.sin(lean), 0.0, -math.cos(lean)]))
    assert pose.tilt == pytest.approx(lean, abs=1e-5)
    assert bool(pose.found) is holds


def test_what_topples_or_lifts_off_has_no_rest() -> None:
    """Soft mounts far below the centre turn it over; pads that pull at nothing let it fall."""
    feet = [(0.3 * x + 0.002, 0.3 * y, -0.6) for x, y, _ in FEET]
    high = Suspension.of_springs(12.0, np.eye(3) * 0.2, feet, 2e3, 2e3)
    low = Suspension.of_springs(12.0, np.eye(3) * 0.2, FEET, 9e3, 6e3)
    both = Suspension.stacked([high, low])
    pose = both.pose(DOWN)
    assert pose.found.tolist() == [False, True]
    straight = both.unloaded()
    straight = replace(straight, shift=np.array([[0, 0, -12 * G0 / 8e3], [0, 0, -12 * G0 / 36e3]]))
    left = both.gravity_left(straight)
    for i, one in enumerate((high, low)):
        at = Pose(straight.shift[i], straight.turn[i], straight.found[i])
        least = eigh(one.stiffness(at), one.mount_stiffness(at), eigvals_only=True)[0]
        assert left[i] == pytest.approx(least, rel=1e-9)
    assert left[0] < 0 < left[1] < 1
    np.testing.assert_allclose(both.gravity_left(both.unloaded()), 1.0)
    frequency, energy = both.undamped(straight)
    assert np.isnan(frequency[0]).any()
    assert not np.isnan(frequency[1]).any()
    np.testing.assert_allclose(energy.sum(axis=-1), 1.0)
    pads = Curve.stacked([Curve.stacked([HARD.without_tension(), SOFT])] * 4)
    loose = replace(low, curve=pads)
    assert loose.pose(DOWN).found
    assert not loose.pose(-DOWN).found


def test_four_equal_mounts_by_hand() -> None:
    """k along z and c across, at ±a, ±b and h below: bounce, twist, and sway that rocks."""
    a, b, h, k, c, m = 0.16, 0.11, 0.06, 9e3, 6e3, 12.0
    inertia = np.array([0.11, 0.18, 0.25])
    tray = Suspension.of_springs(m, np.diag(inertia), FEET, k, c, loss_factor=0.1)
    wanted = np.diag([4 * c, 4 * c, 4 * k, 4 * (k * b**2 + c * h**2), 4 * (k * a**2 + c * h**2),
                      4 * c * (a**2 + b**2)])  # fmt: skip
    wanted[0, 4] = wanted[4, 0] = -4 * c * h
    wanted[1, 3] = wanted[3, 1] = 4 * c * h
    np.testing.assert_allclose(tray.mount_stiffness(), wanted, atol=1e-9)
    mass = np.diag([m, m, m, *inertia])
    np.testing.assert_array_equal(tray.mass_matrix(), mass)
    square = eigh(wanted, mass, eigvals_only=True)
    np.testing.assert_allclose(tray.frequencies(), np.sqrt(square) / (2 * np.pi))
    modes = tray.modes()
    np.testing.assert_allclose(modes.eigenvalue, square * (1 + 0.1j), rtol=1e-9)
    np.testing.assert_allclose(modes.shape @ modes.share, np.eye(6), atol=1e-9)
    frequency, energy = tray.undamped()
    bounce = int(energy[:, 2].argmax())
    assert frequency[bounce] == pytest.approx(math.sqrt(4 * k / m) / (2 * math.pi))
    np.testing.assert_allclose(energy[bounce], np.eye(6)[2], atol=1e-12)
    np.testing.assert_allclose(energy.sum(axis=1), 1.0)
    names = [motion_name(row) for row in energy]
    assert "bounce along z" in names
    assert "twist about z" in names
    assert motion_name([0.0, 0.86, 0, 0.14, 0, 0]) == "sway along y"
    assert motion_name([0.0, 0.15, 0, 0.85, 0, 0]) == "rock about x with sway along y"


def test_a_free_motion_has_no_frequency() -> None:
    """One mount at the centre of gravity holds no rotation."""
    one = Suspension.of_springs(2.0, np.eye(3) * 0.01, [(0, 0, 0)], 5e3, 3e3)
    found = one.frequencies()
    np.testing.assert_array_equal(found[:3], 0.0)
    for seed in range(8):  # about the line of two it is free too, whatever the rounding
        ends = np.random.default_rng(seed).uniform(-0.2, 0.2, (2, 3))
        askew = Suspension.of_springs(4.0, np.eye(3) * 0.1, ends, 1e4, 3e3, push=(0.6, 0, -0.8))
        assert askew.gravity_left(askew.unloaded()) == 0.0
        assert askew.frequencies()[0] == 0.0
    none = Suspension.of_springs(4.0, np.eye(3) * 0.1, FEET, 0.0, 0.0)  # not even that is held
    assert none.gravity_left(none.unloaded()) == 0.0
    np.testing.assert_array_equal(none.frequencies(), 0.0)
    np.testing.assert_allclose(found[3:], np.sqrt([1500, 1500, 2500]) / (2 * np.pi))


def test_modes_of_a_batch_in_poses_that_are_turned() -> None:
    """Each design alone, its inertia turned with it, damping by mount: K φ = λ M φ."""
    each = [crooked(s) for s in (1, 2)]
    batch = Suspension.stacked(each)
    pose = batch.pose(DOWN)
    modes = batch.modes(pose)
    assert (np.diff(modes.eigenvalue.real, axis=-1) >= 0).all()
    for i, one in enumerate(each):
        at = Pose(pose.shift[i], pose.turn[i], pose.found[i])
        mass = np.zeros((6, 6))
        mass[:3, :3] = one.mass * np.eye(3)
        mass[3:, 3:] = at.turn @ INERTIA @ at.turn.T
        np.testing.assert_allclose(batch.mass_matrix(pose)[i], mass, atol=1e-12)
        preload = one.stiffness(at) - one.mount_stiffness(at)
        whole = one.damped_stiffness(at) + preload
        shape = modes.shape[i]
        right = mass @ shape * modes.eigenvalue[i]
        np.testing.assert_allclose(whole @ shape, right, atol=1e-7 * np.abs(right).max())
        np.testing.assert_allclose(modes.share[i] @ shape, np.eye(6), atol=1e-9)
    stiff = batch.dynamic()
    np.testing.assert_array_equal(stiff.dynamic_ratio, 1.0)
    straight = replace(batch, sheet=np.full((2, 5), np.inf))
    np.testing.assert_allclose(
        straight.dynamic().mount_stiffness(),
        straight.mount_stiffness(factor=straight.dynamic_ratio),
        rtol=1e-9, atol=1e-6,
    )  # fmt: skip


def test_limits_on_sheets_by_hand() -> None:
    """Pushed, pulled: what the sheet bends under the force at the mount's own limit; not across.

    Pushed stiffer than pulled.
    """
    at = np.array([-0.02, 0.0, 0.02])
    along = Curve(at, np.array([-10.0, 0.0, 60.0]), np.array([200.0, 1e3, 4e3]))
    held = replace(crooked(), curve=Curve.stacked([Curve.stacked([along, SOFT])] * 5))
    limit = np.array([[0.01, 0.006, 0.02]] * 4 + [[np.inf, np.nan, 0.01]])
    found = held.limits_with_sheet(limit)
    for i in range(4):
        bend = np.array([along.force(0.01), -along.force(-0.006), 0.0]) / held.sheet[i]
        assert along.force(0.006) > 1.5 * -along.force(-0.006) > 0
        np.testing.assert_allclose(found[i], limit[i] + bend)
    np.testing.assert_array_equal(found[4], limit[4])
    both = Suspension.stacked([held, held])
    np.testing.assert_array_equal(both.limits_with_sheet(np.stack([limit] * 2)), [found] * 2)


def test_energy_in_a_mount_is_that_along_its_axis_and_that_across_it() -> None:
    """Springs of 9 and 6 N/mm, by hand: ½ k a² + ½ c b²."""
    held = Suspension.of_springs(8.0, INERTIA, FEET, 9e3, 6e3)
    local = np.zeros((4, 3))
    local[1], local[2], local[3] = [0.01, 0, 0], [0, 0.003, 0.004], [-0.01, 0.01, 0]
    wanted = np.array([0.0, 0.45, 0.075, 0.45 + 0.3])
    np.testing.assert_allclose(held.energy_in(local), wanted, atol=1e-12)
    both = Suspension.stacked([held, held])
    each = both.energy_in(np.stack([local, -local]))
    np.testing.assert_allclose(each, [wanted] * 2, atol=1e-12)


def test_a_rigid_sheet_beside_ones_that_bend_is_rigid() -> None:
    """Springs k on sheets s: Σ k·s/(k + s), the dynamic one Σ c·k·s/(c·k + s); k on a rigid one."""
    k, sheet = 9e3, np.array([np.inf, 9e3, 18e3, np.inf])
    held = replace(Suspension.of_springs(8.0, INERTIA, FEET, k, 6e3), sheet=sheet)
    for c in (1.0, 1.5):
        bends = c * k * sheet[1:3] / (c * k + sheet[1:3])
        found = held.mount_stiffness(factor=np.full(4, c))[2, 2]
        assert found == pytest.approx(2 * c * k + bends.sum())


def test_cables_are_held_from_the_centre_of_gravity_and_store_what_they_are_drawn() -> None:
    ring = Mount(name="ring", along="9 N/mm", across="6 N/mm", dynamic_ratio=1)
    body = Payload(
        mass="12 kg", size=["400 mm", "300 mm", "150 mm"], centre=["20 mm", "5 mm", "0 mm"]
    )
    pull = ["1 N/mm", "2 N/mm", "3 N/mm"]
    ends = [
        Cable(name="a", position=["100 mm", "0 mm", "40 mm"], stiffness=pull, loss_factor=0.2),
        Cable(name="b", position=["-30 mm", "0 mm", "40 mm"], stiffness=pull),
    ]
    places = [Place(mount=ring, position=(f"{x} mm", "0 mm", "-75 mm")) for x in (-160, 0, 160)]
    held = Suspension.of(body, places, ends)
    np.testing.assert_allclose(held.cable_position, [[0.08, -0.005, 0.04], [-0.05, -0.005, 0.04]])
    np.testing.assert_allclose(
        held.position[:, :2], [[-0.18, -0.005], [-0.02, -0.005], [0.14, -0.005]]
    )
    moved = np.array([[0.01, 0.02, 0.0], [0.0, 0.0, 0.02]])
    np.testing.assert_allclose(held.cable_energy(moved), [0.05 + 0.4, 0.6])
    np.testing.assert_array_equal(held.cable_loss, [0.2, np.nan])


def test_the_largest_force_is_that_of_the_worse_end_and_of_what_it_is_moved_across() -> None:
    """Pushed twice as stiff as pulled along, one stiffness across (by hand)."""
    at = np.array([-1.0, 0.0, 1.0])
    along = Curve(at, np.array([-1e3, 0.0, 2e3]), np.array([1e3, 2e3, 2e3]))
    curve = Curve.stacked([along, Curve.straight(np.array(500.0))])
    for pushed, pulled, aside in ((0.01, 0.03, 0.02), (0.02, 0.03, 0.01), (0.0, 0.04, 0.005)):
        most = max(float(along.force(pushed)), abs(float(along.force(-pulled))))
        found = largest_force(curve, np.array([pushed, pulled, aside]))
        assert found == pytest.approx(math.hypot(most, 500 * aside))
    assert largest_force(curve, np.array([0.01, 0.03, 0.0])) == pytest.approx(
        abs(float(along.force(-0.03)))
    )


def test_spots_are_where_the_pose_took_them_with_axes_of_their_own() -> None:
    """Two designs, each in a pose and with corners of its own."""
    batch = Suspension.stacked([crooked(1), crooked(2)])
    turn = rotation([[0.2, -0.3, 0.4], [-0.1, 0.5, 0.3]])
    corners = np.array([[[0.2, 0.1, 0.05], [-0.2, 0.1, 0.05]], [[0.3, 0.2, 0], [0.1, -0.2, 0.1]]])
    where, frames = batch.spots(Pose(np.zeros((2, 3)), turn, np.ones(2, bool)), corners)
    for d in (0, 1):
        points = [np.zeros(3), *corners[d], *batch.position[d]]
        np.testing.assert_allclose(where[d, 0], points @ turn[d].T, atol=1e-15)
        np.testing.assert_array_equal(frames[d, 0], [np.eye(3)] * 3 + list(batch.frames[d]))


def test_shares_of_the_kinetic_energy_of_a_skew_body_make_one() -> None:
    """With products of inertia too; and each mode's Rayleigh quotient is its frequency."""
    batch = Suspension.stacked([crooked(s, cables=False) for s in (1, 2)])
    frequency, energy = batch.undamped()
    np.testing.assert_allclose(energy.sum(axis=-1), 1.0)
    for d, tray in enumerate([crooked(s, cables=False) for s in (1, 2)]):
        mass, stiffness = tray.mass_matrix(), tray.stiffness(factor=tray.dynamic_ratio)
        value, shape = eigh(stiffness, mass)
        np.testing.assert_allclose(frequency[d], np.sqrt(value) / (2 * math.pi), rtol=1e-9)
        np.testing.assert_allclose(energy[d], (shape * (mass @ shape)).T, atol=1e-9)

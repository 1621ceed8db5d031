"""The law of a landing at single instants: power, momentum, dampers, and what the floor does."""

from dataclasses import replace

import numpy as np
import pytest

from isolator.coupled import (
    BRANCH,
    DOWN,
    SHIFT,
    SINKING,
    SPEED,
    SPIN,
    TURN,
    WORK,
    Coupled,
    Floor,
    Holding,
    Landings,
    Shell,
    Start,
)
from isolator.curve import Curve
from isolator.suspension import Suspension, frame, rotation
from isolator.units import G0

INERTIA = np.array([[0.08, 0.01, 0.0], [0.01, 0.12, -0.01], [0.0, -0.01, 0.16]])
BOX = np.array([(x, y, z) for x in (-0.2, 0.2) for y in (-0.15, 0.15) for z in (-0.06, 0.06)])
HARD = Curve.through([0.004, 0.012, 0.025], [32.0, 130.0, 480.0])
PADS = Curve.stacked([HARD.without_tension(), HARD])
LOSS = [0.2, 0.35, 0.1, 0.5]


def held(seed: int, curved: bool) -> Suspension:
    """Four mounts with axes every which way, a cable, mixed damping."""
    rng = np.random.default_rng(seed)
    push = rng.normal(size=(4, 3))
    own = Suspension.of_springs(
        7.0 + seed, INERTIA, rng.uniform(-0.2, 0.2, (4, 3)), rng.uniform(6e3, 1e4, 4), 5e3,
        push=push / np.linalg.norm(push, axis=-1, keepdims=True), loss_factor=LOSS,
    )  # fmt: skip
    if curved:
        curve = [Curve.stacked([HARD.scaled(c), HARD.scaled(0.6)]) for c in (0.7, 1.0, 1.3, 0.9)]
        own = replace(own, curve=Curve.stacked(curve))
    return replace(
        own, cable_position=rng.uniform(-0.1, 0.1, (1, 3)),
        cable_stiffness=np.array([[900.0, 500.0, 700.0]]), cable_loss=np.array([0.3]),
    )  # fmt: skip


def holding(curved: bool, hits: bool) -> Holding:
    """Two designs; with stops and walls that are met, or none."""
    own = Holding.of(Suspension.stacked([held(s, curved) for s in (1, 2)]))
    own = replace(own, corners=np.stack([BOX, 0.9 * BOX]), room=np.full((2, 8, 6), np.inf))
    if not hits:
        return own
    return replace(
        own, limit=np.broadcast_to([0.004, 0.003, 0.005], (2, 4, 3)),
        stop=np.array([[4e4, 3e4, 0.0, 5e4], [1e4, 2e4, 3e4, 4e4]]),
        room=np.full((2, 8, 6), 0.006), wall=np.array([5e4, 8e4]),
    )  # fmt: skip


SHELL = replace(
    Shell.heavy(2, 0.3),
    mass=np.array([5.0, 3.0]),
    centre=np.array([[0.01, 0.02, 0.03], [-0.02, 0.0, 0.01]]),
    gyration=np.array([np.diag([0.012, 0.025, 0.03]), np.diag([0.02, 0.015, 0.04])]),
)
WAYS = np.array([[0.0, 0.0, -1.0], [0.48, -0.6, -0.64], [1.0, 0.0, 0.0]])
FLAT = Landings(down=np.broadcast_to(WAYS, (2, 3, 3)), speed=np.full((2, 3), 2.0))
EDGE = Landings(
    down=np.broadcast_to([0.0, 0.0, -1.0], (2, 3, 3)),
    speed=np.full((2, 3), 2.0),
    axis=np.broadcast_to([0.6, 0.8, 0.0], (2, 3, 3)),
    pivot=np.broadcast_to([-0.27, 0.2, -0.14], (2, 3, 3)),
    tilt=np.full((2, 3), 0.06),
)
KINDS = {
    "straight": (holding(False, False), SHELL, FLAT),
    "curves, stops and walls": (holding(True, True), SHELL, FLAT),
    "straight with stops": (holding(False, True), SHELL, FLAT),
    "turns": (holding(True, True), SHELL, EDGE),
    "lets go": (
        replace(
            holding(False, False),
            suspension=replace(
                holding(False, False).suspension,
                curve=Curve.stacked([Curve.stacked([PADS] * 4)] * 2),
            ),
            one_way=np.ones((2, 4), dtype=bool),
        ),
        SHELL,
        FLAT,
    ),
    "foam": (
        holding(True, False),
        replace(
            SHELL, foam=Curve.straight(np.array([9e4, 7e4])), foam_damping=np.array([50.0, 90])
        ),
        FLAT,
    ),
}


def law_of(kind: str, damping: str = "viscous") -> Coupled:
    own, shell, landings = KINDS[kind]
    return Coupled(own, shell, landings, own.dominant(landings.down), damping, G0)


def some(law: Coupled) -> np.ndarray:
    """A state in which all is in motion and out of place."""
    rng = np.random.default_rng(7)
    d, b = law.shape
    y = np.zeros((d, BRANCH + (3 * law.n if law.relaxes else 0), b))
    turn = rotation(rng.uniform(-0.04, 0.04, (d, b, 3)))
    y[:, TURN] = np.moveaxis(turn.reshape(d, b, 9), 1, -1)
    y[:, SHIFT] = rng.uniform(-0.01, 0.01, (d, 3, b))
    y[:, SPIN] = rng.uniform(-3, 3, (d, 3, b))
    y[:, SPEED] = rng.uniform(-1, 1, (d, 3, b))
    y[:, DOWN] = rng.uniform(0.002, 0.01, (d, b))
    y[:, SINKING] = rng.uniform(-0.5, 0.5, (d, b))
    y[:, WORK] = rng.uniform(-1, 1, (d, b))
    if law.relaxes:
        y[:, BRANCH:] = rng.uniform(-20, 20, (d, 3 * law.n, b))
    return y


@pytest.mark.parametrize("damping", ["viscous", "relaxation"])
@pytest.mark.parametrize("kind", KINDS)
def test_no_power_is_missing(kind: str, damping: str) -> None:
    """Whatever moves, the energy less the work done changes by nothing, at every instant."""
    law = law_of(kind, damping)
    y = some(law)
    rate, small = law.rate(y), 1e-6
    change = (law.energy(y + small * rate) - law.energy(y - small * rate)) / (2 * small)
    power = np.abs(law.parts(y)[1] * y[:, SPEED]).sum(axis=1) + np.abs(rate[:, WORK])
    assert power.min() > 1
    np.testing.assert_allclose(change / power, 0.0, atol=3e-6)
    assert (rate[:, WORK] + law.parts(y)[3] * y[:, SINKING] < 0).all()  # dampers only take
    turn = y[:, TURN].reshape(*y.shape[:1], 3, 3, -1)
    step = rate[:, TURN].reshape(turn.shape)
    spun = np.einsum("dkib,dkjb->dijb", turn, step)  # Rᵀ dR/dt is the cross product of the spin
    np.testing.assert_allclose(spun, -np.swapaxes(spun, 1, 2), atol=1e-12)
    wanted = [spun[:, 2, 1], spun[:, 0, 2], spun[:, 1, 0]]
    np.testing.assert_allclose(y[:, SPIN], np.stack(wanted, axis=1), rtol=1e-9)
    np.testing.assert_array_equal(rate[:, SHIFT], y[:, SPEED])
    np.testing.assert_array_equal(rate[:, DOWN], y[:, SINKING])


@pytest.mark.parametrize("kind", ["straight", "curves, stops and walls"])
def test_in_the_air_both_together_fall(kind: str) -> None:
    """Along what is down the mounts push both bodies alike, each its own way."""
    law = law_of(kind)
    y = some(law)
    rate = law.rate(y)
    mass = law.holding.suspension.mass[:, None]
    along = (law.down * rate[:, SPEED]).sum(axis=1)
    total = mass * along + SHELL.mass[:, None] * rate[:, SINKING]
    np.testing.assert_allclose(total, (mass + SHELL.mass[:, None]) * np.full(law.shape, G0))
    # a heavy shell falls alone, and one that rests does not move
    heavy = Coupled(law.holding, Shell.heavy(2), FLAT, law.omega, "viscous", G0)
    np.testing.assert_allclose(heavy.rate(y)[:, SINKING], G0)
    law._set(np.full(law.shape, 1))
    np.testing.assert_array_equal(law.rate(y)[:, SINKING], 0.0)


def test_about_an_edge_the_weights_turn_both_together() -> None:
    """Moment of momentum about the hinge grows by the moment of both weights about it."""
    law = law_of("turns")
    y = some(law)
    axis, pivot = EDGE.axis[0, 0], EDGE.pivot[0, 0]
    down = np.array([0.0, 0.0, -1.0])
    rate, small = law.rate(y), 1e-6

    def momentum(at: np.ndarray) -> np.ndarray:
        out = np.zeros(law.shape)
        for d in range(2):
            for b in range(3):
                turn = at[d, TURN, b].reshape(3, 3)
                arm, speed = at[d, SHIFT, b] - pivot, at[d, SPEED, b]
                own = law.holding.suspension.mass[d] * np.cross(arm, speed)
                own = own + turn @ INERTIA @ at[d, SPIN, b]
                reach = np.cross(axis, SHELL.centre[d] - pivot)
                inertia = SHELL.mass[d] * (axis @ SHELL.gyration[d] @ axis + reach @ reach)
                out[d, b] = axis @ own + inertia * at[d, SINKING, b]
        return out

    grown = (momentum(y + small * rate) - momentum(y - small * rate)) / (2 * small)
    for d in range(2):
        for b in range(3):
            angle = y[d, DOWN, b]
            arm = SHELL.centre[d] - pivot
            stood = rotation(axis * angle) @ arm
            weights = law.holding.suspension.mass[d] * np.cross(y[d, SHIFT, b] - pivot, down)
            weights = weights + SHELL.mass[d] * np.cross(stood, down)
            np.testing.assert_allclose(grown[d, b], G0 * axis @ weights, rtol=1e-5, atol=1e-5)
    y[:, DOWN] = 0.0  # where it lies flat the shell sees what the case does
    np.testing.assert_allclose(law.seen(y, law.parts(y)[0])[:, :, 0], y[:, :12], atol=1e-12)
    y[:, DOWN] = 0.05
    np.testing.assert_allclose(
        np.moveaxis(law.turned(y[:, DOWN]), -1, 1), rotation(axis * y[:, DOWN][..., None]),
        atol=1e-12,
    )  # fmt: skip
    away = np.linalg.norm(np.cross(axis, SHELL.centre - pivot), axis=-1)
    np.testing.assert_allclose(law.full, np.repeat((2.0 / away)[:, None], 3, axis=1))
    own, shell, _ = KINDS["turns"]
    slow = replace(EDGE, speed=np.zeros((2, 3)), spin=np.array([[0.3, 0.2, 0.0]] * 2))
    found = Coupled(own, shell, slow, law.omega, "viscous", G0).full
    np.testing.assert_allclose(found[0, :2], [0.3, 0.2])
    assert 0 < found[0, 2] < 1e-4


@pytest.mark.parametrize("curved", [False, True])
def test_what_a_mount_feels_at_its_limit(curved: bool) -> None:
    """Beyond the limit a stop adds its own; a mount that lets go pulls at nothing."""
    own = holding(curved, True)
    law = Coupled(own, SHELL, FLAT, own.dominant(FLAT.down), "viscous", G0)
    x = np.zeros((2, 3, 4, 3))
    x[:, 0] = [0.007, -0.005, 0.002]
    x[:, 1], x[:, 2] = 0.006, [-0.008, 0.0, 0.001]
    ours = law.springs(x)
    for d in range(2):
        for n in range(4):
            for b in range(3):
                local = np.moveaxis(x[d, :, n, b], 0, -1)
                plain = own.suspension.force_at(np.broadcast_to(local, (2, 4, 3)))[d, n]
                across = np.hypot(*local[1:])
                stop, extra = own.stop[d, n], np.zeros(3)
                extra[0] = max(local[0] - 0.004, 0) + min(local[0] + 0.003, 0)
                extra[1:] = local[1:] / across * max(across - 0.005, 0)
                np.testing.assert_allclose(ours[d, :, n, b], plain + stop * extra, rtol=1e-9)
    one_way = replace(own, one_way=np.array([[True, False, True, False]] * 2))
    loose = Coupled(one_way, SHELL, FLAT, law.omega, "viscous", G0)
    y = some(loose)
    both = loose.seen(y, loose.parts(y)[0])
    away, speed, force, lossy = loose.mounts(y, both)
    full = law.mounts(y, both)
    np.testing.assert_array_equal(force[:, 1:], full[2][:, 1:])
    np.testing.assert_array_equal(force[:, 0, 1::2], full[2][:, 0, 1::2])
    wanted = np.where(away[:, 0] >= 0, np.maximum(full[2][:, 0], 0.0), 0.0)
    np.testing.assert_array_equal(force[:, 0, ::2], wanted[:, ::2])
    np.testing.assert_allclose(lossy, force - law.springs(away), atol=1e-9)
    np.testing.assert_allclose(full[3], law.dashpot * speed)
    still = np.zeros_like(y)
    still[:, TURN] = np.eye(3).reshape(1, 9, 1)
    for size in (1e-3, -1e-3):  # in the unloaded pose, slowly into the mounts or off them
        still[:, SPEED] = size * np.moveaxis(FLAT.down, -1, 1)
        both = loose.seen(still, loose.parts(still)[0])
        away, speed, force, _ = loose.mounts(still, both)
        np.testing.assert_allclose(away, 0.0, atol=1e-15)
        drag = (loose.dashpot * speed)[:, 0, ::2]
        at_zero = away[:, 0, ::2] == 0
        assert at_zero.any()
        np.testing.assert_array_equal(force[:, 0, ::2][at_zero], np.maximum(drag, 0.0)[at_zero])


def test_which_mounts_let_go_and_which_mode_dominates() -> None:
    play = Curve(*np.array([[-0.01, -0.002, 0.0, 0.01], [-80.0, 0, 0, 90], [1e4, 0, 0, 9e3]]))
    curves = [PADS, PADS, Curve.stacked([HARD] * 2), Curve.stacked([play, HARD])]
    own = replace(held(1, True), curve=Curve.stacked(curves))
    nothing = Holding.of(Suspension.stacked([own]))
    assert nothing.one_way.tolist() == [[True, True, False, False]]
    assert (nothing.corners.shape, nothing.room.shape) == ((1, 0, 3), (1, 0, 6))
    assert np.isinf(nothing.limit).all()
    assert nothing.limit.shape == (1, 4, 3)
    assert not nothing.stop.any()
    assert not nothing.wall.any()
    feet = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    trays = [
        Suspension.of_springs(m, np.eye(3) * 0.1, feet, 4e3, c) for m, c in ((8.0, 1e3), (4.0, 9e3))
    ]
    found = Holding.of(Suspension.stacked(trays)).dominant(FLAT.down[:, [0, 2]])
    np.testing.assert_allclose(found, np.sqrt([[2e3, 500.0], [4e3, 9e3]]))
    unknown = Holding.of(
        Suspension.stacked([trays[0], Suspension.of_springs(8.0, np.eye(3), feet, np.nan, 1e3)])
    )
    assert np.isnan(unknown.modes[0][1]).all()
    assert np.isfinite(unknown.modes[0][0]).all()


def test_a_hundred_millionth_of_all_masses_and_stiffnesses_has_as_much_of_the_force() -> None:
    """And of the power that is lost and the energy: no branch is too soft to count."""
    own, least = holding(False, True), 1e-8
    there = own.suspension
    soft = replace(
        own, stop=least * own.stop, wall=least * own.wall, suspension=replace(
            there, mass=least * there.mass, inertia=least * there.inertia,
            curve=there.curve.scaled(least), cable_stiffness=least * there.cable_stiffness,
        ),
    )  # fmt: skip
    laws = [
        Coupled(one, replace(SHELL, mass=share * SHELL.mass), FLAT, own.dominant(FLAT.down),
                "relaxation", G0)
        for one, share in ((own, 1.0), (soft, least))
    ]  # fmt: skip
    states = [some(law) for law in laws]
    states[1][:, BRANCH:] *= least
    states[1][:, WORK] *= least
    for what in ("force", "power", "energy"):
        full, small = (
            law.energy(y) if what == "energy" else law.forces(y, law.seen(y, law.parts(y)[0]))[
                what == "power"
            ]
            for law, y in zip(laws, states, strict=True)
        )  # fmt: skip
        np.testing.assert_allclose(small, least * full, rtol=1e-9)


def test_a_relaxation_element_keeps_half_the_spring_at_the_most() -> None:
    """Lag 1 and 1 − η kept up to η = ½; above it lag ½/η, and half is kept."""
    feet = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    tray = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, 4e3, 2e3, loss_factor=[0, 0.3, 1, 2])
    own = Holding.of(Suspension.stacked([tray]))
    down = Landings(down=WAYS[None, :1], speed=np.ones((1, 1)))
    omega = np.full((1, 1), 20.0)
    law = Coupled(own, Shell.heavy(1), down, omega, "relaxation", G0)
    np.testing.assert_allclose(law.kept[0], [1.0, 0.7, 0.5, 0.5])
    np.testing.assert_allclose(law.forgets[0, 0, :, 0], 20.0 / np.array([1, 1, 0.5, 0.25]))
    wanted = np.array([0, 0.3, 1, 2]) * np.array([2, 2, 2.5, 4.25])
    np.testing.assert_allclose(law.branch[0, :, :, 0], np.outer([4e3, 2e3, 2e3], wanted))
    np.testing.assert_allclose(law.stiffness[0, 0, :, 0], 4e3 * law.kept[0])
    dash = Coupled(own, Shell.heavy(1), down, omega, "viscous", G0)
    wanted = np.outer([4e3, 2e3, 2e3], np.array([0, 0.3, 1, 2])) / 20
    np.testing.assert_allclose(dash.dashpot[0, :, :, 0], wanted)
    # of a curve that hardens its tangent in the unloaded pose counts
    curved = Coupled(
        Holding.of(Suspension.stacked([held(1, True)])), Shell.heavy(1), down, omega, "viscous", G0
    )
    wanted = np.array([0.7, 1.0, 1.3, 0.9]) * LOSS * HARD.tangent(0.0) / 20
    np.testing.assert_allclose(curved.dashpot[0, 0, :, 0], wanted)
    # and of each cable the stiffness along each axis, without a loss factor nothing
    np.testing.assert_allclose(curved.drag[0, :, 0], 0.3 * np.array([900, 500, 700]) / 20)
    lossless = replace(held(1, True), cable_loss=np.array([np.nan]))
    law = Coupled(
        Holding.of(Suspension.stacked([lossless])), Shell.heavy(1), down, omega, "viscous", G0
    )
    np.testing.assert_array_equal(law.drag, 0.0)


def test_modes_of_what_is_held_are_those_of_mass_and_stiffness() -> None:
    """Φᵀ M Φ = 1 and Φᵀ K Φ = ω², the one that moves most along what is down dominates."""
    both = Suspension.stacked([held(s, False) for s in (1, 2)])
    # as hard to turn as to move: all of its modes are near each other
    both = replace(both, inertia=np.array([1.0, 20.0])[:, None, None] * both.inertia)
    own = Holding.of(both)
    value, shape = own.modes
    found = own.dominant(FLAT.down)
    for d in range(2):
        mass, stiff = both.mass_matrix()[d], both.mount_stiffness()[d]
        np.testing.assert_allclose(shape[d].T @ mass @ shape[d], np.eye(6), atol=1e-9)
        square = np.diag(value[d])
        np.testing.assert_allclose(shape[d].T @ stiff @ shape[d], square, atol=1e-6 * value[d, -1])
        for b, way in enumerate(WAYS):
            moves = shape[d].T @ mass @ np.append(way, [0, 0, 0])
            assert found[d, b] == pytest.approx(np.sqrt(value[d, (moves**2).argmax()]))
    # a motion that nothing holds counts as slow, not as still
    one_mount = Suspension.of_springs(2.0, np.eye(3) * 0.01, [(0, 0, 0)], 5e3, 3e3)
    free = Holding.of(Suspension.stacked([one_mount])).modes[0][0]
    np.testing.assert_allclose(free[:3], 1e-9 * 2500.0, rtol=1e-6)


def test_only_one_straight_line_through_zero_is_straight() -> None:
    """Neither one that bends a little, nor one that bends between nodes of one slope."""
    at = np.array([-0.02, 0.0, 0.01, 0.02])
    line = Curve(at, 1e3 * at, np.full(4, 1e3))
    bends = Curve(at, 1e3 * at, np.array([1e3, 1e3, 1e3, 1.01e3]))
    steps = Curve(at, np.array([-20.0, 0.0, 10.2, 20.4]), np.full(4, 1e3))
    starts = Curve(at, 1e3 * at, np.array([1e3, 950.0, 1e3, 1e3]))  # softer only at zero
    for size in (1.0, 1e-5):  # of soft ones too
        for curve, straight in ((line, True), (bends, False), (steps, False), (starts, False)):
            own = curve.scaled(np.array(size))
            each = [Curve.stacked([line, line])] * 3 + [Curve.stacked([own, line])]
            tray = replace(held(1, False), curve=Curve.stacked(each))
            some_ = Holding.of(Suspension.stacked([tray]))
            landings = Landings(down=WAYS[None, :1], speed=np.ones((1, 1)))
            law = Coupled(some_, Shell.heavy(1), landings, np.ones((1, 1)), "viscous", G0)
            assert law.straight is straight


def test_what_is_not_given_is_not_there() -> None:
    heavy = Shell.heavy(2, 0.3)
    np.testing.assert_array_equal(heavy.mass, [np.inf] * 2)
    np.testing.assert_array_equal(heavy.centre, np.zeros((2, 3)))
    np.testing.assert_array_equal(heavy.gyration, np.zeros((2, 3, 3)))
    np.testing.assert_array_equal(heavy.restitution, [0.3] * 2)
    np.testing.assert_array_equal(heavy.stopping, [0.0] * 2)
    assert heavy.foam is None
    assert not heavy.glued
    assert (heavy.foam_damping.tolist(), heavy.foam_returns.tolist()) == ([0.0], [1.0])
    flat = Landings(down=WAYS[None], speed=np.ones((1, 3)))
    assert flat.axis is None
    assert (flat.pivot.tolist(), flat.tilt.tolist(), flat.spin.tolist()) == ([0.0] * 3, 0.0, 0.0)
    start = Start.unloaded((2, 3))
    for vector in (start.shift, start.velocity, start.spin):
        np.testing.assert_array_equal(vector, np.zeros((2, 3, 3)))
    np.testing.assert_array_equal(start.turn, np.broadcast_to(np.eye(3), (2, 3, 3, 3)))


def test_a_wall_pushes_back_by_how_far_each_corner_is_in_it() -> None:
    """Moved without a turn: the force is the sum over corners and faces, each with its own gap."""
    rng = np.random.default_rng(4)
    room = rng.uniform(0.002, 0.012, (2, 8, 6))
    own = replace(
        holding(False, False), room=room, wall=np.array([5e4, 0.0]), corners=np.stack([BOX, BOX])
    )
    law = Coupled(own, Shell.heavy(2), FLAT, own.dominant(FLAT.down), "viscous", G0)
    bare = replace(own, wall=np.zeros(2))
    free = Coupled(bare, Shell.heavy(2), FLAT, law.omega, "viscous", G0)
    y = np.zeros((2, BRANCH, 3))
    y[:, TURN] = np.eye(3).reshape(1, 9, 1)
    moved = np.array([[0.008, -0.006, 0.001], [-0.009, 0.0, 0.007], [0.0, 0.01, -0.011]])
    y[:, SHIFT] = moved.T
    ours = law.parts(y)[1] - free.parts(y)[1]
    for b, way in enumerate(moved):
        low, high = room[0, :, ::2], room[0, :, 1::2]
        over = np.maximum(way - high, 0) - np.maximum(-way - low, 0)
        np.testing.assert_allclose(ours[0, :, b], -5e4 * over.sum(axis=0), atol=1e-9)
    np.testing.assert_array_equal(ours[1], 0.0)


def test_a_shell_on_foam_is_held_up_by_it_and_pressed_by_its_mounts() -> None:
    law = law_of("foam")
    y = some(law)
    mass = law.holding.suspension.mass[:, None]
    presses = mass * (G0 - (law.down * law.rate(y)[:, SPEED]).sum(axis=1))
    foam = np.maximum(
        np.array([[9e4], [7e4]]) * y[:, DOWN] + np.array([[50.0], [90.0]]) * y[:, SINKING], 0
    )
    wanted = G0 + (presses - foam) / SHELL.mass[:, None]
    np.testing.assert_allclose(law.rate(y)[:, SINKING], wanted)


def test_foam_pushes_as_it_is_pressed_and_gives_back_a_share() -> None:
    curve = Curve.straight(np.array([9e4, 7e4]))
    shell = replace(SHELL, foam=curve, foam_damping=np.array([50.0, 90.0]))
    sunk, sinking = np.array([[0.01, 0.02, -0.01]] * 2), np.array([[2.0, -3.0, 1.0]] * 2)
    stiff, drag = np.array([[9e4], [7e4]]), np.array([[50.0], [90.0]])
    loose, glued = Floor(shell, curve), Floor(replace(shell, glued=True), curve)
    plain = stiff * sunk + drag * sinking
    np.testing.assert_allclose(glued.force(sunk, sinking), plain)
    np.testing.assert_allclose(
        loose.force(sunk, sinking), np.where(sunk >= 0, np.maximum(plain, 0), 0)
    )
    fast = loose.force(np.array([[0.001]] * 2), np.array([[-90.0]] * 2))
    np.testing.assert_array_equal(fast, 0.0)  # it does not pull
    tired = Floor(replace(shell, foam_returns=np.array([0.4, 1.0]), glued=True), curve)
    share = np.array([[1.0, 0.4, 1.0], [1.0, 1.0, 1.0]])
    np.testing.assert_allclose(
        tired.force(sunk, sinking), stiff * sunk * share + drag * sinking, rtol=1e-9
    )
    every = Floor(replace(shell, foam_returns=np.array([0.4, 0.4]), glued=True), curve)
    np.testing.assert_allclose(
        every.force(sunk, sinking)[1], (stiff * sunk)[1] * [1, 0.4, 1] + (drag * sinking)[1]
    )
    touch = loose.force(np.zeros((2, 1)), np.full((2, 1), 2.0))  # the dashpot at the first contact
    np.testing.assert_allclose(touch, 2 * drag)
    still = tired.force(sunk, 0 * sinking)
    np.testing.assert_allclose(still, stiff * sunk * [[0.7], [1.0]])  # half way between


def flying(shell: Shell, sinking: list[float], down: float = 0.0) -> tuple[Coupled, np.ndarray]:
    """Shells of one design at a height, all else at rest."""
    own = Holding.of(Suspension.stacked([held(1, False)]))
    b = len(sinking)
    landings = Landings(down=np.broadcast_to(WAYS[0], (1, b, 3)), speed=np.full((1, b), 2.0))
    law = Coupled(own, shell, landings, own.dominant(landings.down), "viscous", G0)
    y = np.zeros((1, BRANCH, b))
    y[:, TURN] = np.eye(3).reshape(1, 9, 1)
    y[:, SINKING], y[:, DOWN] = sinking, down
    y[:, SHIFT] = y[:, None, DOWN] * law.down
    return law, y


def one(**given: object) -> Shell:
    return replace(SHELL.taken(np.array([0])), **given)


def test_a_shell_bounces_until_a_hundredth_is_left() -> None:
    law, y = flying(one(), [2.0, 0.07, 0.06, -1.0, 0.0])
    everything = np.ones((1, 5), dtype=bool)
    wanted = [[True, True, True, False, False]]
    assert law.arrive(np.zeros((1, 5)), y, everything).tolist() == wanted
    np.testing.assert_allclose(y[0, SINKING], [-0.6, -0.021, 0.0, -1.0, 0.0])
    assert law.floats.tolist() == [[1, 1, 0, 1, 1]]
    np.testing.assert_allclose(law.struck, [[2.0, 0.07, 0.06, 0.0, 0.0]])
    np.testing.assert_allclose(law.free[0, 2], G0)  # what it would do if nothing held it
    # what did not move, or is above the floor, does not bounce
    for down, moved in ((0.0, ~everything), (-0.01, everything)):
        law, y = flying(one(), [2.0, 0.07, 0.06, -1.0, 0.0], down)
        before = y.copy()
        assert not law.arrive(np.zeros((1, 5)), y, moved).any()
        np.testing.assert_array_equal(y, before)
    # of 2 m/s just a hundredth is left: it still leaves the floor
    law, y = flying(one(restitution=np.array([0.5])), [0.04, 0.0399])
    law.arrive(np.zeros((1, 2)), y, np.ones((1, 2), dtype=bool))
    np.testing.assert_array_equal(y[0, SINKING], [-0.02, 0.0])
    # what presses on a shell that stays there is what its mounts do
    law, y = flying(one(restitution=np.array([0.0])), [2.0, 2.0])
    y[:, SHIFT] += [[0.001, 0.002]] * law.down
    law.arrive(np.zeros((1, 2)), y, np.ones((1, 2), dtype=bool))
    force = np.add.reduce(law.down * law.parts(y)[1], axis=1)
    np.testing.assert_allclose(law.free, G0 - force / 5.0)
    # without gravity nothing takes a heavy shell off the floor
    own = Holding.of(Suspension.stacked([held(1, False)]))
    landings = Landings(down=WAYS[None, :1], speed=np.ones((1, 1)))
    law = Coupled(own, Shell.heavy(1), landings, own.dominant(landings.down), "viscous", 0.0)
    y = y[:, :, :1].copy()
    y[:, SINKING] = 1.0
    law.arrive(np.zeros((1, 1)), y, np.ones((1, 1), dtype=bool))
    assert law.floats.tolist() == [[0]]


def test_a_shell_that_stops_over_a_time_goes_on_down_and_then_bounces() -> None:
    law, y = flying(one(stopping=np.array([0.01])), [2.0, 0.05])
    everything = np.ones((1, 2), dtype=bool)
    assert law.arrive(np.array([[0.3, 0.3]]), y, everything).all()
    np.testing.assert_array_equal(y[0, SINKING], [2.0, 0.05])
    np.testing.assert_allclose(law.brakes, [[200.0, 5.0]])
    np.testing.assert_allclose(law.stopped_at, 0.31)
    np.testing.assert_allclose(law.rate(y)[0, SINKING], [-200.0, -5.0])
    step = np.full((1, 2), 0.02)
    np.testing.assert_allclose(law.until_event(np.full((1, 2), 0.304), y, step, y), 0.006)
    assert not law.arrive(np.full((1, 2), 0.305), y, everything).any()
    y[:, DOWN] += [[0.01, 0.00025]]
    y[:, SINKING] = 0.0
    assert law.arrive(np.array([[0.31, 0.309]]), y, everything).tolist() == [[True, False]]
    assert law.arrive(np.full((1, 2), 0.31), y, everything)[0, 1]
    np.testing.assert_allclose(y[0, SINKING], [-0.6, 0.0])
    np.testing.assert_allclose(law.level, [[0.01, 0.00025]])
    assert law.floats.tolist() == [[1, 0]]
    # it stops once, and then comes down to where it stopped
    before = y.copy()
    assert not law.arrive(np.full((1, 2), 0.35), y, everything).any()
    np.testing.assert_array_equal(y, before)
    y[0, SINKING, 0], y[0, DOWN, 0] = 0.6, 0.0
    assert not law.arrive(np.full((1, 2), 0.4), y, everything).any()
    y[0, DOWN, 0] = 0.01
    assert law.arrive(np.full((1, 2), 0.4), y, everything).tolist() == [[True, False]]
    # what waits does not stop though its time has come
    waits, y = flying(one(stopping=np.array([0.01])), [2.0, 2.0])
    waits.arrive(np.zeros((1, 2)), y, everything)
    assert waits.arrive(np.full((1, 2), 0.01), y, np.array([[True, False]]))[0].tolist() == [
        True,
        False,
    ]


def test_a_shell_comes_to_the_floor_when_a_parabola_says() -> None:
    """From above at a speed down, and up from the floor and back to it after 2v/g.

    The last but one waits: it has no step. The floor may be where a shell stopped.
    """
    for level in (0.0, 0.01):
        law, y = flying(one(mass=np.array([np.inf])), [1.0, -1.0, -5.0, 0.1, 0.2, 0.0])
        y[0, DOWN] = np.array([-0.02, 0.0, 0.0, -1e-3, -1.0, -0.003]) + level
        law.level[:] = level
        h = np.array([[0.3, 0.3, 0.3, 0.3, 0.0, 0.3]])
        reached = y.copy()
        reached[:, DOWN] = y[:, DOWN] + y[:, SINKING] * h + G0 * h**2 / 2
        found = law.until_event(np.zeros((1, 6)), y, h, reached)
        root = (np.sqrt(1 + 2 * G0 * 0.02) - 1) / G0
        slow = (np.sqrt(0.01 + 2 * G0 * 1e-3) - 0.1) / G0
        wanted = [[root, 2 / G0, 0.3, slow, 0.0, np.sqrt(2 * 0.003 / G0)]]
        np.testing.assert_allclose(found, wanted, rtol=1e-9)
    # at a steady speed on a straight line
    reached[0, DOWN, 3] = y[0, DOWN, 3] + 0.1 * 0.3
    assert law.until_event(np.zeros((1, 6)), y, h, reached)[0, 3] == pytest.approx(0.01)
    law, y = flying(one(mass=np.array([np.inf])), [1.0, -1.0, -5.0])
    h, reached = np.full((1, 3), 0.3), y + 0.1
    y[0, DOWN], y[0, SINKING] = 0.0, 1.0  # no parabola comes down to where it is: halves do
    np.testing.assert_allclose(law.until_event(np.zeros((1, 3)), y, h, y + 0.1), 0.15)
    foam = one(foam=Curve.straight(np.array([9e4])))
    soft, y = flying(foam, [1.0, -1.0, -5.0])
    np.testing.assert_array_equal(soft.until_event(np.zeros((1, 3)), y, h, reached), h)
    assert not soft.arrive(np.zeros((1, 3)), y, np.ones((1, 3), dtype=bool)).any()


def test_a_step_ends_just_after_a_resting_shell_is_lifted() -> None:
    """Between what it would do before and after the step it is a straight line.

    One is lifted in the step, one hardly, one presses on, one flies.
    """
    law, y = flying(one(), [0.0] * 4)
    law._set(np.array([[1, 1, 1, 0]]))
    bit = 1e-4 * law.full[0, 0] * law.omega[0, 0]
    y[:, SHIFT] += [[0.0, 0.0, 0.001, 0.0]] * law.down
    y[0, SHIFT, 1] = (
        -0.9999 * 5.0 * G0 / law.holding.suspension.mount_stiffness()[0, 2, 2] * WAYS[0]
    )
    before = law.sinks(y, law.parts(y)[3])
    assert before[0, 0] == pytest.approx(G0)
    assert 0 < before[0, 1] < 1 < before[0, 2]
    law.free = np.array([[-3.0, -2.0, bit / 2, -3.0]])
    step = np.full((1, 4), 0.01)
    found = law._until_lifted(y, step) / step
    left = before + found * (law.free - before)
    np.testing.assert_allclose(left[0, :2], -bit / 2, rtol=1e-6)
    np.testing.assert_array_equal(found[0, 2:], 1.0)
    y[0, SHIFT, 1] *= 1.1  # what is pulled up already is lifted at once
    assert law._until_lifted(y, step)[0, 1] == pytest.approx(0.01 * bit / 2 / 2.0)
    law.free[:] = bit / 2
    np.testing.assert_array_equal(law._until_lifted(y, step), step)


def test_what_rests_is_lifted_when_mounts_pull_more_than_it_weighs() -> None:
    """5 kg: held up by more than 49 N it flies, else it rests on."""
    law, y = flying(one(), [0.0, 0.0])
    stiff = law.holding.suspension.mount_stiffness()[0, 2, 2]
    for share, flies in ((0.999, False), (1.001, True)):
        for other in (1, 0):  # the other one rests too, or flies off
            y[:, SHIFT] = 0.0
            y[0, SHIFT.start + 2] = [share * 5.0 * G0 / stiff, 0.0]
            law._set(np.array([[1, other]]))
            law.rate(y)
            lifted = law.arrive(np.zeros((1, 2)), y, np.ones((1, 2), dtype=bool))
            assert lifted.tolist() == [[flies, False]]
            assert law.floats.tolist() == [[float(flies), 1.0 - other]]


def test_landings_and_starts_are_picked_repeated_and_tiled() -> None:
    down = frame(np.array([[0, 0.6, 0.8], [1.0, 0, 0]]))  # (2, 3, 3): two designs, three ways
    speed = np.arange(6.0).reshape(2, 3)
    every = Landings(down=down, speed=speed, axis=down, pivot=np.arange(3.0), tilt=np.array(0.1))
    assert every.shape == (2, 3)
    some_ = every.among(np.array([[1], [0]]), np.array([[2, 0], [1, 1]]))
    np.testing.assert_array_equal(some_.speed, [[5, 3], [1, 1]])
    np.testing.assert_array_equal(some_.axis[0, 0], down[1, 2])
    np.testing.assert_array_equal(some_.pivot[1, 1], [0, 1, 2])
    np.testing.assert_array_equal(every.picked([2, 0]).speed, [[2, 0], [5, 3]])
    np.testing.assert_array_equal(every.taken(np.array([1, 1])).down, down[[1, 1]])
    np.testing.assert_array_equal(every.repeated(2).speed[0], [0, 0, 1, 1, 2, 2])
    np.testing.assert_array_equal(every.tiled(2).speed[1], [3, 4, 5, 3, 4, 5])
    assert every.tiled(2).tilt.shape == (2, 6)
    turns = rotation(np.arange(18.0).reshape(2, 3, 3) / 20)
    start = Start(turns[..., 0], turns[..., 1], turns[..., 2], turns)
    np.testing.assert_array_equal(start.repeated(2).shift[:, ::2], turns[..., 0])
    np.testing.assert_array_equal(
        start.among(np.array([[1]]), np.array([[2]])).turn[0, 0], turns[1, 2]
    )
    both = replace(SHELL, foam=Curve.straight(np.array([9e4, 7e4])), foam_damping=np.array([5.0]))
    one_, other = both.taken(np.array([1])), both.taken(np.array([0, 1, 0]))
    assert one_.mass.tolist() == [3.0]
    assert one_.foam.slope.shape[0] == 1
    assert one_.foam.slope[0, 0] == 7e4
    assert other.foam_damping.tolist() == [5.0] * 3
    np.testing.assert_allclose(other.lightness, [0.2, 1 / 3, 0.2])


def test_all_instants_as_one_batch() -> None:
    """States (t, d, k, b) side by side have the rates of each instant alone."""
    law = law_of("turns", "relaxation")
    y = some(law)
    states = np.stack([y, 0.5 * y, y])
    every, flat = law.at(states)
    assert flat.shape == (2, y.shape[1], 9)
    parts, own = every.parts(flat), law.parts(y)
    for whole, single in zip(parts, own, strict=True):
        np.testing.assert_allclose(whole[..., :3], single, rtol=1e-12)
        np.testing.assert_allclose(whole[..., 6:], single, rtol=1e-12)

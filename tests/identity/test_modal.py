"""Landings by modes: as integrated where all is linear, and refused where it is not."""

import itertools
from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq

from isolator import modal
from isolator.coupled import Coupled, Holding, Landings, Shell, Start
from isolator.course import Course
from isolator.curve import Curve
from isolator.landing import _state, land, lasting, ring
from isolator.suspension import Suspension, rotation
from isolator.units import G0

WAYS = [np.array(v, dtype=float) for v in itertools.product((-1, 0, 1), repeat=3) if any(v)]
DOWN = np.array([way / np.linalg.norm(way) for way in WAYS])
LIGHT = Shell(np.array([4.0]), np.zeros((1, 3)), 0.02 * np.eye(3)[None], np.zeros(1), np.zeros(1))


def tray(height=0.0, loss=0.2, along=9e3):
    """8 kg on four upright mounts so far below its centre."""
    feet = [(x, y, -height) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
    inertia = np.diag([0.08, 0.12, 0.15])
    return Suspension.of_springs(8.0, inertia, feet, along, 5e3, loss_factor=loss)


def crooked():
    """Mounts that differ in stiffness and damping, products of inertia, and two lossy cables."""
    rng = np.random.default_rng(3)
    held = Suspension.of_springs(
        9.5,
        np.array([[0.30, 0.03, -0.02], [0.03, 0.35, 0.04], [-0.02, 0.04, 0.40]]),
        rng.uniform(-0.3, 0.3, (5, 3)),
        rng.uniform(2e3, 4e4, 5),
        rng.uniform(1e3, 2e4, 5),
        push=(lambda v: v / np.linalg.norm(v, axis=-1, keepdims=True))(rng.normal(size=(5, 3))),
        loss_factor=rng.uniform(0, 0.5, 5),
    )
    return replace(
        held,
        cable_position=rng.uniform(-0.2, 0.2, (2, 3)),
        cable_stiffness=rng.uniform(100, 3000, (2, 3)),
        cable_loss=np.array([0.3, np.nan]),
    )


BOX = np.array(list(itertools.product((-0.2, 0.2), (-0.15, 0.15), (-0.07, 0.07))))


def holding(*designs):
    held = Holding.of(Suspension.stacked(designs))
    boxes = np.broadcast_to(BOX, (len(designs), 8, 3))
    return replace(held, corners=boxes, room=np.full((len(designs), 8, 6), np.inf))


def lands(speed, count=1, down=DOWN):
    size = (count, len(down))
    return Landings(down=np.broadcast_to(down, (*size, 3)), speed=np.full(size, speed))


def at_rest(landings):
    return Start.unloaded(landings.shape)


UP = np.array([[0.0, 0.0, -1.0]])


def both(held, shell, landings, tolerance=1e-10, **given):
    """By modes and integrated, from unloaded mounts; all of it accepted."""
    start = given.pop("start", at_rest(landings))
    own = land(held, shell, landings, start, **given)
    step = land(held, shell, landings, start, closed=False, tolerance=tolerance, **given)
    assert own[0].closed.all()
    assert not step[0].closed.any()
    assert own[0].converged.all()
    assert step[0].converged.all()
    return own, step


def same_end(own: Course, step: Course, share=1e-6):
    """What the last instant shows, as a share of the largest that the course shows."""
    for name in (f.name for f in fields(Course)):
        last, other = (getattr(c, name)[-1] for c in (own, step))
        size = np.abs(getattr(step, name)).max()
        np.testing.assert_allclose(last, other, rtol=0, atol=share * max(size, 1e-300))


@pytest.mark.parametrize("share", [0.05, 0.13, 0.31, 0.62, 1.0])
@pytest.mark.parametrize("back", [0.0, 0.4])
def test_a_tray_that_does_not_turn_is_as_integrated(share, back):
    """With its centre between the mounts no landing turns it: linear at any speed."""
    held, shell, landings = holding(tray()), Shell.heavy(1, back), lands(3.0)
    until = share * lasting(held, shell, landings)
    (own, course), (step, other) = both(held, shell, landings, until=until)
    same_end(course, other)
    np.testing.assert_allclose(own.struck, step.struck, rtol=1e-9)
    assert (own.closure < 1e-9).all()


@pytest.mark.parametrize("share", [0.1, 0.4, 1.0])
def test_a_crooked_one_is_as_integrated_where_turns_are_small(share):
    """At 10 µm/s it turns by micro-radians; without gravity, whose sag turns it by more.

    The integrator's errors count as shares of a sag, so it has to be sharper.
    """
    held, shell, landings = holding(crooked()), Shell.heavy(1), lands(1e-5)
    until = share * lasting(held, shell, landings)
    points = np.array([[[0.0, 0, 0], [0.2, 0.1, -0.1]]])
    given = {"until": until, "points": points, "gravity": 0.0, "tolerance": 1e-13}
    (_, course), (_, other) = both(held, shell, landings, **given)
    same_end(course, other, 3e-6)


def test_the_payload_may_swing_when_it_lands():
    held, shell, landings = holding(tray()), Shell.heavy(1, 0.3), lands(2.0)
    fall = np.full(landings.shape, 0.3)
    start = ring(held, shell, landings.down, fall, phases=2)
    (_, course), (_, other) = both(held, shell, landings.repeated(2), start=start)
    same_end(course, other)


def test_peaks_ranges_and_forces_are_as_integrated(monkeypatch):
    """To 1e-6 with instants close enough, and to `PEAK` with those that are used."""
    held, shell, landings = holding(tray()), Shell.heavy(1), lands(3.0)
    until = 0.4 * lasting(held, shell, landings)
    (rough, _), (step, _) = both(held, shell, landings, until=until)
    monkeypatch.setattr(modal, "PEAK", 1e-7)
    monkeypatch.setattr(modal, "MOST", 10**4)
    fine, _ = land(held, shell, landings, at_rest(landings), until=until)
    assert fine.closed.all()
    for name in ("peak", "low", "high", "across", "force"):
        true = getattr(step, name)
        for mine, share in ((fine, 1e-6), (rough, 1e-4)):
            np.testing.assert_allclose(
                getattr(mine, name), true, rtol=share, atol=share * np.abs(true).max()
            )


@pytest.mark.parametrize("loss", [0.0, 1.0, 2.0, 2.2])
def test_every_damping_up_to_above_critical(loss):
    """Equal springs all round: η/2 of critical along each landing, from none to above it.

    At critical damping itself eigenvectors fall together, and it is integrated.
    """
    feet = [(x, y, 0.0) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
    held = Suspension.of_springs(8.0, np.diag([0.08, 0.12, 0.15]), feet, 5e3, 5e3, loss_factor=loss)
    landings, shell = lands(2.0), Shell.heavy(1)
    until = 0.5 * lasting(holding(held), shell, landings)
    given = {"until": until, "tolerance": 1e-10}
    own, course = land(holding(held), shell, landings, at_rest(landings), **given)
    _, other = land(holding(held), shell, landings, at_rest(landings), closed=False, **given)
    assert own.closed.all() == (loss != 2.0)
    same_end(course, other)


def test_a_light_shell_stays_closed_while_the_floor_holds_it():
    """It weighs 39 N; undamped, 0.05 m/s call up 8 kg·ωV = 27 N and 0.5 m/s ten times that."""
    held = holding(tray())
    (_, course), (_, other) = both(held, LIGHT, lands(0.05, down=UP))
    same_end(course, other)
    lifted, _ = land(held, LIGHT, lands(0.5, down=UP), at_rest(lands(0.5, down=UP)))
    assert not lifted.closed.any()
    assert lifted.converged.all()


def hard():
    curve = Curve.through([0, 0.02, 0.03, 0.04], [0, 180, 400, 1200])
    straight = Curve.straight(np.array(5e3))
    one = Curve.stacked([curve, straight])
    held = tray()
    return replace(held, curve=Curve.stacked([one] * 4))


def stopped(limit, stop=1e6):
    held = holding(tray())
    return replace(held, limit=np.full((1, 4, 3), limit), stop=np.full((1, 4), stop))


def walled(room):
    return replace(holding(tray()), room=np.full((1, 8, 6), room), wall=np.array([1e6]))


def one_way():
    up = holding(tray())
    return replace(up, one_way=np.ones((1, 4), dtype=bool))


# a first compression of 2 m/s takes 2/√(36e3/8) = 30 mm undamped
NO = {
    "the curve hardens": (holding(hard()), 2.0),
    "a stop is met": (stopped(0.02), 2.0),
    "a wall is met": (walled(0.02), 2.0),
    "a mount that lets go is pulled": (one_way(), 2.0),
    "it turns too far": (holding(tray(height=0.08)), 2.0),
}
YES = {
    "a stop is not met": (stopped(0.04), 2.0),
    "what is beyond a limit goes on": (stopped(0.02, 0.0), 2.0),
    "a wall is not met": (walled(0.04), 2.0),
}


@pytest.mark.parametrize(("held", "speed"), NO.values(), ids=NO.keys())
def test_what_does_not_stay_linear_is_integrated(held, speed):
    """And says what the integrator alone says."""
    high = held.suspension.position[0, 0, 2] < 0
    landings = lands(speed, down=np.array([[1.0, 0, 0]]) if high else UP)
    own, course = land(held, Shell.heavy(1), landings, at_rest(landings))
    step, other = land(held, Shell.heavy(1), landings, at_rest(landings), closed=False)
    assert not own.closed.any()
    np.testing.assert_array_equal(own.peak, step.peak)
    np.testing.assert_array_equal(course.time, other.time)


@pytest.mark.parametrize(("share", "closed"), [(0.9999, False), (1.02, True)])
def test_a_graze_is_a_touch(share, closed):
    """A soft stop or wall, met by a ten-thousandth of the travel, adds 3e-6 of the force."""
    landings, shell = lands(2.0, down=UP), Shell.heavy(1)
    travel = land(holding(tray()), shell, landings, at_rest(landings))[0].high[0, 0, 0, 0]
    for held in (
        stopped(share * travel, 1e3),
        replace(walled(share * travel), wall=np.array([1e3])),
    ):
        assert land(held, shell, landings, at_rest(landings))[0].closed.all() == closed


@pytest.mark.parametrize(("held", "speed"), YES.values(), ids=YES.keys())
def test_what_stays_linear_is_not(held, speed):
    (own, course), (step, other) = both(held, Shell.heavy(1), lands(speed, down=UP))
    same_end(course, other)
    np.testing.assert_allclose(own.metal, step.metal, atol=0.1)


@pytest.mark.parametrize("kind", ["relaxation", "stopping", "foam", "lively", "turning"])
def test_what_has_no_closed_form_here_is_integrated(kind):
    held, landings, shell = holding(tray()), lands(1.0, down=UP), Shell.heavy(1)
    given = {"damping": "relaxation"} if kind == "relaxation" else {}
    if kind == "stopping":
        shell = replace(shell, stopping=np.array([0.01]))
    if kind == "foam":
        shell = replace(LIGHT, foam=Curve.straight(np.array([1e5])))
    if kind == "lively":
        shell = replace(LIGHT, restitution=np.array([0.4]))
    if kind == "turning":
        axis, pivot = np.array([[[0.0, 1.0, 0.0]]]), np.array([[[-0.3, 0.0, -0.2]]])
        landings = replace(landings, axis=axis, pivot=pivot, tilt=np.full((1, 1), 0.05))
        shell = LIGHT
    landed, _ = land(held, shell, landings, at_rest(landings), **given)
    assert landed.converged.all()
    assert not landed.closed.any()


@pytest.mark.heavy
def test_a_batch_takes_each_motion_by_its_own_way():
    """Three designs: all closed, none, and only the landings along which the curve is straight."""
    every, none = stopped(0.2), stopped(1e-4)
    some = replace(every, limit=np.where([True, False, False], 0.01, every.limit))
    mixed = replace(
        holding(tray(), tray(), tray()),
        limit=np.concatenate([h.limit for h in (every, none, some)]),
        stop=np.concatenate([h.stop for h in (every, none, some)]),
    )
    flat = np.concatenate([np.eye(3), -np.eye(3)])
    landings, shell = lands(2.0, 3, flat), Shell.heavy(3, 0.3)
    own, course = land(mixed, shell, landings, at_rest(landings), tolerance=1e-7)
    assert own.closed.tolist() == [[True] * 6, [False] * 6, [True, True, False] * 2]
    assert own.converged.all()
    step, other = land(mixed, shell, landings, at_rest(landings), closed=False, tolerance=1e-7)
    for name in ("peak", "low", "high", "force", "struck"):
        mine, true = getattr(own, name), getattr(step, name)
        np.testing.assert_allclose(mine, true, rtol=2e-4, atol=2e-4 * np.abs(true).max())
    assert (np.diff(course.time, axis=0) >= 0).all()
    np.testing.assert_allclose(course.time[-1], other.time[-1], rtol=1e-12)


def test_a_shell_that_hops_on_is_integrated(monkeypatch):
    """It comes down with e·V after 2eV/g, and so on until under a hundredth is left."""
    monkeypatch.setattr(modal, "HOPS", 2)
    held, landings = holding(tray()), lands(0.05, down=UP)
    few, _ = land(held, Shell.heavy(1, 0.05), landings, at_rest(landings))
    many, _ = land(held, Shell.heavy(1, 0.5), landings, at_rest(landings))
    assert few.closed.all()
    assert not many.closed.any()
    assert few.struck[0, 0] == pytest.approx(0.05 * 0.05, rel=1e-12)
    assert many.struck[0, 0] == pytest.approx(0.5 * 0.05, rel=1e-3)


def test_the_first_hop_lasts_twice_its_speed_over_g():
    held, landings = holding(tray()), lands(2.0, down=UP)
    _, course = land(held, Shell.heavy(1, 0.4), landings, at_rest(landings))
    time, sunk = course.time[:, 0, 0], course.sunk[:, 0, 0]
    lands_at = 2 * 0.8 / G0
    (index,) = np.flatnonzero(np.isclose(time, lands_at, rtol=1e-12))[:1]
    assert time[index + 1] == time[index]
    assert sunk[index] == pytest.approx(0, abs=1e-12)
    assert sunk.min() == pytest.approx(-(0.8**2) / (2 * G0), rel=1e-3)


def instants(loss, down=UP):
    """How many a landing of a tray that only bounces or sways is shown at, and until when."""
    held, landings, shell = holding(tray(loss=loss)), lands(2.0, down=down), Shell.heavy(1)
    until = lasting(held, shell, landings)
    landed, course = land(held, shell, landings, at_rest(landings))
    assert landed.closed.all()
    return len(course.time), float(until[0, 0])


@pytest.mark.parametrize("loss", [0.0, 0.2, 0.9])
def test_instants_are_as_close_as_a_peak_asks(loss):
    """.0234 (ωh)⁴ + .128 δω²h³ of a peak is missed: with that `PEAK` no more are taken."""
    omega = np.sqrt(4 * 9e3 / 8)
    delta = loss / 2 * omega
    step = brentq(
        lambda h: 0.0234 * (omega * h) ** 4 + 0.128 * delta * omega**2 * h**3 - modal.PEAK, 0, 1
    )
    count, until = instants(loss)
    assert count == int(np.ceil(until / step)) + 2


def test_a_soft_stop_is_one_and_none_is_none():
    landings = lands(2.0, down=UP)
    for stop, closed in ((0.5, False), (0.0, True)):
        landed, _ = land(stopped(0.02, stop), Shell.heavy(1), landings, at_rest(landings))
        assert landed.closed.all() == closed


def test_a_stop_that_only_a_push_or_a_pull_meets():
    """30 mm pushed by 2 m/s, and on its way back some pulled."""
    landings = lands(2.0, down=UP)
    for limit, closed in (([0.02, 0.5, 0.5], False), ([0.5, 0.005, 0.5], False), ([0.5] * 3, True)):
        held = replace(stopped(0.5), limit=np.broadcast_to(limit, (1, 4, 3)))
        landed, _ = land(held, Shell.heavy(1), landings, at_rest(landings))
        assert landed.closed.all() == closed


def test_it_may_land_turned_and_turning():
    """By micro-radians about every axis, off its place and moving in the shell."""
    held, shell, landings = holding(crooked()), Shell.heavy(1), lands(1e-5, down=UP)
    small = 1e-6 * np.array([[[1.0, -2.0, 3.0]]])
    start = Start(2e-7 * small / 1e-6, 4 * small, 50 * small, rotation(small))
    until = 0.3 * lasting(held, shell, landings)
    given = {"until": until, "gravity": 0.0, "tolerance": 1e-13, "start": start}
    (_, course), (_, other) = both(held, shell, landings, **given)
    same_end(course, other, 3e-5)
    np.testing.assert_allclose(course.local[0], other.local[0], atol=1e-11)


@pytest.mark.parametrize("order", [1, -1])
def test_the_fastest_hop_says_how_close_instants_are_however_small_it_is(order):
    """Of two hops one swings slowly and far, the other fast and by little."""
    value = np.array([-3.0 + 40.0j, -5.0 + 200.0j])
    part = np.array([[1.0, 0.0], [0.0, 1e-4]])[::order, None, None].astype(complex)
    still = np.zeros((2, 1, 1))
    hops = modal._Hops(start=still, up=still, middle=np.zeros((2, 1, 1, 12)), part=part)
    count = hops.instants(SimpleNamespace(value=value[None, None]), np.array([[0.3]]))
    fast, delta = abs(value[1]), 5.0
    step = brentq(
        lambda h: 0.0234 * (fast * h) ** 4 + 0.128 * delta * fast**2 * h**3 - modal.PEAK, 0, 1
    )
    assert count.tolist() == [[int(np.ceil(0.3 / step)) + 2]]


def test_one_that_creeps_back_and_one_that_swings_are_each_as_alone():
    """Above critical damping no exponentials come in pairs: there are more of them."""
    feet = [(x, y, 0.0) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
    inertia = np.diag([0.08, 0.12, 0.15])
    pair = [
        Suspension.of_springs(8.0, inertia, feet, 5e3, 5e3, loss_factor=loss) for loss in (2.2, 0.2)
    ]
    landings = lands(2.0, 2)
    until = 0.5 * lasting(holding(*pair), Shell.heavy(2), landings)
    together, course = land(
        holding(*pair), Shell.heavy(2), landings, at_rest(landings), until=until
    )
    assert together.closed.all()
    for d, held in enumerate(pair):
        one = lands(2.0)
        own, other = land(holding(held), Shell.heavy(1), one, at_rest(one), until=until[d : d + 1])
        np.testing.assert_allclose(together.peak[d], own.peak[0], rtol=4e-4)
        np.testing.assert_allclose(course.velocity[-1, d], other.velocity[-1, 0], atol=1e-9)
        np.testing.assert_allclose(course.local[-1, d], other.local[-1, 0], atol=1e-12)


def bent(at, more):
    """The tray on mounts that are straight up to a share of v/ω and harder beyond; v/ω, ω."""
    held = tray(loss=0.0)
    omega = np.sqrt(4 * 9e3 / 8)
    peak = 2.0 / omega
    kink = at * peak
    nodes = np.array([-3 * peak, -kink, -kink, 0.0, kink, kink, 3 * peak])
    inner = np.clip(nodes, -kink, kink)
    force = 9e3 * (inner + (1 + more) * (nodes - inner))
    slope = 9e3 * np.array([1 + more, 1 + more, 1, 1, 1, 1 + more, 1 + more])
    along = Curve(nodes, force, slope)
    across = Curve(nodes, 5e3 * nodes, np.full(7, 5e3))
    curve = Curve.stacked([Curve.stacked([along, across])] * 4)
    return holding(replace(held, curve=curve)), omega


@pytest.mark.parametrize("share", np.linspace(0.6, 0.9, 7))
def test_a_bend_that_only_the_top_of_a_motion_meets_is_met(share):
    """Wherever the instants lie that are asked: half a period from v/ω and back."""
    landings = lands(2.0, down=UP)
    for at, closed in ((0.97, False), (1.01, True)):
        held, omega = bent(at, 2.0)
        until = np.array([[share * np.pi / omega]])
        landed, _ = land(
            held, Shell.heavy(1), landings, at_rest(landings), until=until, gravity=0.0,
            tolerance=1e-3,
        )  # fmt: skip
        assert landed.closed.all() == closed


def test_a_thousandth_of_the_force_is_let_pass_and_no_more():
    """Harder by a share s from half of the way on: at the top the force is off by s/2."""
    landings = lands(2.0, down=UP)
    for off, closed in ((0.8, True), (1.25, False)):
        held, omega = bent(0.5, 2 * off * 1e-3)
        until = np.array([[0.75 * np.pi / omega]])
        landed, _ = land(
            held, Shell.heavy(1), landings, at_rest(landings), until=until, gravity=0.0,
            tolerance=1e-3,
        )  # fmt: skip
        assert landed.closed.all() == closed
        if closed:  # the energy is off by s/2·(1 − ½)² of what it had to lose, at the top
            assert 0.5 < landed.closure[0, 0] / (2 * off * 1e-3 / 4) <= 1 + 1e-6


def test_a_motion_begins_with_the_place_turn_and_rates_of_its_start():
    """Taken apart into modes and made up again, by turns up to 80°, each of its own motion."""
    rng = np.random.default_rng(4)
    pair = crooked(), replace(crooked(), mass=np.array(7.0))
    held, landings = holding(*pair), lands(1.5, 2, DOWN[:3])
    turn = rng.normal(size=(2, 3, 3)) * 0.4
    shift, velocity, spin = rng.normal(size=(3, 2, 3, 3)) * 0.01
    omega = held.dominant(landings.down)
    law = Coupled(held, Shell.heavy(2), landings, omega, "viscous", G0)
    modes = modal._Modes.of(law)
    z = modal._first(law, modes, _state(law, Start(shift, velocity, spin, rotation(turn))))
    back = np.swapaxes(modes.shape, -1, -2)
    place, rate = (z[..., :6] / modes.omega[:, None]) @ back, z[..., 6:] @ back
    np.testing.assert_allclose(place, np.concatenate([shift, turn], axis=-1), atol=1e-12)
    np.testing.assert_allclose(rate, np.concatenate([velocity, spin], axis=-1), atol=1e-12)

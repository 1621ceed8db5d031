"""Landings by modes: as integrated where all is linear, and refused where it is not."""

import itertools
from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq

from isolator import modal
from isolator.coupled import Coupled, Holding, Landings, Shell, Start
from isolator.course import Course, _shown
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


def test_in_one_hop_each_counts_by_its_share_of_the_fastest_rate():
    """At 40 and at 200 rad/s, the faster a twentieth as far: a quarter as fast."""
    value = np.array([40.0j, 200.0j])
    part = np.array([[1.0, 0.05]], dtype=complex)[:, None, None]
    still = np.zeros((1, 1, 1))
    hops = modal._Hops(start=still, up=still, middle=np.zeros((1, 1, 1, 12)), part=part)
    count = hops.instants(SimpleNamespace(value=value[None, None]), np.array([[0.3]]))
    step = (modal.PEAK / 0.0234 / (40.0**4 + 200.0**4 / 4)) ** 0.25
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


def skewed(gravity=1e-4, back=(0.4, 0.0), mounts=1.3):
    """Two crooked designs in three landings each, all different, by so little that all is linear.

    Their law, modes, hops and until when: the first rebounds twice and then rests.
    """
    other = replace(
        crooked(), mass=np.array(7.0), curve=crooked().curve.scaled(mounts),
        loss_factor=0.6 * crooked().loss_factor, inertia=1.5 * crooked().inertia,
    )  # fmt: skip
    held = holding(crooked(), other)
    held = replace(held, corners=np.stack([BOX, 0.7 * BOX + 0.02]))
    rng = np.random.default_rng(8)
    down = np.stack([DOWN[[0, 4, 11]], DOWN[[7, 15, 20]]])
    landings = Landings(down=down, speed=1e-5 * np.array([[1.0, 2.0, 1.5], [2.0, 1.0, 3.0]]))
    shift, velocity, spin, turn = rng.normal(size=(4, 2, 3, 3)) * 1e-7
    start = Start(shift, 40 * velocity, 300 * spin, rotation(turn))
    omega = held.dominant(landings.down)
    law = Coupled(held, Shell.heavy(2, np.array(back)), landings, omega, "viscous", gravity)
    state = _state(law, start)
    law.arrive(np.zeros(law.shape), state, np.full(law.shape, True))
    law.struck = np.zeros(law.shape)
    modes = modal._Modes.of(law)
    until = np.full(law.shape, 0.5)
    hops, landed = modal._Hops.of(law, modes, state, until)
    assert landed.all()
    return law, state, modes, hops, until


def near(ours, true, share):
    """Arrays (t, d, k, b) that differ by no more than a share of the largest of each motion."""
    size = np.abs(true).max(axis=(0, 2), keepdims=True)
    assert (np.abs(ours - true) <= share * size).all()


PAYLOAD = (slice(0, 9), slice(9, 12), slice(12, 15), slice(15, 18))


@pytest.mark.parametrize("gravity", [0.0, 1e-4])
def test_at_every_instant_the_closed_form_obeys_the_law(gravity):
    """What grows from instant to instant is the rate of the law, and the energy closes."""
    law, state, modes, hops, until = skewed(gravity)
    time, hop = hops.seen(until[..., None] * np.linspace(0.02, 0.98, 7))
    small = 1e-5

    def states(by):
        z, q, qd = hops.along(modes, time + by, hop, gravity)
        return modal._states(law, modes, z, q, qd), q, qd

    (late, q1, qd1), (early, q0, qd0), (here, _, qd) = (states(by) for by in (small, -small, 0))
    assert here.shape == (time.shape[2], *state.shape)
    every, y = law.at(here)
    grown, rate = (late - early) / (2 * small), every.rate(y)
    d, b = law.shape
    rate = np.moveaxis(rate.reshape(d, -1, len(here), b), 2, 0)
    for own in PAYLOAD:
        near(grown[:, :, own], rate[:, :, own], 1e-5)
    np.testing.assert_allclose((q1 - q0) / (2 * small), qd, rtol=1e-6, atol=1e-13)
    flies = np.where(np.take_along_axis(np.moveaxis(hops.up, 0, -1), hop, -1) > 0, gravity, 0.0)
    np.testing.assert_allclose((qd1 - qd0) / (2 * small), flies, rtol=1e-6, atol=1e-11)
    energy = np.moveaxis(every.energy(y).reshape(d, len(here), b), 1, 0)
    lost = np.abs(here[:, :, 20]).max(axis=0)
    assert (np.abs(energy - energy[0]).max(axis=0) < 1e-5 * lost).all()
    z, q, qd = hops.along(modes, 0 * time[..., :1], 0 * hop[..., :1], gravity)
    first = modal._states(law, modes, z, q, qd)
    for own in (*PAYLOAD, slice(19, 20)):
        near(first[:, :, own], state[None, :, own], 1e-9)
    np.testing.assert_array_equal(first[:, :, 20], 0.0)
    if not gravity:
        assert len(hops.start) == 1


def test_when_the_shell_meets_the_floor_the_payload_goes_on():
    """The shell comes down as fast as it went up, and goes up with its restitution of that."""
    law, _, modes, hops, until = skewed()
    speed = law.landings.speed[0]
    np.testing.assert_allclose(
        hops.up[:, 0], np.outer([0.4, 0.16, 0.064, 0.0256, 0.01024, 0], speed)
    )
    np.testing.assert_array_equal(hops.up[:, 1], 0.0)
    flight = 2 * hops.up[:-1, 0] / 1e-4
    for k in range(len(flight)):
        lands = np.isfinite(hops.start[k + 1, 0])
        np.testing.assert_allclose(
            (hops.start[k] + 0 * until)[0, lands] + flight[k, lands], hops.start[k + 1, 0, lands]
        )
    for k in range(1, len(hops.start)):
        real = np.isfinite(hops.start[k])
        at = np.where(real, hops.start[k], 0.0)[..., None]
        sides = []
        for hop in (k - 1, k):
            z, q, qd = hops.along(modes, at, np.where(real, hop, 0)[..., None], 1e-4)
            sides.append(modal._states(law, modes, z, q, qd))
        assert real[0].any()
        for own in PAYLOAD:
            before, after = (side[0][:, own].swapaxes(1, 2)[real] for side in sides)
            size = np.abs(before).max(axis=-1, keepdims=True)
            assert (np.abs(before - after) <= 1e-9 * size).all()
        came, goes = (side[0][:, 19][real] for side in sides)
        np.testing.assert_allclose(-goes[came > 0], hops.up[k][real][came > 0])
    assert np.isinf(hops.start[1:, 1]).all()
    # both sides of each landing are among the instants
    time, hop = hops.seen(until[..., None] * np.linspace(0.0, 1.0, 50))
    for j in range(3):
        for k in np.flatnonzero(np.isfinite(hops.start[:, 0, j]))[1:]:
            at = time[0, j] == hops.start[k, 0, j]
            assert hop[0, j, at].tolist() == [k - 1, k]


def test_what_a_closed_form_shows_is_what_the_law_has_of_its_states():
    """Mounts, their forces, corners and points of two designs in three landings each."""
    law, _, modes, hops, until = skewed()
    time, hop = hops.seen(until[..., None] * np.linspace(0.0, 1.0, 9))
    z, q, qd = hops.along(modes, time, hop, 1e-4)
    states = modal._states(law, modes, z, q, qd)
    rng = np.random.default_rng(1)
    some = rng.uniform(-0.2, 0.2, (2, 4, 3))
    some[:, 0] = 0.0
    for points in (np.zeros((2, 1, 3)), some):
        course = modal._course(law, modes, time, z, q, qd, points)
        shown = _shown(law, states, points)
        np.testing.assert_array_equal(course.time, np.moveaxis(time, 2, 0))
        for name, true in zip(("specific_force", "local", "force", "corners"), shown, strict=True):
            ours, size = getattr(course, name), np.abs(true).max(axis=0, keepdims=True)
            size = size.max(axis=tuple(range(3, size.ndim)), keepdims=True)
            assert (np.abs(ours - true) <= 1e-5 * size).all(), name
        np.testing.assert_allclose(course.sunk, states[:, :, 18], rtol=1e-9, atol=1e-18)
        np.testing.assert_allclose(course.velocity, states[:, :, 15:18].swapaxes(2, 3), rtol=1e-9)


def test_points_of_a_payload_that_spins_fast_feel_it():
    """ω² r towards the axis, at an instant in which no mount is deflected; exact for a ball."""
    law, _, _, _, _ = skewed()
    ball = replace(law.holding.suspension, inertia=np.stack([0.3 * np.eye(3), 0.4 * np.eye(3)]))
    held = replace(law.holding, suspension=ball)
    law = Coupled(
        held, Shell.heavy(2), law.landings, held.dominant(law.landings.down), "viscous", 0.0
    )
    modes = modal._Modes.of(law)
    rng = np.random.default_rng(5)
    z = np.zeros((2, 3, 4, 12))
    z[..., 6:] = rng.normal(size=(2, 3, 4, 6)) * 4
    time = np.zeros((2, 3, 4))
    points = rng.uniform(-0.2, 0.2, (2, 5, 3))
    course = modal._course(law, modes, time, z, time, time, points)
    shown = _shown(law, modal._states(law, modes, z, time, time), points)
    np.testing.assert_allclose(course.specific_force, shown[0], rtol=1e-9)
    np.testing.assert_allclose(course.force, shown[2], rtol=1e-9)


def test_which_motions_meet_a_stop_or_a_wall():
    """From 0.99 of a limit on, one way of one mount or one corner, where something resists."""
    rng = np.random.default_rng(9)
    t, d, b, n = 5, 2, 3, 4
    limit = rng.uniform(0.01, 0.03, (d, n, 3))
    room = rng.uniform(0.01, 0.03, (d, 8, 6))
    stop, wall = np.array([[0.5, 0.0, 3e4, 1e5], [0.0, 2e4, 0.5, 7.0]]), np.array([0.5, 0.0])
    for draw in range(60):
        holds = SimpleNamespace(limit=limit, stop=stop, wall=wall)
        law = SimpleNamespace(
            holding=holds, shape=(d, b), room=room.reshape(d, -1, 2),
            stop=stop if draw % 2 == 0 else None, wall=wall if draw % 2 else None,
        )  # fmt: skip
        local, corners = np.zeros((t, d, b, n, 3)), np.zeros((t, d, b, 8, 3))
        for _ in range(4):  # one way of one, to just below or just above
            k, i, j = (int(rng.integers(m)) for m in (t, d, b))
            share = rng.choice([0.9899, 0.9901])
            if draw % 2:
                c, side = int(rng.integers(8)), int(rng.integers(6))
                corners[k, i, j, c, side // 2] = share * room[i, c, side] * (1, -1)[side % 2 == 0]
            else:
                m, way, angle = int(rng.integers(n)), int(rng.integers(3)), rng.uniform(0, 6)
                far = share * limit[i, m, way]
                local[k, i, j, m] = {
                    0: [far, 0, 0], 1: [-far, 0, 0],
                    2: [0, far * np.cos(angle), far * np.sin(angle)],
                }[way]  # fmt: skip
        found = modal._touches(law, SimpleNamespace(local=local, corners=corners))
        for i, j in itertools.product(range(d), range(b)):
            meets = False
            for k in range(t):
                for m in range(n):
                    x, y, w = local[k, i, j, m]
                    ways = np.array([x, -x, np.hypot(y, w)])
                    meets |= (
                        law.stop is not None
                        and stop[i, m] > 0
                        and (ways > 0.99 * limit[i, m]).any()
                    )
                for c in range(8):
                    ways = np.stack([-corners[k, i, j, c], corners[k, i, j, c]], axis=-1).ravel()
                    meets |= (
                        law.wall is not None and wall[i] > 0 and (ways > 0.99 * room[i, c]).any()
                    )
            assert found[i, j] == meets


@pytest.mark.parametrize("part", ["local", "corners"])
def test_what_is_off_by_more_than_a_thousandth_is_not_alike(part):
    """In one motion of six; the largest of each motion is its own measure.

    At its last instant, or where its mounts are deflected or itself is pushed most.
    """
    law, _, modes, hops, until = skewed()
    share = np.linspace(0.0, 1.0, 82)  # the last is no fourth one
    z, q, qd = hops.along(modes, until[..., None] * share, np.zeros((2, 3, 82), int), 1e-4)
    course = modal._course(law, modes, until[..., None] * share, z, q, qd, np.zeros((2, 1, 3)))
    closure, alike = modal._alike(law, modes, course, z, q, qd)
    assert alike.all()
    assert (closure < 1e-4).all()
    bent = (course.local**2).sum(axis=(-1, -2)).argmax(axis=0)
    pushed = course.specific_force[..., 0].argmax(axis=0)
    assert (bent[bent % 4 > 0].size, pushed[pushed % 4 > 0].size) > (3, 3)
    for i, j in itertools.product(range(2), range(3)):
        for off, good in ((0.8e-3, True), (1.25e-3, False)):
            for k in {-1, int(pushed[i, j])} | ({int(bent[i, j])} if part == "corners" else set()):
                values = getattr(course, part).copy()
                most = np.linalg.norm(values[:, i, j].reshape(82, -1), axis=-1).max()
                values[k, i, j, 1, 2] += off * most
                _, alike = modal._alike(law, modes, replace(course, **{part: values}), z, q, qd)
                wanted = np.ones((2, 3), dtype=bool)
                wanted[i, j] = good
                np.testing.assert_array_equal(alike, wanted)


def test_how_well_the_energy_closes_is_a_share_of_what_it_has_to_lose():
    """On mounts 5 % stiffer than the modes have them, up to 5 % of ½ m v² at the top."""
    each = [replace(tray(loss=0.0), mass=np.array(m)) for m in (8.0, 6.0)]
    held = holding(*each)
    stiffer = holding(*(replace(one, curve=one.curve.scaled(1.05)) for one in each))
    landings = replace(lands(1.0, 2, UP.repeat(2, 0)), speed=np.array([[0.05, 3.0], [0.4, 0.1]]))
    omega, shell = held.dominant(landings.down), Shell.heavy(2)
    law = Coupled(held, shell, landings, omega, "viscous", 0.0)
    state = _state(law, at_rest(landings))
    law.arrive(np.zeros(law.shape), state, np.full(law.shape, True))
    modes, until = modal._Modes.of(law), 0.4 * 2 * np.pi / omega
    hops, _ = modal._Hops.of(law, modes, state, until)
    time, hop = hops.seen(until[..., None] * np.linspace(0.0, 1.0, 100))
    z, q, qd = hops.along(modes, time, hop, 0.0)
    for other, least, most in ((held, 0.0, 1e-9), (stiffer, 0.96 * 0.05, 0.05)):
        true = Coupled(other, shell, landings, omega, "viscous", 0.0)
        course = modal._course(law, modes, time, z, q, qd, np.zeros((2, 1, 3)))
        closure, alike = modal._alike(true, modes, course, z, q, qd)
        assert ((least <= closure) & (closure <= most * (1 + 1e-6))).all()
        assert alike.all() == (other is held)


def accepted(held, shell, landings, **given):
    """Which landings by_modes takes (None for none), and with what a shell struck once more."""
    law = Coupled(held, shell, landings, held.dominant(landings.down), "viscous", G0)
    state = _state(law, at_rest(landings))
    law.arrive(np.zeros(law.shape), state, np.full(law.shape, True))
    law.struck = np.zeros(law.shape)
    until = given.pop("until", lasting(held, shell, landings))
    found = modal.by_modes(law, state, until, np.zeros((len(shell.mass), 1, 3)))
    return found, law.struck


def test_which_shells_have_a_closed_form_side_by_side():
    """Heavy ones, and light ones that stay where they land at once."""
    shell = Shell(
        mass=np.array([np.inf, np.inf, 4.0, 4.0, np.inf, 0.5]), centre=np.zeros((6, 3)),
        gyration=0.02 * np.ones((6, 1, 1)) * np.eye(3), stopping=np.array([0, 0, 0, 0, 0.01, 0]),
        restitution=np.array([0.0, 0.3, 0.0, 0.3, 0.0, 0.0]),
    )  # fmt: skip
    speed = np.array([[0.05]] * 5 + [[0.5]])
    landings = replace(lands(0.05, 6, UP), speed=speed)
    found, struck = accepted(holding(*[tray()] * 6), shell, landings)
    assert found.fits[:, 0].tolist() == [True, True, True, False, False, False]
    np.testing.assert_allclose(struck[:3, 0], [0.0, 0.3 * 0.05, 0.0])
    none = replace(shell, restitution=np.full(6, 0.3), mass=np.full(6, 4.0))
    assert accepted(holding(*[tray()] * 6), none, lands(0.05, 6, UP))[0] is None
    nan = holding(tray(), tray(along=np.nan))
    assert accepted(nan, Shell.heavy(2), lands(0.05, 2, UP), until=np.full((2, 1), 0.1))[0] is None


def test_a_shell_that_has_not_come_down_again_has_struck_nothing():
    """It is away for 2·e·V/g."""
    held, shell, landings = holding(tray()), Shell.heavy(1, 0.4), lands(2.0, down=UP)
    for share, speed in ((0.99, 0.0), (1.01, 0.8)):
        until = np.full((1, 1), share * 2 * 0.8 / G0)
        found, struck = accepted(held, shell, landings, until=until)
        assert found.fits.all()
        assert struck[0, 0] == pytest.approx(speed)


def test_how_many_instants_and_hops_are_too_many(monkeypatch):
    """As many as `MOST` and `HOPS` say are taken; with 0.25 it leaves the floor three times."""
    held, landings = holding(tray(), tray()), lands(0.05, 2, UP)
    monkeypatch.setattr(modal, "HOPS", 2)
    found, _ = accepted(held, Shell.heavy(2, np.array([0.2, 0.25])), landings)
    assert found.fits[:, 0].tolist() == [True, False]
    monkeypatch.setattr(modal, "HOPS", 3)
    assert accepted(held, Shell.heavy(2, np.array([0.2, 0.25])), landings)[0].fits.all()
    until = np.array([[0.1], [0.2]])
    count = [
        len(
            accepted(holding(tray()), Shell.heavy(1), lands(0.05, 1, UP), until=u[None])[
                0
            ].course.time
        )
        for u in until
    ]
    for most, fits in (
        (count[1], [True, True]),
        (count[1] - 1, [True, False]),
        (count[0], [True, False]),
    ):
        monkeypatch.setattr(modal, "MOST", most)
        found, _ = accepted(held, Shell.heavy(2), landings, until=until)
        assert found.fits[:, 0].tolist() == fits
        assert len(found.course.time) == count[fits[1]]
    monkeypatch.setattr(modal, "MOST", count[0] - 1)
    assert accepted(held, Shell.heavy(2), landings, until=until)[0] is None


def test_a_bounce_of_just_the_least_share_is_one(monkeypatch):
    monkeypatch.setattr(modal, "SLOW", 1 / 64)
    held, landings = holding(tray()), lands(1.0, down=UP)
    law = Coupled(held, Shell.heavy(1, 0.125), landings, held.dominant(UP[None]), "viscous", G0)
    state = _state(law, at_rest(landings))
    law.arrive(np.zeros(law.shape), state, np.full(law.shape, True))
    hops, _ = modal._Hops.of(law, modal._Modes.of(law), state, np.full((1, 1), 1.0))
    assert hops.up[:, 0, 0].tolist() == [1 / 8, 1 / 64, 0.0]


@pytest.mark.parametrize("loss", [1.9999, 2.0, 2.00001])
def test_near_critical_damping_a_state_is_made_up_of_its_parts_again(loss):
    """At critical damping itself it cannot be, and that is known."""
    feet = [(x, y, 0.0) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
    held = Suspension.of_springs(8.0, np.diag([0.08, 0.12, 0.15]), feet, 5e3, 5e3, loss_factor=loss)
    landings, own = lands(1.0, down=UP), holding(held)
    law = Coupled(own, Shell.heavy(1), landings, own.dominant(landings.down), "viscous", G0)
    modes = modal._Modes.of(law)
    assert modes.exact.all() == (loss != 2.0)
    z = np.random.default_rng(6).normal(size=(1, 1, 12))
    again = modes.made_up(modes.taken_apart(z)[:, :, None], np.zeros((1, 1, 1)))[:, :, 0]
    assert (np.abs(again - z).max() < 1e-9) == (loss != 2.0)


def test_a_quarter_turn_is_one_whatever_the_last_digit_of_its_sine_is():
    rng = np.random.default_rng(11)
    axis = rng.normal(size=(1, 50, 3))
    turn = np.pi / 2 * axis / np.linalg.norm(axis, axis=-1, keepdims=True)
    held, landings, zero = (
        holding(crooked()),
        lands(1.0, down=UP.repeat(50, 0)),
        np.zeros(turn.shape),
    )
    law = Coupled(held, Shell.heavy(1), landings, held.dominant(landings.down), "viscous", G0)
    modes = modal._Modes.of(law)
    z = modal._first(law, modes, _state(law, Start(zero, zero, zero, rotation(turn))))
    place = (z[..., :6] / modes.omega[:, None]) @ np.swapaxes(modes.shape, -1, -2)
    np.testing.assert_allclose(place[..., 3:], turn, atol=1e-6)

"""Landings in time: what must not matter does not, energy closes, nonsense stays unknown."""

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from isolator.coupled import BRANCH, SHIFT, SPEED, TURN, Coupled, Holding, Landings, Shell, Start
from isolator.course import Landed, measured, observed
from isolator.curve import Curve
from isolator.landing import _between, _depth, _state, foam_alone, land, lasting, ring
from isolator.stepping import History, follow
from isolator.suspension import Suspension, rotation
from isolator.units import G0

FEET = np.array([(x, y, -0.06) for x in (-0.16, 0.16) for y in (-0.11, 0.11)])
BOX = np.array([(x, y, z) for x in (-0.2, 0.2) for y in (-0.15, 0.15) for z in (-0.06, 0.06)])
DOWN = np.array([0.0, 0.0, -1.0])
INERTIA = np.array([[0.08, 0.01, 0.0], [0.01, 0.12, -0.01], [0.0, -0.01, 0.16]])
HARD = Curve.through([0.004, 0.012, 0.025], [32.0, 130.0, 480.0])
POINTS = np.array([[[0.0, 0.0, 0.0], [0.15, -0.1, 0.05]]])


def tray(share: float = 1.0, loss: float = 0.2) -> Suspension:
    """8 kg, its centre off, on mounts that harden, with mixed damping and a cable."""
    straight = Suspension.of_springs(8.0, INERTIA, FEET - [0.02, -0.01, 0.0], 9e3, 5e3)
    curve = Curve.stacked([Curve.stacked([HARD.scaled(share), HARD.scaled(0.6)])] * 4)
    return replace(
        straight,
        curve=curve,
        loss_factor=loss * np.array([1.0, 1.5, 0.5, 1.0]),
        cable_position=np.array([[0.0, 0.12, 0.03]]),
        cable_stiffness=np.array([[900.0, 500.0, 700.0]]),
        cable_loss=np.array([0.3]),
    )


def holding(*designs: Suspension) -> Holding:
    d = len(designs)
    own = Holding.of(Suspension.stacked(designs))
    return replace(
        own,
        corners=np.broadcast_to(BOX, (d, 8, 3)),
        room=np.full((d, 8, 6), np.inf),
        limit=np.broadcast_to([0.03, 0.03, 0.025], (d, 4, 3)),
        stop=np.full((d, 4), 4e4),
    )


def shell(count: int = 1, mass: float = np.inf, rebound: float = 0.0) -> Shell:
    return replace(
        Shell.heavy(count, rebound),
        mass=np.full(count, mass),
        centre=np.broadcast_to([0.01, 0.0, 0.02], (count, 3)),
        gyration=np.broadcast_to(np.diag([0.012, 0.025, 0.03]), (count, 3, 3)),
    )


def falls(*ways: np.ndarray, speed: float = 2.5, count: int = 1) -> Landings:
    down = np.array([way / np.linalg.norm(way) for way in ways])
    shape = (count, len(down))
    return Landings(down=np.broadcast_to(down, (*shape, 3)), speed=np.full(shape, speed))


CORNER = np.array([0.5, -0.4, -0.7])
EDGE = Landings(
    down=DOWN[None, None],
    speed=np.array([[2.0]]),
    axis=np.array([[[0.0, 1.0, 0.0]]]),
    pivot=np.array([[[-0.27, 0.0, -0.14]]]),
    tilt=np.array([[0.06]]),
)
KINDS = {
    "heavy": (shell(), falls(DOWN, CORNER)),
    "rebounds": (shell(rebound=0.4), falls(DOWN)),
    "light": (shell(mass=5.0), falls(DOWN, CORNER)),
    "light and rebounds": (shell(mass=5.0, rebound=0.3), falls(CORNER)),
    "stops": (replace(shell(mass=5.0, rebound=0.2), stopping=np.array([0.006])), falls(DOWN)),
    "foam": (
        replace(shell(mass=5.0), foam=Curve.straight(np.array([9e4])), glued=True),
        falls(DOWN),
    ),
    "slap-down": (shell(mass=5.0), EDGE),
}


def run(kind: str, *designs: Suspension, **given: object) -> Landed:
    case, landings = KINDS[kind]
    start = Start.unloaded(landings.shape)
    held = holding(*(designs or (tray(),)))
    return land(held, case, landings, start, closed=False, points=POINTS, **given)[0]


def same(ours: Landed, theirs: Landed, share: float, names: tuple[str, ...]) -> None:
    for name in names:
        a, b = getattr(ours, name), getattr(theirs, name)
        assert np.isfinite(b).all(), name
        assert np.abs(a - b).max() <= share * np.abs(b).max(), name


NUMBERS = ("peak", "low", "high", "across", "force", "moved_low", "moved_high")


@pytest.mark.parametrize("kind", KINDS)
def test_a_finer_step_changes_no_peak(kind: str) -> None:
    """Steps about half as long: their error goes with the fifth power."""
    plain, finer = run(kind), run(kind, tolerance=5e-6 / 2**5)
    np.testing.assert_allclose(plain.peak[..., 0], finer.peak[..., 0], rtol=1e-3)
    # beside the centre, at mounts that meet their stops, where shells bounce
    same(plain, finer, 3e-3, NUMBERS)


@pytest.mark.parametrize("damping", ["viscous", "relaxation"])
@pytest.mark.parametrize("kind", KINDS)
def test_energy_closes(kind: str, damping: str) -> None:
    landed = run(kind, damping=damping)
    assert landed.converged.all()
    assert (landed.closure < 1e-3).all()


def test_energy_that_does_not_close_is_seen() -> None:
    """The same motion under a law with 5 % more stiffness."""
    held, landings = holding(tray()), falls(DOWN)
    law = Coupled(held, shell(), landings, held.dominant(landings.down), "viscous", G0)
    other = replace(tray(), curve=tray().curve.scaled(1.05))
    wrong = Coupled(holding(other), shell(), landings, law.omega, "viscous", G0)
    y = state(law)
    history = follow(law, y, np.array([[0.05]]), np.full(y.shape, 0.1), np.array([[1e-4]]))
    assert observed(law, history, POINTS[:, :1])[1] < 1e-3
    course, closure = observed(wrong, history, POINTS[:, :1])
    assert closure > 1e-3
    assert np.isnan(measured(wrong, course, closure, history.converged).peak).all()


def turned(kind: str, by: np.ndarray) -> Landed:
    """The same landing in axes that are turned."""
    case, landings = KINDS[kind]
    held = tray()
    # as springs that differ along x, y, z the cable does not turn
    held = replace(held, cable_stiffness=np.full((1, 3), 700.0))
    held = replace(
        held,
        inertia=by @ held.inertia @ by.T,
        position=held.position @ by.T,
        frames=held.frames @ by.T,
        cable_position=held.cable_position @ by.T,
    )
    own = holding(held)
    own = replace(own, corners=own.corners @ by.T)
    case = replace(case, centre=case.centre @ by.T, gyration=by @ case.gyration @ by.T)
    axis = None if landings.axis is None else landings.axis @ by.T
    landings = replace(landings, down=landings.down @ by.T, axis=axis, pivot=landings.pivot @ by.T)
    start = Start.unloaded(landings.shape)
    fine = {"points": POINTS @ by.T, "tolerance": 1e-6, "closed": False}
    return land(own, case, landings, start, **fine)[0]


@pytest.mark.parametrize("kind", ["heavy", "light", "slap-down"])
def test_the_axes_do_not_matter(kind: str) -> None:
    """Only the error of a step knows them: each entry of the state has its own."""
    plain = turned(kind, np.eye(3))
    for vector in ([0.0, 0.0, np.pi / 2], [0.4, -0.9, 1.3]):
        other = turned(kind, rotation(np.array(vector)))
        same(other, plain, 1e-3, ("peak", "low", "high", "across", "force"))


def test_a_batch_is_each_of_its_motions() -> None:
    designs, ways = [tray(s) for s in (0.6, 1.0, 1.7)], (DOWN, CORNER)
    whole = land(
        holding(*designs),
        shell(3, 5.0),
        falls(*ways, count=3),
        Start.unloaded((3, 2)),
        closed=False,
    )[0]
    assert whole.converged.all()
    for d, design in enumerate(designs):
        for b, way in enumerate(ways):
            start = Start.unloaded((1, 1))
            one = land(holding(design), shell(1, 5.0), falls(way), start, closed=False)[0]
            for name in (f.name for f in fields(Landed)):
                ours, theirs = getattr(whole, name)[d, b], getattr(one, name)[0, 0]
                if name != "closure":  # looked at where the steps of the batch are
                    np.testing.assert_allclose(ours, theirs, 1e-6, 1e-12, err_msg=name)


@pytest.mark.parametrize("gravity", [0.0, G0])
@pytest.mark.parametrize("rebound", [0.0, 0.5])
def test_linear_undamped_mounts_are_the_closed_form(gravity: float, rebound: float) -> None:
    """x = (v/ω) sin ωt + (g/ω²)(1 − cos ωt); after a rebound both fly, and nothing sags."""
    centred = Suspension.of_springs(8.0, np.eye(3), FEET * [1, 1, 0], 9e3, 5e3)
    held, speed = Holding.of(Suspension.stacked([centred])), 2.5
    omega = np.sqrt(4 * 9e3 / 8)
    until = np.array([[1.3 * np.pi / omega]])
    start, landings = Start.unloaded((1, 1)), falls(DOWN, speed=speed)
    case = Shell.heavy(1, rebound)
    landed, _ = land(
        held, case, landings, start, gravity=gravity, until=until, closed=False, tolerance=1e-6
    )
    meets, sag = (1 + rebound) * speed, (0.0 if rebound else gravity) / omega**2
    travel = sag + np.hypot(sag, meets / omega)
    assert landed.high[0, 0, 0, 0] == pytest.approx(travel, rel=1e-4)
    assert landed.peak[0, 0, 0] == pytest.approx(omega**2 * travel, rel=1e-4)
    assert landed.force[0, 0] == pytest.approx(np.full(4, 9e3 * travel), rel=1e-4)


def test_the_pulse_of_a_linear_mount_is_a_half_sine() -> None:
    """Above a tenth for (π − 2 asin 0.1)/ω, its velocity change 2v·cos(asin 0.1)."""
    centred = Suspension.of_springs(8.0, np.eye(3), FEET * [1, 1, 0], 9e3, 5e3)
    held, omega = Holding.of(Suspension.stacked([centred])), np.sqrt(4 * 9e3 / 8)
    until = np.array([[np.pi / omega]])
    given = {"gravity": 0.0, "until": until, "closed": False, "tolerance": 1e-12}
    landed, _ = land(held, Shell.heavy(1), falls(DOWN), Start.unloaded((1, 1)), **given)
    above = np.pi - 2 * np.arcsin(0.1)
    assert landed.duration[0, 0] == pytest.approx(above / omega, rel=0.02)
    change = 2 * 2.5 * np.cos(np.arcsin(0.1))
    assert landed.velocity_change[0, 0] == pytest.approx(change, rel=0.02)


@pytest.mark.parametrize("loss", [0.05, 0.3, 0.5, 0.9, 1.8])
def test_both_dampers_lose_what_the_loss_factor_says(loss: float) -> None:
    """A cycle at the mode that dominates: π η k A² a mount, and as stiff, by either."""
    held = Holding.of(
        Suspension.stacked([Suspension.of_springs(8.0, INERTIA, FEET, 9e3, 5e3, loss_factor=loss)])
    )
    landings, size = falls(DOWN), 1e-3
    omega = held.dominant(landings.down)
    w = float(omega[0, 0])
    for damping in ("viscous", "relaxation"):
        law = Coupled(held, Shell.heavy(1), landings, omega, damping, G0)
        count = 3 * law.n if law.relaxes else 0

        def shaken(t: float, branch: np.ndarray, law: Coupled = law) -> np.ndarray:
            """State of a payload that is moved up and down."""
            y = state(law)
            y[:, SHIFT] = (size * np.sin(w * t) * DOWN)[None, :, None]
            y[:, SPEED] = (size * w * np.cos(w * t) * DOWN)[None, :, None]
            y[:, 19] = 0.0  # the shell stands still
            y[0, BRANCH:, 0] = branch
            return y

        def rate(t: float, z: np.ndarray, law: Coupled = law, shaken=shaken) -> np.ndarray:
            y = shaken(t, z[2:])
            turning, *_ = law.parts(y)
            _, speed, force, _ = law.mounts(y, law.seen(y, turning))
            force, speed = force[0, 0, :, 0], speed[0, 0, :, 0]
            # in phase with the deflection: its mean product with it
            with_it = (force * size * np.sin(w * t)).sum()
            lost = [(force * speed).sum(), with_it]
            return np.concatenate([lost, law.rate(y)[0, BRANCH:, 0]])

        cycle = 2 * np.pi / w
        start = np.zeros(2 + count)
        warm = solve_ivp(rate, (0, 3 * cycle), start, rtol=1e-7, atol=1e-9).y[:, -1]
        warm[:2] = 0.0
        span = (3 * cycle, 4 * cycle)
        done = solve_ivp(rate, span, warm, rtol=1e-7, atol=1e-11).y[:2, -1]
        assert done[0] == pytest.approx(4 * np.pi * loss * 9e3 * size**2, rel=1e-5)
        assert done[1] == pytest.approx(4 * 9e3 * size**2 * cycle / 2, rel=1e-5)


def state(law: Coupled) -> np.ndarray:
    """At the first contact from the unloaded pose, the shell at rest on the floor."""
    d, b = law.shape
    y = np.zeros((d, BRANCH + (3 * law.n if law.relaxes else 0), b))
    y[:, TURN] = np.eye(3).reshape(1, 9, 1)
    y[:, SPEED] = 2.5 * DOWN[None, :, None]
    law.arrive(np.zeros(law.shape), y, np.ones(law.shape, dtype=bool))
    return y


def test_a_motion_that_runs_out_of_steps_is_unknown() -> None:
    held, landings = holding(tray()), falls(DOWN)
    law = Coupled(held, shell(), landings, held.dominant(landings.down), "viscous", G0)
    y = state(law)
    size, until = np.full(y.shape, 0.1), np.array([[0.05]])
    history = follow(law, y, until, size, np.array([[1e-4]]), most=5)
    assert not history.converged.any()
    course, closure = observed(law, history, POINTS[:, :1])
    landed = measured(law, course, closure, history.converged)
    assert not landed.converged.any()
    for name in ("peak", "low", "high", "force", "duration", "metal", "struck"):
        assert np.isnan(getattr(landed, name)).all(), name


def test_instants_looked_at_in_parts_show_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    held, landings = holding(tray()), falls(DOWN)
    law = Coupled(held, shell(), landings, held.dominant(landings.down), "viscous", G0)
    y = state(law)
    size, until = np.full(y.shape, 0.1), np.array([[0.02]])
    history = follow(law, y, until, size, np.array([[1e-4]]))
    whole, _ = observed(law, history, POINTS)
    monkeypatch.setattr("isolator.course.AT_ONCE", 200)
    parts, _ = observed(law, history, POINTS)
    for name in ("specific_force", "local", "force", "corners"):
        one, other = getattr(whole, name), getattr(parts, name)
        assert np.abs(one - other).max() <= 1e-12 * np.abs(one).max(), name


class Kicked:
    """A mass at a steady speed; what it meets at 1 m asks for a shorter step before it."""

    def rate(self, state: np.ndarray) -> np.ndarray:
        return np.ones_like(state)

    def until_event(self, time, state, step, reached):
        over = (state[:, 0] < 1) & (reached[:, 0] >= 1)
        return np.where(over, step / 2, step)

    def arrive(self, time, state, moved):
        return np.zeros(time.shape, dtype=bool)


def test_a_force_that_jumps_is_passed() -> None:
    """However short the step, it is beyond the jump at its end."""
    one = np.ones((1, 1, 1))
    history = follow(Kicked(), 0 * one, 2 * one[0], one, one[0] / 7)
    assert history.converged.all()
    assert history.state[-1] == pytest.approx(2.0)
    assert len(history.time) < 100


@pytest.mark.parametrize("closed", [True, False])
def test_a_stiffness_that_is_not_known_leaves_its_landing_unknown(closed: bool) -> None:
    """And no other of the batch."""
    designs = [Suspension.of_springs(8.0, INERTIA, FEET, k, 5e3) for k in (np.nan, 9e3)]
    held, landings = Holding.of(Suspension.stacked(designs)), falls(DOWN, count=2)
    until = np.full((2, 1), 0.05)
    landed, _ = land(
        held, Shell.heavy(2), landings, Start.unloaded((2, 1)), until=until, closed=closed
    )
    assert landed.converged.ravel().tolist() == [False, True]
    assert np.isnan(landed.peak[0]).all()
    alone = land(
        held.taken(np.array([1])), Shell.heavy(1), falls(DOWN), Start.unloaded((1, 1)),
        until=until[:1], closed=False,
    )[0]  # fmt: skip
    assert landed.peak[1, 0] == pytest.approx(alone.peak[0, 0], rel=1e-9)


def test_a_landing_is_followed_until_the_payload_has_come_back() -> None:
    """The slowest of the modes that count goes through its peak and back."""
    case, landings = KINDS["heavy"]
    held = holding(tray())
    until = lasting(held, case, landings)
    longer = land(held, case, landings, Start.unloaded((1, 2)), until=3 * until, closed=False)[0]
    plain = land(held, case, landings, Start.unloaded((1, 2)), closed=False)[0]
    same(plain, longer, 1e-3, ("peak", "force"))


def centred(mass: float, along: float, loss: float) -> Suspension:
    """Four equal mounts in the plane of the centre: no landing turns it."""
    feet = FEET * [1, 1, 0]
    inertia = np.diag([0.08, 0.12, 0.16])
    return Suspension.of_springs(mass, inertia, feet, along, along / 2, loss_factor=loss)


def test_a_release_throws_the_payload_back_from_its_sag() -> None:
    """s·exp(−δt)(cos ω't + δ/ω'·sin ω't), two designs, two ways down, each fall of its length."""
    designs, phases = [centred(8.0, 9e3, 0.0), centred(12.0, 6e3, 0.4)], 3
    own = holding(*designs)
    down = np.broadcast_to([[0.0, 0.0, -1.0], [1.0, 0.0, 0.0]], (2, 2, 3))
    fall = np.array([[0.04, 9.0], [9.0, 0.03]])  # less than a period of the ring, or more
    start = ring(own, shell(2), down, fall, phases=phases)
    assert start.shift.shape == (2, 6, 3)
    for d, (mass, along, loss) in enumerate(((8.0, 9e3, 0.0), (12.0, 6e3, 0.4))):
        for way, stiff in ((0, 4 * along), (1, 2 * along)):
            omega, sag = np.sqrt(stiff / mass), mass * G0 / stiff
            delta = loss * omega / 2
            fast = np.sqrt(omega**2 - delta**2)
            for k in range(phases):
                t = min(fall[d, way], 2 * np.pi / omega) * (k + 1) / phases
                place = np.cos(fast * t) + delta / fast * np.sin(fast * t)
                rate = -(omega**2) / fast * np.sin(fast * t)
                there = way * phases + k
                left = sag * np.exp(-delta * t) * down[d, way]
                ours = start.shift[d, there], start.velocity[d, there]
                # straight between two steps of the ring
                np.testing.assert_allclose(ours[0], left * place, atol=1e-2 * sag)
                np.testing.assert_allclose(ours[1], left * rate, atol=1e-2 * sag * omega)
    np.testing.assert_allclose(start.spin, 0.0, atol=1e-9)
    np.testing.assert_allclose(start.turn, np.eye(3) + 0 * start.turn, atol=1e-9)


def test_a_short_fall_hardly_leaves_the_pose_of_rest() -> None:
    """Off its centre it hangs askew; what nothing holds starts unloaded."""
    pads = Curve.stacked([Curve.stacked([HARD.without_tension(), HARD])] * 4)
    designs = [replace(tray(), cable_stiffness=np.zeros((1, 3)))] * 2
    designs[1] = replace(designs[1], curve=pads)
    own = holding(*designs)
    down = np.broadcast_to([[0.0, 0.0, 1.0]], (2, 1, 3))
    start = ring(own, shell(2), down, np.full((2, 1), 2e-5), phases=2)
    pose = designs[0].pose(-G0 * DOWN)
    for k in (0, 1):
        np.testing.assert_allclose(start.shift[0, k], pose.shift, atol=1e-7)
        np.testing.assert_allclose(start.turn[0, k], pose.turn, atol=1e-6)
        thrown = start.velocity[0, k] / (1e-5 * (k + 1))
        np.testing.assert_allclose(thrown, G0 * DOWN, rtol=0.05, atol=0.05)
    np.testing.assert_array_equal(start.shift[1], 0.0)
    np.testing.assert_array_equal(start.velocity[1], 0.0)
    np.testing.assert_array_equal(start.turn[1], np.stack([np.eye(3)] * 2))
    later = ring(own, shell(2), down, np.full((2, 1), 0.03), phases=2)
    gram = np.swapaxes(later.turn[0], -1, -2) @ later.turn[0]
    np.testing.assert_allclose(gram, np.stack([np.eye(3)] * 2), atol=1e-7)
    assert np.abs(later.spin[0]).max() > 0.1


def test_how_long_a_landing_is_followed() -> None:
    """1¼ periods of the slowest mode, within one and two and a half times that of the dominant."""
    feet = FEET * [1, 1, 0]
    designs = [
        Suspension.of_springs(8.0, inertia * np.eye(3), feet, 9e3, 9e3)
        for inertia in (0.01, 0.6, 50.0)
    ]
    own = Holding.of(Suspension.stacked(designs))
    landings, omega = falls(DOWN, count=3), np.sqrt(36e3 / 8)
    slowest = np.sqrt(own.modes[0][:, 0])
    assert slowest[0] == pytest.approx(omega)
    assert omega / 2.5 < slowest[1] < omega
    assert slowest[2] < omega / 2.5
    case = replace(shell(3, rebound=0.2), stopping=np.array([0.0, 0.01, 0.02]))
    until = lasting(own, case, landings)[:, 0]
    wanted = 2.5 * np.pi / np.array([omega, slowest[1], omega / 2.5])
    np.testing.assert_allclose(until, wanted + 2 * 0.2 * 2.5 / G0 + np.array([0.0, 0.01, 0.02]))


def test_foam_alone_is_a_spring_under_a_mass() -> None:
    """x = mg/k + √((mg/k)² + v²m/k), the peak kx/m; a damper takes from both."""
    mass, speed = np.array([12.0, 20.0, 12.0]), np.array([2.0, 3.0, 0.3])
    stiff = np.array([9e4, 7e4, 9e4])
    foam = replace(shell(3), foam=Curve.straight(stiff), glued=True)
    peak, sunk = foam_alone(mass, foam, speed)
    sag = mass * G0 / stiff
    deep = sag + np.sqrt(sag**2 + speed**2 * mass / stiff)
    np.testing.assert_allclose(_depth(mass, foam.foam, speed), deep, rtol=1e-9)
    np.testing.assert_allclose(sunk, deep, rtol=2e-3)
    np.testing.assert_allclose(peak, stiff * deep / mass, rtol=2e-3)
    damped = replace(foam, foam_damping=np.array([0.0, 200.0, 0.0]))
    _, less = foam_alone(mass, damped, speed)
    assert less[0] == pytest.approx(sunk[0], rel=1e-6)
    assert less[1] < 0.95 * sunk[1]
    with pytest.raises(ValueError, match="no foam"):
        foam_alone(mass, shell(3), speed)


def test_a_motion_whose_energy_does_not_close_is_followed_once_more() -> None:
    """Too coarse a step is seen by its energy, and the landing done again finely."""
    case, landings, own = shell(2), falls(DOWN, count=2), holding(tray(), tray())
    given = {"start": Start.unloaded((2, 1)), "closed": False, "until": np.full((2, 1), 0.02)}
    fine = land(own, case, landings, tolerance=1e-8, **given)[0]
    rough, _ = land(own, case, landings, tolerance=30.0, **given)
    assert rough.converged.all()
    np.testing.assert_allclose(rough.peak, fine.peak, rtol=1e-9)
    np.testing.assert_allclose(rough.force, fine.force, rtol=1e-9)


def test_a_shell_that_stops_over_a_time_goes_half_as_far_as_it_would() -> None:
    """v T/2 down; the point that is looked at is the centre, unless another is asked for."""
    case, landings = replace(shell(), stopping=np.array([0.006])), falls(DOWN)
    given = {"closed": False, "until": np.full((1, 1), 0.012)}
    start = Start.unloaded((1, 1))
    plain, _ = land(holding(tray()), case, landings, start, **given)
    assert plain.sunk[0, 0] == pytest.approx(2.5 * 0.006 / 2, rel=1e-4)
    assert plain.struck[0, 0] == pytest.approx(0.0, abs=1e-12)
    centre, _ = land(holding(tray()), case, landings, start, points=np.zeros((1, 1, 3)), **given)
    np.testing.assert_array_equal(plain.peak, centre.peak)


def test_a_case_that_turns_as_one_begins_so() -> None:
    """At the first contact about its edge: seen from the shell only what moves in it moves."""
    designs, rng = [tray(), tray(1.4)], np.random.default_rng(3)
    turns = replace(
        EDGE, down=np.repeat(EDGE.down, 2, 0), axis=np.repeat(EDGE.axis, 2, 0),
        pivot=np.repeat(EDGE.pivot, 2, 0), tilt=np.full((2, 1), 0.2), spin=np.full((2, 1), 0.7),
        speed=np.zeros((2, 1)),
    )  # fmt: skip
    own = holding(*designs)
    shift, velocity = rng.normal(size=(2, 2, 1, 3)) * 0.01
    turn = rotation(rng.normal(size=(2, 1, 3)) * 0.2)
    start = Start(shift, velocity, np.zeros((2, 1, 3)), turn)
    law = Coupled(own, shell(2, 5.0), turns, own.dominant(turns.down), "viscous", G0)
    y = _state(law, start)
    np.testing.assert_allclose(y[:, 18], -0.2)
    np.testing.assert_allclose(y[:, 19], 0.7)
    seen = law.seen(y, law.parts(y)[0])
    np.testing.assert_allclose(seen[:, :9, 0, 0], turn.reshape(2, 9), atol=1e-12)
    np.testing.assert_allclose(seen[:, 9:, 0, 0], shift[:, 0], atol=1e-12)
    np.testing.assert_allclose(seen[:, :9, 1, 0], 0.0, atol=1e-12)
    np.testing.assert_allclose(seen[:, 9:, 1, 0], velocity[:, 0], atol=1e-12)
    # the floor stops the edge: what the shell has of momentum about it stays
    fast = replace(turns, speed=np.full((2, 1), 2.0))
    law = Coupled(own, shell(2, 5.0), fast, own.dominant(turns.down), "viscous", G0)
    y = _state(law, start)
    arm = rotation(-0.2 * EDGE.axis[0, 0]) @ (law.shell.centre[0] - EDGE.pivot[0, 0])
    moment = EDGE.axis[0, 0] @ np.cross(arm, DOWN)
    np.testing.assert_allclose(y[:, 19, 0], 0.7 + 2.0 * moment / law.swing[0, 0])
    # and the payload, which is not stopped, comes down with it
    slow = _state(
        Coupled(own, shell(2, 5.0), turns, own.dominant(turns.down), "viscous", G0), start
    )
    np.testing.assert_allclose((y - slow)[:, SPEED, 0], 2.0 * np.array([DOWN, DOWN]), atol=1e-12)


@pytest.mark.parametrize("speed", [2.0, 0.2])
def test_a_case_that_turns_down_is_followed_as_much_longer_as_its_turn_takes(speed: float) -> None:
    """At the rate with which it begins."""
    case, landings = KINDS["slap-down"]
    landings = replace(landings, speed=np.array([[speed]]))
    own = holding(tray())
    start = Start.unloaded(landings.shape)
    _, course = land(own, case, landings, start, closed=False, tolerance=1e-3)
    law = Coupled(own, case, landings, own.dominant(landings.down), "viscous", G0)
    rate = _state(law, start)[:, 19]
    assert (rate > 0.1).all()
    assert ((rate > 1) == (speed == 2)).all()
    wanted = lasting(own, case, landings) + landings.tilt / rate
    np.testing.assert_allclose(course.time[-1], wanted, rtol=1e-9)


def test_of_a_batch_only_what_is_not_linear_is_integrated_and_each_is_as_alone() -> None:
    """Two designs, two landings; a mount of the second meets its stop on one of them."""
    designs = [centred(8.0, 9e3, 0.1)] * 2
    own = replace(holding(*designs), stop=np.array([[0.0] * 4, [4e4] * 4]))
    own = replace(own, limit=np.broadcast_to([0.02, 0.02, 0.5], (2, 4, 3)))
    landings = falls(DOWN, [1.0, 0.0, 0.0], speed=1.6, count=2)
    given = {"start": Start.unloaded((2, 2)), "until": np.full((2, 2), 0.03)}
    mixed, _ = land(own, shell(2), landings, **given)
    assert mixed.closed.tolist() == [[True, True], [False, True]]
    assert mixed.converged.all()
    every, _ = land(own, shell(2), landings, closed=False, tolerance=1e-8, **given)
    same(mixed, every, 1e-3, ("peak", "high", "force"))


def test_between_two_instants_a_state_lies_on_a_straight_line() -> None:
    """Three motions, each at instants of its own; at its end, and beyond it, the last state."""
    rng = np.random.default_rng(5)
    time = np.sort(rng.uniform(0.0, 1.0, (6, 1, 3)), axis=0)
    time[0], time[-2:, 0, 2] = 0.0, time[-1, 0, 2]  # the last one jumps at its end
    state = rng.normal(size=(6, 1, 4, 3))
    at = np.sort(rng.uniform(0.0, 1.0, (1, 3, 9)), axis=-1) * time[-1][..., None]
    at[..., 0], at[:, :2, -1] = time[1] / 3, time[-1, :, :2]
    found = _between(History(time, state, np.ones((1, 3), dtype=bool)), at)
    assert found.shape == (1, 4, 3, 9)
    for b in range(3):
        for k in range(4):
            wanted = np.interp(at[0, b], time[:, 0, b], state[:, 0, k, b])
            np.testing.assert_allclose(found[0, k, b], wanted, rtol=1e-12)
    later = _between(History(time, state, np.ones((1, 3), dtype=bool)), time[-1][..., None] + 1e-9)
    np.testing.assert_allclose(later[0, :, 2, 0], state[-1, 0, :, 2])

"""Motions side by side in time: the order of a step, its error, its length, and what cuts it."""

from dataclasses import dataclass, field

import numpy as np
import pytest

from isolator.stepping import History, _without_waiting, follow

TOLERANT = 1e12


LOWER = np.array([5179 / 57600, 0, 7571 / 16695, 393 / 640, -92097 / 339200, 187 / 2100, 1 / 40])
AT = np.array([0, 1 / 5, 3 / 10, 4 / 5, 8 / 9, 1, 1])


@dataclass
class Plain:
    """States that obey one rate; nothing happens to them."""

    of: object
    seen: list = field(default_factory=list)
    moved: list = field(default_factory=list)

    def rate(self, state):
        return self.of(state)

    def until_event(self, time, state, step, reached):
        self.seen.append(step.copy())
        return step

    def arrive(self, time, state, moved):
        self.moved.append(moved.copy())
        return np.zeros(time.shape, dtype=bool)


def one(*values):
    return np.array(values, dtype=float)[None, :, None]


def run(rate, start, until, first, tolerance=TOLERANT, **given):
    """One motion, its rate from a state (k,); states (t, k) at times (t,)."""
    law = Plain(lambda y: rate(y[0, :, 0])[None, :, None])
    scale = np.ones_like(start)
    ends = np.array([[until]]), scale, np.array([[first]])
    found = follow(law, start, *ends, tolerance=tolerance, **given)
    return found.time[:, 0, 0], found.state[:, 0, :, 0], found, law


def pendulum(y):
    """Two states that are coupled and not linear."""
    return np.array([y[1] * (1 + y[0] ** 2), -np.sin(y[0]) - 0.3 * y[1] * y[0]])


def power(n):
    """y' = tⁿ, with the time as the other state."""
    return lambda y: np.array([1.0, y[0] ** n])


def test_a_step_is_of_fifth_order_and_its_middle_of_fourth():
    """Half as long, a step errs by a 64th, its middle by a 32nd."""
    start, errors = one(0.3, -1.2), []
    for long in (0.2, 0.1):
        _, states, _, _ = run(pendulum, start, long, long)
        assert len(states) == 3
        _, true, _, _ = run(pendulum, start, long, long / 64, 1e-15, most=20000)
        at = [np.abs(states[1] - half(start, long)).max(), np.abs(states[2] - true[-1]).max()]
        errors.append(at)
    ratio = np.array(errors[0]) / errors[1]
    assert 24 < ratio[0] < 34
    assert 58 < ratio[1] < 72


def half(start, long):
    return run(pendulum, start, long / 2, long / 128, 1e-15, most=20000)[1][-1]


def test_powers_up_to_the_fourth_are_exact():
    """From 1 to 2.5; those that both orders have right show no error, and have the middle."""
    for n in range(5):
        tolerance = 1e-12 if n < 4 else TOLERANT
        _, states, _, _ = run(power(n), one(1.0, 0.0), 1.5, 1.5, tolerance)
        assert len(states) == 3
        assert states[2, 1] == pytest.approx((2.5 ** (n + 1) - 1) / (n + 1), rel=1e-13)
        if n < 4:
            assert states[1, 1] == pytest.approx((1.75 ** (n + 1) - 1) / (n + 1), rel=1e-13)


def test_the_error_of_a_step_is_what_the_two_orders_differ_by():
    """The lower weights (Dormand and Prince 1980; memory): taken if no more than is tolerated."""
    assert abs(LOWER @ AT**3 - 1 / 4) < 1e-12  # nothing to see of a lower power
    apart = abs(LOWER @ AT**4 - 1 / 5) * 0.5**5
    just, not_just = (run(power(4), one(0.0, 0.0), 0.5, 0.5, apart * c)[0] for c in (1.001, 0.999))
    assert just.tolist() == [0.0, 0.25, 0.5]
    # refused: nothing moved, and the next try is nine tenths of as long
    assert not_just[0] == 0.0
    assert not_just[2] == pytest.approx(0.5 * 0.9 * 0.999**0.2, rel=1e-3)
    # far too long: a fifth of it at the least
    far = run(power(4), one(0.0, 0.0), 0.5, 0.5, apart / 2000)[0]
    assert far[2] == pytest.approx(0.1, rel=1e-9)


def test_a_step_without_an_error_is_followed_by_one_four_times_as_long():
    time, _, found, law = run(lambda y: 0 * y, one(1.0), 1.0, 0.01)
    assert time[::2] == pytest.approx([0.0, 0.01, 0.05, 0.21, 0.85, 1.0])
    assert time[1::2] == pytest.approx([0.005, 0.03, 0.13, 0.53, 0.925])
    assert found.converged.all()
    assert not found.jumps.any()
    assert len(law.seen) == 5


def test_each_motion_has_its_own_step_and_end():
    """Two designs, three motions: cos ωt of each, and as sharp as asked."""
    omega = np.array([[1.0, 5.0, 20.0], [2.0, 9.0, 3.0]])
    until = np.array([[3.0, 2.0, 1.0], [0.5, 1.5, 2.5]])
    state = np.stack([np.ones((2, 3)), np.zeros((2, 3))], axis=1)
    turning = Plain(lambda y: np.stack([omega * y[:, 1], -omega * y[:, 0]], axis=1))
    given = np.ones_like(state), np.full((2, 3), 0.01)
    found = follow(turning, state, until, *given, tolerance=1e-10)
    assert found.converged.all()
    assert found.state.shape == (len(found.time), 2, 2, 3)
    np.testing.assert_array_equal(found.time[-1], until)
    assert (np.diff(found.time, axis=0) >= 0).all()
    angle = omega * found.time
    np.testing.assert_allclose(found.state[:, :, 0], np.cos(angle), atol=2e-7)
    np.testing.assert_allclose(found.state[:, :, 1], -np.sin(angle), atol=2e-7)
    np.testing.assert_array_equal(state[:, 0], 1.0)  # what was given is left alone
    # the faster waits for none: its steps are shorter
    steps = (np.diff(found.time, axis=0) > 0).sum(axis=0)
    assert steps[0, 2] > 2 * steps[0, 0]
    # a larger entry may err by more: scale counts
    loose = follow(turning, state, until, 1e4 * given[0], given[1], tolerance=1e-10)
    assert len(loose.time) < len(found.time) / 3


def test_a_motion_that_cannot_go_on_is_lost_alone():
    law = Plain(lambda y: np.where(np.array([True, False]), np.nan, 0 * y))
    state = np.ones((1, 1, 2))
    ends = np.ones((1, 2)), np.ones_like(state), np.full((1, 2), 0.1)
    found = follow(law, state, *ends)
    assert found.converged.tolist() == [[False, True]]
    assert found.time[-1].tolist() == [[0.0, 1.0]]
    np.testing.assert_array_equal(found.state, 1.0)
    # from a tenth by fifths until under 1e-11: no more tries than that
    assert len(law.seen) == 15
    short = run(lambda y: 0 * y, one(1.0), 1.0, 1e-9, most=4)[2]
    assert not short.converged.any()
    assert run(lambda y: 0 * y, one(1.0), 1.0, 1e-2, most=5)[2].converged.all()


@dataclass
class Balls:
    """Balls that fall from heights and come back from the floor as fast; the last one floats."""

    gravity: np.ndarray

    def rate(self, state):
        return np.stack([state[:, 1], -self.gravity + 0 * state[:, 1]], axis=1)

    def until_event(self, time, state, step, reached):
        g = np.maximum(self.gravity, 1e-9)
        x, v = state[:, 0], state[:, 1]
        hit = (v + np.sqrt(np.maximum(v**2 + 2 * g * np.maximum(x, 0), 0))) / g
        return np.where((reached[:, 0] < 0) & (hit < step), hit, step)

    def arrive(self, time, state, moved):
        hits = moved & (np.abs(state[:, 0]) < 1e-12) & (state[:, 1] < 0)
        state[:, 0] = np.where(hits, 0.0, state[:, 0])
        state[:, 1] = np.where(hits, -state[:, 1], state[:, 1])
        return hits


def test_what_happens_cuts_the_step_of_its_own_motion():
    """From h it comes down after √(2h/g), and again after twice that: to the digit."""
    gravity = np.array([[10.0, 10.0, 0.0]])
    state = np.array([[[1.25, 0.45, 1.0], [0.0, 0.0, 0.0]]])
    until = np.full((1, 3), 1.7)
    given = np.ones_like(state), np.full((1, 3), 0.2)
    found = follow(Balls(gravity), state, until, *given)
    assert found.converged.all()
    for ball, lands in ((0, [0.5, 1.5]), (1, [0.3, 0.9, 1.5]), (2, [])):
        jumps = found.time[:-1, 0, ball][found.jumps[:, 0, ball]]
        np.testing.assert_allclose(jumps, lands, rtol=1e-12)
    time, height = found.time[:, 0, 0], found.state[:, 0, 0, 0]
    late = time - np.where(time > 0.5, np.where(time > 1.5, 1.5, 0.5), 0)
    wanted = np.where(time <= 0.5, 1.25 - 5 * time**2, 5 * late - 5 * late**2)
    np.testing.assert_allclose(height, wanted, atol=1e-12)
    np.testing.assert_array_equal(found.state[:, 0, 0, 2], 1.0)


def test_a_jump_is_a_change_in_no_time():
    time = np.array([0.0, 1.0, 1.0, 2.0, 2.0])[:, None, None]
    state = np.array([[0.0, 5.0], [1.0, 5.0], [1.0, 6.0], [2.0, 6.0], [2.0, 6.0]])[:, None, :, None]
    history = History(time, state, np.ones((1, 1), dtype=bool))
    assert history.jumps[:, 0, 0].tolist() == [False, True, False, False]


def test_what_is_over_or_refused_has_not_moved():
    """One ends before the other; one has too large an error in its first step."""
    rates = np.array([0.0, 0.0, 1.0])
    law = Plain(lambda y: rates * np.exp(300 * y))
    until = np.array([[0.01, 1.0, 0.003]])
    state = np.zeros((1, 1, 3))
    found = follow(law, state, until, np.ones_like(state), np.full((1, 3), 0.01))
    assert found.converged.all()
    moved = np.array(law.moved)[:, 0]
    assert moved[0].tolist() == [True, True, False]
    assert not moved[1:, 0].any()
    # a step that is refused leaves no instant behind
    rises = (np.diff(found.time[::2, 0], axis=0) > 0).sum(axis=0)
    assert rises.tolist() == moved.sum(axis=0).tolist()
    assert found.time[2, 0, 2] > 0


class Cut(Plain):
    """What happens leaves a part of a step, once."""

    part = None

    def until_event(self, time, state, step, reached):
        self.seen.append(step.copy())
        part, self.part = self.part, None
        return step if part is None else part * step


def test_an_event_cuts_a_step_that_is_good_and_no_other():
    state, given = one(0.0, 0.0), (np.array([[0.5]]), np.ones((1, 2, 1)), np.array([[0.5]]))
    rate = power(4)
    apart = abs(LOWER @ AT**4 - 1 / 5) * 0.5**5
    for tolerance, part, wanted in (
        (TOLERANT, 0.75, 0.375),  # to the event
        (TOLERANT, 0.0, 0.5e-10),  # what happens at once: a bit further
        (1e-9, 0.999, 0.1),  # refused for its error: a fifth
        (apart / 1.5, 0.999, 0.5 * 0.9 * 1.5**-0.2),  # by half too large: as without the event
    ):
        law = Cut(lambda y: rate(y[0, :, 0])[None, :, None])
        law.part = part
        found = follow(law, state, *given, tolerance=tolerance)
        assert law.seen[1][0, 0] == pytest.approx(wanted, rel=1e-9)
        assert 0 < found.time[2, 0, 0] <= wanted * (1 + 1e-9)
        assert found.converged.all()


class Stalled(Plain):
    """Something always happens just before the end of a step, but for the first so many."""

    free = 0

    def until_event(self, time, state, step, reached):
        self.seen.append(step.copy())
        return step * (1.0 if len(self.seen) <= self.free else 0.999)


@pytest.mark.parametrize("free", [0, 1])
def test_a_motion_that_does_not_get_on_is_given_up_after_a_thousand_tries(free):
    law, state = Stalled(lambda y: 0 * y), one(1.0)
    law.free = free
    found = follow(law, state, np.ones((1, 1)), np.ones_like(state), np.full((1, 1), 0.1))
    assert len(law.seen) == free + 1001
    assert not found.converged.any()
    assert found.time[-1, 0, 0] == pytest.approx(0.1 * free)


@pytest.mark.parametrize("unit", [1.0, 1e4, 1e-4])
def test_what_is_too_short_is_a_share_of_the_whole_time(unit):
    """Lost below 1e-11 of it; what is left at the end is no step below 1e-9 of it."""
    for last, tries in ((1.005e-11, 16), (0.995e-11, 15)):
        law = run(lambda y: np.nan * y, one(1.0), unit, last / 0.2**15 * unit)[3]
        assert len(law.seen) == tries
    for rest, instants in ((5e-10, 3), (2e-9, 5)):
        time = run(lambda y: 0 * y, one(1.0), unit, (1 - rest) * unit)[0]
        assert len(time) == instants
        assert time[-1] == unit


def test_a_motion_has_none_of_the_instants_in_which_it_waits():
    """One gets on in turns with another, which jumps too; a third moves at the very end alone."""
    time = np.array([[0, 1, 1, 2, 2, 2], [0, 0, 3, 3, 3, 4], [0, 0, 0, 0, 0, 5]], dtype=float)
    state = np.array([[0, 6, 6, 7, 7, 7], [0, 0, 8, 8, 9, 5], [0, 0, 0, 0, 0, 4]], dtype=float)
    at, held = _without_waiting(time.T[:, None], state.T[:, None, None])
    assert at[:, 0].T.tolist() == [[0, 1, 2, 2], [0, 3, 3, 4], [0, 5, 5, 5]]
    assert held[:, 0, 0].T.tolist() == [[0, 6, 7, 7], [0, 8, 9, 5], [0, 4, 4, 4]]

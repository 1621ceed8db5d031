"""What a landing shows: its course in time, and the peaks and ranges of it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from isolator.coupled import DOWN, SPEED, SPIN, STILL, TURN, Bools, Coupled
from isolator.stepping import History
from isolator.suspension import skew
from isolator.units import FloatArray

CLOSURE = 1e-3
"""How well the energy of a motion has to close. [-]"""

AT_ONCE = 2**17
"""Numbers in the largest array that is made while instants are looked at: 1 MB stays in the cache,
and sixteen take ten times as long."""


@dataclass(frozen=True)
class Landed:
    """What landings (d, b) did; nan where the motion did not converge.

    Attributes
    ----------
    peak : (d, b, p) array
        Largest specific force at each point that was asked for, whatever its direction. [m/s²]
    duration : (d, b) array
        Time around its peak in which the specific force at the first point stays above a tenth of
        it. [s]
    velocity_change : (d, b) array
        Of the first point over that time. [m/s]
    low, high : (d, b, n, 3) arrays
        Range of the deflection of each mount along its local axes. [m]
    across : (d, b, n) array
        Its largest deflection across its axis. [m]
    force : (d, b, n) array
        Largest force of each mount, its damper and stop included. [N]
    moved_low, moved_high : (d, b, 8, 3) arrays
        Range of each corner in the shell, from the unloaded pose. [m]
    metal : (d, b) array
        Speed with which the first mount reaches its limit; 0 where none does. [m/s]
    at_metal : (d, b) array
        When it does; inf where none does. [s]
    peak_before : (d, b) array
        Largest specific force at the first point until then. [m/s²]
    sunk : (d, b) array
        How far the shell came down or turned beyond the first contact, such as into its foam.
        [m, rad]
    struck : (d, b) array
        Largest speed with which the shell met the floor after the first contact: its rate down, or
        that of its rotation. [m/s, rad/s]
    closure : (d, b) array
        What is missing in the energy of the payload, as a share of what it had to lose. [-]
    converged : (d, b) bool array
    closed : (d, b) bool array
        Whether the motion is a closed form, see `modal`, and was not integrated.
    """

    peak: FloatArray
    duration: FloatArray
    velocity_change: FloatArray
    low: FloatArray
    high: FloatArray
    across: FloatArray
    force: FloatArray
    moved_low: FloatArray
    moved_high: FloatArray
    metal: FloatArray
    at_metal: FloatArray
    peak_before: FloatArray
    sunk: FloatArray
    struck: FloatArray
    closure: FloatArray
    converged: Bools
    closed: Bools

    def taken(self, which: slice) -> Landed:
        """Those of some designs."""
        return Landed(*(getattr(self, f.name)[which] for f in fields(Landed)))


@dataclass(frozen=True)
class Course:
    """Landings (d, b) at instants (t), for a picture or to be measured.

    Attributes
    ----------
    time : (t, d, b) array
        [s]
    specific_force : (t, d, b, p) array
        At each point. [m/s²]
    local : (t, d, b, n, 3) array
        Deflection of each mount along its local axes. [m]
    force : (t, d, b, n) array
        Of each mount. [N]
    corners : (t, d, b, 8, 3) array
        Displacement of the corners in the shell. [m]
    sunk : (t, d, b) array
        How far the shell has come down since the first contact, or turned from where it lies flat.
        [m, rad]
    velocity : (t, d, b, 3) array
        Of the payload's centre of gravity, in case axes. [m/s]
    """

    time: FloatArray
    specific_force: FloatArray
    local: FloatArray
    force: FloatArray
    corners: FloatArray
    sunk: FloatArray
    velocity: FloatArray


def observed(law: Coupled, history: History, points: FloatArray) -> tuple[Course, FloatArray]:
    """What all instants show, and how well the energy of the payload closes (d, b)."""
    count, d, _, b = history.state.shape
    n, c, p = law.n, law.holding.corners.shape[1], points.shape[1]
    sizes = ((p,), (n, 3), (n,), (c, 3))
    felt, local, force, corners = (np.empty((count, d, b, *own)) for own in sizes)
    # a mount looks up six numbers of a curve for each of its two ways
    some = max(AT_ONCE // (d * b * max(12 * n, 3 * c, 3 * p, 22)), 1)
    for start in range(0, count, some):
        own = slice(start, start + some)
        felt[own], local[own], force[own], corners[own] = _shown(law, history.state[own], points)
    course = Course(
        time=history.time,
        specific_force=felt,
        local=local,
        force=force,
        corners=corners,
        sunk=history.state[:, :, DOWN],
        velocity=np.swapaxes(history.state[:, :, SPEED], -1, -2),
    )
    few = np.linspace(0, count - 1, 9).astype(int)
    seldom, y = law.at(history.state[few])
    energy = np.moveaxis(seldom.energy(y).reshape(d, len(few), b), 1, 0)
    mass = np.asarray(law.holding.suspension.mass)[:, None]
    first = (history.state[0][:, SPEED] ** 2).sum(axis=1) + law.landings.speed**2
    scale = np.maximum(mass * first / 2, np.abs(energy[0]))
    return course, np.abs(energy - energy[0]).max(axis=0) / np.maximum(scale, 1e-12)


def _shown(law: Coupled, states: FloatArray, points: FloatArray) -> tuple[FloatArray, ...]:
    """What states (t, d, k, b) show: see `Course`, its second to its fifth."""
    count, d, _, b = states.shape
    every, y = law.at(states)
    turning, force, torque, *_ = every.parts(y)
    both = every.seen(y, turning)
    local, _, mounts, _ = every.mounts(y, both)
    corner = law.holding.whisker @ (both[:, :, 0] - STILL[:, None])
    own = np.einsum("djib,djb->dib", y[:, TURN].reshape(d, 3, 3, -1), force) / law.mass
    if points.any():
        whirl = skew(np.swapaxes(y[:, SPIN], 1, 2))
        bend = skew(np.swapaxes(law.release @ torque, 1, 2)) + whirl @ whirl
        felt = np.swapaxes(own, 1, 2)[:, :, None] + np.einsum("dbij,dpj->dbpi", bend, points)
        felt = np.swapaxes(np.linalg.norm(felt, axis=-1), 1, 2)
    else:
        felt = np.linalg.norm(own, axis=1)[:, None]

    def by_time(values: FloatArray, *own_shape: int) -> FloatArray:
        """(d, own, t·b) as (t, d, b, own)."""
        values = np.moveaxis(values.reshape(d, -1, count, b), 1, -1)
        return np.moveaxis(values, 1, 0).reshape(count, d, b, *own_shape)

    return (
        by_time(felt, points.shape[1]),
        np.swapaxes(by_time(local, 3, law.n), -1, -2),
        by_time(np.linalg.norm(mounts, axis=1), law.n),
        by_time(corner, law.holding.corners.shape[1], 3),
    )


def measured(
    law: Coupled, course: Course, closure: FloatArray, converged: Bools, jumps: Bools | None = None
) -> Landed:
    """Peaks and ranges of the motions, which may have `jumps` between instants (t - 1, d, b)."""
    time, felt, local = course.time, course.specific_force, course.local
    count, d, b, n = course.force.shape
    jumps = np.zeros((count - 1, d, b), dtype=bool) if jumps is None else jumps
    limit = law.holding.limit[:, None]
    across = np.hypot(local[..., 1], local[..., 2])
    beyond = np.stack(
        [local[..., 0] - limit[..., 0], -local[..., 0] - limit[..., 1], across - limit[..., 2]],
        axis=-1,
    )
    beyond = np.where(np.isnan(beyond), -np.inf, beyond).max(axis=(-1, -2))
    speed, at_metal, index = _first_crossing(time, beyond)
    until = np.arange(count)[:, None, None] <= index
    centre, gravity = felt[..., 0], np.swapaxes(law.gravity, 1, 2)
    duration, change = _pulse(time, centre, course.velocity, gravity, centre.argmax(axis=0))
    flat, corners = (a.reshape(count, d, b, -1) for a in (local, course.corners))
    near = _neighbours(time, jumps)
    converged = converged & (closure < CLOSURE)

    def most(values: FloatArray) -> FloatArray:
        return np.where(converged[..., None], _vertex(time, near, values), np.nan)

    peak, aside, force = most(felt), most(across), most(course.force)
    high, low, moved_high, moved_low = map(most, (flat, -flat, corners, -corners))

    def known(values: FloatArray) -> FloatArray:
        return np.where(converged, values, np.nan)

    return Landed(
        peak=peak,
        duration=known(duration),
        velocity_change=known(change),
        low=-low.reshape(d, b, n, 3),
        high=high.reshape(d, b, n, 3),
        across=aside,
        force=force,
        moved_low=-moved_low.reshape(d, b, -1, 3),
        moved_high=moved_high.reshape(d, b, -1, 3),
        metal=known(speed),
        at_metal=known(at_metal),
        peak_before=known(np.where(until, felt[..., 0], 0.0).max(axis=0)),
        sunk=known(course.sunk.max(axis=0)),
        struck=known(law.struck),
        closure=closure,
        converged=converged,
        closed=np.zeros_like(converged),
    )


def joined(
    landed: Landed, course: Course, rest: Landed, others: Course, where: Bools, taken: Bools
) -> tuple[Landed, Course]:
    """Landings (d, b), and others in place of those `where` (d, b), which are those `taken`.

    A course that is over before another waits.
    """
    count = max(len(course.time), len(others.time))

    def placed(whole: Any, part: Any) -> Any:
        out = whole.copy()
        out[where] = part[taken]
        return out

    def waiting(series: FloatArray) -> FloatArray:
        last = np.repeat(series[-1:], count - len(series), axis=0)
        return np.concatenate([series, last])

    def followed(whole: FloatArray, part: FloatArray) -> FloatArray:
        out = waiting(whole)
        out[:, where] = waiting(part)[:, taken]
        return out

    mine, theirs = ([getattr(a, f.name) for f in fields(Landed)] for a in (landed, rest))
    whole = Landed(*map(placed, mine, theirs))
    mine, theirs = ([getattr(a, f.name) for f in fields(Course)] for a in (course, others))
    return whole, Course(*map(followed, mine, theirs))


def _neighbours(time: FloatArray, jumps: Bools) -> npt.NDArray[np.intp]:
    """Index of the next earlier and the next later instant of each (2, t, d, b).

    The instant itself at an end, and at a jump (t - 1, d, b) of the state between two of them.
    """
    count = len(time)
    before, after = np.zeros((2, *time.shape), dtype=np.intp)
    after[-1] = count - 1
    for i in range(1, count):
        near = np.where(time[i] > time[i - 1], i - 1, before[i - 1])
        before[i] = np.where(jumps[i - 1], i, near)
        j = count - 1 - i
        near = np.where(time[j + 1] > time[j], j + 1, after[j + 1])
        after[j] = np.where(jumps[j], j, near)
    return np.stack([before, after])


def _vertex(time: FloatArray, neighbours: npt.NDArray[np.intp], values: FloatArray) -> FloatArray:
    """Largest value of each series (t, d, b, v), by a parabola through the three around it."""
    before, after = neighbours
    top = values.argmax(axis=0)
    d, b = np.ogrid[: time.shape[1], : time.shape[2]]
    d, b = d[..., None], b[..., None]
    series = np.arange(values.shape[-1])
    # at an end the parabola through the three next to it
    left, right = before[top, d, b], after[top, d, b]
    here = time[top, d, b]
    middle = np.where(time[left, d, b] == here, right, top)
    middle = np.where(time[right, d, b] == here, left, middle)
    left, right = before[middle, d, b], after[middle, d, b]
    t0, t1, t2 = (time[i, d, b] for i in (left, middle, right))
    y0, y1, y2 = (values[i, d, b, series] for i in (left, middle, right))
    inside = (t1 > t0) & (t2 > t1)
    a, c = np.where(inside, t1 - t0, 1.0), np.where(inside, t2 - t1, 1.0)
    rise, fall = (y1 - y0) / a, (y2 - y1) / c
    bend = np.where(inside, (fall - rise) / (a + c), 0.0)
    slope = (rise * c + fall * a) / (a + c)
    hollow = np.where(bend < 0, bend, -1.0)
    away = -slope / (2 * hollow)
    near = (bend < 0) & (away >= -a) & (away <= c)
    gain = np.where(near, -(slope**2) / (4 * hollow), 0.0)
    # no more than what the two neighbours are off: a kink is no parabola
    gain = np.minimum(gain, np.maximum(y1 - np.minimum(y0, y2), 0.0))
    return np.asarray(np.maximum(values[top, d, b, series], y1 + gain))


def _first_crossing(
    time: FloatArray, value: FloatArray
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.intp]]:
    """Rate and time at which series (t, d, b) first rise above 0, and the index of it.

    0, inf and the last index where they do not.
    """
    over = value > 0
    any_ = over.any(axis=0)
    index = np.where(any_, over.argmax(axis=0), len(time) - 1)
    back = np.maximum(index - 1, 0)

    def at(array: FloatArray, i: npt.NDArray[np.intp]) -> FloatArray:
        return np.asarray(np.take_along_axis(array, i[None], axis=0)[0])

    span = at(time, index) - at(time, back)
    rise = np.where(any_, at(value, index), 0.0) - np.where(any_, at(value, back), 0.0)
    speed = np.where(span > 0, rise / np.where(span > 0, span, 1.0), 0.0)
    return np.where(any_, speed, 0.0), np.where(any_, at(time, index), np.inf), index


def _pulse(
    time: FloatArray,
    felt: FloatArray,
    velocity: FloatArray,
    gravity: FloatArray,
    top: npt.NDArray[np.intp],
) -> tuple[FloatArray, FloatArray]:
    """Time around its peak in which a series (t, d, b) is above a tenth of it; change of speed.

    It also ends where the force between two instants, by the change of velocity (t, d, b, 3), has
    turned against that of the peak: it was nothing in between.
    """
    count = len(time)
    step = np.arange(count)[:, None, None]
    limit = np.take_along_axis(felt, top[None], axis=0) / 10

    def at(array: FloatArray, index: npt.NDArray[np.intp]) -> FloatArray:
        wide = index[None, ..., *[None] * (array.ndim - 3)]
        wide = np.broadcast_to(wide, (1, *array.shape[1:]))
        return np.asarray(np.take_along_axis(array, wide, axis=0)[0])

    def push(first: FloatArray, last: FloatArray, span: FloatArray) -> FloatArray:
        return np.asarray(last - first - gravity * span[..., None])

    near = np.maximum(top - 1, 0), np.minimum(top + 1, count - 1)
    first, last = (at(velocity, i) for i in near)
    way = push(first, last, at(time, near[1]) - at(time, near[0]))
    way = way / np.maximum(np.linalg.norm(way, axis=-1, keepdims=True), 1e-300)
    span = np.diff(time, axis=0)
    mean = (push(velocity[:-1], velocity[1:], span) * way).sum(axis=-1)
    turned = (mean <= limit * span) & (span > 0)
    none = np.zeros((1, *turned.shape[1:]), dtype=bool)
    low = felt <= limit
    before, after = np.concatenate([turned, none]), np.concatenate([none, turned])
    start = np.where((low | before) & (step < top), step, -1).max(axis=0)
    end = np.where((low | after) & (step > top), step, count).min(axis=0)
    start, end = np.maximum(start, 0), np.minimum(end, count - 1)
    change = np.linalg.norm(at(velocity, end) - at(velocity, start), axis=-1)
    return at(time, end) - at(time, start), change

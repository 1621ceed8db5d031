"""Landings in closed form, by modes, where nothing leaves its linear range.

The payload in its shell, six motions and their rates, follows a constant matrix while the shell
stands on the floor, and the same one without gravity while a heavy shell is in the air. Mounts
count with their tangent in the unloaded pose, rotations as small; dashpots are those of `coupled`.
Afterwards the true law is asked along the whole path: what touches something, leaves the straight
part of a curve, lets go or turns too far is not accepted, and has to be integrated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.coupled import (
    DOWN,
    SHIFT,
    SINKING,
    SLOW,
    SPEED,
    SPIN,
    STILL,
    TURN,
    WORK,
    Bools,
    Coupled,
)
from isolator.course import CLOSURE, Course
from isolator.suspension import ComplexArray, rotation, skew
from isolator.units import FloatArray

ALIKE = 1e-3
"""Largest miss of the closed form against the true law, as a share of the largest force. [-]"""

PEAK = 2e-4
"""How well a parabola through three instants finds a peak. [-]"""

STRIDE = 4
"""Every which instant the true law is asked."""

NEAR = 0.99
"""From this share of a limit or gap on something counts as touched: a top lies between instants."""

MOST = 1000
"""Instants at the most: a motion that needs more is not accepted."""

HOPS = 20
"""How often a heavy shell may leave the floor: one that hops on is not accepted."""

_PLACE = np.zeros((12, 6))
_PLACE[9:, :3] = np.eye(3)
_PLACE[:9, 3:] = skew(np.eye(3)).reshape(3, 9).T


@dataclass(frozen=True)
class Closed:
    """Landings (d, b) in closed form.

    Attributes
    ----------
    course : Course
        At instants so close that a parabola through three of them finds peaks to `PEAK`.
    closure : (d, b) array
        See `course.Landed`.
    fits : (d, b) bool array
        Which are accepted; the others are meaningless.
    """

    course: Course
    closure: FloatArray
    fits: Bools


def by_modes(
    law: Coupled, state: FloatArray, until: FloatArray, points: FloatArray
) -> Closed | None:
    """Motions (d, b) from the first contact on, in closed form; None where none is accepted.

    With the shapes Φ of the undamped modes, ΦᵀMΦ = 1 and ΦᵀKΦ = ω², the displacement Φp from the
    unloaded pose follows p̈ + ΦᵀCΦṗ + ω²p = ΦᵀMg; in z = (ωp, ṗ) this is ż = A(z − z₀), so
    z − z₀ is a sum of exponentials with the eigenvalues of A. In the air z₀ = 0. When a shell that
    came down with v goes up with e·v, ṗ changes by ΦᵀM times that change of its speed.

    Accepted is a motion of a shell that does not turn, has no foam and stays where it lands, or is
    heavy and rebounds; with dashpots; that touches no stop and no wall, and along which the floor
    never has to pull and the true law gives the same forces and places within `ALIKE`.

    Parameters
    ----------
    law : Coupled
        Of shells in contact with the floor. Its `struck` is set.
    state : (d, k, b) array
        Just after the contact.
    until : (d, b) array
        [s]
    points : (d, p, 3) array
        Where the specific force is wanted. [m]
    """
    known = bool(np.isfinite(law.omega).all())
    if law.turns or law.relaxes or law.foam is not None or not known:
        return None
    stays = (law.floats == 0) & (law.brakes == 0)
    heavy = (law.floats == 1) & (law.light == 0)
    modes = _Modes.of(law)
    hops, landed = _Hops.of(law, modes, state, until)
    count = hops.instants(modes, until)
    fits = (stays | heavy) & landed & modes.exact & (count <= MOST)
    if not fits.any():
        return None
    share = np.linspace(0.0, 1.0, int(count[fits].max()))
    time, hop = hops.seen(np.where(fits, until, 0.0)[..., None] * share)
    z, q, qd = hops.along(modes, time, hop, law.pulled_down)
    law.struck = np.where(hops.start[1:2].min(axis=0, initial=np.inf) < until, hops.up[0], 0.0)
    course = _course(law, modes, time, z, q, qd, points)
    closure, alike = _alike(law, modes, course, z, q, qd)
    weight = law.pulled_down - law.light[..., None] * (modes.push[:, :, None] * modes.pull(z)).sum(
        -1
    )
    fits &= alike & ~_touches(law, course) & (closure < CLOSURE) & (weight >= 0).all(axis=-1)
    return Closed(course, closure, fits) if fits.any() else None


@dataclass(frozen=True)
class _Modes:
    """The constant matrix A of motions (d, b).

    Attributes
    ----------
    omega, shape : (d, 6), (d, 6, 6) arrays
        Undamped. [rad/s]
    damping : (d, b, 6, 6) array
        ΦᵀCΦ. [1/s]
    push : (d, b, 6) array
        ΦᵀM times one down. [√kg]
    value, vector, inverse : (d, b, m), (d, b, 12, m), (d, b, m, 12) complex arrays
        Eigenvalues of A, its eigenvectors and what takes a state apart; one of each pair of
        conjugates, its eigenvector twice as long. [1/s]
    exact : (d, b) bool array
        Whether they give A back.
    """

    omega: FloatArray
    shape: FloatArray
    damping: FloatArray
    push: FloatArray
    value: ComplexArray
    vector: ComplexArray
    inverse: ComplexArray
    exact: Bools

    @classmethod
    def of(cls, law: Coupled) -> _Modes:
        d, b = law.shape
        square, shape = law.holding.modes
        omega = np.sqrt(square)
        # motions of a design whose dashpots are the same share one matrix
        which = np.stack([np.repeat(np.arange(d), b), law.omega.ravel()])
        _, first, same = np.unique(which, axis=1, return_index=True, return_inverse=True)
        design, column = np.divmod(first, b)
        damping = np.zeros((len(first), 6, 6))
        for rows, drag in ((law.rows, law.dashpot), (law.ends, law.drag)):
            drag = np.broadcast_to(drag, (d, *np.shape(drag)[1:-1], b)).reshape(d, -1, b)
            way = (rows @ _PLACE @ shape)[design]
            damping += np.swapaxes(way, 1, 2) @ (drag[design, :, column][..., None] * way)
        matrix = np.zeros((len(first), 12, 12))
        at = np.arange(6)
        matrix[:, at, at + 6] = omega[design]
        matrix[:, at + 6, at] = -omega[design]
        matrix[:, 6:, 6:] = -damping
        value, vector = (a.astype(complex) for a in np.linalg.eig(matrix))
        inverse = np.linalg.pinv(vector)
        back = (vector * value[:, None]) @ inverse - matrix
        size = np.abs(matrix).max(axis=(1, 2))
        exact = np.abs(back).max(axis=(1, 2)) <= 1e-9 * size
        # of a pair of conjugates one counts twice
        weight = np.where(value.imag > 0, 2.0, np.where(value.imag < 0, 0.0, 1.0))
        order = np.argsort(-weight, axis=-1, kind="stable")[:, : (weight > 0).sum(axis=-1).max()]
        value = np.take_along_axis(value, order, axis=-1)
        vector = np.take_along_axis(vector * weight[:, None], order[:, None], axis=-1)
        inverse = np.take_along_axis(inverse, order[..., None], axis=-2)
        same = same.reshape(d, b)
        still = np.concatenate([law.landings.down, np.zeros((d, b, 3))], axis=-1)
        push = still @ (law.holding.suspension.mass_matrix() @ shape)
        return cls(
            omega=omega,
            shape=shape,
            damping=damping[same],
            push=push,
            value=value[same],
            vector=vector[same],
            inverse=inverse[same],
            exact=exact[same],
        )

    def taken_apart(self, z: FloatArray) -> ComplexArray:
        """Amplitudes (d, b, m) of the exponentials that make up states (d, b, 12)."""
        return (self.inverse @ z[..., None])[..., 0]

    def made_up(self, part: ComplexArray, time: FloatArray) -> FloatArray:
        """States (d, b, t, 12) of amplitudes (d, b, t, m) after times (d, b, t). [s]"""
        grown = part * np.exp(self.value[:, :, None] * time[..., None])
        vector = np.swapaxes(self.vector, -1, -2)
        return np.asarray(grown.real @ vector.real - grown.imag @ vector.imag)

    def pull(self, z: FloatArray) -> FloatArray:
        """Φᵀ times force and torque of mounts and cables (d, b, t, 6) at states (d, b, t, 12)."""
        return np.asarray(-z[..., :6] * self.omega[:, None, None] - z[..., 6:] @ self.damping)


@dataclass(frozen=True)
class _Hops:
    """What motions (d, b) are made of: flights (f), and the rest on the floor after them.

    Attributes
    ----------
    start : (f, d, b) array
        inf where there is none. [s]
    up : (f, d, b) array
        Speed with which the shell leaves the floor; 0 where it stays. [m/s]
    middle : (f, d, b, 12) array
        z₀.
    part : (f, d, b, m) complex array
        Amplitudes of the exponentials.
    """

    start: FloatArray
    up: FloatArray
    middle: FloatArray
    part: ComplexArray

    @classmethod
    def of(
        cls, law: Coupled, modes: _Modes, state: FloatArray, until: FloatArray
    ) -> tuple[_Hops, Bools]:
        """Flights and rest, and which motions (d, b) have few enough of them."""
        d, b = law.shape
        g = law.pulled_down
        sag = np.zeros((d, b, 12))
        sag[..., :6] = g * modes.push / modes.omega[:, None]
        z, up, start = _first(law, modes, state), -state[:, SINKING], np.zeros((d, b))
        parts = []
        for _ in range(HOPS + 1):
            middle = np.where(up[..., None] > 0, 0.0, sag)
            part = modes.taken_apart(z - middle)
            parts.append((start, up, middle, part))
            flight = np.where(up > 0, 2 * up / g if g > 0 else np.inf, np.inf)
            lands = start + flight < until
            if not lands.any():
                break
            flight = np.where(lands, flight, 0.0)
            z = modes.made_up(part[:, :, None], flight[..., None])[:, :, 0]
            again = law.bounce * up
            again = np.where(again < SLOW * law.full, 0.0, again)
            z[..., 6:] += modes.push * (up + again)[..., None]
            start, up = np.where(lands, start + flight, np.inf), np.where(lands, again, 0.0)
        return cls(*(np.stack(a) for a in zip(*parts, strict=True))), ~lands

    def instants(self, modes: _Modes, until: FloatArray) -> npt.NDArray[np.intp]:
        """How many instants (d, b) evenly apart find peaks to `PEAK`.

        A parabola through three instants h apart misses a peak of exp(−δt) cos(ωt) by up to
        .0234 (ωh)⁴ + .128 δω²h³ of it.
        """
        size = np.abs(self.part * modes.value)
        size /= np.maximum(size.max(axis=-1, keepdims=True), 1e-300)
        fast = np.abs(modes.value)
        fourth = 0.0234 * (size * fast**4).sum(axis=-1).max(axis=0) / PEAK
        fourth = np.maximum(fourth, 1e-12)
        third = 0.128 * (size * np.abs(modes.value.real) * fast**2).sum(axis=-1).max(axis=0) / PEAK
        step = fourth**-0.25
        for _ in range(4):
            over = step**3 * (fourth * step + third) - 1
            step = step - over / (step**2 * (4 * fourth * step + 3 * third))
        return np.asarray(np.ceil(np.minimum(until / step, 1e9)).astype(np.intp) + 2)

    def seen(self, time: FloatArray) -> tuple[FloatArray, npt.NDArray[np.intp]]:
        """Instants (d, b, t) with both sides of each landing, and which hop they belong to."""
        later = np.moveaxis(self.start[1:], 0, -1)
        hop = (time[..., None, :] >= later[..., None]).sum(axis=-2)
        last = hop[..., -1:]
        own = np.broadcast_to(np.arange(later.shape[-1]), later.shape)
        happens = own < last
        later = np.where(happens, later, time[..., -1:])
        time = np.concatenate([time, later, later], axis=-1)
        before, after = (np.where(happens, own + i, last) for i in (0, 1))
        hop = np.concatenate([hop, before, after], axis=-1)
        order = np.lexsort((hop, time), axis=-1)
        return np.take_along_axis(time, order, -1), np.take_along_axis(hop, order, -1)

    def along(
        self, modes: _Modes, time: FloatArray, hop: npt.NDArray[np.intp], gravity: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """z (d, b, t, 12), and how far down the shell is and how fast it comes, (d, b, t)."""
        own = hop, np.arange(len(hop))[:, None, None], np.arange(hop.shape[1])[:, None]
        since, up = time - self.start[own], self.up[own]
        z = modes.made_up(self.part[own], since) + self.middle[own]
        flies = up > 0
        q = np.where(flies, since * (gravity * since / 2 - up), 0.0)
        return z, q, np.where(flies, gravity * since - up, 0.0)


def _first(law: Coupled, modes: _Modes, state: FloatArray) -> FloatArray:
    """z (d, b, 12) of the state (d, k, b) at the first contact."""
    d, b = law.shape
    turn = np.moveaxis(state[:, TURN].reshape(d, 3, 3, b), -1, 1)
    off = (turn - np.swapaxes(turn, -1, -2)) / 2
    sine = np.stack([off[..., 2, 1], off[..., 0, 2], off[..., 1, 0]], axis=-1)
    length = np.minimum(np.linalg.norm(sine, axis=-1, keepdims=True), 1.0)
    angle = sine / np.sinc(np.arcsin(length) / np.pi)
    seen = np.swapaxes(state[:, SPEED] - law.down * state[:, None, SINKING], 1, 2)
    place = np.concatenate([np.swapaxes(state[:, SHIFT], 1, 2), angle], axis=-1)
    rate = np.concatenate([seen, np.swapaxes(state[:, SPIN], 1, 2)], axis=-1)
    ahead = law.holding.suspension.mass_matrix() @ modes.shape
    return np.concatenate([place @ ahead * modes.omega[:, None], rate @ ahead], axis=-1)


def _states(
    law: Coupled, modes: _Modes, z: FloatArray, q: FloatArray, qd: FloatArray
) -> FloatArray:
    """States (t, d, k, b) as the integrator has them; the work is what the energy changed by."""
    d, b, count = q.shape
    back = np.swapaxes(modes.shape, -1, -2)[:, None]
    place = (z[..., :6] / modes.omega[:, None, None]) @ back
    rate = z[..., 6:] @ back
    down = law.landings.down[:, :, None]
    shift, speed = place[..., :3] + down * q[..., None], rate[..., :3] + down * qd[..., None]
    spin = rate[..., 3:]
    held = law.holding.suspension
    mass = np.asarray(held.mass)[:, None, None]
    energy = mass * ((speed**2).sum(axis=-1) / 2 - law.pulled_down * (down * shift).sum(axis=-1))
    energy += (spin * (spin @ held.inertia[:, None])).sum(axis=-1) / 2
    energy += (z[..., :6] ** 2).sum(axis=-1) / 2
    out = np.empty((count, d, WORK + 1, b))
    for where, values in (
        (TURN, rotation(place[..., 3:]).reshape(d, b, count, 9)),
        (SHIFT, shift),
        (SPIN, spin),
        (SPEED, speed),
        (slice(DOWN, SINKING), q[..., None]),
        (slice(SINKING, WORK), qd[..., None]),
        (slice(WORK, WORK + 1), (energy - energy[..., :1])[..., None]),
    ):
        out[:, :, where] = values.transpose(2, 0, 3, 1)
    return out


def _course(
    law: Coupled,
    modes: _Modes,
    time: FloatArray,
    z: FloatArray,
    q: FloatArray,
    qd: FloatArray,
    points: FloatArray,
) -> Course:
    """What instants (d, b, t) show."""
    d, b, count = time.shape
    p, rate = z[..., :6] / modes.omega[:, None, None], z[..., 6:]
    across = np.swapaxes(law.rows @ _PLACE @ modes.shape, 1, 2)[:, None]
    local = p @ across
    drag = np.moveaxis(law.dashpot, -1, 1).reshape(d, b, 1, -1)
    force = local * law.stiffness.reshape(d, 1, 1, -1) + (rate @ across) * drag
    force = np.linalg.norm(force.reshape(d, b, count, 3, law.n), axis=-2)
    whisker = np.swapaxes(law.holding.whisker @ _PLACE @ modes.shape, 1, 2)[:, None]
    back = np.swapaxes(modes.shape, -1, -2)[:, None]
    pulled = modes.pull(z) @ back
    moving = rate @ back
    felt = pulled[..., None, :3]
    if points.any():
        w = moving[..., 3:]
        bend = skew(pulled[..., 3:]) + w[..., :, None] * w[..., None, :]
        bend -= (w**2).sum(axis=-1)[..., None, None] * np.eye(3)
        turned = bend.reshape(d, -1, 3) @ np.swapaxes(points, 1, 2)
        felt = felt + np.swapaxes(turned.reshape(d, b, count, 3, -1), -1, -2)
    velocity = moving[..., :3] + law.landings.down[:, :, None] * qd[..., None]
    places = (p @ whisker).reshape(d, b, count, -1, 3)
    local = np.swapaxes(local.reshape(d, b, count, 3, law.n), -1, -2)
    parts = (time, np.linalg.norm(felt, axis=-1), local, force, places, q, velocity)
    return Course(*(np.moveaxis(a, 2, 0) for a in parts))


def _touches(law: Coupled, course: Course) -> Bools:
    """Whether motions (d, b) meet a stop or a wall."""
    limit, stop = NEAR * law.holding.limit[:, None], law.holding.stop[:, None]
    local, corners = course.local, course.corners
    out = np.zeros(law.shape, dtype=bool)
    if law.stop is not None:
        over = (local[..., 0] > limit[..., 0]) | (-local[..., 0] > limit[..., 1])
        over |= np.hypot(local[..., 1], local[..., 2]) > limit[..., 2]
        out |= (over & (stop > 0)).any(axis=(0, -1))
    if law.wall is not None:
        room = NEAR * law.room.reshape(len(stop), 1, -1, 3, 2)
        over = (corners > room[..., 1]) | (-corners > room[..., 0])
        out |= over.any(axis=(0, -1, -2)) & (law.holding.wall > 0)[:, None]
    return out


def _alike(
    law: Coupled, modes: _Modes, course: Course, z: FloatArray, q: FloatArray, qd: FloatArray
) -> tuple[FloatArray, Bools]:
    """How well the energy closes, and where (d, b) the true law gives the same.

    Asked at every `STRIDE`th instant and where mounts are deflected and the payload pushed most.
    """
    d, b, count, _ = z.shape
    most = [(course.local**2).sum(axis=(-1, -2)), course.specific_force[..., 0]]
    even = np.append(np.arange(0, count, STRIDE), count - 1)
    even = np.broadcast_to(even, (d, b, len(even)))
    some = np.concatenate([even, *(a.argmax(axis=0)[..., None] for a in most)], axis=-1)
    few = np.arange(d)[:, None, None], np.arange(b)[:, None], some
    z, local, corners = z[few], course.local, course.corners
    states = _states(law, modes, z, q[few], qd[few])
    every, y = law.at(states)
    turning, force, torque, *_ = every.parts(y)
    place = every.seen(y, turning)[:, :, 0]

    def by_motion(values: FloatArray) -> FloatArray:
        values = values.reshape(d, -1, some.shape[-1], b)
        return np.moveaxis(values, (1, 2), (3, 2))[:, :, 1:]

    true = np.swapaxes(modes.shape, -1, -2) @ np.concatenate([force, torque], axis=1)
    local = np.moveaxis(local, 0, 2)[few].swapaxes(-1, -2).reshape(*some.shape, -1)
    corners = np.moveaxis(corners, 0, 2)[few].reshape(*some.shape, -1)
    alike = np.ones((d, b), dtype=bool)
    for lawful, own in (
        (true, modes.pull(z)),
        (law.rows @ place - law.zero.reshape(d, -1, 1), local),
        (law.holding.whisker @ (place - STILL[:, None]), corners),
    ):
        off, size = np.abs(by_motion(lawful) - own[:, :, 1:]), np.abs(own)
        off, size = (np.linalg.norm(a, axis=-1).max(axis=-1) for a in (off, size))
        alike &= off <= ALIKE * size
    seldom, y = law.at(states[:: -(-len(states) // 9)])
    energy = seldom.energy(y).reshape(d, -1, b)
    scale = np.asarray(law.holding.suspension.mass)[:, None] * law.landings.speed**2 / 2
    closure = np.abs(energy - energy[:, :1]).max(axis=1) / np.maximum(scale, 1e-12)
    return closure, np.asarray(alike)

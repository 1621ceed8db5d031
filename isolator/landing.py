"""A landing as it happens: from the release through the fall to the floor.

See `coupled` for what moves, `course` for what is read of it, and `modal` for the closed form that
stands in for the integrator where all stays linear.

Limits. The floor is rigid and does not move, the shell and the tray do not bend, the shell lands
along a line or about an edge and does not slide. What a shell gives is in `Shell.stopping` and
`Shell.foam`: without them its own give, which lengthens the pulse and lowers the peak of stiff
mounts, is not counted.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from isolator.coupled import (
    BRANCH,
    DOWN,
    SHIFT,
    SINKING,
    SPEED,
    SPIN,
    TURN,
    WORK,
    Bools,
    Coupled,
    Damping,
    Floor,
    Holding,
    Landings,
    Shell,
    Start,
)
from isolator.course import Course, Landed, joined, measured, observed
from isolator.curve import Curve
from isolator.modal import by_modes
from isolator.stepping import History, follow
from isolator.units import G0, FloatArray

FINER = 1e-8
"""Tolerance with which motions are followed once more whose energy does not close. [-]"""

PHASES = 8
"""At how many phases of the ring of its fall a payload lands."""


def ring(
    holding: Holding, shell: Shell, down: FloatArray, fall: FloatArray, *, phases: int = PHASES
) -> Start:
    """How payloads may hang in a falling shell when it lands: phases of the ring of their release.

    Before its release the case is at rest with what is `down` below, and the payload sags; then
    both fall, and the mounts throw the payload back. Nobody knows the phase in which it lands to
    better than the height, so it may be any of the first period of the mode that dominates, before
    damping takes the ring away; or any instant of a fall that is shorter than that.

    Parameters
    ----------
    holding : Holding of (d,)
    shell : Shell of (d,)
    down : (d, l, 3) array
        [-]
    fall : (d, l) array
        How long it falls. [s]
    phases : int

    Returns
    -------
    Start of (d, l · phases), those of one landing side by side
    """
    held, (d, count) = holding.suspension, fall.shape
    pose = held.repeated().pose(G0 * down)
    landings = Landings(down=down, speed=np.zeros((d, count)))
    released = Start(
        shift=pose.shift,
        velocity=np.zeros((d, count, 3)),
        spin=np.zeros((d, count, 3)),
        turn=pose.turn,
    )
    omega = holding.dominant(down)
    until = np.minimum(fall, 2 * np.pi / omega)
    law = Coupled(holding, replace(shell, foam=None), landings, omega, "viscous", G0)
    state = _state(law, released)
    state[:, DOWN] = -1e3
    state[:, SHIFT] -= 1e3 * law.down
    sag = np.maximum(np.linalg.norm(pose.shift, axis=-1), 1e-6)
    scale, first = _scales(law, omega * sag, omega)
    history = follow(law, state, until, scale, first)
    at = until[..., None] * np.arange(1, phases + 1) / phases
    seen = _between(history, at)
    q, qd = seen[:, DOWN], seen[:, SINKING]
    wide = law.down[..., None]
    turn = np.moveaxis(seen[:, TURN].reshape(d, 3, 3, count, phases), (3, 4), (1, 2))
    # what lies between two instants is nearly a rotation; this step makes it one
    turn = turn @ (3 * np.eye(3) - np.swapaxes(turn, -1, -2) @ turn) / 2
    found = pose.found[..., None]

    def own(values: FloatArray, still: FloatArray) -> FloatArray:
        values = np.where(found[..., *[None] * still.ndim], values, still)
        return np.asarray(values.reshape(d, count * phases, *still.shape))

    def vector(values: FloatArray) -> FloatArray:
        return own(np.moveaxis(values, 1, -1), np.zeros(3))

    return Start(
        shift=vector(seen[:, SHIFT] - wide * q[:, None]),
        velocity=vector(seen[:, SPEED] - wide * qd[:, None]),
        spin=vector(seen[:, SPIN]),
        turn=own(turn, np.eye(3)),
    )


def _between(history: History, at: FloatArray) -> FloatArray:
    """States (d, k, b, m) at instants (d, b, m), by straight lines between close instants."""
    time = np.moveaxis(history.time, 0, -1)
    index = (time[..., None, :] < at[..., None]).sum(axis=-1)
    index = np.clip(index, 1, time.shape[-1] - 1)
    low = np.take_along_axis(time, index - 1, axis=-1)
    span = np.take_along_axis(time, index, axis=-1) - low
    share = np.where(span > 0, (at - low) / np.where(span > 0, span, 1.0), 1.0)[:, None]
    states = np.moveaxis(history.state, 0, -1)
    wide = np.broadcast_to(index[:, None], (*states.shape[:-1], index.shape[-1]))
    before = np.take_along_axis(states, wide - 1, axis=-1)
    return np.asarray(before + share * (np.take_along_axis(states, wide, axis=-1) - before))


def _state(law: Coupled, start: Start) -> FloatArray:
    """State of motions whose shell is at the first contact, with its speed after it."""
    d, b = law.shape
    landings = law.landings
    y = np.zeros((d, BRANCH + (3 * law.n if law.relaxes else 0), b))
    turn = np.broadcast_to(start.turn, (d, b, 3, 3))
    spin = np.broadcast_to(start.spin, (d, b, 3))
    shift, velocity = start.shift, start.velocity + landings.down * landings.speed[..., None]
    if landings.axis is None:
        y[:, SINKING] = landings.speed
    else:
        pivot = np.broadcast_to(landings.pivot, (d, b, 3))
        own = np.moveaxis(law.turned(-np.broadcast_to(landings.tilt, (d, b))), -1, 1)
        whirl = landings.axis * np.broadcast_to(landings.spin, (d, b))[..., None]
        seen = start.velocity + np.cross(whirl, shift - pivot)
        shift = (own @ (shift - pivot)[..., None])[..., 0] + pivot
        velocity = (own @ seen[..., None])[..., 0] + landings.down * landings.speed[..., None]
        spin = spin + (np.swapaxes(turn, -1, -2) @ whirl[..., None])[..., 0]
        turn = own @ turn
        y[:, DOWN] = -np.broadcast_to(landings.tilt, (d, b))
        # the floor stops the edge, and what momentum the shell has about it turns it
        arm = (own @ (law.shell.centre[:, None] - pivot)[..., None])[..., 0]
        moment = (landings.axis * np.cross(arm, landings.down)).sum(axis=-1)
        y[:, SINKING] = landings.speed * moment / law.swing + landings.spin
    y[:, TURN] = np.moveaxis(turn.reshape(d, b, 9), 1, -1)
    y[:, SHIFT] = np.swapaxes(np.broadcast_to(shift, (d, b, 3)), 1, 2)
    y[:, SPIN] = np.swapaxes(spin, 1, 2)
    y[:, SPEED] = np.swapaxes(np.broadcast_to(velocity, (d, b, 3)), 1, 2)
    return y


def _scales(law: Coupled, speed: FloatArray, omega: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Size of each entry of the state (d, k, b), and a first step (d, b). [s]"""
    d, b = law.shape
    held = law.holding.suspension
    arm = np.sqrt(np.mean(np.sum(held.position**2, axis=-1), axis=-1))[:, None]
    arm = np.maximum(arm, 1e-2)
    travel = speed / omega + G0 / omega**2
    speed = travel * omega
    lever = speed / law.full if law.turns else np.ones((d, b))
    mass = np.asarray(held.mass)[:, None]
    out = np.empty((d, BRANCH + (3 * law.n if law.relaxes else 0), b))
    for where, size in (
        (TURN, travel / arm),
        (SHIFT, travel),
        (SPIN, speed / arm),
        (SPEED, speed),
        (slice(DOWN, DOWN + 1), travel / lever),
        (slice(SINKING, SINKING + 1), speed / lever),
        (slice(WORK, WORK + 1), mass * speed**2),
        (slice(BRANCH, None), mass * speed * omega),
    ):
        out[:, where] = size[:, None]
    highest = np.sqrt(law.holding.modes[0][..., -1])[:, None]
    return out, np.broadcast_to(0.1 / highest, (d, b))


def lasting(holding: Holding, shell: Shell, landings: Landings) -> FloatArray:
    """How long a landing is followed (d, b): until the payload has come back through its mounts.

    One and a quarter periods of the mode that dominates, or of the slowest one if that is not
    longer than two and a half of those; what the shell needs to turn, to stop and to bounce comes
    on top. [s]
    """
    omega = holding.dominant(landings.down)
    slowest = np.sqrt(holding.modes[0][..., 0])[:, None]
    out = 1.25 * 2 * np.pi / np.clip(slowest, omega / 2.5, omega)
    out = out + 2 * shell.restitution[:, None] * landings.speed / G0 + shell.stopping[:, None]
    return np.asarray(out)


def land(
    holding: Holding,
    shell: Shell,
    landings: Landings,
    start: Start,
    *,
    damping: Damping = "viscous",
    gravity: float = G0,
    until: FloatArray | None = None,
    tolerance: float = 5e-6,
    points: FloatArray | None = None,
    closed: bool = True,
) -> tuple[Landed, Course]:
    """Follow landings from the first contact of the shell.

    Parameters
    ----------
    holding : Holding of (d,)
    shell : Shell of (d,)
    landings : Landings of (d, b)
    start : Start of (d, b)
    damping : "viscous" or "relaxation"
        Dashpots, or relaxation elements that stiffen what is faster and let go of what is slower;
        both lose the same at the mode that dominates. Loss factors that are unknown count as 0.
    gravity : float
        0 for a closed form without it. [m/s²]
    until : (d, b) array, optional
        `lasting` if left out. [s]
    tolerance : float
        Of a step, see `stepping.follow`. [-]
    points : (d, p, 3) array, optional
        Where the specific force is wanted, from the payload's centre of gravity; that centre if
        left out. [m]
    closed : bool
        Whether what stays linear is taken from its closed form, see `modal`; False integrates all.

    Returns
    -------
    Landed, Course

    Examples
    --------
    8 kg at 10 Hz from 0.762 m, undamped, from unloaded mounts: 25.79 g by the closed form.

    >>> from isolator.suspension import Suspension
    >>> k = 8 * (2 * np.pi * 10) ** 2 / 4
    >>> corners = [(x, y, 0.) for x in (-.1, .1) for y in (-.1, .1)]
    >>> tray = Suspension.stacked([Suspension.of_springs(8., np.eye(3), corners, k, k)])
    >>> flat = Landings(down=np.array([[[0, 0, -1.]]]), speed=np.sqrt([[2 * G0 * .762]]))
    >>> landed, _ = land(Holding.of(tray), Shell.heavy(1), flat, Start.unloaded((1, 1)))
    >>> print(f"{landed.peak[0, 0, 0] / G0:.2f}")
    25.79
    """
    omega = holding.dominant(landings.down)
    law = Coupled(holding, shell, landings, omega, damping, gravity)
    state = _state(law, start)
    law.arrive(np.zeros(law.shape), state, np.full(law.shape, True))
    law.struck = np.zeros(law.shape)
    if until is None:
        until = lasting(holding, shell, landings)
        if landings.axis is not None:
            until = until + np.abs(state[:, DOWN]) / np.maximum(state[:, SINKING], 1e-3)
    end = np.broadcast_to(until, law.shape)
    at = np.zeros((law.shape[0], 1, 3)) if points is None else points
    modes = by_modes(law, state, end, at) if closed else None
    if modes is not None:
        course, landed = modes.course, measured(law, modes.course, modes.closure, modes.fits)
        landed = replace(landed, closed=landed.converged)
    else:
        scale, first = _scales(law, landings.speed, omega)
        history = follow(law, state, end, scale, first, tolerance=tolerance)
        course, closure = observed(law, history, at)
        landed = measured(law, course, closure, history.converged, history.jumps)
    left, finer = ~landed.converged, tolerance if modes is not None else FINER
    if not left.any() or (modes is None and tolerance <= FINER):
        return landed, course
    some = np.flatnonzero(left.any(axis=1))
    order = np.argsort(~left[some], axis=1, kind="stable")[:, : left.sum(axis=1).max()]
    real, which = np.take_along_axis(left[some], order, axis=1), (some[:, None], order)
    rest, others = land(
        holding.taken(some),
        shell.taken(some),
        landings.among(*which),
        start.among(*which),
        damping=damping,
        gravity=gravity,
        until=np.where(real, end[which], 0.0),
        tolerance=finer,
        points=at[some],
        closed=False,
    )
    return joined(landed, course, rest, others, left, real)


class _Block:
    """A rigid body on foam: the law of `stepping.follow` for states (d, 2, b)."""

    def __init__(self, mass: FloatArray, floor: Floor) -> None:
        self.mass, self.floor = mass[:, None], floor

    def rate(self, state: FloatArray) -> FloatArray:
        """See `stepping.Law`."""
        push = self.floor.force(state[:, 0], state[:, 1])
        return np.stack([state[:, 1], G0 - push / self.mass], axis=1)

    def until_event(
        self, time: FloatArray, state: FloatArray, step: FloatArray, reached: FloatArray
    ) -> FloatArray:
        """See `stepping.Law`: nothing happens."""
        return step

    def arrive(self, time: FloatArray, state: FloatArray, moved: Bools) -> Bools:
        """See `stepping.Law`: nothing happens."""
        return np.zeros(time.shape, dtype=bool)


def foam_alone(mass: FloatArray, shell: Shell, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Peak and compression of the foam under rigid cases that land flat.

    Parameters
    ----------
    mass : (d,) array
        All that lands. [kg]
    shell : Shell of (d,)
        Its foam counts.
    speed : (d,) array
        [m/s]

    Returns
    -------
    peak, compression : (d,) arrays
        nan where the motion did not converge. [m/s², m]

    Examples
    --------
    12 kg from 0.762 m on glued linear foam that takes it in 25 mm, ζ = 0.05 (computed: 57.7 g):

    >>> v = np.sqrt([2 * G0 * 0.762])
    >>> k = 12 * v**2 / 0.025**2
    >>> shell = replace(Shell.heavy(1), foam=Curve.straight(k), glued=True)
    >>> shell = replace(shell, foam_damping=0.1 * np.sqrt(12 * k))
    >>> peak, _ = foam_alone(np.array([12.0]), shell, v)
    >>> print(f"{peak[0] / G0:.1f} g")
    57.7 g
    """
    if shell.foam is None:
        raise ValueError("foam_alone: the shell has no foam; give one with Shell.foam")
    law = _Block(mass, Floor(shell, shell.foam))
    state = np.stack([np.zeros_like(speed), speed], axis=1)[..., None]
    depth = _depth(mass, shell.foam, speed)
    scale = np.stack([depth, speed], axis=1)[..., None]
    until = (4 * depth / speed)[:, None]
    history = follow(law, state, until, scale, until / 50, tolerance=1e-6)
    push = np.stack([law.floor.force(y[:, 0], y[:, 1])[:, 0] for y in history.state])
    good = history.converged[:, 0]
    peak, sunk = push.max(axis=0) / mass, history.state[:, :, 0, 0].max(axis=0)
    return np.where(good, peak, np.nan), np.where(good, sunk, np.nan)


def _depth(mass: FloatArray, foam: Curve, speed: FloatArray) -> FloatArray:
    """Compression (d,) at which foam has taken the energy of a body, undamped. [m]"""
    low, high = np.zeros_like(speed), np.ones_like(speed)
    for _ in range(50):
        middle = (low + high) / 2
        over = foam.energy(middle) - mass * G0 * middle > mass * speed**2 / 2
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return np.asarray(high)

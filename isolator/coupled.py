"""Payload, mounts and shell as one system: what moves them from the first contact on.

The payload is a rigid body with six motions and finite rotations on mounts with their true curves.
The shell has one motion: it comes down without turning, or turns about an edge that stands on the
floor. The floor is rigid; the shell stops on it at once, over a stated time or on foam, and
rebounds with its restitution. Mounts, cables, gravity and the floor act on both bodies, so a light
shell is pushed back.

Damping is causal: each mount has a dashpot along each of its axes that loses as much a cycle as
its loss factor says at the mode that dominates the landing, or a relaxation element that does.
Arrays are (d, b): designs, motions of each. Axes and origin are those of `suspension`, with the
case as it stands when it has landed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

from isolator.curve import Curve
from isolator.suspension import Suspension, congruent, skew
from isolator.units import FloatArray, InputError

Bools = npt.NDArray[np.bool_]
Damping = Literal["viscous", "relaxation"]

SLOW = 0.01
"""Below this share of its landing speed a shell stays where it bounces. [-]"""


TURN, SHIFT, SPIN, SPEED = slice(0, 9), slice(9, 12), slice(12, 15), slice(15, 18)
DOWN, SINKING, WORK, BRANCH = 18, 19, 20, 21
_FLIES, _RESTS, _STOPS = 0, 1, 2
_ON_LEVEL = 1e-7
_OFF_LEVEL = 1e-4

TURNS = 0.03
"""Speed about which foam that is pressed turns into foam that springs back. [m/s]"""


def _held(name: str, values: npt.ArrayLike, good: npt.ArrayLike, limit: str) -> None:
    """Raise InputError with the first value that is not good."""
    if not np.all(good):
        value, good = np.broadcast_arrays(values, good)
        raise InputError(f"{name} = {value[~good][0]:g}: {limit}")


def _unit(name: str, vectors: FloatArray) -> None:
    """Raise InputError with the first length that is not 1."""
    size = np.sqrt(np.einsum("...i,...i->...", vectors, vectors))
    _held(f"length of {name}", size, np.abs(size - 1) < 1e-6, "a direction has 1; divide by it")


@dataclass(frozen=True)
class Shell:
    """The case without its payload, of designs (d).

    Attributes
    ----------
    mass : (d,) array
        inf where it is heavy beside the payload, or not weighed. [kg]
    centre : (d, 3) array
        Its centre of gravity from that of the payload, unloaded. [m]
    gyration : (d, 3, 3) array
        Inertia about that centre over its mass. [m²]
    restitution : (d,) array
        [-]
    stopping : (d,) array
        Time over which it stops, 0 for at once. [s]
    foam : Curve of (d,) curves, or None
        Outer foam under the face that lands; positive deflection is compression. [m, N]
    foam_damping : (d,) array
        Of a dashpot beside it. [N·s/m]
    foam_returns : (d,) array
        Share of the work done on the foam that it gives back as it springs back, 0 to 1. [-]
    glued : bool
        The foam sticks to shell and floor, and pulls too.

    Raises
    ------
    InputError
        A mass that is not above 0, a share that is not 0 to 1, a time or a dashpot below 0.
    """

    mass: FloatArray
    centre: FloatArray
    gyration: FloatArray
    restitution: FloatArray
    stopping: FloatArray
    foam: Curve | None = None
    foam_damping: FloatArray = field(default_factory=lambda: np.zeros(1))
    foam_returns: FloatArray = field(default_factory=lambda: np.ones(1))
    glued: bool = False

    def __post_init__(self) -> None:
        _held("Shell.mass", self.mass, self.mass > 0, "give a mass above 0 kg, or inf")
        for name in ("restitution", "foam_returns"):
            share = getattr(self, name)
            _held(f"Shell.{name}", share, (share >= 0) & (share <= 1), "a share; give 0 to 1")
        _held("Shell.stopping", self.stopping, self.stopping >= 0, "give 0 s or more")
        drag = self.foam_damping
        _held("Shell.foam_damping", drag, drag >= 0, "give 0 N·s/m or more")

    @classmethod
    def heavy(cls, count: int, restitution: npt.ArrayLike = 0.0) -> Shell:
        """A shell that nothing in it moves; its centre is that of the payload."""
        still = np.broadcast_to(np.asarray(restitution, dtype=float), (count,))
        return cls(
            mass=np.full(count, np.inf),
            centre=np.zeros((count, 3)),
            gyration=np.zeros((count, 3, 3)),
            restitution=still,
            stopping=np.zeros(count),
        )

    def taken(self, index: npt.NDArray[np.intp]) -> Shell:
        """Those of some designs, any number of times."""
        foam = self.foam
        return replace(
            self,
            mass=self.mass[index],
            centre=self.centre[index],
            gyration=self.gyration[index],
            restitution=self.restitution[index],
            stopping=self.stopping[index],
            foam=foam and Curve(foam.deflection[index], foam.force_at[index], foam.slope[index]),
            foam_damping=np.broadcast_to(self.foam_damping, self.mass.shape)[index],
            foam_returns=np.broadcast_to(self.foam_returns, self.mass.shape)[index],
        )

    @property
    def lightness(self) -> FloatArray:
        """One over its mass (d,). [1/kg]"""
        return np.asarray(1 / self.mass)


@dataclass(frozen=True)
class Landings:
    """What lands, (d, b).

    Attributes
    ----------
    down : (d, b, 3) array
        Unit vector that points down once it has landed. [-]
    speed : (d, b) array
        With which the shell comes down at the first contact. [m/s]
    axis : (d, b, 3) array, or None
        Unit vector about which the shell turns down onto the floor; None if it does not turn. [-]
    pivot : (d, b, 3) array
        A point of that axis, from the payload's centre of gravity. [m]
    tilt : (d, b) array
        By how much the shell stands up at the first contact. [rad]
    spin : (d, b) array
        Angular speed of the whole case about the axis before the first contact, towards the floor.
        [rad/s]

    Raises
    ------
    InputError
        A direction whose length is not 1, a speed or a tilt below 0.
    """

    down: FloatArray
    speed: FloatArray
    axis: FloatArray | None = None
    pivot: FloatArray = field(default_factory=lambda: np.zeros(3))
    tilt: FloatArray = field(default_factory=lambda: np.zeros(()))
    spin: FloatArray = field(default_factory=lambda: np.zeros(()))

    def __post_init__(self) -> None:
        _unit("Landings.down", self.down)
        _held("Landings.speed", self.speed, self.speed >= 0, "give 0 m/s or more, downwards")
        _held("Landings.tilt", self.tilt, self.tilt >= 0, "give 0 rad or more, above the floor")
        if self.axis is not None:
            _unit("Landings.axis", self.axis)

    @property
    def shape(self) -> tuple[int, ...]:
        """(d, b)."""
        return np.shape(self.speed)

    def _each(self, change: Callable[[FloatArray], FloatArray]) -> Landings:
        def own(value: FloatArray, *size: int) -> FloatArray:
            return change(np.broadcast_to(value, (*self.shape, *size)))

        return Landings(
            down=own(self.down, 3),
            speed=own(self.speed),
            axis=None if self.axis is None else own(self.axis, 3),
            pivot=own(self.pivot, 3),
            tilt=own(self.tilt),
            spin=own(self.spin),
        )

    def taken(self, index: npt.NDArray[np.intp]) -> Landings:
        """Those of some designs, any number of times."""
        return self._each(lambda a: a[index])

    def among(self, design: npt.NDArray[np.intp], column: npt.NDArray[np.intp]) -> Landings:
        """Some of the motions, (e, c): of designs (e, 1) those in columns (e, c)."""
        return self._each(lambda a: a[design, column])

    def picked(self, which: Sequence[int]) -> Landings:
        """Some of the landings of all designs."""
        return self._each(lambda a: a[:, which])

    def repeated(self, count: int) -> Landings:
        """Each landing so many times, side by side."""
        return self._each(lambda a: np.repeat(a, count, axis=1))

    def tiled(self, count: int) -> Landings:
        """All landings so many times, one set after the other."""
        return self._each(lambda a: np.concatenate([a] * count, axis=1))


@dataclass(frozen=True)
class Start:
    """How the payload hangs in the shell at the first contact, seen from the shell.

    Attributes
    ----------
    shift, velocity, spin : (d, b, 3) arrays
        Of its centre of gravity from the unloaded pose, in case axes; of itself about its own axes.
        [m, m/s, rad/s]
    turn : (d, b, 3, 3) array
        Rotation matrix from the unloaded pose. [-]

    Raises
    ------
    InputError
        A matrix that is no rotation.
    """

    shift: FloatArray
    velocity: FloatArray
    spin: FloatArray
    turn: FloatArray

    def __post_init__(self) -> None:
        left = np.cross(self.turn[..., 0], self.turn[..., 1]) - self.turn[..., 2]
        gram = np.swapaxes(self.turn, -1, -2) @ self.turn - np.eye(3)
        off = np.abs(gram).max(axis=(-1, -2), initial=0.0)
        off = off + np.abs(left).max(axis=-1, initial=0.0)
        _held("Start.turn off by", off, off < 1e-5, "no rotation; give an orthonormal matrix")

    @classmethod
    def unloaded(cls, shape: Sequence[int]) -> Start:
        """At rest in the unloaded pose."""
        zero = np.zeros((*shape, 3))
        return cls(zero, zero, zero, np.broadcast_to(np.eye(3), (*shape, 3, 3)))

    def _each(self, change: Callable[[FloatArray], FloatArray]) -> Start:
        return Start(*map(change, (self.shift, self.velocity, self.spin, self.turn)))

    def among(self, design: npt.NDArray[np.intp], column: npt.NDArray[np.intp]) -> Start:
        """Some of the motions, (e, c): of designs (e, 1) those in columns (e, c)."""
        return self._each(lambda a: a[design, column])

    def repeated(self, count: int) -> Start:
        """Each motion so many times, side by side."""
        return self._each(lambda a: np.repeat(a, count, axis=1))


def _for_motions(curve: Curve) -> Curve:
    """Curves (d, r) as those of any number of motions, (d, r, 1)."""
    x, f, s = np.broadcast_arrays(curve.deflection, curve.force_at, curve.slope)
    return Curve(x[..., None, :], f[..., None, :], s[..., None, :])


def _is_straight(curve: Curve) -> bool:
    """Whether all curves are one straight line through zero."""
    return bool(
        np.allclose(curve.slope, curve.slope[..., :1], rtol=1e-12, atol=0.0)
        and np.allclose(curve.force_at, curve.slope * curve.deflection, rtol=1e-12, atol=1e-12)
    )


@dataclass(frozen=True)
class Holding:
    """What holds the payload in its shell, of designs (d), and what it may hit.

    Attributes
    ----------
    suspension : Suspension of (d,)
        With the curves that count, static or dynamic.
    limit : (d, n, 3) array
        How far each mount may be pushed, pulled and moved across; inf without a limit. [m]
    stop : (d, n) array
        Stiffness of what a mount meets beyond it, 0 if it goes on as its curve does. [N/m]
    corners : (d, 8, 3) array
        Of the payload's box, from its centre of gravity. [m]
    room : (d, 8, 6) array
        Gap of each corner to each face from the unloaded pose, inf where there is none. [m]
    wall : (d,) array
        Stiffness of what a corner meets there, 0 if nothing resists. [N/m]
    one_way : (d, n) bool array
        Mounts that let go when they are pulled.

    Raises
    ------
    InputError
        A limit or a stiffness below 0; a limit may be unknown, nan.
    """

    suspension: Suspension
    limit: FloatArray
    stop: FloatArray
    corners: FloatArray
    room: FloatArray
    wall: FloatArray
    one_way: Bools

    def __post_init__(self) -> None:
        _held("Holding.limit", self.limit, ~(self.limit < 0), "give 0 m or more, inf without one")
        _held("Holding.stop", self.stop, self.stop >= 0, "give 0 N/m or more")
        _held("Holding.wall", self.wall, self.wall >= 0, "give 0 N/m or more")

    @classmethod
    def of(cls, suspension: Suspension) -> Holding:
        """Mounts and cables of designs (d,) and nothing to hit."""
        d, n = suspension.loss_factor.shape
        far = np.full((d, n, 2), -1.0)  # beyond any play
        pulled = suspension.whole.force(far)[..., 0]
        return cls(
            suspension,
            np.full((d, n, 3), np.inf),
            np.zeros((d, n)),
            np.zeros((d, 0, 3)),
            np.zeros((d, 0, 6)),
            np.zeros(d),
            pulled == 0,
        )

    def taken(self, index: npt.NDArray[np.intp]) -> Holding:
        """Those of some designs, any number of times."""
        return Holding(
            suspension=self.suspension.taken(index),
            limit=self.limit[index],
            stop=self.stop[index],
            corners=self.corners[index],
            room=self.room[index],
            wall=self.wall[index],
            one_way=self.one_way[index],
        )

    @cached_property
    def rows(self) -> FloatArray:
        """Local deflections (3n) from the place of the payload (12), (d, 3n, 12)."""
        held = self.suspension
        frames, r = held.frames, held.position
        turn = np.einsum("dmij,dmk->dimjk", frames, r)
        d, n = r.shape[:2]
        shift = np.swapaxes(frames, 1, 2)
        return np.concatenate([turn.reshape(d, 3 * n, 9), shift.reshape(d, 3 * n, 3)], axis=-1)

    @cached_property
    def ends(self) -> FloatArray:
        """Displacement (3c) of the cables' ends likewise, (d, 3c, 12)."""
        return _points(self.suspension.cable_position)

    @cached_property
    def whisker(self) -> FloatArray:
        """Displacement (24) of the corners likewise, (d, 24, 12)."""
        return _points(self.corners)

    @cached_property
    def modes(self) -> tuple[FloatArray, FloatArray]:
        """ω² (d, 6) and shapes (d, 6, 6) of the unloaded pose; nan where unknown. [rad²/s²]"""
        held = self.suspension
        lower = np.linalg.cholesky(held.mass_matrix())
        springs = congruent(lower, held.mount_stiffness())
        known = np.asarray(np.isfinite(springs).all(axis=(-1, -2)))
        springs = np.where(known[:, None, None], springs, np.eye(6))
        value, vector = np.linalg.eigh(springs)
        value = np.where(known[:, None], value, np.nan)
        value = np.maximum(value, 1e-9 * value[..., -1:])
        return value, np.linalg.solve(np.swapaxes(lower, -1, -2), vector)

    def dominant(self, down: FloatArray) -> FloatArray:
        """Angular frequency (d, b) of the mode with most of the motion along (d, b, 3). [rad/s]"""
        value, shape = self.modes
        push = np.concatenate([down, np.zeros_like(down)], axis=-1)
        part = push @ (self.suspension.mass_matrix() @ shape)
        most = np.take_along_axis(value, (part**2).argmax(axis=-1), axis=-1)
        return np.asarray(np.sqrt(most))


def _points(at: FloatArray) -> FloatArray:
    """Displacement (3p) of points (d, p, 3) from the place of the payload (12), (d, 3p, 12)."""
    d, p = at.shape[:2]
    turn = np.einsum("ij,dpk->dpijk", np.eye(3), at).reshape(d, 3 * p, 9)
    shift = np.broadcast_to(np.eye(3), (d, p, 3, 3)).reshape(d, 3 * p, 3)
    return np.concatenate([turn, shift], axis=-1)


STILL = np.array([1.0, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0])
"""Place of the payload in the unloaded pose: its rotation matrix by rows, its shift."""


class Coupled:
    """Forces between payload and shell, and what they do: the law of `stepping.follow`.

    The state holds rotation matrix (9), shift (3), own angular velocity (3) and velocity (3) of the
    payload; how far the shell has come down or turned, and how fast; the work that the shell and
    the dampers do on the payload; and the forces of relaxation elements (3n).
    """

    def __init__(
        self,
        holding: Holding,
        shell: Shell,
        landings: Landings,
        omega: FloatArray,
        damping: Damping,
        gravity: float,
    ) -> None:
        held, self.holding, self.shell, self.landings = holding.suspension, holding, shell, landings
        self.pulled_down, self.omega, self.damping = gravity, omega, damping
        d, b = landings.shape
        self.shape = d, b
        self.n = n = held.position.shape[1]
        self.rows = holding.rows
        self.columns = -np.ascontiguousarray(np.swapaxes(holding.rows, 1, 2))
        self.zero = (holding.rows @ STILL).reshape(d, 3, n, 1)
        loss = np.nan_to_num(held.loss_factor)[:, None, :, None]
        tangent = np.swapaxes(held.whole.tangent(np.zeros((d, n, 2))), 1, 2)[..., None]
        rest = tangent[:, [0, 1, 1]]
        self.relaxes = damping == "relaxation"
        self.dashpot = loss * rest / omega[:, None, None]
        # ω times the time in which a branch lets go: 1, or less so that half the spring stays
        lag = np.minimum(1.0, 0.5 / np.maximum(loss, 1e-9))
        self.branch, self.forgets = loss * rest * (1 / lag + lag), omega[:, None, None] / lag
        self.kept = 1 - (loss * lag)[:, 0, :, 0] if self.relaxes else np.ones((d, n))
        curve = held.whole.scaled(self.kept[..., None])
        self.straight = _is_straight(curve)
        self.stiffness = rest * self.kept[:, None, :, None]
        each = np.broadcast_arrays(curve.deflection, curve.force_at, curve.slope)
        self.curve = _for_motions(Curve(*(np.swapaxes(a, 1, 2) for a in each)))
        self.one_way = holding.one_way[..., None] if holding.one_way.any() else None
        self.ends, self.pull = holding.ends, held.cable_stiffness.reshape(d, -1)[..., None]
        cable = np.repeat(np.nan_to_num(held.cable_loss), 3, axis=1)[..., None]
        self.drag = self.pull * cable / omega[:, None]
        self.off = holding.ends @ STILL[:, None]
        stop = holding.stop[..., None]
        self.stop = stop if stop.any() else None
        wall = holding.wall[:, None, None]
        self.wall = wall if wall.any() else None
        self.room = np.asarray(holding.room).reshape(d, -1, 2)
        self.inertia = held.inertia
        self.release = np.linalg.inv(held.inertia)
        self.mass = np.asarray(held.mass)[:, None, None]
        self.light = np.broadcast_to(shell.lightness[:, None], (d, b))
        self.down = np.swapaxes(landings.down, 1, 2)
        self.gravity = gravity * self.down
        self.foam = None if shell.foam is None else Floor(shell, shell.foam)
        self.mode = np.full((d, b), _FLIES)
        self.level = np.zeros((d, b))
        self.stopped_at = np.full((d, b), np.inf)
        self.slowing = np.zeros((d, b))
        self.bounce = np.broadcast_to(shell.restitution[:, None], (d, b))
        self.stopping = np.broadcast_to(shell.stopping[:, None], (d, b))
        self.struck = np.zeros((d, b))
        self.free = np.zeros((d, b))
        self.turns = landings.axis is not None
        self.full = np.maximum(landings.speed, 1e-6)
        self._set(self.mode)
        if landings.axis is not None:
            self._hinge(landings.axis)

    def _set(self, mode: npt.NDArray[np.intp]) -> None:
        """Whether each shell flies, rests or stops."""
        self.mode = mode
        self.floats = (mode == _FLIES).astype(float)
        self.brakes = np.where(mode == _STOPS, self.slowing, 0.0)

    def _hinge(self, axis: FloatArray) -> None:
        d, b = self.shape
        cross = skew(axis)
        self.cross = np.moveaxis(cross, 1, -1)
        self.cross_twice = np.moveaxis(cross @ cross, 1, -1)
        self.axis = np.swapaxes(axis, 1, 2)
        pivot = np.broadcast_to(self.landings.pivot, (d, b, 3))
        self.pivot = np.swapaxes(pivot, 1, 2)
        arm = self.shell.centre[:, None] - pivot
        down = self.pulled_down * self.landings.down
        arms = arm, np.cross(axis, arm), np.cross(axis, np.cross(axis, arm))
        self.tips = [(axis * np.cross(one, down)).sum(axis=-1) for one in arms]
        own = np.einsum("dbi,dij,dbj->db", axis, self.shell.gyration, axis)
        aside = np.linalg.norm(np.cross(axis, arm), axis=-1)
        self.swing = own + aside**2
        turns = np.maximum(self.full / np.maximum(aside, 1e-6), self.landings.spin)
        self.full = np.maximum(turns, 1e-6)

    def at(self, states: FloatArray) -> tuple[Coupled, FloatArray]:
        """All instants of states (t, d, k, b) as one batch: its law and its states (d, k, t·b)."""
        count, d, size, b = states.shape
        tiled = Coupled(
            self.holding,
            self.shell,
            self.landings.tiled(count),
            np.concatenate([self.omega] * count, axis=1),
            self.damping,
            self.pulled_down,
        )
        return tiled, np.moveaxis(states, 0, 2).reshape(d, size, count * b)

    # Where the shell is.

    def turned(self, angle: FloatArray) -> FloatArray:
        """Rotation (d, 3, 3, b) of the shell at an angle (d, b). [-]"""
        angle = angle[:, None, None]
        return np.asarray(
            np.eye(3)[..., None]
            + np.sin(angle) * self.cross
            + (1 - np.cos(angle)) * self.cross_twice
        )

    def seen(self, y: FloatArray, turning: FloatArray) -> FloatArray:
        """Place of the payload and its rate as the shell sees them, (d, 12, 2, b)."""
        d, b = y.shape[0], y.shape[-1]
        out = np.empty((d, 12, 2, b))
        if not self.turns:
            out[:, :, 0] = y[:, :12]
            out[:, :9, 1] = turning
            out[:, 9:, 1] = y[:, SPEED]
            out[:, 9:] -= self.down[:, :, None] * y[:, None, DOWN:WORK]
            return out
        both = np.empty((d, 3, 8, b))
        both[:, :, :3] = y[:, TURN].reshape(d, 3, 3, b)
        both[:, :, 3] = y[:, SHIFT] - self.pivot
        both[:, :, 4:7] = turning.reshape(d, 3, 3, b)
        both[:, :, 7] = y[:, SPEED]
        both[:, :, 4:] -= y[:, None, None, SINKING] * _product(self.cross, both[:, :, :4])
        there = _product(np.swapaxes(self.turned(y[:, DOWN]), 1, 2), both)
        out[:, :9, 0] = there[:, :, :3].reshape(d, 9, b)
        out[:, 9:, 0] = there[:, :, 3] + self.pivot
        out[:, :9, 1] = there[:, :, 4:7].reshape(d, 9, b)
        out[:, 9:, 1] = there[:, :, 7]
        return out

    # What it feels.

    def springs(self, x: FloatArray) -> FloatArray:
        """Force (d, 3, n, b) of the mounts at local deflections. [N]"""
        if self.straight and self.stop is None:
            return np.asarray(self.stiffness * x)
        both = np.empty_like(x[:, :2])
        both[:, 0] = x[:, 0]
        across = np.hypot(x[:, 1], x[:, 2], out=both[:, 1])
        if self.straight:
            out = self.stiffness * x
        else:
            force = self.curve.force(both)
            out = np.empty_like(x)
            out[:, 0] = force[:, 0]
            np.multiply(x[:, 1:], (force[:, 1] / (across + 1e-15))[:, None], out=out[:, 1:])
        if self.stop is not None:
            pushed, pulled, aside = np.moveaxis(self.holding.limit[..., None], 2, 0)
            over = np.maximum(x[:, 0] - pushed, 0.0) + np.minimum(x[:, 0] + pulled, 0.0)
            out[:, 0] += self.stop * over
            over = self.stop * np.maximum(across - aside, 0.0) / (across + 1e-15)
            out[:, 1:] += x[:, 1:] * over[:, None]
        return out

    def mounts(
        self, y: FloatArray, both: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Deflection of the mounts, its rate, their force and what dampers have of it.

        All (d, 3, n, b), along their axes.
        """
        d, b = y.shape[0], y.shape[-1]
        local = (self.rows @ both.reshape(d, 12, 2 * b)).reshape(d, 3, self.n, 2, b)
        x, speed = local[..., 0, :] - self.zero, local[..., 1, :]
        own = self.springs(x)
        lossy = y[:, BRANCH:].reshape(x.shape) if self.relaxes else self.dashpot * speed
        force = own + lossy
        if self.one_way is not None:
            held = np.where(x[:, 0] >= 0, np.maximum(force[:, 0], 0.0), 0.0)
            force[:, 0] = np.where(self.one_way, held, force[:, 0])
            lossy = force - own
        return x, speed, force, lossy

    def forces(self, y: FloatArray, both: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What acts on the place of the payload (d, 12, b), and the power that is lost (d, b)."""
        d, b = y.shape[0], y.shape[-1]
        _, speed, force, lossy = self.mounts(y, both)
        pull = self.columns @ force.reshape(d, 3 * self.n, b)
        if self.relaxes:
            branch = y[:, BRANCH:].reshape(force.shape)
            lost = (branch**2 * self.forgets / np.maximum(self.branch, 1e-300)).sum(axis=(1, 2))
            lost += ((lossy - branch) * speed).sum(axis=(1, 2))
        else:
            lost = np.add.reduce((lossy * speed).reshape(d, 3 * self.n, b), axis=1)
        if self.ends.shape[1]:
            there = self.ends @ both.reshape(d, 12, 2 * b)
            drag = self.drag * there[..., b:]
            own = self.pull * (there[..., :b] - self.off) + drag
            pull -= np.swapaxes(self.ends, 1, 2) @ own
            lost += (drag * there[..., b:]).sum(axis=1)
        if self.wall is not None:
            over = self.overlap(both[:, :, 0])
            pull -= np.swapaxes(self.holding.whisker, 1, 2) @ (self.wall * over)
        return pull, lost

    def overlap(self, place: FloatArray) -> FloatArray:
        """How far corners are in walls, (d, 24, b), by axis. [m]"""
        corner = self.holding.whisker @ (place - STILL[:, None])
        over = np.maximum(corner - self.room[..., 1:], 0.0)
        return np.asarray(over + np.minimum(corner + self.room[..., :1], 0.0))

    def parts(self, y: FloatArray) -> tuple[FloatArray, ...]:
        """Rate of the rotation, force and torque on the payload, push on the shell, power lost.

        The torque is that of the mounts less what the payload's own spin takes. The push is along
        what the shell can do: a force down, or a moment about its hinge.
        """
        d, b = y.shape[0], y.shape[-1]
        turn = _twice(y[:, TURN].reshape(d, 3, 3, b), 2)
        w = _twice(y[:, SPIN], 1)
        turning = turn[:, :, 1:4] * w[:, None, 2:5]
        turning -= turn[:, :, 2:5] * w[:, None, 1:4]
        turning = turning.reshape(d, 9, b)
        pull, lost = self.forces(y, self.seen(y, turning))
        if self.turns:
            seen = np.empty((d, 3, 4, b))
            seen[:, :, :3], seen[:, :, 3] = pull[:, :9].reshape(d, 3, 3, b), pull[:, 9:]
            seen = _product(self.turned(y[:, DOWN]), seen)
            tensor, force = _twice(seen[:, :, :3], 2), seen[:, :, 3]
        else:
            tensor, force = _twice(pull[:, :9].reshape(d, 3, 3, b), 2), pull[:, 9:]
        torque = tensor[:, :, 1:4] * turn[:, :, 2:5]
        torque -= tensor[:, :, 2:5] * turn[:, :, 1:4]
        torque = np.add.reduce(torque, axis=1)
        if self.turns:
            arm = y[:, SHIFT] - self.pivot
            moment = _crossed(arm, force)
            moment += _product(y[:, TURN].reshape(d, 3, 3, b), torque[:, :, None])[:, :, 0]
            push = -(self.axis * moment).sum(axis=1)
        else:
            push = -np.add.reduce(self.down * force, axis=1)
        spin = _twice(self.inertia @ y[:, SPIN], 1)
        torque -= w[:, 1:4] * spin[:, 2:5]
        torque += w[:, 2:5] * spin[:, 1:4]
        return turning, force, torque, push, lost

    def sinks(self, y: FloatArray, push: FloatArray) -> FloatArray:
        """What the shell would do if the floor did not hold it, (d, b): rate of its speed."""
        if self.turns:
            angle = y[:, DOWN]
            level, risen, bent = self.tips
            own = level + np.sin(angle) * risen + (1 - np.cos(angle)) * bent
            return np.asarray((own + self.light * push) / self.swing)
        out = self.pulled_down + self.light * push
        if self.foam is not None:
            out = out - self.light * self.foam.force(y[:, DOWN], y[:, SINKING])
        return np.asarray(out)

    def rate(self, y: FloatArray) -> FloatArray:
        """See `stepping.Law`."""
        turning, force, torque, push, lost = self.parts(y)
        out = np.empty_like(y)
        out[:, TURN] = turning
        out[:, SHIFT] = y[:, SPEED]
        out[:, SPIN] = self.release @ torque
        out[:, SPEED] = force / self.mass + self.gravity
        out[:, DOWN] = y[:, SINKING]
        self.free = self.sinks(y, push)
        out[:, SINKING] = self.floats * self.free - self.brakes
        out[:, WORK] = -lost - push * y[:, SINKING]
        if self.relaxes:
            d, b = y.shape[0], y.shape[-1]
            both = self.seen(y, turning)
            speed = (self.rows @ both[:, :, 1]).reshape(d, 3, self.n, b)
            branch = y[:, BRANCH:].reshape(speed.shape)
            fades = self.branch * speed - self.forgets * branch
            out[:, BRANCH:] = fades.reshape(d, 3 * self.n, b)
        return out

    def energy(self, y: FloatArray) -> FloatArray:
        """Energy of the payload and its mounts, less what was done on them (d, b). [J]"""
        place = self.seen(y, np.zeros((y.shape[0], 9, y.shape[-1])))[:, :, 0]
        local = (self.rows @ place).reshape(len(y), 3, self.n, -1) - self.zero
        held = self.holding.suspension
        w, v = y[:, SPIN], y[:, SPEED]
        kinetic = (w * (self.inertia @ w)).sum(axis=1) / 2
        kinetic += held.mass[:, None] * (v**2).sum(axis=1) / 2
        fallen = held.mass[:, None] * self.pulled_down * (self.down * y[:, SHIFT]).sum(axis=1)
        stored = held.repeated().energy_in(np.moveaxis(local, (1, 2, 3), (3, 2, 1)))
        stored = (stored * self.kept[:, None]).sum(axis=-1)
        if self.relaxes:
            branch = y[:, BRANCH:].reshape(local.shape) ** 2 / np.maximum(2 * self.branch, 1e-300)
            stored = stored + branch.sum(axis=(1, 2))
        if self.ends.shape[1]:
            stored = stored + (self.pull * (self.ends @ place - self.off) ** 2).sum(axis=1) / 2
        if self.stop is not None:
            pushed, pulled, aside = np.moveaxis(self.holding.limit[..., None], 2, 0)
            beyond = np.maximum(local[:, 0] - pushed, 0.0) ** 2
            beyond += np.minimum(local[:, 0] + pulled, 0.0) ** 2
            beyond += np.maximum(np.hypot(local[:, 1], local[:, 2]) - aside, 0.0) ** 2
            stored = stored + (self.stop * beyond).sum(axis=1) / 2
        if self.wall is not None:
            stored = stored + (self.wall * self.overlap(place) ** 2).sum(axis=1) / 2
        return np.asarray(kinetic - fallen + stored - y[:, WORK])

    # What happens to the shell on the floor.

    def until_event(
        self, time: FloatArray, state: FloatArray, step: FloatArray, reached: FloatArray
    ) -> FloatArray:
        """See `stepping.Law`: the step to the floor, off it, or to the end of its stopping."""
        out = np.where(self.mode == _STOPS, np.minimum(step, self.stopped_at - time), step)
        if self.foam is not None:
            return np.asarray(out)
        out = self._until_lifted(state, out)
        q, qd = state[:, DOWN] - self.level, state[:, SINKING]
        new = reached[:, DOWN] - self.level
        near = _ON_LEVEL * np.maximum(self.full, 1.0)
        over = (self.mode == _FLIES) & (new > near)
        if not over.any():
            return np.asarray(out)
        h = np.where(step > 0, step, 1.0)
        bend = 2 * (new - q - qd * h) / h**2
        with np.errstate(divide="ignore", invalid="ignore"):
            root = np.sqrt(np.maximum(qd**2 - 2 * bend * q, 0.0))
            # from below at a speed down, or away from the floor and back to it
            late = np.where(qd >= 0, -2 * q / (qd + root), (root - qd) / bend)
        late = np.where(np.isfinite(late) & (late > 0) & (late < h), late, h / 2)
        return np.where(over, np.minimum(late, out), out)

    def _until_lifted(self, state: FloatArray, step: FloatArray) -> FloatArray:
        """How much of a step may be taken before what rests is pulled off the floor, and a bit."""
        bit = _OFF_LEVEL * self.full * self.omega
        late = (self.mode == _RESTS) & (self.free < -bit)
        if not late.any():
            return step
        free = self.free
        before = np.maximum(self.sinks(state, self.parts(state)[3]), 0.0)
        share = (before + bit / 2) / np.where(late, before - free, 1.0)
        return np.where(late, step * share, step)

    def arrive(self, time: FloatArray, state: FloatArray, moved: Bools) -> Bools:
        """See `stepping.Law`: it bounces, stops or rests, or is lifted off the floor."""
        if self.foam is not None:
            return np.zeros(self.shape, dtype=bool)
        q, qd = state[:, DOWN], state[:, SINKING]
        near = _ON_LEVEL * np.maximum(self.full, 1.0)
        hits = moved & (self.mode == _FLIES) & (qd > 0) & (q - self.level >= -near)
        ends = moved & (self.mode == _STOPS) & (time >= self.stopped_at - 1e-12)
        rests = moved & (self.mode == _RESTS)
        if not (hits.any() or ends.any() or rests.any()):
            return np.asarray(hits)
        self.struck = np.where(hits, np.maximum(self.struck, qd), self.struck)
        soft = hits & (self.stopping > 0)
        self.slowing = np.where(soft, qd / np.where(soft, self.stopping, 1.0), self.slowing)
        self.stopped_at = np.where(soft, time + self.stopping, self.stopped_at)
        mode = np.where(soft, _STOPS, self.mode)
        hard = hits & ~soft
        came = np.where(ends, self.slowing * self.stopping, qd)
        back = self.bounce * came
        stays = (hard | ends) & (back < SLOW * self.full)
        leaves = (hard | ends) & ~stays
        state[:, DOWN] = np.where(hard, self.level, q)
        self.level = np.where(ends, q, self.level)
        state[:, SINKING] = np.where(stays, 0.0, np.where(leaves, -back, qd))
        mode = np.where(stays, _RESTS, np.where(leaves, _FLIES, mode))
        if stays.any():
            self.free = np.where(stays, self.sinks(state, self.parts(state)[3]), self.free)
        lifted = (rests | stays) & (self.free < 0)
        mode = np.where(lifted, _FLIES, mode)
        self._set(mode)
        return np.asarray(hard | soft | ends | lifted)


class Floor:
    """Foam on the floor under shells (d,)."""

    def __init__(self, shell: Shell, foam: Curve) -> None:
        rows = Curve(foam.deflection[:, None], foam.force_at[:, None], foam.slope[:, None])
        self.curve, self.glued = _for_motions(rows), shell.glued
        self.drag = np.broadcast_to(np.asarray(shell.foam_damping), shell.mass.shape)[:, None]
        self.returns = np.broadcast_to(shell.foam_returns, shell.mass.shape)[:, None]
        self.lossy = bool((self.returns < 1).any())

    def force(self, sunk: FloatArray, sinking: FloatArray) -> FloatArray:
        """Its push (d, b) at a compression (d, b) [m] that grows so fast [m/s]. [N]"""
        push = self.curve.force(sunk[:, None])[:, 0]
        if self.lossy:
            back = (1 - np.tanh(sinking / TURNS)) / 2
            push = push * (1 - back * (1 - self.returns))
        push = push + self.drag * sinking
        if self.glued:
            return np.asarray(push)
        return np.where(sunk >= 0, np.maximum(push, 0.0), 0.0)


def _twice(array: FloatArray, axis: int) -> FloatArray:
    """Entries x, y, z along an axis, and x, y once more: the next ones are slices of it."""
    first = (slice(None),) * axis + (slice(0, 2),)
    return np.concatenate([array, array[first]], axis=axis)


def _product(a: FloatArray, b: FloatArray) -> FloatArray:
    """Matrices (d, 3, 3, b) times (d, 3, k, b)."""
    out = a[:, :, 0, None] * b[:, None, 0]
    out += a[:, :, 1, None] * b[:, None, 1]
    out += a[:, :, 2, None] * b[:, None, 2]
    return np.asarray(out)


def _crossed(a: FloatArray, b: FloatArray) -> FloatArray:
    """Cross product of vectors (d, 3, b)."""
    a, b = _twice(a, 1), _twice(b, 1)
    return np.asarray(a[:, 1:4] * b[:, 2:5] - a[:, 2:5] * b[:, 1:4])

"""A rigid payload on mounts: stiffness, mass, pose under gravity, load share, modes.

Axes: x along the case, y across, z up with the lid up; the origin is the payload's centre of
gravity. The six motions are three translations of that centre and three rotations about it, in
the order x, y, z, about x, about y, about z. The leading axes `...` of every array are designs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from isolator.cable import Cable
from isolator.curve import Curve
from isolator.mount import Place
from isolator.payload import Payload
from isolator.units import FloatArray, si, si_array

ComplexArray = npt.NDArray[np.complex128]

ATTITUDES: dict[str, tuple[float, float, float]] = {
    "lid up": (0.0, 0.0, -1.0),
    "lid down": (0.0, 0.0, 1.0),
    "on the handle side": (0.0, -1.0, 0.0),
    "on the hinge side": (0.0, 1.0, 0.0),
    "on the left end": (-1.0, 0.0, 0.0),
    "on the right end": (1.0, 0.0, 0.0),
}
"""Attitude of the case, named by what points down: the direction that points down."""

STEPS = 80
"""Steps of the search for rest."""

TOPPLED = 1.0
"""Tilt from which a payload counts as toppled: mounts keep no axis of their own that far. [rad]"""

ANY_LOSS = 0.1
"""Loss factor that stands in where none is known, so that there are modes at all: an ordinary
rubber's. What comes of it is blanked. [-]"""

MOTIONS = (
    "sway along x",
    "sway along y",
    "bounce along z",
    "rock about x",
    "rock about y",
    "twist about z",
)


def frame(push: npt.ArrayLike) -> FloatArray:
    """Local axes of a mount: its own axis first, then two across it.

    Parameters
    ----------
    push : (..., 3) array
        Unit vector along the mount in which the payload moves when it compresses it. [-]

    Returns
    -------
    (..., 3, 3) array
        Rows: `push` and two unit vectors across. Across, a mount is alike in all directions. [-]
    """
    a = np.asarray(push, dtype=float)
    helper = np.eye(3)[np.argmin(np.abs(a), axis=-1)]
    b = np.cross(helper, a)
    b = b / np.linalg.norm(b, axis=-1, keepdims=True)
    return np.stack([a, b, np.cross(a, b)], axis=-2)


def skew(vector: npt.ArrayLike) -> FloatArray:
    """Matrix of the cross product, skew(a) @ b = a × b, shape (..., 3, 3)."""
    a = np.asarray(vector, dtype=float)
    out = np.zeros((*a.shape, 3))
    for row, column, axis in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        out[..., row, column] = -a[..., axis]
        out[..., column, row] = a[..., axis]
    return out


def rotation(vector: npt.ArrayLike) -> FloatArray:
    """Rotation matrix (..., 3, 3) of a rotation vector (..., 3) [rad], after Rodrigues."""
    theta = np.asarray(vector, dtype=float)
    angle = np.linalg.norm(theta, axis=-1)[..., None, None]
    k = skew(theta)
    half = np.sinc(angle / (2 * np.pi))
    return np.asarray(np.eye(3) + np.sinc(angle / np.pi) * k + half**2 / 2 * (k @ k))


def motion_at(point: npt.ArrayLike) -> FloatArray:
    """Displacement of a point by the six motions: (..., 3, 6) for points (..., 3) [m]."""
    r = np.asarray(point, dtype=float)
    eye = np.broadcast_to(np.eye(3), (*r.shape, 3))
    return np.concatenate([eye, -skew(r)], axis=-1)


def congruent(lower: npt.NDArray[np.floating], matrix: FloatArray) -> FloatArray:
    """L⁻¹ A L⁻ᵀ of symmetric matrices A (..., k, k) and triangular L (..., k, k)."""
    half = np.linalg.solve(lower, matrix)
    return np.asarray(np.linalg.solve(lower, np.swapaxes(half, -1, -2)))


def along_and_across(local: FloatArray) -> FloatArray:
    """Deflection along a mount's axis and length of that across, (..., 2) of (..., 3)."""
    return np.stack([local[..., 0], np.hypot(local[..., 1], local[..., 2])], axis=-1)


def strokes(low: FloatArray, high: FloatArray) -> FloatArray:
    """How far mounts are pushed, pulled and moved across, (..., 3), not negative. [m]

    Parameters
    ----------
    low, high : (..., 3) arrays
        Range of the deflection along each local axis. [m]
    """
    side = np.maximum(np.abs(low), np.abs(high))
    return np.stack(
        [
            np.maximum(high[..., 0], 0.0),
            np.maximum(-low[..., 0], 0.0),
            np.hypot(side[..., 1], side[..., 2]),
        ],
        axis=-1,
    )


def largest_force(curve: Curve, moved: FloatArray) -> FloatArray:
    """Largest force (...) of mounts that go so far each way, (..., 3) as from `strokes`. [N]"""
    pushed = curve.force(moved[..., [0, 2]])
    pulled = np.abs(curve.force(-moved[..., [1, 2]]))
    return np.asarray(np.hypot(np.maximum(pushed, pulled)[..., 0], pushed[..., 1]))


def _unit(vector: FloatArray, length: FloatArray) -> FloatArray:
    return np.asarray(vector / np.where(length < 1e-300, 1.0, length))


@dataclass(frozen=True)
class Modes:
    """The six modes of a suspension with structural damping a mount at a time.

    Attributes
    ----------
    eigenvalue : (..., 6) complex array
        λ of K φ = λ M φ with complex K, sorted by Re λ. [rad²/s²]
    shape : (..., 6, 6) complex array
        Columns: the motion of each mode.
    share : (..., 6, 6) complex array
        Rows: how much of a uniform acceleration of each motion enters each mode;
        ``shape @ share`` is the identity.
    """

    eigenvalue: ComplexArray
    shape: ComplexArray
    share: ComplexArray

    @property
    def natural(self) -> FloatArray:
        """Natural frequencies (..., 6), 0 where a mode has no stiffness. [Hz]"""
        return np.asarray(np.sqrt(np.maximum(self.eigenvalue.real, 0)) / (2 * np.pi))


@dataclass(frozen=True)
class Pose:
    """Where the payload comes to rest.

    Attributes
    ----------
    shift : (..., 3) array
        Displacement of the centre of gravity from the unloaded pose. [m]
    turn : (..., 3, 3) array
        Rotation matrix from the unloaded pose. [-]
    found : (...) bool array
        False where the mounts cannot hold the payload: the rest is then meaningless.
    """

    shift: FloatArray
    turn: FloatArray
    found: npt.NDArray[np.bool_]

    @property
    def tilt(self) -> FloatArray:
        """Angle of the rotation from the unloaded pose (...). [rad]"""
        trace = np.trace(self.turn, axis1=-2, axis2=-1)
        return np.asarray(np.arccos(np.clip((trace - 1) / 2, -1, 1)))

    def moved(self, points: npt.ArrayLike) -> FloatArray:
        """Displacement (..., p, 3) of points (..., p, 3) of the payload from the unloaded pose."""
        r = np.asarray(points, dtype=float)
        return np.asarray(self.shift[..., None, :] + r @ np.swapaxes(self.turn, -1, -2) - r)

    def repeated(self) -> Pose:
        """The same poses with one more leading axis, of length 1, at its end."""
        return Pose(self.shift[..., None, :], self.turn[..., None, :, :], self.found[..., None])


@dataclass(frozen=True)
class Suspension:
    """A payload on n mounts, with c cables, as arrays in SI.

    A sheet under a mount is a linear spring behind it along its axis, without damping; it has
    neither the mount's dynamic ratio nor its stiffening in the cold. A cable is a linear spring
    along x, y and z of the case that pulls at nothing in the unloaded pose; it is no mount, and
    no array of mounts has it.

    Parameters
    ----------
    mass : (...) array
        Mass of the payload. [kg]
    inertia : (..., 3, 3) array
        Inertia about its centre of gravity. [kg·m²]
    position : (..., n, 3) array
        Where each mount holds the payload, from the centre of gravity, unloaded. [m]
    frames : (..., n, 3, 3) array
        Local axes of each mount, see `frame`. [-]
    curve : Curve of (..., n, 2) curves
        Static curves along the axis of a mount and across it; across, a mount is round, and what
        counts is the length of its deflection. [m, N]
    dynamic_ratio : (..., n) array
        Dynamic over static stiffness. [-]
    loss_factor : (..., n) array
        Structural loss factor of each mount, nan if unknown. [-]
    sheet : (..., n) array, or one for all
        Stiffness of the sheet under each mount along its axis, inf if rigid. [N/m]
    cable_position : (..., c, 3) array
        Where each cable holds the payload, from the centre of gravity, unloaded. [m]
    cable_stiffness : (..., c, 3) array
        Along x, y, z; in motion as at rest. [N/m]
    cable_loss : (..., c) array
        Structural loss factor of each cable, nan if unknown. [-]

    Examples
    --------
    Four mounts of 9 N/mm under 12 kg bounce at (1/2π)√(4·9000/12) Hz:

    >>> corners = [(x, y, 0.0) for x in (-.16, .16) for y in (-.11, .11)]
    >>> tray = Suspension.of_springs(12.0, np.diag([.1125, .1825, .25]), corners, 9e3, 6e3)
    >>> print(f"{tray.frequencies()[2]:.3f}")
    8.717
    """

    mass: FloatArray
    inertia: FloatArray
    position: FloatArray
    frames: FloatArray
    curve: Curve
    dynamic_ratio: FloatArray
    loss_factor: FloatArray
    sheet: FloatArray = field(default_factory=lambda: np.array([np.inf]))
    cable_position: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))
    cable_stiffness: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))
    cable_loss: FloatArray = field(default_factory=lambda: np.zeros(0))

    @classmethod
    def of(
        cls, payload: Payload, places: Sequence[Place], cables: Sequence[Cable] = ()
    ) -> Suspension:
        """A payload on mounts at their places, with its cables and the nominal inertia.

        Examples
        --------
        >>> from isolator.mount import Mount
        >>> ring = Mount(name="ring", along="9 N/mm", across="6 N/mm", dynamic_ratio=1)
        >>> tray = Payload(mass="12 kg", size=["400 mm", "300 mm", "150 mm"])
        >>> corners = [(f"{x} mm", f"{y} mm", "-75 mm") for x in (-160, 160) for y in (-110, 110)]
        >>> held = Suspension.of(tray, [Place(mount=ring, position=at) for at in corners])
        >>> print(f"{held.frequencies()[0]:.3f}")
        5.857
        """
        mounts = [place.mount for place in places]
        loss = [np.nan if m.loss_factor is None else m.loss_factor for m in mounts]
        position = np.array([si_array(place, "position") for place in places])
        ends = np.array([si_array(cable, "position") for cable in cables]).reshape(-1, 3)
        lost = [np.nan if cable.loss_factor is None else cable.loss_factor for cable in cables]
        return cls(
            mass=np.asarray(si(payload, "mass")),
            inertia=payload.inertias()[0],
            position=position - payload.centre_of_gravity(),
            frames=frame([place.direction() for place in places]),
            curve=Curve.stacked([m.curves() for m in mounts]),
            dynamic_ratio=np.array([m.dynamic_ratio for m in mounts]),
            loss_factor=np.array(loss),
            sheet=np.array([place.sheet_stiffness() for place in places]),
            cable_position=ends - payload.centre_of_gravity(),
            cable_stiffness=np.array([cable.directions() for cable in cables]).reshape(-1, 3),
            cable_loss=np.array(lost, dtype=float),
        )

    @classmethod
    def of_springs(
        cls,
        mass: float,
        inertia: npt.ArrayLike,
        position: npt.ArrayLike,
        along: npt.ArrayLike,
        across: npt.ArrayLike,
        *,
        push: npt.ArrayLike = (0.0, 0.0, -1.0),
        dynamic_ratio: npt.ArrayLike = 1.0,
        loss_factor: npt.ArrayLike = np.nan,
    ) -> Suspension:
        """Linear captive mounts from bare SI numbers; `along` and `across` are (n,) or one."""
        r = np.asarray(position, dtype=float)
        n = r.shape[0]
        k = np.stack([np.broadcast_to(along, n), np.broadcast_to(across, n)], axis=-1)
        return cls(
            np.asarray(mass, dtype=float),
            np.asarray(inertia, dtype=float),
            r,
            np.broadcast_to(frame(push), (n, 3, 3)),
            Curve.straight(k),
            np.broadcast_to(np.asarray(dynamic_ratio, dtype=float), n),
            np.broadcast_to(np.asarray(loss_factor, dtype=float), n),
        )

    def _each(self, change: Callable[[FloatArray, int], FloatArray]) -> Suspension:
        """Apply `change(array, count of its own axes)` to every array."""
        own = {"mass": 0, "inertia": 2, "position": 2, "frames": 3}
        own |= {"cable_position": 2, "cable_stiffness": 2}
        parts: dict[str, FloatArray | Curve] = {
            f.name: change(getattr(self, f.name), own.get(f.name, 1))
            for f in fields(self)
            if f.name != "curve"
        }
        curve = Curve(*(change(getattr(self.curve, f.name), 3) for f in fields(Curve)))
        return Suspension(curve=curve, **parts)  # type: ignore[arg-type]

    def repeated(self) -> Suspension:
        """The same designs with one more leading axis, of length 1, at its end."""
        return self._each(lambda a, own: np.expand_dims(a, a.ndim - own))

    def taken(self, index: npt.NDArray[np.intp]) -> Suspension:
        """Some of designs (d,), any number of times."""
        count = len(self.mass)
        return self._each(
            lambda a, own: np.broadcast_to(a, (count, *a.shape[a.ndim - own :]))[index]
        )

    @classmethod
    def stacked(cls, designs: Sequence[Suspension]) -> Suspension:
        """Several designs with as many mounts and cables each along a new leading axis."""
        parts = {
            f.name: np.stack([getattr(d, f.name) for d in designs])
            for f in fields(cls)
            if f.name != "curve"
        }
        return cls(curve=Curve.stacked([d.curve for d in designs]), **parts)

    def stiffened(self, factor: npt.ArrayLike, loss_factor: npt.ArrayLike) -> Suspension:
        """Static curves times a factor (..., n), with other loss factors (..., n): cold rubber."""
        scale = np.asarray(factor, dtype=float)[..., None]
        loss = np.asarray(loss_factor, dtype=float)
        return replace(self, curve=self.curve.scaled(scale), loss_factor=loss)

    def loss_unknown(self) -> npt.NDArray[np.bool_]:
        """Designs (...) of which the loss factor of a mount or cable is nan."""
        mounts = np.isnan(self.loss_factor).any(axis=-1)
        return np.asarray(mounts | np.isnan(self.cable_loss).any(axis=-1))

    def across(self, inertia: FloatArray, loss: float) -> Suspension:
        """The same designs (b,) across a band of inertia (b, i, 3, 3), as those of (b, 1).

        Every mount and cable that has no loss factor gets this one.
        """
        damped = replace(
            self,
            loss_factor=np.where(np.isnan(self.loss_factor), loss, self.loss_factor),
            cable_loss=np.where(np.isnan(self.cable_loss), loss, self.cable_loss),
        )
        return replace(damped.repeated(), inertia=inertia)

    def spots(self, pose: Pose, corners: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Centre, corners (..., c, 3) and mounts in a pose, (..., 1, 1 + c + n, 3) [m]; their axes.

        Mounts have their own axes, the others those of the payload.
        """
        back = np.swapaxes(pose.turn, -1, -2)
        points = np.concatenate([np.zeros_like(corners[..., :1, :]), corners], axis=-2) @ back
        where = np.concatenate([points, self.position @ back], axis=-2)
        own = np.broadcast_to(np.eye(3), (*points.shape, 3))
        frames = np.concatenate([own, self.frames], axis=-3)
        return where[..., None, :, :], frames[..., None, :, :, :]

    def dynamic(self) -> Suspension:
        """The same design with its dynamic curves in place of the static ones."""
        stiff = self.stiffened(self.dynamic_ratio, self.loss_factor)
        return replace(stiff, dynamic_ratio=np.ones_like(self.dynamic_ratio))

    def mass_matrix(self, pose: Pose | None = None) -> FloatArray:
        """Mass matrix (..., 6, 6). [kg, kg·m²]"""
        inertia = self.inertia
        if pose is not None:
            inertia = pose.turn @ inertia @ np.swapaxes(pose.turn, -1, -2)
        shape = np.broadcast_shapes(np.shape(self.mass), inertia.shape[:-2])
        out = np.zeros((*shape, 6, 6))
        out[..., :3, :3] = np.asarray(self.mass)[..., None, None] * np.eye(3)
        out[..., 3:, 3:] = inertia
        return out

    def without_cables(self) -> Suspension:
        """The same design without its cables."""
        none = slice(0, 0)
        return replace(
            self,
            cable_position=self.cable_position[..., none, :],
            cable_stiffness=self.cable_stiffness[..., none, :],
            cable_loss=self.cable_loss[..., none],
        )

    def on_rigid_sheets(self) -> Suspension:
        """The same design with its mounts on sheets that do not bend."""
        return replace(self, sheet=np.full_like(self.sheet, np.inf))

    @cached_property
    def whole(self) -> Curve:
        """Static curves (..., n, 2) of the mounts with their sheets."""
        if np.isinf(self.sheet).all():
            return self.curve
        behind = np.stack([self.sheet, np.full_like(self.sheet, np.inf)], axis=-1)
        return self.curve.in_series(behind)

    def limits_with_sheet(self, limit: FloatArray) -> FloatArray:
        """How far mounts may go with their sheets, (..., n, 3). [m]

        The sheet bends by F/k at the force F of the static curve at the mount's own limit.

        Parameters
        ----------
        limit : (..., n, 3) array
            Of the mounts alone: pushed, pulled, across; nan if unknown, inf if none. [m]
        """
        ends = np.where(np.isfinite(limit), limit, 0.0)
        pushed = self.curve.force(ends[..., [0, 2]])[..., 0]
        pulled = np.abs(self.curve.force(-ends[..., [1, 2]])[..., 0])
        bend = np.stack([pushed, pulled, np.zeros_like(pushed)], axis=-1) / self.sheet[..., None]
        return np.asarray(limit + bend)

    def _arms(self, pose: Pose) -> FloatArray:
        return self.position @ np.swapaxes(pose.turn, -1, -2)

    def deflection(self, pose: Pose) -> FloatArray:
        """Deflection of every mount along its local axes, (..., n, 3). [m]"""
        return self._local(pose.moved(self.position))

    def _local(self, vector: FloatArray) -> FloatArray:
        return np.asarray((self.frames @ vector[..., None])[..., 0])

    def energy_in(self, local: FloatArray) -> FloatArray:
        """Energy (..., n) in mounts at local deflections (..., n, 3) [m]. [J]"""
        return np.asarray(self.whole.energy(along_and_across(local)).sum(axis=-1))

    def cable_energy(self, moved: FloatArray) -> FloatArray:
        """Energy (..., c) in cables whose ends are moved by (..., c, 3) [m]. [J]"""
        return np.asarray((self.cable_stiffness * moved**2).sum(axis=-1) / 2)

    def cable_force(self, pose: Pose) -> FloatArray:
        """Force of every cable on the payload in case axes, (..., c, 3). [N]"""
        return np.asarray(-self.cable_stiffness * pose.moved(self.cable_position))

    def force_at(self, local: FloatArray) -> FloatArray:
        """Force (..., n, 3) that local deflections (..., n, 3) [m] call up, local axes. [N]"""
        at = along_and_across(local)
        force = self.whole.force(at)
        across = force[..., 1:] * _unit(local[..., 1:], at[..., 1:])
        return np.concatenate([force[..., :1], across], axis=-1)

    def tangent_at(self, local: FloatArray) -> FloatArray:
        """Tangent stiffness (..., n, 3, 3) at local deflections (..., n, 3) [m]. [N/m]

        Across: the curve's tangent in the direction of the deflection, its secant crosswise.
        """
        at = along_and_across(local)
        tangent = self.whole.tangent(at)
        length = at[..., 1]
        still = length < 1e-12
        secant = self.whole.force(at)[..., 1] / np.where(still, 1.0, length)
        secant = np.where(still, tangent[..., 1], secant)
        unit = _unit(local[..., 1:], at[..., 1:])
        out = np.zeros((*tangent.shape[:-1], 3, 3))
        out[..., 0, 0] = tangent[..., 0]
        out[..., 1:, 1:] = secant[..., None, None] * np.eye(2)
        extra = (tangent[..., 1] - secant)[..., None, None]
        out[..., 1:, 1:] += extra * (unit[..., :, None] * unit[..., None, :])
        return out

    def mount_force(self, pose: Pose) -> FloatArray:
        """Force of every mount on the payload in case axes, (..., n, 3). [N]"""
        local = self.force_at(self.deflection(pose))
        return np.asarray(-(np.swapaxes(self.frames, -1, -2) @ local[..., None])[..., 0])

    def unloaded(self) -> Pose:
        """The pose in which no mount is deflected."""
        shape = np.broadcast_shapes(np.shape(self.mass), self.position.shape[:-2])
        return Pose(
            np.zeros((*shape, 3)),
            np.broadcast_to(np.eye(3), (*shape, 3, 3)),
            np.ones(shape, dtype=bool),
        )

    def mount_stiffness(
        self, pose: Pose | None = None, *, factor: npt.ArrayLike = 1.0
    ) -> FloatArray:
        """Tangent stiffness (..., 6, 6) of mounts and cables at a pose. [N/m, N, N·m]

        `factor` (..., n) multiplies that of each mount: the dynamic ratio. Preload is not in it.
        """
        pose = self.unloaded() if pose is None else pose
        mounts = self._assembled(pose, np.asarray(factor, dtype=float))
        return np.asarray(mounts + self._cables(pose, self.cable_stiffness))

    def damped_stiffness(self, pose: Pose | None = None) -> ComplexArray:
        """The same with the dynamic ratio r and structural damping, r·k(1 + iη) a mount."""
        pose = self.unloaded() if pose is None else pose
        mounts = self._assembled(pose, self.dynamic_ratio * (1 + 1j * self.loss_factor))
        loss = (1 + 1j * self.cable_loss)[..., None]
        whole: ComplexArray = mounts + self._cables(pose, self.cable_stiffness * loss)
        return whole

    def tangents(self, pose: Pose, factor: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """Tangent (..., n, 3, 3) of each mount with its sheet in local axes. [N/m]

        Of the rubber's tangent t and the sheet's k a static curve shows s = t·k/(t + k); the
        rubber's alone is multiplied by `factor` c (..., n), real or complex, which makes
        c·t·k/(c·t + k) = c·s/(1 + (c − 1)·s/k).
        """
        own = self.tangent_at(self.deflection(pose))
        k: npt.NDArray[Any] = own * factor[..., None, None]
        if not np.isinf(self.sheet).all():
            k[..., 0, 0] /= 1 + (factor - 1) * (own[..., 0, 0] / self.sheet)
        return k

    def _assembled(self, pose: Pose, factor: npt.NDArray[Any]) -> npt.NDArray[Any]:
        b = self.frames @ motion_at(self._arms(pose))
        k: npt.NDArray[Any] = (np.swapaxes(b, -1, -2) @ self.tangents(pose, factor) @ b).sum(-3)
        return k

    def _cables(self, pose: Pose, stiffness: npt.NDArray[Any]) -> npt.NDArray[Any]:
        if not stiffness.size:
            return np.zeros((6, 6))
        b = motion_at(self.cable_position @ np.swapaxes(pose.turn, -1, -2))
        k: npt.NDArray[Any] = (np.swapaxes(b, -1, -2) @ (stiffness[..., None] * b)).sum(-3)
        return k

    def geometric_stiffness(self, pose: Pose) -> FloatArray:
        """Stiffness of the preload, (..., 6, 6): a force F at r turns with (θ × r) × F. [N·m]

        Adds Σ[(r·F)1 − r Fᵀ] to the three rotations; symmetric where the moments balance.
        """
        r, f = self._pulls(pose)
        out = np.zeros((*r.shape[:-2], 6, 6))
        along = np.einsum("...ni,...ni->...", r, f)[..., None, None]
        out[..., 3:, 3:] = along * np.eye(3) - np.einsum("...ni,...nj->...ij", r, f)
        return out

    def _pulls(self, pose: Pose) -> tuple[FloatArray, FloatArray]:
        """Arms and forces (..., n + c, 3) of mounts and cables. [m, N]"""
        r, f = self._arms(pose), self.mount_force(pose)
        if not self.cable_stiffness.size:
            return r, f
        arms = self.cable_position @ np.swapaxes(pose.turn, -1, -2)
        pull = self.cable_force(pose)
        return np.concatenate([r, arms], axis=-2), np.concatenate([f, pull], axis=-2)

    def stiffness(self, pose: Pose | None = None, *, factor: npt.ArrayLike = 1.0) -> FloatArray:
        """Tangent stiffness (..., 6, 6): mounts, and the preload's term at a loaded pose.

        `factor` (..., n) multiplies each mount's tangent, not its preload.
        """
        k = self.mount_stiffness(pose, factor=factor)
        if pose is None:
            return k
        return np.asarray(k + self._preload(pose))

    def _preload(self, pose: Pose) -> FloatArray:
        preload = self.geometric_stiffness(pose)
        return np.asarray((preload + np.swapaxes(preload, -1, -2)) / 2)

    def pose(self, specific_force: npt.ArrayLike) -> Pose:
        """Where the payload comes to rest under a uniform specific force.

        Minimises the potential energy ΣU(δ) − m a·u over the shift and a finite rotation by
        Newton's method with a shift of the diagonal where a step would raise the energy
        (Levenberg and Marquardt), so the true curves, lift-off and large tilts are followed.

        Parameters
        ----------
        specific_force : (..., 3) array
            Gravity in case axes, g times the direction that points down. [m/s²]

        Returns
        -------
        Pose
            `found` is False where no rest was found within `STEPS`, or none within a tilt of
            `TOPPLED`: top-heavy payloads roll over and come to rest upside down.
        """
        a = np.asarray(specific_force, dtype=float)
        start = self.unloaded()
        shape = np.broadcast_shapes(start.found.shape, a.shape[:-1])
        weight = np.broadcast_to(np.asarray(self.mass)[..., None] * a, (*shape, 3))
        arm = np.sqrt(np.mean(np.sum(self.position**2, axis=-1), axis=-1))
        arm = np.broadcast_to(np.maximum(arm, 1e-3), shape)
        size = np.ones((*shape, 6))
        size[..., 3:] = arm[..., None]
        shift = np.zeros((*shape, 3))
        turn = np.broadcast_to(np.eye(3), (*shape, 3, 3)).copy()
        damping = np.zeros(shape)
        found = np.zeros(shape, dtype=bool)
        floor = self.mount_stiffness()
        scale = np.trace(floor[..., :3, :3], axis1=-2, axis2=-1) / 3
        # Hard mounts turn the rounding of their positions into force.
        rounding = 1e-14 * scale * arm
        tolerance = 1e-11 * np.maximum(np.linalg.norm(weight, axis=-1), 1e-9) + rounding
        scale = np.broadcast_to(scale, shape)[..., None] * size**2

        def energy(shift: FloatArray, turn: FloatArray) -> FloatArray:
            there = Pose(shift, turn, found)
            at = self._local(there.moved(self.position))
            stored = self.energy_in(at).sum(axis=-1)
            stored = stored + self.cable_energy(there.moved(self.cable_position)).sum(axis=-1)
            return np.asarray(stored - np.sum(weight * shift, axis=-1))

        level = energy(shift, turn)
        for _ in range(STEPS):
            here = Pose(shift, turn, found)
            arms, force = self._pulls(here)
            residual = np.concatenate(
                [weight + force.sum(axis=-2), np.cross(arms, force).sum(axis=-2)], axis=-1
            )
            found = np.linalg.norm(residual / size, axis=-1) <= tolerance
            if found.all():
                break
            k = self.mount_stiffness(here) + self.geometric_stiffness(here)
            k = k + np.eye(6) * (damping[..., None] * scale + 1e-12 * scale)[..., None, :]
            step = np.linalg.solve(k, residual[..., None])[..., 0]
            length = np.linalg.norm(step * size, axis=-1)
            step = step * np.minimum(1, arm / np.maximum(length, 1e-300))[..., None]
            new_shift = shift + step[..., :3]
            new_turn = rotation(step[..., 3:]) @ turn
            new_level = energy(new_shift, new_turn)
            # the energy of a long piece of curve is known to no more digits near its end
            slack = 1e-11 * (np.abs(level) + tolerance)
            better = (new_level <= level + slack) & ~found
            shift = np.where(better[..., None], new_shift, shift)
            turn = np.where(better[..., None, None], new_turn, turn)
            level = np.where(better, new_level, level)
            damping = np.where(
                better, np.where(damping > 1e-3, damping / 4, 0.0), np.maximum(damping * 4, 1e-3)
            )
        rest = Pose(shift, turn, found)
        return replace(rest, found=found & (rest.tilt < TOPPLED))

    def gravity_left(self, pose: Pose) -> FloatArray:
        """Share (...) of the mounts' stiffness that the preload leaves in the weakest motion. [-]

        The least of (K + K_preload) against K alone: 1 without preload, 0 where the payload
        topples.
        """
        mounts, whole = self.mount_stiffness(pose), self.stiffness(pose)
        own = np.linalg.eigvalsh(mounts)
        safe = (own[..., 0] > 1e-12 * own[..., -1])[..., None, None]
        lower = np.linalg.cholesky(np.where(safe, mounts, np.eye(6)))
        ratio = congruent(lower, np.where(safe, whole, 0.0))
        return np.asarray(np.linalg.eigvalsh(ratio)[..., 0])

    def undamped(self, pose: Pose | None = None) -> tuple[FloatArray, FloatArray]:
        """Undamped modes from the dynamic tangent at a pose.

        Returns
        -------
        frequency : (..., 6) array
            Rising; 0 where a motion is free, nan where the pose is unstable. [Hz]
        energy : (..., 6, 6) array
            Rows: share of each of the six motions in the kinetic energy of each mode. [-]
        """
        lower = np.linalg.cholesky(self.mass_matrix(pose))
        a = congruent(lower, self.stiffness(pose, factor=self.dynamic_ratio))
        value, vector = np.linalg.eigh((a + a.swapaxes(-1, -2)) / 2)
        limit = 1e-12 * np.abs(value).max(axis=-1, keepdims=True)
        value = np.where(np.abs(value) < limit, 0.0, value)
        frequency = np.sqrt(np.where(value < 0, np.nan, value)) / (2 * np.pi)
        shape = np.linalg.solve(np.swapaxes(lower, -1, -2), vector)
        momentum = lower @ vector
        return frequency, np.swapaxes(shape * momentum, -1, -2)

    def frequencies(self, pose: Pose | None = None) -> FloatArray:
        """Six undamped natural frequencies (..., 6), rising. [Hz]"""
        return self.undamped(pose)[0]

    def modes(self, pose: Pose | None = None) -> Modes:
        """Complex modes from the dynamic tangent and each mount's loss factor.

        Raises
        ------
        ValueError
            A loss factor is unknown (nan).
        """
        if np.isnan(self.loss_factor).any() or np.isnan(self.cable_loss).any():
            raise ValueError("modes need the loss factor of every mount and cable")
        lower = np.linalg.cholesky(self.mass_matrix(pose))
        springs = self.damped_stiffness(pose)
        stored = springs.real if pose is None else springs.real + self._preload(pose)
        whole: ComplexArray = congruent(lower, stored) + 1j * congruent(lower, springs.imag)
        value, vector = np.linalg.eig(whole)
        order = np.argsort(value.real, axis=-1)
        value = np.take_along_axis(value, order, axis=-1)
        vector = np.take_along_axis(vector, order[..., None, :], axis=-1)
        upper = np.swapaxes(lower, -1, -2).astype(complex)
        return Modes(value, np.linalg.solve(upper, vector), np.linalg.inv(vector) @ upper)


def motion_name(energy: npt.ArrayLike) -> str:
    """Plain name of a mode from the shares (6,) of the six motions in its kinetic energy.

    >>> motion_name([.62, 0, 0, 0, .38, 0])
    'sway along x with rock about y'
    """
    share = np.asarray(energy, dtype=float)
    first, second = np.argsort(share)[::-1][:2]
    if share[second] < 0.15:
        return MOTIONS[first]
    return f"{MOTIONS[first]} with {MOTIONS[second]}"

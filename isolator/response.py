"""What happens to one design or many: the kernels run once for a batch.

All designs of a batch share the trip and the number of mounts. The inertia band of a payload of
which only mass and size are known is one more axis of the arrays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from isolator.clearance import landed, outward, shaken, towards_faces
from isolator.design import Design
from isolator.payload import CORNERS
from isolator.shock import Drop, flat_drop, rocking
from isolator.suspension import ATTITUDES, Modes, Pose, Suspension
from isolator.trip import Axis, Leg
from isolator.units import G0, FloatArray, si_or_none
from isolator.vibration import RandomResponse, peak, random_response, touches_an_hour

Bools = npt.NDArray[np.bool_]

AXES: tuple[Axis, ...] = ("x", "y", "z")
POINTS = ("centre", *CORNERS)
DOWN = np.array(list(ATTITUDES.values()))


@dataclass(frozen=True)
class LegResponse:
    """What one leg does to designs (b,); arrays hold nan where something is unknown.

    Attributes
    ----------
    stiffening : (b, n) array
        Stiffness of the mounts at its temperature over that at 23 °C; inf if rigid. [-]
    rigid, uncertain : (b,) bool arrays
        Colder than the mounts' data; cold, with unknown stiffness.
    suspension : Suspension of (b,)
        At its temperature; as at 23 °C where rigid or uncertain.
    stands : (b,) bool array
        Comes to rest in its attitude without toppling.
    pose : Pose of (b,)
    shaken_by : mapping of case axis to RandomResponse of (b, i), i the inertia band
    uncovered : mapping of case axis to (b,) array
        Lowest frequency of a mode below the spectrum's first line that takes part, else nan. [Hz]
    acceleration, travel, travel_speed, acceleration_rate : (b, i, 9, 3) arrays
        At `POINTS`, all given axes of the road acting together, rms. [m/s², m, m/s, m/s³]
    drop : Drop of (b, l) or None
        l the landings of the leg.
    towards : (b, 6) array
        Motion towards the faces by vibration from the unloaded pose, nan if unknown. [m]
    drop_towards : (b, 6) array
        The same by the drop.
    touches : (b, 6) array
        How often the worst corner touches each face by vibration, nominal inertia. [1/h]
    """

    leg: Leg
    stiffening: FloatArray
    rigid: Bools
    uncertain: Bools
    suspension: Suspension
    stands: Bools
    pose: Pose
    shaken_by: Mapping[Axis, RandomResponse]
    uncovered: Mapping[Axis, FloatArray]
    acceleration: FloatArray
    travel: FloatArray
    travel_speed: FloatArray
    travel_peak: FloatArray
    acceleration_peak: FloatArray
    drop: Drop | None
    towards: FloatArray
    drop_towards: FloatArray
    touches: FloatArray


@dataclass(frozen=True)
class Response:
    """What happens to a batch of designs (b,) of one trip.

    Attributes
    ----------
    suspension : Suspension of (b,), at 23 °C with the nominal inertia
    pose : Pose of (b, 6), in the order of `ATTITUDES`
    legs : sequence of LegResponse
    corners : (b, 8, 3) array
        From the centre of gravity. [m]
    limits : (b, n, 3, 2) array
        See `Mount.limits`. [m]
    spent : (b, 6) array
        What a motion from the unloaded pose towards a face has to be raised by to be held
        against the gap as it was measured: the tolerance, less the motion at which it was
        measured. [m]
    """

    designs: Sequence[Design]
    suspension: Suspension
    pose: Pose
    legs: Sequence[LegResponse]
    corners: FloatArray
    limits: FloatArray
    spent: FloatArray

    @cached_property
    def load(self) -> FloatArray:
        """Force of each mount, (b, 6, n). [N]"""
        force = self.suspension.repeated().mount_force(self.pose)
        return np.asarray(np.linalg.norm(force, axis=-1))

    @cached_property
    def deflection(self) -> FloatArray:
        """Deflection of each mount along its local axes, (b, 6, n, 3). [m]"""
        return self.suspension.repeated().deflection(self.pose)

    @cached_property
    def gravity_left(self) -> FloatArray:
        """See `Suspension.gravity_left`, (b, 6). [-]"""
        return self.suspension.repeated().gravity_left(self.pose)

    @cached_property
    def towards(self) -> FloatArray:
        """Motion towards the faces at rest in each attitude, (b, 6, 6). [m]"""
        return towards_faces(self.pose.moved(self.corners[:, None]))


def respond(designs: Sequence[Design]) -> Response:
    """Run the kernels for designs of one trip with as many mounts each.

    Parameters
    ----------
    designs : sequence of Design
        All with the same legs, number of mounts and width of the inertia band.
    """
    suspension = Suspension.stacked([d.suspension() for d in designs])
    inertia = np.stack([d.payload.inertias() for d in designs])
    corners = np.stack([d.payload.corners() for d in designs])
    limits = np.stack([[p.mount.limits() for p in d.places] for d in designs])
    pose = suspension.repeated().pose(G0 * DOWN)
    lid_up = Pose(pose.shift[:, 0], pose.turn[:, 0], pose.found[:, 0])
    hanging = np.array([d.case.measured == "hanging" for d in designs])
    datum = np.where(hanging[:, None], towards_faces(lid_up.moved(corners)), 0.0)
    tolerance = np.array([si_or_none(d.case, "tolerance") or 0.0 for d in designs])
    spent = tolerance[:, None] - datum
    room = np.stack([d.case.gaps() for d in designs]) - spent
    legs = [
        _leg(leg, designs, suspension, inertia, corners, limits, room) for leg in designs[0].legs
    ]
    return Response(designs, suspension, pose, legs, corners, limits, spent)


def _leg(
    leg: Leg,
    designs: Sequence[Design],
    suspension: Suspension,
    inertia: FloatArray,
    corners: FloatArray,
    limits: FloatArray,
    room: FloatArray,
) -> LegResponse:
    cold = np.array([[p.mount.cold(leg.temperature_c()) for p in d.places] for d in designs])
    factor, loss = cold[..., 0], cold[..., 1]
    rigid, uncertain = np.isinf(factor).any(axis=-1), np.isnan(factor).any(axis=-1)
    there = suspension.stiffened(np.where(np.isfinite(factor), factor, 1.0), loss)
    pose = there.pose(G0 * np.array(ATTITUDES[leg.attitude]))
    stands = pose.found & (there.gravity_left(pose) > 0)
    unusable = ~stands | rigid | uncertain
    band = replace(there.repeated(), inertia=inertia)
    shaken_by, uncovered = _shake(leg, band, pose, corners) if leg.vibrates else ({}, {})
    silent = np.isnan(loss).any(axis=-1) | unusable

    def together(name: str) -> FloatArray:
        squares = [getattr(r, name) ** 2 for r in shaken_by.values()]
        if not squares:
            return np.full((*inertia.shape[:2], 9, 3), np.nan)
        return np.where(silent[:, None, None, None], np.nan, np.sqrt(sum(squares)))

    travel, speed = together("travel"), together("travel_speed")
    acceleration, jerk = together("acceleration"), together("acceleration_rate")
    seconds = si_or_none(leg, "duration")
    lasting = np.nan if seconds is None else seconds
    travel_peak = peak(travel, speed, lasting, leg.crest)
    rest = pose.moved(corners)
    drop, drop_towards = _drop(leg, designs, there, band, corners, limits, unusable)
    return LegResponse(
        leg,
        factor,
        rigid,
        uncertain,
        there,
        stands,
        pose,
        shaken_by,
        uncovered,
        acceleration,
        travel,
        speed,
        travel_peak,
        peak(acceleration, jerk, lasting, leg.crest),
        drop,
        shaken(rest[:, None], travel_peak[:, :, 1:]).max(axis=1),
        drop_towards,
        _touches(rest, travel[:, 0, 1:], speed[:, 0, 1:], room),
    )


def _touches(
    rest: FloatArray, travel: FloatArray, speed: FloatArray, room: FloatArray
) -> FloatArray:
    """Touches an hour (b, 6) of the worst corner at each face."""
    left = room[..., None] - np.moveaxis(outward(rest), -2, -1)
    both = [np.repeat(np.moveaxis(a, -1, -2), 2, axis=-2) for a in (travel, speed)]
    rate = touches_an_hour(both[0], both[1], left)
    return np.asarray(np.where(np.isinf(left), 0.0, rate).max(axis=-1))


def _shake(
    leg: Leg, band: Suspension, pose: Pose, corners: FloatArray
) -> tuple[dict[Axis, RandomResponse], dict[Axis, FloatArray]]:
    """Response to each given axis of the road, and the modes that its spectrum does not cover.

    Where a loss factor is unknown the numbers are those of 0.1, for the caller to blank.
    """
    given = {axis: s for axis in AXES if (s := leg.spectrum(axis)) is not None}
    if not given:
        return {}, {}
    known = np.where(np.isnan(band.loss_factor), 0.1, band.loss_factor)
    modes = replace(band, loss_factor=known).modes(
        Pose(pose.shift[:, None], pose.turn[:, None], pose.found[:, None])
    )
    points = np.concatenate([np.zeros_like(corners[:, :1]), corners], axis=1)
    points = (points @ np.swapaxes(pose.turn, -1, -2))[:, None]
    shaken_by: dict[Axis, RandomResponse] = {}
    uncovered: dict[Axis, FloatArray] = {}
    for axis, spectrum in given.items():
        k, density = AXES.index(axis), spectrum.density * leg.level**2
        shaken_by[axis] = random_response(modes, points, k, spectrum.lines, density)
        uncovered[axis] = _below(modes, k, float(spectrum.lines[0]))
    return shaken_by, uncovered


def _below(modes: Modes, axis: int, first: float) -> FloatArray:
    """Lowest frequency (b,) of a mode below the first line that takes part; nan if none. [Hz]"""
    part = np.abs(modes.shape[..., axis, :] * modes.share[..., :, axis])
    frequency = np.sqrt(np.maximum(modes.eigenvalue.real, 0)) / (2 * np.pi)
    outside = np.where((part > 0.05) & (frequency < first), frequency, np.inf).min(axis=(-1, -2))
    return np.where(np.isinf(outside), np.nan, outside)


def _drop(
    leg: Leg,
    designs: Sequence[Design],
    there: Suspension,
    band: Suspension,
    corners: FloatArray,
    limits: FloatArray,
    unusable: Bools,
) -> tuple[Drop | None, FloatArray]:
    height = si_or_none(leg, "drop")
    if height is None or not leg.drops:
        return None, np.full((len(designs), 6), -np.inf if not leg.drops else np.nan)
    down = np.array([ATTITUDES[landing] for landing in leg.landings])
    given = {d.case.restitution for d in designs}
    restitution = max(0.0 if e is None else e for e in given)
    drop = flat_drop(
        there.repeated(), down, height, limits[:, None], restitution=restitution
    )
    stop = np.where(np.isnan(drop.bottom), np.inf, drop.bottom)
    factor = rocking(band.repeated(), down, corners[:, None, None]).max(axis=1)
    rest = towards_faces(there.repeated().pose(G0 * DOWN).moved(corners[:, None]))
    recoil = (rest.reshape(-1, 6, 3, 2)[..., ::-1]).reshape(rest.shape).max(axis=1)
    moved = landed(down, np.minimum(drop.travel, stop), drop.rebound, factor).max(axis=1)
    return drop, np.where(unusable[:, None], np.nan, np.maximum(moved, recoil))

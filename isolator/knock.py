"""The pulse of a leg: what the payload, its corners and its mounts do when the case is knocked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from isolator.base_pulse import PulseResponse, TimeModes, base_pulse
from isolator.clearance import both_ways
from isolator.pulse import RATE, Pulse
from isolator.suspension import ANY_LOSS, Pose, Suspension, largest_force, strokes
from isolator.trip import AXES, Axis, Leg
from isolator.units import FloatArray, si, si_array

SIDE_BY_SIDE = 8
"""How many designs are followed at once; more of them no longer fit into a fast memory."""

BENT = 0.02
"""By how much of itself a force may be off the straight line before its curve counts as bent, and
the linear answer is doubted. [-]"""


@dataclass(frozen=True, kw_only=True)
class Knock:
    """What the pulse of a leg does, one axis at a time, both ways; nan where it is unknown.

    Attributes
    ----------
    by_axis : mapping of case axis to PulseResponse of (b, i), i the inertia band
        At centre and corners.
    mounts : mapping of case axis to (b, n, 3) array
        How far each mount is pushed, pulled and moved across, sag included. [m]
    force : mapping of case axis to (b, n) array
        Largest force of each mount, sag and damping included; dynamic curves. [N]
    doubt : (b,) array
        By how much the mounts' forces are off their tangents at the ends of the travel, either
        way; the linear answer may be as far off. [-]
    fast : (b,) array
        Highest mode that a record has too few samples for, else nan. [Hz]
    rest, swing : (b, 8, 6) arrays
        Of each corner towards each face: at rest from the unloaded pose, and beyond that. [m]
    """

    by_axis: Mapping[Axis, PulseResponse]
    mounts: Mapping[Axis, FloatArray]
    force: Mapping[Axis, FloatArray]
    doubt: FloatArray
    fast: FloatArray
    rest: FloatArray
    swing: FloatArray


def knock(
    leg: Leg,
    pulse: Pulse,
    there: Suspension,
    inertia: FloatArray,
    pose: Pose,
    corners: FloatArray,
    unusable: npt.NDArray[np.bool_],
) -> Knock:
    """The pulse of a leg on designs (b,), along each of its axes.

    Parameters
    ----------
    leg : Leg
    pulse : Pulse
    there : Suspension of (b,), at the leg's temperature
    inertia : (b, i, 3, 3) array
        Inertia band. [kg·m²]
    pose : Pose of (b,)
    corners : (b, c, 3) array
        From the centre of gravity, unloaded. [m]
    unusable : (b,) bool array
        Where the response is unknown.
    """
    blind = there.loss_unknown() | unusable
    count = corners.shape[1] + 1
    modes, where, frames = _modes(there, inertia, pose, corners)
    fast = np.full(len(blind), np.nan)
    if pulse.shape == "record":
        rate = (si_array(pulse, "record").size - 1) / si(pulse, "duration")
        highest = modes.omega.max(axis=(1, 2)) / (2 * np.pi)
        fast = np.where(rate < RATE * highest * (1 - 1e-9), highest, np.nan)
    blind = blind | ~np.isnan(fast)
    by_axis, mounts, force = dict[Axis, PulseResponse](), dict[Axis, FloatArray](), {}
    local = there.deflection(pose)
    doubt, most = np.ones(len(blind)), np.zeros((len(blind), count - 1, 3))
    for axis in (leg.case_axes()[way] for way in pulse.ways):
        k = AXES.index(axis)
        whole = _followed(modes, where, frames, k, pulse, blind)
        felt = _followed(
            modes.as_springs(), where[:, :, count:], frames[:, :, count:], k, pulse, blind
        )
        by_axis[axis] = PulseResponse(
            *(getattr(whole, f.name)[:, :, :count] for f in fields(PulseResponse))
        )
        bend = whole.travel[:, :, count:].max(axis=1)
        mounts[axis] = strokes(local - bend, local + bend)
        force[axis] = _force(there, local, felt.acceleration.max(axis=1))
        doubt = np.fmax(doubt, bent(there, local, bend))
        most = np.maximum(most, whole.travel[:, :, 1:count].max(axis=1))
    rest = pose.moved(corners)
    return Knock(
        by_axis=by_axis,
        mounts=mounts,
        force=force,
        doubt=np.where(doubt < 1.0 + BENT, 1.0, doubt),
        fast=fast,
        rest=both_ways(rest, rest),
        swing=np.repeat(most, 2, axis=-1),
    )


def _modes(
    there: Suspension, inertia: FloatArray, pose: Pose, corners: FloatArray
) -> tuple[TimeModes, FloatArray, FloatArray]:
    """Modes (b, i), and centre, corners and mounts (b, 1, p, 3) with their axes."""
    damped = there.across(inertia, ANY_LOSS)
    return TimeModes.of(damped, pose.repeated()), *there.spots(pose, corners)


def _followed(
    modes: TimeModes,
    where: FloatArray,
    frames: FloatArray,
    axis: int,
    pulse: Pulse,
    blind: npt.NDArray[np.bool_],
) -> PulseResponse:
    """Some designs at a time; nan where it is unknown."""
    parts = []
    for first in range(0, len(blind), SIDE_BY_SIDE):
        some = slice(first, first + SIDE_BY_SIDE)
        own = TimeModes(*(getattr(modes, f.name)[some] for f in fields(TimeModes)))
        parts.append(base_pulse(own, where[some], axis, pulse, frames=frames[some]))
    silent = blind[:, None, None, None]
    return PulseResponse(
        *(
            np.where(silent, np.nan, np.concatenate([getattr(part, f.name) for part in parts]))
            for f in fields(PulseResponse)
        )
    )


def _force(there: Suspension, local: FloatArray, bend: FloatArray) -> FloatArray:
    """Largest force (b, n) of the dynamic curves at deflections (b, n, 3) about rest. [N]"""
    ends = strokes(local - bend, local + bend)
    curve = there.dynamic().whole
    force = largest_force(curve, np.where(np.isnan(ends), 0.0, ends))
    return np.where(np.isnan(ends).any(axis=-1), np.nan, force)


def bent(there: Suspension, local: FloatArray, bend: FloatArray) -> FloatArray:
    """By how much (b,) forces at the ends of the travel are off the tangent at rest, either way.

    Mounts that take less than a tenth of the largest share are left out.
    """
    known = np.where(np.isnan(bend), 0.0, bend)
    start, tangent = there.force_at(local), there.tangent_at(local)
    off, share = [], []
    for axis in range(3):
        straight = tangent[..., axis, axis] * known[..., axis]
        for sign in (-1.0, 1.0):
            end = local + sign * known * np.eye(3)[axis]
            true = sign * (there.force_at(end) - start)[..., axis]
            ratio = true / np.where(straight > 0, straight, 1.0)
            off.append(np.maximum(ratio, 1 / np.maximum(ratio, 1e-3)))
            share.append(straight)
    taken = np.stack(share, axis=-1)
    counts = taken > 0.1 * taken.max(axis=(-1, -2), keepdims=True)
    return np.asarray(np.where(counts, np.stack(off, axis=-1), 1.0).max(axis=(-1, -2)))

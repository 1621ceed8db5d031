"""What is told of one body that floats: rows for a program, None where something is unknown."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from isolator.assessment import Assessment
from isolator.checks.room import by_corner, obstacles
from isolator.design import MAIN, Design
from isolator.inside import FACES, OWN
from isolator.outcome import POINTS, Falling, LegResponse, Touchdown
from isolator.payload import CORNERS
from isolator.resonance import READINGS
from isolator.response import Response
from isolator.rubber import ROOM_TEMPERATURE
from isolator.suspension import ATTITUDES, Pose, motion_name
from isolator.trip import AXES
from isolator.units import G0, FloatArray, si_array_or_none, si_or_none
from isolator.vibration import worse_than_bolted

CONDITION = "as given"

THUMB = 20.0
"""A push with the thumb. [N]"""

AGES = {"a minute": 60.0, "a day": 86400.0, "a month": 2.6298e6, "a year": 3.15576e7}
"""When the sag in storage is told. [s]"""

ENDS = (-1.0, 0.0, 1.0)
"""Where in a band it is told: its low end, as stated, its high end."""


def body_rows(assessment: Assessment, frame: str | None) -> dict[str, Any]:
    """What is told of each body that floats."""
    response = assessment.body(frame)
    payload = response.designs[0].payload
    centre = None if payload.centre is None else payload.centre_of_gravity() * 1e3
    off = si_array_or_none(payload, "centre_within")
    return {
        "payload": {
            "mass_kg": plain(response.suspension.mass[0]),
            "mass_within_kg": si_or_none(payload, "mass_within"),
            "centre_mm": None if centre is None else [plain(v) for v in centre],
            "centre_within_mm": None if off is None else [plain(v) for v in off * 1e3],
        },
        "bands": list(_bands(assessment.tried[frame or MAIN])),
        "main_modes_hz": main_modes(assessment.tried[frame or MAIN].main_modes[:, None]),
        "push": list(_push(assessment.tried[frame or MAIN])),
        "storage": list(_storage(response)),
        "sag": list(_sag(response)),
        "sheets": list(_sheets(response)),
        "cables": _cables(response),
        "modes": list(_modes(response)),
        "leg_modes": [row for leg in response.legs for row in _leg_modes(leg)],
        "transmissibility": list(_transmissibility(response)),
        "vibration": [row for leg in response.legs for row in _vibration(leg)],
        "sine": [row for leg in response.legs for row in _sine(leg)],
        "walking": [row for leg in response.legs for row in _walking(leg)],
        "heights": list(_heights(response.designs[0])),
        "drops": [row for leg in response.legs for row in _drops(leg)],
        "turned": [row for leg in response.legs for row in _turned(leg)],
        "parts": [row for leg in response.legs for row in _parts(leg)],
        "clearance": list(_clearance(assessment, frame)),
        "clearance_sum": response.designs[0].case.sum,
        "obstacles": list(_obstacles(assessment, frame)),
    }


def plain(value: Any) -> float | None:
    """A float that JSON can hold, None for unknown or endless."""
    number = float(value)
    return number if math.isfinite(number) else None


def _bands(tried: Response) -> Iterator[dict[str, Any]]:
    """What is known of each kind of mount as a band: its low end, as stated, its high end."""
    kinds = {place.mount.name: place.mount for place in tried.designs[0].places}
    for name, mount in kinds.items():
        along, across = mount.curves().tangent(0.0)
        stated = {
            "along": ("along_n_mm", 1e-3 * along),
            "across": ("across_n_mm", 1e-3 * across),
            "dynamic ratio": ("dynamic_ratio", mount.dynamic_ratio),
            "loss factor": ("loss_factor", mount.loss_factor),
        }
        if mount.within or mount.scatter:
            yield {"mount": name, "grade": mount.grade, "scatter": mount.scatter} | {
                key: None if value is None else [plain(value * mount.over(band, at)) for at in ENDS]
                for band, (key, value) in stated.items()
            }


def main_modes(modes: FloatArray) -> dict[str, list[float | None]]:
    """Lowest mode and bounce of all variants and legs (b, l, 2): lowest, as stated, highest."""
    out = {}
    for k, name in enumerate(("lowest", "bounce")):
        stated, known = modes[0, 0, k], modes[..., k][np.isfinite(modes[..., k])]
        ends = (known.min(), stated, known.max()) if known.size else (np.nan,) * 3
        out[name] = [plain(value) for value in ends]
    return out


def _push(tried: Response) -> Iterator[dict[str, Any]]:
    """What a thumb should feel: travel of the centre, low end, as stated, high end."""
    for k, axis in enumerate(AXES):
        travel = 1e3 * THUMB * tried.compliance[:, k]
        known = travel[np.isfinite(travel)]
        ends = (known.min(), travel[0], known.max()) if known.size else (np.nan,) * 3
        yield {"axis": axis, "force_n": THUMB, "travel_mm": [plain(value) for value in ends]}


def _storage(response: Response) -> Iterator[dict[str, Any]]:
    """The largest sag of a mount where the case is stored, new and later: low and high end."""
    design, kept = response.designs[0], int(response.stored[0])
    if not response.pose.found[0, kept] or any(p.mount.creep is None for p in design.places):
        return
    new = 1e3 * float(np.linalg.norm(response.deflection[0, kept], axis=-1).max())
    for name, seconds in AGES.items():
        more = design.creeps(seconds)
        yield {
            "attitude": design.stored,
            "after": name,
            "sag_mm": [plain(new * (1 + share)) for share in more],
        }


def _sag(response: Response) -> Iterator[dict[str, Any]]:
    names = response.designs[0].mount_names()
    for a, attitude in enumerate(ATTITUDES):
        held = bool(response.pose.found[0, a])
        for m, mount in enumerate(names):
            local = response.deflection[0, a, m]
            yield {
                "attitude": attitude,
                "condition": CONDITION,
                "mount": mount,
                "load_n": plain(response.load[0, a, m]) if held else None,
                "deflection_mm": plain(1e3 * np.linalg.norm(local)) if held else None,
                "along_mm": plain(1e3 * local[0]) if held else None,
                "pulled": bool(local[0] < -1e-9) if held else None,
                "seat_shift_n": plain(response.shift[0][0, a, m]) if held else None,
            }


def _sheets(response: Response) -> Iterator[dict[str, Any]]:
    """The sheets that were given, over the dynamic tangent of their mounts with the lid up."""
    for m, (mount, place) in enumerate(
        zip(response.designs[0].mount_names(), response.designs[0].places, strict=True)
    ):
        if place.sheet is not None:
            yield {
                "mount": mount,
                "stiffness_n_m": place.sheet_stiffness(),
                "over_mount": plain(response.sheet_ratio[0, m]),
            }


def _cables(response: Response) -> dict[str, Any] | None:
    """Lid up at 23 °C with and without the cables; None if there are none."""
    cables = response.designs[0].cables
    if not cables:
        return None
    before, after = response.main_modes_without_cables[0], response.main_modes[0]
    with np.errstate(divide="ignore", invalid="ignore"):  # a motion that only a cable holds
        added = (after / before) ** 2 - 1
    return {
        "names": [cable.name for cable in cables],
        "lowest_hz_without": plain(before[0]),
        "lowest_hz": plain(after[0]),
        "lowest_stiffness_added": plain(added[0]),
        "bounce_hz_without": plain(before[1]),
        "bounce_hz": plain(after[1]),
        "bounce_stiffness_added": plain(added[1]),
    }


def _modes(response: Response) -> Iterator[dict[str, Any]]:
    frequency, energy = response.suspension.repeated().undamped(response.pose)
    for a, attitude in enumerate(ATTITUDES):
        held = bool(response.pose.found[0, a])
        for k in range(6):
            yield {
                "attitude": attitude,
                "condition": CONDITION,
                "temperature_degC": ROOM_TEMPERATURE,
                "frequency_hz": plain(frequency[0, a, k]) if held else None,
                "name": motion_name(energy[0, a, k]),
            }


def _leg_modes(leg: LegResponse) -> Iterator[dict[str, Any]]:
    """Modes on a leg, in its attitude at its temperature; unknown where the mounts are."""
    frequency, energy = leg.suspension.undamped(leg.pose)
    known = bool(leg.stands[0] & ~leg.rigid[0] & ~leg.uncertain[0])
    for k in range(6):
        yield {
            "leg": leg.leg.name,
            "attitude": leg.leg.attitude,
            "temperature_degC": leg.leg.temperature_c(),
            "frequency_hz": plain(frequency[0, k]) if known else None,
            "name": motion_name(energy[0, k]),
        }


def _transmissibility(response: Response) -> Iterator[dict[str, Any]]:
    """Lid up at 23 °C, base motion along each axis; nothing without every loss factor."""
    held = response.suspension
    unknown = np.isnan(held.loss_factor).any() or np.isnan(held.cable_loss).any()
    if unknown or not response.pose.found[0, 0]:
        return
    pose = Pose(response.pose.shift[:, 0], response.pose.turn[:, 0], response.pose.found[:, 0])
    modes = response.suspension.modes(pose)
    points = np.concatenate([np.zeros((1, 1, 3)), response.corners], axis=1)
    points = points @ np.swapaxes(pose.turn, -1, -2)
    for k, axis in enumerate(AXES):
        worse = worse_than_bolted(modes, points, k)
        for p, point in enumerate(POINTS):
            yield {
                "axis": axis,
                "point": point,
                "condition": CONDITION,
                "peak": plain(worse.peak[0, p]),
                "peak_hz": plain(worse.peak_frequency[0, p]),
                "worse_than_bolted_below_hz": plain(worse.below[0, p]),
            }


def _vibration(leg: LegResponse) -> Iterator[dict[str, Any]]:
    shaking = leg.shaking
    if shaking is None:
        return
    worst_of_band = {
        "acceleration_g_rms": shaking.acceleration.max(axis=1) / G0,
        "acceleration_g_peak": shaking.acceleration_peak.max(axis=1) / G0,
        "travel_mm_rms": shaking.travel.max(axis=1) * 1e3,
        "travel_mm_peak": shaking.travel_peak.max(axis=1) * 1e3,
    }
    for k, axis in enumerate(AXES):
        spectrum = leg.leg.spectrum(axis)
        for p, point in enumerate(POINTS):
            yield {
                "leg": leg.leg.name,
                "axis": axis,
                "point": point,
                "condition": CONDITION,
                "bolted_g_rms": None if spectrum is None else spectrum.level(leg.leg.level),
                **{
                    key: None if spectrum is None else plain(value[0, p, k])
                    for key, value in worst_of_band.items()
                },
            }


def _sine(leg: LegResponse) -> Iterator[dict[str, Any]]:
    """One row for each axis that the sine shakes, and each point: the worst direction there."""
    if leg.sine is None or leg.leg.sine is None:
        return
    case_axes = leg.leg.case_axes()
    for way in leg.leg.sine.ways:
        response = leg.sine.by_axis[case_axes[way]]
        felt = response.acceleration.max(axis=1)[0] / G0
        travel = response.travel.max(axis=1)[0]
        for p, point in enumerate(POINTS):
            which = int(np.nan_to_num(felt[p]).argmax())
            band = int(np.nan_to_num(response.acceleration[0, :, p, which]).argmax())
            known = math.isfinite(float(felt[p, which]))
            yield {
                "leg": leg.leg.name,
                "way": way,
                "axis": case_axes[way],
                "point": point,
                "condition": CONDITION,
                "acceleration_g_peak": plain(felt[p, which]),
                "direction": AXES[which] if known else None,
                "at_hz": plain(response.frequency[0, band, p, which]) if known else None,
                "travel_mm_peak": plain(1e3 * travel[p].max()),
                "too_fast_at_hz": plain(leg.sine.fast[0]),
            }


def _walking(leg: LegResponse) -> Iterator[dict[str, Any]]:
    """What footsteps do at each point, by direction; gravity and the swing left out."""
    walking = leg.walking
    if walking is None:
        return
    worst_of_band = {
        "acceleration_g_peak": walking.acceleration.max(axis=1) / G0,
        "acceleration_g_rms": walking.acceleration_rms.max(axis=1) / G0,
        "travel_mm_peak": walking.travel.max(axis=1) * 1e3,
    }
    for k, axis in enumerate(AXES):
        for p, point in enumerate(POINTS):
            yield {
                "leg": leg.leg.name,
                "axis": axis,
                "point": point,
                "condition": CONDITION,
                "bolted_g_peak": plain(walking.bolted[k] / G0),
                **{key: plain(value[0, p, k]) for key, value in worst_of_band.items()},
            }


def _heights(design: Design) -> Iterator[dict[str, Any]]:
    """The drop heights that come from tables."""
    gross = plain(design.gross_mass())
    for leg in design.legs:
        if (found := leg.height_class) is not None and leg.drops:
            yield {
                "leg": leg.name,
                "height_m": found.height,
                "row": found.words,
                "gross_kg": gross,
                "landings": found.landings,
                "source": found.source,
            }


def _drops(leg: LegResponse) -> Iterator[dict[str, Any]]:
    for fall in leg.falls:
        yield from _fall(leg, fall)


def _fall(leg: LegResponse, fall: Falling) -> Iterator[dict[str, Any]]:
    blind = bool(leg.rigid[0] | leg.uncertain[0])
    drop = fall.flat
    for k, landing in enumerate(fall.landings):
        bottoms = None if blind or np.isnan(drop.bottoms[0, k]) else bool(drop.bottoms[0, k])
        flies = bool(np.isinf(drop.travel[0, k]))
        reached = blind or flies or bottoms is True or bool(fall.may_bottom[0, k])

        def known(value: Any, unknown: bool = blind) -> float | None:
            return None if unknown else plain(value)

        yield {
            "leg": leg.leg.name,
            "kind": fall.kind,
            "landing": landing,
            "group": fall.groups[k] or "faces",
            "condition": CONDITION,
            "height_m": fall.height,
            "peak_g": known(drop.peak[0, k], reached),
            "peak_g_at_least": known(drop.peak[0, k], blind or flies),
            "duration_ms": known(1e3 * drop.duration[0, k], reached),
            "velocity_change_m_s": known(drop.velocity_change[0, k], reached),
            "peak_g_most": known(drop.peak_most[0, k], reached),
            "peak_g_corner_most": known(fall.corner_peak[0, k], reached),
            "peak_g_least": known(fall.peak_least[0, k], reached),
            "in_time": None
            if fall.touch is None
            else _touched(fall.touch, k, blind, bool(fall.may_bottom[0, k]) or flies),
            "travel_mm": known(1e3 * drop.travel[0, k]),
            "travel_mm_most": known(1e3 * drop.travel_most[0, k]),
            "mount_travel_mm_most": known(1e3 * fall.mounts[0, k].max()),
            "mount_force_n": known(drop.mount_force[0, k].max(), reached),
            "mount_forces_n_most": [known(force, reached) for force in fall.mount_force[0, k]],
            "bottoms": bottoms,
            "contact_speed_m_s": known(drop.contact_speed[0, k]),
            "travel_to_bottoming_mm": known(1e3 * drop.bottom[0, k]),
            "bottoming_height_m": known(drop.bottoming_height[0, k]),
            "mount_bottoming_height_m": known(fall.bottoming_height[0, k]),
        }


def _touched(touch: Touchdown, k: int, blind: bool, reached: bool) -> dict[str, Any]:
    """A landing as it happens; its g are unknown once a mount is at metal."""

    def known(value: Any, unknown: bool = blind or reached) -> float | None:
        return None if unknown else plain(value)

    return {
        "peak_g": known(touch.peak[0, k] / G0),
        "corner_peak_g": known(touch.corner[0, k] / G0),
        "peak_g_before_metal": known(touch.before[0, k] / G0, blind),
        "duration_ms": known(1e3 * touch.duration[0, k]),
        "velocity_change_m_s": known(touch.velocity_change[0, k]),
        "metal_m_s": known(touch.metal[0, k], blind),
        "mount_travel_mm": known(1e3 * touch.mounts[0, k].max(), blind),
        "mount_forces_n": [known(force) for force in touch.force[0, k]],
        "floor_m_s": known(touch.struck[0, k], blind),
    }


def _turned(leg: LegResponse) -> Iterator[dict[str, Any]]:
    """Slap-downs and topples: every face with every edge."""
    blind = bool(leg.rigid[0] | leg.uncertain[0])
    for turn in leg.turning:
        bottoms = np.asarray((turn.touch.mounts > leg.limits[:, None]).any(axis=(2, 3)))
        for k, (face, edge) in enumerate(zip(turn.faces, turn.edges, strict=True)):
            yield {
                "leg": leg.leg.name,
                "kind": turn.kind,
                "face": face,
                "edge": edge,
                "height_m": turn.height,
                **_touched(turn.touch, k, blind, bool(bottoms[0, k])),
            }


def _parts(leg: LegResponse) -> Iterator[dict[str, Any]]:
    """Parts that are judged one by one: all axes of the road act, worst of the inertia band."""
    if leg.parts is None:
        return
    for p, (part, floats) in enumerate(leg.parts.parts):
        felt = leg.parts.felt[:, 0, p] / G0
        limit, fragility = (si_or_none(part, n) for n in ("vibration_limit", "fragility"))
        yield {
            "leg": leg.leg.name,
            "part": part.name,
            "kind": part.kind,
            "floats": floats,
            "resonance_hz": si_or_none(part, "resonance"),
            "acceleration_g_rms": plain(felt.max()),
            "acceleration_g_rms_by_reading": {
                reading: plain(level.max()) for reading, level in zip(READINGS, felt, strict=True)
            },
            "acceleration_g_rms_all_axes": plain(np.linalg.norm(felt, axis=-1).max()),
            "vibration_limit_g_rms": None if limit is None else limit / G0,
            "drop_g_most": plain(leg.parts.drop[0, :, p].max() / G0),
            "fragility_g": None if fragility is None else fragility / G0,
        }


def _clearance(assessment: Assessment, frame: str | None) -> Iterator[dict[str, Any]]:
    response = assessment.body(frame)
    stands = response.designs[0].stands_before
    for k, face in enumerate(FACES):
        check = assessment.facing(face, frame)
        yield {
            "face": face,
            "demand_mm": check.demand,
            "gap_mm": check.capacity,
            "touches_an_hour": plain(np.fmax.reduce(response.touches[0, :, k])),
            "status": check.status,
            "by_corner": list(_corners(response, k)),
            **({"stands_before": stands[face]} if face in stands else {}),
        }


def _corners(response: Response, face: int) -> Iterator[dict[str, Any]]:
    """The four corners at a face."""
    demand, cause = by_corner(response, face)
    for corner in np.flatnonzero(OWN[:, face]):
        yield {
            "corner": CORNERS[corner],
            "demand_mm": plain(1e3 * demand[0, corner]),
            "gap_mm": plain(1e3 * response.room.gap[0, corner, face]),
            "by": response.motions[cause[0, corner]].name,
        }


def _obstacles(assessment: Assessment, frame: str | None) -> Iterator[dict[str, Any]]:
    """Obstacles and ribs, by the axis that leaves most."""
    checks = {check.id: check for check in assessment.checks}
    response, start = assessment.body(frame), f"{frame}: " if frame else ""
    shut = obstacles(response)
    for n, name in enumerate(response.room.solids.names):
        check = checks[f"{start}clearance/{name}"]
        yield {
            "name": name,
            "axis": "xyz"[shut.face[0, n] // 2],
            "towards": FACES[shut.face[0, n]],
            "demand_mm": check.demand,
            "gap_mm": check.capacity,
            "by": response.motions[shut.cause[0, n]].name,
            "status": check.status,
        }

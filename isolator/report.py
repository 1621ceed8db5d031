"""The verdict on a page for a person, and as one object for a program."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from textwrap import fill
from typing import Any

import numpy as np
from tabulate import tabulate

from isolator.assessment import Assessment, Change
from isolator.checks.room import by_corner, obstacles
from isolator.design import MAIN, Design, key_of, worst_grade
from isolator.inside import FACES, OWN
from isolator.mount import ROOM_TEMPERATURE
from isolator.payload import CORNERS
from isolator.resonance import READINGS
from isolator.response import POINTS, Falling, LegResponse, Response
from isolator.sources import source
from isolator.suspension import ATTITUDES, Pose, motion_name
from isolator.trip import AXES
from isolator.units import FORCE, G0, HEIGHT, MASS, SIZE, si_array, si_array_or_none, si_or_none
from isolator.verdict import Check, worst
from isolator.vibration import worse_than_bolted

SCHEMA = 1

CONDITION = "as given"

SAME_WALL = 0.01
"""Walls lean and have ribs: two gaps may put one in places that far apart. [m]"""

CAUTION = (
    "An engineering estimate. Earth bonding, mains, lithium cells, lifting, vehicles and aircraft "
    "are the local code's and a qualified person's to decide. Rubber insulates: a tray that was "
    "earthed through its bolts needs a strap. Secure a payload whose fall could hurt someone by "
    "more than rubber."
)

SET_DOWN = (0.02, 0.2)
"""Outside of this nobody sets a case down. [m]"""

MOST_OBSTACLES = 20
"""How many obstacles the page lists."""

LIMITS = (
    "landings on edges and corners, slap-down, what repeated bounces of the shell add; how a loose "
    "case hops; how curves bend within one cycle of vibration; creep and ageing; how exact the "
    "stated stiffness is"
)
"""What no brief can ask for yet; printed on every page."""


def as_data(assessment: Assessment) -> dict[str, Any]:
    """The whole verdict as one JSON-ready object; None where something is unknown.

    Lists hold one row for each combination named in them. ``axis`` of a vibration row is the
    direction of the response, with all given axes of the road acting together. ``frames`` has the
    further bodies that float, by name, with the same keys as the main payload has at the top.
    A row of ``clearance`` with ``stands_before`` is that between two bodies.
    """
    change = assessment.change
    return {
        "schema": SCHEMA,
        "name": assessment.design.name,
        "status": assessment.status,
        "verdict": verdict_sentence(assessment),
        **_body(assessment, None),
        "frames": {
            name: {
                "at_mm": [_plain(1e3 * v) for v in body.designs[0].middle()],
                "on_lid": body.designs[0].on_lid,
                **_body(assessment, name),
            }
            for name, body in assessment.frames.items()
        },
        "checks": [_check(check) for check in assessment.checks],
        "change": None
        if change is None
        else {
            "key": change.key,
            "from": change.before,
            "to": change.after,
            "makes": change.makes,
            "still_failing": change.failing,
        },
        "not_checked": not_checked(assessment),
        "assumed": assessment.assumed(),
        "look_twice": list(_look_twice(assessment)),
    }


def _body(assessment: Assessment, frame: str | None) -> dict[str, Any]:
    """What is told of each body that floats."""
    response = assessment.body(frame)
    payload = response.designs[0].payload
    centre = None if payload.centre is None else payload.centre_of_gravity() * 1e3
    off = si_array_or_none(payload, "centre_within")
    return {
        "payload": {
            "mass_kg": _plain(response.suspension.mass[0]),
            "mass_within_kg": si_or_none(payload, "mass_within"),
            "centre_mm": None if centre is None else [_plain(v) for v in centre],
            "centre_within_mm": None if off is None else [_plain(v) for v in off * 1e3],
        },
        "sag": list(_sag(response)),
        "sheets": list(_sheets(response)),
        "cables": _cables(response),
        "modes": list(_modes(response)),
        "leg_modes": [row for leg in response.legs for row in _leg_modes(leg)],
        "transmissibility": list(_transmissibility(response)),
        "vibration": [row for leg in response.legs for row in _vibration(leg)],
        "sine": [row for leg in response.legs for row in _sine(leg)],
        "heights": list(_heights(response.designs[0])),
        "drops": [row for leg in response.legs for row in _drops(leg)],
        "parts": [row for leg in response.legs for row in _parts(leg)],
        "clearance": list(_clearance(assessment, frame)),
        "clearance_sum": response.designs[0].case.sum,
        "obstacles": list(_obstacles(assessment, frame)),
    }


def _plain(value: Any) -> float | None:
    """A float that JSON can hold, None for unknown or endless."""
    number = float(value)
    return number if math.isfinite(number) else None


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
                "load_n": _plain(response.load[0, a, m]) if held else None,
                "deflection_mm": _plain(1e3 * np.linalg.norm(local)) if held else None,
                "along_mm": _plain(1e3 * local[0]) if held else None,
                "pulled": bool(local[0] < -1e-9) if held else None,
                "seat_shift_n": _plain(response.shift[0][0, a, m]) if held else None,
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
                "over_mount": _plain(response.sheet_ratio[0, m]),
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
        "lowest_hz_without": _plain(before[0]),
        "lowest_hz": _plain(after[0]),
        "lowest_stiffness_added": _plain(added[0]),
        "bounce_hz_without": _plain(before[1]),
        "bounce_hz": _plain(after[1]),
        "bounce_stiffness_added": _plain(added[1]),
    }


def _hangs_on(assessment: Assessment, data: Mapping[str, Any], start: str) -> list[str]:
    """What the mounts of a body hang on and what pulls beside them, where it is given."""
    ids = (f"{start}sheet", f"{start}bending")
    lines = [f"{c.id}: {c.reason}" for c in assessment.checks if c.id in ids]
    if cables := data["cables"]:
        parts = []
        for mode in ("lowest", "bounce"):
            added, before, after = (
                cables[f"{mode}_{key}"] for key in ("stiffness_added", "hz_without", "hz")
            )
            share = "?" if added is None else f"{added:.0%}"
            name = "lowest mode" if mode == "lowest" else "bounce"
            parts.append(f"{share} to the {name}: {_digits(before, 3)} → {_digits(after, 3)} Hz")
        names = ", ".join(cables["names"])
        lines.append(f"{start}cables ({names}) add {', '.join(parts)}, lid up at 23 °C")
    shift = max((row["seat_shift_n"] or 0.0 for row in data["sag"]), default=0.0)
    if shift:
        lines.append(f"{start}a seat out of place shifts up to {FORCE.text(shift)} at one mount")
    return lines


def _modes(response: Response) -> Iterator[dict[str, Any]]:
    frequency, energy = response.suspension.repeated().undamped(response.pose)
    for a, attitude in enumerate(ATTITUDES):
        held = bool(response.pose.found[0, a])
        for k in range(6):
            yield {
                "attitude": attitude,
                "condition": CONDITION,
                "temperature_degC": ROOM_TEMPERATURE,
                "frequency_hz": _plain(frequency[0, a, k]) if held else None,
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
            "frequency_hz": _plain(frequency[0, k]) if known else None,
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
                "peak": _plain(worse.peak[0, p]),
                "peak_hz": _plain(worse.peak_frequency[0, p]),
                "worse_than_bolted_below_hz": _plain(worse.below[0, p]),
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
                    key: None if spectrum is None else _plain(value[0, p, k])
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
                "acceleration_g_peak": _plain(felt[p, which]),
                "direction": AXES[which] if known else None,
                "at_hz": _plain(response.frequency[0, band, p, which]) if known else None,
                "travel_mm_peak": _plain(1e3 * travel[p].max()),
                "too_fast_at_hz": _plain(leg.sine.fast[0]),
            }


def _heights(design: Design) -> Iterator[dict[str, Any]]:
    """The drop heights that come from tables."""
    gross = _plain(design.gross_mass())
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
            return None if unknown else _plain(value)

        yield {
            "leg": leg.leg.name,
            "kind": fall.kind,
            "landing": landing,
            "condition": CONDITION,
            "height_m": fall.height,
            "peak_g": known(drop.peak[0, k], reached),
            "peak_g_at_least": known(drop.peak[0, k], blind or flies),
            "duration_ms": known(1e3 * drop.duration[0, k], reached),
            "velocity_change_m_s": known(drop.velocity_change[0, k], reached),
            "peak_g_most": known(drop.peak_most[0, k], reached),
            "peak_g_corner_most": known(fall.corner_peak[0, k], reached),
            "peak_g_least": known(fall.peak_least[0, k], reached),
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
            "acceleration_g_rms": _plain(felt.max()),
            "acceleration_g_rms_by_reading": {
                reading: _plain(level.max()) for reading, level in zip(READINGS, felt, strict=True)
            },
            "acceleration_g_rms_all_axes": _plain(np.linalg.norm(felt, axis=-1).max()),
            "vibration_limit_g_rms": None if limit is None else limit / G0,
            "drop_g_most": _plain(leg.parts.drop[0, :, p].max() / G0),
            "fragility_g": None if fragility is None else fragility / G0,
        }


def _clearance(assessment: Assessment, frame: str | None) -> Iterator[dict[str, Any]]:
    response = assessment.body(frame)
    stands = response.designs[0].stands_before
    for k, face in enumerate(FACES):
        check = assessment.facing(face, frame)
        shaking = [leg.shaking for leg in response.legs if leg.shaking is not None]
        known = [t for s in shaking if math.isfinite(t := float(s.touches[0, k]))]
        yield {
            "face": face,
            "demand_mm": check.demand,
            "gap_mm": check.capacity,
            "touches_an_hour": max(known) if known else None,
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
            "demand_mm": _plain(1e3 * demand[0, corner]),
            "gap_mm": _plain(1e3 * response.room.gap[0, corner, face]),
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


def _check(check: Check) -> dict[str, Any]:
    return {
        "id": check.id,
        "demand": check.demand,
        "capacity": check.capacity,
        "unit": check.unit,
        "margin": check.margin,
        "status": check.status,
        "reason": check.reason,
        "missing": check.missing or None,
        "source": check.source,
        "grade": check.grade,
        "not_required": check.waived or None,
    }


def _look_twice(assessment: Assessment) -> Iterator[str]:
    """Values that are possible but look like a slip."""
    for n, leg in enumerate(assessment.design.legs, start=1):
        height = si_or_none(leg, "set_down")
        if height is not None and not SET_DOWN[0] <= height <= SET_DOWN[1]:
            yield (
                f"leg[{n}].set_down = {HEIGHT.text(height)}: setting a case down is 50 to 100 mm "
                "every day; a fall goes under drop"
            )
    seen = set()
    for response in assessment.bodies().values():
        if not response.pose.found[0, 0]:
            continue
        load, sag = response.load[0, 0], np.linalg.norm(response.deflection[0, 0], axis=-1)
        for place, force, way in zip(response.designs[0].places, load, sag, strict=True):
            name = place.mount.name
            if name in seen or force <= 0 or 1e-4 <= way <= 0.05:
                continue
            seen.add(name)
            slip = "N/m written as N/mm?" if way < 1e-4 else "N/mm written as N/m?"
            yield (
                f"mount.{name}: under {FORCE.text(force)} it gives {SIZE.text(max(way, 1e-9))}, "
                f"{'hardly at all' if way < 1e-4 else 'very far'} for a mount: {slip}"
            )
    for name, frame in assessment.frames.items():
        yield from _walls(name, assessment.design, frame.designs[0])


def _walls(name: str, main: Design, other: Design) -> Iterator[str]:
    """Walls that the gaps of two bodies put in two places: one of the lengths may be a slip."""
    half = [si_array(design.payload, "size") / 2 for design in (main, other)]
    for k, face in enumerate(FACES):
        axis, sense = k // 2, 2 * (k % 2) - 1
        here = half[0][axis] + main.case.by_face()[k]
        there = sense * other.middle()[axis] + half[1][axis] + other.case.by_face()[k]
        if abs(there - here) > SAME_WALL:
            key = key_of(name, f"case.{face.replace(' ', '_')}")
            yield (
                f"{key} puts the wall {SIZE.text(abs(there - here))} "
                f"{'further out' if there > here else 'further in'} than the payload's own gap "
                f"does: is frame.{name}.at from middle to middle, with its signs, and each gap "
                "to the wall itself?"
            )


def verdict_sentence(assessment: Assessment) -> str:
    """The verdict as a sentence."""
    required = [check for check in assessment.checks if not check.waived]
    failing = [check for check in required if check.status == "fail"]
    open_checks = [check for check in required if check.status == "incomplete"]
    if assessment.status == "pass":
        return f"PASS: all {len(required)} required checks hold."
    if assessment.status == "incomplete":
        return (
            f"INCOMPLETE: nothing that was checked fails, but {len(open_checks)} of "
            f"{len(required)} required checks lack an input."
        )
    first = worst(assessment.checks, 1)[0]
    more = f", and {len(failing) - 1} more of" if len(failing) > 1 else ": one of"
    return f"FAIL: {_title(first)} fails{more} {len(required)} required checks."


def change_sentence(change: Change | None) -> str:
    """What the one change does."""
    if change is None:
        return "No change of a single value that was tried helps."
    what = f"Change {change.key} from {change.before!r} to {change.after!r}"
    if change.key.endswith((".along", ".across")):
        what += " (a mount of that stiffness with the same ratings and travel)"
    if change.makes == "pass":
        return f"{what}: then everything passes."
    if change.makes == "incomplete":
        return f"{what}: then nothing that is checked fails."
    still = "1 check still fails" if change.failing == 1 else f"{change.failing} checks still fail"
    return f"{what}: then {still}."


def not_checked(assessment: Assessment) -> list[str]:
    """Everything that stayed open, with the missing input named; alike ones in one line."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for check in assessment.checks:
        head, *rest = check.id.split("/")
        if check.waived:
            groups.setdefault((head, f"not required, {check.waived}"), []).append(", ".join(rest))
        elif check.status == "incomplete":
            need = f" (needs {check.missing})" if check.missing else ""
            why = check.reason.rpartition("; ")[2]
            groups.setdefault((head, f"{why}{need}"), []).append(", ".join(rest))
    return [
        f"{head}{' (' + '; '.join(where) + ')' if any(where) else ''}: {why}"
        for (head, why), where in groups.items()
    ]


def _title(check: Check) -> str:
    head, *rest = check.id.split("/")
    return f"{head} ({', '.join(rest)})" if rest else head


def page(assessment: Assessment) -> str:
    """The page that `isolator assess` prints."""
    data = as_data(assessment)
    name = data["name"] or "A case without a name"
    open_lines = not_checked(assessment)
    blocking = next(
        (c for c in assessment.checks if c.status == "incomplete" and not c.waived and c.missing),
        None,
    )
    blocks = [name, verdict_sentence(assessment)]
    blocks.append(
        _list(
            "Three worst checks",
            [f"{_mark(c)} {_title(c)}: {c.reason}{_margin(c)}" for c in worst(assessment.checks)],
        )
    )
    if assessment.status == "fail" and assessment.brief is not None:
        blocks.append(_list("What helps most", [change_sentence(assessment.change)]))
    if blocking is not None:
        blocks.append(
            _list(
                "What is missing most",
                [f"{blocking.missing}, for {_title(blocking)}: {blocking.reason}"],
            )
        )
    blocks.append(_list("Not checked", [*_short(open_lines), f"never checked yet: {LIMITS}"]))
    hanging = _hangs_on(assessment, data, "")
    for frame, own in data["frames"].items():
        hanging += _hangs_on(assessment, own, f"{frame}: ")
    if hanging:
        blocks.append(_list("What it hangs on", hanging))
    blocks += _tables(assessment, data)
    if data["look_twice"]:
        blocks.append(_list("Look twice", data["look_twice"]))
    if data["assumed"]:
        blocks.append(_list("Assumed", data["assumed"]))
    blocks.append(fill(CAUTION, 98))
    return "\n\n".join(blocks)


def _mark(check: Check) -> str:
    return {"pass": "holds", "fail": "FAILS", "incomplete": "open "}[check.status]


def _margin(check: Check) -> str:
    if check.margin is None:
        return ""
    return f" [{check.margin:.0%} left]" if check.margin >= 0 else f" [{-check.margin:.0%} over]"


def _short(lines: Sequence[str], most: int = 8) -> list[str]:
    if len(lines) <= most:
        return list(lines)
    return [*lines[:most], f"and {len(lines) - most} more, see the table of checks"]


def _list(title: str, lines: Sequence[str]) -> str:
    return "\n".join(
        [title, *(fill(x, 98, initial_indent="  - ", subsequent_indent="    ") for x in lines)]
    )


def _tables(assessment: Assessment, data: Mapping[str, Any]) -> Iterator[str]:
    yield "Axes: x along the case, y across, z up with the lid up; corners by the signs of x, y, z."
    bodies = assessment.bodies().values()
    grade = worst_grade([body.designs[0].grade() for body in bodies]) or "not stated"
    yield _table(
        f"Checks (worst grade of the mounts: {grade})",
        ["", "check", "demand", "capacity", "unit", "left"],
        [
            [
                "not asked" if c.waived else c.status,
                _title(c),
                _digits(c.demand),
                _digits(c.capacity),
                c.unit,
                "" if c.margin is None else f"{c.margin:.0%}",
            ]
            for c in _most(assessment)
        ],
    )
    shown = {check.id for check in _most(assessment)}
    yield from _body_tables(assessment.response, data, "", shown)
    for name, frame in assessment.frames.items():
        yield from _body_tables(frame, data["frames"][name], f"{name}: ", shown)


def _body_tables(
    response: Response, data: Mapping[str, Any], start: str, shown: set[str]
) -> Iterator[str]:
    """The tables of one body; `start` stands before titles, `shown` has ids of the checks shown."""
    names = response.designs[0].mount_names()
    by = {(r["attitude"], r["mount"]): r for r in data["sag"]}
    yield _table(
        f"{start}Load [N] and deflection [mm] of each mount at rest (p: pulled)",
        ["attitude", *names],
        [
            [
                attitude,
                *(
                    f"{_digits(by[attitude, n]['load_n'], 3)} / "
                    f"{_digits(by[attitude, n]['deflection_mm'], 3)}"
                    f"{' p' if by[attitude, n]['pulled'] else ''}"
                    for n in names
                ),
            ]
            for attitude in ATTITUDES
        ],
    )
    modes = [row for row in data["modes"] if row["attitude"] == "lid up"]
    legs = [leg.leg.name for leg in response.legs]
    on = {leg: [row for row in data["leg_modes"] if row["leg"] == leg] for leg in legs}
    yield _table(
        f"{start}Modes [Hz]",
        ["lid up, 23 °C", "what moves", *legs],
        [
            [
                _digits(row["frequency_hz"]),
                row["name"],
                *(_digits(on[leg][k]["frequency_hz"]) for leg in legs),
            ]
            for k, row in enumerate(modes)
        ],
    )
    if data["transmissibility"]:
        lines = []
        for axis in AXES:
            here = [row for row in data["transmissibility"] if row["axis"] == axis]
            far = max(here, key=lambda row: row["worse_than_bolted_below_hz"])
            lines.append(
                [
                    axis,
                    f"{_digits(here[0]['peak'], 3)} at {_digits(here[0]['peak_hz'], 3)} Hz",
                    _digits(here[0]["worse_than_bolted_below_hz"], 3),
                    f"{_digits(far['worse_than_bolted_below_hz'], 3)} ({far['point']})",
                ]
            )
        yield _table(
            f"{start}Worse than bolting it down below [Hz], lid up, 23 °C",
            ["axis", "peak at the centre", "the centre", "worst corner"],
            lines,
        )
    yield from _vibration_table(data["vibration"], start)
    yield from _sine_table(data["sine"], start)
    if data["parts"]:
        yield _table(
            f"{start}Parts: rms along the worst axis, of itself or of its feet if it has no "
            "resonance",
            ["leg", "part", "", "own Hz", "feels g rms", "of", "drop g, most", "of"],
            [
                [
                    row["leg"],
                    row["part"],
                    "floats" if row["floats"] else "fixed in the case",
                    "" if row["resonance_hz"] is None else _digits(row["resonance_hz"], 3),
                    _digits(row["acceleration_g_rms"], 3),
                    _digits(row["vibration_limit_g_rms"], 3),
                    _digits(row["drop_g_most"], 3),
                    _digits(row["fragility_g"], 3),
                ]
                for row in data["parts"]
            ],
        )
    if data["heights"] and not start:
        yield _list(
            "Drop heights looked up",
            [
                f"{row['leg']}: {row['row']} ({source(row['source']).title}); payload and case "
                f"weigh {MASS.text(row['gross_kg'])}"
                for row in data["heights"]
            ],
        )
    if data["drops"]:
        # Where the shell is light beside the payload, the other bound stands beside the first.
        light = any(row["peak_g_least"] is not None for row in data["drops"])
        yield _table(
            f"{start}Drops: centre with mounts at rest before it lands; "
            "most: with the ring of the fall"
            + ("; light: one contact of the light shell" if light else ""),
            [
                *("leg", "landing", "from m", *(["light g"] if light else []), "peak g", "most"),
                "ms",
                *("travel mm", "mount mm", "may bottom from about m"),
            ],
            [
                [
                    row["leg"],
                    row["landing"] + ("" if row["kind"] == "drop" else f" ({row['kind']})"),
                    _digits(row["height_m"], 3),
                    *([_digits(row["peak_g_least"], 3)] if light else []),
                    _digits(row["peak_g"], 3),
                    _digits(row["peak_g_most"], 3),
                    _digits(row["duration_ms"], 3),
                    _digits(row["travel_mm"], 3),
                    _digits(row["mount_travel_mm_most"], 3),
                    _digits(row["mount_bottoming_height_m"], 3),
                ]
                for row in data["drops"]
            ],
        )
    how = "" if data["clearance_sum"] == "worst case" else ", sag and tilt in full"
    yield _table(
        f"{start}Room inside, summed as {data['clearance_sum']}{how}",
        ["face", "moves mm", "gap mm"],
        [
            [_wall(row), _digits(row["demand_mm"], 3), _digits(row["gap_mm"], 3)]
            for row in data["clearance"]
        ],
    )
    if data["obstacles"]:
        near = [row for row in data["obstacles"] if f"{start}clearance/{row['name']}" in shown]
        more = len(data["obstacles"]) - len(near)
        yield _table(
            f"{start}Obstacles"
            + (f" (the nearest; {more} more in the JSON object)" if more > 0 else ""),
            ["name", "leaves most along", "moves mm", "gap mm"],
            [
                [
                    row["name"],
                    f"{row['axis']}, {row['towards']}",
                    _digits(row["demand_mm"], 3),
                    _digits(row["gap_mm"], 3),
                ]
                for row in near
            ],
        )


def _most(assessment: Assessment) -> Sequence[Check]:
    """The checks without those of obstacles that hold by more than the nearest ones."""
    names = {
        f"{'' if body == MAIN else f'{body}: '}clearance/{name}"
        for body, response in assessment.bodies().items()
        for name in response.room.solids.names
    }
    rank = {"fail": 0, "incomplete": 1, "pass": 2}

    def key(check: Check) -> tuple[int, float]:
        left = -math.inf if check.margin is None else check.margin
        return rank[check.status], left

    near = sorted((c for c in assessment.checks if c.id in names), key=key)[:MOST_OBSTACLES]
    shown = {check.id for check in near}
    return [c for c in assessment.checks if c.id not in names or c.id in shown]


def _wall(row: Mapping[str, Any]) -> str:
    """A face, and which body stands before its wall: both then move, and the gap is to it."""
    other = row.get("stands_before")
    return f"{row['face']}, to {other}" if other else str(row["face"])


def _vibration_table(rows: Sequence[Mapping[str, Any]], start: str) -> Iterator[str]:
    """One line for each leg and axis: the centre and the worst corner."""
    lines = []
    for leg in dict.fromkeys(row["leg"] for row in rows):
        for axis in AXES:
            here = [row for row in rows if row["leg"] == leg and row["axis"] == axis]
            top = max(here, key=lambda r: r["acceleration_g_rms"] or 0.0)
            far = max(here, key=lambda r: r["travel_mm_rms"] or 0.0)
            lines.append(
                [
                    leg,
                    axis,
                    _digits(here[0]["bolted_g_rms"], 3),
                    _digits(here[0]["acceleration_g_rms"], 3),
                    f"{_digits(top['acceleration_g_rms'], 3)} ({top['point']})",
                    _digits(far["travel_mm_rms"], 3),
                    _digits(far["travel_mm_peak"], 3),
                ]
            )
    if lines:
        yield _table(
            f"{start}Vibration, all axes of the road together",
            ["leg", "axis", "bolted g rms", "centre g rms", "worst g rms", "travel mm rms", "peak"],
            lines,
        )


def _sine_table(rows: Sequence[Mapping[str, Any]], start: str) -> Iterator[str]:
    """One line for each leg and axis: the centre and the worst corner."""
    lines = []
    for leg, way in dict.fromkeys((row["leg"], row["way"]) for row in rows):
        here = [row for row in rows if (row["leg"], row["way"]) == (leg, way)]
        top = max(here, key=lambda r: r["acceleration_g_peak"] or 0.0)
        far = max(here, key=lambda r: r["travel_mm_peak"] or 0.0)
        lines.append(
            [
                leg,
                f"{way} ({top['axis']})",
                *(
                    f"{_digits(row['acceleration_g_peak'], 3)} at {_digits(row['at_hz'], 3)}"
                    for row in (here[0], top)
                ),
                top["point"],
                _digits(far["travel_mm_peak"], 3),
            ]
        )
    if lines:
        yield _table(
            f"{start}Sine, one axis of the road after the other, steady state",
            ["leg", "shaken", "centre g peak at Hz", "worst", "point", "travel mm peak"],
            lines,
        )


def _table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    body = tabulate(rows, headers=head, tablefmt="simple", disable_numparse=True)
    return f"{title}\n" + "\n".join(f"  {line}".rstrip() for line in body.splitlines())


def _digits(value: float | None, count: int = 4) -> str:
    """At most `count` significant digits without an exponent; ? if unknown."""
    if value is None:
        return "?"
    if value == 0:
        return "0"
    places = max(0, count - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(places, 9)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

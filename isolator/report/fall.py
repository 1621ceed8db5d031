"""The page of the falls of one leg, and its numbers as data."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import Any

import numpy as np

from isolator.report.data import check_row
from isolator.report.paper import CAUTION, bullets, digits, table
from isolator.report.rows import plain
from isolator.survive import Line, Survival
from isolator.units import ACCELERATION, ANGLE, G0, FloatArray
from isolator.verdict import Status, whole, worst

LIMITS = (
    "the floor is rigid and the case neither slides nor bends: a floor or shell that gives makes "
    "the pulse longer and the peak of stiff mounts lower (case.stopping_time)",
    "the tray is rigid: its first bending should be at least three times the bounce on the mounts "
    "(payload.bending, and the check of that name)",
    "a slap-down turns about an edge that neither slides nor jumps; an edge that slides lets the "
    "far side come down faster, 1.44 in the place of 1.29 times the fall for a flat uniform box",
    "tables and curves are of the payload as stated, on its nominal inertia, at four phases of the "
    "ring; the checks have bands, ends of the inertia and eight phases",
)
"""What the motion leaves out; printed on the page."""


def survival_status(found: Survival) -> Status:
    """What the checks on the falls of a leg come to."""
    return whole(found.checks)


def fall_page(found: Survival) -> str:
    """The page that `isolator drop` prints."""
    name = found.design.name or "A case without a name"
    blocks = [f"{name}: falls on {found.leg.name}"]
    blocks += [fill(line, 98) for line in _first(found)]
    blocks.append(_judged(found))
    blocks.append(_kinds(found))
    blocks.append(_over_heights(found))
    if found.protection:
        blocks.append(_foam(found))
    blocks.append(bullets("Damping in time", [_damping(found)]))
    blocks.append(bullets("Limits of this page", LIMITS))
    blocks.append(fill(CAUTION, 98))
    return "\n\n".join(blocks)


def fall_data(found: Survival) -> dict[str, Any]:
    """The same as data, in the units of the page; None where something is unknown."""

    def row(values: FloatArray, scale: float) -> list[float | None]:
        return [plain(scale * value) for value in values]

    return {
        "name": found.design.name,
        "leg": found.leg.name,
        "status": survival_status(found),
        "checks": [check_row(check) for check in found.checks],
        "height_m": found.height,
        "fragility_g": plain(1 / G0 * found.fragility),
        "least_travel_of_a_mount_mm": plain(1e3 * found.stroke),
        "travel_needed_mm": {
            "by a spring": plain(1e3 * found.spring),
            "by anything": plain(1e3 * found.ideal),
        },
        "foam_needed_mm": dict(
            zip(("at best", "linear"), row(np.array(found.foam), 1e3), strict=True)
        ),
        "flat_estimate_by_energy_g": row(found.energy, 1 / G0),
        "heights_m": found.heights.tolist(),
        "landings": {
            line.name: {
                "worst": line.worst,
                "peak_g": row(line.peak, 1 / G0),
                "corner_peak_g": row(line.corner, 1 / G0),
                "mount_travel_mm": row(line.travel, 1e3),
                "travel_used": row(line.used, 1.0),
                "bottoms_from_m": plain(line.bottoms),
                "breaks_from_m": plain(line.breaks),
            }
            for line in found.lines
        },
        "damping": {
            way: {"peak_g": plain(peak / G0), "mount_travel_mm": plain(1e3 * travel)}
            for way, (peak, travel) in found.damping.items()
        },
        "protection": {
            one.name: {
                "face": one.face,
                "peak_g": plain(one.peak / G0),
                "mount_travel_mm": plain(1e3 * one.travel),
                "travel_used": plain(one.used),
            }
            for one in found.protection
        },
        "limits": list(LIMITS),
    }


def _first(found: Survival) -> Iterator[str]:
    """What to know before anything else."""
    height = _m(found.height)
    survives = ACCELERATION.text(found.fragility)
    if found.hopeless:
        best, ordinary = found.foam
        yield (
            f"Rubber alone cannot do it: the mounts have {_mm(found.stroke)} of travel, and "
            f"to keep {survives} in a fall from {height} takes {_mm(found.spring)} on a "
            f"spring and {_mm(found.ideal)} on anything. Give the mounts that travel, or put "
            f"foam outside: {_mm(best)} thick at the very best, about "
            f"{_mm(ordinary)} as it is sold."
        )
    elif found.stroke < found.spring:
        yield (
            f"Rubber alone hardly does it: the mounts have {_mm(found.stroke)} of travel, "
            f"and to keep {survives} in a fall from {height} a spring takes "
            f"{_mm(found.spring)}; only what damps much can do with less, down to "
            f"{_mm(found.ideal)}."
        )
    elif not np.isnan(found.stroke) and np.isnan(found.fragility):
        least = 2 * found.height / found.stroke
        yield (
            f"What the payload survives is not known. A fall from {height} that "
            f"{_mm(found.stroke)} of travel catch costs {least:.3g} g on a spring and "
            f"{least / 2:.3g} g on anything: it has to survive what follows."
        )
    falls = [line for line in found.lines if line.bottoms <= found.height]
    breaks = [line for line in found.lines if line.breaks <= found.height]
    if falls:
        names = ", ".join(f"{line.name} from {_m(line.bottoms)}" for line in falls)
        yield f"A mount bottoms before {height}: {names} on."
    if breaks:
        names = ", ".join(f"{line.name} from {_m(line.breaks)}" for line in breaks)
        yield f"The payload feels more than {survives}: {names} on."
    flies = list(dict.fromkeys(name for line in found.lines for name in line.flies))
    if flies:
        yield (
            f"Nothing holds the payload in these landings, it flies off its mounts or springs back "
            f"off them: {'; '.join(flies[:6])}{'; and more' if len(flies) > 6 else ''}."
        )
    (_, travel), (_, other) = found.damping["viscous"], found.damping["relaxation"]
    if travel <= found.stroke < other:
        yield (
            f"With the other kind of damping a mount goes {_mm(other)} flat, of "
            f"{_mm(found.stroke)}: it may bottom; see below."
        )
    unknown = any(np.isnan(line.used[found.at]) for line in found.lines)
    if unknown:
        yield (
            "How far the mounts may go is not known (mount.NAME.travel, travel_across, captive): "
            "whether one bottoms stays open."
        )
    if not falls and not breaks and not flies and not unknown:
        corner = max(line.corner[found.at] for line in found.lines)
        failing = sum(check.status == "fail" and not check.waived for check in found.checks)
        some = "1 check fails" if failing == 1 else f"{failing} checks fail"
        off = f" With all that may be off {some}, see below." if failing else ""
        yield (
            f"As stated nothing bottoms from {height}, and the centre stays below {survives}; the "
            f"worst corner feels {_g(corner)}.{off}"
        )
    slap = found.line("slap-down")
    flat = found.line("flat")
    if slap is not None and flat is not None:
        yield _missed(found, flat, slap)
    elif slap is None:
        yield (
            "Edges, corners and slap-downs were not looked at: how large the case is outside is "
            "not known (case.size)."
        )


def _missed(found: Survival, flat: Line, slap: Line) -> str:
    """What a slap-down does that a flat estimate does not see."""
    known = ~(np.isnan(slap.corner) | np.isnan(flat.corner))
    if not known[found.at] and not known.any():
        return "At no height of the curve is what a slap-down does known before a mount bottoms."
    k = found.at if known[found.at] else int(np.flatnonzero(known)[-1])
    where = _m(found.heights[k])
    why = "" if k == found.at else ", the highest of the table at which nothing bottoms"
    if not np.isfinite(found.energy[k]):
        return "A flat estimate by energy has no number here: it takes a mount to its limit."
    ratio, further = slap.corner[k] / found.energy[k], slap.travel[k] / flat.travel[k]
    start = "What a flat estimate misses" if ratio > 1 else "The flat estimate covers a slap-down"
    return (
        f"{start}: from {where}{why}, energy says {_g(found.energy[k])}. Flat, "
        f"the worst corner of the payload feels {_g(flat.corner[k])}; slapped down from "
        f"{ANGLE.text(found.tilt)} off flat ({slap.worst}) {_g(slap.corner[k])}, {ratio:.3g} "
        f"times the estimate, and a mount moves {_mm(slap.travel[k])}, {further:.3g} times "
        "as far as flat."
    )


def _judged(found: Survival) -> str:
    """What the checks say: the worst that fail with their reasons, the others by name."""
    required = [check for check in found.checks if not check.waived]
    failing = [check for check in required if check.status == "fail"]
    first = worst(failing)
    lines = [f"fails: {c.id}: {c.reason}" + (f" ({c.where})" if c.where else "") for c in first]
    if more := [c.id for c in failing if c not in first]:
        lines.append(f"{len(more)} more fail: {'; '.join(more)}")
    lacking: dict[str, list[str]] = {}
    for check in required:
        if check.status == "incomplete":
            lacking.setdefault(check.missing, []).append(check.id)
    for key, ids in lacking.items():
        why = f"without {key}" if key else "for reasons that isolator assess gives"
        lines.append(f"{len(ids)} stay open {why}: {'; '.join(ids)}")
    held = sum(check.status == "pass" for check in required)
    lines.append(f"{held} of {len(required)} required checks on these falls hold")
    lines += [f"not required: {c.id} ({c.waived})" for c in found.checks if c.waived]
    return bullets("Judged, as isolator assess does, with all that may be off", lines)


def _mm(value: float) -> str:
    return "an unknown way" if np.isnan(value) else f"{1e3 * value:.3g} mm"


def _m(value: float) -> str:
    return f"{value:.3g} m"


def _g(value: float) -> str:
    return "unknown g" if np.isnan(value) else f"{value / G0:.3g} g"


def _kinds(found: Survival) -> str:
    k = found.at
    return table(
        f"Landings from {_m(found.height)}, the worst of each kind",
        [
            *("kind", "centre [g]", "worst corner [g]", "mount moves [mm]", "of its travel"),
            *("bottoms from [m]", "exceeds rating from [m]", "worst landing"),
        ],
        [
            [
                line.name,
                digits(plain(line.peak[k] / G0), 3),
                digits(plain(line.corner[k] / G0), 3),
                digits(plain(1e3 * line.travel[k]), 3),
                "?" if np.isnan(line.used[k]) else f"{line.used[k]:.0%}",
                _from(line.bottoms, found),
                _from(line.breaks, found, line.bottoms),
                line.worst,
            ]
            for line in found.lines
        ],
    )


def _from(height: float, found: Survival, bottoms: float = np.nan) -> str:
    if np.isnan(height):
        return "not known" if np.isnan(bottoms) else "bottoms first"
    if np.isinf(height):
        return f"above {digits(float(found.heights[-1]), 3)}"
    return digits(plain(height), 3)


def _over_heights(found: Survival) -> str:
    head = ["from [m]"]
    for line in found.lines:
        head += [f"{line.name} [g]", f"{line.name} [mm]"]
    rows = []
    for k, height in enumerate(found.heights):
        row = [digits(float(height), 3)]
        for line in found.lines:
            row += [digits(plain(line.corner[k] / G0), 3)]
            row += [digits(plain(1e3 * line.travel[k]), 3) + "*" * bool(line.used[k] > 1)]
        rows.append(row)
    title = "Over the height: worst corner, and the most that a mount moves (*: it bottoms)"
    return table(title, head, rows)


def _foam(found: Survival) -> str:
    cushion = found.design.case.cushion
    name = cushion.name if cushion is not None else ""
    text = table(
        f"Mounts and foam ({name}) from {_m(found.height)}, {found.protection[0].face}",
        ["on", "centre [g]", "mount moves [mm]", "of its travel"],
        [
            [
                one.name,
                digits(plain(one.peak / G0), 3),
                digits(plain(1e3 * one.travel), 3),
                "?" if np.isnan(one.used) else f"{one.used:.0%}",
            ]
            for one in found.protection
        ],
    )
    alone = {one.name: one.peak for one in found.protection}
    if alone["both"] > alone["foam only"]:
        text += (
            "\n  The mounts make it worse than the foam alone: both move at once, and the one "
            "drives the other."
        )
    return text


def _damping(found: Survival) -> str:
    (peak, travel), (other, way) = found.damping["viscous"], found.damping["relaxation"]
    return (
        "each mount has a dashpot that loses what its loss factor says at the mode that dominates: "
        f"{_g(peak)} and {_mm(travel)} on the worst flat face; a relaxation element that "
        f"loses as much there gives {_g(other)} and {_mm(way)}"
        + ("; where a mount bottoms its curve goes on" if travel > found.stroke else "")
    )

"""The verdict on a page for a person."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from textwrap import fill
from typing import Any, NamedTuple

from tabulate import tabulate

from isolator.assessment import Assessment
from isolator.cautions import cautions, foremost
from isolator.design import MAIN, worst_grade
from isolator.report.data import as_data
from isolator.report.words import (
    basis_sentence,
    caution_sentence,
    change_sentence,
    check_title,
    leverage_sentence,
    not_checked,
    verdict_sentence,
)
from isolator.response import Response
from isolator.sources import source
from isolator.suspension import ATTITUDES
from isolator.trip import AXES
from isolator.units import FORCE, MASS
from isolator.verdict import Check, worst

CAUTION = (
    "An engineering estimate. Earth bonding, mains, lithium cells, lifting, vehicles and aircraft "
    "are the local code's and a qualified person's to decide. Rubber insulates: a tray that was "
    "earthed through its bolts needs a strap. Secure a payload whose fall could hurt someone by "
    "more than rubber."
)


MOST_OBSTACLES = 20
"""How many obstacles the page lists."""


LIMITS = (
    "an edge that slides on the floor, a floor or shell that gives (but for case.stopping_time and "
    "case.cushion); how curves bend within one cycle of vibration"
)
"""What no brief can ask for yet; printed on every page."""


BANDED = ("along_n_mm", "across_n_mm", "dynamic_ratio", "loss_factor")
"""What of a mount is told as a band."""


IN_TIME = (
    "centre [g]",
    "worst corner [g]",
    "lasts [ms]",
    "velocity change [m/s]",
)
"""What is told of a landing as it happens."""

NARROWEST = 10
"""A heading is folded to the cells below it, and to no less than so many letters."""


AXES_ARE = (
    "Axes: x along the case, y across, z up with the lid up; corners by the signs of x, y, z."
)


class Grid(NamedTuple):
    """A table as it is shown, cells as text."""

    title: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]


class Listing(NamedTuple):
    """Sentences under a title."""

    title: str
    lines: Sequence[str]


class Ticks(NamedTuple):
    """Sentences under a title, each with a box to tick."""

    title: str
    lines: Sequence[str]


def page(assessment: Assessment) -> str:
    """The page that `isolator assess` prints."""
    data = as_data(assessment)
    blocks = [title(assessment), verdict_sentence(assessment)]
    blocks += map(_printed, opening(assessment))
    if hanging := hangs_on(assessment, data):
        blocks.append(bullets("What it hangs on", hanging))
    blocks.append(AXES_ARE)
    blocks.append(table(*_checks(assessment)))
    blocks += map(_printed, conditions(data))
    shown = {check.id for check in _most(assessment)}
    for body, name, start in bodies(assessment, data):
        for part in (at_rest, shaken, fallen):
            blocks += map(_printed, part(body, name, start))
        blocks += map(_printed, room_inside(name, start, shown))
    if data["look_twice"]:
        blocks.append(bullets("Look twice", data["look_twice"]))
    if data["assumed"]:
        blocks.append(bullets("Assumed", data["assumed"]))
    if told := caution_lines(assessment):
        blocks.append(bullets("Cautions, the gravest first", told))
    blocks.append(fill(CAUTION, 98))
    return "\n\n".join(blocks)


def title(assessment: Assessment) -> str:
    """What the page is called."""
    return assessment.design.name or "A case without a name"


def opening(assessment: Assessment) -> Iterator[Listing]:
    """What a page opens with, after the verdict."""
    three = [_of_worst(check) for check in worst(assessment.checks)]
    yield Listing("Three worst checks, of different kinds before alike", three)
    if assessment.status == "fail" and assessment.brief is not None:
        yield Listing("What helps most", [change_sentence(assessment.change)])
    yield Listing("What to measure first", list(_measured_first(assessment)))
    open_lines = _short(not_checked(assessment))
    yield Listing("Not checked", [*open_lines, f"in no case yet: {LIMITS}"])


def _measured_first(assessment: Assessment) -> Iterator[str]:
    """What is missing most, then what moves the answer most; at the least what it all rests on."""
    blocking = next(
        (c for c in assessment.checks if c.status == "incomplete" and not c.waived and c.missing),
        None,
    )
    if blocking is not None:
        yield f"missing: {blocking.missing}, for {check_title(blocking)}: {blocking.reason}"
    yield from (
        leverage_sentence(one, several=bool(assessment.frames)) for one in assessment.leverages[:3]
    )
    if blocking is None and not assessment.leverages:
        yield basis_sentence(assessment)


def caution_lines(assessment: Assessment) -> list[str]:
    """The gravest cautions with what to do, and the names of all others in one line."""
    worst_of, rest = foremost(cautions(assessment))
    named = [f"also, in the JSON object: {'; '.join(rest)}"] if rest else []
    return [*map(caution_sentence, worst_of), *named]


def hangs_on(assessment: Assessment, data: Mapping[str, Any]) -> list[str]:
    """What the mounts of all bodies hang on and what pulls beside them."""
    lines = _hangs_on(assessment, data, "")
    for frame, own in data["frames"].items():
        lines += _hangs_on(assessment, own, f"{frame}: ")
    return lines


def bodies(
    assessment: Assessment, data: Mapping[str, Any]
) -> Iterator[tuple[Response, Mapping[str, Any], str]]:
    """Each body with its rows, and what stands before its titles."""
    yield assessment.response, data, ""
    for name, frame in assessment.frames.items():
        yield frame, data["frames"][name], f"{name}: "


def _printed(block: Grid | Listing) -> str:
    return table(*block) if isinstance(block, Grid) else bullets(*block)


def _of_worst(check: Check) -> str:
    return f"{_mark(check)} {check_title(check)}: {check.reason}{_where(check)}{_margin(check)}"


def _mark(check: Check) -> str:
    return {"pass": "holds", "fail": "FAILS", "incomplete": "open "}[check.status]


def _where(check: Check) -> str:
    return f" ({check.where})" if check.where else ""


def _margin(check: Check) -> str:
    if check.margin is None:
        return ""
    return f" [{check.margin:.0%} left]" if check.margin >= 0 else f" [{-check.margin:.0%} over]"


def _short(lines: Sequence[str], most: int = 8) -> list[str]:
    if len(lines) <= most:
        return list(lines)
    return [*lines[:most], f"and {len(lines) - most} more, see the table of checks"]


KEY = re.compile(r"""\w[\w\]]*(?:\.(?:"[^"\n]*"|'[^'\n]*'|[\w-]+))+""")
"""A key of a brief; a name in quotes may hold spaces."""

HELD, FREE = str.maketrans(" -", "\u00a0\u2011"), str.maketrans("\u00a0\u2011", " -")
"""What may end a line, and what stands for it where it must not; and back."""


def bullets(title: str, lines: Sequence[str]) -> str:
    """Lines under a title, folded, but no key of a brief: it can be copied as it stands."""
    return "\n".join([title, *map(_bullet, lines)])


def _bullet(line: str) -> str:
    held = KEY.sub(lambda key: key[0].translate(HELD), line)
    text = fill(held, 98, initial_indent="  - ", subsequent_indent="    ")
    return text.translate(FREE)


def grade_words(assessment: Assessment) -> str:
    """The worst grade of the mounts of all bodies."""
    grades = [body.designs[0].grade() for body in assessment.bodies().values()]
    return worst_grade(grades) or "not stated"


def check_cells(check: Check) -> list[str]:
    """Demand, capacity, unit and what is left of a check."""
    numbers = [
        "" if check.status == "pass" and x is None else digits(x)
        for x in (check.demand, check.capacity)
    ]
    return [*numbers, check.unit or "-", "" if check.margin is None else f"{check.margin:.0%}"]


def status_word(check: Check) -> str:
    """How a check ended, in a table."""
    return "not asked" if check.waived else check.status


def _checks(assessment: Assessment) -> Grid:
    return Grid(
        f"Checks (worst grade of the mounts: {grade_words(assessment)})",
        ["result", "check", "demand", "capacity", "unit", "left"],
        [[status_word(c), check_title(c), *check_cells(c)] for c in _most(assessment)],
    )


def conditions(data: Mapping[str, Any]) -> Iterator[Grid]:
    """The strip of conditions, if any is asked."""
    if data["conditions"]:
        yield Grid(
            "Conditions: modes on all legs, lowest / first leg as stated / highest",
            [
                "condition",
                "result",
                "lowest mode [Hz]",
                "bounce [Hz]",
                "gap left [mm]",
                "worst check",
            ],
            [
                [
                    row["name"],
                    row["status"],
                    _range(row["main_modes_hz"]["lowest"]),
                    _range(row["main_modes_hz"]["bounce"]),
                    "?" if row["gap_left_mm"] is None else digits(row["gap_left_mm"], 3),
                    row["worst"] or "",
                ]
                for row in data["conditions"]
            ],
        )


def at_rest(response: Response, data: Mapping[str, Any], start: str) -> Iterator[Grid]:
    """Bands, loads and sag of a body, and what a push should feel; `start` before titles."""
    if data["bands"]:
        lowest, bounce = (data["main_modes_hz"][key] for key in ("lowest", "bounce"))
        yield Grid(
            f"{start}Bands: lowest, as stated, highest (lowest mode {_range(lowest)} Hz, bounce "
            f"{_range(bounce)} Hz, lid up)",
            [
                "mount",
                "along [N/mm]",
                "across [N/mm]",
                "dynamic ratio [-]",
                "loss factor [-]",
                "unlike each other by",
                "grade",
            ],
            [
                [
                    row["mount"],
                    *(_range(row[key]) for key in BANDED),
                    "" if row["scatter"] is None else f"± {row['scatter']:.0%}",
                    row["grade"] or "not stated",
                ]
                for row in data["bands"]
            ],
        )
    names = response.designs[0].mount_names()
    by = {(r["attitude"], r["mount"]): r for r in data["sag"]}
    yield Grid(
        f"{start}Load [N] and deflection [mm] of each mount at rest (p: pulled)",
        ["attitude", *names],
        [
            [
                attitude,
                *(
                    f"{digits(by[attitude, n]['load_n'], 3)} / "
                    f"{digits(by[attitude, n]['deflection_mm'], 3)}"
                    f"{' p' if by[attitude, n]['pulled'] else ''}"
                    for n in names
                ),
            ]
            for attitude in ATTITUDES
        ],
    )
    yield Grid(
        f"{start}What a thumb should feel: a slow push of {data['push'][0]['force_n']:g} N at the "
        "centre of gravity, lid up",
        ["push", *(f"along {row['axis']} [mm]" for row in data["push"])],
        [["moves", *(_range(row["travel_mm"]) for row in data["push"])]],
    )
    if data["storage"]:
        stored = data["storage"][0]["attitude"]
        yield Grid(
            f"{start}Largest sag of a mount in storage, {stored}, by creep",
            ["stored", *(f"after {row['after']} [mm]" for row in data["storage"])],
            [["sag", *(_range(row["sag_mm"]) for row in data["storage"])]],
        )


def shaken(response: Response, data: Mapping[str, Any], start: str) -> Iterator[Grid]:
    """Modes of a body, and what it feels of vibration."""
    modes = [row for row in data["modes"] if row["attitude"] == "lid up"]
    legs = [leg.leg.name for leg in response.legs]
    on = {leg: [row for row in data["leg_modes"] if row["leg"] == leg] for leg in legs}
    yield Grid(
        f"{start}Modes [Hz], at rest lid up and on each leg",
        ["lid up, 23\u00a0°C [Hz]", "what moves", *(f"{leg} [Hz]" for leg in legs)],
        [
            [
                digits(row["frequency_hz"]),
                row["name"],
                *(digits(on[leg][k]["frequency_hz"]) for leg in legs),
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
                    f"{digits(here[0]['peak'], 3)} at {digits(here[0]['peak_hz'], 3)} Hz",
                    digits(here[0]["worse_than_bolted_below_hz"], 3),
                    f"{digits(far['worse_than_bolted_below_hz'], 3)} ({far['point']})",
                ]
            )
        yield Grid(
            f"{start}Worse than bolting it down below, lid up, 23 °C",
            ["axis", "peak at the centre [-]", "centre, below [Hz]", "worst corner, below [Hz]"],
            lines,
        )
    yield from _vibration_table(data["vibration"], start)
    yield from _sine_table(data["sine"], start)
    if data["parts"]:
        yield Grid(
            f"{start}Parts: rms along the worst axis, of itself or of its feet if it has no "
            "resonance",
            [
                *("leg", "part", "held", "own resonance [Hz]", "feels [g rms]"),
                *("it survives [g rms]", "most in a drop [g]", "it survives [g]"),
            ],
            [
                [
                    row["leg"],
                    row["part"],
                    "floats" if row["floats"] else "fixed in the case",
                    "" if row["resonance_hz"] is None else digits(row["resonance_hz"], 3),
                    digits(row["acceleration_g_rms"], 3),
                    digits(row["vibration_limit_g_rms"], 3),
                    digits(row["drop_g_most"], 3),
                    digits(row["fragility_g"], 3),
                ]
                for row in data["parts"]
            ],
        )


def fallen(response: Response, data: Mapping[str, Any], start: str) -> Iterator[Grid | Listing]:
    """What a body feels as the case falls."""
    if data["heights"] and not start:
        yield Listing(
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
        yield Grid(
            f"{start}Drops; flat: the estimate by energy"
            + (", light: one contact of the light shell" if light else "")
            + "; the rest as it happens",
            [
                *("leg", "landing", "from [m]", *(["light shell [g]"] if light else [])),
                *("flat estimate [g]", *IN_TIME, "mount moves [mm]"),
                "may bottom from about [m]",
            ],
            [
                [
                    row["leg"],
                    row["landing"] + ("" if row["kind"] == "drop" else f" ({row['kind']})")
                    if row["group"] == "faces"
                    else f"{row['group']}, the worst: {row['landing']}",
                    digits(row["height_m"], 3),
                    *([digits(row["peak_g_least"], 3)] if light else []),
                    digits(row["peak_g_most"], 3),
                    *_in_time(row["in_time"]),
                    digits(row["mount_travel_mm_most"], 3),
                    digits(row["mount_bottoming_height_m"], 3),
                ]
                for row in _worst_landings(data["drops"])
            ],
        )
    if data["turned"]:
        yield Grid(
            f"{start}Turned down onto a face, the worst edge of each",
            [
                *("leg", "kind", "onto", "over the edge", *IN_TIME, "mount moves [mm]"),
                "meets the floor at [m/s]",
            ],
            [
                [
                    *(row["leg"], row["kind"], row["face"], row["edge"]),
                    *_in_time(row),
                    digits(row["mount_travel_mm"], 3),
                    digits(row["floor_m_s"], 3),
                ]
                for row in _worst_edges(data["turned"])
            ],
        )


def room_inside(data: Mapping[str, Any], start: str, shown: set[str]) -> Iterator[Grid]:
    """How far a body moves against its room; `shown` has ids of the checks that are shown."""
    how = "" if data["clearance_sum"] == "worst case" else ", sag and tilt in full"
    yield Grid(
        f"{start}Room inside, summed as {data['clearance_sum']}{how}",
        ["face", "moves [mm]", "gap [mm]"],
        [
            [_wall(row), digits(row["demand_mm"], 3), digits(row["gap_mm"], 3)]
            for row in data["clearance"]
        ],
    )
    if data["obstacles"]:
        near = [row for row in data["obstacles"] if f"{start}clearance/{row['name']}" in shown]
        more = len(data["obstacles"]) - len(near)
        yield Grid(
            f"{start}Obstacles"
            + (f" (the nearest; {more} more in the JSON object)" if more > 0 else ""),
            ["obstacle", "leaves most along", "moves [mm]", "gap [mm]"],
            [
                [
                    row["name"],
                    f"{row['axis']}, {row['towards']}",
                    digits(row["demand_mm"], 3),
                    digits(row["gap_mm"], 3),
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


def _vibration_table(rows: Sequence[Mapping[str, Any]], start: str) -> Iterator[Grid]:
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
                    digits(here[0]["bolted_g_rms"], 3),
                    digits(here[0]["acceleration_g_rms"], 3),
                    f"{digits(top['acceleration_g_rms'], 3)} ({top['point']})",
                    digits(far["travel_mm_rms"], 3),
                    digits(far["travel_mm_peak"], 3),
                ]
            )
    if lines:
        yield Grid(
            f"{start}Vibration, all axes of the road together",
            [
                *("leg", "axis", "bolted down [g rms]", "centre [g rms]", "worst point [g rms]"),
                *("travel [mm rms]", "travel [mm peak]"),
            ],
            lines,
        )


def _sine_table(rows: Sequence[Mapping[str, Any]], start: str) -> Iterator[Grid]:
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
                    f"{digits(row['acceleration_g_peak'], 3)} at {digits(row['at_hz'], 3)}"
                    for row in (here[0], top)
                ),
                top["point"],
                digits(far["travel_mm_peak"], 3),
            ]
        )
    if lines:
        yield Grid(
            f"{start}Sine, one axis of the road after the other, steady state",
            [
                *("leg", "shaken", "centre [g peak at Hz]", "worst point [g peak at Hz]"),
                *("worst point", "travel [mm peak]"),
            ],
            lines,
        )


def folded_head(
    head: Sequence[str], rows: Sequence[Sequence[str]], least: int = NARROWEST
) -> list[str]:
    """Headings on as many lines as keep them about as narrow as the cells below them.

    A heading over narrower cells may have `least` letters on a line.

    Examples
    --------
    >>> folded_head(["leg", "worst point [g rms]"], [["by van", "0.5"]])
    ['leg', 'worst\\npoint\\n[g rms]']
    """
    wide = [max(map(len, cells), default=0) for cells in zip(*rows, strict=True)] or [0] * len(head)
    return [_folded_name(name, max(most, least)) for name, most in zip(head, wide, strict=True)]


def _folded_name(name: str, most: int) -> str:
    """A heading on lines of about so many letters, its unit on one of them."""
    held = re.sub(r"\[[^\]]*\]", lambda unit: unit[0].replace(" ", "\u00a0"), name)
    lines = fill(held, most, break_long_words=False, break_on_hyphens=False)
    return lines.replace("\u00a0", " ")


def table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    body = tabulate(rows, headers=folded_head(head, rows), tablefmt="simple", disable_numparse=True)
    return f"{title}\n" + "\n".join(f"  {line}".rstrip() for line in body.splitlines())


def _in_time(row: Mapping[str, Any] | None) -> list[str]:
    """Peaks at the centre and the worst corner, duration and velocity change."""
    keys = ("peak_g", "corner_peak_g", "duration_ms", "velocity_change_m_s")
    return [digits(None if row is None else row[key], 3) for key in keys]


def _worst_edges(rows: Sequence[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    """Of the edges of each face the one over which a mount goes furthest."""
    best: dict[tuple[str, str, str], Mapping[str, Any]] = {}
    for row in rows:
        key = row["leg"], row["kind"], row["face"]
        if key not in best or (row["mount_travel_mm"] or 0) > (best[key]["mount_travel_mm"] or 0):
            best[key] = row
    yield from best.values()


def _worst_landings(rows: Sequence[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    """Every face; of the edges and of the corners of a leg the one that takes a mount furthest."""
    best: dict[tuple[str, str], Mapping[str, Any]] = {}
    for row in rows:
        if row["group"] == "faces":
            yield row
            continue
        key = row["leg"], row["group"]
        if key not in best or _far(row) > _far(best[key]):
            best[key] = row
    yield from best.values()


def _far(row: Mapping[str, Any]) -> float:
    return math.inf if row["mount_travel_mm_most"] is None else float(row["mount_travel_mm_most"])


def _range(ends: Sequence[float | None] | None) -> str:
    """The low end, as stated, the high end; one number where they are the same."""
    if ends is None:
        return "?"
    return " / ".join(dict.fromkeys(digits(end, 3) for end in ends))


def digits(value: float | None, count: int = 4) -> str:
    """At most `count` significant digits without an exponent; ? if unknown."""
    if value is None:
        return "?"
    if value == 0:
        return "0"
    places = max(0, count - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(places, 9)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


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
            parts.append(f"{share} to the {name}: {digits(before, 3)} → {digits(after, 3)} Hz")
        names = ", ".join(cables["names"])
        lines.append(f"{start}cables ({names}) add {', '.join(parts)}, lid up at 23 °C")
    shift = max((row["seat_shift_n"] or 0.0 for row in data["sag"]), default=0.0)
    if shift:
        lines.append(f"{start}a seat out of place shifts up to {FORCE.text(shift)} at one mount")
    return lines

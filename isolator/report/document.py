"""What the report says, in order, as data: HTML and PDF are made of it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import count
from typing import Any, NamedTuple, TypeAlias

from isolator import figures
from isolator.assessment import Assessment
from isolator.cautions import cautions, foremost
from isolator.design import MAIN, kind_key
from isolator.figures.files import inside
from isolator.figures.views import View
from isolator.report.data import as_data
from isolator.report.fall import fall_data
from isolator.report.paper import (
    AXES_ARE,
    CAUTION,
    Grid,
    Listing,
    Ticks,
    at_rest,
    bodies,
    check_cells,
    conditions,
    digits,
    fallen,
    grade_words,
    hangs_on,
    opening,
    room_inside,
    shaken,
    status_word,
    title,
)
from isolator.report.pictures import Picture, picture
from isolator.report.words import basis_sentence, verdict_sentence, worse_end
from isolator.sine import Sine
from isolator.sources import read_table, source
from isolator.survive import Survival, survival
from isolator.trip import AXES, Leg
from isolator.units import (
    ACCELERATION,
    DURATION,
    FREQUENCY,
    MASS,
    STIFFNESS,
    InputError,
    si,
    si_or_none,
)
from isolator.verdict import Check
from isolator.version import VERSION

Block: TypeAlias = Grid | Listing | Ticks | Picture

NOT_RECORDED = "not recorded"
"""Stands where nobody gave what a report must have."""

WIDTH = 170.0
"""Of a picture that is as wide as the page. [mm]"""

HALF, THIRD = 106.0, 74.0
"""How high a picture is of which two, with a heading, or three go on a page. [mm]"""

NO_BANDS = (
    "With within and scatter of the mounts, or a hardness or weights in place of a stiffness, what "
    "to measure is ranked here."
)


class Section(NamedTuple):
    """What stands under one heading."""

    title: str
    blocks: Sequence[Block]


class KeyNumber(NamedTuple):
    """One of the numbers on the first page."""

    name: str
    value: str
    note: str


@dataclass(frozen=True, kw_only=True)
class Document:
    """The report.

    Attributes
    ----------
    name, status, verdict : str
    facts : sequence of pairs of str
        Date, version, input, what identifies it.
    opening : sequence of Listing
        The three worst checks, what helps most, what to measure, what was not checked.
    sketch : Picture or Listing
        The layout with the load at each mount, or why it cannot be drawn.
    numbers : sequence of KeyNumber
        At most six.
    sections : sequence of Section
    axes, caution : str
    data : mapping
        All inputs and outputs, for JSON.
    """

    name: str
    status: str
    verdict: str
    facts: Sequence[tuple[str, str]]
    opening: Sequence[Listing]
    sketch: Block
    numbers: Sequence[KeyNumber]
    sections: Sequence[Section]
    axes: str
    caution: str
    data: Mapping[str, Any]


def document(assessment: Assessment) -> Document:
    """Gather the report of a case.

    Parameters
    ----------
    assessment : Assessment
        Of one design.

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> report = document(case)
    >>> report.verdict
    'PASS: all 30 required checks hold.'
    >>> dict(report.facts)["date"]
    'not recorded'
    """
    data = as_data(assessment)
    fall = _fall(assessment)
    facts = facts_of(assessment)
    draw = Drawing()
    return Document(
        name=title(assessment),
        status=assessment.status,
        verdict=verdict_sentence(assessment),
        facts=list(facts.items()),
        opening=list(opening(assessment)),
        sketch=draw(
            "the layout from above, to scale, with the load at each mount",
            partial(figures.layout, assessment, "plan"),
            112.0,
            112.0,
        ),
        numbers=list(_numbers(assessment, data)),
        sections=list(_sections(assessment, data, fall, draw)),
        axes=AXES_ARE,
        caution=CAUTION,
        data={
            **facts,
            "inputs": inputs(assessment),
            "outputs": data,
            "falls": None if fall is None else _fall_rows(fall),
        },
    )


def facts_of(assessment: Assessment) -> dict[str, str]:
    """What identifies a page: date, file and hash of the brief, version."""
    brief = assessment.brief
    return {
        "date": str(assessment.design.date or NOT_RECORDED),
        "brief": NOT_RECORDED if brief is None else brief.file,
        "input": NOT_RECORDED if brief is None else f"SHA-256 {brief.fingerprint()}",
        "version": f"isolator {VERSION}",
    }


def inputs(assessment: Assessment) -> dict[str, Any] | None:
    """The brief as it was written and the files that it names; None without a brief."""
    return None if assessment.brief is None else assessment.brief.inputs()


def _fall(assessment: Assessment) -> Survival | None:
    """Falls of the leg with the highest one, over their height; None where none can be followed."""
    falls = {
        leg.name: height
        for leg in assessment.design.legs
        if leg.drops and (height := si_or_none(leg, "drop")) is not None
    }
    if not falls:
        return None
    case = assessment.brief or assessment.design
    try:
        return survival(case, max(falls, key=lambda name: falls[name]), asked=True)
    except InputError:
        return None  # the checks of that leg say why


def _fall_rows(fall: Survival) -> dict[str, Any]:
    asked = ("name", "status", "checks")
    return {key: value for key, value in fall_data(fall).items() if key not in asked}


class Drawing:
    """Draws the pictures of one page."""

    def __init__(self) -> None:
        self.numbers = count(1)

    def __call__(self, words: str, draw: Any, width: float, height: float) -> Block:
        try:
            return picture(next(self.numbers), words, draw, width, height)
        except InputError as error:
            return Listing(f"Not drawn: {words}", error.lines)


def _numbers(assessment: Assessment, data: Mapping[str, Any]) -> Iterator[KeyNumber]:
    """At most six numbers that tell most."""
    lowest, bounce = (data["main_modes_hz"][name][1] for name in ("lowest", "bounce"))
    yield KeyNumber("lowest mode", f"{digits(lowest, 3)} Hz", f"bounce {digits(bounce, 3)} Hz")
    below = [row["worse_than_bolted_below_hz"] for row in data["transmissibility"]]
    known = [value for value in below if value is not None]
    yield KeyNumber(
        "worse than bolted down below",
        f"{digits(max(known, default=None), 3)} Hz",
        "at its worst corner, lid up, 23 °C",
    )
    for kinds, name, beside in (
        (("isolation",), "felt on a road", "bolted down"),
        (("drop peak", "set-down peak", "slap-down peak"), "felt in a fall", "it survives"),
        (("drop travel", "set-down travel", "slap-down travel"), "a mount moves in a fall", "of"),
        (("clearance",), "the payload moves", "of"),
    ):
        yield from _nearest(assessment, kinds, name, beside)


def _nearest(
    assessment: Assessment, kinds: Sequence[str], name: str, beside: str
) -> Iterator[KeyNumber]:
    """Of the required checks of some kinds the one with the least margin."""
    asked = [c for c in assessment.checks if not c.waived and _kind(c, assessment) in kinds]
    known = [c for c in asked if c.margin is not None]
    if not asked:
        return
    unsettled = sum(c.status == "incomplete" for c in asked)
    note = f"; {unsettled} of {len(asked)} incomplete" if unsettled else ""
    if not known:
        yield KeyNumber(name, "?", f"not known{note}")
        return
    least = min(known, key=lambda c: (c.status != "fail", c.margin))
    demand, capacity = digits(least.demand, 3), digits(least.capacity, 3)
    value = f"{demand} {least.unit}, {beside} {capacity}"
    yield KeyNumber(name, value, f"{least.id}{note}")


def _kind(check: Check, assessment: Assessment) -> str:
    """What a check asks, whatever body and leg it asks it of."""
    for frame in assessment.frames:
        if check.id.startswith(start := f"{frame}: "):
            return check.id.removeprefix(start).partition("/")[0]
    return check.id.partition("/")[0]


def _sections(
    assessment: Assessment, data: Mapping[str, Any], fall: Survival | None, draw: Drawing
) -> Iterator[Section]:
    every = {check.id for check in assessment.checks}
    own = list(bodies(assessment, data))
    yield Section("Cautions", list(_cautions(assessment)))
    yield Section("Transmissibility", list(_passed_on(assessment, draw)))
    felt = [_felt(assessment, name, leg.name, draw) for name, leg in _shaken_legs(assessment)]
    tables = [block for one in own for block in shaken(*one)]
    yield Section("Response to vibration", [*felt, *tables])
    yield Section(
        "Falls", [*_over_heights(fall, draw), *(block for one in own for block in fallen(*one))]
    )
    yield Section("Room inside", [*_swung(assessment, draw), *_rooms(own, every)])
    none = Listing("Conditions", ["none asked: the case is judged as it is given ([[condition]])"])
    yield Section("Conditions", list(conditions(data)) or [none])
    yield Section("At rest", [block for one in own for block in at_rest(*one)])
    yield Section("All checks", [_checks(assessment)])
    yield Section("Vibration and shock as given", [_record(assessment)])
    hanging = hangs_on(assessment, data)
    more = [("What it hangs on", hanging), ("Look twice", data["look_twice"])]
    yield Section(
        "Assumptions, with origin and grade",
        [
            _origins(assessment),
            _assumed(assessment, data["assumed"]),
            *(Listing(*one) for one in more if one[1]),
        ],
    )
    yield Section("What to measure first", [_sensitivity(assessment)])
    yield Section("Sources", list(_sources(assessment)))
    yield Section("Inputs as written", list(_written(assessment)))


def _cautions(assessment: Assessment) -> Iterator[Block]:
    """The gravest in full, each with what it comes from; the names of all others."""
    found, rest = foremost(cautions(assessment))
    if not found:
        yield Listing("Of this case", ["none of those that are looked for"])
        return
    yield Grid(
        "Of this case, the gravest first",
        ["caution", "what may happen", "what to do", "comes from"],
        [[one.name, one.what, one.action, one.triggered_by] for one in found],
    )
    if rest:
        yield Listing("Also, in full in the JSON beside this report", ["; ".join(rest)])


def _passed_on(assessment: Assessment, draw: Drawing) -> Iterator[Block]:
    """A picture for each body, leg that vibrates, and axis."""
    marks = inside(assessment.design)
    for name in assessment.bodies():
        frame = None if name == MAIN else name
        shaken_on = [leg.name for body, leg in _shaken_legs(assessment) if body == name]
        for leg in shaken_on or (None,):
            for axis in AXES:
                where = "lid up at 23 °C" if leg is None else f"on {leg}"
                yield draw(
                    f"{'' if frame is None else f'{frame}: '}transmissibility along {axis}, "
                    f"{where}",
                    partial(
                        figures.transmissibility,
                        assessment,
                        leg=leg,
                        axis=axis,
                        marks=marks if frame is None else None,
                        frame=frame,
                    ),
                    WIDTH,
                    THIRD,
                )


def _shaken_legs(assessment: Assessment) -> list[tuple[str, Leg]]:
    """The legs with a road, body by body."""
    return [
        (name, one.leg)
        for name, body in assessment.bodies().items()
        for one in body.legs
        if one.shaking is not None
    ]


def _felt(assessment: Assessment, name: str, leg: str, draw: Drawing) -> Block:
    frame = None if name == MAIN else name
    return draw(
        f"{'' if frame is None else f'{frame}: '}what the payload feels on {leg}, by axis",
        partial(figures.response, assessment, leg, frame=frame),
        WIDTH,
        64.0,
    )


def _over_heights(fall: Survival | None, draw: Drawing) -> Iterator[Block]:
    if fall is None:
        yield Listing("Drop height curve", [f"{NOT_RECORDED}: no fall that can be followed"])
        return
    for of, words in (("peak", "what the payload feels"), ("travel", "how far a mount moves")):
        drawn = partial(figures.heights, fall, of=of)
        yield draw(f"{words} over the height of the fall", drawn, WIDTH, 78.0)


def _swung(assessment: Assessment, draw: Drawing) -> Iterator[Block]:
    """Sway from above and from the side, and the room as bars, of each body."""
    for name in assessment.bodies():
        frame = None if name == MAIN else name
        of = f"the {MAIN}" if frame is None else frame
        views: Sequence[tuple[View, str]] = (("plan", "from above"), ("side", "from the side"))
        for view, words in views:
            drawn = partial(figures.sway, assessment, view, frame=frame)
            yield draw(f"sway of {of} over the outline of the case, {words}", drawn, WIDTH, HALF)
        drawn = partial(figures.room, assessment, frame=frame)
        yield draw(f"room of {of} against its motion, as bars", drawn, WIDTH, 84.0)


def _rooms(own: Sequence[tuple[Any, Mapping[str, Any], str]], every: set[str]) -> Iterator[Grid]:
    for _, rows, start in own:
        yield from room_inside(rows, start, every)


def _checks(assessment: Assessment) -> Grid:
    return Grid(
        f"All {len(assessment.checks)} checks (worst grade of the mounts: "
        f"{grade_words(assessment)})",
        ["result", "check", "demand", "capacity", "unit", "left", "grade", "why"],
        [
            [status_word(c), c.id, *check_cells(c), c.grade or "", _reason(c)]
            for c in assessment.checks
        ],
    )


def _reason(check: Check) -> str:
    ends = f" ({check.where})" if check.where else ""
    need = f"; needs {check.missing}" if check.missing and check.status == "incomplete" else ""
    why = f"; not required: {check.waived}" if check.waived else ""
    return f"{check.reason}{ends}{need}{why}"


def _record(assessment: Assessment) -> Grid:
    """The fields that a vibration report must have."""
    rows = [row for leg in assessment.design.legs for row in _recorded(assessment, leg)]
    return Grid(
        "Location and axis, level, duration, technique",
        [
            "leg",
            "location and axis",
            "level",
            "spectrum or shape",
            "duration",
            "at [°C]",
            "technique",
        ],
        rows,
    )


def _recorded(assessment: Assessment, leg: Leg) -> Iterator[list[str]]:
    celsius = si_or_none(leg, "temperature")
    degrees = NOT_RECORDED if celsius is None else f"{celsius:g}"
    seconds = si_or_none(leg, "duration")
    lasts = NOT_RECORDED if seconds is None else _time(seconds)
    by = {check.id: check.source for check in assessment.checks}
    for way, axis in leg.case_axes().items() if leg.vibrates else ():
        spectrum = leg.road.get(way)
        how = by.get(f"isolation/{leg.name}/{axis}", "").partition(";")[0]
        level = NOT_RECORDED if spectrum is None else f"{spectrum.level(leg.level):.3g} g rms"
        shape = NOT_RECORDED if spectrum is None else spectrum.name
        at = f"the case's floor, {axis} ({way}, {leg.attitude})"
        yield [leg.name, at, level, shape, lasts, degrees, how or NOT_RECORDED]
    if leg.sine is not None:
        at = f"the case's floor, {', '.join(leg.sine.ways)}, one after the other"
        how = "six modes, steady state, one axis at a time"
        yield [leg.name, at, *_tone(leg.sine), lasts, degrees, how]
    if leg.pulse is not None:
        at = f"the case, {', '.join(leg.pulse.ways)}, both ways"
        level = ACCELERATION.text(si(leg.pulse, "peak"))
        lasting = f"{1e3 * si(leg.pulse, 'duration'):.3g} ms"
        how = "six modes in time"
        yield [leg.name, at, level, leg.pulse.shape, lasting, degrees, how]
    if leg.walk is not None:
        at = "the case, carried on foot"
        rate = FREQUENCY.text(si(leg.walk, "step_rate"))
        yield [leg.name, at, f"steps at {rate}", "steps", lasts, degrees, "six modes, tones"]
    if leg.drops:
        height = si_or_none(leg, "drop")
        level = NOT_RECORDED if height is None else f"{height:.3g} m"
        how = by.get(f"drop peak/{leg.name}/{leg.landings[0]}", NOT_RECORDED)
        at = f"falls onto {', '.join(leg.landings)}"
        yield [leg.name, at, level, "free fall", "an instant", degrees, how]


def _tone(sine: Sine) -> list[str]:
    """Level and shape of a sine."""
    levels, shapes = [], []
    if sine.sweep is not None:
        levels.append(f"{ACCELERATION.text(si(sine.sweep, 'level'))} peak")
        ends = (FREQUENCY.text(si(sine.sweep, end)) for end in ("start", "stop"))
        shapes.append(f"sweep, {' to '.join(ends)}")
    if sine.dwell is not None:
        levels.append(f"{ACCELERATION.text(si(sine.dwell, 'level'))} peak")
        at = si_or_none(sine.dwell, "at")
        shapes.append(f"dwell at {'every resonance' if at is None else FREQUENCY.text(at)}")
    return ["; ".join(levels), "; ".join(shapes)]


def _time(seconds: float) -> str:
    for unit, length in (("h", 3600.0), ("min", 60.0)):
        if seconds >= length:
            return f"{seconds / length:.3g} {unit}"
    return DURATION.text(seconds)


def _origins(assessment: Assessment) -> Grid:
    """Where the numbers of the payload, the mounts and the trip come from."""
    rows = []
    labels = {row["source"]: row["lines label"] for row in read_table("roads.csv")}
    for name, body in assessment.bodies().items():
        design = body.designs[0]
        start = "" if name == MAIN else f"{name}: "
        mass = MASS.text(float(body.suspension.mass[0]))
        rows.append([f"{start}mass", mass, design.payload.source or NOT_RECORDED, "as stated"])
        for mount in {p.mount.name: p.mount for p in design.places}.values():
            along, across = (float(value) for value in mount.curves().tangent(0.0))
            value = f"{STIFFNESS.text(along)} along, {STIFFNESS.text(across)} across"
            notes = "; ".join([mount.source or NOT_RECORDED, *mount.notes])
            rows.append([f"{start}mount {mount.name}", value, notes, mount.grade or "not stated"])
    for leg in assessment.design.legs:
        for way, spectrum in leg.road.items():
            grade = labels.get(spectrum.source, "as stated")
            level = f"{spectrum.level(leg.level):.3g} g rms"
            rows.append([f"{leg.name}, {way}", level, spectrum.source or NOT_RECORDED, grade])
        if (found := leg.height_class) is not None:
            rows.append([f"{leg.name}, drop", f"{found.height:.3g} m", found.words, found.source])
    return Grid("Numbers that it rests on", ["what", "value", "origin", "grade"], rows)


def _assumed(assessment: Assessment, lines: Sequence[str]) -> Grid:
    """Each assumption, the keys that would state it, and how well it is known."""
    grades = {
        place.mount.name: place.mount.grade or "not stated"
        for body in assessment.bodies().values()
        for place in body.designs[0].places
    }
    rows = []
    for line in lines:
        match = re.fullmatch(r"(.*?)(?: \(([^()]+)\))?", line, flags=re.DOTALL)
        assert match is not None
        text, keys = match[1], match[2] or ""
        if not re.search(r"[.\[]|^age$", keys):  # words in brackets, no key of a brief
            text, keys = line, ""
        of = [grade for name, grade in grades.items() if kind_key(name, "") in keys]
        rows.append([text, "taken, not given", keys, f"mount: {of[0]}" if of else "assumed"])
    return Grid("Assumed", ["what", "origin", "stated by", "grade"], rows)


def _sensitivity(assessment: Assessment) -> Block:
    if not assessment.leverages:
        return Listing("Sensitivity", [basis_sentence(assessment), NO_BANDS])
    return Grid(
        "Each from end to end of what it may be off, all else as stated; most first",
        [
            "measure",
            "key",
            "checks unsettled",
            "least margin as stated",
            "least margin at its worse end",
        ],
        [
            [
                f"{x.measure}; margins of {x.body}" if assessment.frames else x.measure,
                x.key,
                str(x.unsettled),
                f"{x.stated:.0%}",
                worse_end(x),
            ]
            for x in assessment.leverages
        ],
    )


def _sources(assessment: Assessment) -> Iterator[Grid]:
    """The methods of the checks, and the references that they and the trip cite."""
    methods: dict[str, list[str]] = {}
    for check in assessment.checks:
        methods.setdefault(check.source or NOT_RECORDED, []).append(_kind(check, assessment))
    rows = [[", ".join(dict.fromkeys(kinds)), text] for text, kinds in methods.items()]
    yield Grid("How each kind of check is answered", ["checks", "method, limits"], rows)
    cited = [*methods]
    for body in assessment.bodies().values():
        design = body.designs[0]
        cited += [place.mount.source for place in design.places if place.mount.grade == "geometry"]
        for leg in design.legs:
            cited += [spectrum.source for spectrum in leg.road.values()]
            cited += [leg.height_class.source] if leg.height_class else []
    words = {word for text in cited for word in re.findall(r"[\w-]+", text)}
    known = [source(row["key"]) for row in read_table("sources.csv") if row["key"] in words]
    if known:
        yield Grid(
            "References",
            ["key", "title", "edition", "note"],
            [[one.key, one.title, one.edition, one.note] for one in known],
        )


def _written(assessment: Assessment) -> Iterator[Block]:
    """Every value of the brief, and the files that it names."""
    given = inputs(assessment)
    if given is None:
        yield Listing("Brief", [f"{NOT_RECORDED}: the case was made without one"])
        return
    yield Grid("Brief", ["key", "value"], [list(pair) for pair in _flat(given["brief"], "")])
    if given["files"]:
        yield Listing(
            "Files that it names, in full in the JSON beside this report",
            [
                f"{name}: SHA-256 {hashlib.sha256(text.encode()).hexdigest()}"
                for name, text in given["files"].items()
            ],
        )


def _flat(value: Any, key: str) -> Iterator[tuple[str, str]]:
    """Keys and values of nested tables, as messages name them."""
    if isinstance(value, Mapping):
        for name, below in value.items():
            yield from _flat(below, f"{key}.{name}" if key else name)
    elif isinstance(value, list) and any(isinstance(one, Mapping) for one in value):
        for number, below in enumerate(value, start=1):
            yield from _flat(below, f"{key}[{number}]")
    elif isinstance(value, list):
        yield key, ", ".join(str(one) for one in value)
    else:
        yield key, str(value).lower() if isinstance(value, bool) else str(value)

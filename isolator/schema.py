"""The tables of a brief and of its files: every key, what it may hold, what it is left out.

A table holds values as they were written, once they are found usable.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from math import radians
from typing import Annotated, Any, ClassVar

from isolator.case import SUMS
from isolator.curve import Curve
from isolator.estimate import FACES as FACES_OF_RUBBER
from isolator.estimate import KINDS as SHAPES
from isolator.fields import (
    Field,
    Table,
    choice,
    choices,
    measure,
    plain,
    read_choice,
    read_date,
    read_map,
    read_tables,
    read_text_value,
    read_yes_no,
    shown,
    text,
    vector,
)
from isolator.handling import STEPS, SWING, Walk
from isolator.heights import height_table
from isolator.inside import ENDS, FACES, LEVELS, SIDES
from isolator.lifting import COUPLING_MULTIPLIER, TWIST
from isolator.mount import GRADES, LOAD, PUSHES, STACKING
from isolator.payload import COMPONENTS, KINDS, MOMENT
from isolator.pulse import INSTANT, SIGNED, Pulse
from isolator.pulse import SHAPES as SHAPES_OF_PULSES
from isolator.rubber import STIFFENINGS, Hardness, cold_points, compound
from isolator.sheet import EDGES, Sheet, materials
from isolator.sine import Dwell, Sine, Sweep
from isolator.suspension import ATTITUDES
from isolator.tables import Folder
from isolator.trip import GROUPS, ROAD_AXES, SPIN, Landing, Spectrum, road
from isolator.units import (
    ACCELERATION,
    ANGLE,
    AREA,
    DRAFT,
    DURATION,
    FORCE,
    FREQUENCY,
    G0,
    GAP,
    HEIGHT,
    MASS,
    MODULUS,
    PER_PRESSURE,
    POSITION,
    POWER,
    PRESSURE,
    SIZE,
    SPECTRAL_DENSITY,
    SPEED,
    STIFFNESS,
    TEMPERATURE,
    FloatArray,
    InputError,
    Kind,
    number,
)
from isolator.weighing import READING

HEAVIEST = 500.0
"""No payload that a person carries or hands to a courier is heavier. [kg]"""

MOST_PLACES, MOST_CABLES, MOST_SOLIDS, MOST_LEGS = 64, 50, 1000, 50
"""More mounts, cables and obstacles than any case has, and more legs than any trip."""

MOST_OWN = 12
"""More landings of one's own than a trip has."""

MOST_FRAMES = 8
"""More bodies than float in one case beside the payload."""

MOST_CONDITIONS, MOST_PATTERNS = 12, 100
"""More conditions than one strip holds."""

MOST_KINDS, MOST_REASONS = 1000, 1000
"""More kinds of mounts than a drawer has, and more waivers than a case has checks."""

MOST_FEET = 4
"""More feet than four tell nothing more about a centre."""

Mass = measure(MASS, 1e-3, HEAVIEST)
MassWithin = measure(MASS, 0.0, HEAVIEST)
Length = measure(SIZE, 1e-5, 5.0)
Size = vector(SIZE, 1e-3, 5.0)
Gap = measure(GAP, 0.0, 2.0)
Unevenness = measure(GAP, 0.0, 0.05)
At = measure(POSITION, -5.0, 5.0)
Position = vector(POSITION, -5.0, 5.0)
Reading = measure(READING, 0.0, HEAVIEST)
Resolution = measure(MASS, 1e-6, HEAVIEST)
Within = vector(GAP, 0.0, 1.0)
InPlan = vector(POSITION, -5.0, 5.0, 2)
Angle = measure(ANGLE, 1e-3, 1.6)
AngleWithin = measure(ANGLE.within(0.0), 0.0, 1.6)
Period = measure(DURATION, 0.05, 60.0)
Stopping = measure(DURATION, 1e-4, 0.1, "5 ms")
Slap = measure(ANGLE, radians(0.3), DRAFT.high, "3 deg")
Stop = measure(STIFFNESS, 1e3, 1e9)
Inset = vector(POSITION, -1.0, 5.0, 2)
Force = measure(FORCE, 1e-2, 1e6)
Celsius = measure(TEMPERATURE, -90.0, 150.0)
Time = measure(DURATION, 1.0, 3.2e7)
Specific = measure(ACCELERATION, 1e-3 * G0, 1e4 * G0)
Frequency = measure(FREQUENCY, 1e-3, 1e5)
Watts = measure(POWER, 0.0, 1e5)
Density = measure(SPECTRAL_DENSITY, 1e-12 * G0**2, 1e4 * G0**2)
Turning = Field(measure(FREQUENCY, 1e-2, 1e4).read, "rpm")
Amplification = plain(1.0, 1000.0)
Blades = plain(2.0, 100.0)
ComponentPlace = plain(0.1, 1.0)
Share = plain(0.0, 1.0)
Ratio = plain(1.0, 10.0)
ColdFactor = plain(1.0, 1000.0)
LossFactor = plain(0.001, 2.0)
Multiplier = plain(1e-3, 100.0)
Name = text(80)
Title = text(200)
FileName = text(200)
YesNo = Field(read_yes_no)
Day = Field(read_date)
Attitude = choice(ATTITUDES)
Attitudes = choices(ATTITUDES)
Landings = choices((*ATTITUDES, *GROUPS))
End = choice(FACES[:4])
Axis = choice("xyz")
Shape = choice(("box", "cylinder", "point"))
PartKind = choice(KINDS)
Component = choice(COMPONENTS)
Datum = choice(("hanging", "out"))
Grade = choice(GRADES)
Draft = measure(DRAFT, 0.0, DRAFT.high)
Pair = vector(POSITION, -5.0, 5.0, 2)
Wall = choice(FACES)
Lid = choice(("closed", "open"))
Summing = choice(SUMS)
AtEnd, AtSide, AtLevel = choice(ENDS), choice(SIDES), choice(LEVELS)

_STIFFNESS = STIFFNESS.within(10.0, 1e7)
_SHEET = STIFFNESS.within(10.0, 1e12)
_PULL = STIFFNESS.within(0.1, 1e7)
_PLATE = {
    "thickness": SIZE.within(1e-5, 0.1),
    "span": SIZE.within(1e-3, 5.0),
    "modulus": MODULUS.within(1e7, 1e12),
}
_OF_SHEET = ("thickness", "span", "edges", "material", "modulus", "poisson")
_HEIGHT = HEIGHT.within(1e-3, 20.0)
_POINTS = {
    "deflection": POSITION.within(-1.0, 1.0, example="2 mm"),
    "force": LOAD.within(-1e6, 1e6),
}
_MOST_POINTS = 500
_DIRECTION = Kind("number", "", "", -1e6, 1e6)


def _read_curve(value: Any, name: str) -> Any:
    """One stiffness, the two ends of a band, or the points of a curve."""
    if not isinstance(value, Mapping):
        return _read_stiffness(value, name)
    missing = [key for key in _POINTS if key not in value]
    if missing:
        raise InputError(
            f"{name}.{missing[0]} is missing: points are two lists, deflection and force; add it"
        )

    def points(given: Any, at: str, key: str) -> FloatArray:
        if not isinstance(given, list) or len(given) > _MOST_POINTS:
            raise InputError(
                f"{at} = {shown(given)}: a list of at most {_MOST_POINTS} values is wanted; write "
                f"['{_POINTS[key].example}', …]"
            )
        return _POINTS[key].read_array(given, at, (len(given),))

    read = read_map(value, name, _POINTS, points)
    if read["deflection"].size != read["force"].size:
        counts = f"{read['deflection'].size} deflections and {read['force'].size} forces"
        raise InputError(f"{name} has {counts}; give as many of both")
    try:
        Curve.through(**read)
    except ValueError as error:
        raise InputError(f"{name}: {error}; sort the points and check their signs") from None
    return value


def _read_stiffness(value: Any, name: str) -> Any:
    """One stiffness, or the two ends of a band."""
    if isinstance(value, list):
        return _read_ends(value, name, lambda end, at: _STIFFNESS.read(end, at))
    _STIFFNESS.read(value, name)
    return value


def _read_ends(value: Any, name: str, read: Callable[[Any, str], float]) -> Any:
    """The two ends of a band, the lower first."""
    if len(value) != 2:
        raise InputError(f"{name} has {len(value)} values; give one, or the two ends of a band")
    low, high = (read(end, f"{name}[{n}]") for n, end in enumerate(value))
    if low > high:
        raise InputError(
            f"{name} = {shown(value)}: the higher end stands first; give the lower first"
        )
    return value


def _read_hardness(value: Any, name: str) -> Any:
    Hardness.read(value, name)
    return value


def _read_stiffening(value: Any, name: str) -> dict[str, float]:
    """Temperatures of a sheet by its names T2, T5, T10, T100. [°C]"""
    kind = TEMPERATURE.within(-90.0, 5.0)
    read = read_map(value, name, STIFFENINGS, lambda given, at, _: kind.read(given, at))
    if not read:
        raise InputError(f'{name} = {{}}: nothing is given; write {{ T2 = "-30 °C" }}')
    try:
        cold_points(read)
    except InputError as error:
        raise InputError(*(f"{name}.{line}" for line in error.lines)) from None
    return read


def _read_compound(value: Any, name: str) -> Any:
    compound(read_text_value(value, name, 80), name)
    return value


def _banded(low: float, high: float) -> Field:
    """A number between limits, or the two ends of a band."""

    def read(value: Any, name: str) -> Any:
        if isinstance(value, list):
            return _read_ends(value, name, lambda end, at: number(end, at, low, high))
        return number(value, name, low, high)

    return Field(read)


def _read_inertia(value: Any, name: str) -> Any:
    if MOMENT.read_array(value, name).shape not in ((3,), (3, 3)):
        raise InputError(
            f"{name} = {shown(value)}: give three moments about x, y, z, or three rows of three"
        )
    return value


def _read_sheet(value: Any, name: str) -> Any:
    """A stiffness as it was written, or a sheet."""
    if not isinstance(value, Mapping):
        _SHEET.read(value, name)
        return value

    def one(given: Any, at: str, key: str) -> Any:
        if key == "edges":
            return read_choice(given, at, EDGES)
        if key == "material":
            return read_choice(given, at, materials())
        if key == "poisson":
            return number(given, at, 0.0, 0.5)
        if key == "span" and isinstance(given, list):
            return _PLATE[key].quantity(_PLATE[key].read_array(given, at, (2,)))
        _PLATE[key].read(given, at)
        return given

    made = read_map(value, name, _OF_SHEET, one)
    missing = [key for key in ("thickness", "span", "edges") if key not in made]
    if missing:
        raise InputError(
            f"{name}.{missing[0]} is missing: a sheet has thickness, span, edges and material; add "
            "it, or write the sheet's stiffness"
        )
    try:
        return Sheet(**made)
    except InputError as error:
        raise InputError(
            *(f"{name}.{line.removeprefix('Sheet.')}" for line in error.lines)
        ) from None


def _read_pull(value: Any, name: str) -> Any:
    """One stiffness, or three along x, y, z."""
    if isinstance(value, list):
        _PULL.read_array(value, name, (3,))
    else:
        _PULL.read(value, name)
    return value


def _read_push(value: Any, name: str) -> str | tuple[float, ...]:
    """A word for a direction, or three numbers."""
    if not isinstance(value, list):
        return read_choice(value, name, PUSHES)
    direction = _DIRECTION.read_array(value, name, (3,))
    if not direction.any():
        raise InputError(f"{name} = {shown(value)}: three zeros are no direction; give one")
    return tuple(direction.tolist())


def _read_drop(value: Any, name: str) -> Any:
    """A height, "none", or { table = … } for the published one of a case of this weight."""
    if isinstance(value, Mapping):
        read = read_map(value, name, ("table",), lambda v, at, _: read_text_value(v, at, 80))
        if not read:
            raise InputError(f'{name} = {{}}: no table is named; write {{ table = "ista 1a" }}')
        try:
            height_table(read["table"])
        except InputError as error:
            raise InputError(*(f"{name}.{line}" for line in error.lines)) from None
        return read
    if value != "none":
        _HEIGHT.read(value, name)
    return value


def _read_tone(value: Any, name: str) -> Any:
    """A frequency, or "resonance"."""
    if isinstance(value, str) and not re.search("[0-9]", value):
        return read_choice(value, name, ("resonance",))
    _SINE_FREQUENCY.read(value, name)
    return value


def _read_dwell(value: Any, name: str) -> Dwell:
    read = read_map(value, name, _DWELL, lambda v, at, key: _DWELL[key].read(v, at))
    _complete(read, name, ("at", "level"))
    at = read.pop("at")
    return Dwell(at=None if at == "resonance" else at, **read)


def _read_sine(value: Any, name: str) -> Sine:
    """A sweep, a dwell or both."""
    read = read_map(value, name, _SINE, lambda v, at, key: _SINE[key].read(v, at))
    dwell, ways = read.pop("dwell", None), read.pop("ways", ROAD_AXES)
    if not read and dwell is None:
        raise InputError(
            f"{name}: neither a sweep nor a dwell; give from, to and level, or dwell = "
            '{ at = "18 Hz", level = "0.5 g0" }'
        )
    if not read:
        return Sine(ways=ways, dwell=dwell)
    _complete(read, name, ("from", "to", "level"))
    ends = {"start": read.pop("from"), "stop": read.pop("to")}
    try:
        return Sine(ways=ways, sweep=Sweep(**ends, **read), dwell=dwell)
    except InputError as error:
        line = error.lines[0].removeprefix("Sweep.stop")
        raise InputError(f"{name}.to{line}") from None


def _read_own(value: Any, name: str) -> list[Landing]:
    """Landings of the user's own."""
    rows = read_tables(value, name, name, MOST_OWN)
    out, lines = list[Landing](), list[str]()
    for n, row in enumerate(rows):
        at = f"{name}[{n}]"
        try:
            read = read_map(row, at, _OWN, lambda v, where, key: _OWN[key].read(v, where))
            _complete(read, at, ("name", "down"))
            out.append(Landing(**read))
        except InputError as error:
            lines += [line.replace("Landing.", f"{at}.") for line in error.lines]
    if lines:
        raise InputError(*lines)
    return out


def _read_tried(value: Any, name: str) -> Pulse:
    """Shape and duration of a tested pulse; its peak is the fragility."""
    read = read_map(value, name, _TRIED, lambda v, at, key: _TRIED[key].read(v, at))
    _complete(read, name, ("shape", "duration"))
    return _made_pulse(name, lambda: Pulse(peak="1 g0", **read))


def _read_pulse(value: Any, name: str, folder: Folder) -> Pulse:
    """A pulse of some shape, or a record of the brief's folder."""
    if not isinstance(value, Mapping) or "record" not in value:
        read = read_map(value, name, _PULSE, lambda v, at, key: _PULSE[key].read(v, at))
        _complete(read, name, ("shape", "peak", "duration"))
        return _made_pulse(name, lambda: Pulse(**read))
    file = read_map(value, name, ("record",), lambda v, at, _: read_text_value(v, at, 200))
    rows = [row for _, row in folder.rows(file["record"], f"{name}.record", RecordRow)]
    try:
        return Pulse.of_record([row.acceleration for row in rows], times=[row.time for row in rows])
    except InputError as error:
        raise InputError(*(f"{name}.record: {line}" for line in error.lines)) from None


def _made_pulse(name: str, make: Callable[[], Pulse]) -> Pulse:
    try:
        return make()
    except InputError as error:
        raise InputError(
            *(f"{name}.{line.replace('Pulse.', '')}" for line in error.lines)
        ) from None


def _read_walk(value: Any, name: str) -> Walk | None:
    """True for a usual walk, or a step rate and a swing."""
    if not isinstance(value, Mapping):
        return Walk() if read_yes_no(value, name) else None
    return Walk(**read_map(value, name, _WALK, lambda v, at, key: _WALK[key].read(v, at)))


def _read_hands(value: Any, name: str) -> int:
    if value not in (1, 2) or isinstance(value, bool):
        raise InputError(f"{name} = {shown(value)}: nobody lifts so; write 1 or 2")
    return int(value)


def _complete(read: Mapping[str, Any], name: str, keys: tuple[str, ...]) -> None:
    """A line for each key that is not there."""
    lines = [f"{name}.{k} is missing: it goes with the others; add it" for k in keys]
    lines = [line for line, key in zip(lines, keys, strict=True) if key not in read]
    if lines:
        raise InputError(*lines)


def _read_road(value: Any, name: str, folder: Folder) -> Mapping[str, Spectrum] | str:
    """Spectra by road axis, or "none" for a leg without vibration."""
    if value == "none":
        return "none"
    if isinstance(value, str):
        return _spectra(value, name, folder)

    def one(given: Any, at: str, way: str) -> Spectrum:
        found = _spectra(read_text_value(given, at, 200), at, folder)
        return found.get(way, found["vertical"])

    return read_map(value, name, ROAD_AXES, one)


def _spectra(given: str, name: str, folder: Folder) -> Mapping[str, Spectrum]:
    """A road of the shipped table, or a spectrum of the brief's folder for its vertical axis."""
    if not given.lower().endswith(".csv"):
        try:
            return road(given)
        except InputError as error:
            line = error.lines[0].removeprefix("road")
            raise InputError(f"{name}{line}; a spectrum of your own is a .csv file") from None
    rows = [row for _, row in folder.rows(given, name, SpectrumRow)]
    spectrum = Spectrum.of(
        frequency=[row.frequency for row in rows],
        density=[row.density for row in rows],
        name=given,
        source=given,
    )
    return {"vertical": spectrum}


def _read_axes(value: Any, name: str) -> Any:
    axes = read_map(value, name, ROAD_AXES, lambda v, at, _: read_choice(v, at, "xyz"))
    if sorted(axes.values()) != ["x", "y", "z"]:
        raise InputError(
            f"{name} = {shown(value)}: give each of {', '.join(ROAD_AXES)} its own case axis "
            "x, y or z"
        )
    return axes


def _read_reasons(value: Any, name: str) -> dict[str, str]:
    if not isinstance(value, Mapping):
        fix = 'write [not_required] and below it "check" = "reason"'
        raise InputError(f"{name} = {shown(value)}: a table is wanted; {fix}")
    if len(value) > MOST_REASONS:
        raise InputError(
            f"{name}: {len(value)} given, at most {MOST_REASONS} can be used; leave some out"
        )
    return read_map(value, name, value, lambda v, at, _: read_text_value(v, at, 200))


_SINE_FREQUENCY = measure(FREQUENCY, 0.1, 5000.0)
_SINE_LEVEL = measure(ACCELERATION, 1e-3 * G0, 100 * G0)
_DWELL = {"at": Field(_read_tone), "level": _SINE_LEVEL, "duration": Time}
_OWN = {
    "name": Field(lambda value, name: read_text_value(value, name, 80)),
    "down": Field(lambda value, name: _DIRECTION.read_array(value, name, (3,)).tolist()),
    "spin": vector(SPIN, -100.0, 100.0),
}
_WALK = {
    "step_rate": measure(STEPS, STEPS.low, STEPS.high),
    "swing": measure(SWING, SWING.low, SWING.high),
}
_SINE = {
    "ways": choices(ROAD_AXES),
    "from": _SINE_FREQUENCY,
    "to": _SINE_FREQUENCY,
    "level": _SINE_LEVEL,
    "displacement": Length,
    "rate": plain(0.01, 100.0),
    "dwell": Field(_read_dwell),
}

_PULSE_TIME = measure(DURATION, 1e-5, 10.0)
_RAMP = measure(DURATION.within(0.0), 0.0, 10.0)
_TRIED = {
    "shape": choice(tuple(shape for shape in SHAPES_OF_PULSES if shape != "record")),
    "duration": _PULSE_TIME,
    "rise": _RAMP,
    "fall": _RAMP,
}
_PULSE = {**_TRIED, "peak": measure(ACCELERATION, 1e-3 * G0, 1e4 * G0)}


def _read_kinds(value: Any, name: str) -> tuple[str, ...]:
    """Names, at least one, none twice."""
    if not isinstance(value, list) or not value:
        raise InputError(f'{name} = {shown(value)}: a list of names is wanted; write ["soft ring"]')
    for n, one in enumerate(value):
        read_text_value(one, f"{name}[{n}]", 80)
        if one in value[:n]:
            raise InputError(f"{name}[{n}] = {shown(one)}: it stands twice; keep one")
    return tuple(value)


def _read_positions(value: Any, name: str) -> Any:
    """Three or more positions, kept as they were written."""
    if not isinstance(value, list) or not 3 <= len(value) <= MOST_PLACES:
        raise InputError(
            f"{name} = {shown(value)}: a list of 3 to {MOST_PLACES} positions is wanted; write "
            '[["-165 mm", "-125 mm", "0 mm"], …]'
        )
    for n, one in enumerate(value):
        POSITION.within(-5.0, 5.0).read_array(one, f"{name}[{n}]", (3,))
    return value


def _read_readings(value: Any, name: str) -> Any:
    if not isinstance(value, list) or not 3 <= len(value) <= MOST_FEET:
        raise InputError(
            f"{name} = {shown(value)}: a list with a reading for each foot is wanted; write "
            "['2.1 kg', …]"
        )
    READING.within(0.0, HEAVIEST).read_array(value, name, (len(value),))
    return value


SheetGiven = Field(_read_sheet)
Pull = Field(_read_pull)
Inertia = Field(_read_inertia)
ForceLaw = Field(_read_curve, "N/mm")
InMotion = Field(_read_stiffness, "N/mm")
Push = Field(_read_push)
Drop = Field(_read_drop)
Height = measure(HEIGHT, 1e-3, 20.0)
PutOn = measure(FORCE.within(0.0), 0.0, 1e6)
Reached = measure(POSITION, -1.0, 1.0)
Sample = plain(0.0, 1000.0)
Going = choice(("up", "down"))
Pushed = plain(1.0, 64.0)
MountKind = choice(tuple(SHAPES))
Faces = choice(FACES_OF_RUBBER)
HardnessGiven = Field(_read_hardness)
CompoundGiven = Field(_read_compound)
Stiffening = Field(_read_stiffening)
DynamicRatio = _banded(1.0, 10.0)
Damping = _banded(0.001, 2.0)
Scatter = plain(0.0, 0.9)
Creep = _banded(0.0, 1.0)
Ageing = plain(-0.5, 1.0)
Strain = plain(0.01, 5.0)
Off = plain(0.0, 10.0)
SineWave = Field(_read_sine)
OwnLandings = Field(_read_own)
TriedPulse = Field(_read_tried)
PulseGiven = Field(_read_pulse, files=True)
PulseAxes = choices(ROAD_AXES)
Moment = measure(INSTANT, -1e3, 1e3)
Jolt = measure(SIGNED, -1e4 * G0, 1e4 * G0)
VelocityChange = measure(SPEED, 1e-3, 100.0)
Walked = Field(_read_walk)
Hands = Field(_read_hands)
FoamThick = measure(SIZE, 1e-3, 1.0)
FoamArea = measure(AREA, 1e-6, 10.0)
FoamStress = measure(PRESSURE, 1.0, 1e8)
FoamGrowth = measure(PER_PRESSURE, 1e-9, 1.0)
FoamStiff = measure(STIFFNESS, 10.0, 1e9)
SetDown = measure(HEIGHT, 1e-3, 0.5, "80 mm")
Reach = measure(SIZE, 0.05, 1.2)
Lift = measure(GAP, 0.0, 2.5)
Twist = measure(TWIST, TWIST.low, TWIST.high)
Often = plain(0.0, 60.0)
Coupling = choice(COUPLING_MULTIPLIER)
Road = Field(_read_road, files=True)
Axes = Field(_read_axes)
Reasons = Field(_read_reasons)
Places = Field(lambda value, name: read_tables(value, name, "[[mounts.place]]", MOST_PLACES))
Legs = Field(lambda value, name: read_tables(value, name, "[[leg]]", MOST_LEGS))
Feet = Field(lambda value, name: read_tables(value, name, "[[payload.weighing.foot]]", MOST_FEET))
Swings = Field(lambda value, name: read_tables(value, name, "[[payload.weighing.swing]]", 3))
Readings = Field(_read_readings)
Obstacles = Field(lambda value, name: read_tables(value, name, "[[case.obstacle]]", MOST_SOLIDS))
Ribs = Field(lambda value, name: read_tables(value, name, "[[case.rib]]", MOST_SOLIDS))
Age = measure(DURATION, 1.0, 2e9)
Stacking = choice(STACKING)
Stackings = choices(STACKING)
Stock = Field(lambda value, name: int(number(value, name, 0, 1e6)))
HowMany = Field(lambda value, name: int(number(value, name, 1, 3)))
Rows = Field(lambda value, name: int(number(value, name, 1, 8)))
Spread = vector(SIZE, 0.0, 5.0, 2)
Kinds = Field(_read_kinds)
PositionList = Field(_read_positions)
Patterns = Field(lambda v, name: read_tables(v, name, "[[choose.pattern]]", MOST_PATTERNS))
Conditions = Field(lambda value, name: read_tables(value, name, "[[condition]]", MOST_CONDITIONS))
Cables = Field(lambda value, name: read_tables(value, name, "[[cable]]", MOST_CABLES))
Anything = Field(lambda value, name: value)


class PayloadTable(Table):
    """What floats."""

    head: ClassVar[str] = "[payload]"
    size: Annotated[Any, Size]
    mass: Annotated[Any, Mass] = None
    parts: Annotated[Any, FileName] = None
    centre: Annotated[Any, Position] = None
    inertia: Annotated[Any, Inertia] = None
    fragility: Annotated[Any, Specific] = None
    fragility_pulse: Annotated[Any, TriedPulse] = None
    critical_velocity: Annotated[Any, VelocityChange] = None
    running_fragility: Annotated[Any, Specific] = None
    vibration_limit: Annotated[Any, Specific] = None
    bending: Annotated[Any, Frequency] = None
    power: Annotated[Any, Watts] = None
    mains: Annotated[Any, YesNo] = None
    lithium: Annotated[Any, YesNo] = None
    mass_within: Annotated[Any, MassWithin] = None
    centre_within: Annotated[Any, Within] = None
    weighing: Annotated[Any, Anything] = None
    source: Annotated[Any, Title] = ""


class WeighingTable(Table):
    """What a scale said about it."""

    head: ClassVar[str] = "[payload.weighing]"
    resolution: Annotated[Any, Resolution]
    foot: Annotated[Any, Feet]
    total: Annotated[Any, Mass] = None
    feet_height: Annotated[Any, At] = None
    centre_height: Annotated[Any, At] = None
    tilt: Annotated[Any, Anything] = None
    swing: Annotated[Any, Swings] = ()


class FootTable(Table):
    """One foot on the scale."""

    head: ClassVar[str] = "[[payload.weighing.foot]]"
    position: Annotated[Any, InPlan]
    reading: Annotated[Any, Reading]


class TiltTable(Table):
    """The same feet with one end raised."""

    head: ClassVar[str] = "[payload.weighing.tilt]"
    raised: Annotated[Any, End]
    readings: Annotated[Any, Readings]
    rise: Annotated[Any, Length] = None
    rise_within: Annotated[Any, Gap] = None
    angle: Annotated[Any, Angle] = None
    angle_within: Annotated[Any, AngleWithin] = None


class SwingTable(Table):
    """A pendulum, or a twist on two strings."""

    head: ClassVar[str] = "[[payload.weighing.swing]]"
    axis: Annotated[Any, Axis]
    period: Annotated[Any, Period]
    pivot: Annotated[Any, Length] = None
    strings: Annotated[Any, Length] = None
    apart: Annotated[Any, Length] = None


class CaseTable(Table):
    """What it floats in."""

    head: ClassVar[str] = "[case]"
    floor: Annotated[Any, Gap] = None
    lid: Annotated[Any, Gap] = None
    left_end: Annotated[Any, Gap] = None
    right_end: Annotated[Any, Gap] = None
    handle_side: Annotated[Any, Gap] = None
    hinge_side: Annotated[Any, Gap] = None
    measured: Annotated[Any, Datum] = None
    mass: Annotated[Any, Mass] = None
    size: Annotated[Any, Size] = None
    centre: Annotated[Any, Position] = None
    tolerance: Annotated[Any, Gap] = None
    restitution: Annotated[Any, Share] = None
    stopping_time: Annotated[Any, Stopping] = None
    wall: Annotated[Any, Stop] = None
    cushion: Annotated[Any, Anything] = None
    parts: Annotated[Any, FileName] = None
    sum: Annotated[Any, Summing] = "worst case"
    inside: Annotated[Any, Anything] = None
    gaps: Annotated[Any, FileName] = None
    obstacle: Annotated[Any, Obstacles] = ()
    obstacles: Annotated[Any, FileName] = None
    rib: Annotated[Any, Ribs] = ()


class InsideTable(Table):
    """The contour of the room."""

    head: ClassVar[str] = "[case.inside]"
    size: Annotated[Any, Size]
    draft: Annotated[Any, Draft] = None
    corner_radius: Annotated[Any, Gap] = None
    floor_radius: Annotated[Any, Gap] = None
    floor: Annotated[Any, Gap] = None
    middle: Annotated[Any, Pair] = None


class CushionTable(Table):
    """Foam outside."""

    head: ClassVar[str] = "[case.cushion]"
    name: Annotated[Any, Name] = "foam"
    thickness: Annotated[Any, FoamThick]
    area: Annotated[Any, FoamArea] = None
    initial_stress: Annotated[Any, FoamStress] = None
    growth: Annotated[Any, FoamGrowth] = None
    points: Annotated[Any, FileName] = None
    stiffness: Annotated[Any, FoamStiff] = None
    loss_factor: Annotated[Any, LossFactor] = None
    glued: Annotated[Any, YesNo] = False
    source: Annotated[Any, Title] = ""


class CushionRow(Table):
    """A point of a cushion curve."""

    static_stress: Annotated[Any, FoamStress]
    height: Annotated[Any, Height]
    thickness: Annotated[Any, FoamThick]
    peak: Annotated[Any, Specific]


class CornerRow(Table):
    """A row of a table of gaps by corner."""

    end: Annotated[Any, AtEnd]
    side: Annotated[Any, AtSide]
    level: Annotated[Any, AtLevel]
    to_end: Annotated[Any, Gap] = None
    to_side: Annotated[Any, Gap] = None
    to_level: Annotated[Any, Gap] = None


class ObstacleTable(Table):
    """What stands in the case."""

    head: ClassVar[str] = "[[case.obstacle]]"
    name: Annotated[Any, Name]
    position: Annotated[Any, Position]
    size: Annotated[Any, Size]
    on_lid: Annotated[Any, YesNo] = False


class ObstacleRow(Table):
    """A row of a table of obstacles."""

    name: Annotated[Any, Name]
    x: Annotated[Any, At]
    y: Annotated[Any, At]
    z: Annotated[Any, At]
    size_x: Annotated[Any, Length]
    size_y: Annotated[Any, Length]
    size_z: Annotated[Any, Length]
    on_lid: Annotated[Any, YesNo] = False


class RibTable(Table):
    """A rib on a wall."""

    head: ClassVar[str] = "[[case.rib]]"
    name: Annotated[Any, Name]
    wall: Annotated[Any, Wall]
    width: Annotated[Any, Length]
    height: Annotated[Any, Length]
    at: Annotated[Any, At]


class MountTable(Table):
    """One kind of mount: stated, or from its shape, weights, a thumb or its rating."""

    head: ClassVar[str] = "[mount.NAME]"
    along: Annotated[Any, ForceLaw] = None
    across: Annotated[Any, ForceLaw] = None
    dynamic_ratio: Annotated[Any, DynamicRatio] = None
    dynamic_along: Annotated[Any, InMotion] = None
    dynamic_across: Annotated[Any, InMotion] = None
    loss_factor: Annotated[Any, Damping] = None
    kind: Annotated[Any, MountKind] = None
    hardness: Annotated[Any, HardnessGiven] = None
    compound: Annotated[Any, CompoundGiven] = None
    faces: Annotated[Any, Faces] = None
    filled: Annotated[Any, YesNo] = None
    length: Annotated[Any, Length] = None
    width: Annotated[Any, Length] = None
    thickness: Annotated[Any, Length] = None
    diameter: Annotated[Any, Length] = None
    bore: Annotated[Any, Length] = None
    cord: Annotated[Any, Length] = None
    sleeve: Annotated[Any, Length] = None
    sleeve_length: Annotated[Any, Length] = None
    hole: Annotated[Any, Length] = None
    flange: Annotated[Any, Length] = None
    flange_thickness: Annotated[Any, Length] = None
    panel: Annotated[Any, Length] = None
    washer: Annotated[Any, Length] = None
    groove: Annotated[Any, Length] = None
    core: Annotated[Any, Length] = None
    tube: Annotated[Any, Length] = None
    tube_length: Annotated[Any, Length] = None
    draw: Annotated[Any, Gap] = None
    weights: Annotated[Any, FileName] = None
    weights_across: Annotated[Any, FileName] = None
    ruler: Annotated[Any, Length] = None
    push_force: Annotated[Any, Force] = None
    push_travel: Annotated[Any, Length] = None
    push_mounts: Annotated[Any, Pushed] = None
    rated_load: Annotated[Any, Force] = None
    peak_load: Annotated[Any, Force] = None
    fastening_load: Annotated[Any, Force] = None
    travel: Annotated[Any, Length] = None
    travel_across: Annotated[Any, Length] = None
    stop: Annotated[Any, Stop] = None
    stock: Annotated[Any, Stock] = None
    captive: Annotated[Any, YesNo] = None
    cold_temperature: Annotated[Any, Celsius] = None
    cold_factor: Annotated[Any, ColdFactor] = None
    stiffening: Annotated[Any, Stiffening] = None
    cold_loss_factor: Annotated[Any, LossFactor] = None
    within: Annotated[Any, Scatter] = None
    scatter: Annotated[Any, Scatter] = None
    creep: Annotated[Any, Creep] = None
    ageing: Annotated[Any, Ageing] = None
    rubber_along: Annotated[Any, Length] = None
    rubber_across: Annotated[Any, Length] = None
    squeeze_limit: Annotated[Any, Strain] = None
    shear_limit: Annotated[Any, Strain] = None
    pull_limit: Annotated[Any, Off] = None
    grade: Annotated[Any, Grade] = None
    source: Annotated[Any, Title] = None


class MountRow(MountTable):
    """A row of a mounts table."""

    name: Annotated[Any, Name]


class WeightRow(Table):
    """A reading of a weights test."""

    mass: Annotated[Any, Reading] = None
    force: Annotated[Any, PutOn] = None
    deflection: Annotated[Any, Reached]
    sample: Annotated[Any, Sample] = 1
    going: Annotated[Any, Going] = "up"


class PartRow(Table):
    """A row of a parts table."""

    name: Annotated[Any, Name]
    mass: Annotated[Any, Mass]
    x: Annotated[Any, At]
    y: Annotated[Any, At]
    z: Annotated[Any, At]
    shape: Annotated[Any, Shape] = "box"
    size_x: Annotated[Any, Length] = None
    size_y: Annotated[Any, Length] = None
    size_z: Annotated[Any, Length] = None
    axis: Annotated[Any, Axis] = "z"
    kind: Annotated[Any, PartKind] = "other"
    vibration_limit: Annotated[Any, Specific] = None
    fragility: Annotated[Any, Specific] = None
    resonance: Annotated[Any, Frequency] = None
    amplification: Annotated[Any, Amplification] = None
    speed: Annotated[Any, Turning] = None
    blades: Annotated[Any, Blades] = None
    board_length: Annotated[Any, Length] = None
    board_thickness: Annotated[Any, Length] = None
    component_length: Annotated[Any, Length] = None
    component_place: Annotated[Any, ComponentPlace] = None
    component: Annotated[Any, Component] = None


class RecordRow(Table):
    """A sample of a recorded pulse."""

    most: ClassVar[int] = 10_000

    time: Annotated[Any, Moment]
    acceleration: Annotated[Any, Jolt]


class SpectrumRow(Table):
    """A row of a spectrum."""

    frequency: Annotated[Any, Frequency]
    density: Annotated[Any, Density]


class MountsTable(Table):
    """Which mounts, and where."""

    head: ClassVar[str] = "[mounts]"
    table: Annotated[Any, FileName] = None
    use: Annotated[Any, Name] = None
    inset: Annotated[Any, Inset] = None
    height: Annotated[Any, At] = None
    push: Annotated[Any, Push] = "-z"
    stacking: Annotated[Any, Stacking] = "one"
    sheet: Annotated[Any, SheetGiven] = None
    flatness: Annotated[Any, Unevenness] = None
    hole_tolerance: Annotated[Any, Unevenness] = None
    place: Annotated[Any, Places] = ()


class PlaceTable(Table):
    """A mount at its place."""

    head: ClassVar[str] = "[[mounts.place]]"
    position: Annotated[Any, Position]
    mount: Annotated[Any, Name] = None
    push: Annotated[Any, Push] = None
    stacking: Annotated[Any, Stacking] = None
    sheet: Annotated[Any, SheetGiven] = None


class ChooseTable(Table):
    """What else the payload could hang on."""

    head: ClassVar[str] = "[choose]"
    mounts: Annotated[Any, Kinds] = None
    stacking: Annotated[Any, Stackings] = ("one",)
    kinds: Annotated[Any, HowMany] = 1
    pattern: Annotated[Any, Patterns] = ()


class PatternTable(Table):
    """Places for mounts: each alone, or a rectangle of rows and columns."""

    head: ClassVar[str] = "[[choose.pattern]]"
    name: Annotated[Any, Name]
    positions: Annotated[Any, PositionList] = None
    spread: Annotated[Any, Spread] = None
    columns: Annotated[Any, Rows] = 2
    rows: Annotated[Any, Rows] = 2
    middle: Annotated[Any, InPlan] = None
    height: Annotated[Any, At] = None
    push: Annotated[Any, Push] = None


class CableTable(Table):
    """A cable, hose or strap."""

    head: ClassVar[str] = "[[cable]]"
    name: Annotated[Any, Name]
    position: Annotated[Any, Position]
    stiffness: Annotated[Any, Pull]
    loss_factor: Annotated[Any, LossFactor] = None


class LegTable(Table):
    """One part of the trip."""

    head: ClassVar[str] = "[[leg]]"
    name: Annotated[Any, Name]
    attitude: Annotated[Any, Attitude] = "lid up"
    duration: Annotated[Any, Time] = None
    temperature: Annotated[Any, Celsius] = None
    road: Annotated[Any, Road] = None
    axes: Annotated[Any, Axes] = None
    level: Annotated[Any, Multiplier] = 1.0
    crest: Annotated[Any, Ratio] = 1.0
    drop: Annotated[Any, Drop] = None
    landings: Annotated[Any, Landings] = tuple(ATTITUDES)
    lid: Annotated[Any, Lid] = "closed"
    own: Annotated[Any, OwnLandings] = ()
    set_down: Annotated[Any, SetDown] = None
    slap_down: Annotated[Any, Slap] = None
    topple: Annotated[Any, Attitudes] = ()
    sine: Annotated[Any, SineWave] = None
    pulse: Annotated[Any, PulseGiven] = None
    pulse_axes: Annotated[Any, PulseAxes] = None
    running: Annotated[Any, YesNo] = False
    walk: Annotated[Any, Walked] = None
    tied: Annotated[Any, YesNo] = None


class ConditionTable(Table):
    """What else the case may have to stand."""

    head: ClassVar[str] = "[[condition]]"
    name: Annotated[Any, Name]
    temperature: Annotated[Any, Celsius] = None
    age: Annotated[Any, Age] = None
    heavier: Annotated[Any, Mass] = None
    attitude: Annotated[Any, Attitude] = None


class CarryTable(Table):
    """A lift of the whole case by hand."""

    head: ClassVar[str] = "[carry]"
    hands: Annotated[Any, Hands] = None
    horizontal: Annotated[Any, Reach] = None
    height: Annotated[Any, Lift] = None
    lift: Annotated[Any, Lift] = None
    angle: Annotated[Any, Twist] = None
    lifts_per_minute: Annotated[Any, Often] = None
    duration: Annotated[Any, Time] = None
    coupling: Annotated[Any, Coupling] = None


class BriefTable(Table):
    """The whole file."""

    head: ClassVar[str] = "no table, at the top of the file"
    name: Annotated[Any, Title] = ""
    note: Annotated[Any, Anything] = ""
    attitudes: Annotated[Any, Attitudes] = tuple(ATTITUDES)
    payload: Annotated[Any, Anything]
    case: Annotated[Any, Anything]
    mounts: Annotated[Any, Anything]
    mount: Annotated[Any, Anything] = None
    frame: Annotated[Any, Anything] = None
    cable: Annotated[Any, Cables] = ()
    leg: Annotated[Any, Legs]
    date: Annotated[Any, Day] = None
    age: Annotated[Any, Age] = None
    stored: Annotated[Any, Attitude] = "lid up"
    condition: Annotated[Any, Conditions] = ()
    carry: Annotated[Any, Anything] = None
    choose: Annotated[Any, Anything] = None
    not_required: Annotated[Any, Reasons] = None


class FrameTable(Table):
    """A further body that floats in the case."""

    head: ClassVar[str] = "[frame.NAME]"
    at: Annotated[Any, Position]
    payload: Annotated[Any, Anything]
    mounts: Annotated[Any, Anything]
    gaps: Annotated[Any, Anything] = None
    cable: Annotated[Any, Cables] = ()
    on_lid: Annotated[Any, YesNo] = False


class GapsTable(Table):
    """The gaps of a further body."""

    head: ClassVar[str] = "[frame.NAME.gaps]"
    floor: Annotated[Any, Gap] = None
    lid: Annotated[Any, Gap] = None
    left_end: Annotated[Any, Gap] = None
    right_end: Annotated[Any, Gap] = None
    handle_side: Annotated[Any, Gap] = None
    hinge_side: Annotated[Any, Gap] = None

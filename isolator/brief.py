"""A case as one file: TOML, with parts, mounts and spectra in CSV for those who need them.

Every mistake of a brief is reported in one run, a line each: file, key, value, what is wrong and
what to write instead. Keys count from 1: ``leg[2].drop`` is the drop of the second leg.
"""

from __future__ import annotations

import copy
import csv
import difflib
import io
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError
from pydantic_core import PydanticCustomError

from isolator.case import FACES, Case
from isolator.design import Design
from isolator.mount import PUSHES, Mount, Place
from isolator.payload import Part, Payload
from isolator.suspension import ATTITUDES
from isolator.trip import ROAD_AXES, Leg, Spectrum, road
from isolator.units import (
    ACCELERATION,
    DURATION,
    FORCE,
    GAP,
    HEIGHT,
    INERTIA,
    MASS,
    POSITION,
    SIZE,
    STIFFNESS,
    TEMPERATURE,
    InputError,
    Kind,
    number,
    si_array,
)

LARGEST_FILE = 1_000_000
"""A brief or a table is refused above this size. [bytes]"""

T = TypeVar("T")


def _door(read: Callable[[Any, str], object]) -> Any:
    """A pydantic type that lets the door judge a value and passes it on as it was written."""

    def judge(value: Any) -> Any:
        try:
            read(value, "@")
        except InputError as error:
            raise PydanticCustomError("door", "{line}", {"line": error.lines[0]}) from None
        return value

    return Annotated[Any, PlainValidator(judge)]


def _one(kind: Kind, low: float, high: float) -> Any:
    return _door(kind.within(low, high, example=kind.example).read)


def _vector(kind: Kind, low: float, high: float, count: int = 3) -> Any:
    limits = kind.within(low, high, example=kind.example)
    return _door(lambda value, name: limits.read_array(value, name, (count,)))


def _number(low: float, high: float) -> Any:
    return _door(lambda value, name: number(value, name, low, high))


Mass = _one(MASS, 1e-3, 500.0)
Size = _vector(SIZE, 1e-3, 5.0)
Length = _one(SIZE, 1e-5, 1.0)
Gap = _one(GAP, 0.0, 2.0)
Position = _vector(POSITION, -5.0, 5.0)
Height = _one(HEIGHT, 1e-3, 20.0)
Force = _one(FORCE, 1e-2, 1e6)
Celsius = _one(TEMPERATURE, -90.0, 150.0)
Time = _one(DURATION, 1.0, 3.2e7)
Specific = _one(ACCELERATION, 9.80665e-3, 9.80665e4)
Stiffness = STIFFNESS.within(10.0, 1e7, example="12 N/mm")
Attitude = Literal[tuple(ATTITUDES)]  # type: ignore[valid-type]
Push = Literal[tuple(PUSHES)]  # type: ignore[valid-type]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


def _curve_or_stiffness(value: Any, name: str) -> object:
    if isinstance(value, Mapping):
        return Mount(name="", along=value, across=value, dynamic_ratio=1.0)
    return Stiffness.read(value, name)


class PayloadTable(_Table):
    """What floats."""

    size: Size
    mass: Mass | None = None
    parts: str | None = None
    centre: Position | None = None
    inertia: Any = None
    fragility: Specific | None = None
    vibration_limit: Specific | None = None
    source: str = ""


class CaseTable(_Table):
    """What it floats in."""

    floor: Gap | None = None
    lid: Gap | None = None
    left_end: Gap | None = None
    right_end: Gap | None = None
    handle_side: Gap | None = None
    hinge_side: Gap | None = None
    measured: Literal["hanging", "out"] = "hanging"
    mass: Mass | None = None
    size: Size | None = None
    tolerance: Gap | None = None
    restitution: _number(0.0, 1.0) | None = None  # type: ignore[valid-type]


class MountTable(_Table):
    """One kind of mount, in the brief or as a row of a table."""

    along: _door(_curve_or_stiffness)  # type: ignore[valid-type]
    across: _door(_curve_or_stiffness)  # type: ignore[valid-type]
    dynamic_ratio: _number(1.0, 10.0)  # type: ignore[valid-type]
    loss_factor: _number(0.001, 2.0) | None = None  # type: ignore[valid-type]
    rated_load: Force | None = None
    peak_load: Force | None = None
    travel: Length | None = None
    travel_across: Length | None = None
    captive: bool | None = None
    cold_temperature: Celsius | None = None
    cold_factor: _number(1.0, 1000.0) | None = None  # type: ignore[valid-type]
    cold_loss_factor: _number(0.001, 2.0) | None = None  # type: ignore[valid-type]
    grade: Literal["measured", "curve", "geometry", "rating"] | None = None
    source: str = ""


class PlaceTable(_Table):
    """A mount at its place."""

    position: Position
    mount: str | None = None
    push: Push | list[float] = "-z"


class MountsTable(_Table):
    """Which mounts, and where."""

    table: str | None = None
    use: str | None = None
    inset: _vector(POSITION, -1.0, 5.0, 2) | None = None  # type: ignore[valid-type]
    height: _one(POSITION, -5.0, 5.0) | None = None  # type: ignore[valid-type]
    push: Push = "-z"
    place: list[PlaceTable] = Field(default_factory=list, max_length=200)


class LegTable(_Table):
    """One part of the trip."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    attitude: Attitude = "lid up"
    duration: Time | None = None
    temperature: Celsius | None = None
    road: str | dict[Literal["vertical", "transverse", "longitudinal"], str] | None = None
    axes: dict[Literal["vertical", "transverse", "longitudinal"], Literal["x", "y", "z"]] | None = (
        None
    )
    level: _number(1e-3, 100.0) = 1.0  # type: ignore[valid-type]
    crest: _number(1.0, 10.0) = 1.0  # type: ignore[valid-type]
    drop: Literal["none"] | Height | None = None
    landings: list[Attitude] = list(ATTITUDES)


class BriefTable(_Table):
    """The whole file."""

    name: Annotated[str, Field(max_length=200)] = ""
    note: str = ""
    attitudes: list[Attitude] = list(ATTITUDES)
    payload: PayloadTable
    case: CaseTable
    mounts: MountsTable
    mount: dict[str, MountTable] = Field(default_factory=dict)
    leg: list[LegTable] = Field(min_length=1, max_length=50)
    not_required: dict[str, Annotated[str, Field(min_length=1)]] = Field(default_factory=dict)


class PartRow(_Table):
    """A row of a parts table."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    mass: Mass
    position: Position
    shape: Literal["box", "cylinder", "point"] = "box"
    size: Size | None = None
    axis: Literal["x", "y", "z"] = "z"


@dataclass(frozen=True)
class Brief:
    """A brief as it was read: the design, and the text that it came from.

    Attributes
    ----------
    design : Design
    text : mapping
        The TOML tables as written.
    mounts : mapping
        All kinds of mounts that the brief defines, used or not.
    folder : Path
    file : str
        Name of the file, for messages.
    assumed : tuple of str
        What the brief left out and what was taken instead, a sentence each.
    """

    design: Design
    text: Mapping[str, Any]
    mounts: Mapping[str, Mount]
    folder: Path
    file: str
    assumed: tuple[str, ...]

    def changed(self, key: str, value: Any) -> Brief:
        """The same brief with one value replaced.

        Parameters
        ----------
        key : str
            ``case.floor``, ``mounts.place[3].mount``; numbers count from 1.
        value : as in the file

        Raises
        ------
        InputError
            As for a file with that value.
        """
        text = copy.deepcopy(dict(self.text))
        *path, last = _path(key)
        table: Any = text
        for step in path:
            table = table[step]
        table[last] = value
        return _build(text, self.folder, self.file)


def _path(key: str) -> list[str | int]:
    """Steps of a key as it stands in messages."""
    steps: list[str | int] = []
    for part in re.findall(r"[^.\[\]]+|\[[0-9]+\]", key):
        steps.append(int(part[1:-1]) - 1 if part.startswith("[") else part)
    return steps


def read_brief(path: str | Path) -> Brief:
    """Read and validate a brief.

    Parameters
    ----------
    path : str or Path
        The TOML file. The tables that it names are looked for in its own folder.

    Raises
    ------
    InputError
        Everything that is unusable, a line each.
    """
    path = Path(path)
    if path.is_dir():
        raise InputError(f"{path.name} is a folder: give the brief in it, such as case.toml")
    raw = _read_text(path, path.name)
    try:
        text = tomllib.loads(raw)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        problem = "tables nested without end" if isinstance(error, RecursionError) else str(error)
        raise InputError(
            f"{path.name}: not readable as TOML: {problem}; texts stand in quotes, "
            'such as mass = "7.8 kg"'
        ) from None
    return _build(text, path.parent, path.name)


def _read_text(path: Path, name: str) -> str:
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise InputError(
                f"{name} is larger than {LARGEST_FILE} bytes: a brief or table is short; "
                "check that this is the right file"
            )
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(
            f"{name}: no such file; `isolator new FOLDER` writes a case to start from"
        ) from None
    except UnicodeDecodeError:
        raise InputError(f"{name}: not text in UTF-8; save it as plain UTF-8 text") from None
    except OSError as error:
        reason = error.strerror or "cannot be read"
        raise InputError(f"{name}: not readable ({reason}); check the path") from None


def _lines(error: ValidationError, file: str, start: str, model: type[BaseModel]) -> Iterator[str]:
    """One line for each mistake that the validation found."""
    seen = set()
    for item in error.errors():
        loc = [
            step for step in item["loc"]
            if not (isinstance(step, str) and (step.startswith(("function-", "literal[", "list["))
                    or step in ("str", "constrained-str")))
            and not (isinstance(step, str) and step.startswith("dict["))
        ]
        key = start + _key(loc)
        if key in seen:
            continue
        seen.add(key)
        shown = repr(item["input"])
        shown = shown if len(shown) <= 60 else shown[:57] + "..."
        match item["type"]:
            case "door":
                yield f"{file}: " + item["ctx"]["line"].replace("@", key, 1)
            case "extra_forbidden":
                known = _fields(model, loc[:-1])
                nearest = difflib.get_close_matches(str(loc[-1]), known, n=1, cutoff=0.5)
                fix = f"{nearest[0]!r} meant?" if nearest else f"known are {', '.join(known)}"
                yield f"{file}: {key} = {shown}: unknown key; {fix}"
            case "missing":
                yield f"{file}: {key} is missing: the verdict needs it; add it"
            case "literal_error":
                yield (
                    f"{file}: {key} = {shown}: not one of the choices; "
                    f"write {item['ctx']['expected']}"
                )
            case _:
                yield f"{file}: {key} = {shown}: {item['msg'][0].lower()}{item['msg'][1:]}"


def _key(loc: Sequence[str | int]) -> str:
    text = ""
    for step in loc:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}"
    return text.removeprefix(".")


def _fields(model: type[BaseModel], loc: Sequence[str | int]) -> list[str]:
    """Keys that the table at `loc` may have."""
    tables: dict[str, type[BaseModel]] = {
        "payload": PayloadTable,
        "case": CaseTable,
        "mounts": MountsTable,
        "place": PlaceTable,
        "leg": LegTable,
        "mount": MountTable,
    }
    names = [step for step in loc if isinstance(step, str) and step in tables]
    return list((tables[names[-1]] if names else model).model_fields)


class _Errors:
    """Gathers the lines of everything that is wrong."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def run(self, where: str, make: Callable[[], T]) -> T | None:
        try:
            return make()
        except InputError as error:
            self.lines += [f"{where}{line}" for line in error.lines]
        return None

    def stop(self) -> None:
        if self.lines:
            raise InputError(*dict.fromkeys(self.lines))


def _build(text: Mapping[str, Any], folder: Path, file: str) -> Brief:
    errors = _Errors()
    try:
        table = BriefTable.model_validate(text)
    except ValidationError as error:
        raise InputError(*_lines(error, file, "", BriefTable)) from None
    except RecursionError:
        raise InputError(f"{file}: tables nested without end; a brief is two deep") from None

    mounts: dict[str, Mount] = {}
    for name, row in table.mount.items():
        made = errors.run(f"{file}: mount.{name}: ", lambda n=name, r=row: _mount(n, r))
        if made:
            mounts[name] = made
    if table.mounts.table is not None:
        errors.run("", lambda: _read_mounts(table, folder, file, mounts))
    payload = errors.run(f"{file}: ", lambda: _payload(table.payload, folder, file))
    case = errors.run(f"{file}: ", lambda: Case(**table.case.model_dump()))
    legs = [
        errors.run(f"{file}: leg[{n}]: ", lambda leg=leg, n=n: _leg(leg, folder, file, n))
        for n, leg in enumerate(table.leg, start=1)
    ]
    errors.stop()
    assert payload is not None
    assert case is not None
    places = errors.run(f"{file}: ", lambda: _places(table.mounts, mounts, payload))
    errors.stop()
    design = errors.run(
        f"{file}: ",
        lambda: Design(
            payload=payload,
            case=case,
            places=places or (),
            legs=[leg for leg in legs if leg is not None],
            attitudes=tuple(table.attitudes),
            not_required=table.not_required,
            name=table.name,
        ),
    )
    errors.stop()
    assert design is not None
    return Brief(design, text, mounts, folder, file, tuple(_assumed(design)))


def _mount(name: str, row: MountTable) -> Mount:
    return Mount(name=name, **row.model_dump())


def _payload(table: PayloadTable, folder: Path, file: str) -> Payload:
    limits = {"fragility": table.fragility, "vibration_limit": table.vibration_limit}
    if table.parts is None:
        if table.mass is None:
            raise InputError(
                "payload.mass is missing: weigh what floats, or name a parts table in "
                "payload.parts"
            )
        payload = Payload(**table.model_dump(exclude={"parts"}))
    else:
        given = [n for n in ("mass", "centre", "inertia") if getattr(table, n) is not None]
        if given:
            raise InputError(
                f"payload.{given[0]} stands beside payload.parts: the parts table gives it; "
                "keep one of the two"
            )
        parts = _read_parts(table.parts, folder)
        payload = Payload.of_parts(parts, size=table.size, **limits)
        half = si_array(payload, "size") / 2
        lines = []
        for row, part in enumerate(parts, start=1):
            at = si_array(part, "position")
            out = np.abs(at) > 3 * half
            if out.any():
                k = int(out.argmax())
                lines.append(
                    f"{table.parts}: row {row} ({part.name}): {'xyz'[k]} = "
                    f"{POSITION.text(at[k])} lies far outside the payload's box of "
                    f"{SIZE.text(2 * half[k])}: a slip of units? Positions count from its middle"
                )
        if lines:
            raise InputError(*lines)
    half = si_array(payload, "size") / 2
    centre = payload.centre_of_gravity()
    if (np.abs(centre) > half).any():
        k = int((np.abs(centre) > half).argmax())
        raise InputError(
            f"payload.centre: {'xyz'[k]} = {POSITION.text(centre[k])} lies outside the payload's "
            f"box of {SIZE.text(2 * half[k])}; it counts from the middle of the box"
        )
    return payload


def _leg(table: LegTable, folder: Path, file: str, n: int) -> Leg:
    spectra: dict[str, Spectrum] = {}
    if isinstance(table.road, str) and table.road != "none":
        spectra = dict(_spectra(table.road, folder))
    elif isinstance(table.road, Mapping):
        for way, name in table.road.items():
            found = _spectra(name, folder)
            spectra[way] = found[way] if way in found else found["vertical"]
    return Leg(
        name=table.name,
        attitude=table.attitude,
        duration=table.duration,
        temperature=table.temperature,
        road=spectra,
        vibrates=table.road != "none",
        axes=table.axes,
        level=table.level,
        crest=table.crest,
        drop=None if table.drop == "none" else table.drop,
        drops=table.drop != "none",
        landings=tuple(table.landings),
    )


def _spectra(name: str, folder: Path) -> Mapping[str, Spectrum]:
    """A road of the shipped table, or a spectrum of the brief's folder for its vertical axis."""
    if not name.lower().endswith(".csv"):
        return road(name)
    rows = _read_rows(name, folder)
    header = {"frequency", "density"}
    if not rows or set(rows[0]) != header:
        raise InputError(
            f"{name}: a spectrum has the columns frequency [Hz] and density [g0^2/Hz]"
        )
    lists = {key: [row[key] for row in rows] for key in header}
    if None in lists["frequency"] or None in lists["density"]:
        raise InputError(f"{name}: a cell is empty; every line needs a frequency and a density")
    return {
        "vertical": Spectrum.of(
            frequency=lists["frequency"], density=lists["density"], name=name, source=name
        )
    }


def _places(table: MountsTable, mounts: Mapping[str, Mount], payload: Payload) -> list[Place]:
    def kind(name: str | None, key: str) -> Mount:
        if name is None and len(mounts) == 1:
            return next(iter(mounts.values()))
        if name is None:
            raise InputError(
                f"{key} is missing: name one of the mounts {', '.join(mounts) or '(none defined)'}"
            )
        if name not in mounts:
            nearest = difflib.get_close_matches(name, mounts, n=1, cutoff=0.5)
            hint = f"{nearest[0]!r} meant?" if nearest else f"known are {', '.join(mounts)}"
            raise InputError(f"{key} = {name!r}: no such mount; {hint}")
        return mounts[name]

    errors = _Errors()
    places: list[Place] = []
    half = si_array(payload, "size") / 2
    if table.inset is not None:
        if table.place or table.height is None:
            raise InputError(
                "mounts.inset goes with mounts.height (and not with mounts.place): four mounts "
                "that far in from the edges of the payload's box, at that height from its middle"
            )
        inset = POSITION.read_array(table.inset, "mounts.inset", (2,))
        height = POSITION.read(table.height, "mounts.height")
        if (inset >= half[:2]).any():
            k = int((inset >= half[:2]).argmax())
            raise InputError(
                f"mounts.inset[{k + 1}] = {POSITION.text(inset[k])} reaches the middle of the "
                f"payload's box of {SIZE.text(2 * half[k])}: the mounts would meet or cross; "
                "give less"
            )
        x, y = half[:2] - inset
        mount = kind(table.use, "mounts.use")
        for at in ((-x, -y, height), (x, -y, height), (-x, y, height), (x, y, height)):
            places.append(
                Place(mount=mount, position=POSITION.quantity(np.array(at)), push=table.push)
            )
    elif not table.place:
        raise InputError(
            "mounts: no mount has a place; give mounts.inset and mounts.height for four in a "
            "rectangle, or a [[mounts.place]] for each"
        )
    for n, row in enumerate(table.place, start=1):
        key = f"mounts.place[{n}]"
        place = errors.run(
            "",
            lambda row=row, key=key: Place(
                mount=kind(row.mount or table.use, f"{key}.mount"),
                position=row.position,
                push=row.push,
            ),
        )
        if place is None:
            continue
        at = si_array(place, "position")
        far = np.abs(at) > half + np.maximum(2 * half, 0.3)
        if far.any():
            k = int(far.argmax())
            errors.lines.append(
                f"{key}.position: {'xyz'[k]} = {POSITION.text(at[k])} lies far outside the "
                f"payload's box of {SIZE.text(2 * half[k])}: a slip of units? Positions count "
                "from its middle"
            )
        places.append(place)
    errors.stop()
    return places


def _inside(name: str, folder: Path) -> Path:
    """A file of the brief's own folder; links that lead out of it are refused too."""
    path = folder / name
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError):
        inside = False
    if not inside or Path(name).is_absolute():
        raise InputError(
            f"{name!r:.80} lies outside the folder of the brief: a brief reads files of its own "
            "folder only; copy the file there"
        )
    return path


_HEADER = re.compile(r"^\s*(?P<name>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]+)\])?\s*$")


def _read_rows(name: str, folder: Path) -> list[dict[str, str | None]]:
    """Rows of a CSV, cells as text with the unit of their header; empty cells are None."""
    raw = _read_text(_inside(name, folder), name)
    lines = [line for line in raw.splitlines() if not line.lstrip().startswith("#")]
    try:
        table = [row for row in csv.reader(io.StringIO("\n".join(lines)), strict=True) if row]
    except csv.Error as error:
        raise InputError(f"{name}: not readable as CSV: {error}; check its quotes") from None
    if not table:
        raise InputError(f"{name} is empty: give a header with units and at least one row")
    heads = [_HEADER.match(cell) for cell in table[0]]
    columns = [(h["name"].strip().lower().replace(" ", "_"), h["unit"]) if h else ("", None)
               for h in heads]
    problems = [f"{name}: column {n} has no readable header; write name [unit]"
                for n, (column, _) in enumerate(columns, start=1) if not column]
    names = [column for column, _ in columns]
    problems += [f"{name}: the column {c!r} stands twice; keep one"
                 for c in dict.fromkeys(names) if names.count(c) > 1]
    rows: list[dict[str, str | None]] = []
    for n, cells in enumerate(table[1:], start=1):
        if len(cells) != len(columns):
            problems.append(
                f"{name}: row {n} has {len(cells)} cells, the header {len(columns)}; a decimal "
                "comma? Write 1.5, and put texts with commas into double quotes"
            )
            continue
        rows.append({
            column: (f"{cell.strip()} {unit}" if unit else cell.strip()) if cell.strip() else None
            for (column, unit), cell in zip(columns, cells, strict=True)
        })
    if problems:
        raise InputError(*problems)
    return rows


def _validated(
    name: str, rows: Sequence[Mapping[str, Any]], model: type[T], label: str
) -> list[T]:
    lines: list[str] = []
    out: list[T] = []
    for n, row in enumerate(rows, start=1):
        given = {key: value for key, value in row.items() if value is not None}
        try:
            out.append(model.model_validate(given))  # type: ignore[attr-defined]
        except ValidationError as error:
            where = f"{name}: row {n} ({row.get('name') or label})"
            lines += _lines(error, where, "", model)  # type: ignore[arg-type]
    if lines:
        raise InputError(*lines)
    return out


def _read_parts(name: str, folder: Path) -> list[Part]:
    rows = []
    for row in _read_rows(name, folder):
        cells: dict[str, Any] = dict(row)
        at = [cells.pop(axis, None) for axis in "xyz"]
        size = [cells.pop(f"size_{axis}", None) for axis in "xyz"]
        if any(v is not None for v in at):
            cells["position"] = at
        if any(v is not None for v in size):
            cells["size"] = size
        rows.append(cells)
    if not rows:
        raise InputError(f"{name}: the parts table is empty; list at least one part under the header")
    table = _validated(name, rows, PartRow, "part")
    errors = _Errors()
    parts = [
        errors.run(f"{name}: row {n}: ", lambda row=row: Part(**row.model_dump()))
        for n, row in enumerate(table, start=1)
    ]
    errors.stop()
    return [part for part in parts if part is not None]


class MountRow(MountTable):
    """A row of a mounts table."""

    name: Annotated[str, Field(min_length=1, max_length=80)]


def _read_mounts(table: BriefTable, folder: Path, file: str, mounts: dict[str, Mount]) -> None:
    name = table.mounts.table or ""
    rows = _validated(name, _read_rows(name, folder), MountRow, "mount")
    if not rows:
        raise InputError(f"{name}: no mount under the header; list at least one")
    errors = _Errors()
    for n, row in enumerate(rows, start=1):
        if row.name in mounts:
            errors.lines.append(
                f"{name}: row {n}: the name {row.name!r} is used twice; give each mount its own"
            )
            continue
        made = errors.run(f"{name}: row {n}: ", lambda row=row: Mount(**row.model_dump()))
        if made:
            mounts[row.name] = made
    errors.stop()


def _assumed(design: Design) -> Iterator[str]:
    """What the brief left out and what was taken instead."""
    payload, case = design.payload, design.case
    if payload.centre is None:
        yield "the centre of gravity is in the middle of the payload's box (payload.centre)"
    if payload.inertia is None:
        yield (
            "the inertia is that of a uniform box, and half to five thirds of it "
            "(payload.inertia or payload.parts)"
        )
    if case.restitution is None:
        yield (
            "the shell stays on the floor where it lands; one that rebounds with 0.4 of its speed "
            "adds up to 40 % to the peak (case.restitution)"
        )
    if case.tolerance is None:
        yield "the build is exact: no tolerance on the gaps (case.tolerance)"
    if case.mass is None:
        yield "the shell is heavy beside the payload (case.mass)"
    elif MASS.read(case.mass, "case.mass") < MASS.read(payload.mass, "payload.mass"):
        yield (
            "the shell counts as heavy although it is lighter than the payload: "
            "with one contact a light shell gives lower peaks, rebounds can give higher ones"
        )
    for leg in design.legs:
        if leg.vibrates and leg.road and leg.crest == 1.0:
            yield f"the road of {leg.name} is Gaussian; real roads peak higher (leg.crest)"

"""A case as one file: TOML, with parts, mounts and spectra in CSV for those who need them.

Every mistake of a brief is reported in one run, a line each: file, key, value, what is wrong and
what to write instead. Keys count from 1: ``leg[2].drop`` is the drop of the second leg.
"""

from __future__ import annotations

import copy
import hashlib
import json
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from isolator.cable import Cable
from isolator.case import Case
from isolator.cushion import Cushion, CushionPoint
from isolator.design import MAIN, Design, key_of
from isolator.estimate import mount_fields, push_measured
from isolator.fields import Table, meant, read_table, read_text_value, safe, shown, some_of
from isolator.grid import AS_GIVEN, Grid, Pattern
from isolator.inside import FACES, CornerGap, Inside, Obstacle, Rib
from isolator.lifting import Carry
from isolator.mount import Mount, Place, with_bands
from isolator.payload import OF_FRAGILITY, Part, Payload
from isolator.schema import (
    MOST_CABLES,
    MOST_CONDITIONS,
    MOST_FEET,
    MOST_FRAMES,
    MOST_KINDS,
    MOST_LEGS,
    MOST_PLACES,
    MOST_SOLIDS,
    BriefTable,
    CableTable,
    CarryTable,
    CaseTable,
    ChooseTable,
    ConditionTable,
    CornerRow,
    CushionRow,
    CushionTable,
    FootTable,
    FrameTable,
    GapsTable,
    InsideTable,
    LegTable,
    MountRow,
    MountsTable,
    MountTable,
    ObstacleRow,
    ObstacleTable,
    PartRow,
    PatternTable,
    PayloadTable,
    PlaceTable,
    RibTable,
    SwingTable,
    TiltTable,
    WeighingTable,
    WeightRow,
)
from isolator.slips import (
    body_word,
    collisions,
    contradictions,
    far,
    far_parts,
    not_before,
    odd_body,
    odd_inertia,
    too_far,
    unusable_names,
)
from isolator.suspension import ATTITUDES
from isolator.tables import Folder, read_text
from isolator.trip import Condition, Leg
from isolator.units import (
    FORCE,
    G0,
    MASS,
    POSITION,
    SIZE,
    FloatArray,
    InputError,
    si,
    si_array,
)
from isolator.weighing import Foot, Swing, Tilt, Weighing
from isolator.weights import Measured, WeightsTest, measure

T = TypeVar("T")
Row = TypeVar("Row", bound=Table)

MOST_DOTS, MOST_DOTS_IN_ALL, MOST_HEADS = 1000, 50_000, 10_000
"""Dots in one line of a brief and in all of it, for reading a key takes the square of its dots in
time; lines that begin with a bracket."""

DEEPEST = 12
"""Tables and lists in each other; what is copied and printed later goes down as deep."""

GAPS = tuple(face.replace(" ", "_") for face in FACES)
"""Keys of the gaps of a case."""

PUSH = ("push_force", "push_travel", "push_mounts")

RULER = 5e-4
"""Steps to which deflections are read where nobody says, half those of a ruler. [m]"""

# What stands in for something unusable, so that the rest is judged in the same run.
_ANY_PAYLOAD = Payload(mass="1 kg", size=["5 m"] * 3)
_ANY_MOUNT = Mount(name="any", along="1 N/mm", across="1 N/mm", dynamic_ratio=1.0)


@dataclass(frozen=True)
class Brief:
    """A brief as it was read: the design, and the text that it came from.

    Attributes
    ----------
    design : Design
        The main payload.
    frames : mapping
        Further bodies that float in the same case, by name: designs of the same trip.
    text : mapping
        The TOML tables as written.
    mounts : mapping
        All kinds of mounts that the brief defines, used or not.
    grid : Grid
        What else the payload could hang on.
    folder : Folder
        Its tables, as they were read; a changed brief reads them no second time.
    file : str
        Name of the file, for messages.
    """

    design: Design
    frames: Mapping[str, Design]
    text: Mapping[str, Any]
    mounts: Mapping[str, Mount]
    grid: Grid
    folder: Folder
    file: str

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
            The brief has no table for that key, and as for a file with that value.
        """
        tables = copy.deepcopy(dict(self.text))
        *path, last = _path(key)
        table: Any = tables
        try:
            for step in path:
                table = table[step]
            table[last] = value
        except (LookupError, TypeError):
            raise InputError(
                f"{key}: {self.file} has no such table; name a key as messages do, such as "
                "case.floor or leg[1].drop"
            ) from None
        return _Reading(tables, self.folder, self.file).brief()

    def written(self, name: str) -> dict[str, Any]:
        """The fields of a kind of mount, as its table or its row of a file has them."""
        if name in self.text.get("mount", {}):
            return dict(self.text["mount"][name])
        file = self.text["mounts"]["table"]
        for _, row in self.folder.rows(file, "mounts.table", MountRow):
            if row.name == name:
                return dict(row.model_dump(exclude={"name"}, exclude_none=True))
        raise InputError(f"mount {name!r}: no such kind; write one of {some_of(self.mounts)}")

    def inputs(self) -> dict[str, Any]:
        """The brief as it was written and the files that it names, for JSON."""
        text = json.loads(json.dumps(self.text, default=str))
        return {"file": self.file, "brief": text, "files": dict(sorted(self.folder.texts.items()))}

    def fingerprint(self) -> str:
        """SHA-256 of its values and the files it names; comments in the brief do not count."""
        given = self.inputs()
        kept = {key: given[key] for key in ("brief", "files")}
        text = json.dumps(kept, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()

    def with_tables(self, tables: Mapping[str, Any]) -> Brief:
        """The same brief with some of its tables replaced, or added.

        Raises
        ------
        InputError
            As for a file with those tables.
        """
        return _Reading({**self.text, **tables}, self.folder, self.file).brief()


def _path(key: str) -> list[str | int]:
    """Steps of a key as it stands in messages."""
    return [
        int(index) - 1 if index else word
        for word, index in re.findall(r"([^.\[\]]+)(?![^\[]*\])|\[([0-9]+)\]", key)
    ]


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
    given = _toml(read_text(path, str(path)), path.name)
    return _Reading(given, Folder(path.parent), path.name).brief()


def read_mounts(path: str | Path) -> dict[str, Mount]:
    """Read a CSV with kinds of mounts, as ``mounts.table`` of a brief names one.

    Parameters
    ----------
    path : str or Path
        Files of weights tests that it names are looked for in its own folder.

    Returns
    -------
    dict of name to Mount

    Raises
    ------
    InputError
        Everything that is unusable, a line each.

    Examples
    --------
    The invented catalogue that is shipped:

    >>> from isolator.sources import data_file
    >>> print(read_mounts(str(data_file("catalogue.csv")))["bobbin 1"].grade)
    geometry
    """
    path = Path(path)
    reading = _Reading({}, Folder(path.parent), path.name)
    mounts = {
        row.name: reading.mount(where, row, row.name)
        for where, row in reading.folder.rows(path.name, "the table", MountRow)
    }
    if reading.lines:
        raise InputError(*reading.lines)
    return {name: mount for name, mount in mounts.items() if mount}


def _toml(raw: str, file: str) -> dict[str, Any]:
    lines = re.split(r"\r?\n", raw)
    heads = sum(line.startswith("[") for line in lines)
    if heads > MOST_HEADS or raw.count(".") > MOST_DOTS_IN_ALL:
        much = f"{heads} tables" if heads > MOST_HEADS else f"{raw.count('.')} dots"
        raise InputError(f"{file}: {much}, more than any brief needs; check that it is one")
    for number, line in enumerate(lines, start=1):
        if line.count(".") > MOST_DOTS:
            raise InputError(
                f"{file}: line {number} has more than {MOST_DOTS} dots, which no brief needs; "
                "shorten it"
            )
    try:
        given = tomllib.loads(raw)
        if _deeper(given, DEEPEST):
            raise RecursionError
        return given
    except RecursionError:
        raise InputError(
            f"{file}: lists or tables nested too deeply; a brief has tables in tables at most"
        ) from None
    except ValueError as error:  # its own kind, or a number that Python does not take
        where, problem = file, "a number has too many digits"
        if isinstance(error, tomllib.TOMLDecodeError):
            problem = str(error)
        if at := re.search(r" \(at line ([0-9]+), column [0-9]+\)$", problem):
            where = f"{file}: line {at[1]}, {shown(lines[int(at[1]) - 1].strip())}"
            problem = problem[: at.start()]
        raise InputError(
            f"{where}: not readable as TOML ({problem}); a line is key = value, texts in double "
            'quotes: mass = "7.8 kg"'
        ) from None


def _deeper(given: object, most: int) -> bool:
    """Whether there are more than so many tables or lists in each other."""
    level: list[Any] = [given]
    for _ in range(most):
        tables = (v.values() if isinstance(v, dict) else v for v in level)
        level = [v for inside in tables for v in inside if isinstance(v, dict | list)]
    return bool(level)


class _Reading:
    """Reads the tables of a brief and gathers a line for everything that is wrong.

    What is unusable has its line and is None from then on; the rest is judged without it.
    """

    def __init__(
        self, given: Mapping[str, Any], folder: Folder, file: str, name: str = MAIN
    ) -> None:
        self.given, self.folder, self.file, self.name = given, folder, file, name
        self.start = f"{file}: " if name == MAIN else f"{file}: frame.{body_word(name)}."
        self.lines: list[str] = []
        self.frames = self.frame_readings() if name == MAIN else {}

    def frame_readings(self) -> dict[str, _Reading]:
        """Readers of the tables of further bodies, which have the keys of the main one."""
        given = self.given.get("frame", {})
        if not isinstance(given, Mapping):
            self.note([f"frame = {shown(given)}: a table is wanted; write [frame.NAME] for each"])
            return {}
        stray = [name for name, value in given.items() if not isinstance(value, Mapping)]
        if stray:
            first = f"frame.{safe(stray[0])} = {shown(given[stray[0]])}"
            self.note([f"{first}: a body needs a name; write [frame.NAME] above its keys"])
            return {}
        if len(given) > MOST_FRAMES:
            self.note(
                [f"frame: {len(given)} given, at most {MOST_FRAMES} can be used; leave some out"]
            )
        if MAIN in given:
            self.note([f"frame.{MAIN}: [{MAIN}] is the main one's name; give this body another"])
        return {
            name: _Reading(value, self.folder, self.file, name)
            for name, value in list(given.items())[:MOST_FRAMES]
            if name != MAIN
        }

    def brief(self) -> Brief:
        """Everything, or an InputError with all lines."""
        top = self.table(BriefTable, self.given, "")
        attitudes = top.attitudes if top else tuple(ATTITUDES)
        legs = self.legs()
        payload = self.payload()
        case, before = self.case()
        carry, conditions = self.carry(), self.conditions()
        mounts = self.mounts()
        hung = self.hung(mounts, payload or _ANY_PAYLOAD)
        self.note(contradictions(attitudes, legs))
        self.note(unusable_names(self.frames, legs, case))
        if case and payload:
            size = si_array(payload, "size")
            if not hung:
                self.note(case.misfits(size))
        bodies = {
            name: reading.body(mounts, [n for n in (MAIN, *self.frames) if n != name])
            for name, reading in self.frames.items()
        }
        mass = sum(si(body.payload, "mass") for body in bodies.values() if body.payload)
        mass += si(payload or _ANY_PAYLOAD, "mass")
        waived = (top and top.not_required) or {}

        def trip(own: Payload | None, **more: Any) -> Design:
            beside = mass - si(own or _ANY_PAYLOAD, "mass")
            return Design(
                payload=own or _ANY_PAYLOAD,
                legs=[leg for leg in legs if leg] or [Leg(name="any")],
                attitudes=attitudes,
                date=top.date if top else None,
                age=top.age if top else None,
                stored=top.stored if top else "lid up",
                carry=carry,
                beside=MASS.quantity(beside) if beside > 0 else None,
                **more,
            )

        design = None
        if hung:
            make = partial(
                trip,
                payload,
                case=(payload and case) or Case(),
                not_required=waived,
                name=top.name if top else "",
                stands_before=before,
                conditions=[condition for condition in conditions if condition],
                **hung,
            )
            design = self.made(self.start, make)
        frames: dict[str, Design] = {}
        for name, body in bodies.items():
            reading = self.frames[name]
            made = reading.design(body, partial(trip, body.payload), case, payload, waived)
            self.lines += map(reading.named, reading.lines)
            frames |= {name: made} if made else {}
        boxes = {name: body.box for name, body in bodies.items() if body.box}
        if payload:
            boxes[MAIN] = (np.zeros(3), si_array(payload, "size"))
        self.note(collisions(boxes))
        self.note(too_far(boxes, case))
        self.note(not_before({MAIN: before} | {n: b.before for n, b in bodies.items()}, boxes))
        grid = self.grid(mounts, hung["places"], payload or _ANY_PAYLOAD) if hung else None
        if self.lines or not design or not grid:
            raise InputError(*dict.fromkeys(self.lines))
        usable = {name: mount for name, mount in (mounts or {}).items() if mount}
        return Brief(design, frames, self.given, usable, grid, self.folder, self.file)

    def body(self, mounts: Mapping[str, Mount | None] | None, others: Sequence[str]) -> _Body:
        """The tables of a further body, as far as they are usable."""
        table = self.table(FrameTable, self.given, "")
        payload = self.payload()
        gaps, before = self.gaps(self.part_of("gaps"), "gaps.", GapsTable, others)
        at = POSITION.read_array(table.at, "at", (3,)) if table else None
        return _Body(
            payload=payload,
            at=at,
            on_lid=bool(table and table.on_lid),
            hung=self.hung(mounts or None, payload or _ANY_PAYLOAD),
            gaps=dict(gaps) if gaps else {},
            before=before,
        )

    def design(
        self,
        body: _Body,
        trip: Callable[..., Design],
        case: Case | None,
        main: Payload | None,
        waived: Mapping[str, str],
    ) -> Design | None:
        """A further body on its mounts; its waivers have its name before their ids."""
        if (hung := body.hung) is None:
            return None
        start = f"{self.name}: "
        own = {key: why for key, why in waived.items() if key.startswith(start)}

        def make() -> Design:
            around, at = Case(), body.at
            if case and main and body.payload and at is not None:
                size, other = si_array(main, "size"), si_array(body.payload, "size")
                around = case.around(at, size, other, body.gaps)
            return trip(
                case=around,
                not_required=own | {k.removeprefix(start): why for k, why in own.items()},
                name=self.name,
                at=None if at is None else POSITION.quantity(at),
                stands_before=body.before,
                on_lid=body.on_lid,
                **hung,
            )

        try:
            return make()
        except InputError as error:
            self.lines += [self.of_the_trip(line) for line in error.lines]
            return None

    def of_the_trip(self, line: str) -> str:
        """What is wrong with a further body; a line about the trip is one for all bodies."""
        if re.match(r"(?:leg|attitudes)\b", line):
            return f"{self.file}: {line}"
        known = key_of(body_word(self.name), re.sub(r"^[A-Z]\w*\.", "case.", line))
        if known != line and not known.startswith("case."):
            return f"{self.file}: {known}"
        return f"{self.file}: frame.{body_word(self.name)}: {known}"

    def named(self, line: str) -> str:
        """A line about a further body with the keys and heads that it has."""
        key = f"frame.{body_word(self.name)}."
        line = re.sub(r"(\[\[?)(?=(?:payload|mounts|cable)\b)", r"\1frame.NAME.", line)
        return re.sub(r"(?<![\w.])(?=(?:payload|mounts)\.\w)", lambda _: key, line)

    def hung(
        self, mounts: Mapping[str, Mount | None] | None, payload: Payload
    ) -> dict[str, Any] | None:
        """What a payload hangs on, as a design takes it; None if some of it is unusable."""
        places, cables = self.places(mounts, payload), self.cables(payload)
        seats = self.part_of("mounts")
        seats = seats if isinstance(seats, Mapping) else {}
        if not places:
            return None
        unknown = any(place.mount is _ANY_MOUNT for place in places)
        return {
            "places": places,
            "cables": [] if unknown else [cable for cable in cables if cable],
            "flatness": seats.get("flatness"),
            "hole_tolerance": seats.get("hole_tolerance"),
        }

    def gaps(
        self, given: object, key: str, model: type[Row], others: Sequence[str]
    ) -> tuple[Row | None, dict[str, str]]:
        """A table with the gaps of a body, without those faces before which another one stands."""
        before: dict[str, str] = {}
        if isinstance(given, Mapping) and others:
            words = {k: v for k in GAPS if isinstance(v := given.get(k), str)}
            before = {k: v for k, v in words.items() if v in others}
            wrong = {
                k: v for k, v in words.items() if k not in before and not re.search("[0-9]", v)
            }
            self.note(
                f"{key}{k} = {shown(v)}: neither a length nor another body; {meant(v, others)}"
                for k, v in wrong.items()
            )
            given = {k: v for k, v in given.items() if k not in before and k not in wrong}
        return self.table(model, given, key), {k.replace("_", " "): v for k, v in before.items()}

    def note(self, lines: Iterable[str]) -> None:
        """Lines that begin with the key."""
        self.lines += [f"{self.start}{line}" for line in lines]

    def got(self, make: Callable[[], T]) -> T | None:
        """What is made, or None; its lines are complete."""
        try:
            return make()
        except InputError as error:
            self.lines += error.lines
            return None

    def made(self, where: str, make: Callable[[], T]) -> T | None:
        """The same for an object, whose lines begin with the name of its class."""
        try:
            return make()
        except InputError as error:
            self.lines += [where + re.sub(r"^[A-Z]\w*\.", "", line) for line in error.lines]
            return None

    def table(self, model: type[Row], given: object, key: str) -> Row | None:
        """A table of the brief; `key` ends with a point, or is empty for the whole file."""
        return self.got(lambda: read_table(model, given, self.start + key, self.folder))

    def part_of(self, key: str) -> Any:
        """What stands under a key of the file, an empty table if nothing: that has its line."""
        return self.given.get(key, {})

    def rows(self, name: str, key: str, model: type[Row]) -> list[tuple[str, Row]] | None:
        """The CSV whose name stands under a key of a table, None if it is unusable or absent.

        It is read even where something else in that table is wrong.
        """
        table = self.part_of(name)
        given = table.get(key) if isinstance(table, Mapping) else None
        if not isinstance(given, str):
            return None
        at = f"{self.start}{name}.{key}"
        return self.got(lambda: self.folder.rows(given, at, model))

    def case(self) -> tuple[Case | None, dict[str, str]]:
        """The case, and which body stands before which of its walls."""
        if "case" not in self.given:
            return None, {}
        table, before = self.gaps(self.given["case"], "case.", CaseTable, list(self.frames))
        inside, cushion = self.inside(), self.cushion()
        parts = [self.part(where, row) for where, row in self.rows("case", "parts", PartRow) or ()]
        gaps = [self.corner_gap(*row) for row in self.rows("case", "gaps", CornerRow) or ()]
        obstacles, ribs = self.obstacles(), self.ribs()
        if table is None or None in (*parts, *gaps, *obstacles, *ribs):
            return None, before
        if (table.inside is not None and inside is None) or (table.parts and not parts):
            return None, before
        if table.cushion is not None and cushion is None:
            return None, before
        files = {"inside", "cushion", "parts", "gaps", "obstacle", "obstacles", "rib"}
        given = table.model_dump(exclude=files)
        case = self.made(
            f"{self.start}case.",
            lambda: Case(
                **given,
                inside=inside,
                cushion=cushion,
                parts=[part for part in parts if part],
                gaps=[gap for gap in gaps if gap],
                obstacles=[obstacle for obstacle in obstacles if obstacle],
                ribs=[rib for rib in ribs if rib],
            ),
        )
        return case, before

    def listed(self, name: str, model: type[Row]) -> Iterator[tuple[str, Row | None]]:
        """The tables of a list in [case], each with what stands before its lines."""
        table = self.part_of("case")
        given = table.get(name, []) if isinstance(table, Mapping) else []
        for n, row in enumerate(given[:MOST_SOLIDS] if isinstance(given, list) else [], start=1):
            key = f"case.{name}[{n}]."
            yield self.start + key, self.table(model, row, key)

    def inside(self) -> Inside | None:
        """The contour of the room."""
        table = self.part_of("case")
        given = table.get("inside") if isinstance(table, Mapping) else None
        row = None if given is None else self.table(InsideTable, given, "case.inside.")
        if row is None:
            return None
        return self.made(f"{self.start}case.inside.", lambda: Inside(**dict(row)))

    def cushion(self) -> Cushion | None:
        """The foam outside, one that has a load-deflection curve."""
        table = self.part_of("case")
        given = table.get("cushion") if isinstance(table, Mapping) else None
        if given is None:
            return None
        row = self.table(CushionTable, given, "case.cushion.")
        file = given.get("points") if isinstance(given, Mapping) else None
        at = f"{self.start}case.cushion.points"
        rows: Sequence[tuple[str, CushionRow]] | None = ()
        if isinstance(file, str):
            rows = self.got(lambda: self.folder.rows(file, at, CushionRow))
        if row is None or rows is None:
            return None
        points = [CushionPoint(**dict(line)) for _, line in rows]
        try:
            foam = Cushion(**dict(row) | {"points": points})
            foam.curve()
        except InputError as error:
            start = f"Cushion {row.name!r:.60}"
            self.lines += [f"{self.start}case.cushion{m.removeprefix(start)}" for m in error.lines]
            return None
        return foam

    def corner_gap(self, where: str, row: CornerRow) -> CornerGap | None:
        """The gaps at a corner."""
        return self.made(where, lambda: CornerGap(**dict(row)))

    def obstacles(self) -> list[Obstacle | None]:
        """Obstacles of the brief and of its table, None for an unusable one."""
        out = [
            self.made(where, partial(Obstacle, **dict(row))) if row else None
            for where, row in self.listed("obstacle", ObstacleTable)
        ]
        for where, line in self.rows("case", "obstacles", ObstacleRow) or ():
            at, size = (line.x, line.y, line.z), (line.size_x, line.size_y, line.size_z)
            make = partial(Obstacle, name=line.name, position=at, size=size, on_lid=line.on_lid)
            out.append(self.made(where, make))
        return out

    def ribs(self) -> list[Rib | None]:
        """Ribs on the walls, None for an unusable one."""
        return [
            self.made(where, partial(Rib, **dict(row))) if row else None
            for where, row in self.listed("rib", RibTable)
        ]

    def carry(self) -> Carry | None:
        """The lift by hand."""
        if "carry" not in self.given:
            return None
        table = self.table(CarryTable, self.given["carry"], "carry.")
        return self.made(f"{self.start}carry.", lambda: Carry(**dict(table))) if table else None

    def payload(self) -> Payload | None:
        """The payload, as given, as the sum of its parts or as it was weighed."""
        if "payload" not in self.given:
            return None
        table = self.table(PayloadTable, self.given["payload"], "payload.")
        rows = self.rows("payload", "parts", PartRow)
        parts = [self.part(where, row) for where, row in rows or ()]
        self.note(
            f"payload.{key} stands without fragility, the peak that it goes with; add fragility"
            for key in OF_FRAGILITY
            if table and table.fragility is None and getattr(table, key) is not None
        )
        given = self.given["payload"]
        if isinstance(given, Mapping) and "weighing" in given:
            return _holding(self.weighed(table, given["weighing"], rows, parts), table)
        if table is None:
            return None
        if table.parts is None:
            if table.mass is None:
                self.note(
                    ["payload.mass is missing: weigh what floats, name a parts table in "
                     "payload.parts, or give the readings of a scale in [payload.weighing]"]
                )  # fmt: skip
                return None
            where = f"{self.start}payload."
            elsewhere = ("parts", "weighing")
            known = {k: v for k, v in dict(table).items() if k not in elsewhere}
            known |= _survives(table)
            payload = self.made(where, lambda: Payload(**known))
        else:
            beside = [key for key in ("mass", "centre", "inertia") if key in table.model_fields_set]
            self.note(
                f"payload.{key} stands beside payload.parts, which gives it too; keep one of them"
                for key in beside
            )
            usable = [part for part in parts if part]
            if beside or not usable or len(usable) < len(parts):
                return None
            where = f"{table.parts}: sum of the parts: "
            payload = self.made(
                where,
                lambda: Payload.of_parts(
                    usable,
                    size=table.size,
                    **_survives(table),
                    mass_within=table.mass_within,
                    centre_within=table.centre_within,
                    **({"source": table.source} if table.source else {}),
                ),
            )
            self.lines += far_parts(rows or (), usable, payload or _ANY_PAYLOAD)
        if payload:
            odd = [*odd_body(payload), *([] if table.parts else odd_inertia(payload))]
            self.lines += [where + line for line in odd]
        return _holding(payload, table)

    def weighed(
        self,
        table: PayloadTable | None,
        given: object,
        rows: Sequence[tuple[str, PartRow]] | None,
        parts: Sequence[Part | None],
    ) -> Payload | None:
        """The payload by the readings of a scale; parts beside them give what it cannot."""
        size = ["5 m"] * 3 if table is None else table.size
        weighing = self.weighing(given, size)
        if table is None:
            return None
        beside = ("mass", "mass_within", "centre", "centre_within")
        twice = [f"payload.{key}" for key in beside if key in table.model_fields_set]
        self.note(
            f"{key} stands beside payload.weighing, which gives it too; keep one of them"
            for key in twice
        )
        over = weighing is not None and weighing.swings
        if table.inertia is not None and (table.parts is not None or over):
            other = "swing" if over else "parts"
            twice.append("payload.inertia")
            self.note(
                [f"payload.inertia stands beside {other}, which gives it too; keep one of them"]
            )
        usable = [part for part in parts if part]
        if weighing is None or twice or len(usable) < len(parts) or (table.parts and not usable):
            return None
        payload = self.made(
            f"{self.start}payload.weighing.",
            lambda: weighing.payload(
                parts=usable,
                inertia=table.inertia,
                **_survives(table),
                **({"source": table.source} if table.source else {}),
            ),
        )
        if payload:
            self.lines += far_parts(rows or (), usable, payload)
            measured = table.parts is None or weighing.swings
            odd = [*odd_body(payload), *(odd_inertia(payload) if measured else ())]
            self.lines += [f"{self.start}payload.weighing: {line}" for line in odd]
        return payload

    def weighing(self, given: object, size: Any) -> Weighing | None:
        """What a scale said, None if some of it is unusable."""
        key = "payload.weighing."
        table = self.table(WeighingTable, given, key)
        written = given if isinstance(given, Mapping) else {}
        before = len(self.lines)

        def each(name: str, model: type[Row], make: Callable[..., T]) -> list[T | None]:
            found = written.get(name, [])
            numbered = enumerate(found[:MOST_FEET] if isinstance(found, list) else [], start=1)
            return [self.item(f"{key}{name}[{n}].", value, model, make) for n, value in numbered]

        feet, swings = each("foot", FootTable, Foot), each("swing", SwingTable, Swing)
        tilt = None
        if "tilt" in written:
            tilt = self.item(f"{key}tilt.", written["tilt"], TiltTable, Tilt)
        if table is None or len(self.lines) > before:
            return None
        box = SIZE.read_array(size, "size", (3,))[:2]
        for n, foot in enumerate(filter(None, feet), start=1):
            lines = far(si_array(foot, "position"), box)
            self.note(f"{key}foot[{n}].position: {line}" for line in lines)
        return self.made(
            self.start + key,
            lambda: Weighing(
                size=size,
                resolution=table.resolution,
                feet=tuple(filter(None, feet)),
                total=table.total,
                feet_height=table.feet_height,
                centre_height=table.centre_height,
                tilt=tilt,
                swings=tuple(filter(None, swings)),
            ),
        )

    def item(self, key: str, given: object, model: type[Row], make: Callable[..., T]) -> T | None:
        """An object whose fields are those of its table."""
        row = self.table(model, given, key)
        return None if row is None else self.made(self.start + key, lambda: make(**dict(row)))

    def part(self, where: str, row: PartRow) -> Part | None:
        """A part of a row."""
        size = [row.size_x, row.size_y, row.size_z]
        if None in size and any(size):
            self.lines.append(
                f"{where}size {'xyz'[size.index(None)]} is empty; give all three, or none for a "
                "point"
            )
            return None
        apart = {"x", "y", "z", "size_x", "size_y", "size_z"}
        return self.made(
            where,
            lambda: Part(
                position=[row.x, row.y, row.z],
                size=size if any(size) else None,
                **row.model_dump(exclude=apart),
            ),
        )

    def mounts(self) -> dict[str, Mount | None] | None:
        """All kinds by name, None for an unusable one; None if even their names are not known."""
        given = self.part_of("mount")
        mounts: dict[str, Mount | None] = {}
        if not isinstance(given, Mapping):
            self.note([f"mount = {shown(given)}: a table is wanted; write [mount.NAME] for each"])
            return None
        stray = [name for name, value in given.items() if not isinstance(value, Mapping)]
        if stray:
            first = f"mount.{safe(stray[0])} = {shown(given[stray[0]])}"
            self.note([f"{first}: a kind of mount needs a name; write [mount.NAME] above its keys"])
            return None
        if len(given) > MOST_KINDS:
            self.note(
                [f"mount: {len(given)} given, at most {MOST_KINDS} can be used; leave some out"]
            )
            return None
        for name, value in given.items():
            key = f"mount.{safe(name)}."
            mounts[name] = self.mount(self.start + key, self.table(MountTable, value, key), name)
        complete, read = True, list[object]()
        for reading in (self, *self.frames.values()):
            table = reading.part_of("mounts")
            rows = reading.rows("mounts", "table", MountRow)
            file = table.get("table") if isinstance(table, Mapping) else None
            complete &= isinstance(table, Mapping) and (rows is not None or file is None)
            for where, row in () if rows is None or file in read else rows:
                if row.name in mounts:
                    other = f"the brief has a [mount.{safe(row.name)}] too"
                    if row.name not in given:
                        other = f"another table has a mount {shown(row.name)} too"
                    self.lines.append(f"{where}{other}; give each its own name")
                mounts[row.name] = self.mount(where, row, row.name)
            read.append(file)
        return mounts if complete else None

    def mount(self, where: str, row: MountTable | None, name: str) -> Mount | None:
        """A kind of mount."""
        if row is None or self.got(lambda: read_text_value(name, f"{where}name", 80)) is None:
            return None
        files = ("weights", "weights_across")
        tests = self.tests(where, row)
        if tests is None:
            return None
        keep = row.model_dump(exclude={*files, "ruler", *PUSH, "name"}, exclude_none=True)
        return self.made(
            where,
            lambda: Mount(**(with_bands(mount_fields(keep, tests)) | {"name": name})),
        )

    def tests(self, where: str, row: MountTable) -> dict[str, Measured] | None:
        """What weights and a thumb say of a kind of mount; None if some of it is unusable."""
        out: dict[str, Measured] = {}
        lines = len(self.lines)
        ruler = RULER if row.ruler is None else SIZE.read(row.ruler, "ruler")
        for way, file in (("along", row.weights), ("across", row.weights_across)):
            if file is None:
                continue
            key = "weights" if way == "along" else "weights_across"
            rows = self.got(partial(self.folder.rows, file, f"{where}{key}", WeightRow))
            found = None if rows is None else self.weighed_mount(f"{where}{key}: ", rows, ruler)
            out |= {way: found} if found else {}
        pushed = [getattr(row, key) for key in PUSH]
        if any(value is not None for value in pushed):
            absent = [k for k, v in zip(PUSH, pushed, strict=True) if v is None]
            self.lines += [
                f"{where}{key} is missing: a push has all three; add it" for key in absent
            ]
            if row.weights is not None:
                self.lines.append(f"{where}push_force stands beside weights; keep the weights")
            elif not absent:
                out["along"] = push_measured(
                    FORCE.read(row.push_force, "push_force"),
                    SIZE.read(row.push_travel, "push_travel"),
                    int(row.push_mounts),
                )
        return out if len(self.lines) == lines else None

    def weighed_mount(
        self, where: str, rows: Sequence[tuple[str, WeightRow]], ruler: float
    ) -> Measured | None:
        """A weights test of a file."""
        lines = [
            f"{at}give mass or force, one of them"
            for at, row in rows
            if (row.mass is None) == (row.force is None)
        ]
        if lines:
            self.lines += lines
            return None
        load = [
            MASS.within(0.0).read(row.mass, "mass") * G0
            if row.force is None
            else FORCE.within(0.0).read(row.force, "force")
            for _, row in rows
        ]
        try:
            return measure(
                WeightsTest(
                    np.array(load),
                    np.array([POSITION.read(row.deflection, "deflection") for _, row in rows]),
                    np.array([int(row.sample) for _, row in rows]),
                    np.array([row.going == "up" for _, row in rows]),
                    ruler,
                )
            )
        except ValueError as error:
            self.lines.append(f"{where}{error}")
            return None

    def places(self, mounts: Mapping[str, Mount | None] | None, payload: Payload) -> list[Place]:
        """The mounts in their places; none if one of them is unusable."""
        if "mounts" not in self.given:
            return []
        given = self.given["mounts"]
        table = self.table(MountsTable, given, "mounts.")
        written = given.get("place", []) if isinstance(given, Mapping) else []
        written = written[:MOST_PLACES] if isinstance(written, list) else []
        rows = [
            self.table(PlaceTable, row, f"mounts.place[{n}].")
            for n, row in enumerate(written, start=1)
        ]
        if table is None:
            return []
        if table.inset is not None or table.height is not None:
            if written or table.inset is None or table.height is None:
                self.note(
                    ["mounts.inset and mounts.height go together, and not with mounts.place: four "
                     "mounts so far in from the edges of the payload's box, at that height from "
                     "its middle; give both alone"]
                )  # fmt: skip
                return []
            kind = self.kind(mounts, table.use, "mounts.use")
            return self.rectangle(
                table, self.stacked(kind, table.stacking, "mounts.stacking"), payload
            )
        if not written:
            self.note(
                ["mounts: no mount has a place; give mounts.inset and mounts.height for four in a "
                 "rectangle, or a [[mounts.place]] for each"]
            )  # fmt: skip
        places = []
        for n, row in enumerate(rows, start=1):
            if row is None:
                continue
            if row.mount is None and table.use is not None:
                kind = self.kind(mounts, table.use, "mounts.use")
            else:
                kind = self.kind(mounts, row.mount, f"mounts.place[{n}].mount")
            push = table.push if row.push is None else row.push
            sheet = table.sheet if row.sheet is None else row.sheet
            key = f"mounts.place[{n}]."
            stacking = table.stacking if row.stacking is None else row.stacking
            kind = self.stacked(kind, stacking, f"{key}stacking")
            places.append(self.place(key, kind, row.position, push, sheet, payload))
        usable = [place for place in places if place]
        return usable if len(usable) == len(rows) else []

    def rectangle(self, table: MountsTable, kind: Mount | None, payload: Payload) -> list[Place]:
        """Four mounts, so far in from the edges of the payload's box."""
        half = si_array(payload, "size")[:2] / 2
        inset = POSITION.read_array(table.inset, "mounts.inset", (2,))
        height = POSITION.read(table.height, "mounts.height")
        crossed = [k for k in range(2) if inset[k] >= half[k]]
        self.note(
            f"mounts.inset[{k + 1}] = {POSITION.text(inset[k])}: it reaches the middle of the "
            f"payload's box of {SIZE.text(2 * half[k])}, where mounts meet; give less"
            for k in crossed
        )
        if crossed:
            return []
        x, y = half - inset
        corners = [(-x, -y, height), (x, -y, height), (-x, y, height), (x, y, height)]
        places = [
            self.place(
                "mounts.inset and height: ",
                kind,
                POSITION.quantity(np.array(at)),
                table.push,
                table.sheet,
                payload,
            )
            for at in corners
        ]
        return [place for place in places if place]

    def place(
        self, key: str, kind: Mount | None, position: Any, push: Any, sheet: Any, payload: Payload
    ) -> Place | None:
        """A mount in its place, not far off the payload."""
        mount = kind or _ANY_MOUNT
        place = self.made(
            self.start + key,
            lambda: Place(mount=mount, position=position, push=push, sheet=sheet),
        )
        if place:
            lines = far(si_array(place, "position"), si_array(payload, "size"))
            self.note(f"{key}position: {line}" for line in lines)
        return place

    def stacked(self, kind: Mount | None, way: str, key: str) -> Mount | None:
        """A kind as it is stacked, None if that cannot be."""
        if kind is None:
            return None
        return self.made(f"{self.start}{key}: ", lambda: kind.stacked(way))

    def grid(
        self, mounts: Mapping[str, Mount | None] | None, hung: Sequence[Place], payload: Payload
    ) -> Grid | None:
        """What else the payload could hang on; the brief's own places are a pattern too."""
        usable = {name: mount for name, mount in (mounts or {}).items() if mount}
        own = self.part_of("mounts")
        if not usable or not isinstance(own, Mapping):
            return None
        rows = [
            {key: value for key, value in row.items() if key not in ("mount", "stacking")}
            for row in own.get("place", ())
        ] or [{"position": [POSITION.text(x) for x in si_array(p, "position")]} for p in hung]
        patterns = [Pattern(AS_GIVEN, hung, rows)]
        if "choose" not in self.given:
            return self.got(lambda: Grid(patterns, usable))
        table = self.table(ChooseTable, self.given["choose"], "choose.")
        if table is None:
            return None
        names = list(usable) if table.mounts is None else table.mounts
        self.note(
            f"choose.mounts[{n}] = {shown(name)}: no such mount; {meant(name, usable)}"
            for n, name in enumerate(names, start=1)
            if name not in usable
        )
        for n, given in enumerate(table.pattern, start=1):
            found = self.pattern(f"choose.pattern[{n}].", given, payload)
            if found and any(found.name == one.name for one in patterns):
                self.note(
                    [f"choose.pattern[{n}].name = {shown(found.name)}: it stands twice; give each "
                     "its own"]
                )  # fmt: skip
            patterns += [found] if found else []
        chosen = {name: usable[name] for name in names if name in usable}
        return self.made(
            self.start, lambda: Grid(patterns, chosen, tuple(table.stacking), table.kinds)
        )

    def pattern(self, key: str, given: object, payload: Payload) -> Pattern | None:
        """Places of a pattern, none of them far off the payload."""
        table = self.table(PatternTable, given, key)
        if table is None:
            return None
        if (table.positions is None) == (table.spread is None):
            self.note(
                [f"{key}positions and spread: give one of them: the places one by one, or how far "
                 "apart the outer ones of a rectangle are"]
            )  # fmt: skip
            return None
        at = table.positions
        if at is None:
            if table.columns * table.rows < 3:
                self.note(
                    [f"{key}columns = {table.columns}: with {table.rows} rows fewer than three "
                     "mounts; give more"]
                )  # fmt: skip
                return None
            wide = SIZE.within(0.0).read_array(table.spread, "spread", (2,)) / 2
            middle = np.zeros(2)
            if table.middle is not None:
                middle = POSITION.read_array(table.middle, "middle", (2,))
            height = 0.0 if table.height is None else POSITION.read(table.height, "height")
            xs, ys = (
                m + (np.linspace(-w, w, count) if count > 1 else np.zeros(1))
                for m, w, count in zip(middle, wide, (table.columns, table.rows), strict=True)
            )
            at = [[POSITION.text(c) for c in (x, y, height)] for y in ys for x in xs]
        own = self.part_of("mounts")
        push = table.push or (own.get("push", "-z") if isinstance(own, Mapping) else "-z")
        sheet = own.get("sheet") if isinstance(own, Mapping) else None
        extra = {} if table.push is None else {"push": table.push}
        places = [self.place(key, _ANY_MOUNT, one, push, sheet, payload) for one in at]
        if None in places:
            return None
        rows = [{"position": one, **extra} for one in at]
        return Pattern(table.name, [place for place in places if place], rows)

    def kind(
        self, mounts: Mapping[str, Mount | None] | None, name: str | None, key: str
    ) -> Mount | None:
        """The kind of mount that a key names, None if it is unusable or there is none."""
        if mounts is None:
            return None
        if name is None and len(mounts) == 1:
            return next(iter(mounts.values()))
        if not mounts:
            self.note(["mount: no kind of mount is given; write a [mount.NAME] or a mounts.table"])
        elif name is None:
            self.note([f"{key} is missing: name one of the mounts {some_of(mounts)}"])
        elif name not in mounts:
            self.note([f"{key} = {shown(name)}: no such mount; {meant(name, mounts)}"])
        else:
            return mounts[name]
        return None

    def cables(self, payload: Payload) -> list[Cable | None]:
        """The cables, None for an unusable one."""
        given = self.given.get("cable")
        cables: list[Cable | None] = []
        for n, value in enumerate(given[:MOST_CABLES] if isinstance(given, list) else [], start=1):
            key = f"cable[{n}]."
            row = self.table(CableTable, value, key)
            cable = self.made(self.start + key, partial(_cable, row)) if row else None
            if cable:
                lines = far(si_array(cable, "position"), si_array(payload, "size"))
                self.note(f"{key}position: {line}" for line in lines)
            cables.append(cable)
        return cables

    def conditions(self) -> list[Condition | None]:
        """What else the case may have to stand, None for an unusable one."""
        given = self.given.get("condition")
        given = given[:MOST_CONDITIONS] if isinstance(given, list) else []
        names = [value.get("name") for value in given if isinstance(value, Mapping)]
        self.note(
            f"condition: the name {shown(name)} stands twice; give each its own"
            for name in dict.fromkeys(str(name) for name in names)
            if names.count(name) > 1
        )
        return [
            self.item(f"condition[{n}].", value, ConditionTable, Condition)
            for n, value in enumerate(given, start=1)
        ]

    def legs(self) -> list[Leg | None]:
        """The legs of the trip, None for an unusable one."""
        given = self.given.get("leg")
        if given == []:
            self.note(["leg: no leg of the trip is given; write at least one [[leg]]"])
        legs: list[Leg | None] = []
        first: dict[str, int] = {}
        for n, value in enumerate(given[:MOST_LEGS] if isinstance(given, list) else [], start=1):
            row = self.table(LegTable, value, f"leg[{n}].")
            name = value.get("name") if isinstance(value, Mapping) else None
            if isinstance(name, str) and first.setdefault(name, n) != n:
                self.note(
                    [f"leg[{n}].name = {shown(name)}: leg[{first[name]}] has this name too; give "
                     "each its own"]
                )  # fmt: skip
                row = None
            legs.append(self.made(f"{self.start}leg[{n}].", partial(_leg, row)) if row else None)
        return legs


@dataclass(frozen=True, kw_only=True)
class _Body:
    """A further body, as far as it is usable.

    `before` holds which body stands before which wall.
    """

    payload: Payload | None
    at: FloatArray | None
    on_lid: bool
    hung: dict[str, Any] | None
    gaps: Mapping[str, Any]
    before: Mapping[str, str]

    @property
    def box(self) -> tuple[FloatArray, FloatArray] | None:
        """Middle (3,) and size (3,) of its box, None if one of them is unusable. [m]"""
        if self.payload is None or self.at is None:
            return None
        return self.at, si_array(self.payload, "size")


def _holding(payload: Payload | None, table: PayloadTable | None) -> Payload | None:
    """The payload with what is inside it and may do harm."""
    if payload is None or table is None:
        return payload
    return replace(payload, power=table.power, mains=table.mains, lithium=table.lithium)


def _survives(table: PayloadTable) -> dict[str, Any]:
    """What a payload survives, however its mass is known."""
    keys = ("fragility", *OF_FRAGILITY, "running_fragility", "vibration_limit", "bending")
    lone = OF_FRAGILITY if table.fragility is None else ()
    return {key: None if key in lone else getattr(table, key) for key in keys}


def _cable(row: CableTable) -> Cable:
    return Cable(**dict(row))


def _leg(row: LegTable) -> Leg:
    table = row.drop["table"] if isinstance(row.drop, Mapping) else ""
    other = row.sine or row.walk or row.pulse
    given = dict(row) | {
        "road": {} if row.road in (None, "none") else row.road,
        # With a sine, a pulse or a walk, and nothing said of a road, that is what shakes it.
        "vibrates": row.road != "none" and not (row.road is None and other),
        "drop": None if table or row.drop == "none" else row.drop,
        "drop_table": table,
        "drops": row.drop != "none",
    }
    ways = given.pop("pulse_axes")
    if ways is not None and row.pulse is None:
        raise InputError("pulse_axes stands without pulse; give the pulse, or leave it out")
    if ways is not None:
        given["pulse"] = replace(row.pulse, ways=ways)
    return Leg(**given)

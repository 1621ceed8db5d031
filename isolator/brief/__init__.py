"""A case as one file: TOML, with parts, mounts and spectra in CSV for those who need them.

Every mistake of a brief is reported in one run, a line each: file, key, value, what is wrong and
what to write instead. Keys count from 1: ``leg[2].drop`` is the drop of the second leg.
"""

from __future__ import annotations

import copy
import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from isolator.brief.case import read_case
from isolator.brief.choice import read_grid
from isolator.brief.frames import Body, body_design, frame_readers, read_body, with_its_keys
from isolator.brief.kinds import read_kinds, read_mounts
from isolator.brief.payload import ANY_PAYLOAD, read_payload
from isolator.brief.places import read_hung
from isolator.brief.reader import Reader
from isolator.brief.toml import read_toml
from isolator.brief.trip import read_carry, read_conditions, read_legs
from isolator.case import Case
from isolator.design import MAIN, Design
from isolator.fields import some_of
from isolator.grid import Grid
from isolator.lifting import Carry
from isolator.mount import Mount
from isolator.payload import Payload
from isolator.schema import BriefTable, MountRow
from isolator.slips import collisions, contradictions, not_before, too_far, unusable_names
from isolator.tables import Folder, read_text
from isolator.trip import Leg
from isolator.units import MASS, InputError, refuse_other, si, si_array

__all__ = ["Brief", "read_brief", "read_mounts"]


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
            ``case.floor``, ``mounts.place[3].mount``, ``frame."lid tray".at``; numbers count from
            1, and a name may stand in quotes.
        value : as in the file

        Raises
        ------
        InputError
            The brief has no table for that key, and as for a file with that value.
        """
        tables = copy.deepcopy(dict(self.text))
        table: Any = tables
        try:
            *path, last = _path(key)
            for step in path:
                table = table[step]
            table[last] = value
        except (LookupError, TypeError, ValueError):
            raise InputError(
                f"{key}: {self.file} has no such table; name a key as messages do, such as "
                "case.floor or leg[1].drop"
            ) from None
        return _read(tables, self.folder, self.file)

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
        return _read({**self.text, **tables}, self.folder, self.file)


def _path(key: str) -> list[str | int]:
    """Steps of a key as it stands in messages."""
    steps = re.findall(r'("(?:[^"\\]|\\.)*")|\[([0-9]+)\]|([^.\[\]]+)', key)
    return [
        json.loads(name) if name else int(index) - 1 if index else word
        for name, index, word in steps
    ]


ANY_CASE = "a Design, a Brief or the path of one"
"""What the functions take that a case without a brief serves too."""


def brief_of(case: Brief | str | Path, takes: str = "a Brief or the path of one") -> Brief:
    """The brief that is given, or that lies at the path that is given.

    Parameters
    ----------
    case : Brief, or the path of one
    takes : str
        What the argument may be, for the message.

    Raises
    ------
    InputError
        It is neither, or as `read_brief`.
    """
    if isinstance(case, str | Path):
        return read_brief(case)
    refuse_other("case", case, Brief, takes)
    return case


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
    refuse_other("path", path, str | Path, "the path of a brief")
    path = Path(path)
    given = read_toml(read_text(path, f"{path!s:.300}"), path.name)
    return _read(given, Folder(path.parent), path.name)


def _read(given: Mapping[str, Any], folder: Folder, file: str) -> Brief:
    """Everything, or an InputError with all lines."""
    reader = Reader(given, folder, file)
    others = frame_readers(reader)
    top = reader.table(BriefTable, given, "") or BriefTable.model_construct()
    legs, payload = read_legs(reader), read_payload(reader)
    case, before = read_case(reader, list(others))
    carry, conditions = read_carry(reader), read_conditions(reader)
    mounts = read_kinds(reader, others.values())
    hung = read_hung(reader, mounts, payload or ANY_PAYLOAD)
    reader.note(contradictions(top.attitudes, legs))
    reader.note(unusable_names(others, legs, case))
    if case and payload and not hung:  # else the design says it
        reader.note(case.misfits(si_array(payload, "size")))
    bodies = {
        name: read_body(other, mounts, [n for n in (MAIN, *others) if n != name])
        for name, other in others.items()
    }
    shared = _Shared(top, legs, carry, _mass(payload, bodies))
    waived = top.not_required or {}
    design = None
    if hung:
        make = partial(
            shared.design,
            payload,
            case=(payload and case) or Case(),
            not_required=waived,
            name=top.name,
            stands_before=before,
            conditions=[condition for condition in conditions if condition],
            **hung,
        )
        design = reader.made(reader.start, make)
    frames: dict[str, Design] = {}
    for name, body in bodies.items():
        other, make = others[name], partial(shared.design, body.payload)
        made = body_design(other, body, make, case, payload, waived)
        reader.lines += [with_its_keys(name, line) for line in other.lines]
        frames |= {name: made} if made else {}
    reader.note(_misplaced(payload, before, bodies, case))
    grid = read_grid(reader, mounts, hung["places"], payload or ANY_PAYLOAD) if hung else None
    if reader.lines or not design or not grid:
        raise InputError(*dict.fromkeys(reader.lines))
    usable = {name: mount for name, mount in (mounts or {}).items() if mount}
    return Brief(design, frames, given, usable, grid, folder, file)


@dataclass(frozen=True)
class _Shared:
    """What all bodies of a brief share: the trip, and that they float together.

    Attributes
    ----------
    top : BriefTable
        With its defaults where the file has unusable keys.
    legs : sequence of Leg, None for an unusable one
    carry : Carry or None
    mass : float
        Of all bodies. [kg]
    """

    top: BriefTable
    legs: Sequence[Leg | None]
    carry: Carry | None
    mass: float

    def design(self, payload: Payload | None, **own: Any) -> Design:
        """A body of it, with what is its own; an unusable payload has a stand-in."""
        payload = payload or ANY_PAYLOAD
        beside = self.mass - si(payload, "mass")
        return Design(
            payload=payload,
            legs=[leg for leg in self.legs if leg] or [Leg(name="any")],
            attitudes=self.top.attitudes,
            date=self.top.date,
            age=self.top.age,
            stored=self.top.stored,
            carry=self.carry,
            beside=MASS.quantity(beside) if beside > 0 else None,
            **own,
        )


def _mass(payload: Payload | None, bodies: Mapping[str, Body]) -> float:
    """All that floats, as far as it is usable. [kg]"""
    others = sum(si(body.payload, "mass") for body in bodies.values() if body.payload)
    return others + si(payload or ANY_PAYLOAD, "mass")


def _misplaced(
    payload: Payload | None,
    before: Mapping[str, str],
    bodies: Mapping[str, Body],
    case: Case | None,
) -> Iterator[str]:
    """Bodies that cannot be where they are said to be; `before` is the payload's own."""
    boxes = {name: body.box for name, body in bodies.items() if body.box}
    if payload:
        boxes[MAIN] = (np.zeros(3), si_array(payload, "size"))
    yield from collisions(boxes)
    yield from too_far(boxes, case)
    yield from not_before({MAIN: before} | {n: b.before for n, b in bodies.items()}, boxes)

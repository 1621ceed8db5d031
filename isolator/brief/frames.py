"""Further bodies that float in the same case, each with tables like those of the main one."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from isolator.brief.case import read_gaps
from isolator.brief.kinds import Kinds
from isolator.brief.payload import ANY_PAYLOAD, read_payload
from isolator.brief.places import read_hung
from isolator.brief.reader import Reader
from isolator.case import Case
from isolator.design import MAIN, Design, key_under
from isolator.payload import Payload
from isolator.schema import MOST_FRAMES, FrameTable, GapsTable
from isolator.slips import frame_key
from isolator.units import POSITION, FloatArray, InputError, si_array


@dataclass(frozen=True, kw_only=True)
class Body:
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


def frame_readers(reader: Reader) -> dict[str, Reader]:
    """Readers of the tables of further bodies, which have the keys of the main one."""
    given = reader.named("frame", "a body", MOST_FRAMES) or {}
    if MAIN in given:
        reader.note([f"frame.{MAIN}: [{MAIN}] is the main one's name; give this body another"])
    return {
        name: Reader(value, reader.folder, reader.file, name)
        for name, value in list(given.items())[:MOST_FRAMES]
        if name != MAIN
    }


def read_body(reader: Reader, mounts: Kinds | None, others: Sequence[str]) -> Body:
    """The tables of a further body, as far as they are usable."""
    table = reader.table(FrameTable, reader.given, "")
    payload = read_payload(reader)
    gaps, before = read_gaps(reader, reader.part_of("gaps"), "gaps.", GapsTable, others)
    at = POSITION.read_array(table.at, "at", (3,)) if table else None
    return Body(
        payload=payload,
        at=at,
        on_lid=bool(table and table.on_lid),
        hung=read_hung(reader, mounts or None, payload or ANY_PAYLOAD),
        gaps=dict(gaps) if gaps else {},
        before=before,
    )


def body_design(
    reader: Reader,
    body: Body,
    trip: Callable[..., Design],
    case: Case | None,
    main: Payload | None,
    waived: Mapping[str, str],
) -> Design | None:
    """A further body on its mounts; its waivers have its name before their ids."""
    if (hung := body.hung) is None:
        return None
    start = f"{reader.name}: "
    own = {key: why for key, why in waived.items() if key.startswith(start)}

    def make() -> Design:
        around, at = Case(), body.at
        if case and main and body.payload and at is not None:
            size, other = si_array(main, "size"), si_array(body.payload, "size")
            around = case.around(at, size, other, body.gaps)
        return trip(
            case=around,
            not_required=own | {k.removeprefix(start): why for k, why in own.items()},
            name=reader.name,
            at=None if at is None else POSITION.quantity(at),
            stands_before=body.before,
            on_lid=body.on_lid,
            **hung,
        )

    try:
        return make()
    except InputError as error:
        reader.lines += [_of_the_trip(reader, line) for line in error.lines]
        return None


def with_its_keys(name: str, line: str) -> str:
    """A line about a further body with the keys and heads that it has.

    Such lines come from every room that a body goes through, and none of those knows of bodies;
    what stands in quotes is the user's.
    """
    head = frame_key(name)
    line = re.sub(r"(?<=\[)(?=(?:payload|mounts|cable)\b)", lambda _: f"{head}.", line)
    line = line.replace("[frame.NAME", f"[{head}")
    return re.sub(r"(?<![\w.'\"])(?=(?:payload|mounts)\.(?!csv\b)\w)", lambda _: f"{head}.", line)


def _of_the_trip(reader: Reader, line: str) -> str:
    """What is wrong with a further body; a line about the trip is one for all bodies."""
    if re.match(r"(?:leg|attitudes)\b", line):
        return f"{reader.file}: {line}"
    known = key_under(frame_key(reader.name), re.sub(r"^[A-Z]\w*\.", "case.", line))
    if known != line and not known.startswith("case."):
        return f"{reader.file}: {known}"
    return f"{reader.file}: {frame_key(reader.name)}: {known}"

"""The case of a brief: its room, what stands in it, the foam outside, the gaps around a body."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from isolator.brief.payload import read_part
from isolator.brief.reader import Reader, Row
from isolator.case import Case
from isolator.cushion import Cushion, CushionPoint
from isolator.fields import meant, shown
from isolator.inside import FACES, CornerGap, Inside, Obstacle, Rib
from isolator.schema import (
    MOST_SOLIDS,
    CaseTable,
    CornerRow,
    CushionRow,
    CushionTable,
    InsideTable,
    ObstacleRow,
    ObstacleTable,
    PartRow,
    RibTable,
)
from isolator.units import InputError

GAPS = tuple(face.replace(" ", "_") for face in FACES)
"""Keys of the gaps of a case."""


def read_case(reader: Reader, others: Sequence[str]) -> tuple[Case | None, dict[str, str]]:
    """The case, and which of the other bodies stands before which of its walls."""
    if "case" not in reader.given:
        return None, {}
    table, before = read_gaps(reader, reader.given["case"], "case.", CaseTable, others)
    inside, cushion = _inside(reader), _cushion(reader)
    parts = [
        read_part(reader, where, row) for where, row in reader.rows("case", "parts", PartRow) or ()
    ]
    gaps = [
        reader.made(where, partial(CornerGap, **dict(row)))
        for where, row in reader.rows("case", "gaps", CornerRow) or ()
    ]
    obstacles = _obstacles(reader)
    ribs = reader.items("case.rib", _under(reader, "rib"), MOST_SOLIDS, RibTable, Rib)
    if table is None or None in (*parts, *gaps, *obstacles, *ribs):
        return None, before
    if (table.inside is not None and inside is None) or (table.parts and not parts):
        return None, before
    if table.cushion is not None and cushion is None:
        return None, before
    files = {"inside", "cushion", "parts", "gaps", "obstacle", "obstacles", "rib"}
    given = table.model_dump(exclude=files)
    case = reader.made(
        f"{reader.start}case.",
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


def read_gaps(
    reader: Reader, given: object, key: str, model: type[Row], others: Sequence[str]
) -> tuple[Row | None, dict[str, str]]:
    """A table with the gaps of a body, without those faces before which another one stands."""
    before: dict[str, str] = {}
    if isinstance(given, Mapping):
        words = {k: v for k in GAPS if isinstance(v := given.get(k), str)}
        before = {k: v for k, v in words.items() if v in others}
        wrong = {k: v for k, v in words.items() if k not in before and not re.search("[0-9]", v)}
        none = "this case has none; write '8 mm', or the name of a body that [frame.NAME] describes"
        reader.note(
            f"{key}{k} = {shown(v)}: neither a length nor another body; "
            f"{meant(v, others) if others else none}"
            for k, v in wrong.items()
        )
        given = {k: v for k, v in given.items() if k not in before and k not in wrong}
    return reader.table(model, given, key), {k.replace("_", " "): v for k, v in before.items()}


def _under(reader: Reader, key: str) -> Any:
    """What stands under a key of [case], None if nothing; it is read where the rest is wrong."""
    table = reader.part_of("case")
    return table.get(key) if isinstance(table, Mapping) else None


def _inside(reader: Reader) -> Inside | None:
    """The contour of the room."""
    given = _under(reader, "inside")
    return None if given is None else reader.item("case.inside.", given, InsideTable, Inside)


def _cushion(reader: Reader) -> Cushion | None:
    """The foam outside, one that has a load-deflection curve."""
    if (given := _under(reader, "cushion")) is None:
        return None
    row = reader.table(CushionTable, given, "case.cushion.")
    file = given.get("points") if isinstance(given, Mapping) else None
    at = f"{reader.start}case.cushion.points"
    rows: Sequence[tuple[str, CushionRow]] | None = ()
    if isinstance(file, str):
        rows = reader.got(lambda: reader.folder.rows(file, at, CushionRow))
    if row is None or rows is None:
        return None
    points = [CushionPoint(**dict(line)) for _, line in rows]
    try:
        foam = Cushion(**dict(row) | {"points": points})
        foam.curve()
    except InputError as error:
        start = f"Cushion {row.name!r:.60}"
        reader.lines += [f"{reader.start}case.cushion{m.removeprefix(start)}" for m in error.lines]
        return None
    return foam


def _obstacles(reader: Reader) -> list[Obstacle | None]:
    """Obstacles of the brief and of its table, None for an unusable one."""
    given = _under(reader, "obstacle")
    out = reader.items("case.obstacle", given, MOST_SOLIDS, ObstacleTable, Obstacle)
    for where, line in reader.rows("case", "obstacles", ObstacleRow) or ():
        at, size = (line.x, line.y, line.z), (line.size_x, line.size_y, line.size_z)
        make = partial(Obstacle, name=line.name, position=at, size=size, on_lid=line.on_lid)
        out.append(reader.made(where, make))
    return out

"""The payload of a brief: as given, as the sum of its parts, or as it was weighed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from isolator.brief.reader import Reader
from isolator.brief.weighing import read_weighing
from isolator.payload import OF_FRAGILITY, Part, Payload
from isolator.schema import PartRow, PayloadTable
from isolator.slips import far_parts, odd_body, odd_inertia

ANY_PAYLOAD = Payload(mass="1 kg", size=["5 m"] * 3)
"""Stands in for an unusable one, so that the rest is judged in the same run."""


def read_payload(reader: Reader) -> Payload | None:
    """The payload, as given, as the sum of its parts or as it was weighed."""
    if "payload" not in reader.given:
        return None
    table = reader.table(PayloadTable, reader.given["payload"], "payload.")
    rows = reader.rows("payload", "parts", PartRow)
    parts = [read_part(reader, where, row) for where, row in rows or ()]
    reader.note(
        f"payload.{key} stands without fragility, the peak that it goes with; add fragility"
        for key in OF_FRAGILITY
        if table and table.fragility is None and getattr(table, key) is not None
    )
    given = reader.given["payload"]
    if isinstance(given, Mapping) and "weighing" in given:
        return _holding(_weighed(reader, table, given["weighing"], rows, parts), table)
    if table is None:
        return None
    if table.parts is None:
        if table.mass is None:
            reader.note(
                ["payload.mass is missing: weigh what floats, name a parts table in "
                 "payload.parts, or give the readings of a scale in [payload.weighing]"]
            )  # fmt: skip
            return None
        where = f"{reader.start}payload."
        elsewhere = ("parts", "weighing")
        known = {k: v for k, v in dict(table).items() if k not in elsewhere}
        known |= _survives(table)
        payload = reader.made(where, lambda: Payload(**known))
    else:
        beside = [key for key in ("mass", "centre", "inertia") if key in table.model_fields_set]
        reader.note(
            f"payload.{key} stands beside payload.parts, which gives it too; keep one of them"
            for key in beside
        )
        usable = [part for part in parts if part]
        if beside or not usable or len(usable) < len(parts):
            return None
        where = f"{table.parts}: sum of the parts: "
        payload = reader.made(
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
        reader.lines += far_parts(rows or (), usable, payload or ANY_PAYLOAD)
    if payload:
        odd = [*odd_body(payload), *([] if table.parts else odd_inertia(payload))]
        reader.lines += [where + line for line in odd]
    return _holding(payload, table)


def _weighed(
    reader: Reader,
    table: PayloadTable | None,
    given: object,
    rows: Sequence[tuple[str, PartRow]] | None,
    parts: Sequence[Part | None],
) -> Payload | None:
    """The payload by the readings of a scale; parts beside them give what it cannot."""
    size = ["5 m"] * 3 if table is None else table.size
    weighing = read_weighing(reader, given, size)
    if table is None:
        return None
    beside = ("mass", "mass_within", "centre", "centre_within")
    twice = [f"payload.{key}" for key in beside if key in table.model_fields_set]
    reader.note(
        f"{key} stands beside payload.weighing, which gives it too; keep one of them"
        for key in twice
    )
    over = weighing is not None and weighing.swings
    if table.inertia is not None and (table.parts is not None or over):
        other = "swing" if over else "parts"
        twice.append("payload.inertia")
        reader.note(
            [f"payload.inertia stands beside {other}, which gives it too; keep one of them"]
        )
    usable = [part for part in parts if part]
    if weighing is None or twice or len(usable) < len(parts) or (table.parts and not usable):
        return None
    payload = reader.made(
        f"{reader.start}payload.weighing.",
        lambda: weighing.payload(
            parts=usable,
            inertia=table.inertia,
            **_survives(table),
            **({"source": table.source} if table.source else {}),
        ),
    )
    if payload:
        reader.lines += far_parts(rows or (), usable, payload)
        measured = table.parts is None or weighing.swings
        odd = [*odd_body(payload), *(odd_inertia(payload) if measured else ())]
        reader.lines += [f"{reader.start}payload.weighing: {line}" for line in odd]
    return payload


def read_part(reader: Reader, where: str, row: PartRow) -> Part | None:
    """A part of a row."""
    size = [row.size_x, row.size_y, row.size_z]
    if None in size and any(size):
        reader.lines.append(
            f"{where}size {'xyz'[size.index(None)]} is empty; give all three, or none for a point"
        )
        return None
    apart = {"x", "y", "z", "size_x", "size_y", "size_z"}
    return reader.made(
        where,
        lambda: Part(
            position=[row.x, row.y, row.z],
            size=size if any(size) else None,
            **row.model_dump(exclude=apart),
        ),
    )


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

"""The trip of a brief: its legs, the lift by hand, and what else the case may have to stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial

from isolator.brief.reader import Reader, numbered
from isolator.fields import shown
from isolator.lifting import Carry
from isolator.schema import MOST_CONDITIONS, MOST_LEGS, CarryTable, ConditionTable, LegTable
from isolator.trip import Condition, Leg
from isolator.units import InputError


def read_legs(reader: Reader) -> list[Leg | None]:
    """The legs of the trip, None for an unusable one."""
    given = reader.given.get("leg")
    if given == []:
        reader.note(["leg: no leg of the trip is given; write at least one [[leg]]"])
    legs: list[Leg | None] = []
    first: dict[str, str] = {}
    for key, value in numbered("leg", given, MOST_LEGS):
        row = reader.table(LegTable, value, key)
        name = value.get("name") if isinstance(value, Mapping) else None
        if isinstance(name, str) and first.setdefault(name, key) != key:
            reader.note(
                [f"{key}name = {shown(name)}: {first[name][:-1]} has this name too; give each "
                 "its own"]
            )  # fmt: skip
            row = None
        legs.append(reader.made(reader.start + key, partial(_leg, row)) if row else None)
    return legs


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


def read_carry(reader: Reader) -> Carry | None:
    """The lift by hand."""
    if "carry" not in reader.given:
        return None
    return reader.item("carry.", reader.given["carry"], CarryTable, Carry)


def read_conditions(reader: Reader) -> list[Condition | None]:
    """What else the case may have to stand, None for an unusable one."""
    given = reader.given.get("condition")
    tables = [value for _, value in numbered("condition", given, MOST_CONDITIONS)]
    names = [value.get("name") for value in tables if isinstance(value, Mapping)]
    reader.note(
        f"condition: the name {shown(name)} stands twice; give each its own"
        for name in dict.fromkeys(str(name) for name in names)
        if names.count(name) > 1
    )
    return reader.items("condition", given, MOST_CONDITIONS, ConditionTable, Condition)

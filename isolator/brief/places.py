"""What a payload hangs on: mounts in their places, and cables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from isolator.brief.kinds import Kinds
from isolator.brief.reader import Reader, numbered
from isolator.cable import Cable
from isolator.fields import meant, shown, some_of
from isolator.mount import Mount, Place
from isolator.payload import Payload
from isolator.schema import MOST_CABLES, MOST_PLACES, CableTable, MountsTable, PlaceTable
from isolator.slips import far
from isolator.units import POSITION, SIZE, si_array

ANY_MOUNT = Mount(name="any", along="1 N/mm", across="1 N/mm", dynamic_ratio=1.0)
"""Stands in for an unusable one, so that the rest is judged in the same run."""


def read_hung(reader: Reader, mounts: Kinds | None, payload: Payload) -> dict[str, Any] | None:
    """What a payload hangs on, as a design takes it; None if some of it is unusable."""
    places, cables = _places(reader, mounts, payload), _cables(reader, payload)
    seats = reader.part_of("mounts")
    seats = seats if isinstance(seats, Mapping) else {}
    if not places:
        return None
    unknown = any(place.mount is ANY_MOUNT for place in places)
    return {
        "places": places,
        "cables": [] if unknown else [cable for cable in cables if cable],
        "flatness": seats.get("flatness"),
        "hole_tolerance": seats.get("hole_tolerance"),
    }


def _places(reader: Reader, mounts: Kinds | None, payload: Payload) -> list[Place]:
    """The mounts in their places; none if one of them is unusable."""
    if "mounts" not in reader.given:
        return []
    given = reader.given["mounts"]
    table = reader.table(MountsTable, given, "mounts.")
    written = given.get("place") if isinstance(given, Mapping) else None
    rows = [
        (key, reader.table(PlaceTable, row, key))
        for key, row in numbered("mounts.place", written, MOST_PLACES)
    ]
    if table is None:
        return []
    if table.inset is not None or table.height is not None:
        if rows or table.inset is None or table.height is None:
            reader.note(
                ["mounts.inset and mounts.height go together, and not with mounts.place: four "
                 "mounts so far in from the edges of the payload's box, at that height from "
                 "its middle; give both alone"]
            )  # fmt: skip
            return []
        kind = _kind_of(reader, mounts, table.use, "mounts.use")
        kind = _stacked(reader, kind, table.stacking, "mounts.stacking")
        return _rectangle(reader, table, kind, payload)
    if not rows:
        reader.note(
            ["mounts: no mount has a place; give mounts.inset and mounts.height for four in a "
             "rectangle, or a [[mounts.place]] for each"]
        )  # fmt: skip
    places = []
    for key, row in rows:
        if row is None:
            continue
        if row.mount is None and table.use is not None:
            kind = _kind_of(reader, mounts, table.use, "mounts.use")
        else:
            kind = _kind_of(reader, mounts, row.mount, f"{key}mount")
        push = table.push if row.push is None else row.push
        sheet = table.sheet if row.sheet is None else row.sheet
        stacking = table.stacking if row.stacking is None else row.stacking
        kind = _stacked(reader, kind, stacking, f"{key}stacking")
        places.append(read_place(reader, key, kind, row.position, push, sheet, payload))
    usable = [place for place in places if place]
    return usable if len(usable) == len(rows) else []


def _rectangle(
    reader: Reader, table: MountsTable, kind: Mount | None, payload: Payload
) -> list[Place]:
    """Four mounts, so far in from the edges of the payload's box."""
    half = si_array(payload, "size")[:2] / 2
    inset = POSITION.read_array(table.inset, "mounts.inset", (2,))
    height = POSITION.read(table.height, "mounts.height")
    crossed = [k for k in range(2) if inset[k] >= half[k]]
    reader.note(
        f"mounts.inset[{k + 1}] = {POSITION.text(inset[k])}: it reaches the middle of the "
        f"payload's box of {SIZE.text(2 * half[k])}, where mounts meet; give less"
        for k in crossed
    )
    if crossed:
        return []
    x, y = half - inset
    corners = [(-x, -y, height), (x, -y, height), (-x, y, height), (x, y, height)]
    places = [
        read_place(
            reader,
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


def read_place(
    reader: Reader,
    key: str,
    kind: Mount | None,
    position: Any,
    push: Any,
    sheet: Any,
    payload: Payload,
) -> Place | None:
    """A mount in its place, not far off the payload."""
    mount = kind or ANY_MOUNT
    place = reader.made(
        reader.start + key,
        lambda: Place(mount=mount, position=position, push=push, sheet=sheet),
    )
    if place:
        lines = far(si_array(place, "position"), si_array(payload, "size"))
        reader.note(f"{key}position: {line}" for line in lines)
    return place


def _stacked(reader: Reader, kind: Mount | None, way: str, key: str) -> Mount | None:
    """A kind as it is stacked, None if that cannot be."""
    if kind is None:
        return None
    return reader.made(f"{reader.start}{key}: ", lambda: kind.stacked(way))


def _kind_of(reader: Reader, mounts: Kinds | None, name: str | None, key: str) -> Mount | None:
    """The kind of mount that a key names, None if it is unusable or there is none."""
    if mounts is None:
        return None
    if name is None and len(mounts) == 1:
        return next(iter(mounts.values()))
    if not mounts:
        reader.note(["mount: no kind of mount is given; write a [mount.NAME] or a mounts.table"])
    elif name is None:
        reader.note([f"{key} is missing: name one of the mounts {some_of(mounts)}"])
    elif name not in mounts:
        reader.note([f"{key} = {shown(name)}: no such mount; {meant(name, mounts)}"])
    else:
        return mounts[name]
    return None


def _cables(reader: Reader, payload: Payload) -> list[Cable | None]:
    """The cables, None for an unusable one."""
    cables: list[Cable | None] = []
    for key, value in numbered("cable", reader.given.get("cable"), MOST_CABLES):
        cable = reader.item(key, value, CableTable, Cable)
        if cable:
            lines = far(si_array(cable, "position"), si_array(payload, "size"))
            reader.note(f"{key}position: {line}" for line in lines)
        cables.append(cable)
    return cables

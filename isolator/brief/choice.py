"""What else the payload of a brief could hang on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from isolator.brief.kinds import Kinds
from isolator.brief.places import ANY_MOUNT, read_place
from isolator.brief.reader import Reader
from isolator.fields import meant, shown
from isolator.grid import AS_GIVEN, Grid, Pattern
from isolator.mount import Place
from isolator.payload import Payload
from isolator.schema import ChooseTable, PatternTable
from isolator.units import POSITION, SIZE, si_array


def read_grid(
    reader: Reader, mounts: Kinds | None, hung: Sequence[Place], payload: Payload
) -> Grid | None:
    """What else the payload could hang on; the brief's own places are a pattern too."""
    usable = {name: mount for name, mount in (mounts or {}).items() if mount}
    own = reader.part_of("mounts")
    if not usable or not isinstance(own, Mapping):
        return None
    rows = [
        {key: value for key, value in row.items() if key not in ("mount", "stacking")}
        for row in own.get("place", ())
    ] or [{"position": [POSITION.text(x) for x in si_array(p, "position")]} for p in hung]
    patterns = [Pattern(AS_GIVEN, hung, rows)]
    if "choose" not in reader.given:
        return reader.got(lambda: Grid(patterns, usable))
    table = reader.table(ChooseTable, reader.given["choose"], "choose.")
    if table is None:
        return None
    names = list(usable) if table.mounts is None else table.mounts
    reader.note(
        f"choose.mounts[{n}] = {shown(name)}: no such mount; {meant(name, usable)}"
        for n, name in enumerate(names, start=1)
        if name not in usable
    )
    for n, given in enumerate(table.pattern, start=1):
        found = _pattern(reader, f"choose.pattern[{n}].", given, payload)
        if found and any(found.name == one.name for one in patterns):
            reader.note(
                [f"choose.pattern[{n}].name = {shown(found.name)}: it stands twice; give each "
                 "its own"]
            )  # fmt: skip
        patterns += [found] if found else []
    chosen = {name: usable[name] for name in names if name in usable}
    return reader.made(
        reader.start, lambda: Grid(patterns, chosen, tuple(table.stacking), table.kinds)
    )


def _pattern(reader: Reader, key: str, given: object, payload: Payload) -> Pattern | None:
    """Places of a pattern, none of them far off the payload."""
    table = reader.table(PatternTable, given, key)
    if table is None:
        return None
    if (table.positions is None) == (table.spread is None):
        reader.note(
            [f"{key}positions and spread: give one of them: the places one by one, or how far "
             "apart the outer ones of a rectangle are"]
        )  # fmt: skip
        return None
    at = table.positions
    if at is None:
        if table.columns * table.rows < 3:
            reader.note(
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
    own = reader.part_of("mounts")
    push = table.push or (own.get("push", "-z") if isinstance(own, Mapping) else "-z")
    sheet = own.get("sheet") if isinstance(own, Mapping) else None
    extra = {} if table.push is None else {"push": table.push}
    places = [read_place(reader, key, ANY_MOUNT, one, push, sheet, payload) for one in at]
    if None in places:
        return None
    rows = [{"position": one, **extra} for one in at]
    return Pattern(table.name, [place for place in places if place], rows)

"""The kinds of mounts that a brief or a catalogue has, and what weights and a thumb say of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TypeAlias

import numpy as np

from isolator.brief.reader import Reader
from isolator.estimate import mount_fields, push_measured
from isolator.fields import read_text_value, safe, shown
from isolator.mount import Mount, with_bands
from isolator.schema import MOST_KINDS, MountRow, MountTable, WeightRow
from isolator.tables import Folder
from isolator.tapped import tapped
from isolator.units import FORCE, G0, MASS, POSITION, SIZE, STIFFNESS, InputError, refuse_other
from isolator.weights import Measured, WeightsTest, measure

Kinds: TypeAlias = Mapping[str, Mount | None]
"""Kinds of mounts by name, None for an unusable one."""

PUSH = ("push_force", "push_travel", "push_mounts")

RULER = 5e-4
"""Steps to which deflections are read where nobody says, half those of a ruler. [m]"""


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
    refuse_other("path", path, str | Path, "the path of a CSV file of mounts")
    path = Path(path)
    reader = Reader({}, Folder(path.parent), path.name)
    mounts = {
        row.name: _kind(reader, where, row, row.name)
        for where, row in reader.folder.rows(path.name, "the table", MountRow)
    }
    if reader.lines:
        raise InputError(*reader.lines)
    return {name: mount for name, mount in mounts.items() if mount}


def read_kinds(reader: Reader, others: Iterable[Reader]) -> Kinds | None:
    """All kinds, those in tables of other bodies too; None if even their names are not known."""
    given = reader.named("mount", "a kind of mount", MOST_KINDS)
    if given is None or len(given) > MOST_KINDS:
        return None
    mounts: dict[str, Mount | None] = {}
    for name, value in given.items():
        key = f"mount.{safe(name)}."
        row = reader.table(MountTable, value, key)
        mounts[name] = _kind(reader, reader.start + key, row, name)
    complete, read = True, list[object]()
    for one in (reader, *others):
        table = one.part_of("mounts")
        rows = one.rows("mounts", "table", MountRow)
        file = table.get("table") if isinstance(table, Mapping) else None
        complete &= isinstance(table, Mapping) and (rows is not None or file is None)
        for where, row in () if rows is None or file in read else rows:
            if row.name in mounts:
                other = f"the brief has a [mount.{safe(row.name)}] too"
                if row.name not in given:
                    other = f"another table has a mount {shown(row.name)} too"
                reader.lines.append(f"{where}{other}; give each its own name")
            mounts[row.name] = _kind(reader, where, row, row.name)
        read.append(file)
    return mounts if complete else None


def _kind(reader: Reader, where: str, row: MountTable | None, name: str) -> Mount | None:
    """A kind of mount."""
    if row is None or reader.got(lambda: read_text_value(name, f"{where}name", 80)) is None:
        return None
    files = ("weights", "weights_across")
    tests = _tests(reader, where, row)
    if tests is None:
        return None
    others = {"ruler", *PUSH, "name", "dynamic_along", "dynamic_across"}
    keep = row.model_dump(exclude={*files, *others}, exclude_none=True)

    def make() -> Mount:
        mount = Mount(**(with_bands(mount_fields(keep, tests)) | {"name": name}))
        along, across = (_in_motion(row, way) for way in ("along", "across"))
        if along is None and across is None:
            return mount
        if along is None:
            raise InputError("dynamic_across stands without dynamic_along; give both, or neither")
        at_rest = ("along", "across") if row.grade == "measured" else tuple(tests)
        return tapped(mount, along, across, at_rest)

    return reader.made(where, make)


def _in_motion(row: MountTable, way: str) -> tuple[float, float] | None:
    """Ends of the dynamic stiffness that is given for a way. [N/m]"""
    key = f"dynamic_{way}"
    if (given := getattr(row, key)) is None:
        return None
    low, high = (
        STIFFNESS.read(end, key) for end in (given if isinstance(given, list) else 2 * [given])
    )
    return low, high


def _tests(reader: Reader, where: str, row: MountTable) -> dict[str, Measured] | None:
    """What weights and a thumb say of a kind of mount; None if some of it is unusable."""
    out: dict[str, Measured] = {}
    lines = len(reader.lines)
    ruler = RULER if row.ruler is None else SIZE.read(row.ruler, "ruler")
    for way, file in (("along", row.weights), ("across", row.weights_across)):
        if file is None:
            continue
        key = "weights" if way == "along" else "weights_across"
        rows = reader.got(partial(reader.folder.rows, file, f"{where}{key}", WeightRow))
        found = None if rows is None else _weighed_mount(reader, f"{where}{key}: ", rows, ruler)
        out |= {way: found} if found else {}
    pushed = [getattr(row, key) for key in PUSH]
    if any(value is not None for value in pushed):
        absent = [k for k, v in zip(PUSH, pushed, strict=True) if v is None]
        reader.lines += [f"{where}{key} is missing: a push has all three; add it" for key in absent]
        if row.weights is not None:
            reader.lines.append(f"{where}push_force stands beside weights; keep the weights")
        elif not absent:
            out["along"] = push_measured(
                FORCE.read(row.push_force, "push_force"),
                SIZE.read(row.push_travel, "push_travel"),
                int(row.push_mounts),
            )
    return out if len(reader.lines) == lines else None


def _weighed_mount(
    reader: Reader, where: str, rows: Sequence[tuple[str, WeightRow]], ruler: float
) -> Measured | None:
    """A weights test of a file."""
    lines = [
        f"{at}give mass or force, one of them"
        for at, row in rows
        if (row.mass is None) == (row.force is None)
    ]
    if lines:
        reader.lines += lines
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
        reader.lines.append(f"{where}{error}")
        return None

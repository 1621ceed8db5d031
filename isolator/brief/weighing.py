"""What a scale, a ruler and a watch said of the payload of a brief."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from isolator.brief.reader import Reader
from isolator.schema import MOST_FEET, FootTable, SwingTable, TiltTable, WeighingTable
from isolator.slips import far
from isolator.units import SIZE, si_array
from isolator.weighing import Foot, Swing, Tilt, Weighing


def read_weighing(reader: Reader, given: object, size: Any) -> Weighing | None:
    """What was read, None if some of it is unusable; `size` is that of the payload's box."""
    key = "payload.weighing."
    table = reader.table(WeighingTable, given, key)
    written = given if isinstance(given, Mapping) else {}
    before = len(reader.lines)
    feet = reader.items(f"{key}foot", written.get("foot"), MOST_FEET, FootTable, Foot)
    swings = reader.items(f"{key}swing", written.get("swing"), MOST_FEET, SwingTable, Swing)
    tilt = None
    if "tilt" in written:
        tilt = reader.item(f"{key}tilt.", written["tilt"], TiltTable, Tilt)
    if table is None or len(reader.lines) > before:
        return None
    box = SIZE.read_array(size, "size", (3,))[:2]
    for n, foot in enumerate(filter(None, feet), start=1):
        lines = far(si_array(foot, "position"), box)
        reader.note(f"{key}foot[{n}].position: {line}" for line in lines)
    return reader.made(
        reader.start + key,
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

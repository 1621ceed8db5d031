"""Where the holes of a drill template go, and what to look at before the first. In mm."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from isolator.brief import Brief
from isolator.design import MAIN, Design, key_of, kind_key
from isolator.files import free_name, safe_name
from isolator.inside import FACES
from isolator.mount import Place
from isolator.units import refuse_other, si_array

Point: TypeAlias = tuple[float, float]

STEM = "drill-template"
"""Name of the files without their endings."""

UPRIGHT = 0.9999
"""A mount whose axis is so near to z is drilled from above. [-]"""


@dataclass(frozen=True, kw_only=True)
class Hole:
    """Where a mount sits.

    Attributes
    ----------
    number : int
        Of the mount, from 1, as in every table.
    mount : str
        Name of its kind.
    x, y, z : float
        From the middle of the payload's box. [mm]
    diameter : float or None
        None where it is not known. [mm]
    axis : str
        Along which it is drilled: x, y, z or "leaning".
    missing : str
        Key of the brief that would tell the diameter.
    """

    number: int
    mount: str
    x: float
    y: float
    z: float
    diameter: float | None
    axis: str
    missing: str

    @property
    def from_above(self) -> bool:
        """Whether it is drilled from above."""
        return self.axis == "z"

    @property
    def words(self) -> str:
        """What stands beside it."""
        if not self.from_above:
            axis = "leans" if self.axis == "leaning" else f"lies along {self.axis}"
            return f"not from above: its axis {axis}"
        return "hole: not known" if self.diameter is None else f"ø {self.diameter:.4g} mm"


@dataclass(frozen=True, kw_only=True)
class DrillTemplate:
    """Where the holes go, seen from above.

    Attributes
    ----------
    name : str
        Of the case.
    holes : sequence of Hole
    length, width : float
        Outline of the payload's box along x and y. [mm]
    centre : two floats or None
        Centre of gravity in plan, None where nobody gave it. [mm]
    datum : str
        What all positions count from.
    placing : sequence of str
        How the sheet lies, and where the datum is in the case.
    notes : sequence of str
        What to look at before the first hole.
    """

    name: str
    holes: Sequence[Hole]
    length: float
    width: float
    centre: Point | None
    datum: str
    placing: Sequence[str]
    notes: Sequence[str]


def drill_templates(brief: Brief) -> dict[str, DrillTemplate]:
    """The template of each body of a brief, by the name of its files without their endings.

    Parameters
    ----------
    brief : Brief

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> list(drill_templates(isolator.read_brief(str(data_file("starter/case.toml")))))
    ['drill-template']
    """
    refuse_other("brief", brief, Brief, "a Brief, as read_brief gives one")
    made = {STEM: drill_template(brief.design)}
    used = {STEM}
    for body, design in brief.frames.items():
        stem = free_name(f"{STEM}-{safe_name(body, 'body')}", used)
        own = drill_template(design, body)
        made[stem] = replace(own, name=f"{brief.design.name}: {body}".strip(": "))
    return made


def drill_template(design: Design, body: str = MAIN) -> DrillTemplate:
    """Where the holes of a design go.

    Parameters
    ----------
    design : Design
        A further body of a brief has its own, from the middle of its own box.
    body : str
        Name of that body, for the keys of the brief.

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> brief = isolator.read_brief(str(data_file("starter/case.toml")))
    >>> first = drill_template(brief.design).holes[0]
    >>> first.x, first.y, first.words, first.missing
    (-160.0, -110.0, 'hole: not known', 'mount.ring.hole')
    """
    holes = [_hole(n, place) for n, place in enumerate(design.places, start=1)]
    length, width = (1e3 * si_array(design.payload, "size")[:2]).tolist()
    centre: Point | None = None
    if design.payload.centre is not None:
        x, y = (1e3 * design.payload.centre_of_gravity()[:2]).tolist()
        centre = (x, y)
    return DrillTemplate(
        name=design.name,
        holes=holes,
        length=length,
        width=width,
        centre=centre,
        datum=f"the middle of {'the payload' if body == MAIN else body}'s box",
        placing=tuple(_placing(design, length, width)),
        notes=tuple(_notes(body, holes, length, width, centre)),
    )


def _placing(design: Design, length: float, width: float) -> Iterator[str]:
    yield (
        "The outline is the payload's box. Turn no sheet over: from below the pattern is mirrored."
    )
    if design.on_lid:
        yield (
            "It hangs from the lid and is seen from above through the closed lid: on the lid's "
            "inner face the pattern is mirrored."
        )
    ways = []
    halves = (length / 2, length / 2, width / 2, width / 2)
    gaps = 1e3 * design.case.by_face()
    for face, half, gap in zip(FACES[:4], halves, gaps[:4].tolist(), strict=True):
        if not math.isnan(gap) and face not in design.stands_before:
            ways.append(f"{half + gap:.4g} mm from the {face}")
    if ways:
        yield f"By the gaps given, the datum is {', '.join(ways)}, as the wall is inside."


def _hole(number: int, place: Place) -> Hole:
    sizes, way = place.mount.sizes, np.abs(place.direction())
    hole = np.nan if sizes is None else sizes.size("hole")
    x, y, z = (float(f"{v:.10g}") for v in 1e3 * si_array(place, "position"))
    return Hole(
        number=number,
        mount=place.mount.name,
        x=x,
        y=y,
        z=z,
        diameter=None if np.isnan(hole) else float(f"{1e3 * hole:.10g}"),
        axis="xyz"[int(way.argmax())] if way.max() > UPRIGHT else "leaning",
        missing=kind_key(place.mount.name, "hole") if np.isnan(hole) else "",
    )


def _notes(
    body: str, holes: Sequence[Hole], length: float, width: float, centre: Point | None
) -> Iterator[str]:
    if centre is None:
        yield f"centre of gravity: not known ({key_of(body, 'payload.centre')})"
    for key in dict.fromkeys(hole.missing for hole in holes if hole.missing):
        yield f"hole: not known ({key}): measure the mount before you drill"
    drilled = [hole for hole in holes if hole.from_above]
    for n, one in enumerate(drilled):
        r = (one.diameter or 0.0) / 2
        if abs(one.x) + r > length / 2 or abs(one.y) + r > width / 2:
            yield f"hole {one.number} reaches beyond the payload's outline"
        for other in drilled[:n]:
            apart = math.hypot(one.x - other.x, one.y - other.y)
            if 0 < apart < r + (other.diameter or 0.0) / 2:
                yield f"holes {other.number} and {one.number} run into each other"

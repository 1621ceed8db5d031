"""What only a slip explains: one object against another, a line each that begins with its key."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np

from isolator.case import Case
from isolator.checks import pair_id
from isolator.clearance import apart
from isolator.design import MAIN, key_under
from isolator.fields import safe, shown, some_of
from isolator.inside import EXACT, FACES
from isolator.payload import Part, Payload
from isolator.schema import (
    HEAVIEST,
    PartRow,
)
from isolator.suspension import ATTITUDES
from isolator.trip import Leg
from isolator.units import (
    INERTIA,
    MASS,
    POSITION,
    SIZE,
    FloatArray,
    si,
    si_array,
    si_array_or_none,
)

_NAME = re.compile(r"[^\W\d_][\w -]{0,38}\w|[^\W\d_]")


def frame_key(body: str) -> str:
    """Head of the tables of a further body in a message, whatever its name.

    >>> frame_key("lid tray")
    'frame."lid tray"'
    """
    return f"frame.{safe(body)}"


def unusable_names(
    frames: Iterable[str], legs: Sequence[Leg | None], case: Case | None
) -> Iterator[str]:
    """Names of further bodies that ids of checks could not hold, or that mean something else."""
    frames = list(frames)
    taken = dict.fromkeys([*FACES, "corner radius", "floor radius"], "a word of the checks")
    taken |= dict.fromkeys([leg.name for leg in legs if leg], "the name of a leg")
    solids = [*(o.name for o in case.standing()), *(r.name for r in case.ribs)] if case else []
    taken |= dict.fromkeys(solids, "the name of an obstacle")
    for pair in combinations(frames, 2):
        name = pair_id(*pair).partition("/")[2]
        if name in solids:
            yield f"case.obstacle {name!r}: a check has this name already; give it another"
    for name in frames:
        at = frame_key(name)
        if not _NAME.fullmatch(name):
            yield (
                f"{at}: not a usable name; write letters, digits, spaces, - and _, beginning with "
                "a letter, 40 at most"
            )
        elif " and " in name:
            yield f'{at}: ids of checks join two bodies by " and "; write the name without it'
        elif name in taken:
            yield f"{at}: its name is {taken[name]} too; give it another"


def collisions(boxes: Mapping[str, tuple[FloatArray, FloatArray]]) -> Iterator[str]:
    """Bodies that are in each other where they were measured."""
    for one, other in combinations(sorted(boxes, key=lambda name: (name != MAIN, name)), 2):
        (here, size), (there, its) = boxes[one], boxes[other]
        gap = apart(there - here, size, its)
        k = int(gap.argmax())
        if gap[k] < -EXACT:
            yield (
                f"{frame_key(other)}.at: already touching "
                f"{'the payload' if one == MAIN else some_of([one])}: their boxes overlap by "
                f"{POSITION.text(-gap[k])} along {'xyz'[k]} and more along the others; it counts "
                "from the middle of the payload's box to the middle of its own, measure again"
            )


def too_far(boxes: Mapping[str, tuple[FloatArray, FloatArray]], case: Case | None) -> Iterator[str]:
    """Bodies that no case of that size holds together with the payload."""
    outside = None if case is None else si_array_or_none(case, "size")
    if outside is None or MAIN not in boxes:
        return
    (_, size), others = boxes[MAIN], [name for name in boxes if name != MAIN]
    for name in others:
        at, its = boxes[name]
        span = np.maximum(size / 2, at + its / 2) - np.minimum(-size / 2, at - its / 2)
        for k in np.flatnonzero(span > outside):
            yield (
                f"{frame_key(name)}.at: {'xyz'[k]} = {POSITION.text(at[k])}: with the "
                f"payload it takes {SIZE.text(span[k])}, case.size is {SIZE.text(outside[k])} "
                "outside; measure again, or check the units"
            )


def not_before(
    stands: Mapping[str, Mapping[str, str]], boxes: Mapping[str, tuple[FloatArray, FloatArray]]
) -> Iterator[str]:
    """Faces for which a body is named that does not stand between them and their wall."""
    for body, faces in stands.items():
        for face, other in faces.items():
            if body not in boxes or other not in boxes:
                continue
            (here, size), (there, its) = boxes[body], boxes[other]
            k, upward = divmod(FACES.index(face), 2)
            gap = apart(there - here, size, its)
            ahead = (there[k] > here[k]) == bool(upward) and gap[k] > -EXACT
            if ahead and np.delete(gap, k).max() < 0:
                continue
            wrong = "beside it" if ahead else "not there"
            key = f"case.{face.replace(' ', '_')}"
            key = key if body == MAIN else key_under(frame_key(body), key)
            yield (
                f"{key} = {shown(other)}: seen from this body the other one is {wrong}, so nothing "
                "stands before that wall; give the gap as a length, or correct at and size"
            )


def far(at: FloatArray, size: FloatArray) -> Iterator[str]:
    """A position that only a slip of units explains."""
    for k in np.flatnonzero(np.abs(at) > size / 2 + np.maximum(size, 0.3)):
        yield (
            f"{'xyz'[k]} = {POSITION.text(at[k])} lies far outside the payload's box of "
            f"{SIZE.text(size[k])}: a slip of units? Positions count from its middle"
        )


def far_parts(
    rows: Sequence[tuple[str, PartRow]], parts: Sequence[Part], payload: Payload
) -> Iterator[str]:
    """The same for the parts of a table."""
    size = si_array(payload, "size")
    for (where, _), part in zip(rows, parts, strict=True):
        yield from (where + far for far in far(si_array(part, "position"), size))


def odd_body(payload: Payload) -> Iterator[str]:
    """What no payload in that box can have."""
    mass, size = si(payload, "mass"), si_array(payload, "size")
    if mass > HEAVIEST:
        yield f"mass: {MASS.text(mass)} is more than {HEAVIEST:g} kg; a slip of units?"
    centre = payload.centre_of_gravity()
    for k in np.flatnonzero(np.abs(centre) > size / 2):
        yield (
            f"centre: {'xyz'[k]} = {POSITION.text(centre[k])} lies outside the payload's "
            f"box of {SIZE.text(size[k])}; it counts from the middle of the box"
        )


def odd_inertia(payload: Payload) -> Iterator[str]:
    """Moments that no payload of that mass in that box can have."""
    mass, size = si(payload, "mass"), si_array(payload, "size")
    if (given := si_array_or_none(payload, "inertia")) is None:
        return
    moments = given if given.ndim == 1 else np.diag(given)
    # About its centre nothing in the box has more than a shell at its corners; a thousandth of
    # that is a lump of a thirtieth of its size.
    most = mass * (np.sum(size**2) - size**2) / 4
    for k in np.flatnonzero((moments > 1.001 * most) | (moments < 1e-3 * most)):
        yield (
            f"inertia: {INERTIA.text(moments[k])} about {'xyz'[k]}; {MASS.text(mass)} in "
            f"this box has {INERTIA.text(1e-3 * most[k])} to {INERTIA.text(most[k])}: a slip of "
            "units?"
        )


def contradictions(attitudes: Sequence[str], legs: Sequence[Leg | None]) -> Iterator[str]:
    """Legs that do not go with the attitudes in which the case may stand, or with their own."""
    for n, leg in enumerate(legs, start=1):
        if leg is None:
            continue
        if "/" in leg.name:
            yield f"leg[{n}].name = {shown(leg.name)}: check ids are cut at /; write it without one"
        if leg.attitude not in attitudes:
            yield (
                f"leg[{n}].attitude = {shown(leg.attitude)}: attitudes leaves it out; add it there"
            )
        if leg.lid == "open" and leg.attitude == "lid down":
            yield f"leg[{n}].lid = 'open': it stands on its lid; close it or change the attitude"
        if leg.lid == "open" and leg.drops and "lid down" in leg.landings:
            yield (
                f"leg[{n}].lid = 'open': its drop lands on the lid too; leave lid down out of "
                "landings, or close it"
            )
        down = "xyz"[int(np.flatnonzero(ATTITUDES[leg.attitude])[0])]
        if leg.axes and leg.axes["vertical"] != down:
            yield (
                f"leg[{n}].axes.vertical = {shown(leg.axes['vertical'])}: {leg.attitude}, {down} "
                "is vertical; change one of the two"
            )

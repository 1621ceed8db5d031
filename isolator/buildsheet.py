"""What the bench needs to build the case and to check it: everything on the sheet, no layout.

What nobody gave stands as not known, with the key of the brief that would tell.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from isolator.assessment import Assessment
from isolator.cautions import own_checks, strap_counted
from isolator.checks.room import motion_gaps
from isolator.clearance import both_ways, demand
from isolator.design import MAIN, cables_of, key_of, kind_key
from isolator.inside import FACES, OWN
from isolator.mount import FIT, Mount, Place, Sizes
from isolator.payload import CORNERS, SIGNS
from isolator.response import Response
from isolator.suspension import Pose, motion_name
from isolator.trip import AXES
from isolator.units import G0, FloatArray, refuse_other, si_array, si_or_none

PUSHES = (20.0, 50.0, 100.0, 200.0)
"""Pushes for a kitchen scale, and for a luggage scale above its reach (common practice). [N]"""

RULER = 1.0
"""What a ruler shows; what moves less needs a gauge (common practice). [mm]"""

USED = 0.5
"""Of the way to metal that a push may use (common practice). [-]"""

DIAL, FEELER = "dial gauge", "feeler or dial gauge"
"""What shows a travel, and a sag, that a ruler does not."""

TAP_OVER = (1.0, 1.5)
"""Stiffness of rubber at the small strain of a tap over that of transport (common practice). [-]"""

FIRST_LOOK, NEXT_LOOK = 30, 365
"""Days until it is looked at again: most of the creep of a year is in its first month, for it goes
by the logarithm of time."""

PITCHES = {3.0: 0.5, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 8.0: 1.25, 10.0: 1.5, 12.0: 1.75}
"""Metric coarse threads, diameter → pitch (ISO 261, memory). [mm]"""

ON_A_SLEEVE = ("panel grommet",)

UPRIGHT = 0.7
"""Cosine between a mount's push and down, 45°, from which on the payload is above it. [-]"""

LOW_CORNERS = [n for n, name in enumerate(CORNERS) if name.endswith("-")]
CORNER_WORDS = {
    "---": "left end, handle side",
    "-+-": "left end, hinge side",
    "+--": "right end, handle side",
    "++-": "right end, hinge side",
}


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One number of the sheet.

    Attributes
    ----------
    what : str
    value : float or None
        In `unit`; None where it is not known, or there is none.
    unit : str
    key : str
        Of the brief, that would tell what is not known; empty where there is nothing to tell.
    note : str
        Words after the number, or in its place.
    at_least : bool
        Whether no less will do, so that it is told rounded up.
    """

    what: str
    value: float | None
    unit: str = "mm"
    key: str = ""
    note: str = ""
    at_least: bool = False

    @property
    def absent(self) -> bool:
        """Whether there is none, so that no key would tell."""
        return self.value is None and not self.key

    @property
    def text(self) -> str:
        """The number with its unit, or that it is not known and what would tell.

        >>> Entry(what="hole", value=None, key="mount.ring.hole").text
        'not known (mount.ring.hole)'
        >>> Entry(what="slack", value=1.303, at_least=True).text
        'at least 2 mm'
        """
        if self.value is None:
            return f"not known ({self.key})" if self.key else self.note
        value = round(self.value, 6)
        said = f"at least {math.ceil(value)}" if self.at_least else f"{value:.4g}"
        said += f" {self.unit}"
        return f"{said}; {self.note}" if self.note else said


@dataclass(frozen=True, kw_only=True)
class Predicted:
    """A number of the bench before it is measured.

    Attributes
    ----------
    what : str
    low, stated, high : float or None
        Ends of what is known of the case, and as stated; None where it is not known.
    unit : str
    key : str
        What would tell.
    note : str
        Words after the number, or in its place.
    """

    what: str
    low: float | None
    stated: float | None
    high: float | None
    unit: str
    key: str = ""
    note: str = ""

    @property
    def text(self) -> str:
        """As stated, with the range where there is one.

        >>> Predicted(what="sag", low=2.0, stated=2.5, high=3.0, unit="mm").text
        '2.5 mm (2 to 3)'
        """
        return self._said(f" {self.unit}")

    @property
    def number(self) -> str:
        """The same without the unit, which then stands elsewhere.

        >>> Predicted(what="sag", low=2.0, stated=2.5, high=3.0, unit="mm").number
        '2.5 (2 to 3)'
        """
        return self._said("")

    def _said(self, unit: str) -> str:
        if self.low is None or self.stated is None or self.high is None:
            return f"not known ({self.key})" if self.key else self.note or "not known"
        ends = [f"{end:.3g}" for end in (self.low, self.high)]
        said = f"{self.stated:.3g}"
        said += unit + ("" if {*ends} == {said} else f" ({' to '.join(ends)})")
        return f"{said}; {self.note}" if self.note else said


@dataclass(frozen=True, kw_only=True)
class KindOfMount:
    """One kind of mount on the sheet.

    Attributes
    ----------
    name : str
    shape : str
        Of its rubber, one of `estimate.KINDS`; empty where it is not known.
    count : int
    numbers : sequence of int
        Of the mounts, from 1, as in every table.
    fit : mapping of what to Entry
        hole, panel, sleeve, sleeve length, pinch, washer, flange, flange thickness.
    bolt : str
        What the bolt through its rubber has to be; empty where none goes through.
    sizes : Sizes
        As far as they are given.
    payload_side : str
        Where the payload is from it, lid up: above, below or beside, or where each has it.
    sleeve_way : str
        From which side the sleeve goes in; empty for a mount without one.
    tightened : str
        How far: metal to metal, or turns past contact.
    lock, counter_hold, captive : str
        What secures it; what is held while a nut turns; what holds when the rubber fails.
    steps : sequence of str
        In the order of assembly, so that it comes apart without disturbing the mounts.
    """

    name: str
    shape: str
    count: int
    numbers: Sequence[int]
    fit: Mapping[str, Entry]
    bolt: str
    sizes: Sizes
    payload_side: str
    sleeve_way: str
    tightened: str
    lock: str
    counter_hold: str
    captive: str
    steps: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class Loop:
    """What a cable needs so that no sway draws it taut.

    Attributes
    ----------
    name : str
    sway : Entry
        Most that the payload moves where it holds on, any direction.
    slack : Entry
        By how much it must be longer than the straight line between its clamps: the same, for a
        side of a triangle is no longer than the other two. At least so much: what it needs for its
        bends and to be plugged in comes on top.
    """

    name: str
    sway: Entry
    slack: Entry


@dataclass(frozen=True, kw_only=True)
class BuildSheet:
    """Everything that one body's build sheet says.

    Attributes
    ----------
    name : str
        Of the case, and of the body where it is a further one.
    date : date or None
    rechecks : sequence of date
        First look, next look; empty without a date.
    recheck : str
        The same in words.
    kinds : sequence of KindOfMount
    loops : sequence of Loop
        A loop for each cable, and one for any other at the worst corner.
    strap : str
    order : sequence of str
        What comes after the mounts.
    sag, push, tap, truck : sequences of Predicted
        Lid up, 23 °C: at each lower corner; travel of the centre of gravity for a slow push, by
        axis, with the force in its name; what a tap of each mode should read, and what the same
        mode does on a truck.
    push_force : sequence of float or None
        Of each of these pushes; None where nothing is to be pushed. [N]
    contact : sequence of Entry
        Gap to every face with the payload hanging, to be felt all round.
    dummy : sequence of Entry
        Mass and centre of a dummy.
    protocol : sequence of str
        What to do with it, in order.
    """

    name: str
    date: datetime.date | None
    rechecks: Sequence[datetime.date]
    recheck: str
    kinds: Sequence[KindOfMount]
    loops: Sequence[Loop]
    strap: str
    order: Sequence[str]
    sag: Sequence[Predicted]
    push: Sequence[Predicted]
    tap: Sequence[Predicted]
    truck: Sequence[Predicted]
    push_force: Sequence[float | None]
    contact: Sequence[Entry]
    dummy: Sequence[Entry]
    protocol: Sequence[str]


def build_sheet(assessment: Assessment, frame: str | None = None) -> BuildSheet:
    """The sheet of one body.

    Parameters
    ----------
    assessment : Assessment
    frame : str, optional
        Name of a further body of the brief; the main payload if left out.

    Raises
    ------
    InputError
        No body of that name.

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> sheet = build_sheet(isolator.assess(str(data_file("starter/case.toml"))))
    >>> sheet.kinds[0].count, sheet.kinds[0].fit["hole"].text
    (4, 'not known (mount.ring.hole)')
    >>> sheet.recheck
    'not known (date)'
    """
    refuse_other("assessment", assessment, Assessment, "an Assessment, as assess gives one")
    response = assessment.body(frame)
    tried = assessment.tried[frame or MAIN]
    loops = list(_loops(assessment, frame))
    forces = [push_force(tried, axis) for axis in range(3)]
    day = assessment.design.date
    looks = [] if day is None else [day + datetime.timedelta(n) for n in (FIRST_LOOK, NEXT_LOOK)]
    name = assessment.design.name
    return BuildSheet(
        name=f"{name}: {frame}".strip(": ") if frame else name,
        date=day,
        rechecks=looks,
        recheck=f"{looks[0]}, {looks[1]}, then every year" if looks else "not known (date)",
        kinds=list(_kinds(response)),
        loops=loops,
        strap=_strap(response, frame or MAIN, loops[-1]),
        order=ORDER,
        sag=list(_sag(tried)),
        push=list(_push(tried, forces)),
        tap=list(_tap(tried, (math.sqrt(math.prod(TAP_OVER)), *TAP_OVER))),
        truck=list(_tap(tried, (1.0,))),
        push_force=forces,
        contact=list(_contact(response, frame or MAIN)),
        dummy=list(_dummy(response, frame or MAIN)),
        protocol=_protocol(assessment),
    )


# How each kind of mount is fitted.


def _kinds(response: Response) -> Iterator[KindOfMount]:
    places = response.designs[0].places
    for mount in {place.mount.name: place.mount for place in places}.values():
        own = {n: p for n, p in enumerate(places, start=1) if p.mount.name == mount.name}
        sizes = mount.sizes or Sizes()
        yield KindOfMount(
            name=mount.name,
            shape=sizes.kind or "",
            count=len(own),
            numbers=list(own),
            fit=_fit(mount.name, sizes),
            bolt=_bolt(sizes),
            sizes=sizes,
            payload_side=_side(own.values()),
            sleeve_way=SLEEVE_WAY if sizes.kind in ON_A_SLEEVE else "",
            tightened=_tightened(mount.name, sizes),
            lock=_lock(mount.name, sizes),
            counter_hold=_counter_hold(mount.name, sizes),
            captive=_captive(mount, sizes),
            steps=_steps(mount.name, sizes),
        )


PLAIN = ("pad", "disc", "ring", "bobbin", "bush", "o-ring")


def _fit(name: str, sizes: Sizes) -> dict[str, Entry]:
    out = {}
    for size in FIT:
        value, what = sizes.size(size), size.replace("_", " ")
        key, note = kind_key(name, size), ""
        has = ("hole", "washer") if sizes.bolted_through() else ("hole",)
        if sizes.kind in PLAIN and size not in has:
            key, note = "", f"a {sizes.kind} has none"
        if sizes.kind == "threaded nut" and size == "sleeve_length":
            key, note = "", "a threaded nut has none: its screw is the sleeve"
        known = not math.isnan(value)
        out[what] = Entry(
            what=what,
            value=1e3 * value if known else None,
            key="" if known else key,
            note="" if known else note,
        )
    pinch = sizes.pinch()
    lacking = _lacking(sizes, "flange_thickness", "panel", "sleeve_length")
    own = sizes.kind in ON_A_SLEEVE or sizes.kind is None
    out["pinch"] = Entry(
        what="pinch",
        value=None if lacking else 1e3 * pinch,
        key=kind_key(name, lacking[0]) if lacking and own else "",
        note=f"a {sizes.kind} has none"
        if lacking and not own
        else "it rattles: the sleeve is too long"
        if pinch <= 0
        else ""
        if lacking
        else f"{pinch / sizes.size('flange_thickness'):.0%} of each flange",
    )
    return out


def _unknown(sizes: Sizes, name: str) -> bool:
    return math.isnan(sizes.size(name))


def _lacking(sizes: Sizes, *names: str) -> list[str]:
    """Those of some sizes that nobody gave."""
    return [name for name in names if _unknown(sizes, name)]


def _not_known(mount: str, *keys: str) -> str:
    return f"not known ({', '.join(kind_key(mount, key) for key in keys)})"


def _bolt(sizes: Sizes) -> str:
    """What is known of the bolt, for which no key asks."""
    if not sizes.bolted_through():
        return ""
    if sizes.kind not in ON_A_SLEEVE:
        return "to fit the bore: measure it; its grip is all that it clamps"
    long = 1e3 * sizes.size("sleeve_length")
    sleeve = "the sleeve's length" if math.isnan(long) else f"the sleeve's {long:.4g} mm"
    return f"to fit the sleeve's bore: measure it; its grip is {sleeve} and both washers"


def _side(places: Iterable[Place]) -> str:
    """Where the payload is from the mounts of a kind, by the way that they push it."""
    up = {
        "above" if push < -UPRIGHT else "below" if push > UPRIGHT else "beside"
        for push in (float(place.direction()[2]) for place in places)
    }
    return " or ".join(sorted(up))


def _tightened(name: str, sizes: Sizes) -> str:
    """How far the nut is turned."""
    if sizes.kind == "threaded nut":
        way, screw = 1e3 * sizes.size("draw"), 1e3 * sizes.size("sleeve")
        pitch = next((p for d, p in PITCHES.items() if abs(d - screw) < 0.1), None)
        if math.isnan(way):
            return f"turns past contact: {_not_known(name, 'draw')}"
        if pitch is None:
            return f"past contact by {way:.3g} mm: so much over the screw's pitch in turns"
        turns = f"{way / pitch:.2g} turns"
        return f"past contact by {turns} of a screw M{screw:.0f} (pitch {pitch:g} mm, {way:.3g} mm)"
    if sizes.kind in ON_A_SLEEVE:
        if _unknown(sizes, "sleeve_length"):
            return (
                f"{_not_known(name, 'sleeve_length')}: without a sleeve that bottoms, the nut "
                "crushes the rubber"
            )
        return (
            "until the sleeve bottoms metal to metal between the washers, "
            f"{1e3 * sizes.size('sleeve_length'):.4g} mm apart"
        )
    if sizes.kind in ON_METAL:
        return "metal to metal on its own plates: the nut does not press on the rubber"
    if sizes.kind in PLAIN:
        return (
            "just to contact and no further, then locked: nothing but rubber stops the nut; a "
            "sleeve under the bolt's head would"
        )
    return _not_known(name, "kind", *_lacking(sizes, "sleeve_length"))


def _captive(mount: Mount, sizes: Sizes) -> str:
    if sizes.kind is None:
        return _not_known(mount.name, "kind", *_lacking(sizes, "hole", "washer"))
    if sizes.kind == "threaded nut":
        return (
            "its washer presses on the flange on the payload's side: where the tube or its bond "
            "fails, screw and nut pull out through the hole; a strap or a stop holds"
        )
    if not sizes.bolted_through():
        return (
            f"no bolt goes through the rubber of a {sizes.kind}, so no washer holds where it or "
            "its bond fails: a strap or a stop does"
        )
    if sizes.held_by_metal():
        washer, hole = (1e3 * sizes.size(k) for k in ("washer", "hole"))
        return (
            f"the washer of {washer:.4g} mm does not pass the hole of {hole:.4g} mm: metal holds "
            "where the rubber fails"
        )
    if not _unknown(sizes, "hole"):
        return (
            f"{_not_known(mount.name, 'washer')}: larger than the hole of "
            f"{1e3 * sizes.size('hole'):.4g} mm, it holds where the rubber fails"
        )
    return _not_known(mount.name, *_lacking(sizes, "hole", "washer"))


SLEEVE_WAY = "the sleeve goes in from the payload's side, the bolt from the other"

LOCK_NUT = "a lock nut or a nut with an insert, used once"

ON_METAL = ("bobbin", "bush")


def _lock(name: str, sizes: Sizes) -> str:
    """What secures the nut, and why: by what carries its clamp load."""
    if sizes.kind is None:
        return (
            f"{LOCK_NUT}: whether metal or rubber carries its clamp load is "
            f"{_not_known(name, 'kind')}"
        )
    if sizes.kind in ON_A_SLEEVE and _unknown(sizes, "sleeve_length"):
        return f"{LOCK_NUT}: whether a sleeve bottoms is {_not_known(name, 'sleeve_length')}"
    if sizes.kind in (*ON_A_SLEEVE, *ON_METAL):
        return f"metal to metal, by the full torque of the screw's size; {LOCK_NUT}, for vibration"
    return f"{LOCK_NUT}: rubber holds no clamp load, so a plain nut comes loose"


COUNTER_HOLD = {
    "": "hold the far end of the bolt or stud with a second spanner while any nut turns, so that "
    "the rubber is not twisted",
    "panel grommet": "hold the bolt's head with a second spanner while any nut turns, so that the "
    "rubber is not twisted",
    "bobbin": "hold the plate of the bobbin beside the nut with a thin spanner: a twisted bobbin "
    "tears at its bond",
    "threaded nut": "hold the bonded nut with pliers while the screw turns: its bond may spin",
}

LAST = (
    "Set the payload over the ends of the bolts, with its own washers and lock nuts; these nuts "
    "alone come off when the payload comes out, and the mounts stay as they are.",
    "Mark every nut with paint across its thread.",
)

STEPS = {
    "panel grommet": (
        "Drill the holes, break their edges on both sides, and press the grommets in until the "
        "panel lies in the groove all round.",
        "Push the sleeve in from the payload's side until it stands out alike on both sides.",
        "Put the bolt through from the other side, a washer under its head, a washer and the "
        "mount's own nut on the payload's side.",
        "Tighten until the sleeve is metal to metal between the washers, then lock the nut; hold "
        "the head meanwhile.",
        *LAST,
    ),
    "threaded nut": (
        "Drill the holes, break their edges on both sides, and push the nuts in from the payload's "
        "side until the flange lies on the panel.",
        "Set the payload over them and turn each screw to first contact.",
        "Turn all screws past contact by the same turns, crosswise; hold the bonded nuts.",
        "Secure each screw by a lock nut on its far end.",
        "To take it apart undo the screws alone; count the same turns when they go back.",
        "Mark every screw with paint across its head.",
    ),
    "bobbin": (
        "Screw the bobbins to the case by their lower studs and lock them; hold the lower plate.",
        "Look that none is twisted: a line drawn along its side stays straight.",
        *LAST,
    ),
    "bush": (
        "Press the bushes into their holes by the outer tube, never by the rubber.",
        "Put the bolts through from the side away from the payload and lock them with nuts of "
        "their own.",
        *LAST,
    ),
    "": (
        "Fasten the mounts to the case with nuts or screws of their own and lock them.",
        *LAST,
    ),
}
"""Shape → steps; what has none of its own is fastened as any other."""

GENERAL = (
    "fasten the mounts to the case by what they have for it, and lock that.",
    "Set the payload on them so that it comes out again without disturbing the mounts, by nuts or "
    "screws of its own, and lock these.",
    "Mark every nut with paint across its thread.",
)
"""Steps for a mount whose kind nobody told."""


def _counter_hold(name: str, sizes: Sizes) -> str:
    if sizes.kind is None:
        return f"{_in_general(name)}: {COUNTER_HOLD['']}"
    return COUNTER_HOLD.get(sizes.kind, COUNTER_HOLD[""])


def _steps(name: str, sizes: Sizes) -> Sequence[str]:
    if sizes.kind is None:
        whose = _in_general(name)
        return [f"{whose[0].upper()}{whose[1:]}: {GENERAL[0]}", *GENERAL[1:]]
    return STEPS.get(sizes.kind, STEPS[""])


def _in_general(name: str) -> str:
    return f"in general, as its kind is not known ({kind_key(name, 'kind')})"


ORDER = (
    "Lay every cable, hose and strap in a loop, longer by what stands below plus a service loop "
    "and its bend radius, clamped at both ends.",
    "Feel the contact all round, face by face, before the lid is closed and after.",
    "Measure sag, push and tap with the dummy and write them beside what is predicted.",
    "Look at it again when its date comes: sag, gaps, nuts, cracks at the bond.",
)


# Cables.


def _loops(assessment: Assessment, frame: str | None) -> Iterator[Loop]:
    """A loop for each cable; the last is for any other, at the worst corner."""
    response, tried = assessment.body(frame), assessment.tried[frame or MAIN]
    design = response.designs[0]
    reach = reach_of(tried, response)
    half = si_array(design.payload, "size") / 2
    gaps = motion_gaps(response, 0, lid=False)
    gaps.pop("case.measured", None)  # from the unloaded pose it does not matter
    gaps = {key_of(frame or MAIN, key): why for key, why in gaps.items()}
    for cable in design.cables:
        there = sway(reach, si_array(cable, "position") / half)
        yield _loop(cable.name, there, gaps)
    ends = np.concatenate([sway(reach, corner) for corner in SIGNS])
    yield _loop("any other, at the worst corner", ends, gaps)


def _loop(name: str, there: FloatArray, gaps: Mapping[str, str]) -> Loop:
    """A loop by the ways of its end; not known where a motion lacks something, key → sentence."""
    far = _length(there)
    known = not gaps and math.isfinite(far)
    key, why = next(iter(gaps.items()), ("", "nothing holds the payload"))
    sway_said = Entry(
        what="sway",
        value=1e3 * far if known else None,
        key="" if known else key,
        note="" if known or key else f"not known: {why}",
    )
    return Loop(name=name, sway=sway_said, slack=replace(sway_said, what="slack", at_least=True))


def _length(there: FloatArray) -> float:
    """The longest way that the worst of motions (m, 6) towards six faces allows. [m]"""
    return float(np.linalg.norm(there.reshape(-1, 3, 2).max(axis=2), axis=1).max())


def reach_of(tried: Response, followed: Response) -> FloatArray:
    """Most that each motion takes each corner towards each face from the unloaded pose. [m]

    At rest and shaken over all variants, in falls as they happen to the case as stated. (m, 8, 6);
    0 where a motion is unknown, which `motion_gaps` then says.
    """
    none = np.zeros((1, 1, 1))
    parts = []
    for response, falls in ((tried, False), (followed, True)):
        root = np.zeros(len(response.designs), dtype=bool)
        for motion in response.motions:
            if (motion.kind == "fall") == falls:
                moved = demand(motion, none, np.zeros(1), root, doubted=True)
                parts.append(np.maximum(moved, 0.0).max(axis=0))
    return np.stack(parts)


def sway(reach: FloatArray, at: FloatArray) -> FloatArray:
    """Most that a point of the payload moves towards each face, (..., 6). [m]

    A rigid body moves linearly with the place on it, so a point goes no further than the same mean
    of the ways of the corners, each taken the worse way where the point lies outside of the box.

    Parameters
    ----------
    reach : (..., 8, 6) array
        Of the corners, not below 0. [m]
    at : (3,) array
        Of the point, over half the size of the box: a corner is at ±1. [-]

    Examples
    --------
    >>> far = np.zeros((8, 6)); far[:, 5] = [0, 2, 0, 2, 0, 2, 0, 2]
    >>> [float(sway(far, np.array([0, 0, z]))[5]) for z in (-1, 0, 1)]
    [0.0, 1.0, 2.0]
    """
    share = np.prod((1 + SIGNS * at) / 2, axis=1)[:, None]
    other = reach[..., [1, 0, 3, 2, 5, 4]]
    return np.asarray((np.maximum(share, 0) * reach + np.maximum(-share, 0) * other).sum(axis=-2))


def _strap(response: Response, body: str, any_other: Loop) -> str:
    mains = response.designs[0].payload.mains
    if mains is None:
        return f"not known ({key_of(body, 'payload.mains')})"
    if not mains:
        return "none: no mains inside"
    slack = any_other.slack
    cables = cables_of(body)
    longer = slack.text if slack.value is not None else "the full sway, not known: see the loops"
    counted = strap_counted([cable.name for cable in response.designs[0].cables])
    return (
        "a bonding strap from the payload to the case, longer than the straight line between its "
        f"ends by {longer}, plus a service loop; count its stiffness as a {cables} ({counted})"
    )


# The bench.


def _lid_up(response: Response) -> Pose:
    pose = response.pose
    return Pose(pose.shift[:, 0], pose.turn[:, 0], pose.found[:, 0])


def _range(what: str, values: FloatArray, unit: str, key: str = "") -> Predicted:
    """Lowest, as stated and highest of the variants (b, ...), the stated one first."""
    flat = values.reshape(-1)
    known = flat[np.isfinite(flat)]
    if not known.size or not math.isfinite(flat[0]):
        return Predicted(what=what, low=None, stated=None, high=None, unit=unit, key=key)
    low, stated, high = (float(v) for v in (known.min(), flat[0], known.max()))
    return Predicted(what=what, low=low, stated=stated, high=high, unit=unit)


UNHELD = "the checks 'stands' and 'held when pulled'"


def _sag(tried: Response) -> Iterator[Predicted]:
    """How far each lower corner of the box goes down from the unloaded pose, lid up."""
    pose = _lid_up(tried)
    down = -1e3 * pose.moved(tried.corners)[..., 2]
    down = np.where(pose.found[:, None], down, np.nan)
    for n in LOW_CORNERS:
        yield _read_by(FEELER, _range(CORNER_WORDS[CORNERS[n]], down[:, n], "mm", UNHELD))


def _read_by(gauge: str, one: Predicted) -> Predicted:
    """What a ruler does not show, with what shows it."""
    small = one.stated is not None and abs(one.stated) < RULER
    return replace(one, note=gauge) if small else one


def push_force(tried: Response, axis: int) -> float | None:
    """The least of `PUSHES` that moves the centre of gravity by `RULER`, else the most allowed. [N]

    None where even the smallest may not be, or nothing is known. What it may be: the sum of the
    rated loads, or the weight of what floats where one of them is unknown; and half of the
    shortest way to metal of any mount.

    Parameters
    ----------
    tried : Response
        All variants, the stated one first.
    axis : int
        0, 1, 2: along x, y, z.
    """
    mounts = [place.mount for place in tried.designs[0].places]
    rated = [si_or_none(mount, "rated_load") for mount in mounts]
    known = [load for load in rated if load is not None]
    weight = float(tried.suspension.mass[0]) * G0
    most = sum(known) if len(known) == len(rated) else weight
    ways = np.concatenate([mount.limits() for mount in mounts])
    far = USED * float(ways[np.isfinite(ways)].min(initial=np.inf))
    soft = tried.compliance[:, axis]
    if not np.isfinite(soft[0]):
        return None
    found = None
    for force in PUSHES:
        if force > most or force * float(np.nanmax(soft)) > far:
            break
        found = force
        if 1e3 * force * float(soft[0]) >= RULER:
            break
    return found


def _push(tried: Response, forces: Sequence[float | None]) -> Iterator[Predicted]:
    for k, (axis, force) in enumerate(zip(AXES, forces, strict=True)):
        soft = tried.compliance[:, k]
        if force is not None:
            yield _read_by(DIAL, _range(f"{axis}, {force:g} N", 1e3 * force * soft, "mm", UNHELD))
        elif np.isfinite(soft[0]):
            note = f"do not push: {PUSHES[0]:g} N is more than the mounts may bear"
            yield Predicted(what=axis, low=None, stated=None, high=None, unit="mm", note=note)
        else:
            yield _range(axis, soft, "mm", UNHELD)


def _tap(tried: Response, over: Sequence[float]) -> Iterator[Predicted]:
    """Modes lid up at 23 °C, over variants, inertia band and stiffness over that of transport.

    `over` has what is stated first.
    """
    pose = _lid_up(tried)
    names = tried.suspension.undamped(pose)[1][0]
    inertia = np.stack([design.payload.inertias() for design in tried.designs])
    held = replace(tried.suspension.repeated(), inertia=inertia)
    there = pose.repeated()
    each = [
        replace(held, dynamic_ratio=held.dynamic_ratio * factor).frequencies(there)
        for factor in over
    ]
    found = np.stack(each, axis=1)
    found = np.where(pose.found[:, None, None, None], found, np.nan)
    for k in range(6):
        yield _range(motion_name(names[k]), found[..., k], "Hz", UNHELD)


def _contact(response: Response, body: str) -> Iterator[Entry]:
    """The gap to each face as the payload hangs, lid up."""
    design, pose = response.designs[0], _lid_up(response)
    moved = pose.moved(response.corners)
    used = both_ways(moved, moved) - response.room.start
    left = np.where(OWN, response.room.gap - used, np.inf)[0].min(axis=0)
    for k, face in enumerate(FACES):
        other = design.stands_before.get(face, "")
        key = key_of(body, f"case.{face.replace(' ', '_')}")
        known = bool(np.isfinite(left[k])) and bool(pose.found[0]) and not other
        yield Entry(
            what=face,
            value=1e3 * float(left[k]) if known else None,
            key="" if known or other else key,
            note=f"to {other}" if other else "",
        )


def _dummy(response: Response, body: str) -> Iterator[Entry]:
    design = response.designs[0]
    yield Entry(what="mass", value=float(response.suspension.mass[0]), unit="kg")
    centre = 1e3 * design.payload.centre_of_gravity()
    given = design.payload.centre is not None
    for k, axis in enumerate(AXES):
        known = given and (k < 2 or design.payload.height_known)
        key = "" if known else key_of(body, "payload.centre")
        yield Entry(what=f"centre, {axis}", value=float(centre[k]) if known else None, key=key)


def _protocol(assessment: Assessment) -> list[str]:
    """What to do with the dummy: it falls only where the falls were judged and passed."""
    falls = {
        check.status
        for body in assessment.bodies()
        for check in own_checks(assessment, body)
        if re.match(r"(?:drop|set-down|slap-down|topple)\b", check.id)
    }
    if assessment.status == "fail" or "fail" in falls:
        fall = MEND_FIRST
    elif "incomplete" in falls:
        fall = NOT_JUDGED
    else:
        fall = FALL if falls else NO_FALL
    return [*BEFORE_A_FALL, fall, LAST_OF_ALL]


BEFORE_A_FALL = (
    "Build a dummy of the payload's mass and box, a board with bottles of sand or bar weights, "
    "with the same centre of gravity; weigh it and balance it on a ruler.",
    "Block it up on the mounts, cables in place, until they are unloaded, and measure the height "
    "of each lower corner; take the blocks away, wait half a minute and measure again: the sag is "
    "the difference, by a ruler or the gauge beside the number.",
    "Hold the case fast and push slowly in line with the centre of gravity along x, y and z, a "
    "kitchen scale between; from 50 N on a luggage scale, pulled. Read the travel likewise.",
    "Tap it with a rubber mallet, a phone on it as a recorder, and read the frequencies; a tap is "
    "small, and rubber is stiffer then than on a truck.",
    "Slide a card along every face and push each corner as far as the sway: nothing may touch, and "
    "no cable may come taut.",
)

FALL = (
    "Then let the case fall as the brief has it, from a third of the height, two thirds and all of "
    "it, with the dummy; look at mounts, nuts and marks each time."
)
MEND_FIRST = "Do not let it fall: mend what fails first."
NOT_JUDGED = "Do not let it fall yet: give what the checks of its falls lack, and have them judged."
NO_FALL = "Do not let it fall: the brief has no fall, so none was judged."

LAST_OF_ALL = (
    "What is off by more than the range goes back into the brief; only then hang the payload."
)

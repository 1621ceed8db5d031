"""One design: a body that floats in a case on mounts, and the trip it makes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property, partial
from itertools import product

import numpy as np

from isolator.cable import Cable
from isolator.case import Case
from isolator.handling import UNSTEADY
from isolator.inside import FACES, OWN, ROUNDINGS
from isolator.lifting import Carry
from isolator.mount import BANDS, GRADES, Mount, Place
from isolator.payload import Part, Payload
from isolator.rubber import ROOM_TEMPERATURE, ageing_factor, creep_factor
from isolator.suspension import ATTITUDES, Suspension, motion_name
from isolator.trip import Condition, Leg
from isolator.units import (
    DURATION,
    G0,
    GAP,
    MASS,
    POSITION,
    STIFFNESS,
    FloatArray,
    InputError,
    OptionalMeasure,
    si,
    si_array,
    si_array_or_none,
    si_or_none,
)

LIGHT = 10.0
"""A shell of less than so many times the payload's mass is not heavy beside it. [-]"""

HEAVY = 10.0
"""From here on the page says that nobody asked who carries it. [kg]"""


STEP = np.log(1.04)
"""How close the stiffnesses are at which a band is tried, in the logarithm."""

MOST_STEPS = 30
"""How many of them there are on each side of the middle at the most."""

YEAR = 3.15576e7
"""A year. [s]"""

MAIN = "payload"
"""What the body that a brief calls [payload] is called among others."""


def quoted(name: str) -> str:
    r"""A name as a key of TOML holds it: in quotes where it is no bare key.

    >>> print(quoted("ring"), quoted("lid tray"), quoted('5" ring'))
    ring "lid tray" "5\" ring"
    """
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def kind_key(kind: str, field: str) -> str:
    """Key of the brief of a field of a kind of mount.

    >>> kind_key("lid ring", "hole")
    'mount."lid ring".hole'
    """
    return f"mount.{quoted(kind)}.{field}"


def head_of(body: str) -> str:
    """Head of the tables of a further body.

    >>> head_of("lid tray")
    'frame."lid tray"'
    """
    return f"frame.{quoted(body)}"


def cables_of(body: str) -> str:
    """Head of the tables of the cables of a body.

    >>> cables_of("shelf"), cables_of(MAIN)
    ('[[frame.shelf.cable]]', '[[cable]]')
    """
    return "[[cable]]" if body == MAIN else f"[[{head_of(body)}.cable]]"


def key_of(body: str, key: str) -> str:
    """Key of the brief of a further body for what stands under `key` for the main one.

    Keys that all bodies share are left as they are.

    >>> key_of("lid tray", "payload.fragility")
    'frame."lid tray".payload.fragility'
    >>> key_of("lid tray", "case.left_end")
    'frame."lid tray".gaps.left_end'
    >>> key_of("lid tray", "case.measured")
    'case.measured'
    """
    return key if body == MAIN else key_under(head_of(body), key)


def key_under(head: str, key: str) -> str:
    """The same by the head of the tables of that body.

    >>> key_under("frame.shelf", "mounts.use")
    'frame.shelf.mounts.use'
    """
    faces = "|".join(face.replace(" ", "_") for face in FACES)
    key = re.sub(rf"^case\.(?=(?:{faces})\b)", "gaps.", key)
    return re.sub(r"^(?=(?:payload|mounts|cable|gaps)\b)", lambda _: f"{head}.", key)


def worst_grade(grades: Sequence[str | None]) -> str | None:
    """The worst of some grades, None if one is not stated."""
    known = [grade for grade in grades if grade is not None]
    return max(known, key=GRADES.index) if len(known) == len(grades) else None


@dataclass(frozen=True, kw_only=True)
class Design:
    """A payload in a case on mounts, and the trip it makes.

    A case may hold several that float, each on its own mounts: each is a design.

    Parameters
    ----------
    payload : Payload
    case : Case
    places : sequence of Place
        Three or more, not all in one line.
    legs : sequence of Leg
    cables : sequence of Cable
        Cables, hoses and straps that pull at the payload.
    flatness, hole_tolerance : text or quantity [length], optional
        By how much one mount's seat may be out of the others' plane, along its axis, and its
        hole off its place, across.
    attitudes : sequence of attitudes
        In which the case may stand; all six unless it is never turned.
    not_required : mapping
        Check id, or the part of it before a slash, → the reason for not requiring it.
    name : str
    carry : Carry, optional
        The lift by hand that is asked about.
    at : three texts or a quantity [length], optional
        Middle of its box from the middle of the main payload's box, as the gaps were measured;
        left out for the main payload.
    beside : text or quantity [mass], optional
        What floats in the same case beside it.
    stands_before : mapping
        Face → the name of the body that stands before that wall, so that there is no gap to it.
    on_lid : bool
        Mounted in the lid: with the lid open it moves with the lid.
    date : date, optional
        Of the brief, for what is printed.
    age : text or quantity [time], optional
        How long the payload has hung on its mounts; new if left out, and the page says so.
    stored : one of the attitudes
        In which the case stands meanwhile.
    conditions : sequence of Condition
        Under which it is judged once more.
    moved : mapping
        Of a variant of another design, see `variants`: what was moved, and how, in words.

    Raises
    ------
    InputError
        Fewer than three mounts, mounts that leave a motion free, or a cable stiffer than all of
        them together.
    """

    payload: Payload
    case: Case
    places: Sequence[Place]
    legs: Sequence[Leg]
    cables: Sequence[Cable] = ()
    flatness: OptionalMeasure = OptionalMeasure(GAP)
    hole_tolerance: OptionalMeasure = OptionalMeasure(GAP)
    attitudes: Sequence[str] = tuple(ATTITUDES)
    not_required: Mapping[str, str] = field(default_factory=dict)
    name: str = ""
    carry: Carry | None = None
    at: OptionalMeasure = OptionalMeasure(POSITION, shape=(3,))
    beside: OptionalMeasure = OptionalMeasure(MASS)
    stands_before: Mapping[str, str] = field(default_factory=dict)
    on_lid: bool = False
    date: date | None = None
    age: OptionalMeasure = OptionalMeasure(DURATION)
    stored: str = "lid up"
    conditions: Sequence[Condition] = ()
    moved: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.moved:
            return  # by no more than what the design that it is a variant of was found usable with
        if len(self.places) < 3:
            raise InputError(
                f"mounts: {len(self.places)} given; a payload needs three or more that are not "
                "in one line, or it is free to turn: add mounts"
            )
        if not self.legs:
            raise InputError("leg: no leg of the trip given; add at least one [[leg]]")
        names = [leg.name for leg in self.legs]
        for name in names:
            if names.count(name) > 1:
                raise InputError(f"leg: the name {name!r} is used twice; give each leg its own")
        if not self.attitudes:
            raise InputError(
                "attitudes = []: nothing would be asked; write those in which the case may stand"
            )
        if self.stored not in ATTITUDES:
            raise InputError(f"stored = {self.stored!r}: write one of {', '.join(ATTITUDES)}")
        for n, leg in enumerate(self.legs, start=1):
            if leg.attitude not in self.attitudes:
                raise InputError(
                    f"leg[{n}].attitude = {leg.attitude!r}: attitudes leaves it out; add it there"
                )
        for attitude in self.attitudes:
            if attitude not in ATTITUDES:
                raise InputError(
                    f"attitudes: {attitude!r} is not one; write {', '.join(ATTITUDES)}"
                )
        legs, unlisted = self._looked_up()
        fits = self.case.misfits(si_array(self.payload, "size"))
        lines = [*self._named(), *fits, *self._held(), *self._pulled(), *unlisted]
        if lines:
            raise InputError(*lines)
        object.__setattr__(self, "legs", legs)

    def _looked_up(self) -> tuple[list[Leg], list[str]]:
        """The legs, with their drop heights where a table has them; a line where it has none."""
        outside = si_array_or_none(self.case, "size")
        longest = np.nan if outside is None else float(outside.max())
        legs, lines = list[Leg](), list[str]()
        lighter = si_or_none(self.payload, "mass_within") or 0.0  # what is lighter falls further
        for n, leg in enumerate(self.legs, start=1):
            try:
                legs.append(leg.looked_up(self.gross_mass() - lighter, longest))
            except InputError as error:
                lines += [f"leg[{n}].drop.{line}" for line in error.lines]
        return legs, lines

    def _named(self) -> Iterator[str]:
        """A line for each name of a part that no check could carry."""
        floating = [part.name for part in self.payload.parts]
        for part in self.case.parts:
            if part.name in floating:
                yield (
                    f"case.parts: the name {part.name!r} stands in payload.parts too; a part "
                    "floats or is fixed: give each its own"
                )
        for part, _ in self.asking():
            if "/" in part.name:
                yield (
                    f"parts: the name {part.name!r} holds a /, where ids of checks are cut; write "
                    "it without one"
                )
        names = [part.name for part in self.case.parts]
        for name in dict.fromkeys(names):
            if names.count(name) > 1:
                yield f"case.parts: the name {name!r} is used twice; give each part its own"

    def asking(self) -> list[tuple[Part, bool]]:
        """The parts that are judged one by one, and whether they float.

        A part that floats is judged where something is given to judge it by; nothing else speaks
        for one that is fixed in the case.
        """
        floating = [(part, True) for part in self.payload.parts if part.asks]
        return floating + [(part, False) for part in self.case.parts]

    def _held(self) -> Iterator[str]:
        """A line where the mounts leave a motion free."""
        held = self.suspension().without_cables()
        arm = max(float(np.sqrt((held.position**2).sum(axis=-1).mean())), 1e-3)
        size = np.array([1.0] * 3 + [1.0 / arm] * 3)
        value, vector = np.linalg.eigh(held.mount_stiffness() * np.multiply.outer(size, size))
        if value[0] >= 1e-9 * value[-1] > 0:
            return
        free = motion_name(vector[:, 0] ** 2)
        spread = np.linalg.svd(held.position - held.position.mean(axis=0), compute_uv=False)
        if spread[1] < 1e-6 * arm:
            yield (
                "mounts: they lie in one line, so the payload is free to turn about it "
                f"({free}); move at least one mount off that line"
            )
        else:
            yield (
                f"mounts: nothing holds the payload against {free} where the mounts are not "
                "deflected; give curves that rise from zero, or turn some mounts"
            )

    def _pulled(self) -> Iterator[str]:
        """A line for each cable that is stiffer than all mounts together at their stiffest."""
        names = [cable.name for cable in self.cables]
        for name in dict.fromkeys(names):
            if names.count(name) > 1:
                yield f"cable: the name {name!r} is used twice; give each its own"
        if self.cables:
            mounts = self.suspension().without_cables()
            most = mounts.whole.slope.max(axis=-1)
            square = mounts.frames**2
            along = square[:, 0] * most[:, :1] + (1 - square[:, 0]) * most[:, 1:]
            every = along.sum(axis=0)
        for n, cable in enumerate(self.cables, start=1):
            pull = cable.directions()
            for k in np.flatnonzero(pull > every)[:1]:
                yield (
                    f"cable[{n}].stiffness of {cable.name!r}: {STIFFNESS.text(pull[k])} along "
                    f"{'xyz'[k]}, more than the {STIFFNESS.text(every[k])} of all mounts together: "
                    "N/m written as N/mm? A pipe that is so stiff carries the payload; give it a "
                    "loop or a softer piece"
                )

    @cached_property
    def _held_by(self) -> Suspension:
        return Suspension.of(self.payload, self.places, self.cables)

    def suspension(self) -> Suspension:
        """The design as arrays, with the nominal inertia."""
        return self._held_by

    def gross_mass(self) -> float:
        """Payload, case and everything in it; nan without the mass of the case. [kg]"""
        shell = si_or_none(self.case, "mass")
        return self.floating_mass() + (np.nan if shell is None else shell)

    def floating_mass(self) -> float:
        """Payload and what floats beside it. [kg]"""
        return si(self.payload, "mass") + (si_or_none(self, "beside") or 0.0)

    def middle(self) -> FloatArray:
        """Middle of its box (3,) from the middle of the main payload's box. [m]"""
        at = si_array_or_none(self, "at")
        return np.zeros(3) if at is None else at

    def variants(self) -> list[Design]:
        """The design as given, then as it may be: `payload` off, mounts in their bands.

        The corners of what mass and centre may be off (16 at the most), with the mounts as stated
        and at both ends of all their bands; then the mounts with the payload as stated: aged, all
        bands together from end to end in steps of 4 % in stiffness at the most, every corner of
        the bands, every band alone at its ends, each tone of the trip at which a mode may lie
        inside, and unlike mounts where they scatter. What lies between is not tried.
        """
        return [make() for make in self._makers()]

    def chosen(self, which: Sequence[int], count: int) -> list[Design]:
        """Some of so many variants by their index; all where there is another number of them."""
        makers = self._makers()
        return [makers[i]() for i in (which if len(makers) == count else range(len(makers)))]

    def _makers(self) -> list[Callable[[], Design]]:
        """What makes each variant, the design as given first."""
        out: list[Callable[[], Design]] = [lambda: self]
        for end in self.payload.ends():
            moved = {"payload": _off(self.payload, end)}
            out.append(partial(replace, self, payload=end, moved=moved))
        bands = BANDS if self._is_cold() else [name for name in BANDS if name != "cold stiffness"]
        active = [name for name in bands if any(name in p.mount.loose() for p in self.places)]
        alike = np.ones(len(self.places))
        out += [partial(self.shifted, at, alike) for at in self._places_in(active)]
        for end in self.payload.ends() if active else ():
            off = {"payload": _off(self.payload, end)}
            for u in (-1.0, 1.0):
                out.append(partial(self._both_off, end, off, dict.fromkeys(active, u)))
        rate = np.array([place.mount.ageing or 0.0 for place in self.places])
        if (age := si_or_none(self, "age")) is not None and rate.any():
            out.append(partial(self._aged, ageing_factor(age / YEAR, rate)))
        scatter = np.array([place.mount.scatter or 0.0 for place in self.places])
        if scatter.any():
            signs = self._patterns()
            out += [partial(self.shifted, {}, 1 + sign * scatter) for sign in signs]
        return out

    def _both_off(self, end: Payload, off: Mapping[str, str], at: Mapping[str, float]) -> Design:
        """The design with another payload on mounts at one end of all their bands."""
        there = self.shifted(at, np.ones(len(self.places)))
        return replace(there, payload=end, moved={**off, **there.moved})

    def stiffened(self, factor: float) -> Design:
        """The design with all its mounts stiffer by a factor, without their bands."""
        return self.shifted({}, np.full(len(self.places), float(factor)))

    def _aged(self, factor: FloatArray) -> Design:
        """The design with stiffer mounts by factors (n,)."""
        moved = {"age": f"stiffness × {factor.max():.3g} by age"}
        return replace(self.shifted({}, factor), moved=moved)

    def under(self, condition: Condition) -> Design:
        """The design under a condition, without conditions of its own."""
        legs, payload = list(self.legs), self.payload
        if condition.temperature is not None:
            legs = [replace(leg, temperature=condition.temperature) for leg in legs]
        attitudes, stored = self.attitudes, self.stored
        if condition.attitude is not None:
            stored = condition.attitude
            legs = [
                replace(leg, attitude=stored, axes=None) if leg.attitude != stored else leg
                for leg in legs
            ]
            attitudes = tuple(dict.fromkeys([*attitudes, stored]))
        if (more := si_or_none(condition, "heavier")) is not None:
            whole = si(payload, "mass") + more
            payload = replace(payload, mass=MASS.quantity(whole), listed=None)
        return replace(
            self,
            legs=legs,
            payload=payload,
            attitudes=attitudes,
            stored=stored,
            age=self.age if condition.age is None else condition.age,
            conditions=(),
        )

    def creeps(self, seconds: float | None = None) -> tuple[float, float]:
        """Ends of what the sag gains until an age, its own if none is given, as a share of it.

        The most of its mounts; nan if the creep of one is unknown.
        """
        age = si_or_none(self, "age") if seconds is None else seconds
        rates = [place.mount.creep or (np.nan, np.nan) for place in self.places]
        low, high = np.max(rates, axis=0)
        if age is None:
            return 0.0, 0.0
        return float(creep_factor(age, low)) - 1, float(creep_factor(age, high)) - 1

    def shifted(self, at: Mapping[str, float], own: FloatArray) -> Design:
        """The design with its mounts at a place in their bands, and unlike by factors (n,)."""
        made: dict[tuple[int, float], Mount] = {}
        places = []
        for place, factor in zip(self.places, own.tolist(), strict=True):
            key = id(place.mount), factor
            if key not in made:
                made[key] = place.mount.shifted(at, factor)
            places.append(replace(place, mount=made[key]))
        moved = {}
        for name, where in at.items():
            if where:
                over = [place.mount.overs(at)[name] for place in self.places]
                far = max(over, key=lambda factor: abs(np.log(factor)))
                moved[name] = f"{name} × {far:.3g}"
        if "cold stiffness" in moved:
            end = "high" if at["cold stiffness"] > 0 else "low"
            moved["cold stiffness"] = f"cold stiffness at its {end} end"
        if not np.all(own == 1):
            moved["scatter"] = f"mounts unlike, × {own.min():.3g} to {own.max():.3g}"
        return replace(self, places=places, moved=moved)

    def _places_in(self, active: Sequence[str]) -> Iterator[Mapping[str, float]]:
        """Where in its bands (-1 to 1) every variant is."""
        if not active:
            return
        stiff = [name for name in active if name != "loss factor"]
        for u in self._steps(stiff):
            yield dict.fromkeys(stiff, u)
        for ends in product((-1.0, 1.0), repeat=len(active)):
            yield dict(zip(active, ends, strict=True))
        for name in active:
            yield {name: -1.0}
            yield {name: 1.0}
        for u in self._tones(stiff):
            yield from ({**dict.fromkeys(stiff, u), "loss factor": loss} for loss in (-1.0, 0.0))

    def _over(self, stiff: Sequence[str], u: float, *ways: str) -> float:
        """The widest factor on the dynamic stiffness of some ways at a place in all bands."""
        at = dict.fromkeys(stiff, u)
        factors = [
            over[way] * over["dynamic ratio"] * over["cold stiffness"]
            for over in (place.mount.overs(at) for place in self.places)
            for way in ways
        ]
        return max(factors, key=lambda factor: abs(np.log(factor)))

    def _steps(self, stiff: Sequence[str]) -> FloatArray:
        """Places in the bands, close enough that no mode moves by more than 2 % between two."""
        if not stiff:
            return np.zeros(0)
        low, high = (self._over(stiff, end, "along", "across") for end in (-1.0, 1.0))
        count = int(np.clip(np.ceil(np.log(high / low) / 2 / STEP), 2, MOST_STEPS))
        up = np.arange(1, count + 1) / count
        return np.concatenate([-up[::-1], up])

    def _tones(self, stiff: Sequence[str]) -> Iterator[float]:
        """Places in the bands at which a mode lies at a tone of the trip."""
        for leg in self.legs:
            tone = si_or_none(leg.sine.dwell, "at") if leg.sine and leg.sine.dwell else None
            if tone is None or not stiff:
                continue
            cold = np.array([p.mount.cold(leg.temperature_c())[0] for p in self.places])
            held = self.suspension()
            if not np.isfinite(cold).all():
                continue
            held = held.stiffened(cold, held.loss_factor)
            pose = held.pose(G0 * np.array(ATTITUDES[leg.attitude]))
            for own in held.frequencies(pose):
                needed = (tone / own) ** 2 if own > 0 else np.nan
                end = 1.0 if needed > 1 else -1.0
                for most in {self._over(stiff, end, way) for way in ("along", "across")}:
                    if most != 1 and 0 < (u := np.log(needed) / np.log(most)) <= 1:
                        yield end * u

    def _patterns(self) -> Iterator[FloatArray]:
        """Signs (n,) of unlike mounts: one end, one side or one diagonal softer, and each alone."""
        at = np.array([si_array(place, "position") for place in self.places])[:, :2]
        x, y = np.sign(at - at.mean(axis=0)).T
        for sign in (x, y, x * y):
            if sign.any():
                yield sign
                yield -sign
        for one in np.eye(len(self.places)):
            yield one
            yield -one

    def mount_names(self) -> list[str]:
        """Number and kind of every mount: ``1 soft ring``."""
        return [f"{i} {place.mount.name}" for i, place in enumerate(self.places, start=1)]

    def grade(self) -> str | None:
        """The worst grade of its mounts, None if one has none."""
        return worst_grade([place.mount.grade for place in self.places])

    def assumed(self) -> Iterator[str]:
        """What was left out and what was taken instead, a sentence each."""
        payload, case = self.payload, self.case
        if payload.centre is None:
            yield "the centre of gravity is in the middle of the payload's box (payload.centre)"
        yield from payload.notes
        yield from _spread(payload)
        if payload.inertia is None:
            yield (
                "the inertia is that of a uniform box, and half to five thirds of it "
                "(payload.inertia or payload.parts)"
            )
        if case.restitution is None:
            yield (
                "the shell stays on the floor where it lands; one that rebounds with 0.4 of its "
                "speed adds up to 40 % to the peak (case.restitution)"
            )
        if case.cushion is not None:
            yield (
                "the foam outside is under the flat faces; on edges and corners, and where it "
                "turns, it lands as on the bare floor (case.cushion)"
            )
            if case.restitution is None and case.cushion.law is not None:
                yield (
                    "the foam outside springs back with all that it took: the worst for the "
                    "mounts (case.restitution)"
                )
        room = np.where(OWN, case.room(si_array(payload, "size")), np.nan)
        if case.measured is None and (np.isfinite(room).any() or case.standing()):
            yield ("the gaps count as if measured the worse way, hanging or out (case.measured)")
        for name, what in ROUNDINGS.items() if case.inside is not None else ():
            if getattr(case.inside, name) is None:
                yield f"{what} (case.inside.{name})"
        if self.age is None:
            yield "the mounts are new: no creep has added to their sag (age)"
        else:
            steady = {p.mount.name for p in self.places if p.mount.ageing is None}
            if steady:
                yield (
                    f"the rubber of {', '.join(sorted(steady))} does not stiffen with age "
                    f"({', '.join(kind_key(name, 'ageing') for name in sorted(steady))})"
                )
        if si_or_none(payload, "mass_within") and any(leg.drop_table for leg in self.legs):
            yield "drop heights are looked up for the least that it may weigh (payload.mass_within)"
        if case.tolerance is None:
            yield "the build is exact: no tolerance on the gaps (case.tolerance)"
        if case.mass is None:
            yield "the shell is heavy beside the payload (case.mass)"
        elif (si_or_none(case, "mass") or 0.0) < LIGHT * si(payload, "mass"):
            yield (
                "the shell is light beside the payload, which pushes it back as it lands; it is a "
                "box of even thin walls (case.size)"
            )
        rigid = [place.sheet is None for place in self.places]
        if any(rigid):
            which = "every mount" if all(rigid) else "those mounts that have none given"
            yield f"the sheet under {which} is rigid (mounts.sheet)"
        if not self.cables:
            yield "no cable, hose or strap pulls at the payload ([[cable]])"
        if self.flatness is None or self.hole_tolerance is None:
            lacking = [k for k in ("flatness", "hole_tolerance") if getattr(self, k) is None]
            yield (
                "the mounts' seats are as drawn and shift no load "
                f"({', '.join(f'mounts.{key}' for key in lacking)})"
            )
        if payload.fragility is not None and payload.fragility_pulse is None:
            survived = si(payload, "fragility") / G0
            yield (
                f"the {survived:.3g} g that the payload survives hold for a pulse of any length "
                "(payload.fragility_pulse)"
            )
        if any(leg.drops for leg in self.legs):
            yield (
                "in falls the mounts lose energy as dashpots do; rubber that relaxes lets them "
                "move about a tenth further (isolator drop shows both)"
            )
        if payload.bending is None:
            yield "the payload itself does not bend (payload.bending)"
        shell = si_or_none(case, "mass")
        lifted = self.floating_mass() + (shell or 0.0)
        if self.carry is None and lifted > HEAVY:
            what = "the payload alone weighs" if self.beside is None else "what floats weighs"
            what = what if shell is None else "payload and case weigh"
            yield f"carrying was not asked: {what} {MASS.text(lifted)} ([carry])"
        if self.carry is not None:
            yield (
                "carrying is judged by a guide for healthy adults, where the lift starts; local "
                "rules and a qualified person go before it"
            )
        based = [leg for leg in self.legs if leg.road or leg.sine or leg.pulse]
        tied = [leg.name for leg in based if leg.tied is None]
        if tied:
            yield (
                f"the case is tied down on {', '.join(tied)}; a loose one hops where its floor "
                "falls faster than 1 g (leg.tied)"
            )
        flat = [leg.name for leg in self.legs if leg.drops and not leg.groups()]
        if flat:
            yield f"it lands flat on faces only on {', '.join(flat)} (leg.landings)"
        elif any(leg.groups() for leg in self.legs) and case.centre is None:
            yield (
                "the gross centre of gravity is in the middle of the case's outer box, and the "
                "case does not turn as it lands on an edge or corner (case.centre)"
            )
        for leg in self.legs:
            if leg.sine and leg.sine.sweep and leg.sine.sweep.rate is None:
                yield f"the sweep of {leg.name} is slow: steady state (leg.sine.rate)"
        for leg in self.legs:
            if leg.walk is not None:
                yield (
                    f"on {leg.name} it is carried over flat ground on a stiff arm, at "
                    f"{si(leg.walk, 'step_rate'):.3g} steps a second ± {UNSTEADY:.0%}; no stairs, "
                    "no running (leg.walk.step_rate)"
                )
                if leg.walk.swing is None:
                    yield f"it does not swing at its handle on {leg.name} (leg.walk.swing)"
        kinds = {place.mount.name: place.mount for place in self.places}
        exact = [name for name, mount in kinds.items() if "along" not in mount.within]
        if exact:
            yield (
                f"the stiffness of {', '.join(exact)} is exactly as stated; of hardness and shape "
                "it is worth ±30 % "
                f"({', '.join(kind_key(name, 'within') for name in exact)})"
            )
        alike = [name for name, mount in kinds.items() if mount.scatter is None]
        if alike:
            yield (
                f"all mounts of {', '.join(alike)} are alike "
                f"({', '.join(kind_key(name, 'scatter') for name in alike)})"
            )
        for mount in {place.mount.name: place.mount for place in self.places}.values():
            yield from (f"mount {mount.name}: {note}" for note in mount.notes)
        loose = [name for name, mount in kinds.items() if mount.fastening_load is None]
        if loose and any(leg.drops for leg in self.legs):
            yield (
                "screws and inserts hold what their mounts may carry "
                f"({', '.join(kind_key(name, 'fastening_load') for name in loose)})"
            )
        standing = case.standing()
        if not standing and not case.ribs:
            yield "nothing stands between the payload and the walls ([[case.obstacle]])"
        named = {obstacle.name for obstacle in standing}
        points = [part.name for part in case.parts if part.name not in named]
        if points:
            yield f"nothing touches {', '.join(points)}, of no given size (case.parts)"
        if warm := self._damped_as_warm():
            yield (
                f"in the cold {', '.join(warm)} damp as at 23 °C "
                f"({', '.join(kind_key(name, 'cold_loss_factor') for name in warm)})"
            )
        for leg in self.legs:
            if leg.lid == "open":
                yield f"the lid and what is on it were not looked at on {leg.name} (leg.lid)"
            if leg.vibrates and leg.road and leg.crest == 1.0:
                yield f"the road of {leg.name} is Gaussian; real roads peak higher (leg.crest)"
        yield from self._assumed_of_parts()

    def _is_cold(self) -> bool:
        """Whether a leg is colder than where stiffness is stated."""
        given = [leg.temperature_c() for leg in self.legs]
        return any(degrees is not None and degrees < ROOM_TEMPERATURE for degrees in given)

    def _damped_as_warm(self) -> list[str]:
        """Mounts whose stiffness in the cold of a leg is known, but not their damping there."""
        if not self._is_cold():
            return []
        kinds = {place.mount.name: place.mount for place in self.places}
        return [
            name
            for name, mount in kinds.items()
            if mount.cold_factor is not None and mount.cold_loss_factor is None
        ]

    def _assumed_of_parts(self) -> Iterator[str]:
        asking = self.asking()
        whole = si(self.payload, "mass")
        lacking = {
            "these parts are as rigid as what holds them (resonance)": [
                part.name for part, _ in asking if part.resonance is None
            ],
            "these parts survive what they feel at their resonance (vibration limit)": [
                part.name
                for part, floats in asking
                if floats and part.resonance is not None and part.vibration_limit is None
            ],
            "these parts survive any drop that the payload survives (fragility)": [
                part.name for part, floats in asking if floats and part.fragility is None
            ],
            "of these fans only the speed counts, not the blade rate (blades)": [
                part.name for part, _ in asking if part.kind == "fan" and part.blades is None
            ],
            "these parts ride on the payload without moving it, as light ones do": [
                f"{part.name}, {si(part, 'mass') / whole:.0%} of its mass"
                for part, floats in asking
                if floats and part.resonance is not None
            ],
        }
        for what, names in lacking.items():
            if names:
                yield f"{what}: {'; '.join(names)}"
        beside = [leg.name for leg in self.legs if leg.sine or leg.pulse]
        if asking and beside:
            yield (f"no single part is held against a sine or a pulse: {'; '.join(beside)}")
        if self.case.parts:
            total = MASS.text(sum(si(part, "mass") for part in self.case.parts))
            yield f"the parts that are fixed in the case, {total}, are weighed with it (case.mass)"


def _off(stated: Payload, end: Payload) -> str:
    """By how much mass and centre of a payload are off, in words."""
    words = []
    if heavier := si(end, "mass") - si(stated, "mass"):
        words.append(f"{heavier:+.3g} kg")
    aside = 1e3 * (end.centre_of_gravity() - stated.centre_of_gravity())
    words += [f"{'xyz'[k]} {aside[k]:+.3g} mm" for k in np.flatnonzero(aside)]
    return ", ".join(words)


def _short(value: float) -> float:
    """To two significant digits, for what a value may be off."""
    return float(f"{value:.2g}")


def _spread(payload: Payload) -> Iterator[str]:
    """What the checks were tried over, where mass or centre may be off."""
    over = []
    if within := si_or_none(payload, "mass_within"):
        over.append(f"mass {MASS.text(si(payload, 'mass'))} ± {MASS.text(_short(within))}")
    given = si_array_or_none(payload, "centre_within")
    off = np.zeros(3) if given is None else given
    for k in np.flatnonzero(off):
        middle = POSITION.text(payload.centre_of_gravity()[k])
        over.append(f"{'xyz'[k]} = {middle} ± {POSITION.text(_short(off[k]))}")
    if over:
        yield (
            f"each check is the worst over the ends of the payload's {', '.join(over)}; the tables "
            "are for the middle"
        )

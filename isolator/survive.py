"""From what height does the payload survive, how does it land, and what would help?

A leg's falls over a range of heights: flat, on the worst edge and corner, and slapped down; mounts
alone against foam alone and both; the rubber and the foam that a height asks for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from isolator import sdof
from isolator.brief import ANY_CASE, Brief, brief_of
from isolator.checks.drop import unknown_height
from isolator.checks.row import worst_stroke
from isolator.coupled import Damping, Landings
from isolator.design import MAIN, Design
from isolator.falls import Fall, Fallen, unheld
from isolator.fragility import Rating
from isolator.judging import fall_checks
from isolator.landing import foam_alone
from isolator.outcome import Bools, LegResponse
from isolator.response import Response, respond
from isolator.shock import flat_drop
from isolator.suspension import ATTITUDES
from isolator.trip import GROUPS, Leg
from isolator.units import G0, FloatArray, InputError, si, si_or_none
from isolator.verdict import Check

HEIGHTS = np.array([0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 1.0, 1.25, 1.5, 2.0])
"""Heights of the curve over that of the leg. [-]"""

OWN = int(np.flatnonzero(HEIGHTS == 1)[0])
"""Index of the leg's own height among them."""

TILT = np.radians(3.0)
"""From how far off flat a case slaps down where the leg does not say. [rad]"""

PHASES = 4
"""At how many phases of its ring each landing of the curve is followed."""

FLATTENED = 0.65
"""Share of its thickness that foam can be pressed before it turns hard (common practice). [-]"""


@dataclass(frozen=True)
class Line:
    """One kind of landing over heights (k,).

    Attributes
    ----------
    name : str
        ``flat``, ``edges``, ``corners`` or ``slap-down``.
    worst : str
        The landing with the largest peak at the height of the leg.
    peak, corner : (k,) arrays
        At the centre and at the worst corner of the payload's box, the largest of its landings; nan
        from where a mount bottoms on something unknown. [m/s²]
    used : (k,) array
        Most that a mount uses of its travel; nan if a travel is unknown. [-]
    travel : (k,) array
        Most that a mount moves along one of its ways. [m]
    bottoms : float
        Height from which a mount bottoms; inf beyond the curve, nan if unknown. [m]
    stroke : float
        At the height of the leg, travel of the mount that uses most of its own, along that way, as
        the checks have it; nan if unknown. [m]
    flies : tuple of str
        Landings in which nothing holds the payload, or nothing holds it as it springs back.
    breaks : float
        Height from which the centre feels more than the payload survives, likewise. [m]
    """

    name: str
    worst: str
    peak: FloatArray
    corner: FloatArray
    used: FloatArray
    travel: FloatArray
    bottoms: float
    breaks: float
    stroke: float
    flies: tuple[str, ...]


@dataclass(frozen=True)
class Protection:
    """What mounts and foam do alone and together on one flat face.

    Attributes
    ----------
    name : "mounts only", "foam only" or "both"
    face : str
    peak : float
        At the centre, nan if unknown. [m/s²]
    travel : float
        Most that a mount moves; 0 for foam only. [m]
    used : float
        Share of its travel, nan if unknown. [-]
    """

    name: str
    face: str
    peak: float
    travel: float
    used: float


@dataclass(frozen=True)
class Trace:
    """The worst landing of one kind in time, from the first contact on, at its worst phase.

    On the dynamic curves, which give the g; on the static ones the mounts move further.

    Attributes
    ----------
    name, landing : str
    time : (t,) array
        [s]
    centre, corner : (t,) arrays
        Specific force at the centre, and at that corner of the box which has the largest. [m/s²]
    mounts : (t, n) array
        Deflection of each mount along its axis. [m]
    """

    name: str
    landing: str
    time: FloatArray
    centre: FloatArray
    corner: FloatArray
    mounts: FloatArray


@dataclass(frozen=True)
class Survival:
    """The falls of one leg.

    Attributes
    ----------
    design : Design
    leg : Leg
    height : float
        Of the leg. [m]
    tilt : float
        Of the slap-down. [rad]
    fragility : float
        nan if unknown. [m/s²]
    heights : (k,) array
        [m]
    lines : sequence of Line
    energy : (k,) array
        Peak of the worst flat landing by energy; nan where a mount bottoms. [m/s²]
    stroke : float
        That of the flat landings, see `Line`. [m]
    damping : mapping of "viscous" and "relaxation" to (peak, travel)
        Of the worst flat landing with each kind of causal damping. [m/s², m]
    protection : sequence of Protection
        Empty without foam outside.
    checks : sequence of Check
        What `assess` asks of these falls, with all that may be off.
    traces : sequence of Trace
        Of the flat landing, and of the slap-down where the size of the case is known.
    """

    design: Design
    leg: Leg
    height: float
    tilt: float
    fragility: float
    heights: FloatArray
    lines: Sequence[Line]
    energy: FloatArray
    stroke: float
    damping: dict[str, tuple[float, float]]
    protection: Sequence[Protection]
    checks: Sequence[Check]
    traces: Sequence[Trace]

    @property
    def at(self) -> int:
        """Index of the leg's own height."""
        return OWN

    def line(self, name: str) -> Line | None:
        """One kind of landing, None if it was not asked or cannot be."""
        return next((line for line in self.lines if line.name == name), None)

    @property
    def spring(self) -> float:
        """Travel of a linear spring that keeps the fragility at this height, nan if unknown. [m]"""
        return self._travel(sdof.cushion_travel)

    @property
    def ideal(self) -> float:
        """Travel of a constant force that does; nothing can do with less. [m]"""
        return self._travel(sdof.ideal_travel)

    def _travel(self, law: Callable[[float, float], FloatArray]) -> float:
        if not self.fragility > 2 * G0:
            return float("nan")
        return float(law(self.height, self.fragility / G0))

    @property
    def foam(self) -> tuple[float, float]:
        """How thick foam outside has to be, at best and as a linear one. [m]"""
        return self.ideal / FLATTENED, self.spring / FLATTENED

    @property
    def hopeless(self) -> bool:
        """Whether no rubber with the travel of these mounts can keep the fragility."""
        return bool(self.stroke < self.ideal)


def survival(
    case: Design | Brief | str | Path,
    leg: str | None = None,
    *,
    asked: bool = False,
) -> Survival:
    """Follow the falls of one leg of a case over a range of heights.

    Parameters
    ----------
    case : Design, Brief, or the path of a brief
    leg : str, optional
        Name of the leg; the first with a drop if left out.
    asked : bool
        Only the kinds of landings that the leg asks for, and none of the checks on them, for a
        page that has those already.

    Raises
    ------
    InputError
        No such leg, or no leg with a drop from a known height.
    """
    brief = case if isinstance(case, Design) else brief_of(case, ANY_CASE)
    design = brief.design if isinstance(brief, Brief) else brief
    bodies = {MAIN: design, **(brief.frames if isinstance(brief, Brief) else {})}
    own = _leg(design, leg)
    alone = replace(design, legs=[own])
    response = respond([alone])
    there = response.legs[0]
    if (there.rigid | there.uncertain).any():
        raise InputError(
            f"leg {own.name!r}: how stiff the mounts are at its temperature is not known; give "
            "mounts whose data reach it (mount.cold_factor), or another temperature"
        )
    checks = [] if asked else fall_checks(bodies, own)
    return _Study(alone, own, response, there, asked).result(checks)


def _leg(design: Design, name: str | None) -> Leg:
    falling = [leg for leg in design.legs if leg.drops and si_or_none(leg, "drop") is not None]
    names = ", ".join(leg.name for leg in falling)
    looked_up = ((n, leg) for n, leg in enumerate(design.legs, start=1) if leg.drop_table)
    for number, one in looked_up if not falling else ():
        key, why = unknown_height(design, number, one)
        raise InputError(f"{key}: {why}; give it")
    if not falling:
        raise InputError(
            'leg.drop: no leg has a drop from a known height; give one, as in drop = "0.76 m"'
        )
    found = next((leg for leg in falling if name in (None, leg.name)), None)
    if found is None:
        raise InputError(f"leg = {name!r}: no leg of that name with a drop; write one of {names}")
    return found


@dataclass(frozen=True)
class _Study:
    """What `survival` runs."""

    design: Design
    leg: Leg
    response: Response
    there: LegResponse
    asked: bool

    @property
    def height(self) -> float:
        return si(self.leg, "drop")

    @property
    def tilt(self) -> float:
        return si_or_none(self.leg, "slap_down") or float(TILT)

    @property
    def faces(self) -> list[str]:
        return list(self.leg.faces() or ATTITUDES)

    def result(self, checks: Sequence[Check]) -> Survival:
        """All of it, beside what is asked of these falls."""
        fallen = Fallen.of(self.response, self.there, band=(0,))
        survives = Rating.of(self.design.payload, self.leg.running).acceleration
        heights = self.height * HEIGHTS
        flat = np.array([ATTITUDES[face] for face in self.faces])
        traces: list[Trace] = []
        lines = [self._line(fallen, "flat", self.faces, self._falls(flat), survives)]
        for group in self.leg.groups() if self.asked else GROUPS:
            names, down = self.design.case.fall_lines(group)
            if names:
                lines.append(self._line(fallen, group, names, self._falls(down), survives))
        slaps_down = self.leg.slap_down is not None or not self.asked
        if slaps_down and not np.isnan(fallen.outer).any():
            pairs = fallen.slaps(self.faces)
            names = [f"{face}, over the edge {edge}" for face, edge in pairs]
            slaps = fallen.about(pairs, self.height, self.tilt)
            lines.append(self._line(fallen, "slap-down", names, slaps, survives))
            slap = slaps.picked([names.index(lines[-1].worst)])
            traces.append(self._trace(fallen, lines[-1], slap))
        worst = lines[0].worst
        level = self._falls(np.array([ATTITUDES[worst]]))
        traces.insert(0, self._trace(fallen, lines[0], level))
        return Survival(
            design=self.design,
            leg=self.leg,
            height=self.height,
            tilt=self.tilt,
            fragility=survives,
            heights=heights,
            lines=lines,
            energy=self._energy(flat),
            stroke=lines[0].stroke,
            damping={way: self._damped(fallen, worst, way) for way in ("viscous", "relaxation")},
            protection=self._protections(fallen, worst),
            checks=checks,
            traces=traces,
        )

    def _falls(self, down: FloatArray) -> Landings:
        """Landings (1, l) without a turn from the height of the leg, what is down (l, 3)."""
        speed = np.full((1, len(down)), np.sqrt(2 * G0 * self.height))
        return Landings(down=down[None], speed=speed)

    def _line(
        self, fallen: Fallen, name: str, names: Sequence[str], one: Landings, survives: float
    ) -> Line:
        """All of one kind at the height of the leg; the worst of them over the heights."""
        foam = name == "flat"
        limits, heights = self.there.limits[0], self.height * HEIGHTS
        touch = fallen.touchdown(Fall(one, phases=PHASES, cushioned=foam))
        used = _used(touch.mounts[0], limits)
        most = (touch.peak[0], touch.corner[0], used)
        which = sorted({_first_of_most(each) for each in most})
        size = (len(heights), len(which))
        some = one.picked(which).tiled(len(heights))
        speed = np.repeat(np.sqrt(2 * G0 * heights), len(which))[None]
        every = fallen.touchdown(Fall(replace(some, speed=speed), phases=PHASES, cushioned=foam))
        mounts = every.mounts[0].reshape(*size, *limits.shape)
        used = _used(mounts, limits)
        (loose,) = unheld(self.response, self.there, one.down[0], self.height)
        known = self._known(used, every.sunk[0].reshape(size))
        peak, corner = (each[0].reshape(size) for each in (every.peak, every.corner))
        return Line(
            name=name,
            worst=names[which[_first_of_most(corner[OWN])]],
            peak=np.where(known, peak, np.nan).max(axis=1),
            corner=np.where(known, corner, np.nan).max(axis=1),
            used=used.max(axis=1),
            travel=mounts.max(axis=(1, 2, 3)),
            bottoms=_crossing(heights, used.max(axis=1), 1.0),
            breaks=_crossing(heights, np.where(known, peak, np.nan).max(axis=1), survives),
            stroke=float(worst_stroke(touch.mounts, self.there.limits)[1][0]),
            flies=tuple(name for name, off in zip(names, loose, strict=True) if off),
        )

    def _trace(self, fallen: Fallen, line: Line, landing: Landings) -> Trace:
        course, phase = fallen.course(Fall(landing, cushioned=line.name == "flat"))
        felt = course.specific_force[:, 0, phase]
        return Trace(
            name=line.name,
            landing=line.worst,
            time=course.time[:, 0, phase],
            centre=felt[:, 0],
            corner=felt[:, 1 + int(felt[:, 1:9].max(axis=0).argmax())],
            mounts=course.local[:, 0, phase, :, 0],
        )

    def _energy(self, down: FloatArray) -> FloatArray:
        """Peak (k,) of the worst flat landing by energy, nan where one bottoms. [m/s²]"""
        drop = flat_drop(
            self.there.suspension.repeated().repeated(),
            down,
            self.height * HEIGHTS[:, None],
            self.there.limits[:, None, None],
            restitution=self.design.case.restitution or 0.0,
        )
        bottoms = (drop.bottoms[0] == 1).any(axis=-1)
        return np.where(bottoms, np.nan, drop.peak_most[0].max(axis=-1) * G0)

    def _known(self, used: FloatArray, sunk: FloatArray) -> Bools:
        """Where a peak is known: no mount on something unknown, no foam beyond its curve."""
        stops = all(p.mount.stop is not None for p in self.design.places)
        cushion = self.design.case.cushion
        deep = np.inf if cushion is None else cushion.known_to()
        return np.asarray(((used <= 1) | np.isnan(used) | stops) & (sunk <= deep))

    def _damped(self, fallen: Fallen, face: str, damping: Damping) -> tuple[float, float]:
        one = self._falls(np.array([ATTITUDES[face]]))
        touch = fallen.touchdown(Fall(one, cushioned=True, damping=damping))
        return float(touch.peak[0, 0]), float(touch.mounts[0, 0].max())

    def _protections(self, fallen: Fallen, face: str) -> list[Protection]:
        cushion = self.design.case.cushion
        if cushion is None:
            return []
        one = self._falls(np.array([ATTITUDES[face]]))
        speed, mass = one.speed[0], np.array([self.design.gross_mass()])
        out = []
        for name, foam in (("mounts only", False), ("both", True)):
            touch = fallen.touchdown(Fall(one, cushioned=foam))
            travel, used = touch.mounts[0, 0], _used(touch.mounts[0], self.there.limits[0])
            peak = float(touch.peak[0, 0]) if self._known(used, touch.sunk)[0, 0] else np.nan
            out.append(Protection(name, face, peak, float(travel.max()), float(used[0])))
        pressed, sunk = foam_alone(mass, fallen.shell, speed)
        alone = float(pressed[0]) if sunk[0] <= cushion.known_to() else np.nan
        return [out[0], Protection("foam only", face, alone, 0.0, 0.0), out[1]]


def _first_of_most(values: FloatArray) -> int:
    """Index of the largest, the first of those that are alike but for rounding."""
    return int((values / values.max()).round(5).argmax())


def _used(mounts: FloatArray, limits: FloatArray) -> FloatArray:
    """Most (...) that a mount uses of its travel, for strokes (..., n, 3) of limits (n, 3)."""
    return np.asarray(np.where(np.isinf(limits), 0.0, mounts / limits).max(axis=(-1, -2)))


def _crossing(heights: FloatArray, value: FloatArray, level: float) -> float:
    """Height at which a value that rises with it reaches a level.

    inf if it does not within the heights, nan if it is unknown before it does.
    """
    if np.isnan(level):
        return float("nan")
    stops = np.flatnonzero(~(value <= level))
    if not stops.size:
        return float("inf")
    k = int(stops[0])
    low, below = (0.0, 0.0) if k == 0 else (heights[k - 1], value[k - 1])
    return float(low + (heights[k] - low) * (level - below) / (value[k] - below))

"""What the journey does to the case: legs with vibration, drops, temperature and attitude."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Literal, TypeAlias

import numpy as np

from isolator.handling import Walk, floor_speed
from isolator.heights import HeightClass, height_of, height_table
from isolator.pulse import Pulse
from isolator.sdof import expected_peak_factor
from isolator.sine import Sine
from isolator.sources import read_table
from isolator.spectrum import mean_square
from isolator.suspension import ATTITUDES
from isolator.units import (
    ANGLE,
    DURATION,
    FREQUENCY,
    G0,
    HEIGHT,
    MASS,
    SPECTRAL_DENSITY,
    TEMPERATURE,
    FloatArray,
    Given,
    InputError,
    OptionalMeasure,
    number,
    si_array_or_none,
    si_or_none,
)

Axis: TypeAlias = Literal["x", "y", "z"]
AXES: tuple[Axis, ...] = ("x", "y", "z")

MOST_LINES = 200
"""A spectrum of straight lines needs no more; a raw one is to be enveloped first."""

ROAD_AXES = ("vertical", "transverse", "longitudinal")


@dataclass(frozen=True)
class Spectrum:
    """Acceleration spectral density as straight lines between breakpoints on log-log paper.

    Attributes
    ----------
    name : str
    lines : (n,) array
        Breakpoints, rising. [Hz]
    density : (n,) array
        At the breakpoints. [(m/s²)²/Hz]
    source : str
        Key of the reference, or where a user's own comes from.
    """

    name: str
    lines: FloatArray = field(repr=False, compare=False)
    density: FloatArray = field(repr=False, compare=False)
    source: str = ""

    @classmethod
    def of(cls, *, frequency: Given, density: Given, name: str, source: str = "") -> Spectrum:
        """A user's own spectrum.

        Parameters
        ----------
        frequency : texts or a quantity (n,) [frequency]
        density : texts or a quantity (n,) [acceleration² per frequency]

        Raises
        ------
        InputError
            Fewer than two points, frequencies that do not rise, a density of zero.

        Examples
        --------
        >>> flat = Spectrum.of(frequency=["10 Hz", "110 Hz"], density=["0.01 g0^2/Hz"] * 2,
        ...                    name="flat")
        >>> print(f"{flat.level():.3f}")
        1.000
        """
        f = np.atleast_1d(FREQUENCY.read_array(frequency, f"{name}: frequency"))
        w = np.atleast_1d(SPECTRAL_DENSITY.read_array(density, f"{name}: density"))
        if f.shape != w.shape or f.ndim != 1 or f.size < 2:
            raise InputError(
                f"{name} has {f.size} frequencies and {w.size} densities: give two or more of "
                "each, as many of both"
            )
        if f.size > MOST_LINES:
            raise InputError(
                f"{name} has {f.size} lines, more than {MOST_LINES}: draw an envelope with fewer"
            )
        fall = np.flatnonzero(np.diff(f) <= 0)
        if fall.size:
            at = int(fall[0]) + 1
            raise InputError(
                f"{name}: frequency {at + 1} = {f[at]:g} Hz does not lie above the one before it, "
                f"{f[at - 1]:g} Hz; sort the lines and give each frequency once"
            )
        return cls(name, f, w, source)

    def level(self, multiplier: float = 1.0) -> float:
        """Overall level of the acceleration. [g rms]"""
        return float(multiplier * np.sqrt(mean_square(self.lines, self.density)) / G0)

    def crossings(self) -> float:
        """Upward crossings of zero a second, from the spectral moments (Rice 1945). [Hz]"""
        moment = mean_square(self.lines, self.density * self.lines**2)
        return float(np.sqrt(moment / mean_square(self.lines, self.density)))


@cache
def roads() -> Mapping[str, Mapping[str, Spectrum]]:
    """The shipped published spectra: road name, road axis → spectrum."""
    lines: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for row in read_table("road_lines.csv"):
        pair = (float(row["frequency [Hz]"]), float(row["density [g0^2/Hz]"]) * G0**2)
        lines.setdefault((row["road"], row["axis"]), []).append(pair)
    out: dict[str, dict[str, Spectrum]] = {}
    for row in read_table("roads.csv"):
        f, w = np.array(lines[row["road"], row["axis"]]).T
        spectrum = Spectrum(f"{row['road']}, {row['axis']}", f, w, row["source"])
        out.setdefault(row["road"], {})[row["axis"]] = spectrum
    return out


def road(name: str) -> Mapping[str, Spectrum]:
    """The spectra of a shipped road by road axis.

    Raises
    ------
    InputError
        No such road; the message names the nearest and how to list them.

    Examples
    --------
    >>> print(f"{road('us highway truck 810')['vertical'].level():.2f}")
    1.04
    """
    known = roads()
    if name not in known:
        nearest = difflib.get_close_matches(name, known, n=1, cutoff=0.0)[0]
        raise InputError(
            f"road = {name!r:.60}: no such road in the table; {nearest!r} meant? "
            "`isolator roads` lists them"
        )
    return known[name]


GROUPS = ("edges", "corners")
"""Landings beside those on faces."""


@dataclass(frozen=True, kw_only=True)
class Condition:
    """What else the case may have to stand: the whole trip once more, so changed.

    Parameters
    ----------
    name : str
    temperature : text or quantity [temperature], optional
        On every leg.
    age : text or quantity [time], optional
        How long the payload has hung on its mounts.
    heavier : text or quantity [mass], optional
        What the payload gains, at its centre of gravity.
    attitude : one of `ATTITUDES`, optional
        In which the case travels and is stored.

    Raises
    ------
    InputError
        Wrong units, an unknown attitude, nothing that changes.
    """

    name: str
    temperature: OptionalMeasure = OptionalMeasure(TEMPERATURE)
    age: OptionalMeasure = OptionalMeasure(DURATION)
    heavier: OptionalMeasure = OptionalMeasure(MASS.within(0.0))
    attitude: str | None = None

    def __post_init__(self) -> None:
        if self.attitude not in (*ATTITUDES, None):
            raise InputError(
                f"Condition.attitude = {self.attitude!r}: write one of {', '.join(ATTITUDES)}"
            )
        if (self.temperature, self.age, self.heavier, self.attitude) == (None,) * 4:
            raise InputError(
                f"Condition.name = {self.name!r}: nothing is changed; give temperature, age, "
                "heavier or attitude"
            )


SPIN = FREQUENCY.within(-100.0, 100.0, example="30 rpm")
"""Of a case in the air, about an axis; either way round."""


@dataclass(frozen=True, kw_only=True)
class Landing:
    """A landing of the user's own.

    Parameters
    ----------
    name : str
    down : three numbers
        Direction in case axes that points down when it lands; of any length but none.
    spin : three texts or a quantity [frequency], optional
        How the case turns about its axes as it lands, by the right hand; it stops turning there.

    Raises
    ------
    InputError
        Three zeros, no three finite numbers, wrong units.
    """

    name: str
    down: Sequence[float]
    spin: OptionalMeasure = OptionalMeasure(SPIN, shape=(3,))

    def __post_init__(self) -> None:
        way = np.array([number(x, "Landing.down") for x in self.down])
        if way.shape != (3,) or not way.any():
            raise InputError(
                f"Landing.down = {list(self.down)!r:.60}: not a direction; give three numbers "
                "along x, y, z that are not all zero, as in [1, 0, -1]"
            )

    def way(self) -> FloatArray:
        """Unit vector of what is down (3,). [-]"""
        down = np.array(self.down, dtype=float)
        return np.asarray(down / np.linalg.norm(down))

    def turning(self) -> FloatArray:
        """Angular velocity (3,) as it lands. [rad/s]"""
        spin = si_array_or_none(self, "spin")
        return np.zeros(3) if spin is None else 2 * np.pi * spin


@cache
def _axes(attitude: str) -> Mapping[str, Axis]:
    """Road axis → case axis of a case that rides in an attitude."""
    case: tuple[Axis, ...] = ("x", "y", "z")
    down = case[int(np.flatnonzero(ATTITUDES[attitude])[0])]
    along, across = [axis for axis in case if axis != down]
    return {"vertical": down, "transverse": across, "longitudinal": along}


@dataclass(frozen=True, kw_only=True)
class Leg:
    """One part of the journey; what is unknown is left out and ends as not checked.

    Parameters
    ----------
    name : str
    attitude : one of `ATTITUDES`
    duration : text or quantity [time], optional
    temperature : text or quantity [temperature], optional
    road : mapping of road axis to Spectrum
        Under any of `ROAD_AXES`; an axis that is not there is unknown. Empty: nobody knows.
    vibrates : bool
        False for a leg without vibration to look at, such as a drop alone.
    axes : mapping of road axis to "x", "y" or "z", optional
        How the case lies on the road. Left out: vertical is what points down in this attitude,
        the first that is left of x, y, z is longitudinal.
    level : number
        Multiplier on the acceleration; the density goes with its square.
    crest : number
        Multiplier on Gaussian peaks for a real road, 1 or more.
    drop : text or quantity [length], optional
        Height of a fall onto the landings.
    drop_table : str
        A table of `heights` from which the drop height comes; empty for none.
    height_class : HeightClass, optional
        The row of that table that a design of this weight and size belongs to; set by `Design`.
    drops : bool
        False for a leg without a fall to look at.
    landings : sequence of attitudes, "edges", "corners"
        What points down when it lands; all twelve edges or eight corners, each along its own fall
        line.
    own : sequence of Landing
        Landings of any other attitude, with or without spin, from the same height.
    set_down : text or quantity [length], optional
        Height from which it is set down on the floor, lid up, day by day.
    slap_down : text or quantity [angle], optional
        It lands on an edge of each face of `landings`, so far from flat, and turns down onto it.
    topple : sequence of attitudes
        It stands so, and turns over each of the four edges beneath it from the balance point.
    sine : Sine, optional
        A sine sweep or dwell.
    walk : Walk, optional
        Carried by hand on foot.
    pulse : Pulse, optional
        A shock of the case, along each of its road axes in turn, both ways.
    running : bool
        Whether the payload runs meanwhile: it then survives what `running_fragility` says.
    tied : bool, optional
        Whether the case is tied down to what shakes it.
    lid : "closed" or "open"
        With an open lid nothing can touch the lid or what is on it.

    Raises
    ------
    InputError
        Wrong units or limits, an unknown attitude, road axis or case axis.
    """

    name: str
    attitude: str = "lid up"
    duration: OptionalMeasure = OptionalMeasure(DURATION)
    temperature: OptionalMeasure = OptionalMeasure(TEMPERATURE)
    road: Mapping[str, Spectrum] = field(default_factory=dict)
    vibrates: bool = True
    axes: Mapping[str, Axis] | None = None
    level: float = 1.0
    crest: float = 1.0
    drop: OptionalMeasure = OptionalMeasure(HEIGHT)
    drop_table: str = ""
    height_class: HeightClass | None = None
    drops: bool = True
    landings: Sequence[str] = tuple(ATTITUDES)
    own: Sequence[Landing] = ()
    set_down: OptionalMeasure = OptionalMeasure(HEIGHT)
    slap_down: OptionalMeasure = OptionalMeasure(ANGLE)
    topple: Sequence[str] = ()
    sine: Sine | None = None
    walk: Walk | None = None
    pulse: Pulse | None = None
    running: bool = False
    tied: bool | None = None
    lid: Literal["closed", "open"] = "closed"

    def __post_init__(self) -> None:
        for attitude in (self.attitude, *self.faces(), *self.topple):
            if attitude not in ATTITUDES:
                raise InputError(
                    f"Leg.attitude or landing = {attitude!r}: not an attitude; write one of "
                    f"{', '.join(ATTITUDES)}"
                )
        names = [landing.name for landing in self.own]
        for name in names:
            if names.count(name) > 1 or name in (*ATTITUDES, *GROUPS) or "/" in name:
                raise InputError(
                    f"Leg.own: the name {name!r:.60} stands twice, is that of a face or group, or "
                    "holds a /, where ids of checks are cut; give each landing its own"
                )
        level = number(self.level, "Leg.level", 0.0, 100.0, open_low=True)
        object.__setattr__(self, "level", level)
        object.__setattr__(self, "crest", number(self.crest, "Leg.crest", 1.0, 10.0))
        for axis in self.road:
            if axis not in ROAD_AXES:
                raise InputError(f"Leg.road axis = {axis!r}: write one of {', '.join(ROAD_AXES)}")
        if self.axes is not None and (
            set(self.axes) != set(ROAD_AXES) or sorted(self.axes.values()) != ["x", "y", "z"]
        ):
            raise InputError(
                f"Leg.axes = {dict(self.axes)!r}: give each of {', '.join(ROAD_AXES)} its own "
                "case axis x, y or z"
            )
        if self.lid not in ("closed", "open"):
            raise InputError(f"Leg.lid = {self.lid!r}: write closed or open")
        if not self.landings or len(set(self.landings)) < len(self.landings):
            raise InputError(
                f"Leg.landings = {list(self.landings)!r}: name each landing once; for a leg "
                "without a drop set drops to False"
            )
        if self.drop_table:
            height_table(self.drop_table)
            if self.drop is not None and self.height_class is None:
                raise InputError(
                    f"Leg.drop = {self.drop}: it stands beside Leg.drop_table; keep one of them"
                )
        for way in self.pulse.ways if self.pulse else ():
            if way not in ROAD_AXES:
                raise InputError(
                    f"Leg.pulse way = {way!r}: not a road axis; write one of {', '.join(ROAD_AXES)}"
                )
        for way in self.sine.ways if self.sine else ():
            if way not in ROAD_AXES:
                raise InputError(
                    f"Leg.sine way = {way!r}: not a road axis; write one of {', '.join(ROAD_AXES)}"
                )

    def off(self, height: float, temperature: float) -> Leg:
        """The leg with its fall from so much higher [m] and so much warmer. [K]

        What it does not have stays so; a fall is from a millimetre at the least.
        """
        drop, degrees = si_or_none(self, "drop"), self.temperature_c()
        return replace(
            self,
            drop=None if drop is None else HEIGHT.quantity(max(drop + height, 1e-3)),
            temperature=None if degrees is None else TEMPERATURE.quantity(degrees + temperature),
        )

    def turns(self) -> bool:
        """Whether the case turns down onto the floor in one of its falls."""
        return bool(self.topple) or (self.slap_down is not None and self.drops)

    def faces(self) -> tuple[str, ...]:
        """The faces that it lands on, by what points down."""
        return tuple(name for name in self.landings if name not in GROUPS)

    def groups(self) -> tuple[str, ...]:
        """Edges and corners, as far as it lands on them."""
        return tuple(name for name in self.landings if name in GROUPS)

    def looked_up(self, mass: float, longest: float) -> Leg:
        """The leg with the drop height of its table for a case.

        Parameters
        ----------
        mass : float
            Gross, nan if unknown. [kg]
        longest : float
            Largest outer dimension, nan if unknown. [m]

        Raises
        ------
        InputError
            A weight outside of the table.
        """
        if not self.drop_table:
            return self
        found = height_of(self.drop_table, mass, longest)
        height = None if found is None else HEIGHT.quantity(found.height)
        return replace(self, height_class=found, drop=height)

    def lifted(self) -> float:
        """Largest downward acceleration of the floor: expected peak times crest, or the sine. [g]

        One-sided, with the crossing rate of the spectrum itself; nan where what shakes it along
        the vertical, or for how long, is unknown.
        """
        rattle = 0.0
        if self.vibrates:
            spectrum, seconds = self.road.get("vertical"), si_or_none(self, "duration")
            if spectrum is None or seconds is None:
                return float("nan")
            count = max(spectrum.crossings() * seconds, 10.0)
            rattle = self.crest * spectrum.level(self.level) * float(expected_peak_factor(count))
        sine = self.sine.most() / G0 if self.sine and "vertical" in self.sine.ways else 0.0
        return max(rattle, sine)

    def fixed_base(self) -> bool:
        """Whether the case follows what shakes it: tied down, or loose and below 1 g."""
        return self.tied is not False or self.lifted() <= 1.0

    def floor_speed(self) -> float:
        """Largest speed upwards of its floor, expected peak times crest, or the sine. [m/s]

        nan where that is unknown; what is slower than the spectrum's first line is not in it.
        """
        rattle = 0.0
        if self.vibrates:
            spectrum, seconds = self.road.get("vertical"), si_or_none(self, "duration")
            if spectrum is None or seconds is None:
                return float("nan")
            level = self.crest * self.level
            rattle = level * floor_speed(spectrum.lines, spectrum.density, seconds)
        sine = self.sine.speed() if self.sine and "vertical" in self.sine.ways else 0.0
        return float(np.maximum(rattle, sine))

    def spectrum(self, axis: Axis) -> Spectrum | None:
        """The spectrum along a case axis, None if nobody gave it."""
        ways = (way for way, case in self.case_axes().items() if case == axis)
        return self.road.get(next(ways, ""))

    def case_axes(self) -> Mapping[str, Axis]:
        """Road axis → case axis."""
        return _axes(self.attitude) if self.axes is None else self.axes

    def temperature_c(self) -> float | None:
        """Temperature of the leg, None if unknown. [°C]"""
        return si_or_none(self, "temperature")

"""A mount: its curves, its ratings, where its numbers come from, and where it sits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal, TypeAlias

import numpy as np

from isolator.curve import Curve
from isolator.rubber import MILD, ROOM_TEMPERATURE, cold_factor
from isolator.sheet import Sheet
from isolator.units import (
    FORCE,
    GAP,
    POSITION,
    SIZE,
    STIFFNESS,
    TEMPERATURE,
    FloatArray,
    Given,
    InputError,
    Measure,
    OptionalMeasure,
    number,
    si_or_none,
)

GRADES = ("measured", "curve", "geometry", "rating")
"""How well a stiffness is known, best first: measured on this mount; a load-deflection curve or
stiffness that its maker states; computed from geometry and hardness; a load rating only."""

SQUEEZE_LIMIT, SHEAR_LIMIT = 0.15, 0.25
"""Strain that rubber may bear for good, squeezed and sheared (common practice). [-]"""

STACKING = ("one", "opposed pair", "two in series")
"""How mounts of a kind stand at one place: alone, one on each side of what they hold, or one on
the other."""

BANDS = ("along", "across", "dynamic ratio", "loss factor", "cold stiffness", "dynamic stiffness")
"""What of a mount may be known as a band; the last by a tap, see `tapped`."""

RATIOS = (1.0, 10.0)
"""Ends of what a dynamic ratio can be. [-]"""

LOAD = FORCE.within(-np.inf, np.inf)
"""A point of a load-deflection curve, pulled or pushed."""

PUSHES = {
    f"{sign}{name}": tuple(sense * float(i == k) for i in range(3))
    for sign, sense in (("", 1.0), ("+", 1.0), ("-", -1.0))
    for k, name in enumerate("xyz")
}

FIT = ("hole", "panel", "sleeve", "sleeve_length", "washer", "flange", "flange_thickness")
"""Sizes of how a mount sits, which go with any kind of mount, whatever its stiffness is from."""

RISING = (
    ("bore", "diameter"),
    ("cord", "diameter"),
    ("sleeve", "hole"),
    ("sleeve", "tube"),
    ("hole", "flange"),
    ("hole", "washer"),
)
"""Diameters of which the first is inside of the second."""

BOLTED_THROUGH = ("ring", "o-ring", "bush", "panel grommet")
"""Shapes whose rubber a bolt may go through from the payload to a washer behind the hole."""

CurveGiven: TypeAlias = "Given | Mapping[str, Given] | Curve"


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """Sizes of a mount and of how it sits, as a ruler has them: diameters and not radii.

    Parameters
    ----------
    kind : str, optional
        Its shape, one of `estimate.KINDS`.
    length, width, thickness, diameter, bore, cord, sleeve, hole, flange, flange_thickness, panel,
    washer, sleeve_length, groove, core, tube, tube_length, draw : texts or quantities [length]
        `thickness` of the rubber along the axis; of a ring on a shaft `bore`; of a grommet the
        sleeve outside, the hole in the panel, the flanges, one flange's thickness, the panel's,
        what presses on a flange, the sleeve's length, the groove's width and the core's diameter;
        of a threaded nut the tube outside, its free length behind the panel, and how far the
        screw has drawn it together.

    Raises
    ------
    InputError
        A diameter that is not below the one that it is inside of.
    """

    kind: str | None = None
    length: OptionalMeasure = OptionalMeasure(SIZE)
    width: OptionalMeasure = OptionalMeasure(SIZE)
    thickness: OptionalMeasure = OptionalMeasure(SIZE)
    diameter: OptionalMeasure = OptionalMeasure(SIZE)
    bore: OptionalMeasure = OptionalMeasure(SIZE)
    cord: OptionalMeasure = OptionalMeasure(SIZE)
    sleeve: OptionalMeasure = OptionalMeasure(SIZE)
    hole: OptionalMeasure = OptionalMeasure(SIZE)
    flange: OptionalMeasure = OptionalMeasure(SIZE)
    flange_thickness: OptionalMeasure = OptionalMeasure(SIZE)
    panel: OptionalMeasure = OptionalMeasure(SIZE)
    washer: OptionalMeasure = OptionalMeasure(SIZE)
    sleeve_length: OptionalMeasure = OptionalMeasure(SIZE)
    groove: OptionalMeasure = OptionalMeasure(SIZE)
    core: OptionalMeasure = OptionalMeasure(SIZE)
    tube: OptionalMeasure = OptionalMeasure(SIZE)
    tube_length: OptionalMeasure = OptionalMeasure(SIZE)
    draw: OptionalMeasure = OptionalMeasure(GAP)

    def __post_init__(self) -> None:
        if lines := list(self._crossed()):
            raise InputError(*lines)

    def _crossed(self) -> Iterator[str]:
        for low, high in RISING:
            inner, outer = si_or_none(self, low), si_or_none(self, high)
            if inner is not None and outer is not None and inner >= outer:
                yield (
                    f"{type(self).__name__}.{low} = {SIZE.text(inner)}: must be below {high} = "
                    f"{SIZE.text(outer)}; were two exchanged?"
                )

    def size(self, name: str) -> float:
        """One of the sizes, nan if it is unknown. [m]"""
        value = si_or_none(self, name)
        return np.nan if value is None else value

    def pinch(self) -> float:
        """Squeeze of each flange of a grommet by its sleeve; below 0 it rattles. [m]

        (2t + p − L)/2 of two flanges t on a panel p and a sleeve of length L; nan if one of them
        is unknown.

        >>> fit = Sizes(flange_thickness="4 mm", panel="1.6 mm", sleeve_length="8.8 mm")
        >>> print(f"{1e3 * fit.pinch():.1f} mm")
        0.4 mm
        """
        flanges = 2 * self.size("flange_thickness")
        return (flanges + self.size("panel") - self.size("sleeve_length")) / 2

    def bolted_through(self) -> bool | None:
        """Whether a bolt may go through its rubber to a washer behind the hole; None if unknown.

        None does through a bobbin, a pad or a disc. The screw of a threaded nut ends in the nut
        that is bonded to its rubber, and its washer is on the payload's side of the hole.
        """
        return None if self.kind is None else self.kind in BOLTED_THROUGH

    def held_by_metal(self) -> bool | None:
        """Whether its washer cannot pass through its hole, so that it holds without its rubber.

        None where the kind or one of the two is unknown; False where no bolt goes through it.

        >>> Sizes(kind="bobbin", hole="8 mm", washer="24 mm").held_by_metal()
        False
        """
        if not self.bolted_through():
            return self.bolted_through()
        washer, hole = self.size("washer"), self.size("hole")
        return None if np.isnan(washer + hole) else bool(washer > hole)


@dataclass(frozen=True, kw_only=True)
class Mount:
    """One kind of mount.

    Parameters
    ----------
    name : str
    along, across : text or quantity [stiffness], mapping of points, or Curve
        Static curve along and across its axis: one stiffness, or points as
        ``{"deflection": ["1 mm", ...], "force": ["8 N", ...]}``, compression positive; points at
        negative deflection are the tension branch.
    dynamic_ratio : number
        Dynamic over static stiffness at the amplitude of transport, 1 to 10.
    loss_factor : number, optional
        Structural loss factor η at 23 °C, 0.001 to 2.
    rated_load : text or quantity [force], optional
        Static load that it may carry.
    peak_load : text or quantity [force], optional
        Force that it may carry for a moment.
    fastening_load : text or quantity [force], optional
        What its screw and insert hold for a moment; as much as the mount if left out.
    travel, travel_across : text or quantity [length], optional
        Deflection from unloaded to metal; of a curve the last point, if left out.
    stop : text or quantity [stiffness], optional
        Of what it meets at the end of its travel, beside the mount itself: a pad, a metal stop.
    stock : int, optional
        How many of them are in the drawer.
    captive : bool, optional
        Whether it holds the payload when pulled. A captive mount pulls with the curve that it
        pushes with, unless tension points are given.
    cold_temperature, cold_factor : text or quantity [temperature], number; optional, together
        Stiffness at that temperature over stiffness at 23 °C, static and dynamic alike.
    cold_points : sequence of three numbers, in the place of these two
        Temperature [°C], lowest and highest stiffness there over that at 23 °C, of its rubber.
    cold_loss_factor : number, optional
        Loss factor at the coldest point; left out, it stays as it is at 23 °C beside
        `cold_factor`, and is unknown in the cold beside `cold_points`.
    within : mapping of one of `BANDS` to two numbers, optional
        What may be off, common to all mounts of a batch: lowest and highest over what is stated,
        the first at most 1 and the second at least 1.
    tied : sequence of "along", "across", "dynamic ratio"
        Those of them that follow from the others, see `overs`.
    scatter : number, optional
        By which share the stiffness of one mount may be off from that of another, 0 to 0.9.
    creep : two numbers, optional
        Ends of the share by which its deflection grows in each tenfold of time, 0 to 1.
    ageing : number, optional
        Share by which it stiffens in a year, -0.5 to 1; nothing is known of it otherwise.
    rubber_along, rubber_across : text or quantity [length], optional
        Rubber that is squeezed along its axis, and sheared across: strain is deflection over it.
    squeeze_limit, shear_limit : number
        Strain that it may bear for good (common practice).
    pull_limit : number, optional
        The same where its rubber is stretched when it is pulled, 0 for none (common practice).
    notes, faults : sequences of str
        What to know of it, and what is wrong with how it is fitted, as sentences; no `faults`
        where nobody looked.
    sizes : Sizes, optional
        Of its rubber, and of the hole, panel, sleeve and washer that it sits with.
    grade : one of `GRADES`, optional
    source : str

    Raises
    ------
    InputError
        Wrong units or limits, a curve that falls, a travel beyond the last point of the curve.

    Examples
    --------
    >>> ring = Mount(name="ring", along="9 N/mm", across="6 N/mm", dynamic_ratio=1.2)
    >>> float(ring.curves().force([0.001, 0.0])[0])
    9.0
    """

    name: str
    along: CurveGiven
    across: CurveGiven
    dynamic_ratio: float
    loss_factor: float | None = None
    rated_load: OptionalMeasure = OptionalMeasure(FORCE)
    peak_load: OptionalMeasure = OptionalMeasure(FORCE)
    fastening_load: OptionalMeasure = OptionalMeasure(FORCE)
    travel: OptionalMeasure = OptionalMeasure(SIZE)
    travel_across: OptionalMeasure = OptionalMeasure(SIZE)
    stop: OptionalMeasure = OptionalMeasure(STIFFNESS)
    stock: int | None = None
    captive: bool | None = None
    cold_temperature: OptionalMeasure = OptionalMeasure(TEMPERATURE)
    cold_factor: float | None = None
    cold_points: Sequence[tuple[float, float, float]] = ()
    cold_loss_factor: float | None = None
    within: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    tied: Sequence[str] = ()
    scatter: float | None = None
    creep: tuple[float, float] | None = None
    ageing: float | None = None
    rubber_along: OptionalMeasure = OptionalMeasure(SIZE)
    rubber_across: OptionalMeasure = OptionalMeasure(SIZE)
    squeeze_limit: float = SQUEEZE_LIMIT
    shear_limit: float = SHEAR_LIMIT
    pull_limit: float | None = None
    grade: Literal["measured", "curve", "geometry", "rating"] | None = None
    source: str = ""
    notes: Sequence[str] = ()
    faults: Sequence[str] | None = None
    sizes: Sizes | None = None
    _static: tuple[Curve, Curve] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for name, low, high in (
            ("dynamic_ratio", *RATIOS),
            ("loss_factor", 0.001, 2.0),
            ("cold_factor", 1.0, 1000.0),
            ("cold_loss_factor", 0.001, 2.0),
        ):
            given = getattr(self, name)
            if given is not None or name == "dynamic_ratio":
                object.__setattr__(self, name, number(given, f"Mount.{name}", low, high))
        if self.scatter is not None:
            object.__setattr__(self, "scatter", number(self.scatter, "Mount.scatter", 0.0, 0.9))
        for name in ("squeeze_limit", "shear_limit"):
            given = number(getattr(self, name), f"Mount.{name}", 0.0, 5.0, open_low=True)
            object.__setattr__(self, name, given)
        if self.pull_limit is not None:
            given = number(self.pull_limit, "Mount.pull_limit", 0.0, 5.0)
            object.__setattr__(self, "pull_limit", given)
        if self.ageing is not None:
            object.__setattr__(self, "ageing", number(self.ageing, "Mount.ageing", -0.5, 1.0))
        if self.creep is not None:
            low, high = (number(rate, "Mount.creep", 0.0, 1.0) for rate in self.creep)
            if low > high:
                raise InputError(f"Mount.creep = {low:g} to {high:g}: give the lower end first")
            object.__setattr__(self, "creep", (low, high))
        for name, (low, high) in self.within.items():
            if name not in BANDS or not 0 < low <= 1 <= high:
                raise InputError(
                    f"Mount.within {name!r} = {low:g} to {high:g}: write a band of "
                    f"{', '.join(BANDS)} around 1"
                )
        if (self.cold_factor is None) != (self.cold_temperature is None):
            raise InputError(
                f"Mount.cold_factor of {self.name!r}: a cold factor and its temperature go "
                "together; give both or neither"
            )
        if self.cold_points and self.cold_factor is not None:
            raise InputError(
                f"Mount.cold_points of {self.name!r} stand beside cold_factor; keep one of them"
            )
        points = sorted(self.cold_points, reverse=True)
        object.__setattr__(self, "cold_points", tuple(points))
        if points and points[-1][1] < points[-1][2]:
            half = float(np.sqrt(points[-1][2] / points[-1][1]))
            within = {**self.within, "cold stiffness": (1 / half, half)}
            object.__setattr__(self, "within", within)
        coldest = si_or_none(self, "cold_temperature")
        if coldest is not None and coldest >= MILD[0]:
            raise InputError(
                f"Mount.cold_temperature = {TEMPERATURE.text(coldest)}: cold begins below "
                f"{MILD[0]:g} °C here; give a lower temperature"
            )
        if self.captive not in (True, False, None):
            raise InputError(f"Mount.captive = {self.captive!r}: write true or false")
        if self.grade not in (None, *GRADES):
            raise InputError(f"Mount.grade = {self.grade!r}: write one of {', '.join(GRADES)}")
        curves = (_curve(self.along, "Mount.along"), _curve(self.across, "Mount.across"))
        object.__setattr__(self, "_static", curves)
        for name, given, curve in (
            ("travel", self.along, curves[0]),
            ("travel_across", self.across, curves[1]),
        ):
            stated, last = si_or_none(self, name), curve.deflection[-1]
            if stated is not None and isinstance(given, Mapping) and stated > last * (1 + 1e-9):
                raise InputError(
                    f"Mount.{name} = {SIZE.text(stated)}: the curve ends at {SIZE.text(last)}; "
                    "add a point at the full travel or state a shorter one"
                )

    @cached_property
    def _both(self) -> Curve:
        along, across = self._static
        return Curve.stacked([along.without_tension() if self.captive is False else along, across])

    def curves(self) -> Curve:
        """Static curves (2,) along its axis and across it."""
        return self._both

    def undeflected(self) -> FloatArray:
        """Static stiffness along its axis and across it where it is not deflected, (2,). [N/m]"""
        return self.curves().tangent(np.array([1e-9, 1e-9]))

    def loose(self) -> list[str]:
        """Those of its `BANDS` that follow from none of the others."""
        wide = [name for name, (low, high) in self.within.items() if low < high]
        return [name for name in BANDS if name in wide and name not in self.tied]

    def over(self, name: str, at: float) -> float:
        """What one of its `BANDS` is over what is stated, at a place in the band.

        Parameters
        ----------
        at : float
            -1 at the low end, 0 as stated, 1 at the high end; in between in the logarithm.
        """
        low, high = self.within.get(name, (1.0, 1.0))
        return float(high**at if at > 0 else low**-at)

    def overs(self, at: Mapping[str, float]) -> dict[str, float]:
        """What each of its `BANDS` is over what is stated, at a place in each of them.

        What is `tied` follows: the dynamic ratio is the dynamic stiffness over the static one, as
        far as it may be, or the static one is as far off as the dynamic one; across it is as far
        off as along.

        Parameters
        ----------
        at : mapping of one of `BANDS` to a place, see `over`
        """
        out = {name: self.over(name, at.get(name, 0.0)) for name in BANDS}
        if "along" in self.tied:
            out["along"] = out["dynamic stiffness"]
        if "dynamic ratio" in self.tied:
            low, high = self.within["dynamic ratio"]
            out["dynamic ratio"] = min(max(out["dynamic stiffness"] / out["along"], low), high)
        if "across" in self.tied:
            out["across"] = out["along"]
        return out

    def shifted(self, at: Mapping[str, float], own: float = 1.0) -> Mount:
        """The mount at a place in its bands, without a band.

        Parameters
        ----------
        at : mapping of one of `BANDS` to a place, see `over`
        own : float
            Its stiffness over that of the others of its batch.

        Examples
        --------
        >>> ring = Mount(name="ring", along="9 N/mm", across="6 N/mm", dynamic_ratio=1.2,
        ...              within={"along": (0.8, 1.25)})
        >>> print(f"{ring.shifted({'along': 1}).curves().force([0.001, 0.0])[0]:.2f}")
        11.25
        """
        over = self.overs(at)
        cold_at = at.get("cold stiffness", 0.0)
        loss, cold = (
            None if value is None else min(value * over["loss factor"], 2.0)
            for value in (self.loss_factor, self.cold_loss_factor)
        )
        along, across = self._static
        factors = over["along"] * own, over["across"] * own
        points = [
            (degrees, *[low * (high / low) ** ((1 + cold_at) / 2)] * 2)
            for degrees, low, high in self.cold_points
        ]
        moved = {
            "along": scaled(self.along, force=factors[0]),
            "across": scaled(self.across, force=factors[1]),
            "_static": (along.scaled(factors[0]), across.scaled(factors[1])),
            "cold_points": tuple(points),
            "dynamic_ratio": max(self.dynamic_ratio * over["dynamic ratio"], 1.0),
            "loss_factor": loss,
            "cold_loss_factor": cold,
            "within": {},
            "tied": (),
            "scatter": None,
            "ageing": None,
        }
        out = copy(self)  # a hundred of these are made for a verdict, of a mount that was validated
        out.__dict__.pop("_both", None)
        for name, value in moved.items():
            object.__setattr__(out, name, value)
        return out

    def stacked(self, way: str) -> Mount:
        """What two of them are at one place, as one mount.

        An opposed pair has one on each side of what it holds, on one bolt: each is pushed where
        the other is let go, F(x) − F(−x), and the pair is captive. Two in series carry one force:
        half the stiffness, twice the travel; what joins them must not tilt.

        Parameters
        ----------
        way : one of `STACKING`

        Raises
        ------
        InputError
            Another word; an opposed pair of mounts of which nobody knows whether they pull.

        Examples
        --------
        >>> ring = Mount(name="ring", along="9 N/mm", across="6 N/mm", dynamic_ratio=1.2,
        ...              travel="10 mm", captive=False)
        >>> for way in ("opposed pair", "two in series"):
        ...     both = ring.stacked(way)
        ...     print(both.name, both.curves().force([0.002, 0.002]), both.limits()[:2])
        ring (opposed pair) [18. 24.] [0.01 0.01]
        ring (two in series) [9. 6.] [0.02  inf]
        """
        if way == "one":
            return self
        if way not in STACKING:
            raise InputError(f"stacking = {way!r}: write one of {', '.join(STACKING)}")
        name = f"{self.name} ({way})"
        if way == "two in series":
            return replace(
                self,
                name=name,
                along=scaled(self.along, deflection=2.0),
                across=scaled(self.across, deflection=2.0),
                travel=_times(self, "travel", 2.0),
                travel_across=_times(self, "travel_across", 2.0),
                stop=_times(self, "stop", 0.5),
                rubber_along=_times(self, "rubber_along", 2.0),
                rubber_across=_times(self, "rubber_across", 2.0),
                notes=[*self.notes, "what joins two in series must not tilt between them"],
            )
        if self.captive is None:
            raise InputError(
                f"mount.{self.name}.captive is not given: an opposed pair needs to know whether "
                "each of its two pulls; give true or false"
            )
        pushed, pulled, aside = self.limits()
        along, across = self._static
        times = 2.0 if self.captive else 1.0
        both = along.without_tension() if self.captive is False else along
        return replace(
            self,
            name=name,
            along=both.opposed(),
            across=across.scaled(2.0),
            travel=_length(np.fmin(pushed, pulled)),
            travel_across=_length(aside),
            rated_load=_times(self, "rated_load", times),
            peak_load=_times(self, "peak_load", times),
            captive=True,
        )

    def limits(self) -> FloatArray:
        """How far it may be pushed, pulled and moved across, (3,). [m]

        nan where unknown; a mount that lifts off has no limit when pulled. Points of a curve are
        a limit on their own side.
        """
        pushed, held = self._limit("travel", self.along, self._static[0])
        across = min(self._limit("travel_across", self.across, self._static[1]))
        pulled = {True: held, False: np.inf, None: np.nan}[self.captive]
        return np.array([pushed, pulled, across])

    def _limit(self, name: str, given: CurveGiven, curve: Curve) -> tuple[float, float]:
        stated = si_or_none(self, name)
        travel = np.nan if stated is None else stated
        if not isinstance(given, Mapping):
            return travel, travel
        ends = float(curve.deflection[-1]), -float(curve.deflection[0])
        return float(np.fmin(travel, ends[0])), float(np.fmin(travel, ends[1]))

    def coldest(self) -> float | None:
        """Where its data in the cold end, None without any. [°C]"""
        given = si_or_none(self, "cold_temperature")
        return self.cold_points[-1][0] if self.cold_points else given

    def cold(self, temperature: float | None) -> tuple[float, float]:
        """Stiffness factor and loss factor at a temperature [°C].

        The factor by `rubber.cold_factor`, in the middle of its band: inf, a rigid mount, below
        the coldest point; nan, unknown, above `MILD` and in the cold without data. Unknown
        temperature counts as 23 °C.

        Examples
        --------
        >>> ring = Mount(name="ring", along="9 N/mm", across="6 N/mm", dynamic_ratio=1.2,
        ...              loss_factor=.1, cold_temperature="-27 °C", cold_factor=4)
        >>> ring.cold(-2.0)
        (2.0, 0.1)
        """
        loss = np.nan if self.loss_factor is None else self.loss_factor
        lowest = self.coldest()
        if temperature is None:
            return 1.0, loss
        points = [(degrees, np.sqrt(low * high)) for degrees, low, high in self.cold_points]
        if self.cold_factor is not None and lowest is not None:
            points = [(lowest, self.cold_factor)]
        factor = float(cold_factor(temperature, *zip(*points, strict=True) if points else ((), ())))
        if not np.isfinite(factor) or lowest is None or temperature >= ROOM_TEMPERATURE:
            return factor, loss
        if self.cold_loss_factor is None:
            known = not self.cold_points or temperature >= MILD[0]
            return factor, loss if known else np.nan
        part = (ROOM_TEMPERATURE - temperature) / (ROOM_TEMPERATURE - lowest)
        return factor, float(loss + part * (self.cold_loss_factor - loss))


@dataclass(frozen=True, kw_only=True)
class Place:
    """A mount at its place.

    Parameters
    ----------
    mount : Mount
    position : three texts or a quantity [length]
        Where it holds the payload, from the middle of the payload's box.
    push : one of "-z", "z", "x", "-x", "y", "-y", or three numbers
        The direction in which the payload moves when it squeezes the mount; -z is a mount that
        the payload stands on.
    sheet : text or quantity [stiffness], or Sheet; optional
        What the mount is fastened to, as a spring behind it along its axis; rigid if left out.
    """

    mount: Mount
    position: Measure = Measure(POSITION, shape=(3,))
    push: str | Sequence[float] = "-z"
    sheet: Sheet | Given | None = None

    def __post_init__(self) -> None:
        self.direction()
        self.sheet_stiffness()

    def sheet_stiffness(self) -> float:
        """Stiffness of the sheet under it along its axis, inf if none is given. [N/m]"""
        if self.sheet is None:
            return np.inf
        if isinstance(self.sheet, Sheet):
            return self.sheet.stiffness()
        return STIFFNESS.read(self.sheet, "Place.sheet")

    def direction(self) -> FloatArray:
        """Unit vector (3,) of `push`."""
        if isinstance(self.push, str):
            if self.push not in PUSHES:
                raise InputError(
                    f"Place.push = {self.push!r}: not a direction; write x, -x, y, -y, z or -z, "
                    "or three numbers"
                )
            return np.array(PUSHES[self.push])
        try:
            vector = np.array([float(v) for v in self.push])
        except (TypeError, ValueError):
            vector = np.full(3, np.nan)
        length = float(np.linalg.norm(vector))
        if vector.shape != (3,) or not np.isfinite(length) or length == 0:
            raise InputError(
                f"Place.push = {self.push!r}: a direction is three finite numbers, not all zero"
            )
        return np.asarray(vector / length)


def with_bands(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Fields of a Mount of which some are the two ends of a band.

    Of two ends the geometric mean is what is stated. A number under ``within`` is the share that
    the stiffness may be off either way: k(1 − w) to k(1 + w).

    Examples
    --------
    >>> ring = Mount(name="ring", **with_bands({"along": ["8 N/mm", "12.5 N/mm"],
    ...              "across": "6 N/mm", "dynamic_ratio": 1.2, "within": 0.1}))
    >>> {name: (round(low, 3), high) for name, (low, high) in ring.within.items()}
    {'along': (0.8, 1.25), 'across': (0.9, 1.1)}
    """
    out, within = dict(fields), dict[str, tuple[float, float]]()
    share = out.pop("within", None)
    if isinstance(share, Mapping):
        within, share = dict(share), None
    for band in BANDS:
        name = band.replace(" ", "_")
        given, stiff = out.get(name), band in ("along", "across")
        if isinstance(given, list | tuple):
            low, high = (STIFFNESS.read(e, f"Mount.{name}") if stiff else e for e in given)
            middle = float(np.sqrt(low * high))
            within[band] = (low / middle, high / middle)
            out[name] = STIFFNESS.quantity(middle) if stiff else middle
        elif stiff and share:
            within[band] = (1 - share, 1 + share)
    if isinstance(out.get("creep"), int | float):
        out["creep"] = (out["creep"], out["creep"])
    return out | {"within": within}


def unstacked(name: str) -> str:
    """The kind that a mount is stacked of, by the name that `Mount.stacked` gave it.

    >>> unstacked("ring (soft) (two in series)"), unstacked("ring (soft)")
    ('ring (soft)', 'ring (soft)')
    """
    for way in STACKING:
        name = name.removesuffix(f" ({way})")
    return name


def _length(value: float) -> Given | None:
    """A travel, None where it is unknown or endless."""
    return SIZE.quantity(float(value)) if np.isfinite(value) else None


def _times(mount: Mount, name: str, times: float) -> Given | None:
    """A measure of a mount times a factor, None where it is unknown."""
    value = si_or_none(mount, name)
    kind = {"stop": STIFFNESS, "rated_load": FORCE, "peak_load": FORCE}.get(name, SIZE)
    return None if value is None else kind.quantity(value * times)


def scaled(given: CurveGiven, *, force: float = 1.0, deflection: float = 1.0) -> CurveGiven:
    """The same with so many times the forces at so many times the deflections."""
    if isinstance(given, Curve):
        return given.scaled(force).slower(deflection)
    if isinstance(given, Mapping):
        further = POSITION.read_array(given["deflection"], "Mount.deflection") * deflection
        harder = LOAD.read_array(given["force"], "Mount.force") * force
        return {"deflection": POSITION.quantity(further), "force": LOAD.quantity(harder)}
    return STIFFNESS.quantity(STIFFNESS.read(given, "Mount.stiffness") * force / deflection)


def _curve(given: CurveGiven, name: str) -> Curve:
    if isinstance(given, Curve):
        return given
    if not isinstance(given, Mapping):
        return Curve.straight(STIFFNESS.read(given, name))
    if set(given) != {"deflection", "force"}:
        raise InputError(
            f"{name} has the keys {', '.join(map(str, given))}: points are given as two lists, "
            "deflection and force"
        )
    d = np.atleast_1d(POSITION.read_array(given["deflection"], f"{name}.deflection"))
    f = np.atleast_1d(LOAD.read_array(given["force"], f"{name}.force"))
    if d.shape != f.shape or d.ndim != 1:
        raise InputError(
            f"{name} has {d.size} deflections and {f.size} forces: give as many of both"
        )
    try:
        return Curve.through(d, f)
    except ValueError as error:
        raise InputError(f"{name}: {error}") from None

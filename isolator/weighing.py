"""A bathroom scale, a ruler and a watch: mass, centre of gravity and moments of inertia.

The payload stands on three or four feet and the force under each is read. Three feet are the safe
number: how they share the weight does not depend on how high each of them stands, so one scale
may go from foot to foot while blocks of its height stand under the others. Four feet of a stiff
payload share as their heights will have it. The sum and the moments of forces that act together
are statics all the same, so four scales at once are right; with one scale that goes from foot to
foot the sharing may differ each time, and a weighing of the whole at once, `Weighing.total`, shows
it.

A reading stands for any force within half a step of the scale, each as likely as the other. What
is stated as ± is the worst of that, not a deviation: no combination of readings lies outside. The
places of the feet and the scale itself are taken to be exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from isolator.inside import FACES
from isolator.payload import MOMENT, Part, Payload
from isolator.pulse import Pulse
from isolator.units import (
    ANGLE,
    DURATION,
    G0,
    GAP,
    INERTIA,
    MASS,
    POSITION,
    SIZE,
    FloatArray,
    InputError,
    Measure,
    OptionalMeasure,
    Quantity,
    si,
    si_array,
    si_or_none,
)

READING = MASS.within(0.0)
"""What a scale shows; nothing at all under a foot that is in the air."""

MOST_UNKNOWN = 0.1
"""A scale is too coarse if it leaves more than this share of the mass, or of the size, open."""

NEAR = 0.02
"""The centre of listed parts is a ruler's work: off by this share of the box it is no mistake."""

TELLING = 0.2
"""A tilt is too small if it leaves the height open by more than this share of the payload's."""

STEEPEST = np.pi / 4
"""Beyond this tilt the payload may fall over. [rad]"""

OWN_SHARE = 0.1
"""A pendulum says too little if less than this share of its moment is the payload's own."""


def plan_centre(reading: FloatArray, position: FloatArray) -> FloatArray:
    """Centre of gravity in plan of a body on feet.

    At rest the forces under the feet carry the weight, and about any line in plan their moment is
    that of the weight through the centre of gravity: ``M = Σ R_i`` and ``M·x = Σ R_i·x_i``, so
    ``x = Σ R_i·x_i / Σ R_i``. How a stiff body shares its weight between more than three feet does
    not enter.

    Parameters
    ----------
    reading : (..., n) array
        Under each foot. [kg]
    position : (n, 2) array
        Of the feet in plan. [m]

    Returns
    -------
    (..., 2) array
        [m]

    Examples
    --------
    >>> plan_centre(np.array([1.0, 3.0]), np.array([[0.0, 0.0], [0.5, 0.0]])).tolist()
    [0.375, 0.0]
    """
    return np.asarray(reading @ position / reading.sum(axis=-1)[..., None])


def plan_bounds(
    reading: FloatArray, position: FloatArray, step: float
) -> tuple[FloatArray, FloatArray]:
    """The least and the largest centre that readings rounded to a step leave possible.

    With the other readings held, the centre goes one way only as one reading grows:
    ``dx/dR_i = (x_i − x)/M``, whose sign never turns. So its ends are at the ends of the readings,
    and all 2ⁿ combinations of those are tried: exact, not linearised.

    Parameters
    ----------
    reading : (..., n) array
        Their sum above n·step/2. [kg]
    position : (n, 2) array
        [m]
    step : float
        Resolution of the scale. [kg]

    Returns
    -------
    low, high : (..., 2) arrays
        [m]
    """
    ends = np.array(list(product((-0.5, 0.5), repeat=reading.shape[-1]))) * step
    centre = plan_centre(np.maximum(reading[..., None, :] + ends, 0.0), position)
    return centre.min(axis=-2), centre.max(axis=-2)


def tilted_height(shift: FloatArray, tangent: FloatArray) -> FloatArray:
    """Height of the centre of gravity above the plane of the feet, from a tilted weighing.

    Turned by θ about y, with the +x end up, a foot at x_i in the plane of the feet stands at
    ``x_i·cos θ`` in plan, and the centre, h above that plane, at ``x·cos θ − h·sin θ``. The moments
    of the vertical forces then say ``Σ R_i·x_i / Σ R_i = x − h·tan θ``, so the height is the shift
    of the centre found by `plan_centre` with the same places of the feet, over tan θ.

    The feet must not be pushed sideways (a round rod under the raised end is right), and must
    touch where they touched when level.

    Parameters
    ----------
    shift : (...) array
        Centre found level less that found tilted, towards the raised end. [m]
    tangent : (...) array
        Of the tilt. [-]

    Returns
    -------
    (...) array
        [m]

    Examples
    --------
    >>> print(f"{float(tilted_height(np.array(0.02), np.array(0.25))):.3f}")
    0.080
    """
    return np.asarray(shift / tangent)


def pendulum_inertia(mass: float, period: float, pivot: float) -> float:
    """Moment of inertia from small swings about a pivot.

    About the pivot ``(I + M·d²)·φ̈ = −M·g·d·φ``, so ``(2π/T)² = M·g·d/(I + M·d²)`` and
    ``I = M·d·(g·T²/4π² − d)``; negative for a period that no body has. Swings of 10° to each side
    read 0.2 % long in T.

    Parameters
    ----------
    mass : float
        [kg]
    period : float
        Of a full swing, there and back. [s]
    pivot : float
        Distance d of the centre of gravity from the pivot line. [m]

    Returns
    -------
    float
        About the line through the centre of gravity along the pivot. [kg·m²]

    Examples
    --------
    A rod of 1 m swings about its end in 1.638 s and has m·l²/12 about its middle.

    >>> print(f"{pendulum_inertia(1.0, 1.638, 0.5):.3f}")
    0.083
    """
    return mass * pivot * (G0 * period**2 / (4 * np.pi**2) - pivot)


def bifilar_inertia(mass: float, period: float, strings: float, apart: float) -> float:
    """Moment of inertia from small twists of a body that hangs on two strings.

    The strings are upright, of length L, a apart, with the centre of gravity midway. Twisted by φ,
    each lower end moves ``a·φ/2`` and its half of the weight pulls it back with
    ``(M·g/2)·(a·φ/2)/L``, both together with the moment ``M·g·a²·φ/4L``, so
    ``(2π/T)² = M·g·a²/(4·L·I)`` and ``I = M·g·a²·T²/(16·π²·L)``.

    Parameters
    ----------
    mass : float
        [kg]
    period : float
        Of a full swing, there and back. [s]
    strings, apart : float
        Length of the strings and the distance between them. [m]

    Returns
    -------
    float
        About the upright line through the centre of gravity. [kg·m²]

    Examples
    --------
    A rod of 1 m and 1 kg on strings of 1 m at its ends: (2π/T)² = 3g/L.

    >>> print(f"{bifilar_inertia(1.0, 2 * np.pi / (3 * G0) ** 0.5, 1.0, 1.0):.4f}")
    0.0833
    """
    return mass * G0 * apart**2 * period**2 / (16 * np.pi**2 * strings)


@dataclass(frozen=True, kw_only=True)
class Foot:
    """A place where the payload stands on the scale.

    Parameters
    ----------
    position : two texts or a quantity [length]
        Along x and y, from the middle of the payload's box.
    reading : text or quantity [mass]
        What the scale shows there.
    """

    position: Measure = Measure(POSITION, shape=(2,))
    reading: Measure = Measure(READING)


@dataclass(frozen=True, kw_only=True)
class Tilt:
    """The same feet read again with one end raised.

    Parameters
    ----------
    raised : "left end", "right end", "handle side" or "hinge side"
        The end that is up.
    rise, angle : text or quantity [length or angle]
        How much higher the highest foot stands than the lowest, or the angle; one of the two.
    rise_within, angle_within : text or quantity, optional
        What that may be off, up or down; exact if left out.
    readings : texts or a quantity [mass]
        Under each foot, in the order of the feet.

    Raises
    ------
    InputError
        Not one of rise and angle, or a ± of the other; a ± as large as the value.
    """

    raised: str
    rise: OptionalMeasure = OptionalMeasure(SIZE)
    rise_within: OptionalMeasure = OptionalMeasure(GAP)
    angle: OptionalMeasure = OptionalMeasure(ANGLE)
    angle_within: OptionalMeasure = OptionalMeasure(ANGLE.within(0.0, STEEPEST))
    readings: Measure = Measure(READING, shape=None)

    def __post_init__(self) -> None:
        if self.raised not in FACES[:4]:
            raise InputError(
                f"Tilt.raised = {self.raised!r}: not an end; write {', '.join(FACES[:4])}"
            )
        if (self.rise is None) == (self.angle is None):
            raise InputError(
                "Tilt.rise and angle: one of the two says how far it is tilted; give the height "
                "of the raised feet over the others, or the angle"
            )
        given, other = ("angle", "rise") if self.rise is None else ("rise", "angle")
        if si_or_none(self, f"{other}_within") is not None:
            raise InputError(
                f"Tilt.{other}_within stands without {other}; write {given}_within, or leave it out"
            )
        if (si_or_none(self, f"{given}_within") or 0.0) >= si(self, given):
            raise InputError(f"Tilt.{given}_within is as large as {given} itself; tilt it more")

    def along(self) -> tuple[int, float]:
        """The axis that the raised end lies on, 0 for x, and its sign there."""
        k, up = divmod(FACES.index(self.raised), 2)
        return k, 1.0 if up else -1.0

    def angles(self, span: float) -> FloatArray:
        """The tilt (3,): as given, least and most; `span` is from the lowest foot to the highest.

        A rise beyond the span gives nan. [rad]
        """
        off = np.array([0.0, -1.0, 1.0])
        if self.rise is None:
            return np.asarray(si(self, "angle") + off * (si_or_none(self, "angle_within") or 0.0))
        with np.errstate(invalid="ignore"):
            rise = si(self, "rise") + off * (si_or_none(self, "rise_within") or 0.0)
            return np.asarray(np.arcsin(rise / span))


@dataclass(frozen=True, kw_only=True)
class Swing:
    """The payload swings as a pendulum, or twists on two strings.

    Parameters
    ----------
    axis : "x", "y" or "z"
        Along the pivot, or upright between the strings.
    period : text or quantity [time]
        Of one swing there and back: time twenty of them.
    pivot : text or quantity [length], optional
        From the pivot line to the centre of gravity, for a pendulum.
    strings, apart : text or quantity [length], optional
        Their length and the distance between them, for a twist.

    Raises
    ------
    InputError
        Neither a pivot nor strings with their distance, or both.
    """

    axis: Literal["x", "y", "z"]
    period: Measure = Measure(DURATION)
    pivot: OptionalMeasure = OptionalMeasure(SIZE)
    strings: OptionalMeasure = OptionalMeasure(SIZE)
    apart: OptionalMeasure = OptionalMeasure(SIZE)

    def __post_init__(self) -> None:
        if self.axis not in ("x", "y", "z"):
            raise InputError(f"Swing.axis = {self.axis!r}: not an axis; write x, y or z")
        twist = [self.strings is not None, self.apart is not None]
        if any(twist) != all(twist) or any(twist) == (self.pivot is not None):
            raise InputError(
                "Swing.pivot, strings, apart: a pendulum has a pivot, a twist has strings and the "
                "way they are apart; give pivot alone, or strings and apart"
            )

    def moment(self, mass: float) -> float:
        """Moment of inertia about the axis through the centre of gravity. [kg·m²]"""
        period, pivot = si(self, "period"), si_or_none(self, "pivot")
        if pivot is None:
            return bifilar_inertia(mass, period, si(self, "strings"), si(self, "apart"))
        return pendulum_inertia(mass, period, pivot)


@dataclass(frozen=True, kw_only=True)
class Weighing:
    """What the scale said, and what follows.

    Parameters
    ----------
    size : three texts or a quantity [length]
        Of the payload's box.
    resolution : text or quantity [mass]
        Step of the scale's display.
    feet : three or four Foot
        Not in one line.
    total : text or quantity [mass], optional
        The whole payload on the scale at once; it is then the mass.
    feet_height : text or quantity [length], optional
        Of the plane where the feet touch, from the middle of the box; the bottom of the box if
        left out, and the page says so.
    centre_height : text or quantity [length], optional
        Of the centre of gravity, from the middle of the box, if it is known otherwise.
    tilt : Tilt, optional
    swings : Swing about each of x, y, z, optional

    Raises
    ------
    InputError
        A line for each thing that cannot be, or that the scale is too coarse to tell.

    Examples
    --------
    >>> at = [("-150 mm", "-100 mm"), ("150 mm", "-100 mm"), ("0 mm", "100 mm")]
    >>> feet = [Foot(position=p, reading=r) for p, r in zip(at, ["2 kg", "3 kg", "5 kg"])]
    >>> weighing = Weighing(size=["400 mm", "300 mm", "150 mm"], resolution="0.1 kg", feet=feet)
    >>> print(f"{weighing.mass()[0]:g} kg, x = {1e3 * weighing.plan()[0][0]:g} mm")
    10 kg, x = 15 mm
    """

    size: Measure = Measure(SIZE, shape=(3,))
    resolution: Measure = Measure(MASS)
    feet: Sequence[Foot]
    total: OptionalMeasure = OptionalMeasure(MASS)
    feet_height: OptionalMeasure = OptionalMeasure(POSITION)
    centre_height: OptionalMeasure = OptionalMeasure(POSITION)
    tilt: Tilt | None = None
    swings: Sequence[Swing] = ()

    def __post_init__(self) -> None:
        lines = list(self._unfit_feet())
        if not lines:
            lines += self._unlike_sums()
            lines += self._coarse()
        if not lines and self.tilt is not None:
            lines += self._unfit_tilt(self.tilt)
        if self.tilt is not None and self.centre_height is not None:
            lines.append(
                "Weighing.centre_height stands beside tilt, which gives it too; keep one of them"
            )
        lines += self._unfit_swings(not lines)
        if lines:
            raise InputError(*lines)

    def mass(self) -> tuple[float, float]:
        """Mass, and what it may be off. [kg]"""
        half = si(self, "resolution") / 2
        total = si_or_none(self, "total")
        if total is not None:
            return total, half
        return float(self._readings().sum()), len(self.feet) * half

    def plan(self) -> tuple[FloatArray, FloatArray]:
        """Centre of gravity (2,) in plan from the middle of the box, and what it may be off. [m]"""
        return self._plan(self._readings())

    def height(self) -> tuple[float, float] | None:
        """Centre of gravity above the middle of the box and what it may be off, if known. [m]"""
        if self.tilt is None:
            given = si_or_none(self, "centre_height")
            return None if given is None else (given, 0.0)
        above, within = self._above_feet(self.tilt)
        return self._feet_height() + above, within

    def moments(self) -> FloatArray | None:
        """Moments of inertia (3,) about x, y, z through the centre, None without swings. [kg·m²]"""
        if not self.swings:
            return None
        found = {swing.axis: swing.moment(self.mass()[0]) for swing in self.swings}
        return np.array([found["x"], found["y"], found["z"]])

    def payload(
        self,
        *,
        parts: Sequence[Part] = (),
        inertia: str | Quantity | Sequence[str | Quantity] | None = None,
        fragility: str | Quantity | None = None,
        fragility_pulse: Pulse | None = None,
        critical_velocity: str | Quantity | None = None,
        running_fragility: str | Quantity | None = None,
        vibration_limit: str | Quantity | None = None,
        bending: str | Quantity | None = None,
        source: str = "weighed",
    ) -> Payload:
        """The payload that was weighed.

        Parameters
        ----------
        parts : sequence of Part
            The scale rules over their mass and their centre in plan; they give the inertia, in
            the ratio of the masses, and the height of the centre, where those were not measured.
        inertia : as for Payload, optional
            Known otherwise; a measured or listed one rules.
        fragility, fragility_pulse, critical_velocity, running_fragility, vibration_limit, bending,
        source : as for Payload
        """
        listed = Payload.of_parts(parts, size=self.size) if parts else None
        mass, mass_within = self.mass()
        plan, plan_within = self.plan()
        height, moments = self.height(), self.moments()
        notes = list(self._notes())
        if listed is not None:
            notes += self._misplaced(listed)
        known = height is not None or listed is not None
        if height is None and listed is not None:
            height = float(listed.centre_of_gravity()[2]), 0.0
            notes.append(
                "the height of the centre of gravity is that of the listed parts "
                "(payload.weighing.tilt)"
            )
        if not known:
            notes.append(
                "the height of the centre of gravity is the middle of the payload's box "
                "(payload.weighing.tilt)"
            )
        up, up_within = height or (0.0, 0.0)
        if moments is not None:
            inertia = MOMENT.quantity(moments)
        elif listed is not None:
            listed_mass = si(listed, "mass")
            inertia = INERTIA.quantity(si_array(listed, "inertia") * (mass / listed_mass))
            notes.append(
                f"the inertia is that of the listed parts times {mass / listed_mass:.3g}, as if "
                "what is not listed were spread like the rest (payload.parts)"
            )
        return Payload(
            mass=MASS.quantity(mass),
            size=self.size,
            centre=POSITION.quantity(np.array([*plan, up])),
            inertia=inertia,
            fragility=fragility,
            fragility_pulse=fragility_pulse,
            critical_velocity=critical_velocity,
            running_fragility=running_fragility,
            vibration_limit=vibration_limit,
            bending=bending,
            mass_within=MASS.quantity(mass_within),
            centre_within=GAP.quantity(np.array([*plan_within, up_within])),
            height_known=known,
            listed=None if listed is None else listed.mass,
            notes=tuple(notes),
            source=source,
            parts=tuple(parts),
        )

    def _notes(self) -> Iterator[str]:
        yield (
            "readings are within half a step of the scale, each value as likely; the scale itself "
            "and the places of the feet are exact"
        )
        if self.total is None:
            together = ", read with all feet on scales at once" if len(self.feet) > 3 else ""
            yield f"the mass is the sum of the feet{together} (payload.weighing.total)"
        if self.tilt is not None:
            if self.feet_height is None:
                yield "the feet touch the bottom of its box (payload.weighing.feet_height)"
            which = "angle" if self.tilt.rise is None else "rise"
            if si_or_none(self.tilt, f"{which}_within") is None:
                key = f"payload.weighing.tilt.{which}_within"
                yield f"the {which} of the tilted weighing is exact ({key})"
        if self.centre_height is not None and self.tilt is None:
            yield "the height of the centre of gravity is exact (payload.weighing.tilt)"
        if self.swings:
            yield (
                "the swings are timed exactly about rods and strings whose places are exact, and "
                "x, y, z are principal axes: no products of inertia (payload.weighing.swing)"
            )

    def _misplaced(self, listed: Payload) -> Iterator[str]:
        """Where no place of what is not listed brings the parts' centre to that of the scale."""
        (mass, mass_within), (centre, within) = self.mass(), self.plan()
        size, own = si_array(self, "size")[:2], si(listed, "mass")
        parts = listed.centre_of_gravity()[:2]
        rest = max(mass + mass_within - own, 0.0)
        # What is not listed is somewhere in the box, and moves the centre by its share of the way.
        most = within + rest / (own + rest) * (size / 2 + np.abs(parts))
        for k in np.flatnonzero(np.abs(centre - parts) > most + NEAR * size):
            axis = "xy"[k]
            yield (
                f"the parts put the centre of gravity at {axis} = {POSITION.text(parts[k])}, the "
                f"scale at {axis} = {POSITION.text(centre[k])} ± {POSITION.text(within[k])}, and "
                "nothing that is not listed can lie between: the scale counts; measure the places "
                "of parts and feet again (payload.parts, payload.weighing.foot)"
            )

    def _readings(self) -> FloatArray:
        return np.array([si(foot, "reading") for foot in self.feet])

    def _positions(self) -> FloatArray:
        return np.array([si_array(foot, "position") for foot in self.feet])

    def _plan(self, reading: FloatArray) -> tuple[FloatArray, FloatArray]:
        at = self._positions()
        centre = plan_centre(reading, at)
        low, high = plan_bounds(reading, at, si(self, "resolution"))
        return centre, np.maximum(high - centre, centre - low)

    def _feet_height(self) -> float:
        given = si_or_none(self, "feet_height")
        return float(-si_array(self, "size")[2] / 2) if given is None else given

    def _shift(self, tilt: Tilt) -> tuple[float, float]:
        """Centre found level less that found tilted towards the raised end, and its ±. [m]"""
        k, sign = tilt.along()
        level, level_within = self.plan()
        tilted, tilted_within = self._plan(si_array(tilt, "readings"))
        return sign * float(level[k] - tilted[k]), float(level_within[k] + tilted_within[k])

    def _span(self, tilt: Tilt) -> float:
        return float(np.ptp(self._positions()[:, tilt.along()[0]]))

    def _above_feet(self, tilt: Tilt) -> tuple[float, float]:
        """Height of the centre above the feet, and its ±: the worst of shift and tilt. [m]"""
        shift, within = self._shift(tilt)
        tangent = np.tan(tilt.angles(self._span(tilt)))
        above = tilted_height(np.array(shift), tangent[0])
        ends = tilted_height(np.array([[shift - within], [shift + within]]), tangent[1:])
        return float(above), float(np.abs(ends - above).max())

    def _unfit_feet(self) -> Iterator[str]:
        if not 3 <= len(self.feet) <= 4:
            yield (
                f"Weighing.foot: {len(self.feet)} given; a payload is weighed on three or four "
                "feet that are not in one line: give a [[payload.weighing.foot]] for each"
            )
            return
        step = si(self, "resolution")
        for n, reading in enumerate(self._readings(), start=1):
            if reading <= step / 2:
                yield (
                    f"Weighing.foot[{n}].reading = {MASS.text(reading)}: that foot is lifted, or "
                    "the centre of gravity lies on the edge of the others or outside, where it "
                    "cannot stand; move the feet outwards until each carries something"
                )
        at = self._positions()
        across = np.linalg.svd(at - at.mean(axis=0), compute_uv=False)
        if across[1] < 0.01 * across[0] or across[0] == 0:
            yield (
                "Weighing.foot: the feet lie in one line, so nothing says where the centre is "
                "across it; move one off that line"
            )

    def _unlike_sums(self) -> Iterator[str]:
        """Readings of one thing that no rounding explains."""
        step, count = si(self, "resolution"), len(self.feet)
        feet = float(self._readings().sum())
        total = si_or_none(self, "total")
        if total is not None and abs(total - feet) > (count + 1) * step / 2 + 1e-9:
            yield (
                f"Weighing.total = {MASS.text(total)}: the feet sum to {MASS.text(feet)}, and "
                f"steps of {MASS.text(step)} explain {MASS.text((count + 1) * step / 2)} at most; "
                "read again with feet of one height, or with three feet"
            )
        if self.tilt is None:
            return
        tilted = si_array(self.tilt, "readings")
        if tilted.shape != (count,):
            yield (
                f"Weighing.tilt.readings: {tilted.size} given for {count} feet; give one for each "
                "foot, in the order of the feet"
            )
        elif abs(tilted.sum() - feet) > count * step + 1e-9:
            yield (
                f"Weighing.tilt.readings sum to {MASS.text(float(tilted.sum()))}, level they sum "
                f"to {MASS.text(feet)}, and steps of {MASS.text(step)} explain "
                f"{MASS.text(count * step)} at most; read again, with nothing leaning on it"
            )

    def _coarse(self) -> Iterator[str]:
        mass, within = self.mass()
        step = f"Weighing.resolution = {MASS.text(si(self, 'resolution'))}"
        if within > MOST_UNKNOWN * mass:
            also = "" if self.total is not None else ", or give the total too"
            yield (
                f"{step}: the mass of {MASS.text(mass)} is then known to ±{within / mass:.0%}, "
                f"and ±{MOST_UNKNOWN:.0%} is the limit; take a finer scale{also}"
            )
            return
        size, (_, off) = si_array(self, "size"), self.plan()
        for k in np.flatnonzero(off > MOST_UNKNOWN * size[:2]):
            yield (
                f"{step}: the centre along {'xy'[k]} is then known to ±{SIZE.text(off[k])}, and "
                f"±{MOST_UNKNOWN:.0%} of the box's {SIZE.text(size[k])} is the limit; take a "
                "finer scale, or set the feet closer together"
            )

    def _unfit_tilt(self, tilt: Tilt) -> Iterator[str]:
        angle, span = tilt.angles(self._span(tilt)), self._span(tilt)
        which = "angle" if tilt.rise is None else "rise"
        if not angle[2] <= STEEPEST + 1e-9:
            at_most = (
                f"{np.degrees(STEEPEST):g}°"
                if which == "angle"
                else f"{SIZE.text(span * np.sin(STEEPEST))} with feet {SIZE.text(span)} apart"
            )
            yield (
                f"Weighing.tilt.{which}: steeper than {np.degrees(STEEPEST):g}°, where a payload "
                f"may fall over; give at most {at_most}"
            )
            return
        tall = float(si_array(self, "size")[2])
        above, within = self._above_feet(tilt)
        if within > TELLING * tall:
            yield (
                f"Weighing.tilt.{which}: too small a tilt to tell, the height of the centre is "
                f"then known to ±{SIZE.text(within)} and ±{SIZE.text(TELLING * tall)} is the "
                f"limit, {TELLING:.0%} of the payload's height; {self._least_tilt(tilt, above)}"
            )
        elif above + within <= 0:
            yield (
                f"Weighing.tilt.raised = {tilt.raised!r}: the centre would lie "
                f"{SIZE.text(-above)} below the feet; was the other end raised?"
            )

    def _least_tilt(self, tilt: Tilt, above: float) -> str:
        """What would tell the height with this scale, feet and care."""
        tall, span = float(si_array(self, "size")[2]), self._span(tilt)
        _, open_shift = self._shift(tilt)
        height = min(max(above, 0.0), tall)
        angle = np.radians(np.arange(0.5, 45.01, 0.5))
        off = tilt.angles(span)
        tangent = np.tan([angle + off[1] - off[0], angle + off[2] - off[0]])
        shift = np.array([height * np.tan(angle) - open_shift, height * np.tan(angle) + open_shift])
        with np.errstate(divide="ignore", invalid="ignore"):
            ends = np.abs(tilted_height(shift[:, None], tangent) - height).max(axis=(0, 1))
        telling = angle[(ends <= TELLING * tall) & (tangent > 0).all(axis=0)]
        if telling.size == 0:
            return f"no tilt up to {np.degrees(STEEPEST):g}° would tell: take a finer scale"
        if tilt.rise is None:
            return f"tilt it by {np.degrees(telling[0]):g}° or more"
        rise = SIZE.text(float(np.ceil(1e3 * span * np.sin(telling[0])) / 1e3))
        return f"raise that end by {rise} or more"

    def _unfit_swings(self, weighed: bool) -> Iterator[str]:
        if not self.swings:
            return
        axes = [swing.axis for swing in self.swings]
        if sorted(axes) != ["x", "y", "z"]:
            yield (
                f"Weighing.swing: about {', '.join(axes)}; one about each of x, y and z is wanted: "
                "add those that are missing, or leave all out for a band"
            )
        if not weighed:
            return
        mass = self.mass()[0]
        for n, swing in enumerate(self.swings, start=1):
            pivot = si_or_none(swing, "pivot")
            if pivot is None:
                continue
            own, whole = swing.moment(mass), swing.moment(mass) + mass * pivot**2
            if own < OWN_SHARE * whole:
                shortest = 2 * np.pi * np.sqrt(pivot / G0 / (1 - OWN_SHARE))
                yield (
                    f"Weighing.swing[{n}].period: a pivot {SIZE.text(pivot)} from the centre of "
                    f"gravity needs more than {DURATION.text(shortest)}, or the payload's own "
                    f"share of the moment is under {OWN_SHARE:.0%}; swing it closer to its centre"
                )

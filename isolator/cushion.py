"""Foam outside the case, and a pad inside that catches what a mount cannot stop."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from isolator.curve import Curve
from isolator.sdof import cushion_travel, ideal_travel, linear_drop, natural_frequency
from isolator.units import (
    ACCELERATION,
    AREA,
    G0,
    GAP,
    HEIGHT,
    MASS,
    PER_PRESSURE,
    PRESSURE,
    SIZE,
    STIFFNESS,
    FloatArray,
    Given,
    InputError,
    Measure,
    OptionalMeasure,
    Quantity,
    number,
    si,
    si_or_none,
)

RAMP = 0.01
"""Strain at which the foam's law takes over from the straight rise out of zero; see `Cushion`."""

STEEPEST = 7.0
"""Exponent of the stress-energy law, b·E, up to which its load-deflection curve has nodes."""

STIFF = 1000.0
"""Stiffness of linear foam that is pressed flat, over its own. [-]"""


def _array(value: npt.ArrayLike) -> FloatArray:
    return np.asarray(value, dtype=float)


def stress_energy_peak(
    a: npt.ArrayLike,
    b: npt.ArrayLike,
    static_stress: npt.ArrayLike,
    height: npt.ArrayLike,
    thickness: npt.ArrayLike,
) -> FloatArray:
    """Peak on a foam by the stress-energy method, G·s = a·exp(b·s·h/t).

    Parameters
    ----------
    a : (...) array
        Stress at no energy. [Pa]
    b : (...) array
        By how much a unit of energy for each volume raises the logarithm of the stress. [1/Pa]
    static_stress : (...) array
        Weight over area, s. [Pa]
    height, thickness : (...) arrays
        Drop height h and thickness t of the foam. [m]

    Returns
    -------
    (...) array
        Peak G. [g]

    Notes
    -----
    burgess-1990. Flat drops within the energies at which the foam was tested; the work of gravity
    over the stroke is not part of the energy s·h/t, as it is not in the tests.

    Examples
    --------
    >>> round(float(stress_energy_peak(20e3, 0.08e-3, 1e3, 0.75, 0.06)), 3)
    54.366
    """
    s = _array(static_stress)
    energy = s * _array(height) / _array(thickness)
    return _array(a) / s * np.exp(_array(b) * energy)


def best_static_stress(
    b: npt.ArrayLike, height: npt.ArrayLike, thickness: npt.ArrayLike
) -> FloatArray:
    """Static stress of the lowest peak, the bottom of a cushion curve: s = t/(b·h). [Pa]

    There d(ln G)/ds = b·h/t − 1/s is zero. Less foam area is pressed too far, more is too stiff.

    Parameters
    ----------
    b, height, thickness : (...) arrays
        As for `stress_energy_peak`. [1/Pa, m, m]

    Examples
    --------
    >>> round(float(best_static_stress(0.08e-3, 0.75, 0.06)), 6)
    1000.0
    """
    return _array(thickness) / (_array(b) * _array(height))


def least_peak(
    a: npt.ArrayLike, b: npt.ArrayLike, height: npt.ArrayLike, thickness: npt.ArrayLike
) -> FloatArray:
    """Lowest peak that a foam can give, at its best static stress: G = a·b·e·h/t. [g]

    Parameters
    ----------
    a, b, height, thickness : (...) arrays
        As for `stress_energy_peak`. [Pa, 1/Pa, m, m]

    Examples
    --------
    >>> round(float(least_peak(20e3, 0.08e-3, 0.75, 0.06)), 3)
    54.366
    """
    return _array(a) * _array(b) * math.e * _array(height) / _array(thickness)


def thickness_at_best(
    a: npt.ArrayLike, b: npt.ArrayLike, height: npt.ArrayLike, peak: npt.ArrayLike
) -> FloatArray:
    """Least thickness that keeps a peak, over the best area: t = a·b·e·h/G. [m]

    The area is then m·g·G/(a·e), whatever the height.

    Parameters
    ----------
    a, b, height : (...) arrays
        As for `stress_energy_peak`. [Pa, 1/Pa, m]
    peak : (...) array
        Wanted peak G. [g]

    Examples
    --------
    >>> round(float(thickness_at_best(20e3, 0.08e-3, 0.75, 50.0)) * 1e3, 2)
    65.24
    """
    return least_peak(a, b, height, 1.0) / _array(peak)


def thickness_at(
    a: npt.ArrayLike,
    b: npt.ArrayLike,
    static_stress: npt.ArrayLike,
    height: npt.ArrayLike,
    peak: npt.ArrayLike,
) -> FloatArray:
    """Thickness that keeps a peak at a given static stress, t = b·s·h/ln(G·s/a). [m]

    Infinite where G·s ≤ a: over so wide an area the foam pushes harder than that from the start.

    Parameters
    ----------
    a, b, static_stress, height : (...) arrays
        As for `stress_energy_peak`. [Pa, 1/Pa, Pa, m]
    peak : (...) array
        Wanted peak G. [g]

    Examples
    --------
    >>> t = thickness_at(20e3, 0.08e-3, 2e3, 0.75, 50.0)
    >>> round(float(stress_energy_peak(20e3, 0.08e-3, 2e3, 0.75, t)), 9)
    50.0
    """
    s = _array(static_stress)
    room = np.log(_array(peak) * s / _array(a))
    with np.errstate(divide="ignore"):
        thickness: FloatArray = _array(b) * s * _array(height) / np.maximum(room, 0.0)
    return thickness


def fit_stress_energy(
    static_stress: npt.ArrayLike,
    height: npt.ArrayLike,
    thickness: npt.ArrayLike,
    peak: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Least squares of ln(G·s) over s·h/t through points of cushion curves.

    Parameters
    ----------
    static_stress, height, thickness, peak : (..., n) arrays
        Three points or more, not all of one energy s·h/t. [Pa, m, m, g]

    Returns
    -------
    a : (...) array
        [Pa]
    b : (...) array
        Not above zero for points that do not rise. [1/Pa]
    scatter : (...) array
        Standard deviation of the points about the line, of ln G, over n − 2. [-]

    Notes
    -----
    burgess-1990. It weighs a misfit of so many per cent alike at every peak.

    Examples
    --------
    >>> s = np.array([1e3, 2e3, 4e3])
    >>> peak = stress_energy_peak(20e3, 0.08e-3, s, 0.75, 0.06)
    >>> a, b, scatter = fit_stress_energy(s, 0.75, 0.06, peak)
    >>> round(float(a)), round(float(b), 9), round(float(scatter), 9)
    (20000, 8e-05, 0.0)
    """
    s, h, t, g = np.broadcast_arrays(*map(_array, (static_stress, height, thickness, peak)))
    energy, log = s * h / t, np.log(g * s)
    off = energy - energy.mean(axis=-1, keepdims=True)
    b = (off * log).sum(axis=-1) / (off**2).sum(axis=-1)
    start = log.mean(axis=-1) - b * energy.mean(axis=-1)
    left = log - start[..., None] - b[..., None] * energy
    scatter = np.sqrt((left**2).sum(axis=-1) / (s.shape[-1] - 2))
    return np.exp(start), b, np.asarray(scatter)


@dataclass(frozen=True, kw_only=True)
class CushionPoint:
    """One point of a published cushion curve.

    Parameters
    ----------
    static_stress : text or quantity [pressure]
        Weight over area.
    height, thickness : text or quantity [length]
        Of the fall and of the foam that was tested.
    peak : text or quantity [acceleration]
    """

    static_stress: Measure = Measure(PRESSURE)
    height: Measure = Measure(HEIGHT)
    thickness: Measure = Measure(SIZE)
    peak: Measure = Measure(ACCELERATION)


@dataclass(frozen=True)
class StressEnergy:
    """A stress-energy law in SI, stress = a·exp(b·energy), and where it holds.

    Attributes
    ----------
    a : float
        [Pa]
    b : float
        [1/Pa]
    scatter : float
        Of the points about it, of ln G; nan where the law was given. [-]
    low, high : float
        Energies that the points span; 0 and inf where the law was given. [Pa]
    """

    a: float
    b: float
    scatter: float = np.nan
    low: float = 0.0
    high: float = np.inf


@dataclass(frozen=True, kw_only=True)
class Cushion:
    """Foam under the face that lands, as one block or as the sum of its pieces.

    Parameters
    ----------
    name : str
    thickness : text or quantity [length]
    area : text or quantity [area], optional
        What carries when that face lands. Not for a stiffness, which holds it.
    initial_stress : text or quantity [pressure], optional
        a of the stress-energy law G·s = a·exp(b·s·h/t).
    growth : text or quantity [1/pressure], optional
        b of that law.
    points : sequence of CushionPoint, optional
        Published cushion curves of this foam, in place of a and b, at any heights and
        thicknesses; nothing outside the energies that they span is answered.
    stiffness : text or quantity [stiffness], optional
        Of linear foam, in place of either.
    loss_factor : number, optional
        Of linear foam, 0 to 2; the closed forms here do without it.
    glued : bool
        Linear foam that pulls as it pushes.
    source : str
        Key of the reference, or where the user has it from.

    Raises
    ------
    InputError
        Wrong units; not exactly one law; an area missing or too much; points that are too few,
        of one energy, or that fall.

    Notes
    -----
    burgess-1990. The elastic law behind the stress-energy curve takes E as the energy for each
    volume at a strain u, so that the stress is dE/du = a·exp(b·E). Then exp(−b·E) dE = a du, and
    from E = 0 at u = 0

        E = −ln(1 − a·b·u)/b,    stress = a/(1 − a·b·u),    u < 1/(a·b).

    It begins at the stress a. A curve has to begin at zero: a straight rise up to strain u₀ + δ
    stands in for the law up to u₀ = 1 %, and from there the law is shifted by δ, about 1 % again,
    so that rise and law have stored the same energy. Every peak is then that of the
    stress-energy curve; strains are larger than the law's by δ. The start is over within 2 %.

    Examples
    --------
    >>> foam = Cushion(name="corner blocks", thickness="60 mm", area="200 cm^2",
    ...                initial_stress="20 kPa", growth="0.08 1/kPa")
    >>> print(f"{foam.peak_g(8.0, 0.5):.2f} g at best {foam.least_peak_g(0.5):.2f} g")
    69.69 g at best 36.24 g
    """

    name: str
    thickness: Measure = Measure(SIZE)
    area: OptionalMeasure = OptionalMeasure(AREA)
    initial_stress: OptionalMeasure = OptionalMeasure(PRESSURE)
    growth: OptionalMeasure = OptionalMeasure(PER_PRESSURE)
    points: Sequence[CushionPoint] = ()
    stiffness: OptionalMeasure = OptionalMeasure(STIFFNESS)
    loss_factor: float | None = None
    glued: bool = False
    source: str = ""

    def __post_init__(self) -> None:
        who = f"Cushion {self.name!r:.60}"
        pair = (self.initial_stress is not None, self.growth is not None)
        if pair[0] != pair[1]:
            has, lacks = ("initial_stress", "growth")[:: 1 if pair[0] else -1]
            raise InputError(f"{who}: {has} stands without {lacks}; the law needs both")
        laws = sum((pair[0], bool(self.points), self.stiffness is not None))
        if laws != 1:
            raise InputError(
                f"{who}: {laws} laws are given; give one of initial_stress with growth, points, "
                "or stiffness"
            )
        linear = self.stiffness is not None
        if linear and self.area is not None:
            raise InputError(
                f"{who}: area stands beside stiffness, which holds it; keep one of them"
            )
        if not linear and self.area is None:
            raise InputError(f"{who}: the area is missing; give what carries, as in '250 cm²'")
        if not linear and (self.glued or self.loss_factor is not None):
            raise InputError(
                f"{who}: glued and loss_factor are of linear foam; leave them out, or give a "
                "stiffness"
            )
        if self.loss_factor is not None:
            given = number(self.loss_factor, "Cushion.loss_factor", 0.0, 2.0)
            object.__setattr__(self, "loss_factor", given)
        if self.points:
            self._fit_or_refuse(who)

    def _fit_or_refuse(self, who: str) -> None:
        energies = {round(float(energy), 9) for energy in self._tested()[1]}
        if len(self.points) < 3 or len(energies) < 2:
            raise InputError(
                f"{who}: {len(self.points)} points at {len(energies)} energies (static stress "
                "times height over thickness); give three or more that differ in it"
            )
        law = self.law
        if law is not None and law.b <= 0.0:
            raise InputError(
                f"{who}: the stress of the points falls as their energy grows; check the order "
                "of their columns and units"
            )

    def _tested(self) -> tuple[list[FloatArray], FloatArray]:
        """Stress, height, thickness and peak [g] of the points, and their energies [Pa]."""
        names = ("static_stress", "height", "thickness", "peak")
        s, h, t, g = (np.array([si(point, name) for point in self.points]) for name in names)
        return [s, h, t, g / G0], s * h / t

    @cached_property
    def law(self) -> StressEnergy | None:
        """The stress-energy law, given or fitted; None for linear foam."""
        start, growth = si_or_none(self, "initial_stress"), si_or_none(self, "growth")
        if start is not None and growth is not None:
            return StressEnergy(start, growth)
        if not self.points:
            return None
        columns, energy = self._tested()
        a, b, scatter = map(float, fit_stress_energy(*columns))
        return StressEnergy(a, b, scatter, low=float(energy.min()), high=float(energy.max()))

    def static_stress(self, mass: npt.ArrayLike) -> FloatArray:
        """Weight of a mass (...) [kg] over the area; nan for linear foam. [Pa]"""
        area = si_or_none(self, "area")
        return _array(mass) * G0 / (np.nan if area is None else area)

    def peak_g(self, mass: npt.ArrayLike, height: npt.ArrayLike) -> FloatArray:
        """Peak of a rigid mass that lands flat on the foam, closed form.

        Stress-energy foam: `stress_energy_peak`. Linear foam: 1 + √(1 + 2h/δ), gravity kept.

        Parameters
        ----------
        mass : (...) array
            All that lands. [kg]
        height : (...) array
            [m]

        Returns
        -------
        (...) array
            nan at an energy that the points do not span, and where linear foam would be pressed
            past its thickness. [g]
        """
        m, h = _array(mass), _array(height)
        thickness, law = si(self, "thickness"), self.law
        if law is None:
            peak, travel = linear_drop(h, natural_frequency(self._stiffness(), m), gravity=True)
            return np.where(travel <= thickness, peak, np.nan)
        s = self.static_stress(m)
        energy = s * h / thickness
        spanned = (energy >= law.low * (1 - 1e-9)) & (energy <= law.high * (1 + 1e-9))
        peak = stress_energy_peak(law.a, law.b, s, h, thickness)
        return np.where(spanned, peak, np.nan)

    def best_static_stress(self, height: npt.ArrayLike) -> FloatArray:
        """Static stress of the lowest peak from a height (...) [m]; nan for linear foam. [Pa]"""
        b = np.nan if self.law is None else self.law.b
        return best_static_stress(b, height, si(self, "thickness"))

    def least_peak_g(self, height: npt.ArrayLike) -> FloatArray:
        """Peak over the best area from a height (...) [m].

        Linear foam: pressed flat, 2 + 2h/t. nan where the points do not span the energy 1/b.

        Returns
        -------
        (...) array
            [g]
        """
        thickness, law = si(self, "thickness"), self.law
        if law is None:
            return 2.0 + 2.0 * _array(height) / thickness
        known = law.low <= 1.0 / law.b <= law.high
        return least_peak(law.a if known else np.nan, law.b, height, thickness)

    def thickness_for(
        self, mass: npt.ArrayLike, height: npt.ArrayLike, peak: npt.ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Thickness of the same foam that keeps a peak, over the best area and over the given.

        Parameters
        ----------
        mass, height : (...) arrays
            [kg, m]
        peak : (...) array
            Wanted. [g]

        Returns
        -------
        at_best : (...) array
            Linear foam: pressed flat, 2h/(G − 2). [m]
        at_area : (...) array
            Never less; infinite where so wide an area never keeps the peak. Linear foam, whose
            stiffness falls as it grows, is not pressed past it; infinite where it yields by half
            under the weight. [m]

        Both are nan at energies that the points do not span.
        """
        m, h, g = _array(mass), _array(height), _array(peak)
        law = self.law
        if law is None:
            flat = cushion_travel(h, g)
            # Strain under the weight: the thickness cancels, as the stiffness falls with it.
            strain = m * G0 / (self._stiffness() * si(self, "thickness"))
            with np.errstate(divide="ignore"):
                soft = 2.0 * h / (strain * np.maximum(g * (g - 2.0), 0.0))
                unpressed = 2.0 * h * strain / np.maximum(1.0 - 2.0 * strain, 0.0)
            return flat, np.maximum(soft, unpressed)
        known = law.low <= 1.0 / law.b <= law.high
        s = self.static_stress(m)
        thickness = thickness_at(law.a, law.b, s, h, g)
        energy = s * h / thickness
        spanned = (energy >= law.low) & (energy <= law.high) | np.isinf(thickness)
        return (
            thickness_at_best(law.a if known else np.nan, law.b, h, g),
            np.where(spanned, thickness, np.nan),
        )

    def _stiffness(self) -> float:
        return si(self, "stiffness")

    def curve(self) -> Curve:
        """Force over deflection of the whole area, by the law under `Cushion`.

        Foam that is not glued pulls at nothing. The curve of a stress-energy foam has nodes up to
        exp(7), some 1100 times its first stress, also past the energy that points reach; one of
        linear foam ends stiff, `STIFF` times its stiffness, where it is pressed flat. How far to
        believe it, `known_to` says.

        Raises
        ------
        InputError
            a·b ≤ 1: the law would let this foam be pressed past its own thickness, so that it is
            no elastic one.
        """
        law, thickness = self.law, si(self, "thickness")
        if law is None:
            k = self._stiffness()
            pulled = k if self.glued else 0.0
            ways = np.array([-1.0, 0.0, 0.0, 1.0, 1.0, 2.0])
            forces = np.array([-pulled, 0.0, 0.0, k, k, (1.0 + STIFF) * k])
            slopes = np.array([pulled, pulled, k, k, STIFF * k, STIFF * k])
            return Curve(ways * thickness, forces * thickness, slopes)
        ab = law.a * law.b
        if ab <= 1.0:
            raise InputError(
                f"Cushion {self.name!r:.60}: initial_stress times growth is {ab:.3g}, and up to 1 "
                "an elastic foam would be pressed past its own thickness; use peak_g, which "
                "needs no load-deflection curve, or check the units of the two"
            )
        start = -np.log1p(-ab * RAMP)
        # The straight rise has half its end stress times its length in it; the law has `start`/b.
        rise = 2.0 * (1.0 - ab * RAMP) * start / ab
        exponent = np.linspace(start, STEEPEST, 141)
        strain = -np.expm1(-exponent) / ab + rise - RAMP
        stress = law.a * np.exp(exponent)
        slope = law.a * ab * np.exp(2.0 * exponent)
        up = stress[0] / rise
        area = si(self, "area")
        return Curve(
            np.concatenate([[-1.0, 0.0, 0.0, rise], strain]) * thickness,
            np.concatenate([[0.0, 0.0, 0.0, stress[0]], stress]) * area,
            np.concatenate([[0.0, 0.0, up, up], slope]) * (area / thickness),
        )

    def drag(self, mass: float) -> float:
        """Dashpot that loses what the loss factor says at the bounce of a mass [kg] on it. [N·s/m]

        η k/ω with ω = √(k/m); 0 for foam whose damping is not known.
        """
        if self.loss_factor is None or not np.isfinite(mass):
            return 0.0
        return float(self.loss_factor * np.sqrt(self._stiffness() * mass))

    def known_to(self) -> float:
        """Deflection up to which `curve` is that of the foam, where it is one. [m]

        Linear foam: its thickness. Points: the energy that they reach. A law that was given: the
        last node of the curve.
        """
        law, thickness = self.law, si(self, "thickness")
        if law is None:
            return thickness
        ab = law.a * law.b
        start = -np.log1p(-ab * RAMP)
        exponent = min(STEEPEST, max(law.b * law.high, start))
        rise = 2.0 * (1.0 - ab * RAMP) * start / ab
        return float((-np.expm1(-exponent) / ab + rise - RAMP) * thickness)


@dataclass(frozen=True)
class FoamThickness:
    """What foam outside keeps a peak.

    Attributes
    ----------
    at_best, area : quantity
        Least thickness of this foam, and the area under the landing face that it needs; nan where
        its points do not reach so far, the area nan for linear foam. [mm, cm²]
    at_area : quantity
        Thickness over the area that the cushion has. [mm]
    linear, ideal : quantity
        Travel of a linear foam and of one of constant force: less than the second no foam can do,
        and foam is thicker than its travel. [mm]
    """

    at_best: Quantity
    area: Quantity
    at_area: Quantity
    linear: Quantity
    ideal: Quantity


def foam_thickness(cushion: Cushion, *, mass: Given, height: Given, peak: Given) -> FoamThickness:
    """How thick foam outside has to be to keep a peak on a flat fall of a rigid case.

    Parameters
    ----------
    cushion : Cushion
        Its foam and its area; its thickness does not count, but for linear foam, whose stiffness
        falls as it grows.
    mass : text or quantity [mass], (...)
        All that lands.
    height : text or quantity [length], (...)
    peak : text or quantity [acceleration], (...)
        What is allowed, above 2 g.

    Returns
    -------
    FoamThickness

    Raises
    ------
    InputError
        Wrong units, a peak of 2 g or less, an area over which this foam never keeps the peak.

    Notes
    -----
    burgess-1990, mindlin-1945. Mounts inside and foam outside are one system: a payload that
    hangs is not the rigid mass of this formula.

    Examples
    --------
    >>> foam = Cushion(name="pads", thickness="50 mm", area="400 cm^2",
    ...                initial_stress="20 kPa", growth="0.08 1/kPa")
    >>> found = foam_thickness(foam, mass="12 kg", height="0.75 m", peak="50 g0")
    >>> print(f"{found.at_best:.1f~} over {found.area:.0f~}, {found.at_area:.1f~} over 400 cm²")
    65.2 mm over 1082 cm ** 2, 88.5 mm over 400 cm²
    """
    m, h = MASS.read_array(mass, "mass"), HEIGHT.read_array(height, "height")
    g = ACCELERATION.read_array(peak, "peak") / G0
    if np.any(g <= 2.0):
        raise InputError(
            f"peak = {float(g.min()):.4g} g: a fall onto any spring gives more than 2 g; allow more"
        )
    best, given = cushion.thickness_for(m, h, g)
    law = cushion.law
    if np.any(np.isinf(given)):
        who = f"Cushion {cushion.name!r:.60}"
        if law is None:
            raise InputError(
                f"{who}: the weight presses it by half and more, and a fall flat, however thick; "
                "give a stiffer foam"
            )
        raise InputError(
            f"{who}: over {AREA.text(si(cushion, 'area'))} it pushes harder than "
            f"{float(g.min()):.4g} g from the start, however thick; an area below "
            f"{AREA.text(float(np.min(m * g)) * G0 / law.a)} does not"
        )
    return FoamThickness(
        at_best=SIZE.quantity(best),
        area=AREA.quantity(m * G0 / best_static_stress(np.nan if law is None else law.b, h, best)),
        at_area=SIZE.quantity(given),
        linear=SIZE.quantity(cushion_travel(h, g)),
        ideal=SIZE.quantity(ideal_travel(h, g)),
    )


def snubber_for(
    mass: npt.ArrayLike,
    stiffness: npt.ArrayLike,
    height: npt.ArrayLike,
    peak: npt.ArrayLike,
    travel: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Pad and gap that stop a payload at a travel with a peak that is just met.

    At the lowest point X the mounts hold k·X, the pad F = G·m·g − k·X, and all energy is stored:
    F·(X − c)/2 = W = m·g·(h + X) − k·X²/2. So the pad begins at c = X − 2W/F from the unloaded
    pose and has the stiffness F²/2W. It hangs clear of the pad while c is at least the sag
    δ = m·g/k, which needs X ≥ (2h + G·δ)/(G − 1).

    Parameters
    ----------
    mass, stiffness, height : (...) arrays
        Payload, all mounts along the fall, drop height. [kg, N/m, m]
    peak : (...) array
        Specific force G that is allowed. [g]
    travel : (...) array
        X from the unloaded pose, the sag being part of it. [m]

    Returns
    -------
    gap : (...) array
        c, from the unloaded pose; inf where the mounts stop the payload before X. [m]
    pad : (...) array
        Its stiffness; 0 where there is no need of one. [N/m]
    least : (...) array
        Least travel that would do, whatever is given: with a pad, or on the mounts alone where
        that is less; nan where the mounts alone pass the peak. [m]

    Gap and pad are nan where the travel is less than the least, and where nothing would do.

    Notes
    -----
    Linear undamped mounts and pad, a heavy case that lands flat and stays, gravity kept.

    Examples
    --------
    >>> gap, pad, least = snubber_for(8.0, 8.0 * (2 * np.pi * 6.0) ** 2, 0.76, 40.0, 0.06)
    >>> print(f"{gap * 1e3:.2f} mm, {pad / 1e3:.1f} N/mm, at least {least * 1e3:.1f} mm")
    24.28 mm, 68.8 N/mm, at least 46.1 mm
    """
    m, k, h, g, x = map(_array, (mass, stiffness, height, peak, travel))
    weight = m * G0
    sag = weight / k
    alone_g = 1.0 + np.sqrt(1.0 + 2.0 * h / sag)
    alone = sag * alone_g
    possible = alone_g <= g
    with np.errstate(divide="ignore", invalid="ignore"):
        least = np.where(possible, np.minimum(alone, (2.0 * h + g * sag) / (g - 1.0)), np.nan)
        left = weight * (h + x) - k * x**2 / 2.0
        force = g * weight - k * x
        gap, pad = x - 2.0 * left / force, force**2 / (2.0 * left)
    free = x >= alone
    gap, pad = np.where(free, np.inf, gap), np.where(free, 0.0, pad)
    fits = possible & (x >= least * (1.0 - 1e-12))
    return np.where(fits, gap, np.nan), np.where(fits, pad, np.nan), np.asarray(least)


@dataclass(frozen=True)
class Snubber:
    """A pad that catches the payload.

    Attributes
    ----------
    gap : quantity
        Between payload and pad, the payload hanging at rest. [mm]
    stiffness : quantity
        Of the pad. [N/mm]
    compression : quantity
        Of the pad at the lowest point: it has to be thicker. [mm]
    """

    gap: Quantity
    stiffness: Quantity
    compression: Quantity


def snubber(*, mass: Given, stiffness: Given, height: Given, peak: Given, travel: Given) -> Snubber:
    """Gap and pad with which a flat fall just meets a peak within a travel.

    Parameters
    ----------
    mass : text or quantity [mass]
        Payload.
    stiffness : text or quantity [stiffness]
        Of all mounts together along the fall, dynamic.
    height : text or quantity [length]
    peak : text or quantity [acceleration]
        Specific force that is allowed; 1 g at rest.
    travel : text or quantity [length]
        From the unloaded pose; the sag is part of it.

    Raises
    ------
    InputError
        Wrong units or more than one value; mounts that pass the peak on their own, a travel that
        is too short, or one within which no pad is needed. The message says what would do.

    Notes
    -----
    The equations are those of `snubber_for`.

    Examples
    --------
    >>> pad = snubber(mass="8 kg", stiffness="11.37 N/mm", height="0.76 m", peak="40 g0",
    ...               travel="60 mm")
    >>> print(f"{pad.gap:.1f~} gap, {pad.stiffness:.1f~}, pressed by {pad.compression:.1f~}")
    17.4 mm gap, 68.8 N / mm, pressed by 35.7 mm
    """
    m, k = MASS.read(mass, "mass"), STIFFNESS.read(stiffness, "stiffness")
    h, x = HEIGHT.read(height, "height"), SIZE.read(travel, "travel")
    g = ACCELERATION.read(peak, "peak") / G0
    gap, pad, least = (float(value) for value in snubber_for(m, k, h, g, x))
    if np.isnan(least):
        softest = 0.999 * m * G0 * g * (g - 2.0) / (2.0 * h)  # holds when it is rounded too
        way = f"at most {STIFFNESS.text(softest)}" if g > 2.0 else "a peak above 2 g"
        raise InputError(
            f"stiffness = {STIFFNESS.text(k)}: the mounts alone pass {g:.4g} g from "
            f"{HEIGHT.text(h)}, and a pad only adds to them; {way} would do"
        )
    if np.isnan(gap):
        raise InputError(
            f"travel = {SIZE.text(x)}: no pad keeps {g:.4g} g from {HEIGHT.text(h)} within it; "
            f"{SIZE.text(1.001 * least)} would do"
        )
    if np.isinf(gap):
        alone = float(linear_drop(h, natural_frequency(k, m), gravity=True)[1])
        raise InputError(
            f"travel = {SIZE.text(x)}: no pad is needed, the mounts alone stop the payload within "
            f"{SIZE.text(alone)}; give less travel for a pad"
        )
    return Snubber(
        gap=GAP.quantity(gap - m * G0 / k),
        stiffness=STIFFNESS.quantity(pad),
        compression=SIZE.quantity(x - gap),
    )

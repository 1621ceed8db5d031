"""How sure a design is: what may be off drawn together, and which of it matters."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from isolator.brief import Brief, brief_of
from isolator.case import Case
from isolator.design import Design, kind_key
from isolator.mount import BANDS
from isolator.payload import Payload
from isolator.sensitivity import KEYS
from isolator.sweep import CHUNK, Screen
from isolator.units import (
    GAP,
    HEIGHT,
    MASS,
    POSITION,
    FloatArray,
    InputError,
    number,
    si,
    si_array_or_none,
    si_or_none,
)

SAMPLES = 256
"""Draws of everything together, a power of two."""

SHARES = 32
"""Draws for each share of the spread that a factor has, a power of two."""

WORST = (-2.0, 1.0)
"""Least and largest margin that counts for the spread: what is far off is far off. [-]"""

DRAWN = {"draw": "drawn"}
"""What a draw has moved, see `Design.moved`: by no more than the design was found usable with."""

LIGHT, HEAVY, STEPS = 0.4, 2.5, 64
"""Range and steps of payload masses over the stated one. [-]"""

EXTRA = ("drop height", "temperature")
"""What a brief has no tolerance for, and can be given beside it: a length, and kelvin."""

MOST_KELVIN = 50.0


@dataclass(frozen=True)
class Factor:
    """Something that may be off.

    Attributes
    ----------
    name : str
    key : str
        Of the brief, where it says by how much.
    share : float
        Of the variance of the least margin that goes with it alone, its first-order index. [-]
    total : float
        The same with all that it does together with others. [-]
    if_nominal : float
        Chance that all hold if it were measured and read as stated. [-]
    off : float
        Chance that it reads such that the rest of what may be off is more likely to fail than to
        hold. [-]
    """

    name: str
    key: str
    share: float
    total: float
    if_nominal: float
    off: float


@dataclass(frozen=True)
class Chance:
    """How often all required checks hold, over all that may be off.

    Attributes
    ----------
    passing : float
        Share of the draws in which none fails. [-]
    error : float
        Its standard error by the number of draws. [-]
    open : bool
        In some of the draws a check is incomplete, which does not count as a failure.
    samples : int
    factors : sequence of Factor
        What matters most first.
    failing : mapping of id to float
        Share of the draws in which a check fails, most often first. [-]
    mass : two floats or None
        Range of the payload's mass around the stated one in which nothing fails, everything else
        as stated; None if it fails as stated. [kg]
    """

    passing: float
    error: float
    open: bool
    samples: int
    factors: Sequence[Factor]
    failing: Mapping[str, float]
    mass: tuple[float, float] | None


def chance(
    case: Brief | str | Path,
    *,
    within: Mapping[str, Any] | None = None,
    samples: int = SAMPLES,
    shares: int = SHARES,
    seed: int = 0,
) -> Chance:
    """Draw all that may be off together, and judge every draw as designs are screened.

    Mass and centre of the payload, each band of its mounts (common to all of a kind), each mount
    against the others, the gaps' tolerance, and what `within` adds: all independent, even over
    their range (bands in the logarithm), by scrambled Sobol points. Falls by their energy.

    Parameters
    ----------
    case : Brief, or the path of a brief
    within : mapping of "drop height" or "temperature" to a text, optional
        What the brief has no tolerance for.
    samples, shares : int
        Draws of all together, and for the indices of each factor: powers of two.
    seed : int

    Raises
    ------
    InputError
        Nothing may be off; numbers of draws that are no powers of two.
    """
    from scipy.stats import qmc

    brief = brief_of(case)
    for name, count in (("samples", samples), ("shares", shares)):
        number(count, name, 16, 65536)
        if count & (count - 1):
            near = 2 ** round(float(np.log2(count)))
            raise InputError(f"{name} = {count}: Sobol points want a power of two; write {near}")
    extra = _read_extra(within or {})
    drawn = _Drawn.of(brief.design, extra)
    if not drawn.names:
        raise InputError(
            "nothing that may be off is given: give payload.mass_within or centre_within, a band "
            "or scatter of a mount, or case.tolerance"
        )
    size = len(drawn.names)
    points = qmc.Sobol(size, scramble=True, rng=np.random.default_rng(seed)).random(samples)
    held, margin, fails, some_open = _judged(brief, drawn, 2 * points - 1)
    passing = float(held.mean())

    def spread(at: FloatArray) -> FloatArray:
        """Least margin (s,) of draws (size, s) between 0 and 1, for the indices."""
        return np.clip(_judged(brief, drawn, 2 * at.T - 1)[1], *WORST)

    spreads = float(np.ptp(np.clip(margin, *WORST)) > 1e-9)
    alone = total = np.full(size, spreads)  # all of it, where only one thing may be off
    if spreads and size > 1:
        alone, total = variance_shares(spread, size, shares, seed)
    factors = []
    for k in np.argsort(-total, kind="stable"):
        nominal, off = _if_measured(2 * points[:, k] - 1, held)
        factors.append(
            Factor(
                name=drawn.names[k],
                key=drawn.keys[k],
                share=float(alone[k]),
                total=float(total[k]),
                if_nominal=nominal,
                off=off,
            )
        )
    often = dict(sorted(fails.items(), key=lambda item: -item[1]))
    return Chance(
        passing=passing,
        error=float(np.sqrt(max(passing * (1 - passing), 1 / samples) / samples)),
        open=some_open,
        samples=samples,
        factors=factors,
        failing={name: share for name, share in often.items() if share},
        mass=_masses(brief),
    )


def variance_shares(
    function: Callable[[FloatArray], FloatArray], size: int, count: int, seed: int
) -> tuple[FloatArray, FloatArray]:
    """First-order and total indices (size,) of a function of even numbers between 0 and 1.

    Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, as scipy has it.

    Parameters
    ----------
    function : function of (size, s) arrays that gives (s,)
    size, count : int
        How many numbers, and draws for each: a power of two.
    seed : int

    Examples
    --------
    Of 3x + y the first has nine tenths.

    >>> alone, total = variance_shares(lambda u: 3 * u[0] + u[1], 2, 1024, 0)
    >>> print(f"{alone[0]:.2f} {total[1]:.2f}")
    0.90 0.10
    """
    from scipy.stats import sobol_indices, uniform

    dists: Any = [uniform()] * size
    found: Any = sobol_indices(func=function, n=count, dists=dists, rng=np.random.default_rng(seed))
    return found.first_order, found.total_order


BINS = 8
"""In how many parts the range of a factor is looked at for what measuring it is worth."""


def _if_measured(at: FloatArray, held: FloatArray) -> tuple[float, float]:
    """Chance of holding near the middle of a factor, and how much of its range is a failure."""
    near = np.abs(at) < 2 / BINS
    part = np.minimum(((at + 1) / 2 * BINS).astype(int), BINS - 1)
    each = [held[part == k].mean() for k in range(BINS) if (part == k).any()]
    return float(held[near].mean()) if near.any() else float("nan"), float(
        np.mean(np.array(each) < 0.5)
    )


def _judged(
    brief: Brief, drawn: _Drawn, at: FloatArray
) -> tuple[FloatArray, FloatArray, dict[str, float], bool]:
    """Whether draws (s, size) between -1 and 1 hold, least margin, shares that fail, open."""
    held, margin, fails = [], [], []
    some_open, ids = False, list[str]()
    side_by_side = 1 if drawn.extra else CHUNK  # what stands side by side makes one trip
    for k in range(0, len(at), side_by_side):
        screen = Screen.of(brief, [drawn.design(u) for u in at[k : k + side_by_side]])
        status = np.where(screen.required, screen.status, "")
        ids, lost = list(screen.ids), status == "fail"
        least = np.where(lost, np.nan_to_num(screen.margin, nan=-np.inf), np.inf)
        least = np.where(status == "pass", np.nan_to_num(screen.margin, nan=np.inf), least)
        held.append(~lost.any(axis=1))
        margin.append(least.min(axis=1))
        fails.append(lost)
        some_open |= bool((status == "incomplete").any())
    share = np.concatenate(fails).mean(axis=0)
    return (
        np.concatenate(held).astype(float),
        np.concatenate(margin),
        dict(zip(ids, share.tolist(), strict=True)),
        some_open,
    )


def _masses(brief: Brief) -> tuple[float, float] | None:
    """Range of masses in which nothing fails, see `Chance.mass`."""
    mass = si(brief.design.payload, "mass")
    factors = np.geomspace(LIGHT, HEAVY, STEPS)
    factors = np.sort(np.append(factors, 1.0))
    plain, payload = brief.design.stiffened(1.0), brief.design.payload
    designs = [replace(plain, payload=_heavier(payload, mass * f), moved=DRAWN) for f in factors]
    screens = [Screen.of(brief, designs[k : k + CHUNK]) for k in range(0, len(designs), CHUNK)]
    fails = [((s.status == "fail") & s.required).any(axis=1) for s in screens]
    good = ~np.concatenate(fails)
    middle = int(np.flatnonzero(factors == 1.0)[0])
    if not good[middle]:
        return None
    low, high = middle, middle
    while low > 0 and good[low - 1]:
        low -= 1
    while high < len(good) - 1 and good[high + 1]:
        high += 1
    return float(factors[low] * mass), float(factors[high] * mass)


def _heavier(payload: Payload, mass: float) -> Payload:
    return replace(payload, mass=MASS.quantity(mass), mass_within=None, listed=None)


def _read_extra(within: Mapping[str, Any]) -> dict[str, float]:
    """What may be off beside the brief, in SI."""
    height = HEIGHT.within(0.0, 2.0, example="20 mm")
    for name in within:
        if name not in EXTRA:
            raise InputError(f"within {name!r}: write one of {', '.join(EXTRA)}")
    out = {}
    if "drop height" in within:
        out["drop height"] = height.read(within["drop height"], "within drop height")
    if "temperature" in within:
        out["temperature"] = number(within["temperature"], "within temperature", 0.0, MOST_KELVIN)
    return out


@dataclass(frozen=True)
class _Drawn:
    """What may be off of a design, as numbers between -1 and 1.

    Attributes
    ----------
    base : Design
    names, keys : sequence of str
        Of each factor.
    extra : mapping
        See `EXTRA`, in SI.
    """

    base: Design
    names: Sequence[str]
    keys: Sequence[str]
    extra: Mapping[str, float]

    @classmethod
    def of(cls, design: Design, extra: Mapping[str, float]) -> _Drawn:
        payload, factors = design.payload, dict[str, str]()
        if si_or_none(payload, "mass_within"):
            factors["mass"] = "payload.mass_within"
        centre = si_array_or_none(payload, "centre_within")
        for axis, width in zip("xyz", () if centre is None else centre, strict=False):
            if width:
                factors[f"centre {axis}"] = "payload.centre_within"
        kinds = {place.mount.name: place.mount for place in design.places}
        for name, kind in kinds.items():
            for band in kind.loose():
                key = "within" if band in BANDS[:2] and not kind.tied else KEYS[band]
                factors[_of_kind(band, name, len(kinds))] = kind_key(name, key)
        for n, place in enumerate(design.places, start=1):
            if place.mount.scatter:
                factors[f"mount {n} against the others"] = kind_key(place.mount.name, "scatter")
        if si_or_none(design.case, "tolerance"):
            factors["gaps"] = "case.tolerance"
        factors |= dict.fromkeys(extra, "")
        return cls(design, list(factors), list(factors.values()), extra)

    def design(self, u: FloatArray) -> Design:
        """The design at a draw (size,)."""
        at = dict(zip(self.names, u.tolist(), strict=True))
        base = self.base
        payload = base.payload
        mass = si(payload, "mass") + at.get("mass", 0.0) * (si_or_none(payload, "mass_within") or 0)
        width = si_array_or_none(payload, "centre_within")
        aside = np.array([at.get(f"centre {axis}", 0.0) for axis in "xyz"])
        centre = payload.centre
        if width is not None and centre is not None:
            middle = payload.centre_of_gravity()
            centre = POSITION.quantity(middle + aside * width)
        payload = replace(_heavier(payload, mass), centre=centre, centre_within=None)
        own = np.array(
            [
                1 + at.get(f"mount {n} against the others", 0.0) * (place.mount.scatter or 0.0)
                for n, place in enumerate(base.places, start=1)
            ]
        )
        kinds = {place.mount.name for place in base.places}
        places = []
        for place, factor in zip(base.places, own.tolist(), strict=True):
            name = place.mount.name
            there = {band: at.get(_of_kind(band, name, len(kinds)), 0.0) for band in BANDS}
            places.append(replace(place, mount=place.mount.shifted(there, factor)))
        case = _tighter(base.case, at.get("gaps", 0.0)) if "gaps" in at else base.case
        legs = list(base.legs)
        if "drop height" in at or "temperature" in at:
            legs = [
                leg.off(
                    at.get("drop height", 0.0) * self.extra.get("drop height", 0.0),
                    at.get("temperature", 0.0) * self.extra.get("temperature", 0.0),
                )
                for leg in legs
            ]
        return replace(base, places=places, payload=payload, case=case, legs=legs, moved=DRAWN)


def _of_kind(band: str, name: str, kinds: int) -> str:
    """What a band is called: that of a kind where there are several."""
    return band if kinds == 1 else f"{band} of {name}"


def _tighter(case: Case, share: float) -> Case:
    """The case with gaps that are smaller by a share of their tolerance; never larger ones."""
    width = (si_or_none(case, "tolerance") or 0.0) * max(share, 0.0)
    return replace(case, tolerance=GAP.quantity(width))

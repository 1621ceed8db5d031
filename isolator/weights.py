"""A mount under kitchen weights: stiffness with what it may be off.

What is measured so is static; the dynamic ratio keeps its band until a ring-down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.block import squeeze, squeeze_slope
from isolator.curve import Curve
from isolator.units import FloatArray

COVERAGE = 0.95
"""How sure every band of this room is, taken as normal in the logarithm."""

LEAST_LOADS = 3
"""Different loads that a test needs."""

BENT = 0.05
"""A curve is taken as straight unless bending it is this unlikely to be chance."""

SHAPE_WORTH = 0.05
"""What the choice between a line and a block may be off, in the logarithm: on curves that are
neither, their tangents were 1.5 to 5 % off (computed)."""

FLATTEST = 0.95
"""By which share of its height a block gives way at the most."""

SLIPS = {
    "lbf/in typed as N/mm": 175.127 / 1000,
    "N/mm typed as lbf/in": 1000 / 175.127,
    "N/m typed as N/mm": 1e-3,
    "N/mm typed as N/m": 1e3,
    "kgf/mm typed as N/mm": 9.80665,
    "N/mm typed as kgf/mm": 1 / 9.80665,
    "a decimal point": 10.0,
    "a decimal point, the other way": 0.1,
}
"""True over typed stiffness, by what was typed for what."""

SLIP_WITHIN = 1.3
"""A ratio within this factor of one of `SLIPS` names it, beyond what both bands explain."""


@dataclass(frozen=True)
class WeightsTest:
    """Readings of one kind of mount under weights.

    Parameters
    ----------
    load : (m,) array
        [N]
    deflection : (m,) array
        From any zero of each sample. [m]
    sample : (m,) array of int
        Which mount each reading is of.
    rising : (m,) bool array
        Put on; False while weights come off again.
    ruler : float
        Steps to which deflection was read. [m]

    Raises
    ------
    ValueError
        Readings of unlike number or not finite, fewer than three different loads put on one
        sample, deflections that fall as weights are put on or hardly exceed the ruler's steps.
    """

    load: FloatArray
    deflection: FloatArray
    sample: npt.NDArray[np.intp]
    rising: npt.NDArray[np.bool_]
    ruler: float

    def __post_init__(self) -> None:
        counts = {len(v) for v in (self.load, self.deflection, self.sample, self.rising)}
        if len(counts) > 1:
            raise ValueError(
                f"loads and deflections: {sorted(counts)} of them; give as many of each"
            )
        if not (np.isfinite(self.load).all() and np.isfinite(self.deflection).all()):
            raise ValueError("loads and deflections: not all are finite numbers; read again")
        for n in np.unique(self.sample):
            here = (self.sample == n) & self.rising
            different = np.unique(self.load[here])
            if len(different) < LEAST_LOADS:
                raise ValueError(
                    f"sample {n}: {len(different)} different loads put on, {LEAST_LOADS} are the "
                    "least; add weights"
                )
            index = np.searchsorted(different, self.load[here])
            steps = np.diff(_means(self.deflection[here], index))  # a load may be read many times
            if steps.min() < -2 * self.ruler:
                raise ValueError(
                    f"sample {n}: it falls by {-1e3 * steps.min():.3g} mm from one load "
                    "to the next; sort the readings, and give those with weights off as going down"
                )
            if np.ptp(self.deflection[here]) < 3 * self.ruler:
                raise ValueError(
                    f"sample {n}: it moved {1e3 * np.ptp(self.deflection[here]):.3g} mm, read "
                    f"in steps of {1e3 * self.ruler:.3g} mm; hang on more, or read finer"
                )
            if not _slope(self.load[here], self.deflection[here]) > 0:
                raise ValueError(
                    f"sample {n}: on the whole it goes no further as more hangs on it; read "
                    "more where more hangs on it"
                )


@dataclass(frozen=True)
class Measured:
    """What a weights test says.

    Attributes
    ----------
    stiffness : float
        At no load. [N/m]
    height : float
        Of a block that hardens likewise, see `block.squeeze`; inf for a straight line. [m]
    low, high : float
        Ends of what the stiffness may be over that, mean of the kind. [-]
    scatter : float
        By which share single mounts differ from the mean; nan for one sample. [-]
    lost : float
        Share of the work of loading that does not come back; nan without readings going down. [-]
    most : float
        Largest load. [N]
    add, narrows : float
        The load at which one more reading narrows the band the most, and to what share of it; nan
        where a test has no readings to add to. [N, -]
    """

    stiffness: float
    height: float
    low: float
    high: float
    scatter: float
    lost: float
    most: float
    add: float = np.nan
    narrows: float = np.nan

    def deflection(self, load: npt.ArrayLike) -> FloatArray:
        """Under a load (...) [N], a block by `FLATTEST` of its height at the most. [m]"""
        f = np.asarray(load, dtype=float)
        if np.isinf(self.height):
            return np.asarray(f / self.stiffness)
        low, high = np.zeros_like(f), np.full_like(f, FLATTEST * self.height)
        for _ in range(60):
            middle = (low + high) / 2
            over = self.stiffness * self.height * squeeze(middle / self.height) > f
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        return np.asarray((low + high) / 2)

    def tangent(self, load: npt.ArrayLike) -> FloatArray:
        """Local stiffness (...) under a load (...) [N]. [N/m]"""
        if np.isinf(self.height):
            return np.full_like(np.asarray(load, dtype=float), self.stiffness)
        at = self.deflection(load) / self.height
        return np.asarray(self.stiffness * squeeze_slope(at))

    def curve(self) -> Curve:
        """The static curve, as far as it was tested and straight beyond; tension mirrors it."""
        if np.isinf(self.height):
            return Curve.straight(np.array(self.stiffness))
        end = float(self.deflection(self.most)) / self.height
        d = self.height * (1 - np.geomspace(1.0, 1 - end, 16))  # denser where it hardens
        force = self.stiffness * self.height * squeeze(d / self.height)
        slope = self.stiffness * squeeze_slope(np.maximum(d / self.height, 1e-12))
        return Curve(
            np.concatenate([-d[:0:-1], d]),
            np.concatenate([-force[:0:-1], force]),
            np.concatenate([slope[:0:-1], slope]),
        )


def measure(test: WeightsTest) -> Measured:
    """Fit a weights test.

    Each sample has its own zero. The line d = d0 + F/k is taken by least squares, or a block that
    hardens as `block.squeeze` where that fits better by more than chance (F test) and the largest
    load does not press it flat; readings going down say only what is lost. The band holds the
    spread of readings, never less than the ruler's steps (Student's t), the spread between samples
    of which the mean is known, and `SHAPE_WORTH`.

    Examples
    --------
    100 g move it by 2 mm, three times:

    >>> load = 0.1 * 9.80665 * np.arange(1, 5)
    >>> test = WeightsTest(load, 2e-3 * np.arange(1, 5), np.zeros(4, int), np.ones(4, bool), 1e-4)
    >>> print(f"{measure(test).stiffness:.0f} N/m")
    490 N/m
    """
    from scipy.optimize import least_squares
    from scipy.stats import f as fisher
    from scipy.stats import t as student

    up = test.rising
    load, deflection, sample = test.load[up], test.deflection[up], test.sample[up]
    names, index = np.unique(sample, return_inverse=True)
    centred = load - _means(load, index)[index]
    spread = float((centred**2).sum())
    slope = float((centred * deflection).sum()) / spread
    off = deflection - slope * load
    off = off - _means(off, index)[index]
    free = max(len(load) - len(names) - 1, 1)
    stiffness, height, rest = 1 / slope, np.inf, float((off**2).sum())
    if free > 1:
        reach = max(float(np.ptp(deflection[index == n])) for n in range(len(names)))
        bent = least_squares(
            _misfit,
            np.array([np.log(stiffness), 0.1]),
            bounds=([-np.inf, 1e-6], [np.inf, FLATTEST]),
            args=(load, deflection, index, reach),
        )
        left = 2 * bent.cost * reach**2
        better = rest - left
        chance = float(fisher.sf(better / max(left / (free - 1), 1e-30), 1, free - 1))
        noticed = better > len(load) * test.ruler**2 / 12
        soft, tall = float(np.exp(bent.x[0])), reach / float(bent.x[1])
        not_flat = load.max() < soft * tall * float(squeeze(FLATTEST))
        if bent.x[1] > 1e-3 and chance < BENT and noticed and not_flat:
            stiffness, height, rest, free = soft, tall, left, free - 1
    sigma = np.sqrt(max(rest / free, test.ruler**2 / 12))
    own = student.ppf((1 + COVERAGE) / 2, free) * sigma / np.sqrt(spread) / slope
    each = np.array([_slope(load[index == n], deflection[index == n]) for n in range(len(names))])
    scatter, between = np.nan, 0.0
    if len(names) > 1:
        log = np.log(each)
        scatter = float(student.ppf((1 + COVERAGE) / 2, len(names) - 1) * log.std(ddof=1))
        between = scatter / np.sqrt(len(names))
    width = float(np.sqrt(own**2 + between**2 + SHAPE_WORTH**2))
    add, narrows = next_weight(test, float(load.max()))
    return Measured(
        stiffness=float(stiffness),
        height=height,
        low=float(np.exp(-width)),
        high=float(np.exp(width)),
        scatter=min(scatter, 0.9) if np.isfinite(scatter) else np.nan,
        lost=_lost(test),
        most=float(load.max()),
        add=add,
        narrows=narrows,
    )


def _means(values: FloatArray, index: npt.NDArray[np.intp]) -> FloatArray:
    return np.asarray(np.bincount(index, values) / np.bincount(index))


def _slope(load: FloatArray, deflection: FloatArray) -> float:
    centred = load - load.mean()
    return float((centred * deflection).sum() / (centred**2).sum())


def _misfit(
    p: FloatArray,
    load: FloatArray,
    deflection: FloatArray,
    index: npt.NDArray[np.intp],
    reach: float,
) -> FloatArray:
    """What a block with ln k and reach/height misses, over the widest range of a sample. [-]"""
    block = Measured(float(np.exp(p[0])), reach / float(p[1]), 1, 1, np.nan, np.nan, 0)
    off = (deflection - block.deflection(load)) / reach
    return np.asarray(off - _means(off, index)[index])


def _lost(test: WeightsTest) -> float:
    """Mean share of the work of loading that does not come back, between the same loads."""
    shares = []
    for n in np.unique(test.sample):
        here = test.sample == n
        on, back = here & test.rising, here & ~test.rising
        if back.sum() < 2:
            continue
        down, up = (_sorted(test.load[m], test.deflection[m]) for m in (back, on))
        low, high = max(up[0][0], down[0][0]), min(up[0][-1], down[0][-1])
        if high <= low:
            continue
        grid = np.linspace(low, high, 200)
        # work = ∫ F dd over the way of each branch
        work = [np.trapezoid(grid, np.interp(grid, *branch)) for branch in (up, down)]
        if work[0] > 0:
            shares.append(1 - work[1] / work[0])
    return float(np.mean(shares)) if shares else np.nan


def _sorted(load: FloatArray, deflection: FloatArray) -> tuple[FloatArray, FloatArray]:
    order = np.argsort(load, kind="stable")
    return load[order], deflection[order]


def next_weight(test: WeightsTest, working: float) -> tuple[float, float]:
    """The load at which one more reading narrows the band the most, and to what share of it.

    Along a line that is the end that is farthest from the mean; nobody needs more than 1.5 times
    the working load. [N, -]
    """
    up = test.rising
    load = test.load[up]
    centred = load - load.mean()
    spread = float((centred**2).sum())
    candidates = np.array([0.0, 1.5 * working])
    more = spread + len(load) / (len(load) + 1) * (candidates - load.mean()) ** 2
    best = int(more.argmax())
    return float(candidates[best]), float(np.sqrt(spread / more[best]))


def combined(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float, float]:
    """Low end, middle and high end of two independent bands of one stiffness together.

    Each is normal in the logarithm between its ends, so they are weighted by their inverse
    variances; the result is never wider than either.

    Examples
    --------
    >>> low, middle, high = combined((500.0, 2000.0), (900.0, 1100.0))
    >>> print(f"{low:.0f} {middle:.0f} {high:.0f}")
    901 995 1099
    """
    logs = np.log(np.array([one, other], dtype=float))
    middle, half = logs.mean(axis=1), np.maximum(np.diff(logs, axis=1)[:, 0] / 2, 1e-9)
    weight = 1 / half**2
    at, wide = float((weight * middle).sum() / weight.sum()), float(1 / np.sqrt(weight.sum()))
    return float(np.exp(at - wide)), float(np.exp(at)), float(np.exp(at + wide))


def slip(stated: float, band: tuple[float, float]) -> str:
    """What slip of units explains a stiffness far outside of a band; empty if none is needed.

    Parameters
    ----------
    stated : float
        [N/m]
    band : two floats
        Where it was expected. [N/m]

    Examples
    --------
    >>> slip(57000.0, (8000.0, 12000.0))
    'lbf/in typed as N/mm'
    """
    low, high = band
    if low / 2 <= stated <= 2 * high:
        return ""
    middle = float(np.sqrt(low * high))
    near = min(SLIPS, key=lambda name: abs(np.log(stated * SLIPS[name] / middle)))
    true = stated * SLIPS[near]
    return near if low / SLIP_WITHIN <= true <= high * SLIP_WITHIN else ""

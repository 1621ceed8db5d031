"""Rubber: from a hardness and a compound to modulus, damping, creep and cold, as bands.

Everything here is a guess between grades until a mount was measured: hardness alone is worth about
±30 % of a stiffness, and most figures of a compound are recalled ranges. Each carries its label.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from isolator.sources import read_table
from isolator.units import FloatArray, InputError

ROOM_TEMPERATURE = 23.0
"""Temperature at which stiffness is stated (ISO 23529). [°C]"""

MILD = (5.0, 45.0)
"""Range in which the stiffness at 23 °C is used as it is (common practice). [°C]"""

GENT_RANGE = (20.0, 80.0)
"""Where Gent's relation holds (published). [Shore A]"""

LINDLEY_RANGE = (30.0, 75.0)
"""First and last row of Lindley's table. [IRHD]"""

EQUAL_RANGE = (30.0, 80.0)
"""Where IRHD and Shore A are taken as one number (common practice). [IRHD]"""

NEEDLE_RANGE = (20.0, 90.0)
"""Where a durometer of any scale tells rubbers apart (memory, ASTM D2240)."""

BATCH = 5.0
"""What the hardness printed on a bag is worth, ± (common practice). [points]"""

WORTH = 0.3
"""What a known hardness is worth as a modulus, ± (common practice). [-]"""

CREEP_START = 60.0
"""Time after loading from which creep counts, and at which a sag is read. [s]"""

RESISTS = ("oil", "ozone", "sun", "moisture")
"""What surroundings do to a compound, in the order of the table."""

STIFFENINGS = {"T2": 2.0, "T5": 5.0, "T10": 10.0, "T100": 100.0}
"""Torsional modulus over that at 23 °C at the temperatures of a sheet (ASTM D1053, memory)."""


class Band(NamedTuple):
    """Lowest and highest of a range, each (...); nan where unknown."""

    low: FloatArray
    high: FloatArray


class Lindley(NamedTuple):
    """A row of Lindley's table, or between two: each (...).

    ``young`` E0 [Pa] and ``k`` [-] belong together, in a compression modulus E0·(1 + 2kS²). A
    shape factor that was worked out for k = 1, by elements or as 1 + 2S², goes onto 3·``shear``:
    on E0 it overstates the table's own result by 13 % (50 IRHD, S = 0.5) to 67 % (70 IRHD, S = 2).
    """

    young: FloatArray
    shear: FloatArray
    k: FloatArray
    bulk: FloatArray


def gent_young(shore_a: npt.ArrayLike) -> FloatArray:
    """Young's modulus of a hardness: E [MPa] = 0.0981(56 + 7.62336 S)/(0.137505(254 − 2.54 S)).

    Gent 1958 (published): a blunt needle in a linear, incompressible rubber; G = E/3.

    Parameters
    ----------
    shore_a : (...) array
        S, 20 to 80. [Shore A]

    Returns
    -------
    (...) array
        nan outside of the range. [Pa]

    Examples
    --------
    >>> print(f"{gent_young(50.0) / 1e6:.3f} MPa")
    2.456 MPa
    """
    s = np.asarray(shore_a, dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        young = 0.0981e6 * (56 + 7.62336 * s) / (0.137505 * (254 - 2.54 * s))
        return np.where((s >= GENT_RANGE[0]) & (s <= GENT_RANGE[1]), young, np.nan)


@cache
def _lindley_rows() -> FloatArray:
    """Hardness, E0, G, k, bulk modulus by rows, rising."""
    columns = ("hardness [IRHD]", "E0 [MPa]", "G [MPa]", "k", "bulk [MPa]")
    return np.array([[float(row[c]) for c in columns] for row in read_table("hardness.csv")])


def lindley(irhd: npt.ArrayLike) -> Lindley:
    """Moduli of natural rubber by hardness, Lindley's Table 3 (memory).

    Between its rows E0 and G run straight in their logarithm, k and the bulk modulus straight.

    Parameters
    ----------
    irhd : (...) array
        30 to 75. [IRHD]

    Returns
    -------
    Lindley
        nan outside of the table. Mind what its ``k`` says of shape factors.

    Examples
    --------
    >>> row = lindley(50.0)
    >>> print(f"{row.shear / 1e6:.2f} MPa, E0/G = {row.young / row.shear:.2f}")
    0.64 MPa, E0/G = 3.44
    """
    at = np.asarray(irhd, dtype=float)
    hardness, young, _, k, bulk = _lindley_rows().T

    def between(values: FloatArray) -> FloatArray:
        return np.asarray(np.interp(at, hardness, values, left=np.nan, right=np.nan))

    return Lindley(
        young=np.exp(between(np.log(young))) * 1e6,
        shear=_table_shear(at),
        k=between(k),
        bulk=between(bulk) * 1e6,
    )


def _table_shear(irhd: FloatArray) -> FloatArray:
    """G of the table, see `lindley`. [Pa]"""
    hardness, _, shear, _, _ = _lindley_rows().T
    log = np.interp(irhd, hardness, np.log(shear * 1e6), left=np.nan, right=np.nan)
    return np.asarray(np.exp(log))


@cache
def _oo_rows() -> FloatArray:
    columns = ("Shore OO", "Shore A")
    return np.array([[float(row[c]) for c in columns] for row in read_table("shore_oo.csv")])


def shore_a_of_oo(shore_oo: npt.ArrayLike) -> FloatArray:
    """Shore A beside a Shore OO reading, as charts of the trade have it (common practice).

    Low confidence: the two needles see one rubber differently.

    Parameters
    ----------
    shore_oo : (...) array
        45 to 98. [Shore OO]

    Returns
    -------
    (...) array
        nan outside of the chart. [Shore A]

    Examples
    --------
    >>> print(f"{shore_a_of_oo(80.0):.0f} Shore A")
    30 Shore A
    """
    oo, a = _oo_rows().T
    return np.asarray(
        np.interp(np.asarray(shore_oo, dtype=float), oo, a, left=np.nan, right=np.nan)
    )


def shear_relations(shore_a: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Shear modulus by both relations: Gent's E/3, and Lindley's G. [Pa]

    Between 20 and 30 and from 75 to 80 Shore A, where the table has no rows, the second keeps its
    ratio to Gent at the end of the table, so that a harder rubber is never the softer one.

    Parameters
    ----------
    shore_a : (...) array
        20 to 80, taken as IRHD for the table. [Shore A]

    Returns
    -------
    two (...) arrays
        nan outside of Gent's range. [Pa]
    """
    s = np.asarray(shore_a, dtype=float)
    gent, shared = gent_young(s) / 3, np.clip(s, *LINDLEY_RANGE)
    return gent, gent * _table_shear(shared) / (gent_young(shared) / 3)


def shear_band(
    softest: npt.ArrayLike,
    middle: npt.ArrayLike,
    hardest: npt.ArrayLike,
    *,
    worth: npt.ArrayLike = WORTH,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Low, middle and high shear modulus of a hardness that is known between two ends.

    The middle is the geometric mean of both relations at the middle hardness. The low end is at
    the softest the lower of both relations, or the mean less `worth` if that is lower still; the
    high end likewise. So two relations that happen to agree do not make a hardness precise.

    Parameters
    ----------
    softest, middle, hardest : (...) arrays
        [Shore A]
    worth : (...) array
        ± of a known hardness, 0 to below 1. [-]

    Returns
    -------
    three (...) arrays
        Low ≤ middle ≤ high. All nan where the middle hardness is outside of 20 to 80, an end alone
        where only that end is. [Pa]
    """
    share = np.asarray(worth, dtype=float)

    def at(shore_a: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
        gent, table = shear_relations(shore_a)
        return gent, table, np.sqrt(gent * table)

    soft, mean, hard = at(softest), at(middle)[2], at(hardest)
    low = np.minimum(np.minimum(soft[0], soft[1]), soft[2] * (1 - share))
    high = np.maximum(np.maximum(hard[0], hard[1]), hard[2] * (1 + share))
    unknown = np.isnan(mean)
    return np.where(unknown, np.nan, low), mean, np.where(unknown, np.nan, high)


_SCALES = {"shore a": "Shore A", "irhd": "IRHD", "shore oo": "Shore OO", "shore 00": "Shore OO"}
SCALES = ("Shore A", "IRHD", "Shore OO")
"""The scales that are read."""

_SHORT = {
    "a": "Shore A", "sha": "Shore A", "sh a": "Shore A", "shorea": "Shore A", "shore-a": "Shore A",
    "°a": "Shore A", "° shore a": "Shore A", "durometer a": "Shore A", "a durometer": "Shore A",
    "oo": "Shore OO", "00": "Shore OO", "shoreoo": "Shore OO", "shore00": "Shore OO",
    "shore-oo": "Shore OO", "shore-00": "Shore OO", "° irhd": "IRHD", "°irhd": "IRHD",
}  # fmt: skip
"""Spellings whose meaning is clear, but that are refused so that a scale is always written out."""

_NO_SCALE = ("", "°", "deg", "degrees", "durometer", "duro", "shore", "points", "hardness")
_HARD = ("d", "sh d", "shd", "shore d", "shored", "shore-d")


@dataclass(frozen=True)
class Hardness:
    """A hardness with its scale.

    Parameters
    ----------
    value : float
        Above 0 and below 100. [points]
    scale : "Shore A", "IRHD" or "Shore OO"

    Raises
    ------
    InputError
        Another scale, or a value outside of it.

    Examples
    --------
    >>> Hardness.read("40 Shore A")
    Hardness(value=40.0, scale='Shore A')
    """

    value: float
    scale: str

    def __post_init__(self) -> None:
        if self.scale not in SCALES:
            raise InputError(f"Hardness.scale = {self.scale!r:.60}: write {', '.join(SCALES)}")
        if not 0 < self.value < 100:
            raise InputError(
                f"Hardness.value = {self.value:g}: every scale lies between 0 and 100; read the "
                "durometer again"
            )

    @classmethod
    def read(cls, given: object, name: str = "hardness") -> Hardness:
        """Read a number with its scale, strictly.

        Parameters
        ----------
        given : str
            ``"40 Shore A"``, ``"55 IRHD"`` or ``"60 Shore OO"``, in any case.
        name : str
            Name of the argument, for messages.

        Raises
        ------
        InputError
            A bare number, a short or unknown scale, a range, a tolerance, a comma, a value that
            is not between 0 and 100.
        """
        try:
            return _read_hardness(given)
        except _Unfit as unfit:
            raise InputError(f"{name} = {given!r:.60}: {unfit}") from None

    def __str__(self) -> str:
        return f"{self.value:g} {self.scale}"

    def shore_a(self, points: float = 0.0) -> float:
        """The value some points further on its own scale, in Shore A; nan where unknown."""
        at = self.value + points
        if self.scale == "Shore OO":
            return float(shore_a_of_oo(at))
        if self.scale == "IRHD" and not EQUAL_RANGE[0] <= self.value <= EQUAL_RANGE[1]:
            return math.nan
        return at

    def notes(self) -> tuple[str, ...]:
        """What to know of this scale at this value, as sentences."""
        low, high = NEEDLE_RANGE
        out = []
        if self.scale == "IRHD":
            out.append(
                f"IRHD is taken as Shore A from {EQUAL_RANGE[0]:g} to {EQUAL_RANGE[1]:g} "
                "(common practice)"
            )
        if self.scale == "Shore OO":
            out.append(
                "Shore OO is turned into Shore A by a chart of the trade (common practice, low "
                "confidence): a weights test is worth more"
            )
        if self.value < low:
            other = "a Shore OO" if self.scale != "Shore OO" else "no durometer, but a weights test"
            out.append(f"{self}: below {low:g} this scale tells little; take {other} reading")
        if self.value > high:
            other = "Shore A" if self.scale == "Shore OO" else "Shore D"
            out.append(f"{self}: above {high:g} this scale tells little; take a {other} reading")
        return tuple(out)


_MOST_TEXT = 64
"""A longer text is no hardness."""


class _Unfit(Exception):
    """What is wrong with a hardness and what to write, before its name is known."""


def _read_hardness(given: object) -> Hardness:
    number = r"[0-9]+(?:\.[0-9]+)?"
    text = " ".join(given.lower().replace("−", "-").split()) if isinstance(given, str) else ""
    if not isinstance(given, str):
        if isinstance(given, int | float) and not isinstance(given, bool) and 0 < given < 100:
            text = f"{given:g}"
        else:
            raise _Unfit("a hardness is a text; write '40 Shore A', '40 IRHD' or '70 Shore OO'")
    if len(text) > _MOST_TEXT:
        raise _Unfit(f"the text is longer than {_MOST_TEXT} characters; write '40 Shore A'")
    if re.search(r"±|\+/?-", text):
        raise _Unfit(
            "a tolerance is not part of a hardness; write the middle, as '40 Shore A': "
            f"±{BATCH:g} points are taken anyway"
        )
    if re.match(rf"{number}\s*(?:-|–|—|\.\.+|…|to|/)\s*{number}", text):
        raise _Unfit("a range is not a hardness; write the middle, as '45 Shore A'")
    if "," in text:
        raise _Unfit("a comma is not read; write a decimal point, as '42.5 Shore A'")
    if turned := re.fullmatch(rf"(shore ?(?:a|oo|00)|irhd|a|oo) ?({number})", text):
        meant = _SCALES.get(turned[1]) or _SHORT[turned[1]]
        raise _Unfit(f"the number comes first; write '{turned[2]} {meant}'")
    found = re.fullmatch(rf"(-?{number})\s*(.*)", text)
    if found is None:
        raise _Unfit("no number with a scale; write '40 Shore A', '40 IRHD' or '70 Shore OO'")
    digits, scale = found.groups()
    if scale in _NO_SCALE:
        raise _Unfit(
            f"{digits} of which scale? write '{digits} Shore A' if the bag says no more than "
            f"durometer, or '{digits} IRHD', '{digits} Shore OO'"
        )
    if scale in _SHORT:
        raise _Unfit(f"the scale is not written out; write '{digits} {_SHORT[scale]}'")
    if scale in _HARD:
        raise _Unfit(
            "Shore D is for hard plastics, and no relation here reaches it; measure the mount "
            "under weights and give its stiffness"
        )
    if scale not in _SCALES:
        close = difflib.get_close_matches(scale, _SCALES, n=1)
        meant = f"'{digits} {_SCALES[close[0]]}' meant?" if close else f"write {', '.join(SCALES)}"
        raise _Unfit(f"{scale!r:.30} is no scale of hardness; {meant}")
    if not 0 < float(digits) < 100:
        raise _Unfit(
            f"{digits} is not between 0 and 100, as every hardness is; read the durometer again"
        )
    return Hardness(float(digits), _SCALES[scale])


@dataclass(frozen=True)
class ShearModulus:
    """Static shear modulus of a hardness, as a band.

    Attributes
    ----------
    hardness : Hardness
    low, middle, high : float
        nan where no relation reaches. [Pa]
    gent, table : float
        What each relation says at the hardness itself; nan outside of its own range. [Pa]
    notes : tuple of str
        Why something is unknown, and what was taken.
    """

    hardness: Hardness
    low: float
    middle: float
    high: float
    gent: float
    table: float
    notes: tuple[str, ...]

    @property
    def disagreement(self) -> float:
        """The larger relation over the smaller; nan if only one reaches. [-]"""
        return max(self.gent / self.table, self.table / self.gent)

    def __str__(self) -> str:
        def mega(value: float) -> str:
            return "unknown" if math.isnan(value) else f"{value / 1e6:.3g}"

        return (
            f"G {mega(self.low)} to {mega(self.high)} MPa, middle {mega(self.middle)} "
            f"({self.hardness}; Gent {mega(self.gent)}, Lindley {mega(self.table)})"
        )


def shear_modulus(
    hardness: Hardness, *, batch: float = BATCH, worth: float = WORTH
) -> ShearModulus:
    """Static shear modulus of a hardness, by Gent and Lindley, see `shear_band`.

    Parameters
    ----------
    hardness : Hardness
    batch : float
        ± of the hardness; 0 to 2 if it was read on these mounts. [points of its scale]
    worth : float
        ± of a modulus from a hardness that is known exactly. [-]

    Returns
    -------
    ShearModulus
        A band for 3·G as the Young's modulus of shape factors for k = 1; not for Lindley's E0.

    Examples
    --------
    >>> print(shear_modulus(Hardness(50, "Shore A")))
    G 0.424 to 1.16 MPa, middle 0.724 (50 Shore A; Gent 0.819, Lindley 0.64)
    """
    ends = [hardness.shore_a(points) for points in (-batch, 0.0, batch)]
    low, middle, high = (float(g) for g in shear_band(*ends, worth=worth))
    notes = list(hardness.notes())
    reach = f"{GENT_RANGE[0]:g} to {GENT_RANGE[1]:g} Shore A"
    if math.isnan(middle):
        about = f" (about {ends[1]:.0f} Shore A)" if hardness.scale == "Shore OO" else ""
        about = " (no Shore A is known for it)" if math.isnan(ends[1]) else about
        notes.append(
            f"{hardness}{about}: the relations of hardness to modulus reach {reach} only; measure "
            "the mount under weights"
        )
    elif math.isnan(low + high):
        side, end = ("below", GENT_RANGE[0]) if math.isnan(low) else ("above", GENT_RANGE[1])
        notes.append(
            f"{hardness}: ±{batch:g} points of batch reach {side} {end:g} Shore A, where the "
            "relations end; read the hardness on these mounts and say how well, or measure under "
            "weights"
        )
    if middle > 0 and ends[1] > 50:
        notes.append(
            "above 50 Shore A relations differ more than these two: another (Ruess) gives up to "
            "twice the modulus at 70"
        )
    return ShearModulus(
        hardness,
        low,
        middle,
        high,
        gent=float(gent_young(ends[1])) / 3,
        table=float(lindley(ends[1]).shear),
        notes=tuple(notes),
    )


def creep_factor(
    time: npt.ArrayLike, rate: npt.ArrayLike, start: npt.ArrayLike = CREEP_START
) -> FloatArray:
    """Deflection under a constant load over that a minute after loading, 1 + rate·log10(t/t0).

    The physical creep of rubber goes on alike in each decade of time (Lindley, Engineering Design
    with Natural Rubber, memory; ISO 8013 tests it so). Chemical creep comes on top where it is
    warm, and is not in. Creep adds sag and leaves the stiffness as it is.

    Parameters
    ----------
    time : (...) array
        t, since loading. [s]
    rate : (...) array
        For each decade; nan if unknown. [-]
    start : (...) array
        t0, when the deflection was read. [s]

    Returns
    -------
    (...) array
        1 up to t0, unless the rate is unknown. [-]

    Examples
    --------
    A week at 7 % a decade from the first minute, four decades:

    >>> print(f"{creep_factor(1e4 * 60.0, 0.07):.2f}")
    1.28
    """
    ratio = np.asarray(time, dtype=float) / np.asarray(start, dtype=float)
    decades = np.log10(np.maximum(ratio, 1.0))
    return np.asarray(1 + np.asarray(rate, dtype=float) * decades)


def ageing_factor(age: npt.ArrayLike, rate: npt.ArrayLike) -> FloatArray:
    """Stiffness of an aged rubber over that of a new one, (1 + rate)^age.

    An input, not a forecast: no table here knows the rate. Most rubbers harden, some soften.

    Parameters
    ----------
    age : (...) array
        [years]
    rate : (...) array
        Hardening a year, above −1; nan if unknown. [-]

    Returns
    -------
    (...) array
        1 when new, nan for an unknown rate. [-]

    Examples
    --------
    >>> print(f"{ageing_factor(2.0, 0.05):.4f}")
    1.1025
    """
    years = np.asarray(age, dtype=float)
    return np.where(years == 0, 1.0, (1 + np.asarray(rate, dtype=float)) ** years)


def cold_points(stiffening: Mapping[str, float]) -> tuple[FloatArray, FloatArray]:
    """Temperatures and stiffness ratios of a sheet that gives T2, T5, T10 or T100.

    Parameters
    ----------
    stiffening : mapping
        Name to temperature, as ``{"T2": -30.0, "T10": -42.0}`` (ASTM D1053). [°C]

    Returns
    -------
    two (p,) arrays
        Falling temperatures [°C], rising ratios [-]: what `cold_factor` takes.

    Raises
    ------
    InputError
        Another name; a temperature that is not colder than that of less stiffening.
    """
    strange = [name for name in stiffening if name not in STIFFENINGS]
    if strange:
        raise InputError(f"{strange[0]!r:.60} is no stiffening; write {', '.join(STIFFENINGS)}")
    names = [name for name in STIFFENINGS if name in stiffening]
    at = np.array([stiffening[name] for name in names], dtype=float)
    warm = [MILD[0], *at[:-1]]
    for name, here, before in zip(names, at, warm, strict=True):
        if not here < before:
            raise InputError(
                f"{name} = {here:g} °C: must be colder than {before:g} °C, where the rubber is "
                "less stiff; were two exchanged?"
            )
    return at, np.array([STIFFENINGS[name] for name in names])


def cold_factor(temperature: npt.ArrayLike, at: npt.ArrayLike, ratio: npt.ArrayLike) -> FloatArray:
    """Stiffness at a temperature over that at 23 °C, straight in its logarithm between points.

    The line starts with 1 at 23 °C; without any data it is 1 within `MILD`. Between points a
    straight line lies rather high, since the stiffness bends upwards towards the glass transition.

    Parameters
    ----------
    temperature : (...) array
        nan if unknown. [°C]
    at : (p,) array
        Temperatures of the data, all colder than `MILD`; none if there are none. [°C]
    ratio : (p,) array
        Stiffness there over that at 23 °C. [-]

    Returns
    -------
    (...) array
        inf, a rigid mount of transmissibility 1, below the coldest point. nan, unknown, above
        `MILD`, and in the cold without data. [-]

    Raises
    ------
    ValueError
        Points that are not colder than `MILD`, or a ratio that falls towards the cold or below 1.

    Examples
    --------
    >>> cold_factor([23.0, 1.5, -20.0, -21.0], [-20.0], [4.0])
    array([ 1.,  2.,  4., inf])
    """
    t, points = np.asarray(temperature, dtype=float), np.asarray(at, dtype=float)
    order = points.argsort()
    points, stiff = points[order], np.asarray(ratio, dtype=float)[order]
    if np.any(points >= MILD[0]) or np.any(np.diff(points) <= 0):
        raise ValueError(f"cold data need different temperatures below {MILD[0]:g} °C")
    if np.any(np.diff(stiff) > 0) or np.any(stiff < 1):
        raise ValueError("a rubber in the cold is at least as stiff as where it is less cold")
    if not points.size:
        return np.where((t >= MILD[0]) & (t <= MILD[1]), 1.0, np.nan)
    exponent = np.interp(t, [*points, ROOM_TEMPERATURE], [*np.log(stiff), 0.0], left=np.inf)
    return np.where(t <= MILD[1], np.exp(exponent), np.nan)


@dataclass(frozen=True)
class Figure:
    """A range of a compound, as its table has it.

    Attributes
    ----------
    name : str
        ``dynamic ratio``, ``loss factor``, ``creep``, ``cold stiffness`` or ``service``.
    at : float
        Where it holds; nan: anywhere. [at_unit]
    at_unit : str
        ``Shore A``, ``°C`` or empty.
    low, high : float
        [unit]
    unit : str
        ``%``, ``°C`` or empty.
    source, label, confidence, note : str
    """

    name: str
    at: float
    at_unit: str
    low: float
    high: float
    unit: str
    source: str
    label: str
    confidence: str
    note: str

    def __str__(self) -> str:
        where = "" if math.isnan(self.at) else f" at {self.at:g} {self.at_unit}"
        per = " a decade of time" if self.name == "creep" else ""
        rest = f"{self.low:g} to {self.high:g} {self.unit}".rstrip()
        return f"{self.name}{where} {rest}{per} ({self.label}, {self.confidence} confidence)"


NAMES = ("dynamic ratio", "loss factor", "creep", "cold stiffness", "service")
"""The figures that a compound may have."""


@dataclass(frozen=True, repr=False)
class Compound:
    """A rubber: what is known of it, as ranges between grades; what has no row is nan.

    Attributes
    ----------
    key, name, code : str
        As the table calls it; in words; letters of ISO 1629.
    also : tuple of str
        What else it is called; a reader is told the key.
    resists : mapping
        ``oil``, ``ozone``, ``sun``, ``moisture`` → good, fair, poor or empty.
    figures : tuple of Figure
    source, label, confidence : str
        Of `resists`.
    note : str
    """

    key: str
    name: str
    code: str
    also: tuple[str, ...]
    resists: Mapping[str, str]
    figures: tuple[Figure, ...]
    source: str
    label: str
    confidence: str
    note: str

    def __repr__(self) -> str:
        words = ", ".join(f"{what} {how or 'unknown'}" for what, how in self.resists.items())
        known = [str(figure) for figure in self.figures]
        missing = [name for name in NAMES if not self.of(name)]
        lines = [
            f"{self.key} ({self.code}): {self.name}",
            *known,
            f"{words} ({self.label}, {self.confidence} confidence)",
            *([f"unknown: {', '.join(missing)}"] if missing else []),
        ]
        return "\n  ".join(lines)

    def of(self, name: str) -> tuple[Figure, ...]:
        """The figures of one name, from the lowest condition on."""
        return tuple(
            sorted((f for f in self.figures if f.name == name), key=lambda figure: figure.at)
        )

    def dynamic_ratio(self, shore_a: npt.ArrayLike) -> Band:
        """Dynamic over static stiffness at 5 to 50 Hz and a strain of 1 to 2 %.

        Straight between the hardnesses of the table. Softer than its first the ratio lies
        between 1 and what is highest there, since filler alone raises it; harder than its last
        it is unknown. A tap of 0.1 % reads higher than the band.

        Parameters
        ----------
        shore_a : (...) array
            nan if unknown. [Shore A]

        Returns
        -------
        Band of (...) arrays
            [-]
        """
        rows, s = self.of("dynamic ratio"), np.asarray(shore_a, dtype=float)
        if not rows or math.isnan(rows[0].at):
            return _constant(rows, s)
        at = [row.at for row in rows]
        low = np.interp(s, at, [row.low for row in rows], left=1.0, right=np.nan)
        high = np.interp(s, at, [row.high for row in rows], right=np.nan)
        return Band(np.asarray(low), np.asarray(high))

    def loss_factor(self, temperature: npt.ArrayLike = ROOM_TEMPERATURE) -> Band:
        """Loss factor η at 10 Hz within `MILD`; elsewhere unknown.

        It rises in the cold with the stiffness, but no range of it is known here.

        Parameters
        ----------
        temperature : (...) array
            nan if unknown. [°C]

        Returns
        -------
        Band of (...) arrays
            [-]
        """
        t = np.asarray(temperature, dtype=float)
        known = np.where((t >= MILD[0]) & (t <= MILD[1]), t, np.nan)
        return _constant(self.of("loss factor"), known)

    def cold_factor(self, temperature: npt.ArrayLike) -> Band:
        """Stiffness at a temperature over that at 23 °C, see the function `cold_factor`.

        Parameters
        ----------
        temperature : (...) array
            nan if unknown. [°C]

        Returns
        -------
        Band of (...) arrays
            Both inf: rigid, beyond the coldest data. [-]
        """
        rows = self.of("cold stiffness")
        at = [row.at for row in rows]
        return Band(
            cold_factor(temperature, at, [row.low for row in rows]),
            cold_factor(temperature, at, [row.high for row in rows]),
        )

    def coldest(self) -> float:
        """Where the cold data end and the mount counts as rigid; nan without data. [°C]"""
        return min((row.at for row in self.of("cold stiffness")), default=math.nan)

    def creep(self) -> Band:
        """Growth of the deflection for each decade of time, for `creep_factor`. [-]"""
        band = _constant(self.of("creep"), np.asarray(0.0))
        return Band(band.low / 100, band.high / 100)

    def service(self) -> Band:
        """Coldest and hottest that the trade names, one value each. [°C]"""
        return _constant(self.of("service"), np.asarray(0.0))


def _constant(rows: tuple[Figure, ...], like: FloatArray) -> Band:
    """One range wherever `like` is known, nan without a range."""
    low, high = (rows[0].low, rows[0].high) if rows else (math.nan, math.nan)
    known = np.where(np.isnan(like), np.nan, 1.0)
    return Band(np.asarray(known * low), np.asarray(known * high))


def _figure(row: Mapping[str, str]) -> Figure:
    return Figure(
        name=row["figure"],
        at=float(row["at"] or "nan"),
        at_unit=row["at unit"],
        low=float(row["low"]),
        high=float(row["high"]),
        unit=row["unit"],
        source=row["source"],
        label=row["label"],
        confidence=row["confidence"],
        note=row["note"],
    )


@cache
def compounds() -> Mapping[str, Compound]:
    """The rubbers of ``data/compounds.csv`` with their ``data/compound_figures.csv``, by key."""
    figures = read_table("compound_figures.csv")
    return {
        row["compound"]: Compound(
            key=row["compound"],
            name=row["name"],
            code=row["code"],
            also=tuple(row["also"].split(", ")) if row["also"] else (),
            resists={what: row[what] for what in RESISTS},
            figures=tuple(_figure(f) for f in figures if f["compound"] == row["compound"]),
            source=row["source"],
            label=row["label"],
            confidence=row["confidence"],
            note=row["note"],
        )
        for row in read_table("compounds.csv")
    }


def compound(key: str, name: str = "compound") -> Compound:
    """A rubber of the table.

    Parameters
    ----------
    key : str
        As the table has it, for example ``natural``.
    name : str
        Name of the argument, for messages.

    Raises
    ------
    InputError
        No such rubber; the message names the nearest, or those of a letter code.

    Examples
    --------
    >>> print(compound("butyl").dynamic_ratio(50.0).high)
    4.0
    """
    known = compounds()
    if key in known:
        return known[key]
    text = str(key).strip()
    words = {k: {k, *c.also, *c.code.split("/")} for k, c in known.items()}
    called = [(word.lower(), k) for k, names in words.items() for word in names]
    close = difflib.get_close_matches(text.lower(), [w for w, _ in called], n=1, cutoff=0.0)[0]
    meant = sorted({k for word, k in called if word == close})
    raise InputError(
        f"{name} = {key!r:.60}: no such rubber; {' or '.join(map(repr, meant))} meant? The table "
        f"has {', '.join(known)}"
    )

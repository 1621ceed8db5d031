"""The door: text and pint quantities come in, SI floats go inside, quantities go out.

Text is taken apart by a strict pattern of our own, because pint reads "7,8 kg" as 78 kg, "1 000 kg"
as 0 kg and hangs on "9**9**9 kg". Text and quantities of any registry then meet in one form, a
magnitude with pint's names and exponents, so pint never parses a text.
"""

import dataclasses
import difflib
import re
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from math import inf, isfinite, pi
from typing import Any, TypeAlias, overload

import numpy as np
import numpy.typing as npt
import pint

Quantity: TypeAlias = pint.Quantity[Any]
Given: TypeAlias = str | Quantity | Sequence[str | Quantity] | Sequence[Sequence[str | Quantity]]
FloatArray: TypeAlias = npt.NDArray[np.float64]
Units: TypeAlias = tuple[tuple[str, float], ...]

G0 = 9.80665
"""Standard gravity [m/s²] (3rd CGPM, 1901; ISO 80000-3)."""

# As written by a user -> pint's name. The first spelling of each is the one that messages use.
_UNITS = {
    "kg": "kilogram", "g": "gram", "mg": "milligram", "t": "metric_ton", "lb": "pound",
    "lbs": "pound", "oz": "ounce",
    "m": "meter", "mm": "millimeter", "cm": "centimeter", "µm": "micrometer", "um": "micrometer",
    "in": "inch", "inch": "inch", "inches": "inch", "ft": "foot", "km": "kilometer",
    "N": "newton", "kN": "kilonewton", "mN": "millinewton", "MN": "meganewton",
    "lbf": "force_pound", "kgf": "force_kilogram", "gf": "force_gram", "ozf": "force_ounce",
    "Pa": "pascal", "kPa": "kilopascal", "MPa": "megapascal", "GPa": "gigapascal",
    "psi": "pound_force_per_square_inch", "bar": "bar", "J": "joule",
    "W": "watt", "kW": "kilowatt", "mW": "milliwatt",
    "Hz": "hertz", "kHz": "kilohertz", "mHz": "millihertz", "rpm": "revolutions_per_minute",
    "cps": "counts_per_second", "rev": "turn", "cycle": "turn", "cycles": "turn",
    "rad": "radian", "deg": "degree", "°": "degree",
    "s": "second", "ms": "millisecond", "µs": "microsecond", "us": "microsecond",
    "min": "minute", "h": "hour", "d": "day", "day": "day", "days": "day",
    "week": "week", "weeks": "week",
    "month": "month", "months": "month", "year": "year", "years": "year",
    "g0": "standard_gravity", "g_0": "standard_gravity",
    "°C": "degree_Celsius", "degC": "degree_Celsius", "℃": "degree_Celsius",
    "°F": "degree_Fahrenheit", "degF": "degree_Fahrenheit", "℉": "degree_Fahrenheit",
    "K": "kelvin", "%": "percent",
}  # fmt: skip
_SYMBOLS = {name: symbol for symbol, name in reversed(_UNITS.items())}
_UNITS |= {name: name for name in _SYMBOLS}  # so that str(quantity) can be read back
_ANY_CASE = {symbol.lower(): symbol for symbol in reversed(_UNITS)}

# Spellings that have a well-known wrong reading, with what to write.
_HINTS = {
    "C": "coulomb is no temperature: write °C", "F": "farad is no temperature: write °F",
    "G": "write g0 for standard gravity", "gn": "write g0 for standard gravity",
    "gs": "write g0 for standard gravity, g for grams",
    '"': "write in for inches", "″": "write in for inches", "'": "write ft for feet",
    "′": "write ft for feet",
}  # fmt: skip

# Units whose everyday name means another dimension: what they are here, what may be meant.
_NAMESAKES = {
    "gram": ("a mass", ("standard_gravity", "force_gram")),
    "kilogram": ("a mass", ("force_kilogram",)),
    "pound": ("a mass", ("force_pound",)),
    "ounce": ("a mass", ("force_ounce",)),
    "force_gram": ("a force", ("gram",)),
    "force_kilogram": ("a force", ("kilogram",)),
    "force_pound": ("a force", ("pound",)),
    "force_ounce": ("a force", ("ounce",)),
    "degree": ("an angle", ("degree_Celsius",)),
}

# Other readings to try on a magnitude that is outside its limits, by SI unit.
_SIBLINGS = {
    "kg": ("g", "kg", "lb"),
    "m": ("mm", "cm", "m", "in"),
    "N/m": ("N/m", "N/mm", "lbf/in"),
    "N": ("N", "kN", "lbf", "kgf"),
    "Hz": ("Hz", "kHz", "rpm"),
    "m/s**2": ("m/s**2", "g0"),
    "degC": ("°C", "°F", "K"),
    "s": ("ms", "s", "min", "h"),
    "Pa": ("MPa", "GPa"),
    "kg*m**2": ("kg*m**2", "kg*cm**2", "kg*mm**2"),
    "W": ("mW", "W", "kW"),
}

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_SUPERSCRIPTS = str.maketrans("⁻¹²³⁴", "-1234")
_MAX_TEXT, _MAX_NUMBER, _MAX_SHOWN, _MAX_LIST = 64, 40, 60, 20_000


class InputError(ValueError):
    """One or more unusable inputs; `lines` holds one complete sentence for each."""

    def __init__(self, *lines: str) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


class _Unfit(Exception):
    """What is wrong with a value and what to write instead, before its name is known."""

    def __init__(self, wrong: str, fix: str = "") -> None:
        super().__init__(wrong)
        self.wrong, self.fix = wrong, fix


def clipped(value: object) -> str:
    """A value as a message shows it: short, on one line, whatever it is.

    >>> clipped(200 * "9")
    "'9999999999999999999999999999999999999999999999999999999999…"
    """
    try:
        text = repr(value[:80] if isinstance(value, str) else value).replace("\n", " ")
    except Exception:  # an integer of 5000 digits, a broken __repr__
        text = f"<{type(value).__name__}>"
    return text if len(text) <= _MAX_SHOWN else text[: _MAX_SHOWN - 1] + "…"


def _digits(value: float, significant: int) -> str:
    return f"{float(f'{value:.{significant}g}') + 0.0:.10g}"


def _slip(text: str) -> None:
    """Refuse the ways of writing a number that have two readings."""
    if re.search(r"±|\+/?-", text):
        raise _Unfit("a tolerance is not part of a value", "give the middle value alone")
    fraction = re.match(r"([+-]?)(?:([0-9]+)[\s-]+)?([0-9]+)/([0-9]*[1-9][0-9]*)(.*)", text)
    if fraction:
        sign, whole, upper, lower, unit = fraction.groups()
        decimal = _digits(int(whole or 0) + int(upper) / int(lower), 10)
        raise _Unfit("fractions are not read", f"write {sign + decimal + unit!r}")
    if "," in text:
        fix = "write digits with one decimal point"
        if comma := re.match(r"([+-]?[0-9]+),([0-9]+)(?![0-9,.])(.*)", text):
            whole, rest, unit = comma.groups()
            fix = f"write {f'{whole}.{rest}{unit}'!r}"
            fix += f" or {whole + rest + unit!r}" if len(rest) == 3 else ""
        raise _Unfit("a comma is not read", fix)
    if blanks := re.match(r"([+-]?[0-9]{1,3}(?:[\s_'’][0-9]{3})+)(?![0-9])(.*)", text):
        joined = re.sub(r"[^0-9+-]", "", blanks[1])
        raise _Unfit("digits are not grouped", f"write {joined + blanks[2]!r}")
    if re.match(rf"{_NUMBER}\s*(?:\.\.+|…|-|–|—|~|to)\s*{_NUMBER}", text):
        raise _Unfit("a range is not a value", "give one value")
    if re.match(r"[+-]?(nan|inf|infinity)\b", text, re.IGNORECASE):
        raise _Unfit("not a finite number")


def _read_text(text: str) -> tuple[float, Units]:
    text = " ".join(text.split()).replace("−", "-").replace("μ", "µ")
    if not text:
        raise _Unfit("the text is empty")
    if len(text) > _MAX_TEXT:
        raise _Unfit(f"the text is longer than {_MAX_TEXT} characters")
    _slip(text)
    match = re.fullmatch(rf"({_NUMBER})\s*(.*)", text)
    if match is None:
        wrong = "not a number with a unit" if re.search("[0-9]", text) else "there is no number"
        raise _Unfit(wrong)
    if len(match[1]) > _MAX_NUMBER:
        raise _Unfit(f"the number is longer than {_MAX_NUMBER} characters")
    return float(match[1]), _read_unit(match[2])


@cache
def _read_unit(text: str) -> Units:
    if not text:
        return ()
    plain = re.sub(
        "[⁻¹²³⁴]+", lambda power: "^" + power[0].translate(_SUPERSCRIPTS), text.replace("**", "^")
    )
    plain = re.sub(r"\s*([*/^])\s*", r"\1", re.sub("[·⋅×]", "*", plain))
    above, *below = plain.split("/")
    if "*" in "".join(below):
        raise _Unfit(f"{text!r} has two readings", "put every / after the last *, as in N*s/m")
    terms = [] if above == "1" else [(term, 1) for term in above.split("*")]
    powers: dict[str, float] = {}
    for term, sign in [*terms, *((term, -1) for term in below)]:
        match = re.fullmatch(r"([^\s\d^()+-][^\s^()+-]*)(?:\^(-?[1-9]))?", term)
        if match is None:
            raise _Unfit(f"{text!r} is not a unit", "join units by * and /, as in kg*m² or N*s/m")
        if match[1] not in _UNITS:
            raise _Unfit(f"unknown unit {match[1]!r}", _nearest(match[1]))
        name = _UNITS[match[1]]
        powers[name] = powers.get(name, 0) + sign * int(match[2] or 1)
    return tuple(powers.items())


def _nearest(unit: str) -> str:
    if unit in _HINTS:
        return _HINTS[unit]
    if unit[-1] in "23" and unit[:-1] in _UNITS:
        return f"{unit[:-1]}^{unit[-1]} meant?"
    close = difflib.get_close_matches(unit.lower(), _ANY_CASE, n=1)
    return f"{_ANY_CASE[close[0]]} meant?" if close else ""


def _spell(units: Iterable[tuple[str, float]]) -> str:
    above: list[str] = []
    below: list[str] = []
    for name, power in units:
        symbol = _SYMBOLS.get(name, name)
        (above if power > 0 else below).append(
            symbol if abs(power) == 1 else f"{symbol}^{abs(power):g}"
        )
    return "/".join(["*".join(above) or "1", *below])


def _real(magnitude: object) -> FloatArray:
    try:
        raw = np.asarray(magnitude)
        if raw.dtype.kind not in "iufO" or np.ma.is_masked(magnitude):
            raise _Unfit("not a real number")
        return raw.astype(np.float64)
    except (TypeError, ValueError, OverflowError):
        raise _Unfit("not a real number") from None


def _take_apart(value: object, *, bare: bool) -> tuple[FloatArray, Units]:
    """Magnitude and pint's unit names of anything that a user may hand over."""
    if isinstance(value, str):
        number, units = _read_text(value)
        return np.asarray(number), units
    if isinstance(value, pint.Quantity):
        magnitude, names = value.to_tuple()
        return _real(magnitude), tuple((name, float(power)) for name, power in names)
    if value is None:
        raise _Unfit("nothing is given")
    if isinstance(value, bool | np.bool_ | complex | np.complexfloating):
        raise _Unfit("not a real number")
    if isinstance(value, int | float | np.number) and bare:
        return _real(value), ()
    if isinstance(value, int | float | np.number | np.ndarray):
        raise _Unfit("a number without a unit")
    raise _Unfit(f"a {type(value).__name__} is not a text or a quantity")


def _make(magnitude: object, units: Units) -> Quantity:
    made: Quantity = pint.application_registry.Quantity.from_tuple((magnitude, units))
    return made


def _registry() -> object:
    holder: Any = pint.application_registry
    return holder.get()


def _same_dimension(units: Units, other: Units) -> bool:
    return _dimension(_registry(), units) == _dimension(_registry(), other)


def _to(magnitude: FloatArray, units: Units, target: Units) -> FloatArray:
    with np.errstate(all="ignore"):  # an overflow is seen as inf later
        factor = _factor(_registry(), units, target)
        if factor is not None:
            return np.asarray(magnitude * factor)
        return np.asarray(_make(magnitude, units).to(_make(1.0, target).units).magnitude)


def remember_units() -> None:
    """Let pint keep what it read of its units in the user's cache: it takes a third of a short run.

    For a process of our own, before anything is read. Where the cache cannot be written or read
    pint reads its units once more; nothing else changes.
    """
    use: Any = pint.set_application_registry
    try:
        use(pint.UnitRegistry(cache_folder=":auto:"))
    except Exception:  # an unwritable folder, or what another run has half written
        use(pint.UnitRegistry())


# What is remembered belongs to one registry: another may define the same name differently.
@cache
def _dimension(registry: object, units: Units) -> object:
    return _make(1.0, units).dimensionality


@cache
def _factor(registry: object, units: Units, target: Units) -> float | None:
    """What to multiply by, None for a temperature scale with an offset."""
    ends = [_make(v, units).to(_make(1.0, target).units).magnitude for v in (0.0, 1.0)]
    return float(ends[1]) if ends[0] == 0 else None


@lru_cache(maxsize=4096)
def _read_again(registry: object, kind: "Kind", text: str) -> float:
    """A text that was read before; a search for a better value reads a brief many times."""
    return float(kind._read(text))


@dataclasses.dataclass(frozen=True)
class Kind:
    """A physical argument: its dimension, the unit it is shown in, its limits.

    Parameters
    ----------
    noun : str
        Name of the dimension in messages.
    unit : str
        Unit of the floats inside: SI, but degrees Celsius for a temperature. "" is a plain number.
    shown : str
        Unit of the quantities that go out, and of messages.
    low, high : float
        Limits, in `unit`.
    open_low : bool
        The value must be above `low`; otherwise it may be equal to it.
    example : str
        The fix that messages show.
    """

    noun: str
    unit: str
    shown: str
    low: float = -inf
    high: float = inf
    open_low: bool = False
    example: str = ""

    def within(
        self,
        low: float,
        high: float = inf,
        *,
        open_low: bool = False,
        example: str | None = None,
    ) -> "Kind":
        """Give the same kind with other limits, in the SI unit of the kind."""
        example = self.example if example is None else example
        return dataclasses.replace(self, low=low, high=high, open_low=open_low, example=example)

    def read(self, value: Given, name: str) -> float:
        """Read one value.

        Parameters
        ----------
        value : str or Quantity
            A number and a unit, or a quantity of any pint registry.
        name : str
            Name of the argument, for messages.

        Returns
        -------
        float
            The value in SI, kept to 14 significant digits. [unit of the kind]

        Raises
        ------
        InputError
            For anything that is not one finite value of this kind within its limits.

        Examples
        --------
        >>> STIFFNESS.read("12 N/mm", "stiffness")
        12000.0
        """
        return float(self._gather(value, name, ()))

    def read_array(
        self, value: Given, name: str, shape: tuple[int, ...] | None = None
    ) -> FloatArray:
        """Read several values.

        Parameters
        ----------
        value : str, Quantity or sequence of these
            One value, a quantity that holds an array, a list of values, or a list of such lists.
        name : str
            Name of the argument, for messages.
        shape : tuple of int, optional
            The shape that is wanted; any shape when left out.

        Returns
        -------
        (...,) array
            The values in SI, kept to 14 significant digits. [unit of the kind]

        Raises
        ------
        InputError
            With one line for each element that is not a finite value of this kind within its
            limits, or one line when the shape is not the one that is wanted.

        Examples
        --------
        >>> POSITION.read_array(["10 mm", "1 in"], "position")
        array([0.01  , 0.0254])
        """
        return self._gather(value, name, shape)

    def quantity(self, si: float | FloatArray) -> Quantity:
        """Give a quantity in the unit `shown`, in pint's application registry.

        Parameters
        ----------
        si : float or (...,) array
            Values inside. [unit of the kind]

        Examples
        --------
        >>> print(STIFFNESS.quantity(12000.0))
        12.0 newton / millimeter
        """
        return _make(self._in_shown(si), _read_unit(self.shown))

    def _in_shown(self, si: float | FloatArray) -> float | FloatArray:
        shown = _to(np.array(si, dtype=np.float64), _read_unit(self.unit), _read_unit(self.shown))
        return shown if shown.ndim else float(f"{shown:.15g}")  # 12.7, not 12.700000000000001

    def text(self, si: float) -> str:
        """Write a value in the unit `shown` to at most four significant digits.

        Parameters
        ----------
        si : float
            Value inside. [unit of the kind]

        Examples
        --------
        >>> STIFFNESS.text(9000.0)
        '9 N/mm'
        """
        return self._write(si, 4).replace("g0", "g")

    def _write(self, si: float, significant: int) -> str:
        number = _digits(float(self._in_shown(si)), significant)
        return f"{number} {_pretty(self.shown)}".strip()

    def _gather(
        self, value: object, name: str, shape: tuple[int, ...] | None, depth: int = 2
    ) -> FloatArray:
        try:
            if depth and isinstance(value, Sequence) and not isinstance(value, str | bytes):
                si = self._read_each(value, name, depth - 1)
            else:
                si = self._read_one(value)
            if si.size == 0:
                raise _Unfit("there is no value")
            if shape is not None and si.shape != shape:
                raise _Unfit(f"{_count(si.shape)} given", f"{_count(shape)} wanted")
        except _Unfit as unfit:
            fix = unfit.fix or (f"write '{self.example}'" if self.example else "write a number")
            raise InputError(f"{name} = {clipped(value)}: {unfit.wrong}; {fix}") from None
        return si

    def _read_each(self, values: Sequence[object], name: str, depth: int) -> FloatArray:
        if len(values) > _MAX_LIST:
            wrong = f"a list of {len(values)} values is longer than {_MAX_LIST}"
            raise _Unfit(wrong, "give fewer, or a quantity that holds an array")
        read: list[FloatArray] = []
        lines: list[str] = []
        for index, value in enumerate(values):
            try:
                read.append(self._gather(value, f"{name}[{index}]", None, depth))
            except InputError as error:
                lines.extend(error.lines)
        if lines:
            raise InputError(*lines)
        if len({row.shape for row in read}) > 1:
            raise _Unfit("the rows are not of one length", "give lists of one length")
        return np.array(read, dtype=np.float64)

    def _read_one(self, value: object) -> FloatArray:
        if type(value) is str:
            return np.asarray(_read_again(_registry(), self, value))
        return self._read(value)

    def _read(self, value: object) -> FloatArray:
        magnitude, units = _take_apart(value, bare=not self.unit)
        if self.unit and not units:
            raise _Unfit("a number without a unit")
        try:
            si = self._convert(magnitude, units)
        except (pint.errors.PintError, ArithmeticError, TypeError, ValueError):
            raise _Unfit(f"'{_spell(units)}' cannot be converted to {self.shown}") from None
        endless = np.flatnonzero(~np.isfinite(si))
        if endless.size:
            which = f"[{endless[0]}] is " if si.ndim == 1 else ""
            raise _Unfit(f"{which}not a finite number")
        outside = np.flatnonzero(~self._fits(si))
        if outside.size:
            first = int(outside[0])
            raise self._outside(float(si.flat[first]), float(magnitude.flat[first]), units)
        return si

    def _convert(self, magnitude: FloatArray, units: Units) -> FloatArray:
        wanted = _read_unit(self.unit)
        if not _same_dimension(units, wanted):
            raise self._wrong_dimension(magnitude, units)
        if any(name.startswith("delta_") for name, _ in units):
            raise _Unfit("a temperature rise is not a temperature")
        if self.unit == "Hz":
            si = _cycles_per_second(magnitude, units)
        else:
            _refuse_mixed_cycles(self, units)
            si = np.asarray(_to(magnitude, units, wanted), dtype=np.float64)
        # 14 digits: "5 in" is then equal to "127 mm", and a quantity that goes out and comes back
        # is unchanged. Degrees need a fixed place as well, for 32 °F to be 0 °C.
        kept = [float(f"{value:.14g}") for value in si.flat]
        if self.unit == "degC":
            kept = [round(value, 10) + 0.0 if isfinite(value) else value for value in kept]
        return np.array(kept, dtype=np.float64).reshape(si.shape)

    def _fits(self, si: FloatArray) -> npt.NDArray[np.bool_]:
        # Limits have as many digits as what was read: 180 degrees are not above pi.
        low, high = (float(f"{limit:.14g}") for limit in (self.low, self.high))
        above = si > low if self.open_low else si >= low
        return np.asarray(above & (si <= high))

    def _outside(self, si: float, magnitude: float, units: Units) -> _Unfit:
        turns = units == _read_unit("rpm")  # who counts turns is answered in turns

        def written(value: float) -> str:
            return f"{_digits(60 * value, 10)} rpm" if turns else self._write(value, 10)

        low, high = written(self.low), written(self.high)
        if self.low == -inf:
            limits = f"must be at most {high}"
        elif self.high == inf:
            limits = f"must be {'above' if self.open_low else 'at least'} {low}"
        else:
            limits = f"is outside {low.split(' ')[0]} to {high}"
        meant = [
            _pretty(unit)
            for unit in _SIBLINGS.get(self.unit, ())
            if self._fits(self._convert(np.asarray(magnitude), _read_unit(unit)))
        ]
        fix = f"{' or '.join(meant)} meant?" if meant else ""
        return _Unfit(f"{written(si)} {limits}", fix)

    def _wrong_dimension(self, magnitude: FloatArray, units: Units) -> _Unfit:
        wanted = _read_unit(self.unit)
        for name, (what, others) in _NAMESAKES.items():
            for other in others:
                meant = tuple((other if part == name else part, power) for part, power in units)
                if meant != units and _same_dimension(meant, wanted):
                    wrong = f"{_SYMBOLS[name]} is {what} here, so {_spell(units)} is no {self.noun}"
                    amount = f"{_digits(float(magnitude), 10)} " if magnitude.ndim == 0 else ""
                    return _Unfit(wrong, f"write '{amount}{_spell(meant)}'")
        if not self.unit:
            return _Unfit(f"a plain number has no unit such as {_spell(units)}")
        return _Unfit(f"{_spell(units)} is no unit of {self.noun}")


def _count(shape: tuple[int, ...]) -> str:
    return f"a list of {' x '.join(map(str, shape))}" if shape else "one value"


def _pretty(unit: str) -> str:
    return unit.replace("deg", "°").replace("**2", "²").replace("**4", "⁴").replace("*", "·")


def _cycles_per_second(magnitude: FloatArray, units: Units) -> FloatArray:
    """Read a frequency in Hz from units that count cycles, and from no other."""
    names = dict(units)
    name, power = units[0]
    if len(units) == 1 and power == 1 and name.endswith(("hertz", "counts_per_second")):
        return np.asarray(_to(magnitude, units, (("hertz", 1),)), dtype=np.float64)
    turns = len(units) == 1 and power == 1 and name.startswith("revolutions_per")
    if turns or (len(units) == 2 and names.get("turn") == 1):
        angular = _to(magnitude, units, (("radian", 1), ("second", -1)))
        return np.asarray(angular / (2 * pi), dtype=np.float64)
    raise _Unfit(
        f"{_spell(units)} does not count cycles, or does not say so; pint calls 1 Hz = 1 rad/s",
        "give cycles per second in Hz, and divide radians per second by 2π",
    )


def _refuse_mixed_cycles(kind: Kind, units: Units) -> None:
    """Refuse a plain number or a spectral density in which Hz meets rad/s."""
    hertz = sum(power for name, power in units if name.endswith("hertz"))
    angle = any(
        name in ("radian", "degree", "turn") or name.startswith("revolutions_per")
        for name, _ in units
    )
    if not kind.unit and (angle or hertz):
        raise _Unfit(f"{_spell(units)} is an angle or mixes Hz with rad/s")
    if kind.unit.endswith("/Hz") and (angle or hertz != -1):
        raise _Unfit(f"{_spell(units)} is not counted for each Hz")


MASS = Kind("mass", "kg", "kg", 0.0, open_low=True, example="7.8 kg")
SIZE = Kind("length", "m", "mm", 0.0, open_low=True, example="12 mm")
POSITION = Kind("length", "m", "mm", example="-40 mm")
ANGLE = Kind("angle", "rad", "deg", 0.0, open_low=True, example="15 deg")
GAP = Kind("length", "m", "mm", 0.0, example="8 mm")
DRAFT = Kind("angle", "rad", "deg", 0.0, 0.78539816339745, example="2 deg")
HEIGHT = Kind("length", "m", "m", 0.0, open_low=True, example="0.76 m")
STIFFNESS = Kind("stiffness", "N/m", "N/mm", 0.0, open_low=True, example="12 N/mm")
FORCE = Kind("force", "N", "N", 0.0, open_low=True, example="20 N")
FREQUENCY = Kind("frequency", "Hz", "Hz", 0.0, open_low=True, example="12 Hz")
ACCELERATION = Kind("acceleration", "m/s**2", "g0", 0.0, open_low=True, example="30 g0")
TEMPERATURE = Kind("temperature", "degC", "degC", -273.15, example="-20 °C")
DURATION = Kind("time", "s", "s", 0.0, open_low=True, example="3 h")
INERTIA = Kind("inertia", "kg*m**2", "kg*m**2", example="0.05 kg*m²")  # a product has any sign
SPECTRAL_DENSITY = Kind(
    "spectral density", "m**2/s**4/Hz", "g0**2/Hz", 0.0, open_low=True, example="0.01 g0²/Hz"
)
SPEED = Kind("speed", "m/s", "m/s", 0.0, open_low=True, example="3.9 m/s")
MODULUS = Kind("modulus", "Pa", "GPa", 0.0, open_low=True, example="70 GPa")
PRESSURE = Kind("pressure", "Pa", "kPa", 0.0, open_low=True, example="4 kPa")
PER_PRESSURE = Kind("inverse pressure", "1/Pa", "1/kPa", 0.0, open_low=True, example="0.02 1/kPa")
AREA = Kind("area", "m**2", "cm**2", 0.0, open_low=True, example="250 cm²")
POWER = Kind("power", "W", "W", 0.0, example="15 W")


def number(
    value: str | float | Quantity,
    name: str,
    low: float = -inf,
    high: float = inf,
    *,
    open_low: bool = False,
) -> float:
    """Read a dimensionless argument.

    Parameters
    ----------
    value : float, str or Quantity
        A number, its text ("0.05" or "5 %"), or a dimensionless quantity. [-]
    name : str
        Name of the argument, for messages.
    low, high : float
        Limits. [-]
    open_low : bool
        The value must be above `low`; otherwise it may be equal to it.

    Raises
    ------
    InputError
        For anything that is not one finite number within the limits: bool, NaN, an angle.

    Examples
    --------
    >>> number("5 %", "damping_ratio", 0, 1)
    0.05
    """
    kind = Kind("number", "", "", low, high, open_low)
    return float(kind._gather(value, name, ()))


def _equal(self: Any, other: object) -> Any:
    return _key(self) == _key(other) if type(other) is type(self) else NotImplemented


def _hash(self: Any) -> int:
    return hash(_key(self))


def _key(obj: Any) -> tuple[object, ...]:
    values = [vars(obj)[field.name] for field in dataclasses.fields(obj) if field.compare]
    return tuple(
        (value.shape, tuple(value.flat)) if isinstance(value, np.ndarray) else value
        for value in values
    )


class _Door:
    """What the two descriptors share: read on the way in, store SI, compare by value."""

    def __init__(self, kind: Kind, shape: tuple[int, ...] | None = ()) -> None:
        self.kind, self.shape = kind, shape

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name
        # The comparison that a dataclass writes fails on arrays; it keeps one that is there.
        for method, function in (("__eq__", _equal), ("__hash__", _hash)):
            if method not in vars(owner):
                setattr(owner, method, function)

    def _store(self, obj: object, value: Given) -> None:
        name = f"{type(obj).__name__}.{self.name}"
        if self.shape == ():
            vars(obj)[self.name] = self.kind.read(value, name)
            return
        si = self.kind.read_array(value, name, self.shape)
        si.setflags(write=False)
        vars(obj)[self.name] = si


class Measure(_Door):
    """A field of a frozen dataclass that takes text or a quantity and gives a quantity.

    Parameters
    ----------
    kind : Kind
        What is measured.
    shape : tuple of int, optional
        Shape of the value: () for one value, (3,) for a vector, None for any.
    default : str, optional
        The text that is read when the field is left out; without it the field must be given.

    Examples
    --------
    >>> @dataclasses.dataclass(frozen=True, kw_only=True)
    ... class Tray:
    ...     mass: Measure = Measure(MASS)
    >>> print(Tray(mass="1 lb").mass)
    0.45359237 kilogram
    """

    def __init__(
        self, kind: Kind, shape: tuple[int, ...] | None = (), default: str | None = None
    ) -> None:
        super().__init__(kind, shape)
        self.default = default

    @overload
    def __get__(self, obj: None, owner: type) -> str: ...
    @overload
    def __get__(self, obj: object, owner: type) -> Quantity: ...
    def __get__(self, obj: object | None, owner: type) -> Quantity | str:
        if obj is None:  # the dataclass asks for the default of the field
            if self.default is None:
                raise AttributeError(self.name)
            return self.default
        return self.kind.quantity(vars(obj)[self.name])

    def __set__(self, obj: object, value: Given) -> None:
        self._store(obj, value)


class OptionalMeasure(_Door):
    """A `Measure` that may be left out: it then reads None."""

    def __get__(self, obj: object | None, owner: type) -> Quantity | None:
        inside = None if obj is None else vars(obj)[self.name]
        return None if inside is None else self.kind.quantity(inside)

    def __set__(self, obj: object, value: Given | None) -> None:
        if value is None:
            vars(obj)[self.name] = None
        else:
            self._store(obj, value)


def refuse_other(name: str, value: object, kinds: Any, takes: str) -> None:
    """Refuse an argument that is no object of the kinds that it takes.

    Parameters
    ----------
    name : str
        Of the argument.
    value : object
    kinds : class, or several as `isinstance` has them
    takes : str
        The same in words.

    Raises
    ------
    InputError

    Examples
    --------
    >>> refuse_other("case", 3, str, "the path of a brief")
    Traceback (most recent call last):
    isolator.units.InputError: case = 3: type int does not fit; give the path of a brief
    """
    if not isinstance(value, kinds):
        what = "nothing is given" if value is None else f"type {type(value).__name__} does not fit"
        raise InputError(f"{name} = {clipped(value)}: {what}; give {takes}")


def si(obj: object, name: str) -> float:
    """Give the SI float behind the scalar `Measure` field `name` of `obj`."""
    value = vars(obj)[name]
    if not isinstance(value, float):
        raise TypeError(f"{type(obj).__name__}.{name} holds no single value")
    return value


def si_or_none(obj: object, name: str) -> float | None:
    """Give the SI float behind the scalar `OptionalMeasure` field `name` of `obj`, or None."""
    return None if vars(obj)[name] is None else si(obj, name)


def is_given(obj: object, name: str) -> bool:
    """Whether a field of `obj`, a measure or not, holds anything; no quantity is made for it."""
    return vars(obj)[name] is not None


def si_array(obj: object, name: str) -> FloatArray:
    """Give the SI values behind the `Measure` field `name` of `obj`, read-only."""
    return np.asarray(vars(obj)[name], dtype=np.float64)


def si_array_or_none(obj: object, name: str) -> FloatArray | None:
    """Give the SI values behind the `OptionalMeasure` field `name` of `obj`, or None."""
    return None if vars(obj)[name] is None else si_array(obj, name)

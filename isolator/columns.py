"""What the columns of a logger's file are, guessed from its first lines and reported."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from isolator.units import G0, InputError

NUMBER = r"[+-]?(?:\d+(?:{0}\d*)?|{0}\d+)(?:[eE][+-]?\d+)?"
EMPTY = ("", "nan", "na", "null", "none")
CLOCK = re.compile(r"\d{1,4}[-/:]\d{1,2}[-/:]\d{1,2}.*")
"""A date or a time of day; the hours, minutes and seconds alone will do."""

SEPARATORS = (";", "\t", ",", r"\s+")

ACCELERATIONS = {
    "m/s^2": 1.0, "m/s2": 1.0, "m/s²": 1.0, "m/s**2": 1.0, "m/s/s": 1.0, "ms-2": 1.0,
    "m.s-2": 1.0, "m s-2": 1.0, "ms^-2": 1.0, "ms2": 1.0, "m·s⁻²": 1.0, "mm/s^2": 1e-3,
    "mm/s²": 1e-3, "cm/s^2": 1e-2, "cm/s²": 1e-2, "g": G0, "g0": G0, "gn": G0, "gs": G0,
    "gee": G0, "mg": G0 / 1000, "milli-g": G0 / 1000, "ft/s^2": 0.3048, "ft/s²": 0.3048,
}  # fmt: skip
"""Spellings of units of acceleration in a heading, in m/s²; g is gravity there, not a gram."""

TIMES = {
    "s": 1.0, "sec": 1.0, "secs": 1.0, "second": 1.0, "seconds": 1.0, "ms": 1e-3, "msec": 1e-3,
    "millis": 1e-3, "milliseconds": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6, "usec": 1e-6,
    "micros": 1e-6, "microseconds": 1e-6, "ns": 1e-9, "nanoseconds": 1e-9, "min": 60.0,
}  # fmt: skip

TIME_WORDS = {
    "time", "t", "timestamp", "elapsed", "seconds", "millis", "micros", "ms", "zeit", "temps",
    "tiempo", "tempo", "uptime", "clock", "date", "datetime", "utc",
}  # fmt: skip
OTHER_WORDS = {
    "gyro", "gyr", "gyroscope", "omega", "rotation", "rotational", "angular", "mag", "magnet",
    "magnetic", "magnetometer", "gravity", "grav", "orientation", "quaternion", "quat", "roll",
    "pitch", "yaw", "angle", "velocity", "speed", "position", "latitude", "longitude", "altitude",
    "temperature", "temp", "pressure", "humidity", "light", "abs", "absolute", "total",
    "magnitude", "norm", "resultant", "battery", "index", "sample", "marker",
}  # fmt: skip
ACCELERATION_WORDS = {
    "a", "acc", "accel", "acceleration", "accelerometer", "beschleunigung", "accelerazione",
    "aceleracion", "linear", "lin", "raw", "axis", "user", "achse",
}  # fmt: skip
LINEAR_WORDS = {"linear", "lin", "user"}
"""A telephone says so of a reading from which it has taken gravity."""


@dataclass(frozen=True)
class Column:
    """A column by its heading.

    Attributes
    ----------
    name : str
        As it stands in the file.
    role : "time", "acceleration" or "other"
    factor : float or None
        What one stands for, in s or m/s²; None where the heading does not say.
    channel : str
        Short name of an acceleration: its sensor, if named, and its axis.
    linear : bool
        Gravity was taken from it, by its heading.
    """

    name: str
    role: str
    factor: float | None = None
    channel: str = ""
    linear: bool = False


@dataclass(frozen=True)
class Layout:
    """How a file is written.

    Attributes
    ----------
    separator, decimal : str
    skip : int
        Lines before the first numbers.
    names : tuple of str
        Headings; "column 1" and so on where there are none.
    headed : bool
    first : tuple of str
        Fields of the first row of numbers.
    """

    separator: str
    decimal: str
    skip: int
    names: tuple[str, ...]
    headed: bool
    first: tuple[str, ...]


def _fields(line: str, separator: str) -> list[str]:
    parts = line.split() if separator == r"\s+" else line.rstrip("\r\n").split(separator)
    return [part.strip().strip('"').strip() for part in parts]


def _row(fields: Sequence[str], number: re.Pattern[str]) -> bool:
    """Numbers, gaps and clocks only, at least one number."""
    found = [bool(number.fullmatch(field)) for field in fields]
    rest = [field for field, is_number in zip(fields, found, strict=True) if not is_number]
    return any(found) and all(f.lower() in EMPTY or CLOCK.fullmatch(f) for f in rest)


def layout(lines: Sequence[str], name: str) -> Layout:
    """How the first lines of a file are written.

    The separator and the decimal sign are those that read the most lines as numbers, then those
    that give the most columns.

    Parameters
    ----------
    lines : texts
    name : str
        Of the file, for messages.

    Raises
    ------
    InputError
        Nothing in it, no two lines of numbers, more fields than headings.

    Examples
    --------
    >>> layout(["Zeit (s);ax (g)", "0,00;0,98", "0,01;0,99"], "log.csv").decimal
    ','
    """
    if not any(line.strip() for line in lines):
        raise InputError(f"{name}: the file is empty; give one with a row for each sample")
    best: tuple[int, int, str, str, int] | None = None
    for separator in SEPARATORS:
        for decimal in (".", ",") if separator != "," else (".",):
            number = re.compile(NUMBER.format(re.escape(decimal)))
            rows = [_row(_fields(line, separator), number) for line in lines]
            starts = [k for k in range(len(rows)) if rows[k] and all(rows[k : k + 2])]
            if not starts:
                continue
            found = (sum(rows), len(_fields(lines[starts[0]], separator)))
            if best is None or found > best[:2]:
                best = (*found, separator, decimal, starts[0])
    if best is None or best[0] < 2:
        raise InputError(
            f"{name}: no two rows of numbers in its first {len(lines)} lines; give a text file "
            "with a row for each sample and a column for time and for each axis"
        )
    _, count, separator, decimal, start = best
    before = [line for line in lines[:start] if line.strip()]
    heading = _fields(before[-1].lstrip("#%/ "), separator) if before else []
    first = tuple(_fields(lines[start], separator))
    if len(heading) == count - 1 and not first[-1]:
        heading.append("after the last")  # rows end with a separator
    elif separator == "," and 0 < len(heading) < count <= 2 * len(heading):
        raise InputError(
            f"{name}: {len(heading)} headings over {count} fields in a row, as decimal commas "
            "between commas give; write it with semicolons between, or with decimal points"
        )
    headed = len(heading) == count
    names = tuple(heading) if headed else tuple(f"column {k + 1}" for k in range(count))
    if len(set(names)) < count:
        twice = next(n for n in names if names.count(n) > 1)
        raise InputError(f"{name}: the heading {twice!r} stands twice; give each column its own")
    return Layout(separator, decimal, start, names, headed, first)


def column(name: str) -> Column:
    """What a heading says of its column.

    Examples
    --------
    >>> column("Linear Acceleration x (m/s^2)").channel, column("gyro x [rad/s]").role
    ('x', 'other')
    >>> column("time_ms").factor, column("base accelZ [g]").channel
    (0.001, 'base z')
    """
    bracket = re.search(r"[\[(]([^\])]*)[\])]\s*$", name)
    unit = bracket[1].strip().lower() if bracket else ""
    plain = name[: bracket.start()] if bracket else name
    plain = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", plain).lower()
    plain = re.sub(r"\b(acc|accel|acceleration|a)([xyz])\b", r"\1 \2", plain.replace("_", " "))
    words = re.findall(r"[^\W_]+", plain)
    if not unit and len(words) > 1 and (words[-1] in ACCELERATIONS or words[-1] in TIMES):
        unit = words.pop()
    axis = next((word for word in reversed(words) if word in ("x", "y", "z")), "")
    wrong_unit = bool(unit) and unit not in ACCELERATIONS
    if OTHER_WORDS & set(words):
        return Column(name, "other")
    if TIME_WORDS & set(words) and not axis and (not unit or unit in TIMES):
        unit = unit or next((w for w in words if w in TIMES and w != "s"), "")
        return Column(name, "time", TIMES.get(unit))
    told = ACCELERATION_WORDS & set(words) or (axis and not wrong_unit) or unit in ACCELERATIONS
    if not told or wrong_unit:
        return Column(name, "other")
    kept = [word for word in words if word not in ACCELERATION_WORDS and word != axis]
    channel = " ".join([*kept, axis]).strip() or "acceleration"
    linear = bool(LINEAR_WORDS & set(words))
    return Column(name, "acceleration", ACCELERATIONS.get(unit), channel, linear)

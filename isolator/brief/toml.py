"""The text of a brief, read as TOML within limits."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from isolator.fields import shown
from isolator.units import InputError

MOST_DOTS, MOST_DOTS_IN_ALL, MOST_HEADS = 1000, 50_000, 10_000
"""Dots in one line of a brief and in all of it, for reading a key takes the square of its dots in
time; lines that begin with a bracket."""

DEEPEST = 12
"""Tables and lists in each other; what is copied and printed later goes down as deep."""


def read_toml(raw: str, file: str) -> dict[str, Any]:
    lines = re.split(r"\r?\n", raw)
    heads = sum(line.startswith("[") for line in lines)
    if heads > MOST_HEADS or raw.count(".") > MOST_DOTS_IN_ALL:
        much = f"{heads} tables" if heads > MOST_HEADS else f"{raw.count('.')} dots"
        raise InputError(f"{file}: {much}, more than any brief needs; check that it is one")
    for number, line in enumerate(lines, start=1):
        if line.count(".") > MOST_DOTS:
            raise InputError(
                f"{file}: line {number} has more than {MOST_DOTS} dots, which no brief needs; "
                "shorten it"
            )
    try:
        given = tomllib.loads(raw)
        if _deeper(given, DEEPEST):
            raise RecursionError
        return given
    except RecursionError:
        raise InputError(
            f"{file}: lists or tables nested too deeply; a brief has tables in tables at most"
        ) from None
    except ValueError as error:  # its own kind, or a number that Python does not take
        where, problem = file, "a number has too many digits"
        if isinstance(error, tomllib.TOMLDecodeError):
            problem = str(error)
        if at := re.search(r" \(at line ([0-9]+), column [0-9]+\)$", problem):
            where = f"{file}: line {at[1]}, {shown(lines[int(at[1]) - 1].strip())}"
            problem = problem[: at.start()]
        raise InputError(
            f"{where}: not readable as TOML ({problem}); a line is key = value, texts in double "
            'quotes: mass = "7.8 kg"'
        ) from None


def _deeper(given: object, most: int) -> bool:
    """Whether there are more than so many tables or lists in each other."""
    level: list[Any] = [given]
    for _ in range(most):
        tables = (v.values() if isinstance(v, dict) else v for v in level)
        level = [v for inside in tables for v in inside if isinstance(v, dict | list)]
    return bool(level)

"""Drop heights of published tests, by gross weight and largest outer dimension."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from isolator.sources import read_table, source
from isolator.units import HEIGHT, MASS, SIZE, InputError


@dataclass(frozen=True, kw_only=True)
class HeightClass:
    """A row of a table of drop heights, in SI and as printed.

    Attributes
    ----------
    table : str
    lightest, heaviest : float
        Gross weight of the class. [kg]
    under : bool
        The heaviest is outside of the class.
    shortest, longest : float
        Largest outer dimension: from, to below. [m]
    height : float
        [m]
    by_size : bool
        Whether the table asks for the dimension.
    words : str
        The row as it is printed: ``30 in: ISTA 1A for 0 to 21 lb``.
    landings : str
        Which landings it asks for.
    source : str
        Key of the reference.
    """

    table: str
    lightest: float
    heaviest: float
    under: bool
    shortest: float
    longest: float
    height: float
    by_size: bool
    words: str
    landings: str
    source: str

    def holds(self, mass: float, longest: float) -> bool:
        """Whether a gross weight [kg] and a largest dimension [m] belong to the class."""
        heavy = mass >= self.heaviest if self.under else mass > self.heaviest
        return mass >= self.lightest and not heavy and self.shortest <= longest < self.longest


def _of(row: Mapping[str, str]) -> HeightClass:
    unit, by_size = row["weight unit"], bool(row["size unit"])

    def size(cell: str, empty: float) -> float:
        return SIZE.within(0.0).read(f"{cell} {row['size unit']}", "size") if cell else empty

    words = f"{row['height']} {row['height unit']}: {row['table'].upper()} for "
    top = f"under {row['weight to']}" if row["under"] else row["weight to"]
    words += f"{row['weight from']} to {top} {unit}"
    if by_size:
        least, most = (f"{row[key]} {row['size unit']}" for key in ("size from", "size to"))
        words += f", {f'under {most}' if row['size to'] else f'{least} or more'} long"
    return HeightClass(
        table=row["table"],
        lightest=MASS.within(0.0).read(f"{row['weight from']} {unit}", "weight"),
        heaviest=MASS.read(f"{row['weight to']} {unit}", "weight"),
        under=row["under"] == "under",
        shortest=size(row["size from"], 0.0),
        longest=size(row["size to"], math.inf),
        height=HEIGHT.read(f"{row['height']} {row['height unit']}", "height"),
        by_size=by_size,
        words=words,
        landings=row["landings"],
        source=row["source"],
    )


@cache
def height_tables() -> Mapping[str, tuple[HeightClass, ...]]:
    """The shipped tables: name → classes, in the order of print."""
    out: dict[str, list[HeightClass]] = {}
    for row in read_table("heights.csv"):
        out.setdefault(row["table"], []).append(_of(row))
    return {name: tuple(rows) for name, rows in out.items()}


def height_table(name: str) -> tuple[HeightClass, ...]:
    """The classes of a shipped table.

    Raises
    ------
    InputError
        No such table; the message names the nearest and how to list them.
    """
    known = height_tables()
    if name not in known:
        nearest = difflib.get_close_matches(name, known, n=1, cutoff=0.0)[0]
        raise InputError(
            f"table = {name!r:.60}: no such table of drop heights; {nearest!r} meant? "
            "`isolator heights` lists them"
        )
    return known[name]


def height_of(name: str, mass: float, longest: float) -> HeightClass | None:
    """The class of a table that a case belongs to.

    A weight on the border of two classes gets the first of them, the higher fall, where the
    table does not say.

    Parameters
    ----------
    name : str
    mass : float
        Gross: payload, case and everything in it; nan if unknown. [kg]
    longest : float
        Largest outer dimension; nan if unknown. [m]

    Returns
    -------
    HeightClass or None
        None where what the table asks for is not known.

    Raises
    ------
    InputError
        No such table, or a weight outside of it.

    Examples
    --------
    A case of 20 lb and one of 30 lb (ISTA 1A):

    >>> height_of("ista 1a", 9.07, math.nan).words
    '30 in: ISTA 1A for 0 to 21 lb'
    >>> round(height_of("ista 1a", 13.6, math.nan).height, 4)
    0.6096
    """
    rows = height_table(name)
    if math.isnan(mass):
        return None
    heaviest = max(row.heaviest for row in rows)
    if mass > heaviest:
        raise InputError(
            f"table = {name!r}: the case weighs {MASS.text(mass)} gross, the table "
            f"({source(rows[0].source).title}) ends at {MASS.text(heaviest)}; give the height "
            "itself"
        )
    if rows[0].by_size and math.isnan(longest):
        return None
    size = longest if rows[0].by_size else 0.0
    return next(row for row in rows if row.holds(mass, size))

"""Where each number comes from: reference keys, labels and the reader of the data tables."""

import csv
import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from isolator.units import InputError

LABELS = ("published", "memory", "common practice", "computed")


@dataclass(frozen=True)
class Source:
    """A standard, book or paper that numbers are taken from."""

    key: str
    title: str
    edition: str
    note: str


@dataclass(frozen=True)
class Published:
    """A value from outside that the package must reproduce, or miss by a stated amount."""

    id: str
    chapter: str
    quantity: str
    expected: str
    unit: str
    source: str
    locator: str
    label: str
    deviation: str
    cause: str
    note: str

    def missed_by(self, computed: float) -> str:
        """What a value of ours misses, as a sentence; empty where it is as it should be."""
        if not misses(computed, self.expected, self.deviation):
            return ""
        return (
            f"{self.quantity}: {computed!r} against {self.expected} {self.unit} "
            f"({self.source}, {self.locator}, {self.label})"
        )


def data_file(name: str) -> Traversable:
    """Find a file of the data folder, from a clone, an editable install or a wheel.

    Parameters
    ----------
    name : str
        File name inside the folder, for example ``roads.csv``.

    Returns
    -------
    Traversable
        The file, whether it exists or not.
    """
    installed = files("isolator") / "data"
    folder = installed if installed.is_dir() else Path(__file__).parent.parent / "data"
    return folder / name


def read_table(name: str) -> tuple[Mapping[str, str], ...]:
    """Read a table of the data folder, every cell as the text that is printed there.

    Comment lines starting with ``#`` may stand above the header. A header names its unit in
    square brackets: ``frequency [Hz]``.

    Parameters
    ----------
    name : str
        File name inside the data folder.

    Returns
    -------
    tuple of mappings
        One mapping from header to cell for each row, in the order of the file.

    Raises
    ------
    ValueError
        A row with more or fewer cells than the header.

    Examples
    --------
    >>> read_table("roads.csv")[0]["overall [g0]"]
    '1.04'
    """
    lines = data_file(name).read_text(encoding="utf-8").splitlines()
    first = next(i for i, line in enumerate(lines) if not line.startswith("#"))
    header, *rows = csv.reader(lines[first:], strict=True)
    for count, row in enumerate(rows, start=1):
        if len(row) != len(header):
            raise ValueError(
                f"{name}: row {count} under the header has {len(row)} cells, not {len(header)}; "
                "put cells that hold a comma into double quotes"
            )
    return tuple(dict(zip(header, row, strict=True)) for row in rows)


@cache
def _sources() -> Mapping[str, Source]:
    return {row["key"]: Source(**row) for row in read_table("sources.csv")}


def source(key: str) -> Source:
    """Look up a reference by its key.

    Parameters
    ----------
    key : str
        Key of ``data/sources.csv``, for example ``mil-std-810``.

    Returns
    -------
    Source
        The reference.

    Raises
    ------
    InputError
        No such key; the message names the nearest one.

    Examples
    --------
    >>> source("miles-1954").edition
    '1954'
    """
    known = _sources()
    if key not in known:
        nearest = difflib.get_close_matches(key, known, n=1, cutoff=0.0)[0]
        raise InputError(f"source = {key!r:.60}: no such reference; {nearest!r} meant?")
    return known[key]


def published(chapter: str) -> tuple[Published, ...]:
    """Give the published values of one chapter.

    Parameters
    ----------
    chapter : str
        As the table has it, for example ``rigid``.

    Returns
    -------
    tuple of Published
        The rows, in the order of the file.
    """
    rows = (Published(**row) for row in read_table("published.csv"))
    return tuple(row for row in rows if row.chapter == chapter)


def half_unit(digits: str) -> float:
    """Give half a unit in the last printed place, the tolerance that printed digits allow.

    Parameters
    ----------
    digits : str
        A printed decimal number, for example ``"12.40"``.

    Returns
    -------
    float
        Half a unit in the last place.

    Examples
    --------
    >>> half_unit("12.40")
    0.005
    """
    return 0.5 * 10.0 ** -len(digits.partition(".")[2])


def misses(computed: float, expected: str, deviation: str) -> bool:
    """Tell whether a computed value is not the printed one plus the stated deviation.

    Parameters
    ----------
    computed : float
        Our value, in the unit of the printed one.
    expected : str
        The printed value.
    deviation : str
        Our value less the printed one where they are known to differ, empty where they agree.

    Returns
    -------
    bool
        True if the difference is further from the stated deviation than half a unit in the last
        place of the deviation, or of the printed value where no deviation is stated.

    Examples
    --------
    >>> misses(9969.27, "9969.6", ""), misses(9969.27, "9969.6", "-0.3")
    (True, False)
    """
    difference = computed - float(expected)
    # A printed value that ends on the tie itself must not fail for a rounding error of its own.
    allowed = half_unit(deviation or expected) + 1e-12 * abs(float(expected))
    return not abs(difference - float(deviation or "0")) <= allowed

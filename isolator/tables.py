"""Files of a brief: texts that are read safely, and CSV tables whose heads carry units."""

from __future__ import annotations

import csv
import re
import stat
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from isolator.fields import Field, Table, meant, read_table, read_text_value, shown, unprintable
from isolator.units import InputError

LARGEST_FILE = 1_000_000
"""A brief or a table is refused above this size. [bytes]"""

LONGEST_HEAD, MOST_COLUMNS = 200, 200
"""Characters in the head of a column; columns of a table."""

T = TypeVar("T", bound=Table)
Cell = TypeVar("Cell")

_HEAD = re.compile(r"\s*([^\[\]]*[^\[\]\s])\s*(?:\[\s*([^\[\]]*?)\s*\])?\s*")
_BARE = re.compile(r"[-+−]?[0-9.,\s]+(?:[eE][-+]?[0-9]+)?")


def read_text(path: Path, name: str) -> str:
    """Read a plain file in UTF-8; pipes and devices, which may never end, are refused.

    Parameters
    ----------
    path : Path
    name : str
        The file in messages.

    Raises
    ------
    InputError
        No such file, a folder, a special file, too large, not UTF-8.
    """
    try:
        kind = path.stat().st_mode
        if stat.S_ISREG(kind):
            with path.open("rb") as file:
                raw = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise InputError(f"{name}: no such file; check the spelling and the folder") from None
    except (OSError, ValueError) as error:  # a name with a NUL is a ValueError
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{name}: not readable ({reason}); check the path") from None
    if stat.S_ISDIR(kind):
        raise InputError(f"{name}: it is a folder; name the file in it")
    if not stat.S_ISREG(kind):
        raise InputError(f"{name}: not a plain file; copy its text into one")
    if len(raw) > LARGEST_FILE:
        raise InputError(
            f"{name}: larger than {LARGEST_FILE} bytes, but a brief or table is short; check that "
            "this is the right file"
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{name}: not text in UTF-8; save it as plain UTF-8 text") from None


class Folder:
    """The folder of a brief; a table in it is read once.

    Parameters
    ----------
    path : Path

    Attributes
    ----------
    texts : dict of name to str
        The files that were read, as they are.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.texts: dict[str, str] = {}
        self._read: dict[tuple[str, type[Table]], list[tuple[str, Any]]] = {}

    def rows(self, given: object, key: str, model: type[T]) -> list[tuple[str, T]]:
        """Read a CSV.

        A line starting with ``#`` is a comment. The head of a column is a field of `model` with
        its unit, ``size x [mm]``; without a unit in the head, the cells carry their own. An empty
        cell is not given.

        Parameters
        ----------
        given : str
            Name of the file.
        key : str
            Where the name stands, for messages.
        model : subclass of Table
            What a row holds.

        Returns
        -------
        list of pairs
            What stands before a message about the row, ``parts.csv: line 3 ('tray'): ``, and the
            row.

        Raises
        ------
        InputError
            A line for each mistake.
        """
        name = read_text_value(given, key, 200)
        if (name, model) not in self._read:
            at = f"{key} = {shown(name)}"
            raw = self.texts[name] = read_text(self._inside(name, at), at)
            self._read[name, model] = _rows(name, raw, model)
        return self._read[name, model]

    def _inside(self, name: str, at: str) -> Path:
        """A file of this very folder; links that lead out of it are refused too."""
        path = self.path / name
        try:
            inside = path.resolve().is_relative_to(self.path.resolve())
        except (OSError, RuntimeError):
            raise InputError(
                f"{at}: not readable (a circle of links, or too long); check it"
            ) from None
        if not inside or Path(name).is_absolute():
            raise InputError(
                f"{at}: it lies outside the folder of the brief, which reads files of its own "
                "folder only; copy the file there"
            )
        return path


def _rows(name: str, raw: str, model: type[T]) -> list[tuple[str, T]]:
    heads, rows = _split(name, raw, model.most)
    units = _columns(name, heads, rows, model)
    lines: list[str] = []
    out: list[tuple[str, T]] = []
    named: dict[str, int] = {}
    for number, cells in rows:
        title = dict(zip(units, cells, strict=False)).get("name", "")
        where = f"{name}: line {number}{f' ({shown(title)})' if title else ''}: "
        if len(cells) != len(units):
            lines.append(
                f"{where}{len(cells)} cells in {len(units)} columns; write one for each: a number "
                "as 1.5, a text that holds a comma in double quotes, nothing between two commas"
            )
            continue
        if title and named.setdefault(title, number) != number:
            lines.append(
                f"{where}the name stands in line {named[title]} too; give each row its own"
            )
        try:
            row = read_table(model, _given(units, cells, where, model), where)
            out.append((where, row))
        except InputError as error:
            lines += error.lines
    if lines:
        raise InputError(*lines)
    return out


def _split(name: str, text: str, most: int) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Head of the columns, and the cells of each row with the number of its line in the file."""
    lines = re.split(r"\r\n|\r|\n", text)
    # A comment becomes an empty line, so that the numbers stay those that an editor shows.
    reader = csv.reader(("" if s.lstrip().startswith("#") else s for s in lines), strict=True)
    try:
        rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as error:
        raise InputError(
            f"{name}: line {reader.line_num}: not readable as CSV ({error}); check its quotes"
        ) from None
    rows = [(number, cells) for number, cells in rows if any(cells)]
    if len(rows) < 2:
        raise InputError(
            f"{name}: the table is empty; give a header with units and one or more rows below it"
        )
    if len(rows) - 1 > most:
        raise InputError(f"{name}: {len(rows) - 1} rows, at most {most} can be used; check it")
    heads = rows[0][1]
    if len(heads) == 1 and re.search("[;\t]", heads[0]):
        raise InputError(
            f"{name}: line {rows[0][0]}: its columns are set apart by semicolons or tabs; save it "
            "with commas, and with points as decimal marks"
        )
    return heads, rows[1:]


def _columns(
    name: str, heads: list[str], rows: list[tuple[int, list[str]]], model: type[Table]
) -> dict[str, str]:
    """Unit of each column by the name of its field, empty where the head has none."""
    fields = {key: _measured(model, key) for key in model.model_fields}
    if len(heads) > MOST_COLUMNS:
        raise InputError(
            f"{name}: {len(heads)} columns, at most {MOST_COLUMNS} can be used; check that this is "
            "the right file"
        )
    written = [f"{key} [{unit}]" if unit else key for key, unit in fields.items()]
    columns: dict[str, str] = {}
    lines: list[str] = []
    for n, head in enumerate(heads):
        where = f"{name}: column {n + 1}"
        match = _HEAD.fullmatch(head) if len(head) <= LONGEST_HEAD else None
        if match is None or any(map(unprintable, head)):
            lines.append(f"{where} = {shown(head)}: not a readable head; write name [unit]")
            continue
        key = re.sub(r"[\s_]+", "_", match[1].lower())
        unit = "" if match[2] in (None, "-", "1") else match[2]
        wanted = fields.get(key)
        if wanted is None:
            lines.append(f"{where} = {shown(head)}: unknown column; {meant(key, list(fields))}")
        elif key in columns:
            lines.append(f"{where} = {shown(head)}: the column stands twice; keep one")
        elif unit and not wanted and unit != "%":
            lines.append(f"{where} = {shown(head)}: it has no unit; write {match[1]} alone")
        elif wanted and not unit and _all_bare(n, rows):
            lines.append(f"{where} = {shown(head)}: a unit is missing; write {head} [{wanted}]")
        columns.setdefault(key, unit)
    lines += [
        f"{name}: the column {head} is missing: every row needs it; add it"
        for head, (key, info) in zip(written, model.model_fields.items(), strict=True)
        if info.is_required() and key not in columns
    ]
    if lines:
        raise InputError(*lines)
    return columns


def _measured(model: type[Table], key: str) -> str:
    """The unit that a column is expected in, empty for words and plain numbers."""
    marks = model.model_fields[key].metadata
    return next((mark.unit for mark in marks if isinstance(mark, Field)), "")


def _all_bare(column: int, rows: list[tuple[int, list[str]]]) -> bool:
    cells = [cells[column] for _, cells in rows if column < len(cells) and cells[column]]
    return bool(cells) and all(_BARE.fullmatch(cell) for cell in cells)


def _given(
    units: Mapping[str, str], cells: list[str], where: str, model: type[Table]
) -> dict[str, str]:
    """The cells of a row that are not empty, with the units of their heads."""
    lines = list(_misfits(units, cells, where, model))
    if lines:
        raise InputError(*lines)
    pairs = zip(units.items(), cells, strict=True)
    return {key: f"{cell} {unit}".rstrip() for (key, unit), cell in pairs if cell}


def _misfits(
    units: Mapping[str, str], cells: list[str], where: str, model: type[Table]
) -> Iterator[str]:
    for (key, unit), cell in zip(units.items(), cells, strict=True):
        if not cell and model.model_fields[key].is_required():
            yield f"{where}{key} is empty; every row needs it"
        elif unit and cell.endswith(unit) and cell != unit:
            number = shown(cell.removesuffix(unit).strip())[1:-1]
            yield f"{where}{key} = {shown(cell)}: the head has the unit; write {number} alone"


def as_cell(value: Cell) -> Cell | str:
    """A text as a cell that no spreadsheet takes for a formula.

    >>> as_cell("=1+1"), as_cell("soft"), as_cell(-1.5)
    ("'=1+1", 'soft', -1.5)
    """
    formula = isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r"))
    return f"'{value}" if formula else value

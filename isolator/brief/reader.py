"""What all readers of a brief share: its tables, its folder, and a line for everything wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, TypeVar

from isolator.design import MAIN
from isolator.fields import Table, read_table, safe, shown
from isolator.slips import frame_key
from isolator.tables import Folder
from isolator.units import InputError

T = TypeVar("T")
Row = TypeVar("Row", bound=Table)


def numbered(key: str, given: object, most: int) -> Iterator[tuple[str, Any]]:
    """The first tables of a list, each behind its key: ``cable[1].``; what is no list has none."""
    for n, value in enumerate(given[:most] if isinstance(given, list) else [], start=1):
        yield f"{key}[{n}].", value


class Reader:
    """Reads tables of one body and gathers a line for everything that is wrong.

    What is unusable has its line and is None from then on; the rest is judged without it.

    Parameters
    ----------
    given : mapping
        The tables, as TOML gives them.
    folder : Folder
        Where the files are that they name.
    file : str
        Name of the brief, for messages.
    name : str
        Of the body.
    """

    def __init__(
        self, given: Mapping[str, Any], folder: Folder, file: str, name: str = MAIN
    ) -> None:
        self.given, self.folder, self.file, self.name = given, folder, file, name
        self.start = f"{file}: " if name == MAIN else f"{file}: {frame_key(name)}."
        self.lines: list[str] = []

    def note(self, lines: Iterable[str]) -> None:
        """Lines that begin with the key."""
        self.lines += [f"{self.start}{line}" for line in lines]

    def got(self, make: Callable[[], T]) -> T | None:
        """What is made, or None; its lines are complete."""
        try:
            return make()
        except InputError as error:
            self.lines += error.lines
            return None

    def made(self, where: str, make: Callable[[], T]) -> T | None:
        """The same for an object, whose lines begin with the name of its class."""
        try:
            return make()
        except InputError as error:
            self.lines += [where + re.sub(r"^[A-Z]\w*\.", "", line) for line in error.lines]
            return None

    def table(self, model: type[Row], given: object, key: str) -> Row | None:
        """A table of the brief; `key` ends with a point, or is empty for the whole file."""
        return self.got(lambda: read_table(model, given, self.start + key, self.folder))

    def part_of(self, key: str) -> Any:
        """What stands under a key of the file, an empty table if nothing: that has its line."""
        return self.given.get(key, {})

    def rows(self, name: str, key: str, model: type[Row]) -> list[tuple[str, Row]] | None:
        """The CSV whose name stands under a key of a table, None if it is unusable or absent.

        It is read even where something else in that table is wrong.
        """
        table = self.part_of(name)
        given = table.get(key) if isinstance(table, Mapping) else None
        if not isinstance(given, str):
            return None
        at = f"{self.start}{name}.{key}"
        return self.got(lambda: self.folder.rows(given, at, model))

    def item(self, key: str, given: object, model: type[Row], make: Callable[..., T]) -> T | None:
        """An object whose fields are those of its table."""
        row = self.table(model, given, key)
        return None if row is None else self.made(self.start + key, lambda: make(**dict(row)))

    def items(
        self, key: str, given: object, most: int, model: type[Row], make: Callable[..., T]
    ) -> list[T | None]:
        """The same for a list of tables, None for an unusable one."""
        return [self.item(at, value, model, make) for at, value in numbered(key, given, most)]

    def named(self, key: str, what: str, most: int) -> Mapping[str, Any] | None:
        """The tables below a key by their names, None if some of them have no name."""
        given = self.part_of(key)
        if not isinstance(given, Mapping):
            self.note([f"{key} = {shown(given)}: a table is wanted; write [{key}.NAME] for each"])
            return None
        stray = [name for name, value in given.items() if not isinstance(value, Mapping)]
        if stray:
            first = f"{key}.{safe(stray[0])} = {shown(given[stray[0]])}"
            self.note([f"{first}: {what} needs a name; write [{key}.NAME] above its keys"])
            return None
        if len(given) > most:
            self.note([f"{key}: {len(given)} given, at most {most} can be used; leave some out"])
        return given

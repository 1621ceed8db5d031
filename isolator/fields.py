"""What a key of a brief may hold: a reader for each, and the lines about what is wrong.

A reader judges a value and calls it ``@`` in its messages; whoever knows the key puts it there,
so that a line names the file, the table, the row and the key. Numbers in keys count from 1.
"""

from __future__ import annotations

import contextlib
import difflib
import re
import unicodedata
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from typing import Any, ClassVar, TypeAlias, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError, ValidationInfo
from pydantic_core import CoreSchema, PydanticCustomError
from pydantic_core.core_schema import with_info_plain_validator_function

from isolator.design import quoted
from isolator.units import InputError, Kind, clipped, number

MOST_KEYS = 500
"""More keys than any table has: looking for what each was meant to be takes its time."""

MOST_NAMES = 80
"""So many names are listed in a message."""

LONGEST_NAME = 80
"""Longer names are cut in a message; no table takes one. [characters]"""

ItemReader: TypeAlias = Callable[[Any, str, str], Any]


class Table(BaseModel):
    """A table of a brief, or a row of a CSV: every field has a reader, so no table is in another.

    `head` is what a builder writes above its keys; a CSV has at most `most` rows.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    head: ClassVar[str] = ""
    most: ClassVar[int] = 1000


T = TypeVar("T", bound=Table)


@dataclass(frozen=True)
class Field:
    """What a field of a `Table` may hold, in its annotation: ``Annotated[Any, Field(…)]``.

    Attributes
    ----------
    read : function of a value and ``@``, and of the folder if `files`
        Gives what the field then holds, or raises an InputError.
    unit : str
        Unit that the head of a column may name; empty for words and plain numbers.
    files : bool
        Whether it reads files of the brief's folder.
    """

    read: Callable[..., Any]
    unit: str = ""
    files: bool = False

    def __get_pydantic_core_schema__(self, source: object, handler: object) -> CoreSchema:
        """How pydantic learns of the reader."""
        return with_info_plain_validator_function(self._judge)

    def _judge(self, value: Any, info: ValidationInfo) -> Any:
        try:
            return self.read(value, "@", info.context) if self.files else self.read(value, "@")
        except InputError as error:
            raise PydanticCustomError("reader", "unusable", {"lines": error.lines}) from None


def measure(kind: Kind, low: float, high: float, example: str | None = None) -> Field:
    """One value of a kind between limits in SI, kept as it was written."""
    limits = kind.within(low, high, example=example)

    def read(value: Any, name: str) -> Any:
        limits.read(value, name)
        return value

    return Field(read, kind.shown.replace("**", "^"))


def vector(kind: Kind, low: float, high: float, count: int = 3) -> Field:
    """So many values of a kind between limits in SI, kept as they were written."""
    limits = kind.within(low, high)

    def read(value: Any, name: str) -> Any:
        limits.read_array(value, name, (count,))
        return value

    return Field(read)


def plain(low: float, high: float) -> Field:
    """A number without a unit between limits."""
    return Field(lambda value, name: number(value, name, low, high))


def text(most: int) -> Field:
    """A text of at most so many characters."""
    return Field(lambda value, name: read_text_value(value, name, most))


def choice(words: Collection[str]) -> Field:
    """One of some words."""
    return Field(lambda value, name: read_choice(value, name, words))


def choices(words: Collection[str]) -> Field:
    """A list of some words, at least one, none twice."""

    def read(value: Any, name: str) -> tuple[str, ...]:
        if not isinstance(value, list) or not value:
            fix = f'write a list such as ["{next(iter(words))}"]'
            raise InputError(f"{name} = {shown(value)}: a list with one or more words; {fix}")
        for n, word in enumerate(value):
            read_choice(word, f"{name}[{n}]", words)
            if word in value[:n]:
                raise InputError(f"{name}[{n}] = {shown(word)}: it stands twice; keep one")
        return tuple(value)

    return Field(read)


def read_text_value(value: Any, name: str, most: int) -> str:
    """A text that can be printed: not blank, no control characters, not longer than `most`."""
    if not isinstance(value, str):
        wrong = "a text is wanted; write it in double quotes"
    elif not value.strip():
        wrong = "the text is empty; write something or leave the key out"
    elif len(value) > most:
        wrong = f"the text has {len(value)} characters, at most {most} can be used; shorten it"
    elif any(map(unprintable, value)):
        wrong = "the text holds a character that cannot be printed; type it anew"
    else:
        return value
    raise InputError(f"{name} = {shown(value)}: {wrong}")


def unprintable(character: str) -> bool:
    """Whether a terminal shows nothing for it, or obeys it."""
    # Joiners are part of how Persian and many Indic scripts are written.
    kind = unicodedata.category(character)
    return kind in ("Cc", "Cf", "Cs", "Zl", "Zp") and character not in "\u200c\u200d"


def read_choice(value: Any, name: str, words: Collection[str]) -> str:
    """One of some words."""
    if isinstance(value, str) and value in words:
        return value
    raise InputError(f"{name} = {shown(value)}: not one of the choices; {meant(value, words)}")


def read_yes_no(value: Any, name: str) -> bool:
    """True or false, as TOML or as the text of a table."""
    answers = {"true": True, "yes": True, "false": False, "no": False}
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.lower() in answers:
        return answers[value.lower()]
    raise InputError(f"{name} = {shown(value)}: not a yes or no; write true or false")


def read_date(value: Any, name: str) -> date:
    """A day, as TOML or as a text: 2026-05-01."""
    read = value if isinstance(value, date) and not isinstance(value, datetime) else None
    if isinstance(value, str):
        with contextlib.suppress(ValueError):
            read = datetime.strptime(value, "%Y-%m-%d").date()
    if read is not None and 1900 <= read.year <= 2200:
        return read
    raise InputError(f"{name} = {shown(value)}: not a day; write it as 2026-05-01")


def read_map(value: Any, name: str, keys: Collection[str], read: ItemReader) -> dict[str, Any]:
    """A table whose keys are known words; `read` gets a value, its name and its key."""
    if not isinstance(value, Mapping):
        example = next(iter(keys))
        fix = f"write {{ {example} = … }}, of the keys {', '.join(keys)}"
        raise InputError(f"{name} = {shown(value)}: a table is wanted; {fix}")
    lines: list[str] = []
    out: dict[str, Any] = {}
    for key, item in value.items():
        try:
            if key not in keys:
                wrong = f"{name}.{safe(key)} = {shown(item)}: unknown key"
                raise InputError(f"{wrong}; {meant(key, keys)}")
            out[key] = read(item, f"{name}.{safe(key)}", key)
        except InputError as error:
            lines += error.lines
    if lines:
        raise InputError(*lines)
    return out


def shown(value: object) -> str:
    """A value of a brief as a message shows it."""
    return str(value).lower() if isinstance(value, bool) else clipped(value)


def meant(value: object, known: Collection[str], listed: Collection[str] = ()) -> str:
    """The way out of a wrong word: the nearest of the known ones, or the list of them."""
    near = difflib.get_close_matches(value[:80], known, n=1) if isinstance(value, str) else []
    return f"{near[0]!r} meant?" if near else f"known are {some_of(listed or known)}"


def some_of(names: Collection[str]) -> str:
    """Names in a message, the first of many, each as a terminal can show it.

    >>> some_of(["soft", "\\x1b[2J"])
    "soft, '\\\\x1b[2J'"
    """
    first = [name if _plain(name) else shown(name) for name in islice(names, MOST_NAMES)]
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return f"{', '.join(first)}{more}"


def read_table(model: type[T], given: object, where: str, folder: object = None) -> T:
    """Read one table.

    Parameters
    ----------
    model : subclass of Table
    given : mapping of keys to values
    where : str
        What stands before a key in messages: ``case.toml: payload.``
    folder : Folder, optional
        Where the files are that it names.

    Raises
    ------
    InputError
        A line for each mistake.
    """
    if not isinstance(given, Mapping):
        raise InputError(
            f"{where.rstrip('.')} = {shown(given)}: a table is wanted; write {model.head} on a "
            "line of its own and its keys below"
        )
    if len(given) > MOST_KEYS:
        raise InputError(
            f"{where.rstrip('.: ')}: {len(given)} keys in one table, at most {MOST_KEYS} can be "
            "used; check that this is the right file"
        )
    try:
        return model.model_validate(given, context=folder)
    except ValidationError as error:
        raise InputError(*_lines(error, where, model)) from None


def _lines(error: ValidationError, where: str, model: type[Table]) -> Iterator[str]:
    for item in error.errors(include_url=False):
        key = str(item["loc"][0])
        match item["type"]:
            case "missing":
                yield f"{where}{key} is missing: the verdict needs it; add it"
            case "extra_forbidden":
                wrong = f"{where}{safe(key)} = {shown(item['input'])}: unknown key"
                yield f"{wrong}; {_way_out(key, model)}"
            case _:
                yield from (placed(line, where, key) for line in item["ctx"]["lines"])


def placed(line: str, where: str, key: str) -> str:
    """Put the key in the place of ``@``; a line without it is about a file and is complete."""
    if not line.startswith("@"):
        return line
    steps = re.match(r"@(?:\.[\w-]+|\[[0-9]+\])*", line)
    assert steps is not None
    from_one = re.sub(r"\[([0-9]+)\]", lambda n: f"[{int(n[1]) + 1}]", steps[0][1:])
    return where + key + from_one + line[steps.end() :]


def _way_out(key: str, model: type[Table]) -> str:
    """Where an unknown key belongs, or what it may have been meant to be."""
    homes = [t.head for t in Table.__subclasses__() if t.head and key in t.model_fields]
    if homes:
        return f"it belongs under {' or '.join(homes)}"
    return meant(key, model.model_fields)


def safe(key: str) -> str:
    """A key as TOML writes it, short and printable whatever it is.

    >>> print(safe("ring"), safe("lid tray"), safe("étagère"), safe("\\x1b[2J"))
    ring "lid tray" "étagère" '\\x1b[2J'
    """
    return quoted(key) if _plain(key) else shown(key)


def _plain(name: str) -> bool:
    """Whether a message can show a name as it is: short, nothing in it that a terminal obeys."""
    return len(name) <= LONGEST_NAME and not any(map(unprintable, name))


def read_tables(value: Any, name: str, head: str, most: int) -> Sequence[Any]:
    """A list of tables, each still to be read."""
    if isinstance(value, Mapping):
        raise InputError(f"{name}: one table; write {head} in double brackets, for it is a list")
    if not isinstance(value, list):
        raise InputError(f"{name} = {shown(value)}: not a list of tables; write {head} for each")
    if len(value) > most:
        raise InputError(f"{name}: {len(value)} given, at most {most} can be used; leave some out")
    return value

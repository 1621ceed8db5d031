"""Files that appear whole or not at all, and never in the place of one that nobody gave up."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TypeVar

from isolator.units import InputError

T = TypeVar("T")


def write_all(made: Mapping[Path, bytes], *, replace: bool) -> None:
    """Write files so that each appears complete, all of them or none.

    All are written beside their places first, where a full disk shows, and no folder may stand in
    the place of one; then each takes its place, while no other run does the same in that folder. A
    run that is killed in between may leave files that begin with ``.half-``, which can go, and some
    of the files new beside others that are old.

    Parameters
    ----------
    made : mapping of path to content
        Folders that are missing are made.
    replace : bool
        Whether files that are there already give way.

    Raises
    ------
    InputError
        A file is there already, and `replace` is false.
    OSError, ValueError
        A path that cannot be written to; nothing is left of the files.
    """
    if not replace:
        _refuse_there(made)
    mask = os.umask(0)
    os.umask(mask)
    halves: dict[Path, str] = {}
    try:
        for path, content in made.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, halves[path] = tempfile.mkstemp(dir=path.parent, prefix=".half-")
            with open(handle, "wb") as file:
                file.write(content)
            os.chmod(halves[path], 0o666 & ~mask)
        with contextlib.ExitStack() as folders:
            for folder in sorted({path.parent for path in made}):
                folders.enter_context(alone(folder))
            if not replace:
                _refuse_there(made)
            for path in halves:
                if path.is_dir():
                    raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
            for path, half in halves.items():
                os.replace(half, path)
    except BaseException:
        for half in halves.values():
            with contextlib.suppress(OSError):
                Path(half).unlink(missing_ok=True)
        raise


def _refuse_there(made: Iterable[Path]) -> None:
    there = [path for path in made if os.path.lexists(path)]
    if there:
        raise InputError(
            *(
                f"{path}: there already, perhaps with your changes; name another folder, move it "
                "away, or from Python ask to replace it (replace=True)"
                for path in there
            )
        )


@contextlib.contextmanager
def alone(path: Path, *, wait: bool = True) -> Iterator[None]:
    """Hold a file or folder, so that another run that asks for it waits, or has a BlockingIOError.

    The system lets go of it when the run ends, however it ends. Where there are no such locks
    nothing is held.
    """
    try:
        import fcntl
    except ImportError:  # not on this system
        yield
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        except BlockingIOError:
            raise
        except OSError:  # a disk of another machine that knows no locks
            pass
        yield
    finally:
        os.close(handle)


def as_cell(value: T) -> T | str:
    """A text as a cell that no spreadsheet takes for a formula.

    >>> as_cell("=1+1"), as_cell("soft"), as_cell(-1.5)
    ("'=1+1", 'soft', -1.5)
    """
    formula = isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r"))
    return f"'{value}" if formula else value


def safe_name(name: str, other: str) -> str:
    """A user's name with what any file system takes: small letters, digits, dashes.

    `other` stands for a name of which nothing is left.

    >>> safe_name("By van / ferry", "leg"), safe_name("…", "leg")
    ('by-van-ferry', 'leg')
    """
    return re.sub(r"[^a-z0-9]+", "-", name.lower())[:40].strip("-") or other


def free_name(stem: str, used: set[str]) -> str:
    """The name, or the first with a number that is not yet in use; it is in use from then on.

    >>> used = {"plan"}
    >>> free_name("plan", used), free_name("side", used), sorted(used)
    ('plan-2', 'side', ['plan', 'plan-2', 'side'])
    """
    number, free = 1, stem
    while free in used:
        number += 1
        free = f"{stem}-{number}"
    used.add(free)
    return free

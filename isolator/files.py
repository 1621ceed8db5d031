"""Files that appear whole or not at all, and never in the place of one that nobody gave up."""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

from isolator.units import InputError


def write_all(made: Mapping[Path, bytes], *, replace: bool) -> None:
    """Write files so that each appears complete, all of them or none.

    All are written beside their places first, where a full disk shows; then each takes its place.

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
    there = [path for path in made if not replace and os.path.lexists(path)]
    if there:
        raise InputError(
            *(
                f"{path}: there already, perhaps with your changes; name another folder, move it "
                "away, or from Python ask to replace it (replace=True)"
                for path in there
            )
        )
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
        for path, half in halves.items():
            os.replace(half, path)
    except BaseException:
        for half in halves.values():
            with contextlib.suppress(OSError):
                Path(half).unlink(missing_ok=True)
        raise


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

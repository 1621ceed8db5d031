"""What is written: files whole or not at all, never over one that nobody gave up.

Also what stands around that: their places tried before the work, one run at a time, names that any
file system takes, and what a disk refuses in one line.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from isolator.units import InputError


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
        A path that cannot be written to; nothing is left of the files, nor of new folders.
    """
    if not replace:
        _refuse_there(made)
    mask = os.umask(0)
    os.umask(mask)
    halves: dict[Path, str] = {}
    new: list[Path] = []
    try:
        for path, content in made.items():
            new += _missing(path.parent)
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
        for folder in sorted(new, reverse=True):  # those inside before those around them
            with contextlib.suppress(OSError):  # another run has put something in it
                folder.rmdir()
        raise


def _missing(folder: Path) -> list[Path]:
    """The folder and those around it, as far as they have to be made."""
    return [path for path in (folder, *folder.parents) if not os.path.lexists(path)]


@contextlib.contextmanager
def one_line(what: str, way_out: str) -> Iterator[None]:
    """Say in one line what a path or a disk refuses: what was not done, the reason, the way out.

    Raises
    ------
    InputError
        In the place of an OSError or a ValueError; one from within is left as it is.
    """
    try:
        yield
    except InputError:
        raise
    except (OSError, ValueError) as error:  # a name with a NUL is a ValueError
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{what} ({reason}); {way_out}") from None


def ready(folder: Path, option: str, what: str) -> None:
    """Refuse a folder in which nothing can be written; one that is missing is not made yet.

    Parameters
    ----------
    folder : Path
    option, what : str
        Who names the folder, and what was to be written, for the message.

    Raises
    ------
    InputError
        It is no folder, or it or the one that it would be made in may not be written to.
    """
    with _writing(folder, option, what):
        _writable(folder)


def ready_file(path: Path, option: str) -> None:
    """Refuse a file that is there, or that cannot be written; a missing folder is not made yet.

    Parameters
    ----------
    path : Path
    option : str
        Who names the file, for the message.

    Raises
    ------
    InputError
        As said, with the file as it was named.
    """
    with _not_written(path, option):
        with contextlib.suppress(FileNotFoundError):
            path.lstat()
            raise InputError(
                f"{option} = {path}: it exists; nothing was written; name another file"
            )
        _writable(path.parent)


def put_file(path: Path, content: bytes, option: str) -> None:
    """Write a file that is not there yet, whole or not at all; its folder is made if missing.

    Parameters
    ----------
    path : Path
    content : bytes
    option : str
        As for `ready_file`.

    Raises
    ------
    InputError
        It is there already, it cannot be written to, or the disk is full.
    """
    with _not_written(path, option):
        write_all({path: content}, replace=False)


def put(folder: Path, made: Mapping[str, bytes], option: str, what: str) -> None:
    """Write files into a folder, which is made if it is missing; all are complete before one shows.

    Parameters
    ----------
    folder : Path
    made : mapping of name to content
        Files of these names in it are replaced.
    option, what : str
        As for `ready`.

    Raises
    ------
    InputError
        The folder cannot be written to, or the disk is full.
    """
    with _writing(folder, option, what):
        write_all({folder / file: content for file, content in made.items()}, replace=True)


def _writable(folder: Path) -> None:
    """Try the folder, or the one that it would be made in; an OSError says why not."""
    with contextlib.suppress(FileNotFoundError):
        folder.stat()
    there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    with tempfile.TemporaryFile(dir=there):
        pass


def _not_written(path: Path, option: str) -> contextlib.AbstractContextManager[None]:
    return one_line(f"{option} {path}: not written", "name a file where you may write")


def _writing(folder: Path, option: str, what: str) -> contextlib.AbstractContextManager[None]:
    cannot = f"{option} {folder}: no {what} can be written"
    return one_line(cannot, "name a folder where you may write")


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

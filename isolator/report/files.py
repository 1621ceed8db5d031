"""Pages as files with a JSON beside: none half-written, none that somebody edited is lost."""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import stat
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from isolator.assessment import Assessment
from isolator.files import one_line, put
from isolator.report.build import sheet_page
from isolator.report.document import document
from isolator.report.html import html, sheet_html
from isolator.report.pdf import PAPERS, pdf, sheet_pdf
from isolator.units import InputError

REPORT, SHEET = "report", "build-sheet"
"""Names of the files without their endings."""

MARK = "mark"
"""Key of the JSON with what all files were as they were written."""

LARGEST = 20_000_000
"""What is larger is no page of ours: they are a few hundred thousand. [bytes]"""


def save_report(assessment: Assessment, folder: str | Path, *, paper: str = "a4") -> list[Path]:
    """Write the report: ``report.html``, ``report.pdf``, ``report.json``.

    Equal verdicts give equal bytes.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    folder : str or Path
        Made if it is missing. A report in it is replaced if nobody edited it since it was written.
    paper : "a4" or "letter"
        Of the PDF; HTML takes the printer's.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    InputError
        No such paper, the folder cannot be written to, or it holds a file of one of these names
        that is not a report as it was written: nothing is written then.
    """
    _known(paper)
    report = document(assessment)
    pages = {f"{REPORT}.html": html(report).encode(), f"{REPORT}.pdf": pdf(report, paper)}
    return save_pages(folder, REPORT, pages, report.data)


def save_sheet(assessment: Assessment, folder: str | Path, *, paper: str = "a4") -> list[Path]:
    """Write the build sheet: ``build-sheet.html``, ``build-sheet.pdf``, ``build-sheet.json``.

    As `save_report` does with the report.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    folder : str or Path
    paper : "a4" or "letter"

    Returns
    -------
    list of Path

    Raises
    ------
    InputError
        As `save_report`.
    """
    _known(paper)
    sheet = sheet_page(assessment)
    pages = {f"{SHEET}.html": sheet_html(sheet).encode(), f"{SHEET}.pdf": sheet_pdf(sheet, paper)}
    return save_pages(folder, SHEET, pages, sheet.data)


def _known(paper: str) -> None:
    if paper not in PAPERS:
        raise InputError(f"paper = {paper!r}: write one of {', '.join(PAPERS)}")


def save_pages(
    folder: str | Path,
    stem: str,
    pages: Mapping[str, bytes],
    data: Mapping[str, Any],
    *,
    of: Mapping[str, str] | None = None,
) -> list[Path]:
    """Write some files and their JSON, which holds a hash of each.

    Parameters
    ----------
    folder : str or Path
        Made if it is missing. Files in it are replaced if nobody edited them since they were
        written, and go where they are none of `pages` any more.
    stem : str
        Of the JSON: its name without the ending, and in the messages what is written.
    pages : mapping of name to content
    data : mapping
        What the JSON says.
    of : mapping of word to text, optional
        What they come from, which the JSON says too; files that come from another stay.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    InputError
        The folder cannot be written to, or it holds a file of one of these names that is none as
        it was written: nothing is written then.
    """
    folder = Path(folder)
    what, json_name = stem.replace("-", " "), f"{stem}.json"
    of = of or {}
    made = {**pages, json_name: _marked({**of, **data}, pages, json_name)}
    there = _there(folder, made)
    mark = _mark(there.get(json_name) or b"", json_name, of)
    edited = [
        name
        for name, content in there.items()
        if content != made[name]
        and (
            content is None
            or mark.get(name) != (json_name if name == json_name else _hash(content))
        )
    ]
    if edited:
        raise InputError(
            f"--out {folder}: not written over {', '.join(edited)}, which somebody edited, which "
            f"an interrupted run left or which is no {what} of "
            f"{' and '.join(f'this {word}' for word in of) or 'isolator'}; name another folder, "
            "or move it away"
        )
    left = [name for name in _left_over(folder, mark, stem) if name not in made]
    put(folder, made, "--out", what)
    for name in left:
        with contextlib.suppress(OSError):
            (folder / name).unlink()
    return [folder / name for name in made]


def _marked(data: Mapping[str, Any], pages: Mapping[str, bytes], json_name: str) -> bytes:
    """The JSON, with a hash of each file; its own is that of its text without the mark."""
    bare = _json(data)
    mark = {json_name: _hash(bare)} | {name: _hash(content) for name, content in pages.items()}
    return _json({**data, MARK: mark})


def _json(data: Mapping[str, Any]) -> bytes:
    return (json.dumps(data, indent=1, allow_nan=False, ensure_ascii=False) + "\n").encode()


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _there(folder: Path, names: Iterable[str]) -> dict[str, bytes | None]:
    """What is in a folder already under some names; None for what cannot be a page of ours."""
    there: dict[str, bytes | None] = {}
    for name in names:
        cannot = f"--out {folder}: {name} in it cannot be read"
        with one_line(cannot, "name another folder"), contextlib.suppress(FileNotFoundError):
            there[name] = _page(folder / name)
    return there


def _page(path: Path) -> bytes | None:
    """A plain file that is no larger than a page can be; None for links, pipes, devices, folders.

    A pipe or a device may never end.
    """
    seen = path.lstat()
    if not stat.S_ISREG(seen.st_mode) or seen.st_size > LARGEST:
        return None
    with path.open("rb") as file:
        return file.read(LARGEST)


def _left_over(folder: Path, mark: Mapping[str, str], stem: str) -> Iterator[str]:
    """Pages of the mark that are still as they were written, of names that begin as its own."""
    for name, hashed in mark.items():
        if re.fullmatch(rf"{stem}[-a-z0-9]*\.(pdf|svg|dxf|csv)", name):
            with contextlib.suppress(OSError):
                content = _page(folder / name)
                if content is not None and _hash(content) == hashed:
                    yield name


def _mark(content: bytes, json_name: str, of: Mapping[str, str]) -> Mapping[str, str]:
    """What a JSON says that its files were, itself under its own name.

    Nothing if it was edited, or comes from something else.

    Of one that is nested too deeply to be ours nothing is believed either.
    """
    try:
        data = json.loads(content)
        mark = data.pop(MARK)
        whole = mark.pop(json_name) == _hash(_json(data)) and of.items() <= data.items()
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}
    return {**mark, json_name: json_name} if whole else {}

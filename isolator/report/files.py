"""The report as files: none half-written, and no file that somebody edited is lost."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from isolator.assessment import Assessment
from isolator.figures.files import put
from isolator.report.document import document
from isolator.report.html import html
from isolator.report.pdf import PAPERS, pdf
from isolator.units import InputError

HTML, PDF, JSON = "report.html", "report.pdf", "report.json"

MARK = "mark"
"""Key of the JSON with what all three files were as they were written."""


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
    if paper not in PAPERS:
        raise InputError(f"--paper {paper!r}: write one of {', '.join(PAPERS)}")
    folder = Path(folder)
    report = document(assessment)
    pages = {HTML: html(report).encode(), PDF: pdf(report, paper)}
    made = {**pages, JSON: _marked(report.data, pages)}
    _spare(folder, made)
    put(folder, made, "--out", "report")
    return [folder / name for name in made]


def _marked(data: Mapping[str, Any], pages: Mapping[str, bytes]) -> bytes:
    """The JSON, with a hash of each file; its own is that of its text without the mark."""
    bare = _json(data)
    mark = {JSON: _hash(bare)} | {name: _hash(content) for name, content in pages.items()}
    return _json({**data, MARK: mark})


def _json(data: Mapping[str, Any]) -> bytes:
    return (json.dumps(data, indent=1, allow_nan=False, ensure_ascii=False) + "\n").encode()


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _spare(folder: Path, made: Mapping[str, bytes]) -> None:
    """Refuse to replace what is not a report of ours as it was written."""
    there: dict[str, bytes] = {}
    for name in made:
        try:
            there[name] = (folder / name).read_bytes()
        except FileNotFoundError:
            continue
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise InputError(
                f"--out {folder}: {name} in it cannot be read ({reason}); name another folder"
            ) from None
    mark = _mark(there.get(JSON, b""))
    edited = [
        name
        for name, content in there.items()
        if content != made[name] and mark.get(name) != (JSON if name == JSON else _hash(content))
    ]
    if edited:
        raise InputError(
            f"--out {folder}: not written over {', '.join(edited)}, which somebody edited or which "
            "is no report of isolator; name another folder, or move it away"
        )


def _mark(content: bytes) -> Mapping[str, str]:
    """What a report says that its files were, its JSON under its own name; nothing if edited."""
    try:
        data = json.loads(content)
        mark = data.pop(MARK)
        whole = mark.pop(JSON) == _hash(_json(data))
    except (ValueError, TypeError, KeyError, AttributeError):
        return {}
    return {**mark, JSON: JSON} if whole else {}

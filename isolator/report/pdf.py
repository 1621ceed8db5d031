"""Pages as PDF, set by typst: names reach it as data and never as its code."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal, TypeAlias

from isolator.names import in_line
from isolator.report.build import SheetPage
from isolator.report.document import Block, Document
from isolator.report.paper import NARROWEST, Grid, Ticks, folded_head
from isolator.report.pictures import Picture

Paper: TypeAlias = Literal["a4", "us-letter"]

PAPERS: Mapping[str, Paper] = {"a4": "a4", "letter": "us-letter"}
"""What a user calls a sheet → what typst calls it."""

FONTS = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "STIXGeneral.ttf", "STIXGeneralBol.ttf")
"""Of those that matplotlib brings; its font of last resort would draw whole lines as boxes."""

SHORT, SHEET_SHORT = 18, 26
"""A column with no longer cell is as wide as that, in the report and on the build sheet."""

ACROSS = 118
"""Headings of a table that is wider are folded more. [letters]"""

FOLDS = 30
"""Cells that are longer may be folded. [letters]"""

WIDEST = 200
"""Most letters that count for the share of a column, which goes with their root."""

LONG_CELL = 1500
"""A row with a longer cell may go on to the next page. [letters]"""

LONGEST_WORD = 16
"""A longer word may be broken anywhere. [letters]"""


def pdf(report: Document, paper: str = "a4") -> bytes:
    """Set the report on paper.

    Parameters
    ----------
    report : Document
    paper : "a4" or "letter"

    Returns
    -------
    bytes
        Of a whole file, without a date, so that the same report gives the same bytes.

    Examples
    --------
    >>> import isolator
    >>> from isolator.report.document import document
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> pdf(document(case))[:5]
    b'%PDF-'
    """
    more = {
        "opening": [_block(block) for block in report.opening],
        "sketch": _block(report.sketch),
        "numbers": [[_soft(text) for text in one] for one in report.numbers],
        "sections": [
            {"title": one.title, "blocks": [_block(block) for block in one.blocks]}
            for one in report.sections
        ],
    }
    return _set("report.typ", report, more, paper)


def sheet_pdf(sheet: SheetPage, paper: str = "a4") -> bytes:
    """Set the build sheet on paper; see `pdf`.

    Parameters
    ----------
    sheet : SheetPage
    paper : "a4" or "letter"
    """
    more = {
        "benches": [
            {
                "title": _soft(one.title),
                "kinds": [
                    {
                        "drawing": _block(kind.drawing, SHEET_SHORT),
                        "beside": [_block(block, SHEET_SHORT) for block in kind.beside],
                    }
                    for kind in one.kinds
                ],
                "work": [_block(block, SHEET_SHORT) for block in one.work],
                "numbers": [_block(block, SHEET_SHORT) for block in one.numbers],
            }
            for one in sheet.benches
        ]
    }
    return _set("sheet.typ", sheet, more, paper)


def _set(template: str, report: Document | SheetPage, more: Mapping[str, Any], paper: str) -> bytes:
    import matplotlib
    import typst

    texts = [(files("isolator.report") / name).read_bytes() for name in ("blocks.typ", template)]
    page = {
        "name": _soft(report.name),
        "status": report.status,
        "verdict": _soft(report.verdict),
        "facts": [[name, _soft(value)] for name, value in report.facts],
        "axes": report.axes,
        "caution": report.caution,
        **more,
    }
    there = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    with TemporaryDirectory() as fonts:
        for name in FONTS:
            shutil.copyfile(there / name, Path(fonts) / name)
        made = typst.compile(
            b"\n".join(texts),
            format="pdf",
            font_paths=typst.Fonts(include_system_fonts=False, font_paths=[fonts]),
            ignore_system_fonts=True,
            sys_inputs={"report": json.dumps(page), "paper": PAPERS[paper]},
            timestamp=0,
        )
    assert isinstance(made, bytes)
    return made


def _block(block: Block, short: int = SHORT) -> dict[str, Any]:
    if isinstance(block, Picture):
        return {
            "kind": "picture",
            "svg": block.svg,
            "width": block.width,
            "words": _soft(block.words),
        }
    if isinstance(block, Grid):
        head = _head(block)
        return {
            "kind": "grid",
            "title": _soft(block.title),
            "head": [_soft(cell) for cell in head],
            "rows": [[_soft(cell) for cell in row] for row in block.rows],
            "columns": _columns(block, head, short),
            "whole": max((len(cell) for row in block.rows for cell in row), default=0) < LONG_CELL,
        }
    lines = [_soft(line) for line in block.lines]
    kind = "ticks" if isinstance(block, Ticks) else "list"
    return {"kind": kind, "title": _soft(block.title), "lines": lines}


def _columns(block: Grid, head: Sequence[str], short: int) -> Sequence[int]:
    """Share of each column of the width that is left, 0 for one as wide as its cells."""
    shares = []
    for k, name in enumerate(head):
        longest = max(map(len, (*name.split("\n"), *(row[k] for row in block.rows))))
        shares.append(0 if longest <= short else round(10 * min(WIDEST, longest) ** 0.5))
    if any(shares) or _wide(block, head) > ACROSS:
        return shares
    return [0] * (len(shares) - 1) + [1]


def _head(block: Grid) -> list[str]:
    """Headings on as few lines as leave room for columns that are as wide as their cells."""
    heads = [folded_head(block.head, block.rows, least) for least in (NARROWEST, 6, 1)]
    return next((head for head in heads if _wide(block, head) <= ACROSS), heads[0])


def _wide(block: Grid, head: Sequence[str]) -> int:
    """Roughly, of all columns with what stands between them. [letters]"""
    return sum(
        2 + max(len(line) for line in (*name.split("\n"), *(row[k][:FOLDS] for row in block.rows)))
        for k, name in enumerate(head)
    )


def _soft(text: str) -> str:
    """Text in order whose longest words may be broken, where they have signs if they have some."""
    return in_line(re.sub(rf"\S{{{LONGEST_WORD + 1},}}", lambda word: _broken(word[0]), text))


def _broken(word: str) -> str:
    """A word with a sign without width wherever it may be broken."""
    pieces = re.findall(rf"[^._/]{{1,{LONGEST_WORD}}}[._/]*|[._/]+", word)
    return "\u200b".join(pieces)

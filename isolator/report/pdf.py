"""The report as PDF, set by typst: names reach it as data and never as its code."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal, TypeAlias

from isolator.report.document import Block, Document
from isolator.report.paper import Grid
from isolator.report.pictures import Picture

Paper: TypeAlias = Literal["a4", "us-letter"]

PAPERS: Mapping[str, Paper] = {"a4": "a4", "letter": "us-letter"}
"""What a user calls a sheet → what typst calls it."""

SHORT = 18
"""A column with no longer cell is as wide as that."""

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
    import matplotlib
    import typst

    page = (files("isolator.report") / "report.typ").read_bytes()
    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    made = typst.compile(
        page,
        format="pdf",
        font_paths=typst.Fonts(include_system_fonts=False, font_paths=[str(fonts)]),
        ignore_system_fonts=True,
        sys_inputs={"report": json.dumps(_plain(report)), "paper": PAPERS[paper]},
        timestamp=0,
    )
    assert isinstance(made, bytes)
    return made


def _plain(report: Document) -> dict[str, Any]:
    return {
        "name": _soft(report.name),
        "status": report.status,
        "verdict": _soft(report.verdict),
        "facts": [[name, _soft(value)] for name, value in report.facts],
        "opening": [_block(block) for block in report.opening],
        "sketch": _block(report.sketch),
        "numbers": [[_soft(text) for text in one] for one in report.numbers],
        "sections": [
            {"title": one.title, "blocks": [_block(block) for block in one.blocks]}
            for one in report.sections
        ],
        "axes": report.axes,
        "caution": report.caution,
    }


def _block(block: Block) -> dict[str, Any]:
    if isinstance(block, Picture):
        return {
            "kind": "picture",
            "svg": block.svg,
            "width": block.width,
            "words": _soft(block.words),
        }
    if isinstance(block, Grid):
        return {
            "kind": "grid",
            "title": _soft(block.title),
            "head": [_soft(cell) for cell in block.head],
            "rows": [[_soft(cell) for cell in row] for row in block.rows],
            "columns": _columns(block),
            "whole": max((len(cell) for row in block.rows for cell in row), default=0) < LONG_CELL,
        }
    lines = [_soft(line) for line in block.lines]
    return {"kind": "list", "title": _soft(block.title), "lines": lines}


def _columns(block: Grid) -> Sequence[int]:
    """Share of each column of the width that is left, 0 for one as wide as its cells."""
    shares = []
    for k in range(len(block.head)):
        longest = max(len(row[k]) for row in (block.head, *block.rows))
        shares.append(0 if longest <= SHORT else round(10 * min(WIDEST, longest) ** 0.5))
    return shares if any(shares) else [0] * (len(shares) - 1) + [1]


def _soft(text: str) -> str:
    """Text whose longest words may be broken: a sign without width in them."""
    return re.sub(rf"(\S{{{LONGEST_WORD}}})(?=\S)", "\\1\u200b", text)

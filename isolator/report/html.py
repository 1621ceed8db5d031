"""The report as one HTML page, which loads nothing from elsewhere and runs nothing."""

from __future__ import annotations

import re
from importlib.resources import files

from isolator.report.document import Document
from isolator.report.pictures import Picture


def html(report: Document) -> str:
    """Set the report as a page for a screen and for paper.

    Parameters
    ----------
    report : Document

    Returns
    -------
    str
        Of a whole file. Names are text in it, whatever they hold.

    Examples
    --------
    >>> import isolator
    >>> from isolator.report.document import document
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> html(document(case))[:15]
    '<!DOCTYPE html>'
    """
    from jinja2 import Environment, StrictUndefined

    page = (files("isolator.report") / "report.html").read_text(encoding="utf-8")
    setting = Environment(autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True)
    setting.filters["drawn"] = _drawn
    return setting.from_string(page).render(report=report)


def _drawn(block: Picture) -> str:
    """A picture at its size on paper; a narrower page shrinks it."""
    return re.sub(
        r' width="[^"]*" height="[^"]*"',
        f' style="width: {block.width:g}mm"',
        block.svg,
        count=1,
    )

"""Pages as HTML, each one file that loads nothing from elsewhere and runs nothing."""

from __future__ import annotations

import re
from importlib.resources import files

from isolator.names import in_line
from isolator.report.build import SheetPage
from isolator.report.document import Document
from isolator.report.paper import Ticks
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
    return _set("report.html", report)


def sheet_html(sheet: SheetPage) -> str:
    """Set the build sheet as a page for a screen and for one sheet of paper.

    Parameters
    ----------
    sheet : SheetPage

    Returns
    -------
    str
        Of a whole file. Names are text in it, whatever they hold.
    """
    return _set("sheet.html", sheet)


def _set(template: str, report: Document | SheetPage) -> str:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    setting = Environment(
        loader=FunctionLoader(
            lambda name: (files("isolator.report") / name).read_text(encoding="utf-8")
        ),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=lambda value: in_line(value) if type(value) is str else value,
        keep_trailing_newline=True,
    )
    setting.filters["drawn"] = _drawn
    setting.tests["ticks"] = lambda block: isinstance(block, Ticks)
    return setting.get_template(template).render(report=report)


def _drawn(block: Picture) -> str:
    """A picture at its size on paper; a narrower page shrinks it."""
    return re.sub(
        r' width="[^"]*" height="[^"]*"',
        f' style="width: {block.width:g}mm"',
        block.svg,
        count=1,
    )

"""A drill template as PDF at 1:1, cut into sheets of paper that are glued together. In mm."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from isolator.template.drawing import (
    ABOVE,
    BAR,
    CENTRES,
    DATUM,
    GRAVITY,
    HOLES,
    MARGIN,
    OUTLINE,
    STEP,
    TRUE,
    WORDS,
    Box,
    Circle,
    Line,
    Mark,
    Words,
    around,
    bars,
    cross,
    drawn,
    edges,
    extent,
    head,
    meet,
    row_marks,
    rows_of_holes,
    title_of,
)
from isolator.template.holes import DrillTemplate, Point
from isolator.template.letters import POINT, SMALL, clean, fitted, plain_style, wrapped
from isolator.units import SIZE, InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Sheets of paper, upright. [mm]"""

ONE_SHEET = "one sheet"
"""A page of the template's own size."""

LARGEST = 5080.0
"""A page of a PDF is no larger (ISO 32000: 14 400 units of 1/72 in). [mm]"""

MOST_PAGES = 60
"""More sheets than anybody glues together."""

FOOT, OVERLAP = 32.0, 10.0
"""What stands below the drawing, what two sheets share. [mm]"""


def template_pdf(template: DrillTemplate, *, paper: str = "a4") -> bytes:
    """The template as PDF at 1:1, the list of holes on a page of its own at the end.

    On A4 or Letter what is larger than one sheet is cut into sheets that share a strip of 10 mm
    with crosses, which are laid over each other. Every sheet has its bars, 100 mm and 4 in.

    Parameters
    ----------
    template : DrillTemplate
    paper : "a4", "letter" or "one sheet"
        The last is a page as large as it takes.

    Raises
    ------
    InputError
        No such paper; more sheets than anybody glues together; a page that no PDF holds.
    """
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    if paper not in (*PAPERS, ONE_SHEET):
        raise InputError(f"paper = {paper!r}: write one of {', '.join(PAPERS)}, {ONE_SHEET}")
    with plain_style():
        marks = drawn(template)
        sheet, across, down = _cut(extent(marks), paper)
        begin = _begun(template, marks, _window(sheet), (across, down))
        out = io.BytesIO()
        title = clean(title_of(template))
        with PdfPages(out, metadata={"CreationDate": None, "Title": title}) as pages:
            for row in range(down):
                for column in range(across):
                    figure = Figure(figsize=(sheet[0] / 25.4, sheet[1] / 25.4))
                    _tile(figure, template, marks, sheet, (across, down), (column, row), begin)
                    pages.savefig(figure)
            small = PAPERS.get(paper, PAPERS["a4"])
            for figure in _list_pages(template, small):
                pages.savefig(figure)
    return out.getvalue()


def _cut(box: Box, paper: str) -> tuple[Point, int, int]:
    """Width and height of a sheet, and how many side by side and one above the other."""
    left, right, bottom, top = box
    wide, tall = right - left, top - bottom
    if paper == ONE_SHEET:
        sheet = max(wide, 170.0) + 2 * MARGIN, tall + 2 * MARGIN + FOOT
        if max(sheet) > LARGEST:
            raise InputError(
                f"paper = {paper!r}: a page of {SIZE.text(max(sheet) / 1e3)} is larger than a PDF "
                f"holds, {SIZE.text(LARGEST / 1e3)}; write the SVG or the DXF"
            )
        return sheet, 1, 1
    best: tuple[Point, int, int] | None = None
    for sheet in (PAPERS[paper], PAPERS[paper][::-1]):
        room = _window(sheet)
        across, down = (
            1 if size <= own else math.ceil((size - OVERLAP) / (own - OVERLAP))
            for size, own in zip((wide, tall), room, strict=True)
        )
        if best is None or across * down < best[1] * best[2]:
            best = (sheet, across, down)
    assert best is not None
    if (count := best[1] * best[2]) > MOST_PAGES:
        raise InputError(
            f"paper = {paper!r}: {count} sheets, more than {MOST_PAGES}; write paper = "
            f"{ONE_SHEET!r}, the SVG or the DXF"
        )
    return best


def _window(sheet: Point) -> Point:
    """Room for the drawing on a sheet. [mm]"""
    return sheet[0] - 2 * MARGIN, sheet[1] - 2 * MARGIN - FOOT


def _over(at: Point, which: tuple[int, int]) -> list[Mark]:
    """A cross that is laid over its equal of another sheet, with its name."""
    name = f"{which[0]}/{which[1]}"
    return [*cross(WORDS, at, 4.0), Words(WORDS, (at[0] + 0.8, at[1] + 0.8), name, 1.8)]


def _begun(
    template: DrillTemplate, marks: Sequence[Mark], room: Point, counts: tuple[int, int]
) -> Point:
    """Where the sheets begin: with the drawing in their middle.

    Of several, the nearest place to that where every mark and word is whole on one sheet, no cross
    lies on one of them, nor its name on the outline; the one with the fewest exceptions if there
    is none.
    """
    left, right, bottom, top = extent(marks)
    steps = [own - OVERLAP for own in room]
    spare = [n * step + OVERLAP for n, step in zip(counts, steps, strict=True)]
    spare = [spare[0] - (right - left), spare[1] - (top - bottom)]
    if counts == (1, 1):
        return left - spare[0] / 2, bottom - spare[1] / 2
    busy = [around(mark) for mark in marks if mark.layer != OUTLINE]
    corners = [(i, j) for i in range(counts[0] + 1) for j in range(counts[1] + 1)]
    crosses = [_over((i * steps[0], j * steps[1]), (i + 1, j + 1)) for i, j in corners]
    alone = [(extent(one), own) for one in crosses for own in busy]
    alone += [(around(one[-1]), own) for one in crosses for own in edges(template)]

    def whole(low: float, high: float, begin: float, k: int) -> bool:
        starts = (begin + n * steps[k] for n in range(counts[k]))
        return any(start <= low and high <= start + room[k] for start in starts)

    def spoiled(begin: Point) -> int:
        x, y = begin[0] + OVERLAP / 2, begin[1] + OVERLAP / 2
        crossed = sum(meet((a + x, b + x, c + y, d + y), own) for (a, b, c, d), own in alone)
        return crossed + sum(
            not (whole(*own[:2], begin[0], 0) and whole(*own[2:], begin[1], 1)) for own in busy
        )

    parts = sorted((n / 20 for n in range(21)), key=lambda part: abs(part - 0.5))
    places = [(left - u * spare[0], bottom - v * spare[1]) for u in parts for v in parts]
    free = next((place for place in places if not spoiled(place)), None)
    return free or min(places, key=spoiled)


def _axes(figure: Figure, sheet: Point, box: Box, at: Point) -> Axes:
    """Axes in mm that show a box of the drawing, its lower left corner at a point of the sheet."""
    left, right, bottom, top = box
    place = (at[0] / sheet[0], at[1] / sheet[1])
    ax = figure.add_axes((*place, (right - left) / sheet[0], (top - bottom) / sheet[1]))
    ax.set_xlim(left, right)
    ax.set_ylim(bottom, top)
    ax.set_axis_off()
    return ax


def _tile(
    figure: Figure,
    template: DrillTemplate,
    marks: Sequence[Mark],
    sheet: Point,
    counts: tuple[int, int],
    which: tuple[int, int],
    begin: Point,
) -> None:
    """One sheet; rows count from the top, `begin` is the lower left corner of all."""
    room = _window(sheet)
    step = room[0] - OVERLAP, room[1] - OVERLAP
    x, y = begin[0] + which[0] * step[0], begin[1] + (counts[1] - 1 - which[1]) * step[1]
    window = (x, x + room[0], y, y + room[1])
    ax = _axes(figure, sheet, window, (MARGIN, MARGIN + FOOT))
    _paint(ax, marks)
    count = counts[0] * counts[1]
    if count > 1:
        for i in (0, 1):
            for j in (0, 1):
                at = x + OVERLAP / 2 + i * step[0], y + OVERLAP / 2 + j * step[1]
                _paint(ax, _over(at, (which[0] + i + 1, counts[1] - which[1] + j)))
    foot = _axes(figure, sheet, (0.0, sheet[0], 0.0, MARGIN + FOOT), (0.0, 0.0))
    title = fitted(title_of(template), sheet[0] - 2 * MARGIN)
    for n, line in enumerate((title, TRUE)):
        _paint(foot, [Words(WORDS, (MARGIN, MARGIN + 26 - n * 4.5), line)])
    _paint(foot, bars((MARGIN, MARGIN)))
    beside = [f"{ABOVE} the datum."]
    if count > 1:
        number = which[1] * counts[0] + which[0] + 1
        beside = [f"sheet {number} of {count}", "lay equal crosses", "over each other"]
    for n, line in enumerate(beside):
        _paint(foot, [Words(WORDS, (MARGIN + 122, MARGIN + 12 - n * 4.5), line, SMALL)])


def _list_pages(template: DrillTemplate, sheet: Point) -> Iterator[Figure]:
    """The list of holes and the notes, with bars on every page."""
    from matplotlib.figure import Figure

    width = sheet[0] - 2 * MARGIN
    lines: list[list[Words]] = []
    lines += [[Words(WORDS, (MARGIN, 0.0), text)] for text in head(template, width)]
    lines += [[]]
    lines += [list(row_marks(row, (MARGIN, 0.0))) for row in rows_of_holes(template)]
    lines += [[]]
    for note in template.notes:
        lines += [[Words(WORDS, (MARGIN, 0.0), text)] for text in wrapped(note, width)]
    most = int((sheet[1] - 2 * MARGIN - 20.0) / STEP)
    for begin in range(0, len(lines), most):
        figure = Figure(figsize=(sheet[0] / 25.4, sheet[1] / 25.4))
        ax = _axes(figure, sheet, (0.0, sheet[0], 0.0, sheet[1]), (0.0, 0.0))
        _paint(ax, bars((MARGIN, MARGIN)))
        for n, line in enumerate(lines[begin : begin + most]):
            y = sheet[1] - MARGIN - (n + 1) * STEP
            _paint(ax, [Words(w.layer, (w.at[0], y), w.text, w.height) for w in line])
        yield figure


STYLES: dict[str, dict[str, Any]] = {
    OUTLINE: {"lw": 0.9},
    HOLES: {"lw": 0.9},
    CENTRES: {"lw": 0.4},
    GRAVITY: {"lw": 0.5},
    DATUM: {"lw": 0.5, "ls": (0, (6, 2, 1, 2))},
    BAR: {"lw": 0.6},
    WORDS: {"lw": 0.4},
}


def _paint(ax: Axes, marks: Sequence[Mark] | Iterator[Mark] | Iterator[Line]) -> None:
    from matplotlib import patches
    from matplotlib.lines import Line2D

    for mark in marks:
        style = {"color": "black", **STYLES[mark.layer]}
        if isinstance(mark, Circle):
            ax.add_patch(patches.Circle(mark.at, mark.radius, fill=False, gid=mark.layer, **style))
        elif isinstance(mark, Line):
            points = [*mark.points, *(mark.points[:1] if mark.closed else ())]
            xs, ys = zip(*points, strict=True)
            style |= {"solid_capstyle": "butt", "gid": mark.layer}
            ax.add_line(Line2D(xs, ys, **style))
        else:
            ax.text(
                *mark.at,
                mark.text,
                fontsize=mark.height / POINT,
                family="DejaVu Sans",
                parse_math=False,
                clip_on=True,
            )

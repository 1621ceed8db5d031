"""The drill template at 1:1, seen from above: holes, outline, centre of gravity, datum, scale bar.

As PDF for paper, as SVG, and as DXF for a router. All lengths here are in mm, x to the right and y
upwards, from the middle of the payload's box.
"""

from __future__ import annotations

import io
import math
import unicodedata
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from isolator.design import MAIN, Design, key_of
from isolator.files import free_name, safe_name, write_all
from isolator.mount import Place
from isolator.units import SIZE, InputError, si_array

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from isolator.brief import Brief

Point: TypeAlias = tuple[float, float]
Box: TypeAlias = tuple[float, float, float, float]
"""Left, right, bottom, top. [mm]"""

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Sheets of paper, upright. [mm]"""

ONE_SHEET = "one sheet"
"""A page of the template's own size."""

LARGEST = 5080.0
"""A page of a PDF is no larger (ISO 32000: 14 400 units of 1/72 in). [mm]"""

MOST_PAGES = 60
"""More sheets than anybody glues together."""

MARGIN, FOOT, OVERLAP = 10.0, 32.0, 10.0
"""What a printer leaves white, what stands below the drawing, what two sheets share. [mm]"""

UNITS = {"mm": 1.0, "in": 25.4}
"""Of a DXF. [mm]"""

FORMATS = ("pdf", "svg", "dxf")

STEM = "drill-template"
"""Name of the files without their endings."""

UPRIGHT = 0.9999
"""A mount whose axis is so near to z is drilled from above. [-]"""

HOLES, CENTRES, OUTLINE = "holes", "hole centres", "outline"
GRAVITY, DATUM, BAR, WORDS = "centre of gravity", "datum", "scale bar", "words"
LAYERS = (HOLES, CENTRES, OUTLINE, GRAVITY, DATUM, BAR, WORDS)

TEXT, SMALL = 2.8, 2.3
"""Height of letters. [mm]"""

POINT = 25.4 / 72
"""A point of type. [mm]"""


@dataclass(frozen=True, kw_only=True)
class Hole:
    """Where a mount sits.

    Attributes
    ----------
    number : int
        Of the mount, from 1, as in every table.
    mount : str
        Name of its kind.
    x, y, z : float
        From the middle of the payload's box. [mm]
    diameter : float or None
        None where it is not known. [mm]
    axis : str
        Along which it is drilled: x, y, z or "leaning".
    missing : str
        Key of the brief that would tell the diameter.
    """

    number: int
    mount: str
    x: float
    y: float
    z: float
    diameter: float | None
    axis: str
    missing: str

    @property
    def from_above(self) -> bool:
        """Whether it is drilled from above."""
        return self.axis == "z"

    @property
    def words(self) -> str:
        """What stands beside it."""
        if not self.from_above:
            axis = "leans" if self.axis == "leaning" else f"lies along {self.axis}"
            return f"not from above: its axis {axis}"
        return "hole: not known" if self.diameter is None else f"ø {self.diameter:.4g} mm"


@dataclass(frozen=True, kw_only=True)
class DrillTemplate:
    """Where the holes go, seen from above.

    Attributes
    ----------
    name : str
        Of the case.
    holes : sequence of Hole
    length, width : float
        Outline of the payload's box along x and y. [mm]
    centre : two floats or None
        Centre of gravity in plan, None where nobody gave it. [mm]
    datum : str
        What all positions count from.
    notes : sequence of str
        What to look at before the first hole.
    """

    name: str
    holes: Sequence[Hole]
    length: float
    width: float
    centre: Point | None
    datum: str
    notes: Sequence[str]


def drill_templates(brief: Brief) -> dict[str, DrillTemplate]:
    """The template of each body of a brief, by the name of its files without their endings.

    Parameters
    ----------
    brief : Brief

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> list(drill_templates(isolator.read_brief(str(data_file("starter/case.toml")))))
    ['drill-template']
    """
    made = {STEM: drill_template(brief.design)}
    used = {STEM}
    for body, design in brief.frames.items():
        stem = free_name(f"{STEM}-{safe_name(body, 'body')}", used)
        own = drill_template(design, body)
        made[stem] = replace(own, name=f"{brief.design.name}: {body}".strip(": "))
    return made


def drill_template(design: Design, body: str = MAIN) -> DrillTemplate:
    """Where the holes of a design go.

    Parameters
    ----------
    design : Design
        A further body of a brief has its own, from the middle of its own box.
    body : str
        Name of that body, for the keys of the brief.

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> brief = isolator.read_brief(str(data_file("starter/case.toml")))
    >>> first = drill_template(brief.design).holes[0]
    >>> first.x, first.y, first.words, first.missing
    (-160.0, -110.0, 'hole: not known', 'mount.ring.hole')
    """
    holes = [_hole(n, place) for n, place in enumerate(design.places, start=1)]
    length, width = (1e3 * si_array(design.payload, "size")[:2]).tolist()
    centre: Point | None = None
    if design.payload.centre is not None:
        x, y = (1e3 * design.payload.centre_of_gravity()[:2]).tolist()
        centre = (x, y)
    return DrillTemplate(
        name=design.name,
        holes=holes,
        length=length,
        width=width,
        centre=centre,
        datum=f"the middle of {'the payload' if body == MAIN else body}'s box",
        notes=tuple(_notes(body, holes, length, width, centre)),
    )


def _hole(number: int, place: Place) -> Hole:
    sizes, way = place.mount.sizes, np.abs(place.direction())
    hole = np.nan if sizes is None else sizes.size("hole")
    x, y, z = (float(f"{v:.10g}") for v in 1e3 * si_array(place, "position"))
    return Hole(
        number=number,
        mount=place.mount.name,
        x=x,
        y=y,
        z=z,
        diameter=None if np.isnan(hole) else float(f"{1e3 * hole:.10g}"),
        axis="xyz"[int(way.argmax())] if way.max() > UPRIGHT else "leaning",
        missing=f"mount.{place.mount.name}.hole" if np.isnan(hole) else "",
    )


def _notes(
    body: str, holes: Sequence[Hole], length: float, width: float, centre: Point | None
) -> Iterator[str]:
    if centre is None:
        yield f"centre of gravity: not known ({key_of(body, 'payload.centre')})"
    for key in dict.fromkeys(hole.missing for hole in holes if hole.missing):
        yield f"hole: not known ({key}): measure the mount before you drill"
    drilled = [hole for hole in holes if hole.from_above]
    for n, one in enumerate(drilled):
        r = (one.diameter or 0.0) / 2
        if abs(one.x) + r > length / 2 or abs(one.y) + r > width / 2:
            yield f"hole {one.number} reaches beyond the payload's outline"
        for other in drilled[:n]:
            apart = math.hypot(one.x - other.x, one.y - other.y)
            if 0 < apart < r + (other.diameter or 0.0) / 2:
                yield f"holes {other.number} and {one.number} run into each other"


def write_template(
    template: DrillTemplate,
    folder: str | Path,
    *,
    stem: str = STEM,
    formats: Sequence[str] = FORMATS,
    paper: str = "A4",
    units: str = "mm",
    replace: bool = False,
) -> list[Path]:
    """Write a template into a folder, every file whole or none.

    Parameters
    ----------
    template : DrillTemplate
    folder : str or Path
        Made if it is missing.
    stem : str
        Name of the files without their endings.
    formats : sequence of "pdf", "svg", "dxf"
    paper : "A4", "Letter" or "one sheet"
        Of the PDF, see `template_pdf`.
    units : "mm" or "in"
        Of the DXF.
    replace : bool
        Whether files that are there give way.

    Returns
    -------
    list of Path

    Raises
    ------
    InputError
        A file is there already, or the folder cannot be written to; no such format, paper or unit.
    """
    if not formats or set(formats) - set(FORMATS):
        raise InputError(f"formats = {list(formats)!r}: write some of {', '.join(FORMATS)}")
    folder = Path(folder)
    files = template_files({stem: template}, formats=formats, paper=paper, units=units)
    made = {folder / name: content for name, content in files.items()}
    try:
        write_all(made, replace=replace)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(
            f"folder = {str(folder)!r}: no template can be written ({reason}); name a folder "
            "where you may write, on a disk that has room"
        ) from None
    return list(made)


def template_files(
    templates: Mapping[str, DrillTemplate],
    *,
    formats: Sequence[str] = FORMATS,
    paper: str = "A4",
    units: str = "mm",
) -> dict[str, bytes]:
    """Name and content of the files of some templates; see `write_template`.

    Parameters
    ----------
    templates : mapping of the name without ending to DrillTemplate
    formats, paper, units
    """
    make: dict[str, Callable[[DrillTemplate], bytes]] = {
        "pdf": lambda template: template_pdf(template, paper=paper),
        "svg": template_svg,
        "dxf": lambda template: template_dxf(template, units=units),
    }
    return {
        f"{stem}.{kind}": make[kind](template)
        for stem, template in templates.items()
        for kind in formats
    }


def template_data(templates: Mapping[str, DrillTemplate]) -> dict[str, Any]:
    """What some templates say, for a program.

    Parameters
    ----------
    templates : mapping of the name without ending to DrillTemplate

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> made = drill_templates(isolator.read_brief(str(data_file("starter/case.toml"))))
    >>> template_data(made)["drill-template"]["holes"][0]["x_mm"]
    -160.0
    """
    return {
        stem: {
            "name": template.name,
            "datum": template.datum,
            "outline_mm": [template.length, template.width],
            "centre_of_gravity_mm": None if template.centre is None else list(template.centre),
            "holes": [
                {
                    "number": hole.number,
                    "mount": hole.mount,
                    "x_mm": hole.x,
                    "y_mm": hole.y,
                    "z_mm": hole.z,
                    "diameter_mm": hole.diameter,
                    "axis": hole.axis,
                }
                for hole in template.holes
            ],
            "notes": list(template.notes),
        }
        for stem, template in templates.items()
    }


# What is drawn, whatever it is drawn with.


@dataclass(frozen=True)
class _Line:
    layer: str
    points: Sequence[Point]
    closed: bool = False


@dataclass(frozen=True)
class _Circle:
    layer: str
    at: Point
    radius: float


@dataclass(frozen=True)
class _Words:
    """Words whose line begins at a point."""

    layer: str
    at: Point
    text: str
    height: float = TEXT

    def box(self) -> Box:
        x, y = self.at
        return x, x + text_width(self.text, self.height), y - 0.25 * self.height, y + self.height


_Mark: TypeAlias = _Line | _Circle | _Words


@contextmanager
def _plain_style() -> Iterator[None]:
    """Matplotlib as it comes, whatever the user has set; a sign that the font lacks is a box."""
    from matplotlib import rc_context
    from matplotlib.style import context

    with context("default"), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        with rc_context({"pdf.fonttype": 42, "path.simplify": False}):
            yield


@cache
def text_width(text: str, height: float) -> float:
    """Width of a line of letters of a height. [mm]"""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    with _plain_style():
        prop = FontProperties(family="DejaVu Sans", size=height / POINT)
        points, _, _ = text_to_path.get_text_width_height_descent(text, prop, False)
    return float(points) * POINT


def _clean(text: str) -> str:
    """A user's text on one line: signs that print nothing, or turn the rest round, as blanks."""
    blank = "".join(" " if unicodedata.category(sign)[0] == "C" else sign for sign in text)
    return " ".join(blank.split())


def fitted(text: str, width: float, height: float = TEXT) -> str:
    """A user's text on one line, shortened with an ellipsis only where it does not fit.

    Parameters
    ----------
    text : str
    width, height : float
        Room for the line, height of its letters. [mm]

    Examples
    --------
    >>> fitted("soft ring", 40.0), fitted("soft ring " * 20, 40.0)
    ('soft ring', 'soft ring soft ring soft ring…')
    """
    text = _clean(text)
    if text_width(text, height) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = text_width(f"{text[:middle].rstrip()}…", height) <= width
        low, high = (middle, high) if fits else (low, middle - 1)
    return f"{text[:low].rstrip()}…"


def _cross(layer: str, at: Point, arm: float, *, turned: bool = False) -> Iterator[_Line]:
    x, y = at
    for a, b in ((1, 1), (1, -1)) if turned else ((1, 0), (0, 1)):
        yield _Line(layer, ((x - arm * a, y - arm * b), (x + arm * a, y + arm * b)))


def _drawn(template: DrillTemplate) -> list[_Mark]:
    """Outline, holes, centre of gravity and datum, with words where nothing else is."""
    half = template.length / 2, template.width / 2
    corners = [(-half[0], -half[1]), (half[0], -half[1]), half, (-half[0], half[1])]
    marks: list[_Mark] = [_Line(OUTLINE, corners, closed=True)]
    marks += _cross(DATUM, (0.0, 0.0), 8.0)
    sides = list(_sides(half))
    marks += sides
    wanted: list[tuple[Point, float, str, float]] = [
        ((0.0, 0.0), 1.0, f"datum: {template.datum}", SMALL)
    ]
    taken: list[Box] = [(-8.0, 8.0, -0.5, 0.5), (-0.5, 0.5, -8.0, 8.0)]
    taken += [words.box() for words in sides]
    taken += _edges(template)
    spots: dict[tuple[Point, str], tuple[list[str], float]] = {}
    for hole in template.holes:
        at = (hole.x, hole.y)
        radius = (hole.diameter or 0.0) / 2 if hole.from_above else 0.0
        numbers, _ = spots.setdefault((at, hole.words), ([], radius))
        numbers.append(str(hole.number))
    for (at, words), (numbers, radius) in spots.items():
        if radius:
            marks.append(_Circle(HOLES, at, radius))
        marks += _cross(CENTRES, at, 4.0)
        reach = max(radius, 4.0)
        taken.append((at[0] - reach, at[0] + reach, at[1] - reach, at[1] + reach))
        wanted.append((at, reach, f"{', '.join(numbers)}: {words}", TEXT))
    if template.centre is not None:
        marks += [_Circle(GRAVITY, template.centre, 3.0)]
        marks += _cross(GRAVITY, template.centre, 5.0, turned=True)
        x, y = template.centre
        taken.append((x - 5, x + 5, y - 5, y + 5))
        wanted.append((template.centre, 5.0, "centre of gravity", SMALL))
    for at, reach, text, height in sorted(wanted, key=lambda item: -item[3]):
        placed = _placed(at, reach, text, height, taken)
        taken.append(placed.box())
        marks.append(placed)
    return marks


def _edges(template: DrillTemplate) -> list[Box]:
    """The four lines of the outline."""
    x, y = template.length / 2, template.width / 2
    upright = [(side - 0.4, side + 0.4, -y, y) for side in (-x, x)]
    return upright + [(-x, x, side - 0.4, side + 0.4) for side in (-y, y)]


def _sides(half: Point) -> Iterator[_Words]:
    """The names of the four sides, inside of the outline."""
    for text, y in (("handle side (−y)", 2.0 - half[1]), ("hinge side (+y)", half[1] - TEXT - 2)):
        yield _Words(WORDS, (-text_width(text, TEXT) / 2, y), text)
    for text, x in (
        ("left end (−x)", 2.0 - half[0]),
        ("right end (+x)", half[0] - 2 - text_width("right end (+x)", TEXT)),
    ):
        yield _Words(WORDS, (x, -TEXT / 2), text)


def _placed(at: Point, reach: float, text: str, height: float, taken: Sequence[Box]) -> _Words:
    """Words beside a mark, at the first of some places where nothing else is."""
    (x, y), width, tall = at, text_width(text, height), 1.4 * height
    places: list[Point] = []
    for far in range(6):
        right, left = x + reach + 1.5, x - reach - 1.5 - width
        for up in (0, far, -far):
            places += [(right, y - height / 2 + up * tall), (left, y - height / 2 + up * tall)]
        above, below = y + reach + 1.5 + far * tall, y - reach - 1.5 - height - far * tall
        places += [(x - width / 2, above), (x - width / 2, below)]
    tried = [_Words(WORDS, place, text, height) for place in places]
    return next((w for w in tried if not any(_meet(w.box(), b) for b in taken)), tried[0])


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]


def _bars(at: Point) -> Iterator[_Mark]:
    """The bars that prove the print: 100 mm and 4 in, to the right of a point and up from it."""
    x, y = at
    for long, steps, up, words in ((100.0, 10, 0.0, "100 mm"), (101.6, 8, 8.0, "4 in")):
        low = y + up
        yield _Line(BAR, ((x, low), (x + long, low)))
        for n in range(steps + 1):
            tall = 4.0 if n in (0, steps) else 2.0
            yield _Line(BAR, ((x + n * long / steps, low), (x + n * long / steps, low + tall)))
        yield _Words(BAR, (x + 104.0, low), words)


def _rows(template: DrillTemplate) -> Iterator[tuple[str, ...]]:
    """The list of holes: number, mount, x, y, what to drill."""
    yield "", "mount", "x mm", "y mm", ""
    for hole in template.holes:
        first, *more = _wrapped(hole.mount, COLUMNS[2] - COLUMNS[1] - 2)
        yield str(hole.number), first, f"{hole.x:.5g}", f"{hole.y:.5g}", hole.words
        for line in more:
            yield "", line, "", "", ""


COLUMNS = (0.0, 9.0, 92.0, 108.0, 124.0)
"""Where the columns of the list begin. [mm]"""

STEP = 5.0
"""From line to line. [mm]"""


def _row(row: Sequence[str], at: Point) -> Iterator[_Words]:
    for text, begin in zip(row, COLUMNS, strict=True):
        if text:
            yield _Words(WORDS, (at[0] + begin, at[1]), text)


TRUE = "1:1. Print at 100 %, not fitted to the page, and measure a bar before you drill."
ABOVE = "Seen from above, in mm from"
WHICH = (
    "A diameter is for the panel that carries the mount; the part on its other side is drilled at "
    "the same place, for the mount's bolt or stud."
)


def _title(template: DrillTemplate) -> str:
    return f"Drill template: {template.name or 'A case without a name'}"


def _head(template: DrillTemplate, width: float) -> list[str]:
    """What stands over the list of holes, the whole name and which part is drilled."""
    lines = (_title(template), TRUE, f"{ABOVE} {template.datum}.", WHICH)
    return [part for line in lines for part in _wrapped(line, width)]


def _wrapped(text: str, width: float) -> Iterator[str]:
    """A text as lines of a width at the most. [mm]"""
    line = ""
    for word in _clean(text).split(" "):
        longer = f"{line} {word}".strip()
        if line and text_width(longer, TEXT) > width:
            yield line
            longer = word
        while text_width(longer, TEXT) > width:
            most = max(len(fitted(longer, width)) - 1, 1)
            yield longer[:most]
            longer = longer[most:]
        line = longer
    yield line


def _with_list(template: DrillTemplate) -> list[_Mark]:
    """The drawing with bars, list and notes below it, for a sheet without pages."""
    marks = _drawn(template)
    left, _, bottom, _ = _extent(marks)
    y = bottom - 20.0
    marks += _bars((left, y))
    for line in _head(template, 160.0):
        y -= 2 * STEP if line.startswith("Drill template: ") else STEP
        marks.append(_Words(WORDS, (left, y), line))
    y -= STEP
    for row in _rows(template):
        y -= STEP
        marks += _row(row, (left, y))
    for note in template.notes:
        for line in _wrapped(note, 160.0):
            y -= STEP
            marks.append(_Words(WORDS, (left, y), line))
    return marks


def _around(mark: _Mark) -> Box:
    if isinstance(mark, _Words):
        return mark.box()
    if isinstance(mark, _Circle):
        (x, y), r = mark.at, mark.radius
        return x - r, x + r, y - r, y + r
    xs, ys = zip(*mark.points, strict=True)
    return min(xs), max(xs), min(ys), max(ys)


def _extent(marks: Sequence[_Mark]) -> Box:
    left, right, bottom, top = zip(*map(_around, marks), strict=True)
    return min(left), max(right), min(bottom), max(top)


# SVG


def template_svg(template: DrillTemplate) -> bytes:
    """The template as SVG in mm: a group for each layer, circles as circles, names as text.

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> brief = isolator.read_brief(str(data_file("starter/case.toml")))
    >>> template_svg(drill_template(brief.design)).decode().count("<circle")
    1
    """
    marks = _with_list(template)
    left, right, bottom, top = _extent(marks)
    left, right, bottom, top = left - MARGIN, right + MARGIN, bottom - MARGIN, top + MARGIN
    wide, tall = _plain(right - left), _plain(top - bottom)
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{tall}mm" '
        f'viewBox="{_plain(left)} {_plain(-top)} {wide} {tall}">',
        f"<title>{escape(_clean(template.name))}</title>",
    ]
    for layer in LAYERS:
        out.append(
            f'<g id={quoteattr(layer.replace(" ", "-"))} fill="none" stroke="black" '
            'stroke-width="0.2">'
        )
        out += [_as_svg(mark) for mark in marks if mark.layer == layer]
        out.append("</g>")
    return "\n".join([*out, "</svg>", ""]).encode()


def _plain(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".") if round(value, 6) else "0"


def _as_svg(mark: _Mark) -> str:
    if isinstance(mark, _Circle):
        x, y = mark.at
        return f'<circle cx="{_plain(x)}" cy="{_plain(-y)}" r="{_plain(mark.radius)}"/>'
    if isinstance(mark, _Line):
        points = " ".join(f"{_plain(x)},{_plain(-y)}" for x, y in mark.points)
        return f'<{"polygon" if mark.closed else "polyline"} points="{points}"/>'
    x, y = mark.at
    return (
        f'<text x="{_plain(x)}" y="{_plain(-y)}" font-family="DejaVu Sans, sans-serif" '
        f'font-size="{mark.height}" fill="black" stroke="none">{escape(mark.text)}</text>'
    )


# DXF


def template_dxf(template: DrillTemplate, *, units: str = "mm") -> bytes:
    """The template as DXF (AC1024) in mm or inches.

    Layers: holes (circles alone, for the router), hole centres, outline, centre of gravity, datum,
    scale bar, words.

    Raises
    ------
    InputError
        No such unit.
    """
    if units not in UNITS:
        raise InputError(f"units = {units!r}: write one of {', '.join(UNITS)}")
    from ezdxf import options  # type: ignore[attr-defined]
    from ezdxf import units as dxf_units
    from ezdxf.filemanagement import new

    scale = 1 / UNITS[units]
    stamped = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # equal designs give equal bytes
    try:
        doc = new("R2010")
        doc.units = dxf_units.MM if units == "mm" else dxf_units.IN
        doc.header["$MEASUREMENT"] = int(units == "mm")
        for layer in LAYERS:
            doc.layers.add(layer)
        space = doc.modelspace()
        for mark in _with_list(template):
            attribs = {"layer": mark.layer}
            if isinstance(mark, _Circle):
                x, y = mark.at
                space.add_circle((scale * x, scale * y), scale * mark.radius, dxfattribs=attribs)
            elif isinstance(mark, _Line):
                points = [(scale * x, scale * y) for x, y in mark.points]
                space.add_lwpolyline(points, close=mark.closed, dxfattribs=attribs)
            else:
                x, y = mark.at
                height = 0.72 * scale * mark.height  # of capitals
                text = space.add_text(_as_dxf(mark.text), height=height, dxfattribs=attribs)
                text.set_placement((scale * x, scale * y))
        for hole in template.holes:
            space.add_point((scale * hole.x, scale * hole.y), dxfattribs={"layer": CENTRES})
        for kind in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(kind)  # in an order of ours: it has them as a set
        out = io.StringIO()
        doc.write(out)
    finally:
        options.write_fixed_meta_data_for_testing = stamped
    return out.getvalue().encode("utf-8")


def _as_dxf(text: str) -> str:
    """A text in which %% and ^ mean nothing but themselves."""
    return text.replace("%%", "%%%%%%").replace("^", "^ ")


# PDF


def template_pdf(template: DrillTemplate, *, paper: str = "A4") -> bytes:
    """The template as PDF at 1:1, the list of holes on a page of its own at the end.

    On A4 or Letter what is larger than one sheet is cut into sheets that share a strip of 10 mm
    with crosses, which are laid over each other. Every sheet has its bars, 100 mm and 4 in.

    Parameters
    ----------
    template : DrillTemplate
    paper : "A4", "Letter" or "one sheet"
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
    with _plain_style():
        marks = _drawn(template)
        sheet, across, down = _cut(_extent(marks), paper)
        begin = _begun(template, marks, _window(sheet), (across, down))
        out = io.BytesIO()
        title = f"Drill template: {_clean(template.name)}".strip(": ")
        with PdfPages(out, metadata={"CreationDate": None, "Title": title}) as pages:
            for row in range(down):
                for column in range(across):
                    figure = Figure(figsize=(sheet[0] / 25.4, sheet[1] / 25.4))
                    _tile(figure, template, marks, sheet, (across, down), (column, row), begin)
                    pages.savefig(figure)
            small = PAPERS.get(paper, PAPERS["A4"])
            for figure in _list_pages(template, small):
                pages.savefig(figure)
    return out.getvalue()


def _cut(extent: Box, paper: str) -> tuple[Point, int, int]:
    """Width and height of a sheet, and how many side by side and one above the other."""
    left, right, bottom, top = extent
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


def _over(at: Point, which: tuple[int, int]) -> list[_Mark]:
    """A cross that is laid over its equal of another sheet, with its name."""
    name = f"{which[0]}/{which[1]}"
    return [*_cross(WORDS, at, 4.0), _Words(WORDS, (at[0] + 0.8, at[1] + 0.8), name, 1.8)]


def _begun(
    template: DrillTemplate, marks: Sequence[_Mark], room: Point, counts: tuple[int, int]
) -> Point:
    """Where the sheets begin: with the drawing in their middle.

    Of several, the nearest place to that where every mark and word is whole on one sheet, no cross
    lies on one of them, nor its name on the outline; the one with the fewest exceptions if there
    is none.
    """
    left, right, bottom, top = _extent(marks)
    steps = [own - OVERLAP for own in room]
    spare = [n * step + OVERLAP for n, step in zip(counts, steps, strict=True)]
    spare = [spare[0] - (right - left), spare[1] - (top - bottom)]
    if counts == (1, 1):
        return left - spare[0] / 2, bottom - spare[1] / 2
    busy = [_around(mark) for mark in marks if mark.layer != OUTLINE]
    corners = [(i, j) for i in range(counts[0] + 1) for j in range(counts[1] + 1)]
    crosses = [_over((i * steps[0], j * steps[1]), (i + 1, j + 1)) for i, j in corners]
    alone = [(_extent(cross), own) for cross in crosses for own in busy]
    alone += [(_around(cross[-1]), own) for cross in crosses for own in _edges(template)]

    def whole(low: float, high: float, begin: float, k: int) -> bool:
        starts = (begin + n * steps[k] for n in range(counts[k]))
        return any(start <= low and high <= start + room[k] for start in starts)

    def spoiled(begin: Point) -> int:
        x, y = begin[0] + OVERLAP / 2, begin[1] + OVERLAP / 2
        crossed = sum(_meet((a + x, b + x, c + y, d + y), own) for (a, b, c, d), own in alone)
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
    marks: Sequence[_Mark],
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
    title = fitted(_title(template), sheet[0] - 2 * MARGIN)
    for n, line in enumerate((title, TRUE)):
        _paint(foot, [_Words(WORDS, (MARGIN, MARGIN + 26 - n * 4.5), line)])
    _paint(foot, _bars((MARGIN, MARGIN)))
    beside = [f"{ABOVE} the datum."]
    if count > 1:
        number = which[1] * counts[0] + which[0] + 1
        beside = [f"sheet {number} of {count}", "lay equal crosses", "over each other"]
    for n, line in enumerate(beside):
        _paint(foot, [_Words(WORDS, (MARGIN + 122, MARGIN + 12 - n * 4.5), line, SMALL)])


def _list_pages(template: DrillTemplate, sheet: Point) -> Iterator[Figure]:
    """The list of holes and the notes, with bars on every page."""
    from matplotlib.figure import Figure

    width = sheet[0] - 2 * MARGIN
    lines: list[list[_Words]] = []
    lines += [[_Words(WORDS, (MARGIN, 0.0), text)] for text in _head(template, width)]
    lines += [[]]
    lines += [list(_row(row, (MARGIN, 0.0))) for row in _rows(template)]
    lines += [[]]
    for note in template.notes:
        lines += [[_Words(WORDS, (MARGIN, 0.0), text)] for text in _wrapped(note, width)]
    most = int((sheet[1] - 2 * MARGIN - 20.0) / STEP)
    for begin in range(0, len(lines), most):
        figure = Figure(figsize=(sheet[0] / 25.4, sheet[1] / 25.4))
        ax = _axes(figure, sheet, (0.0, sheet[0], 0.0, sheet[1]), (0.0, 0.0))
        _paint(ax, _bars((MARGIN, MARGIN)))
        for n, line in enumerate(lines[begin : begin + most]):
            y = sheet[1] - MARGIN - (n + 1) * STEP
            _paint(ax, [_Words(w.layer, (w.at[0], y), w.text, w.height) for w in line])
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


def _paint(ax: Axes, marks: Sequence[_Mark] | Iterator[_Mark] | Iterator[_Line]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Circle

    for mark in marks:
        style = {"color": "black", **STYLES[mark.layer]}
        if isinstance(mark, _Circle):
            ax.add_patch(Circle(mark.at, mark.radius, fill=False, gid=mark.layer, **style))
        elif isinstance(mark, _Line):
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

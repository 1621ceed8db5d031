"""What is drawn of a drill template, whatever it is drawn with: lines, circles, words by layer.

All lengths are in mm, x to the right and y upwards, from the middle of the payload's box.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from isolator.template.holes import DrillTemplate, Point
from isolator.template.letters import SMALL, TEXT, text_width, wrapped

Box: TypeAlias = tuple[float, float, float, float]
"""Left, right, bottom, top. [mm]"""

MARGIN = 10.0
"""White around the drawing; no printer reaches further. [mm]"""

HOLES, CENTRES, OUTLINE = "holes", "hole centres", "outline"
GRAVITY, DATUM, BAR, WORDS = "centre of gravity", "datum", "scale bar", "words"
LAYERS = (HOLES, CENTRES, OUTLINE, GRAVITY, DATUM, BAR, WORDS)


@dataclass(frozen=True)
class Line:
    """A line through points."""

    layer: str
    points: Sequence[Point]
    closed: bool = False


@dataclass(frozen=True)
class Circle:
    """A circle about a point."""

    layer: str
    at: Point
    radius: float


@dataclass(frozen=True)
class Words:
    """Words whose line begins at a point."""

    layer: str
    at: Point
    text: str
    height: float = TEXT

    def box(self) -> Box:
        """Room that they take."""
        x, y = self.at
        return x, x + text_width(self.text, self.height), y - 0.25 * self.height, y + self.height


Mark: TypeAlias = Line | Circle | Words


def cross(layer: str, at: Point, arm: float, *, turned: bool = False) -> Iterator[Line]:
    """Two lines through a point, upright or turned by 45°."""
    x, y = at
    for a, b in ((1, 1), (1, -1)) if turned else ((1, 0), (0, 1)):
        yield Line(layer, ((x - arm * a, y - arm * b), (x + arm * a, y + arm * b)))


def drawn(template: DrillTemplate) -> list[Mark]:
    """Outline, holes, centre of gravity and datum, with words where nothing else is."""
    half = template.length / 2, template.width / 2
    corners = [(-half[0], -half[1]), (half[0], -half[1]), half, (-half[0], half[1])]
    marks: list[Mark] = [Line(OUTLINE, corners, closed=True)]
    marks += cross(DATUM, (0.0, 0.0), 8.0)
    sides = list(_sides(half))
    marks += sides
    wanted: list[tuple[Point, float, str, float]] = [
        ((0.0, 0.0), 1.0, f"datum: {template.datum}", SMALL)
    ]
    taken: list[Box] = [(-8.0, 8.0, -0.5, 0.5), (-0.5, 0.5, -8.0, 8.0)]
    taken += [words.box() for words in sides]
    taken += edges(template)
    spots: dict[tuple[Point, str], tuple[list[str], float]] = {}
    for hole in template.holes:
        at = (hole.x, hole.y)
        radius = (hole.diameter or 0.0) / 2 if hole.from_above else 0.0
        numbers, _ = spots.setdefault((at, hole.words), ([], radius))
        numbers.append(str(hole.number))
    for (at, words), (numbers, radius) in spots.items():
        if radius:
            marks.append(Circle(HOLES, at, radius))
        marks += cross(CENTRES, at, 4.0)
        reach = max(radius, 4.0)
        taken.append((at[0] - reach, at[0] + reach, at[1] - reach, at[1] + reach))
        wanted.append((at, reach, f"{', '.join(numbers)}: {words}", TEXT))
    if template.centre is not None:
        marks += [Circle(GRAVITY, template.centre, 3.0)]
        marks += cross(GRAVITY, template.centre, 5.0, turned=True)
        x, y = template.centre
        taken.append((x - 5, x + 5, y - 5, y + 5))
        wanted.append((template.centre, 5.0, "centre of gravity", SMALL))
    for at, reach, text, height in sorted(wanted, key=lambda item: -item[3]):
        placed = _placed(at, reach, text, height, taken)
        taken.append(placed.box())
        marks.append(placed)
    return marks


def edges(template: DrillTemplate) -> list[Box]:
    """The four lines of the outline."""
    x, y = template.length / 2, template.width / 2
    upright = [(side - 0.4, side + 0.4, -y, y) for side in (-x, x)]
    return upright + [(-x, x, side - 0.4, side + 0.4) for side in (-y, y)]


def _sides(half: Point) -> Iterator[Words]:
    """The names of the four sides, inside of the outline."""
    for text, y in (("handle side (−y)", 2.0 - half[1]), ("hinge side (+y)", half[1] - TEXT - 2)):
        yield Words(WORDS, (-text_width(text, TEXT) / 2, y), text)
    for text, x in (
        ("left end (−x)", 2.0 - half[0]),
        ("right end (+x)", half[0] - 2 - text_width("right end (+x)", TEXT)),
    ):
        yield Words(WORDS, (x, -TEXT / 2), text)


def _placed(at: Point, reach: float, text: str, height: float, taken: Sequence[Box]) -> Words:
    """Words beside a mark, at the first of some places where nothing else is."""
    (x, y), width, tall = at, text_width(text, height), 1.4 * height
    places: list[Point] = []
    for far in range(6):
        right, left = x + reach + 1.5, x - reach - 1.5 - width
        for up in (0, far, -far):
            places += [(right, y - height / 2 + up * tall), (left, y - height / 2 + up * tall)]
        above, below = y + reach + 1.5 + far * tall, y - reach - 1.5 - height - far * tall
        places += [(x - width / 2, above), (x - width / 2, below)]
    tried = [Words(WORDS, place, text, height) for place in places]
    return next((w for w in tried if not any(meet(w.box(), b) for b in taken)), tried[0])


def meet(one: Box, other: Box) -> bool:
    """Whether two boxes have room in common."""
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]


def bars(at: Point) -> Iterator[Mark]:
    """The bars that prove the print: 100 mm and 4 in, to the right of a point and up from it."""
    x, y = at
    for long, steps, up, words in ((100.0, 10, 0.0, "100 mm"), (101.6, 8, 8.0, "4 in")):
        low = y + up
        yield Line(BAR, ((x, low), (x + long, low)))
        for n in range(steps + 1):
            tall = 4.0 if n in (0, steps) else 2.0
            yield Line(BAR, ((x + n * long / steps, low), (x + n * long / steps, low + tall)))
        yield Words(BAR, (x + 104.0, low), words)


COLUMNS = (0.0, 9.0, 78.0, 94.0, 110.0, 126.0)
"""Where the columns of the list begin. [mm]"""

STEP = 5.0
"""From line to line. [mm]"""

TRUE = "1:1. Print at 100 %, not fitted to the page, and measure a bar before you drill."


ABOVE = "Seen from above, in mm from"
WHICH = (
    "A diameter is for the panel that carries the mount; the part on its other side is drilled at "
    "the same place, for the mount's bolt or stud."
)


def title_of(template: DrillTemplate) -> str:
    """What it is called."""
    return f"Drill template: {template.name or 'A case without a name'}"


def head(template: DrillTemplate, width: float) -> list[str]:
    """What stands over the list of holes, the whole name and which part is drilled."""
    lines = (title_of(template), TRUE, f"{ABOVE} {template.datum}.", *template.placing, WHICH)
    return [part for line in lines for part in wrapped(line, width)]


def rows_of_holes(template: DrillTemplate) -> Iterator[tuple[str, ...]]:
    """The list of holes: number, mount, x, y, z, what to drill."""
    yield "no.", "mount", "x [mm]", "y [mm]", "z [mm]", "drill"
    for hole in template.holes:
        first, *more = wrapped(hole.mount, COLUMNS[2] - COLUMNS[1] - 2)
        at = (f"{v:.5g}".replace("-", "−") for v in (hole.x, hole.y, hole.z))
        yield str(hole.number), first, *at, hole.words
        for line in more:
            yield "", line, "", "", "", ""


def row_marks(row: Sequence[str], at: Point) -> Iterator[Words]:
    """A row of that list, from a point on."""
    for text, begin in zip(row, COLUMNS, strict=True):
        if text:
            yield Words(WORDS, (at[0] + begin, at[1]), text)


def with_list(template: DrillTemplate) -> list[Mark]:
    """The drawing with bars, list and notes below it, for a sheet without pages."""
    marks = drawn(template)
    left, _, bottom, _ = extent(marks)
    y = bottom - 20.0
    marks += bars((left, y))
    for line in head(template, 160.0):
        y -= 2 * STEP if line.startswith("Drill template: ") else STEP
        marks.append(Words(WORDS, (left, y), line))
    y -= STEP
    for row in rows_of_holes(template):
        y -= STEP
        marks += row_marks(row, (left, y))
    for note in template.notes:
        for line in wrapped(note, 160.0):
            y -= STEP
            marks.append(Words(WORDS, (left, y), line))
    return marks


def around(mark: Mark) -> Box:
    """The box around a mark."""
    if isinstance(mark, Words):
        return mark.box()
    if isinstance(mark, Circle):
        (x, y), r = mark.at, mark.radius
        return x - r, x + r, y - r, y + r
    xs, ys = zip(*mark.points, strict=True)
    return min(xs), max(xs), min(ys), max(ys)


def extent(marks: Sequence[Mark]) -> Box:
    """The box around all marks."""
    left, right, bottom, top = zip(*map(around, marks), strict=True)
    return min(left), max(right), min(bottom), max(top)

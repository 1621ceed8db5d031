"""The build sheet as blocks, in order: HTML and PDF are made of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any, NamedTuple

from isolator import figures
from isolator.assessment import Assessment
from isolator.buildsheet import BuildSheet, KindOfMount, Predicted, build_sheet
from isolator.cautions import cautions
from isolator.design import MAIN
from isolator.report.document import Block, Drawing, facts_of
from isolator.report.paper import AXES_ARE, CAUTION, Grid, Ticks, title
from isolator.report.words import verdict_sentence
from isolator.units import refuse_other

STACK = 104.0, 80.0
"""Width and height of a mount in section. [mm]"""

BOX = "☐"
"""To tick."""

BLANK = ""
"""To be written by hand."""


class Fitted(NamedTuple):
    """A kind of mount: its drawing, and what stands beside it."""

    drawing: Block
    beside: Sequence[Block]


class Bench(NamedTuple):
    """What one body needs: how its mounts are fitted, what to do, numbers to measure."""

    title: str
    kinds: Sequence[Fitted]
    work: Sequence[Block]
    numbers: Sequence[Block]


@dataclass(frozen=True, kw_only=True)
class SheetPage:
    """The build sheet.

    Attributes
    ----------
    name, status, verdict : str
    facts : sequence of pairs of str
    benches : sequence of Bench
        Of each body; the main one first, without a title.
    axes, caution : str
    data : mapping
        All of it, for JSON.
    """

    name: str
    status: str
    verdict: str
    facts: Sequence[tuple[str, str]]
    benches: Sequence[Bench]
    axes: str
    caution: str
    data: Mapping[str, Any]


def sheet_page(assessment: Assessment) -> SheetPage:
    """Gather the build sheet of a case.

    Parameters
    ----------
    assessment : Assessment
        Of one design.

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> sheet = sheet_page(isolator.assess(str(data_file("starter/case.toml"))))
    >>> [block.title for block in sheet.benches[0].work][:2]
    ['Assembly: ring', 'Then']
    """
    refuse_other("assessment", assessment, Assessment, "an Assessment, as assess gives one")
    draw = Drawing()
    sheets = {
        name: build_sheet(assessment, None if name == MAIN else name)
        for name in assessment.bodies()
    }
    facts = facts_of(assessment)
    return SheetPage(
        name=f"Build sheet: {title(assessment)}",
        status=assessment.status,
        verdict=verdict_sentence(assessment, below=False),
        facts=list(facts.items()),
        benches=[
            Bench(
                "" if name == MAIN else name,
                [_fitted(sheet, kind, draw) for kind in sheet.kinds],
                list(_work(sheet)),
                list(_numbers(sheet)),
            )
            for name, sheet in sheets.items()
        ],
        axes=AXES_ARE,
        caution=f"{_cautions(assessment)}{CAUTION}",
        data={
            "name": assessment.design.name,
            "status": assessment.status,
            **facts,
            "bodies": {name: _data(sheet) for name, sheet in sheets.items()},
        },
    )


def _cautions(assessment: Assessment) -> str:
    names = "; ".join(one.name for one in cautions(assessment))
    return f"Cautions of this case, told in its report: {names}. " if names else ""


def _fitted(sheet: BuildSheet, kind: KindOfMount, draw: Drawing) -> Fitted:
    numbers = ", ".join(map(str, kind.numbers))
    fit = Grid(
        f"{kind.count} × {kind.name}: mounts {numbers}",
        ["", "what", "as built"],
        list(_as_built(kind)),
    )
    way = [kind.sleeve_way] if kind.sleeve_way else []
    fastened = [
        *(f"sleeve: {one}" for one in way),
        f"tighten: {kind.tightened}",
        f"lock: {kind.lock}",
        f"counter-hold: {kind.counter_hold}",
        f"captive: {kind.captive}",
    ]
    drawing = draw(f"{kind.name} in section", partial(figures.stack, sheet, kind=kind.name), *STACK)
    return Fitted(drawing, [fit, Ticks("Fastening", fastened)])


def _as_built(kind: KindOfMount) -> Iterator[list[str]]:
    """What is built has a row and a box, what such a mount has not a row together."""
    none: dict[str, list[str]] = {}
    for what, entry in kind.fit.items():
        if entry.absent:
            none.setdefault(entry.text, []).append(what)
        else:
            yield [BOX, what, entry.text]
    if kind.bolt:
        yield [BOX, "bolt", kind.bolt]
    for text, whats in none.items():
        yield ["", ", ".join(whats), text]


def _work(sheet: BuildSheet) -> Iterator[Block]:
    for kind in sheet.kinds:
        yield Ticks(f"Assembly: {kind.name}", kind.steps)
    yield Ticks("Then", sheet.order)
    yield Grid(
        "Loops: over the straight line between clamps",
        ["", "cable", "longer by"],
        [[BOX, loop.name, loop.slack.text] for loop in sheet.loops],
    )
    yield Ticks("Strap and dates", [f"strap: {sheet.strap}", f"look again: {sheet.recheck}"])
    yield Ticks("With the dummy", sheet.protocol)


def _numbers(sheet: BuildSheet) -> Iterator[Block]:
    """What the bench should read, with room for what it reads."""
    yield _predicted("Sag of each corner, lid up, 23 °C", "corner", sheet.sag)
    yield _predicted("A slow push at the centre of gravity", "along", sheet.push)
    yield Grid(
        "Modes: as a tap reads (small strain), and on a truck",
        ["mode", "tap [Hz]", "truck [Hz]", "measured"],
        [
            [tap.what, tap.number, truck.number, BLANK]
            for tap, truck in zip(sheet.tap, sheet.truck, strict=True)
        ],
    )
    yield Grid(
        "Contact all round: the gap as it hangs, lid up",
        ["", "face", "gap", "measured"],
        [[BOX, gap.what, gap.text, BLANK] for gap in sheet.contact],
    )
    yield Grid(
        "Dummy",
        ["what", "target", "measured"],
        [[one.what, one.text, BLANK] for one in sheet.dummy],
    )


def _predicted(name: str, of: str, predicted: Sequence[Predicted]) -> Grid:
    return Grid(
        name, [of, "predicted", "measured"], [[one.what, one.text, BLANK] for one in predicted]
    )


def _data(sheet: BuildSheet) -> dict[str, Any]:
    """The sheet of one body as JSON takes it."""
    kinds = [
        {
            **{key: value for key, value in asdict(kind).items() if key != "sizes"},
            "fit": {what: asdict(entry) for what, entry in kind.fit.items()},
        }
        for kind in sheet.kinds
    ]
    return {
        **asdict(sheet),
        "date": None if sheet.date is None else str(sheet.date),
        "rechecks": [str(day) for day in sheet.rechecks],
        "kinds": kinds,
    }

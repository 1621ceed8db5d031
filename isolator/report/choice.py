"""The page of a choice of mounts, and its numbers as data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.advice import Advice, advise
from isolator.brief import Brief
from isolator.report.paper import CAUTION, bullets, digits, table
from isolator.robust import Chance, chance
from isolator.siting import Siting, site
from isolator.sweep import candidate_of, choose, chosen
from isolator.units import MASS, STIFFNESS, InputError, refuse_other
from isolator.verdict import Status
from isolator.windows import Window, window

if TYPE_CHECKING:
    import pandas as pd

BEST = 3
"""How many are compared."""

STOCK = {True: "yes", False: "no", None: "not known"}

REASONS = 12
"""How many different reasons the page has, the commonest first."""

LIMITS = (
    "a design passes only where it was judged in full, at all that may be off and with its falls "
    "in time; the others were screened as stated, with falls by their energy, which may reject a "
    "design that its motion in time would just hold (--in-full judges more of them)",
    "the window and its stiffnesses scale the brief's own mounts along and across alike, and keep "
    "their travel and ratings",
)


@dataclass(frozen=True)
class Choice:
    """What `isolator choose` found.

    Attributes
    ----------
    brief : Brief
    table : DataFrame
        See `sweep.choose`.
    window : Window
    siting : Siting
        Better places for the mounts of the best design.
    advice : Advice or None
        What the nearest miss needs where nothing passes.
    chance : Chance or None
        How often the best one holds over all that may be off; None where that was not asked.
    """

    brief: Brief
    table: pd.DataFrame
    window: Window
    siting: Siting
    advice: Advice | None
    chance: Chance | None

    @property
    def status(self) -> Status:
        """That of the best design."""
        best = self.table.iloc[0]
        found: Mapping[str, Status] = {"pass": "pass", "incomplete": "incomplete"}
        return found.get(best["status"], "fail") if best["judged"] == "in full" else "fail"


def choice(brief: Brief, *, sure: bool = False, **more: Any) -> Choice:
    """Choose, look through the window, and advise where nothing passes.

    Parameters
    ----------
    brief : Brief
    sure : bool
        Draw what may be off of the best one too, see `robust.chance`.
    more
        As for `choose`.

    Raises
    ------
    InputError
        As `choose`; all designs are unusable.
    """
    refuse_other("brief", brief, Brief, "a Brief, as read_brief gives one")
    found = choose(brief, **more)
    row = found.iloc[0]
    if row["status"] == "unusable":
        reasons = found["reason"].value_counts().head(REASONS)
        raise InputError(
            *(f"choose: {n} of {len(found)} designs: {why}" for why, n in reasons.items())
        )
    best = chosen(brief, row["candidate"])
    return Choice(
        brief=brief,
        table=found,
        window=window(brief),
        siting=site(best),
        advice=advise(best) if row["status"] == "fail" else None,
        chance=chance(best) if sure else None,
    )


def choice_page(found: Choice) -> str:
    """The page that `isolator choose` prints."""
    name = found.brief.design.name or "A case without a name"
    blocks = [f"{name}: what to hang it on", fill(_first(found), 98)]
    if found.advice is not None:
        blocks.append(_advised(found.advice))
    blocks.append(_best(found))
    if found.table.iloc[0]["status"] != "fail":
        blocks.append(_snippet(found))
    if why := _rejected(found):
        blocks.append(why)
    blocks.append(_through_the_window(found.window))
    blocks.append(_places(found.siting))
    if found.chance is not None:
        blocks.append(_sure(found.chance))
    blocks.append(bullets("Limits of this page", LIMITS))
    blocks.append(fill(CAUTION, 98))
    return "\n\n".join(blocks)


def choice_data(found: Choice) -> dict[str, Any]:
    """The same as data, every design a row; None where something is unknown."""
    rows = found.table.astype(object).where(found.table.notna(), None)
    own, advice = found.window, found.advice
    return {
        "name": found.brief.design.name,
        "status": found.status,
        "designs": [_finite(row) for row in rows.to_dict("records")],
        "window": {
            "own_n_mm": own.own / 1e3,
            "left_n_mm": _in_mm(own.intervals(own.left)),
            "allowed_n_mm": {
                question: _in_mm(own.intervals(allowed))
                for question, allowed in own.allowed.items()
            },
            "opens_without_n_mm": {
                question: _in_mm(intervals) for question, intervals in own.opens().items()
            },
        },
        "nearest_miss": None
        if advice is None
        else {
            "makes": advice.makes,
            "still_failing": advice.failing,
            "needs": [step.words for step in advice.steps],
            "changes": {step.key: step.after for step in advice.steps},
        },
        "places": {
            "moves": found.siting.sentences(),
            "largest_load_over_fair_part": [found.siting.before.uneven, found.siting.after.uneven],
            "coupling": [found.siting.before.coupling, found.siting.after.coupling],
        },
        "chance": None if found.chance is None else _chance_data(found.chance),
        "limits": list(LIMITS),
    }


def _chance_data(own: Chance) -> dict[str, Any]:
    return {
        "passing": own.passing,
        "error": own.error,
        "draws": own.samples,
        "open": own.open,
        "mass_kg": None if own.mass is None else list(own.mass),
        "failing": dict(own.failing),
        "factors": [
            {
                "name": factor.name,
                "key": factor.key or None,
                "share": factor.share,
                "with_others": factor.total,
                "holds_if_as_stated": factor.if_nominal,
                "reads_a_failure": factor.off,
            }
            for factor in own.factors
        ],
    }


def _finite(row: Mapping[Any, Any]) -> dict[str, Any]:
    """A row without numbers that JSON does not have."""
    return {
        key: None if isinstance(value, float) and not np.isfinite(value) else value
        for key, value in row.items()
    }


def _in_mm(intervals: Sequence[tuple[float, float]]) -> list[list[float]]:
    return [[low / 1e3, high / 1e3] for low, high in intervals]


def _first(found: Choice) -> str:
    """How many were tried and what came of it."""
    grid, rows = found.brief.grid, found.table
    full = rows[rows["judged"] == "in full"]
    passing = int((full["status"] == "pass").sum())
    what = (
        f"{_count(len(rows), 'design')} tried: {_count(len(grid.mounts), 'kind')} of mounts, "
        f"{_count(len(grid.patterns), 'pattern')} of places, {_count(len(grid.stacking), 'way')} "
        f"to stack, up to {_count(grid.kinds, 'kind')} in one; {len(full)} judged in full. "
    )
    best = rows.iloc[0]
    if passing:
        return what + (
            f"PASS: {passing} of them {'holds' if passing == 1 else 'hold'} every required check; "
            f"the best is {_named(best)}, with "
            f"{best['margin']:.0%} left of {best['worst']}."
        )
    if best["status"] == "incomplete" and best["judged"] != "in full":
        return what + (
            f"INCOMPLETE: none that was judged in full passes. {_named(best)} may, by what was "
            "screened: judge more of them with --in-full."
        )
    if best["status"] == "incomplete":
        return what + (
            f"INCOMPLETE: nothing fails of {_named(best)}, but {best['open']} of its required "
            "checks are incomplete."
        )
    return what + (
        f"FAIL: none passes. The nearest miss is {_named(best)}: {best['worst']} lacks "
        f"{-best['margin']:.0%}."
    )


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'s' if number != 1 else ''}"


def _named(row: Any) -> str:
    """A design in words."""
    stacking = "" if row["stacking"] == "one" else f", {row['stacking']}"
    return f"{_kinds(row)}, pattern {row['pattern']}{stacking}"


def _kinds(row: Any) -> str:
    """Its kinds, each with how often it stands, in the order of the places."""
    kinds = list(candidate_of(row["candidate"]).kinds)
    if len(set(kinds)) == 1:
        return f"{len(kinds)} × {kinds[0]}"
    places = {name: [n for n, own in enumerate(kinds, start=1) if own == name] for name in kinds}
    return ", ".join(f"{name} at {' '.join(map(str, at))}" for name, at in places.items())


def _advised(advice: Advice) -> str:
    """What the nearest miss needs."""
    makes = {
        "pass": "then everything passes",
        "incomplete": "then nothing that is checked fails",
        "fail": f"then {_count(advice.failing, 'required check')} still "
        f"fail{'s' if advice.failing == 1 else ''}",
    }[advice.makes]
    lines = [step.words for step in advice.steps] or ["nothing that was tried helps"]
    return bullets(f"What the nearest miss needs ({makes}, judged in full)", lines)


def _best(found: Choice) -> str:
    """The best designs beside each other."""
    rows = found.table[found.table["judged"] != "unusable"].head(BEST)
    numbers = [row for _, row in rows.iterrows()]
    lines = [
        ("verdict", [f"{row['status']}, {row['judged']}" for row in numbers]),
        ("mounts", [_kinds(row) for row in numbers]),
        ("pattern", [row["pattern"] for row in numbers]),
        ("stacking", [row["stacking"] for row in numbers]),
        ("mounts in all", [str(row["count"]) for row in numbers]),
        ("least margin", [_share(row["margin"]) for row in numbers]),
        ("of the check", [row["worst"] or "?" for row in numbers]),
        ("fail / open", [f"{row['failing']} / {row['open']}" for row in numbers]),
        ("bounce [Hz]", [_digits(row["bounce_hz"]) for row in numbers]),
        ("a mount moves in a fall [mm]", [_digits(row["travel_mm"]) for row in numbers]),
        ("left under vibration", [_share(row["vibration_margin"]) for row in numbers]),
        ("left in falls, by energy", [_share(row["fall_margin"]) for row in numbers]),
        ("grade of the data", [row["grade"] or "not stated" for row in numbers]),
        ("in stock", [STOCK[row["in_stock"]] for row in numbers]),
    ]
    head = ["design", *(f"rank {row['rank']}" for row in numbers)]
    return table(f"The best {len(numbers)}", head, [[name, *own] for name, own in lines])


def _share(value: Any) -> str:
    return "?" if value is None or np.isnan(value) else f"{value:.0%}"


def _digits(value: Any) -> str:
    return digits(None if value is None or np.isnan(value) else float(value), 3)


def _snippet(found: Choice) -> str:
    """What to write in the brief for the best."""
    import tomli_w

    candidate = candidate_of(found.table.iloc[0]["candidate"])
    own = found.brief.grid.table(candidate, found.brief.text["mounts"])
    text = tomli_w.dumps({"mounts": own}, multiline_strings=False).strip()
    return "In the brief, for the best:\n\n" + "\n".join(
        f"    {line}".rstrip() for line in text.splitlines()
    )


def _rejected(found: Choice) -> str:
    """Why the others are not it: designs by the check that fails first."""
    rows = found.table[found.table["status"].isin(["fail", "unusable"])]
    if rows.empty:
        return ""
    groups: dict[str, list[Any]] = {}
    for _, row in rows.iterrows():
        groups.setdefault(row["first"] or row["reason"], []).append(row)
    ranked = sorted(groups.items(), key=lambda item: -len(item[1]))
    lines = []
    for first, own in ranked[:REASONS]:
        near = min(own, key=lambda row: np.inf if _unknown(row["by"]) else row["by"])
        by = "?" if _unknown(near["by"]) else f"{near['by']:.0%}"
        lines.append([str(len(own)), first, by, _named(near)])
    title = "Why not the others: the check of each that fails first, and the nearest by it"
    text = table(title, ["designs", "fails first", "nearest lacks", "nearest"], lines)
    if (more := len(ranked) - REASONS) > 0:
        text += f"\n  and {_count(more, 'other reason')}, see --out"
    return text


def _unknown(value: Any) -> bool:
    return value is None or not np.isfinite(value)


def _through_the_window(own: Window) -> str:
    """What each question allows along the stiffness."""
    lines = [
        f"{question}: {_ranges(own, own.intervals(allowed))}"
        for question, allowed in own.allowed.items()
        if not allowed.all()
    ]
    lines += [
        f"{question}, not settled (something is incomplete): {_ranges(own, own.intervals(unknown))}"
        for question, unknown in own.unsettled().items()
    ]
    left = own.intervals(own.left)
    lines.append(f"left, where nothing fails: {_ranges(own, left)}")
    lines += [
        f"without {question} it would be open: {_ranges(own, intervals)}"
        for question, intervals in own.opens().items()
    ]
    lines.append(f"mounts: {'; '.join(_bands(own))}")
    title = (
        f"The stiffness window: of one mount along, the brief's own {STIFFNESS.text(own.own)}, as "
        "stated"
    )
    return bullets(title, lines)


def _places(own: Siting) -> str:
    """Where the mounts of the best would share the load."""
    part = "its part by the rated loads" if own.by_rating else "the mean"
    loads = f"the largest load is {own.before.uneven:.3g} times {part}"
    coupled = f"the couplings of ways with turns are {own.before.coupling:.2g} at the most"
    lines = own.sentences()
    if not lines:
        return bullets("Where to put them", [f"they stay: {loads}, {coupled}"])
    lines.append(
        f"{loads} and would be {own.after.uneven:.3g}; {coupled} and would be "
        f"{own.after.coupling:.2g} (by the linear stiffness; assess the brief so changed)"
    )
    return bullets("Where to put them, if the tray allows", lines)


def _sure(own: Chance) -> str:
    """How sure the best is."""
    lines = [
        f"{own.passing:.0%} ± {own.error:.1%} of {own.samples} draws of all that may be off fail "
        "no required check, as designs are screened"
        + ("; in some of them a check is incomplete" if own.open else "")
    ]
    if own.mass is not None:
        lines.append(
            f"everything else as stated, the payload may weigh {MASS.text(own.mass[0])} to "
            f"{MASS.text(own.mass[1])}"
        )
    lines += [
        f"{factor.name}{f' ({factor.key})' if factor.key else ''}: {factor.share:.0%} of the "
        f"spread of the least margin alone, {factor.total:.0%} with others; if it reads as stated "
        f"{factor.if_nominal:.0%} do so, and {_odds(factor.off)} that it reads a failure"
        for factor in own.factors
    ]
    lines += [f"{name} fails in {often:.0%} of the draws" for name, often in own.failing.items()]
    return bullets("How sure the best one is", lines)


def _odds(share: float) -> str:
    return "there is no chance seen" if share == 0 else f"the chance is {share:.0%}"


def _ranges(own: Window, intervals: Sequence[tuple[float, float]]) -> str:
    """Intervals in words; their ends are as far as was looked."""
    if not intervals:
        return "nothing"
    lowest, highest = own.stiffness[0], own.stiffness[-1]
    out = []
    for low, high in intervals:
        if low <= lowest and high >= highest:
            out.append("anything")
        elif low <= lowest:
            out.append(f"up to {STIFFNESS.text(high)}")
        elif high >= highest:
            out.append(f"from {STIFFNESS.text(low)}")
        else:
            out.append(f"{STIFFNESS.text(low)} to {STIFFNESS.text(high)}")
    return " and ".join(out)


def _bands(own: Window) -> Iterator[str]:
    for band in own.bands:
        ends = ""
        if band.low < band.high:
            ends = f" ({STIFFNESS.text(band.low)} to {STIFFNESS.text(band.high)})"
        yield f"{band.name} {STIFFNESS.text(band.stated)}{ends}"

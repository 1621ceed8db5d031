"""A brief through the whole chain: the checks, the verdict, and the one change that helps most."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np

from isolator.brief import Brief, read_brief
from isolator.checks import Row, answer, ask, gravest, waiver
from isolator.design import Design
from isolator.fields import meant, shown
from isolator.inside import FACES
from isolator.response import Response, respond
from isolator.units import STIFFNESS, InputError
from isolator.verdict import Check, Status, whole

MOST_CHANGES = 64
"""How many changes of one value are tried at the most."""

FACTORS = (0.25, 0.4, 0.5, 0.63, 0.8, 1.25, 1.6, 2.0, 2.5, 4.0)
"""By which a stiffness of the brief is tried."""

MOST_TRIED_THROUGH = 8
"""How many of the best are tried beside the middle too, where mass or centre may be off."""

Score: TypeAlias = tuple[int, int, float]

_RANK: dict[Status, int] = {"pass": 0, "incomplete": 1, "fail": 2}


@dataclass(frozen=True, kw_only=True)
class Change:
    """One value of the brief, and what the verdict becomes with another one.

    Attributes
    ----------
    key : str
        ``mounts.place[3].mount``; numbers count from 1.
    before, after : as in the file
    makes : "pass", "fail" or "incomplete"
    failing : int
        Required checks that still fail.
    """

    key: str
    before: Any
    after: Any
    makes: Status
    failing: int


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """The verdict on a design.

    Attributes
    ----------
    design : Design
    brief : Brief or None
        Where the design came from, if from a brief.
    response : Response
        Arrays with one design; index 0.
    checks : sequence of Check
        Each at the variant of the design that decides it, see `Design.variants`.
    status : "pass", "fail" or "incomplete"
    change : Change or None
        None where nothing fails, where none of the changes tried helps, and without a brief.
    """

    design: Design
    brief: Brief | None
    response: Response
    checks: Sequence[Check]
    status: Status
    change: Change | None


def assess(case: Design | Brief | str | Path) -> Assessment:
    """Judge a case.

    Parameters
    ----------
    case : Design, Brief, or the path of a brief

    Raises
    ------
    InputError
        The brief is unusable; a line for each mistake.
    """
    brief = read_brief(case) if isinstance(case, str | Path) else case
    design = brief.design if isinstance(brief, Brief) else brief
    variants = design.variants()
    response = respond([design])
    tried = response if len(variants) == 1 else respond(variants)
    rows = ask(tried)
    _known(design, rows, f"{brief.file}: " if isinstance(brief, Brief) else "")
    deciding = gravest(rows, len(variants))[:, 0]
    checks = [answer(tried, row, int(i)) for row, i in zip(rows, deciding, strict=True)]
    status = whole(checks)
    change = None
    if status == "fail" and isinstance(brief, Brief):
        change = best_change(brief, tried, checks)
    return Assessment(
        design=design,
        brief=brief if isinstance(brief, Brief) else None,
        response=response,
        checks=checks,
        status=status,
        change=change,
    )


def _known(design: Design, rows: Sequence[Row], file: str) -> None:
    """Refuse a waiver that matches no check: it would be silently without effect."""
    parts = [row.id.split("/") for row in rows]
    known = {"/".join(p[:n]) for p in parts for n in range(1, len(p) + 1)}
    kinds = sorted({p[0] for p in parts})
    lines = [
        f'{file}not_required."{shown(key)[1:-1]}": this case has no check of that id; '
        f"{meant(key, sorted(known), kinds)}"
        for key in design.not_required
        if key not in known
    ]
    if lines:
        raise InputError(*lines)


def best_change(brief: Brief, now: Response, checks: Sequence[Check]) -> Change | None:
    """The change of one value that helps most, None if none of those tried helps much.

    Every candidate is judged by the same chain; what counts is first the status, then how many
    required checks fail, then the least margin. It helps much if it betters the verdict, or
    leaves at most half of the failing checks.
    """
    tried: list[tuple[str, Any, Any, Brief]] = []
    for key, before, after in islice(_candidates(brief, checks), MOST_CHANGES):
        try:
            tried.append((key, before, after, brief.changed(key, after)))
        except InputError:
            continue
    if not tried:
        return None
    designs = [changed.design for *_, changed in tried]
    rows, count = ask(now), len(now.designs)
    best, score = _best(designs, sorted({0, *gravest(rows, count)[:, 0].tolist()}))
    rank, failing, _ = _scores(now, rows, count)[0]
    if score[0] >= rank and score[1] > failing / 2:
        return None
    key, before, after, _ = tried[best]
    makes = next(status for status, rank in _RANK.items() if rank == score[0])
    return Change(key=key, before=before, after=after, makes=makes, failing=score[1])


def _best(designs: Sequence[Design], deciding: Sequence[int]) -> tuple[int, Score]:
    """Which design is best at its worst variant, and how it scores there.

    The designs are compared at the variants that decide the checks now. A design is its own first
    variant, so its score alone bounds the score of its worst from below: the designs are taken in
    that order until none that is left can be better. What the best one scores is that of all.
    """
    alone = [score for batch in _batches(designs) for score in _scores(batch, ask(batch), 1)]
    order = sorted(range(len(designs)), key=alone.__getitem__)
    found: list[tuple[Score, int]] = []
    for n in order[:MOST_TRIED_THROUGH]:
        if found and min(found)[0] <= alone[n]:
            break
        variants = designs[n].variants()
        found.append((_worst([variants[i] for i in deciding]) if deciding[1:] else alone[n], n))
    score, best = min(found)
    variants = designs[best].variants()
    return best, score if len(variants) == len(deciding) else _worst(variants)


def _worst(variants: Sequence[Design]) -> Score:
    """How a design scores at the worst of its variants."""
    response = respond(variants)
    (score,) = _scores(response, ask(response), len(variants))
    return score


def _batches(designs: Sequence[Design]) -> Iterator[Response]:
    """Responses of designs that may be stacked, few enough at a time for any memory."""
    for start in range(0, len(designs), 16):
        yield respond(designs[start : start + 16])


def _scores(response: Response, rows: Sequence[Row], variants: int) -> list[Score]:
    """Rank of the status, number of failing checks and minus the least margin, of each design.

    Each at the worst of its variants, which stand side by side in the batch.
    """
    alike = (-1, variants, len(rows))
    waived = np.array([[bool(waiver(d, row.id)) for row in rows] for d in response.designs])
    waived = waived.reshape(alike)[:, 0]
    status = np.array([row.status() for row in rows]).T.reshape(alike)
    left = np.array([np.nan_to_num(row.margin(), nan=np.inf) for row in rows]).T
    left = left.reshape(alike).min(axis=1)
    fails = ((status == "fail").any(axis=1) & ~waived).sum(axis=1)
    opens = ((status == "incomplete").any(axis=1) & ~waived).any(axis=1)
    rank = np.where(fails > 0, _RANK["fail"], np.where(opens, _RANK["incomplete"], _RANK["pass"]))
    least = np.where(waived, np.inf, left).min(axis=1)
    return [(int(r), int(f), -float(m)) for r, f, m in zip(rank, fails, least, strict=True)]


def _candidates(brief: Brief, checks: Sequence[Check]) -> Iterator[tuple[str, Any, Any]]:
    """Changes that a builder can make: another mount, other places, more room.

    The trip and what the payload survives are not the builder's to change.
    """
    for check in checks:
        kind, _, face = check.id.partition("/")
        given = brief.text["case"] if kind == "clearance" and face in FACES else {}
        key = face.replace(" ", "_")
        if key in given and check.status == "fail" and check.demand:
            yield f"case.{key}", given[key], f"{math.ceil(check.demand + 0.5)} mm"
    table = brief.text["mounts"]
    for name in brief.mounts if "use" in table else ():
        if name != table["use"]:
            yield "mounts.use", table["use"], name
    for name, row in brief.text.get("mount", {}).items():
        for way in ("along", "across"):
            if isinstance(row.get(way), str):
                now = STIFFNESS.read(row[way], way)
                for factor in FACTORS:
                    yield f"mount.{name}.{way}", row[way], STIFFNESS.text(now * factor)
    for name in brief.mounts:
        for n, place in enumerate(table.get("place", []), start=1):
            if place.get("mount", name) != name:
                yield f"mounts.place[{n}].mount", place["mount"], name

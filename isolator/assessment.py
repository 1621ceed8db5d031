"""A brief through the whole chain: the checks, the verdict, and the one change that helps most."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from isolator.brief import Brief, read_brief
from isolator.case import FACES
from isolator.checks import Row, answers, ask, waiver
from isolator.design import Design
from isolator.response import Response, respond
from isolator.units import STIFFNESS, InputError
from isolator.verdict import Check, Status, whole

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
    status : "pass", "fail" or "incomplete"
    change : Change or None
        None where nothing fails, where no change of one value helps, and without a brief.
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
    response = respond([design])
    checks = answers(response, ask(response), 0)
    status = whole(checks)
    change = None
    if status == "fail" and isinstance(brief, Brief):
        change = best_change(brief, response, checks)
    return Assessment(
        design=design,
        brief=brief if isinstance(brief, Brief) else None,
        response=response,
        checks=checks,
        status=status,
        change=change,
    )


def best_change(brief: Brief, now: Response, checks: Sequence[Check]) -> Change | None:
    """The change of one value that helps most, None if none helps.

    Every candidate is judged by the same chain; what counts is first the status, then how many
    required checks fail, then the least margin.
    """
    tried: list[tuple[str, Any, Any, Brief]] = []
    for key, before, after in _candidates(brief, checks):
        try:
            tried.append((key, before, after, brief.changed(key, after)))
        except InputError:
            continue
    if not tried:
        return None
    response = respond([changed.design for *_, changed in tried])
    rows = ask(response)
    scores = _scores(response, rows)
    best = min(range(len(tried)), key=scores.__getitem__)
    if scores[best][:2] >= _scores(now, ask(now))[0][:2]:
        return None
    key, before, after, _ = tried[best]
    makes = next(status for status, rank in _RANK.items() if rank == scores[best][0])
    return Change(key=key, before=before, after=after, makes=makes, failing=scores[best][1])


def _scores(response: Response, rows: Sequence[Row]) -> list[tuple[int, int, float]]:
    """Rank of the status, number of failing checks and minus the least margin, of each design."""
    waived = np.array([[bool(waiver(d, row.id)) for row in rows] for d in response.designs])
    status = np.array([row.status() for row in rows]).T
    left = np.array([np.nan_to_num(row.margin(), nan=np.inf) for row in rows]).T
    fails = ((status == "fail") & ~waived).sum(axis=1)
    opens = ((status == "incomplete") & ~waived).any(axis=1)
    rank = np.where(fails > 0, _RANK["fail"], np.where(opens, _RANK["incomplete"], _RANK["pass"]))
    least = np.where(waived, np.inf, left).min(axis=1)
    return [(int(r), int(f), -float(m)) for r, f, m in zip(rank, fails, least, strict=True)]


def _candidates(brief: Brief, checks: Sequence[Check]) -> Iterator[tuple[str, Any, Any]]:
    """Changes that a builder can make: another mount, other places, more room.

    The trip and what the payload survives are not the builder's to change.
    """
    table = brief.text["mounts"]
    if "use" in table:
        for name in brief.mounts:
            if name != table["use"]:
                yield "mounts.use", table["use"], name
    places = table.get("place", [])
    for n, place in enumerate(places, start=1):
        if "mount" not in place:
            continue
        for name in brief.mounts:
            if name != place["mount"]:
                yield f"mounts.place[{n}].mount", place["mount"], name
    for name, row in brief.text.get("mount", {}).items():
        for way in ("along", "across"):
            if isinstance(row.get(way), str):
                now = STIFFNESS.read(row[way], way)
                for factor in (0.25, 0.4, 0.5, 0.63, 0.8, 1.25, 1.6, 2.0, 2.5, 4.0):
                    yield f"mount.{name}.{way}", row[way], STIFFNESS.text(now * factor)
    for check in checks:
        kind, _, face = check.id.partition("/")
        if kind == "clearance" and face in FACES and check.status == "fail" and check.demand:
            key = face.replace(" ", "_")
            yield f"case.{key}", brief.text["case"][key], f"{math.ceil(check.demand + 0.5)} mm"

"""The bodies of a case before the checks: all variants, falls in time, conditions, one score."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from isolator.checks import Row, answer, ask_all, gravest, waiver
from isolator.design import MAIN, Design
from isolator.falls import followed
from isolator.payload import MASS_WITHIN
from isolator.response import Response, respond
from isolator.sensitivity import where_decided
from isolator.trip import Condition, Leg
from isolator.verdict import Check, Status, whole, worst

FEW = 16
"""So many variants are all followed in time."""

GRAVEST = 2
"""Of more, so many of the gravest by energy for each check."""

AS_GIVEN = "as given"
"""Name of the strip without a condition."""

NO_MORE = MASS_WITHIN.quantity(0.0)
"""What further bodies gain under a condition that makes the payload heavier."""

ROUNDED = ("corner radius", "floor radius")
"""Clearances whose numbers are no gaps."""

Score: TypeAlias = tuple[int, int, float]
"""How well a case does, the less the better: see `score_all`."""

RANK: dict[Status, int] = {"pass": 0, "incomplete": 1, "fail": 2}
"""Rank of a verdict, the less the better."""


@dataclass(frozen=True, kw_only=True)
class Strip:
    """The case under one condition, in short.

    Attributes
    ----------
    name : str
    status : "pass", "fail" or "incomplete"
    failing, incomplete : int
        Required checks.
    worst : Check or None
        The required check with the least margin.
    tried : mapping of name to Response
        As in `Assessment`.
    gap_left : float or None
        Least that is left of a gap; None if unknown. [mm]
    """

    name: str
    status: Status
    failing: int
    incomplete: int
    worst: Check | None
    tried: Mapping[str, Response]
    gap_left: float | None

    @classmethod
    def of(cls, name: str, tried: Mapping[str, Response], checks: Sequence[Check]) -> Strip:
        """What the checks say under a condition."""
        required = [check for check in checks if not check.waived]
        left = [
            check.capacity - check.demand
            for check in required
            if check.unit == "mm"
            and check.id.rpartition(": ")[2].startswith("clearance/")
            and check.id.rpartition("/")[2] not in ROUNDED
            and check.demand is not None
            and check.capacity is not None
        ]
        return cls(
            name=name,
            status=whole(checks),
            failing=count_failing(checks),
            incomplete=sum(check.status == "incomplete" for check in required),
            worst=next(iter(worst(checks, 1)), None),
            tried=tried,
            gap_left=min(left, default=None),
        )

    def check(self, waived: str) -> Check:
        """The one check that a condition is."""
        text = f"{self.failing} required checks fail and {self.incomplete} are incomplete"
        if self.worst is not None:
            text += f"; the worst is {self.worst.id}: {self.worst.reason}"
        return Check(
            id=f"condition/{self.name}",
            demand=float(self.failing),
            capacity=0.0,
            unit="failing",
            status=self.status,
            reason=text,
            source="the whole chain once more",
            waived=waived,
        )


@dataclass(frozen=True)
class Judged:
    """The bodies of a case with all variants of each, and what becomes of them.

    Attributes
    ----------
    tried : mapping of name to Response
        All variants, falls by their energy.
    followed : mapping of name to Response
        Those of them whose falls were followed in time, as stated first.
    asked, in_time : mapping of name to rows of `tried`, and of `followed`
    checks : list of Check
        Each at the variant that decides it.
    falls : set of their ids
        Those that a fall bears on.
    """

    tried: Mapping[str, Response]
    followed: Mapping[str, Response]
    asked: Mapping[str, Sequence[Row]]
    in_time: Mapping[str, Sequence[Row]]
    checks: list[Check]
    falls: frozenset[str]


def judge_all(designs: Mapping[str, Design]) -> Judged:
    """Judge the bodies of a case.

    Falls are followed in time: all variants where they are few, else the case as stated and those
    that are gravest by energy for a check that depends on a fall.
    """
    tried = {name: respond(one.variants()) for name, one in designs.items()}
    counts = variant_counts(tried)
    asked = ask_all(tried, counts)
    some = {name: followed(to_follow(tried[name], asked[name])) for name in tried}
    checks, of_falls = list[Check](), set[str]()
    in_time = ask_all(some, variant_counts(some))
    for name, rows in in_time.items():
        falls, others = [r for r in rows if r.in_time], [r for r in asked[name] if not r.in_time]
        of_falls |= {row.id for row in falls}
        found = decide(some.get(name, some[MAIN]), falls, variant_counts(some).get(name, 1))
        found |= decide(tried.get(name, tried[MAIN]), others, counts.get(name, 1))
        checks += [found[row.id] for row in rows]
    return Judged(tried, some, asked, in_time, checks, frozenset(of_falls))


def fall_checks(designs: Mapping[str, Design], leg: Leg) -> list[Check]:
    """What `assess` asks of the falls of one leg, with all that may be off.

    Parameters
    ----------
    designs : mapping of name to Design
        The bodies of a case, `MAIN` first.
    leg : Leg
        One of theirs.
    """
    number = 1 + list(designs[MAIN].legs).index(leg)
    judged = judge_all({name: replace(one, legs=[leg]) for name, one in designs.items()})
    return [
        replace(check, missing=check.missing.replace("leg[1]", f"leg[{number}]"))
        for check in judged.checks
        if check.id in judged.falls
    ]


def decide(body: Response, rows: Sequence[Row], variants: int) -> dict[str, Check]:
    """Each check of a body by its id, at the variant that decides it."""
    if not rows:
        return {}
    deciding = gravest(rows, variants)[:, 0].tolist()
    return {
        row.id: where_decided(answer(body, row, i), row, i, body)
        for row, i in zip(rows, deciding, strict=True)
    }


def to_follow(tried: Response, rows: Sequence[Row]) -> Response:
    """The variants of a body whose falls are worth following in time, as stated first.

    All where they are few, else the gravest by energy for each check on a fall.
    """
    count = len(tried.designs)
    if count <= FEW or not any(leg.falls or leg.leg.turns() for leg in tried.legs):
        return tried
    falls = [row for row in rows if row.in_time]
    worst = [gravest(falls, count, place)[:, 0] for place in range(GRAVEST)]
    which = sorted({0, *np.concatenate(worst).tolist()})
    return respond([tried.designs[i] for i in which])


def whole_verdict(
    designs: Mapping[str, Design],
) -> tuple[Judged, list[Strip], list[Check]]:
    """The bodies of a case judged, as given and under their conditions, and all checks of both."""
    found = judge_all(designs)
    checks, main = list(found.checks), designs[MAIN]
    strips = list(_under_conditions(designs)) if main.conditions else []
    if strips:
        checks += [s.check(waiver(main, f"condition/{s.name}")) for s in strips]
        strips.insert(0, Strip.of(AS_GIVEN, found.tried, found.checks))
    return found, strips, checks


def under(condition: Condition, name: str, design: Design) -> Design:
    """A body of a case under a condition; only the main payload gets heavier."""
    return design.under(condition if name == MAIN else replace(condition, heavier=NO_MORE))


def _under_conditions(designs: Mapping[str, Design]) -> Iterator[Strip]:
    """The case under each of its conditions."""
    for condition in designs[MAIN].conditions:
        judged = judge_all({name: under(condition, name, one) for name, one in designs.items()})
        yield Strip.of(condition.name, judged.tried, judged.checks)


def variant_counts(tried: Mapping[str, Response]) -> dict[str, int]:
    """How many variants of each body stand side by side."""
    return {name: len(response.designs) for name, response in tried.items()}


def count_failing(checks: Sequence[Check]) -> int:
    """How many required checks fail."""
    return sum(check.status == "fail" for check in checks if not check.waived)


def _side_by_side(columns: Sequence[npt.NDArray[Any]]) -> npt.NDArray[Any]:
    """Arrays (b,) or (1,) as columns (b, rows)."""
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


def score_all(
    bodies: Mapping[str, Response],
    asked: Mapping[str, Sequence[Row]],
    variants: Mapping[str, int],
) -> list[Score]:
    """Rank of the status, number of failing checks and minus the least margin, of each case.

    Each at the worst of its variants, which stand side by side in the batch. A body of one design
    is the same in all cases.
    """
    fails, opens, least = np.zeros(1, dtype=int), np.zeros(1, dtype=bool), np.full(1, np.inf)
    for name, rows in asked.items():
        alike = (-1, variants.get(name, 1), len(rows))
        design = bodies.get(name, bodies[MAIN]).designs[0]
        waived = np.array([bool(waiver(design, row.id)) for row in rows])
        status = _side_by_side([row.status() for row in rows]).reshape(alike)
        left = _side_by_side([np.nan_to_num(row.margin(), nan=np.inf) for row in rows])
        left = np.where(waived, np.inf, left.reshape(alike).min(axis=1))
        fails = fails + ((status == "fail").any(axis=1) & ~waived).sum(axis=1)
        opens = opens | ((status == "incomplete").any(axis=1) & ~waived).any(axis=1)
        least = np.minimum(least, left.min(axis=1))
    rank = np.where(fails > 0, RANK["fail"], np.where(opens, RANK["incomplete"], RANK["pass"]))
    return [
        (int(r), int(f), -float(m))
        for r, f, m in zip(*np.broadcast_arrays(rank, fails, least), strict=True)
    ]

"""A brief through the whole chain: the checks, the verdict, and the one change that helps most."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from isolator.brief import Brief, read_brief
from isolator.checks import Row, answer, ask_all, gravest, pair_id, waiver
from isolator.design import MAIN, Design, key_of
from isolator.falls import followed
from isolator.fields import meant, shown
from isolator.inside import FACES
from isolator.payload import MASS_WITHIN
from isolator.response import Response, respond
from isolator.sensitivity import Leverage, leverages, where_decided
from isolator.trip import Leg
from isolator.units import MASS, STIFFNESS, InputError
from isolator.verdict import Check, Status, whole, worst

MOST_CHANGES = 64
"""How many changes of one value are tried at the most."""

FACTORS = (0.25, 0.4, 0.5, 0.63, 0.8, 1.25, 1.6, 2.0, 2.5, 4.0)
"""By which a stiffness of the brief is tried."""

MOST_TRIED_THROUGH = 4
"""How many of the best by energy are followed in time, and at the ends of what may be off."""

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
            failing=_failing(checks),
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
    frames : mapping of name to Response
        Further bodies that float in the case, likewise.
    tried : mapping of name to Response
        All bodies, the main payload under `design.MAIN`, with all variants of each: index 0 as
        stated, see `Design.variants`.
    checks : sequence of Check
        Each at the variant of the design that decides it, see `Design.variants`.
    status : "pass", "fail" or "incomplete"
    change : Change or None
        None where nothing fails, where none of the changes tried helps, and without a brief.
    leverages : sequence of Leverage
        What may be off, by how much it moves the answer.
    strips : sequence of Strip
        The case as given, then under each condition; none without conditions.
    """

    design: Design
    brief: Brief | None
    response: Response
    frames: Mapping[str, Response]
    tried: Mapping[str, Response]
    checks: Sequence[Check]
    status: Status
    change: Change | None
    leverages: Sequence[Leverage]
    strips: Sequence[Strip]

    def bodies(self) -> dict[str, Response]:
        """All bodies that float, the main payload first, under `design.MAIN`."""
        return {MAIN: self.response, **self.frames}

    def body(self, name: str | None) -> Response:
        """One body, the main payload if no name is given.

        Raises
        ------
        InputError
            No body of that name.
        """
        bodies = self.bodies()
        if (key := name or MAIN) not in bodies:
            raise InputError(f"frame = {name!r}: no such body; write one of {', '.join(bodies)}")
        return bodies[key]

    def facing(self, face: str, frame: str | None = None) -> Check:
        """The check that answers for a face of a body: the wall's, or that with the other body."""
        other = self.body(frame).designs[0].stands_before.get(face)
        if other in self.bodies():
            identity = pair_id(frame or MAIN, other)
        else:
            identity = f"{f'{frame}: ' if frame else ''}clearance/{face}"
        return next(check for check in self.checks if check.id == identity)

    def assumed(self) -> list[str]:
        """What was left out and what was taken instead, a sentence each."""
        lines = dict.fromkeys(self.design.assumed())
        for name, response in self.frames.items():
            design = response.designs[0]
            for line in (_named(name, line) for line in design.assumed()):
                if line not in lines:
                    lines[f"{name}: {line}"] = None
            if design.on_lid:
                lines[
                    f"{name}: it hangs in the lid, which is closed; with the lid open it moves "
                    f"with the lid (frame.{name}.on_lid)"
                ] = None
        if self.frames:
            together = sum(float(body.suspension.mass[0]) for body in self.bodies().values())
            lines[
                f"the shell is heavy beside all that floats in it, {MASS.text(together)}: no body "
                "feels through the shell how another one moves"
            ] = None
        return list(lines)


def _named(body: str, line: str) -> str:
    """A sentence with its key in brackets as a further body has it."""
    line = line.replace("[[cable]]", f"[[frame.{body}.cable]]")
    return re.sub(r"(?<=[( ])(?:payload|mounts|case)\.\w+", lambda key: key_of(body, key[0]), line)


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
    designs = {MAIN: design, **(brief.frames if isinstance(brief, Brief) else {})}
    judged = _judged(designs)
    tried, checks = judged.tried, judged.checks
    ids = [check.id for check in checks]
    ids += [f"condition/{condition.name}" for condition in design.conditions]
    _known(design, ids, f"{brief.file}: " if isinstance(brief, Brief) else "")
    strips = list(_strips(designs)) if design.conditions else []
    if strips:
        strips.insert(0, Strip.of(AS_GIVEN, tried, checks))
        checks += [s.check(waiver(design, f"condition/{s.name}")) for s in strips[1:]]
    status = whole(checks)
    change = None
    if status == "fail" and isinstance(brief, Brief):
        change = best_change(brief, tried, checks)
    responses = {
        name: judged.followed[name] if len(tried[name].designs) == 1 else followed(respond([one]))
        for name, one in designs.items()
    }
    return Assessment(
        design=design,
        brief=brief if isinstance(brief, Brief) else None,
        response=responses.pop(MAIN),
        frames=responses,
        tried=tried,
        checks=checks,
        status=status,
        change=change,
        leverages=leverages(tried, judged.asked),
        strips=strips,
    )


@dataclass(frozen=True)
class _Judged:
    """The bodies of a case with all variants of each, and what becomes of them.

    Attributes
    ----------
    tried : mapping of name to Response
        All variants, falls by their energy.
    followed : mapping of name to Response
        Those of them whose falls were followed in time, as stated first.
    asked : mapping of name to rows of `tried`
    checks : list of Check
        Each at the variant that decides it.
    falls : set of their ids
        Those that a fall bears on.
    """

    tried: Mapping[str, Response]
    followed: Mapping[str, Response]
    asked: Mapping[str, Sequence[Row]]
    checks: list[Check]
    falls: frozenset[str]


def _judged(designs: Mapping[str, Design]) -> _Judged:
    """Judge the bodies of a case.

    Falls are followed in time: all variants where they are few, else the case as stated and those
    that are gravest by energy for a check that depends on a fall.
    """
    tried = {name: respond(one.variants()) for name, one in designs.items()}
    counts = _counts(tried)
    asked = ask_all(tried, counts)
    some = {name: _followed(tried[name], asked[name]) for name in tried}
    checks, of_falls = list[Check](), set[str]()
    for name, rows in ask_all(some, _counts(some)).items():
        falls, others = [r for r in rows if r.in_time], [r for r in asked[name] if not r.in_time]
        of_falls |= {row.id for row in falls}
        found = _decided(some.get(name, some[MAIN]), falls, _counts(some).get(name, 1))
        found |= _decided(tried.get(name, tried[MAIN]), others, counts.get(name, 1))
        checks += [found[row.id] for row in rows]
    return _Judged(tried, some, asked, checks, frozenset(of_falls))


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
    judged = _judged({name: replace(one, legs=[leg]) for name, one in designs.items()})
    return [
        replace(check, missing=check.missing.replace("leg[1]", f"leg[{number}]"))
        for check in judged.checks
        if check.id in judged.falls
    ]


def _decided(body: Response, rows: Sequence[Row], variants: int) -> dict[str, Check]:
    """Each check of a body by its id, at the variant that decides it."""
    if not rows:
        return {}
    deciding = gravest(rows, variants)[:, 0].tolist()
    return {
        row.id: where_decided(answer(body, row, i), row, i, body)
        for row, i in zip(rows, deciding, strict=True)
    }


def _followed(tried: Response, rows: Sequence[Row]) -> Response:
    """The variants of a body that decide a check on a fall, as stated first, followed in time."""
    count = len(tried.designs)
    if count <= FEW or not any(leg.falls or leg.leg.turns() for leg in tried.legs):
        return followed(tried)
    falls = [row for row in rows if row.in_time]
    worst = [gravest(falls, count, place)[:, 0] for place in range(GRAVEST)]
    which = sorted({0, *np.concatenate(worst).tolist()})
    return followed(respond([tried.designs[i] for i in which]))


def _strips(designs: Mapping[str, Design]) -> Iterator[Strip]:
    """The case under each of its conditions; only the main payload gets heavier."""
    for condition in designs[MAIN].conditions:
        changed = {
            name: one.under(condition if name == MAIN else replace(condition, heavier=NO_MORE))
            for name, one in designs.items()
        }
        judged = _judged(changed)
        yield Strip.of(condition.name, judged.tried, judged.checks)


def _known(design: Design, ids: Sequence[str], file: str) -> None:
    """Refuse a waiver that matches no check: it would be silently without effect."""
    parts = [identity.split("/") for identity in ids]
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


def _counts(tried: Mapping[str, Response]) -> dict[str, int]:
    """How many variants of each body stand side by side."""
    return {name: len(response.designs) for name, response in tried.items()}


def best_change(
    brief: Brief, now: Mapping[str, Response], checks: Sequence[Check]
) -> Change | None:
    """The change of one value that helps most, None if none of those tried helps much.

    Every candidate is judged by the same chain, falls by their energy; what counts is first the
    status, then how many required checks fail, then the least margin. The best is judged with its
    falls in time. It helps much if it betters the verdict, or leaves at most half of the
    failing checks.
    """
    counts = _counts(now)
    rows = ask_all(now, counts)
    estimates = [
        check
        for name, own in rows.items()
        for check in _decided(now.get(name, now[MAIN]), own, counts.get(name, 1)).values()
    ]
    tried: list[tuple[str, Any, Any, Brief]] = []
    for key, before, after in islice(_candidates(brief, estimates), MOST_CHANGES):
        try:
            tried.append((key, before, after, brief.changed(key, after)))
        except InputError:
            continue
    if not tried:
        return None
    touched = [_touched(brief, key) for key, *_ in tried]
    designs = [
        {name: _body(changed, name) for name in names}
        for (*_, changed), names in zip(tried, touched, strict=True)
    ]
    deciding = {
        name: sorted({0, *gravest(rows[name], count)[:, 0].tolist()})
        for name, count in counts.items()
    }
    (rank, failing, _), best = _best(designs, now, deciding)
    key, before, after, changed = tried[best]
    makes = next(status for status, own in _RANK.items() if own == rank)
    whole_of_it = all(n in designs[best] and len(deciding[n]) == counts[n] for n in counts)
    if not whole_of_it:
        bodies = {name: _body(changed, name) for name in (MAIN, *changed.frames)}
        then = _judged(bodies).checks
        makes, failing = whole(then), _failing(then)
    if _RANK[makes] >= _RANK[whole(checks)] and failing > _failing(checks) / 2:
        return None
    return Change(key=key, before=before, after=after, makes=makes, failing=failing)


def _failing(checks: Sequence[Check]) -> int:
    """How many required checks fail."""
    return sum(check.status == "fail" for check in checks if not check.waived)


def _body(brief: Brief, name: str) -> Design:
    return brief.design if name == MAIN else brief.frames[name]


def _touched(brief: Brief, key: str) -> frozenset[str]:
    """The bodies that the value of a key bears on."""
    if own := [name for name in brief.frames if key.startswith(f"frame.{name}.")]:
        return frozenset(own)
    if not key.startswith("mount."):
        return frozenset([MAIN])
    kind = key.removeprefix("mount.").rpartition(".")[0]
    return frozenset(name for name, kinds in _kinds(brief).items() if kind in kinds)


def _kinds(brief: Brief) -> dict[str, set[str]]:
    """The kinds of mounts that each body hangs on."""
    return {
        name: {place.mount.name for place in _body(brief, name).places}
        for name in (MAIN, *brief.frames)
    }


def _best(
    changes: Sequence[Mapping[str, Design]],
    now: Mapping[str, Response],
    deciding: Mapping[str, Sequence[int]],
) -> tuple[Score, int]:
    """How the change scores that is best at the worst variants, and which it is.

    Each change gives the designs of the bodies that it bears on. As stated, and falls by their
    energy, all are ranked; then the best few of them are tried at the variants that decide the
    checks now, with their falls in time, until one passes.
    """
    first = {n: r if len(r.designs) == 1 else respond(r.designs[:1]) for n, r in now.items()}
    alone: dict[int, Score] = {}
    for some in _batches(changes):
        bodies = first | {n: respond([changes[k][n] for k in some]) for n in changes[some[0]]}
        ones = dict.fromkeys(bodies, 1)
        alone |= zip(some, _scores(bodies, ask_all(bodies, ones), ones), strict=True)
    order = sorted(range(len(changes)), key=alone.__getitem__)
    found: list[tuple[Score, int]] = []
    for n in order[:MOST_TRIED_THROUGH]:
        found.append((_worst(changes[n], now, deciding), n))
        if found[-1][0][0] == _RANK["pass"]:
            break
    return min(found)


def _batches(changes: Sequence[Mapping[str, Design]]) -> Iterator[list[int]]:
    """Indices of changes that bear on the same bodies, few enough at a time for any memory."""
    touched = [frozenset(change) for change in changes]
    for bodies in dict.fromkeys(touched):
        alike = [k for k, own in enumerate(touched) if own == bodies]
        for start in range(0, len(alike), 16):
            yield alike[start : start + 16]


def _worst(
    change: Mapping[str, Design],
    now: Mapping[str, Response],
    deciding: Mapping[str, Sequence[int]],
) -> Score:
    """How a change scores at the worst of the variants that decide now."""
    bodies = dict(now)
    for name, design in change.items():
        count = len(now[name].designs)
        bodies[name] = followed(respond(design.chosen(deciding[name], count)))
    counts = _counts(bodies)
    (score,) = _scores(bodies, ask_all(bodies, counts), counts)
    return score


def _side_by_side(columns: Sequence[npt.NDArray[Any]]) -> npt.NDArray[Any]:
    """Arrays (b,) or (1,) as columns (b, rows)."""
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


def _scores(
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
    rank = np.where(fails > 0, _RANK["fail"], np.where(opens, _RANK["incomplete"], _RANK["pass"]))
    return [
        (int(r), int(f), -float(m))
        for r, f, m in zip(*np.broadcast_arrays(rank, fails, least), strict=True)
    ]


def _candidates(brief: Brief, checks: Sequence[Check]) -> Iterator[tuple[str, Any, Any]]:
    """Changes that a builder can make: another mount, other places, more room.

    The trip and what the payload survives are not the builder's to change, and a body that passes
    is left as it is.
    """
    concerned = _concerned(brief, checks)
    written = {MAIN: brief.text, **brief.text.get("frame", {})}
    gaps = {
        f"{'' if body == MAIN else f'{body}: '}clearance/{face}": (body, face.replace(" ", "_"))
        for body in (MAIN, *brief.frames)
        for face in FACES
    }
    for check in checks:
        if check.id in gaps and check.status == "fail" and check.demand:
            body, face = gaps[check.id]
            given = written[body].get("case" if body == MAIN else "gaps", {})
            if face in given:
                wider = f"{math.ceil(check.demand + 0.5)} mm"
                yield key_of(body, f"case.{face}"), given[face], wider
    tables = {body: written[body]["mounts"] for body in concerned}
    hangs = set().union(*(_kinds(brief)[body] for body in concerned))
    for body, table in tables.items():
        for name in brief.mounts if "use" in table else ():
            if name != table["use"]:
                yield key_of(body, "mounts.use"), table["use"], name
    for name, row in brief.text.get("mount", {}).items():
        for way in ("along", "across") if name in hangs else ():
            if isinstance(row.get(way), str):
                now = STIFFNESS.read(row[way], way)
                for factor in FACTORS:
                    yield f"mount.{name}.{way}", row[way], STIFFNESS.text(now * factor)
    for body, table in tables.items():
        for name in brief.mounts:
            for n, place in enumerate(table.get("place", []), start=1):
                if place.get("mount", name) != name:
                    yield key_of(body, f"mounts.place[{n}].mount"), place["mount"], name


def _concerned(brief: Brief, checks: Sequence[Check]) -> list[str]:
    """The bodies of which a required check fails, alone or with another body."""
    pairs = {pair_id(*pair): pair for pair in combinations((MAIN, *brief.frames), 2)}
    found: set[str] = set()
    for check in checks:
        if check.status == "fail" and not check.waived:
            own = (name for name in brief.frames if check.id.startswith(f"{name}: "))
            found |= set(pairs.get(check.id) or [next(own, MAIN)])
    return [name for name in (MAIN, *brief.frames) if name in found]

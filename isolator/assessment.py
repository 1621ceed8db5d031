"""A brief through the whole chain: the checks, the verdict, and the one change that helps most."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from pathlib import Path
from typing import Any

from isolator.brief import ANY_CASE, Brief, brief_of
from isolator.checks import ask_all, gravest, pair_id
from isolator.design import LIGHT, MAIN, Design, cables_of, head_of, key_of, kind_key, quoted
from isolator.falls import followed
from isolator.fields import meant, shown
from isolator.inside import FACES
from isolator.judging import (
    RANK,
    Score,
    Strip,
    count_failing,
    decide,
    judge_all,
    score_all,
    to_follow,
    variant_counts,
    whole_verdict,
)
from isolator.response import Response, respond
from isolator.sensitivity import Leverage, leverages
from isolator.units import MASS, STIFFNESS, InputError, si_or_none
from isolator.verdict import Check, Status, whole

MOST_CHANGES = 64
"""How many changes of one value are tried at the most."""

FACTORS = (0.25, 0.4, 0.5, 0.63, 0.8, 1.25, 1.6, 2.0, 2.5, 4.0)
"""By which a stiffness of the brief is tried."""

MOST_TRIED_THROUGH = 4
"""How many of the best by energy are followed in time, and at the ends of what may be off."""


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
                    f"with the lid ({head_of(name)}.on_lid)"
                ] = None
        if self.frames:
            together = sum(float(body.suspension.mass[0]) for body in self.bodies().values())
            shell, floats = si_or_none(self.design.case, "mass"), MASS.text(together)
            if shell is not None and shell < LIGHT * together:
                line = (
                    "each body moves as if alone in the shell: none feels through it how another "
                    f"one moves, though {MASS.text(shell)} of shell are not heavy beside the "
                    f"{floats} that float in it"
                )
            else:
                line = (
                    f"the shell is heavy beside all that floats in it, {floats}: no body feels "
                    "through the shell how another one moves"
                )
            lines[line] = None
        return list(lines)


def _named(body: str, line: str) -> str:
    """A sentence with its key in brackets as a further body has it."""
    line = line.replace("[[cable]]", cables_of(body))
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
    brief = case if isinstance(case, Design) else brief_of(case, ANY_CASE)
    design = brief.design if isinstance(brief, Brief) else brief
    designs = {MAIN: design, **(brief.frames if isinstance(brief, Brief) else {})}
    judged, strips, checks = whole_verdict(designs)
    tried = judged.tried
    ids = [check.id for check in checks]
    _known(design, ids, f"{brief.file}: " if isinstance(brief, Brief) else "")
    status = whole(checks)
    change = None
    if status == "fail" and isinstance(brief, Brief):
        change = _best_change(brief, tried, checks)
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
        leverages=leverages(tried, judged.asked, judged.followed, judged.in_time),
        strips=strips,
    )


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


def _best_change(
    brief: Brief, now: Mapping[str, Response], checks: Sequence[Check]
) -> Change | None:
    """The change of one value that helps most, None if none of those tried helps much.

    Every candidate is judged by the same chain, falls by their energy; what counts is first the
    status, then how many required checks fail, then the least margin. The best is judged with its
    falls in time. It helps much if it betters the verdict, or leaves at most half of the
    failing checks.
    """
    counts = variant_counts(now)
    rows = ask_all(now, counts)
    estimates = [
        check
        for name, own in rows.items()
        for check in decide(now.get(name, now[MAIN]), own, counts.get(name, 1)).values()
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
    ((_, present, _),) = score_all(now, rows, counts)
    found = _best(designs, now, deciding, present)
    if found is None:
        return None
    (rank, failing, _), best = found
    key, before, after, changed = tried[best]
    makes = next(status for status, own in RANK.items() if own == rank)
    whole_of_it = all(n in designs[best] and len(deciding[n]) == counts[n] for n in counts)
    whole_of_it &= all(len(designs[best][n].variants()) == counts[n] for n in designs[best])
    if not whole_of_it:
        bodies = {name: _body(changed, name) for name in (MAIN, *changed.frames)}
        then = judge_all(bodies).checks
        makes, failing = whole(then), count_failing(then)
    if RANK[makes] >= RANK[whole(checks)] and failing > count_failing(checks) / 2:
        return None
    return Change(key=key, before=before, after=after, makes=makes, failing=failing)


def _body(brief: Brief, name: str) -> Design:
    return brief.design if name == MAIN else brief.frames[name]


def _touched(brief: Brief, key: str) -> frozenset[str]:
    """The bodies that the value of a key bears on."""
    if own := [name for name in brief.frames if key.startswith(f"{head_of(name)}.")]:
        return frozenset(own)
    if not key.startswith("mount."):
        return frozenset([MAIN])
    kind = key.removeprefix("mount.").rpartition(".")[0]
    return frozenset(name for name, own in _kinds(brief).items() if kind in map(quoted, own))


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
    present: int,
) -> tuple[Score, int] | None:
    """How the change scores that is best at the worst variants, and which it is.

    Each change gives the designs of the bodies that it bears on. As stated, and falls by their
    energy, all are ranked; then the best few of them are tried at the variants that decide the
    checks now, with their falls in time, until one passes. One that fails as many checks there as
    the present case does, falls by their energy, is not followed; None if all of those few do.
    """
    first = {n: r if len(r.designs) == 1 else respond(r.designs[:1]) for n, r in now.items()}
    alone: dict[int, Score] = {}
    for some in _batches(changes):
        bodies = first | {n: respond([changes[k][n] for k in some]) for n in changes[some[0]]}
        ones = dict.fromkeys(bodies, 1)
        alone |= zip(some, score_all(bodies, ask_all(bodies, ones), ones), strict=True)
    order = sorted(range(len(changes)), key=alone.__getitem__)
    found: list[tuple[Score, int]] = []
    for n in order[:MOST_TRIED_THROUGH]:
        score = _worst(changes[n], now, deciding, present)
        if score is None:
            continue
        found.append((score, n))
        if score[0] == RANK["pass"]:
            break
    return min(found, default=None)


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
    present: int,
) -> Score | None:
    """How a change scores at the worst of the variants that decide now.

    None if by energy it fails as many of the checks as the `present` case.

    Where the design so changed has another number of variants, they are judged as in a full
    verdict: see `judging.to_follow`.
    """
    bodies = dict(now)
    for name, design in change.items():
        count = len(now[name].designs)
        bodies[name] = respond(design.chosen(deciding[name], count))
    counts = variant_counts(bodies)
    asked = ask_all(bodies, counts)
    if score_all(bodies, asked, counts)[0][1] >= max(present, 1):  # none may fail by energy alone
        return None
    for name in change:
        bodies[name] = followed(to_follow(bodies[name], asked[name]))
    counts = variant_counts(bodies)
    (score,) = score_all(bodies, ask_all(bodies, counts), counts)
    return score


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
                    yield kind_key(name, way), row[way], STIFFNESS.text(now * factor)
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

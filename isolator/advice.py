"""What would make a near miss pass: more room, more travel, other rubber, found by trying."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from isolator.brief import Brief
from isolator.checks.row import WAYS
from isolator.design import MAIN
from isolator.estimate import SHAPE_KEYS
from isolator.inside import FACES
from isolator.judging import count_failing, whole_verdict
from isolator.mount import FIT, unstacked
from isolator.sweep import Screen
from isolator.units import FORCE, SIZE, STIFFNESS, InputError, refuse_other, si_or_none
from isolator.verdict import Check, Status, whole

ROUNDS = 6
"""How many times what still fails is answered."""

SPARE = 1.03
"""Travel, load and stiffness are asked for with so much to spare. [-]"""

FACTORS = (1 / 16, 16.0, 65)
"""Ends and number of the common factors on stiffness that are screened. [-]"""

ANOTHER = "another "
"""Before the name of a kind that nobody has yet."""

TRAVELS = ("drop travel/", "slap-down travel/", "topple travel/", "set-down travel/",
           "vibration travel/")  # fmt: skip

ANSWERED = (*TRAVELS, "clearance/", "rated load", "drop force/", "slap-down force/")
"""What more room, more travel and other ratings answer."""


@dataclass(frozen=True)
class Step:
    """One thing to change.

    Attributes
    ----------
    key : str
        Of the brief.
    after : any
        What it then holds; of a further kind of mount its fields, and ``instead of`` which it is.
    words : str
        ``6 mm more room at the lid``, over the brief as it was.
    """

    key: str
    after: Any
    words: str = ""


@dataclass(frozen=True)
class Advice:
    """What a design needs.

    Attributes
    ----------
    steps : sequence of Step
        In order; all of them together.
    brief : Brief
        With all of them.
    makes : "pass", "incomplete" or "fail"
        What the verdict is then, judged in full.
    failing : int
        Required checks that still fail.
    """

    steps: Sequence[Step]
    brief: Brief
    makes: Status
    failing: int


def advise(brief: Brief) -> Advice:
    """Answer what fails of a brief until nothing does, or nothing helps any more.

    Gaps are widened by what they lack, with the case around them; mounts get the travel, the
    rated load and the peak load that is asked of them, as a further kind; what then still fails
    is tried with all mounts softer or stiffer by one factor. Each round is judged in full. The
    steps are for the kinds that the payload then hangs on, one after the other.
    """
    refuse_other("brief", brief, Brief, "a Brief, as read_brief gives one")
    first, steps = brief, list[Step]()
    checks = _checks(brief)
    for _ in range(ROUNDS):
        if not count_failing(checks):
            break
        found = _answered(brief, checks) or _other_stiffness(brief)
        if found is None:
            break
        more, brief, checks = found
        steps += more
    own = {step.key: step for step in steps}
    told = [replace(step, words=_told(first, step)) for step in own.values()]
    return Advice(told, brief, whole(checks), count_failing(checks))


def _checks(brief: Brief) -> list[Check]:
    return whole_verdict({MAIN: brief.design, **brief.frames})[2]


def _answered(
    brief: Brief, checks: Sequence[Check]
) -> tuple[list[Step], Brief, list[Check]] | None:
    """All that room, travel and ratings can do at once; None if that betters nothing."""
    steps, changed = [], brief
    for step in [*_room(brief, checks), *_kinds(brief, checks)]:
        try:
            changed = _with(changed, step)
        except InputError:
            continue
        steps.append(step)
    if not steps:
        return None
    then = _checks(changed)
    return (steps, changed, then) if _better(then, checks) else None


def _better(then: Sequence[Check], now: Sequence[Check]) -> bool:
    """Whether fewer checks fail, or those that fail lack less."""
    return (count_failing(then), _lack(then)) < (count_failing(now), _lack(now))


def _lack(checks: Sequence[Check]) -> float:
    return -sum(
        check.margin or 0.0 for check in checks if check.status == "fail" and not check.waived
    )


def _with(brief: Brief, step: Step) -> Brief:
    """The brief after a step; one that adds a kind of mount hangs the payload on it."""
    if not step.key.startswith("mount."):
        return brief.changed(step.key, step.after)
    name, own = step.key.removeprefix("mount."), dict(step.after)
    was = own.pop("instead of")
    text = dict(brief.text)
    kinds = {**text.get("mount", {}), name: own}
    mounts = dict(text["mounts"])
    if mounts.get("use") == was or ("use" not in mounts and not mounts.get("place")):
        mounts["use"] = name
    mounts["place"] = [
        {**row, "mount": name} if row.get("mount", mounts.get("use")) in (was, name) else row
        for row in mounts.get("place", ())
    ]
    if not mounts["place"]:
        del mounts["place"]
    return brief.with_tables({"mount": kinds, "mounts": mounts})


def _failing(checks: Sequence[Check]) -> Iterator[tuple[Check, float, float]]:
    """Required checks that fail by a number, with demand and capacity."""
    for check in checks:
        if check.status == "fail" and not check.waived and check.demand and check.capacity:
            yield check, check.demand, check.capacity


def _room(brief: Brief, checks: Sequence[Check]) -> Iterator[Step]:
    """Gaps that lack room, and the case around them."""
    case = brief.text["case"]
    wider = [0.0, 0.0, 0.0]
    for check, demand, capacity in _failing(checks):
        kind, _, face = check.id.partition("/")
        key = face.replace(" ", "_")
        if kind != "clearance" or face not in FACES or key not in case:
            continue
        more = math.ceil(demand - capacity + 0.5)
        wider[FACES.index(face) // 2] += more
        after = f"{1e3 * (si_or_none(brief.design.case, key) or 0.0) + more:.4g} mm"
        yield Step(f"case.{key}", after)
    if any(wider) and "size" in case:
        size = SIZE.read_array(case["size"], "case.size", (3,))
        outer = [f"{1e3 * s + w:.5g} mm" for s, w in zip(size, wider, strict=True)]
        yield Step("case.size", outer)


def _kinds(brief: Brief, checks: Sequence[Check]) -> Iterator[Step]:
    """Kinds of mounts that lack travel or carry too little, as further kinds that do not."""
    asked = {"travel": 1.0, "travel_across": 1.0, "rated_load": 1.0, "peak_load": 1.0}
    for check, demand, capacity in _failing(checks):
        times = demand / capacity * SPARE
        if check.id.startswith(TRAVELS):
            way = "travel_across" if WAYS[2] in check.reason else "travel"
            asked[way] = max(asked[way], times)
        elif check.id == "rated load":
            asked["rated_load"] = max(asked["rated_load"], times)
        elif "force/" in check.id:
            asked["peak_load"] = max(asked["peak_load"], times)
    if max(asked.values()) > 1:
        for name in dict.fromkeys(unstacked(p.mount.name) for p in brief.design.places):
            yield from _another(brief, name, asked)


def _another(brief: Brief, name: str, asked: Mapping[str, float]) -> Iterator[Step]:
    """A kind like another one with more travel or higher ratings, or a stiffness of its own."""
    mount, own = brief.mounts[name], brief.written(name)
    before = dict(own)
    for key in ("travel", "travel_across"):
        if (now := si_or_none(mount, key)) and asked.get(key, 1.0) > 1:
            own[key] = f"{math.ceil(1e3 * now * asked[key])} mm"
    for key in ("rated_load", "peak_load"):
        if (now := si_or_none(mount, key)) and asked.get(key, 1.0) > 1:
            own[key] = FORCE.text(math.ceil(now * asked[key]))
    if (times := asked.get("stiffness", 1.0)) != 1:
        for key in ("along", "across"):
            if isinstance(own.get(key), str):
                own[key] = STIFFNESS.text(STIFFNESS.read(own[key], key) * times)
                own.pop(f"dynamic_{key}", None)  # a tap was of the mount as it is
        if {"along", "across", "dynamic_ratio"} <= own.keys():  # not of this rubber and size
            own = {k: v for k, v in own.items() if k in FIT or k not in SHAPE_KEYS}
    if own != before:
        new = name if name.startswith(ANOTHER) else f"{ANOTHER}{name}"[:80]
        yield Step(f"mount.{new}", {**own, "instead of": name})


def _told(first: Brief, step: Step) -> str:
    """What a step asks for over the brief as it was."""
    name = step.key.partition(".")[2]
    if step.key == "case.size":
        return f"a case of {' × '.join(step.after)} outside, for that room"
    if step.key.startswith("case."):
        more = SIZE.read(step.after, name) - (si_or_none(first.design.case, name) or 0.0)
        return f"{1e3 * more:.3g} mm more room at the {name.replace('_', ' ')}"
    was = name.removeprefix(ANOTHER)
    before = first.written(was)
    words = {
        "travel": "{} of travel along",
        "travel_across": "{} across",
        "along": "{} along",
        "across": "{} across",
        "rated_load": "rated for {}",
        "peak_load": "for {} in a moment",
    }
    told = [
        f"{text.format(step.after[key])} in the place of {before[key]}"
        for key, text in words.items()
        if step.after.get(key) != before.get(key)
    ]
    shape = ", of whatever shape," if "kind" in before and "kind" not in step.after else ""
    return f"mounts like {was}{shape or ','} but with {', '.join(told)}"


def _other_stiffness(brief: Brief) -> tuple[list[Step], Brief, list[Check]] | None:
    """The factor nearest to 1 on all mounts at which least fails that no room answers.

    As designs are screened. What the other stiffness asks of room and travel is answered next.
    """
    factors = np.geomspace(*FACTORS)
    screen = Screen.of(brief, [brief.design.stiffened(factor) for factor in factors])
    hard = [not name.startswith(ANSWERED) for name in screen.asked]
    fails = ((screen.status == "fail") & screen.required & np.array(hard)).sum(axis=1)
    now = fails[len(factors) // 2]
    best = int(np.lexsort((np.abs(np.log(factors)), fails))[0])
    if fails[best] >= now:
        return None
    steps, changed = list[Step](), brief
    for name in dict.fromkeys(unstacked(p.mount.name) for p in brief.design.places):
        for step in _another(brief, name, {"stiffness": float(factors[best])}):
            try:
                changed = _with(changed, step)
            except InputError:
                return None
            steps.append(step)
    return (steps, changed, _checks(changed)) if steps else None

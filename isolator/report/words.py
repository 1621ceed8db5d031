"""Sentences about a verdict."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.assessment import Assessment, Change
from isolator.cautions import HARMS, Caution
from isolator.design import MAIN, Design, head_of, key_of, quoted, worst_grade
from isolator.inside import FACES
from isolator.sensitivity import NOTICED, Leverage
from isolator.units import FORCE, HEIGHT, SIZE, si_array, si_or_none
from isolator.verdict import Check, worst

SAME_WALL = 0.01
"""Walls lean and have ribs: two gaps may put one in places that far apart. [m]"""


SET_DOWN = (0.02, 0.2)
"""Outside of this nobody sets a case down. [m]"""


def verdict_sentence(assessment: Assessment, *, below: bool = True) -> str:
    """The verdict as a sentence; `below` says that what is lacking stands below it."""
    required = [check for check in assessment.checks if not check.waived]
    failing = [check for check in required if check.status == "fail"]
    open_checks = [check for check in required if check.status == "incomplete"]
    if assessment.status == "pass":
        return f"PASS: all {len(required)} required checks hold."
    if assessment.status == "incomplete":
        return (
            f"INCOMPLETE: nothing that was checked fails, but {len(open_checks)} of "
            f"{len(required)} required checks are incomplete"
            + (": what each one lacks is below." if below else ".")
        )
    first = worst(assessment.checks, 1)[0]
    more = f", and {len(failing) - 1} more of" if len(failing) > 1 else ": one of"
    return f"FAIL: {check_title(first)} fails{more} {len(required)} required checks."


def change_sentence(change: Change | None) -> str:
    """What the one change does."""
    if change is None:
        return "No change of a single value that was tried helps."
    what = f"Change {change.key} from {change.before!r} to {change.after!r}"
    if change.key.endswith((".along", ".across")):
        what += " (a mount of that stiffness with the same ratings and travel)"
    if change.makes == "pass":
        return f"{what}: then everything passes."
    if change.makes == "incomplete":
        return f"{what}: then nothing that is checked fails."
    still = "1 check still fails" if change.failing == 1 else f"{change.failing} checks still fail"
    return f"{what}: then {still}."


def leverage_sentence(one: Leverage, *, several: bool) -> str:
    """What one thing that may be off does to the answer; of `several` bodies, to which."""
    text = f"{one.measure} ({one.key}): from end to end of what it may be off, "
    if one.unsettled == 1:
        return f"{text}1 check that holds as stated does not"
    if one.unsettled:
        return f"{text}{one.unsettled} checks that hold as stated do not"
    of = f" of {'the ' if one.body == MAIN else ''}{one.body}"
    return (
        f"{text}the least margin{of if several else ''} goes from {one.stated:.0%} to "
        f"{worse_end(one)}"
    )


def worse_end(one: Leverage) -> str:
    """The least margin at the worse end."""
    return f"{'about ' if one.about else ''}{one.least:.0%}"


def basis_sentence(assessment: Assessment) -> str:
    """What the tightest check takes as exact, where no band ranks what to measure."""
    tight = worst([check for check in assessment.checks if check.grade is not None], 1)
    tight = tight or worst(assessment.checks, 1)
    if not tight:
        return "nothing is answered yet that a measurement could confirm"
    body = next((b for b in assessment.frames if tight[0].id.startswith(f"{b}: ")), MAIN)
    mounts = {p.mount.name: p.mount for p in assessment.bodies()[body].designs[0].places}.values()
    grade = worst_grade([mount.grade for mount in mounts]) or "not stated"
    names = " and ".join(mount.name for mount in mounts if (mount.grade or "not stated") == grade)
    bench = "a push and a tap of the built case, held against isolator bench expect, show"
    if any(mount.within or mount.scatter for mount in mounts):
        return (
            f"no band alone moves the least margin by more than {NOTICED:.0%}; what they do "
            f"together is in the checks, and {bench} whether they hold"
        )
    return (
        "no band is stated: what the mounts scatter is not known. The tightest check, "
        f"{check_title(tight[0])}, takes the stiffness of {names} (grade: {grade}) as exact: "
        f"{bench} whether it is so"
    )


def caution_sentence(one: Caution) -> str:
    """What may happen, and what to do about it.

    Examples
    --------
    >>> caution_sentence(
    ...     Caution(
    ...         name="lifting", what="it weighs 30 kg", action="Share it.", harm=3, triggered_by=""
    ...     )
    ... )
    'lifting: it weighs 30 kg. Share it.'
    """
    body = one.name.removesuffix(HARMS[one.harm - 1])
    what = one.what.removeprefix(body)
    return f"{one.name}: {what}. {one.action}"


def not_checked(assessment: Assessment) -> list[str]:
    """Everything that stayed open, with the missing input named; alike ones in one line."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for check in assessment.checks:
        head, *rest = check.id.split("/")
        if check.waived:
            groups.setdefault((head, f"not required, {check.waived}"), []).append(", ".join(rest))
        elif check.status == "incomplete":
            need = f" (needs {check.missing})" if check.missing else ""
            why = check.reason.rpartition("; ")[2]
            groups.setdefault((head, f"{why}{need}"), []).append(", ".join(rest))
    return [
        f"{head}{' (' + '; '.join(where) + ')' if any(where) else ''}: {why}"
        for (head, why), where in groups.items()
    ]


def check_title(check: Check) -> str:
    head, *rest = check.id.split("/")
    return f"{head} ({', '.join(rest)})" if rest else head


def look_twice(assessment: Assessment) -> Iterator[str]:
    """Values that are possible but look like a slip."""
    for n, leg in enumerate(assessment.design.legs, start=1):
        height = si_or_none(leg, "set_down")
        if height is not None and not SET_DOWN[0] <= height <= SET_DOWN[1]:
            yield (
                f"leg[{n}].set_down = {HEIGHT.text(height)}: setting a case down is 50 to 100 mm "
                "every day; a fall goes under drop"
            )
    seen = set()
    for response in assessment.bodies().values():
        if not response.pose.found[0, 0]:
            continue
        load, sag = response.load[0, 0], np.linalg.norm(response.deflection[0, 0], axis=-1)
        for place, force, way in zip(response.designs[0].places, load, sag, strict=True):
            name = place.mount.name
            stated = place.mount.grade not in ("geometry", "rating")
            if name in seen or force <= 0 or 1e-4 <= way <= 0.05 or not stated:
                continue
            seen.add(name)
            slip = "N/m written as N/mm?" if way < 1e-4 else "N/mm written as N/m?"
            yield (
                f"mount.{quoted(name)}: under {FORCE.text(force)} it gives "
                f"{SIZE.text(max(way, 1e-9))}, {'hardly at all' if way < 1e-4 else 'very far'} "
                f"for a mount: {slip}"
            )
    for name, frame in assessment.frames.items():
        yield from _walls(name, assessment.design, frame.designs[0])


def _walls(name: str, main: Design, other: Design) -> Iterator[str]:
    """Walls that the gaps of two bodies put in two places: one of the lengths may be a slip."""
    half = [si_array(design.payload, "size") / 2 for design in (main, other)]
    for k, face in enumerate(FACES):
        axis, sense = k // 2, 2 * (k % 2) - 1
        here = half[0][axis] + main.case.by_face()[k]
        there = sense * other.middle()[axis] + half[1][axis] + other.case.by_face()[k]
        if abs(there - here) > SAME_WALL:
            key = key_of(name, f"case.{face.replace(' ', '_')}")
            yield (
                f"{key} puts the wall {SIZE.text(abs(there - here))} "
                f"{'further out' if there > here else 'further in'} than the payload's own gap "
                f"does: is {head_of(name)}.at from middle to middle, with its signs, and each "
                "gap to the wall itself?"
            )

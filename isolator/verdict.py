"""Checks and the verdict: demand, capacity, margin, reason, source, grade."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from isolator.units import FloatArray

Status: TypeAlias = Literal["pass", "fail", "incomplete"]


@dataclass(frozen=True, kw_only=True)
class Check:
    """One question with its answer.

    Attributes
    ----------
    id : str
        What is asked, and of what: ``drop travel/carry/lid up``.
    demand, capacity : float or None
        What happens and what is allowed, in `unit`; None if unknown.
    status : "pass", "fail" or "incomplete"
    reason : str
        A sentence for a person.
    missing : str
        Key of the brief that would complete it; empty if nothing is missing.
    source : str
        Where the method or limit comes from.
    grade : str or None
        How well the mounts behind it are known, see `mount.GRADES`.
    waived : str
        Reason of the brief for not requiring it; empty if it is required.
    where : str
        At which end of what may be off it is so, and what would settle it; empty where it is so
        as stated.
    """

    id: str
    demand: float | None
    capacity: float | None
    unit: str
    status: Status
    reason: str
    missing: str = ""
    source: str = ""
    grade: str | None = None
    waived: str = ""
    where: str = ""

    @property
    def margin(self) -> float | None:
        """Share of the capacity that is left, 1 − demand/capacity; None if unknown. [-]"""
        if self.demand is None or self.capacity is None or self.capacity == 0:
            return None
        return 1 - self.demand / self.capacity


def margins(demand: FloatArray, capacity: FloatArray) -> FloatArray:
    """Share of the capacity that is left (...), nan if unknown, −inf without capacity. [-]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        left = 1 - demand / capacity
    return np.where((capacity == 0) & (demand > 0), -np.inf, left)


def whole(checks: Iterable[Check]) -> Status:
    """Status of a case: `fail` if a required check fails, else `incomplete` if one is, else `pass`.

    A case with no required check is `incomplete`: nothing was asked.
    """
    required = {check.status for check in checks if not check.waived}
    if "fail" in required:
        return "fail"
    return "pass" if required == {"pass"} else "incomplete"


def worst(checks: Sequence[Check], count: int = 3) -> list[Check]:
    """The required checks with the least margin: failures first, of different kinds before alike.

    Failures are chosen before what holds, and the worst of each kind before a second one of it;
    those that are chosen then stand in the order of their margins. The kind is the part of the id
    before its first slash. Checks without a margin come first where they fail and are left out
    where they pass.
    """
    answered = [
        check
        for check in checks
        if not check.waived
        and (check.status == "fail" or (check.status == "pass" and check.margin is not None))
    ]

    def key(check: Check) -> tuple[bool, float]:
        return check.status != "fail", -np.inf if check.margin is None else round(check.margin, 6)

    ranked = sorted(answered, key=key)
    first: dict[str, Check] = {}
    for check in ranked:
        first.setdefault(check.id.partition("/")[0], check)
    kinds = list(first.values())
    failing = [check for check in kinds if check.status == "fail"]
    more = [check for check in ranked if check.status == "fail" and check not in kinds]
    return sorted([*failing, *more, *kinds[len(failing) :]][:count], key=key)

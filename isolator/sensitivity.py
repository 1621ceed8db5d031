"""What the answer hangs on: where in its bands a check fails, and what to measure first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from isolator.checks import Row, waiver
from isolator.design import Design, key_of, kind_key
from isolator.response import Response
from isolator.verdict import Check

MEASURE = {
    "along": "weights on the mount, along its axis",
    "across": "weights on the mount, across its axis",
    "dynamic ratio": "a ring-down of the payload on its mounts",
    "loss factor": "a ring-down of the payload on its mounts",
    "cold stiffness": "a push at the temperature of the leg, and one at 23 °C",
    "dynamic stiffness": "a ride with one sensor on the case and one on the payload",
    "scatter": "weights on several mounts of the kind",
    "age": "weights on a mount of that age",
    "payload": "a finer weighing",
}
"""What would narrow each thing that may be off."""

KEYS = {
    "along": "along",
    "across": "across",
    "dynamic ratio": "dynamic_ratio",
    "loss factor": "loss_factor",
    "cold stiffness": "cold_factor",
    "dynamic stiffness": "dynamic_along",
    "scatter": "scatter",
    "age": "ageing",
}
"""Key of [mount.NAME] that holds it."""

NOTICED = 0.01
"""What moves the least margin by less is not worth a measurement."""


@dataclass(frozen=True, kw_only=True)
class Leverage:
    """How much one thing that may be off moves the answer, all else as stated.

    Attributes
    ----------
    key : str
        Of the brief, where it stands.
    measure : str
        What would narrow it.
    body : str
        Whose margins these are: of several that it bears on, the one that it moves most.
    unsettled : int
        Required checks that hold as stated and do not at one of its ends, of all bodies.
    least, stated : float
        Least margin of the required checks at the worse of its ends, and as stated. [-]
    about : bool
        Whether `least` is of a fall that was not followed in time: its margin as stated, and the
        step from there by energy.
    """

    key: str
    measure: str
    body: str
    unsettled: int
    least: float
    stated: float
    about: bool


def where_decided(check: Check, row: Row, deciding: int, response: Response) -> Check:
    """The check with a word about the variant that decides it, where that is not as stated."""
    design = response.designs[deciding]
    if not design.moved:
        return check
    text = f"at {', '.join(design.moved.values())}"
    if check.status != "pass" and row.status()[0] == "pass":
        settled = " or ".join(dict.fromkeys(MEASURE[name] for name in design.moved))
        text += f"; as stated it holds: {settled} would settle it"
    return replace(check, where=text)


def leverages(
    tried: Mapping[str, Response],
    asked: Mapping[str, Sequence[Row]],
    followed: Mapping[str, Response],
    in_time: Mapping[str, Sequence[Row]],
) -> list[Leverage]:
    """What may be off, by how much it moves the answer, most first; only what does so visibly.

    Parameters
    ----------
    tried : mapping of name to Response
        All variants of each body, falls by their energy.
    asked : mapping of name to rows of `tried`
    followed : mapping of name to Response
        Those of the variants whose falls were followed in time, as stated first.
    in_time : mapping of name to rows of `followed`
    """
    found: dict[str, list[Leverage]] = {}
    for name, body in tried.items():
        which = [_place(design, body.designs) for design in followed[name].designs]
        for one in _of_body(name, body.designs, asked[name], which, in_time[name]):
            found.setdefault(one.key, []).append(one)
    merged = [
        replace(
            min(each, key=lambda one: one.least - one.stated),
            unsettled=sum(one.unsettled for one in each),
        )
        for each in found.values()
    ]
    ranked = sorted(merged, key=lambda one: (-one.unsettled, one.least - one.stated))
    return [one for one in ranked if one.unsettled or one.stated - one.least > NOTICED]


def _place(one: Design, designs: Sequence[Design]) -> int:
    return next(i for i, design in enumerate(designs) if design is one)


def _of_body(
    name: str,
    designs: Sequence[Design],
    rows: Sequence[Row],
    which: Sequence[int],
    in_time: Sequence[Row],
) -> Iterator[Leverage]:
    rows = [row for row in rows if not waiver(designs[0], row.id)]
    if len(designs) == 1 or not rows:
        return
    told = {row.id: row for row in in_time}
    each = [_judged(row, which, told[row.id]) for row in rows]
    passes, margins = (np.stack(values) for values in zip(*each, strict=True))
    margin, tightest = margins.min(axis=0), margins.argmin(axis=0)
    alone = [next(iter(d.moved)) if len(d.moved) == 1 else "" for d in designs]
    for what in dict.fromkeys(filter(None, alone)):
        at = [i for i, own in enumerate(alone) if own == what]
        worst = min(at, key=lambda i: (margin[i], i not in which))
        yield Leverage(
            key=_key(name, designs[0], what),
            measure=MEASURE[what],
            body=name,
            unsettled=int((passes[:, 0] & ~passes[:, at].all(axis=1)).sum()),
            least=float(margin[worst]),
            stated=float(margin[0]),
            about=worst not in which and rows[tightest[worst]].in_time,
        )


def _judged(
    row: Row, which: Sequence[int], told: Row
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.float64]]:
    """Whether each variant holds (b,), and its margin, as the page judges it.

    Of a fall that is as followed in time. A variant that was not followed is no graver there than
    those that were: it holds where all of them do, and its margin is that as stated with the step
    by energy, no less than theirs.
    """
    passes, margin = row.status() == "pass", row.margin()
    if row.in_time:
        passes |= bool((told.status() == "pass").all())
        with np.errstate(invalid="ignore"):  # endless from endless
            step = np.nan_to_num(margin - margin[0], nan=0.0)
        exact = np.nan_to_num(told.margin(), nan=np.inf)
        margin = np.maximum(exact[0] + step, exact.min())
        passes[which], margin[which] = told.status() == "pass", exact
    return passes, np.nan_to_num(margin, nan=np.inf, posinf=np.inf, neginf=-np.inf)


def _key(body: str, design: Design, what: str) -> str:
    """Where the brief holds it: of mounts, of the kind with the widest band."""
    if what == "payload":
        return key_of(body, "payload")

    def width(n: int) -> float:
        mount = design.places[n].mount
        low, high = mount.within.get(what, (1.0, 1.0))
        return high / low if what in mount.within else mount.scatter or 0.0

    widest = max(range(len(design.places)), key=width)
    return kind_key(design.places[widest].mount.name, KEYS[what])

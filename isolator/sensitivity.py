"""What the answer hangs on: where in its bands a check fails, and what to measure first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

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
    unsettled : int
        Required checks that hold as stated and do not at one of its ends.
    least, stated : float
        Least margin of the required checks at the worse of its ends, and as stated. [-]
    """

    key: str
    measure: str
    unsettled: int
    least: float
    stated: float


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


def leverages(bodies: Mapping[str, Response], asked: Mapping[str, Sequence[Row]]) -> list[Leverage]:
    """What may be off, by how much it moves the answer, most first; only what does so visibly."""
    found = [
        one
        for name, rows in asked.items()
        if name in bodies
        for one in _of_body(name, bodies[name].designs, rows)
    ]
    ranked = sorted(found, key=lambda one: (-one.unsettled, one.least - one.stated))
    return [one for one in ranked if one.unsettled or one.stated - one.least > NOTICED]


def _of_body(name: str, designs: Sequence[Design], rows: Sequence[Row]) -> Iterator[Leverage]:
    rows = [row for row in rows if not waiver(designs[0], row.id)]
    if len(designs) == 1 or not rows:
        return
    passes = np.stack([row.status() == "pass" for row in rows])
    margin = np.stack([np.nan_to_num(row.margin(), nan=np.inf) for row in rows]).min(axis=0)
    alone = [next(iter(d.moved)) if len(d.moved) == 1 else "" for d in designs]
    for what in dict.fromkeys(filter(None, alone)):
        at = [i for i, own in enumerate(alone) if own == what]
        yield Leverage(
            key=_key(name, designs[0], what),
            measure=MEASURE[what],
            unsettled=int((passes[:, 0] & ~passes[:, at].all(axis=1)).sum()),
            least=float(margin[at].min()),
            stated=float(margin[0]),
        )


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

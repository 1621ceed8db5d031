"""The questions that are asked of every design, and their answers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from isolator.checks.carry import carry, temperature
from isolator.checks.drop import drops
from isolator.checks.people import people
from isolator.checks.room import clearance
from isolator.checks.row import Row, answers, waiver
from isolator.checks.shake import shakes
from isolator.response import Bools, Response

__all__ = ["Row", "answers", "ask", "waiver"]


def ask(response: Response) -> list[Row]:
    """All checks of a batch of designs: carry, survive, clear the walls, isolate, be lifted."""
    rows = list(carry(response))
    for number, leg in enumerate(response.legs, start=1):
        rows += drops(response, number, leg)
    rows += clearance(response)
    for number, leg in enumerate(response.legs, start=1):
        rows += shakes(response, number, leg)
    guessed = np.array([design.payload.centre is None for design in response.designs])
    rows = [_if_centred(row, guessed) for row in rows]
    legs = enumerate(response.legs, start=1)
    rows += [temperature(response, number, leg) for number, leg in legs]
    return [*rows, *people(response)]


def _if_centred(row: Row, guessed: Bools) -> Row:
    """The same check, open for designs whose centre of gravity nobody gave."""
    reason, missing = row.reason, row.missing
    return replace(
        row,
        open=row.open | guessed,
        reason=lambda i: (
            f"{reason(i)}; the centre of gravity is not given" if guessed[i] else reason(i)
        ),
        missing=lambda i: "payload.centre" if guessed[i] else missing(i),
    )

"""The questions that are asked of every design, and their answers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from isolator.checks.carry import carry, listed_mass, temperature
from isolator.checks.drop import drops
from isolator.checks.hang import hang
from isolator.checks.parts import part_checks, part_checks_once
from isolator.checks.people import people
from isolator.checks.room import clearance
from isolator.checks.row import Row, answer, answers, gravest, waiver
from isolator.checks.shake import shakes
from isolator.response import Bools, Response

__all__ = ["Row", "answer", "answers", "ask", "gravest", "waiver"]


def ask(response: Response) -> list[Row]:
    """All checks of a batch of designs: carry, survive, clear the walls, isolate, be lifted."""
    rows = list(carry(response))
    for number, leg in enumerate(response.legs, start=1):
        rows += drops(response, number, leg)
    rows += clearance(response)
    for number, leg in enumerate(response.legs, start=1):
        rows += shakes(response, number, leg)
        rows += part_checks(response, number, leg)
    rows += part_checks_once(response)
    rows += hang(response)
    unplaced = [design.payload.centre is None for design in response.designs]
    flat = [not design.payload.height_known for design in response.designs]
    rows = [
        _if_known(row, np.array(flat), "payload.weighing.tilt", "height of the centre")
        for row in rows
    ]
    rows = [_if_known(row, np.array(unplaced), "payload.centre", "centre") for row in rows]
    rows += listed_mass(response)
    legs = enumerate(response.legs, start=1)
    rows += [temperature(response, number, leg) for number, leg in legs]
    return [*rows, *people(response)]


def _if_known(row: Row, guessed: Bools, key: str, what: str) -> Row:
    """The same check, open for designs of which nobody gave the centre of gravity."""
    reason, missing = row.reason, row.missing
    return replace(
        row,
        open=row.open | guessed,
        reason=lambda i: (
            f"{reason(i)}; the {what} of gravity is not given" if guessed[i] else reason(i)
        ),
        missing=lambda i: key if guessed[i] else missing(i),
    )

"""The questions that are asked of every design, and their answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from isolator.checks.bodies import between, judged_apart, of_body, pair_id
from isolator.checks.carry import carry, listed_mass, temperature
from isolator.checks.drop import drops
from isolator.checks.handling import handling
from isolator.checks.hang import hang
from isolator.checks.parts import part_checks, part_checks_once
from isolator.checks.people import people
from isolator.checks.pulse import pulses
from isolator.checks.room import clearance
from isolator.checks.row import Row, answer, gravest, waiver
from isolator.checks.shake import shakes
from isolator.design import MAIN
from isolator.outcome import Bools
from isolator.response import Response

__all__ = ["PAIRS", "Row", "answer", "ask", "ask_all", "gravest", "pair_id", "waiver"]

PAIRS = "two bodies"
"""Where `ask_all` has the rows about two bodies."""


def ask_all(bodies: Mapping[str, Response], variants: Mapping[str, int]) -> dict[str, list[Row]]:
    """All checks of a batch of cases with the same bodies in each.

    Parameters
    ----------
    bodies : mapping of name to Response
        `MAIN` first. Each of the same cases, or of one design that is in all of them.
    variants : mapping of name to int
        How many designs stand side by side for each case, see `Design.variants`.

    Returns
    -------
    mapping of name to rows of the designs of that body
        Where there are several, under `PAIRS` rows of the cases.
    """
    out = {}
    for name, response in bodies.items():
        apart = judged_apart(response, bodies)
        own = [row for row in ask(response) if row.id not in apart]
        if name == MAIN:
            out[name] = own
            if len(bodies) > 1:
                out[PAIRS] = list(between(bodies, variants))
        else:  # the case is lifted once
            out[name] = of_body(name, [row for row in own if row.id != "carry"])
    return out


def ask(response: Response) -> list[Row]:
    """All checks of one body: carry, survive, clear the walls, isolate, be lifted."""
    rows, falls = list(carry(response)), list[Row]()
    for number, leg in enumerate(response.legs, start=1):
        falls += drops(response, number, leg)
    falls += clearance(response)
    rows += [replace(row, in_time=True) for row in falls]
    for number, leg in enumerate(response.legs, start=1):
        rows += shakes(response, number, leg)
        rows += pulses(response, number, leg)
        rows += handling(response, number, leg)
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

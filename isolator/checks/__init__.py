"""The questions that are asked of every design, and their answers."""

from __future__ import annotations

from isolator.checks.carry import carry, temperature
from isolator.checks.drop import drops
from isolator.checks.room import clearance
from isolator.checks.row import Row, answers, waiver
from isolator.checks.shake import shakes
from isolator.response import Response

__all__ = ["Row", "answers", "ask", "waiver"]


def ask(response: Response) -> list[Row]:
    """All checks of a batch of designs: carry, survive, clear the walls, isolate."""
    rows = list(carry(response))
    for number, leg in enumerate(response.legs, start=1):
        rows += [temperature(response, number, leg), *drops(response, number, leg)]
    rows += clearance(response)
    for number, leg in enumerate(response.legs, start=1):
        rows += shakes(response, number, leg)
    return rows

"""May a person lift it?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.checks.row import Row, each_design
from isolator.response import Response
from isolator.units import MASS

NIOSH = (
    "niosh-94-110, published; tables of frequency and coupling, memory: a guide for healthy adults "
    "at the start of a two-handed lift on firm ground, which local rules go before"
)


def people(response: Response) -> Iterator[Row]:
    """The gross weight against the recommended limit of the lift that is asked about."""
    lift = response.designs[0].carry
    if lift is None:
        return
    gross = each_design(response, lambda design: design.gross_mass())
    limit = lift.limit()
    gaps = dict(lift.outside())
    if key := lift.unknown():
        gaps = {**gaps, key: f"{key.replace('_', ' ')} of the lift is not given"}
    parts = ", ".join(f"{k} {v:.2f}" for k, v in lift.multipliers().items())

    def reason(i: int) -> str:
        text = "the mass of the case is not given"
        if not np.isnan(gross[i]):
            text = f"payload and case weigh {MASS.text(gross[i])}"
        if limit is None:
            return f"{text}; {next(iter(gaps.values()))}"
        return (
            f"{text}; for this lift the guide for healthy adults is {MASS.text(limit)} "
            f"(23 kg times {parts}); local rules go before it"
        )

    most = np.full(len(response.designs), np.nan if limit is None else limit)
    yield Row(
        id="carry",
        unit="kg",
        demand=gross,
        capacity=most,
        reason=reason,
        missing=lambda i: f"carry.{next(iter(gaps))}" if gaps else "case.mass",
        source=NIOSH,
        graded=False,
    )

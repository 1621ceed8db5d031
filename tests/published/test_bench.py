"""Hand methods at the bench: what they read, row by row of data/published.csv."""

from collections.abc import Callable

import numpy as np
import pytest

from isolator.ringdown import half_power, log_decrement
from isolator.sources import Published, misses, published


def decrement(first: float, last: float, cycles: int) -> float:
    """δ = 2πζ/√(1 − ζ²) from what `log_decrement` gives."""
    zeta = float(log_decrement(first, last, cycles))
    return 2 * np.pi * zeta / np.sqrt(1 - zeta**2)


def width(zeta: float) -> float:
    r = np.linspace(0.2, 1.8, 160001)
    return half_power(r, 1 / np.hypot(1 - r**2, 2 * zeta * r))


CLAIMS: dict[str, Callable[[], float]] = {
    "decrement-car": lambda: decrement(2.0, 0.22, 1),
    "decrement-car-zeta": lambda: float(log_decrement(2.0, 0.22, 1)),
    "decrement-three": lambda: decrement(-9.5, -1.8, 3),
    "decrement-three-zeta": lambda: float(log_decrement(-9.5, -1.8, 3)),
    "half-power-0.05": lambda: width(0.05),
    "half-power-0.10": lambda: width(0.10),
    "half-power-0.20": lambda: width(0.20),
}

ROWS = published("bench")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_value(row: Published) -> None:
    computed = float(CLAIMS[row.id]())
    assert not misses(computed, row.expected, row.deviation), (
        f"{row.quantity}: {computed!r} against {row.expected} {row.unit} "
        f"({row.source}, {row.locator}, {row.label})"
    )


def test_every_row_is_claimed() -> None:
    assert sorted(row.id for row in ROWS) == sorted(CLAIMS)


def test_the_one_stated_deviation_is_real() -> None:
    stated = {row.id for row in ROWS if row.deviation}
    real = {row.id for row in ROWS if misses(float(CLAIMS[row.id]()), row.expected, "")}
    assert stated == real == {"decrement-three"}

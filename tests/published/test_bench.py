"""Hand methods at the bench: what they read, our answer to rows of data/published.csv."""

from collections.abc import Callable

import numpy as np
import pytest

from isolator.pair import A_BANDWIDTH, reads_low
from isolator.ringdown import half_power, log_decrement


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
for printed, power in (("1.95", 9), ("0.98", 10), ("0.49", 11), ("0.24", 12), ("0.12", 13)):
    CLAIMS[f"hann-{printed}"] = lambda p=power: 100 * reads_low(20.0, 0.08, 1000 / 2**p)


@pytest.mark.parametrize("zeta", [0.02, 0.08, 0.2])
def test_thirteen_lines_in_the_half_power_width_read_within_a_hundredth(zeta: float) -> None:
    """The spacing must be under a thirteenth of the half-power bandwidth for 1 %."""
    spacing = 2 * zeta * 20.0 / A_BANDWIDTH
    assert 0.002 < reads_low(20.0, zeta, spacing) < 0.0115

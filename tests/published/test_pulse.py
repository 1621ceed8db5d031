"""Shock spectra of simple pulses, and the velocity change of a published one."""

from collections.abc import Callable

import numpy as np
import pytest

from isolator.pulse import Pulse
from isolator.units import G0

LONG = 1.0
RATIOS = ("0.2", "0.5", "0.8", "1", "2", "5")
SHAPES = {
    "half-sine": "half-sine",
    "haversine": "haversine",
    "sawtooth": "terminal-peak sawtooth",
    "rectangle": "rectangle",
}


def pulse(shape: str) -> Pulse:
    """1 m/s² for a second: its spectrum over frequency is one over f·D."""
    return Pulse(shape=shape, peak="1 m/s**2", duration=f"{LONG} s")


def undamped(shape: str) -> tuple[np.ndarray, np.ndarray]:
    grid = np.linspace(0.3, 1.6, 2601)
    return grid, pulse(shape).shock_spectrum(grid, 0.0)


def most(shape: str) -> float:
    return float(undamped(shape)[1].max())


def most_at(shape: str) -> float:
    grid, spectrum = undamped(shape)
    return float(grid[spectrum.argmax()])


def felt(zeta: str, ratio: str) -> float:
    return float(pulse("half-sine").shock_spectrum([float(ratio)], float(zeta))[0])


SAW = Pulse(shape="terminal-peak sawtooth", peak="40 g0", duration="11 ms")
CLAIMS: dict[str, Callable[[], float]] = {
    "most-half-sine-ayre": lambda: most("half-sine"),
    "most-rectangle": lambda: most("rectangle"),
    "sawtooth-speed": SAW.velocity_change,
    "sawtooth-drop": lambda: SAW.velocity_change() ** 2 / (2 * G0),
    "equal-half-sine": lambda: (
        SAW.velocity_change()
        / Pulse(shape="half-sine", peak="1 g0", duration="11 ms").velocity_change()
    ),
}
for name in ("half-sine", "haversine", "sawtooth"):
    CLAIMS[f"most-{name}"] = lambda shape=SHAPES[name]: most(shape)
    CLAIMS[f"most-{name}-at"] = lambda shape=SHAPES[name]: most_at(shape)
for zeta in ("0", "0.05"):
    for ratio in RATIOS:
        CLAIMS[f"half-sine-{zeta}-{ratio}"] = lambda z=zeta, r=ratio: felt(z, r)


@pytest.mark.parametrize("ratio", [0.5, 0.6, 1.0, 2.0, 7.3])
def test_a_rectangle_of_half_a_cycle_or_more_doubles(ratio: float) -> None:
    """2.000 for fD ≥ 0.5, computed independently of this package."""
    assert pulse("rectangle").shock_spectrum([ratio], 0.0)[0] == pytest.approx(2.0, rel=1e-5)

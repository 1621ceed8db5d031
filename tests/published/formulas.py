"""Worked examples and tables from outside: our answer to rows of data/published.csv."""

import math
from collections.abc import Callable
from functools import partial

from isolator import formulas, sdof
from isolator.payload import COMPONENTS, Part
from isolator.resonance import board_deflection, board_limit
from isolator.units import G0

TAU = 2.0 * math.pi
INCH = 0.0254
POUND = 0.45359237
FOOT = 0.3048
POUND_FORCE_PER_FOOT = POUND * G0 / FOOT
# Textbooks round gravity: 32.2 ft/s² in Meriam & Kraige, 9.81 m/s² in Rao.
MERIAM_G = 32.2 * FOOT
RAO_G = 9.81

MERIAM_MASS = 25.0 * POUND * G0 / MERIAM_G
MERIAM_STIFFNESS = 160.0 * POUND_FORCE_PER_FOOT
TURNTABLE = sdof.stiffness_for(3.0 / sdof.isolation_ratio(0.8), 1.0)
# 20 km/h over waves of 6 m
ROAD_HZ = 20.0 / 3.6 / 6.0
INMAN = {"stiffness": 40e3, "mass": 1007.0}
INMAN_ZETA = sdof.damping_ratio(40e3, 1007.0, 2000.0)
OPEN_3 = {"stiffness": 400e3, "mass": 1007.0}
OPEN_3_ZETA = sdof.damping_ratio(400e3, 1007.0, 20e3)
OPEN_2 = {"stiffness": 857.8, "mass": 0.0492}
OPEN_2_ZETA = sdof.damping_ratio(857.8, 0.0492, 7.8)


def omega(stiffness: float, mass: float) -> float:
    return TAU * sdof.natural_frequency(stiffness, mass)


def road_ratio(stiffness: float, mass: float) -> float:
    return ROAD_HZ / sdof.natural_frequency(stiffness, mass)


def road_amplitude(stiffness: float, mass: float, zeta: float, bump: float) -> float:
    return bump * sdof.viscous_transmissibility(road_ratio(stiffness, mass), zeta)


def drop(natural_frequency: str, *, gravity: bool) -> formulas.LinearDrop:
    return formulas.linear_drop(
        height="0.762 m", natural_frequency=f"{natural_frequency} Hz", gravity=gravity
    )


def shortest_damaging_pulse() -> float:
    """A rectangle reaches the full 2A response when it lasts half a period of the part."""
    response, frequency = 500.0, 80.0
    velocity = sdof.critical_acceleration(response) * 0.5 / frequency
    return velocity / sdof.critical_velocity_change(frequency, response)


def transmissibility(ratio: str, zeta: str) -> float:
    return formulas.transmissibility(
        f"{ratio} Hz", natural_frequency="1 Hz", damping_ratio=float(zeta)
    )


def fan_stiffness() -> float:
    natural = 1000.0 / 60.0 / sdof.isolation_ratio(0.9)
    each = formulas.stiffness_for(natural_frequency=f"{natural} Hz", mass="10 kg")
    return each.to("N/m").magnitude


def board(component: str) -> float:
    """Deflection limit, in inches, of a board whose lengths are all an inch."""
    lengths = ("board_length", "board_thickness", "component_length")
    part = Part(
        name="board",
        mass="1 kg",
        position=["0 mm"] * 3,
        shape="point",
        component_place=1.0,
        component=component,
        **dict.fromkeys(lengths, "1 in"),
    )
    return board_limit(part) / INCH


CLAIMS: dict[str, Callable[[], float]] = {
    "drop-speed-1.2192": lambda: sdof.drop_speed(1.2192),
    "drop-speed-0.762": lambda: sdof.drop_speed(0.762),
    "damage-boundary-step": shortest_damaging_pulse,
    "sag-constant-mm": lambda: formulas.natural_frequency_from_deflection("1 mm").magnitude,
    "sag-constant-in": lambda: formulas.natural_frequency_from_deflection("1 in").magnitude,
    "meriam-8-1-deflection": lambda: sdof.static_deflection(MERIAM_STIFFNESS, 25.0 * POUND) / INCH,
    "meriam-8-1-omega": lambda: omega(MERIAM_STIFFNESS, MERIAM_MASS),
    "meriam-8-1-frequency": lambda: sdof.natural_frequency(MERIAM_STIFFNESS, MERIAM_MASS),
    "meriam-8-2-zeta": lambda: sdof.damping_ratio(32.0, 8.0, 20.0),
    "meriam-8-2-omega": lambda: TAU * sdof.damped_frequency(2.0 / TAU, 0.625),
    "meriam-8-2-motion": lambda: sdof.free_decay(2.0, 2.0 / TAU, 0.625, 0.2),
    "rao-turntable-deflection": lambda: sdof.static_deflection(TURNTABLE, 1.0) * RAO_G / G0,
    "rao-turntable-stiffness": lambda: TURNTABLE,
    "rao-fan-stiffness": fan_stiffness,
    "rao-road-ratio": lambda: road_amplitude(400e3, 1200.0, 0.5, 1.0),
    "inman-omega": lambda: omega(**INMAN),
    "inman-zeta": lambda: INMAN_ZETA,
    "inman-ratio": lambda: road_ratio(**INMAN),
    "inman-amplitude": lambda: road_amplitude(**INMAN, zeta=INMAN_ZETA, bump=0.01),
    "open-vibrations-3-omega": lambda: omega(**OPEN_3),
    "open-vibrations-3-ratio": lambda: road_ratio(**OPEN_3),
    "open-vibrations-3-zeta": lambda: OPEN_3_ZETA,
    "open-vibrations-3-amplitude": lambda: road_amplitude(**OPEN_3, zeta=OPEN_3_ZETA, bump=0.01),
    "open-vibrations-2-omega": lambda: omega(**OPEN_2),
    "open-vibrations-2-frequency": lambda: sdof.natural_frequency(**OPEN_2),
    "open-vibrations-2-critical": lambda: sdof.critical_damping(**OPEN_2),
    "open-vibrations-2-zeta": lambda: OPEN_2_ZETA,
    "open-vibrations-2-damped": lambda: (
        TAU * sdof.damped_frequency(sdof.natural_frequency(**OPEN_2), OPEN_2_ZETA)
    ),
    "miles-acceleration": lambda: sdof.miles_acceleration(200.0, 20.0, 0.01),
    "peak-factor-one-sided": lambda: sdof.expected_peak_factor(20.0 * 3600.0),
    "peak-factor-two-sided": lambda: sdof.expected_peak_factor(2.0 * 20.0 * 3600.0),
}
CLAIMS["steinberg-limit"] = lambda: board("dip")
CLAIMS["steinberg-deflection"] = lambda: board_deflection(G0, 1.0) / 3.0 / INCH
for component in COMPONENTS:
    CLAIMS[f"steinberg-{component}"] = lambda c=component: board("dip") / board(c)
for fn in ("5", "10", "20"):
    CLAIMS[f"drop-peak-{fn}"] = lambda fn=fn: drop(fn, gravity=False).peak_specific_force
    CLAIMS[f"drop-peak-gravity-{fn}"] = lambda fn=fn: drop(fn, gravity=True).peak_specific_force
    CLAIMS[f"drop-travel-{fn}"] = lambda fn=fn: drop(fn, gravity=False).travel.to("mm").magnitude
for percent in ("50", "80", "90", "95"):
    CLAIMS[f"isolation-{percent}"] = partial(sdof.isolation_ratio, float(percent) / 100.0)
for zeta in ("0.05", "0.10", "0.20", "0.50"):
    for ratio in ("0.5", "1", "2", "3", "5", "10"):
        CLAIMS[f"transmissibility-{zeta}-{ratio}"] = partial(transmissibility, ratio, zeta)
    CLAIMS[f"peak-ratio-{zeta}"] = lambda zeta=zeta: sdof.viscous_peak(float(zeta))[0]
    CLAIMS[f"peak-height-{zeta}"] = lambda zeta=zeta: sdof.viscous_peak(float(zeta))[1]

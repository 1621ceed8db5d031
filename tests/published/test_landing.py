"""Landings in time against closed forms and independent integrations, our answer to rows."""

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from isolator.coupled import Holding, Landings, Shell, Start
from isolator.course import Landed
from isolator.curve import Curve
from isolator.landing import foam_alone, land
from isolator.suspension import Suspension
from isolator.tipping import slap_down, topple_speed
from isolator.units import G0

SPEED = np.sqrt(2 * G0 * 0.762)
FEET = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
DOWN = np.array([[[0.0, 0.0, -1.0]]])


def tray(hertz: float, zeta: float = 0.0) -> Holding:
    """8 kg that bounces at so much."""
    k = 8 * (2 * np.pi * hertz) ** 2 / 4
    held = Suspension.of_springs(8.0, np.eye(3), FEET, k, k, loss_factor=2 * zeta)
    return Holding.of(Suspension.stacked([held]))


def shell(mass: float = np.inf, rebound: float = 0.0, **foam: object) -> Shell:
    still = np.zeros((1, 3))
    light = np.array([mass])
    return Shell(light, still, np.eye(3)[None] / 30, np.array([rebound]), np.zeros(1), **foam)


def lands(held: Holding, case: Shell, gravity: float = G0, until: float = 0.2) -> Landed:
    """From 0.762 m and unloaded mounts, by integration."""
    return land(
        held,
        case,
        Landings(down=DOWN, speed=np.array([[SPEED]])),
        Start.unloaded((1, 1)),
        gravity=gravity,
        until=np.array([[until]]),
        closed=False,
    )[0]


def peak(held: Holding, case: Shell, **given: float) -> float:
    return float(lands(held, case, **given).peak[0, 0, 0]) / G0


def foamed(mass: float) -> Shell:
    """Foam that takes 12 kg in 25 mm."""
    k = 12 * np.array([SPEED**2]) / 0.025**2
    drag = 2 * 0.05 * np.sqrt(12 * k)
    return shell(mass, foam=Curve.straight(k), foam_damping=drag, glued=True)


@cache
def on_foam(hertz: float) -> Landed:
    return lands(tray(hertz, 0.08), foamed(4.0))


def slapped(degrees: float) -> float:
    """Speed of the far end over that of the drop, from the motion of the shell. [-]"""
    gyration = np.eye(3)[None] * (0.5**2 + 0.2**2) / 12
    case = Shell(np.array([np.inf]), np.zeros((1, 3)), gyration, np.zeros(1), np.zeros(1))
    edge = Landings(
        down=DOWN,
        speed=np.array([[SPEED]]),
        axis=np.array([[[0.0, 1.0, 0.0]]]),
        pivot=np.array([[[-0.25, 0.0, -0.1]]]),
        tilt=np.array([[np.deg2rad(degrees)]]),
    )
    landed, _ = land(tray(10.0), case, edge, Start.unloaded((1, 1)), gravity=0.0)
    assert landed.converged.all()
    return float(0.5 * landed.struck[0, 0] / SPEED)


BOX = (0.25, 0.1, np.sqrt((0.5**2 + 0.2**2) / 12))
FLAT = 1e-3  # an edge that lands at no tilt at all has nothing to turn through
TOPPLED = 0.5 * float(topple_speed(*BOX))
CLAIMS: dict[str, Callable[[], float]] = {
    "time-with-gravity": lambda: peak(tray(10.0), shell()),
    "time-without-gravity": lambda: peak(tray(10.0), shell(), gravity=0.0),
    "light-shell-dead": lambda: peak(tray(10.0), shell(4.0), until=0.06),
    "foam-alone": lambda: float(foam_alone(np.array([12.0]), foamed(4.0), SPEED[None])[0][0]) / G0,
    "foam-10-travel": lambda: 1e3 * float(on_foam(10.0).high[0, 0, 0, 0]),
    "slap-flat": lambda: slapped(FLAT),
    "slap-flat-square": lambda: slapped(FLAT) ** 2,
    "slap-2": lambda: slapped(2.0),
    "slap-5": lambda: slapped(5.0),
    "slap-slides": lambda: 0.5 * float(slap_down(*BOX, pinned=False)),
    "topple-speed": lambda: TOPPLED,
    "topple-drop": lambda: TOPPLED**2 / 2 / G0,
}
for name in (10, 30, 40, 100):
    CLAIMS[f"foam-{name}"] = lambda f=float(name): float(on_foam(f).peak[0, 0, 0]) / G0

CLAIMS |= {
    # test_trip.py has both by an integration that is not of the package too.
    # the heavy shell comes back after 0.3 s
    "two-bodies-heavy": lambda: peak(tray(10.0), shell(rebound=0.4)),
    "two-bodies-motion": lambda: peak(tray(10.0), shell(4.0, rebound=0.4)),
}


def test_a_payload_held_rigidly_stands_for_foam_alone() -> None:
    """Computed: 57.7 g with 12 kg in one piece."""
    assert peak(tray(500.0, 0.08), foamed(4.0), until=0.03) == pytest.approx(57.7, abs=0.1)


@pytest.mark.parametrize("degrees", [1.0, 3.0, 5.0])
def test_the_turn_of_the_shell_is_the_closed_form(degrees: float) -> None:
    """Angular momentum about the edge that stops (closed form)."""
    expected = 0.5 * float(slap_down(*BOX, np.deg2rad(degrees)))
    assert slapped(degrees) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("degrees", [1.0, 5.0, 20.0])
def test_a_topple_speeds_up_as_the_closed_form_says(degrees: float) -> None:
    """From part of the way to flat on the floor: energy about the edge (closed form)."""
    gyration = np.eye(3)[None] * BOX[2] ** 2
    case = Shell(np.array([np.inf]), np.zeros((1, 3)), gyration, np.zeros(1), np.zeros(1))
    tilt = np.deg2rad(degrees)
    edge = Landings(
        down=DOWN,
        speed=np.zeros((1, 1)),
        axis=np.array([[[0.0, 1.0, 0.0]]]),
        pivot=np.array([[[-0.25, 0.0, -0.1]]]),
        tilt=np.array([[tilt]]),
        spin=topple_speed(*BOX, tilt)[None, None],
    )
    landed, _ = land(tray(10.0), case, edge, Start.unloaded((1, 1)))
    assert landed.converged.all()
    assert landed.struck[0, 0] == pytest.approx(float(topple_speed(*BOX)), rel=1e-4)

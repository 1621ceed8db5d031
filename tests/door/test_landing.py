"""What no landing can have is refused, with one line: argument, value, limit."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from isolator.coupled import Holding, Landings, Shell, Start
from isolator.suspension import Suspension
from isolator.units import InputError

UP = np.array([[[0.0, 0.0, 1.0], [0.0, 0.0, 1.0]]])
FEET = [(0.1, 0.1, 0.0), (-0.1, 0.1, 0.0), (0.0, -0.1, 0.0)]
HELD = Holding.of(Suspension.stacked([Suspension.of_springs(8.0, np.eye(3), FEET, 9e3, 6e3)]))


def shell(**changed: object) -> Callable[[], object]:
    return lambda: replace(Shell.heavy(2), **changed)


def lands(**changed: object) -> Callable[[], object]:
    given = {"down": -UP, "speed": np.ones((1, 2))}
    return lambda: Landings(**given | changed)


def start(turn: np.ndarray) -> Callable[[], object]:
    zero = np.zeros((1, 2, 3))
    return lambda: Start(zero, zero, zero, np.stack([np.eye(3), turn])[None])


def held(**changed: object) -> Callable[[], object]:
    return lambda: replace(HELD, **changed)


LIMIT = np.array([[[0.01, -0.01, 0.01]] * 3])


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (shell(restitution=np.array([0.5, 1.2])), "Shell.restitution = 1.2: a share; give 0 to 1"),
        (shell(restitution=np.array([-0.1, 0.0])), "Shell.restitution = -0.1: "),
        (shell(restitution=np.array([0.1, np.nan])), "Shell.restitution = nan: "),
        (shell(mass=np.array([4.0, 0.0])), "Shell.mass = 0: give a mass above 0 kg, or inf"),
        (shell(mass=np.array([-4.0, 2.0])), "Shell.mass = -4: "),
        (shell(mass=np.array([4.0, np.nan])), "Shell.mass = nan: "),
        (shell(stopping=np.array([-1e-3, 0.0])), "Shell.stopping = -0.001: give 0 s or more"),
        (shell(foam_damping=np.array([-5.0])), "Shell.foam_damping = -5: "),
        (shell(foam_returns=np.array([1.5])), "Shell.foam_returns = 1.5: "),
        (lands(down=0 * UP), "length of Landings.down = 0: a direction has 1; divide by it"),
        (lands(down=-2 * UP), "length of Landings.down = 2: "),
        (lands(down=np.nan * UP), "length of Landings.down = nan: "),
        (lands(axis=3 * UP), "length of Landings.axis = 3: "),
        (lands(speed=np.array([[1.0, -1.0]])), "Landings.speed = -1: give 0 m/s or more"),
        (lands(speed=np.array([[np.nan, 1.0]])), "Landings.speed = nan: "),
        (lands(tilt=np.array(-0.1)), "Landings.tilt = -0.1: give 0 rad or more"),
        (start(2 * np.eye(3)), "Start.turn off by = "),
        (start(-np.eye(3)), "Start.turn off by = "),
        (start(np.diag([2.0, 0.5, 1.0])), "Start.turn off by = 3: no rotation; give an"),
        (start(1.001 * np.eye(3)), "Start.turn off by = 0.003002: "),
        (start(np.nan * np.eye(3)), "Start.turn off by = nan: no rotation"),
        (held(limit=LIMIT), "Holding.limit = -0.01: give 0 m or more, inf without one"),
        (held(stop=np.array([[0.0, -1.0, 0.0]])), "Holding.stop = -1: give 0 N/m or more"),
        (held(wall=np.array([-1.0])), "Holding.wall = -1: give 0 N/m or more"),
    ],
)
def test_is_refused(make: Callable[[], object], says: str) -> None:
    with pytest.raises(InputError) as caught:
        make()
    message = str(caught.value)
    assert message.startswith(says)
    assert "\n" not in message


@pytest.mark.parametrize(
    "make",
    [
        shell(mass=np.array([0.4, np.inf]), restitution=np.array([0.0, 1.0])),
        lands(axis=UP, tilt=np.array(0.0), speed=np.zeros((1, 2))),
        start(np.diag([1.0, -1.0, -1.0])),
        start((1 + 2e-6) * np.eye(3)),
        held(limit=np.zeros((1, 3, 3)), stop=np.zeros((1, 3)), wall=np.zeros(1)),
        held(limit=np.full((1, 3, 3), np.nan)),
    ],
)
def test_is_taken(make: Callable[[], object]) -> None:
    assert make() is not None

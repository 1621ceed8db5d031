"""A cable as a spring: one stiffness for all directions, or three."""

import numpy as np
import pytest

from isolator.cable import Cable
from isolator.units import InputError

GIVEN = {"name": "loom", "position": ["0 mm", "150 mm", "0 mm"]}


@pytest.mark.parametrize(
    ("stiffness", "expected"),
    [
        ("2 N/mm", [2e3, 2e3, 2e3]),
        (["2 N/mm"], [2e3, 2e3, 2e3]),
        (["1 N/mm", "2 N/mm", "3 N/mm"], [1e3, 2e3, 3e3]),
    ],
)
def test_the_directions_of_a_cable(stiffness: object, expected: list[float]):
    found = Cable(**GIVEN, stiffness=stiffness).directions()
    np.testing.assert_array_equal(found, expected)
    found[0] = 5.0  # an array of its own
    np.testing.assert_array_equal(found, [5.0, *expected[1:]])


def test_two_directions_are_none():
    with pytest.raises(InputError, match=r"\(2,\) values; give one for all directions, or three"):
        Cable(**GIVEN, stiffness=["1 N/mm", "2 N/mm"])


def test_the_loss_of_a_cable_has_limits():
    for loss in (None, 0.001, 2.0):
        assert Cable(**GIVEN, stiffness="2 N/mm", loss_factor=loss).loss_factor == loss
    for loss in (0.0009, 2.001):
        with pytest.raises(InputError, match=r"Cable\.loss_factor"):
            Cable(**GIVEN, stiffness="2 N/mm", loss_factor=loss)


def test_a_whole_number_is_read_as_a_number():
    assert type(Cable(**GIVEN, stiffness="2 N/mm", loss_factor=1).loss_factor) is float

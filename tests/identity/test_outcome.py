"""What a leg does, put together from its causes: the worse of two counts, and what is unknown."""

from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pytest

from isolator.outcome import LegResponse

ONE = np.array([[[1.0, 4.0, 2.0], [3.0, 0.0, 1.0]]])
OTHER = np.array([[[2.0, 3.0, 2.5], [0.0, 1.0, 0.5]]])
WORST = [[[2.0, 4.0, 2.5], [3.0, 1.0, 1.0]]]


def leg(**given):
    """A leg on which nothing happens but what is given."""
    return LegResponse(**dict.fromkeys(f.name for f in fields(LegResponse)) | given)


def mounts(one, **more):
    return SimpleNamespace(mounts=one, **more)


@pytest.mark.parametrize(
    ("given", "name", "wanted"),
    [
        ({"shaking": mounts(ONE), "sine": mounts(OTHER)}, "shaken_mounts", WORST),
        ({"sine": mounts(OTHER)}, "shaken_mounts", OTHER),
        ({"knock": mounts({"x": ONE, "z": OTHER})}, "knocked_mounts", WORST),
        ({"walking": mounts(ONE, swung_mounts=OTHER)}, "carried_mounts", WORST),
        ({"walking": mounts(ONE, swung_mounts=None)}, "carried_mounts", ONE),
    ],
)
def test_each_mount_goes_as_far_as_the_worse_of_two_causes_takes_it(given, name, wanted):
    np.testing.assert_array_equal(getattr(leg(**given), name), wanted)


def test_without_a_cause_nothing_is_said_of_the_mounts():
    still = leg()
    assert (still.shaken_mounts, still.knocked_mounts, still.carried_mounts) == (None, None, None)


def test_a_design_lacks_what_one_of_its_mounts_or_cables_lacks():
    loss = np.full((5, 3), 0.1)
    loss[1, 1] = loss[2, 2] = np.nan
    held = SimpleNamespace(loss_factor=loss[:, :2], cable_loss=loss[:, 2:])
    unsure, stands = np.arange(5) == 3, np.arange(5) != 4
    found = leg(suspension=held, uncertain=unsure, stands=stands).lacking
    assert found.tolist() == [False, True, True, True, True]


def test_its_falls_are_those_that_happen():
    assert leg(falling="drop", own="own", set_down="set-down").falls == ["drop", "own", "set-down"]


def test_all_landings_of_one_design_are_those_of_its_falls_its_hop_and_its_turns():
    each = [np.arange(3.0)[:, None] + 10 * k for k in range(6)]
    drop, own, down, hop, slap, topple = map(mounts, each)
    happens = leg(
        falling=drop,
        own=own,
        set_down=down,
        hopping=SimpleNamespace(landing=hop),
        turning=[SimpleNamespace(touch=slap), SimpleNamespace(touch=topple)],
    )
    assert [float(m[0, 0]) for m in happens.strokes(1)] == [1, 11, 21, 31, 41, 51]
    assert {m.shape for i in range(3) for m in happens.strokes(i)} == {(1, 1)}
    assert [float(m[0, 0]) for m in leg(set_down=down, turning=()).strokes(0)] == [20]

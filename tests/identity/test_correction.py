"""What a tap makes of a brief, and what six modes cannot explain, by hand."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.correction import Correction, Line, _corrected, correct
from isolator.faults import EACH, FAR, Fault, Seen, _beyond
from isolator.report.bench import tap_data, tap_page
from isolator.ringdown import RingDown
from isolator.units import InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = read_brief(DATA / "starter" / "case.toml")
FACTOR, LOSS = np.array([0.8, 1.25]), np.array([0.11, 0.17])


@pytest.mark.parametrize("case", ["starter", "ice-radar", "planetarium", "echo-amplifier"])
def test_every_mount_of_a_corrected_brief_has_the_middle_of_the_factor(case):
    """The geometric middle of 0.8 and 1.25 is 1: each as stiff as it was, measured, ±25 %."""
    brief = read_brief(DATA / case / "case.toml")
    for factor, times in ((FACTOR, 1.0), (1.3 * FACTOR, 1.3)):
        made = _corrected(brief, factor, LOSS, "tap.csv").design.places
        assert len(made) == len(brief.design.places)
        for old, new in zip(brief.design.places, made, strict=True):
            now, was = (place.mount.curves() for place in (new, old))
            np.testing.assert_allclose(now.tangent(0.0), times * was.tangent(0.0), rtol=1e-3)
            far = 0.5 * np.minimum(*(place.mount.limits()[:2].min() for place in (new, old)))
            np.testing.assert_allclose(now.force(far), times * was.force(far), rtol=1e-3)
            assert new.position is old.position or list(new.position) == list(old.position)
            assert new.mount.grade == "measured"
            assert new.mount.within["along"] == pytest.approx((0.75, 1.25), abs=1e-3)


def test_a_payload_that_does_not_rest_has_nothing_to_be_held_against():
    """Its centre is too high above its mounts: it topples."""
    soft = STARTER.changed("payload.centre", ["0 mm", "0 mm", "70 mm"])
    soft = soft.changed("mounts.inset", ["190 mm", "140 mm"]).changed("mounts.height", "-70 mm")
    with pytest.raises(InputError, match="does not come to rest"):
        correct(soft, RingDown.__new__(RingDown), "tap.csv")


def fault(match, misfit=60.0):
    return Fault("as predicted", "the model as stated", misfit, misfit, "", np.ones(6),
                 np.eye(6), np.array(match))  # fmt: skip


def seen(frequency, falls=None):
    ones = np.ones(len(frequency))
    return Seen(np.array(frequency), 0.01 * ones, 0.1 * ones, 0.01 * ones, ones, falls)


def test_a_whole_multiple_of_the_strongest_mode_is_something_that_touches():
    at = replace(seen([10.0, 14.0, 20.05]), strength=np.array([3.0, 1.0, 0.5]))
    plain = fault([0, 1, -1])
    touches, bends = _beyond(plain, [plain], at)
    assert touches.name == "touches"
    assert "20.1 Hz at a whole multiple of the strongest mode" in touches.words
    assert touches.misfit == plain.misfit - FAR
    assert touches.score == plain.misfit - FAR + EACH
    assert bends.name == "tray bends"
    assert bends.score > touches.score
    assert "20.1 Hz is none of the six modes" in bends.words
    far = replace(at, frequency=np.array([10.0, 14.0, 21.0]))
    assert [one.name for one in _beyond(plain, [plain], far)] == ["tray bends"]


def test_a_frequency_that_falls_as_the_ring_dies_is_something_that_touches():
    plain = fault([0, 1])
    assert list(_beyond(plain, [plain], seen([10.0, 14.0]))) == []
    (touches,) = _beyond(plain, [plain], seen([10.0, 14.0], falls=True))
    assert touches.words == "something touches: its frequency falls as the ring dies away"
    assert touches.misfit == plain.misfit
    assert touches.score == plain.misfit


def test_two_strange_modes_are_no_single_tray_that_bends():
    plain = fault([0, -1, -1])
    assert list(_beyond(plain, [plain], seen([10.0, 14.7, 17.3]))) == []


def test_the_page_of_a_build_that_hides_something_corrects_nothing():
    tap = RingDown.__new__(RingDown)
    for key, value in {"modes": (), "sentences": ("By hand.",)}.items():
        object.__setattr__(tap, key, value)
    for key in ("decrement", "half_power"):
        object.__setattr__(tap, key, float("nan"))
    before = assess(STARTER.changed("leg[1].drop", "none"))
    hides = replace(fault([0]), name="crushed", words="mount 3 is crushed", apart="loosen it")
    line = Line("", np.full(2, np.nan), 12.0, 0.1, 0.1, 0.01)
    found = Correction(
        [line], [hides, fault([0], 63.0)], None, float("nan"), None, None, before, None
    )
    text = " ".join(tap_page(tap, "tap.csv", found).split())
    assert "The model is not corrected - mount 3 is crushed: mend that first and tap again" in text
    assert "mount 3 is crushed; to tell: loosen it" in text
    assert "the model as stated (fits less well by 3)" in text
    assert "none of the six modes" in text
    data = tap_data(tap, "tap.csv", found)
    assert data["model"]["stiffness_over_stated"] is None
    assert data["model"]["status_after"] is None
    assert data["by_hand_damping_ratio"] == {"log decrement": None, "half power": None}
    plain = replace(found, faults=[fault([0])])
    assert "nothing that was tried explains all that was measured" in " ".join(
        tap_page(tap, "tap.csv", plain).split()
    )

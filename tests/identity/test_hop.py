"""A loose case that hops: closed forms where the payload is one mass, and never a pass."""

import math
from pathlib import Path

import numpy as np
import pytest

from isolator import sdof
from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.handling import MEET
from isolator.report import page
from isolator.sine import Dwell, Sine, Sweep
from isolator.trip import road
from isolator.units import G0

# One mass on one spring in every direction: 8 kg on four mounts of 6 N/mm, dynamic ratio 1.2.
BRIEF = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
STATIC, DYNAMIC = (math.sqrt(24e3 * ratio / 8) / (2 * math.pi) for ratio in (1.0, 1.2))
SWEEP = {"from": "5 Hz", "to": "200 Hz", "level": "1.5 g0", "ways": ["vertical"]}


def loose(**keys):
    """The starter, loose and without a drop; None leaves a key out."""
    given = {**BRIEF.text["leg"][0], "drop": "none", "tied": False, **keys}
    return BRIEF.changed("leg", [{k: v for k, v in given.items() if v is not None}])


def by_id(brief):
    """Of the verdict alone, without the search for a change."""
    return {check.id: check for check in assess(brief.design).checks}


def set_down(speed):
    """Peak [g] and travel [mm] of a landing with MEET times a speed, at the worst of its ring.

    On linear mounts the ring of the sag adds 1 g and a sag.
    """
    height = (MEET * speed) ** 2 / (2 * G0)
    peak, _ = sdof.linear_drop(height, DYNAMIC, gravity=True)
    _, travel = sdof.linear_drop(height, STATIC, gravity=True)
    return float(peak) + 1, 1e3 * (float(travel) + 8 * G0 / 24e3)


def road_speed(crest=1.0, level=1.0):
    """Expected peak of the floor's speed, by trapezoids over the spectrum's own lines."""
    spectrum = road("truck d4169-16 medium")["vertical"]
    f = np.geomspace(1, 200, 200001)
    slow = np.exp(np.interp(np.log(f), np.log(spectrum.lines), np.log(spectrum.density)))
    slow = slow / (2 * np.pi * f) ** 2
    square = np.trapezoid(slow, f)
    rate = math.sqrt(np.trapezoid(slow * f**2, f) / square)
    spread = math.sqrt(2 * math.log(rate * 3 * 3600))
    return crest * level * math.sqrt(square) * (spread + 0.5772 / spread)


@pytest.mark.parametrize(("crest", "level"), [(1.0, 1.0), (1.3, 0.8)])
def test_a_hop_on_a_road_is_a_set_down_by_the_floors_speed(crest, level):
    brief = loose(crest=crest, level=level)
    speed = road_speed(crest, level)
    peak, travel = set_down(speed)
    hop = by_id(brief)["hop/by van"]
    assert hop.demand == pytest.approx(peak, rel=1e-3)
    assert (hop.status, hop.missing) == ("incomplete", "leg[1].tied")
    (leg,) = assess(brief.design).response.legs
    assert leg.hopping.height == pytest.approx(speed**2 / (2 * G0), rel=1e-3)
    assert f"pushed by up to {travel:.4g} mm, of 45 mm" in hop.reason
    assert f"lands with up to {MEET * leg.hopping.speed:.4g} m/s" in hop.reason
    words = " ".join(page(assess(brief.design)).split())
    assert "hop (by van)" in words


def test_a_hop_on_a_sine():
    """No displacement limit: 1.5 g at 5 Hz are 0.468 m/s."""
    speed = 1.5 * G0 / (2 * math.pi * 5)
    assert by_id(loose(road=None, sine=SWEEP))["hop/by van"].demand == pytest.approx(
        set_down(speed)[0], rel=1e-4
    )
    sweep = Sweep(start="5 Hz", stop="50 Hz", level="1.5 g0", displacement="1 mm")
    # 1 mm up to the crossover, where 1.5 g takes over: v = √(level·displacement).
    top = math.sqrt(1.5 * G0 * 1e-3)
    assert Sine(sweep=sweep).speed() == pytest.approx(top, rel=1e-9)
    f = np.geomspace(5, 50, 100001)
    assert (sweep.amplitude(f) / (2 * np.pi * f)).max() == pytest.approx(top, rel=1e-4)
    slow = Sine(sweep=sweep, dwell=Dwell(at="6 Hz", level="1.2 g0"))
    assert slow.speed() == pytest.approx(1.2 * G0 / (2 * np.pi * 6), rel=1e-9)


def test_what_is_too_much_fails_and_nothing_passes():
    peak, travel = set_down(road_speed())
    body = BRIEF.text["payload"]
    for share, status in ((0.99, "fail"), (1.01, "incomplete")):
        brief = loose().changed("payload", {**body, "fragility": f"{share * peak} g0"})
        assert by_id(brief)["hop/by van"].status == status
        brief = loose().changed("mount.ring.travel", f"{share * travel} mm")
        hop = by_id(brief)["hop/by van"]
        assert hop.status == status
        assert ("before a mount bottoms" in hop.reason) == (status == "fail")
    tight = loose().changed("case.floor", "5 mm")
    floor = by_id(tight)["clearance/floor"]
    assert (floor.status, "the hop on by van" in floor.reason) == ("fail", True)


@pytest.mark.parametrize(
    ("keys", "missing"),
    [
        ({"duration": None}, "leg[1].duration"),
        ({"road": {"transverse": "truck d4169-16 low"}}, "leg[1].road.vertical"),
        ({"temperature": "80 °C"}, "leg[1].tied"),
        (
            {"road": None, "sine": {"dwell": {"at": "resonance", "level": "2 g0"}}},
            "leg[1].tied",
        ),
    ],
    ids=["duration", "road", "warm", "resonance"],
)
def test_what_is_unknown_leaves_a_question(keys, missing):
    hop = by_id(loose(**keys))["hop/by van"]
    assert (hop.status, hop.demand, hop.missing) == ("incomplete", None, missing)
    assert "not known" in hop.reason


@pytest.mark.parametrize("keys", [{"tied": True}, {"tied": None}, {"level": 0.3}])
def test_what_does_not_hop_is_not_asked(keys):
    assert "hop/by van" not in by_id(loose(**keys))

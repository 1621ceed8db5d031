"""Carrying by hand in a case: closed forms where it reduces to one mass, and open questions."""

import math
from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.handling import FOOTFALL, UNSTEADY
from isolator.report import as_data, page
from isolator.units import G0

# One mass on one spring in every direction: 8 kg on four mounts of 6 N/mm, dynamic ratio 1.2.
BRIEF = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
MASS, STIFF, RATIO, LOSS = 8.0, 24e3, 1.2, 0.15
HAND = {"name": "by hand", "temperature": "15 °C", "drop": "none", "walk": True}


def carried(ring=None, payload=None, **keys):
    """The starter, carried on its only leg; None leaves a key out."""
    given = {k: v for k, v in {**HAND, **keys}.items() if v is not None}
    text = BRIEF.text
    kind = {**text["mount"]["ring"], **(ring or {})}
    body = {k: v for k, v in {**text["payload"], **(payload or {})}.items() if v is not None}
    brief = BRIEF.changed("mount", {"ring": {k: v for k, v in kind.items() if v is not None}})
    return brief.changed("payload", body).changed("leg", [given])


def judged(*args, **keys):
    """The verdict alone, without the search for a change."""
    return assess(carried(*args, **keys).design)


def by_id(result):
    return {check.id: check for check in result.checks}


def steps_by_hand(way, stiffness=STIFF, rate=2.0, loss=LOSS):
    """Peak, rms and travel of one mass at the worst step rate, from the list of tones alone."""
    omega2 = RATIO * stiffness / MASS * (1 + 1j * loss)
    steps = np.linspace(rate * (1 - UNSTEADY), rate * (1 + UNSTEADY), 20001)
    felt, moved, square = np.zeros((3, steps.size))
    for multiple, g in FOOTFALL[way].items():
        level = g * G0 * (steps / 2.0) ** 2
        gain = level / np.abs(omega2 - (2 * np.pi * multiple * steps) ** 2)
        felt += gain * abs(omega2)
        moved += gain
        square += (gain * abs(omega2)) ** 2 / 2
    return felt.max(), math.sqrt(square.max()), moved.max()


@pytest.mark.parametrize("rate", [1.6, 2.0])
@pytest.mark.parametrize("along", ["6 N/mm", "2 N/mm"])
def test_footsteps_are_those_of_one_mass_on_a_spring(along, rate):
    stiffness = 4e3 * float(along.split()[0])
    ring = {"along": along, "across": along}
    checks = by_id(judged(ring, walk={"step_rate": f"{rate} Hz"}))
    felt, rms, moved = steps_by_hand("vertical", stiffness, rate)
    assert checks["walk peak/by hand"].demand == pytest.approx(1 + felt / G0, rel=1e-3)
    assert checks["walk limit/by hand"].demand == pytest.approx(rms / G0, rel=1e-3)
    sag = MASS * G0 / stiffness
    travel = checks["walk travel/by hand"]
    assert travel.demand == pytest.approx(1e3 * (sag + moved), rel=1e-3)
    assert (travel.capacity, travel.status) == (45.0, "pass")
    assert checks["clearance/floor"].demand == pytest.approx(1e3 * moved, rel=1e-3)  # hanging
    assert "footsteps on by hand" in checks["clearance/floor"].reason
    end = steps_by_hand("longitudinal", stiffness, rate)[2]
    assert checks["clearance/right end"].demand == pytest.approx(1e3 * max(end, sag), rel=1e-3)
    assert not [i for i in checks if i.startswith(("isolation", "vibration", "swing", "drop"))]


def test_a_swing_leans_the_sag():
    """g·sin φ across and g(3 − 2cos φ) down over k, and the footsteps about it."""
    angle = math.radians(30)
    result = judged(walk={"swing": "30 deg"})
    checks = by_id(result)
    up, along, across = (steps_by_hand(w)[2] for w in ("vertical", "longitudinal", "transverse"))
    unit = MASS * G0 / STIFF
    down = unit * (3 - 2 * math.cos(angle)) + up
    aside = unit * math.sin(angle)
    pushed = checks["swing travel/by hand"]
    # Along the mounts' axis; both sideways at once stay below it here.
    assert pushed.demand == pytest.approx(1e3 * down, rel=2e-3)
    assert checks["clearance/floor"].demand == pytest.approx(1e3 * (down - unit), rel=2e-3)
    walking = result.response.legs[0].walking
    reach = (walking.swung_rest + walking.swing)[0].max(axis=0)
    assert reach[:4] == pytest.approx(
        [aside + along, aside + along, aside + across, aside + across], rel=5e-3
    )
    felt = steps_by_hand("vertical")[0] / G0 + 3 - 2 * math.cos(angle)
    assert checks["walk peak/by hand"].demand == pytest.approx(felt, rel=1e-3)
    assert "its swing included" in checks["walk peak/by hand"].reason
    assert not [line for line in result.assumed() if "does not swing" in line]


def test_what_is_too_much_fails():
    peak, rms, moved = steps_by_hand("vertical")
    low = {"fragility": f"{0.99 * (1 + peak / G0)} g0", "vibration_limit": f"{0.99 * rms / G0} g0"}
    checks = by_id(judged(payload=low))
    assert checks["walk peak/by hand"].status == "fail"
    assert checks["walk limit/by hand"].status == "fail"
    high = {"fragility": f"{1.01 * (1 + peak / G0)} g0", "vibration_limit": f"{1.01 * rms / G0} g0"}
    checks = by_id(judged(payload=high))
    assert checks["walk peak/by hand"].status == "pass"
    assert checks["walk limit/by hand"].status == "pass"
    short = {"travel": f"{0.99e3 * (MASS * G0 / STIFF + moved)} mm"}
    assert by_id(judged(short))["walk travel/by hand"].status == "fail"
    tight = BRIEF.text["case"] | {"floor": f"{0.99e3 * moved} mm"}
    checks = by_id(assess(carried().changed("case", tight).design))
    assert checks["clearance/floor"].status == "fail"


@pytest.mark.parametrize(
    ("ring", "payload", "keys", "missing"),
    [
        ({}, {"fragility": None}, {}, {"walk peak": "payload.fragility"}),
        ({}, {"vibration_limit": None}, {}, {"walk limit": "payload.vibration_limit"}),
        ({"travel": None}, {}, {}, {"walk travel": "mount.ring.travel"}),
        (
            {"loss_factor": None},
            {},
            {},
            dict.fromkeys(
                ("walk peak", "walk limit", "walk travel", "swing travel", "clearance"),
                "mount.ring.loss_factor",
            ),
        ),
        (
            {},
            {},
            {"temperature": "-30 °C"},
            dict.fromkeys(
                ("walk peak", "walk limit", "walk travel", "swing travel", "clearance"),
                "mount.ring.cold_factor",
            ),
        ),
    ],
    ids=["fragility", "limit", "travel", "loss factor", "cold"],
)
def test_what_is_unknown_leaves_a_question(ring, payload, keys, missing):
    result = judged(ring, payload, walk={"swing": "20 deg"}, **keys)
    for check in result.checks:
        head = check.id.partition("/")[0]
        if head in missing:
            assert (check.status, check.missing) == ("incomplete", missing[head])
    assert set(missing) <= {check.id.partition("/")[0] for check in result.checks}


def test_rigid_in_the_cold_it_feels_the_steps_and_is_in_doubt():
    cold = {"cold_temperature": "-10 °C", "cold_factor": 2}
    checks = by_id(judged(cold, temperature="-30 °C"))
    full = sum(FOOTFALL["vertical"].values()) * (1 + UNSTEADY) ** 2
    assert checks["walk peak/by hand"].demand == pytest.approx(1 + full, rel=1e-6)
    for name in ("walk peak", "walk limit"):
        assert checks[f"{name}/by hand"].status == "incomplete"
    assert "rigid" in checks["walk travel/by hand"].reason


def test_a_payload_that_falls_over_at_the_end_of_a_swing_never_passes():
    """Soft and high above its mounts: it stands, also as it swings by 30 deg."""
    for swing, holds in (("30 deg", True), ("45 deg", False)):
        ring = {"along": "0.5 N/mm", "across": "0.5 N/mm"}
        brief = carried(ring, walk={"swing": swing}).changed("attitudes", ["lid up"])
        brief = brief.changed("payload.centre", ["0 mm", "0 mm", "74 mm"])
        result = assess(brief.changed("mounts.height", "-120 mm").design)
        walking = result.response.legs[0].walking
        assert result.response.legs[0].stands[0]
        assert walking.held[0] == holds
        checks = by_id(result)
        assert ("as the case swings" in checks["swing travel/by hand"].reason) != holds
        if not holds:
            assert checks["swing travel/by hand"].status == "fail"
            assert checks["clearance/left end"].status != "pass"


def test_mounts_that_hold_nothing_lift_off_while_it_is_carried():
    """Three times 1.83 steps a second meet the bounce at 5.5 Hz: with little damping it leaps."""
    for loss, leaps in ((0.02, True), (0.4, False)):
        soft = {"along": "2 N/mm", "across": "2 N/mm", "captive": False, "loss_factor": loss}
        checks = by_id(assess(carried(soft).changed("attitudes", ["lid up"]).design))
        assert (steps_by_hand("vertical", 8e3, loss=loss)[2] > MASS * G0 / 8e3) == leaps
        assert checks["held when pulled"].status == ("fail" if leaps else "pass")


@pytest.mark.parametrize(
    ("along", "words"),
    [
        ("2 N/mm", "its bounce at 5.513 Hz is near 3 times the step rate, 6 Hz"),
        ("40 N/mm", ""),
    ],
)
def test_a_bounce_near_the_steps_is_said(along, words):
    reason = by_id(judged({"along": along}))["walk peak/by hand"].reason
    assert ("footsteps may drive it" in reason) == bool(words)
    assert words in reason


def test_the_page_and_the_object_show_the_walk():
    result = judged(attitude="on the handle side")
    text = page(result)
    assert "walk peak" in text
    assert "± 10%; no stairs" in " ".join(text.split())
    assert "it does not swing at its handle on by hand (leg.walk.swing)" in " ".join(text.split())
    rows = as_data(result)["walking"]
    (centre,) = [r for r in rows if (r["axis"], r["point"]) == ("y", "centre")]
    felt, rms, moved = steps_by_hand("vertical")
    assert centre["acceleration_g_peak"] == pytest.approx(felt / G0, rel=1e-3)
    assert centre["acceleration_g_rms"] == pytest.approx(rms / G0, rel=1e-3)
    assert centre["travel_mm_peak"] == pytest.approx(1e3 * moved, rel=1e-3)
    full = sum(FOOTFALL["vertical"].values()) * (1 + UNSTEADY) ** 2
    assert centre["bolted_g_peak"] == pytest.approx(full, rel=1e-6)


def test_a_leg_without_a_walk_asks_nothing():
    for walk in (None, False):
        checks = by_id(judged(walk=walk, road="none"))
        assert not [i for i in checks if i.startswith(("walk", "swing"))]

"""The pulse of a leg: closed forms of one mass on one spring, mounts, clearance, what is open."""

import math
from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.brief import Brief, read_brief
from isolator.pulse import Pulse
from isolator.report import page
from isolator.units import G0

# One mass on one spring in every direction: 8 kg on four mounts of 6 N/mm, dynamic ratio 1.2.
BRIEF = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
HERTZ, LOSS = math.sqrt(4 * 6e3 * 1.2 / 8) / (2 * math.pi), 0.15
SHORT = {"shape": "half-sine", "peak": "20 g0", "duration": "6 ms"}
LONG = {"shape": "half-sine", "peak": "2 g0", "duration": "60 ms"}


def leg(payload: dict[str, object] | None = None, **keys: object) -> Brief:
    """The starter with a pulse in the place of road and drop; None leaves a key out."""
    given = {**BRIEF.text["leg"][0], "road": None, "drop": "none", "pulse": SHORT, **keys}
    changed = BRIEF.changed("leg", [{k: v for k, v in given.items() if v is not None}])
    body = {**changed.text["payload"], **(payload or {})}
    return changed.changed("payload", {k: v for k, v in body.items() if v is not None})


def judged(brief: Brief) -> dict[str, object]:
    return {check.id: check for check in assess(brief.design).checks}


def test_a_pulse_alone_is_the_shock_spectrum() -> None:
    """Along z the tray only bounces: its centre has the shock spectrum at 9.5 Hz, ζ = η/2."""
    checks = judged(leg(pulse_axes=["vertical"]))
    pulse = Pulse(**SHORT)
    peak = pulse.shock_spectrum([HERTZ], LOSS / 2)[0]
    travel = pulse.shock_spectrum([HERTZ], LOSS / 2, response="relative displacement")[0]
    found = checks["pulse peak/by van/z"]
    assert found.demand == pytest.approx(peak / G0, rel=1e-3)
    assert found.status == "pass"
    assert "times the 20 g of bolting it down" in found.reason
    assert "worse" not in found.reason
    sag = 8 * G0 / 24e3
    assert checks["pulse travel/by van/z"].demand == pytest.approx(1e3 * (travel + sag), rel=1e-3)
    force = (8 * peak + 1.2 * 8 * G0) / 4
    assert checks["pulse force/by van"].demand == pytest.approx(force, rel=1e-3)
    assert not [key for key in checks if key.startswith(("isolation", "drop", "vibration"))]
    assert {key for key in checks if key.startswith("pulse")} == {
        "pulse peak/by van/z", "pulse travel/by van/z", "pulse force/by van",
    }  # fmt: skip


def test_the_page_says_when_mounts_make_a_long_pulse_worse() -> None:
    check = judged(leg(pulse=LONG, pulse_axes=["vertical"]))["pulse peak/by van/z"]
    ratio = Pulse(**LONG).shock_spectrum([HERTZ], LOSS / 2)[0] / (2 * G0)
    assert ratio > 1.5
    assert f"the mounts make this pulse worse by {ratio - 1:.0%}" in check.reason
    assert check.demand == pytest.approx(2 * ratio, rel=1e-3)


def test_all_axes_are_asked_unless_some_are_named() -> None:
    assert {f"pulse peak/by van/{axis}" for axis in "xyz"} <= set(judged(leg()))


def test_the_travel_of_a_pulse_is_in_the_clearance() -> None:
    hard = leg(pulse={**LONG, "peak": "6 g0"}, pulse_axes=["vertical"])
    soft = judged(leg(pulse={**LONG, "peak": "0.1 g0"}, pulse_axes=["vertical"]))
    checks = judged(hard)
    assert "the pulse on by van" in checks["clearance/lid"].reason
    assert checks["clearance/lid"].demand > soft["clearance/lid"].demand + 10
    travel = Pulse(**{**LONG, "peak": "6 g0"}).shock_spectrum(
        [HERTZ], LOSS / 2, response="relative displacement"
    )[0]
    assert checks["clearance/floor"].demand == pytest.approx(1e3 * travel, rel=2e-3)
    far = judged(leg(pulse={**LONG, "peak": "12 g0"}, pulse_axes=["vertical"]))
    assert far["pulse travel/by van/z"].status == "fail"
    assert far["pulse peak/by van/z"].status != "pass"


def test_a_leg_on_which_it_runs_is_judged_by_the_other_rating_only() -> None:
    open_ = judged(leg(running=True))["pulse peak/by van/z"]
    assert (open_.status, open_.missing) == ("incomplete", "payload.running_fragility")
    fails = judged(leg({"running_fragility": "1 g0"}, running=True))["pulse peak/by van/z"]
    assert (fails.status, fails.capacity) == ("fail", pytest.approx(1))
    rests = judged(leg({"running_fragility": "1 g0"}))["pulse peak/by van/z"]
    assert (rests.status, rests.capacity) == ("pass", pytest.approx(40))


def test_so_are_its_drops_and_footsteps() -> None:
    asked = {"drop": "0.2 m", "walk": True, "pulse": None}
    rests, runs = judged(leg(**asked)), judged(leg(running=True, **asked))
    hard = judged(leg({"running_fragility": "1 g0"}, running=True, **asked))
    for key in ("drop peak/by van/lid up", "walk peak/by van"):
        assert (rests[key].status, rests[key].capacity) == ("pass", pytest.approx(40))
        assert (runs[key].status, runs[key].missing) == ("incomplete", "payload.running_fragility")
        assert (hard[key].status, hard[key].capacity) == ("fail", pytest.approx(1))


def test_a_fragility_that_nobody_gave_is_what_would_be_required() -> None:
    check = judged(leg({"fragility": None}))["pulse peak/by van/z"]
    assert (check.status, check.missing) == ("incomplete", "payload.fragility")
    assert f"it must survive {check.demand:.3g} g" in check.reason


def test_what_arrives_lasts_longer_than_the_test_of_its_rating() -> None:
    """A quarter of the natural period's half-wave against 11 ms: open without a resonance."""
    tried = {"fragility_pulse": {"shape": "half-sine", "duration": "2 ms"}}
    heavy = {**SHORT, "peak": "60 g0"}
    check = judged(leg(tried, pulse=heavy, pulse_axes=["vertical"]))["pulse peak/by van/z"]
    assert (check.status, check.missing) == ("incomplete", "payload.bending")
    assert "says nothing about a resonance there" in check.reason
    half = 500 / HERTZ
    said = float(check.reason.split("but for ")[1].split(" ms")[0])
    assert said == pytest.approx(half, rel=0.1)
    closed = judged(leg({**tried, "bending": "400 Hz"}, pulse=heavy, pulse_axes=["vertical"]))
    assert closed["pulse peak/by van/z"].status == "pass"


def test_a_velocity_change_too_small_to_damage_passes_at_any_peak() -> None:
    slow = {"fragility": "1 g0", "critical_velocity": "40 m/s"}
    check = judged(leg(slow, pulse_axes=["vertical"]))["pulse peak/by van/z"]
    assert (check.status, check.capacity) == ("pass", None)
    assert "none up to 40 m/s damages it at any peak" in check.reason


def test_a_loose_case_does_not_follow_the_pulse() -> None:
    checks = judged(leg(tied=False))
    for key in ("pulse peak/by van/z", "pulse travel/by van/x", "pulse force/by van"):
        assert (checks[key].status, checks[key].missing) == ("incomplete", "leg[1].tied")
    assert "the case is tied down on by van" in page(assess(leg().design))


def record(folder: Path, step: float, long: float = 6.0, count: int = 60) -> Brief:
    """The starter with a recorded half-sine of 20 g and nothing after it."""
    times = step * np.arange(count)
    values = np.where(times <= long, 20 * np.sin(np.pi * np.minimum(times / long, 1)), 0.0)
    rows = [f"{t:.6g},{a:.9g}" for t, a in zip(times, values, strict=True)]
    text = "\n".join(["time [ms],acceleration [g0]", *rows])
    (folder / "shock.csv").write_text(text + "\n", encoding="utf-8")
    start = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
    lines = start.read_text(encoding="utf-8").split("[leg.road]")[0].replace('"0.2 m" ', '"none" ')
    lines += 'pulse = { record = "shock.csv" }\n'
    (folder / "case.toml").write_text(lines, encoding="utf-8")
    return read_brief(folder / "case.toml")


def test_a_record_is_the_pulse_that_it_was(tmp_path) -> None:
    found, formula = judged(record(tmp_path, 0.25)), judged(leg())
    for key in ("pulse peak/by van/z", "pulse travel/by van/x", "pulse force/by van"):
        assert found[key].demand == pytest.approx(formula[key].demand, rel=5e-3)


def test_a_record_with_too_few_samples_is_open(tmp_path) -> None:
    check = judged(record(tmp_path, 12.0, 60.0))["pulse peak/by van/z"]
    assert (check.status, check.missing) == ("incomplete", "leg[1].pulse.record")
    assert "too few samples a second for a mode at" in check.reason


@pytest.mark.parametrize("key", ["loss_factor", "peak_load", "travel"])
def test_what_a_mount_lacks_leaves_a_question(key) -> None:
    mount = {"ring": {k: v for k, v in BRIEF.text["mount"]["ring"].items() if k != key}}
    checks = judged(leg().changed("mount", mount))
    open_ = [c for k, c in checks.items() if k.startswith("pulse") and c.status == "incomplete"]
    assert open_
    assert any(key in check.missing for check in open_)


def test_mounts_that_leave_the_straight_of_their_curves_leave_a_question() -> None:
    """A curve that is twice as stiff from 20 mm on: the tangent at rest says too little."""
    curve = {
        "deflection": ["-45 mm", "-10 mm", "0 mm", "10 mm", "20 mm", "45 mm"],
        "force": ["-270 N", "-60 N", "0 N", "60 N", "130 N", "480 N"],
    }
    mount = {"ring": {**BRIEF.text["mount"]["ring"], "along": curve}}
    hard = {**LONG, "peak": "6 g0"}
    bent = judged(leg({"fragility": "12 g0"}, pulse=hard, pulse_axes=["vertical"]).changed(
        "mount", mount
    ))["pulse peak/by van/z"]  # fmt: skip
    assert bent.demand < 12
    assert bent.status == "incomplete"
    assert "the mounts leave the straight of their curves" in bent.reason


def test_in_the_cold_it_feels_the_input() -> None:
    mount = {
        "ring": {**BRIEF.text["mount"]["ring"], "cold_factor": 1.5, "cold_temperature": "0 °C"}
    }
    cold = leg(temperature="-40 °C", pulse_axes=["vertical"])
    check = judged(cold.changed("mount", mount))["pulse peak/by van/z"]
    assert (check.status, check.demand) == ("incomplete", pytest.approx(20))
    assert "rigid in the cold" in check.reason

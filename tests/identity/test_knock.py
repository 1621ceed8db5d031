"""The pulse of a leg: closed forms of one mass on one spring, mounts, clearance, what is open."""

import math
from dataclasses import fields, replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.base_pulse import TimeModes, base_pulse
from isolator.brief import Brief, read_brief
from isolator.curve import Curve
from isolator.knock import _force, bent, knock
from isolator.pulse import RATE, Pulse
from isolator.report import page
from isolator.suspension import Pose, Suspension, strokes
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


def crooked(seed: int) -> Suspension:
    """Four mounts that harden, with axes every which way, off the centre."""
    rng = np.random.default_rng(seed)
    push = rng.normal(size=(4, 3))
    held = Suspension.of_springs(
        8.0 + seed, np.eye(3) * 0.1, rng.uniform(-0.2, 0.2, (4, 3)), 9e3, 5e3,
        push=push / np.linalg.norm(push, axis=-1, keepdims=True),
        dynamic_ratio=1.3, loss_factor=[0.1, 0.2, 0.3, 0.2],
    )  # fmt: skip
    hard = Curve.through([-0.03, -0.01, 0.004, 0.012, 0.025], [-150.0, -60.0, 32.0, 130.0, 480.0])
    soft = Curve.through([0.004, 0.012, 0.03], [20.0, 64.0, 200.0])
    curve = Curve.stacked([Curve.stacked([hard, soft.scaled(c)]) for c in (0.8, 1.0, 1.2, 1.0)])
    return replace(held, curve=curve)


EACH = [crooked(1), crooked(4)]
BATCH = Suspension.stacked(EACH)
BAND = np.array([[0.06, 0.12], [0.08, 0.2]])[..., None, None] * np.eye(3)
BOX = np.array([[[-0.2, 0.15, 0.07], [0.2, 0.1, -0.07]], [[0.15, 0.1, 0.1], [-0.1, 0.1, -0.1]]])
NO = np.zeros(2, dtype=bool)
CASE_AXES = {"vertical": "z", "longitudinal": "x", "transverse": "y"}


def knocked(pulse: Pulse, **given):
    """The pulse on both designs, in the pose in which gravity leaves them."""
    there = given.pop("there", BATCH)
    pose = there.pose(G0 * np.array([0.0, 0.0, -1.0]))
    axes = SimpleNamespace(case_axes=lambda: CASE_AXES)
    return knock(axes, pulse, there, BAND, pose, BOX, given.pop("unusable", NO)), pose


def test_a_pulse_on_a_batch_is_that_on_each_design(monkeypatch) -> None:
    """Points turn with the payload, mounts go about their sag, the worst inertia counts."""
    pulse = Pulse(**{**SHORT, "shape": "rectangle"}, ways=["vertical", "longitudinal"])
    monkeypatch.setattr("isolator.knock.SIDE_BY_SIDE", 1)
    found, pose = knocked(pulse)
    most = np.zeros((2, 2, 3))
    for axis in found.by_axis:
        k = "xyz".index(axis)
        for d, one in enumerate(EACH):
            at = Pose(pose.shift[d], pose.turn[d], pose.found[d])
            local = one.deflection(at)
            bend, felt = np.zeros((2, 4, 3))
            for i in range(2):
                modes = TimeModes.of(replace(one, inertia=BAND[d, i]), at)
                points = np.concatenate([np.zeros((1, 3)), BOX[d]]) @ at.turn.T
                own = base_pulse(modes, points, k, pulse)
                for f in fields(own):
                    ours = getattr(found.by_axis[axis], f.name)[d, i]
                    wanted = getattr(own, f.name)
                    size = 1e-3 * np.abs(wanted).max()
                    if f.name in ("acceleration", "low", "high"):
                        np.testing.assert_allclose(ours, wanted, rtol=1e-3, atol=size)
                most[d] = np.maximum(most[d], own.travel[1:])
                arms = one.position @ at.turn.T
                feet = base_pulse(modes, arms, k, pulse, frames=one.frames)
                bend = np.maximum(bend, feet.travel)
                spring = base_pulse(modes.as_springs(), arms, k, pulse, frames=one.frames)
                felt = np.maximum(felt, spring.acceleration)
            ends = strokes(local - bend, local + bend)
            np.testing.assert_allclose(found.mounts[axis][d], ends, rtol=1e-3, atol=1e-7)
            ends, curve = strokes(local - felt, local + felt), one.dynamic().curve
            along = np.stack(
                [curve.force(np.stack([s, s], -1))[:, 0] for s in (ends[:, 0], -ends[:, 1])]
            )
            aside = curve.force(np.stack([ends[:, 2]] * 2, -1))[:, 1]
            wanted = np.hypot(np.abs(along).max(axis=0), aside)
            np.testing.assert_allclose(found.force[axis][d], wanted, rtol=2e-3)
    moved = pose.moved(BOX)
    np.testing.assert_allclose(found.rest, np.stack([-moved, moved], -1).reshape(2, 2, 6))
    np.testing.assert_allclose(found.swing, np.repeat(most, 2, axis=-1), rtol=1e-3, atol=1e-7)
    assert set(found.by_axis) == {"x", "z"}
    assert np.isnan(found.fast).all()
    assert (found.doubt > 1.05).all()  # the curves harden


def test_what_is_unknown_of_one_design_is_known_of_the_other() -> None:
    pulse = Pulse(**{**SHORT, "shape": "rectangle"}, ways=["vertical"])
    plain, _ = knocked(pulse)
    loss = BATCH.loss_factor.copy()
    loss[0, 2] = np.nan
    for given in (
        {"unusable": np.array([True, False])},
        {"there": replace(BATCH, loss_factor=loss)},
    ):
        found, _ = knocked(pulse, **given)
        felt, known = found.by_axis["z"].acceleration, plain.by_axis["z"].acceleration
        assert np.isnan(felt[0]).all()
        np.testing.assert_allclose(felt[1], known[1], rtol=1e-9)
        assert np.isnan(found.force["z"][0]).all()
        np.testing.assert_allclose(found.force["z"][1], plain.force["z"][1], rtol=1e-9)
        assert np.isnan(found.mounts["z"][0]).any()
        assert found.doubt[1] == pytest.approx(plain.doubt[1])


def test_a_record_has_ten_samples_for_the_highest_mode() -> None:
    """Of two designs the stiffer one asks for more."""
    pose = BATCH.pose(G0 * np.array([0.0, 0.0, -1.0]))
    band = [
        TimeModes.of(replace(one, inertia=i), Pose(pose.shift[d], pose.turn[d], pose.found[d]))
        for d, one in enumerate(EACH)
        for i in BAND[d]
    ]
    top = np.array([m.omega.max() for m in band]).reshape(2, 2).max(axis=1) / (2 * math.pi)
    stiff = int(top.argmax())
    samples = [f"{a} g0" for a in (0, 5, 8, 5, 0)]
    for rate, blind in (
        (RATE * top.min() * 0.99, [True, True]),
        (RATE * top.mean(), [d == stiff for d in range(2)]),
        (RATE * top.max() * (1 - 1e-12), [False, False]),  # as many as are asked for, rounded
    ):
        found, _ = knocked(Pulse.of_record(samples, rate=f"{rate} Hz", ways=["vertical"]))
        np.testing.assert_allclose(found.fast, np.where(blind, top, np.nan))
        unknown = np.isnan(found.by_axis["z"].acceleration).all(axis=(1, 2, 3))
        assert unknown.tolist() == blind


def test_how_far_forces_leave_their_tangents() -> None:
    """A force that grows by half as much again, or by two thirds only, is off by 1.5."""
    feet = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    tray = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, 1e4, 1e3)
    at = np.array([-1.0, 0.0, 0.01, 0.01 + 1e-9, 1.0])
    kink = Curve(at, 1e4 * at + 5e3 * np.maximum(at - 0.01, 0), np.array([1e4] * 3 + [15e3] * 2))
    straight = Curve.straight(np.array(1e3))
    hard = replace(tray, curve=Curve.stacked([Curve.stacked([kink, straight])] * 4))
    for held, wanted in ((tray, 1.0), (hard, (100 + 150) / 200)):
        batch = Suspension.stacked([held, tray])
        local, bend = np.zeros((2, 4, 3)), np.zeros((2, 4, 3))
        bend[..., 0], bend[:, 1, 0] = 0.02, 0.001  # one takes too little to count
        found = bent(batch, local, bend)
        np.testing.assert_allclose(found, [wanted, 1.0], rtol=0.02)
        bend[0, 0, 0] = np.nan
        assert np.isfinite(bent(batch, local, bend)).all()
    batch = Suspension.stacked([hard])
    little = np.zeros((1, 4, 3))
    little[0, 0, 0], little[0, 1:, 0] = 0.02, 0.3
    assert bent(batch, 0 * little, little)[0] > 1.4  # the first is under a tenth of the others
    # one alone has a kink: it counts where it takes a tenth of what each of the others takes
    one = Curve.stacked([kink, straight]), Curve.stacked([Curve.straight(np.array(1e4)), straight])
    batch = Suspension.stacked([replace(tray, curve=Curve.stacked([one[0], *[one[1]] * 3]))])
    for others, wanted in ((0.19, 1.25), (0.21, 1.0)):
        little[0, 1:, 0] = others
        assert bent(batch, 0 * little, little)[0] == pytest.approx(wanted, rel=0.02)


def test_a_curve_that_is_bent_by_less_than_two_hundredths_is_straight(monkeypatch) -> None:
    monkeypatch.setattr("isolator.knock.bent", lambda *given: np.array([1.019, 1.021]))
    found, _ = knocked(Pulse(**{**SHORT, "shape": "rectangle"}, ways=["vertical"]))
    assert found.doubt.tolist() == [1.0, 1.021]


def test_a_force_of_a_mount_is_unknown_where_one_of_its_ways_is() -> None:
    bend = np.full((1, 4, 3), 0.01)
    bend[0, 1, 2] = np.nan
    tray = Suspension.stacked([BATCH_TRAY])
    found = _force(tray, np.zeros((1, 4, 3)), bend)
    assert np.isnan(found[0]).tolist() == [False, True, False, False]
    np.testing.assert_allclose(found[0, 0], math.hypot(1e4 * 0.01, 1e3 * math.hypot(0.01, 0.01)))


BATCH_TRAY = Suspension.of_springs(
    8.0, np.eye(3) * 0.1, [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)], 1e4, 1e3
)


def test_forces_leave_their_tangents_either_way_and_in_any_case_of_a_batch() -> None:
    """One curve bends where it is pulled, one is softer where it is pushed: 1.5 and 4/3."""
    at = np.array([-1.0, -0.01 - 1e-9, -0.01, 0.0, 0.01, 0.01 + 1e-9, 1.0])
    straight = Curve.straight(np.array(1e3))
    slopes = np.array([15e3, 15e3, 1e4, 1e4, 1e4, 5e3, 5e3])
    pulled = 5e3 * np.minimum(at + 0.01, 0)
    pushed = -5e3 * np.maximum(at - 0.01, 0)
    for bends, slope, wanted in (
        (pulled, np.where(at < 0, slopes, 1e4), (100 + 150) / 200),
        (pushed, np.where(at > 0, slopes, 1e4), 200 / (100 + 50)),
    ):
        curve = Curve(at, 1e4 * at + bends, slope)
        bent_one = replace(BATCH_TRAY, curve=Curve.stacked([Curve.stacked([curve, straight])] * 4))
        batch = Suspension.stacked([bent_one, BATCH_TRAY])
        bend = np.zeros((2, 4, 3))
        bend[0, :, 0], bend[1, :, 0] = 0.02, 2.0  # the other case moves a hundred times as far
        rest = np.zeros((2, 4, 3))
        np.testing.assert_allclose(bent(batch, rest, bend), [wanted, 1.0], rtol=0.02)
        bend[0, 1:, 0] = np.nan  # what is not known is left out
        np.testing.assert_allclose(bent(batch, rest, bend), [wanted, 1.0], rtol=0.02)
        for way in (5e-5, 0.0):  # half a newton; nothing at all
            bend[0] = way
            np.testing.assert_allclose(bent(batch, rest, bend), [1.0, 1.0])

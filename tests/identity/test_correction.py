"""What a tap makes of a brief, and what six modes cannot explain, by hand."""

import tomllib
from dataclasses import replace
from itertools import product
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import tomli_w

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.checks import ask
from isolator.correction import (
    Correction,
    Line,
    _corrected,
    _depends,
    _settled,
    _written_out,
    correct,
)
from isolator.faults import EACH, FAR, Fault, Seen, _beyond
from isolator.report.bench import tap_data, tap_page
from isolator.response import respond
from isolator.ringdown import RingDown
from isolator.suspension import Suspension
from isolator.units import G0, InputError
from isolator.verdict import Check

DATA = Path(__file__).parents[2] / "data"
STARTER = read_brief(DATA / "starter" / "case.toml")
FACTOR, LOSS = np.array([0.8, 1.25]), np.array([0.11, 0.17])
BOTH = ("along", "across")


def both(brief):
    return {place.mount.name: BOTH for place in brief.design.places}


def in_motion(mount):
    return mount.curves().tangent(0.0) * mount.dynamic_ratio


def corners(mount):
    """The mount at all ends of its bands together."""
    names = mount.loose()
    return [
        mount.shifted(dict(zip(names, ends, strict=True)))
        for ends in product((-1.0, 1.0), repeat=len(names))
    ]


@pytest.mark.parametrize("case", ["starter", "ice-radar", "planetarium", "echo-amplifier"])
def test_every_mount_of_a_corrected_brief_has_the_factor_in_motion(case):
    """The geometric middle of 0.8 and 1.25 is 1, and no end of any band leaves it."""
    brief = read_brief(DATA / case / "case.toml")
    for factor, times in ((FACTOR, 1.0), (1.3 * FACTOR, 1.3)):
        made = _corrected(brief, factor, LOSS, "tap.csv", both(brief)).design.places
        assert len(made) == len(brief.design.places)
        for old, new in zip(brief.design.places, made, strict=True):
            stated = in_motion(old.mount)
            np.testing.assert_allclose(in_motion(new.mount), times * stated, rtol=1e-3)
            over = np.array([in_motion(one) for one in corners(new.mount)]) / stated
            np.testing.assert_allclose(over.min(axis=0), factor[0], rtol=1e-3)
            np.testing.assert_allclose(over.max(axis=0), factor[1], rtol=1e-3)
            np.testing.assert_array_equal(new.mount.limits(), old.mount.limits())
            assert new.position is old.position or list(new.position) == list(old.position)
            assert (new.mount.name, new.mount.grade) == (old.mount.name, "measured")
            assert new.mount.source.endswith("tap recorded in tap.csv")


def test_a_tap_takes_no_check_away_and_mends_no_fit():
    """A grommet whose sleeve is too long, which its builder waived by the id that it had."""
    long = read_brief(DATA / "echo-amplifier" / "case.toml")
    stated = {"sleeve_length": "15 mm", "travel": "2.9 mm", "travel_across": "2.8 mm"}
    long = long.changed("mount.grommet", {**long.text["mount"]["grommet"], **stated})
    long = long.with_tables({"age": "1 year", "not_required": {"fit/grommet": "by hand"}})
    was, now = (
        ask(respond([one.design]))
        for one in (long, _corrected(long, FACTOR, LOSS, "tap.csv", both(long)))
    )
    assert [row.id for row in now] == [row.id for row in was]
    status = {row.id: row.status()[0] for row in now}
    assert status["fit/grommet"] == "fail"
    opened = [row.id for row in was if row.status()[0] != "incomplete" == status[row.id]]
    assert opened == []


def test_what_a_kind_has_beside_its_stiffness_stays():
    """Creep, cold points, rubber and its faults come from a shape that is still in the brief."""
    brief = read_brief(DATA / "echo-amplifier" / "case.toml")
    old, new = (
        one.mounts["grommet"]
        for one in (brief, _corrected(brief, FACTOR, LOSS, "tap.csv", both(brief)))
    )
    for name in ("captive", "creep", "cold_points", "faults", "sizes", "travel", "travel_across",
                 "rubber_along", "rubber_across", "rated_load"):  # fmt: skip
        assert str(getattr(new, name)) == str(getattr(old, name)), name


def on(folder, ring, weights):
    """The starter on such rings, with the lines of their weights test in a file beside it."""
    (folder / "ring.csv").write_text("\n".join(weights), encoding="utf-8")
    tables = {**STARTER.text, "mount": {"ring": ring}}
    (folder / "case.toml").write_text(tomli_w.dumps(tables), encoding="utf-8")
    return read_brief(folder / "case.toml")


def weighed(folder):
    """The starter on a ring under kitchen weights: two that differ by a third."""
    table = {**STARTER.text["mount"]["ring"], "weights": "ring.csv", "dynamic_ratio": [1.1, 1.4]}
    del table["along"], table["grade"]
    rows = [f"{n},{m},{m * (1.4 + 0.35 * n):.2f},up" for n in (1, 2) for m in (0, 0.5, 1, 1.5, 2)]
    return on(folder, table, ["sample,mass [kg],deflection [mm],going", *rows])


def test_what_was_measured_at_rest_stays_and_the_dynamic_ratio_follows(tmp_path):
    """1.2 to 1.8 times the product, over the static band: the ratio takes all of it."""
    brief = weighed(tmp_path)
    old = brief.mounts["ring"]
    factor = np.array([1.2, 1.8])
    new = _corrected(brief, factor, LOSS, "tap.csv", both(brief)).mounts["ring"]
    assert new.undeflected()[0] == pytest.approx(old.undeflected()[0])
    assert new.within["along"] == pytest.approx(old.within["along"])
    assert new.scatter == old.scatter > 0.05
    ends = factor / np.array(old.within["along"])[::-1] * old.dynamic_ratio
    told = np.array(new.within["dynamic ratio"]) * new.dynamic_ratio
    np.testing.assert_allclose(told, np.maximum(ends, 1.0), rtol=1e-3)
    assert np.ptp(told) > 0.3
    for one in corners(new):
        assert 1 <= one.dynamic_ratio <= told[1] * (1 + 1e-9)


def test_a_ring_that_moves_softer_than_it_stands_is_measured_again(tmp_path):
    brief = weighed(tmp_path)
    with pytest.raises(InputError, match="in motion rubber is at least as stiff"):
        _corrected(brief, np.array([0.1, 0.12]), LOSS, "tap.csv", both(brief))


def test_a_bounce_tells_nothing_across():
    """What is not known across stays in its band, and weights across say nothing along."""
    ring = {**STARTER.text["mount"]["ring"], "across": ["3 N/mm", "12 N/mm"]}
    brief = STARTER.changed("mount.ring", ring)
    old, new = (
        one.mounts["ring"]
        for one in (brief, _corrected(brief, 1.3 * FACTOR, LOSS, "tap.csv", {"ring": ["along"]}))
    )
    assert new.within["across"] == old.within["across"]
    np.testing.assert_allclose(new.curves().tangent(0.0)[1], old.curves().tangent(0.0)[1])
    across = np.array([in_motion(one)[1] for one in corners(new)])
    ends = np.array(old.within["across"]) * in_motion(old)[1]
    np.testing.assert_allclose([across.min(), across.max()], ends, rtol=1e-6)


def weighed_across(folder):
    """The starter on bobbins of a known rubber that were weighed across alone."""
    rows = [f"{m},{m * 9.80665 / 6:.3f}" for m in (0.5, 1.0, 1.5, 2.0)]
    stated = {key: STARTER.text["mount"]["ring"][key] for key in ("captive", "travel")}
    shape = {"kind": "bobbin", "hardness": "40 Shore A", "compound": "natural",
             "diameter": "20 mm", "thickness": "20 mm", "weights_across": "ring.csv"}  # fmt: skip
    return on(folder, stated | shape, ["mass [kg],deflection [mm]", *rows])


def test_weights_across_stay_and_the_rubber_along_follows(tmp_path):
    brief = weighed_across(tmp_path)
    old = brief.mounts["ring"]
    factor = np.array([0.7, 0.8])
    new = _corrected(brief, factor, LOSS, "tap.csv", both(brief)).mounts["ring"]
    assert new.within["across"] == old.within["across"]
    assert new.undeflected()[1] == pytest.approx(old.undeflected()[1])
    over = np.array([in_motion(one)[0] for one in corners(new)]) / in_motion(old)[0]
    np.testing.assert_allclose([over.min(), over.max()], factor, rtol=1e-3)
    assert new.undeflected()[0] < old.undeflected()[0]


def test_weights_across_that_a_tap_denies_are_measured_again(tmp_path):
    """Nearly twice as stiff in motion as weights and any ratio allow: refused, not kept."""
    across = weighed_across(tmp_path)
    with pytest.raises(InputError, match=r"dynamic_across = .*: at rest it was measured"):
        _corrected(across, np.array([1.9, 2.4]), LOSS, "tap.csv", both(across))
    measured = {**STARTER.text["mount"]["ring"], "grade": "measured"}
    low = {"dynamic_along": ["7 N/mm", "8 N/mm"], "dynamic_across": ["1 N/mm", "1.2 N/mm"]}
    with pytest.raises(InputError, match=r"dynamic_across = 1 N/mm to 1.2 N/mm: at rest"):
        STARTER.changed("mount.ring", measured | low)


def test_a_wider_band_across_stays_as_wide():
    ring = {**STARTER.text["mount"]["ring"], "grade": "curve", "dynamic_ratio": [1.1, 1.4],
            "dynamic_along": ["7 N/mm", "8 N/mm"],
            "dynamic_across": ["4 N/mm", "20 N/mm"]}  # fmt: skip
    new = STARTER.changed("mount.ring", ring).mounts["ring"]
    across = np.array([in_motion(one)[1] for one in corners(new)]) / 1e3
    assert across.min() <= 4.0 * (1 + 1e-9)
    assert across.max() >= 20.0 * (1 - 1e-9)


def test_a_kind_that_what_rang_does_not_move_stays_as_stated():
    """Two upright mounts and two that lie on their side: a bounce is along for the first alone."""
    feet = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.2, 0.2)]
    push = np.array([[0, 0, 1.0], [0, 0, 1], [1, 0, 0], [1, 0, 0]])
    tray = Suspension.of_springs(8.0, np.diag([0.1, 0.2, 0.3]), feet, 9e3, 3e3, push=push)
    pose = tray.pose(G0 * np.array([0.0, 0.0, -1.0]))
    bounce = int(tray.undamped(pose)[1][:, 2].argmax())
    found = _depends(tray, pose, np.array([bounce]), ["m", "m", "s", "s"])
    assert found["m"] == ["along"]
    assert "along" not in found["s"]


def test_on_a_curve_that_bends_the_modes_are_those_of_the_tap():
    """1.4 times the stiffness where it rests, though it sags less then and its curve is softer."""
    points = {"deflection": ["1 mm", "2 mm", "4 mm", "8 mm", "12 mm"],
              "force": ["5 N", "11 N", "27 N", "90 N", "220 N"]}  # fmt: skip
    ring = {**STARTER.text["mount"]["ring"], "along": points}
    ring.pop("travel")
    brief = STARTER.changed("mount.ring", ring)

    def modes(one):
        held = one.design.suspension()
        return held.undamped(held.pose(G0 * np.array([0.0, 0.0, -1.0])))

    def bounce(one):
        frequency, energy = modes(one)
        return frequency[energy[:, 2].argmax()]

    def made(over):
        return _corrected(brief, over, LOSS, "tap.csv", {"ring": ["along"]})

    factor = 1.4 * FACTOR
    assert bounce(made(factor)) < 1.15 * bounce(brief)
    at = np.array([modes(brief)[1][:, 2].argmax()])
    again = _settled(made, modes(brief), at, factor)
    assert bounce(again) == pytest.approx(np.sqrt(1.4) * bounce(brief), rel=1e-3)


def test_what_is_exact_beside_a_tap_is_named_by_the_tap():
    """A dynamic ratio without a band: what is open is what was tapped."""
    new = _corrected(STARTER, FACTOR, LOSS, "tap.csv", both(STARTER)).mounts["ring"]
    assert new.loose() == ["loss factor", "dynamic stiffness"]


def test_which_way_of_the_mounts_a_mode_depends_on():
    """Four upright mounts in the plane of the centre: the bounce along alone, sway across alone."""
    feet = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.2, 0.2)]
    tray = Suspension.of_springs(8.0, np.diag([0.1, 0.2, 0.3]), feet, 9e3, 3e3)
    pose = tray.pose(G0 * np.array([0.0, 0.0, -1.0]))
    shares = tray.undamped(pose)[1]
    sway, bounce = int(shares[:, 0].argmax()), int(shares[:, 2].argmax())
    for modes, ways in (([bounce], ["along"]), ([sway], ["across"]), ([sway, bounce], [*BOTH])):
        assert _depends(tray, pose, np.array(modes), ["m"] * 4) == {"m": ways}


def test_a_slip_of_units_is_named_beside_what_all_else_says():
    ring = {**STARTER.text["mount"]["ring"], "dynamic_along": ["6600 N/mm", "7500 N/mm"]}
    *_, note = STARTER.changed("mount.ring", ring).mounts["ring"].notes
    assert "all else says 7.2 N/mm: N/m typed as N/mm? Check units" in note


@pytest.mark.parametrize("along", ["6 N/mm", ["4 N/mm", "9 N/mm"], ["5.8 N/mm", "6.2 N/mm"]])
def test_without_a_test_at_rest_the_ratio_keeps_its_band_and_the_stiffness_follows(along):
    """The last band is too narrow for what was tapped: the tap counts."""
    ring = {**STARTER.text["mount"]["ring"], "along": along, "dynamic_ratio": [1.1, 1.4]}
    brief = STARTER.changed("mount.ring", ring)
    old, new = (
        one.mounts["ring"]
        for one in (brief, _corrected(brief, 1.3 * FACTOR, LOSS, "tap.csv", both(brief)))
    )
    ratio = [one.dynamic_ratio for one in corners(new)]
    np.testing.assert_allclose([min(ratio), max(ratio)], [1.1, 1.4])
    at_rest = np.array([one.undeflected()[0] for one in corners(new)]) / 1e3
    stated = 1.3 * FACTOR * in_motion(old)[0] / 1e3
    widest = stated / np.array([1.4, 1.1])
    if along == ["4 N/mm", "9 N/mm"]:
        widest = np.clip(widest, 4.0, 9.0)
    np.testing.assert_allclose([at_rest.min(), at_rest.max()], widest, rtol=1e-3)


def test_a_corrected_brief_that_is_written_has_the_modes_of_the_tap():
    """Its kinds are of a file, which the corrected brief needs no more."""
    brief = read_brief(DATA / "ice-radar" / "case.toml")
    made = _corrected(brief, 1.21 * FACTOR, LOSS, "tap.csv", both(brief))
    again = brief.with_tables(tomllib.loads(tomli_w.dumps(dict(made.text))))
    assert list(again.mounts) == list(brief.mounts)
    was, now = (
        one.suspension().frequencies(one.suspension().pose(G0 * np.array([0.0, 0.0, -1.0])))
        for one in (brief.design, again.design)
    )
    np.testing.assert_allclose(now, 1.1 * was, rtol=2e-3)


def test_a_body_with_a_file_of_its_own_finds_its_mounts_after_a_tap():
    brief = read_brief(DATA / "ice-radar" / "case.toml")
    other = {"at": ["0 mm", "0 mm", "150 mm"], "payload": brief.text["payload"],
             "mounts": brief.text["mounts"]}  # fmt: skip
    object.__setattr__(brief, "text", {**brief.text, "frame": {"lid tray": other}})
    tables = _written_out(brief)
    assert "table" not in tables["mounts"]
    assert "table" not in tables["frame"]["lid tray"]["mounts"]
    assert list(tables["mount"]) == ["soft", "firm", "stiff"]


def test_a_check_that_is_gone_or_new_is_listed():
    def found(**status):
        return SimpleNamespace(
            checks=[
                Check(id=name, demand=None, capacity=None, unit="mm", status=one, reason="",
                      source="") for name, one in status.items()
            ]
        )  # fmt: skip

    before, after = found(a="pass", b="fail", c="fail"), found(a="pass", b="pass", d="fail")
    listed = Correction([], [], None, 0.0, None, {}, "", None, before, after).changed()
    told = [(name, a and a.status, b and b.status) for name, a, b in listed]
    assert told == [("b", "fail", "pass"), ("c", "fail", None), ("d", None, "fail")]


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
        [line], [hides, fault([0], 63.0)], None, float("nan"), None, {}, "", None, before, None
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

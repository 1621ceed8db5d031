"""The trip, more fully: sine, set-down, loose cases, looked-up heights, light shells, lifting."""

import math
from pathlib import Path

import numpy as np
import pytest

from isolator import sdof
from isolator.assessment import Assessment, assess
from isolator.brief import Brief, read_brief
from isolator.design import Design
from isolator.report import as_data, page
from isolator.trip import Leg, road
from isolator.units import G0

# One mass on one spring in every direction: 8 kg on four mounts of 6 N/mm, dynamic ratio 1.2.
BRIEF = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
OMEGA, LOSS = math.sqrt(4 * 6e3 * 1.2 / 8), 0.15
SWEEP = {"from": "5 Hz", "to": "200 Hz", "level": "0.2 g0"}
LIFT = {
    "hands": 2, "horizontal": "30 cm", "height": "50 cm", "lift": "60 cm", "angle": "0 deg",
    "lifts_per_minute": 0.2, "duration": "1 h", "coupling": "good",
}  # fmt: skip


def leg(**keys: object) -> Brief:
    """The starter with other keys of its leg; None leaves a key out."""
    given = {**BRIEF.text["leg"][0], **keys}
    return BRIEF.changed("leg", [{k: v for k, v in given.items() if v is not None}])


def case(brief: Brief, **keys: object) -> Brief:
    return brief.changed("case", {**brief.text["case"], **keys})


def judged(brief: Brief) -> Assessment:
    """The verdict alone, without the search for a change."""
    return assess(brief.design)


def by_id(result: Assessment) -> dict[str, object]:
    return {check.id: check for check in result.checks}


PLAIN = by_id(judged(BRIEF))


def test_a_sine_alone_is_judged_without_a_road() -> None:
    """At resonance √(1 + η²)/η times the level; a corner of this tray rocks no more."""
    result = judged(leg(road=None, duration=None, sine={**SWEEP, "ways": ["vertical"]}))
    checks = by_id(result)
    level = 0.2 * math.sqrt(1 + LOSS**2) / LOSS
    assert checks["sine limit/by van"].demand == pytest.approx(level / math.sqrt(2), rel=1e-3)
    assert checks["sine limit/by van"].capacity == 2.0
    assert checks["sine limit/by van"].status == "pass"
    travel = 0.2 * G0 / (OMEGA**2 * LOSS) + 8 * G0 / 24e3
    assert checks["vibration travel/by van"].demand == pytest.approx(1e3 * travel, rel=1e-3)
    assert not [i for i in checks if i.startswith(("isolation", "vibration limit"))]
    assert result.status == "pass"
    rows = as_data(result)["sine"]
    assert [r["point"] for r in rows] == ["centre", *(r["point"] for r in rows[1:])]
    assert {r["axis"] for r in rows} == {"z"}
    assert rows[0]["acceleration_g_peak"] == pytest.approx(level, rel=1e-3)
    assert rows[0]["at_hz"] == pytest.approx(OMEGA / (2 * math.pi), rel=1e-3)
    assert "Sine, one axis of the road after the other" in page(result)
    assert "the sweep of by van is slow" in page(result)


@pytest.mark.parametrize("at", ["18 Hz", "resonance"])
def test_a_dwell_is_the_closed_form(at: str) -> None:
    dwell = {"at": at, "level": "0.2 g0", "duration": "10 min"}
    check = by_id(judged(leg(road="none", sine={"dwell": dwell, "ways": ["vertical"]})))[
        "sine limit/by van"
    ]
    ratio = 1.0 if at == "resonance" else 18 * 2 * math.pi / OMEGA
    gain = float(sdof.structural_transmissibility(ratio, LOSS))
    assert check.demand == pytest.approx(0.2 * gain / math.sqrt(2), rel=1e-3)
    cycles = 600 * ratio * OMEGA / (2 * math.pi)
    assert f"{cycles:.0f} cycles, whose fatigue is not judged" in check.reason


def test_road_and_sine_count_by_the_larger_of_the_two() -> None:
    sine = by_id(judged(leg(road=None, sine={**SWEEP, "level": "0.4 g0"})))
    soft = by_id(judged(leg(road=None, sine={**SWEEP, "level": "0.01 g0"})))
    for level, alone in (("0.4 g0", sine), ("0.01 g0", soft)):
        both = by_id(judged(leg(sine={**SWEEP, "level": level})))
        for key in ("vibration travel/by van", *(k for k in PLAIN if k.startswith("clearance"))):
            assert both[key].demand == max(PLAIN[key].demand, alone[key].demand)
    assert sine["vibration travel/by van"].demand > PLAIN["vibration travel/by van"].demand


@pytest.mark.parametrize(
    ("sine", "key"),
    [({**SWEEP, "from": "10 Hz"}, "leg[1].sine.from"), ({**SWEEP, "to": "9 Hz"}, "leg[1].sine.to")],
)
def test_a_mode_outside_the_sweep_stays_open(sine: dict, key: str) -> None:
    check = by_id(judged(leg(road=None, sine=sine)))["sine limit/by van"]
    assert (check.status, check.missing) == ("incomplete", key)
    assert "outside the sweep" in check.reason


def test_a_sweep_that_is_too_fast_says_so_and_stays_an_upper_bound() -> None:
    slow, fast = (
        by_id(judged(leg(road=None, sine={**SWEEP, "rate": rate})))["sine limit/by van"]
        for rate in (1, 60)
    )
    assert slow.demand == fast.demand
    assert "too fast" not in slow.reason
    # 77.6 f/Q² with Q = 1/0.15 at 9.549 Hz
    assert "too fast for the steady state at 9.549 Hz, which needs 17 octaves" in fast.reason


def test_a_sine_without_damping_or_limit_stays_open() -> None:
    brief = leg(road=None, sine=SWEEP)
    undamped = {k: v for k, v in BRIEF.text["mount"]["ring"].items() if k != "loss_factor"}
    checks = by_id(judged(brief.changed("mount", {"ring": undamped})))
    for key in ("sine limit/by van", "vibration travel/by van", "clearance/floor"):
        assert (checks[key].status, checks[key].missing) == ("incomplete", "mount.ring.loss_factor")
    payload = {k: v for k, v in BRIEF.text["payload"].items() if k != "vibration_limit"}
    check = by_id(judged(brief.changed("payload", payload)))["sine limit/by van"]
    assert (check.status, check.missing) == ("incomplete", "payload.vibration_limit")


def test_a_sine_on_mounts_that_are_rigid_in_the_cold_stays_open() -> None:
    ring = {**BRIEF.text["mount"]["ring"], "cold_temperature": "-10 °C", "cold_factor": 2}
    brief = leg(road=None, sine=SWEEP, temperature="-30 °C").changed("mount", {"ring": ring})
    check = by_id(judged(brief))["sine limit/by van"]
    assert check.status == "incomplete"
    assert check.demand == pytest.approx(0.2 / math.sqrt(2))


def test_a_set_down_is_a_drop_lid_up() -> None:
    """The same numbers as a drop from that height, beside the drop and not instead of it."""
    result = judged(leg(set_down="80 mm"))
    checks, other = by_id(result), by_id(judged(leg(drop="80 mm")))
    for what in ("travel", "peak"):
        mine, same = checks[f"set-down {what}/by van/lid up"], other[f"drop {what}/by van/lid up"]
        assert mine.demand == pytest.approx(same.demand, rel=1e-9)
        assert (mine.status, mine.reason) == (same.status, same.reason)
    assert checks["set-down force/by van"].status == "pass"
    assert {k: checks[k].demand for k in PLAIN} == {k: c.demand for k, c in PLAIN.items()}
    kinds = [(r["kind"], r["landing"]) for r in as_data(result)["drops"]]
    assert kinds.count(("set-down", "lid up")) == 1
    assert len(kinds) == 7
    assert as_data(result)["look_twice"] == []


@pytest.mark.parametrize(("height", "odd"), [("0.3 m", True), ("5 mm", True), ("0.2 m", False)])
def test_a_set_down_that_is_none_is_looked_at_twice(height: str, odd: bool) -> None:
    assert (
        any("set_down" in line for line in as_data(judged(leg(set_down=height)))["look_twice"])
        == odd
    )


def test_a_set_down_without_a_drop_moves_the_payload() -> None:
    result = judged(leg(drop="none", set_down="0.15 m"))
    assert "the set-down on by van" in by_id(result)["clearance/floor"].reason
    hard = judged(leg(drop="none", set_down="0.5 m"))
    assert by_id(hard)["set-down travel/by van/lid up"].status == "fail"


def test_a_loose_case_that_hops_is_refused_and_never_passes() -> None:
    result = judged(leg(tied=False))
    checks = by_id(result)
    heads = ("isolation", "vibration", "clearance")
    shaken = [c for i, c in checks.items() if i.startswith(heads)]
    assert len(shaken) == 11
    assert {(c.status, c.missing) for c in shaken} == {("incomplete", "leg[1].tied")}
    assert all("it hops" in c.reason for c in shaken)
    assert result.status == "incomplete"
    assert judged(leg(tied=True)).status == "pass"
    # Expected one-sided peak of the vertical spectrum over its own crossings, by hand.
    spectrum = road("truck d4169-16 medium")["vertical"]
    area = np.geomspace(1, 200, 200001)
    density = np.exp(np.interp(np.log(area), np.log(spectrum.lines), np.log(spectrum.density)))
    rate = math.sqrt(np.trapezoid(density * area**2, area) / np.trapezoid(density, area))
    spread = math.sqrt(2 * math.log(rate * 3 * 3600))
    peak = spectrum.level() * (spread + 0.5772 / spread)
    assert result.design.legs[0].lifted() == pytest.approx(peak, rel=1e-4)
    assert f"{peak:.3g} g" in shaken[0].reason


def test_a_loose_case_on_a_smooth_road_is_answered() -> None:
    quiet = leg(tied=False, level=0.3)
    assert quiet.design.legs[0].lifted() < 1
    fixed = judged(leg(level=0.3))
    assert {i: c.status for i, c in by_id(judged(quiet)).items()} == {
        i: c.status for i, c in by_id(fixed).items()
    }
    assert by_id(judged(leg(tied=False, level=0.3, crest=4)))["isolation/by van/z"].missing == (
        "leg[1].tied"
    )


def test_whether_a_loose_case_hops_may_be_unknown() -> None:
    check = by_id(judged(leg(tied=False, level=0.3, duration=None)))["isolation/by van/z"]
    assert (check.status, check.missing) == ("incomplete", "leg[1].duration")
    sideways = {"transverse": "truck d4169-16 low", "longitudinal": "truck d4169-16 low"}
    check = by_id(judged(leg(tied=False, road=sideways)))["isolation/by van/x"]
    assert (check.status, check.missing) == ("incomplete", "leg[1].road.vertical")


@pytest.mark.parametrize(
    ("level", "ways", "hops"),
    [
        ("1.1 g0", ["vertical"], True),
        ("0.9 g0", ["vertical"], False),
        ("1.1 g0", ["transverse"], False),
    ],
)
def test_a_sine_lifts_a_loose_case_too(level: str, ways: list, hops: bool) -> None:
    sine = {**SWEEP, "level": level, "ways": ways}
    check = by_id(judged(leg(road=None, tied=False, sine=sine)))["sine limit/by van"]
    assert (check.missing == "leg[1].tied") == hops
    assert (check.demand is None) == hops


def test_rigid_in_the_cold_and_loose_is_no_pass_either() -> None:
    ring = {**BRIEF.text["mount"]["ring"], "cold_temperature": "-10 °C", "cold_factor": 2}
    brief = leg(tied=False, temperature="-30 °C").changed("mount", {"ring": ring})
    check = by_id(judged(brief))["vibration travel/by van"]
    assert (check.status, check.missing) == ("incomplete", "leg[1].tied")


def test_a_height_that_is_looked_up_is_that_height_and_is_shown() -> None:
    """8 kg in a shell of 1.5 kg weigh 20.9 lb: 30 in by ISTA 1A, 38 in by 2A."""
    for table, height in (("ista 1a", "30 in"), ("ista 2a", "38 in")):
        brief = case(leg(drop={"table": table}), mass="1.5 kg")
        result = judged(brief)
        given = by_id(judged(case(leg(drop=height), mass="1.5 kg")))
        found = by_id(result)
        assert {i: found[i].demand for i in given} == {i: c.demand for i, c in given.items()}
        edges = found["drop edges and corners/by van"]
        assert (edges.status, edges.missing) == ("incomplete", "")
        assert "add edges and corners" in edges.reason
        assert f"{height}: {table.upper()} for 0 to 21 lb" in page(result)
        (row,) = as_data(result)["heights"]
        assert row["gross_kg"] == 9.5
    waived = brief.changed("not_required", {"drop edges and corners": "only faces are tested"})
    assert by_id(judged(waived))["drop edges and corners/by van"].waived


def test_the_weight_of_the_case_moves_the_height() -> None:
    for mass, height in (("1.5 kg", 0.762), ("2 kg", 0.6096), ("60 kg", 0.2032)):
        design = case(leg(drop={"table": "ista 1a"}), mass=mass).design
        assert design.legs[0].height_class.height == pytest.approx(height)
        # a design made of a looked-up one looks again
        again = Design(
            payload=design.payload, case=BRIEF.design.case, places=design.places, legs=design.legs
        )
        assert again.legs[0].height_class is None
        assert again.legs[0].drop is None


@pytest.mark.parametrize(
    ("table", "keys", "missing"),
    [
        ("ista 1a", {}, "case.mass"),
        ("mil-std-810h 516.8 ix", {}, "case.mass"),
        ("mil-std-810h 516.8 ix", {"mass": "3 kg"}, "case.size"),
    ],
)
def test_a_height_that_cannot_be_looked_up_stays_open(table: str, keys: dict, missing: str) -> None:
    checks = by_id(judged(case(leg(drop={"table": table}), **keys)))
    for key in ("drop/by van", "clearance/lid"):
        assert (checks[key].status, checks[key].missing) == ("incomplete", missing)
    assert not [i for i in checks if i.startswith("drop peak")]


def test_a_light_shell_is_told_between_its_bounds() -> None:
    """First flight of a heavy shell and one contact of a light one: √(M/(m + M)) apart.

    The motion lies between.
    """
    result = judged(case(leg(drop="0.1 m"), mass="4 kg", restitution=0.4))
    row = as_data(result)["drops"][0]
    flight = 1.4 * math.sqrt(2 * G0 * 0.1) * OMEGA / G0
    assert row["peak_g"] == pytest.approx(flight, rel=1e-9)
    assert row["peak_g_least"] == pytest.approx(flight * math.sqrt(4 / 12), rel=1e-9)
    check = by_id(result)["drop peak/by van/lid up"]
    assert row["peak_g_least"] < check.demand < flight + 1
    assert f"the flat estimate by energy says {flight + 1:.3g} g" in check.reason
    assert any("pushes it back as it lands" in line for line in as_data(result)["assumed"])


@pytest.mark.parametrize("mass", [None, "80 kg"])
def test_a_heavy_or_unweighed_shell_has_one_number(mass: str | None) -> None:
    result = judged(case(BRIEF, mass=mass) if mass else BRIEF)
    assert {row["peak_g_least"] for row in as_data(result)["drops"]} == {None}
    assert not any("pushes it back" in line for line in as_data(result)["assumed"])


def lifted(mass: str | None = "4 kg", **keys: object) -> Assessment:
    given = {k: v for k, v in {**LIFT, **keys}.items() if v is not None}
    brief = case(BRIEF, mass=mass) if mass else BRIEF
    return judged(brief.changed("carry", given))


def test_the_gross_weight_is_held_against_the_lift() -> None:
    """23 · 25/30 · (1 − .003·25) · (.82 + 4.5/60) = 15.9 kg for 12 kg and for 18 kg."""
    check = by_id(lifted())["carry"]
    assert check.demand == 12
    assert check.capacity == pytest.approx(23 * 25 / 30 * 0.925 * 0.895)
    assert check.status == "pass"
    assert "healthy adults" in check.reason
    assert "local rules go before" in check.reason
    assert lifted("10 kg").status == "fail"
    assert by_id(lifted("10 kg"))["carry"].status == "fail"


@pytest.mark.parametrize("key", list(LIFT))
def test_a_lift_with_an_unknown_stays_open(key: str) -> None:
    check = by_id(lifted(**{key: None}))["carry"]
    assert (check.status, check.missing, check.capacity) == ("incomplete", f"carry.{key}", None)


def test_a_lift_of_a_case_that_nobody_weighed_stays_open() -> None:
    check = by_id(lifted(None))["carry"]
    assert (check.status, check.missing, check.demand) == ("incomplete", "case.mass", None)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("hands", 1, "two hands"),
        ("horizontal", "64 cm", "ends at 630 mm"),
        ("height", "1.8 m", "ends at 1750 mm"),
        ("lift", "1.8 m", "ends at 1750 mm"),
        ("lift", "130 cm", "ends 1800 mm up, the equation at 1750 mm"),
        ("angle", "140 deg", "ends at 135 degrees"),
        ("duration", "9 h", "ends at 8 hours"),
        ("lifts_per_minute", 16, "no lift so often"),
    ],
)
def test_a_lift_outside_the_equation_is_not_answered(key: str, value: object, words: str) -> None:
    check = by_id(lifted(**{key: value}))["carry"]
    assert (check.status, check.missing) == ("incomplete", f"carry.{key}")
    assert words in check.reason


def test_nobody_asked_about_carrying() -> None:
    assert "carry" not in PLAIN
    heavy = judged(case(BRIEF, mass="4 kg"))
    assert any("carrying was not asked" in line for line in as_data(heavy)["assumed"])
    assert not any("carrying" in line for line in as_data(judged(BRIEF))["assumed"])
    (line,) = [line for line in as_data(lifted())["assumed"] if "carrying" in line]
    assert "healthy adults" in line
    assert "local rules" in line


@pytest.mark.parametrize("keys", [{"tied": False}, {"temperature": "80 °C"}])
def test_the_page_and_the_object_hold_an_unknown_sine(keys: dict) -> None:
    """Loose under 2 g, or warmer than any data: question marks, no numbers."""
    result = judged(leg(road=None, sine={**SWEEP, "level": "2 g0"}, **keys))
    assert by_id(result)["sine limit/by van"].status == "incomplete"
    assert {row["acceleration_g_peak"] for row in as_data(result)["sine"]} == {None}
    assert "? at ?" in page(result)


def test_a_mount_that_does_not_hold_is_in_doubt_on_a_loose_leg_in_the_cold() -> None:
    ring = {**BRIEF.text["mount"]["ring"], "captive": False}
    ring |= {"cold_temperature": "-10 °C", "cold_factor": 2}
    for tied, missing in ((True, None), (False, "leg[1].tied")):
        brief = leg(tied=tied, temperature="-30 °C", drop="none").changed("mount", {"ring": ring})
        check = by_id(judged(brief.changed("attitudes", ["lid up"])))["held when pulled"]
        assert check.missing == (missing or "")


def test_a_leg_keeps_its_own_words() -> None:
    plain = Leg(name="x", drop="0.2 m")
    assert plain.looked_up(5.0, 0.5) is plain
    assert plain.fixed_base()
    assert Leg(name="x", vibrates=False, tied=False).fixed_base()

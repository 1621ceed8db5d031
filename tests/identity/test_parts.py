"""Parts that are judged one by one: whole briefs whose answer one mass on one spring gives."""

import csv
import io
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from isolator import sdof
from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.checks import ask
from isolator.report import as_data, page
from isolator.resonance import bolted_response
from isolator.response import respond
from isolator.schema import PartRow
from isolator.trip import road
from isolator.units import G0
from isolator.weighing import Foot, Weighing

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
MASS = 'mass = "8 kg"'

# Half of the payload each: the centre is where the starter has it, its mass is 8 kg.
PARTS = [
    {"name": "tray", "mass [kg]": 4, "z [mm]": -10, "size x [mm]": 300, "size y [mm]": 200,
     "size z [mm]": 20},
    {"name": "works", "mass [kg]": 4, "z [mm]": 10, "size x [mm]": 300, "size y [mm]": 200,
     "size z [mm]": 80},
]  # fmt: skip
BOARD = {
    "kind": "board", "resonance [Hz]": 120, "amplification": 10, "board length [mm]": 160,
    "board thickness [mm]": 1.6, "component length [mm]": 40, "component place": 1,
    "component": "bga",
}  # fmt: skip
FIXED = {"name": "antenna", "mass [kg]": 0.3, "shape": "point"}


def table(rows):
    rows = [{"x [mm]": 0, "y [mm]": 0, "z [mm]": 0} | row for row in rows]
    heads = list(dict.fromkeys(head for row in rows for head in row))
    out = io.StringIO()
    writer = csv.DictWriter(out, heads, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


@pytest.fixture
def judged(tmp_path):
    """The starter with columns for its second part, and parts fixed in the case."""

    def judge(works=(), fixed=(), **changes):
        text = STARTER.read_text(encoding="utf-8")
        assert MASS in text
        lines = [line for line in text.splitlines() if not line.startswith("centre")]
        text = "\n".join(lines).replace(MASS, 'parts = "parts.csv"', 1)
        tray, rest = PARTS
        (tmp_path / "parts.csv").write_text(table([tray, rest | dict(works)]), encoding="utf-8")
        if fixed:
            (tmp_path / "fixed.csv").write_text(table(fixed), encoding="utf-8")
            text = text.replace("[case]", '[case]\nparts = "fixed.csv"', 1)
        for old, new in changes.values():
            assert old in text
            text = text.replace(old, new)
        (tmp_path / "case.toml").write_text(text, encoding="utf-8")
        return assess(read_brief(tmp_path / "case.toml").design)

    return judge


def check(result, head):
    (found,) = [c for c in result.checks if c.id.split("/")[0] == head]
    return found


def bounce(result):
    rows = as_data(result)["modes"]
    return next(r["frequency_hz"] for r in rows if r["name"] == "bounce along z")


def test_a_parts_table_without_such_columns_asks_nothing_more(judged):
    result = judged()
    assert result.status == "pass"
    assert result.response.legs[0].parts is None
    assert as_data(result)["parts"] == []
    assert "Parts:" not in page(result)


def test_every_check_of_a_part_passes(judged):
    works = BOARD | {
        "vibration limit [g0]": 5, "fragility [g0]": 90, "speed [rpm]": 6000, "blades": 7
    }  # fmt: skip
    result = judged(works, [FIXED | {"vibration limit [g0]": 3, "fragility [g0]": 50}])
    opened = [c for c in result.checks if c.status != "pass"]
    assert [c.id.split("/")[0] for c in opened] == ["part drop"]
    assert opened[0].id.endswith("/antenna")
    assert "nothing but the shell" in opened[0].reason
    assert opened[0].missing == "a recorded drop at its place"
    waived = assess(replace(result.design, not_required={opened[0].id: "dropped alone"}))
    assert waived.status == "pass"
    rows = as_data(result)["parts"]
    assert [(r["part"], r["floats"]) for r in rows] == [("works", True), ("antenna", False)]
    assert rows[0]["acceleration_g_rms"] == max(rows[0]["acceleration_g_rms_by_reading"].values())
    assert "fixed in the case" in page(result)
    assumed = as_data(result)["assumed"]
    assert any(line.endswith("holds them (resonance): antenna") for line in assumed)
    assert any(line.endswith("works, 50% of its mass") for line in assumed)
    assert any("0.3 kg, are weighed with it" in line for line in assumed)


def test_a_fixed_part_feels_the_whole_input(judged):
    result = judged(fixed=[FIXED | {"vibration limit [g0]": 3}])
    leg = result.design.legs[0]
    most = max(leg.spectrum(axis).level(leg.level) for axis in "xyz")
    assert check(result, "part limit").demand == pytest.approx(most, rel=1e-6)
    resonant = judged(fixed=[FIXED | {"resonance [Hz]": 30, "amplification": 12}])
    squares = [
        bolted_response(s.lines, s.density * leg.level**2, 30.0, 12.0).max()
        for s in map(leg.spectrum, "xyz")
    ]
    assert check(resonant, "part limit").demand == pytest.approx(math.sqrt(max(squares)) / G0)
    assert check(resonant, "part limit").status == "incomplete"
    assert check(resonant, "part limit").missing == "case.parts.antenna.vibration_limit"


def test_a_floating_part_at_the_centre_feels_what_the_centre_feels(judged):
    result = judged({"vibration limit [g0]": 3, "z [mm]": 10, "fragility [g0]": 90})
    rows = as_data(result)
    centre = max(r["acceleration_g_rms"] for r in rows["vibration"] if r["point"] == "centre")
    near = rows["parts"][0]
    assert near["acceleration_g_rms"] == pytest.approx(centre, rel=0.1)
    assert near["drop_g_most"] >= max(r["peak_g_most"] for r in rows["drops"]) * (1 - 1e-9)
    assert check(result, "part limit").missing == ""
    tight = judged({"vibration limit [g0]": 0.01, "fragility [g0]": 5})
    assert check(tight, "part limit").status == check(tight, "part drop").status == "fail"


def test_a_part_off_the_centre_feels_more_than_it_and_less_than_the_bound(judged):
    def fragile(g):
        works = {"fragility [g0]": g, "x [mm]": 100, "z [mm]": 20}
        return judged(works, drop=('drop = "0.2 m"', 'drop = "0.05 m"'))

    result = fragile(90)
    (row,) = as_data(result)["parts"]
    centre = max(r["in_time"]["peak_g"] for r in as_data(result)["drops"])
    felt = check(result, "part drop").demand
    assert centre < felt < row["drop_g_most"]
    assert check(fragile(0.99 * felt), "part drop").status == "fail"
    assert check(fragile(1.01 * felt), "part drop").status == "pass"


def test_a_board_bends_by_its_own_response(judged):
    result = judged(BOARD | {"vibration limit [g0]": 5})
    felt = check(result, "part limit").demand
    # Steinberg's own way, in inches: 3 · 9.8 G/f² against 0.00022 B/(C h r √L)
    z = 3 * 9.8 * felt / 120**2
    limit = 0.00022 * (160 / 25.4) / (1.75 * (1.6 / 25.4) * 1 * math.sqrt(40 / 25.4))
    row = check(result, "board")
    assert row.demand == pytest.approx(z * 25.4, rel=3e-3)
    assert row.capacity == pytest.approx(limit * 25.4, rel=1e-9)


def test_the_octave_rule_takes_the_highest_mode_that_moves_the_part(judged):
    top = bounce(judged())
    frequencies = {}
    for times, status in ((2.5, "pass"), (1.2, "fail")):
        row = check(judged({"resonance [Hz]": times * top, "amplification": 10}), "octave")
        frequencies[status] = row.demand / 2
        assert row.status == status
        assert row.capacity == pytest.approx(times * top)
        assert row.demand >= 2 * top * (1 - 1e-6)


@pytest.mark.parametrize(
    ("times", "status", "words"),
    [
        (1.0, "fail", "it drives that mode"),
        (1.15, "fail", "it drives that mode"),
        (4.0, "pass", "isolated, "),
        (0.3, "pass", "not isolated"),
    ],
)
def test_a_source_inside(judged, times, status, words):
    speed = 60 * times * bounce(judged())
    result = judged({"kind": "fan", "speed [rpm]": speed})
    row = check(result, "source")
    assert row.status == status
    assert words in row.reason
    # 1000 rpm are 16.67 Hz
    assert judged({"speed [rpm]": 1000}).design.asking()[0][0].speed.m_as("Hz") == pytest.approx(
        1000 / 60
    )


def test_the_blade_rate_counts_too(judged):
    speed = 60 * bounce(judged()) / 4
    assert check(judged({"speed [rpm]": speed}), "source").status == "pass"
    row = check(judged({"speed [rpm]": speed, "blades": 4}), "source")
    assert row.status == "fail"
    assert "its blade rate" in row.reason


def test_a_resonance_in_a_strong_band_is_said_and_left_to_the_limit(judged):
    strong = road("truck d4169-16 medium")["vertical"]
    at = float(strong.lines[strong.density.argmax()]) * 1.1
    known = {"resonance [Hz]": at, "amplification": 10}
    row = check(judged(known), "coincidence")
    assert row.status == "incomplete"
    assert row.missing == "payload.parts.works.vibration_limit"
    assert "lies in a strong band" in row.reason
    row = check(judged(known | {"vibration limit [g0]": 50}), "coincidence")
    assert row.status == "pass"
    assert "its limit decides" in row.reason
    row = check(judged({"resonance [Hz]": 800, "amplification": 10}), "coincidence")
    assert row.status == "pass"
    assert "no strong band" in row.reason
    assert "ends at 200 Hz" in row.reason


GIVEN = BOARD | {
    "kind": "fan", "vibration limit [g0]": 5, "fragility [g0]": 90, "speed [rpm]": 6000,
}  # fmt: skip


@pytest.mark.parametrize(
    ("column", "named"),
    [
        ("amplification", {"part limit": "amplification", "board": "amplification"}),
        ("speed [rpm]", {"source": "speed"}),
        ("board length [mm]", {"board": "board_length"}),
        ("board thickness [mm]", {"board": "board_thickness"}),
        ("component length [mm]", {"board": "component_length"}),
        ("component place", {"board": "component_place"}),
        ("component", {"board": "component"}),
    ],
)
def test_a_column_that_is_left_out_leaves_a_question(judged, column, named):
    assert judged(GIVEN).status == "pass"
    result = judged({key: value for key, value in GIVEN.items() if key != column})
    assert result.status == "incomplete"
    opened = {c.id.split("/")[0]: c.missing for c in result.checks if c.status == "incomplete"}
    assert opened == {kind: f"payload.parts.works.{name}" for kind, name in named.items()}


@pytest.mark.parametrize(
    "column", ["vibration limit [g0]", "fragility [g0]", "resonance", "blades"]
)
def test_a_column_that_is_left_out_is_assumed_in_print(judged, column):
    whole = {"kind": "fan", "vibration limit [g0]": 5, "fragility [g0]": 90, "speed [rpm]": 6000,
             "blades": 7, "resonance [Hz]": 120, "amplification": 10}  # fmt: skip
    drop = {"resonance [Hz]", "amplification"} if column == "resonance" else {column}
    assumed = as_data(judged({k: v for k, v in whole.items() if k not in drop}))["assumed"]
    line = f"({column.partition(' [')[0]}): works"
    assert any(line in text for text in assumed)
    assert not any(line in text for text in as_data(judged(whole))["assumed"])


TRIED = {
    *("amplification", "speed", "board_length", "board_thickness", "component_length"),
    *("component_place", "component", "vibration_limit", "fragility", "resonance", "blades"),
}
DESCRIBED = {
    "kind",
    "shape",
    "size_x",
    "size_y",
    "size_z",
    "axis",
}  # other, a box that needs its size


def test_every_optional_column_of_parts_is_tried_here():
    fields = PartRow.model_fields.items()
    assert {key for key, info in fields if not info.is_required()} == TRIED | DESCRIBED


def test_a_fixed_part_has_its_limits_asked_for(judged):
    result = judged(fixed=[FIXED])
    assert result.status == "incomplete"
    opened = {c.id.split("/")[0]: c.missing for c in result.checks if c.status == "incomplete"}
    assert opened == {
        "part limit": "case.parts.antenna.vibration_limit",
        "part drop": "case.parts.antenna.fragility",
    }


def test_unknown_mounts_leave_a_part_unknown(judged):
    works = GIVEN | {"kind": "board"}
    text = STARTER.read_text(encoding="utf-8")
    loss = re.search(r"^loss_factor.*$", text, re.MULTILINE)[0]
    result = judged(works, drop=(loss, ""))
    for kind in ("part limit", "board"):
        row = check(result, kind)
        assert row.status == "incomplete"
        assert row.missing.endswith(".loss_factor")
    height = re.search(r"^drop = .*$", text, re.MULTILINE)[0].split("#")[0].strip()
    assert check(judged(works, drop=(height, "")), "part drop").missing == "leg[1].drop"


@pytest.mark.parametrize(("eta", "times"), [(0.1, 1.27), (0.2, 1.85), (0.4, 3.1)])
def test_far_above_a_resonance_the_two_readings_part(eta, times):
    """At eight times the resonance (computed)."""
    lines = np.array([79.99, 80.01])
    structural, viscous = bolted_response(lines, np.ones(2), 10.0, 1 / eta)
    assert math.sqrt(viscous / structural) == pytest.approx(times, abs=0.02)
    assert math.sqrt(structural / 0.02) == pytest.approx(
        float(sdof.structural_transmissibility(8.0, eta)), rel=1e-3
    )


def test_parts_beside_a_scale_are_judged_and_a_sine_is_said_to_be_left_out(judged):
    sine = 'drop = "0.2 m"\nsine = { from = "5 Hz", to = "90 Hz", level = "0.1 g0" }'
    result = judged({"vibration limit [g0]": 5}, drop=('drop = "0.2 m"', sine))
    assert any("no single part is held against a sine" in a for a in as_data(result)["assumed"])
    corners = [(x, y) for x in ("-150 mm", "150 mm") for y in ("-90 mm", "90 mm")]
    feet = [Foot(position=list(at), reading="2 kg") for at in corners]
    weighing = Weighing(size=["400 mm", "300 mm", "150 mm"], resolution="0.1 kg", feet=feet)
    design = replace(result.design, payload=weighing.payload(parts=result.design.payload.parts))
    assert [part.name for part, _ in design.asking()] == ["works"]
    weighed = assess(design)
    assert check(weighed, "part limit").demand >= check(result, "part limit").demand


def test_in_the_cold_of_rigid_mounts_a_part_feels_the_input(judged):
    cold = 'loss_factor = 0.15\ncold_temperature = "-20 °C"\ncold_factor = 2'
    result = judged(
        BOARD | {"vibration limit [g0]": 5, "fragility [g0]": 90},
        loss=("loss_factor = 0.15", cold),
        temperature=('temperature = "15 °C"', 'temperature = "-40 °C"'),
    )
    leg = result.design.legs[0]
    spectra = [leg.spectrum(axis) for axis in "xyz"]
    squares = [bolted_response(s.lines, s.density, 120.0, 10.0).max() for s in spectra]
    for kind in ("part limit", "board", "part drop", "octave"):
        assert check(result, kind).status == "incomplete"
        assert "mount" in check(result, kind).missing
    row = check(result, "part limit")
    assert row.demand == pytest.approx(math.sqrt(max(squares)) / G0)
    assert "treated as rigid in the cold" in row.reason


def test_a_batch_gives_what_each_design_gives_alone(judged):
    works = GIVEN | {"x [mm]": 40}
    one = judged(works, [FIXED]).design
    stiffer = [replace(p, mount=replace(p.mount, along="9 N/mm")) for p in one.places]
    designs = [one, replace(one, places=stiffer)]
    together = ask(respond(designs))
    for index, design in enumerate(designs):
        for row, alone in zip(together, ask(respond([design])), strict=True):
            assert row.id == alone.id
            assert row.status()[index] == alone.status()[0]
            assert row.reason(index) == alone.reason(0)
            np.testing.assert_allclose(row.demand[index], alone.demand[0], rtol=1e-9)


def test_the_bound_of_a_part_in_a_drop_says_what_it_rests_on(judged):
    """What designs are screened by, before anything falls in time."""
    works = GIVEN | {"x [mm]": 40, "fragility [g0]": 30}
    one = judged(works).design

    def bound(design):
        rows = [row for row in ask(respond([design])) if row.id.startswith("part drop/")]
        (row,) = rows
        return row, row.reason(0), row.missing(0)

    def hung(**change):
        return replace(
            one, places=[replace(p, mount=replace(p.mount, **change)) for p in one.places]
        )

    far = {"travel": "60 mm", "travel_across": "60 mm"}
    sound, text, key = bound(hung(**far))
    most = float(sound.demand[0])
    assert sound.status()[0] == "pass"
    assert "at most" in text
    assert key == ""
    unsure, text, key = bound(hung(travel=None, travel_across=None))
    assert unsure.status()[0] == "incomplete"
    assert text.endswith("if the mounts have the travel")
    assert key.startswith("mount.ring.travel")
    hit, text, _ = bound(hung(travel="8 mm"))
    assert hit.status()[0] == "incomplete"
    assert "before a mount may bottom" in text
    for limit, status in ((0.999 * most, "incomplete"), (5.0, "fail")):
        parts = [replace(p, fragility=f"{limit} g0") if p.name == "works" else p
                 for p in one.payload.parts]  # fmt: skip
        row, text, _ = bound(replace(hung(**far), payload=replace(one.payload, parts=parts)))
        assert row.status()[0] == status, text
        assert ("a wide bound; the centre feels" in text) == (status == "incomplete")
    open_ = replace(one, legs=[replace(one.legs[0], drop=None)])
    row, text, key = bound(open_)
    assert row.status()[0] == "incomplete"
    assert text == "from what height it may fall on this leg is not given"
    assert key == "leg[1].drop"


def test_a_hit_of_unknown_stiffness_leaves_a_part_open(judged):
    """In every landing, or in those along the short way; a known stop tells what it does."""
    works = GIVEN | {"fragility [g0]": 90}
    along, across = 'travel = "45 mm"', 'travel_across = "45 mm"'
    short = 'travel = "16 mm"'
    result = judged(works, along=(along, short), across=(across, across.replace("45", "9")))
    row = check(result, "part drop")
    assert row.status == "incomplete"
    assert row.demand is None
    assert "a mount bottoms in every landing: what the hit does is not known" in row.reason
    assert row.missing == "mount.ring.stop"
    row = check(judged(works, along=(along, short)), "part drop")
    assert row.status == "incomplete"
    assert row.demand < 90
    assert re.search(r"g reach its feet, of 90 g; .*: a mount bottoms, what the hit", row.reason)
    known = check(judged(works, along=(along, f'{short}\nstop = "900 N/mm"')), "part drop")
    assert known.demand > row.demand
    assert "not known" not in known.reason


def test_no_landing_passes_where_how_far_the_mounts_may_go_is_unknown(judged):
    """Neither a part's drop nor the force on a mount, whose hit nobody has computed."""
    works = GIVEN | {"fragility [g0]": 90}
    down = ('drop = "0.2 m"', 'drop = "0.2 m"\nset_down = "20 mm"')
    whole = judged(works, down=down)
    ids = ["drop force/by van", "part drop/by van/works", "set-down force/by van"]
    assert [c.status for c in whole.checks if c.id in ids] == ["pass"] * 3
    for key, value in (("travel", '"45 mm"'), ("travel_across", '"45 mm"'), ("captive", "true")):
        result = judged(works, down=down, key=(f"\n{key} = {value}", ""))
        opened = {c.id: c for c in result.checks if c.status == "incomplete"}
        assert {"drop force/by van", "part drop/by van/works"} <= opened.keys()
        assert {opened[name].missing for name in ids if name in opened} == {f"mount.ring.{key}"}
        assert "if the mounts have the travel" in opened["part drop/by van/works"].reason
        assert "if the mounts have the travel" in opened["drop force/by van"].reason


def test_a_set_down_alone_does_not_stand_for_a_fall_whose_height_is_unknown(judged):
    works = GIVEN | {"fragility [g0]": 90}
    table = 'drop = { table = "ista 1a" }\nset_down = "20 mm"'
    (row,) = [c for c in judged(works, drop=('drop = "0.2 m"', table)).checks
              if c.id.startswith("part drop/")]  # fmt: skip
    assert row.status == "incomplete"
    assert row.missing == "case.mass"
    assert "set-down" in row.reason
    assert "the height of ista 1a goes by gross weight" in row.reason

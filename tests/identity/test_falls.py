"""Falls of a case in time: slap-down, topple, heights, foam, the page of the falls."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cli import main
from isolator.falls import Fallen, followed
from isolator.report import fall_data, fall_page, page
from isolator.response import respond
from isolator.survive import survival
from isolator.units import G0, InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = read_brief(DATA / "starter" / "case.toml")
BOX = {"case.size": ["520 mm", "420 mm", "270 mm"], "case.mass": "5 kg"}


def with_box(brief=STARTER, **also):
    for key, value in {**BOX, **also}.items():
        brief = brief.changed(key.replace("__", "."), value)
    return brief


def checks(brief):
    return {check.id: check for check in assess(brief).checks}


def fallen(brief, band=(0,)):
    response = respond([brief.design])
    return Fallen.of(response, response.legs[0], band=band)


def test_the_outer_box_lies_between_equal_walls():
    """40 mm more gap at the right end than at the left: the box's middle is 20 mm further right."""
    wide = fallen(with_box()).outer[0]
    assert (wide[1] - wide[0]).tolist() == pytest.approx([0.52, 0.42, 0.27])
    centre = np.array([0, 0, -0.01])  # of gravity, from the middle of the payload's box
    assert (wide.mean(axis=0) + centre).tolist() == pytest.approx([0, 0, 0], abs=1e-12)
    aside = fallen(with_box(case__left_end="30 mm", case__right_end="70 mm")).outer[0]
    assert (aside.mean(axis=0) - wide.mean(axis=0)).tolist() == pytest.approx([0.02, 0, 0])


def test_a_thin_box_has_the_inertia_of_its_walls():
    """A closed cube of thin walls: 5/18 m a² about each axis (handbook, memory)."""
    cube = with_box(case__size=["0.5 m", "0.5 m", "0.5 m"])
    gyration = fallen(cube).shell.gyration[0]
    assert gyration == pytest.approx(np.eye(3) * 5 / 18 * 0.25)


def test_a_slap_down_turns_about_an_edge_of_each_face():
    there = fallen(with_box())
    pairs = there.slaps(["lid up"])
    assert [edge for _, edge in pairs] == [
        "on the handle side", "on the hinge side", "on the left end", "on the right end",
    ]  # fmt: skip
    landings = there.about(pairs, 0.5, math.radians(3))
    down, axis, pivot = landings.down[0], landings.axis[0], landings.pivot[0]
    assert np.linalg.norm(axis, axis=-1) == pytest.approx(np.ones(4))
    assert (axis * down).sum(axis=-1) == pytest.approx(np.zeros(4))
    # turning brings what is beyond the middle down
    middle = there.outer[0].mean(axis=0)
    moves = np.cross(axis, middle - pivot)
    assert ((moves * down).sum(axis=-1) > 0).all()
    # the pivot lies on the lower face, at its edge
    assert pivot[:, 2] == pytest.approx(np.full(4, there.outer[0, 0, 2]))


def test_a_topple_is_that_of_one_rigid_body():
    """Energy by hand: ½ J ω² = m g h, a cube of thin walls without a payload of its own.

    A heavy shell counts alone. From its edge its centre is at a/√2, and comes down to a/2; J about
    the edge is (5/18 + 1/2) m a².
    """
    cube = STARTER.changed("case.size", ["0.5 m", "0.5 m", "0.5 m"])
    cube = cube.changed("payload.centre", ["0 mm", "0 mm", "0 mm"])
    there = fallen(cube)
    landings = there.about([("lid up", "on the left end")], 0.0, 0.0, tips=True)
    fall = 0.5 * (1 / math.sqrt(2) - 1 / 2)
    expected = math.sqrt(2 * G0 * fall / ((5 / 18 + 1 / 2) * 0.25))
    assert landings.spin[0, 0] == pytest.approx(expected)


def test_slap_down_and_topple_are_judged_where_they_are_asked():
    plain = checks(with_box())
    assert not any(key.startswith(("slap-down", "topple")) for key in plain)
    asked = checks(_asked())
    for face in ("lid up", "on the left end"):
        assert f"slap-down peak/by van/{face}" in asked
    for face in ("lid up", "on the handle side"):
        assert f"topple travel/by van/{face}" in asked
    flat = asked["slap-down peak/by van/lid up"].reason
    assert "landing flat on it gives" in flat
    assert asked["slap-down force/by van"].capacity == 500


def _asked():
    brief = with_box().changed("leg[1].slap_down", "3 deg")
    return brief.changed("leg[1].topple", ["on the left end"])


def test_without_a_size_a_slap_down_is_a_question():
    found = checks(STARTER.changed("leg[1].slap_down", "3 deg"))
    assert found["slap-down travel/by van"].missing == "case.size"
    assert found["slap-down travel/by van"].status == "incomplete"


def test_a_slap_down_asks_more_of_a_corner_and_less_of_the_centre():
    """The corners far from the edge come down last and fastest."""
    found = survival(with_box())
    flat, slap = found.line("flat"), found.line("slap-down")
    k = found.at
    assert slap.corner[k] > 1.1 * flat.corner[k]
    assert slap.peak[k] < flat.peak[k]


def test_a_slap_down_from_nearly_no_height_is_that_of_a_soft_landing():
    """Peaks and travels grow with the height of the fall, of every kind of landing."""
    found = survival(with_box())
    for line in found.lines:
        assert (np.diff(line.travel) > 0).all()
        assert (np.diff(line.corner[np.isfinite(line.corner)]) > 0).all()


def test_the_curve_at_the_height_of_the_leg_is_what_assess_says():
    """Fewer phases of the ring and the nominal inertia only: no more, and hardly less."""
    brief = with_box()
    found, judged = survival(brief), checks(brief)
    most = max(check.demand for key, check in judged.items() if key.startswith("drop peak/by van/"))
    flat = found.line("flat").peak[found.at] / G0
    assert 0.97 * most < flat <= most * (1 + 1e-6)


def test_three_millimetres_of_rubber_cannot_do_it():
    """mechanics by hand: h/(G − 1) with anything, 2h/(G − 2) on a spring."""
    brief = STARTER.changed("leg[1].drop", "0.76 m")
    brief = brief.changed("mount.ring.travel", "3 mm").changed("mount.ring.travel_across", "3 mm")
    found = survival(brief)
    assert found.hopeless
    first = fall_page(found).split("\n\n")[1].replace("\n", " ")
    assert first.startswith("Rubber alone cannot do it: the mounts have 3 mm of travel")
    assert f"{760 / 39:.3g} mm on anything" in first
    assert f"{2 * 760 / 38:.3g} mm on a spring" in first
    assert f"{760 / 39 / 0.65:.3g} mm thick at the very best" in first


def test_without_fragility_it_says_what_the_payload_has_to_survive():
    payload = {k: v for k, v in STARTER.text["payload"].items() if k != "fragility"}
    found = survival(STARTER.changed("payload", payload))
    assert "What the payload survives is not known" in fall_page(found)
    assert fall_data(found)["status"] == "incomplete"
    assert fall_data(found)["fragility_g"] is None


def test_foam_and_mounts_together_are_the_numbers_of_the_coupled_motion():
    """8 kg in a 4 kg shell on glued linear foam (computed): foam alone 57.7 g, at 10 Hz 24.2 g.

    Here through the whole chain, with the ring of the fall: a little more than from rest.
    """
    v = math.sqrt(2 * G0 * 0.762)
    k = 12 * v**2 / 0.025**2
    mount = 8 * (2 * math.pi * 10) ** 2 / 4
    foam = {"name": "pads", "thickness": "100 mm", "stiffness": f"{k} N/m", "loss_factor": 0.1,
            "glued": True}  # fmt: skip
    brief = STARTER
    for key, value in {
        "case.mass": "4 kg", "case.cushion": foam, "leg[1].drop": "0.762 m",
        "leg[1].landings": ["lid up"], "payload.centre": ["0 mm", "0 mm", "0 mm"],
        "mounts.height": "0 mm", "mount.ring.along": f"{mount} N/m",
        "mount.ring.across": f"{mount} N/m", "mount.ring.dynamic_ratio": 1.0,
        "mount.ring.loss_factor": 0.16, "mount.ring.travel": "90 mm",
        "mount.ring.travel_across": "90 mm",
    }.items():  # fmt: skip
        brief = brief.changed(key, value)
    told = {one.name: one for one in survival(brief).protection}
    assert told["foam only"].peak / G0 == pytest.approx(57.7, abs=0.06)
    assert told["both"].peak / G0 == pytest.approx(24.2, rel=0.05)
    assert told["both"].travel == pytest.approx(0.0578, rel=0.05)


def test_a_known_stop_tells_what_the_hit_does():
    brief = STARTER.changed("mount.ring.travel", "30 mm")
    unknown = checks(brief)["drop peak/by van/lid up"]
    assert unknown.status == "incomplete"
    assert unknown.missing == "mount.ring.stop"
    told = checks(brief.changed("mount.ring.stop", "300 N/mm"))["drop peak/by van/lid up"]
    assert told.status != "incomplete"
    assert "meets its stop at" in told.reason
    free = checks(STARTER)["drop peak/by van/lid up"]
    assert told.demand > 1.3 * free.demand


def test_a_metal_stop_has_a_number_too():
    """By energy the hit adds v√(k/m) to what the springs do, as squares add."""
    speeds = []
    for stop in (1000, 5000, 20000):
        brief = STARTER.changed("mount.ring.travel", "30 mm")
        brief = brief.changed("mount.ring.stop", f"{stop} N/mm")
        touch = followed(respond([brief.design])).legs[0].falling.touch
        assert np.isfinite(touch.peak).all()
        hit = math.sqrt(touch.peak[0, 0] ** 2 - touch.before[0, 0] ** 2)
        speeds.append(hit / math.sqrt(4e3 * stop / 8))
    assert speeds == pytest.approx([speeds[-1]] * 3, rel=0.05)
    assert speeds[-1] < touch.metal[0, 0]  # there the static curve, which takes less


def test_a_shell_that_takes_time_to_stop_is_the_softer_landing():
    brief = with_box()
    hard = checks(brief)["drop peak/by van/lid up"].demand
    soft = checks(brief.changed("case.stopping_time", "20 ms"))["drop peak/by van/lid up"].demand
    assert soft < hard


@pytest.mark.heavy
def test_a_batch_of_falls_is_that_of_each():
    briefs = [_asked(), _asked().changed("mount.ring.along", "8 N/mm")]
    both = followed(respond([b.design for b in briefs])).legs[0]
    for i, brief in enumerate(briefs):
        alone = followed(respond([brief.design])).legs[0]
        assert both.falling.touch.peak[i] == pytest.approx(alone.falling.touch.peak[0], rel=2e-3)
        for one, other in zip(both.turning, alone.turning, strict=True):
            assert one.touch.mounts[i] == pytest.approx(other.touch.mounts[0], rel=2e-3, abs=1e-5)


def test_the_command_prints_the_falls_and_ends_with_their_status(tmp_path, capsys):
    main(["new", str(tmp_path / "case")])
    capsys.readouterr()
    brief = tmp_path / "case" / "case.toml"
    assert main(["drop", str(brief)]) == 0
    out = capsys.readouterr().out
    assert "falls on by van" in out
    assert "Limits of this page" in out
    assert main(["drop", str(brief), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["landings"]["flat"]["bottoms_from_m"] > told["height_m"]
    brief.write_text(
        brief.read_text(encoding="utf-8").replace('"45 mm"', '"30 mm"'), encoding="utf-8"
    )
    assert main(["drop", str(brief)]) == 1
    assert main(["drop", str(brief), "--leg", "by air"]) == 2
    assert "no leg of that name" in capsys.readouterr().err


def test_a_leg_without_a_drop_has_no_falls():
    with pytest.raises(InputError, match="no leg has a drop from a known height"):
        survival(STARTER.changed("leg[1].drop", "none"))


def test_the_courier_page_says_what_a_slap_down_does():
    result = assess(read_brief(DATA / "planetarium" / "case.toml"))
    assert "Turned down onto a face" in page(result)
    found = survival(DATA / "planetarium" / "case.toml")
    assert "What a flat estimate misses" in fall_page(found)
    flat, slap = found.line("flat"), found.line("slap-down")
    known = ~np.isnan(slap.corner)
    assert (slap.corner[known] > 1.2 * flat.corner[known]).all()


def test_foam_without_the_mass_of_the_case_is_refused():
    foam = {"name": "pads", "thickness": "50 mm", "stiffness": "200 N/mm"}
    with pytest.raises(InputError, match=r"give case\.mass"):
        STARTER.changed("case.cushion", foam)


def test_relaxation_elements_are_the_other_choice():
    """Both lose as much a cycle; the elements stiffen, so the peaks differ by some per cent."""
    found = survival(STARTER)
    (peak, _), (other, _) = found.damping["viscous"], found.damping["relaxation"]
    assert 0.8 < other / peak < 1.3
    assert other != pytest.approx(peak, rel=1e-3)


def test_a_weak_screw_is_the_limit():
    check = checks(STARTER.changed("mount.ring.fastening_load", "200 N"))["drop force/by van"]
    assert check.status == "fail"
    assert check.capacity == 200
    assert "its screw and insert hold" in check.reason
    strong = checks(STARTER.changed("mount.ring.fastening_load", "900 N"))["drop force/by van"]
    assert strong.capacity == 500


def test_the_height_is_where_the_curve_says_that_a_mount_bottoms():
    """From a little less nothing bottoms, from a little more something does."""
    brief = STARTER.changed("mount.ring.travel", "36 mm")
    just = survival(brief).line("flat").bottoms
    for share, bottoms in ((0.97, False), (1.03, True)):
        there = survival(brief.changed("leg[1].drop", f"{share * just} m"))
        assert (there.line("flat").used[there.at] > 1) == bottoms


def _own(**more):
    return [{"name": "flat", "down": [0, 0, -2], **more}]


def test_a_landing_of_ones_own_is_that_of_the_face_where_it_is_one():
    found = checks(STARTER.changed("leg[1].own", _own()))
    for what in ("drop travel", "drop peak"):
        mine, face = found[f"{what}/by van/flat"], found[f"{what}/by van/lid up"]
        assert mine.demand == pytest.approx(face.demand, rel=1e-6)


def test_a_case_that_turns_as_it_lands_twists_its_payload():
    """About the vertical through the centre: no more at the centre, ω²r and the twist outside."""
    spin = ["0 rpm", "0 rpm", "240 rpm"]
    brief = STARTER.changed("payload.centre", ["0 mm", "0 mm", "0 mm"])
    brief = brief.changed("mounts.height", "0 mm").changed("leg[1].road", "none")
    still = followed(respond([brief.changed("leg[1].own", _own()).design])).legs[0].own.touch
    turns = followed(respond([brief.changed("leg[1].own", _own(spin=spin)).design])).legs[0].own
    assert turns.touch.peak[0] == pytest.approx(still.peak[0], rel=0.02)
    assert turns.touch.corner[0] > 1.05 * still.corner[0]
    assert turns.touch.mounts[0, 0, :, 2].min() > 5e-3 > still.mounts[0, 0, :, 2].max()


@pytest.mark.parametrize(
    ("own", "words"),
    [
        ([{"name": "a", "down": [0, 0, 0]}], r"leg\[1\]\.own\[1\]\.down.*not all zero"),
        ([{"name": "a", "down": [0, 1]}], r"leg\[1\]\.own\[1\]\.down"),
        ([{"name": "a"}], r"leg\[1\]\.own\[1\]\.down is missing"),
        ([{"name": "lid up", "down": [0, 0, 1]}], "give each landing its own"),
        ([{"name": "a", "down": [0, 0, 1], "spin": ["3", "0", "0"]}], "spin.*without a unit"),
    ],
)
def test_a_landing_without_a_direction_is_refused(own, words):
    with pytest.raises(InputError, match=words):
        STARTER.changed("leg[1].own", own)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("leg[1].slap_down", "3", "a number without a unit"),
        ("leg[1].slap_down", "80 deg", "outside"),
        ("leg[1].topple", ["upside"], "upside"),
        ("leg[1].drop", "0 m", "drop"),
        ("leg[1].drop", "-1 m", "drop"),
        ("case.stopping_time", "2 s", "outside"),
        ("case.restitution", 1.2, "restitution"),
        ("case.mass", "0 kg", "case.mass"),
        ("mount.ring.stop", "3 kg/mm", "stop"),
        ("mount.ring.fastening_load", "-3 N", "fastening_load"),
    ],
)
def test_what_no_landing_can_have_is_refused(key, value, words):
    with pytest.raises(InputError, match=words):
        STARTER.changed(key, value)


def test_a_part_with_a_limit_feels_the_worst_landing_at_its_place(tmp_path):
    """At the centre of gravity it is what the centre feels; in a corner of the box more."""
    text = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")
    text = text.replace('centre = ["0 mm", "0 mm", "-10 mm"]', 'parts = "parts.csv"')
    head = "name,shape,mass [kg],x [mm],y [mm],z [mm],size x [mm],size y [mm],size z [mm],"
    head += "fragility [g0]"
    for x, y in ((30, 20), (190, 140)):
        (tmp_path / "parts.csv").write_text(
            f"{head}\nframe,box,7.999,30,20,-10,300,200,100,\nclock,point,0.001,{x},{y},-10,,,,40\n",
            encoding="utf-8",
        )
        lines = [line for line in text.splitlines() if not line.startswith("mass = ")]
        (tmp_path / "case.toml").write_text("\n".join(lines), encoding="utf-8")
        result = assess(tmp_path / "case.toml")
        (check,) = [c for c in result.checks if c.id == "part drop/by van/clock"]
        touch = result.response.legs[0].falling.touch
        if x == 30:
            assert check.demand == pytest.approx(touch.peak.max() / G0, rel=1e-3)
        else:
            assert touch.peak.max() < check.demand * G0 <= touch.corner.max() * (1 + 1e-9)
        assert "reach its feet" in check.reason


def test_a_wall_of_known_stiffness_stops_a_corner():
    """A gap of 15 mm, measured hanging, under a payload that would move 34 mm down."""
    brief = STARTER.changed("case.floor", "15 mm")
    through = followed(respond([brief.design])).legs[0].falling.touch
    against = followed(respond([brief.changed("case.wall", "500 N/mm").design])).legs[0].falling
    down = 4  # towards the floor
    assert through.reach[0, 0, :, down].max() > 0.033
    assert 0.015 < against.touch.reach[0, 0, :, down].max() - 0.00327 < 0.022
    assert against.touch.peak[0, 0] > 3 * through.peak[0, 0]
    assert against.touch.peak[0, 2] == pytest.approx(through.peak[0, 2], rel=1e-2)


def test_the_page_of_the_falls_says_that_a_payload_flies_off():
    found = survival(with_box(STARTER.changed("mount.ring.captive", False)))
    assert fall_data(found)["status"] == "fail"
    assert "Nothing holds the payload in these landings" in fall_page(found)
    assert "nan" not in fall_page(found)


def test_a_stop_that_only_the_softer_curve_reaches_counts():
    """Between the heights at which the one and the other curve bottom, the hit is the answer."""
    brief = STARTER.changed("mount.ring.stop", "2000 N/mm").changed("mount.ring.travel", "36 mm")
    touch = followed(respond([brief.design])).legs[0].falling.touch
    assert touch.metal[0, 0] > 0
    assert touch.peak[0, 0] > 2 * touch.before[0, 0]


def test_what_is_asked_and_cannot_be_judged_leaves_the_falls_incomplete():
    found = survival(STARTER.changed("leg[1].slap_down", "3 deg"))
    assert fall_data(found)["status"] == "incomplete"


def test_unknown_travel_is_said_before_anything_bottoms():
    ring = {k: v for k, v in STARTER.text["mount"]["ring"].items() if not k.startswith("travel")}
    found = survival(STARTER.changed("mount.ring", ring))
    assert "How far the mounts may go is not known" in fall_page(found)
    assert fall_data(found)["status"] == "incomplete"


def test_a_slap_down_of_a_case_of_several_variants_can_be_waived():
    """Its rows are there only where falls are followed."""
    brief = with_box().changed("payload.mass_within", "0.1 kg")
    brief = brief.changed("leg[1].landings", ["lid up"]).changed("leg[1].slap_down", "3 deg")
    brief = brief.changed("not_required", {"slap-down force/by van": "tried on the bench"})
    (check,) = [c for c in assess(brief).checks if c.id == "slap-down force/by van"]
    assert check.waived == "tried on the bench"


def test_a_case_that_turns_onto_a_face_where_nothing_holds_the_payload_fails():
    """Rings that let go, and no fall onto the lid but by a topple."""
    brief = with_box(STARTER.changed("mount.ring.captive", False))
    brief = brief.changed("leg[1].landings", ["on the left end"])
    asked = checks(brief.changed("leg[1].topple", ["on the left end"]))
    assert asked["topple travel/by van/lid down"].status == "fail"
    assert asked["topple peak/by van/lid down"].status == "incomplete"
    assert asked["topple force/by van"].status == "incomplete"
    assert asked["clearance/lid"].status == "fail"


def test_the_page_judges_its_falls_as_assess_does():
    """All that may be off, a set-down, a landing of one's own: the same checks, the same status."""
    brief = with_box().changed("leg[1].own", _own()).changed("leg[1].set_down", "80 mm")
    brief = brief.changed("payload.mass_within", "0.4 kg")
    found, judged = survival(brief), checks(brief)
    ids = {check.id for check in found.checks}
    assert {"drop peak/by van/flat", "set-down travel/by van/lid up"} <= ids, sorted(ids)
    for check in found.checks:
        if not check.id.startswith("clearance"):
            assert check.status == judged[check.id].status
            assert check.demand == pytest.approx(judged[check.id].demand)
    assert fall_data(found)["status"] == "pass"


@pytest.mark.heavy
def test_the_page_fails_for_what_only_a_band_fails():
    brief = with_box().changed("mount.ring.travel", "36 mm")
    just = survival(brief).line("flat").bottoms
    near = brief.changed("leg[1].drop", f"{0.98 * just} m")
    assert fall_data(survival(near))["status"] == "pass"
    banded = survival(near.changed("payload.mass_within", "1 kg"))
    assert banded.line("flat").bottoms > banded.height
    assert fall_data(banded)["status"] == "fail"
    assert "fails: drop travel/by van" in fall_page(banded)


def test_a_height_by_a_table_asks_for_the_weight_of_the_case():
    weightless = STARTER.changed("leg[1].drop", {"table": "ista 1a"})
    with pytest.raises(InputError, match=r"case\.mass: .*the mass of the case is not given"):
        survival(weightless)

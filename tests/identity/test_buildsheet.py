"""The build sheet: what is known stands there, the rest as not known; numbers by closed forms."""

import datetime
import itertools
import math
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib import rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from isolator import figures
from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.buildsheet import PUSHES, TAP_OVER, Entry, build_sheet, push_force, sway
from isolator.names import LEFT_TO_RIGHT
from isolator.payload import SIGNS
from isolator.units import G0, InputError

DATA = Path(__file__).parents[2] / "data"
GROMMET = {
    "kind": "panel grommet", "hardness": "40 Shore A", "compound": "natural",
    "sleeve": "6 mm", "hole": "12 mm", "flange": "18 mm", "flange_thickness": "4 mm",
    "panel": "1.6 mm", "sleeve_length": "8.8 mm", "washer": "16 mm",
}  # fmt: skip
NUT = {
    "kind": "threaded nut", "hardness": "50 Shore A", "compound": "natural", "sleeve": "5 mm",
    "hole": "10 mm", "flange": "14 mm", "flange_thickness": "2 mm", "panel": "1.5 mm",
    "tube": "9.8 mm", "tube_length": "10 mm", "draw": "2 mm",
}  # fmt: skip
BOBBIN = {
    "kind": "bobbin", "hardness": "45 Shore A", "compound": "natural",
    "diameter": "15 mm", "thickness": "20 mm",
}  # fmt: skip
STILL = [{"name": "on the shelf", "road": "none", "drop": "none"}]


@pytest.fixture(scope="module")
def brief():
    return read_brief(DATA / "starter" / "case.toml")


@pytest.fixture(scope="module")
def starter(brief):
    return assess(brief)


@pytest.fixture(scope="module")
def sheet(starter):
    return build_sheet(starter)


@pytest.fixture(scope="module")
def sheets(brief):
    """The starter at rest on each shape of mount."""
    at_rest = brief.changed("leg", STILL)
    given = {"panel grommet": GROMMET, "threaded nut": NUT, "bobbin": BOBBIN}
    return {
        shape: build_sheet(assess(at_rest.changed("mount.ring", mount)))
        for shape, mount in given.items()
    }


def test_what_is_not_known_names_its_key(sheet):
    (ring,) = sheet.kinds
    assert (ring.name, ring.count, list(ring.numbers)) == ("ring", 4, [1, 2, 3, 4])
    for what, entry in ring.fit.items():
        assert entry.value is None
        key = "flange_thickness" if what == "pinch" else what.replace(" ", "_")
        assert entry.text == f"not known (mount.ring.{key})"
    assert "not known (mount.ring.kind" in ring.tightened
    assert "not known (mount.ring.kind, mount.ring.hole, mount.ring.washer)" in ring.captive
    assert sheet.strap == "not known (payload.mains)"
    assert (sheet.recheck, list(sheet.rechecks)) == ("not known (date)", [])


def test_a_grommet_is_told_as_its_sizes_say(sheets):
    (kind,) = sheets["panel grommet"].kinds
    said = {what: entry.value for what, entry in kind.fit.items()}
    assert said == pytest.approx(
        {
            "hole": 12, "panel": 1.6, "sleeve": 6, "sleeve length": 8.8, "washer": 16,
            "flange": 18, "flange thickness": 4, "pinch": (2 * 4 + 1.6 - 8.8) / 2,
        }
    )  # fmt: skip
    assert kind.fit["pinch"].text == "0.4 mm; 10% of each flange"
    assert "sleeve bottoms metal to metal between the washers, 8.8 mm apart" in kind.tightened
    assert "metal holds where the rubber fails" in kind.captive
    assert "payload's side" in kind.sleeve_way
    assert "alone come off when the payload comes out" in " ".join(kind.steps)


def test_a_threaded_nut_is_told_in_turns(sheets):
    """2 mm on an M5 of 0.8 mm pitch (ISO 261, memory) are two and a half turns."""
    (kind,) = sheets["threaded nut"].kinds
    assert "2.5 turns of a screw M5 (pitch 0.8 mm, 2 mm)" in kind.tightened
    assert "bonded nut" in kind.counter_hold
    assert kind.sleeve_way == ""
    assert kind.bolt == ""


@pytest.mark.parametrize(
    ("sizes", "what", "words"),
    [
        ({"kind": "threaded nut"}, "tightened", "turns past contact: not known (mount.ring.draw)"),
        (
            {"kind": "threaded nut", "sleeve": "7 mm", "draw": "2 mm"},
            "tightened",
            "past contact by 2 mm: so much over the screw's pitch in turns",
        ),
        ({"kind": "pad"}, "tightened", "just to contact and no further, then locked"),
        ({"kind": "pad"}, "captive", "no bolt goes through the rubber of a pad"),
        ({"kind": "ring"}, "bolt", "to fit the bore: measure it"),
        (
            {"kind": "panel grommet", "hole": "12 mm"},
            "captive",
            "not known (mount.ring.washer): larger than the hole of 12 mm",
        ),
        ({"kind": "panel grommet"}, "bolt", "its grip is the sleeve's length and both washers"),
    ],
)
def test_a_kind_of_known_stiffness_is_told_by_what_is_known_of_it(brief, sizes, what, words):
    ring = brief.text["mount"]["ring"] | sizes
    made = build_sheet(assess(brief.changed("leg", STILL).changed("mount.ring", ring)))
    assert words in getattr(made.kinds[0], what)


def test_what_a_shape_has_not_is_no_question(sheets):
    (kind,) = sheets["bobbin"].kinds
    assert kind.fit["sleeve"].text == "a bobbin has none"
    assert kind.fit["pinch"].text == "a bobbin has none"
    assert kind.fit["hole"].text == "not known (mount.ring.hole)"
    assert kind.fit["washer"].text == "a bobbin has none"
    assert "thin spanner" in kind.counter_hold
    assert "no washer holds where it or its bond fails" in kind.captive


def test_a_washer_holds_no_nut_that_is_bonded_to_its_rubber(brief, sheets):
    """It presses on the flange on the payload's side; the bonded nut goes out through the hole."""
    nut = brief.changed("leg", STILL).changed("mount.ring", NUT | {"washer": "16 mm"})
    for made in (sheets["threaded nut"], build_sheet(assess(nut))):
        assert "screw and nut pull out through the hole; a strap or a stop" in made.kinds[0].captive
        assert "metal holds" not in made.kinds[0].captive
    ax = figures.stack(made, ax=Figure().subplots())
    washer = boxes(ax, "washer")
    assert max(b[1] for b in washer) == pytest.approx(8)
    assert min(b[2] for b in washer) == pytest.approx(2)  # on the flange
    assert max(b[3] for b in washer) == pytest.approx(min(b[2] for b in boxes(ax, "payload")))
    assert "ø washer 16 mm" in words(ax)


def test_why_a_nut_is_locked_goes_by_what_carries_its_clamp_load(brief, sheet, sheets):
    lock = {shape: made.kinds[0].lock for shape, made in sheets.items()}
    assert "rubber holds no clamp load" in lock["threaded nut"]
    for shape in ("panel grommet", "bobbin"):
        assert "rubber" not in lock[shape]
        assert lock[shape].startswith("metal to metal, by the full torque of the screw's size; a")
    assert lock["panel grommet"].endswith("for vibration")
    assert sheet.kinds[0].lock.endswith("is not known (mount.ring.kind)")
    bare = {k: v for k, v in GROMMET.items() if k != "sleeve_length"}
    made = build_sheet(assess(brief.changed("leg", STILL).changed("mount.ring", bare)))
    assert made.kinds[0].lock.endswith("is not known (mount.ring.sleeve_length)")
    assert sheets["panel grommet"].kinds[0].bolt == (
        "to fit the sleeve's bore: measure it; its grip is the sleeve's 8.8 mm and both washers"
    )


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({}, "Then let the case fall"),
        ({"leg[1].drop": "1.5 m"}, "mend what fails first"),
        ({"leg": [{"name": "by van", "road": "none"}]}, "give what the checks of its falls lack"),
        ({"leg": STILL}, "the brief has no fall"),
    ],
    ids=["passes", "bottoms", "not judged", "none"],
)
def test_the_dummy_falls_only_where_the_falls_passed(brief, keys, said):
    given = brief
    for key, value in keys.items():
        given = given.changed(key, value)
    steps = build_sheet(assess(given)).protocol
    assert said in steps[-2]
    assert sum("let the case fall" in step for step in steps) == (said == "Then let the case fall")


def test_a_bench_is_read_from_a_reference_and_with_what_pulls(sheet):
    """200 N are beyond a bathroom scale held against a payload; a sag needs a height before it."""
    said = " ".join(sheet.protocol)
    assert "until they are unloaded, and measure the height of each lower corner" in said
    assert "centre of gravity along x, y and z" in said
    assert "from 50 N on a luggage scale, pulled" in said
    assert "bathroom" not in said


def test_a_key_is_told_as_the_builder_types_it(brief):
    """What the sheet prints goes back into the brief as it stands."""
    text = dict(brief.text) | {"leg": STILL, "mount": {"short ring": brief.text["mount"]["ring"]}}
    given = replace(brief, text=text).changed("mounts.use", "short ring")
    hole = build_sheet(assess(given)).kinds[0].fit["hole"]
    assert hole.key == 'mount."short ring".hole'
    again = build_sheet(assess(given.changed(hole.key, "12 mm"))).kinds[0].fit["hole"]
    assert again.value == pytest.approx(12)
    with pytest.raises(InputError, match="no such table"):
        given.changed('mount."short.hole', "12 mm")


def test_what_is_told_of_an_unknown_kind_is_general(sheet, sheets):
    (kind,) = sheet.kinds
    whose = "n general, as its kind is not known (mount.ring.kind): "
    assert kind.steps[0].startswith(f"I{whose}")
    assert kind.counter_hold.startswith(f"i{whose}")
    assert not any("bolt" in step for step in kind.steps)
    for known in sheets.values():
        assert not any(whose in text for text in (*known.kinds[0].steps, known.kinds[0].lock))


def test_a_grommet_without_a_sleeve_is_not_tightened_blindly(brief):
    bare = {k: v for k, v in GROMMET.items() if k != "sleeve_length"}
    made = build_sheet(assess(brief.changed("leg", STILL).changed("mount.ring", bare)))
    assert made.kinds[0].tightened.startswith("not known (mount.ring.sleeve_length)")
    assert made.kinds[0].fit["pinch"].key == "mount.ring.sleeve_length"
    long = build_sheet(
        assess(
            brief.changed("leg", STILL).changed("mount.ring", GROMMET | {"sleeve_length": "1 cm"})
        )
    )
    assert "it rattles" in long.kinds[0].fit["pinch"].text


def test_a_size_that_is_given_is_not_asked_for(brief):
    plain = brief.text["mount"]["ring"] | {"sleeve_length": "19 mm", "washer": "30 mm"}
    made = build_sheet(assess(brief.changed("leg", STILL).changed("mount.ring", plain)))
    assert made.kinds[0].tightened == "not known (mount.ring.kind)"
    assert made.kinds[0].captive == "not known (mount.ring.kind, mount.ring.hole)"


def test_the_dates_count_from_the_brief(brief):
    made = build_sheet(assess(brief.changed("leg", STILL).changed("date", "2024-02-01")))
    assert list(made.rechecks) == [datetime.date(2024, 3, 2), datetime.date(2025, 1, 31)]
    assert made.recheck == "2024-03-02, 2025-01-31, then every year"


def test_sag_push_and_bounce_are_those_of_one_mass_on_springs(sheet):
    """Four of 6 N/mm under 8 kg whose centre is in their plane: closed forms."""
    stiff, mass = 4 * 6000.0, 8.0
    for corner in sheet.sag:
        assert corner.stated == pytest.approx(1e3 * mass * G0 / stiff, rel=1e-4)
    assert {corner.what for corner in sheet.sag} == {
        f"{end} end, {side} side" for end in ("left", "right") for side in ("handle", "hinge")
    }
    # 20 N would move it by 0.83 mm, which no ruler shows
    assert [push.what for push in sheet.push] == ["x, 50 N", "y, 50 N", "z, 50 N"]
    assert list(sheet.push_force) == [50.0] * 3
    for push in sheet.push:
        assert push.stated == pytest.approx(1e3 * 50.0 / stiff, rel=1e-3)
    truck = {p.what: p for p in sheet.truck}["bounce along z"]
    own = math.sqrt(1.2 * stiff / mass) / (2 * math.pi)
    assert truck.stated == pytest.approx(own, rel=1e-3)
    tap = {p.what: p for p in sheet.tap}["bounce along z"]
    low, high = TAP_OVER
    # without the band of the inertia, which crosses no bounce of this case at its high end
    assert tap.high == pytest.approx(own * math.sqrt(high), rel=1e-3)
    assert tap.stated == pytest.approx(own * (low * high) ** 0.25, rel=1e-3)


@pytest.mark.parametrize(
    ("mount", "said", "forces"),
    [
        # four of 40 N/mm go 1 mm by 160 N; they are rated for 240 N
        ({"along": "40 N/mm", "across": "40 N/mm", "rated_load": "60 N"}, "1.25 mm", [200] * 3),
        # rated for no more than 120 N: the largest push that may be is 100 N
        ({"along": "40 N/mm", "across": "40 N/mm"}, "0.625 mm; dial gauge", [100] * 3),
        # nobody rated them: no more than the 78 N that they bear anyway
        (
            {"along": "40 N/mm", "across": "40 N/mm", "rated_load": None},
            "0.312 mm; dial gauge",
            [50] * 3,
        ),
        # 20 N would use 2.5 mm of 4 mm to metal
        (
            {"across": "2 N/mm", "travel_across": "4 mm"},
            "do not push: 20 N is more than the mounts may bear",
            [None, None, 20],
        ),
    ],
    ids=["far enough", "rated", "not rated", "near its metal"],
)
def test_a_push_is_read_by_a_ruler_where_the_mounts_may_bear_it(brief, mount, said, forces):
    ring = {k: v for k, v in (brief.text["mount"]["ring"] | mount).items() if v is not None}
    case = assess(brief.changed("leg", STILL).changed("mount.ring", ring))
    made = build_sheet(case)
    assert list(made.push_force) == forces
    assert made.push[0].text == said
    assert push_force(case.tried["payload"], 0) in (*PUSHES, None)


def test_a_sag_that_no_ruler_shows_asks_for_a_gauge(brief, sheet):
    assert not any("gauge" in corner.text for corner in sheet.sag)
    given = brief.changed("leg", STILL).changed("mount.ring.along", "40 N/mm")
    for corner in build_sheet(assess(given)).sag:
        assert corner.text == f"{1e3 * 8 * G0 / 160e3:.3g} mm; feeler or dial gauge"


def test_a_tilted_payload_sags_unlike_at_its_corners(brief):
    aside = brief.changed("leg", STILL).changed("payload.centre", ["60 mm", "0 mm", "-10 mm"])
    sag = {p.what: p.stated for p in build_sheet(assess(aside)).sag}
    left, right = (sag[f"{end} end, hinge side"] for end in ("left", "right"))
    # moments about the middle: tilt = m g e / (k Σ x²), mounts at ±160 mm, corners at ±200 mm
    tilt = 8 * G0 * 0.06 / (4 * 6000 * 0.16**2)
    assert right - left == pytest.approx(1e3 * 0.4 * tilt, rel=0.01)


def test_a_band_is_told_from_end_to_end(brief):
    given = brief.changed("leg", STILL).changed("mount.ring.along", ["5 N/mm", "8 N/mm"])
    made = build_sheet(assess(given))
    corner = made.sag[0]
    ends = [1e3 * 8 * G0 / (4e3 * k) for k in (8, 5)]
    assert (corner.low, corner.high) == pytest.approx(ends, rel=1e-3)
    assert f"({ends[0]:.3g} to {ends[1]:.3g})" in corner.text


def test_the_contact_is_felt_where_the_payload_hangs(brief, sheet):
    assert [entry.value for entry in sheet.contact] == pytest.approx([50.0] * 6, abs=1e-3)
    out = build_sheet(assess(brief.changed("leg", STILL).changed("case.measured", "out")))
    by = {entry.what: entry.value for entry in out.contact}
    sag = 1e3 * 8 * G0 / 24000
    assert (by["floor"], by["lid"]) == pytest.approx((50 - sag, 50 + sag), rel=1e-4)
    text = {k: v for k, v in brief.text["case"].items() if k != "lid"}
    lacking = build_sheet(assess(brief.changed("leg", STILL).changed("case", text)))
    assert lacking.contact[5].text == "not known (case.lid)"


CABLE = {"name": "loom", "stiffness": "0.01 N/mm", "loss_factor": 0.2}


def test_a_cable_sways_as_the_checks_say(brief):
    """Unloaded gaps without tolerance: what a check demands is how far a face's corners go."""
    given = brief.changed("case.measured", "out")
    cables = [
        CABLE | {"name": "middle", "position": ["0 mm"] * 3},
        CABLE | {"name": "corner", "position": ["200 mm", "150 mm", "75 mm"]},
    ]
    case = assess(given.changed("cable", cables))
    made = build_sheet(case)
    demand = [case.facing(face).demand for face in ("left end", "hinge side", "floor", "lid")]
    loops = {loop.name: loop.sway.value for loop in made.loops}
    worst = loops["any other, at the worst corner"]
    assert max(demand) <= worst * (1 + 1e-6)
    assert worst <= math.sqrt(3) * max(demand)
    assert loops["middle"] <= worst * (1 + 1e-9)
    assert loops["corner"] <= worst * (1 + 1e-9)
    for loop in made.loops:
        assert loop.slack.value == loop.sway.value
        assert loop.slack.text == f"at least {math.ceil(loop.sway.value)} mm"


def test_sway_bounds_any_rigid_motion():
    """Small turns and shifts at random: no point goes beyond what its corners allow."""
    random = np.random.default_rng(7)
    half = np.array([0.2, 0.15, 0.08])
    corners = SIGNS * half
    shifts, turns = random.normal(size=(2, 50, 3)) * [[[0.01]], [[0.05]]]
    moved = shifts[:, None] + np.cross(turns[:, None], corners)
    reach = np.maximum(np.stack([-moved, moved], -1).reshape(50, 8, 6).max(axis=0), 0.0)
    for at in itertools.product((-1.4, -0.3, 0.0, 0.8, 1.0, 1.3), repeat=3):
        point = shifts + np.cross(turns, np.array(at) * half)
        ways = np.stack([-point, point], -1).reshape(50, 6).max(axis=0)
        assert (ways <= sway(reach, np.array(at)) + 1e-12).all()
    # one motion alone, inside of the box: the bound is the motion itself
    one = np.stack([-moved[0], moved[0]], -1).reshape(8, 6)
    inside = np.array([0.3, -0.5, 0.7])
    own = shifts[0] + np.cross(turns[0], inside * half)
    np.testing.assert_allclose(sway(one, inside)[1::2], own, atol=1e-15)


@pytest.mark.parametrize(
    ("leg", "said"),
    [
        ({"duration": "3 h", "drop": "none"}, "not known (leg[1].road.vertical)"),
        ({"road": "none"}, "not known (leg[1].drop)"),
        ({"road": "none", "drop": "9 m"}, "not known: on by van a mount may bottom"),
    ],
)
def test_a_sway_that_nobody_knows_names_what_would_tell(brief, leg, said):
    leg = {"name": "by van", "temperature": "15 °C", **leg}
    made = build_sheet(assess(brief.changed("leg", [leg])))
    assert made.loops[-1].sway.text.startswith(said)
    assert made.loops[-1].slack.text.startswith(said)


def test_a_strap_is_asked_for_with_mains_alone(brief):
    at_rest = brief.changed("leg", STILL)
    with_mains = build_sheet(assess(at_rest.changed("payload.mains", True)))
    assert "bonding strap" in with_mains.strap
    assert with_mains.strap.endswith("as a [[cable]] (no cable is counted so far)")
    bond = {"name": "bond", "position": ["0 mm", "0 mm", "0 mm"], "stiffness": "0.1 N/mm"}
    some = at_rest.with_tables({"cable": [bond]}).changed("payload.mains", True)
    said = build_sheet(assess(some)).strap
    assert "(cables counted: bond; if none of these is the strap, it is not counted)" in said
    assert with_mains.loops[-1].slack.text in with_mains.strap
    assert build_sheet(assess(at_rest.changed("payload.mains", False))).strap.startswith("none")


def test_the_dummy_weighs_what_floats(sheet, brief):
    assert [entry.value for entry in sheet.dummy] == pytest.approx([8.0, 0.0, 0.0, -10.0])
    text = {k: v for k, v in brief.text["payload"].items() if k != "centre"}
    made = build_sheet(assess(brief.changed("leg", STILL).changed("payload", text)))
    assert [entry.text for entry in made.dummy[1:]] == ["not known (payload.centre)"] * 3


def test_a_further_body_has_its_own_sheet(brief):
    tray = {
        "at": ["0 mm", "20 mm", "400 mm"],
        "payload": {"mass": "2 kg", "size": ["200 mm", "150 mm", "40 mm"]},
        "gaps": {"floor": "payload"},
        "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
    }
    case = assess(brief.changed("leg", STILL).changed("frame", {"lid tray": tray}))
    made = build_sheet(case, "lid tray")
    assert made.name.endswith(": lid tray")
    assert made.dummy[0].value == 2.0
    by = {entry.what: entry.text for entry in made.contact}
    assert by["floor"] == "to payload"
    assert by["lid"] == 'not known (frame."lid tray".gaps.lid)'
    assert made.strap == 'not known (frame."lid tray".payload.mains)'
    with pytest.raises(InputError, match="frame = 'shelf': no such body"):
        build_sheet(case, "shelf")


def test_an_entry_says_what_it_is():
    assert Entry(what="hole", value=12.0).text == "12 mm"
    assert Entry(what="hole", value=None, note="a pad has none").text == "a pad has none"


def test_every_field_of_the_sheet_says_something(sheet):
    for field in fields(sheet):
        value = getattr(sheet, field.name)
        if field.name not in ("date", "rechecks"):
            assert value or value == 0.0, field.name


# The section.


def words(ax):
    """Words of a drawing, each on one line."""
    return [" ".join(text.get_text().split()) for text in ax.texts]


def boxes(ax, label):
    """Left, right, bottom, top of the cut faces of a part."""
    return [
        (p.get_x(), p.get_x() + p.get_width(), p.get_y(), p.get_y() + p.get_height())
        for p in ax.patches
        if p.get_label() == label
    ]


def test_the_section_of_a_grommet_is_to_scale(sheets):
    ax = figures.stack(sheets["panel grommet"], ax=Figure().subplots())
    left, right = sorted(boxes(ax, "panel"))
    assert (left[1], right[0]) == pytest.approx((-6, 6))  # the hole
    assert right[3] - right[2] == pytest.approx(1.6)
    sleeves = boxes(ax, "sleeve")
    assert max(b[1] for b in sleeves) == pytest.approx(3)
    assert sleeves[0][3] - sleeves[0][2] == pytest.approx(8.8)
    rubber = boxes(ax, "rubber")
    assert max(b[1] for b in rubber) == pytest.approx(9)
    # pinched by 0.4 mm on each side: it reaches to the ends of the sleeve
    assert (min(b[2] for b in rubber), max(b[3] for b in rubber)) == pytest.approx((-4.4, 4.4))
    washers = boxes(ax, "washer")
    assert max(b[1] for b in washers) == pytest.approx(8)
    assert min(b[2] for b in washers if b[2] > 0) == pytest.approx(4.4)
    said = words(ax)
    for wanted in ("ø hole 12 mm", "ø washer 16 mm", "panel 1.6 mm", "sleeve length 8.8 mm"):
        assert wanted in said
    assert any("pinch 0.4 mm; 10% of each flange" in word for word in said)
    assert any("sleeve goes in from the payload's side" in word for word in said)
    assert ax.get_title(loc="left") == "ring: in section"
    assert "[mm]" in ax.get_xlabel()
    assert "[mm]" in ax.get_ylabel()
    assert len(ax.get_xticks()) > 2


def test_what_is_not_known_is_said_in_the_section(sheet, brief):
    ax = figures.stack(sheet, ax=Figure().subplots())
    assert ax.get_title(loc="left") == "ring: a sketch, not to scale"
    assert (list(ax.get_xticks()), list(ax.get_yticks())) == ([], [])
    assert "[mm]" not in ax.get_xlabel() + ax.get_ylabel()
    assert {"shape: not known", "height: not known", "hole: not known (mount.ring.hole)"} <= {
        *words(ax)
    }
    bare = {k: v for k, v in GROMMET.items() if k not in ("sleeve_length", "washer")}
    made = build_sheet(assess(brief.changed("leg", STILL).changed("mount.ring", bare)))
    ax = figures.stack(made, ax=Figure().subplots())
    assert ax.get_title(loc="left") == "ring: in section, not to scale"
    assert not [*ax.get_xticks(), *ax.get_yticks()]
    assert {"sleeve length: not known", "ø washer: not known"} <= {*words(ax)}


def test_the_section_of_other_shapes(sheets):
    ax = figures.stack(sheets["bobbin"], ax=Figure().subplots())
    assert boxes(ax, "rubber") == [pytest.approx((-7.5, 7.5, 0, 20))]
    assert ax.get_ylabel() == "along its axis, the payload above [mm]"
    ax = figures.stack(sheets["threaded nut"], ax=Figure().subplots())
    assert not boxes(ax, "washer")  # nobody said that there is one
    assert {"ø screw 5 mm", "ø tube 9.8 mm", "tube length 10 mm"} <= {*words(ax)}
    assert boxes(ax, "bonded nut")


@pytest.mark.parametrize(
    ("push", "side"), [("-z", ""), ("z", "below"), ("x", "beside"), (None, "above or below")]
)
def test_the_section_says_where_the_payload_is(brief, push, side):
    text = dict(brief.text) | {"leg": STILL, "mount": {"ring": BOBBIN}}
    given = replace(brief, text=text).changed("mounts.push", push or "-z")
    if push is None:
        places = [
            {"position": [f"{x} mm", f"{y} mm", "0 mm"], "push": "z" if x > 0 else "-z"}
            for x in (-160, 160)
            for y in (-110, 110)
        ]
        given = given.changed("mounts", {"use": "ring", "place": places})
    made = build_sheet(assess(given))
    with rc_context({"font.size": 8.5}):
        figure = Figure(figsize=(104 / 25.4, 80 / 25.4), layout="constrained")
        ax = figures.stack(made, ax=figure.subplots())
        FigureCanvasAgg(figure).draw()
    there = f"drawn above,\nas built {side} it" if side else "above"
    assert ax.get_ylabel() == f"along its axis, the payload {there} [mm]"
    label = ax.yaxis.label.get_window_extent()
    assert figure.bbox.y0 <= label.y0
    assert label.y1 <= figure.bbox.y1


WITHOUT = {key: size for key, size in GROMMET.items() if key not in ("sleeve_length", "washer")}


@pytest.mark.parametrize("size", [(104.0, 80.0), (183.0, 152.0)], ids=["on the sheet", "alone"])
@pytest.mark.parametrize(
    ("mount", "name"),
    [
        (GROMMET, "ring"),
        (WITHOUT, "a grommet of which little is known, with a name as long as this"),
        (NUT, "ring"),
        (BOBBIN, "ring"),
        (BOBBIN, "W" * 80),
        (None, "a mount that nobody measured, of the drawer on the left"),
    ],
    ids=["grommet", "less known", "nut", "bobbin", "long name", "unknown"],
)
def test_words_of_a_section_are_inside_and_apart(brief, mount, name, size):
    given = mount or dict(brief.text["mount"]["ring"])
    text = dict(brief.text) | {"leg": STILL, "mount": {name: given}}
    made = build_sheet(assess(replace(brief, text=text).changed("mounts.use", name)))
    with rc_context({"font.size": 8.5, "axes.titlesize": 9.5, "axes.titleweight": "bold"}):
        figure = Figure(figsize=(size[0] / 25.4, size[1] / 25.4), layout="constrained")
        ax = figures.stack(made, ax=figure.subplots())
        FigureCanvasAgg(figure).draw()
        legend = [*ax.get_legend().get_texts()]
        shown = [*ax.texts, *legend, ax.xaxis.label, ax.yaxis.label, ax._left_title]
        (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
        ticks = [one for one in ax.get_xticklabels() if left <= one.get_position()[0] <= right]
        ticks += [one for one in ax.get_yticklabels() if low <= one.get_position()[1] <= high]
        where = [(one.get_text(), one.get_window_extent()) for one in shown if one.get_text()]
        numbers = [(one.get_text(), one.get_window_extent()) for one in ticks]
    pairs = [*itertools.combinations(where, 2), *itertools.product(where, numbers)]
    for (text, one), (other, two) in pairs:
        assert not one.overlaps(two), (text, other)
    for text, one in where:
        assert figure.bbox.x0 <= one.x0, text
        assert one.x1 <= figure.bbox.x1, text
        assert figure.bbox.y0 <= one.y0, text
        assert one.y1 <= figure.bbox.y1, text


def test_a_kind_is_chosen_by_its_name(sheet):
    assert figures.stack(sheet, kind="ring", ax=Figure().subplots()).patches
    with pytest.raises(InputError, match="kind = 'stud': no such mount; write one of ring"):
        figures.stack(sheet, kind="stud", ax=Figure().subplots())


@pytest.mark.parametrize("name", ["$\\frac 氷", "<script>", "مرحبا", "x" * 80, 'a "b"'])
def test_odd_names_stand_in_the_section_as_they_are(brief, name):
    text = dict(brief.text) | {"leg": STILL, "mount": {name: BOBBIN}}
    made = build_sheet(assess(replace(brief, text=text).changed("mounts.use", name)))
    figure = Figure(figsize=(7.2, 6.0))
    ax = figures.stack(made, ax=figure.subplots())
    title = ax.get_title(loc="left").replace("\\$", "$").replace(LEFT_TO_RIGHT, "")
    assert title == f"{name}: in section" if len(name) < 40 else "…: in section" in title

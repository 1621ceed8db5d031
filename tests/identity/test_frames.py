"""Several bodies that float in one case: each judged as if alone, and every pair against touching.

The lid tray hangs above the starter's payload on mounts a quarter as stiff under a quarter of its
mass, so both move alike; all numbers are invented.
"""

import json
import math
import re
from dataclasses import replace
from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure

from isolator import figures, sdof
from isolator.assessment import _candidates, assess
from isolator.brief import read_brief
from isolator.checks import answer, ask_all, pair_id
from isolator.clearance import apart, approach
from isolator.design import MAIN, key_of
from isolator.inside import FACES
from isolator.report import as_data, page
from isolator.response import respond
from isolator.units import G0, InputError
from isolator.verdict import whole

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
SOFT = {
    "along": "1.5 N/mm",
    "across": "1.5 N/mm",
    "dynamic_ratio": 1.2,
    "loss_factor": 0.15,
    "rated_load": "30 N",
    "peak_load": "500 N",
    "travel": "45 mm",
    "travel_across": "45 mm",
    "captive": True,
    "grade": "rating",
}
GAPS = {
    "floor": "290 mm",
    "lid": "50 mm",
    "left_end": "150 mm",
    "right_end": "150 mm",
    "handle_side": "145 mm",
    "hinge_side": "105 mm",
}
TRAY = {
    "at": ["0 mm", "20 mm", "190 mm"],
    "payload": {
        "mass": "2 kg",
        "size": ["200 mm", "150 mm", "40 mm"],
        "centre": ["0 mm", "0 mm", "0 mm"],
        "fragility": "40 g0",
        "vibration_limit": "2 g0",
    },
    "gaps": GAPS,
    "mounts": {"use": "soft", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
}


def written(**tables):
    """The starter's brief with some of its tables replaced, and a second kind of mount."""
    start = read_brief(STARTER)
    mounts = {"mount": {**start.text["mount"], "soft": SOFT}}
    mounts["mounts"] = {**start.text["mounts"], "use": "ring"}
    return replace(start, text={**start.text, **mounts, **tables}).changed("note", "of tables")


def brief(frames, *changes, lid="290 mm"):
    """The starter with further bodies, and some values of it changed."""
    case = {**read_brief(STARTER).text["case"], "lid": lid}
    start = written(case=case, frame=frames)
    for key, value in changes:
        start = start.changed(key, value)
    return start


def tray(**changes):
    """The tables of the lid tray with some of them changed."""
    return {**TRAY, **changes}


@pytest.fixture(scope="module")
def two():
    """The tray before the lid, named as what stands there."""
    gaps = GAPS | {"floor": "payload"}
    return assess(brief({"lid tray": tray(gaps=gaps, on_lid=True)}, lid="lid tray"))


def checks(result):
    return {check.id: check for check in result.checks}


def judged(case):
    """The checks of a brief by id, without the search for a change."""
    designs = {MAIN: case.design, **case.frames}
    bodies = {name: respond([design]) for name, design in designs.items()}
    return {
        row.id: answer(bodies.get(name, bodies[MAIN]), row, 0)
        for name, rows in ask_all(bodies, {}).items()
        for row in rows
    }


def separately(frame):
    """The lid tray's tables as a case of its own."""
    shared = {k: v for k, v in read_brief(STARTER).text["case"].items() if k not in GAPS}
    tables = {key: frame[key] for key in ("payload", "mounts")}
    return assess(written(case=shared | frame["gaps"], **tables))


@pytest.mark.parametrize(
    "lacks",
    [
        (),
        ("payload", "fragility"),
        ("payload", "centre"),
        ("gaps", "left_end"),
    ],
    ids=str,
)
def test_bodies_far_apart_have_exactly_the_answers_of_separate_briefs(lacks):
    frame = TRAY
    if lacks:
        table, key = lacks
        frame = tray(**{table: {k: v for k, v in TRAY[table].items() if k != key}})
    together = assess(brief({"lid tray": frame | {"at": ["0 mm", "0 mm", "1 m"]}}))
    main = assess(read_brief(STARTER).changed("case.lid", "290 mm"))
    other = separately(frame)
    found = checks(together)
    assert found.pop("clearance/lid tray").status == ("incomplete" if "centre" in lacks else "pass")
    expected = checks(main) | {
        f"lid tray: {i}": replace(
            check, id=f"lid tray: {i}", missing=key_of("lid tray", check.missing)
        )
        for i, check in checks(other).items()
    }
    assert found == expected
    assert together.status == other.status == ("incomplete" if lacks else "pass")
    data, main_data, own = as_data(together), as_data(main), as_data(other)
    inside = data["frames"]["lid tray"]
    assert inside["at_mm"] == pytest.approx([0, 0, 1000])
    for key in inside.keys() - {"at_mm", "on_lid"}:
        assert inside[key] == own[key]
        assert data[key] == main_data[key]


def test_a_case_with_one_body_has_no_frames():
    single = assess(STARTER)
    assert as_data(single)["frames"] == {}
    assert single.frames == {}
    assert "frame" not in page(single)


def shelf(**changes):
    """A body below the payload, with the tray's tables; it floats on the stiffer mounts."""
    own = {"at": ["10 mm", "0 mm", "-200 mm"], "mounts": {**TRAY["mounts"], "use": "ring"}}
    own["payload"] = {**TRAY["payload"], "mass": "6 kg"}
    return tray(**own, **changes)


def test_the_order_of_two_frames_changes_nothing():
    frames = {"lid tray": TRAY, "shelf": shelf()}
    one = assess(brief(frames))
    other = assess(brief(dict(reversed(frames.items()))))
    assert checks(one) == checks(other)
    assert one.status == other.status
    assert one.change == other.change
    assert as_data(one)["frames"] == as_data(other)["frames"]


def test_two_frames_that_swap_their_names_swap_their_answers():
    one = judged(brief({"aft": TRAY, "fore": shelf()}))
    other = judged(brief({"aft": shelf(), "fore": TRAY}))
    swap = {"aft": "fore", "fore": "aft"}

    def swapped(check):
        words = re.sub("aft|fore", lambda name: swap[name[0]], check.id)
        words = words.replace("fore and aft", "aft and fore")
        return words, check.demand, check.capacity, check.status

    assert {swapped(c) for c in one.values()} == {
        (c.id, c.demand, c.capacity, c.status) for c in other.values()
    }


def test_a_payload_and_a_frame_that_change_places_keep_their_clearance():
    """The main payload is only where the others are counted from."""
    here = brief({"other": TRAY})
    payload, mounts, case = (here.text[key] for key in ("payload", "mounts", "case"))
    gaps = {key: case[key] for key in GAPS}
    back = ["0 mm", "-20 mm", "-190 mm"]
    frame = {"at": back, "payload": payload, "mounts": mounts, "gaps": gaps}
    tables = {key: TRAY[key] for key in ("payload", "mounts")}
    there = assess(written(case=case | GAPS, frame={"other": frame}, **tables))
    one, other = checks(assess(here)), checks(there)
    pair = one.pop("clearance/other")
    assert pair.status == "pass"
    assert replace(other.pop("clearance/other"), reason="") == replace(pair, reason="")
    renamed = {i.removeprefix("other: ") if i.startswith("other: ") else f"other: {i}" for i in one}
    assert renamed == set(other)
    for i, check in one.items():
        twin = i.removeprefix("other: ") if i.startswith("other: ") else f"other: {i}"
        assert other[twin].demand == check.demand
        assert other[twin].status == check.status


@given(st.integers(0, 2**32 - 1))
def test_bodies_within_their_travel_touch_only_where_it_is_foretold(seed):
    """Boxes that swing at random phases between the ends of their travel, sampled."""
    rng = np.random.default_rng(seed)
    size = rng.uniform(0.05, 0.3, (2, 3))
    offset = rng.uniform(-0.4, 0.4, 3)
    offset[rng.integers(3)] *= 2
    towards = rng.uniform(0.0, 0.1, (2, 6))
    left = apart(offset, *size) - approach(offset, *towards)
    time = np.linspace(0, 60, 4000)[:, None]
    at = []
    for way, middle in zip(towards, (np.zeros(3), offset), strict=True):
        swing = np.sin(rng.uniform(1, 9, 3) * time + rng.uniform(0, 2 * math.pi, 3))
        low, high = -way[::2], way[1::2]
        at.append(middle + (high + low) / 2 + (high - low) / 2 * swing)
    between = np.abs(at[1] - at[0]) - size.sum(axis=0) / 2
    clear = apart(offset, *size) > 0  # elsewhere they may pass each other
    assert np.all(between.min(axis=0)[clear] >= left[clear] - 1e-12)
    assert np.all(between.max(axis=1)[:, None] >= left.max() - 1e-12)
    # and the bound is reached when each is at its own end
    sign = np.where(offset >= 0, 1, -1)
    ends = [
        np.where(offset >= 0, first, second)
        for first, second in (
            (towards[0][1::2], towards[0][::2]),
            (towards[1][::2], towards[1][1::2]),
        )
    ]
    closest = sign * (offset - sign * (ends[0] + ends[1])) - size.sum(axis=0) / 2
    np.testing.assert_allclose(closest, left, atol=1e-12)


def heights(mass, stiffness):
    """Heights (t,) from the hanging pose after every landing from every phase of the ring [mm].

    One mass on one spring: the starter's bodies hang on mounts at the height of their centres.
    """
    sag, rate = mass * G0 / stiffness, math.sqrt(stiffness / mass)
    speed = math.sqrt(2 * G0 * 0.2)
    time = np.linspace(0, 2 * math.pi / rate, 500)
    ways = []
    for phase, down in product(np.linspace(0, 2 * math.pi, 60), (-1.0, 1.0)):
        start, going = sag * math.cos(phase), -sag * rate * math.sin(phase) + down * speed
        rest = down * sag
        ways.append(
            rest + (start - rest) * np.cos(rate * time) + going / rate * np.sin(rate * time)
        )
    return 1e3 * (np.concatenate(ways) + sag)


def test_the_whole_chain_foretells_how_near_two_bodies_come(two):
    """Mounts that hardly damp, a leg that does not shake; eight phases of each ring."""
    free = two.brief.changed("leg[1].road", "none")
    for name in ("ring", "soft"):
        free = free.changed(f"mount.{name}.loss_factor", 0.001)
    check = checks(assess(free))["clearance/lid tray"]
    below, above = heights(8.0, 4 * 6e3), heights(2.0, 4 * 1.5e3)
    nearest = 95.0 - below.max() + above.min()
    assert check.capacity == pytest.approx(95.0)
    assert check.capacity - check.demand == pytest.approx(nearest, abs=0.6)
    sag = 1e3 * float(sdof.static_deflection(24e3, 8.0))
    travel = sag * (2 + math.sqrt(1 + 400 / sag))
    # measured hanging: a sag more upward, a sag less downward
    assert check.demand == pytest.approx(2 * travel, abs=0.6)


def test_tolerance_counts_for_each_of_the_two(two):
    wide = checks(assess(two.brief.changed("case.tolerance", "3 mm")))["clearance/lid tray"]
    assert wide.demand == pytest.approx(checks(two)["clearance/lid tray"].demand + 6)


@pytest.mark.parametrize(("gap", "status"), [(86.0, "pass"), (85.0, "fail"), (0.0, "fail")])
def test_two_bodies_are_apart_if_their_motions_leave_a_gap(gap, status):
    at = ["0 mm", "20 mm", f"{95 + gap} mm"]
    check = judged(brief({"lid tray": tray(at=at)}))["clearance/lid tray"]
    assert check.status == status
    assert check.capacity == pytest.approx(gap, abs=1e-9)
    assert "along z the payload moves up to 46.11 mm (the drop on by van) and lid tray" in (
        check.reason
    )


def test_the_roomiest_axis_counts():
    at = ["400 mm", "0 mm", "100 mm"]  # beside it and, by 5 mm, above it
    check = judged(brief({"lid tray": tray(at=at)}))["clearance/lid tray"]
    assert check.status == "pass"
    assert check.capacity == pytest.approx(100)
    assert "along x" in check.reason


def test_a_body_that_nothing_stops_fails_against_the_other():
    ring = {**read_brief(STARTER).text["mount"]["ring"], "captive": False}
    check = judged(brief({"lid tray": TRAY}, ("mount.ring", ring)))["clearance/lid tray"]
    assert check.status == "fail"
    assert check.demand is None
    assert "without end" in check.reason


def test_the_pair_has_the_worse_grade_of_the_two(two):
    found = checks(two)
    assert found["drop force/by van"].grade == "curve"
    assert found["lid tray: drop force/by van"].grade == "rating"
    assert found["clearance/lid tray"].grade == "rating"
    assert found["lid tray: held when pulled"].grade is None
    assert "worst grade of the mounts: rating" in page(two)


def test_a_face_before_which_a_body_stands_is_judged_by_the_pair(two):
    found = checks(two)
    assert two.status == "pass"
    assert not {"clearance/lid", "lid tray: clearance/floor"} & set(found)
    pair = found["clearance/lid tray"]
    assert two.facing("lid") is two.facing("floor", "lid tray") is pair
    assert two.facing("floor") is found["clearance/floor"]
    assert two.facing("lid", "lid tray") is found["lid tray: clearance/lid"]
    rows = {row["face"]: row for row in as_data(two)["clearance"]}
    assert list(rows) == list(FACES)
    assert rows["lid"]["stands_before"] == "lid tray"
    assert (rows["lid"]["demand_mm"], rows["lid"]["gap_mm"]) == (pair.demand, pair.capacity)
    assert all("stands_before" not in row for face, row in rows.items() if face != "lid")
    inside = as_data(two)["frames"]["lid tray"]["clearance"]
    assert {row["face"]: row.get("stands_before") for row in inside}["floor"] == "payload"


def test_only_a_body_of_the_case_answers_for_a_face(two):
    """The payload alone, as an object, knows no lid tray: the gap to its lid is unknown."""
    single = checks(assess(two.design))
    assert single["clearance/lid"].status == "incomplete"
    assert single["clearance/lid"].missing == "case.lid"


def test_the_check_of_two_frames_names_both():
    found = judged(brief({"lid tray": TRAY, "shelf": shelf()}))
    assert found[pair_id("shelf", "lid tray")].status == "pass"


def test_waivers_name_the_body():
    low = tray(payload={**TRAY["payload"], "fragility": "5 g0"})
    why = "it is an empty box"
    fails = judged(brief({"lid tray": low}))
    assert whole(fails.values()) == "fail"
    its = judged(brief({"lid tray": low}, ("not_required", {"lid tray: drop peak/by van": why})))
    assert whole(its.values()) == "pass"
    assert its["lid tray: drop peak/by van/lid up"].waived == why
    assert not its["drop peak/by van/lid up"].waived
    main = judged(brief({"lid tray": low}, ("not_required", {"drop peak/by van": why})))
    assert whole(main.values()) == "fail"
    near = tray(at=["0 mm", "20 mm", "150 mm"])
    pair = {"clearance/lid tray": "foam between them"}
    assert assess(brief({"lid tray": near}, ("not_required", pair))).status == "pass"


def test_an_axis_that_is_still_for_one_body_is_not_so_for_the_other():
    road = {"vertical": "truck d4169-16 medium"}
    still = {f"isolation/by van/{axis}": "strapped" for axis in "xy"}
    case = brief({"lid tray": TRAY}, ("leg[1].road", road), ("not_required", still))
    one = judged(case)
    assert one["clearance/floor"].status == "pass"
    assert one["lid tray: clearance/floor"].status == "incomplete"
    assert one["clearance/lid tray"].missing == "leg[1].road.transverse"
    both = still | {f"lid tray: {key}": why for key, why in still.items()}
    assert whole(judged(case.changed("not_required", both)).values()) == "pass"


def test_a_change_is_found_in_the_tables_of_a_frame(two):
    tight = assess(two.brief.changed("frame.lid tray.gaps.lid", "39 mm"))
    assert {c.id for c in tight.checks if c.status == "fail"} == {"lid tray: clearance/lid"}
    tried = list(_candidates(tight.brief, tight.checks))
    assert tried[0] == ('frame."lid tray".gaps.lid', "39 mm", "42 mm")
    assert {key.split(".")[1] for key, *_ in tried} == {'"lid tray"', "soft"}
    assert tight.change.makes == "pass"
    for key, after in (tried[0][::2], (tight.change.key, tight.change.after)):
        assert assess(tight.brief.changed(key, after)).status == "pass"


def test_a_pair_that_touches_concerns_both_of_its_bodies():
    frames = {"lid tray": tray(at=["0 mm", "20 mm", "179 mm"]), "shelf": shelf()}
    near = brief(frames)
    found = list(judged(near).values())
    assert [c.id for c in found if c.status == "fail"] == ["clearance/lid tray"]
    assert {key.split(".")[1] for key, *_ in _candidates(near, found)} == {
        "ring", "soft", "use", '"lid tray"'
    }  # fmt: skip


def test_another_mount_of_a_frame_is_tried():
    weak = {**SOFT, "rated_load": "1 N"}
    spare = {"lid tray": tray(), "shelf": shelf()}
    failing = assess(brief(spare, ("mount.weak", weak), ("frame.lid tray.mounts.use", "weak")))
    assert [c.id for c in failing.checks if c.status == "fail"] == ["lid tray: rated load"]
    assert failing.change.key == 'frame."lid tray".mounts.use'
    assert failing.change.after == "soft"
    assert failing.change.makes == "pass"


def placed(kind):
    corners = [[f"{x} mm", f"{y} mm", "0 mm"] for x in (-80, 80) for y in (-55, 55)]
    return {"place": [{"position": at, "mount": kind} for at in corners]}


def test_a_mount_at_its_place_in_a_frame_is_changed():
    start = brief({"lid tray": tray(mounts=placed("soft"))}, ("mount.weak", SOFT))
    key = 'frame."lid tray".mounts.place[2].mount'
    changed = start.changed(key, "weak")
    names = [place.mount.name for place in changed.frames["lid tray"].places]
    assert names == ["soft", "weak", "soft", "soft"]
    poor = start.changed("mount.weak", {**SOFT, "rated_load": "1 N"}).changed(key, "weak")
    assert (key, "weak", "soft") in list(_candidates(poor, list(judged(poor).values())))


def test_frames_share_the_case_and_the_trip(two):
    frame, main = two.brief.frames["lid tray"], two.brief.design
    assert frame.legs == main.legs
    assert frame.attitudes == main.attitudes
    changed = two.brief.changed("case.restitution", 0.3).changed("case.mass", "9 kg")
    for design in (changed.design, changed.frames["lid tray"]):
        assert design.case.restitution == 0.3
        assert design.case.mass.to("kg").magnitude == 9
    assert frame.name == "lid tray"
    assert frame.on_lid
    assert not main.on_lid
    np.testing.assert_allclose(frame.middle(), [0, 0.02, 0.19])
    np.testing.assert_array_equal(main.middle(), 0)


def test_parts_and_a_table_of_mounts_serve_a_frame_too(tmp_path):
    (tmp_path / "parts.csv").write_text(
        "name,mass [kg],x [mm],y [mm],z [mm],size x [mm],size y [mm],size z [mm]\n"
        "board,2,0,0,0,180,120,30\n"
    )
    (tmp_path / "mounts.csv").write_text(
        "name,along [N/mm],across [N/mm],dynamic ratio\nspare,1.5,1.5,1.2\n"
    )
    text = (
        STARTER.read_text()
        + """
[frame.shelf]
at = ["0 mm", "0 mm", "1 m"]
[frame.shelf.payload]
parts = "parts.csv"
size = ["200 mm", "150 mm", "40 mm"]
[frame.shelf.mounts]
table = "mounts.csv"
use = "spare"
inset = ["20 mm", "20 mm"]
height = "0 mm"
"""
    )
    text = text.replace("[mounts]", '[mounts]\nuse = "ring"')
    (tmp_path / "case.toml").write_text(text)
    read = read_brief(tmp_path / "case.toml")
    assert read.frames["shelf"].payload.mass.to("kg").magnitude == 2
    assert {place.mount.name for place in read.frames["shelf"].places} == {"spare"}
    assert set(read.mounts) == {"ring", "spare"}
    missing = {c.missing for c in assess(read).checks if c.status == "incomplete"}
    assert {"frame.shelf.payload.fragility", "frame.shelf.gaps.lid"} <= missing
    both = text.replace('use = "ring"', 'table = "mounts.csv"\nuse = "ring"')
    (tmp_path / "case.toml").write_text(both)
    assert read_brief(tmp_path / "case.toml").mounts.keys() == read.mounts.keys()


def test_the_page_says_which_body_a_table_is_of(two):
    text = page(two)
    for title in ("Load [N]", "Modes [Hz]", "Worse than", "Vibration", "Drops", "Room inside"):
        assert text.count(f"\n{title}") == 1
        assert text.count(f"\nlid tray: {title}") == 1
    assert "lid, to lid tray" in text
    assert "floor, to payload" in text
    assert '(frame."lid tray".on_lid)' in text
    flat = " ".join(text.split())
    assert "lid tray: the inertia is that of a uniform box" in flat
    assert '(frame."lid tray".payload.inertia or frame."lid tray".payload.parts)' in flat
    assert "heavy beside all that floats in it, 10 kg" in flat
    # what the bodies share is said once
    assert flat.count("the build is exact") == 1


@pytest.mark.parametrize(
    ("mass", "said"),
    [
        ("3 kg", "though 3 kg of shell are not heavy beside the 10 kg that float in it"),
        ("120 kg", "the shell is heavy beside all that floats in it, 10 kg"),
    ],
)
def test_a_shell_is_light_or_heavy(mass, said):
    rest = (("case.mass", mass), ("case.size", ["800 mm", "700 mm", "600 mm"]))
    lines = assess(brief({"lid tray": TRAY}, *rest, ("leg[1].drop", "none"))).assumed()
    shell = [line for line in lines if "shell" in line and "beside" in line]
    light = any("the shell is light" in line for line in shell)
    assert light == (mass == "3 kg")
    assert light != any("the shell is heavy" in line for line in shell)
    assert any(said in line for line in shell)


def test_what_to_measure_first_says_once_of_which_body():
    """A kind of mount that two bodies hang on is measured once."""
    shared = tray(mounts=TRAY["mounts"] | {"use": "ring"})
    off = ("mount.ring.loss_factor", [0.05, 0.3])
    result = assess(brief({"lid tray": shared}, off, ("leg[1].drop", "none")))
    (one,) = result.leverages
    assert (one.key, one.body) == ("mount.ring.loss_factor", "lid tray")
    text = " ".join(page(result).split())
    assert text.count("(mount.ring.loss_factor): from end") == 1
    assert "the least margin of lid tray goes from" in text


def test_walls_in_two_places_are_worth_a_second_look(two):
    assert as_data(two)["look_twice"] == []
    slip = tray(at=["0 mm", "20 mm", "219 mm"])
    (line,) = [
        line for line in as_data(assess(brief({"lid tray": slip})))["look_twice"] if "floor" in line
    ]
    assert 'frame."lid tray".gaps.floor puts the wall' in line
    assert "with its signs" in line


def test_figures_draw_any_body(two):
    ax = figures.room(two, frame="lid tray", ax=Figure().subplots())
    labels = [label.get_text() for label in ax.get_yticklabels()]
    assert labels[4] == "floor, to payload"
    assert ax.get_title(loc="left") == "lid tray: room inside"
    gap = next(bar for bar in ax.patches if not bar.get_fill() and bar.get_y() > 4.5)
    assert gap.get_width() == pytest.approx(50)
    ax = figures.transmissibility(two, frame="lid tray", ax=Figure().subplots())
    assert ax.get_title(loc="left").startswith("lid tray: lid up")
    natural = next(line for line in ax.lines if line.get_label().startswith("modes"))
    modes = as_data(two)["frames"]["lid tray"]["modes"][:6]
    np.testing.assert_allclose(natural.get_xdata(), [row["frequency_hz"] for row in modes])
    with pytest.raises(InputError, match="frame = 'tray': no such body; write one of payload, lid"):
        figures.room(two, frame="tray", ax=Figure().subplots())


def test_the_payload_may_be_named_too(two):
    assert two.body(MAIN) is two.body(None) is two.response


def test_all_figures_of_json_are_finite_or_unknown(two):
    text = json.dumps(as_data(two), allow_nan=False)
    assert json.loads(text)["frames"]["lid tray"]["on_lid"] is True


def test_ids_come_in_one_order(two):
    ids = list(checks(two))
    own = [k for k, i in enumerate(ids) if i.startswith("lid tray: ")]
    assert all(b == a + 1 for a, b in pairwise(own))
    assert ids.index("clearance/lid tray") == own[0] - 1


def own_case(gaps, **more):
    """The starter's case with other gaps."""
    shared = {k: v for k, v in read_brief(STARTER).text["case"].items() if k not in GAPS}
    return shared | gaps | more


def test_a_frame_has_the_obstacles_and_ribs_of_the_case_where_they_stand():
    post = {"name": "post", "size": ["20 mm", "20 mm", "60 mm"]}
    rib = {"name": "rib", "wall": "hinge side", "width": "30 mm", "height": "10 mm"}
    solids = {
        "obstacle": [{**post, "position": ["180 mm", "50 mm", "200 mm"]}],
        "rib": [{**rib, "at": "60 mm"}],
    }
    gaps = {k: v for k, v in read_brief(STARTER).text["case"].items() if k in GAPS}
    both = judged(written(case=own_case(gaps | {"lid": "290 mm"}, **solids), frame={"tray": TRAY}))
    moved = {
        "obstacle": [{**post, "position": ["180 mm", "30 mm", "10 mm"]}],
        "rib": [{**rib, "at": "60 mm"}],
    }
    tables = {key: TRAY[key] for key in ("payload", "mounts")}
    alone = judged(written(case=own_case(GAPS, **moved), **tables))
    for name in ("post", "rib"):
        one, other = both[f"tray: clearance/{name}"], alone[f"clearance/{name}"]
        assert one.demand == pytest.approx(other.demand)
        assert one.capacity == pytest.approx(other.capacity)
        assert one.status == other.status
    assert both["clearance/post"].capacity != pytest.approx(both["tray: clearance/post"].capacity)


def test_the_gaps_of_a_frame_follow_from_the_contour_of_the_case():
    inside = {"size": ["520 mm", "420 mm", "500 mm"], "draft": "2 deg", "corner_radius": "20 mm"}
    here = {**inside, "floor": "50 mm", "middle": ["0 mm", "0 mm"]}
    frame = {key: TRAY[key] for key in ("at", "payload", "mounts")}
    both = judged(written(case=own_case({}, inside=here), frame={"tray": frame}))
    # 50 mm under a box of 150 mm, its middle at 125 mm; the tray is 190 mm above that, 40 mm high
    there = {**inside, "floor": "295 mm", "middle": ["0 mm", "20 mm"]}
    tables = {key: TRAY[key] for key in ("payload", "mounts")}
    alone = judged(written(case=own_case({}, inside=there), **tables))
    names = [*(f"clearance/{face}" for face in FACES), "clearance/corner radius"]
    for name in names:
        one, other = both[f"tray: {name}"], alone[name]
        assert one.demand == pytest.approx(other.demand)
        assert one.capacity == pytest.approx(other.capacity)


def test_the_case_is_lifted_once_with_all_that_floats():
    lift = {
        "hands": 2, "horizontal": "30 cm", "height": "50 cm", "lift": "60 cm", "angle": "0 deg",
        "lifts_per_minute": 0.2, "duration": "1 h", "coupling": "good",
    }  # fmt: skip
    case = brief({"lid tray": TRAY, "shelf": shelf()}, ("case.mass", "5 kg"))
    heavy = replace(case, text={**case.text, "carry": lift}).changed("note", "lifted")
    found = judged(heavy)
    assert found["carry"].demand == pytest.approx(8 + 2 + 6 + 5)
    assert "lid tray: carry" not in found
    for design in (heavy.design, *heavy.frames.values()):
        assert design.gross_mass() == pytest.approx(21)


def test_what_the_mass_of_either_body_may_be_off_counts_for_both():
    def pair(**payload):
        frame = tray(payload={**TRAY["payload"], **payload})
        return checks(assess(brief({"lid tray": frame})))

    loose = pair(mass_within="0.5 kg")
    ends = [pair(mass=mass) for mass in ("1.5 kg", "2.5 kg")]
    worst = max(end["clearance/lid tray"].demand for end in ends)
    assert loose["clearance/lid tray"].demand == pytest.approx(worst)
    name = "lid tray: drop travel/by van/lid up"
    assert loose[name].demand == pytest.approx(max(end[name].demand for end in ends))
    assert loose["drop travel/by van/lid up"] == ends[0]["drop travel/by van/lid up"]


def test_a_change_is_judged_at_the_worst_of_what_the_mass_may_be_off(two):
    payload = {**TRAY["payload"], "mass_within": "0.2 kg"}
    tight = assess(
        two.brief.changed("frame.lid tray.payload", payload).changed(
            "frame.lid tray.gaps.lid", "39 mm"
        )
    )
    assert tight.status == "fail"
    again = assess(tight.brief.changed(tight.change.key, tight.change.after))
    assert again.status == tight.change.makes
    assert len([c for c in again.checks if c.status == "fail"]) == tight.change.failing


def test_a_body_in_the_lid_meets_the_payload_only_while_the_lid_is_closed():
    leg = {**read_brief(STARTER).text["leg"][0], "name": "on the bench", "lid": "open"}
    leg["landings"] = ["lid up"]
    legs = [{**read_brief(STARTER).text["leg"][0], "drop": "none"}, leg | {"drop": "0.2 m"}]
    for on_lid in (True, False):
        frame = tray(on_lid=on_lid)
        check = judged(brief({"lid tray": frame}, ("leg", legs)))["clearance/lid tray"]
        assert ("on the bench" in check.reason) == (not on_lid)


def test_a_cable_of_a_frame_is_its_own():
    cable = {"name": "loom", "position": ["0 mm", "70 mm", "0 mm"], "stiffness": "0.1 N/mm"}
    pulled = brief({"lid tray": tray(cable=[cable])})
    assert [c.name for c in pulled.frames["lid tray"].cables] == ["loom"]
    assert not pulled.design.cables
    found = judged(pulled)
    assert found["isolation/by van/z"].status == "pass"
    own = found["lid tray: isolation/by van/z"]
    assert (own.status, own.missing) == ("incomplete", 'frame."lid tray".cable[1].loss_factor')
    said = " ".join(assess(brief({"lid tray": TRAY})).assumed())
    assert (
        'lid tray: no cable, hose or strap pulls at the payload ([[frame."lid tray".cable]])'
        in (said)
    )

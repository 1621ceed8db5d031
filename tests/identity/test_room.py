"""The room by corner and face: what must be the same however it is described."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.checks import answer, ask
from isolator.checks.drop import DOUBT
from isolator.clearance import shut_out
from isolator.inside import FACES, OWN, Inside, Obstacle, Rib, Solids, by_face
from isolator.report import as_data, page
from isolator.response import respond
from isolator.suspension import ATTITUDES

STARTER = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
BOX = np.array([0.4, 0.3, 0.15])
SIX = {face.replace(" ", "_"): "50 mm" for face in FACES}
REST = {"measured": "hanging"}
INSIDE = {
    "size": ["500 mm", "400 mm", "250 mm"],
    "floor": "50 mm",
    "middle": ["0 mm", "0 mm"],
}


def case(**keys):
    """The starter in a case of these keys; without a search for a change."""
    return assess(STARTER.changed("case", REST | keys).design)


def rows(result):
    return {c.id: (c.demand, c.capacity, c.status) for c in result.checks}


def check(result, name):
    return next(c for c in result.checks if c.id == f"clearance/{name}")


def bracket(x="240 mm", size="20 mm", **more):
    return {"name": "bracket", "position": [x, "0 mm", "0 mm"], "size": [size] * 3} | more


def folder_case(tmp_path, table, **keys):
    """The starter with gaps or obstacles in a file."""
    for name, text in table.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    (tmp_path / "case.toml").write_text(
        (Path(__file__).parents[2] / "data" / "starter" / "case.toml").read_text("utf-8"), "utf-8"
    )
    files = {name: f"{name}.csv" for name in table}
    return assess(read_brief(tmp_path / "case.toml").changed("case", REST | keys | files).design)


CORNERS = [(a, b, c) for a in ("left", "right") for b in ("handle", "hinge") for c in FACES[4:]]


def corner_table(gaps):
    head = "end,side,level,to end [mm],to side [mm],to level [mm]"
    lines = [",".join((*c, *map(str, g))) for c, g in zip(CORNERS, gaps, strict=True)]
    return "\n".join([head, *lines])


def test_an_upright_square_contour_is_gaps_by_face():
    plain = case(**SIX)
    contour = case(inside=INSIDE | {"draft": "0 deg", "corner_radius": "0 mm"})
    for one, two in zip(plain.checks, contour.checks, strict=True):
        assert (one.id, one.status, one.missing) == (two.id, two.status, two.missing)
        for a, b in ((one.demand, two.demand), (one.capacity, two.capacity)):
            assert a == (b if b is None else pytest.approx(b, rel=1e-12))
    for one, two in zip(as_data(plain)["clearance"], as_data(contour)["clearance"], strict=True):
        assert one["face"] == two["face"]
        assert one["demand_mm"] == pytest.approx(two["demand_mm"], rel=1e-12)
        assert one["gap_mm"] == pytest.approx(two["gap_mm"], rel=1e-12)
        assert len(one["by_corner"]) == 4
    assumed = [line for line in as_data(contour)["assumed"] if "case.inside" in line]
    assert assumed == ["the walls meet the floor at a square edge (case.inside.floor_radius)"]


def test_the_same_gap_at_every_corner_is_a_gap_by_face(tmp_path):
    by_corner = folder_case(tmp_path, {"gaps": corner_table([(50, 50, 50)] * 8)})
    plain = case(**SIX)
    for key, (demand, capacity, status) in rows(plain).items():
        other = rows(by_corner)[key]
        assert other[2] == status
        if key.startswith("clearance"):
            # a tray that hangs level: every corner was measured where the face was
            assert other[:2] == pytest.approx((demand, capacity), rel=1e-6)


def test_a_draft_costs_the_way_down_and_the_lower_corners():
    lean = math.tan(math.radians(3))
    upright = case(inside=INSIDE)
    leaning = case(inside=INSIDE | {"draft": "3 deg"})
    before, after = check(upright, "left end"), check(leaning, "left end")
    assert after.capacity == pytest.approx(50 - 200 * lean)  # 200 mm from the rim to the floor
    # It lands on that end from the unloaded pose, higher than it hung when the gap was measured.
    sag = check(case(**SIX | {"measured": "out"}), "floor").demand - check(upright, "floor").demand
    assert after.demand == pytest.approx(before.demand - sag * lean)
    corners = {
        r["corner"]: r["gap_mm"]
        for row in as_data(leaning)["clearance"]
        if row["face"] == "left end"
        for r in row["by_corner"]
    }
    assert corners["--+"] - corners["---"] == pytest.approx(150 * lean)
    floor = [check(c, "floor") for c in (upright, leaning)]
    assert floor[0].demand == floor[1].demand


def test_a_wall_that_leans_is_the_same_by_draft_and_by_corners(tmp_path):
    lean = math.tan(math.radians(3))
    low, high = 50 - 200 * lean, 50 - 50 * lean
    gaps = [(low, low, 50) if c[2] == "floor" else (high, high, 50) for c in CORNERS]
    by_corner = folder_case(tmp_path, {"gaps": corner_table(gaps)})
    contour = case(inside=INSIDE | {"draft": "3 deg"})
    for face in FACES:
        one, two = check(by_corner, face), check(contour, face)
        assert (one.demand, one.capacity) == pytest.approx((two.demand, two.capacity), rel=1e-6)


def test_room_is_by_corner_and_infinite_at_other_faces():
    room = Inside(
        size=["500 mm", "400 mm", "250 mm"], floor="40 mm", middle=["10 mm", "-5 mm"]
    ).room(BOX)
    assert np.all(np.isinf(room) != OWN)
    expected = [0.06, 0.04, 0.045, 0.055, 0.04, 0.06]
    np.testing.assert_allclose(room[OWN], np.tile(expected, (8, 1))[OWN])


@pytest.mark.parametrize("k", range(6))
def test_a_plate_along_a_wall_takes_its_thickness(k):
    """As an obstacle, and as a rib; both are held to the motion towards that wall."""
    size, at = np.array([0.9, 0.8, 0.5]), np.zeros(3)
    axis, way = k // 2, 2 * (k % 2) - 1
    size[axis] = 0.004
    at[axis] = way * (BOX[axis] / 2 + 0.048)
    wide = 1 if k < 2 else 0
    room = by_face(np.full((8, 3), 0.05))
    solids = Solids.of(
        [Obstacle(name="plate", position=[f"{v} m" for v in at], size=[f"{v} m" for v in size])],
        [Rib(name="rib", wall=FACES[k], width=f"{size[wide]} m", height="4 mm", at="0 mm")],
        BOX,
        room,
    )
    demand = np.random.default_rng(k).uniform(0.0, 0.1, (3, 2, 6))
    two = replace(solids, gap=np.stack([solids.gap] * 2))
    shut = shut_out(demand, demand, np.ones(3, dtype=bool), two)
    np.testing.assert_allclose(shut.gap, 0.046)
    assert np.all(shut.face == k)
    np.testing.assert_allclose(shut.demand, np.tile(demand[..., k].max(axis=0)[:, None], 2))


@given(st.integers(0, 2**32 - 1), st.integers(0, 5), st.floats(0, 0.5))
def test_an_obstacle_that_is_moved_away_is_never_worse(seed, k, way):
    rng = np.random.default_rng(seed)
    gap = rng.uniform(-0.3, 0.1, (1, 1, 6))
    gap[..., k] = rng.uniform(0, 0.1)
    further = gap.copy()
    further[..., k] += way
    demand = rng.uniform(0.0, 0.1, (4, 1, 6))
    none = np.array([-1]), np.array([False])
    left = []
    for g in (gap, further):
        shut = shut_out(demand, demand, np.ones(4, dtype=bool), Solids(["o"], g, *none))
        left.append((shut.gap - shut.demand).item())
    assert left[1] >= left[0]


def test_obstacles_out_of_reach_change_nothing_else():
    wide = SIX | {"right_end": "300 mm"}
    plain = case(**wide)
    beside = case(**wide, obstacle=[bracket("400 mm")])
    assert check(beside, "bracket").status == "pass"
    assert {k: v for k, v in rows(beside).items() if k in rows(plain)} == rows(plain)
    assert set(rows(beside)) - set(rows(plain)) == {"clearance/bracket"}


def test_an_obstacle_is_held_to_the_motion_of_its_axis():
    result = case(**SIX, obstacle=[bracket("230 mm")])
    found = check(result, "bracket")
    assert found.status == "fail"
    assert found.capacity == pytest.approx(20)
    assert found.demand == pytest.approx(check(result, "right end").demand)
    for word in ("along x", "towards the right end", "the drop on by van", "the gap is 20 mm"):
        assert word in found.reason
    (row,) = as_data(result)["obstacles"]
    assert (row["axis"], row["gap_mm"], row["by"]) == ("x", pytest.approx(20), "the drop on by van")
    assert "bracket" in page(result).split("Obstacles")[1]


def test_an_obstacle_at_a_corner_is_cleared_by_either_axis():
    """Near along x, far along y; a leg that moves along x only clears it by y."""
    near = bracket("215 mm", "30 mm") | {"position": ["215 mm", "220 mm", "0 mm"]}
    result = case(**SIX | {"hinge_side": "80 mm"}, obstacle=[near])
    assert check(result, "bracket").capacity == pytest.approx(55)
    assert "along y" in check(result, "bracket").reason


def test_an_open_lid_asks_nothing_of_the_lid_on_that_leg():
    low = SIX | {"lid": "20 mm", "obstacle": [bracket("0 mm", on_lid=True)]}
    low["obstacle"][0]["position"][2] = "95 mm"
    closed = STARTER.changed("case", REST | low).changed("leg[1].landings", list(ATTITUDES)[:1])
    opened = closed.changed("leg[1].lid", "open")
    one, two = assess(closed.design), assess(opened.design)
    for name in ("lid", "bracket"):
        assert check(one, name).status == "fail"
        assert check(two, name).status == "pass"
        assert "(sag)" in check(two, name).reason
    for face in FACES[:5]:
        assert check(one, face).demand == check(two, face).demand
    # what that leg lacks is no question for the lid
    lacking = assess(_without_drop(opened).design)
    assert check(lacking, "lid").status == "pass"
    assert check(lacking, "bracket").status == "pass"
    assert check(lacking, "floor").missing == "leg[1].drop"
    touches = as_data(two)["clearance"][5]["touches_an_hour"]
    assert touches == 0.0


def _without_drop(brief):
    leg = {key: value for key, value in brief.text["leg"][0].items() if key != "drop"}
    return brief.changed("leg", [leg])


@pytest.mark.parametrize("key", ["floor", "middle"])
def test_a_place_in_the_contour_that_nobody_gave_stays_open(key):
    inside = {k: v for k, v in INSIDE.items() if k != key} | {"corner_radius": "20 mm"}
    for more in ({}, {"draft": "2 deg"}):
        result = case(inside=inside | more)
        assert result.status == "incomplete"
        missing = {c.missing for c in result.checks if c.status == "incomplete"}
        assert missing == {f"case.inside.{key}"}


def test_what_nobody_says_of_a_contour_is_printed():
    assumed = " ".join(case(inside=INSIDE).design.assumed())
    for key in ("draft", "corner_radius", "floor_radius"):
        assert f"case.inside.{key}" in assumed


def test_a_corner_that_was_not_measured_leaves_its_faces_open(tmp_path):
    gaps = [(60, 60, "")] * 8
    gaps[5] = ("", 60, "")
    result = folder_case(tmp_path, {"gaps": corner_table(gaps)}, floor="60 mm", lid="60 mm")
    open_to = {c.id: c.missing for c in result.checks if c.status == "incomplete"}
    assert open_to == {"clearance/right end": "case.gaps"}
    result = folder_case(tmp_path, {"gaps": corner_table(gaps)}, floor="60 mm")
    assert check(result, "lid").missing == "case.lid"


def test_a_rib_on_a_wall_of_unknown_gap_is_open_unless_it_is_clear_beside():
    rib = {"name": "rib", "wall": "left end", "width": "10 mm", "height": "5 mm", "at": "0 mm"}
    known = {key: gap for key, gap in SIX.items() if key != "left_end"} | {"hinge_side": "99 mm"}
    result = case(**known, rib=[rib, rib | {"name": "beside", "at": "230 mm"}])
    assert check(result, "rib").status == "incomplete"
    assert check(result, "rib").missing == "case.left_end"
    assert check(result, "beside").status == "pass"


def test_obstacles_of_a_file_are_those_of_the_brief(tmp_path):
    table = "name,x [mm],y [mm],z [mm],size x [mm],size y [mm],size z [mm],on lid\n"
    table += "bracket,240,0,0,20,20,20,no\n"
    from_file = folder_case(tmp_path, {"obstacles": table}, **SIX)
    assert rows(from_file) == rows(case(**SIX, obstacle=[bracket()]))


def test_root_sum_square_saves_on_the_tolerance_and_on_nothing_certain():
    worst, root = (case(**SIX, tolerance="8 mm", sum=s) for s in ("worst case", "root sum square"))
    exact = case(**SIX)
    for face in FACES:
        full, less, none = (check(c, face).demand for c in (worst, root, exact))
        assert none < less < full
        assert full - none == pytest.approx(8)
    assert rows(case(**SIX, sum="root sum square")) == rows(exact)
    assert "summed as worst case" in page(worst)
    assert "summed as root sum square" in page(root)
    assert as_data(root)["clearance_sum"] == "root sum square"
    # Sag alone, without a swing: the tolerance adds in full.
    still = STARTER.changed("case", REST | SIX | {"tolerance": "8 mm", "sum": "root sum square"})
    parked = {"name": "parked", "road": "none", "drop": "none", "temperature": "15 °C"}
    sag = check(assess(still.changed("leg", [parked])), "lid")
    sag_exact = check(assess(STARTER.changed("leg", [parked])), "lid")
    assert sag.demand - sag_exact.demand == pytest.approx(8)


def test_what_stands_in_the_way_can_be_waived_by_its_name():
    inside = INSIDE | {"corner_radius": "20 mm", "floor_radius": "5 mm"}
    rib = {"name": "rib", "wall": "lid", "width": "10 mm", "height": "5 mm", "at": "0 mm"}
    keys = REST | {"inside": inside, "obstacle": [bracket()], "rib": [rib]}
    brief = STARTER.changed("case", keys)
    ids = [c.id for c in assess(brief.design).checks]
    assert {f"clearance/{n}" for n in ("bracket", "rib", "corner radius", "floor radius")} < set(
        ids
    )
    waived = brief.changed("not_required", {"clearance/bracket": "it is foam"})
    assert check(assess(waived.design), "bracket").waived == "it is foam"


def test_a_page_lists_the_nearest_obstacles_only():
    many = [bracket(f"{300 + n} mm") | {"name": f"post {n}"} for n in range(30)]
    result = case(**SIX | {"right_end": "300 mm"}, obstacle=many)
    text = page(result)
    assert "the nearest; 10 more in the JSON object" in text
    assert "post 0" in text
    assert "post 29" not in text
    assert len(as_data(result)["obstacles"]) == 30


def test_a_payload_that_nothing_stops_fails_at_that_face_only():
    """Rings that let go: it flies off upwards, and the rounded edges are still judged."""
    inside = INSIDE | {"corner_radius": "20 mm", "floor_radius": "5 mm", "draft": "1 deg"}
    loose = STARTER.changed("mount.ring.captive", False)
    plate = bracket("0 mm", on_lid=True) | {"position": ["0 mm", "0 mm", "120 mm"]}
    keys = REST | {"inside": inside, "obstacle": [plate]}
    result = assess(loose.changed("case", keys).design)
    for name in ("lid", "bracket"):
        assert check(result, name).status == "fail"
        assert "nothing stops the payload" in check(result, name).reason
    known = assess(STARTER.changed("case", keys).design)
    for name in ("corner radius", "floor radius", "left end", "floor"):
        assert check(known, name).status == "pass"
        assert check(result, name).missing == check(known, name).missing == ""
        assert check(result, name).status != "fail"


def test_an_obstacle_that_only_an_estimate_clears_stays_open():
    """Curves and rotation: what may go twice as far by energy is open until that is clear."""
    curve = {"deflection": ["3 mm", "20 mm", "45 mm"], "force": ["18 N", "140 N", "400 N"]}
    uneven = STARTER.changed("mount.ring.along", curve)
    uneven = uneven.changed("payload.centre", ["30 mm", "0 mm", "-10 mm"])
    wide = dict.fromkeys(SIX, "200 mm")
    doubted = []
    for z in ("250 mm", "275 mm"):
        post = bracket() | {"position": ["0 mm", "0 mm", z], "size": ["400 mm", "300 mm", "150 mm"]}
        brief = uneven.changed("case", REST | wide | {"obstacle": [post]})
        estimate = ask(respond([brief.design]))
        (row,) = [row for row in estimate if row.id == "clearance/bracket"]
        found = answer(respond([brief.design]), row, 0)
        assert found.demand < found.capacity
        assert found.status == "incomplete"  # its mounts may bottom too
        doubted.append(DOUBT in found.reason)
    assert doubted == [True, False]


def test_a_fixed_part_of_known_size_is_an_obstacle(tmp_path):
    """Unless the brief has an obstacle of its name, which then is where it is."""
    head = "name,mass [kg],x [mm],y [mm],z [mm],shape,size x [mm],size y [mm],size z [mm]\n"
    parts = head + "bracket,0.5,240,0,0,box,20,20,20\nnut,0.1,0,0,0,point,,,\n"
    part = folder_case(tmp_path, {"parts": parts}, **SIX)
    plain = case(**SIX, obstacle=[bracket()])
    assert check(part, "bracket").demand == check(plain, "bracket").demand > 0
    assert "nothing touches nut, of no given size (case.parts)" in part.assumed()
    lower = folder_case(tmp_path, {"parts": parts}, **SIX, obstacle=[bracket("245 mm")])
    assert check(lower, "bracket").capacity == pytest.approx(check(plain, "bracket").capacity + 5)
    said = "nothing stands between the payload and the walls ([[case.obstacle]])"
    assert said in case(**SIX).assumed()
    assert said not in part.assumed()


TILTED = {"floor": "90 mm", "lid": "90 mm", "left_end": "90 mm", "right_end": "90 mm"}
SAG = 1e3 * 8 * 9.80665 / 4 / 2e3
"""Of 8 kg on four mounts of 2 N/mm. [mm]"""
UP = SAG * (100 / 160) / 160 * 200
"""By hand: the pairs carry (8g/2)(1 ± 100/160), so 320 mm apart they sag unlike, and the end of the
400 mm box stands so much above its middle. [mm]"""


def hanging_askew(**keys):
    """8 kg, its centre 100 mm aside, on four soft mounts; nothing but its weight moves it."""
    ring = {
        "along": "2 N/mm", "across": "20 N/mm", "dynamic_ratio": 1, "loss_factor": 0.1,
        "rated_load": "100 N", "travel": "60 mm", "captive": True,
    }  # fmt: skip
    leg = {"name": "shelf", "temperature": "20 °C", "road": "none", "drop": "none"}
    brief = STARTER.changed("payload.centre", ["100 mm", "0 mm", "-10 mm"])
    brief = brief.changed("mount.ring", ring).changed("leg", [leg])
    return assess(brief.changed("attitudes", ["lid up"]).changed("case", REST | keys).design)


def test_an_obstacle_is_measured_from_the_middle_of_a_box_that_hangs_askew():
    size = ["399 mm", "200 mm", "20 mm"]
    plate = {"name": "plate", "position": ["0 mm", "0 mm", "107 mm"], "size": size}
    result = hanging_askew(**TILTED, obstacle=[plate])
    assert check(result, "plate").capacity == pytest.approx(22)
    assert check(result, "plate").demand == pytest.approx(UP, rel=0.03)
    assert check(result, "lid").demand == pytest.approx(0.0, abs=1e-6)  # read there, by a ruler


def test_the_lid_of_a_contour_shares_the_datum_of_its_floor():
    """The floor's gap is read at the low corner; the high one is twice the turn above it."""
    inside = {"size": ["600 mm", "500 mm", "330 mm"], "floor": "90 mm", "middle": ["0 mm", "0 mm"]}
    result = hanging_askew(inside=inside)
    assert check(result, "lid").demand == pytest.approx(2 * UP, rel=0.05)
    assert check(result, "floor").demand == pytest.approx(0, abs=1e-6)

"""What happens to designs: motions in order, where gaps were measured, creep, seats, legs."""

import math
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from isolator.brief import read_brief
from isolator.clearance import demand
from isolator.outcome import Turning
from isolator.response import Response, _start, respond
from isolator.seat import most_shift
from isolator.suspension import ATTITUDES, Pose
from isolator.units import G0
from isolator.vibration import touches_an_hour

STARTER = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
LEG = {
    **STARTER.text["leg"][0], "landings": ["lid up", "on the left end"],
    "sine": {"from": "4 Hz", "to": "60 Hz", "level": "0.2 g0", "ways": ["vertical"]},
    "walk": {"swing": "10 deg"}, "set_down": "0.05 m",
    "pulse": {"shape": "rectangle", "peak": "2 g0", "duration": "6 ms"},
    "pulse_axes": ["vertical"],
}  # fmt: skip
BARE = {"name": "by hand", "temperature": "23 °C", "road": "none", "drop": "0.1 m"}
AGED = {"mount.ring.creep": [0.04, 0.07], "age": "2 years", "stored": "on the left end"}


def made(*legs, without=(), **changes):
    brief = STARTER.changed("leg", list(legs))
    case = {k: v for k, v in brief.text["case"].items() if k not in without}
    brief = brief.changed("case", case).changed("payload.centre", ["30 mm", "-20 mm", "10 mm"])
    for key, value in changes.items():
        brief = brief.changed(key, value)
    return brief.design


@cache
def both() -> Response:
    """One as it is; one with creep, out of place, whose gaps were measured empty."""
    more = {"case.measured": "out", "mounts.flatness": "1 mm", "mounts.sheet": "60 N/mm", **AGED}
    return respond([made(LEG, BARE), made(LEG, BARE, **more)])


def sides(low, high):
    """Corners (8, 3) that move so, towards the six faces."""
    return np.stack([-low, high], axis=-1).reshape(8, 6)


def test_all_that_moves_a_payload_in_order():
    """Sag, road, sine, steps, swing, pulse, falls of each leg; creep comes on top of each rest."""
    response, (leg, bare) = both(), both().legs
    found = {m.name: m for m in response.motions}
    names = [
        "sag", "vibration on by van", "the sine on by van", "footsteps on by van",
        "the swing at the handle on by van", "the pulse on by van", "the drop on by van",
        "the set-down on by van", "the drop on by hand",
    ]  # fmt: skip
    assert list(found) == names
    assert [m.kind for m in response.motions].count("fall") == 2 + 1 + len(bare.falling.landings)
    crept = response.crept
    for name, what in (
        ("vibration on by van", leg.shaking), ("the sine on by van", leg.sine),
        ("footsteps on by van", leg.walking), ("the pulse on by van", leg.knock),
    ):  # fmt: skip
        np.testing.assert_array_equal(found[name].swing, what.swing)
        np.testing.assert_allclose(found[name].rest, what.rest + crept)
    swung = found["the swing at the handle on by van"]
    np.testing.assert_allclose(swung.rest, leg.walking.swung_rest + crept)
    np.testing.assert_array_equal(swung.swing, leg.walking.swing)
    np.testing.assert_array_equal(found["the pulse on by van"].doubt, leg.knock.doubt)
    falls = [m for m in response.motions if m.kind == "fall"]
    each = [
        (fall, k) for one in (leg, bare) for fall in one.falls for k in range(len(fall.landings))
    ]
    for motion, (fall, k) in zip(falls, each, strict=True):
        np.testing.assert_array_equal(motion.swing, fall.reach[:, k])
        np.testing.assert_array_equal(motion.rest, crept)
        np.testing.assert_array_equal(motion.doubt, fall.doubt[:, k])
    for d in range(2):
        worst = np.full((8, 6), -np.inf)
        for n, name in enumerate(ATTITUDES):
            if name in response.designs[d].attitudes:
                pose = Pose(*(getattr(response.pose, f.name)[d, n] for f in fields(Pose)))
                moved = pose.moved(response.corners[d])
                worst = np.maximum(worst, sides(moved, moved))
        np.testing.assert_allclose(found["sag"].rest[d], worst + crept[d])
    np.testing.assert_array_equal(found["sag"].swing, 0.0)
    assert all(m.lid for m in response.motions)
    upright = respond([made(BARE, attitudes=["lid up"])])
    pose = Pose(*(getattr(upright.pose, f.name)[0, 0] for f in fields(Pose)))
    moved = pose.moved(upright.corners[0])
    np.testing.assert_allclose(upright.motions[0].rest[0], sides(moved, moved))


def test_creep_goes_the_way_of_the_pose_of_storage():
    response = both()
    assert response.stored.tolist() == [0, list(ATTITUDES).index("on the left end")]
    np.testing.assert_array_equal(response.creep[0], 0.0)
    np.testing.assert_allclose(response.creep[1], response.designs[1].creeps())
    at = response.stored[1]
    pose = Pose(*(getattr(response.pose, f.name)[1, at] for f in fields(Pose)))
    off = pose.moved(response.corners[1]) * response.creep[1, 1]
    wanted = sides(np.minimum(off, 0), np.maximum(off, 0))
    np.testing.assert_allclose(response.crept[1], wanted, atol=1e-15)
    assert response.crept.max() > 1e-4
    np.testing.assert_array_equal(response.crept[0], 0.0)


def test_gaps_count_from_the_pose_in_which_they_were_measured():
    """Hanging: sag has been; out: all of it is to come; where nobody says, the worse of both."""
    pads = {"mount.ring.captive": False}
    response = respond([
        made(LEG), made(LEG, **{"case.measured": "out"}), made(LEG, without=["measured"], **pads),
    ])  # fmt: skip
    assert response.pose.found[2].tolist()[:2] == [True, False]
    for d, way in enumerate((lambda v: v, lambda v: 0 * v, lambda v: np.minimum(v, 0))):
        pose = Pose(*(getattr(response.pose, f.name)[d, 0] for f in fields(Pose)))
        moved = pose.moved(response.corners[d])
        each = sides(moved, moved)
        # a gap that was measured once is that of its nearest corner
        box = response.corners[d] - response.corners[d].mean(axis=0)
        for k in range(6):
            own = (box[:, k // 2] > 0) == bool(k % 2)
            np.testing.assert_allclose(response.room.start[d][:, k], way(each[own, k].max()))
        middle = np.broadcast_to(moved.mean(axis=0), (8, 3))
        np.testing.assert_allclose(response.room.middle[d], way(sides(middle, middle)), atol=1e-15)
    assert response.room.tolerance.tolist() == [0.0] * 3
    assert not response.room.root.any()
    # it rests with the lid up, and is as soft there, though nothing holds it with the lid down
    assert np.isfinite(response.compliance).all()
    assert np.isfinite(response.main_modes).all()
    np.testing.assert_allclose(response.compliance[2], response.compliance[0], rtol=1e-6)


def test_seats_and_sheets_of_each_design():
    response = both()
    force, upward = response.shift
    np.testing.assert_array_equal([force[0], upward[0]], 0.0)
    held = response.suspension.taken(np.array([1]))
    for n, way in enumerate(ATTITUDES.values()):
        whole, up = most_shift(held, held.pose(G0 * np.array(way)), np.array([1e-3]), np.zeros(1))
        np.testing.assert_allclose(force[1, n], whole[0], rtol=1e-7)
        np.testing.assert_allclose(upward[1, n], up[0], rtol=1e-7)
    np.testing.assert_array_equal(response.sheet_ratio[0], np.inf)
    np.testing.assert_allclose(response.sheet_ratio[1], 60 / 7.2)
    plain = respond([made(BARE)])
    np.testing.assert_array_equal(plain.shift, 0.0)
    assert plain.shift[0].shape == (1, 6, 4)
    # what nothing holds with the lid down has no shift where no seat is out of its place
    pads = {"mount.ring.captive": False}
    loose = respond([made(BARE, **pads), made(BARE, **pads, **{"mounts.flatness": "1 mm"})])
    np.testing.assert_array_equal(np.array(loose.shift)[:, 0], 0.0)
    assert np.isnan(loose.shift[0][1, 1]).all()
    rigid = response.main_modes_on_rigid_sheets
    np.testing.assert_allclose(rigid[1], rigid[0], rtol=1e-7)
    assert (response.main_modes[1] < rigid[1]).all()


def test_a_sheet_is_set_against_the_mount_as_it_stands_with_the_lid_up():
    """On curves that stiffen, under a skew load: sheet and mount in series are what is felt."""
    points = ["1 mm", "4 mm", "8 mm", "45 mm"]
    soft = {"deflection": points, "force": ["4 N", "30 N", "200 N", "9000 N"]}
    response = respond([made(BARE, **{"mount.ring.along": soft, "mounts.sheet": "60 N/mm"})])
    held = response.suspension
    whole = held.tangents(held.pose(G0 * np.array([0.0, 0.0, -1.0])), held.dynamic_ratio)
    mount = 1 / (1 / whole[0, :, 0, 0] - 1 / 60e3)
    np.testing.assert_allclose(response.sheet_ratio[0], 60e3 / mount, rtol=1e-9)
    assert np.ptp(mount) > 0.2 * mount.min()


def test_each_leg_has_its_modes():
    """With its end down the bounce is along x; mounts that are rigid in the cold have none."""
    side = {**BARE, "name": "on end", "attitude": "on the left end"}
    cold = {**BARE, "name": "cold", "temperature": "-40 °C"}
    ring = {**STARTER.text["mount"]["ring"], "cold_factor": 1.5, "cold_temperature": "0 °C"}
    limits = {"mount.ring": ring}
    response = respond([made(BARE, side, cold), made(BARE, side, cold, **limits)])
    assert response.leg_modes.shape == (2, 3, 2)
    assert response.highest_modes.shape == (2, 3)
    assert np.isnan(response.leg_modes[1, 2]).all()
    assert np.isnan(response.highest_modes[1, 2])
    for n, (leg, axis) in enumerate(zip(response.legs[:2], (2, 0), strict=True)):
        frequency, energy = leg.suspension.undamped(leg.pose)
        for d in range(2):
            bounce = frequency[d, energy[d, :, axis].argmax()]
            np.testing.assert_allclose(response.leg_modes[d, n], [frequency[d, 0], bounce])
            top = []
            for own in response.designs[d].payload.inertias():
                one = leg.suspension.taken(np.array([d]))
                at = Pose(*(getattr(leg.pose, f.name)[d : d + 1] for f in fields(Pose)))
                one = type(one)(**{**vars_of(one), "inertia": own[None]})
                top.append(one.frequencies(at)[0, -1])
            assert response.highest_modes[d, n] == pytest.approx(max(top))


def vars_of(held):
    return {f.name: getattr(held, f.name) for f in fields(held)}


def test_what_is_known_of_a_leg_is_not_done_again():
    first = respond([made(LEG)])
    again = respond([made({**LEG, "drop": "0.4 m"})], {0: first.legs[0]})
    assert again.legs[0] is first.legs[0]
    anew = respond([made({**LEG, "drop": "0.4 m"})], {0: first.legs[0]}, dropped=[0])
    assert anew.legs[0].shaking is first.legs[0].shaking
    assert anew.legs[0].falling.height == 0.4
    assert first.legs[0].falling.height == 0.2
    speed = math.sqrt(2)  # a linear mount: about the root of the height
    ratio = anew.legs[0].falling.flat.peak / first.legs[0].falling.flat.peak
    np.testing.assert_allclose(ratio, speed, rtol=0.15)


def test_what_is_demanded_counts_once_plain_and_once_doubted():
    """A fall that is doubted and a case that turns; what nothing holds in an attitude is no sag."""
    plain = respond([made(LEG, without=["measured"], **{"mount.ring.captive": False})])
    leg = plain.legs[0]
    fall = replace(leg.falling, doubt=np.full_like(leg.falling.doubt, 2.0))
    reach = np.random.default_rng(1).uniform(0.001, 0.02, (1, 3, 8, 6))
    turn = Turning(
        kind="topple", faces=["lid up"] * 3, edges=["on the left end"] * 3, height=0.0,
        touch=SimpleNamespace(reach=reach),
    )  # fmt: skip
    response = replace(plain, legs=[replace(leg, falling=fall, turning=[turn])])
    turning = [m for m in response.motions if m.name == "the topple on by van"]
    assert len(turning) == 3
    for k, motion in enumerate(turning):
        np.testing.assert_array_equal(motion.swing, reach[:, k])
        np.testing.assert_array_equal(motion.rest, 0.0)
    assert not response.pose.found.all()
    assert np.isfinite(response.motions[0].rest).all()
    room = response.room
    for n, doubted in enumerate((False, True)):
        for m, motion in enumerate(response.motions):
            wanted = demand(motion, room.start, room.tolerance, room.root, doubted=doubted)
            np.testing.assert_array_equal(response.swept[n, m], wanted)
    assert (response.swept[1] > response.swept[0]).any()


INSIDE = {
    "size": ["440 mm", "340 mm", "260 mm"], "floor": "50 mm", "middle": ["0 mm", "0 mm"],
    "draft": "3 deg", "corner_radius": "20 mm", "floor_radius": "5 mm",
}  # fmt: skip
FACE_GAPS = ("floor", "lid", "left_end", "right_end", "handle_side", "hinge_side")


@cache
def in_contour() -> Response:
    """On a truck in a contour that leans, tolerance and all; hanging askew, and with no lid on."""
    road = [{**LEG, "walk": False}, {**LEG, "walk": False, "name": "lid off", "lid": "open"}]
    more = {"case.inside": INSIDE, "case.tolerance": "4 mm", "case.sum": "root sum square"}
    return respond([made(*road, without=FACE_GAPS, **more)])


def test_how_often_a_corner_touches_a_wall_that_leans():
    """Of the gap tolerance and rest take their part, and the wall on the way along it.

    A swing along the wall takes as much as the wall leans; a lid that is off is never touched.
    """
    response, room = in_contour(), in_contour().room
    lean = math.tan(math.radians(3))
    for n, leg in enumerate(response.legs):
        shaking = leg.shaking
        used = shaking.rest[0] - room.start[0]
        moved = used[:, 5]  # upwards
        wanted = np.zeros(6)
        for face in range(6):
            k = face // 2
            travel, speed = shaking.travel[0, 0, 1:, k], shaking.speed[0, 0, 1:, k]
            left = room.gap[0, :, face] - 0.004 - used[:, face]
            if k < 2:
                left = left + lean * moved
                travel = travel + lean * shaking.travel[0, 0, 1:, 2]
                speed = speed + lean * shaking.speed[0, 0, 1:, 2]
            rate = np.where(np.isinf(left), 0.0, touches_an_hour(travel, speed, left))
            wanted[face] = rate.max()
        wanted[5] *= n == 0
        np.testing.assert_allclose(response.touches[0, n], wanted, rtol=1e-9)
    assert (response.touches[0, 0, :4] > 0).all()
    for motion in response.motions[1:]:
        assert motion.lid != motion.name.endswith("lid off")


def test_a_contour_is_measured_from_the_middle_but_for_its_floor():
    """Hanging askew: the floor's gap is the tightest corner's, and the lid's follows from it."""
    room, response = in_contour().room, in_contour()
    pose = Pose(*(getattr(response.pose, f.name)[0, 0] for f in fields(Pose)))
    moved = pose.moved(response.corners[0])
    assert np.ptp(moved[:, 2]) > 1e-4
    whole = np.broadcast_to(moved.mean(axis=0), (8, 3))
    wanted = sides(whole, whole)
    wanted[:, 4] = -moved[response.corners[0][:, 2] < 0, 2].min()
    wanted[:, 5] = -wanted[:, 4]
    np.testing.assert_allclose(room.start[0], wanted, atol=1e-12)
    assert (room.corner_radius.tolist(), room.floor_radius.tolist()) == ([0.02], [0.005])
    assert (room.tolerance.tolist(), room.root.tolist()) == ([0.004], [True])
    square = both().room
    assert square.corner_radius.tolist() == square.floor_radius.tolist() == [0.0, 0.0]


def test_where_it_does_not_rest_nothing_has_moved():
    """Pads hold nothing with the lid down, so nothing creeps in storage there."""
    pads = {"mount.ring.captive": False}
    aged = {**AGED, **pads, "stored": "lid down", "case.measured": "hanging"}
    response = respond([made(BARE, **pads), made(BARE, **aged)])
    assert response.pose.found[:, :2].tolist() == [[True, False]] * 2
    np.testing.assert_array_equal(response.crept, 0.0)
    lost = replace(response.pose, found=np.zeros_like(response.pose.found))
    start, middle = _start(response.designs, lost, response.corners)
    assert np.isnan(replace(response, pose=lost).compliance).all()
    np.testing.assert_array_equal(start, 0.0)
    np.testing.assert_array_equal(middle, 0.0)


def test_holes_off_their_place_shift_load_with_seats_or_without():
    more = {"mounts.hole_tolerance": "1 mm"}
    for given, flat in ((more, 0.0), ({**more, "mounts.flatness": "0.2 mm"}, 2e-4)):
        response = respond([made(BARE, **given)])
        held = response.suspension.repeated()
        whole, up = most_shift(held, response.pose, np.array([[flat]]), np.array([[1e-3]]))
        np.testing.assert_allclose(response.shift, [whole, up], rtol=1e-9)
        assert (whole > 0).all()

"""What the mounts hang on: sheets in series, cables in parallel, seats, pairs of mounts."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cable import Cable
from isolator.curve import Curve
from isolator.design import Design
from isolator.mount import Mount, Place
from isolator.payload import Payload
from isolator.report import as_data, page
from isolator.response import respond
from isolator.seat import most_shift, shifts
from isolator.sheet import Sheet, materials
from isolator.shock import flat_drop
from isolator.suspension import Pose, Suspension, rotation
from isolator.trip import Leg
from isolator.units import G0

STARTER = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
FEET = [(x, y, -0.05) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
DOWN = G0 * np.array([0.1, -0.2, -0.9])
POINTS = {"deflection": ["-3 mm", "-1 mm", "1 mm", "3 mm", "6 mm"],
          "force": ["-40 N", "-9 N", "8 N", "35 N", "200 N"]}  # fmt: skip


def tray(along=9e3, across=6e3, **other):
    return Suspension.of_springs(
        12.0, np.diag([0.11, 0.18, 0.25]), FEET, along, across, dynamic_ratio=1.4,
        loss_factor=[0.05, 0.1, 0.2, 0.3], **other,
    )  # fmt: skip


def curved():
    curve = Mount(name="m", along=POINTS, across="6 N/mm", dynamic_ratio=1.4, captive=True).curves()
    return replace(tray(), curve=Curve.stacked([curve] * 4))


def everything(held):
    """Pose, frequencies, complex modes and a drop as one array."""
    pose = held.pose(DOWN)
    drop = flat_drop(held, (0, 0, -1), 0.2, np.full((4, 3), 0.03))
    assert pose.found
    return np.concatenate([
        pose.shift, pose.turn.ravel(), held.frequencies(pose), held.modes(pose).eigenvalue.imag,
        [drop.travel, drop.peak, drop.peak_most, drop.duration, drop.rebound],
    ])  # fmt: skip


def test_a_curve_on_a_sheet_gives_way_by_the_force_over_its_stiffness():
    curve, k = Curve.through([0.001, 0.003, 0.006], [8.0, 35.0, 200.0]), 2e4
    both = curve.in_series(k)
    np.testing.assert_array_equal(both.deflection, curve.deflection + curve.force_at / k)
    np.testing.assert_allclose(both.force(both.deflection), curve.force_at, atol=1e-12)
    inner = curve.slope[1:-1]
    np.testing.assert_allclose(both.slope[1:-1], inner * k / (inner + k))
    grid = np.linspace(-0.02, 0.02, 4001)
    assert np.all(both.tangent(grid) >= 0)
    # between the nodes: the force at which curve and sheet together give that deflection
    d = np.linspace(-0.006, 0.006, 2001)
    exact = np.interp(grid, d + curve.force(d) / k, curve.force(d))
    inside = np.abs(grid) < 0.006
    np.testing.assert_allclose(both.force(grid)[inside], exact[inside], atol=0.01 * 200)
    for wrong in (0.0, -1.0, np.nan):
        with pytest.raises(ValueError, match="above zero"):
            curve.in_series(wrong)


def test_a_rigid_sheet_and_a_cable_of_nothing_change_nothing():
    for held in (tray(), curved()):
        plain = everything(held)
        mixed = replace(held, sheet=np.array([np.inf, 1e300, np.inf, 1e300]))
        np.testing.assert_allclose(everything(mixed), plain, rtol=1e-12, atol=1e-14)
        slack = replace(
            held, cable_position=np.ones((2, 3)), cable_stiffness=np.full((2, 3), 1e-9),
            cable_loss=np.zeros(2),
        )  # fmt: skip
        np.testing.assert_allclose(everything(slack), plain, rtol=1e-9, atol=1e-12)
        np.testing.assert_array_equal(everything(slack.without_cables()), plain)
        np.testing.assert_array_equal(everything(mixed.on_rigid_sheets()), plain)


def test_a_cable_acts_as_a_mount_of_that_stiffness():
    """In pose, modes, damping and drop; only in the arrays of mounts it is not there."""
    at, k = (0.1, 0.2, 0.05), 700.0
    held = tray()
    cable = replace(
        held, cable_position=np.array([at]), cable_stiffness=np.full((1, 3), k),
        cable_loss=np.array([0.15]),
    )  # fmt: skip
    mount = Suspension.of_springs(
        12.0, held.inertia, [*FEET, at], [9e3] * 4 + [k], [6e3] * 4 + [k],
        dynamic_ratio=[1.4] * 4 + [1.0], loss_factor=[0.05, 0.1, 0.2, 0.3, 0.15],
    )  # fmt: skip
    one, other = everything(cable), cable.pose(DOWN)
    assert cable.mount_force(other).shape == (4, 3)
    drop = flat_drop(mount, (0, 0, -1), 0.2, np.full((5, 3), 0.03))
    pose = mount.pose(DOWN)
    np.testing.assert_allclose(other.shift, pose.shift, rtol=1e-9)
    np.testing.assert_allclose(cable.stiffness(other), mount.stiffness(pose), rtol=1e-9, atol=1e-6)
    np.testing.assert_allclose(one[12:18], mount.frequencies(pose), rtol=1e-10)
    np.testing.assert_allclose(one[18:24], mount.modes(pose).eigenvalue.imag, rtol=1e-7)
    np.testing.assert_allclose(one[24:26], [drop.travel, drop.peak], rtol=1e-10)
    np.testing.assert_allclose(cable.gravity_left(other), mount.gravity_left(pose), rtol=1e-9)


@pytest.mark.parametrize("held", [tray(), curved()], ids=["straight", "curved"])
def test_the_dynamic_ratio_and_the_loss_are_of_the_mount_alone(held):
    """r·t(1 + iη) in series with k of no loss, t the tangent of the rubber at its own force."""
    k = np.array([2e4, 5e4, 1e5, 4e5])
    on = replace(held, sheet=k)
    pose = on.pose(G0 * np.array([0.0, 0.0, -1.0]))
    force = on.force_at(on.deflection(pose))[..., 0]
    low, high = np.zeros(4), np.full(4, 0.02)
    for _ in range(60):
        middle = (low + high) / 2
        soft = held.curve.force(np.stack([middle, middle], -1))[:, 0] < force
        low, high = np.where(soft, middle, low), np.where(soft, high, middle)
    t = held.curve.tangent(np.stack([low, low], -1))[:, 0]
    rubber = 1.4 * t * (1 + 1j * held.loss_factor)
    ours = on.tangents(pose, on.dynamic_ratio * (1 + 1j * on.loss_factor))[:, 0, 0]
    # Between its nodes the curve in series is a cubic of its own.
    rel = 1e-12 if held.curve.deflection.shape[-1] == 3 else 0.05
    np.testing.assert_allclose(ours, rubber * k / (rubber + k), rtol=rel)
    still = replace(on, dynamic_ratio=np.ones(4), loss_factor=np.zeros(4))
    np.testing.assert_allclose(
        still.damped_stiffness(pose), on.mount_stiffness(pose), rtol=1e-12, atol=1e-6
    )


def test_the_limit_on_a_sheet_is_where_the_rubber_is_at_its_own():
    on = replace(tray(), sheet=np.full(4, 4.5e3))
    limit = np.array([[0.01, np.inf, 0.02], [np.nan, 0.004, np.nan]] * 2)
    reach = on.limits_with_sheet(limit)
    # 9 N/mm on 4.5 N/mm: of three millimetres the rubber has one
    np.testing.assert_allclose(reach[:2], [[0.03, np.inf, 0.02], [np.nan, 0.012, np.nan]])
    result = respond([assess(STARTER.changed("mounts.sheet", "6 N/mm")).design])
    np.testing.assert_allclose(result.limits[0, :, 0], 0.09)
    np.testing.assert_allclose(result.legs[0].limits[0, :, 2], 0.045)


def test_flat_seats_of_mechanics():
    """Four mounts of 100 N/mm under 8 kg, one seat 0.5 mm out of plane: 12.5 N of 19.6."""
    feet = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    hard = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, 1e5, 1e5)
    pose = hard.pose((0, 0, -G0))
    force, upward = most_shift(hard, pose, np.array(0.5e-3), np.array(0.0))
    np.testing.assert_allclose(upward, 12.5, rtol=1e-6)
    np.testing.assert_allclose(force, 12.5, rtol=1e-6)
    np.testing.assert_allclose(hard.mount_force(pose)[:, 2], 19.6, atol=0.05)
    three = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet[:3], 1e5, 1e5)
    own, _ = most_shift(three, three.unloaded(), np.array(0.5e-3), np.array(0.0))
    np.testing.assert_allclose(own, 0.0, atol=1e-9)  # three always stand


def uneven(count):
    """Mounts of unlike stiffness and direction; one of four feels most from another seat."""
    rng = np.random.default_rng(2)
    push = rng.normal(size=(count, 3))
    push /= np.linalg.norm(push, axis=-1, keepdims=True)
    position = rng.uniform(-0.2, 0.2, (count, 3))
    along, across = rng.uniform(5e3, 5e4, count), rng.uniform(3e3, 2e4, count)
    return Suspension.of_springs(5.0, np.eye(3) * 0.1, position, along, across, push=push)


def test_a_seat_that_moves_leaves_the_payload_in_balance():
    """What some mounts gain others lose, in force and in moment, on a payload that has turned."""
    held = uneven(5)
    turned = Pose(np.zeros(3), rotation([0.3, -0.2, 0.5]), np.array(True))
    gain = shifts(held, turned)
    arms = held.position @ turned.turn.T
    size = np.abs(gain).max()
    np.testing.assert_allclose(gain.sum(axis=0), 0.0, atol=1e-9 * size)
    moments = np.cross(arms[:, None, None], np.moveaxis(gain, 1, -1)).sum(axis=0)
    np.testing.assert_allclose(moments, 0.0, atol=1e-9 * size)


def test_the_worst_seat_is_the_worst_of_all_tried():
    """Each seat along its mount and across it in every direction, up to 1 in 1000."""
    held = uneven(4)
    pose = held.unloaded()
    gain = shifts(held, pose)
    angle = np.linspace(0, np.pi, 721)
    across = gain[..., 1, None] * np.cos(angle) + gain[..., 2, None] * np.sin(angle)
    _, upward = most_shift(held, pose, np.array(0.0), np.array(1e-3))
    tried = np.abs(across[:, 2]).max(axis=(1, 2))
    np.testing.assert_allclose(upward, 1e-3 * tried, rtol=1e-3)
    whole, upward = most_shift(held, pose, np.array(2e-3), np.array(0.0))
    along = np.moveaxis(gain[..., 0], 1, -1)
    np.testing.assert_allclose(whole, 2e-3 * np.linalg.norm(along, axis=-1).max(axis=1))
    np.testing.assert_allclose(upward, 2e-3 * np.abs(along[..., 2]).max(axis=1))
    both = most_shift(held, pose, np.array(2e-3), np.array(1e-3))[1]
    np.testing.assert_allclose(both, upward + 1e-3 * tried, rtol=1e-3)


@pytest.mark.parametrize("count", [1, 2])
def test_mounts_that_do_not_hold_a_payload_shift_nothing_that_is_known(count):
    """About one point it turns freely, about the line through two as well."""
    loose = uneven(count)
    assert np.isnan(shifts(loose, loose.unloaded())).all()
    fast = uneven(5)
    assert np.isnan(shifts(fast, replace(fast.unloaded(), found=np.array(False)))).all()


def test_shifts_are_those_of_the_least_energy():
    """One seat moved, the payload free to give way: least squares over all springs."""
    rng = np.random.default_rng(3)
    push = rng.normal(size=(5, 3))
    push /= np.linalg.norm(push, axis=-1, keepdims=True)
    position = rng.uniform(-0.2, 0.2, (5, 3))
    along, across = rng.uniform(5e3, 5e4, 5), rng.uniform(3e3, 2e4, 5)
    held = Suspension.of_springs(5.0, np.eye(3) * 0.1, position, along, across, push=push)
    held = replace(
        held, sheet=rng.uniform(1e4, 1e5, 5), cable_position=rng.uniform(-0.2, 0.2, (1, 3)),
        cable_stiffness=np.array([[300.0, 800.0, 500.0]]), cable_loss=np.array([0.1]),
    )  # fmt: skip
    gain = shifts(held, held.unloaded())
    series = along * held.sheet / (along + held.sheet)
    stiffness = np.sqrt(np.stack([series, across, across], -1).ravel())

    def motion(at):
        x, y, z = at
        return np.array([[1, 0, 0, 0, z, -y], [0, 1, 0, -z, 0, x], [0, 0, 1, y, -x, 0.0]])

    rows = np.concatenate([f @ motion(at) for f, at in zip(held.frames, position, strict=True)])
    cable = np.sqrt(held.cable_stiffness.T) * motion(held.cable_position[0])
    system = np.concatenate([stiffness[:, None] * rows, cable])
    for j in range(15):
        moved = np.zeros(18)
        moved[j] = stiffness[j]
        motion_ = np.linalg.lstsq(system, moved, rcond=None)[0]
        local = stiffness * (moved - system @ motion_)[:15]
        expected = np.einsum("iab,ia->ib", held.frames, local.reshape(5, 3))
        np.testing.assert_allclose(gain[:, :, j // 3, j % 3], expected, rtol=1e-6, atol=1e-6)


def opposed(push_in, push_out):
    """The starter's payload between pairs of mounts, or on mounts that hold both ways."""
    payload = Payload(mass="8 kg", size=["400 mm", "300 mm", "150 mm"], inertia=["0.1 kg*m²"] * 3)
    corners = [(f"{x} mm", f"{y} mm", "-30 mm") for x in (-150, 150) for y in (-100, 100)]
    return Suspension.of(
        payload,
        [Place(mount=m, position=at, push=p) for at in corners for m, p in (*push_in, *push_out)],
    )


def test_an_opposed_pair_of_one_way_mounts_is_one_two_way_mount():
    given = {"name": "pad", "along": "9 N/mm", "dynamic_ratio": 1.3, "loss_factor": 0.2}
    one = Mount(**given, across="3 N/mm", captive=False)
    both = Mount(**given, across="6 N/mm", captive=True)
    pair, single = opposed([(one, "-z")], [(one, "z")]), opposed([(both, "-z")], [])
    for down in ((0, 0, -G0), (0, 0, G0), (0.6 * G0, 0.1 * G0, -0.8 * G0)):
        poses = pair.pose(down), single.pose(down)
        np.testing.assert_allclose(poses[0].shift, poses[1].shift, rtol=1e-8, atol=1e-12)
        np.testing.assert_allclose(poses[0].turn, poses[1].turn, atol=1e-10)
        np.testing.assert_allclose(pair.frequencies(poses[0]), single.frequencies(poses[1]))
        one_way, two_way = (
            s.modes(p).eigenvalue for s, p in zip((pair, single), poses, strict=True)
        )
        np.testing.assert_allclose(one_way, two_way, rtol=1e-8)


def test_mixed_mounts_share_by_stiffness_and_stand_level_under_their_centre():
    """4 and 12 N/mm in a row: the centre of stiffness lies three quarters towards the stiff."""
    feet = [(x - 0.075, y, 0.0) for x in (-0.15, 0.15) for y in (-0.1, 0.1)]
    mixed = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, [4e3, 4e3, 12e3, 12e3], 5e3)
    pose = mixed.pose((0, 0, -G0))
    load = mixed.mount_force(pose)[:, 2]
    np.testing.assert_allclose(load[:2], 8 * G0 / 8, rtol=1e-9)
    np.testing.assert_allclose(load[2:], 8 * G0 * 3 / 8, rtol=1e-9)
    assert float(pose.tilt) == pytest.approx(0.0, abs=1e-9)


def test_mounts_above_and_below_take_rocking_out_of_sway():
    """All below, sway turns the payload too; half above at the same distance, it does not."""
    inertia = np.diag([0.11, 0.18, 0.25])
    below = Suspension.of_springs(12.0, inertia, FEET, 9e3, 6e3)
    around = [(*foot[:2], z) for foot, z in zip(FEET, (-0.05, 0.05, 0.05, -0.05), strict=True)]
    both = Suspension.of_springs(12.0, inertia, around, 9e3, 6e3)
    assert abs(below.mount_stiffness()[0, 4]) == pytest.approx(4 * 6e3 * 0.05)
    assert both.mount_stiffness()[0, 4] == pytest.approx(0.0, abs=1e-9)


def test_a_mount_alike_in_all_directions_may_point_anywhere():
    rng = np.random.default_rng(8)
    push = rng.normal(size=(4, 3))
    push /= np.linalg.norm(push, axis=-1, keepdims=True)
    # The travel is the last that has no limit in it: limits are along a mount and across it.
    turned, plain = (everything(tray(7e3, 7e3, **p))[:25] for p in ({"push": push}, {}))
    np.testing.assert_allclose(turned, plain, rtol=1e-8, atol=1e-10)


def test_the_page_compares_with_and_without_cables():
    """Bounce goes with the root of the stiffness: 4·7.2 N/mm and 18 % of it more."""
    add = 0.18 * 4 * 7.2
    table = {"name": "loom", "position": ["0 mm", "0 mm", "-10 mm"], "stiffness": f"{add} N/mm"}
    hung = assess(STARTER.changed("cable", [table | {"loss_factor": 0.2}]))
    data = as_data(hung)["cables"]
    plain = as_data(assess(STARTER))
    assert plain["cables"] is None
    assert data["bounce_stiffness_added"] == pytest.approx(0.18)
    ratio = data["bounce_hz"] / data["bounce_hz_without"]
    assert ratio == pytest.approx(1.18**0.5)
    assert "cables (loom) add" in page(hung)
    assert "18% to the bounce: 9.55 → 10.4 Hz" in " ".join(page(hung).split())
    assert len(as_data(hung)["sag"]) == len(plain["sag"])
    assert not any("cable" in line for line in as_data(hung)["assumed"])
    silent = assess(STARTER.changed("cable", [table]))
    assert silent.status == "incomplete"
    assert {c.missing for c in silent.checks if c.status == "incomplete"} == {
        "cable[1].loss_factor"
    }
    assert as_data(silent)["transmissibility"] == []


@pytest.mark.heavy
def test_cables_do_not_catch_what_leaves_its_mounts():
    loose = STARTER.changed("mount.ring.captive", False)
    table = {"name": "loom", "position": ["0 mm"] * 3, "stiffness": "2 N/mm", "loss_factor": 0.2}
    for brief in (loose, loose.changed("cable", [table])):
        checks = {c.id: c for c in assess(brief).checks}
        assert checks["drop travel/by van/lid down"].status == "fail"
        assert checks["held when pulled"].status == "fail"


def test_a_sheet_is_counted_and_told():
    mount = 6 * 1.2
    soft = assess(STARTER.changed("mounts.sheet", f"{4 * mount} N/mm"))
    check = next(c for c in soft.checks if c.id == "sheet")
    assert check.status == "pass"
    assert "4 times as stiff as the mount, not 10" in check.reason
    bounce = next(r for r in as_data(soft)["modes"] if r["name"] == "bounce along z")
    expected = (4 * mount * 1e3 * 4 / 5 / 8) ** 0.5 / (2 * np.pi)
    assert bounce["frequency_hz"] == pytest.approx(expected)
    assert as_data(soft)["sheets"][0]["over_mount"] == pytest.approx(4)
    stiff = assess(STARTER.changed("mounts.sheet", "900 N/mm"))
    assert next(c for c in stiff.checks if c.id == "sheet").reason.endswith("; it is counted")
    assert not any("sheet" in line for line in as_data(stiff)["assumed"])
    plate = {"thickness": "2 mm", "span": ["200 mm", "200 mm"], "edges": "supported",
             "material": "aluminium"}  # fmt: skip
    by_plate = assess(STARTER.changed("mounts.sheet", plate))
    aluminium = materials()["aluminium"]
    rigidity = aluminium.modulus * 0.002**3 / 12 / (1 - aluminium.poisson**2)
    assert as_data(by_plate)["sheets"][3]["stiffness_n_m"] == pytest.approx(
        rigidity / 0.0116 / 0.2**2
    )


def test_a_round_sheet_of_a_given_modulus():
    lid = {"thickness": "3 mm", "span": "150 mm", "edges": "clamped"}
    by_hand = Sheet(**lid, modulus="2.3 GPa", poisson=0.37)
    assert by_hand.stiffness() == Sheet(**lid, material="polycarbonate").stiffness()
    rigidity = 2.3e9 * 0.003**3 / 12 / (1 - 0.37**2)
    assert by_hand.stiffness() == pytest.approx(16 * np.pi * rigidity / 0.075**2)


def test_a_seat_out_of_plane_shifts_load_and_may_lift_a_mount():
    """6 N/mm: a quarter of 1.5 N for each quarter of a millimetre."""
    plain = {c.id: c for c in assess(STARTER).checks}
    moved = assess(STARTER.changed("mounts.flatness", "1 mm"))
    checks = {c.id: c for c in moved.checks}
    assert checks["rated load"].demand == pytest.approx(plain["rated load"].demand + 1.5, rel=1e-3)
    assert "1.5 N more by a seat out of place" in checks["rated load"].reason
    assert checks["load share"].demand == pytest.approx(1.5 / (8 * G0 / 4), rel=1e-3)
    assert all(r["seat_shift_n"] == pytest.approx(1.5, rel=1e-3) for r in as_data(moved)["sag"])
    off = {c.id: c for c in assess(STARTER.changed("mounts.flatness", "15 mm")).checks}
    assert off["load share"].status == "fail"
    assert "it may lift off or be pulled" in off["load share"].reason
    holes = {c.id: c for c in assess(STARTER.changed("mounts.hole_tolerance", "1 mm")).checks}
    assert holes["rated load"].demand > plain["rated load"].demand + 1.5


@pytest.mark.parametrize(("bending", "status"), [("25 Hz", "fail"), ("85 Hz", "pass")])
def test_the_payload_bends_an_octave_above_its_mounts(bending, status):
    result = assess(STARTER.changed("payload.bending", bending))
    check = next(c for c in result.checks if c.id == "bending")
    assert check.status == status
    band = result.response
    inertia = result.design.payload.inertias()
    legs = band.legs[0]
    pose = Pose(*(a[0] for a in (legs.pose.shift, legs.pose.turn, legs.pose.found)))
    one = result.design.suspension()
    top = max(replace(one, inertia=i).frequencies(pose)[-1] for i in inertia)
    assert check.demand == pytest.approx(2 * top)
    hot = assess(result.brief.changed("leg[1].temperature", "60 °C"))
    check = next(c for c in hot.checks if c.id == "bending")
    assert check.status == "incomplete"
    assert check.missing


def test_a_design_of_objects_takes_cables_and_sheets():
    ring = Mount(name="ring", along="6 N/mm", across="6 N/mm", dynamic_ratio=1.2)
    corners = [(f"{x} mm", f"{y} mm", "0 mm") for x in (-160, 160) for y in (-110, 110)]
    design = Design(
        payload=Payload(mass="8 kg", size=["400 mm", "300 mm", "150 mm"]),
        case=STARTER.design.case,
        places=[Place(mount=ring, position=at, sheet="60 N/mm") for at in corners],
        cables=[Cable(name="hose", position=["0 mm"] * 3, stiffness=["1 N/mm"] * 3)],
        legs=[Leg(name="by van")],
    )
    k = design.suspension().mount_stiffness()[2, 2]
    assert k == pytest.approx(4e3 * 6 * 60 / 66 + 1e3)

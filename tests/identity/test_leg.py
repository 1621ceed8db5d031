"""A leg of two designs: as each alone, and what is put together from the kernels that it calls."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from isolator.brief import read_brief
from isolator.curve import Curve
from isolator.leg import end_unknown
from isolator.outcome import LegResponse
from isolator.response import Response, respond
from isolator.shock import flat_drop, height_for, jolt, light_shell_peak, swing
from isolator.suspension import ATTITUDES, Pose, Suspension, motion_at, strokes
from isolator.trip import AXES
from isolator.units import G0
from isolator.vibration import (
    peak,
    random_response,
    sine_response,
    tones_response,
    touches_an_hour,
)

STARTER = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
SINE = {"from": "4 Hz", "to": "60 Hz", "level": "0.4 g0", "rate": 1}
LEG = {
    **STARTER.text["leg"][0], "drop": "0.3 m", "landings": ["lid up", "on the left end", "edges"],
    "sine": {**SINE, "ways": ["vertical", "longitudinal"]},
    "walk": {"swing": "10 deg"}, "set_down": "0.05 m", "attitude": "lid up", "level": 1.5,
}  # fmt: skip
CURVE = {
    "deflection": ["-45 mm", "-15 mm", "0 mm", "10 mm", "20 mm", "45 mm"],
    "force": ["-400 N", "-90 N", "0 N", "60 N", "150 N", "600 N"],
}


def made(**changes):
    brief = STARTER.changed("leg", [LEG]).changed("case.size", ["520 mm", "420 mm", "270 mm"])
    brief = brief.changed("payload.centre", ["30 mm", "-20 mm", "10 mm"])
    for key, value in {"case.restitution": 0.3, "case.mass": "4 kg", **changes}.items():
        brief = brief.changed(key, value)
    return brief.design


@cache
def designs():
    """One on straight mounts under a payload off its centre, one on curves in a heavy case."""
    return made(), made(**{
        "payload.mass": "11 kg", "mount.ring.along": CURVE, "mount.ring.loss_factor": 0.3,
        "case.restitution": 0.0, "case.mass": "120 kg", "mount.ring.travel": "30 mm",
    })  # fmt: skip


@cache
def both() -> Response:
    return respond(designs())


def leg() -> LegResponse:
    return both().legs[0]


def pairs(whole: object, alone: object, path: str = "") -> Iterator[tuple[str, object, object]]:
    """All arrays of two records of the same kind."""
    if is_dataclass(whole):
        for f in fields(whole):
            yield from pairs(getattr(whole, f.name), getattr(alone, f.name), f"{path}.{f.name}")
    elif isinstance(whole, Mapping):
        for key in whole:
            yield from pairs(whole[key], alone[key], f"{path}[{key}]")
    elif isinstance(whole, np.ndarray):
        yield path, whole, alone


@pytest.mark.parametrize("which", [0, 1])
def test_a_leg_of_two_designs_is_that_of_each(which: int) -> None:
    alone = respond([designs()[which]]).legs[0]
    count = 0
    for path, whole, single in pairs(replace(leg(), leg=None), replace(alone, leg=None)):
        if (
            whole.ndim
            and len(whole) == 2
            and len(single) == 1
            and whole.size
            and "curve" not in path
        ):
            count += 1
            size = np.abs(np.where(np.isfinite(whole), whole, 0.0)).max()
            np.testing.assert_allclose(
                whole[which], single[0], rtol=1e-6, atol=1e-9 * size, err_msg=path
            )
    assert count > 100


def parts(which: int):
    """Suspension, inertia band (i), pose, and where to look, of one design."""
    found = leg()
    held = found.suspension.taken(np.array([which]))
    inertia = designs()[which].payload.inertias()
    pose = Pose(*(getattr(found.pose, f.name)[which] for f in fields(Pose)))
    own = {f.name: getattr(held, f.name)[0] for f in fields(held) if f.name != "curve"}
    curve = Curve(*(getattr(held.curve, f.name)[0] for f in fields(Curve)))
    return Suspension(curve=curve, **own), inertia, pose


@pytest.mark.parametrize("which", [0, 1])
def test_what_a_road_does_is_put_together(which: int) -> None:
    """All axes as a root of squares, peaks of three hours, the worst inertia for the mounts."""
    one, inertia, pose = parts(which)
    shaking, road = leg().shaking, leg().leg
    points = np.concatenate([np.zeros((1, 3)), designs()[which].payload.corners()]) @ pose.turn.T
    where = np.concatenate([points, one.position @ pose.turn.T])
    frames = np.concatenate([np.broadcast_to(np.eye(3), (9, 3, 3)), one.frames])
    names = ("acceleration", "travel", "travel_speed", "acceleration_rate")
    bend, most = np.zeros((4, 3)), np.zeros((8, 3))
    for i, own in enumerate(inertia):
        modes = replace(one, inertia=own).modes(pose)
        square = {name: 0.0 for name in names}
        for k, axis in enumerate(AXES):
            lines, density = road.spectrum(axis).lines, road.spectrum(axis).density * 1.5**2
            found = random_response(modes, where, k, lines, density, frames=frames)
            for name in names:
                square[name] = square[name] + getattr(found, name) ** 2
                ours = getattr(shaking.by_axis[axis], name)[which, i]
                np.testing.assert_allclose(ours, getattr(found, name)[:9], rtol=1e-7, atol=1e-12)
        felt, travel, speed, jerk = (np.sqrt(square[name]) for name in names)
        np.testing.assert_allclose(shaking.acceleration[which, i], felt[:9], rtol=1e-7)
        np.testing.assert_allclose(shaking.travel[which, i], travel[:9], rtol=1e-7)
        np.testing.assert_allclose(shaking.speed[which, i], speed[:9], rtol=1e-7)
        far, hard = (
            peak(travel, speed, 10800.0, 1.0 * road.crest),
            peak(felt, jerk, 10800.0, road.crest),
        )
        np.testing.assert_allclose(shaking.acceleration_peak[which, i], hard[:9], rtol=1e-7)
        np.testing.assert_allclose(shaking.travel_peak[which, i], far[:9], rtol=1e-7)
        bend, most = np.maximum(bend, far[9:]), np.maximum(most, far[1:9])
    local = one.deflection(pose)
    np.testing.assert_allclose(
        shaking.mounts[which], strokes(local - bend, local + bend), rtol=1e-7
    )
    np.testing.assert_allclose(shaking.swing[which], np.repeat(most, 2, axis=-1), rtol=1e-7)
    moved = pose.moved(designs()[which].payload.corners())
    sides = np.stack([-moved, moved], axis=-1).reshape(8, 6)
    for motion in (shaking, leg().sine, leg().walking):
        np.testing.assert_allclose(motion.rest[which], sides, atol=1e-12)
    assert np.isnan(list(shaking.uncovered.values())).all()


def test_what_a_sine_does_is_put_together() -> None:
    for which in (0, 1):
        one, inertia, pose = parts(which)
        ringing = leg().sine
        feet, corners = one.position @ pose.turn.T, designs()[which].payload.corners() @ pose.turn.T
        bend, most = np.zeros((4, 3)), np.zeros((8, 3))
        assert set(ringing.by_axis) == {"x", "z"}
        for i, own in enumerate(inertia):
            modes = replace(one, inertia=own).modes(pose)
            centre = np.sqrt(modes.eigenvalue.real) / (2 * math.pi)
            wide = np.abs(np.sqrt(modes.eigenvalue).imag) / (2 * math.pi)
            near = (centre[:, None] + wide[:, None] * np.linspace(-6, 6, 241)).ravel()
            at = np.sort(np.concatenate([np.geomspace(4, 60, 400), np.clip(near, 4, 60)]))
            size = np.full_like(at, 0.4 * G0)
            for k in (0, 2):
                felt = sine_response(modes, np.zeros((1, 3)), k, at, size)
                ours = ringing.by_axis["xyz"[k]]
                np.testing.assert_allclose(
                    ours.acceleration[which, i, 0, k], felt.acceleration[0, k], rtol=2e-3
                )
                legs = sine_response(modes, feet, k, at, size, frames=one.frames)
                bend = np.maximum(bend, legs.travel)
                most = np.maximum(most, sine_response(modes, corners, k, at, size).travel)
        local = one.deflection(pose)
        ends = strokes(local - bend, local + bend)
        np.testing.assert_allclose(ringing.mounts[which], ends, rtol=5e-3, atol=1e-6)
        np.testing.assert_allclose(
            ringing.swing[which], np.repeat(most, 2, axis=-1), rtol=5e-3, atol=1e-6
        )


@pytest.mark.parametrize("kind", ["falling", "tilted", "set_down"])
def test_what_a_fall_does_is_put_together(kind: str) -> None:
    """The centre by energy; corners no further than metal; mounts by static and dynamic curves."""
    fall, limits = getattr(leg(), kind), leg().limits
    assert len(fall.landings) == {"falling": 2, "tilted": 12, "set_down": 1}[kind]
    down = np.broadcast_to(fall.down, (2, *fall.down.shape[-2:]))
    for which in (0, 1):
        one, inertia, _ = parts(which)
        back, shell = (0.3, 0.0)[which], (4.0, np.nan)[which]  # 120 kg are heavy beside 11
        rows = motion_at(designs()[which].payload.corners())
        feet = one.frames @ motion_at(one.position)
        for n in range(min(len(fall.landings), 3)):
            way, height = down[which, n], fall.height
            flat = flat_drop(one, way, height, limits[which], restitution=back)
            for f in fields(flat):
                ours = getattr(fall.flat, f.name)[which, n]
                np.testing.assert_allclose(ours, getattr(flat, f.name), rtol=1e-7, err_msg=f.name)
            least = light_shell_peak(one, way, height, limits[which], shell, restitution=back)
            np.testing.assert_allclose(fall.peak_least[which, n], least, rtol=1e-7)
            stop = np.inf if np.isnan(flat.bottom) else flat.bottom
            every = [replace(one, inertia=own) for own in inertia]

            def reach(held, rows, ahead, behind, way=way, height=height, back=back):
                found = [swing(h, way, height, rows, ahead, behind, restitution=back) for h in held]
                return np.min([f[0] for f in found], 0), np.max([f[1] for f in found], 0)

            low, high = reach(every, rows, min(flat.travel_most, stop), flat.rebound)
            wall = np.stack([-low, high], axis=-1).reshape(8, 6)
            np.testing.assert_allclose(fall.reach[which, n], wall, rtol=1e-6, atol=1e-9)
            mounts = strokes(*reach(every, feet, flat.travel_most, flat.rebound))
            np.testing.assert_allclose(fall.mounts[which, n], mounts, rtol=1e-6, atol=1e-9)
            stiff = [held.dynamic() for held in every]
            hard = strokes(*reach(stiff, feet, flat.stiff_travel_most, flat.stiff_rebound))
            curve = one.dynamic().curve
            pushed = curve.force(hard[:, [0, 2]])
            pulled = np.abs(curve.force(-hard[:, [1, 2]]))
            force = np.hypot(np.maximum(pushed[:, 0], pulled[:, 0]), pushed[:, 1])
            np.testing.assert_allclose(fall.mount_force[which, n], force, rtol=1e-6)
            felt = [jolt(h, way, height, rows, flat.peak_most, restitution=back) for h in stiff]
            assert fall.corner_peak[which, n] == pytest.approx(np.max(felt), rel=1e-6)
            used = (mounts / limits[which])[mounts > 0].max()
            just = height_for(one, way, flat.travel_most / used, restitution=back)
            assert fall.bottoming_height[which, n] == pytest.approx(float(just), rel=1e-6)
            assert fall.may_bottom[which, n] == (used > 1)
    assert not fall.end_unknown.any()
    # rotation on straight mounts is a bound, on curves an estimate
    assert (fall.doubt[0] == 1.0).all()
    assert set(fall.doubt[1]) <= {1.0, 2.0}
    assert kind == "set_down" or 2.0 in fall.doubt[1]


def test_what_footsteps_and_a_swing_do_is_put_together() -> None:
    """Tones of all rates along the axes that they belong to; a swing goes about each end of it."""
    walking, walk, axes = leg().walking, leg().leg.walk, leg().leg.case_axes()
    order = [AXES.index(axes[way]) for way in ("vertical", "transverse", "longitudinal")]
    for which in (0, 1):
        one, inertia, pose = parts(which)
        points = (
            np.concatenate([np.zeros((1, 3)), designs()[which].payload.corners()]) @ pose.turn.T
        )
        where = np.concatenate([points, one.position @ pose.turn.T])
        frames = np.concatenate([np.broadcast_to(np.eye(3), (9, 3, 3)), one.frames])
        bend, most = np.zeros((4, 3)), np.zeros((8, 3))
        for i, own in enumerate(inertia):
            modes = replace(one, inertia=own).modes(pose)
            natural = np.sqrt(modes.eigenvalue.real) / (2 * math.pi)
            frequency, level = walk.tones(walk.rates(natural))
            turned = np.empty_like(level)
            turned[..., order] = level
            found = tones_response(modes, where, frequency, turned, frames=frames)
            for name in ("acceleration", "acceleration_rms", "travel"):
                ours = getattr(walking, name)[which, i]
                np.testing.assert_allclose(ours, getattr(found, name)[:9], rtol=1e-6)
            bend, most = np.maximum(bend, found.travel[9:]), np.maximum(most, found.travel[1:9])
        local = one.deflection(pose)
        np.testing.assert_allclose(walking.mounts[which], strokes(local - bend, local + bend))
        np.testing.assert_allclose(walking.swing[which], np.repeat(most, 2, axis=-1))
        forces = walk.swung([0, 0, -1], [[1, 0, 0], [0, 1, 0]])
        assert len(forces) == 5
        poses = [one.pose(force) for force in forces]
        every = np.array([one.deflection(there) for there in poses])
        ends = strokes(every.min(axis=0) - bend, every.max(axis=0) + bend)
        np.testing.assert_allclose(walking.swung_mounts[which], ends, rtol=1e-6, atol=1e-9)
        moved = np.array([there.moved(designs()[which].payload.corners()) for there in poses])
        sides = np.stack([-moved.min(axis=0), moved.max(axis=0)], axis=-1).reshape(8, 6)
        np.testing.assert_allclose(walking.swung_rest[which], sides, rtol=1e-6, atol=1e-9)
        np.testing.assert_allclose(walking.still, np.abs(forces).max(axis=0))
    assert walking.held.all()
    # steps a tenth faster than stated, at 2.2 Hz: bolted down all tones of an axis add
    steps = 1.1**2 * G0 * np.array([0.2 + 0.1, 0.1 + 0.1, 0.4 + 0.1 + 0.1 + 0.05])
    rms = 1.1**2 * G0 * np.sqrt(np.array([0.05, 0.02, 0.1825]) / 2)
    np.testing.assert_allclose(walking.bolted, steps)
    np.testing.assert_allclose(walking.bolted_rms, rms)


def test_a_sweep_says_which_modes_it_leaves_out_and_hurries_through() -> None:
    """From 9 Hz on at five octaves a minute, with a dwell below; only modes that take part."""
    sine = {
        "from": "9 Hz", "to": "14 Hz", "level": "0.1 g0", "rate": 5,
        "ways": ["vertical", "longitudinal"],
        "dwell": {"at": "7 Hz", "level": "0.3 g0"},
    }  # fmt: skip
    legs = [{**LEG, "sine": sine, "walk": False, "set_down": None, "drop": "none"}]
    legs = [{k: v for k, v in legs[0].items() if v is not None}]
    pair = [
        STARTER.changed("leg", legs).changed("payload.centre", ["30 mm", "-20 mm", "10 mm"])
        .changed("mount.ring.loss_factor", loss).design
        for loss in (0.05, 0.4)
    ]  # fmt: skip
    response = respond(pair)
    ringing = response.legs[0].sine
    held, pose = response.legs[0].suspension, response.legs[0].pose
    for which in (0, 1):
        low, fast, slow, swung = [], [], [], 0.0
        for own in pair[which].payload.inertias():
            one = held.taken(np.array([which]))
            at = Pose(*(getattr(pose, f.name)[which : which + 1] for f in fields(Pose)))
            modes = replace(one, inertia=own[None]).modes(at)
            natural = np.sqrt(modes.eigenvalue.real[0]) / (2 * math.pi)
            along, part = (np.abs(modes.shape[0, k] * modes.share[0, :, k]) > 0.05 for k in (0, 2))
            part = part | along
            low += [f for f in natural[part] if not 9 <= f <= 14]
            loss = modes.eigenvalue.imag[0] / modes.eigenvalue.real[0]
            limit = pair[which].legs[0].sine.sweep.fastest(natural, loss)
            slow += list(limit[part & np.isfinite(limit)])
            fast += list(natural[part & np.isfinite(limit)])
            tone = np.array([[7.0]]), np.array([[0.3 * G0]])
            dwell = sine_response(modes, np.zeros((1, 3)), 2, *tone).acceleration[0, 0, 2]
            grid = np.clip(natural[:, None] * np.linspace(0.9, 1.1, 2001), 9, 14).ravel()[None]
            size = np.full_like(grid, 0.1 * G0)
            swept = sine_response(modes, np.zeros((1, 3)), 2, grid, size).acceleration[0, 0, 2]
            swung = max(swung, float(dwell), float(swept))
        assert ringing.outside[which] == pytest.approx(min(low, default=math.nan), nan_ok=True)
        assert ringing.fast[which] == pytest.approx(min(fast, default=math.nan), nan_ok=True)
        wanted = min(slow, default=math.nan)
        assert ringing.slow_enough[which] == pytest.approx(wanted, nan_ok=True)
        ours = ringing.by_axis["z"].acceleration[which, :, 0, 2].max()
        assert ours == pytest.approx(swung, rel=2e-3)
    assert np.isfinite(ringing.fast[0])
    assert np.isnan(ringing.fast[1])
    assert np.isfinite(ringing.outside).any()


@pytest.mark.parametrize("at", ["18 Hz", "resonance"])
def test_a_dwell_alone_stays_where_it_is(at: str) -> None:
    sine = {"dwell": {"at": at, "level": "0.2 g0"}, "ways": ["transverse"]}
    legs = {**LEG, "sine": sine, "walk": False, "set_down": None, "drop": "none"}
    legs = [{k: v for k, v in legs.items() if v is not None}]
    design = STARTER.changed("leg", legs).design
    response = respond([design])
    found, held = response.legs[0].sine, response.legs[0].suspension
    modes = replace(held, inertia=design.payload.inertias()[:1]).modes(response.legs[0].pose)
    natural = np.sqrt(modes.eigenvalue.real[0]) / (2 * math.pi)
    near = natural[:, None] * np.linspace(0.7, 1.4, 4001) if at == "resonance" else np.array([18.0])
    grid = np.sort(near.ravel())[None]
    wanted = sine_response(modes, np.zeros((1, 3)), 1, grid, np.full_like(grid, 0.2 * G0))
    ours = found.by_axis["y"]
    np.testing.assert_allclose(ours.acceleration[0, 0, 0, 1], wanted.acceleration[0, 0, 1], 2e-3)
    np.testing.assert_allclose(ours.frequency[0, 0, 0, 1], wanted.frequency[0, 0, 1], rtol=0.02)
    assert np.isnan([found.outside, found.fast, found.slow_enough]).all()


def test_an_estimate_is_in_doubt_where_curves_and_rotation_meet() -> None:
    """Bent by 2 % of the force, turned by 2 % of the travel: of both, by mount and way."""
    seen = set()
    for kind in ("falling", "tilted"):
        fall = getattr(leg(), kind)
        down = np.broadcast_to(fall.down, (2, *fall.down.shape[-2:]))
        for which in (0, 1):
            one, _, _ = parts(which)
            for n in range(len(fall.landings)):
                mounts, bent, turns = fall.mounts[which, n], False, False
                along = (one.frames @ down[which, n]) * fall.flat.travel_most[which, n]
                back = -(one.frames @ down[which, n]) * fall.flat.rebound[which, n]
                straight = strokes(np.minimum(along, back), np.maximum(along, back))
                for way, (k, sign) in enumerate(((0, 1), (0, -1), (1, 1))):
                    for mount in range(4):
                        far = sign * mounts[mount, way]
                        both_ = np.zeros((4, 2))
                        both_[mount, k] = far
                        force = one.curve.force(both_)[mount, k]
                        line = one.curve.tangent(np.zeros((4, 2)))[mount, k] * far
                        bent |= abs(force - line) > 0.02 * max(abs(force), abs(line))
                        turns |= mounts[mount, way] > 1.02 * straight[mount, way] + 1e-6
                assert fall.doubt[which, n] == (2.0 if bent and turns else 1.0)
                seen.add((bool(bent), bool(turns)))
    assert {(True, True), (False, True)} <= seen


def test_what_a_mount_lacks_and_moves() -> None:
    mounts = np.zeros((2, 3, 2, 3))
    mounts[0, 1, 0, 2] = mounts[1, 2, 1, 0] = 1e-3
    mounts[1, 0] = 1e-10
    limits = np.full((2, 2, 3), 0.01)
    limits[:, 0, 2] = limits[:, 1, 1] = np.nan
    found = end_unknown(mounts, limits)
    assert found.tolist() == [[False, True, False], [False, False, False]]


def test_how_often_a_corner_touches() -> None:
    """The worst corner of each face; never where nothing is, and not a lid that is open."""
    response, room, shaking = both(), both().room, leg().shaking
    found = response.touches
    for which in (0, 1):
        left = room.gap[which] - room.tolerance[which] - (shaking.rest[which] - room.start[which])
        travel, speed = (
            np.repeat(a[which, 0, 1:], 2, axis=-1) for a in (shaking.travel, shaking.speed)
        )
        rate = np.where(np.isinf(left), 0.0, touches_an_hour(travel, speed, left)).max(axis=0)
        np.testing.assert_allclose(found[which, 0], rate, rtol=1e-9)
    assert (found > 0).any()


def test_modes_and_loads_of_each_attitude() -> None:
    response = both()
    for which in (0, 1):
        warm = response.suspension.taken(np.array([which]))
        for n, way in enumerate(ATTITUDES.values()):
            pose = warm.pose(G0 * np.array(way))
            force = np.linalg.norm(warm.mount_force(pose), axis=-1)[0]
            np.testing.assert_allclose(response.load[which, n], force, rtol=1e-7)
            np.testing.assert_allclose(
                response.deflection[which, n], warm.deflection(pose)[0], atol=1e-10
            )
        pose = warm.pose(G0 * np.array([0.0, 0.0, -1.0]))
        frequency, energy = warm.undamped(pose)
        bounce = frequency[0, energy[0, :, 2].argmax()]
        np.testing.assert_allclose(response.main_modes[which], [frequency[0, 0], bounce])
        np.testing.assert_allclose(
            response.main_modes_without_cables[which], [frequency[0, 0], bounce]
        )
        give = np.linalg.inv(warm.stiffness(pose)[0])
        np.testing.assert_allclose(response.compliance[which], np.diagonal(give)[:3], rtol=1e-7)
        one, inertia, there = parts(which)
        top = max(replace(one, inertia=own).frequencies(there)[-1] for own in inertia)
        assert response.highest_modes[which, 0] == pytest.approx(top)
        frequency, energy = one.undamped(there)
        bounce = frequency[energy[:, 2].argmax()]
        np.testing.assert_allclose(response.leg_modes[which, 0], [frequency[0], bounce])
    assert np.isinf(response.sheet_ratio).all()


def test_what_is_rigid_in_the_cold_is_unknown_and_the_other_is_not() -> None:
    ring = {**STARTER.text["mount"]["ring"], "cold_factor": 1.5, "cold_temperature": "0 °C"}
    legs = [{**LEG, "temperature": "-40 °C"}]
    cold = STARTER.changed("leg", legs).changed("mount.ring", ring).design
    more = {**ring, "cold_temperature": "-60 °C"}
    warm = STARTER.changed("leg", legs).changed("mount.ring", more).design
    found = respond([cold, warm]).legs[0]
    assert found.rigid.tolist() == [True, False]
    assert not found.uncertain.any()
    for value in (
        found.shaking.acceleration, found.shaking.mounts, found.sine.mounts, found.walking.mounts,
        found.set_down.mounts, found.set_down.reach, found.falling.corner_peak,
    ):  # fmt: skip
        each = np.isnan(value).reshape(2, -1).all(axis=1)
        assert each.tolist() == [True, False]
    alone = respond([warm]).legs[0]
    np.testing.assert_allclose(found.shaking.mounts[1], alone.shaking.mounts[0], rtol=1e-9)


def test_what_lets_go_when_pulled_has_no_limit_there() -> None:
    """The height is that of the limits that there are, whatever has none."""
    pads = STARTER.changed("leg", [{**LEG, "walk": False, "drop": "0.1 m"}]).changed(
        "mount.ring.captive", False
    )
    fall = respond([pads.design]).legs[0]
    limits, drop = fall.limits[0], fall.falling
    assert np.isinf(limits[:, 1]).all()
    ends = np.isfinite(limits)
    used = (drop.mounts[0, 0][ends] / limits[ends]).max()
    just = height_for(fall.suspension, (0, 0, -1), drop.flat.travel_most[:, 0] / used)
    np.testing.assert_allclose(drop.bottoming_height[:, 0], just, rtol=1e-6)
    assert used < 1

"""A leg of two designs: as each alone, and what is put together from the kernels that it calls."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from isolator.brief import read_brief
from isolator.curve import Curve
from isolator.leg import _bent, _turns, end_unknown, share_of_travel
from isolator.outcome import LegResponse
from isolator.payload import Part
from isolator.response import Response, respond
from isolator.shock import flat_drop, height_for, jolt, light_shell_peak, swing
from isolator.suspension import ATTITUDES, Pose, Suspension, motion_at, strokes
from isolator.trip import AXES, Spectrum
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
    np.testing.assert_array_equal(fall.spin, np.zeros(3))
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
    sine = {"dwell": {"at": at, "level": "0.2 g0"}}
    legs = {**LEG, "sine": sine, "walk": False, "set_down": None, "drop": "none"}
    legs = [{k: v for k, v in legs.items() if v is not None}]
    wide = STARTER.changed("mount.ring.along", "24 N/mm").changed("mount.ring.across", "2 N/mm")
    design = wide.changed("leg", legs).design  # its sway lies far below its bounce
    response = respond([design])
    found, held = response.legs[0].sine, response.legs[0].suspension
    modes = replace(held, inertia=design.payload.inertias()[:1]).modes(response.legs[0].pose)
    natural = np.sqrt(modes.eigenvalue.real[0]) / (2 * math.pi)
    near = natural[:, None] * np.linspace(0.7, 1.4, 4001) if at == "resonance" else np.array([18.0])
    grid = np.sort(near.ravel())[None]
    for k, axis in enumerate(AXES):
        wanted = sine_response(modes, np.zeros((1, 3)), k, grid, np.full_like(grid, 0.2 * G0))
        ours, most = found.by_axis[axis], wanted.acceleration[0, 0, k]
        np.testing.assert_allclose(ours.acceleration[0, 0, 0, k], most, 2e-3)
        np.testing.assert_allclose(ours.frequency[0, 0, 0, k], wanted.frequency[0, 0, k], rtol=0.02)
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
    mounts[0, 0, 0, 0], mounts[1, 1, 0, 0], mounts[0, 2, 1, 2] = 0.004, np.inf, np.nan
    limits[1, 1, 0] = np.inf
    share = np.zeros((2, 3, 2, 3))
    share[0, 1, 0, 2], share[0, 0, 0, 0], share[1, 1, 0, 0] = np.nan, 0.4, np.inf
    np.testing.assert_allclose(share_of_travel(mounts, limits), share)


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
        found.walking.swung_mounts, found.walking.swung_rest,
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


STIFF = {
    "payload.centre": ["0 mm", "0 mm", "0 mm"], "mounts.height": "0 mm",
    "mount.ring.along": "40 N/mm", "mount.ring.across": "4 N/mm",
    "mount.ring.dynamic_ratio": 1.0, "mount.ring.loss_factor": 0.05,
}  # fmt: skip
ACROSS, ALONG = (math.sqrt(4 * k / 8) / (2 * math.pi) for k in (4e3, 40e3))
"""Bounce of 8 kg on the four of them: 7.1 Hz across, 22.5 Hz along. [Hz]"""


def shaken_by(sine: Mapping[str, object], **changes: object):
    """What a sine along and across does to 8 kg in the middle of four stiff mounts."""
    kept = {k: LEG[k] for k in ("name", "temperature", "road")}
    own = {"ways": ["transverse", "vertical"], **sine}
    brief = STARTER.changed("leg", [{**kept, "drop": "none", "sine": own}])
    for key, value in {**STIFF, **changes}.items():
        brief = brief.changed(key, value)
    return respond([brief.design]).legs[0].sine


SLOW = {"payload.mass": "80 kg", "mount.ring.across": "0.01 N/mm"}
SWAY = math.sqrt(4 * 10 / 80) / (2 * math.pi)
"""0.113 Hz."""


def test_a_mode_far_below_one_hertz_is_met_and_hurried_through() -> None:
    found = shaken_by(
        {"ways": ["transverse"], "dwell": {"at": "resonance", "level": "0.001 g0"}}, **SLOW
    )
    ours = found.by_axis["y"]
    assert ours.frequency[0, 0, 0, 1] == pytest.approx(SWAY, rel=1e-2)
    assert ours.acceleration[0, 0, 0, 1] / (0.001 * G0) == pytest.approx(
        math.hypot(1, 0.05) / 0.05, rel=5e-3
    )
    sweep = {"from": "0.1 Hz", "to": "1 Hz", "level": "0.001 g0", "rate": 60}
    found = shaken_by({"ways": ["transverse"], **sweep}, **SLOW)
    assert found.fast[0] == pytest.approx(SWAY, rel=1e-3)
    assert found.slow_enough[0] == pytest.approx(77.6 * SWAY * 0.05**2, rel=1e-3)


def test_a_dwell_at_resonance_meets_the_lowest_and_the_highest_mode() -> None:
    """A spring with a complex modulus at its resonance: |T| = √(1 + η²)/η."""
    found = shaken_by({"dwell": {"at": "resonance", "level": "0.01 g0"}})
    for axis, natural in (("y", ACROSS), ("z", ALONG)):
        k, ours = AXES.index(axis), found.by_axis[axis]
        felt = ours.acceleration[0, 0, 0, k] / (0.01 * G0)
        assert felt == pytest.approx(math.hypot(1, 0.05) / 0.05, rel=5e-3)
        assert ours.frequency[0, 0, 0, k] == pytest.approx(natural, rel=1e-2)


@pytest.mark.parametrize(
    ("low", "high", "outside", "hurried"),
    [(5, 40, None, ACROSS), (10, 15, ACROSS, None), (5, 15, ALONG, ACROSS)],
)
def test_of_the_axes_of_a_sweep_the_lowest_mode_is_named(low, high, outside, hurried) -> None:
    found = shaken_by({"from": f"{low} Hz", "to": f"{high} Hz", "level": "0.1 g0", "rate": 60})

    def seen(value: float | None) -> object:
        return pytest.approx(math.nan if value is None else value, rel=1e-3, nan_ok=True)

    assert found.outside[0] == seen(outside)
    assert found.fast[0] == seen(hurried)
    assert found.slow_enough[0] == seen(hurried and 77.6 * hurried * 0.05**2)


def legs_with(**more: object):
    kept = {k: LEG[k] for k in ("name", "temperature", "road", "duration")}
    return {**kept, "drop": "0.1 m", "landings": ["lid up"], **more}


PULSE = {
    "pulse": {"shape": "half-sine", "peak": "2 g0", "duration": "6 ms"},
    "pulse_axes": ["vertical"],
}  # fmt: skip


def test_a_loose_case_and_mounts_that_are_frozen_leave_all_unknown() -> None:
    """A pulse or a road of 4 g needs a case that is tied down; one kind of two frozen is enough."""
    clock = Part(
        name="clock", mass="1 g", position=["60 mm", "0 mm", "0 mm"], shape="point",
        vibration_limit="5 g0",
    )  # fmt: skip

    def with_clock(brief, **own):
        design = brief.changed("leg", [legs_with(**PULSE, **own)]).design
        return replace(design, payload=replace(design.payload, parts=[clock]))

    def known(found: LegResponse) -> list[list[bool]]:
        each = (
            found.knock.mounts["z"], found.knock.swing, found.knock.by_axis["z"].acceleration,
            found.shaking.mounts, found.shaking.acceleration, found.parts.felt.swapaxes(0, 1),
        )  # fmt: skip
        flat = [np.isfinite(value).reshape(len(value), -1) for value in each]
        assert all((row.all(axis=1) == row.any(axis=1)).all() for row in flat)
        return [row.all(axis=1).tolist() for row in flat]

    for tied, answer in (({}, True), ({"tied": True}, True), ({"tied": False}, False)):
        found = respond([with_clock(STARTER, level=8.0, **tied)]).legs[0]
        assert known(found) == [[answer]] * 6
    # below 1 g a loose case follows its floor, but no pulse
    calm = known(respond([with_clock(STARTER, level=0.1, tied=False)]).legs[0])
    assert calm == [[False]] * 3 + [[True]] * 3
    ring = {**STARTER.text["mount"]["ring"], "cold_factor": 1.5, "cold_temperature": "0 °C"}
    frozen = with_clock(STARTER.changed("mount.ring", ring), temperature="-40 °C")
    ring["cold_temperature"] = "-60 °C"
    warm = with_clock(STARTER.changed("mount.ring", ring), temperature="-40 °C")
    mixed = replace(warm, places=[frozen.places[0], *warm.places[1:]])
    found = respond([warm, mixed, with_clock(STARTER, temperature="-40 °C")]).legs[0]
    assert found.rigid.tolist() == [False, True, False]
    assert found.uncertain.tolist() == [False, False, True]
    # a part on rigid mounts feels the case
    assert known(found) == [[True, False, False]] * 5 + [[True, True, False]]
    assert np.isnan(found.falling.mounts).reshape(3, -1).all(axis=1).tolist() == [False, True, True]


def test_a_mount_is_bent_where_it_leaves_its_tangent() -> None:
    """Straight for 10 mm when pushed, 6 mm when pulled and 4 mm across, and harder beyond.

    By 2 % of the larger force: at 1.0102 of the way it is off by 1.98 % of it.
    """
    ends = np.array([[-0.006, 0.010], [-0.004, 0.004]])
    nodes = np.concatenate([[[-0.03]] * 2, ends[:, :1], ends[:, :1], [[0.0]] * 2,
                            ends[:, 1:], ends[:, 1:], [[0.03]] * 2], axis=1)  # fmt: skip
    slope = 1e3 * np.array([3.0, 3, 1, 1, 1, 3, 3])
    force = np.zeros((2, 7))
    for m in (0, 1):
        for k in range(7):
            inner = np.clip(nodes[m, k], *ends[m])
            force[m, k] = 1e3 * inner + 3e3 * (nodes[m, k] - inner)
    curve = Curve(nodes, force, np.broadcast_to(slope, (2, 7)))
    bent = Curve(*(np.broadcast_to(getattr(curve, f.name), (1, 4, 2, 7)) for f in fields(Curve)))
    held = replace(leg().suspension.taken(np.array([0])), curve=bent)
    for way, end in enumerate((0.010, 0.006, 0.004)):
        mounts = np.zeros((1, 4, 4, 3))
        mounts[0, :, 2, way] = end * np.array([0.9, 1.0, 1.0102, 1.05])
        mounts[0, 0, 1, 0] = np.inf  # it has let go: nothing is known of its curve
        assert _bent(held, mounts).tolist() == [[False, False, False, True]]


def test_a_case_turns_where_a_mount_goes_further_than_the_centre() -> None:
    """Down onto the mounts along their axes: ahead by the travel, back by the rebound, no more."""
    held = leg().suspension.taken(np.array([0]))
    down = np.array([ATTITUDES["lid up"], ATTITUDES["lid down"]])
    flat = SimpleNamespace(
        travel_most=np.array([[0.02, 0.02]]), rebound=np.array([[0.005, np.inf]])
    )
    along = held.frames[0, :, 0, 2]
    ends = np.stack([np.where(along < 0, 0.02, 0.005), np.where(along < 0, 0.005, 0.02)])
    onto = np.stack([np.where(along > 0, 0.02, 0.0), np.where(along > 0, 0.0, 0.02)])
    own = np.zeros((1, 2, 4, 3))
    own[0, 0, :, :2], own[0, 1, :, :2] = ends.T, onto.T
    assert not _turns(held, down, flat, own).any()
    for way in range(3):
        for n in range(2):
            for share, off, turns in ((1.019, 0.5e-6, False), (1.021, 2e-6, True)):
                more = own.copy()
                more[0, n, 1, way] = share * own[0, n, 1, way] + off
                assert _turns(held, down, flat, more)[0].tolist() == [
                    turns and n == k for k in (0, 1)
                ]


def test_a_payload_stands_where_it_rests_without_toppling() -> None:
    """Pads hold nothing with the lid down; on soft feet a tall one rests only to fall over."""
    kept = {k: LEG[k] for k in ("name", "temperature", "road", "duration")}
    upside = STARTER.changed("leg", [{**kept, "drop": "none", "attitude": "lid down"}])
    pads = upside.changed("mount.ring.captive", False)
    found = respond([upside.design, pads.design]).legs[0]
    assert found.stands.tolist() == [True, False]
    assert np.isfinite(found.shaking.mounts[0]).all()
    assert np.isnan(found.shaking.mounts[1]).all()
    sine = {"dwell": {"at": "resonance", "level": "0.01 g0"}}  # of a mode that is none, too
    tall = STARTER.changed("leg", [{**kept, "drop": "none", "sine": sine}])
    for key, value in {
        "payload.size": ["150 mm", "150 mm", "700 mm"], "mounts.height": "-300 mm",
        "payload.centre": ["0 mm", "0 mm", "300 mm"], "mount.ring.along": "2 N/mm",
    }.items():  # fmt: skip
        tall = tall.changed(key, value)
    # four of k at ±35 mm: 4 k a² against m g h, h the height over the feet
    stiff = [4 * k * 0.035**2 > 8 * G0 * 0.6 for k in (2e3, 2e4)]
    pair = [tall.design, tall.changed("mount.ring.along", "20 N/mm").design]
    found = respond(pair).legs[0]
    assert found.pose.found.tolist() == [True, True]
    assert found.stands.tolist() == stiff == [False, True]
    felt = found.sine.by_axis["z"].acceleration
    assert [np.isfinite(one).all() for one in felt] == stiff


def test_mounts_that_are_rigid_in_the_cold_stand_as_at_23_degrees() -> None:
    ring = {**STARTER.text["mount"]["ring"], "cold_factor": 1.5, "cold_temperature": "0 °C"}
    cold = STARTER.changed("leg", [legs_with(temperature="-40 °C")])
    unknown = cold.design
    rigid = cold.changed("mount.ring", ring).design
    known = cold.changed("mount.ring", {**ring, "cold_temperature": "-60 °C"}).design
    mixed = replace(known, places=[unknown.places[0], *known.places[1:]])
    response = respond([rigid, unknown, mixed, known])
    found = response.legs[0]
    assert found.rigid.tolist() == [True, False, False, False]
    assert found.uncertain.tolist() == [False, True, True, False]
    warm, there = response.suspension.curve.force_at, found.suspension.curve.force_at
    np.testing.assert_allclose(there[:2], warm[:2])
    np.testing.assert_allclose(there[2, 0], warm[2, 0])
    factor = known.places[0].mount.cold(-40.0)[0]
    assert factor > 1
    np.testing.assert_allclose(there[3], factor * warm[3])
    np.testing.assert_allclose(there[2, 1:], factor * warm[2, 1:])


def test_a_road_says_which_of_its_axes_miss_a_mode_and_one_that_nobody_gave_says_nothing() -> None:
    """Lines from 4, 10 and 30 Hz on: the bounce along an axis counts that lies below them."""

    def line(first: float) -> Spectrum:
        return Spectrum("flat", np.array([first, 35.0, 200.0]), np.full(3, 0.1), "invented")

    brief = STARTER
    for key, value in STIFF.items():
        brief = brief.changed(key, value)
    design = brief.changed("leg", [legs_with()]).design
    road = {"longitudinal": line(4), "transverse": line(10), "vertical": line(30)}
    given = respond([replace(design, legs=[replace(design.legs[0], road=road)])]).legs[0].shaking
    for axis, wanted in (("x", math.nan), ("y", ACROSS), ("z", ALONG)):
        assert given.uncovered[axis] == pytest.approx([wanted], rel=1e-6, nan_ok=True)
    none = respond([replace(design, legs=[replace(design.legs[0], road={})])]).legs[0].shaking
    assert none.by_axis == {}
    for f in fields(none):
        if f.name not in ("by_axis", "uncovered", "rest"):
            empty, full = getattr(none, f.name), getattr(given, f.name)
            assert empty.shape == full.shape, f.name
            assert np.isnan(empty).all()
            assert np.isfinite(full).all()


def test_landings_of_ones_own_and_those_of_a_case_whose_size_nobody_gave() -> None:
    """Own ones by name and spin; edges and corners together, of cases that all have a size."""
    own = [
        {"name": "askew", "down": [3, 0, -4], "spin": ["0 rpm", "60 rpm", "0 rpm"]},
        {"name": "flat", "down": [0, 0, -2]},
    ]
    brief = STARTER.changed("leg", [legs_with(landings=["edges", "corners"], own=own)])
    sized = brief.changed("case.size", ["520 mm", "420 mm", "270 mm"])
    found = respond([sized.design]).legs[0]
    assert list(found.own.groups) == ["own", "own"]
    assert list(found.own.landings) == ["askew", "flat"]
    np.testing.assert_allclose(found.own.down, [[0.6, 0, -0.8], [0, 0, -1]])
    np.testing.assert_allclose(found.own.spin, [[0, 2 * math.pi, 0], [0, 0, 0]])
    case = sized.design.case
    each = [case.fall_lines(group) for group in ("edges", "corners")]
    assert list(found.tilted.landings) == each[0][0] + each[1][0]
    assert list(found.tilted.groups) == ["edges"] * 12 + ["corners"] * 8
    np.testing.assert_allclose(found.tilted.down[0], np.concatenate([down for _, down in each]))
    assert respond([sized.design, brief.design]).legs[0].tilted is None


def test_a_shell_of_ten_times_the_payload_is_heavy_beside_it() -> None:
    """One that is lighter has a lower bound of its peak, by the energy that it keeps."""
    brief = STARTER.changed("leg", [legs_with()])
    made = [brief.changed("case.mass", f"{m} kg").design for m in (79.9, 80.0)]
    least = respond(made).legs[0].falling.peak_least
    assert np.isnan(least).ravel().tolist() == [False, True]

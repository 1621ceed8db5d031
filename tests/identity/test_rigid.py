"""What must not change, and how things must scale, for a rigid body on mounts."""

import math
from dataclasses import fields, replace
from itertools import product

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from isolator import sdof
from isolator.case import Case
from isolator.curve import Curve
from isolator.design import Design
from isolator.mount import Mount, Place
from isolator.payload import CORNERS, Payload, box_corners
from isolator.shock import flat_drop, height_for, swing
from isolator.suspension import (
    ATTITUDES,
    Suspension,
    frame,
    motion_at,
    motion_name,
    rotation,
)
from isolator.trip import Leg
from isolator.units import G0
from isolator.vibration import (
    random_response,
    touches_an_hour,
    transmissibility,
    worse_than_bolted,
)

TAU = 2.0 * math.pi
DOWN = np.array([0.0, 0.0, -1.0])
POINTS = np.concatenate([np.zeros((1, 3)), box_corners(np.array([0.4, 0.3, 0.15]))])
LINES, DENSITY = np.array([2.0, 20.0, 200.0]), np.array([0.5, 1.0, 0.05])

seeds = st.integers(0, 2**32 - 1)
many = settings(max_examples=15, deadline=None)


def test_half_a_ton_on_the_softest_mounts_sways_at_a_fiftieth_of_a_hertz() -> None:
    soft = Suspension.of_springs(
        500.0, np.eye(3) * 20.0, 0.3 * np.array([[1, 1, 0], [1, -1, 0], [-1, 1, 0], [-1, -1, 0]]),
        np.full(4, 1e4), np.full(4, 2.5), push=np.tile([0.0, 0.0, 1.0], (4, 1)),
        dynamic_ratio=np.ones(4), loss_factor=np.zeros(4),
    )  # fmt: skip
    natural = soft.modes().natural
    assert np.sort(natural)[:2] == pytest.approx(math.sqrt(10 / 500) / TAU, rel=1e-9)


def some(seed: int, mounts: int = 4) -> Suspension:
    """A payload on captive linear mounts of different kinds with axes every which way."""
    rng = np.random.default_rng(seed)
    push = rng.normal(size=(mounts, 3))
    turn = Rotation.random(rng=rng).as_matrix()
    moments = rng.uniform([0.05, 0.05, 0.05], [0.09, 0.09, 0.09])
    return Suspension.of_springs(
        float(rng.uniform(5.0, 15.0)),
        turn @ np.diag(moments) @ turn.T,
        rng.uniform(-0.2, 0.2, (mounts, 3)),
        rng.uniform(5e3, 2e4, mounts),
        rng.uniform(5e3, 2e4, mounts),
        push=push / np.linalg.norm(push, axis=-1, keepdims=True),
        dynamic_ratio=rng.uniform(1.0, 2.0, mounts),
        loss_factor=rng.uniform(0.02, 0.5, mounts),
    )


def picked(suspension: Suspension, index: list[int]) -> Suspension:
    """The same payload on the mounts of an index list."""
    curve = suspension.curve
    return replace(
        suspension,
        curve=Curve(*(getattr(curve, f.name)[index] for f in fields(Curve))),
        **{
            name: getattr(suspension, name)[index]
            for name in ("position", "frames", "dynamic_ratio", "loss_factor")
        },
    )


def numbers(suspension: Suspension, down: np.ndarray = DOWN) -> list[np.ndarray]:
    """Everything that a change of description must leave alone, for motion along `down`."""
    pose = suspension.pose(G0 * down)
    assert pose.found
    drop = flat_drop(suspension, down, 0.3, np.full((suspension.position.shape[0], 3), 0.04))
    return [
        suspension.frequencies(),
        suspension.frequencies(pose),
        np.sort_complex(suspension.modes(pose).eigenvalue),
        suspension.gravity_left(pose),
        pose.tilt,
        drop.travel,
        drop.peak,
        drop.duration,
        drop.velocity_change,
        drop.bottom,
        drop.bottoming_height,
    ]


def same(one: list[np.ndarray], other: list[np.ndarray], rtol: float = 1e-8) -> None:
    for a, b in zip(one, other, strict=True):
        np.testing.assert_allclose(a, b, rtol=rtol, atol=1e-10)


@many
@given(seeds)
def test_turning_the_axes_changes_nothing(seed: int) -> None:
    tray = some(seed)
    q = Rotation.random(rng=np.random.default_rng(seed + 1)).as_matrix()
    turned = replace(
        tray,
        inertia=q @ tray.inertia @ q.T,
        position=tray.position @ q.T,
        # Across its axis a mount is alike in all directions: the frame need only keep the first.
        frames=frame(tray.frames[:, 0] @ q.T),
    )
    assume(tray.pose(G0 * DOWN).found)  # some topple
    same(numbers(tray), numbers(turned, q @ DOWN))
    # What is fixed to the payload turns as a vector: T → q T qᵀ.
    ours = transmissibility(tray.modes(), POINTS, [7.0, 25.0])
    other = transmissibility(turned.modes(), POINTS @ q.T, [7.0, 25.0])
    np.testing.assert_allclose(q @ ours @ q.T, other, atol=1e-8 * np.abs(ours).max())


@many
@given(seeds, st.permutations(range(5)))
def test_the_order_of_the_mounts_does_not_matter(seed: int, order: list[int]) -> None:
    tray = some(seed, 5)
    same(numbers(tray), numbers(picked(tray, order)))


@many
@given(seeds, st.integers(0, 3))
def test_two_mounts_of_half_the_stiffness_are_one(seed: int, which: int) -> None:
    tray = some(seed)
    split = picked(tray, [0, 1, 2, 3, which])
    half = np.ones(5)
    half[[which, 4]] = 0.5
    same(numbers(tray), numbers(split.stiffened(half, split.loss_factor)))


@many
@given(seeds, st.floats(0.5, 60.0))
def test_reciprocity_of_the_receptance(seed: int, frequency: float) -> None:
    """A force here moves a point there as a force there moves the point here."""
    tray = some(seed)
    modes = tray.modes()
    gain = 1 / (modes.eigenvalue - (TAU * frequency) ** 2)
    receptance = modes.shape * gain @ modes.share @ np.linalg.inv(tray.mass_matrix())
    np.testing.assert_allclose(
        receptance, receptance.T, rtol=1e-7, atol=1e-9 * np.abs(receptance).max()
    )
    np.testing.assert_allclose(modes.shape @ modes.share, np.eye(6), atol=1e-9)


@many
@given(seeds)
def test_the_payload_follows_a_slow_case_and_stays_behind_a_fast_one(seed: int) -> None:
    gain = transmissibility(some(seed).modes(), POINTS, [1e-4, 1e6])
    np.testing.assert_allclose(gain[0], np.broadcast_to(np.eye(3), gain[0].shape), atol=1e-6)
    np.testing.assert_allclose(gain[1], 0.0, atol=1e-6)


def test_a_symmetric_layout_decouples() -> None:
    feet = [(x, y, -0.05) for x, y in product((-0.16, 0.16), (-0.11, 0.11))]
    tray = Suspension.of_springs(12.0, np.diag([0.11, 0.18, 0.25]), feet, 9e3, 6e3, loss_factor=0.1)
    gain = transmissibility(tray.modes(), POINTS, np.geomspace(1, 100, 30))
    np.testing.assert_allclose(gain[:, :, [0, 1], 2], 0.0, atol=1e-10)
    np.testing.assert_allclose(gain[:, 0, 0, 1], 0.0, atol=1e-10)
    assert np.abs(gain[:, 1, 2, 0]).max() > 0.1  # but sway along x rocks the corners
    low, high = swing(tray, DOWN, 0.3, motion_at(POINTS), 0.05, 0.04)
    np.testing.assert_allclose(low[:, 2], -0.05, rtol=1e-9)
    np.testing.assert_allclose(high[:, 2], 0.04, rtol=1e-9)
    np.testing.assert_allclose([low[:, :2], high[:, :2]], 0.0, atol=1e-9)


def centred(frequency: float, eta: float = 0.1, mass: float = 8.0) -> Suspension:
    stiffness = float(sdof.stiffness_for(frequency, mass)) / 4
    corners = [(x, y, 0.0) for x, y in product((-0.1, 0.1), (-0.1, 0.1))]
    return Suspension.of_springs(
        mass, np.eye(3) * 0.08, corners, stiffness, stiffness, loss_factor=eta
    )


@many
@given(st.floats(3.0, 40.0), st.floats(0.01, 0.6), st.floats(0.02, 1.5), st.sampled_from([0, 1, 2]))
def test_a_centred_payload_is_one_mass_on_one_spring(
    frequency: float, eta: float, height: float, axis: int
) -> None:
    tray, way = centred(frequency, eta), -np.eye(3)[axis]
    pose = tray.pose(G0 * way)
    assert -pose.shift[axis] == pytest.approx(
        sdof.static_deflection(sdof.stiffness_for(frequency, 8.0), 8.0), rel=1e-9
    )
    modes = tray.modes()
    excited = np.geomspace(0.3, 20.0, 25) * frequency
    gain = np.abs(transmissibility(modes, POINTS, excited)[:, :, axis, axis])
    single = sdof.structural_transmissibility(excited / frequency, eta)
    np.testing.assert_allclose(gain, np.repeat(single[:, None], 9, axis=1), rtol=1e-7)

    worse = worse_than_bolted(modes, POINTS, axis)
    np.testing.assert_allclose(worse.peak, math.sqrt(1 + eta**2) / eta, rtol=1e-8)
    np.testing.assert_allclose(worse.below, frequency * math.sqrt(2), rtol=1e-6)

    unknown = np.full((4, 3), np.nan)
    drop = flat_drop(tray, way, height, unknown)
    peak, travel = sdof.linear_drop(height, frequency, gravity=True)
    assert drop.peak == pytest.approx(peak, rel=1e-9)
    assert drop.travel == pytest.approx(travel, rel=1e-9)
    assert np.isnan([drop.bottom, drop.bottoms, drop.contact_speed, drop.bottoming_height]).all()
    sag = float(sdof.natural_frequency_from_deflection(1.0) / frequency) ** 2
    assert drop.peak_most == pytest.approx(peak + 1, rel=1e-9)
    assert drop.travel_most == pytest.approx(travel + sag, rel=1e-9)
    assert drop.rebound == pytest.approx(travel - sag, rel=1e-9)
    assert height_for(tray, way, drop.travel_most) == pytest.approx(height, rel=1e-8)
    # A shell that rebounds: the worse of its first flight and of a gravity that stays.
    flight = flat_drop(tray, way, height, unknown, restitution=1.0)
    thrown, further = sdof.linear_drop(height, frequency, gravity=False, restitution=1.0)
    assert flight.peak == pytest.approx(max(peak, thrown), rel=1e-9)
    assert flight.travel == pytest.approx(max(travel, further), rel=1e-9)
    assert flight.peak_most == pytest.approx(max(peak, thrown) + 1, rel=1e-9)
    assert flight.rebound == pytest.approx(max(travel - sag, further + sag), rel=1e-9)
    again = height_for(tray, way, flight.travel_most, restitution=1.0)
    assert again == pytest.approx(height, rel=1e-8)
    if thrown > peak:
        # A half-sine is above a tenth of its peak for 1 − (2/π) asin 0.1 of its length.
        long = 0.5 / frequency * (1 - 2 / math.pi * math.asin(0.1))
        assert flight.duration == pytest.approx(long, rel=1e-9)
        change = 2 * 2 * sdof.drop_speed(height) * math.sqrt(0.99)
        assert flight.velocity_change == pytest.approx(change, rel=1e-9)


@many
@given(st.floats(5.0, 40.0))
def test_a_centred_payload_obeys_miles_on_a_flat_road(frequency: float) -> None:
    """Light damping, flat from a thousandth to a hundred times the resonance."""
    eta, lines = 0.02, frequency * np.array([1e-3, 1e2])
    ours = random_response(centred(frequency, eta).modes(), POINTS, 2, lines, np.ones(2))
    miles = sdof.miles_acceleration(frequency, 1 / eta, 1.0)
    np.testing.assert_allclose(ours.acceleration[:, 2], miles, rtol=1e-3)
    travel = sdof.miles_displacement(frequency, 1 / eta, 1.0)
    np.testing.assert_allclose(ours.travel[:, 2], travel, rtol=1e-3)
    # A narrow band crosses zero at its resonance.
    rate = ours.travel_speed[:, 2] / ours.travel[:, 2] / TAU
    np.testing.assert_allclose(rate, frequency, rtol=2e-2)


def curved(seed: int, points: int) -> Suspension:
    rng = np.random.default_rng(seed)
    d = np.cumsum(rng.uniform(0.004, 0.012, points))
    curves = [Curve.through(d, np.cumsum(rng.uniform(20.0, 80.0, points))) for _ in range(2)]
    return replace(some(seed), curve=Curve.stacked([Curve.stacked(curves)] * 4))


def test_a_batch_of_designs_equals_each_alone() -> None:
    designs = [some(1), curved(2, 3), curved(3, 5), some(4)]
    batch = Suspension.stacked(designs)
    limit = np.full((4, 3), 0.02)
    attitudes = np.array(list(ATTITUDES.values()))
    poses = batch.repeated().pose(G0 * attitudes)
    still = batch.pose(G0 * DOWN)
    modes = batch.modes(still)
    shaken = random_response(modes, POINTS, 0, LINES, DENSITY)
    worse = worse_than_bolted(modes, POINTS, 1)
    drops = flat_drop(batch.repeated(), attitudes, np.array([0.3]), limit, restitution=0.2)
    rows = motion_at(POINTS)
    rocked = swing(batch.repeated(), attitudes, 0.3, rows, 0.05, 0.04, restitution=0.2)
    gain = transmissibility(modes, POINTS, [5.0, 20.0])
    left = batch.repeated().gravity_left(poses)
    tight = {"rtol": 1e-12, "atol": 1e-14}
    for i, one in enumerate(designs):
        alone = one.pose(G0 * DOWN)
        np.testing.assert_allclose(still.shift[i], alone.shift, **tight)
        np.testing.assert_allclose(still.turn[i], alone.turn, **tight)
        own = one.modes(alone)
        np.testing.assert_allclose(modes.eigenvalue[i], own.eigenvalue, rtol=1e-10)
        np.testing.assert_allclose(
            gain[i], transmissibility(own, POINTS, [5.0, 20.0]), rtol=1e-9, atol=1e-12
        )
        single = random_response(own, POINTS, 0, LINES, DENSITY)
        for f in fields(single):
            np.testing.assert_allclose(
                getattr(shaken, f.name)[i], getattr(single, f.name), rtol=1e-12
            )
        np.testing.assert_allclose(worse.peak[i], worse_than_bolted(own, POINTS, 1).peak, rtol=1e-5)
        for j, way in enumerate(attitudes):
            pose = one.pose(G0 * way)
            np.testing.assert_array_equal(poses.found[i, j], pose.found)
            np.testing.assert_allclose(poses.shift[i, j], pose.shift, **tight)
            np.testing.assert_allclose(poses.turn[i, j], pose.turn, **tight)
            np.testing.assert_allclose(left[i, j], one.gravity_left(pose), rtol=1e-9)
            drop = flat_drop(one, way, 0.3, limit, restitution=0.2)
            for f in fields(drop):
                np.testing.assert_allclose(
                    getattr(drops, f.name)[i, j], getattr(drop, f.name), rtol=1e-12
                )
            alone_too = swing(one, way, 0.3, rows, 0.05, 0.04, restitution=0.2)
            for end, single_end in zip(rocked, alone_too, strict=True):
                np.testing.assert_allclose(end[i, j], single_end, **tight)


def test_attitudes_are_six_and_opposite_in_pairs() -> None:
    """z points up with the lid up; the handle is at −y, the left end at −x."""
    down = {name: np.array(way) for name, way in ATTITUDES.items()}
    np.testing.assert_array_equal(down["lid up"], [0, 0, -1])
    np.testing.assert_array_equal(down["on the handle side"], [0, -1, 0])
    np.testing.assert_array_equal(down["on the left end"], [-1, 0, 0])
    for one, other in (("lid up", "lid down"), ("on the left end", "on the right end")):
        np.testing.assert_array_equal(down[one], -down[other])
    np.testing.assert_array_equal(down["on the handle side"], -down["on the hinge side"])


def test_designs_are_taken_any_number_of_times() -> None:
    designs = [some(1), some(2), some(3)]
    taken = Suspension.stacked(designs).taken(np.array([2, 0, 2]))
    for got, one in zip(taken.frequencies(), (2, 0, 2), strict=True):
        np.testing.assert_allclose(got, designs[one].frequencies(), rtol=1e-12)
    # what they share, such as rigid sheets, is taken as many times
    shared = replace(Suspension.stacked(designs), sheet=np.full(4, 2e4))
    alone = replace(designs[1], sheet=np.full(4, 2e4)).frequencies()
    got = shared.taken(np.array([1])).frequencies()[0]
    np.testing.assert_allclose(got, alone, rtol=1e-12)


def test_one_mount_or_cable_of_unknown_loss_makes_a_design_unknown() -> None:
    cabled = replace(
        some(1), cable_position=np.zeros((2, 3)), cable_stiffness=np.full((2, 3), 100.0),
        cable_loss=np.array([0.1, 0.1]),
    )  # fmt: skip
    mount = replace(cabled, loss_factor=np.array([0.1, np.nan, 0.1, 0.1]))
    cable = replace(cabled, cable_loss=np.array([0.1, np.nan]))
    designs = Suspension.stacked([cabled, mount, cable])
    assert designs.loss_unknown().tolist() == [False, True, True]
    known = designs.across(designs.inertia[:, None], 0.3)
    assert not known.loss_unknown().any()
    np.testing.assert_array_equal(known.loss_factor[1], [[0.1, 0.3, 0.1, 0.1]])
    np.testing.assert_array_equal(known.cable_loss[2], [[0.1, 0.3]])
    bare = designs.without_cables()
    np.testing.assert_allclose(bare.frequencies()[0], some(1).frequencies(), rtol=1e-12)
    assert bare.loss_unknown().tolist() == [False, True, False]


def test_where_nothing_is_loaded_everything_is_found() -> None:
    """Cables pull with the rest of a batch, and one design's pose is that of it alone."""
    cabled = [
        replace(
            some(seed), cable_position=np.array([[0.1, 0.0, 0.05]]),
            cable_stiffness=np.full((1, 3), 2e3), cable_loss=np.array([0.1]),
        )
        for seed in (1, 4)
    ]  # fmt: skip
    batch = Suspension.stacked(cabled)
    assert batch.unloaded().found.tolist() == [True, True]
    pose = batch.pose(G0 * DOWN)
    for i, one in enumerate(cabled):
        alone = one.pose(G0 * DOWN)
        assert alone.found == pose.found[i]
        np.testing.assert_allclose(pose.shift[i], alone.shift, rtol=1e-9)
        weight = float(one.mass) * G0 * DOWN
        pulls = one.mount_force(alone).sum(axis=0) + one.cable_force(alone).sum(axis=0)
        np.testing.assert_allclose(pulls, -weight, rtol=1e-8, atol=1e-8)


def test_touches_broadcast_over_faces() -> None:
    rms, rate = np.array([[0.001], [0.002]]), np.array([[0.1], [0.2]])
    gap = np.array([0.001, 0.002, 0.003])
    batch = touches_an_hour(rms, rate, gap)
    assert batch.shape == (2, 3)
    assert batch[1, 2] == touches_an_hour(rms[1, 0], rate[1, 0], gap[2])
    assert np.all(np.diff(batch, axis=1) < 0)


def design(units: dict[str, str]) -> Design:
    """The regression box, every number written in the units of a table."""
    mount = Mount(
        name="ring",
        along=units["9 N/mm"],
        across=units["6 N/mm"],
        dynamic_ratio=1.2,
        loss_factor=0.1,
    )
    spots = [("+x", "+y"), ("+x", "-y"), ("-x", "+y"), ("-x", "-y")]
    places = [Place(mount=mount, position=[units[x], units[y], units["-z"]]) for x, y in spots]
    return Design(
        payload=Payload(mass=units["12 kg"], size=[units["a"], units["b"], units["c"]]),
        case=Case(),
        places=places,
        legs=[Leg(name="nowhere", vibrates=False, drops=False)],
    )


def test_inches_and_pounds_give_the_same_frequencies() -> None:
    pound, inch = 0.45359237, 25.4
    metric = {"9 N/mm": "9 N/mm", "6 N/mm": "6 N/mm", "12 kg": "12 kg", "-z": "-75 mm"}
    metric |= {"+x": "160 mm", "-x": "-160 mm", "+y": "110 mm", "-y": "-110 mm"}
    metric |= {"a": "400 mm", "b": "300 mm", "c": "150 mm"}

    def imperial(text: str) -> str:
        number, unit = text.split()
        factor, name = {
            "N/mm": (inch / (pound * G0), "lbf/in"),
            "kg": (1 / pound, "lb"),
            "mm": (1 / inch, "in"),
        }[unit]
        return f"{float(number) * factor:.15g} {name}"

    ours = design(metric).suspension()
    theirs = design({key: imperial(text) for key, text in metric.items()}).suspension()
    np.testing.assert_allclose(ours.frequencies(), theirs.frequencies(), rtol=1e-12)
    # Regression case (computed), the dynamic ratio of 1.2 on top.
    assert ours.frequencies()[2] == pytest.approx(8.71728 * math.sqrt(1.2), abs=1e-5)


def test_a_mount_is_round_across_its_axis() -> None:
    """Its travel across is as long on the diagonal as along x or y."""
    feet = [(x, y, 0.0) for x, y in product((-0.1, 0.1), (-0.1, 0.1))]
    tray = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, 8e3, 8e3)
    limit = np.tile([0.03, 0.02, 0.01], (4, 1))
    for way, bottom in (
        ((1.0, 0.0, 0.0), 0.01),
        ((0.6, 0.8, 0.0), 0.01),
        ((0.0, 0.0, -1.0), 0.03),
        ((0.0, 0.0, 1.0), 0.02),
        ((0.0, 0.6, -0.8), 0.01 / 0.6),
        ((0.0, 0.1, 0.99**0.5), 0.02 / 0.99**0.5),
    ):
        assert flat_drop(tray, way, 0.2, limit).bottom == pytest.approx(bottom, rel=1e-12)
    limit[:, :2] = np.inf
    assert flat_drop(tray, DOWN, 0.2, limit).bottom == np.inf
    limit[:, :2] = np.nan
    assert flat_drop(tray, (1.0, 0.0, 0.0), 0.2, limit).bottom == pytest.approx(0.01)
    assert np.isnan(flat_drop(tray, (0.6, 0.0, -0.8), 0.2, limit).bottom)


@many
@given(seeds, st.floats(0.2, 5.0))
def test_scaling_laws(seed: int, c: float) -> None:
    tray = some(seed)
    frequency = tray.frequencies()
    stiffer = tray.stiffened(np.full(4, c**2), tray.loss_factor)
    np.testing.assert_allclose(stiffer.frequencies(), c * frequency, rtol=1e-9)
    heavier = replace(tray, mass=c * tray.mass, inertia=c * tray.inertia)
    np.testing.assert_allclose(heavier.frequencies(), frequency / math.sqrt(c), rtol=1e-9)
    larger = replace(tray, position=c * tray.position, inertia=c**2 * tray.inertia)
    np.testing.assert_allclose(larger.frequencies(), frequency, rtol=1e-9)

    # Softer by as much as the height grows: the same g over that much more travel.
    limit = np.full((4, 3), 0.03)
    drop = flat_drop(tray, DOWN, 0.3, limit)
    soft = tray.stiffened(np.full(4, 1 / c), tray.loss_factor)
    other = flat_drop(soft, DOWN, 0.3 * c, c * limit)
    for name, power in {
        "peak": 0.0,
        "mount_force": 0.0,
        "bottoms": 0.0,
        "travel": 1.0,
        "rebound": 1.0,
        "bottoming_height": 1.0,
        "contact_speed": 0.5,
        "duration": 0.5,
        "velocity_change": 0.5,
    }.items():
        np.testing.assert_allclose(
            getattr(other, name), c**power * getattr(drop, name), rtol=1e-8, err_msg=name
        )

    # Twice the acceleration, twice the response.
    modes = tray.modes()
    once = random_response(modes, POINTS, 1, LINES, DENSITY)
    more = random_response(modes, POINTS, 1, LINES, c**2 * DENSITY)
    for f in fields(once):
        np.testing.assert_allclose(getattr(more, f.name), c * getattr(once, f.name), rtol=1e-9)


@many
@given(seeds)
def test_rotation_matrices_and_frames(seed: int) -> None:
    rng = np.random.default_rng(seed)
    vector = rng.normal(size=(4, 3)) * rng.uniform(0.0, 2.0)
    vector[0] = 0.0
    expected = Rotation.from_rotvec(vector).as_matrix()
    np.testing.assert_allclose(rotation(vector), expected, atol=1e-12)
    axes = frame(vector[1:] / np.linalg.norm(vector[1:], axis=-1, keepdims=True))
    eye = np.broadcast_to(np.eye(3), axes.shape)
    np.testing.assert_allclose(axes @ np.swapaxes(axes, -1, -2), eye, atol=1e-12)
    np.testing.assert_allclose(np.linalg.det(axes), 1.0, rtol=1e-12)


def test_modes_want_every_loss_factor() -> None:
    with pytest.raises(ValueError, match="loss factor of every mount"):
        some(1).stiffened(np.ones(4), np.array([0.1, np.nan, 0.1, 0.1])).modes()


def test_mode_names() -> None:
    frequency, energy = centred(8.0).undamped()
    assert np.all(np.diff(frequency) >= 0)
    np.testing.assert_allclose(energy.sum(axis=1), 1.0, rtol=1e-12)
    assert motion_name([0, 0, 0.9, 0, 0.1, 0]) == "bounce along z"
    assert motion_name([0, 0.3, 0, 0.7, 0, 0]) == "rock about x with sway along y"
    assert len(CORNERS) == len(POINTS) - 1


@given(st.floats(0, 6.3), st.floats(1e-4, 0.03))
def test_across_its_axis_a_mount_is_round(angle: float, length: float) -> None:
    """Turning a deflection across the axis turns the force and keeps its size and energy."""
    held = curved(1, 4)
    local = np.zeros((2, 4, 3))
    local[0, :, 1] = length
    local[1, :, 1:] = length * np.array([np.cos(angle), np.sin(angle)])
    force = held.force_at(local)
    np.testing.assert_allclose(force[1, :, 1], force[0, :, 1] * np.cos(angle), atol=1e-9)
    np.testing.assert_allclose(force[1, :, 2], force[0, :, 1] * np.sin(angle), atol=1e-9)
    np.testing.assert_allclose(held.energy_in(local)[1], held.energy_in(local)[0], rtol=1e-12)
    first, other = np.linalg.eigvalsh(held.tangent_at(local)[..., 1:, 1:])
    np.testing.assert_allclose(first, other, rtol=1e-9)

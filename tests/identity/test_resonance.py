"""What single parts feel, by closed forms: rigid ones, those bolted down, which modes move them."""

import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.linalg import eigh

from isolator.brief import read_brief
from isolator.payload import Part
from isolator.resonance import (
    THIRD,
    board_deflection,
    board_limit,
    bolted_response,
    moved,
    riding_response,
    single_parts,
    strength,
)
from isolator.shock import flat_drop, jolt
from isolator.suspension import ATTITUDES, Pose, Suspension, motion_at, rotation
from isolator.units import G0
from isolator.vibration import random_response

LINES, DENSITY = np.array([2.0, 20.0, 200.0]), np.array([0.5, 1.0, 0.05])
AT = np.array([[[0.1, 0.05, -0.02], [0.0, 0.0, 0.0]], [[-0.2, 0.1, 0.1], [0.0, 0.15, 0.0]]])


def held(shift: float) -> Suspension:
    """Four mounts of which one is stiff, below the centre."""
    feet = [(x, y, -0.06) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
    return Suspension.of_springs(
        8.0 + shift, np.diag([0.08, 0.12, 0.16]), feet, [4e3, 4e3, 5e3, 9e3], 3e3,
        loss_factor=[0.1, 0.2, 0.3, 0.15],
    )  # fmt: skip


BOTH = Suspension.stacked([held(0.0), held(3.0)])


def test_a_rigid_part_feels_what_its_place_feels() -> None:
    modes = BOTH.modes()
    for axis in range(3):
        found = riding_response(modes, AT[:, 0], axis, LINES, DENSITY, None)
        place = random_response(modes, AT[:, :1], axis, LINES, DENSITY).acceleration[:, 0]
        assert found.shape == (2, 2, 3)
        for reading in found:
            np.testing.assert_allclose(np.sqrt(reading), place, rtol=1e-6, atol=1e-9)
    area = 0.0  # bolted down a rigid part feels the spectrum itself
    for low, high in zip(range(2), range(1, 3), strict=True):
        slope = math.log(DENSITY[high] / DENSITY[low]) / math.log(LINES[high] / LINES[low])
        area += (DENSITY[high] * LINES[high] - DENSITY[low] * LINES[low]) / (slope + 1)
    np.testing.assert_allclose(bolted_response(LINES, DENSITY, None), [area, area])


def test_a_resonance_of_no_given_height_has_one_of_one() -> None:
    """Q = 1 viscous, ζ = ½: Miles' π/2 f Q W times 1 + 1/Q² on a wide flat spectrum."""
    wide, flat = np.array([0.01, 1e6]), np.full(2, 0.3)
    plain = bolted_response(wide, flat, 50.0)
    assert plain[1] == pytest.approx(math.pi / 2 * 50 * 0.3 * 2, rel=1e-3)
    sharp = bolted_response(wide, flat, 50.0, 20.0)
    assert sharp[1] == pytest.approx(math.pi / 2 * 50 * 20 * 0.3 * (1 + 1 / 400), rel=1e-3)
    modes = BOTH.modes()
    given = modes, AT[:, 0], 2, LINES, DENSITY, 40.0
    np.testing.assert_array_equal(riding_response(*given), riding_response(*given, 1.0))
    assert (riding_response(*given, 3.0) != riding_response(*given)).any()


def test_a_part_of_a_slow_resonance_has_what_a_fast_one_has_of_a_spectrum_as_slow() -> None:
    """On a thousandth of all frequencies, 0.1 Hz for 100 Hz, a flat spectrum has a thousandth."""
    fast, slow = (
        bolted_response(np.array([1.0, 1e4]) * scale, np.full(2, 0.01), 100.0 * scale, 5.0)
        for scale in (1.0, 1e-3)
    )
    np.testing.assert_allclose(slow, 1e-3 * fast, rtol=1e-6)


def test_which_modes_move_a_part() -> None:
    """m φ² above 0.05 along any axis, φ of unit modal mass; over a band of inertia."""
    band = np.array([[0.6, 1.0, 1.5], [0.8, 1.0, 2.0]])[..., None, None] * np.diag(
        [0.08, 0.12, 0.16]
    )
    pose = Pose(np.zeros((2, 3)), rotation([[0.1, -0.2, 0.1], [0.0, 0.1, 0.0]]), np.ones(2, bool))
    frequency, moves = moved(BOTH, band, pose, AT)
    assert frequency.shape == (2, 3, 6)
    assert moves.shape == (2, 3, 2, 6)
    for d in range(2):
        for i in range(3):
            one = replace(held((0.0, 3.0)[d]), inertia=band[d, i])
            at = Pose(pose.shift[d], pose.turn[d], pose.found[d])
            square, shape = eigh(one.stiffness(at), one.mass_matrix(at))
            np.testing.assert_allclose(frequency[d, i], np.sqrt(square) / (2 * math.pi), rtol=1e-9)
            for p in range(2):
                size = one.mass * (motion_at(at.turn @ AT[d, p]) @ shape) ** 2
                np.testing.assert_array_equal(moves[d, i, p], (size > 0.05).any(axis=0))
    assert moves.any()
    assert not moves.all()


def test_how_strong_a_spectrum_is_around_a_resonance() -> None:
    """Within a third of an octave, at its lines and at both ends."""
    lines, density = np.array([10.0, 30.0, 40.0, 90.0]), np.array([0.1, 2.0, 0.5, 0.05])
    assert strength(lines, density, 33.0) == (pytest.approx(1.0), pytest.approx(30.0))
    share, at = strength(lines, density, 15.0)  # rising: its upper end
    assert at == pytest.approx(15 * THIRD)
    slope = math.log(20) / math.log(3)
    assert share == pytest.approx(0.1 * (1.5 * THIRD) ** slope / 2)
    share, at = strength(lines, density, 70.0)  # falling: its lower end
    assert at == pytest.approx(70 / THIRD)
    assert strength(lines, density, 500.0)[0] == 0.0
    alone = np.array([0.1, 2.0, 4.0, 0.05])
    assert strength(lines, alone, 38.0) == (pytest.approx(1.0), pytest.approx(40.0))


def test_a_board_bends_three_sigma_and_has_a_limit_where_all_is_given() -> None:
    np.testing.assert_allclose(
        board_deflection([10.0, 20.0], [50.0, 100.0]),
        3 * np.array([10 / (100 * math.pi) ** 2, 20 / (200 * math.pi) ** 2]),
    )
    given = {
        "name": "board", "mass": "0.3 kg", "position": ["0 mm"] * 3, "shape": "point",
        "board_length": "8 in", "board_thickness": "0.1 in", "component_length": "4 in",
        "component_place": 0.5, "component": "dip",
    }  # fmt: skip
    assert board_limit(Part(**given)) == pytest.approx(0.0254 * 0.00022 * 8 / (0.1 * 0.5 * 2))
    for key in ("board_length", "component_length", "component"):
        assert board_limit(Part(**{k: v for k, v in given.items() if k != key})) is None


def case_of(parts, centre, restitution=0.2):
    """What `single_parts` asks of a design."""
    return SimpleNamespace(
        asking=lambda: parts,
        payload=SimpleNamespace(centre_of_gravity=lambda: np.array(centre)),
        case=SimpleNamespace(restitution=restitution),
    )


def test_single_parts_of_two_designs_are_put_together() -> None:
    """By place, worst of the band of inertia; bolted down where mounts are rigid in the cold."""
    point = {"mass": "0.2 kg", "shape": "point"}
    loose = Part(name="a", position=["60 mm", "-40 mm", "30 mm"], resonance="35 Hz",
                 amplification=6.0, fragility="60 g0", **point)  # fmt: skip
    unknown = Part(name="b", position=["0 mm"] * 3, resonance="50 Hz", **point)
    fixed = Part(name="c", position=["0 mm"] * 3, resonance="80 Hz", amplification=4.0, **point)
    parts = [(loose, True), (unknown, True), (fixed, False)]
    leg = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml").design.legs[0]
    centres = [[0.01, 0.02, -0.01], [0.0, -0.01, 0.0]]
    designs = [case_of(parts, centre) for centre in centres]
    band = np.array([[1.0, 0.8], [0.8, 1.4]])[..., None, None] * np.diag([0.08, 0.12, 0.16])
    pose = Pose(np.zeros((2, 3)), rotation([[0.1, -0.2, 0.1], [0.0, 0.1, 0.2]]), np.ones(2, bool))
    ways = np.array([ATTITUDES[face] for face in leg.faces()])
    flat = flat_drop(BOTH.repeated(), ways, 0.2, np.full((2, 1, 4, 3), np.nan), restitution=0.2)
    no = np.zeros(2, dtype=bool)
    given = leg, designs, BOTH, band, pose

    def road(part, d=None, i=None, at=None):
        total = np.zeros((2, 3))
        for k, axis in enumerate("xyz"):
            lines, density = leg.spectrum(axis).lines, leg.spectrum(axis).density * leg.level**2
            tone = (35.0, 6.0) if part is loose else (80.0, 4.0)
            if at is None:
                total[:, k] += bolted_response(lines, density, *tone)
            else:
                one = replace(held((0.0, 3.0)[d]), inertia=band[d, i])
                modes = one.modes(Pose(pose.shift[d], pose.turn[d], pose.found[d]))
                total += riding_response(modes, at, k, lines, density, *tone)
        return np.sqrt(total)

    for rigid in (no, np.array([False, True])):
        found = single_parts(*given, no, rigid, flat)
        assert np.isnan(found.felt[:, :, 1]).all()
        for d in range(2):
            at = np.array([0.06, -0.04, 0.03]) - centres[d]
            spot = pose.turn[d] @ at
            wanted = np.max([road(loose, d, i, spot) for i in range(2)], axis=0)
            wanted = road(loose) if rigid[d] else wanted
            np.testing.assert_allclose(found.felt[:, d, 0], wanted, rtol=1e-6)
            np.testing.assert_allclose(found.felt[:, d, 2], road(fixed), rtol=1e-6)
            for n, way in enumerate(ways):
                each = [
                    jolt(
                        replace(held((0.0, 3.0)[d]), inertia=band[d, i]).dynamic(), way, 0.2,
                        motion_at(at)[None], flat.peak_most[d, n] * G0, restitution=0.2,
                    )
                    for i in range(2)
                ]  # fmt: skip
                assert found.drop[d, n, 0] == pytest.approx(np.max(each), rel=1e-6)
            assert np.isnan(found.drop[d, :, 2]).all()
        _, centre = moved(BOTH, band, pose, np.zeros((2, 1, 3)))
        np.testing.assert_array_equal(found.moves[:, :, 2], centre[:, :, 0])
        assert (found.moves[:, :, 0] != centre[:, :, 0]).any()
    blind = single_parts(*given, np.array([True, False]), no, None)
    assert np.isnan(blind.felt[:, 0, 0]).all()
    assert np.isfinite(blind.felt[:, 1, 0]).all()
    assert np.isfinite(blind.felt[:, 0, 2]).all()  # what is fixed needs no mounts
    assert np.isnan(blind.drop).all()
    assert single_parts(leg, [case_of([], [0, 0, 0])] * 2, BOTH, band, pose, no, no, None) is None


def test_a_drop_is_asked_of_parts_that_float_and_have_a_fragility() -> None:
    """A shell of which nobody says that it rebounds stays where it lands."""
    point = {"mass": "0.2 kg", "shape": "point"}
    rated, plain = (
        Part(name="a", position=["60 mm", "-40 mm", "30 mm"], resonance="35 Hz", **more, **point)
        for more in ({"fragility": "60 g0"}, {})
    )
    leg = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml").design.legs[0]
    band = np.diag([0.08, 0.12, 0.16])[None, None]
    still = Pose(np.zeros((1, 3)), rotation(np.zeros((1, 3))), np.ones(1, bool))
    one, no = Suspension.stacked([held(0.0)]), np.zeros(1, bool)
    ways = np.array([ATTITUDES[face] for face in leg.faces()])
    flat = flat_drop(one.repeated(), ways, 0.2, np.full((1, 1, 4, 3), np.nan))

    def felt(parts, restitution):
        designs = [case_of(parts, [0.0, 0.0, 0.0], restitution)]
        return single_parts(leg, designs, one, band, still, no, no, flat).drop

    stays = felt([(rated, True)], 0.0)
    np.testing.assert_array_equal(felt([(rated, True)], None), stays)
    assert (felt([(rated, True)], 1.0) != stays).all()
    assert np.isnan(felt([(plain, True), (rated, False)], 0.0)).all()


def test_modes_of_parts_are_those_of_mounts_and_cables_without_their_losses() -> None:
    """One cable of which nobody knows the loss stiffens the bounce, and damps nothing here."""
    band = np.diag([0.08, 0.12, 0.16])[None, None]
    still = Pose(np.zeros((1, 3)), rotation(np.zeros((1, 3))), np.ones(1, bool))
    tied = replace(
        Suspension.stacked([held(0.0)]),
        cable_position=np.zeros((1, 1, 3)),
        cable_stiffness=np.array([[[2e3, 3e3, 6e3]]]),
        cable_loss=np.full((1, 1), np.nan),
    )
    frequency, _ = moved(tied, band, still, AT[:1])
    square = eigh(tied.stiffness()[0], tied.mass_matrix()[0], eigvals_only=True)
    np.testing.assert_allclose(frequency[0, 0], np.sqrt(square) / (2 * math.pi), rtol=1e-9)


def test_a_road_along_one_axis_is_felt_along_it_and_by_its_level() -> None:
    """Twice the level is twice the acceleration; a road that is not given shakes nothing."""
    leg = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml").design.legs[0]
    one = replace(leg, road={"vertical": leg.road["vertical"]})
    part = Part(name="c", position=["50 mm", "0 mm", "0 mm"], resonance="80 Hz", amplification=4.0,
                mass="0.2 kg", shape="point")  # fmt: skip
    band = np.array([[1.0]] * 2)[..., None, None] * np.diag([0.08, 0.12, 0.16])
    still = Pose(np.zeros((2, 3)), rotation(np.zeros((2, 3))), np.ones(2, bool))
    no = np.zeros(2, dtype=bool)

    def felt(leg, floats):
        designs = [case_of([(part, floats)], [0.0, 0.0, 0.0])] * 2
        return single_parts(leg, designs, BOTH, band, still, no, no, None).felt[:, 0, 0]

    bolted = felt(one, False)
    axis = one.case_axes()["vertical"]
    spectrum = one.spectrum(axis)
    alone = np.sqrt(bolted_response(spectrum.lines, spectrum.density, 80.0, 4.0))
    for k, name in enumerate("xyz"):
        np.testing.assert_allclose(bolted[:, k], alone if name == axis else 0.0)
    assert (felt(one, True)[:, "xyz".index(axis)] > 0).all()
    np.testing.assert_allclose(felt(replace(one, level=2.0), True), 2 * felt(one, True))
    np.testing.assert_allclose(felt(replace(one, level=2.0), False), 2 * bolted)
    silent = replace(one, road={})
    assert np.isnan(felt(silent, True)).all()
    assert np.isnan(felt(silent, False)).all()


def test_which_modes_move_a_part_goes_by_where_it_hangs() -> None:
    """A part on a tray that hangs askew is where the tray took it; modes' shapes say the rest."""
    feet = [(x, y, 0.0) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
    inertia = np.diag([0.08, 0.12, 0.16])
    level = Suspension.of_springs(8.0, inertia, feet, 6e3, 3e3, loss_factor=0.0)
    askew = rotation([0.1, 0.3, 0.0])
    points = np.random.default_rng(0).uniform(-0.1, 0.1, (60, 3))
    pose = Pose(np.zeros((1, 3)), askew[None], np.ones(1, bool))
    _, moves = moved(Suspension.stacked([level]), inertia[None, None], pose, points[None])
    shape = level.modes(Pose(np.zeros(3), askew, np.ones((), bool))).shape

    def driven(places):
        return (8.0 * np.abs(motion_at(places) @ shape) ** 2 > 0.05).any(axis=-2)

    np.testing.assert_array_equal(moves[0, 0], driven(points @ askew.T))
    assert (driven(points @ askew.T) != driven(points @ askew)).any()

"""Exact facts about parts, their sum and the inertia of a payload."""

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolator.payload import CORNERS, INERTIA_BAND, Part, Payload, box_corners
from isolator.units import si, si_array

LENGTH = st.floats(0.02, 1.0)
PLACE = st.floats(-0.5, 0.5)
KILOGRAMS = st.floats(0.05, 50.0)
BOX = ["400 mm", "300 mm", "150 mm"]


def metres(values: object) -> list[str]:
    return [f"{float(v):.15g} m" for v in values]


def block(name: str, mass: float, at: object, size: object) -> Part:
    return Part(name=name, mass=f"{mass:.15g} kg", position=metres(at), size=metres(size))


def inertia_about(payload: Payload, point: np.ndarray) -> np.ndarray:
    """Inertia about a point of the box's frame, by the parallel-axis theorem."""
    r = payload.centre_of_gravity() - point
    shift = si(payload, "mass") * (r @ r * np.eye(3) - np.outer(r, r))
    return payload.inertias()[0] + shift


@given(KILOGRAMS, st.tuples(PLACE, PLACE, PLACE), st.tuples(LENGTH, LENGTH, LENGTH))
def test_two_halves_of_a_box_are_the_box(
    mass: float, at: tuple[float, float, float], size: tuple[float, float, float]
) -> None:
    whole = Payload.of_parts([block("whole", mass, at, size)], size=BOX)
    step = np.array([size[0] / 4, 0.0, 0.0])
    half = [size[0] / 2, size[1], size[2]]
    halves = [
        block("left", mass / 2, np.array(at) - step, half),
        block("right", mass / 2, np.array(at) + step, half),
    ]
    split = Payload.of_parts(halves, size=BOX)
    scale = np.abs(whole.inertias()).max()
    np.testing.assert_allclose(split.inertias(), whole.inertias(), rtol=1e-9, atol=1e-10 * scale)
    np.testing.assert_allclose(split.centre_of_gravity(), at, atol=1e-12)
    assert si(split, "mass") == pytest.approx(mass, rel=1e-12)


@given(st.lists(st.tuples(KILOGRAMS, PLACE, PLACE, PLACE), min_size=2, max_size=6), PLACE)
def test_parallel_axes(rows: list[tuple[float, float, float, float]], x: float) -> None:
    """The sum about any point is the sum of the parts about it."""
    size = [0.1, 0.2, 0.05]
    parts = [block(str(i), row[0], row[1:], size) for i, row in enumerate(rows)]
    payload = Payload.of_parts(parts, size=BOX)
    point = np.array([x, 0.1, -0.2])
    expected = np.zeros((3, 3))
    for part, (mass, *at) in zip(parts, rows, strict=True):
        r = np.array(at) - point
        expected += part.own_inertia() + mass * (r @ r * np.eye(3) - np.outer(r, r))
    total = inertia_about(payload, point)
    np.testing.assert_allclose(total, expected, rtol=1e-9, atol=1e-9 * np.abs(expected).max())


def test_box_against_a_grid_of_points() -> None:
    """A uniform box as 40 × 40 × 40 points: short of its inertia by one part in 1600."""
    size, mass, n = np.array([0.4, 0.3, 0.15]), 12.0, 40
    axis = (np.arange(n) + 0.5) / n - 0.5
    grid = np.array(list(product(axis, axis, axis))) * size
    square = (grid**2).sum(axis=0) * mass / n**3
    sums = np.diag(square.sum() - square)
    box = block("box", mass, (0, 0, 0), size).own_inertia()
    np.testing.assert_allclose(sums, box * (1 - n**-2.0), rtol=1e-9)
    # Regression case (computed): Ixx 0.1125, Iyy 0.1825, Izz 0.25 kg·m².
    np.testing.assert_allclose(np.diag(box), [0.1125, 0.1825, 0.25], rtol=1e-12)
    tray = Payload(mass="12 kg", size=BOX)
    np.testing.assert_allclose(tray.inertias()[0], box, rtol=1e-12)


@pytest.mark.parametrize("axis", ["x", "y", "z"])
def test_cylinder(axis: str) -> None:
    """Meriam & Kraige, Dynamics, table D/4 (memory): ½mr² along, m(3r² + l²)/12 across."""
    mass, radius, length = 2.0, 0.1, 0.35
    k = "xyz".index(axis)
    size = ["200 mm"] * 3
    size[k] = "350 mm"
    disc = Part(
        name="drum", mass="2 kg", position=["0 mm"] * 3, shape="cylinder", size=size, axis=axis
    )
    expected = np.full(3, mass * (3 * radius**2 + length**2) / 12)
    expected[k] = mass * radius**2 / 2
    np.testing.assert_allclose(disc.own_inertia(), np.diag(expected), rtol=1e-12)


def test_points_have_no_inertia_of_their_own() -> None:
    point = Part(name="bolt", mass="1 kg", position=["10 mm"] * 3, shape="point")
    np.testing.assert_array_equal(point.own_inertia(), 0.0)
    ring = [
        Part(
            name=str(i),
            mass="1 kg",
            position=metres([0.2 * math.cos(t), 0.2 * math.sin(t), 0.0]),
            shape="point",
        )
        for i, t in enumerate(np.arange(6) * math.pi / 3)
    ]
    payload = Payload.of_parts(ring, size=BOX)
    np.testing.assert_allclose(
        payload.inertias()[0], np.diag([0.12, 0.12, 0.24]), rtol=1e-9, atol=1e-12
    )


@given(st.tuples(PLACE, PLACE, PLACE))
def test_corners_lie_around_the_middle_of_the_box(centre: tuple[float, float, float]) -> None:
    payload = Payload(mass="12 kg", size=BOX, centre=metres(centre))
    corners = payload.corners()
    np.testing.assert_allclose(corners.mean(axis=0), -payload.centre_of_gravity(), atol=1e-15)
    np.testing.assert_allclose(np.ptp(corners, axis=0), si_array(payload, "size"))
    for name, corner in zip(CORNERS, box_corners(np.array([2.0, 4.0, 6.0])), strict=True):
        np.testing.assert_array_equal(np.sign(corner), [1.0 if s == "+" else -1.0 for s in name])


def test_unknown_inertia_is_a_band_that_holds_what_a_box_may_be() -> None:
    """A thin shell in the shape of a cube has 5/18 m·a², a solid one 1/6 (computed)."""
    band = Payload(mass="12 kg", size=["300 mm"] * 3).inertias()
    solid = 12.0 * 0.3**2 / 6
    np.testing.assert_allclose(band[:, 0, 0] / solid, INERTIA_BAND, rtol=1e-12)
    assert band[:, 0, 0].max() == pytest.approx(12.0 * 0.3**2 * 5 / 18)
    shell = 12.0 / 6 * (4 * (0.3**2 / 12 + 0.3**2 / 4) + 2 * 0.3**2 / 6)
    assert band[:, 0, 0].max() == pytest.approx(shell)
    known = Payload(mass="12 kg", size=BOX, inertia=["0.1 kg*m^2", "0.2 kg*m^2", "0.25 kg*m^2"])
    np.testing.assert_allclose(known.inertias(), np.diag([0.1, 0.2, 0.25])[None])

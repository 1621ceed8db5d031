"""Spectra of journeys and tests: every line of the tables against the printed overall level."""

from collections.abc import Callable

import numpy as np
import pytest

from isolator.sources import LABELS, Published, read_table
from isolator.spectrum import mean_square

ROADS = {(row["road"], row["axis"]): row for row in read_table("roads.csv")}


def lines(road: str, axis: str = "vertical") -> tuple[np.ndarray, np.ndarray]:
    rows = [
        (float(row["frequency [Hz]"]), float(row["density [g0^2/Hz]"]))
        for row in read_table("road_lines.csv")
        if (row["road"], row["axis"]) == (road, axis)
    ]
    frequency, density = np.array(rows).T
    return frequency, density


def overall(frequency: np.ndarray, density: np.ndarray) -> float:
    return float(np.sqrt(mean_square(frequency, density)))


def from_5_hz(axis: str) -> float:
    """The level of the truck, its first density held down to 5 Hz."""
    frequency, density = lines("us highway truck 810", axis)
    return overall(np.append(5.0, frequency), np.append(density[0], density))


VALUES = tuple(
    Published(
        id=f"road {road} {axis}",
        chapter="roads",
        quantity=f"overall level of {road}, {axis}",
        expected=row["overall [g0]"],
        unit="g0",
        label=row["overall label"],
        **{key: row[key] for key in ("source", "locator", "deviation", "cause", "note")},
    )
    for (road, axis), row in ROADS.items()
)
CLAIMS: dict[str, Callable[[], float]] = {
    f"road {road} {axis}": lambda key=(road, axis): overall(*lines(*key)) for road, axis in ROADS
}
for axis in ("vertical", "transverse", "longitudinal"):
    CLAIMS[f"truck-from-5-hz-{axis}"] = lambda a=axis: from_5_hz(a)


def test_every_road_has_lines_and_every_line_a_road() -> None:
    assert {(row["road"], row["axis"]) for row in read_table("road_lines.csv")} == set(ROADS)
    assert len(ROADS) == len(read_table("roads.csv")) == 17


@pytest.mark.parametrize(("road", "axis"), ROADS)
def test_a_road_runs_upwards(road: str, axis: str) -> None:
    row = ROADS[road, axis]
    assert axis in ("vertical", "transverse", "longitudinal")
    assert row["lines label"] in LABELS
    frequency, density = lines(road, axis)
    assert np.all(np.diff(frequency) > 0.0)
    assert np.all(density > 0.0)


@pytest.mark.parametrize(
    ("road", "other", "factor"),
    [
        ("truck d4169 level 1 before 2016", "truck d4169 level 2 before 2016", 2.0),
        ("truck d4169 level 1 before 2016", "truck d4169 level 3 before 2016", 4.0),
        ("truck d4169-16 high", "truck d4169-16 medium", 1.0 / 0.6),
        ("truck d4169-16 high", "truck d4169-16 low", 3.0),
        ("qualification gevs", "acceptance gevs", 2.0),
    ],
)
def test_levels_of_one_shape(road: str, other: str, factor: float) -> None:
    """A digit that slips in one line would hide in the overall level, not here."""
    frequency, density = lines(road)
    other_frequency, other_density = lines(other)
    np.testing.assert_array_equal(frequency, other_frequency)
    np.testing.assert_allclose(density, factor * other_density, rtol=1e-12)

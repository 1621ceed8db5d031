"""Spectra of journeys and tests: every line of the tables against the printed overall level."""

import numpy as np
import pytest

from isolator.sources import LABELS, misses, read_table, source
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


@pytest.mark.parametrize(("road", "axis"), ROADS)
def test_overall_level(road: str, axis: str) -> None:
    row = ROADS[road, axis]
    computed = overall(*lines(road, axis))
    assert not misses(computed, row["overall [g0]"], row["deviation"]), (
        f"{computed:.5f} g against {row['overall [g0]']} g ({row['source']}, {row['locator']}, "
        f"{row['overall label']})"
    )


def test_the_known_miss_is_the_jet() -> None:
    """4.02 g recalled for jet cargo, 4.010 from the recalled lines."""
    missed = {
        key for key, row in ROADS.items() if misses(overall(*lines(*key)), row["overall [g0]"], "")
    }
    assert missed == {key for key, row in ROADS.items() if row["deviation"]}
    assert missed == {("jet cargo 810", "vertical")}


def test_every_road_has_lines_and_every_line_a_road() -> None:
    assert {(row["road"], row["axis"]) for row in read_table("road_lines.csv")} == set(ROADS)
    assert len(ROADS) == len(read_table("roads.csv")) == 17


@pytest.mark.parametrize(("road", "axis"), ROADS)
def test_row_has_an_address(road: str, axis: str) -> None:
    row = ROADS[road, axis]
    assert axis in ("vertical", "transverse", "longitudinal")
    assert source(row["source"]).key == row["source"]
    assert {row["overall label"], row["lines label"]} <= set(LABELS)
    assert row["locator"]
    assert bool(row["deviation"]) == bool(row["cause"])
    frequency, density = lines(road, axis)
    assert np.all(np.diff(frequency) > 0.0)
    assert np.all(density > 0.0)


@pytest.mark.parametrize(
    ("axis", "wrong"), [("vertical", "1.08"), ("transverse", "0.205"), ("longitudinal", "0.76")]
)
def test_truck_levels_do_not_belong_to_a_start_at_5_hz(axis: str, wrong: str) -> None:
    """The first density held down to 5 Hz gives other levels (computed, independently)."""
    frequency, density = lines("us highway truck 810", axis)
    computed = overall(np.append(5.0, frequency), np.append(density[0], density))
    assert not misses(computed, wrong, "")
    assert misses(computed, ROADS["us highway truck 810", axis]["overall [g0]"], "")


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

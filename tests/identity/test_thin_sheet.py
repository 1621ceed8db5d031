"""A thin sheet under a mount: D and the closed forms of plates by hand, and what is no sheet."""

import numpy as np
import pytest

from isolator.sheet import Sheet, circle_stiffness, rectangle_stiffness, rigidity
from isolator.units import InputError

GIVEN = {
    "thickness": "3 mm",
    "span": ["200 mm", "300 mm"],
    "edges": "clamped",
    "modulus": "70 GPa",
    "poisson": 0.3,
}
ROUND = {"span": "200 mm"}


def refusal(**other: object) -> str:
    with pytest.raises(InputError) as caught:
        Sheet(**GIVEN | other)
    return str(caught.value)


def test_rigidity_by_hand():
    """E·t³/(12(1 − ν²)): 91e9·1e-9/(12·0.91) = 25/3."""
    assert rigidity(0.001, 91e9, 0.3) == pytest.approx(25 / 3, rel=1e-12)


@pytest.mark.parametrize(("edges", "share"), [("clamped", 1.0), ("supported", 1.3 / 3.3)])
def test_a_round_sheet_is_a_round_plate_of_its_rigidity(edges: str, share: float):
    """16πD/r² and its share, with D = 70e9·27e-9/(12·0.91) and r = 0.1 m."""
    d = 70e9 * 27e-9 / (12 * 0.91)
    expected = 16 * np.pi * d / 0.01 * share
    assert Sheet(**GIVEN | ROUND | {"edges": edges}).stiffness() == pytest.approx(expected)
    assert circle_stiffness(d, 0.2, 0.3, edges) == pytest.approx(expected)


@pytest.mark.parametrize("edges", ["clamped", "supported"])
def test_a_rectangular_sheet_is_a_plate_whichever_side_comes_first(edges: str):
    d = rigidity(0.003, 70e9, 0.3)
    one = Sheet(**GIVEN | {"edges": edges}).stiffness()
    other = Sheet(**GIVEN | {"edges": edges, "span": ["300 mm", "200 mm"]}).stiffness()
    assert one == other == float(rectangle_stiffness(d, [0.2, 0.3], edges))


def test_a_material_stands_for_its_modulus_and_ratio():
    named = Sheet(**GIVEN | {"material": "aluminium", "modulus": None, "poisson": None})
    stated = Sheet(**GIVEN | {"modulus": "70 GPa", "poisson": 0.33})
    assert named.stiffness() == pytest.approx(stated.stiffness(), rel=1e-12)


def test_a_ratio_of_nothing_is_one():
    assert Sheet(**GIVEN | ROUND | {"poisson": 0.0}).stiffness() == pytest.approx(
        16 * np.pi * 70e9 * 27e-9 / 12 / 0.01
    )
    assert Sheet(**GIVEN | {"poisson": 0.5}).poisson == 0.5
    assert "Sheet.poisson" in refusal(poisson=0.51)
    assert "Sheet.poisson" in refusal(poisson=-0.01)


def test_a_fifth_of_the_span_is_still_a_sheet():
    for thickness, span in (("40 mm", "200 mm"), ("2 mm", "10 mm")):
        assert Sheet(**GIVEN | {"thickness": thickness, "span": span}).stiffness() > 0
    assert "more than a fifth of its span of 200 mm is no thin sheet" in refusal(
        thickness="40.1 mm"
    )


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"edges": "glued"}, "Sheet.edges = 'glued': write supported or clamped"),
        ({"material": "aluminium"}, "is given once"),
        ({"modulus": None, "poisson": None}, "is given once"),
        ({"modulus": None, "poisson": None, "material": "paper"}, "'paper': not in the table"),
        ({"poisson": None}, "a modulus and its Poisson's ratio go together"),
        ({"modulus": None, "material": "aluminium"}, "a modulus and its Poisson's ratio go"),
        ({"span": ["200 mm", "300 mm", "400 mm"]}, "Sheet.span has 3 values"),
    ],
)
def test_what_is_no_sheet_is_said(other: dict[str, object], words: str):
    assert words in refusal(**other)


@pytest.mark.parametrize(
    ("edges", "ratio", "alpha"),
    [("supported", 1, 0.0116), ("supported", 3, 0.0169), ("clamped", 1.6, 0.00712)],
)
def test_a_rectangle_by_the_table(edges: str, ratio: float, alpha: float):
    """D/(α·a²), a the shorter side (Timoshenko, Tables 23 and 37; memory)."""
    found = rectangle_stiffness(2.0, [0.5 * ratio, 0.5], edges)
    assert found == pytest.approx(2.0 / (alpha * 0.25), rel=1e-12)


def test_a_whole_ratio_is_read_as_a_number():
    assert type(Sheet(**GIVEN | {"poisson": 0}).poisson) is float

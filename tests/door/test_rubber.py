"""A hardness needs its scale; a rubber that is not in the table gets the nearest."""

import math

import pytest

from isolator.rubber import Hardness, cold_points, compound, compounds
from isolator.units import InputError


@pytest.mark.parametrize(
    ("text", "value", "scale"),
    [
        ("40 Shore A", 40, "Shore A"),
        (" 40  shore a ", 40, "Shore A"),
        ("40Shore A", 40, "Shore A"),
        ("42.5 SHORE A", 42.5, "Shore A"),
        ("55 IRHD", 55, "IRHD"),
        ("60 Shore OO", 60, "Shore OO"),
        ("60 Shore 00", 60, "Shore OO"),
    ],
)
def test_what_is_read(text: str, value: float, scale: str) -> None:
    assert Hardness.read(text) == Hardness(value, scale)


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ("40", "40 of which scale? write '40 Shore A' if .* '40 IRHD', '40 Shore OO'"),
        (40, "h = 40: 40 of which scale? write '40 Shore A'"),
        (40.5, "h = 40.5: 40.5 of which scale? write '40.5 Shore A'"),
        ("40 durometer", "40 of which scale?"),
        ("40 shore", "40 of which scale?"),
        ("40°", "40 of which scale?"),
        ("40 A", "the scale is not written out; write '40 Shore A'"),
        ("40A", "the scale is not written out; write '40 Shore A'"),
        ("40 ShA", "the scale is not written out; write '40 Shore A'"),
        ("60 OO", "the scale is not written out; write '60 Shore OO'"),
        ("Shore A 40", "the number comes first; write '40 Shore A'"),
        ("A40", "the number comes first; write '40 Shore A'"),
        ("shore 00 60", "the number comes first; write '60 Shore OO'"),
        ("40 Shore D", "Shore D is for hard plastics, .*; measure the mount under weights"),
        ("40 IRDH", "'irdh' is no scale of hardness; '40 IRHD' meant?"),
        ("40 N/mm", "'n/mm' is no scale of hardness; write Shore A, IRHD, Shore OO"),
        ("40 ± 5 Shore A", "a tolerance is not part .*; write the middle, .* ±5 points"),
        ("40-50 Shore A", "a range is not a hardness; write the middle"),
        ("40 to 50 Shore A", "a range is not a hardness; write the middle"),
        ("42,5 Shore A", "a comma is not read; write a decimal point"),
        ("0 Shore A", "0 is not between 0 and 100"),
        ("100 Shore A", "100 is not between 0 and 100"),
        ("-5 Shore A", "-5 is not between 0 and 100"),
        (f"40 {'x' * 61}", "'x{29} is no scale of hardness"),
        (f"40 {'x' * 62}", "the text is longer than 64 characters; write '40 Shore A'"),
        ("soft", "no number with a scale; write '40 Shore A'"),
        ("", "no number with a scale; write '40 Shore A'"),
        (None, "a hardness is a text; write '40 Shore A'"),
        (0, "a hardness is a text; write '40 Shore A'"),
        (100, "a hardness is a text; write '40 Shore A'"),
        (100.5, "a hardness is a text; write '40 Shore A'"),
        (True, "a hardness is a text; write '40 Shore A'"),
        (["40 Shore A"], "a hardness is a text; write '40 Shore A'"),
    ],
)
def test_what_is_refused(given: object, line: str) -> None:
    with pytest.raises(InputError, match=line.replace("?", r"\?")) as caught:
        Hardness.read(given, "h")
    (said,) = caught.value.lines
    assert said.startswith("h = ")
    assert "\n" not in said


@pytest.mark.parametrize("value", [0.0, 100.0, math.nan])
def test_a_hardness_that_is_made(value: float) -> None:
    with pytest.raises(InputError, match=r"Hardness\.value = .* between 0 and 100; read"):
        Hardness(value, "Shore A")
    with pytest.raises(InputError, match=r"Hardness\.scale = 'Shore B': write Shore A"):
        Hardness(40.0, "Shore B")


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("15 Shore A", "take a Shore OO reading"),
        ("19.9 Shore A", "take a Shore OO reading"),
        ("92 Shore A", "take a Shore D reading"),
        ("95 Shore OO", "take a Shore A reading"),
        ("10 Shore OO", "a weights test"),
    ],
)
def test_near_its_ends_a_scale_is_warned_of(text: str, advice: str) -> None:
    assert advice in Hardness.read(text).notes()[-1]


def test_the_softest_and_the_hardest_are_read_too() -> None:
    """Anything between 0 and 100 is a reading, and warned of."""
    for given, value in (("0.5 Shore A", 0.5), ("99.5 Shore A", 99.5), ("90.5 Shore A", 90.5)):
        assert Hardness.read(given).value == value
        assert Hardness.read(given).notes()
    with pytest.raises(InputError, match=r"h = 0\.5: 0\.5 of which scale"):
        Hardness.read(0.5, "h")


@pytest.mark.parametrize("text", ["20 Shore A", "50 Shore A", "90 Shore A"])
def test_in_the_middle_nothing_is_said(text: str) -> None:
    assert Hardness.read(text).notes() == ()


@pytest.mark.parametrize(
    ("key", "line"),
    [
        ("Natural", "'natural' meant"),
        ("silcone", "'silicone' meant"),
        ("NR", "'natural' or 'natural gum' meant"),
        ("Neoprene", "'chloroprene' meant"),
        ("TPE", "'thermoplastic' meant"),
        ("cr", "'chloroprene' meant"),
        ("EU", "'polyurethane' meant"),
    ],
)
def test_an_unknown_rubber_gets_the_nearest(key: str, line: str) -> None:
    with pytest.raises(InputError, match=f"mount.compound = .*: no such rubber; {line}") as caught:
        compound(key, "mount.compound")
    assert caught.value.lines[0].endswith(", ".join(compounds()))


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ({"T3": -30.0}, "'T3' is no stiffening; write T2, T5, T10, T100"),
        ({"T2": -40.0, "T10": -30.0}, "T10 = -30 °C: must be colder than -40 °C"),
        ({"T2": -30.0, "T5": -30.0}, "T5 = -30 °C: must be colder than -30 °C"),
        ({"T2": 10.0}, "T2 = 10 °C: must be colder than 5 °C"),
        ({"T2": math.nan}, "T2 = nan °C: must be colder"),
    ],
)
def test_a_sheet_of_the_cold_that_cannot_be(given: dict[str, float], line: str) -> None:
    with pytest.raises(InputError, match=line):
        cold_points(given)

"""Bad input to foam and pads: one line with argument, value and way out."""

import re
from pathlib import Path

import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cushion import Cushion, CushionPoint, foam_thickness, snubber
from isolator.units import InputError


def foam(**changed):
    given = {
        "name": "block",
        "thickness": "60 mm",
        "area": "200 cm^2",
        "initial_stress": "20 kPa",
        "growth": "0.08 1/kPa",
    }
    return Cushion(**{k: v for k, v in {**given, **changed}.items() if v is not None})


def point(stress, peak, height="0.6 m"):
    return CushionPoint(static_stress=stress, height=height, thickness="50 mm", peak=peak)


def pad(**changed):
    given = {"mass": "8 kg", "stiffness": "8 N/mm", "height": "0.76 m", "peak": "40 g0"}
    return snubber(**{**given, "travel": "60 mm", **changed})


NO_LAW = {"initial_stress": None, "growth": None}
FALLING = [point("2 kPa", "40 g0"), point("4 kPa", "10 g0"), point("6 kPa", "2 g0")]
MISTAKES = {
    "no law": (lambda: foam(**NO_LAW), "0 laws are given; give one of"),
    "two laws": (
        lambda: Cushion(name="b", thickness="6 cm", stiffness="4 N/mm", points=FALLING),
        "2 laws are given",
    ),
    "half a law": (lambda: foam(growth=None), "initial_stress stands without growth"),
    "the other half": (lambda: foam(initial_stress=None), "growth stands without initial_stress"),
    "no area": (lambda: foam(area=None), "the area is missing; give what carries, as in '250 cm²'"),
    "an area too much": (
        lambda: foam(**NO_LAW, stiffness="4 N/mm"),
        "area stands beside stiffness, which holds it",
    ),
    "glued": (lambda: foam(glued=True), "glued and loss_factor are of linear foam"),
    "damped": (lambda: foam(loss_factor=0.1), "glued and loss_factor are of linear foam"),
    "few points": (lambda: foam(**NO_LAW, points=FALLING[:2]), "2 points at 2 energies"),
    "one energy": (lambda: foam(**NO_LAW, points=FALLING[:1] * 3), "3 points at 1 energies"),
    "falling": (lambda: foam(**NO_LAW, points=FALLING), "falls as their energy grows"),
    "units": (lambda: foam(growth="0.08 kPa"), "Cushion.growth = '0.08 kPa': kPa is no unit"),
    "bare": (lambda: foam(area=0.02), "Cushion.area = 0.02: a number without a unit"),
    "2 g": (
        lambda: foam_thickness(foam(), mass="8 kg", height="0.5 m", peak="2 g0"),
        "peak = 2 g: a fall onto any spring gives more than 2 g",
    ),
    "2 g of several": (
        lambda: foam_thickness(foam(), mass="8 kg", height="0.5 m", peak=["40 g0", "1.5 g0"]),
        "peak = 1.5 g: a fall onto any spring gives more than 2 g",
    ),
    "2.01 g": (
        lambda: foam_thickness(foam(area="3000 cm^2"), mass="8 kg", height="0.5 m", peak="2.01 g0"),
        "harder than 2.01 g from the start",
    ),
    "too lossy": (
        lambda: Cushion(name="b", thickness="6 cm", stiffness="4 N/mm", loss_factor=2.01),
        "Cushion.loss_factor = 2.01: ",
    ),
    "too wide": (
        lambda: foam_thickness(foam(area="2000 cm^2"), mass="8 kg", height="0.5 m", peak="40 g0"),
        "over 2000 cm² it pushes harder than 40 g from the start, however thick; "
        "an area below 1569 cm² does not",
    ),
    "too soft": (
        lambda: foam_thickness(
            Cushion(name="slab", thickness="50 mm", stiffness="2 N/mm"),
            mass="8 kg",
            height="0.5 m",
            peak="40 g0",
        ),
        "the weight presses it by half and more",
    ),
    "too stiff": (
        lambda: pad(stiffness="200 N/mm"),
        "stiffness = 200 N/mm: the mounts alone pass 40 g from 0.76 m, and a pad only adds to "
        "them; at most 78.",
    ),
    "2 g pad": (lambda: pad(peak="2 g0"), "a peak above 2 g would do"),
    "2.5 g pad": (lambda: pad(peak="2.5 g0"), "only adds to them; at most 0.0644"),
    "too short": (lambda: pad(travel="30 mm"), "no pad keeps 40 g from 0.76 m within it; 49"),
    "no need": (lambda: pad(travel="200 mm"), "no pad is needed, the mounts alone stop"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_gets_one_line(name):
    make, words = MISTAKES[name]
    with pytest.raises(InputError, match=re.escape(words)) as caught:
        make()
    assert len(caught.value.lines) == 1


def test_what_the_messages_offer_does():
    def offered(**changed):
        with pytest.raises(InputError) as caught:
            pad(**changed)
        return re.search(r"([\d.]+ N?/?mm) would do", str(caught.value))[1]

    assert pad(travel=offered(travel="30 mm")).stiffness.magnitude > 0
    with pytest.raises(InputError, match="no pad is needed"):
        pad(stiffness=offered(stiffness="200 N/mm"))
    fits = foam_thickness(foam(area="1500 cm^2"), mass="8 kg", height="0.5 m", peak="40 g0")
    assert fits.at_area.m_as("m") > 0


STARTER = (Path(__file__).parents[2] / "data" / "starter" / "case.toml").read_text(encoding="utf-8")
CURVE = """static stress [kPa],height [mm],thickness [mm],peak [g0]
1,750,60,54.4
2,750,60,73.9
4,750,60,273
"""


def in_a_case(folder, keys, points=CURVE):
    (folder / "foam.csv").write_text(points, encoding="utf-8")
    text = STARTER.replace("[case] ", '[case]\nmass = "5 kg"', 1)
    text = text.replace("[mount.ring]", f"[case.cushion]\n{keys}\n\n[mount.ring]", 1)
    (folder / "case.toml").write_text(text, encoding="utf-8")
    return read_brief(folder / "case.toml").design.case.cushion


def test_a_brief_has_foam_outside_by_each_of_its_laws(tmp_path):
    law = 'thickness = "60 mm"\narea = "200 cm^2"\n'
    given = in_a_case(tmp_path, f'{law}initial_stress = "20 kPa"\ngrowth = "0.08 1/kPa"')
    tested = in_a_case(tmp_path, f'{law}name = "blue foam"\npoints = "foam.csv"')
    slab = in_a_case(tmp_path, 'thickness = "5 cm"\nstiffness = "40 N/mm"\nloss_factor = 0.2')
    assert (given.name, tested.name, len(tested.points)) == ("foam", "blue foam", 3)
    # The points are those of the law, to three digits.
    assert tested.law.a == pytest.approx(given.law.a, rel=3e-3)
    assert tested.law.b == pytest.approx(given.law.b, rel=3e-3)
    assert slab.curve().force(0.01) == pytest.approx(400.0)
    (line,) = [s for s in assess(tmp_path / "case.toml").assumed() if "case.cushion" in s]
    assert "bare floor" in line


@pytest.mark.parametrize(
    ("keys", "line"),
    [
        ("", "case.cushion.thickness is missing: the verdict needs it; add it"),
        ('thickness = "5 cm"', "case.cushion: 0 laws are given; give one of"),
        (
            'thickness = "5 cm"\narea = "2 m"\nstiffness = "4 N/mm"',
            "case.cushion.area = '2 m': m is no unit of area",
        ),
        (
            'thickness = "5 cm"\ninitial_stress = "2 kPa"\ngrowth = "0.1 1/kPa"',
            "case.cushion: the area is missing; give what carries",
        ),
        (
            'thickness = "5 cm"\narea = "200 cm^2"\ninitial_stress = "2 kPa"\ngrowth = "0.1 1/kPa"',
            "case.cushion: initial_stress times growth is 0.2, and up to 1 an elastic foam",
        ),
        (
            'thickness = "5 cm"\narea = "200 cm^2"\npoints = "no.csv"',
            "case.cushion.points = 'no.csv': ",
        ),
        (
            'thickness = "5 cm"\nstiffness = "4 N/mm"\nstifness = "4 N/mm"',
            "case.cushion.stifness = '4 N/mm': unknown key; 'stiffness' meant?",
        ),
    ],
)
def test_a_mistake_in_the_foam_of_a_brief_gets_one_line(tmp_path, keys, line):
    with pytest.raises(InputError) as caught:
        in_a_case(tmp_path, keys)
    assert len(caught.value.lines) == 1
    assert caught.value.lines[0].startswith(f"case.toml: {line}")


def test_a_mistake_in_the_points_is_named_with_its_row(tmp_path):
    keys = 'thickness = "5 cm"\narea = "200 cm^2"\npoints = "foam.csv"'
    with pytest.raises(InputError, match=r"^foam\.csv: line 3: peak = 'x g0'"):
        in_a_case(tmp_path, keys, CURVE.replace("73.9", "x"))
    with pytest.raises(InputError, match=r"^case\.toml: case\.cushion: 2 points at 2 energies"):
        in_a_case(tmp_path, keys, "\n".join(CURVE.splitlines()[:3]))

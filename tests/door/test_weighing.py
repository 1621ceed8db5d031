"""Mistakes in a weighing: one line each that names key, value, limit and way out; exit status 2."""

import re
from pathlib import Path

import pytest

from isolator.cli import main
from isolator.units import InputError
from isolator.weighing import Foot, Swing, Tilt, Weighing

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")
PARTS = (DATA / "ice-radar" / "parts.csv").read_text(encoding="utf-8")
MASS, CENTRE = 'mass = "8 kg"', 'centre = ["0 mm", "0 mm", "-10 mm"]'
FEET = """
[payload.weighing]
resolution = "0.1 kg"
[[payload.weighing.foot]]
position = ["-180 mm", "-130 mm"]
reading = "2.0 kg"
[[payload.weighing.foot]]
position = ["180 mm", "-130 mm"]
reading = "2.1 kg"
[[payload.weighing.foot]]
position = ["0 mm", "130 mm"]
reading = "3.9 kg"
"""
TILT = """
[payload.weighing.tilt]
raised = "right end"
rise = "150 mm"
readings = ["2.6 kg", "1.5 kg", "3.9 kg"]
"""
SWING = """
[[payload.weighing.swing]]
axis = "x"
period = "1.05 s"
pivot = "200 mm"
[[payload.weighing.swing]]
axis = "y"
period = "1.05 s"
pivot = "200 mm"
[[payload.weighing.swing]]
axis = "z"
period = "1.2 s"
strings = "1 m"
apart = "300 mm"
"""
WHOLE = STARTER.replace(MASS, "").replace(CENTRE, "").replace("[case]", FEET + TILT + "[case]")
SWUNG = WHOLE.replace(TILT, TILT + SWING)


def changed(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def complaints(folder, capsys, text):
    """The lines about a brief, without the name of the program."""
    (folder / "case.toml").write_text(text, encoding="utf-8")
    (folder / "parts.csv").write_text(PARTS, encoding="utf-8")
    assert main(["assess", str(folder / "case.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.splitlines()
    for line in lines:
        assert len(line) < 400
        assert re.search(r"; |\?|: (weigh|name|give|a list) ", line), line
        assert not re.search(r"@|Traceback|Weighing\.|Tilt\.|Swing\.|Foot\.|Payload\.", line)
    return [line.removeprefix("isolator: case.toml: ") for line in lines]


@pytest.mark.parametrize("text", [SWUNG, WHOLE, WHOLE.replace(TILT, "")])
def test_what_is_right_is_taken(tmp_path, capsys, text):
    text = text[: text.index("drop =")] + 'drop = "none"\nroad = "none"\n'
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert main(["assess", str(tmp_path / "case.toml")]) == (0 if TILT in text else 3)
    assert capsys.readouterr().err == ""


MISTAKES = [
    # what a scale cannot have said
    (('"2.0 kg"', '"0 kg"'), "foot[1].reading = 0 kg: that foot is lifted, or the centre of gravi"),
    (('"2.0 kg"', '"-1 kg"'), "payload.weighing.foot[1].reading = '-1 kg': -1 kg is outside 0 to"),
    (
        ('"0.1 kg"', '"0.1 kg"\ntotal = "8.6 kg"'),
        "payload.weighing.total = 8.6 kg: the feet sum to 8 kg, and steps of 0.1 kg explain 0.2 kg",
    ),
    (
        ('"1.5 kg"', '"2.0 kg"'),
        "payload.weighing.tilt.readings sum to 8.5 kg, level they sum to 8 kg",
    ),
    (('["0 mm", "130 mm"]', '["0 mm", "-130 mm"]'), "payload.weighing.foot: the feet lie in one l"),
    (('["2.6 kg", "1.5 kg"', '["1.5 kg", "2.6 kg"'), "below the feet; was the other end raised?"),
    # too coarse, too small, too steep
    (
        ('"0.1 kg"', '"0.6 kg"'),
        "payload.weighing.resolution = 0.6 kg: the mass of 8 kg is then known to ±11%, and ±10% is",
    ),
    (
        ('"0.1 kg"', '"1.2 kg"\ntotal = "8 kg"'),
        "resolution = 1.2 kg: the centre along y is then known to ±",
    ),
    (
        ('"150 mm"', '"50 mm"'),
        "payload.weighing.tilt.rise: too small a tilt to tell, the height of the centre is then",
    ),
    (('"150 mm"\nreadings', '"50 mm"\nreadings'), "raise that end by 57 mm"),
    (('rise = "150 mm"', 'angle = "5 deg"'), "is the limit, 20% of the payload's height; tilt it"),
    (('rise = "150 mm"', 'rise = "300 mm"'), "steeper than 45°, where a payload may fall over; gi"),
    (('rise = "150 mm"', 'rise = "900 mm"'), "give at most 254.6 mm with feet 360 mm apart"),
    (('rise = "150 mm"', 'angle = "50 deg"'), "tilt.angle: steeper than 45°"),
    # keys that do not go together
    (('rise = "150 mm"', ""), "payload.weighing.tilt.rise and angle: one of the two"),
    (('rise = "150 mm"', 'rise = "150 mm"\nangle = "20 deg"'), "tilt.rise and angle: one of the"),
    (('rise = "150 mm"', 'rise = "9 mm"\nangle_within = "2 deg"'), "angle_within stands without a"),
    (('rise = "150 mm"', 'rise = "9 mm"\nrise_within = "9 mm"'), "rise_within is as large as rise"),
    (('"0.1 kg"', '"0.1 kg"\ncentre_height = "0 mm"'), "centre_height stands beside tilt"),
    (("[payload.weighing]", 'mass = "8 kg"\n[payload.weighing]'), "payload.mass stands beside pay"),
    (
        ("[payload.weighing]", 'mass_within = "8 kg"\n[payload.weighing]'),
        "payload.mass_within stands beside payload.weighing, which gives it too; keep one",
    ),
    (
        ("[payload.weighing]", "inertia = ['0.1 kg*m²', '0.1 kg*m²', '0.1 kg*m²']\n"
         'parts = "parts.csv"\n[payload.weighing]'),
        "payload.inertia stands beside parts",
    ),
    # keys, kinds and units
    (("resolution", "resolutin"), "payload.weighing.resolutin = '0.1 kg': unknown key; 'resolutio"),
    (("reading", "readng"), "payload.weighing.foot[1].readng = '2.0 kg': unknown key; 'reading'"),
    (('"2.0 kg"', '"20 N"'), "payload.weighing.foot[1].reading = '20 N': N is no unit of mass"),
    (('["-180 mm", "-130 mm"]', '["-180 mm"]'), "foot[1].position = ['-180 mm']: a list of 1 giv"),
    (('"-180 mm", "-130 mm"', '"-180 cm", "-130 mm"'), "foot[1].position: x = -1800 mm lies far o"),
    (('"right end"', '"lid"'), "payload.weighing.tilt.raised = 'lid': not one of the choices"),
    (('"1.5 kg", "3.9 kg"]', '"5.4 kg"]'), "a list with a reading for each foot is wanted"),
    (('"1.5 kg", "3.9 kg"]', '"1.5 kg", "3.9 kg", "1 kg"]'), "readings: 4 given for 3 feet; give"),
    (('rise = "150 mm"', 'angle = "20"'), "tilt.angle = '20': a number without a unit; write '15"),
    (('rise = "150 mm"', 'angle = "20 °C"'), "°C is no unit of angle"),
    (("[payload.weighing.tilt]", "[[payload.weighing.tilt]]"), "a table is wanted; write [payload"),
]  # fmt: skip


@pytest.mark.parametrize(("pair", "words"), MISTAKES)
def test_a_mistake_is_named_with_its_way_out(tmp_path, capsys, pair, words):
    lines = complaints(tmp_path, capsys, changed(WHOLE, pair))
    assert any(words in line for line in lines), lines


def test_one_foot_alone_in_single_brackets(tmp_path, capsys):
    text = changed(WHOLE.replace(FEET[FEET.index("[[") :], ""), (TILT, ""))
    foot = '[payload.weighing.foot]\nposition = ["0 mm", "0 mm"]\nreading = "8 kg"\n'
    (line,) = complaints(tmp_path, capsys, changed(text, ("[case]", f"{foot}[case]")))
    assert line.startswith("payload.weighing.foot: one table; write [[payload.weighing.foot]] in")


def test_two_feet(tmp_path, capsys):
    (line,) = complaints(
        tmp_path, capsys, changed(WHOLE.replace(TILT, ""), (FEET[FEET.rindex("[[") :], ""))
    )
    assert line.startswith("payload.weighing.foot: 2 given; a payload is weighed on three or four")


SWINGS = [
    (('axis = "y"', 'axis = "x"'), "swing: about x, x, z; one about each of x, y and z is wanted"),
    (('period = "1.05 s"', 'period = "0.9 s"'), "swing[1].period: a pivot 200 mm from the centre"),
    (('pivot = "200 mm"', ""), "payload.weighing.swing[1].pivot, strings, apart: a pendulum has a"),
    (('apart = "300 mm"', ""), "payload.weighing.swing[3].pivot, strings, apart: a pendulum has a"),
    (('axis = "y"', 'axis = "w"'), "payload.weighing.swing[2].axis = 'w': not one of the choices"),
    (('"1.05 s"', '"1.2 m"'), "payload.weighing.swing[1].period = '1.2 m': m is no unit of time"),
    (('"1.05 s"', '"4 s"'), "payload.weighing.inertia has the principal moments"),
    (("[payload.weighing]", "inertia = ['0.1 kg*m²', '0.1 kg*m²', '0.1 kg*m²']\n"
      "[payload.weighing]"), "payload.inertia stands beside swing"),
]  # fmt: skip


@pytest.mark.parametrize(("pair", "words"), SWINGS)
def test_a_mistake_in_a_swing(tmp_path, capsys, pair, words):
    lines = complaints(tmp_path, capsys, changed(SWUNG, pair))
    assert any(words in line for line in lines), lines


def test_all_mistakes_come_in_one_run(tmp_path, capsys):
    text = changed(
        SWUNG,
        ('"2.1 kg"', '"2,1 kg"'),
        ('"right end"', '"right"'),
        ('axis = "y"', 'axis = "w"'),
        ('rated_load = "30 N"', 'rated_load = "30 kg"'),
    )
    lines = complaints(tmp_path, capsys, text)
    assert len(lines) == 4
    for key in ("foot[2].reading", "tilt.raised", "swing[2].axis"):
        assert any(line.startswith(f"payload.weighing.{key}") for line in lines)


@pytest.mark.parametrize("rise", [60, 70, 80, 100, 140])
def test_the_least_tilt_that_is_named_would_tell(rise):
    """Readings of one body at every tilt: what is named is refused below and taken from there."""
    above = 0.065

    def tilted(up: float) -> Weighing:
        tangent = up / (360**2 - up**2) ** 0.5
        moved = 8 * 1e3 * above * tangent / 360
        return Weighing(
            size=["400 mm", "300 mm", "150 mm"],
            resolution="1 g" if up > 300 else "0.1 kg",
            feet=[
                Foot(position=["-180 mm", "-130 mm"], reading="2 kg"),
                Foot(position=["180 mm", "-130 mm"], reading="2 kg"),
                Foot(position=["0 mm", "130 mm"], reading="4 kg"),
            ],
            tilt=Tilt(
                raised="right end",
                rise=f"{up} mm",
                rise_within="1 mm",
                readings=[f"{2 + moved:.6f} kg", f"{2 - moved:.6f} kg", "4 kg"],
            ),
        )

    try:
        tilted(rise)
    except InputError as error:
        named = float(re.search(r"raise that end by ([0-9.]+) mm or more", str(error))[1])
        assert named > rise
        assert tilted(named).height()[0] == pytest.approx(above - 0.075, abs=1e-5)
    else:
        assert tilted(rise).height()[1] <= 0.2 * 0.15


def test_a_scale_that_no_tilt_helps():
    with pytest.raises(InputError, match="no tilt up to 45° would tell: take a finer scale"):
        Weighing(
            size=["400 mm", "300 mm", "20 mm"],
            resolution="0.1 kg",
            feet=[
                Foot(position=["-180 mm", "-130 mm"], reading="2 kg"),
                Foot(position=["180 mm", "-130 mm"], reading="2 kg"),
                Foot(position=["0 mm", "130 mm"], reading="4 kg"),
            ],
            tilt=Tilt(raised="right end", angle="5 deg", readings=["2 kg", "2 kg", "4 kg"]),
        )


def test_the_words_of_the_objects_are_held_to_their_choices():
    with pytest.raises(
        InputError, match=r"Tilt\.raised = 'lid': not an end; write left end, right"
    ):
        Tilt(raised="lid", rise="10 mm", readings=["1 kg"] * 3)
    with pytest.raises(InputError, match=r"Swing\.axis = 'w': not an axis; write x, y or z"):
        Swing(axis="w", period="1 s", pivot="10 mm")

"""Mistakes in a brief: one line each that names file, key, value and way out; exit status 2."""

import itertools
import os
import re
import tomllib
import warnings
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cli import main
from isolator.design import Design
from isolator.trip import roads
from isolator.units import InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")
SLED = {item.name: item.read_text(encoding="utf-8") for item in (DATA / "ice-radar").iterdir()}
MASS = 'mass = "8 kg"'
ROAD = '"truck d4169-16 medium"'


def complaints(folder, capsys, text, files=()):
    """The lines about a brief, without the name of the program."""
    for name, content in {"case.toml": text, **dict(files)}.items():
        (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    assert main(["assess", str(folder / "case.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.splitlines()
    assert lines
    for line in lines:
        assert line.startswith("isolator: ")
        assert len(line) < 400
        # what is wrong, then the way out
        assert re.search(r"; |\?|: (weigh|name|give|a list) ", line), line
        assert not re.search(r"@|Traceback|function-|Mount\.|Leg\.|Place\.|Payload\.|Part\.", line)
    return [line.removeprefix("isolator: ") for line in lines]


def changed(text, old, new):
    assert old in text, old
    return text.replace(old, new, 1)


def complaint(folder, capsys, old, new):
    """The only line about the starter with one change."""
    (line,) = complaints(folder, capsys, changed(STARTER, old, new))
    return line


def sled_complaints(folder, capsys, file, old, new):
    return complaints(
        folder, capsys, SLED["case.toml"], SLED | {file: changed(SLED[file], old, new)}
    )


@pytest.mark.parametrize(
    ("value", "way_out"),
    [
        ("8", "a number without a unit; write '7.8 kg'"),
        ("nan", "a number without a unit"),
        ("-inf", "a number without a unit"),
        ("true", "not a real number"),
        ('"7,8 kg"', "write '7.8 kg'"),
        ('"1 000 kg"', "write '1000 kg'"),
        ('"1 1/2 kg"', "write '1.5 kg'"),
        ('"5 ± 0.2 kg"', "give the middle value alone"),
        ('"kg"', "there is no number"),
        ('"9**9**9 kg"', "is not a unit"),
        ('"-8 kg"', "outside 0.001 to 500 kg"),
        ('"8000 kg"', "outside 0.001 to 500 kg; g meant?"),
        ('"nan kg"', "not a finite number"),
        ('"inf kg"', "not a finite number"),
        ('"8e999 kg"', "not a finite number"),
        ('"8 m"', "m is no unit of mass"),
        ('"8 Kg"', "kg meant?"),
        ('""', "the text is empty"),
        ('["8 kg"]', "one value wanted"),
        ("{ a = 1 }", "is not a text or a quantity"),
        ("2020-01-01", "is not a text or a quantity"),
        ("0x" + "f" * 5000, "a number without a unit"),
        ('"' + "8" * 300_000 + ' kg"', "longer than 64 characters"),
    ],
)
def test_an_unusable_mass(tmp_path, capsys, value, way_out):
    line = complaint(tmp_path, capsys, MASS, f"mass = {value}")
    assert line.startswith("case.toml: payload.mass = ")
    assert way_out in line


SHEET = (
    "[mounts]\nsheet = { thickness = '2 mm', span = ['200 mm', '100 mm'], edges = 'clamped', "
    "material = 'aluminium' }"
)
CABLE = (
    "[[cable]]\nname = 'loom'\nposition = ['0 mm', '0 mm', '0 mm']\nstiffness = '2 N/mm'\n[[leg]]"
)

MISTAKES = [
    (MASS, 'mas = "8 kg"', "payload.mas = '8 kg': unknown key; 'mass' meant?"),
    (MASS, MASS + '\ndrop = "1 m"', "payload.drop = '1 m': unknown key; it belongs under [[leg]]"),
    (MASS, MASS + "\nzzz = 1", "payload.zzz = 1: unknown key; known are size, mass, parts"),
    (MASS, "", "payload.mass is missing: weigh what floats"),
    ("floor =", "flor =", "case.flor = '50 mm': unknown key; 'floor' meant?"),
    ("travel =", "travl =", "mount.ring.travl = '45 mm': unknown key; 'travel' meant?"),
    ("[mounts]", "[mounts]\npsh = 'z'", "mounts.psh = 'z': unknown key; 'push' meant?"),
    ("duration", "durtion", "leg[1].durtion = '3 h': unknown key; 'duration' meant?"),
    ("vertical =", "vertcal =", "leg[1].road.vertcal = "),
    ("[payload]", "nam = 'x'\n[payload]", "nam = 'x': unknown key; 'name' meant?"),
    ('along = "6 N/mm"', 'along = "6 lb/in"', "mount.ring.along = '6 lb/in': lb is a mass"),
    ('along = "6 N/mm"', 'along = "6 lb/in"', "write '6 lbf/in'"),
    ('along = "6 N/mm"', "along = {}", "mount.ring.along.deflection is missing"),
    (
        'along = "6 N/mm"',
        'along = { deflection = ["1 mm", 2], force = ["6 N", "12 N"] }',
        "mount.ring.along.deflection[2] = 2: a number without a unit",
    ),
    (
        'along = "6 N/mm"',
        'along = { deflection = ["2 mm", "1 mm"], force = ["6 N", "12 N"] }',
        "mount.ring.along: the deflections must rise",
    ),
    ("loss_factor = 0.15", "loss_factor = inf", "mount.ring.loss_factor = inf: not a finite"),
    ("loss_factor = 0.15", "loss_factor = 15", "mount.ring.loss_factor = 15: 15 is outside 0.001"),
    ("captive = true", 'captive = "perhaps"', "mount.ring.captive = 'perhaps': not a yes or no"),
    ("captive = true", "cold_factor = 2", "mount.ring.cold_factor of 'ring'"),
    ('grade = "curve"', 'grade = "cuve"', "mount.ring.grade = 'cuve': not one of the choices; 'cu"),
    ('fragility = "40 g0"', 'fragility = "30 g"', "payload.fragility = '30 g': g is a mass here"),
    ('fragility = "40 g0"', 'fragility = "30 g"', "write '30 g0'"),
    ('"400 mm", "300 mm", "150 mm"', '"400 mm", "-1 mm", "150 mm"', "payload.size[2] = '-1 mm'"),
    ('"400 mm", "300 mm", "150 mm"', '"1 1/2 in", "300 mm", "150 mm"', "size[1] = '1 1/2 in'"),
    ('"400 mm", "300 mm", "150 mm"', '"400 mm", "300 mm"', "a list of 2 given; a list of 3 wanted"),
    (
        '"0 mm", "0 mm", "-10 mm"',
        '"0 mm", "0 mm", "-10 cm"',
        "payload.centre: z = -100 mm lies out",
    ),
    (MASS, MASS + "\ninertia = ['0 kg*m²', '1 kg*m²', '1 kg*m²']", "principal moment 0 kg·m²"),
    (MASS, MASS + "\ninertia = ['-1 kg*m²', '1 kg*m²', '1 kg*m²']", "principal moment -1 kg·m²"),
    (MASS, MASS + "\ninertia = ['1 kg*m²']", "give three moments about x, y, z"),
    (MASS, MASS + "\nsource = 3", "payload.source = 3: a text is wanted"),
    (MASS, MASS + "\nbending = '85 s'", "payload.bending = '85 s': s is no unit of frequency"),
    ("[mounts]", "[mounts]\nflatness = '-1 mm'", "mounts.flatness = '-1 mm'"),
    ("[mounts]", "[mounts]\nflatness = '500 mm'", "mounts.flatness = '500 mm'"),
    ("[mounts]", "[mounts]\nsheet = 900", "mounts.sheet = 900: a number without a unit"),
    ("[mounts]", "[mounts]\nsheet = '-1 N/mm'", "mounts.sheet = '-1 N/mm'"),
    ("[mounts]", "[mounts]\nsheet = {}", "mounts.sheet.thickness is missing: a sheet has thickn"),
    ("[mounts]", SHEET.replace("aluminium", "alumnium"), "'alumnium': not one of the choices; 'al"),
    ("[mounts]", SHEET.replace("clamped", "glued"), "mounts.sheet.edges = 'glued': not one of"),
    ("[mounts]", SHEET.replace("2 mm", "90 mm"), "mounts.sheet.thickness = 90 mm: more than a fi"),
    ("[mounts]", SHEET.replace("2 mm", "2 kg"), "mounts.sheet.thickness = '2 kg': kg is no unit"),
    ("[mounts]", SHEET.replace("'200 mm', ", ""), "mounts.sheet.span = ['100 mm']: a list of 1"),
    (
        "[mounts]",
        SHEET.replace("material", "poisson = 0.3, material"),
        "mounts.sheet.poisson: a mo",
    ),
    ("[mounts]", SHEET.replace("material = 'aluminium'", "modulus = '70 GPa'"), "sheet.poisson: a"),
    (
        "[mounts]",
        SHEET.replace("material = 'aluminium'", "modulus = '70 N'"),
        "sheet.modulus = '70",
    ),
    (
        "[mounts]",
        SHEET.replace("material", "modulus = '70 GPa', poisson = 0.3, material"),
        "mounts.sheet.material: the stiffness of what the sheet is made of is given once",
    ),
    ("[mounts]", SHEET.replace(", material = 'aluminium'", ""), "mounts.sheet.material: the stiff"),
    ("[mounts]", SHEET.replace("edges", "edge"), "mounts.sheet.edge = 'clamped': unknown key"),
    ("[[leg]]", "[cable]\nname = 'loom'\n[[leg]]", "cable: one table; write [[cable]] in double"),
    ("[[leg]]", "[[cable]]\nname = 'loom'\n[[leg]]", "cable[1].stiffness is missing"),
    ("[[leg]]", CABLE.replace("2 N", "40 N"), "cable[1].stiffness of 'loom': 40 N/mm along x, mo"),
    ("[[leg]]", CABLE.replace("2 N", "40 N"), "24 N/mm of all mounts together: N/m written as N/m"),
    ("[[leg]]", CABLE.replace("2 N/mm", "2 N"), "cable[1].stiffness = '2 N': N is no unit of stif"),
    ("[[leg]]", CABLE.replace("'2 N/mm'", "['2 N/mm', '1 N/mm']"), "a list of 3 wanted"),
    ("[[leg]]", CABLE.replace("'0 mm', ", "'2 m', ", 1), "cable[1].position: x = 2000 mm lies far"),
    ("[[leg]]", CABLE.replace("[[leg]]", "loss_factor = 9\n[[leg]]"), "cable[1].loss_factor = 9: "),
    ("[[leg]]", CABLE.replace("[[leg]]", CABLE), "cable: the name 'loom' is used twice"),
    ("[payload]", "[not_required]\nbending = 'x'\n[payload]", "has no check of that id"),
    (MASS, MASS + '\nsource = "\\u001b[2J"', "a character that cannot be printed"),
    ("[payload]", "[[payload]]", "a table is wanted; write [payload]"),
    ("[[leg]]", "[leg]", "leg: one table; write [[leg]] in double brackets"),
    ("[mount.ring]", "[mount]", "mount.along = '6 N/mm': a kind of mount needs a name"),
    ("[mounts]", '[mounts]\nuse = "rnig"', "mounts.use = 'rnig': no such mount; 'ring' meant?"),
    ("[mounts]", "[mounts]\nuse = [1]", "mounts.use = [1]: a text is wanted"),
    ('inset = ["40 mm", "40 mm"]', "", "mounts.inset and mounts.height go together"),
    ('inset = ["40 mm", "40 mm"]', 'inset = ["200 mm", "40 mm"]', "mounts.inset[1] = 200 mm"),
    ('measured = "hanging"', 'measured = "hung"', "case.measured = 'hung': not one of the choices"),
    ('drop = "0.2 m"', 'drop = "0.2 kg"', "leg[1].drop = '0.2 kg': kg is no unit of"),
    ('"15 °C"', '"150 K"', "leg[1].temperature = '150 K'"),
    (ROAD, '"truck d4169-16 medum"', "leg[1].road.vertical = 'truck d4169-16 medum': no such road"),
    (ROAD, '"truck d4169-16 medum"', "'truck d4169-16 medium' meant?"),
    (ROAD, "3", "leg[1].road.vertical = 3: a text is wanted"),
    (ROAD, '"own.csv"', "leg[1].road.vertical = 'own.csv': no such file"),
    ("[leg.road]", "road = 3\n[case.x]", "leg[1].road = 3: a table is wanted"),
    (
        "[[leg]]",
        "[[leg]]\nattitude = 'lid upp'",
        "leg[1].attitude = 'lid upp': not one of the choi",
    ),
    ("[[leg]]", "[[leg]]\nlandings = []", "leg[1].landings = []: a list with one or more words"),
    ("[[leg]]", "[[leg]]\nlandings = ['lid up', 'lip up']", "leg[1].landings[2] = 'lip up'"),
    (
        "[[leg]]",
        "[[leg]]\nlandings = ['lid up', 'lid up']",
        "landings[2] = 'lid up': it stands twi",
    ),
    (
        "[[leg]]",
        "[[leg]]\naxes = { vertical = 'z' }",
        "give each of vertical, transverse, longitud",
    ),
    (
        "[[leg]]",
        "[[leg]]\naxes = { vertical = 'x', transverse = 'y', longitudinal = 'z' }",
        "leg[1].axes.vertical = 'x': lid up, z is vertical",
    ),
    ("[payload]", "attitudes = []\n[payload]", "attitudes = []: a list with one or more words"),
    (
        "[payload]",
        "attitudes = ['lid down']\n[payload]",
        "leg[1].attitude = 'lid up': attitudes le",
    ),
    ('name = "by van"', 'name = "a/b"', "leg[1].name = 'a/b': check ids are cut at /"),
    (
        "[[leg]]",
        "[[leg]]\nname = 'by van'\n[[leg]]",
        "leg[2].name = 'by van': leg[1] has this name",
    ),
]


@pytest.mark.parametrize(("old", "new", "words"), MISTAKES)
def test_a_mistake_is_named_with_its_way_out(tmp_path, capsys, old, new, words):
    lines = complaints(tmp_path, capsys, changed(STARTER, old, new))
    assert any(words in line for line in lines), lines
    assert all(line.startswith("case.toml: ") for line in lines)


@pytest.mark.parametrize(("unit", "fix"), [("kg*m²", True), ("kg*cm²", False)])
def test_an_inertia_that_no_body_in_the_box_has(tmp_path, capsys, unit, fix):
    moments = [f"{v} {unit}" for v in ((20, 30, 40) if fix else (0.2, 0.3, 0.4))]
    lines = complaints(tmp_path, capsys, changed(STARTER, MASS, f"{MASS}\ninertia = {moments}"))
    assert len(lines) == 3
    assert all("payload.inertia: " in line and "a slip of units?" in line for line in lines)


def test_all_mistakes_come_in_one_run(tmp_path, capsys):
    text, files = SLED["case.toml"], dict(SLED)
    for old, new in [
        ('fragility = "40 g0"', 'fragility = "40 g"'),
        ('floor = "', 'flour = "'),
        ('mount = "soft"', 'mount = "soff"'),
        ('temperature = "5 °C"', 'temperature = "5"'),
        ('transverse = "truck d4169-16 low"', 'transverse = "truck"'),
        ('name = "Ice', 'attitude = "lid up"\nname = "Ice'),
        ("[payload]", '[not_required]\nstand = "x"\n[payload]'),
    ]:
        text = changed(text, old, new)
    files["parts.csv"] = changed(changed(SLED["parts.csv"], "4.0", "-4"), "recorder", "tray")
    files["mounts.csv"] = changed(SLED["mounts.csv"], ",true", ",maybe")
    files["sled.csv"] = changed(SLED["sled.csv"], "8,0.002", "8,0")
    lines = complaints(tmp_path, capsys, text, {**files, "case.toml": text})
    starts = [
        "case.toml: attitude = ",
        "case.toml: payload.fragility = ",
        "case.toml: case.flour = ",
        "case.toml: leg[1].temperature = ",
        "case.toml: leg[1].road.transverse = ",
        "parts.csv: line 3 ('tray'): mass = '-4 kg'",
        "parts.csv: line 4 ('tray'): the name stands in line 3 too",
        "mounts.csv: line 3 ('soft'): captive = 'maybe'",
        "sled.csv: line 5: density = '0 g0^2/Hz'",
    ]
    for start in starts:
        assert sum(line.startswith(start) for line in lines) == 1, start
    assert len(lines) == len(starts)


def test_what_is_unusable_does_not_hide_the_mounts_in_one_line(tmp_path, capsys):
    places = "".join(
        f"[[mounts.place]]\nposition = ['{x} mm', '0 mm', '0 mm']\n" for x in (-9, 0, 9)
    )
    text = changed(STARTER, MASS, 'mass = "kg"')
    text = changed(changed(text, 'inset = ["40 mm", "40 mm"]', ""), 'height = "-10 mm"', places)
    lines = complaints(tmp_path, capsys, text)
    assert len(lines) == 2
    assert any("payload.mass" in line for line in lines)
    assert any("free to turn about it (rock about x)" in line for line in lines)


def test_fewer_than_three_mounts(tmp_path, capsys):
    places = "".join(f"[[mounts.place]]\nposition = ['{x} mm', '0 mm', '0 mm']\n" for x in (-9, 9))
    text = changed(STARTER, 'inset = ["40 mm", "40 mm"]', "")
    (line,) = complaints(tmp_path, capsys, changed(text, 'height = "-10 mm"', places))
    assert "mounts: 2 given; a payload needs three or more" in line


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("stand", "'stands' meant?"),
        ("isolation/by vn/x", "'isolation/by van/x' meant?"),
        ("isolation/by van/w", "meant?"),
        ("clearance/lidd", "'clearance/lid' meant?"),
        ("drop/by van", "meant?"),
        ("drop travel/by van/upside", "meant?"),
        ("q" * 3000, "known are clearance"),
    ],
)
def test_a_waiver_that_matches_no_check(tmp_path, capsys, key, words):
    line = complaint(tmp_path, capsys, "[payload]", f'[not_required]\n"{key}" = "x"\n[payload]')
    assert "this case has no check of that id" in line
    assert words in line


@pytest.mark.parametrize("value", ['""', "3", '"  "'])
def test_a_waiver_needs_a_reason(tmp_path, capsys, value):
    line = complaint(tmp_path, capsys, "[payload]", f"[not_required]\nsag = {value}\n[payload]")
    assert "not_required.sag = " in line


@pytest.mark.parametrize("drop", ['"0.2 m"', '"none"', None])
@pytest.mark.parametrize(
    "road",
    [
        "'none'",
        "'us highway truck 810'",
        "'none'\nset_down = '50 mm'\n[leg.sine]\nfrom = '5 Hz'\nto = '90 Hz'\nlevel = '1 g0'",
    ],
)
def test_the_ids_that_may_be_waived_are_those_of_the_checks(tmp_path, drop, road):
    text = STARTER[: STARTER.index("[leg.road]")] + f"road = {road}\n"
    text = changed(text, 'drop = "0.2 m"', f"drop = {drop}" if drop else "")
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    result = assess(tmp_path / "case.toml")
    heads = {
        head for check in result.checks for head in itertools.accumulate(
            check.id.split("/"), "{}/{}".format
        )
    }  # fmt: skip
    waived = assess(result.brief.changed("not_required", dict.fromkeys(heads, "not asked")))
    assert all(check.waived for check in waived.checks)
    assert waived.status == "incomplete"


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("parts.csv", "tray,box,4.0", "tray,box,4,0", "line 3 ('tray'): 10 cells in 9 columns"),
        ("parts.csv", "tray,box,4.0", 'tray,box,"4,0"', "mass = '4,0 kg': a comma is not read"),
        ("parts.csv", "tray,box,4.0", "tray,box,4 kg", "the head has the unit; write 4 alone"),
        ("parts.csv", "mass [kg]", "mass", "column 3 = 'mass': a unit is missing; write mass [kg]"),
        ("parts.csv", "mass [kg]", "mas [kg]", "column 3 = 'mas [kg]': unknown column; 'mass' me"),
        ("parts.csv", "mass [kg]", "mas [kg]", "the column mass [kg] is missing"),
        ("parts.csv", "shape", "mass [kg]", "column 3 = 'mass [kg]': the column stands twice"),
        ("parts.csv", "name,", "name [kg],", "column 1 = 'name [kg]': it has no unit"),
        ("parts.csv", "z [mm]", "z]mm[", "column 6 = 'z]mm[': not a readable head"),
        ("parts.csv", "recorder", "tray", "line 4 ('tray'): the name stands in line 3 too"),
        ("parts.csv", "tray,box", '"tray,box', "not readable as CSV"),
        ("parts.csv", "0,0,-60", "0,,-60", "line 3 ('tray'): y is empty; every row needs it"),
        ("parts.csv", "420,300,20", ",300,20", "line 3 ('tray'): size x is empty"),
        ("parts.csv", "420,300,20", ",,", "line 3 ('tray'): size of 'tray' is missing"),
        ("parts.csv", "tray,box", "tray,ball", "shape = 'ball': not one of the choices"),
        ("parts.csv", "130,60", "130,1600", "line 5 ('battery'): y = 1600 mm lies far outside"),
        ("parts.csv", "tray", "tr\x1bay", "a character that cannot be printed"),
        ("mounts.csv", "captive", "captve", "unknown column; 'captive' meant?"),
        ("mounts.csv", "firm", "soft", "line 4 ('soft'): the name stands in line 3 too"),
        ("mounts.csv", "along [N/mm]", "along [lb/in]", "along = '16 lb/in': lb is a mass here"),
        ("mounts.csv", ",-40,", ",20,", "line 3 ('soft'): cold_temperature = 20 °C"),
        ("sled.csv", "8,0.002", "1,0.002", "frequency 3 = 1 Hz does not lie above the one before"),
        ("sled.csv", "8,0.002", "8,0", "line 5: density = '0 g0^2/Hz'"),
        ("sled.csv", "8,0.002", "8,", "line 5: density is empty"),
        ("sled.csv", "8,0.002", "8", "line 5: 1 cells in 2 columns"),
        ("sled.csv", "[g0^2/Hz]", "", "a unit is missing; write density [g0^2/Hz]"),
        ("case.toml", 'mount = "soft"', "", "mounts.place[1].mount is missing: name one of"),
        ("case.toml", '["-180 mm"', '["-180 cm"', "mounts.place[1].position: x = -1800 mm lies fa"),
        ("case.toml", 'mount = "soft"', "push = 'up'\nmount = 'soft'", "place[1].push = 'up': not"),
        ("case.toml", 'mount = "soft"', "push = [0, 0, 0]\nmount = 'soft'", "are no direction"),
        ("case.toml", 'mount = "soft"', "push = [0, nan, 0]\nmount = 'soft'", "place[1].push[2] ="),
        ("case.toml", "parts =", "mass = '3 kg'\nparts =", "payload.mass stands beside payload.pa"),
        ("case.toml", "[mounts]", "[mount.soft]\nalong = '1 N/mm'\nacross = '1 N/mm'\n"
         "dynamic_ratio = 1\n[mounts]", "the brief has a [mount.soft] too"),
    ],
)  # fmt: skip
def test_a_mistake_in_a_table(tmp_path, capsys, file, old, new, words):
    lines = sled_complaints(tmp_path, capsys, file, old, new)
    assert any(words in line for line in lines), lines


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "the table is empty"),
        ("# only a comment\n", "the table is empty"),
        ("name,mass [kg],x [mm],y [mm],z [mm]\n", "the table is empty"),
        ("name;mass [kg];x [mm]\na;1,5;0\n", "set apart by semicolons"),
        ("a" * 2_000_000, "larger than 1000000 bytes"),
        (b"\xff\xfen\x00", "not text in UTF-8"),
        ('"' + "a" * 200_000 + '"\n', "not readable as CSV"),
        ("name\n" + "a\n" * 1001, "at most 1000"),
        ("name,mass [kg],x [mm],y [mm],z [mm],shape\na,1,0,0,0,point\nb,1,9,0,0,point\n",
         "sum of the parts: inertia has the principal moment 0"),
        ("name,mass [kg],x [mm],y [mm],z [mm],size x [mm],size y [mm],size z [mm]\n"
         "a,400,0,0,0,9,9,9\nb,400,9,9,0,9,9,9\n", "sum of the parts: mass: 800 kg is more than"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_parts_table(tmp_path, capsys, content, words):
    lines = complaints(tmp_path, capsys, SLED["case.toml"], SLED | {"parts.csv": content})
    assert len(lines) == 1
    assert words in lines[0]


@pytest.mark.parametrize(
    "name",
    ["../parts.csv", "/dev/zero", "/etc/hostname", "out.csv", "loop.csv", ".", "pipe", "p" * 300,
     "a\\u0000b.csv", "none.csv"],
)  # fmt: skip
def test_a_file_that_is_not_in_the_folder_or_not_a_file(tmp_path, capsys, name):
    (tmp_path / "parts.csv").write_text(SLED["parts.csv"], encoding="utf-8")
    folder = tmp_path / "case"
    folder.mkdir()
    (folder / "out.csv").symlink_to(tmp_path / "parts.csv")
    (folder / "loop.csv").symlink_to(folder / "loop.csv")
    os.mkfifo(folder / "pipe")
    text = changed(SLED["case.toml"], '"parts.csv"', f'"{name}"')
    (line,) = complaints(folder, capsys, text, {k: v for k, v in SLED.items() if k != "case.toml"})
    assert line.startswith("case.toml: payload.parts = ")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("mass = 8 kg", "line 1, 'mass = 8 kg': not readable as TOML"),
        (STARTER + "x = [", "not readable as TOML"),
        (STARTER + "[payload]\n", "not readable as TOML"),
        ("x = " + "9" * 5000, "a number has too many digits"),
        ("x = " + "[" * 100_000, "nested too deeply"),
        ("a." * 20_000 + "a = 1", "more than 1000 dots"),
        ("a." * 400_000 + "a = 1", "400000 dots, more than any brief needs"),
        ("a." * 900 + "a = 1\n" + STARTER, "nested too deeply"),
        ("a.a.a.a.a.a.a.a = 1\n" + STARTER, "a = {'a': {'a': "),
        ("", "payload is missing"),
        ("# " + "a" * 1_000_000, "larger than 1000000 bytes"),
        (STARTER.encode("utf-16"), "not text in UTF-8"),
    ],
)
def test_a_file_that_is_no_brief(tmp_path, capsys, text, words):
    assert words in complaints(tmp_path, capsys, text)[0]


@pytest.mark.parametrize("name", ["none.toml", ".", "pipe", "loop", "x" * 300, "a\0b"])
def test_a_brief_that_cannot_be_opened(tmp_path, capsys, name):
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    os.mkfifo(tmp_path / "pipe")
    assert main(["assess", str(tmp_path / name)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert err.startswith("isolator: ")


def test_a_device_without_end_is_refused(capsys):
    assert main(["assess", "/dev/zero"]) == 2
    assert "not a plain file" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"15 °C"', '"-20 °C"'),
        ('"15 °C"', '"-20 degC"'),
        ('"-10 mm"]', '"-60 mm"]'),
        ('"0 mm", "0 mm", "-10 mm"', '"170 mm", "0 mm", "-10 mm"'),  # outside the mounts
        ('rated_load = "30 N"', 'rated_load = "1 N"'),
        ('name = "by van"', 'name = "به‌سوی یخچال"'),  # with a joiner, as Persian is written
        ('height = "-10 mm"', 'height = "-10 mm"\npush = [0, 0, -2]'),
        ('captive = true', "captive = false"),
        ("[leg.road]", "[leg.x]\n[leg.road]"),
    ][:-1],
)  # fmt: skip
def test_what_is_bad_news_but_usable_gets_a_verdict(tmp_path, capsys, old, new):
    (tmp_path / "case.toml").write_text(changed(STARTER, old, new), encoding="utf-8")
    assert main(["assess", str(tmp_path / "case.toml")]) in (0, 1, 3)
    assert capsys.readouterr().err == ""


def test_a_spectrum_may_count_in_rpm(tmp_path):
    rows = "frequency [rpm],density [g0^2/Hz]\n60,0.001\n1000,0.1\n"
    for name, content in (SLED | {"sled.csv": rows}).items():
        (tmp_path / name).write_text(content, encoding="utf-8")
    (spectrum, *_) = read_brief(tmp_path / "case.toml").design.legs[1].road.values()
    assert spectrum.lines == pytest.approx([1.0, 1000 / 60])


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_line_ends_and_marks_of_other_systems_are_read(tmp_path, end):
    for name, content in SLED.items():
        own = "\r\n" if name == "case.toml" else end  # TOML knows no line end of \r alone
        (tmp_path / name).write_bytes(b"\xef\xbb\xbf" + content.replace("\n", own).encode())
    assert read_brief(tmp_path / "case.toml").design == _design(DATA / "ice-radar" / "case.toml")


def _design(path: Path) -> Design:
    return read_brief(path).design


def test_a_push_for_all_mounts_is_that_of_each_place():
    brief = read_brief(DATA / "ice-radar" / "case.toml")
    assert {place.push for place in brief.changed("mounts.push", "z").design.places} == {"z"}


def test_a_changed_brief_is_judged_as_a_file_would_be():
    brief = read_brief(DATA / "ice-radar" / "case.toml")
    assert brief.changed("leg[2].drop", "0.3 m").design.legs[1].drop.to("m").magnitude == 0.3
    assert "drop" in brief.text["leg"][1]
    for key, value, words in [
        ("leg[2].drop", "0.3 kg", "leg[2].drop"),
        ("leg[9].drop", "0.3 m", "leg[9].drop"),
        ("nothing.here", 1, "nothing.here"),
        ("name.first", 1, "name.first"),
        ("mounts.place[1].mount", "none", "no such mount"),
    ]:
        with pytest.raises(InputError, match=re.escape(words)):
            brief.changed(key, value)


NASTY = [
    "nan", "inf", "-1", "0", "1e308", "[]", "{}", "true", '""', '"nan kg"', '"9**9**9 kg"',
    '"1e-300 m"', '"7,8 mm"', "[[]]", "{ a = [] }", '"none"', "1979-05-27", '"-40 °C"', '"0 N"',
    '"' + "9" * 70 + ' mm"', "[1, 2, 3]", '["0 mm"]',
    '"\\u0000"', "0x7fffffffffffffff",
]  # fmt: skip
VALUES = [m.span(1) for m in re.finditer(r"(?m)= (.+?)(?=\s*(?:#.*)?$)", STARTER)]
LINES = STARTER.splitlines(keepends=True)


@st.composite
def spoiled(draw):
    """The starter with one to three slips of the keyboard."""
    text = STARTER
    for _ in range(draw(st.integers(1, 3))):
        slip = draw(st.sampled_from(["cut", "double", "byte", "value", "lines"]))
        if slip == "value":
            start, end = draw(st.sampled_from(VALUES))
            text = text[:start] + draw(st.sampled_from(NASTY)) + text[end:]
        elif slip == "lines":
            line = draw(st.sampled_from(LINES))
            text = text.replace(line, draw(st.sampled_from(["", line + line, line[::-1]])), 1)
        else:
            at = draw(st.integers(0, len(text)))
            end = at + draw(st.integers(1, 12))
            put = {"cut": "", "double": text[at:end] * 2, "byte": draw(st.characters())}[slip]
            text = text[:at] + put + text[end if slip != "byte" else at :]
    return text


@pytest.mark.heavy
@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(text=spoiled())
def test_slips_of_the_keyboard_never_end_in_a_traceback(tmp_path, capsys, text):
    (tmp_path / "case.toml").write_bytes(text.encode("utf-8", "surrogatepass"))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        status = main(["assess", str(tmp_path / "case.toml")])
    out, err = capsys.readouterr()
    assert status in (0, 1, 2, 3)
    assert (out == "") == (status == 2)
    assert (err == "") == (status != 2)
    if status != 2:
        assert tomllib.loads(text)["leg"]


def test_every_shipped_road_can_be_asked_for(tmp_path):
    """`road.vertical` may name any of them."""
    for name in roads():
        (tmp_path / "case.toml").write_text(changed(STARTER, ROAD, f'"{name}"'), encoding="utf-8")
        assert read_brief(tmp_path / "case.toml").design.legs[0].road["vertical"].lines.size


@pytest.mark.parametrize("value", ["{}", "[]", "3", "{ a = 1 }"])
def test_a_mounts_table_that_is_no_file_name(tmp_path, capsys, value):
    text = changed(SLED["case.toml"], 'table = "mounts.csv"', f"table = {value}")
    lines = complaints(tmp_path, capsys, text, SLED | {"case.toml": text})
    assert any(line.startswith("case.toml: mounts.table = ") for line in lines)

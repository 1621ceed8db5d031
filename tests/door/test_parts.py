"""Mistakes in the parts of a brief: one line each, exit status 2."""

from pathlib import Path

import pytest

from isolator.case import Case
from isolator.cli import main
from isolator.payload import Part

SLED = Path(__file__).parents[2] / "data" / "ice-radar"
HEAD = "name,shape,mass [kg],x [mm],y [mm],z [mm]"
FLOATING = HEAD + ",size x [mm],size y [mm],size z [mm]"
TRAY = "tray,box,19.5,30,20,0,420,300,100"


def complaints(folder, capsys, floating, fixed=None, waiver=""):
    text = (SLED / "case.toml").read_text(encoding="utf-8")
    for name in ("mounts.csv", "sled.csv"):
        (folder / name).write_bytes((SLED / name).read_bytes())
    (folder / "parts.csv").write_text(floating, encoding="utf-8")
    if fixed is not None:
        text = text.replace("[case]", '[case]\nparts = "fixed.csv"', 1)
        (folder / "fixed.csv").write_text(fixed, encoding="utf-8")
    if waiver:
        text += f'\n[not_required]\n"{waiver}" = "no"\n'
    (folder / "case.toml").write_text(text, encoding="utf-8")
    assert main(["assess", str(folder / "case.toml")]) == 2
    lines = capsys.readouterr().err.splitlines()
    for line in lines:
        assert len(line) < 400
        assert "; " in line
    return lines


@pytest.mark.parametrize(
    ("heads", "cells", "words"),
    [
        ("resonance", "80", "column 10 = 'resonance': a unit is missing; write resonance [Hz]"),
        ("speed", "1000", "column 10 = 'speed': a unit is missing; write speed [rpm]"),
        (
            "resonance [Hz],amplification",
            "80,0.8",
            "amplification = '0.8': 0.8 is outside 1 to 1000",
        ),
        ("amplification", "8", "resonance of 'tray' is missing: amplification belongs to it"),
        ("blades", "7", "speed of 'tray' is missing: blades belongs to it"),
        ("speed [rpm],blades", "900,3.5", "blades = 3.5: not a count"),
        ("vibration limit [g]", "2", "g0"),
        ("kind", "bord", "kind = 'bord': not one of the choices; 'board' meant?"),
        ("component", "dil", "component = 'dil': not one of the choices; 'dip' meant?"),
        ("component place", "2", "component_place = '2': 2 is outside 0.1 to 1"),
        ("board thickness [mm]", "-1", "board_thickness = '-1 mm'"),
        ("resonanz [Hz]", "80", "'resonanz [Hz]': unknown column; 'resonance' meant?"),
    ],
)
def test_a_column_that_cannot_be_used(tmp_path, capsys, heads, cells, words):
    lines = complaints(tmp_path, capsys, f"{FLOATING},{heads}\n{TRAY},{cells}\n")
    assert any(words in line for line in lines), lines


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("a,point,8,0,0,0\nb,point,6,0,0,0", "case.mass = 13 kg: the parts that are fixed in it"),
        ("tray,point,1,0,0,0", "the name 'tray' stands in payload.parts too"),
        ("a/b,point,1,0,0,0", "the name 'a/b' holds a /"),
        ("a,box,1,0,0,0", "fixed.csv: line 2 ('a'): size of 'a' is missing"),
        ("a,point,,0,0,0", "fixed.csv: line 2 ('a'): mass is empty"),
    ],
)
def test_fixed_parts_that_cannot_be(tmp_path, capsys, rows, words):
    (line,) = complaints(tmp_path, capsys, f"{FLOATING}\n{TRAY}\n", f"{HEAD}\n{rows}\n")
    assert words in line


def test_a_waiver_of_a_part_that_is_not_there(tmp_path, capsys):
    rows = f"{HEAD}\nantenna,point,1,0,0,0\n"
    floating = f"{FLOATING}\n{TRAY}\n"
    (line,) = complaints(tmp_path, capsys, floating, rows, "part drop/truck to the camp/antena")
    assert "no check of that id" in line
    assert "'part drop/truck to the camp/antenna' meant?" in line
    # with unusable parts it is not judged
    (line,) = complaints(
        tmp_path, capsys, floating, rows.replace("1,0", "-1,0"), "part drop/truck to the camp/any"
    )
    assert "mass = '-1 kg'" in line


def test_a_case_as_heavy_as_its_parts_is_taken():
    part = Part(name="a", mass="3 kg", position=["0 mm"] * 3, shape="point")
    assert Case(mass="3 kg", parts=[part]).parts == [part]
    assert Case(parts=[part]).mass is None

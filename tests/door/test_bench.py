"""What no bench can have recorded gets one line, and no number."""

import json
from pathlib import Path

import pytest

from isolator.brief import read_brief
from isolator.cli import main

DATA = Path(__file__).parents[2] / "data"
TAP = str(DATA / "ice-radar" / "tap.csv")
CASE = str(DATA / "ice-radar" / "case.toml")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (["look", "none.csv"], "none.csv"),
        (["tap", TAP, "--out", "new.toml"], "there is no brief to correct; name it with --brief"),
        (
            ["tap", TAP, "--brief", CASE, "--out", "elsewhere/new.toml"],
            "write it into the brief's own",
        ),
        (["tap", TAP, "--rate", "4"], "rate"),
        (["tap", TAP, "--unit", "1 kg"], "unit"),
        (["tap", TAP, "--channels", "up"], "up"),
        (["pair", TAP, "--base", "x", "--payload", "nothing"], "nothing"),
        (["expect", "none.toml"], "none.toml"),
    ],
)
def test_a_line_for_each_mistake_at_the_bench(capsys, line, words):
    assert main(["bench", *line]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert words in err
    assert all(said.startswith("isolator: ") and len(said) < 400 for said in err.splitlines())


@pytest.mark.parametrize(
    "text",
    [
        "",
        "time (s)\n0\n1\n",
        "time (s),x (g)\n" + "".join(f"{k / 100},{'one' if k == 40 else 0}\n" for k in range(90)),
        "time (s),x (g)\n" + "".join(f"{max(k, 50) / 100},0\n" for k in range(90)),
        "time (s),x (g)\n" + "".join(f"{k / 100},0.{k % 7}\n" for k in range(400)),
    ],
    ids=["empty", "one column", "text in numbers", "time that stands", "no decay"],
)
def test_a_recording_that_is_none_gives_no_number(tmp_path, capsys, text):
    file = tmp_path / "tap.csv"
    file.write_text(text, encoding="utf-8")
    assert main(["bench", "tap", str(file)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("isolator: ") == len(err.splitlines()) >= 1


def test_a_trip_writes_roads_that_a_brief_can_name(tmp_path, capsys):
    """From the simulated tap: short, but a record; its roads are read by a brief."""
    assert main(["bench", "trip", TAP, "--out", str(tmp_path / "roads")]) == 0
    assert "Over the whole" in capsys.readouterr().out
    roads = sorted((tmp_path / "roads").glob("*.csv"))
    assert [road.name for road in roads] == ["road-1.csv", "road-2.csv", "road-3.csv"]
    for file in (DATA / "ice-radar").iterdir():
        (tmp_path / "roads" / file.name).write_bytes(file.read_bytes())
    brief = read_brief(tmp_path / "roads" / "case.toml")
    ridden = brief.changed("leg[2].road", dict.fromkeys(
        ("vertical", "transverse", "longitudinal"), "road-3.csv"))  # fmt: skip
    assert ridden.design.legs[1].road["vertical"].lines[0] > 0


def test_a_tap_without_a_brief_gives_its_modes(capsys):
    """The simulated tray, 12 % stiffer than its model: √1.12 times 13.40, 16.01 and 18.91 Hz."""
    assert main(["bench", "tap", TAP, "--json"]) == 0
    found = [mode["frequency_hz"] for mode in json.loads(capsys.readouterr().out)["modes"]]
    for stated in (13.400, 16.014, 18.913):
        true = stated * 1.12**0.5
        assert min(abs(f / true - 1) for f in found) < 3e-3

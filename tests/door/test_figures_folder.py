"""Pictures as files: complete or not there, safe names, one line where none can be written."""

import os
from dataclasses import replace
from pathlib import Path

import matplotlib
import pytest

from isolator import cli
from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cli import main
from isolator.figures import files, save
from isolator.units import InputError

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
SET = ["front", "plan", "room", "side", "sway-plan", "sway-side"]


@pytest.fixture(scope="module")
def starter():
    return assess(STARTER)


@pytest.fixture
def quick(monkeypatch):
    """Only one picture, to save time."""
    every = files._set
    monkeypatch.setattr(files, "_set", lambda case: list(every(case))[:1])


def test_the_command_writes_the_set(tmp_path, capsys):
    folder = tmp_path / "new" / "pictures"
    assert main(["assess", str(STARTER), "--figures", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Starter")
    assert err == ""
    names = SET + [f"transmissibility-by-van-{axis}" for axis in "xyz"]
    found = sorted(path.name for path in folder.iterdir())
    assert found == sorted(f"{name}.{kind}" for name in names for kind in ("svg", "png"))
    assert (folder / "plan.png").read_bytes().startswith(b"\x89PNG")
    assert "</svg>" in (folder / "plan.svg").read_text(encoding="utf-8")


def test_equal_verdicts_give_equal_bytes(starter, tmp_path, quick):
    save(starter, tmp_path / "a")
    with matplotlib.rc_context({"font.size": 20}):
        save(starter, tmp_path / "b")
    for kind in ("plan.svg", "plan.png"):
        assert (tmp_path / "a" / kind).read_bytes() == (tmp_path / "b" / kind).read_bytes()


def test_a_file_is_replaced_only_by_a_complete_one(starter, tmp_path, monkeypatch, quick):
    for kind in ("svg", "png"):
        (tmp_path / f"plan.{kind}").write_text("old")

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", full)
        with pytest.raises(InputError, match=r"No space left on device\); name a folder"):
            save(starter, tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plan.png", "plan.svg"]
    assert (tmp_path / "plan.svg").read_text() == "old"
    save(starter, tmp_path)
    assert (tmp_path / "plan.svg").read_bytes().startswith(b"<?xml")


@pytest.mark.parametrize("name", ["file", "file/below", "x" * 300, "a\0b"])
def test_a_folder_that_cannot_be_is_refused_before_the_work(tmp_path, monkeypatch, capsys, name):
    (tmp_path / "file").write_text("mine")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("isolator.assessment.assess", lambda _: pytest.fail("worked in vain"))
    assert main(["assess", str(STARTER), "--figures", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "no picture can be written" in err
    assert "name a folder where you may write" in err
    assert (tmp_path / "file").read_text() == "mine"


def test_a_bad_brief_leaves_no_folder(tmp_path):
    assert main(["assess", str(tmp_path / "none.toml"), "--figures", str(tmp_path / "f")]) == 2
    assert not (tmp_path / "f").exists()


def test_names_of_legs_are_safe_and_apart(starter):
    names = ["../Über $x", "a b", "A-b", "氷", "~", "a" * 200]
    legs = [
        replace(r, leg=replace(r.leg, name=name))
        for r in starter.response.legs[:1]
        for name in names
    ]
    case = replace(starter, response=replace(starter.response, legs=legs))
    stems = [name for name, _ in files._set(case)]
    assert len(set(stems)) == len(stems) == 6 + 3 * len(names)
    assert all(set(stem) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for stem in stems)
    assert max(map(len, stems)) < 70
    assert "transmissibility-a-b-2-z" in stems


def test_what_cannot_be_drawn_is_said_and_the_rest_written(tmp_path, capsys, monkeypatch):
    brief = read_brief(STARTER).changed("leg[1].temperature", "-60 °C")
    monkeypatch.setattr("isolator.assessment.assess", lambda _: assess(brief))
    status = main(["assess", str(STARTER), "--figures", str(tmp_path)])
    assert status in (cli.EXIT["fail"], cli.EXIT["incomplete"])
    lines = capsys.readouterr().err.splitlines()
    assert [line.split(":")[1].strip() for line in lines] == [
        f"transmissibility-by-van-{axis}" for axis in "xyz"
    ]
    assert all("not drawn" in line for line in lines)
    assert sorted({p.stem for p in tmp_path.iterdir()}) == SET


def test_odd_names_are_drawn_as_they_are(tmp_path, monkeypatch):
    brief = read_brief(STARTER).changed("leg[1].name", "$\\frac 氷")
    every = files._set
    monkeypatch.setattr(files, "_set", lambda case: list(every(case))[-1:])
    assert save(assess(brief), tmp_path) == []

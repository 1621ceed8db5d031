"""The build sheet's folder: nothing half-written, and nothing that somebody edited is lost."""

from pathlib import Path

import pytest

from isolator import files as writing
from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cli import main
from isolator.report.files import save_report, save_sheet
from isolator.units import InputError

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
NAMES = ["build-sheet.html", "build-sheet.json", "build-sheet.pdf"]


@pytest.fixture(scope="module")
def brief():
    return read_brief(STARTER).changed(
        "leg", [{"name": "on the shelf", "road": "none", "drop": "none"}]
    )


@pytest.fixture(scope="module")
def plain(brief):
    return assess(brief)


@pytest.fixture(scope="module")
def named(brief):
    return assess(brief.changed("name", "Another"))


def held(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_sheet_that_nobody_edited_is_replaced(plain, named, tmp_path):
    save_sheet(plain, tmp_path)
    before = held(tmp_path)
    assert sorted(before) == NAMES
    save_sheet(named, tmp_path)
    after = held(tmp_path)
    assert b"Build sheet: Another" in after["build-sheet.html"]
    assert all(after[name] != before[name] for name in NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_an_edited_file_is_not_written_over(plain, named, tmp_path, name):
    save_sheet(plain, tmp_path)
    path = tmp_path / name
    path.write_bytes(path.read_bytes().replace(b"incomplete", b"fine") + b" ")
    before = held(tmp_path)
    with pytest.raises(InputError, match=rf"not written over .*{name}.*no build sheet of isolator"):
        save_sheet(named, tmp_path)
    assert held(tmp_path) == before


def test_a_full_disk_leaves_what_was_there(plain, named, tmp_path, monkeypatch):
    save_sheet(plain, tmp_path)
    before = held(tmp_path)

    def full(*_given):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing.os, "chmod", full)
    with pytest.raises(InputError, match=r"no build sheet can be written \(No space left"):
        save_sheet(named, tmp_path)
    assert held(tmp_path) == before


@pytest.mark.parametrize("save", [save_sheet, save_report])
def test_no_such_paper_gets_one_line(plain, tmp_path, save):
    with pytest.raises(InputError, match=r"paper = 'a5': write one of a4, letter"):
        save(plain, tmp_path, paper="a5")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["file", "file/below", "x" * 300, "a\0b"])
def test_a_folder_that_cannot_be_is_refused_before_the_work(tmp_path, monkeypatch, capsys, name):
    (tmp_path / "file").write_text("mine")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("isolator.assessment.assess", lambda _: pytest.fail("worked in vain"))
    assert main(["sheet", str(STARTER), "--out", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "no build sheet can be written" in err
    assert (tmp_path / "file").read_text() == "mine"


def test_the_command_says_the_verdict_and_what_it_wrote(plain, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("isolator.assessment.assess", lambda _: plain)
    folder = tmp_path / "new" / "sheet"
    status = {"pass": 0, "fail": 1, "incomplete": 3}[plain.status]
    assert main(["sheet", str(STARTER), "--out", str(folder), "--paper", "letter"]) == status
    out, err = capsys.readouterr()
    first, *rest = out.splitlines()
    assert first.startswith(plain.status.upper())
    assert sorted(line.rpartition("/")[2] for line in rest) == NAMES
    assert err == ""
    assert sorted(held(folder)) == NAMES

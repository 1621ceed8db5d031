"""The report's folder: nothing half-written, and nothing that somebody edited is lost."""

import json
import os
from pathlib import Path
from types import SimpleNamespace

import pytest

from isolator.assessment import assess
from isolator.cli import main
from isolator.report import files
from isolator.report.files import save_report
from isolator.units import InputError

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
NAMES = ["report.html", "report.json", "report.pdf"]


@pytest.fixture(scope="module")
def starter():
    return assess(STARTER)


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """A short report, to save time."""

    def short(assessment):
        data = {"name": assessment.design.name, "outputs": {"status": "pass", "says": "PASS"}}
        return SimpleNamespace(name=assessment.design.name, verdict="PASS", data=data)

    monkeypatch.setattr(files, "document", short)
    monkeypatch.setattr(files, "pdf", lambda report, paper: b"%PDF-" + report.verdict.encode())
    monkeypatch.setattr(files, "html", lambda report: f"<html>{report.name}")


def held(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_report_that_nobody_edited_is_replaced(starter, tmp_path):
    save_report(starter, tmp_path)
    before = held(tmp_path)
    assert sorted(before) == NAMES
    save_report(assess(starter.brief.changed("name", "Another")), tmp_path)
    after = held(tmp_path)
    assert after["report.html"] == b"<html>Another"
    assert after["report.json"] != before["report.json"]


@pytest.mark.parametrize("name", NAMES)
def test_an_edited_file_is_not_written_over(starter, tmp_path, name):
    save_report(starter, tmp_path)
    path = tmp_path / name
    path.write_bytes(path.read_bytes().replace(b"PASS", b"Pass") + b" ")
    before = held(tmp_path)
    with pytest.raises(InputError, match=rf"not written over .*{name}.*name another folder"):
        save_report(assess(starter.brief.changed("name", "Another")), tmp_path)
    assert held(tmp_path) == before


def test_a_mark_that_was_edited_with_its_file_is_no_mark(starter, tmp_path):
    save_report(starter, tmp_path)
    data = json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))
    data["outputs"]["status"] = "fail"
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    (tmp_path / "report.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"report\.json"):
        save_report(assess(starter.brief.changed("name", "Another")), tmp_path)


def test_a_file_of_somebody_else_stays(starter, tmp_path):
    (tmp_path / "report.pdf").write_text("mine")
    with pytest.raises(InputError, match=r"report\.pdf"):
        save_report(starter, tmp_path)
    assert held(tmp_path) == {"report.pdf": b"mine"}


STRANGE = {
    "pipe": os.mkfifo,
    "device": lambda path: path.symlink_to("/dev/zero"),
    "link to nothing": lambda path: path.symlink_to("nothing"),
    "folder": Path.mkdir,
    "vast": lambda path: path.touch() or os.truncate(path, 10**12),
    "deep": lambda path: path.write_text("[" * 200_000),
}


@pytest.mark.parametrize("kind", STRANGE)
def test_what_cannot_be_a_page_is_neither_read_nor_replaced(starter, tmp_path, kind):
    """The first two never ended, the third went, the last was a traceback."""
    path = tmp_path / "report.json"
    STRANGE[kind](path)
    before = path.lstat()
    with pytest.raises(InputError, match=r"not written over report\.json, which") as caught:
        save_report(starter, tmp_path)
    assert len(caught.value.lines) == 1
    assert path.lstat().st_ino == before.st_ino
    assert [one.name for one in tmp_path.iterdir()] == ["report.json"]


@pytest.mark.parametrize("call", ["replace", "open"])
def test_a_full_disk_leaves_what_was_there(starter, tmp_path, monkeypatch, call):
    save_report(starter, tmp_path)
    before = held(tmp_path)

    def full(*_args, **_more):
        raise OSError(28, "No space left on device")

    changed = assess(starter.brief.changed("name", "Another"))
    with monkeypatch.context() as patch:
        if call == "replace":
            patch.setattr(os, "replace", full)
        else:
            patch.setattr("builtins.open", full)
        with pytest.raises(InputError, match=r"No space left on device\); name a folder"):
            save_report(changed, tmp_path)
    assert held(tmp_path) == before


@pytest.mark.parametrize("name", ["file", "file/below", "x" * 300, "a\0b"])
def test_a_folder_that_cannot_be_is_refused_before_the_work(tmp_path, monkeypatch, capsys, name):
    (tmp_path / "file").write_text("mine")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("isolator.assessment.assess", lambda _: pytest.fail("worked in vain"))
    assert main(["report", str(STARTER), "--out", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "no report can be written" in err
    assert (tmp_path / "file").read_text() == "mine"


def test_the_command_says_what_it_wrote(tmp_path, capsys):
    folder = tmp_path / "new" / "report"
    assert main(["report", str(STARTER), "--out", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines()[0] == "PASS: all 30 required checks hold."
    assert [line.rpartition("/")[2] for line in out.splitlines()[1:]] == [
        "report.html", "report.pdf", "report.json",
    ]  # fmt: skip
    assert err == ""
    assert sorted(held(folder)) == NAMES


@pytest.mark.parametrize("day", ['"2026-02-30"', '"1 March"', "5", "2026-03-01T10:00:00"])
def test_a_date_that_is_no_day_gets_one_line(tmp_path, capsys, day):
    text = STARTER.read_text(encoding="utf-8")
    (tmp_path / "case.toml").write_text(f"date = {day}\n{text}", encoding="utf-8")
    assert main(["assess", str(tmp_path / "case.toml")]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "date = " in line
    assert "write it as 2026-05-01" in line

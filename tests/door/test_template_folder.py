"""Templates as files: whole or not there, never over one that is there."""

import os
from pathlib import Path

import pytest

from isolator import files
from isolator.brief import read_brief
from isolator.template import drill_template, write_template
from isolator.units import InputError

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"


@pytest.fixture(scope="module")
def starter():
    return drill_template(read_brief(STARTER).design)


def test_three_files_are_written_and_never_over_others(starter, tmp_path):
    folder = tmp_path / "new" / "place"
    made = write_template(starter, folder)
    assert sorted(path.name for path in folder.iterdir()) == sorted(path.name for path in made)
    assert [path.suffix for path in made] == [".pdf", ".svg", ".dxf"]
    mine = folder / "drill-template.svg"
    mine.write_text("mine", encoding="utf-8")
    made[0].unlink()
    with pytest.raises(InputError) as caught:
        write_template(starter, folder)
    assert [line.partition(": ")[0] for line in caught.value.lines] == [str(mine), str(made[2])]
    assert "there already" in caught.value.lines[0]
    assert "replace=True" in caught.value.lines[0]
    assert mine.read_text(encoding="utf-8") == "mine"
    assert not made[0].exists()
    write_template(starter, folder, formats=["svg"], replace=True)
    assert mine.read_bytes().startswith(b"<?xml")


@pytest.mark.parametrize("at", [0, 1, 2])
def test_a_full_disk_leaves_nothing(starter, tmp_path, monkeypatch, at):
    count = iter(range(9))
    chmod = os.chmod

    def full(*given):
        if next(count) == at:
            raise OSError(28, "No space left on device")
        chmod(*given)

    monkeypatch.setattr(files.os, "chmod", full)
    with pytest.raises(InputError, match=r"No space left on device\); name a folder") as caught:
        write_template(starter, tmp_path)
    assert len(caught.value.lines) == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["file", "file/below", "x" * 300, "a\0b"])
def test_a_folder_that_cannot_be_gets_one_line(starter, tmp_path, monkeypatch, name):
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match="name a folder where you may write") as caught:
        write_template(starter, name, formats=["svg"])
    assert len(caught.value.lines) == 1
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"


def test_no_such_format_gets_one_line(starter, tmp_path):
    with pytest.raises(InputError, match=r"formats = \['png'\]: write some of pdf, svg, dxf"):
        write_template(starter, tmp_path, formats=["png"])
    with pytest.raises(InputError, match=r"formats = \[\]"):
        write_template(starter, tmp_path, formats=[])

"""Templates as files: whole or not there, never over one that is there."""

import json
import os
import re
from pathlib import Path

import ezdxf
import pdfplumber
import pytest
import tomli_w

from isolator import files
from isolator.brief import read_brief
from isolator.cli import main
from isolator.template import drill_template, drill_templates, write_template
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


TRAY = {
    "at": ["0 mm", "20 mm", "400 mm"],
    "payload": {"mass": "2 kg", "size": ["200 mm", "150 mm", "40 mm"]},
    "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
}
NASTY = "<script>alert(1)</script> & 'é' שלום $x$ " + "W" * 70


def called(tmp_path, text, *options):
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    return main(["template", str(tmp_path / "case.toml"), "--out", str(tmp_path / "out"), *options])


def test_the_command_writes_four_files_and_says_what_is_not_known(tmp_path, capsys):
    assert called(tmp_path, STARTER.read_text(encoding="utf-8")) == 0
    out, err = capsys.readouterr()
    names = [f"drill-template.{kind}" for kind in ("dxf", "json", "pdf", "svg")]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == names
    assert out.splitlines()[-1].startswith("hole: not known (mount.ring.hole)")
    assert err == ""
    data = json.loads((tmp_path / "out" / "drill-template.json").read_bytes())["drill-template"]
    assert [(hole["x_mm"], hole["y_mm"], hole["diameter_mm"]) for hole in data["holes"]] == [
        (-160, -110, None), (160, -110, None), (-160, 110, None), (160, 110, None)
    ]  # fmt: skip


def test_its_own_files_give_way_and_edited_ones_do_not(tmp_path, capsys):
    text, made = STARTER.read_text(encoding="utf-8"), tmp_path / "out"
    assert called(tmp_path, text) == 0
    before = {path.name: path.read_bytes() for path in made.iterdir()}
    assert called(tmp_path, text, "--units", "in") == 0
    changed = [path.name for path in made.iterdir() if path.read_bytes() != before[path.name]]
    assert sorted(changed) == ["drill-template.dxf", "drill-template.json"]
    mine = made / "drill-template.svg"
    mine.write_bytes(mine.read_bytes().replace(b"handle side", b"my side"))
    before = {path.name: path.read_bytes() for path in made.iterdir()}
    capsys.readouterr()
    assert called(tmp_path, text) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "not written over drill-template.svg, which somebody edited" in err
    assert len(err.splitlines()) == 1
    assert {path.name: path.read_bytes() for path in made.iterdir()} == before


def test_the_template_of_a_body_that_is_gone_goes_unless_somebody_edited_it(tmp_path):
    with_trays = {"first": TRAY, "second": {**TRAY, "at": ["0 mm", "20 mm", "600 mm"]}}
    brief = read_brief(STARTER).changed("frame", with_trays)
    assert called(tmp_path, tomli_w.dumps(dict(brief.text))) == 0
    made = tmp_path / "out"
    mine = made / "drill-template-second.svg"
    mine.write_bytes(mine.read_bytes() + b"<!-- mine -->")
    stranger = tmp_path / "drill-template-outside.pdf"
    stranger.write_bytes(b"outside")
    path = made / "drill-template.json"
    assert called(tmp_path, STARTER.read_text(encoding="utf-8")) == 0
    names = {f"drill-template.{kind}" for kind in ("dxf", "json", "pdf", "svg")}
    assert {one.name for one in made.iterdir()} == names | {mine.name}
    assert stranger.exists()
    assert set(json.loads(path.read_bytes())) == {"drill-template", "mark"}


def test_the_place_of_a_body_that_is_gone_may_hold_a_pipe(tmp_path):
    """It has the name of a page of ours, and waits for ever if it is read."""
    brief = read_brief(STARTER).changed("frame", {"first": TRAY})
    assert called(tmp_path, tomli_w.dumps(dict(brief.text))) == 0
    pipe = tmp_path / "out" / "drill-template-first.svg"
    pipe.unlink()
    os.mkfifo(pipe)
    assert called(tmp_path, STARTER.read_text(encoding="utf-8")) == 0
    assert pipe.is_fifo()


def test_units_and_paper_are_as_asked(tmp_path, capsys):
    text = STARTER.read_text(encoding="utf-8")
    assert called(tmp_path, text, "--units", "in", "--paper", "one sheet") == 0
    doc = ezdxf.readfile(tmp_path / "out" / "drill-template.dxf")
    points = [p.dxf.location.x for p in doc.modelspace().query("POINT")]
    assert sorted(25.4 * x for x in points) == pytest.approx([-160, -160, 160, 160])
    with pdfplumber.open(tmp_path / "out" / "drill-template.pdf") as read:
        assert read.pages[0].width * 25.4 / 72 > 320
    with pytest.raises(SystemExit) as caught:
        called(tmp_path, text, "--paper", "a5")
    assert caught.value.code == 2
    assert "--paper" in capsys.readouterr().err


def test_each_body_has_its_own(tmp_path):
    frames = {"Lid tray": TRAY, "lid_tray": {**TRAY, "at": ["0 mm", "20 mm", "600 mm"]}}
    made = drill_templates(read_brief(STARTER).changed("frame", frames))
    assert list(made) == ["drill-template", "drill-template-lid-tray", "drill-template-lid-tray-2"]
    own = made["drill-template-lid-tray"]
    assert own.name.endswith(": Lid tray")
    assert own.datum == "the middle of Lid tray's box"
    assert 'centre of gravity: not known (frame."Lid tray".payload.centre)' in own.notes
    assert [(hole.x, hole.y) for hole in own.holes] == [(-80, -55), (80, -55), (-80, 55), (80, 55)]


def test_a_nasty_name_is_text(tmp_path, capsys):
    given = STARTER.read_text(encoding="utf-8")
    text = re.sub(r"(?m)^name = .*$", f'name = "{NASTY}"', given, count=1)
    assert called(tmp_path, text) == 0
    svg = (tmp_path / "out" / "drill-template.svg").read_text(encoding="utf-8")
    assert "<script" not in svg
    assert "&lt;script&gt;alert(1)" in svg


@pytest.mark.parametrize("name", ["file", "file/below", "x" * 300, "a\0b"])
def test_the_command_refuses_a_folder_that_cannot_be(tmp_path, monkeypatch, capsys, name):
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert main(["template", str(STARTER), "--out", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "--out" in err
    assert "no drill template can be written" in err


def test_a_disk_that_fills_gets_one_line_for_the_option(tmp_path, monkeypatch, capsys):
    def full(*_given):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "chmod", full)
    assert main(["template", str(STARTER), "--out", str(tmp_path)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(
        f"isolator: --out {tmp_path}: no drill template can be written (No space left on device)"
    )
    assert list(tmp_path.iterdir()) == []

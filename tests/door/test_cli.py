"""The command: files that it writes, streams that close, files that it cannot open."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from isolator import cli
from isolator.cli import main
from isolator.trip import roads

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
COMMAND = [sys.executable, "-m", "isolator"]


def run(line, **environment):
    """A line of the shell in which $I is the command."""
    return subprocess.run(
        ["bash", "-c", line.replace("$I", " ".join(COMMAND)).replace("$S", str(STARTER))],
        capture_output=True,
        check=False,
        timeout=60,
        env={**os.environ, **environment},
    )


def test_a_cache_that_cannot_be_used_changes_nothing(tmp_path):
    """What the process remembers of units is unwritable, or another run has half written it."""
    plain = run("$I assess $S", XDG_CACHE_HOME=str(tmp_path))
    kept = list(tmp_path.rglob("*.pickle"))
    for file in kept:
        file.write_bytes(file.read_bytes()[:100])
    for folder in (str(tmp_path), "/dev/null/none"):
        other = run("$I assess $S", XDG_CACHE_HOME=folder)
        assert (other.returncode, other.stdout, other.stderr) == (0, plain.stdout, b"")
    assert kept


def test_new_writes_a_case_that_passes(tmp_path, capsys):
    folder = tmp_path / "my case"
    assert main(["new", str(folder)]) == 0
    assert (folder / "case.toml").read_bytes() == STARTER.read_bytes()
    hint = capsys.readouterr().out.split("isolator assess ")[1].strip()
    assert main(["assess", hint.strip("'")]) == 0


def test_new_makes_the_folders_above(tmp_path):
    assert main(["new", str(tmp_path / "a" / "b" / "c")]) == 0
    assert (tmp_path / "a" / "b" / "c" / "case.toml").is_file()


def test_new_takes_a_folder_beside_the_present_one(tmp_path, monkeypatch):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert main(["new", "case"]) == 0
    assert main(["new", "../other/case"]) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["here", "other"]
    assert [p.name for p in (tmp_path / "here").iterdir()] == ["case"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("full", "exists: nothing was written; name a folder that does not exist"),
        ("empty", "exists: nothing was written"),
        ("file", "exists: nothing was written"),
        ("link", "exists: nothing was written"),
        ("", "exists: nothing was written"),
        ("file/case", "nothing was written (Not a directory); name a folder where you may write"),
        ("x" * 300, "nothing was written (File name too long)"),
        ("a\0b", "embedded null"),
    ],
)
def test_new_never_overwrites(tmp_path, monkeypatch, capsys, name, words):
    monkeypatch.chdir(tmp_path)
    for folder in ("full", "empty"):
        (tmp_path / folder).mkdir()
    for file in ("file", "full/case.toml"):
        (tmp_path / file).write_text("mine")
    (tmp_path / "link").symlink_to("nowhere")
    before = sorted(tmp_path.rglob("*"))
    assert main(["new", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert len(err.splitlines()) == 1
    assert sorted(tmp_path.rglob("*")) == before
    assert (tmp_path / "full" / "case.toml").read_text() == "mine"


@pytest.mark.parametrize("step", ["mkdir", "write_bytes", "rename"])
@pytest.mark.parametrize(
    ("failure", "status"),
    [(PermissionError(13, "Permission denied"), 2), (KeyboardInterrupt(), 130)],
)
def test_a_copy_that_is_interrupted_leaves_nothing(
    tmp_path, monkeypatch, capsys, step, failure, status
):
    def fail(*_, **__):
        raise failure

    monkeypatch.setattr(Path, step, fail)
    assert main(["new", str(tmp_path / "a" / "case")]) == status
    assert list(tmp_path.iterdir()) == []
    assert ("nothing was written (Permission denied)" in capsys.readouterr().err) == (status == 2)


def test_a_folder_that_appears_meanwhile_is_left_alone(tmp_path, monkeypatch):
    there = tmp_path / "case"
    write = Path.write_bytes

    def slow(path, data):
        there.mkdir()
        (there / "mine").touch()
        return write(path, data)

    monkeypatch.setattr(Path, "write_bytes", slow)
    assert main(["new", str(there)]) == 2
    assert list(tmp_path.rglob("*")) == [there, there / "mine"]


def test_roads_lists_every_road(capsys):
    assert main(["roads"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in lines] == list(roads())
    for line in lines:
        assert re.search(r": vertical [0-9.]+ g rms.*; [0-9.]+ to [0-9]+ Hz; \w", line)


def test_an_interrupted_run_says_nothing(monkeypatch, capsys):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_assess", stop)
    assert main(["assess", str(STARTER)]) == 130
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize("arguments", [[], ["asses"], ["assess"], ["new", "a", "b"]])
def test_a_wrong_command_gets_one_line_with_the_way_out(capsys, arguments):
    with pytest.raises(SystemExit, match="2"):
        main(arguments)
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("isolator: ")
    assert "--help lists what there is" in line


def test_an_empty_name_is_no_folder(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["report", str(STARTER), "--out", ""]) == 2
    assert capsys.readouterr() == (
        "",
        "isolator: --out '': no name; write one, or . for this folder\n",
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("loop", "--out = loop: it exists; nothing was written; name another file"),
        ("pipe", "--out = pipe: it exists"),
        ("loop/new.toml", "--out loop/new.toml: not written (Too many levels of symbolic links)"),
        ("a\0b", "embedded null"),
    ],
)
@pytest.mark.parametrize("task", ["choose", "tap"])
def test_a_file_that_cannot_be_made_is_refused_before_the_work(
    tmp_path, monkeypatch, capsys, task, name, words
):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("isolator.report.choice.choice", lambda *_, **__: pytest.fail("in vain"))
    monkeypatch.setattr("isolator.ringdown.ring_down", lambda _: pytest.fail("in vain"))
    (tmp_path / "loop").symlink_to("loop")
    os.mkfifo("pipe")
    rows = "".join(f"{k / 200},0.1\n" for k in range(300))
    (tmp_path / "tap.csv").write_text(f"time [s],x [g0]\n{rows}", encoding="utf-8")
    way = ["choose", str(STARTER)]
    if task == "tap":
        way = ["bench", "tap", "tap.csv", "--brief", str(STARTER)]
    assert main([*way, "--out", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert words in line


@pytest.mark.parametrize("reader", ["true", "head -n 1"])
def test_a_reader_that_leaves_is_no_mistake(reader):
    done = run(f"set -o pipefail; $I assess $S --json | {reader}; exit ${{PIPESTATUS[0]}}")
    assert done.returncode == 0
    assert done.stderr == b""


@pytest.mark.parametrize(("stream", "status"), [(">&-", 0), ("> /dev/full", 2)])
def test_output_that_cannot_be_written(stream, status):
    done = run(f"$I assess $S {stream}")
    assert done.returncode == status
    assert b"Traceback" not in done.stderr
    assert (b"the output: not written" in done.stderr) == (status == 2)


def test_a_terminal_that_knows_no_signs_beyond_ascii():
    done = run("$I assess $S", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stderr == b""
    assert b"PASS" in done.stdout


def test_the_process_ends_with_the_status(tmp_path):
    given = STARTER.read_text(encoding="utf-8")
    tight = given.replace('lid = "50 mm"', 'lid = "1 mm"')
    assert tight != given
    (tmp_path / "case.toml").write_text(tight, encoding="utf-8")
    assert run(f"$I assess {tmp_path / 'case.toml'}").returncode == 1
    assert run(f"$I assess {tmp_path}").returncode == 2


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch, capsys):
    shutil.copy(STARTER, tmp_path / "case.toml")

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert main(["assess", str(tmp_path / "case.toml")]) == 2
    assert "case.toml: not readable (Permission denied); check the path" in capsys.readouterr().err


def test_a_mistake_of_ours_is_no_verdict(monkeypatch, capsys):
    def broken(*_args, **_more):
        raise ZeroDivisionError("of ours")

    monkeypatch.setattr(cli, "_roads", broken)
    assert main(["roads"]) == 2
    said = capsys.readouterr().err
    assert "ZeroDivisionError: of ours" in said
    assert "no verdict; please report" in said.splitlines()[-1]


@pytest.mark.parametrize("task", ["assess", "drop", "choose", "bench expect"])
def test_a_name_without_end_gets_a_line_that_can_be_read(capsys, task):
    assert main([*task.split(), "9" * 5000]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert len(line) < 400
    assert "not readable" in line

"""Input from a stranger: nothing is executed, read outside the brief's folder or exhausted.

What the fuzzer of tests/broken found stands here as well, a case each.
"""

import csv
import os
import random
import re
import struct
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import tomli_w

from isolator.brief import read_brief, read_mounts
from isolator.cli import main
from isolator.logger import read_recording
from isolator.rubber import Hardness
from isolator.schema import PartRow
from isolator.sweep import choose
from isolator.tables import Folder
from isolator.units import SIZE, InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")
MEGABYTE = 990_000


def many(line: str, size: int = MEGABYTE) -> str:
    """So many bytes of a line with a number in it."""
    return "".join(line.format(k) for k in range(size // (len(line) + 4)))


# Numbers that explode, and tables without end.


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (many("k{}=1\n") + STARTER, "keys in one table, at most 500 can be used"),
        (STARTER.replace("[payload]", "[payload]\n" + many("k{}=1\n")), "payload: "),
        (STARTER + many("[mount.a{}]\n", 100_000), "mount: "),
        (STARTER + many("[a{}.b]\n"), "tables, more than any brief needs"),
        (many("[a{}" + ".a" * 900 + "]\n"), "dots, more than any brief needs"),
        (STARTER + "[not_required]\n" + many('"x{}" = "no"\n'), "not_required: "),
        (STARTER.replace('mass = "8 kg"', "mass = " "[" + many("{},") + "]"), "longer than 20000"),
        (STARTER.replace('size = ["400 mm"', "size = [" + many("[{}],") + '"400 mm"'), "longer"),
        (STARTER + many('[[case.obstacle]]\n#{}\n', 100_000), "at most 1000 can be used"),
        (STARTER + many('[[mounts.place]]\n#{}\n', 90_000), "at most 64 can be used"),
        (STARTER + many('[[leg]]\n#{}\n', 50_000), "at most 50 can be used"),
        (STARTER + many('[frame.a{}]\n', 90_000), "at most 8 can be used"),
    ],
)  # fmt: skip
def test_what_has_no_end_is_refused_in_few_lines(tmp_path, text, words):
    """Each took seconds, or hundreds of megabytes, and gave a line for each of 100 000 keys."""
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_brief(tmp_path / "case.toml")
    assert any(words in line for line in error.value.lines)
    assert len(error.value.lines) < 6000
    assert max(map(len, error.value.lines)) < 1000


@pytest.mark.parametrize("depth", [12, 200])
def test_a_note_may_not_be_deeper_than_a_copy_of_it(tmp_path, depth):
    """What nobody reads is copied and printed with the rest."""
    (tmp_path / "case.toml").write_text(f"note = {'[' * depth}{']' * depth}\n{STARTER}")
    with pytest.raises(InputError, match="nested too deeply"):
        read_brief(tmp_path / "case.toml")


def test_a_message_lists_the_first_of_many_names(tmp_path):
    kinds = many('[mount.a{}]\nalong="6 N/mm"\nacross="6 N/mm"\ndynamic_ratio=1.2\n', 50_000)
    (tmp_path / "case.toml").write_text(STARTER + kinds, encoding="utf-8")
    with pytest.raises(InputError, match=r"name one of the mounts ring, a0, .* and \d+ more$"):
        read_brief(tmp_path / "case.toml")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (many("a{},", 500_000) + "\n1\n", "columns, at most 200 can be used"),
        ("name,mass [kg],x [mm],y [mm],z [mm],a" + " " * 100_000 + "]\na,1,0,0,0,1\n", "column 6"),
        ("name,mass [kg],x [mm],y [mm],z [mm]\na,1,0,0,0" + ",1" * 100_000, "100005 cells in 5"),
    ],
)
def test_a_table_that_is_too_wide(tmp_path, rows, words):
    (tmp_path / "parts.csv").write_text(rows, encoding="utf-8")
    with pytest.raises(InputError) as error:
        Folder(tmp_path).rows("parts.csv", "it", PartRow)
    assert words in str(error.value)
    assert max(map(len, error.value.lines)) < 1000


def test_a_list_without_end_is_refused_before_it_is_read():
    with pytest.raises(InputError, match="a list of 20001 values is longer than 20000"):
        SIZE.read_array(["1 mm"] * 20_001, "size")
    assert SIZE.read_array(["1 mm"] * 20_000, "size").size == 20_000


def test_a_hardness_of_many_digits_gets_a_short_line():
    with pytest.raises(InputError, match="longer than 64 characters") as error:
        Hardness.read("9" * 5000)
    assert len(str(error.value)) < 200


# Recordings that no logger wrote.

ROWS = "".join(f"{k * 0.005:.3f},0.1,0.2,1.0\n" for k in range(300))
LOG = "time [s],x [g],y [g],z [g]\n" + ROWS


def wav(
    *, code: int = 3, channels: int = 1, rate: int = 400, bits: int = 64, ends: bytes = b"data"
) -> bytes:
    """A WAV file with a head of one's own."""
    samples = struct.pack("<40d", *range(40))
    wide = channels * bits // 8
    form = struct.pack("<HHIIHH", code, channels, rate, rate * wide, wide % 65536, bits)
    body = b"fmt " + struct.pack("<I", 16) + form + ends + struct.pack("<I", len(samples))
    return b"RIFF" + struct.pack("<I", 4 + len(body) + len(samples)) + b"WAVE" + body + samples


@pytest.mark.parametrize(
    "raw",
    [
        wav(bits=0), wav(bits=7), wav(channels=0), wav(channels=65535), wav(code=9),
        wav(ends=b"dump"), wav()[:44], wav()[:30], b"RIFF", b"", wav().replace(b"WAVE", b"WAVY"),
        wav(bits=24)[:40] + b"\xff\xff\xff\x7f",
    ],
)  # fmt: skip
def test_a_head_without_sense_gets_one_line(tmp_path, raw):
    (tmp_path / "log.wav").write_bytes(raw)
    with pytest.raises(InputError) as error:
        read_recording(tmp_path / "log.wav", full_scale="16 g0")
    assert len(error.value.lines) == 1


@pytest.mark.parametrize("value", ["1e200", "-1e308", "1e7"])
def test_more_than_any_accelerometer_feels(tmp_path, value):
    (tmp_path / "log.csv").write_text(LOG.replace("0.500,0.1", f"0.500,{value}"), encoding="utf-8")
    with pytest.raises(InputError, match=r"row 102: .* more than any accelerometer feels"):
        read_recording(tmp_path / "log.csv")


def test_samples_of_a_wav_file_that_explode(tmp_path):
    raw = wav().replace(struct.pack("<d", 7), struct.pack("<d", 1e300))
    (tmp_path / "log.wav").write_bytes(raw)
    with pytest.raises(InputError, match="more than any accelerometer feels"):
        read_recording(tmp_path / "log.wav", full_scale="1e10 g0")


def test_a_sign_that_the_head_has_not_foretold(tmp_path):
    """The first lines are ASCII, a comment further down is in another code."""
    raw = (LOG.replace("y [g]", "note") + "1.500,0.1,é,1.0\n").encode("latin-1")
    (tmp_path / "log.csv").write_bytes(raw)
    assert len(read_recording(tmp_path / "log.csv").time) == 301


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (LOG.replace("0.050,0.1", "0.050," + "9" * 15_000 + "x", 1), "row 12.*is no number"),
        (LOG.replace("0.1", "0" * 30_000, 1), "a line of more than 20000 bytes"),
        (",".join(f"c{k}" for k in range(201)) + "\n" + (",".join(["1"] * 201) + "\n") * 40,
         "201 columns, at most 200"),
    ],
)  # fmt: skip
def test_a_line_without_end_of_a_logger(tmp_path, raw, words):
    """A number of 5000 digits took seconds to be no number."""
    (tmp_path / "log.csv").write_text(raw, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_recording(tmp_path / "log.csv")


def test_a_gigabyte_is_refused_without_reading_it(tmp_path):
    """Files that take no room on the disk: as a brief, a table, a recording."""
    for name in ("case.toml", "log.csv", "log.wav"):
        with (tmp_path / name).open("wb") as file:
            file.truncate(1 << 30)
    tasks = [
        ["assess", "case.toml"],
        ["bench", "look", "log.csv"],
        ["bench", "look", "log.wav", "--full-scale", "16 g0"],
    ]
    code = (
        "import resource; resource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30))\n"
        f"from isolator.cli import main; raise SystemExit(max(map(main, {tasks})))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(DATA.parent)},
    )
    assert run.returncode == 2
    lines = run.stderr.splitlines()
    assert len(lines) == 3, run.stderr
    assert all(line.startswith("isolator: ") for line in lines)
    assert "larger than 1000000 bytes" in lines[0]


# Files that are none, and names that do more than name.


@pytest.mark.parametrize("name", ["pipe", "/dev/zero", ".", "x" * 300, "a\0b", "none"])
def test_a_recording_that_is_no_plain_file(tmp_path, monkeypatch, capsys, name):
    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe")
    assert main(["bench", "look", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "\0" not in err


def test_what_would_move_a_cursor_is_shown_as_text(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for name in ("\x1b[2J.toml", "\u202e.toml", "a\nb.toml", "\ud800.toml"):
        assert main(["assess", name]) == 2
        (line,) = capsys.readouterr().err.splitlines()
        assert re.search(r"\\x1b\[2J|\\u202e|\\n|\\ud800", line)


FORMULAS = ("=HYPERLINK(0)", "+1", "-1 a", "@SUM(1)")


def test_no_cell_of_a_table_is_a_formula(tmp_path):
    """Names of mounts, patterns and legs stand in the table of a choice, and are text there."""
    ring = STARTER.split("[mount.ring]\n")[1].split("\n\n")[0]
    kinds = "".join(f'[mount."{name}"]\n{ring}\n\n' for name in FORMULAS)
    text = STARTER.replace("[mounts]", f'{kinds}[mounts]\nuse = "=HYPERLINK(0)"')
    text += '[choose]\n[[choose.pattern]]\nname = "=1+1"\nspread = ["330 mm", "230 mm"]\n'
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    out = tmp_path / "table.csv"
    arguments = ["choose", str(tmp_path / "case.toml"), "--in-full", "1", "--out", str(out)]
    assert main(arguments) in (0, 1, 3)
    rows = list(csv.reader(out.read_text(encoding="utf-8").splitlines()))
    cells = [cell for row in rows for cell in row]
    assert {f"'{name}" for name in FORMULAS} <= {row[3] for row in rows}
    assert "'=1+1" in cells
    assert not [c for c in cells if c[:1] in tuple("=+@") or re.match(r"-[^0-9i]|-1 a", c)]


def test_the_name_of_a_recording_stays_in_its_line(tmp_path, monkeypatch):
    """It stands in the first line of a road, which a spreadsheet parts at commas."""
    monkeypatch.chdir(tmp_path)
    name = "a,=1+1\n1,2\n.csv"
    chance = random.Random(1)
    rows = "".join(f"{k * 0.01:.2f},{chance.gauss(0, 1):.3f}\n" for k in range(7000))
    Path(name).write_text(f"time [s],z [g]\n{rows}", encoding="utf-8")
    assert main(["bench", "trip", name, "--out", "roads"]) == 0
    lines = Path("roads/road-1.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].endswith("recorded in a__1_1_1_2_.csv")
    words = [line for line in lines if not re.fullmatch(r"[0-9.e+-]+,[0-9.e+-]+", line)]
    assert words[-1] == "frequency [Hz],density [g0^2/Hz]"
    assert all(line.startswith("#") for line in words[:-1])
    assert not [c for line in words for c in line.split(",") if c.strip()[0] in "=+-@"]


@pytest.mark.parametrize(
    "key",
    [
        'payload.parts', "case.parts", "case.gaps", "case.obstacles", "case.cushion.points",
        "mounts.table", "mount.ring.weights", "leg[1].road.vertical", "leg[1].pulse.record",
    ],
)  # fmt: skip
@pytest.mark.parametrize("name", ["../out.csv", "down/out.csv", "link.csv", "/etc/hostname.csv"])
def test_no_file_outside_the_folder_is_read(tmp_path, key, name):
    """By a path, through a folder that is a link, by a link, by an absolute path."""
    folder = tmp_path / "case"
    folder.mkdir()
    (tmp_path / "out.csv").write_text("secret\n1\n", encoding="utf-8")
    (folder / "link.csv").symlink_to(tmp_path / "out.csv")
    (folder / "down").symlink_to(tmp_path)
    (folder / "case.toml").write_text(STARTER, encoding="utf-8")
    *path, last = re.findall(r"[^.\[\]]+", key)
    brief = tomllib.loads(STARTER)
    table = brief
    for step in path:
        table = table[int(step) - 1] if step.isdigit() else table.setdefault(step, {})
    table[last] = name
    (folder / "case.toml").write_text(tomli_w.dumps(brief), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_brief(folder / "case.toml")
    text = str(error.value)
    assert f"{key} = '{name}': it lies outside the folder of the brief" in text
    assert "secret" not in text


@pytest.mark.parametrize(
    "options",
    [["--jobs", "1000000000"], ["--in-full", "9" * 400], ["--most", "-1"], ["--in-full", "0"]],
)
def test_a_number_that_explodes_on_the_command_line(capsys, options):
    assert main(["choose", str(DATA / "starter" / "case.toml"), *options]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_grid_of_a_number_with_many_digits_is_refused(tmp_path):
    """Three of a thousand kinds at each of 64 places, in a hundred patterns."""
    kinds = many('[mount.a{}]\nalong="6 N/mm"\nacross="6 N/mm"\ndynamic_ratio=1.2\n', 40_000)
    patterns = "".join(
        f'[[choose.pattern]]\nname = "p{k}"\nspread = ["{330 - k} mm", "230 mm"]\n'
        "columns = 8\nrows = 8\n"
        for k in range(100)
    )
    text = STARTER.replace("[mounts]", '[mounts]\nuse = "ring"') + kinds
    text += f"[choose]\nkinds = 3\n{patterns}"
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"e\+\d+ designs .* name fewer in choose.mounts"):
        choose(tmp_path / "case.toml")


def test_the_end_of_a_range_belongs_to_it(tmp_path):
    """45 deg was outside 0.3 to 45 deg."""
    text = STARTER.replace('drop = "0.2 m"', 'drop = "0.2 m"\nslap_down = "45 deg"')
    text = text.replace('lid = "50 mm"', 'lid = "50 mm"\nsize = ["600 mm", "500 mm", "300 mm"]')
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert read_brief(tmp_path / "case.toml").design.legs[0].slap_down is not None


@pytest.mark.parametrize(
    "rows",
    [
        "name,mass [kg],x [mm],y [mm],z [mm\u2028]\na,1,0,0,0\n",
        "name,mass [kg],x [mm],y [mm],z\x1b[2J\na,1,0,0,0\n",
        "name,mass [kg],x [mm],y [mm],z [mm]\na,1,0,0,0\u2028 mm\n",
    ],
)
def test_a_message_about_a_table_can_be_shown(tmp_path, rows):
    (tmp_path / "parts.csv").write_text(rows, encoding="utf-8")
    with pytest.raises(InputError) as error:
        Folder(tmp_path).rows("parts.csv", "it", PartRow)
    assert all(line.isprintable() for line in error.value.lines)


def test_a_name_that_is_the_number_of_a_line_without_one_is_no_name_twice(tmp_path):
    file = tmp_path / "mounts.csv"
    file.write_text("name,along [N/mm],across [N/mm]\n3,6,6\n,6,6\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_mounts(file)
    assert all("too" not in line for line in caught.value.lines)
    assert any("name is empty" in line for line in caught.value.lines)

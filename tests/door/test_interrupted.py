"""Killed, out of room, two at once, a file that changes: nothing is lost and nothing half-written.

What has to be killed runs in a process of its own, which forks what it kills.
"""

import json
import os
import random
import shutil
import signal
import struct
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from isolator import logger
from isolator.brief import read_brief
from isolator.cli import main
from isolator.files import alone, write_all
from isolator.logger import read_recording
from isolator.recorded_trip import trip_record
from isolator.sweep import _Store, choose
from isolator.units import InputError

ROOT = Path(__file__).parents[2]
STARTER = ROOT / "data" / "starter" / "case.toml"
RADAR = ROOT / "data" / "ice-radar"
HOUSE = {**os.environ, "PYTHONPATH": str(ROOT)}


def run(code: str, *arguments: object) -> str:
    """What a script prints that may fork and kill."""
    command = [sys.executable, "-c", code, *map(str, arguments)]
    done = subprocess.run(
        command, env=HOUSE, capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.fixture
def brief():
    return read_brief(STARTER)


def ride(folder: Path) -> str:
    """A recording that is long enough for a road."""
    file = folder / "ride.csv"
    level = np.random.default_rng(1).normal(0, 0.1, 13_000)
    rows = [f"{n / 200:.3f},{x:.4f}" for n, x in enumerate(level)]
    file.write_text("\n".join(["time [s],z [g0]", *rows]), encoding="utf-8")
    return str(file)


# Killed.

KILLED = """
import os, random, signal, sys, time
from functools import partial
from pathlib import Path
from isolator.files import write_all

folder, chance = Path(sys.argv[1]), random.Random(1)
names = ("a", "b", "c")

def whole(k):
    return {folder / name: bytes([65 + k % 20]) * (300_000 + k % 7) for name in names}

write_all(whole(0), replace=True)
seen = set()
for k in range(40):
    child = os.fork()
    if child == 0:
        while True:
            k += 1
            write_all(whole(k), replace=True)
    time.sleep(chance.uniform(0.0, 0.02))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    for name in names:
        content = (folder / name).read_bytes()
        assert len(set(content)) == 1 and 300_000 <= len(content) < 300_007, len(content)
        seen.add(content[:1])
others = [p.name for p in folder.iterdir() if p.name not in names]
assert all(name.startswith(".half-") for name in others), others
write_all(whole(5), replace=True)
print(len(seen) > 5)
"""


def test_a_run_that_is_killed_leaves_whole_files(tmp_path):
    assert run(KILLED, tmp_path) == "True"


KEPT = """
import json, os, random, signal, sys, time
from functools import partial
from pathlib import Path
from isolator.brief import read_brief
from isolator.sweep import _Store

path, brief, chance = Path(sys.argv[2]), read_brief(sys.argv[1]), random.Random(1)
rows = [{"mounts": "x" * 5000}] * 4
told = 0
for k in range(20):
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        with _Store.opened(path, brief) as store:
            while True:
                store.put("screened", str(len(store.screened)), rows)
                os.write(into, b".")
    os.close(into)
    time.sleep(chance.uniform(0.0, 0.05))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    told += len(os.read(out, 1_000_000))
    os.close(out)
    with _Store.opened(path, brief) as store:
        assert all(kept == rows for kept in store.screened.values())
        assert len(store.screened) >= told, (len(store.screened), told)
print(told > 10)
"""


def test_all_that_was_kept_is_there_after_a_kill(tmp_path):
    """A line that was torn costs its own result, and not the one after it."""
    assert run(KEPT, STARTER, tmp_path / "keep") == "True"


@pytest.mark.parametrize("share", [0.0, 0.3, 0.99])
def test_a_head_that_was_torn_is_written_anew(tmp_path, brief, share):
    path = tmp_path / "keep"
    with _Store.opened(path, brief):
        head = path.read_text(encoding="utf-8")
    path.write_text(head[: int(share * len(head))], encoding="utf-8")
    with _Store.opened(path, brief) as store:
        store.put("screened", "0", [1])
    assert path.read_text(encoding="utf-8").startswith(head)
    with _Store.opened(path, brief) as store:
        assert store.screened == {"0": [1]}


def test_a_torn_line_does_not_take_the_next_with_it(tmp_path, brief):
    path = tmp_path / "keep"
    with _Store.opened(path, brief) as store:
        store.put("screened", "0", [1])
    with path.open("a", encoding="utf-8") as file:
        file.write('["screened", "1", [{"moun')
    with _Store.opened(path, brief) as store:
        store.put("screened", "2", [3])
    with _Store.opened(path, brief) as store:
        assert store.screened == {"0": [1], "2": [3]}


@pytest.mark.parametrize("text", ["mine", "mine" * 100])
def test_a_file_of_somebody_else_is_no_file_of_results(tmp_path, brief, text):
    """Not a byte of it changes, a last line without an end included."""
    path = tmp_path / "keep"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="to none; name another file"), _Store.opened(path, brief):
        pass
    assert path.read_text(encoding="utf-8") == text


def test_results_that_are_nested_without_end_are_none(tmp_path, brief):
    path = tmp_path / "keep"
    with _Store.opened(path, brief) as store:
        store.put("screened", "0", [1])
    with path.open("a", encoding="utf-8") as file:
        file.write("[" * 200_000 + "\n")
    with _Store.opened(path, brief) as store:
        assert store.screened == {"0": [1]}


@pytest.mark.heavy
@pytest.mark.parametrize(
    "arguments",
    [
        ["report", "case.toml", "--out", "out"],
        ["sheet", "case.toml", "--out", "out"],
        ["choose", "case.toml", "--keep", "out/keep", "--out", "out/table.csv", "--in-full", "1"],
        ["bench", "trip", "ride.csv", "--out", "out"],
    ],
    ids=["report", "sheet", "choose", "trip"],
)  # fmt: skip
def test_a_command_that_is_killed_can_be_run_again(tmp_path, arguments):
    """Nothing half-written stands there under its name, and the next run ends as the first would.

    In the place of a file that was there stands the old one or the new one.
    """
    shutil.copytree(RADAR, tmp_path, dirs_exist_ok=True)
    ride(tmp_path)
    (tmp_path / "out").mkdir()
    command = [sys.executable, "-m", "isolator", *arguments]
    more = {"cwd": tmp_path, "env": HOUSE, "stdout": subprocess.DEVNULL}
    start = time.monotonic()
    first = subprocess.run(command, check=False, **more)
    took = time.monotonic() - start
    named = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir() if p.name != "keep"}
    assert first.returncode in (0, 1, 3)
    assert named
    chance = random.Random(1)
    for k in range(8):
        if k % 2 or arguments[0] == "choose":
            shutil.rmtree(tmp_path / "out")
            (tmp_path / "out").mkdir()
        process = subprocess.Popen(command, **more)
        time.sleep(took * (chance.uniform(0.7, 1.1) if k else 0.1))
        process.kill()
        process.wait()
        for path in (tmp_path / "out").iterdir():
            if path.name != "keep" and not path.name.startswith((".half-", "tmp")):
                assert path.read_bytes() == named[path.name]
        if arguments[0] == "choose":
            (tmp_path / "out" / "table.csv").unlink(missing_ok=True)
        again = subprocess.run(command, check=False, **more)
        assert again.returncode == first.returncode
        assert {name: (tmp_path / "out" / name).read_bytes() for name in named} == named


# No room, no permission.

FULL = """
import json, os, resource, signal, sys
from functools import partial
from pathlib import Path
from isolator.brief import read_brief
from isolator.files import write_all
from isolator.sweep import _Store
from isolator.units import InputError

folder, brief = Path(sys.argv[2]), read_brief(sys.argv[1])
(folder / "a").write_bytes(b"old")
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
try:
    write_all({folder / "b": b"b", folder / "a": b"a" * 200_000}, replace=True)
except OSError as error:
    print(error.strerror)
print(sorted(path.name for path in folder.iterdir()), (folder / "a").read_bytes())
keep = folder / "keep"
try:
    with _Store.opened(keep, brief) as store:
        for k in range(100):
            store.put("screened", str(k), ["x" * 9000])
except InputError as error:
    print(error)
resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
with _Store.opened(keep, brief) as store:
    before = len(store.screened)
    store.put("screened", "next", [1])
with _Store.opened(keep, brief) as store:
    print(before, len(store.screened), store.screened["next"])
"""


def test_a_disk_that_is_full(tmp_path):
    """The system refuses what is larger than it allows, in the midst of a file."""
    lines = run(FULL, STARTER, tmp_path).splitlines()
    assert lines[0] == "File too large"
    assert lines[1] == "['a'] b'old'"
    assert "not written (File too large); what is in it counts: make room" in lines[2]
    assert lines[3] == "11 12 [1]" or lines[3] == "10 11 [1]"


@pytest.mark.parametrize("there", [False, True])
def test_a_folder_that_was_made_in_vain_goes(tmp_path, monkeypatch, there):
    """One that was there stays, and so does one that holds something by then."""
    folder, other = tmp_path / "new" / "inside", tmp_path / "new" / "other"
    if there:
        folder.mkdir(parents=True)

    def full(*_given):
        if there:
            (tmp_path / "new" / "others").write_text("of another run", encoding="utf-8")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("isolator.files.os.chmod", full)
    with pytest.raises(OSError, match="No space"):
        write_all({other / "b": b"b", folder / "a": b"a"}, replace=True)
    left = ["new", "new/inside", "new/others"] if there else []
    assert sorted(str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*")) == left


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a small disk")
def test_a_small_disk_is_full(tmp_path, capsys):
    """The same on a disk of its own, where the system lets us have one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "none", str(disk)]
    if subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("no disk can be mounted here")
    try:
        assert main(["new", str(disk / "case")]) == 0
        (disk / "much").write_bytes(b"x" * 40_000)
        before = sorted(disk.rglob("*"))
        brief = (RADAR / "case.toml").read_bytes()
        with pytest.raises(OSError, match="No space"):
            write_all({disk / "a": b"a", disk / "b": brief * 20}, replace=True)
        assert sorted(disk.rglob("*")) == before
        with suppress(OSError), (disk / "more").open("wb", buffering=0) as more:
            while more.write(b"x" * 1024):
                pass
        capsys.readouterr()
        assert main(["bench", "trip", ride(tmp_path), "--out", str(disk / "roads")]) == 2
        (line,) = capsys.readouterr().err.splitlines()
        assert "No space left on device" in line
        assert "name a folder where you may write" in line
        assert not (disk / "roads").exists()
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.fixture
def read_only(tmp_path):
    """A folder in which nothing can be written; root may write in any but that of such a disk."""
    folder = tmp_path / "only"
    folder.mkdir()
    if os.geteuid():
        folder.chmod(0o555)
        yield folder
        folder.chmod(0o755)
        return
    mount = ["mount", "-t", "tmpfs", "-o", "ro", "none", str(folder)]
    if subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("root may write anywhere, and no disk can be mounted here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.parametrize(
    "arguments",
    [
        ["new", "only/case"],
        ["report", "B", "--out", "only"],
        ["sheet", "B", "--out", "only/new"],
        ["template", "B", "--out", "only"],
        ["assess", "B", "--figures", "only"],
        ["choose", "B", "--keep", "only/keep"],
        ["choose", "B", "--out", "only/table.csv"],
        ["bench", "trip", "B", "--out", "only/roads"],
    ],
)
def test_a_folder_that_may_only_be_read(tmp_path, monkeypatch, capsys, read_only, arguments):
    """Refused before the work, in a line that says what to do."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("isolator.assessment.assess", lambda _: pytest.fail("worked in vain"))
    assert main([str(STARTER) if word == "B" else word for word in arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert "Read-only file system" in line or "Permission denied" in line
    assert "where you may write" in line
    assert f" {arguments[-1]}" in line or f"'{arguments[-1]}'" in line  # as it was typed
    assert list(read_only.iterdir()) == []


# Two at once, and one that is lost.


def test_two_runs_do_not_write_one_file_of_results(tmp_path, brief):
    path = tmp_path / "keep"
    with _Store.opened(path, brief) as store:
        store.put("screened", "0", [1])
        with (
            pytest.raises(InputError, match="another run is writing it; wait for that one"),
            _Store.opened(path, brief),
        ):
            pass
    with _Store.opened(path, brief) as store:
        assert store.screened == {"0": [1]}


TWO = """
import os, sys
from functools import partial
from pathlib import Path
from isolator.files import write_all

folder = Path(sys.argv[1])
for run in range(2):
    if os.fork() == 0:
        for k in range(150):
            own = bytes([run]) * 1000
            write_all({folder / name: own for name in "abcdef"}, replace=True)
        os._exit(0)
while True:
    try:
        done, _ = os.waitpid(-1, os.WNOHANG)
    except ChildProcessError:
        break
sets = {(folder / name).read_bytes() for name in "abcdef"}
print(len(sets), sorted(path.name for path in folder.iterdir()))
"""


def test_of_two_runs_at_once_one_has_all_files(tmp_path):
    assert run(TWO, tmp_path) == "1 ['a', 'b', 'c', 'd', 'e', 'f']"


def test_the_second_of_two_runs_does_not_write_over_the_first(tmp_path):
    """Both found the place empty; the first was done while the second waited."""
    code = """
import os, sys, time
from functools import partial
from pathlib import Path
from isolator.files import alone, write_all
from isolator.units import InputError
folder = Path(sys.argv[1])
out, into = os.pipe()
if os.fork() == 0:
    with alone(folder):
        os.write(into, b".")
        time.sleep(0.3)
        (folder / "a").write_text("first")
    os._exit(0)
os.read(out, 1)
try:
    write_all({folder / "a": b"second"}, replace=False)
except InputError as error:
    print(str(error)[len(str(folder)):][:15], (folder / "a").read_text(), len(os.listdir(folder)))
"""
    assert run(code, tmp_path) == "/a: there alrea first 1"


def test_what_is_held_is_let_go(tmp_path):
    with alone(tmp_path), pytest.raises(BlockingIOError), alone(tmp_path, wait=False):
        pass
    with alone(tmp_path, wait=False):
        pass


def test_a_worker_that_is_lost_is_one_line(tmp_path, brief):
    pool = ProcessPoolExecutor(1, initializer=os._exit, initargs=(9,))
    with pool, pytest.raises(InputError, match=r"a process was lost.*fewer of them \(--jobs\)"):
        choose(brief, executor=pool, keep=tmp_path / "keep")
    assert len(choose(brief, keep=tmp_path / "keep", in_full=1)) == 1


# A file that changes.

LOG = "time [s],x [g],y [g],z [g]\n" + "".join(f"{k * 0.005},0.1,0.2,1\n" for k in range(300))


@pytest.mark.parametrize("left", ["", "time [s],x [g]\n"])
def test_a_log_that_becomes_shorter(tmp_path, monkeypatch, left):
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    look = logger._head

    def then_cut(file):
        head = look(file)
        file.write_text(left, encoding="utf-8")
        return head

    monkeypatch.setattr(logger, "_head", then_cut)
    with pytest.raises(InputError, match="it became shorter while it was read; wait until"):
        read_recording(path)


def test_a_wav_file_that_becomes_shorter(tmp_path):
    """Its samples were mapped, and the system ended the process."""
    path = tmp_path / "log.wav"
    samples = struct.pack("<9000h", *(k % 100 for k in range(9000)))
    form = struct.pack("<HHIIHH", 1, 1, 400, 800, 2, 16)
    body = b"fmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", len(samples))
    path.write_bytes(
        b"RIFF" + struct.pack("<I", 4 + len(body + samples)) + b"WAVE" + body + samples
    )
    blocks = logger.read_blocks(path, full_scale="16 g0", rows=4096)
    whole = read_recording(path, full_scale="16 g0")
    assert (next(blocks).acceleration == whole.acceleration[:4096]).all()
    path.write_bytes(b"")
    with pytest.raises(InputError, match="it became shorter while it was read"):
        next(blocks)


def test_a_log_that_grows_is_read_as_far_as_it_was(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(LOG + "1.5,0.1,0.", encoding="utf-8")  # a row that is being written
    assert len(read_recording(path).time) == 300
    assert trip_record(path).names == ("x", "y", "z")


def test_a_table_that_changes_is_that_of_the_verdict(tmp_path):
    """What was read is what the fingerprint and the report hold."""
    shutil.copytree(RADAR, tmp_path, dirs_exist_ok=True)
    read = read_brief(tmp_path / "case.toml")
    before = read.fingerprint()
    (tmp_path / "parts.csv").write_text("name\n", encoding="utf-8")
    assert read.changed("leg[1].drop", "0.1 m").inputs()["files"] == read.inputs()["files"]
    assert read.fingerprint() == before


# Streams, and Ctrl-C.


@pytest.mark.parametrize("task", ["keys", "roads"])
def test_a_list_whose_reader_leaves(task):
    line = f"set -o pipefail; {sys.executable} -m isolator {task} | head -n 1"
    done = subprocess.run(["bash", "-c", line], env=HOUSE, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_folder_in_the_place_of_one_file_leaves_all_others_as_they_were(tmp_path):
    (tmp_path / "a").write_text("old", encoding="utf-8")
    (tmp_path / "b").mkdir()
    with pytest.raises(IsADirectoryError):
        write_all({tmp_path / "a": b"new", tmp_path / "b": b"new"}, replace=True)
    assert (tmp_path / "a").read_text(encoding="utf-8") == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b"]


@pytest.fixture
def long_choice(tmp_path):
    """A choice of 100 patterns in two further processes, as soon as it has kept a result."""
    (tmp_path / "case.toml").write_text(
        STARTER.read_text(encoding="utf-8")
        + "\n[choose]\n"
        + "".join(f'[[choose.pattern]]\nname = "p{k}"\nspread = ["{330 - k} mm", "250 mm"]\n'
                  for k in range(100)), encoding="utf-8",
    )  # fmt: skip
    command = [sys.executable, "-m", "isolator", "choose", "case.toml", "--jobs", "2"]
    process = subprocess.Popen(
        [*command, "--keep", "keep"],
        cwd=tmp_path,
        env=HOUSE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        # a shell in the background leaves Ctrl-C ignored to all that it starts
        preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),
    )
    keep = tmp_path / "keep"
    while process.poll() is None and not (keep.exists() and keep.read_bytes().count(b"\n") > 1):
        time.sleep(0.01)
    yield process
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.communicate()


def test_an_interrupted_run_ends_with_its_own_status(tmp_path, long_choice):
    """Ctrl-C goes to all processes of a terminal: none of them says anything."""
    os.killpg(long_choice.pid, signal.SIGINT)
    out, err = long_choice.communicate(timeout=60)
    assert (long_choice.returncode, out, err) == (130, b"", b"")
    keep = tmp_path / "keep"
    assert json.loads(keep.read_text(encoding="utf-8").splitlines()[1])[0] == "screened"


LOADING = """
import signal, sys
from isolator.start import command

class Stop:
    def find_spec(self, name, path=None, target=None):
        if name == room:
            try:
                signal.raise_signal(signal.SIGINT)
            except KeyboardInterrupt:
                raise ImportError("a library that makes a mistake of it") from None

signal.signal(signal.SIGINT, signal.default_int_handler)
sys.meta_path.insert(0, Stop())
_, room, brief = sys.argv
sys.argv[1:] = ["assess", brief]
sys.exit(command())
"""


@pytest.mark.parametrize("room", ["argparse", "pint", "isolator.assessment"])
def test_ctrl_c_while_all_is_loaded(room):
    """It was a page of lines of imports, or by a mistake of numpy the status of a verdict."""
    command = [sys.executable, "-c", LOADING, room, str(STARTER)]
    done = subprocess.run(command, env=HOUSE, capture_output=True, check=False, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (130, b"", b"")


def test_ctrl_c_that_is_ignored_stays_so():
    """As a shell starts what runs in the background."""
    code = LOADING.replace("signal.default_int_handler", "signal.SIG_IGN")
    code = code.replace('"assess", brief', '"heights"')
    command = [sys.executable, "-c", code, "isolator.heights", str(STARTER)]
    done = subprocess.run(command, env=HOUSE, capture_output=True, check=False, timeout=60)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_no_process_outlives_the_one_that_started_it(long_choice, how):
    """They held its output open: it ends for who reads it when the last of them has gone."""
    long_choice.send_signal(how)
    out, err = long_choice.communicate(timeout=60)
    assert (long_choice.returncode, out, err) == (-how, b"", b"")

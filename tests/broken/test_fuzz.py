"""The fuzzer: a few thousand inputs with a kept seed, and that it sees what is wrong."""

import importlib.util
import re
import subprocess
import sys
import warnings
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("fuzz.py")


@pytest.fixture(scope="module")
def fuzz():
    spec = importlib.util.spec_from_file_location("fuzz", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules["fuzz"] = module
    spec.loader.exec_module(module)
    module.MOST_MEMORY = float("inf")  # that of the other tests of this process is not its own
    yield module
    del sys.modules["fuzz"]


def tried(*options):
    command = [sys.executable, str(SCRIPT), "--jobs", "1", *map(str, options)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


def test_no_door_breaks():
    """In a process of its own, whose memory is counted."""
    done = tried("--inputs", 2500, "--seed", 1)
    assert done.returncode == 0, done.stdout + done.stderr
    rows = re.findall(r"^(\S.*?) +(\d+) +(\d+) +(\d+) +\S+ +\d+ +0$", done.stdout, re.MULTILINE)
    assert [name for name, *_ in rows] == [
        "brief, text", "brief, tables", "brief, keys", "CSV tables", "recordings", "command line",
        "units", "all",
    ]  # fmt: skip
    for _, inputs, refused, taken in rows:
        assert int(inputs) == int(refused) + int(taken)
        assert int(refused) > 0
        assert int(taken) > 0
    assert int(rows[-1][1]) == 2500


@pytest.mark.heavy
def test_no_door_breaks_under_more():
    done = tried("--inputs", 20_000, "--seed", 2)
    assert done.returncode == 0, done.stdout + done.stderr


def broken(given, folder):
    if b"7" in given.what:
        raise ZeroDivisionError
    if b"9" in given.what:
        warnings.warn("of ours", RuntimeWarning, stacklevel=1)


def test_what_is_wrong_is_found_made_small_and_found_again(fuzz, monkeypatch):
    door = fuzz.Door(1.0, fuzz.make_value, broken)
    monkeypatch.setitem(fuzz.DOORS, "units", door)
    first = fuzz.run("units", 1, range(200))
    assert set(first.failures) == {
        "ZeroDivisionError in no room of ours", "RuntimeWarning in no room of ours",
    }  # fmt: skip
    failure = first.failures["ZeroDivisionError in no room of ours"]
    assert failure.count > 1
    assert failure.given.what == b"7"
    again = fuzz.run("units", 1, [failure.number])
    assert [kind for kind in again.failures] == ["ZeroDivisionError in no room of ours"]
    assert "ZeroDivisionError in no room of ours: " in fuzz.table({"units": first})


def test_what_takes_too_long_or_cannot_be_read_is_a_failure(fuzz, monkeypatch, tmp_path):
    def slow(given, folder):
        while fuzz.time.thread_time() < end:
            pass

    def unclear(given, folder):
        raise fuzz.InputError("\x1b[2J")

    monkeypatch.setattr(fuzz, "LONGEST", 0.05)
    monkeypatch.setattr(fuzz, "WAITS", 2.0)
    given = fuzz.Given(b"", "")
    end = fuzz.time.thread_time() + 0.1
    assert fuzz.tried(fuzz.Door(1, None, slow), given, tmp_path, None).kind == "more than 0 s"
    waits = fuzz.Door(1, None, lambda *_: fuzz.time.sleep(30))
    assert fuzz.tried(waits, given, tmp_path, None).kind == "not done after 2 s"
    door = fuzz.Door(1, None, unclear)
    assert fuzz.tried(door, given, tmp_path, None).kind == "a message that cannot be read"


def test_equal_seeds_make_equal_inputs(fuzz):
    for name, door in fuzz.DOORS.items():
        first, again, other = (door.make(fuzz.Random(f"{s} {name} 0")) for s in (1, 1, 2))
        assert first == again != other

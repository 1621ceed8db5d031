"""Pages of the bench: their numbers are those of closed forms and of signals of known truth."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from isolator.cli import main

DATA = Path(__file__).parents[2] / "data"
STARTER = str(DATA / "starter" / "case.toml")
RATE = 500


def logged(path: Path, heading: str, columns: np.ndarray) -> str:
    """A logger's CSV: time and columns (n, c)."""
    time = np.arange(len(columns)) / RATE
    np.savetxt(
        path,
        np.column_stack([time, columns]),
        delimiter=",",
        header=heading,
        comments="",
        fmt="%.6f",
    )
    return str(path)


def section(page: str, title: str) -> list[str]:
    block = next(block for block in page.split("\n\n") if block.startswith(title))
    return [line.strip(" -") for line in block.splitlines()[1:]]


def test_what_to_expect_is_that_of_one_mass_on_four_springs(capsys):
    """8 kg on four mounts of 6 N/mm, the centre in their middle: by hand."""
    assert main(["bench", "expect", STARTER]) == 0
    page = capsys.readouterr().out
    sag = 8 * 9.80665 / (4 * 6)
    assert section(page, "Sag at each lower corner") == [
        f"{end}, {side}: {sag:.2f} mm"
        for end in ("left end", "right end")
        for side in ("handle side", "hinge side")
    ]
    pushed = section(page, "Travel of the centre for a slow push")
    assert pushed == [f"{axis}, 50 N: {50 / 24:.2f} mm" for axis in "xyz"]
    bounce = math.sqrt(4 * 6000 * 1.2 / 8) / math.tau
    truck = section(page, "The same modes in transport")
    assert f"bounce along z: {bounce:.3g} Hz" in truck
    assert "mass: 8 kg" in section(page, "A dummy in the place of the payload")
    assert section(page, "With the dummy")


def test_what_a_recording_is_stands_on_its_page(tmp_path, capsys):
    """Noise on gravity along z, and a swing along x that stops at the sensor's end: 2 g."""
    some = np.random.default_rng(2).normal([0, 0, 1], 0.1, (3000, 3))
    some[:, 0] = (some[:, 0] + 4 * np.sin(math.tau * 5 * np.arange(3000) / RATE)).clip(-2, 2)
    file = logged(tmp_path / "log.csv", "time (s),x (g),y (g),z (g)", some)
    assert main(["bench", "look", file]) == 0
    page = capsys.readouterr().out
    assert page.startswith("log.csv: 3000 samples of 3 channels")
    quality = section(page, "Quality")
    signs = {line.split(": ")[1]: line.split(": ")[0] for line in quality if line.count(": ") > 1}
    assert signs["rate"] == "good"
    assert signs["clipping"] == "LOOK"
    assert signs["saturation"] == "?"
    assert main(["bench", "look", file, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["samples"] == 3000
    assert data["channels"] == ["x", "y", "z"]
    assert data["rate_hz"] == pytest.approx(RATE)
    assert data["usable_hz"][1] < RATE / 2
    assert {found["what"]: found["good"] for found in data["findings"]}["clipping"] is False


def shaken(ratio: float) -> tuple[np.ndarray, np.ndarray]:
    """A base of noise and a payload at 20 Hz on it, exact in frequency, periodic. [g]"""
    count = 60 * RATE
    base = np.random.default_rng(3).normal(0, 0.3, count)
    r = np.fft.rfftfreq(count, 1 / RATE) / 20
    passes = (1 + 2j * ratio * r) / (1 - r**2 + 2j * ratio * r)
    return base, np.fft.irfft(np.fft.rfft(base) * passes, count)


def test_what_comes_through_stands_on_its_page(tmp_path, capsys):
    base, payload = shaken(0.1)
    file = logged(tmp_path / "two.csv", "time (s),base (g),tray (g)", np.stack([base, payload], 1))
    line = ["bench", "pair", file, "--base", "base", "--payload", "tray"]
    assert main(line) == 0
    page = capsys.readouterr().out
    first = page.splitlines()[0]
    assert first.startswith("two.csv: what comes through: ")
    frequency, loss = first.removeprefix("two.csv: what comes through: ").split(" Hz, loss factor ")
    assert float(frequency) == pytest.approx(20, rel=0.03)
    assert float(loss) == pytest.approx(0.2, rel=0.1)
    assert main([*line, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["resonance_hz"] == pytest.approx(20, rel=0.03)
    at = np.searchsorted(data["frequency_hz"], 20.0)
    assert data["ratio"][at] == pytest.approx(math.hypot(1, 0.2) / 0.2, rel=0.1)
    assert len(data["error"]) == len(data["coherence"]) == len(data["frequency_hz"])
    table = page.split("Payload over base, H1")[1]
    rows = [line.split() for line in table.splitlines() if line[2:3].isdigit()]
    assert len(rows) > 10
    for row in rows:
        near = np.argmin(np.abs(np.array(data["frequency_hz"]) / float(row[0]) - 1))
        assert float(row[1]) == pytest.approx(data["ratio"][near], rel=0.01)


def test_two_sensors_that_share_nothing_give_no_number(tmp_path, capsys):
    apart = np.random.default_rng(4).normal(0, 0.3, (30 * RATE, 2))
    file = logged(tmp_path / "two.csv", "time (s),base (g),tray (g)", apart)
    line = ["bench", "pair", file, "--base", "base", "--payload", "tray"]
    assert main(line) == 0
    page = capsys.readouterr().out
    assert page.startswith("two.csv: what comes through: no peak in which both sensors agree")
    assert main([*line, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["resonance_hz"] is None
    assert data["damping_ratio"] is None

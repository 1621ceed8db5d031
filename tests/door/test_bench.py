"""What no bench can have recorded gets one line, and no number."""

import contextlib
import json
import re
from collections.abc import Iterable
from functools import cache, partial
from pathlib import Path

import numpy as np
import pytest

from isolator import logger
from isolator.brief import read_brief
from isolator.cli import main
from isolator.pair import transmissibility
from isolator.recording import Recording
from isolator.ringdown import ring_down
from isolator.tones import dwell, swept, tone
from isolator.units import InputError, si

DATA = Path(__file__).parents[2] / "data"
TAP = str(DATA / "ice-radar" / "tap.csv")
CASE = str(DATA / "ice-radar" / "case.toml")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (["look", "none.csv"], "none.csv"),
        (["tap", TAP, "--out", "new.toml"], "there is no brief to correct; name it with --brief"),
        (
            ["tap", TAP, "--brief", CASE, "--out", "elsewhere/new.toml"],
            "write it into the brief's own",
        ),
        (["tap", TAP, "--rate", "4"], "rate"),
        (["tap", TAP, "--unit", "1 kg"], "unit"),
        (["tap", TAP, "--channels", "up"], "up"),
        (["pair", TAP, "--base", "x", "--payload", "nothing"], "nothing"),
        (["expect", "none.toml"], "none.toml"),
    ],
)
def test_a_line_for_each_mistake_at_the_bench(capsys, line, words):
    assert main(["bench", *line]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert words in err
    assert all(said.startswith("isolator: ") and len(said) < 400 for said in err.splitlines())


@pytest.mark.parametrize(
    "text",
    [
        "",
        "time (s)\n0\n1\n",
        "time (s),x (g)\n" + "".join(f"{k / 100},{'one' if k == 40 else 0}\n" for k in range(90)),
        "time (s),x (g)\n" + "".join(f"{max(k, 50) / 100},0\n" for k in range(90)),
        "time (s),x (g)\n" + "".join(f"{k / 100},0.{k % 7}\n" for k in range(400)),
    ],
    ids=["empty", "one column", "text in numbers", "time that stands", "no decay"],
)
def test_a_recording_that_is_none_gives_no_number(tmp_path, capsys, text):
    file = tmp_path / "tap.csv"
    file.write_text(text, encoding="utf-8")
    assert main(["bench", "tap", str(file)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("isolator: ") == len(err.splitlines()) >= 1


def logged(heading: str, rows: Iterable[tuple[object, ...]]) -> str:
    return "\n".join([heading, *(",".join(map(str, row)) for row in rows)]) + "\n"


HEAD = "time (s),x (g),y (g),z (g)"
EACH = [(k / 200, 0.01 * (k % 7), 0.02, 1.0 + 0.01 * (k % 5)) for k in range(600)]


def but(row: int, value: tuple[object, ...]) -> str:
    return logged(HEAD, [*EACH[:row], value, *EACH[row + 1 :]])


BAD = {
    "empty": ("", [], ["the file is empty"]),
    "one column": (
        logged("x (g)", [(one[1],) for one in EACH]), [], ["one column", "--rate '100 Hz'"],
    ),
    "text in numbers": (but(300, (1.5, 0.1, "oops", 1)), [], ["row 302", "'oops'", "'y (g)'"]),
    "duplicate time": (but(300, EACH[299]), [], ["row 302", "the same as", "--time 'none'"]),
    "backward time": (but(300, (0.2, 0, 0, 1)), [], ["row 302", "before", "sort it"]),
    "nan runs": (
        logged(HEAD, [one if k % 100 > 15 else (one[0], "nan", "nan", "nan")
                      for k, one in enumerate(EACH)]),
        [],
        ["samples have no number", "10%"],
    ),
    "milliseconds read as seconds": (
        logged(HEAD, [(1e3 * one[0], *one[1:]) for one in EACH]),
        [],
        ["milliseconds read as seconds?", "--time-unit '1 ms'"],
    ),
    "a rate off by a thousand": (
        logged(HEAD, EACH), ["--rate", "200 kHz"],
        ["--rate = 200000 Hz", "says 200 Hz", "--time 'none'", "--time-unit '1 ms'"],
    ),
    "gravity called g": (
        logged(HEAD, [(one[0], 0, 0, 9.81) for one in EACH]), [],
        ["9.81 g", "mixed up?", "--unit '1 m/s**2'"],
    ),
    "gravity called m/s²": (
        logged(HEAD.replace("(g)", "(m/s^2)"), EACH), [], ["0.1", "mixed up?", "--unit '1 g0'"],
    ),
    "no unit": (
        logged("time (s),x,y,z", [(one[0], 0, 0, 3.0) for one in EACH]), [], ["--unit '1 g0'"],
    ),
    "many columns without heading": (
        "".join(f"{k / 100},1,2,3,4,5\n" for k in range(40)), [],
        ["6 columns", "--channels 'column 2' 'column 3'"],
    ),
    "no acceleration": (
        logged("time (s),gyro x (rad/s)", [one[:2] for one in EACH]), [],
        ["no column of acceleration", "--channels 'column 2'"],
    ),
    "beyond any sensor": (
        logged("time (s),z (g)", [(one[0], (-1) ** k * 1e308) for k, one in enumerate(EACH)]), [],
        ["row 2", "more than any accelerometer feels (1e+06 m/s²)"],
    ),
    "no number at all": (
        logged("time (s),z (g)", [(one[0], "nan") for one in EACH]), [],
        ["none of its 600 rows has a number"],
    ),
    "a scale without a WAV": (
        logged(HEAD, EACH), ["--full-scale", "16 g0"], ["--full-scale belongs", "--unit '1 g0'"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("way", ["look", "tap", "trip"])
@pytest.mark.parametrize("name", BAD)
def test_bad_input_gets_one_line_in_the_words_of_the_command(tmp_path, capsys, way, name):
    text, options, says = BAD[name]
    file = tmp_path / "log.csv"
    file.write_text(text, encoding="utf-8")
    assert main(["bench", way, str(file), *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert err.startswith("isolator: ")
    for part in says:
        assert part in err
    assert not re.search(r"\b(rate|unit|time|time_unit|channels|full_scale|path)=", err)


def test_more_samples_than_memory_holds_are_a_trip(tmp_path, capsys, monkeypatch):
    """Ten million in earnest; whoever looks at them all at once is told where they can go."""
    monkeypatch.setattr(logger, "MOST", 500)
    file = tmp_path / "log.csv"
    file.write_text(logged(HEAD, EACH), encoding="utf-8")
    for way in ("look", "tap"):
        assert main(["bench", way, str(file)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert "more than 500 samples" in err
        assert "isolator bench trip" in err
    assert main(["bench", "trip", str(file)]) == 0
    assert "y: it stands still." in capsys.readouterr().out


def test_a_slow_logger_is_too_slow_for_a_tap_or_a_mount(tmp_path, capsys):
    file = tmp_path / "log.csv"
    rows = [(k / 20, 0.1 * (k % 3), 0, 1) for k in range(2000)]
    file.write_text(logged(HEAD, rows), encoding="utf-8")
    assert main(["bench", "trip", str(file), "--brief", CASE]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("isolator: log.csv: 20 samples a second, too few for a mode at")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (["trip", TAP, "--leg", "a"], "--leg: it belongs to a brief; name the brief with --brief"),
        (["trip", TAP, "--exponent", "4"], "--exponent: it belongs to a brief"),
        (["trip", TAP, "--brief", CASE, "--leg", "by boat"], "--leg = 'by boat': not in case.toml"),
        (["trip", TAP, "--brief", CASE, "--exponent", "0.1"], "--exponent"),
        (["trip", TAP, "--brief", "none.toml"], "none.toml"),
        (["trip", "none.csv", "--brief", CASE], "none.csv: no such file"),
        (["pair", TAP, "--base", "q", "--payload", "x"], "--base = 'q': not in tap.csv"),
        (["pair", TAP, "--base", "x", "--payload", "q"], "--payload = 'q': not in tap.csv"),
        (
            ["pair", TAP, "--base", "x", "--payload", "x"],
            "--base = 'x': the channel of the payload",
        ),
    ],
)
def test_a_trip_and_a_pair_name_what_was_typed(capsys, line, words):
    assert main(["bench", *line]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert len(err.splitlines()) == 1


@cache
def ridden(seconds: int) -> str:
    rng = np.random.default_rng(0)
    each = rng.normal([0, 0, 1], 0.3, (250 * seconds, 3))
    rows = ((f"{k / 250:.3f}", *(f"{v:.4f}" for v in row)) for k, row in enumerate(each))
    return logged(HEAD, rows)


def test_a_trip_writes_roads_that_a_brief_can_name(tmp_path, capsys):
    file = tmp_path / "ride.csv"
    file.write_text(ridden(70), encoding="utf-8")
    assert main(["bench", "trip", str(file), "--out", str(tmp_path / "roads")]) == 0
    assert "Over the whole" in capsys.readouterr().out
    roads = sorted((tmp_path / "roads").glob("*.csv"))
    assert [road.name for road in roads] == ["road-1.csv", "road-2.csv", "road-3.csv"]
    text = roads[2].read_text(encoding="utf-8")
    assert "the highest of 4 windows of z, recorded in ride.csv" in text
    assert re.search(r"# (68|70) s in lines 0.5 Hz apart, 6\d\.\d independent averages\n", text)
    assert re.search(r"# random error, one standard deviation: 12\.\d% of the mean, 26%", text)
    for one in (DATA / "ice-radar").iterdir():
        (tmp_path / "roads" / one.name).write_bytes(one.read_bytes())
    brief = read_brief(tmp_path / "roads" / "case.toml")
    ridden_ = brief.changed("leg[2].road", dict.fromkeys(
        ("vertical", "transverse", "longitudinal"), "road-3.csv"))  # fmt: skip
    assert ridden_.design.legs[1].road["vertical"].lines[0] > 0


def test_a_road_that_is_not_its_own_stays(tmp_path, capsys):
    file, roads = tmp_path / "ride.csv", tmp_path / "roads"
    file.write_text(ridden(61), encoding="utf-8")
    line = ["bench", "trip", str(file), "--out", str(roads)]
    assert main(line) == 0
    assert main([*line, "--channels", "x (g)"]) == 0  # the same trip, one road now
    assert sorted(p.name for p in roads.iterdir()) == ["road-1.csv", "road.json"]
    road = roads / "road-1.csv"
    capsys.readouterr()

    def refused(words):
        before = road.read_bytes()
        assert main(line) == 2
        err = capsys.readouterr().err
        assert "not written over road-1.csv" in err
        assert words in err
        assert len(err.splitlines()) == 1
        assert road.read_bytes() == before

    file.write_text(ridden(63), encoding="utf-8")
    refused("which is no road of this record; name another folder")
    file.write_text(ridden(61), encoding="utf-8")
    road.write_bytes(b"# mine\n" + road.read_bytes())
    refused("somebody edited")
    (roads / "road.json").unlink()
    refused("no road of this record")


def test_a_tap_is_no_road(tmp_path, capsys):
    """Three seconds: refused before anything is written or shown; without --out it is shown."""
    assert main(["bench", "trip", TAP, "--out", str(tmp_path / "roads")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "are an event and no road" in err
    assert "record 60 s or more" in err
    assert not (tmp_path / "roads").exists()
    assert main(["bench", "trip", TAP]) == 0


def test_a_trip_on_the_mounts_of_a_brief(tmp_path, capsys):
    file = tmp_path / "ride.csv"
    file.write_text(ridden(70), encoding="utf-8")
    line = ["bench", "trip", str(file), "--brief", CASE]
    assert main(line) == 0
    page = capsys.readouterr().out
    for part in ("On the mounts, in time beside", "Room, sag and", "why they differ", "estimate"):
        assert part in page
    assert "Miner" not in page
    assert main([*line, "--exponent", "4", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    on = data["on_mounts"]
    assert data["averages"] == pytest.approx(data["random_error"] ** -2)
    assert on["leg"] == "truck to the camp"
    assert [one["place"] for one in on["felt"][:3]] == ["centre"] * 3
    for one in on["felt"]:
        assert one["rms_g"] == pytest.approx(one["rms_by_spectrum_g"], rel=0.1)
    assert len(on["gaps"]) == 6
    assert sum(on["wear"]["share"]) == pytest.approx(1, abs=0.01)
    assert on["wear"]["exponent"] == 4
    assert any("one narrow band" in said for said in on["wear"]["sentences"])
    assert main([*line, "--exponent", "4", "--leg", "sled over the ice"]) == 0
    assert "-25 °C" in capsys.readouterr().out


def test_a_tap_without_a_brief_gives_its_modes(capsys):
    """The simulated tray, 12 % stiffer than its model: √1.12 times 13.40, 16.01 and 18.91 Hz."""
    assert main(["bench", "tap", TAP, "--json"]) == 0
    found = [mode["frequency_hz"] for mode in json.loads(capsys.readouterr().out)["modes"]]
    for stated in (13.400, 16.014, 18.913):
        true = stated * 1.12**0.5
        assert min(abs(f / true - 1) for f in found) < 3e-3


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("seed", [1, 78, 94, 326, 474, 2345, *range(5000, 5060)])
def test_no_record_of_any_kind_breaks_a_fit(seed):
    """Noise and tones that fade, on clocks that stumble, in coarse steps: numbers or a line."""
    rng = np.random.default_rng(seed)
    count, kind = int(rng.integers(16, 600)), rng.integers(5)
    steps = np.full(count, 0.002)
    if kind == 1:
        steps = rng.choice([0.002, 0.02], count)
    if kind == 2:
        steps = rng.choice([0.002, 0.02, 0.5], count, p=[0.5, 0.3, 0.2])
    if kind == 3:
        steps[:: int(rng.integers(2, 20))] = 0.3
    t = np.cumsum(steps)
    if rng.random() < 0.5:
        x = rng.normal(size=(count, 2))
    else:
        fades = np.exp(-t * rng.uniform(0, 30))[:, None]
        x = fades * np.sin(t[:, None] * rng.uniform(1, 1500, 2))
    if kind == 4:
        x = np.round(x, int(rng.integers(0, 3)))
    if rng.random() < 0.1:
        x[:] = 0
    if rng.random() < 0.1:
        x[:, 1] = x[:, 0]
    recording = Recording(t, x, ("a", "b"), ("as stated",), "log.csv", 0)
    for fit in (
        partial(transmissibility, recording, base="a", payload="b"),
        partial(ring_down, recording),
        partial(tone, recording, "a"),
    ):
        with contextlib.suppress(InputError):
            fit()


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("seed", range(40))
def test_a_dwell_and_a_sweep_have_numbers_in_their_range(seed):
    """Tones, sweeps and what is neither, in noise, on clocks that stumble: numbers or a line."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(16, 600))
    steps = np.full(count, 10 ** rng.uniform(-5, 0))
    if seed % 4 == 1:
        steps *= rng.choice([1, 10, 250], count, p=[0.7, 0.2, 0.1])
    if seed % 4 == 2:
        steps[:: int(rng.integers(2, 20))] *= 150
    t, u = np.cumsum(steps), np.linspace(0, 1, count)
    shapes = [
        u, u > rng.random(), rng.normal(size=count), 0 * u + 0.1, u == u[count // 3],
        np.sin(2 * np.pi * count ** rng.uniform(-0.2, 1) * (t / t[-1]) + rng.uniform(0, 6)),
        np.cumsum(rng.normal(size=count)),
        np.sin(count * (u + u**2 * rng.uniform(-0.4, 0.8))),
    ]  # fmt: skip
    base, payload = (np.asarray(shapes[k]) for k in (seed % 8, rng.integers(8)))
    x = 10 ** rng.uniform(-3, 3) * np.stack([base, payload], axis=1)
    x = x + rng.choice([0, 0.01, 0.3]) * x.std() * rng.normal(size=x.shape) + rng.choice([0, 9.8])
    recording = Recording(t, x, ("a", "b"), ("as stated",), "log.csv", 0)
    with contextlib.suppress(InputError):
        found, ratio, within = dwell(recording, base="a", payload="b")
        f = si(found, "frequency")
        assert 2 / recording.duration <= f <= 0.4 * recording.rate
        assert 0 <= si(found, "frequency_within") < f
        assert 0 <= 2 * found.within < abs(found.amplitude) < np.inf
        assert found.distortion <= 1
        assert np.isfinite([abs(ratio), within]).all()
    with contextlib.suppress(InputError):
        got = swept(recording, base="a", payload="b")
        assert (got.frequency > 0).all()
        assert (got.frequency <= 0.4 * recording.rate).all()
        assert np.isfinite(got.ratio).all()
        assert 0 < got.rate < np.inf


def test_a_clock_of_no_length_has_no_tone():
    """So short a record that no frequency can be told from another one."""
    x = np.random.default_rng(1).normal(size=(40, 1))
    recording = Recording(np.arange(40) * 1e-300, x, ("a",), ("as stated",), "log.csv", 0)
    with pytest.raises(InputError, match="there is no tone in it"):
        tone(recording, "a")

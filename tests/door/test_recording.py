"""Recordings that cannot be, and the line that each gets."""

import numpy as np
import pytest
from scipy.io import wavfile

from isolator import logger
from isolator.logger import read_recording
from isolator.record_quality import quality, refuse_frequency, refuse_pulse, refuse_spacing
from isolator.recording import Recording
from isolator.units import InputError

ROWS = [(k * 0.005, 0.1, 0.2, 1.0) for k in range(40)]
GOOD = ["time [s],x [g],y [g],z [g]", *(",".join(map(str, row)) for row in ROWS)]


def changed(row: int, text: str) -> list[str]:
    lines = list(GOOD)
    lines[row] = text
    return lines


def rows(heading: str, scale: tuple[float, ...]) -> list[str]:
    return [heading, *(",".join(str(v * s) for v, s in zip(r, scale, strict=True)) for r in ROWS)]


FILES = {
    "empty": ([], {}, ["log.csv", "empty"]),
    "only a heading": (GOOD[:1], {}, ["no two rows of numbers"]),
    "a letter": (["Dear all,", "the recording is late."], {}, ["no two rows of numbers"]),
    "one column": (["x [g]", *["1.0"] * 40], {}, ["one column", "rate='100 Hz'"]),
    "one column without heading": (["1.0"] * 40, {}, ["one column", "rate"]),
    "no time": (["x [g],y [g]", *["1.0,0.0"] * 40], {}, ["no column of time", "rate"]),
    "only time": (
        ["time [s]", *(str(k) for k in range(40))],
        {},
        ["no column of acceleration", "channels"],
    ),
    "no acceleration": (
        ["time [s],gyro x [rad/s]", *(f"{k},1" for k in range(40))],
        {},
        ["no column of acceleration", "gyro"],
    ),
    "text in numbers": (
        changed(21, "0.1,0.1,oops,1.0"),
        {},
        ["row 22", "'oops'", "'y [g]'", "no number"],
    ),
    "text in time": (changed(21, "now,0.1,0.2,1.0"), {}, ["row 22", "'now'", "'time [s]'"]),
    "time that stands": (changed(21, GOOD[20]), {}, ["row 22", "the same as", "time='none'"]),
    "time that goes back": (changed(21, "0.01,0.1,0.2,1"), {}, ["row 22", "before", "sort it"]),
    "too many fields": (
        changed(21, "1,2,3,4,5,6,7,8"),
        {},
        ["line 22", "as many fields"],
    ),
    "a time is missing": (changed(21, ",0.1,0.2,1.0"), {}, ["row 22", "no time"]),
    "too much is missing": (
        [GOOD[0], *(f"0.{k:03d},,," if k % 4 else f"0.{k:03d},1,1,1" for k in range(100, 600, 5))],
        {},
        ["samples have no number", "10%"],
    ),
    "milliseconds read as seconds": (
        rows("time [s],x [g],y [g],z [g]", (1e3, 1, 1, 1)),
        {},
        ["0.2 samples a second", "milliseconds read as seconds?", "time_unit='1 ms'"],
    ),
    "seconds read as milliseconds": (
        rows("time [ms],x [g],y [g],z [g]", (1, 1, 1, 1)),
        {},
        ["2e+05 samples a second", "seconds read as milliseconds?", "time_unit='1 s'"],
    ),
    "a rate off by a thousand": (
        rows("time [s],x [g],y [g],z [g]", (1, 1, 1, 1)),
        {"rate": "200 kHz"},
        ["rate = 200000 Hz", "says 200 Hz", "milliseconds read as seconds?"],
    ),
    "a rate beside a time that disagrees": (GOOD, {"rate": "150 Hz"}, ["says 200 Hz", "one of"]),
    "m/s² called g": (
        rows("time [s],x [g],y [g],z [g]", (1, 0, 0, 9.81)),
        {},
        ["9.81 g", "mixed up?", "unit='1 m/s**2'"],
    ),
    "g called m/s²": (
        rows("time [s],x [m/s^2],y [m/s^2],z [m/s^2]", (1, 0, 0, 1)),
        {},
        ["0.102 g", "mixed up?", "unit='1 g0'"],
    ),
    "no unit and no gravity": (
        rows("time [s],x,y,z", (1, 1, 1, 3)),
        {},
        ["no unit", "gravity in none", "unit='1 g0'"],
    ),
    "grams": (GOOD, {"unit": "1 g"}, ["unit", "g0"]),
    "decimal commas between commas": (
        ["time [s],x [g]", *(f"0,{k:03d},1,0" for k in range(40))],
        {},
        ["2 headings over 4 fields", "semicolons"],
    ),
    "a heading twice": (["t,x,x", *(f"{k / 100},1,1" for k in range(40))], {}, ["'x'", "twice"]),
    "many columns without heading": (
        [f"{k / 100},1,2,3,4,5" for k in range(40)],
        {},
        ["6 columns without headings", "channels"],
    ),
    "no such column": (GOOD, {"channels": ["w"]}, ["no column 'w'", "'x [g]'"]),
    "a heading without end": (
        [f"t [s],x [g],{5000 * '9'}", *(f"{k / 100},0.1,0" for k in range(40))],
        {"channels": ["w"]},
        ["no column 'w'", "'x [g]', '9999", "9…"],
    ),
    "too short": (GOOD[:9], {}, ["8 samples", "fewer than 16"]),
    "a scale without WAV": (GOOD, {"full_scale": "16 g0"}, ["full_scale", "WAV"]),
}


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_cannot_be_read_says_why(tmp_path, name):
    lines, stated, says = FILES[name]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_recording(path, **stated)
    for part in says:
        assert part in str(error.value)
    assert "\n" not in str(error.value)


def test_what_is_stated_ends_the_doubt(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("\n".join(rows("t [s],x [g],y [g],z [g]", (1e3, 0, 0, 9.81))), encoding="utf-8")
    got = read_recording(path, unit="1 m/s**2", time_unit="1 ms")
    assert got.rate == pytest.approx(200)
    assert got.acceleration[0, 2] == pytest.approx(9.81)


def test_text_in_a_later_block_names_its_row(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("\n".join(changed(31, "0.15,0.1,0.2,nope")), encoding="utf-8")
    with pytest.raises(InputError, match=r"row 32.*'nope'"):
        list(logger.read_blocks(path, rows=10))


def test_time_that_stands_between_blocks_is_seen(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("\n".join(changed(31, GOOD[30])), encoding="utf-8")
    with pytest.raises(InputError, match="row 32"):
        list(logger.read_blocks(path, rows=30))


def test_a_file_for_blocks_is_refused_whole(tmp_path, monkeypatch):
    monkeypatch.setattr(logger, "MOST", 20)
    path = tmp_path / "log.csv"
    path.write_text("\n".join(GOOD), encoding="utf-8")
    with pytest.raises(InputError, match="trip_record"):
        read_recording(path)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda p: read_recording(p / "none.csv"), ["no such file"]),
        (lambda p: read_recording(p), ["not a plain file"]),
        (lambda p: read_recording(p / "tap.wav"), ["full_scale", "'16 g0'"]),
        (lambda p: read_recording(p / "tap.wav", full_scale="16 g0", rate="1 kHz"), ["own rate"]),
        (lambda p: read_recording(p / "bad.wav", full_scale="16 g0"), ["not a WAV file"]),
        (lambda p: read_recording(p / "bad.csv"), ["not a text"]),
    ],
)
def test_other_files(tmp_path, make, says):
    wavfile.write(tmp_path / "tap.wav", 1000, np.zeros(100, dtype=np.int16))
    (tmp_path / "bad.wav").write_bytes(b"RIFFnothing")
    (tmp_path / "bad.csv").write_bytes(b"\0\1\2\3" * 100)
    with pytest.raises(InputError) as error:
        make(tmp_path)
    for part in says:
        assert part in str(error.value)


SINE = np.sin(np.arange(100.0))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Recording.of(SINE, unit="1 g0"), ["rate and time", "one of them"]),
        (lambda: Recording.of(SINE, unit="1 g0", rate="0.2 Hz"), ["rate = 0.2 Hz", "kHz meant?"]),
        (lambda: Recording.of(SINE, unit="1 g0", rate=200), ["rate", "without a unit"]),
        (
            lambda: Recording.of(SINE, unit="1 g0", time=np.arange(100.0) * 5),
            ["0.2 samples a second", "milliseconds read as seconds?"],
        ),
        (
            lambda: Recording.of(SINE, unit="1 g0", time=np.zeros(100)),
            ["row 2", "the same as"],
        ),
        (lambda: Recording.of(SINE, unit="1 g0", time=SINE[:50]), ["50 given with 100"]),
        (lambda: Recording.of(["a"], unit="1 g0", rate="1 kHz"), ["not an array of numbers"]),
        (lambda: Recording.of(SINE[:5], unit="1 g0", rate="1 kHz"), ["5 samples", "fewer"]),
        (
            lambda: Recording.of(SINE * np.nan, unit="1 g0", rate="1 kHz"),
            ["none of its 100 rows has a number"],
        ),
        (
            lambda: Recording.of(SINE, unit="1 g0", rate="1 kHz", names=["x", "y"]),
            ["2 for 1 channels"],
        ),
        (
            lambda: Recording.of(SINE, unit="1 g0", rate="1 kHz").only("q"),
            ["channel = 'q'", "it has 'x'"],
        ),
        (
            lambda: Recording.of(SINE, unit="1 g0", rate="1 kHz").between(1, 2),
            ["0 samples", "it runs from 0 to 0.099 s"],
        ),
        (
            lambda: quality(Recording.of(SINE, unit="1 g0", rate="1 kHz"), recorder_mass="1 kg"),
            ["recorder_mass and on_mass"],
        ),
        (lambda: refuse_frequency(41, 100), ["41 Hz", "0.4", "102.5 samples a second"]),
        (lambda: refuse_pulse(0.01, 400), ["10 ms", "5 samples", "500 samples a second"]),
        (lambda: refuse_spacing(0.1, 5), ["0.1 Hz", "finer than the record", "10 s or longer"]),
    ],
)
def test_arrays_that_cannot_be(make, says):
    with pytest.raises(InputError) as error:
        make()
    for part in says:
        assert part in str(error.value)

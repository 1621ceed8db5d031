"""A recording is what was written, whatever the file looks like; its quality is what was done."""

import io
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from isolator.logger import read_blocks, read_recording
from isolator.quality import quality
from isolator.recording import Recording
from isolator.units import G0

N = 400
T = np.arange(N) / 200.0
RNG = np.random.default_rng(0)
XYZ = np.round(RNG.normal((0, 0, 1), 0.1, (N, 3)), 4)


def table(heading: str, columns: np.ndarray, *, separator=",", decimal=".", before="") -> str:
    text = io.StringIO()
    np.savetxt(text, columns, fmt="%.7g", delimiter=separator)
    body = text.getvalue().replace(".", decimal)
    return before + (heading + "\n" if heading else "") + body


def plain(time=T, values=XYZ) -> np.ndarray:
    return np.column_stack([time, values])


FILES = {
    "headings with units": (table("time [s],x [g],y [g],z [g]", plain()), {}),
    "decimal commas": (
        table("Zeit (ms);ax (g);ay (g);az (g)", plain(T * 1e3), separator=";", decimal=","),
        {},
    ),
    "tabs and no units": (table("t\tacc_x\tacc_y\tacc_z", plain(), separator="\t"), {}),
    "milliseconds by their size": (table("t,x,y,z", plain(T * 1e3)), {}),
    "m/s² by the mean": (table("t,x,y,z", plain(values=XYZ * G0)), {}),
    "m/s² in the heading": (
        table("time (s),accelX (m/s^2),accelY (m/s^2),accelZ (m/s^2)", plain(values=XYZ * G0)),
        {},
    ),
    "thousandths of g": (table("t [s],x [mg],y [mg],z [mg]", plain(values=XYZ * 1e3)), {}),
    "no headings": (table("", plain()), {}),
    "a preamble": (
        table("time [s],x [g],y [g],z [g]", plain(), before="logger 7, v1.2\nrange 16 g\n\n"),
        {},
    ),
    "a comment as heading": (table("# time [s] x [g] y [g] z [g]".replace(" x", ",x").replace(
        " y", ",y").replace(" z", ",z"), plain()), {}),
    "a separator at the end": (
        table("time [s],x [g],y [g],z [g]", plain()).replace("\n", ",\n").replace("],\n", "]\n"),
        {},
    ),
    "no time": (table("x [g],y [g],z [g]", XYZ), {"rate": "200 Hz"}),
    "other columns": (
        table(
            "time [s],gyro x [rad/s],x [g],y [g],z [g],temperature [°C]",
            np.column_stack([T, T, XYZ, T]),
        ),
        {},
    ),
    "all stated": (
        table("a,b,c,d", plain(T * 1e3)),
        {"time": "a", "time_unit": "1 ms", "channels": ["b", "c", "d"], "unit": "1 g0"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_every_dress_holds_the_same_numbers(tmp_path, name):
    text, stated = FILES[name]
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    got = read_recording(path, **stated)
    np.testing.assert_allclose(got.acceleration, XYZ * G0, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(got.time, T, atol=1e-9)
    assert got.rate == pytest.approx(200, rel=1e-6)
    assert len(got.names) == 3
    assert got.guessed


def test_dates_are_read_as_times(tmp_path):
    start = np.datetime64("2031-05-01T12:00:00.000")
    stamps = [str(start + np.timedelta64(5 * k, "ms")) for k in range(N)]
    rows = "".join(f"{s},{x},{y},{z}\n" for s, (x, y, z) in zip(stamps, XYZ, strict=True))
    path = tmp_path / "log.csv"
    path.write_text("timestamp,x [g],y [g],z [g]\n" + rows, encoding="utf-8")
    got = read_recording(path)
    np.testing.assert_allclose(got.time, T, atol=1e-6)


def test_nanoseconds_since_1970_keep_their_digits(tmp_path):
    first = 1_900_000_000_123_456_789
    rows = "".join(f"{first + k * 5_000_000},0,0,1\n" for k in range(N))
    path = tmp_path / "log.csv"
    path.write_text("time (ns),x [g],y [g],z [g]\n" + rows, encoding="utf-8")
    np.testing.assert_allclose(read_recording(path).time, T, atol=1e-12)


def test_several_sensors_keep_their_names(tmp_path):
    path = tmp_path / "two.csv"
    columns = np.column_stack([T, XYZ, 2 * XYZ])
    heads = ["time [s]", *(f"{s}_{a} [g]" for s in ("base", "tray") for a in "xyz")]
    path.write_text(table(",".join(heads), columns), encoding="utf-8")
    got = read_recording(path)
    assert got.sensors == ("base", "tray")
    assert got.only("tray").names == ("tray x", "tray y", "tray z")
    np.testing.assert_allclose(got.only("tray").acceleration, 2 * XYZ * G0, rtol=1e-6, atol=1e-6)


def test_rows_without_a_number_become_a_gap(tmp_path):
    values = XYZ.copy()
    values[100:110, 1] = np.nan
    path = tmp_path / "log.csv"
    path.write_text(table("time [s],x [g],y [g],z [g]", plain(values=values)), encoding="utf-8")
    seen = quality(read_recording(path))
    assert (seen.missing, seen.gaps) == (10, 1)
    assert seen.longest_gap.m_as("s") == pytest.approx(11 / 200)
    assert seen.rate.m_as("Hz") == pytest.approx(200)


@pytest.mark.parametrize("kind", [np.int16, np.int32, np.float32, np.uint8])
def test_a_wav_file_has_the_stated_scale(tmp_path, kind):
    path = tmp_path / "tap.wav"
    whole = 1.0 if kind is np.float32 else float(2 ** (8 * np.dtype(kind).itemsize - 1))
    shift = 128 if kind is np.uint8 else 0
    wavfile.write(path, 1000, (0.5 * whole * np.sin(T) + shift).astype(kind))
    got = read_recording(path, full_scale="16 g0")
    step = 16 * G0 / whole if kind is not np.float32 else 1e-5
    np.testing.assert_allclose(got.acceleration[:, 0], 8 * G0 * np.sin(T), atol=1.01 * step)
    assert got.rate == pytest.approx(1000)


def test_blocks_make_up_the_whole_and_memory_stays_flat(tmp_path):
    """Twice the file takes no more memory at a time."""
    most = []
    for times in (1, 2):
        n = 100_000 * times
        path = tmp_path / f"{times}.csv"
        values = np.column_stack([np.arange(n) * 2, np.ones((n, 3)) + np.arange(n)[:, None] % 7])
        np.savetxt(path, values, fmt="%d", delimiter=",", header="t [ms],x [mg],y [mg],z [mg]")
        tracemalloc.start()
        count, last, shares = 0, -1.0, []
        for part in read_blocks(path, rows=5_000, progress=shares.append):
            assert part.time[0] > last
            count, last = count + len(part.time), part.time[-1]
        most.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert count == n
        assert shares == sorted(shares)
        assert shares[-1] == 1
    assert most[1] < 1.2 * most[0]


def test_what_was_done_to_a_recording_is_seen():
    rng = np.random.default_rng(1)
    t = (np.arange(4000) + rng.uniform(-0.1, 0.1, 4000)) / 400
    x = 20 * np.sin(2 * np.pi * 10 * t) + rng.normal(0, 0.05, 4000)
    whole = Recording.of(np.round(x / 0.01) * 0.01, unit="1 g0", time=t)
    cut = Recording.of(np.clip(np.round(x / 0.01) * 0.01, -16, 16), unit="1 g0", time=t)
    assert not quality(whole).clipped.any()
    seen = quality(cut, full_scale="16 g0")
    assert seen.clipped.all()
    assert seen.saturated.all()
    assert seen.jitter.m_as("ms") == pytest.approx(2.5 * 0.1 * np.sqrt(2 / 3), rel=0.03)
    assert seen.resolution[0] == pytest.approx(0.01 * G0, rel=1e-3)
    assert {f.what for f in seen.findings if f.good is False} >= {"jitter", "clipping"}


@pytest.mark.parametrize("rate", [100, 1000, 20_000])
def test_a_round_top_of_coarse_steps_is_no_stop(rate):
    t = np.arange(4 * rate) / rate
    for step in (0.02, 0.2, 1.0):
        x = np.round(20 * np.sin(2 * np.pi * 3 * t) / step) * step
        assert not quality(Recording.of(x, unit="1 g0", rate=f"{rate} Hz")).clipped.any()


def test_a_zero_that_moves_leaves_velocity():
    rng = np.random.default_rng(2)
    t = np.arange(4000) / 400
    noise = rng.normal(0, 0.02, 4000)
    still = quality(Recording.of(noise, unit="1 g0", time=t))
    moved = quality(Recording.of(noise + 0.3 * (t > 5), unit="1 g0", time=t))
    assert abs(still.zero_shift[0]) < still.zero_within[0]
    assert moved.zero_shift[0] == pytest.approx(0.3 * G0, rel=0.02)
    assert moved.velocity_left[0] == pytest.approx(0.3 * G0 * 5, rel=0.03)
    assert next(f for f in moved.findings if f.what == "zero").good is False


def test_gravity_is_seen_where_it_is():
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 0.05, (1000, 3))
    way = np.array([0.6, 0.0, -0.8])
    for mean, says in ((way, "seen"), (0 * way, "not seen"), (0.5 * way, None)):
        assert quality(Recording.of(noise + mean, unit="1 g0", rate="100 Hz")).gravity == says


def test_the_recorder_weighs_something():
    made = Recording.of(XYZ, unit="1 g0", rate="100 Hz")
    seen = quality(made, recorder_mass="180 g", on_mass="8 kg")
    assert seen.pulls_down == pytest.approx(1 - (8 / 8.18) ** 0.5)
    assert np.isnan(quality(made).pulls_down)


FOLDER = Path(__file__).parents[3] / "shared" / "recordings"
here = pytest.mark.skipif(
    not FOLDER.is_dir(), reason="the recordings are not beside this checkout (../shared/recordings)"
)


@here
def test_the_recordings_are_read_as_their_readme_says():
    found = {p.stem: quality(read_recording(p)) for p in FOLDER.glob("*.csv")}
    rates = {name: seen.rate.m_as("Hz") for name, seen in found.items()}
    assert rates["shaker_sine_fast"] == pytest.approx(5000, rel=1e-3)
    assert rates["shaker_sine_slow"] == pytest.approx(3130, rel=3e-3)
    assert rates["falling_phone"] == pytest.approx(199, rel=3e-3)
    assert rates["hand_carried_imu"] == pytest.approx(99, rel=0.02)
    assert found["hand_carried_imu"].gaps > 0
    assert found["shaker_sine_slow"].gravity == "seen"
    assert found["falling_phone"].peak.max() == pytest.approx(157, rel=0.2)

"""The record of a trip against scipy, pyyeti and what was put into it."""

import re
import tracemalloc
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pyyeti import srs
from scipy import signal

from isolator.brief import read_brief
from isolator.dose import (
    damage,
    equivalent_test,
    gaussian_damage,
    rainflow_cycles,
    relative_motion,
)
from isolator.enveloping import enveloping_lines
from isolator.logger import read_recording
from isolator.pulse import shock_spectrum
from isolator.recorded_trip import SEGMENTS, road_table, trip_record
from isolator.recording import Recording
from isolator.spectrum import density_at
from isolator.trip import Spectrum
from isolator.units import G0, InputError, si

FOLDER = Path(__file__).parents[3] / "shared" / "recordings"
RATE = 400.0


def made(x: np.ndarray, names=("x", "y", "z"), rate: float = RATE) -> Recording:
    x = x[:, None] if x.ndim == 1 else x
    return Recording.of(x, unit="1 m/s**2", rate=f"{rate} Hz", names=names[: x.shape[1]])


def noise(count: int, channels: int = 1, seed: int = 0) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=(count, channels))


def parts(whole: Recording, size: int) -> Iterator[Recording]:
    for k in range(0, len(whole.time), size):
        cut = slice(k, k + size)
        yield replace(whole, time=whole.time[cut], acceleration=whole.acceleration[cut])


def test_a_window_is_what_scipy_makes_of_it():
    length = 800
    x = noise((SEGMENTS + 1) * length // 2, 3)
    got = trip_record(made(x), spacing="0.5 Hz")
    f, w = signal.welch(x.T, RATE, "hann", length, detrend="constant")
    use = (f > 0) & (f <= 0.4 * RATE)
    np.testing.assert_allclose(got.frequency, f[use])
    np.testing.assert_allclose(got.mean, w[:, use], rtol=1e-9)
    np.testing.assert_allclose(got.highest, w[:, use], rtol=1e-9)


def test_lines_scatter_by_the_random_error():
    seeds = range(40)
    got = [trip_record(made(noise(40_000, seed=s)), spacing="1 Hz") for s in seeds]
    every = np.stack([one.mean[0, 1:] for one in got]) / (2 / RATE)
    assert every.mean() == pytest.approx(1, abs=0.005)
    assert every.std() == pytest.approx(got[0].random_error, rel=0.05)


@pytest.mark.parametrize("size", [1_000, 7_777, 30_000])
def test_blocks_say_what_the_whole_says(size):
    x = noise(100_000, 3)
    x[:, 2] += 9.81
    x[20_000:20_008] += 80 * np.sin(np.pi * np.arange(8) / 8)[:, None]  # near a border of blocks
    x[60_000:60_150] = noise(150, 3, 1) * 0.1
    x[60_150:60_154] += 90
    whole = made(x)
    one = trip_record(whole, spacing="0.5 Hz")
    many = trip_record(parts(whole, size), spacing="1 Hz" if size < 2_000 else "0.5 Hz")
    assert len(one.falls) == len(many.falls) == 1
    assert [s.time for s in one.shocks] == [s.time for s in many.shocks]
    np.testing.assert_allclose(one.rms, many.rms, rtol=0.02)
    if size > 2_000:
        np.testing.assert_allclose(one.mean, many.mean, rtol=1e-9)
        np.testing.assert_array_equal(one.levels, many.levels)
        np.testing.assert_allclose(one.window_rms, many.window_rms, rtol=1e-9)


def test_memory_does_not_grow_with_the_record():
    def blocks(count: int) -> Iterator[Recording]:
        for k in range(count):
            t = (np.arange(40_000) + 40_000 * k) / RATE
            x = noise(40_000, 3, k)
            yield Recording(t, x, ("x", "y", "z"))

    most = []
    for count in (5, 25):
        tracemalloc.start()
        assert trip_record(blocks(count)).duration.m_as("s") > 95 * count
        most.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert most[1] < 1.1 * most[0]


def test_kurtosis_and_crest_are_those_of_the_signal():
    t = np.arange(80_000) / RATE
    sine = np.sin(2 * np.pi * 13.3 * t)
    got = trip_record(made(np.stack([noise(80_000)[:, 0], 5 + sine], axis=1)))
    assert got.kurtosis == pytest.approx([3.0, 1.5], abs=0.06)
    assert got.crest[1] == pytest.approx(2**0.5, rel=0.01)
    assert got.rms == pytest.approx([1.0, 0.5**0.5], rel=0.01)
    assert got.window_kurtosis[:, 1] == pytest.approx(1.5, abs=0.02)


def test_a_rough_tenth_is_in_the_percentiles_and_not_in_the_median():
    x = noise(800_000)
    x[320_000:400_000] *= 10
    got = trip_record(made(x), spacing="1 Hz")
    flat = 2 / RATE
    assert got.mean[0, 1:].mean() == pytest.approx(flat * (0.9 + 0.1 * 100), rel=0.03)
    assert got.percentile(50)[0, 1:].mean() == pytest.approx(flat, rel=0.1)
    assert got.percentile(95)[0, 1:].mean() == pytest.approx(100 * flat, rel=0.15)
    assert (got.highest[0, 1:] >= 0.93 * got.percentile(95)[0, 1:]).all()
    assert got.window_rms.max() == pytest.approx(10, rel=0.1)
    with pytest.raises(InputError, match="not known from"):
        got.percentile(99.9)


def test_lines_lie_over_the_spectrum_and_close_to_it():
    rng = np.random.default_rng(3)
    f = np.arange(2.0, 200.0, 0.5)
    true = density_at(f, [2, 8, 16, 60, 200], [1e-3, 1e-2, 1e-2, 1e-3, 1e-5])
    w = true * rng.gamma(30, 1 / 30, len(f))
    areas = []
    for points in (2, 4, 6, 10):
        at, high = enveloping_lines(f, w, points)
        assert len(at) <= points
        over = density_at(f, at, high) / w
        assert over.min() > 1 - 1e-6
        areas.append(np.trapezoid(np.log(over), np.log(f)))
    assert areas == sorted(areas, reverse=True)
    assert areas[-1] / np.log(100) < np.log(2.2)  # random peaks of 18 % reach 1.6 in 400 lines


def test_a_recorded_road_goes_into_a_brief(tmp_path):
    got = trip_record(made(noise(100_000, 3)))
    road = got.road("z", of="90 %", points=4)
    starter = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
    text = re.sub(r'vertical = ".*"', 'vertical = "trip.csv"', starter.read_text(encoding="utf-8"))
    (tmp_path / "trip.csv").write_text(road_table(road), encoding="utf-8")
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    leg = read_brief(tmp_path / "case.toml").design.legs[0]
    np.testing.assert_allclose(leg.road["vertical"].lines, road.lines, rtol=1e-5)
    np.testing.assert_allclose(leg.road["vertical"].density, road.density, rtol=1e-3)


@pytest.mark.parametrize(("long", "resolved"), [(0.02, True), (0.0118, False)])
def test_a_shock_is_found_with_its_size(long, resolved):
    t = np.arange(40_000) / RATE
    x = 0.3 * noise(40_000, 3)
    part = (t - 50.001) / long
    x[:, 1] -= np.where((part > 0) & (part < 1), 150 * np.sin(np.pi * part), 0)
    found = trip_record(made(x)).shocks
    assert len(found) == 1
    one = found[0]
    assert (one.channel, one.resolved) == ("y", resolved)
    assert one.time == pytest.approx(50.001 + long / 2, abs=1 / RATE)
    if not resolved:
        assert "at least" in one.sentence
        with pytest.raises(InputError, match="5 samples"):
            one.spectrum()
        return
    assert si(one, "peak") == pytest.approx(150, rel=0.05)
    assert si(one, "duration") == pytest.approx(long, abs=2 / RATE)
    assert si(one, "velocity_change") == pytest.approx(2 * 150 * long / np.pi, rel=0.05)
    f, spectrum = one.spectrum(damping_ratio=0.05)
    theirs = srs.srs(one.samples, RATE, f, 10, ic="zero", stype="absacce", peak="abs", time="total")
    np.testing.assert_allclose(spectrum[1], theirs[:, 1], rtol=0.03)


def test_vibration_alone_has_no_shocks():
    assert trip_record(made(20 * noise(400_000, 3))).shocks == ()


def drop(height: float, *, spin: float = 0.0, hit: float = 60.0, seed: int = 0) -> Recording:
    """Held, let go, falling with so much felt of a spin, hit, at rest. [m, g, g]"""
    long = (2 * height / G0) ** 0.5
    rng = np.random.default_rng(seed)
    t = np.arange(4_000) / RATE
    start = 3 + rng.uniform(0, 1 / RATE)
    z = np.ones_like(t)
    z[(t > start) & (t < start + long)] = spin
    z[(t >= start + long) & (t < start + long + 0.01)] = hit
    x = np.stack([0 * z, 0.02 * z, z], axis=1) + rng.normal(0, 0.01, (len(t), 3))
    return made(x * G0)


@pytest.mark.parametrize("height", [0.1, 0.76, 1.2, 4.0])
def test_a_fall_has_the_height_of_its_duration(height):
    for seed in range(5):
        (found,) = trip_record(drop(height, seed=seed), spacing="2 Hz").falls
        assert si(found, "lowest") <= height <= si(found, "highest")
        assert found.hit > 50
        assert si(found, "highest") < 1.15 * height + 0.02


def test_what_is_felt_in_a_fall_widens_its_doubt():
    (calm,) = trip_record(drop(1.0), spacing="2 Hz").falls
    (spun,) = trip_record(drop(1.0, spin=0.3), spacing="2 Hz").falls
    assert spun.felt == pytest.approx(0.3, abs=0.01)
    assert si(spun, "lowest") < 0.72 < 0.9 < si(calm, "lowest")
    assert "thrown up" in spun.sentence
    (caught,) = trip_record(drop(1.0, hit=1.0), spacing="2 Hz").falls
    assert "caught" in caught.sentence


def test_falls_are_unknown_where_gravity_is_not_seen():
    still = trip_record(made(noise(20_000, 3)))
    one_axis = trip_record(made(noise(20_000) + 9.81))
    assert still.falls is None
    assert one_axis.falls is None
    assert any("Falls are not known" in sentence for sentence in still.sentences)


def test_the_motion_on_a_mount_is_that_of_an_exact_step():
    """Against scipy's first-order hold, and the largest of it against the shock spectrum."""
    x = noise(3_000)[:, 0]
    x[0] = 0.0
    omega, zeta = 2 * np.pi * 11, 0.07
    system = ([[0, 1], [-(omega**2), -2 * zeta * omega]], [[0], [-1]], [[1, 0]], [[0]])
    ours = relative_motion(x, RATE, 11.0, zeta)
    theirs = signal.lsim(signal.StateSpace(*system), x, np.arange(3_000) / RATE)[1]
    np.testing.assert_allclose(ours[1:], theirs[1:], atol=1e-3 * np.abs(theirs).max())
    most = shock_spectrum(x, RATE, [11.0], zeta, "primary", "relative displacement")[0]
    assert np.abs(ours).max() == pytest.approx(most, rel=0.01)


def test_the_example_of_the_standard_is_counted():
    """ASTM E1049, figure 6 (memory): ranges 3, 4, 6, 8, 9 count 0.5, 1.5, 0.5, 1, 0.5."""
    ranges, counts = rainflow_cycles([-2, 1, 1, -3, 5, -1, 3, -4, -4, 4, -2])
    found = {r: counts[ranges == r].sum() for r in np.unique(ranges)}
    assert found == {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}
    assert damage(ranges, counts, 1.0) == pytest.approx(1.5 / 2 + 3 + 1.5 + 4 + 2.25)


@pytest.mark.parametrize("exponent", [1.0, 3.0, 5.0])
def test_a_narrow_gaussian_motion_wears_as_rayleigh_says(exponent):
    x = noise(400_000, seed=5)[:, 0]
    z = relative_motion(x, RATE, 10.0, 0.02)[4_000:]
    up = ((z[:-1] < 0) & (z[1:] >= 0)).sum() / (len(z) / RATE)
    counted = damage(*rainflow_cycles(z), exponent) / (len(z) / RATE)
    assert gaussian_damage(z.std(), up, exponent) == pytest.approx(counted, rel=0.12)


FLAT = Spectrum.of(frequency=["2 Hz", "150 Hz"], density=["0.01 g0^2/Hz"] * 2, name="flat")


def travelled(seconds: float) -> Recording:
    """A trip with the spectrum of the test, inside its lines."""
    sigma = (0.01 * G0**2 * RATE / 2) ** 0.5
    return made(sigma * noise(int(seconds * RATE), seed=6))


def test_a_trip_wears_as_much_as_itself_and_a_harder_test_by_its_exponent():
    keys = {"channel": "x", "frequency": "12 Hz", "damping_ratio": 0.08}
    trip = travelled(2_000)
    for exponent in (2.0, 4.0):
        alike = equivalent_test(trip, FLAT, exponent=exponent, **keys)
        assert si(alike, "test") == pytest.approx(si(alike, "trip"), rel=0.12)
        twice = Spectrum("four times", FLAT.lines, 4 * FLAT.density)
        hard = equivalent_test(trip, twice, exponent=exponent, **keys)
        assert si(alike, "test") / si(hard, "test") == pytest.approx(2**exponent)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda r: trip_record(iter(())), ["nothing in it"]),
        (lambda r: trip_record(r, spacing="0.001 Hz"), ["0.001 Hz", "finer than the record"]),
        (lambda r: trip_record(r, shocks_above="3 g"), ["shocks_above", "g0"]),
        (lambda r: trip_record("no.csv"), ["no such file"]),
        (lambda r: trip_record(r).road("q"), ["channel = 'q'", "it has x"]),
        (lambda r: trip_record(r).road("x", of="most"), ["of = 'most'", "percentage"]),
        (lambda r: trip_record(r).road("x", points=1), ["points = 1", "2 to 40"]),
        (lambda r: enveloping_lines([1, 2], [0, 1]), ["above zero"]),
        (
            lambda r: equivalent_test(
                r, FLAT, channel="x", frequency="60 Hz", damping_ratio=0.1, exponent=4
            ),
            ["60 Hz", "a tenth of the rate"],
        ),
        (
            lambda r: equivalent_test(
                r, FLAT, channel="x", frequency="1 Hz", damping_ratio=0.1, exponent=4
            ),
            ["1 Hz", "does not shake this mode"],
        ),
        (
            lambda r: equivalent_test(
                r, FLAT, channel="x", frequency="8 Hz", damping_ratio=0.1, exponent=40
            ),
            ["exponent"],
        ),
    ],
)
def test_what_cannot_be_asked(make, says):
    with pytest.raises(InputError) as error:
        make(made(noise(30_000)))
    for part in says:
        assert part in str(error.value)


@pytest.mark.skipif(
    not FOLDER.is_dir(), reason="the recordings are not beside this checkout (../shared/recordings)"
)
def test_the_dropped_phone_falls_once():
    """About 0.62 s of near-weightlessness, then a hit of 185 m/s²: the README of the recordings."""
    got = trip_record(read_recording(FOLDER / "falling_phone.csv"))
    assert got.falls is not None
    (found,) = got.falls
    assert si(found, "duration") == pytest.approx(0.62, abs=0.015)
    assert found.hit * G0 == pytest.approx(185, rel=0.01)
    assert si(found, "lowest") < si(found, "height") < si(found, "highest")
    assert trip_record(read_recording(FOLDER / "hand_carried_imu.csv")).falls == ()

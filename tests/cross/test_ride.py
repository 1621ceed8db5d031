"""A record on the mounts of a brief: what the brief's own road gives, and why a record differs."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy import signal

from isolator import ride
from isolator.base_pulse import TimeModes
from isolator.brief import Brief, read_brief
from isolator.dose import damage, rainflow_cycles
from isolator.inside import OWN
from isolator.recording import Recording
from isolator.response import respond
from isolator.ride import Ride, ridden
from isolator.spectrum import density_at
from isolator.suspension import motion_at
from isolator.units import G0, InputError, si

CASE = Path(__file__).parents[2] / "data" / "ice-radar" / "case.toml"
RATE, COUNT = 400.0, 400 * 240
DOWN = np.array([0.0, 0.0, G0])


@cache
def brief() -> Brief:
    return read_brief(CASE).changed("mounts.place[4].mount", "firm")


def road(seed: int = 0) -> np.ndarray:
    """A Gaussian record of the first leg's road along x, y, z, without gravity. [m/s²]"""
    rng, leg = np.random.default_rng(seed), brief().design.legs[0]
    f = np.fft.rfftfreq(COUNT, 1 / RATE)
    out = []
    for axis in ("x", "y", "z"):
        spectrum = leg.spectrum(axis)
        inside = (f >= spectrum.lines[0]) & (f <= spectrum.lines[-1])
        w = np.where(inside, density_at(np.maximum(f, 1e-3), spectrum.lines, spectrum.density), 0)
        phase = np.exp(2j * np.pi * rng.uniform(size=len(f)))
        out.append(np.fft.irfft(np.sqrt(w * RATE * COUNT / 2) * phase, COUNT))
    return np.stack(out, axis=1)


def rode(x: np.ndarray, names=("x", "y", "z"), rate: float = RATE, **more) -> Ride:
    made = Recording.of(x, unit="1 m/s**2", rate=f"{rate} Hz", names=names)
    return ridden(more.pop("brief", None) or brief(), made, **more)


@cache
def gaussian() -> Ride:
    return rode(road() + DOWN, exponent=4.0)


def test_a_record_of_a_road_does_what_the_verdict_says_of_that_road() -> None:
    """The checks' own numbers for that leg; 240 s of a Gaussian record, within 6 %."""
    got = gaussian()
    leg = replace(brief().design.legs[0], crest=1.0, duration="240 s", drop=None, drops=False)
    there = respond([replace(brief().design, legs=[leg])]).legs[0].shaking
    for one, k in zip(got.felt[:3], range(3), strict=True):
        assert one.rms == pytest.approx(there.acceleration[0, 0, 0, k], rel=0.06)
        assert one.peak_by_spectrum == pytest.approx(there.acceleration_peak[0, 0, 0, k], rel=0.06)
        assert one.peak == pytest.approx(one.peak_by_spectrum, rel=0.2)
    assert got.crest < 1.2
    text = " ".join(got.sentences)
    assert text.count("they agree") == 2
    assert "LOOK" not in text
    assert "5 °C, lid up" in text
    assert got.recorded == ("x", "y", "z")


def test_room_is_what_the_checks_take_of_it() -> None:
    """Sag, tilt and tolerance as the clearance checks have them; the swing from the record."""
    got = gaussian()
    leg = replace(brief().design.legs[0], crest=1.0, duration="240 s", drop=None, drops=False)
    response = respond([replace(brief().design, legs=[leg])])
    needs = response.needed[0, 1, 0]
    for k, one in enumerate(got.gaps):
        corner = (response.room.gap[0, :, k] - needs[:, k] + 1e3 * ~OWN[:, k]).argmin()
        assert one.gap == pytest.approx(response.room.gap[0, corner, k])
        assert one.need_by_spectrum == pytest.approx(needs[corner, k], rel=0.06)
        assert one.need == pytest.approx(needs[corner, k], rel=0.15)
    assert [one.face for one in got.gaps][4:] == ["floor", "lid"]


def test_shocks_show_as_shocks_and_ask_for_a_crest() -> None:
    x = road()
    for k, size in ((20_000, 300.0), (50_000, -400.0), (80_000, 250.0)):
        x[k : k + 6, 2] += size * np.sin(np.pi * np.arange(6) / 5)
    got = rode(x)
    assert got.crest > 1.8
    said = got.sentences[-1]
    assert "z has a kurtosis of" in said
    assert f"crest = {got.crest:.2g}" in said
    assert "x has a kurtosis" not in said


def test_a_record_that_is_louder_at_times_is_not_called_shocks() -> None:
    loud = np.where(np.arange(COUNT) // 16_000 % 3 == 0, 2.0, 0.3)[:, None]
    got = rode(road() * loud)
    assert "z is louder at times" in got.sentences[-1]
    assert "kurtosis" not in got.sentences[-1]
    assert got.crest > 1.2


def test_axes_that_move_together_explain_an_rms() -> None:
    """The same motion along all axes: a corner feels their sum, which spectra do not know."""
    x = road()
    x[:, 0] = x[:, 1] = 2 * x[:, 2]
    got = rode(x)
    assert got.response.base_together[0, 2] == pytest.approx(1)
    assert "x and z move together (correlation 1.00)" in " ".join(got.sentences)


def test_a_slow_turn_in_gravity_explains_an_rms() -> None:
    x = 0.2 * road() + DOWN
    x[:, 1] += 3 * np.sin(2 * np.pi * 0.05 * np.arange(COUNT) / RATE)
    got = rode(x)
    assert "of y is slower than the first line" in " ".join(got.sentences)


def test_what_was_not_recorded_is_said_and_how_it_lay() -> None:
    only = rode(road()[:, 2:], names=("z",))
    assert only.recorded == ("z",)
    assert "Not recorded: x and y" in " ".join(only.sentences)
    on_its_side = rode(road() + DOWN[[0, 2, 1]])
    assert "LOOK: gravity is not where lid up has it" in " ".join(on_its_side.sentences)


def test_blocks_and_gaps_say_what_the_whole_says() -> None:
    t, x = np.arange(COUNT) / RATE, road() + DOWN
    whole = Recording(t.copy(), x.copy(), ("x", "y", "z"))
    one = ridden(brief(), whole, exponent=3.0)
    cuts = [slice(k, k + 17_000) for k in range(0, COUNT, 17_000)]
    parts = (replace(whole, time=t[c].copy(), acceleration=x[c].copy()) for c in cuts)
    many = ridden(brief(), parts, exponent=3.0)
    for ours, theirs in zip(many.felt, one.felt, strict=True):
        assert ours.rms == pytest.approx(theirs.rms, rel=1e-6)
        assert ours.peak == pytest.approx(theirs.peak, rel=1e-4)
    assert si(many.wear.test, "test") == pytest.approx(si(one.wear.test, "test"), rel=1e-4)
    t[COUNT // 2 :] += 5.0
    broken = ridden(brief(), Recording(t, x.copy(), ("x", "y", "z")))
    assert broken.felt[2].rms == pytest.approx(one.felt[2].rms, rel=0.01)


def test_wear_is_that_of_the_motion_as_scipy_has_it(monkeypatch) -> None:
    """The worst mount's travel by lsim, all of it at once through rainflow; counted in parts."""
    monkeypatch.setattr(ride, "KEPT", 700)
    x = road(3)[: COUNT // 3]
    got = rode(x, exponent=4.0).wear
    hung = ride._Hung.of(brief(), brief().design.legs[0])
    modes: TimeModes = hung.time
    names = brief().design.mount_names()
    n = names.index(got.mount)
    row = (hung.there.suspension.frames[0, n] @ motion_at(hung.feet[n]) @ modes.shape[0])[0]
    t, z = np.arange(len(x)) / RATE, 0.0
    for k in range(6):
        w, d = modes.omega[0, k], modes.zeta[0, k]
        system = signal.StateSpace([[0, 1], [-(w**2), -2 * d * w]], [[0], [-1]], [[1, 0]], [[0]])
        z = z + row[k] * signal.lsim(system, x @ modes.share[0, k, :3], t)[1]
    assert got.way == "along its axis"
    ranges, counts = rainflow_cycles(z)
    rate = damage(ranges, counts, 4.0)
    reference = gaussian().wear.test
    ours = got.cycles @ np.ones(len(got.cycles))
    assert ours == pytest.approx(counts[ranges > got.ranges[0] / 1.59].sum(), rel=0.02)
    wide = (ranges > 4e-3) & (ranges <= 10 ** (-2.2))
    at = np.argmin(np.abs(got.ranges - 10 ** (-2.2)))
    inner = (ranges > 10 ** (-2.4)) & (ranges <= 10 ** (-2.2))
    assert wide.any()
    assert got.share[at] == pytest.approx(
        damage(ranges[inner], counts[inner], 4.0) / rate, rel=0.02
    )
    assert si(got.test, "test") == pytest.approx(si(reference, "test") / 3, rel=0.3)


def test_wear_goes_with_the_exponent_of_the_level() -> None:
    """Twice as loud is 2^b as long on the same table; a trip is about its own test."""
    once, twice = gaussian().wear.test, rode(2 * road() + DOWN, exponent=4.0).wear.test
    assert si(twice, "test") / si(once, "test") == pytest.approx(2**4, rel=1e-3)
    assert si(once, "test") == pytest.approx(240, rel=0.25)


def told(change: dict) -> Brief:
    out = brief()
    for key, value in change.items():
        out = out.changed(key, value)
    return out


STILL = np.tile([0.0, 0.0, G0], (COUNT, 1))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: rode(road(), leg="by boat"), ["leg = 'by boat'", "'truck to the camp'"]),
        (lambda: rode(road(), exponent=0.2), ["exponent", "1"]),
        (lambda: rode(road()[::4], rate=100.0), ["100 samples a second", "record at 207"]),
        (lambda: rode(road(), names=("a", "b", "c")), ["several sensors", "'a', 'b', 'c'"]),
        (lambda: rode(road()[:, :1], names=("up",)), ["'up'", "head the columns x, y, z"]),
        (lambda: rode(STILL), ["stands still"]),
        (
            lambda: rode(
                road(), leg="sled over the ice", brief=told({"leg[2].temperature": "-60 °C"})
            ),
            ["case.toml", "rigid", "record alone"],
        ),
        (
            lambda: rode(
                road(), exponent=3.0, brief=told({"leg[1].road": "none", "leg[2].road": "none"})
            ),
            ["exponent = 3", "no road", "leg.road"],
        ),
    ],
)
def test_what_cannot_be_told(make, says) -> None:
    with pytest.raises(InputError) as error:
        make()
    for part in says:
        assert part in str(error.value)
    assert "\n" not in str(error.value)

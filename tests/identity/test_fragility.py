"""What a payload survives: the damage boundary, what a tested pulse covers, two ratings apart."""

from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.fragility import PART_DAMPING, Rating, judge
from isolator.payload import Part, Payload
from isolator.pulse import Pulse
from isolator.report import page
from isolator.units import G0

BRIEF = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
TRIED = Pulse(shape="half-sine", peak="40 g0", duration="11 ms")
SIZE = ["0.3 m"] * 3


def one(rating: Rating, peak: float, duration: float, change: float = np.nan):
    """One design under one shock, g and ms and m/s."""
    return judge([rating], [peak * G0], [duration / 1e3], [change])


@pytest.mark.parametrize(
    ("peak", "change", "survives"),
    [
        (39.9, 9.0, True),  # left of the boundary at any velocity change
        (400.0, 2.9, True),  # below it at any peak
        (40.1, 3.1, False),
        (400.0, 3.1, False),
    ],
)
def test_damage_needs_both_peak_and_velocity_change(peak, change, survives) -> None:
    found = one(Rating(acceleration=40 * G0, velocity_change=3.0), peak, 5.0, change)
    assert (found.survives[0], found.fails[0]) == (survives, not survives)
    assert np.isinf(found.capacity[0]) == (change <= 3.0)


def test_a_velocity_change_that_nobody_knows_leaves_a_question() -> None:
    found = one(Rating(acceleration=40 * G0, velocity_change=3.0), 50, 5.0)
    assert found.open[0]
    assert "is not known" in found.reason(0)


def test_without_its_pulse_a_peak_is_critical_whatever_the_pulse() -> None:
    rating = Rating(acceleration=40 * G0)
    for long in (0.1, 1e3, np.nan):
        assert one(rating, 39.9, long).survives[0]
        assert one(rating, 40.1, long).fails[0]


@pytest.mark.parametrize("shape", ["half-sine", "terminal-peak sawtooth", "trapezoid", "haversine"])
@pytest.mark.parametrize(("peak", "long"), [(30, 40), (38, 14), (12, 25), (35, 4)])
def test_a_rating_holds_from_where_its_pulse_was_no_milder(shape, peak, long) -> None:
    """Against both spectra, computed pulse by pulse."""
    ramps = {"rise": "2 ms", "fall": "1 ms"} if shape == "trapezoid" else {}
    tried = Pulse(shape=shape, peak="40 g0", duration="11 ms", **ramps)
    landing = Pulse(shape="half-sine", peak=f"{peak} g0", duration=f"{long} ms")
    found = one(Rating(acceleration=40 * G0, pulse=tried), peak, long)
    rings = np.geomspace(0.5, 2000, 300)
    ratio = landing.shock_spectrum(rings, PART_DAMPING) / tried.shock_spectrum(rings, PART_DAMPING)
    start = found.covered_from[0]
    assert (ratio[rings > start * 1.01] < 1.004).all()
    below = ratio[(rings < start) & (rings > start * 0.9)]
    assert (below > 1.0).any() if start > 0 else (ratio < 1.004).all()
    for lowest in (start * 1.01 + 1, start * 0.95):
        own = Rating(acceleration=40 * G0, pulse=tried, lowest=lowest)
        assert one(own, peak, long).survives[0] == (lowest >= start)


def test_a_long_soft_landing_is_open_and_the_sentence_says_what_was_not_tried() -> None:
    found = one(Rating(acceleration=40 * G0, pulse=TRIED), 30, 40)
    assert found.open[0]
    assert found.missing(0) == "payload.bending"
    assert "but for 40 ms" in found.reason(0)
    assert "says nothing about a resonance there" in found.reason(0)
    stiff = one(Rating(acceleration=40 * G0, pulse=TRIED, lowest=200.0), 30, 40)
    assert stiff.survives[0]
    soft = one(Rating(acceleration=40 * G0, pulse=TRIED, lowest=20.0), 30, 40)
    assert soft.open[0]
    assert soft.missing(0) == "payload.fragility_pulse"
    assert "rings at 20 Hz" in soft.reason(0)


def test_a_landing_like_the_test_is_covered_for_every_resonance() -> None:
    found = one(Rating(acceleration=40 * G0, pulse=TRIED), 40, 11)
    assert found.survives[0]
    assert found.covered_from[0] == 0
    assert one(Rating(acceleration=40 * G0, pulse=TRIED), 40.1, 11).fails[0]
    assert one(Rating(acceleration=40 * G0, pulse=TRIED), 10, np.nan).open[0]


def test_an_unknown_rating_says_what_would_be_required() -> None:
    found = one(Rating(), 23.4, 40)
    assert found.open[0]
    assert found.missing(0) == "payload.fragility"
    assert found.reason(0) == (
        "it must survive 23.4 g for 40 ms, and what it survives is not known"
    )


def test_the_two_ratings_never_mix() -> None:
    rests = Payload(mass="1 kg", size=SIZE, fragility="60 g0", critical_velocity="9 m/s")
    found = one(Rating.of(rests, running=True), 1, 5, 0.01)
    assert found.open[0]
    assert found.missing(0) == "payload.running_fragility"
    assert "while it runs" in found.reason(0)
    runs = Payload(mass="1 kg", size=SIZE, running_fragility="15 g0")
    assert one(Rating.of(runs, running=True), 14, 5, 50.0).survives[0]
    assert one(Rating.of(runs, running=True), 16, 5, 0.01).fails[0]
    assert one(Rating.of(runs), 1, 5).missing(0) == "payload.fragility"


def test_the_lowest_resonance_is_that_of_the_body_or_of_a_part() -> None:
    part = Part(name="fan", mass="1 kg", position=["0 mm"] * 3, size=SIZE, resonance="40 Hz")
    plain = Payload(mass="1 kg", size=SIZE, bending="90 Hz")
    assert Rating.of(plain).lowest == pytest.approx(90)
    assert Rating.of(Payload.of_parts([part], size=SIZE, bending="90 Hz")).lowest == 40
    assert np.isnan(Rating.of(Payload(mass="1 kg", size=SIZE)).lowest)


def test_a_batch_is_its_designs_one_by_one() -> None:
    ratings = [
        Rating(acceleration=40 * G0, pulse=TRIED, lowest=30.0),
        Rating(acceleration=20 * G0, velocity_change=3.0),
        Rating(),
    ]
    rng = np.random.default_rng(3)
    peak, long = rng.uniform(5, 60, (3, 4)) * G0, rng.uniform(0.002, 0.06, (3, 4))
    change = 2 / np.pi * peak * long
    whole = judge(ratings, peak, long, change)
    for b, rating in enumerate(ratings):
        for k in range(4):
            alone = judge([rating], peak[b, [k]], long[b, [k]], change[b, [k]])
            assert alone.survives[0] == whole.survives[b, k]
            assert alone.fails[0] == whole.fails[b, k]
            assert alone.reason(0) == whole.reason(b, k)
            assert alone.missing(0) == whole.missing(b, k)


def test_the_page_says_that_a_fragility_without_its_pulse_was_taken_for_any() -> None:
    line = "hold for a pulse of any length (payload.fragility_pulse)"
    assert line in page(assess(BRIEF.design))
    pulse = {"shape": "half-sine", "duration": "11 ms"}
    given = BRIEF.changed("payload", {**BRIEF.text["payload"], "fragility_pulse": pulse})
    assert line not in page(assess(given.design))
    assert given.design.payload.fragility_pulse.duration.m_as("ms") == pytest.approx(11)

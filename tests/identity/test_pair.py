"""What comes through to a payload, where it is known line by line: trains of single samples."""

import numpy as np
import pytest

from isolator.pair import _sentences as said
from isolator.pair import peak_mode, reads_low, together, transmissibility
from isolator.recording import Recording
from isolator.segments import effective
from isolator.units import InputError, si

RATE = 1000.0
LINES = 400  # samples of a segment


def mode(f, at=50.0, zeta=0.08, constant=0.0):
    """R/(s − f²) + D with R = f_n²."""
    return at**2 / ((at * (np.sqrt(1 - zeta**2) + 1j * zeta)) ** 2 - f**2) + constant


def train(response, segments, *, length=LINES, alone=False):
    """A base of single samples half a segment apart, and what the payload feels of them.

    Each segment of a Hann window then has the response itself at its even lines, where the two
    samples of the base add up to one, and between them the mean of the two beside it.
    """
    half = length // 2
    base = np.zeros(half)
    base[0] = 1.0
    felt = np.fft.irfft(response(np.arange(half // 2 + 1) * RATE / half), half)
    both = np.tile(np.stack([base, felt], axis=1), (segments + 1, 1))
    return both if alone else recorded(both)


def recorded(both, time=None, rate=RATE):
    more = {"rate": f"{rate} Hz"} if time is None else {"time": time}
    return Recording.of(both, unit="1 m/s**2", names=["base z", "tray z"], **more)


def through(made, **more):
    return transmissibility(made, base="base z", payload="tray z", **more)


def test_the_ratio_of_a_train_is_its_response_at_every_second_line():
    """Coherent altogether, without random error, from the second line to the highest asked for."""
    for count, top in ((1, 400.0), (2, 400.0), (7, 120.0)):
        got = through(train(mode, count), spacing="2.5 Hz", highest=f"{top} Hz")
        np.testing.assert_allclose(got.frequency, np.arange(5.0, top + 1, 2.5), rtol=1e-12)
        f = got.frequency
        beside = (mode(f - 2.5) + mode(f + 2.5)) / 2
        even = np.round(f / 2.5).astype(int) % 2 == 0
        far = f < 390  # the highest line of the train is that of half the rate, which is real
        np.testing.assert_allclose(got.ratio[far], np.where(even, mode(f), beside)[far], rtol=1e-9)
        np.testing.assert_allclose(got.coherence, 1.0, rtol=1e-9)
        assert (got.coherence <= 1.0).all()
        np.testing.assert_allclose(got.error, 0.0, atol=1e-4)
        assert got.averages == pytest.approx(float(effective(count)))
        assert si(got, "spacing") == pytest.approx(2.5)
    assert through(train(mode, 2), spacing="2.5 Hz").frequency[-1] == 0.4 * RATE


def test_lines_are_those_of_an_even_number_of_samples_eight_at_least():
    made = train(mode, 4)
    for asked, length in ((200.0, 8), (40.0, 26), (1000 / 27, 28), (1000 / 28, 28)):
        got = through(made, spacing=f"{asked!r} Hz", highest="400 Hz")
        assert si(got, "spacing") == pytest.approx(RATE / length)
        assert got.frequency[0] == pytest.approx(2 * RATE / length)
    free = through(recorded(train(mode, 16, alone=True)))  # 17 half segments
    assert si(free, "spacing") == pytest.approx(RATE / LINES)
    assert free.averages == float(effective(16))


def test_a_stretch_of_one_segment_counts_and_a_shorter_one_does_not():
    both = train(mode, 5, alone=True)
    time = np.arange(len(both)) / RATE
    for kept, count in ((400, 1), (399, 0), (600, 2)):
        at = np.concatenate([np.arange(400), np.arange(500, 500 + kept)])
        made = recorded(both[at], time[at])
        got = through(made, spacing="2.5 Hz", highest="300 Hz")
        assert got.averages == pytest.approx(float(effective(1 + count)))


def test_random_error_is_that_of_a_coherence_of_half():
    """Segments that agree in the base only: H1 is their mean, γ² = |ΣH|²/(nΣ|H|²), and the error
    √((1 − γ²)/2nγ²) (bendat-piersol). Small units change none of it."""
    both = train(mode, 1, alone=True)
    apart = np.concatenate([both, both * [1.0, -0.2]])
    time = np.arange(len(apart)) / RATE + 0.05 * (np.arange(len(apart)) >= len(both))
    for scale in (1.0, 1e-4):
        got = through(recorded(scale * apart, time), spacing="2.5 Hz", highest="100 Hz")
        n = float(effective(2))
        gamma = 0.8**2 / (2 * (1 + 0.04))
        np.testing.assert_allclose(got.coherence, gamma, rtol=1e-9)
        np.testing.assert_allclose(got.error, np.sqrt((1 - gamma) / (2 * n * gamma)), rtol=1e-9)
        even = np.arange(len(got.frequency)) % 2 == 0
        np.testing.assert_allclose(got.ratio[even], 0.4 * mode(got.frequency)[even], rtol=1e-9)
    assert got.resonance is None  # its lines say nothing
    still = through(recorded(apart * [1.0, 0.0], time), spacing="2.5 Hz", highest="100 Hz")
    assert (still.ratio == 0).all()
    assert (still.coherence == 0).all()
    assert np.isinf(still.error).all()


def test_a_resonance_is_what_stands_out_coherent_in_two_segments_or_more():
    def low(f, height):
        return height * mode(f, zeta=0.2) / np.abs(mode(np.arange(0, 400, 5.0), zeta=0.2)).max()

    for height, there in ((1.19, False), (1.21, True)):
        made = train(lambda f, height=height: low(f, height), 2)
        got = through(made, spacing="2.5 Hz")
        assert (got.resonance is not None) is there
        assert (got.needed_spacing is not None) is there
        assert np.isnan(got.reads_low) is not there
    assert si(got, "resonance") == pytest.approx(50.0, rel=0.01)
    assert got.damping_ratio == pytest.approx(0.2, rel=0.06)
    assert si(got, "needed_spacing") == pytest.approx(
        2 * got.damping_ratio * si(got, "resonance") / 13, rel=1e-9
    )
    assert got.reads_low == pytest.approx(reads_low(si(got, "resonance"), got.damping_ratio, 2.5))
    alone = through(train(mode, 1), spacing="2.5 Hz")
    assert alone.resonance is None
    assert "One segment alone is always coherent" in alone.sentences[1]


def test_a_sensor_that_is_no_single_channel_is_named_with_one_that_is():
    x = np.ones((100, 3)) * np.arange(100)[:, None]
    made = Recording.of(x, unit="1 m/s**2", rate="1 kHz", names=["base x", "base y", "tray z"])
    with pytest.raises(InputError, match="'base': 2 channels; name one, as in 'base x'"):
        transmissibility(made, base="base", payload="tray z")
    with pytest.raises(InputError, match="'base y': it does not move"):
        transmissibility(
            Recording.of(x * [1, 0, 1], unit="1 m/s**2", rate="1 kHz", names=made.names),
            base="base y",
            payload="tray z",
        )


# Two recorders on one clock.


def clocked(first, count, rate, names=("z",)):
    """A sine of 1 Hz from some time on; a recording has a clock that begins at zero."""
    t = first + np.arange(count) / rate
    wave = np.stack([np.sin(2 * np.pi * t + k) for k in range(len(names))], axis=1)
    return Recording.of(wave, unit="1 m/s**2", time=t, names=list(names))


def test_the_slower_recorder_keeps_its_samples_and_the_base_where_they_are_alike():
    late = 0.3125 + 1 / 1024  # on no step of 1/256 s, and exact in floats as those are
    for rates in ((128.0, 256.0), (256.0, 128.0), (128.0, 128.0)):
        base, payload = clocked(0.0, 200, rates[0]), clocked(late, 200, rates[1])
        both = together(base, payload, lag=-late)
        kept = 0 if rates[0] <= rates[1] else 1
        slow, own = (base, payload)[kept], (base.time, late + payload.time)
        inside = (own[kept] >= late) & (own[kept] <= min(own[0][-1], own[1][-1]))
        t = own[kept][inside]
        np.testing.assert_allclose(both.time, t - t[0], atol=1e-12)
        exact = slow.acceleration[inside, 0]
        np.testing.assert_allclose(both.acceleration[:, kept], exact, rtol=1e-13, atol=1e-15)
        np.testing.assert_allclose(both.acceleration[:, 0], np.sin(2 * np.pi * t), atol=1e-5)
        np.testing.assert_allclose(both.acceleration[:, 1], both.acceleration[:, 0], atol=1e-5)


def test_ends_in_common_count_and_sixteen_samples_are_enough():
    """Both ends lie on samples of both, and either recording may be the longer one."""
    long = clocked(0.0, 128, 64.0)
    for first in (0.25, 0.0, 112 / 64):
        short = clocked(first, 16, 64.0)
        both = together(long, short, lag=-first)
        assert len(both.time) == len(together(short, long, lag=first).time) == 16
        np.testing.assert_allclose(*both.acceleration.T, atol=1e-12)
    with pytest.raises(InputError, match=r"15 samples in common: they last 1.984 and 0.2344 s"):
        together(long, clocked(0.0, 16, 64.0), lag=-113 / 64)


def test_axes_are_named_after_their_sensor_and_stay_apart():
    one = clocked(0.0, 64, 64.0, ("lid x", "lid z"))
    two = clocked(0.0, 64, 64.0, ("left z", "right z"))
    names = together(one, two).names
    assert names == ("base x", "base z", "payload left z", "payload right z")
    assert together(one, two).source == f"{one.source} and others"


# The fit of one mode.

F = np.arange(101) * 1.0


@pytest.mark.parametrize("zeta", [0.02, 0.05, 0.12, 0.2])
def test_lines_that_count_are_those_down_to_half_of_the_peak_and_six_at_least(zeta):
    """What lies beyond does not change the fit, the last line that counts does."""
    size = np.abs(mode(F, zeta=zeta))
    top = int(size.argmax())
    half = np.flatnonzero(size < size[top] / 2)
    low = min(half[half < top].max(), top - 6)
    high = max(half[half > top].min(), top + 6)
    assert (low, high) == (44, 56) if zeta < 0.1 else high - low > 20
    clean = mode(F, zeta=zeta)
    lines = np.arange(len(F))
    spoilt = np.where((lines < low) | (lines > high), 0.3j * size[top], clean)
    at, found = peak_mode(F, spoilt)
    assert [at, found] == pytest.approx([50.0, zeta], rel=1e-9)
    for line in (low, high):
        other = np.where(lines == line, 0.9 * clean, clean)
        assert abs(peak_mode(F, other)[1] / zeta - 1) > 1e-4
    for line, part in ((top - 8, slice(top - 8, 101)), (top + 8, slice(0, top + 9))):
        other = np.where(lines == line, 0.9 * clean, clean)[part]
        if zeta == 0.2:  # all down to the end of what there is
            assert abs(peak_mode(F[part], other)[1] / zeta - 1) > 1e-4
        assert peak_mode(F[part], clean[part]) == pytest.approx((50.0, zeta), rel=1e-9)


def test_a_peak_near_an_end_takes_the_lines_that_there_are():
    """Two lines beside it at least; a constant does not matter, nor does what is not known."""
    h = 1e-3 * mode(F, constant=0.3 - 0.2j)
    top = int(np.abs(h).argmax())
    for first, last in ((top - 2, 100), (0, top + 3), (top - 2, top + 3)):
        assert peak_mode(F[first:last], h[first:last]) == pytest.approx((50.0, 0.08), rel=1e-6)
    for first, last in ((top - 1, 100), (0, top + 2)):
        assert np.isnan(peak_mode(F[first:last], h[first:last])).all()
    loud = h.copy()
    loud[5] = 1.0
    known = np.arange(len(F)) != 5
    assert peak_mode(F, loud, known) == pytest.approx((50.0, 0.08), rel=1e-9)
    assert np.isnan(peak_mode(F, h, np.zeros(len(F), dtype=bool))).all()
    assert np.isnan(peak_mode([], [])).all()


def test_a_peak_of_no_mode_has_no_frequency():
    """s = −1 + 2i lies left of all f²; beside a constant against its circle it still has a peak."""
    f = np.linspace(0.01, 4.0, 400)
    centre, way = -0.25j, 1 / (-3 + 2j) + 0.25j  # of the circle; to where f² = 2
    h = 1 / (-1 + 2j - f**2) - centre + 5 * way
    assert 1 < int(np.abs(h).argmax()) < len(f) - 3
    assert np.isnan(peak_mode(f, h)).all()


# The loss between lines.


@pytest.mark.parametrize("spacing", [0.9, 1.9, 3.1, 7.0, 13.0, 27.0, 45.0])
@pytest.mark.parametrize("zeta", [0.02, 0.1, 0.6])
def test_a_peak_reads_low_by_the_power_of_the_window(spacing, zeta):
    """Its transform by an FFT of the window itself, the transmissibility over lines of both signs,
    its peak by numpy on a fine grid."""
    n, part = 128, 512
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(n) / n)
    power = np.fft.fftshift(np.abs(np.fft.fft(window, n * part)) ** 2)
    offsets = (np.arange(n * part) - n * part // 2) / part
    near = np.abs(offsets) <= 10
    power, offsets = power[near] / power[near].sum(), offsets[near]

    def passes(f):
        r = f / 20.0
        return (1 + 2j * zeta * r) / (1 - r**2 + 2j * zeta * r)

    lines = spacing * np.arange(max(1, int(14 / spacing)), 2 + int(26 / spacing))
    seen = np.abs(passes(lines[:, None] + spacing * offsets) @ power).max()
    true = np.abs(passes(np.linspace(10.0, 21.0, 40001))).max()
    assert reads_low(20.0, zeta, spacing) == pytest.approx(1 - seen / true, abs=3e-4)


# What is said.


def test_sentences_say_what_the_lines_bear():
    coherence = np.array([0.9, 0.5, 0.51, 0.2, 0.6])
    assert said(coherence, 15.03, 0.2441, 20.02, 0.0801, 0.0124, 0.2441) == (
        "Lines 0.244 Hz apart from 15 independent segments.",
        "Coherence is above 0.5 at 60% of the lines; the others say nothing.",
        "Resonance at 20.02 Hz, damping ratio 0.0801.",
        "Its peak reads low by 1.2% at this spacing.",
    )
    assert said(coherence, 2.0, 0.5, 20.0, 0.08, 0.05, 0.25)[1:] == (
        "Coherence is above 0.5 at 60% of the lines; the others say nothing.",
        "Resonance at 20 Hz, damping ratio 0.08.",
        "Its peak reads low by 5.0% at this spacing; within 1 % it needs 0.25 Hz, with 16 segments "
        "34 s of record.",
    )
    assert said(coherence, 1.9, 0.5, np.nan, np.nan, np.nan, None) == (
        "Lines 0.5 Hz apart from 1.9 independent segments.",
        "One segment alone is always coherent: the record is too short for these lines.",
        "No resonance stands out above 1.2.",
    )

"""Segments under a Hann window: against scipy's estimates, and the pieces that they come from."""

import numpy as np
import pytest
from scipy import signal

from isolator import segments
from isolator.segments import OVERLAP, effective, even_pieces, spectra


def test_neighbours_share_a_36th_of_their_power():
    """(Σ w(n)w(n + N/2)/Σ w²)² of a Hann window is 1/36 (welch-1967)."""
    window = np.sin(np.pi * np.arange(1000) / 1000) ** 2
    shared = (window[:500] * window[500:]).sum() / (window**2).sum()
    assert pytest.approx(shared**2, rel=1e-9) == OVERLAP
    assert effective(1) == 1.0
    # The variance of the mean of two with that correlation is (1 + ρ)/2.
    assert effective(2) == pytest.approx(2 / (1 + 1 / 36), rel=1e-12)
    # Of three the outer two share nothing: (3 + 4ρ)/9.
    assert effective(3) == pytest.approx(9 / (3 + 4 / 36), rel=1e-12)


@pytest.mark.parametrize("batch", [None, 1])
def test_densities_are_those_of_scipy(batch, monkeypatch):
    if batch:
        monkeypatch.setattr(segments, "_BATCH", batch)
    x = np.random.default_rng(0).normal(size=(1000, 2)) + np.array([3.0, -1.0])
    parts = list(spectra(x, 100, 250.0))
    assert len(parts) == (19 if batch else 1)
    every = np.concatenate(parts)
    assert every.shape == (19, 2, 51)
    keys = {"fs": 250.0, "window": "hann", "nperseg": 100, "noverlap": 50}
    for channel in (0, 1):
        _, welch = signal.welch(x[:, channel], **keys)
        found = (np.abs(every[:, channel]) ** 2).mean(axis=0)
        np.testing.assert_allclose(found[1:-1], welch[1:-1], rtol=1e-9)
    _, cross = signal.csd(*x.T, **keys)
    found = (every[:, 0].conj() * every[:, 1]).mean(axis=0)
    np.testing.assert_allclose(found[1:-1], cross[1:-1], rtol=1e-9)


def test_a_gap_parts_and_a_lone_sample_goes():
    time = np.array([0, 1, 2, 5, 6, 9, 12, 13]) / 10.0
    values = np.arange(8.0)[:, None]
    pieces = even_pieces(time, values, 10.0)
    assert [piece[0].tolist() for piece in pieces] == [[0, 0.1, 0.2], [0.5, 0.6], [1.2, 1.3]]
    assert [piece[1].ravel().tolist() for piece in pieces] == [[0, 1, 2], [3, 4], [6, 7]]


def test_a_step_of_more_than_one_and_a_half_is_a_gap():
    time = np.array([0.0, 1.0, 2.0, 3.5, 4.5, 6.01, 7.01])
    assert [len(piece[0]) for piece in even_pieces(time, np.zeros((7, 1)), 1.0)] == [5, 2]


@pytest.mark.parametrize("rate", [20.0, 1e5])
def test_scattered_times_are_set_on_even_ones(rate):
    """Straight lines between the samples: exact for a straight line."""
    rng = np.random.default_rng(1)
    even = 3.0 + np.arange(50) / rate
    time = even + np.r_[0, rng.uniform(-0.2, 0.2, 48), 0] / rate
    values = np.stack([2 * time - 1, -time], axis=1)
    ((found, x),) = even_pieces(time, values, rate)
    np.testing.assert_allclose(found, even, atol=1e-12)
    np.testing.assert_allclose(x, np.stack([2 * found - 1, -found], axis=1), atol=1e-12)


@pytest.mark.parametrize(("scatter", "kept"), [(0.009, True), (0.011, False)])
def test_times_that_scatter_by_less_than_a_hundredth_stay(scatter, kept):
    """Steps that are long and short in turn scatter by what they are long."""
    steps = (1 + scatter * np.array([1, -1] * 20)) / 50
    time = np.concatenate([[0], np.cumsum(steps)])
    ((found, _),) = even_pieces(time, np.zeros((41, 1)), 50.0)
    assert np.array_equal(found, time) == kept

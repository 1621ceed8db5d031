"""Spectra of even samples in overlapping segments under a Hann window: kernels in SI."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from isolator.recording import GAP
from isolator.units import FloatArray

OVERLAP = 1 / 36
"""Correlation of the power of two neighbours that share half of a Hann window, (1/6)²."""

UNEVEN = 0.01
"""Share of a step by which times may scatter before the samples are set on even times."""

_BATCH = 4_000_000


def effective(count: npt.ArrayLike) -> FloatArray:
    """How many independent segments so many are worth that overlap by half.

    n/(1 + 2ρ(1 − 1/n)) with ρ = 1/36, welch-1967.

    Parameters
    ----------
    count : (...) array
        Segments, 1 or more. [-]

    Examples
    --------
    >>> float(effective(1)), round(float(effective(1000)) / 1000, 3)
    (1.0, 0.947)
    """
    n = np.asarray(count, dtype=float)
    return np.asarray(n / (1 + 2 * OVERLAP * (1 - 1 / n)))


def even_pieces(
    time: FloatArray, values: FloatArray, rate: float
) -> list[tuple[FloatArray, FloatArray]]:
    """Stretches without a gap, on even times.

    Where times scatter by more than `UNEVEN` of a step, straight lines between the samples are
    read at even times, which takes sinc²(f/rate) of a sine in the worst case.

    Parameters
    ----------
    time : (n,) array
        [s]
    values : (n, c) array
    rate : float
        [Hz]

    Returns
    -------
    list of ((m,) array, (m, c) array)
        Times and values.
    """
    breaks = np.flatnonzero(np.diff(time) > GAP / rate) + 1
    out = []
    for t, x in zip(np.split(time, breaks), np.split(values, breaks), strict=True):
        if len(t) < 2:
            continue
        if np.diff(t).std() * rate > UNEVEN:
            grid = np.arange(t[0], t[-1] + 1e-9 / rate, 1 / rate)
            x = np.stack([np.interp(grid, t, column) for column in x.T], axis=1)
            t = grid
        out.append((t, x))
    return out


def spectra(values: FloatArray, length: int, rate: float) -> Iterator[npt.NDArray[np.complex128]]:
    """Fourier transforms of segments of even samples, batch by batch.

    The mean of each segment is taken off. Scaled so that the mean of |X|² over segments is the
    one-sided spectral density, and of conj(X)·Y the cross one.

    Parameters
    ----------
    values : (n, c) array
        n ≥ length.
    length : int
        Samples of a segment; the next one starts half of it later.
    rate : float
        [Hz]

    Yields
    ------
    (s, c, length//2 + 1) complex array
    """
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(length) / length)
    scale = np.sqrt(2 / (rate * (window**2).sum()))
    cuts = np.lib.stride_tricks.sliding_window_view(values, length, axis=0)[:: length // 2]
    at_once = max(1, _BATCH // (length * values.shape[1]))
    for first in range(0, len(cuts), at_once):
        part = cuts[first : first + at_once]
        part = part - part.mean(axis=-1, keepdims=True)
        yield np.fft.rfft(part * window, axis=-1) * scale

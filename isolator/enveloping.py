"""A few straight lines on log-log paper over a measured spectrum: kernels in SI."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from isolator.units import FloatArray, InputError

CANDIDATES = 30
"""Places that are tried for a breakpoint."""


def enveloping_lines(
    frequency: npt.ArrayLike, density: npt.ArrayLike, points: int = 8
) -> tuple[FloatArray, FloatArray]:
    """Breakpoints of straight log-log lines that lie nowhere below a spectrum.

    One breakpoint more at a time is set where it brings the lines down the most; their heights are
    those that leave the least area on log-log paper (a linear program).

    Parameters
    ----------
    frequency : (n,) array
        Rising, above 0. [Hz]
    density : (n,) array
        Above 0. [unit²/Hz]
    points : int
        Breakpoints, 2 to 40.

    Returns
    -------
    (m,) array, (m,) array
        m ≤ `points`: frequency and density at the breakpoints. [Hz, unit²/Hz]

    Raises
    ------
    InputError
        Fewer than two lines, a density of zero, too few or many points.

    Examples
    --------
    A spectrum of three straight lines is its own envelope:

    >>> f = np.geomspace(10.0, 1000.0, 201)
    >>> w = np.where(f < 100, 1.0, (f / 100) ** -2.0)
    >>> at, high = enveloping_lines(f, w, 3)
    >>> [f"{value:.4g}" for value in (*at, *high)]
    ['10', '100', '1000', '1', '1', '0.01']
    """
    f, w = np.asarray(frequency, dtype=float), np.asarray(density, dtype=float)
    if f.ndim != 1 or f.shape != w.shape or len(f) < 2 or not ((w > 0) & (f > 0)).all():
        raise InputError("density: give two lines or more, each above zero")
    if points not in range(2, 41):
        raise InputError(f"points = {points!r:.20}: not 2 to 40; say how many breakpoints")
    x, y = np.log(f), np.log(w)
    # Candidates: the highest line in each part of the logarithmic scale, and both ends.
    part = np.minimum((x - x[0]) / (x[-1] - x[0]) * CANDIDATES, CANDIDATES - 1).astype(int)
    tops = {0, len(x) - 1}
    tops |= {int(k[y[k].argmax()]) for k in (np.flatnonzero(part == p) for p in set(part))}
    few = np.array(sorted(tops))
    u, v = x[few], y[few]
    at = [0, len(u) - 1]
    above = _over(u, v, at)[1]
    while len(at) < points and above > 1e-6:
        tries = [[*at, k] for k in range(len(u)) if k not in at]
        if not tries:
            break
        at = min(tries, key=lambda one: _over(u, v, one)[1])
        above = _over(u, v, at)[1]
    chosen = sorted(int(few[k]) for k in at)
    return f[chosen], np.exp(_over(x, y, chosen)[0])


def _over(x: FloatArray, y: FloatArray, at: list[int]) -> tuple[FloatArray, float]:
    """Heights at breakpoints x[at] of the lowest lines over y, and their area above it."""
    from scipy.optimize import linprog

    ends = x[sorted(at)]
    hats = np.stack([np.interp(x, ends, row) for row in np.eye(len(at))], axis=1)
    share = np.gradient(x)
    found = linprog(share @ hats, A_ub=-hats, b_ub=y.min() - y, bounds=(None, None), method="highs")
    heights = found.x + y.min()
    heights = heights + max(0.0, float((y - hats @ heights).max()))  # a rounding of 1e-9
    return heights, float(share @ (hats @ heights - y))

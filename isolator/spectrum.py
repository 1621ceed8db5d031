"""Spectra drawn as straight lines between breakpoints on log-log paper: kernels in SI."""

import numpy as np
import numpy.typing as npt

from isolator.units import FloatArray


def mean_square(frequency: npt.ArrayLike, density: npt.ArrayLike) -> FloatArray:
    """Integrate a spectral density over its log-log straight lines, exactly.

    A segment from (f1, a1) to (f2, a2) with L = ln(f2/f1) and x = ln(a2/a1) + L holds
    a1·f1·L·(e^x − 1)/x, which stays finite on steep steps and on lines of slope −1 (x = 0).

    Parameters
    ----------
    frequency : (..., n) array
        Breakpoints, positive and not falling; two equal ones make a vertical step. [Hz]
    density : (..., n) array
        Spectral density at the breakpoints, positive. [unit²/Hz]

    Returns
    -------
    (...) array
        Mean square; its root is the overall level. [unit²]

    Notes
    -----
    Equation: integral of a power law, as used for MIL-STD-810 Method 514 overall levels.

    Examples
    --------
    A flat density of 0.01 over 90 Hz, and a line of slope −1 over one decade (0.1 ln 10):

    >>> float(mean_square([10.0, 100.0], [0.01, 0.01])).__round__(12)
    0.9
    >>> float(mean_square([10.0, 100.0], [0.01, 0.001])).__round__(6)
    0.230259
    """
    f = np.asarray(frequency, dtype=float)
    a = np.asarray(density, dtype=float)
    width = np.diff(np.log(f), axis=-1)
    x = np.diff(np.log(a), axis=-1) + width
    flat = x == 0.0
    mean = np.where(flat, 1.0, np.expm1(x) / np.where(flat, 1.0, x))
    total: FloatArray = np.sum(a[..., :-1] * f[..., :-1] * width * mean, axis=-1)
    return total


def density_at(
    frequency: npt.ArrayLike, line_frequency: npt.ArrayLike, line_density: npt.ArrayLike
) -> FloatArray:
    """Read a spectral density between its breakpoints, along log-log straight lines.

    Parameters
    ----------
    frequency : (...) array
        Where to read, zero or more. [Hz]
    line_frequency : (n,) array
        Breakpoints, positive and rising. [Hz]
    line_density : (n,) array
        Spectral density at the breakpoints, positive. [unit²/Hz]

    Returns
    -------
    (...) array
        Spectral density, zero outside the first and the last breakpoint. [unit²/Hz]

    Examples
    --------
    Halfway on log paper between 10 and 1000 Hz:

    >>> float(density_at(100.0, [10.0, 1000.0], [0.01, 0.0001])).__round__(12)
    0.001
    """
    with np.errstate(divide="ignore"):
        at = np.log(np.asarray(frequency, dtype=float))
    logarithm = np.interp(
        at, np.log(line_frequency), np.log(line_density), left=-np.inf, right=-np.inf
    )
    density: FloatArray = np.exp(logarithm)
    return density

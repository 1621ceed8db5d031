"""Stiffness of a piece of rubber from its shape and modulus."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from isolator.units import FloatArray


def squeeze(strain: npt.ArrayLike) -> FloatArray:
    """Force of a block that is pressed flat, over its initial stiffness times its thickness. [-]

    f(x) = [(1 − x)⁻² − (1 − x)]/3 for x > 0, else 0: neo-Hookean, its faces slipping, and its
    slope at x = 0 is 1.

    Parameters
    ----------
    strain : (...,) array
        Compression over thickness x, below 1. [-]
    """
    x = np.maximum(np.asarray(strain, dtype=float), 0.0)
    return np.asarray(((1 - x) ** -2 - (1 - x)) / 3)


def squeeze_slope(strain: npt.ArrayLike) -> FloatArray:
    """Slope of `squeeze`, [2(1 − x)⁻³ + 1]/3 for x > 0, else 0. [-]"""
    x = np.asarray(strain, dtype=float)
    return np.where(x > 0, (2 * (1 - np.maximum(x, 0.0)) ** -3 + 1) / 3, 0.0)

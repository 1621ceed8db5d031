"""How far every corner of the payload moves towards the walls."""

from __future__ import annotations

import numpy as np

from isolator.payload import CORNERS
from isolator.units import FloatArray

_SIGN = np.array([[1.0 if s == "+" else -1.0 for s in name] for name in CORNERS])


def towards_faces(displacement: FloatArray) -> FloatArray:
    """Largest motion of the corners towards each of the six faces.

    Only the four corners on a face's own side come into question.

    Parameters
    ----------
    displacement : (..., 8, 3) array
        Of the corners in the order of `payload.CORNERS`. [m]

    Returns
    -------
    (..., 6) array
        Towards −x, +x, −y, +y, −z, +z; negative where every corner moves away. [m]
    """
    return np.asarray(outward(displacement).max(axis=-2))


def outward(displacement: FloatArray) -> FloatArray:
    """Motion of each corner towards each face, −inf for faces on its other side.

    Parameters
    ----------
    displacement : (..., 8, 3) array
        Of the corners in the order of `payload.CORNERS`. [m]

    Returns
    -------
    (..., 8, 6) array
        [m]
    """
    both = np.stack([-displacement, displacement], axis=-1)
    own = np.stack([_SIGN < 0, _SIGN > 0], axis=-1)
    return np.where(own, both, -np.inf).reshape(*displacement.shape[:-1], 6)


def shaken(displacement: FloatArray, swing: FloatArray) -> FloatArray:
    """Motion towards the faces (..., 6) of a pose that swings to both sides. [m]

    Parameters
    ----------
    displacement : (..., 8, 3) array
        Of the corners at rest. [m]
    swing : (..., 8, 3) array
        Largest travel about it, not negative. [m]
    """
    return towards_faces(displacement + _SIGN * swing)


def reached(low: FloatArray, high: FloatArray) -> FloatArray:
    """Motion towards the faces (..., 6) of corners that move within a range. [m]

    Parameters
    ----------
    low, high : (..., 8, 3) arrays
        [m]
    """
    return towards_faces(np.where(_SIGN < 0, low, high))

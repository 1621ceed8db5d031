"""How far every corner of the payload moves, against the room that it has."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from isolator.inside import EXACT, OWN, Solids
from isolator.units import FloatArray


def both_ways(low: FloatArray, high: FloatArray) -> FloatArray:
    """Motion of each corner towards each of the six faces, from the range that it moves in.

    Parameters
    ----------
    low, high : (..., 8, 3) arrays
        Of the corners in the order of `payload.CORNERS`. [m]

    Returns
    -------
    (..., 8, 6) array
        Towards −x, +x, −y, +y, −z, +z; negative where a corner only moves away. [m]
    """
    return np.stack([-low, high], axis=-1).reshape(*np.shape(low)[:-1], 6)


def towards_faces(motion: FloatArray) -> FloatArray:
    """Largest motion (..., 6) of the corners (..., 8, 6) towards each of the six faces. [m]

    Only the four corners on a face's own side come into question.
    """
    return np.asarray(np.where(OWN, motion, -np.inf).max(axis=-2))


@dataclass(frozen=True)
class Motion:
    """One thing that moves the payload of designs (b,).

    Attributes
    ----------
    kind : "rest", "shaking" or "fall"
    name : str
        What moves it, for a person.
    rest : (b, 8, 6) array
        Where each corner certainly is before it swings, from the unloaded pose; −inf if the
        motion does not happen. [m]
    swing : (b, 8, 6) array
        How far it swings at the most beyond that; nan if unknown. [m]
    lid : bool
        Whether the lid is closed.
    doubt : (b,) array
        What the swing may be multiplied by, where it is an estimate and no bound. [-]
    """

    kind: Literal["rest", "shaking", "fall"]
    name: str
    rest: FloatArray
    swing: FloatArray
    lid: bool = True
    doubt: FloatArray = field(default_factory=lambda: np.ones(1))


def demand(
    motion: Motion,
    start: FloatArray,
    tolerance: FloatArray,
    root: npt.NDArray[np.bool_],
    *,
    doubted: bool = False,
) -> FloatArray:
    """What a motion takes of each gap as it was measured, at each corner.

    Worst case: rest + swing + tolerance − start. As root sum square the swing and the tolerance,
    which have nothing to do with each other, add as √(swing² + tolerance²). The pose of rest, sag
    with its tilt, is there at every swing, so it always adds in full; the travel of a drop counts
    from the unloaded pose, with the sag in it.

    Parameters
    ----------
    motion : Motion of (b,)
    start : (b, 8, 6) array
        Motion from the unloaded pose at which the gaps were measured. [m]
    tolerance : (b,) array
        [m]
    root : (b,) bool array
        Whether to sum by root sum square.
    doubted : bool
        Whether the swing counts with its doubt.

    Returns
    -------
    (b, 8, 6) array
        −inf where the motion is unknown. [m]

    Examples
    --------
    >>> three, four = np.full((1, 8, 6), 0.003), np.array([0.004])
    >>> shake = Motion("shaking", "vibration", 0 * three, three)
    >>> print(f"{demand(shake, 0 * three, four, np.array([True]))[0, 0, 0]:.3f}")
    0.005
    >>> print(f"{demand(shake, 0 * three, four, np.array([False]))[0, 0, 0]:.3f}")
    0.007
    """
    build = tolerance[:, None, None]
    swing = motion.swing * motion.doubt[:, None, None] if doubted else motion.swing
    spread = np.where(root[:, None, None], np.hypot(swing, build), swing + build)
    total = motion.rest + spread - start
    return np.where(np.isnan(total), -np.inf, total)


def narrowed(motion: FloatArray, slope: FloatArray) -> FloatArray:
    """What a motion takes of each gap where walls lean: the way along them costs room too.

    Parameters
    ----------
    motion : (..., 8, 6) array
        Towards each face. [m]
    slope : (..., 8, 6, 3) array
        By how much each gap grows for a way along x, y, z. [-]

    Returns
    -------
    (..., 8, 6) array
        The extremes along all axes at once, so on the safe side. [m]

    Examples
    --------
    >>> down = np.zeros((8, 6))
    >>> down[:, 4] = 0.01
    >>> lean = np.zeros((8, 6, 3))
    >>> lean[:, :4, 2] = 0.05
    >>> print(narrowed(down, lean)[0, :5].round(6).tolist())
    [0.0005, 0.0005, 0.0005, 0.0005, 0.01]
    """
    out = motion
    for j in range(3):
        lean = slope[..., j]
        if not lean.any():
            continue
        way = np.where(lean > 0, motion[..., 2 * j, None], motion[..., 2 * j + 1, None])
        out = out + np.abs(lean) * np.where(lean == 0, 0.0, way)
    return out


@dataclass(frozen=True)
class Shut:
    """Whether designs (b,) stay clear of obstacles (o), each by the axis that leaves most.

    Attributes
    ----------
    demand, gap : (b, o) arrays
        Motion towards the obstacle and the gap there; nan gap if it depends on one that is
        unknown. [m]
    face : (b, o) array of int
        Towards which of the six faces.
    cause : (b, o) array of int
        Number of the motion that leaves least.
    """

    demand: FloatArray
    gap: FloatArray
    face: npt.NDArray[np.intp]
    cause: npt.NDArray[np.intp]


def shut_out(
    swept: FloatArray, narrow: FloatArray, lid: npt.NDArray[np.bool_], solids: Solids
) -> Shut:
    """Hold the payload's box, swept by its motions, against obstacles.

    Two boxes along the same axes are apart if they are on one axis at least. Each motion may
    leave by another axis: the payload goes from one to the next through its pose of rest.

    Parameters
    ----------
    swept : (m, b, 6) array
        Demand of each motion towards each face. [m]
    narrow : (m, b, 6) array
        The same with what walls that lean take, for ribs. [m]
    lid : (m,) bool array
        Whether the lid is closed, and what is on it is there.
    solids : Solids of designs (b,)
    """
    count, batch = len(solids.names), len(swept[0])
    own = solids.wall[:, None] == np.arange(6)
    apart = solids.gap >= -EXACT
    unknown = np.isnan(solids.gap)
    least = np.full((batch, count), np.inf)
    face = np.zeros((batch, count), dtype=np.intp)
    cause = np.zeros((batch, count), dtype=np.intp)
    need = np.zeros((batch, count))
    for m in range(len(swept)):
        towards = np.maximum(np.where(own, narrow[m][:, None], swept[m][:, None]), 0.0)
        left = np.where(apart, np.maximum(solids.gap - towards, -1e9), -np.inf)
        left = np.where(unknown, -np.finfo(float).tiny, left)
        best = left.argmax(axis=-1)[..., None]
        room = np.take_along_axis(left, best, -1)[..., 0]
        worse = (room < least) & (lid[m] | ~solids.on_lid)
        least = np.where(worse, room, least)
        face = np.where(worse, best[..., 0], face)
        cause = np.where(worse, m, cause)
        need = np.where(worse, np.take_along_axis(towards, best, -1)[..., 0], need)
    gap = np.take_along_axis(solids.gap, face[..., None], -1)[..., 0]
    return Shut(need, np.maximum(gap, 0.0), face, cause)


def apart(offset: FloatArray, size: FloatArray, other: FloatArray) -> FloatArray:
    """Gap between two upright boxes along each axis, negative where their shadows overlap.

    Two boxes touch nowhere if one of the three is positive.

    Parameters
    ----------
    offset : (..., 3) array
        From the middle of the first to the middle of the second. [m]
    size, other : (..., 3) arrays
        Of the first and the second. [m]

    Returns
    -------
    (..., 3) array
        [m]

    Examples
    --------
    >>> apart(np.array([0.0, 0.0, 0.2]), np.array([0.4, 0.3, 0.1]), np.array([0.2, 0.3, 0.2]))
    array([-0.3 , -0.3 ,  0.05])
    """
    return np.asarray(np.abs(offset) - (size + other) / 2)


def approach(offset: FloatArray, towards: FloatArray, other: FloatArray) -> FloatArray:
    """How far two bodies come towards each other along each axis, each by its own largest motion.

    They may move in opposite phase, so the motions add: an upper bound whatever links them.

    Parameters
    ----------
    offset : (..., 3) array
        From the first to the second. [m]
    towards, other : (..., 6) arrays
        Largest motion of the first and of the second towards each face, see `towards_faces`. [m]

    Returns
    -------
    (..., 3) array
        [m]

    Examples
    --------
    The second stands above the first: what counts along z is up for the first, down for the second.

    >>> up = approach(np.array([0.0, 0.0, 1.0]), np.arange(6.0), 10 * np.arange(6.0))
    >>> print(f"{up[2]:g}")
    45
    """
    first = towards.reshape(*towards.shape[:-1], 3, 2)
    second = other.reshape(*other.shape[:-1], 3, 2)
    ahead = first[..., 1] + second[..., 0]
    return np.where(offset >= 0, ahead, first[..., 0] + second[..., 1])

"""Seats that are out of plane and holes that are off: how they shift load between mounts."""

from __future__ import annotations

import numpy as np

from isolator.suspension import Pose, Suspension, motion_at
from isolator.units import FloatArray


def shifts(suspension: Suspension, pose: Pose) -> FloatArray:
    """Force that each mount gains when one seat moves, the payload being rigid.

    A seat that moves by δ along an axis of its mount, towards the payload, pushes with k·δ; the
    payload gives way by K⁻¹ of that, and every mount takes its share. On four equal mounts at the
    corners of a rectangle along whose diagonals the load goes, that is k·δ/4 each. Tangent
    stiffness at the pose, at rest: exact for linear mounts and small shifts, an estimate where a
    mount's curve bends within the shift or it lifts off.

    Parameters
    ----------
    suspension : Suspension of (...)
    pose : Pose of (...)

    Returns
    -------
    (..., n, 3, n, 3) array
        Of mount i the force on it in case axes, for unit motion of the seat of mount j along each
        of its local axes; nan where the mounts do not hold the payload. [N/m]

    Examples
    --------
    >>> feet = [(x, y, 0.0) for x in (-.1, .1) for y in (-.1, .1)]
    >>> tray = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, 1e5, 1e5)
    >>> print(shifts(tray, tray.unloaded())[0, 2, :, 0].round(3) * 0.5e-3)
    [-12.5  12.5  12.5 -12.5]
    """
    k = suspension.tangents(pose, np.ones(()))
    frames = suspension.frames
    arms = suspension.position @ np.swapaxes(pose.turn, -1, -2)
    motion = frames @ motion_at(arms)  # local motion of each end by the six motions
    whole = suspension.mount_stiffness(pose)
    least = np.linalg.eigvalsh(whole)
    usable = pose.found & (least[..., 0] > 1e-12 * least[..., -1])
    safe = np.where(usable[..., None, None], whole, np.eye(6))
    n = motion.shape[-3]
    push = np.swapaxes(motion, -1, -2) @ k  # (..., n, 6, 3)
    columns = np.moveaxis(push, -3, -2).reshape(*push.shape[:-3], 6, 3 * n)
    yields = np.linalg.solve(safe, columns).reshape(*push.shape[:-3], 6, n, 3)
    # A seat moves against the mount's push, which compresses it; the payload moving off eases it.
    eased = np.einsum("...iab,...ibq,...qjc->...iajc", k, motion, yields)
    own = np.einsum("ij,...iac->...iajc", np.eye(n), k)
    local = own - eased
    force = np.einsum("...iab,...iajc->...ibjc", frames, local)
    return np.where(usable[..., None, None, None, None], force, np.nan)


def most_shift(
    suspension: Suspension, pose: Pose, flatness: FloatArray, hole_tolerance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Largest change of the load of each mount when one seat or hole is off, either way.

    Parameters
    ----------
    suspension, pose : as in `shifts`
    flatness, hole_tolerance : (...) arrays
        How far one seat is off along its mount's axis, and across it in any direction. [m]

    Returns
    -------
    force, upward : (..., n) arrays
        Of the force as a whole and of its part along z, the worst seat; the two kinds are added.
        [N]
    """
    gain = shifts(suspension, pose)
    along, across = np.asarray(flatness)[..., None], np.asarray(hole_tolerance)[..., None]
    whole = np.linalg.norm(gain, axis=-3)
    upward = np.abs(gain[..., 2, :, :])

    def worst(each: FloatArray) -> FloatArray:
        axial = each[..., 0].max(axis=-1)
        side = np.hypot(each[..., 1], each[..., 2]).max(axis=-1)
        return np.asarray(along * axial + across * side)

    return worst(whole), worst(upward)

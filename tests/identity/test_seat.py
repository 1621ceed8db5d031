"""Seats out of place, in batches and in poses that are turned, against moving each seat."""

from dataclasses import replace

import numpy as np

from isolator.seat import most_shift, shifts
from isolator.suspension import Pose, Suspension, rotation
from isolator.units import G0


def held(seed: int) -> Suspension:
    """Five linear mounts with axes every which way, on sheets, and a cable."""
    rng = np.random.default_rng(seed)
    push = rng.normal(size=(5, 3))
    own = Suspension.of_springs(
        5.0, np.eye(3) * 0.1, rng.uniform(-0.2, 0.2, (5, 3)), rng.uniform(2e4, 5e4, 5),
        rng.uniform(1e4, 2e4, 5), push=push / np.linalg.norm(push, axis=-1, keepdims=True),
    )  # fmt: skip
    return replace(
        own, sheet=rng.uniform(1e4, 1e5, 5), cable_position=rng.uniform(-0.2, 0.2, (1, 3)),
        cable_stiffness=np.array([[300.0, 800.0, 500.0]]), cable_loss=np.array([0.1]),
    )  # fmt: skip


BOTH = Suspension.stacked([held(1), held(2)])
TURNED = Pose(
    np.array([[0.001, 0.002, -0.003], [0.0, -0.001, -0.002]]),
    rotation([[0.2, -0.1, 0.3], [-0.3, 0.2, 0.1]]),
    np.ones(2, dtype=bool),
)


def moved(one: Suspension, turn: np.ndarray, seat: int, axis: int) -> np.ndarray:
    """Force (n, 3) on each mount when one seat moves by one, the payload giving way."""
    k = one.tangents(one.unloaded(), np.ones(()))
    arms = one.position @ turn.T

    def ends(at: np.ndarray) -> np.ndarray:
        out = np.zeros((3, 6))
        out[:, :3] = np.eye(3)
        for i in range(3):
            out[:, 3 + i] = np.cross(np.eye(3)[i], at)
        return out

    rows = [f @ ends(at) for f, at in zip(one.frames, arms, strict=True)]
    whole = sum(r.T @ own @ r for r, own in zip(rows, k, strict=True))
    cable = ends(one.cable_position[0] @ turn.T)
    whole = whole + cable.T @ (one.cable_stiffness[0][:, None] * cable)
    push = k[seat] @ np.eye(3)[axis]
    motion = np.linalg.solve(whole, rows[seat].T @ push)
    local = np.stack([-own @ r @ motion for r, own in zip(rows, k, strict=True)])
    local[seat] += push
    return np.einsum("iab,ia->ib", one.frames, local)


def test_shifts_of_a_batch_in_poses_that_are_turned() -> None:
    gain = shifts(BOTH, TURNED)
    assert gain.shape == (2, 5, 3, 5, 3)
    for d in range(2):
        for seat in range(5):
            for axis in range(3):
                wanted = moved(held(d + 1), TURNED.turn[d], seat, axis)
                ours = gain[d, :, :, seat, axis]
                np.testing.assert_allclose(ours, wanted, rtol=1e-7, atol=1e-5)


def test_the_worst_seat_and_the_worst_hole_are_added() -> None:
    """A hole may be off in any direction across: the two parts by their hypotenuse."""
    gain = shifts(BOTH, TURNED)
    flat, hole = np.array([0.5e-3, 0.2e-3]), np.array([0.1e-3, 1e-3])
    force, upward = most_shift(BOTH, TURNED, flat, hole)
    for d in range(2):
        for mount in range(5):
            own = gain[d, mount]
            size, up = np.sqrt((own**2).sum(axis=0)), np.abs(own[2])
            for ours, each in ((force, size), (upward, up)):
                wanted = flat[d] * max(each[:, 0])
                wanted += hole[d] * max(np.sqrt(each[:, 1] ** 2 + each[:, 2] ** 2))
                np.testing.assert_allclose(ours[d, mount], wanted, rtol=1e-9)
    assert np.abs(force - upward).min() > 0


def test_what_does_not_hold_the_payload_has_no_shift() -> None:
    """No rest found, or two mounts in line, about which it is free to turn."""
    lost = replace(TURNED, found=np.array([True, False]))
    gain = shifts(BOTH, lost)
    assert np.isfinite(gain[0]).all()
    assert np.isnan(gain[1]).all()
    line = Suspension.of_springs(4.0, np.eye(3) * 0.1, [(-0.1, 0, 0), (0.1, 0, 0)], 1e4, 1e4)
    assert np.isnan(shifts(line, line.unloaded())).all()
    for seed in range(8):  # whatever the rounding of what is free
        ends = np.random.default_rng(seed).uniform(-0.2, 0.2, (2, 3))
        askew = Suspension.of_springs(4.0, np.eye(3) * 0.1, ends, 1e4, 3e3, push=(0.6, 0, -0.8))
        assert np.isnan(shifts(askew, askew.unloaded())).all()
    force, upward = most_shift(line, line.unloaded(), np.array(1e-3), np.array(0.0))
    assert np.isnan(force).all()
    assert np.isnan(upward).all()


def test_a_quarter_of_the_stiffness_on_the_diagonals() -> None:
    """Four mounts at the corners of a rectangle: k δ/4 along z, less by nothing from the weight."""
    feet = [(x, y, 0.0) for x in (-0.2, 0.2) for y in (-0.1, 0.1)]
    tray = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, 1e5, 4e4)
    gain = shifts(tray, tray.pose((0, 0, -G0)))
    signs = np.array([1, -1, -1, 1])
    np.testing.assert_allclose(gain[:, 2, :, 0], -1e5 / 4 * np.outer(signs, signs), rtol=1e-6)

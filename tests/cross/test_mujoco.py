"""Stiffness, mass and six frequencies against MuJoCo, by finite differences of its forces.

A free body hangs in three spatial tendons a mount, one along each axis of the mount. They are
ten metres long, so that a small motion hardly turns them, slack-free and without preload. A sheet
is a light body that slides on a spring of its own along the mount's axis and holds the tendons; a
cable is three more tendons along x, y and z.
"""

import math
from dataclasses import replace

import mujoco
import numpy as np
import pytest
from scipy.linalg import eigh

from isolator.suspension import Suspension

LENGTH = 10.0
STEP = 1e-5


def text(values: np.ndarray) -> str:
    return " ".join(repr(float(v)) for v in values)


def simulated(
    mass: float,
    inertia: np.ndarray,
    position: np.ndarray,
    axes: np.ndarray,
    stiffness: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness and mass matrix (6, 6) of mounts (n) with local axes (n, 3, 3), rows."""
    anchors, holds, tendons = [], [], []
    for i, (at, own, each) in enumerate(zip(position, axes, stiffness, strict=True)):
        holds.append(f'<site name="hold{i}" pos="{text(at)}"/>')
        for j, (axis, k) in enumerate(zip(own, each, strict=True)):
            anchors.append(f'<site name="wall{i}{j}" pos="{text(at + LENGTH * axis)}"/>')
            tendons.append(
                f'<spatial stiffness="{float(k)!r}" springlength="{LENGTH}">'
                f'<site site="wall{i}{j}"/><site site="hold{i}"/></spatial>'
            )
    full = inertia[[0, 1, 2, 0, 0, 1], [0, 1, 2, 1, 2, 2]]
    model = mujoco.MjModel.from_xml_string(
        f"""<mujoco><option gravity="0 0 0"/><compiler balanceinertia="false"/><worldbody>
        {"".join(anchors)}
        <body><freejoint/><inertial pos="0 0 0" mass="{mass}" fullinertia="{text(full)}"/>
        {"".join(holds)}</body></worldbody><tendon>{"".join(tendons)}</tendon></mujoco>"""
    )
    data = mujoco.MjData(model)
    rest = data.qpos.copy()

    def force(motion: int, amount: float) -> np.ndarray:
        data.qpos[:] = rest
        mujoco.mj_integratePos(model, data.qpos, np.eye(6)[motion], amount)
        mujoco.mj_forward(model, data)
        return data.qfrc_passive.copy()

    columns = [(force(m, -STEP) - force(m, STEP)) / (2 * STEP) for m in range(6)]
    data.qpos[:] = rest
    mujoco.mj_forward(model, data)
    masses = []
    for column in np.eye(6):
        product = np.zeros(6)
        mujoco.mj_mulM(model, data, product, column)
        masses.append(product)
    return np.array(columns).T, np.array(masses).T


def box() -> tuple[Suspension, np.ndarray]:
    """The regression box: uniform, four upright mounts of 9 and 6 N/mm."""
    feet = [(x, y, -0.075) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
    inertia = np.diag([0.1125, 0.1825, 0.25])
    return Suspension.of_springs(12.0, inertia, feet, 9e3, 6e3), np.tile([9e3, 6e3, 6e3], (4, 1))


def crooked() -> tuple[Suspension, np.ndarray]:
    """Five different mounts at odd places with tilted axes, and products of inertia."""
    rng = np.random.default_rng(4)
    position = rng.uniform(-0.3, 0.3, (5, 3))
    along, across = rng.uniform(2e3, 4e4, 5), rng.uniform(1e3, 2e4, 5)
    push = rng.normal(size=(5, 3))
    push /= np.linalg.norm(push, axis=-1, keepdims=True)
    inertia = np.array([[0.30, 0.03, -0.02], [0.03, 0.35, 0.04], [-0.02, 0.04, 0.40]])
    tilted = Suspension.of_springs(9.5, inertia, position, along, across, push=push)
    return tilted, np.stack([along, across, across], axis=-1)


@pytest.mark.parametrize("make", [box, crooked])
def test_stiffness_mass_and_frequencies(make: object) -> None:
    suspension, stiffness = make()
    k, m = simulated(
        float(suspension.mass),
        suspension.inertia,
        suspension.position,
        suspension.frames,
        stiffness,
    )
    # Before 4.0 it turns the inertia into its principal axes to 1e-10 only.
    np.testing.assert_allclose(suspension.mass_matrix(), m, rtol=1e-9, atol=1e-9)
    atol = 1e-7 * np.abs(k).max()
    np.testing.assert_allclose(suspension.mount_stiffness(), k, rtol=1e-6, atol=atol)
    frequency = np.sqrt(eigh((k + k.T) / 2, m, eigvals_only=True)) / (2 * math.pi)
    np.testing.assert_allclose(suspension.frequencies(), frequency, rtol=1e-6)


def hung(suspension: Suspension, stiffness: np.ndarray) -> np.ndarray:
    """Stiffness (6, 6) of mounts (n) on sheets, with cables, the sheets condensed out."""
    worlds, holds, sheets, tendons = [], [], [], []

    def tendon(name: str, k: float) -> None:
        tendons.append(
            f'<spatial stiffness="{float(k)!r}" springlength="{LENGTH}">'
            f'<site site="wall{name}"/><site site="hold{name[0]}"/></spatial>'
        )

    springs = zip(suspension.position, suspension.frames, suspension.sheet, strict=True)
    for i, (at, own, sheet) in enumerate(springs):
        holds.append(f'<site name="hold{i}" pos="{text(at)}"/>')
        walls = "".join(
            f'<site name="wall{i}{j}" pos="{text(at + LENGTH * axis)}"/>'
            for j, axis in enumerate(own)
        )
        sheets.append(
            f'<body><joint type="slide" axis="{text(own[0])}" stiffness="{float(sheet)!r}"/>'
            f'<inertial pos="0 0 0" mass="1" diaginertia="1 1 1"/>{walls}</body>'
        )
        for j, k in enumerate(stiffness[i]):
            tendon(f"{i}{j}", k)
    cables = zip(suspension.cable_position, suspension.cable_stiffness, strict=True)
    for i, (at, own) in enumerate(cables, start=len(holds)):
        holds.append(f'<site name="hold{i}" pos="{text(at)}"/>')
        for j, k in enumerate(own):
            worlds.append(f'<site name="wall{i}{j}" pos="{text(at + LENGTH * np.eye(3)[j])}"/>')
            tendon(f"{i}{j}", k)
    model = mujoco.MjModel.from_xml_string(
        f"""<mujoco><option gravity="0 0 0"/><worldbody>{"".join(worlds)}
        <body><freejoint/><inertial pos="0 0 0" mass="1" diaginertia="1 1 1"/>
        {"".join(holds)}</body>{"".join(sheets)}</worldbody><tendon>{"".join(tendons)}</tendon></mujoco>"""
    )
    data = mujoco.MjData(model)
    rest = data.qpos.copy()

    def force(motion: int, amount: float) -> np.ndarray:
        data.qpos[:] = rest
        mujoco.mj_integratePos(model, data.qpos, np.eye(model.nv)[motion], amount)
        mujoco.mj_forward(model, data)
        return data.qfrc_passive.copy()

    k = np.array([(force(m, -STEP) - force(m, STEP)) / (2 * STEP) for m in range(model.nv)]).T
    return k[:6, :6] - k[:6, 6:] @ np.linalg.solve(k[6:, 6:], k[6:, :6])


@pytest.mark.parametrize("make", [box, crooked])
@pytest.mark.parametrize("ratio", [1.0, 1.7])
def test_sheets_in_series_and_cables_in_parallel(make: object, ratio: float) -> None:
    """At rest and, with the dynamic ratio on the mounts alone, in motion."""
    suspension, stiffness = make()
    rng = np.random.default_rng(5)
    mounts = len(stiffness)
    held = replace(
        suspension,
        dynamic_ratio=np.full(mounts, ratio),
        sheet=rng.uniform(5e3, 2e5, mounts),
        cable_position=rng.uniform(-0.2, 0.2, (2, 3)),
        cable_stiffness=rng.uniform(100, 3000, (2, 3)),
        cable_loss=np.zeros(2),
    )
    k = hung(held, ratio * stiffness)
    atol = 1e-7 * np.abs(k).max()
    ours = held.mount_stiffness(factor=held.dynamic_ratio)
    np.testing.assert_allclose(ours, k, rtol=1e-6, atol=atol)
    np.testing.assert_allclose(held.dynamic().mount_stiffness(), k, rtol=1e-6, atol=atol)
    frequency = np.sqrt(eigh((k + k.T) / 2, held.mass_matrix(), eigvals_only=True)) / math.tau
    np.testing.assert_allclose(held.frequencies(), frequency, rtol=1e-6)

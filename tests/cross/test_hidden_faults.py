"""Builds with one hidden fault each, tapped in a simulation of its own, through the command.

Each body is integrated with six linear motions (scipy), viscous damping a mode, noise, and jitter
in its clock; the fault is in the simulation only, and the command has to find it.
"""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import eigh

from isolator.brief import read_brief
from isolator.cli import main
from isolator.suspension import Suspension
from isolator.units import G0

DATA = Path(__file__).parents[2] / "data"
RING = {"along": "14 N/mm", "across": "5 N/mm", "loss_factor": 0.07}
BRIEF = read_brief(DATA / "starter" / "case.toml")
BRIEF = BRIEF.changed("mount.ring", {**BRIEF.text["mount"]["ring"], **RING})
BRIEF = BRIEF.changed("payload.inertia", ["0.07 kg*m^2", "0.12 kg*m^2", "0.16 kg*m^2"])
BRIEF = BRIEF.changed("payload.centre", ["18 mm", "-12 mm", "-10 mm"])
BRIEF = BRIEF.changed("leg[1].drop", "none")  # the roads alone: quick to judge
RATE, LONG, LOSS = 800.0, 3.0, 0.07
SENSOR = np.array([0.15, 0.1, 0.05])
TAPPED, BLOW = np.array([0.19, -0.13, 0.07]), np.array([0.5, 0.8, -1.1])


def scaled(held, factor):
    return replace(held, curve=held.curve.scaled(factor))


def crushed(held: Suspension) -> Suspension:
    factor = np.ones((4, 2))
    factor[2, 0] = 10.0
    return scaled(held, factor)


def cold(held: Suspension) -> Suspension:
    return scaled(held, np.full((4, 2), 2.6))


def heavy(held: Suspension) -> Suspension:
    return replace(held, mass=held.mass * 1.35, inertia=held.inertia * 1.35)


def taut(held: Suspension) -> Suspension:
    """A hose that pulls along y at the left end."""
    return replace(
        held,
        cable_position=np.array([[-0.2, 0.0, 0.02]]),
        cable_stiffness=np.array([[0.0, 26e3, 0.0]]),
        cable_loss=np.zeros(1),
    )


def skewed(r):
    return np.array([[0, -r[2], r[1]], [r[2], 0, -r[0]], [-r[1], r[0], 0]])


def simulated(held: Suspension, rng: np.random.Generator, contact=None) -> np.ndarray:
    """Time and specific force along three axes of a sensor on the payload, (n, 4). [s, g]"""
    pose = held.pose(G0 * np.array([0, 0, -1.0]))
    mass, stiffness = held.mass_matrix(pose), held.stiffness(pose, factor=held.dynamic_ratio)
    value, shape = eigh(stiffness, mass)
    damping = mass @ shape @ np.diag(LOSS * np.sqrt(value)) @ shape.T @ mass
    at = np.hstack([np.eye(3), -skewed(SENSOR)])
    blow = np.concatenate([BLOW, np.cross(TAPPED, BLOW)])
    start = np.concatenate([np.zeros(6), np.linalg.solve(mass, blow)])

    def rate(_, y):
        force = -stiffness @ y[:6] - damping @ y[6:]
        if contact is not None:
            corner, gap, stop = contact
            motion = np.hstack([np.eye(3), -skewed(corner)])
            deep = max(-(motion @ y[:6])[2] - gap, 0.0)
            force = force + motion.T @ np.array([0, 0, stop * deep])
        return np.concatenate([y[6:], np.linalg.solve(mass, force)])

    time = np.arange(0, LONG, 1 / RATE) + rng.normal(0, 1e-5, int(LONG * RATE))
    found = solve_ivp(rate, (0, LONG), start, t_eval=np.sort(np.clip(time, 0, LONG)), rtol=1e-8,
                      atol=1e-10, max_step=2e-3)  # fmt: skip
    felt = np.array([at @ rate(0, y)[6:] for y in found.y.T]) / G0
    quiet = np.zeros((int(0.5 * RATE), 3))
    every = np.vstack([quiet, felt]) + rng.normal(0, 0.004, (len(quiet) + len(felt), 3))
    every[:, 2] += 1
    clock = np.concatenate([np.arange(len(quiet)) / RATE, 0.5 + found.t])
    return np.column_stack([clock, every])


def written(folder: Path, record: np.ndarray) -> tuple[str, str]:
    import tomli_w

    case, file = folder / "case.toml", folder / "tap.csv"
    case.write_text(tomli_w.dumps(dict(BRIEF.text)), encoding="utf-8")
    head = "time (s),ax (g),ay (g),az (g)"
    np.savetxt(file, record, delimiter=",", header=head, comments="", fmt="%.6f")
    return str(case), str(file)


def told(folder, capsys, record):
    case, file = written(folder, record)
    status = main(["bench", "tap", file, "--brief", case, "--json"])
    return status, json.loads(capsys.readouterr().out)


FAULTS = {"crushed": crushed, "cold": cold, "heavier": heavy, "taut": taut}


@pytest.mark.parametrize(
    "fault",
    [
        fault if fault == "crushed" else pytest.param(fault, marks=pytest.mark.heavy)
        for fault in FAULTS
    ],
)
def test_the_hidden_fault_is_ranked_first(tmp_path, capsys, fault):
    held = FAULTS[fault](BRIEF.design.suspension())
    _, data = told(tmp_path, capsys, simulated(held, np.random.default_rng(1)))
    names = [found["name"] for found in data["model"]["faults"]]
    assert names[0] == fault, data
    others = [found for found in data["model"]["faults"] if found["name"] != "as predicted"]
    assert all(found["to_tell"] for found in others)
    if fault in ("crushed", "taut"):
        assert data["model"]["stiffness_over_stated"] is None
        assert data["model"]["status_after"] is None


def test_a_corner_that_touches_gives_no_correction(tmp_path, capsys):
    corner = np.array([-0.2, 0.15, -0.065])
    record = simulated(BRIEF.design.suspension(), np.random.default_rng(3), (corner, 2e-4, 9e4))
    case, file = written(tmp_path, record)
    status = main(["bench", "tap", file, "--brief", case, "--json"])
    out = capsys.readouterr().out
    if status == 2:  # no sum of decaying sines: it says so
        assert out == ""
        return
    model = json.loads(out)["model"]
    assert model["stiffness_over_stated"] is None
    assert "touches" in [found["name"] for found in model["faults"]]


def test_a_sound_build_confirms_its_model(tmp_path, capsys):
    """Rubber 1.2 times stiffer than stated, and the brief is corrected by that."""
    held = scaled(BRIEF.design.suspension(), np.full((4, 2), 1.2))
    status, data = told(tmp_path, capsys, simulated(held, np.random.default_rng(4)))
    model = data["model"]
    assert model["faults"][0]["name"] == "as predicted"
    low, high = model["stiffness_over_stated"]
    assert low < 1.2 / 1.5 * 1.02
    assert low > 1.2 / 1.5 * 0.93
    assert 1.2 * 0.98 < high < 1.2 * 1.07
    assert model["loss_factor"][0] < LOSS < model["loss_factor"][1]
    case, file = str(tmp_path / "case.toml"), str(tmp_path / "tap.csv")
    new = tmp_path / "measured.toml"
    assert main(["bench", "tap", file, "--brief", case, "--out", str(new)]) == status
    page = capsys.readouterr().out
    assert "The model corrected: the grade is measured" in page
    corrected = read_brief(new)
    assert corrected.design.grade() == "measured"
    assert corrected.design.places[0].mount.source == "tap recorded in tap.csv"
    assert corrected.design.payload == read_brief(case).design.payload
    down = G0 * np.array([0.0, 0.0, -1.0])
    again, true = (one.frequencies(one.pose(down)) for one in (corrected.design.suspension(), held))
    np.testing.assert_allclose(again, true / 1.5**0.25, rtol=0.01)  # tapped, and in transport

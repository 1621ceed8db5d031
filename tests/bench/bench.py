"""What the package costs, as ratios measured in one run: python tests/bench/bench.py [--pairs N].

The base is a process that imports numpy, scipy.linalg and pint. Each pair runs the base and then
the candidate, or a batch of one design and then a larger one, so that what else the machine does
falls on both. The median of the pairs' ratios is printed, with the middle half and the ends.
"""

from __future__ import annotations

import argparse
import asyncio
import io
import os
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import ExitStack
from dataclasses import replace
from functools import cache, partial
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import nbformat
import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from nbclient import NotebookClient
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.linalg import eigh
from scipy.signal import lfilter, welch

from isolator.assessment import assess
from isolator.base_pulse import TimeModes
from isolator.base_record import base_record
from isolator.brief import Brief, read_brief
from isolator.coupled import Holding, Landings, Shell, Start
from isolator.curve import Curve
from isolator.design import Design
from isolator.falls import BATCH
from isolator.grid import Candidate
from isolator.grommet import Grommet
from isolator.inside import Obstacle
from isolator.landing import land, lasting
from isolator.logger import read_recording
from isolator.panels import Panel
from isolator.record_quality import quality
from isolator.recorded_trip import trip_record
from isolator.report.document import document
from isolator.report.files import save_report
from isolator.report.pictures import INCH, Picture
from isolator.response import respond
from isolator.rubber import shear_band
from isolator.spectrum import density_at
from isolator.suspension import ATTITUDES, Suspension, frame, skew
from isolator.sweep import CHUNK, screened
from isolator.units import G0, FloatArray, si_or_none

ROOT = Path(__file__).parents[2]
OPEN = ExitStack()
"""Pools of processes, which end with the rows that use them."""
CASE = "data/ice-radar/case.toml"
BASE = ("-c", "import numpy, scipy.linalg, pint")
IMPORT = ("-c", "from isolator import Design, Weighing, transmissibility")
"""All but the slow rooms; the package itself loads none before it is asked for a name."""
ASSESS = ("-m", "isolator", "assess")
STARTER = "data/starter/case.toml"
LARGEST = "data/planetarium/case.toml"
"""The shipped case with the most mounts, parts, landings and changes to try."""
MANY = 100_000
BATCHES = (1, 10, 100)
OBSTACLES = (0, 10, 100, 1000)
NEXT, LAST = [1, 2, 0], [2, 0, 1]
SCREENED, LOOPED, LINES, PLACES = 128, 4, 256, 4
"""Designs that are screened and looped over, frequencies of a loop, mounts of those designs."""
SAMPLES, SAMPLING = 1_000_000, 1000.0
"""Of a trip's record, and how many a second."""
LOSS, INSTANTS, DESIGNS = 0.15, 400, 100
"""Of hardening mounts; at how many instants a peak is looked for; designs side by side."""
UNUSABLE = 2
"""Exit status of the command for input that it cannot use."""


def process(arguments: tuple[str, ...]) -> float:
    """Run a Python process that keeps its compiled bytes, as it does by default. [s]"""
    own = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        env=own,
        capture_output=True,
        text=True,
        check=False,
    )
    spent = time.perf_counter() - start
    if done.stderr or done.returncode == UNUSABLE:
        raise RuntimeError(f"{' '.join(arguments)} failed: {done.stderr}")
    return spent


def a_design(count: int) -> float:
    """Run the kernels for a batch of designs; the time of each. [s]"""
    design = read_brief(ROOT / CASE).design
    designs = [design] * count
    start = time.perf_counter()
    respond(designs)
    return (time.perf_counter() - start) / count


@cache
def crowded(count: int) -> Design:
    """The shipped case with so many obstacles beside the payload."""
    design = read_brief(ROOT / CASE).design
    obstacles = [
        Obstacle(
            name=f"post {n}",
            position=["270 mm", f"{n % 100} mm", f"{n // 100} mm"],
            size=["1 mm"] * 3,
        )
        for n in range(count)
    ]
    return replace(design, case=replace(design.case, obstacles=obstacles))


def among(count: int) -> float:
    """Judge the shipped case with so many obstacles, all checks with their reasons. [s]"""
    design = crowded(count)
    start = time.perf_counter()
    assess(design)
    return time.perf_counter() - start


@cache
def shapes() -> tuple[Grommet, FloatArray]:
    """Panel grommets of many sizes, and their hardness. [Shore A]"""
    rng = np.random.default_rng(0)
    sleeve = rng.uniform(2e-3, 5e-3, MANY)
    hole = sleeve + rng.uniform(1e-3, 4e-3, MANY)
    flange, thickness = hole + rng.uniform(2e-3, 5e-3, MANY), rng.uniform(1.5e-3, 4e-3, MANY)
    panel = rng.uniform(1e-3, 3e-3, MANY)
    return Grommet.of(sleeve, hole, flange, thickness, panel), rng.uniform(30, 70, MANY)


def grommets() -> float:
    """Stiffness of all of them along and across from hardness and geometry, as bands. [s]"""
    shape, hardness = shapes()
    start = time.perf_counter()
    for shear in shear_band(hardness - 5, hardness, hardness + 5):
        shape.flange_stuck(shear)
        shape.flange_slipping(shear)
        shape.radial(shear)
    return time.perf_counter() - start


def exponentials() -> float:
    """As many exponentials. [s]"""
    values = shapes()[1]
    start = time.perf_counter()
    np.exp(values)
    return time.perf_counter() - start


@cache
def hardening(count: int, mounts: int = 4) -> tuple[Holding, Landings, PchipInterpolator]:
    """Designs on hardening mounts, their landings on faces, edges and corners, and their curve."""
    ring = np.arange(mounts) * 2 * np.pi / mounts + np.pi / 4
    flat = np.stack([0.2 * np.cos(ring), 0.14 * np.sin(ring), np.full(mounts, -0.06)], axis=-1)
    nodes, end = np.linspace(0, 0.03, 12), 0.036
    stiffness = 8.0 * (2 * np.pi * 12) ** 2 / mounts
    force = 2 * stiffness * end / np.pi * np.tan(np.pi * nodes / 2 / end)
    curve = Curve.through(nodes[1:], force[1:])
    both = Curve.stacked([curve, curve])
    held = [
        Suspension(
            np.asarray(8.0),
            np.diag([0.05, 0.09, 0.11]),
            flat + np.random.default_rng(seed).normal(0, 0.01, flat.shape),
            np.broadcast_to(frame((0, 0, -1.0)), (mounts, 3, 3)),
            Curve.stacked([both] * mounts),
            np.ones(mounts),
            np.full(mounts, LOSS),
        )
        for seed in range(count)
    ]
    ways = np.array([way for way in product((-1, 0, 1), repeat=3) if any(way)], dtype=float)
    ways *= [0.25, 0.2, 0.1]
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    speed = np.full((count, len(ways)), np.sqrt(2 * G0 * 0.5))
    down = np.broadcast_to(ways, (count, *ways.shape))
    spline = PchipInterpolator(np.concatenate([-nodes[:0:-1], nodes]),
                               np.concatenate([-force[:0:-1], force]))  # fmt: skip
    return Holding.of(Suspension.stacked(held)), Landings(down=down, speed=speed), spline


def crossed(a: FloatArray, b: FloatArray) -> FloatArray:
    """Cross product (..., 3), ten times as fast as numpy's on so few numbers."""
    return a[..., NEXT] * b[..., LAST] - a[..., LAST] * b[..., NEXT]


def looped() -> float:
    """The landings of one design one by one, as scipy has it: their peaks within 0.1 %. [s]"""
    holding, landings, spline = hardening(1)
    held = holding.suspension
    r, axes, mass = held.position[0], held.frames[0], float(held.mass[0])
    inertia = held.inertia[0]
    release = np.linalg.inv(inertia)
    slope = float(spline.derivative()(0.0))
    until = lasting(holding, Shell.heavy(1), landings)[0]
    start = time.perf_counter()
    for down, omega, end in zip(
        landings.down[0], holding.dominant(landings.down)[0], until, strict=True
    ):
        drag = LOSS * slope / omega

        def forces(y: FloatArray, drag: float = drag) -> tuple[FloatArray, ...]:
            turn, spin = y[:9].reshape(3, 3), y[12:15]
            arm = r @ turn.T
            moved, rate = arm + y[9:12] - r, crossed(turn @ spin, arm) + y[15:]
            local, speed = (axes @ moved[..., None])[..., 0], (axes @ rate[..., None])[..., 0]
            across = np.hypot(local[:, 1], local[:, 2])
            force = drag * speed
            force[:, 0] += spline(local[:, 0])
            force[:, 1:] += local[:, 1:] * (spline(across) / (across + 1e-15))[:, None]
            push = -(np.swapaxes(axes, 1, 2) @ force[..., None])[..., 0]
            torque = turn.T @ crossed(arm, push).sum(axis=0)
            return push.sum(axis=0), release @ (torque - crossed(spin, inertia @ spin))

        def rate(_: float, y: FloatArray, down: FloatArray = down) -> FloatArray:
            push, gain = forces(y)
            turning = y[:9].reshape(3, 3) @ skew(y[12:15])
            return np.concatenate([turning.ravel(), y[15:], gain, push / mass + G0 * down])

        first = np.concatenate([np.eye(3).ravel(), np.zeros(6), landings.speed[0, 0] * down])
        found = solve_ivp(rate, (0, end), first, rtol=1e-5, atol=1e-7, dense_output=True)
        states = found.sol(np.linspace(0, end, INSTANTS)).T
        max(float(np.linalg.norm(forces(state)[0])) for state in states)
    return time.perf_counter() - start


def stacked(count: int, mounts: int = 4) -> float:
    """The same landings side by side, so many designs a few at a time; the time of each. [s]"""
    holding, landings, _ = hardening(count, mounts)
    start = time.perf_counter()
    some = max(BATCH // landings.shape[1], 1)
    for first in range(0, count, some):
        own = np.arange(first, min(first + some, count))
        there = landings.taken(own)
        unloaded = Start.unloaded(there.shape)
        land(holding.taken(own), Shell.heavy(len(own)), there, unloaded, tolerance=2e-5)
    return (time.perf_counter() - start) / count


@cache
def drawer(count: int) -> tuple[Brief, list[Candidate]]:
    """Designs to screen: the first so many of the shipped grid, over and over."""
    brief = read_brief(ROOT / CASE)
    every = [one for one in brief.grid.candidates() if len(one.kinds) == PLACES]
    return brief, [every[k % len(every)] for k in range(count)]


def screening(count: int, executor: Executor | None = None) -> float:
    """Screen so many designs; the time of each. [s]"""
    brief, candidates = drawer(count)
    chunks = [candidates[k : k + CHUNK] for k in range(0, count, CHUNK)]
    start = time.perf_counter()
    work = partial(screened, brief)
    list(map(work, chunks) if executor is None else executor.map(work, chunks))
    return (time.perf_counter() - start) / count


def one_by_one() -> float:
    """The linear answers of a verdict, a design after the other, as scipy has them. [s]

    Sag in six attitudes, modes, the random response on three axes at the centre and eight corners
    by a solve a line of each leg's road, the drop on six faces by energy; the time of each.
    """
    brief, candidates = drawer(LOOPED)
    designs = [replace(brief.design, places=brief.grid.places(one)) for one in candidates]
    corners = np.concatenate([np.zeros((1, 3)), designs[0].payload.corners()])
    start = time.perf_counter()
    for design in designs:
        held = design.suspension()
        mass, stiffness = held.mass_matrix(), held.mount_stiffness()
        for down in ATTITUDES.values():
            weight = np.concatenate([float(held.mass) * G0 * np.array(down), np.zeros(3)])
            sag = np.linalg.solve(stiffness, weight)
            np.linalg.norm(sag[:3] + np.cross(sag[3:], held.position), axis=1)
        eigh(stiffness, mass)
        complex_stiffness = stiffness * (1 + 1j * float(held.loss_factor[0]))
        for leg in design.legs:
            for k, axis in enumerate("xyz"):
                spectrum = leg.spectrum(axis)
                if spectrum is None:
                    continue
                lines = np.geomspace(spectrum.lines[0], spectrum.lines[-1], LINES)
                density = density_at(lines, spectrum.lines, spectrum.density)
                felt = np.empty((LINES, len(corners), 3))
                for n, line in enumerate(lines):
                    square = (2 * np.pi * line) ** 2
                    dynamic = complex_stiffness - square * mass
                    moved = np.linalg.solve(dynamic, complex_stiffness[:, k])
                    felt[n] = np.abs(moved[:3] + np.cross(moved[3:], corners)) ** 2
                np.sqrt(np.trapezoid(felt * density[:, None, None], lines, axis=0))
            height = si_or_none(leg, "drop") or 0.0
            for down in ATTITUDES.values():
                e = np.concatenate([np.array(down), np.zeros(3)])
                k = e @ stiffness @ e
                weight = float(held.mass) * G0
                weight / k + np.sqrt((weight / k) ** 2 + 2 * weight * height / k)
    return (time.perf_counter() - start) / LOOPED


@cache
def pool(workers: int) -> Executor:
    """Processes that have already imported what they need."""
    out = OPEN.enter_context(ProcessPoolExecutor(workers))
    brief, candidates = drawer(workers)
    list(out.map(partial(screened, brief), [[one] for one in candidates]))
    return out


@cache
def local_cluster() -> Executor:
    """Two Dask workers on this machine, likewise."""
    from distributed import Client, LocalCluster

    make: Any = LocalCluster
    workers = make(n_workers=2, threads_per_worker=1, dashboard_address=None)
    client: Any = Client
    OPEN.enter_context(workers)
    out: Executor = OPEN.enter_context(client(workers, set_as_default=False)).get_executor()
    brief, candidates = drawer(2)
    list(out.map(partial(screened, brief), [[one] for one in candidates]))
    return out


@cache
def ridden() -> Path:
    """A record of so many samples along three axes, as a logger writes it."""
    rng, folder = np.random.default_rng(2), Path(OPEN.enter_context(TemporaryDirectory()))
    felt = np.cumsum(rng.normal(0, 0.02, (SAMPLES, 3)), axis=0) * 0.01 + rng.normal(
        0, 0.1, (SAMPLES, 3)
    )
    frame_ = pd.DataFrame(felt, columns=["x (g)", "y (g)", "z (g)"])
    frame_.insert(0, "time (s)", np.arange(SAMPLES) / SAMPLING)
    frame_.to_csv(folder / "ride.csv", index=False, float_format="%.5f")
    return folder / "ride.csv"


def by_pandas() -> float:
    """Read the record and take its spectra, as pandas and scipy have it. [s]"""
    file = ridden()
    start = time.perf_counter()
    felt = pd.read_csv(file).to_numpy()[:, 1:]
    welch(felt, SAMPLING, nperseg=int(2 * SAMPLING), axis=0)
    return time.perf_counter() - start


def recorded() -> float:
    """The same with all that a trip's record says: quality, levels over time, shocks. [s]"""
    file = ridden()
    start = time.perf_counter()
    recording = read_recording(file)
    quality(recording)
    trip_record(recording)
    return time.perf_counter() - start


@cache
def six_mounts() -> tuple[Suspension, FloatArray, FloatArray]:
    """The payload of the shipped case on six mounts, its centre and corners, and its ride."""
    brief = read_brief(ROOT / CASE)
    one = next(one for one in brief.grid.candidates() if len(one.kinds) == 6)
    design = replace(brief.design, places=brief.grid.places(one))
    points = np.concatenate([np.zeros((1, 3)), design.payload.corners()])
    return design.suspension(), points, np.random.default_rng(3).normal(0, 1, (SAMPLES, 3))


def one_pass() -> float:
    """One filter of second order over the three axes, in time of this process alone. [s]"""
    felt = six_mounts()[2]
    start = time.process_time()
    lfilter([0.1, 0.2, 0.1], [1.0, -1.8, 0.9], felt, axis=0)
    return time.process_time() - start


def on_six_mounts() -> float:
    """What centre, corners and mounts do under it, likewise. [s]"""
    held, points, felt = six_mounts()
    modes = TimeModes.of(held)
    start = time.process_time()
    base_record(modes, points, felt, SAMPLING, feet=held.position, frames=held.frames)
    return time.process_time() - start


def peak_memory(count: int) -> float:
    """Most memory that the landings of so many designs take beyond the designs themselves. [B]"""
    hardening(count)
    tracemalloc.start()
    stacked(count)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return float(most)


@cache
def sizes() -> list[tuple[float, float]]:
    """Of the pictures of a report. [mm]"""
    report = document(assess(ROOT / CASE))
    blocks = [*report.opening, report.sketch, *(b for part in report.sections for b in part.blocks)]
    return [(b.width, b.height) for b in blocks if isinstance(b, Picture)]


def with_bare_figures() -> float:
    """Judge the shipped case, and draw a line on axes with words for each picture. [s]"""
    every, at = sizes(), np.linspace(0.01, 1.0, 1000)
    start = time.perf_counter()
    assess(ROOT / CASE)
    for width, height in every:
        figure = Figure(figsize=(width / INCH, height / INCH), layout="constrained")
        ax = figure.subplots()
        ax.plot(at, at**2, label="square")
        ax.set(xlabel="a number", ylabel="its square", title="a bare figure")
        ax.legend()
        figure.savefig(io.BytesIO(), format="svg")
    return time.perf_counter() - start


def reported() -> float:
    """Judge it and write its report with all pictures, as HTML, PDF and JSON. [s]"""
    with TemporaryDirectory() as folder:
        start = time.perf_counter()
        save_report(assess(ROOT / CASE), folder)
        return time.perf_counter() - start


def executed(notebook: Path) -> float:
    """Run a notebook with a kernel of its own, imports and all. [s]"""
    book = nbformat.read(notebook, as_version=4)
    start = time.perf_counter()
    NotebookClient(book, resources={"metadata": {"path": str(notebook.parent)}}).execute()
    return time.perf_counter() - start


MOVES: tuple[tuple[str, str, str, tuple[object, ...]], ...] = (
    (STARTER, "gap", "room", (51.0, 52.0, 53.0, 54.0, 55.0)),
    (STARTER, "drop", "room", (202.0, 204.0, 206.0, 208.0, 210.0)),
    (STARTER, "attitude", "transmissibility", tuple(ATTITUDES)[1:]),
    (CASE, "gap", "room", (64.0, 63.0, 62.0, 61.0, 60.0)),
    (CASE, "drop", "room", (290.0, 280.0, 270.0, 260.0, 250.0)),
    (CASE, "mount", "room", ("stiff", "firm", "soft")),
    (CASE, "mount", "transmissibility", ("stiff", "firm", "soft")),
)
"""Cases, controls of their panel, the picture that follows, and to what they are moved."""


async def moved(case: str, control: str, picture: str, values: tuple[object, ...]) -> list[float]:
    """Times from a control of the panel, as in a notebook, to the new picture. [s]"""
    panel, seen, spent = Panel(read_brief(ROOT / case)), list[float](), list[float]()
    panel.pictures[picture].observe(lambda _: seen.append(time.perf_counter()), "value")
    for value in values:
        start = time.perf_counter()
        getattr(panel, control).value = value
        spent.append(seen[-1] - start)
    return spent


def ratios(base: Callable[[], float], candidate: Callable[[], float], pairs: int) -> list[float]:
    """Candidate over base in each pair, after one of each that does not count."""
    base(), candidate()
    out = []
    for _ in range(pairs):
        before = base()
        out.append(candidate() / before)
    return out


def main() -> None:
    global DESIGNS, SCREENED, LOOPED, SAMPLES
    parser = argparse.ArgumentParser(description=__doc__, add_help=True)
    parser.add_argument("--pairs", type=int, default=15, help="interleaved pairs, 15 by default")
    parser.add_argument(
        "--small", action="store_true", help="few designs: only to see that it runs"
    )
    given = parser.parse_args()
    pairs = given.pairs
    if given.small:
        DESIGNS, SCREENED, LOOPED, SAMPLES = 10, 8, 1, 20_000
    one = BATCHES[0]
    rows: list[tuple[str, str, Callable[[], float], Callable[[], float]]] = [
        ("import isolator", "1.3", lambda: process(BASE), lambda: process(IMPORT)),
        ("isolator assess", "3", lambda: process(BASE), lambda: process((*ASSESS, CASE))),
        (f"{MANY} grommets, to as many exp", "200", exponentials, grommets),
        ("the largest case", "4", lambda: process(BASE), lambda: process((*ASSESS, LARGEST))),
    ]
    for count in BATCHES[1:]:
        rows.append(
            (
                f"a design in a batch of {count}, to one alone",
                "",
                lambda: a_design(one),
                lambda n=count: a_design(n),
            )
        )
    for count in OBSTACLES[1:]:
        rows.append(
            (
                f"a design with {count} obstacles, to none",
                "",
                lambda: among(OBSTACLES[0]),
                lambda n=count: among(n),
            )
        )
    landings: list[tuple[str, str, Callable[[], float], Callable[[], float]]] = [
        ("26 landings at once, to a loop", "0.02", looped, lambda: stacked(1)),
        ("those of one design in many, to a loop", "0.01", looped, lambda: stacked(DESIGNS)),
        ("landings on 16 mounts, to 4", "", lambda: stacked(1), lambda: stacked(1, 16)),
        ("memory of many designs, to a tenth", "", lambda: peak_memory(DESIGNS // 10),
         lambda: peak_memory(DESIGNS)),
    ]  # fmt: skip
    rows += landings
    rows += [
        ("the report, to bare figures", "4", with_bare_figures, reported),
        ("a trip's record, to pandas and welch", "3", by_pandas, recorded),
        ("a record on six mounts, to one lfilter", "20", one_pass, on_six_mounts),
        ("a design screened, to a loop", "0.02", one_by_one, lambda: screening(SCREENED)),
        ("a design among many, to a tenth", "1.2", lambda: screening(SCREENED),
         lambda: screening(10 * SCREENED)),
        ("two processes, to one", "0.59", lambda: screening(4 * SCREENED),
         lambda: screening(4 * SCREENED, pool(2))),
        ("a Dask cluster, to two processes", "1.15",
         lambda: screening(4 * SCREENED, pool(2)),
         lambda: screening(4 * SCREENED, local_cluster())),
    ]  # fmt: skip
    print(f"{pairs} interleaved pairs each; the base of the first two is {BASE[1]!r}")
    blas: Any = np.show_config(mode="dicts")
    blas = blas["Build Dependencies"]["blas"]
    print(f"BLAS: {blas.get('openblas configuration', blas['name'])}\n")
    head = ("what", "median", "middle half", "least to most", "at most")
    print("{:<40} {:>7} {:>14} {:>15} {:>8}".format(*head))
    for name, target, base, candidate in rows:
        found = ratios(base, candidate, pairs)
        low, middle, high = np.quantile(found, (0.25, 0.5, 0.75))
        print(
            f"{name:<40} {middle:>7.3f} {low:>6.3f}–{high:<7.3f} "
            f"{min(found):>7.3f}–{max(found):<7.3f} {target:>8}"
        )
    OPEN.close()
    print()
    for case, control, picture, values in MOVES:
        spent = asyncio.run(moved(case, control, picture, values))
        name = Path(case).parent.name
        print(f"panel of {name}, {control} to {picture}: {1e3 * np.median(spent):.0f} ms")
    for notebook in sorted((ROOT / "notebooks").glob("*.ipynb"))[: 1 if given.small else None]:
        print(f"notebook {notebook.stem}: {executed(notebook):.1f} s, at most 20")
    print(f"a design alone: {1e3 * np.median([a_design(1) for _ in range(pairs)]):.1f} ms")


if __name__ == "__main__":
    main()

"""What the package costs, as ratios measured in one run: python tests/bench/bench.py [--pairs N].

The base is a process that imports numpy, scipy.linalg and pint. Each pair runs the base and then
the candidate, or a batch of one design and then a larger one, so that what else the machine does
falls on both. The median of the pairs' ratios is printed, with the middle half and the ends.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.design import Design
from isolator.grommet import Grommet
from isolator.inside import Obstacle
from isolator.response import respond
from isolator.rubber import shear_band
from isolator.units import FloatArray

ROOT = Path(__file__).parents[2]
CASE = "data/ice-radar/case.toml"
BASE = ("-c", "import numpy, scipy.linalg, pint")
IMPORT = ("-c", "import isolator")
ASSESS = ("-m", "isolator.cli", "assess")
LARGEST = "data/planetarium/case.toml"
"""The shipped case with the most mounts, parts, landings and changes to try."""
MANY = 100_000
BATCHES = (1, 10, 100)
OBSTACLES = (0, 10, 100, 1000)
UNUSABLE = 2
"""Exit status of the command for input that it cannot use."""


def process(arguments: tuple[str, ...]) -> float:
    """Run a Python process. [s]"""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
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


def ratios(base: Callable[[], float], candidate: Callable[[], float], pairs: int) -> list[float]:
    """Candidate over base in each pair, after one of each that does not count."""
    base(), candidate()
    out = []
    for _ in range(pairs):
        before = base()
        out.append(candidate() / before)
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, add_help=True)
    parser.add_argument("--pairs", type=int, default=15, help="interleaved pairs, 15 by default")
    pairs = parser.parse_args().pairs
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
    print(f"{pairs} interleaved pairs each; the base of the first two is {BASE[1]!r}\n")
    head = ("what", "median", "middle half", "least to most", "at most")
    print("{:<40} {:>7} {:>14} {:>15} {:>8}".format(*head))
    for name, target, base, candidate in rows:
        found = ratios(base, candidate, pairs)
        low, middle, high = np.quantile(found, (0.25, 0.5, 0.75))
        print(
            f"{name:<40} {middle:>7.3f} {low:>6.3f}–{high:<7.3f} "
            f"{min(found):>7.3f}–{max(found):<7.3f} {target:>8}"
        )
    print(f"\na design alone: {1e3 * np.median([a_design(1) for _ in range(pairs)]):.1f} ms")


if __name__ == "__main__":
    main()

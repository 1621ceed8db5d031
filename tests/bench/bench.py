"""Ratios of process times in one run: python tests/bench/bench.py [PAIRS].

Base: a process that imports numpy, scipy.linalg and pint. Each pair runs the base and then the
candidate; the median and the spread of the pairs' ratios are printed.
"""

import subprocess
import sys
import time
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
BASE = ["-c", "import numpy, scipy.linalg, pint"]
CANDIDATES = {
    "import isolator (at most 1.3)": ["-c", "import isolator"],
    "isolator assess (at most 3)": ["-m", "isolator.cli", "assess", "data/ice-radar/case.toml"],
}


def seconds(arguments: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=False)
    return time.perf_counter() - start


def main() -> None:
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    for name, arguments in CANDIDATES.items():
        seconds(arguments)
        ratios = sorted(1 / seconds(BASE) * seconds(arguments) for _ in range(pairs))
        print(f"{name}: {median(ratios):.2f} ({ratios[0]:.2f} to {ratios[-1]:.2f})")


if __name__ == "__main__":
    main()

"""The benchmark runs; nothing here judges a time."""

import re
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.heavy
def test_the_benchmark_prints_every_ratio():
    command = [sys.executable, str(Path(__file__).with_name("bench.py")), "--pairs", "1", "--small"]
    run = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)
    assert run.returncode == 0, run.stderr
    rows = re.findall(r"^(\S.*?) +(\d+\.\d{3}) ", run.stdout, re.MULTILINE)
    assert [name for name, _ in rows] == [
        "import isolator",
        "isolator assess",
        "100000 grommets, to as many exp",
        "the largest case",
        "a design in a batch of 10, to one alone",
        "a design in a batch of 100, to one alone",
        "a design with 10 obstacles, to none",
        "a design with 100 obstacles, to none",
        "a design with 1000 obstacles, to none",
        "26 landings at once, to a loop",
        "those of one design in many, to a loop",
        "landings on 16 mounts, to 4",
        "memory of many designs, to a tenth",
        "the report, to bare figures",
        "a trip's record, to pandas and welch",
        "a record on six mounts, to one lfilter",
        "a design screened, to a loop",
        "a design among many, to a tenth",
        "two processes, to one",
        "a Dask cluster, to two processes",
    ]
    assert all(float(ratio) > 0 for _, ratio in rows)
    assert re.search(r"^panel of starter, gap to room: \d+ ms$", run.stdout, re.MULTILINE)
    assert re.search(r"^notebook \S+: \d+\.\d s, at most 20$", run.stdout, re.MULTILINE)

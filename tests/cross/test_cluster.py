"""A sweep on a local Dask cluster: the same as here, and a worker that dies loses nothing."""

import os
import signal
import warnings
from pathlib import Path

import pandas as pd
import pytest
from distributed import Client, LocalCluster

import isolator.sweep as sweep
from isolator.brief import read_brief
from isolator.sweep import choose

DATA = Path(__file__).parents[2] / "data"
BRIEF = read_brief(DATA / "starter" / "case.toml").with_tables(
    {"choose": {"stacking": ["one", "two in series"], "pattern": [
        {"name": f"{n} mm", "spread": [f"{n} mm", "220 mm"]} for n in range(250, 330, 5)]}}
)  # fmt: skip


@pytest.mark.heavy
@pytest.mark.filterwarnings("ignore")
def test_a_killed_worker_loses_nothing(monkeypatch):
    monkeypatch.setattr(sweep, "CHUNK", 4)
    here = choose(BRIEF, in_full=1)
    with (
        warnings.catch_warnings(),
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as workers,
        Client(workers, set_as_default=False) as client,
    ):
        warnings.simplefilter("ignore")
        executor = client.get_executor()
        killed = []

        def bar(found, total, what, show):
            for one in found:
                if not killed:
                    killed.append(min(client.run(os.getpid).values()))
                    os.kill(killed[0], signal.SIGKILL)
                yield one

        monkeypatch.setattr(sweep, "_with_bar", bar)
        there = choose(BRIEF, executor=executor, in_full=1)
    assert killed
    pd.testing.assert_frame_equal(here, there)

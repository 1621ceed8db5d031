"""What the package stands on: bounds with reasons, the exact set, no network, threads of a BLAS."""

import contextlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
SUPPLY = ROOT / "tests" / "supply"
TEXT = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
PROJECT = tomllib.loads(TEXT)["project"]
ASKED = [
    one
    for lines in (PROJECT["dependencies"], *PROJECT["optional-dependencies"].values())
    for one in map(Requirement, lines)
    if one.name != "isolator"
]
LINES = [
    re.fullmatch(r"([a-z0-9.-]+)==(\S+)  # (\S.*)", line)
    for line in (SUPPLY / "exact.txt").read_text(encoding="utf-8").splitlines()
    if line and not line.startswith("#")
]


def load(name):
    spec = importlib.util.spec_from_file_location(name, SUPPLY / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("one", ASKED, ids=lambda one: one.name)
def test_every_bound_has_a_reason_and_the_exact_set_is_inside(one):
    assert re.search(rf'^ +"{one}",  # \w', TEXT, re.MULTILINE)
    (bound,) = one.specifier
    assert bound.operator == ">="
    exact = {line[1]: line[2] for line in LINES}
    assert one.specifier.contains(exact[one.name])


def test_the_exact_set_is_names_versions_and_licences_alone():
    assert LINES
    assert None not in LINES


def test_licences_are_those_that_the_packages_state():
    licence = load("exact").licence
    found = {}
    for line in LINES:
        with contextlib.suppress(PackageNotFoundError):
            found[line] = distribution(line[1])
    alike = {line: of for line, of in found.items() if of.version == line[2]}
    if not alike:
        pytest.skip("no package here has the version of the exact set")
    assert {line[1]: licence(of) for line, of in alike.items()} == {
        line[1]: line[3] for line in alike
    }


def test_what_the_package_stands_on_binds_nobody_who_ships_it():
    text = (SUPPLY / "exact.txt").read_text(encoding="utf-8")
    run = text.split("# what its notebooks need")[0]
    assert "numpy==" in run
    assert "GPL" not in run
    assert "not stated" not in run


ALONE = """
import sys
def refuse(event, told):
    if event in ("socket.connect", "socket.bind", "socket.sendto", "socket.getaddrinfo"):
        sys.exit(f"asks the network: {event} {told}")
sys.addaudithook(refuse)
from isolator.cli import main
case, out = sys.argv[1:]
for words in (["assess", case], ["report", case, "--out", out]):
    assert main(words) == 0
"""
"""A case that passes, judged and reported by a process that may not call anyone."""


def apart():
    """What stands before a command to take the network away altogether, where that is allowed."""
    unshare = shutil.which("unshare")
    words = [unshare, "--map-root-user", "--net"] if unshare else []
    allowed = words and subprocess.run([*words, "true"], capture_output=True).returncode == 0
    return words if allowed else []


@pytest.fixture(scope="module")
def reports(tmp_path_factory):
    """By threads of the BLAS: what the process printed, and the folder of its report."""
    made = {}
    for threads in (1, 2):
        out = tmp_path_factory.mktemp(f"threads{threads}") / "report"
        names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
        command = [*apart(), sys.executable, "-c", ALONE, "data/starter/case.toml", str(out)]
        made[threads] = (
            out,
            subprocess.run(
                command,
                cwd=ROOT,
                env=os.environ | dict.fromkeys(names, str(threads)) | {"PYTHONPATH": str(ROOT)},
                capture_output=True,
                text=True,
                encoding="utf-8",
                check=False,
            ),
        )
    return made


@pytest.mark.heavy
def test_the_command_and_the_report_need_no_network(reports):
    for out, run in reports.values():
        assert (run.returncode, run.stderr) == (0, "")
        assert {path.suffix for path in out.iterdir()} == {".html", ".pdf", ".json"}


def test_what_refuses_the_network_refuses_it():
    call = ALONE.split("from isolator")[0] + "import socket; socket.create_connection(('::1', 9))"
    run = subprocess.run([sys.executable, "-c", call], capture_output=True, text=True, check=False)
    assert run.stderr.startswith("asks the network: socket.")


def numbers(of):
    """Every number of a JSON object, in order."""
    if isinstance(of, dict | list):
        values = of.values() if isinstance(of, dict) else of
        return [number for value in values for number in numbers(value)]
    return [of] if isinstance(of, float) else []


@pytest.mark.heavy
def test_one_thread_of_the_blas_and_two_give_the_same_pages(reports):
    (one, first), (two, second) = reports.values()
    assert first.stdout.replace(str(one), "") == second.stdout.replace(str(two), "")
    for name in ("report.html", "report.pdf"):
        assert (one / name).read_bytes() == (two / name).read_bytes()
    ours, theirs = (
        numbers(json.loads((out / "report.json").read_text(encoding="utf-8"))) for out in (one, two)
    )
    assert len(ours) > 100
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-12, nan_ok=True)

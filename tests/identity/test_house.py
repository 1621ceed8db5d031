"""The house: which room may import from which, and that types and style are clean."""

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "isolator"

ROOMS = (
    "version",
    "units",
    "sources",
    "heights",
    "lifting",
    "sine",
    "sdof",
    "formulas",
    "pulse",
    "spectrum",
    "handling",
    "tipping",
    "curve",
    "cushion",
    "rubber",
    "block",
    "grommet",
    "weights",
    "sheet",
    "mount",
    "estimate",
    "tapped",
    "heat",
    "payload",
    "fragility",
    "inside",
    "case",
    "weighing",
    "cable",
    "suspension",
    "seat",
    "trip",  # names attitudes as the suspension does
    "columns",
    "recording",
    "logger",
    "record_quality",
    "decay",
    "ringdown",
    "segments",
    "pair",
    "tones",
    "enveloping",
    "events",
    "recorded_trip",
    "dose",
    "vibration",
    "shock",
    "stepping",
    "coupled",
    "course",
    "modal",
    "landing",
    "base_pulse",
    "base_record",
    "clearance",
    "knock",
    "design",
    "grid",
    "resonance",
    "outcome",
    "leg",
    "response",
    "falls",
    "verdict",
    "checks.row",
    "checks.shake",
    "checks.pulse",
    "checks.handling",
    "checks.carry",
    "checks.landing",
    "checks.drop",
    "checks.room",
    "checks.bodies",
    "checks.hang",
    "checks.people",
    "checks.parts",
    "checks",
    "fields",
    "tables",
    "schema",
    "slips",
    "brief.reader",
    "brief.toml",
    "brief.weighing",
    "brief.payload",
    "brief.case",
    "brief.kinds",
    "brief.places",
    "brief.choice",
    "brief.frames",
    "brief.trip",
    "brief",
    "files",
    "sensitivity",
    "judging",
    "assessment",
    "sweep",
    "windows",
    "siting",
    "robust",
    "advice",
    "survive",
    "cautions",
    "buildsheet",
    "faults",
    "correction",
    "ride",
    "names",
    "template.letters",
    "template.holes",
    "template.drawing",
    "template.svg",
    "template.dxf",
    "template.pdf",
    "template",
    "figures.style",
    "figures.shake",
    "figures.felt",
    "figures.gaps",
    "figures.views",
    "figures.labels",
    "figures.places",
    "figures.reach",
    "figures.fall",
    "figures.choice",
    "figures.stack",
    "figures.files",
    "figures.live",
    "figures",
    "report.rows",
    "report.words",
    "report.data",
    "report.paper",
    "report.fall",
    "report.choice",
    "report.bench",
    "report.pictures",
    "report.document",
    "report.build",
    "report.html",
    "report.pdf",
    "report.files",
    "report",
    "panels",
    "cli",
    "start",
    "__main__",
    "isolator",
)
"""From the ground up: a room imports only from rooms before it. DEVELOPERS.md has the same."""


def room(path: Path) -> str:
    """Name of the room that a file is, dotted: ``checks.row``; the package itself is last."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__") or "isolator"


FILES = {room(path): path for path in PACKAGE.rglob("*.py")}


def imports(path: Path) -> set[str]:
    """Dotted names of all modules that a file imports, wherever in it the import stands."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: write imports in full"
            inside = {f"{node.module}.{name.name}" for name in node.names}
            modules = {name for name in inside if name.removeprefix("isolator.") in FILES}
            found |= modules
            if modules != inside:
                found.add(str(node.module))
    return found


def own(path: Path) -> set[str]:
    """Rooms of the house that a file imports from."""
    return {
        name.removeprefix("isolator.")
        for name in imports(path)
        if name.partition(".")[0] == "isolator"
    }


def test_every_room_has_its_place():
    assert sorted(FILES) == sorted(ROOMS)


def test_the_guide_lists_the_rooms_in_the_same_order():
    table = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("| room | holds |")[1]
    rows = [row.split("|")[1] for row in table.split("\n\n")[0].splitlines()[2:]]
    assert [name for row in rows for name in re.findall(r"`([\w.]+)`", row)] == list(ROOMS)


@pytest.mark.parametrize("name", ROOMS)
def test_a_room_imports_only_from_rooms_above_it(name):
    above = set(ROOMS[: ROOMS.index(name)])
    assert own(FILES[name]) <= above


def test_the_reading_of_imports_finds_them(tmp_path):
    (tmp_path / "some.py").write_text(
        "import numpy.linalg\nfrom isolator import sdof, assess\n"
        "def late():\n    from isolator.checks.row import Row\n",
        encoding="utf-8",
    )
    found = {"numpy.linalg", "isolator", "isolator.sdof", "isolator.checks.row"}
    assert imports(tmp_path / "some.py") == found
    assert own(tmp_path / "some.py") == {"isolator", "sdof", "checks.row"}


def test_only_the_door_knows_pint():
    knows = {
        name
        for name, path in FILES.items()
        if any(module.partition(".")[0] == "pint" for module in imports(path))
    }
    assert knows == {"units"}


def test_vibration_and_shock_do_not_know_each_other():
    assert "shock" not in own(FILES["vibration"])
    assert "vibration" not in own(FILES["shock"])


SLOW = ("pandas", "scipy.optimize", "scipy.stats", "matplotlib", "pydantic", "tabulate")


@pytest.mark.parametrize(
    ("code", "slow"),
    [
        ("import isolator", ("numpy", "pint", "argparse", *SLOW)),
        ("from isolator import Design, Weighing, transmissibility", SLOW),
    ],
)
def test_importing_the_package_loads_nothing_slow(code, slow):
    code = f"import sys; {code}; print([m for m in {slow} if m in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_no_room_takes_the_place_of_a_public_function():
    code = (
        "import importlib, types, isolator; "
        f"[importlib.import_module('isolator.' + name) for name in {ROOMS[:-1]}]; "
        "print([n for n in isolator.__all__ if isinstance(getattr(isolator, n), types.ModuleType)])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "['figures']"


@pytest.mark.parametrize(
    "tool",
    [("mypy",), ("ruff", "check"), ("ruff", "format", "--check", "isolator", "tests")],
    ids=["types", "style", "layout"],
)
def test_types_and_style_are_clean(tool):
    run = subprocess.run(
        [sys.executable, "-m", *tool], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr


def test_types_are_checked_strictly():
    assert "[tool.mypy]\nstrict = true\n" in (ROOT / "pyproject.toml").read_text(encoding="utf-8")


MACHINE = re.compile(
    r"(?<![\w.~*/:-])/(?:work|tmp|opt|home|root|Users|mnt|srv)/\w|\b[A-Z]:\\{1,2}Users\\"
)


def test_paths_of_a_machine_are_recognised():
    assert MACHINE.search("read /home/ada/case.toml")
    assert MACHINE.search('"C:\\Users\\ada"')
    assert not MACHINE.search("src/work/case.toml and https://example.org/home/ada")


def tracked() -> list[str]:
    """Files of the checkout; git must not mind whose checkout it is."""
    command = ["git", "-c", "safe.directory=*", "ls-files", "-z"]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    names = [name for name in run.stdout.split("\0") if name and (ROOT / name).is_file()]
    assert "pyproject.toml" in names
    return names


def test_no_file_names_a_path_of_a_machine():
    told = [
        f"{name}: {line.strip():.80}"
        for name in tracked()
        if not name.startswith("tests/")
        for line in (ROOT / name).read_text(encoding="utf-8", errors="replace").splitlines()
        if MACHINE.search(line)
    ]
    assert told == []


def test_every_notebook_opens_with_a_question_and_ends_with_a_verdict_and_an_exercise():
    notebooks = sorted((ROOT / "notebooks").glob("*.ipynb"))
    assert notebooks
    for path in notebooks:
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        first, last = ("".join(cells[at]["source"]) for at in (0, -1))
        heading = first.splitlines()[0]
        assert re.fullmatch(r"# .+\?", heading), path.name
        assert re.search(r"\*\*Verdict\.\*\* .*\*\*Exercise\.\*\* ", last, re.DOTALL), path.name


def test_the_top_level_holds_what_it_should():
    top = {name.partition("/")[0] for name in tracked()}
    known = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    known |= {"isolator", "data", "tests", "notebooks"}
    assert {name for name in top if not name.startswith(".")} <= known
    assert known - {"notebooks"} <= top

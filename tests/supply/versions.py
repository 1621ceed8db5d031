"""The core of the tests on the lowest and on the newest versions: python tests/supply/versions.py.

It makes three environments in --folder (one of its own that goes away if left out): the lowest
version of everything that pyproject.toml bounds, on Python 3.11; the newest on 3.11; the newest on
the newest Python that this machine has. In each it runs `CORE`, and what came of it replaces the
lines of `versions` in tests/measured.csv. The status is 1 if a test failed.
"""

from __future__ import annotations

import argparse
import csv
import os
import re
import shutil
import subprocess
import sys
import tomllib
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[2]
MEASURED = ROOT / "tests" / "measured.csv"
OLDEST = (3, 11)
CORE = {
    "published": "bench block grommet landing pulse record rigid roads rubber trip",
    "identity": "curve knock pulse recording report rigid sdof supply template weights",
    "cross": "mujoco pulse sdof_cross",
    "door": "brief cli recording units",
}
"""Folder and names of its files: physics, pages and door; no types, style, notebook or browser."""
SETS = {"lowest": "lowest-direct", "newest": "highest", "newest Python": "highest"}


def version(python: Path | str) -> tuple[int, ...]:
    """Of an interpreter; empty where it does not run."""
    code = "import sys; print(*sys.version_info[:3])"
    try:
        run = subprocess.run([python, "-c", code], capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return ()
    return tuple(map(int, run.stdout.split()))


def pythons() -> dict[tuple[int, ...], str]:
    """Interpreters of this machine that may do, on the path or kept side by side by pyenv."""
    named = (shutil.which(f"python3.{minor}") for minor in range(OLDEST[1], 30))
    kept = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")).glob("versions/*/bin/python")
    found = {version(path): path for path in chain([sys.executable], filter(None, named), kept)}
    return {key: str(found[key]) for key in sorted(found) if key[:2] >= OLDEST}


def make(folder: Path, python: str, resolution: str) -> Path:
    """An environment with the package and its tests' tools; gives its Python."""
    own = folder / "bin" / "python"
    subprocess.run([python, "-m", "venv", folder], check=True)
    subprocess.run([own, "-m", "pip", "install", "--quiet", "uv"], check=True)
    command = [own, "-m", "uv", "pip", "install", "--quiet", "--python", own]
    subprocess.run([*command, "--resolution", resolution, "-e", f"{ROOT}[test]"], check=True)
    return own


def stands_on(own: Path) -> str:
    """Versions of what the package itself asks for."""
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = [re.split("[<>=]", line)[0] for line in asked["dependencies"]]
    code = "import sys; from importlib.metadata import version; "
    code += "print(*(f'{name} {version(name)}' for name in sys.argv[1:]), sep=', ')"
    run = subprocess.run([own, "-c", code, *names], capture_output=True, text=True, check=True)
    return run.stdout.strip()


def tests(own: Path, resolution: str) -> tuple[int, str]:
    """Status and last line of the core of the tests."""
    files = [f"tests/{folder}/test_{name}.py" for folder in CORE for name in CORE[folder].split()]
    command = [own, "-m", "pytest", "-q", "-p", "no:cacheprovider", *files]
    if resolution == "lowest-direct":
        # What is old warns of what is new beneath it; that is no concern of ours.
        command += ["-o", "filterwarnings=default"]
    said = "no test ran"
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as run:
        for line in run.stdout or ():
            print(line, end="", flush=True)
            found = re.match(r"=* ?(.*(?:passed|failed|error).*) in [\d.]+s", line)
            said = found[1] if found else said
    return run.returncode, said


def write(lines: list[list[str]]) -> None:
    """In the place of what `versions` measured before."""
    with MEASURED.open(encoding="utf-8", newline="") as file:
        kept = [row for row in csv.reader(file) if row[0] != "versions"]
    with MEASURED.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([*kept, *lines])


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--folder", type=Path, help="keep the environments there")
    parser.add_argument("--only", choices=SETS, action="append", help="one set; nothing is written")
    options = parser.parse_args()
    found = pythons()
    oldest = next((path for key, path in found.items() if key[:2] == OLDEST), None)
    if oldest is None:
        raise SystemExit("Python 3.11 is needed, and this machine has none")
    newest = found[max(found)]
    lines, worst = [], 0
    with TemporaryDirectory() as own_folder:
        for name in options.only or SETS:
            folder = (options.folder or Path(own_folder)) / name.replace(" ", "-")
            python = newest if name == "newest Python" else oldest
            own = make(folder, python, SETS[name])
            status, said = tests(own, SETS[name])
            worst = max(worst, status)
            on = ".".join(map(str, version(own)))
            lines.append(["versions", f"{name}, on Python {on}: {stands_on(own)}", said])
            print(*lines[-1][1:], sep="\n", flush=True)
    if not options.only:
        write(lines)
    sys.exit(min(worst, 1))


if __name__ == "__main__":
    main()

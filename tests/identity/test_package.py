"""What is shipped works where there is no checkout."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from isolator.sources import data_file

ROOT = Path(__file__).parents[2]


def run(*command: str | Path, cwd: Path, path: Path | None = None) -> subprocess.CompletedProcess:
    environment = os.environ | ({} if path is None else {"PYTHONPATH": str(path)})
    return subprocess.run(
        [str(word) for word in command],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    out = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", out, ROOT]
    built = run(*build, cwd=out)
    assert built.returncode == 0, built.stdout + built.stderr
    (made,) = out.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """A folder that the wheel alone was installed into; what it needs comes from the tests' own."""
    target = tmp_path_factory.mktemp("installed")
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index"]
    done = run(*pip, "--disable-pip-version-check", "--target", target, wheel, cwd=target)
    assert done.returncode == 0, done.stderr
    return target


def test_the_wheel_holds_the_package_and_its_data(wheel):
    inside = set(zipfile.ZipFile(wheel).namelist())
    modules = {str(p.relative_to(ROOT)) for p in ROOT.glob("isolator/**/*.py")}
    modules |= {str(p.relative_to(ROOT)) for p in ROOT.glob("isolator/report/*.[ht]*")}
    data = {f"isolator/{p.relative_to(ROOT)}" for p in ROOT.glob("data/**/*") if p.is_file()}
    expected = modules | data | {"isolator/py.typed"}
    assert len(data) > 5
    found = {name for name in inside if not name.startswith("isolator-")}
    assert found == expected
    assert any(name.endswith(".dist-info/licenses/LICENSE") for name in inside)


def test_the_installed_command_judges_the_shipped_case(installed, tmp_path):
    where = run(
        sys.executable,
        "-c",
        "import isolator; print(isolator.__file__)",
        cwd=tmp_path,
        path=installed,
    )
    assert Path(where.stdout.strip()).parent == installed / "isolator"
    command = installed / "bin" / "isolator"
    case = installed / "isolator" / "data" / "ice-radar" / "case.toml"
    there = run(command, "assess", case, cwd=tmp_path, path=installed)
    here = run(sys.executable, "-m", "isolator", "assess", case, cwd=ROOT)
    assert there.stderr == ""
    assert there.returncode == 1
    assert there.stdout == here.stdout
    assert there.stdout.startswith("Ice-radar recorder")


def test_the_installed_command_writes_a_case_that_can_be_judged(installed, tmp_path):
    command = installed / "bin" / "isolator"
    new = run(command, "new", "mine", cwd=tmp_path, path=installed)
    assert (new.returncode, new.stderr) == (0, "")
    starter = (ROOT / "data" / "starter" / "case.toml").read_bytes()
    assert (tmp_path / "mine" / "case.toml").read_bytes() == starter
    judged = run(command, "assess", "mine/case.toml", cwd=tmp_path, path=installed)
    assert (judged.returncode, judged.stderr) == (0, "")


def test_a_clone_finds_its_data_without_being_installed(tmp_path):
    code = "from isolator.sources import data_file; print(data_file('roads.csv'))"
    found = run(sys.executable, "-c", code, cwd=tmp_path, path=ROOT)
    assert Path(found.stdout.strip()) == ROOT / "data" / "roads.csv"
    assert data_file("roads.csv").is_file()

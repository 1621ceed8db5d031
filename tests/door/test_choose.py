"""What cannot be chosen from gets one clear message, and no file is half-written."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from isolator.brief import read_brief
from isolator.cli import main
from isolator.report.choice import _advised
from isolator.robust import chance
from isolator.siting import site
from isolator.sweep import choose, cluster
from isolator.units import InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")


def complaints(folder, capsys, more, *options):
    (folder / "case.toml").write_text(STARTER + more, encoding="utf-8")
    assert main(["choose", str(folder / "case.toml"), *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return [line.removeprefix("isolator: ") for line in err.splitlines()]


PATTERN = '[[choose.pattern]]\nname = "wide"\n'


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ("[choose]\nmounts = []", "choose.mounts = []: a list of names is wanted"),
        ('[choose]\nmounts = ["rin"]', "choose.mounts[1] = 'rin': no such mount; 'ring' meant?"),
        ('[choose]\nmounts = ["ring", "ring"]', "choose.mounts[2] = 'ring': it stands twice"),
        ('[choose]\nstacking = ["tower"]', "choose.stacking[1] = 'tower'"),
        ("[choose]\nkinds = 9", "choose.kinds = 9"),
        ("[choose]\nmuch = 9", "choose.much = 9: unknown key"),
        (PATTERN, "choose.pattern[1].positions and spread: give one of them"),
        (PATTERN + 'spread = ["9 mm"]', "choose.pattern[1].spread"),
        (PATTERN + 'spread = ["9 mm", "9 mm"]\ncolumns = 1', "columns = 1: with 2 rows fewer"),
        (PATTERN + 'positions = [["1 mm", "2 mm", "3 mm"]]', "a list of 3 to 64 positions"),
        (PATTERN + 'spread = ["4 m", "9 mm"]', "choose.pattern[1].position: "),
        ((PATTERN + 'spread = ["90 mm", "90 mm"]\n') * 2, "choose.pattern[2].name = 'wide': it"),
    ],
)
def test_a_line_for_each_mistake_of_a_choice(tmp_path, capsys, more, words):
    found = complaints(tmp_path, capsys, more)
    assert any(words in line for line in found), found


def test_when_all_designs_are_unusable_each_reason_is_given(tmp_path, capsys):
    line = PATTERN + 'spread = ["200 mm", "0 mm"]\n[choose]\n'.replace("[choose]\n", "")
    text = line + "\n"
    unknown = STARTER.replace("captive = true", "")
    (tmp_path / "case.toml").write_text(
        unknown + '[choose]\nstacking = ["opposed pair"]\n' + text, encoding="utf-8"
    )
    assert main(["choose", str(tmp_path / "case.toml")]) == 2
    err = capsys.readouterr().err
    assert "mount.ring.captive is not given" in err
    assert "2 of 2 designs" in err


def test_mounts_in_one_line_are_a_row_that_is_unusable():
    brief = read_brief(DATA / "starter" / "case.toml").with_tables(
        {"choose": {"pattern": [{"name": "line", "spread": ["200 mm", "0 mm"], "columns": 3,
                                 "rows": 1}]}}
    )  # fmt: skip
    row = choose(brief).iloc[-1]
    assert row["status"] == "unusable"
    assert "they lie in one line" in row["reason"]


def test_a_grid_that_is_too_large_says_what_it_would_take(tmp_path, capsys):
    more = "\n".join(f"[mount.m{n}]\nalong = '6 N/mm'\nacross = '6 N/mm'\ndynamic_ratio = 1.2"
                     for n in range(40))  # fmt: skip
    place = PATTERN + 'spread = ["300 mm", "200 mm"]\ncolumns = 8\nrows = 4\n'
    text = STARTER.replace("[mounts]", '[mounts]\nuse = "ring"')
    text += f"{more}\n[choose]\nkinds = 3\n{place}"
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert main(["choose", str(tmp_path / "case.toml")]) == 2
    said = capsys.readouterr().err
    assert "e+1" in said
    assert "hours on one core" in said
    assert "name fewer in choose.mounts" in said


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--in-full", "0"], "in_full = 0"),
        (["--jobs", "0"], "--jobs = 0"),
        (["--keep", "/dev/null/none"], "not usable"),
        (["--figures", "/dev/null/none"], "--figures"),
        (["--out", "/dev/null/none"], "--out /dev/null/none: not written (Not a directory)"),
    ],
)
def test_options_that_cannot_be(tmp_path, capsys, options, words):
    found = complaints(tmp_path, capsys, "", *options) if words[:5] != "--out" else None
    if found is None:
        (tmp_path / "case.toml").write_text(STARTER, encoding="utf-8")
        assert main(["choose", str(tmp_path / "case.toml"), *options]) == 2
        found = [capsys.readouterr().err]
    assert any(words in line for line in found)


def test_a_cluster_that_is_not_there_is_said():
    with (
        pytest.raises(InputError, match="no scheduler answers there"),
        cluster("tcp://127.0.0.1:9", wait=0.5),
    ):
        pass


def test_numbers_of_draws_are_powers_of_two():
    brief = read_brief(DATA / "starter" / "case.toml")
    with pytest.raises(InputError, match="write 128"):
        chance(brief, samples=100)
    with pytest.raises(InputError, match="nothing that may be off is given"):
        chance(brief)
    with pytest.raises(InputError, match="write one of drop height, temperature"):
        chance(brief, within={"weather": "1 mm"})


def test_a_reach_has_its_limits():
    with pytest.raises(InputError, match="reach = '9 m'"):
        site(DATA / "starter" / "case.toml", reach="9 m")


@pytest.mark.parametrize(
    ("failing", "words"), [(1, "1 required check still fails"), (2, "2 required checks still fail")]
)
def test_one_check_fails_and_two_fail(failing, words):
    advice = SimpleNamespace(makes="fail", failing=failing, steps=[])
    assert f"(then {words}, judged in full)" in _advised(advice)

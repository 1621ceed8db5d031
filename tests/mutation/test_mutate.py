"""The mutants are those that the guide promises, and every explanation is of one that exists."""

import csv
import importlib.util
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
SPEC = importlib.util.spec_from_file_location("mutate", HERE / "mutate.py")
mutate = importlib.util.module_from_spec(SPEC)
sys.modules[SPEC.name] = mutate
SPEC.loader.exec_module(mutate)


def after(text: str) -> list[str]:
    return [mutant.after for mutant in mutate.mutants("sdof", text)]


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("a + b", ["a - b"]),
        ("x = a ** 2.0", ["x = a * 2.0", "x = a ** 3.0"]),
        ("x -= a", ["x += a"]),
        ("x = a < b", ["x = a <= b", "x = a >= b"]),
        ("x = a and b", ["x = a or b"]),
        ("x = -a", ["x = +a"]),
        ("x = np.minimum(a, any(b))", ["x = np.maximum(a, any(b))", "x = np.minimum(a, all(b))"]),
        ("x = True", ["x = False"]),
        ("f(a)", ["left out"]),
        ("if a:\n    b", ["if not a:"]),
        ("x = a if b else c", ["x = a if not b else c"]),
        ("def f(x: int = 1) -> int:\n    '''Docs.'''\n    return x", ["def f(x: int=2):"]),
        ("x: Literal[1] = 'words'", []),
    ],
)
def test_a_slip_of_each_kind(text, made):
    assert sorted(after(text)) == sorted(made)


def test_a_mutant_names_its_function_and_leaves_the_rest():
    text = "class A:\n    @property\n    def f(self):\n        return 1\n\nB = 2\n"
    first, second = mutate.mutants("sdof", text)
    assert (first.function, first.first, list(first.lines)) == ("A.f", 2, [4])
    assert (second.function, second.statement.targets[0].id) == ("", "B")
    found = {}
    exec(mutate.compiled(second), found)
    assert (found["A"]().f, found["B"]) == (1, 3)
    exec(mutate.compiled(first), found)
    assert (found["A"]().f, found["B"]) == (2, 2)


def test_every_room_has_its_tests():
    for tests in mutate.ROOMS.values():
        for folder, name in (test.split("/") for test in tests.split()):
            assert (HERE.parent / folder / f"test_{name}.py").is_file()


def test_every_explanation_is_of_a_mutant():
    with mutate.EXPLAINED.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert all(row["reason"] for row in rows)
    known = {
        mutant.key() for room in {row["room"] for row in rows} for mutant in mutate.mutants(room)
    }
    assert set(mutate.explained()) <= known
    assert len(mutate.explained()) == len(rows)

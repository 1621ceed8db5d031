"""Values, checks and limits as tests/record.md: python tests/published/record.py [--check].

It computes every value from outside anew, by the same functions as the tests, and reads what the
tests hold against what, the limits of data/limits.csv and the measured figures of
tests/measured.csv. With --check nothing is written; the status is 1 where the page is out of date.
"""

from __future__ import annotations

import argparse
import ast
import csv
import importlib
import importlib.util
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import pairwise
from pathlib import Path
from types import ModuleType

from isolator.sources import LABELS, Published, half_unit, read_table

TESTS = Path(__file__).parents[1]
PACKAGE = TESTS.parent / "isolator"
PAGE = TESTS / "record.md"
MEASURED = TESTS / "measured.csv"
COMMANDS = {
    "fuzz": "broken input, by the thousand",
    "mutation": "tests that can fail",
    "coverage": "branches that the tests reach",
    "identities": "what no verdict may depend on, at random and key by key",
    "versions": "oldest and newest versions of what we stand on",
}
"""What a line of measured.csv may be of."""
TAKEN_OVER = {
    "road_lines.csv": "the overall levels above",
    "hardness.csv": "typed once more in `tests/published/test_rubber.py`",
    "shore_oo.csv": "three rows in `tests/published/test_rubber.py`; both scales rise together",
    "compound_figures.csv": "typed once more in part in `tests/published/test_rubber.py`",
    "compounds.csv": "words; `tests/published/test_rubber.py` knows each of them",
    "plates.csv": "a double series and variation in `tests/cross/test_sheet.py`",
    "sheets.csv": "nothing: round figures of materials",
}
"""Tables that the package reads as they stand, and what holds them."""
SAID = re.compile(rf"\b({'|'.join(LABELS)})\b")
"""A label where it stands in brackets."""
COMPARE = {"approx": "rel 1e-06", "isclose": "rel 1e-09", "assert_allclose": "rtol 1e-07"}
"""What compares, and within what where nothing else is said."""


@cache
def rooms() -> tuple[ModuleType, ...]:
    """Files of this folder that answer for values: `CLAIMS`, and `VALUES` that have no row."""
    loaded = []
    for path in sorted(Path(__file__).parent.glob("*.py")):
        if re.search(r"^CLAIMS\b", path.read_text(encoding="utf-8"), re.MULTILINE):
            spec = importlib.util.spec_from_file_location(f"record_of_{path.stem}", path)
            assert spec is not None
            assert spec.loader is not None
            module = importlib.util.module_from_spec(spec)
            spec.loader.exec_module(module)
            loaded.append(module)
    return tuple(loaded)


@cache
def values() -> tuple[Published, ...]:
    """Every value from outside that we have an answer to."""
    rows = [Published(**row) for row in read_table("published.csv")]
    return (*rows, *(row for room in rooms() for row in getattr(room, "VALUES", ())))


def claims() -> list[tuple[str, Callable[[], float]]]:
    """What computes our answer, beside the id of its row."""
    return [pair for room in rooms() for pair in room.CLAIMS.items()]


def answer(name: str) -> float:
    """Our answer to a row, in its unit."""
    return float(dict(claims())[name]())


def is_missed(row: Published) -> bool:
    """Whether a row states a deviation that is one."""
    return bool(row.deviation) and float(row.deviation) != 0.0


def table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    cells = [[str(cell).replace("|", "\\|") for cell in row] for row in rows]
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ["---"] * len(head), *cells))


def counted(labels: Sequence[str]) -> list[int]:
    count = Counter(labels)
    return [*(count[label] for label in LABELS), len(labels)]


def value_lines(rows: Sequence[Published]) -> list[list[str]]:
    """One line a row; ours has one place more than the finest that is printed of it."""
    lines = []
    for row in rows:
        finest = min(row.expected, row.deviation or row.expected, key=half_unit)
        places = len(finest.partition(".")[2]) + 1
        ours = answer(row.id)
        # + 0.0 leaves no minus before a nought
        off = f"{round(ours - float(row.expected), places) + 0.0:+.{places}f}"
        printed = f"{row.expected} {row.unit}".strip()
        where = f"{row.source}, {row.locator}"
        off += " (known)" if is_missed(row) else ""
        lines.append([row.quantity, printed, f"{ours:.{places}f}", off, row.label, where])
    return lines


def tests_of(folder: str) -> Iterator[tuple[Path, ast.Module]]:
    for path in sorted((TESTS / folder).glob("test_*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def functions(tree: ast.Module) -> dict[str, ast.FunctionDef]:
    return {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}


def first_sentence(text: str | None) -> str:
    """Of a docstring, in one line."""
    flat = " ".join((text or "").split())
    return re.split(r"(?<=\.) (?=[A-Z])", flat)[0].removesuffix(".")


def called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def agreement(test: ast.FunctionDef, known: dict[str, ast.FunctionDef]) -> str:
    """The tolerances that a test compares within, in what it calls too; or what it asserts."""
    seen, todo, within, bounds, words = {test.name}, [test], [], [], []
    while todo:
        now = todo.pop(0)
        if now is not test and any(isinstance(node, ast.Assert) for node in ast.walk(now)):
            names = [a.arg for a in now.args.args][len(now.args.args) - len(now.args.defaults) :]
            given = zip(names, now.args.defaults, strict=True)
            limits = ", ".join(f"{name} {ast.unparse(value)}" for name, value in given)
            words.append(f"{first_sentence(ast.get_docstring(now))} ({limits})")
        for node in ast.walk(now):
            if isinstance(node, ast.Call):
                name = called(node)
                if name in COMPARE:
                    said = [f"{k.arg} {ast.unparse(k.value)}" for k in node.keywords if k.arg]
                    said = [s for s in said if s.split()[0] in ("rel", "abs", "rtol", "atol")]
                    elsewhere = any(k.arg is None for k in node.keywords)
                    if said or not elsewhere:
                        within.append(" and ".join(said) or COMPARE[name])
                elif name in known and name not in seen:
                    seen.add(name)
                    todo.append(known[name])
            elif isinstance(node, ast.Assert) and isinstance(node.test, ast.Compare):
                orders = (ast.Lt, ast.LtE, ast.Gt, ast.GtE)
                if all(isinstance(op, orders) for op in node.test.ops):
                    bounds.append(ast.unparse(node.test))
    short = [bound for bound in dict.fromkeys(bounds) if len(bound) < 60]
    marked = [f"`{one}`" for one in dict.fromkeys(within)] or words or [f"`{b}`" for b in short]
    return "; ".join(marked) or "by what it asserts"


def cross_checks() -> Iterator[tuple[str, str, list[list[str]]]]:
    """File, what it says of itself, a line for each test."""
    for path, tree in tests_of("cross"):
        known = functions(tree)
        lines = [
            [
                name[5:].replace("_", " "),
                first_sentence(ast.get_docstring(node)),
                agreement(node, known),
            ]
            for name, node in known.items()
            if name.startswith("test_")
        ]
        yield path.name, first_sentence(ast.get_docstring(tree)), lines


def labelled(text: str) -> str:
    """The label that a text says in brackets, or nothing."""
    inside = " ".join(re.findall(r"\(([^()]*(?:\([^()]*\)[^()]*)*)\)", text))
    found = SAID.search(inside)
    return found[1] if found else ""


def values_in_tests() -> list[list[str]]:
    """Tests that hold a labelled value in their own lines, by what they say of it."""
    lines = []
    for folder in ("identity", "published", "cross", "door"):
        for path, tree in tests_of(folder):
            for name, node in functions(tree).items():
                text = " ".join((ast.get_docstring(node) or "").split())
                if label := labelled(text):
                    lines.append([f"{folder}/{path.name}", name[5:].replace("_", " "), text, label])
    return lines


def constants() -> list[list[str]]:
    """Constants of the package whose line of explanation says where they come from."""
    lines = []
    for path in sorted(PACKAGE.rglob("*.py")):
        module = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
        body = ast.parse(path.read_text(encoding="utf-8")).body
        for node, after in pairwise(body):
            if not isinstance(after, ast.Expr) or not isinstance(after.value, ast.Constant):
                continue
            targets = (
                node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
            )
            text = " ".join(str(after.value.value).split())
            label = labelled(text)
            if label and isinstance(targets[0], ast.Name):
                name = targets[0].id
                value = repr(getattr(importlib.import_module(module), name))
                value = value if len(value) <= 60 else "a table"
                lines.append([f"`{module.removeprefix('isolator.')}.{name}`", value, text, label])
    return lines


def measured() -> list[list[str]]:
    """Lines of measured.csv, and one for each command that has none."""
    with MEASURED.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    lines = [[row["command"], row["figure"], row["value"]] for row in rows]
    unknown = {row["command"] for row in rows} - set(COMMANDS)
    if unknown:
        raise SystemExit(f"{MEASURED.name}: {sorted(unknown)} is none of {list(COMMANDS)}")
    missing = [name for name in COMMANDS if name not in {row["command"] for row in rows}]
    return [*lines, *([name, COMMANDS[name], "not measured"] for name in missing)]


def page() -> str:
    """The whole page."""
    rows = values()
    missed = [row for row in rows if is_missed(row)]
    chapters = dict.fromkeys(row.chapter for row in rows)
    over = {name: taken_over_labels(name) for name in TAKEN_OVER}
    inside, rules, checks = values_in_tests(), constants(), list(cross_checks())
    counts = [
        ["values with our answer beside them", *counted([row.label for row in rows])],
        *(
            [f"rows of `data/{name}`, read as they stand", *counted(labels)]
            for name, labels in over.items()
        ),
        ["tests with values in their own lines", *counted([line[-1] for line in inside])],
        ["constants of the code", *counted([line[-1] for line in rules])],
    ]
    tests = sum(len(lines) for *_, lines in checks)
    parts = [
        "# The record",
        "Made by `python tests/published/record.py`; a test compares it. Do not edit it.",
        "What holds this package to the outside, value by value and check by check, and where it "
        "is known to miss. *Published* was read in a text that quotes the source, *memory* is "
        "recalled from it, *common practice* is a rule of the trade, *computed* comes from a "
        "method that is not of this package. Sources by key: `data/sources.csv`.",
        "## By label",
        table(["what", *LABELS, "all"], counts),
        f"{len(missed)} of the {len(rows)} values are missed by an amount that is stated and "
        f"tested; the others agree within half a unit of their last printed digit. {tests} tests "
        f"in {len(checks)} files hold the code against a second method.",
        "## Measured",
        table(["command", "figure", "value"], measured()),
        "## Values",
        "Off is our answer less the expected one: printed in the source where the label says "
        "published, by the formula of the source where it says computed.",
    ]
    for chapter in chapters:
        lines = value_lines([row for row in rows if row.chapter == chapter])
        head = ["quantity", "expected", "ours", "off", "label", "source"]
        parts += [f"### {chapter}", table(head, lines)]
    parts += [
        "### Read as they stand",
        "The package takes these from their tables, which have label and source in each row.",
        table(["table", "held by"], [[f"`data/{name}`", by] for name, by in TAKEN_OVER.items()]),
        "### In the lines of a test",
        table(["test", "name", "what it says", "label"], inside),
        "### Constants of the code",
        table(["constant", "value", "what it is", "label"], rules),
        "## Cross-checks",
        "What is held against what, and how closely: as the test compares it, or the inequality "
        "that it asserts.",
    ]
    for name, says, lines in checks:
        parts += [f"### {name}", f"{says}.", table(["test", "more", "within"], lines)]
    parts += [
        "## Known limits",
        table(
            ["about", "limit"], [[row["about"], row["limit"]] for row in read_table("limits.csv")]
        ),
        "## Known misses",
        table(
            ["value", "expected", "off", "cause"],
            [[row.quantity, row.expected, row.deviation, row.cause] for row in missed],
        ),
    ]
    return "\n\n".join(parts) + "\n"


def taken_over_labels(name: str) -> list[str]:
    """The label of each row; a line of a road has that of its road."""
    rows = read_table(name)
    if name != "road_lines.csv":
        return [row["label"] for row in rows]
    roads = {(row["road"], row["axis"]): row["lines label"] for row in read_table("roads.csv")}
    return [roads[row["road"], row["axis"]] for row in rows]


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare, and write nothing")
    text = page()
    if parser.parse_args().check:
        sys.exit(PAGE.read_text(encoding="utf-8") != text)
    PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__).parse_args()
    main()

"""Which slips in the physics would the tests not see: python tests/mutation/mutate.py [ROOM ...].

A mutant is a room with one slip: a sign, an operator, a comparison, a number, a function that has
an opposite, a condition turned round, a call left out. The tests of the room run once under
coverage, so that it is known which of them touch which line. Then each mutant gets a process of
its own, forked where all is imported and collected: the code of the mutated function is replaced
in place, and the tests that touch its line run, quickest first, until one fails. What no function
holds (a constant, a default), what runs while tests are collected, and every survivor of such a
line is tried once more in a process that imports the mutated file anew.
"""

from __future__ import annotations

import argparse
import ast
import csv
import functools
import gc
import importlib
import importlib.machinery
import json
import math
import os
import random
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass, replace
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any

import coverage
import pytest
from _pytest.runner import runtestprotocol

ROOT = Path(__file__).parents[2]
EXPLAINED = Path(__file__).with_name("explained.csv")
MEANT = 0.9
"""Share of the mutants of a room that the tests must kill."""
SLOW = 2.0
"""A test that takes longer is none of the focused ones. [s of processor time]"""
LIBRARIES = ("scipy.signal", "scipy.integrate", "scipy.optimize", "scipy.stats", "control", "pint")
"""Imported once, before coverage looks on and before a room gets its process."""
MEMORY = 6 * 2**30
"""What the process of one mutant may take. [bytes]"""

ROOMS: dict[str, str] = {
    "sdof": "identity/sdof published/record",
    "pulse": "identity/pulse cross/pulse published/pulse door/pulse published/record",
    "spectrum": "identity/spectrum",
    "handling": "identity/handling",
    "tipping": "identity/tipping",
    "curve": "identity/curve",
    "cushion": "identity/cushion cross/cushion door/cushion",
    "rubber": "published/rubber door/rubber published/record",
    "block": "published/block cross/elements published/record",
    "grommet": "published/grommet cross/elements identity/estimate published/record",
    "weights": "identity/weights identity/estimate",
    "sheet": "identity/thin_sheet cross/sheet",
    "lifting": "published/trip published/record",
    "sine": "cross/sine identity/sine",
    "heat": "cross/heat",
    "cable": "identity/cable",
    "suspension": "identity/suspension identity/rigid identity/hang published/rigid cross/pose",
    "seat": "identity/seat identity/hang",
    "vibration": "identity/vibration identity/rigid published/rigid cross/sine cross/response",
    "shock": "identity/shock identity/rigid identity/hang published/trip",
    "stepping": "identity/stepping identity/landing",
    "coupled": "identity/coupled identity/landing door/landing",
    "modal": "identity/modal",
    "landing": "identity/landing identity/modal door/landing",
    "base_pulse": "identity/base_pulse cross/base_pulse",
    "clearance": "identity/clearance",
    "knock": "identity/knock",
    "resonance": "identity/resonance cross/resonance identity/parts",
    "outcome": "identity/outcome",
    "leg": "identity/leg identity/response identity/walk",
    "response": "identity/response identity/leg",
    "falls": "identity/falls",
    "decay": "cross/decay identity/ringdown cross/ringdown",
    "ringdown": "identity/ringdown cross/ringdown published/bench published/record",
    "segments": "identity/segments",
    "pair": "identity/pair cross/pair published/bench published/record",
    "tones": "cross/pair",
    "enveloping": "identity/enveloping",
    "events": "identity/events",
    "dose": "identity/dose",
}
"""Which tests must kill the mutants of a room, beside the examples in its docstrings."""

BINARY: dict[type, type] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
COMPARISONS: dict[type, tuple[type, ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
OPPOSITES = (
    ("min", "max"),
    ("any", "all"),
    ("minimum", "maximum"),
    ("fmin", "fmax"),
    ("nanmin", "nanmax"),
    ("argmin", "argmax"),
    ("sin", "cos"),
    ("sinh", "cosh"),
    ("floor", "ceil"),
    ("zeros", "ones"),
    ("zeros_like", "ones_like"),
)
RENAMED = {one: other for pair in OPPOSITES for one, other in (pair, pair[::-1])}


@dataclass(frozen=True)
class Mutant:
    """One slip in one place of a room."""

    number: int  # in the room
    room: str
    function: str  # dotted, as __qualname__; empty for what no function holds
    first: int  # line where that function starts, with its decorators
    statement: ast.stmt
    lines: range  # of the statement
    before: str
    after: str
    node: ast.AST
    field: str
    index: int | None
    value: Any

    def key(self) -> tuple[str, str, str, str]:
        """What names it, whatever lines are added above it."""
        return self.room, self.function, self.before, self.after

    def text(self) -> str:
        """Where it is, and what it changes in a long statement."""
        pairs = enumerate(zip(self.before, self.after, strict=False))
        same = next((place for place, (old, new) in pairs if old != new), 0)
        start = max(0, same - 60)
        old, new = (text[start : same + 60] for text in (self.before, self.after))
        return f"{self.room}.py:{self.lines.start} {self.function}: {old}  ->  {new}"


def source(room: str) -> Path:
    return ROOT / "isolator" / f"{room}.py"


def slips(node: ast.AST) -> Iterator[tuple[str, int | None, Any]]:
    """What may be wrong in one node: field, place in it, and the wrong thing."""
    if isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in BINARY:
        yield "op", None, BINARY[type(node.op)]()
    elif isinstance(node, ast.Compare):
        for place, sign in enumerate(node.ops):
            for other in COMPARISONS[type(sign)]:
                yield "ops", place, other()
    elif isinstance(node, ast.BoolOp):
        yield "op", None, ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield "op", None, ast.UAdd()
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield "value", None, node.value + 1
    elif isinstance(node, ast.Constant) and type(node.value) is bool:
        yield "value", None, not node.value
    elif isinstance(node, ast.Attribute) and node.attr in RENAMED:
        yield "attr", None, RENAMED[node.attr]
    elif isinstance(node, ast.Name) and node.id in RENAMED and isinstance(node.ctx, ast.Load):
        yield "id", None, RENAMED[node.id]
    if isinstance(node, ast.If | ast.While | ast.IfExp):
        yield "test", None, ast.UnaryOp(ast.Not(), node.test)


def shown(statement: ast.stmt) -> str:
    """The statement on one line; only the head of one that holds others."""
    match statement:
        case ast.If() | ast.While():
            return f"{type(statement).__name__.lower()} {ast.unparse(statement.test)}:"
        case ast.For():
            return f"for {ast.unparse(statement.target)} in {ast.unparse(statement.iter)}:"
        case ast.With():
            return f"with {', '.join(ast.unparse(item) for item in statement.items)}:"
        case ast.FunctionDef():
            return f"def {statement.name}({ast.unparse(statement.args)}):"
    return " ".join(ast.unparse(statement).split())


def extent(statement: ast.stmt) -> range:
    """Lines of a statement, without those of the statements that it holds."""
    body = getattr(statement, "body", None)
    last = body[0].lineno - 1 if isinstance(body, list) else statement.end_lineno or 0
    return range(statement.lineno, max(last, statement.lineno) + 1)


def mutants(room: str, text: str | None = None) -> list[Mutant]:
    """All mutants of a room, in the order of its lines. Wording and annotations stay."""
    found: list[Mutant] = []

    def add(
        node: ast.AST,
        slip: tuple[str, int | None, Any],
        statement: ast.stmt,
        holder: tuple[str, int],
    ) -> None:
        field, index, value = slip
        before = shown(statement)
        old = put(node, field, index, value)
        after = "left out" if isinstance(value, ast.Pass) else shown(statement)
        put(node, field, index, old)
        lines = extent(statement)
        found.append(
            Mutant(0, room, *holder, statement, lines, before, after, node, field, index, value)
        )

    def walk(node: ast.AST, statement: ast.stmt, holder: tuple[str, int]) -> None:
        for slip in slips(node):
            add(node, slip, statement, holder)
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns", "decorator_list", "format_spec"):
                continue
            children = value if isinstance(value, list) else [value]
            for place, child in enumerate(children):
                if isinstance(child, ast.stmt):
                    enter(child, holder, (node, field, place))
                elif isinstance(child, ast.AST):
                    walk(child, statement, holder)

    def enter(
        statement: ast.stmt, holder: tuple[str, int], place: tuple[ast.AST, str, int]
    ) -> None:
        if isinstance(statement, ast.Import | ast.ImportFrom):
            return
        if isinstance(statement, ast.Expr):
            if isinstance(statement.value, ast.Constant):
                return  # a docstring
            if isinstance(statement.value, ast.Call):
                left_out = ast.copy_location(ast.Pass(), statement)
                add(place[0], (*place[1:], left_out), statement, holder)
        if isinstance(statement, ast.FunctionDef):
            walk(statement.args, statement, ("", 0))  # defaults belong to no function
            if not holder[1]:
                first = min([statement.lineno, *(d.lineno for d in statement.decorator_list)])
                holder = (f"{holder[0]}{statement.name}", first)
            for index, child in enumerate(statement.body):
                enter(child, holder, (statement, "body", index))
        elif isinstance(statement, ast.ClassDef):
            for index, child in enumerate(statement.body):
                name = holder if holder[1] else (f"{holder[0]}{statement.name}.", 0)
                enter(child, name, (statement, "body", index))
        else:
            walk(statement, statement, holder)

    tree = ast.parse(source(room).read_text(encoding="utf-8") if text is None else text)
    for index, statement in enumerate(tree.body):
        enter(statement, ("", 0), (tree, "body", index))
    TREES[room] = tree
    found.sort(key=lambda mutant: (mutant.lines.start, mutant.after))
    return [replace(mutant, number=number) for number, mutant in enumerate(found)]


TREES: dict[str, ast.Module] = {}
"""The trees that hold the nodes of the mutants."""


def put(node: ast.AST, field: str, index: int | None, value: Any) -> Any:
    """Set what a field holds, and give back what it held."""
    if index is None:
        old = getattr(node, field)
        setattr(node, field, value)
    else:
        old = getattr(node, field)[index]
        getattr(node, field)[index] = value
    return old


def compiled(mutant: Mutant, alone: ast.stmt | None = None) -> CodeType:
    """The whole room with the slip, or one statement alone."""
    old = put(mutant.node, mutant.field, mutant.index, mutant.value)
    tree = TREES[mutant.room] if alone is None else ast.Module([alone], type_ignores=[])
    tree = ast.fix_missing_locations(tree)
    code = compile(tree, str(source(mutant.room)), "exec")
    put(mutant.node, mutant.field, mutant.index, old)
    return code


def inside(code: CodeType, name: str, first: int) -> CodeType | None:
    """The code of one function, however deep it stands."""
    for part in code.co_consts:
        if isinstance(part, CodeType):
            if part.co_qualname == name and part.co_firstlineno == first:
                return part
            if deeper := inside(part, name, first):
                return deeper
    return None


def targets(statement: ast.stmt) -> list[ast.Name]:
    """Names that a statement gives a value."""
    found = statement.targets if isinstance(statement, ast.Assign) else []
    found = [statement.target] if isinstance(statement, ast.AnnAssign) else found
    return [target for target in found if isinstance(target, ast.Name)]


def uses_of(tree: ast.Module, names: set[str]) -> set[int]:
    """Lines of a room that read one of those names."""
    return {
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and node.id in names and isinstance(node.ctx, ast.Load)
    }


def ours(module: ModuleType) -> bool:
    return str(getattr(module, "__file__", None)).startswith(str(ROOT))


class Steady:
    """A plugin by which hypothesis draws the same each time."""

    def pytest_configure(self) -> None:
        from hypothesis import settings  # pytest wants to be the first that imports it

        settings.register_profile("same each time", derandomize=True, deadline=None, database=None)
        settings.load_profile("same each time")


class Trials(Steady):
    """A plugin that stands in for the run of the tests: it learns, then tries each mutant."""

    def __init__(self, chosen: list[Mutant], nursery: Nursery) -> None:
        self.chosen = chosen
        self.nursery = nursery
        self.survivors: list[Mutant] = []
        self.coverage = coverage.Coverage(
            data_file=None, config_file=False, source_pkgs=["isolator"], messages=False
        )

    def pytest_collection(self) -> None:
        self.coverage.start()
        self.coverage.switch_context("import")

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        for item in session.items:
            if isinstance(item, pytest.DoctestItem):
                item.isolator_globs = dict(item.dtest.globs)  # type: ignore[attr-defined]

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.functions: dict[tuple[str, int], list[FunctionType]] = {}
        self.caches = []
        path = str(source(self.chosen[0].room))
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType) and thing.__code__.co_filename == path:
                key = thing.__code__.co_qualname, thing.__code__.co_firstlineno
                self.functions.setdefault(key, []).append(thing)
            elif isinstance(thing, functools._lru_cache_wrapper):
                code = getattr(thing.__wrapped__, "__code__", None)
                if code and code.co_filename.startswith(str(ROOT)):
                    self.caches.append(thing)
        self.holders = [vars(module) for module in sys.modules.values() if ours(module)]
        self.holders += [getattr(item, "isolator_globs", {}) for item in session.items]
        self.learn(session.items)
        self.sound: dict[str, bool] = {}
        for mutant in self.chosen:
            if not self.killed(mutant):
                self.survivors.append(mutant)
        return True

    def learn(self, items: list[pytest.Item]) -> None:
        """Which quick tests touch which line, and what they cost."""
        self.cost: dict[str, float] = {}
        self.items = {item.nodeid: item for item in items}

        def too_long(number: int, frame: FrameType | None) -> None:
            raise TimeoutError

        signal.signal(signal.SIGPROF, too_long)
        for item in items:
            self.coverage.switch_context(item.nodeid)
            self.forget()
            before = time.process_time()
            signal.setitimer(signal.ITIMER_PROF, SLOW)
            good = passed(item)
            signal.setitimer(signal.ITIMER_PROF, 0)
            took = time.process_time() - before
            if good and took < SLOW:
                self.cost[item.nodeid] = took
        self.coverage.stop()
        room = str(source(self.chosen[0].room))
        self.contexts = self.coverage.get_data().contexts_by_lineno(room)

    def killed(self, mutant: Mutant) -> bool:
        tests = self.touching(mutant)
        change = self.change(mutant)
        while change:
            status, killer = self.forked(tests, change)
            if not status:
                break
            if killer is None or self.holds_without(killer):
                return True
            tests.remove(killer)
        if change and mutant.function and not self.imported(mutant.lines):
            return False
        return self.nursery.killed(mutant, tests, 30.0 + 5.0 * sum(map(self.cost.get, tests)))

    def imported(self, lines: Iterable[int]) -> bool:
        return any("import" in self.contexts.get(line, ()) for line in lines)

    def touching(self, mutant: Mutant) -> list[str]:
        """Tests that run a line of the mutant, or one that reads the constant; quickest first."""
        lines: Iterable[int] = mutant.lines
        found = set(self.cost)  # a class may use a constant where no line of the room runs
        if not mutant.function:
            lines = uses_of(TREES[mutant.room], {name.id for name in targets(mutant.statement)})
        if lines and (mutant.function or not self.imported(lines)):
            found &= {test for line in lines for test in self.contexts.get(line, ())}
        return sorted(found, key=lambda test: self.cost[test])

    def change(self, mutant: Mutant) -> Callable[[], None] | None:
        """What makes the loaded room the mutant, None where only another import can."""
        module = sys.modules[f"isolator.{mutant.room}"]
        if mutant.function:
            functions = self.functions.get((mutant.function, mutant.first), [])
            code = inside(compiled(mutant), mutant.function, mutant.first)

            def change_code() -> None:
                for function in functions:
                    function.__code__ = code

            return change_code if functions and code else None
        names = targets(mutant.statement)
        if mutant.statement not in TREES[mutant.room].body or len(names) != 1:
            return None
        old = getattr(module, names[0].id)

        def change_constant() -> None:
            scope = dict(vars(module))
            exec(compiled(mutant, mutant.statement), scope)
            for holder in self.holders:
                for name in [name for name, value in holder.items() if value is old]:
                    holder[name] = scope[names[0].id]

        return change_constant

    def forget(self) -> None:
        """Clear what functions remember, so that each test runs what it needs."""
        for cache in self.caches:
            cache.cache_clear()

    def holds_without(self, test: str) -> bool:
        """Whether a test passes a second time where nothing is mutated."""
        if test not in self.sound:
            self.sound[test] = not self.forked([test], lambda: None)[0]
            if not self.sound[test]:
                self.cost.pop(test)
        return self.sound[test]

    def forked(self, tests: list[str], change: Callable[[], None]) -> tuple[int, str | None]:
        """Status of a process that runs tests on what is changed, and which test failed."""
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            limit = math.ceil(5.0 + 5.0 * sum(self.cost.get(test, 0.0) for test in tests))
            quiet = os.open(os.devnull, os.O_RDWR)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
            change()
            self.forget()
            for place, test in enumerate(tests):
                if not passed(self.items[test]):
                    os.write(writing, str(place).encode())
                    os._exit(1)
            os._exit(0)
        os.close(writing)
        _, status = os.waitpid(child, 0)
        place = os.read(reading, 20)
        os.close(reading)
        return status, tests[int(place)] if place else None


def passed(item: pytest.Item) -> bool:
    """Run one test, which may have run before."""
    if isinstance(item, pytest.DoctestItem):
        item.dtest.globs.update(item.isolator_globs)  # type: ignore[attr-defined]
    return not any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))


class Only(Steady):
    """A plugin that leaves only some tests."""

    def __init__(self, tests: set[str]) -> None:
        self.tests = tests

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if item.nodeid in self.tests]


def arguments(room: str) -> list[str]:
    """What pytest gets for the tests of a room."""
    options = ["-q", "-s", "-o", "addopts=", "--doctest-modules", "--import-mode=importlib"]
    options += ["-m", "not heavy", "-p", "no:cacheprovider", "--rootdir", str(ROOT)]
    folders = [name.split("/") for name in ROOMS[room].split()]
    files = [f"{ROOT}/tests/{folder}/test_{name}.py" for folder, name in folders]
    return [*options, str(source(room)), *files]


class Nursery:
    """A process that has not imported the package yet; its children import a mutant of it."""

    def __init__(self, room: str) -> None:
        asked, self.asking = os.pipe()
        self.told, telling = os.pipe()
        if os.fork():
            os.close(asked)
            os.close(telling)
            return
        os.close(self.asking)
        os.close(self.told)
        with os.fdopen(asked, encoding="utf-8") as questions:
            for question in questions:
                number, limit, tests = json.loads(question)
                child = os.fork()
                if not child:
                    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
                    os._exit(anew(room, number, set(tests)))
                os.write(telling, b"1" if os.waitpid(child, 0)[1] else b"0")
        os._exit(0)

    def killed(self, mutant: Mutant, tests: list[str], limit: float) -> bool:
        """Whether tests fail in a process that imports the mutated room."""
        question = json.dumps([mutant.number, math.ceil(limit), tests])
        os.write(self.asking, question.encode() + b"\n")
        return os.read(self.told, 1) == b"1"


def anew(room: str, number: int, tests: set[str]) -> int:
    """Run tests where the import of a room gives its mutant; the status is that of pytest."""
    code = compiled(mutants(room)[number])
    read = importlib.machinery.SourceFileLoader.get_code

    def mutated(self: importlib.machinery.SourceFileLoader, name: str) -> CodeType | None:
        return code if name == f"isolator.{room}" else read(self, name)

    importlib.machinery.SourceFileLoader.get_code = mutated  # type: ignore[method-assign]
    quiet = os.open(os.devnull, os.O_RDWR)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    importlib.import_module(f"isolator.{room}")  # now: pytest has a loader of its own for it
    return pytest.main([*arguments(room), "-x"], plugins=[Only(tests)])


def explained() -> dict[tuple[str, str, str, str], str]:
    """Reasons of the mutants that no test can kill: room, function, statement, slip."""
    with EXPLAINED.open(encoding="utf-8", newline="") as file:
        return {
            (row["room"], row["function"], row["before"], row["after"]): row["reason"]
            for row in csv.DictReader(file)
        }


def tried(room: str, sample: int | None, seed: int) -> tuple[int, list[Mutant]]:
    """How many mutants of a room were tried, and which survived."""
    chosen = mutants(room)
    if sample is not None and sample < len(chosen):
        chosen = random.Random(f"{seed} {room}").sample(chosen, sample)
    trials = Trials(sorted(chosen, key=lambda mutant: mutant.number), Nursery(room))
    with open(os.devnull, "w") as quiet, redirect_stdout(quiet):
        status = pytest.main(arguments(room), plugins=[trials])
    if status != pytest.ExitCode.OK:
        raise RuntimeError(f"{room}: the tests could not be run: {status!r}")
    return len(chosen), trials.survivors


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help="all rooms of the physics if none")
    parser.add_argument("--sample", type=int, metavar="N", help="so many mutants of each room")
    parser.add_argument("--seed", type=int, default=1, help="of the sample (1)")
    given = parser.parse_args()
    if unknown := set(given.rooms) - set(ROOMS):
        parser.error(f"{', '.join(sorted(unknown))}: no such room; there are {', '.join(ROOMS)}")
    for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(threads, "1")  # a forked process has no threads to wait for
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    for name in LIBRARIES:
        importlib.import_module(name)
    worst = 0
    for room in given.rooms or ROOMS:
        child = os.fork()  # each room in a process of its own, with what its tests import
        if not child:
            os._exit(judged(room, given.sample, given.seed))
        worst = max(worst, os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
    return worst


def judged(room: str, sample: int | None, seed: int) -> int:
    """Print what became of the mutants of a room; 1 if too many survive."""
    count, survivors = tried(room, sample, seed)
    reasons = explained()
    unexplained = [mutant for mutant in survivors if mutant.key() not in reasons]
    killed, known = count - len(survivors), len(survivors) - len(unexplained)
    share = killed / (count - known) if count > known else 1.0
    print(f"{room:12} {count:5} tried {killed:5} killed {known:4} explained {share:7.1%}")
    for mutant in unexplained:
        print(f"    {mutant.text()}")
    sys.stdout.flush()
    return int(share < MEANT)


if __name__ == "__main__":
    sys.exit(main())

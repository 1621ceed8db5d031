"""Many designs at once: all screened side by side, the best judged in full, ranked with reasons.

A design is screened as stated, with its falls by their energy, as given and under each condition
of the brief. What screens best is then judged as `assess` judges it: at all that may be off, with
its falls in time. A design passes only if it was judged in full.
"""

from __future__ import annotations

import json
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from isolator.assessment import Assessment
from isolator.brief import Brief, brief_of
from isolator.brief.case import GAPS
from isolator.checks import Row, answer, ask_all, waiver
from isolator.design import MAIN, Design
from isolator.fields import shown
from isolator.files import alone
from isolator.grid import Candidate
from isolator.judging import under, whole_verdict
from isolator.mount import GRADES
from isolator.response import Response, respond
from isolator.units import FloatArray, InputError, number
from isolator.verdict import Check, whole, worst
from isolator.version import VERSION

if TYPE_CHECKING:
    import pandas as pd

CHUNK = 128
"""Designs that are screened side by side."""

AHEAD = 64
"""Chunks that wait for an executor at a time."""

IN_FULL = 12
"""How many of the best are judged in full at the most, unless told otherwise."""

ENOUGH = 3
"""Judging stops when so many pass."""

TOGETHER = 4
"""So many are judged before it is asked whether enough pass, wherever they are judged."""

RESOLUTION = 0.01
"""Margins are compared in steps of this. [-]"""

MOST = 200_000
"""Larger grids are refused unless they are asked for."""

COLUMNS = (
    "rank", "status", "judged", "mounts", "pattern", "stacking", "count", "margin", "worst",
    "failing", "open", "first", "by", "reason", "grade", "in_stock", "bounce_hz", "travel_mm",
    "vibration_margin", "fall_margin", "candidate",
)  # fmt: skip
"""Of the table, see `choose`."""

_NO_DROP = {"drop": None}
_SHAKES = ("isolation/", "vibration limit/", "vibration travel/", "part limit/", "sine ")
_FALLS = ("drop ", "slap-down ", "topple ", "set-down ")
_ORDER = {
    "pass": 0, "incomplete": 1, "screened": 2, "fail": 3, "fails the screen": 4, "unusable": 5,
}  # fmt: skip

A = TypeVar("A")
B = TypeVar("B")


def choose(
    case: Brief | str | Path,
    *,
    in_full: int = IN_FULL,
    most: int = MOST,
    executor: Executor | None = None,
    keep: str | Path | None = None,
    progress: bool = False,
) -> pd.DataFrame:
    """Try all mounts, patterns and ways to stack of a brief; what passes is ranked first.

    Parameters
    ----------
    case : Brief, or the path of a brief
        Its ``[choose]`` says what is tried; without it, all kinds of mounts at its own places.
    in_full : int
        How many of those that screen best are judged in full at the most; judging ends when
        three pass.
    most : int
        A grid with more designs is refused.
    executor : concurrent.futures.Executor, optional
        Where chunks are screened and designs judged: a pool of processes, or that of a cluster.
    keep : path, optional
        File to which every result is written as it comes; a sweep that was interrupted goes on
        from it, with the same result.
    progress : bool
        Show a bar.

    Returns
    -------
    pandas.DataFrame
        A row for each design, best first. ``status`` is that of a verdict, ``judged`` says how:
        in full, screened, or unusable. ``margin`` is the least of all required checks and
        conditions, of the check ``worst``; ``failing`` and ``open`` count those that fail or are
        incomplete; ``first`` is the first check of the list that fails, ``by`` what share of its
        capacity it lacks, ``reason`` its sentence. ``grade`` is the worst of its mounts,
        ``in_stock`` whether the drawer has enough of them, None if not known. ``bounce_hz``,
        ``travel_mm`` (most that a mount moves in a fall, by energy), ``vibration_margin`` and
        ``fall_margin`` are those of the screen. ``candidate`` is what `chosen` takes.

    Raises
    ------
    InputError
        As `read_brief`; a grid that is too large; a file of another brief.
    """
    brief = brief_of(case)
    count, in_full = brief.grid.count(), int(number(in_full, "in_full", 1, 1e6))
    if count > most:
        raise InputError(_too_many(brief, count, most))
    with _Store.opened(None if keep is None else Path(keep), brief) as store:
        return _as_table(_all(brief, store, in_full, executor, progress))


def _all(
    brief: Brief, store: _Store, in_full: int, executor: Executor | None, progress: bool
) -> list[dict[str, Any]]:
    """Screen what is not in the store, and judge the best of it in full."""
    count = brief.grid.count()
    chunks = -(-count // CHUNK)
    rows: list[dict[str, Any]] = []
    todo = [k for k in range(chunks) if str(k) not in store.screened]
    fresh = _mapped(executor, partial(screened, brief), _parts(brief, todo))
    for k, found in zip(todo, _with_bar(fresh, len(todo), "screened", progress), strict=True):
        store.put("screened", str(k), found)
    for k in range(chunks):
        rows += store.screened[str(k)]
    order = sorted(range(count), key=lambda i: _rank(rows[i]))
    order = [i for i in order if rows[i]["status"] != "unusable"][:in_full]
    passing = 0
    bar = _bar(len(order), "judged", progress)
    for start in range(0, len(order), TOGETHER):
        some = order[start : start + TOGETHER]
        todo = [i for i in some if str(i) not in store.judged]
        ask = [candidate_of(rows[i]["candidate"]) for i in todo]
        said = _mapped(executor, partial(in_detail, brief), ask)
        for i, own in zip(todo, said, strict=True):
            store.put("judged", str(i), own)
        for i in some:
            rows[i] = rows[i] | store.judged[str(i)]
            passing += rows[i]["status"] == "pass"
        bar.update(len(some))
        if passing >= ENOUGH:
            break
    bar.close()
    return rows


@contextmanager
def cluster(address: str, *, wait: float = 10.0) -> Iterator[Executor]:
    """The executor of a Dask cluster, for `choose`.

    Parameters
    ----------
    address : str
        Of its scheduler, ``tcp://192.0.2.7:8786``.
    wait : float
        How long it may take to answer. [s]

    Raises
    ------
    InputError
        ``distributed`` is not installed, or nothing answers there.
    """
    try:
        import distributed
    except ImportError:
        raise InputError(
            "--cluster: the package distributed is not installed; pip install distributed"
        ) from None
    try:
        make: Any = distributed.Client
        client = make(address, timeout=wait, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(
            f"--cluster {shown(address)[1:-1]}: no scheduler answers there "
            f"({str(error)[:80] or type(error).__name__}); start one with dask scheduler, or leave "
            "--cluster out"
        ) from None
    with client:
        yield client.get_executor()


def chosen(case: Brief | str | Path, candidate: Sequence[Any]) -> Brief:
    """The brief with a design of the table in the place of its own mounts.

    Parameters
    ----------
    case : Brief, or the path of a brief
    candidate : sequence
        Of the column ``candidate`` of a row.
    """
    brief = brief_of(case)
    return brief.changed("mounts", brief.grid.table(candidate_of(candidate), brief.text["mounts"]))


def candidate_of(given: Sequence[Any]) -> Candidate:
    """The candidate of a row, which plain data hold in lists."""
    pattern, stacking, kinds = given
    return Candidate(pattern, stacking, tuple(kinds))


def _as_table(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    import pandas as pd

    ranked = sorted(rows, key=_rank)
    table = pd.DataFrame([dict(row) for row in ranked], columns=list(COLUMNS))
    table["rank"] = np.arange(1, len(table) + 1)
    return table


def _rank(row: Mapping[str, Any]) -> tuple[Any, ...]:
    """What passes first, then the larger margin, the better known, what is in stock, fewer."""
    status = str(row["status"])
    if status == "incomplete" and row["judged"] != "in full":
        status = "screened"
    if status == "fail" and row["judged"] != "in full":
        status = "fails the screen"
    margin = row["margin"]
    steps = -round(margin / RESOLUTION) if margin is not None and np.isfinite(margin) else 10**9
    grade = GRADES.index(row["grade"]) if row["grade"] in GRADES else len(GRADES)
    return _ORDER[status], steps, grade, not row["in_stock"], row["count"], row["candidate"]


# Judging, here or anywhere else: functions of a brief and of plain data, which travel.


def screened(brief: Brief, candidates: Sequence[Candidate]) -> list[dict[str, Any]]:
    """Screen some designs side by side; a row for each, in their order."""
    out: list[dict[str, Any] | None] = [None] * len(candidates)
    alike: dict[int, list[tuple[int, Design]]] = {}
    for k, candidate in enumerate(candidates):
        try:
            design = replace(brief.design, places=brief.grid.places(candidate))
        except InputError as error:
            out[k] = _start(brief, candidate) | {"status": "unusable", "reason": error.lines[0]}
            continue
        alike.setdefault(len(design.places), []).append((k, design))
    for group in alike.values():
        screen = Screen.of(brief, [design for _, design in group])
        for i, (k, _) in enumerate(group):
            out[k] = _start(brief, candidates[k]) | screen.row(i)
    return [row for row in out if row is not None]


def in_detail(brief: Brief, candidate: Candidate) -> dict[str, Any]:
    """Judge one design in full; what changes in its row."""
    design = replace(brief.design, places=brief.grid.places(candidate))
    checks = whole_verdict({MAIN: design, **brief.frames})[2]
    return _said(checks) | {"judged": "in full", "status": whole(checks)}


def _said(checks: Sequence[Check]) -> dict[str, Any]:
    """What a row says of checks."""
    required = [check for check in checks if not check.waived]
    failing = [check for check in required if check.status == "fail"]
    least = next(iter(worst(checks, 1)), None)
    margin = None if least is None else (-np.inf if least.margin is None else least.margin)
    first = failing[0] if failing else None
    return {
        "margin": None if margin is None else float(margin),
        "worst": "" if least is None else least.id,
        "failing": len(failing),
        "open": sum(check.status == "incomplete" for check in required),
        "first": "" if first is None else first.id,
        "by": None if first is None or first.margin is None else -first.margin,
        "reason": "" if first is None else first.reason,
    }


def _in_stock(each: Sequence[tuple[int | None, int]]) -> bool | None:
    """Whether there are enough of every kind, of which so many are wanted; None if not known."""
    if any(there is not None and there < wanted for there, wanted in each):
        return False
    return None if any(there is None for there, _ in each) else True


def _start(brief: Brief, candidate: Candidate) -> dict[str, Any]:
    """What a row says before anything is computed."""
    need = {name: candidate.kinds.count(name) for name in candidate.kinds}
    each = 1 if candidate.stacking == "one" else 2
    kinds = [brief.grid.mounts[name] for name in need]
    grades = [GRADES.index(kind.grade) for kind in kinds if kind.grade is not None]
    return {
        "status": "incomplete",
        "judged": "unusable",
        "mounts": candidate.mounts,
        "pattern": candidate.pattern,
        "stacking": candidate.stacking,
        "count": each * len(candidate.kinds),
        "margin": None,
        "worst": "",
        "failing": 0,
        "open": 0,
        "first": "",
        "by": None,
        "reason": "",
        "grade": GRADES[max(grades)] if len(grades) == len(kinds) else "",
        "in_stock": _in_stock([(kind.stock, each * need[kind.name]) for kind in kinds]),
        "bounce_hz": None,
        "travel_mm": None,
        "vibration_margin": None,
        "fall_margin": None,
        "candidate": [candidate.pattern, candidate.stacking, list(candidate.kinds)],
    }


@dataclass(frozen=True)
class Screen:
    """Designs (b,) as stated and under conditions, falls by energy: every check of each.

    Attributes
    ----------
    brief : Brief
    bodies : sequence of mappings of name to Response
        As stated, then under each condition: the payload's of (b,), further bodies' of (1,).
    ids : sequence of str
        Of the checks, those under conditions after those as stated.
    asked : sequence of str
        The same without the names of bodies and conditions.
    status : (b, r) array of words
    margin : (b, r) array
        nan where it is unknown.
    required : (r,) bool array
    answers : sequence of functions of the index of a design
        The check itself.
    """

    brief: Brief
    bodies: Sequence[Mapping[str, Response]]
    ids: Sequence[str]
    asked: Sequence[str]
    status: np.ndarray[Any, Any]
    margin: FloatArray
    required: np.ndarray[Any, Any]
    answers: Sequence[Callable[[int], Check]]

    @classmethod
    def of(cls, brief: Brief, designs: Sequence[Design], before: Screen | None = None) -> Screen:
        """Run the kernels for designs of a brief with as many mounts each.

        With the screen of the same designs in a brief `before` this one, what legs do is taken
        from there where it does not depend on what is different.
        """
        known, dropped = ([], []) if before is None else _same_legs(brief, before.brief)
        count = len(designs)
        ids, asked, required, status, margin = [], [], [], [], []
        answers = list[Callable[[int], Check]]()
        bodies = {MAIN: designs} | {name: [frame] for name, frame in brief.frames.items()}
        every = list[Mapping[str, Response]]()
        for n, condition in enumerate((None, *brief.design.conditions)):
            found = {
                name: respond(
                    [d if condition is None else under(condition, name, d) for d in some],
                    {k: before.bodies[n][name].legs[k] for k in known} if before else None,
                    dropped,
                )
                for name, some in bodies.items()
            }
            every.append(found)
            off = condition is not None and waiver(brief.design, f"condition/{condition.name}")
            for name, rows in ask_all(found, dict.fromkeys(found, 1)).items():
                body = found.get(name, found[MAIN])
                for row in rows:
                    ids.append(row.id if condition is None else f"{condition.name}: {row.id}")
                    asked.append(row.id if name == MAIN else row.id.removeprefix(f"{name}: "))
                    required.append(not off and not waiver(body.designs[0], row.id))
                    status.append(np.broadcast_to(row.status(), count))
                    margin.append(np.broadcast_to(row.margin(), count))
                    answers.append(partial(_answer, body, row))
        return cls(
            brief=brief,
            bodies=every,
            ids=ids,
            asked=asked,
            status=np.stack(status, axis=1),
            margin=np.stack(margin, axis=1),
            required=np.array(required),
            answers=answers,
        )

    @property
    def response(self) -> Response:
        """Of the payload as stated, (b,)."""
        return self.bodies[0][MAIN]

    @cached_property
    def only(self) -> Assessment:
        """The verdict on the first design, which is the only one."""
        stated = dict(self.bodies[0])
        checks = [
            replace(ask(0), id=name) for name, ask in zip(self.ids, self.answers, strict=True)
        ]
        return Assessment(
            design=self.response.designs[0],
            brief=self.brief,
            response=stated.pop(MAIN),
            frames=stated,
            tried=self.bodies[0],
            checks=checks,
            status=whole(checks),
            change=None,
            leverages=(),
            strips=(),
        )

    @cached_property
    def _kinds(self) -> dict[tuple[str, ...], list[int]]:
        """Required checks on vibration and on falls, by the starts of their ids."""
        every = list(enumerate(self.asked))
        return {
            starts: [k for k, own in every if self.required[k] and own.startswith(starts)]
            for starts in (_SHAKES, _FALLS)
        }

    def _least(self, i: int, starts: tuple[str, ...]) -> float | None:
        """The least margin of required checks of some kinds, None if none has one."""
        known = self.margin[i, self._kinds[starts]]
        known = known[~np.isnan(known)]
        return float(known.min()) if known.size else None

    def row(self, i: int) -> dict[str, Any]:
        """What the row of a design says."""
        status = np.where(self.required, self.status[i], "")
        fails = np.flatnonzero(status == "fail")
        margin = np.where(status == "fail", np.nan_to_num(self.margin[i], nan=-np.inf), np.nan)
        margin = np.where(status == "pass", self.margin[i], margin)
        known = np.flatnonzero(~np.isnan(margin))
        least = int(known[margin[known].argmin()]) if known.size else None
        first = self.answers[fails[0]](i) if fails.size else None
        moved = [
            float(np.where(np.isfinite(fall.mounts[i]), fall.mounts[i], 0.0).max())
            for leg in self.response.legs
            for fall in leg.falls
        ]
        bounce = float(self.response.leg_modes[i, 0, 1])
        return {
            "status": "fail" if fails.size else "incomplete",
            "judged": "screened",
            "margin": None if least is None else float(margin[least]),
            "worst": "" if least is None else self.ids[least],
            "failing": int(fails.size),
            "open": int((status == "incomplete").sum()),
            "first": self.ids[fails[0]] if fails.size else "",
            "by": None if first is None or first.margin is None else -first.margin,
            "reason": "" if first is None else first.reason,
            "bounce_hz": bounce if np.isfinite(bounce) else None,
            "travel_mm": 1e3 * max(moved) if moved else None,
            "vibration_margin": self._least(i, _SHAKES),
            "fall_margin": self._least(i, _FALLS),
        }


def glance(brief: Brief) -> Assessment:
    """The brief's own design as designs are screened: as stated, falls by energy.

    In an instant, where `assess` takes its time: nothing is tried that may be off, no fall is
    followed in time, and no change is looked for. Checks under a condition have its name before
    their ids.

    Parameters
    ----------
    brief : Brief

    Examples
    --------
    >>> from isolator.sources import data_file
    >>> starter = brief_of(str(data_file("starter/case.toml")))
    >>> glance(starter).status
    'pass'
    """
    return Screen.of(brief, [brief.design]).only


def _same_legs(brief: Brief, before: Brief) -> tuple[list[int], list[int]]:
    """Indices of legs that are the same in two briefs but for the drop, and where it is another.

    None where the briefs differ in more than legs and the gaps of the case.
    """

    def beside(text: Mapping[str, Any]) -> list[Any]:
        case = {key: value for key, value in text.get("case", {}).items() if key not in GAPS}
        return [case, {key: value for key, value in text.items() if key not in ("leg", "case")}]

    if brief.folder is not before.folder or beside(brief.text) != beside(before.text):
        return [], []
    both = list(zip(brief.text["leg"], before.text["leg"], strict=False))
    known = [n for n, (own, old) in enumerate(both) if own | _NO_DROP == old | _NO_DROP]
    return known, [n for n in known if both[n][0] != both[n][1]]


def _answer(body: Response, row: Row, i: int) -> Check:
    return answer(body, row, i if len(body.designs) > 1 else 0)


# Chunks, here or elsewhere, and what is kept of them.


def _parts(brief: Brief, which: Sequence[int]) -> Iterator[list[Candidate]]:
    """The chunks of the grid with these numbers."""
    at, every = 0, brief.grid.candidates()
    for chunk in which:
        for _ in islice(every, (chunk - at) * CHUNK):
            pass
        yield list(islice(every, CHUNK))
        at = chunk + 1


def _mapped(executor: Executor | None, work: Callable[[A], B], over: Iterable[A]) -> Iterator[B]:
    """Results in order: here, or wherever the executor works, a few ahead of what was read."""
    if executor is None:
        yield from map(work, over)
        return
    waiting: deque[Future[B]] = deque()
    try:
        for one in over:
            waiting.append(executor.submit(work, one))
            if len(waiting) >= AHEAD:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BrokenExecutor:
        raise InputError(
            "choose: a process was lost, killed or out of memory; call again with fewer of them "
            "(--jobs), and what was kept (--keep) is not done once more"
        ) from None
    finally:
        for future in waiting:
            future.cancel()


def _bar(total: int, what: str, show: bool) -> Any:
    from tqdm.auto import tqdm

    return tqdm(total=total, desc=what, disable=not show, leave=False)


def _with_bar(found: Iterable[B], total: int, what: str, show: bool) -> Iterator[B]:
    bar = _bar(total, what, show)
    for one in found:
        yield one
        bar.update()
    bar.close()


def _too_many(brief: Brief, count: int, most: int) -> str:
    """What so large a grid would take, and how to thin it."""
    some = list(islice(brief.grid.candidates(), 16))
    start = time.perf_counter()
    screened(brief, some)
    hours = count * (time.perf_counter() - start) / len(some) / 3600
    grid = brief.grid
    return (
        f"choose: {count:.3g} designs ({len(grid.mounts)} kinds, {len(grid.patterns)} patterns, "
        f"{len(grid.stacking)} ways to stack, up to {grid.kinds} kinds in one), at most {most} "
        f"are tried: about {hours:.2g} hours on one core here and {count * 2e-6:.2g} GB of table; "
        "name fewer in choose.mounts, leave out choose.pattern, set choose.kinds lower, or ask "
        "for more with --most"
    )


@dataclass
class _Store:
    """Rows as they come, on disk if there is a file: a line of JSON for each.

    Attributes
    ----------
    path : Path or None
    screened : dict of the number of a chunk to its rows
    judged : dict of the index of a design to what changes in its row
    """

    path: Path | None
    screened: dict[str, Any]
    judged: dict[str, Any]

    @classmethod
    @contextmanager
    def opened(cls, path: Path | None, brief: Brief) -> Iterator[_Store]:
        """A new store, or one that goes on where it stopped; no other run writes it meanwhile."""
        with ExitStack() as held:
            if path is not None:
                try:
                    if path.exists() and not path.is_file():
                        raise OSError(0, "not a plain file")
                    path.touch()
                    held.enter_context(alone(path, wait=False))
                except BlockingIOError:
                    raise InputError(
                        f"keep = {shown(str(path))}: another run is writing it; wait for that one, "
                        "or name another file"
                    ) from None
                except (OSError, ValueError) as error:
                    raise _unusable(path, error) from None
            yield cls._of(path, brief)

    @classmethod
    def _of(cls, path: Path | None, brief: Brief) -> _Store:
        out = cls(path, {}, {})
        if path is None:
            return out
        head = {
            "by": VERSION,
            "of": brief.fingerprint(),
            "chunk": CHUNK,
            "count": brief.grid.count(),
        }
        first = json.dumps(head) + "\n"
        try:
            with path.open(encoding="utf-8") as file:
                text = file.read(len(first))
                if text == first:  # what is not ours may have no end
                    text += file.read()
            if first.startswith(text):  # nothing, or all that an interrupted run could write
                path.write_text(first, encoding="utf-8")
                return out
            if not text.startswith(first):
                raise InputError(
                    f"keep = {shown(str(path))}: it belongs to another brief or version, or to "
                    "none; name another file, or delete this one"
                )
            if not text.endswith("\n"):  # what comes next begins a line of its own
                with path.open("a", encoding="utf-8") as file:
                    file.write("\n")
        except InputError:
            raise
        except (OSError, ValueError) as error:
            raise _unusable(path, error) from None
        for line in text.removeprefix(first).split("\n"):
            try:
                what, key, rows = json.loads(line)
                {"screened": out.screened, "judged": out.judged}[what][key] = rows
            except (ValueError, TypeError, KeyError, RecursionError):  # interrupted, or not ours
                continue
        return out

    def put(self, what: str, key: str, rows: Any) -> None:
        """Keep a result."""
        getattr(self, what)[key] = rows
        if self.path is None:
            return
        try:
            with self.path.open("a", encoding="utf-8") as file:
                file.write(json.dumps([what, key, rows]) + "\n")
        except OSError as error:
            raise InputError(
                f"keep = {shown(str(self.path))}: not written ({error.strerror}); what is in it "
                "counts: make room and call again"
            ) from None


def _unusable(path: Path, error: OSError | ValueError) -> InputError:
    reason = getattr(error, "strerror", None) or "not text"
    return InputError(
        f"keep = {shown(str(path))}: not usable ({reason}); name a file where you may write"
    )


def front(table: pd.DataFrame) -> np.ndarray[Any, Any]:
    """Rows (n,) of a table of `choose` that no other beats in both margins.

    Under vibration and in falls, of the screen; a row without one of them is none.
    """
    both = table[["vibration_margin", "fall_margin"]].to_numpy(dtype=float)
    known = ~np.isnan(both).any(axis=1)
    order = np.lexsort((-both[:, 1], -both[:, 0]))
    out, best = np.zeros(len(both), dtype=bool), -np.inf
    for i in order:
        if known[i] and both[i, 1] > best:
            out[i], best = True, both[i, 1]
    return out

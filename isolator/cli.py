"""The command: ``isolator new``, ``assess``, ``report``, ``sheet``, ``template`` and more."""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import re
import shlex
import signal
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from isolator.units import InputError

if TYPE_CHECKING:
    from isolator.recording import Recording

EXIT = {"pass": 0, "fail": 1, "incomplete": 3}
UNUSABLE, INTERRUPTED = 2, 130
_UNSEEN = re.compile("[\0-\x1f\x7f-\x9f\u200b\u2028-\u202e\u2060-\u206f\ud800-\udfff\ufeff]")


class _Parser(argparse.ArgumentParser):
    """A parser whose mistakes take one line."""

    def error(self, message: str) -> NoReturn:
        self.exit(UNUSABLE, f"isolator: {message}; {self.prog} --help lists what there is\n")


def main(
    arguments: Sequence[str] | None = None, *, interrupted: Callable[[], bool] = lambda: False
) -> int:
    """Run the command; the exit status of `assess` is the verdict's.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process if left out.
    interrupted : function
        Whether there was a Ctrl-C: libraries that are being loaded may turn it into a mistake.
    """
    parser = _Parser(
        prog="isolator",
        description="Judge a payload that floats on rubber mounts in a case.",
        epilog="Exit status of assess, choose, drop, report, sheet and bench tap with a brief: "
        "0 pass, 1 fail, 3 incomplete; 2 unusable input, 130 interrupted.",
    )
    tasks = parser.add_subparsers(dest="task", required=True, metavar="TASK")
    new = tasks.add_parser("new", help="write a starter case into a new folder")
    new.add_argument("folder", metavar="FOLDER")
    judge = tasks.add_parser("assess", help="judge a case and print the page")
    judge.add_argument("brief", metavar="BRIEF", help="the case as a TOML file")
    judge.add_argument("--json", action="store_true", help="print one JSON object instead")
    judge.add_argument("--figures", metavar="DIR", help="write pictures there, as SVG and PNG")
    report = tasks.add_parser("report", help="write the report: HTML, PDF and JSON")
    report.add_argument("brief", metavar="BRIEF", help="the case as a TOML file")
    report.add_argument("--out", metavar="DIR", required=True, help="folder for its three files")
    report.add_argument("--paper", default="a4", choices=("a4", "letter"), help="of the PDF")
    built = tasks.add_parser("sheet", help="write the build sheet: HTML, PDF and JSON")
    built.add_argument("brief", metavar="BRIEF", help="the case as a TOML file")
    built.add_argument("--out", metavar="DIR", required=True, help="folder for its three files")
    built.add_argument("--paper", default="a4", choices=("a4", "letter"), help="of the PDF")
    drill = tasks.add_parser("template", help="write the drill template at 1:1: PDF, SVG and DXF")
    drill.add_argument("brief", metavar="BRIEF", help="the case as a TOML file")
    drill.add_argument("--out", metavar="DIR", required=True, help="folder for its files")
    drill.add_argument("--units", default="mm", choices=("mm", "in"), help="of the DXF")
    drill.add_argument(
        "--paper", default="a4", choices=("a4", "letter", "one sheet"), help="of the PDF"
    )
    fall = tasks.add_parser("drop", help="from what height it survives, and how it lands")
    fall.add_argument("brief", metavar="BRIEF", help="the case as a TOML file")
    fall.add_argument(
        "--leg", metavar="NAME", help="of the trip; the first with a drop if left out"
    )
    fall.add_argument("--json", action="store_true", help="print one JSON object instead")
    pick = tasks.add_parser("choose", help="try all mounts, patterns and ways to stack them")
    pick.add_argument("brief", metavar="BRIEF", help="the case as a TOML file, with [choose]")
    pick.add_argument("--json", action="store_true", help="print one JSON object instead")
    pick.add_argument("--out", metavar="FILE", help="write every design as a row of a CSV")
    pick.add_argument("--figures", metavar="DIR", help="write pictures there, as SVG and PNG")
    pick.add_argument("--chance", action="store_true", help="draw what may be off of the best too")
    pick.add_argument(
        "--in-full", metavar="N", type=int, default=12, help="so many are judged in full at most"
    )
    pick.add_argument("--most", metavar="N", type=int, default=200_000, help="refuse larger grids")
    pick.add_argument("--jobs", metavar="N", type=int, default=1, help="processes side by side")
    pick.add_argument(
        "--cluster", metavar="ADDRESS", help="of a Dask scheduler that has isolator on its workers"
    )
    pick.add_argument(
        "--keep", metavar="FILE", help="keep results there, and go on from them another time"
    )
    _bench_parser(tasks.add_parser("bench", help="what a tap, two sensors or a trip recorded say"))
    keys = tasks.add_parser("keys", help="list what a brief may say, key by key")
    keys.add_argument("table", metavar="TABLE", nargs="?", help="only of tables with this word")
    tasks.add_parser("roads", help="list the published vibration spectra")
    tasks.add_parser("heights", help="list the published drop heights")
    given = parser.parse_args(arguments)
    try:
        for option in ("out", "figures", "keep"):
            if getattr(given, option, None) == "":
                raise InputError(f"--{option} '': no name; write one, or . for this folder")
        if given.task == "new":
            return _new(Path(given.folder))
        if given.task == "keys":
            return _keys(given.table or "")
        if given.task == "roads":
            return _roads()
        if given.task == "heights":
            return _heights()
        if given.task == "bench":
            return _bench(given)
        if given.task == "choose":
            return _choose(given)
        if given.task in ("report", "sheet"):
            return _pages(given.task, given.brief, given.out, given.paper)
        if given.task == "template":
            return _template(given.brief, given.out, given.paper, given.units)
        if given.task == "drop":
            return _drop(given.brief, given.leg, as_json=given.json)
        return _assess(given.brief, as_json=given.json, figures=given.figures)
    except InputError as error:
        for line in error.lines:
            print(f"isolator: {_seen(line)}", file=sys.stderr)
        return UNUSABLE
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception:  # a mistake of ours; it must not end with the status of a verdict
        if interrupted():
            return INTERRUPTED
        traceback.print_exc()
        print(
            "isolator: a mistake in isolator itself, not in your input: there is no verdict; "
            "please report the lines above with the brief",
            file=sys.stderr,
        )
        return UNUSABLE


def _assess(brief: str, *, as_json: bool, figures: str | None = None) -> int:
    from isolator.assessment import assess
    from isolator.report import as_data, page

    if figures is not None:
        from isolator.figures.files import save
        from isolator.files import ready

        ready(Path(figures), "--figures", "picture")
    result = assess(brief)
    _tell(as_json, page, as_data, result)
    if figures is not None:
        for line in save(result, figures):
            print(f"isolator: {line}", file=sys.stderr)
    return EXIT[result.status]


def _bench_parser(bench: argparse.ArgumentParser) -> None:
    ways = bench.add_subparsers(dest="way", required=True, metavar="WAY")
    expect = ways.add_parser("expect", help="what the bench should read of a brief")
    expect.add_argument("brief", metavar="BRIEF")
    for name, words in (
        ("look", "what a recording is, and what it can know"),
        ("tap", "frequencies and damping after a tap, and a brief held against them"),
        ("pair", "what comes from one sensor to another"),
        ("trip", "spectra, shocks and falls of a trip, and roads for a brief"),
    ):
        one = ways.add_parser(name, help=words)
        one.add_argument("record", metavar="RECORD", help="CSV of a phone or logger, or WAV")
        one.add_argument("--rate", metavar="HZ", help="samples a second, as 400 Hz")
        one.add_argument("--unit", metavar="UNIT", help="what one stands for, as '1 g0'")
        one.add_argument("--time", metavar="NAME", help="heading of the time column, or none")
        one.add_argument("--time-unit", metavar="UNIT", help="what one stands for, as '1 ms'")
        one.add_argument("--channels", metavar="NAME", nargs="+", help="headings of accelerations")
        one.add_argument("--full-scale", metavar="A", help="of a WAV file: what its largest is")
        one.add_argument("--json", action="store_true", help="print one JSON object instead")
        if name == "tap":
            one.add_argument("--brief", metavar="BRIEF", help="the case that was tapped")
            one.add_argument("--out", metavar="FILE", help="write the corrected brief beside it")
        if name == "pair":
            one.add_argument("--base", metavar="NAME", required=True, help="channel on the case")
            one.add_argument("--payload", metavar="NAME", required=True, help="on the payload")
        if name == "trip":
            one.add_argument("--brief", metavar="BRIEF", help="the case on whose mounts it rode")
            one.add_argument("--leg", metavar="NAME", help="of the brief, that was recorded")
            one.add_argument(
                "--exponent", metavar="B", type=float, help="of the life curve: count wear with it"
            )
            one.add_argument("--out", metavar="DIR", help="write a road for each channel there")


def _bench(given: argparse.Namespace) -> int:
    from isolator.report import bench

    if given.way == "expect":
        from isolator.assessment import assess
        from isolator.buildsheet import build_sheet

        _show(bench.expected_page(build_sheet(assess(given.brief))))
        return 0
    try:
        return _recorded(given)
    except InputError as error:
        raise InputError(*(_as_typed(line, given) for line in error.lines)) from None


def _as_typed(line: str, given: argparse.Namespace) -> str:
    """A message of the library with its arguments as the command has them."""
    line = re.sub(r"^record(?=: )", Path(given.record).name, line)
    for option in ("base", "payload"):
        if (name := getattr(given, option, None)) is not None:
            line = line.replace(f"channel = {name!r}", f"--{option} = {name!r}")
    line = re.sub(r"channels=\[([^\]]*)\]", lambda m: f"--channels {m[1].replace(',', '')}", line)
    words = "rate|unit|time_unit|time|full_scale|leg|exponent|base|payload"

    def option_(match: re.Match[str]) -> str:
        return f"--{match[1].replace('_', '-')}"

    line = re.sub(rf"^({words})\b", option_, line)
    return re.sub(rf"\b({words})=(?=')", lambda m: option_(m) + " ", line)


def _recorded(given: argparse.Namespace) -> int:
    """What a record says."""
    from isolator.report import bench

    read = {key: getattr(given, key) for key in ("rate", "unit", "time", "time_unit", "channels")}
    read["full_scale"] = given.full_scale
    if given.way == "trip":
        return _trip(given, read)
    from isolator.logger import read_recording

    recording = read_recording(given.record, **read)
    if given.way == "look":
        from isolator.record_quality import quality

        found = quality(recording, full_scale=given.full_scale)
        _tell(given.json, bench.look_page, bench.look_data, recording, found)
        return 0
    if given.way == "pair":
        from isolator.pair import transmissibility

        through = transmissibility(recording, base=given.base, payload=given.payload)
        _tell(given.json, bench.pair_page, bench.pair_data, through, recording.source)
        return 0
    return _tap(given, recording)


def _tap(given: argparse.Namespace, recording: Recording) -> int:
    import tomli_w

    from isolator.brief import read_brief
    from isolator.correction import correct
    from isolator.files import put_file, ready_file
    from isolator.report import bench
    from isolator.ringdown import ring_down

    out = None if given.out is None else Path(given.out)
    if out is not None and given.brief is None:
        raise InputError("--out: there is no brief to correct; name it with --brief")
    if out is not None:
        ready_file(out, "--out")
    brief = None if given.brief is None else read_brief(given.brief)
    if out is not None and _home(given.out) != _home(given.brief):
        raise InputError(
            f"--out {out}: it would not find the tables that the brief names; write it into the "
            "brief's own folder"
        )
    tap, found = ring_down(recording), None
    if brief is not None:
        found = correct(brief, tap, Path(given.record).name)
    _tell(given.json, bench.tap_page, bench.tap_data, tap, recording.source, found)
    if found is None:
        return 0
    if found.after is None or found.brief is None:
        if out is not None:
            print(f"isolator: {out} was not written: the model is not corrected", file=sys.stderr)
        return EXIT["incomplete"]
    if out is not None:
        put_file(out, tomli_w.dumps(dict(found.brief.text)).encode(), "--out")
        print(f"isolator: wrote {out}", file=sys.stderr)
    return EXIT[found.after.status]


def _home(file: str) -> str:
    """The folder that a file lies in, wherever a link to it stands."""
    return os.path.dirname(os.path.realpath(file))


def _trip(given: argparse.Namespace, read: dict[str, Any]) -> int:
    from tqdm.auto import tqdm

    from isolator.brief import read_brief
    from isolator.files import one_line, ready
    from isolator.recorded_trip import road_file, trip_record
    from isolator.report import bench
    from isolator.report.files import save_pages
    from isolator.ride import ridden

    for option in ("leg", "exponent"):
        if given.brief is None and getattr(given, option) is not None:
            raise InputError(f"--{option}: it belongs to a brief; name the brief with --brief")
    if given.out is not None:
        ready(Path(given.out), "--out", "road")
    ride, source = None, Path(given.record).name
    with tqdm(total=100, desc="read", disable=not sys.stderr.isatty(), leave=False) as bar:
        read["progress"] = lambda share: _at(bar, share)
        if given.brief is None:
            found = trip_record(given.record, **read)
        else:
            brief = read_brief(given.brief)
            ride = ridden(brief, given.record, leg=given.leg, exponent=given.exponent, **read)
            found = ride.trip
    roads, channels, of = {}, {}, {}
    if given.out is not None:
        channels = {f"road-{n}.csv": name for n, name in enumerate(found.names, start=1)}
        roads = {file: road_file(found, name, source).encode() for file, name in channels.items()}
        gone = one_line("record: it cannot be read again", "leave it where it is")
        with gone, open(given.record, "rb") as record:
            of = {"record": f"sha256 {hashlib.file_digest(record, 'sha256').hexdigest()}"}
    _tell(given.json, bench.trip_page, bench.trip_data, found, source, ride)
    if given.out is not None:
        made = save_pages(given.out, "road", roads, {"file": source, "channels": channels}, of=of)
        names = ", ".join(path.name for path in made)
        print(f"isolator: wrote {names} in {given.out}", file=sys.stderr)
    return 0


def _at(bar: Any, share: float) -> None:
    """Show that so much is read."""
    bar.update(100 * share - bar.n)


def _choose(given: argparse.Namespace) -> int:
    from concurrent.futures import ProcessPoolExecutor
    from contextlib import nullcontext

    from isolator.brief import read_brief
    from isolator.figures import choice as pictures
    from isolator.figures.files import save_drawn
    from isolator.files import put_file, ready, ready_file
    from isolator.report.choice import choice, choice_data, choice_page
    from isolator.sweep import cluster
    from isolator.tables import as_cell
    from isolator.units import number

    if given.figures is not None:
        ready(Path(given.figures), "--figures", "picture")
    if given.out is not None:
        ready_file(Path(given.out), "--out")
    jobs = int(number(given.jobs, "--jobs", 1, 256))
    pool = nullcontext() if jobs == 1 else ProcessPoolExecutor(jobs, initializer=_one_of_many)
    with pool if given.cluster is None else cluster(given.cluster) as executor:
        found = choice(
            read_brief(given.brief),
            sure=given.chance,
            in_full=given.in_full,
            most=given.most,
            executor=executor,
            keep=given.keep,
            progress=sys.stderr.isatty(),
        )
    _tell(given.json, choice_page, choice_data, found)
    if given.out is not None:
        rows = found.table.drop(columns="candidate").map(as_cell).to_csv(index=False)
        put_file(Path(given.out), rows.encode(), "--out")
    if given.figures is not None:
        for line in save_drawn(pictures.drawn(found), given.figures):
            print(f"isolator: {line}", file=sys.stderr)
    return EXIT[found.status]


def _one_of_many() -> None:
    """Leave Ctrl-C to the process that started this one, and end when that is gone, however."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_first, daemon=True).start()


def _end_with_the_first() -> None:
    """Wait for the end of the process that started this one, and end at once.

    What was computed for it has no reader, and the pool would wait for its next task for ever.
    """
    from multiprocessing import parent_process

    first = parent_process()
    if first is not None:
        first.join()
        os._exit(INTERRUPTED)


def _pages(task: str, brief: str, folder: str, paper: str) -> int:
    """Write the report or the build sheet."""
    from isolator.assessment import assess
    from isolator.files import ready
    from isolator.report.files import save_report, save_sheet
    from isolator.report.words import verdict_sentence

    ready(Path(folder), "--out", "report" if task == "report" else "build sheet")
    result = assess(brief)
    save = save_report if task == "report" else save_sheet
    written = save(result, folder, paper=paper)
    _show(
        "\n".join([verdict_sentence(result, below=False), *(f"Wrote {path}" for path in written)])
    )
    return EXIT[result.status]


def _template(brief: str, out: str, paper: str, units: str) -> int:
    from isolator.brief import read_brief
    from isolator.files import ready
    from isolator.report.files import save_pages
    from isolator.template import drill_templates, template_data, template_files
    from isolator.template.holes import STEM

    ready(Path(out), "--out", "drill template")
    templates = drill_templates(read_brief(brief))
    files = template_files(templates, paper=paper, units=units)
    made = save_pages(out, STEM, files, template_data(templates))
    notes = dict.fromkeys(note for template in templates.values() for note in template.notes)
    _show("\n".join([*(f"Wrote {path}" for path in made), *notes]))
    return 0


def _drop(brief: str, leg: str | None, *, as_json: bool) -> int:
    from isolator.report.fall import fall_data, fall_page, survival_status
    from isolator.survive import survival

    found = survival(brief, leg)
    _tell(as_json, fall_page, fall_data, found)
    return EXIT[survival_status(found)]


def _tell(
    as_json: bool, page: Callable[..., str], data: Callable[..., object], *found: Any
) -> None:
    """Print the page of what was found, or the same as data."""
    if as_json:
        _show(json.dumps(data(*found), indent=1, allow_nan=False, ensure_ascii=False))
    else:
        _show(page(*found))


def _seen(text: str) -> str:
    """A text with all that could move a terminal's cursor or turn its writing made visible."""
    return _UNSEEN.sub(lambda sign: sign[0].encode("unicode_escape").decode(), text)


def _show(text: str) -> None:
    """Print, on any terminal; a reader that has seen enough and left is no mistake."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        print("\n".join(map(_seen, text.split("\n"))), flush=True)
    except OSError as error:
        # What is still in the buffer would raise once more when Python ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(error, BrokenPipeError):
            raise InputError(
                f"the output: not written ({error.strerror}); write it somewhere else"
            ) from None


def _new(folder: Path) -> int:
    from isolator.files import one_line

    with one_line(f"{folder}: nothing was written", "name a folder where you may write"):
        if os.path.lexists(folder):
            raise InputError(
                f"{folder} exists: nothing was written; name a folder that does not exist"
            )
        _write_starter(Path(os.path.abspath(folder)))
    brief = folder / "case.toml"
    _show(
        f"Wrote {brief}. Fill in your own numbers, then: isolator assess {shlex.quote(str(brief))}"
    )
    return 0


def _write_starter(folder: Path) -> None:
    """All or nothing: written elsewhere, then moved into place with its new parents at once."""
    from isolator.sources import data_file

    parents = [folder, *folder.parents]
    ground = next(path for path in parents if path.exists())
    with tempfile.TemporaryDirectory(dir=ground, prefix=".new-") as half:
        inside = Path(half) / folder.relative_to(ground)
        inside.mkdir(parents=True)
        for item in data_file("starter").iterdir():
            (inside / item.name).write_bytes(item.read_bytes())
        top = folder.relative_to(ground).parts[0]
        (Path(half) / top).rename(ground / top)


def _keys(word: str) -> int:
    """Every key with an example and what it is; of tables whose head holds the word."""
    from isolator.sources import read_table

    tables: dict[str, list[str]] = {}
    for row in read_table("keys.csv"):
        between = ":" if row["table"].endswith("file") else " ="
        written = f"  {row['key']}{between} {row['example']}"
        short = len(written) <= 46
        lines = [f"{written:46}{row['is']}".rstrip()] if short else [written, f"{'':46}{row['is']}"]
        tables.setdefault(row["table"], []).extend(lines)
    wanted = [head for head in tables if word.lower() in head.lower()]
    if not wanted:
        raise InputError(
            f"TABLE = {word!r:.60}: no table with this word; known are {', '.join(tables)}"
        )
    _show("\n\n".join("\n".join([head, *tables[head]]) for head in wanted))
    return 0


def _roads() -> int:
    from isolator.sources import source
    from isolator.trip import roads

    lines = []
    for name, axes in roads().items():
        levels = ", ".join(f"{way} {s.level():.2f} g rms" for way, s in axes.items())
        first = next(iter(axes.values()))
        lines.append(
            f"{name}: {levels}; {first.lines[0]:g} to {first.lines[-1]:g} Hz; "
            f"{source(first.source).title}"
        )
    _show("\n".join(lines))
    return 0


def _heights() -> int:
    from isolator.heights import height_tables
    from isolator.sources import source

    lines = []
    for name, rows in height_tables().items():
        lines.append(f'{name}: {source(rows[0].source).title}; drop = {{ table = "{name}" }}')
        lines += [f"  {row.words}; lands on {row.landings}" for row in rows]
    _show("\n".join(lines))
    return 0

"""The command: ``isolator new``, ``isolator assess``, ``isolator roads``."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from isolator.units import InputError

EXIT = {"pass": 0, "fail": 1, "incomplete": 3}
UNUSABLE = 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; the exit status of `assess` is the verdict's."""
    parser = argparse.ArgumentParser(
        prog="isolator",
        description="Judge a payload that floats on rubber mounts in a case.",
        epilog="Exit status of assess: 0 pass, 1 fail, 3 incomplete; 2 for unusable input.",
    )
    tasks = parser.add_subparsers(dest="task", required=True, metavar="TASK")
    new = tasks.add_parser("new", help="write a starter case into a new folder")
    new.add_argument("folder", metavar="FOLDER")
    judge = tasks.add_parser("assess", help="judge a case and print the page")
    judge.add_argument("brief", metavar="BRIEF", help="the case as a TOML file")
    judge.add_argument("--json", action="store_true", help="print one JSON object instead")
    tasks.add_parser("roads", help="list the published vibration spectra")
    given = parser.parse_args(arguments)
    try:
        if given.task == "new":
            return _new(Path(given.folder))
        if given.task == "roads":
            return _roads()
        return _assess(given.brief, as_json=given.json)
    except InputError as error:
        for line in error.lines:
            print(f"isolator: {line}", file=sys.stderr)
        return UNUSABLE
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return UNUSABLE


def _assess(brief: str, *, as_json: bool) -> int:
    from isolator.assessment import assess
    from isolator.report import as_data, page

    result = assess(brief)
    if as_json:
        print(json.dumps(as_data(result), indent=1, allow_nan=False, ensure_ascii=False))
    else:
        print(page(result))
    return EXIT[result.status]


def _new(folder: Path) -> int:
    from isolator.sources import data_file

    if folder.exists():
        raise InputError(f"{folder} exists: nothing was written; name a folder that does not exist")
    starter = data_file("starter")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".new-") as half:
            inside = Path(half) / "case"
            inside.mkdir()
            for item in starter.iterdir():
                (inside / item.name).write_bytes(item.read_bytes())
            shutil.move(inside, folder)
    except OSError as error:
        raise InputError(
            f"{folder}: nothing was written ({error.strerror}); choose a place that you may write to"
        ) from None
    brief = folder / "case.toml"
    print(f"Wrote {brief}. Fill in your own numbers, then: isolator assess {brief}")
    return 0


def _roads() -> int:
    from isolator.sources import source
    from isolator.trip import roads

    for name, axes in roads().items():
        levels = ", ".join(f"{way} {s.level():.2f} g rms" for way, s in axes.items())
        first = next(iter(axes.values()))
        print(f"{name}: {levels}; {first.lines[0]:g} to {first.lines[-1]:g} Hz; "
              f"{source(first.source).title}")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Writes what is handed over of each demo case here: python tests/artefacts/artefacts.py."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from isolator.assessment import Assessment, assess
from isolator.brief import read_brief
from isolator.report.files import save_report, save_sheet
from isolator.template import drill_templates, write_template

HERE = Path(__file__).parent
DATA = HERE.parents[1] / "data"
CASES = ("ice-radar", "planetarium", "water-lab", "echo-amplifier")


def write(case: str, folder: Path) -> Assessment:
    """Write report, build sheet and drill template of a demo case; its verdict."""
    brief = read_brief(DATA / case / "case.toml")
    assessment = assess(brief)
    save_report(assessment, folder)
    save_sheet(assessment, folder)
    for stem, template in drill_templates(brief).items():
        write_template(template, folder, stem=stem, replace=True)
    return assessment


def main() -> int:
    for case in CASES:
        write(case, HERE / case)
        size = sum(path.stat().st_size for path in (HERE / case).iterdir())
        print(f"{case}: {size / 1e6:.2f} MB")
    return 0


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__).parse_args()
    sys.exit(main())

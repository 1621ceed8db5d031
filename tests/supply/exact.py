"""The exact set that the tests ran with, and its licences: python tests/supply/exact.py.

It writes tests/supply/exact.txt from what is installed beside the Python that runs it: everything
that pyproject.toml asks for, and what that asks for. `pip install -r tests/supply/exact.txt` has
the same set again.
"""

from __future__ import annotations

import argparse
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import Distribution, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
FILE = Path(__file__).with_name("exact.txt")
PARTS = {
    "what the package stands on": (),
    "what its notebooks need beside": ("notebook",),
    "what a cluster needs beside": ("cluster",),
    "what its tests need beside": ("test",),
}
"""Heading of the list, and the extras that it has."""
OSI = "License :: OSI Approved :: "


def asked(extras: tuple[str, ...]) -> list[Requirement]:
    """What pyproject.toml asks for, with some extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = [*project["dependencies"]]
    for extra in extras:
        lines += project["optional-dependencies"][extra]
    return [one for one in map(Requirement, lines) if one.name != project["name"]]


def closure(wanted: list[Requirement]) -> dict[str, Distribution]:
    """All that these ask for on this machine, by name."""
    found: dict[str, Distribution] = {}
    seen: set[tuple[str, str]] = set()
    todo = [(one.name, extra) for one in wanted for extra in (*one.extras, "")]
    while todo:
        name, extra = todo.pop()
        key = (canonicalize_name(name), extra)
        if key in seen:
            continue
        seen.add(key)
        found[key[0]] = distribution(name)
        for one in map(Requirement, found[key[0]].requires or ()):
            if one.marker is None or one.marker.evaluate({"extra": extra}):
                todo += [(one.name, more) for more in (*one.extras, "")]
    return dict(sorted(found.items()))


def licence(of: Distribution) -> str:
    """As the package states it: an expression, a class, or the first line of its text."""
    about = of.metadata
    if expression := about.get("License-Expression"):
        return str(expression)
    classes = [c.removeprefix(OSI) for c in about.get_all("Classifier", []) if c.startswith(OSI)]
    text = next(iter(str(about.get("License", "")).strip().splitlines()), "")
    return ", ".join(sorted(classes)) or text[:60].replace("UNKNOWN", "") or "not stated"


def parts() -> Iterator[tuple[str, dict[str, Distribution]]]:
    """Each part of the list with what the parts before it do not have."""
    before: set[str] = set()
    for heading, extras in PARTS.items():
        found = {k: v for k, v in closure(asked(extras)).items() if k not in before}
        before |= set(found)
        yield heading, found


def text() -> str:
    python = ".".join(map(str, sys.version_info[:3]))
    lines = [f"# Made by tests/supply/exact.py: the set on {sys.platform}, Python {python}."]
    for heading, found in parts():
        lines += ["", f"# {heading}"]
        lines += [f"{name}=={of.version}  # {licence(of)}" for name, of in found.items()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__).parse_args()
    FILE.write_text(text(), encoding="utf-8")

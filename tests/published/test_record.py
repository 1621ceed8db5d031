"""Every value from outside against our answer, and the page that lists them."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from isolator.sources import LABELS, Published, misses, source


def load() -> ModuleType:
    spec = importlib.util.spec_from_file_location("record", Path(__file__).with_name("record.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


RECORD = load()
ROWS: tuple[Published, ...] = RECORD.values()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_value(row: Published) -> None:
    assert row.missed_by(RECORD.answer(row.id)) == ""


def test_every_row_is_claimed_once() -> None:
    assert sorted(row.id for row in ROWS) == sorted(name for name, _ in RECORD.claims())


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_row_has_an_address(row: Published) -> None:
    assert source(row.source).key == row.source
    assert row.label in LABELS
    assert row.locator
    assert bool(row.deviation) == bool(row.cause)


def test_a_stated_deviation_is_a_real_one() -> None:
    """A miss that heals must leave its table."""
    healed = [
        row.id
        for row in ROWS
        if RECORD.is_missed(row) and not misses(RECORD.answer(row.id), row.expected, "")
    ]
    assert healed == []


def test_the_page_is_the_one_that_the_command_makes() -> None:
    assert RECORD.page() == RECORD.PAGE.read_text(encoding="utf-8"), (
        "out of date: python tests/published/record.py"
    )


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("Gent 1958 (published): a blunt needle.", "published"),
        ("(a table of (two) columns; memory)", "memory"),
        ("computed outside of any bracket (of course)", ""),
    ],
)
def test_a_label_counts_in_brackets_only(text: str, label: str) -> None:
    assert RECORD.labelled(text) == label

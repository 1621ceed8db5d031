"""References: unknown keys, broken tables, and the tolerance that printed digits give."""

import pytest

from isolator import sources
from isolator.units import InputError


def test_unknown_key_names_the_nearest() -> None:
    with pytest.raises(InputError, match=r"source = 'mil-std-810x'.*'mil-std-810' meant"):
        sources.source("mil-std-810x")


def test_keys_are_unique_and_complete() -> None:
    rows = sources.read_table("sources.csv")
    assert len({row["key"] for row in rows}) == len(rows)
    assert all(row["title"] and row["edition"] for row in rows)


def test_a_row_of_another_width_is_refused(tmp_path, monkeypatch) -> None:
    (tmp_path / "bad.csv").write_text("# remark\na,b [Hz]\n1,2\n3\n", encoding="utf-8")
    monkeypatch.setattr(sources, "data_file", lambda name: tmp_path / name)
    with pytest.raises(ValueError, match=r"bad\.csv: row 2 .* 1 cells, not 2"):
        sources.read_table("bad.csv")


@pytest.mark.parametrize(
    ("computed", "expected", "deviation", "missed"),
    [
        (12.384, "12.38", "", False),
        (12.386, "12.38", "", True),
        (float("nan"), "12.38", "", True),
        (9969.30, "9969.6", "-0.3", False),
        (9969.60, "9969.6", "-0.3", True),
        (131.6, "132", "", False),
    ],
)
def test_tolerance_follows_the_printed_digits(
    computed: float, expected: str, deviation: str, missed: bool
) -> None:
    assert sources.misses(computed, expected, deviation) is missed

"""The list of keys is that of the schema, and every example in it is one that a brief may have."""

import tomllib
from collections import defaultdict

import pytest

from isolator import schema
from isolator.cli import main
from isolator.fields import Table, read_table
from isolator.sources import read_table as read_data
from isolator.tables import Folder

FILES = {
    "parts file": schema.PartRow,
    "gaps file": schema.CornerRow,
    "obstacles file": schema.ObstacleRow,
    "record file": schema.RecordRow,
    "road file": schema.SpectrumRow,
    "weights file": schema.WeightRow,
    "cushion file": schema.CushionRow,
}
HEADS = {model.head: model for model in Table.__subclasses__() if model.head} | {
    "top of the file": schema.BriefTable
}
del HEADS[schema.BriefTable.head]
LISTED = defaultdict(dict)
for row in read_data("keys.csv"):
    LISTED[row["table"]][row["key"]] = row["example"]
TABLES = {
    "top of the file": {
        "payload", "case", "mounts", "mount", "frame", "cable", "leg", "carry", "not_required",
        "condition", "choose",
    },
    "[payload]": {"weighing"},
    "[payload.weighing]": {"foot", "swing", "tilt"},
    "[case]": {"inside", "cushion", "obstacle", "rib"},
    "[mounts]": {"place"},
    "[choose]": {"pattern"},
    "[frame.NAME]": {"payload", "mounts", "gaps", "cable"},
}  # fmt: skip
"""Keys that hold a table, which has its own lines."""
MISSING = [{}]


def test_every_table_is_listed():
    others = {"mounts file", "[not_required]"}
    assert set(LISTED) == set(HEADS) | set(FILES) | others


@pytest.mark.parametrize("head", HEADS)
def test_every_key_is_listed_with_an_example_that_is_usable(head, tmp_path):
    model, keys = HEADS[head], LISTED[head]
    assert set(keys) == set(model.model_fields) - TABLES.get(head, set())
    for name in ("parts", "fixed", "gaps", "obstacles", "mounts"):
        (tmp_path / f"{name}.csv").write_text("name\n", encoding="utf-8")
    text = "\n".join(f"{key} = {example}" for key, example in keys.items())
    nested = {key: MISSING for key in TABLES.get(head, ())}
    required = {key: MISSING for key in nested if model.model_fields[key].is_required()}
    read = read_table(model, tomllib.loads(text) | required, "", Folder(tmp_path))
    assert read.model_fields_set == set(keys) | set(required)


@pytest.mark.parametrize("name", FILES)
def test_every_column_is_listed_with_an_example_that_is_usable(name, tmp_path):
    columns = LISTED[name]
    (tmp_path / "one.csv").write_text(
        f"{','.join(columns)}\n{','.join(columns.values())}\n", encoding="utf-8"
    )
    ((_, read),) = Folder(tmp_path).rows("one.csv", "it", FILES[name])
    either = {"force"} if name == "weights file" else set()
    assert read.model_fields_set == set(FILES[name].model_fields) - either


def test_the_command_lists_one_table_or_all(capsys):
    assert main(["keys"]) == 0
    whole = capsys.readouterr().out
    assert all(head in whole.splitlines() for head in LISTED)
    assert max(map(len, whole.splitlines())) < 150
    assert main(["keys", "mount."]) == 0
    assert capsys.readouterr().out.splitlines()[0] == "[mount.NAME]"
    assert main(["keys", "nothing"]) == 2
    assert "no table with this word; known are" in capsys.readouterr().err
    assert main(["keys", "9" * 3000]) == 2
    assert len(capsys.readouterr().err) < 1000

"""What the README says is what a reader gets."""

import re
from pathlib import Path

import pytest

import isolator
from isolator.cli import main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_example_runs_as_it_stands(monkeypatch, capsys):
    example = re.search(r"```python\n(.*?)```", README, re.DOTALL)[1]
    assert len([line for line in example.splitlines() if line]) <= 12
    monkeypatch.chdir(ROOT)
    exec(compile(example, "README.md", "exec"), {})
    lines = capsys.readouterr().out.splitlines()
    assert float(lines[0].split()[0]) == isolator.natural_frequency(
        stiffness="36 N/mm", mass="12 kg"
    ).m_as("Hz")
    assert lines[-2].startswith("fail mounts.place[4].mount")
    assert lines[-1] == "pass"


def test_the_weighing_reads_as_it_stands(tmp_path):
    text = (ROOT / "data" / "starter" / "case.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith(("mass =", "centre ="))]
    block = re.search(r"```toml\n(\[payload.weighing.*?)```", README, re.DOTALL)[1]
    path = tmp_path / "case.toml"
    path.write_text("\n".join(lines).replace("[case]", f"{block}[case]"), encoding="utf-8")
    payload = isolator.read_brief(path).design.payload
    assert payload.mass.m_as("kg") == 8
    # 360 mm · 4.2/8 − 180 = 9 mm; the shift of 360 · 0.5/8 = 22.5 mm over tan(asin 1/3)
    high = 22.5 * 8**0.5 - 75
    assert payload.centre.m_as("mm") == pytest.approx([9, 0, high])
    assert max(payload.centre_within.m_as("mm")) < 25


def test_the_grommet_and_the_conditions_read_as_they_stand(tmp_path):
    text = (ROOT / "data" / "starter" / "case.toml").read_text(encoding="utf-8")
    grommet = re.search(r"```toml\n(\[mount.grommet.*?)```", README, re.DOTALL)[1]
    conditions = re.search(r"```toml\n(\[\[condition.*?)```", README, re.DOTALL)[1]
    start, end = text.index("[mount.ring]"), text.index("[mounts]")
    text = text[:start] + grommet + text[end:].replace("[mounts]", '[mounts]\nuse = "grommet"', 1)
    (tmp_path / "case.toml").write_text(text + conditions, encoding="utf-8")
    brief = isolator.read_brief(tmp_path / "case.toml")
    assert brief.mounts["grommet"].grade == "geometry"
    assert "pinched by 10% of each flange" in brief.mounts["grommet"].notes
    assert [c.name for c in brief.design.conditions] == ["cold", "a kilogram more"]


def test_the_example_of_a_second_body_fits_into_the_starter(tmp_path):
    example = re.search(r"```toml\n(\[frame.*?)```", README, re.DOTALL)[1]
    starter = (ROOT / "data" / "starter" / "case.toml").read_text(encoding="utf-8")
    text = starter.replace('lid = "50 mm"', 'lid = "lid tray"', 1) + example
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    brief = isolator.read_brief(tmp_path / "case.toml")
    assert brief.frames["lid tray"].on_lid
    assert brief.design.stands_before == {"lid": "lid tray"}


def test_the_counts_by_label_are_those_of_the_record():
    record = (ROOT / "tests" / "record.md").read_text(encoding="utf-8")
    labels = re.search(r"^\| what \| (.*) \| all \|$", record, re.MULTILINE)[1].split(" | ")
    counts = re.search(r"^\| values with our answer .*? \| (.*) \| \d+ \|$", record, re.MULTILINE)
    values = dict(zip(labels, map(int, counts[1].split(" | ")), strict=True))
    said = {k: int(n) for n, k in re.findall(r"(\d+)\s(published|memory|computed)\b", README)}
    assert said == {label: count for label, count in values.items() if count}


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_every_file_that_the_claims_name_is_there(page):
    text = (ROOT / page).read_text(encoding="utf-8")
    table = text.split("| claim | proof |")[1].split("\n\n")[0]
    files = re.findall(r"`([^`]+)`", table)
    assert len(files) > 8
    assert [name for name in files if not (ROOT / name).exists()] == []


def test_the_page_begins_as_it_is_shown(capsys):
    command = re.search(r"isolator (assess .*)", README)[1].split()
    shown = re.search(r"```text\n(.*?)```", README, re.DOTALL)[1]
    assert main([command[0], str(ROOT / command[1])]) == 1
    printed = capsys.readouterr().out
    assert len(shown.splitlines()) > 8
    assert printed.startswith(shown)


def test_the_catalogue_has_as_many_mounts_as_is_said():
    count = re.search(r"`data/catalogue.csv` has (\d+) invented mounts", README)[1]
    assert int(count) == len(isolator.read_mounts(ROOT / "data" / "catalogue.csv"))


def test_the_picture_is_there():
    assert (ROOT / re.search(r"!\[.*?\]\((.*?)\)", README)[1]).exists()


def test_the_ways_to_say_what_room_there_is_can_be_read(tmp_path):
    room = README.split("### The room inside")[1].split("\n## ")[0]
    blocks = re.findall(r"```toml\n(.*?)```", room, re.DOTALL)
    starter = (ROOT / "data" / "starter" / "case.toml").read_text(encoding="utf-8")
    before, after = starter.split("[case]")[0], starter.split("[mount.ring]")[1]
    text = "\n".join([before, "[case]", *blocks, "[mount.ring]", after])
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    case = isolator.read_brief(tmp_path / "case.toml").design.case
    assert case.inside.radius("floor_radius") == 0.005
    assert [solid.name for solid in (*case.obstacles, *case.ribs)] == ["latch", "rib by the handle"]

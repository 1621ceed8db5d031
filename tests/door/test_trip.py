"""Mistakes in what a brief says of sine, set-down, tables of heights and lifting."""

from pathlib import Path

import pytest

from isolator.cli import main
from isolator.heights import height_tables
from isolator.lifting import Carry
from isolator.sine import Sine, Sweep
from isolator.trip import Leg
from isolator.units import InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")
DROP = 'drop = "0.2 m"'
SWEEP = 'from = "5 Hz", to = "200 Hz", level = "0.2 g0"'


def complaints(folder: Path, capsys: pytest.CaptureFixture[str], text: str) -> list[str]:
    (folder / "case.toml").write_text(text, encoding="utf-8")
    assert main(["assess", str(folder / "case.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    start = "isolator: case.toml: "
    assert all(line.startswith(start) and len(line) < 400 for line in err.splitlines())
    assert "Traceback" not in err
    return [line.removeprefix(start) for line in err.splitlines()]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('set_down = "5"', "leg[1].set_down = '5': a number without a unit; write"),
        ('set_down = "-5 cm"', "leg[1].set_down"),
        ('slap_down = "80 deg"', "80 ° is outside 0.3 to 45 °; write '3 deg'"),
        ('walk = "fast"', "leg[1].walk = 'fast': not a yes or no; write true or false"),
        (
            'walk = { step_rate = "5 Hz" }',
            "leg[1].walk.step_rate = '5 Hz': 5 Hz is outside 1.2 to 2.5 Hz",
        ),
        ("walk = { swing = 20 }", "leg[1].walk.swing = 20: a number without a unit"),
        ('walk = { steps = "2 Hz" }', "leg[1].walk.steps = '2 Hz': unknown key"),
        ('tied = "perhaps"', "leg[1].tied = 'perhaps': not a yes or no; write true or false"),
        ("sine = {}", "leg[1].sine: neither a sweep nor a dwell; give from, to and level"),
        ("sine = 5", "leg[1].sine = 5: a table is wanted; write"),
        ('sine = { form = "5 Hz" }', "leg[1].sine.form = '5 Hz': unknown key; 'from' meant?"),
        ('sine = { from = "5 Hz", level = "1 g0" }', "leg[1].sine.to is missing: it goes"),
        (
            'sine = { from = "9 Hz", to = "5 Hz", level = "1 g0" }',
            "leg[1].sine.to = 5 Hz: not above",
        ),
        ('sine = { from = "5 Hz", to = "9 Hz", level = "1 g" }', "leg[1].sine.level = '1 g'"),
        (f"sine = {{ {SWEEP}, rate = 0 }}", "leg[1].sine.rate"),
        (f'sine = {{ {SWEEP}, ways = ["up"] }}', "leg[1].sine.ways[1] = 'up': not one of the"),
        (f"sine = {{ {SWEEP}, ways = [] }}", "leg[1].sine.ways = []: a list"),
        (f'sine = {{ {SWEEP}, displacement = "2" }}', "leg[1].sine.displacement = '2'"),
        ('sine = { dwell = { at = "5 Hz" } }', "leg[1].sine.dwell.level is missing"),
        ('sine = { dwell = { at = "high", level = "1 g0" } }', "leg[1].sine.dwell.at = 'high'"),
        ("sine = { dwell = 3 }", "leg[1].sine.dwell = 3: a table is wanted"),
    ],
)
def test_a_line_for_each_mistake_of_a_leg(tmp_path, capsys, line, words):
    (said,) = complaints(tmp_path, capsys, STARTER.replace(DROP, f"{DROP}\n{line}"))
    assert words in said


@pytest.mark.parametrize(
    ("drop", "words"),
    [
        (
            '{ table = "ista 1b" }',
            "leg[1].drop.table = 'ista 1b': no such table of drop heights; 'ista",
        ),
        ("{}", 'leg[1].drop = {}: no table is named; write { table = "ista 1a" }'),
        ("{ table = 4 }", "leg[1].drop.table = 4: a text is wanted"),
        ('{ tabel = "ista 1a" }', "leg[1].drop.tabel = 'ista 1a': unknown key; 'table' meant?"),
    ],
)
def test_a_line_for_each_mistake_of_a_looked_up_height(tmp_path, capsys, drop, words):
    (said,) = complaints(tmp_path, capsys, STARTER.replace(DROP, f"drop = {drop}"))
    assert words in said


def test_a_weight_outside_the_table_is_told_with_both_weights(tmp_path, capsys):
    text = STARTER.replace(DROP, 'drop = { table = "ista 1a" }')
    text = text.replace("[case]", '[case]\nmass = "70 kg"')
    (said,) = complaints(tmp_path, capsys, text)
    assert said.startswith("leg[1].drop.table = 'ista 1a': the case weighs 78 kg gross")
    assert "ends at 68.04 kg; give the height itself" in said


def test_every_leg_outside_its_table_has_its_line(tmp_path, capsys):
    text = STARTER.replace(DROP, 'drop = { table = "ista 1a" }')
    text = text.replace("[case]", '[case]\nmass = "100 kg"\nsize = ["1 m", "1 m", "1 m"]')
    text += '\n[[leg]]\nname = "b"\ndrop = { table = "mil-std-810h 516.8 ix" }\n'
    first, second = complaints(tmp_path, capsys, text)
    assert first.startswith("leg[1].drop.table = 'ista 1a'")
    assert second.startswith("leg[2].drop.table = 'mil-std-810h 516.8 ix'")


def test_a_broken_payload_asks_nothing_of_the_table(tmp_path, capsys):
    text = STARTER.replace(DROP, 'drop = { table = "ista 1a" }')
    text = text.replace("[case]", '[case]\nmass = "400 kg"').replace('"8 kg"', '"8"')
    (said,) = complaints(tmp_path, capsys, text)
    assert said.startswith("payload.mass")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("hands = 3", "carry.hands = 3: nobody lifts so; write 1 or 2"),
        ("hands = true", "carry.hands = true"),
        ('hands = "two"', "carry.hands = 'two'"),
        ("horizontal = 30", "carry.horizontal = 30: a number without a unit"),
        ('height = "-1 cm"', "carry.height"),
        ('lift = "9 m"', "carry.lift"),
        ("angle = 200", "carry.angle"),
        ("lifts_per_minute = -1", "carry.lifts_per_minute"),
        ('duration = "8"', "carry.duration = '8'"),
        (
            'coupling = "fine"',
            "carry.coupling = 'fine': not one of the choices; known are good, fair",
        ),
        ("weight = 3", "carry.weight = 3: unknown key;"),
    ],
)
def test_a_line_for_each_mistake_of_a_lift(tmp_path, capsys, line, words):
    (said,) = complaints(tmp_path, capsys, f"{STARTER}\n[carry]\n{line}\n")
    assert words in said


def test_all_mistakes_in_one_run(tmp_path, capsys):
    sine = 'sine = { from = "5", to = "x", dwell = { at = "0 Hz", levle = "1 g0" } }'
    text = STARTER.replace(DROP, f'drop = {{ table = "no" }}\n{sine}\ntied = 3')
    said = complaints(tmp_path, capsys, f"{text}\n[carry]\nhands = 0\nangle = 999\n")
    starts = ["drop.table", "sine.from", "sine.to", "sine.dwell.at", "sine.dwell.levle", "tied"]
    for start in [f"leg[1].{s}" for s in starts] + ["carry.hands", "carry.angle"]:
        assert sum(line.startswith(start) for line in said) == 1, start
    assert len(said) == 8


@pytest.mark.parametrize("waived", ["carry", "set-down peak", "sine limit/by van"])
def test_a_waiver_of_a_check_that_is_not_asked_is_refused(tmp_path, capsys, waived):
    text = STARTER.replace("[payload]", f'[not_required]\n"{waived}" = "no"\n[payload]')
    (said,) = complaints(tmp_path, capsys, text)
    assert "has no check of that id" in said


def test_heights_lists_every_table(capsys):
    assert main(["heights"]) == 0
    out = capsys.readouterr().out
    assert [line.split(":")[0] for line in out.splitlines() if line[0] != " "] == [*height_tables()]
    for rows in height_tables().values():
        for row in rows:
            assert f"  {row.words}; lands on {row.landings}" in out.splitlines()


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Sweep(start="9 Hz", stop="9 Hz", level="1 g0"), "not above the start"),
        (lambda: Sweep(start="1 Hz", stop="9 Hz", level="1 g0", rate=-1), "Sweep.rate"),
        (lambda: Sine(), "neither a sweep nor a dwell"),
        (lambda: Leg(name="x", drop_table="no"), "no such table"),
        (lambda: Carry(hands=3), "write 1 or 2"),
        (lambda: Carry(coupling="none"), "write good, fair or poor"),
        (lambda: Carry(angle=-1), "Carry.angle"),
    ],
)
def test_objects_refuse_what_makes_no_sense(make, words):
    with pytest.raises(InputError, match=words):
        make()

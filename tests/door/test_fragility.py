"""Mistakes in what a brief says of what the payload survives."""

from pathlib import Path

import pytest

from isolator.cli import main
from isolator.fragility import Rating
from isolator.payload import Part, Payload
from isolator.pulse import Pulse
from isolator.units import InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")
FRAGILITY = next(line for line in STARTER.splitlines() if line.startswith("fragility"))
PULSE = '{ shape = "half-sine", duration = "11 ms" }'


def complaints(folder: Path, capsys: pytest.CaptureFixture[str], text: str) -> list[str]:
    (folder / "case.toml").write_text(text, encoding="utf-8")
    assert main(["assess", str(folder / "case.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    start = "isolator: case.toml: "
    assert all(line.startswith(start) and len(line) < 400 for line in err.splitlines())
    return [line.removeprefix(start) for line in err.splitlines()]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("fragility_pulse = 11", "payload.fragility_pulse = 11: a table is wanted"),
        ('fragility_pulse = { shape = "half-sine" }', "fragility_pulse.duration is missing"),
        ('fragility_pulse = { duration = "11 ms" }', "fragility_pulse.shape is missing"),
        (
            'fragility_pulse = { shape = "halfsine", duration = "11 ms" }',
            "payload.fragility_pulse.shape = 'halfsine': not one of the choices; 'half-sine' meant",
        ),
        (
            'fragility_pulse = { shape = "half-sine", duration = "11 g" }',
            "payload.fragility_pulse.duration = '11 g'",
        ),
        (
            'fragility_pulse = { shape = "half-sine", duration = "1 ms", peak = "40 g0" }',
            "payload.fragility_pulse.peak = '40 g0': unknown key",
        ),
        (
            'fragility_pulse = { shape = "trapezoid", duration = "11 ms" }',
            "payload.fragility_pulse.rise is missing: a trapezoid has one; give it",
        ),
        ('critical_velocity = "3 m"', "payload.critical_velocity = '3 m'"),
        ('critical_velocity = "0 m/s"', "payload.critical_velocity = '0 m/s'"),
        ('running_fragility = "15 g"', "write '15 g0'"),
    ],
)
def test_a_line_for_each_mistake(tmp_path, capsys, line, words) -> None:
    (said,) = complaints(tmp_path, capsys, STARTER.replace(FRAGILITY, f"{FRAGILITY}\n{line}"))
    assert words in said


@pytest.mark.parametrize(
    "line", ['critical_velocity = "3 m/s"', f"fragility_pulse = {PULSE}"], ids=["velocity", "pulse"]
)
def test_what_goes_with_a_fragility_is_refused_without_one(tmp_path, capsys, line) -> None:
    (said,) = complaints(tmp_path, capsys, STARTER.replace(FRAGILITY, line))
    key = line.split(" ")[0]
    assert said == (
        f"payload.{key} stands without fragility, the peak that it goes with; add fragility"
    )


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("pulse = 5", "leg[1].pulse = 5: a table is wanted"),
        ('pulse = { shape = "half-sine", peak = "30 g0" }', "leg[1].pulse.duration is missing"),
        (
            'pulse = { shape = "half-sine", peak = "30 g", duration = "11 ms" }',
            "leg[1].pulse.peak = '30 g': g is a mass here",
        ),
        (
            'pulse = { shape = "half-sine", peak = "30 g0", duration = "11" }',
            "leg[1].pulse.duration = '11': a number without a unit",
        ),
        (
            'pulse = { shape = "sawtooth", peak = "30 g0", duration = "11 ms" }',
            "leg[1].pulse.shape = 'sawtooth': not one of the choices",
        ),
        (
            'pulse = { shape = "trapezoid", peak = "3 g0", duration = "9 ms", rise = "6 ms", '
            'fall = "6 ms" }',
            "leg[1].pulse.rise + fall = 12 ms: longer than the duration of 9 ms",
        ),
        ('pulse = { record = "no.csv" }', "leg[1].pulse.record = 'no.csv': no such file"),
        (
            'pulse = { record = "gap.csv", peak = "3 g0" }',
            "leg[1].pulse.peak = '3 g0': unknown key",
        ),
        ('pulse = { record = "gap.csv" }', "leg[1].pulse.record: times[3] = 5 ms: 3 ms after"),
        ('pulse = { record = "still.csv" }', "leg[1].pulse.record: samples: nothing but zeros"),
        ('pulse_axes = ["vertical"]', "leg[1].pulse_axes stands without pulse; give the pulse"),
        ('pulse_axes = ["up"]', "leg[1].pulse_axes[1] = 'up': not one of the choices"),
        ('running = "perhaps"', "leg[1].running = 'perhaps': not a yes or no"),
    ],
)
def test_a_line_for_each_mistake_of_a_pulse(tmp_path, capsys, line, words) -> None:
    head = "time [ms],acceleration [g0]\n"
    (tmp_path / "gap.csv").write_text(f"{head}0,0\n1,4\n2,9\n5,3\n6,0\n", encoding="utf-8")
    (tmp_path / "still.csv").write_text(f"{head}0,0\n1,0\n2,0\n", encoding="utf-8")
    text = STARTER.replace('drop = "0.2 m"', f'drop = "0.2 m"\n{line}')
    (said,) = complaints(tmp_path, capsys, text)
    assert words in said


def test_a_record_of_grams_names_its_column(tmp_path, capsys) -> None:
    (tmp_path / "g.csv").write_text("time [ms],acceleration [g]\n0,0\n1,4\n", encoding="utf-8")
    line = 'pulse = { record = "g.csv" }'
    text = STARTER.replace('drop = "0.2 m"', f'drop = "1 m"\n{line}')
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert main(["assess", str(tmp_path / "case.toml")]) == 2
    said = capsys.readouterr().err.splitlines()
    assert said
    assert all("g.csv" in each and "mass" in each for each in said)


def test_a_record_is_no_tried_pulse() -> None:
    jolt = Pulse.of_record(["0 g0", "9 g0", "0 g0"], rate="1 kHz")
    with pytest.raises(InputError, match="fragility_pulse is a record"):
        Payload(mass="1 kg", size=["1 m"] * 3, fragility="9 g0", fragility_pulse=jolt)


def test_it_is_refused_once_where_parts_or_a_scale_give_the_mass(tmp_path, capsys) -> None:
    lines = [line for line in STARTER.splitlines() if not line.startswith(("mass", "centre"))]
    text = "\n".join(lines).replace(FRAGILITY, 'critical_velocity = "3 m/s"\nparts = "parts.csv"')
    (tmp_path / "parts.csv").write_text(
        "name,mass [kg],x [mm],y [mm],z [mm],size x [mm],size y [mm],size z [mm]\n"
        "tray,8,0,0,0,100,100,100\n",
        encoding="utf-8",
    )
    said = complaints(tmp_path, capsys, text)
    assert [line for line in said if "critical_velocity" in line] == [
        "payload.critical_velocity stands without fragility, the peak that it goes with; add "
        "fragility"
    ]


def test_a_payload_of_parts_has_all_that_it_survives(tmp_path) -> None:
    part = Part(name="tray", mass="8 kg", position=["0 mm"] * 3, size=["0.1 m"] * 3)
    whole = Payload.of_parts(
        [part],
        size=["1 m"] * 3,
        fragility="40 g0",
        fragility_pulse=Pulse(shape="half-sine", peak="40 g0", duration="11 ms"),
        critical_velocity="3 m/s",
        running_fragility="15 g0",
    )
    rating = Rating.of(whole)
    assert rating.pulse is not None
    assert rating.velocity_change == pytest.approx(3)
    assert Rating.of(whole, running=True).acceleration == pytest.approx(15 * 9.80665)

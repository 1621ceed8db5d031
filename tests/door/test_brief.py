"""Mistakes in a brief: one line each, exit status 2, no traceback."""

from pathlib import Path

import pytest

from isolator.cli import main

STARTER = (Path(__file__).parents[2] / "data" / "starter" / "case.toml").read_text(encoding="utf-8")


def complaint(tmp_path, capsys, text):
    brief = tmp_path / "case.toml"
    brief.write_text(text, encoding="utf-8")
    assert main(["assess", str(brief)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('mass = "8 kg"', 'mass = "7,8 kg"', ["payload.mass", "7.8 kg"]),
        ('mass = "8 kg"', 'mass = "1 000 kg"', ["payload.mass", "1000 kg"]),
        ('mass = "8 kg"', "mass = 8", ["payload.mass", "without a unit"]),
        ('mass = "8 kg"', 'mass = "9**9**9 kg"', ["payload.mass"]),
        ('mass = "8 kg"', 'mass = "-8 kg"', ["payload.mass"]),
        ('mass = "8 kg"', 'mass = "8000 kg"', ["payload.mass", "500 kg"]),
        ('mass = "8 kg"', "mass = nan", ["payload.mass"]),
        ('mass = "8 kg"', 'mas = "8 kg"', ["payload.mas ", "'mass' meant?"]),
        ('along = "6 N/mm"', 'along = "6 lb/in"', ["mount.ring.along", "lbf/in"]),
        ('fragility = "40 g0"', 'fragility = "40 g"', ["payload.fragility", "40 g0"]),
        ('drop = "0.2 m"', 'drop = "0.2 kg"', ["leg[1].drop"]),
        ("truck d4169-16 medium", "truck d4169-16 medum", ["'truck d4169-16 medium' meant?"]),
        ("loss_factor = 0.15", "loss_factor = inf", ["mount.ring.loss_factor"]),
        ('inset = ["40 mm", "40 mm"]', 'inset = ["200 mm", "40 mm"]', ["mounts.inset"]),
    ],
)
def test_a_mistake_is_named_with_its_fix(tmp_path, capsys, old, new, words):
    assert old in STARTER
    err = complaint(tmp_path, capsys, STARTER.replace(old, new, 1))
    assert "case.toml" in err
    for word in words:
        assert word in err


def test_all_mistakes_come_in_one_run(tmp_path, capsys):
    text = STARTER.replace('mass = "8 kg"', 'mass = "kg"').replace('"15 °C"', '"15 mm"')
    assert len(complaint(tmp_path, capsys, text).splitlines()) == 2


def test_a_missing_file_and_broken_toml(tmp_path, capsys):
    assert main(["assess", str(tmp_path / "none.toml")]) == 2
    assert "no such file" in capsys.readouterr().err
    assert "TOML" in complaint(tmp_path, capsys, "mass = 8 kg")


@pytest.mark.parametrize("name", ["../road.csv", "/etc/road.csv"])
def test_a_brief_reads_its_own_folder_only(tmp_path, capsys, name):
    (tmp_path.parent / "road.csv").write_text("frequency [Hz],density [g0^2/Hz]\n1,1\n2,1\n")
    text = STARTER.replace("truck d4169-16 medium", name, 1)
    assert "outside the folder" in complaint(tmp_path, capsys, text)


def test_a_link_out_of_the_folder_is_refused(tmp_path, capsys):
    inside = tmp_path / "case"
    inside.mkdir()
    (tmp_path / "road.csv").write_text("frequency [Hz],density [g0^2/Hz]\n1,1\n2,1\n")
    (inside / "road.csv").symlink_to(tmp_path / "road.csv")
    text = STARTER.replace("truck d4169-16 medium", "road.csv", 1)
    assert "outside the folder" in complaint(inside, capsys, text)


@pytest.mark.parametrize(
    ("rows", "words"),
    [("10,0.01\n5,0.01\n", "above the one before"), ("5,0\n10,0.01\n", "density")],
)
def test_a_spectrum_must_rise_and_hold_something(tmp_path, capsys, rows, words):
    (tmp_path / "road.csv").write_text("frequency [Hz],density [g0^2/Hz]\n" + rows)
    text = STARTER.replace("truck d4169-16 medium", "road.csv", 1)
    assert words in complaint(tmp_path, capsys, text)


def test_mounts_in_one_line_leave_a_motion_free(tmp_path, capsys):
    places = "".join(
        f'[[mounts.place]]\nposition = ["{x} mm", "0 mm", "-10 mm"]\n' for x in (-100, 0, 100)
    )
    text = STARTER.replace('inset = ["40 mm", "40 mm"]', "").replace('height = "-10 mm"', places)
    assert "rock about x" in complaint(tmp_path, capsys, text)


def test_new_writes_a_case_that_passes_and_never_overwrites(tmp_path, capsys):
    folder = tmp_path / "my case"
    assert main(["new", str(folder)]) == 0
    assert main(["assess", str(folder / "case.toml")]) == 0
    assert main(["new", str(folder)]) == 2
    assert "nothing was written" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["my case"]

"""Mistakes about further bodies in a case: one line each that names the key in the frame."""

import re
import tomllib
from pathlib import Path

import pytest

from isolator.brief import read_brief
from isolator.cli import main
from isolator.units import InputError

DATA = Path(__file__).parents[2] / "data"
STARTER = (DATA / "starter" / "case.toml").read_text(encoding="utf-8")
TRAY = """
[frame."lid tray"]
at = ["0 mm", "20 mm", "190 mm"]
on_lid = true

[frame."lid tray".payload]
mass = "2 kg"
size = ["200 mm", "150 mm", "40 mm"]

[frame."lid tray".gaps]
floor = "payload"
lid = "50 mm"

[frame."lid tray".mounts]
use = "ring"
inset = ["20 mm", "20 mm"]
height = "0 mm"
"""
FREE = TRAY.replace('floor = "payload"', 'floor = "290 mm"')
PLACES = "".join(
    f'[[frame."lid tray".mounts.place]]\nposition = ["{x} mm", "{y} mm", "0 mm"]\n'
    for x, y in ((-80, -50), (80, -50), (0, 50))
)
PLACED = TRAY.replace('use = "ring"\ninset = ["20 mm", "20 mm"]\nheight = "0 mm"\n', "") + PLACES


def complaints(folder, capsys, text):
    """The lines about a brief, without the name of the program."""
    (folder / "case.toml").write_text(text, encoding="utf-8")
    assert main(["assess", str(folder / "case.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.splitlines()
    assert lines
    for line in lines:
        assert line.startswith("isolator: case.toml: ")
        assert len(line) < 400
        assert re.search(r"; |\?|: (weigh|name|give|a list) ", line), line
        assert not re.search(r"@|Traceback|function-|Mount\.|Leg\.|Place\.|Payload\.|Part\.", line)
    return [line.removeprefix("isolator: case.toml: ") for line in lines]


def keyed(words):
    """The words of a line, with quotes around the name of the tray where it is a key."""
    return re.sub(r"(?<=frame\.)lid tray(?=[.:])", '"lid tray"', words)


def changed(text, old, new):
    assert old in text, old
    return text.replace(old, new, 1)


def test_the_case_that_is_spoiled_here_is_usable(tmp_path):
    for frame in (TRAY, PLACED, FREE):
        (tmp_path / "case.toml").write_text(STARTER + frame, encoding="utf-8")
        assert len(read_brief(tmp_path / "case.toml").frames["lid tray"].places) in (3, 4)


MISTAKES = [
    ("at =", "att =", ["frame.lid tray.at is missing", "frame.lid tray.att = "]),
    ('"190 mm"]', "190]", "frame.lid tray.at[3] = 190: a number without a unit"),
    ('"190 mm"]', '"190 m"]', "frame.lid tray.at[3] = '190 m'"),
    ('"20 mm", "190 mm"]', '"20 mm"]', "a list of 3 wanted"),
    ("on_lid = true", "on_lid = 'perhaps'", "frame.lid tray.on_lid = 'perhaps': not a yes or no"),
    ("on_lid", "onlid", "frame.lid tray.onlid = true: unknown key; 'on_lid' meant?"),
    ("on_lid = true", "use = 'ring'", "frame.lid tray.use = 'ring': unknown key; it belongs under"),
    ('mass = "2 kg"', 'mass = "2"', "frame.lid tray.payload.mass = '2'"),
    ('mass = "2 kg"', 'mass = "2000 kg"', "frame.lid tray.payload.mass = '2000 kg'"),
    ('mass = "2 kg"', "", "frame.lid tray.payload.mass is missing: weigh what floats, name a "
     "parts table in frame.lid tray.payload.parts"),
    ('mass = "2 kg"', 'mas = "2 kg"', [
        "frame.lid tray.payload.mas = '2 kg': unknown key; 'mass' meant?",
        ]),
    ('mass = "2 kg"', 'parts = "none.csv"', "frame.lid tray.payload.parts = 'none.csv': no such"),
    ('mass = "2 kg"', 'mass = "2 kg"\nparts = "none.csv"', [
        "frame.lid tray.payload.mass stands beside frame.lid tray.payload.parts",
        "frame.lid tray.payload.parts = 'none.csv': no such"]),
    ('mass = "2 kg"', "weighing = { resolution = '0.1 kg', foot = {} }", "frame.lid tray.payload."
     "weighing.foot: one table; write [[frame.lid tray.payload.weighing.foot]] in double brackets"),
    ("on_lid = true", "cable = {}", "frame.lid tray.cable: one table; write [[frame.lid tray."),
    ('on_lid = true', "cable = [{ name = 'loom', position = ['0 mm', '0 mm', '9 m'] }]", [
        "frame.lid tray.cable[1].position[3] = '9 m'",
        "frame.lid tray.cable[1].stiffness is missing"]),
    ('use = "ring"', "use = 'ring'\nflatness = 3", "frame.lid tray.mounts.flatness = 3: a number"),
    ('size = ["200 mm"', 'size = ["2 km"', "frame.lid tray.payload.size[1] = '2 km'"),
    ('mass = "2 kg"', 'mass = "2 kg"\ncentre = ["0 m", "0 m", "1 m"]',
     "frame.lid tray.payload.centre: z = 1000 mm lies outside"),
    ('lid = "50 mm"', "lid = 50", "frame.lid tray.gaps.lid = 50: a number without a unit"),
    ('lid = "50 mm"', 'lid = "lid tray"', "frame.lid tray.gaps.lid = 'lid tray': neither a length"),
    ('lid = "50 mm"', 'lid = "pay load"', "gaps.lid = 'pay load': neither a length nor another "
     "body; 'payload' meant?"),
    ('lid = "50 mm"', 'lid = "payload"', "frame.lid tray.gaps.lid = 'payload': seen from this body "
     "the other one is not there"),
    ('lid = "50 mm"', 'left_end = "payload"', "gaps.left_end = 'payload': seen from this body"),
    ('lid = "50 mm"', 'measured = "out"', "frame.lid tray.gaps.measured = 'out': unknown key; it "
     "belongs under [case]"),
    ('floor = "payload"', 'flor = "payload"', "frame.lid tray.gaps.flor = 'payload': unknown key"),
    ('use = "ring"', 'use = "rung"', "frame.lid tray.mounts.use = 'rung': no such mount; 'ring' "),
    ('use = "ring"', 'use = "ring"\npush = "up"', "frame.lid tray.mounts.push = 'up': not one"),
    ('use = "ring"', 'use = "ring"\ntable = "none.csv"', "frame.lid tray.mounts.table = 'none.csv'"
     ": no such"),
    ('inset = ["20 mm", "20 mm"]', "", "frame.lid tray.mounts.inset and frame.lid tray.mounts.h"),
    ('inset = ["20 mm"', 'inset = ["100 mm"', "frame.lid tray.mounts.inset[1] = 100 mm: it reach"),
    ('height = "0 mm"', 'height = "1 m"', "frame.lid tray.mounts.inset and height: position: z = "),
    ('inset = ["20 mm", "20 mm"]\nheight = "0 mm"', "", "frame.lid tray.mounts: no mount has a "
     "place; give frame.lid tray.mounts.inset and frame.lid tray.mounts.height for four in a "
     "rectangle, or a [[frame.lid tray.mounts.place]] for each"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "words"), MISTAKES)
def test_a_mistake_in_a_frame(tmp_path, capsys, old, new, words):
    lines = complaints(tmp_path, capsys, STARTER + changed(TRAY, old, new))
    wanted = [words] if isinstance(words, str) else words
    for text in wanted:
        assert any(keyed(text) in line for line in lines), lines
    assert len(lines) <= len(wanted) + ("mas =" in new)


@pytest.mark.parametrize("name", ["lid tray", "tray-2_b", "étagère"])
def test_keys_of_messages_can_be_pasted(tmp_path, capsys, name):
    text = changed(TRAY, 'mass = "2 kg"', 'mass = "2"').replace("lid tray", name)
    text += f'[mount."soft {name}"]\nalong = 3\n["odd {name}"]\n'
    text = changed(text, "on_lid = true", "on_lid = true\ncable = {}")
    lines = complaints(tmp_path, capsys, STARTER + text)
    read = [tomllib.loads(f"{line.partition(' = ')[0]} = 1") for line in lines if " = " in line]
    assert {"frame": {name: {"payload": {"mass": 1}}}} in read
    assert {"mount": {f"soft {name}": {"along": 1}}} in read
    assert {f"odd {name}": 1} in read
    (head,) = [found[0] for line in lines if (found := re.search(r"\[\[.*\]\]", line))]
    assert tomllib.loads(head) == {"frame": {name: {"cable": [{}]}}}


def test_a_value_that_looks_like_a_key_is_left_as_it_is(tmp_path, capsys):
    text = changed(TRAY, 'use = "ring"', 'use = "payload.mass"')
    (line,) = complaints(tmp_path, capsys, STARTER + text)
    assert line.startswith("frame.\"lid tray\".mounts.use = 'payload.mass': no such mount")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"-80 mm"', '"-80 cm"', "frame.lid tray.mounts.place[1].position: x = -800 mm lies far"),
        ('"80 mm"', "80", "frame.lid tray.mounts.place[2].position[1] = 80: a number without"),
        (PLACES[-80:], "", "frame.lid tray.mounts: 2 given; a payload needs three or more"),
        ('"50 mm", "0 mm"]', '"-50 mm", "0 mm"]', "frame.lid tray.mounts: they lie in one line"),
        (
            "position",
            "mount = 'x'\nposition",
            "frame.lid tray.mounts.place[1].mount = 'x': no such",
        ),
        ("position", "drop = 'x'\nposition", "frame.lid tray.mounts.place[1].drop = 'x': unknown"),
    ],
)
def test_a_mistake_at_a_place_in_a_frame(tmp_path, capsys, old, new, words):
    text = changed(PLACED, old, new)
    if not new:
        text = PLACED[: PLACED.rindex("[[")]
    (line,) = complaints(tmp_path, capsys, STARTER + text)
    assert line.startswith(keyed(words))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ('"a/b"', 'frame."a/b": not a usable name; write letters'),
        ('"a: b"', "not a usable name"),
        ('"a.b"', "not a usable name"),
        ('"a[1]"', "not a usable name"),
        ('" a"', "not a usable name"),
        ('"7"', "not a usable name"),
        ('"5 mm"', "not a usable name"),
        ('"a\\u001b"', "not a usable name"),
        ('""', "not a usable name"),
        ('"' + "a" * 41 + '"', "not a usable name"),
        ('"left and right"', 'ids of checks join two bodies by " and "'),
        ("lid", "frame.lid: its name is a word of the checks too; give it another"),
        ('"left end"', "its name is a word of the checks too"),
        ('"by van"', 'frame."by van": its name is the name of a leg too; give it another'),
    ],
)
def test_a_name_that_no_id_of_a_check_could_hold(tmp_path, capsys, name, words):
    frame = TRAY.replace('"lid tray"', name)
    (line,) = complaints(tmp_path, capsys, STARTER + frame)
    assert words in line


def test_a_frame_of_the_name_of_the_payload(tmp_path, capsys):
    frame = FREE.replace('"lid tray"', "payload")
    (line,) = complaints(tmp_path, capsys, STARTER + frame)
    assert line == "frame.payload: [payload] is the main one's name; give this body another"


@pytest.mark.parametrize("name", ["étagère", "棚", '"lid tray 2"', "tray-2_b", "b"])
def test_names_of_other_languages_are_names(tmp_path, name):
    frame = TRAY.replace('"lid tray"', name if name[0] == '"' or name.isascii() else f'"{name}"')
    (tmp_path / "case.toml").write_text(STARTER + frame, encoding="utf-8")
    assert list(read_brief(tmp_path / "case.toml").frames) == [name.strip('"')]


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        ("frame = 3\n" + STARTER, "frame = 3: a table is wanted; write [frame.NAME] for each"),
        (STARTER + "[[frame]]\nat = 3\n", "frame = [{'at': 3}]: a table is wanted"),
        (
            STARTER + "[frame]\nat = ['0 mm', '0 mm', '1 m']\n",
            "a body needs a name; write [frame.NA",
        ),
        (STARTER + "[frame]\ntray = 3\n", "frame.tray = 3: a body needs a name"),
        (
            STARTER + "".join(TRAY.replace("lid tray", f"tray {n}") for n in "abcdefghi"),
            "frame: 9 given, at most 8 can be used; leave some out",
        ),
    ],
)
def test_tables_that_are_no_frames(tmp_path, capsys, frame, words):
    assert words in complaints(tmp_path, capsys, frame)[0]


@pytest.mark.parametrize("table", ["payload", "gaps", "mounts"])
@pytest.mark.parametrize("value", ["3", "[]", '"soft"'])
def test_a_table_of_a_frame_that_is_none(tmp_path, capsys, table, value):
    head, _, rest = TRAY.partition(f'[frame."lid tray".{table}]')
    rest = rest[rest.index("[frame") :] if "[frame" in rest else ""
    text = head.replace("on_lid = true", f"on_lid = true\n{table} = {value}") + rest
    lines = complaints(tmp_path, capsys, STARTER + text)
    assert any(
        line.startswith(f'frame."lid tray".{table} = ')
        and f'a table is wanted; write [frame."lid tray".{table}] on a line of its own' in line
        for line in lines
    ), lines


@pytest.mark.parametrize("table", ["payload", "mounts"])
def test_a_table_of_a_frame_that_is_missing(tmp_path, capsys, table):
    head, _, rest = TRAY.partition(f'[frame."lid tray".{table}]')
    rest = rest[rest.index("[frame") :] if "[frame" in rest else ""
    lines = complaints(tmp_path, capsys, STARTER + head + rest)
    assert lines == [f'frame."lid tray".{table} is missing: the verdict needs it; add it']


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ('["0 mm", "0 mm", "90 mm"]', "their boxes overlap by 5 mm along z and more along the oth"),
        ('["0 mm", "220 mm", "0 mm"]', "their boxes overlap by 5 mm along y"),
        ('["-1 mm", "0 mm", "0 mm"]', "their boxes overlap by 95 mm along z"),
    ],
)
def test_bodies_that_are_in_each_other(tmp_path, capsys, at, words):
    text = changed(FREE, '["0 mm", "20 mm", "190 mm"]', at)
    (line,) = complaints(tmp_path, capsys, STARTER + text)
    assert line.startswith('frame."lid tray".at: already touching the payload: ')
    assert words in line


def test_two_frames_that_are_in_each_other(tmp_path, capsys):
    second = changed(FREE, "190 mm", "200 mm").replace("lid tray", "shelf")
    (line,) = complaints(tmp_path, capsys, STARTER + FREE + second)
    assert line.startswith(
        "frame.shelf.at: already touching lid tray: their boxes overlap by 30 mm"
    )


def test_bodies_that_touch_at_rest_get_a_verdict(tmp_path, capsys):
    text = changed(FREE, '"190 mm"', '"95 mm"')
    (tmp_path / "case.toml").write_text(STARTER + text, encoding="utf-8")
    assert main(["assess", str(tmp_path / "case.toml")]) == 1
    assert "FAILS clearance (lid tray)" in capsys.readouterr().out


def test_a_wall_of_the_case_before_which_a_body_is_said_to_stand(tmp_path, capsys):
    for face, value, words in (
        ("lid", "lid trey", "case.lid = 'lid trey': neither a length nor another body; 'lid tray'"),
        ("lid", "payload", "case.lid = 'payload': neither a length nor another body"),
        ("floor", "lid tray", "case.floor = 'lid tray': seen from this body the other one is not"),
        ("hinge_side", "lid tray", "case.hinge_side = 'lid tray': seen from this body the other"),
    ):
        text = changed(STARTER, f'{face} = "50 mm"', f'{face} = "{value}"') + TRAY
        (line,) = complaints(tmp_path, capsys, text)
        assert line.startswith(words)
    beside = changed(FREE, '"0 mm", "20 mm"', '"320 mm", "20 mm"')
    text = changed(STARTER, 'lid = "50 mm"', 'lid = "lid tray"') + beside
    (line,) = complaints(tmp_path, capsys, text)
    assert "the other one is beside it, so nothing stands before that wall" in line


def test_without_frames_a_word_is_no_gap(tmp_path, capsys):
    (line,) = complaints(tmp_path, capsys, changed(STARTER, 'lid = "50 mm"', 'lid = "payload"'))
    assert line.startswith("case.lid = 'payload': neither a length nor another body")
    assert "this case has none; write '8 mm', or the name of a body that [frame.NAME]" in line


def test_a_case_too_small_for_a_frame(tmp_path, capsys):
    text = changed(STARTER, "[case] ", "[case]\nsize = ['600 mm', '480 mm', '400 mm']\n# ")
    text += changed(FREE, 'lid = "50 mm"', 'lid = "450 mm"')
    (line,) = complaints(tmp_path, capsys, text)
    assert line.startswith(keyed("frame.lid tray: case.size: z = 400 mm outside, but the "))


def test_a_frame_outside_the_case(tmp_path, capsys):
    text = changed(STARTER, "[case] ", "[case]\nsize = ['600 mm', '480 mm', '400 mm']\n# ")
    (line,) = complaints(tmp_path, capsys, text + changed(TRAY, '"190 mm"', '"310 mm"'))
    assert line.startswith(
        keyed("frame.lid tray.at: z = 310 mm: with the payload it takes 405 mm, case.size is 400 ")
    )


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("lid trey: sag", "'lid tray: sag' meant?"),
        ("lid tray: clearance/lidd", "'lid tray: clearance/lid' meant?"),
        ("lid tray: clearance/floor", "meant?"),  # the payload stands there
        ("clearance/lid trey", "'clearance/lid tray' meant?"),
        ("lid tray", "meant?"),
        ("lid tray: clearance/lid tray", "meant?"),
        ("lid tray: drop travel/by vn", "'lid tray: drop travel/by van' meant?"),
    ],
)
def test_a_waiver_that_matches_no_check_of_a_frame(tmp_path, capsys, key, words):
    text = changed(STARTER, "[payload]", f'[not_required]\n"{key}" = "x"\n[payload]') + TRAY
    (line,) = complaints(tmp_path, capsys, text)
    assert "this case has no check of that id" in line
    assert words in line


def test_mistakes_in_all_bodies_come_in_one_run(tmp_path, capsys):
    text = changed(STARTER, 'mass = "8 kg"', 'mass = "kg"')
    text = changed(text, 'floor = "50 mm"', "floor = 50")
    text = changed(text, 'duration = "3 h"', "duration = 3")
    first = changed(TRAY, 'mass = "2 kg"', 'mass = "lb"')
    first = changed(first, 'use = "ring"', 'use = "rang"')
    first = changed(first, 'lid = "50 mm"', 'lid = "5o"')
    second = TRAY.replace("lid tray", "shelf")
    second = changed(second, '"190 mm"', '"600 mm"')
    second = changed(second, '"20 mm", "20 mm"]', '"20 mm", "90 mm"]')
    third = changed(TRAY.replace('"lid tray"', '"x/y"'), "on_lid = true", "on_lid = 3")
    lines = complaints(tmp_path, capsys, text + first + second + third)
    starts = [
        "leg[1].duration = 3",
        "payload.mass = 'kg'",
        "case.floor = 50",
        'frame."x/y": not a usable name',
        "frame.\"lid tray\".payload.mass = 'lb'",
        "frame.\"lid tray\".mounts.use = 'rang'",
        "frame.\"lid tray\".gaps.lid = '5o'",
        "frame.shelf.mounts.inset[2] = 90 mm",
        'frame."x/y".on_lid = 3',
    ]
    for start in starts:
        assert sum(line.startswith(start) for line in lines) == 1, (start, lines)
    assert len(lines) == len(starts)


def test_a_mount_of_two_tables_is_named_where_it_stands(tmp_path, capsys):
    head = "name,along [N/mm],across [N/mm],dynamic ratio\n"
    for name in ("a", "b"):
        (tmp_path / f"{name}.csv").write_text(f"{head}spare,1,1,1\n")
    text = changed(STARTER, "[mounts] ", '[mounts]\nuse = "ring"\ntable = "a.csv"\n# ')
    text += changed(TRAY, 'use = "ring"', 'use = "ring"\ntable = "b.csv"')
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert main(["assess", str(tmp_path / "case.toml")]) == 2
    assert "b.csv: line 2 ('spare'): another table has a mount 'spare' too; give each its own" in (
        capsys.readouterr().err
    )


def test_a_changed_frame_is_judged_as_a_file_would_be(tmp_path):
    (tmp_path / "case.toml").write_text(STARTER + TRAY, encoding="utf-8")
    brief = read_brief(tmp_path / "case.toml")
    lighter = brief.changed("frame.lid tray.payload.mass", "1 kg")
    assert lighter.frames["lid tray"].payload.mass.to("kg").magnitude == 1
    assert brief.frames["lid tray"].payload.mass.to("kg").magnitude == 2
    moved = brief.changed("frame.lid tray.at", ["0 mm", "0 mm", "200 mm"])
    assert moved.frames["lid tray"].at.to("mm").magnitude[2] == pytest.approx(200)
    for key, value, words in [
        ("frame.lid tray.payload.mass", "1", "frame.\"lid tray\".payload.mass = '1'"),
        ("frame.lid trey.payload.mass", "1 kg", "frame.lid trey.payload.mass"),
        ("frame.lid tray.mounts.place[1].mount", "ring", "frame.lid tray.mounts.place[1].mount"),
        ("frame.lid tray.at", ["0 mm"] * 3, "already touching"),
    ]:
        with pytest.raises(InputError, match=re.escape(words)):
            brief.changed(key, value)

"""Mistakes about the room: one line each that names key, value, limit and way out."""

from pathlib import Path

import numpy as np
import pytest

from isolator import case as case_module
from isolator import inside as inside_module
from isolator.brief import read_brief
from isolator.case import Case
from isolator.cli import main
from isolator.cushion import Cushion
from isolator.inside import CornerGap, Inside, Obstacle, Rib
from isolator.payload import Part
from isolator.trip import Leg
from isolator.units import InputError

STARTER = (Path(__file__).parents[2] / "data" / "starter" / "case.toml").read_text("utf-8")
HEAD, REST = STARTER[: STARTER.index("[case]")], STARTER[STARTER.index("[mount.ring]") :]
INSIDE = {
    "size": '["500 mm", "400 mm", "250 mm"]',
    "floor": '"50 mm"',
    "middle": '["0 mm", "0 mm"]',
}
OBSTACLE = {
    "name": '"bracket"',
    "position": '["230 mm", "0 mm", "0 mm"]',
    "size": '["20 mm", "20 mm", "20 mm"]',
}
RIB = {
    "name": '"rib"',
    "wall": '"left end"',
    "width": '"10 mm"',
    "height": '"5 mm"',
    "at": '"0 mm"',
}
SIDES = 'left_end = "50 mm"\nright_end = "50 mm"\n'
ROW = "name,x [mm],y [mm],z [mm],size x [mm],size y [mm],size z [mm],on lid\n"
GAPS = "end,side,level,to end [mm],to side [mm],to level [mm]\n"


def table(head, keys, **changed):
    lines = [f"{key} = {value}" for key, value in (keys | changed).items() if value]
    return "\n".join([head, *lines]) + "\n"


def inside(**changed):
    return table("[case.inside]", INSIDE, **changed)


def obstacle(**changed):
    return table("[[case.obstacle]]", OBSTACLE, **changed)


def rib(**changed):
    return table("[[case.rib]]", RIB, **changed)


def complaints(folder, capsys, case, files=(), rest=REST):
    text = f'{HEAD}[case]\nmeasured = "hanging"\n{case}\n{rest}'
    for name, content in {"case.toml": text, **dict(files)}.items():
        (folder / name).write_text(content, encoding="utf-8")
    assert main(["assess", str(folder / "case.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    for line in err.splitlines():
        assert "; " in line or "?" in line, line
        assert len(line) < 400
        assert not any(word in line for word in ("Traceback", "Inside.", "Rib.", "Case.", "@"))
    return err.splitlines()


MISTAKES = {
    "touching": (
        obstacle(position='["205 mm", "0 mm", "0 mm"]'),
        ["case.obstacle 'bracket': already touching: it overlaps", "by 5 mm along x"],
    ),
    "rib touching": (
        SIDES + rib(height='"54 mm"'),
        ["case.rib 'rib': already touching", "by 4 mm along x"],
    ),
    "rib wider than the case": (
        inside() + rib(width='"410 mm"'),
        ["case.rib 'rib': width = 410 mm: more than the case has along y, 400 mm"],
    ),
    "rib higher than the case": (
        SIDES + rib(height='"700 mm"', at='"400 mm"'),
        ["case.rib 'rib': height = 700 mm: more than the case has along x, 500 mm"],
    ),
    "obstacle larger than the case": (
        'size = ["600 mm", "500 mm", "300 mm"]\n'
        + obstacle(
            size='["20 mm", "20 mm", "2000 mm"]',
        ),
        ["case.obstacle 'bracket': size: z = 2000 mm is more than the case has, 300 mm"],
    ),
    "obstacle far away": (
        obstacle(position='["2300 mm", "0 mm", "0 mm"]'),
        [
            "case.obstacle 'bracket': it begins 2090 mm from",
            "too far for the right end",
            "slip of units?",
        ],
    ),
    "no room along x": (
        inside(size='["390 mm", "400 mm", "250 mm"]'),
        ["case.inside: the payload's box of 400 mm along x is larger than the room, 390 mm"],
    ),
    "too near a wall": (
        inside(middle='["0 mm", "60 mm"]'),
        ["300 mm along y is 10 mm in the hinge side at its corner -+-", "case.inside.size, middle"],
    ),
    "no room at the floor": (
        inside(size='["500 mm", "450 mm", "250 mm"]', draft='"15 deg"'),
        ["along x is 3.59 mm in the left end at its corner ---"],
    ),
    "under the lid": (inside(floor='"120 mm"'), ["along z is 20 mm in the lid"]),
    "in a rounded edge": (
        inside(corner_radius='"190 mm"'),
        ["case.inside.corner_radius = 190 mm: the payload's box is 7.99 mm in that rounding"],
    ),
    "in the rounding at the floor": (
        inside(floor='"2 mm"', floor_radius='"120 mm"', middle='["48 mm", "0 mm"]'),
        ["case.inside.floor_radius = 120 mm: the payload's box is 46.88 mm in that rounding"],
    ),
    "radius crosses": (
        inside(corner_radius='"201 mm"'),
        ["case.inside.corner_radius = 201 mm", "200 mm", "the diameter meant?"],
    ),
    "floor radius crosses": (inside(floor_radius='"300 mm"'), ["floor_radius = 300 mm", "200 mm"]),
    "draft closes": (
        inside(draft='"42 deg"'),
        ["case.inside.draft = 42 °: the walls would meet 222.1 mm below the rim", "250 mm"],
    ),
    "draft without its unit": (inside(draft="2"), ["case.inside.draft = 2", "write '2 deg'"]),
    "draft as a length": (inside(draft='"2 mm"'), ["case.inside.draft", "no unit of angle"]),
    "gap beside the contour": (
        'floor = "50 mm"\n' + inside(),
        ["case.floor stands beside case.inside"],
    ),
    "name of a wall": (obstacle(name='"lid"'), ["case.obstacle 'lid': a check has this name"]),
    "name with a slash": (obstacle(name='"a/b"'), ["case.obstacle 'a/b': check ids are cut at /"]),
    "name twice": (obstacle() + rib(name='"bracket"'), ["'bracket': the name stands twice"]),
    "no such wall": (rib(wall='"left"'), ["case.rib[1].wall = 'left'", "'left end' meant?"]),
    "no size": (obstacle(size=None), ["case.obstacle[1].size is missing"]),
    "not a list": ('obstacle = "bracket"', ["case.obstacle = 'bracket'", "[[case.obstacle]]"]),
    "single brackets": (
        obstacle().replace("[[case.obstacle]]", "[case.obstacle]"),
        ["double brackets"],
    ),
    "unknown sum": ('sum = "average"', ["case.sum = 'average'", "worst case, root sum square"]),
    "misplaced": ('draft = "2 deg"', ["case.draft = '2 deg'", "it belongs under [case.inside]"]),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_gets_one_line(mistake, tmp_path, capsys):
    case, words = MISTAKES[mistake]
    (line,) = complaints(tmp_path, capsys, case)
    for word in words:
        assert word in line


FILES = {
    "gaps twice": (
        SIDES + 'gaps = "gaps.csv"',
        GAPS + "left,handle,floor,50,50,50\n",
        ["case.left_end stands beside case.gaps", "case.right_end stands beside case.gaps"],
    ),
    "gaps beside the contour": (
        'gaps = "gaps.csv"\n' + inside(),
        GAPS + "left,handle,floor,50,50,50\n",
        ["case.gaps stand beside case.inside"],
    ),
    "corner twice": (
        'gaps = "gaps.csv"',
        GAPS + "left,handle,floor,50,50,50\n" * 2,
        ["case.gaps: the corner left, handle, floor stands twice; keep one"],
    ),
    "unknown corner": (
        'gaps = "gaps.csv"',
        GAPS + "front,handle,floor,50,50,50\n",
        ["gaps.csv: line 2: end = 'front'", "left, right"],
    ),
    "too many obstacles": (
        'obstacles = "gaps.csv"',
        ROW + "".join(f"o{n},400,0,0,9,9,9,no\n" for n in range(1001)),
        ["gaps.csv: 1001 rows, at most 1000 can be used; check it"],
    ),
    "touching": (
        'obstacles = "gaps.csv"',
        ROW + "post,0,0,80,9,9,20,no\n",
        ["case.obstacle 'post': already touching", "by 5 mm along z"],
    ),
}


@pytest.mark.parametrize("mistake", FILES)
def test_a_mistake_in_a_file_gets_its_lines(mistake, tmp_path, capsys):
    case, text, words = FILES[mistake]
    lines = complaints(tmp_path, capsys, case, {"gaps.csv": text})
    if len(lines) == 1:
        assert all(word in lines[0] for word in words), lines[0]
    else:
        assert all(word in line for line, word in zip(lines, words, strict=True)), lines


def test_all_mistakes_come_in_one_run(tmp_path, capsys):
    case = inside(draft='"42 deg"') + obstacle(size='["1 m"]') + rib(wall='"left"')
    rest = REST.replace('along = "6 N/mm"', 'along = "6 mm"')
    keys = [line.split(" = ")[0] for line in complaints(tmp_path, capsys, case, rest=rest)]
    wanted = ("case.inside.draft", "case.obstacle[1].size", "case.rib[1].wall", "mount.ring.along")
    assert sorted(keys) == sorted(f"isolator: case.toml: {key}" for key in wanted)
    # what touches is said although a mount is unusable
    case = obstacle(position='["0 mm", "0 mm", "0 mm"]')
    assert len(complaints(tmp_path, capsys, case, rest=rest)) == 2


def test_a_case_does_not_stand_on_an_open_lid(tmp_path, capsys):
    rest = REST.replace('duration = "3 h"', 'duration = "3 h"\nlid = "open"\nattitude = "lid down"')
    rest = rest.replace('drop = "0.2 m"', 'drop = "none"')
    (line,) = complaints(tmp_path, capsys, "", rest=rest)
    assert "leg[1].lid = 'open': it stands on its lid" in line


def test_a_case_does_not_fall_on_an_open_lid(tmp_path, capsys):
    rest = REST.replace('duration = "3 h"', 'duration = "3 h"\nlid = "open"')
    (line,) = complaints(tmp_path, capsys, "", rest=rest)
    assert "leg[1].lid = 'open': its drop lands on the lid too; leave lid down out" in line


def test_what_stands_behind_a_wall_is_refused_in_the_same_run_as_loose_mounts(tmp_path, capsys):
    case = SIDES + obstacle(position='["262 mm", "0 mm", "0 mm"]')
    rest = REST.replace('inset = ["40 mm", "40 mm"]', 'inset = ["40 mm", "149.99999 mm"]')
    behind, line = sorted(complaints(tmp_path, capsys, case, rest=rest))
    assert "case.obstacle 'bracket': it begins 52 mm from the payload's box" in behind
    assert "behind the right end at 50 mm" in behind
    assert "mounts: they lie in one line" in line


def test_a_change_that_makes_the_payload_touch_is_refused(tmp_path):
    (tmp_path / "case.toml").write_text(f"{HEAD}[case]\n{obstacle()}\n{REST}", encoding="utf-8")
    brief = read_brief(tmp_path / "case.toml")
    with pytest.raises(InputError, match="already touching"):
        brief.changed("payload.size", ["450 mm", "300 mm", "150 mm"])


SIZE = ["500 mm", "400 mm", "250 mm"]
CORNER = CornerGap(end="left", side="hinge", level="lid", to_end="5 mm")
BOX = np.array([0.2, 0.2, 0.1])
OBJECTS = {
    "sum": (lambda: Case(sum="mean"), "Case.sum = 'mean'"),
    "foam": (
        lambda: Case(cushion=Cushion(name="pads", thickness="50 mm", stiffness="20 N/mm")),
        "Case.cushion 'pads': what foam does under a case goes by its mass",
    ),
    "centre": (lambda: Case(centre=SIZE), "Case.centre = 500 mm at most: it lies in the outer box"),
    "parts": (
        lambda: Case(
            mass="1 kg", parts=[Part(name="box", mass="2 kg", position=SIZE, shape="point")]
        ),
        "Case.mass = 1 kg",
    ),
    "measured": (lambda: Case(measured="lying"), "Case.measured"),
    "twice": (lambda: Case(gaps=[CORNER], left_end="5 mm"), "Case.left_end stands beside"),
    "corners": (lambda: Case(gaps=[CORNER, CORNER]), "stands twice"),
    "another body": (
        lambda: Inside(size=["1 m"] * 3, floor="5 mm").around(np.ones(3) * -0.1, BOX, BOX),
        "case.inside: at puts its box 95 mm into the floor",
    ),
    "names": (
        lambda: Case(obstacles=[Obstacle(name="lid", position=SIZE, size=SIZE)]),
        "a check has this name already",
    ),
    "wall": (
        lambda: Rib(name="rib", wall="top", width="1 mm", height="1 mm", at="0 mm"),
        "Rib.wall = 'top'",
    ),
    "corner": (lambda: CornerGap(end="top", side="hinge", level="lid"), "CornerGap.end = 'top'"),
    "draft": (lambda: Inside(size=SIZE, draft="45 deg"), "Inside.draft = 45 °"),
    "steep": (lambda: Inside(size=SIZE, draft="50 deg"), "outside 0 to 45 °"),
    "radius": (lambda: Inside(size=SIZE, corner_radius="1 m"), "Inside.corner_radius = 1000 mm"),
    "lid": (lambda: Leg(name="by van", lid="ajar"), "Leg.lid = 'ajar'"),
}


@pytest.mark.parametrize("mistake", OBJECTS)
def test_an_object_refuses_it(mistake):
    make, words = OBJECTS[mistake]
    with pytest.raises(InputError) as caught:
        make()
    assert words in str(caught.value)


def test_every_refusal_of_the_room_is_reached():
    """The lines that raise, seen from the tracebacks of the mistakes above."""
    reached = set()
    for make, _ in (*OBJECTS.values(), (lambda: Case(restitution=2), "")):
        with pytest.raises(InputError) as caught:
            make()
        last = caught.traceback[-1]
        reached.add((Path(str(last.path)).name, last.lineno + 1))
    for module in (case_module, inside_module):
        path = Path(module.__file__)
        for number, line in enumerate(path.read_text("utf-8").splitlines(), start=1):
            if line.lstrip().startswith("raise InputError("):
                assert (path.name, number) in reached, f"{path.name}: {number}"

"""What nobody gave never becomes a pass: every optional key of a case is left out in turn."""

import copy
from dataclasses import replace
from pathlib import Path

import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.estimate import SHAPE_KEYS
from isolator.inside import FACES
from isolator.schema import (
    BriefTable,
    CableTable,
    CarryTable,
    CaseTable,
    FootTable,
    FrameTable,
    GapsTable,
    LegTable,
    MountRow,
    MountsTable,
    PartRow,
    PayloadTable,
    PlaceTable,
    SwingTable,
    TiltTable,
    WeighingTable,
)
from isolator.sources import data_file
from isolator.trip import ROAD_AXES
from isolator.units import InputError

SHIPPED = assess(read_brief(Path(__file__).parents[2] / "data" / "ice-radar" / "case.toml"))
BRIEF = SHIPPED.brief.changed(SHIPPED.change.key, SHIPPED.change.after)
GIVEN = assess(BRIEF)
"""The shipped case with the change that its page suggests: one that passes."""

# Keys without which the same question is still answered, and why.
ANSWERED = {
    "name": "a title",
    "note": "a title",
    "source": "printed only",
    "grade": "printed only",
    "mass": "of the case: its absence is printed under Assumed",
    "size": "of the case: it is needed only where it lands on edges or turns, which then asks",
    "wall": "asked only where a corner meets one, and that fails its clearance",
    "stopping_time": "at once is the default: the harder landing",
    "fastening_load": "its absence is printed under Assumed",
    "stop": "asked only where a mount bottoms, and then the hit is open",
    "own": "asked only where it is given",
    "slap_down": "asked only where it is given",
    "topple": "asked only where it is given",
    "tolerance": "its absence is printed under Assumed",
    "sum": "worst case is the default: the stricter one",
    "obstacle": "nobody can know of what is not listed",
    "rib": "the same",
    "obstacles": "the same",
    "inside": "in place of the gaps by face; tests/identity/test_room.py leaves out its keys",
    "gaps": "likewise",
    "cushion": "without foam outside the shell lands on the bare floor: the harder",
    "restitution": "its absence is printed under Assumed",
    "measured": "hanging is the default",
    "attitude": "lid up is the default",
    "attitudes": "all six are the default",
    "landings": "all six are the default: a stricter question",
    "level": "1 is the default",
    "crest": "1 is the default: its absence is printed under Assumed",
    "tied": "its absence is printed under Assumed",
    "set_down": "asked only where it is given",
    "pulse": "asked only where it is given; tests/identity/test_knock.py tries what it needs",
    "pulse_axes": "all three are the default: a stricter question",
    "running": "it does not run by default",
    "running_fragility": "asked only where a leg runs; tests/identity/test_fragility.py tries it",
    "sine": "asked only where it is given; tests/identity/test_trip.py tries what it needs",
    "walk": "asked only where it is given; tests/identity/test_walk.py tries what it needs",
    "carry": "asked only where it is given, and its absence is printed under Assumed",
    "not_required": "all checks are required by default: stricter",
    "mass_within": "the mass is as given by default",
    "centre_within": "the centre is as given by default",
    "weighing": "another way to give the mass and the centre, whose keys test_weighing.py tries",
    "total": "its absence is printed under Assumed",
    "feet_height": "its absence is printed under Assumed",
    "centre_height": "another way to give what a tilt gives, whose absence leaves a question",
    "tilt": "its absence leaves a question, see test_weighing.py",
    "rise": "one of rise and angle must be given",
    "angle": "one of rise and angle must be given",
    "rise_within": "its absence is printed under Assumed",
    "angle_within": "its absence is printed under Assumed",
    "swing": "without it the inertia is a band, printed under Assumed",
    "pivot": "a pivot, or strings and their distance, must be given",
    "strings": "a pivot, or strings and their distance, must be given",
    "apart": "a pivot, or strings and their distance, must be given",
    "sheet": "its absence is printed under Assumed",
    "cable": "its absence is printed under Assumed",
    "flatness": "its absence is printed under Assumed",
    "hole_tolerance": "its absence is printed under Assumed",
    "fragility_pulse": "its absence is printed under Assumed",
    "critical_velocity": "without it the peak alone counts: stricter",
    "bending": "its absence is printed under Assumed",
    "cold_loss_factor": "the loss factor at 23 °C is the default",
    "on_lid": "said under Assumed",
    "date": "printed only",
    "power": "a caution where it is given; of one without, none speaks of heat",
    "mains": "its absence is a caution: a question",
    "lithium": "its absence is a caution: a question",
    "age": "said under Assumed",
    "stored": "lid up is the default, printed with the sag in storage",
    "condition": "asked only where it is given",
    "choose": "for isolator choose alone",
    "stacking": "one is the default",
    "stock": "for isolator choose alone",
    "along": "one way to know it must be given, or the brief is refused",
    "across": "one way to know it must be given, or the brief is refused",
    "dynamic_ratio": "stated, or of the compound, or the brief is refused",
    "within": "its absence is printed under Assumed",
    "scatter": "its absence is printed under Assumed",
    "stiffening": "another way to give cold data",
    "creep": "asked only where an age is given",
    "ageing": "its absence is printed under Assumed where an age is given",
    "rubber_along": "asked only where it is given",
    "rubber_across": "asked only where it is given",
    "squeeze_limit": "a default of common practice, printed with the check",
    "shear_limit": "a default of common practice, printed with the check",
    "pull_limit": "asked only where it is given, or the rubber is bonded to its plates",
    "ruler": "half a millimetre is the default",
} | dict.fromkeys(
    (
        *SHAPE_KEYS,
        "dynamic_along",
        "dynamic_across",
        "weights",
        "weights_across",
        "push_force",
        "push_travel",
        "push_mounts",
    ),
    "another way to give stiffness, see test_estimate.py",
)
STRUCTURE = {
    "frame",
    "mount",
    "mounts",
    "leg",
    "payload",
    "case",
    "place",
    "table",
    "parts",
    "use",
    "push",
}
TABLES = {
    "payload": PayloadTable,
    "case": CaseTable,
    "leg": LegTable,
    "mounts": MountsTable,
    "place": PlaceTable,
}
WEIGHING = (WeighingTable, FootTable, TiltTable, SwingTable)


def keys():
    """Every optional key of the brief that some check needs, as a path into its text."""
    for name, value in BRIEF.text.items():
        tables = value if isinstance(value, list) else [value] if isinstance(value, dict) else []
        for n, table in enumerate(tables):
            if name == "choose":
                continue  # for isolator choose alone
            at = (name, n) if isinstance(value, list) else (name,)
            for key in table:
                if (
                    key in ANSWERED
                    or key in STRUCTURE
                    or TABLES[name].model_fields[key].is_required()
                ):
                    continue
                yield (*at, key)
                if key == "road" and isinstance(table[key], dict):
                    yield from ((*at, key, way) for way in table[key])


def without(path):
    """The brief without one key."""
    text = copy.deepcopy(dict(BRIEF.text))
    table = text
    for step in path[:-1]:
        table = table[step]
    del table[path[-1]]
    return BRIEF.changed(path[0], text[path[0]])


def test_the_whole_case_passes():
    assert GIVEN.status == "pass"


@pytest.mark.parametrize("path", list(keys()), ids=lambda path: ".".join(map(str, path)))
def test_a_key_that_is_left_out_leaves_a_question(path):
    result = assess(without(path))
    assert result.status == "incomplete"
    opened = [check for check in result.checks if check.status == "incomplete"]
    wanted = ".".join(str(step) for step in path if not isinstance(step, int))
    names = {check.missing for check in opened}
    named = {"".join(c for c in name if c not in "[]0123456789") for name in names}
    if path[-1] == "road":
        assert named & {f"{wanted}.{way}" for way in ROAD_AXES}
    else:
        assert wanted in named


COLUMNS = [
    name
    for name, info in MountRow.model_fields.items()
    if not info.is_required() and name not in ANSWERED
]


@pytest.mark.parametrize("column", COLUMNS)
def test_a_column_of_the_mounts_that_is_left_out_leaves_a_question(column, tmp_path):
    result = assess(_edited(tmp_path, "mounts.csv", column))
    assert result.status == "incomplete"
    opened = [check for check in result.checks if check.status == "incomplete"]
    assert opened
    assert any(column in check.missing for check in opened) or column == "cold_temperature"


SHELF = {
    "at": ["0 mm", "0 mm", "500 mm"],
    "payload": {
        "mass": "18 kg",
        "size": ["300 mm", "250 mm", "100 mm"],
        "centre": ["0 mm", "0 mm", "0 mm"],
        "fragility": "40 g0",
        "vibration_limit": "1 g0",
    },
    "gaps": dict.fromkeys((face.replace(" ", "_") for face in FACES), "200 mm"),
    "mounts": {"use": "soft", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
}
"""A second body on the shipped case's mounts."""
ROOMY = {**BRIEF.text, "case": {**BRIEF.text["case"], "size": ["2 m"] * 3}}


def with_shelf(text):
    return assess(replace(BRIEF, text=text).changed("note", "two bodies float"))


@pytest.mark.parametrize(
    "lacks",
    [(), tuple(GapsTable.model_fields), ("centre",), ("fragility",), ("vibration_limit",)],
    ids=", ".join,
)
def test_a_key_of_a_second_body_that_is_left_out_leaves_a_question(lacks):
    shelf = copy.deepcopy(SHELF)
    where = "gaps" if len(lacks) > 1 else "payload"
    for key in lacks:
        del shelf[where][key]
    result = with_shelf(ROOMY | {"frame": {"shelf": shelf}})
    assert result.status == ("incomplete" if lacks else "pass")
    opened = {check.missing: check.id for check in result.checks if check.missing}
    assert {f"frame.shelf.{where}.{key}" for key in lacks} == set(opened)
    assert all(i.startswith(("shelf: ", "clearance/shelf")) for i in opened.values())


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("leg[1].drop", None),
        ("leg[2].duration", None),
        ("leg[1].road", {"vertical": "truck d4169-16 medium"}),
        ("case.measured", None),
        ("frame.shelf.payload.centre", None),
        ("payload.parts", None),
    ],
)
def test_two_bodies_are_not_apart_where_the_motion_of_one_is_unknown(key, value):
    text = copy.deepcopy(ROOMY | {"frame": {"shelf": SHELF}})
    if key == "payload.parts":
        text["payload"] = {"mass": "20 kg", "size": text["payload"]["size"]}
        key = "payload.centre"
    else:
        *path, last = key.replace("[1]", ".0").replace("[2]", ".1").split(".")
        table = text
        for step in path:
            table = table[int(step) if step.isdigit() else step]
        table.pop(last)
        if value:
            table[last] = value
    check = next(c for c in with_shelf(text).checks if c.id == "clearance/shelf")
    assert check.status == "incomplete"
    assert check.missing.startswith(key)


def test_parts_without_a_size_are_refused_and_not_taken_for_points(tmp_path):
    assert not PartRow.model_fields["size_x"].is_required()
    with pytest.raises(ValueError, match="needs one"):
        _edited(tmp_path, "parts.csv", "size_x", "size_y", "size_z")


def _edited(folder, file, *columns):
    """The brief with columns of one of its files left out; a cold factor goes with its pair."""
    drop = {name.replace("_", " ") for name in columns}
    if drop & {"cold factor", "cold temperature"}:
        drop |= {"cold factor", "cold temperature"}
    for item in BRIEF.folder.path.iterdir():
        lines = item.read_text(encoding="utf-8").splitlines()
        if item.name == file:
            rows = [line.split(",") for line in lines if not line.startswith("#")]
            keep = [k for k, head in enumerate(rows[0]) if head.split(" [")[0] not in drop]
            assert len(keep) < len(rows[0])
            lines = [",".join(row[k] for k in keep) for row in rows]
        (folder / item.name).write_text("\n".join(lines), encoding="utf-8")
    edited = read_brief(folder / "case.toml")
    return edited.changed(SHIPPED.change.key, SHIPPED.change.after)


@pytest.mark.parametrize("key", CarryTable.model_fields)
def test_a_key_of_the_lift_that_is_left_out_leaves_a_question(key):
    lift = {
        "hands": 2, "horizontal": "30 cm", "height": "50 cm", "lift": "60 cm", "angle": "0 deg",
        "lifts_per_minute": 0.2, "duration": "1 h", "coupling": "good",
    }  # fmt: skip
    assert set(lift) == set(CarryTable.model_fields)
    del lift[key]
    opened = [c for c in assess(BRIEF.changed("carry", lift).design).checks if c.id == "carry"]
    assert [(c.status, c.missing) for c in opened] == [("incomplete", f"carry.{key}")]


def test_what_is_taken_to_be_rigid_flat_or_free_is_said():
    said = " ".join(GIVEN.design.assumed())
    for key in ("mounts.sheet", "[[cable]]", "mounts.flatness", "mounts.hole_tolerance",
                "payload.bending"):  # fmt: skip
        assert key in said
    some = GIVEN.brief.changed("mounts.place[2].sheet", "400 N/mm").changed(
        "payload.bending", "1 kHz"
    )
    said = " ".join(some.changed("mounts.flatness", "0 mm").design.assumed())
    assert "under those mounts that have none given is rigid" in said
    assert "payload.bending" not in said
    assert "shift no load (mounts.hole_tolerance)" in said


def test_every_optional_key_is_either_tried_here_or_has_its_reason():
    tried = {path[-1] for path in keys()} | set(COLUMNS)
    optional = {
        key
        for table in (
            BriefTable,
            CableTable,
            *TABLES.values(),
            MountRow,
            *WEIGHING,
            FrameTable,
            GapsTable,
        )
        for key, info in table.model_fields.items()
        if not info.is_required()
    }
    other = {"inset", "height", "centre", "inertia", "axes", "mass"}  # others stand in this case
    assert optional - tried - set(ANSWERED) - STRUCTURE <= other


@pytest.mark.parametrize("key", ["travel", "travel_across", "captive"])
def test_a_topple_on_mounts_of_unknown_travel_clears_nothing(key):
    """No fall from a height is asked: what stays open comes from the topple alone."""
    brief = read_brief(str(data_file("starter/case.toml")))
    size = {"size": ["600 mm", "500 mm", "400 mm"], "mass": "5 kg"}
    leg = {**brief.text["leg"][0], "drop": "none", "topple": ["on the left end"]}
    ring = {k: v for k, v in brief.text["mount"]["ring"].items() if k != key}
    for mount, status in ((brief.text["mount"]["ring"], "pass"), (ring, "incomplete")):
        tables = {"case": {**brief.text["case"], **size}, "leg": [leg], "mount": {"ring": mount}}
        checks = assess(brief.with_tables(tables)).checks
        found = {c.status for c in checks if c.id.startswith("clearance/")}
        assert found == {status}


def leaves(table, path=()):
    """Every key of a table within tables and lists of tables."""
    for key, value in table.items() if isinstance(table, dict) else enumerate(table):
        inner = isinstance(value, dict) or (isinstance(value, list) and isinstance(value[0], dict))
        if not isinstance(key, int):
            yield (*path, key)
        if inner:
            yield from leaves(value, (*path, key))


@pytest.mark.parametrize(
    "case",
    [
        "starter",
        *(
            pytest.param(name, marks=pytest.mark.heavy)
            for name in ("ice-radar", "planetarium", "water-lab", "echo-amplifier")
        ),
    ],
)
def test_no_check_of_a_demo_case_passes_for_want_of_an_input(case):
    """Each key within its tables is left out in turn, and all is judged, falls in time too."""
    brief = read_brief(data_file(f"{case}/case.toml"))
    whole = assess(brief)
    before = {check.id: check.status for check in whole.checks}
    tried = 0
    for path in leaves({k: v for k, v in brief.text.items() if k != "choose"}):
        if len(path) == 1:
            continue
        table = copy.deepcopy(brief.text[path[0]])
        inner = table
        for step in path[1:-1]:
            inner = inner[step]
        del inner[path[-1]]
        try:
            after = assess(brief.with_tables({path[0]: table}))
        except InputError:
            continue  # it must be given, or nothing is left that another key speaks of
        tried += 1
        assert whole.status == "pass" or after.status != "pass"
        for check in after.checks:
            was = before.get(check.id, "pass")
            assert was == "pass" or check.status != "pass", (path, check.id, was, check.reason)
    assert tried > 15

"""Cautions: each by what triggers it, none without; ranked by harm, none dropped."""

import copy
import re
from dataclasses import replace
from pathlib import Path

import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cautions import HARMS, MOST, cautions, foremost
from isolator.report.data import as_data
from isolator.report.document import document
from isolator.report.paper import CAUTION, page
from isolator.report.words import caution_sentence

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
GROMMET = {
    "kind": "panel grommet", "hardness": "40 Shore A", "compound": "natural",
    "sleeve": "6 mm", "hole": "12 mm", "flange": "18 mm", "flange_thickness": "4 mm",
    "panel": "1.6 mm", "sleeve_length": "8.8 mm",
}  # fmt: skip


@pytest.fixture(scope="module")
def starter():
    return read_brief(STARTER)


def changed(brief, **keys):
    """The brief with keys of its tables changed or, where None, left out; __ is a point."""
    text = copy.deepcopy(dict(brief.text))
    for key, value in keys.items():
        *path, last = key.split("__")
        table = text
        for step in path:
            table = table[int(step) if step.isdigit() else step]
        if value is None:
            table.pop(last)
        else:
            table[last] = value
    return replace(brief, text=text).changed("note", "changed")


def told(brief, **keys):
    return {one.name: one for one in cautions(assess(changed(brief, **keys)))}


NO_HARM = {"payload__mains": False, "payload__lithium": False}
QUIET = {**NO_HARM, "attitudes": ["lid up"], "leg__0__landings": ["lid up"]}
"""The starter where nothing is left to be told: no mains, no cells, never turned over, no fall
that is deep."""

LEFT_OUT = ("mount__ring__captive",)
"""Keys of the starter that a test takes out."""


def test_a_case_without_a_trigger_has_none(starter):
    assert told(starter, **QUIET) == {}


@pytest.mark.parametrize(
    ("name", "keys", "by"),
    [
        ("lithium cells", {"payload__lithium": True}, "payload.lithium = true"),
        ("protective earth", {"payload__mains": True}, "payload.mains = true"),
        ("mains: a question", {"payload__mains": None}, "payload.mains is not given"),
        ("lithium: a question", {"payload__lithium": None}, "payload.lithium is not given"),
        ("heat path lost", {"payload__power": "15 W"}, "payload.power = 15 W"),
        ("tray too flexible", {"payload__bending": "12 Hz"}, "payload.bending = 12 Hz"),
        ("bottoming in a fall", {"leg__0__drop": "1.5 m"}, "the check drop travel/by van/lid up"),
        ("cold beyond the data", {"leg__0__temperature": "-30 °C"}, "by van"),
        (
            "cold beyond the data",
            {"condition": [{"name": "arctic", "temperature": "-40 °C"}]},
            "the condition arctic",
        ),
        ("lifting", {"case__mass": "9 kg"}, "more than 10 kg without [carry]"),
        ("lifting", {"carry": {"hands": 1}}, "the check carry"),
        ("one-way capture", {"mount__ring__captive": False}, "mount.ring.captive = false"),
        ("one-way capture", {"mount__ring__captive": None}, "mount.ring.captive is not given"),
    ],
)
def test_each_has_its_trigger_and_comes_alone(starter, name, keys, by):
    asked = {**QUIET, **keys}
    asked = {key: value for key, value in asked.items() if value is not None or key in LEFT_OUT}
    found = told(starter, **asked)
    assert list(found) == [name]
    assert found[name].triggered_by == by
    assert found[name].harm == HARMS.index(name) + 1
    assert found[name].action.endswith(".")


def test_turned_over_it_hangs_on_rubber_and_pulls_it(starter):
    found = told(starter, **NO_HARM)
    assert list(found) == ["falls when rubber fails", "pulled when turned over"]
    assert (
        "8 kg hang on rubber alone in every attitude but lid up"
        in found["falls when rubber fails"].what
    )
    assert "(mount.ring.kind, mount.ring.washer, and the hole)" in (
        found["falls when rubber fails"].action
    )


def test_metal_holds_where_a_bolt_goes_through_and_its_washer_does_not(starter):
    """A washer that is larger than the hole says nothing of a mount of whatever kind."""
    washer = {"mount__ring__hole": "12 mm", "mount__ring__washer": "2 cm"}
    still = changed(starter, leg=[{"name": "on the shelf", "road": "none", "drop": "none"}])
    falls = {
        kind: "falls when rubber fails" in told(still, **NO_HARM, **washer, **kinds)
        for kind, kinds in (
            ("unknown", {}),
            *((kind, {"mount__ring__kind": kind}) for kind in ("ring", "bush", "o-ring")),
            *((kind, {"mount__ring__kind": kind}) for kind in ("pad", "disc", "threaded nut")),
        )
    }
    assert [kind for kind, told in falls.items() if not told] == ["ring", "bush", "o-ring"]


def test_a_stretch_is_told_by_its_strain_and_its_attitude(starter):
    """Lid down 8 kg stretch four of 6 N/mm and 45 mm to metal by 3.27 mm, 7.3 %."""
    found = told(starter, **NO_HARM)["pulled when turned over"]
    assert found.triggered_by == "attitudes: lid down"
    assert "by up to 7.3 % of its height or travel" in found.what
    still = changed(starter, leg=[{"name": "on the shelf", "road": "none", "drop": "none"}])
    for stiff, strained in (("20 N/mm", True), ("50 N/mm", False)):  # 2.2 % and 0.87 %
        named = told(still, **NO_HARM, mount__ring__along=stiff)
        assert ("pulled when turned over" in named) == strained, stiff
    high = told(still, **NO_HARM, mount__ring__rubber_along="400 mm")  # 0.8 % of that
    assert "pulled when turned over" not in high


def test_a_grommet_is_squeezed_both_ways(starter):
    starter = changed(starter, leg__0__drop="none")
    ring = {**GROMMET, "washer": "18 mm"}
    found = told(starter, **NO_HARM, mount__ring=ring)
    assert not {"pulled when turned over", "falls when rubber fails"} & set(found)
    without = told(starter, **NO_HARM, mount__ring=GROMMET)
    assert "mount.ring.washer" in without["falls when rubber fails"].action


def test_the_heat_of_pads_is_known_by_hand(starter):
    """Four pads of 20 × 20 × 10 mm: S = 0.16 m, 0.024 to 0.04 W/K, 4 W: 100 to 167 K."""
    pad = {
        "kind": "pad", "hardness": "40 Shore A", "compound": "natural", "faces": "bonded",
        "length": "20 mm", "width": "20 mm", "thickness": "10 mm",
    }  # fmt: skip
    found = told(starter, **QUIET, payload__power="4 W", mount__ring=pad)["heat path lost"]
    assert "0.024 to 0.04 W/K, a rise of 100 to 170 K if nothing else" in found.what
    unknown = told(starter, **QUIET, payload__power="4 W")["heat path lost"]
    assert "what the rubber of ring conducts is not known (mount.ring.kind" in unknown.what
    assert "W/K" not in unknown.what
    assert told(starter, **QUIET, payload__power="0 W") == {}
    far = told(starter, **QUIET, payload__power="40 W", mount__ring=pad)["heat path lost"]
    assert "0.04 W/K, a rise of more than 200 K if nothing else" in far.what


def test_a_strap_is_asked_to_be_counted(starter):
    none = told(starter, **{**QUIET, "payload__mains": True})["protective earth"]
    assert "as a [[cable]] (no cable is counted so far)" in none.action
    strap = {"name": "loom", "position": ["0 mm"] * 3, "stiffness": "0.2 N/mm", "loss_factor": 0.2}
    some = told(starter, **{**QUIET, "payload__mains": True}, cable=[strap])["protective earth"]
    assert "(cables counted: loom; if none of these is the strap, it is not counted)" in some.action


def test_a_further_body_has_its_own_with_its_own_keys(starter):
    tray = {
        "at": ["0 mm", "20 mm", "400 mm"],
        "on_lid": True,
        "payload": {
            "mass": "2 kg",
            "size": ["200 mm", "150 mm", "40 mm"],
            "lithium": True,
            "power": "30 W",
            "bending": "12 Hz",
        },
        "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
    }
    found = told(starter, **NO_HARM, frame={"lid tray": tray})
    for name, given in (
        ("lithium cells", "lithium = true"),
        ("heat path lost", "power = 30 W"),
        ("tray too flexible", "bending = 12 Hz"),
    ):
        triggered = found[f"lid tray: {name}"].triggered_by
        assert triggered == f'frame."lid tray".payload.{given}'
    braid = 'a soft metal braid that counts as a [[frame."lid tray".cable]], and'
    assert braid in found["lid tray: heat path lost"].action
    asked = found["mains: a question"]
    assert asked.triggered_by == 'frame."lid tray".payload.mains is not given'
    assert 'count its stiffness as a [[frame."lid tray".cable]], and' in asked.action
    assert "hangs over hands" in found["lid tray: falls when rubber fails"].what
    assert "hangs over hands" not in found["falls when rubber fails"].what


def test_one_question_is_asked_for_all_bodies(starter):
    tray = {
        "at": ["0 mm", "20 mm", "400 mm"],
        "payload": {"mass": "2 kg", "size": ["200 mm", "150 mm", "40 mm"]},
        "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
    }
    found = cautions(assess(changed(starter, frame={"lid tray": tray})))
    asked = [one for one in found if one.name.endswith("a question")]
    assert [one.name for one in asked] == ["mains: a question", "lithium: a question"]
    keys = 'payload.mains and frame."lid tray".payload.mains'
    assert asked[0].triggered_by == f"{keys} are not given"
    assert asked[0].action.startswith(f"Say {keys} = true or false. If it is: lead a bonding")


@pytest.fixture(scope="module")
def worst_case(starter):
    keys = {
        "payload__lithium": True, "payload__mains": True, "payload__power": "9 W",
        "payload__bending": "12 Hz", "case__mass": "9 kg", "leg__0__drop": "1.5 m",
        "mount__ring__captive": False, "leg__0__temperature": "-30 °C",
    }  # fmt: skip
    return assess(changed(starter, **keys))


def test_the_worst_are_told_in_full_and_none_is_dropped(worst_case):
    found = cautions(worst_case)
    assert [one.harm for one in found] == sorted(one.harm for one in found)
    full, rest = foremost(found[::-1])
    assert len(full) == MOST
    assert [one.name for one in full] + rest == [one.name for one in found]
    assert full[0].name == "lithium cells"
    assert foremost(found[:2]) == (found[:2], [])


def test_what_may_harm_people_is_asked_before_what_may_harm_the_payload(starter):
    """Nobody said a word of cells and mains."""
    keys = {
        "leg__0__drop": "1.5 m", "mount__ring__captive": False, "payload__power": "9 W",
        "payload__bending": "12 Hz",
    }  # fmt: skip
    full, rest = foremost(cautions(assess(changed(starter, **keys))))
    order = [one.name for one in full]
    assert order[:3] == ["falls when rubber fails", "mains: a question", "lithium: a question"]
    assert order[3:] == ["one-way capture", "bottoming in a fall"]
    assert len(rest) >= 2
    asked = told(starter)["lithium: a question"]
    assert "Crushed, pierced or shaken loose" in asked.what
    assert asked.action.startswith("Say payload.lithium = true or false. If they are: hold")


def test_no_washer_holds_a_bobbin(starter):
    bobbin = {
        "kind": "bobbin", "hardness": "45 Shore A", "compound": "natural",
        "diameter": "15 mm", "thickness": "20 mm", "hole": "6 mm", "washer": "20 mm",
    }  # fmt: skip
    still = changed(starter, leg=[{"name": "on the shelf", "road": "none", "drop": "none"}])
    found = told(still, **NO_HARM, mount__ring=bobbin)["falls when rubber fails"]
    assert found.action == "Hold it by metal too: a strap, or a stop beneath it."


def test_deferring_is_said_once_and_not_here(starter):
    assert re.search("local code.*qualified person", CAUTION)
    keys = {"payload__lithium": True, "payload__mains": True, "case__mass": "9 kg"}
    keys["carry"] = {
        "hands": 2, "horizontal": "60 cm", "height": "40 cm", "lift": "45 cm", "angle": "0 deg",
        "lifts_per_minute": 0.2, "duration": "30 min", "coupling": "good",
    }  # fmt: skip
    found = cautions(assess(changed(starter, **keys)))
    assert "lifting" in {one.name for one in found}
    for one in found:
        assert not re.search("local|qualified", f"{one.what} {one.action}")


def flat(text):
    return " ".join(text.split())


def test_the_page_tells_five_in_full_and_names_the_rest(worst_case):
    found = cautions(worst_case)
    assert len(found) > MOST
    shown = page(worst_case)
    block = next(b for b in shown.split("\n\n") if b.startswith("Cautions, the gravest first"))
    lines = flat(block).split(" - ")[1:]
    assert lines[:MOST] == [flat(caution_sentence(one)) for one in found[:MOST]]
    assert all(one.action in line for one, line in zip(found[:MOST], lines, strict=False))
    (also,) = lines[MOST:]
    assert also.partition(": ")[2].split("; ") == [one.name for one in found[MOST:]]
    assert flat(shown).count(CAUTION) == 1


def test_a_page_without_a_caution_has_no_block(starter):
    quiet = assess(changed(starter, **QUIET))
    assert "Cautions" not in page(quiet)
    (block,) = next(s.blocks for s in document(quiet).sections if s.title == "Cautions")
    assert block.lines == ["none of those that are looked for"]


def test_the_report_has_five_in_full_and_the_json_all(worst_case):
    found = cautions(worst_case)
    grid, also = next(s.blocks for s in document(worst_case).sections if s.title == "Cautions")
    told_here = [[one.name, one.what, one.action, one.triggered_by] for one in found]
    assert grid.rows == told_here[:MOST]
    assert also.lines == ["; ".join(one.name for one in found[MOST:])]
    data = as_data(worst_case)["cautions"]
    assert [[one[k] for k in ("name", "what", "action", "triggered_by")] for one in data] == (
        told_here
    )


def test_the_name_of_a_body_is_said_once(starter):
    tray = {
        "at": ["0 mm", "20 mm", "400 mm"],
        "payload": {"mass": "2 kg", "size": ["200 mm", "150 mm", "40 mm"], "lithium": True},
        "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
    }
    found = told(starter, **NO_HARM, frame={"lid tray": tray})
    said = caution_sentence(found["lid tray: lithium cells"])
    assert said.startswith("lid tray: lithium cells: lithium cells are inside: crushed")

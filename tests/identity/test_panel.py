"""The panel without a browser: controls, verdict, pictures."""

import asyncio
import re
import warnings

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

import isolator
from isolator import panels
from isolator.figures.live import Room, Transmissibility, least_left
from isolator.inside import FACES
from isolator.panels import ALL, FOLLOWS, SCREENED
from isolator.sources import data_file
from isolator.sweep import Screen, glance
from isolator.units import InputError
from isolator.windows import STEPS, refined

STARTER = str(data_file("starter/case.toml"))
RADAR = str(data_file("ice-radar/case.toml"))


@pytest.fixture(scope="module")
def radar():
    """One panel for all tests of this file that leave it as it was."""
    return isolator.panel(RADAR)


def verdict(panel):
    return re.sub("<[^>]*>", " ", panel.verdict.value)


def pictures(panel):
    return {name: picture.value for name, picture in panel.pictures.items()}


def test_the_glance_is_the_screen_of_one_design():
    brief = isolator.read_brief(RADAR)
    screen, found = Screen.of(brief, [brief.design]), glance(brief)
    assert [check.id for check in found.checks] == list(screen.ids)
    assert [check.status for check in found.checks] == list(screen.status[0])
    row = screen.row(0)
    assert (found.status == "fail") == (row["status"] == "fail")


def test_the_glance_counts_every_condition_and_every_body():
    brief = isolator.read_brief(STARTER)
    cold = brief.with_tables({"condition": [{"name": "heavier", "heavier": "1 kg"}]})
    ids = [check.id for check in glance(cold).checks]
    assert len(ids) == 2 * len(glance(brief).checks)
    assert f"heavier: clearance/{FACES[0]}" in ids


def test_the_refined_window_ends_as_the_window_and_holds_its_own_points_before():
    brief = isolator.read_brief(RADAR)
    whole = isolator.window(brief)
    passes = [found for found in refined(brief) if found is not None]
    assert [len(found.stiffness) for found in passes] == [13, 25, 49, 97]
    for found in passes:
        own = np.flatnonzero(np.isin(whole.stiffness, found.stiffness))
        assert np.array_equal(whole.stiffness[own], found.stiffness)
        for question, allowed in found.allowed.items():
            assert np.array_equal(whole.allowed[question][own], allowed)
    assert len(passes[-1].stiffness) == STEPS
    assert passes[-1].limits == whole.limits


def test_the_panel_opens_with_the_brief_as_it_is(radar):
    assert radar.gap.value == 65.0  # the least of its six gaps, which "all faces" stands for
    assert radar.drop.value == pytest.approx(304.8)  # 12 in
    assert radar.attitude.value == "lid up"
    assert radar.mount.value == "soft"
    assert SCREENED in verdict(radar)
    assert all(picture[1:4] == b"PNG" for picture in pictures(radar).values())


def test_a_control_moves_verdict_and_pictures():
    panel = isolator.panel(STARTER)
    before, words = pictures(panel), verdict(panel)
    assert "PASS" in words
    assert panel.unequal.value == ""  # all gaps are 50 mm
    panel.drop.value = 600
    assert "FAIL: drop travel (by van" in verdict(panel)
    after = pictures(panel)
    assert after["room"] != before["room"]
    assert after["window"] != before["window"]
    assert after["transmissibility"] == before["transmissibility"]  # a fall does not bear on it
    panel.drop.value = 200
    assert verdict(panel) == words
    assert pictures(panel)["room"] == before["room"]


def test_the_mount_and_the_attitude_move_the_transmissibility():
    panel = isolator.panel(RADAR)
    seen = {pictures(panel)["transmissibility"]}
    panel.mount.value = "stiff"
    assert {place.mount.name for place in panel.brief.design.places} == {"stiff"}
    seen.add(pictures(panel)["transmissibility"])
    panel.attitude.value = "on the left end"
    assert panel.brief.design.legs[0].attitude == "on the left end"
    seen.add(pictures(panel)["transmissibility"])
    assert len(seen) == 3


def test_mixed_mounts_stay_as_they_were_until_a_kind_is_chosen():
    brief = isolator.read_brief(RADAR).changed("mounts.place[4].mount", "firm")
    panel = isolator.panel(brief)
    assert panel.mount.value is None
    panel.mount.value = "stiff"
    assert panel.brief.design.mount_names()[3] == "4 stiff"
    panel.mount.value = None
    assert panel.brief.text["mounts"] == brief.text["mounts"]


def test_a_kind_used_everywhere_is_changed_where_it_stands():
    panel = isolator.panel(str(data_file("planetarium/case.toml")))
    assert "18 in: ISTA 1A for 41 to 61 lb; moving it states a height" in panel.by_table.value
    other = next(kind for kind in panel.brief.mounts if kind != panel.mount.value)
    panel.mount.value = other
    assert panel.brief.text["mounts"]["use"] == other
    assert {place.mount.name for place in panel.brief.design.places} == {other}


def test_one_face_or_all_of_them(radar):
    face = radar.face
    face.value = "lid"
    assert radar.gap.value == 98.0
    radar.gap.value = 80
    case = radar.brief.text["case"]
    assert (case["lid"], case["floor"]) == ("80 mm", "90 mm")
    radar.gap.value = 98
    face.value = ALL
    assert radar.brief.text["case"]["floor"] == "90 mm"


def test_the_controls_are_for_the_leg_that_is_chosen():
    panel = isolator.panel(RADAR)
    panel.leg.value = 1
    assert panel.drop.value == 100.0
    panel.drop.value = 200
    assert panel.brief.text["leg"][1]["drop"] == "200 mm"
    assert panel.brief.text["leg"][0]["drop"] == "12 in"


def test_one_button_puts_all_back_to_the_brief_as_it_was_given(monkeypatch):
    monkeypatch.setattr(panels.Panel, "_seek", lambda panel: None)  # no window: seconds
    given = isolator.read_brief(STARTER).changed("leg[1].drop", {"table": "ista 1a"})
    legs = [*given.text["leg"], {"name": "carried", "drop": "100 mm", "road": "none"}]
    given = given.with_tables({"leg": legs})
    panel = isolator.panel(given)
    before, words, drop = pictures(panel), verdict(panel), panel.drop.value
    assert "by a table, not known yet; moving it states a height" in panel.by_table.value
    panel.gap.value, panel.drop.value = 60, 700
    panel.attitude.value = "on the left end"
    assert panel.by_table.value == ""
    panel.face.value, panel.leg.value = "lid", 1
    panel.drop.value = 300
    panel.back.click()
    assert panel.brief.text == given.text  # the table of drops too
    assert (panel.face.value, panel.leg.value) == ("lid", 1)
    assert (panel.gap.value, panel.drop.value) == (50.0, 100.0)
    assert verdict(panel) == words
    panel.leg.value = 0
    assert (panel.drop.value, panel.attitude.value) == (drop, "lid up")
    assert "by a table" in panel.by_table.value
    assert pictures(panel) == before


def test_gaps_that_differ_are_said_beside_the_control(radar):
    assert "least of 65 to 98 mm; moving it sets all alike" in radar.unequal.value
    radar.face.value = "lid"
    assert radar.unequal.value == ""
    radar.face.value = ALL


def test_no_height_is_no_drop():
    panel = isolator.panel(STARTER)
    panel.drop.value = 0
    assert panel.brief.design.legs[0].drops is False
    assert panel.drop.value == 0
    panel.drop.value = 100
    assert panel.brief.design.legs[0].drops is True


def test_what_cannot_be_is_said_in_place_and_all_else_stays(radar):
    before, words, brief = pictures(radar), verdict(radar), radar.brief
    radar.gap.value = 190
    assert "case.size: x = 600 mm outside, but the payload and its gaps take 800 mm" in (
        radar.message.value
    )
    assert radar.gap.value == 65.0
    assert (pictures(radar), verdict(radar), radar.brief) == (before, words, brief)
    radar.face.value = "lid"
    radar.face.value = ALL
    assert radar.message.value == ""


def test_an_unforeseen_error_leaves_controls_and_pictures_together(radar, monkeypatch):
    before, words, brief = pictures(radar), verdict(radar), radar.brief

    def broken(*given):
        raise ArithmeticError("unforeseen")

    monkeypatch.setattr(panels.Screen, "of", broken)
    with pytest.raises(ArithmeticError):
        radar.gap.value = 62
    assert radar.gap.value == 65.0
    assert (pictures(radar), verdict(radar), radar.brief) == (before, words, brief)


def test_a_window_that_breaks_says_so_and_a_room_that_cannot_be_drawn(monkeypatch):
    async def opened():
        panel = isolator.panel(STARTER)
        (task,) = [one for one in asyncio.all_tasks() if one is not asyncio.current_task()]
        with pytest.raises(ArithmeticError):
            await task
        return panel

    def broken(*given):
        raise ArithmeticError("unforeseen")

    def refused(*given):
        raise InputError("case: no room")

    monkeypatch.setattr(panels, "refined", broken)
    monkeypatch.setattr(Room, "png", refused)
    panel = asyncio.run(opened())
    assert "window: not drawn; ArithmeticError: unforeseen" in panel.notes["window"].value
    assert "room: not drawn; case: no room" in panel.notes["room"].value
    assert "PASS" in verdict(panel)


def test_an_attitude_that_the_brief_leaves_out_is_refused():
    brief = isolator.read_brief(STARTER).with_tables({"attitudes": ["lid up"]})
    panel = isolator.panel(brief.changed("leg[1].landings", ["lid up"]))
    panel.attitude.value = "lid down"
    assert "attitudes" in panel.message.value
    assert panel.attitude.value == "lid up"


def test_what_cannot_be_drawn_says_why():
    brief = isolator.read_brief(STARTER)
    mount = {key: value for key, value in brief.text["mount"]["ring"].items()}
    del mount["loss_factor"]
    panel = isolator.panel(brief.with_tables({"mount": {"ring": mount}}))
    assert "loss factor of a mount or cable is not known" in panel.notes["transmissibility"].value
    assert panel.pictures["transmissibility"].layout.display == "none"
    assert "INCOMPLETE" in verdict(panel)


def test_names_are_text():
    evil = "<img src=x onerror=alert(1)> & $x^2$"
    brief = isolator.read_brief(STARTER).changed("leg[1].name", evil).changed("leg[1].drop", "1 m")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        panel = isolator.panel(brief)
    assert "<img" not in panel.verdict.value
    assert "&lt;img src=x" in panel.verdict.value


@pytest.mark.heavy
def test_in_a_notebook_the_window_follows_and_the_last_control_wins():
    async def turned():
        panel = isolator.panel(STARTER)
        panel.drop.value = 500
        assert FOLLOWS in panel.notes["window"].value
        panel.drop.value = 300
        for _ in range(3000):
            await asyncio.sleep(0.01)
            if not panel.notes["window"].value:
                break
        return panel

    followed = asyncio.run(turned())
    at_once = isolator.panel(STARTER)
    at_once.drop.value = 300
    assert followed.notes["window"].value == ""
    assert pictures(followed) == pictures(at_once)


def test_what_is_kept_has_an_end(monkeypatch):
    monkeypatch.setattr(panels, "KEPT", 2)
    store = {}
    for k in range(5):
        panels._keep(store, str(k), k)
    assert store == {"3": 3, "4": 4}
    assert panels._kept(store, "4", lambda: pytest.fail("made again")) == 4


def test_as_text_it_is_its_verdict(radar):
    bundle = radar._repr_mimebundle_()
    assert bundle["text/plain"] == str(radar)
    assert str(radar) == "Screened: FAIL: rated load fails: one of 39 required checks."
    assert str(radar) in verdict(radar)
    assert "application/vnd.jupyter.widget-view+json" in bundle


def test_without_ipywidgets_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "ipywidgets", None)
    with pytest.raises(isolator.InputError, match="pip install ipywidgets"):
        isolator.panel(STARTER)


def test_the_room_follows_with_bars_of_the_checks():
    brief = isolator.read_brief(STARTER)
    first, then = glance(brief), glance(brief.changed("case.lid", "90 mm"))
    room = Room(first)
    room.png(first)
    picture = room.png(then)
    lid = then.facing("lid")
    frame, bar = room._gaps[FACES.index("lid")], room._moved[FACES.index("lid")]
    assert (frame.get_width(), bar.get_width()) == (90.0, lid.demand)
    least = least_left([then.facing(face) for face in FACES])
    assert room.least.get_text().replace("\n", " ") == least
    assert Room(then).png(then) == picture  # whatever was drawn before
    assert room.ax.get_xlim()[1] >= 1.5 * 90.0
    assert room.ax.get_xlabel().endswith("[mm]")


TRAY = {
    "at": ["0 mm", "0 mm", "185 mm"],
    "payload": {"mass": "1 kg", "size": ["300 mm", "200 mm", "40 mm"], "fragility": "60 g0"},
    "mounts": {"inset": ["20 mm", "20 mm"], "height": "0 mm"},
    "gaps": {"lid": "60 mm"},
}
"""A second body, above that of the starter."""


@pytest.fixture(scope="module")
def crowd():
    """A case of two bodies and two legs, under a condition; with its screen."""
    brief = isolator.read_brief(STARTER)
    legs = [*brief.text["leg"], {"name": "carried", "drop": "300 mm", "road": "none"}]
    heavier = [{"name": "heavier", "heavier": "1 kg"}]
    tables = {"leg": legs, "condition": heavier, "frame": {"tray": TRAY}}
    tables["case"] = brief.text["case"] | {"lid": "150 mm"}
    brief = brief.with_tables(tables)
    return brief, Screen.of(brief, [brief.design])


@pytest.mark.parametrize(
    ("key", "value", "kept"),
    [
        ("case.floor", "70 mm", ["all", "all"]),
        ("leg[1].drop", "350 mm", ["shaking", "all"]),
        ("leg[2].drop", "none", ["all", "shaking"]),
        ("leg[1].attitude", "on the left end", ["", "all"]),
        ("mount.ring.along", "7 N/mm", ["", ""]),
        ("case.mass", "4 kg", ["", ""]),
        ("frame.tray.gaps.lid", "59 mm", ["", ""]),
    ],
)
def test_what_a_control_leaves_is_taken_over_and_nothing_else(crowd, key, value, kept):
    start, before = crowd
    brief = start.changed(key, value)
    then = Screen.of(brief, [brief.design], before)
    assert then.only.checks == glance(brief).checks
    assert then.only.checks != before.only.checks
    for old, new in zip(before.bodies, then.bodies, strict=True):
        for name, own in new.items():
            for leg, was, what in zip(own.legs, old[name].legs, kept, strict=True):
                assert (leg is was) == (what == "all")
                assert (leg.pose is was.pose) == (what != "")


def test_where_nothing_falls_and_nothing_is_off_it_is_the_full_verdict():
    start = isolator.read_brief(STARTER).changed("case.floor", "60 mm")
    brief = start.changed("leg[1].attitude", "on the left end").changed("leg[1].drop", "none")
    before = Screen.of(start, [start.design])
    then = Screen.of(brief, [brief.design], before).only
    assert then.checks == isolator.assess(brief).checks


def test_the_transmissibility_follows_with_the_lines_of_its_figure():
    brief = isolator.read_brief(RADAR).changed("leg[1].attitude", "on the left end")
    leg = brief.design.legs[0].name
    live, found = Transmissibility(), glance(brief)
    live.png(glance(isolator.read_brief(RADAR)), leg)
    before, drawn = live.png(found, leg), []
    live._live.png = lambda moving: drawn.extend(moving) or b""
    live.png(found, leg)
    ax = isolator.figures.transmissibility(
        isolator.assess(brief.design), leg=leg, ax=Figure().subplots()
    )
    lines = {line.get_label(): line.get_xydata() for line in drawn if isinstance(line, Line2D)}
    for line in ax.lines:
        if not line.get_label().startswith("_"):
            np.testing.assert_array_equal(lines[line.get_label()], line.get_xydata())
    assert {"centre", "worst corner"} <= set(lines)
    assert live.ax.get_title("left") == ax.get_title("left")
    assert live.ax.get_ylim()[0] <= min(ax.get_ylim())
    assert live.ax.get_ylim()[1] >= max(ax.get_ylim())
    assert Transmissibility().png(found, leg) == before  # whatever was drawn before
    assert live.ax.get_xlabel().endswith("[Hz]")


@pytest.mark.parametrize("name", ["by van", "W" * 80])
def test_the_transmissibility_cuts_nothing_off(name):
    brief = isolator.read_brief(STARTER).changed("leg[1].name", name)
    live = Transmissibility()
    live.png(glance(brief), brief.design.legs[0].name)
    box = live.ax.get_tightbbox(live._live._canvas.get_renderer())
    assert live._live.figure.bbox.count_contains([box.min, box.max]) == 2

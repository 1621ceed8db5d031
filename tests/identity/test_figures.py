"""Figures say what the kernels say: read from the artists, not from pixels."""

import math
import subprocess
import sys
import warnings
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from isolator import figures
from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.figures import shake
from isolator.inside import FACES
from isolator.report import as_data
from isolator.survive import survival
from isolator.suspension import Pose
from isolator.units import InputError, si_array
from isolator.vibration import transmissibility

DATA = Path(__file__).parents[2] / "data"
SLED = DATA / "ice-radar" / "case.toml"


@pytest.fixture(scope="module")
def sled():
    return assess(SLED)


@pytest.fixture
def ax():
    return Figure().subplots()


def changed(*changes: tuple[str, object]):
    brief = read_brief(SLED)
    for key, value in changes:
        brief = brief.changed(key, value)
    return assess(brief)


def lines(ax):
    """Label → (x, y) of every line."""
    return {line.get_label(): line.get_data() for line in ax.lines}


def kernel(assessment, frequency, k):
    """|T| (f, 9) along one axis, lid up at 23 °C, at the centre and the corners."""
    response = assessment.response
    pose = Pose(*(getattr(response.pose, name)[:, 0] for name in ("shift", "turn", "found")))
    points = np.concatenate([np.zeros((1, 3)), response.corners[0]]) @ pose.turn[0].T
    modes = response.suspension.modes(pose)
    return np.abs(transmissibility(modes, points[None], frequency)[0, :, :, k, k])


@pytest.mark.parametrize(("axis", "k"), [("x", 0), ("y", 1), ("z", 2)])
def test_lines_are_the_kernel(sled, ax, axis, k):
    drawn = lines(figures.transmissibility(sled, axis=axis, ax=ax))
    frequency, centre = drawn["centre"]
    assert (frequency[0], frequency[-1]) == pytest.approx((1, 500))
    there = kernel(sled, frequency, k)
    np.testing.assert_allclose(centre, there[:, 0], rtol=1e-9)
    np.testing.assert_allclose(drawn["worst corner"][1], there[:, 1:].max(axis=1), rtol=1e-9)


def test_the_shade_ends_where_the_worst_corner_crosses_one(sled, ax):
    figures.transmissibility(sled, ax=ax)
    spans = [(p.get_x(), p.get_x() + p.get_width()) for p in ax.patches]
    assert spans[0][0] == 1.0
    ends = np.array(spans).ravel()[1:]
    np.testing.assert_allclose(kernel(sled, ends, 2)[:, 1:].max(axis=1), 1, rtol=1e-4)
    inside = np.concatenate([np.geomspace(a, b, 50)[1:-1] for a, b in spans])
    assert (kernel(sled, inside, 2)[:, 1:].max(axis=1) > 1).all()
    page = [row for row in as_data(sled)["transmissibility"] if row["axis"] == "z"]
    assert ends[-1] == pytest.approx(
        max(row["worse_than_bolted_below_hz"] for row in page), rel=1e-3
    )


def test_the_shade_of_one_mass_on_one_spring_ends_at_root_two(ax):
    # Structural damping: |T|² = (1 + η²)/((1 − r²)² + η²) is 1 at r = √2 for every η.
    starter = assess(DATA / "starter" / "case.toml")
    figures.transmissibility(starter, ax=ax)
    (span,) = ax.patches
    bounce = next(row for row in as_data(starter)["modes"] if row["name"] == "bounce along z")
    end = span.get_x() + span.get_width()
    assert end == pytest.approx(bounce["frequency_hz"] * np.sqrt(2), rel=1e-5)


def test_several_bands_are_several_shades():
    # 2 at 10 Hz and ½ at 100 Hz: on log-log paper the line between them crosses 1 halfway.
    frequency, size = np.array([1.0, 10, 100, 1000, 1e4]), np.array([0.5, 2, 0.5, 2, 2])
    spans = shake._above_one(frequency, size)
    np.testing.assert_allclose(spans, [(10**0.5, 10**1.5), (10**2.5, 1e4)])
    assert shake._above_one(frequency, size / 10) == []


def test_modes_and_words_stand_on_the_picture(sled, ax):
    figures.transmissibility(sled, ax=ax)
    label = next(name for name in lines(ax) if name.startswith("modes: "))
    drawn = lines(ax)[label][0]
    page = [row["frequency_hz"] for row in as_data(sled)["modes"] if row["attitude"] == "lid up"]
    np.testing.assert_allclose(drawn, page)
    assert label == "modes: " + ", ".join(f"{f:.3g}" for f in page) + " Hz"
    assert (ax.get_xscale(), ax.get_yscale()) == ("log", "log")
    assert ax.get_xlabel() == "frequency [Hz]"
    assert ax.get_ylabel() == "|T| along z\npayload over case [-]"
    assert ax.get_title(loc="left") == "lid up, 23 °C, case shaken along z"
    assert "bolted down" in [text.get_text() for text in ax.texts]
    assert any(list(line.get_ydata()) == [1.0, 1.0] for line in ax.lines)
    legend = [text.get_text() for text in ax.get_legend().get_texts()]
    assert legend == ["worse than bolted down", "centre", "worst corner", label]


def test_lines_differ_by_style_and_the_shade_has_a_hatch(sled, ax):
    figures.transmissibility(sled, ax=ax)
    styles = {line.get_label(): line.get_linestyle() for line in ax.lines}
    assert styles["centre"] == "-"
    assert styles["worst corner"] == "--"
    assert all(patch.get_hatch() for patch in ax.patches)


def test_a_cold_leg_has_its_own_modes(sled, ax):
    cold = sled.response.legs[1]
    figures.transmissibility(sled, leg="sled over the ice", axis="x", ax=ax)
    there = next(x for name, (x, _) in lines(ax).items() if name.startswith("modes: "))
    room = sled.response.suspension.frequencies()[0]
    # All mounts are alike: but for gravity every mode rises with the root of the stiffening.
    np.testing.assert_allclose(there / room, np.sqrt(cold.stiffening[0, 0]), rtol=0.01)
    assert ax.get_title(loc="left") == ("sled over the ice: lid up, -25 °C, case shaken along x")


@pytest.mark.parametrize(
    ("change", "given", "words"),
    [
        ((), {"axis": "up"}, "axis = 'up': write one of x, y, z"),
        ((), {"leg": "boat"}, "leg = 'boat': no such leg; write one of 'truck to the camp'"),
        (
            ("leg[2].temperature", "-60 °C"),
            {"leg": "sled over the ice"},
            "count as rigid, |T| = 1, at -60 °C",
        ),
        (
            ("leg[2].temperature", "70 °C"),
            {"leg": "sled over the ice"},
            "have an unknown stiffness at 70 °C",
        ),
    ],
)
def test_what_cannot_be_drawn_gets_one_line(sled, ax, change, given, words):
    case = changed(change) if change else sled
    with pytest.raises(InputError) as error:
        figures.transmissibility(case, ax=ax, **given)
    assert len(error.value.lines) == 1
    assert words in error.value.lines[0]


def test_an_unknown_loss_factor_is_not_drawn(ax):
    soft = {"along": "16 N/mm", "across": "16 N/mm", "dynamic_ratio": 1.15}
    case = changed(("mount", {"bare": soft}), ("mounts.place[1].mount", "bare"))
    with pytest.raises(InputError, match="give loss_factor of every mount"):
        figures.transmissibility(case, ax=ax)


def bars(ax):
    """Face → widths of the frame and of the bar in it, None where there is none."""
    found = {face: [None, None] for face in FACES}
    for patch in ax.patches:
        face = FACES[round(patch.get_y() + patch.get_height() / 2)]
        found[face][1 if patch.get_fill() else 0] = patch.get_width()
    return found


def test_bars_are_the_page(sled, ax):
    figures.room(sled, ax=ax)
    assert [label.get_text() for label in ax.get_yticklabels()] == list(FACES)
    assert ax.get_xlabel().endswith("[mm]")
    for row in as_data(sled)["clearance"]:
        assert bars(ax)[row["face"]] == pytest.approx([row["gap_mm"], row["demand_mm"]])


def test_status_shows_in_words_and_hatching():
    gaps = read_brief(SLED).text["case"]
    case = changed(
        ("case", {key: gap for key, gap in gaps.items() if key != "lid"}),
        ("case.floor", "40 mm"),
        ("not_required", {"clearance/right end": "open end"}),
    )
    ax = figures.room(case, ax=Figure().subplots())
    words = dict(zip(FACES, [text.get_text() for text in ax.texts], strict=True))
    over = next(c for c in case.checks if c.id == "clearance/floor").demand - 40
    assert words["floor"] == f"fail, {over:.3g} mm short"
    assert words["lid"] == "incomplete: needs case.lid"
    assert words["right end"] == "not required"
    assert words["left end"].startswith("pass, ")
    assert bars(ax)["lid"][0] is None
    fills = {FACES[round(p.get_y() + p.get_height() / 2)]: p for p in ax.patches if p.get_fill()}
    hatches = [fills[face].get_hatch() for face in ("floor", "lid", "left end")]
    assert len(set(hatches)) == 3
    greys = [np.dot(to_rgb(fills[f].get_facecolor()), (0.3, 0.59, 0.11)) for f in ("floor", "lid")]
    assert abs(greys[0] - greys[1]) > 0.2


def test_a_face_that_nothing_guards_is_said_to_be_so(sled, ax):
    checks = [
        replace(c, demand=None, status="fail") if c.id == "clearance/lid" else c
        for c in sled.checks
    ]
    figures.room(replace(sled, checks=checks), ax=ax)
    assert ax.texts[FACES.index("lid")].get_text() == "fail: nothing stops it"
    assert bars(ax)["lid"] == [pytest.approx(98), None]


def test_pyplot_is_imported_only_to_make_a_figure():
    code = (
        "import sys, isolator\n"
        "from isolator import figures\n"
        "assert 'matplotlib' not in sys.modules\n"
        "from matplotlib.figure import Figure\n"
        f"case = isolator.assess({str(SLED)!r})\n"
        "figures.transmissibility(case, ax=Figure().subplots())\n"
        "figures.room(case, ax=Figure().subplots())\n"
        "figures.layout(case, ax=Figure().subplots())\n"
        "figures.sway(case, ax=Figure().subplots())\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
        "import matplotlib; matplotlib.use('agg')\n"
        "assert figures.room(case).figure.get_size_inches().min() > 3\n"
        "assert 'matplotlib.pyplot' in sys.modules\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr


def marks(ax, sign):
    """Places of the marks of a kind."""
    return [line.get_xydata()[0] for line in ax.lines if line.get_marker() == sign]


@pytest.mark.parametrize(("view", "axes"), [("plan", (0, 1)), ("front", (0, 2)), ("side", (1, 2))])
def test_the_sketch_shows_what_the_brief_says(sled, ax, view, axes):
    figures.layout(sled, view, ax=ax)
    assert ax.get_aspect() == 1
    assert (ax.get_xlabel(), ax.get_ylabel()) == tuple(f"{'xyz'[k]} [mm]" for k in axes)
    size = np.array([420, 300, 160])[list(axes)]
    patch = next(p for p in ax.patches if p.get_label() == "payload")
    np.testing.assert_allclose((patch.get_width(), patch.get_height()), size)
    np.testing.assert_allclose(patch.get_xy(), -size / 2)
    mass, at = np.array([4, 6.5, 7, 2]), [[0, 0, -60], [-40, 20, 10], [130, 60, 10]]
    centre = mass @ np.array([*at, [-150, -100, -10]]) / mass.sum()
    np.testing.assert_allclose(marks(ax, "o"), [centre[list(axes)]])
    battery = next(p for p in ax.patches if p.get_x() == 70) if view == "plan" else None
    assert battery is None or (battery.get_width(), battery.get_height()) == (120, 120)
    assert any(text.get_text().startswith("scale: ") for text in ax.texts)
    assert len(marks(ax, "s")) + len(marks(ax, "X")) == (4 if view == "plan" else 2)
    assert min(text.get_fontsize() for text in ax.texts) >= 8


def test_loads_stand_at_the_mounts_and_the_one_over_its_rating_is_marked(sled, ax):
    figures.layout(sled, ax=ax)
    words = {text.get_text(): text for text in ax.texts}
    for n, load in enumerate(sled.response.load[0, 0]):
        text = words[f"{n + 1}: {load:.3g} of 55 N"]
        assert text.get_weight() == ("bold" if load > 55 else "normal")
    np.testing.assert_allclose(marks(ax, "X"), [[180, 130]])


def test_what_nobody_gave_is_said_on_the_sketch(ax):
    brief = read_brief(DATA / "starter" / "case.toml")
    text = {k: v for k, v in brief.text["payload"].items() if k != "centre"}
    gaps = {k: v for k, v in brief.text["case"].items() if k != "lid"}
    case = assess(brief.changed("payload", text).changed("case", gaps))
    figures.layout(case, "front", ax=ax)
    assert "centre of gravity (taken: payload.centre is not given)" in lines(ax)
    assert [t.get_text() for t in ax.texts].count("gap not given") == 1
    ax = figures.sway(case, "front", ax=Figure().subplots())
    words = [text.get_text() for text in ax.texts]
    assert any(word.startswith("lid: gap not given,\nincomplete: needs ") for word in words)


def test_loads_that_would_touch_are_listed_beside(ax):
    starter = read_brief(DATA / "starter" / "case.toml")
    case = assess(starter.changed("mounts.inset", ["170 mm", "40 mm"]))
    figures.layout(case, ax=ax)
    words = [text.get_text() for text in ax.texts]
    assert {"1", "2", "3", "4"} <= set(words)
    assert any(word.count("\n") == 3 and word.startswith("1: ") for word in words)


@pytest.mark.parametrize(("view", "k"), [("plan", (0, 1)), ("side", (1, 2))])
def test_the_sway_is_the_page(sled, ax, view, k):
    figures.sway(sled, view, ax=ax)
    half = np.array([210, 150, 80])[list(k)]
    rows = {row["face"]: row for row in as_data(sled)["clearance"]}
    demand = [rows[FACES[2 * n + side]]["demand_mm"] for n in k for side in (0, 1)]
    worst = next(p for p in ax.patches if p.get_label().startswith("worst"))
    found = worst.get_x(), worst.get_y(), worst.get_width(), worst.get_height()
    low = -half - np.array(demand[::2])
    np.testing.assert_allclose(found[:2], low)
    np.testing.assert_allclose(found[2:], half + np.array(demand[1::2]) - low)
    by_label = {p.get_label(): p for p in ax.patches}
    assert by_label["vibration, sine, steps"].get_width() <= worst.get_width()
    assert by_label["drop and set-down"].get_width() == pytest.approx(worst.get_width())


def test_no_such_view_or_point_gets_one_line(sled, ax):
    with pytest.raises(InputError, match="view = 'top': write one of plan, front, side"):
        figures.layout(sled, "top", ax=ax)
    with pytest.raises(InputError, match="no such point; write some of 'worst corner', 'centre'"):
        figures.transmissibility(sled, points=["fan"], ax=ax)
    with pytest.raises(InputError, match=r"marks\['fan'\]"):
        figures.transmissibility(sled, marks={"fan": "50 kg"}, ax=ax)


def test_chosen_points_and_axes_are_the_kernel(sled, ax):
    figures.transmissibility(sled, axis=["x", "z"], points=["centre", "+++"], ax=ax)
    drawn = lines(ax)
    for axis, k in (("x", 0), ("z", 2)):
        for name, at in (("centre", 0), ("+++", 8)):
            frequency, size = drawn[f"{name}, {axis}"]
            np.testing.assert_allclose(size, kernel(sled, frequency, k)[:, at], rtol=1e-9)
    figures.transmissibility(sled, points=["battery"], ax=(part := Figure().subplots()))
    assert part.lines[0].get_label() == "battery"


def test_marks_and_strong_bands_share_the_frequency_axis(sled, ax):
    given = {"disc": "0.12 kHz", "fan": "125 Hz"}
    figures.transmissibility(sled, leg="sled over the ice", marks=given, ax=ax)
    assert {120.0, 125.0} <= {line.get_xdata()[0] for line in ax.lines}
    legend = [text.get_text() for text in ax.get_legend().get_texts()]
    assert "disc 120 Hz; fan 125 Hz" in legend
    assert [text.get_text() for text in ax.texts] == ["bolted down"]  # no name stands on a curve
    # Half of 0.004 g²/Hz: reached between 15 and 30 Hz at 15·2^(1/2), left on the way to 200 Hz
    # where the density falls by 8: at 80·2.5^(1/3).
    strong = [p for p in ax.patches if p.get_hatch() == "xxx"]
    spans = [(p.get_x(), p.get_x() + p.get_width()) for p in strong]
    np.testing.assert_allclose(spans, [(15 * 2**0.5, 80 * 2.5 ** (1 / 3))])


def inside_case():
    """The starter in a moulded case with a rib and a latch, and a tray in its lid."""
    brief = read_brief(DATA / "starter" / "case.toml")
    inside = {
        "size": ["520 mm", "420 mm", "420 mm"], "draft": "3 deg", "corner_radius": "35 mm",
        "floor_radius": "20 mm", "floor": "60 mm", "middle": ["0 mm", "5 mm"],
    }  # fmt: skip
    rib = {"name": "rib", "wall": "handle side", "width": "12 mm", "height": "6 mm", "at": "-80 mm"}
    latch = {"name": "latch", "position": ["245 mm", "0 mm", "40 mm"], "size": ["20 mm"] * 3}
    case = {"measured": "hanging", "inside": inside, "rib": [rib], "obstacle": [latch]}
    tray = {
        "at": ["0 mm", "20 mm", "200 mm"],
        "payload": {"mass": "2 kg", "size": ["200 mm", "150 mm", "40 mm"]},
        "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
    }
    return assess(brief.changed("case", case).changed("frame", {"lid tray": tray}))


def test_the_contour_is_that_of_the_brief():
    case = inside_case()
    ax = figures.layout(case, ax=Figure().subplots())
    rim, floor = (np.stack(lines(ax)[word], -1) for word in CONTOUR)
    lean = math.tan(math.radians(3)) * 420
    for line, half in ((rim, (260, 210)), (floor, (260 - lean, 210 - lean))):
        np.testing.assert_allclose(line.min(axis=0), [-half[0], -half[1] - 5])
        np.testing.assert_allclose(line.max(axis=0), [half[0], half[1] - 5])
        np.testing.assert_allclose(line[0], line[-1])
    # a coin of the radius touches the upright edge at its middle
    nearest = np.hypot(*(rim - [260, 205]).T).min()
    assert nearest == pytest.approx(35 * (math.sqrt(2) - 1), rel=1e-6)
    ax = figures.layout(case, "front", ax=Figure().subplots())
    (section,) = [line for line in ax.lines if line.get_label() == CONTOUR[0]]
    x, z = section.get_data()
    assert (z.min(), z.max()) == pytest.approx((-135, 285))
    assert np.ptp(x[z > 284]) == pytest.approx(520)
    rib = next(p for p in ax.patches if p.get_label() == "ribs")
    assert (rib.get_x(), rib.get_width()) == pytest.approx((-86, 12))


CONTOUR = ("inside of the case", "the same at the floor")


def test_all_bodies_and_all_that_is_near_are_drawn():
    case = inside_case()
    ax = figures.layout(case, ax=Figure().subplots())
    other = next(p for p in ax.patches if p.get_label() == "other bodies")
    assert (other.get_x(), other.get_y()) == pytest.approx((-100, -55))
    said = "\n".join(text.get_text() for text in ax.texts)
    assert "lid tray 4: 4.9 of 30 N" in said
    legend = ax.get_legend_handles_labels()[1]
    assert legend.count("mount: load of rated load") == 1
    rows = figures.room(case, ax=Figure().subplots())
    names = [label.get_text() for label in rows.get_yticklabels()]
    assert names[-6:] == list(FACES)
    assert set(names[:-6]) == {"rib", "latch", "corner radius", "floor radius", "lid tray"}
    own = figures.sway(case, "side", frame="lid tray", ax=Figure().subplots())
    assert own.get_title(loc="left").startswith("lid tray: sway")
    box = next(p for p in own.patches if p.get_label() == "lid tray")
    assert (box.get_x(), box.get_width()) == pytest.approx((-75, 150))


@pytest.fixture(scope="module")
def falls():
    return survival(DATA / "planetarium" / "case.toml")


def test_falls_over_heights_are_drawn_up_to_where_a_mount_bottoms(falls):
    ax = figures.heights(falls, ax=Figure().subplots())
    lines = {line.get_label(): line for line in ax.get_lines()}
    for line in falls.lines:
        shown = np.asarray(lines[line.name].get_ydata())
        assert shown == pytest.approx(line.corner / 9.80665, nan_ok=True)
        assert np.isnan(shown[falls.heights > line.bottoms]).all()
    assert len({lines[line.name].get_linestyle() for line in falls.lines}) == 4
    assert ax.get_ylabel() == "peak at the worst corner [g]"
    words = [text.get_text() for text in ax.get_legend().get_texts()]
    assert {"50 g: what the payload survives", "0.457 m, courier"} <= set(words)
    assert "marks: a mount bottoms" in words
    assert not ax.texts  # nothing stands where a curve may run
    spots = [line for line in ax.get_lines() if len(line.get_xdata()) == 1]
    at = sorted(float(np.asarray(line.get_xdata())[0]) for line in spots)
    assert at == pytest.approx(sorted(line.bottoms for line in falls.lines))
    assert len({line.get_marker() for line in spots}) == len(spots)  # told apart without colour


def test_travel_over_heights_has_the_travel_of_the_mounts(falls):
    ax = figures.heights(falls, of="travel", ax=Figure().subplots())
    level = [line for line in ax.get_lines() if list(line.get_ydata()) == [40.0, 40.0]]
    assert [line.get_label() for line in level] == ["40 mm: travel of the mounts"]
    assert ax.get_ylabel() == "a mount moves [mm]"


def test_kinds_of_landings_that_take_mounts_another_way_have_a_travel_of_their_own(falls):
    strokes = {"flat": 0.04, "edges": 0.03, "corners": 0.03, "slap-down": np.nan}
    lines = [replace(line, stroke=strokes[line.name]) for line in falls.lines]
    ax = figures.heights(replace(falls, lines=lines), of="travel", ax=Figure().subplots())
    words = [line.get_label() for line in ax.get_lines() if "of the mounts" in line.get_label()]
    assert words == [
        "40 mm: travel of the mounts, flat",
        "30 mm: travel of the mounts, edges, corners",
    ]


@pytest.mark.parametrize(("of", "lines"), [("peak", 4), ("travel", 8)])
def test_the_worst_landings_are_drawn_in_time(falls, of, lines):
    ax = figures.in_time(falls, of=of, ax=Figure().subplots())
    assert len(ax.get_lines()) == lines
    assert ax.get_xlabel() == "time after the first contact [ms]"
    legend = [text.get_text() for text in ax.get_legend().get_texts()]
    assert any(text.startswith("flat") for text in legend)
    assert any(text.startswith("slap-down") for text in legend)
    if of == "peak":
        looks = {(one.get_color(), one.get_linestyle(), one.get_linewidth()) for one in ax.lines}
        assert len(looks) == lines  # what the legend tells apart the eye does
        flat = ax.get_lines()[0]
        assert max(flat.get_ydata()) == pytest.approx(falls.traces[0].corner.max() / 9.80665)


def test_a_name_can_be_read_over_hatching(ax):
    """The box in the lid is hatched, and its name fits into it from the side."""
    figures.layout(at_the_bench("planetarium"), "front", ax=ax)
    behind = {text.get_text(): text.get_bbox_patch() for text in ax.texts}
    assert to_rgb(behind["control box"].get_facecolor()) == to_rgb("white")
    assert behind["star ball"] is None  # it lies plain on the payload


@pytest.mark.parametrize("name", ["readout", "W" * 60, 'مقياس "الضوء" 💧 $x'])
def test_every_word_of_a_picture_of_the_report_is_inside_of_it(sled, name):
    figure = Figure(figsize=(170 / 25.4, 74 / 25.4), layout="constrained")
    ax = figure.subplots()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figures.transmissibility(
            sled, leg="sled over the ice", marks={"fan turns": "12 Hz", name: "140 Hz"}, ax=ax
        )
        figure.draw_without_rendering()
    words = [ax.xaxis.label, ax.yaxis.label, ax.title, *ax.texts, *ax.get_legend().get_texts()]
    for one in words:
        box = one.get_window_extent()
        assert figure.bbox.x0 <= box.x0
        assert box.x1 <= figure.bbox.x1
        assert figure.bbox.y0 <= box.y0
        assert box.y1 <= figure.bbox.y1
    assert ax.get_window_extent().height > 0.25 * figure.bbox.height


@pytest.mark.parametrize(
    ("draw", "view"),
    [(figures.layout, "front"), (figures.layout, "side"), (figures.sway, "side")],
)
def test_the_bar_for_the_scale_keeps_off_the_axis(sled, draw, view):
    figure = Figure(figsize=(7.2, 6.0), layout="constrained")
    ax = figure.subplots()
    draw(sled, view, ax=ax)
    figure.draw_without_rendering()
    (bar,) = (text for text in ax.texts if text.get_text().startswith("scale: "))
    assert bar.get_window_extent().y0 > ax.get_window_extent().y0 + 1


@cache
def at_the_bench(case):
    """A demo case with a trip that is quickly judged: its sketch is the same."""
    bench = [{"name": "bench", "road": "none", "drop": "10 mm", "landings": ["lid up"]}]
    brief = read_brief(DATA / case / "case.toml").changed("leg", bench)
    return assess(brief.changed("not_required", {}))


def crosses(ax, box):
    """Lines and outlines that pass through a box on paper."""
    drawn = [*ax.patches, *(line for line in ax.lines if len(line.get_xdata()) > 1)]
    paths = ((one, one.get_transform().transform_path(one.get_path())) for one in drawn)
    return [one for one, path in paths if path.intersects_bbox(box, filled=False)]


@pytest.mark.parametrize("case", ["ice-radar", "planetarium", "water-lab"])
@pytest.mark.parametrize("size", [(112 / 25.4, 112 / 25.4), (7.2, 6.0)])
def test_no_words_of_a_sketch_cover_a_line_or_each_other(case, size):
    """As the first page of the report has it, and as a picture of its own."""
    found = at_the_bench(case)
    for view in ("plan", "side"):
        figure = Figure(figsize=size, layout="constrained")
        ax = figures.layout(found, view, ax=figure.subplots())
        figure.draw_without_rendering()
        words = [(one.get_text(), Text.get_window_extent(one)) for one in ax.texts]
        assert sum(text.split().count("of") for text, _ in words) == 4
        for n, (text, box) in enumerate(words):
            assert crosses(ax, box) == [], text
            assert not any(box.overlaps(other) for _, other in words[:n]), text
            assert figure.bbox.x0 < box.x0
            assert box.x1 < figure.bbox.x1


def test_a_narrow_obstacle_is_named_beside_the_case_with_a_leader(ax):
    figures.layout(at_the_bench("water-lab"), ax=ax)
    (pump,) = (text for text in ax.texts if text.get_text() == "pump")
    assert pump.arrow_patch is not None
    assert pump.xy == pytest.approx((-292.5, 0))  # a quarter of its width inside of it
    assert pump.get_position()[0] < -350  # the outside of the case


def test_names_keep_inside_of_their_parts():
    """In the side view the electronics are narrower than their name."""
    found, named = at_the_bench("planetarium"), []
    for view in ("plan", "front", "side"):
        figure = Figure(figsize=(7.2, 6.0), layout="constrained")
        ax = figures.layout(found, view, ax=figure.subplots())
        figure.draw_without_rendering()
        way = "xyz".index(ax.get_xlabel()[0])
        wide = {part.name: 1e3 * si_array(part, "size")[way] for part in found.design.payload.parts}
        for text in ax.texts:
            if text.get_text() in wide:
                named.append(text.get_text())
                box = text.get_window_extent().transformed(ax.transData.inverted())
                assert box.width <= wide[text.get_text()]
    assert {"electronics", "lamp house", "tray"} <= set(named)

"""Landings on edges and corners: each along its own fall line, the case not turning."""

import math
from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.case import Case
from isolator.report import as_data, page
from isolator.suspension import ATTITUDES
from isolator.units import G0, InputError

STARTER = read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
SIZE = ["500 mm", "400 mm", "200 mm"]
ALL = [*ATTITUDES, "edges", "corners"]
RING = {**STARTER.text["mount"]["ring"], "along": "9 N/mm", "across": "5 N/mm"}
RING |= {"travel": "95 mm", "travel_across": "95 mm"}


def lands(landings=ALL, **changes):
    """The starter with its centre at the height of the mounts, so that nothing turns."""
    brief = STARTER.changed("leg[1].landings", landings).changed("mount.ring", RING)
    for key, value in changes.items():
        brief = brief.changed(f"case.{key}", value)
    return brief


BOXED = {
    "size": ["600 mm", "480 mm", "340 mm"],
    "left_end": "95 mm", "right_end": "95 mm", "handle_side": "85 mm", "hinge_side": "85 mm",
    "floor": "90 mm", "lid": "90 mm",
}  # fmt: skip


def test_fall_lines_are_those_of_the_box():
    """Computed: a case of .5 × .4 × .2 m falls on its corners along .745/.596/.298."""
    case = Case(size=SIZE)
    names, down = case.fall_lines("corners")
    assert len(names) == len(set(names)) == 8
    np.testing.assert_allclose(np.abs(down), [[0.745, 0.596, 0.298]] * 8, atol=5e-4)
    names, down = case.fall_lines("edges")
    assert len(names) == len(set(names)) == 12
    at = names.index("right end and floor")
    np.testing.assert_allclose(down[at], np.array([0.5, 0, -0.2]) / math.hypot(0.5, 0.2))
    assert np.allclose(np.linalg.norm(down, axis=1), 1)
    assert np.count_nonzero(down) == 24
    assert Case().fall_lines("edges")[0] == []


def test_a_centre_aside_turns_the_lines_to_it():
    case = Case(size=SIZE, centre=["50 mm", "0 mm", "-20 mm"])
    names, down = case.fall_lines("corners")
    way = down[names.index("right end, hinge side and floor")]
    np.testing.assert_allclose(way, np.array([0.2, 0.2, -0.08]) / np.linalg.norm([0.2, 0.2, 0.08]))
    for wrong in ({"centre": ["300 mm", "0 mm", "0 mm"], "size": SIZE}, {"centre": SIZE}):
        with pytest.raises(InputError, match=r"Case.centre = .* it lies in the outer box"):
            Case(**wrong)


def test_a_corner_is_a_spring_along_its_line():
    """Linear mounts: k·Σe² along the line, 1 + √(1 + 2h/δ) of the weight, and a sag more of way."""
    rows = as_data(assess(lands(**BOXED).design))["drops"]
    assert [row["group"] for row in rows].count("corners") == 8
    assert [row["group"] for row in rows].count("edges") == 12
    half = np.array([0.3, 0.24, 0.17])
    seen = 0
    for row in rows:
        if row["group"] == "faces":
            continue
        words = row["landing"].replace(" and ", ", ").split(", ")
        way = np.array([half[k] * any(w in words for w in pair) for k, pair in enumerate(WALLS)])
        way = way / np.linalg.norm(way)
        for dynamic, key in ((1.0, "travel_mm"), (1.2, "peak_g")):
            k = 4 * dynamic * (9e3 * way[2] ** 2 + 5e3 * (1 - way[2] ** 2))
            sag = 8 * G0 / k
            g = 1 + math.sqrt(1 + 2 * 0.2 / sag)
            assert row[key] == pytest.approx(1e3 * g * sag if key == "travel_mm" else g, rel=1e-6)
        seen += 1
    assert seen == 20


WALLS = (("left end", "right end"), ("handle side", "hinge side"), ("floor", "lid"))


def test_the_page_has_the_worst_edge_and_the_worst_corner():
    result = assess(lands(**BOXED).design)
    ids = [check.id for check in result.checks if "edges" in check.id or "corners" in check.id]
    assert ids == [
        "drop travel/by van/edges", "drop peak/by van/edges",
        "drop travel/by van/corners", "drop peak/by van/corners",
        "drop force/by van/edges and corners",
    ]  # fmt: skip
    rows = as_data(result)["drops"]
    for group in ("edges", "corners"):
        mine = [row for row in rows if row["group"] == group]
        (check,) = [c for c in result.checks if c.id == f"drop travel/by van/{group}"]
        worst = max(row["mount_travel_mm_most"] for row in mine)
        assert check.demand == pytest.approx(worst)
        (peak,) = [c for c in result.checks if c.id == f"drop peak/by van/{group}"]
        assert peak.demand == pytest.approx(max(row["in_time"]["peak_g"] for row in mine))
        assert f"{group}, the worst: " in page(result)
        assert check.reason.split(":")[0] in {row["landing"] for row in mine}
    assert any("gross centre of gravity is in the middle" in line for line in result.assumed())
    assert not any("faces only" in line for line in result.assumed())


def test_without_a_size_edges_and_corners_are_a_question():
    result = assess(lands(["edges", "corners"]).design)
    missing = {check.id: check.missing for check in result.checks if check.status == "incomplete"}
    assert missing["drop travel/by van/edges and corners"] == "case.size"
    assert missing["clearance/floor"] == "case.size"
    flat = assess(lands(list(ATTITUDES)).design)
    assert "it lands flat on faces only on by van (leg.landings)" in flat.assumed()


def test_what_moves_the_payload_includes_edges_and_corners():
    faces, every = (assess(lands(group, **BOXED).design) for group in (list(ATTITUDES), ALL))
    for one in faces.checks:
        if one.id.startswith("clearance/"):
            (same,) = [c for c in every.checks if c.id == one.id]
            assert same.demand >= one.demand - 1e-9
    names = [motion.name for motion in every.response.motions]
    assert len(names) == len(faces.response.motions) + 20


def test_a_table_that_asks_for_edges_and_corners_has_them():
    brief = lands(**BOXED, mass="9 kg").changed("leg[1].drop", {"table": "ista 1a"})
    assert not any(c.id.startswith("drop edges") for c in assess(brief.design).checks)
    flat = brief.changed("leg[1].landings", list(ATTITUDES))
    (check,) = [c for c in assess(flat.design).checks if c.id.startswith("drop edges")]
    assert check.status == "incomplete"
    assert "add edges and corners to leg.landings" in check.reason

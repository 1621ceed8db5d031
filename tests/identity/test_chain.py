"""What no verdict may depend on, and what must not turn it, through the whole chain.

Cases are drawn at random and read from a brief; falls by energy, as designs are screened.
`python -m pytest -m heavy tests/identity/test_chain.py` draws a thousand for each.
"""

import copy
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from isolator.brief import read_brief
from isolator.sweep import Screen, glance
from isolator.units import InputError

MM, KG, N_MM, NEWTON, METRE = (
    lambda x, unit=unit: f"{x!r} {unit}" for unit in ("mm", "kg", "N/mm", "N", "m")
)
FACES = ("left_end", "right_end", "handle_side", "hinge_side", "floor", "lid")
IMPERIAL = {"mm": ("in", 1 / 25.4), "kg": ("lb", 1 / 0.45359237), "N": ("lbf", 1 / 4.4482216152605),
            "N/mm": ("lbf/in", 25.4 / 4.4482216152605), "m": ("ft", 1 / 0.3048)}  # fmt: skip


def rounded(low, high):
    return st.floats(low, high).map(lambda x: round(x, 3))


@st.composite
def cases(draw):
    """Tables of a brief: a payload of parts on three to six unlike mounts."""
    size = [draw(rounded(200, 500)) for _ in range(3)]
    reach = [0.4 * s for s in size]
    parts = [
        {
            "name": f"part {n}",
            "mass": KG(draw(rounded(0.5, 6))),
            "position": [MM(round(draw(st.floats(-0.5, 0.5)) * r, 3)) for r in reach],
            "size": [MM(draw(rounded(20, 80))) for _ in range(3)],
        }
        for n in range(draw(st.integers(1, 3)))
    ]
    kinds = {
        f"kind {n}": {
            "along": N_MM(draw(rounded(2, 40))),
            "across": N_MM(draw(rounded(2, 40))),
            "dynamic_ratio": draw(rounded(1, 2)),
            "loss_factor": draw(rounded(0.05, 0.4)),
            "rated_load": NEWTON(draw(rounded(10, 90))),
            "peak_load": NEWTON(draw(rounded(200, 1500))),
            "travel": MM(draw(rounded(5, 60))),
            "travel_across": MM(draw(rounded(5, 60))),
            "captive": True,
            "grade": "curve",
        }
        for n in range(draw(st.integers(1, 2)))
    }
    corners = [(-1, -1), (1, -1), (0, 1), (-1, 1), (1, 1), (0, -1)]
    places = [
        {
            "mount": draw(st.sampled_from(sorted(kinds))),
            "position": [
                MM(round(x * reach[0] * draw(st.floats(0.7, 1)), 3)),
                MM(round(y * reach[1] * draw(st.floats(0.7, 1)), 3)),
                MM(round(draw(st.floats(-0.3, 0.3)) * reach[2], 3)),
            ],
        }
        for x, y in corners[: draw(st.integers(3, 6))]
    ]
    return {
        "payload": {
            "parts": parts,
            "size": [MM(s) for s in size],
            "fragility": f"{draw(rounded(15, 80))!r} g0",
            "vibration_limit": f"{draw(rounded(0.3, 3))!r} g0",
        },
        "case": {face: MM(draw(rounded(10, 120))) for face in FACES} | {"measured": "hanging"},
        "mount": kinds,
        "mounts": {"place": places},
        "leg": [
            {
                "name": "ride",
                "temperature": "15 °C",
                "duration": "3 h",
                "drop": METRE(draw(rounded(0.05, 0.9))),
                "road": {
                    "vertical": "truck d4169-16 medium",
                    "transverse": "truck d4169-16 low",
                    "longitudinal": draw(
                        st.sampled_from(["truck d4169-16 low", "truck d4169-16 medium"])
                    ),
                },
            }
        ],
    }


def told(brief):
    """Every check of a brief: its status and its numbers."""
    nan = float("nan")
    return {
        c.id: (c.status, nan if c.demand is None else c.demand,
               nan if c.capacity is None else c.capacity)
        for c in glance(brief).checks
    }  # fmt: skip


def same(one, other):
    """Equal verdicts, number by number.

    Of mounts that use their way alike to six places the first one is told, whichever that is: so
    much of a capacity a demand may differ.
    """
    assert one.keys() == other.keys()
    for name, (status, demand, capacity) in one.items():
        assert other[name][0] == status, name
        tie = 1.01e-6 * capacity if np.isfinite(capacity) else 0.0
        assert other[name][1:] == (
            pytest.approx(demand, rel=1e-6, abs=max(tie, 1e-9), nan_ok=True),
            pytest.approx(capacity, rel=1e-6, abs=1e-9, nan_ok=True),
        ), name


def read(tables):
    """The tables as a brief in a folder of its own, with its parts in a file."""
    rows = tables["payload"]["parts"]
    lines = ["name,mass,x,y,z,size x,size y,size z"]
    lines += [",".join([p["name"], p["mass"], *p["position"], *p["size"]]) for p in rows]
    payload = {**tables["payload"], "parts": "parts.csv"}
    with TemporaryDirectory() as folder:
        (Path(folder) / "parts.csv").write_text("\n".join(lines), encoding="utf-8")
        brief = Path(folder) / "case.toml"
        brief.write_text(tomli_w.dumps({**tables, "payload": payload}), encoding="utf-8")
        return read_brief(brief)


def turned_texts(tables, change):
    """The tables with every text in them changed."""
    if isinstance(tables, dict):
        return {key: turned_texts(value, change) for key, value in tables.items()}
    if isinstance(tables, list):
        return [turned_texts(value, change) for value in tables]
    return change(tables) if isinstance(tables, str) else tables


def imperial(text):
    number, _, unit = text.partition(" ")
    if unit not in IMPERIAL:
        return text
    name, factor = IMPERIAL[unit]
    return f"{float(number) * factor!r} {name}"


def moved(tables, change, faces):
    """Every position changed by a function of its three texts, and the faces renamed."""
    out = copy.deepcopy(tables)
    for row in (*out["payload"]["parts"], *out["mounts"]["place"]):
        row["position"] = change(row["position"])
    out["case"] = {faces.get(key, key): value for key, value in out["case"].items()}
    return out


def minus(text):
    return text[1:] if text.startswith("-") else f"-{text}"


def exchanged(checks, names):
    """Checks with the names of faces and axes in their ids exchanged."""
    both = {**names, **{f"on the {a}": f"on the {b}" for a, b in names.items()}}
    return {
        "/".join(both.get(part, part) for part in name.split("/")): answer
        for name, answer in checks.items()
    }


def units_do_not_matter(tables, before):
    same(before, told(read(turned_texts(tables, imperial))))


def a_mirror_exchanges_two_faces(tables, before):
    over = moved(
        tables,
        lambda at: [at[0], minus(at[1]), at[2]],
        {"handle_side": "hinge_side", "hinge_side": "handle_side"},
    )
    names = {"handle side": "hinge side", "hinge side": "handle side"}
    same(exchanged(before, names), told(read(over)))


def a_quarter_turn_exchanges_axes(tables, before):
    """The new x is the old y, the new y the old x the other way."""
    over = moved(
        tables,
        lambda at: [at[1], minus(at[0]), at[2]],
        {
            "left_end": "hinge_side",
            "right_end": "handle_side",
            "handle_side": "left_end",
            "hinge_side": "right_end",
        },
    )
    for row in (over["payload"], *over["payload"]["parts"]):
        row["size"] = [row["size"][1], row["size"][0], row["size"][2]]
    road = over["leg"][0]["road"]
    road["longitudinal"], road["transverse"] = road["transverse"], road["longitudinal"]
    names = {
        "left end": "hinge side",
        "right end": "handle side",
        "handle side": "left end",
        "hinge side": "right end",
        "x": "y",
        "y": "x",
    }
    same(exchanged(before, names), told(read(over)))


def order_does_not_matter(tables, before):
    over = copy.deepcopy(tables)
    over["mounts"]["place"].reverse()
    over["payload"]["parts"].reverse()
    same(before, told(read(over)))


def halved(text):
    number, _, unit = text.partition(" ")
    return f"{float(number) / 2!r} {unit}"


def two_halves_are_a_part(tables, before):
    """A box cut across its first side weighs and turns as its halves do together."""
    over = copy.deepcopy(tables)
    part = over["payload"]["parts"].pop()
    x, *rest = (float(text.split()[0]) for text in part["position"])
    length = float(part["size"][0].split()[0])
    over["payload"]["parts"] += [
        {
            "name": f"{part['name']} {way}",
            "mass": halved(part["mass"]),
            "position": [MM(x + way * length / 4), *map(MM, rest)],
            "size": [MM(length / 2), *part["size"][1:]],
        }
        for way in (-1, 1)
    ]
    same(before, told(read(over)))


def two_half_mounts_are_a_mount(tables, before):
    """Of half the stiffness and half the ratings, in one place; a share of the load is halved."""
    over = copy.deepcopy(tables)
    for kind in over["mount"].values():
        for key in ("along", "across", "rated_load", "peak_load"):
            kind[key] = halved(kind[key])
    over["mounts"]["place"] = [copy.deepcopy(row) for row in tables["mounts"]["place"] * 2]
    after = told(read(over))
    forces = {name for name in before if name.startswith(("rated load", "load share"))}
    forces |= {name for name in before if "force" in name}
    assert before.keys() == after.keys()
    same(
        {name: answer for name, answer in before.items() if name not in forces},
        {name: answer for name, answer in after.items() if name not in forces},
    )
    for name in forces - {"load share"}:
        status, demand, capacity = before[name]
        assert after[name][0] == status
        assert after[name][1:] == (
            pytest.approx(demand / 2, rel=1e-6),
            pytest.approx(capacity / 2, rel=1e-6),
        )


def stiffer_mounts_sag_less(tables, before):
    over = copy.deepcopy(tables)
    for kind in over["mount"].values():
        for key in ("along", "across"):
            number, _, unit = kind[key].partition(" ")
            kind[key] = f"{1.5 * float(number)!r} {unit}"
    assert told(read(over))["sag"][1] < before["sag"][1]


def more_gap_fails_nothing(tables, before):
    for face in FACES:
        over = copy.deepcopy(tables)
        over["case"][face] = MM(float(over["case"][face].split()[0]) + 7.5)
        for name, answer in told(read(over)).items():
            assert (before[name][0], answer[0]) != ("pass", "fail"), (face, name)


def what_is_left_out_passes_nothing(tables, before):
    """The whole is no pass for want of an input, and no check that failed or was open passes."""
    for table, key in [
        *(("payload", key) for key in ("fragility", "vibration_limit")),
        *(("case", key) for key in (*FACES, "measured")),
        *(("leg", key) for key in ("temperature", "duration", "drop")),
        *(("mount", key) for key in ("loss_factor", "rated_load", "peak_load", "travel",
                                     "travel_across", "captive", "dynamic_ratio")),
    ]:  # fmt: skip
        over = copy.deepcopy(tables)
        rows = {"leg": over["leg"], "mount": over["mount"].values()}.get(table, [over[table]])
        for row in rows if isinstance(rows, list) else list(rows):
            row.pop(key)
        try:
            after = glance(read(over))
        except InputError:
            continue  # it must be given
        assert after.status != "pass", key
        for check in after.checks:
            was = before.get(check.id, ("pass",))[0]
            assert was == "pass" or check.status != "pass", (key, check.id, was)


IDENTITIES = (
    units_do_not_matter,
    a_mirror_exchanges_two_faces,
    a_quarter_turn_exchanges_axes,
    order_does_not_matter,
    two_halves_are_a_part,
    two_half_mounts_are_a_mount,
    stiffer_mounts_sag_less,
    more_gap_fails_nothing,
    what_is_left_out_passes_nothing,
)


def holds(identity, tables):
    identity(tables, told(read(tables)))


@pytest.mark.parametrize("identity", IDENTITIES, ids=lambda identity: identity.__name__)
@settings(max_examples=2, deadline=None, derandomize=True)
@given(tables=cases())
def test_the_whole_chain(identity, tables):
    holds(identity, tables)


@pytest.mark.heavy
@pytest.mark.parametrize("identity", IDENTITIES, ids=lambda identity: identity.__name__)
@settings(max_examples=1000, deadline=None)
@given(tables=cases())
def test_the_whole_chain_a_thousand_times(identity, tables):
    holds(identity, tables)


@settings(max_examples=2, deadline=None, derandomize=True)
@given(many=st.lists(cases(), min_size=2, max_size=4))
def test_a_batch_is_its_designs_one_by_one(many):
    """Of designs that may stand beside each other: equal counts of mounts, legs alike."""
    first = read(many[0])
    designs = [
        read({**many[0], "mount": one["mount"], "mounts": {
            "place": [{**row, "mount": sorted(one["mount"])[0]}
                      for row in many[0]["mounts"]["place"]]}}).design
        for one in many
    ]  # fmt: skip
    screen = Screen.of(first, designs)
    for i, design in enumerate(designs):
        alone = Screen.of(first, [design])
        row, own = screen.row(i), alone.row(0)
        assert row.keys() == own.keys()
        for key, value in own.items():
            if isinstance(value, float):
                assert row[key] == pytest.approx(value, rel=1e-10, abs=1e-12, nan_ok=True), key
            else:
                assert row[key] == value, key

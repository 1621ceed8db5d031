"""Many designs at once: the grid, the screen, the ranking, the window, the places, the chances."""

import itertools
import json
import math
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import isolator.sweep as sweep
from isolator.advice import advise
from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.cli import main
from isolator.figures import choice as pictures
from isolator.grid import AS_GIVEN, Grid
from isolator.judging import count_failing
from isolator.mount import Mount
from isolator.report.choice import choice, choice_data, choice_page
from isolator.robust import chance, variance_shares
from isolator.siting import seats, site
from isolator.sweep import Screen, choose, chosen, front, screened
from isolator.units import MASS, InputError, si, si_array
from isolator.windows import window

DATA = Path(__file__).parents[2] / "data"
STARTER = read_brief(DATA / "starter" / "case.toml")
RING = STARTER.text["mount"]["ring"]


def kinds(**along):
    """The starter with further kinds like its ring, by stiffness along."""
    other = {name: {**RING, "along": k, "across": k} for name, k in along.items()}
    return STARTER.with_tables({"mount": {"ring": RING, **other}, "mounts": {
        **STARTER.text["mounts"], "use": "ring"}})  # fmt: skip


THREE = kinds(soft="3 N/mm", hard="40 N/mm").with_tables(
    {"choose": {"stacking": ["one", "two in series"], "pattern": [
        {"name": "wide", "spread": ["380 mm", "280 mm"], "height": "-10 mm"},
        {"name": "three", "positions": [["-160 mm", "-110 mm", "-10 mm"],
            ["160 mm", "-110 mm", "-10 mm"], ["0 mm", "110 mm", "-10 mm"]]},
    ]}}
)  # fmt: skip


@pytest.fixture(scope="module")
def table():
    return choose(THREE)


# The grid.


@pytest.mark.parametrize("most", [1, 2, 3])
@pytest.mark.parametrize("names", [1, 2, 4])
def test_the_count_is_that_of_the_candidates(most, names):
    mounts = {f"m{n}": STARTER.mounts["ring"] for n in range(names)}
    grid = Grid(THREE.grid.patterns, mounts, ("one", "opposed pair"), most)
    every = list(grid.candidates())
    assert grid.count() == len(every) == len(set(every))


def test_each_choice_of_kinds_is_there_once():
    """By brute force: all ways to put two kinds at three places."""
    mounts = dict.fromkeys("ab", STARTER.mounts["ring"])
    grid = Grid([THREE.grid.pattern("three")], mounts, ("one",), 2)
    found = {candidate.kinds for candidate in grid.candidates()}
    assert found == set(itertools.product("ab", repeat=3))


def test_two_in_series_are_half_as_stiff_and_go_twice_as_far():
    ring = STARTER.mounts["ring"].stacked("two in series")
    assert ring.curves().force([0.01, 0.01]).tolist() == pytest.approx([30.0, 30.0])
    assert ring.limits() == pytest.approx([0.09, 0.09, 0.09])
    assert si(ring, "rated_load") == 30


@pytest.mark.parametrize(("travel", "limits"), [(None, (0.02, 0.004)), ("5 mm", (0.01, 0.004))])
def test_two_in_series_are_pulled_twice_as_far_as_one_is_pulled(travel, limits):
    """Two springs of one force each give way by half: a curve that ends earlier when pulled."""
    points = {"deflection": ["-2 mm", "4 mm", "10 mm"], "force": ["-30 N", "40 N", "160 N"]}
    one = Mount(name="one", along=points, across="6 N/mm", dynamic_ratio=1, captive=True,
                travel=travel, travel_across="3 mm")  # fmt: skip
    both = one.stacked("two in series")
    assert both.limits() == pytest.approx([*limits, 0.006])
    at = np.linspace(-0.004, 0.02, 50)[:, None] * np.ones(2)
    np.testing.assert_allclose(both.curves().force(at), one.curves().force(at / 2), rtol=1e-12)
    assert both.shifted({}).limits() == pytest.approx([*limits, 0.006])


def test_an_opposed_pair_of_pads_holds_both_ways():
    pad = Mount(name="pad", along="6 N/mm", across="2 N/mm", dynamic_ratio=1, captive=False,
                travel="5 mm", rated_load="40 N")  # fmt: skip
    pair = pad.stacked("opposed pair")
    assert pair.curves().force([[0.001, 0.001], [-0.001, 0.001]])[:, 0].tolist() == pytest.approx(
        [6.0, -6.0]
    )
    assert pair.captive
    assert si(pair, "rated_load") == 40
    both = Mount(name="ring", along="6 N/mm", across="2 N/mm", dynamic_ratio=1, captive=True)
    assert both.stacked("opposed pair").curves().force([0.001, 0.001]).tolist() == pytest.approx(
        [12.0, 4.0]
    )


def test_a_rectangle_has_its_places():
    at = [si_array(place, "position").tolist() for place in THREE.grid.pattern("wide").places]
    assert sorted(at) == [[x, y, -0.01] for x in (-0.19, 0.19) for y in (-0.14, 0.14)]


def test_stacking_in_a_brief_is_that_of_the_grid():
    brief = THREE.changed("mounts.stacking", "two in series")
    assert brief.design.places[0].mount.name == "ring (two in series)"
    assert {m.name for m in brief.grid.mounts.values()} == {"ring", "soft", "hard"}


# The table.


def test_nothing_that_fails_stands_above_what_passes(table):
    order = {"pass": 0, "incomplete": 1, "fail": 2, "unusable": 3}
    ranks = [order[status] for status in table["status"]]
    assert ranks == sorted(ranks)
    assert ranks[0] == 0
    assert ranks[-1] == 2
    full = table[(table["judged"] == "in full") & (table["status"] == "pass")]
    margins = full["margin"].to_numpy()
    assert (np.diff(margins) <= sweep.RESOLUTION).all()
    assert (table[table["status"] == "pass"]["judged"] == "in full").all()


@pytest.mark.heavy
def test_every_judged_row_is_what_assess_says(table):
    """Status, least margin and its check, to 1e-10, through the brief that the row stands for."""
    full = table[table["judged"] == "in full"]
    assert len(full) >= 3
    for _, row in full.iterrows():
        result = assess(chosen(THREE, row["candidate"]))
        assert result.status == row["status"]
        assert count_failing(result.checks) == row["failing"]
        least = next(check for check in result.checks if check.id == row["worst"])
        assert least.margin == pytest.approx(row["margin"], rel=1e-10)


def test_a_screened_row_is_that_of_its_design_alone(table):
    """One design or many side by side, and through the brief: the same to 1e-10."""
    every = list(THREE.grid.candidates())
    rows = screened(THREE, every)
    assert len(rows) == len(every) == len(table)
    for candidate, row in list(zip(every, rows, strict=True))[::5]:
        brief = chosen(THREE, row["candidate"])
        alone = Screen.of(brief, [brief.design]).row(0)
        assert {k: v for k, v in alone.items() if not isinstance(v, float)} == {
            k: row[k] for k, v in alone.items() if not isinstance(v, float)
        }
        for key, value in alone.items():
            if isinstance(value, float):
                assert row[key] == pytest.approx(value, rel=1e-10), (candidate, key)


def test_a_rejected_row_says_what_fails_first_and_by_how_much(table):
    row = table[table["status"] == "fail"].iloc[0]
    result = assess(chosen(THREE, row["candidate"]))
    if row["judged"] == "in full":
        first = next(c for c in result.checks if c.status == "fail" and not c.waived)
        assert first.id == row["first"]
        assert row["by"] == pytest.approx(-first.margin)
    assert row["reason"]


def test_measured_goes_before_guessed_where_margins_are_alike():
    """The same numbers twice, one of them of a grade that is worse, and first in the brief."""
    other = {"guess": {**RING, "grade": "rating"}, "known": {**RING, "grade": "measured"}}
    brief = STARTER.with_tables({"mount": other, "mounts": {**STARTER.text["mounts"], "use":
        "guess"}})  # fmt: skip
    found = choose(brief)
    assert found["mounts"].tolist() == ["known", "guess"]
    assert found["margin"].nunique() == 1


def test_what_is_in_stock_goes_before_what_is_not():
    other = {"a": {**RING, "stock": 3}, "b": {**RING, "stock": 4}}
    brief = STARTER.with_tables({"mount": other, "mounts": {**STARTER.text["mounts"], "use": "a"}})
    found = choose(brief)
    assert found["mounts"].tolist() == ["b", "a"]
    assert found["in_stock"].tolist() == [True, False]
    unknown = choose(STARTER)
    assert unknown["in_stock"].tolist() == [None]
    assert unknown.to_csv(index=False).splitlines()[1].count("False") == 0


def test_conditions_are_in_the_table(table):
    cold = THREE.with_tables({"condition": [{"name": "heavier", "heavier": "7 kg"}]})
    found = choose(cold)
    assert found.iloc[0]["margin"] <= table.iloc[0]["margin"]
    assert found["first"].str.contains("condition/heavier|heavier: ").any()


def test_a_fan_on_four_springs_by_the_sweep():
    """Rao (memory): 40 kg at 1000 rpm, a tenth through: 9969 N/m each is the stiffest."""
    stiff = {f"{k}": {**RING, "along": f"{k} N/m", "across": f"{k} N/m", "dynamic_ratio": 1.0,
             "loss_factor": 0.001} for k in (9000, 9900, 9960, 9980, 10100, 12000)}  # fmt: skip
    leg = {k: v for k, v in STARTER.text["leg"][0].items() if k not in ("road", "duration")}
    leg |= {"drop": "none", "sine": {"ways": ["vertical"], "dwell": {
        "at": "1000 rpm", "level": "1 g0", "duration": "1 h"}}}  # fmt: skip
    payload = {**STARTER.text["payload"], "mass": "40 kg", "centre": ["0 mm", "0 mm", "-10 mm"],
               "vibration_limit": f"{0.1 / math.sqrt(2)} g0"}  # fmt: skip
    brief = STARTER.with_tables({
        "payload": payload, "leg": [leg], "mount": stiff,
        "mounts": {**STARTER.text["mounts"], "use": "9000"},
    })  # fmt: skip
    designs = [chosen(brief, [AS_GIVEN, "one", [name] * 4]).design for name in brief.grid.mounts]
    screen = Screen.of(brief, designs)
    own = screen.status[:, list(screen.ids).index("sine limit/by van")]
    assert own.tolist() == ["pass", "pass", "pass", "fail", "fail", "fail"]


@pytest.mark.parametrize("pool", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_an_executor_changes_nothing(pool):
    with pool(2) as executor:
        pd.testing.assert_frame_equal(choose(THREE, executor=executor, in_full=4),
                                      choose(THREE, in_full=4))  # fmt: skip


def test_an_interrupted_sweep_goes_on_with_the_same_result(tmp_path, monkeypatch):
    monkeypatch.setattr(sweep, "CHUNK", 4)
    keep = tmp_path / "rows.jsonl"
    calls = []

    def stops(brief, candidates):
        calls.append(len(candidates))
        if len(calls) == 3:
            raise KeyboardInterrupt
        return screened(brief, candidates)

    monkeypatch.setattr(sweep, "screened", stops)
    with pytest.raises(KeyboardInterrupt):
        choose(THREE, keep=keep)
    kept = keep.read_text(encoding="utf-8").splitlines()
    assert len(kept) == 3
    keep.write_text("\n".join(kept) + '\n["screened", "2", [{"stat', encoding="utf-8")
    calls[:] = [0] * 5
    found = choose(THREE, keep=keep)
    monkeypatch.setattr(sweep, "screened", screened)
    pd.testing.assert_frame_equal(found, choose(THREE))
    again = choose(THREE, keep=keep)
    pd.testing.assert_frame_equal(found, again)
    with pytest.raises(InputError, match="it belongs to another brief"):
        choose(STARTER, keep=keep)


def test_nothing_beats_the_front():
    """Against brute force over all pairs."""
    rng = np.random.default_rng(4)
    table = pd.DataFrame(rng.integers(0, 9, (200, 2)) / 8, columns=["vibration_margin",
                         "fall_margin"])  # fmt: skip
    table.loc[3, "fall_margin"] = np.nan
    found = front(table)
    both = table.to_numpy()
    known = ~np.isnan(both).any(axis=1)
    for i in np.flatnonzero(known):
        beaten = any((both[k] >= both[i]).all() and (both[k] > both[i]).any()
                     for k in np.flatnonzero(known))  # fmt: skip
        alike = any((both[k] == both[i]).all() and found[k] for k in np.flatnonzero(known))
        assert alike == (not beaten)
    assert not found[3]


# The page.


def test_the_page_says_what_to_hang_it_on():
    found = choice(THREE)
    text = choice_page(found)
    assert "18 designs tried: 3 kinds of mounts, 3 patterns of places, 2 ways to stack" in text
    assert "PASS:" in text
    assert "Why not the others" in text
    assert "In the brief, for the best:" in text
    assert found.advice is None
    data = json.loads(json.dumps(choice_data(found), allow_nan=False))
    assert len(data["designs"]) == 18
    assert data["nearest_miss"] is None


def test_the_lines_for_the_brief_are_those_of_the_best(tmp_path):
    found = choice(THREE)
    text = choice_page(found).split("In the brief, for the best:\n\n")[1].split("\n\nWhy not")[0]
    import tomllib

    read = tomllib.loads(text)
    assert read["mounts"] == chosen(THREE, found.table.iloc[0]["candidate"]).text["mounts"]


NARROW = {"case.lid": "25 mm", "case.floor": "30 mm"}


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        (NARROW, "more room at the lid"),
        ({"mount.ring.travel": "20 mm"}, "of travel along in the place of 20 mm"),
        ({"mount.ring.rated_load": "15 N"}, "rated for"),
        ({"mount.ring.along": "60 N/mm", "mount.ring.across": "60 N/mm"}, "along in the place of"),
    ],
)
def test_the_advice_for_a_near_miss_makes_it_pass(keys, words):
    """What it says is put into the brief, and assess passes."""
    brief = STARTER
    for key, value in keys.items():
        brief = brief.changed(key, value)
    assert assess(brief).status == "fail"
    advice = advise(brief)
    assert advice.makes == "pass"
    assert assess(advice.brief).status == "pass"
    assert any(words in step.words for step in advice.steps)
    assert advice.brief.text["payload"] == brief.text["payload"]


@pytest.mark.parametrize(
    "case", ["ice-radar", pytest.param("planetarium", marks=pytest.mark.heavy), "water-lab"]
)
def test_a_demo_case_ends_with_what_passes(case):
    brief = read_brief(DATA / case / "case.toml")
    few = brief.with_tables({"choose": {"kinds": 1}})
    assert choose(few).iloc[0]["status"] == "pass"
    worst = chosen(few, [AS_GIVEN, "one", [next(iter(few.mounts))] * 4])
    advice = advise(worst)
    assert advice.steps
    assert advice.makes == "pass"


def test_a_waiver_counts_in_the_screen_for_its_body_and_its_condition():
    """A condition that is not required rejects nothing; one body's waiver is not another's."""
    heavy = THREE.with_tables({"condition": [{"name": "brick", "heavier": "60 kg"}]})
    asked = Screen.of(heavy, [heavy.design])
    assert asked.row(0)["status"] == "fail"
    waived = heavy.with_tables({"not_required": {"condition/brick": "nobody will"}})
    free = Screen.of(waived, [waived.design])
    assert free.row(0)["failing"] == 0
    assert not free.required[[name.startswith("brick: ") for name in free.ids]].any()
    assert assess(waived).status == "pass"
    two = read_brief(DATA / "starter" / "case.toml").with_tables(
        {
            "frame": {
                "lid tray": {
                    "at": ["0 mm", "0 mm", "120 mm"],
                    "payload": {"mass": "1 kg", "size": ["100 mm", "100 mm", "20 mm"]},
                    "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
                }
            },
            "not_required": {"rated load": "known to hold"},
        }
    )
    both = Screen.of(two, [two.design])
    required = dict(zip(both.ids, both.required, strict=True))
    assert not required["rated load"]
    assert required["lid tray: rated load"]
    assert list(both.asked).count("rated load") == 2


# The window.


def test_the_window_is_that_of_the_checks_one_by_one():
    found = window(STARTER)
    assert found.own == 6000
    for k in (0, 30, 48, 60, 96):
        factor = found.stiffness[k] / found.own
        screen = Screen.of(STARTER, [STARTER.design.stiffened(factor)])
        fails = ((screen.status == "fail") & screen.required).any()
        assert found.left[k] == (not fails)
    middle = int(np.argmin(np.abs(found.stiffness - found.own)))
    assert found.left[middle]
    assert found.bounce[middle] == pytest.approx(
        math.sqrt(4 * 6000 * 1.2 / 8) / 2 / math.pi, rel=0.02
    )


def test_a_shut_window_says_what_would_open_it():
    shut = STARTER.changed("mount.ring.travel", "12 mm")
    found = window(shut)
    assert not found.left.any()
    assert "way in falls" in found.opens()
    (low, high) = found.opens()["way in falls"][0]
    assert low < 6000 < high
    assert STARTER.changed("mount.ring.travel", "45 mm")
    assert window(STARTER).opens() == {}


def test_the_pictures_of_a_choice_show_their_numbers(table):
    from matplotlib.figure import Figure

    found = window(STARTER)
    ax = pictures.window(found, ax=Figure().subplots())
    assert "N/mm" in ax.get_xlabel()
    names = [label.get_text() for label in ax.get_yticklabels()]
    assert "ring" in names
    assert "what is left" in names
    trade = pictures.trade(table, ax=Figure().subplots())
    drawn = {line.get_label(): len(line.get_xdata()) for line in trade.get_lines()}
    assert drawn["passes"] == (table["status"] == "pass").sum()
    assert drawn["fails"] == (table["status"] == "fail").sum()


# Where to put them.

DOWN = np.array([0.0, 0.0, -1.0])


def test_mounts_under_the_centre_stay():
    found = site(STARTER)
    assert found.sentences() == []
    assert found.after.uneven == pytest.approx(1)


def test_an_off_centre_load_is_shared_after_the_move():
    """The pattern moves with the centre: by hand, the moments about it must vanish."""
    brief = STARTER.changed("payload.centre", ["25 mm", "0 mm", "-10 mm"])
    found = site(brief)
    assert found.before.uneven > 1.1
    assert found.after.uneven < 1.01
    assert found.position[:, 0].mean() == pytest.approx(0.025, abs=2e-3)
    assert "to the right end" in " ".join(found.sentences())
    moved = found.table(brief)
    assert seats(moved.design.suspension(), DOWN, np.full(4, 0.25)).uneven == pytest.approx(
        found.after.uneven
    )


def test_mounts_with_ratings_share_the_load_by_them():
    """Twice as stiff on the left and rated twice as high: without a tilt they share 2 to 1, which
    by moments puts the left ones half as far from the centre as the right ones."""
    hard = {**RING, "along": "12 N/mm", "across": "12 N/mm", "rated_load": "60 N"}
    left, right = ({"mount": "hard"}, {"mount": "ring"})
    brief = STARTER.with_tables({
        "mount": {"ring": {**RING, "rated_load": "30 N"}, "hard": hard},
        "mounts": {"place": [
            {**way, "position": [f"{x} mm", f"{y} mm", "-10 mm"]}
            for way, x in ((left, -130), (right, 130)) for y in (-80, 80)
        ]},
    })  # fmt: skip
    found = site(brief, reach="60 mm")
    assert found.by_rating
    assert found.before.uneven > 1.2
    assert found.after.part == pytest.approx(np.ones(4), abs=0.02)
    ways = found.position[:, 0] - brief.design.payload.centre_of_gravity()[0]
    assert ways[2] / -ways[0] == pytest.approx(2, abs=0.1)


def test_the_load_shares_are_those_of_statics():
    """Two moments and one weight on three mounts settle all loads (statics)."""
    brief = chosen(THREE, ["three", "one", ["ring"] * 3]).changed(
        "payload.centre", ["10 mm", "20 mm", "-10 mm"]
    )
    load = seats(brief.design.suspension(), DOWN, np.full(3, 1 / 3)).load
    x = np.array([-0.16, 0.16, 0.0]) - 0.01
    y = np.array([-0.11, -0.11, 0.11]) - 0.02
    by_hand = np.linalg.solve(np.stack([np.ones(3), x, y]), [1, 0, 0])
    assert load.tolist() == pytest.approx(by_hand.tolist())


# Chances.


def test_the_indices_of_a_known_function():
    """Ishigami with a = 7, b = 0.1 (published: 0.3139, 0.4424, 0; totals 0.5576, 0.4424, 0.2437)"""

    def ishigami(u):
        x = 2 * math.pi * u - math.pi
        return np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])

    alone, total = variance_shares(ishigami, 3, 4096, 1)
    assert alone.tolist() == pytest.approx([0.3139, 0.4424, 0.0], abs=0.01)
    assert total.tolist() == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.01)


def test_the_chance_is_the_share_of_the_range_that_holds():
    """One thing off, and a load that just fails: the share by hand, within its error."""
    brief = STARTER.changed("payload.mass_within", "1 kg")
    heaviest = 8.25  # what the rating of four mounts carries
    brief = brief.changed("mount.ring.rated_load", f"{heaviest * 9.80665 / 4} N")
    found = chance(brief, samples=64, shares=16)
    assert found.passing == pytest.approx(0.625, abs=3 * found.error)
    assert found.failing["rated load"] == pytest.approx(0.375, abs=3 * found.error)
    assert [factor.name for factor in found.factors] == ["mass"]
    assert found.factors[0].share == 1
    assert found.factors[0].if_nominal > 0.9
    assert 0.2 < found.factors[0].off < 0.5
    assert found.mass[0] < 8 <= found.mass[1] <= heaviest


@pytest.mark.heavy
def test_what_matters_most_stands_first():
    brief = STARTER.changed("payload.mass_within", "0.1 kg").changed("mount.ring.within", 0.3)
    found = chance(brief, samples=64, shares=32)
    assert [f.name for f in found.factors][-1] == "mass"
    assert {f.name for f in found.factors} == {"mass", "along", "across"}
    assert all(f.key for f in found.factors)
    again = chance(brief, samples=64, shares=32)
    assert again == found


@pytest.mark.heavy
def test_a_drop_height_that_may_be_off_is_drawn_too():
    brief = STARTER.changed("mount.ring.travel", "43 mm")
    sure = chance(brief, samples=32, shares=16, within={"drop height": "1 mm"})
    unsure = chance(brief, samples=32, shares=16, within={"drop height": "60 mm"})
    assert sure.passing == 1
    assert unsure.passing < 1
    assert any(name.startswith("drop travel") for name in unsure.failing)


# The command.


def test_the_command_chooses(tmp_path, capsys):
    rows = tmp_path / "rows.csv"
    case = str(DATA / "starter" / "case.toml")
    assert main(["choose", case, "--out", str(rows), "--figures", str(tmp_path / "p")]) == 0
    assert "what to hang it on" in capsys.readouterr().out
    assert pd.read_csv(rows)["status"].tolist() == ["pass"]
    assert (tmp_path / "p" / "window.svg").exists()
    assert main(["choose", case, "--out", str(rows)]) == 2
    assert "it exists; nothing was written" in capsys.readouterr().err


def test_a_page_without_a_pass_says_what_the_nearest_miss_needs():
    shut = STARTER.changed("case.lid", "25 mm").changed("case.floor", "30 mm")
    found = choice(shut)
    best = found.table.iloc[0]
    text = choice_page(found)
    assert f"FAIL: none passes. The nearest miss is 4 × ring, pattern {best['pattern']}" in text
    assert f"{best['worst']} lacks {-best['margin']:.0%}." in " ".join(text.split())
    assert "What the nearest miss needs (then everything passes, judged in full)" in text
    for step in found.advice.steps:
        assert step.words in " ".join(text.split())
    assert "In the brief, for the best:" not in text
    assert choice_data(found)["nearest_miss"]["makes"] == "pass"


def test_a_page_of_what_is_incomplete_is_no_pass():
    ring = {key: value for key, value in RING.items() if key != "travel"}
    found = choice(STARTER.with_tables({"mount": {"ring": ring}}))
    text = " ".join(choice_page(found).split())
    best = found.table.iloc[0]
    assert best["status"] == "incomplete"
    assert f"{best['open']} of its required checks are incomplete." in text
    assert "PASS" not in text
    screened = found.table.assign(judged="screened")
    text = " ".join(choice_page(replace(found, table=screened)).split())
    assert "INCOMPLETE: none that was judged in full passes" in text
    assert "judge more of them with --in-full" in text


def test_the_page_of_the_chances_has_their_numbers():
    from matplotlib.figure import Figure

    brief = STARTER.with_tables({"case": {**STARTER.text["case"], "tolerance": "1 mm"}})
    for key, value in {
        "payload.mass_within": "0.2 kg",
        "payload.centre_within": ["0 mm", "0 mm", "1 mm"],
        "mount.ring.scatter": 0.1,
    }.items():
        brief = brief.changed(key, value)
    own = chance(brief, samples=16, shares=16)
    keys = {factor.name: factor.key for factor in own.factors}
    assert keys == {
        "mass": "payload.mass_within",
        "centre z": "payload.centre_within",
        **{f"mount {n} against the others": "mount.ring.scatter" for n in (1, 2, 3, 4)},
        "gaps": "case.tolerance",
    }
    found = replace(choice(STARTER), chance=own)
    text = " ".join(choice_page(found).split())
    assert f"{own.passing:.0%} ± {own.error:.1%} of 16 draws" in text
    assert f"the payload may weigh {MASS.text(own.mass[0])} to {MASS.text(own.mass[1])}" in text
    for factor in own.factors:
        assert f"{factor.name} ({factor.key}): {factor.share:.0%} of the spread" in text
    data = choice_data(found)["chance"]
    assert data["passing"] == own.passing
    assert [row["name"] for row in data["factors"]] == [factor.name for factor in own.factors]
    ax = pictures.shares(own, ax=Figure().subplots())
    names = [label.get_text() for label in ax.get_yticklabels()]
    assert set(names) <= set(keys)
    widest = {name: bar.get_width() for name, bar in zip(names, ax.patches, strict=False)}
    assert widest[own.factors[0].name] == max(widest.values())
    assert dict(pictures.drawn(found)).keys() == {"window", "trade", "shares"}

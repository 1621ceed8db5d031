"""Keys for what a builder takes away: power, mains, cells, the date, the hole of a stated mount."""

import datetime
from pathlib import Path

import pytest

from isolator.brief import read_brief
from isolator.mount import Mount, Sizes
from isolator.units import InputError, si

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"


@pytest.fixture(scope="module")
def brief():
    return read_brief(STARTER)


@pytest.mark.parametrize("given", ["2026-05-01", datetime.date(2026, 5, 1)])
def test_a_date_is_a_text_or_one_of_toml(brief, given):
    assert brief.changed("date", given).design.date == datetime.date(2026, 5, 1)


@pytest.mark.parametrize(
    "given", ["1 May", "2026-13-01", "", 2026, datetime.datetime(2026, 5, 1), "0001-01-01", True]
)
def test_what_is_no_day_gets_one_line(brief, given):
    with pytest.raises(InputError, match=r"case.toml: date = .*: not a day; write it as 2026-05"):
        brief.changed("date", given)


def test_what_is_inside_is_read_however_the_mass_is_known(brief):
    given = {"power": "15 W", "mains": True, "lithium": "no"}
    stated = {**brief.text["payload"], **given}
    for payload in (
        stated,
        {**{k: v for k, v in stated.items() if k not in ("mass", "centre")}, "weighing": WEIGHED},
    ):
        read = brief.changed("payload", payload).design.payload
        assert si(read, "power") == 15.0
        assert (read.mains, read.lithium) == (True, False)
    assert brief.design.payload.power is None
    assert brief.design.payload.mains is None


WEIGHED = {
    "resolution": "0.1 kg",
    "foot": [
        {"position": ["-180 mm", "-130 mm"], "reading": "1.9 kg"},
        {"position": ["-180 mm", "130 mm"], "reading": "1.9 kg"},
        {"position": ["180 mm", "0 mm"], "reading": "4.2 kg"},
    ],
}


@pytest.mark.parametrize(
    ("key", "given", "words"),
    [
        ("power", "15", "a number without a unit; write '15 W'"),
        ("power", "-1 W", "-1 W is outside 0 to 100000 W; write '15 W'"),
        ("power", "15 J", "J is no unit of power; write '15 W'"),
        ("mains", "perhaps", "not a yes or no; write true or false"),
        ("lithium", 1, "not a yes or no; write true or false"),
    ],
)
def test_what_cannot_be_inside_gets_one_line(brief, key, given, words):
    with pytest.raises(InputError) as caught:
        brief.changed(f"payload.{key}", given)
    assert caught.value.lines == (f"case.toml: payload.{key} = {given!r}: {words}",)


def test_a_stated_mount_may_have_a_hole(brief):
    kind = brief.changed("mount.ring.hole", "12 mm").design.places[0].mount
    assert si(kind.sizes, "hole") == pytest.approx(0.012)
    assert kind.grade == "curve"
    assert brief.design.places[0].mount.sizes is None
    with pytest.raises(InputError, match=r"mount.ring.diameter stands without kind"):
        brief.changed("mount.ring.diameter", "12 mm")


def test_metal_holds_where_the_washer_does_not_pass():
    for kind in ("ring", "o-ring", "bush", "panel grommet"):
        assert Sizes(kind=kind, hole="12 mm", washer="16 mm").held_by_metal() is True
    assert Sizes(kind="ring", hole="12 mm").held_by_metal() is None
    assert Sizes(kind="ring", washer="16 mm").held_by_metal() is None


def test_a_washer_holds_nothing_through_which_no_bolt_goes():
    for kind in ("threaded nut", "bobbin", "pad", "disc"):
        assert Sizes(kind=kind, hole="12 mm", washer="16 mm").held_by_metal() is False
    assert Sizes(hole="12 mm", washer="16 mm").held_by_metal() is None  # of whatever kind


def test_a_variant_keeps_its_sizes():
    ring = Mount(
        name="ring", along="9 N/mm", across="6 N/mm", dynamic_ratio=1.2, sizes=Sizes(hole="12 mm")
    )
    assert ring.shifted({}, 1.1).sizes == ring.sizes

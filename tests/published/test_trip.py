"""Heights of published tables, the lift of a published example, the drop of two bodies."""

import math
from collections.abc import Callable, Mapping

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from isolator.heights import height_of, height_tables
from isolator.lifting import FREQUENCY_MULTIPLIER, LOAD_CONSTANT, Carry
from isolator.shock import flat_drop, light_shell_peak
from isolator.sources import Published, misses, published, read_table
from isolator.suspension import Suspension
from isolator.units import G0, InputError

POUND, INCH = 0.45359237, 0.0254
ROWS = {row.id: row for row in published("trip")}

# Typed once more from the texts (published), not from the data file.
BY_POUNDS = [0, 21, 41, 61, 100, 150]
INCHES = {"ista 1a": [30, 24, 18, 12, 8], "ista 2a": [38, 32, 26, 20, 12]}
TABLE_IX = [(0, 45.4, True, 1.22), (0, 45.4, False, 0.76), (45.4, 90.8, True, 0.76)]
TABLE_IX += [(45.4, 90.8, False, 0.61)]
METHOD = "mil-std-810h 516.8 ix"


@pytest.mark.parametrize("table", INCHES)
@pytest.mark.parametrize("k", range(5))
def test_height_by_weight(table: str, k: int) -> None:
    """ISTA 1A and 2A, free fall by gross weight (published)."""
    low, high, inches = BY_POUNDS[k], BY_POUNDS[k + 1], INCHES[table][k]
    for pounds in (low + 0.01, (low + high) / 2, high):
        found = height_of(table, pounds * POUND, math.nan)
        assert found.height == pytest.approx(inches * INCH, rel=1e-12)
        assert found.words == f"{inches} in: {table.upper()} for {low} to {high} lb"


@pytest.mark.parametrize(("low", "high", "small", "height"), TABLE_IX)
def test_height_by_weight_and_size(low: float, high: float, small: bool, height: float) -> None:
    """MIL-STD-810H Method 516.8 Table IX (published): under 45.4 kg, under 91 cm."""
    for mass in (low + 0.01, (low + high) / 2, high - 1e-6):
        for longest in (0.3, 0.909) if small else (0.91, 2.0):
            found = height_of(METHOD, mass, longest)
            assert found.height == height
            assert ("26" if low == 0 else "8") in found.landings
    assert height_of(METHOD, 45.4, 0.5).height == 0.76


def test_every_row_of_the_heights_is_one_of_these() -> None:
    assert len(read_table("heights.csv")) == 2 * 5 + len(TABLE_IX)
    assert list(height_tables()) == [*INCHES, METHOD]


@pytest.mark.parametrize(("table", "kilograms"), [("ista 1a", 68.05), (METHOD, 90.81)])
def test_a_weight_outside_the_table_is_refused(table: str, kilograms: float) -> None:
    with pytest.raises(InputError, match=r"table = .* gross, the table .* ends at .*; give"):
        height_of(table, kilograms, 0.5)


def reading(row: Mapping[str, str]) -> float:
    """Height of the middle of a row's class, in its unit."""
    mass = (float(row["weight from"]) + float(row["weight to"])) / 2
    mass *= {"lb": POUND, "kg": 1.0}[row["weight unit"]]
    size = {"": math.nan, "0": 0.5, "91": 1.0}[row["size from"]]
    return height_of(row["table"], mass, size).height / {"in": INCH, "cm": 0.01}[row["height unit"]]


def height_id(row: Mapping[str, str]) -> str:
    return " ".join((row["table"], row["weight from"], row["size from"])).strip()


VALUES = tuple(
    Published(
        id=height_id(row),
        chapter="heights",
        quantity=f"drop height, {row['table']}, {row['weight from']} to {row['weight to']} "
        f"{row['weight unit']}"
        + (f", from {row['size from']} {row['size unit']} long" if row["size from"] else ""),
        expected=row["height"],
        unit=row["height unit"],
        deviation="",
        cause="",
        **{key: row[key] for key in ("source", "locator", "label", "note")},
    )
    for row in read_table("heights.csv")
)
CLAIMS: dict[str, Callable[[], float]] = {
    height_id(row): lambda row=row: reading(row) for row in read_table("heights.csv")
}


def example_4(**other: object) -> Carry:
    given = {
        "hands": 2,
        "horizontal": "25 cm",
        "height": "22 in",
        "lift": "37 in",
        "angle": "0 deg",
    }
    given |= {"lifts_per_minute": 3, "duration": "45 min", "coupling": "fair"}
    return Carry(**given | other)


# 51 lb stands for 23 kg.
CLAIMS["niosh-example-4"] = lambda: example_4().limit() / LOAD_CONSTANT * 51
for name in ("HM", "VM", "DM", "AM", "FM", "CM"):
    CLAIMS[f"niosh-{name.lower()}"] = lambda n=name: example_4().multipliers()[n]


@pytest.mark.parametrize(
    ("key", "value", "multiplier", "expected"),
    [
        ("horizontal", "50 cm", "HM", 0.5),  # 25/H
        ("height", "175 cm", "VM", 0.7),  # 1 − .003·100
        ("lift", "90 cm", "DM", 0.87),  # .82 + 4.5/90
        ("lift", "10 cm", "DM", 1.0),
        ("height", "0 cm", "VM", 0.775),  # 1 − .003·75, from the floor
        ("angle", "45 deg", "AM", 0.856),  # 1 − .0032·45
        ("coupling", "poor", "CM", 0.9),
    ],
)
def test_multipliers_by_hand(key: str, value: object, multiplier: str, expected: float) -> None:
    """The equation (published), evaluated by hand."""
    assert example_4(**{key: value}).multipliers()[multiplier] == pytest.approx(expected, rel=1e-9)


def test_more_lifts_for_longer_never_allow_more() -> None:
    """The recalled table (memory) falls along both ways, and rises with the height."""
    table = np.array(list(FREQUENCY_MULTIPLIER.values()))
    assert table.shape == (17, 3, 2)
    assert (np.diff(table, axis=0) <= 0).all()
    assert (np.diff(table, axis=1) <= 0).all()
    assert (np.diff(table, axis=2) >= 0).all()
    assert example_4(lifts_per_minute=2.5).frequency_multiplier() == 0.88
    assert example_4(lifts_per_minute=0.1, duration="8 h").frequency_multiplier() == 0.85


FREQUENCIES = """
0.2  1.00 1.00  .95 .95  .85 .85
0.5   .97  .97  .92 .92  .81 .81
1     .94  .94  .88 .88  .75 .75
2     .91  .91  .84 .84  .65 .65
3     .88  .88  .79 .79  .55 .55
4     .84  .84  .72 .72  .45 .45
5     .80  .80  .60 .60  .35 .35
6     .75  .75  .50 .50  .27 .27
7     .70  .70  .42 .42  .22 .22
8     .60  .60  .35 .35  .18 .18
9     .52  .52  .30 .30  .00 .15
10    .45  .45  .26 .26  .00 .13
11    .41  .41  .00 .23  .00 .00
12    .37  .37  .00 .21  .00 .00
13    .00  .34  .00 .00  .00 .00
14    .00  .31  .00 .00  .00 .00
15    .00  .28  .00 .00  .00 .00
"""
"""NIOSH 94-110, table 5, typed once more (memory)."""


def test_the_table_of_frequencies_as_typed_once_more() -> None:
    rows = [[float(word) for word in line.split()] for line in FREQUENCIES.split("\n")[1:-1]]
    assert [row[0] for row in rows] == list(FREQUENCY_MULTIPLIER)
    assert [row[1:] for row in rows] == np.reshape(
        list(FREQUENCY_MULTIPLIER.values()), (17, 6)
    ).tolist()
    for often, *multipliers in rows:
        columns = [(hours, high) for hours in (1, 2, 8) for high in ("74.9 cm", "75 cm")]
        found = [
            example_4(
                lifts_per_minute=often, duration=f"{hours} h", height=high
            ).frequency_multiplier()
            for hours, high in columns
        ]
        assert found == multipliers
    for height in ("74.9 cm", "75 cm"):
        assert example_4(lifts_per_minute=15.1, height=height).frequency_multiplier() == 0.0
    for hours, multiplier in ((1.0001, 0.79), (2.0001, 0.55), (7.9, 0.55)):
        assert example_4(duration=f"{hours} h").frequency_multiplier() == multiplier


def test_a_single_lift_is_as_rare_as_the_first_row() -> None:
    """None a minute is less than one in five, FM 1 (memory)."""
    assert example_4(lifts_per_minute=0).frequency_multiplier() == 1.0


def test_a_lift_from_the_floor_starts_below_the_waist() -> None:
    """Nine a minute for eight hours, where the table above has only its second column."""
    from_floor = example_4(height="0 cm", lifts_per_minute=9, duration="8 h")
    assert from_floor.frequency_multiplier() == 0.0
    assert list(dict(from_floor.outside())) == ["lifts_per_minute"]


def test_the_best_lift_is_the_load_constant() -> None:
    """NIOSH 94-110: 23 kg where every multiplier is 1 (published)."""
    best = {"height": "75 cm", "lift": "25 cm", "coupling": "good", "lifts_per_minute": 0.2}
    assert example_4(**best).limit() == 23.0
    assert example_4(**best | {"height": "74.9 cm", "coupling": "fair"}).multipliers()["CM"] == 0.95
    assert example_4(**best | {"height": "74.9 cm"}).multipliers()["CM"] == 1.0
    assert example_4(**best | {"coupling": "fair"}).multipliers()["CM"] == 1.0
    assert example_4(**best | {"coupling": "poor"}).multipliers()["CM"] == 0.9


@pytest.mark.parametrize(
    ("key", "most", "beyond"),
    [
        ("hands", 2, 1),
        ("horizontal", "63 cm", "63.1 cm"),
        ("lift", "119.12 cm", "119.13 cm"),  # from 22 in up to 175 cm
        ("angle", "135 deg", "135.1 deg"),
        ("duration", "8 h", "8.001 h"),
        ("lifts_per_minute", 12, 12.1),  # in 45 min from below 75 cm
    ],
)
def test_the_equation_ends_where_the_manual_says(key: str, most: object, beyond: object) -> None:
    """Limits as recalled (memory)."""
    assert dict(example_4(**{key: most}).outside()) == {}
    assert example_4(**{key: most}).limit() is not None
    assert list(dict(example_4(**{key: beyond}).outside())) == [key]
    assert example_4(**{key: beyond}).limit() is None


def test_a_lift_that_starts_or_goes_too_high_is_said_once() -> None:
    assert dict(example_4(height="175 cm", lift="0 cm").outside()) == {}
    assert list(dict(example_4(height="176 cm", lift="1 cm").outside())) == ["height", "lift"]
    assert list(dict(example_4(lift="176 cm").outside())) == ["lift"]
    ends = dict(example_4(height="1 m", lift="80 cm").outside())
    assert ends == {"lift": "it ends 1800 mm up, the equation at 1750 mm"}
    assert list(dict(example_4(height="1 cm", lift="175 cm").outside())) == ["lift"]


def test_what_is_not_known_of_a_lift_is_not_outside_the_equation() -> None:
    keys = ("hands", "horizontal", "height", "lift", "angle", "lifts_per_minute", "duration")
    for key in (*keys, "coupling"):
        lift = example_4(**{key: None})
        assert (lift.unknown(), dict(lift.outside()), lift.limit()) == (key, {}, None)
    often = example_4(lifts_per_minute=13, coupling=None)
    assert list(dict(often.outside())) == ["lifts_per_minute"]
    assert Carry().unknown() == "hands"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"hands": 3}, r"Carry\.hands = 3: write 1 or 2"),
        ({"coupling": "firm"}, r"Carry\.coupling = 'firm': write good, fair or poor"),
        ({"lifts_per_minute": 60.1}, r"Carry\.lifts_per_minute.*60"),
        ({"lifts_per_minute": -0.1}, r"Carry\.lifts_per_minute"),
        ({"angle": "181 deg"}, r"angle"),
    ],
)
def test_no_lift_is_like_that(given: dict[str, object], words: str) -> None:
    assert Carry(lifts_per_minute=60, angle="180 deg").lifts_per_minute == 60.0
    assert type(Carry(lifts_per_minute=0).lifts_per_minute) is float
    with pytest.raises(InputError, match=words):
        example_4(**given)


def tray() -> Suspension:
    """8 kg at 10 Hz."""
    feet = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    k = 8 * (2 * np.pi * 10) ** 2 / 4
    return Suspension.of_springs(8.0, np.eye(3), feet, k, k)


UNKNOWN = np.full((4, 3), np.nan)


def both(shell: float, restitution: float) -> tuple[float, float]:
    """Least and most from 0.762 m. [g]"""
    given = (tray(), (0, 0, -1), 0.762, UNKNOWN)
    least = light_shell_peak(*given, shell, restitution=restitution)
    return float(least), float(flat_drop(*given, restitution=restitution).peak)


def motion(shell: float, restitution: float) -> float:
    """Peak of a payload of 8 kg in a bouncing shell, by integration in time. [g]"""
    mass, k = 8.0, 8 * (2 * np.pi * 10) ** 2
    speed = -math.sqrt(2 * G0 * 0.762)
    state, time, most = np.array([0.0, 0.0, speed, speed]), 0.0, 0.0

    def fly(_: float, y: np.ndarray) -> list[float]:
        force = k * (y[0] - y[1])  # of the mounts on the payload, upwards
        return [y[2], y[3], -force / shell - G0, force / mass - G0]

    def floor(_: float, y: np.ndarray) -> float:
        return float(y[0])

    floor.terminal, floor.direction = True, -1
    while time < 0.2:
        state[2] = abs(state[2]) * restitution
        state[0] = 1e-12
        if state[2] < 1e-4:
            # The contact chatters to rest: on the floor the payload goes on by its energy.
            sag = mass * G0 / k
            squeezed = -state[1] - sag
            reach = sag + math.hypot(squeezed, state[3] * math.sqrt(mass / k))
            return k * max(most, reach) / (mass * G0)
        run = solve_ivp(fly, (time, 0.2), state, events=floor, rtol=1e-8, atol=1e-11, max_step=1e-3)
        most = max(most, float(np.abs(run.y[0] - run.y[1]).max()))
        state, time = run.y[:, -1].copy(), float(run.t[-1])
    return k * most / (mass * G0)


def test_a_light_shell_lies_between_its_bounds() -> None:
    """8 kg in 4 kg, e = 0.4: 34.7 g heavy, 23.9 g by motion (computed), 20.0 g one contact."""
    least, most = both(4.0, 0.4)
    heavy, moving = ROWS["two-bodies-heavy"], ROWS["two-bodies-motion"]
    assert not misses(most, heavy.expected, heavy.deviation)
    assert not misses(motion(4.0, 0.4), moving.expected, moving.deviation)
    assert least < float(moving.expected) < most
    omega, speed = 2 * np.pi * 10, math.sqrt(2 * G0 * 0.762)
    assert least == pytest.approx(1.4 * speed * omega * math.sqrt(4 / 12) / G0, rel=1e-9)


@pytest.mark.parametrize("shell", [2.0, 8.0, 20.0])
@pytest.mark.parametrize("restitution", [0.3, 0.6])
def test_the_motion_of_other_shells_lies_between_too(shell: float, restitution: float) -> None:
    least, most = both(shell, restitution)
    assert least * 0.999 < motion(shell, restitution) < most * 1.001


def test_a_shell_that_nobody_weighed_has_no_least() -> None:
    assert math.isnan(both(math.nan, 0.4)[0])
    assert both(1e9, 0.4)[0] == pytest.approx(both(1.0, 0.4)[1], rel=1e-6)

"""What is read of a motion: amplitudes that fade, and the main pulse with its area."""

from types import SimpleNamespace

import numpy as np
import pytest

from isolator.base_pulse import TimeModes, _after, _at_point, _main, _stretches, base_pulse
from isolator.pulse import A_CYCLE, Pulse
from isolator.suspension import Suspension
from isolator.units import G0


def test_what_fades_has_the_amplitude_that_it_began_with() -> None:
    """A e^(−ζωt) cos(ω't + φ) at any instant, by its value and its rate there."""
    omega, zeta = np.array([[0.4, 90.0], [25.0, 60.0]]), np.array([[0.3, 0.05], [0.0, 0.6]])
    sizes, phase = np.array([[2.0, 0.5], [1.0, 3.0]]), np.array([[0.3, 2.0], [4.0, 1.2]])
    swing = omega * np.sqrt(1 - zeta**2)
    value = sizes * np.cos(phase)
    rate = -zeta * omega * value - sizes * swing * np.sin(phase)
    none = np.full((2, 2), 9.0)
    last = SimpleNamespace(
        travel=np.stack([none, value]), travel_rate=np.stack([none, rate]),
        felt=np.stack([none, 3 * value]), felt_rate=np.stack([none, 3 * rate]),
    )  # fmt: skip
    travel, felt = _after(SimpleNamespace(omega=omega, zeta=zeta), last)
    np.testing.assert_allclose(travel, sizes)
    np.testing.assert_allclose(felt, 3 * sizes)
    free = SimpleNamespace(omega=np.zeros(1), zeta=np.zeros(1))  # it stays where it was left
    last = SimpleNamespace(
        travel=np.array([[-2.0]]), travel_rate=np.zeros((1, 1)),
        felt=np.zeros((1, 1)), felt_rate=np.zeros((1, 1)),
    )  # fmt: skip
    assert [float(each[0]) for each in _after(free, last)] == [2.0, 0.0]


def test_after_the_pulse_six_cycles_of_the_lowest_mode_are_followed() -> None:
    """Of whichever design spreads its modes furthest; what nothing holds has no cycle."""
    omega = np.array([[0.0, 0.5, 1.0, 2.0, 3.0, 4.0], [10.0, 15.0, 20.0, 25.0, 30.0, 40.0]])
    modes = TimeModes(omega, np.zeros((2, 6)), np.zeros((2, 6, 6)), np.zeros((2, 6, 6)))
    *_, rings = _stretches(modes, Pulse(shape="rectangle", peak="1 g0", duration="10 ms"))
    lasts = (len(rings.felt) - 1) * rings.step[:, 0]
    assert lasts[0] * 0.5 / (2 * np.pi) == pytest.approx(6)
    assert lasts[1] * 10.0 / (2 * np.pi) == pytest.approx(12)


def test_the_main_pulse_ends_at_a_tenth_of_its_peak() -> None:
    """Triangles up and down, from a tenth to a tenth: 0.9 T and 0.495 of peak times T."""
    time = np.linspace(0, 1.2, 25)
    up = 0.5 * np.maximum(1 - np.abs(time - 0.5) / 0.4, 0.0)
    down = -3 * np.maximum(1 - np.abs(time - 0.6) / 0.4, 0.0)
    ramp = 2 * time / 1.2  # it is at its peak where it is no longer followed
    values = np.stack([up, down, ramp], axis=1)
    peak = np.array([1.5, 6.0, 2.0])  # two are only bounds, of three and two times what was met
    long, change = _main(values, time[:, None], peak)
    np.testing.assert_allclose(long, [0.9 * 0.8, 0.9 * 0.8, 0.9 * 1.2])
    np.testing.assert_allclose(change, [0.495 * 0.8 * 1.5, 0.495 * 0.8 * 6, 0.99 / 2 * 2 * 1.2])
    few = np.array([0.0, 0.02, 0.7, 1.0, 0.8, 0.05, 0.0])  # straight between few instants
    long, change = _main(few[:, None], np.arange(7.0)[:, None], np.ones(1))
    begins, ends = 1 + 0.08 / 0.68, 4 + 0.7 / 0.75
    assert long[0] == pytest.approx(ends - begins)
    area = (2 - begins) * 0.8 / 2 + 0.85 + 0.9 + (ends - 4) * 0.9 / 2
    assert change[0] == pytest.approx(area)
    twice = np.stack([up - 0.8 * np.roll(up, 6)], axis=1)  # what swings back is another pulse
    long, _ = _main(twice, time[:, None], np.array([1.0]))
    assert long[0] < 0.6
    # it begins above a tenth, is at its peak at once, or touches a tenth and is over
    for values, begins, ends in (
        ([5, 10, 5, 0], 0, 2.8),
        ([10, 5, 0, 0], 0, 1.8),
        ([0, 10, 1, 5], 0.1, 2),
    ):
        long, _ = _main(np.array(values, dtype=float)[:, None], np.arange(4.0)[:, None], np.ones(1))
        assert long[0] == pytest.approx(ends - begins)
    still = _main(np.zeros((5, 1)), np.arange(5.0)[:, None], np.zeros(1))
    assert np.isfinite(still).all()
    assert still[1] == pytest.approx(0.0)


def test_what_nothing_holds_neither_swings_nor_fades() -> None:
    """About the line of two mounts a payload is free, whatever the rounding."""
    for seed in range(8):
        ends = np.random.default_rng(seed).uniform(-0.2, 0.2, (2, 3))
        held = Suspension.of_springs(
            4.0, np.eye(3) * 0.1, ends, 1e4, 3e3, push=(0.6, 0, -0.8), loss_factor=0.2
        )
        modes = TimeModes.of(held)
        assert (modes.omega == 0).sum() == 1
        np.testing.assert_array_equal(modes.zeta[modes.omega == 0], 0.0)
        np.testing.assert_allclose(modes.zeta[modes.omega > 0], 0.1, rtol=1e-6)


def test_peaks_are_met_within_the_error_of_a_cubic_between_instants() -> None:
    """Undamped, a rectangle of more than half a period reaches twice its height.

    A cubic by values and rates misses a swing of 1 by up to (ωh)⁴/384, with `A_CYCLE` instants of
    the stiffer of two payloads at the most.
    """
    feet = [(x, y, 0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    one, other = (
        Suspension.of_springs(8, np.eye(3) * 0.1, feet, k, k, loss_factor=0) for k in (4e3, 1e5)
    )
    most = (2 * np.pi / A_CYCLE) ** 4 / 384
    assert most < 2e-5  # of a peak of 2
    missed = []
    for share in np.linspace(0.55, 1.5, 9):
        last = round(share * 2 * np.pi / np.sqrt(4 * 4e3 / 8), 6)
        pulse = Pulse(shape="rectangle", peak="3 g0", duration=f"{last} s")
        for held in (one,), (one, other):
            modes = TimeModes.of(Suspension.stacked(held))
            found = base_pulse(modes, np.zeros((len(held), 1, 3)), 2, pulse)
            missed += list(2 - found.acceleration[:, 0, 2] / (3 * G0))
    assert max(missed) < most * 1.01
    assert min(missed) > -1e-9


def test_what_may_still_come_counts_both_ways() -> None:
    """Amplitudes of what rings on, at a point that half of each of two modes moves."""
    part = np.zeros((3, 6))
    part[0, :2], part[2, 5] = 0.5, -1.0
    still = np.zeros((9, 6))
    swings = still.copy()
    swings[4, 0] = 0.4  # once, and less than what may come
    one = SimpleNamespace(step=np.array(0.01), felt=swings, felt_rate=still, travel=swings,
                          travel_rate=still)  # fmt: skip
    after = np.array([2.0, 4.0, 9.0, 0.0, 0.0, 1.5]), np.array([3.0, 5.0, 9.0, 0.0, 0.0, 7.0])
    found = _at_point(part, [one], after)
    np.testing.assert_allclose(found.high, [3.0, 0.0, 1.5])
    np.testing.assert_allclose(found.low, [-3.0, 0.0, -1.5])
    np.testing.assert_allclose(found.acceleration, [4.0, 0.0, 7.0])

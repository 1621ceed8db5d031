"""What shakes a payload, by closed forms and by solving the six motions at each frequency."""

import math
from dataclasses import fields

import numpy as np
import pytest

from isolator.sdof import expected_peak_factor
from isolator.suspension import Modes, Suspension, frame, motion_at
from isolator.vibration import (
    around_modes,
    panels,
    peak,
    random_response,
    sine_response,
    tones_response,
    touches_an_hour,
    transmissibility,
    worse_than_bolted,
)

TAU = 2 * math.pi


def lopsided(shift: float) -> Suspension:
    """Five mounts of different kinds, none in line, so that every motion has part in the others."""
    feet = [(-0.2, -0.1, 0), (0.15, -0.12, 0.02), (0.1, 0.14, -0.04), (-0.1, 0.1, 0.05)]
    push = np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0], [0.6, 0, -0.8], [0, 0.6, 0.8]])
    return Suspension.of_springs(
        7.0 + shift, np.diag([0.06, 0.09, 0.12]), [*feet, (0.02 + shift / 20, 0.03, 0.1)],
        [4e3, 6e3, 5e3, 9e3, 3e3], [3e3, 5e3, 2e3, 4e3, 6e3], push=push,
        loss_factor=[0.05, 0.1, 0.2, 0.15, 0.3],
    )  # fmt: skip


HELD = [lopsided(0.0), lopsided(1.0)]
BOTH = Suspension.stacked(HELD)
MODES = BOTH.modes()
POINTS = np.array([[0.0, 0.0, 0.0], [0.2, -0.1, 0.05], [-0.1, 0.15, 0.2]])
AXES = np.stack([frame([0.0, 0.6, 0.8]), frame([1.0, 0.0, 0.0]), frame([0.48, 0.6, 0.64])])


def solved(one: Suspension, hertz: float, axis: int) -> tuple[np.ndarray, np.ndarray]:
    """Absolute acceleration and travel (p, 3) along `AXES` for 1 m/s² of the case."""
    mass, square = one.mass_matrix(), (TAU * hertz) ** 2
    travel = np.linalg.solve(one.damped_stiffness() - square * mass, -mass[:, axis])
    felt = np.eye(6)[axis] - square * travel
    rows = AXES @ motion_at(POINTS)
    return rows @ felt, rows @ travel


def test_a_sine_by_modes_is_the_six_motions_solved_at_each_frequency():
    frequency = np.array([[4.0, 7.0, 9.0, 14.0], [5.0, 8.0, 11.0, 40.0]])
    amplitude = np.array([[3.0, 2.0, 1.0, 0.5], [1.0, 4.0, 2.0, 0.3]])
    for axis in range(3):
        ours = sine_response(MODES, POINTS, axis, frequency, amplitude, frames=AXES)
        for d, one in enumerate(HELD):
            each = [solved(one, f, axis) for f in frequency[d]]
            felt, moved = (
                np.stack([a * np.abs(e[i]) for e, a in zip(each, amplitude[d], strict=True)])
                for i in (0, 1)
            )
            np.testing.assert_allclose(ours.acceleration[d], felt.max(axis=0), rtol=1e-9)
            np.testing.assert_allclose(ours.travel[d], moved.max(axis=0), rtol=1e-9)
            np.testing.assert_array_equal(ours.frequency[d], frequency[d][felt.argmax(axis=0)])
    plain = transmissibility(MODES, POINTS, [7.0])[:, 0]
    for d, one in enumerate(HELD):
        in_case = np.swapaxes(AXES, -1, -2) @ solved(one, 7.0, 1)[0][..., None]
        np.testing.assert_allclose(plain[d, :, :, 1], in_case[..., 0], rtol=1e-9)


def test_a_worse_sine_brings_its_frequency_with_it():
    one = sine_response(MODES, POINTS, 0, np.array([[6.0]]), np.array([[1.0]]))
    other = sine_response(MODES, POINTS, 2, np.array([[9.0]]), np.array([[1.0]]))
    worse = one.or_worse(other)
    np.testing.assert_array_equal(
        worse.acceleration, np.maximum(one.acceleration, other.acceleration)
    )
    np.testing.assert_array_equal(worse.travel, np.maximum(one.travel, other.travel))
    second = other.acceleration > one.acceleration
    assert second.any()
    assert not second.all()
    np.testing.assert_array_equal(worse.frequency, np.where(second, 9.0, 6.0))
    np.testing.assert_array_equal(one.or_worse(one).frequency, one.frequency)


def test_tones_add_over_axes_and_over_each_other():
    """Two tones in three runs: peaks add; of the rms the tones add by squares, halved."""
    tones = np.array([[[4.0, 5.0, 8.0]], [[9.0, 12.0, 20.0]]])
    level = np.arange(1.0, 19.0).reshape(2, 1, 3, 3)
    ours = tones_response(MODES, POINTS, tones, level, frames=AXES)
    for d, one in enumerate(HELD):
        peaks, squares, moves = np.zeros((3, 3, 3, 3))
        for t in range(2):
            for run in range(3):
                each = [solved(one, tones[t, 0, run], axis) for axis in range(3)]
                size = level[t, 0, run]
                felt, moved = (
                    sum(np.abs(e[i]) * s for e, s in zip(each, size, strict=True)) for i in (0, 1)
                )
                peaks[run] += felt
                moves[run] += moved
                squares[run] += felt**2 / 2
        np.testing.assert_allclose(ours.acceleration[d], peaks.max(axis=0), rtol=1e-9)
        np.testing.assert_allclose(ours.travel[d], moves.max(axis=0), rtol=1e-9)
        np.testing.assert_allclose(
            ours.acceleration_rms[d], np.sqrt(squares.max(axis=0)), rtol=1e-9
        )


def test_random_motion_is_the_sum_over_its_lines():
    """A narrow band far from every mode: |T|² times its level, in every design, point and axis."""
    lines, density = np.array([12.0, 12.001]), np.full(2, 5.0)
    for axis in range(3):
        ours = random_response(MODES, POINTS, axis, lines, density, frames=AXES)
        for d, one in enumerate(HELD):
            felt, moved = (np.abs(each) * math.sqrt(0.005) for each in solved(one, 12.0005, axis))
            turns = TAU * 12.0005
            for name, wanted in {
                "acceleration": felt, "travel": moved, "travel_speed": turns * moved,
                "acceleration_rate": turns * felt,
            }.items():  # fmt: skip
                np.testing.assert_allclose(getattr(ours, name)[d], wanted, rtol=1e-4)
    whole = random_response(MODES, POINTS, 0, np.array([2.0, 80.0]), np.array([1.0, 0.1]))
    alone = random_response(HELD[1].modes(), POINTS, 0, np.array([2.0, 80.0]), np.array([1.0, 0.1]))
    for f in fields(whole):
        assert getattr(whole, f.name).shape == (2, 3, 3)
        np.testing.assert_allclose(getattr(whole, f.name)[1], getattr(alone, f.name), rtol=1e-9)


def test_panels_sum_a_spectrum_exactly():
    """A flat part and one that falls by 1/f: W(b − a) + W b ln(c/b), with edges at resonances."""
    lines, density = np.array([5.0, 20.0, 200.0]), np.array([2.0, 2.0, 0.2])
    square = (TAU * np.array([[8.0, 30.0], [50.0, 900.0]])) ** 2 * (1 + 0.02j)
    frequency, weight = panels(square, lines, density)
    assert frequency.shape == weight.shape
    assert frequency.shape[0] == 2
    wanted = 2.0 * 15 + 2.0 * 20 * math.log(10)
    np.testing.assert_allclose(weight.sum(axis=-1), wanted, rtol=1e-12)
    assert (np.diff(frequency, axis=-1) >= 0).all()
    assert frequency.min() == pytest.approx(5.0)
    assert frequency.max() == pytest.approx(200.0)
    close = ((frequency > 7.9) & (frequency < 8.1)).sum(axis=-1)
    assert close[0] >= 24  # two panels of twelve: half the bandwidth of 8 Hz is 0.08 Hz
    assert close[1] < 4  # the other design has no resonance there


def test_no_panel_is_longer_than_a_factor_of_e():
    """However far apart the lines are; twelve nodes are an eighth of their panel apart at most."""
    far = np.array([[(TAU * 5000.0) ** 2 * (1 + 0.02j)]])
    frequency, _ = panels(far, np.array([1.0, 1.5, 1000.0]), np.ones(3))
    assert np.diff(np.log(frequency)).max() < 0.13


def test_the_peak_of_a_mount_alone_and_the_end_of_its_worse_band():
    """Each design of a batch has its own: √(1 + η²)/η at f, below 1 from √2 f."""
    corners = [(x, y, 0.0) for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    hertz, eta = (1.0, 90.0), (0.3, 0.05)  # what is read goes by both designs
    # 0.1 kg·m²: no other mode is at √2 f, where it would be read
    held = Suspension.stacked(
        [
            Suspension.of_springs(8.0, np.eye(3) * 0.1, corners, k, k, loss_factor=loss)
            for k, loss in zip(2 * (TAU * np.array(hertz)) ** 2, eta, strict=True)
        ]
    )
    for axis in range(3):
        worse = worse_than_bolted(held.modes(), np.zeros((1, 3)), axis)
        for d in range(2):
            wanted = math.sqrt(1 + eta[d] ** 2) / eta[d]
            assert worse.peak[d, 0] == pytest.approx(wanted, rel=1e-8)
            assert worse.peak_frequency[d, 0] == pytest.approx(hertz[d], rel=1e-8)
            assert worse.below[d, 0] == pytest.approx(math.sqrt(2) * hertz[d], rel=1e-6)


def test_what_is_never_worse_than_bolted_has_no_such_band():
    """It ends where the reading begins: at a fifth of the lowest mode that is held."""
    for first in (0.0, 5.0):
        hertz = np.array([first, 5.0, 9.0, 9.0, 12.0, 20.0])
        little = Modes(
            (TAU * hertz) ** 2 * (1 + 0.1j), np.eye(6, dtype=complex), 0.01 * np.eye(6) + 0j
        )
        worse = worse_than_bolted(little, np.zeros((1, 3)), 1)
        assert worse.peak[0] == pytest.approx(0.01 * math.sqrt(1.01) / 0.1)
        assert worse.below[0] == pytest.approx(1.0, rel=1e-9)


def test_frequencies_around_modes_meet_every_peak():
    modes = Modes(
        (TAU * np.array([[6.0, 15.0, 300.0], [2.0, 40.0, 41.0]])) ** 2 * (1 + 0.1j),
        np.eye(3, dtype=complex), np.eye(3, dtype=complex),
    )  # fmt: skip
    found = around_modes(modes, 5.0, 100.0, corner=33.3)
    assert found.shape[0] == 2
    assert found.min() == pytest.approx(5.0)
    assert found.max() == pytest.approx(100.0)
    for d, inside in ((0, (6.0, 15.0, 33.3)), (1, (40.0, 41.0, 33.3))):
        ordered = np.unique(found[d])
        # 1 % apart at the most, and a twentieth of a half bandwidth beside a resonance
        assert np.diff(np.log(ordered)).max() <= 0.0101
        for at in inside:
            assert np.abs(ordered - at).min() <= 1e-12 * at
    half = 15.0 * np.sqrt(1 + 0.1j).imag
    for times in (0.05, 0.5, 3.0, 8.0):
        for side in (-1, 1):
            assert np.abs(found[0] - (15.0 + side * times * half)).min() <= 1e-9
    assert np.isfinite(around_modes(modes, 5.0, 100.0)).all()
    slow = np.unique(around_modes(modes, 0.5, 100.0))
    assert np.diff(np.log(slow)).max() <= 0.0101


def test_steps_beside_a_resonance_are_a_small_part_of_its_bandwidth():
    """A tenth of the half of it or a third of the way to the resonance, up to eight halves."""
    value = np.full(6, (TAU * 15.0) ** 2 * (1 + 1e-3j))
    modes = Modes(value, np.eye(6, dtype=complex), np.eye(6, dtype=complex))
    half = np.sqrt(value[0]).imag / TAU
    away = (np.unique(around_modes(modes, 5.0, 100.0)) - modes.natural[0]) / half
    for side in (away[away >= 0], -away[away <= 0][::-1]):
        near = side[side < 8.001]
        assert near[-1] == pytest.approx(8)
        assert (np.diff(near) <= np.maximum(0.1, near[1:] / 3) + 1e-6).all()


def test_the_largest_of_many_crossings():
    """1 mm and 20 Hz for a minute: 2400 crossings counted on both sides, ten at the least."""
    rms = np.array([1e-3, 1e-3, 0.0, 2.0, np.nan])
    rate = np.array([TAU * 20 * 1e-3, TAU * 0.01 * 1e-3, 0.0, TAU * 20 * 2.0, np.nan])
    found = peak(rms, rate, 60.0, 1.5)
    many, few = (float(expected_peak_factor(np.array(n))) for n in (2400.0, 10.0))
    np.testing.assert_allclose(found, [1.5e-3 * many, 1.5e-3 * few, 0.0, 3.0 * many, np.nan])
    # one mass that moves, of which the rate is not known, has no peak that is
    assert np.isnan(peak(np.array([1.0]), np.array([np.nan]), 60.0, 1.0))[0]


def test_touches_are_those_of_rice():
    """ν = f·exp(−g²/2σ²) on one side, (Rice 1945; memory); nothing moves, nothing touches."""
    sigma, hertz = 2e-3, 10.0
    speed = TAU * hertz * sigma
    found = touches_an_hour(
        np.full(4, sigma), np.full(4, speed), np.array([0.0, -1e-3, 3 * sigma, sigma])
    )
    each = 3600 * hertz
    np.testing.assert_allclose(found, [each, each, each * math.exp(-4.5), each * math.exp(-0.5)])
    still = touches_an_hour(np.zeros(3), np.zeros(3), np.array([1e-3, 0.0, -1e-3]))
    np.testing.assert_array_equal(still, [0.0, np.inf, np.inf])

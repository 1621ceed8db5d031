"""Six motions under a recorded motion of the case: scipy, control, its spectrum, its own blocks."""

import tracemalloc
from dataclasses import replace

import control
import numpy as np
import pytest
from scipy import signal

from isolator.base_pulse import TimeModes, base_pulse
from isolator.base_record import Following, base_record
from isolator.pulse import RATE, Pulse
from isolator.suspension import Suspension, motion_at
from isolator.units import G0, InputError
from isolator.vibration import random_response

RNG = np.random.default_rng(8)
POINTS = np.concatenate([np.zeros((1, 3)), RNG.uniform(-0.2, 0.2, (4, 3))])
FREQUENCY = 400.0


def crooked(loss: float, seed: int = 5) -> Suspension:
    """Five unlike mounts in any direction: six modes from 10 to 40 Hz."""
    rng = np.random.default_rng(seed)
    return Suspension.of_springs(
        20.0,
        np.diag([0.6, 0.7, 0.8]),
        rng.uniform(-0.3, 0.3, (5, 3)),
        rng.uniform(2e3, 4e4, 5),
        rng.uniform(1e3, 2e4, 5),
        push=rng.normal(size=(5, 3)),
        loss_factor=loss,
        dynamic_ratio=1.3,
    )


def as_states(held, pose):
    """M z̈ + C ż + K z = −M T a of the coupled system as A, B, and what is felt and moved, as C."""
    mass, modes = held.mass_matrix(pose), TimeModes.of(held, pose)
    weighed = mass @ modes.shape
    damper = weighed @ np.diag(2 * modes.zeta * modes.omega) @ weighed.T
    stiff = held.stiffness(pose, factor=held.dynamic_ratio)
    back = -np.linalg.inv(mass) @ np.concatenate([stiff, damper], axis=1)
    a = np.concatenate([np.concatenate([np.zeros((6, 6)), np.eye(6)], axis=1), back])
    b = np.concatenate([np.zeros((6, 3)), -np.eye(6)[:, :3]])
    return a, b, back


@pytest.mark.parametrize("solver", ["scipy", "control"])
def test_peaks_and_rms_are_those_of_an_independent_solver(solver) -> None:
    """All axes at once, loaded, to 1e-6 of the largest; the record starts at rest."""
    held = crooked(0.2)
    pose = held.pose([0.0, 0.0, -G0])
    x = np.random.default_rng(1).normal(size=(2_000, 3)) * [3.0, 5.0, 8.0]
    x[0] = 0.0
    a, b, back = as_states(held, pose)
    c = np.concatenate([back, np.eye(6, 12)])
    time = np.arange(len(x)) / FREQUENCY
    if solver == "scipy":
        y = signal.lsim(signal.StateSpace(a, b, c, np.zeros((12, 3))), x, time)[1].T
    else:
        y = control.forced_response(control.ss(a, b, c, 0), time, x.T).outputs
    follow = Following(TimeModes.of(held, pose), POINTS, FREQUENCY, feet=held.position,
                       frames=held.frames)  # fmt: skip
    follow.add(x)
    out = follow.result()
    felt, moved = motion_at(POINTS) @ y[:6], motion_at(POINTS) @ y[6:]
    feet = held.frames @ motion_at(held.position) @ y[6:]

    def alike(ours, theirs):
        np.testing.assert_allclose(ours, theirs, atol=1e-6 * np.abs(theirs).max())

    mean = felt.mean(axis=-1)
    alike(out.acceleration, np.abs(felt - mean[..., None]).max(axis=-1))
    alike(out.acceleration_rms, felt.std(axis=-1))
    alike(out.low, moved.min(axis=-1) - moved.mean(axis=-1))
    alike(out.high, moved.max(axis=-1) - moved.mean(axis=-1))
    alike(out.travel_rms, moved.std(axis=-1))
    alike(out.foot_low, feet.min(axis=-1) - feet.mean(axis=-1))
    alike(out.foot_high, feet.max(axis=-1) - feet.mean(axis=-1))
    alike(out.foot_rms, feet.std(axis=-1))
    alike(out.base_rms, x.std(axis=0))
    alike(out.base_together, np.corrcoef(x.T))


@pytest.mark.parametrize("loss", [0.05, 0.1, 0.3])
def test_a_gaussian_record_gives_what_its_spectrum_gives(loss) -> None:
    """Within 4 %: viscous in time against structural in frequency, three axes that are independent.

    300 s of white noise, of which the spectrum is known; straight lines between samples take
    sinc⁴(f/rate) of it, 0.9 of what is felt at 32 Hz.
    """
    held = crooked(loss)
    x = np.random.default_rng(2).normal(size=((300 * 1600), 3))
    out = base_record(TimeModes.of(held), POINTS, x, 1600.0)
    lines = np.array([0.05, 800.0])
    square = 0.0
    for axis in range(3):
        one = random_response(held.modes(), POINTS, axis, lines, np.full(2, 1 / 800))
        square = square + np.stack([one.acceleration, one.travel]) ** 2
    felt, travel = np.sqrt(square)
    np.testing.assert_allclose(out.travel_rms, travel, rtol=0.04)
    if loss < 0.3:  # a dashpot passes more of what is far above the modes
        np.testing.assert_allclose(out.acceleration_rms, felt, rtol=0.05)
    np.testing.assert_allclose(out.base_together, np.eye(3), atol=0.01)


def test_a_shock_has_the_peaks_of_a_pulse() -> None:
    """The other way through the same lines, marched and with peaks between the samples."""
    held = crooked(0.1)
    samples = 60 * np.sin(np.pi * np.arange(25) / 24) * (1 - np.arange(25) / 40)
    jolt = Pulse.of_record([f"{v} m/s**2" for v in samples], rate="2 kHz")
    x = np.zeros((4_000, 3))
    x[:25, 1] = samples
    follow = Following(TimeModes.of(held), POINTS, 2_000.0)
    follow.add(x)
    out, other = follow.result(), base_pulse(TimeModes.of(held), POINTS, 1, jolt)
    rings = np.abs(other.acceleration).max()
    np.testing.assert_allclose(out.acceleration, other.acceleration, rtol=0.02, atol=0.02 * rings)
    most = other.travel.max()
    np.testing.assert_allclose(out.high - out.low, other.high - other.low, atol=0.02 * most)


@pytest.mark.parametrize("size", [1, 777, 40_000])
def test_blocks_say_what_the_whole_says(size) -> None:
    held = crooked(0.1)
    x = np.random.default_rng(3).normal(size=(1_000 if size == 1 else 70_000, 3)) + 9.0
    whole = base_record(TimeModes.of(held), POINTS, x, FREQUENCY)
    many = Following(TimeModes.of(held), POINTS, FREQUENCY, mean=x.mean(axis=0))
    for first in range(0, len(x), size):
        many.add(x[first : first + size])
    got = many.result()
    for name in ("acceleration", "acceleration_rms", "low", "high", "travel_rms", "base_mean"):
        np.testing.assert_allclose(getattr(got, name), getattr(whole, name), rtol=1e-5, atol=1e-8)


def test_a_batch_is_its_designs_one_by_one() -> None:
    held = [crooked(0.1), crooked(0.3), replace(crooked(0.2), mass=np.asarray(16.0))]
    x = np.random.default_rng(4).normal(size=(2_000, 3))
    whole = base_record(TimeModes.of(Suspension.stacked(held)), POINTS, x, FREQUENCY)
    for k, one in enumerate(held):
        alone = base_record(TimeModes.of(one), POINTS, x, FREQUENCY)
        for name in ("acceleration", "low", "high", "travel_rms"):
            ours = getattr(whole, name)[k]
            np.testing.assert_allclose(ours, getattr(alone, name), rtol=1e-5, atol=1e-9)


def test_a_steady_push_is_felt_and_sags() -> None:
    """At rest at the mean; a step from there ends at a deflection that the springs hold."""
    k = 8 * (2 * np.pi * 7.0) ** 2 / 4
    feet = [(x, y, 0.0) for x in (-0.15, 0.15) for y in (-0.1, 0.1)]
    held = Suspension.of_springs(8.0, np.eye(3) * 0.1, feet, k, k, loss_factor=0.4)
    seen = []
    follow = Following(
        TimeModes.of(held),
        POINTS,
        FREQUENCY,
        feet=POINTS[:1],
        mean=[0.0, 0.0, G0],
        watch=lambda travel: seen.append(travel[..., -1].copy()),
    )
    follow.add(np.tile([0.0, 0.0, G0], (1_000, 1)))
    follow.add(np.tile([0.0, 2.0, G0], (4_000, 1)))
    assert seen[0] == pytest.approx(0, abs=1e-12)
    assert seen[-1] == pytest.approx([0.0, -2.0 / (2 * np.pi * 7.0) ** 2, 0.0], abs=1e-8)


def test_memory_does_not_grow_with_the_record() -> None:
    held, most = crooked(0.1), []
    for count in (4, 20):
        follow = Following(TimeModes.of(held), POINTS, FREQUENCY, feet=held.position)
        tracemalloc.start()
        for seed in range(count):
            follow.add(np.random.default_rng(seed).normal(size=(40_000, 3)))
        most.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert most[1] < 1.05 * most[0]


def test_too_slow_a_record_is_refused() -> None:
    modes = TimeModes.of(crooked(0.1))
    highest = modes.omega.max() / (2 * np.pi)
    with pytest.raises(InputError, match=r"100 samples a second, too few for a mode at .* Hz"):
        Following(modes, POINTS, 100.0)
    Following(modes, POINTS, RATE * highest)

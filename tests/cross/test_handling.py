"""Footsteps and hops against integration in time and simulation."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from isolator.handling import FOOTFALL, Walk, floor_speed, hop_height
from isolator.suspension import Suspension
from isolator.trip import road
from isolator.units import G0
from isolator.vibration import tones_response

MASS = 8.0


def on_springs(frequency, loss):
    """A payload whose mounts are alike in all directions and through its centre of gravity."""
    k = MASS * (2 * np.pi * frequency) ** 2 / 4
    at = [(x, y, 0.0) for x in (-0.2, 0.2) for y in (-0.15, 0.15)]
    inertia = np.diag([0.1, 0.15, 0.2])
    return Suspension.of_springs(MASS, inertia, at, k, k, loss_factor=loss)


def one_run(suspension, rate):
    """Response at the centre to steps at one rate, z up, walking along x."""
    frequency, level = Walk().tones([rate])
    return tones_response(suspension.modes(), np.zeros((1, 3)), frequency, level[..., [2, 1, 0]])


@pytest.mark.parametrize("natural", [6.3, 11.0])
@pytest.mark.parametrize("rate", [1.7, 2.0])
def test_footsteps_in_step_reach_the_bound_and_never_pass_it(natural, rate):
    """Viscous damping of the same loss at each mode in time; two per cent of the bound for it."""
    zeta, omega = 0.02, 2 * np.pi * natural
    bound = one_run(on_springs(natural, 2 * zeta), rate)
    tones = [(m * rate, a * G0 * (rate / 2) ** 2) for m, a in FOOTFALL["vertical"].items()]

    def most(phases):
        def motion(t, state):
            base = sum(
                a * np.cos(2 * np.pi * f * t + p) for (f, a), p in zip(tones, phases, strict=True)
            )
            return [state[1], -base - 2 * zeta * omega * state[1] - omega**2 * state[0]]

        t = np.linspace(30 / rate, 32 / rate, 2001)
        run = solve_ivp(motion, (0, t[-1]), [0, 0], t_eval=t, rtol=1e-7, atol=1e-10)
        felt = 2 * zeta * omega * run.y[1] + omega**2 * run.y[0]
        return np.abs(run.y[0]).max(), np.abs(felt).max(), np.sqrt(np.mean(felt**2))

    # What lags by the mount's phase at each tone is given as a lead.
    lead = [
        np.angle(omega**2 - (2 * np.pi * f) ** 2 + 2j * zeta * omega * 2 * np.pi * f)
        for f, _ in tones
    ]
    travel, felt, rms = most(lead)
    assert travel == pytest.approx(bound.travel[0, 2], rel=0.02)
    assert felt == pytest.approx(bound.acceleration[0, 2], rel=0.02)
    assert rms == pytest.approx(bound.acceleration_rms[0, 2], rel=0.02)
    rng = np.random.default_rng(3)
    for _ in range(2):
        travel, felt, _ = most(rng.uniform(0, 2 * np.pi, len(tones)))
        assert travel <= bound.travel[0, 2] * 1.01
        assert felt <= bound.acceleration[0, 2] * 1.01


@pytest.mark.parametrize("name", ["truck d4169-16 high", "over-the-road trailer ista 3a"])
def test_the_speed_of_a_floor_is_that_of_a_simulated_road(name):
    """Rms from the sum of many tones, peak from 200 records of a minute."""
    spectrum = road(name)["vertical"]
    low, high, seconds = spectrum.lines[0], spectrum.lines[-1], 60.0
    step = 1 / seconds
    f = np.arange(low + step / 2, high, step)
    log = np.exp(np.interp(np.log(f), np.log(spectrum.lines), np.log(spectrum.density)))
    size = np.sqrt(2 * log * step) / (2 * np.pi * f)
    rng, peaks = np.random.default_rng(11), []
    count = 1 << int(np.ceil(np.log2(4 * high * seconds)))
    for _ in range(200):
        comb = np.zeros(count // 2 + 1, dtype=complex)
        comb[np.round(f / step).astype(int)] = size * np.exp(2j * np.pi * rng.uniform(size=f.size))
        speed = np.fft.irfft(comb) * count / 2
        peaks.append(speed.max())
    assert speed.std() == pytest.approx(np.sqrt((size**2).sum() / 2), rel=1e-6)
    found = floor_speed(spectrum.lines, spectrum.density, seconds)
    assert found == pytest.approx(np.mean(peaks), rel=0.03)


def test_a_case_on_a_shaking_floor_lands_no_harder_than_the_hop_says():
    """One hop from rest off a sine floor, event by event, at every level and frequency."""
    reached = []
    for frequency in (3.0, 9.0):
        for level in np.geomspace(1.05, 12.0, 60):
            omega = 2 * np.pi * frequency
            speed = level * G0 / omega
            height, equivalent = (float(v) for v in hop_height(speed))
            # The floor is (level·g/ω²)·sin ωt; the case leaves where it falls faster than 1 g.
            size, start = level * G0 / omega**2, np.arcsin(1 / level) / omega
            t = np.linspace(1e-5, 2.5 * speed / G0 + 2 / frequency, 100_000)
            up = size * omega * np.cos(omega * start)
            case = size * np.sin(omega * start) + up * t - G0 * t**2 / 2
            lands = np.flatnonzero(case[20:] < size * np.sin(omega * (start + t[20:])))[0] + 20
            meets = size * omega * np.cos(omega * (start + t[lands])) - (up - G0 * t[lands])
            assert up**2 / (2 * G0) <= height
            assert meets**2 / (2 * G0) <= equivalent
            reached.append(meets**2 / (2 * G0) / equivalent)
    assert max(reached) > 0.98

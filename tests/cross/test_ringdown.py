"""Taps simulated by independent libraries, with the truth known; recordings of something else."""

from collections.abc import Sequence
from pathlib import Path

import control
import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import eig
from scipy.signal import lfilter
from scipy.stats import binom

from isolator.decay import Mode
from isolator.logger import read_recording
from isolator.recording import Recording
from isolator.ringdown import RingDown, half_power, log_decrement, ring_down
from isolator.units import G0, InputError, si

RATE = 200.0
FOLDER = Path(__file__).parents[3] / "shared" / "recordings"


def nearest(found: RingDown, frequency: float) -> Mode:
    return min(found.modes, key=lambda mode: abs(si(mode, "frequency") - frequency))


def jittered(rng: np.random.Generator, count: int, rate: float = RATE) -> np.ndarray:
    t = (np.arange(count) + rng.uniform(-0.2, 0.2, count)) / rate
    return t - t[0]


def decaying(t: np.ndarray, f: float, zeta: float, phase: float, start: float) -> np.ndarray:
    """In its own words, not those of the fit: the real part of a complex pole."""
    pole = 2 * np.pi * f * complex(-zeta, np.sqrt(1 - zeta**2))
    return np.where(t < start, 0.0, np.exp(pole * np.maximum(t - start, 0) + 1j * phase).real)


@pytest.mark.heavy
def test_the_interval_holds_the_truth_in_95_of_100():
    """200 noisy, jittered taps of one or two modes: 90 to 99 % hold it, and there is no bias."""
    holds: dict[str, list[bool]] = {"frequency": [], "damping": []}
    off = []
    for k in range(200):
        rng = np.random.default_rng(k)
        f, zeta = rng.uniform(5, 14), rng.uniform(0.03, 0.12)
        t = jittered(rng, 600)
        x = decaying(t, f, zeta, rng.uniform(-0.5, 0.5), 0.4)
        if k % 2:
            x += 0.4 * decaying(t, 2.2 * f, 0.04, 0.0, 0.4)
        x += rng.normal(0, rng.uniform(0.01, 0.05), len(t))
        mode = nearest(ring_down(Recording.of(x, unit="1 g0", time=t)), f)
        holds["frequency"].append(abs(si(mode, "frequency") - f) < si(mode, "frequency_within"))
        holds["damping"].append(abs(mode.damping_ratio - zeta) < mode.damping_within)
        off.append((mode.damping_ratio - zeta) / (mode.damping_within / 1.96))
    for name, each in holds.items():
        assert len(each) == 200
        assert 0.90 <= np.mean(each) <= 0.99, (name, np.mean(each))
    assert abs(np.mean(off)) < 4 / np.sqrt(200)
    # What true coverage of 95 % would give in 200, to a thousandth on either side.
    low, high = binom.ppf([0.0005, 0.9995], 200, 0.95) / 200
    assert low <= np.mean(holds["frequency"]) <= high


def test_three_axes_tell_three_modes():
    """A body on three springs per axis, coupled; python-control moves it, scipy knows its modes."""
    mass = np.diag([8.0, 8.0, 8.0])
    stiffness = np.array([[16e3, 3e3, 0], [3e3, 30e3, -4e3], [0, -4e3, 60e3]])
    damping = 2e-3 * stiffness
    nothing, one = np.zeros((3, 3)), np.eye(3)
    upper, lower = np.linalg.solve(mass, stiffness), np.linalg.solve(mass, damping)
    a = np.block([[nothing, one], [-upper, -lower]])
    b = np.vstack([np.zeros((3, 1)), np.linalg.solve(mass, [[1.0], [1.0], [1.0]])])
    system = control.ss(a, b, np.hstack([-upper, -lower]), np.zeros((3, 1)))
    t = np.arange(1200) / 400
    push = np.where((t > 0.3) & (t < 0.312), 300.0, 0.0)
    response = control.forced_response(system, t, push).outputs
    noise = np.random.default_rng(5).normal(0, 0.01, response.T.shape)
    found = ring_down(Recording.of(response.T + noise, unit="1 m/s**2", rate="400 Hz"))
    poles = eig(a)[0]
    poles = poles[poles.imag > 0]
    assert len(found.modes) == 3
    for pole in poles:
        mode = nearest(found, abs(pole) / 2 / np.pi)
        zeta = -pole.real / abs(pole)
        assert abs(si(mode, "frequency") - abs(pole) / 2 / np.pi) < 1.6 * si(
            mode, "frequency_within"
        )
        assert abs(mode.damping_ratio - zeta) < 1.6 * mode.damping_within
        assert mode.damping_within < 0.1 * zeta
        assert mode.loss_factor == 2 * mode.damping_ratio
        assert mode.amplitude.shape == (3,)


def test_a_spring_that_stiffens_when_it_moves_less_shows_it():
    """x'' + 2ζωx' + ω²x(1 − x²/4): softer at large amplitude, by scipy's integration."""
    omega = 2 * np.pi * 8
    t = np.arange(1200) / 400

    def move(_: float, y: np.ndarray) -> Sequence[float]:
        return y[1], -2 * 0.02 * omega * y[1] - omega**2 * y[0] * (1 - y[0] ** 2 / 4)

    def felt(start: float) -> RingDown:
        motion = solve_ivp(move, (0, t[-1]), [start, 0], t_eval=t, rtol=1e-9, atol=1e-12).y
        a = -2 * 0.02 * omega * motion[1] - omega**2 * motion[0] * (1 - motion[0] ** 2 / 4)
        a /= np.abs(a).max()
        a += np.random.default_rng(4).normal(0, 0.005, len(a))
        return ring_down(Recording.of(a, unit="1 g0", rate="400 Hz"))

    bent, straight = felt(0.8), felt(0.01)
    assert bent.amplitude_matters is True
    assert bent.early is not None
    assert bent.late is not None
    assert si(bent.early, "frequency") < si(bent.late, "frequency") < 8.0
    assert straight.amplitude_matters is False


def test_the_tap_itself_is_not_taken_for_its_ring():
    """A knuckle that pushes for a tenth of a cycle, whatever it does to the first half cycle."""
    t = np.arange(1600) / 400
    omega, zeta = 2 * np.pi * 8, 0.06
    system = control.tf([1, 0, 0], [1, 2 * zeta * omega, omega**2])
    for long in (0.006, 0.012, 0.025):
        part = (t - 0.5) / long
        push = np.where((part > 0) & (part < 1), np.sin(np.pi * part) ** 2, 0.0)
        x = control.forced_response(system, t, push).outputs
        x = x + np.random.default_rng(6).normal(0, 0.01 * np.abs(x[t > 0.56]).max(), len(t))
        mode = ring_down(Recording.of(x, unit="1 g0", rate="400 Hz")).modes[0]
        assert abs(si(mode, "frequency") - 8) < 1.6 * si(mode, "frequency_within")
        assert abs(mode.damping_ratio - zeta) < 1.6 * mode.damping_within


def test_of_several_taps_the_strongest_is_taken():
    t = np.arange(4000) / 400
    x = np.random.default_rng(11).normal(0, 0.01, len(t))
    for at, high in ((1.0, 0.5), (3.0, 1.0), (5.0, 0.7), (7.0, 0.6)):
        x += high * decaying(t, 8.0, 0.05, 0.2, at)
    found = ring_down(Recording.of(x, unit="1 g0", rate="400 Hz"))
    assert 3.0 < si(found, "start") < 3.1
    assert si(found, "end") < 5.1
    mode = found.modes[0]
    assert abs(mode.damping_ratio - 0.05) < 1.6 * mode.damping_within


def test_hand_methods_stand_beside_with_their_bias():
    t = np.arange(2000) / 400
    x = decaying(t, 8.0, 0.05, 0.0, 0.2)
    noisy = x + np.random.default_rng(7).normal(0, 0.02, len(t))
    clean = ring_down(Recording.of(x, unit="1 g0", rate="400 Hz"))
    rough = ring_down(Recording.of(noisy, unit="1 g0", rate="400 Hz"))
    assert clean.decrement == pytest.approx(0.05, rel=0.02)
    assert abs(rough.modes[0].damping_ratio - 0.05) < abs(rough.decrement - 0.05)
    assert rough.half_power > 0.05  # a cut record widens the peak
    assert any("log decrement" in sentence for sentence in rough.sentences)


def others() -> dict[str, np.ndarray]:
    """Records with no free decay in them."""
    rng = np.random.default_rng(8)
    t = np.arange(4000) / RATE
    made = {"noise": rng.normal(size=4000), "a tone": np.sin(2 * np.pi * 9 * t)}
    made["a tone in noise"] = made["a tone"] + rng.normal(0, 0.1, 4000)
    made["a step"] = (t > 7) + rng.normal(0, 0.01, 4000)
    made["a bump"] = np.exp(-(((t - 9) / 0.02) ** 2)) + rng.normal(0, 0.01, 4000)
    made["a growing swing"] = np.exp(0.3 * t) * made["a tone"]
    made["nothing"] = np.zeros(4000)
    for k in [*range(12), 915, 921, 951, 959, 993, 1012, 1023]:  # the last look like taps
        own = np.random.default_rng(100 + k)
        zeta, f = own.uniform(0.005, 0.15), own.uniform(3, 30)
        pole = np.exp(2 * np.pi * f * complex(-zeta, 1) / RATE)
        made[f"a road {k}"] = lfilter([1], np.poly([pole, pole.conj()]).real, own.normal(size=4000))
    return made


@pytest.mark.parametrize("name", others())
def test_where_there_is_no_free_decay_no_number_is_given(name):
    with pytest.raises(InputError, match="there is no free decay in it"):
        ring_down(Recording.of(others()[name], unit="1 g0", rate=f"{RATE} Hz"))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda r: ring_down(r, expected="81 Hz"), ["expected = 81 Hz", "0.4 of the rate"]),
        (lambda r: ring_down(r, modes=0), ["modes = 0", "1 to 4"]),
        (lambda r: ring_down(r, modes=9), ["modes = 9"]),
        (lambda r: ring_down(r, start=2.98), ["start and end", "has 0 to 2.99"]),
        (lambda r: log_decrement(1.0, -0.5, 1), ["one sign"]),
        (lambda r: log_decrement(0.5, 1.0, 1), ["no larger"]),
        (lambda r: log_decrement(1.0, 0.5, 0), ["a cycle or more"]),
    ],
)
def test_what_cannot_be_asked(make, says):
    t = np.arange(600) / RATE
    tap = Recording.of(decaying(t, 8, 0.05, 0, 0.5), unit="1 g0", rate=f"{RATE} Hz")
    with pytest.raises(InputError) as error:
        make(tap)
    for part in says:
        assert part in str(error.value)


def test_a_ring_above_what_the_rate_knows_is_refused():
    t = np.arange(600) / RATE
    x = decaying(t, 90, 0.01, 0.3, 0.5) + np.random.default_rng(9).normal(0, 0.005, 600)
    with pytest.raises(InputError, match=r"ring-down = 90.* Hz: above 0.4 of the rate of 200 Hz"):
        ring_down(Recording.of(x, unit="1 g0", rate=f"{RATE} Hz"))


def test_a_peak_at_an_end_has_no_width():
    assert np.isnan(half_power([1.0, 2.0, 3.0], [3.0, 2.0, 1.0]))


@pytest.mark.skipif(
    not FOLDER.is_dir(), reason="the recordings are not beside this checkout (../shared/recordings)"
)
@pytest.mark.parametrize("name", ["shaker_sine_fast", "shaker_sine_slow", "hand_carried_imu"])
def test_a_shaker_and_a_walk_do_not_ring_down(name):
    found = read_recording(FOLDER / f"{name}.csv")
    with pytest.raises(InputError, match="there is no free decay in it"):
        ring_down(found)
    assert np.abs(found.acceleration).max() > G0

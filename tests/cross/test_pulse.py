"""Shock spectra against an independent library, the standard's filter and integration in time."""

import numpy as np
import pytest

with np.printoptions():  # it changes how all arrays are printed
    from pyyeti import srs

from scipy.integrate import solve_ivp
from scipy.signal import lfilter

from isolator.pulse import Pulse, Step, shock_spectrum

TAU = 2 * np.pi
RATE = 4000.0


def jolt(seed: int) -> np.ndarray:
    """A decaying mixture of sines, at rest at both ends."""
    rng = np.random.default_rng(seed)
    time = np.arange(0, 0.5, 1 / RATE)
    waves = np.sin(TAU * rng.uniform(5, 60, (6, 1)) * time) * rng.normal(size=(6, 1))
    return 30 * waves.sum(axis=0) * np.exp(-8 * time) * np.sin(np.pi * time / time[-1]) ** 2


@pytest.mark.parametrize("zeta", [0.02, 0.05, 0.2])
@pytest.mark.parametrize(
    ("which", "peak", "time"),
    [
        ("maximax", "abs", "total"),
        ("positive", "pos", "total"),
        ("negative", "neg", "total"),
        ("primary", "abs", "primary"),
        ("residual", "abs", "residual"),
    ],
)
def test_spectra_of_an_independent_library(zeta: float, which: str, peak: str, time: str) -> None:
    """The library reads peaks at samples: 200 a cycle and more leave 2e-4 of it.

    Its residual starts a sample later: the last, which is 0, is left to it.
    """
    frequency = np.geomspace(2.0, 20.0, 12)
    records = np.stack([jolt(1), jolt(2)])
    ours = shock_spectrum(records, RATE, frequency, zeta, which)
    signal = records[:, : -1 if which == "residual" else None].T
    q = 1 / (2 * zeta)
    theirs = srs.srs(
        signal, RATE, frequency, q, peak=peak, time=time, rolloff="none", parallel="no"
    )
    np.testing.assert_allclose(ours, np.asarray(theirs).T, rtol=3e-4, atol=1e-3)


@pytest.mark.parametrize(("response", "stype"), [("relative displacement", "reldisp"),
                                                 ("pseudo-velocity", "pvelo")])  # fmt: skip
def test_other_responses_of_an_independent_library(response: str, stype: str) -> None:
    frequency = np.geomspace(2.0, 20.0, 12)
    ours = shock_spectrum(jolt(3), RATE, frequency, 0.05, response=response)
    theirs = srs.srs(
        jolt(3), RATE, frequency, 10.0, stype=stype, time="total", rolloff="none", parallel="no"
    )
    np.testing.assert_allclose(ours, theirs, rtol=3e-4)


@pytest.mark.parametrize("frequency", [2.0, 30.0, 150.0])
@pytest.mark.parametrize("zeta", [0.0, 0.01, 0.05, 0.5])
def test_the_step_is_the_filter_of_the_standard(frequency: float, zeta: float) -> None:
    """ISO 18431-4: b0, b1, b2 over 1, −2E cos B, E² (published in two libraries)."""
    rate, omega = 1000.0, TAU * frequency
    a, b = omega * zeta / rate, omega / rate * np.sqrt(1 - zeta**2)
    e, s = np.exp(-a), np.sin(b) / b
    top = [1 - np.exp(-a) * s, 2 * e * (s - np.cos(b)), e**2 - e * s]
    record = np.random.default_rng(4).normal(size=400)
    record[0] = 0.0  # the filter comes to the first sample on a line from nothing
    theirs = lfilter(top, [1.0, -2 * e * np.cos(b), e**2], record)
    step = Step.of(1 / rate, np.array([omega]), np.array([zeta]))
    z, speed = step.march(record, np.zeros(1), np.zeros(1))
    ours = -(omega**2 * z + 2 * zeta * omega * speed)[:, 0]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9, atol=1e-9)


SHAPES = [
    Pulse(shape="half-sine", peak="50 m/s**2", duration="20 ms"),
    Pulse(shape="haversine", peak="50 m/s**2", duration="20 ms"),
    Pulse(shape="terminal-peak sawtooth", peak="50 m/s**2", duration="20 ms"),
    Pulse(shape="rectangle", peak="50 m/s**2", duration="20 ms"),
    Pulse(shape="trapezoid", peak="50 m/s**2", duration="20 ms", rise="3 ms", fall="7 ms"),
    Pulse.of_record(["0 g0", "3 g0", "-2 g0", "1 g0", "0 g0"], rate="200 Hz"),
]


@pytest.mark.parametrize("pulse", SHAPES, ids=lambda pulse: pulse.shape)
@pytest.mark.parametrize("frequency", [4.0, 20.0])
@pytest.mark.parametrize("zeta", [0.0, 0.08])
def test_integration_in_time(pulse: Pulse, frequency: float, zeta: float) -> None:
    omega, end = TAU * frequency, pulse.duration.m_as("s")

    def motion(time, state):
        z, speed = state
        base = float(pulse.acceleration(time)) if time <= end else 0.0
        return [speed, -base - omega**2 * z - 2 * zeta * omega * speed]

    def run(start, stop, state):
        return solve_ivp(
            motion, (start, stop), state, rtol=1e-10, atol=1e-13, max_step=2e-4,
            t_eval=np.linspace(start, stop, 4001),
        )  # fmt: skip

    during = run(0.0, end, [0.0, 0.0])
    after = run(np.nextafter(end, 1.0), end + 1.1 / frequency, during.y[:, -1])
    felt = [-(omega**2) * y[0] - 2 * zeta * omega * y[1] for y in (during.y, after.y)]
    expected = {
        "primary": np.abs(felt[0]).max(),
        "residual": np.abs(felt[1]).max(),
        "positive": max(f.max() for f in felt),
        "negative": max(-f.min() for f in felt),
    }
    for which, value in expected.items():
        ours = pulse.shock_spectrum([frequency], zeta, which)[0]
        assert ours == pytest.approx(value, rel=2e-5, abs=1e-6 * 50)

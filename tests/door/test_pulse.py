"""Mistakes in a pulse, a record and what is asked of a shock spectrum."""

import numpy as np
import pint
import pytest

from isolator.pulse import Pulse, shock_spectrum
from isolator.units import InputError

Q = pint.application_registry.Quantity
GOOD = {"shape": "half-sine", "peak": "20 g0", "duration": "11 ms"}
TIMES = ["0 ms", "1 ms", "2 ms", "3 ms"]
FOUR = ["0 g0", "1 g0", "2 g0", "0 g0"]
RECORD = np.ones(50)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Pulse(**GOOD | {"shape": "sine"}), ["Pulse.shape", "'sine'", "half-sine"]),
        (lambda: Pulse(**GOOD | {"peak": "20 g"}), ["Pulse.peak", "20 g0"]),
        (lambda: Pulse(**GOOD | {"peak": "0 g0"}), ["Pulse.peak", "above 0"]),
        (lambda: Pulse(**GOOD | {"duration": "11 mm"}), ["Pulse.duration", "time"]),
        (lambda: Pulse(**GOOD, rise="1 ms"), ["Pulse.rise", "half-sine", "leave it out"]),
        (
            lambda: Pulse(**GOOD | {"shape": "trapezoid"}, rise="1 ms"),
            ["Pulse.fall", "missing", "give it"],
        ),
        (
            lambda: Pulse(**GOOD | {"shape": "trapezoid"}, rise="6 ms", fall="6 ms"),
            ["12 ms", "longer than the duration of 11 ms"],
        ),
        (
            lambda: Pulse(**GOOD | {"shape": "trapezoid"}, rise="0 ms", fall="12 ms"),
            ["Pulse.rise + Pulse.fall = 12 ms: longer than the duration of 11 ms"],
        ),
        (lambda: Pulse(**GOOD, record=FOUR), ["Pulse.record", "of_record"]),
        (lambda: Pulse(**GOOD | {"shape": "record"}), ["Pulse.record", "of_record"]),
        (lambda: Pulse.of_record(FOUR), ["rate and times", "one of them"]),
        (lambda: Pulse.of_record(FOUR, rate="1 kHz", times=TIMES), ["rate and times"]),
        (lambda: Pulse.of_record(["1 g0", "2 g0"], rate="1 kHz"), ["2 given", "too short"]),
        (lambda: Pulse.of_record(["0 g0"] * 5, rate="1 kHz"), ["nothing but zeros"]),
        (
            lambda: Pulse.of_record(Q(np.array([0, np.nan, 1]), "g_0"), rate="1 kHz"),
            ["samples", "[1] is not a finite number"],
        ),
        (lambda: Pulse.of_record(["0 g0", "nan g0", "0 g0"], rate="1 kHz"), ["samples[1]"]),
        (lambda: Pulse.of_record(FOUR, times=TIMES[:3]), ["3 of them with 4 samples"]),
        (
            lambda: Pulse.of_record(FOUR, times=["0 ms", "1 ms", "2 ms", "4 ms"]),
            ["times[3] = 4 ms", "2 ms after the one before it", "are 1 ms apart", "1%", "gap"],
        ),
        (
            lambda: Pulse.of_record(FOUR, times=["0 ms", "1 ms", "2.02 ms", "3 ms"]),
            ["times[2] = 2.02 ms", "1.02 ms", "jitter"],
        ),
        (lambda: Pulse.of_record(FOUR, times=TIMES[::-1]), ["times[1] = 2 ms", "-1 ms"]),
        (lambda: Pulse.of_record(FOUR, times=["2 ms"] * 4), ["times[1] = 2 ms: 0 ms after"]),
        (lambda: shock_spectrum([1.0, 2.0], 1e3, [5.0], 0.05), ["2 samples", "too short"]),
        (lambda: shock_spectrum(1.0, 1e3, [5.0], 0.05), ["record: 1 samples, too short"]),
        (
            lambda: shock_spectrum([1.0, np.nan, 2.0], 1e3, [5.0], 0.05),
            ["record[1] = nan", "not a number"],
        ),
        (
            lambda: shock_spectrum([[1.0, 1, 2], [1, 1, np.inf]], 1e3, [5.0], 0.05),
            ["record[1, 2] = inf"],
        ),
        (
            lambda: shock_spectrum(RECORD, 1e3, [5.0, 101.0], 0.05),
            ["rate = 1000 Hz", "too low for 101 Hz", "10 samples a cycle", "up to 100 Hz"],
        ),
        (
            lambda: Pulse.of_record(FOUR, rate="1 kHz").shock_spectrum([101.0], 0.05),
            ["rate = 1000 Hz", "too low"],
        ),
        (lambda: shock_spectrum(RECORD, 1e3, [0.0], 0.05), ["frequency", "above 0"]),
        (lambda: shock_spectrum(RECORD, 1e3, [], 0.05), ["frequency"]),
        (lambda: shock_spectrum(RECORD, 1e3, [5.0, 0.0], 0.05), ["frequency", "above 0"]),
        (lambda: shock_spectrum(RECORD, 1e3, [5.0], 1.0), ["damping_ratio = 1", "less than 1"]),
        (lambda: shock_spectrum(RECORD, 1e3, [5.0], np.nan), ["damping_ratio = nan"]),
        (lambda: shock_spectrum(RECORD, 1e3, [5.0], 0.1, "largest"), ["which", "'largest'"]),
        (
            lambda: shock_spectrum(RECORD, 1e3, [5.0], 0.1, response="speed"),
            ["response", "'speed'", "pseudo-velocity"],
        ),
    ],
)
def test_a_mistake_gets_one_clear_line(make, says) -> None:
    with pytest.raises(InputError) as error:
        make()
    (line,) = error.value.lines
    for part in says:
        assert part in line

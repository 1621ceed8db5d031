"""How much a trip wears, against a test: rainflow cycles of the mounts' travel, summed by Miner.

Modest: a comparison of two motions of one mount, with an exponent that the user states. It knows
no material and no life.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.pulse import Step
from isolator.recording import Recording
from isolator.segments import even_pieces
from isolator.spectrum import density_at
from isolator.trip import Spectrum
from isolator.units import DURATION, FREQUENCY, FloatArray, Given, InputError, Measure, number, si


def relative_motion(
    acceleration: npt.ArrayLike, rate: float, frequency: float, damping_ratio: float
) -> FloatArray:
    """Travel z (..., n) of one mount under a base that is accelerated so, by one pass of a filter.

    z̈ + 2ζωż + ω²z = −a, exact for straight lines between samples.

    Parameters
    ----------
    acceleration : (..., n) array
        Even samples, at rest before the first. [m/s²]
    rate : float
        [Hz]
    frequency, damping_ratio : float
        Undamped, up to half the rate; 0 ≤ ζ < 1. [Hz, -]

    Returns
    -------
    (..., n) array
        [m]

    Notes
    -----
    iso-18431-4, the ramp-invariant filter; its weights are those of `pulse.Step`.

    Examples
    --------
    A steady push a ends at −a/ω²:

    >>> z = relative_motion(np.ones(4000), 100.0, 1.0, 0.5)
    >>> print(f"{z[-1] * (2 * np.pi) ** 2:.6f}")
    -1.000000
    """
    from scipy.signal import lfilter

    above, _, below = Step.of(1 / rate, 2 * np.pi * frequency, damping_ratio).as_filter()
    z: FloatArray = lfilter(above, below, np.asarray(acceleration, dtype=float), axis=-1)
    return z


def rainflow_cycles(motion: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Ranges (k,) and how often each is passed (k,): once, or a half.

    Parameters
    ----------
    motion : (n,) array
        Any unit.

    Notes
    -----
    astm-e1049, section 5.4.4, by the package rainflow.

    Examples
    --------
    >>> ranges, counts = rainflow_cycles([0, 2, 0, 2, 0])
    >>> ranges.tolist(), float(counts.sum())
    ([2.0, 2.0, 2.0, 2.0], 2.0)
    """
    from rainflow import extract_cycles

    x = np.asarray(motion, dtype=float)
    x = x[np.concatenate([[True], np.diff(x) != 0])]
    turns = np.concatenate([[True], np.diff(np.sign(np.diff(x))) != 0, [True]])
    found = list(extract_cycles(x[turns].tolist())) if len(x) > 1 else []
    return np.array([c[0] for c in found]), np.array([c[2] for c in found])


def damage(ranges: npt.ArrayLike, counts: npt.ArrayLike, exponent: float) -> float:
    """Σ n·(range/2)^b: proportional to Miner's sum, and of use only over another such sum."""
    half = np.asarray(ranges, dtype=float) / 2
    return float((np.asarray(counts, dtype=float) * half**exponent).sum())


def gaussian_damage(rms: float, crossings: float, exponent: float) -> float:
    """The same a second, of a Gaussian motion of one narrow band: ν(√2σ)^b·Γ(1 + b/2).

    Parameters
    ----------
    rms : float
        σ, any unit.
    crossings : float
        Upward crossings of zero a second ν. [Hz]
    exponent : float
        b.

    Notes
    -----
    miles-1954: Rayleigh peaks. Of a broad band it is too much.
    """
    from scipy.special import gamma

    return float(crossings * (np.sqrt(2) * rms) ** exponent * gamma(1 + exponent / 2))


@dataclass(frozen=True, kw_only=True)
class Equivalent:
    """How long a test wears as much as a trip.

    Attributes
    ----------
    trip, test : quantities [time]
        The trip as recorded, the time on the table.
    exponent : float
    hardest : float
        Largest travel of the trip. [m]
    sentences : tuple of str
    """

    trip: Measure = Measure(DURATION)
    test: Measure = Measure(DURATION)
    exponent: float
    hardest: float
    sentences: tuple[str, ...]


def equivalent_test(
    record: Recording,
    test: Spectrum,
    *,
    channel: str,
    frequency: Given,
    damping_ratio: float,
    exponent: float,
) -> Equivalent:
    """The time on a table, at a spectrum, that wears a mount as much as a recorded trip.

    Parameters
    ----------
    record : Recording
        Of the case.
    test : Spectrum
    channel : str
        Along the mount.
    frequency : text or quantity [frequency]
        Of the payload on it.
    damping_ratio : float
        0.005 to below 1. [-]
    exponent : float
        b of the life curve, N ∝ travel^−b, 1 to 15; from the maker or a test, not from here.

    Raises
    ------
    InputError
        Wrong units; a mode that the record is too slow for, or outside the test's lines.
    """
    f = FREQUENCY.read(frequency, "frequency")
    zeta = number(damping_ratio, "damping_ratio", 0.005, 0.999)
    b = number(exponent, "exponent", 1.0, 15.0)
    one = record.only(channel)
    if len(one.names) != 1:
        raise InputError(f"channel = {channel!r}: {len(one.names)} channels; name one")
    rate = one.rate
    if f > rate / 10:
        raise InputError(
            f"frequency = {f:.4g} Hz: above a tenth of the rate of {rate:.4g} Hz, where its cycles "
            f"are cut; record at {10 * f:.4g} samples a second or more"
        )
    if not test.lines[0] < f < test.lines[-1]:
        raise InputError(
            f"frequency = {f:.4g} Hz: {test.name} has lines from {test.lines[0]:g} to "
            f"{test.lines[-1]:g} Hz only, so it does not shake this mode; choose another test"
        )
    worn, most, long = 0.0, 0.0, 0.0
    for t, x in even_pieces(one.time, one.acceleration, rate):
        z = relative_motion(x[:, 0] - x[:, 0].mean(), rate, f, zeta)
        worn += damage(*rainflow_cycles(z), b)
        most, long = max(most, float(np.abs(z).max())), long + float(t[-1] - t[0])
    lines = np.geomspace(test.lines[0], test.lines[-1], 20_001)
    near = f * (1 + zeta * np.linspace(-20, 20, 4001))
    lines = np.unique(np.concatenate([lines, near[(near > lines[0]) & (near < lines[-1])]]))
    r = lines / f
    density = density_at(lines, test.lines, test.density)
    density = density / ((2 * np.pi * f) ** 4 * ((1 - r**2) ** 2 + (2 * zeta * r) ** 2))
    square = float(np.trapezoid(density, lines))
    crossings = float(np.sqrt(np.trapezoid(density * lines**2, lines) / square))
    if not worn > 0:
        raise InputError(f"channel = {channel!r}: it does not move; give the trip itself")
    return equivalence(
        worn,
        long,
        [(square**0.5, crossings)],
        b,
        hardest=most,
        name=test.name,
        of=f"One mount, one mode of {f:.4g} Hz that stays linear",
    )


def equivalence(
    worn: float,
    trip: float,
    motions: Sequence[tuple[float, float]],
    exponent: float,
    *,
    hardest: float,
    name: str,
    of: str,
) -> Equivalent:
    """How long a test wears as much as a trip did.

    Parameters
    ----------
    worn : float
        Σ n·(range/2)^b of the trip, by `damage`. [m^b]
    trip : float
        How long it took. [s]
    motions : (rms, upward crossings of zero a second) of each part of the test
        Each as long as the others, one after the other. [m, Hz]
    exponent : float
        b.
    hardest : float
        Largest travel of the trip. [m]
    name, of : str
        Of the test; what moves, the start of a sentence.

    Raises
    ------
    InputError
        The test does not move it.
    """
    rate = sum(gaussian_damage(rms, crossings, exponent) for rms, crossings in motions)
    if not rate > 0:
        raise InputError(f"test = {name!r:.80}: it does not move this mount; choose another")
    needed = worn / rate
    return Equivalent(
        trip=DURATION.quantity(trip),
        test=DURATION.quantity(needed),
        exponent=exponent,
        hardest=hardest,
        sentences=(
            f"{needed:.4g} s of {name} wear as much as {trip:.4g} s of the record, with an "
            f"exponent of {exponent:g}.",
            f"{of}; the test is taken as Gaussian and of one narrow band.",
            "It compares wear and says nothing of life; bottoming, heat and age are not in it. "
            "Where test and trip differ much the exponent decides: try one lower and one higher.",
        ),
    )


def worn(result: Equivalent) -> float:
    """Test time over trip time. [-]"""
    return si(result, "test") / si(result, "trip")

"""What the payload feels of a shaking case: transmissibility and random response by modes.

The case moves as a rigid body along its axes; z = q − q_base obeys M z̈ + K z = −M T a with
complex K (structural damping a mount at a time), so in modes
z(ω) = −Σ φ (share·a)/(λ − ω²) and the absolute acceleration is Σ φ (share·a) λ/(λ − ω²).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.sdof import expected_peak_factor
from isolator.spectrum import density_at
from isolator.suspension import ComplexArray, Modes, motion_at
from isolator.units import FloatArray

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)
_STEPS = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 0.9, 1.2, 1.6, 2.2, 3.0, 4.0, 6.0, 8.0])
_GRADES = np.array([1.0, 3.0, 7.0, 15.0, 31.0, 63.0, 127.0, 255.0])


def transmissibility(modes: Modes, points: npt.ArrayLike, frequency: npt.ArrayLike) -> ComplexArray:
    """Absolute acceleration at points over the case's acceleration.

    Parameters
    ----------
    modes : Modes of designs (...)
    points : (..., p, 3) array
        Points of the payload from its centre of gravity. [m]
    frequency : (f,) array
        [Hz]

    Returns
    -------
    (..., f, p, 3, 3) complex array
        From case axis (last) to payload axis (last but one). [-]
    """
    square = (2 * np.pi * np.asarray(frequency, dtype=float)) ** 2
    value = modes.eigenvalue[..., None, :]
    gain = value / (value - square[:, None])
    at = motion_at(points) @ modes.shape[..., None, :, :]
    return np.asarray(
        np.einsum("...pdk,...fk,...ka->...fpda", at, gain, modes.share[..., :, :3], optimize=True)
    )


@dataclass(frozen=True)
class Worse:
    """Where a floating payload is worse off than a bolted one, on one axis.

    Attributes
    ----------
    peak, peak_frequency : (..., p) arrays
        Largest |T| along the axis and where. [-, Hz]
    below : (..., p) array
        From here up |T| stays under 1. [Hz]
    """

    peak: FloatArray
    peak_frequency: FloatArray
    below: FloatArray


def worse_than_bolted(modes: Modes, points: npt.ArrayLike, axis: int) -> Worse:
    """Peak of the transmissibility along one axis and the end of the band where it exceeds 1.

    Read at every mode and on a logarithmic grid of 0.1 % steps from a fifth of the lowest to
    fifty times the highest mode, with the crossing interpolated.

    Parameters
    ----------
    modes : Modes of designs (...)
    points : (..., p, 3) array
        From the centre of gravity. [m]
    axis : int
        0, 1, 2 for x, y, z.
    """
    natural = modes.natural
    low, high = 0.2 * natural[natural > 0].min(), 50 * natural.max()
    grid = np.geomspace(low, high, 2 + int(np.log(high / low) / 1e-3))
    grid = np.broadcast_to(grid, (*natural.shape[:-1], grid.size))
    # A lightly damped peak is narrower than a step of the grid.
    frequency = np.sort(np.concatenate([grid, np.maximum(natural, low)], axis=-1), axis=-1)
    value = modes.eigenvalue[..., None]
    square = (2 * np.pi * frequency[..., None, :]) ** 2
    gain = modes.share[..., :, axis, None] * value / (value - square)
    at = (motion_at(points) @ modes.shape[..., None, :, :])[..., axis, :]
    size = np.abs(at @ gain)
    top = size.argmax(axis=-1)
    last = size.shape[-1] - 1 - (size[..., ::-1] > 1).argmax(axis=-1)
    last = np.where((size > 1).any(axis=-1), np.minimum(last, size.shape[-1] - 2), 0)

    def pick(of: FloatArray, index: npt.NDArray[np.intp]) -> FloatArray:
        return np.take_along_axis(of, index[..., None], axis=-1)[..., 0]

    frequency = np.broadcast_to(frequency[..., None, :], size.shape)
    above, under = pick(size, last) - 1, 1 - pick(size, last + 1)
    part = np.where(above > 0, above / np.maximum(above + under, 1e-300), 0.0)
    first, second = pick(frequency, last), pick(frequency, last + 1)
    return Worse(
        peak=pick(size, top),
        peak_frequency=pick(frequency, top),
        below=first * (second / first) ** part,
    )


@dataclass(frozen=True)
class RandomResponse:
    """Stationary response to random motion of the case along one of its axes.

    Attributes
    ----------
    acceleration : (..., p, 3) array
        Absolute acceleration by payload axis, rms. [m/s²]
    travel : (..., p, 3) array
        Travel relative to the case, rms. [m]
    travel_speed : (..., p, 3) array
        Its speed, rms; over 2π·travel it is the rate of upward zero crossings. [m/s]
    acceleration_rate : (..., p, 3) array
        Rms rate of change of the acceleration. [m/s³]
    """

    acceleration: FloatArray
    travel: FloatArray
    travel_speed: FloatArray
    acceleration_rate: FloatArray


def panels(
    eigenvalue: ComplexArray, lines: FloatArray, density: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Where to read a response, and the weights that sum it to ∫ … W(f) df over the lines.

    Gauss-Legendre panels in log f between the spectrum's lines are graded towards every
    resonance in units of its half bandwidth, so that the error is that of double precision
    for any damping; `tests/cross` shows it.

    Parameters
    ----------
    eigenvalue : (..., k) complex array
        Squares of the resonances, damping as their imaginary part. [rad²/s²]
    lines, density : (n,) arrays
        Straight lines in log-log. [Hz, (m/s²)²/Hz]

    Returns
    -------
    frequency, weight : (..., f) arrays
        [Hz, (m/s²)²]
    """
    root = np.sqrt(eigenvalue) / (2 * np.pi)
    centre = np.abs(root.real)[..., None]
    width = np.maximum(np.abs(root.imag), 1e-6 * np.abs(root) + 1e-12)[..., None] * _GRADES
    around = np.concatenate([centre - width, centre, centre + width], axis=-1)
    around = around.reshape(*around.shape[:-2], -1)
    # A panel of more than a factor e would cost digits far from every resonance.
    count = 2 + int(np.log(lines[-1] / lines[0]))
    fixed = np.concatenate([lines, np.geomspace(lines[0], lines[-1], count)])
    fixed = np.broadcast_to(fixed, (*around.shape[:-1], fixed.size))
    edges = np.concatenate([np.clip(around, lines[0], lines[-1]), fixed], axis=-1)
    edges = np.log(np.sort(edges, axis=-1))
    half = np.diff(edges, axis=-1)[..., None] / 2
    middle = (edges[..., 1:, None] + edges[..., :-1, None]) / 2
    frequency = np.exp(middle + half * _NODES)
    weight = half * _WEIGHTS * frequency * density_at(frequency, lines, density)
    frequency = frequency.reshape(*frequency.shape[:-2], -1)
    weight = weight.reshape(frequency.shape)
    return frequency, weight


def modal_products(modes: Modes, lines: FloatArray, density: FloatArray) -> ComplexArray:
    """Mean products of the modal responses to a spectrum, and of their rates.

    ∫ ω^(2j) W(f) / ((λk − ω²)(λl* − ω²)) df for j = 0 and 1, over the range of the lines. By
    partial fractions the products are differences of ∫ W(f)/(λk − ω²) df, integrated on `panels`
    that are graded towards the one resonance. Every mode must be damped: the products of one that
    nothing holds are nan.

    Parameters
    ----------
    modes : Modes of designs (...)
    lines, density : (n,) arrays
        Straight lines in log-log. [Hz, (m/s²)²/Hz]

    Returns
    -------
    (2, ..., 6, 6) complex array
    """
    own = modes.eigenvalue
    frequency, weight = panels(own[..., None], lines, density)
    single = (weight / (own[..., None] - (2 * np.pi * frequency) ** 2)).sum(axis=-1)
    apart = np.conj(own)[..., None, :] - own[..., :, None]
    flat = single[..., :, None] - np.conj(single)[..., None, :]
    single = own * single
    rate = single[..., :, None] - np.conj(single)[..., None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.stack([flat / apart, rate / apart])


def random_response(
    modes: Modes,
    points: npt.ArrayLike,
    axis: int,
    lines: FloatArray,
    density: FloatArray,
    *,
    frames: npt.ArrayLike | None = None,
) -> RandomResponse:
    """Rms response at points to random motion of the case along one axis.

    Parameters
    ----------
    modes : Modes of designs (...)
    points : (..., p, 3) array
        From the centre of gravity. [m]
    axis : int
        Case axis that moves: 0, 1, 2 for x, y, z.
    lines, density : (n,) arrays
        Spectrum of the case's acceleration. [Hz, (m/s²)²/Hz]
    frames : (..., p, 3, 3) array, optional
        Local axes at each point, rows; the case axes if left out. [-]
    """
    rows = motion_at(points)
    if frames is not None:
        rows = np.asarray(frames, dtype=float) @ rows
    at = rows @ modes.shape[..., None, :, :]
    part = at * modes.share[..., None, None, :, axis]
    products = modal_products(modes, lines, density)

    def rms(coefficient: ComplexArray, product: ComplexArray) -> FloatArray:
        square = np.einsum(
            "...pdk,...kl,...pdl->...pd", coefficient, product, coefficient.conj(), optimize=True
        )
        return np.asarray(np.sqrt(np.maximum(square.real, 0.0)))

    absolute = part * modes.eigenvalue[..., None, None, :]
    return RandomResponse(
        acceleration=rms(absolute, products[0]),
        travel=rms(part, products[0]),
        travel_speed=rms(part, products[1]),
        acceleration_rate=rms(absolute, products[1]),
    )


@dataclass(frozen=True)
class SineResponse:
    """Largest steady response to a sine along one axis of the case, over its frequencies.

    Attributes
    ----------
    acceleration : (..., p, 3) array
        Absolute acceleration by payload axis, peak. [m/s²]
    frequency : (..., p, 3) array
        Where that is. [Hz]
    travel : (..., p, 3) array
        Travel relative to the case, peak. [m]
    """

    acceleration: FloatArray
    frequency: FloatArray
    travel: FloatArray

    def or_worse(self, other: SineResponse) -> SineResponse:
        """The larger of two responses."""
        more = other.acceleration > self.acceleration
        return SineResponse(
            np.where(more, other.acceleration, self.acceleration),
            np.where(more, other.frequency, self.frequency),
            np.maximum(self.travel, other.travel),
        )


def around_modes(modes: Modes, low: float, high: float, corner: float = np.inf) -> FloatArray:
    """Frequencies (..., f) that find the largest response of a band.

    Steps of 1 % over the band, and within 8 half bandwidths of every resonance steps that are a
    small part of them, so that a peak is met within 1e-3.

    Parameters
    ----------
    modes : Modes of designs (...)
    low, high : float
        [Hz]
    corner : float
        Where the amplitude of the sine has a corner. [Hz]
    """
    centre = modes.natural[..., None]
    width = np.abs(np.sqrt(modes.eigenvalue).imag)[..., None] / (2 * np.pi)
    near = np.concatenate([centre - width * _STEPS, centre + width * _STEPS], axis=-1)
    near = np.clip(near.reshape(*near.shape[:-2], -1), low, high)
    grid = np.geomspace(low, high, 2 + int(100 * np.log(high / low)))
    grid = np.append(grid, np.clip(corner, low, high))
    return np.concatenate([np.broadcast_to(grid, (*near.shape[:-1], grid.size)), near], axis=-1)


def sine_response(
    modes: Modes,
    points: npt.ArrayLike,
    axis: int,
    frequency: FloatArray,
    amplitude: FloatArray,
    *,
    frames: npt.ArrayLike | None = None,
) -> SineResponse:
    """Steady response at points to a sine along one axis: transmissibility times amplitude.

    For a sweep it is an upper bound: a resonance that the sweep passes has less than its steady
    state, the less the faster it goes.

    Parameters
    ----------
    modes : Modes of designs (...)
    points : (..., p, 3) array
        From the centre of gravity. [m]
    axis : int
        Case axis that moves: 0, 1, 2 for x, y, z.
    frequency, amplitude : (..., f) arrays
        Of the case, peak. [Hz, m/s²]
    frames : (..., p, 3, 3) array, optional
        Local axes at each point, rows; the case axes if left out. [-]
    """
    rows = motion_at(points)
    if frames is not None:
        rows = np.asarray(frames, dtype=float) @ rows
    part = (rows @ modes.shape[..., None, :, :]) * modes.share[..., None, None, :, axis]
    value = modes.eigenvalue[..., None]
    gain = amplitude[..., None, :] / (value - (2 * np.pi * frequency[..., None, :]) ** 2)
    travel = np.abs(part @ gain[..., None, :, :])
    felt = np.abs(part @ (value * gain)[..., None, :, :])
    top = felt.argmax(axis=-1)
    where = np.broadcast_to(frequency[..., None, None, :], felt.shape)
    return SineResponse(
        acceleration=felt.max(axis=-1),
        frequency=np.take_along_axis(where, top[..., None], axis=-1)[..., 0],
        travel=travel.max(axis=-1),
    )


@dataclass(frozen=True)
class TonesResponse:
    """Largest steady response to tones that sound together, over the runs in which they differ.

    Attributes
    ----------
    acceleration : (..., p, 3) array
        Absolute acceleration by payload axis, peak with all phases at their worst. [m/s²]
    acceleration_rms : (..., p, 3) array
        With the axes of one tone at their worst phases; tones add by their squares. [m/s²]
    travel : (..., p, 3) array
        Travel relative to the case, peak likewise. [m]
    """

    acceleration: FloatArray
    acceleration_rms: FloatArray
    travel: FloatArray


def tones_response(
    modes: Modes,
    points: npt.ArrayLike,
    frequency: FloatArray,
    amplitude: FloatArray,
    *,
    frames: npt.ArrayLike | None = None,
) -> TonesResponse:
    """Steady response at points to several tones at once along all axes, such as footsteps.

    The phases of tones and axes are not known: their amplitudes add.

    Parameters
    ----------
    modes : Modes of designs (...)
    points : (..., p, 3) array
        From the centre of gravity. [m]
    frequency : (t, ..., r) array
        Of the tones, in each run. [Hz]
    amplitude : (t, ..., r, 3) array
        Peak acceleration of the case along x, y, z. [m/s²]
    frames : (..., p, 3, 3) array, optional
        Local axes at each point, rows; the case axes if left out. [-]
    """
    rows = motion_at(points)
    if frames is not None:
        rows = np.asarray(frames, dtype=float) @ rows
    at = rows @ modes.shape[..., None, :, :]
    value = modes.eigenvalue[..., None]
    travel = felt = square = np.zeros(())
    for tone, level in zip(frequency, amplitude, strict=True):
        gain = 1 / (value - (2 * np.pi * tone[..., None, :]) ** 2)
        moved = shaken = np.zeros(())
        for axis in range(3):
            part = at * modes.share[..., None, None, :, axis]
            size = level[..., None, None, :, axis]
            moved = moved + np.abs(part @ gain[..., None, :, :]) * size
            shaken = shaken + np.abs(part @ (value * gain)[..., None, :, :]) * size
        travel, felt, square = travel + moved, felt + shaken, square + shaken**2 / 2
    return TonesResponse(
        acceleration=np.asarray(felt.max(axis=-1)),
        acceleration_rms=np.asarray(np.sqrt(square.max(axis=-1))),
        travel=np.asarray(travel.max(axis=-1)),
    )


def peak(rms: FloatArray, rate_rms: FloatArray, duration: float, crest: float) -> FloatArray:
    """Expected largest |x| of a Gaussian response in a duration, times a crest multiplier.

    The crossing rate comes from the spectral moments, counted on both sides; the factor is that
    of `sdof.expected_peak_factor`, for ten crossings at the least.

    Parameters
    ----------
    rms, rate_rms : (...) arrays
        Rms of x and of its rate of change. [any unit, that unit/s]
    duration : float
        [s]
    crest : float
        Multiplier for a road that is not Gaussian; 1 for Gaussian. [-]
    """
    still = rms <= 0
    crossings = rate_rms / np.where(still, 1.0, rms) / np.pi * duration
    count = np.where(np.isnan(crossings), np.nan, np.maximum(crossings, 10.0))
    return np.where(still, 0.0, crest * rms * expected_peak_factor(count))


def touches_an_hour(rms: FloatArray, rate_rms: FloatArray, gap: npt.ArrayLike) -> FloatArray:
    """How often an hour a Gaussian travel exceeds a gap on one side, (Rice 1945). [1/h]

    Parameters
    ----------
    rms, rate_rms : (...) arrays
        Travel and its speed, rms. [m, m/s]
    gap : (...) array
        Room on that side. [m]
    """
    still = rms <= 0
    sigma = np.where(still, 1.0, rms)
    level = np.maximum(np.asarray(gap, dtype=float), 0.0) / sigma
    rate = 3600 * rate_rms / (2 * np.pi * sigma) * np.exp(-(level**2) / 2)
    return np.where(still, np.where(np.asarray(gap) > 0, 0.0, np.inf), rate)

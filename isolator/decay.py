"""A sum of decaying sines, fitted to samples at the times that they have: kernels in SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from isolator.units import FREQUENCY, FloatArray, Measure

MOST_MODES = 4
"""Modes that one tap is asked for, at the most."""

COVERAGE = 0.95
"""How sure the intervals are."""

WIDEST = 0.5
"""A damping ratio from here on is no swing that a fit could tell from a drift."""

BETTER = 10.0
"""By how much the criterion of Schwarz must fall for one mode more."""

Poles: TypeAlias = npt.NDArray[np.complex128]

_PENCIL = 360


@dataclass(frozen=True, kw_only=True)
class Mode:
    """One decaying sine.

    Attributes
    ----------
    frequency, frequency_within : quantities [frequency]
        Undamped natural frequency, half of its 95 % interval.
    damping_ratio, damping_within : floats
        The same of the damping ratio. [-]
    amplitude : (c,) complex array
        At the start, by channel: magnitude and phase of a cosine. [m/s²]
    """

    frequency: Measure = Measure(FREQUENCY)
    frequency_within: Measure = Measure(FREQUENCY.within(0.0))
    damping_ratio: float
    damping_within: float
    amplitude: npt.NDArray[np.complex128] = field(repr=False, compare=False)

    @property
    def loss_factor(self) -> float:
        """η = 2ζ. [-]"""
        return 2 * self.damping_ratio


@dataclass(frozen=True)
class Fit:
    """A fit of samples (n, c) at times (n,): poles (m,) = −σ + iω_d, the strongest first."""

    t: FloatArray
    x: FloatArray
    poles: Poles
    linear: FloatArray  # (2m + 1, c): cosines, sines, offset
    covariance: FloatArray  # (2m, 2m) of σ and ω_d
    left: FloatArray  # (n, c)

    @property
    def explained(self) -> float:
        spread = ((self.x - self.linear[-1]) ** 2).sum()
        return float(1 - (self.left**2).sum() / spread)

    @property
    def schwarz(self) -> float:
        n, c = self.x.shape
        count = 2 * len(self.poles) * (1 + c) + c
        mean = np.maximum((self.left**2).mean(axis=0), 1e-30 * (self.x**2).mean() + 1e-300)
        return float(n * np.log(mean).sum() + count * np.log(n * c))

    def modes(self) -> tuple[Mode, ...]:
        from scipy.stats import t as student

        n, c = self.x.shape
        m = len(self.poles)
        wide = float(student.ppf((1 + COVERAGE) / 2, n * c - 2 * m * (1 + c) - c))
        out = []
        for k, pole in enumerate(self.poles):
            sigma, omega, whole = -pole.real, pole.imag, abs(pole)
            one = self.covariance[np.ix_([k, m + k], [k, m + k])]
            of_f = np.array([sigma, omega]) / (2 * np.pi * whole)
            of_zeta = np.array([omega**2, -sigma * omega]) / whole**3
            out.append(
                Mode(
                    frequency=FREQUENCY.quantity(whole / (2 * np.pi)),
                    frequency_within=FREQUENCY.quantity(wide * float(of_f @ one @ of_f) ** 0.5),
                    damping_ratio=float(sigma / whole),
                    damping_within=wide * float(of_zeta @ one @ of_zeta) ** 0.5,
                    amplitude=self.linear[k] - 1j * self.linear[m + k],
                )
            )
        return tuple(out)


def _shapes(t: FloatArray, sigma: FloatArray, omega: FloatArray) -> FloatArray:
    """Cosines, sines and a constant (n, 2m + 1)."""
    fading = np.exp(np.minimum(-np.outer(t, sigma), 30.0))  # a search may try one that grows
    turning = np.outer(t, omega)
    return np.hstack([fading * np.cos(turning), fading * np.sin(turning), np.ones((len(t), 1))])


@dataclass(frozen=True)
class _Point:
    """Where a search stands: σ and ω_d (m,), and what follows of them for weighted channels."""

    sigma: FloatArray
    omega: FloatArray
    linear: FloatArray
    left: FloatArray  # (n, c), weighted
    slopes: FloatArray  # (n, c, 2m): of the model, with the linear part following

    @classmethod
    def of(cls, t: FloatArray, x: FloatArray, sigma: FloatArray, omega: FloatArray) -> _Point:
        m = len(sigma)
        base = _shapes(t, sigma, omega)
        q, r = np.linalg.qr(base)
        linear = np.linalg.solve(r, q.T @ x)
        cosine, sine = base[:, :m, None], base[:, m : 2 * m, None]
        p, s = linear[:m], linear[m : 2 * m]
        slopes = np.concatenate([-(p * cosine + s * sine), s * cosine - p * sine], axis=1)
        slopes = t[:, None, None] * slopes
        flat = slopes.reshape(len(t), -1)
        slopes = (flat - q @ (q.T @ flat)).reshape(slopes.shape).transpose(0, 2, 1)
        return cls(sigma, omega, linear, x - base @ linear, slopes)

    @property
    def cost(self) -> float:
        return float((self.left**2).sum())

    def search(self, t: FloatArray, x: FloatArray) -> _Point:
        """The least squares nearby: Levenberg-Marquardt over σ and ω_d alone."""
        here, damp, m = self, 1e-3, len(self.sigma)
        for _ in range(30):
            along = here.slopes.reshape(-1, 2 * m)
            square, pull = along.T @ along, along.T @ here.left.ravel()
            step = np.linalg.solve(square + damp * np.diag(np.diag(square)), pull)
            there = _Point.of(t, x, here.sigma + step[:m], here.omega + step[m:])
            if not there.cost < here.cost:
                damp *= 10.0
                if damp > 1e6:
                    break
                continue
            small = np.abs(step).max() < 1e-9 * np.abs(here.omega).max()
            gained = here.cost - there.cost
            here, damp = there, max(damp / 10.0, 1e-9)
            if small or gained < 1e-8 * here.cost:
                break
        return here


def fit_near(t: FloatArray, x: FloatArray, poles: Poles) -> Fit | None:
    """Least squares from starting values; None where they lead nowhere."""
    m, c = len(poles), x.shape[1]
    if x.size <= 2 * m * (1 + c) + c + 8:
        return None
    weight = np.ones(c)
    sigma, omega = -poles.real, poles.imag
    try:
        with np.errstate(over="ignore", invalid="ignore"):  # of a search that leads nowhere
            for _ in range(1 if c == 1 else 2):  # once more, each channel weighted by its noise
                found = _Point.of(t, x * weight, sigma, omega).search(t, x * weight)
                sigma, omega = found.sigma, found.omega
                noise = np.sqrt((found.left**2).mean(axis=0)) / weight
                weight = 1 / np.maximum(noise, 1e-9 * np.abs(x).max() + 1e-300)
            found = _Point.of(t, x * weight, sigma, omega)
            covariance = _covariance(found)
    except np.linalg.LinAlgError:
        return None
    known = np.diag(covariance)
    if not (np.isfinite(known) & (known > 0)).all() or not (omega > 0).all():
        return None
    linear = found.linear / weight
    strength = np.hypot(linear[:m], linear[m : 2 * m])
    # How much of the mean square each brings, over its decay.
    share = (strength**2).sum(axis=1) / np.maximum(sigma, 0.5 / t[-1])
    order = np.argsort(-share)
    both = np.concatenate([order, m + order])
    return Fit(
        t,
        x,
        np.asarray(1j * omega - sigma, dtype=np.complex128)[order],
        linear[[*both, 2 * m]],
        covariance[np.ix_(both, both)],
        found.left / weight,
    )


def _covariance(found: _Point) -> FloatArray:
    """Of σ and ω_d: the larger of the usual one and of Newey and West's, variance by variance."""
    n, c, count = found.slopes.shape
    along = found.slopes.reshape(-1, count)
    usual = np.linalg.inv(along.T @ along)
    scores = (found.slopes * found.left[:, :, None]).sum(axis=1)
    free = n * c / (n * c - count * (1 + c) - c)
    mean = found.cost / (n * c)
    meat = scores.T @ scores
    lags = int(4 * (n / 100) ** (2 / 9))
    for lag in range(1, lags + 1):
        both = scores[lag:].T @ scores[:-lag]
        meat += (1 - lag / (lags + 1)) * (both + both.T)
    robust = np.diag(usual @ meat @ usual)
    factor = np.sqrt(np.maximum(1.0, robust / np.maximum(mean * np.diag(usual), 1e-300)))
    covariance: FloatArray = free * mean * usual * np.outer(factor, factor)
    return covariance


def _pencil(t: FloatArray, x: FloatArray, rate: float) -> list[Poles]:
    """Starting poles for 1 to `MOST_MODES` modes, by the matrix pencil on even times."""
    even = np.arange(t[0], t[-1], 1 / rate)
    y = np.stack([np.interp(even, t, column - column.mean()) for column in x.T], axis=1)
    power = (np.abs(np.fft.rfft(y * np.hanning(len(y))[:, None], axis=0)) ** 2).sum(axis=1)
    lines = np.fft.rfftfreq(len(y), 1 / rate)
    loud = power > np.maximum(20 * np.median(power), 1e-4 * power.max())
    top = float(lines[loud].max()) if loud.any() else rate / 2
    # Means of neighbours leave poles as they are, but for the power.
    every = max(1, int(rate / (5 * max(top, 1 / t[-1]))))
    y = y[: len(y) // every * every].reshape(-1, every, y.shape[1]).mean(axis=1)[:_PENCIL]
    n = len(y)
    if n < 12:
        return []
    long = n // 3
    windows = np.lib.stride_tricks.sliding_window_view(y, long + 1, axis=0)
    right = np.linalg.svd(windows.reshape(-1, long + 1), full_matrices=False)[2]
    out: list[Poles] = []
    for m in range(1, MOST_MODES + 1):
        v = right[: 2 * m + 1].T
        z = np.linalg.eigvals(np.linalg.lstsq(v[:-1], v[1:])[0])
        z = z[(np.abs(z) > 1e-6) & (z.imag > 1e-9)]
        poles = np.log(z) * rate / every
        if not poles.size:
            continue
        sigma = np.clip(-poles.real, 0.002 * np.abs(poles), 0.7 * np.abs(poles))
        out.append(np.asarray(1j * poles.imag - sigma, dtype=np.complex128))
    return out


def best_fit(t: FloatArray, x: FloatArray, rate: float, modes: int | None) -> Fit | None:
    """The fit with the number of modes that the criterion of Schwarz bears."""
    best: Fit | None = None
    vain = 0
    for poles in _pencil(t, x, rate):
        if modes is not None and len(poles) != modes:
            continue
        fit = fit_near(t, x, poles)
        better = fit is not None and credible(fit)
        if best is not None and fit is not None:
            better = better and fit.schwarz < best.schwarz - BETTER
        best = fit if better else best
        vain = 0 if better else vain + 1
        if best is not None and vain == 2:
            break
    return best


def credible(fit: Fit) -> bool:
    """Each mode decays, swings at least once and a half, is known, and is one of its own."""
    poles = fit.poles
    f, sigma = np.abs(poles) / (2 * np.pi), -poles.real
    m = len(poles)
    off = np.sqrt(np.diag(fit.covariance))
    known = (off[m:] < 0.05 * poles.imag) & (2 * off[:m] < np.maximum(sigma, 0.01 * np.abs(poles)))
    swings = (f * fit.t[-1] > 1.5) & (sigma < WIDEST * np.abs(poles)) & (sigma > 0)
    half = sigma / (2 * np.pi)
    apart = np.abs(f[:, None] - f) > 0.5 * (half[:, None] + half)
    np.fill_diagonal(apart, True)
    return bool((known & swings).all() and apart.all())

"""What the payload feels of a recorded motion of its case: six modes in time, a block at a time.

The same system as in `base_pulse`, all axes of the case at once. Each mode is one recursive filter,
exact for straight lines between samples, so that a long record takes one pass and memory does not
grow with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator.base_pulse import TimeModes
from isolator.pulse import RATE, Step
from isolator.suspension import motion_at
from isolator.units import FloatArray, InputError

SPAN = 32_768
"""Samples that are filtered at once."""

SLICE = 1_024
"""Samples that are summed over the modes at once: few enough for a fast memory and one core."""


@dataclass(frozen=True)
class RecordResponse:
    """Response to a recorded motion of the case, about its mean.

    Attributes
    ----------
    seconds : float
        That were followed. [s]
    base_mean, base_rms : (3,) arrays
        Of the case along its axes; rms about the mean. [m/s²]
    base_together : (3, 3) array
        Correlation of the axes of the case; nan where one is still. [-]
    acceleration, acceleration_rms : (..., p, 3) arrays
        At the points: largest absolute acceleration either way, and rms. [m/s²]
    low, high, travel_rms : (..., p, 3) arrays
        Range of their travel relative to the case, and rms. [m]
    foot_low, foot_high, foot_rms : (..., n, 3) arrays
        The same of the feet, in their own axes. [m]
    """

    seconds: float
    base_mean: FloatArray
    base_rms: FloatArray
    base_together: FloatArray
    acceleration: FloatArray
    acceleration_rms: FloatArray
    low: FloatArray
    high: FloatArray
    travel_rms: FloatArray
    foot_low: FloatArray
    foot_high: FloatArray
    foot_rms: FloatArray


def base_record(
    modes: TimeModes,
    points: npt.ArrayLike,
    acceleration: npt.ArrayLike,
    rate: float,
    *,
    feet: npt.ArrayLike | None = None,
    frames: npt.ArrayLike | None = None,
) -> RecordResponse:
    """Response at points to a recorded motion of the case along all its axes.

    Parameters
    ----------
    modes : TimeModes of designs (...)
        Each mode held: ω above 0.
    points : (..., p, 3) array
        From the centre of gravity. [m]
    acceleration : (n, 3) array
        Of the case, even samples. [m/s²]
    rate : float
        Samples a second, `RATE` times the highest mode at least. [Hz]
    feet, frames : (..., n, 3) and (..., n, 3, 3) arrays, optional
        Where mounts hold the payload, and their local axes, rows. [m, -]

    Raises
    ------
    InputError
        Too low a rate for the highest mode.

    Notes
    -----
    iso-18431-4, the ramp-invariant filter by `pulse.Step`, from rest at the mean. Straight lines
    between samples take sinc²(f/rate) of a sine and peaks are read at samples, at most
    1 − cos(πf/rate) low: 3.3 % and 4.9 % of a mode with `RATE` samples a cycle.

    Examples
    --------
    A sine at the natural frequency of an isotropic suspension, |T| = √(1 + 1/4ζ²) for ζ = 0.05:

    >>> from isolator.suspension import Suspension
    >>> k, rate = 8 * (2 * np.pi * 10) ** 2 / 4, 4000.0
    >>> feet = [(x, y, 0) for x in (-.1, .1) for y in (-.1, .1)]
    >>> held = Suspension.of_springs(8, np.eye(3) * .1, feet, k, k, loss_factor=0.1)
    >>> push = np.zeros((20_000, 3))
    >>> push[:, 2] = np.sin(2 * np.pi * 10 * np.arange(20_000) / rate)
    >>> out = base_record(TimeModes.of(held), [[0, 0, 0]], push, rate)
    >>> print(f"{out.acceleration[0, 2]:.2f}")
    10.05
    """
    a = np.asarray(acceleration, dtype=float)
    followed = Following(modes, points, rate, feet=feet, frames=frames, mean=a.mean(axis=0))
    followed.add(a)
    return followed.result()


class Following:
    """What is kept while a record goes by; parameters as of `base_record`.

    Parameters
    ----------
    mean : (3,) array
        Acceleration of the case at which it rests before the first sample. [m/s²]
    watch : function of a (..., 3n, m) array, optional
        Called with the travel of the feet, m samples after m samples. [m]
    """

    def __init__(
        self,
        modes: TimeModes,
        points: npt.ArrayLike,
        rate: float,
        *,
        feet: npt.ArrayLike | None = None,
        frames: npt.ArrayLike | None = None,
        mean: npt.ArrayLike = (0.0, 0.0, 0.0),
        watch: Callable[[FloatArray], None] | None = None,
    ) -> None:
        highest = float(modes.omega.max()) / (2 * np.pi)
        if not rate >= RATE * highest * (1 - 1e-9):
            raise InputError(
                f"record: {rate:.6g} samples a second, too few for a mode at {highest:.4g} Hz, "
                f"which needs {RATE:g} a cycle; record at {RATE * highest:.4g} or more"
            )
        rows = motion_at(points)
        local = np.zeros((*rows.shape[:-3], 0, 3, 6)) if feet is None else motion_at(feet)
        if frames is not None:
            local = np.asarray(frames, dtype=float) @ local
        both = np.concatenate([rows, local], axis=-3) @ modes.shape[..., None, :, :]
        flat = both.reshape(*both.shape[:-3], -1, 6)
        self.at = rows.shape[-3]
        self.enters = np.ascontiguousarray(modes.share[..., :3])
        self.rate, self.mean, self.watch = rate, np.asarray(mean, dtype=float), watch
        of_z, of_v, self.below = Step.of(1 / rate, modes.omega, modes.zeta).as_filter()
        of_felt = -(modes.omega**2) * of_z - 2 * modes.zeta * modes.omega * of_v
        # First what is felt, then travel: numerators of each mode, sums, and rows with their ends.
        self.above = np.stack([of_felt, of_z], axis=1)[..., None]
        self.sums = np.zeros((2, *of_z.shape[1:]))
        self.squares = np.zeros((2, *of_z.shape[1:], 6))
        self.rows = [_Rows(flat[..., : 3 * self.at, :]), _Rows(flat)]
        # Memory that is used again is fast.
        self.own, self.tap = (np.empty((*self.above.shape[1:-1], SLICE)) for _ in range(2))
        self.samples = 0
        self.base, self.square = np.zeros(3), np.zeros((3, 3))
        self.restart()

    def restart(self) -> None:
        """At rest again, as after a gap."""
        self.state = np.zeros((*self.below.shape[1:], 2))

    def add(self, acceleration: FloatArray) -> None:
        """The next samples (n, 3) of the case. [m/s²]"""
        for first in range(0, len(acceleration), SPAN):
            self._span(np.ascontiguousarray((acceleration[first : first + SPAN] - self.mean).T))

    def _span(self, base: FloatArray) -> None:
        from scipy.signal import lfilter

        count = base.shape[-1]
        self.samples += count
        # Each mode's poles alone; two samples before the first are what it remembers.
        poles = np.empty((*self.state.shape[:-1], count + 2))
        poles[..., :2] = self.state
        for part in _slices(count):
            own = base[:, part]
            self.base += own.sum(axis=-1)
            self.square += own @ own.T
            poles[..., 2 + part.start : 2 + part.stop] = self.enters @ own
        for k in np.ndindex(poles.shape[:-1]):
            _, one, two = (float(value) for value in self.below[(slice(None), *k)])
            before, last = self.state[k]
            start = [-one * last - two * before, -two * last]
            poles[k][2:] = lfilter([1.0], [1.0, one, two], poles[k][2:], zi=start)[0]
        self.state = poles[..., -2:].copy()
        for part in _slices(count):
            taps = [poles[..., 2 - k + part.start : 2 - k + part.stop] for k in range(3)]
            moved = self._taken(taps)
            if self.watch is not None:
                self.watch(moved[..., 3 * self.at :, :])

    def _taken(self, taps: Sequence[FloatArray]) -> FloatArray:
        """The next samples, from the poles now, one and two samples ago; travel (..., r, m)."""
        own, tap = (array[..., : taps[0].shape[-1]] for array in (self.own, self.tap))
        np.multiply(self.above[0], taps[0], out=own)
        for above, earlier in zip(self.above[1:], taps[1:], strict=True):
            np.multiply(above, earlier, out=tap)
            np.add(own, tap, out=own)
        self.sums += np.add.reduce(own, axis=-1)
        self.squares += own @ own.swapaxes(-1, -2)
        short = own.astype(np.float32)
        self.rows[0].take(short[0])
        return self.rows[1].take(short[1])

    def result(self) -> RecordResponse:
        """What the samples so far did."""
        mean = self.base / max(self.samples, 1)
        scatter = self.square / max(self.samples, 1) - np.outer(mean, mean)
        rms = np.sqrt(np.maximum(np.diag(scatter), 0.0))
        moving = np.where(rms > 0, rms, np.nan)
        (least, most, level), (low, high, travel) = (
            rows.read(total / max(self.samples, 1), square / max(self.samples, 1))
            for rows, total, square in zip(self.rows, self.sums, self.squares, strict=True)
        )
        points, feet = slice(self.at), slice(self.at, None)
        return RecordResponse(
            seconds=self.samples / self.rate,
            base_mean=self.mean + mean,
            base_rms=rms,
            base_together=scatter / np.outer(moving, moving),
            acceleration=np.maximum(-least, most),
            acceleration_rms=level,
            low=low[..., points, :],
            high=high[..., points, :],
            travel_rms=travel[..., points, :],
            foot_low=low[..., feet, :],
            foot_high=high[..., feet, :],
            foot_rms=travel[..., feet, :],
        )


class _Rows:
    """Rows (..., r) of a response, `part` (..., r, 6) of each mode, and how far each goes."""

    def __init__(self, part: FloatArray) -> None:
        self.part = np.ascontiguousarray(part)
        self.low = np.full(part.shape[:-1], np.inf)
        self.high = np.full(part.shape[:-1], -np.inf)
        # Seven digits do for what is only compared.
        self.short = self.part.astype(np.float32)
        self.out = np.empty((*part.shape[:-1], SLICE), dtype=np.float32)

    def take(self, own: npt.NDArray[np.float32]) -> FloatArray:
        """The next samples of the modes (..., 6, m); the response (..., r, m)."""
        out = self.out[..., : own.shape[-1]]
        np.matmul(self.short, own, out=out)
        self.low = np.minimum(self.low, np.minimum.reduce(out, axis=-1))
        self.high = np.maximum(self.high, np.maximum.reduce(out, axis=-1))
        return out

    def read(
        self, mean: FloatArray, square: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Lowest, highest and rms about the mean, (..., r/3, 3) each."""
        scatter = square - mean[..., :, None] * mean[..., None, :]
        level = (self.part @ mean[..., None])[..., 0]
        of_rows = np.einsum("...rk,...kl,...rl->...r", self.part, scatter, self.part)
        low, high, rms = (
            value.reshape(*value.shape[:-1], -1, 3)
            for value in (
                self.low - level,
                self.high - level,
                np.sqrt(np.maximum(of_rows, 0.0)),
            )
        )
        return low, high, rms


def _slices(count: int) -> Iterator[slice]:
    for first in range(0, count, SLICE):
        yield slice(first, min(first + SLICE, count))

"""Many motions side by side in time, each with a clock and a step of its own.

The pair of Dormand and Prince (J. Comput. Appl. Math. 6 (1980) 19), orders 5 and 4, on arrays
(d, k, b): designs, what each state holds, motions. What happens at an instant, such as a landing,
cuts the step of its own motion and of no other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from isolator.units import FloatArray

_A = (
    np.array([1 / 5]),
    np.array([3 / 40, 9 / 40]),
    np.array([44 / 45, -56 / 15, 32 / 9]),
    np.array([19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729]),
    np.array([9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656]),
    np.array([35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84]),
)
_ERROR = np.array(
    [71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40],
)
# Half way through a step to fourth order (Shampine, Math. Comp. 46 (1986) 135).
_MIDDLE = np.array(
    [
        6025192743 / 30085553152 / 2,
        0,
        51252292925 / 65400821598 / 2,
        -2691868925 / 45128329728 / 2,
        187940372067 / 1594534317056 / 2,
        -1776094331 / 19743644256 / 2,
        11237099 / 235043384 / 2,
    ]
)
_LEAST, _MOST = 0.2, 4.0
_SHARP = 1e-10
"""Of the whole time: a shorter step is not cut, whatever happens in it. [-]"""
_STALLED = 1000
"""Tries after which a motion that does not get on is given up."""


class Law(Protocol):
    """What moves the states (d, k, b) of motions."""

    def rate(self, state: FloatArray) -> FloatArray:
        """Rate of change (d, k, b) of the states. [1/s]"""

    def until_event(
        self, time: FloatArray, state: FloatArray, step: FloatArray, reached: FloatArray
    ) -> FloatArray:
        """How much (d, b) of a step may be taken before something happens; `step` if nothing. [s]

        Parameters
        ----------
        time, step : (d, b) arrays
            [s]
        state, reached : (d, k, b) arrays
            Before and after the step.
        """

    def arrive(
        self, time: FloatArray, state: FloatArray, moved: npt.NDArray[np.bool_]
    ) -> npt.NDArray[np.bool_]:
        """Change `state` in place where something happens; which motions (d, b) it changed.

        `moved` (d, b) are those that have taken a step.
        """


@dataclass(frozen=True)
class History:
    """Motions (d, b) at instants (t), not evenly apart.

    Attributes
    ----------
    time : (t, d, b) array
        Does not fall; twice the same where a state jumps, or a motion waits for others. [s]
    state : (t, d, k, b) array
    converged : (d, b) bool array
        False where the steps became too many or too small: the motion is then meaningless.
    """

    time: FloatArray
    state: FloatArray
    converged: npt.NDArray[np.bool_]

    @property
    def jumps(self) -> npt.NDArray[np.bool_]:
        """Whether the state jumps from an instant to the next, (t - 1, d, b)."""
        changed = (self.state[1:] != self.state[:-1]).any(axis=2)
        return np.asarray(changed & (self.time[1:] == self.time[:-1]))


def follow(
    law: Law,
    state: FloatArray,
    until: FloatArray,
    scale: FloatArray,
    first: FloatArray,
    *,
    tolerance: float = 2e-5,
    most: int = 4000,
) -> History:
    """Follow motions from time 0 until an instant of their own.

    Parameters
    ----------
    law : Law
    state : (d, k, b) array
        At time 0.
    until : (d, b) array
        [s]
    scale : (d, k, b) array
        Size of each entry of the state; an error of a step counts as a share of it.
    first : (d, b) array
        First step. [s]
    tolerance : float
        Largest error of a step. [-]
    most : int
        Steps at the most.

    Returns
    -------
    History
        With the middle of every step beside its end.
    """
    y, t, h = state.copy(), np.zeros(until.shape), np.minimum(first, until)
    k = np.empty((7, *y.shape))
    flat = k.reshape(7, -1)
    k[0] = law.rate(y)
    times, states = [t.copy()], [y.copy()]
    tiny, sharp = 1e-9 * until, _SHARP * until
    lost = np.zeros(until.shape, dtype=bool)
    mark, tries = t.copy(), np.zeros(until.shape, dtype=int)
    for _ in range(most):
        live = (t < until) & ~lost
        if not live.any():
            break
        h = np.where(live, np.minimum(h, until - t), 0.0)
        wide = h[:, None]
        for s, a in enumerate(_A, start=1):
            new = y + wide * (a @ flat[:s]).reshape(y.shape)
            k[s] = law.rate(new)
        error = np.abs((_ERROR @ flat).reshape(y.shape)) * wide / scale
        worst = error.max(axis=1) / tolerance
        fit = np.isfinite(worst)
        worst = np.where(fit, np.maximum(worst, 1e-10), 1e10)
        whole = law.until_event(t, y, h, new)
        # a force that jumps pushes at once, however short the step: it happens at its end
        whole = np.where(h <= sharp, h, whole)
        good = live & fit & (worst <= 1) & (whole >= h)
        middle = y + wide * (_MIDDLE @ flat).reshape(y.shape)
        keep = good[:, None]
        if good.any():
            times += [np.where(good, t + h / 2, t)]
            states += [np.where(keep, middle, y)]
            t, y = np.where(good, t + h, t), np.where(keep, new, y)
            t = np.where(until - t < tiny, until, t)
            times += [t.copy()]
            states += [y.copy()]
        jumped = law.arrive(t, y, good)
        if jumped.any():
            times += [t.copy()]
            states += [y.copy()]
            k[0] = law.rate(y)
        else:
            k[0] = np.where(keep, k[6], k[0])
        factor = np.clip(0.9 * worst**-0.2, _LEAST, _MOST)
        cut = live & (worst <= 1) & (whole < h)
        h = np.where(cut, np.maximum(whole, sharp), h * factor)
        lost |= live & ~good & ~(h >= tiny / 100)
        gets_on = t - mark > tiny
        mark, tries = np.where(gets_on, t, mark), np.where(gets_on, 0, tries + live)
        lost |= live & (tries > _STALLED)
    done = (t >= until) & ~lost
    return History(*_without_waiting(np.stack(times), np.stack(states)), done)


def _without_waiting(time: FloatArray, state: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Instants (t, d, b) and states (t, d, k, b), each motion without those in which it waits.

    A motion that has fewer of them than another waits at its end.
    """
    count = len(time)
    own = np.ones(time.shape, dtype=bool)
    own[1:] = (time[1:] > time[:-1]) | (state[1:] != state[:-1]).any(axis=2)
    kept = own.sum(axis=0)
    index = np.argsort(~own, axis=0, kind="stable")[: kept.max()]
    index = np.where(np.arange(len(index))[:, None, None] < kept, index, count - 1)
    return (
        np.take_along_axis(time, index, axis=0),
        np.take_along_axis(state, index[:, :, None], axis=0),
    )

"""What a build may hide, by what its tap says: each fault as the model has it, ranked by fit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.optimize import linear_sum_assignment

from isolator.buildsheet import TAP_OVER
from isolator.suspension import Pose, Suspension
from isolator.units import FloatArray

MODEL = 0.015
"""What a frequency of the model is off by itself, as a share. [-]"""

FAR = 25.0
"""Most that one mode counts: it is then none of the model's. [-]"""

EACH = 4.0
"""What a further number that is fitted has to gain. [-]"""

CHOICES = {"crushed": 5, "one soft": 4, "taut": 15, "lighter": 8}
"""Among how many places a fault was looked for, or how seldom it is; it costs the logarithm."""

ALIKE = 2.0
"""Fits whose misfit is less than this above the best one's are as good. [-]"""

MULTIPLE = 0.012
"""How near a frequency is to a whole multiple of the strongest one, as a share. [-]"""

OVERS = np.linspace(*TAP_OVER, 6)

CRUSHED = "crushed, or its bolt too tight"

TOLD_APART = {
    "as predicted": "",
    "crushed": "loosen the bolt by a turn and tap again: only a crushed mount changes; look "
    "whether the sleeve bottoms metal to metal",
    "taut": "unplug cables and open straps one by one and tap again",
    "cold": "let it stand in the warm for some hours and tap again",
    "heavier": "weigh what floats; softer rubber than stated reads the same",
    "lighter": "weigh what floats; stiffer rubber than stated reads the same",
    "one soft": "push each corner with the same force: one gives way more",
    "tray bends": "tap the bare tray on soft foam: its own bending rings there too",
    "touches": "run a strip of paper all round: it catches where something touches; tap softer "
    "and the multiples go",
}
"""What tells a fault from its look-alikes."""


@dataclass(frozen=True)
class Seen:
    """Modes that were measured, by rising frequency.

    Attributes
    ----------
    frequency, within : (m,) arrays
        And half of the 95 % interval. [Hz]
    loss, loss_within : (m,) arrays
        Loss factor, nan if unknown. [-]
    strength : (m,) array
        How strong each is at the start, of any unit.
    falls : bool or None
        The frequency falls as the ring dies away, as where something is touched at first.
    """

    frequency: FloatArray
    within: FloatArray
    loss: FloatArray
    loss_within: FloatArray
    strength: FloatArray
    falls: bool | None = None

    @property
    def off(self) -> FloatArray:
        """Standard deviation of the logarithm of each (m,), of measurement and model. [-]"""
        return np.asarray(np.hypot(self.within / 1.96 / self.frequency, MODEL))


@dataclass(frozen=True)
class Fault:
    """A fault at its best fit.

    Attributes
    ----------
    name : a key of `TOLD_APART`
    words : str
        What it is, and by how much.
    misfit : float
        Squared distance of what was measured from what it would give, in standard deviations.
    score : float
        The same with what its numbers cost; the least is the likeliest.
    apart : str
        What would tell it from others.
    predicted : (6,) array
        What it would give. [Hz]
    energy : (6, 6) array
        Share of each motion in each of its modes. [-]
    match : (m,) int array
        Which of these each measured mode is, -1 where none.
    """

    name: str
    words: str
    misfit: float
    score: float
    apart: str
    predicted: FloatArray
    energy: FloatArray
    match: np.ndarray[tuple[int], np.dtype[np.intp]]


_Variants: TypeAlias = tuple[str, int, Callable[[npt.NDArray[np.intp]], str], Suspension]
"""Key, numbers that are fitted, words of some of them, suspensions (s,)."""


def ranked(held: Suspension, pose: Pose, seen: Seen, names: Sequence[str]) -> list[Fault]:
    """All faults at their best fit, the likeliest first.

    Each is fitted by its own number, with rubber at small strain up to 1.5 times as stiff as in
    transport, by least squares of the logarithms of the frequencies over the best match of modes.
    A match that is five standard deviations off is no match.

    Parameters
    ----------
    held : Suspension
        Of one design as stated, at the temperature of the tap.
    pose : Pose
        Where it rests.
    seen : Seen
    names : sequence of str
        Of the mounts.
    """
    found = []
    for name, params, words, variants in _variants(held, names):
        every = replace(variants, dynamic_ratio=variants.dynamic_ratio[None] * _over(variants))
        rest = Pose(pose.shift, pose.turn, pose.found)
        frequency = every.frequencies(rest)
        cost, match = _matched(frequency.reshape(-1, 6), seen)
        best = int(cost.argmin())
        by_over = cost.reshape(len(OVERS), -1)
        alike = by_over.min(axis=1) <= cost[best] + ALIKE
        which = by_over.argmin(axis=1)[alike]
        found.append(
            Fault(
                name=name,
                words=words(which),
                misfit=float(cost[best]),
                score=float(cost[best]) + EACH * params + np.log(CHOICES.get(name, 1)),
                apart=TOLD_APART[name],
                predicted=frequency.reshape(-1, 6)[best],
                energy=_energy(variants, best % by_over.shape[1], pose),
                match=match[best],
            )
        )
    plain = next(fault for fault in found if fault.name == "as predicted")
    found += _beyond(plain, found, seen)
    best_of: dict[str, Fault] = {}
    for fault in sorted(found, key=lambda fault: fault.score):
        best_of.setdefault(fault.name, fault)
    return list(best_of.values())


def _energy(variants: Suspension, which: int, pose: Pose) -> FloatArray:
    """Share of each motion in the modes of one of the variants, (6, 6)."""
    one = variants.taken(np.array([which]))
    rest = Pose(pose.shift[None], pose.turn[None], pose.found[None])
    return np.asarray(one.undamped(rest)[1][0])


def _over(variants: Suspension) -> FloatArray:
    return OVERS.reshape(-1, *[1] * variants.dynamic_ratio.ndim)


def _matched(
    frequency: FloatArray, seen: Seen
) -> tuple[FloatArray, np.ndarray[tuple[int, int], np.dtype[np.intp]]]:
    """Misfit (s,) of predictions (s, 6), and which mode each measured one is (s, m)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = np.log(seen.frequency[:, None]) - np.log(frequency[:, None, :])
    square = np.nan_to_num((apart / seen.off[:, None]) ** 2, nan=FAR, posinf=FAR)
    square = np.minimum(square, FAR)
    match = np.full((len(frequency), len(seen.frequency)), -1)
    cost = np.full(len(frequency), 0.0)
    for s, table in enumerate(square):
        rows, columns = linear_sum_assignment(table)
        own = table[rows, columns]
        cost[s] = own.sum() + FAR * (len(seen.frequency) - len(rows))
        good = own < FAR
        match[s, rows[good]] = columns[good]
    return cost, match


def _variants(held: Suspension, names: Sequence[str]) -> Iterator[_Variants]:
    """Faults: key, numbers that are fitted, words of a variant, suspensions (s,)."""
    n = len(names)
    one = Suspension.stacked([held])
    yield "as predicted", 0, lambda _: "the model as stated", one
    more = np.geomspace(1.15, 12.0, 28)
    for k in (*range(n), None):
        factor = np.ones((len(more), n, 2))
        factor[:, slice(None) if k is None else k, 0] = more[:, None] if k is None else more
        who = "all mounts" if k is None else f"mount {names[k]}"
        yield (
            "crushed",
            1,
            partial(_told, f"{who} ", more, f" times as stiff along as stated: {CRUSHED}"),
            _scaled(held, factor),
        )
    yield (
        "cold",
        1,
        partial(_told, "all mounts ", more, " times as stiff: cold, old, or harder than stated"),
        _scaled(held, np.ones((len(more), n, 2)) * more[:, None, None]),
    )
    less = 1 / np.geomspace(1.3, 6.0, 16)
    for k in range(n):
        factor = np.ones((len(less), n, 2))
        factor[:, k] = less[:, None]
        yield (
            "one soft",
            1,
            partial(_told, f"mount {names[k]} has ", less, " of its stiffness: torn or loose"),
            _scaled(held, factor),
        )
    for name, shares in (
        ("heavier", np.linspace(1.06, 2.2, 39)),
        ("lighter", np.linspace(0.94, 0.45, 25)),
    ):
        for turns in (True, False):
            every = Suspension.stacked([held] * len(shares))
            inertia = shares[:, None, None] if turns else 1.0
            yield (
                name,
                1,
                partial(
                    _told,
                    "the payload weighs ",
                    shares,
                    " times what is stated, or the rubber is "
                    + ("softer" if name == "heavier" else "stiffer"),
                ),
                replace(every, mass=every.mass * shares, inertia=every.inertia * inertia),
            )
    yield from _cables(held)


def _told(before: str, values: FloatArray, after: str, which: npt.NDArray[np.intp]) -> str:
    """Words with the range of some of the values."""
    ends = values[which].min(), values[which].max()
    low, high = (f"{float(f'{end:.2g}'):g}" for end in ends)
    return f"{before}{low if low == high else f'{low} to {high}'}{after}"


def _cables(held: Suspension) -> Iterator[_Variants]:
    """A taut cable along one axis at the middle of the payload or of one of its sides."""
    stiff = np.diag(held.mount_stiffness())[:3]
    shares = np.geomspace(0.05, 3.0, 20)
    reach = np.abs(held.position).max(axis=0)
    spots = {"the middle": np.zeros(3)}
    for k, words in (
        (0, ("the left end", "the right end")),
        (1, ("the handle side", "the hinge side")),
    ):
        for sign, word in zip((-1, 1), words, strict=True):
            spots[word] = sign * reach * np.eye(3)[k]
    for k, axis in enumerate("xyz"):
        for word, at in spots.items():
            every = Suspension.stacked([held] * len(shares))
            pull = np.zeros((len(shares), 1, 3))
            pull[:, 0, k] = shares * stiff[k]
            where = np.broadcast_to(at, (len(shares), 1, 3))
            loss = np.zeros((len(shares), 1))
            yield (
                "taut",
                1,
                partial(
                    _told,
                    f"a cable, hose or strap pulls along {axis} at {word} with ",
                    shares * stiff[k] / 1e3,
                    " N/mm",
                ),
                replace(
                    every,
                    cable_position=np.concatenate([every.cable_position, where], axis=1),
                    cable_stiffness=np.concatenate([every.cable_stiffness, pull], axis=1),
                    cable_loss=np.concatenate([every.cable_loss, loss], axis=1),
                ),
            )


def _scaled(held: Suspension, factor: FloatArray) -> Suspension:
    """Suspensions (s,) with curves times factors (s, n, 2)."""
    every = Suspension.stacked([held] * len(factor))
    return replace(every, curve=every.curve.scaled(factor))


def _beyond(plain: Fault, found: Sequence[Fault], seen: Seen) -> Iterator[Fault]:
    """Faults that six modes cannot have: a tray of its own, something that touches."""
    stray = np.flatnonzero(plain.match < 0)
    if stray.size == 0 and not seen.falls:
        return
    f = seen.frequency
    others = np.setdiff1d(np.arange(len(f)), stray)
    strongest = f[others[seen.strength[others].argmax()]] if others.size else np.nan
    times = f[stray] / strongest
    whole = np.round(times)
    multiple = stray[
        (whole >= 2) & (whole <= 4) & (np.abs(times - whole) < MULTIPLE * whole)
    ].tolist()
    kept = plain.misfit - FAR * len(multiple)
    if multiple or seen.falls:
        gained = EACH if seen.falls else 0.0
        listed = ", ".join(f"{f[k]:.3g} Hz" for k in sorted(multiple))
        why = f"{listed} at a whole multiple of the strongest mode" if listed else ""
        falls = "its frequency falls as the ring dies away" if seen.falls else ""
        yield replace(
            plain,
            name="touches",
            words="something touches: " + ", and ".join(filter(None, [why, falls])),
            misfit=kept,
            score=kept + EACH - gained,
            apart=TOLD_APART["touches"],
        )
    if stray.size == 1 and others.size:
        kept = plain.misfit - FAR
        yield replace(
            plain,
            name="tray bends",
            words=f"{f[stray[0]]:.3g} Hz is none of the six modes: the tray's own bending, or that "
            "of something on it",
            misfit=kept,
            score=kept + 2 * EACH,
            apart=TOLD_APART["tray bends"],
        )

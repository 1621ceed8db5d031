"""The stiffness window: along one stiffness, what each question allows, and what is left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from isolator.brief import Brief, brief_of
from isolator.mount import Mount
from isolator.sweep import CHUNK, Screen
from isolator.units import FloatArray, InputError

QUESTIONS: Mapping[str, tuple[str, ...]] = {
    "sag and load": ("stands", "load share", "rated load", "sag", "held when pulled", "storage"),
    "isolation": (
        "isolation", "vibration limit", "part limit", "coincidence", "octave", "source", "bending",
        "sine limit", "board", "walk limit", "walk peak", "pulse peak", "hop",
    ),
    "way under vibration": ("vibration travel", "pulse travel", "clearance"),
    "way in falls": ("drop travel", "slap-down travel", "set-down travel", "topple travel"),
    "peak in falls": ("drop peak", "set-down peak", "drop force", "set-down force", "part drop",
        "slap-down peak", "slap-down force", "topple peak", "topple force"),
}  # fmt: skip
"""What is asked along the axis, and the checks that answer it."""

OTHERS = "everything else"

RANGE = (0.05, 20.0)
"""Ends of the axis over the brief's own stiffness. [-]"""

STEPS = 97
"""How many stiffnesses are tried: steps of an eleventh of an octave."""

PASSES = (8, 4, 2, 1)
"""A pass of `refined` goes over every so manyth of them."""

PIECE = 12
"""So many are screened before `refined` lets others have their turn."""

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Band:
    """Where a kind of mount lies on the axis.

    Attributes
    ----------
    name : str
    low, stated, high : float
        Its stiffness along, from end to end of what it may be off. [N/m]
    """

    name: str
    low: float
    stated: float
    high: float


@dataclass(frozen=True)
class Window:
    """What is allowed along the stiffness of all mounts, the shape of the brief's own kept.

    As stated and by energy, as designs are screened: the mounts' curves, along and across, are
    multiplied by one factor and everything else stays.

    Attributes
    ----------
    stiffness : (s,) array
        Of one mount along its axis, the mean over the places. [N/m]
    bounce : (s,) array
        The mode that moves most along the vertical, nan if unknown. [Hz]
    allowed : mapping of question to (s,) bool array
        None of its required checks fails.
    open : mapping of question to (s,) bool array
        One of them is incomplete.
    limits : mapping of question to (s,) sequence of str
        Id of the first of its checks that fails, empty where none does.
    bands : sequence of Band
    own : float
        The brief's own. [N/m]
    """

    stiffness: FloatArray
    bounce: FloatArray
    allowed: Mapping[str, Bools]
    open: Mapping[str, Bools]
    limits: Mapping[str, Sequence[str]]
    bands: Sequence[Band]
    own: float

    @property
    def left(self) -> Bools:
        """Where nothing fails (s,)."""
        return np.asarray(np.all(list(self.allowed.values()), axis=0))

    def unsettled(self) -> dict[str, Bools]:
        """Where nothing of a question fails but something is incomplete (s,), if anywhere."""
        unknown = {name: own & self.open[name] for name, own in self.allowed.items()}
        return {name: own for name, own in unknown.items() if own.any()}

    def intervals(self, allowed: Bools) -> list[tuple[float, float]]:
        """Ends of the stretches of the axis that are allowed. [N/m]"""
        edges = np.diff(np.concatenate([[0], allowed.astype(int), [0]]))
        starts, stops = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
        return [
            (float(self.stiffness[a]), float(self.stiffness[b]))
            for a, b in zip(starts, stops, strict=True)
        ]

    def opens(self) -> dict[str, list[tuple[float, float]]]:
        """Where the window is shut: questions without which it is open, and where."""
        out = {}
        for name in self.allowed:
            others = [own for key, own in self.allowed.items() if key != name]
            if (found := np.asarray(np.all(others, axis=0))).any():
                out[name] = self.intervals(found)
        return {} if self.left.any() else out


def window(case: Brief | str | Path) -> Window:
    """Try the mounts of a brief with one factor on their stiffness.

    Parameters
    ----------
    case : Brief, or the path of a brief

    Raises
    ------
    InputError
        As `read_brief`.
    """
    brief = brief_of(case)
    factors = np.geomspace(*RANGE, STEPS)
    return _window(brief, [_part(brief, factors[k : k + CHUNK]) for k in range(0, STEPS, CHUNK)])


def refined(brief: Brief) -> Iterator[Window | None]:
    """The window in passes, each over twice as many stiffnesses; the last one is `window`'s.

    None comes in between, when a part of a pass is done: the work may stop at any of them.

    Parameters
    ----------
    brief : Brief

    Raises
    ------
    InputError
        As `window`.
    """
    factors, done, parts = np.geomspace(*RANGE, STEPS), set[int](), list[_Part]()
    for every in PASSES:
        fresh = [k for k in range(0, STEPS, every) if k not in done]
        done.update(fresh)
        for start in range(0, len(fresh), PIECE):
            parts.append(_part(brief, factors[fresh[start : start + PIECE]]))
            yield None
        yield _window(brief, parts)


_Part: TypeAlias = tuple[FloatArray, Screen]


def _part(brief: Brief, factors: FloatArray) -> _Part:
    return factors, Screen.of(brief, [brief.design.stiffened(factor) for factor in factors])


def _window(brief: Brief, parts: Sequence[_Part]) -> Window:
    """The window of designs that were screened in some order."""
    own = float(np.mean([_along(place.mount) for place in brief.design.places]))
    if not own > 0:
        raise InputError(
            "mounts: their stiffness where they are not deflected is zero; the window goes by it, "
            "give curves that rise from zero"
        )
    factors = np.concatenate([some for some, _ in parts])
    order = np.argsort(factors)
    screens = [screen for _, screen in parts]
    ids, required = list(screens[0].ids), screens[0].required
    status = np.concatenate([screen.status for screen in screens])[order]
    modes = np.concatenate([screen.response.leg_modes[:, 0, 1] for screen in screens])[order]
    of = [_question(name) for name in screens[0].asked]
    allowed, opened, limits = {}, {}, {}
    for question in (*QUESTIONS, OTHERS):
        which = [k for k, name in enumerate(of) if name == question and required[k]]
        fails = status[:, which] == "fail"
        allowed[question] = ~fails.any(axis=1)
        opened[question] = (status[:, which] == "incomplete").any(axis=1)
        limits[question] = [ids[which[int(row.argmax())]] if row.any() else "" for row in fails]
    return Window(
        stiffness=own * factors[order],
        bounce=modes,
        allowed=allowed,
        open=opened,
        limits=limits,
        bands=[_band(mount) for mount in brief.grid.mounts.values()],
        own=own,
    )


def _question(name: str) -> str:
    """The question that a check belongs to."""
    starts = ((question, own) for question, own in QUESTIONS.items())
    return next((question for question, own in starts if name.startswith(own)), OTHERS)


def _along(mount: Mount) -> float:
    """Static stiffness along where it is not deflected. [N/m]"""
    return float(mount.undeflected()[0])


def _band(mount: Mount) -> Band:
    stated = _along(mount)
    low, high = (stated * mount.over("along", end) for end in (-1.0, 1.0))
    return Band(mount.name, low, stated, high)

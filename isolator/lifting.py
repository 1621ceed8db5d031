"""Lifting by hand: the revised NIOSH equation, for what it covers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import degrees, pi
from typing import Literal

from isolator.units import (
    ANGLE,
    DURATION,
    GAP,
    SIZE,
    InputError,
    OptionalMeasure,
    number,
    si_or_none,
)

LOAD_CONSTANT = 23.0
"""Recommended weight of the best lift (niosh-94-110). [kg]"""

WAIST = 0.75
"""Height from which on the tables have their second column. [m]"""

FREQUENCY_MULTIPLIER = {
    # lifts a minute: up to 1 h, 2 h, 8 h; each below and from 75 cm on
    0.2: ((1.00, 1.00), (0.95, 0.95), (0.85, 0.85)),
    0.5: ((0.97, 0.97), (0.92, 0.92), (0.81, 0.81)),
    1: ((0.94, 0.94), (0.88, 0.88), (0.75, 0.75)),
    2: ((0.91, 0.91), (0.84, 0.84), (0.65, 0.65)),
    3: ((0.88, 0.88), (0.79, 0.79), (0.55, 0.55)),
    4: ((0.84, 0.84), (0.72, 0.72), (0.45, 0.45)),
    5: ((0.80, 0.80), (0.60, 0.60), (0.35, 0.35)),
    6: ((0.75, 0.75), (0.50, 0.50), (0.27, 0.27)),
    7: ((0.70, 0.70), (0.42, 0.42), (0.22, 0.22)),
    8: ((0.60, 0.60), (0.35, 0.35), (0.18, 0.18)),
    9: ((0.52, 0.52), (0.30, 0.30), (0.00, 0.15)),
    10: ((0.45, 0.45), (0.26, 0.26), (0.00, 0.13)),
    11: ((0.41, 0.41), (0.00, 0.23), (0.00, 0.00)),
    12: ((0.37, 0.37), (0.00, 0.21), (0.00, 0.00)),
    13: ((0.00, 0.34), (0.00, 0.00), (0.00, 0.00)),
    14: ((0.00, 0.31), (0.00, 0.00), (0.00, 0.00)),
    15: ((0.00, 0.28), (0.00, 0.00), (0.00, 0.00)),
}
"""Table of the manual, recalled (memory)."""

COUPLING_MULTIPLIER = {"good": (1.0, 1.0), "fair": (0.95, 1.0), "poor": (0.90, 0.90)}
"""Below and from 75 cm on, recalled (memory)."""


HIGHEST = 1.75
"""Where the hands may be at the most, at both ends of a lift (memory). [m]"""

TWIST = ANGLE.within(0.0, pi)
"""How far somebody who lifts may turn."""


@dataclass(frozen=True, kw_only=True)
class Carry:
    """A lift of the whole case; what is unknown is left out and ends as not checked.

    Parameters
    ----------
    hands : 1 or 2, optional
    horizontal : text or quantity [length], optional
        From between the ankles to the hands.
    height : text or quantity [length], optional
        Of the hands above the floor where the lift starts.
    lift : text or quantity [length], optional
        How far up it goes.
    angle : text or quantity [angle], optional
        Between the case and straight ahead, "0 deg" without a twist.
    lifts_per_minute : number, optional
    duration : text or quantity [time], optional
        How long that goes on.
    coupling : "good", "fair" or "poor", optional
        How well the hands hold it.

    Examples
    --------
    Package inspection, example 4 of niosh-94-110: 34.9 lb with the manual's 51 lb for 23 kg and
    its 10 in for 25 cm.

    >>> lift = Carry(hands=2, horizontal="25 cm", height="22 in", lift="37 in", angle="0 deg",
    ...              lifts_per_minute=3, duration="45 min", coupling="fair")
    >>> print(f"{lift.limit() / LOAD_CONSTANT * 51:.1f}")
    34.9
    """

    hands: int | None = None
    horizontal: OptionalMeasure = OptionalMeasure(SIZE)
    height: OptionalMeasure = OptionalMeasure(GAP)
    lift: OptionalMeasure = OptionalMeasure(GAP)
    angle: OptionalMeasure = OptionalMeasure(TWIST)
    lifts_per_minute: float | None = None
    duration: OptionalMeasure = OptionalMeasure(DURATION)
    coupling: Literal["good", "fair", "poor"] | None = None

    def __post_init__(self) -> None:
        if self.hands not in (1, 2, None):
            raise InputError(f"Carry.hands = {self.hands!r}: write 1 or 2")
        if self.coupling not in (*COUPLING_MULTIPLIER, None):
            raise InputError(f"Carry.coupling = {self.coupling!r}: write good, fair or poor")
        if self.lifts_per_minute is not None:
            often = number(self.lifts_per_minute, "Carry.lifts_per_minute", 0.0, 60.0)
            object.__setattr__(self, "lifts_per_minute", often)

    def unknown(self) -> str:
        """The first key that is not given, empty if all are."""
        names = ("hands", "horizontal", "height", "lift", "angle", "lifts_per_minute")
        given = {name: getattr(self, name) for name in (*names, "duration", "coupling")}
        return next((name for name, value in given.items() if value is None), "")

    def outside(self) -> Iterator[tuple[str, str]]:
        """What the equation does not cover: key → sentence. The limits are recalled (memory)."""
        if self.hands == 1:
            yield "hands", "the equation is for lifts with two hands, not with one"
        for name, most in (("horizontal", 0.63), ("height", HIGHEST), ("lift", HIGHEST)):
            value = si_or_none(self, name)
            if value is not None and value > most:
                yield name, f"the equation ends at {SIZE.text(most)}, not {SIZE.text(value)}"
        start, up = si_or_none(self, "height"), si_or_none(self, "lift")
        if start is not None and up is not None and up <= HIGHEST < start + up:
            yield (
                "lift",
                f"it ends {SIZE.text(start + up)} up, the equation at {SIZE.text(HIGHEST)}",
            )
        if self._degrees() > 135:
            yield "angle", f"the equation ends at 135 degrees, not {self._degrees():g}"
        lasting = si_or_none(self, "duration")
        if lasting is not None and lasting > 8 * 3600:
            yield "duration", "the equation ends at 8 hours"
        if self.unknown() in ("", "coupling") and self.frequency_multiplier() == 0:
            yield "lifts_per_minute", "the equation allows no lift so often for so long"

    def _degrees(self) -> float:
        return degrees(si_or_none(self, "angle") or 0.0)

    def frequency_multiplier(self) -> float:
        """FM for the next row of the table that is not less. [-]"""
        often, lasting = self.lifts_per_minute or 0.0, si_or_none(self, "duration") or 0.0
        row = next((r for f, r in FREQUENCY_MULTIPLIER.items() if often <= f), ((0.0, 0.0),) * 3)
        hours = 0 if lasting <= 3600 else 1 if lasting <= 2 * 3600 else 2
        return row[hours][(si_or_none(self, "height") or 0.0) >= WAIST]

    def multipliers(self) -> dict[str, float]:
        """HM, VM, DM, AM, FM and CM of a lift of which everything is known. [-]

        HM = 25/H, VM = 1 − .003|V − 75|, DM = .82 + 4.5/D, AM = 1 − .0032 A with cm and degrees
        (niosh-94-110, published); none is above 1.
        """
        h, v, d = (100 * (si_or_none(self, key) or 0.0) for key in ("horizontal", "height", "lift"))
        return {
            "HM": 25 / max(h, 25.0),
            "VM": 1 - 0.003 * abs(v - 75),
            "DM": 0.82 + 4.5 / max(d, 25.0),
            "AM": 1 - 0.0032 * self._degrees(),
            "FM": self.frequency_multiplier(),
            "CM": COUPLING_MULTIPLIER[self.coupling or "poor"][v >= 100 * WAIST],
        }

    def limit(self) -> float | None:
        """Recommended weight limit; None if unknown or outside the equation. [kg]"""
        if self.unknown() or any(self.outside()):
            return None
        product = LOAD_CONSTANT
        for multiplier in self.multipliers().values():
            product *= multiplier
        return product

"""Is what the mounts hang on, and the payload itself, stiff beside them?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.checks.row import Row, each_design, nothing, temperature_key
from isolator.response import Response
from isolator.units import FREQUENCY, STIFFNESS, si_or_none

STIFF = 10.0
"""A sheet so many times as stiff as its mount hardly changes it (common practice). [-]"""

UNLIKELY = 0.5
"""A sheet less than so many times as stiff as its mount is asked about: nobody means to float on
sheets (our choice). [-]"""

OCTAVE = 2.0
"""Bending over the highest mode of the mounts, below which it takes part (common practice). [-]"""
RIGID = 3.0
"""Bending over the bounce, below which a fall bends what floats (common practice). [-]"""


def hang(response: Response) -> Iterator[Row]:
    """The sheets under the mounts, and the payload's own first bending mode, where given."""
    if np.isfinite(response.suspension.sheet).any():
        yield _sheet(response)
    if any(design.payload.bending is not None for design in response.designs):
        yield _bending(response)


def _sheet(response: Response) -> Row:
    """Never fails: a soft sheet is counted in every number of the verdict."""
    ratio = response.sheet_ratio
    soft = ratio.argmin(axis=1)
    none = np.full(len(ratio), np.nan)

    def reason(i: int) -> str:
        least = float(ratio[i, soft[i]])
        if np.isinf(least):
            return "every mount stands on a rigid sheet"
        name = response.designs[i].mount_names()[soft[i]]
        sheet = STIFFNESS.text(response.suspension.sheet[i, soft[i]])
        text = f"mount {name}: its sheet of {sheet} is {least:.2g} times as stiff as the mount"
        if least >= STIFF:
            return f"{text}; it is counted"
        before, after = response.main_modes_on_rigid_sheets[i], response.main_modes[i]
        slip = ": a slip of units?" if least < UNLIKELY else ""
        return (
            f"{text}, not {STIFF:g}{slip}; it is counted: on rigid sheets the lowest mode was at "
            f"{FREQUENCY.text(before[0])}, now {FREQUENCY.text(after[0])}, the bounce at "
            f"{FREQUENCY.text(before[1])}, now {FREQUENCY.text(after[1])}"
        )

    return Row(
        id="sheet",
        unit="",
        demand=none,
        capacity=none,
        reason=reason,
        missing=nothing,
        source="spring in series; ten times the mount hardly counts (common practice)",
        settled=True,
    )


def _bending(response: Response) -> Row:
    top = response.highest_modes
    own = each_design(response, lambda d: si_or_none(d.payload, "bending"))
    blind = np.asarray(np.isnan(top).any(axis=1))
    known = np.where(np.isnan(top), -np.inf, top)
    leg, most = known.argmax(axis=1), known.max(axis=1)
    falls = [bool(there.falls or there.leg.turns()) for there in response.legs]
    bounce = np.nan_to_num(response.leg_modes[..., 1])[:, falls].max(axis=1, initial=0.0)
    lands = RIGID * bounce > OCTAVE * most
    demand = np.where(np.isinf(most), np.nan, np.maximum(OCTAVE * most, RIGID * bounce))

    def lacking(i: int) -> str:
        unknown = response.legs[int(np.isnan(top[i]).argmax())]
        if not unknown.stands[i]:
            return ""
        return temperature_key(response, unknown, i)

    def reason(i: int) -> str:
        if np.isnan(demand[i]):
            return "how stiff the mounts are is known on no leg"
        text = (
            f"its bounce on the mounts is at {FREQUENCY.text(bounce[i])}, and as it falls three "
            "times that must not reach its own bending at "
            if lands[i]
            else f"its highest mode on the mounts is at {FREQUENCY.text(most[i])} "
            f"({response.legs[leg[i]].leg.name}), twice that must not reach its own bending at "
        )
        if np.isnan(own[i]):
            return f"{text}a frequency that is not given"
        text += FREQUENCY.text(own[i])
        return f"{text}; the modes on some leg are not known" if blind[i] else text

    return Row(
        id="bending",
        unit="Hz",
        demand=demand,
        capacity=own,
        reason=reason,
        missing=lambda i: "payload.bending" if np.isnan(own[i]) else lacking(i),
        source="an octave apart, and in a fall three times its bounce (common practice)",
        open=blind,
    )

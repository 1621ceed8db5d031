"""What does a pulse of a case that is tied down do?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.base_pulse import ABOVE
from isolator.checks.row import (
    TRAVELS,
    Row,
    carried,
    mount_key,
    ratings,
    stroke_key,
    stroke_text,
    temperature_key,
    worst_stroke,
)
from isolator.checks.shake import pulse_gaps
from isolator.fragility import judge
from isolator.knock import Knock
from isolator.leg import end_unknown
from isolator.outcome import POINTS, Bools, LegResponse
from isolator.pulse import Pulse
from isolator.response import Response
from isolator.trip import AXES, Axis
from isolator.units import G0, FloatArray, si

IN_TIME = (
    "six modes in time from the tangent at rest, viscous damping that loses at resonance what the "
    "loss factors say, an axis at a time, both ways"
)

HALF_SINE = 1 - 2 * np.arcsin(ABOVE) / np.pi
"""Share of a half-sine's duration in which it is above `ABOVE` of its peak."""


def pulses(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    """Travel and peak along each axis of a leg's pulse, and the force on its mounts."""
    knock, pulse = leg.knock, leg.leg.pulse
    if knock is None or pulse is None:
        return
    gaps = [pulse_gaps(response, number, leg, i) for i in range(len(response.designs))]
    for axis in knock.by_axis:
        yield _travel(response, leg, knock, axis, gaps)
        yield _peak(response, leg, knock, pulse, axis, gaps)
    yield _force(response, leg, knock, gaps)


def _doubted(knock: Knock, i: int) -> str:
    """What curves that are not straight leave open, the end of a sentence."""
    if knock.doubt[i] > 10:
        return "a mount leaves its curve altogether, which is not computed"
    return (
        f"the mounts leave the straight of their curves: it may be {knock.doubt[i]:.2g} times as "
        "much, not computed"
    )


def _stroke(leg: LegResponse, knock: Knock, axis: Axis) -> FloatArray:
    return np.where(leg.rigid[:, None, None], 0.0, knock.mounts[axis])


def _travel(
    response: Response, leg: LegResponse, knock: Knock, axis: Axis, gaps: list[dict[str, str]]
) -> Row:
    """Do the mounts stay off their metal?"""
    moved = _stroke(leg, knock, axis)
    demand, capacity, where, unknown = worst_stroke(moved, leg.limits)
    demand = np.where(np.isnan(moved).any(axis=(1, 2)), np.nan, demand)
    doubtful = (demand * knock.doubt > capacity) & (knock.doubt > 1)

    def reason(i: int) -> str:
        if leg.rigid[i]:
            return "treated as rigid in the cold: the mounts do not move"
        if np.isnan(demand[i]):
            return next(iter(gaps[i].values()))
        text = stroke_text(response.designs[i], where[i], demand[i], capacity[i])
        return f"{text}; {_doubted(knock, i)}" if doubtful[i] else text

    return Row(
        id=f"pulse travel/{leg.leg.name}/{axis}",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=lambda i: (
            next(iter(gaps[i]), "") if np.isnan(demand[i]) or not np.isnan(capacity[i])
            else stroke_key(response.designs[i], unknown[i])
        ),
        source=IN_TIME,
        open=doubtful | np.array([bool(g) for g in gaps]),
    )  # fmt: skip


def _hits(leg: LegResponse, knock: Knock, axis: Axis) -> tuple[Bools, Bools]:
    """Where a mount may reach its limit (b,), and where that is unknown."""
    moved = knock.mounts[axis] * knock.doubt[:, None, None]
    hit = np.asarray((moved > leg.limits).any(axis=(1, 2)))
    unknown = end_unknown(moved[:, None], leg.limits)[:, 0]
    return hit & ~leg.rigid, unknown & ~hit & ~leg.rigid


def _peak(
    response: Response,
    leg: LegResponse,
    knock: Knock,
    pulse: Pulse,
    axis: Axis,
    gaps: list[dict[str, str]],
) -> Row:
    """The worst of centre and corners against what the payload survives, and against bolting."""
    count, k = len(response.designs), AXES.index(axis)
    own = knock.by_axis[axis]
    bolted = si(pulse, "peak")
    # Of each point the direction in which it feels most; over the inertia band the worst of each.
    felt = own.acceleration.max(axis=1)
    top = np.where(np.isnan(felt), 0.0, felt).argmax(axis=-1)[..., None]
    peak, long, change = (
        np.take_along_axis(np.abs(values).max(axis=1), top, axis=-1)[..., 0]
        for values in (own.acceleration, own.duration, own.velocity_change)
    )
    rigid = leg.rigid[:, None]
    peak = np.where(rigid, bolted, peak)
    long = np.where(rigid, si(pulse, "duration"), long / HALF_SINE)
    change = np.where(rigid, pulse.velocity_change(), change)
    found = judge(ratings(response, leg), peak, long, change)
    grave = 2 * found.fails + found.open + peak / (1 + np.nanmax(peak, initial=0.0))
    worst = np.where(np.isnan(peak), -1.0, grave).argmax(axis=1)
    batch = np.arange(count)
    demand, capacity = peak[batch, worst], found.capacity[batch, worst]
    hit, unsure = _hits(leg, knock, axis)
    doubted = (knock.doubt > 1) & (demand * knock.doubt > capacity) & ~leg.rigid
    fails = found.fails[batch, worst]
    amplified = np.where(leg.rigid, 1.0, own.acceleration[:, :, :, k].max(axis=(1, 2)) / bolted)

    def reason(i: int) -> str:
        if np.isnan(demand[i]):
            return next(iter(gaps[i].values()))
        point = POINTS[worst[i]]
        where = "its centre" if point == "centre" else f"corner {point}"
        text = f"{where}: {found.reason(i, int(worst[i]))}"
        if leg.rigid[i]:
            return f"treated as rigid in the cold it feels the input; {text}"
        ratio = amplified[i]
        text += f"; along {axis} {ratio:.3g} times the {bolted / G0:.3g} g of bolting it down"
        if ratio > 1:
            text += f": the mounts make this pulse worse by {ratio - 1:.0%}"
        if hit[i] and not fails[i]:
            return f"{text}; a mount may bottom, and what that hit does is not known"
        if unsure[i] and not fails[i]:
            return f"{text}, if the mounts have the travel"
        if doubted[i] and not fails[i]:
            return f"{text}; {_doubted(knock, i)}"
        return text

    def missing(i: int) -> str:
        if gaps[i]:
            return next(iter(gaps[i]))
        if key := found.missing(i, int(worst[i])):
            return key
        if unsure[i]:
            return mount_key(response.designs[i], *TRAVELS)
        return temperature_key(response, leg, i) if leg.rigid[i] else ""

    return Row(
        id=f"pulse peak/{leg.leg.name}/{axis}",
        unit="g",
        demand=demand / G0,
        capacity=capacity / G0,
        reason=reason,
        missing=missing,
        source=IN_TIME,
        fails=fails,
        open=found.open[batch, worst]
        | hit
        | unsure
        | doubted
        | leg.rigid
        | np.array([bool(g) for g in gaps]),
    )


def _force(response: Response, leg: LegResponse, knock: Knock, gaps: list[dict[str, str]]) -> Row:
    """The mount that is nearest to what it may carry for a moment."""
    axes = list(knock.force)
    force = np.stack([knock.force[axis] for axis in axes], axis=1)
    blind = np.asarray(np.isnan(force).any(axis=(1, 2)))
    most = carried(response, force, blind)
    ends = [_hits(leg, knock, axis) for axis in axes]
    hit = np.asarray(np.any([h | u for h, u in ends], axis=0))
    over = carried(response, force * knock.doubt[:, None, None], blind).exceeds
    doubted = over & (knock.doubt > 1)

    def reason(i: int) -> str:
        if leg.rigid[i]:
            return "treated as rigid in the cold: the force on the mounts is not computed"
        if blind[i]:
            return next(iter(gaps[i].values()))
        text = most.text(i, f"along {axes[most.which[i]]}")
        if most.settled[i]:
            return text
        if hit[i]:
            return f"{text} if it does not bottom; a hit is not known"
        return f"{text}; {_doubted(knock, i)}" if doubted[i] else text

    def missing(i: int) -> str:
        if leg.rigid[i]:
            return temperature_key(response, leg, i)
        key = next(iter(gaps[i]), "")
        return key or mount_key(response.designs[i], "peak_load", "travel", "travel_across")

    return Row(
        id=f"pulse force/{leg.leg.name}",
        unit="N",
        demand=most.demand,
        capacity=most.capacity,
        reason=reason,
        missing=missing,
        source=IN_TIME,
        open=hit | doubted | np.array([bool(g) for g in gaps]),
    )

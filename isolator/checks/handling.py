"""What does carrying by hand do, and a loose case that hops on its floor?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from isolator.checks.row import (
    WAYS,
    Row,
    endured,
    limit_key,
    ratings,
    stroke_key,
    survived,
    worst_stroke,
)
from isolator.checks.shake import hop_gaps, walk_gaps
from isolator.handling import MEET, NEAR, Walk
from isolator.outcome import LegResponse, Walking
from isolator.response import Response
from isolator.trip import AXES
from isolator.units import FREQUENCY, G0, SIZE, SPEED, FloatArray, si

STEPS = (
    "footsteps on flat ground as tones at their worst phases, six modes (common practice, an "
    "estimate on its high side; no stairs, no running, no spring of an arm or a strap)"
)
SWUNG = (
    "quasi-static: true curves under gravity that leans with the swing, with the footsteps about "
    "it (an estimate)"
)


HOP = (
    "one hop from rest off the fastest floor, landing flat on one as fast, by energy (common "
    "practice, an estimate: later hops may be higher, so that it never passes)"
)


def handling(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    """Peak, rms and travel of footsteps, the travel of a swing, the landing of a hop."""
    if not leg.leg.fixed_base():
        yield _hop(response, number, leg)
    walking, walk = leg.walking, leg.leg.walk
    if walking is None or walk is None:
        return
    yield _peak(response, number, leg, walking, walk)
    yield _limit(response, leg, walking)
    name = leg.leg.name
    yield _travel(response, leg, walking.mounts, f"walk travel/{name}", "footsteps", STEPS)
    if walking.swung_mounts is not None:
        row = _travel(response, leg, walking.swung_mounts, f"swing travel/{name}", "a swing", SWUNG)
        yield replace(row, fails=~walking.held & ~leg.rigid & ~leg.uncertain)


def _gaps(response: Response, leg: LegResponse) -> list[dict[str, str]]:
    return [walk_gaps(response, leg, i) for i in range(len(response.designs))]


def _near(walk: Walk, bounce: float) -> str:
    """Whether the bounce is near a multiple of the step rate, the end of a sentence."""
    multiple, off = (float(v) for v in walk.near(bounce, "vertical"))
    if not abs(off) <= NEAR:
        return ""
    tone = multiple * si(walk, "step_rate")
    times = "the step rate" if multiple == 1 else f"{multiple:g} times the step rate"
    return (
        f"; its bounce at {FREQUENCY.text(bounce)} is near {times}, {FREQUENCY.text(tone)}: "
        "footsteps may drive it"
    )


def _peak(response: Response, number: int, leg: LegResponse, walking: Walking, walk: Walk) -> Row:
    """The worst corner along one axis, gravity and the swing included, against the fragility."""
    lacking = _gaps(response, leg)
    limit = survived(response, leg) / G0
    own = walking.acceleration.max(axis=(1, 2))
    own = np.where(leg.rigid[:, None], walking.bolted, own)
    along = (own + walking.still) / G0
    blind = np.asarray(np.isnan(along).any(axis=1))
    felt = np.where(blind, np.nan, along.max(axis=1))
    axis = np.where(np.isnan(along), -np.inf, along).argmax(axis=1)
    bounce = response.leg_modes[:, number - 1, 1]

    def reason(i: int) -> str:
        if blind[i]:
            return next(iter(lacking[i].values()))
        what = "gravity included" if walk.swing is None else "gravity and its swing included"
        where = "treated as rigid in the cold it" if leg.rigid[i] else "the worst corner"
        text = f"{where} feels up to {felt[i]:.3g} g along {AXES[axis[i]]}, {what}"
        text += _of(limit[i], "g") + _near(walk, bounce[i])
        return "; ".join([text, *list(lacking[i].values())[:1]])

    return Row(
        id=f"walk peak/{leg.leg.name}",
        unit="g",
        demand=felt,
        capacity=limit,
        reason=reason,
        missing=limit_key(response, leg, limit, lacking, ratings(response, leg)[0].key),
        source=STEPS,
        open=np.array([bool(gaps) for gaps in lacking]) | leg.rigid,
    )


def _limit(response: Response, leg: LegResponse, walking: Walking) -> Row:
    """The rms of the worst corner along one axis against what it survives for hours."""
    lacking = _gaps(response, leg)
    limit = endured(response)
    full = float(walking.bolted_rms.max())
    felt = np.where(leg.rigid, full, walking.acceleration_rms.max(axis=(1, 2, 3))) / G0

    def reason(i: int) -> str:
        if np.isnan(felt[i]):
            return next(iter(lacking[i].values()))
        where = "treated as rigid in the cold it" if leg.rigid[i] else "the worst corner"
        text = f"{where} feels {felt[i]:.3g} g rms along one axis, bolted down {full / G0:.3g} g"
        text += _of(limit[i], "g rms")
        return "; ".join([text, *list(lacking[i].values())[:1]])

    return Row(
        id=f"walk limit/{leg.leg.name}",
        unit="g rms",
        demand=felt,
        capacity=limit,
        reason=reason,
        missing=limit_key(response, leg, limit, lacking, "payload.vibration_limit"),
        source=STEPS,
        open=np.array([bool(gaps) for gaps in lacking]) | leg.rigid,
    )


def _of(limit: float, unit: str) -> str:
    """What it survives, the middle of a sentence."""
    if np.isnan(limit):
        return "; what the payload survives is not known"
    return f", of {limit:.3g} {unit}"


def _travel(
    response: Response, leg: LegResponse, mounts: FloatArray, identity: str, what: str, source: str
) -> Row:
    """Do the mounts stay off their metal?"""
    lacking = _gaps(response, leg)
    moved = np.where(leg.rigid[:, None, None], 0.0, mounts)
    demand, capacity, where, unknown = worst_stroke(moved, leg.limits)
    demand = np.where(np.isnan(moved).any(axis=(1, 2)), np.nan, demand)

    def reason(i: int) -> str:
        if leg.rigid[i]:
            return "treated as rigid in the cold: the mounts do not move"
        if np.isnan(demand[i]):
            return next(iter(lacking[i].values()))
        mount, way = where[i]
        text = (
            f"{what} and sag: mount {response.designs[i].mount_names()[mount]} is {WAYS[way]} by "
            f"up to {SIZE.text(demand[i])}"
        )
        if np.isnan(capacity[i]):
            return f"{text}; how far the mount may go is not known"
        text += f", of {SIZE.text(capacity[i])} to metal"
        return "; ".join([text, *list(lacking[i].values())[:1]])

    return Row(
        id=identity,
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=lambda i: next(iter(lacking[i]), "") or stroke_key(response.designs[i], unknown[i]),
        source=source,
        open=np.array([bool(gaps) for gaps in lacking]),
    )


def _hop(response: Response, number: int, leg: LegResponse) -> Row:
    """The landing of a loose case: it may fail, and never passes."""
    count, hopping = len(response.designs), leg.hopping
    limit = survived(response, leg) / G0
    key, why = next(iter(hop_gaps(number, leg).items()))
    nan = np.full(count, np.nan)
    row = Row(
        id=f"hop/{leg.leg.name}",
        unit="g",
        demand=nan,
        capacity=limit,
        reason=lambda _: f"{why}; how high is not known",
        missing=lambda _: key,
        source=HOP,
        open=True,
    )
    if hopping is None:
        return row
    landing = hopping.landing
    blind = leg.rigid | leg.uncertain | ~np.isfinite(landing.flat.travel[:, 0])
    felt = np.where(blind, np.nan, landing.flat.peak_most[:, 0])
    moved = np.where(blind[:, None, None], 0.0, landing.mounts[:, 0])
    travel, stroke, where, _ = worst_stroke(moved, leg.limits)
    bottoms = ~blind & (travel > stroke)

    def reason(i: int) -> str:
        text = (
            f"loose on a floor that moves at up to {SPEED.text(hopping.speed)} it hops up to "
            f"{SIZE.text(hopping.height)} high and lands with up to "
            f"{SPEED.text(MEET * hopping.speed)}, as set down from {SIZE.text(landing.height)}"
        )
        if blind[i]:
            return f"{text}; what the payload feels then is not known"
        mount, way = where[i]
        text += f": {felt[i]:.3g} g reach its centre"
        text += " before a mount bottoms" if bottoms[i] else ""
        text += _of(limit[i], "g")
        text += (
            f", and mount {response.designs[i].mount_names()[mount]} is {WAYS[way]} by up to "
            f"{SIZE.text(travel[i])}"
        )
        if np.isnan(stroke[i]):
            return f"{text}; how far the mount may go is not known"
        return f"{text}, of {SIZE.text(stroke[i])} to metal; later hops may be higher"

    return replace(row, demand=felt, reason=reason, fails=bottoms)

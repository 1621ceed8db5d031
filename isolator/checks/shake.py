"""Will the mounts isolate: is it better than bolting the payload down?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.checks.row import Row, cold_key, each_design, mount_key
from isolator.response import AXES, POINTS, LegResponse, Response
from isolator.trip import Axis
from isolator.units import G0, si_or_none

RANDOM = "six modes, structural damping a mount at a time, Gaussian road"


def shakes(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    """Isolation along each axis of a leg, and the payload's limit."""
    if leg.leg.vibrates:
        for way, axis in leg.leg.case_axes().items():
            yield _isolation(response, number, leg, way, axis)
        yield _limit(response, number, leg)


def _axis_gaps(
    response: Response, number: int, leg: LegResponse, way: str, axis: Axis, i: int
) -> dict[str, str]:
    """What the response to one axis lacks for one design: key of the brief → sentence."""
    design, gaps = response.designs[i], {}
    if axis not in leg.shaken_by:
        gaps[f"leg[{number}].road.{way}"] = f"what shakes the case along {axis} is not given"
        return gaps
    if leg.uncertain[i]:
        gaps[cold_key(design)] = "how stiff the mounts are at this temperature is not known"
    if key := mount_key(design, "loss_factor"):
        gaps[key] = "the loss factor of the mounts is not known"
    if not leg.stands[i]:
        gaps[""] = "the mounts do not hold the payload in this attitude"
    spectrum = leg.leg.spectrum(axis)
    low = leg.uncovered[axis][i]
    if spectrum is not None and not np.isnan(low):
        gaps[f"leg[{number}].road.{way}"] = (
            f"a mode at {low:.3g} Hz lies below the first line of the spectrum along {axis}, "
            f"{spectrum.lines[0]:.3g} Hz, which says nothing about it"
        )
    return gaps


def vibration_gaps(response: Response, number: int, leg: LegResponse, i: int) -> dict[str, str]:
    """What the response to all axes lacks.

    An axis that nobody gave and that the brief declares not required by its own id is taken to
    be still.
    """
    gaps: dict[str, str] = {}
    for way, axis in leg.leg.case_axes().items():
        still = f"isolation/{leg.leg.name}/{axis}" in response.designs[i].not_required
        if axis in leg.shaken_by or not still:
            gaps |= _axis_gaps(response, number, leg, way, axis, i)
    return gaps


def _isolation(response: Response, number: int, leg: LegResponse, way: str, axis: Axis) -> Row:
    count, k = len(response.designs), AXES.index(axis)
    spectrum = leg.leg.spectrum(axis)
    lacking = [_axis_gaps(response, number, leg, way, axis, i) for i in range(count)]
    known = np.nan if spectrum is None else spectrum.level(leg.leg.level)
    level = np.full(count, known)
    own = np.full((count, len(POINTS)), np.nan)
    if axis in leg.shaken_by:
        silent = np.isnan(leg.acceleration[:, 0, 0, 0])
        felt = leg.shaken_by[axis].acceleration[..., k].max(axis=1) / G0
        own = np.where(silent[:, None], np.nan, felt)
    worst = own.argmax(axis=1)
    demand = np.where(leg.rigid, level, own.max(axis=1))

    def reason(i: int) -> str:
        if leg.rigid[i] and not np.isnan(level[i]):
            return "treated as rigid in the cold: no better than bolting it down"
        if np.isnan(demand[i]):
            return next(iter(lacking[i].values()))
        ratio, point = demand[i] / level[i], POINTS[worst[i]]
        text = (
            f"{demand[i]:.3g} g rms along {axis} at "
            f"{'the centre' if point == 'centre' else f'corner {point}'}, bolted down "
            f"{level[i]:.3g} g rms: {ratio:.2g} times, "
            f"{'better' if ratio < 1 else 'no better'} than bolting it down"
        )
        return "; ".join([text, *list(lacking[i].values())[:1]])

    return Row(
        id=f"isolation/{leg.leg.name}/{axis}",
        unit="g rms",
        demand=demand,
        capacity=level,
        reason=reason,
        missing=lambda i: next(iter(lacking[i]), ""),
        source=RANDOM if spectrum is None else f"{RANDOM}; {spectrum.source}",
        open=np.array([bool(gaps) for gaps in lacking]),
        strict=True,
    )


def _limit(response: Response, number: int, leg: LegResponse) -> Row:
    lacking = [vibration_gaps(response, number, leg, i) for i in range(len(response.designs))]
    limit = each_design(response, lambda d: si_or_none(d.payload, "vibration_limit")) / G0
    bolted = [s.level(leg.leg.level) for axis in AXES if (s := leg.leg.spectrum(axis))]
    full = max(bolted, default=np.nan)
    felt = np.where(leg.rigid, full, leg.acceleration.max(axis=(1, 2, 3)) / G0)

    def reason(i: int) -> str:
        if np.isnan(felt[i]):
            return next(iter(lacking[i].values()), "what shakes the case is not given")
        text = f"the worst corner feels {felt[i]:.3g} g rms along one axis"
        if np.isnan(limit[i]):
            return f"{text}; what the payload survives is not known"
        return "; ".join([f"{text}, of {limit[i]:.3g} g rms", *list(lacking[i].values())[:1]])

    return Row(
        id=f"vibration limit/{leg.leg.name}",
        unit="g rms",
        demand=felt,
        capacity=limit,
        reason=reason,
        missing=lambda i: (
            "payload.vibration_limit" if np.isnan(limit[i]) else next(iter(lacking[i]), "")
        ),
        source=RANDOM,
        open=np.array([bool(gaps) for gaps in lacking]),
    )

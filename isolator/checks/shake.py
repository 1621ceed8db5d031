"""Will the mounts isolate: is it better than bolting the payload down? What does a sine do?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.checks.row import (
    Row,
    endured,
    limit_key,
    loss_key,
    stroke_key,
    stroke_text,
    temperature_key,
    worst_stroke,
)
from isolator.design import kind_key
from isolator.outcome import POINTS, LegResponse, Ringing, Shaking
from isolator.pulse import RATE
from isolator.response import Response
from isolator.sine import Sine
from isolator.trip import AXES, Axis
from isolator.units import FREQUENCY, G0, FloatArray, is_given, si, si_or_none

RANDOM = "six modes, structural damping a mount at a time, Gaussian road"
STEADY = "six modes, structural damping a mount at a time, steady state, an axis at a time"


def shakes(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    """Isolation along each axis of a leg, and the payload's limit."""
    if leg.shaking is not None:
        for way, axis in leg.leg.case_axes().items():
            yield _isolation(response, number, leg, leg.shaking, way, axis)
        yield _limit(response, number, leg, leg.shaking)
    if leg.sine is not None and leg.leg.sine is not None:
        yield _sine_limit(response, number, leg, leg.sine, leg.leg.sine)
    if leg.shaken_mounts is not None:
        yield _stroke(response, number, leg, leg.shaken_mounts)


def hop_gaps(number: int, leg: LegResponse) -> dict[str, str]:
    """Why a loose case does not follow its floor: key of the brief → sentence."""
    if leg.leg.fixed_base():
        return {}
    lifted = leg.leg.lifted()
    if np.isfinite(lifted):
        return {
            f"leg[{number}].tied": (
                f"the case is loose and its floor falls with up to {lifted:.3g} g, faster than "
                "1 g: it hops, and what a fixed base would do does not hold"
            )
        }
    key = "duration" if leg.leg.road.get("vertical") else "road.vertical"
    return {
        f"leg[{number}].{key}": (
            "the case is loose, and whether its floor falls faster than 1 g, so that it hops, is "
            "not known"
        )
    }


def _state_gaps(response: Response, number: int, leg: LegResponse, i: int) -> dict[str, str]:
    """What any response to vibration lacks for one design: key of the brief → sentence."""
    return hop_gaps(number, leg) | mount_gaps(response, leg, i)


def mount_gaps(response: Response, leg: LegResponse, i: int) -> dict[str, str]:
    """What any response lacks by the mounts alone: key of the brief → sentence."""
    if not leg.lacking[i]:
        return {}
    design, gaps = response.designs[i], dict[str, str]()
    if leg.uncertain[i]:
        key = temperature_key(response, leg, i)
        gaps[key] = "how stiff the mounts are at this temperature is not known"
    if key := loss_key(design):
        what = "a cable" if key.startswith("cable") else "the mounts"
        gaps[key] = f"the loss factor of {what} is not known"
    elif (lost := np.isnan(leg.suspension.loss_factor[i])).any() and not leg.uncertain[i]:
        name = design.places[int(lost.argmax())].mount.name
        gaps[kind_key(name, "cold_loss_factor")] = "how the mounts damp in the cold is not known"
    if not leg.stands[i]:
        gaps[""] = "the mounts do not hold the payload in this attitude"
    return gaps


def _axis_gaps(
    response: Response, number: int, leg: LegResponse, way: str, axis: Axis, i: int
) -> dict[str, str]:
    """What the response to one axis lacks for one design: key of the brief → sentence."""
    if leg.shaking is None or axis not in leg.shaking.by_axis:
        sentence = f"what shakes the case along {axis} is not given"
        return hop_gaps(number, leg) | {f"leg[{number}].road.{way}": sentence}
    gaps = _state_gaps(response, number, leg, i)
    spectrum = leg.leg.spectrum(axis)
    low = leg.shaking.uncovered[axis][i]
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
        if leg.leg.spectrum(axis) is not None or not still:
            gaps |= _axis_gaps(response, number, leg, way, axis, i)
    return gaps


def travel_gaps(response: Response, number: int, leg: LegResponse, i: int) -> dict[str, str]:
    """What the largest travel in vibration lacks: the response, and how long it lasts."""
    gaps = pulse_gaps(response, number, leg, i)
    if leg.shaking is None and leg.sine is None:
        return gaps | walk_gaps(response, leg, i)
    if leg.rigid[i]:
        return gaps | hop_gaps(number, leg)
    if leg.sine is not None:
        gaps |= _sine_gaps(response, number, leg, leg.sine, i)
    if leg.shaking is not None:
        gaps |= vibration_gaps(response, number, leg, i)
        if not is_given(leg.leg, "duration"):
            gaps[f"leg[{number}].duration"] = "how long this leg takes is not given"
    return gaps | walk_gaps(response, leg, i)


def walk_gaps(response: Response, leg: LegResponse, i: int) -> dict[str, str]:
    """What the response to footsteps and a swing lacks for one design."""
    if leg.walking is None or leg.rigid[i]:
        return {}
    gaps = dict[str, str]()
    if not leg.walking.held[i]:
        gaps[""] = "the mounts do not hold the payload as the case swings at its handle"
    return gaps | mount_gaps(response, leg, i)


def pulse_gaps(response: Response, number: int, leg: LegResponse, i: int) -> dict[str, str]:
    """What the response to the pulse lacks for one design."""
    if leg.knock is None:
        return {}
    gaps = dict[str, str]()
    if leg.leg.tied is False:
        gaps[f"leg[{number}].tied"] = (
            "the case is loose: it slides or lifts, and does not follow the pulse of its floor"
        )
    if leg.rigid[i]:
        return gaps
    gaps |= mount_gaps(response, leg, i)
    if not np.isnan(leg.knock.fast[i]):
        gaps[f"leg[{number}].pulse.record"] = (
            f"the record has too few samples a second for a mode at {leg.knock.fast[i]:.3g} Hz, "
            f"which needs {RATE:g} a cycle"
        )
    return gaps


def all_travel_gaps(response: Response, i: int) -> dict[str, str]:
    """The same for all legs."""
    gaps: dict[str, str] = {}
    for number, leg in enumerate(response.legs, start=1):
        gaps |= travel_gaps(response, number, leg, i)
    return gaps


def _isolation(
    response: Response, number: int, leg: LegResponse, shaking: Shaking, way: str, axis: Axis
) -> Row:
    count, k = len(response.designs), AXES.index(axis)
    spectrum = leg.leg.spectrum(axis)
    lacking = [_axis_gaps(response, number, leg, way, axis, i) for i in range(count)]
    known = np.nan if spectrum is None else spectrum.level(leg.leg.level)
    level = np.full(count, known)
    own = np.full((count, len(POINTS)), np.nan)
    if axis in shaking.by_axis:
        silent = np.isnan(shaking.acceleration[:, 0, 0, 0])
        felt = shaking.by_axis[axis].acceleration[..., k].max(axis=1) / G0
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
            f"{level[i]:.3g} g rms: {ratio:.3g} times, "
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


def _limit(response: Response, number: int, leg: LegResponse, shaking: Shaking) -> Row:
    lacking = [vibration_gaps(response, number, leg, i) for i in range(len(response.designs))]
    limit = endured(response)
    bolted = [s.level(leg.leg.level) for axis in AXES if (s := leg.leg.spectrum(axis))]
    full = max(bolted, default=np.nan)
    felt = np.where(leg.rigid, full, shaking.acceleration.max(axis=(1, 2, 3)) / G0)

    def reason(i: int) -> str:
        if np.isnan(felt[i]):
            return next(iter(lacking[i].values()), "what shakes the case is not given")
        if leg.rigid[i]:
            return (
                f"treated as rigid in the cold it feels the input, {felt[i]:.3g} g rms; a mount "
                "that is only nearly rigid may give more"
            )
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
        missing=limit_key(response, leg, limit, lacking, "payload.vibration_limit"),
        source=RANDOM,
        open=np.array([bool(gaps) for gaps in lacking]) | leg.rigid,
    )


def _sine_gaps(
    response: Response, number: int, leg: LegResponse, sine: Ringing, i: int
) -> dict[str, str]:
    """What the response to the sine lacks."""
    gaps = _state_gaps(response, number, leg, i)
    if not np.isnan(sine.outside[i]):
        end = "from" if sine.outside[i] < _band(leg)[0] else "to"
        gaps[f"leg[{number}].sine.{end}"] = (
            f"a mode at {sine.outside[i]:.3g} Hz lies outside the sweep, which says nothing about "
            "it"
        )
    return gaps


def _band(leg: LegResponse) -> tuple[float, float]:
    sweep = None if leg.leg.sine is None else leg.leg.sine.sweep
    return (0.0, np.inf) if sweep is None else (si(sweep, "start"), si(sweep, "stop"))


def _sine_limit(
    response: Response, number: int, leg: LegResponse, ringing: Ringing, sine: Sine
) -> Row:
    """The worst corner at the worst frequency; a sine of peak a has a/√2 rms."""
    count = len(response.designs)
    lacking = [_sine_gaps(response, number, leg, ringing, i) for i in range(count)]
    limit = endured(response)
    axes = list(ringing.by_axis)
    felt = np.stack([r.acceleration for r in ringing.by_axis.values()], axis=1)
    at = np.stack([r.frequency for r in ringing.by_axis.values()], axis=1).reshape(count, -1)
    felt = felt.reshape(count, -1) / G0
    blind = np.isnan(felt).any(axis=1)
    top = np.where(np.isnan(felt), 0.0, felt).argmax(axis=1)
    batch = np.arange(count)
    peak = np.where(leg.rigid, sine.most() / G0, np.where(blind, np.nan, felt[batch, top]))
    where = [axes[int(k)] for k in top // (felt.shape[1] // len(axes))]

    def reason(i: int) -> str:
        if leg.rigid[i]:
            return (
                f"treated as rigid in the cold it feels the input, {peak[i]:.3g} g peak; a mount "
                "that is only nearly rigid may give more"
            )
        if np.isnan(peak[i]):
            return next(iter(lacking[i].values()))
        text = (
            f"the worst corner feels {peak[i]:.3g} g peak, {peak[i] / np.sqrt(2):.3g} g rms, at "
            f"{FREQUENCY.text(at[i, top[i]])} along {where[i]}"
        )
        if not np.isnan(ringing.fast[i]):
            text += (
                f"; at most, for the sweep is too fast for the steady state at "
                f"{FREQUENCY.text(ringing.fast[i])}, which needs {ringing.slow_enough[i]:.2g} "
                "octaves a minute or less"
            )
        text += _cycles(sine, at[i, top[i]])
        if np.isnan(limit[i]):
            return f"{text}; what the payload survives is not known"
        return "; ".join([text, *list(lacking[i].values())[:1]])

    return Row(
        id=f"sine limit/{leg.leg.name}",
        unit="g rms",
        demand=peak / np.sqrt(2),
        capacity=limit,
        reason=reason,
        missing=limit_key(response, leg, limit, lacking, "payload.vibration_limit"),
        source=f"{STEADY}; sweep rate: iso-7626-2, memory",
        open=np.array([bool(gaps) for gaps in lacking]) | leg.rigid,
    )


def _cycles(sine: Sine, frequency: float) -> str:
    """How often a dwell bends everything, the middle of a sentence; fatigue is not judged."""
    seconds = None if sine.dwell is None else si_or_none(sine.dwell, "duration")
    if sine.dwell is None or seconds is None:
        return ""
    tone = si_or_none(sine.dwell, "at")
    cycles = (frequency if tone is None else tone) * seconds
    return f"; the dwell has {cycles:.0f} cycles, whose fatigue is not judged"


def _stroke(response: Response, number: int, leg: LegResponse, mounts: FloatArray) -> Row:
    """Do the mounts stay off their metal while road or sine shake them?"""
    lacking = [travel_gaps(response, number, leg, i) for i in range(len(response.designs))]
    still = np.where(leg.rigid[:, None, None], 0.0, mounts)
    demand, capacity, where, unknown = worst_stroke(still, leg.limits)
    blind = np.isnan(still).any(axis=(1, 2))
    demand = np.where(blind, np.nan, demand)

    def reason(i: int) -> str:
        if leg.rigid[i]:
            rigid = "treated as rigid in the cold: the mounts do not move"
            return "; ".join([rigid, *list(lacking[i].values())[:1]])
        if np.isnan(demand[i]):
            return next(iter(lacking[i].values()), "how far it swings is not known")
        text = stroke_text(response.designs[i], where[i], demand[i], capacity[i])
        more = [] if np.isnan(capacity[i]) else list(lacking[i].values())[:1]
        return "; ".join([text, *more])

    return Row(
        id=f"vibration travel/{leg.leg.name}",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=lambda i: next(iter(lacking[i]), "") or stroke_key(response.designs[i], unknown[i]),
        source=RANDOM if leg.shaking is not None else STEADY,
        open=np.array([bool(gaps) for gaps in lacking]),
    )

"""Will the payload survive the drops?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from isolator.checks.landing import (
    MORE_AT_CORNER,
    UNCHECKED,
    fell,
    least_travel,
    turned,
    unasked,
    unseen,
)
from isolator.checks.row import (
    TRAVELS,
    WAYS,
    Row,
    carried,
    mount_key,
    ratings,
    stroke_key,
    survived,
    temperature_key,
    worst_of,
    worst_stroke,
)
from isolator.design import Design
from isolator.heights import height_table
from isolator.outcome import Bools, Falling, LegResponse
from isolator.response import Response
from isolator.shock import ALLOWANCE
from isolator.trip import GROUPS, Leg
from isolator.units import G0, HEIGHT, SIZE, SPEED, si_or_none

ENERGY = "flat landing of a heavy shell by energy, undamped, rotation of the payload by modes"
DOUBT = f"curves and rotation together may take up to {ALLOWANCE:g} times as much, not computed"


def drops(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    """Travel and peak at every landing of a leg, and the force on its mounts.

    As they happen where they were followed, else by energy.
    """
    if leg.leg.drops and leg.falling is None and leg.leg.faces():
        nan = np.full(len(response.designs), np.nan)
        lacks = [unknown_height(design, number, leg.leg) for design in response.designs]
        yield Row(
            id=f"drop/{leg.leg.name}",
            unit="m",
            demand=nan,
            capacity=nan,
            reason=lambda i: lacks[i][1],
            missing=lambda i: lacks[i][0],
            source=ENERGY,
            graded=False,
        )
    for fall in leg.falls:
        if fall.touch is not None:
            yield from fell(response, leg, fall, fall.touch)
            continue
        if fall is leg.tilted:
            yield from _tilted(response, leg, fall)
            continue
        for k in range(len(fall.landings)):
            yield _travel(response, leg, fall, k)
            yield _peak(response, leg, fall, k)
        yield _force(response, leg, fall)
    for turn in leg.turning:
        yield from turned(response, leg, turn)
    yield from unasked(response, leg)
    if leg.leg.drops and leg.leg.groups() and leg.tilted is None:
        yield _of_no_size(response, number, leg)
    if leg.leg.drops and leg.leg.drop_table and leg.leg.groups() != GROUPS:
        yield _edges(response, leg)


def _tilted(response: Response, leg: LegResponse, fall: Falling) -> Iterator[Row]:
    """The worst edge and the worst corner."""
    for group in dict.fromkeys(fall.groups):
        which = [k for k, own in enumerate(fall.groups) if own == group]
        names = [fall.landings[k] for k in which]
        for what, ask in (("travel", _travel), ("peak", _peak)):
            rows = [ask(response, leg, fall, k) for k in which]
            yield worst_of(rows, names, f"drop {what}/{leg.leg.name}/{group}")
    identity = f"drop force/{leg.leg.name}/edges and corners"
    yield replace(_force(response, leg, fall), id=identity)


def _of_no_size(response: Response, number: int, leg: LegResponse) -> Row:
    """Edges and corners whose fall lines nobody knows."""
    nan = np.full(len(response.designs), np.nan)
    groups = " and ".join(leg.leg.groups())
    lacks = [
        ("case.size", f"on which line it falls on {groups} goes by the outer size, not given")
        if leg.falling is not None or si_or_none(leg.leg, "drop") is not None
        else unknown_height(design, number, leg.leg)
        for design in response.designs
    ]
    return Row(
        id=f"drop travel/{leg.leg.name}/{groups}",
        unit="mm",
        demand=nan,
        capacity=nan,
        reason=lambda i: lacks[i][1],
        missing=lambda i: lacks[i][0],
        source=ENERGY,
        graded=False,
    )


def unknown_height(design: Design, number: int, leg: Leg) -> tuple[str, str]:
    """Why the drop height of a leg is not known: key of the brief and sentence."""
    if not leg.drop_table:
        return f"leg[{number}].drop", "from what height it may fall on this leg is not given"
    by_size = height_table(leg.drop_table)[0].by_size
    goes_by = "gross weight and largest outer dimension" if by_size else "gross weight"
    key, what = "case.size", "the outer size of the case"
    if np.isnan(design.gross_mass()):
        key, what = "case.mass", "the mass of the case"
    return key, f"the height of {leg.drop_table} goes by {goes_by}, and {what} is not given"


def _edges(response: Response, leg: LegResponse) -> Row:
    """Landings that a table of heights asks for and nothing computes."""
    none = np.full(len(response.designs), np.nan)
    found, identity = leg.leg.height_class, f"drop edges and corners/{leg.leg.name}"
    asks = "edges and corners too" if found is None else found.landings
    return Row(
        id=identity,
        unit="",
        demand=none,
        capacity=none,
        reason=lambda _: (
            f"{leg.leg.drop_table.upper()} asks for landings on {asks}: add edges and corners to "
            f'leg.landings, or say why they are not asked: [not_required] "{identity}"'
        ),
        missing=lambda _: "",
        source=height_table(leg.leg.drop_table)[0].source,
        graded=False,
    )


def _travel(response: Response, leg: LegResponse, falling: Falling, k: int) -> Row:
    """Judged at the worst mount, with the rotation of the payload and the ring of the fall."""
    height, blind, drop = falling.height, unseen(leg), falling.flat
    flies = np.isinf(drop.travel[:, k])
    stroke = np.where(flies[:, None, None], np.nan, falling.mounts[:, k])
    demand, capacity, where, unknown = worst_stroke(stroke, leg.limits)
    demand = np.where(blind | flies, np.nan, demand)
    doubtful = demand * falling.doubt[:, k] > capacity
    fragility = survived(response, leg)

    def reason(i: int) -> str:
        if blind[i]:
            return UNCHECKED
        if flies[i]:
            return "nothing holds the payload this way: it flies off its mounts"
        travel = SIZE.text(drop.travel[i, k])
        mount, way = where[i]
        name = response.designs[i].mount_names()[mount]
        if np.isinf(demand[i]):
            return "it springs back off its mounts, which do not hold it"
        text = (
            f"from {HEIGHT.text(height)} the centre goes {travel}, and with the ring of its fall "
            f"mount {name} is {WAYS[way]} by up to {SIZE.text(demand[i])}"
        )
        if np.isnan(capacity[i]):
            return f"{text}; how far the mounts may go is not known"
        text += f" of {SIZE.text(capacity[i])} to metal"
        if drop.bottoms[i, k] == 1:
            text += f": it bottoms at {SPEED.text(drop.contact_speed[i, k])}"
        if demand[i] > capacity[i]:
            just = falling.bottoming_height[i, k]
            text += (
                f"{', and' if drop.bottoms[i, k] == 1 else ':'} it may bottom from about "
                f"{HEIGHT.text(just)} on"
                if just > 0
                else ": the ring of its release alone may bottom it"
            )
        elif doubtful[i]:
            text += f"; {DOUBT}"
        return text + least_travel(height, fragility[i]) * bool(demand[i] > capacity[i])

    def missing(i: int) -> str:
        if blind[i]:
            return temperature_key(response, leg, i)
        return stroke_key(response.designs[i], unknown[i])

    return Row(
        id=f"{falling.kind} travel/{leg.leg.name}/{falling.landings[k]}",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=missing,
        source=ENERGY,
        fails=flies & ~blind,
        open=doubtful,
    )


def _peak(response: Response, leg: LegResponse, falling: Falling, k: int) -> Row:
    """Fails by the centre in a heavy shell; passes only if the bound at the worst corner holds too.

    A light shell has the least beside it.
    """
    drop, blind, least = falling.flat, unseen(leg), falling.peak_least[:, k]
    flies = np.isinf(drop.travel[:, k])
    hit = falling.may_bottom[:, k] | (drop.bottoms[:, k] == 1) | flies
    unsure = np.isnan(drop.bottoms[:, k]) | falling.end_unknown[:, k]
    centre = np.where(blind | flies, np.nan, drop.peak_most[:, k])
    corner = falling.corner_peak[:, k]
    fragility = survived(response, leg) / G0
    over = centre > fragility
    beyond = corner * falling.doubt[:, k] > fragility
    sticky = damps_most(leg)

    def most(i: int) -> str:
        if np.isnan(least[i]):
            return f"up to {centre[i]:.3g}"
        return f"between {least[i]:.3g} (light shell) and {centre[i]:.3g} (heavy shell)"

    def reason(i: int) -> str:
        if blind[i]:
            return UNCHECKED
        if flies[i]:
            return "what the payload hits when it flies off is not known"
        if hit[i]:
            return (
                f"its centre feels {centre[i]:.3g} g before a mount may bottom; what the hit does "
                "is not known"
            )
        if np.isnan(fragility[i]):
            return (
                f"{most(i)} g for {1e3 * drop.duration[i, k]:.3g} ms reach its centre, "
                f"a corner at most {corner[i]:.3g} g: it must survive that, and what it survives "
                "is not known"
            )
        text = f"{most(i)} g reach its centre, of {fragility[i]:.3g} g"
        if over[i]:
            return text
        if sticky[i]:
            return (
                f"{text}; the mounts damp so much that the damper's own force, which is not "
                "computed, may be more"
            )
        if beyond[i]:
            return f"{text}; rotation may bring a corner up to {corner[i]:.3g} g, a wide bound"
        if corner[i] > MORE_AT_CORNER * centre[i]:
            text += f", and at most {corner[i]:.3g} g a corner"
        return f"{text}, if the mounts have the travel" if unsure[i] else text

    def missing(i: int) -> str:
        if np.isnan(fragility[i]) and not blind[i]:
            return ratings(response, leg)[i].key
        if blind[i]:
            return temperature_key(response, leg, i)
        if hit[i] or not unsure[i]:
            return ""
        return mount_key(response.designs[i], *TRAVELS)

    return Row(
        id=f"{falling.kind} peak/{leg.leg.name}/{falling.landings[k]}",
        unit="g",
        demand=np.where(hit & ~over, np.nan, centre),
        capacity=fragility,
        reason=reason,
        missing=missing,
        source=ENERGY,
        open=hit | unsure | beyond | sticky,
    )


def damps_most(leg: LegResponse) -> Bools:
    """Where the undamped peak is no upper estimate."""
    there = leg.suspension
    return np.asarray((there.loss_factor > 1).any(-1) | (there.cable_loss > 1).any(-1))


def _force(response: Response, leg: LegResponse, falling: Falling) -> Row:
    blind, drop, force = unseen(leg), falling.flat, falling.mount_force
    unusable = np.asarray(blind | ~np.isfinite(force).all(axis=(1, 2)))
    most = carried(response, force, unusable)
    hit = np.asarray(((drop.bottoms != 0) | falling.may_bottom | falling.end_unknown).any(axis=1))
    doubted = carried(response, force * falling.doubt[..., None], unusable).exceeds
    sticky = damps_most(leg)

    def reason(i: int) -> str:
        if blind[i]:
            return UNCHECKED
        if unusable[i]:
            return "the payload flies off its mounts: their force is not computed"
        text = most.text(i, falling.landings[most.which[i]])
        if most.settled[i]:
            return text
        if hit[i]:
            return f"{text} until it bottoms; the hit itself is not known"
        if sticky[i]:
            return f"{text} from the spring; so much damping may take more, which is not computed"
        return f"{text}; {DOUBT}" if doubted[i] else text

    def missing(i: int) -> str:
        if blind[i]:
            return temperature_key(response, leg, i)
        return mount_key(response.designs[i], "peak_load", "travel", "travel_across")

    return Row(
        id=f"{falling.kind} force/{leg.leg.name}",
        unit="N",
        demand=most.demand,
        capacity=most.capacity,
        reason=reason,
        missing=missing,
        source=ENERGY,
        open=hit | doubted | sticky,
    )

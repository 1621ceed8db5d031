"""Will the payload survive its landings, as they happen in time?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from isolator import sdof
from isolator.checks.row import (
    TRAVELS,
    WAYS,
    Row,
    carried,
    each_mount,
    mount_key,
    ratings,
    stroke_key,
    survived,
    temperature_key,
    worst_of,
    worst_stroke,
)
from isolator.fragility import judge
from isolator.leg import end_unknown
from isolator.outcome import Bools, Falling, LegResponse, Touchdown, Turning
from isolator.response import Response
from isolator.units import G0, HEIGHT, SIZE, SPEED, FloatArray

IN_TIME = (
    "six motions of the payload on its curves with causal damping, followed from release to "
    "rebound, at every phase of the ring of the fall"
)
UNCHECKED = "how stiff the mounts are at this temperature is not known: the drop is not checked"
NO_HEIGHT = 1e-6
"""A height that is none but for rounding. [m]"""

MORE_AT_CORNER = 1.02
"""From so many times the peak at the centre on the peak at the worst corner is told. [-]"""

LOST = "its motion in time did not converge, so there is no number"


@dataclass(frozen=True)
class Told:
    """Landings (l) of one kind on one leg, and what a flat one says beside each.

    Attributes
    ----------
    kind : str
    names : sequence of str
    start : str
        Where it comes from, for a sentence.
    touch : Touchdown of (b, l)
    flat : (b, l) array
        Peak of the flat landing, of the same face where it turns; nan if there is none. [g]
    beside : str
        What that is called.
    flies : (b, l) bool array
        Nothing holds the payload this way.
    just : (b, l) array
        Height from which a mount may just bottom, nan if unknown. [m]
    """

    kind: str
    names: Sequence[str]
    start: str
    height: float
    touch: Touchdown
    flat: FloatArray
    beside: str
    flies: Bools
    just: FloatArray


def fell(response: Response, leg: LegResponse, fall: Falling, touch: Touchdown) -> Iterator[Row]:
    """The landings of a fall: travel and peak of each face, or of the worst edge and corner."""
    flat = fall.flat
    told = Told(
        kind=fall.kind,
        names=fall.landings,
        start=f"from {HEIGHT.text(fall.height)}",
        height=fall.height,
        touch=replace(touch, mounts=fall.mounts),
        flat=np.where(np.any(fall.spin != 0, axis=-1), np.nan, flat.peak_most),
        beside="the flat estimate by energy says",
        flies=np.isinf(flat.travel),
        just=fall.bottoming_height,
    )
    groups = list(dict.fromkeys(fall.groups))
    if groups in ([""], ["own"]):
        for k in range(len(fall.landings)):
            yield _travel(response, leg, told, k)
            yield _peak(response, leg, told, k)
        identity = f"{fall.kind} force/{leg.leg.name}"
        yield _force(response, leg, told, identity + "/own" * (groups == ["own"]))
        return
    for group in groups:
        which = [k for k, own in enumerate(fall.groups) if own == group]
        yield from _worst(response, leg, told, which, group)
    identity = f"{fall.kind} force/{leg.leg.name}/edges and corners"
    yield _force(response, leg, told, identity)


def turned(response: Response, leg: LegResponse, turn: Turning) -> Iterator[Row]:
    """Slap-downs or topples: the worst edge of each face."""
    touch = turn.touch
    faces = list(leg.falling.landings) if leg.falling is not None else []
    flat = np.full(touch.peak.shape, np.nan)
    if leg.falling is not None and leg.falling.touch is not None and turn.height:
        for k, face in enumerate(turn.faces):
            if face in faces:
                flat[:, k] = leg.falling.touch.peak[:, faces.index(face)] / G0
    tipped = turn.kind == "topple"
    told = Told(
        kind=turn.kind,
        names=[f"standing {edge}" if tipped else f"over the edge {edge}" for edge in turn.edges],
        start="from its balance point" if tipped else f"from {HEIGHT.text(turn.height)}",
        height=turn.height,
        touch=touch,
        flat=flat,
        beside="landing flat on it gives",
        flies=np.zeros(flat.shape, dtype=bool),
        just=np.full(flat.shape, np.nan),
    )
    for face in dict.fromkeys(turn.faces):
        which = [k for k, own in enumerate(turn.faces) if own == face]
        yield from _worst(response, leg, told, which, face)
    yield _force(response, leg, told, f"{turn.kind} force/{leg.leg.name}")


def _worst(
    response: Response, leg: LegResponse, told: Told, which: Sequence[int], name: str
) -> Iterator[Row]:
    """Travel and peak of the gravest of some landings."""
    names = [told.names[k] for k in which]
    for what, ask in (("travel", _travel), ("peak", _peak)):
        rows = [ask(response, leg, told, k) for k in which]
        yield worst_of(rows, names, f"{told.kind} {what}/{leg.leg.name}/{name}")


def unseen(leg: LegResponse) -> Bools:
    """Whose mounts nobody knows at the temperature of a leg."""
    return leg.rigid | leg.uncertain


def least_travel(height: float, survives: float) -> str:
    """What travel a drop asks for, whatever the mounts: the end of a sentence."""
    if not survives > 2 * G0 or not height:
        return ""
    spring = float(sdof.cushion_travel(height, survives / G0))
    ideal = float(sdof.ideal_travel(height, survives / G0))
    return (
        f"; to keep {survives / G0:.3g} g, a spring needs at least {SIZE.text(spring)} and "
        f"nothing can do it in less than {SIZE.text(ideal)}"
    )


def _hit(response: Response, leg: LegResponse, told: Told, k: int) -> tuple[Bools, Bools]:
    """Whether a mount comes to its limit (b,), and whether what it meets there is unknown."""
    hit = np.asarray((told.touch.mounts[:, k] > leg.limits).any(axis=(1, 2)))
    return hit, np.asarray(hit & np.isnan(each_mount(response, "stop")).any(axis=1))


def _lost(leg: LegResponse, told: Told, k: int) -> Bools:
    return np.asarray(np.isnan(told.touch.peak[:, k]) & ~unseen(leg))


def _travel(response: Response, leg: LegResponse, told: Told, k: int) -> Row:
    """Judged at the worst mount."""
    blind, flies, lost = unseen(leg), told.flies[:, k], _lost(leg, told, k)
    stroke = np.where(flies[:, None, None], np.nan, told.touch.mounts[:, k])
    demand, capacity, where, unknown = worst_stroke(stroke, leg.limits)
    demand = np.where(blind | flies | lost, np.nan, demand)
    survives = survived(response, leg)

    def reason(i: int) -> str:
        if blind[i]:
            return UNCHECKED
        if flies[i]:
            return "nothing holds the payload this way: it flies off its mounts"
        if lost[i]:
            return LOST
        if np.isinf(demand[i]):
            return "it springs back off its mounts, which do not hold it"
        mount, way = where[i]
        name = response.designs[i].mount_names()[mount]
        text = f"{told.start} mount {name} is {WAYS[way]} by up to {SIZE.text(demand[i])}"
        if np.isnan(capacity[i]):
            return f"{text}; how far the mounts may go is not known"
        text += f" of {SIZE.text(capacity[i])} to metal"
        if demand[i] <= capacity[i]:
            return text
        if (speed := told.touch.metal[i, k]) > 0:
            text += f": it bottoms at {SPEED.text(speed)}"
        if told.just[i, k] <= NO_HEIGHT:
            text += ", and the ring of its release alone may bottom it"
        if told.just[i, k] > NO_HEIGHT:
            text += f", and may do so from about {HEIGHT.text(told.just[i, k])} on"
        return text + least_travel(told.height, survives[i])

    def missing(i: int) -> str:
        if blind[i]:
            return temperature_key(response, leg, i)
        return "" if lost[i] else stroke_key(response.designs[i], unknown[i])

    return Row(
        id=f"{told.kind} travel/{leg.leg.name}/{told.names[k]}",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=missing,
        source=IN_TIME,
        fails=flies & ~blind,
    )


def _peak(response: Response, leg: LegResponse, told: Told, k: int) -> Row:
    """Fails by the centre; passes only if the worst corner of the box holds too."""
    blind, lost, touch = unseen(leg), _lost(leg, told, k), told.touch
    bottoms, unknown_stop = _hit(response, leg, told, k)
    limitless = np.asarray(np.isnan(leg.limits).any(axis=(1, 2)))
    hit = np.asarray(unknown_stop | told.flies[:, k])
    centre = np.where(hit, touch.before[:, k], touch.peak[:, k]) / G0
    centre = np.where(blind | lost, np.nan, centre)
    corner = np.where(blind | lost, np.nan, touch.corner[:, k] / G0)
    rated = ratings(response, leg)
    pulse = touch.duration[:, k], touch.velocity_change[:, k]
    judged = judge(rated, G0 * centre, *pulse)
    survives, over = judged.capacity / G0, judged.fails
    beyond = ~over & ~judge(rated, G0 * corner, *pulse).survives

    def reason(i: int) -> str:
        if blind[i]:
            return UNCHECKED
        if lost[i]:
            return LOST
        if told.flies[i, k]:
            return "what the payload hits when it flies off is not known"
        if hit[i]:
            return (
                f"its centre feels {centre[i]:.3g} g before a mount bottoms at "
                f"{SPEED.text(touch.metal[i, k])}; what the hit does is not known"
            )
        felt = (
            f"{centre[i]:.3g} g for {1e3 * touch.duration[i, k]:.3g} ms, "
            f"{SPEED.text(touch.velocity_change[i, k])} in all, reach its centre"
        )
        flat = told.flat[i, k]
        aside = "" if np.isnan(flat) else f"; {told.beside} {flat:.3g} g"
        if bottoms[i]:
            aside += f"; a mount meets its stop at {SPEED.text(touch.metal[i, k])}"
        if np.isnan(survives[i]):
            return (
                f"{felt}, {corner[i]:.3g} g its worst corner: it must survive that, and what it "
                f"survives is not known{aside}"
            )
        tested = rated[i].pulse is not None or not np.isnan(rated[i].velocity_change)
        text = f"{felt}: {judged.reason(i)}" if tested else f"{felt}, of {survives[i]:.3g} g"
        if not over[i] and (beyond[i] or corner[i] > MORE_AT_CORNER * centre[i]):
            text += f", {corner[i]:.3g} g its worst corner"
        if not over[i] and corner[i] > survives[i]:
            text += ": more than the payload is rated for"
        unsure = limitless[i] and not bottoms[i]
        return f"{text}{', if the mounts have the travel' if unsure else ''}{aside}"

    def missing(i: int) -> str:
        if blind[i]:
            return temperature_key(response, leg, i)
        if np.isnan(survives[i]) or (judged.open[i] and not hit[i]):
            return judged.missing(i)
        if lost[i] or told.flies[i, k]:
            return ""
        if hit[i]:
            return mount_key(response.designs[i], "stop")
        if limitless[i]:
            return mount_key(response.designs[i], *TRAVELS)
        return ""

    return Row(
        id=f"{told.kind} peak/{leg.leg.name}/{told.names[k]}",
        unit="g",
        demand=np.where(hit & ~over, np.nan, centre),
        capacity=survives,
        reason=reason,
        missing=missing,
        source=IN_TIME,
        fails=over & ~hit,
        open=hit | beyond | limitless | judged.open,
    )


def _force(response: Response, leg: LegResponse, told: Told, identity: str) -> Row:
    """Judged at the landing and the mount that is used most."""
    blind, force = unseen(leg), told.touch.force
    unusable = np.asarray(blind | ~np.isfinite(force).all(axis=(1, 2)) | told.flies.any(axis=1))
    most = carried(response, force, unusable)
    stops = np.stack([_hit(response, leg, told, k)[1] for k in range(len(told.names))])
    hit = np.asarray(stops.any(axis=0))
    limitless = np.asarray(end_unknown(told.touch.mounts, leg.limits).any(axis=1))

    def reason(i: int) -> str:
        if blind[i]:
            return UNCHECKED
        if unusable[i]:
            flies = "the payload flies off its mounts: their force is not computed"
            return flies if told.flies[i].any() else LOST
        text = most.text(i, told.names[most.which[i]])
        if most.settled[i]:
            return text
        if hit[i]:
            return f"{text} until it bottoms; the hit itself is not known"
        return f"{text}, if the mounts have the travel" if limitless[i] else text

    def missing(i: int) -> str:
        if blind[i]:
            return temperature_key(response, leg, i)
        lacks = ("stop",) if hit[i] else TRAVELS if limitless[i] else ()
        return mount_key(response.designs[i], "peak_load", *lacks)

    return Row(
        id=identity,
        unit="N",
        demand=most.demand,
        capacity=most.capacity,
        reason=reason,
        missing=missing,
        source=IN_TIME,
        open=hit | limitless,
    )


def unasked(response: Response, leg: LegResponse) -> Iterator[Row]:
    """Slap-downs and topples that are asked for, of a case whose size nobody knows."""
    for kind, asked in (
        ("slap-down", leg.leg.slap_down is not None and leg.leg.drops),
        ("topple", bool(leg.leg.topple)),
    ):
        unknown = [d.case.size is None for d in response.designs] if asked else []
        if any(unknown):
            nan = np.full(len(unknown), np.nan)
            yield Row(
                id=f"{kind} travel/{leg.leg.name}",
                unit="mm",
                demand=nan,
                capacity=nan,
                reason=lambda _: "where its edges are goes by the outer size, which is not given",
                missing=lambda _: "case.size",
                source=IN_TIME,
                graded=False,
            )

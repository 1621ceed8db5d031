"""The questions that are asked of every design, and their answers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from isolator import sdof
from isolator.case import FACES
from isolator.design import Design
from isolator.mount import MILD, ROOM_TEMPERATURE
from isolator.response import AXES, POINTS, Bools, LegResponse, Response
from isolator.suspension import ATTITUDES
from isolator.units import (
    ACCELERATION,
    FORCE,
    G0,
    HEIGHT,
    POSITION,
    SIZE,
    SPEED,
    TEMPERATURE,
    FloatArray,
    si_or_none,
)
from isolator.verdict import Check, Status, margins
from isolator.vibration import touches_an_hour

REST = "static pose under gravity with the true curves (mechanics: finite rotation, preload term)"
RANDOM = "six modes, structural damping a mount at a time, Gaussian road"
DROP = "flat landing of a heavy shell by energy: undamped, no rotation"
CLEARANCE = "worst case: sag, the larger of vibration peak and drop travel, tilt, tolerance"


@dataclass(frozen=True, kw_only=True)
class Row:
    """One check for every design of a batch; nan means unknown.

    Attributes
    ----------
    demand, capacity : (b,) arrays
        In `unit`.
    fails : (b,) bool array
        Fails whatever the numbers say.
    open : (b,) bool array
        The demand may be larger than what is known: it can fail but not pass.
    strict : bool
        The demand must stay below the capacity, not reach it.
    settled : bool
        A question without numbers: it passes unless it fails or is open.
    """

    id: str
    unit: str
    demand: FloatArray
    capacity: FloatArray
    reason: Callable[[int], str]
    missing: Callable[[int], str] = lambda _: ""
    source: str = ""
    fails: Bools | bool = False
    open: Bools | bool = False
    strict: bool = False
    settled: bool = False
    graded: bool = True

    def status(self) -> npt.NDArray[np.str_]:
        """Status (b,) of every design."""
        over = self.demand >= self.capacity if self.strict else self.demand > self.capacity
        unknown = (np.isnan(self.demand) | np.isnan(self.capacity)) & (not self.settled) | self.open
        return np.where(over | self.fails, "fail", np.where(unknown, "incomplete", "pass"))


    def margin(self) -> FloatArray:
        """Share of the capacity that is left (b,), nan if unknown. [-]"""
        return margins(self.demand, self.capacity)


def waiver(design: Design, identity: str) -> str:
    """The brief's reason for not requiring a check, empty if it is required."""
    parts = identity.split("/")
    heads = ["/".join(parts[: i + 1]) for i in range(len(parts))]
    return next((design.not_required[h] for h in heads if h in design.not_required), "")


def answers(response: Response, rows: Sequence[Row], index: int) -> list[Check]:
    """The checks of one design of a batch."""
    design = response.designs[index]

    def known(value: FloatArray) -> float | None:
        number = float(np.broadcast_to(value, len(response.designs))[index])
        return number if np.isfinite(number) else None

    out = []
    for row in rows:
        status: Status = str(row.status()[index])  # type: ignore[assignment]
        out.append(
            Check(
                id=row.id,
                demand=known(row.demand),
                capacity=known(row.capacity),
                unit=row.unit,
                status=status,
                reason=row.reason(index),
                missing=row.missing(index) if status == "incomplete" else "",
                source=row.source,
                grade=design.grade() if row.graded else None,
                waived=waiver(design, row.id),
            )
        )
    return out


def ask(response: Response) -> list[Row]:
    """All checks of a batch of designs, in the order of what they protect."""
    rows = [*_carry(response)]
    for number, leg in enumerate(response.legs, start=1):
        rows += [*_temperature(response, number, leg), *_drop(response, number, leg)]
    rows += _clearance(response)
    for number, leg in enumerate(response.legs, start=1):
        rows += _vibration(response, number, leg)
    return rows


def _each(response: Response, read: Callable[[Design], float | None]) -> FloatArray:
    """A number of every design (b,), nan where it is unknown."""
    values = [read(design) for design in response.designs]
    return np.array([np.nan if v is None else v for v in values])


def _every_mount(response: Response, name: str) -> FloatArray:
    """A measure of every mount (b, n), nan where it is unknown."""
    return np.array(
        [
            [np.nan if (v := si_or_none(p.mount, name)) is None else v for p in d.places]
            for d in response.designs
        ]
    )


def _asked(response: Response) -> Bools:
    """Attitudes that count for a design, (b, 6)."""
    return np.array([[a in d.attitudes for a in ATTITUDES] for d in response.designs])


def _carry(response: Response) -> Iterator[Row]:
    names = list(ATTITUDES)
    asked = _asked(response)
    found = response.pose.found
    lost = asked & ~found
    batch = np.arange(len(response.designs))

    gone = np.where(asked & found, 1 - response.gravity_left, -np.inf)
    softest = gone.argmax(axis=1)
    softening = np.where(lost.any(axis=1), np.nan, np.maximum(gone.max(axis=1), 0.0))

    def stand(i: int) -> str:
        if lost[i].any():
            return (
                f"{names[int(lost[i].argmax())]}: the mounts do not hold the payload, "
                "it comes off or falls over"
            )
        where = names[int(softest[i])]
        if softening[i] >= 1:
            return f"{where}: the payload topples, its centre is too high for such soft mounts"
        return (
            f"{where}: gravity takes {softening[i]:.0%} of the stiffness against the softest motion"
        )

    yield Row(
        id="stands",
        unit="",
        demand=softening,
        capacity=np.ones_like(softening),
        reason=stand,
        source=REST,
        fails=lost.any(axis=1) | (softening >= 1),
    )

    upright = response.load[:, 0]
    pull = response.suspension.repeated().deflection(response.pose)[:, 0, :, 0] < 0
    even = upright.mean(axis=1)
    least = np.where(pull, -upright, upright)
    share = np.where(found[:, 0], 1 - least.min(axis=1) / even, np.nan)

    def balance(i: int) -> str:
        if np.isnan(share[i]):
            return "lid up: no pose to share the load in"
        low, high = int(least[i].argmin()), int(upright[i].argmax())
        mounts = response.designs[i].mount_names()
        if share[i] >= 1:
            return (
                f"lid up: the centre of gravity lies outside the mounts, mount {mounts[low]} "
                f"is pulled with {FORCE.text(upright[i, low])}"
            )
        return (
            f"lid up: mount {mounts[high]} carries {FORCE.text(upright[i, high])}, "
            f"mount {mounts[low]} {FORCE.text(upright[i, low])}"
        )

    centre = np.array([d.payload.centre is None for d in response.designs])
    yield Row(
        id="load share",
        unit="",
        demand=share,
        capacity=np.ones_like(share),
        reason=lambda i: balance(i)
        + (", if the centre of gravity is in the middle of the box" if centre[i] else ""),
        missing=lambda i: "payload.centre" if centre[i] else "",
        source=REST,
        open=centre,
    )

    rated = _every_mount(response, "rated_load")
    load = np.where((asked & found)[..., None], response.load, -np.inf)
    flat = (load / np.where(np.isnan(rated), np.inf, rated)[:, None]).reshape(len(batch), -1)
    unknown = np.isnan(rated).any(axis=1)
    worst = flat.argmax(axis=1)
    attitude, mount = np.divmod(worst, load.shape[-1])

    def carried(i: int) -> str:
        if unknown[i]:
            return (
                f"the largest load is {FORCE.text(load[i].max())}; what the mount may carry "
                "is not known"
            )
        return (
            f"{names[attitude[i]]}: mount {response.designs[i].mount_names()[mount[i]]} carries "
            f"{FORCE.text(load[i, attitude[i], mount[i]])} of its rated "
            f"{FORCE.text(rated[i, mount[i]])}"
        )

    yield Row(
        id="rated load",
        unit="N",
        demand=np.where(unknown, load.max(axis=(1, 2)), load[batch, attitude, mount]),
        capacity=np.where(unknown, np.nan, rated[batch, mount]),
        reason=carried,
        missing=lambda i: _mount_key(response.designs[i], "rated_load"),
        source=REST,
    )

    yield from _sag(response, asked & found)

    captive = np.array([[p.mount.captive for p in d.places] for d in response.designs], dtype=object)
    off = (response.deflection[..., 0] < -1e-9) & (asked & found)[..., None]
    lifted = (off & (captive == False)[:, None]).any(axis=1).sum(axis=-1)  # noqa: E712
    doubtful = (off & (captive == None)[:, None]).any(axis=(1, 2))  # noqa: E711

    def held(i: int) -> str:
        if lifted[i]:
            return f"{int(lifted[i])} mounts that hold nothing when pulled come off in some attitude"
        if doubtful[i]:
            return "some mounts are pulled; whether they hold the payload then is not known"
        return "every mount that is pulled is captive, or none is pulled"

    yield Row(
        id="held when pulled",
        unit="mounts",
        demand=lifted.astype(float),
        capacity=np.zeros(len(batch)),
        reason=held,
        missing=lambda i: _mount_key(response.designs[i], "captive"),
        source=REST,
        open=doubtful,
        graded=False,
    )


def _sag(response: Response, asked: Bools) -> Iterator[Row]:
    names, batch = list(ATTITUDES), np.arange(len(response.designs))
    d = np.where(asked[..., None, None], response.deflection, 0.0)
    limit = np.where(d >= 0, response.limits[:, None, ..., 0], response.limits[:, None, ..., 1])
    moving = np.abs(d) > 1e-9
    unknown = (np.isnan(limit) & moving).any(axis=(1, 2, 3))
    used = np.where(np.isnan(limit), 0.0, np.abs(d) / np.where(np.isnan(limit), 1.0, limit))
    attitude, mount, way = np.unravel_index(used.reshape(len(batch), -1).argmax(axis=1), d.shape[1:])
    largest = np.abs(d).max(axis=(1, 2, 3))

    def reason(i: int) -> str:
        if unknown[i]:
            return f"the largest sag is {SIZE.text(largest[i])}; how far the mount may go is not known"
        return (
            f"{names[attitude[i]]}: mount {response.designs[i].mount_names()[mount[i]]} is "
            f"deflected {SIZE.text(demand[i])} {'across' if way[i] else 'along'} its axis, "
            f"of {SIZE.text(capacity[i])} to metal"
        )

    def missing(i: int) -> str:
        across = np.isnan(limit[i, ..., 1:]) & moving[i, ..., 1:]
        if across.any():
            return _mount_key(response.designs[i], "travel_across")
        return _mount_key(response.designs[i], "travel", "captive")

    demand = np.where(unknown, largest, np.abs(d)[batch, attitude, mount, way])
    capacity = np.where(unknown, np.nan, limit[batch, attitude, mount, way])
    yield Row(
        id="sag",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=missing,
        source=REST,
    )


def _mount_key(design: Design, *fields: str) -> str:
    """Key of the first of the fields that a mount of the design lacks."""
    for place in design.places:
        for name in fields:
            if getattr(place.mount, name) is None:
                return f"mount.{place.mount.name}.{name}"
    return ""


def _temperature(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    at = leg.leg.temperature_c()
    none = np.full(len(response.designs), np.nan)
    coldest = np.array(
        [
            max(
                MILD[0] if (t := si_or_none(p.mount, "cold_temperature")) is None else t
                for p in d.places
            )
            for d in response.designs
        ]
    )

    def reason(i: int) -> str:
        if at is None:
            return (
                "the temperature of this leg is not given; the stiffness at "
                f"{ROOM_TEMPERATURE:g} °C was used"
            )
        if leg.rigid[i]:
            return (
                f"{TEMPERATURE.text(at)} is colder than the mounts' data "
                f"({TEMPERATURE.text(coldest[i])}): treated as rigid"
            )
        if leg.uncertain[i]:
            return (
                f"how stiff the mounts are at {TEMPERATURE.text(at)} is not known; their data "
                f"hold from {MILD[0]:g} to {MILD[1]:g} °C"
            )
        return f"the mounts' data reach {TEMPERATURE.text(at)}"

    def missing(i: int) -> str:
        if at is None:
            return f"leg[{number}].temperature"
        key = _mount_key(response.designs[i], "cold_factor")
        return key or "a mount whose data reach that temperature"

    yield Row(
        id=f"temperature/{leg.leg.name}",
        unit="°C",
        demand=none,
        capacity=none,
        reason=reason,
        missing=missing,
        source="cold factor of the mounts; 5 to 45 °C as at 23 °C (common practice)",
        open=(at is None) | leg.uncertain | leg.rigid,
        settled=True,
    )


def _drop(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    nan = np.full(len(response.designs), np.nan)
    name = leg.leg.name
    if not leg.leg.drops:
        return
    if leg.drop is None:
        yield Row(
            id=f"drop/{name}",
            unit="m",
            demand=nan,
            capacity=nan,
            reason=lambda _: "from what height it may fall on this leg is not given",
            missing=lambda _: f"leg[{number}].drop",
            source=DROP,
            graded=False,
        )
        return
    drop = leg.drop
    height = si_or_none(leg.leg, "drop") or 0.0
    fragility = _each(response, lambda d: si_or_none(d.payload, "fragility"))
    blind = leg.rigid | leg.uncertain
    unchecked = "colder than the mounts' data or with unknown stiffness there: drop not checked"
    cold_key = _cold_key(response)

    def room(i: int) -> str:
        least = sdof.ideal_travel(height, fragility[i] / G0) if fragility[i] > 2 * G0 else np.nan
        spring = sdof.cushion_travel(height, fragility[i] / G0) if fragility[i] > 2 * G0 else np.nan
        if np.isnan(least):
            return ""
        return (
            f"; for {ACCELERATION.text(fragility[i])} from {HEIGHT.text(height)} a spring needs "
            f"{SIZE.text(float(spring))} of travel, and nothing can do it in less than "
            f"{SIZE.text(float(least))}"
        )

    for k, landing in enumerate(leg.leg.landings):
        travel = np.where(blind, np.nan, drop.travel[:, k])
        bottom, flies = drop.bottom[:, k], np.isinf(travel)

        def stop(i: int, k: int = k, travel: FloatArray = travel) -> str:
            if blind[i]:
                return unchecked
            if np.isinf(travel[i]):
                return "nothing holds the payload this way: it flies off its mounts"
            if drop.bottoms[i, k] == 1:
                return (
                    f"from {HEIGHT.text(height)} it needs {SIZE.text(travel[i])} of travel and has "
                    f"{SIZE.text(drop.bottom[i, k])}: it bottoms at "
                    f"{SPEED.text(drop.contact_speed[i, k])}, and would just bottom from "
                    f"{HEIGHT.text(max(drop.bottoming_height[i, k], 1e-9))}" + room(i)
                )
            if np.isnan(drop.bottom[i, k]):
                return f"it needs {SIZE.text(travel[i])}; how far the mounts may go is not known"
            return f"it needs {SIZE.text(travel[i])} of {SIZE.text(drop.bottom[i, k])} to metal"

        def lack(i: int) -> str:
            return cold_key(i) if blind[i] else _mount_key(
                response.designs[i], "travel", "travel_across", "captive"
            )

        yield Row(
            id=f"drop travel/{name}/{landing}",
            unit="mm",
            demand=1e3 * travel,
            capacity=np.where(flies | np.isinf(bottom), np.nan, 1e3 * bottom),
            reason=stop,
            missing=lack,
            source=DROP,
            fails=flies,
        )

        hit = (drop.bottoms[:, k] == 1) | flies
        open_end = np.isnan(drop.bottoms[:, k])
        peak = np.where(blind | flies, np.nan, drop.peak[:, k])

        def reach(
            i: int, k: int = k, hit: Bools = hit, open_end: Bools = open_end, peak: FloatArray = peak
        ) -> str:
            if blind[i]:
                return unchecked
            if hit[i]:
                start = "" if np.isnan(peak[i]) else f"{peak[i]:.3g} g before it bottoms; "
                return start + "what the hit itself does is not known"
            if np.isnan(fragility[i]):
                return (
                    f"{peak[i]:.3g} g reach the payload; it must survive that for "
                    f"{1e3 * drop.duration[i, k]:.3g} ms, and what it survives is not known"
                )
            rest = ", if the mounts have the travel" if open_end[i] else ""
            return f"{peak[i]:.3g} g of {fragility[i] / G0:.3g} g reach the payload{rest}"

        def what(i: int, hit: Bools = hit, open_end: Bools = open_end) -> str:
            if blind[i]:
                return cold_key(i)
            if np.isnan(fragility[i]):
                return "payload.fragility"
            return "" if hit[i] else lack(i)

        yield Row(
            id=f"drop peak/{name}/{landing}",
            unit="g",
            demand=peak,
            capacity=fragility / G0,
            reason=reach,
            missing=what,
            source=DROP,
            open=hit | open_end,
        )

    allowed = _every_mount(response, "peak_load")
    force = np.where((blind | np.isinf(drop.travel).any(axis=1))[:, None, None], np.nan,
                     drop.mount_force)
    known = ~np.isnan(allowed).any(axis=1)
    used = force / np.where(np.isnan(allowed), 1.0, allowed)[:, None]
    flat = np.where(np.isnan(used), -np.inf, used).reshape(len(nan), -1).argmax(axis=1)
    at, mount = np.divmod(flat, force.shape[-1])
    batch = np.arange(len(nan))
    demand = np.where(known, force[batch, at, mount], np.nanmax(
        np.where(np.isnan(force), -np.inf, force), axis=(1, 2)))
    demand = np.where(np.isinf(demand), np.nan, demand)

    def pulls(i: int) -> str:
        if np.isnan(demand[i]):
            return unchecked if blind[i] else "the payload flies off: forces not computed"
        if not known[i]:
            return (
                f"up to {FORCE.text(demand[i])} on one mount; what it may carry for a moment "
                "is not known"
            )
        return (
            f"{leg.leg.landings[at[i]]}: mount {response.designs[i].mount_names()[mount[i]]} "
            f"takes {FORCE.text(demand[i])} of {FORCE.text(allowed[i, mount[i]])}"
        )

    yield Row(
        id=f"drop force/{name}",
        unit="N",
        demand=demand,
        capacity=np.where(known, allowed[batch, mount], np.nan),
        reason=pulls,
        missing=lambda i: cold_key(i) if blind[i] else _mount_key(
            response.designs[i], "peak_load", "travel", "travel_across"),
        source=DROP,
        open=(drop.bottoms != 0).any(axis=1),
    )


def _cold_key(response: Response) -> Callable[[int], str]:
    return lambda i: (
        _mount_key(response.designs[i], "cold_factor")
        or "a mount whose data reach that temperature"
    )


def _vibration_gaps(response: Response, number: int, leg: LegResponse, i: int) -> dict[str, str]:
    """What a leg's vibration lacks for one design: key of the brief → sentence."""
    design, name = response.designs[i], leg.leg.name
    gaps = {}
    if leg.uncertain[i]:
        gaps[_cold_key(response)(i)] = "the mounts' stiffness at this temperature is not known"
    if key := _mount_key(design, "loss_factor"):
        gaps[key] = "the loss factor of the mounts is not known"
    for way, axis in leg.leg.case_axes().items():
        if waiver(design, f"isolation/{name}/{axis}"):
            continue
        if axis not in leg.shaken_by:
            gaps[f"leg[{number}].road.{way}"] = f"what shakes the case along {axis} is not given"
        elif not np.isnan(leg.uncovered[axis][i]):
            spectrum = leg.leg.spectrum(axis)
            first = 0.0 if spectrum is None else float(spectrum.lines[0])
            gaps[f"leg[{number}].road.{way}"] = (
                f"a mode at {leg.uncovered[axis][i]:.3g} Hz lies below the first line of the "
                f"spectrum along {axis}, {first:.3g} Hz, which says nothing about it"
            )
    if not leg.pose.found[i]:
        gaps[""] = "the mounts do not hold the payload in this attitude"
    return gaps


def _travel_gaps(response: Response, number: int, leg: LegResponse, i: int) -> dict[str, str]:
    """The same for the largest travel, which also needs the duration."""
    gaps = _vibration_gaps(response, number, leg, i)
    if leg.leg.duration is None:
        gaps[f"leg[{number}].duration"] = "how long this leg takes is not given"
    return gaps


def _clearance(response: Response) -> Iterator[Row]:
    count = len(response.designs)
    asked = _asked(response) & response.pose.found
    sag = np.where(asked[..., None], response.towards, -np.inf).max(axis=1)
    motions = [("sag", sag)]
    lacking: list[dict[str, str]] = [{} for _ in range(count)]
    for number, leg in enumerate(response.legs, start=1):
        if leg.leg.vibrates:
            motions.append((f"vibration on {leg.leg.name}", leg.towards))
            for i in range(count):
                lacking[i] |= _travel_gaps(response, number, leg, i)
        if leg.leg.drops:
            motions.append((f"the drop on {leg.leg.name}", leg.drop_towards))
            for i in range(count):
                if leg.drop is None:
                    lacking[i][f"leg[{number}].drop"] = "the drop height is not given"
                elif leg.rigid[i] or leg.uncertain[i]:
                    lacking[i][_cold_key(response)(i)] = "the drop in the cold is not checked"
    causes = [cause for cause, _ in motions]
    stack = np.stack([motion for _, motion in motions])
    known = np.where(np.isnan(stack), -np.inf, stack)
    open_to = np.isnan(stack).any(axis=0) | np.array([bool(gap) for gap in lacking])[:, None]
    gaps = np.stack([d.case.gaps() for d in response.designs])
    demand = np.maximum(known.max(axis=0) + response.spent, 0.0)
    cause = known.argmax(axis=0)

    for k, face in enumerate(FACES):

        def reason(i: int, k: int = k) -> str:
            most = causes[int(cause[i, k])]
            if np.isinf(demand[i, k]):
                return f"{most}: nothing stops the payload before this face"
            text = f"it moves {POSITION.text(demand[i, k])} this way ({most})"
            if np.isnan(gaps[i, k]):
                return text + "; the gap is not given"
            text += f", the gap is {POSITION.text(gaps[i, k])}"
            if demand[i, k] <= gaps[i, k] and lacking[i]:
                text += "; not all is known: " + next(iter(lacking[i].values()))
            return text + _touching(response, i, k)

        def missing(i: int, k: int = k, face: str = face) -> str:
            if np.isnan(gaps[i, k]):
                return f"case.{face.replace(' ', '_')}"
            return next(iter(lacking[i]), "")

        yield Row(
            id=f"clearance/{face}",
            unit="mm",
            demand=1e3 * demand[:, k],
            capacity=1e3 * gaps[:, k],
            reason=reason,
            missing=missing,
            source=CLEARANCE,
            fails=np.isinf(demand[:, k]),
            open=open_to[:, k],
        )


def _touching(response: Response, i: int, k: int) -> str:
    """How often an hour a corner touches a face on the worst leg, as the end of a sentence."""
    often = max((float(leg.touches[i, k]) for leg in response.legs), default=0.0)
    return f"; {often:.2g} touches an hour" if np.isfinite(often) and often >= 0.01 else ""


def _vibration(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    if not leg.leg.vibrates:
        return
    name, nan = leg.leg.name, np.full(len(response.designs), np.nan)
    felt = leg.acceleration.max(axis=1) / G0
    lacking = [_vibration_gaps(response, number, leg, i) for i in range(len(nan))]
    partial = np.array([bool(gaps) for gaps in lacking])

    for way, axis in leg.leg.case_axes().items():
        k, spectrum = AXES.index(axis), leg.leg.spectrum(axis)
        level = nan if spectrum is None else nan * 0 + spectrum.level(leg.leg.level)
        level = np.full(len(nan), np.nan if spectrum is None else spectrum.level(leg.leg.level))
        worst = felt[:, :, k].argmax(axis=1)
        demand = np.where(leg.rigid, level, felt[:, :, k].max(axis=1))
        if spectrum is None:
            demand = nan

        def isolates(
            i: int, axis: str = axis, way: str = way, demand: FloatArray = demand,
            level: FloatArray = level, worst: npt.NDArray[np.intp] = worst,
        ) -> str:
            if np.isnan(level[i]):
                return f"what shakes the case along {axis} ({way}) is not given"
            if leg.rigid[i]:
                return "treated as rigid in the cold: no better than bolting it down"
            if np.isnan(demand[i]):
                return next(iter(lacking[i].values()), "not computed")
            ratio = demand[i] / level[i]
            word = "better" if ratio < 1 else "worse"
            text = (
                f"{demand[i]:.3g} g rms along {axis} at {_point(POINTS[worst[i]])}, bolted down "
                f"{level[i]:.3g} g rms: {ratio:.2g} times, {word} than bolting it down"
            )
            return "; ".join([text, *list(lacking[i].values())[:1]])

        yield Row(
            id=f"isolation/{name}/{axis}",
            unit="g rms",
            demand=demand,
            capacity=level,
            reason=isolates,
            missing=lambda i, way=way, level=level: (  # type: ignore[misc]
                f"leg[{number}].road.{way}" if np.isnan(level[i]) else next(iter(lacking[i]), "")
            ),
            source="; ".join(filter(None, [RANDOM, "" if spectrum is None else spectrum.source])),
            open=partial,
            strict=True,
        )

    limit = _each(response, lambda d: si_or_none(d.payload, "vibration_limit")) / G0
    total = np.where(leg.rigid, np.nan, felt.max(axis=(1, 2)))

    def survives(i: int) -> str:
        if np.isnan(total[i]):
            return next(iter(lacking[i].values()), "rigid in the cold: it feels the full input")
        text = f"the worst corner feels {total[i]:.3g} g rms along one axis"
        if np.isnan(limit[i]):
            return text + "; what the payload survives is not known"
        return "; ".join([f"{text} of {limit[i]:.3g} g rms", *list(lacking[i].values())[:1]])

    yield Row(
        id=f"vibration limit/{name}",
        unit="g rms",
        demand=total,
        capacity=limit,
        reason=survives,
        missing=lambda i: next(iter(lacking[i]), "")
        if not np.isnan(limit[i])
        else "payload.vibration_limit",
        source=RANDOM,
        open=partial,
    )


def _point(name: str) -> str:
    return "the centre" if name == "centre" else f"corner {name}"

"""The record of a trip on the mounts of a brief: in time, beside what its spectrum gives.

The case moves as it was recorded, along all its axes at once; the payload follows by six modes from
its pose at rest. The spectrum of the same record goes the way of a brief's road: structural
damping, axes that know nothing of each other, Gaussian peaks. Where the two differ, the record
shows why.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from isolator.base_pulse import TimeModes
from isolator.base_record import Following, RecordResponse
from isolator.brief import Brief
from isolator.checks.row import WAYS, worst_stroke
from isolator.checks.shake import mount_gaps
from isolator.clearance import Motion, both_ways, demand, narrowed
from isolator.dose import Equivalent, equivalence, rainflow_cycles
from isolator.inside import FACES, OWN
from isolator.knock import BENT, bent
from isolator.leg import felt_at
from isolator.outcome import POINTS, LegResponse
from isolator.recorded_trip import TripRecord, as_blocks, trip_record
from isolator.recording import GAP, Recording, true_rate
from isolator.response import Response, respond
from isolator.segments import even_pieces
from isolator.spectrum import mean_square
from isolator.suspension import ATTITUDES, Modes, strokes
from isolator.trip import AXES, Axis, Leg
from isolator.units import G0, SIZE, FloatArray, Given, InputError, number, refuse_other, si
from isolator.vibration import RandomResponse, peak, random_response

AGREE = 0.05
"""Between time and spectrum in rms: dashpots for loss factors are 4 % of it."""

TOGETHER, SLOW, WIDE, PEAKED, LOUDER = 0.2, 0.2, 0.25, 3.5, 1.3
"""From where on a cause is named: a correlation of two axes, the share of a channel that is slower
than the first line, lines as a share of a resonance's width, a kurtosis, the upper quartile of the
windows' rms over the lower."""

SINGLE = 6.0
"""A kurtosis from which on single shocks hold a share of the mean square."""

STILL = 1e-3
"""A case that is accelerated by less, rms, stands. [m/s²]"""

KEPT = 50_000
"""Turning points of a mount's travel that are held before they are counted."""

CLASSES = 10 ** np.arange(-5.8, 0.01, 0.2)
"""Upper ends of the classes of ranges in which cycles are listed: five to a decade. [m]"""

LEAST = 1e-3
"""Share of the damage from which on a class is listed."""

UPRIGHT = 0.9
"""Cosine between gravity as it is recorded and as the leg has it, below which they differ."""


@dataclass(frozen=True)
class Felt:
    """One direction at one place of the payload.

    Attributes
    ----------
    place, axis : str
    rms, rms_by_spectrum, peak, peak_by_spectrum : floats
        In time, and from the spectrum of the record. [m/s²]
    scatter : float
        One standard deviation of a Gaussian peak, over it. [-]
    """

    place: str
    axis: Axis
    rms: float
    rms_by_spectrum: float
    peak: float
    peak_by_spectrum: float
    scatter: float


@dataclass(frozen=True)
class Taken:
    """What is taken of the gap to one face, sag and tolerance included; gap nan if unknown. [m]"""

    face: str
    gap: float
    need: float
    need_by_spectrum: float


@dataclass(frozen=True, kw_only=True)
class Wear:
    """Cycles of the mount that wears the most, and what wears it as much.

    Attributes
    ----------
    mount, way : str
    ranges, cycles, share : (k,) arrays
        Upper end of each class of ranges, how many cycles it has, its share of the damage.
        [m, -, -]
    test : Equivalent
    """

    mount: str
    way: str
    ranges: FloatArray = field(repr=False, compare=False)
    cycles: FloatArray = field(repr=False, compare=False)
    share: FloatArray = field(repr=False, compare=False)
    test: Equivalent


@dataclass(frozen=True, kw_only=True)
class Ride:
    """The record of a trip on the mounts of a brief.

    Attributes
    ----------
    trip : TripRecord
        The record itself.
    leg : Leg
        Whose temperature and attitude hold.
    recorded : tuple of axes
        Along which the case was recorded; along others it is taken as still.
    response : RecordResponse
        In time, at `response.POINTS` and at the mounts.
    felt : tuple of Felt
        The centre along x, y, z, then the worst corner.
    gaps : tuple of Taken
    mount : str
        The mount that uses most of its way, a sentence.
    crest : float
        Largest peak in time over that of a Gaussian record, 1 at least: what a leg with this
        spectrum needs as its `crest`. [-]
    wear : Wear or None
        None without an exponent.
    sentences : tuple of str
        How it was computed, and why time and spectrum differ.
    """

    trip: TripRecord
    leg: Leg
    recorded: tuple[Axis, ...]
    response: RecordResponse = field(repr=False)
    felt: tuple[Felt, ...] = field(repr=False)
    gaps: tuple[Taken, ...] = field(repr=False)
    mount: str
    crest: float
    wear: Wear | None
    sentences: tuple[str, ...] = field(repr=False)


def ridden(
    brief: Brief,
    record: Recording | str | os.PathLike[str] | Iterable[Recording],
    *,
    leg: str | None = None,
    exponent: float | None = None,
    spacing: Given | None = None,
    progress: Callable[[float], None] | None = None,
    **reading: Any,
) -> Ride:
    """The record of a trip on the mounts of a brief, in time and from its spectrum.

    Parameters
    ----------
    brief : Brief
        Its main payload is followed, as stated: no bands.
    record : Recording, path, or blocks of one recording in order
        Of one sensor on the case, its axes those of the case; as of `trip_record`.
    leg : str, optional
        Name of the leg that was recorded: its temperature and attitude hold, and its road is the
        test that wear is compared with. The first leg that vibrates if left out.
    exponent : float, optional
        b of the life curve, N ∝ travel^−b, 1 to 15, from the maker or a test; wear is counted with
        it and not without.
    spacing, progress, reading
        As of `trip_record`.

    Raises
    ------
    InputError
        No such leg; several sensors; channels without axes; mounts whose stiffness, loss factor or
        hold on the payload is not known; a record too slow for the highest mode; wear without a
        road; what `trip_record` raises.

    Notes
    -----
    `base_record` in time; `vibration.random_response` and `vibration.peak` on the mean spectrum.
    """
    refuse_other("brief", brief, Brief, "a Brief, as read_brief gives one")
    own = _leg(brief, leg)
    b = None if exponent is None else number(exponent, "exponent", 1.0, 15.0)
    if b is not None and not own.road:
        raise InputError(
            f"exponent = {b:g}: {brief.file} has no road in leg {own.name!r} to compare wear with; "
            "give leg.road, or leave the exponent out"
        )
    hung = _Hung.of(brief, own)
    wearing = None if b is None else _Wearing(3 * len(hung.feet), b)
    follow = _Follow(hung, wearing)
    trip = trip_record(follow.through(as_blocks(record, progress=progress, **reading)),
                       spacing=spacing)  # fmt: skip
    assert follow.following is not None
    found = follow.following.result()
    if not found.base_rms.max() > STILL:
        raise InputError(
            f"record: the case stands still in it, less than {STILL:g} m/s² rms; give the record "
            "of a trip"
        )
    return _told(hung, trip, follow, found, wearing)


def _leg(brief: Brief, name: str | None) -> Leg:
    legs = brief.design.legs
    if name is None:
        first = next((leg for leg in legs if leg.road), None)
        return first or next(iter(legs), Leg(name="as recorded"))
    found = next((leg for leg in legs if leg.name == name), None)
    if found is None:
        known = ", ".join(repr(leg.name) for leg in legs) or "none"
        raise InputError(f"leg = {name!r:.60}: not in {brief.file}; it has {known}")
    return found


@dataclass(frozen=True)
class _Hung:
    """The payload of a brief at rest, as one leg has it; designs (1,)."""

    leg: Leg
    response: Response
    there: LegResponse
    modes: Modes
    time: TimeModes
    where: FloatArray
    frames: FloatArray

    @property
    def feet(self) -> FloatArray:
        return self.where[0, len(POINTS) :]

    @classmethod
    def of(cls, brief: Brief, leg: Leg) -> _Hung:
        still = Leg(
            name=leg.name,
            attitude=leg.attitude,
            temperature=leg.temperature,
            lid=leg.lid,
            vibrates=False,
            drops=False,
        )
        response = respond([replace(brief.design, legs=[still])])
        there = response.legs[0]
        lacking = mount_gaps(response, there, 0)
        if bool(there.rigid[0]):
            lacking = {"": "the mounts are treated as rigid at the leg's temperature"}
        if lacking:
            key, what = next(iter(lacking.items()))
            raise InputError(
                f"{brief.file}: {what}; {f'give {key}' if key else 'choose another leg'}, or look "
                "at the record alone"
            )
        held, pose = there.suspension, there.pose
        modes, where, frames, _ = felt_at(held, held.inertia[:, None], pose, response.corners)
        time = TimeModes.of(held, pose)
        return cls(leg, response, there, modes, time, where[:, 0], frames[:, 0])


class _Follow:
    """Lets a record by and follows it on the mounts."""

    def __init__(self, hung: _Hung, wearing: _Wearing | None) -> None:
        self.hung, self.wearing = hung, wearing
        self.following: Following | None = None
        self.axes: tuple[Axis, ...] = ()
        self.last = -np.inf

    def through(self, blocks: Iterable[Recording]) -> Iterator[Recording]:
        for block in blocks:
            if len(block.time) > 1:
                self.add(block)
            yield block

    def add(self, block: Recording) -> None:
        if self.following is None:
            self.axes = _axes(block)
            self.following = self._made(block)
        rate = self.following.rate
        columns = [AXES.index(axis) for axis in self.axes]
        for t, x in even_pieces(block.time, block.acceleration, rate):
            if t[0] - self.last > GAP / rate:
                self.following.restart()
            whole = np.tile(self.following.mean, (len(x), 1))
            whole[:, columns] = x
            self.following.add(whole)
            self.last = float(t[-1])

    def _made(self, first: Recording) -> Following:
        mean = np.zeros(3)
        mean[[AXES.index(axis) for axis in self.axes]] = first.acceleration.mean(axis=0)
        hung, count = self.hung, len(POINTS)
        return Following(
            hung.time,
            hung.where[:, :count],
            true_rate(first.time),
            feet=hung.where[:, count:],
            frames=hung.frames[:, count:],
            mean=mean,
            watch=None if self.wearing is None else self.wearing.take,
        )


def _axes(record: Recording) -> tuple[Axis, ...]:
    """The case axis of each channel."""
    if len(record.sensors) > 1 and not set(record.names) <= set(AXES):
        raise InputError(
            f"{record.source}: it has several sensors, {', '.join(map(repr, record.sensors))}; "
            "name those of the one on the case, as in channels=['x [g]', 'z [g]']"
        )
    axes = tuple(axis for name in record.names for axis in AXES if name.split()[-1] == axis)
    if len(axes) < len(record.names):
        raise InputError(
            f"{record.source}: along which axis of the case {', '.join(map(repr, record.names))} "
            "was recorded is not told; head the columns x, y, z"
        )
    return axes


class _Wearing:
    """Counts cycles of each row of a travel while it goes by; no more than `KEPT` turns wait."""

    def __init__(self, rows: int, exponent: float) -> None:
        self.exponent = exponent
        self.turns: list[list[FloatArray]] = [[] for _ in range(rows)]
        self.counts, self.worn = np.zeros((2, rows, len(CLASSES)))
        self.waiting = 0
        self.before: FloatArray | None = None

    def take(self, batch: FloatArray) -> None:
        """The next samples (1, r, m) of the one design. [m]"""
        travel = batch[0]
        x = travel if self.before is None else np.concatenate([self.before, travel], axis=1)
        self.before = x[:, -2:].copy()
        step = np.diff(x, axis=1)
        turning = step[:, 1:] * step[:, :-1] <= 0
        for waiting, own, turn in zip(self.turns, x, turning, strict=True):
            waiting.append(own[1:-1][turn].astype(float))
        self.waiting += int(turning.sum(axis=1).max(initial=0))
        if self.waiting > KEPT:
            self.count()

    def count(self) -> None:
        """Count what waits; the last turn begins what comes."""
        for k, waiting in enumerate(self.turns):
            points = np.concatenate([*waiting, np.zeros(0)])
            self.turns[k] = [points[-1:]]
            ranges, counts = rainflow_cycles(points) if len(points) > 1 else np.zeros((2, 0))
            at = np.minimum(np.searchsorted(CLASSES, ranges), len(CLASSES) - 1)
            np.add.at(self.counts[k], at, counts)
            np.add.at(self.worn[k], at, counts * (ranges / 2) ** self.exponent)
        self.waiting = 0


def _told(
    hung: _Hung,
    trip: TripRecord,
    follow: _Follow,
    found: RecordResponse,
    wearing: _Wearing | None,
) -> Ride:
    lines = trip.frequency[1:]
    roads: dict[Axis, tuple[FloatArray, FloatArray]] = {
        axis: (lines, np.maximum(trip.mean[k, 1:], 1e-30)) for k, axis in enumerate(follow.axes)
    }
    seconds = found.seconds
    gaussian = _by_spectrum(hung, roads)
    felt = _felt(found, gaussian, seconds)
    travel = peak(gaussian.travel, gaussian.travel_speed, seconds, 1.0)
    low, high = found.low[:, 1:], found.high[:, 1:]
    swing = np.stack([both_ways(low, high), both_ways(-travel[:, 1:9], travel[:, 1:9])])
    crest = max(1.0, *(one.peak / one.peak_by_spectrum for one in felt if one.peak_by_spectrum > 0))
    wear = None if wearing is None else _worn(hung, wearing, found)
    return Ride(
        trip=trip,
        leg=hung.leg,
        recorded=follow.axes,
        response=found,
        felt=felt,
        gaps=_gaps(hung, swing),
        mount=_stroke(hung, found),
        crest=crest,
        wear=wear,
        sentences=(
            *_how(hung, follow, found),
            *_why_rms(hung, trip, follow, found, felt),
            _why_peaks(trip, felt, crest),
        ),
    )


def _by_spectrum(
    hung: _Hung, roads: Mapping[Axis, tuple[FloatArray, FloatArray]]
) -> RandomResponse:
    """All axes together, at centre, corners and mounts (1, p, 3), as the roads of a leg are."""
    squares: list[FloatArray] = [np.zeros(()) for _ in fields(RandomResponse)]
    for one in _each_axis(hung, roads).values():
        squares = [
            s + getattr(one, f.name)[:, 0] ** 2 for s, f in zip(squares, fields(one), strict=True)
        ]
    return RandomResponse(*(np.sqrt(square) for square in squares))


def _each_axis(
    hung: _Hung, roads: Mapping[Axis, tuple[FloatArray, FloatArray]]
) -> dict[Axis, RandomResponse]:
    return {
        axis: random_response(
            hung.modes, hung.where[:, None], AXES.index(axis), *road, frames=hung.frames[:, None]
        )
        for axis, road in roads.items()
    }


def _felt(found: RecordResponse, gaussian: RandomResponse, seconds: float) -> tuple[Felt, ...]:
    rms, rate = gaussian.acceleration[0], gaussian.acceleration_rate[0]
    top = peak(rms, rate, seconds, 1.0)
    count = np.maximum(rate / np.where(rms > 0, rms, 1.0) / np.pi * seconds, 10.0)
    spread = np.pi / np.sqrt(12 * np.log(count)) * rms / np.where(top > 0, top, 1.0)
    corner = np.unravel_index(int(found.acceleration[0, 1:].argmax()), (len(POINTS) - 1, 3))
    places = [(0, 0), (0, 1), (0, 2), (int(corner[0]) + 1, int(corner[1]))]
    return tuple(
        Felt(
            place=POINTS[p] if p == 0 else f"corner {POINTS[p]}",
            axis=AXES[k],
            rms=float(found.acceleration_rms[0, p, k]),
            rms_by_spectrum=float(rms[p, k]),
            peak=float(found.acceleration[0, p, k]),
            peak_by_spectrum=float(top[p, k]),
            scatter=float(spread[p, k]),
        )
        for p, k in places
    )


def _gaps(hung: _Hung, swing: FloatArray) -> tuple[Taken, ...]:
    """Each face at the corner with least left, by swings (2, 1, 8, 6) in time and by spectrum."""
    response, room = hung.response, hung.response.room
    moved = hung.there.pose.moved(response.corners)
    rest = both_ways(moved, moved) + response.crept
    need = [
        narrowed(demand(Motion("shaking", "", rest, own), room.start, room.tolerance, room.root),
                 room.slope)[0]
        for own in np.maximum(swing, 0.0)
    ]  # fmt: skip
    left = np.where(OWN, np.nan_to_num(room.gap[0], nan=1e9) - need[0], np.inf)
    at = left.argmin(axis=0)
    out = []
    for k, face in enumerate(FACES):
        if face == "lid" and hung.leg.lid == "open":
            continue
        values = (float(a[at[k], k]) for a in (room.gap[0], *need))
        out.append(Taken(face, *values))
    return tuple(out)


def _stroke(hung: _Hung, found: RecordResponse) -> str:
    """The mount that uses most of its way, and whether it stays on the straight of its curve."""
    there = hung.there
    local = there.suspension.deflection(there.pose)
    moved = strokes(local + found.foot_low, local + found.foot_high)
    most, limit, where, _ = worst_stroke(moved, there.limits)
    mount, way = where[0]
    text = (
        f"Mount {hung.response.designs[0].mount_names()[mount]} is {WAYS[way]} by up to "
        f"{SIZE.text(most[0])}, sag included"
    )
    text += (
        "; how far it may go is not known."
        if np.isnan(limit[0])
        else f", of {SIZE.text(limit[0])} to metal."
    )
    if most[0] > limit[0]:
        text += " It bottoms: what follows then is not in these numbers."
    off = float(bent(there.suspension, local, np.maximum(-found.foot_low, found.foot_high))[0])
    if off >= 1.0 + BENT:
        text += f" Forces are up to {off:.2g} times off the straight on which this is computed."
    return text


def _worn(hung: _Hung, wearing: _Wearing, found: RecordResponse) -> Wear:
    wearing.count()
    row = int(wearing.worn.sum(axis=1).argmax())
    mount, way = divmod(row, 3)
    leg = hung.leg
    roads = {
        axis: (road.lines, road.density * leg.level**2)
        for axis in AXES
        if (road := leg.spectrum(axis)) is not None
    }
    p = len(POINTS) + mount
    rates = [
        (float(one.travel[0, 0, p, way]), float(one.travel_speed[0, 0, p, way]))
        for one in _each_axis(hung, roads).values()
    ]
    total = float(wearing.worn[row].sum())
    test = equivalence(
        total,
        found.seconds,
        [(rms, speed / rms / (2 * np.pi)) for rms, speed in rates if rms > 0],
        wearing.exponent,
        hardest=float(max(-found.foot_low[0, mount, way], found.foot_high[0, mount, way])),
        name=f"the road of leg {leg.name!r}, each of its {len(rates)} axes in turn,",
        of="The mount that wears most, in six modes that stay linear",
    )
    some = np.flatnonzero(wearing.worn[row] > LEAST * total)
    return Wear(
        mount=hung.response.designs[0].mount_names()[mount],
        way=("along its axis", "across its axis", "across its axis")[way],
        ranges=CLASSES[some],
        cycles=wearing.counts[row, some],
        share=wearing.worn[row, some] / total,
        test=test,
    )


def _how(hung: _Hung, follow: _Follow, found: RecordResponse) -> Iterator[str]:
    leg, following = hung.leg, follow.following
    assert following is not None
    degrees = leg.temperature_c()
    yield (
        f"Mounts as stated, without their bands, as leg {leg.name!r} has them: "
        f"{'23' if degrees is None else f'{degrees:g}'} °C, {leg.attitude}. Six modes of "
        f"{hung.time.omega.min() / 2 / np.pi:.3g} to {hung.time.omega.max() / 2 / np.pi:.3g} Hz, "
        "linear; all axes of the case at once."
    )
    low = 1 - np.cos(hung.time.omega.max() / 2 / following.rate)
    yield (
        f"Exact for straight lines between {following.rate:.4g} samples a second; peaks are read "
        f"at samples, at most {low:.2g} of one low. In time each mode has a dashpot that loses at "
        "resonance what the loss factors say; by spectrum the loss factors themselves."
    )
    if still := [axis for axis in AXES if axis not in follow.axes]:
        yield (
            f"Not recorded: {' and '.join(still)}. The case is still along "
            f"{'it' if len(still) == 1 else 'them'} here, so all of this is the least."
        )
    size = float(np.linalg.norm(found.base_mean)) / G0
    up = -float(np.array(ATTITUDES[leg.attitude]) @ found.base_mean) / G0
    if not still and 0.8 < size < 1.1 and up < UPRIGHT * size:
        yield (
            f"LOOK: gravity is not where {leg.attitude} has it: the mean is "
            + ", ".join(f"{v / G0:.2f}" for v in found.base_mean)
            + " g along x, y, z. The sensor's axes are taken for those of the case."
        )


def _why_rms(
    hung: _Hung,
    trip: TripRecord,
    follow: _Follow,
    found: RecordResponse,
    felt: tuple[Felt, ...],
) -> Iterator[str]:
    """Whether rms in time is that of the spectrum, and what the record shows if it is not."""
    loud = max(one.rms for one in felt)
    ratios = [one.rms / one.rms_by_spectrum for one in felt if one.rms > loud / 10]
    text = f"In rms time is {min(ratios):.2f} to {max(ratios):.2f} times what the spectrum gives"
    if max(abs(ratio - 1) for ratio in ratios) <= AGREE:
        yield f"{text}: they agree."
        return
    causes = []
    for k, axis in enumerate(follow.axes):
        whole = found.base_rms[AXES.index(axis)]
        inside = mean_square(trip.frequency[1:], np.maximum(trip.mean[k, 1:], 1e-30))
        slow = np.sqrt(max(0.0, 1 - inside / whole**2)) if whole > 0 else 0.0
        if slow > SLOW:
            causes.append(
                f"{slow:.0%} of {axis} is slower than the first line, {trip.frequency[1]:.2g} Hz "
                "(it turns in gravity, or its zero drifts), which the spectrum leaves out"
            )
    for i, j in ((0, 1), (0, 2), (1, 2)):
        if abs(both := float(found.base_together[i, j])) > TOGETHER:
            causes.append(
                f"{AXES[i]} and {AXES[j]} move together (correlation {both:.2f}), which spectra of "
                "single axes do not know"
            )
    width = float((hung.time.zeta * hung.time.omega).min() / np.pi)
    if si(trip, "spacing") > WIDE * width:
        causes.append(
            f"lines {si(trip, 'spacing'):.2g} Hz apart are wide for a resonance of {width:.2g} Hz "
            "between its half powers"
        )
    if np.nanmax(trip.kurtosis, initial=0.0) > SINGLE:
        causes.append(
            "single shocks hold much of it, and a spectrum counts them by where they lie in its "
            "segments, up to a third more or less in power"
        )
    if float(hung.time.zeta.max()) > 0.15:
        causes.append("so much damping is not the same as dashpots and as loss factors")
    yield f"{text}: {'; '.join(causes) or 'gaps, or too few cycles of the modes to tell'}."


def _why_peaks(trip: TripRecord, felt: tuple[Felt, ...], crest: float) -> str:
    """Whether peaks are Gaussian, and what the record shows if they are not."""
    loud = max(one.peak for one in felt)
    ratios = [one.peak / one.peak_by_spectrum for one in felt if one.peak > loud / 10]
    scatter = max(one.scatter for one in felt)
    text = (
        f"Peaks in time are {min(ratios):.2f} to {max(ratios):.2f} times those of a Gaussian "
        f"record with this spectrum, which scatter by {scatter:.0%}"
    )
    if max(ratios) < 1 - 2 * scatter:
        return f"{text}: tones, or too short a record for its peaks."
    if max(ratios) <= 1 + 2 * scatter:
        return f"{text}: they agree."
    causes, many = [], len(trip.window_time) >= 4
    for k, name in enumerate(trip.names):
        if not trip.kurtosis[k] > PEAKED:
            continue
        low, high = np.quantile(trip.window_rms[:, k], (0.25, 0.75)) if many else (1.0, 1.0)
        if high > LOUDER * low:
            causes.append(
                f"{name} is louder at times: a quarter of its windows have more than "
                f"{high / low:.2g} times what a quarter has"
            )
        else:
            causes.append(
                f"{name} has a kurtosis of {trip.kurtosis[k]:.3g} and a crest of "
                f"{trip.crest[k]:.3g}, a Gaussian one 3 and about 4.5"
            )
    near = float(np.nanmax(trip.kurtosis, initial=0.0))
    reason = "; ".join(causes) or (
        f"with a kurtosis of {near:.2g} at most the channels are near it, so single shocks that "
        "the modes pick out"
    )
    return f"{text}: not Gaussian ({reason}). A leg with this spectrum needs crest = {crest:.2g}."

"""The kernels on one leg of a trip, once for a batch of designs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import TypeVar

import numpy as np

from isolator.clearance import both_ways
from isolator.design import LIGHT, Design
from isolator.handling import FOOTFALL, Walk, hop_height
from isolator.knock import BENT, knock
from isolator.outcome import POINTS, Bools, Falling, Hopping, LegResponse, Ringing, Shaking, Walking
from isolator.resonance import single_parts
from isolator.shock import (
    ALLOWANCE,
    Drop,
    Line,
    flat_drop,
    height_for,
    jolt,
    light_shell_peak,
    swing,
)
from isolator.sine import Sine
from isolator.suspension import (
    ANY_LOSS,
    ATTITUDES,
    Modes,
    Pose,
    Suspension,
    largest_force,
    motion_at,
    strokes,
)
from isolator.trip import AXES, Axis, Landing, Leg
from isolator.units import G0, FloatArray, si, si_or_none
from isolator.vibration import (
    RandomResponse,
    SineResponse,
    around_modes,
    peak,
    random_response,
    sine_response,
    tones_response,
)

Felt = TypeVar("Felt", RandomResponse, SineResponse)

TAKES_PART = 0.05
"""A mode takes part along an axis if it has more than this share of how the centre moves with the
case; the shares of all six make 1 (our choice). [-]"""

SEARCHED = (0.5, 2.0)
"""A dwell at resonance is looked for from so many times the lowest mode to so many times the
highest; damping shifts a peak by far less."""

STILL = 1e-9
"""A mount that goes less than this stands still: so much is rounding. [m]"""

FURTHER, ROUNDING = 1.02, 1e-6
"""From so many times the way of the centre and so much more on a mount goes further by rotation;
the second is for mounts that hardly move. [-, m]"""

AT_POINTS, AT_CORNERS = slice(len(POINTS)), slice(1, len(POINTS))
AT_MOUNTS = slice(len(POINTS), None)
"""Of what `felt_at` lists: `POINTS`, which are the centre and the corners; the corners; the
mounts."""


@dataclass(frozen=True)
class _Hung:
    """Designs (b,) as they hang on a leg: what all its kernels ask for.

    Attributes
    ----------
    designs : sequence of Design, b
    suspension : Suspension of (b,)
        At the leg's temperature.
    pose : Pose of (b,)
        In the leg's attitude.
    inertia : (b, i, 3, 3) array
        The band. [kg·m²]
    corners : (b, 8, 3) array
        From the centre of gravity. [m]
    limits : (b, n, 3) array
        See `LegResponse.limits`. [m]
    blind : (b,) bool array
        Where nobody knows how stiff the mounts are in the cold.
    """

    designs: Sequence[Design]
    suspension: Suspension
    pose: Pose
    inertia: FloatArray
    corners: FloatArray
    limits: FloatArray
    blind: Bools


def on_leg(
    leg: Leg,
    designs: Sequence[Design],
    suspension: Suspension,
    inertia: FloatArray,
    corners: FloatArray,
    limits: FloatArray,
) -> LegResponse:
    """A leg without the falls of its drop, see `with_falls`.

    Parameters
    ----------
    leg : Leg
    designs : sequence of Design, b
    suspension : Suspension of (b,), at 23 °C with the nominal inertia
    inertia : (b, i, 3, 3) array
        The band. [kg·m²]
    corners : (b, 8, 3) array
        From the centre of gravity. [m]
    limits : (b, n, 3) array
        How far each mount may go, see `Mount.limits`. [m]
    """
    kinds = {id(p.mount): p.mount for d in designs for p in d.places}
    at = {key: kind.cold(leg.temperature_c()) for key, kind in kinds.items()}
    cold = np.array([[at[id(p.mount)] for p in d.places] for d in designs])
    factor, loss = cold[..., 0], cold[..., 1]
    there = suspension.stiffened(np.where(np.isfinite(factor), factor, 1.0), loss)
    pose = there.pose(G0 * np.array(ATTITUDES[leg.attitude]))
    stands = pose.found & (there.gravity_left(pose) > 0)
    reach = there.limits_with_sheet(limits)
    rigid, uncertain = np.isinf(factor).any(axis=-1), np.isnan(factor).any(axis=-1)
    hung = _Hung(designs, there, pose, inertia, corners, reach, rigid | uncertain)
    unheld = ~stands | hung.blind
    unusable = unheld | (not leg.fixed_base())
    shaking = _shake(leg, hung, unusable) if leg.vibrates else None
    sine = None if leg.sine is None else _ring(leg, leg.sine, hung, unusable)
    walking = None if leg.walk is None else _walk(leg, leg.walk, hung, unheld)
    jolted = None
    if leg.pulse is not None:
        still = unheld | (leg.tied is False)
        jolted = knock(leg, leg.pulse, there, inertia, pose, corners, still)
    set_down = None
    if (height := si_or_none(leg, "set_down")) is not None:
        set_down = _fall(hung, "set-down", height, _faces(("lid up",)))
    hopping = None
    if not leg.fixed_base() and np.isfinite(speed := leg.floor_speed()):
        high, equivalent = (float(h) for h in hop_height(speed))
        landing = _fall(hung, "hop", equivalent, _faces((leg.attitude,)))
        hopping = Hopping(speed=speed, height=high, landing=landing)
    return LegResponse(
        leg=leg,
        stiffening=factor,
        rigid=rigid,
        uncertain=uncertain,
        suspension=there,
        pose=pose,
        stands=stands,
        limits=reach,
        shaking=shaking,
        falling=None,
        tilted=None,
        own=None,
        set_down=set_down,
        sine=sine,
        walking=walking,
        hopping=hopping,
        knock=jolted,
        parts=None,
    )


def with_falls(
    held: LegResponse,
    leg: Leg,
    designs: Sequence[Design],
    inertia: FloatArray,
    corners: FloatArray,
) -> LegResponse:
    """A leg with the falls of its drop, and what single parts feel."""
    there, pose = held.suspension, held.pose
    falling = tilted = own = None
    blind = held.rigid | held.uncertain
    hung = _Hung(designs, there, pose, inertia, corners, held.limits, blind)
    if leg.drops and (height := si_or_none(leg, "drop")) is not None:
        if leg.faces():
            falling = _fall(hung, "drop", height, _faces(leg.faces()))
        landings = _tilted(leg.groups(), designs)
        tilted = _fall(hung, "drop", height, landings) if landings.names else None
        own = _fall(hung, "drop", height, _own(leg.own)) if leg.own else None
    unusable = ~held.stands | blind | (not leg.fixed_base())
    flat = falling.flat if falling else None
    parts = single_parts(leg, designs, there, inertia, pose, unusable, held.rigid, flat)
    return replace(held, leg=leg, falling=falling, tilted=tilted, own=own, parts=parts)


def _shake(leg: Leg, hung: _Hung, unusable: Bools) -> Shaking:
    """Response of the corners and the mounts to the given axes of the road."""
    given = {axis: s for axis in AXES if (s := leg.spectrum(axis)) is not None}
    modes, where, frames, silent = _felt(hung, unusable)
    by_axis: dict[Axis, RandomResponse] = {}
    uncovered: dict[Axis, FloatArray] = {}
    for axis, spectrum in given.items():
        k, density = AXES.index(axis), spectrum.density * leg.level**2
        by_axis[axis] = random_response(modes, where, k, spectrum.lines, density, frames=frames)
        uncovered[axis] = _below(modes, k, float(spectrum.lines[0]))

    def together(name: str) -> FloatArray:
        squares = sum(getattr(r, name) ** 2 for r in by_axis.values())
        blank = np.full((*hung.inertia.shape[:2], where.shape[-2], 3), np.nan)
        return np.where(silent, np.nan, np.sqrt(squares)) if given else blank

    travel, speed = together("travel"), together("travel_speed")
    acceleration, jerk = together("acceleration"), together("acceleration_rate")
    seconds = si_or_none(leg, "duration")
    lasting = np.nan if seconds is None else seconds
    most = peak(travel, speed, lasting, leg.crest)
    mounts, rest, swing = _about_rest(hung, most)
    return Shaking(
        by_axis={axis: _at_points(r) for axis, r in by_axis.items()},
        uncovered=uncovered,
        acceleration=acceleration[:, :, AT_POINTS],
        acceleration_peak=peak(acceleration, jerk, lasting, leg.crest)[:, :, AT_POINTS],
        travel=travel[:, :, AT_POINTS],
        travel_peak=most[:, :, AT_POINTS],
        mounts=mounts,
        rest=rest,
        swing=swing,
        speed=speed[:, :, AT_POINTS],
    )


def felt_at(
    there: Suspension, inertia: FloatArray, pose: Pose, corners: FloatArray
) -> tuple[Modes, FloatArray, FloatArray, Bools]:
    """Modes (b, i), centre, corners and mounts (b, 1, p, 3) with their axes, and unknown damping.

    Where a loss factor is unknown (b,) the kernels see `ANY_LOSS`; the result is to be blanked.
    """
    modes = there.across(inertia, ANY_LOSS).modes(pose.repeated())
    return modes, *there.spots(pose, corners), there.loss_unknown()


def _felt(hung: _Hung, unusable: Bools) -> tuple[Modes, FloatArray, FloatArray, Bools]:
    """As `felt_at`, with where the response is to be blanked, (b, 1, 1, 1)."""
    modes, where, frames, blind = felt_at(hung.suspension, hung.inertia, hung.pose, hung.corners)
    return modes, where, frames, (blind | unusable)[:, None, None, None]


def _about_rest(hung: _Hung, travel: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What a travel (b, i, p, 3) about rest takes of mounts and corners. [m]

    Strokes of the mounts (b, n, 3), and of the corners towards the faces (b, 8, 6) where they rest
    and how far they swing.
    """
    local, bend = hung.suspension.deflection(hung.pose), travel[:, :, AT_MOUNTS].max(axis=1)
    rest = hung.pose.moved(hung.corners)
    swing = np.repeat(travel[:, :, AT_CORNERS].max(axis=1), 2, axis=-1)
    return strokes(local - bend, local + bend), both_ways(rest, rest), swing


def _at_points(response: Felt) -> Felt:
    """A response at `POINTS` alone, without the mounts."""
    kept = {f.name: getattr(response, f.name)[:, :, AT_POINTS] for f in fields(response)}
    return replace(response, **kept)


def _ring(leg: Leg, sine: Sine, hung: _Hung, unusable: Bools) -> Ringing:
    """Steady response of the corners and the mounts to the sine, one axis at a time."""
    modes, where, frames, silent = _felt(hung, unusable)
    runs = _runs(sine, modes)
    by_axis: dict[Axis, SineResponse] = {}
    for axis in (leg.case_axes()[way] for way in sine.ways):
        k = AXES.index(axis)
        each = [sine_response(modes, where, k, at, a, frames=frames) for at, a in runs]
        by_axis[axis] = each[0] if len(each) == 1 else each[0].or_worse(each[1])
    outside, fast, slow = _missed(sine, modes, list(by_axis))
    most = np.max([r.travel for r in by_axis.values()], axis=0)
    mounts, rest, swing = _about_rest(hung, np.where(silent, np.nan, most))
    return Ringing(
        by_axis={axis: _at_points(_blanked(r, silent)) for axis, r in by_axis.items()},
        outside=outside,
        fast=fast,
        slow_enough=slow,
        mounts=mounts,
        rest=rest,
        swing=swing,
    )


def _blanked(response: SineResponse, silent: Bools) -> SineResponse:
    each = (getattr(response, f.name) for f in fields(SineResponse))
    return SineResponse(*(np.where(silent, np.nan, value) for value in each))


def _runs(sine: Sine, modes: Modes) -> list[tuple[FloatArray, FloatArray]]:
    """Frequencies and amplitudes (b, i, f) of the sweep and of the dwell. [Hz, m/s²]"""
    natural = modes.natural
    runs: list[tuple[FloatArray, FloatArray]] = []
    low = SEARCHED[0] * float(natural[natural > 0].min(initial=1.0))
    high = SEARCHED[1] * float(natural.max())
    if (sweep := sine.sweep) is not None:
        low, high = si(sweep, "start"), si(sweep, "stop")
        at = around_modes(modes, low, high, sweep.crossover())
        runs.append((at, sweep.amplitude(at)))
    if (dwell := sine.dwell) is not None:
        tone = si_or_none(dwell, "at")
        single = np.full((*natural.shape[:-1], 1), np.nan if tone is None else tone)
        at = around_modes(modes, low, high) if tone is None else single
        runs.append((at, np.full_like(at, si(dwell, "level"))))
    return runs


def _missed(
    sine: Sine, modes: Modes, axes: Sequence[Axis]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What a sweep misses, (b,) each: `outside`, `fast` and `slow_enough` of `Ringing`."""
    natural = modes.natural
    outside, fast, slow = np.full((3, natural.shape[0]), np.nan)
    if (sweep := sine.sweep) is None:
        return outside, fast, slow
    low, high = si(sweep, "start"), si(sweep, "stop")
    loss = modes.eigenvalue.imag / np.where(natural > 0, modes.eigenvalue.real, 1.0)
    limit = sweep.fastest(natural, loss)
    for axis in axes:
        part = _takes_part(modes, AXES.index(axis))
        outside = np.fmin(outside, _lowest(natural, part & ((natural < low) | (natural > high))))
        hurried = part & np.isfinite(limit)
        fast = np.fmin(fast, _lowest(natural, hurried))
        slow = np.fmin(slow, _lowest(limit, hurried))
    return outside, fast, slow


def _walk(leg: Leg, walk: Walk, hung: _Hung, unusable: Bools) -> Walking:
    """Steady response of the corners and the mounts to footsteps, and the poses of a swing."""
    modes, where, frames, silent = _felt(hung, unusable)
    axes = leg.case_axes()
    order = [list(FOOTFALL).index(way) for way in sorted(FOOTFALL, key=lambda w: axes[w])]
    frequency, level = walk.tones(walk.rates(modes.natural))
    level = level[..., order]
    found = tones_response(modes, where, frequency, level, frames=frames)
    felt, rms, travel = (
        np.where(silent, np.nan, value)
        for value in (found.acceleration, found.acceleration_rms, found.travel)
    )
    mounts, rest, swing = _about_rest(hung, travel)
    down = np.array(ATTITUDES[leg.attitude])
    forces = walk.swung(down, np.eye(3)[down == 0])
    swung_mounts = swung_rest = None
    held = np.ones(len(unusable), dtype=bool)
    if len(forces) > 1:
        there = hung.suspension.repeated()
        swung = there.pose(forces)
        held = np.asarray(swung.found.all(axis=1))
        lost = (unusable | ~held)[:, None, None]
        each, bend = there.deflection(swung), travel[:, :, AT_MOUNTS].max(axis=1)
        moved = swung.moved(hung.corners[:, None])
        ends = strokes(each.min(axis=1) - bend, each.max(axis=1) + bend)
        swung_mounts = np.where(lost, np.nan, ends)
        ways = both_ways(moved.min(axis=1), moved.max(axis=1))
        swung_rest = np.where(lost, np.nan, ways)
    steps = level.reshape(len(level), -1, 3).max(axis=1)
    return Walking(
        bolted=steps.sum(axis=0),
        bolted_rms=np.sqrt((steps**2).sum(axis=0) / 2),
        still=np.abs(forces).max(axis=0),
        acceleration=felt[:, :, AT_POINTS],
        acceleration_rms=rms[:, :, AT_POINTS],
        travel=travel[:, :, AT_POINTS],
        mounts=mounts,
        rest=rest,
        swing=swing,
        swung_mounts=swung_mounts,
        swung_rest=swung_rest,
        held=held,
    )


def _lowest(values: FloatArray, counts: Bools) -> FloatArray:
    """Lowest (b,) of the values (b, i, 6) that count, nan if none."""
    low = np.where(counts, values, np.inf).min(axis=(-1, -2))
    return np.where(np.isinf(low), np.nan, low)


def _below(modes: Modes, axis: int, first: float) -> FloatArray:
    """Lowest frequency (b,) of a mode below the first line that takes part; nan if none. [Hz]"""
    return _lowest(modes.natural, _takes_part(modes, axis) & (modes.natural < first))


def _takes_part(modes: Modes, axis: int) -> Bools:
    """Modes (b, i, 6) that move the centre along an axis of the case when it is shaken so."""
    return np.abs(modes.shape[..., axis, :] * modes.share[..., :, axis]) > TAKES_PART


@dataclass(frozen=True)
class _Landings:
    """What a case lands on: names and groups (l), what is down (b, l, 3) or (l, 3), its spin."""

    names: Sequence[str]
    groups: Sequence[str]
    down: FloatArray
    spin: FloatArray = field(default_factory=lambda: np.zeros(3))


def _faces(names: Sequence[str]) -> _Landings:
    return _Landings(names, [""] * len(names), np.array([ATTITUDES[name] for name in names]))


def _own(landings: Sequence[Landing]) -> _Landings:
    names, down = [one.name for one in landings], np.array([one.way() for one in landings])
    spin = np.array([one.turning() for one in landings])
    return _Landings(names, ["own"] * len(names), down, spin)


def _tilted(groups: Sequence[str], designs: Sequence[Design]) -> _Landings:
    """Edges and corners, none where the size of a case is unknown."""
    names, of, lines = list[str](), list[str](), list[FloatArray]()
    for group in groups:
        each = [design.case.fall_lines(group) for design in designs]
        if all(found for found, _ in each):
            names += each[0][0]
            of += [group] * len(each[0][0])
            lines.append(np.stack([down for _, down in each]))
    return _Landings(names, of, np.concatenate(lines, axis=1) if lines else np.zeros((0, 3)))


def _fall(hung: _Hung, kind: str, from_height: float, landings: _Landings) -> Falling:
    """The landings of a fall: the centre by energy, corners and mounts with rotation and ring."""
    designs, there, limits, blind = hung.designs, hung.suspension, hung.limits, hung.blind
    down = landings.down
    height = np.asarray(from_height)
    back_up = np.array([[d.case.restitution or 0.0] for d in designs])
    shell = np.array([[si_or_none(d.case, "mass") or np.nan] for d in designs])
    light = np.where(shell < LIGHT * np.asarray(there.mass)[:, None], shell, np.nan)
    least = light_shell_peak(
        there.repeated(), down, height, limits[:, None], light, restitution=back_up
    )
    flat = flat_drop(there.repeated(), down, height, limits[:, None], restitution=back_up)
    stop = np.where(np.isnan(flat.bottom), np.inf, flat.bottom)[..., None]
    band = replace(there.repeated().repeated(), inertia=hung.inertia[:, None])
    way = down[..., None, :]

    def moves(
        held: Suspension, rows: FloatArray, ahead: FloatArray, back: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        low, high = swing(
            held, way, height, rows, ahead[..., None], back[..., None],
            restitution=back_up[..., None],
        )  # fmt: skip
        return low.min(axis=2), high.max(axis=2)

    bent = np.broadcast_to(stop[..., 0], flat.travel_most.shape)
    rows = motion_at(hung.corners)[:, None, None]
    wall = moves(band, rows, np.minimum(flat.travel_most, bent), flat.rebound)
    feet = (there.frames @ motion_at(there.position))[:, None, None]
    soft = moves(band, feet, flat.travel_most, flat.rebound)
    stiff = band.dynamic()
    hard = strokes(*moves(stiff, feet, flat.stiff_travel_most, flat.stiff_rebound))
    curve = there.dynamic().repeated().whole
    with np.errstate(invalid="ignore"):  # no number for mounts that it flies off
        force = largest_force(curve, hard)
    corner = jolt(
        stiff,
        way,
        height,
        rows,
        flat.peak_most[..., None],
        restitution=back_up[..., None],
    ).max(axis=(2, 3, 4))
    mounts = strokes(*soft)
    doubt = np.where(_bent(there, mounts) & _turns(there, down, flat, mounts), ALLOWANCE, 1.0)
    mounts = np.where(blind[:, None, None, None], np.nan, mounts)
    with np.errstate(divide="ignore", invalid="ignore"):
        just = flat.travel_most / share_of_travel(mounts, limits).max(axis=(2, 3))
    return Falling(
        kind=kind,
        groups=landings.groups,
        height=from_height,
        landings=landings.names,
        down=landings.down,
        spin=landings.spin,
        peak_least=least,
        flat=flat,
        mounts=mounts,
        mount_force=np.where(blind[:, None, None], np.nan, force),
        corner_peak=np.where(blind[:, None], np.nan, corner),
        doubt=doubt,
        may_bottom=np.asarray((mounts > limits[:, None]).any(axis=(2, 3))),
        end_unknown=end_unknown(mounts, limits),
        bottoming_height=height_for(there.repeated(), down, just, restitution=back_up),
        reach=np.where(blind[:, None, None, None], np.nan, both_ways(*wall)),
    )


def share_of_travel(mounts: FloatArray, limits: FloatArray) -> FloatArray:
    """Motion of mounts (b, l, n, 3) over their limits (b, n, 3). [-]

    0 where one does not move, or has no end as where it lifts off; nan where it moves and its limit
    is unknown.
    """
    ends = ~np.isinf(limits)[:, None] & (mounts > STILL)
    return np.divide(mounts, limits[:, None], out=np.zeros_like(mounts), where=ends)


def end_unknown(mounts: FloatArray, limits: FloatArray) -> Bools:
    """Landings (b, l) in which a mount moves (b, l, n, 3) where its limit (b, n, 3) is unknown."""
    return np.asarray(np.isnan(share_of_travel(mounts, limits)).any(axis=(2, 3)))


def _bent(there: Suspension, mounts: FloatArray) -> Bools:
    """Landings (b, l) in which a mount leaves the straight line of its tangent at rest."""
    curve = there.repeated().whole
    bent = np.zeros(mounts.shape[:2], dtype=bool)
    for way, (k, sign) in enumerate([(0, 1.0), (0, -1.0), (1, 1.0)]):
        at = np.zeros((*mounts.shape[:3], 2))
        at[..., k] = np.where(np.isfinite(mounts[..., way]), sign * mounts[..., way], 0.0)
        force, straight = curve.force(at), curve.tangent(0 * at) * at
        off = np.abs(force - straight) > BENT * np.maximum(np.abs(force), np.abs(straight))
        bent |= off[..., k].any(axis=-1)
    return bent


def _turns(there: Suspension, down: FloatArray, flat: Drop, mounts: FloatArray) -> Bools:
    """Landings (b, l) in which rotation makes a mount go further than the centre does."""
    slope = Line.along(there.repeated(), down).slope
    back, ahead = (
        slope * np.where(np.isfinite(d), d, 0.0)[..., None, None]
        for d in (-flat.rebound, flat.travel_most)
    )
    straight = strokes(np.minimum(back, ahead), np.maximum(back, ahead))
    return np.asarray((mounts > FURTHER * straight + ROUNDING).any(axis=(2, 3)))

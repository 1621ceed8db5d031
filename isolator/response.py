"""What happens to one design or many: the kernels run once for a batch.

All designs of a batch share the trip and the numbers of mounts and cables. The inertia band of a
payload of which only mass and size are known is one more axis of the arrays.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property, partial

import numpy as np
import numpy.typing as npt

from isolator.clearance import (
    Motion,
    both_ways,
    demand,
    narrowed,
    towards_faces,
)
from isolator.design import LIGHT, Design
from isolator.handling import FOOTFALL, Walk, hop_height
from isolator.inside import FACES, Solids
from isolator.knock import Knock, knock
from isolator.payload import CORNERS
from isolator.resonance import SingleParts, single_parts
from isolator.seat import most_shift
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
from isolator.suspension import ATTITUDES, Modes, Pose, Suspension, motion_at, strokes
from isolator.trip import AXES, Axis, Landing, Leg
from isolator.units import G0, FloatArray, si, si_array, si_or_none
from isolator.vibration import (
    RandomResponse,
    SineResponse,
    around_modes,
    peak,
    random_response,
    sine_response,
    tones_response,
    touches_an_hour,
)

Bools = npt.NDArray[np.bool_]

POINTS = ("centre", *CORNERS)
DOWN = np.array(list(ATTITUDES.values()))


@dataclass(frozen=True, kw_only=True)
class Shaking:
    """What the road of a leg does, all given axes together; nan where something is unknown.

    Attributes
    ----------
    by_axis : mapping of case axis to RandomResponse of (b, i), i the inertia band
        At `POINTS`, for each axis that the road gives, alone.
    uncovered : mapping of case axis to (b,) array
        Lowest frequency of a mode below the spectrum's first line that takes part, else nan. [Hz]
    acceleration, acceleration_peak, travel, travel_peak : (b, i, 9, 3) arrays
        At `POINTS`; rms, and the largest expected in the leg's duration. [m/s², m]
    mounts : (b, n, 3) array
        How far each mount is pushed, pulled and moved across, sag included. [m]
    rest, swing : (b, 8, 6) arrays
        Of each corner towards each face: where it is at rest from the unloaded pose, and how far
        it swings about that. [m]
    speed : (b, i, 9, 3) array
        Rate of the travel at `POINTS`, rms. [m/s]
    """

    by_axis: Mapping[Axis, RandomResponse]
    uncovered: Mapping[Axis, FloatArray]
    acceleration: FloatArray
    acceleration_peak: FloatArray
    travel: FloatArray
    travel_peak: FloatArray
    mounts: FloatArray
    rest: FloatArray
    swing: FloatArray
    speed: FloatArray


@dataclass(frozen=True, kw_only=True)
class Ringing:
    """What the sine of a leg does, one axis at a time; nan where something is unknown.

    Attributes
    ----------
    by_axis : mapping of case axis to SineResponse of (b, i), i the inertia band
        At `POINTS`, for each axis that the sine shakes.
    outside : (b,) array
        Lowest frequency of a mode that the sweep does not pass, though it takes part; else nan.
        [Hz]
    fast, slow_enough : (b,) arrays
        Lowest mode that the sweep is too fast for, and the rate that would do; nan if none.
        [Hz, octaves/min]
    mounts : (b, n, 3) array
        How far each mount is pushed, pulled and moved across, sag included. [m]
    rest, swing : (b, 8, 6) arrays
        Of each corner towards each face, see `Shaking`. [m]
    """

    by_axis: Mapping[Axis, SineResponse]
    outside: FloatArray
    fast: FloatArray
    slow_enough: FloatArray
    mounts: FloatArray
    rest: FloatArray
    swing: FloatArray


@dataclass(frozen=True, kw_only=True)
class Touchdown:
    """What landings (l) of designs (b) do as they happen, see `falls`.

    Each is the worst over the phases of the ring of its release and over the inertia band; nan
    where a motion did not converge, or where nobody knows how stiff the mounts are.

    Attributes
    ----------
    peak, corner : (b, l) arrays
        Largest specific force at the centre, and at the worst corner of the payload's box. [m/s²]
    parts : (b, l, p) array
        At the feet of each part that is judged on its own, see `Design.asking`; meaningless for
        one that is fixed in the case. [m/s²]
    duration, velocity_change : (b, l) arrays
        Of the pulse at the centre that has that peak: time above a tenth of it, and its change of
        velocity. [s, m/s]
    mounts : (b, l, n, 3) array
        How far each mount is pushed, pulled and moved across; static curves. [m]
    force : (b, l, n) array
        Largest force of each mount, its damper included; dynamic curves. [N]
    reach : (b, l, 8, 6) array
        Motion of each corner towards each face from the unloaded pose. [m]
    metal : (b, l) array
        Speed with which a mount comes to its limit; 0 where none does. [m/s]
    before : (b, l) array
        Peak at the centre until then. [m/s²]
    sunk : (b, l) array
        How far the shell sank into its foam; 0 without. [m]
    struck : (b, l) array
        With which speed the shell met the floor again: its fastest corner where it turns. [m/s]
    """

    peak: FloatArray
    corner: FloatArray
    parts: FloatArray
    duration: FloatArray
    velocity_change: FloatArray
    mounts: FloatArray
    force: FloatArray
    reach: FloatArray
    metal: FloatArray
    before: FloatArray
    sunk: FloatArray
    struck: FloatArray


@dataclass(frozen=True, kw_only=True)
class Turning:
    """Landings (l) in which the case turns down onto a face.

    Attributes
    ----------
    kind : "slap-down" or "topple"
    faces, edges : sequences of attitudes
        What it comes to lie on; the side on which the edge is that stands on the floor before.
    height : float
        From which the edge falls; 0 for a topple. [m]
    touch : Touchdown of (b, l)
    """

    kind: str
    faces: Sequence[str]
    edges: Sequence[str]
    height: float
    touch: Touchdown


@dataclass(frozen=True, kw_only=True)
class Walking:
    """What footsteps do, and a swing at the handle; nan where something is unknown.

    Attributes
    ----------
    bolted, bolted_rms : (3,) arrays
        Most that the case itself feels along x, y, z, gravity left out. [m/s²]
    still : (3,) array
        Specific force on the payload along x, y, z, at rest or at the worst of the swing. [m/s²]
    acceleration, acceleration_rms, travel : (b, i, 9, 3) arrays
        At `POINTS`, i the inertia band: peak and rms, gravity left out; travel in the case, peak.
        [m/s², m]
    mounts : (b, n, 3) array
        How far each mount is pushed, pulled and moved across, sag included. [m]
    rest, swing : (b, 8, 6) arrays
        Of each corner towards each face, see `Shaking`. [m]
    swung_mounts : (b, n, 3) array or None
        As `mounts`, about the poses of the swing at the handle; None where it is not asked for.
    swung_rest : (b, 8, 6) array or None
        As `rest` likewise. [m]
    held : (b,) bool array
        Whether the payload comes to rest in all those poses.
    """

    bolted: FloatArray
    bolted_rms: FloatArray
    still: FloatArray
    acceleration: FloatArray
    acceleration_rms: FloatArray
    travel: FloatArray
    mounts: FloatArray
    rest: FloatArray
    swing: FloatArray
    swung_mounts: FloatArray | None
    swung_rest: FloatArray | None
    held: Bools


@dataclass(frozen=True, kw_only=True)
class Falling:
    """What a fall of a leg does, for its landings (l).

    Attributes
    ----------
    kind : "drop" or "set-down"
    groups : sequence of str
        Of each landing: ``edges``, ``corners``, ``own`` or empty for a face.
    height : float
        [m]
    landings : sequence of attitudes
    down : (b, l, 3) or (l, 3) array
        What is down. [-]
    spin : (l, 3) or (3,) array
        How the case turns as it lands; no estimate by energy knows of it. [rad/s]
    peak_least : (b, l) array
        Peak of the one contact of a light shell, see `light_shell_peak`; nan where the shell is
        not weighed, or is heavy beside the payload. [g]
    flat : Drop of (b, l)
    mounts : (b, l, n, 3) array
        How far each mount is pushed, pulled and moved across at the most, rotation and ring
        included; static curves. [m]
    mount_force : (b, l, n) array
        Largest force of each mount likewise; dynamic curves. [N]
    corner_peak : (b, l) array
        Bound of the specific force at the worst corner along one axis likewise. [g]
    doubt : (b, l) array
        What `mounts`, `mount_force`, `corner_peak` and `reach` are multiplied by before they
        pass: `ALLOWANCE` where curves and rotation meet, else 1. [-]
    may_bottom : (b, l) bool array
        A mount may reach its limit; False where the limit is unknown.
    end_unknown : (b, l) bool array
        A mount moves a way whose limit is unknown.
    bottoming_height : (b, l) array
        About the height from which the first mount may reach its limit, taking `mounts` to grow
        with the travel of the centre; nan if unknown or never. [m]
    reach : (b, l, 8, 6) array
        Motion of each corner towards each face from the unloaded pose. [m]
    touch : Touchdown or None
        What it does as it happens; None where only the energy was asked.
    """

    kind: str
    groups: Sequence[str]
    height: float
    landings: Sequence[str]
    down: FloatArray
    spin: FloatArray
    peak_least: FloatArray
    flat: Drop
    mounts: FloatArray
    mount_force: FloatArray
    corner_peak: FloatArray
    doubt: FloatArray
    may_bottom: Bools
    end_unknown: Bools
    bottoming_height: FloatArray
    reach: FloatArray
    touch: Touchdown | None = None


@dataclass(frozen=True, kw_only=True)
class Hopping:
    """A loose case that hops on its floor.

    Attributes
    ----------
    speed : float
        Largest of the floor. [m/s]
    height : float
        How high it hops. [m]
    landing : Falling of (b, 1)
        The set-down that its landing is like, as it stands.
    """

    speed: float
    height: float
    landing: Falling


@dataclass(frozen=True, kw_only=True)
class LegResponse:
    """What one leg does to designs (b,).

    Attributes
    ----------
    leg : Leg
    stiffening : (b, n) array
        Stiffness of the mounts at its temperature over that at 23 °C; inf if rigid, nan if
        unknown. [-]
    rigid, uncertain : (b,) bool arrays
        Colder than the mounts' data; a temperature at which their stiffness is unknown.
    suspension : Suspension of (b,)
        At its temperature; as at 23 °C where rigid or uncertain.
    pose : Pose of (b,)
    stands : (b,) bool array
        Comes to rest in its attitude without toppling.
    limits : (b, n, 3) array
        See `Response.limits`, at its temperature. [m]
    shaking : Shaking or None
        None for a leg without vibration.
    falling : Falling or None
        None for a leg without a drop, or with one from an unknown height.
    tilted : Falling or None
        Its drop on edges and corners, where they are asked for and the case's size is known.
    own : Falling or None
        Its landings of the user's own.
    set_down : Falling or None
        None for a leg on which nobody sets it down.
    sine : Ringing or None
        None for a leg without a sine.
    turning : sequence of Turning
        Slap-downs and topples; none where only the energy was asked.
    knock : Knock or None
        None for a leg without a pulse.
    walking : Walking or None
        None for a leg on which nobody carries it on foot.
    hopping : Hopping or None
        None where it does not hop, or nobody knows how fast its floor moves.
    parts : SingleParts or None
        None where no part is judged on its own.
    """

    leg: Leg
    stiffening: FloatArray
    rigid: Bools
    uncertain: Bools
    suspension: Suspension
    pose: Pose
    stands: Bools
    limits: FloatArray
    shaking: Shaking | None
    falling: Falling | None
    tilted: Falling | None
    own: Falling | None
    set_down: Falling | None
    sine: Ringing | None
    walking: Walking | None
    hopping: Hopping | None
    knock: Knock | None
    parts: SingleParts | None
    turning: Sequence[Turning] = ()

    @cached_property
    def lacking(self) -> Bools:
        """Designs (b,) whose mounts or cables have no stiffness, damping or rest on this leg."""
        held = self.suspension
        loss = np.concatenate([held.loss_factor, held.cable_loss], axis=-1)
        return np.asarray(np.isnan(loss).any(axis=-1) | self.uncertain | ~self.stands)

    @property
    def falls(self) -> list[Falling]:
        """Its drop on faces, on edges and corners, of the user's own, and its set-down."""
        every = self.falling, self.tilted, self.own, self.set_down
        return [fall for fall in every if fall is not None]

    @property
    def shaken_mounts(self) -> FloatArray | None:
        """The larger of road and sine for each mount, see `Shaking`; None without either. [m]"""
        both = [motion.mounts for motion in (self.shaking, self.sine) if motion is not None]
        return np.max(both, axis=0) if both else None

    @property
    def knocked_mounts(self) -> FloatArray | None:
        """The worst axis of its pulse for each mount; None without a pulse. [m]"""
        return None if self.knock is None else np.max(list(self.knock.mounts.values()), axis=0)

    @property
    def carried_mounts(self) -> FloatArray | None:
        """The larger of footsteps and swing for each mount; None if nobody carries it. [m]"""
        if self.walking is None:
            return None
        swung = self.walking.swung_mounts
        return self.walking.mounts if swung is None else np.maximum(self.walking.mounts, swung)


@dataclass(frozen=True)
class Response:
    """What happens to a batch of designs (b,) of one trip.

    Attributes
    ----------
    suspension : Suspension of (b,), at 23 °C with the nominal inertia
    pose : Pose of (b, 6), in the order of `ATTITUDES`
    legs : sequence of LegResponse
    corners : (b, 8, 3) array
        From the centre of gravity. [m]
    limits : (b, n, 3) array
        How far each mount may go with its sheet: `Mount.limits`, and what the sheet gives way
        there. [m]
    room : Room
        Gaps at the corners, and what stands in the way.
    """

    designs: Sequence[Design]
    suspension: Suspension
    pose: Pose
    legs: Sequence[LegResponse]
    corners: FloatArray
    limits: FloatArray
    room: Room

    @cached_property
    def load(self) -> FloatArray:
        """Force of each mount, (b, 6, n). [N]"""
        force = self.suspension.repeated().mount_force(self.pose)
        return np.asarray(np.linalg.norm(force, axis=-1))

    @cached_property
    def deflection(self) -> FloatArray:
        """Deflection of each mount along its local axes, (b, 6, n, 3). [m]"""
        return self.suspension.repeated().deflection(self.pose)

    @cached_property
    def shift(self) -> tuple[FloatArray, FloatArray]:
        """What one seat out of place changes of each mount's load, (b, 6, n): all, upward. [N]

        See `seat.most_shift`; 0 where no tolerance is given.
        """
        given = [
            np.array([si_or_none(d, name) or 0.0 for d in self.designs])[:, None]
            for name in ("flatness", "hole_tolerance")
        ]
        if not np.any(given):
            return np.zeros_like(self.load), np.zeros_like(self.load)
        force, upward = most_shift(self.suspension.repeated(), self.pose, *given)
        moved = (given[0] + given[1] > 0)[..., None]
        return np.where(moved, force, 0.0), np.where(moved, upward, 0.0)

    def _lid_up(self, suspension: Suspension) -> FloatArray:
        pose = suspension.pose(G0 * DOWN[0])
        return _lowest_and_bounce(suspension, pose, 2, pose.found)

    @cached_property
    def leg_modes(self) -> FloatArray:
        """Lowest mode and bounce on each leg (b, l, 2), at its temperature, as the case stands.

        nan where the mounts are rigid or unknown there, or the payload does not rest. [Hz]
        """
        return np.stack(
            [
                _lowest_and_bounce(
                    leg.suspension,
                    leg.pose,
                    int(np.flatnonzero(ATTITUDES[leg.leg.attitude])[0]),
                    leg.stands & ~leg.rigid & ~leg.uncertain,
                )
                for leg in self.legs
            ],
            axis=1,
        )

    @cached_property
    def main_modes(self) -> FloatArray:
        """Lowest mode and bounce (b, 2) with the lid up at 23 °C, nan if it does not rest. [Hz]"""
        return self._lid_up(self.suspension)

    @cached_property
    def main_modes_without_cables(self) -> FloatArray:
        """The same without the cables. [Hz]"""
        return self._lid_up(self.suspension.without_cables())

    @cached_property
    def main_modes_on_rigid_sheets(self) -> FloatArray:
        """The same with sheets under the mounts that do not bend. [Hz]"""
        return self._lid_up(self.suspension.on_rigid_sheets())

    @cached_property
    def sheet_ratio(self) -> FloatArray:
        """Stiffness of each sheet over the dynamic tangent of its mount, (b, n), lid up. [-]

        inf where the sheet is rigid or the mount carries nothing.
        """
        held = self.suspension
        pose = Pose(self.pose.shift[:, 0], self.pose.turn[:, 0], self.pose.found[:, 0])
        whole = held.tangents(pose, held.dynamic_ratio)[..., 0, 0]
        with np.errstate(divide="ignore"):  # s/k of t·k/(t + k) is t/(t + k)
            share = whole / held.sheet
            return np.asarray(1 / share - 1)

    @cached_property
    def highest_modes(self) -> FloatArray:
        """Highest mode on each leg (b, l), inertia band included; nan where unknown. [Hz]"""
        inertia = np.stack([d.payload.inertias() for d in self.designs])
        out = []
        for leg in self.legs:
            pose = Pose(leg.pose.shift[:, None], leg.pose.turn[:, None], leg.pose.found[:, None])
            held = replace(leg.suspension.repeated(), inertia=inertia)
            top = held.frequencies(pose)[..., -1].max(axis=1)
            out.append(np.where(leg.stands & ~leg.rigid & ~leg.uncertain, top, np.nan))
        return np.stack(out, axis=-1)

    @cached_property
    def compliance(self) -> FloatArray:
        """How far the centre goes for a slow push along x, y, z there, (b, 3), lid up. [m/N]

        nan where the payload does not rest.
        """
        pose = Pose(self.pose.shift[:, 0], self.pose.turn[:, 0], self.pose.found[:, 0])
        stiff = self.suspension.stiffness(pose)
        safe = pose.found & (self.gravity_left[:, 0] > 0)
        inverse = np.linalg.inv(np.where(safe[:, None, None], stiff, np.eye(6)))
        return np.where(safe[:, None], np.diagonal(inverse, axis1=1, axis2=2)[:, :3], np.nan)

    @cached_property
    def gravity_left(self) -> FloatArray:
        """See `Suspension.gravity_left`, (b, 6). [-]"""
        return self.suspension.repeated().gravity_left(self.pose)

    @cached_property
    def creep(self) -> FloatArray:
        """What creep adds to the pose of storage, as shares of it, (b, 2); nan if unknown. [-]"""
        return np.array([d.creeps() for d in self.designs])

    @cached_property
    def stored(self) -> npt.NDArray[np.intp]:
        """Number of the attitude of storage (b,)."""
        return np.array([list(ATTITUDES).index(d.stored) for d in self.designs])

    @cached_property
    def crept(self) -> FloatArray:
        """How far creep takes the corners towards each face, at any age up to theirs, (b, 8, 6).

        Nothing where it is unknown, which the checks then say. [m]
        """
        batch = np.arange(len(self.designs))
        kept, found = self.stored, self.pose.found[batch, self.stored]
        there = Pose(self.pose.shift[batch, kept], self.pose.turn[batch, kept], found)
        off = np.where(found[:, None, None], there.moved(self.corners), 0.0)
        off = off * np.nan_to_num(self.creep[:, 1])[:, None, None]
        return both_ways(np.minimum(off, 0.0), np.maximum(off, 0.0))

    @cached_property
    def touches(self) -> FloatArray:
        """How often the worst corner touches each face on each leg, (b, l, 6). [1/h]

        Nominal inertia; nan where it is unknown, and on a leg without vibration. Along walls that
        lean the swings in all directions count as if they came together.
        """
        room, out = self.room, np.full((len(self.designs), len(self.legs), len(FACES)), np.nan)
        lean = np.abs(room.slope)
        for n, leg in enumerate(self.legs):
            if (shaking := leg.shaking) is None:
                continue
            used = narrowed(shaking.rest - room.start, room.slope)
            left = room.gap - room.tolerance[:, None, None] - used
            travel, speed = (
                np.repeat(a, 2, axis=-1) + (lean @ a[..., None])[..., 0]
                for a in (shaking.travel[:, 0, 1:], shaking.speed[:, 0, 1:])
            )
            rate = np.where(np.isinf(left), 0.0, touches_an_hour(travel, speed, left))
            closed = np.arange(len(FACES)) < 5 + (leg.leg.lid == "closed")
            out[:, n] = np.where(closed, rate.max(axis=-2), 0.0)
        return out

    @cached_property
    def motions(self) -> Sequence[Motion]:
        """What moves the payload: sag in every attitude that is asked, each leg and landing."""
        asked = np.array([[a in d.attitudes for a in ATTITUDES] for d in self.designs])
        usable = (asked & self.pose.found)[..., None, None]
        moved = self.pose.moved(self.corners[:, None])
        sag = np.where(usable, both_ways(moved, moved), -np.inf).max(axis=1)
        out = [Motion("rest", "sag", sag, 0 * self.room.start)]
        for leg in self.legs:
            lid = leg.leg.lid == "closed"
            if leg.shaking is not None:
                name, shaking = f"vibration on {leg.leg.name}", leg.shaking
                out.append(Motion("shaking", name, shaking.rest, shaking.swing, lid))
            if leg.sine is not None:
                name, sine = f"the sine on {leg.leg.name}", leg.sine
                out.append(Motion("shaking", name, sine.rest, sine.swing, lid))
            if (walking := leg.walking) is not None:
                name = f"footsteps on {leg.leg.name}"
                out.append(Motion("shaking", name, walking.rest, walking.swing, lid))
                if walking.swung_rest is not None:
                    name = f"the swing at the handle on {leg.leg.name}"
                    out.append(Motion("shaking", name, walking.swung_rest, walking.swing, lid))
            if (hit := leg.knock) is not None:
                name = f"the pulse on {leg.leg.name}"
                out.append(Motion("shaking", name, hit.rest, hit.swing, lid, hit.doubt))
            landed = [] if leg.hopping is None else [leg.hopping.landing]
            for fall in [*leg.falls, *landed]:
                name, still = f"the {fall.kind} on {leg.leg.name}", 0 * self.room.start
                out += [
                    Motion("fall", name, still, fall.reach[:, k], lid, fall.doubt[:, k])
                    for k in range(len(fall.landings))
                ]
            for turn in leg.turning:
                name, still = f"the {turn.kind} on {leg.leg.name}", 0 * self.room.start
                reach = np.moveaxis(turn.touch.reach, 1, 0)
                out += [Motion("fall", name, still, own, lid) for own in reach]
        return [replace(motion, rest=motion.rest + self.crept) for motion in out]

    @cached_property
    def swept(self) -> FloatArray:
        """What the `motions` demand at each corner towards each face, (2, m, b, 8, 6). [m]

        As estimated, and with the allowance for what is only an estimate.
        """
        return self._swept(self.room.start)

    @cached_property
    def swept_from_middle(self) -> FloatArray:
        """The same towards what was measured from the middle of the payload's box. [m]"""
        return self._swept(self.room.middle)

    def _swept(self, start: FloatArray) -> FloatArray:
        room = self.room
        return np.stack(
            [
                [demand(m, start, room.tolerance, room.root, doubted=d) for m in self.motions]
                for d in (False, True)
            ]
        )

    @cached_property
    def needed(self) -> FloatArray:
        """The same of each gap, with what walls that lean take on the way along them. [m]"""
        return narrowed(self.swept, self.room.slope)


def _lowest_and_bounce(suspension: Suspension, pose: Pose, axis: int, usable: Bools) -> FloatArray:
    """Lowest mode, and that with most of the motion along an axis, (b, 2). [Hz]"""
    frequency, energy = suspension.undamped(pose)
    bounce = energy[..., axis].argmax(axis=-1)[:, None]
    both = [frequency[:, :1], np.take_along_axis(frequency, bounce, axis=-1)]
    return np.where(usable[:, None], np.concatenate(both, axis=-1), np.nan)


@dataclass(frozen=True)
class Room:
    """The room in the cases of designs (b,).

    Attributes
    ----------
    gap : (b, 8, 6) array
        At each corner and each face, as it was measured. [m]
    slope : (b, 8, 6, 3) array
        By how much it grows for a way along x, y, z. [-]
    start : (b, 8, 6) array
        Motion from the unloaded pose at which it was measured, the smaller of hanging and out
        where nobody says. A gap measured once for a face is that of its nearest corner. [m]
    middle : (b, 8, 6) array
        The same of the middle of the payload's box, from which obstacles and other bodies are
        measured. [m]
    tolerance : (b,) array
        [m]
    root : (b,) bool array
        Whether the tolerance adds by root sum square.
    corner_radius, floor_radius : (b,) arrays
        0 for a square edge. [m]
    solids : Solids of (b, o)
    """

    gap: FloatArray
    slope: FloatArray
    start: FloatArray
    middle: FloatArray
    tolerance: FloatArray
    root: Bools
    corner_radius: FloatArray
    floor_radius: FloatArray
    solids: Solids


def respond(
    designs: Sequence[Design],
    known: Mapping[int, LegResponse] | None = None,
    dropped: Collection[int] = (),
) -> Response:
    """Run the kernels for designs of one trip with as many mounts each.

    Parameters
    ----------
    designs : sequence of Design
        All with the same legs, numbers of mounts and cables, width of the inertia band, and the
        same parts, obstacles and ribs by name.
    known : mapping of int to LegResponse, optional
        What legs do, by index, found for designs that differ from these in the gaps of their
        cases and in other legs at most: it depends on neither.
    dropped : collection of int
        Those of them that have another height of drop here: only their falls are computed.
    """
    known = known or {}
    suspension = Suspension.stacked([d.suspension() for d in designs])
    inertia = np.stack([d.payload.inertias() for d in designs])
    corners = np.stack([d.payload.corners() for d in designs])
    limits = np.stack([[p.mount.limits() for p in d.places] for d in designs])
    pose = suspension.repeated().pose(G0 * DOWN)
    legs = list[LegResponse]()
    for n, leg in enumerate(designs[0].legs):
        own = known.get(n) or _leg(leg, designs, suspension, inertia, corners, limits)
        anew = n not in known or n in dropped
        legs.append(_dropped(own, leg, designs, inertia, corners) if anew else own)
    reach = suspension.limits_with_sheet(limits)
    return Response(designs, suspension, pose, legs, corners, reach, _room(designs, pose, corners))


def _room(designs: Sequence[Design], pose: Pose, corners: FloatArray) -> Room:
    sizes = [si_array(d.payload, "size") for d in designs]
    solids = [d.case.solids(size) for d, size in zip(designs, sizes, strict=True)]
    insides = [d.case.inside for d in designs]
    radii = [
        [0.0 if inside is None else inside.radius(name) for inside in insides]
        for name in ("corner_radius", "floor_radius")
    ]
    start, middle = _start(designs, pose, corners)
    return Room(
        gap=np.stack([d.case.room(size) for d, size in zip(designs, sizes, strict=True)]),
        slope=np.stack([d.case.slope(size) for d, size in zip(designs, sizes, strict=True)]),
        start=start,
        middle=middle,
        tolerance=np.array([si_or_none(d.case, "tolerance") or 0.0 for d in designs]),
        root=np.array([d.case.sum == "root sum square" for d in designs]),
        corner_radius=np.array(radii[0]),
        floor_radius=np.array(radii[1]),
        solids=replace(solids[0], gap=np.stack([solid.gap for solid in solids])),
    )


def _start(
    designs: Sequence[Design], pose: Pose, corners: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """See `Room.start` and `Room.middle`.

    A contour is measured from the middle of the box too, but for the floor, whose gap is that under
    the box where it is tightest; the lid's follows from it.
    """
    lid_up = Pose(pose.shift[:, 0], pose.turn[:, 0], pose.found[:, 0])
    displaced = np.where(lid_up.found[:, None, None], lid_up.moved(corners), 0.0)
    each = both_ways(displaced, displaced)
    face = np.broadcast_to(towards_faces(each)[:, None], each.shape)
    by_corner = np.array([d.case.measured_at_corners() for d in designs])
    moved = np.where(by_corner[:, None], each, face)
    whole = np.broadcast_to(displaced.mean(axis=1, keepdims=True), displaced.shape)
    middle = both_ways(whole, whole)
    contour = np.array([d.case.inside is not None for d in designs])[:, None, None]
    level = np.concatenate([middle[..., :4], face[..., 4:5], -face[..., 4:5]], axis=-1)
    moved = np.where(contour, level, moved)

    def as_measured(way: FloatArray) -> FloatArray:
        datum = {"hanging": way, "out": 0 * way, None: np.minimum(way, 0.0)}
        return np.stack([datum[d.case.measured][i] for i, d in enumerate(designs)])

    return as_measured(moved), as_measured(middle)


def _leg(
    leg: Leg,
    designs: Sequence[Design],
    suspension: Suspension,
    inertia: FloatArray,
    corners: FloatArray,
    limits: FloatArray,
) -> LegResponse:
    kinds = {id(p.mount): p.mount for d in designs for p in d.places}
    at = {key: kind.cold(leg.temperature_c()) for key, kind in kinds.items()}
    cold = np.array([[at[id(p.mount)] for p in d.places] for d in designs])
    factor, loss = cold[..., 0], cold[..., 1]
    there = suspension.stiffened(np.where(np.isfinite(factor), factor, 1.0), loss)
    pose = there.pose(G0 * np.array(ATTITUDES[leg.attitude]))
    stands = pose.found & (there.gravity_left(pose) > 0)
    reach = there.limits_with_sheet(limits)
    rigid, uncertain = np.isinf(factor).any(axis=-1), np.isnan(factor).any(axis=-1)
    unusable = ~stands | rigid | uncertain | (not leg.fixed_base())
    shaking = None
    if leg.vibrates:
        shaking = _shake(leg, there, inertia, pose, corners, unusable)
    sine = None
    if leg.sine is not None:
        sine = _ring(leg, leg.sine, there, inertia, pose, corners, unusable)
    walking = None
    if leg.walk is not None:
        walking = _walk(leg, leg.walk, there, inertia, pose, corners, ~stands | rigid | uncertain)
    jolted = None
    if leg.pulse is not None:
        still = ~stands | rigid | uncertain | (leg.tied is False)
        jolted = knock(leg, leg.pulse, there, inertia, pose, corners, still)
    set_down = None
    fall = partial(_fall, designs, there, inertia, corners, reach, rigid | uncertain)
    if (height := si_or_none(leg, "set_down")) is not None:
        set_down = fall("set-down", height, _faces(("lid up",)))
    hopping = None
    if not leg.fixed_base() and np.isfinite(speed := leg.floor_speed()):
        high, equivalent = (float(h) for h in hop_height(speed))
        landing = fall("hop", equivalent, _faces((leg.attitude,)))
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


def _dropped(
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
    fall = partial(_fall, designs, there, inertia, corners, held.limits, blind)
    if leg.drops and (height := si_or_none(leg, "drop")) is not None:
        if leg.faces():
            falling = fall("drop", height, _faces(leg.faces()))
        landings = _tilted(leg.groups(), designs)
        tilted = fall("drop", height, landings) if landings.names else None
        own = fall("drop", height, _own(leg.own)) if leg.own else None
    unusable = ~held.stands | blind | (not leg.fixed_base())
    flat = falling.flat if falling else None
    parts = single_parts(leg, designs, there, inertia, pose, unusable, held.rigid, flat)
    return replace(held, leg=leg, falling=falling, tilted=tilted, own=own, parts=parts)


def _shake(
    leg: Leg,
    there: Suspension,
    inertia: FloatArray,
    pose: Pose,
    corners: FloatArray,
    unusable: Bools,
) -> Shaking:
    """Response of the corners and the mounts to the given axes of the road."""
    given = {axis: s for axis in AXES if (s := leg.spectrum(axis)) is not None}
    modes, where, frames, blind = felt_at(there, inertia, pose, corners)
    silent = (blind | unusable)[:, None, None, None]

    by_axis: dict[Axis, RandomResponse] = {}
    uncovered: dict[Axis, FloatArray] = {}
    for axis, spectrum in given.items():
        k, density = AXES.index(axis), spectrum.density * leg.level**2
        by_axis[axis] = random_response(modes, where, k, spectrum.lines, density, frames=frames)
        uncovered[axis] = _below(modes, k, float(spectrum.lines[0]))

    def together(name: str) -> FloatArray:
        squares = sum(getattr(r, name) ** 2 for r in by_axis.values())
        blank = np.full((*inertia.shape[:2], where.shape[-2], 3), np.nan)
        return np.where(silent, np.nan, np.sqrt(squares)) if given else blank

    travel, speed = together("travel"), together("travel_speed")
    acceleration, jerk = together("acceleration"), together("acceleration_rate")
    seconds = si_or_none(leg, "duration")
    lasting = np.nan if seconds is None else seconds
    most = peak(travel, speed, lasting, leg.crest)
    count = len(POINTS)
    rest, local = pose.moved(corners), there.deflection(pose)
    bend = most[:, :, count:].max(axis=1)
    return Shaking(
        by_axis={axis: _points(r, count) for axis, r in by_axis.items()},
        uncovered=uncovered,
        acceleration=acceleration[:, :, :count],
        acceleration_peak=peak(acceleration, jerk, lasting, leg.crest)[:, :, :count],
        travel=travel[:, :, :count],
        travel_peak=most[:, :, :count],
        mounts=strokes(local - bend, local + bend),
        rest=both_ways(rest, rest),
        swing=np.repeat(most[:, :, 1:count].max(axis=1), 2, axis=-1),
        speed=speed[:, :, :count],
    )


def felt_at(
    there: Suspension, inertia: FloatArray, pose: Pose, corners: FloatArray
) -> tuple[Modes, FloatArray, FloatArray, Bools]:
    """Modes (b, i), centre, corners and mounts (b, 1, p, 3) with their axes, and unknown damping.

    Where a loss factor is unknown (b,) the kernels see 0.1; the result is to be blanked.
    """
    damped = there.with_loss_where_unknown(0.1).repeated()
    modes = replace(damped, inertia=inertia).modes(
        Pose(pose.shift[:, None], pose.turn[:, None], pose.found[:, None])
    )
    back = np.swapaxes(pose.turn, -1, -2)
    points = np.concatenate([np.zeros_like(corners[:, :1]), corners], axis=1) @ back
    where = np.concatenate([points, there.position @ back], axis=1)[:, None]
    own = np.broadcast_to(np.eye(3), (*points.shape, 3))
    frames = np.concatenate([own, there.frames], axis=1)[:, None]
    return modes, where, frames, there.loss_unknown()


def _ring(
    leg: Leg,
    sine: Sine,
    there: Suspension,
    inertia: FloatArray,
    pose: Pose,
    corners: FloatArray,
    unusable: Bools,
) -> Ringing:
    """Steady response of the corners and the mounts to the sine, one axis at a time."""
    modes, where, frames, blind = felt_at(there, inertia, pose, corners)
    silent = (blind | unusable)[:, None, None, None]
    natural = np.sqrt(np.maximum(modes.eigenvalue.real, 0)) / (2 * np.pi)
    loss = modes.eigenvalue.imag / np.where(natural > 0, modes.eigenvalue.real, 1.0)
    runs: list[tuple[FloatArray, FloatArray]] = []
    low, high = 0.5 * float(natural[natural > 0].min(initial=1.0)), 2 * float(natural.max())
    if (sweep := sine.sweep) is not None:
        low, high = si(sweep, "start"), si(sweep, "stop")
        at = around_modes(modes, low, high, sweep.crossover())
        runs.append((at, sweep.amplitude(at)))
    if (dwell := sine.dwell) is not None:
        tone = si_or_none(dwell, "at")
        single = np.full((*natural.shape[:-1], 1), np.nan if tone is None else tone)
        at = around_modes(modes, low, high) if tone is None else single
        runs.append((at, np.full_like(at, si(dwell, "level"))))
    by_axis: dict[Axis, SineResponse] = {}
    outside = np.full(natural.shape[0], np.nan)
    fast, slow = np.full((2, natural.shape[0]), np.nan)
    for axis in (leg.case_axes()[way] for way in sine.ways):
        k = AXES.index(axis)
        each = [sine_response(modes, where, k, at, a, frames=frames) for at, a in runs]
        by_axis[axis] = each[0] if len(each) == 1 else each[0].or_worse(each[1])
        if sweep is not None:
            part = np.abs(modes.shape[..., k, :] * modes.share[..., :, k]) > 0.05
            missed = part & ((natural < low) | (natural > high))
            outside = np.fmin(outside, _lowest(natural, missed))
            limit = sweep.fastest(natural, loss)
            hurried = part & np.isfinite(limit)
            fast = np.fmin(fast, _lowest(natural, hurried))
            slow = np.fmin(slow, _lowest(limit, hurried))
    count = len(POINTS)
    most = np.max([r.travel for r in by_axis.values()], axis=0)
    most = np.where(silent, np.nan, most)
    bend, local = most[:, :, count:].max(axis=1), there.deflection(pose)
    rest = pose.moved(corners)
    return Ringing(
        by_axis={
            axis: SineResponse(
                *(
                    np.where(silent, np.nan, getattr(r, f.name))[:, :, :count]
                    for f in fields(SineResponse)
                )
            )
            for axis, r in by_axis.items()
        },
        outside=outside,
        fast=fast,
        slow_enough=slow,
        mounts=strokes(local - bend, local + bend),
        rest=both_ways(rest, rest),
        swing=np.repeat(most[:, :, 1:count].max(axis=1), 2, axis=-1),
    )


def _walk(
    leg: Leg,
    walk: Walk,
    there: Suspension,
    inertia: FloatArray,
    pose: Pose,
    corners: FloatArray,
    unusable: Bools,
) -> Walking:
    """Steady response of the corners and the mounts to footsteps, and the poses of a swing."""
    modes, where, frames, blind = felt_at(there, inertia, pose, corners)
    silent = (blind | unusable)[:, None, None, None]
    natural = np.sqrt(np.maximum(modes.eigenvalue.real, 0)) / (2 * np.pi)
    axes = leg.case_axes()
    order = [list(FOOTFALL).index(way) for way in sorted(FOOTFALL, key=lambda w: axes[w])]
    frequency, level = walk.tones(walk.rates(natural))
    level = level[..., order]
    found = tones_response(modes, where, frequency, level, frames=frames)
    felt, rms, travel = (
        np.where(silent, np.nan, value)
        for value in (found.acceleration, found.acceleration_rms, found.travel)
    )
    count = len(POINTS)
    bend, local = travel[:, :, count:].max(axis=1), there.deflection(pose)
    rest = pose.moved(corners)
    down = np.array(ATTITUDES[leg.attitude])
    forces = walk.swung(down, np.eye(3)[down == 0])
    swung_mounts = swung_rest = None
    held = np.ones(len(unusable), dtype=bool)
    if len(forces) > 1:
        swung = there.repeated().pose(forces)
        held = np.asarray(swung.found.all(axis=1))
        lost = (unusable | ~held)[:, None, None]
        each = there.repeated().deflection(swung)
        moved = swung.moved(corners[:, None])
        ends = strokes(each.min(axis=1) - bend, each.max(axis=1) + bend)
        swung_mounts = np.where(lost, np.nan, ends)
        ways = both_ways(moved.min(axis=1), moved.max(axis=1))
        swung_rest = np.where(lost, np.nan, ways)
    steps = level.reshape(len(level), -1, 3).max(axis=1)
    return Walking(
        bolted=steps.sum(axis=0),
        bolted_rms=np.sqrt((steps**2).sum(axis=0) / 2),
        still=np.abs(forces).max(axis=0),
        acceleration=felt[:, :, :count],
        acceleration_rms=rms[:, :, :count],
        travel=travel[:, :, :count],
        mounts=strokes(local - bend, local + bend),
        rest=both_ways(rest, rest),
        swing=np.repeat(travel[:, :, 1:count].max(axis=1), 2, axis=-1),
        swung_mounts=swung_mounts,
        swung_rest=swung_rest,
        held=held,
    )


def _lowest(values: FloatArray, counts: Bools) -> FloatArray:
    """Lowest (b,) of the values (b, i, 6) that count, nan if none."""
    low = np.where(counts, values, np.inf).min(axis=(-1, -2))
    return np.where(np.isinf(low), np.nan, low)


def _points(response: RandomResponse, count: int) -> RandomResponse:
    return RandomResponse(*(getattr(response, f.name)[:, :, :count] for f in fields(response)))


def _below(modes: Modes, axis: int, first: float) -> FloatArray:
    """Lowest frequency (b,) of a mode below the first line that takes part; nan if none. [Hz]"""
    part = np.abs(modes.shape[..., axis, :] * modes.share[..., :, axis])
    frequency = np.sqrt(np.maximum(modes.eigenvalue.real, 0)) / (2 * np.pi)
    return _lowest(frequency, (part > 0.05) & (frequency < first))


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


def _fall(
    designs: Sequence[Design],
    there: Suspension,
    inertia: FloatArray,
    corners: FloatArray,
    limits: FloatArray,
    blind: Bools,
    kind: str,
    from_height: float,
    landings: _Landings,
) -> Falling:
    """The landings of a fall: the centre by energy, corners and mounts with rotation and ring."""
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
    band = replace(there.repeated().repeated(), inertia=inertia[:, None])
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
    rows = motion_at(corners)[:, None, None]
    wall = moves(band, rows, np.minimum(flat.travel_most, bent), flat.rebound)
    feet = (there.frames @ motion_at(there.position))[:, None, None]
    soft = moves(band, feet, flat.travel_most, flat.rebound)
    stiff = band.dynamic()
    hard = strokes(*moves(stiff, feet, flat.stiff_travel_most, flat.stiff_rebound))
    curve = there.dynamic().repeated().whole
    with np.errstate(invalid="ignore"):  # no number for mounts that it flies off
        pushed = curve.force(hard[..., [0, 2]])
        pulled = np.abs(curve.force(-hard[..., [1, 2]]))
    force = np.hypot(np.maximum(pushed, pulled)[..., 0], pushed[..., 1])
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
    ends = ~np.isinf(limits)  # a mount that lifts off has no end when pulled
    with np.errstate(divide="ignore", invalid="ignore"):
        used = np.where(ends[:, None] & (mounts > 0), mounts / limits[:, None], 0.0)
        just = flat.travel_most / used.max(axis=(2, 3))
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


def end_unknown(mounts: FloatArray, limits: FloatArray) -> Bools:
    """Landings (b, l) in which a mount moves (b, l, n, 3) where its limit (b, n, 3) is unknown."""
    return np.asarray((np.isnan(limits)[:, None] & (mounts > 1e-9)).any(axis=(2, 3)))


def _bent(there: Suspension, mounts: FloatArray) -> Bools:
    """Landings (b, l) in which a mount leaves the straight line of its tangent at rest."""
    curve = there.repeated().whole
    bent = np.zeros(mounts.shape[:2], dtype=bool)
    for way, (k, sign) in enumerate([(0, 1.0), (0, -1.0), (1, 1.0)]):
        at = np.zeros((*mounts.shape[:3], 2))
        at[..., k] = np.where(np.isfinite(mounts[..., way]), sign * mounts[..., way], 0.0)
        force, straight = curve.force(at), curve.tangent(0 * at) * at
        off = np.abs(force - straight) > 0.02 * np.maximum(np.abs(force), np.abs(straight))
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
    return np.asarray((mounts > 1.02 * straight + 1e-6).any(axis=(2, 3)))

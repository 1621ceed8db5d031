"""What happens to one design or many: the kernels run once for a batch."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from isolator.clearance import Motion, both_ways, demand, narrowed, towards_faces
from isolator.design import Design
from isolator.inside import FACES, Solids
from isolator.leg import on_leg, with_falls
from isolator.outcome import Bools, LegResponse
from isolator.seat import most_shift
from isolator.suspension import ATTITUDES, Pose, Suspension
from isolator.units import G0, FloatArray, si_array, si_or_none
from isolator.vibration import touches_an_hour

DOWN = np.array(list(ATTITUDES.values()))


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
            pose = leg.pose.repeated()
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
        own = known.get(n) or on_leg(leg, designs, suspension, inertia, corners, limits)
        anew = n not in known or n in dropped
        legs.append(with_falls(own, leg, designs, inertia, corners) if anew else own)
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

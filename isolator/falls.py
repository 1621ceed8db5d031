"""The falls of designs followed in time: what `landing` says of a whole trip.

Each fall of each leg is landed at `PHASES` of the ring of its release and over the inertia band,
once with the static curves for travel and clearance and once with the dynamic ones for g and force.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import numpy.typing as npt

from isolator.clearance import both_ways
from isolator.coupled import Damping, Holding, Landings, Shell, Start
from isolator.course import Course, Landed
from isolator.curve import Curve
from isolator.design import Design
from isolator.inside import FACES, OWN
from isolator.landing import PHASES, land, ring
from isolator.leg import end_unknown, share_of_travel
from isolator.outcome import Bools, Falling, LegResponse, Touchdown, Turning
from isolator.resonance import places
from isolator.response import Response
from isolator.shock import flat_drop, height_for
from isolator.suspension import ATTITUDES, Suspension, strokes
from isolator.tipping import topple_speed
from isolator.trip import Leg
from isolator.units import G0, FloatArray, si, si_array, si_array_or_none, si_or_none

BATCH = 512
"""Motions that are followed side by side; more of them no longer fit into a fast memory."""

SLAPS = 4
"""At how many phases of that ring it is followed where the case turns."""

ANY_HEIGHT = 0.1
"""Of a topple, where it is asked whether anything holds the payload at all. [m]"""

BAND = (0, 1, -1)
"""Which of the inertia band are followed: that of a uniform box, and both ends."""


def followed(response: Response) -> Response:
    """The same with its falls as they happen, and those that only a motion can tell."""
    own = [_leg(response, leg) for leg in response.legs]
    return replace(response, legs=own)


def _leg(response: Response, leg: LegResponse) -> LegResponse:
    blind = leg.rigid | leg.uncertain
    if blind.all() or not (leg.falls or leg.leg.turns()):
        return leg
    fallen = Fallen.of(response, leg)

    def again(fall: Falling | None) -> Falling | None:
        if fall is None:
            return None
        down = (
            fall.down
            if fall.down.ndim == 3
            else np.broadcast_to(fall.down, (len(fallen.designs), *fall.down.shape))
        )
        speed = np.full(down.shape[:2], np.sqrt(2 * G0 * fall.height))
        touch = fallen.touchdown(
            Fall(
                Landings(down=down, speed=speed),
                cushioned=not any(fall.groups),
                spin=np.broadcast_to(fall.spin, down.shape),
            )
        )
        return _instead(response, leg, fall, touch)

    return replace(
        leg,
        falling=again(leg.falling),
        tilted=again(leg.tilted),
        own=again(leg.own),
        set_down=again(leg.set_down),
        turning=[_let_go(response, leg, turn) for turn in fallen.turning(leg.leg)],
    )


def unheld(response: Response, leg: LegResponse, down: FloatArray, height: float) -> Bools:
    """Landings (b, l) on (l, 3) that take payloads off their mounts, at once or springing back."""
    drop = flat_drop(
        leg.suspension.repeated(),
        down,
        height,
        leg.limits[:, None],
        restitution=_bounces(response),
    )
    return np.asarray(np.isinf(drop.travel) | np.isinf(drop.rebound))


def _bounces(response: Response) -> FloatArray:
    """Restitution of the shells (b, 1), 0 where nobody gave it. [-]"""
    return np.array([[design.case.restitution or 0.0] for design in response.designs])


def _let_go(response: Response, leg: LegResponse, turn: Turning) -> Turning:
    """The same, endless where nothing holds the payload on the face that it turns onto."""
    down = np.array([ATTITUDES[face] for face in turn.faces])
    off = unheld(response, leg, down, turn.height or ANY_HEIGHT)
    touch = replace(
        turn.touch,
        mounts=np.where(off[..., None, None], np.inf, turn.touch.mounts),
        force=np.where(off[..., None], np.nan, turn.touch.force),
        reach=np.where(off[..., None, None], np.inf, turn.touch.reach),
    )
    return replace(turn, touch=touch)


def _instead(response: Response, leg: LegResponse, fall: Falling, touch: Touchdown) -> Falling:
    """A fall with what its motion says in the place of what its energy said."""
    limits = leg.limits
    share = share_of_travel(touch.mounts, limits)
    with np.errstate(divide="ignore", invalid="ignore"):
        just = fall.flat.travel_most / share.max(axis=(2, 3))
    held = leg.suspension.repeated()
    return replace(
        fall,
        mounts=np.where(np.isinf(fall.mounts), np.inf, touch.mounts),
        mount_force=np.where(np.isfinite(fall.mount_force), touch.force, fall.mount_force),
        bottoming_height=height_for(held, fall.down, just, restitution=_bounces(response)),
        corner_peak=touch.corner / G0,
        doubt=np.ones_like(fall.doubt),
        may_bottom=np.asarray((share > 1).any(axis=(2, 3))),
        end_unknown=end_unknown(touch.mounts, limits),
        reach=np.where(np.isinf(fall.reach), np.inf, touch.reach),
        touch=touch,
    )


@dataclass(frozen=True)
class Fall:
    """How designs (d) come down on each of their landings (l).

    Attributes
    ----------
    landings : Landings of (d, l)
    phases : int
        Of the ring of its release, at which each is followed.
    cushioned : bool
        The foam outside is under what lands, if there is any.
    damping : "viscous" or "relaxation"
    spin : (d, l, 3) array, or None
        How the case turns as it lands; it stops turning there. [rad/s]
    """

    landings: Landings
    phases: int = PHASES
    cushioned: bool = False
    damping: Damping = "viscous"
    spin: FloatArray | None = None

    @property
    def time(self) -> FloatArray:
        """How long it falls (d, l). [s]"""
        return np.asarray(self.landings.speed / G0)

    def taken(self, index: npt.NDArray[np.intp]) -> Fall:
        """Those of some designs, any number of times."""
        spin = None if self.spin is None else self.spin[index]
        return replace(self, landings=self.landings.taken(index), spin=spin)


@dataclass(frozen=True)
class Fallen:
    """Designs (d) as they fall on a leg: what holds the payload, and the shell around it.

    Attributes
    ----------
    designs : sequence of Design
    held : Suspension of (d · i), the inertia band side by side
    shell : Shell of (d · i)
    limits : (d · i, n, 3) array
    stop : (d · i, n) array
    room : (d · i, 8, 6) array
    wall : (d · i,) array
    corners : (d · i, 8, 3) array
    feet : (d · i, p, 3) array
        Of the parts that are judged on their own, from the centre of gravity. [m]
    outer : (d, 2, 3) array
        Lowest and highest corner of the outer box from the payload's centre of gravity, nan if
        its size is unknown. [m]
    blind : (d,) bool array
        How stiff the mounts are is not known.
    """

    designs: Sequence[Design]
    held: Suspension
    shell: Shell
    limits: FloatArray
    stop: FloatArray
    room: FloatArray
    wall: FloatArray
    corners: FloatArray
    feet: FloatArray
    outer: FloatArray
    blind: Bools

    @classmethod
    def of(cls, response: Response, leg: LegResponse, band: Sequence[int] = BAND) -> Fallen:
        """The designs of a response on one of its legs, over some of the inertia band."""
        designs = response.designs
        bands = [d.payload.inertias() for d in designs]
        which = sorted({k % len(bands[0]) for k in band})
        held = leg.suspension
        index = np.repeat(np.arange(len(designs)), len(which))
        inertia = np.concatenate([own[which] for own in bands])
        outer = np.array([_outer_box(d) for d in designs])
        limits = np.where(np.isnan(leg.limits), np.inf, leg.limits)
        stop = [[si_or_none(p.mount, "stop") or 0.0 for p in d.places] for d in designs]
        return cls(
            designs=designs,
            held=replace(held.taken(index), inertia=inertia),
            shell=_shell(designs, outer).taken(index),
            limits=limits[index],
            stop=np.array(stop)[index],
            room=np.where(np.isnan(gap := response.room.gap), np.inf, gap + response.room.start)[
                index
            ],
            wall=np.array([si_or_none(d.case, "wall") or 0.0 for d in designs])[index],
            corners=response.corners[index],
            feet=places(designs, designs[0].asking())[index],
            outer=outer,
            blind=leg.rigid | leg.uncertain | ~leg.pose.found,
        )

    def touchdown(self, fall: Fall) -> Touchdown:
        """Landings (d, l), worst over phases and inertia band."""
        d, count = fall.landings.shape
        band = len(self.held.mass) // d
        some = max(BATCH // (2 * count * fall.phases * band), 1)
        chunks = [self._some(fall, slice(i, min(i + some, d)), band) for i in range(0, d, some)]
        return Touchdown(
            **{
                f.name: np.concatenate([getattr(chunk, f.name) for chunk in chunks])
                for f in fields(Touchdown)
            }
        )

    def _some(self, fall: Fall, which: slice, band: int) -> Touchdown:
        own = np.arange(which.start * band, which.stop * band)
        size = (len(own) // band, band, fall.landings.shape[1], fall.phases)
        # on static and on dynamic curves side by side
        twice, still = np.concatenate([own, own]), np.arange(2 * len(own))[:, None] < len(own)
        held = self.held.taken(twice)
        held = replace(held, dynamic_ratio=np.where(still, 1.0, held.dynamic_ratio))
        both = self._landed(twice, held.dynamic(), fall.taken(twice // band))[0]
        soft, stiff = both.taken(slice(0, len(own))), both.taken(slice(len(own), None))

        def most(values: FloatArray) -> FloatArray:
            """(d · i, l · phases, ...) as the largest of (d, l, ...)."""
            return np.asarray(values.reshape(*size, *values.shape[2:]).max(axis=(1, 3)))

        stiff = _harder(soft, stiff)
        peak = stiff.peak[..., 0].reshape(*size)
        ranked = np.moveaxis(np.nan_to_num(peak), 2, 1).reshape(size[0], size[2], -1)
        worst = ranked.argmax(axis=-1)[..., None]

        def of_worst(values: FloatArray) -> FloatArray:
            each = np.moveaxis(values.reshape(*size), 2, 1).reshape(ranked.shape)
            return np.asarray(np.take_along_axis(each, worst, axis=-1)[..., 0])

        blind = self.blind[which][:, None]
        touch = Touchdown(
            peak=most(stiff.peak[..., 0]),
            corner=most(stiff.peak[..., 1:9].max(axis=-1)),
            parts=most(stiff.peak[..., 9:]),
            duration=of_worst(stiff.duration),
            velocity_change=of_worst(stiff.velocity_change),
            mounts=most(strokes(soft.low, soft.high)),
            force=most(stiff.force),
            reach=most(both_ways(soft.moved_low, soft.moved_high)),
            metal=most(soft.metal),
            before=most(stiff.peak_before),
            sunk=np.maximum(most(stiff.sunk), 0.0) if self._soft(fall) else np.zeros(size[::2]),
            struck=most(stiff.struck),
        )
        return Touchdown(
            **{
                f.name: np.where(
                    blind.reshape(-1, *[1] * (np.ndim(getattr(touch, f.name)) - 1)),
                    np.nan,
                    getattr(touch, f.name),
                )
                for f in fields(Touchdown)
            }
        )

    def _soft(self, fall: Fall) -> bool:
        """Whether there is foam under what lands."""
        return fall.cushioned and self.shell.foam is not None

    def _landed(
        self, own: npt.NDArray[np.intp], held: Suspension, fall: Fall
    ) -> tuple[Landed, Course]:
        """Landings at the centre and at the corners of the box."""
        shell = self.shell.taken(own)
        shell = shell if self._soft(fall) else replace(shell, foam=None)
        holding = replace(
            Holding.of(held),
            limit=self.limits[own],
            stop=self.stop[own],
            corners=self.corners[own],
            room=self.room[own],
            wall=self.wall[own],
        )
        start = ring(holding, shell, fall.landings.down, fall.time, phases=fall.phases)
        if fall.spin is not None and fall.spin.any():
            start = _spun(start, np.repeat(fall.spin, fall.phases, axis=1), held, shell)
        middle = np.zeros((len(own), 1, 3))
        points = np.concatenate([middle, self.corners[own], self.feet[own]], axis=1)
        each = fall.landings.repeated(fall.phases)
        return land(holding, shell, each, start, damping=fall.damping, points=points)

    def course(self, fall: Fall) -> tuple[Course, int]:
        """One landing (1, 1) in time on the dynamic curves, and which phase (of b) is worst."""
        own = np.zeros(1, dtype=np.intp)
        landed, course = self._landed(own, self.held.taken(own).dynamic(), fall)
        return course, int(np.nan_to_num(landed.peak[0].max(axis=-1)).argmax())

    def turning(self, leg: Leg) -> Iterator[Turning]:
        """Slap-downs and topples of a leg; none where the outer size of a case is unknown."""
        if np.isnan(self.outer).any():
            return
        height, tilt = si_or_none(leg, "drop"), si_or_none(leg, "slap_down")
        if leg.drops and height is not None and tilt is not None and leg.faces():
            yield self._turned("slap-down", self.slaps(leg.faces()), height, tilt)
        if leg.topple:
            pairs = [(face, edge) for edge in leg.topple for face in _beside(edge)]
            yield self._turned("topple", pairs, 0.0, 0.0)

    def slaps(self, faces: Sequence[str]) -> list[tuple[str, str]]:
        """Each face with each edge of it that may meet the floor first."""
        return [(face, edge) for face in faces for edge in _beside(face)]

    def _turned(
        self, kind: str, pairs: Sequence[tuple[str, str]], height: float, tilt: float
    ) -> Turning:
        landings = self.about(pairs, height, tilt, tips=kind == "topple")
        touch = self.touchdown(Fall(landings, phases=SLAPS if height else 1))
        farthest = self._across(pairs)
        return Turning(
            kind=kind,
            faces=[face for face, _ in pairs],
            edges=[edge for _, edge in pairs],
            height=height,
            touch=replace(touch, struck=touch.struck * farthest),
        )

    def _across(self, pairs: Sequence[tuple[str, str]]) -> FloatArray:
        """Distance (d, l) from the edge to the far side of the face it lies on. [m]"""
        axes = [int(np.flatnonzero(ATTITUDES[edge])[0]) for _, edge in pairs]
        return np.asarray((self.outer[:, 1] - self.outer[:, 0])[:, axes])

    def about(
        self, pairs: Sequence[tuple[str, str]], height: float, tilt: float, *, tips: bool = False
    ) -> Landings:
        """Landings in which the case turns about an edge onto a face."""
        down, aside = (np.array([ATTITUDES[pair[k]] for pair in pairs]) for k in (0, 1))
        low, high = self.outer[:, None, 0], self.outer[:, None, 1]
        pivot = np.where(down + aside > 0, high, np.where(down + aside < 0, low, 0.0))
        axis = np.cross(-aside, down)
        size = (len(self.designs), len(pairs))
        wide = (*size, 3)
        spin = self._tipped(pivot, axis, down) if tips else np.zeros(size)
        return Landings(
            down=np.broadcast_to(down, wide),
            speed=np.full(size, np.sqrt(2 * G0 * height)),
            axis=np.broadcast_to(axis, wide),
            pivot=np.broadcast_to(pivot, wide),
            tilt=np.full(size, tilt),
            spin=spin,
        )

    def _tipped(self, pivot: FloatArray, axis: FloatArray, down: FloatArray) -> FloatArray:
        """Rate (d, l) with which a case comes to lie that turns over an edge like one body.

        See `tipping.topple_speed`; a shell that is not weighed counts alone. [rad/s]
        """
        first = slice(None, None, len(self.held.mass) // len(self.designs))
        light = np.isfinite(self.shell.mass[first])
        own = np.where(light, self.shell.mass[first], 1.0)[:, None]
        floats = np.where(light, self.held.mass[first], 0.0)[:, None]
        shell = self.shell.centre[first][:, None]
        gross = (own / (own + floats))[..., None] * shell
        inertia = own[..., None] * self.shell.gyration[first]
        inertia = inertia + light[:, None, None] * self.held.inertia[first]
        about = np.einsum("li,dij,lj->dl", axis, inertia, axis)
        for mass, at in ((own, shell), (floats, np.zeros(3))):
            about = about + mass * (np.cross(axis, at - gross) ** 2).sum(axis=-1)
        beside = np.cross(axis, gross - pivot)
        height = -((gross - pivot) * down).sum(axis=-1)
        arm = np.sqrt(np.maximum((beside**2).sum(axis=-1) - height**2, 0.0))
        return topple_speed(arm, height, np.sqrt(about / (own + floats)))


def _harder(soft: Landed, stiff: Landed) -> Landed:
    """The landing on dynamic curves, and where a mount meets its limit the harder of the two.

    On its softer, static curve a mount goes further, and may hit a stop that it does not reach on
    the other.
    """
    hits = np.asarray(soft.metal > 0)
    worse = hits & (np.nan_to_num(soft.peak[..., 0]) > np.nan_to_num(stiff.peak[..., 0]))

    def most(name: str) -> FloatArray:
        own, other = getattr(stiff, name), getattr(soft, name)
        return np.asarray(np.where(hits[..., None], np.fmax(own, other), own))

    return replace(
        stiff,
        peak=most("peak"),
        force=most("force"),
        duration=np.where(worse, soft.duration, stiff.duration),
        velocity_change=np.where(worse, soft.velocity_change, stiff.velocity_change),
    )


def _spun(start: Start, spin: FloatArray, held: Suspension, shell: Shell) -> Start:
    """Payloads (d, b) in a case that turns about its gross centre of gravity, (d, b, 3) rad/s."""
    share = 1 / (1 + held.mass * shell.lightness)
    arm = start.shift - (share[:, None] * shell.centre)[:, None]
    own = (np.swapaxes(start.turn, -1, -2) @ spin[..., None])[..., 0]
    return replace(start, velocity=start.velocity + np.cross(spin, arm), spin=start.spin + own)


def _beside(face: str) -> list[str]:
    """The four sides that share an edge with a face."""
    own = ATTITUDES[face]
    return [name for name, way in ATTITUDES.items() if not np.dot(own, way)]


def _outer_box(design: Design) -> FloatArray:
    """Ends (2, 3) of the outer box from the payload's centre of gravity, nan if unknown. [m]

    The gaps lie between equal walls on both sides; a gap that is unknown is as wide as the other.
    """
    size = si_array_or_none(design.case, "size")
    if size is None:
        return np.full((2, 3), np.nan)
    room = np.where(OWN, design.case.room(si_array(design.payload, "size")), np.nan)
    gap = np.array([np.nanmin(np.append(room[:, k], np.inf)) for k in range(len(FACES))])
    both = np.where(np.isfinite(gap), gap, 0.0).reshape(3, 2)
    known = np.isfinite(gap).reshape(3, 2).all(axis=1)
    middle = np.where(known, (both[:, 1] - both[:, 0]) / 2, 0.0)
    middle = middle - design.payload.centre_of_gravity()
    return np.array([middle - size / 2, middle + size / 2])


def _shell(designs: Sequence[Design], outer: FloatArray) -> Shell:
    """The shells of designs (d,), as boxes of even thin walls; heavy where they are not weighed."""
    mass, centre, gyration = [], [], []
    for design, box in zip(designs, outer, strict=True):
        own, floats = si_or_none(design.case, "mass"), si(design.payload, "mass")
        middle = np.nan_to_num(box.mean(axis=0))
        gross = si_array_or_none(design.case, "centre")
        if own is not None and gross is not None:
            middle = (own + floats) / own * (middle + gross)
        mass.append(np.inf if own is None else own)
        centre.append(middle)
        gyration.append(_thin_box(np.nan_to_num(box[1] - box[0])))
    stopping = [si_or_none(d.case, "stopping_time") or 0.0 for d in designs]
    foam = [d.case.cushion for d in designs if d.case.cushion is not None]
    drag = [0.0 if d.case.cushion is None else d.case.cushion.drag(d.gross_mass()) for d in designs]
    return Shell(
        mass=np.array(mass),
        centre=np.array(centre),
        gyration=np.array(gyration),
        restitution=np.array([d.case.restitution or 0.0 for d in designs]),
        stopping=np.array(stopping),
        foam=Curve.stacked([own.curve() for own in foam]) if len(foam) == len(designs) else None,
        foam_damping=np.array(drag),
        foam_returns=np.array([_returns(d) for d in designs]),
        glued=any(own.glued for own in foam),
    )


def _returns(design: Design) -> float:
    """Share of its work that the foam outside gives back; all of it where nobody knows."""
    cushion, rebound = design.case.cushion, design.case.restitution
    linear = cushion is not None and cushion.law is None
    return 1.0 if linear or rebound is None else rebound**2


def _thin_box(size: FloatArray) -> FloatArray:
    """Inertia of a closed box of thin walls about its middle over its mass (3, 3). [m²]"""
    area = np.array([size[(k + 1) % 3] * size[(k + 2) % 3] for k in range(3)])
    if not area.sum():
        return np.zeros((3, 3))
    # mean square of each coordinate: a wall has all of its own, the others a uniform spread
    share = area / area.sum()
    square = size**2 * (share / 4 + (1 - share) / 12)
    return np.diag(square.sum() - square)

"""What one leg of a trip does to designs: its road, its sine, its falls, its steps, on arrays.

All designs of a batch share the trip and the numbers of mounts and cables. The inertia band of a
payload of which only mass and size are known is one more axis of the arrays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from isolator.knock import Knock
from isolator.payload import CORNERS
from isolator.resonance import SingleParts
from isolator.shock import Drop
from isolator.suspension import Pose, Suspension
from isolator.trip import Axis, Leg
from isolator.units import FloatArray
from isolator.vibration import RandomResponse, SineResponse

Bools = npt.NDArray[np.bool_]

POINTS = ("centre", *CORNERS)


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

    def strokes(self, i: int) -> list[FloatArray]:
        """How far each mount of one design goes in every landing: falls, hop, slap-down, topple.

        Arrays (1, l, n, 3), see `Falling.mounts`. [m]
        """
        hop = [] if self.hopping is None else [self.hopping.landing]
        each = [fall.mounts for fall in (*self.falls, *hop)]
        each += [turn.touch.mounts for turn in self.turning]
        return [mounts[i : i + 1] for mounts in each]

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

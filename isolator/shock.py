"""What the payload feels of a drop: the flat landing by energy, with the true curves.

The case falls from a height without turning, lands flat and does not give; the payload goes on
along the fall line until the mounts have taken its energy. No damping, no rotation of the
payload: for linear mounts the first makes the peak an upper estimate at light damping, the
second makes the peak at the centre an upper bound. `swing` adds what rotation does to corners
and mounts.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from isolator.suspension import Suspension, congruent, strokes
from isolator.units import G0, FloatArray

ALLOWANCE = 2.0
"""What an estimate of `swing` is multiplied by before it may pass where curves and rotation meet.

Time integration of six motions on curves, undamped, exceeded the estimate by up to 1.4 times where
damping is unknown and 1.9 times where it is known and so taken off (computed).
"""

CYCLES, INSTANTS = 4, 80
"""How long the modes of a landing are followed one by one, and at how many instants."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)


@dataclass(frozen=True)
class Line:
    """All mounts and cables of a suspension as one spring along a fall line.

    Attributes
    ----------
    suspension : Suspension of designs (...)
    slope : (..., n, 3) array
        Local deflection of each mount for unit travel of the payload. [-]
    cables : (...) array
        Stiffness of all cables along the line. [N/m]
    """

    suspension: Suspension
    slope: FloatArray
    cables: FloatArray

    @classmethod
    def along(cls, suspension: Suspension, direction: npt.ArrayLike) -> Line:
        """The fall line of a direction (..., 3): where the payload goes in the case. [-]"""
        e = np.asarray(direction, dtype=float)[..., None, None, :]
        cables = (suspension.cable_stiffness * e[..., 0, :] ** 2).sum(axis=(-1, -2))
        return cls(suspension, (suspension.frames @ np.swapaxes(e, -1, -2))[..., 0], cables)

    def energy(self, travel: FloatArray) -> FloatArray:
        """Energy (...) in mounts and cables at a travel (...) [m]. [J]"""
        at = self.slope * travel[..., None, None]
        mounts = self.suspension.energy_in(at).sum(axis=-1)
        return np.asarray(mounts + self.cables * travel**2 / 2)

    def force(self, travel: FloatArray) -> FloatArray:
        """Force (...) of mounts and cables against the travel (...) [m]. [N]"""
        at = self.slope * travel[..., None, None]
        mounts = (self.slope * self.suspension.force_at(at)).sum(axis=(-1, -2))
        return np.asarray(mounts + self.cables * travel)

    def mount_force(self, travel: FloatArray) -> FloatArray:
        """Magnitude of each mount's force, (..., n). [N]"""
        at = self.slope * travel[..., None, None]
        return np.asarray(np.linalg.norm(self.suspension.force_at(at), axis=-1))

    def reach(self, limit: npt.ArrayLike) -> FloatArray:
        """Travel (...) at which the first mount is at its limit (..., n, 3), nan if unknown."""
        used = strokes(self.slope, self.slope)
        share = np.where(used > 1e-9, used / np.asarray(limit, dtype=float), 0.0)
        with np.errstate(divide="ignore"):
            return np.asarray(1 / share.max(axis=(-1, -2)))

    def level(self, force: FloatArray, most: FloatArray) -> FloatArray:
        """Travel (...) at which the force reaches a value (...) [N]; 0 if not within `most`. [m]

        Secants that keep the root between them; every third step halves instead, for curves with
        a plateau.
        """
        low, high = np.zeros_like(most), np.where(np.isfinite(most), most, 0.0)
        under, over = self.force(low) - force, self.force(high) - force
        held = over >= 0
        raised = np.zeros(np.shape(held), dtype=int)
        for step in range(100):
            if np.all(~held | (high - low <= 1e-14 * high) | (over == 0)):
                break
            with np.errstate(divide="ignore", invalid="ignore"):
                at = high - over * (high - low) / (over - under)
            secant = np.isfinite(at) & (step % 3 != 2)
            at = np.where(secant, np.clip(at, low, high), (low + high) / 2)
            miss = self.force(at) - force
            up = miss < 0
            low, high = np.where(up, at, low), np.where(up, high, at)
            # An end that stays twice counts half, or the secant would crawl.
            over = np.where(up, np.where(raised > 0, over / 2, over), miss)
            under = np.where(up, miss, np.where(raised < 0, under / 2, under))
            raised = np.where(up, 1, -1)
        return np.where(held, high, 0.0)

    def stored(self, weight: FloatArray, most: FloatArray) -> FloatArray:
        """Energy (...) that the release turns into a ring, of the sag that is within `most`. [J]"""
        sag = self.level(weight, most)
        return np.maximum(self.energy(sag), weight * sag / 2)

    def catch(self, energy: FloatArray, weight: FloatArray) -> FloatArray:
        """Travel (...) at which mounts and cables have taken the energy. [m]

        Solves U(d) = energy + weight·d. U is convex because no curve falls, so Newton's method
        from a point beyond the root comes down to it without overshoot. inf where the mounts
        never take it (they lift off); cables alone do not count as what catches a payload.

        Parameters
        ----------
        energy : (...) array
            Kinetic energy relative to the case at the unloaded pose. [J]
        weight : (...) array
            Force that goes on pushing: weight downward, minus it upward, 0 in flight. [N]
        """
        start = np.full(np.broadcast_shapes(np.shape(energy), self.slope.shape[:-2]), 1e-3)
        for _ in range(60):
            short = self.energy(start) < energy + weight * start
            if not short.any():
                break
            start = np.where(short, 2 * start, start)
        lost = start > 1e3
        if self.cables.any():
            mounts, far = replace(self, cables=np.zeros(())), np.full_like(start, 1e3)
            lost = lost | (mounts.energy(far) < energy + weight * far)
        d = np.where(lost, 1.0, start)
        for _ in range(60):
            miss = self.energy(d) - energy - weight * d
            pull = self.force(d) - weight
            step = np.where(lost | (miss <= 0), 0.0, miss / np.where(pull > 0, pull, np.inf))
            d = d - step
            if (np.abs(step) <= 1e-13 * d).all():
                break
        return np.where(lost, np.inf, d)


@dataclass(frozen=True)
class Drop:
    """A flat landing from a height, by energy.

    `travel`, `bottoms` and `peak` belong to mounts that are at rest and unloaded when the case
    lands; `travel_most`, `rebound` and `peak_most` to the worst phase of the ring that the
    release starts.

    Attributes
    ----------
    travel, travel_most : (...) arrays
        Travel of the payload from its unloaded pose, with the static curves carried on
        straight beyond their end. [m]
    rebound : (...) array
        Travel to the other side when it springs back undamped, no further than the mounts go;
        inf where it flies off. [m]
    bottom : (...) array
        Travel at which the first mount reaches its limit, nan if unknown. [m]
    bottoms : (...) array
        1 where it bottoms, 0 where not, nan if unknown.
    contact_speed : (...) array
        Speed with which it bottoms; 0 where not, nan if unknown. [m/s]
    bottoming_height : (...) array
        Height from which it just bottoms, nan if unknown or never. [m]
    peak, peak_most : (...) arrays
        Specific force at the centre from the dynamic curves, no further than the travel
        limit. [g]
    stiff_travel_most, stiff_rebound : (...) arrays
        `travel_most` and `rebound` with the dynamic curves. [m]
    duration : (...) array
        Time above a tenth of the peak. [s]
    velocity_change : (...) array
        Integral of specific force less gravity over that time. [m/s]
    mount_force : (..., n) array
        Largest force of each mount, from the dynamic curves, without rotation. [N]
    """

    travel: FloatArray
    travel_most: FloatArray
    rebound: FloatArray
    bottom: FloatArray
    bottoms: FloatArray
    contact_speed: FloatArray
    bottoming_height: FloatArray
    peak: FloatArray
    peak_most: FloatArray
    stiff_travel_most: FloatArray
    stiff_rebound: FloatArray
    duration: FloatArray
    velocity_change: FloatArray
    mount_force: FloatArray


def flat_drop(
    suspension: Suspension,
    direction: npt.ArrayLike,
    height: npt.ArrayLike,
    limit: npt.ArrayLike,
    *,
    restitution: npt.ArrayLike = 0.0,
) -> Drop:
    """Flat landing of a heavy shell, by energy along the fall line.

    A shell that stays on the floor keeps gravity: U(d) = m g (h + d). One that rebounds with
    `restitution` e sees no gravity in its first flight: U(d) = m g h (1 + e)². A slow rebound
    lands again within the stroke, so with e > 0 the worse of the two counts; what further bounces
    add to a payload that still swings is not in it. Travel, bottoming and rebound use the static
    curves; peak, duration, velocity change and mount forces the dynamic ones. No damping: above
    a loss factor of about 1 the damper's own force can be the peak.

    In free fall the payload swings about its unloaded pose with the energy u of its sag. At the
    worst phase that adds u + 2√(u(u + m g h)) to the landing: a linear mount goes exactly a sag
    further and feels 1 g more; with curves it is an estimate, u not less than half the weight
    times the sag.

    Parameters
    ----------
    suspension : Suspension of designs (...)
    direction : (..., 3) array
        Unit vector along which the payload moves in the case: what points down. [-]
    height : (...) array
        Drop height, case's lowest point above the floor. [m]
    limit : (..., n, 3) array
        How far each mount may be pushed, pulled and moved across; nan if unknown. [m]
    restitution : (...) array
        Of the shell on the floor, 0 to 1. [-]

    Examples
    --------
    8 kg on a linear 10 Hz suspension from 0.762 m: 25.79 g, and up to 1 g more.

    >>> k = 8 * (2 * np.pi * 10) ** 2 / 4
    >>> corners = [(x, y, 0.) for x in (-.1, .1) for y in (-.1, .1)]
    >>> tray = Suspension.of_springs(8., np.eye(3), corners, k, k)
    >>> drop = flat_drop(tray, (0, 0, -1), .762, np.full((4, 3), np.nan))
    >>> print(f"{drop.peak:.2f} {drop.peak_most:.2f}")
    25.79 26.79
    """
    e = np.asarray(restitution, dtype=float)
    stays = _landing(suspension, direction, height, limit, None)
    if not e.any():
        return stays
    leaves = _landing(suspension, direction, height, limit, e)
    # where both bottom the peaks are the same
    tie = (leaves.peak == stays.peak) & (leaves.velocity_change > stays.velocity_change)
    harder = (leaves.peak > stays.peak) | tie

    def worse(name: str) -> FloatArray:
        one: FloatArray = getattr(stays, name)
        other: FloatArray = getattr(leaves, name)
        if name in ("duration", "velocity_change"):
            other = np.where(harder, other, one)
        elif name == "bottoming_height":
            other = np.minimum(one, other)
        else:
            other = np.maximum(one, other)
        return np.where(e[..., None] > 0 if name == "mount_force" else e > 0, other, one)

    return Drop(**{f.name: worse(f.name) for f in fields(Drop)})


def _landing(
    suspension: Suspension,
    direction: npt.ArrayLike,
    height: npt.ArrayLike,
    limit: npt.ArrayLike,
    rebound: FloatArray | None,
) -> Drop:
    """One landing: the shell stays on the floor (None) or leaves it at once."""
    static, stiff = Line.along(suspension, direction), Line.along(suspension.dynamic(), direction)
    away = -np.asarray(direction, dtype=float)
    back, stiff_back = Line.along(suspension, away), Line.along(suspension.dynamic(), away)
    mass = np.asarray(suspension.mass)
    times = 1.0 if rebound is None else (1 + rebound) ** 2
    fall = mass * G0 * np.asarray(height, dtype=float) * times
    weight = mass * G0 if rebound is None else 0 * mass

    def with_ring(line: Line, travel: FloatArray) -> FloatArray:
        stored = line.stored(mass * G0, travel)
        kept = stored if rebound is None else 0.0
        return np.asarray((np.sqrt(fall + kept) + np.sqrt(stored)) ** 2 - kept)

    bottom = static.reach(limit)
    travel = static.catch(fall, weight)
    metal = np.where(np.isfinite(bottom), bottom, np.nan)
    left = fall + weight * metal - static.energy(metal)
    bottoms = np.where(np.isnan(bottom), np.nan, travel > bottom)
    speed = np.where(bottoms == 1, np.sqrt(2 * np.maximum(left, 0) / mass), bottoms)
    least = np.maximum(static.energy(metal) - weight * metal, 0) / (mass * G0 * times)
    most = with_ring(static, travel)

    full = stiff.catch(fall, weight)
    stiff_most = with_ring(stiff, full)
    furthest = stiff.catch(stiff_most, weight)
    caught = np.isfinite(travel) & np.isfinite(full)
    d = np.where(caught, np.minimum(full, np.where(np.isnan(bottom), np.inf, bottom)), np.nan)
    end = np.where(caught, np.minimum(furthest, np.where(np.isnan(bottom), np.inf, bottom)), np.nan)
    force = stiff.force(d)
    duration, change = _pulse(stiff, d, force / 10, fall, weight, mass)
    stop = back.reach(limit)
    return Drop(
        travel=travel,
        travel_most=static.catch(most, weight),
        rebound=np.fmin(back.catch(most, -weight), stop),
        bottom=bottom,
        bottoms=bottoms,
        contact_speed=speed,
        bottoming_height=least,
        peak=force / (mass * G0),
        peak_most=stiff.force(end) / (mass * G0),
        stiff_travel_most=furthest,
        stiff_rebound=np.fmin(stiff_back.catch(stiff_most, -weight), stop),
        duration=duration,
        velocity_change=change,
        mount_force=stiff.mount_force(d),
    )


def light_shell_peak(
    suspension: Suspension,
    direction: npt.ArrayLike,
    height: npt.ArrayLike,
    limit: npt.ArrayLike,
    shell: npt.ArrayLike,
    *,
    restitution: npt.ArrayLike = 0.0,
) -> FloatArray:
    """Peak of the one contact of a light shell: the lower bound beside `flat_drop`'s upper one.

    A shell of mass M that leaves the floor is not held by it: the mounts take the energy of the
    reduced mass μ = mM/(m + M) at (1 + e)V, without gravity, U(d) = m g h (1 + e)² M/(m + M). A
    linear mount feels (1 + e)·V·ω·√(M/(m + M)). What the bouncing shell does lies between. From
    unloaded mounts at rest, with the dynamic curves, no further than the travel limit.

    Parameters
    ----------
    suspension : Suspension of designs (...)
    direction : (..., 3) array
        Fall line. [-]
    height : (...) array
        [m]
    limit : (..., n, 3) array
        As in `flat_drop`. [m]
    shell : (...) array
        Mass of the shell, nan if unknown. [kg]
    restitution : (...) array
        [-]

    Returns
    -------
    (...) array
        Specific force at the centre; nan where the shell is not weighed, or nothing catches. [g]

    Examples
    --------
    8 kg at 10 Hz in a shell of 4 kg from 0.762 m with e = 0.4: a heavy shell would give 34.7 g.

    >>> k = 8 * (2 * np.pi * 10) ** 2 / 4
    >>> corners = [(x, y, 0.) for x in (-.1, .1) for y in (-.1, .1)]
    >>> tray = Suspension.of_springs(8., np.eye(3), corners, k, k)
    >>> least = light_shell_peak(tray, (0, 0, -1), .762, np.full((4, 3), np.nan), 4.,
    ...                          restitution=.4)
    >>> print(f"{least:.1f}")
    20.0
    """
    line = Line.along(suspension.dynamic(), direction)
    mass, m = np.asarray(suspension.mass), np.asarray(shell, dtype=float)
    fall = mass * G0 * np.asarray(height, dtype=float)
    fall = fall * (1 + np.asarray(restitution, dtype=float)) ** 2
    known = np.isfinite(m)
    taken = np.where(known, fall * m / (mass + m), fall)
    travel = line.catch(taken, 0 * mass)
    bottom = Line.along(suspension, direction).reach(limit)
    end = np.minimum(travel, np.where(np.isnan(bottom), np.inf, bottom))
    caught = known & np.isfinite(end)
    force = line.force(np.where(caught, end, 0.0))
    return np.asarray(np.where(caught, force / (mass * G0), np.nan))


def height_for(
    suspension: Suspension,
    direction: npt.ArrayLike,
    travel: npt.ArrayLike,
    *,
    restitution: npt.ArrayLike = 0.0,
) -> FloatArray:
    """Height from which the centre goes so far: the inverse of `flat_drop`'s `travel_most`.

    Parameters
    ----------
    suspension : Suspension of designs (...)
    direction : (..., 3) array
        Fall line. [-]
    travel : (...) array
        From the unloaded pose, at the worst phase of the ring. [m]
    restitution : (...) array
        Of the shell on the floor, 0 to 1. [-]

    Returns
    -------
    (...) array
        0 where the ring alone goes further, nan for a travel that is not finite. [m]
    """
    line, d = Line.along(suspension, direction), np.asarray(travel, dtype=float)
    d = np.where(np.isfinite(d), d, np.nan)
    weight, e = np.asarray(suspension.mass) * G0, np.asarray(restitution, dtype=float)
    ring, taken = line.stored(weight, d), line.energy(d)
    after = np.sqrt(np.maximum(taken - weight * d + ring, 0.0)) - np.sqrt(ring)
    stays = np.maximum(after, np.sqrt(ring)) ** 2 - ring
    leaves = (np.maximum(np.sqrt(taken) - np.sqrt(ring), 0.0) / (1 + e)) ** 2
    height = np.where(e > 0, np.minimum(stays, leaves), stays) / weight
    return np.asarray(np.maximum(height, 0.0))


def _pulse(
    line: Line,
    end: FloatArray,
    threshold: FloatArray,
    fall: FloatArray,
    weight: FloatArray,
    mass: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Time above a force threshold and the velocity change over it, both ways. [s, m/s]

    dt = dx/v(x) with v from the energy; x = start + (end − start) sin φ takes the square root
    out of the turning point.
    """
    start = line.level(threshold, end)
    turn = (np.pi / 4 * (1 + _NODES)).reshape(-1, *[1] * end.ndim)
    x = start + (end - start) * np.sin(turn)
    kinetic = line.energy(end) - line.energy(x) - weight * (end - x)
    speed = np.sqrt(2 * np.maximum(kinetic, 1e-300) / mass)
    steps = (end - start) * np.cos(turn) / speed
    duration = np.pi / 2 * np.tensordot(_WEIGHTS, steps, axes=1)
    entry = np.sqrt(2 * np.maximum(fall + weight * start - line.energy(start), 0) / mass)
    return duration, 2 * entry


_Ends: TypeAlias = tuple[FloatArray, FloatArray]


def _times(a: FloatArray, b: FloatArray) -> FloatArray:
    """Product in which nothing of an endless travel is nothing."""
    return np.where(a == 0, 0.0, a * np.where(a == 0, 0.0, b))


@dataclass(frozen=True)
class _Shares:
    """What each of the six modes of the unloaded pose has of a flat landing.

    Attributes
    ----------
    square : (..., 6) array
        ω². [rad²/s²]
    share : (..., p, d, 6) array
        Motion at the points for unit travel along the fall line.
    most, least : (..., 6) arrays
        Travel ahead and back, undamped, at the worst phase of the ring. [m]
    flat_square, flat_most, flat_least : (...) arrays
        The same of the payload moving without rotation.
    speed : (...) array
        Of the landing. [m/s]
    lands : (...) bool array
        The shell stays where it lands.
    loss : (...) array
        Least loss factor of what holds the payload, 0 where one is unknown. [-]
    """

    square: FloatArray
    share: FloatArray
    most: FloatArray
    least: FloatArray
    flat_square: FloatArray
    flat_most: FloatArray
    flat_least: FloatArray
    speed: FloatArray
    lands: npt.NDArray[np.bool_]
    loss: FloatArray

    @classmethod
    def of(
        cls,
        suspension: Suspension,
        direction: npt.ArrayLike,
        height: npt.ArrayLike,
        rows: FloatArray,
        restitution: npt.ArrayLike,
    ) -> _Shares:
        e = np.asarray(direction, dtype=float)
        h = np.asarray(height, dtype=float)[..., None]
        bounce = np.asarray(restitution, dtype=float)[..., None]
        mass, stiffness = suspension.mass_matrix(), suspension.mount_stiffness()
        lower = np.linalg.cholesky(mass)
        value, vector = np.linalg.eigh(congruent(lower, stiffness))
        value = np.maximum(value, 1e-9 * value[..., -1:])
        shape = np.linalg.solve(np.swapaxes(lower, -1, -2), vector)
        push = np.concatenate([e, np.zeros_like(e)], axis=-1)[..., None]
        part = (np.swapaxes(shape, -1, -2) @ (mass @ push))[..., 0]
        flat = (np.swapaxes(push, -1, -2) @ stiffness @ push)[..., 0]
        flat = flat / np.asarray(suspension.mass)[..., None]

        def extremes(square: FloatArray) -> tuple[FloatArray, FloatArray]:
            sag = G0 / square
            root = np.sqrt(sag**2 + 2 * h * sag)
            flight = np.where(bounce > 0, sag + (1 + bounce) * np.sqrt(2 * h * sag), 0.0)
            return np.maximum(2 * sag + root, flight), np.maximum(root, flight)

        most, least = extremes(value)
        flat_most, flat_least = extremes(flat)
        share = (rows @ shape[..., None, :, :]) * part[..., None, None, :]
        share = np.where(np.abs(share) < 1e-12, 0.0, share)
        batch = np.broadcast_shapes(most.shape[:-1], share.shape[:-3])
        holding = np.concatenate([suspension.loss_factor, suspension.cable_loss], axis=-1)
        return cls(
            value,
            share,
            most,
            least,
            flat[..., 0],
            flat_most[..., 0],
            flat_least[..., 0],
            np.broadcast_to(np.sqrt(2 * G0 * h[..., 0]), batch),
            np.broadcast_to(bounce[..., 0] == 0, batch),
            np.broadcast_to(np.nan_to_num(holding).min(axis=-1), batch),
        )

    def sums(self, weight: FloatArray, ahead: FloatArray, back: FloatArray) -> _Ends:
        """The most that all modes together reach, low and high (..., p, d).

        Undamped and for all time that is the sum of what each reaches. Where damping is known and
        the shell stays where it lands, they are added as they come in time over `CYCLES` of the
        motion without rotation, the first of them undamped and each fading from then on; after that
        each has what damping has left of it, for modes of nearly one frequency take long to
        drift apart. Between two instants a sum of sines is off its chord by its curvature,
        Σ A ω²·dt²/8 at the most. The ring of the fall, whose phase nobody knows, adds in full.

        Parameters
        ----------
        weight : (..., 6) array
            What unit travel of each mode counts.
        ahead, back : (...) arrays
            What the travel of a mode ahead and back is multiplied by.
        """
        share = self.share * weight[..., None, None, :]
        up, down = np.maximum(share, 0.0), np.maximum(-share, 0.0)
        a, b = (np.asarray(f)[..., None, None, None] for f in (ahead, back))
        known = (self.lands & (self.loss > 0) & np.isfinite(ahead) & np.isfinite(back))[..., None]

        def ends(most: FloatArray, least: FloatArray) -> _Ends:
            most, least = a * most[..., None, None, :], b * least[..., None, None, :]
            low = (_times(up, least) + _times(down, most)).sum(axis=-1)
            return -low, (_times(up, most) + _times(down, least)).sum(axis=-1)

        bound = ends(self.most, self.least)
        if not known.any():
            return bound
        a, b = (np.where(known[..., None, None], f, 0.0) for f in (a, b))
        omega, sag = np.sqrt(self.square), G0 / self.square
        period = 2 * np.pi / np.sqrt(self.flat_square)[..., None]
        swing = np.hypot(sag, self.speed[..., None] / omega)
        decay = self.loss[..., None] / 2 * omega
        left = swing * np.exp(-decay * (CYCLES - 1) * period)
        later = ends(2 * sag + left, left)
        step = CYCLES / INSTANTS * period
        between = swing * np.minimum((omega * step) ** 2 / 8, 2.0)
        slack = ends(sag + between, sag + between)
        time = np.arange(1, INSTANTS + 1) * step[..., None]
        turned = omega[..., None] * time
        fading = np.exp(-decay[..., None] * np.maximum(time - period[..., None], 0.0))
        fast = (self.speed[..., None] / omega)[..., None]
        drop = sag[..., None]
        q = drop - fading * (drop * np.cos(turned) - fast * np.sin(turned))
        moved = a[..., 0, :] * np.maximum(q, 0.0) + b[..., 0, :] * np.minimum(q, 0.0)
        x = share.reshape(*share.shape[:-3], -1, 6) @ moved
        low = np.minimum(x.min(axis=-1), 0.0).reshape(bound[0].shape)
        high = np.maximum(x.max(axis=-1), 0.0).reshape(bound[0].shape)
        low, high = np.minimum(low + slack[0], later[0]), np.maximum(high + slack[1], later[1])
        known = known[..., None]
        return (
            np.where(known, np.maximum(low, bound[0]), bound[0]),
            np.where(known, np.minimum(high, bound[1]), bound[1]),
        )


def swing(
    suspension: Suspension,
    direction: npt.ArrayLike,
    height: npt.ArrayLike,
    rows: FloatArray,
    ahead: npt.ArrayLike,
    back: npt.ArrayLike,
    *,
    restitution: npt.ArrayLike = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """How far points may move in a flat landing, with the rotation of the payload.

    The linear modes of the unloaded pose share the speed of the landing, gravity, and the ring of
    the free fall. Undamped, mode k moves between −δR and δ(2 + R) with its own sag δ = g/ω² and
    R² = 1 + 2h/δ (in the first flight of a shell that rebounds, δ + V(1 + e)/ω both ways), and
    the sum of the extremes is the most that a point can reach. Where the loss factors are known
    the modes are added as they come in time instead, see `_Shares.sums`: no credit is taken of
    damping in the first cycle. For linear mounts both are bounds. With curves it is scaled to the
    travel that the centre has by energy, which is exact without rotation; with rotation too it is
    an estimate, to be held with `ALLOWANCE`.

    Parameters
    ----------
    suspension : Suspension of designs (...)
    direction : (..., 3) array
        Fall line. [-]
    height : (...) array
        [m]
    rows : (..., p, d, 6) array
        What of the six motions counts at each point: `motion_at` for the case axes. [-, m]
    ahead, back : (...) arrays
        `travel_most` and `rebound` of the centre by `flat_drop`. [m]
    restitution : (...) array
        [-]

    Returns
    -------
    low, high : (..., p, d) arrays
        From the unloaded pose. [m]
    """
    modes = _Shares.of(suspension, direction, height, rows, restitution)
    scale = np.asarray(ahead) / modes.flat_most, np.asarray(back) / modes.flat_least
    return modes.sums(np.ones_like(modes.square), *scale)


def jolt(
    suspension: Suspension,
    direction: npt.ArrayLike,
    height: npt.ArrayLike,
    rows: FloatArray,
    peak: npt.ArrayLike,
    *,
    restitution: npt.ArrayLike = 0.0,
) -> FloatArray:
    """The most specific force that points may feel in a flat landing, with rotation.

    As `swing`, with ω² times the travel of each mode: a bound for linear mounts without damping,
    a wide one where several modes share the landing.

    Parameters
    ----------
    suspension, direction, height, rows, restitution
        As for `swing`, with the dynamic curves.
    peak : (...) array
        `peak_most` of the centre by `flat_drop`, or any measure of it. [any]

    Returns
    -------
    (..., p, d) array
        In the unit of `peak`.
    """
    modes = _Shares.of(suspension, direction, height, rows, restitution)
    flat = np.asarray(peak) / (modes.flat_square * modes.flat_most)
    low, high = modes.sums(modes.square, flat, flat)
    return np.maximum(-low, high)

"""Where to put mounts so that they share the load and the motions come apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from isolator.brief import Brief, brief_of
from isolator.mount import Mount
from isolator.suspension import Suspension
from isolator.units import G0, POSITION, SIZE, FloatArray, InputError, si_array, si_or_none

REACH = "40 mm"
"""How far a mount may be moved along and across, unless told otherwise."""

PULL = 1e-3
"""What moving by the whole reach costs, beside a load or a coupling of one. [-]"""

STEP = 1e-3
"""Positions are rounded to what can be drilled. [m]"""

_WORDS = (("to the left end", "to the right end"), ("to the handle side", "to the hinge side"))


@dataclass(frozen=True)
class Seats:
    """What places do.

    Attributes
    ----------
    load : (n,) array
        Share of the weight on each mount, lid up. [-]
    part : (n,) array
        The same over the mount's fair part, which goes by its rated load where every mount has
        one and is the same for all otherwise; 1 where they share the load. [-]
    coupling : float
        The largest of the couplings between a translation and a rotation, over the stiffnesses
        of both: 0 where they come apart, 1 where they move as one. [-]
    tilt : float
        How far the payload tilts as it sags. [rad]
    frequencies : (6,) array
        [Hz]
    """

    load: FloatArray
    part: FloatArray
    coupling: float
    tilt: float
    frequencies: FloatArray

    @property
    def uneven(self) -> float:
        """The largest load over its fair part. [-]"""
        return float(self.part.max())


@dataclass(frozen=True)
class Siting:
    """Places as given, and better ones.

    Attributes
    ----------
    before, after : Seats
    position : (n, 3) array
        Better places, rounded to a millimetre, from the middle of the payload's box. [m]
    moves : (n, 2) array
        By how much each has moved along and across. [m]
    names : sequence of str
        Of the mounts.
    by_rating : bool
        The fair part of a mount goes by its rated load.
    """

    before: Seats
    after: Seats
    position: FloatArray
    moves: FloatArray
    names: Sequence[str]
    by_rating: bool

    def sentences(self) -> list[str]:
        """What to move, mounts that move alike together."""
        groups: dict[tuple[float, float], list[str]] = {}
        for name, (x, y) in zip(self.names, (1e3 * self.moves).round().tolist(), strict=True):
            groups.setdefault((x, y), []).append(name)
        out = []
        for ways, names in groups.items():
            told = [
                f"{abs(way):.0f} mm {words[way > 0]}"
                for way, words in zip(ways, _WORDS, strict=True)
                if way
            ]
            if told:
                out.append(f"move {', '.join(names)} {' and '.join(told)}")
        return out

    def table(self, brief: Brief) -> Brief:
        """The brief with the mounts in these places."""
        given = brief.text["mounts"]
        shared = {k: v for k, v in given.items() if k not in ("inset", "height", "place")}
        rows = given.get("place") or [{} for _ in self.names]
        placed = [
            {**row, "position": [POSITION.text(x) for x in at]}
            for row, at in zip(rows, self.position, strict=True)
        ]
        return brief.changed("mounts", {**shared, "place": placed})


def seats(held: Suspension, down: FloatArray, fair: FloatArray) -> Seats:
    """Load share, coupling and tilt of a suspension in its unloaded pose, linearly.

    Parameters
    ----------
    held : Suspension
        Of one design.
    down : (3,) array
        [-]
    fair : (n,) array
        The part of the weight that each mount is to carry; together 1. [-]
    """
    loads, coupling, tilt = _measures(held, held.position[None], down)
    return Seats(loads[0], loads[0] / fair, float(coupling[0]), float(tilt[0]), held.frequencies())


def fair_parts(mounts: Sequence[Mount]) -> FloatArray:
    """By rated load where every mount has one, else all the same (n,). [-]"""
    rated = [load for mount in mounts if (load := si_or_none(mount, "rated_load")) is not None]
    weights = np.array(rated) if len(rated) == len(mounts) else np.ones(len(mounts))
    return np.asarray(weights / weights.sum())


def _measures(
    held: Suspension, position: FloatArray, down: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Load shares (s, n), coupling (s,) and tilt (s,) of places (s, n, 3)."""
    count = len(position)
    every = Suspension.stacked([held] * count)
    every = replace(every, position=position)
    stiffness = every.mount_stiffness()
    weight = np.concatenate([down, np.zeros(3)]) * float(held.mass) * G0
    moved = np.linalg.solve(stiffness, np.broadcast_to(weight, (count, 6))[..., None])[..., 0]
    turn = moved[:, None, 3:]
    at = moved[:, None, :3] + np.cross(np.broadcast_to(turn, position.shape), position)
    local = (every.frames @ at[..., None])[..., 0]
    tangent = every.whole.tangent(np.zeros((*position.shape[:2], 2)))
    force = local * tangent[..., [0, 1, 1]]
    pull = (np.swapaxes(every.frames, -1, -2) @ force[..., None])[..., 0] @ down
    size = np.sqrt(np.einsum("sii->si", stiffness))
    mixed = np.abs(stiffness[:, :3, 3:]) / size[:, :3, None] / size[:, None, 3:]
    total = pull.sum(axis=1, keepdims=True)
    return pull / total, mixed.max(axis=(1, 2)), np.linalg.norm(moved[:, 3:5], axis=1)


def site(case: Brief | str | Path, *, reach: str = REACH) -> Siting:
    """Move the mounts of a brief, each along and across, until they share the load.

    The sum of the squares of what each load is off its fair part (`Seats.part`), of the couplings
    of translations with rotations, and of a thousandth of the moves is least. By the linear
    stiffness of the unloaded pose; `assess` the brief of `Siting.table` for the verdict.

    Parameters
    ----------
    case : Brief, or the path of a brief
    reach : text [length]
        How far each may be moved along and across; never off the payload's box.

    Raises
    ------
    InputError
        As `read_brief`; a reach that is not above 0 and at most 0.5 m.
    """
    from scipy.optimize import minimize

    brief = brief_of(case)
    far = SIZE.within(1e-3, 0.5, example=REACH).read(reach, "reach")
    design = brief.design
    held = design.suspension()
    if not np.isfinite(held.mount_stiffness()).all():
        raise InputError("mounts: a stiffness is not known, so no place is better than another")
    given = np.array([si_array(place, "position") for place in design.places])
    centre = design.payload.centre_of_gravity()
    half = si_array(design.payload, "size")[:2] / 2
    down = np.array([0.0, 0.0, -1.0])
    low = np.minimum(np.maximum(-far, -half - given[:, :2]), 0.0)
    high = np.maximum(np.minimum(far, half - given[:, :2]), 0.0)
    n = len(given)
    fair = fair_parts([place.mount for place in design.places])

    def cost(moves: FloatArray) -> FloatArray:
        """Of moves (s, 2n)."""
        at = np.broadcast_to(given, (len(moves), n, 3)).copy()
        at[..., :2] += moves.reshape(-1, n, 2)
        load, mixed, _ = _measures(held, at - centre, down)
        off = ((load / fair - 1) ** 2).mean(axis=1)
        return np.asarray(off + mixed**2 + PULL * ((moves / far) ** 2).mean(axis=1))

    def with_slope(moves: FloatArray) -> tuple[float, FloatArray]:
        steps = 1e-6 * np.eye(2 * n)
        found = cost(np.concatenate([moves[None], moves + steps, moves - steps]))
        return float(found[0]), (found[1 : 2 * n + 1] - found[2 * n + 1 :]) / 2e-6

    bounds = list(zip(low.ravel(), high.ravel(), strict=True))
    found = minimize(with_slope, np.zeros(2 * n), jac=True, bounds=bounds, method="L-BFGS-B")
    moves = np.round(found.x.reshape(n, 2) / STEP) * STEP
    position = given + np.pad(moves, ((0, 0), (0, 1)))
    better = replace(held, position=position - centre)
    return Siting(
        before=seats(held, down, fair),
        after=seats(better, down, fair),
        position=position,
        moves=moves,
        names=design.mount_names(),
        by_rating=all(place.mount.rated_load is not None for place in design.places),
    )

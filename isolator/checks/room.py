"""Will the payload move without touching?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from isolator.checks.drop import DOUBT, unknown_height
from isolator.checks.row import TRAVELS, Row, mount_key, temperature_key
from isolator.checks.shake import travel_gaps
from isolator.clearance import Shut, shut_out, towards_faces
from isolator.inside import FACES, OWN, in_corner, in_fillet
from isolator.leg import end_unknown
from isolator.outcome import Bools
from isolator.payload import CORNERS
from isolator.response import Response
from isolator.suspension import ATTITUDES
from isolator.units import POSITION, FloatArray

WORST_CASE = "worst case: sag, the larger of vibration peak and drop travel, tilt, tolerance"
ROOT_SUM_SQUARE = (
    "root sum square of the tolerance and the larger of vibration peak and drop travel, on top of "
    "sag and tilt, which are always there"
)

OFTEN = 0.01
"""Touches of a wall by vibration from which on they are told: one in four days. [1/h]"""

Lacking = Sequence[dict[str, str]]
"""What the motion lacks, for each design: key of the brief → sentence."""


def clearance(response: Response) -> Iterator[Row]:
    """The motion of the corners towards each face, its roundings, and what stands in the way."""
    lacking = _lacking(response, lid=False), _lacking(response, lid=True)
    for k in range(len(FACES)):
        yield _face(response, k, lacking[int(k == 5)])
    yield from _roundings(response, lacking[0])
    shut, most = obstacles(response), obstacles(response, doubted=True)
    on_lid = response.room.solids.on_lid
    for n in range(len(response.room.solids.names)):
        yield _obstacle(response, shut, most, n, lacking[int(on_lid[n])])


def obstacles(response: Response, *, doubted: bool = False) -> Shut:
    """How close the payload of each design comes to each obstacle and rib."""
    closed = np.array([motion.lid for motion in response.motions])
    swept, needed = response.swept_from_middle[int(doubted)], response.needed[int(doubted)]
    return shut_out(towards_faces(swept), towards_faces(needed), closed, response.room.solids)


def by_corner(
    response: Response, face: int, *, doubted: bool = False
) -> tuple[FloatArray, npt.NDArray[np.intp]]:
    """Demand (b, 8) of the corners at a face and the number of the motion behind it (b, 8).

    −inf for corners at other faces. Motions with the lid open ask nothing of the lid. [m]
    """
    counts = np.array([motion.lid or face != 5 for motion in response.motions])
    each = np.where(counts[:, None, None], response.needed[int(doubted), ..., face], -np.inf)
    most = np.where(OWN[:, face], np.maximum(each.max(axis=0), 0.0), -np.inf)
    return most, each.argmax(axis=0)


def _lacking(response: Response, *, lid: bool) -> Lacking:
    return [motion_gaps(response, i, lid=lid) for i in range(len(response.designs))]


def motion_gaps(response: Response, i: int, *, lid: bool) -> dict[str, str]:
    """What the motion lacks for one design; `lid` leaves out legs with an open one."""
    design, gaps = response.designs[i], {}
    asked = np.array([attitude in design.attitudes for attitude in ATTITUDES])
    if (asked & ~response.pose.found[i]).any():
        gaps[""] = "the payload does not come to rest in every attitude"
    for number, leg in enumerate(response.legs, start=1):
        if lid and leg.leg.lid == "open":
            continue
        if leg.leg.drops and leg.leg.groups() and leg.tilted is None:
            gaps["case.size"] = "how it falls on edges and corners goes by the outer size"
        if leg.leg.drops and leg.falling is None and leg.leg.faces():
            key, sentence = unknown_height(design, number, leg.leg)
            gaps[key] = sentence
        strokes, limits = leg.strokes(i), leg.limits[i : i + 1]
        if strokes and (leg.rigid[i] or leg.uncertain[i]):
            gaps[temperature_key(response, leg, i)] = "the drop at this temperature is not checked"
        elif any((stroke > limits).any() for stroke in strokes):
            gaps[""] = f"on {leg.leg.name} a mount may bottom, and how the metal holds is not known"
        elif any(end_unknown(stroke, limits).any() for stroke in strokes):
            key = mount_key(design, *TRAVELS)
            gaps[key] = "how far the mounts go before they bottom is not known"
        if (leg.leg.drops or strokes) and (key := mount_key(design, "captive")):
            gaps[key] = "whether the mounts hold the payload when it springs back is not known"
        gaps |= travel_gaps(response, number, leg, i)
    if np.isnan(response.creep[i, 1]):
        key = mount_key(design, "creep")
        gaps[key] = "how much the mounts creep is not known"
    if design.case.measured is None:
        gaps["case.measured"] = "whether the gaps were measured with the payload hanging or out"
    return gaps


def _row(
    response: Response,
    name: str,
    demand: FloatArray,
    capacity: FloatArray,
    doubtful: Bools,
    reason: Callable[[int], str],
    key: Callable[[int], str],
    lacking: Lacking,
) -> Row:
    """A row in mm; `key` names what gives the capacity, `doubtful` holds only as an estimate."""
    unknown = np.isnan(demand) | np.isnan(capacity)
    unsure = doubtful & (demand <= capacity)

    def whole(i: int) -> str:
        text = reason(i)
        if unknown[i] or np.isinf(demand[i]):
            return text
        more = [DOUBT] * bool(unsure[i]) + list(lacking[i].values())[:1]
        return "; ".join([text, *more])

    return Row(
        id=f"clearance/{name}",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=whole,
        missing=lambda i: key(i) if unknown[i] else next(iter(lacking[i]), ""),
        source=ROOT_SUM_SQUARE if response.room.root[0] else WORST_CASE,
        fails=np.isinf(demand),
        open=np.array([bool(gaps) for gaps in lacking]) | unsure,
    )


def _face(response: Response, k: int, lacking: Lacking) -> Row:
    need, motion = by_corner(response, k)
    gap = response.room.gap[..., k]
    left = np.where(OWN[:, k], gap - need, np.inf)
    left = np.where(np.isnan(left), -np.inf, left)
    unknown = np.asarray(np.isnan(gap).any(axis=1))
    corner = np.where(unknown, need.argmax(axis=1), left.argmin(axis=1))
    batch = np.arange(len(need))
    demand, cause = need[batch, corner], motion[batch, corner]
    capacity = np.where(unknown, np.nan, gap[batch, corner])
    doubtful = np.asarray((by_corner(response, k, doubted=True)[0] > gap).any(axis=1))

    def reason(i: int) -> str:
        name = response.motions[cause[i]].name
        if np.isinf(demand[i]):
            return f"{name}: nothing stops the payload before this face"
        text = f"it moves {POSITION.text(demand[i])} this way ({name})"
        if unknown[i]:
            return f"{text}; the gap is not given"
        text += f", the gap is {POSITION.text(capacity[i])}"
        often = np.fmax.reduce(response.touches[i, :, k])
        if often >= OFTEN:
            text += f"; vibration touches it {often:.2g} times an hour"
        return text

    def key(i: int) -> str:
        return response.designs[i].case.gap_key(k)

    return _row(response, FACES[k], demand, capacity, doubtful, reason, key, lacking)


def _roundings(response: Response, lacking: Lacking) -> Iterator[Row]:
    """The rounded upright edges, and the rounding between walls and floor, where there are any."""
    room = response.room
    if not (room.corner_radius.any() or room.floor_radius.any()):
        return
    left = room.gap - np.where(OWN, response.needed, 0.0)
    if room.corner_radius.any():
        used = in_corner(left, room.corner_radius)
        what = "the rounded upright edge"
        yield _rounding(response, "corner radius", what, used, room.corner_radius, lacking)
    if room.floor_radius.any():
        used = in_fillet(left, room.corner_radius, room.floor_radius)
        what = "the rounding at the floor"
        yield _rounding(response, "floor radius", what, used, room.floor_radius, lacking)


def _rounding(
    response: Response,
    name: str,
    what: str,
    used: FloatArray,
    radius: FloatArray,
    lacking: Lacking,
) -> Row:
    """Distance (2, m, b, 8) of the corners from the middle of a rounding against its radius."""
    each = np.moveaxis(used, 2, 1).reshape(2, used.shape[2], -1)
    unknown = np.asarray(np.isnan(response.room.gap).any(axis=(1, 2)))
    estimate, most = np.where(unknown[:, None], np.nan, each)
    cause, corner = np.divmod(estimate.argmax(axis=1), used.shape[-1])
    demand = estimate.max(axis=1)

    def reason(i: int) -> str:
        if unknown[i]:
            return f"how close the payload is to {what} is not given"
        motion = response.motions[cause[i]].name
        if np.isinf(demand[i]):
            return f"{motion}: nothing stops the payload before {what}"
        return (
            f"its corner {CORNERS[corner[i]]} gets {POSITION.text(demand[i])} from the middle of "
            f"{what} ({motion}), whose radius is {POSITION.text(radius[i])}"
        )

    def key(i: int) -> str:
        face = int(np.isnan(response.room.gap[i]).any(axis=0).argmax())
        return response.designs[i].case.gap_key(face)

    doubtful = np.asarray(most.max(axis=1) > radius)
    return _row(response, name, demand, radius, doubtful, reason, key, lacking)


def _obstacle(response: Response, shut: Shut, most: Shut, n: int, lacking: Lacking) -> Row:
    demand, gap = shut.demand[:, n], shut.gap[:, n]

    def reason(i: int) -> str:
        motion, face = response.motions[shut.cause[i, n]].name, FACES[shut.face[i, n]]
        axis = f"along {'xyz'[shut.face[i, n] // 2]}, towards the {face}"
        if np.isinf(demand[i]):
            return f"{motion}: nothing stops the payload before it {axis}"
        text = f"it moves {POSITION.text(demand[i])} {axis} ({motion})"
        if np.isnan(gap[i]):
            return f"{text}; the gap to that wall is not given"
        return f"{text}, the gap is {POSITION.text(gap[i])}"

    def key(i: int) -> str:
        return response.designs[i].case.gap_key(int(shut.face[i, n]))

    doubtful = np.asarray(most.demand[:, n] > most.gap[:, n])
    name = response.room.solids.names[n]
    return _row(response, name, demand, gap, doubtful, reason, key, lacking)

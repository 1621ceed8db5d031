"""Will two bodies that float in one case stay off each other?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from isolator.checks.drop import DOUBT
from isolator.checks.room import ROOT_SUM_SQUARE, WORST_CASE, motion_gaps
from isolator.checks.row import Row
from isolator.clearance import apart, approach, towards_faces
from isolator.design import MAIN, key_of
from isolator.inside import FACES
from isolator.response import Response
from isolator.trip import AXES
from isolator.units import POSITION, FloatArray, si_array


@dataclass(frozen=True)
class Reach:
    """How far a body moves from where the gaps were measured, the worst of its variants.

    Attributes
    ----------
    demand : (b, 6) array
        Towards each face, with tolerance; inf where nothing stops it. [m]
    most : (b, 6) array
        The same with what is only an estimate, see `Motion.doubt`. [m]
    causes : (b, 6) nested sequences
        What moves it that far.
    lacking : (b,) sequence of mappings
        What the motion lacks: key of the brief → sentence.
    """

    demand: FloatArray
    most: FloatArray
    causes: Sequence[Sequence[str]]
    lacking: Sequence[Mapping[str, str]]


def pair_id(one: str, other: str) -> str:
    """Id of the check between two bodies, the same in either order.

    >>> pair_id("lid tray", "payload")
    'clearance/lid tray'
    >>> pair_id("shelf", "lid tray")
    'clearance/lid tray and shelf'
    """
    return f"clearance/{' and '.join(sorted({one, other} - {MAIN}))}"


def of_body(body: str, rows: Sequence[Row]) -> list[Row]:
    """The rows of a further body under its name; keys as they stand in its tables."""
    return [
        replace(
            row,
            id=f"{body}: {row.id}",
            missing=lambda i, row=row: key_of(body, row.missing(i)),  # type: ignore[misc]
        )
        for row in rows
    ]


def judged_apart(response: Response, bodies: Mapping[str, Response]) -> set[str]:
    """Ids of the faces before which another of these bodies stands: the pair answers for them."""
    stands = response.designs[0].stands_before
    return {f"clearance/{face}" for face in FACES if stands.get(face) in bodies}


def between(bodies: Mapping[str, Response], variants: Mapping[str, int]) -> Iterator[Row]:
    """The clearance of every pair of bodies, worst case: both at their largest motion at once.

    Parameters
    ----------
    bodies : mapping of name to Response
        Of the same cases, or of one design that is in all of them.
    variants : mapping of name to int
        How many designs stand side by side for each case, see `Design.variants`.
    """
    names = sorted(bodies, key=lambda name: (name != MAIN, name))
    for pair in combinations(names, 2):
        # Where one goes with the lid, they are only together while it is closed.
        lids = [bodies[name].designs[0].on_lid for name in pair]
        moved = [_reach(bodies[n], variants.get(n, 1), closed=lids[0] != lids[1]) for n in pair]
        yield _pair(pair, [bodies[name] for name in pair], moved)


def _reach(response: Response, variants: int, *, closed: bool) -> Reach:
    """The largest of all motions towards each face, `closed` leaves out legs with an open lid."""
    counts = np.array([motion.lid or not closed for motion in response.motions])
    each = np.where(counts[:, None, None], towards_faces(response.swept_from_middle), -np.inf)
    estimate, most = np.maximum(each.max(axis=1), 0.0).reshape(2, -1, variants, 6)
    worst = estimate.argmax(axis=1)
    cause = each[0].argmax(axis=0).reshape(-1, variants, 6)
    cause = np.take_along_axis(cause, worst[:, None], axis=1)[:, 0]
    names = [motion.name for motion in response.motions]
    return Reach(
        estimate.max(axis=1),
        most.max(axis=1),
        [[names[c] for c in row] for row in cause],
        [
            _lacking(response, range(i, i + variants), closed=closed)
            for i in range(0, len(response.designs), variants)
        ],
    )


def _lacking(response: Response, which: Sequence[int], *, closed: bool) -> dict[str, str]:
    gaps: dict[str, str] = {}
    payload = response.designs[which[0]].payload
    if payload.centre is None:
        gaps["payload.centre"] = "the centre of gravity is not given"
    if not payload.height_known:
        gaps["payload.weighing.tilt"] = "the height of the centre of gravity is not given"
    for i in which:
        gaps = motion_gaps(response, i, lid=closed) | gaps
    return gaps


def _pair(names: tuple[str, str], pair: Sequence[Response], moved: Sequence[Reach]) -> Row:
    ends = [response.designs[0] for response in pair]
    size = [si_array(design.payload, "size") for design in ends]
    between = ends[1].middle() - ends[0].middle()
    need = approach(between, moved[0].demand, moved[1].demand)
    gap = np.broadcast_to(apart(between, *size), need.shape)
    left = np.where(gap >= 0, gap - need, -np.inf)
    stuck = np.isinf(left).all(axis=1)
    axis = np.where(stuck, gap.argmax(axis=1), left.argmax(axis=1))
    batch = np.arange(len(axis))
    demand, capacity = need[batch, axis], gap[batch, axis]
    most = approach(between, moved[0].most, moved[1].most)[batch, axis]
    doubtful = (most > capacity) & (demand <= capacity)
    lacking = [_both(names, moved, i) for i in range(len(axis))]

    def reason(i: int) -> str:
        k = int(axis[i])
        ahead = between[k] >= 0
        steps = []
        for name, one, onward in zip(names, moved, (ahead, not ahead), strict=True):
            own, face = _own(one, i), 2 * k + int(onward)
            way = one.demand[own, face]
            far = "without end" if np.isinf(way) else f"up to {POSITION.text(way)}"
            steps.append(f"{_called(name)} moves {far} ({one.causes[own][face]})")
        text = (
            f"along {AXES[k]} {' and '.join(steps)} towards each other, the gap between them is "
            f"{POSITION.text(capacity[i])}"
        )
        doubt = [DOUBT] if doubtful[i] else []
        return "; ".join([text, *doubt, *list(lacking[i].values())[:1]])

    return Row(
        id=pair_id(*names),
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=lambda i: next(iter(lacking[i]), ""),
        source=f"{ROOT_SUM_SQUARE if pair[0].room.root[0] else WORST_CASE}; of both at once",
        fails=np.isinf(demand),
        open=np.array([bool(gaps) for gaps in lacking]) | doubtful,
        in_time=True,
        bodies=pair,
    )


def _called(name: str) -> str:
    return "the payload" if name == MAIN else name


def _own(one: Reach, i: int) -> int:
    """Place of case i in the arrays of a body, which may be one for all cases."""
    return min(i, len(one.demand) - 1)


def _both(names: Sequence[str], moved: Sequence[Reach], i: int) -> dict[str, str]:
    """What the motion of either lacks: key of the brief → sentence."""
    gaps: dict[str, str] = {}
    for name, one in zip(names, moved, strict=True):
        for key, words in one.lacking[_own(one, i)].items():
            gaps.setdefault(key_of(name, key), words if name == MAIN else f"{name}: {words}")
    return gaps

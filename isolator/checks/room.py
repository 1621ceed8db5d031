"""Will the payload move without touching?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.case import FACES
from isolator.checks.drop import DOUBT, unknown_height
from isolator.checks.row import Row, asked, mount_key, temperature_key
from isolator.checks.shake import travel_gaps
from isolator.response import Response
from isolator.units import POSITION, FloatArray

WORST_CASE = "worst case: sag, the larger of vibration peak and drop travel, tilt, tolerance"


def clearance(response: Response) -> Iterator[Row]:
    """The motion of the corners towards each face against the gap."""
    usable = asked(response) & response.pose.found
    sag = np.where(usable[..., None], response.towards, -np.inf).max(axis=1)
    motions = {"sag": sag}
    for leg in response.legs:
        if leg.shaking is not None:
            motions[f"vibration on {leg.leg.name}"] = leg.shaking.towards
        if leg.sine is not None:
            motions[f"the sine on {leg.leg.name}"] = leg.sine.towards
        for fall in leg.falls:
            motions[f"the {fall.kind} on {leg.leg.name}"] = fall.towards
    stack = np.stack(list(motions.values()))
    known = np.where(np.isnan(stack), -np.inf, stack)
    demand = np.maximum(known.max(axis=0) + response.spent, 0.0)
    cause = known.argmax(axis=0)
    doubted = [fall.towards_doubted for leg in response.legs for fall in leg.falls]
    most = np.max([demand - response.spent, *doubted], axis=0) + response.spent
    lacking = [_gaps(response, i) for i in range(len(response.designs))]
    for k in range(len(FACES)):
        causes = [list(motions)[c] for c in cause[:, k]]
        yield _face(response, k, 1e3 * demand[:, k], 1e3 * most[:, k], causes, lacking)


def _gaps(response: Response, i: int) -> dict[str, str]:
    """What the motion lacks for one design: key of the brief → sentence."""
    design, gaps = response.designs[i], {}
    if (asked(response)[i] & ~response.pose.found[i]).any():
        gaps[""] = "the payload does not come to rest in every attitude"
    for number, leg in enumerate(response.legs, start=1):
        if leg.leg.drops and leg.falling is None:
            key, sentence = unknown_height(design, number, leg.leg)
            gaps[key] = sentence
        if leg.falls and (leg.rigid[i] or leg.uncertain[i]):
            gaps[temperature_key(response, leg, i)] = "the drop at this temperature is not checked"
        elif any(fall.may_bottom[i].any() for fall in leg.falls):
            gaps[""] = f"on {leg.leg.name} a mount may bottom, and how the metal holds is not known"
        if (leg.leg.drops or leg.falls) and (key := mount_key(design, "captive")):
            gaps[key] = "whether the mounts hold the payload when it springs back is not known"
        gaps |= travel_gaps(response, number, leg, i)
    if design.case.measured is None:
        gaps["case.measured"] = "whether the gaps were measured with the payload hanging or out"
    return gaps


def _face(
    response: Response,
    k: int,
    demand: FloatArray,
    most: FloatArray,
    causes: list[str],
    lacking: list[dict[str, str]],
) -> Row:
    face = FACES[k]
    gap = 1e3 * np.stack([d.case.gaps() for d in response.designs])[:, k]
    doubtful = (most > gap) & (demand <= gap)

    def reason(i: int) -> str:
        if np.isinf(demand[i]):
            return f"{causes[i]}: nothing stops the payload before this face"
        text = f"it moves {POSITION.text(demand[i] / 1e3)} this way ({causes[i]})"
        if np.isnan(gap[i]):
            return f"{text}; the gap is not given"
        text += f", the gap is {POSITION.text(gap[i] / 1e3)}"
        shaking = [leg.shaking for leg in response.legs if leg.shaking is not None]
        often = max((float(s.touches[i, k]) for s in shaking), default=0.0)
        if np.isfinite(often) and often >= 0.01:
            text += f"; vibration touches it {often:.2g} times an hour"
        if doubtful[i]:
            text += f"; {DOUBT}"
        return "; ".join([text, *list(lacking[i].values())[:1]])

    return Row(
        id=f"clearance/{face}",
        unit="mm",
        demand=demand,
        capacity=gap,
        reason=reason,
        missing=lambda i: (
            f"case.{face.replace(' ', '_')}" if np.isnan(gap[i]) else next(iter(lacking[i]), "")
        ),
        source=WORST_CASE,
        fails=np.isinf(demand),
        open=np.array([bool(gaps) for gaps in lacking]) | doubtful,
    )

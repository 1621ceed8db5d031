"""The bench answers back: a tap against the model, what it hides, and the brief so corrected."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import linear_sum_assignment

from isolator.assessment import Assessment, assess
from isolator.brief import Brief
from isolator.buildsheet import TAP_OVER
from isolator.design import Design
from isolator.faults import Fault, Seen, ranked
from isolator.mount import unstacked
from isolator.ringdown import RingDown
from isolator.schema import MountRow
from isolator.suspension import Pose, Suspension, motion_name
from isolator.units import G0, STIFFNESS, FloatArray, InputError, refuse_other, si
from isolator.verdict import Check

COMMON = ("as predicted", "cold", "heavier", "lighter")
"""Faults that are one factor on all: the stiffness over the mass is then known."""

EXPLAINS = 6.0
"""Squared distance for each mode, in standard deviations, up to which a fault explains them. [-]"""

LOSS_OVER = np.array([0.8, 1.25])
"""Loss factor of rubber in transport over that at the small strain of a tap (common practice)."""

PASSES, SETTLED = 8, 1e-3
"""How often a correction is tried again, and what is left of the stiffness then. [-]"""

HELD = 0.5
"""A mode that one way of the mounts holds by a larger share than this measures that way. [-]"""

SIDEWAYS = (
    "what rang moves the mounts across their axis and tells nothing along it: knock that way too"
)

DOUBTFUL = 6.0
"""A fault whose score is less than this above the best one's is not ruled out. [-]"""


@dataclass(frozen=True)
class Line:
    """A mode that was measured beside the one that it is.

    Attributes
    ----------
    name : str
        What moves in the mode of the model; empty where it is none of the six.
    predicted : (2,) array
        Ends of what the model as stated says for a tap; nan where it is none. [Hz]
    frequency, within, loss, loss_within : float
        [Hz, -]
    """

    name: str
    predicted: FloatArray
    frequency: float
    within: float
    loss: float
    loss_within: float


@dataclass(frozen=True)
class Correction:
    """What a tap says of a build.

    Attributes
    ----------
    lines : sequence of Line
    faults : sequence of Fault
        The likeliest first.
    factor : (2,) array or None
        Ends of the stiffness in transport over the stated one, common to all mounts; None where
        one factor does not explain what was measured. [-]
    scatter : float
        What the modes are off that factor among each other, standard deviation. [-]
    loss : (2,) array or None
        Ends of the loss factor. [-]
    ways : mapping of kinds to sequences of "along" and "across"
        Which way of the mounts what rang depends on; a kind without along is not corrected.
    refused : str
        Why a factor corrects nothing; empty where it does.
    brief : Brief or None
        With what the tap says beside all else that it has of its mounts; None without a factor.
    before, after : Assessment
        `after` is None without a corrected brief.
    """

    lines: Sequence[Line]
    faults: Sequence[Fault]
    factor: FloatArray | None
    scatter: float
    loss: FloatArray | None
    ways: Mapping[str, Sequence[str]]
    refused: str
    brief: Brief | None
    before: Assessment
    after: Assessment | None

    @property
    def doubtful(self) -> list[Fault]:
        """Faults that are not ruled out, the likeliest first."""
        return [f for f in self.faults if f.score <= self.faults[0].score + DOUBTFUL]

    def changed(self) -> list[tuple[str, Check | None, Check | None]]:
        """Ids of checks whose status the correction changed, before and after; None where none."""
        if self.after is None:
            return []
        was, now = ({c.id: c for c in one.checks} for one in (self.before, self.after))
        both = [(name, was.get(name), now.get(name)) for name in was | now]
        return [(name, a, b) for name, a, b in both if not (a and b and a.status == b.status)]


def correct(brief: Brief, tap: RingDown, file: str) -> Correction:
    """Hold a tap of the main payload, lid up at room temperature, against its model.

    Parameters
    ----------
    brief : Brief
    tap : RingDown
        See `ringdown.ring_down`.
    file : str
        Name of the recording, which becomes a source of the corrected mounts.

    Raises
    ------
    InputError
        The payload does not come to rest on its mounts, or their stiffness is unknown.
    """
    refuse_other("brief", brief, Brief, "a Brief, as read_brief gives one")
    refuse_other("tap", tap, RingDown, "a RingDown, as ring_down gives one")
    design = brief.design
    held, pose = _upright(design)
    if not pose.found or not np.isfinite(held.frequencies(pose)).all():
        raise InputError(
            "mounts: the payload does not come to rest on them in the model, so there is nothing "
            "to hold a tap against; see isolator assess"
        )
    seen = _seen(tap)
    faults = ranked(held, pose, seen, design.mount_names())
    best = faults[0]
    frequency, energy = held.undamped(pose)
    stated = _stated(best, energy)
    names = [motion_name(share) for share in energy]
    low, high = (frequency * np.sqrt(over) for over in TAP_OVER)
    lines = [
        Line(
            name=names[k] if k >= 0 else "",
            predicted=np.array([low[k], high[k]]) if k >= 0 else np.full(2, np.nan),
            frequency=float(seen.frequency[m]),
            within=float(seen.within[m]),
            loss=float(seen.loss[m]),
            loss_within=float(seen.loss_within[m]),
        )
        for m, k in enumerate(stated)
    ]
    factor, scatter, loss, corrected = None, float("nan"), None, None
    ways, refused = dict[str, list[str]](), ""
    if best.name in COMMON and best.misfit <= EXPLAINS * len(stated) and (stated >= 0).all():
        factor, scatter = _factor(frequency, stated, seen)
        loss = _loss(seen)
        kinds = [unstacked(place.mount.name) for place in design.places]
        ways = _depends(held, pose, stated, kinds)
        try:
            told = any("along" in own for own in ways.values())
            if told:
                made = partial(_corrected, brief, loss=loss, file=file, ways=ways)
                corrected = _settled(made, (frequency, energy), stated, factor)
            refused = "" if corrected else SIDEWAYS
        except InputError as error:
            refused = str(error)
    return Correction(
        lines=lines,
        faults=faults,
        factor=factor,
        scatter=scatter,
        loss=loss,
        ways=ways,
        refused=refused,
        brief=corrected,
        before=assess(brief),
        after=None if corrected is None else assess(corrected),
    )


def _upright(design: Design) -> tuple[Suspension, Pose]:
    """A design as it is tapped: lid up, at rest."""
    held = design.suspension()
    return held, held.pose(G0 * np.array([0.0, 0.0, -1.0]))


def _seen(tap: RingDown) -> Seen:
    modes = sorted(tap.modes, key=lambda mode: si(mode, "frequency"))
    falls = None
    if tap.early is not None and tap.late is not None:
        early, late = si(tap.early, "frequency"), si(tap.late, "frequency")
        falls = bool(tap.amplitude_matters) and early > 1.03 * late
    return Seen(
        frequency=np.array([si(mode, "frequency") for mode in modes]),
        within=np.array([si(mode, "frequency_within") for mode in modes]),
        loss=np.array([mode.loss_factor for mode in modes]),
        loss_within=np.array([2 * mode.damping_within for mode in modes]),
        strength=np.array([float(np.abs(mode.amplitude).max()) for mode in modes]),
        falls=falls,
    )


def _stated(best: Fault, energy: FloatArray) -> npt.NDArray[np.intp]:
    """Which mode of the model as stated each measured one (m,) is, by what moves; -1 where none.

    A fault may change the order of the modes.
    """
    same = _same(best.energy, energy)
    return np.where(best.match >= 0, same[best.match], -1)


def _same(one: FloatArray, other: FloatArray) -> npt.NDArray[np.intp]:
    """Which mode of another model each of one (6,) is, by what moves (6, 6)."""
    alike = np.sqrt(np.maximum(one[:, None] * other[None], 0.0)).sum(axis=-1)
    return np.asarray(linear_sum_assignment(-alike)[1])


def _factor(
    frequency: FloatArray, stated: npt.NDArray[np.intp], seen: Seen
) -> tuple[FloatArray, float]:
    """Ends of the common factor on the stiffness in transport, and the scatter of the modes."""
    ratio = 2 * np.log(seen.frequency / frequency[stated])
    weight = 1 / (2 * seen.off) ** 2
    middle = float((weight * ratio).sum() / weight.sum())
    spread = float(np.sqrt((weight * (ratio - middle) ** 2).sum() / weight.sum()))
    off = 1.96 * np.sqrt(1 / weight.sum() + spread**2 / len(ratio))
    ends = np.array([np.exp(middle - off) / TAP_OVER[1], np.exp(middle + off) / TAP_OVER[0]])
    return ends, spread


def _loss(seen: Seen) -> FloatArray:
    """Ends of the loss factor in transport, by that of a tap."""
    loss, off = seen.loss, np.maximum(seen.loss_within / 1.96, 1e-4)
    weight = 1 / off**2
    middle = float((weight * loss).sum() / weight.sum())
    spread = float(np.sqrt((weight * (loss - middle) ** 2).sum() / weight.sum()))
    wide = 1.96 * np.sqrt(1 / weight.sum() + spread**2 / len(loss))
    return np.asarray(np.clip(np.array([middle - wide, middle + wide]) * LOSS_OVER, 0.001, 2.0))


def _depends(
    held: Suspension, pose: Pose, modes: npt.NDArray[np.intp], names: Sequence[str]
) -> dict[str, list[str]]:
    """Of each kind, the ways that hold some of the modes by more than `HELD` of what is its part.

    Its part is that of its mounts among all; `names` (n,) are their kinds.
    """
    frequency = held.undamped(pose)[0]
    kinds: dict[str, list[str]] = {name: [] for name in names}
    for name, ways in kinds.items():
        own = np.array([one == name for one in names])
        for k, way in enumerate(("along", "across")):
            more = np.ones((len(own), 2))
            more[own, k] = 1.001
            stiffer = replace(held, curve=held.curve.scaled(more))
            share = 2 * np.log(stiffer.undamped(pose)[0] / frequency) / np.log(1.001)
            if (share[modes] > HELD * own.mean()).any():
                ways.append(way)
    return kinds


def _settled(
    made: Callable[[FloatArray], Brief],
    stated: tuple[FloatArray, FloatArray],
    modes: npt.NDArray[np.intp],
    factor: FloatArray,
) -> Brief:
    """The brief of a factor, so that the modes of its model are off the stated ones by it.

    On a curve that bends, the sag goes with the stiffness, and with both the tangent at rest. A
    secant finds the factor on the curve.
    """
    frequency, energy = stated
    wanted = np.sqrt(factor.prod()) * frequency[modes] ** 2
    more, step, before = 0.0, 0.0, np.nan
    for _ in range(PASSES):
        brief = made(factor * np.exp(more))
        held, pose = _upright(brief.design)
        now, shares = held.undamped(pose)
        off = float(np.log(wanted / now[_same(energy, shares)[modes]] ** 2).mean())
        if not abs(off) > SETTLED:
            break
        gain = (before - off) / step if step else 1.0
        step = float(np.clip(off / max(gain, 0.1), -0.5, 0.5)) if np.isfinite(gain) else off
        more, before = more + step, off
    return brief


def _corrected(
    brief: Brief,
    factor: FloatArray,
    loss: FloatArray,
    file: str,
    ways: Mapping[str, Sequence[str]],
) -> Brief:
    """The brief with what the tap says of its mounts beside all else that it has of them.

    Their kinds keep their names, so that checks and waivers keep theirs.
    """
    tables = {"mount": dict(brief.text.get("mount", {}))}
    own = {name for name in ways if "along" in ways[name]}
    if own - set(tables["mount"]):
        tables = _written_out(brief)
    kinds = tables["mount"]
    for name in sorted(own):
        mount = brief.mounts[name]
        now = mount.undeflected() * mount.dynamic_ratio
        source = "; ".join(filter(None, [mount.source, f"tap recorded in {file}"]))
        kinds[name] = kinds[name] | {
            **{
                f"dynamic_{way}": [STIFFNESS.text(end * now[k]) for end in factor]
                for k, way in enumerate(("along", "across"))
                if way in ways[name]
            },
            "loss_factor": [round(float(end), 4) for end in loss],
            "source": source[-200:],
        }
    return brief.with_tables(tables)


def _written_out(brief: Brief) -> dict[str, Any]:
    """Tables of the brief with the kinds of its files of mounts in it, for a file has no bands."""
    kinds, frames = dict(brief.text.get("mount", {})), brief.text.get("frame", {})
    hung = [brief.text["mounts"], *(frame["mounts"] for frame in frames.values())]
    for file in dict.fromkeys(mounts["table"] for mounts in hung if "table" in mounts):
        for _, row in brief.folder.rows(file, "mounts.table", MountRow):
            kinds[row.name] = row.model_dump(exclude={"name"}, exclude_none=True)
    main, *others = ({k: v for k, v in mounts.items() if k != "table"} for mounts in hung)
    tables: dict[str, Any] = {"mount": kinds, "mounts": main}
    if frames:
        both = zip(frames.items(), others, strict=True)
        tables["frame"] = {name: {**frame, "mounts": own} for (name, frame), own in both}
    return tables

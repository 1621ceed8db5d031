"""One check for a batch of designs: arrays for the numbers, sentences on demand."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from isolator.design import Design, kind_key, worst_grade
from isolator.fragility import Rating
from isolator.outcome import Bools, LegResponse
from isolator.response import Response
from isolator.rubber import MILD
from isolator.suspension import ATTITUDES
from isolator.units import FORCE, G0, SIZE, FloatArray, is_given, si_or_none
from isolator.verdict import Check, Status, margins


@dataclass(frozen=True, kw_only=True)
class Row:
    """One check for every design (b,) of a batch; nan means unknown.

    Attributes
    ----------
    id : str
    unit : str
    demand, capacity : (b,) arrays
        In `unit`.
    reason, missing : functions of the index of a design
        The sentence for a person; the key of the brief that would complete the check.
    source : str
        Where the method or limit comes from.
    fails : (b,) bool array
        Fails whatever the numbers say.
    open : (b,) bool array
        The demand may be larger than what is known: it can fail but not pass.
    strict : bool
        The demand must stay below the capacity, not reach it.
    settled : bool
        A question without numbers: it passes unless it fails or is open.
    graded : bool
        Whether the answer depends on how well the mounts are known.
    in_time : bool
        Decided by the motion of a fall, where that was followed.
    bodies : sequence of Response
        Whose mounts these are; empty for those of the response that is asked.
    """

    id: str
    unit: str
    demand: FloatArray
    capacity: FloatArray
    reason: Callable[[int], str]
    missing: Callable[[int], str]
    source: str
    fails: Bools | bool = False
    open: Bools | bool = False
    strict: bool = False
    settled: bool = False
    graded: bool = True
    in_time: bool = False
    bodies: Sequence[Response] = ()

    def status(self) -> npt.NDArray[np.str_]:
        """Status (b,) of every design."""
        over = self.demand >= self.capacity if self.strict else self.demand > self.capacity
        unknown = np.isnan(self.demand) | np.isnan(self.capacity)
        unknown = (unknown & (not self.settled)) | self.open
        return np.where(over | self.fails, "fail", np.where(unknown, "incomplete", "pass"))

    def margin(self) -> FloatArray:
        """Share of the capacity that is left (b,), nan if unknown. [-]"""
        return margins(self.demand, self.capacity)


def answer(response: Response, row: Row, index: int) -> Check:
    """One check of one design of a batch."""
    design = response.designs[index]

    def known(values: FloatArray) -> float | None:
        value = float(values[index])
        return value if np.isfinite(value) else None

    status: Status = str(row.status()[index])  # type: ignore[assignment]
    grades = [body.designs[0].grade() for body in row.bodies] or [design.grade()]
    return Check(
        id=row.id,
        demand=known(row.demand),
        capacity=known(row.capacity),
        unit=row.unit,
        status=status,
        reason=row.reason(index),
        missing=row.missing(index) if status == "incomplete" else "",
        source=row.source,
        grade=worst_grade(grades) if row.graded else None,
        waived=waiver(design, row.id),
    )


def gravest(rows: Sequence[Row], variants: int, place: int = 0) -> npt.NDArray[np.intp]:
    """Which variant decides each check: the worst status, then the least margin, then the first.

    Parameters
    ----------
    rows : sequence of Row
        Of a batch of designs with so many variants each, those of one design side by side.
    variants : int
    place : int
        0 for the gravest, 1 for the next.

    Returns
    -------
    (rows, designs) array
        Index in the batch.
    """
    severity = {status: -rank for rank, status in enumerate(("pass", "incomplete", "fail"))}
    status = np.array([[severity[str(s)] for s in row.status()] for row in rows])
    left = np.array([row.margin() for row in rows]).round(6)
    left = np.where(np.isnan(left), np.inf, left)
    grouped = (len(rows), -1, variants)
    first = np.lexsort((left.reshape(grouped), status.reshape(grouped)), axis=-1)[..., place]
    return np.asarray(first + variants * np.arange(first.shape[1]))


def worst_of(rows: Sequence[Row], names: Sequence[str], identity: str) -> Row:
    """The gravest of several rows of one question as one, its name before its reason."""
    picked = gravest([_as_batch(rows)], len(rows))[0] % len(rows)
    batch = np.arange(len(picked))

    def chosen(values: Sequence[FloatArray | Bools | bool]) -> npt.NDArray[Any]:
        each = np.stack([np.broadcast_to(value, batch.shape) for value in values])
        return np.asarray(each[picked, batch])

    return replace(
        rows[0],
        id=identity,
        demand=chosen([row.demand for row in rows]),
        capacity=chosen([row.capacity for row in rows]),
        fails=chosen([row.fails for row in rows]),
        open=chosen([row.open for row in rows]),
        reason=lambda i: f"{names[picked[i]]}: {rows[picked[i]].reason(i)}",
        missing=lambda i: rows[picked[i]].missing(i),
    )


def _as_batch(rows: Sequence[Row]) -> Row:
    """Several rows as one whose batch has them side by side for each design."""
    count = len(rows[0].demand)

    def beside(values: Sequence[FloatArray | Bools | bool]) -> npt.NDArray[Any]:
        return np.stack([np.broadcast_to(value, count) for value in values], axis=-1).reshape(-1)

    return replace(
        rows[0],
        demand=beside([row.demand for row in rows]),
        capacity=beside([row.capacity for row in rows]),
        fails=beside([row.fails for row in rows]),
        open=beside([row.open for row in rows]),
    )


def waiver(design: Design, identity: str) -> str:
    """The brief's reason for not requiring a check, empty if it is required."""
    parts = identity.split("/")
    heads = ["/".join(parts[: i + 1]) for i in range(len(parts))]
    return next((design.not_required[h] for h in heads if h in design.not_required), "")


def nothing(_: int) -> str:
    """No input is missing."""
    return ""


def each_design(response: Response, read: Callable[[Design], float | None]) -> FloatArray:
    """A number of every design (b,), nan where it is unknown."""
    values = [read(design) for design in response.designs]
    return np.array([np.nan if v is None else v for v in values])


def ratings(response: Response, leg: LegResponse) -> list[Rating]:
    """What every payload (b,) survives, on a leg on which it runs by its rating for that alone."""
    return [Rating.of(design.payload, leg.leg.running) for design in response.designs]


def survived(response: Response, leg: LegResponse) -> FloatArray:
    """The critical peak (b,) of those ratings, nan where it is unknown. [m/s²]"""
    return np.array([rating.acceleration for rating in ratings(response, leg)])


def endured(response: Response) -> FloatArray:
    """What every payload (b,) bears for hours, rms, nan where it is unknown. [g]"""
    return each_design(response, lambda d: si_or_none(d.payload, "vibration_limit")) / G0


def each_mount(response: Response, name: str) -> FloatArray:
    """A measure of every mount (b, n) in SI, nan where it is unknown."""
    return np.array(
        [
            [np.nan if (v := si_or_none(p.mount, name)) is None else v for p in d.places]
            for d in response.designs
        ]
    )


def asked(response: Response) -> Bools:
    """Which attitudes count for each design, (b, 6)."""
    return np.array([[a in d.attitudes for a in ATTITUDES] for d in response.designs])


TRAVELS = ("travel", "travel_across", "captive")
"""Keys of a mount that say how far it may go, each way."""


def mount_key(design: Design, *fields: str) -> str:
    """Key of the first of the fields that a mount of the design lacks, empty if none does."""
    for place in design.places:
        for name in fields:
            if not is_given(place.mount, name):
                return kind_key(place.mount.name, name)
    return ""


def loss_key(design: Design) -> str:
    """Key of the first loss factor that a mount or a cable lacks, empty if none does."""
    lacking = [n for n, c in enumerate(design.cables, start=1) if c.loss_factor is None]
    cable = f"cable[{lacking[0]}].loss_factor" if lacking else ""
    return mount_key(design, "loss_factor") or cable


@dataclass(frozen=True)
class Carried:
    """The mount of each design (b,) that is nearest to what it may carry for a moment.

    Attributes
    ----------
    demand, capacity : (b,) arrays
        nan where the force is unknown, or what a mount may carry. [N]
    which, mount : (b,) arrays
        Where it does so, and which mount.
    text : function of the index of a design and of a name for where
        The start of a sentence about it.
    """

    demand: FloatArray
    capacity: FloatArray
    which: npt.NDArray[np.intp]
    mount: npt.NDArray[np.intp]
    text: Callable[[int, str], str]

    @property
    def exceeds(self) -> Bools:
        """Where it is more than that (b,)."""
        return np.asarray(self.demand > self.capacity)

    @property
    def settled(self) -> Bools:
        """Where nothing is to be added (b,): it is too much, or nobody knows what is."""
        return self.exceeds | np.isnan(self.capacity)


def carried(response: Response, force: FloatArray, unusable: Bools) -> Carried:
    """Hold forces (b, k, n) on mounts against what they, their screws and inserts may carry.

    Parameters
    ----------
    force : (b, k, n) array
        [N]
    unusable : (b,) bool array
        Where it has no numbers.
    """
    carries, holds = (each_mount(response, name) for name in ("peak_load", "fastening_load"))
    allowed = np.where(holds < carries, holds, carries)
    known = np.asarray(~np.isnan(allowed).any(axis=1))
    used = np.where(unusable[:, None, None], 0.0, force)
    used = used / np.where(np.isnan(allowed), 1.0, allowed)[:, None]
    batch = np.arange(len(force))
    which, mount = np.divmod(used.reshape(len(force), -1).argmax(axis=1), force.shape[-1])
    demand = np.where(unusable, np.nan, force[batch, which, mount])

    def text(i: int, where: str) -> str:
        design, n = response.designs[i], mount[i]
        start = f"{where}: mount {design.mount_names()[n]} takes up to {FORCE.text(demand[i])}"
        if not known[i]:
            rated = si_or_none(design.places[n].mount, "rated_load")
            times = "" if rated is None else f", {demand[i] / rated:.2g} times its rated load"
            return f"{start}{times}; what it may carry for a moment is not known"
        fastening = ", which its screw and insert hold" if holds[i, n] < carries[i, n] else ""
        return f"{start} of {FORCE.text(allowed[i, n])}{fastening}"

    capacity = np.where(known, allowed[batch, mount], np.nan)
    return Carried(demand, capacity, which, mount, text)


def worst_stroke(
    demand: FloatArray, limit: FloatArray
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.intp], npt.NDArray[np.bool_]]:
    """The mount that uses most of the way that it may go.

    Parameters
    ----------
    demand : (b, ..., n, 3) array
        Pushed, pulled, across. [m]
    limit : (b, n, 3) array
        [m]

    Returns
    -------
    demand, capacity : (b,) arrays
        nan capacity where a limit that counts is unknown, and then the largest demand. [m]
    where : (b, k) array
        Index of the worst along the axes of `demand` after the first.
    unknown : (b, 3) bool array
        Which of the three ways lack a limit.
    """
    room = limit.reshape(limit.shape[0], *[1] * (demand.ndim - 3), *limit.shape[1:])
    moving = demand > 1e-9
    lacks = np.isnan(room) & moving
    with np.errstate(invalid="ignore"):  # endless of endless
        used = np.where(moving, demand, 0.0) / np.where(np.isnan(room), np.inf, room)
    used = np.asarray(np.where(np.isnan(used), np.inf, used).round(6), dtype=float)  # ties stay
    flat = used.reshape(len(demand), -1).argmax(axis=1)
    where = np.stack(np.unravel_index(flat, demand.shape[1:]), axis=-1)
    batch = np.arange(len(demand))
    index = (batch, *where.T)
    blind = np.asarray(lacks.reshape(len(demand), -1).any(axis=1))
    most = np.where(np.isnan(demand), -np.inf, demand).reshape(len(demand), -1).max(axis=1)
    capacity = np.broadcast_to(room, demand.shape)[index]
    capacity = np.where(np.isnan(capacity), np.inf, capacity)  # nothing moves that way
    unknown = np.asarray(lacks.reshape(len(demand), -1, 3).any(axis=1))
    return (
        np.where(blind, most, demand[index]),
        np.where(blind, np.nan, capacity),
        where,
        unknown,
    )


WAYS = ("pushed", "pulled", "moved across its axis")


def stroke_text(design: Design, where: npt.NDArray[np.intp], demand: float, capacity: float) -> str:
    """How far the mount at `where` goes that `worst_stroke` found, of the way that it has. [m]"""
    mount, way = where
    text = (
        f"mount {design.mount_names()[mount]} is {WAYS[way]} by up to {SIZE.text(demand)}, sag "
        "included"
    )
    if np.isnan(capacity):
        return f"{text}; how far the mount may go is not known"
    return f"{text}, of {SIZE.text(capacity)} to metal"


def limit_key(
    response: Response,
    leg: LegResponse,
    limit: FloatArray,
    lacking: Sequence[Mapping[str, str]],
    key: str,
) -> Callable[[int], str]:
    """Key of what a row lacks: the limit, the response, or the cold."""
    return lambda i: (
        key if np.isnan(limit[i]) else next(iter(lacking[i]), temperature_key(response, leg, i))
    )


def stroke_key(design: Design, unknown: npt.NDArray[np.bool_]) -> str:
    """Key of the travel that a mount lacks, `unknown` (3,) as from `worst_stroke`."""
    if unknown[2]:
        return mount_key(design, "travel_across")
    return mount_key(design, "travel", "captive")


def temperature_key(response: Response, leg: LegResponse, i: int) -> str:
    """What would tell how stiff the mounts are at the temperature of a leg."""
    at = leg.leg.temperature_c()
    if at is not None and at > MILD[1]:
        return f"data of the mounts above {MILD[1]:g} °C"
    lacking = [p.mount.name for p in response.designs[i].places if p.mount.coldest() is None]
    return (
        kind_key(lacking[0], "cold_factor")
        if lacking
        else "a mount whose data reach that temperature"
    )

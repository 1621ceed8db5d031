"""Will the mounts carry the payload, in every attitude?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from isolator.checks.row import (
    WAYS,
    Row,
    asked,
    each_design,
    each_mount,
    mount_key,
    nothing,
    stroke_key,
    temperature_key,
    worst_stroke,
)
from isolator.checks.shake import all_travel_gaps
from isolator.outcome import LegResponse
from isolator.response import Response
from isolator.rubber import MILD, ROOM_TEMPERATURE
from isolator.suspension import ATTITUDES, Pose, strokes
from isolator.units import (
    DURATION,
    FORCE,
    MASS,
    SIZE,
    TEMPERATURE,
    FloatArray,
    si,
    si_or_none,
)

REST = "static pose under gravity: true curves, finite rotation, preload term"
NAMES = list(ATTITUDES)

UNLISTED = 0.02
"""Share of the mass that a parts table may leave out."""


def carry(response: Response) -> Iterator[Row]:
    """Stands, shares its load, stays within rating and travel, stays held."""
    yield _stands(response)
    yield _load_share(response)
    yield _rated_load(response)
    yield _sag(response)
    yield from _strain(response)
    yield from _fit(response)
    yield _held(response)


def _stands(response: Response) -> Row:
    lost = asked(response) & ~response.pose.found
    taken = np.where(asked(response) & response.pose.found, 1 - response.gravity_left, -np.inf)
    worst = taken.argmax(axis=1)
    share = np.where(lost.any(axis=1), np.nan, np.maximum(taken.max(axis=1), 0.0))

    def reason(i: int) -> str:
        if lost[i].any():
            return (
                f"{NAMES[int(lost[i].argmax())]}: the mounts do not hold the payload, "
                "it comes off or falls over"
            )
        where = NAMES[int(worst[i])]
        if share[i] >= 1:
            return f"{where}: the payload topples, its centre is too high for such soft mounts"
        return f"{where}: gravity takes {share[i]:.0%} of the stiffness of the weakest motion"

    return Row(
        id="stands",
        unit="",
        demand=share,
        capacity=np.ones_like(share),
        reason=reason,
        missing=nothing,
        source=REST,
        fails=lost.any(axis=1) | (share >= 1),
    )


def _load_share(response: Response) -> Row:
    """Judged by the force along gravity: a mount that is pulled may well carry, hanging."""
    pose = response.pose
    lid_up = Pose(pose.shift[:, 0], pose.turn[:, 0], pose.found[:, 0])
    lift = response.suspension.mount_force(lid_up)[..., 2]
    shift = response.shift[1][:, 0]
    least = lift - shift
    uneven = np.where(pose.found[:, 0], 1 - least.min(axis=1) / lift.mean(axis=1), np.nan)

    def reason(i: int) -> str:
        low, high = int(least[i].argmin()), int(lift[i].argmax())
        names = response.designs[i].mount_names()
        if np.isnan(uneven[i]):
            return "lid up: the payload does not come to rest, so no mount has a load"
        if uneven[i] >= 1 and lift[i, low] > 0:
            return (
                f"lid up: mount {names[low]} holds up {FORCE.text(lift[i, low])}, and a seat out "
                f"of place shifts up to {FORCE.text(shift[i, low])}: it may lift off or be pulled"
            )
        if uneven[i] >= 1:
            return (
                "lid up: the centre of gravity lies outside the mounts, mount "
                f"{names[low]} holds the payload down with {FORCE.text(max(-lift[i, low], 0.0))}"
            )
        return (
            f"lid up: mount {names[high]} holds up {FORCE.text(lift[i, high])}, "
            f"mount {names[low]} {FORCE.text(lift[i, low])}"
            f"{_by_seat(shift[i, low], 'less')}"
        )

    return Row(
        id="load share",
        unit="",
        demand=uneven,
        capacity=np.ones_like(uneven),
        reason=reason,
        missing=nothing,
        source=REST,
    )


def _by_seat(shift: float, way: str) -> str:
    """What a seat out of place may change, the end of a sentence; nothing if none is given."""
    return f", and up to {FORCE.text(shift)} {way} by a seat out of place" if shift > 0 else ""


def _rated_load(response: Response) -> Row:
    usable = asked(response) & response.pose.found
    lost = np.asarray((asked(response) & ~response.pose.found).any(axis=1))
    rated = each_mount(response, "rated_load")
    shift = np.where(usable[..., None], response.shift[0], 0.0)
    load = np.where(usable[..., None], response.load, 0.0) + shift
    unknown = np.asarray(np.isnan(rated).any(axis=1))
    used = load / np.where(np.isnan(rated), 1.0, rated)[:, None]
    batch = np.arange(len(load))
    attitude, mount = np.divmod(used.reshape(len(load), -1).argmax(axis=1), load.shape[-1])
    demand = np.where(unknown, load.max(axis=(1, 2)), load[batch, attitude, mount])

    def reason(i: int) -> str:
        if unknown[i]:
            most = FORCE.text(demand[i])
            return f"the largest load is {most}; what the mount may carry is not known"
        own = demand[i] - shift[i, attitude[i], mount[i]]
        hangs = response.deflection[i, attitude[i], mount[i], 0] < -1e-9
        return (
            f"{NAMES[attitude[i]]}: mount {response.designs[i].mount_names()[mount[i]]} "
            f"{'is pulled with' if hangs else 'carries'} {FORCE.text(own)}"
            f"{_by_seat(shift[i, attitude[i], mount[i]], 'more')}, rated "
            f"{FORCE.text(rated[i, mount[i]])}"
        )

    return Row(
        id="rated load",
        unit="N",
        demand=demand,
        capacity=np.where(unknown, np.nan, rated[batch, mount]),
        reason=reason,
        missing=lambda i: mount_key(response.designs[i], "rated_load"),
        source=REST,
        open=lost,
    )


def _sag(response: Response) -> Row:
    usable = asked(response) & response.pose.found
    lost = np.asarray((asked(response) & ~response.pose.found).any(axis=1))
    local = np.where(usable[..., None, None], response.deflection, 0.0)
    batch = np.arange(len(local))
    set_in = np.nan_to_num(response.creep[:, 1])[:, None, None] * local[batch, response.stored]
    low, high = (change(set_in, 0.0)[:, None] for change in (np.minimum, np.maximum))
    stroke = strokes(local + low, local + high)
    demand, capacity, where, unknown = worst_stroke(stroke, response.limits)
    unsure = np.isnan(response.creep[:, 1])

    def reason(i: int) -> str:
        if np.isnan(capacity[i]):
            most = SIZE.text(demand[i])
            return f"the largest sag is {most}; how far the mount may go is not known"
        attitude, mount, way = where[i]
        text = (
            f"{NAMES[attitude]}: mount {response.designs[i].mount_names()[mount]} is {WAYS[way]} "
            f"by {SIZE.text(demand[i])} of {SIZE.text(capacity[i])} to metal"
        )
        if unsure[i]:
            return f"{text}; how much the mounts creep is not known"
        age = si_or_none(response.designs[i], "age")
        return text if age is None else f"{text}, creep of {DURATION.text(age)} included"

    return Row(
        id="sag",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=lambda i: (
            mount_key(response.designs[i], "creep")
            if unsure[i] and not np.isnan(capacity[i])
            else stroke_key(response.designs[i], unknown[i])
        ),
        source=REST,
        open=lost | unsure,
    )


def _fit(response: Response) -> Iterator[Row]:
    """Is each kind of mount fitted as it must be? Asked where its sizes say so."""
    kinds = [{p.mount.name: p.mount for p in d.places} for d in response.designs]
    nan = np.full(len(kinds), np.nan)
    for name, mount in kinds[0].items():
        if mount.faults is None:
            continue
        faults = [list(own[name].faults or ()) if name in own else [] for own in kinds]
        yield Row(
            id=f"fit/{name}",
            unit="",
            demand=nan,
            capacity=nan,
            reason=lambda i, faults=faults: (  # type: ignore[misc]
                "; ".join(faults[i]) or "sleeve, pinch and hole go together"
            ),
            missing=nothing,
            source="sizes of the mount and its panel",
            fails=np.array([bool(own) for own in faults]),
            settled=True,
            graded=False,
        )


def _strain(response: Response) -> Iterator[Row]:
    """Strain at rest where the rubber's thickness is known: as the case is stored and travels.

    Squeezed, sheared, and pulled, which rubber that is bonded to its plates bears for no length of
    time.
    """
    names = list(ATTITUDES)
    lasting = np.zeros_like(response.pose.found)
    lasting[np.arange(len(lasting)), response.stored] = True
    lasting[:, [names.index(leg.leg.attitude) for leg in response.legs]] = True
    usable = lasting & response.pose.found
    local = np.where(usable[..., None, None], response.deflection, 0.0)
    moved = {
        "squeezed": np.maximum(local[..., 0], 0.0),
        "sheared": np.linalg.norm(local[..., 1:], axis=-1),
        "pulled": np.maximum(-local[..., 0] - 1e-9, 0.0),
    }
    for word, (key, limit) in STRAINS.items():
        height, allowed = each_mount(response, key), each_mount(response, limit)
        known = ~np.isnan(height) & ~np.isnan(allowed)
        if not known.any():
            continue
        strain = np.where(known[:, None], moved[word] / np.where(known, height, 1.0)[:, None], 0.0)
        used = strain / np.where(known, np.maximum(allowed, 1e-9), 1.0)[:, None]
        attitude, mount = np.divmod(used.reshape(len(used), -1).argmax(axis=1), used.shape[-1])
        batch = np.arange(len(strain))
        demand, capacity = strain[batch, attitude, mount], allowed[batch, mount]
        yield _strain_row(response, word, demand, np.nan_to_num(capacity), attitude, mount)


def _strain_row(
    response: Response,
    word: str,
    demand: FloatArray,
    capacity: FloatArray,
    attitude: npt.NDArray[np.intp],
    mount: npt.NDArray[np.intp],
) -> Row:
    def reason(i: int) -> str:
        name = response.designs[i].mount_names()[mount[i]]
        return (
            f"{NAMES[attitude[i]]}: at rest the rubber of mount {name} is {word} by "
            f"{demand[i]:.0%}, and {capacity[i]:.0%} is what it bears for good"
        )

    return Row(
        id=f"strain/{word}",
        unit="",
        demand=demand,
        capacity=capacity,
        reason=reason,
        missing=nothing,
        source="strain that rubber bears for good (common practice)",
    )


STRAINS = {
    "squeezed": ("rubber_along", "squeeze_limit"),
    "sheared": ("rubber_across", "shear_limit"),
    "pulled": ("rubber_along", "pull_limit"),
}
"""Word for a strain → key of the thickness, key of the limit."""


def _held(response: Response) -> Row:
    """At rest in every attitude that counts, and while anything shakes or knocks it."""
    captive = [[p.mount.captive for p in d.places] for d in response.designs]
    loose = np.array([[c is False for c in row] for row in captive])
    doubtful = np.array([[c is None for c in row] for row in captive])
    at_rest = (response.deflection[..., 0] < -1e-9) & asked(response)[..., None]
    pulled = np.asarray(at_rest.any(axis=1))
    unsure = np.zeros_like(loose)
    for leg in response.legs:
        for mounts, base in (
            (leg.shaken_mounts, leg.leg.fixed_base()),
            (leg.carried_mounts, True),
            (leg.knocked_mounts, leg.leg.tied is not False),
        ):
            if mounts is None:
                continue
            away = mounts[..., 1]
            pulled = pulled | (away > 1e-9)
            still = leg.rigid & base
            unsure = unsure | (np.isnan(away) & ~still[:, None])
    off = (pulled & loose).sum(axis=1)
    open_to = np.asarray((pulled & doubtful).any(axis=1))
    blind = np.asarray((unsure & ~pulled & (loose | doubtful)).any(axis=1))

    def reason(i: int) -> str:
        if off[i]:
            return (
                f"{off[i]} mounts that hold nothing when pulled come off at rest in some attitude "
                "or in vibration"
            )
        if open_to[i]:
            return "some mounts are pulled; whether they hold the payload then is not known"
        if blind[i]:
            return "whether vibration lifts it off mounts that may not hold it is not known"
        return "every mount that is pulled is captive, or none is pulled"

    def missing(i: int) -> str:
        key = mount_key(response.designs[i], "captive")
        return key or next(iter(all_travel_gaps(response, i)), "")

    return Row(
        id="held when pulled",
        unit="mounts",
        demand=off.astype(float),
        capacity=np.zeros(len(off)),
        reason=reason,
        missing=missing,
        source=REST,
        open=np.asarray(open_to | blind),
        graded=False,
    )


def listed_mass(response: Response) -> Iterator[Row]:
    """Do the parts of a table add up to what the scale says? Asked where there are both.

    What is not listed is a missing input: the check has numbers only while they agree.
    """
    listed = each_design(response, lambda d: si_or_none(d.payload, "listed"))
    if np.isnan(listed).all():
        return
    mass = each_design(response, lambda d: si(d.payload, "mass"))
    within = each_design(response, lambda d: si_or_none(d.payload, "mass_within") or 0.0)
    apart, allowed = np.abs(mass - listed), within + UNLISTED * mass
    unlike = apart > allowed

    def reason(i: int) -> str:
        sums = f"the parts sum to {MASS.text(listed[i])}, the scale says {MASS.text(mass[i])}"
        if not unlike[i]:
            return sums
        what = "is not listed" if mass[i] > listed[i] else "is listed and not there"
        return f"{sums}: {MASS.text(float(f'{apart[i]:.2g}'))} {what}"

    yield Row(
        id="listed mass",
        unit="kg",
        demand=np.where(unlike, np.nan, apart),
        capacity=np.where(unlike, np.nan, allowed),
        reason=reason,
        missing=lambda i: "payload.parts",
        open=unlike,
        settled=True,
        source=f"the scale, and {UNLISTED:.0%} for screws and cables (common practice)",
        graded=False,
    )


def temperature(response: Response, number: int, leg: LegResponse) -> Row:
    """Do the mounts' data reach the temperature of a leg?"""
    at = leg.leg.temperature_c()
    none = np.full(len(response.designs), np.nan)

    def reason(i: int) -> str:
        if at is None:
            return (
                "the temperature of this leg is not given; the stiffness at "
                f"{ROOM_TEMPERATURE:g} °C was used"
            )
        if leg.rigid[i]:
            coldest = max(
                t for p in response.designs[i].places if (t := p.mount.coldest()) is not None
            )
            return (
                f"{TEMPERATURE.text(at)} is colder than the mounts' data, which end at "
                f"{TEMPERATURE.text(coldest)}: treated as rigid"
            )
        if leg.uncertain[i] and at > MILD[1]:
            return f"{TEMPERATURE.text(at)} is above {MILD[1]:g} °C, where no data of mounts reach"
        if leg.uncertain[i]:
            return (
                f"how stiff the mounts are at {TEMPERATURE.text(at)} is not known; their data "
                f"hold from {MILD[0]:g} to {MILD[1]:g} °C"
            )
        factor = leg.stiffening[i].max()
        return f"the mounts' data reach {TEMPERATURE.text(at)}: {factor:.3g} times as stiff"

    return Row(
        id=f"temperature/{leg.leg.name}",
        unit="°C",
        demand=none,
        capacity=none,
        reason=reason,
        missing=lambda i: (
            f"leg[{number}].temperature" if at is None else temperature_key(response, leg, i)
        ),
        source=(
            f"cold factor of the mounts; {MILD[0]:g} to {MILD[1]:g} °C as at 23 °C "
            "(common practice)"
        ),
        open=np.array(at is None) | leg.uncertain | leg.rigid,
        settled=True,
    )

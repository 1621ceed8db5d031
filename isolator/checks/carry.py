"""Will the mounts carry the payload, in every attitude?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from isolator.checks.row import Row, asked, cold_key, each_mount, mount_key, nothing
from isolator.mount import MILD, ROOM_TEMPERATURE
from isolator.response import LegResponse, Response
from isolator.suspension import ATTITUDES, along_and_across
from isolator.units import FORCE, SIZE, TEMPERATURE, si_or_none

REST = "static pose under gravity: true curves, finite rotation, preload term"
NAMES = list(ATTITUDES)


def carry(response: Response) -> Iterator[Row]:
    """Stands, shares its load, stays within rating and travel, stays held."""
    yield _stands(response)
    yield _load_share(response)
    yield _rated_load(response)
    yield _sag(response)
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
    load = response.load[:, 0]
    pulled = response.deflection[:, 0, :, 0] < 0
    signed = np.where(pulled, -load, load)
    uneven = 1 - signed.min(axis=1) / load.mean(axis=1)
    uneven = np.where(response.pose.found[:, 0], uneven, np.nan)
    guessed = np.array([d.payload.centre is None for d in response.designs])

    def reason(i: int) -> str:
        low, high = int(signed[i].argmin()), int(load[i].argmax())
        names = response.designs[i].mount_names()
        if np.isnan(uneven[i]):
            return "lid up: the payload does not come to rest, so no mount has a load"
        if uneven[i] >= 1:
            text = (
                f"lid up: the centre of gravity lies outside the mounts, mount {names[low]} is "
                f"pulled with {FORCE.text(load[i, low])}"
            )
        else:
            text = (
                f"lid up: mount {names[high]} carries {FORCE.text(load[i, high])}, "
                f"mount {names[low]} {FORCE.text(load[i, low])}"
            )
        return f"{text}, if its centre is in the middle of the box" if guessed[i] else text

    return Row(
        id="load share",
        unit="",
        demand=uneven,
        capacity=np.ones_like(uneven),
        reason=reason,
        missing=lambda i: "payload.centre" if guessed[i] else "",
        source=REST,
        open=guessed,
    )


def _rated_load(response: Response) -> Row:
    usable = asked(response) & response.pose.found
    lost = np.asarray((asked(response) & ~response.pose.found).any(axis=1))
    rated = each_mount(response, "rated_load")
    load = np.where(usable[..., None], response.load, 0.0)
    unknown = np.asarray(np.isnan(rated).any(axis=1))
    used = load / np.where(np.isnan(rated), 1.0, rated)[:, None]
    batch = np.arange(len(load))
    attitude, mount = np.divmod(used.reshape(len(load), -1).argmax(axis=1), load.shape[-1])
    demand = np.where(unknown, load.max(axis=(1, 2)), load[batch, attitude, mount])

    def reason(i: int) -> str:
        if unknown[i]:
            most = FORCE.text(demand[i])
            return f"the largest load is {most}; what the mount may carry is not known"
        return (
            f"{NAMES[attitude[i]]}: mount {response.designs[i].mount_names()[mount[i]]} carries "
            f"{FORCE.text(demand[i])} of its rated {FORCE.text(rated[i, mount[i]])}"
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
    d = along_and_across(local)
    pushed, pulled = response.limits[:, None, :, :2, 0], response.limits[:, None, :, :2, 1]
    limit = np.where(d >= 0, pushed, pulled)
    moving = np.abs(d) > 1e-9
    unknown = np.asarray((np.isnan(limit) & moving).any(axis=(1, 2, 3)))
    used = np.abs(d) / np.where(np.isnan(limit), np.inf, limit)
    batch = np.arange(len(d))
    worst = used.reshape(len(d), -1).argmax(axis=1)
    attitude, mount, way = np.unravel_index(worst, d.shape[1:])
    demand = np.where(
        unknown, np.abs(d).max(axis=(1, 2, 3)), np.abs(d)[batch, attitude, mount, way]
    )
    capacity = np.where(unknown, np.nan, limit[batch, attitude, mount, way])

    def reason(i: int) -> str:
        if unknown[i]:
            most = SIZE.text(demand[i])
            return f"the largest sag is {most}; how far the mount may go is not known"
        return (
            f"{NAMES[attitude[i]]}: mount {response.designs[i].mount_names()[mount[i]]} gives "
            f"{SIZE.text(demand[i])} {'across' if way[i] else 'along'} its axis, of "
            f"{SIZE.text(capacity[i])} to metal"
        )

    def missing(i: int) -> str:
        across = (np.isnan(limit[i, ..., 1:]) & moving[i, ..., 1:]).any()
        fields = ("travel_across", "travel") if across else ("travel", "captive")
        return mount_key(response.designs[i], *fields)

    return Row(
        id="sag",
        unit="mm",
        demand=1e3 * demand,
        capacity=1e3 * capacity,
        reason=reason,
        missing=missing,
        source=REST,
        open=lost,
    )


def _held(response: Response) -> Row:
    usable = asked(response)
    captive = [[p.mount.captive for p in d.places] for d in response.designs]
    loose = np.array([[c is False for c in row] for row in captive])
    doubtful = np.array([[c is None for c in row] for row in captive])
    pulled = (response.deflection[..., 0] < -1e-9) & usable[..., None]
    off = (pulled & loose[:, None]).any(axis=1).sum(axis=1)
    open_to = (pulled & doubtful[:, None]).any(axis=(1, 2))

    def reason(i: int) -> str:
        if off[i]:
            return f"{off[i]} mounts that hold nothing when pulled come off in some attitude"
        if open_to[i]:
            return "some mounts are pulled; whether they hold the payload then is not known"
        return "every mount that is pulled is captive, or none is pulled"

    return Row(
        id="held when pulled",
        unit="mounts",
        demand=off.astype(float),
        capacity=np.zeros(len(off)),
        reason=reason,
        missing=lambda i: mount_key(response.designs[i], "captive"),
        source=REST,
        open=open_to,
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
                t
                for p in response.designs[i].places
                if (t := si_or_none(p.mount, "cold_temperature")) is not None
            )
            return (
                f"{TEMPERATURE.text(at)} is colder than the mounts' data, which end at "
                f"{TEMPERATURE.text(coldest)}: treated as rigid"
            )
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
            f"leg[{number}].temperature" if at is None else cold_key(response.designs[i])
        ),
        source=(
            f"cold factor of the mounts; {MILD[0]:g} to {MILD[1]:g} °C as at 23 °C "
            "(common practice)"
        ),
        open=np.array(at is None) | leg.uncertain | leg.rigid,
        settled=True,
    )

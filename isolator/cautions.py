"""What may do harm in this case, each with what to do about it, the gravest first.

That local codes and qualified people go first is said once, on the page; not here again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from isolator.assessment import Assessment
from isolator.checks.hang import RIGID
from isolator.design import HEAVY, MAIN, Design, cables_of, key_of, kind_key
from isolator.heat import CONDUCTIVITY, path, rise
from isolator.judging import AS_GIVEN
from isolator.leg import STILL
from isolator.mount import Mount
from isolator.response import Response
from isolator.suspension import ATTITUDES
from isolator.units import FREQUENCY, MASS, POWER, TEMPERATURE, si, si_or_none
from isolator.verdict import Check

HARMS = (
    "lithium cells",
    "protective earth",
    "lifting",
    "falls when rubber fails",
    "mains: a question",
    "lithium: a question",
    "one-way capture",
    "bottoming in a fall",
    "pulled when turned over",
    "cold beyond the data",
    "heat path lost",
    "tray too flexible",
)
"""By the harm that they may do, the gravest first: people, what may harm them and nobody said, then
what floats, then the answer."""

MOST = 5
"""How many are told in full."""

MOST_RISE = 200.0
"""A larger rise is told as more than this: rubber then carries next to nothing (common
practice). [K]"""

SQUEEZED = 0.3
"""Cosine between gravity and a mount's push from which on its rubber is squeezed by the weight."""

PULLED = 0.01
"""Strain of rubber that the weight stretches, above which it is told (common practice). [-]"""

BOTH_WAYS = ("panel grommet", "threaded nut", "bush")
"""Shapes whose rubber is squeezed or sheared when the mount is pulled, and not stretched."""


@dataclass(frozen=True, kw_only=True)
class Caution:
    """One thing that may do harm in this case.

    Attributes
    ----------
    name : one of `HARMS`, after the name of a further body
    what : str
        What may happen, a sentence.
    action : str
        What to do about it, a sentence.
    harm : int
        1 for the gravest.
    triggered_by : str
        What of this case it comes from: a key of the brief, a check or a leg.
    """

    name: str
    what: str
    action: str
    harm: int
    triggered_by: str


def cautions(assessment: Assessment) -> list[Caution]:
    """What may do harm, the gravest first; each is triggered by something in this case.

    Parameters
    ----------
    assessment : Assessment

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> brief = isolator.read_brief(str(data_file("starter/case.toml")))
    >>> found = cautions(isolator.assess(brief.changed("payload.lithium", True)))
    >>> found[0].name, found[0].triggered_by
    ('lithium cells', 'payload.lithium = true')
    """
    found = [*_lifting(assessment), *_asked(assessment)]
    for name in assessment.bodies():
        start = "" if name == MAIN else f"{name}: "
        found += [
            replace(one, name=f"{start}{one.name}", what=f"{start}{one.what}")
            for one in _of_body(assessment, name)
        ]
    return sorted(found, key=lambda one: one.harm)


def foremost(found: Sequence[Caution]) -> tuple[list[Caution], list[str]]:
    """The worst, to be told in full, and the names of the rest for one line; none is dropped.

    Parameters
    ----------
    found : sequence of Caution
        In any order.
    """
    ranked = sorted(found, key=lambda one: one.harm)
    return ranked[:MOST], [one.name for one in ranked[MOST:]]


def _told(name: str, what: str, action: str, by: str) -> Caution:
    harm = HARMS.index(name) + 1
    return Caution(name=name, what=what, action=action, harm=harm, triggered_by=by)


def _of_body(assessment: Assessment, name: str) -> Iterator[Caution]:
    response = assessment.bodies()[name]
    design = response.designs[0]
    checks = own_checks(assessment, name)
    yield from _lithium(name, design)
    yield from _earth(name, design)
    yield from _hanging(design)
    yield from _one_way(response, checks)
    yield from _bottoming(checks)
    yield from _pulled(response)
    yield from _cold(assessment, name)
    yield from _heat(name, design)
    yield from _tray(name, response)


def own_checks(assessment: Assessment, name: str) -> list[Check]:
    """The checks of one body, without its name before their ids."""
    if name == MAIN:
        starts = tuple(f"{other}: " for other in assessment.frames)
        return [check for check in assessment.checks if not check.id.startswith(starts)]
    start = f"{name}: "
    return [
        replace(check, id=check.id.removeprefix(start))
        for check in assessment.checks
        if check.id.startswith(start)
    ]


def _kinds(design: Design, wanted: Callable[[Mount], bool]) -> list[Mount]:
    """The kinds of its mounts that are so, each once."""
    return [m for m in {p.mount.name: p.mount for p in design.places}.values() if wanted(m)]


BURN = "crushed, pierced or shaken loose they may burn, and a closed case holds the heat"

HOLD = (
    "Hold the cells on their own so that nothing hard reaches them over the whole sway, put a "
    "fuse next to them, do not charge them in the closed case, and ask the carrier for its "
    "rules before the trip."
)

INSULATES = "rubber insulates, and metal that was earthed through its bolts is earthed no more"

STRAP = (
    "Lead a bonding strap from the payload to the case with a loop for its full sway, count its "
    "stiffness as a {}, and measure the earth path before the mains is switched on."
)


def _lithium(name: str, design: Design) -> Iterator[Caution]:
    if design.payload.lithium:
        yield _told(
            "lithium cells",
            f"lithium cells are inside: {BURN}",
            HOLD,
            f"{key_of(name, 'payload.lithium')} = true",
        )


def _earth(name: str, design: Design) -> Iterator[Caution]:
    if design.payload.mains:
        counted = strap_counted([cable.name for cable in design.cables])
        yield _told(
            "protective earth",
            f"mains voltage is inside and {INSULATES}",
            STRAP.format(f"{cables_of(name)} ({counted})"),
            f"{key_of(name, 'payload.mains')} = true",
        )


def _asked(assessment: Assessment) -> Iterator[Caution]:
    """What nobody said, one question for all bodies."""
    payloads = {name: body.designs[0].payload for name, body in assessment.bodies().items()}
    mains = [name for name, payload in payloads.items() if payload.mains is None]
    lithium = [name for name, payload in payloads.items() if payload.lithium is None]
    if mains:
        keys = [key_of(name, "payload.mains") for name in mains]
        straps = " or ".join(cables_of(name) for name in mains)
        yield _told(
            "mains: a question",
            f"is mains voltage inside? {INSULATES.capitalize()}",
            f"Say {_listed(keys)} = true or false. If it is: {_low(STRAP.format(straps))}",
            _not_given(keys),
        )
    if lithium:
        keys = [key_of(name, "payload.lithium") for name in lithium]
        yield _told(
            "lithium: a question",
            f"are lithium cells inside, as in a tablet or a power bank? {BURN.capitalize()}",
            f"Say {_listed(keys)} = true or false. If they are: {_low(HOLD)}",
            _not_given(keys),
        )


def _low(sentence: str) -> str:
    """A sentence as it goes on behind a colon."""
    return sentence[0].lower() + sentence[1:]


def _not_given(keys: Sequence[str]) -> str:
    return f"{_listed(keys)} {'is' if len(keys) == 1 else 'are'} not given"


def strap_counted(names: Sequence[str]) -> str:
    """Whether a bonding strap is among the cables that are counted, as far as names tell it."""
    if not names:
        return "no cable is counted so far"
    return f"cables counted: {', '.join(names)}; if none of these is the strap, it is not counted"


def _lifting(assessment: Assessment) -> Iterator[Caution]:
    """By the check of the lift, or by the weight where nobody asked."""
    design = assessment.design
    check = next((c for c in assessment.checks if c.id == "carry"), None)
    share = "Share the lift between two people, lift it in two parts, or use a trolley"
    if check is not None and check.status != "pass":
        waived = f" (not required: {check.waived})" if check.waived else ""
        say = f", and give {check.missing} to have the lift judged" if check.missing else ""
        what = check.reason
        if check.demand is not None and check.capacity is not None:
            what = (
                f"payload and case weigh {MASS.text(check.demand)}; for this lift the guide for "
                f"healthy adults is {MASS.text(check.capacity)}"
            )
        yield _told("lifting", f"{what}{waived}", f"{share}{say}.", "the check carry")
        return
    gross = design.gross_mass()
    lifted = design.floating_mass() if np.isnan(gross) else gross
    if check is None and lifted > HEAVY:
        what = "what floats weighs" if np.isnan(gross) else "payload and case weigh"
        yield _told(
            "lifting",
            f"{what} {MASS.text(lifted)}, and no lift was judged",
            f"{share}; give [carry] to have a lift by hand judged.",
            f"more than {MASS.text(HEAVY)} without [carry]",
        )


def _hanging(design: Design) -> Iterator[Caution]:
    """Where the weight is not on squeezed rubber, and no washer holds when the rubber fails."""
    loose = _kinds(design, lambda m: not (m.sizes and m.sizes.held_by_metal()))
    unsure = [mount for mount in loose if mount.sizes is None or mount.sizes.kind is None]
    through = [mount for mount in loose if mount.sizes and mount.sizes.bolted_through()]
    if not loose:
        return
    names = {mount.name for mount in loose}
    ways = np.array([p.direction() for p in design.places if p.mount.name in names])
    found = [a for a in design.attitudes if (ways @ np.array(ATTITUDES[a]) < SQUEEZED).any()]
    if not found:
        return
    lid = "; with the lid open it hangs over hands" if design.on_lid else ""
    lacking = [("kind", mount) for mount in unsure]
    lacking += [("washer", mount) for mount in (*unsure, *through)]
    keys = ", ".join(sorted(kind_key(mount.name, key) for key, mount in lacking))
    washer = f"a washer larger than the hole behind every mount ({keys}, and the hole), "
    washer = f"where a bolt goes through the rubber {washer}" if unsure else washer
    yield _told(
        "falls when rubber fails",
        f"{MASS.text(si(design.payload, 'mass'))} hang on rubber alone "
        f"{_attitudes(found, design.attitudes)}: where "
        f"it tears or its bond lets go, the payload comes down{lid}",
        f"Hold it by metal too: {washer if lacking else ''}a strap, or a stop beneath it.",
        f"attitudes: {', '.join(found)}",
    )


def _attitudes(found: Sequence[str], asked: Sequence[str]) -> str:
    """Some of the attitudes that are asked about, in few words."""
    others = [attitude for attitude in asked if attitude not in found]
    if len(found) > 2:
        return f"in every attitude but {_listed(others)}" if others else "in every attitude"
    return _listed(found)


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _one_way(response: Response, checks: Sequence[Check]) -> Iterator[Caution]:
    """Mounts that hold nothing when pulled, or that may not, where something pulls them."""
    design = response.designs[0]
    held = next(check for check in checks if check.id == "held when pulled")
    lifted = held.status == "fail" or (held.status == "incomplete" and bool(held.missing))
    for leg in response.legs:
        for fall in leg.falls:
            lifted |= bool((np.nan_to_num(fall.mounts[0, ..., 1]) > STILL).any())
    loose = _kinds(design, lambda mount: mount.captive is False)
    unsure = _kinds(design, lambda mount: mount.captive is None)
    if not lifted or not (loose or unsure):
        return
    names = _listed([mount.name for mount in (*loose, *unsure)])
    what = f"the mounts {names} only push: pulled or turned over, the payload comes off them"
    if not loose:
        what = f"whether the mounts {names} hold when they are pulled is not known: if not, the "
        what += "payload comes off them"
    yield _told(
        "one-way capture",
        what,
        "Give each a partner on the other side, a through bolt with a washer larger than the hole, "
        "or mounts that hold both ways; then say captive = true.",
        ", ".join(
            [f"{kind_key(mount.name, 'captive')} = false" for mount in loose]
            + [f"{kind_key(mount.name, 'captive')} is not given" for mount in unsure]
        ),
    )


_FALLS = ("drop travel/", "set-down travel/", "slap-down travel/", "topple travel/")


def _bottoming(checks: Sequence[Check]) -> Iterator[Caution]:
    """The falls in which a mount goes to metal, by the worst of them."""
    hits = [c for c in checks if c.id.startswith(_FALLS) and c.status == "fail"]
    if not hits:
        return
    worst = min(hits, key=lambda c: -np.inf if c.margin is None else c.margin)
    kind, *where = worst.id.split("/")
    more = f" (and {len(hits) - 1} more)" if len(hits) > 1 else ""
    yield _told(
        "bottoming in a fall",
        f"{kind.removesuffix(' travel')}, {', '.join(where)}{more}: {worst.reason}",
        "Give it more travel, foam outside, or a lower fall, and a soft stop where the travel "
        "ends; what reaches the payload after metal meets metal is not a number to rely on.",
        f"the check {worst.id}",
    )


def _pulled(response: Response) -> Iterator[Caution]:
    """Rubber that is stretched at rest in an attitude that is asked about."""
    design = response.designs[0]
    mounts = [place.mount for place in design.places]
    stretched = np.array(
        [
            mount.captive is not False and not (mount.sizes and mount.sizes.kind in BOTH_WAYS)
            for mount in mounts
        ]
    )
    over = np.array([_over(mount) for mount in mounts])
    found, names, most = list[str](), dict[str, None](), 0.0
    for a, attitude in enumerate(ATTITUDES):
        if attitude not in design.attitudes or not response.pose.found[0, a]:
            continue
        out = -response.deflection[0, a, :, 0]
        strain = out / over
        # of a mount without a height or a travel nobody knows how much a stretch is
        pulled = stretched & np.where(np.isnan(over), out > STILL, strain > PULLED)
        if pulled.any():
            found.append(attitude)
            names |= {mounts[n].name: None for n in np.flatnonzero(pulled).tolist()}
            most = max(most, float(np.nan_to_num(strain[pulled]).max()))
    if found:
        share = f", by up to {_two(100 * most)} % of its height or travel" if most else ""
        yield _told(
            "pulled when turned over",
            f"{_attitudes(found, design.attitudes)} the rubber of {_listed(list(names))} is "
            f"stretched by the weight{share}, which rubber and its bond bear for no length of time",
            "Do not store it so, pair the mounts so that one of each pair is always squeezed, or "
            "leave the attitude out of attitudes and mark the case.",
            f"attitudes: {', '.join(found)}",
        )


def _over(mount: Mount) -> float:
    """What a stretch of a mount is held against: its rubber's height, else its travel. [m]"""
    height = si_or_none(mount, "rubber_along")
    if height is None and mount.sizes is not None:
        height = float(mount.sizes.size("thickness"))
    return float(mount.limits()[0]) if height is None or np.isnan(height) else height


def _cold(assessment: Assessment, name: str) -> Iterator[Caution]:
    """Legs and conditions that are colder than what is known of the mounts."""
    places = [("", leg) for leg in assessment.bodies()[name].legs]
    places += [
        (strip.name, leg)
        for strip in assessment.strips
        if strip.name != AS_GIVEN
        for leg in strip.tried[name].legs
    ]
    found, coldest = dict[str, None](), np.inf
    for condition, leg in places:
        at = leg.leg.temperature_c()
        if at is None or not (leg.rigid[0] or (leg.uncertain[0] and at < 0)):
            continue
        coldest = min(coldest, at)
        found[f"the condition {condition}" if condition else leg.leg.name] = None
    if not found:
        return
    kinds = {p.mount.name: p.mount for p in assessment.bodies()[name].designs[0].places}
    reach = [
        f"those of {kind} end at {TEMPERATURE.text(end)}"
        if (end := mount.coldest()) is not None
        else f"of {kind} there are none"
        for kind, mount in kinds.items()
    ]
    yield _told(
        "cold beyond the data",
        f"{_listed(list(found))}: {TEMPERATURE.text(coldest)} is colder than the data of the "
        f"mounts ({'; '.join(reach)}); rubber that nobody measured there may be as hard as a bolt, "
        "and nothing of the cold leg counts",
        "Keep it warmer on the way, take a rubber with data that reach so far, or lay a mount in "
        "the cold for a night and push it.",
        ", ".join(found),
    )


def _heat(name: str, design: Design) -> Iterator[Caution]:
    """What the rubber leaves of the heat path, and how warm it gets if nothing else carries it."""
    power = si_or_none(design.payload, "power")
    if not power:
        return
    shapes = [path(place.mount.sizes) for place in design.places]
    known = float(np.nansum(shapes))
    unknown = _kinds(design, lambda mount: bool(np.isnan(path(mount.sizes))))
    what = f"{POWER.text(power)} went out through bolts and must now pass rubber"
    if known > 0:
        low, high = (float(end) for end in rise(power, known))
        least, most = (_two(known * end) for end in CONDUCTIVITY)
        of = f" of {int(np.isfinite(shapes).sum())} mounts" if unknown else ""
        up = f"{_two(low)} to {_two(high)}" if low < MOST_RISE else f"more than {MOST_RISE:g}"
        what += f": {least} to {most} W/K{of}, a rise of {up} K if nothing else carries it"
    if unknown:
        keys = ", ".join(f"{kind_key(mount.name, 'kind')} and its sizes" for mount in unknown)
        what += f"; what the rubber of {_listed([m.name for m in unknown])} conducts is not known"
        what += f" ({keys})"
    yield _told(
        "heat path lost",
        what,
        "Give the heat another way out, air past fins or a soft metal braid that counts as a "
        f"{cables_of(name)}, and read a thermometer inside after an hour at full power.",
        f"{key_of(name, 'payload.power')} = {POWER.text(power)}",
    )


def _two(value: float) -> str:
    """To two significant digits, without an exponent."""
    return f"{float(f'{value:.2g}'):.10g}"


def _tray(name: str, response: Response) -> Iterator[Caution]:
    own = si_or_none(response.designs[0].payload, "bending")
    if own is None:
        return
    modes = np.concatenate([response.leg_modes[0, :, 1], response.main_modes[0, 1:]])
    if np.isnan(modes).all() or own >= RIGID * (bounce := float(np.nanmax(modes))):
        return
    yield _told(
        "tray too flexible",
        f"the payload bends at {FREQUENCY.text(own)}, less than {RIGID:g} times its bounce of "
        f"{FREQUENCY.text(bounce)}: it is no rigid body there, and what sits on it feels more than "
        "these pages say",
        "Stiffen the tray by ribs or a thicker sheet, move the mounts under the heavy parts, or "
        "take softer mounts; then tap it again.",
        f"{key_of(name, 'payload.bending')} = {FREQUENCY.text(own)}",
    )

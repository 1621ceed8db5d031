"""Will every single part survive, the floating ones and those that are fixed in the case?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from isolator.checks.drop import DOUBT, damps_most, unknown_height
from isolator.checks.landing import IN_TIME, UNCHECKED, unseen
from isolator.checks.row import TRAVELS, Row, asked, each_mount, mount_key, temperature_key
from isolator.checks.shake import RANDOM, vibration_gaps
from isolator.design import Design
from isolator.leg import end_unknown
from isolator.outcome import Bools, LegResponse, Touchdown
from isolator.payload import STEINBERG, Part
from isolator.resonance import (
    READINGS,
    STRONG,
    SingleParts,
    board_deflection,
    board_limit,
    moved,
    places,
    strength,
)
from isolator.response import Response
from isolator.suspension import ATTITUDES, Pose
from isolator.trip import AXES, Leg
from isolator.units import FREQUENCY, G0, SIZE, FloatArray, si_or_none

RIDES = f"{RANDOM}; a part with a resonance rides on it, the worse of structural and viscous loss"
BOUND = "sum of the largest that each mode gives, flat landing of a heavy shell, undamped"
RULE = "octave rule: a part at twice the frequency of the mounts or more (steinberg, memory)"
NEAR = 0.2
"""A source this near to a mode drives it: share of its frequency (common practice)."""


def part_checks(response: Response, number: int, leg: LegResponse) -> Iterator[Row]:
    """The checks of every part on one leg."""
    if leg.parts is None:
        return
    rows = {"part limit": _limit, "board": _board, "coincidence": _coincidence, "part drop": _drop}
    for p, (part, floats) in enumerate(leg.parts.parts):
        for kind in _on_a_leg(part, floats, leg.leg):
            yield rows[kind](response, number, leg, leg.parts, p)


def part_checks_once(response: Response) -> Iterator[Row]:
    """The checks that a part has once."""
    for p, (part, floats) in enumerate(response.designs[0].asking()):
        rows = {"octave": _octave, "source": _source}
        for kind in _once(part, floats):
            yield rows[kind](response, p, part, floats)


def _on_a_leg(part: Part, floats: bool, leg: Leg) -> Iterator[str]:
    """Nothing else speaks for a part that is fixed in the case, so its limits are asked for."""
    if leg.vibrates and (not floats or part.vibration_limit is not None):
        yield "part limit"
    if leg.vibrates and part.is_board:
        yield "board"
    if leg.vibrates and part.resonance is not None:
        yield "coincidence"
    if leg.drops and (not floats or part.fragility is not None):
        yield "part drop"


def _once(part: Part, floats: bool) -> Iterator[str]:
    if floats and part.resonance is not None:
        yield "octave"
    if part.speed is not None or part.kind in ("fan", "disc"):
        yield "source"


def _key(part: Part, floats: bool, field: str) -> str:
    return f"{'payload' if floats else 'case'}.parts.{part.name}.{field}"


def _gaps(
    response: Response, number: int, leg: LegResponse, part: Part, floats: bool, i: int
) -> dict[str, str]:
    """What the response of a part to the road lacks for one design: key → sentence."""
    gaps: dict[str, str] = {}
    resonance, amplification = si_or_none(part, "resonance"), part.amplification
    if resonance is not None and amplification is None:
        gaps[_key(part, floats, "amplification")] = (
            f"by how much it amplifies at its {FREQUENCY.text(resonance)} is not known"
        )
    if floats and leg.rigid[i]:
        gaps[temperature_key(response, leg, i)] = "treated as rigid in the cold it feels the input"
    gaps |= _uncovered(number, leg, resonance)
    if floats:
        return gaps | vibration_gaps(response, number, leg, i)
    for way, axis in leg.leg.case_axes().items():
        spectrum = leg.leg.spectrum(axis)
        waived = f"isolation/{leg.leg.name}/{axis}" in response.designs[i].not_required
        if spectrum is None and not waived:
            gaps[f"leg[{number}].road.{way}"] = f"what shakes the case along {axis} is not given"
    return gaps


def _uncovered(number: int, leg: LegResponse, resonance: float | None) -> dict[str, str]:
    gaps: dict[str, str] = {}
    for way, axis in leg.leg.case_axes().items():
        spectrum = leg.leg.spectrum(axis)
        if spectrum is not None and resonance is not None and resonance < spectrum.lines[0]:
            gaps[f"leg[{number}].road.{way}"] = (
                f"its {FREQUENCY.text(resonance)} lies below the first line of the spectrum along "
                f"{axis}, {spectrum.lines[0]:.3g} Hz, which says nothing about it"
            )
    return gaps


def _said(gaps: dict[str, str]) -> str:
    return next(iter(gaps.values()), "")


def _felt(single: SingleParts, p: int, i: int) -> str:
    """What a part feels, in words: both readings, and the axes together."""
    felt = single.felt[:, i, p] / G0
    reading, k = divmod(int(felt.argmax()), 3)
    part, _ = single.parts[p]
    text = f"{felt[reading, k]:.3g} g rms along {AXES[k]}"
    if part.resonance is not None:
        both = ", ".join(f"{w} {g:.3g}" for w, g in zip(READINGS, felt[:, k], strict=True))
        text += f" ({both})"
    return f"{text}, {np.linalg.norm(felt, axis=-1).max():.3g} with all axes together"


def _limit(response: Response, number: int, leg: LegResponse, single: SingleParts, p: int) -> Row:
    part, floats = single.parts[p]
    count = len(response.designs)
    gaps = [_gaps(response, number, leg, part, floats, i) for i in range(count)]
    felt = single.felt[:, :, p].max(axis=(0, 2)) / G0
    limit = np.full(count, (si_or_none(part, "vibration_limit") or np.nan) / G0)
    what = "floating it feels" if floats else "fixed in the case it feels the full input,"

    def reason(i: int) -> str:
        if np.isnan(felt[i]):
            return _said(gaps[i]) or "what shakes the case is not given"
        text = f"{what} {_felt(single, p, i)}"
        if np.isnan(limit[i]):
            return f"{text}; what it survives is not known"
        return "; ".join([f"{text}, of {limit[i]:.3g} g rms", *list(gaps[i].values())[:1]])

    def missing(i: int) -> str:
        if np.isnan(limit[i]):
            return _key(part, floats, "vibration_limit")
        return next(iter(gaps[i]), "")

    return Row(
        id=f"part limit/{leg.leg.name}/{part.name}",
        unit="g rms",
        demand=felt,
        capacity=limit,
        reason=reason,
        missing=missing,
        source=RIDES if floats else "the road's spectrum",
        open=np.array([bool(g) for g in gaps]),
        graded=floats,
    )


def _board(response: Response, number: int, leg: LegResponse, single: SingleParts, p: int) -> Row:
    """Steinberg's three-sigma deflection; the board may lie across any axis."""
    part, floats = single.parts[p]
    count = len(response.designs)
    gaps = [_gaps(response, number, leg, part, floats, i) for i in range(count)]
    resonance, limit = si_or_none(part, "resonance"), board_limit(part)
    needed = ("resonance", *STEINBERG, "component")
    absent = next((name for name in needed if getattr(part, name) is None), None)
    felt = single.felt[:, :, p].max(axis=(0, 2))
    bend = board_deflection(felt, np.nan if resonance is None else resonance)

    def reason(i: int) -> str:
        if absent is not None:
            return f"{absent.replace('_', ' ')} of the board is not given"
        if np.isnan(bend[i]) or limit is None:
            return _said(gaps[i]) or "what shakes the case is not given"
        text = (
            f"three sigma bend it by {SIZE.text(bend[i])} of the {SIZE.text(limit)} that its "
            f"component survives; it feels {_felt(single, p, i)}"
        )
        return "; ".join([text, *list(gaps[i].values())[:1]])

    return Row(
        id=f"board/{leg.leg.name}/{part.name}",
        unit="mm",
        demand=1e3 * bend,
        capacity=np.full(count, np.nan if limit is None else 1e3 * limit),
        reason=reason,
        missing=lambda i: _key(part, floats, absent) if absent else next(iter(gaps[i]), ""),
        source="Steinberg, deflection of circuit boards, 3rd edition (steinberg, published)",
        open=np.array([bool(g) for g in gaps]),
        graded=floats,
    )


def _coincidence(
    response: Response, number: int, leg: LegResponse, single: SingleParts, p: int
) -> Row:
    """A resonance in a strong band is no fault in itself: the part's limit decides."""
    part, floats = single.parts[p]
    resonance = si_or_none(part, "resonance") or np.nan
    strong, absent, beyond = [], {}, []
    for way, axis in leg.leg.case_axes().items():
        spectrum = leg.leg.spectrum(axis)
        if spectrum is None:
            absent[f"leg[{number}].road.{way}"] = f"what shakes the case along {axis} is not given"
            continue
        share, at = strength(spectrum.lines, spectrum.density, resonance)
        if share > STRONG:
            strong.append(f"along {axis}, {share:.0%} of its largest density at {at:.3g} Hz")
        if resonance > spectrum.lines[-1]:
            beyond.append(f"the spectrum along {axis} ends at {spectrum.lines[-1]:.3g} Hz")
    absent |= _uncovered(number, leg, resonance)
    judge = next((n for n in ("vibration_limit", "amplification") if getattr(part, n) is None), "")
    where = f"its {FREQUENCY.text(resonance)}"
    count = len(response.designs)
    gaps = [
        {
            key: text
            for key, text in absent.items()
            if not any(
                key == f"leg[{number}].road.{way}"
                and leg.leg.spectrum(axis) is None
                and f"isolation/{leg.leg.name}/{axis}" in design.not_required
                for way, axis in leg.leg.case_axes().items()
            )
        }
        for design in response.designs
    ]

    def reason(i: int) -> str:
        if strong:
            end = f"its {judge.replace('_', ' ')} is not known" if judge else "its limit decides"
            text = f"{where} lies in a strong band of the spectrum {'; '.join(strong)}"
            return "; ".join([text, *list(gaps[i].values())[:1], end])
        text = f"{where} lies in no strong band of the spectrum"
        return "; ".join([text, *beyond[:1], *list(gaps[i].values())[:1]])

    nan = np.full(count, np.nan)
    return Row(
        id=f"coincidence/{leg.leg.name}/{part.name}",
        unit="",
        demand=nan,
        capacity=nan,
        reason=reason,
        missing=lambda i: (
            _key(part, floats, judge) if strong and judge else next(iter(gaps[i]), "")
        ),
        source=f"above {STRONG:.0%} of the largest density within a third of an octave",
        open=np.array([bool(g) or bool(strong and judge) for g in gaps]),
        settled=True,
        graded=False,
    )


def _drop(response: Response, number: int, leg: LegResponse, single: SingleParts, p: int) -> Row:
    """Fails if the centre feels too much too; passes only if the bound at its place holds."""
    part, floats = single.parts[p]
    if not floats:
        return _bare_drop(response, leg, part)
    if landings := _landings(leg):
        return _landed(response, number, leg, part, p, landings)
    count, falling = len(response.designs), leg.falling
    fragility = np.full(count, (si_or_none(part, "fragility") or np.nan) / G0)
    blind = unseen(leg)
    each = np.where(blind[:, None], np.nan, single.drop[:, :, p] / G0)
    each = np.where(np.isfinite(each), each, np.nan)
    worst = np.where(np.isnan(each), np.inf, each).argmax(axis=1)
    most = each[np.arange(count), worst]
    centre = np.full(count, np.nan)
    hit = unsure = doubted = np.zeros(count, dtype=bool)
    if falling is not None:
        bottoms = falling.flat.bottoms
        hit = np.asarray(((bottoms == 1) | falling.may_bottom).any(axis=1))
        unsure = np.asarray((np.isnan(bottoms) | falling.end_unknown).any(axis=1))
        doubted = np.asarray((each * falling.doubt > fragility[:, None]).any(axis=1))
        centre = np.where(np.isnan(most), np.nan, falling.flat.peak_most.max(axis=1))
    wide = (most > fragility) & (centre <= fragility)
    demand = np.where(wide, centre, most)
    sticky = damps_most(leg)

    def reason(i: int) -> str:
        if falling is None:
            return "from what height it may fall on this leg is not given"
        if blind[i]:
            return UNCHECKED
        if np.isnan(most[i]):
            return "the payload flies off its mounts: what it hits is not known"
        landing = leg.leg.faces()[worst[i]]
        text = (
            f"{landing}: at most {most[i]:.3g} g along one axis at its feet, of "
            f"{fragility[i]:.3g} g"
        )
        if hit[i]:
            return f"{text} before a mount may bottom; what the hit does is not known"
        if wide[i]:
            return f"{text}, a wide bound; the centre feels {centre[i]:.3g} g"
        if most[i] > fragility[i]:
            return f"{text}; the centre feels up to {centre[i]:.3g} g"
        if sticky[i]:
            return f"{text}; so much damping may take more, which is not computed"
        if doubted[i]:
            return f"{text}; {DOUBT}"
        return f"{text}, if the mounts have the travel" if unsure[i] else text

    def missing(i: int) -> str:
        if falling is None:
            return f"leg[{number}].drop"
        if blind[i]:
            return temperature_key(response, leg, i)
        if hit[i] or not unsure[i]:
            return ""
        return mount_key(response.designs[i], *TRAVELS)

    return Row(
        id=f"part drop/{leg.leg.name}/{part.name}",
        unit="g",
        demand=demand,
        capacity=fragility,
        reason=reason,
        missing=missing,
        source=BOUND,
        open=hit | unsure | doubted | wide | sticky,
        in_time=True,
    )


def _landings(leg: LegResponse) -> list[tuple[str, Touchdown, int]]:
    """All landings of a leg that were followed: its name, where it is, and its number there."""
    out = []
    for fall in leg.falls:
        if fall.touch is not None:
            kind = "" if fall.kind == "drop" else f"{fall.kind}, "
            touch = replace(fall.touch, mounts=fall.mounts)  # endless where it flies off
            out += [(f"{kind}{n}", touch, k) for k, n in enumerate(fall.landings)]
    for turn in leg.turning:
        names = [f"{turn.kind} onto {face}" for face in turn.faces]
        out += [(name, turn.touch, k) for k, name in enumerate(names)]
    return out


def _not_followed(response: Response, number: int, leg: LegResponse) -> list[tuple[str, str]]:
    """Of each design (b) a landing that is asked for and was not followed: key and sentence."""
    turns = (leg.leg.slap_down is not None and leg.leg.drops) or leg.leg.topple

    def lacks(design: Design) -> tuple[str, str]:
        if leg.leg.drops and leg.falling is None and si_or_none(leg.leg, "drop") is None:
            return unknown_height(design, number, leg.leg)
        edges = leg.leg.drops and leg.leg.groups() and leg.tilted is None
        if design.case.size is None and (edges or turns):
            return "case.size", "how it lands on its edges goes by the outer size, not given"
        return "", ""

    return [lacks(design) for design in response.designs]


def _landed(
    response: Response,
    number: int,
    leg: LegResponse,
    part: Part,
    p: int,
    landings: Sequence[tuple[str, Touchdown, int]],
) -> Row:
    """What reaches its feet in the worst of all landings, as they happen."""
    count = len(response.designs)
    fragility = np.full(count, (si_or_none(part, "fragility") or np.nan) / G0)
    blind = unseen(leg)
    each = np.stack([touch.parts[:, k, p] / G0 for _, touch, k in landings], axis=-1)
    moved = np.stack([touch.mounts[:, k] for _, touch, k in landings], axis=1)
    hit = np.asarray((moved > leg.limits[:, None]).any(axis=(2, 3)))
    flies = np.asarray(np.isinf(moved).any(axis=(2, 3)))
    stops = np.asarray(~np.isnan(each_mount(response, "stop")).any(axis=1))
    known = np.isfinite(each) & ~flies & (~hit | stops[:, None])
    most = np.where(known, each, -np.inf)
    worst = most.argmax(axis=1)
    demand = np.where(known.any(axis=1) & ~blind, most.max(axis=1), np.nan)
    limitless = np.asarray(end_unknown(moved, leg.limits).any(axis=1))
    apart = _not_followed(response, number, leg)
    unsure: Bools = np.logical_not(known.all(axis=1))

    def unknown(i: int, k: int) -> str:
        return "the payload flies off its mounts" if flies[i, k] else "a mount bottoms"

    def reason(i: int) -> str:
        if blind[i]:
            return UNCHECKED
        if np.isnan(demand[i]):
            return f"{unknown(i, 0)} in every landing: what the hit does is not known"
        name = landings[worst[i]][0]
        text = f"{name}: {demand[i]:.3g} g reach its feet, of {fragility[i]:.3g} g"
        if demand[i] > fragility[i]:
            return text
        if not unsure[i]:
            text += ", if the mounts have the travel" if limitless[i] else ""
            return f"{text}; {apart[i][1]}" if apart[i][1] else text
        lacks = int(np.flatnonzero(~known[i])[0])
        lost = unknown(i, lacks)
        return f"{text}; {landings[lacks][0]}: {lost}, what the hit does is not known"

    def missing(i: int) -> str:
        if blind[i]:
            return temperature_key(response, leg, i)
        lacks = ("stop",) if hit[i].any() else TRAVELS if limitless[i] else ()
        return mount_key(response.designs[i], *lacks) or apart[i][0]

    return Row(
        id=f"part drop/{leg.leg.name}/{part.name}",
        unit="g",
        demand=demand,
        capacity=fragility,
        reason=reason,
        missing=missing,
        source=IN_TIME,
        open=unsure | limitless | np.array([bool(key) for key, _ in apart]),
        in_time=True,
    )


def _bare_drop(response: Response, leg: LegResponse, part: Part) -> Row:
    """A fixed part falls as hard as the shell lets it, which nobody computes."""
    count, identity = len(response.designs), f"part drop/{leg.leg.name}/{part.name}"
    fragility = si_or_none(part, "fragility")
    text = (
        "it is fixed in the case: nothing but the shell is between it and the floor, and what a "
        "shell lets through is not computed"
    )
    if fragility is None:
        text, need = f"{text}; what it survives is not given", _key(part, False, "fragility")
    else:
        held = f"record a drop at its place to hold against its {fragility / G0:.3g} g"
        text, need = f"{text}; {held}, or let it float", "a recorded drop at its place"
    text += f'; or say why it is not asked: [not_required] "{identity}"'
    return Row(
        id=identity,
        unit="g",
        demand=np.full(count, np.nan),
        capacity=np.full(count, np.nan if fragility is None else fragility / G0),
        reason=lambda _: text,
        missing=lambda _: need,
        source="",
        graded=False,
    )


def _octave(response: Response, p: int, part: Part, floats: bool) -> Row:
    """On every leg, the highest mode of the mounts that moves the part."""
    count = len(response.designs)
    resonance = si_or_none(part, "resonance") or np.nan
    top = np.full((len(response.legs), count), np.nan)
    for n, leg in enumerate(response.legs):
        if leg.parts is not None:
            moving = np.where(leg.parts.moves[:, :, p], leg.parts.frequency, 0.0)
            usable = leg.stands & ~leg.rigid & ~leg.uncertain
            top[n] = np.where(usable, moving.max(axis=(1, 2)), np.nan)
    blind = np.isnan(top).any(axis=0)
    known = np.where(np.isnan(top), -np.inf, top)
    worst, most = known.argmax(axis=0), known.max(axis=0)
    demand = np.where(np.isinf(most), np.nan, 2 * most)

    def lost(i: int) -> int:
        return int(np.isnan(top[:, i]).argmax())

    def reason(i: int) -> str:
        if np.isnan(demand[i]):
            return f"{response.legs[lost(i)].leg.name}: the modes of the mounts are not known"
        text = (
            f"{response.legs[worst[i]].leg.name}: the mounts move it at up to "
            f"{FREQUENCY.text(most[i])}, its own {FREQUENCY.text(resonance)} is "
            f"{resonance / most[i]:.3g} times that"
        )
        end = f"; on {response.legs[lost(i)].leg.name} the modes are not known"
        return text + end * bool(blind[i])

    return Row(
        id=f"octave/{part.name}",
        unit="Hz",
        demand=demand,
        capacity=np.full(count, resonance),
        reason=reason,
        missing=lambda i: _modes_key(response, i),
        source=RULE,
        open=blind,
    )


def _modes_key(response: Response, i: int) -> str:
    """What would tell the modes on the first leg on which they are unknown."""
    unknown = next((leg for leg in response.legs if leg.uncertain[i] or leg.rigid[i]), None)
    return "" if unknown is None else temperature_key(response, unknown, i)


def _modes(response: Response, p: int) -> Iterator[tuple[str, FloatArray]]:
    """Where and which modes (b, k) move a part: every asked attitude at 23 °C, every leg."""
    designs = response.designs
    at = places(designs, designs[0].asking())[:, p : p + 1]
    inertia = np.stack([design.payload.inertias() for design in designs])
    found, wanted = response.pose, asked(response)
    for a, attitude in enumerate(ATTITUDES):
        pose = Pose(found.shift[:, a], found.turn[:, a], found.found[:, a])
        frequency, moves = moved(response.suspension, inertia, pose, at)
        here = np.where(moves[:, :, 0], frequency, np.inf)
        here = np.where(pose.found[:, None, None], here, np.nan)
        here = np.where(wanted[:, a, None, None], here, np.inf)
        yield attitude, here.reshape(len(designs), -1)
    for leg in response.legs:
        if leg.parts is not None:
            here = np.where(leg.parts.moves[:, :, p], leg.parts.frequency, np.inf)
            usable = leg.stands & ~leg.rigid & ~leg.uncertain
            here = np.where(usable[:, None, None], here, np.nan)
            yield leg.leg.name, here.reshape(len(designs), -1)


def _source(response: Response, p: int, part: Part, floats: bool) -> Row:
    """Something that turns, against every mode of the mounts that it can drive."""
    count = len(response.designs)
    speed, named = si_or_none(part, "speed"), f"source/{part.name}"
    nan = np.full(count, np.nan)
    if speed is None:
        return Row(
            id=named,
            unit="",
            demand=nan,
            capacity=nan,
            reason=lambda _: "how fast it turns is not given",
            missing=lambda _: _key(part, floats, "speed"),
            source=f"{NEAR:.0%} from every mode (common practice)",
            graded=False,
        )
    rates = {"its speed": speed}
    if part.blades is not None:
        rates["its blade rate"] = speed * part.blades
    names, modes = zip(*_modes(response, p), strict=True)
    stack = np.stack(modes)
    blind = np.isnan(stack).any(axis=(0, 2))
    ratio = np.stack([rate / np.where(np.isnan(stack), np.inf, stack) for rate in rates.values()])
    away = np.moveaxis(np.abs(ratio - 1), 2, 0).reshape(count, -1)
    away = np.where(np.moveaxis(ratio, 2, 0).reshape(count, -1) > 0, away, np.inf)
    nearest, least = away.argmin(axis=1), away.min(axis=1)
    ratio = np.moveaxis(ratio, 2, 0)

    def reason(i: int) -> str:
        if np.isinf(least[i]):
            return "no mode of the mounts that it can drive is known"
        r, n, k = np.unravel_index(nearest[i], ratio.shape[1:])
        what, rate = list(rates.items())[r]
        x = float(ratio[i, r, n, k])
        text = (
            f"{names[n]}: {what}, {60 * rate:.4g} a minute, is {x:.3g} times the mode of the "
            f"mounts at {FREQUENCY.text(rate / x)}"
        )
        if least[i] < NEAR:
            return f"{text}: it drives that mode"
        passes = 1 / abs(1 - x**2)
        how = "isolated" if x >= np.sqrt(2) else "not isolated"
        return f"{text}: {how}, {passes:.2g} of its unbalance passes there (undamped)"

    return Row(
        id=named,
        unit="",
        demand=np.where(np.isinf(least), np.nan, np.maximum(1 - least, 0.0)),
        capacity=np.full(count, 1 - NEAR),
        reason=reason,
        missing=lambda i: _modes_key(response, i),
        source=f"{NEAR:.0%} from every mode (common practice)",
        open=blind,
    )

"""Pages of the bench: what to expect, what a recording is worth, what a tap and a trip say."""

from __future__ import annotations

from textwrap import fill
from typing import Any

import numpy as np

from isolator.buildsheet import BuildSheet
from isolator.correction import COMMON, DOUBTFUL, Correction
from isolator.pair import Transfer
from isolator.record_quality import Quality
from isolator.recorded_trip import TripRecord
from isolator.recording import Recording
from isolator.report.paper import CAUTION, bullets, digits, table
from isolator.report.words import verdict_sentence
from isolator.ride import Ride, Wear
from isolator.ringdown import RingDown
from isolator.units import FREQUENCY, G0, si, si_or_none
from isolator.verdict import Check

MOST_SHOCKS = 10
"""Shocks that the page of a trip lists."""


def expected_page(sheet: BuildSheet) -> str:
    """What the bench should read, before it is asked."""
    blocks = [f"{sheet.name}: what the bench should read, lid up, 23 °C"]
    for title, rows in (
        ("Sag at each lower corner", sheet.sag),
        ("Travel of the centre for a slow push", sheet.push),
        ("A tap of each mode: rubber at its small strain", sheet.tap),
        ("The same modes in transport", sheet.truck),
        ("Gap to each face as it hangs: look and feel all round", sheet.contact),
        ("A dummy in the place of the payload, for whoever would drop it", sheet.dummy),
    ):
        blocks.append(bullets(title, [f"{row.what}: {row.text}" for row in rows]))
    blocks.append(bullets("With the dummy", list(sheet.protocol)))
    return "\n\n".join(blocks)


def look_page(recording: Recording, found: Quality) -> str:
    """What a recording is, and what it can know."""
    signs = {True: "good", False: "LOOK", None: "?"}
    blocks = [
        f"{recording.source}: {len(recording.time)} samples of {len(recording.names)} channels",
        bullets("Read as", list(recording.guessed) or ["as stated"]),
        bullets("Quality", [f"{signs[f.good]}: {f.what}: {f.sentence}" for f in found.findings]),
    ]
    return "\n\n".join(blocks)


def look_data(recording: Recording, found: Quality) -> dict[str, Any]:
    """The same as data."""
    return {
        "source": recording.source,
        "samples": len(recording.time),
        "channels": list(recording.names),
        "read_as": list(recording.guessed),
        "rate_hz": si(found, "rate"),
        "usable_hz": [si(found, "lowest"), si(found, "highest")],
        "findings": [
            {"what": f.what, "sentence": f.sentence, "good": f.good} for f in found.findings
        ],
    }


def tap_page(tap: RingDown, source: str, found: Correction | None) -> str:
    """What a tap says, and what it says of a brief."""
    blocks = [f"{source}: a tap and what rings after it", _modes(tap)]
    blocks.append(bullets("How it was read", list(tap.sentences)))
    if found is not None:
        blocks += [_against(found), _hidden(found), _then(found), fill(CAUTION, 98)]
    return "\n\n".join(blocks)


def _modes(tap: RingDown) -> str:
    rows = [
        [
            f"{si(mode, 'frequency'):.4g}",
            f"± {si(mode, 'frequency_within'):.2g}",
            f"{mode.loss_factor:.3g}",
            f"± {2 * mode.damping_within:.2g}",
            f"{np.abs(mode.amplitude).max():.3g}",
        ]
        for mode in tap.modes
    ]
    head = [
        "mode [Hz]",
        "95 % within [Hz]",
        "loss factor [-]",
        "95 % within [-]",
        "starts at [m/s²]",
    ]
    return table("Modes, the strongest first", head, rows)


def _against(found: Correction) -> str:
    rows = [
        [
            f"{line.frequency:.4g} ± {line.within:.2g}",
            f"{line.predicted[0]:.4g} to {line.predicted[1]:.4g}"
            if np.isfinite(line.predicted).all()
            else "-",
            line.name or "none of the six modes",
            f"{line.loss:.3g}",
        ]
        for line in found.lines
    ]
    head = ["measured [Hz]", "the model as stated, for a tap [Hz]", "moves", "loss factor [-]"]
    return table("Against the model", head, rows)


def _hidden(found: Correction) -> str:
    """What the build may hide."""
    first = found.faults[0]
    lines = [
        f"{fault.words}"
        + ("" if fault is first else f" (fits less well by {fault.score - first.score:.2g})")
        + (f"; to tell: {fault.apart}" if fault.apart else "")
        for fault in found.doubtful
    ]
    title = f"What it may be, the likeliest first (less than {DOUBTFUL:g} apart is not ruled out)"
    return bullets(title, lines)


NOT_ACROSS = "across it stays as stated: what rang tells little of it; knock that way too"
NOT_ALONG = "it stays as stated: what rang tells nothing along its axis; knock that way too"


def _then(found: Correction) -> str:
    """The verdict before and after."""
    if found.factor is None or found.after is None or found.loss is None:
        first = found.faults[0]
        why = (
            "nothing that was tried explains all that was measured: tap again with everything else "
            "still, and look for what rings beside the payload"
            if first.name in COMMON
            else f"{first.words}: mend that first and tap again; one factor on all mounts would "
            "hide it"
        )
        return bullets("The model is not corrected", [found.refused or why])
    low, high = found.factor
    lines = [
        f"the mounts are {low:.2f} to {high:.2f} times as stiff in transport as stated: a tap "
        "reads rubber up to 1.5 times stiffer than a truck does; the modes are off that by "
        f"{found.scatter / 2:.1%} in frequency",
        f"their loss factor in transport is {found.loss[0]:.3g} to {found.loss[1]:.3g}",
        *(f"{name}: {NOT_ACROSS}" for name, own in found.ways.items() if list(own) == ["along"]),
        *(f"{name}: {NOT_ALONG}" for name, own in found.ways.items() if "along" not in own),
        f"before: {verdict_sentence(found.before)}",
        f"after: {verdict_sentence(found.after)}",
    ]
    text = bullets("The model corrected: the grade is measured", lines)
    if changed := found.changed():
        rows = [[name, *_found(a), *_found(b)] for name, a, b in changed]
        head = ["check", "before", "left before", "after", "left after"]
        text += "\n\n" + table("What that changes", head, rows)
    return text


def _found(check: Check | None) -> list[str]:
    """What a check says and what is left of it."""
    if check is None:
        return ["not asked", "?"]
    return [check.status, "?" if check.margin is None else f"{check.margin:.0%}"]


def tap_data(tap: RingDown, source: str, found: Correction | None) -> dict[str, Any]:
    """The same as data."""
    return {
        "source": source,
        "modes": [
            {
                "frequency_hz": si(mode, "frequency"),
                "frequency_within_hz": si(mode, "frequency_within"),
                "loss_factor": mode.loss_factor,
                "loss_factor_within": 2 * mode.damping_within,
            }
            for mode in tap.modes
        ],
        "by_hand_damping_ratio": {
            "log decrement": _known(tap.decrement),
            "half power": _known(tap.half_power),
        },
        "model": None if found is None else _model(found),
    }


def _known(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _model(found: Correction) -> dict[str, Any]:
    return {
        "faults": [
            {"name": f.name, "words": f.words, "score": f.score, "to_tell": f.apart}
            for f in found.doubtful
        ],
        "stiffness_over_stated": None if found.factor is None else found.factor.tolist(),
        "loss_factor": None if found.loss is None else found.loss.tolist(),
        "status_before": found.before.status,
        "status_after": None if found.after is None else found.after.status,
        "changed": [[name, a and a.status, b and b.status] for name, a, b in found.changed()],
    }


def pair_page(found: Transfer, source: str) -> str:
    """What two sensors say of the way between them."""
    peak = si_or_none(found, "resonance")
    some = _spread(found.frequency, 20)
    rows = [
        [
            f"{found.frequency[k]:.3g}",
            f"{abs(found.ratio[k]):.3g}",
            f"± {found.error[k]:.0%}",
            f"{found.coherence[k]:.2f}",
        ]
        for k in some
    ]
    first = (
        "no peak in which both sensors agree"
        if peak is None
        else f"{FREQUENCY.text(peak)}, loss factor {2 * found.damping_ratio:.3g}"
    )
    return "\n\n".join(
        [
            f"{source}: what comes through: {first}",
            bullets("How it was read", list(found.sentences)),
            table(
                "Payload over base, H1",
                ["frequency [Hz]", "|T| [-]", "one sigma [-]", "coherence [-]"],
                rows,
            ),
        ]
    )


def pair_data(found: Transfer, source: str) -> dict[str, Any]:
    """The same as data, every line."""
    return {
        "source": source,
        "resonance_hz": si_or_none(found, "resonance"),
        "damping_ratio": _known(found.damping_ratio),
        "frequency_hz": found.frequency.tolist(),
        "ratio": np.abs(found.ratio).tolist(),
        "coherence": found.coherence.tolist(),
        "error": [_known(float(e)) for e in found.error],
    }


def _spread(frequency: np.ndarray[Any, Any], count: int) -> list[int]:
    """Indices of some lines, even in the logarithm."""
    wanted = np.geomspace(frequency[0], frequency[-1], count)
    return sorted(set(np.searchsorted(frequency, wanted).clip(0, len(frequency) - 1).tolist()))


def trip_page(found: TripRecord, source: str, ride: Ride | None = None) -> str:
    """What a trip was like, and what it did on the mounts of a brief."""
    rows = [
        [
            name,
            *(
                digits(_known(float(own[k])), 3)
                for own in (found.rms / G0, found.kurtosis, found.crest)
            ),
        ]
        for k, name in enumerate(found.names)
    ]
    blocks = [
        f"{source}: the record of a trip",
        bullets("How it was read", list(found.sentences)),
        table("Over the whole", ["channel", "rms [g]", "kurtosis [-]", "crest [-]"], rows),
    ]
    if found.shocks:
        some = found.shocks[:MOST_SHOCKS]
        title = f"Shocks, the largest {len(some)} of {len(found.shocks)}"
        blocks.append(bullets(title, [shock.sentence for shock in some]))
    if found.falls:
        blocks.append(bullets("Falls", [fall.sentence for fall in found.falls]))
    if ride is not None:
        blocks += [*_on_mounts(ride), *([] if ride.wear is None else _wear(ride.wear))]
        blocks.append(fill(CAUTION, 98))
    return "\n\n".join(blocks)


def _on_mounts(ride: Ride) -> list[str]:
    """What the payload feels and how far it swings, in time beside what the spectrum gives."""
    felt = [
        [
            f"{one.place} along {one.axis}",
            *(
                digits(value / G0, 3)
                for value in (one.rms, one.rms_by_spectrum, one.peak, one.peak_by_spectrum)
            ),
        ]
        for one in ride.felt
    ]
    gaps = [
        [
            one.face,
            *(_mm(value) for value in (one.gap, one.need, one.need_by_spectrum)),
            _mm(one.gap - one.need),
        ]
        for one in ride.gaps
    ]
    head = ["payload", "rms [g]", "by spectrum [g]", "peak [g]", "by spectrum, Gaussian [g]"]
    room = ["gap to", "gap [mm]", "takes [mm]", "by spectrum [mm]", "left [mm]"]
    return [
        table("On the mounts, in time beside what its spectrum gives", head, felt),
        table("Room, sag and tolerance included", room, gaps),
        bullets("How, and why they differ", [ride.mount, *ride.sentences]),
    ]


def _mm(value: float) -> str:
    return digits(1e3 * value, 3) if np.isfinite(value) else "?"


def _wear(wear: Wear) -> list[str]:
    rows = [
        [f"up to {digits(1e3 * range_, 3)}", digits(float(count), 4), f"{share:.1%}"]
        for range_, count, share in zip(wear.ranges, wear.cycles, wear.share, strict=True)
    ]
    head = ["from end to end [mm]", "cycles", "share of the wear"]
    title = f"Cycles of mount {wear.mount} {wear.way}, which wears most (rainflow)"
    return [table(title, head, rows), bullets("The same wear by Miner", list(wear.test.sentences))]


def trip_data(found: TripRecord, source: str, ride: Ride | None = None) -> dict[str, Any]:
    """The same as data, with the spectra."""
    return {
        "source": source,
        "duration_s": si(found, "duration"),
        "spacing_hz": si(found, "spacing"),
        "averages": found.averages,
        "channels": {
            name: {
                "rms_g": found.rms[k] / G0,
                "kurtosis": _known(float(found.kurtosis[k])),
                "crest": _known(float(found.crest[k])),
                "mean_g2_hz": (found.mean[k] / G0**2).tolist(),
                "highest_g2_hz": (found.highest[k] / G0**2).tolist(),
            }
            for k, name in enumerate(found.names)
        },
        "frequency_hz": found.frequency.tolist(),
        "random_error": found.random_error,
        "shocks": [shock.sentence for shock in found.shocks],
        "falls": None if found.falls is None else [fall.sentence for fall in found.falls],
        "on_mounts": None if ride is None else _ride_data(ride),
    }


def _ride_data(ride: Ride) -> dict[str, Any]:
    wear = ride.wear
    return {
        "leg": ride.leg.name,
        "recorded": list(ride.recorded),
        "felt": [
            {
                "place": one.place,
                "axis": one.axis,
                "rms_g": one.rms / G0,
                "rms_by_spectrum_g": one.rms_by_spectrum / G0,
                "peak_g": one.peak / G0,
                "peak_by_spectrum_g": one.peak_by_spectrum / G0,
            }
            for one in ride.felt
        ],
        "gaps": [
            {
                "face": one.face,
                "gap_mm": _known(1e3 * one.gap),
                "needs_mm": 1e3 * one.need,
                "needs_by_spectrum_mm": 1e3 * one.need_by_spectrum,
            }
            for one in ride.gaps
        ],
        "crest": ride.crest,
        "sentences": [ride.mount, *ride.sentences],
        "wear": None
        if wear is None
        else {
            "mount": wear.mount,
            "way": wear.way,
            "exponent": wear.test.exponent,
            "trip_s": si(wear.test, "trip"),
            "test_s": si(wear.test, "test"),
            "range_mm": (1e3 * wear.ranges).tolist(),
            "cycles": wear.cycles.tolist(),
            "share": wear.share.tolist(),
            "sentences": list(wear.test.sentences),
        },
    }

"""The whole verdict as one object for a program."""

from __future__ import annotations

from typing import Any

from isolator.assessment import Assessment
from isolator.cautions import cautions
from isolator.design import MAIN
from isolator.report.rows import body_rows, main_modes, plain
from isolator.report.words import look_twice, not_checked, verdict_sentence
from isolator.units import refuse_other
from isolator.verdict import Check

SCHEMA = 1


def as_data(assessment: Assessment) -> dict[str, Any]:
    """The whole verdict as one JSON-ready object; None where something is unknown.

    Lists hold one row for each combination named in them. ``axis`` of a vibration row is the
    direction of the response, with all given axes of the road acting together. ``frames`` has the
    further bodies that float, by name, with the same keys as the main payload has at the top.
    A row of ``clearance`` with ``stands_before`` is that between two bodies.
    """
    refuse_other("assessment", assessment, Assessment, "an Assessment, as assess gives one")
    change = assessment.change
    return {
        "schema": SCHEMA,
        "name": assessment.design.name,
        "status": assessment.status,
        "verdict": verdict_sentence(assessment),
        **body_rows(assessment, None),
        "frames": {
            name: {
                "at_mm": [plain(1e3 * v) for v in body.designs[0].middle()],
                "on_lid": body.designs[0].on_lid,
                **body_rows(assessment, name),
            }
            for name, body in assessment.frames.items()
        },
        "conditions": [
            {
                "name": strip.name,
                "status": strip.status,
                "failing": strip.failing,
                "incomplete": strip.incomplete,
                "main_modes_hz": main_modes(strip.tried[MAIN].leg_modes),
                "gap_left_mm": strip.gap_left,
                "worst": None if strip.worst is None else strip.worst.id,
            }
            for strip in assessment.strips
        ],
        "checks": [check_row(check) for check in assessment.checks],
        "change": None
        if change is None
        else {
            "key": change.key,
            "from": change.before,
            "to": change.after,
            "makes": change.makes,
            "still_failing": change.failing,
        },
        "measure_first": [
            {
                "key": one.key,
                "measure": one.measure,
                "checks_unsettled": one.unsettled,
                "least_margin": plain(one.least),
                "least_margin_as_stated": plain(one.stated),
                "least_margin_about": one.about,
                "margins_of": one.body,
            }
            for one in assessment.leverages
        ],
        "cautions": [
            {
                "name": one.name,
                "harm": one.harm,
                "what": one.what,
                "action": one.action,
                "triggered_by": one.triggered_by,
            }
            for one in cautions(assessment)
        ],
        "not_checked": not_checked(assessment),
        "assumed": assessment.assumed(),
        "look_twice": list(look_twice(assessment)),
    }


def check_row(check: Check) -> dict[str, Any]:
    """One check as data."""
    return {
        "id": check.id,
        "demand": check.demand,
        "capacity": check.capacity,
        "unit": check.unit,
        "margin": check.margin,
        "status": check.status,
        "reason": check.reason,
        "at": check.where or None,
        "missing": check.missing or None,
        "source": check.source,
        "grade": check.grade,
        "not_required": check.waived or None,
    }

"""Vibration and shock isolation for cases built by hand.

The formulas take text or quantities and give quantities; the objects describe a payload, its
case, its mounts and its trip; `assess` judges a brief.

>>> import isolator
>>> print(f"{isolator.natural_frequency(stiffness='36 N/mm', mass='12 kg'):~.3f}")
8.717 Hz
"""

from __future__ import annotations

from isolator.version import VERSION as __version__

TYPE_CHECKING = False  # to import it takes longer than all else here
if TYPE_CHECKING:
    from typing import Any

    from isolator import figures
    from isolator.advice import Advice, advise
    from isolator.assessment import Assessment, assess
    from isolator.brief import Brief, read_brief, read_mounts
    from isolator.buildsheet import build_sheet
    from isolator.case import Case
    from isolator.correction import Correction, correct
    from isolator.curve import Curve
    from isolator.cushion import Cushion, CushionPoint, foam_thickness, snubber
    from isolator.design import Design
    from isolator.formulas import (
        LinearDrop,
        linear_drop,
        natural_frequency,
        natural_frequency_from_deflection,
        static_deflection,
        stiffness_for,
        transmissibility,
    )
    from isolator.inside import CornerGap, Inside, Obstacle, Rib
    from isolator.lifting import Carry
    from isolator.logger import read_recording
    from isolator.mount import Mount, Place
    from isolator.panels import Panel, panel
    from isolator.payload import Part, Payload
    from isolator.pulse import Pulse
    from isolator.recorded_trip import trip_record
    from isolator.recording import Recording
    from isolator.report import as_data, fall_data, fall_page, page
    from isolator.report.choice import Choice, choice, choice_data, choice_page
    from isolator.report.files import save_report, save_sheet
    from isolator.ride import Ride, ridden
    from isolator.ringdown import ring_down
    from isolator.robust import Chance, chance
    from isolator.sine import Dwell, Sine, Sweep
    from isolator.siting import Siting, site
    from isolator.survive import Survival, survival
    from isolator.suspension import Suspension
    from isolator.sweep import choose, chosen
    from isolator.template import drill_templates, write_template
    from isolator.trip import Leg, Spectrum, road
    from isolator.units import InputError
    from isolator.weighing import Foot, Swing, Tilt, Weighing
    from isolator.windows import Window, window

__all__ = [
    "Advice",
    "Assessment",
    "Brief",
    "Carry",
    "Case",
    "Chance",
    "Choice",
    "CornerGap",
    "Correction",
    "Curve",
    "Cushion",
    "CushionPoint",
    "Design",
    "Dwell",
    "Foot",
    "InputError",
    "Inside",
    "Leg",
    "LinearDrop",
    "Mount",
    "Obstacle",
    "Panel",
    "Part",
    "Payload",
    "Place",
    "Pulse",
    "Recording",
    "Rib",
    "Ride",
    "Sine",
    "Siting",
    "Spectrum",
    "Survival",
    "Suspension",
    "Sweep",
    "Swing",
    "Tilt",
    "Weighing",
    "Window",
    "__version__",
    "advise",
    "as_data",
    "assess",
    "build_sheet",
    "chance",
    "choice",
    "choice_data",
    "choice_page",
    "choose",
    "chosen",
    "correct",
    "drill_templates",
    "fall_data",
    "fall_page",
    "figures",
    "foam_thickness",
    "linear_drop",
    "natural_frequency",
    "natural_frequency_from_deflection",
    "page",
    "panel",
    "read_brief",
    "read_mounts",
    "read_recording",
    "ridden",
    "ring_down",
    "road",
    "save_report",
    "save_sheet",
    "site",
    "snubber",
    "static_deflection",
    "stiffness_for",
    "survival",
    "transmissibility",
    "trip_record",
    "window",
    "write_template",
]

_LATER = {
    "Case": "isolator.case",
    "Curve": "isolator.curve",
    "Cushion": "isolator.cushion",
    "CushionPoint": "isolator.cushion",
    "foam_thickness": "isolator.cushion",
    "snubber": "isolator.cushion",
    "Design": "isolator.design",
    "LinearDrop": "isolator.formulas",
    "linear_drop": "isolator.formulas",
    "natural_frequency": "isolator.formulas",
    "natural_frequency_from_deflection": "isolator.formulas",
    "static_deflection": "isolator.formulas",
    "stiffness_for": "isolator.formulas",
    "transmissibility": "isolator.formulas",
    "CornerGap": "isolator.inside",
    "Inside": "isolator.inside",
    "Obstacle": "isolator.inside",
    "Rib": "isolator.inside",
    "Carry": "isolator.lifting",
    "Mount": "isolator.mount",
    "Place": "isolator.mount",
    "Part": "isolator.payload",
    "Payload": "isolator.payload",
    "Pulse": "isolator.pulse",
    "Dwell": "isolator.sine",
    "Sine": "isolator.sine",
    "Sweep": "isolator.sine",
    "Suspension": "isolator.suspension",
    "Leg": "isolator.trip",
    "Spectrum": "isolator.trip",
    "road": "isolator.trip",
    "InputError": "isolator.units",
    "Foot": "isolator.weighing",
    "Swing": "isolator.weighing",
    "Tilt": "isolator.weighing",
    "Weighing": "isolator.weighing",
    "Advice": "isolator.advice",
    "advise": "isolator.advice",
    "Chance": "isolator.robust",
    "chance": "isolator.robust",
    "Siting": "isolator.siting",
    "site": "isolator.siting",
    "choose": "isolator.sweep",
    "chosen": "isolator.sweep",
    "Window": "isolator.windows",
    "window": "isolator.windows",
    "choice_page": "isolator.report.choice",
    "choice_data": "isolator.report.choice",
    "choice": "isolator.report.choice",
    "Choice": "isolator.report.choice",
    "read_recording": "isolator.logger",
    "ring_down": "isolator.ringdown",
    "correct": "isolator.correction",
    "Correction": "isolator.correction",
    "trip_record": "isolator.recorded_trip",
    "ridden": "isolator.ride",
    "Ride": "isolator.ride",
    "Recording": "isolator.recording",
    "Assessment": "isolator.assessment",
    "assess": "isolator.assessment",
    "Brief": "isolator.brief",
    "read_brief": "isolator.brief",
    "read_mounts": "isolator.brief",
    "as_data": "isolator.report",
    "fall_data": "isolator.report",
    "fall_page": "isolator.report",
    "Panel": "isolator.panels",
    "panel": "isolator.panels",
    "Survival": "isolator.survive",
    "survival": "isolator.survive",
    "page": "isolator.report",
    "save_report": "isolator.report.files",
    "save_sheet": "isolator.report.files",
    "build_sheet": "isolator.buildsheet",
    "drill_templates": "isolator.template",
    "write_template": "isolator.template",
}


def __getattr__(name: str) -> Any:
    """Import the room of a name when it is first asked for.

    Importing all costs time, and the command answers Ctrl-C only where it has begun.
    """
    from importlib import import_module

    if name in _LATER:
        return getattr(import_module(_LATER[name]), name)
    if name == "figures":
        return import_module("isolator.figures")
    raise AttributeError(f"module 'isolator' has no attribute {name!r}")


def __dir__() -> list[str]:
    """The names that a user may complete."""
    return sorted({*globals(), *__all__})

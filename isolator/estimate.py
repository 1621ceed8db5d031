"""A mount from what people have: hardness and shape, a load rating, kitchen weights, a thumb.

Everything ends in fields of a `mount.Mount`: static curves in the middle of a band, what they may
be over that, and what was taken instead of a measurement, as sentences.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from isolator.block import (
    Rates,
    bottoming_strain,
    bush,
    cord_force,
    disc,
    rectangle,
    ring,
    squeeze,
    squeeze_slope,
)
from isolator.curve import Curve
from isolator.grommet import (
    AXIAL_OFF,
    MOST_PINCH,
    RADIAL_OFF,
    Grommet,
    axial_curve,
    drawn,
    two_flanges,
)
from isolator.mount import FIT, SHEAR_LIMIT, Sizes
from isolator.rubber import Compound, Hardness, cold_points, compound, shear_modulus
from isolator.units import (
    FORCE,
    G0,
    MASS,
    SIZE,
    STIFFNESS,
    InputError,
    si_or_none,
)
from isolator.weights import Measured, combined, slip

KINDS: Mapping[str, tuple[str, ...]] = {
    "pad": ("length", "width", "thickness"),
    "disc": ("diameter", "thickness"),
    "ring": ("diameter", "bore", "thickness"),
    "bobbin": ("diameter", "thickness"),
    "bush": ("diameter", "bore", "length"),
    "o-ring": ("diameter", "cord"),
    "panel grommet": ("sleeve", "hole", "flange", "flange_thickness", "panel"),
    "threaded nut": (
        "sleeve", "hole", "flange", "flange_thickness", "panel", "tube", "tube_length", "draw",
    ),
}  # fmt: skip
"""Shape → the sizes that it needs."""

FACES = ("held", "slipping", "bonded")

SHAPE_OFF = (0.9, 1.1)
"""What the formulas of plain shapes may be off (common practice)."""

NUT_OFF = (0.6, 1.6)
"""What the model of the threaded nut may be off: derived here, compared with nothing."""

RATED_SAG = (1e-3, 6e-3)
"""Deflection under its rated load where nothing else is known (common practice). [m]"""

RATED_ACROSS = (0.3, 1.2)
"""Its stiffness across over that along (common practice). [-]"""

RATED_RATIO, RATED_LOSS = (1.1, 2.0), (0.04, 0.25)
"""Its dynamic ratio and loss factor (common practice). [-]"""

NODES = 10


@dataclass(frozen=True, kw_only=True)
class Shape(Sizes):
    """A piece of rubber, with all sizes that its stiffness needs.

    Parameters
    ----------
    kind : one of `KINDS`
    hardness : text
        ``"40 Shore A"``.
    compound : text, optional
        A rubber of ``data/compounds.csv``; without one nothing is known of how it moves.
    faces : "held", "slipping", "bonded" or None
        Of a pad, disc or ring: dry under load, greased, vulcanised to its plates so that it can be
        pulled, or nobody knows.
    filled : bool, optional
        Of a ring, whether a bolt or sleeve fills its bore.
    length, …, draw : texts or quantities [length]
        See `mount.Sizes`.

    Raises
    ------
    InputError
        A size that is missing, one that cannot be.
    """

    kind: str
    hardness: str
    compound: str | None = None
    faces: str | None = None
    filled: bool | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError(f"Shape.kind = {self.kind!r}: write one of {', '.join(KINDS)}")
        if self.faces not in (*FACES, None):
            raise InputError(f"Shape.faces = {self.faces!r}: write {', '.join(FACES)}")
        lines = [
            f"Shape.{name} is missing: a {self.kind} needs it; measure it"
            for name in KINDS[self.kind]
            if getattr(self, name) is None
        ]
        lines += self._crossed()
        if lines:
            raise InputError(*lines)

    def fields(self) -> dict[str, Any]:
        """Fields of a `mount.Mount`: curves along and across, their bands, and what goes with them.

        Under ``stiffness_from`` stands in sentences where the curves come from, which is no field.

        Raises
        ------
        InputError
            Sizes that cannot be together, a hardness that no relation reaches, an unknown rubber.
        """
        rubber = None if self.compound is None else compound(self.compound, "compound")
        hardness = Hardness.read(self.hardness, "hardness")
        shear = shear_modulus(hardness)
        if not np.isfinite([shear.low, shear.middle, shear.high]).all():
            raise InputError(f"hardness = {self.hardness!r}: {shear.notes[-1]}")
        try:
            made = getattr(self, f"_{self.kind.replace(' ', '_').replace('-', '_')}")(shear.middle)
        except ValueError as error:
            if isinstance(error, InputError):
                raise
            raise InputError(f"Shape.{error}") from None
        softer, harder = shear.low / shear.middle, shear.high / shear.middle
        off = {name: made.pop(f"{name}_off") for name in ("along", "across")}
        within = {name: (softer * low, harder * high) for name, (low, high) in off.items()}
        notes = list(made.pop("notes", ()))
        moves = _of_rubber(rubber, hardness) if rubber else {}
        notes += [note for note in [moves.pop("rubber", "")] if note]
        return {
            "grade": "geometry",
            "within": within,
            "stiffness_from": [f"stiffness from {shear}, static", *shear.notes],
            "notes": notes,
            "source": f"{self.kind} of {hardness}",
            **made,
            **moves,
        }

    def _plain(self, rates: Rates, thickness: float, bonded: bool) -> dict[str, Any]:
        """A block between plates: along by its faces, across by shear."""
        held, slipping = float(rates.stuck), float(rates.slipping)
        bonded = bonded or self.faces == "bonded"
        stiff = slipping if self.faces == "slipping" else held
        low = held if bonded or self.faces == "held" else slipping
        notes = []
        if low < stiff:
            notes.append("whether its faces are held or slip is not known: both (faces)")
        return {
            "along": _pad_curve(stiff, thickness),
            "across": Curve.straight(np.array(float(rates.sheared))),
            "along_off": (SHAPE_OFF[0] * low / stiff, SHAPE_OFF[1]),
            "across_off": SHAPE_OFF,
            "travel": SIZE.quantity(float(bottoming_strain()) * thickness),
            "captive": bonded,
            **({"pull_limit": 0.0} if bonded else {}),
            "rubber_along": SIZE.quantity(thickness),
            "rubber_across": SIZE.quantity(thickness),
            "notes": notes,
        }

    def _pad(self, shear: float) -> dict[str, Any]:
        length, width, thick = (self.size(n) for n in KINDS["pad"])
        return self._plain(rectangle(length, width, thick, shear), thick, False)

    def _disc(self, shear: float) -> dict[str, Any]:
        thick = self.size("thickness")
        return self._plain(disc(self.size("diameter"), thick, shear), thick, False)

    def _bobbin(self, shear: float) -> dict[str, Any]:
        thick = self.size("thickness")
        return self._plain(disc(self.size("diameter"), thick, shear), thick, True)

    def _ring(self, shear: float) -> dict[str, Any]:
        thick = self.size("thickness")
        outer, filled = self.size("diameter"), bool(self.filled)
        return self._plain(
            ring(self.size("bore"), outer, thick, shear, filled=filled), thick, False
        )

    def _bush(self, shear: float) -> dict[str, Any]:
        bore, outer, length = (self.size(n) for n in ("bore", "diameter", "length"))
        rubber = bush(bore, outer, length, shear)
        wall = (outer - bore) / 2
        return {
            "along": Curve.straight(np.array(float(rubber.axial))),
            "across": _pad_curve(float(rubber.radial), wall, both=True),
            "along_off": SHAPE_OFF,
            "across_off": SHAPE_OFF,
            "travel_across": SIZE.quantity(float(bottoming_strain()) * wall),
            "captive": True,
            "rubber_along": SIZE.quantity(wall),
            "rubber_across": SIZE.quantity(wall),
            "squeeze_limit": SHEAR_LIMIT,  # along it is sheared
            "notes": ["how far a bush goes along its axis is not known from its shape (travel)"],
        }

    def _o_ring(self, shear: float) -> dict[str, Any]:
        cord, length = self.size("cord"), np.pi * self.size("diameter")
        d = np.linspace(0.0, 0.5, NODES) * cord
        force = cord_force(d, cord, length, shear)
        curve = Curve.through(d[1:], force[1:])
        sheared = shear * 0.5 * length  # a strip as wide as half its height, G·A/h
        return {
            "along": curve,
            "across": Curve.straight(np.array(sheared)),
            "along_off": SHAPE_OFF,
            "across_off": (0.5, 2.0),
            "travel": SIZE.quantity(0.5 * cord),
            "captive": False,
            "rubber_along": SIZE.quantity(cord),
            "rubber_across": SIZE.quantity(cord),
            "notes": ["across, an O-ring is taken as a strip half as wide as high: a guess"],
        }

    def _grommet(self) -> Grommet:
        a, h, b, t, p = (self.size(n) for n in KINDS["panel grommet"])
        washer = si_or_none(self, "washer")
        return Grommet.of(a / 2, h / 2, b / 2, t, p, None if washer is None else washer / 2)

    def _panel_grommet(self, shear: float) -> dict[str, Any]:
        shape = self._grommet()
        length = si_or_none(self, "sleeve_length")
        t = float(shape.thickness)
        pinch = 0.0 if length is None else float(shape.pinch(length))
        stuck, slipping = float(shape.flange_stuck(shear)), float(shape.flange_slipping(shear))
        tight = max(pinch, 0.0)
        if tight >= float(bottoming_strain()) * t:
            raise InputError(
                f"Shape.sleeve_length = {SIZE.text(length or 0.0)}: it pinches each flange of "
                f"{SIZE.text(t)} by {SIZE.text(pinch)}, which crushes it; a tenth is pinched by "
                f"{SIZE.text(float(shape.sleeve_for(0.1)))}"
            )
        off, off_across = (pair[bool(shape.covered())] for pair in (AXIAL_OFF, RADIAL_OFF))
        across = shape.radial(shear)
        wall, end = float(shape.gap), float(bottoming_strain())
        middle, _ = two_flanges(stuck, t, tight)
        low, _ = two_flanges(slipping, t, tight)
        faults, notes = self._fit(shape, length, pinch)
        if not shape.covered():
            notes.append("its shape is outside of those that the grommet's model was held against")
        return {
            "along": axial_curve((stuck, stuck), (t, t), (tight, tight)),
            "across": _pad_curve(float(across.pushing), wall, both=True),
            "along_off": (float(low / middle) / (1 + off[1]), 1 / (1 + off[0])),
            "across_off": (
                float(across.clear / across.pushing) / (1 + off_across[1]),
                float(across.stuck / across.pushing) / (1 + off_across[0]),
            ),
            "travel": SIZE.quantity(end * t - tight),
            "travel_across": SIZE.quantity(end * wall),
            "captive": True,
            "rubber_along": SIZE.quantity(t),
            "rubber_across": SIZE.quantity(wall),
            "faults": faults,
            "notes": [
                "a grommet by a model of our own that was held against finite elements, never "
                "against measured grommets; its faces dry, greased is the low end",
                *notes,
            ],
        }

    def _fit(
        self, shape: Grommet, length: float | None, pinch: float
    ) -> tuple[list[str], list[str]]:
        """What is wrong with how a grommet sits, and what to know of it."""
        t, faults, notes = float(shape.thickness), list[str](), list[str]()
        tenth = SIZE.text(float(shape.sleeve_for(0.1)))
        if length is None:
            faults.append(
                "no sleeve: tightening the nut will crush it; a sleeve of "
                f"{tenth} pinches each flange by a tenth (sleeve_length)"
            )
        elif pinch <= 0:
            faults.append(
                f"the sleeve is too long: it rattles by {SIZE.text(-2 * pinch)}, and only one "
                f"flange works at a time; {tenth} pinches each flange by a tenth"
            )
        elif pinch > MOST_PINCH * t:
            notes.append(
                f"pinched by {pinch / t:.0%} of a flange, more than {MOST_PINCH:.0%}: hard, and "
                f"outside of what is known; {tenth} pinches by a tenth"
            )
        else:
            notes.append(f"pinched by {pinch / t:.0%} of each flange")
        groove, core = si_or_none(self, "groove"), si_or_none(self, "core")
        panel, hole = float(shape.panel), 2 * float(shape.hole)
        if groove is not None and groove > panel and groove - panel > 2 * max(pinch, 0.0):
            faults.append(
                f"the groove of {SIZE.text(groove)} is wider than the panel of {SIZE.text(panel)}: "
                f"it rattles by {SIZE.text(groove - panel)}; shim the panel or pinch more"
            )
        elif groove is not None and groove < panel:
            notes.append(
                f"the groove of {SIZE.text(groove)} is stretched over a panel of {SIZE.text(panel)}"
            )
        if core is not None and core > 1.1 * hole:
            faults.append(
                f"the core of {SIZE.text(core)} is larger than the hole of {SIZE.text(hole)}: it "
                "does not go in without damage; ream the hole"
            )
        elif core is not None and core < hole:
            notes.append(
                f"the hole of {SIZE.text(hole)} is {SIZE.text(hole - core)} larger than the core, "
                "which touches one side only"
            )
        return faults, notes

    def _threaded_nut(self, shear: float) -> dict[str, Any]:
        shape = self._grommet()
        tube, long, way = (self.size(n) for n in ("tube", "tube_length", "draw"))
        nut = drawn(shape, tube / 2, long, way, shear)
        t, wall, end = float(shape.thickness), float(shape.gap), float(bottoming_strain())
        front = float(shape.flange_stuck(shear))
        pinch, behind = float(nut.flange_pinch), float(nut.tube_pinch)
        back = float(nut.force) / (long * float(squeeze(behind / long))) if way > 0 else 0.0
        captive = float(nut.belly) > float(shape.hole)
        faults, notes = list[str](), list[str]()
        if way <= 0:
            faults.append("the screw was not turned past first contact: it rattles, and pulls out")
        elif not captive:
            faults.append(
                f"its belly of {SIZE.text(2 * float(nut.belly))} is no larger than the hole of "
                f"{SIZE.text(2 * float(shape.hole))}: it pulls out; turn further"
            )
        if behind / long > 0.4:
            notes.append(
                f"the tube is squeezed by {behind / long:.0%}: more than rubber bears for good"
            )
        across = shape.radial(shear)
        curve = axial_curve((front, back), (t, long), (pinch, behind))
        return {
            "along": curve,
            "across": _pad_curve(float(across.pushing), wall, both=True),
            "along_off": NUT_OFF,
            "across_off": (
                NUT_OFF[0] * float(across.clear / across.pushing),
                NUT_OFF[1] * float(across.stuck / across.pushing),
            ),
            "travel": SIZE.quantity(end * t - pinch),
            "travel_across": SIZE.quantity(end * wall),
            "captive": captive,
            "rubber_along": SIZE.quantity(t),
            "rubber_across": SIZE.quantity(wall),
            "faults": faults,
            "notes": [
                f"the tube bulges to {SIZE.text(2 * float(nut.bulge))}, its belly to "
                f"{SIZE.text(2 * float(nut.belly))}, behind a hole of "
                f"{SIZE.text(2 * float(shape.hole))}; a model of our own, compared with nothing",
                "a threaded nut: hold its bonded nut while you turn, for the bond may spin; rubber "
                "holds no clamp load, so a lock nut is the only security",
                *notes,
            ],
        }


def _pad_curve(stiffness: float, height: float, *, both: bool = False) -> Curve:
    """A block that hardens until its end; pulled it goes on straight, or hardens too."""
    d = np.linspace(0.0, float(bottoming_strain()), NODES) * height
    force = stiffness * height * squeeze(d / height)
    slope = stiffness * squeeze_slope(np.maximum(d / height, 1e-12))
    if both:
        return Curve(
            *(np.concatenate([s * v[:0:-1], v]) for v, s in ((d, -1), (force, -1), (slope, 1)))
        )
    return Curve(
        np.concatenate([[-height], d]),
        np.concatenate([[-stiffness * height], force]),
        np.concatenate([[stiffness], slope]),
    )


def _of_rubber(rubber: Compound, hardness: Hardness) -> dict[str, Any]:
    """What its compound says of how a mount moves, cools and creeps."""
    out: dict[str, Any] = {}
    for name, band in (
        ("dynamic_ratio", rubber.dynamic_ratio(hardness.shore_a())),
        ("loss_factor", rubber.loss_factor()),
    ):
        low, high = float(band.low), float(band.high)
        if np.isfinite(low + high):
            out[name] = [low, high]
    resists = ", ".join(f"{what} {how}" for what, how in rubber.resists.items() if how)
    service = rubber.service()
    ends = f"; sold for {service.low:g} to {service.high:g} °C" if service.low < 0 else ""
    out["rubber"] = (
        f"{rubber.key} in general, grades differ: {resists} (common practice){ends}; how it moves, "
        "creeps and cools is recalled from handbooks, low confidence"
    )
    points = [(f.at, f.low, f.high) for f in rubber.of("cold stiffness")]
    creep = rubber.creep()
    if points:
        out["cold_points"] = points
    if np.isfinite(creep.low + creep.high):
        out["creep"] = (float(creep.low), float(creep.high))
    return out


def of_rating(rated_load: float) -> dict[str, Any]:
    """Fields of a mount of which only the rated load [N] is known."""
    low, high = rated_load / RATED_SAG[1], rated_load / RATED_SAG[0]
    middle = float(np.sqrt(low * high))
    across = middle * float(np.sqrt(np.prod(RATED_ACROSS)))
    return {
        "along": STIFFNESS.quantity(middle),
        "across": STIFFNESS.quantity(across),
        "within": {
            "along": (low / middle, high / middle),
            "across": (low * RATED_ACROSS[0] / across, high * RATED_ACROSS[1] / across),
        },
        "dynamic_ratio": list(RATED_RATIO),
        "loss_factor": list(RATED_LOSS),
        "grade": "rating",
        "notes": [
            "only its rated load is known: under it a mount gives way by "
            f"{SIZE.text(RATED_SAG[0])} to {SIZE.text(RATED_SAG[1])}, across it has "
            f"{RATED_ACROSS[0]:g} to {RATED_ACROSS[1]:g} times that stiffness (common practice)"
        ],
    }


def narrowed_by(
    known: Mapping[str, Any], way: str, measured: Measured, name: str
) -> dict[str, Any]:
    """Fields of a mount after a weights test along or across it.

    The measured curve counts, scaled to where it and the estimate meet, weighted by their bands;
    static only: the dynamic ratio keeps its band.

    Parameters
    ----------
    known : mapping
        Fields of `mount.Mount` so far.
    way : "along" or "across"
    measured : Measured
    name : str
        Key of the test, for messages.

    Raises
    ------
    InputError
        A result so far outside of the estimate that only a slip of units explains it.
    """
    within, notes = dict(known.get("within", {})), list(known.get("notes", ()))
    curve, scale = measured.curve(), 1.0
    load = measured.most / 2
    at = float(measured.deflection(load))
    stiff = load / at
    band = stiff * measured.low, stiff * measured.high
    expected = known.get(way)
    if isinstance(expected, Curve):
        guess = float(expected.force(at)) / at
        low, high = within.get(way, (1.0, 1.0))
        if error := slip(stiff, (guess * low, guess * high)):
            raise InputError(
                f"{name}: {STIFFNESS.text(stiff)} measured, {STIFFNESS.text(guess * low)} to "
                f"{STIFFNESS.text(guess * high)} by hardness and shape: {error}? Check units and "
                "sizes"
            )
        if band[0] > guess * high or band[1] < guess * low:
            notes.append(
                f"{way} its axis the weights say {STIFFNESS.text(stiff)}, outside of what "
                f"hardness and shape do, {STIFFNESS.text(guess * low)} to "
                f"{STIFFNESS.text(guess * high)}: measure again"
            )
        low, middle, high = combined((guess * low, guess * high), band)
        scale = middle / stiff
        within[way] = (low / middle, high / middle)
    else:
        within[way] = (measured.low, measured.high)
    said = f"{way} its axis {STIFFNESS.text(stiff)} by test, {_percent(measured)} (95 %)"
    if np.isfinite(measured.lost):
        said += f"; {measured.lost:.0%} of the work of loading does not come back, at this slowness"
    if np.isfinite(measured.add):
        what = (
            f"with {MASS.text(measured.add / G0)} on it" if measured.add else "with nothing on it"
        )
        said += f"; one more reading {what} narrows that to {measured.narrows:.0%} of it"
    notes.append(said)
    out = dict(known) | {way: curve.scaled(scale), "within": within, "notes": notes}
    out["grade"] = "measured"
    if np.isfinite(measured.scatter):
        out["scatter"] = max(measured.scatter, float(known.get("scatter") or 0.0))
    return out


def _percent(measured: Measured) -> str:
    return f"{measured.low - 1:+.0%} to {measured.high - 1:+.0%}"


THUMB, EYE = 0.1, 5e-4
"""± of the force of a thumb, and of its travel, half a millimetre (common practice). [-, m]"""


def push_measured(force: float, travel: float, mounts: int) -> Measured:
    """A thumb on the payload as a test of one mount, as exact as `THUMB` and `EYE`.

    Parameters
    ----------
    force, travel : float
        [N, m]
    mounts : int
        That it pushes together.
    """
    stiff = force / travel / mounts
    off = float(np.hypot(THUMB, EYE / travel))
    return Measured(stiff, np.inf, 1 / (1 + off), 1 + off, np.nan, np.nan, force / mounts)


SHAPE_KEYS = tuple(f.name for f in fields(Shape))
"""What of a kind of mount is its shape."""


def mount_fields(given: Mapping[str, Any], tests: Mapping[str, Measured]) -> dict[str, Any]:
    """Fields of `mount.Mount` from whatever is given of a kind, the best of it.

    What is stated counts before what was measured, that with what hardness and shape say, a load
    rating alone at last. A kind and sizes without a hardness say how a mount sits, not how stiff.

    Parameters
    ----------
    given : mapping
        Fields of `Shape` and of `mount.Mount` as far as they are known.
    tests : mapping of "along" or "across" to Measured

    Raises
    ------
    InputError
        A line for each thing that is missing or cannot be.
    """
    shape = {key: given[key] for key in SHAPE_KEYS if key in given}
    stated = {key: value for key, value in given.items() if key not in SHAPE_KEYS}
    known: dict[str, Any] = {}
    told = {"along", "across"} <= {*stated, *tests}
    if told and "kind" in shape and shape.keys() <= {f.name for f in fields(Sizes)}:
        if shape["kind"] not in KINDS:
            raise InputError(f"kind = {shape['kind']!r}: write one of {', '.join(KINDS)}")
    elif "kind" in shape:
        if "hardness" not in shape:
            raise InputError(
                "hardness is missing: a shape without its rubber says no stiffness; write "
                "'40 Shore A', or state along and across"
            )
        whole = Shape(**shape)
        known = whole.fields() | {"sizes": whole}
    elif alone := [key for key in shape if key not in FIT]:
        raise InputError(f"{alone[0]} stands without kind; write one of {', '.join(KINDS)}")
    elif "rated_load" in stated and not (tests or {"along", "across"} & set(stated)):
        known = of_rating(FORCE.read(stated["rated_load"], "rated_load"))
    for way in ("along", "across"):
        if way in stated and way in known:
            _plausible(stated[way], known, way)
            known.get("within", {}).pop(way, None)
            known.pop(way)
    came_from = known.pop("stiffness_from", [])
    if {"along", "across"} & set(known):
        known["notes"] = [*came_from, *known.get("notes", [])]
    for way, measured in tests.items():
        if way in stated:
            raise InputError(f"{way} stands beside weights, which give it too; keep one of them")
        known = narrowed_by(known, way, measured, "weights" if way == "along" else f"weights_{way}")
    if "stiffening" in stated:
        at, ratio = cold_points(stated.pop("stiffening"))
        stated["cold_points"] = [
            (t, r, r) for t, r in zip(at.tolist(), ratio.tolist(), strict=True)
        ]
    out = known | stated
    if shape and "sizes" not in out:
        out["sizes"] = Sizes(**shape)
    if isinstance(stated.get("within"), int | float) and known.get("within"):
        raise InputError(
            "within stands beside a shape or weights, which give the band too; leave it out"
        )
    missing = [key for key in ("along", "across", "dynamic_ratio") if key not in out]
    if missing:
        raise InputError(*(f"{key} is missing: {WAYS_OUT[key]}" for key in missing))
    return out


WAYS_OUT = {
    "along": (
        "state it, or give kind, hardness and sizes, a weights test, or the rated load alone"
    ),
    "across": "state it, or give kind, hardness and sizes, or weights_across",
    "dynamic_ratio": (
        "state it, or the compound, whose ratio is known at this hardness for most rubbers; 1.1 to "
        "2 is common, and two numbers are a band"
    ),
}
"""What a builder can do about each field that a mount cannot be without."""


def _plausible(given: Any, known: Mapping[str, Any], way: str) -> None:
    """Refuse a stated stiffness that only a slip of units explains beside hardness and shape."""
    if not isinstance(given, str) or not isinstance(known[way], Curve):
        return
    stiff, expected = STIFFNESS.read(given, way), float(known[way].tangent(0.0))
    low, high = (expected * end for end in known["within"].get(way, (1.0, 1.0)))
    if error := slip(stiff, (low, high)):
        raise InputError(
            f"{way} = {STIFFNESS.text(stiff)}: hardness and shape give {STIFFNESS.text(low)} to "
            f"{STIFFNESS.text(high)}: {error}? Check the unit, or leave out hardness"
        )

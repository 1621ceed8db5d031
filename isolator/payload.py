"""What floats: parts, their sum, and the payload as one rigid body."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from isolator.pulse import Pulse
from isolator.units import (
    ACCELERATION,
    FREQUENCY,
    GAP,
    INERTIA,
    MASS,
    POSITION,
    POWER,
    SIZE,
    SPEED,
    FloatArray,
    InputError,
    Measure,
    OptionalMeasure,
    Quantity,
    number,
    si,
    si_array,
    si_array_or_none,
    si_or_none,
)

MOMENT = INERTIA.within(-np.inf, np.inf)
"""An entry of an inertia matrix: a moment, or a product of either sign."""

INERTIA_BAND = (1.0, 0.5, 0.7, 1.35, 5.0 / 3.0)
"""Inertia of a box of which only mass and size are known, over that of a uniform box.

The first is the uniform box. 5/3 is a thin shell in the shape of a cube (computed: 5/18 against
1/6 of m·a²); 0.5 is the same mass packed into the inner 71 % of every dimension.
"""

MASS_WITHIN = MASS.within(0.0)
"""What a mass may be off; nothing at all where it is exact."""

CORNERS = tuple(a + b + c for a in "-+" for b in "-+" for c in "-+")
"""Names of the eight corners of a box by the signs of x, y, z."""

SIGNS = np.array([[1.0 if s == "+" else -1.0 for s in name] for name in CORNERS])
"""The same as numbers, (8, 3)."""


KINDS = ("board", "disc", "fan", "mast", "other")

COMPONENTS = {
    "dip": 1.0,
    "side-brazed": 1.26,
    "leadless": 2.25,
    "j-lead": 1.26,
    "bga": 1.75,
    "axial": 0.75,
}
"""Steinberg's factor C by the type of an electronic component (published). [-]"""

STEINBERG = ("board_length", "board_thickness", "component_length", "component_place")
"""What Steinberg's deflection limit asks of a board beside the type of its component."""


def box_corners(size: FloatArray) -> FloatArray:
    """Corners (8, 3) of a box of a size (3,) about its middle, in the order of `CORNERS`."""
    return np.asarray(SIGNS * size / 2)


@dataclass(frozen=True, kw_only=True)
class Part:
    """One thing that floats, or that is rigid in the case.

    Parameters
    ----------
    name : str
    mass : text or quantity [mass]
    position : three texts or a quantity [length]
        Its middle, from the middle of the payload's box.
    shape : "box", "cylinder" or "point"
    size : three texts or a quantity [length]
        Outer size along x, y, z; not for a point. A cylinder's size along `axis` is its length,
        the other two are its diameter.
    axis : "x", "y" or "z"
        Of a cylinder.
    kind : "board", "disc", "fan", "mast" or "other"
    vibration_limit : text or quantity [acceleration], optional
        Rms acceleration along any axis that it survives: of itself where it has a resonance, of
        its feet where it has none.
    fragility : text or quantity [acceleration], optional
        Peak specific force at its feet that it survives.
    resonance : text or quantity [frequency], optional
        Of its own on what holds it; left out, it is as rigid as the payload.
    amplification : number, optional
        At that resonance, 1 or more.
    speed : text or quantity [frequency], optional
        At which it turns: a source inside, "1000 rpm".
    blades : number, optional
        Of a fan; they beat at as many times its speed.
    board_length, board_thickness, component_length : text or quantity [length], optional
        Of a board along the component that counts; its thickness; that component.
    component_place : number, optional
        Steinberg's position factor: 1 in the middle of the board, 0.5 at a quarter of both sides.
    component : one of `COMPONENTS`, optional

    Raises
    ------
    InputError
        Wrong units or limits; a box or cylinder without size; a cylinder that is not round; an
        amplification or blades without what they belong to.

    Examples
    --------
    >>> disc = Part(name="disc", mass="2 kg", position=["0 mm"] * 3, shape="cylinder",
    ...             size=["200 mm", "200 mm", "20 mm"])
    >>> print(f"{disc.own_inertia()[2, 2]:.3f}")
    0.010
    """

    name: str
    mass: Measure = Measure(MASS)
    position: Measure = Measure(POSITION, shape=(3,))
    shape: Literal["box", "cylinder", "point"] = "box"
    size: OptionalMeasure = OptionalMeasure(SIZE, shape=(3,))
    axis: Literal["x", "y", "z"] = "z"
    kind: Literal["board", "disc", "fan", "mast", "other"] = "other"
    vibration_limit: OptionalMeasure = OptionalMeasure(ACCELERATION)
    fragility: OptionalMeasure = OptionalMeasure(ACCELERATION)
    resonance: OptionalMeasure = OptionalMeasure(FREQUENCY)
    amplification: float | None = None
    speed: OptionalMeasure = OptionalMeasure(FREQUENCY)
    blades: float | None = None
    board_length: OptionalMeasure = OptionalMeasure(SIZE)
    board_thickness: OptionalMeasure = OptionalMeasure(SIZE)
    component_length: OptionalMeasure = OptionalMeasure(SIZE)
    component_place: float | None = None
    component: str | None = None

    def __post_init__(self) -> None:
        self._dynamics()
        if self.shape not in ("box", "cylinder", "point"):
            raise InputError(
                f"Part.shape = {self.shape!r}: not a known shape; write box, cylinder or point"
            )
        size = si_array_or_none(self, "size")
        if self.shape == "point":
            return
        if size is None:
            raise InputError(
                f"Part.size of {self.name!r} is missing: a {self.shape} needs one; "
                'give its size along x, y, z or shape = "point"'
            )
        if self.shape == "cylinder":
            if self.axis not in ("x", "y", "z"):
                raise InputError(f"Part.axis = {self.axis!r}: not an axis; write x, y or z")
            across = np.delete(size, "xyz".index(self.axis))
            if abs(across[0] - across[1]) > 1e-6 * across.max():
                raise InputError(
                    f"Part.size of {self.name!r}: a cylinder along {self.axis} needs one diameter "
                    f"across it, not {SIZE.text(across[0])} and {SIZE.text(across[1])}"
                )

    def _dynamics(self) -> None:
        """Read what it does when it is shaken."""
        if self.kind not in KINDS:
            raise InputError(
                f"Part.kind = {self.kind!r}: not a kind; write one of {', '.join(KINDS)}"
            )
        if self.component is not None and self.component not in COMPONENTS:
            known = ", ".join(COMPONENTS)
            raise InputError(
                f"Part.component = {self.component!r}: no such type; write one of {known}"
            )
        for name, low, high in (
            ("amplification", 1.0, 1000.0),
            ("blades", 2.0, 100.0),
            ("component_place", 0.1, 1.0),
        ):
            if (value := getattr(self, name)) is not None:
                object.__setattr__(self, name, number(value, f"Part.{name}", low, high))
        if self.blades is not None and self.blades != round(self.blades):
            raise InputError(f"Part.blades = {self.blades:g}: not a count; write a whole number")
        for name, of in (("amplification", "resonance"), ("blades", "speed")):
            if getattr(self, name) is not None and getattr(self, of) is None:
                raise InputError(
                    f"Part.{of} of {self.name!r} is missing: {name} belongs to it; give both, or "
                    "neither"
                )

    @property
    def is_board(self) -> bool:
        """Whether anything of Steinberg's limit is given."""
        return any(getattr(self, name) is not None for name in (*STEINBERG, "component"))

    @property
    def asks(self) -> bool:
        """Whether anything is given that a check of this part would need."""
        limits = ("vibration_limit", "fragility", "resonance", "speed")
        given = any(getattr(self, name) is not None for name in limits)
        return given or self.is_board or self.kind in ("fan", "disc")

    def own_inertia(self) -> FloatArray:
        """Inertia (3, 3) about its own middle. [kg·m²]"""
        size = si_array_or_none(self, "size")
        if size is None or self.shape == "point":
            return np.zeros((3, 3))
        square = size**2
        if self.shape == "box":
            return np.asarray(si(self, "mass") / 12 * np.diag(square.sum() - square))
        k = "xyz".index(self.axis)
        radius = np.delete(size, k)[0] / 2
        across = (3 * radius**2 + square[k]) / 12
        moments = np.full(3, across)
        moments[k] = radius**2 / 2
        return np.asarray(si(self, "mass") * np.diag(moments))


OF_FRAGILITY = ("fragility_pulse", "critical_velocity")
"""What says nothing without a fragility."""


@dataclass(frozen=True, kw_only=True)
class Payload:
    """The rigid body that floats.

    Parameters
    ----------
    mass : text or quantity [mass]
    size : three texts or a quantity [length]
        Outer size along x, y, z: what must not touch.
    centre : three texts or a quantity [length], optional
        Centre of gravity from the middle of that box. Left out, the middle is taken and the
        verdict says that nobody checked it.
    inertia : three or 3 × 3 texts or a quantity [mass·length²], optional
        About the centre of gravity. Left out, a band about a uniform box is carried
        (`INERTIA_BAND`).
    fragility : text or quantity [acceleration], optional
        Peak specific force that it survives, not running.
    fragility_pulse : Pulse, optional
        Shape and duration of the pulse with which that was measured; its peak is `fragility`.
    critical_velocity : text or quantity [speed], optional
        Velocity change up to which no peak damages it.
    running_fragility : text or quantity [acceleration], optional
        Peak that it survives while it runs.
    vibration_limit : text or quantity [acceleration], optional
        Rms acceleration that it survives for the whole trip.
    bending : text or quantity [frequency], optional
        Its own first bending mode, held as it is on its mounts.
    power : text or quantity [power], optional
        That it turns into heat while it runs, 0 for none.
    mains, lithium : bool, optional
        Whether mains voltage is inside, and lithium cells.
    mass_within : text or quantity [mass], optional
        What the mass may be off, up or down.
    centre_within : three texts or a quantity [length], optional
        What the centre of gravity may be off along x, y, z, either way. Every check is then the
        worst over the ends of both, see `Design.variants`.
    height_known : bool
        False where the z of `centre` is only the middle of the box: what hangs on it stays open.
    listed : text or quantity [mass], optional
        What a parts table adds up to, where the mass comes from a scale.
    notes : sequence of str
        What was taken where nothing was measured, for the page.
    source : str
        Where the numbers come from.
    parts : sequence of Part
        That it is the sum of, if it is: see `of_parts`.

    Raises
    ------
    InputError
        Wrong units or limits, an inertia that no body has, a mass that may be off by itself, a
        centre that nobody gave but that may be off, what belongs to a fragility without one.

    Examples
    --------
    >>> tray = Payload(mass="12 kg", size=["400 mm", "300 mm", "150 mm"])
    >>> print(f"{tray.inertias()[0][2, 2]:.2f}")
    0.25
    """

    mass: Measure = Measure(MASS)
    size: Measure = Measure(SIZE, shape=(3,))
    centre: OptionalMeasure = OptionalMeasure(POSITION, shape=(3,))
    inertia: OptionalMeasure = OptionalMeasure(MOMENT, shape=None)
    fragility: OptionalMeasure = OptionalMeasure(ACCELERATION)
    fragility_pulse: Pulse | None = None
    critical_velocity: OptionalMeasure = OptionalMeasure(SPEED)
    running_fragility: OptionalMeasure = OptionalMeasure(ACCELERATION)
    vibration_limit: OptionalMeasure = OptionalMeasure(ACCELERATION)
    bending: OptionalMeasure = OptionalMeasure(FREQUENCY)
    power: OptionalMeasure = OptionalMeasure(POWER)
    mains: bool | None = None
    lithium: bool | None = None
    mass_within: OptionalMeasure = OptionalMeasure(MASS_WITHIN)
    centre_within: OptionalMeasure = OptionalMeasure(GAP, shape=(3,))
    height_known: bool = True
    listed: OptionalMeasure = OptionalMeasure(MASS)
    notes: Sequence[str] = ()
    source: str = ""
    parts: Sequence[Part] = ()

    def __post_init__(self) -> None:
        inertia = si_array_or_none(self, "inertia")
        if inertia is not None:
            _check_inertia(inertia)
        for name in ("mains", "lithium"):
            if (given := getattr(self, name)) not in (True, False, None):
                raise InputError(f"Payload.{name} = {given!r}: write true or false")
        mass, within = si(self, "mass"), si_or_none(self, "mass_within") or 0.0
        if within >= mass:
            raise InputError(
                f"Payload.mass_within = {MASS.text(within)}: not below the mass of "
                f"{MASS.text(mass)}; a slip of units?"
            )
        if self.centre_within is not None and self.centre is None:
            raise InputError(
                "Payload.centre_within stands without centre; give the centre of gravity that it "
                "is about"
            )
        alone = [name for name in OF_FRAGILITY if getattr(self, name) is not None]
        if alone and self.fragility is None:
            raise InputError(
                *(
                    f"Payload.{name} stands without fragility, the peak that it goes with; add "
                    "fragility"
                    for name in alone
                )
            )
        if self.fragility_pulse is not None and self.fragility_pulse.shape == "record":
            raise InputError(
                "Payload.fragility_pulse is a record; give the shape and duration nearest to it"
            )

    @classmethod
    def of_parts(
        cls,
        parts: Sequence[Part],
        *,
        size: str | Quantity | Sequence[str | Quantity],
        fragility: str | Quantity | None = None,
        fragility_pulse: Pulse | None = None,
        critical_velocity: str | Quantity | None = None,
        running_fragility: str | Quantity | None = None,
        vibration_limit: str | Quantity | None = None,
        bending: str | Quantity | None = None,
        mass_within: str | Quantity | None = None,
        centre_within: str | Quantity | Sequence[str | Quantity] | None = None,
        source: str = "sum of the parts",
    ) -> Payload:
        """The sum of a parts table: mass, centre and inertia by the parallel-axis theorem.

        Raises
        ------
        InputError
            No parts, two parts of one name, or nothing that could turn: points in one line.
        """
        if not parts:
            raise InputError("parts = []: the parts table is empty; list at least one part")
        names = [p.name for p in parts]
        for name in names:
            if names.count(name) > 1:
                raise InputError(f"parts: the name {name!r} is used twice; give each part its own")
        mass = np.array([si(p, "mass") for p in parts])
        at = np.array([si_array(p, "position") for p in parts])
        centre = mass @ at / mass.sum()
        inertia = np.zeros((3, 3))
        for m, r, part in zip(mass, at - centre, parts, strict=True):
            inertia += part.own_inertia() + m * (r @ r * np.eye(3) - np.outer(r, r))
        return cls(
            mass=MASS.quantity(float(mass.sum())),
            size=size,
            centre=POSITION.quantity(centre),
            inertia=INERTIA.quantity(inertia),
            fragility=fragility,
            fragility_pulse=fragility_pulse,
            critical_velocity=critical_velocity,
            running_fragility=running_fragility,
            vibration_limit=vibration_limit,
            bending=bending,
            mass_within=mass_within,
            centre_within=centre_within,
            source=source,
            parts=tuple(parts),
        )

    def ends(self) -> Iterator[Payload]:
        """The payload at every corner of what its mass and its centre may be off.

        None if nothing may be off, else up to sixteen, each exact; no centre lies outside its box.
        A given inertia stays, and what parts add up to is held against the middle alone.
        """
        mass_within = si_or_none(self, "mass_within") or 0.0
        given = si_array_or_none(self, "centre_within")
        centre_within = np.zeros(3) if given is None else given
        steps = [(-w, w) if w > 0 else (0.0,) for w in (mass_within, *centre_within)]
        if not mass_within and not centre_within.any():
            return
        middle = self.centre_of_gravity()
        half = np.maximum(si_array(self, "size") / 2, np.abs(middle))
        for heavier, *aside in product(*steps):
            yield replace(
                self,
                mass=MASS.quantity(si(self, "mass") + heavier),
                centre=None
                if self.centre is None
                else POSITION.quantity(np.clip(middle + aside, -half, half)),
                mass_within=None,
                centre_within=None,
                listed=None,
            )

    def corners(self) -> FloatArray:
        """Corners (8, 3) of the box from the centre of gravity, in the order of `CORNERS`. [m]"""
        return box_corners(si_array(self, "size")) - self.centre_of_gravity()

    def centre_of_gravity(self) -> FloatArray:
        """Centre of gravity (3,) from the middle of the box; the middle if unknown. [m]"""
        centre = si_array_or_none(self, "centre")
        return np.zeros(3) if centre is None else centre

    def inertias(self) -> FloatArray:
        """Inertia (b, 3, 3) across its band, the nominal first; b is 1 if it is known. [kg·m²]"""
        inertia = si_array_or_none(self, "inertia")
        if inertia is not None:
            return (np.diag(inertia) if inertia.ndim == 1 else inertia)[None]
        square = si_array(self, "size") ** 2
        box = si(self, "mass") / 12 * np.diag(square.sum() - square)
        return np.asarray(np.multiply.outer(np.array(INERTIA_BAND), box))


def _check_inertia(inertia: FloatArray) -> None:
    if inertia.shape not in ((3,), (3, 3)):
        raise InputError(
            f"Payload.inertia has shape {inertia.shape}: give three moments about x, y, z, "
            "or a 3 × 3 matrix"
        )
    matrix = np.diag(inertia) if inertia.ndim == 1 else inertia
    if not np.allclose(matrix, matrix.T, rtol=1e-6, atol=1e-9 * np.abs(matrix).max()):
        raise InputError(
            "Payload.inertia is not symmetric: the products of inertia must be the same on both "
            "sides of the diagonal"
        )
    moments = np.linalg.eigvalsh(matrix)
    if moments[0] <= 1e-9 * moments[2]:
        raise InputError(
            f"Payload.inertia has the principal moment {INERTIA.text(moments[0])}: no body turns "
            "without inertia; every principal moment must be above 0, and parts that are points "
            "need a size or one part beside their line"
        )
    if moments[2] > moments[:2].sum() * (1 + 1e-6):
        raise InputError(
            f"Payload.inertia has the principal moments "
            f"{', '.join(INERTIA.text(m) for m in moments)}: no body has one larger than the sum "
            "of the other two; check which moment belongs to which axis"
        )

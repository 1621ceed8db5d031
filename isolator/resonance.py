"""What single parts feel: on the payload at their own place, or fixed in the case; their own
resonances; boards.

A part with a resonance is one mass on one spring that rides on the point where it stands and
does not move it: a = T_part(ω)·a_point, with T = λ/(λ − ω²) as for a mode. Far above a resonance
damping decides, and nobody knows of which kind it is, so every part with a resonance is read
with both: structural, λ = ω0²(1 + iη), and viscous, λ = ω0²(1 + iηω/ω0), which dissipates the
same at the resonance (η = 2ζ = 1/Q).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from isolator.design import Design
from isolator.payload import COMPONENTS, STEINBERG, Part
from isolator.shock import Drop, jolt
from isolator.spectrum import density_at
from isolator.suspension import (
    ANY_LOSS,
    ATTITUDES,
    ComplexArray,
    Modes,
    Pose,
    Suspension,
    motion_at,
)
from isolator.trip import AXES, Leg
from isolator.units import G0, FloatArray, si, si_array, si_or_none
from isolator.vibration import panels

READINGS = ("structural", "viscous")

TAKES_PART = 0.05
"""A mode moves a point if it has this share or more of what the point yields to a force there."""

THIRD = 2.0 ** (1 / 3)
"""A third of an octave."""

DEFLECTION = 0.00022
"""Steinberg's three-sigma limit is this times B/(C h r √L), all lengths in inches. [in]"""

INCH = 0.0254

STRONG = 0.5
"""A band of a spectrum is strong above this share of the largest density."""


@dataclass(frozen=True)
class SingleParts:
    """What the parts that are asked for (p) feel on one leg, in designs (b).

    Attributes
    ----------
    parts : sequence of (Part, bool)
        And whether it floats.
    felt : (2, b, p, 3) array
        Rms acceleration of each, or of its feet where it has no resonance, by the reading of
        the damping, the worst of the inertia band, all given axes of the road together; nan where
        something is unknown. [m/s²]
    frequency : (b, i, 6) array
        Undamped modes of the mounts. [Hz]
    moves : (b, i, p, 6) bool array
        Whether a mode moves the place of a part; of a fixed one, the centre of the payload.
    drop : (b, l, p) array
        Bound of the specific force at its feet along one axis in each landing, see `shock.jolt`;
        nan without a drop, for a fixed one, and where none that floats has a fragility. [m/s²]
    """

    parts: Sequence[tuple[Part, bool]]
    felt: FloatArray
    frequency: FloatArray
    moves: npt.NDArray[np.bool_]
    drop: FloatArray


def single_parts(
    leg: Leg,
    designs: Sequence[Design],
    there: Suspension,
    inertia: FloatArray,
    pose: Pose,
    unusable: npt.NDArray[np.bool_],
    rigid: npt.NDArray[np.bool_],
    flat: Drop | None,
) -> SingleParts | None:
    """The parts of designs (b,) that share them, on one leg; None where none is asked for.

    Parameters
    ----------
    leg : Leg
    designs : sequence of Design
    there : Suspension of (b,), at the leg's temperature
    inertia : (b, i, 3, 3) array
        Inertia band. [kg·m²]
    pose : Pose of (b,)
    unusable, rigid : (b,) bool arrays
        Where the response is unknown; where the mounts are rigid in the cold.
    flat : Drop of (b, l), or None
    """
    parts = designs[0].asking()
    if not parts:
        return None
    at = places(designs, parts)
    frequency, moves = moved(there, inertia, pose, at)
    blank = there.loss_unknown() | unusable
    felt = np.full((2, len(designs), len(parts), 3), np.nan)
    if leg.vibrates and any(leg.spectrum(axis) for axis in AXES):
        modes = there.across(inertia, ANY_LOSS).modes(pose.repeated())
        spot = at @ np.swapaxes(pose.turn, -1, -2)
        for p, (part, floats) in enumerate(parts):
            if part.resonance is not None and part.amplification is None:
                continue
            if floats:
                riding = _together(leg, part, modes, spot[:, None, p]).max(axis=2)
                felt[:, :, p] = np.where(blank[:, None], np.nan, riding)
            if not floats or rigid.any():
                bolted = _together(leg, part, None, None)[:, None]
                felt[:, :, p] = np.where(rigid[:, None] | (not floats), bolted, felt[:, :, p])
    drop = np.full((len(designs), len(leg.faces()), len(parts)), np.nan)
    if flat is not None and any(f and p.fragility is not None for p, f in parts):
        restitution = np.array([design.case.restitution or 0.0 for design in designs])
        felt_most = jolt(
            replace(there.dynamic().repeated().repeated(), inertia=inertia[:, None]),
            np.array([ATTITUDES[landing] for landing in leg.faces()])[:, None],
            si(leg, "drop"),
            motion_at(at)[:, None, None],
            flat.peak_most[..., None] * G0,
            restitution=restitution[:, None, None],
        )
        floating = [floats for _, floats in parts]
        drop = np.where(floating, felt_most.max(axis=(2, 4)), np.nan)
    return SingleParts(parts, felt, frequency, moves, drop)


def places(designs: Sequence[Design], parts: Sequence[tuple[Part, bool]]) -> FloatArray:
    """Where each part stands from the centre of gravity, (b, p, 3); a fixed one there. [m]"""
    return np.array(
        [
            [
                si_array(part, "position") - design.payload.centre_of_gravity()
                if floats
                else np.zeros(3)
                for part, floats in design.asking()
            ]
            for design in designs
        ]
    ).reshape(len(designs), len(parts), 3)


def moved(
    there: Suspension, inertia: FloatArray, pose: Pose, at: FloatArray
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Undamped modes across the inertia band, and which of them move the points.

    A unit mode shape φ moves a point by φ, and m φ² is 1 for a payload that only shifts.

    Parameters
    ----------
    there : Suspension of (b,)
    inertia : (b, i, 3, 3) array
        [kg·m²]
    pose : Pose of (b,)
    at : (b, p, 3) array
        From the centre of gravity, unloaded pose. [m]

    Returns
    -------
    frequency : (b, i, 6) array
        [Hz]
    moves : (b, i, p, 6) bool array
    """
    still = replace(
        there,
        loss_factor=np.zeros_like(there.loss_factor),
        cable_loss=np.zeros_like(there.cable_loss),
    ).repeated()
    modes = replace(still, inertia=inertia).modes(pose.repeated())
    rows = motion_at(at @ np.swapaxes(pose.turn, -1, -2))[:, None]
    square = np.abs(rows @ modes.shape[..., None, :, :]) ** 2
    moves = np.asarray(there.mass)[:, None, None, None, None] * square > TAKES_PART
    frequency = modes.natural
    return frequency, np.asarray(moves.any(axis=-2))


def _together(leg: Leg, part: Part, modes: Modes | None, point: FloatArray | None) -> FloatArray:
    """Rms of a part by reading and axis, all given axes of the road together, (2, ..., 3)."""
    total = np.zeros(())
    for k, axis in enumerate(AXES):
        if (spectrum := leg.spectrum(axis)) is None:
            continue
        density = spectrum.density * leg.level**2
        resonance, amplification = si_or_none(part, "resonance"), part.amplification or 1.0
        if modes is None or point is None:
            along = bolted_response(spectrum.lines, density, resonance, amplification)
            total = total + along[:, None] * np.eye(3)[k]
        else:
            total = total + riding_response(
                modes, point, k, spectrum.lines, density, resonance, amplification
            )
    return np.asarray(np.sqrt(total))


def riding_response(
    modes: Modes,
    point: npt.ArrayLike,
    axis: int,
    lines: FloatArray,
    density: FloatArray,
    resonance: float | None,
    amplification: float = 1.0,
) -> FloatArray:
    """Mean square acceleration of a part that rides on a floating payload.

    ∫ |T_part(ω)|² |Σ φ (share·a) λ/(λ − ω²)|² W(f) df over the range of the lines, on the panels
    of `vibration.panels` with the part's resonance among them. The viscous reading keeps the
    shapes of the modes and lets the loss of each grow with the frequency: exact where all mounts
    have one loss factor.

    Parameters
    ----------
    modes : Modes of designs (...)
    point : (..., 3) array
        From the centre of gravity. [m]
    axis : int
        Case axis that moves: 0, 1, 2 for x, y, z.
    lines, density : (n,) arrays
        Spectrum of the case's acceleration. [Hz, (m/s²)²/Hz]
    resonance : float or None
        None for a part that is rigid on the payload; both readings are then structural. [Hz]
    amplification : float
        At the resonance, Q = 1/η. [-]

    Returns
    -------
    (2, ..., 3) array
        In the order of `READINGS`. [(m/s²)²]
    """
    value, own = modes.eigenvalue, _pole(resonance, amplification)
    poles = np.concatenate([value, np.broadcast_to(own, (*value.shape[:-1], own.size))], axis=-1)
    frequency, weight = panels(poles, lines, density)
    omega = 2 * np.pi * frequency[..., None, :]
    at = (motion_at(point) @ modes.shape) * modes.share[..., None, :, axis]

    def square(viscous: bool) -> FloatArray:
        gain = _gain(poles, omega, viscous)
        felt = (at @ gain[..., :6, :]) * gain[..., 6:, :].prod(axis=-2, keepdims=True)
        return np.asarray((np.abs(felt) ** 2 * weight[..., None, :]).sum(axis=-1))

    structural = square(False)
    return np.stack([structural, structural if resonance is None else square(True)])


def bolted_response(
    lines: FloatArray, density: FloatArray, resonance: float | None, amplification: float = 1.0
) -> FloatArray:
    """Mean square acceleration of a part that feels the spectrum itself, (2,). [(m/s²)²]

    ∫ |T_part(ω)|² W(f) df over the range of the lines; arguments as for `riding_response`.

    Examples
    --------
    Miles says 7.927 g for 200 Hz with Q 20 on 0.01 g²/Hz; exact with viscous damping, √(1 + 1/Q²)
    times as much.

    >>> wide = np.array([0.1, 1e5])
    >>> square = bolted_response(wide, np.array([.01, .01]), 200., 20.)
    >>> print(f"{square[1] ** .5:.2f}")
    7.94
    """
    poles = _pole(resonance, amplification)
    frequency, weight = panels(poles, lines, density)
    omega = 2 * np.pi * frequency[None, :]
    both = [np.abs(_gain(poles, omega, viscous).prod(axis=-2)) ** 2 for viscous in (False, True)]
    return np.asarray((np.stack(both) * weight).sum(axis=-1))


def _pole(resonance: float | None, amplification: float) -> ComplexArray:
    if resonance is None:
        return np.zeros(0, dtype=complex)
    return np.atleast_1d((2 * np.pi * resonance) ** 2 * (1 + 1j / amplification))


def _gain(poles: ComplexArray, omega: FloatArray, viscous: bool) -> ComplexArray:
    """Transmissibility of every resonance, (..., k, f)."""
    stored, lost = poles.real[..., None], poles.imag[..., None]
    if viscous:
        lost = lost * omega / np.sqrt(np.maximum(stored, 1e-12))
    value = stored + 1j * lost
    return np.asarray(value / (value - omega**2))


def strength(lines: FloatArray, density: FloatArray, resonance: float) -> tuple[float, float]:
    """Largest density within a third of an octave of a resonance, over that of the spectrum.

    Returns
    -------
    share, at : float
        0 where the spectrum has no lines there; where it is largest. [-, Hz]

    Examples
    --------
    >>> strength(np.array([10., 100.]), np.array([1., .1]), 20.)[1].__round__(3)
    15.874
    """
    inside = lines[(lines > resonance / THIRD) & (lines < resonance * THIRD)]
    probe = np.array([resonance / THIRD, resonance, resonance * THIRD, *inside])
    there = density_at(probe, lines, density)
    top = int(there.argmax())
    return float(there[top] / density.max()), float(probe[top])


def board_deflection(acceleration: npt.ArrayLike, resonance: npt.ArrayLike) -> FloatArray:
    """Three-sigma deflection of the middle of a board at its resonance (Steinberg).

    Z = 3 a/(2πf)², which in inches, g and hertz is 3·9.8 G/f².

    Parameters
    ----------
    acceleration : (...) array
        Rms response of the board. [m/s²]
    resonance : (...) array
        [Hz]

    Returns
    -------
    (...) array
        Single amplitude. [m]

    Examples
    --------
    >>> print(f"{board_deflection(9.80665, 1.0) / 3 / .0254:.1f}")
    9.8
    """
    return np.asarray(3 * np.asarray(acceleration) / (2 * np.pi * np.asarray(resonance)) ** 2)


def board_limit(part: Part) -> float | None:
    """Three-sigma deflection that a component on a board survives, None if not all is given. [m]

    0.00022 B/(C h r √L) inches with all lengths in inches (Steinberg, 3rd edition; published):
    B the board's length along the component, h its thickness, L the length of the component, r
    its place and C its type. For components on leads and joints, twenty million stress reversals.

    Examples
    --------
    >>> dip = Part(name="board", mass="0.3 kg", position=["0 mm"] * 3, shape="point",
    ...     board_length="8 in", board_thickness="0.1 in", component_length="4 in",
    ...     component_place=1, component="dip")
    >>> print(f"{board_limit(dip) / .0254:.4f}")
    0.0088
    """
    if part.component is None or any(getattr(part, name) is None for name in STEINBERG):
        return None
    across, thick, length = (
        si(part, name) / INCH for name in ("board_length", "board_thickness", "component_length")
    )
    place, factor = part.component_place or 1.0, COMPONENTS[part.component]
    return float(INCH * DEFLECTION * across / (factor * thick * place * np.sqrt(length)))

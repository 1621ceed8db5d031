"""The panel grommet on a sleeve, and the threaded rubber nut.

A ring of rubber with an H section sits in a hole of a panel, a sleeve runs through its bore,
washers press on both flanges, and the sleeve's length sets the pinch. A derivation of our own with
a finite-element check (computed); nothing here was compared with measured grommets. The plain sum
of two pads and a bush misses by −25 to −81 %, for the rubber inside of the hole moves with the
sleeve.

Lengths in m, shear modulus in Pa, stiffness in N/m; arrays broadcast over leading axes.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from isolator.block import bottoming_strain, bush_radial, ring_modulus, squeeze, squeeze_slope
from isolator.curve import Curve
from isolator.units import FloatArray

EDGE = 2 * np.log(2) / np.pi
"""How far a plate's edge reaches into rubber that is held, over its thickness."""

EDGE_SLIPPING, EDGE_RADIAL = 0.37, 0.72
"""The same with slipping faces and for a drag across, fitted to finite elements."""

CORE = 0.057
"""How far the rubber over the core gives way, fitted likewise."""

INSIDE_E, INSIDE_P = (0.55, 2.5), 1.3
"""Where the model was held against finite elements: e/t between, p/t below."""

AXIAL_OFF = {True: (-0.07, 0.10), False: (-0.07, 0.13)}
RADIAL_OFF = {True: (-0.11, 0.13), False: (-0.17, 0.11)}
"""Error of the model against finite elements over 120 random shapes, inside of that range and over
all: how far it may read low and high."""

MOST_PINCH = 0.15
"""Pinch over a flange's thickness beyond which to look twice."""


MOST_TIGHT = 1.1
"""A rubber tube goes through a hole that it is larger than by so much at the most."""


@dataclass(frozen=True)
class Grommet:
    """Sizes of a panel grommet on its sleeve, each (...). [m]

    Attributes
    ----------
    sleeve : a
        Outer radius of the sleeve.
    hole : h
        Radius of the hole in the panel.
    flange : b
        Outer radius of the flanges.
    thickness : t
        Of one flange.
    panel : p
        Thickness of the panel.
    washer : w
        Outer radius of what presses on a flange; no more than the flange counts.

    Raises
    ------
    ValueError
        Radii that do not rise from sleeve to hole to flange, a size that is not above 0.
    """

    sleeve: FloatArray
    hole: FloatArray
    flange: FloatArray
    thickness: FloatArray
    panel: FloatArray
    washer: FloatArray

    def __post_init__(self) -> None:
        for name in ("sleeve", "thickness", "panel"):
            if not np.all(np.asarray(getattr(self, name)) > 0):
                raise ValueError(f"{name}: must be above 0")
        for low, high in (("sleeve", "hole"), ("hole", "flange"), ("hole", "washer")):
            if not np.all(np.asarray(getattr(self, low)) < getattr(self, high)):
                raise ValueError(f"{low}: must be below {high}; were two exchanged?")

    @classmethod
    def of(
        cls,
        sleeve: npt.ArrayLike,
        hole: npt.ArrayLike,
        flange: npt.ArrayLike,
        thickness: npt.ArrayLike,
        panel: npt.ArrayLike,
        washer: npt.ArrayLike | None = None,
    ) -> Grommet:
        """From radii and thicknesses (...); a washer as large as the flange if left out. [m]"""
        a, h, b, t, p = (
            np.asarray(x, dtype=float) for x in (sleeve, hole, flange, thickness, panel)
        )
        return cls(a, h, b, t, p, b if washer is None else np.minimum(washer, b))

    @property
    def gap(self) -> FloatArray:
        """Rubber between sleeve and hole, e. [m]"""
        return np.asarray(self.hole - self.sleeve)

    def covered(self) -> npt.NDArray[np.bool_]:
        """Whether the shape is among those that the model was held against (...)."""
        slim = self.gap / self.thickness
        inside = (slim > INSIDE_E[0]) & (slim < INSIDE_E[1])
        return np.asarray(inside & (self.panel / self.thickness < INSIDE_P))

    def pinch(self, sleeve_length: npt.ArrayLike) -> FloatArray:
        """Squeeze of each flange by a sleeve of a length, (2t + p − L)/2; below 0 it rattles. [m]

        >>> three = Grommet.of(3e-3, 5e-3, 9e-3, 2e-3, 2e-3)
        >>> print(f"{1e3 * three.pinch(5.6e-3):.1f} mm")
        0.2 mm
        """
        return np.asarray((2 * self.thickness + self.panel - np.asarray(sleeve_length)) / 2)

    def sleeve_for(self, share: npt.ArrayLike) -> FloatArray:
        """Length of a sleeve that pinches each flange by a share of its thickness. [m]"""
        return np.asarray(2 * self.thickness * (1 - np.asarray(share)) + self.panel)

    def _ring(self, edge: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """h*, w* and the area between them, with the reach of a plate's edge."""
        near = self.hole - edge * self.thickness
        outside = np.minimum(self.thickness, self.flange - self.washer)
        far = self.washer + edge * outside
        return near, far, np.pi * (far**2 - near**2)

    def flange_stuck(self, shear: npt.ArrayLike) -> FloatArray:
        """One flange squeezed along the axis, its faces held, (...). [N/m]

        4A/t + Rs − (Rs − Rf)·X/(1 + X): a pad whose inner edge is between closed, Rs, and open,
        Rf, by how far the rubber over the core gives way, X.
        """
        h, t = self.hole, self.thickness
        _, w, area = self._ring(EDGE)
        log = np.log(w / h)
        s = (w - h) / (2 * t)
        lam = (w**2 + h**2 - (w**2 - h**2) / log) / (w - h) ** 2
        free = 6 * s**2 * lam * np.pi * (w**2 - h**2) / t
        ring = (w**2 - h**2) ** 2 / 8 - h**2 * (w**2 - h**2) / 4 + h**4 / 2 * log
        held = 12 * np.pi / t**3 * ring
        x = 12 * CORE * h * self.gap * log / t**2
        return np.asarray(np.asarray(shear) * (4 * area / t + held - (held - free) * x / (1 + x)))

    def flange_slipping(self, shear: npt.ArrayLike) -> FloatArray:
        """One flange squeezed along the axis, its faces greased, (3 + h*²/w*²)·A/t. [N/m]"""
        h, w, area = self._ring(EDGE_SLIPPING)
        return np.asarray(np.asarray(shear) * (3 + h**2 / w**2) * area / self.thickness)

    def radial(self, shear: npt.ArrayLike) -> Radial:
        """Across the axis, faces stuck; slipping faces have no closed form here. [N/m]

        Drag of the flanges 2A/t, and the flux of rubber that is pushed through under them; where
        the core touches the hole all round, a bush of the panel's thickness beside them.
        """
        a, h, t, p = self.sleeve, self.hole, self.thickness, self.panel
        e, g = self.gap, np.asarray(shear, dtype=float)
        _, far, area = self._ring(EDGE_RADIAL)
        drag = 2 * area / t
        way = t**3 / 6 * (far**2 + h**2) / (h * (far**2 - h**2))
        tall, mean = 2 * t + p, (a + h) / 2
        core = e**3 * tall / (12 * mean**2 * (1 + (e / tall) ** 2))

        def flux(q: FloatArray) -> FloatArray:
            return np.asarray(np.pi * h * q**2 / (way + core))

        clear = g * (drag + flux(t))
        stuck = g * (drag + flux(t + p * (a + h) / (2 * h))) + bush_radial(a, h, p, g)
        return Radial(clear, stuck, (clear + stuck) / 2)


@dataclass(frozen=True)
class Radial:
    """Stiffness of a grommet across its axis, (...). [N/m]

    Attributes
    ----------
    clear : the core does not touch the hole
    stuck : it holds to the hole all round
    pushing : it touches, and pushes on one side only: the nominal case
    """

    clear: FloatArray
    stuck: FloatArray
    pushing: FloatArray


def two_flanges(
    flange: npt.ArrayLike, thickness: npt.ArrayLike, pinch: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Stiffness along the axis without load, and how far both flanges stay pressed. [N/m, m]

    2k(1 + 2(1 − c/t)⁻³)/3 with a pinch c > 0, one flange alone without.

    Parameters
    ----------
    flange : (...) array
        k, one flange. [N/m]
    thickness, pinch : (...) arrays
        t, c. [m]
    """
    c = np.asarray(pinch, dtype=float)
    k = np.asarray(flange, dtype=float)
    both = 2 * k * squeeze_slope(np.maximum(c, 1e-12) / np.asarray(thickness))
    return np.where(c > 0, both, k), np.maximum(c, 0.0)


def axial_force(
    deflection: npt.ArrayLike,
    flanges: tuple[npt.ArrayLike, npt.ArrayLike],
    heights: tuple[npt.ArrayLike, npt.ArrayLike],
    pinches: tuple[npt.ArrayLike, npt.ArrayLike],
) -> FloatArray:
    """Force of two flanges on one sleeve at a deflection of the sleeve, (...). [N]

    F(d) = k1·t1·f((c1 + d)/t1) − k2·t2·f((c2 − d)/t2), f by `block.squeeze`, less what both push
    at d = 0, where they balance. The first flange is the one that the payload squeezes.

    Parameters
    ----------
    deflection : (...) array
        d. [m]
    flanges, heights, pinches : pairs of (...) arrays
        Initial stiffness [N/m], thickness and pinch [m] of each.
    """
    d = np.asarray(deflection, dtype=float)
    (k1, k2), (t1, t2), (c1, c2) = (
        tuple(np.asarray(x, dtype=float) for x in pair) for pair in (flanges, heights, pinches)
    )
    return np.asarray(k1 * t1 * squeeze((c1 + d) / t1) - k2 * t2 * squeeze((c2 - d) / t2))


def axial_curve(
    flanges: tuple[float, float], heights: tuple[float, float], pinches: tuple[float, float]
) -> Curve:
    """The curve of one pair of flanges, until either is at its end, with its kinks as nodes.

    Where there is no pinch the grommet rattles by the gap, which the curve leaves out: it begins
    where the flange touches.
    """
    (k1, k2), (t1, t2) = flanges, heights
    c1, c2 = (max(c, 0.0) for c in pinches)
    last = float(bottoming_strain())
    low, high = -(last * t2 - c2), last * t1 - c1
    kinks = [at for at in (-c1, c2) if low < at < high]
    ends = sorted({low, high, 0.0, *kinks})
    nodes, slopes = list[float](), list[float]()
    for left, right in pairwise(ends):
        inner = np.linspace(left, right, 9)
        for at in inner:
            # a node at a kink has the slope of the side that it bounds
            side = at + (1e-9 if at == left else -1e-9 if at == right else 0.0) * (t1 + t2)
            slope = k1 * squeeze_slope((c1 + side) / t1) + k2 * squeeze_slope((c2 - side) / t2)
            nodes.append(float(at))
            slopes.append(float(slope))
    d = np.array(nodes)
    force = axial_force(d, (k1, k2), (t1, t2), (c1, c2))
    return Curve(d, force - axial_force(0.0, (k1, k2), (t1, t2), (c1, c2)), np.array(slopes))


@dataclass(frozen=True)
class Drawn:
    """A threaded rubber nut whose screw was turned, each (...).

    Attributes
    ----------
    flange_pinch, tube_pinch : arrays
        By how much the flange in front of the panel and the tube behind it are squeezed, the
        flange by nine tenths at the most: it is flat then, and the tube gives way. [m]
    tube : array
        What is left of the tube's length. [m]
    bulge, belly : arrays
        Outer radius of the tube, mean and in the middle. [m]
    force : array
        Of the screw; rubber holds no clamp load, so it is no lock. [N]
    """

    flange_pinch: FloatArray
    tube_pinch: FloatArray
    tube: FloatArray
    bulge: FloatArray
    belly: FloatArray
    force: FloatArray


def drawn(
    shape: Grommet,
    tube: npt.ArrayLike,
    tube_length: npt.ArrayLike,
    draw: npt.ArrayLike,
    shear: npt.ArrayLike,
) -> Drawn:
    """Draw the bonded nut towards the panel by turning the screw.

    A flanged rubber tube stands in the hole, a metal nut bonded into its far end. The screw takes
    the way x = turns × pitch past first contact out of flange and tube, which push with one force:
    the flange is that of a grommet whose sleeve is the screw, the tube a ring with held faces, and
    both harden as `squeeze`. The tube keeps its volume, so its
    section grows as its length shrinks, by (L/(L − x))·(ro² − ri²), outwards, for the screw fills
    the bore; between held ends the belly of a parabola has 1.5 times the mean growth. Derived here;
    not compared with measured parts.

    Parameters
    ----------
    shape : Grommet of (...)
        Its sleeve is the screw in the bore.
    tube, tube_length : (...) arrays
        Outer radius of the tube, and its free length from the panel's back to the nut. [m]
    draw : (...) array
        x. [m]
    shear : (...) array
        [Pa]

    Raises
    ------
    ValueError
        A tube that is not larger than its bore or does not go through the hole; a way of 90 % of
        the tube or more.
    """
    ri, ro, long = shape.sleeve, np.asarray(tube, dtype=float), np.asarray(tube_length, dtype=float)
    t, x = shape.thickness, np.asarray(draw, dtype=float)
    if not np.all((ri < ro) & (ro <= MOST_TIGHT * shape.hole)):
        raise ValueError("tube: must be above sleeve, and go through hole")
    if not np.all((x >= 0) & (x < 0.9 * long)):
        raise ValueError("draw: must be 0 or more and below 90 % of tube_length; fewer turns")
    front = shape.flange_stuck(shear) * t
    back = ring_modulus(ri, ro, long, shear) * np.pi * (ro**2 - ri**2)

    # One force through both: f_front(y) = f_back(x − y), rising against falling in y.
    high, _ = (np.array(v) for v in np.broadcast_arrays(np.minimum(x, 0.9 * t), front + back))
    low = np.zeros_like(high)
    for _ in range(60):
        middle = (low + high) / 2
        over = front * squeeze(middle / t) > back * squeeze((x - middle) / long)
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    pinch = (low + high) / 2
    left = long - (x - pinch)
    grown = ri**2 + (ro**2 - ri**2) * long / left
    bulge = np.sqrt(grown)
    return Drawn(
        flange_pinch=pinch,
        tube_pinch=x - pinch,
        tube=left,
        bulge=bulge,
        belly=ro + 1.5 * (bulge - ro),
        force=np.asarray(back * squeeze((x - pinch) / long)),
    )

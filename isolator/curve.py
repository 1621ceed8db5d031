"""A load-deflection curve: force, tangent stiffness and stored energy.

A curve is a chain of cubic pieces through nodes; beyond the first and the last node it goes on
straight with the end slope. Deflection is positive in compression. Every array broadcasts over
leading axes, so one `Curve` holds the curve of one mount or those of a million.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from isolator.units import FloatArray

_REACH = 1e-2
"""Where the outer node of a straight branch is put [m]; the curve does not depend on it."""


@dataclass(frozen=True, eq=False)
class Curve:
    """Force against deflection as piecewise cubic (Hermite) nodes.

    Parameters
    ----------
    deflection : (..., m) array
        Nodes, not decreasing, one of them 0. Two equal inner nodes mark a kink. [m]
    force_at : (..., m) array
        Force at the nodes, 0 at zero deflection, not decreasing. [N]
    slope : (..., m) array
        Tangent stiffness at the nodes, from the side that each node bounds. [N/m]

    Examples
    --------
    >>> spring = Curve.straight(np.array(9000.0))
    >>> print(f"{spring.force(0.002):.4g} N, {spring.energy(0.002):.4g} J")
    18 N, 0.018 J
    """

    deflection: FloatArray
    force_at: FloatArray
    slope: FloatArray

    @classmethod
    def straight(cls, stiffness: npt.ArrayLike) -> Curve:
        """Linear curve of a stiffness (...) [N/m]."""
        k = np.asarray(stiffness, dtype=float)[..., None]
        nodes = np.array([-_REACH, 0.0, _REACH])
        return cls(np.broadcast_to(nodes, (*k.shape[:-1], 3)), k * nodes, k * np.ones(3))

    @classmethod
    def through(cls, deflection: npt.ArrayLike, force: npt.ArrayLike) -> Curve:
        """Smooth monotone curve through measured points in compression.

        Shape-preserving cubics (Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238) never
        overshoot the points, so a rising table gives a rising curve. Points at negative
        deflection, if there are any, are the tension branch; without them tension mirrors
        compression.

        Parameters
        ----------
        deflection, force : (m,) sequences
            Strictly rising deflections and non-falling forces, zero or one point at (0, 0). [m, N]

        Raises
        ------
        ValueError
            No point in compression, deflections that do not rise, forces that fall, or a force
            at zero deflection.
        """
        from scipy.interpolate import PchipInterpolator

        d, f = np.asarray(deflection, dtype=float), np.asarray(force, dtype=float)
        if np.any(np.diff(d) <= 0):
            raise ValueError("the deflections must rise from point to point")
        if np.any(f[d == 0.0] != 0.0):
            raise ValueError("the force at zero deflection must be zero")
        if d.size == 0 or d[-1] <= 0.0:
            raise ValueError("the curve needs a point in compression (positive deflection)")
        if 0.0 not in d:
            at = np.searchsorted(d, 0.0)
            d, f = np.insert(d, at, 0.0), np.insert(f, at, 0.0)
        if d[0] == 0.0:
            d, f = np.concatenate([-d[:0:-1], d]), np.concatenate([-f[:0:-1], f])
        if np.any(np.diff(f) < 0):
            raise ValueError("the force must not fall as the deflection rises")
        return cls(d, f, PchipInterpolator(d, f).derivative()(d))

    @classmethod
    def tangent_elasticity(cls, stiffness: npt.ArrayLike, bottoming: npt.ArrayLike) -> Curve:
        """A spring that stiffens until it bottoms, F = (2·k₀·d_b/π)·tan(πx/2d_b), both ways.

        Its energy is k₀(2d_b/π)²·ln sec(πx/2d_b); the nodes keep both within 1e-5. From 0.95·d_b
        on it goes on straight with the slope that it has there, 162 times the first.

        Parameters
        ----------
        stiffness : (...) array
            At the start, k₀. [N/m]
        bottoming : (...) array
            Deflection d_b that no force reaches. [m]

        Raises
        ------
        ValueError
            A stiffness or a deflection that is not above zero.

        Notes
        -----
        mindlin-1945, tangent elasticity.

        Examples
        --------
        Halfway to the bottom, tan(π/4) = 1:

        >>> stop = Curve.tangent_elasticity(1000.0, 0.02)
        >>> print(f"{stop.force(0.01):.4f} N, {stop.tangent(0.01):.0f} N/m")
        12.7324 N, 2000 N/m
        """
        k, reach = np.asarray(stiffness, dtype=float), np.asarray(bottoming, dtype=float)
        if not (np.all(k > 0) and np.all(reach > 0)):
            raise ValueError("tangent elasticity needs a stiffness and a bottoming above zero")
        # tan θ = sinh u: even steps of u are fine where the curve is steep.
        ramp = np.sinh(np.linspace(-1.0, 1.0, 81) * np.arcsinh(np.tan(0.475 * np.pi)))
        k, unit = k[..., None], 2 / np.pi * reach[..., None]
        deflection, force = unit * np.arctan(ramp), k * unit * ramp
        slope = k * (1 + ramp**2)
        return cls(*np.broadcast_arrays(deflection, force, slope))

    def without_tension(self) -> Curve:
        """The same curve for a mount that carries nothing when pulled."""
        keep = self.deflection >= 0
        if keep.ndim != 1:
            raise ValueError("tension is taken from one curve at a time")
        d, f, s = self.deflection[keep], self.force_at[keep], self.slope[keep]
        return Curve(
            np.concatenate([[-_REACH, 0.0], d]),
            np.concatenate([[0.0, 0.0], f]),
            np.concatenate([[0.0, 0.0], s]),
        )

    def scaled(self, factor: npt.ArrayLike) -> Curve:
        """Force and slope times a factor (...), deflections kept: cold, dynamic, a band."""
        c = np.asarray(factor, dtype=float)[..., None]
        return Curve(self.deflection, self.force_at * c, self.slope * c)

    def slower(self, factor: float) -> Curve:
        """The curve of so many of this spring in series: the same force, so much further."""
        return Curve(self.deflection * factor, self.force_at, self.slope / factor)

    def opposed(self) -> Curve:
        """The curve of two of this spring against each other: F(x) − F(−x).

        Exact at the nodes of both; a straight curve stays straight.
        """
        x = np.unique(np.concatenate([self.deflection, -self.deflection], axis=-1))
        if self.deflection.ndim != 1:
            raise ValueError("one curve at a time is set against itself")
        x = x[np.diff(x, prepend=-np.inf) > 1e-12]
        return Curve(x, self.force(x) - self.force(-x), self._past(x) + self._past(-x))

    def _past(self, x: FloatArray) -> FloatArray:
        """Mean of the tangents on both sides of deflections, which differ at a kink. [N/m]"""
        return (self.tangent(x - 1e-9) + self.tangent(x + 1e-9)) / 2

    def in_series(self, stiffness: npt.ArrayLike) -> Curve:
        """The curve of this spring with a linear one behind it, as of a mount on a sheet.

        Under one force F both give way: deflection d + F/k, tangent s·k/(s + k), exact at the
        nodes, and everywhere for a straight curve. A curve that rises stays one that rises.

        Parameters
        ----------
        stiffness : (...) array
            Of the linear spring behind it; inf is rigid. [N/m]

        Raises
        ------
        ValueError
            A stiffness that is not above zero.

        Examples
        --------
        >>> print(f"{Curve.straight(np.array(9000.0)).in_series(9000.0).force(0.002):.4g} N")
        9 N
        """
        k = np.asarray(stiffness, dtype=float)[..., None]
        if not np.all(k > 0):
            raise ValueError("a spring in series needs a stiffness above zero")
        return Curve(
            self.deflection + self.force_at / k, self.force_at, self.slope / (1 + self.slope / k)
        )

    def padded(self, count: int) -> Curve:
        """The same curve with `count` nodes, the new ones on its straight upper end."""
        extra = _REACH * np.arange(1, count - self.deflection.shape[-1] + 1)
        end = self.slope[..., -1:]
        return Curve(
            np.concatenate([self.deflection, self.deflection[..., -1:] + extra], axis=-1),
            np.concatenate([self.force_at, self.force_at[..., -1:] + end * extra], axis=-1),
            np.concatenate([self.slope, np.broadcast_to(end, end.shape[:-1] + extra.shape)], -1),
        )

    @classmethod
    def stacked(cls, curves: Sequence[Curve]) -> Curve:
        """Several curves of one shape along a new leading axis."""
        count = max(c.deflection.shape[-1] for c in curves)
        level = [c.padded(count) for c in curves]
        return cls(
            np.stack([c.deflection for c in level]),
            np.stack([c.force_at for c in level]),
            np.stack([c.slope for c in level]),
        )

    @cached_property
    def _nodes(self) -> FloatArray:
        """Deflection of the nodes, their axis first (m, ...)."""
        x = np.broadcast_arrays(self.deflection, self.force_at, self.slope)[0]
        return np.ascontiguousarray(np.moveaxis(x, -1, 0))

    @cached_property
    def _pieces(self) -> FloatArray:
        """Pieces of all curves one after the other, (m + 1) of each, with the straight ends.

        Columns (6): where it starts, energy and force there, and the tangent, the second and the
        third power of what comes on top.
        """
        x, f, s = np.broadcast_arrays(self.deflection, self.force_at, self.slope)
        h = np.diff(x, axis=-1)
        wide = np.where(h > 0, h, 1.0)
        rise = np.diff(f, axis=-1) / wide
        second = (3 * rise - 2 * s[..., :-1] - s[..., 1:]) / wide
        third = (s[..., :-1] + s[..., 1:] - 2 * rise) / wide**2
        area = h * (f[..., :-1] + f[..., 1:]) / 2 - h**2 * np.diff(s, axis=-1) / 12
        none = np.zeros_like(x[..., :1])
        total = np.concatenate([none, np.cumsum(area, axis=-1)], axis=-1)
        origin = np.argmin(np.abs(x), axis=-1)[..., None]
        energy = total - np.take_along_axis(total, origin, axis=-1)
        columns = [np.concatenate([a[..., :1], a], axis=-1) for a in (x, energy, f, s)]
        columns += [np.concatenate([none, a, none], axis=-1) for a in (second, third)]
        return np.stack(columns, axis=-1).reshape(-1, 6)

    @cached_property
    def _first(self) -> npt.NDArray[np.intp]:
        """Index (...) of the first piece of each curve."""
        count, *shape = self._nodes.shape
        return np.arange(0, len(self._pieces), count + 1).reshape(shape)

    def _piece(self, deflection: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """How far a deflection (...) is beyond the start of its piece, and the piece (..., 6)."""
        d = np.asarray(deflection, dtype=float)
        nodes = self._nodes
        nodes = nodes.reshape(len(nodes), *[1] * (d.ndim - nodes.ndim + 1), *nodes.shape[1:])
        at = np.add.reduce(d >= nodes, axis=0, dtype=np.intp) + self._first
        piece = self._pieces.take(at, axis=0)
        return d - piece[..., 0], piece

    def force(self, deflection: npt.ArrayLike) -> FloatArray:
        """Force at a deflection (...) [m]. [N]"""
        x, piece = self._piece(deflection)
        out = x * piece[..., 5]
        for column in (4, 3):
            out += piece[..., column]
            out *= x
        return np.asarray(out + piece[..., 2])

    def tangent(self, deflection: npt.ArrayLike) -> FloatArray:
        """Tangent stiffness at a deflection (...) [m]. [N/m]"""
        x, piece = self._piece(deflection)
        return np.asarray(piece[..., 3] + x * (2 * piece[..., 4] + 3 * x * piece[..., 5]))

    def energy(self, deflection: npt.ArrayLike) -> FloatArray:
        """Energy stored from zero to a deflection (...) [m]. [J]"""
        x, piece = self._piece(deflection)
        out = x * (piece[..., 5] / 4)
        for column, share in ((4, 1 / 3), (3, 1 / 2), (2, 1.0)):
            out += share * piece[..., column]
            out *= x
        return np.asarray(out + piece[..., 1])

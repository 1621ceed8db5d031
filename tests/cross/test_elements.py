"""Shapes of rubber against finite elements that are solved here: the cross-check is not a table.

Mixed displacement and pressure (Taylor and Hood) of bodies of revolution, stiffness from the energy
of a unit motion, with scikit-fem. A load along the axis is the same all round (n = 0); one across
it goes as cos θ (n = 1): u_r = U cos θ, u_θ = V sin θ, u_z = W cos θ.
"""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from scipy.sparse import bmat
from skfem import (
    Basis,
    BilinearForm,
    ElementTriP1,
    ElementTriP2,
    ElementVector,
    MeshTri,
    condense,
    solve,
)

from isolator.block import bush, bush_radial, held_modulus, ring
from isolator.grommet import Grommet

HARD = 1e7
"""Bulk modulus over G of rubber that keeps its volume."""
CLOSE = 1e-9


def graded(*ends: float, cells: int) -> np.ndarray:
    """A grid through all ends, in each part finer towards both, where corners are sharp."""
    parts = []
    for low, high in pairwise(ends):
        x = (1 - np.cos(np.linspace(0, np.pi, cells + 1))) / 2
        parts.append(low + (high - low) * x)
    return np.unique(np.concatenate(parts).round(12))


def _strains(u, r, turn):
    """Six strains of a field (n = 0: two components, n = 1: three)."""
    du = u.grad
    if not turn:
        return [du[0, 0], u[0] / r, du[1, 1], du[0, 1] + du[1, 0], 0 * r, 0 * r]
    return [
        du[0, 0],
        (u[0] + u[1]) / r,
        du[2, 1],
        du[0, 1] + du[2, 0],
        -(u[0] + u[1]) / r + du[1, 0],
        -u[2] / r + du[1, 1],
    ]


def stiffness(
    mesh: MeshTri,
    held: Callable[[np.ndarray], np.ndarray],
    moved: Callable[[np.ndarray], np.ndarray],
    *,
    across: bool = False,
    bulk: float = 2000.0,
    centre: bool = False,
    bolt: Callable[[np.ndarray], np.ndarray] | None = None,
) -> float:
    """Force for a unit motion of one boundary while another is held, G = 1.

    Parameters
    ----------
    mesh : MeshTri of r and z
    held, moved : functions of points (2, m)
        Which nodes are held, and which move by one: along z, or across with `across`.
    bulk : float
        Over G.
    centre : bool
        Whether the axis is in the mesh.
    bolt : function of points, optional
        Which nodes slip along z and keep their radius.
    """
    count = 3 if across else 2
    own = ElementVector(ElementTriP2(), count)
    basis = Basis(mesh, own, intorder=5)
    pressure = basis.with_element(ElementTriP1())

    @BilinearForm
    def distortion(u, v, w):
        r = w.x[0]
        e, f = _strains(u, r, across), _strains(v, r, across)
        normal = sum(2 * a * b for a, b in zip(e[:3], f[:3], strict=True))
        return (normal + sum(a * b for a, b in zip(e[3:], f[3:], strict=True))) * r

    @BilinearForm
    def volume(u, q, w):
        r = w.x[0]
        return sum(_strains(u, r, across)[:3]) * q * r

    @BilinearForm
    def swelling(p, q, w):
        return p * q / (bulk - 2 / 3) * w.x[0]

    a, b = distortion.assemble(basis), volume.assemble(basis, pressure)
    c = swelling.assemble(pressure)
    whole = bmat([[a, b.T], [b, -c]], "csr")
    n = basis.N
    x = np.zeros(whole.shape[0])
    fixed = []
    points = basis.doflocs
    part = np.zeros(n, dtype=int)
    for k in range(count):
        for group in (basis.nodal_dofs, basis.facet_dofs):
            part[group[k]] = k
    unit = (1.0, -1.0, 0.0) if across else (0.0, 1.0)
    where = moved(points)
    for k in range(count):
        mine = part == k
        x[np.flatnonzero(where & mine)] = unit[k]
    fixed.append(np.flatnonzero(where | held(points)))
    if centre:
        fixed.append(np.flatnonzero((points[0] < 1e-12) & (part == 0)))
    if bolt is not None:
        fixed.append(np.flatnonzero(bolt(points) & (part == 0)))
    y = solve(*condense(whole, np.zeros_like(x), x=x, D=np.unique(np.concatenate(fixed))))
    return float(y @ (whole @ y)) * (np.pi if across else 2 * np.pi)


def ends(height):
    return (lambda x: x[1] < CLOSE), (lambda x: x[1] > height - CLOSE)


@pytest.mark.parametrize(("s", "published"), [(0.5, 1.5449), (1.0, 2.9557), (2.0, 8.7588)])
def test_a_disc(s, published):
    """Computed elsewhere to 1e-4: Ec/E. The formula 1 + 2S² is off by −6 to +3 %."""
    radius = 2 * s
    mesh = MeshTri.init_tensor(graded(0, radius, cells=16), graded(0, 1, cells=16))
    ratio = stiffness(mesh, *ends(1.0), bulk=HARD, centre=True) / (np.pi * radius**2) / 3
    assert ratio == pytest.approx(published, rel=1.5e-3)
    assert -0.065 < held_modulus(1.0, s, np.inf) / 3 / ratio - 1 < 0.03


@pytest.mark.parametrize("bore", [0.3, 0.5, 0.7])
def test_a_ring_with_a_free_bore(bore):
    """The formula is within 2.5 % for b/a of 0.3 and more, and 2.7 % for a tall ring."""
    mesh = MeshTri.init_tensor(graded(bore, 1, cells=16), graded(0, 0.2, cells=12))
    elements = stiffness(mesh, *ends(0.2), bulk=HARD)
    ours = float(ring(2 * bore, 2.0, 0.2, 1.0, np.inf).stuck)
    assert ours / elements - 1 == pytest.approx(0, abs=0.028)


@pytest.mark.parametrize("bore", [0.3, 0.5, 0.7])
def test_a_ring_with_a_filled_bore(bore):
    """Its inner edge slips on a bolt and cannot move inwards: −6 to +3 %."""
    mesh = MeshTri.init_tensor(graded(bore, 1, cells=16), graded(0, 0.2, cells=12))
    elements = stiffness(mesh, *ends(0.2), bulk=HARD, bolt=lambda x: x[0] < bore + CLOSE)
    ours = float(ring(2 * bore, 2.0, 0.2, 1.0, np.inf, filled=True).stuck)
    assert ours / elements - 1 == pytest.approx(-0.015, abs=0.045)
    assert ours > float(ring(2 * bore, 2.0, 0.2, 1.0, np.inf).stuck)


@pytest.mark.parametrize("length", [0.5, 1.0, 2.0, 4.0])
def test_a_bush_along_and_across(length):
    """Across within 5 %, along within 2 %, and 8 % if it is shorter than its wall; b/a = 2."""
    mesh = MeshTri.init_tensor(graded(1, 2, cells=12), graded(0, length, cells=14))
    outside, inside = (lambda x: x[0] > 2 - CLOSE), (lambda x: x[0] < 1 + CLOSE)
    across = stiffness(mesh, outside, inside, across=True, bulk=HARD)
    if length == 1.0:  # computed elsewhere
        assert across == pytest.approx(25.59, rel=2e-3)
    assert bush_radial(1, 2, length, 1.0) / across - 1 == pytest.approx(0, abs=0.05)
    along = stiffness(mesh, outside, inside, bulk=HARD)
    off = 0.02 if length >= 1 else 0.08
    assert bush(2.0, 4.0, length, 1.0).axial / along - 1 == pytest.approx(0, abs=off)


def grommet(sizes, *, edge, across=False):
    """An H of rubber on its sleeve, its faces held; the hole's edge too where it touches."""
    a, h, b, t, p, w = sizes
    top = t + p / 2
    mesh = MeshTri.init_tensor(
        graded(*sorted({a, h, w, b}), cells=12), graded(-top, -p / 2, p / 2, top, cells=12)
    )
    middle = mesh.p[:, mesh.t].mean(axis=1)
    mesh = mesh.restrict(np.flatnonzero((middle[0] < h) | (np.abs(middle[1]) > p / 2)))

    def panel(x):
        face = (np.abs(np.abs(x[1]) - p / 2) < CLOSE) & (x[0] > h - CLOSE)
        rim = (np.abs(x[0] - h) < CLOSE) & (np.abs(x[1]) < p / 2 + CLOSE)
        return face | rim if edge else face

    def sleeve(x):
        washer = (np.abs(np.abs(x[1]) - top) < CLOSE) & (x[0] < w + CLOSE)
        return (x[0] < a + CLOSE) | washer

    return stiffness(mesh, panel, sleeve, across=across)


@pytest.mark.parametrize(
    ("sizes", "axial", "stuck", "clear"),
    [((3, 5, 9, 2, 2, 9), 2221, 537, 279), ((4, 8, 11, 3, 2, 9.5), 585, 363, 232)],
)
def test_a_grommet_whose_faces_are_held(sizes, axial, stuck, clear):
    """Rows 3 and 7 of data/grommets.csv, solved anew: the table is within its mesh error, and the
    closed forms are off by what it says."""
    found = grommet(sizes, edge=False)
    assert found == pytest.approx(axial, rel=1.3e-2)
    across = grommet(sizes, edge=True, across=True), grommet(sizes, edge=False, across=True)
    assert across == pytest.approx((stuck, clear), rel=2e-2)
    shape = Grommet.of(*sizes)
    assert 2 * shape.flange_stuck(1.0) / found - 1 == pytest.approx(0, abs=0.05)
    ours = shape.radial(1.0)
    assert ours.stuck / across[0] - 1 == pytest.approx(0.045, abs=0.02)
    assert ours.clear / across[1] - 1 == pytest.approx(0.05, abs=0.035)

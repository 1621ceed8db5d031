"""Heat through rubber against finite elements of the whole section, with scikit-fem (computed)."""

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri, condense, solve
from skfem.helpers import dot, grad

from isolator.heat import path, wall
from isolator.mount import Sizes


@BilinearForm
def conduction(u, v, w):
    return 2 * np.pi * w.x[0] * dot(grad(u), grad(v))


def section(a, h, b, w, t, p, n=14):
    """Shape factor of a grommet's upper half, doubled: sleeve and washer at 1, panel at 0.

    r from the sleeve a over the hole h and the washer w to the flange's rim b; z from the middle of
    the panel over its face p/2 to the top of the flange.
    """
    r = np.unique(np.concatenate([np.linspace(*ends, n) for ends in ((a, h), (h, w), (w, b))]))
    z = np.unique(np.concatenate([np.linspace(0, p / 2, n), np.linspace(p / 2, p / 2 + t, n)]))
    mesh = MeshTri.init_tensor(r, z)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    mesh = mesh.remove_elements(np.flatnonzero((middle[0] > h) & (middle[1] < p / 2)))
    basis = Basis(mesh, ElementTriP2())
    at, tol = basis.doflocs, 1e-9
    hot = (at[0] < a + tol) | ((at[1] > p / 2 + t - tol) & (at[0] < w + tol))
    cold = (np.abs(at[0] - h) < tol) & (at[1] < p / 2 + tol)
    cold |= (np.abs(at[1] - p / 2) < tol) & (at[0] > h - tol)
    matrix = conduction.assemble(basis)
    x = np.zeros(basis.N)
    x[hot] = 1.0
    fixed = np.flatnonzero(hot | cold)
    x = solve(*condense(matrix, np.zeros(basis.N), x=x, D=fixed))
    return 2 * float(x @ (matrix @ x))


def grommet(a, h, b, w, t, p):
    mm = {
        "sleeve": 2 * a, "hole": 2 * h, "flange": 2 * b, "washer": 2 * w,
        "flange_thickness": t, "panel": p,
    }  # fmt: skip
    return Sizes(kind="panel grommet", **{key: f"{value} mm" for key, value in mm.items()})


SHAPES = [
    (3, 6, 9, 8.9, 4, 1.6),
    (3, 5, 9, 8.9, 2, 2),
    (2, 4.5, 8, 6, 2.5, 1.5),
    (4, 6.5, 11, 10.9, 3, 3),
    (3, 6, 10, 8, 2, 1),
    (5, 7, 12, 11.9, 3.5, 2),
]


@pytest.mark.parametrize("shape", SHAPES)
def test_a_grommet_by_finite_elements(shape):
    whole = 1e-3 * section(*shape)
    assert path(grommet(*shape)) == pytest.approx(whole, rel=0.03)


def test_the_elements_know_a_tube():
    """Without flanges to speak of the section is a plain wall, whose truth is known."""
    mesh = MeshTri.init_tensor(np.linspace(2, 5, 21), np.linspace(0, 3, 5))
    basis = Basis(mesh, ElementTriP2())
    at = basis.doflocs
    hot, cold = at[0] < 2 + 1e-9, at[0] > 5 - 1e-9
    matrix = conduction.assemble(basis)
    x = np.where(hot, 1.0, 0.0)
    x = solve(*condense(matrix, np.zeros(basis.N), x=x, D=np.flatnonzero(hot | cold)))
    assert float(x @ (matrix @ x)) == pytest.approx(float(wall(2.0, 5.0, 3.0)), rel=1e-5)


def mount(kind, **sizes):
    return Sizes(kind=kind, **{key: f"{value} mm" for key, value in sizes.items()})


@pytest.mark.parametrize(
    ("sizes", "expected"),
    [
        # Area over height, or 2πL/ln(b/a), of each shape by hand [m].
        (mount("pad", length=20, width=30, thickness=6), 0.1),
        (mount("disc", diameter=40, thickness=10), 0.04 * np.pi),
        (mount("bobbin", diameter=40, thickness=20), 0.02 * np.pi),
        (mount("ring", diameter=50, bore=30, thickness=8), 0.05 * np.pi),
        (mount("bush", diameter=20 * np.e, bore=20, length=15), 0.03 * np.pi),
        (mount("o-ring", diameter=20, cord=3), 0.01 * np.pi),
    ],
    ids=lambda value: getattr(value, "kind", ""),
)
def test_a_shape_by_hand(sizes, expected):
    assert path(sizes) == pytest.approx(expected, rel=1e-12)


def test_a_threaded_nut_is_a_grommet_of_one_flange():
    sizes = {"sleeve": 6, "hole": 12, "flange": 18, "washer": 17.8, "flange_thickness": 4}
    nut = path(mount("threaded nut", panel=1.6, **sizes))
    grommet = path(mount("panel grommet", panel=1.6, **sizes))
    around = float(wall(0.003, 0.006, 0.0016))
    assert grommet - around == pytest.approx(2 * (nut - around), rel=1e-12)


def test_the_heat_of_an_unknown_shape_is_unknown():
    assert np.isnan(path(None))
    assert np.isnan(path(Sizes()))

"""Pads, rings, bushes and cords against handbook numbers and finite elements."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from isolator.block import (
    BOTTOMED,
    bottoming_strain,
    bush,
    bush_long,
    bush_radial,
    bush_short,
    compression_modulus,
    cord_force,
    disc,
    filled_ring_modulus,
    held_modulus,
    rectangle,
    ring,
    ring_modulus,
    shape_factor,
    sheared,
    squeeze,
    squeeze_slope,
)
from isolator.rubber import lindley

# A disc of 40 by 20 mm of 50 IRHD, by Lindley's relation with his own E0 and k
AREA, THICK, IRHD_50 = math.pi * 0.02**2, 0.02, lindley(50.0)
# A bush of radii 10 and 20 mm, 30 mm long, G 0.64 MPa
LONG, SHEAR = 0.03, 0.64e6
BUSH = bush(0.02, 0.04, LONG, SHEAR)
ENDS = 1 - 0.225 * 0.01 / LONG
"""What its free ends leave of the stiffness along."""


def disc_modulus() -> float:
    s = shape_factor(AREA, 2 * math.pi * 0.02 * THICK)
    return compression_modulus(IRHD_50.young, s, IRHD_50.k)


CLAIMS: dict[str, Callable[[], float]] = {
    "disc-compression": lambda: disc_modulus() / 1e6,
    "disc-stiffness": lambda: disc_modulus() * AREA / THICK / 1e3,
    "disc-shear": lambda: sheared(AREA, THICK, 1e9, IRHD_50.shear) / 1e3,
    "bush-axial": lambda: BUSH.axial / ENDS / 1e3,
    "bush-torsion": lambda: BUSH.torsional * 1e3,
    "bush-radial-long": lambda: bush_long(0.01, 0.02, SHEAR) * LONG / 1e3,
    "bush-radial-short": lambda: bush_short(0.01, 0.02, SHEAR) * LONG / 1e3,
    "bush-finite": lambda: bush_radial(1, 2, 1, 1),
    "bush-finite-short": lambda: bush_short(1, 2, 1),
    "bush-finite-long": lambda: bush_long(1, 2, 1),
    "cord-fifth": lambda: cord_force(1e-3, 5e-3, 0.1, 1e6 / 3) / (1e6 * 5e-3 * 0.1),
}
for shape in ("0.25", "0.5", "1", "2", "4", "8"):
    CLAIMS[f"disc-elements-{shape}"] = lambda s=float(shape): held_modulus(1.0, s, np.inf) / 3


def test_the_bulk_rule_is_stiff_at_eight():
    """Bessel form of Chalhoub and Kelly plus E, B = 2000 G (memory): 6 % under the series rule."""
    s, bulk = 8.0, 2000.0
    x = math.sqrt(48 / bulk) * s
    from scipy.special import iv

    exact = bulk * iv(2, x) / iv(0, x) + 3
    assert held_modulus(1.0, s, bulk) / exact == pytest.approx(1.06, abs=0.015)


def test_rings_with_a_free_bore():
    """A narrow ring is a long strip, 4G(1 + S²); as a solid disc of its S it would be too stiff."""
    b, a, h = 0.1, 0.101, 0.0005
    s = (a - b) / (2 * h)
    assert ring_modulus(b, a, h, 2.0, np.inf) == pytest.approx(8 * (1 + s**2), rel=1e-4)
    b, a, h = 0.01, 0.02, 0.002
    solid = held_modulus(1.0, shape_factor(a**2 - b**2, 2 * h * (a + b)), np.inf)
    assert solid > ring_modulus(b, a, h, 1.0, np.inf)
    pad = ring(0.02, 0.04, 0.002, 1.0, np.inf)
    area = math.pi * (a**2 - b**2)
    assert pad.stuck == pytest.approx(ring_modulus(b, a, h, 1.0, np.inf) * area / h)
    assert pad.slipping == pytest.approx(3 * area / h)


def test_a_ring_whose_bore_is_filled_is_a_disc_where_it_has_none():
    assert filled_ring_modulus(1e-7, 1, 0.2, 1.0, np.inf) == pytest.approx(
        held_modulus(1.0, 2.5, np.inf)
    )
    b, a, h = 0.1, 0.1001, 0.0005  # half of a strip of twice its width, 4G(1 + S²)
    one_sided = (a - b) / h
    assert filled_ring_modulus(b, a, h, 1.0, np.inf) == pytest.approx(
        4 * (1 + one_sided**2), rel=2e-3
    )


def test_a_bush_at_its_limits():
    very = bush(0.02, 0.04, 100.0, SHEAR)  # so long that every slice is held as if for itself
    held = bush_long(0.01, 0.02, SHEAR) * 100.0**3 / 12
    assert very.conical == pytest.approx(held, rel=2e-3)
    thin = bush(0.02, 0.04, 1e-3, SHEAR)
    assert 0 < thin.axial < 2 * math.pi * SHEAR * 1e-3 / math.log(2)
    plate = bush(0.02, 0.04, 0.005, SHEAR)  # its wall is twice its length: 1/(1 + 2²/4)
    assert plate.axial == pytest.approx(2 * math.pi * SHEAR * 0.005 / math.log(2) / 2)


def test_slices_of_a_bush_push_by_a_pressure_that_ends_with_it():
    """It fades over (a + b)/2: 1 − cosh/cosh where all move across alike, z − sinh/sinh·L/2 where
    they tilt; free ends of the shear along take 0.225·(b − a)√(2a/(a + b))/L off its half."""
    a, b, long, g = 0.01, 0.02, 0.03, 0.7e6
    fades, end = (a + b) / 2, long / 2
    short, whole = float(bush_short(a, b, g)), float(bush_long(a, b, g))
    even = quad(lambda z: 1 - math.cosh(z / fades) / math.cosh(end / fades), -end, end)[0]
    tilt = quad(lambda z: z * (z - end * math.sinh(z / fades) / math.sinh(end / fades)), -end, end)[
        0
    ]
    rubber = bush(2 * a, 2 * b, long, g)
    assert rubber.radial == pytest.approx(short * long + (whole - short) * even)
    ends = 1 - 0.225 * (b - a) * math.sqrt(2 * a / (a + b)) / long
    slices = short * long**3 / 12 + (whole - short) * tilt
    assert rubber.conical == pytest.approx(slices + float(rubber.torsional) / 2 * ends)


def test_what_is_squeezed_hardens():
    x = np.linspace(0, 0.7, 300)
    area = [quad(lambda y: float(squeeze_slope(y)), 0, float(end))[0] for end in x[1::60]]
    np.testing.assert_allclose(area, squeeze(x[1::60]), rtol=1e-7)
    np.testing.assert_allclose(squeeze([-0.3, 0.0]), 0.0)
    assert squeeze_slope(1e-12) == pytest.approx(1.0)
    np.testing.assert_array_equal(squeeze_slope([-0.3, 0.0]), 0.0)
    end = float(bottoming_strain())
    exact = brentq(lambda y: float(squeeze_slope(y)) - BOTTOMED, 0.01, 0.95)
    assert end == pytest.approx(exact)


def test_a_disc_is_a_square_of_its_area_nearly():
    round_one, square = (
        disc(0.04, 0.01, 1e6),
        rectangle(*[0.04 * math.sqrt(math.pi) / 2] * 2, 0.01, 1e6),
    )
    assert round_one.slipping == pytest.approx(square.slipping)
    assert round_one.stuck == pytest.approx(square.stuck, rel=0.1)
    assert round_one.sheared == pytest.approx(square.sheared, rel=0.02)


def test_a_rectangle_is_a_strip_where_it_is_long():
    """Exact: a flat strip of width b between held faces has 4G(1 + S²) with S = b/2h."""
    b, h = 0.02, 0.002
    strip = rectangle(2.0, b, h, 1.0, np.inf)
    assert strip.stuck * h / (2.0 * b) == pytest.approx(4 * (1 + (b / 2 / h) ** 2), rel=0.01)
    turned = rectangle(b, 2.0, h, 1.0, np.inf)
    np.testing.assert_allclose(turned, strip)


@pytest.mark.parametrize(
    ("long", "torsion", "held"),
    [(1.0, 0.1406, 1.0), (2.0, 0.229, 22 / 21), (3.0, 0.263, 10 / 9), (5.0, 0.291, 25 / 21)],
)
def test_a_rectangle_by_hand(long, torsion, held):
    """Torsion constants of ab³ in Timoshenko's table (memory); K of a by 1 by 1 in fractions."""
    block = rectangle(long, 1.0, 1.0, 1.0, np.inf)
    assert block.stuck / (3 * long) == pytest.approx(held + torsion, abs=1e-3)


@pytest.mark.parametrize("given", [{}, {"bulk": np.inf}])
def test_every_stiffness_goes_with_the_modulus(given):
    """Twice and two thirds G are so many times the stiffness, the bulk modulus with it or none."""
    makes = (
        lambda g: held_modulus(g, 1.3, **given),
        lambda g: ring_modulus(0.01, 0.03, 0.005, g, **given),
        lambda g: filled_ring_modulus(0.01, 0.03, 0.005, g, **given),
        lambda g: ring(0.01, 0.03, 0.005, g, filled=True, **given),
        lambda g: ring(0.01, 0.03, 0.005, g, **given),
        lambda g: disc(0.03, 0.005, g, **given),
        lambda g: rectangle(0.03, 0.02, 0.005, g, **given),
        lambda g: bush(0.01, 0.03, 0.02, g),
    )
    for make in makes:
        np.testing.assert_allclose(make(5e6 / 3), 5 / 3 * np.array(make(1e6)), rtol=1e-12)


def test_the_bore_of_a_ring_may_not_be_its_outside():
    for a, b in ((0.02, 0.02), (np.array([0.01, 0.03]), 0.02)):
        with pytest.raises(ValueError, match="inner must be above 0 and below outer"):
            ring_modulus(a, b, 0.005, 1e6)


def test_a_cord_only_pushes():
    assert cord_force(-1e-3, 5e-3, 0.1, 1e6) == 0.0


@pytest.mark.parametrize(
    "make",
    [
        lambda: ring(0.04, 0.02, 0.01, 1e6),
        lambda: bush(0.04, 0.02, 0.01, 1e6),
        lambda: ring_modulus(0.0, 0.02, 0.01, 1e6),
    ],
)
def test_a_bore_that_cannot_be_is_refused(make):
    with pytest.raises(ValueError, match="must be above 0 and below"):
        make()


@pytest.mark.parametrize(
    "make",
    [
        lambda: disc(0.04, -0.001, 1e6),
        lambda: disc(0.0, 0.01, 1e6),
        lambda: disc(np.array([0.04, -0.04]), 0.01, 1e6),
        lambda: rectangle(0.01, 0.02, 0.0, 1e6),
        lambda: ring(0.01, 0.02, -0.01, 1e6),
        lambda: cord_force(0.001, 0.0, 0.1, 1e6),
    ],
)
def test_a_size_of_nothing_is_refused(make):
    with pytest.raises(ValueError, match="must be above 0"):
        make()


def test_a_cord_is_not_squeezed_to_nothing():
    assert cord_force(2.5e-3, 5e-3, 0.1, 1e6) > 0
    for squeezed in (4e-3, [1e-3, 2.6e-3]):
        with pytest.raises(ValueError, match=r"at most 0\.5 of cord"):
            cord_force(squeezed, 5e-3, 0.1, 1e6)


def test_what_is_sheared_bends_by_the_gyration_of_its_section():
    """36·rg² is 3b² of a rectangle's shorter side and 9(a² + b²) of a ring's radii."""
    block = rectangle(0.03, 0.02, 0.01, 2e6)
    assert block.sheared == pytest.approx(2e6 * 6e-4 / 0.01 / (1 + 0.01**2 / (3 * 0.02**2)))
    hollow = ring(0.02, 0.04, 0.03, 2e6)
    area = math.pi * (0.02**2 - 0.01**2)
    bent = 1 + 0.03**2 / (9 * (0.02**2 + 0.01**2))
    assert hollow.sheared == pytest.approx(2e6 * area / 0.03 / bent)


@pytest.mark.parametrize("bulk", [50.0, 2000.0])
def test_the_bulk_modulus_stands_in_series(bulk: float):
    """1/Ec' = 1/Ec + 1/B (Gent and Lindley 1959), and B = 2000 G where nobody gave it."""
    makes: tuple[Callable[..., float], ...] = (
        lambda *b: float(held_modulus(1.0, 4.0, *b)),
        lambda *b: float(ring_modulus(0.01, 0.03, 0.005, 1.0, *b)),
        lambda *b: float(filled_ring_modulus(0.01, 0.03, 0.005, 1.0, *b)),
        lambda *b: float(rectangle(0.02, 0.05, 0.005, 1.0, *b).stuck) * 0.005 / 0.001,
    )
    for make in makes:
        assert 1 / make(bulk) - 1 / make(np.inf) == pytest.approx(1 / bulk, rel=1e-9)
        assert make() == pytest.approx(make(2000.0), rel=1e-12)


def test_a_tall_block_is_a_column():
    """Far from its held faces rubber is free: 3G, as where the faces slip."""
    tall = rectangle(0.02, 0.03, 100.0, 2.0, np.inf)
    assert tall.stuck == pytest.approx(3 * 2.0 * 0.0006 / 100.0, rel=1e-4)


@pytest.mark.parametrize("bore", [1e-6, 0.01, 0.0199])
def test_a_filled_ring_between_faces_that_slip(bore: float):
    """u = e(r − b²/r)/2 stays at the bolt; free outside: G(3 + b²/a²), derived."""
    rates = ring(bore, 0.02, 0.004, 1.0, filled=True)
    area = math.pi / 4 * (0.02**2 - bore**2)
    e, g, a, b = 1e-3, 1.0, 0.01, bore / 2
    pressure = 2 * g * e / 2 * (1 + b**2 / a**2)
    expected = (pressure + 2 * g * e) / e * area / 0.004
    assert rates.slipping == pytest.approx(expected, rel=1e-9)
    free = ring(bore, 0.02, 0.004, 1.0)
    assert free.slipping == pytest.approx(3 * area / 0.004, rel=1e-9)


def test_a_short_bush_tilts_as_slices_and_as_a_clamped_plate():
    """(L³/12)·short + half the torsional over 1 + u²/4, u = (b − a)√(2a/(a + b))/L large."""
    long, g = 1e-4, 0.7e6
    rubber = bush(0.02, 0.04, long, g)
    u = 0.01 * math.sqrt(0.02 / 0.03) / long
    torsional = 4 * math.pi * g * long / (1 / 0.01**2 - 1 / 0.02**2)
    expected = long**3 / 12 * float(bush_short(0.01, 0.02, g)) + torsional / 2 / (1 + u**2 / 4)
    assert rubber.conical == pytest.approx(expected, rel=1e-3)
    assert rubber.torsional == pytest.approx(torsional, rel=1e-12)

"""Exact facts about foam outside the case."""

import numpy as np
import pytest

from isolator import cushion
from isolator.curve import Curve
from isolator.cushion import (
    Cushion,
    CushionPoint,
    fit_stress_energy,
    foam_thickness,
    snubber,
    snubber_for,
)
from isolator.units import G0, InputError

A, B = 20e3, 0.08e-3


def foam(**changed):
    given = {
        "name": "block",
        "thickness": "60 mm",
        "area": "200 cm^2",
        "initial_stress": "20 kPa",
        "growth": "0.08 1/kPa",
    }
    return Cushion(**{name: value for name, value in {**given, **changed}.items() if value})


def points(noise, count=40, seed=5):
    """Points of a foam whose law is known, misread by so much."""
    rng = np.random.default_rng(seed)
    s, h = rng.uniform(0.5e3, 8e3, count), rng.choice([0.3, 0.6, 0.76], count)
    t = rng.choice([0.04, 0.05, 0.08], count)
    peak = cushion.stress_energy_peak(A, B, s, h, t) * np.exp(noise * rng.standard_normal(count))
    return s, h, t, peak


def as_points(columns):
    return [
        CushionPoint(
            static_stress=f"{s:.9g} Pa",
            height=f"{h} m",
            thickness=f"{t} m",
            peak=f"{g:.9g} g0",
        )
        for s, h, t, g in zip(*columns, strict=True)
    ]


def test_the_curve_stores_the_energy_of_the_law_at_every_stress():
    curve, volume = foam().curve(), 0.02 * 0.06
    exponent = np.linspace(0.05, 6.9, 200)
    stress = A * np.exp(exponent)
    x = np.array([np.interp(f * 0.02, curve.force_at[2:], curve.deflection[2:]) for f in stress])
    for _ in range(5):  # Newton's steps to the deflection of that force
        x = x - (curve.force(x) - stress * 0.02) / curve.tangent(x)
    np.testing.assert_allclose(curve.energy(x), exponent / B * volume, rtol=1e-5)
    # And the force is the law's, shifted by the start.
    shift = curve.deflection[3] / 0.06 - 0.01
    assert 0 < shift < 0.0101
    np.testing.assert_allclose(stress * (1 - A * B * (x / 0.06 - shift)), A, rtol=1e-4)


def test_the_curve_rises_from_zero_within_two_per_cent_and_never_falls():
    curve = foam().curve()
    assert curve.force(0.0) == 0.0
    assert curve.force(0.02 * 0.06) >= A * 0.02
    x = np.linspace(-0.01, 0.05, 5001)
    assert np.all(np.diff(curve.force(x)) >= 0.0)
    np.testing.assert_array_equal(curve.force(x[x < 0]), 0.0)


def test_linear_foam_pulls_only_if_it_is_glued():
    slab = {"area": None, "initial_stress": None, "growth": None, "stiffness": "40 N/mm"}
    assert foam(**slab).curve().force(-0.001) == 0.0
    assert foam(**slab, glued=True).curve().force(-0.001) == pytest.approx(-40.0)
    assert foam(**slab).curve().force(0.001) == pytest.approx(40.0)


def test_a_curve_ends_stiff_and_says_how_far_to_believe_it():
    """Points stop at an energy; the law goes on past them, and linear foam past its thickness."""
    given = foam()
    peaks = cushion.stress_energy_peak(A, B, np.array([1e3, 2e3, 4e3]), 0.75, 0.06)
    points = [
        CushionPoint(static_stress=f"{s} kPa", height="0.75 m", thickness="6 cm", peak=f"{g} g0")
        for s, g in zip((1, 2, 4), peaks.tolist(), strict=True)
    ]
    tested = foam(initial_stress=None, growth=None, points=points)
    # The strain under the largest energy of the points, 50 kPa: (1 − exp(−b·E))/ab, and δ.
    delta = tested.known_to() / 0.06 - (1 - np.exp(-4.0)) / 1.6
    assert 0.009 < delta < 0.011
    assert tested.known_to() < given.known_to()
    at = np.linspace(0.0, 1.2 * given.known_to(), 500)
    np.testing.assert_allclose(tested.curve().force(at), given.curve().force(at), rtol=1e-4)
    end = tested.known_to()
    assert given.curve().energy(end) == pytest.approx(50e3 * 0.02 * 0.06, rel=1e-3)
    for pulls in (True, False):
        slab = Cushion(name="slab", thickness="50 mm", stiffness="40 N/mm", glued=pulls)
        assert slab.known_to() == 0.05
        force = slab.curve().force(np.array([-0.01, 0.0, 0.05, 0.051]))
        np.testing.assert_allclose(force, [-400.0 * pulls, 0.0, 2000.0, 2000.0 + 40e3])
        assert np.all(np.diff(slab.curve().force(np.linspace(-0.1, 0.2, 400))) >= 0)


def test_the_best_static_stress_is_the_bottom_of_the_cushion_curve():
    s = np.geomspace(100.0, 1e5, 20001)
    for height in (0.3, 0.76):
        for thickness in (0.03, 0.06):
            peak = cushion.stress_energy_peak(A, B, s, height, thickness)
            best = float(cushion.best_static_stress(B, height, thickness))
            assert s[np.argmin(peak)] == pytest.approx(best, rel=1e-3)
            least = float(cushion.least_peak(A, B, height, thickness))
            assert peak.min() == pytest.approx(least, rel=1e-6)


def test_a_thickness_that_is_asked_for_gives_the_peak_that_was_wanted():
    mass, height, wanted = 8.0, 0.76, np.array([30.0, 50.0, 80.0])
    best, given = foam().thickness_for(mass, height, wanted)
    assert np.all(best <= given)
    for t, g in zip(given, wanted, strict=True):
        assert float(foam(thickness=f"{t} m").peak_g(mass, height)) == pytest.approx(g)
    found = foam_thickness(foam(), mass="8 kg", height="0.76 m", peak=[f"{g} g0" for g in wanted])
    for t, area, g in zip(found.at_best, found.area, wanted, strict=True):
        block = foam(thickness=str(t), area=str(area))
        assert float(block.peak_g(mass, height)) == pytest.approx(g)
    assert np.all(found.ideal < found.linear)


def test_linear_foam_of_that_thickness_meets_peak_and_thickness():
    slab = Cushion(name="slab", thickness="50 mm", stiffness="20 N/mm")
    for mass, peak in ((0.4, 30.0), (8.0, 30.0), (40.0, 30.0), (8.0, 2.3)):
        best, given = (float(t) for t in slab.thickness_for(mass, 0.5, peak))
        assert best == pytest.approx(float(slab.least_peak_g(0.5) - 2) * 0.05 / (peak - 2))
        softer = [
            Cushion(name="slab", thickness=f"{t} m", stiffness=f"{20 * 0.05 / t} N/mm")
            for t in (given * 1.0001, given * 0.999)
        ]
        thick, thin = (float(foam.peak_g(mass, 0.5)) for foam in softer)
        assert thick <= peak
        assert thin > peak or np.isnan(thin)
    assert np.isinf(slab.thickness_for(60.0, 0.5, 30.0)[1])
    assert np.isinf(slab.thickness_for(8.0, 0.5, 2.0)[1])
    assert np.isnan(slab.peak_g(200.0, 1.0))


def test_the_area_that_a_message_offers_is_small_enough_for_every_case():
    """G·s = a at the start: the lightest case with the least peak needs the smallest area."""
    asked = {"mass": ["8 kg", "1 kg"], "height": "0.5 m", "peak": "40 g0"}
    with pytest.raises(InputError, match=r"harder than 40 g .* below 196\.1 cm² does not"):
        foam_thickness(foam(area="200 cm^2"), **asked)
    assert np.isfinite(foam_thickness(foam(area="196 cm^2"), **asked).at_area.m_as("m")).all()
    with pytest.raises(InputError, match=r"harder than 20 g .* below 784\.5 cm² does not"):
        foam_thickness(foam(area="790 cm^2"), mass="8 kg", height="0.5 m", peak=["40 g0", "20 g0"])


def test_where_mounts_stop_a_fall_alone_there_is_no_pad():
    """δ(1 + √(1 + 2h/δ)) from the unloaded pose, δ = mg/k (Mindlin 1945, gravity kept)."""
    m, k, h = 8.0, 8e3, 0.76
    sag = m * G0 / k
    alone = sag * (1 + np.sqrt(1 + 2 * h / sag))
    gap, pad, least = snubber_for(m, k, h, 40.0, np.array([0.999, 1.001]) * alone)
    assert (gap[1], pad[1]) == (np.inf, 0.0)
    assert 0 < gap[0] < alone
    assert pad[0] > 0
    assert least == pytest.approx((2 * h + 40 * sag) / 39)
    given = {"mass": "8 kg", "stiffness": "8 N/mm", "height": "0.76 m", "peak": "40 g0"}
    with pytest.raises(InputError, match=rf"stop the payload within {1e3 * alone:.1f} mm"):
        snubber(**given, travel="200 mm")
    # A sag of 1 m and a fall of 1.5 m: 3 g at 3 m, where 3²/2 of the spring is 1.5 + 3 of weight.
    gap, pad, least = snubber_for(1.0, G0, 1.5, 3.0, 3.0)
    assert (gap, pad, least) == (np.inf, 0.0, 3.0)
    # On mounts so soft that they would do earlier, the least is what they take alone.
    assert snubber_for(m, k, h, alone / sag * 1.001, alone)[2] == pytest.approx(alone, rel=2e-3)


def test_a_loss_factor_is_a_dashpot_at_the_bounce():
    """c = ηk/ω with ω = √(k/m): 0.2 of 40 N/mm under 10 kg at 63.25 rad/s are 126.5 N·s/m."""
    slab = Cushion(name="slab", thickness="50 mm", stiffness="40 N/mm", loss_factor=0.2)
    assert slab.drag(10.0) == pytest.approx(126.49, rel=1e-4)
    assert slab.drag(np.inf) == 0.0
    slab = {"name": "slab", "thickness": "50 mm", "stiffness": "40 N/mm"}
    assert Cushion(**slab).drag(10.0) == 0.0
    assert Cushion(**slab, loss_factor=2).drag(10.0) == pytest.approx(1264.9, rel=1e-4)
    assert type(Cushion(**slab, loss_factor=2).loss_factor) is float


def test_a_fit_finds_the_law_that_made_the_points():
    a, b, scatter = (float(v) for v in fit_stress_energy(*points(0.0)))
    assert (a, b) == pytest.approx((A, B))
    assert scatter < 1e-12
    fits = np.array([fit_stress_energy(*points(0.1, seed=n)) for n in range(200)])
    assert fits[:, 0].mean() == pytest.approx(A, rel=0.01)
    assert fits[:, 1].mean() == pytest.approx(B, rel=0.01)
    assert np.sqrt((fits[:, 2] ** 2).mean()) == pytest.approx(0.1, rel=0.02)
    batch = fit_stress_energy(*(np.stack([c, c]) for c in points(0.1)))
    for many, one in zip(batch, fit_stress_energy(*points(0.1)), strict=True):
        np.testing.assert_allclose(many, one)


def measured(*energies):
    """Foam of that law by points of 2 kPa from 0.6 m, at energies s·h/t. [Pa]"""
    t = 2e3 * 0.6 / np.array(energies)
    peak = cushion.stress_energy_peak(A, B, 2e3, 0.6, t)
    columns = np.broadcast_arrays(2e3, 0.6, t, peak)
    return foam(initial_stress=None, growth=None, points=as_points(columns))


def test_points_answer_at_the_energies_of_their_ends():
    tested = measured(10e3, 13e3, 40e3)
    mass = 2e3 * 0.02 / G0
    for energy in (10e3, 40e3):
        peak = tested.peak_g(mass, energy * 0.06 / 2e3)
        assert peak == pytest.approx(float(foam().peak_g(mass, energy * 0.06 / 2e3)), rel=1e-6)


@pytest.mark.parametrize(
    ("low", "high", "known"),
    [(12.4e3, 50e3, True), (12.6e3, 50e3, False), (5e3, 12.6e3, True), (5e3, 12.4e3, False)],
)
def test_the_best_area_is_known_where_the_points_span_its_energy(low, high, known):
    """s·h/t = 1/b at the bottom of the cushion curve, 12.5 kPa."""
    tested = measured(low, (low + high) / 2, high)
    best, _ = tested.thickness_for(8.0, 0.6, 40.0)
    found = foam_thickness(tested, mass="8 kg", height="0.6 m", peak="40 g0")
    for value in (tested.least_peak_g(0.6), best, found.area.m):
        assert np.isfinite(value) == known


def test_three_points_at_two_energies_are_a_law():
    assert measured(10e3, 10e3, 40e3).law.b == pytest.approx(B)


def test_the_best_static_stress_of_a_foam_is_that_of_its_law():
    assert foam().best_static_stress(0.75) == pytest.approx(1000.0)  # t/(b·h)
    slab = Cushion(name="slab", thickness="50 mm", stiffness="20 N/mm")
    assert np.isnan(slab.best_static_stress(0.75))


def test_the_start_of_the_curve_is_one_straight_line():
    curve = foam().curve()
    rise, force = curve.deflection[3], curve.force_at[3]
    assert 0 < rise < 0.021 * 0.06
    part = np.array([0.1, 0.25, 0.5, 0.9])
    np.testing.assert_allclose(curve.force(part * rise), part * force, rtol=1e-9)
    np.testing.assert_allclose(curve.tangent(part * rise), force / rise, rtol=1e-9)


def test_points_answer_only_where_they_were_measured():
    columns = points(0.05)
    measured = foam(initial_stress=None, growth=None, points=as_points(columns))
    law = measured.law
    assert law.scatter == pytest.approx(float(fit_stress_energy(*columns)[2]), rel=1e-6)
    energy = columns[0] * columns[1] / columns[2]
    assert (law.low, law.high) == pytest.approx((energy.min(), energy.max()))
    mass = 2e3 * 0.02 / G0  # 2 kPa
    inside, outside = 0.5 * law.high * 0.06 / 2e3, 1.01 * law.high * 0.06 / 2e3
    assert np.isfinite(measured.peak_g(mass, inside))
    assert np.isnan(measured.peak_g(mass, outside))
    assert np.isnan(measured.peak_g(mass, 0.9 * law.low * 0.06 / 2e3))
    # A thickness is known where its energy s·h/t is, with t as exp(b·s·h/t) = G·s/a has it.
    for share, known in ((0.99, True), (1.01, False)):
        peak = law.a / 2e3 * np.exp(law.b * law.high * share)
        given = measured.thickness_for(mass, 0.6, peak)[1]
        assert np.isfinite(given) == known
        if known:
            assert given == pytest.approx(2e3 * 0.6 / (share * law.high))


def test_tangent_elasticity_is_the_published_law():
    """Force and energy of Mindlin 1945 (published)."""
    k, reach = np.array([2e3, 3e4]), np.array([0.02, 0.012])
    curve = Curve.tangent_elasticity(k, reach)
    share = np.linspace(-0.949, 0.949, 400)[:, None]
    angle = np.pi / 2 * share
    unit = 2 * reach / np.pi
    np.testing.assert_allclose(
        curve.force(share * reach), k * unit * np.tan(angle), rtol=1e-5, atol=1e-9
    )
    energy = k * unit**2 * np.log(1 / np.cos(angle))
    np.testing.assert_allclose(curve.energy(share * reach), energy, rtol=1e-5, atol=1e-9)
    # From 0.95 of the way to the bottom it is straight.
    end = curve.tangent(0.95 * reach)
    np.testing.assert_allclose(end, k / np.cos(0.475 * np.pi) ** 2, rtol=1e-6)
    further = curve.force(0.95 * reach) + end * 0.2 * reach
    np.testing.assert_allclose(curve.force(1.15 * reach), further, rtol=1e-9)
    for bad in ((0.0, 0.01), (1e3, -0.01), (np.nan, 0.01)):
        with pytest.raises(ValueError, match="above zero"):
            Curve.tangent_elasticity(*bad)


def test_a_law_of_no_elastic_foam_has_a_peak_but_no_curve():
    assert foam(growth="0.051 1/kPa").curve().force(0.01) > 0
    with pytest.raises(InputError, match=r"is 1, and up to 1"):
        foam(growth="0.05 1/kPa").curve()
    soft = foam(growth="0.04 1/kPa")
    assert np.isfinite(soft.peak_g(8.0, 0.5))
    with pytest.raises(InputError, match=r"is 0\.8, .*past its own thickness"):
        soft.curve()

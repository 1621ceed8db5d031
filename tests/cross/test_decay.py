"""The fit of decaying sines: scipy's own, intervals by a sandwich in full, criteria by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq, curve_fit

from isolator.decay import COVERAGE, WIDEST, Fit, best_fit, credible, fit_near
from isolator.decay import _pencil as starts
from isolator.units import si

T = np.arange(300) / 100.0
TRUE = np.array([complex(-2.0, 30.0)])


def model(t, sigma, omega, *linear):
    """Cosine, sine and offset of one decaying sine, for each channel in turn."""
    parts = np.exp(-sigma * t)[:, None] * np.stack([np.cos(omega * t), np.sin(omega * t)], -1)
    base = np.column_stack([parts, np.ones_like(t)])
    return (base @ np.reshape(linear, (-1, 3)).T).T.ravel()


def noise(kind, count=300, seed=3):
    """White, or of neighbours that are alike or unlike."""
    white = np.random.default_rng(seed).standard_normal(count + 4)
    weights = {"white": [1.0], "alike": [1, 2, 3, 2, 1], "unlike": [1, -1]}[kind]
    return np.convolve(white, weights)[4 : count + 4]


def fitted(x, t=T, poles=TRUE):
    x = x[:, None] if x.ndim == 1 else x
    found = fit_near(t, x, poles)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("kind", "count"), [("unlike", 300), ("alike", 300), ("alike", 100), ("alike", 1000)]
)
def test_variances_are_the_usual_or_those_of_alike_neighbours(kind, count):
    """Cross: curve_fit of all five numbers; Newey and West 1987 with every pair of instants
    written out, lags by 4(n/100)^(2/9) (published)."""
    t = np.arange(count) / max(100.0, count / 3)
    x = model(t, 2.0, 30.0, 1.0, 0.4, 0.2) + 0.02 * noise(kind, count)
    found = fitted(x, t)
    best, usual = curve_fit(model, t, x, [2.0, 30.0, 1.0, 0.4, 0.2], xtol=1e-13, ftol=1e-13)
    assert -found.poles[0].real == pytest.approx(best[0], rel=1e-4)
    assert found.poles[0].imag == pytest.approx(best[1], rel=1e-5)
    np.testing.assert_allclose(found.linear[:, 0], best[2:], rtol=1e-3)
    steps = 1e-6 * np.eye(5)
    jac = np.stack([(model(t, *(best + h)) - model(t, *(best - h))) / 2e-6 for h in steps], -1)
    bread, left = np.linalg.inv(jac.T @ jac), x - model(t, *best)
    lags = int(4 * (count / 100) ** (2 / 9))
    apart = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    pairs = np.maximum(1 - apart / (lags + 1), 0.0) * np.outer(left, left)
    robust = np.diag(bread @ jac.T @ pairs @ jac @ bread)[:2]
    ratio = np.maximum(1.0, robust / (np.mean(left**2) * np.diag(bread)[:2]))
    assert (ratio > 1.2).all() if kind == "alike" else (ratio == 1.0).all()
    expected = usual[:2, :2] * np.sqrt(np.outer(ratio, ratio))
    np.testing.assert_allclose(found.covariance, expected, rtol=2e-3)


def test_two_channels_count_by_their_noise():
    """Cross: curve_fit with the scatter of each channel, eight numbers in all."""
    linear = [1.0, 0.4, 0.2, -0.7, 0.5, 0.1]
    clean = model(T, 2.0, 30.0, *linear).reshape(2, -1)
    loud = np.stack([0.3 * noise("unlike"), 0.01 * noise("unlike", seed=4)])
    found = fitted((clean + loud).T)
    sigma = np.repeat(np.std(found.left, axis=0), len(T))
    best, usual = curve_fit(model, T, (clean + loud).ravel(), [2.0, 30.0, *linear], sigma=sigma)
    np.testing.assert_allclose([-found.poles[0].real, found.poles[0].imag], best[:2], rtol=2e-5)
    np.testing.assert_allclose(found.covariance, usual[:2, :2], rtol=0.02)
    assert np.sqrt(found.covariance[0, 0]) < 0.05  # the loud one alone has ten times that
    # The unit of the samples and that of the time change nothing of it.
    faint = fitted(1e-7 * (clean + loud).T)
    np.testing.assert_allclose(faint.poles, found.poles, rtol=1e-6)
    slow = fitted((clean + loud).T, 100 * T, TRUE / 100)
    np.testing.assert_allclose(100 * slow.poles, found.poles, rtol=1e-6)
    alone = fitted((clean + loud)[0])
    assert np.sqrt(alone.covariance[0, 0]) > 0.2


def by_hand(poles, off=1e-3, t=T, channels=1, left=0.1):
    """A fit that was not fitted: poles, and how far σ and ω may be off."""
    m, poles = len(poles), np.array(poles)
    linear = np.vstack(
        [np.ones((m, channels)), np.full((m, channels), 0.5), np.zeros((1, channels))]
    )
    x = np.full((len(t), channels), 2.0)
    return Fit(t, x, poles, linear, off**2 * np.eye(2 * m), np.full_like(x, left))


def test_what_a_fit_explains_and_what_it_costs():
    """1 − Σr²/Σ(x − offset)²; n·Σ ln(mean r²) + k·ln(n·c) with four numbers for each of two modes,
    two more in a second channel, and an offset each (Schwarz 1978, memory)."""
    two = by_hand([-2 + 30j, -3 + 60j], channels=2)
    assert two.explained == pytest.approx(1 - 0.01 / 4)
    shifted = replace(two, linear=np.vstack([two.linear[:-1], [[1.0, 1.0]]]))
    assert shifted.explained == pytest.approx(1 - 0.01 / 1)
    n = len(T)
    cost = n * 2 * np.log(0.01) + 14 * np.log(2 * n)
    assert two.schwarz == pytest.approx(cost)
    exact = replace(two, left=np.zeros((n, 2)), x=np.full((n, 2), 3.0))
    assert exact.schwarz == pytest.approx(n * 2 * np.log(9e-30) + 14 * np.log(2 * n))


def test_intervals_of_frequency_and_damping_follow_those_of_the_pole():
    """By differences of |p|/2π and σ/|p|, Student's t over what is free."""
    covariance = np.array([[4e-3, 1.5e-3], [1.5e-3, 9e-3]])
    fit = replace(by_hand([-4.0 + 30j]), covariance=covariance)
    (mode,) = fit.modes()
    wide = stats.t.ppf((1 + COVERAGE) / 2, len(T) - 5)

    def of(sigma, omega):
        size = np.hypot(sigma, omega)
        return np.array([size / (2 * np.pi), sigma / size])

    slopes = np.stack(
        [(of(4 + h, 30 + k) - of(4 - h, 30 - k)) / 2e-5 for h, k in ((1e-5, 0), (0, 1e-5))], -1
    )
    within = wide * np.sqrt(np.diag(slopes @ covariance @ slopes.T))
    assert [si(mode, "frequency"), mode.damping_ratio] == pytest.approx(of(4.0, 30.0).tolist())
    got = [si(mode, "frequency_within"), mode.damping_within]
    assert got == pytest.approx(within.tolist(), rel=1e-5)
    assert mode.amplitude == pytest.approx(1.0 - 0.5j)
    two = by_hand([-4.0 + 30j, -1 + 80j], channels=3, t=T[:20]).modes()
    other = stats.t.ppf((1 + COVERAGE) / 2, 3 * 20 - 4 * 4 - 3)
    assert two[1].damping_within == pytest.approx(other * 1e-3 * 80 / (1 + 80**2), rel=1e-3)


# Of 30 rad/s and σ = 3: 4.8 Hz, known to 1.5 and 1.5 rad/s.
CREDIBLE = {
    "as it is": (by_hand([-3 + 30j]), True),
    "ω known to 4.9 %": (by_hand([-5 + 30j], off=1.47), True),
    "ω known to 5.1 %": (by_hand([-5 + 30j], off=1.53), False),
    "σ known to 49 %": (by_hand([-2 + 60j], off=0.98), True),
    "σ known to 51 %": (by_hand([-2 + 60j], off=1.02), False),
    "hardly damped, to 0.49 % of it": (by_hand([-0.1 + 60j], off=0.29), True),
    "hardly damped, to 0.51 % of it": (by_hand([-0.1 + 60j], off=0.31), False),
    "1.6 swings": (by_hand([-3 + 30j], t=T[: int(100 * 1.6 / 4.8)]), True),
    "1.4 swings": (by_hand([-3 + 30j], t=T[: int(100 * 1.4 / 4.8)]), False),
    "growing": (by_hand([3 + 30j]), False),
    "too damped": (by_hand([-1.01 * WIDEST * 30 + 30j * np.sqrt(1 - WIDEST**2)]), False),
    "one of its own": (by_hand([-3 + 30j, -3 + 36.2j]), True),
    "light and of its own": (by_hand([-0.6 + 30j, -0.2 + 30.6j]), True),
    "light and not of its own": (by_hand([-0.6 + 30j, -0.2 + 30.3j]), False),
    "not of its own": (by_hand([-3 + 30j, -3 + 32.8j]), False),
}


@pytest.mark.parametrize("name", CREDIBLE)
def test_which_fits_are_believed(name):
    fit, believed = CREDIBLE[name]
    assert credible(fit) is believed


@pytest.mark.parametrize(("m", "c", "least"), [(1, 1, 14), (2, 1, 18), (1, 2, 9), (2, 2, 12)])
def test_a_fit_wants_eight_samples_more_than_it_has_numbers(m, c, least):
    """Of 2m(1 + c) + c: poles, cosines, sines and offsets."""
    poles = np.array([-2 + 30j, -1 + 90j])[:m]
    for count in (least, least - 1):
        t = T[:count]
        x = sum(np.exp(pole * t).real for pole in poles)[:, None] * np.arange(1, c + 1)
        x = x + 0.01 * np.random.default_rng(c).standard_normal(x.shape)
        assert (fit_near(t, x, poles) is not None) is (count == least)


def test_amplitudes_belong_to_their_modes():
    two = replace(by_hand([-4.0 + 30j, -1 + 80j]), linear=np.arange(1.0, 6.0)[:, None])
    np.testing.assert_array_equal([each.amplitude[0] for each in two.modes()], [1 - 3j, 2 - 4j])


def test_starting_poles_of_a_clean_ring_are_its_own():
    """Two modes at a rate far above both: the means of neighbours leave poles where they are."""
    t = np.arange(3000) / 1000
    x = model(t, 2.0, 30.0, 1.0, 0.4, 0.0) + model(t, 1.0, 90.0, 0.3, 0.2, 0.0)
    found = two(starts(t, x[:, None], 1000.0))
    np.testing.assert_allclose(found, [-2 + 30j, -1 + 90j], rtol=0.02)
    # An offset is none of them, and noise is averaged over all that rings.
    rough = x + 1000.0 + 0.1 * noise("white", count=3000)
    np.testing.assert_allclose(two(starts(t, rough[:, None], 1000.0)), found, rtol=0.003)
    assert [len(poles) for poles in starts(t, rough[:, None], 1000.0)] == [1, 2, 3, 4]
    # Two sides of one body that swing against each other; the same a hundred times as slow.
    apart = np.stack([x, -x], axis=1)
    np.testing.assert_allclose(two(starts(t, apart, 1000.0)), found, rtol=1e-6)
    np.testing.assert_allclose(two(starts(100 * t, rough[:, None], 10.0)), found / 100, rtol=0.003)


def two(each):
    """The two poles of a fit of two, the slower first."""
    return each[1][np.argsort(each[1].imag)]


def test_starting_poles_want_twelve_even_samples():
    k = np.arange(14.0)
    x = np.exp(-0.05 * k) * np.cos(1.5 * k)
    assert starts(k[:12], x[:12, None], 1.0) == []
    np.testing.assert_allclose(starts(k[:13], x[:13, None], 1.0)[0], [-0.05 + 1.5j], rtol=0.1)


def test_a_line_that_stands_out_of_the_noise_by_its_power_is_not_averaged_away():
    """At 150 Hz, ten times the noise in amplitude and a hundred times in power."""
    t = np.arange(3000) / 1000
    x = model(t, 2.0, 30.0, 1.0, 0.0, 0.0) + model(t, 1.0, 942.0, 0.03, 0.0, 0.0)
    found = starts(t, (x + 0.02 * noise("white", count=3000))[:, None], 1000.0)
    assert np.abs(np.concatenate(found).imag - 942).min() < 30


@pytest.mark.parametrize("seed", range(3))
def test_as_many_modes_as_there_are(seed):
    """A second one of an amplitude far above the noise is taken, one that is noise is not."""
    one = model(T, 2.0, 30.0, 1.0, 0.4, 0.0) + 0.02 * noise("white", seed=seed)
    two = one + model(T, 1.0, 90.0, 0.2, 0.0, 0.0)
    assert [len(best_fit(T, x[:, None], 100.0, None).poles) for x in (one, two)] == [1, 2]
    assert len(best_fit(T, two[:, None], 100.0, 1).poles) == 1


def test_a_far_start_ends_where_a_near_one_does():
    """The first steps from there lead away, and are shortened."""
    x = model(T, 2.0, 30.0, 1.0, 0.4, 0.2) + 0.02 * noise("white")
    near, far = fitted(x), fitted(x, poles=np.array([complex(-9.0, 31.5)]))
    np.testing.assert_allclose(far.poles, near.poles, rtol=1e-5)


def test_the_mode_that_brings_most_over_its_decay_comes_first():
    """Σ amplitude²/σ: 1/8 against 0.36/0.5."""
    x = model(T, 8.0, 30.0, 1.0, 0.0, 0.0) + model(T, 0.5, 90.0, 0.6, 0.0, 0.0)
    found = fitted(x + 1e-3 * noise("white"), poles=np.array([-8 + 30j, -0.5 + 90j]))
    np.testing.assert_allclose(found.poles.imag, [90.0, 30.0], rtol=1e-3)
    # One that stays brings no more than over twice the record: 1/(0.5/3 s) is 6 of it.
    for other, order in ((2.0, [90.0, 30.0]), (3.0, [30.0, 90.0])):
        x = model(T, 1.0, 30.0, other, 0.0, 0.0) + model(T, 0.01, 90.0, 1.0, 0.0, 0.0)
        stays = fitted(x + 1e-4 * noise("white"), poles=np.array([-1 + 30j, -0.01 + 90j]))
        np.testing.assert_allclose(stays.poles.imag, order, rtol=1e-3)


def test_a_second_mode_must_be_worth_its_numbers():
    """Of growing amplitude it is taken where the criterion falls by 10, not before."""
    base = model(T, 2.0, 30.0, 1.0, 0.4, 0.0) + 0.02 * noise("white", seed=1)

    def gain(height):
        x = base + height * model(T, 1.0, 90.0, 1.0, 0.0, 0.0)
        one = fitted(x).schwarz
        return one - fitted(x, poles=np.array([-2 + 30j, -1 + 90j])).schwarz

    for wanted, modes in ((9.6, 1), (10.4, 2)):
        height = brentq(lambda h, g=wanted: gain(h) - g, 1e-3, 0.1, rtol=1e-3)
        x = base + height * model(T, 1.0, 90.0, 1.0, 0.0, 0.0)
        assert len(best_fit(T, x[:, None], 100.0, None).poles) == modes


def test_a_fit_that_leads_nowhere_is_none(monkeypatch):
    """One that turns the other way, or one of whose variances is no number above 0."""
    x = model(T, 2.0, 30.0, 1.0, 0.4, 0.2) + model(T, 1.0, 90.0, 0.5, 0.1, 0.0)
    x = (x + 0.01 * noise("white"))[:, None]
    both = np.array([-2 + 30j, -1 + 90j])
    assert fit_near(T, x, both) is not None
    assert fit_near(T, x, both.conj()) is None
    assert fit_near(T, x, np.array([-2 + 30j, -1 - 90j])) is None
    for wrong in (np.nan, np.inf, -1e-4, 0.0):
        variances = np.array([1e-4, wrong, 1e-4, 1e-4])
        monkeypatch.setattr("isolator.decay._covariance", lambda found, v=variances: np.diag(v))
        assert fit_near(T, x, both) is None


@pytest.mark.parametrize(
    ("costs", "taken"),
    [
        ([100, 95, 50, 49], 50),  # one in vain is passed over
        ([100, 95, 96, 20], 100),  # two in vain are the end
        ([100, 60, 55, 20], 20),
        ([None, None, 70, 75], 70),  # but for those before the first
        ([None, None, None, None], None),
    ],
)
def test_after_two_more_modes_in_vain_the_search_ends(monkeypatch, costs, taken):
    fits = [None if cost is None else SimpleNamespace(schwarz=cost) for cost in costs]
    monkeypatch.setattr("isolator.decay._pencil", lambda t, x, rate: range(4))
    monkeypatch.setattr("isolator.decay.fit_near", lambda t, x, poles: fits[poles])
    monkeypatch.setattr("isolator.decay.credible", lambda fit: True)
    found = best_fit(T, T[:, None], 100.0, None)
    assert (None if found is None else found.schwarz) == taken

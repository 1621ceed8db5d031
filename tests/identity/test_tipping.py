"""A case that slaps down or topples, by hand and by the pendulum that it is."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from isolator.tipping import slap_down, topple_speed
from isolator.units import G0


def test_slap_down_by_hand():
    """x/(k² + x² + y²), or without y² where the edge slides: 3, 4 and k = 5."""
    assert slap_down(3.0, 4.0, 5.0) == pytest.approx(3 / 50, rel=1e-12)
    assert slap_down(3.0, 4.0, 5.0, pinned=False) == pytest.approx(3 / 34, rel=1e-12)


@pytest.mark.parametrize("pinned", [True, False])
def test_a_tilt_turns_the_arm(pinned: bool):
    """The centre of gravity goes round the edge: up by the tilt, away from the face."""
    around, tilt = np.hypot(3, 4), 0.3
    angle = np.arctan2(4, 3) + tilt
    turned = around * np.cos(angle), around * np.sin(angle)
    expected = slap_down(*turned, 5.0, pinned=pinned)
    assert slap_down(3.0, 4.0, 5.0, tilt, pinned=pinned) == pytest.approx(float(expected))
    beyond = slap_down(3.0, 4.0, 5.0, np.pi / 2, pinned=pinned)
    assert beyond == pytest.approx(-4 / (25 + 16 + (9 if pinned else 0)), rel=1e-12)


def test_toppling_by_hand():
    """ω² = 2g(r − h)/(k² + r²) = 2·9·(5 − 4)/50."""
    assert topple_speed(3.0, 4.0, 5.0, gravity=9.0) == pytest.approx(0.6, rel=1e-12)
    assert topple_speed(3.0, 4.0, 5.0) == pytest.approx(np.sqrt(G0 / 25), rel=1e-12)


def test_at_its_balance_point_a_case_stands():
    """√(3² + 4²) less 5 is a rounding and no speed."""
    balance = np.arctan2(3, 4)
    assert topple_speed(3.0, 4.0, 5.0, balance) == pytest.approx(0.0, abs=1e-7)
    many = topple_speed(np.linspace(0.1, 3, 50), 4.0, 5.0, np.arctan2(np.linspace(0.1, 3, 50), 4))
    assert np.all(many < 1e-6)


def test_toppling_is_the_swing_of_a_pendulum():
    """θ¨ = g·r·sin θ/(k² + r²), followed in time from just beyond the balance point."""
    x, y, k = 0.25, 0.1, 0.2
    lever, to = np.hypot(x, y), np.arctan2(x, y)
    turning = 9.81 * lever / (k**2 + lever**2)

    def landed(_: float, state: np.ndarray) -> float:
        return float(state[0] - to)

    landed.terminal = True
    start = 1e-6
    run = solve_ivp(
        lambda _, state: [state[1], turning * np.sin(state[0])],
        (0.0, 60.0),
        [start, 0.0],
        events=landed,
        rtol=1e-10,
        atol=1e-12,
    )
    speed = run.y_events[0][0][1]
    assert topple_speed(x, y, k, gravity=9.81) == pytest.approx(speed, rel=1e-6)

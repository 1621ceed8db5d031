"""A flat landing by energy: closed forms of a spring with limits, and the sum over six modes."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import eigh

from isolator.curve import Curve
from isolator.mount import Mount, Place
from isolator.payload import Payload
from isolator.shock import Line, flat_drop, height_for, jolt, light_shell_peak, swing
from isolator.suspension import ATTITUDES, Suspension, motion_at
from isolator.units import G0

FEET = [(x, y, -0.06) for x in (-0.16, 0.16) for y in (-0.11, 0.11)]
POINTS = np.array([[0.2, 0.15, 0.08], [-0.2, 0.1, -0.05], [0.0, 0.0, 0.0]])
DOWN, RATIO = np.array([0.0, 0.0, -1.0]), 1.5
UNKNOWN = np.full((4, 3), np.nan)
MASS, STIFF = np.array([8.0, 12.0]), np.array([4 * 6e3, 4 * 9e3])
HEIGHT = np.array([0.3, 0.7])


def lopsided(feet=FEET, **given) -> Suspension:
    """Three soft mounts and a stiff one below a skew body: every mode has part in a landing."""
    skew = np.array([[0.08, 0.02, -0.01], [0.02, 0.12, 0.03], [-0.01, 0.03, 0.15]])
    return Suspension.of_springs(
        9.0, skew, feet, [3e3, 4e3, 5e3, 9e3], [2e3, 3e3, 3e3, 5e3], **given
    )


def pair(cable: float = 0.0) -> Suspension:
    """Two designs of four equal mounts, 6 and 9 N/mm, under 8 and 12 kg, with a cable or none."""
    held = Suspension.stacked(
        [
            Suspension.of_springs(m, np.eye(3) * 0.1, FEET, k, k / 2, dynamic_ratio=RATIO)
            for m, k in zip(MASS, STIFF / 4, strict=True)
        ]
    )
    if not cable:
        return held
    more = np.array([[[cable, 2 * cable, 3 * cable]], [[cable, 2 * cable, 5 * cable]]])
    return Suspension(
        held.mass, held.inertia, held.position, held.frames, held.curve, held.dynamic_ratio,
        held.loss_factor, held.sheet, np.zeros((2, 1, 3)), more, np.zeros((2, 1)),
    )  # fmt: skip


def test_a_fall_line_is_one_spring() -> None:
    """Along (0.6, 0, −0.8), 9 and 6 N/mm: each share squared, cables along x and z beside them."""
    way, d = np.array([0.6, 0.0, -0.8]), np.array([0.003, 0.005])
    line = Line.along(pair(100.0), way)
    mounts = STIFF * 0.8**2 + STIFF / 2 * 0.6**2
    cables = 100.0 * 0.6**2 + np.array([300.0, 500.0]) * 0.8**2
    np.testing.assert_allclose(line.cables, cables)
    np.testing.assert_allclose(line.force(d), (mounts + cables) * d)
    np.testing.assert_allclose(line.energy(d), (mounts + cables) * d**2 / 2)
    each = np.hypot(0.8 * STIFF / 4, 0.6 * STIFF / 8) * d
    np.testing.assert_allclose(line.mount_force(d), np.repeat(each[:, None], 4, axis=1))
    wanted = np.array([0.7, 1.3]) * (mounts + cables) * d
    np.testing.assert_allclose(line.level(wanted, np.array([0.1, 0.1])), wanted / (mounts + cables))
    near = (wanted + 0.5) / (mounts + cables)  # half a newton within what is asked
    np.testing.assert_allclose(line.level(wanted, near), wanted / (mounts + cables))
    np.testing.assert_array_equal(line.level(wanted, np.array([1e-5, np.inf])), 0.0)
    # pushed 10 mm, pulled 4 mm, moved across 30 mm: what comes first
    limit = np.tile([0.01, 0.004, 0.03], (4, 1))
    np.testing.assert_allclose(line.reach(limit), 0.0125)
    np.testing.assert_allclose(Line.along(pair(), -way).reach(limit), 0.005)
    limit[3] = 0.01, 0.004, 0.002
    np.testing.assert_allclose(line.reach(limit), 0.002 / 0.6)
    limit[1, 0] = np.nan
    assert np.isnan(line.reach(limit)).all()
    assert (Line.along(pair(), DOWN).reach(np.full((4, 3), np.inf)) == np.inf).all()


def on_curve(nodes, forces) -> tuple[Curve, Line]:
    """The fall line of four mounts on one curve, and the curve."""
    curve, held = Curve.through(np.array(nodes), np.array(forces)), lopsided()
    same = Curve.stacked([Curve.stacked([curve, curve])] * 4)
    return curve, Line.along(
        Suspension(held.mass, held.inertia, held.position, held.frames, same,
                   held.dynamic_ratio, held.loss_factor), DOWN,
    )  # fmt: skip


def test_a_level_is_met_on_a_curve_with_a_plateau() -> None:
    curve, line = on_curve([0.002, 0.012, 0.02], [20.0, 20.5, 90.0])
    force = 4 * np.array([1.0, 20.0, 20.01, 20.4, 89.0])[:, None]
    at = line.level(force, np.full((5, 1), 0.05))
    np.testing.assert_allclose(4 * curve.force(at), force, rtol=1e-12)


def test_the_ring_of_a_sag_has_its_energy_and_half_the_weight_times_it_at_least() -> None:
    """A curve that softens stores more than a straight one to that point, one that hardens less."""
    weight, most = np.array([4 * 15.0]), np.array([0.03])
    for forces, more in (([12.0, 18.0, 20.0], True), ([3.0, 12.0, 40.0], False)):
        curve, line = on_curve([0.004, 0.012, 0.03], forces)
        sag = line.level(weight, most)
        way = np.linspace(0, sag[0], 20001)
        own = 4 * np.trapezoid(curve.force(way), way)
        straight = float(weight[0] * sag[0] / 2)
        assert (own > 1.05 * straight) == more
        assert (own < 0.95 * straight) != more
        assert line.stored(weight, most)[0] == pytest.approx(max(own, straight), rel=1e-6)


@pytest.mark.parametrize("e", [0.0, 0.4])
def test_a_drop_onto_linear_mounts_with_limits(e: float) -> None:
    """½kd² = mg(h + d), or mgh(1 + e)² in the flight of a shell that rebounds; both designs."""
    limit = np.tile([0.012, 0.009, 0.05], (4, 1))
    drop = flat_drop(pair(), DOWN, HEIGHT, limit, restitution=e)
    sag = MASS * G0 / STIFF
    stays = sag + np.sqrt(sag**2 + 2 * HEIGHT * sag)
    leaves = (1 + e) * np.sqrt(2 * HEIGHT * sag) * (e > 0)
    assert not e or (leaves > stays).all()
    np.testing.assert_allclose(drop.travel, np.maximum(stays, leaves))
    # the worst phase of the ring: a sag further either way
    ring = np.maximum(stays + sag, leaves + sag)
    np.testing.assert_allclose(drop.travel_most, ring)
    back = np.maximum(stays - sag, leaves + sag)
    np.testing.assert_allclose(drop.rebound, np.minimum(back, 0.009))
    np.testing.assert_allclose(drop.bottom, 0.012)
    np.testing.assert_array_equal(drop.bottoms, 1.0)
    fall = G0 * HEIGHT
    left = np.maximum(2 * (fall + G0 * 0.012), 2 * fall * (1 + e) ** 2 * (e > 0))
    np.testing.assert_allclose(drop.contact_speed, np.sqrt(left - STIFF / MASS * 0.012**2))
    least = STIFF * 0.012**2 / 2 / (MASS * G0)
    least = np.minimum(least - 0.012, least / (1 + e) ** 2) if e else least - 0.012
    np.testing.assert_allclose(drop.bottoming_height, np.maximum(least, 0.0))
    # the force ends at the limit, by the dynamic curves
    np.testing.assert_allclose(drop.peak, RATIO * STIFF * 0.012 / (MASS * G0))
    np.testing.assert_allclose(drop.peak_most, drop.peak)
    # and lasts from a tenth to a tenth of it: in at the speed of the worse landing, out as fast
    tenth = 0.0012
    enters = np.maximum(2 * (fall + G0 * tenth), 2 * fall * (1 + e) ** 2 * (e > 0))
    enters = np.sqrt(enters - RATIO * STIFF / MASS * tenth**2)
    np.testing.assert_allclose(drop.velocity_change, 2 * enters)
    shared = np.repeat((RATIO * STIFF * 0.012 / 4)[:, None], 4, axis=1)
    np.testing.assert_allclose(drop.mount_force, shared)
    less = sag / RATIO
    hard = less + np.sqrt(less**2 + 2 * HEIGHT * less)
    thrown = (1 + e) * np.sqrt(2 * HEIGHT * less) * (e > 0)
    np.testing.assert_allclose(drop.stiff_travel_most, np.maximum(hard, thrown) + less)
    np.testing.assert_allclose(
        drop.stiff_rebound, np.minimum(np.maximum(hard - less, thrown + less), 0.009)
    )
    wide = flat_drop(pair(), DOWN, HEIGHT, np.full((4, 3), 0.5), restitution=e)
    least = STIFF * 0.5**2 / 2 / (MASS * G0)
    least = np.minimum(least - 0.5, least / (1 + e) ** 2) if e else least - 0.5
    np.testing.assert_allclose(wide.bottoming_height, least)
    np.testing.assert_array_equal(wide.bottoms, 0.0)
    np.testing.assert_array_equal(wide.contact_speed, 0.0)
    np.testing.assert_allclose(wide.rebound, back)
    np.testing.assert_allclose(wide.stiff_rebound, np.maximum(hard - less, thrown + less))


def test_how_long_a_drop_lasts_above_a_tenth_of_its_peak() -> None:
    """x = s − R cos ωt about the sag s: until x is back at a tenth, and the speed there, twice."""
    sag = MASS * G0 / (RATIO * STIFF)
    omega, swung = np.sqrt(G0 / sag), np.sqrt(sag**2 + 2 * HEIGHT * sag)
    tenth = (sag + swung) / 10
    drop = flat_drop(pair(), DOWN, HEIGHT, UNKNOWN)
    np.testing.assert_allclose(
        drop.duration, 2 / omega * np.arccos((tenth - sag) / swung), rtol=1e-6
    )
    speed = omega * np.sqrt(swung**2 - (tenth - sag) ** 2)
    np.testing.assert_allclose(drop.velocity_change, 2 * speed, rtol=1e-9)
    for name in ("bottom", "bottoms", "contact_speed", "bottoming_height"):
        assert np.isnan(getattr(drop, name)).all()


@pytest.mark.parametrize(("e", "limit"), [(0.03, 0.5), (0.001, 0.012), (0.4, 0.012)])
def test_a_pulse_is_that_of_the_harder_landing_and_of_two_as_hard_the_faster(e, limit) -> None:
    """A slow rebound goes less far than gravity takes it; where both bottom the speed decides."""
    given = DOWN, HEIGHT, np.full((4, 3), limit)
    drop, stays = flat_drop(pair(), *given, restitution=e), flat_drop(pair(), *given)
    sag, spring = MASS * G0 / (RATIO * STIFF), RATIO * STIFF / MASS
    far = np.minimum(sag + np.sqrt(sag**2 + 2 * HEIGHT * sag), limit)
    speed = np.sqrt(2 * G0 * (HEIGHT + far / 10) - spring * (far / 10) ** 2)
    np.testing.assert_allclose(stays.velocity_change, 2 * speed)
    leaves = np.minimum((1 + e) * np.sqrt(2 * HEIGHT * sag), limit)
    flight = np.sqrt(2 * G0 * HEIGHT * (1 + e) ** 2 - spring * (leaves / 10) ** 2)
    assert (leaves <= far).all()
    assert (flight > speed).all() == (e > 0.01)
    wanted = 2 * (speed if limit > 0.1 else np.maximum(speed, flight))
    np.testing.assert_allclose(drop.velocity_change, wanted)
    np.testing.assert_array_equal(drop.duration == stays.duration, wanted == 2 * speed)


def test_where_a_shell_rebounds_only_in_one_design() -> None:
    """Each design has its own restitution; one that stays is as if the other were not there."""
    both = flat_drop(pair(), DOWN, HEIGHT, UNKNOWN, restitution=np.array([0.0, 0.5]))
    stays = flat_drop(pair(), DOWN, HEIGHT, UNKNOWN)
    leaves = flat_drop(pair(), DOWN, HEIGHT, UNKNOWN, restitution=0.5)
    for name in ("travel", "peak", "rebound", "duration", "velocity_change", "mount_force"):
        one, other = getattr(stays, name), getattr(leaves, name)
        np.testing.assert_allclose(getattr(both, name), np.stack([one[0], other[1]]), rtol=1e-12)
        assert (other[1] != one[1]).all()


def test_what_nothing_catches_has_no_end() -> None:
    """One-way pads, pulled: even with a cable, which is no mount, nothing is known of the peak."""
    pad = Mount(name="pad", along="6 N/mm", across="6 N/mm", captive=False, dynamic_ratio=1)
    tray = Payload(mass="8 kg", size=["400 mm", "300 mm", "150 mm"], inertia=["0.1 kg*m²"] * 3)
    corners = [(f"{x} mm", f"{y} mm", "-75 mm") for x in (-160, 160) for y in (-110, 110)]
    loose = Suspension.of(tray, [Place(mount=pad, position=at) for at in corners])
    down, up = flat_drop(loose, DOWN, 0.2, UNKNOWN), flat_drop(loose, -DOWN, 0.2, UNKNOWN)
    sag = 8 * G0 / 24e3
    assert down.travel == pytest.approx(sag + math.sqrt(sag**2 + 0.4 * sag))
    # nothing but its weight holds it back: all the energy, that of the ring at its worst with it
    ring = sag / 2
    thrown = (math.sqrt(0.2 + ring) + math.sqrt(ring)) ** 2 - ring
    assert down.rebound == pytest.approx(thrown, rel=1e-9)
    flight = flat_drop(loose, DOWN, 0.2, UNKNOWN, restitution=0.3)
    assert flight.rebound == np.inf
    assert up.travel == np.inf
    assert np.isnan(up.peak)
    assert np.isnan(light_shell_peak(loose, -DOWN, 0.2, UNKNOWN, 4.0))
    endless = flat_drop(loose, -DOWN, 0.2, np.full((4, 3), np.inf))
    assert (endless.travel, endless.bottoms) == (np.inf, 0.0)  # of what has no end there is none

    def tied(by: float) -> Suspension:
        return Suspension(
            loose.mass, loose.inertia, loose.position, loose.frames, loose.curve,
            loose.dynamic_ratio, loose.loss_factor, loose.sheet,
            np.zeros((1, 3)), np.full((1, 3), by), np.zeros(1),
        )  # fmt: skip

    assert flat_drop(tied(500.0), -DOWN, 0.2, UNKNOWN).travel == np.inf
    some = Suspension.stacked([tied(500.0), tied(0.0)])
    assert flat_drop(some, -DOWN, 0.2, UNKNOWN).travel.tolist() == [np.inf, np.inf]
    # thrown up again it is held back by its weight, with the cable beside it
    sag = 8 * G0 / 24500
    fall = 8 * G0 * (math.sqrt(0.2 + sag / 2) + math.sqrt(sag / 2)) ** 2 - 8 * G0 * sag / 2
    reach = flat_drop(tied(500.0), DOWN, 0.2, UNKNOWN).rebound
    assert 250 * reach**2 + 8 * G0 * reach == pytest.approx(fall, rel=1e-6)


def test_a_light_shell_takes_its_share_of_the_energy() -> None:
    """(1 + e)Vω√(M/(m + M)), no further than the limit; nothing of a shell that nobody weighed."""
    omega, speed = np.sqrt(RATIO * STIFF / MASS), np.sqrt(2 * G0 * HEIGHT)
    shell = np.array([4.0, 3.0])
    least = light_shell_peak(pair(), DOWN, HEIGHT, UNKNOWN, shell, restitution=0.4)
    wanted = 1.4 * speed * omega * np.sqrt(shell / (MASS + shell)) / G0
    np.testing.assert_allclose(least, wanted)
    plain = light_shell_peak(pair(), DOWN, HEIGHT, UNKNOWN, shell)
    np.testing.assert_allclose(plain, wanted / 1.4)
    held = light_shell_peak(pair(), DOWN, HEIGHT, np.full((4, 3), 0.01), shell)
    np.testing.assert_allclose(held, RATIO * STIFF * 0.01 / (MASS * G0))
    unweighed = light_shell_peak(pair(), DOWN, HEIGHT, UNKNOWN, np.array([np.nan, 3.0]))
    assert np.isnan(unweighed[0])
    assert unweighed[1] == pytest.approx(plain[1])


def test_the_height_of_a_travel() -> None:
    sag = MASS * G0 / STIFF
    for e in (0.0, 0.3, 1.0):
        further = flat_drop(pair(), DOWN, HEIGHT, UNKNOWN, restitution=e).travel_most
        np.testing.assert_allclose(height_for(pair(), DOWN, further, restitution=e), HEIGHT)
    np.testing.assert_array_equal(height_for(pair(), DOWN, 1.9 * sag), 0.0)
    assert np.isnan(height_for(pair(), DOWN, np.array([np.inf, np.nan]))).all()


def foretold(tray, way, height, rows, ahead, back, *, power=0, e=0.0):
    """Range of points (p, d) by six modes: the formulas of `swing`, in time at 4000 instants.

    The last of the three is what the chords of 80 instants may add, low and high.
    """
    square, shape = eigh(tray.mount_stiffness(), tray.mass_matrix())
    part = shape.T @ tray.mass_matrix()[:, :3] @ way
    flat = way @ tray.mount_stiffness()[:3, :3] @ way / tray.mass

    def reach(of):
        sag = G0 / of
        root = np.sqrt(sag**2 + 2 * height * sag)
        flight = (sag + (1 + e) * np.sqrt(2 * height * sag)) * (e > 0)
        return np.maximum(2 * sag + root, flight), np.maximum(root, flight)

    (most, least), (flat_most, flat_least) = reach(square), reach(flat)
    a, b = (
        (ahead / flat_most, back / flat_least) if not power else (ahead / (flat * flat_most),) * 2
    )
    share = (rows @ shape) * part * square**power
    up, down = np.maximum(share, 0), np.maximum(-share, 0)

    def ends(m, n):
        return np.array([-(up * b * n + down * a * m).sum(-1), (up * a * m + down * b * n).sum(-1)])

    bound, loss = ends(most, least), np.min(tray.loss_factor)
    if e or not loss > 0:
        return *bound, np.zeros((2, 1, 1))
    omega, sag, long = np.sqrt(square), G0 / square, 2 * np.pi / math.sqrt(flat)
    speed = math.sqrt(2 * G0 * height)
    time = np.linspace(0, 4 * long, 4001)[:, None]
    fade = np.exp(-loss / 2 * omega * np.maximum(time - long, 0))
    q = sag - fade * (sag * np.cos(omega * time) - speed / omega * np.sin(omega * time))
    x = (a * np.maximum(q, 0) + b * np.minimum(q, 0)) @ np.moveaxis(share, -1, -2)
    swung = np.hypot(sag, speed / omega)
    left = swung * np.exp(-loss / 2 * omega * 3 * long)
    later, ring = ends(2 * sag + left, left), ends(sag, sag)
    low = np.minimum(x.min(axis=1) + ring[0], later[0])
    high = np.maximum(x.max(axis=1) + ring[1], later[1])
    chord = swung * np.minimum((omega * long / 20) ** 2 / 8, 2)
    return np.maximum(low, bound[0]), np.minimum(high, bound[1]), np.abs(ends(chord, chord))


@pytest.mark.parametrize("loss", [math.nan, 0.02, 0.25, 0.6])
@pytest.mark.parametrize("e", [0.0, 0.4])
@pytest.mark.parametrize("body", [1.0, 0.003])
def test_the_swing_is_the_sum_over_six_modes(loss: float, e: float, body: float) -> None:
    """Of a body of small inertia, which turns so fast that it swings between two instants, too."""
    tray = lopsided(loss_factor=loss * np.array([1.0, 1.5, 1.2, 2.0]))
    tray = replace(tray, inertia=body * tray.inertia)
    rows = motion_at(POINTS)
    damped = 0
    for way in (DOWN, np.array(ATTITUDES["on the left end"])):
        for height in (0.02, 0.5):
            ours = swing(tray, way, height, rows, 0.06, 0.04, restitution=e)
            low, high, chord = foretold(tray, way, height, rows, 0.06, 0.04, e=e)
            assert (ours[1] >= high - 1e-9).all()
            assert (ours[1] <= high + 1e-9 + chord[1]).all()
            assert (ours[0] <= low + 1e-9).all()
            assert (ours[0] >= low - 1e-9 - chord[0]).all()
            damped += chord.any()
            felt = jolt(tray, way, height, rows, 11.0, restitution=e)
            low, high, chord = foretold(tray, way, height, rows, 11.0, 11.0, power=1, e=e)
            most = np.maximum(-low, high)
            assert (felt >= most * (1 - 1e-9)).all()
            assert (felt <= np.maximum(chord[0] - low, chord[1] + high) * (1 + 1e-9)).all()
    assert damped == (0 if e or not loss > 0 else 4)


def test_each_design_and_point_swings_for_itself() -> None:
    """Of two designs only one has known damping, and only the other a shell that stays."""
    ways = np.stack([DOWN, np.array(ATTITUDES["on the hinge side"])])
    trays = [lopsided(loss_factor=0.3), lopsided(loss_factor=math.nan)]
    both = Suspension.stacked(trays)
    height, rows = np.array([0.2, 0.5]), motion_at(POINTS)
    ahead, back = np.array([0.03, 0.05]), np.array([0.02, 0.04])
    for e in (np.zeros(2), np.array([0.0, 0.4])):
        ours = swing(both, ways, height, rows, ahead, back, restitution=e)
        felt = jolt(both, ways, height, rows, np.array([9.0, 12.0]), restitution=e)
        for i, tray in enumerate(trays):
            alone = swing(tray, ways[i], height[i], rows, ahead[i], back[i], restitution=e[i])
            for end, own in zip(ours, alone, strict=True):
                np.testing.assert_allclose(end[i], own, rtol=1e-9, atol=1e-12)
            own = jolt(tray, ways[i], height[i], rows, (9.0, 12.0)[i], restitution=e[i])
            np.testing.assert_allclose(felt[i], own, rtol=1e-9)
    low, high = swing(trays[0], DOWN, 0.2, rows, np.inf, 0.02)
    assert np.isinf(low[2, 2])
    assert not np.isnan([low, high]).any()


def test_a_shell_stays_unless_it_is_said_to_rebound() -> None:
    tray, rows = lopsided(loss_factor=math.nan), motion_at(POINTS)
    for way in (DOWN, np.array(ATTITUDES["on the left end"])):
        plain = swing(tray, way, 0.3, rows, 0.03, 0.02)
        np.testing.assert_array_equal(plain, swing(tray, way, 0.3, rows, 0.03, 0.02, restitution=0))
        np.testing.assert_array_equal(
            jolt(tray, way, 0.3, rows, 9.0), jolt(tray, way, 0.3, rows, 9.0, restitution=0)
        )
        assert (plain[1] < swing(tray, way, 0.3, rows, 0.03, 0.02, restitution=0.9)[1]).any()


def test_a_drop_goes_by_ratios_of_mass_and_length() -> None:
    """A hundred-thousandth of all masses and forces, or a millionth of all lengths."""
    limit = np.full((4, 3), np.nan)

    def landed(mass: float, length: float, e: float):
        feet = np.array(FEET)
        stiff = 6e3 * mass / length
        held = Suspension.of_springs(
            8 * mass, np.eye(3) * 0.1 * mass, feet, stiff, stiff, dynamic_ratio=RATIO
        )
        drop = flat_drop(held, DOWN, np.asarray(0.3 * length), limit, restitution=e)
        back = height_for(held, DOWN, drop.travel_most, restitution=e)
        return np.array(
            [drop.travel / length, drop.rebound / length, drop.peak, back / length,
             drop.velocity_change / math.sqrt(length), drop.duration / math.sqrt(length)]
        )  # fmt: skip

    for e in (0.0, 0.3):
        plain = landed(1.0, 1.0, e)
        assert plain[3] == pytest.approx(0.3)
        np.testing.assert_allclose(landed(1e-5, 1.0, e), plain, rtol=1e-9)
        np.testing.assert_allclose(landed(1.0, 1e-6, e), plain, rtol=1e-5)


def test_a_peak_between_two_instants_is_not_missed() -> None:
    """One mode, whose first peak lies half way between two of twenty instants of its cycle.

    Undamped as it is counted in that cycle, it goes 2δ + √(δ² + 2hδ) with the ring of the fall.
    """
    tray = Suspension.of_springs(
        8.0, np.eye(3) * 0.1, FEET, 6e3, 6e3, loss_factor=0.3, push=(0.0, 0.0, -1.0)
    )
    sag = 8 * G0 / 24e3
    # the peak comes at 90° and atan(δω/V), which is to be 9°: the instants are 18° apart
    height = sag / 2 / math.tan(math.pi / 20) ** 2
    most = 2 * sag + math.sqrt(sag**2 + 2 * height * sag)
    low, _ = swing(tray, DOWN, height, motion_at(np.zeros((1, 3))), most, most - 2 * sag)
    assert -low[0, 2] == pytest.approx(most, rel=1e-9)

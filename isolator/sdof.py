"""One mass on one spring: textbook closed forms in SI floats or arrays, no units.

Frequencies are in hertz. Arguments broadcast against each other; scalars give numpy scalars.
References by key of ``data/sources.csv``.
"""

import numpy as np
import numpy.typing as npt

from isolator.units import G0, FloatArray, InputError

TAU = 2.0 * np.pi
EULER_GAMMA = 0.5772156649015329  # Euler-Mascheroni constant [-]


def _array(value: npt.ArrayLike) -> FloatArray:
    return np.asarray(value, dtype=float)


def natural_frequency(stiffness: npt.ArrayLike, mass: npt.ArrayLike) -> FloatArray:
    """Natural frequency, f_n = √(k/m)/2π.

    Parameters
    ----------
    stiffness : (...) array
        Spring stiffness k > 0. [N/m]
    mass : (...) array
        Mass m > 0. [kg]

    Returns
    -------
    (...) array
        Undamped natural frequency. [Hz]

    Notes
    -----
    rao, undamped free vibration.

    Examples
    --------
    250 kN/m under 50 kg, worked by hand: √5000 rad/s.

    >>> round(float(natural_frequency(250e3, 50.0)), 2)
    11.25
    """
    return np.sqrt(_array(stiffness) / _array(mass)) / TAU


def natural_frequency_from_deflection(deflection: npt.ArrayLike) -> FloatArray:
    """Natural frequency of a linear spring from its sag, f_n = √(g/δ)/2π.

    Parameters
    ----------
    deflection : (...) array
        Sag δ > 0 under the weight of the mass. [m]

    Returns
    -------
    (...) array
        Undamped natural frequency. [Hz]

    Notes
    -----
    rao, static deflection. Holds where the static stiffness is the dynamic one as well: steel
    springs. Rubber is stiffer when it moves than when it sags, and reads low here.

    Examples
    --------
    One millimetre is the 15.76 of the handbooks:

    >>> round(float(natural_frequency_from_deflection(1e-3)), 2)
    15.76
    """
    return np.sqrt(G0 / _array(deflection)) / TAU


def static_deflection(stiffness: npt.ArrayLike, mass: npt.ArrayLike) -> FloatArray:
    """Sag of a linear spring under a weight, δ = m·g/k.

    Parameters
    ----------
    stiffness : (...) array
        Spring stiffness k > 0. [N/m]
    mass : (...) array
        Mass m. [kg]

    Returns
    -------
    (...) array
        Sag at standard gravity. [m]

    Notes
    -----
    rao, static deflection.

    Examples
    --------
    >>> float(static_deflection(9806.65, 1.0))
    0.001
    """
    return _array(mass) * G0 / _array(stiffness)


def stiffness_for(natural_frequency: npt.ArrayLike, mass: npt.ArrayLike) -> FloatArray:
    """Stiffness that gives a mass a natural frequency, k = m(2πf_n)².

    Parameters
    ----------
    natural_frequency : (...) array
        Undamped natural frequency. [Hz]
    mass : (...) array
        Mass. [kg]

    Returns
    -------
    (...) array
        Spring stiffness. [N/m]

    Notes
    -----
    rao, undamped free vibration.

    Examples
    --------
    >>> round(float(stiffness_for(1.0, 1.0)), 4)
    39.4784
    """
    return _array(mass) * (TAU * _array(natural_frequency)) ** 2


def _transmissibility(ratio: FloatArray, damping: FloatArray) -> FloatArray:
    # Undamped resonance is infinite by nature, not by accident: no warning.
    with np.errstate(divide="ignore"):
        transmissibility: FloatArray = np.sqrt(
            (1.0 + damping**2) / ((1.0 - ratio**2) ** 2 + damping**2)
        )
    return transmissibility


def viscous_transmissibility(
    frequency_ratio: npt.ArrayLike, damping_ratio: npt.ArrayLike
) -> FloatArray:
    """Transmissibility with viscous damping, T = √((1 + (2ζr)²)/((1 − r²)² + (2ζr)²)).

    The same curve serves base motion (response over base displacement or acceleration) and a
    shaken machine (force on the floor over force on the machine).

    Parameters
    ----------
    frequency_ratio : (...) array
        Excitation frequency over natural frequency, r = f/f_n ≥ 0. [-]
    damping_ratio : (...) array
        Damping over critical damping, ζ ≥ 0. [-]

    Returns
    -------
    (...) array
        Absolute transmissibility; infinite at r = 1 without damping. [-]

    Notes
    -----
    rao, base motion; inman, base excitation.

    Examples
    --------
    Every damping gives 1 at r = √2:

    >>> round(float(viscous_transmissibility(2.0**0.5, 0.3)), 12)
    1.0
    """
    r = _array(frequency_ratio)
    return _transmissibility(r, 2.0 * _array(damping_ratio) * r)


def structural_transmissibility(
    frequency_ratio: npt.ArrayLike, loss_factor: npt.ArrayLike
) -> FloatArray:
    """Transmissibility of a spring k(1 + iη), T = √((1 + η²)/((1 − r²)² + η²)).

    Parameters
    ----------
    frequency_ratio : (...) array
        Excitation frequency over natural frequency, r = f/f_n ≥ 0. [-]
    loss_factor : (...) array
        Structural loss factor, η ≥ 0. [-]

    Returns
    -------
    (...) array
        Absolute transmissibility; infinite at r = 1 without damping. [-]

    Notes
    -----
    rao, hysteretic damping. Steady vibration only: k(1 + iη) is not causal in time.

    Examples
    --------
    >>> round(float(structural_transmissibility(2.0**0.5, 0.3)), 12)
    1.0
    """
    return _transmissibility(_array(frequency_ratio), _array(loss_factor))


def viscous_peak(damping_ratio: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Where the viscous transmissibility peaks and how high.

    r = √(√(1 + 8ζ²) − 1)/(2ζ), here in the form r² = 2/(√(1 + 8ζ²) + 1) that holds at ζ = 0.

    Parameters
    ----------
    damping_ratio : (...) array
        Damping over critical damping, ζ ≥ 0. [-]

    Returns
    -------
    ratio : (...) array
        Frequency ratio of the peak. [-]
    transmissibility : (...) array
        Transmissibility there; infinite without damping. [-]

    Notes
    -----
    rao, base motion.

    Examples
    --------
    >>> ratio, peak = viscous_peak(0.1)
    >>> round(float(ratio), 5), round(float(peak), 4)
    (0.99033, 5.1228)
    """
    zeta = _array(damping_ratio)
    ratio = np.sqrt(2.0 / (np.sqrt(1.0 + 8.0 * zeta**2) + 1.0))
    return ratio, viscous_transmissibility(ratio, zeta)


def isolation_ratio(isolation: npt.ArrayLike) -> FloatArray:
    """Frequency ratio at which an undamped mount isolates so much, r = √(1 + 1/(1 − I)).

    Parameters
    ----------
    isolation : (...) array
        Isolation I = 1 − T, from 0 to 1. [-]

    Returns
    -------
    (...) array
        Excitation frequency over natural frequency; infinite at I = 1. [-]

    Notes
    -----
    rao, vibration isolation. Damping asks for more: this is the least ratio.

    Examples
    --------
    >>> round(float(isolation_ratio(0.8)), 4)
    2.4495
    """
    with np.errstate(divide="ignore"):
        ratio: FloatArray = np.sqrt(1.0 + 1.0 / (1.0 - _array(isolation)))
    return ratio


def critical_damping(stiffness: npt.ArrayLike, mass: npt.ArrayLike) -> FloatArray:
    """Damping coefficient at which a released mass just does not swing, c = 2√(k·m).

    Parameters
    ----------
    stiffness : (...) array
        Spring stiffness k. [N/m]
    mass : (...) array
        Mass m. [kg]

    Returns
    -------
    (...) array
        Critical damping coefficient. [N·s/m]

    Notes
    -----
    open-vibrations, chapter 2.

    Examples
    --------
    >>> round(float(critical_damping(857.8, 0.0492)), 3)
    12.993
    """
    return 2.0 * np.sqrt(_array(stiffness) * _array(mass))


def damping_ratio(
    stiffness: npt.ArrayLike, mass: npt.ArrayLike, coefficient: npt.ArrayLike
) -> FloatArray:
    """Damping over critical damping, ζ = c/(2√(k·m)).

    Parameters
    ----------
    stiffness : (...) array
        Spring stiffness k > 0. [N/m]
    mass : (...) array
        Mass m > 0. [kg]
    coefficient : (...) array
        Viscous coefficient c. [N·s/m]

    Returns
    -------
    (...) array
        Damping ratio. [-]

    Notes
    -----
    meriam-kraige, SP 8/2.

    Examples
    --------
    >>> float(damping_ratio(32.0, 8.0, 20.0))
    0.625
    """
    return _array(coefficient) / critical_damping(stiffness, mass)


def damped_frequency(natural_frequency: npt.ArrayLike, damping_ratio: npt.ArrayLike) -> FloatArray:
    """Frequency at which a released mass swings, f_d = f_n√(1 − ζ²).

    Parameters
    ----------
    natural_frequency : (...) array
        Undamped natural frequency. [Hz]
    damping_ratio : (...) array
        Damping over critical damping, 0 ≤ ζ ≤ 1. [-]

    Returns
    -------
    (...) array
        Damped frequency. [Hz]

    Raises
    ------
    InputError
        ζ above 1: such a mass creeps back and has no damped frequency.

    Notes
    -----
    meriam-kraige, SP 8/2.

    Examples
    --------
    >>> round(float(damped_frequency(10.0, 0.6)), 12)
    8.0
    """
    zeta = _array(damping_ratio)
    if np.any(zeta > 1.0):
        raise InputError(
            f"damping_ratio = {float(np.max(zeta)):.4g}: above 1 nothing swings and there is no "
            "damped frequency; give a damping ratio from 0 to 1"
        )
    return _array(natural_frequency) * np.sqrt(1.0 - zeta**2)


def free_decay(
    time: npt.ArrayLike,
    natural_frequency: npt.ArrayLike,
    damping_ratio: npt.ArrayLike,
    displacement: npt.ArrayLike,
    velocity: npt.ArrayLike = 0.0,
) -> FloatArray:
    """Motion of a released mass, x = e^(−ζωt)[x0·cos ω_d t + (v0 + ζωx0)/ω_d·sin ω_d t].

    Parameters
    ----------
    time : (...) array
        Time since the release. [s]
    natural_frequency : (...) array
        Undamped natural frequency. [Hz]
    damping_ratio : (...) array
        Damping over critical damping, 0 ≤ ζ ≤ 1. [-]
    displacement : (...) array
        Displacement x0 at the release. [m]
    velocity : (...) array
        Velocity v0 at the release. [m/s]

    Returns
    -------
    (...) array
        Displacement from the position of rest. [m]

    Raises
    ------
    InputError
        ζ above 1.

    Notes
    -----
    meriam-kraige, SP 8/2.

    Examples
    --------
    A quarter of a period after an undamped release the mass passes its rest:

    >>> abs(float(free_decay(0.25, 1.0, 0.0, 0.2))) < 1e-15
    True
    """
    t = _array(time)
    omega = TAU * _array(natural_frequency)
    zeta = _array(damping_ratio)
    x0 = _array(displacement)
    damped = damped_frequency(natural_frequency, zeta)
    # np.sinc(u) is sin(πu)/(πu): t·sinc(2 f_d t) is sin(ω_d t)/ω_d and holds at ζ = 1 too.
    sine = t * np.sinc(2.0 * damped * t)
    swing = x0 * np.cos(TAU * damped * t) + (_array(velocity) + zeta * omega * x0) * sine
    motion: FloatArray = np.exp(-zeta * omega * t) * swing
    return motion


def drop_speed(height: npt.ArrayLike) -> FloatArray:
    """Speed after a free fall, V = √(2gh).

    Parameters
    ----------
    height : (...) array
        Drop height h ≥ 0. [m]

    Returns
    -------
    (...) array
        Speed at the floor. [m/s]

    Notes
    -----
    mindlin-1945, free fall.

    Examples
    --------
    >>> round(float(drop_speed(0.762)), 3)
    3.866
    """
    return np.sqrt(2.0 * G0 * _array(height))


def linear_drop(
    height: npt.ArrayLike,
    natural_frequency: npt.ArrayLike,
    *,
    gravity: bool,
    restitution: npt.ArrayLike = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Peak specific force and travel of a mass that is dropped on a linear undamped spring.

    With gravity kept, the spring force reaches 1 + √(1 + 2h/δ) times the weight, δ the sag under
    the weight; the travel counts from the unloaded spring and holds the sag. With gravity
    dropped, the relative motion starts at (1 + e)V in a shell that rebounds with e, and the peak
    is (1 + e)V·ω_n/g over a travel of (1 + e)V/ω_n, V = √(2gh).

    Parameters
    ----------
    height : (...) array
        Drop height h > 0. [m]
    natural_frequency : (...) array
        Natural frequency of the mass on its spring. [Hz]
    gravity : bool
        Keep gravity during the stroke, or drop it.
    restitution : (...) array
        Rebound speed of a heavy shell over its impact speed, e from 0 to 1. [-]

    Returns
    -------
    peak_g : (...) array
        Greatest spring force over the weight. [g]
    travel : (...) array
        Greatest compression of the spring. [m]

    Raises
    ------
    InputError
        Gravity kept and a rebound: a shell in flight falls with its payload, and the motion of
        one against the other sees no gravity.

    Notes
    -----
    mindlin-1945, linear elasticity. A shell much heavier than the payload, first contact or first
    flight only; no bottoming, no damping.

    Examples
    --------
    >>> peak, travel = linear_drop(0.762, 10.0, gravity=False)
    >>> round(float(peak), 2), round(float(travel) * 1e3, 1)
    (24.77, 61.5)
    """
    omega = TAU * _array(natural_frequency)
    rebound = _array(restitution)
    if gravity:
        if np.any(rebound > 0.0):
            raise InputError(
                f"restitution = {float(np.max(rebound)):.4g}: a shell that rebounds falls freely "
                "together with its payload, and the spring between them sees no gravity; "
                "give gravity=False with a rebound, or restitution=0 with gravity kept"
            )
        sag = G0 / omega**2
        peak = 1.0 + np.sqrt(1.0 + 2.0 * _array(height) / sag)
        return peak, sag * peak
    speed = (1.0 + rebound) * drop_speed(height)
    return speed * omega / G0, speed / omega


def cushion_travel(height: npt.ArrayLike, fragility: npt.ArrayLike) -> FloatArray:
    """Travel that a linear cushion needs, d = 2h/(G − 2), gravity kept.

    Parameters
    ----------
    height : (...) array
        Drop height h. [m]
    fragility : (...) array
        Specific force G that the payload bears. [g]

    Returns
    -------
    (...) array
        Travel from the unloaded cushion; infinite for G ≤ 2. [m]

    Notes
    -----
    mindlin-1945, linear elasticity.

    Examples
    --------
    >>> float(cushion_travel(0.75, 32.0))
    0.05
    """
    return _travel(2.0 * _array(height), _array(fragility) - 2.0)


def ideal_travel(height: npt.ArrayLike, fragility: npt.ArrayLike) -> FloatArray:
    """Travel that a cushion of constant force needs, d = h/(G − 1): the least that is possible.

    Parameters
    ----------
    height : (...) array
        Drop height h. [m]
    fragility : (...) array
        Specific force G that the payload bears. [g]

    Returns
    -------
    (...) array
        Travel; infinite for G ≤ 1. [m]

    Notes
    -----
    mindlin-1945, ideal cushion.

    Examples
    --------
    >>> float(ideal_travel(0.75, 31.0))
    0.025
    """
    return _travel(_array(height), _array(fragility) - 1.0)


def _travel(height: FloatArray, margin: FloatArray) -> FloatArray:
    # No travel is long enough for a payload that does not bear its own fall arrested.
    with np.errstate(divide="ignore"):
        travel: FloatArray = height / np.maximum(margin, 0.0)
    return travel


def critical_velocity_change(
    natural_frequency: npt.ArrayLike, peak_response: npt.ArrayLike
) -> FloatArray:
    """Velocity change below which no pulse damages an undamped part, V_c = S/ω_n.

    Parameters
    ----------
    natural_frequency : (...) array
        Natural frequency of the part. [Hz]
    peak_response : (...) array
        Acceleration S of the part at which it fails. [m/s²]

    Returns
    -------
    (...) array
        Critical velocity change. [m/s]

    Notes
    -----
    astm-d3332, damage boundary.

    Examples
    --------
    >>> import math
    >>> round(float(critical_velocity_change(1.0 / (2.0 * math.pi), 3.0)), 12)
    3.0
    """
    return _array(peak_response) / (TAU * _array(natural_frequency))


def critical_acceleration(peak_response: npt.ArrayLike) -> FloatArray:
    """Acceleration below which no pulse damages an undamped part, A_c = S/2.

    Parameters
    ----------
    peak_response : (...) array
        Acceleration S of the part at which it fails. [m/s²]

    Returns
    -------
    (...) array
        Critical acceleration of a long rectangular pulse. [m/s²]

    Notes
    -----
    astm-d3332, damage boundary.

    Examples
    --------
    >>> float(critical_acceleration(100.0))
    50.0
    """
    return _array(peak_response) / 2.0


def miles_acceleration(
    natural_frequency: npt.ArrayLike, amplification: npt.ArrayLike, density: npt.ArrayLike
) -> FloatArray:
    """Acceleration of a mass on a base with flat random vibration, √(π/2·f_n·Q·W).

    Parameters
    ----------
    natural_frequency : (...) array
        Natural frequency. [Hz]
    amplification : (...) array
        Q = 1/(2ζ). [-]
    density : (...) array
        Acceleration spectral density W of the base at the natural frequency. [(m/s²)²/Hz]

    Returns
    -------
    (...) array
        Root mean square of the acceleration. [m/s²]

    Notes
    -----
    miles-1954. Light damping, and a density that is flat around and below the natural frequency;
    `white_noise_factor` makes it exact for white noise.

    Examples
    --------
    In g, as 7.927 g rms for 200 Hz, Q 20 and 0.01 g²/Hz:

    >>> round(float(miles_acceleration(200.0, 20.0, 0.01)), 3)
    7.927
    """
    product = _array(natural_frequency) * _array(amplification) * _array(density)
    return np.sqrt(np.pi / 2.0 * product)


def miles_displacement(
    natural_frequency: npt.ArrayLike, amplification: npt.ArrayLike, density: npt.ArrayLike
) -> FloatArray:
    """Displacement against a base with flat random vibration, √(Q·W/(32π³f_n³)).

    Parameters
    ----------
    natural_frequency : (...) array
        Natural frequency. [Hz]
    amplification : (...) array
        Q = 1/(2ζ). [-]
    density : (...) array
        Acceleration spectral density W of the base at the natural frequency. [(m/s²)²/Hz]

    Returns
    -------
    (...) array
        Root mean square of the relative displacement, exact for white noise. [m]

    Notes
    -----
    miles-1954.

    Examples
    --------
    >>> round(float(miles_displacement(1.0, 32.0, 3.1415926535**3)), 6)
    1.0
    """
    ratio = _array(amplification) * _array(density) / (32.0 * np.pi**3)
    return np.sqrt(ratio / _array(natural_frequency) ** 3)


def white_noise_factor(damping_ratio: npt.ArrayLike) -> FloatArray:
    """Exact acceleration under white noise over that of Miles, √(1 + 4ζ²).

    Parameters
    ----------
    damping_ratio : (...) array
        Viscous damping over critical damping, ζ > 0. [-]

    Returns
    -------
    (...) array
        Factor on `miles_acceleration`. [-]

    Notes
    -----
    miles-1954.

    Examples
    --------
    >>> round(float(white_noise_factor(0.5)), 4)
    1.4142
    """
    return np.sqrt(1.0 + 4.0 * _array(damping_ratio) ** 2)


def expected_peak_factor(cycles: npt.ArrayLike) -> FloatArray:
    """Expected greatest peak of Gaussian vibration over its rms, s + γ/s with s = √(2 ln N).

    Parameters
    ----------
    cycles : (...) array
        Upward crossings of the mean N = ν·T, at least 10; twice as many for the greatest |x|. [-]

    Returns
    -------
    (...) array
        Peak over root mean square. [-]

    Raises
    ------
    InputError
        Fewer than 10 cycles: the formula is one for many.

    Notes
    -----
    davenport-1964. The crossing rate ν comes from the spectral moments, not from the natural
    frequency. Roads are not Gaussian: a crest multiplier belongs on top.

    Examples
    --------
    20 crossings a second for an hour:

    >>> round(float(expected_peak_factor(20.0 * 3600.0)), 2)
    4.85
    """
    count = _array(cycles)
    if np.any(count < 10.0):
        raise InputError(
            f"cycles = {float(np.min(count)):.4g}: the expected peak holds for 10 cycles or more; "
            "give a longer duration"
        )
    spread = np.sqrt(2.0 * np.log(count))
    return spread + EULER_GAMMA / spread

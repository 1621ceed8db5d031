"""The textbook formulas with units: text or quantities in, quantities out.

Each argument is text with a unit (``"12 N/mm"``), a pint quantity of any registry, or a list of
either; results belong to pint's application registry, and dimensionless ones are plain numbers.
The equations, their sources and ranges are those of `isolator.sdof`.
"""

from dataclasses import dataclass

import numpy as np

from isolator import sdof
from isolator.units import (
    FREQUENCY,
    HEIGHT,
    MASS,
    SIZE,
    STIFFNESS,
    FloatArray,
    Given,
    InputError,
    Quantity,
    number,
)


@dataclass(frozen=True)
class LinearDrop:
    """What a drop on a linear undamped spring does to the mass.

    Attributes
    ----------
    peak_specific_force : float or (...) array
        Greatest spring force over the weight. [g]
    travel : quantity
        Greatest compression of the spring; with gravity kept, from the unloaded spring. [mm]
    """

    peak_specific_force: float | FloatArray
    travel: Quantity


def _plain(value: FloatArray) -> float | FloatArray:
    return float(value) if np.ndim(value) == 0 else value


def _together(**arrays: FloatArray) -> None:
    """Refuse lists of unequal length before numpy does it in words of its own."""
    try:
        np.broadcast_shapes(*(array.shape for array in arrays.values()))
    except ValueError:
        sizes = ", ".join(f"{name} has {np.size(array)}" for name, array in arrays.items())
        raise InputError(
            f"{' and '.join(arrays)} do not pair up: {sizes}; "
            "give lists of one length, or one value for all"
        ) from None


def natural_frequency(*, stiffness: Given, mass: Given) -> Quantity:
    """Natural frequency of a mass on a spring, f_n = √(k/m)/2π.

    Parameters
    ----------
    stiffness : text, quantity or list, (...)
        Dynamic stiffness of all springs together, k > 0. [force/length]
    mass : text, quantity or list, (...)
        Mass on the springs, m > 0. [mass]

    Returns
    -------
    quantity, (...)
        Undamped natural frequency. [Hz]

    Raises
    ------
    InputError
        A value that is no positive stiffness or mass, or lists of unequal length.

    Notes
    -----
    rao, undamped free vibration.

    Examples
    --------
    >>> print(f"{natural_frequency(stiffness='250 N/mm', mass='50 kg'):.2f~}")
    11.25 Hz
    """
    k = STIFFNESS.read_array(stiffness, "stiffness")
    m = MASS.read_array(mass, "mass")
    _together(stiffness=k, mass=m)
    return FREQUENCY.quantity(sdof.natural_frequency(k, m))


def natural_frequency_from_deflection(deflection: Given) -> Quantity:
    """Natural frequency of a linear spring from its sag, f_n = √(g/δ)/2π.

    Parameters
    ----------
    deflection : text, quantity or list, (...)
        Sag under the weight of the mass, δ > 0. [length]

    Returns
    -------
    quantity, (...)
        Undamped natural frequency. [Hz]

    Raises
    ------
    InputError
        A value that is no positive length.

    Notes
    -----
    rao, static deflection. Steel springs only: rubber is stiffer when it moves than when it sags,
    and its true natural frequency is higher.

    Examples
    --------
    >>> print(f"{natural_frequency_from_deflection('1 mm'):.2f~}")
    15.76 Hz
    """
    sag = SIZE.read_array(deflection, "deflection")
    return FREQUENCY.quantity(sdof.natural_frequency_from_deflection(sag))


def static_deflection(*, stiffness: Given, mass: Given) -> Quantity:
    """Sag of a linear spring under a weight at standard gravity, δ = m·g/k.

    Parameters
    ----------
    stiffness : text, quantity or list, (...)
        Static stiffness of all springs together, k > 0. [force/length]
    mass : text, quantity or list, (...)
        Mass on the springs, m > 0. [mass]

    Returns
    -------
    quantity, (...)
        Sag. [mm]

    Raises
    ------
    InputError
        A value that is no positive stiffness or mass, or lists of unequal length.

    Notes
    -----
    rao, static deflection.

    Examples
    --------
    >>> print(f"{static_deflection(stiffness='9.80665 N/mm', mass='8 kg'):.2f~}")
    8.00 mm
    """
    k = STIFFNESS.read_array(stiffness, "stiffness")
    m = MASS.read_array(mass, "mass")
    _together(stiffness=k, mass=m)
    return SIZE.quantity(sdof.static_deflection(k, m))


def stiffness_for(*, natural_frequency: Given, mass: Given) -> Quantity:
    """Stiffness that gives a mass a natural frequency, k = m(2πf_n)².

    Parameters
    ----------
    natural_frequency : text, quantity or list, (...)
        Wanted natural frequency, f_n > 0, in hertz and never in radians. [frequency]
    mass : text, quantity or list, (...)
        Mass on the springs, m > 0. [mass]

    Returns
    -------
    quantity, (...)
        Dynamic stiffness of all springs together. [N/mm]

    Raises
    ------
    InputError
        A value that is no positive frequency or mass, or lists of unequal length.

    Notes
    -----
    rao, undamped free vibration.

    Examples
    --------
    >>> print(f"{stiffness_for(natural_frequency='10 Hz', mass='8 kg'):.2f~}")
    31.58 N / mm
    """
    f = FREQUENCY.read_array(natural_frequency, "natural_frequency")
    m = MASS.read_array(mass, "mass")
    _together(natural_frequency=f, mass=m)
    return STIFFNESS.quantity(sdof.stiffness_for(f, m))


def transmissibility(
    frequency: Given,
    *,
    natural_frequency: Given,
    damping_ratio: float | str | Quantity | None = None,
    loss_factor: float | str | Quantity | None = None,
) -> float | FloatArray:
    """How much of a vibration a mount passes on, with viscous or with structural damping.

    Viscous: T = √((1 + (2ζr)²)/((1 − r²)² + (2ζr)²)); structural, a spring k(1 + iη):
    T = √((1 + η²)/((1 − r²)² + η²)); r = f/f_n. Below 1 the mount helps, above 1 it hurts.

    Parameters
    ----------
    frequency : text, quantity or list, (...)
        Frequency of the vibration, f > 0. [frequency]
    natural_frequency : text, quantity or list, (...)
        Natural frequency of the mass on its mounts, f_n > 0. [frequency]
    damping_ratio : number
        Viscous damping over critical damping, ζ ≥ 0; give this or the loss factor. [-]
    loss_factor : number
        Loss factor of the rubber, η ≥ 0; give this or the damping ratio. [-]

    Returns
    -------
    float or (...) array
        Absolute transmissibility; infinite at resonance without damping. [-]

    Raises
    ------
    InputError
        No damping or both, a negative one, a value that is no positive frequency, or lists of
        unequal length.

    Notes
    -----
    rao, base motion and hysteretic damping.

    Examples
    --------
    Every damping gives 1 at √2 times the natural frequency:

    >>> f"{transmissibility('14.142136 Hz', natural_frequency='10 Hz', loss_factor=0.1):.4f}"
    '1.0000'
    """
    f = FREQUENCY.read_array(frequency, "frequency")
    fn = FREQUENCY.read_array(natural_frequency, "natural_frequency")
    _together(frequency=f, natural_frequency=fn)
    if damping_ratio is not None and loss_factor is None:
        zeta = number(damping_ratio, "damping_ratio", 0.0)
        return _plain(sdof.viscous_transmissibility(f / fn, zeta))
    if loss_factor is not None and damping_ratio is None:
        eta = number(loss_factor, "loss_factor", 0.0)
        return _plain(sdof.structural_transmissibility(f / fn, eta))
    raise InputError(
        f"damping_ratio = {damping_ratio!r:.60} and loss_factor = {loss_factor!r:.60}: "
        "exactly one damping is needed; write damping_ratio=0.05 (viscous) or "
        "loss_factor=0.1 (rubber), and 0 for none"
    )


def linear_drop(
    *,
    height: Given,
    natural_frequency: Given,
    gravity: bool,
    restitution: float | str | Quantity = 0.0,
) -> LinearDrop:
    """What a flat drop on a linear undamped mount does, without bottoming.

    Gravity kept: 1 + √(1 + 2h/δ) times the weight, δ the sag, over a travel of δ times that from
    the unloaded mount. Gravity neglected: (1 + e)V·ω_n/g over (1 + e)V/ω_n, V = √(2gh).

    Parameters
    ----------
    height : text, quantity or list, (...)
        Drop height, h > 0. [length]
    natural_frequency : text, quantity or list, (...)
        Natural frequency of the payload on its mounts, f_n > 0. [frequency]
    gravity : bool
        Keep gravity during the stroke or neglect it. There is no default: both are in use, and
        they differ by one g and more.
    restitution : number
        Rebound speed of a heavy case over its impact speed, 0 ≤ e ≤ 1; above 0 only with gravity
        neglected. [-]

    Returns
    -------
    LinearDrop
        Peak specific force in g and travel in mm, each (...).

    Raises
    ------
    InputError
        `gravity` that is not True or False, a rebound with gravity kept, a value that is no
        height or frequency, or lists of unequal length.

    Notes
    -----
    mindlin-1945, linear elasticity.

    Examples
    --------
    >>> drop = linear_drop(height="0.762 m", natural_frequency="10 Hz", gravity=False)
    >>> print(f"{drop.peak_specific_force:.2f} g, {drop.travel:.1f~}")
    24.77 g, 61.5 mm
    """
    if not isinstance(gravity, bool):
        raise InputError(
            f"gravity = {gravity!r:.60}: neither True nor False; "
            "write gravity=True to keep it during the stroke, gravity=False to neglect it"
        )
    h = HEIGHT.read_array(height, "height")
    fn = FREQUENCY.read_array(natural_frequency, "natural_frequency")
    _together(height=h, natural_frequency=fn)
    e = number(restitution, "restitution", 0.0, 1.0)
    peak, travel = sdof.linear_drop(h, fn, gravity=gravity, restitution=e)
    return LinearDrop(peak_specific_force=_plain(peak), travel=SIZE.quantity(travel))

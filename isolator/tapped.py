"""A mount after a tap, which knows static stiffness times dynamic ratio, not each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from isolator.mount import RATIOS, Mount, scaled
from isolator.units import STIFFNESS, FloatArray, InputError
from isolator.weights import slip


def tapped(mount: Mount, low: float, high: float, at_rest: str | None = None) -> Mount:
    """The mount with the dynamic stiffness that a tap gives it, of the grade measured.

    Across it is in proportion. What was measured at rest keeps its band, and the dynamic ratio
    follows. Otherwise the dynamic ratio keeps its band, and the static stiffness follows, inside
    of its own band where that allows the middle of what was tapped.

    Parameters
    ----------
    low, high : float
        Ends of the dynamic stiffness along its axis, not deflected. [N/m]
    at_rest : "along", "across" or None
        Where its static stiffness was measured.

    Raises
    ------
    InputError
        A curve that begins flat.

    Examples
    --------
    >>> from isolator.mount import with_bands
    >>> ring = Mount(name="ring", **with_bands({"along": ["8 N/mm", "12.5 N/mm"],
    ...              "across": "6 N/mm", "dynamic_ratio": [1.1, 1.4]}))
    >>> for way in (None, "along"):
    ...     one = tapped(ring, 11e3, 14e3, way)
    ...     k, r = (v * np.array([one.over(name, end) for end in (-1, 1)])
    ...             for name, v in (("along", one.undeflected()),
    ...                             ("dynamic ratio", one.dynamic_ratio)))
    ...     print(k.round(), r.round(2), f"{one.undeflected() * one.dynamic_ratio:.0f}")
    [ 8000. 12500.] [1.1 1.4] 12410
    [ 8000. 12500.] [1.   1.75] 12410
    """
    if not (stated := mount.undeflected()) > 0:
        raise InputError(
            f"Mount.along of {mount.name!r}: its curve begins flat, and a tap is written as the "
            "stiffness there; leave out dynamic_along, or give a curve that rises at once"
        )
    # all that follows is over what is stated
    total = np.array([low, high]) / (stated * mount.dynamic_ratio)
    middle = float(np.sqrt(total.prod()))
    static, ratio = (
        np.array(mount.within.get(name, (1.0, 1.0)))
        for name in (at_rest or "along", "dynamic ratio")
    )
    expected = static * ratio * stated * mount.dynamic_ratio
    if at_rest:
        possible = np.array(RATIOS) / mount.dynamic_ratio
        at, static, ratio, said = _static_stays(total, middle, static, possible)
    else:
        at, static = _ratio_stays(total, middle, static, ratio)
        said = "its stiffness at rest follows, its dynamic ratio keeps its band"
    if low > expected[1] or high < expected[0]:
        said += f"; all else says {_ends(expected)}: {_look(np.array([low, high]), expected)}"
    both = static * ratio
    bands = {
        "along": static / at,
        "across": static / at,
        "dynamic ratio": ratio * at / middle,
        "dynamic stiffness": np.array([max(total[0], both[0]), min(total[1], both[1])]) / middle,
    }
    around = {k: (min(float(v[0]), 1.0), max(float(v[1]), 1.0)) for k, v in bands.items()}
    seen = f"in motion {_ends(np.array([low, high]))} along its axis by a tap, across in proportion"
    return replace(
        mount,
        along=scaled(mount.along, force=at),
        across=scaled(mount.across, force=at),
        dynamic_ratio=float(np.clip(mount.dynamic_ratio * middle / at, *RATIOS)),
        within={**mount.within, **around},
        grade="measured",
        notes=[*mount.notes, f"{seen}: {said}"],
    )


def _static_stays(
    total: FloatArray, middle: float, static: FloatArray, possible: FloatArray
) -> tuple[float, FloatArray, FloatArray, str]:
    """Static stiffness, its band and that of the dynamic ratio, within what one can be; words."""
    at = float(np.clip(1.0, middle / possible[1], middle / possible[0]))
    said = "its stiffness at rest stays as measured, its dynamic ratio follows"
    if not static[0] <= at <= static[1]:
        said = "which its stiffness at rest, as measured, does not allow: measure both again"
    static = np.array([min(static[0], at), max(static[1], at)])
    return at, static, np.clip(total / static[::-1], *possible), said


def _ratio_stays(
    total: FloatArray, middle: float, static: FloatArray, ratio: FloatArray
) -> tuple[float, FloatArray]:
    """Static stiffness and its band."""
    span, near = total / ratio[::-1], middle / ratio[::-1]
    if static[0] < static[1] and max(static[0], near[0]) <= min(static[1], near[1]):
        span = np.array([max(static[0], span[0]), min(static[1], span[1])])
    return float(np.clip(middle, max(span[0], near[0]), min(span[1], near[1]))), span


def _ends(stiffness: FloatArray) -> str:
    return " to ".join(STIFFNESS.text(float(end)) for end in stiffness)


def _look(seen: FloatArray, expected: FloatArray) -> str:
    """What to do where a tap is far from all else."""
    error = slip(float(np.sqrt(seen.prod())), (float(expected[0]), float(expected[1])))
    return f"{error}? Check units" if error else "look why"

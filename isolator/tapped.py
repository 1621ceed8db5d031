"""A mount after a tap, which knows static stiffness times dynamic ratio, not each."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from isolator.mount import RATIOS, Mount, scaled
from isolator.units import STIFFNESS, FloatArray, InputError
from isolator.weights import slip

Ends = tuple[float, float]

ALIKE = 0.02
"""Bands of which no end differs by more are one: the texts of a brief are rounded. [-]"""


def tapped(
    mount: Mount, along: Ends, across: Ends | None = None, at_rest: Collection[str] = ()
) -> Mount:
    """The mount with the dynamic stiffness that a tap gives it, of the grade measured.

    What was measured at rest keeps its band, and the dynamic ratio follows. Otherwise the dynamic
    ratio keeps its band, and the static stiffness along follows, inside of its own band where that
    allows the middle of what was tapped. Across follows in proportion where the tap knows it and
    nothing was measured at rest; else it stays as it is, with its band.

    Parameters
    ----------
    along, across : pairs of float
        Ends of the dynamic stiffness, not deflected; across None where no tap knows it. [N/m]
    at_rest : collection of "along" and "across"
        What of its static stiffness was measured.

    Raises
    ------
    InputError
        A curve that begins flat, or less in motion than was measured at rest.

    Examples
    --------
    >>> from isolator.mount import with_bands
    >>> ring = Mount(name="ring", **with_bands({"along": ["8 N/mm", "12.5 N/mm"],
    ...              "across": "6 N/mm", "dynamic_ratio": [1.1, 1.4]}))
    >>> for at_rest in ((), ("along",)):
    ...     one = tapped(ring, (11e3, 14e3), at_rest=at_rest)
    ...     k, r = (v * np.array([one.over(name, end) for end in (-1, 1)])
    ...             for name, v in (("along", one.undeflected()[0]),
    ...                             ("dynamic ratio", one.dynamic_ratio)))
    ...     print(k.round(), r.round(2), f"{one.undeflected()[0] * one.dynamic_ratio:.0f}")
    [ 8000. 12500.] [1.1 1.4] 12410
    [ 8000. 12500.] [1.   1.75] 12410
    """
    stated = mount.undeflected() * mount.dynamic_ratio
    if not stated.min() > 0:
        raise InputError(
            f"Mount.along of {mount.name!r}: its curve begins flat, and a tap is written as the "
            "stiffness there; leave out dynamic_along, or give a curve that rises at once"
        )
    # all that follows is over what is stated
    total = np.array(along) / stated[0]
    middle = float(np.sqrt(total.prod()))
    static, ratio = (
        np.array(mount.within.get(name, (1.0, 1.0))) for name in ("along", "dynamic ratio")
    )
    expected = static * ratio * stated[0]
    if "along" in at_rest:
        possible = np.array(RATIOS) / mount.dynamic_ratio
        at = float(np.clip(1.0, middle / possible[1], middle / possible[0]))
        if not static[0] <= at <= static[1]:
            raise InputError(
                f"dynamic_along = {_ends(np.array(along))}: at rest it was measured as "
                f"{_ends(static * stated[0] / mount.dynamic_ratio)}, and in motion rubber is at "
                f"least as stiff and at most {RATIOS[1]:g} times; measure both again and keep what "
                "is right"
            )
        ratio = np.clip(total / static[::-1], *possible)
        said = "its stiffness at rest stays as measured, its dynamic ratio follows"
    else:
        at, static = _follows(total, middle, static, ratio)
        said = "its stiffness at rest follows, its dynamic ratio keeps its band"
    if along[0] > expected[1] or along[1] < expected[0]:
        said += f"; all else says {_ends(expected)}: {_look(np.array(along), expected)}"
    reach = static * ratio
    bands = {
        "along": static / at,
        "dynamic ratio": ratio * at / middle,
        "dynamic stiffness": np.array([max(total[0], reach[0]), min(total[1], reach[1])]) / middle,
    }
    tied = ["dynamic ratio"] if np.ptp(bands["dynamic ratio"]) else ["dynamic ratio", "along"]
    sideways = mount.across
    if across is not None:
        aside = np.array(across) / stated[1]
        aside_middle = float(np.sqrt(aside.prod()))
        known = np.array(mount.within.get("across", (1.0, 1.0))) * ratio
        if "across" in at_rest and (aside[0] > known[1] or aside[1] < known[0]):
            raise InputError(
                f"dynamic_across = {_ends(np.array(across))}: at rest it was measured, and with "
                f"the dynamic ratio that makes {_ends(known * stated[1])}; measure both again and "
                "keep what is right"
            )
        if "across" not in at_rest:
            sideways = scaled(mount.across, force=at * aside_middle / middle)
            if np.allclose(aside / aside_middle, total / middle, rtol=ALIKE):
                bands["across"] = bands["along"]
                tied.append("across")
            else:  # of a band of its own, which the dynamic ratio widens
                bands["across"] = aside / aside_middle / bands["dynamic ratio"][::-1]
        said += f"; across {_ends(np.array(across))}"
    around = {k: (min(float(v[0]), 1.0), max(float(v[1]), 1.0)) for k, v in bands.items()}
    return replace(
        mount,
        along=scaled(mount.along, force=at),
        across=sideways,
        dynamic_ratio=float(np.clip(mount.dynamic_ratio * middle / at, *RATIOS)),
        within={**mount.within, **around},
        tied=tuple(tied),
        grade="measured",
        notes=[*mount.notes, f"in motion {_ends(np.array(along))} along its axis by a tap: {said}"],
    )


def _follows(
    total: FloatArray, middle: float, static: FloatArray, ratio: FloatArray
) -> tuple[float, FloatArray]:
    """Static stiffness and its band, where the dynamic ratio keeps its own."""
    span, near = total / ratio[::-1], middle / ratio[::-1]
    if static[0] < static[1] and max(static[0], near[0]) <= min(static[1], near[1]):
        span = np.array([max(static[0], span[0]), min(static[1], span[1])])
    return float(np.clip(middle, max(span[0], near[0]), min(span[1], near[1]))), span


def _ends(stiffness: FloatArray) -> str:
    return " to ".join(dict.fromkeys(STIFFNESS.text(float(end)) for end in stiffness))


def _look(seen: FloatArray, expected: FloatArray) -> str:
    """What to do where a tap is far from all else."""
    error = slip(float(np.sqrt(seen.prod())), (float(expected[0]), float(expected[1])))
    return f"{error}? Check units" if error else "look why"

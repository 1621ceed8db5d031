"""What the payload feels of a road, beside what it would feel bolted down."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.figures.style import INK, MIDDLE, PALE, SHADE, SMALL, TITLE, axes, folded
from isolator.trip import AXES
from isolator.units import G0, InputError, si_or_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment

BARS: dict[str, dict[str, Any]] = {
    "bolted down": {"facecolor": PALE, "edgecolor": MIDDLE},
    "centre": {"facecolor": SHADE, "edgecolor": INK},
    "worst point": {"facecolor": "white", "edgecolor": INK, "hatch": "////"},
}


LETTER = 0.013
"""Width of a letter. [share of the axis]"""


def response(
    assessment: Assessment, leg: str, *, frame: str | None = None, ax: Axes | None = None
) -> Axes:
    """Draw what the payload feels on a leg along each axis, all axes of its road acting together.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    leg : str
        Name of a leg that vibrates.
    frame : str, optional
        Name of a further body of the brief; the main payload if left out.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No such leg or body, or a leg without vibration.

    Examples
    --------
    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> ax = response(case, "by van", ax=Figure().subplots())
    >>> ax.texts[0].get_text()
    '0.404 bolted down'
    """
    body = assessment.body(frame)
    there = next((one for one in body.legs if one.leg.name == leg), None)
    if there is None or there.shaking is None:
        names = ", ".join(repr(one.leg.name) for one in body.legs if one.shaking is not None)
        raise InputError(f"leg = {leg!r}: no leg of that name vibrates; write one of {names}")
    felt = there.shaking.acceleration.max(axis=1)[0] / G0
    ax = axes(ax)
    limit = si_or_none(body.designs[0].payload, "vibration_limit")
    stop = np.inf if limit is None else limit / G0
    levels = np.full((len(AXES), len(BARS)), np.nan)
    for k, axis in enumerate(AXES):
        if (spectrum := there.leg.spectrum(axis)) is not None:
            levels[k] = spectrum.level(there.leg.level), felt[0, k], max(felt[:, k])
    longest = float(np.nanmax(levels, initial=1e-3))
    reach = 1.3 * (longest if limit is None else max(longest, stop))
    for (k, n), value in np.ndenumerate(levels):
        name, style = [*BARS.items()][n]
        y, known = k + (n - 1) / 3.6, bool(np.isfinite(value))
        start = value if known else 0.0
        ax.barh(y, start, 0.24, lw=0.9, **style)
        words = f"{value:.3g} {name}" if known else f"{name}: not known"
        # Where words would run over the line of the limit they stand behind it.
        behind = start < stop < start + LETTER * reach * len(words)
        ax.annotate(
            words, (stop if behind else start, y), (4, 0), textcoords="offset points",
            va="center", fontsize=SMALL,
        )  # fmt: skip
    if limit is not None:
        ax.axvline(stop, color=INK, lw=1.0, ls="--")
    ax.set_xlim(0, reach)
    ax.set_ylim(len(AXES) - 0.45, -0.6)
    ax.set_yticks(range(len(AXES)), [f"along {axis}" for axis in AXES])
    survives = "" if limit is None else f"; dashed: {stop:.3g} g rms for hours is allowed"
    ax.set_xlabel(f"acceleration of the payload [g rms]{survives}")
    title = f"{leg}: what the payload feels"
    ax.set_title(folded(f"{frame}: {title}" if frame else title, TITLE), loc="left")
    return ax

"""Falls: peak and travel over the height, and a landing in time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.figures.style import (
    INK,
    LABEL,
    MIDDLE,
    SHADE,
    SMALL,
    axes,
    folded,
    legend_below,
)
from isolator.units import G0

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.survive import Survival

STYLES: dict[str, dict[str, Any]] = {
    "flat": {"color": INK, "linestyle": "-"},
    "edges": {"color": MIDDLE, "linestyle": "--"},
    "corners": {"color": MIDDLE, "linestyle": ":"},
    "slap-down": {"color": INK, "linestyle": "-."},
}

MARKS = {"flat": "X", "edges": "s", "corners": "^", "slap-down": "o"}
"""Where a mount bottoms, by what lands."""


def heights(found: Survival, *, of: str = "peak", ax: Axes | None = None) -> Axes:
    """Draw the worst landings of each kind over the height that the case falls from.

    Parameters
    ----------
    found : Survival
    of : "peak" or "travel"
        Specific force at the worst corner of the payload's box, or how far a mount moves.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> found = isolator.survival(str(data_file("starter/case.toml")))
    >>> ax = heights(found, ax=Figure().subplots())
    >>> ax.get_xlabel()
    'height of the fall [m]'
    """
    ax = axes(ax)
    felt = of == "peak"
    for line in found.lines:
        value = line.corner / G0 if felt else 1e3 * line.travel
        style = STYLES[line.name]
        if np.isfinite(line.bottoms):
            at = float(np.interp(line.bottoms, found.heights, value))
            if np.isnan(at):
                at = float(value[np.isfinite(value)][-1]) if np.isfinite(value).any() else 0.0
            style = style | {"marker": MARKS[line.name], "markersize": 7}
            ax.plot(line.bottoms, at, **style, zorder=3)
        # The line has its mark in the legend alone.
        ax.plot(found.heights, value, label=line.name, linewidth=1.6, markevery=[], **style)
    if any(np.isfinite(line.bottoms) for line in found.lines):
        ax.plot([], [], " ", label="marks: a mount bottoms")
    fall = folded(f"{found.height:.3g} m, {found.leg.name}", 1.5 * LABEL)
    ax.axvline(found.height, color=SHADE, linewidth=6, zorder=0, label=fall)
    limits = {"what the payload survives": found.fragility / G0} if felt else _travels(found)
    for dots, (words, limit) in enumerate(limits.items()):
        if np.isfinite(limit):
            dashes = (0, (12, 3, *[1, 3] * dots))
            label = f"{limit:.3g} {'g' if felt else 'mm'}: {words}"
            ax.axhline(limit, color=INK, linewidth=0.8, linestyle=dashes, label=label)
    ax.set_xlim(0, float(found.heights[-1]))
    ax.set_ylim(bottom=0)
    ax.set_xlabel("height of the fall [m]")
    ax.set_ylabel("peak at the worst corner [g]" if felt else "a mount moves [mm]")
    legend_below(ax)
    return ax


def _travels(found: Survival) -> dict[str, float]:
    """What the mounts may move, by the kinds of landings that take them that way. [mm]"""
    kinds: dict[str, list[str]] = {}
    for line in found.lines:
        kinds.setdefault(f"{1e3 * line.stroke:.3g}", []).append(line.name)
    if len(kinds) == 1:
        return {"travel of the mounts": 1e3 * found.lines[0].stroke}
    return {
        f"travel of the mounts, {', '.join(names)}": float(kind) for kind, names in kinds.items()
    }


def in_time(found: Survival, *, of: str = "peak", ax: Axes | None = None) -> Axes:
    """Draw the worst flat landing and the worst slap-down in time.

    Parameters
    ----------
    found : Survival
    of : "peak" or "travel"
        Specific force at the centre and at the worst corner, or the mounts along their axes.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> found = isolator.survival(str(data_file("starter/case.toml")))
    >>> ax = in_time(found, ax=Figure().subplots())
    >>> ax.get_xlabel()
    'time after the first contact [ms]'
    """
    ax = axes(ax)
    for trace in found.traces:
        style, time = STYLES[trace.name], 1e3 * trace.time
        name = f"{trace.name}, {trace.landing}"
        if of == "peak":
            ax.plot(time, trace.corner / G0, **style, linewidth=1.8, label=f"{name}: worst corner")
            ax.plot(time, trace.centre / G0, **style, linewidth=0.9, label="its centre")
        else:
            for n, mount in enumerate(trace.mounts.T):
                label = "" if n else f"{name}: each mount"
                ax.plot(time, 1e3 * mount, **style, linewidth=1, label=label)
    ax.set_xlim(left=0)
    ax.set_xlabel("time after the first contact [ms]")
    ax.set_ylabel("specific force [g]" if of == "peak" else "deflection along its axis [mm]")
    ax.legend(frameon=False, fontsize=SMALL)
    return ax

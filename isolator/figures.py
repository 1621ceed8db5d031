"""Pictures of a verdict, for the screen and for grey print: no physics in them.

Each takes an axes to draw into, or makes a figure of its own, and gives the axes back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from isolator.case import FACES
from isolator.response import AXES
from isolator.suspension import Pose, Suspension
from isolator.trip import Axis
from isolator.units import FloatArray, InputError
from isolator.vibration import transmissibility as gain

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.verdict import Check

FIRST, LAST = 1.0, 500.0
"""Range of the frequency axis. [Hz]"""

INK, MIDDLE, SHADE, PALE = "#1b1b1b", "#6b7785", "#bcc3cb", "#eceef1"
FILLS = {"pass": "#9fb4c9", "fail": "#e0913f", "incomplete": "white"}
HATCHES = {"pass": "", "fail": "////", "incomplete": "...."}


def transmissibility(
    assessment: Assessment,
    *,
    leg: str | None = None,
    axis: Axis = "z",
    ax: Axes | None = None,
) -> Axes:
    """Draw where the payload shakes less than if it were bolted down, and where more.

    The lines are |T| along the axis in which the case moves, at the centre of gravity and at
    that corner which is worst at each frequency. The band is shaded where the worst corner
    shakes more than a bolted one; short ticks at the top mark the undamped modes.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    leg : str, optional
        Name of the leg whose attitude and temperature count; lid up at 23 °C if left out.
    axis : "x", "y" or "z"
        Case axis along which the case moves.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No such axis or leg, an unknown loss factor or cold stiffness, mounts that are rigid or
        do not hold the payload there.

    Examples
    --------
    Quasi-static motion is passed on as it comes, so the line starts at 1:

    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> ax = transmissibility(case, ax=Figure().subplots())
    >>> print(f"{ax.lines[0].get_ydata()[0]:.2f}")
    1.01
    """
    if axis not in AXES:
        raise InputError(f"axis = {axis!r}: write one of {', '.join(AXES)}")
    suspension, pose, condition = _hung(assessment, leg)
    natural = suspension.frequencies(pose)[0]
    corners = assessment.response.corners[0] @ pose.turn[0].T
    points = np.concatenate([np.zeros((1, 3)), corners])
    # A lightly damped peak is narrower than a step of the grid.
    grid = np.geomspace(FIRST, LAST, 3001)
    frequency = np.union1d(grid, natural[(natural > FIRST) & (natural < LAST)])
    k = AXES.index(axis)
    size = np.abs(gain(suspension.modes(pose), points[None], frequency)[0, :, :, k, k])
    corner = size[:, 1:].max(axis=1)

    ax = _axes(ax)
    for low, high in _above_one(frequency, corner):
        ax.axvspan(low, high, facecolor=PALE, edgecolor=SHADE, lw=0, hatch="//", zorder=0)
    if ax.patches:
        ax.patches[-1].set_label("worse than bolted down")
    ax.loglog(frequency, size[:, 0], color=INK, lw=1.8, label="centre")
    ax.loglog(frequency, corner, color=MIDDLE, lw=1.8, ls=(0, (4, 1.5)), label="worst corner")
    ax.axhline(1.0, color=INK, lw=0.9, ls=":")
    ax.annotate(
        "bolted down",
        (1, 1),
        (-4, 3),
        xycoords=ax.get_yaxis_transform(),
        textcoords="offset points",
        ha="right",
    )
    ax.plot(
        natural,
        np.full(6, 0.97),
        "|",
        transform=ax.get_xaxis_transform(),
        color=INK,
        ms=11,
        label="modes: " + ", ".join(f"{f:.3g}" for f in natural) + " Hz",
    )
    ax.set_xlim(FIRST, LAST)
    ax.set_xticks([1, 2, 5, 10, 20, 50, 100, 200, 500], minor=False)
    ax.xaxis.set_major_formatter("{x:g}")
    ax.yaxis.set_major_formatter("{x:g}")
    ax.set_ylim(size.min() / 1.5, size.max() * 2.5)
    ax.set_xlabel("frequency [Hz]")
    ax.set_ylabel(f"|T| along {axis}, payload over case [-]")
    ax.set_title(f"{condition}, case shaken along {axis}", loc="left")
    ax.legend(loc="lower left", framealpha=1.0, edgecolor="white")
    return ax


def _hung(assessment: Assessment, leg: str | None) -> tuple[Suspension, Pose, str]:
    """The suspension (1,) and its pose on a leg, and words for it."""
    response = assessment.response
    suspension, pose = response.suspension, response.pose
    if leg is None:
        lid_up = Pose(pose.shift[:, 0], pose.turn[:, 0], pose.found[:, 0])
        return _usable(suspension, bool(lid_up.found[0]), "lid up"), lid_up, "lid up, 23 °C"
    there = next((r for r in response.legs if r.leg.name == leg), None)
    if there is None:
        names = ", ".join(repr(r.leg.name) for r in response.legs)
        raise InputError(f"leg = {leg!r}: no such leg; write one of {names}")
    celsius = there.leg.temperature_c()
    if there.rigid[0] or there.uncertain[0]:
        how = "count as rigid, |T| = 1," if there.rigid[0] else "have an unknown stiffness"
        raise InputError(
            f"leg = {leg!r}: the mounts {how} at {celsius:g} °C; give a cold_temperature that "
            "reaches it and its cold_factor for every mount, or draw a warmer leg"
        )
    temperature = "23 °C taken" if celsius is None else f"{celsius:g} °C"
    words = f"{leg}: {there.leg.attitude}, {temperature}"
    return _usable(there.suspension, bool(there.stands[0]), words), there.pose, words


def _usable(suspension: Suspension, stands: bool, words: str) -> Suspension:
    if not stands:
        raise InputError(
            f"{words}: the payload does not come to rest on its mounts there, so nothing can be "
            "drawn; mend the checks 'stands' and 'sag' first"
        )
    if np.isnan(suspension.loss_factor).any() or np.isnan(suspension.cable_loss).any():
        raise InputError(
            f"{words}: the loss factor of a mount or cable is not known, so neither is |T|; give "
            "loss_factor of every mount and cable"
        )
    return suspension


def _above_one(frequency: FloatArray, size: FloatArray) -> list[tuple[float, float]]:
    """Ranges in which a line (f,) lies above 1, ends interpolated on log-log paper."""
    x, y = np.log(frequency), np.log(size)
    flips = np.flatnonzero(np.diff(y > 0))
    part = y[flips] / (y[flips] - y[flips + 1])
    ends = list(np.exp(x[flips] + part * (x[flips + 1] - x[flips])))
    if y[0] > 0:
        ends.insert(0, frequency[0])
    if y[-1] > 0:
        ends.append(frequency[-1])
    return [(float(low), float(high)) for low, high in zip(ends[::2], ends[1::2], strict=True)]


def room(assessment: Assessment, *, ax: Axes | None = None) -> Axes:
    """Draw how far the payload moves towards each face, against the gap there.

    The frame is the gap, the bar in it the motion; the words beside it and the hatching give the
    status.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
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
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> ax = room(case, ax=Figure().subplots())
    >>> [label.get_text() for label in ax.get_yticklabels()][-1]
    'lid'
    """
    checks = {check.id: check for check in assessment.checks}
    rows = [checks[f"clearance/{face}"] for face in FACES]
    ax = _axes(ax)
    for y, check in enumerate(rows):
        reach = max((v for v in (check.demand, check.capacity) if v is not None), default=0.0)
        if check.capacity is not None:
            ax.barh(y, check.capacity, 0.7, fill=False, edgecolor=INK, lw=1.4, zorder=3)
        if check.demand is not None:
            ax.barh(
                y,
                check.demand,
                0.4,
                facecolor=FILLS[check.status],
                edgecolor=INK,
                lw=0.8,
                hatch=HATCHES[check.status],
            )
        ax.annotate(
            _answer(check),
            (reach, y),
            (5, 0),
            textcoords="offset points",
            va="center",
            weight="bold" if check.status == "fail" and not check.waived else "normal",
        )
    ax.set_yticks(range(len(FACES)), FACES)
    ax.set_xlim(0, 1.45 * max(1.0, *(v for c in rows for v in (c.demand, c.capacity) if v)))
    ax.set_xlabel("frame: gap, bar: motion towards the face [mm]")
    ax.set_title("room inside", loc="left")
    return ax


def _answer(check: Check) -> str:
    if check.waived:
        return "not required"
    if check.status == "incomplete":
        return f"open: needs {check.missing}" if check.missing else "open"
    if check.demand is None or check.capacity is None:
        return f"{check.status}: nothing stops it"
    left = check.capacity - check.demand
    return f"{check.status}, {abs(left):.3g} mm {'left' if left >= 0 else 'short'}"


def _axes(ax: Axes | None) -> Axes:
    """The axes in our plain style, of a new figure if there are none."""
    if ax is None:
        from matplotlib import pyplot

        ax = pyplot.figure(figsize=(7.2, 4.2), layout="constrained").subplots()
    ax.spines[["top", "right"]].set_visible(False)
    ax.tick_params(direction="out", color=INK)
    return ax

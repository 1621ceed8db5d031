"""Transmissibility: where the payload shakes less than if it were bolted down, and where more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.figures.style import (
    INK,
    LABEL,
    MIDDLE,
    PALE,
    SHADE,
    TITLE,
    axes,
    folded,
    legend_below,
)
from isolator.outcome import POINTS
from isolator.payload import CORNERS
from isolator.response import Response
from isolator.suspension import Pose, Suspension
from isolator.trip import AXES, Axis, Leg
from isolator.units import FREQUENCY, FloatArray, Given, InputError, si_array
from isolator.vibration import transmissibility as gain

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment

FIRST, LAST = 1.0, 500.0
"""Range of the frequency axis. [Hz]"""

WORST = "worst corner"

STYLES: tuple[dict[str, Any], ...] = (
    {"color": INK, "lw": 1.8, "ls": "-"},
    {"color": MIDDLE, "lw": 1.8, "ls": (0, (4, 1.5))},
    {"color": INK, "lw": 1.2, "ls": "-."},
    {"color": MIDDLE, "lw": 1.2, "ls": (0, (1, 1))},
    {"color": INK, "lw": 1.0, "ls": (0, (8, 2, 1, 2, 1, 2))},
    {"color": MIDDLE, "lw": 1.0, "ls": "-"},
)


def transmissibility(
    assessment: Assessment,
    *,
    leg: str | None = None,
    axis: Axis | Sequence[Axis] = "z",
    points: Sequence[str] = ("centre", WORST),
    marks: Mapping[str, Given] | None = None,
    frame: str | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw where the payload shakes less than if it were bolted down, and where more.

    The lines are |T| along the axis in which the case moves, at the centre of gravity and at
    that corner which is worst at each frequency. The band is shaded where the worst corner
    shakes more than a bolted one; short ticks at the top mark the undamped modes. With a leg,
    the strip at the bottom shows where its road is strong: its density along the axis is more
    than half of its largest.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    leg : str, optional
        Name of the leg whose attitude and temperature count; lid up at 23 °C if left out.
    axis : "x", "y" or "z", or several
        Case axis along which the case moves.
    points : sequence of str
        ``centre``, ``worst corner``, a corner by its signs (``+-+``), or the name of a part of
        the payload, which stands for its middle.
    marks : mapping of str to text or quantity [frequency], optional
        Resonances or sources inside, by name: a line each.
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
        No such axis, point or leg, an unknown loss factor or cold stiffness, mounts that are
        rigid or do not hold the payload there.

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
    found = Passed.of(assessment, leg=leg, axis=axis, points=points, frame=frame)
    shown = {
        name: FREQUENCY.read(given, f"marks[{name!r}]") for name, given in (marks or {}).items()
    }
    ax = axes(ax)
    found.draw(ax)
    paper(ax)
    ax.set_ylabel(found.passes)
    ax.set_ylim(found.limits)
    _mark(ax, shown)
    legend_below(ax)
    return ax


def paper(ax: Axes) -> None:
    """What is the same on every picture of |T|: two axes of powers and the line of no effect."""
    ax.set_xscale("log")
    ax.set_yscale("log")
    ax.set_xlim(FIRST, LAST)
    ax.set_xticks([1, 2, 5, 10, 20, 50, 100, 200, 500], minor=False)
    ax.xaxis.set_major_formatter("{x:g}")
    ax.yaxis.set_major_formatter("{x:g}")
    ax.set_xlabel("frequency [Hz]")
    ax.axhline(1.0, color=INK, lw=0.9, ls=":")
    ax.annotate(
        "bolted down",
        (1, 1),
        (-4, 3),
        xycoords=ax.get_yaxis_transform(),
        textcoords="offset points",
        ha="right",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
    )


@dataclass(frozen=True, kw_only=True)
class Passed:
    """What the mounts pass on, as `transmissibility` shows it.

    Attributes
    ----------
    title, passes : str
        How the case stands and is shaken; what the lines are.
    frequency : (f,) array
        [Hz]
    lines : mapping of label to (f,) array
        |T|. [-]
    worse : sequence of pairs
        Bands in which the worst corner shakes more than a bolted one. [Hz]
    modes : (6,) array
        Undamped. [Hz]
    strong : sequence of pairs
        Bands in which the road is strong. [Hz]
    """

    title: str
    passes: str
    frequency: FloatArray
    lines: Mapping[str, FloatArray]
    worse: Sequence[tuple[float, float]]
    modes: FloatArray
    strong: Sequence[tuple[float, float]]

    @classmethod
    def of(
        cls,
        assessment: Assessment,
        *,
        leg: str | None = None,
        axis: Axis | Sequence[Axis] = "z",
        points: Sequence[str] = ("centre", WORST),
        frame: str | None = None,
    ) -> Passed:
        """From the suspension and the pose of a body; see `transmissibility`."""
        ways = [axis] if isinstance(axis, str) else list(axis)
        if not ways or not set(ways) <= set(AXES):
            raise InputError(f"axis = {axis!r}: write one of {', '.join(AXES)}")
        response = assessment.body(frame)
        places = _places(response, points)
        suspension, pose, condition = _hung(response, leg)
        natural = suspension.frequencies(pose)[0]
        corners = response.corners[0]
        where = np.concatenate([corners, *(p[None] for p in places.values() if p is not None)])
        # A lightly damped peak is narrower than a step of the grid.
        grid = np.geomspace(FIRST, LAST, 3001)
        frequency = np.union1d(grid, natural[(natural > FIRST) & (natural < LAST)])
        modes = suspension.modes(pose)
        everywhere = np.abs(gain(modes, (where @ pose.turn[0].T)[None], frequency)[0])
        along = {way: everywhere[:, :, AXES.index(way), AXES.index(way)] for way in ways}
        corner = {way: size[:, : len(CORNERS)].max(axis=1) for way, size in along.items()}
        lines: dict[str, FloatArray] = {}
        for way in ways:
            chosen = iter(along[way][:, len(CORNERS) :].T)
            for name, place in places.items():
                label = name if len(ways) == 1 else f"{name}, {way}"
                lines[label] = corner[way] if place is None else next(chosen)
        journey = next((r.leg for r in response.legs if r.leg.name == leg), None)
        title = f"{condition}, case shaken along {', '.join(ways)}"
        return cls(
            title=folded(f"{frame}: {title}" if frame else title, TITLE),
            passes=f"|T| along {', '.join(ways)}\npayload over case [-]",
            frequency=frequency,
            lines=lines,
            worse=_above_one(frequency, np.max(list(corner.values()), axis=0)),
            modes=natural,
            strong=[] if journey is None else list(_strong(journey, ways)),
        )

    @property
    def limits(self) -> tuple[float, float]:
        """Ends of the axis of |T|. [-]"""
        size = np.array(list(self.lines.values()))
        return float(size.min()) / (2.5 if self.strong else 1.5), float(size.max()) * 2.5

    @property
    def named(self) -> str:
        """The modes in words."""
        return f"modes: {', '.join(f'{f:.3g}' for f in self.modes)} Hz"

    def draw(self, ax: Axes) -> list[Artist]:
        """Draw what a `paper` lacks: title, bands, lines, ticks of the modes; no legend yet."""
        drawn: list[Artist] = []
        for n, (low, high) in enumerate(self.worse):
            label = "worse than bolted down" if n == 0 else None
            drawn.append(
                ax.axvspan(
                    low, high, facecolor=PALE, edgecolor=SHADE, lw=0, hatch="//", zorder=0,
                    label=label,
                )
            )  # fmt: skip
        styles = STYLES * (1 + len(self.lines) // len(STYLES))
        for (name, line), style in zip(self.lines.items(), styles, strict=False):
            drawn += ax.plot(self.frequency, line, label=folded(name, LABEL), **style)
        drawn += ax.plot(
            self.modes,
            np.full(6, 0.97),
            "|",
            transform=ax.get_xaxis_transform(),
            color=INK,
            ms=11,
            label=self.named,
        )
        for n, (low, high) in enumerate(self.strong):
            label = "the road is strong: above half of its largest density" if n == 0 else None
            drawn.append(
                ax.axvspan(
                    low, high, 0, 0.055, facecolor=SHADE, edgecolor=INK, lw=0.8, hatch="xxx",
                    label=label,
                )
            )  # fmt: skip
        ax.set_title(self.title, loc="left")
        return drawn


def _places(response: Response, points: Sequence[str]) -> dict[str, FloatArray | None]:
    """Name → where it is from the centre of gravity [m], None for the worst corner."""
    payload = response.designs[0].payload
    known: dict[str, FloatArray | None] = {
        part.name: si_array(part, "position") - payload.centre_of_gravity()
        for part in payload.parts
    }
    known |= dict(zip(CORNERS, response.corners[0], strict=True))
    known |= {POINTS[0]: np.zeros(3), WORST: None}
    wrong = [name for name in points if name not in known]
    if wrong or not points:
        raise InputError(
            f"points = {list(points)!r}: no such point; write some of "
            f"{', '.join(map(repr, reversed(known)))}"
        )
    return {name: known[name] for name in points}


def _mark(ax: Axes, marks: Mapping[str, float]) -> None:
    """Lines at frequencies [Hz]; their names are in the legend, where no curve runs."""
    words = [f"{name} {at:.3g} Hz" for name, at in sorted(marks.items(), key=lambda item: item[1])]
    for n, at in enumerate(sorted(marks.values())):
        label = None if n else folded("; ".join(words), 2 * LABEL)
        ax.axvline(at, color=INK, lw=1.1, ls=(0, (6, 2, 1, 2)), label=label)


def _strong(leg: Leg, ways: Sequence[Axis]) -> Iterator[tuple[float, float]]:
    """The strong bands of a leg that the frequency axis reaches. [Hz]"""
    for way in ways:
        spectrum = leg.spectrum(way)
        if spectrum is None:
            continue
        for low, high in _above_one(spectrum.lines, 2 * spectrum.density / spectrum.density.max()):
            if low < LAST and high > FIRST:
                yield low, high


def _hung(response: Response, leg: str | None) -> tuple[Suspension, Pose, str]:
    """The suspension (1,) and its pose on a leg, and words for it."""
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
    if suspension.loss_unknown().any():
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

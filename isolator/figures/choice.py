"""A choice of mounts: the stiffness window, the trade of isolation for travel, what matters."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from isolator.figures.style import FADED, HATCHES, INK, MIDDLE, PALE, SHADE, axes, plain

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from isolator.robust import Chance
    from isolator.windows import Window

MOST = 12
"""How many kinds of mounts one picture shows."""


def window(found: Window, *, ax: Axes | None = None) -> Axes:
    """Draw what each question allows along the stiffness of a mount, what is left, and the mounts.

    A bar is where nothing of a question fails, dotted where something of it is incomplete. Below
    stand the kinds of mounts, with the band in which each may lie; the upper scale is the bounce
    that goes with the stiffness.

    Parameters
    ----------
    found : Window
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.
    """
    bands = sorted(found.bands, key=lambda band: band.stated)[:MOST]
    ax = axes(ax, (7.2, 2.2 + 0.3 * (len(found.allowed) + len(bands))))
    rows = {name: own for name, own in found.allowed.items() if not own.all()}
    rows["what is left"] = found.left
    labels = []
    for y, (name, allowed) in enumerate(reversed(rows.items())):
        last = name == "what is left"
        ax.barh(y, found.stiffness[-1] / 1e3, 0.62, color=PALE, lw=0, zorder=1)
        for low, high in found.intervals(np.asarray(allowed)):
            ax.barh(
                y,
                (high - low) / 1e3,
                0.62,
                left=low / 1e3,
                facecolor=MIDDLE if last else SHADE,
                edgecolor=INK,
                lw=0.8,
                zorder=2,
            )
        if not np.any(allowed):
            ax.annotate(
                "shut", (np.sqrt(found.stiffness[0] * found.stiffness[-1]) / 1e3, y),
                ha="center", va="center", weight="bold", zorder=5,
                bbox={"facecolor": PALE, "edgecolor": "none", "pad": 1.5},
            )  # fmt: skip
        unknown = found.unsettled().get(name)
        for low, high in () if unknown is None else found.intervals(unknown):
            ax.barh(
                y,
                (high - low) / 1e3,
                0.62,
                left=low / 1e3,
                facecolor="white",
                edgecolor=INK,
                hatch=HATCHES["incomplete"],
                lw=0.8,
                zorder=3,
            )
        labels.append(name)
    for k, band in enumerate(bands, start=1):
        at = -k - 0.4
        if band.low < band.high:
            ax.plot([band.low / 1e3, band.high / 1e3], [at, at], color=INK, lw=3, alpha=0.5)
        ax.plot(band.stated / 1e3, at, "o", color=INK, ms=5)
        labels.insert(0, plain(band.name))
    ticks = [-k - 0.4 for k in range(len(bands), 0, -1)] + list(range(len(rows)))
    ax.set_yticks(ticks, labels)
    ax.axvline(found.own / 1e3, color=INK, lw=1, ls=":", zorder=4)
    ax.set_xscale("log")
    ax.set_xlim(found.stiffness[0] / 1e3, found.stiffness[-1] / 1e3)
    ax.set_ylim(-len(bands) - 1.1, len(rows) - 0.4)
    ax.set_xlabel("stiffness of one mount along its axis [N/mm]   dotted: the brief's own")
    dotted = " (dots: something is incomplete)" if found.unsettled() else ""
    ax.set_title(f"the stiffness window{dotted}", loc="left")
    known = np.isfinite(found.bounce)
    if known.sum() > 1:
        _with_bounce(ax, found.stiffness[known] / 1e3, found.bounce[known])
    return ax


def _with_bounce(ax: Axes, stiffness: np.ndarray, bounce: np.ndarray) -> None:
    """A second scale above: bounce over stiffness."""
    order = np.argsort(bounce)
    wanted = np.array([1, 2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100, 150, 200], dtype=float)
    low, high = bounce[order][0], bounce[order][-1]
    some = wanted[(wanted >= low) & (wanted <= high)]
    at = np.exp(np.interp(np.log(some), np.log(bounce[order]), np.log(stiffness[order])))
    upper = ax.twiny()
    upper.set_xscale("log")
    upper.set_xlim(ax.get_xlim())
    upper.set_xticks(at, [f"{value:g}" for value in some])
    upper.minorticks_off()
    upper.set_xlabel("bounce [Hz]")
    upper.spines[["right"]].set_visible(False)


def trade(table: pd.DataFrame, *, ax: Axes | None = None) -> Axes:
    """Draw every design by its bounce and by how far a mount moves in its falls.

    Filled points pass, crosses fail, open ones are incomplete or were screened only; a line joins
    those that nothing beats in both margins, under vibration and in falls.

    Parameters
    ----------
    table : DataFrame
        Of `choose`.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.
    """
    from isolator.sweep import front

    ax = axes(ax)
    known = table.dropna(subset=["bounce_hz", "travel_mm"])
    for status, marker, face, name in (
        ("fail", "x", FADED, "fails"),
        ("incomplete", "o", "white", "incomplete, or screened only"),
        ("pass", "o", INK, "passes"),
    ):
        own = known[known["status"] == status]
        if not own.empty:
            edge = face if marker == "x" else INK
            x, y = own["bounce_hz"], own["travel_mm"]
            ax.plot(x, y, marker, mfc=face, mec=edge, ls="none", label=name)
    best = known[front(known)].sort_values("bounce_hz")
    if len(best) > 1:
        x, y = best["bounce_hz"], best["travel_mm"]
        ax.plot(x, y, color=MIDDLE, lw=1, label="nothing beats both")
    ax.set_xlabel("bounce, as stated [Hz]")
    ax.set_ylabel("most that a mount moves in a fall, by energy [mm]")
    ax.set_title("isolation against travel", loc="left")
    ax.legend(frameon=False)
    return ax


def drawn(found: Any) -> Iterator[tuple[str, Callable[..., Axes]]]:
    """Pictures of a `report.choice.Choice` by their names."""
    yield "window", partial(window, found.window)
    yield "trade", partial(trade, found.table)
    if found.chance is not None:
        yield "shares", partial(shares, found.chance)


def shares(found: Chance, *, ax: Axes | None = None) -> Axes:
    """Draw what share of the spread of the least margin each factor has.

    Parameters
    ----------
    found : Chance
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.
    """
    own = list(reversed(found.factors[:MOST]))
    ax = axes(ax, (7.2, 1.4 + 0.35 * len(own)))
    at = np.arange(len(own))
    ax.barh(
        at, [max(f.total, 0.0) for f in own], 0.7, facecolor="white", edgecolor=INK,
        hatch=HATCHES["incomplete"], label="with others",
    )  # fmt: skip
    ax.barh(
        at, [max(f.share, 0.0) for f in own], 0.4, facecolor=MIDDLE, edgecolor=INK, label="alone"
    )
    ax.set_yticks(at, [plain(f.name) for f in own])
    ax.set_ylim(-0.6, max(len(own), 3) - 0.4)
    ax.set_xlabel("share of the variance of the least margin [-]")
    ax.set_title(
        f"all hold in {found.passing:.0%} ± {found.error:.1%} of {found.samples} draws", loc="left"
    )
    ax.legend(frameon=False, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return ax

"""What all pictures share: greys, hatches, words of a status, and axes in a plain style."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.verdict import Check

INK, MIDDLE, FADED, SHADE, PALE = "#1b1b1b", "#6b7785", "#9aa3ad", "#bcc3cb", "#eceef1"
FILLS = {"pass": "#9fb4c9", "fail": "#e0913f", "incomplete": "white"}
HATCHES = {"pass": "", "fail": "////", "incomplete": "...."}
SMALL = 8.5
"""Size of the smallest letters. [pt]"""


def answer(check: Check) -> str:
    """What a clearance check says, in few words."""
    if check.waived:
        return "not required"
    if check.status == "incomplete":
        return f"incomplete: needs {check.missing}" if check.missing else "incomplete"
    if check.demand is None or check.capacity is None:
        return f"{check.status}: nothing stops it"
    left = check.capacity - check.demand
    return f"{check.status}, {abs(left):.3g} mm {'left' if left >= 0 else 'short'}"


def plain(name: str) -> str:
    """A user's name as text, where a dollar sign would start a formula."""
    return name.replace("$", r"\$")


def legend_below(ax: Axes) -> None:
    """The legend under the axes and their label, however high the picture is."""
    from matplotlib.transforms import ScaledTranslation

    figure = ax.get_figure(root=True)
    assert figure is not None
    ax.legend(
        loc="upper center",
        bbox_to_anchor=(0.5, 0.0),
        bbox_transform=ax.transAxes + ScaledTranslation(0, -0.5, figure.dpi_scale_trans),
        ncols=2,
        fontsize=SMALL,
        frameon=False,
    )


def axes(ax: Axes | None, size: tuple[float, float] = (7.2, 4.2)) -> Axes:
    """The axes in our plain style, of a new figure of a size [in] if there are none."""
    if ax is None:
        from matplotlib import pyplot

        ax = pyplot.figure(figsize=size, layout="constrained").subplots()
    ax.spines[["top", "right"]].set_visible(False)
    ax.tick_params(direction="out", color=INK)
    return ax

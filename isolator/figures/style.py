"""What all pictures share: greys, hatches, words of a status, and axes in a plain style."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from typing import TYPE_CHECKING

from isolator.names import in_line

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.legend import Legend

    from isolator.verdict import Check

INK, MIDDLE, FADED, SHADE, PALE = "#1b1b1b", "#6b7785", "#9aa3ad", "#bcc3cb", "#eceef1"
FILLS = {"pass": "#9fb4c9", "fail": "#e0913f", "incomplete": "white"}
HATCHES = {"pass": "", "fail": "////", "incomplete": "...."}
SMALL = 8.5
"""Size of the smallest letters. [pt]"""
TITLE, LABEL, NAME = 62.0, 26.0, 18.0
"""How wide a title, words beside something, and a name in a drawing may be. [small letters]"""


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
    """A user's name as text in a line in order, where a dollar sign would start a formula."""
    return "\n".join(map(in_line, name.split("\n"))).replace("$", r"\$")


def folded(text: str, most: float) -> str:
    r"""Words on several lines, none much wider than so many small letters; as text, see `plain`.

    Examples
    --------
    >>> folded("by van", 20)
    'by van'
    >>> folded("a survey recorder in its case", 16)
    'a survey\nrecorder in its\ncase'
    >>> folded("W" * 12, 10)
    'WWWWWW\nWWWWWW'
    """
    lines, used = [""], 0.0
    for word in re.split(r"(?<=\s)", text):
        width = sum(map(_width, word.rstrip()))
        if used and used + width > most:
            lines.append("")
            used = 0.0
        for letter in word:
            if used + _width(letter) > most and not letter.isspace():
                lines.append("")
                used = 0.0
            lines[-1] += letter
            used += _width(letter)
    return plain("\n".join(line.rstrip() for line in lines))


def _width(letter: str) -> float:
    """Roughly, in small letters."""
    broad = letter.isupper() or letter in "mw@%" or unicodedata.east_asian_width(letter) in "WF"
    return 1.6 if broad else 1.0


def legend_below(
    ax: Axes, handles: Mapping[str, Artist] | None = None, *, columns: int = 2
) -> Legend:
    """The legend under the axes and their label, however high the picture is.

    It has what is drawn with a label, or some handles by their labels.
    """
    from matplotlib.transforms import ScaledTranslation

    figure = ax.get_figure(root=True)
    assert figure is not None
    given = {} if handles is None else {"handles": handles.values(), "labels": handles}
    return ax.legend(
        **given,
        loc="upper center",
        bbox_to_anchor=(0.5, 0.0),
        bbox_transform=ax.transAxes + ScaledTranslation(0, -0.5, figure.dpi_scale_trans),
        ncols=columns,
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

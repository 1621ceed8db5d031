"""Figures as vectors of a size on paper, the same bytes for the same verdict."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INCH = 25.4
"""[mm]"""


@dataclass(frozen=True)
class Picture:
    """A figure for a page.

    Attributes
    ----------
    words : str
        What it shows, for who cannot see it.
    svg : str
        One element; its letters are text, its marks have names that no other picture has.
    width, height : float
        On paper. [mm]
    """

    words: str
    svg: str
    width: float
    height: float


def picture(
    number: int, words: str, draw: Callable[..., Axes], width: float, height: float
) -> Picture:
    """Draw a figure for a page.

    Parameters
    ----------
    number : int
        Another one for each picture of a page.
    words : str
    draw : function of the axes
        One of `isolator.figures`.
    width, height : float
        On paper. [mm]

    Raises
    ------
    InputError
        What it shows is not known.
    """
    import matplotlib
    from matplotlib.figure import Figure
    from matplotlib.style import context

    with context("default"), warnings.catch_warnings():
        matplotlib.rcParams.update(
            {
                "svg.hashsalt": "isolator",
                "svg.fonttype": "none",
                "font.size": 8.5,
                "axes.titlesize": 9.5,
                "axes.titleweight": "bold",
            }
        )
        # Who looks at the page may have a sign that this font lacks.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        figure = Figure(figsize=(width / INCH, height / INCH), layout="constrained")
        draw(ax=figure.subplots())
        file = io.StringIO()
        figure.savefig(file, format="svg", metadata={"Date": None})
    return Picture(words, _element(file.getvalue(), f"p{number}-"), width, height)


def _element(svg: str, start: str) -> str:
    """The element alone, without ids but for those that it refers to, which get a start."""
    svg = re.sub(r"\s*<metadata>.*?</metadata>", "", svg[svg.index("<svg") :], flags=re.DOTALL)
    used = set(re.findall(r'(?:url\(|xlink:href=")#([^)"]+)', svg))

    def named(match: re.Match[str]) -> str:
        return f' id="{start}{match[1]}"' if match[1] in used else ""

    svg = re.sub(r' id="([^"]*)"', named, svg)
    return re.sub(r'(url\(|xlink:href=")#', rf"\1#{start}", svg).strip()

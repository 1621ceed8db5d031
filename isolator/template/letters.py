"""Lines of letters: how wide they are, and what of a text fits. All lengths are in mm."""

from __future__ import annotations

import unicodedata
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

POINT = 25.4 / 72
"""A point of type. [mm]"""

TEXT, SMALL = 2.8, 2.3
"""Height of letters. [mm]"""


@contextmanager
def plain_style() -> Iterator[None]:
    """Matplotlib as it comes, whatever the user has set; a sign that the font lacks is a box."""
    from matplotlib import rc_context
    from matplotlib.style import context

    with context("default"), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        with rc_context({"pdf.fonttype": 42, "path.simplify": False}):
            yield


@cache
def text_width(text: str, height: float) -> float:
    """Width of a line of letters of a height. [mm]"""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    with plain_style():
        prop = FontProperties(family="DejaVu Sans", size=height / POINT)
        points, _, _ = text_to_path.get_text_width_height_descent(text, prop, False)
    return float(points) * POINT


def clean(text: str) -> str:
    """A user's text on one line: signs that print nothing, or turn the rest round, as blanks."""
    blank = "".join(" " if unicodedata.category(sign)[0] == "C" else sign for sign in text)
    return " ".join(blank.split())


def fitted(text: str, width: float, height: float = TEXT) -> str:
    """A user's text on one line, shortened with an ellipsis only where it does not fit.

    Parameters
    ----------
    text : str
    width, height : float
        Room for the line, height of its letters. [mm]

    Examples
    --------
    >>> fitted("soft ring", 40.0), fitted("soft ring " * 20, 40.0)
    ('soft ring', 'soft ring soft ring soft ring…')
    """
    text = clean(text)
    if text_width(text, height) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = text_width(f"{text[:middle].rstrip()}…", height) <= width
        low, high = (middle, high) if fits else (low, middle - 1)
    return f"{text[:low].rstrip()}…"


def wrapped(text: str, width: float) -> Iterator[str]:
    """A text as lines of a width at the most. [mm]"""
    line = ""
    for word in clean(text).split(" "):
        longer = f"{line} {word}".strip()
        if line and text_width(longer, TEXT) > width:
            yield line
            longer = word
        while text_width(longer, TEXT) > width:
            most = max(len(fitted(longer, width)) - 1, 1)
            yield longer[:most]
            longer = longer[most:]
        line = longer
    yield line

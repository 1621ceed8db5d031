"""Names of any script within lines of ours, which run from left to right."""

from __future__ import annotations

import re

LEFT_TO_RIGHT = "\u200e"
"""A sign without width that counts as a letter of a script from left to right (Unicode)."""

_LEFTWARDS = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff"
_RUN = re.compile(rf"[{_LEFTWARDS}](?:[^\w,;:/()\[\]]*[{_LEFTWARDS}])*")


def in_line(text: str) -> str:
    r"""A line of ours that stays in order whatever the names in it.

    Without it a line that begins with an Arabic or Hebrew name is set from right to left as a
    whole, and a number after such a name moves before it (Unicode's bidirectional algorithm). A
    sign without width at the beginning and behind each such name holds both in place.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        The same text if nothing in it runs from right to left.

    Examples
    --------
    >>> in_line("mount 1 soft holds 33.8 N")
    'mount 1 soft holds 33.8 N'
    >>> in_line("\u05d3\u05d5\u05d3 33.8 N") == "\u200e\u05d3\u05d5\u05d3\u200e 33.8 N"
    True
    """
    if not _RUN.search(text):
        return text
    return LEFT_TO_RIGHT + _RUN.sub(rf"\g<0>{LEFT_TO_RIGHT}", text)

"""How far the payload swings, over its outline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from isolator.checks.row import asked
from isolator.figures.style import INK, MIDDLE, PALE, SHADE, answer
from isolator.figures.views import VIEWS, View, sheet
from isolator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.response import Response

LINES = {
    "at rest in all attitudes": {"edgecolor": INK, "ls": ":", "lw": 1.3},
    "vibration and sine": {"edgecolor": MIDDLE, "ls": "-", "lw": 1.3},
    "drop and set-down": {"edgecolor": SHADE, "ls": "-", "lw": 4.5},
    "worst, held against the gap": {"edgecolor": INK, "ls": "-.", "lw": 1.2},
}


def sway(assessment: Assessment, view: View = "plan", *, ax: Axes | None = None) -> Axes:
    """Draw how far the payload's corners reach over its outline, against the walls.

    Each line is the rectangle that the corners reach face by face, tolerance included, about the
    box as the gaps were measured; the words at a wall are its clearance check.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    view : "plan", "front" or "side"
        From above, from the handle side, from the right end.
    ax : matplotlib Axes, optional
        Where to draw; a new figure if left out.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No such view.

    Examples
    --------
    >>> import isolator
    >>> from matplotlib.figure import Figure
    >>> from isolator.sources import data_file
    >>> case = isolator.assess(str(data_file("starter/case.toml")))
    >>> ax = sway(case, ax=Figure().subplots())
    >>> [text.get_text().split(",")[0] for text in ax.texts][0]
    'left end\\npass'
    """
    page = sheet(assessment, view, ax)
    sides = [2 * k + n for k in (page.across, page.up) for n in (0, 1)]
    box = page.edges(np.zeros(4))
    page.box(box, "payload", facecolor=PALE, edgecolor=INK, lw=1.4, zorder=2)
    page.walls()
    reach = [box, page.edges(np.nan_to_num(page.gaps()))]
    known = [check.demand for check in page.checks.values()]
    moves = {name: 1e3 * towards[sides] for name, towards in _towards(assessment.response).items()}
    moves[list(LINES)[-1]] = np.array([np.nan if d is None else d for d in known])
    for name, way in moves.items():
        if np.isfinite(way).all():
            reach.append(page.edges(way))
            page.box(reach[-1], name, fill=False, zorder=4, **LINES[name])
        else:
            page.ax.plot([], [], " ", label=f"{name}: not known on every side")
    for side, check in page.checks.items():
        face = check.id.partition("/")[2]
        text = answer(check) if check.capacity is not None else f"gap not given,\n{answer(check)}"
        bold = check.status == "fail" and not check.waived
        page.word(
            side,
            f"{face}\n{text}" if side in ("left", "right") else f"{face}: {text}",
            weight="bold" if bold else "normal",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85},
            zorder=6,
        )
    ends = np.array(reach)
    most = np.where([True, False, True, False], ends.min(axis=0), ends.max(axis=0))
    page.finish(f"sway, {VIEWS[view][2]}", most, 0.12)
    return page.ax


def _towards(response: Response) -> dict[str, FloatArray]:
    """What moves the corners → how far towards the faces (6,), nan if unknown. [m]"""
    usable = asked(response)[0] & response.pose.found[0]
    legs = response.legs
    motions = [m for leg in legs for m in (leg.shaking, leg.sine) if m is not None]
    shaking = [motion.towards[0] for motion in motions]
    falling = [fall.towards[0] for leg in legs for fall in leg.falls]
    lists = zip(LINES, ([*response.towards[0, usable]], shaking, falling), strict=False)
    return {name: np.max(moves, axis=0) + response.spent[0] for name, moves in lists if moves}

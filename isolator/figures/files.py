"""The set of pictures of a verdict as files."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from isolator.figures.gaps import room
from isolator.figures.places import layout
from isolator.figures.reach import sway
from isolator.figures.shake import transmissibility
from isolator.files import free_name, put, safe_name
from isolator.trip import AXES
from isolator.units import Given, InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from isolator.assessment import Assessment
    from isolator.design import Design

KINDS = ("svg", "png")


def save(assessment: Assessment, folder: str | Path) -> list[str]:
    """Write the set of pictures as SVG and PNG; all files appear complete, or none.

    Sketches (``plan``, ``front``, ``side``), ``sway-plan``, ``sway-side``, ``room``, the same of
    each further body with its name, and ``transmissibility-LEG-AXIS`` of every leg that vibrates,
    or ``transmissibility-AXIS``. Equal verdicts give equal bytes.

    Parameters
    ----------
    assessment : Assessment
        Of one design.
    folder : str or Path
        Made if it is missing; files of these names in it are replaced.

    Returns
    -------
    list of str
        Pictures that cannot be drawn, a line each with the reason.

    Raises
    ------
    InputError
        The folder cannot be written to.
    """
    return save_drawn(_set(assessment), folder)


def save_drawn(
    pictures: Iterator[tuple[str, Callable[..., Axes]]], folder: str | Path
) -> list[str]:
    """Write pictures, each by its name and a function of axes; see `save`."""
    import matplotlib
    from matplotlib.figure import Figure
    from matplotlib.style import context

    made: dict[str, bytes] = {}
    lacking: list[str] = []
    with context("default"), warnings.catch_warnings():
        matplotlib.rcParams["svg.hashsalt"] = "isolator"
        # A sign that the font lacks is drawn as a box.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        for name, draw in pictures:
            tall = 5.0 if name.startswith(("room", "transmissibility")) else 6.0
            figure = Figure(figsize=(7.2, tall), layout="constrained")
            try:
                draw(ax=figure.subplots())
            except InputError as error:
                lacking += [f"{name}: not drawn; {line}" for line in error.lines]
                continue
            for kind in KINDS:
                data = io.BytesIO()
                metadata = {"Date": None} if kind == "svg" else {"Software": None}
                figure.savefig(data, format=kind, dpi=150, metadata=metadata)
                made[f"{name}.{kind}"] = data.getvalue()
    put(Path(folder), made, "--figures", "picture")
    return lacking


def _set(assessment: Assessment) -> Iterator[tuple[str, Callable[..., Axes]]]:
    for view in ("plan", "front", "side"):
        yield view, partial(layout, assessment, view)
    used: set[str] = set()
    for frame in (None, *assessment.frames):
        own = "" if frame is None else f"-{safe_name(frame, 'body')}"
        yield free_name(f"sway-plan{own}", used), partial(sway, assessment, "plan", frame=frame)
        yield free_name(f"sway-side{own}", used), partial(sway, assessment, "side", frame=frame)
        yield free_name(f"room{own}", used), partial(room, assessment, frame=frame)
    shaken = [r.leg.name for r in assessment.response.legs if r.shaking is not None]
    legs: Sequence[str | None] = shaken or (None,)
    marks = inside(assessment.design)
    for leg in legs:
        stem = "transmissibility"
        if leg is not None:
            stem = free_name(f"{stem}-{safe_name(leg, 'leg')}", used)
        for axis in AXES:
            draw = partial(transmissibility, assessment, leg=leg, axis=axis, marks=marks)
            yield f"{stem}-{axis}", draw


def inside(design: Design) -> dict[str, Given]:
    """Resonances and speeds of the parts, by what a line at each is called."""
    parts = [*design.payload.parts, *design.case.parts]
    marks: dict[str, Given] = {p.name: p.resonance for p in parts if p.resonance is not None}
    return marks | {f"{p.name} turns": p.speed for p in parts if p.speed is not None}

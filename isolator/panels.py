"""The panel for a notebook: controls, and the verdict and pictures that follow them."""

from __future__ import annotations

import asyncio
import html
import io
import json
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from isolator import figures
from isolator.brief import Brief, brief_of
from isolator.figures.live import DPI, Room, Transmissibility
from isolator.inside import FACES
from isolator.report.words import verdict_sentence
from isolator.suspension import ATTITUDES
from isolator.sweep import Screen
from isolator.units import InputError, si_or_none
from isolator.verdict import worst
from isolator.windows import STEPS, Window, refined, window

if TYPE_CHECKING:
    from isolator.assessment import Assessment

T = TypeVar("T")

SCREENED = "screened: isolator assess has the last word"
"""Said beside every verdict of a panel."""

FOLLOWS = "the window gets finer …"
"""Said until it has all its stiffnesses."""

ALL = "all faces"

BACK = "as the brief has it"
"""Said on the button that undoes all that the controls did."""

WIDEST, HIGHEST = 200.0, 1500.0
"""Ends of the controls of gap and drop, further if the brief is. [mm]"""

KEPT = 64
"""Verdicts and windows that a panel keeps."""

WINDOW = 7.2, 4.6
"""Size of its picture. [in]"""


_LINE = "line-height: 1.35; margin: 0.3em 0"


def panel(case: Brief | str | Path) -> Panel:
    """Turn gap, drop height, mount and attitude of a case, and see what becomes of it.

    Parameters
    ----------
    case : Brief, or the path of a brief

    Returns
    -------
    Panel
        Shown by a notebook; in text it is its verdict.

    Raises
    ------
    InputError
        As `read_brief`; ipywidgets is not installed.

    Examples
    --------
    >>> from isolator.sources import data_file
    >>> shown = panel(str(data_file("starter/case.toml")))
    >>> shown
    Screened: PASS: all 30 required checks hold.
    >>> shown.drop.value = 500
    >>> print(str(shown)[:40])
    Screened: FAIL: drop travel (by van, lid
    """
    return Panel(brief_of(case))


class Panel:
    """Controls and what follows them, see `panel`.

    A control that is moved changes one thing of the brief. What a brief may not hold is said in
    place, and the control goes back to where it was: controls, verdict and pictures always belong
    together. First come verdict and room, then transmissibility, then the window in passes, which
    stop when a control is moved again.

    Attributes
    ----------
    brief : Brief
        As the controls are.
    face, gap, leg, drop, attitude, mount : widgets
        The controls.
    back : widget
        The button that puts gaps, drops, attitudes and mounts back to the brief as it was given;
        face and leg stay chosen.
    verdict, message, unequal, by_table : widgets
        Sentences; the last two say beside the gap that the gaps it stands for differ, and beside
        the drop that its height is looked up in a table.
    pictures : mapping of name to widget
        ``room``, ``transmissibility``, ``window``.
    notes : mapping of name to widget
        What is said beside a picture.
    box : widget
        All of it.
    """

    def __init__(self, brief: Brief) -> None:
        self.brief = self._given = brief
        self._seen: dict[str, Screen] = {}
        self._windows: dict[str, Window] = {}
        self._task: asyncio.Task[None] | None = None
        self._still = False
        self._sentence = ""
        self._build(_ipywidgets())
        self._align()
        found = self._judged(brief)
        self._room, self._passes = Room(found), Transmissibility()
        self._show(found, "leg")

    def __repr__(self) -> str:
        return self._sentence

    def _repr_mimebundle_(self, **options: Any) -> Any:
        """The widgets; the verdict where there are none."""
        shown = dict(self.box._repr_mimebundle_(**options))
        return {**shown, "text/plain": repr(self)}

    # The widgets.

    def _build(self, kit: Any) -> None:
        design = self.brief.design
        wide = {"layout": kit.Layout(width="100%", max_width="460px"),
                "style": {"description_width": "7em"}}  # fmt: skip
        faces = [face for face in FACES if face not in design.stands_before]
        slide = {**wide, "continuous_update": False, "readout_format": ".0f", "step": 1.0}
        self.face = kit.Dropdown(options=[ALL, *faces], description="gap at", **wide)
        self.gap = kit.FloatSlider(max=WIDEST, description="gap [mm]", **slide)
        legs = [(leg.name, n) for n, leg in enumerate(design.legs)]
        self.leg = kit.Dropdown(options=legs, description="leg", **wide)
        self.drop = kit.FloatSlider(max=HIGHEST, description="drop [mm]", **slide)
        self.attitude = kit.Dropdown(options=list(ATTITUDES), description="attitude", **wide)
        self.mount = kit.Dropdown(options=self._kinds(), description="mount", **wide)
        self.back = kit.Button(description=BACK, layout=kit.Layout(width="auto"))
        self.verdict, self.message = kit.HTML(), kit.HTML()
        self.unequal, self.by_table = kit.HTML(), kit.HTML()
        names = ("room", "window", "transmissibility")
        fitting = {"max_width": "100%", "height": "auto", "object_fit": "contain"}
        self.pictures = {
            name: kit.Image(format="png", layout=kit.Layout(**fitting)) for name in names
        }
        self.notes = {name: kit.HTML() for name in names}
        beside = kit.Layout(max_width="100%", flex="1 1 26em")
        wrap = kit.Layout(flex_flow="row wrap", width="100%")

        def shown(name: str) -> list[Any]:
            return [self.pictures[name], self.notes[name]]

        def row(*columns: list[Any]) -> Any:
            return kit.HBox([kit.VBox(one, layout=beside) for one in columns], layout=wrap)

        self.box = kit.VBox(
            [
                self.verdict,
                row(
                    [self.face, self.gap, self.unequal, self.mount],
                    [self.leg, self.drop, self.by_table, self.attitude, self.back],
                ),
                self.message,
                row(shown("window"), shown("room")),
                *shown("transmissibility"),
            ]
        )
        for name in ("face", "gap", "leg", "drop", "attitude", "mount"):
            getattr(self, name).observe(self._follow(name), "value")
        self.back.on_click(self._follow("back"))

    def _kinds(self) -> list[tuple[str, str | None]]:
        """Kinds of mounts to choose from, and those of the brief where they are of several."""
        kinds: list[tuple[str, str | None]] = [(name, name) for name in self.brief.mounts]
        return kinds if self._only() else [("as the brief has them", None), *kinds]

    def _only(self) -> str | None:
        """The kind that stands everywhere, if it is one of the brief's as it is."""
        kinds = {place.mount.name for place in self.brief.design.places}
        only = kinds.pop() if len(kinds) == 1 else None
        return only if only in self.brief.mounts else None

    def _align(self) -> None:
        """Put every control to what the brief holds."""
        design, leg = self.brief.design, self.brief.design.legs[self.leg.value]
        gaps = [1e3 * (si_or_none(design.case, key) or 0.0) for key in self._gap_keys()]
        drop = 1e3 * (si_or_none(leg, "drop") or 0.0) if leg.drops else 0.0
        least, most = (f"{end(gaps, default=0.0):.4g}" for end in (min, max))
        alike = f"least of {least} to {most} mm; moving it sets all alike"
        _say(self.unequal, alike if least != most else "")
        looked_up = leg.height_class.words if leg.height_class else "by a table, not known yet"
        _say(self.by_table, f"{looked_up}; moving it states a height" if leg.drop_table else "")
        self._still = True
        try:
            for slider, value in ((self.gap, min(gaps, default=0.0)), (self.drop, drop)):
                slider.max = max(slider.max, value)
                slider.value = value
            self.attitude.value = leg.attitude
            self.mount.value = self._only()
        finally:
            self._still = False

    def _gap_keys(self) -> list[str]:
        """Keys of the gaps that the control is for: of all faces, those that the brief gives."""
        case = self.brief.design.case
        keys = [face.replace(" ", "_") for face in self.face.options[1:]]
        if self.face.value == ALL:
            given = [key for key in keys if si_or_none(case, key) is not None]
            return given or keys
        return [self.face.value.replace(" ", "_")]

    # What follows a control.

    def _follow(self, name: str) -> Callable[[Any], None]:
        def moved(_: Any) -> None:
            if self._still:
                return
            try:
                brief = self._changed(name)
                found = self._judged(brief)
            except Exception as error:
                self._align()
                if not isinstance(error, InputError):
                    raise
                _say(self.message, f"Not possible: {error.lines[0]}")
                return
            self.brief = brief
            _say(self.message, "")
            self._align()
            self._show(found, name)

        return moved

    def _changed(self, name: str) -> Brief:
        """The brief with what a control says."""
        brief, leg = self.brief, f"leg[{self.leg.value + 1}]"
        if name == "gap":
            gaps = dict.fromkeys(self._gap_keys(), f"{self.gap.value:g} mm")
            return brief.with_tables({"case": {**brief.text.get("case", {}), **gaps}})
        if name == "drop":
            height = self.drop.value
            return brief.changed(f"{leg}.drop", f"{height:g} mm" if height else "none")
        if name == "attitude":
            return brief.changed(f"{leg}.attitude", self.attitude.value)
        if name == "mount":
            return brief.with_tables({"mounts": self._hung(self.mount.value)})
        return self._given if name == "back" else brief

    def _hung(self, kind: str | None) -> Mapping[str, Any]:
        """The brief's ``[mounts]`` with one kind everywhere, or as it was given."""
        table: dict[str, Any] = dict(self._given.text["mounts"])
        if kind is None:
            return table
        rows = table.get("place", [])
        if all("mount" in row for row in rows) and rows:
            return {**table, "place": [{**row, "mount": kind} for row in rows]}
        if rows:
            table["place"] = [{k: v for k, v in row.items() if k != "mount"} for row in rows]
        return {**table, "use": kind}

    def _judged(self, brief: Brief) -> Assessment:
        before = self._seen.get(_key(self.brief))
        make = partial(Screen.of, brief, [brief.design], before)
        return _kept(self._seen, _key(brief), make).only

    def _show(self, found: Assessment, moved: str) -> None:
        """The verdict and all pictures, what is quick first."""
        self._sentence = f"Screened: {verdict_sentence(found)}"
        first = next(iter(worst(found.checks, 1)), None)
        self.verdict.value = (
            f'<p role="status" style="{_LINE}; font-size: 1.2em">'
            f"<b>{html.escape(self._sentence)}</b></p>"
            f'<p style="{_LINE}">{html.escape(f"{first.id}: {first.reason}" if first else "")}</p>'
            f'<p style="{_LINE}"><i>{SCREENED}</i></p>'
        )
        self._picture("room", lambda: self._room.png(found))
        if moved in ("leg", "mount", "attitude", "back"):
            leg = found.design.legs[self.leg.value].name
            self._picture("transmissibility", lambda: self._passes.png(found, leg))
        self._seek()

    def _seek(self) -> None:
        """The window: in passes where other work waits for its turn, else at once."""
        if self._task is not None:
            self._task.get_loop().call_soon_threadsafe(self._task.cancel)
            self._task = None
        found = self._windows.get(_key(self.brief))
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            loop = None
        if found is None and loop is not None:
            self._tell("window", FOLLOWS)
            self._task = loop.create_task(self._refine(self.brief))
            return
        try:
            found = _kept(self._windows, _key(self.brief), lambda: window(self.brief))
        except InputError as error:
            self._lack("window", error)
        else:
            self._show_window(found)

    async def _refine(self, brief: Brief) -> None:
        """The window in passes, until it is done or another one is wanted."""
        try:
            for found in refined(brief):
                await asyncio.sleep(0.01)
                if self._task is not asyncio.current_task():
                    return
                if found is not None:
                    self._show_window(found)
                    if len(found.stiffness) == STEPS:
                        _keep(self._windows, _key(brief), found)
                    else:
                        self._tell("window", FOLLOWS)
        except Exception as error:
            self._lack("window", error)
            if not isinstance(error, InputError):
                raise

    def _show_window(self, found: Window) -> None:
        self._picture("window", lambda: _drawn(found))

    def _picture(self, name: str, draw: Callable[[], bytes]) -> None:
        """A picture, or why there is none."""
        try:
            self.pictures[name].value = draw()
        except InputError as error:
            self._lack(name, error)
            return
        self.pictures[name].layout.display = None
        self._tell(name, "")

    def _lack(self, name: str, error: Exception) -> None:
        """Why there is no picture, in its place."""
        self.pictures[name].layout.display = "none"
        why = (
            error.lines[0] if isinstance(error, InputError) else f"{type(error).__name__}: {error}"
        )
        self._tell(name, f"{name}: not drawn; {why}")

    def _tell(self, name: str, text: str) -> None:
        """Say something beside a picture."""
        _say(self.notes[name], text)


def _drawn(found: Window) -> bytes:
    """The picture of a window."""
    from matplotlib.figure import Figure

    figure, made = Figure(figsize=WINDOW, layout="constrained"), io.BytesIO()
    figures.window(found, ax=figure.subplots())
    figure.savefig(made, format="png", dpi=DPI, pil_kwargs={"compress_level": 1})
    return made.getvalue()


def _say(widget: Any, text: str) -> None:
    widget.value = f'<p role="status" style="{_LINE}">{html.escape(text)}</p>' if text else ""


def _key(brief: Brief) -> str:
    """What tells the briefs of one panel apart."""
    return json.dumps(brief.text, sort_keys=True, default=str)


def _kept(store: dict[str, T], key: str, make: Callable[[], T]) -> T:
    """What is stored under a key, made if it is not."""
    if key not in store:
        _keep(store, key, make())
    return store[key]


def _keep(store: dict[str, T], key: str, made: T) -> None:
    """Store something under a key; the oldest goes where there are too many."""
    store[key] = made
    if len(store) > KEPT:
        del store[next(iter(store))]


def _ipywidgets() -> Any:
    try:
        import ipywidgets  # type: ignore[import-untyped]
    except ImportError:
        raise InputError(
            "panel: the package ipywidgets is not installed; install it: pip install ipywidgets"
        ) from None
    return ipywidgets

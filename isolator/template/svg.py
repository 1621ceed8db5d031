"""A drill template as SVG."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from isolator.template.drawing import LAYERS, MARGIN, Circle, Line, Mark, extent, with_list
from isolator.template.holes import DrillTemplate
from isolator.template.letters import clean


def template_svg(template: DrillTemplate) -> bytes:
    """The template as SVG in mm: a group for each layer, circles as circles, names as text.

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> brief = isolator.read_brief(str(data_file("starter/case.toml")))
    >>> (template,) = isolator.drill_templates(brief).values()
    >>> template_svg(template).decode().count("<circle")
    1
    """
    marks = with_list(template)
    left, right, bottom, top = extent(marks)
    left, right, bottom, top = left - MARGIN, right + MARGIN, bottom - MARGIN, top + MARGIN
    wide, tall = _plain(right - left), _plain(top - bottom)
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{tall}mm" '
        f'viewBox="{_plain(left)} {_plain(-top)} {wide} {tall}">',
        f"<title>{escape(clean(template.name))}</title>",
    ]
    for layer in LAYERS:
        out.append(
            f'<g id={quoteattr(layer.replace(" ", "-"))} fill="none" stroke="black" '
            'stroke-width="0.2">'
        )
        out += [_as_svg(mark) for mark in marks if mark.layer == layer]
        out.append("</g>")
    return "\n".join([*out, "</svg>", ""]).encode()


def _plain(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".") if round(value, 6) else "0"


def _as_svg(mark: Mark) -> str:
    if isinstance(mark, Circle):
        x, y = mark.at
        return f'<circle cx="{_plain(x)}" cy="{_plain(-y)}" r="{_plain(mark.radius)}"/>'
    if isinstance(mark, Line):
        points = " ".join(f"{_plain(x)},{_plain(-y)}" for x, y in mark.points)
        return f'<{"polygon" if mark.closed else "polyline"} points="{points}"/>'
    x, y = mark.at
    return (
        f'<text x="{_plain(x)}" y="{_plain(-y)}" font-family="DejaVu Sans, sans-serif" '
        f'font-size="{mark.height}" fill="black" stroke="none">{escape(mark.text)}</text>'
    )

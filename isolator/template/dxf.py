"""A drill template as DXF, for a router."""

from __future__ import annotations

import io

from isolator.template.drawing import CENTRES, LAYERS, Circle, Line, with_list
from isolator.template.holes import DrillTemplate
from isolator.units import InputError

UNITS = {"mm": 1.0, "in": 25.4}
"""Of a DXF. [mm]"""


def template_dxf(template: DrillTemplate, *, units: str = "mm") -> bytes:
    """The template as DXF (AC1024) in mm or inches.

    Layers: holes (circles alone, for the router), hole centres, outline, centre of gravity, datum,
    scale bar, words.

    Raises
    ------
    InputError
        No such unit.
    """
    if units not in UNITS:
        raise InputError(f"units = {units!r}: write one of {', '.join(UNITS)}")
    from ezdxf import options  # type: ignore[attr-defined]
    from ezdxf import units as dxf_units
    from ezdxf.filemanagement import new

    scale = 1 / UNITS[units]
    stamped = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # equal designs give equal bytes
    try:
        doc = new("R2010")
        doc.units = dxf_units.MM if units == "mm" else dxf_units.IN
        doc.header["$MEASUREMENT"] = int(units == "mm")
        for layer in LAYERS:
            doc.layers.add(layer)
        space = doc.modelspace()
        for mark in with_list(template):
            attribs = {"layer": mark.layer}
            if isinstance(mark, Circle):
                x, y = mark.at
                space.add_circle((scale * x, scale * y), scale * mark.radius, dxfattribs=attribs)
            elif isinstance(mark, Line):
                points = [(scale * x, scale * y) for x, y in mark.points]
                space.add_lwpolyline(points, close=mark.closed, dxfattribs=attribs)
            else:
                x, y = mark.at
                height = 0.72 * scale * mark.height  # of capitals
                text = space.add_text(_as_dxf(mark.text), height=height, dxfattribs=attribs)
                text.set_placement((scale * x, scale * y))
        for hole in template.holes:
            space.add_point((scale * hole.x, scale * hole.y), dxfattribs={"layer": CENTRES})
        for kind in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(kind)  # in an order of ours: it has them as a set
        out = io.StringIO()
        doc.write(out)
    finally:
        options.write_fixed_meta_data_for_testing = stamped
    return out.getvalue().encode("utf-8")


def _as_dxf(text: str) -> str:
    """A text in which %% and ^ mean nothing but themselves."""
    return text.replace("%%", "%%%%%%").replace("^", "^ ")

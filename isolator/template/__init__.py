"""The drill template at 1:1, seen from above: holes, outline, centre of gravity, datum, scale bar.

As PDF for paper, as SVG, and as DXF for a router.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from isolator.files import one_line, write_all
from isolator.template.dxf import template_dxf
from isolator.template.holes import STEM, DrillTemplate, Hole, drill_template, drill_templates
from isolator.template.pdf import template_pdf
from isolator.template.svg import template_svg
from isolator.units import InputError

__all__ = [
    "DrillTemplate",
    "Hole",
    "drill_template",
    "drill_templates",
    "template_data",
    "template_dxf",
    "template_files",
    "template_pdf",
    "template_svg",
    "write_template",
]


FORMATS = ("pdf", "svg", "dxf")


def write_template(
    template: DrillTemplate,
    folder: str | Path,
    *,
    stem: str = STEM,
    formats: Sequence[str] = FORMATS,
    paper: str = "a4",
    units: str = "mm",
    replace: bool = False,
) -> list[Path]:
    """Write a template into a folder, every file whole or none.

    Parameters
    ----------
    template : DrillTemplate
    folder : str or Path
        Made if it is missing.
    stem : str
        Name of the files without their endings.
    formats : sequence of "pdf", "svg", "dxf"
    paper : "a4", "letter" or "one sheet"
        Of the PDF, see `template_pdf`.
    units : "mm" or "in"
        Of the DXF.
    replace : bool
        Whether files that are there give way.

    Returns
    -------
    list of Path

    Raises
    ------
    InputError
        A file is there already, or the folder cannot be written to; no such format, paper or unit.
    """
    if not formats or set(formats) - set(FORMATS):
        raise InputError(f"formats = {list(formats)!r}: write some of {', '.join(FORMATS)}")
    folder = Path(folder)
    files = template_files({stem: template}, formats=formats, paper=paper, units=units)
    made = {folder / name: content for name, content in files.items()}
    cannot = f"folder = {str(folder)!r}: no template can be written"
    with one_line(cannot, "name a folder where you may write, on a disk that has room"):
        write_all(made, replace=replace)
    return list(made)


def template_files(
    templates: Mapping[str, DrillTemplate],
    *,
    formats: Sequence[str] = FORMATS,
    paper: str = "a4",
    units: str = "mm",
) -> dict[str, bytes]:
    """Name and content of the files of some templates; see `write_template`.

    Parameters
    ----------
    templates : mapping of the name without ending to DrillTemplate
    formats, paper, units
    """
    make: dict[str, Callable[[DrillTemplate], bytes]] = {
        "pdf": lambda template: template_pdf(template, paper=paper),
        "svg": template_svg,
        "dxf": lambda template: template_dxf(template, units=units),
    }
    return {
        f"{stem}.{kind}": make[kind](template)
        for stem, template in templates.items()
        for kind in formats
    }


def template_data(templates: Mapping[str, DrillTemplate]) -> dict[str, Any]:
    """What some templates say, for a program.

    Parameters
    ----------
    templates : mapping of the name without ending to DrillTemplate

    Examples
    --------
    >>> import isolator
    >>> from isolator.sources import data_file
    >>> made = drill_templates(isolator.read_brief(str(data_file("starter/case.toml"))))
    >>> template_data(made)["drill-template"]["holes"][0]["x_mm"]
    -160.0
    """
    return {
        stem: {
            "name": template.name,
            "datum": template.datum,
            "placing": list(template.placing),
            "outline_mm": [template.length, template.width],
            "centre_of_gravity_mm": None if template.centre is None else list(template.centre),
            "holes": [
                {
                    "number": hole.number,
                    "mount": hole.mount,
                    "x_mm": hole.x,
                    "y_mm": hole.y,
                    "z_mm": hole.z,
                    "diameter_mm": hole.diameter,
                    "axis": hole.axis,
                }
                for hole in template.holes
            ],
            "notes": list(template.notes),
        }
        for stem, template in templates.items()
    }

"""The drill template, measured: what a PDF, an SVG and a DXF say when they are read back."""

import io
import itertools
import math
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pdfplumber
import pytest

from isolator.brief import read_brief
from isolator.template import (
    DrillTemplate,
    Hole,
    drill_template,
    template_dxf,
    template_pdf,
    template_svg,
)
from isolator.template.drawing import LAYERS, MARGIN
from isolator.template.letters import fitted
from isolator.template.pdf import FOOT, ONE_SHEET, OVERLAP, PAPERS
from isolator.units import InputError

DATA = Path(__file__).parents[2] / "data"
MM = 25.4 / 72
"""A unit of a PDF. [mm]"""
SVG = "{http://www.w3.org/2000/svg}"


def template(holes, length=160.0, width=120.0, **more):
    made = [
        Hole(number=n, mount="ring", x=x, y=y, z=0.0, diameter=d, axis="z", missing="")
        for n, (x, y, d) in enumerate(holes, start=1)
    ]
    fields = {
        "name": "it",
        "centre": (12.0, -7.5),
        "datum": "the middle",
        "placing": (),
        "notes": (),
    }
    return DrillTemplate(holes=made, length=length, width=width, **fields | more)


SMALL = template([(-61.3, -42.7, 9.5), (61.3, -42.7, 12.0), (-61.3, 42.7, 12.0), (40.0, 42.7, 6.4)])


def pages(pdf):
    """Of each page: its size, circles (x, y, d) and lines (x0, y0, x1, y1), in mm from below."""
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        for page in read.pages:
            circles = [
                (
                    (c["x0"] + c["x1"]) / 2 * MM,
                    (c["y0"] + c["y1"]) / 2 * MM,
                    (c["x1"] - c["x0"]) * MM,
                )
                for c in page.curves
                if abs(c["width"] - c["height"]) < 0.1  # the outline is no circle
            ]
            lines = [tuple(MM * line[k] for k in ("x0", "y0", "x1", "y1")) for line in page.lines]
            yield (page.width * MM, page.height * MM), circles, lines, page.extract_text()


def apart(a, b):
    return math.hypot(a[0] - b[0], a[1] - b[1])


def long_lines(lines, length):
    """Level lines of a length."""
    return [s for s in lines if abs(s[2] - s[0] - length) < 0.05 and abs(s[3] - s[1]) < 0.01]


@pytest.mark.parametrize("paper", [*PAPERS, ONE_SHEET])
def test_the_pdf_measures_right(paper):
    first, *rest = pages(template_pdf(SMALL, paper=paper))
    size, circles, lines, words = first
    if paper in PAPERS:
        assert sorted(size) == pytest.approx(sorted(PAPERS[paper]), abs=0.01)
    found = sorted(circles, key=lambda c: c[2])
    assert [c[2] for c in found] == pytest.approx([6.0, 6.4, 9.5, 12.0, 12.0], abs=0.05)
    by = {round(c[2], 1): c for c in found}
    # between centres as a ruler has them
    assert apart(by[9.5], by[6.4]) == pytest.approx(math.hypot(101.3, 85.4), abs=0.05)
    twelve = [c for c in found if abs(c[2] - 12) < 0.05]
    assert apart(*twelve) == pytest.approx(2 * math.hypot(61.3, 42.7), abs=0.05)
    # centre of gravity from the hole at the lower left
    assert by[6.0][0] - by[9.5][0] == pytest.approx(12.0 + 61.3, abs=0.05)
    assert by[6.0][1] - by[9.5][1] == pytest.approx(-7.5 + 42.7, abs=0.05)
    for length in (100.0, 101.6):
        assert len(long_lines(lines, length)) == 1
    assert "100 mm" in words
    assert "4 in" in words
    assert "Print at 100 %" in words
    assert all(long_lines(page[2], 100.0) for page in rest)


def test_the_outline_measures_right():
    pdf = template_pdf(SMALL)
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        boxes = [
            ((r["x1"] - r["x0"]) * MM, (r["y1"] - r["y0"]) * MM)
            for r in [*read.pages[0].rects, *read.pages[0].curves]
        ]
    assert any(b == pytest.approx((160.0, 120.0), abs=0.05) for b in boxes)


def crosses(lines, window):
    """Middles of the crosses whose arms are 4 mm, inside of a window."""
    level = [s for s in lines if abs(s[2] - s[0] - 8) < 0.02 and abs(s[1] - s[3]) < 0.01]
    upright = [s for s in lines if abs(s[3] - s[1] - 8) < 0.02 and abs(s[0] - s[2]) < 0.01]
    middles = [((s[0] + s[2]) / 2, s[1]) for s in level]
    return [m for m in middles if any(apart(m, (u[0], (u[1] + u[3]) / 2)) < 0.02 for u in upright)]


def test_sheets_that_are_laid_over_each_other_measure_right():
    holes = [(-190.0, -130.0, 11.0), (190.0, -130.0, 12.0), (-190.0, 130.0, 13.0), (5, 3, 14.0)]
    large = template(holes, 420.0, 300.0, centre=None)
    *sheets, _ = pages(template_pdf(large))
    (wide, tall), count = sheets[0][0], len(sheets)
    assert count == 4
    step = np.array([wide - 2 * MARGIN - OVERLAP, tall - 2 * MARGIN - FOOT - OVERLAP])
    where = {}
    for n, (_, circles, lines, words) in enumerate(sheets):
        assert f"sheet {n + 1} of 4" in words
        row, column = divmod(n, 2)
        corner = np.array([MARGIN + OVERLAP / 2, MARGIN + FOOT + OVERLAP / 2])
        marks = crosses(lines, None)
        for i, j in itertools.product((0, 1), repeat=2):
            expected = corner + step * [i, j]
            assert min(apart(m, expected) for m in marks) < 0.05
        # the cross at the lower left of this sheet, on the floor that all are laid on
        origin = step * [column, 1 - row]
        for x, y, d in circles:
            at = np.array([x, y]) - corner + origin
            where.setdefault(round(d), []).append(at)
    assert set(where) == {11, 12, 13, 14}
    for places in where.values():
        assert np.ptp(places, axis=0).max() < 0.05
    x, y = where[12][0] - where[11][0]
    assert (x, y) == (pytest.approx(380.0, abs=0.05), pytest.approx(0.0, abs=0.05))
    x, y = where[14][0] - where[13][0]
    assert (x, y) == (pytest.approx(195.0, abs=0.05), pytest.approx(-127.0, abs=0.05))


@pytest.mark.parametrize(
    ("case", "paper"), [("ice-radar", "a4"), ("planetarium", "a4"), ("planetarium", "letter")]
)
def test_words_lie_on_nothing(case, paper):
    pdf = template_pdf(drill_template(read_brief(DATA / case / "case.toml").design), paper=paper)
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        for page in read.pages[:-1]:  # the last is the list
            edge, foot = MARGIN / MM, (MARGIN + FOOT) / MM
            shown = page.crop((edge, edge, page.width - edge, page.height - foot))
            words = shown.extract_words(keep_blank_chars=True)
            assert words
            boxes = [[(w["x0"], w["x1"]), (w["top"], w["bottom"])] for w in words]
            lines = [[(s["x0"], s["x1"]), (s["top"], s["bottom"])] for s in shown.lines]
            for n, box in enumerate(boxes):
                for other in boxes[:n] + lines:
                    assert not all(
                        a[0] + 0.5 < b[1] and b[0] + 0.5 < a[1]
                        for a, b in zip(box, other, strict=True)
                    ), words[n]["text"]


@pytest.mark.parametrize(("units", "scale"), [("mm", 1.0), ("in", 25.4)])
def test_the_dxf_measures_right(units, scale):
    doc = ezdxf.read(io.StringIO(template_dxf(SMALL, units=units).decode()))
    space = doc.modelspace()
    assert doc.units == {"mm": ezdxf.units.MM, "in": ezdxf.units.IN}[units]
    assert {layer.dxf.name for layer in doc.layers} >= set(LAYERS)
    found = [
        (scale * c.dxf.center.x, scale * c.dxf.center.y, 2 * scale * c.dxf.radius)
        for c in space.query("CIRCLE[layer=='holes']")
    ]
    wanted = [(h.x, h.y, h.diameter) for h in SMALL.holes]
    np.testing.assert_allclose(sorted(found), sorted(wanted), atol=1e-9)
    # nothing but circles would be cut with the holes
    assert {e.dxftype() for e in space.query("*[layer=='holes']")} == {"CIRCLE"}
    (box,) = space.query("LWPOLYLINE[layer=='outline']")
    assert box.closed
    ends = scale * np.ptp(np.array([p[:2] for p in box.get_points()]), axis=0)
    np.testing.assert_allclose(ends, [160.0, 120.0])
    bars = [
        scale * np.ptp([p[0] for p in line.get_points()])
        for line in space.query("LWPOLYLINE[layer=='scale bar']")
    ]
    assert sorted(bars)[-2:] == pytest.approx([100.0, 101.6])
    (ring,) = space.query("CIRCLE[layer=='centre of gravity']")
    assert (scale * ring.dxf.center.x, scale * ring.dxf.center.y) == pytest.approx((12.0, -7.5))
    assert not doc.audit().has_errors


def test_the_svg_measures_right():
    root = ET.fromstring(template_svg(SMALL))
    wide, tall = (float(root.get(k).removesuffix("mm")) for k in ("width", "height"))
    assert [float(v) for v in root.get("viewBox").split()[2:]] == [wide, tall]
    holes = root.find(f"{SVG}g[@id='holes']")
    found = [tuple(float(c.get(k)) for k in ("cx", "cy", "r")) for c in holes]
    wanted = [(h.x, -h.y, h.diameter / 2) for h in SMALL.holes]
    np.testing.assert_allclose(sorted(found), sorted(wanted), atol=1e-6)
    lines = root.findall(f"{SVG}g[@id='scale-bar']/{SVG}polyline")
    ends = [[float(v) for v in re.split("[ ,]", line.get("points"))] for line in lines]
    assert sorted(e[2] - e[0] for e in ends)[-2:] == pytest.approx([100.0, 101.6])


def test_what_is_not_known_is_not_drilled():
    unknown = replace(SMALL.holes[0], diameter=None, missing="mount.ring.hole")
    one = replace(SMALL, holes=[unknown, *SMALL.holes[1:]])
    doc = ezdxf.read(io.StringIO(template_dxf(one).decode()))
    assert len(doc.modelspace().query("CIRCLE[layer=='holes']")) == 3
    assert len(doc.modelspace().query("POINT[layer=='hole centres']")) == 4
    _, circles, lines, words = next(pages(template_pdf(one)))
    assert len(circles) == 4
    assert len(crosses(lines, None)) == 4
    assert "1: hole: not known" in words


def test_a_mount_on_its_side_is_not_drilled_from_above():
    brief = read_brief(DATA / "starter" / "case.toml").changed("mount.ring.hole", "12 mm")
    (first, *_) = drill_template(brief.design).holes
    assert (first.words, first.axis) == ("ø 12 mm", "z")
    aside = drill_template(brief.changed("mounts.push", "x").design)
    assert {hole.words for hole in aside.holes} == {"not from above: its axis lies along x"}
    leaning = drill_template(brief.changed("mounts.push", [1, 0, -1]).design)
    assert {hole.words for hole in leaning.holes} == {"not from above: its axis leans"}
    for one in (aside, leaning):
        doc = ezdxf.read(io.StringIO(template_dxf(one).decode()))
        assert not doc.modelspace().query("CIRCLE[layer=='holes']")


def test_two_mounts_over_each_other_are_one_hole():
    twice = template([(10.0, 20.0, 8.0), (10.0, 20.0, 8.0)])
    doc = ezdxf.read(io.StringIO(template_dxf(twice).decode()))
    assert len(doc.modelspace().query("CIRCLE[layer=='holes']")) == 1
    assert "1, 2: ø 8 mm" in next(pages(template_pdf(twice)))[3]


def test_notes_tell_what_to_look_at_before_drilling():
    brief = read_brief(DATA / "starter" / "case.toml")
    changed = brief.changed("mount.ring.hole", "90 mm").changed("payload.centre", ["0 mm"] * 3)
    notes = drill_template(changed.design).notes
    assert "hole 1 reaches beyond the payload's outline" in notes
    close = changed.changed("mounts.inset", ["170 mm", "120 mm"])
    assert "holes 1 and 2 run into each other" in drill_template(close.design).notes
    text = dict(brief.text)
    text["payload"] = {k: v for k, v in text["payload"].items() if k != "centre"}
    none = drill_template(replace(brief, text=text).changed("note", "").design)
    assert none.centre is None
    assert "centre of gravity: not known (payload.centre)" in none.notes


NAMES = [
    "<script>alert('x')</script>",
    "quotes \" and ' and & and ]]>",
    "Größe, œuvre, ångström",
    "مرحبا بالعالم",
    "$\\frac{1}{2}$ %%c ^I {\\fArial;x}",
    "a\nb\x00c\u202ed",
    "very long " * 40,
]


@pytest.mark.parametrize("name", NAMES)
def test_names_are_text(name):
    holes = [replace(hole, mount=name) for hole in SMALL.holes]
    odd = replace(SMALL, name=name, holes=holes)
    shown = "".join(fitted(name, math.inf).split())
    root = ET.fromstring(template_svg(odd))
    assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {
        "svg", "title", "g", "circle", "polygon", "polyline", "text",
    }  # fmt: skip
    start = shown[:4]  # lines break between words
    texts = [e.text for e in root.iter(f"{SVG}text")]
    doc = ezdxf.read(io.StringIO(template_dxf(odd).decode()))
    said = [text.plain_text() for text in doc.modelspace().query("TEXT")]
    for one in (texts, said):  # the case and four mounts, whole
        assert "".join("".join(one).split()).count(start) == 5 * shown.count(start)
        assert not any("…" in text for text in one)
    assert template_pdf(odd).startswith(b"%PDF")


def test_only_what_does_not_fit_is_shortened():
    assert fitted("soft ring", 30.0) == "soft ring"
    long = fitted("x" * 300, 30.0)
    assert long.endswith("…")
    assert set(long[:-1]) == {"x"}
    assert fitted("x" * len(long), 30.0) != long  # one letter more would not have fitted


def test_no_cross_of_two_sheets_runs_into_words():
    """The middle of the left end is where sheets of this size meet."""
    large = template([(-180, -130, None), (180, 130, None)], 420.0, 300.0, centre=(18.0, 18.0))
    with pdfplumber.open(io.BytesIO(template_pdf(large))) as read:
        assert len(read.pages) > 2
        for page in read.pages[:-1]:
            arms = [line for line in page.lines if line["width"] < 25 and line["height"] < 25]
            assert arms
            for word in page.extract_words():
                for arm in arms:
                    apart = (
                        arm["x1"] < word["x0"]
                        or arm["x0"] > word["x1"]
                        or arm["bottom"] < word["top"]
                        or arm["top"] > word["bottom"]
                    )
                    assert apart, word["text"]


def test_every_mark_is_whole_on_one_sheet():
    """The datum of this one would lie where two sheets meet if they began in the middle."""
    large = template([(-190, -130, 9.0), (190, 130, 9.0)], 460.0, 340.0, centre=(6.0, 8.0))
    sheets = list(pages(template_pdf(large)))[:-1]
    assert len(sheets) > 2
    for long in (16.0, 10.0 * math.sqrt(2)):  # arms of the datum, of the centre of gravity
        whole = [
            [abs(apart(line[:2], line[2:]) - long) < 0.01 for line in lines].count(True)
            for _, _, lines, _ in sheets
        ]
        assert max(whole) >= 2


def test_equal_designs_give_equal_bytes():
    for write in (template_pdf, template_svg, template_dxf):
        assert write(SMALL) == write(SMALL)


@pytest.mark.heavy
def test_equal_designs_give_equal_bytes_in_every_process():
    """Sets of texts have another order in each; seeds 1 and 4 once gave two files."""
    code = (
        "import hashlib; from isolator.brief import read_brief; from isolator.template import *; "
        f"made = drill_template(read_brief({str(DATA / 'starter' / 'case.toml')!r}).design); "
        "print([hashlib.sha256(f(made)).hexdigest() for f in (template_dxf, template_pdf)])"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        )
        for seed in ("1", "4")
    ]
    assert runs[0].stdout == runs[1].stdout


def test_names_stay_on_their_page():
    many = template([(5.0 * n, 3.0 * n, 4.0) for n in range(-20, 21)], centre=None)
    many = replace(many, notes=["a note with many words " * 20, "y" * 500])
    for (wide, tall), _, _, _ in pages(pdf := template_pdf(many)):
        assert (round(wide), round(tall)) in {(210, 297), (297, 210)}
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        for page in read.pages:
            for letter in page.chars:
                assert letter["x0"] * MM > MARGIN - 1
                assert letter["x1"] * MM < page.width * MM - MARGIN + 1


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: template_pdf(SMALL, paper="A3"), "paper = 'A3': write one of a4, letter, one s"),
        (lambda: template_dxf(SMALL, units="cm"), "units = 'cm': write one of mm, in"),
        (lambda: template_pdf(template([], 4000.0, 4000.0)), "sheets, more than 60; write paper"),
        (
            lambda: template_pdf(template([], 9000.0, 40.0), paper=ONE_SHEET),
            "larger than a PDF holds, 5080 mm; write the SVG or the DXF",
        ),
    ],
)
def test_what_cannot_be_gets_one_line(call, words):
    with pytest.raises(InputError) as caught:
        call()
    assert len(caught.value.lines) == 1
    assert words in str(caught.value)

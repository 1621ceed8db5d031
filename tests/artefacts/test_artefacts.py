"""What is kept of each demo case is what the case makes today."""

import json
import math
import re
import runpy
from html.parser import HTMLParser
from pathlib import Path

import ezdxf
import pytest
from pypdf import PdfReader

from isolator.buildsheet import build_sheet
from isolator.cautions import cautions
from isolator.report.build import sheet_page
from isolator.report.paper import CAUTION
from isolator.report.pdf import sheet_pdf

HERE = Path(__file__).parent
MAKE = runpy.run_path(str(HERE / "artefacts.py"))
AGAIN = "; look at what changed, then run python tests/artefacts/artefacts.py"


class Tags(HTMLParser):
    """Tags and words of a page; of pictures the words alone."""

    def __init__(self):
        super().__init__()
        self.seen, self.reaches, self.drawing = [], [], 0

    def handle_starttag(self, tag, attrs):
        self.drawing += tag == "svg"
        if not self.drawing:
            self.seen.append((tag, attrs))
        for name, value in attrs:
            outside = name.rpartition(":")[2] in ("src", "href", "srcset", "data", "action")
            if (outside and not (value or "").startswith("#")) or name.startswith("on"):
                self.reaches.append((tag, name, value))

    def handle_endtag(self, tag):
        if not self.drawing:
            self.seen.append(tag)
        self.drawing -= tag == "svg"

    def handle_data(self, data):
        if data.strip():
            self.seen.append(" ".join(data.split()))


def parsed(path):
    page = Tags()
    page.feed(path.read_text(encoding="utf-8"))
    return page


def words(text):
    """Text without what breaks lines and without signs that have no width."""
    return re.sub(r"[\s\u200b\u200e\u00ad]+", "", text)


def printed(path):
    """The words of each page of a PDF."""
    return [words(page.extract_text()) for page in PdfReader(path).pages]


def drawn(path):
    """Kind, layer and words of all in a DXF."""
    return [
        (e.dxftype(), e.dxf.layer, e.plain_text() if e.dxftype() == "TEXT" else "")
        for e in ezdxf.readfile(path).modelspace()
    ]


def differences(one, other, at=""):
    """Where two values of JSON differ; numbers may by 1e-9 of themselves.

    One that is left of two nearly equal ones, as a margin is, may by 1e-9 as it stands: another
    processor's sums moved one of 9e-4 by 3e-11.
    """
    if isinstance(one, dict) and isinstance(other, dict) and [*one] == [*other]:
        for key in one:
            yield from differences(one[key], other[key], f"{at}.{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for n, pair in enumerate(zip(one, other, strict=True)):
            yield from differences(*pair, f"{at}[{n}]")
    elif type(one) is float and type(other) is float:
        if not math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9):
            yield f"{at}: {one!r}, now {other!r}"
    elif one != other:
        yield f"{at}: {one!r:.80}, now {other!r:.80}"


FIRST, *OTHERS = MAKE["CASES"]


@pytest.fixture(
    scope="module", params=[FIRST, *(pytest.param(one, marks=pytest.mark.heavy) for one in OTHERS)]
)
def made(request, tmp_path_factory):
    """What is kept, what the case makes today, and its verdict."""
    folder = tmp_path_factory.mktemp(request.param)
    return HERE / request.param, folder, MAKE["write"](request.param, folder)


def test_the_same_files_are_made(made):
    kept, now, _ = made
    assert sorted(p.name for p in kept.iterdir()) == sorted(p.name for p in now.iterdir())


def test_numbers_and_texts_are_the_same(made):
    kept, now, _ = made
    for name in ("report.json", "build-sheet.json"):
        one, other = (json.loads((f / name).read_text(encoding="utf-8")) for f in (kept, now))
        for data in (one, other):
            assert data.pop("mark")  # hashes of the bytes
        assert list(differences(one, other)) == [], name + AGAIN


def test_pages_have_the_same_tags_and_words(made):
    kept, now, _ = made
    for name in ("report.html", "build-sheet.html"):
        assert parsed(kept / name).seen == parsed(now / name).seen, name + AGAIN
    svg = "drill-template.svg"  # written by us to the last digit
    assert (kept / svg).read_bytes() == (now / svg).read_bytes(), svg + AGAIN


def test_paper_and_drawings_have_the_same_words(made):
    """Not the same bytes: another processor or version rounds the points of a curve otherwise."""
    kept, now, _ = made
    read = {".pdf": printed, ".dxf": drawn}
    for path in sorted(kept.iterdir()):
        if path.suffix in read:
            same = read[path.suffix]
            assert same(path) == same(now / path.name), path.name + AGAIN


def test_every_check_is_on_the_screen_and_on_paper(made):
    kept, _, case = made
    page = parsed(kept / "report.html")
    screen = words("".join(part for part in page.seen if isinstance(part, str)))
    paper = "".join(printed(kept / "report.pdf"))
    assert len(case.checks) > 20
    for check in case.checks:
        assert words(check.id) in screen
        assert words(check.id) in paper
    assert page.reaches == []


def said(sheet):
    """Every text that the sheet of a body has."""
    for kind in sheet.kinds:
        yield from (entry.text for entry in kind.fit.values())
        yield from (kind.sleeve_way, kind.tightened, kind.lock, kind.counter_hold, kind.captive)
        yield from kind.steps
    yield from (*sheet.order, *sheet.protocol, sheet.strap, sheet.recheck)
    yield from (text for loop in sheet.loops for text in (loop.name, loop.slack.text))
    yield from (one.text for one in (*sheet.sag, *sheet.push))
    yield from (one.number for one in (*sheet.tap, *sheet.truck))
    yield from (one.text for one in (*sheet.contact, *sheet.dummy))
    yield from (one.what for one in (*sheet.sag, *sheet.push, *sheet.tap, *sheet.contact))


def test_the_build_sheet_fits_one_page_with_all_that_it_says(made, tmp_path):
    kept, _, case = made
    letter = tmp_path / "letter.pdf"
    letter.write_bytes(sheet_pdf(sheet_page(case), "letter"))
    for path in (kept / "build-sheet.pdf", letter):
        (page,) = printed(path)
        assert [text for text in said(build_sheet(case)) if words(text) not in page] == []
        assert words(CAUTION) in page
        for one in cautions(case):
            assert words(one.name) in page


def test_a_number_that_moved_is_seen():
    one = {"a": [1.0, "x"], "b": None}
    assert list(differences(one, {"a": [1.0 + 1e-12, "x"], "b": None})) == []
    assert list(differences(one, {"a": [1.0 + 1e-8, "x"], "b": None})) == [
        ".a[0]: 1.0, now 1.00000001"
    ]
    assert list(differences(one, {"a": [1.0, "y"], "b": None})) == [".a[1]: 'x', now 'y'"]
    assert list(differences(one, {"a": [1.0], "b": None})) != []

"""The report: all that was asked is in it, as text, the same bytes each time, self-contained."""

import copy
import dataclasses
import hashlib
import json
import re
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pdfplumber
import pytest
from pypdf import PdfReader

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.report.document import NOT_RECORDED, Section, document
from isolator.report.files import save_report
from isolator.report.html import html
from isolator.report.paper import Grid, Listing, bullets
from isolator.report.paper import page as printed
from isolator.report.pdf import _soft, pdf
from isolator.report.pictures import Picture
from isolator.report.words import basis_sentence, not_checked, verdict_sentence

DATA = Path(__file__).parents[2] / "data"
STARTER = DATA / "starter" / "case.toml"
NASTY = "\"><script>alert(1)</script> & 'x' #panic() $\\frac$ *é* שלום مرحبا _" + "W" * 70
LEG = "رحلة $a$ <img src=x onerror=1> #eval(1) " + "v" * 35
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 20">'
    '<text x="2" y="9" font-family="DejaVu Sans" font-size="5">{}</text></svg>'
)
LETTERS = 5 * 72 / 25.4
"""Their size where it is 60 mm wide. [pt]"""
ODD = 'ring <b>"שלום"</b> $x'


class Reader(HTMLParser):
    """The text of a page, its elements, and the attributes that could load or run something."""

    def __init__(self):
        super().__init__()
        self.text, self.tags, self.reaches = [], set(), []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        for name, value in attrs:
            outside = name.rpartition(":")[2] in ("src", "href", "srcset", "data", "action")
            if (outside and not (value or "").startswith("#")) or name.startswith("on"):
                self.reaches.append((tag, name, value))

    def handle_data(self, data):
        self.text.append(data)


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    return reader


def words(text: str) -> str:
    """Text without what breaks lines, in which a long word may be broken anywhere."""
    return re.sub(r"[\s\u200b\u200e\u00ad]+", "", text)


def pages(made: bytes) -> str:
    return words("".join(page.extract_text() for page in PdfReader(BytesIO(made)).pages))


@pytest.fixture(scope="module")
def case():
    """With fan, hoses, obstacle and a part that rings; all demo cases are in tests/artefacts."""
    return assess(DATA / "water-lab" / "case.toml")


@pytest.fixture(scope="module")
def report(case):
    return document(case)


@pytest.fixture(scope="module")
def starter():
    return assess(STARTER)


def test_every_check_is_in_both(case, report):
    screen = words("".join(read(html(report)).text))
    paper = pages(pdf(report))
    assert len(case.checks) > 20
    for check in case.checks:
        assert words(check.id) in screen
        assert words(check.id) in paper
        assert words(check.reason) in screen


def test_the_first_page_has_what_the_command_opens_with(case, report):
    first = words(PdfReader(BytesIO(pdf(report))).pages[0].extract_text())
    assert words(verdict_sentence(case)) in first
    order = [block.title for block in report.opening]
    assert order[0] == "Three worst checks, of different kinds before alike"
    assert order[-1] == "Not checked"
    places = [first.index(words(title)) for title in order]
    assert places == sorted(places)
    assert 3 <= len(report.numbers) <= 6
    for number in report.numbers:
        assert words(number.value) in first
    assert isinstance(report.sketch, Picture)
    assert all(words(line) in first for line in not_checked(case))


def test_the_page_loads_and_runs_nothing(report):
    page = html(report)
    seen = read(page)
    assert seen.reaches == []
    assert not seen.tags & {"script", "link", "iframe", "img", "image", "object", "embed", "form"}
    assert "@import" not in page
    assert set(re.findall(r"url\((.)", page)) <= {"#"}
    assert "default-src 'none'" in page


def test_marks_of_pictures_have_one_place_each(report):
    page = html(report)
    ids = re.findall(r'\bid="([^"]*)"', page)
    assert len(ids) == len(set(ids)) > 10
    used = re.findall(r'(?:url\(|href=")#([^)"]+)', page)
    assert set(used) <= set(ids)


def test_pictures_are_vectors_of_their_size(report):
    found = [block for section in report.sections for block in section.blocks]
    drawn = [block for block in [report.sketch, *found] if isinstance(block, Picture)]
    assert len(drawn) >= 9
    for one in drawn:
        width, height = (
            float(re.search(rf'{side}="([0-9.]+)pt"', one.svg)[1]) for side in ("width", "height")
        )
        assert (width / 72 * 25.4, height / 72 * 25.4) == pytest.approx((one.width, one.height))
        assert "<image" not in one.svg
    assert not any("Not drawn" in block.title for block in found if not isinstance(block, Picture))


def test_equal_input_gives_equal_bytes(starter, tmp_path):
    for name in ("a", "b"):
        save_report(starter if name == "a" else assess(STARTER), tmp_path / name)
    made = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert made == ["report.html", "report.json", "report.pdf"]
    for name in made:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_the_json_has_all_inputs_and_outputs(starter, tmp_path):
    save_report(starter, tmp_path)
    data = json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))
    assert data["inputs"]["brief"]["payload"]["mass"] == "8 kg"
    assert [check["id"] for check in data["outputs"]["checks"]] == [c.id for c in starter.checks]
    kept = {"brief": data["inputs"]["brief"], "files": data["inputs"]["files"]}
    text = json.dumps(kept, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    assert data["input"] == f"SHA-256 {hashlib.sha256(text.encode()).hexdigest()}"
    assert len(data["falls"]["heights_m"]) == 10


def test_the_hash_is_of_the_brief_and_its_tables(starter, tmp_path):
    folder = DATA / "ice-radar"
    for path in folder.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())

    def now():
        return read_brief(tmp_path / "case.toml").fingerprint()

    first = now()
    text = (tmp_path / "case.toml").read_text(encoding="utf-8")
    (tmp_path / "case.toml").write_text("# a comment\n" + text, encoding="utf-8")
    assert now() == first
    table = (tmp_path / "parts.csv").read_text(encoding="utf-8")
    (tmp_path / "parts.csv").write_text(table + "\n", encoding="utf-8")
    second = now()
    (tmp_path / "case.toml").write_text(text.replace('"40 g0"', '"41 g0"'), encoding="utf-8")
    assert len({first, second, now()}) == 3


@pytest.mark.heavy
def test_the_date_is_that_of_the_brief(starter):
    dated = assess(starter.brief.changed("date", "2026-03-01"))
    assert dict(document(dated).facts)["date"] == "2026-03-01"
    assert dict(document(starter).facts)["date"] == NOT_RECORDED


def record(assessment):
    """Leg and axis → the cells of what a vibration report must have."""
    blocks = [b for s in document(assessment).sections for b in s.blocks if isinstance(b, Grid)]
    grid = next(b for b in blocks if b.title == "Location and axis, level, duration, technique")
    return [dict(zip(grid.head, row, strict=True)) for row in grid.rows]


@pytest.mark.heavy
def test_what_a_vibration_report_must_have_is_there_or_not_recorded(starter):
    rows = record(starter)
    assert [row["level"] for row in rows] == ["0.542 g rms", "0.404 g rms", "0.404 g rms", "0.2 m"]
    assert {row["duration"] for row in rows[:3]} == {"3 h"}
    assert "z (vertical" in rows[0]["location and axis"]
    text = copy.deepcopy(dict(starter.brief.text))
    for key in ("duration", "temperature", "road"):
        del text["leg"][0][key]
    bare = record(assess(starter.brief.changed("leg", text["leg"])))
    for row in bare[:3]:
        lacking = [row[key] for key in ("level", "spectrum or shape", "duration", "°C")]
        assert lacking == [NOT_RECORDED] * 4


def test_every_load_of_a_leg_has_its_row(starter):
    """A tone, a pulse, steps and a fall from a height that nobody gave, beside no road."""
    leg = {
        "name": "by cart",
        "duration": "20 min",
        "temperature": "10 °C",
        "walk": {"step_rate": "1.9 Hz", "swing": "20 deg"},
        "sine": {
            "from": "5 Hz",
            "to": "90 Hz",
            "level": "0.1 g0",
            "dwell": {"at": "resonance", "level": "0.05 g0", "duration": "1 min"},
        },
        "pulse": {"shape": "half-sine", "peak": "20 g0", "duration": "11 ms"},
    }
    rows = record(assess(starter.brief.changed("leg", [leg])))
    told = {row["location and axis"]: row for row in rows}
    ways = "vertical, transverse, longitudinal"
    sine = told[f"the case's floor, {ways}, one after the other"]
    assert sine["level"] == "0.1 g peak; 0.05 g peak"
    assert sine["spectrum or shape"] == "sweep, 5 Hz to 90 Hz; dwell at every resonance"
    pulse = told[f"the case, {ways}, both ways"]
    assert [pulse[key] for key in ("level", "spectrum or shape", "duration")] == [
        "20 g", "half-sine", "11 ms"
    ]  # fmt: skip
    assert told["the case, carried on foot"]["level"] == "steps at 1.9 Hz"
    assert told["the case, carried on foot"]["duration"] == "20 min"


@pytest.fixture(scope="module")
def nasty(starter):
    mounts = {ODD: starter.brief.text["mount"]["ring"]}
    brief = starter.brief.changed("name", NASTY).changed("mount", mounts)
    return document(assess(brief.changed("leg[1].name", LEG)))


def test_names_are_text_in_html(nasty):
    page = html(nasty)
    seen = read(page)
    assert "script" not in seen.tags
    assert "img" not in seen.tags
    assert seen.reaches == []
    text = words("".join(seen.text))
    for name in (NASTY, LEG, ODD):
        assert words(name) in text


def test_names_are_text_in_pdf(nasty):
    found = pages(pdf(nasty))
    assert words("\"><script>alert(1)</script> & 'x' #panic() $\\frac$ *é*") in found
    assert "W" * 70 in found
    assert words("$a$ <img src=x onerror=1> #eval(1) ") + "v" * 35 in found


def test_a_sign_that_no_font_has_takes_no_other_with_it(nasty):
    """A picture's line with an emoji in it is set in the font of the others, not in boxes."""
    odd = dataclasses.replace(nasty, sketch=Picture("x", SVG.format("a tray 💧 b"), 60, 20))
    with pdfplumber.open(BytesIO(pdf(odd))) as read:
        line = [one for one in read.pages[0].chars if one["size"] == pytest.approx(LETTERS)]
    text = "".join(one["text"] for one in line if one["text"] != "(cid:0)")
    assert re.sub(r"\W", "", text) == "atrayb"
    assert {one["fontname"].partition("+")[2] for one in line} == {"DejaVuSans"}


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_sketch_shrinks_to_what_the_first_page_has_left(report, paper):
    """As many lines as a case with much unchecked has: the caution is still on that page."""
    much = dataclasses.replace(
        report, opening=[Listing("Not checked", ["not known"] * 28)], sections=[]
    )
    first, *_ = PdfReader(BytesIO(pdf(much, paper))).pages
    text = words(first.extract_text())
    assert words(report.caution) in text
    for number in report.numbers:
        assert words(number.value) in text


@pytest.mark.parametrize("rows", [74, 75])
def test_no_row_of_a_long_table_stands_alone_on_a_page(report, rows):
    """Whatever is left on a page: three rows at the least go on to the next one."""
    lines = [[f"row {n:02d}", "x"] for n in range(rows)]
    long = dataclasses.replace(
        report, opening=[], sections=[Section("Long", [Grid("All", ["key", "value"], lines)])]
    )
    _, *more = PdfReader(BytesIO(pdf(long))).pages
    on = [page.extract_text().count("row ") for page in more]
    assert sum(on) == rows
    assert len(on) > 1
    assert min(on) >= 3
    assert all("key" in page.extract_text() for page in more)


def test_a_short_table_is_not_broken(report):
    lines = [[f"row {n:02d}", "x"] for n in range(11)]
    tables = [Grid(f"T{n}", ["key", "value"], lines) for n in range(9)]
    short = dataclasses.replace(report, opening=[], sections=[Section("Short", tables)])
    _, *more = PdfReader(BytesIO(pdf(short))).pages
    assert all(page.extract_text().count("row ") % 11 == 0 for page in more)


def test_every_column_of_the_report_has_a_name(report):
    for block in (block for section in report.sections for block in section.blocks):
        if isinstance(block, Grid):
            assert all(block.head), block.title
            bare = [name for name in block.head if re.search(r"\b(mm|g|Hz|ms|m/s)$", name)]
            assert bare == [], block.title


def test_the_first_page_ends_with_what_the_axes_are(report):
    first, second, *_ = PdfReader(BytesIO(pdf(report))).pages
    assert words(report.axes) in words(first.extract_text())
    assert words(second.extract_text()).startswith("Cautions")


def test_what_to_measure_first_is_said_where_nothing_has_a_band(case, starter):
    for one in (case, starter):
        assert not one.leverages
        said = printed(one).replace("\n    ", " ").partition("What to measure first\n  - ")[2]
        assert said.startswith("no band is stated: what the mounts scatter is not known.")
        assert "(grade: curve) as exact" in said.partition("\n")[0]
    banded = starter.brief.changed("mount.ring.scatter", 0.001)
    few = dataclasses.replace(assess(banded), leverages=[])
    said = basis_sentence(few)
    assert said.startswith("no band alone moves the least margin by more than 1%")
    assert "as exact" not in said


def test_a_long_path_breaks_at_its_signs():
    assert _soft("drop travel/courier/edges and corners") == (
        "drop travel/\u200bcourier/\u200bedges and corners"
    )
    assert _soft("mounts.hole_tolerance") == "mounts.\u200bhole_\u200btolerance"


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_paper_is_as_asked(starter, paper, size):
    box = PdfReader(BytesIO(pdf(document(starter), paper))).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


def test_no_key_of_a_brief_is_broken_over_two_lines():
    """It is copied from the page; every place where it could stand on a line is tried."""
    keys = ('frame."lid tray".payload.inertia', "mount.soft-ring-2.along", "leg[1].road.'a b-c'.x")
    for key in keys:
        for before in range(40, 110):
            text = bullets("Open", [f"{'x' * before} y ({key}): and so on, not known (well-known)"])
            assert key in text
            assert max(map(len, text.splitlines())) <= 98 + 40
            assert not {"\u00a0", "\u2011"} & set(text)

"""The build sheet as a page: all of its data is on it, as text, one page, the same bytes."""

import json
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from isolator.assessment import assess
from isolator.brief import read_brief
from isolator.buildsheet import build_sheet
from isolator.cautions import cautions
from isolator.report.build import BOX, sheet_page
from isolator.report.data import as_data
from isolator.report.files import save_sheet
from isolator.report.html import sheet_html
from isolator.report.paper import CAUTION, Grid, Ticks
from isolator.report.pdf import sheet_pdf
from isolator.report.pictures import Picture

DATA = Path(__file__).parents[2] / "data"
NASTY = "\"><script>alert(1)</script> & 'x' #panic() $\\frac$ שלום _" + "W" * 70
STILL = [{"name": "on the shelf", "road": "none", "drop": "none"}]
GROMMET = {
    "kind": "panel grommet", "hardness": "40 Shore A", "compound": "natural",
    "sleeve": "6 mm", "hole": "12 mm", "flange": "18 mm", "flange_thickness": "4 mm",
    "panel": "1.6 mm", "sleeve_length": "8.8 mm", "washer": "16 mm",
}  # fmt: skip
TRAY = {
    "at": ["0 mm", "20 mm", "400 mm"],
    "payload": {"mass": "2 kg", "size": ["200 mm", "150 mm", "40 mm"]},
    "mounts": {"use": "ring", "inset": ["20 mm", "20 mm"], "height": "0 mm"},
}


def words(text):
    """Text without what breaks lines."""
    return "".join(sign for sign in text if not sign.isspace() and sign not in "\u200b\u200e\u00ad")


def paper(made):
    return [words(page.extract_text()) for page in PdfReader(BytesIO(made)).pages]


@pytest.fixture(scope="module")
def starter():
    """The other demo cases are in tests/artefacts."""
    return assess(DATA / "starter" / "case.toml")


@pytest.fixture(scope="module")
def brief():
    """At rest, which is quick to judge."""
    return read_brief(DATA / "starter" / "case.toml").changed("leg", STILL)


@pytest.fixture(scope="module")
def grommet(brief):
    given = brief.changed("mount.ring", GROMMET).changed("date", "2026-05-01")
    return assess(given.changed("payload.mains", True))


@pytest.fixture(scope="module")
def two(brief):
    """Two bodies, and names that could be code."""
    mount = 'ring <b>"$x$'
    given = brief.changed("name", NASTY).changed("mount", {mount: brief.text["mount"]["ring"]})
    tray = TRAY | {"mounts": TRAY["mounts"] | {"use": mount}}
    return assess(given.changed("frame", {"lid tray": tray}))


def said(sheet):
    """Every text that the sheet of a body has."""
    for kind in sheet.kinds:
        yield from (entry.text for entry in kind.fit.values())
        yield from (
            kind.bolt,
            kind.sleeve_way,
            kind.tightened,
            kind.lock,
            kind.counter_hold,
            kind.captive,
        )
        yield from kind.steps
    yield from (*sheet.order, *sheet.protocol, sheet.strap, sheet.recheck)
    yield from (text for loop in sheet.loops for text in (loop.name, loop.slack.text))
    yield from (one.text for one in (*sheet.sag, *sheet.push))
    yield from (one.number for one in (*sheet.tap, *sheet.truck))
    yield from (one.text for one in (*sheet.contact, *sheet.dummy))
    yield from (one.what for one in (*sheet.sag, *sheet.push, *sheet.tap, *sheet.contact))


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_the_starter_fits_one_page_with_all_that_the_sheet_says(starter, size):
    (page,) = paper(sheet_pdf(sheet_page(starter), size))
    lacking = [text for text in said(build_sheet(starter)) if words(text) not in page]
    assert lacking == []
    assert words(CAUTION) in page
    for one in cautions(starter):
        assert words(one.name) in page


def test_a_grommet_has_its_sizes_its_dates_and_its_strap_on_both(grommet):
    sheet = sheet_page(grommet)
    (page,) = paper(sheet_pdf(sheet))
    screen = words(sheet_html(sheet))
    wanted = [
        "0.4 mm; 10% of each flange", "until the sleeve bottoms metal to metal", "8.8 mm apart",
        "look again: 2026-05-31, 2027-05-01, then every year", "strap: a bonding strap",
        "4 × ring: mounts 1, 2, 3, 4",
    ]  # fmt: skip
    for text in wanted:
        assert words(text) in page
        assert words(text) in screen
    assert [BOX, "bolt", build_sheet(grommet).kinds[0].bolt] in sheet.benches[0].kinds[0].beside[
        0
    ].rows


def test_what_a_ruler_does_not_show_and_what_is_general_stand_on_both(brief):
    stiff = brief.changed("mount.ring.along", "40 N/mm").changed("mount.ring.across", "40 N/mm")
    sheet = sheet_page(assess(stiff))
    (page,) = paper(sheet_pdf(sheet))
    screen = words(sheet_html(sheet))
    wanted = [
        "x, 100 N", "0.625 mm; dial gauge", "0.49 mm; feeler or dial gauge",
        "In general, as its kind is not known (mount.ring.kind): fasten", "lithium: a question",
        "ring: a sketch, not to scale",
    ]  # fmt: skip
    for text in wanted:
        assert words(text) in page, text
        assert words(text) in screen, text


def test_what_is_to_be_done_has_a_box_and_what_is_to_be_measured_has_room(grommet):
    (bench,) = sheet_page(grommet).benches
    (kind,) = bench.kinds
    blocks = [*kind.beside, *bench.work, *bench.numbers]
    assert all(isinstance(block, (Grid, Ticks)) for block in blocks)
    ticked = [block.title for block in blocks if isinstance(block, Ticks)]
    assert ticked == ["Fastening", "Assembly: ring", "Then", "Strap and dates", "With the dummy"]
    for block in bench.numbers:
        assert block.head[-1] == "measured"
        assert {row[-1] for row in block.rows} == {""}
    for block in (kind.beside[0], bench.work[2], bench.numbers[3]):
        assert {row[0] for row in block.rows} == {BOX}
    made = sheet_html(sheet_page(grommet))
    assert made.count('<ul class="ticks">') == len(ticked)
    assert isinstance(kind.drawing, Picture)
    assert "from the payload's" in kind.drawing.svg


def test_each_body_has_a_page_and_names_are_text(two):
    sheet = sheet_page(two)
    pages = paper(sheet_pdf(sheet))
    assert len(pages) == 2
    assert pages[1].startswith(words("lid tray"))
    assert words('not known (frame."lid tray".gaps.left_end)') in pages[1]
    assert words("\"><script>alert(1)</script> & 'x' #panic() $\\frac$") in pages[0]
    assert words('4 × ring <b>"$x$: mounts') in pages[0]
    screen = sheet_html(sheet)
    assert "<script" not in screen
    assert "<b>" not in screen
    assert "&lt;script&gt;alert(1)" in screen
    assert "default-src 'none'" in screen


def test_an_incomplete_case_says_so_and_points_nowhere(two):
    assert two.status == "incomplete"
    assert sheet_page(two).verdict.endswith("required checks are incomplete.")


def test_equal_input_gives_equal_bytes_and_the_json_has_the_numbers(grommet, tmp_path):
    first, second = (save_sheet(grommet, tmp_path / name) for name in ("a", "b"))
    assert [path.name for path in first] == [
        "build-sheet.html", "build-sheet.pdf", "build-sheet.json",
    ]  # fmt: skip
    for one, other in zip(first, second, strict=True):
        assert one.read_bytes() == other.read_bytes()
    data = json.loads(first[2].read_text(encoding="utf-8"))
    body = data["bodies"]["payload"]
    assert data["date"] == "2026-05-01"
    assert body["rechecks"] == ["2026-05-31", "2027-05-01"]
    assert body["kinds"][0]["fit"]["pinch"]["value"] == pytest.approx(0.4)
    sheet = build_sheet(grommet)
    assert [one["stated"] for one in body["sag"]] == [one.stated for one in sheet.sag]


def test_a_grommet_of_which_all_is_known_passes_and_leaves_nothing_open():
    found = assess(DATA / "echo-amplifier" / "case.toml")
    assert found.status == "pass"
    (kind,) = build_sheet(found).kinds
    assert {what for what, entry in kind.fit.items() if entry.value is None} == set()
    # Two flanges of 6 mm and a panel of 2 mm on a sleeve of 12.8 mm.
    assert kind.fit["pinch"].value == pytest.approx((2 * 6 + 2 - 12.8) / 2)
    assert "not known" not in sheet_html(sheet_page(found))
    # It hardly gives under so little weight, but nobody wrote its stiffness in a wrong unit.
    assert as_data(found)["look_twice"] == []


def test_what_a_mount_has_not_takes_one_row(brief):
    stud = {"kind": "bobbin", "hardness": "45 Shore A", "compound": "natural"}
    stud |= {"diameter": "30 mm", "thickness": "25 mm"}
    (bench,) = sheet_page(assess(brief.changed("mount.ring", stud | {"hole": "8 mm"}))).benches
    rows = bench.kinds[0].beside[0].rows
    assert [row[0] for row in rows] == [BOX, ""]
    assert rows[-1][2] == "a bobbin has none"
    assert "sleeve length" in rows[-1][1]

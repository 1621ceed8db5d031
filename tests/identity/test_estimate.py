"""A mount from what people have, through the whole chain: bands that narrow as one measures."""

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from isolator.assessment import assess
from isolator.block import bottoming_strain, disc
from isolator.brief import read_brief, read_mounts
from isolator.estimate import KINDS, RATED_SAG, Shape, mount_fields, of_rating, push_measured
from isolator.grommet import Grommet
from isolator.mount import Mount, Sizes, with_bands
from isolator.report import as_data, page
from isolator.response import respond
from isolator.rubber import Hardness, shear_modulus
from isolator.units import G0, InputError

STARTER = Path(__file__).parents[2] / "data" / "starter" / "case.toml"
GROMMET = {
    "kind": "panel grommet", "hardness": "40 Shore A", "compound": "natural",
    "sleeve": "6 mm", "hole": "12 mm", "flange": "18 mm", "flange_thickness": "4 mm",
    "panel": "1.6 mm", "sleeve_length": "8.8 mm",
}  # fmt: skip
BOBBIN = {
    "kind": "bobbin", "hardness": "45 Shore A", "compound": "natural",
    "diameter": "15 mm", "thickness": "20 mm",
}  # fmt: skip


WEIGHED = BOBBIN | {"weights": "w.csv", "ruler": "0.1 mm"}


def made(given, tests=None, name="it"):
    return Mount(name=name, **with_bands(mount_fields(given, tests or {})))


def brief(tmp_path, ring, files=None):
    """The starter on mounts of one kind."""
    text = STARTER.read_text("utf-8")
    lines = [f"{key} = {value!r}".replace("'", '"') for key, value in ring.items()]
    start, end = text.index("[mount.ring]"), text.index("[mounts]")
    (tmp_path / "case.toml").write_text(
        text[:start] + "[mount.ring]\n" + "\n".join(lines) + "\n\n" + text[end:], "utf-8"
    )
    for file, content in (files or {}).items():
        (tmp_path / file).write_text(content, "utf-8")
    return read_brief(tmp_path / "case.toml")


def readings(stiffness):
    """A weights test of a linear mount [N/m], read to a tenth of a millimetre."""
    masses = np.array([0.5, 1, 1.5, 2, 3, 4])
    rows = [
        f"{m},{1e3 * m * G0 / stiffness + 0.3:.1f},{n}" for n in (1, 2) for m in masses.tolist()
    ]
    return "\n".join(["mass [kg],deflection [mm],sample", *rows]) + "\n"


def test_durometer_and_geometry_alone_give_a_band_and_say_what_to_measure(tmp_path):
    wide = assess(brief(tmp_path, BOBBIN).changed("leg[1].drop", "none"))
    (band,) = as_data(wide)["bands"]
    low, stated, high = band["along_n_mm"]
    shear = shear_modulus(Hardness(45, "Shore A"))
    assert stated == pytest.approx(disc(0.015, 0.02, shear.middle).stuck / 1e3, rel=1e-6)
    assert low / stated == pytest.approx(0.9 * shear.low / shear.middle)
    assert high / stated == pytest.approx(1.1 * shear.high / shear.middle)
    assert band["grade"] == "geometry"
    assert all(check.grade in ("geometry", None) for check in wide.checks)
    assert wide.leverages
    assert "What to measure first" in page(wide)
    lowest = as_data(wide)["main_modes_hz"]["bounce"]
    assert lowest[2] / lowest[0] > 1.5


def test_the_same_with_a_weights_table_is_narrower(tmp_path):
    wide = as_data(assess(brief(tmp_path, BOBBIN).changed("leg[1].drop", "none")))
    stiffness = 1e3 * wide["bands"][0]["along_n_mm"][1] * 1.2
    near = assess(
        brief(
            tmp_path,
            BOBBIN | {"weights": "w.csv", "ruler": "0.1 mm"},
            {"w.csv": readings(stiffness)},
        ).changed("leg[1].drop", "none")
    )
    narrow = as_data(near)
    before, after = (data["bands"][0]["along_n_mm"] for data in (wide, narrow))
    assert after[2] / after[0] < 1.25 < before[2] / before[0]
    assert after[0] <= stiffness / 1e3 * 1.02
    assert after[1] == pytest.approx(stiffness / 1e3, rel=0.04)
    # static only: across and the dynamic ratio keep their bands
    for key in ("across_n_mm", "dynamic_ratio"):
        assert narrow["bands"][0][key] == pytest.approx(wide["bands"][0][key])
    assert narrow["bands"][0]["grade"] == "measured"
    span = [data["main_modes_hz"]["bounce"] for data in (wide, narrow)]
    assert span[1][2] / span[1][0] < span[0][2] / span[0][0]


def test_weights_that_hardness_and_shape_cannot_be_are_said(tmp_path):
    """Twice the upper end would be a slip of units; half as much more than it is a question."""
    for times, odd in ((1.0, False), (1.5, True)):
        shear = shear_modulus(Hardness(45, "Shore A"))
        stiff = times * 1.1 * float(disc(0.015, 0.02, shear.high).stuck)
        case = brief(
            tmp_path,
            BOBBIN | {"weights": "w.csv", "ruler": "0.1 mm"},
            {"w.csv": readings(stiff)},
        )
        said = [note for note in case.mounts["ring"].notes if "outside of what hardness" in note]
        assert bool(said) == odd


def test_two_unlike_samples_are_scatter(tmp_path):
    rows = readings(9e3).splitlines()[:7] + readings(11e3).splitlines()[7:]
    case = brief(
        tmp_path, BOBBIN | {"weights": "w.csv", "ruler": "0.1 mm"}, {"w.csv": "\n".join(rows)}
    )
    assert case.mounts["ring"].scatter > 0.1
    assert any("scatter" in d.moved for d in case.design.variants())


def test_a_thumb_is_a_weak_weights_test(tmp_path):
    push = {"push_force": "20 N", "push_travel": "2 mm", "push_mounts": 1}
    case = brief(tmp_path, {**BOBBIN, **push})
    alone = push_measured(20.0, 2e-3, 1)
    assert alone.stiffness == 1e4
    assert alone.high == pytest.approx(1 + math.hypot(0.1, 0.25))
    ring = case.mounts["ring"]
    assert ring.grade == "measured"
    low, high = ring.within["along"]
    assert high / low < alone.high / alone.low


def test_a_grommet_is_its_model():
    mount = made(GROMMET)
    shear = shear_modulus(Hardness(40, "Shore A"))
    shape = Grommet.of(3e-3, 6e-3, 9e-3, 4e-3, 1.6e-3)
    k, c = float(shape.flange_stuck(shear.middle)), float(shape.pinch(8.8e-3))
    assert c == pytest.approx(0.4e-3)
    tangent = mount.curves().tangent(0.0)
    assert tangent[0] == pytest.approx(2 * k * (1 + 2 * (1 - c / 4e-3) ** -3) / 3)
    assert tangent[1] == pytest.approx(shape.radial(shear.middle).pushing)
    slipping = float(shape.flange_slipping(shear.middle))
    assert mount.within["along"][0] < slipping / k * shear.low / shear.middle
    assert mount.captive
    assert mount.limits()[:2] == pytest.approx(bottoming_strain() * 4e-3 - c)
    assert mount.faults == []
    assert any("pinched by 10% of each flange" in note for note in mount.notes)
    assert mount.dynamic_ratio == pytest.approx(math.sqrt(1.1 * 1.25))
    assert mount.creep == pytest.approx((0.04, 0.07))
    assert mount.cold(-40.0)[0] == pytest.approx(math.sqrt(2 * 3))
    assert mount.cold(-41.0)[0] == math.inf
    assert mount.within["cold stiffness"][1] == pytest.approx(math.sqrt(3 / 2))


def test_a_grommet_that_is_fitted_badly_fails_and_says_how(tmp_path):
    for change, words in (
        (
            {"sleeve_length": None},
            "no sleeve: tightening the nut will crush it",
        ),
        ({"sleeve_length": "10 mm"}, "the sleeve is too long: it rattles by 0.4 mm"),
        ({"groove": "3 mm"}, "the groove of 3 mm is wider than the panel of 1.6 mm: it rattles"),
        ({"core": "14 mm"}, "the core of 14 mm is larger than the hole of 12 mm"),
    ):
        given = {k: v for k, v in (GROMMET | change).items() if v is not None}
        result = assess(brief(tmp_path, given).changed("leg[1].drop", "none").design)
        (check,) = [c for c in result.checks if c.id == "fit/ring"]
        assert check.status == "fail"
        assert words in check.reason
    good = assess(brief(tmp_path, GROMMET).changed("leg[1].drop", "none").design)
    assert [c.status for c in good.checks if c.id == "fit/ring"] == ["pass"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"sleeve_length": "7.6 mm"}, "pinched by 25% of a flange, more than"),
        ({"groove": "1.2 mm"}, "the groove of 1.2 mm is stretched over a panel of 1.6 mm"),
        ({"core": "11 mm"}, "the hole of 12 mm is 1 mm larger than the core"),
        ({"panel": "12 mm", "sleeve_length": "19.2 mm"}, "its shape is outside of those"),
    ],
)
def test_what_is_odd_about_a_grommet_is_a_note_and_no_fault(change, words):
    """A sleeve of 2·4 + 1.6 mm less 1 mm from each flange pinches a quarter."""
    mount = made(GROMMET | change)
    assert mount.faults == []
    assert any(words in note for note in mount.notes)
    assert not any(words in note for note in made(GROMMET).notes)


def test_a_sleeve_that_crushes_the_flanges_is_refused():
    with pytest.raises(InputError, match=r"sleeve_length = 4 mm: it pinches each flange of 4 mm"):
        made(GROMMET | {"sleeve_length": "4 mm"})


NUT = {
    "kind": "threaded nut", "hardness": "50 Shore A", "compound": "chloroprene",
    "sleeve": "4 mm", "hole": "10 mm", "flange": "14 mm", "flange_thickness": "1.5 mm",
    "panel": "1.5 mm", "tube": "10 mm", "tube_length": "10 mm", "draw": "3 mm",
}  # fmt: skip


def test_a_threaded_nut_is_captive_once_it_is_drawn():
    loose, drawn = made(NUT | {"draw": "0 mm"}), made(NUT)
    assert "not turned past first contact" in loose.faults[0]
    (narrow,) = made(NUT | {"hole": "12 mm", "draw": "0.2 mm"}).faults
    assert re.match(r"its belly of .* is no larger than the hole of 12 mm: it pulls out", narrow)
    assert drawn.faults == []
    assert drawn.captive
    said = " ".join(drawn.notes)
    assert "a lock nut is the only security" in said
    assert "hold its bonded nut while you turn" in said


@pytest.mark.parametrize("kind", KINDS)
def test_every_shape_rises_and_carries_its_fields(kind):
    sizes = {
        "length": "20 mm", "width": "15 mm", "thickness": "8 mm", "diameter": "25 mm",
        "bore": "10 mm", "cord": "4 mm", **{k: v for k, v in NUT.items() if k != "kind"},
    }  # fmt: skip
    given = {"kind": kind, "compound": "natural", "hardness": "50 Shore A"}
    mount = made(given | {key: sizes[key] for key in KINDS[kind]})
    curves = mount.curves()
    travel = np.linspace(0, 0.9, 40)[:, None] * 1.5e-3
    force = curves.force(np.broadcast_to(travel, (40, 2)))
    assert np.all(np.diff(force, axis=0) > 0)
    assert mount.grade == "geometry"
    for name in ("along", "across", "dynamic ratio", "loss factor"):
        low, high = mount.within[name]
        assert low <= 1 <= high
    assert mount.notes


def test_stiffness_goes_with_the_modulus_alone():
    """A stiffer rubber of the same shape scales both curves by G."""
    soft, hard = (made(BOBBIN | {"hardness": f"{s} Shore A"}) for s in (40, 60))
    ratio = (
        shear_modulus(Hardness(60, "Shore A")).middle
        / shear_modulus(Hardness(40, "Shore A")).middle
    )
    np.testing.assert_allclose(
        hard.curves().tangent(0.0) / soft.curves().tangent(0.0), ratio, rtol=1e-9
    )


def test_a_rating_alone_is_the_widest_band():
    mount = made({"rated_load": "30 N", "travel": "8 mm", "captive": True})
    low, high = (float(mount.curves().tangent(0.0)[0]) * f for f in mount.within["along"])
    assert (low, high) == pytest.approx((30 / RATED_SAG[1], 30 / RATED_SAG[0]))
    assert mount.grade == "rating"
    assert (
        high / low > 5 > made(GROMMET).within["along"][1] / made(GROMMET).within["along"][0] / 1.5
    )
    assert "common practice" in of_rating(30.0)["notes"][0]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (GROMMET | {"hardness": "40"}, "40 of which scale?"),
        (GROMMET | {"hardness": "95 Shore A"}, "relations"),
        ({k: v for k, v in GROMMET.items() if k != "hardness"}, "hardness is missing"),
        ({k: v for k, v in GROMMET.items() if k != "hole"}, "hole is missing: a panel grommet"),
        (GROMMET | {"sleeve": "13 mm"}, "sleeve = 13 mm: must be below hole = 12 mm"),
        (GROMMET | {"sleeve_length": "4 mm"}, "crushes it; a tenth is pinched by 8.8 mm"),
        (GROMMET | {"compound": "neoprene"}, "'chloroprene' meant?"),
        ({k: v for k, v in GROMMET.items() if k != "compound"}, "state it, or the compound"),
        ({"hardness": "40 Shore A"}, "stands without kind"),
        ({"travel": "8 mm"}, "along is missing"),
        (BOBBIN | {"along": "100 N/mm"}, "lbf/in typed as N/mm? Check the unit"),
        (BOBBIN | {"within": 0.2}, "within stands beside a shape"),
        (NUT | {"draw": "9.5 mm"}, "fewer turns"),
    ],
)  # fmt: skip
def test_what_cannot_be_gets_one_line(given, words):
    with pytest.raises(InputError) as caught:
        made(given)
    assert words in str(caught.value)


def test_what_a_slip_of_units_explains_is_named(tmp_path):
    stiffness = 5.71 * float(made(BOBBIN).curves().tangent(0.0)[0])
    with pytest.raises(InputError, match=r"lbf/in typed as N/mm\? Check units and sizes"):
        brief(
            tmp_path,
            BOBBIN | {"weights": "w.csv", "ruler": "0.05 mm"},
            {"w.csv": readings(stiffness)},
        )


def test_a_weights_file_of_no_use_gets_one_line(tmp_path):
    for text, words in (
        ("mass [kg],deflection [mm]\n1,1\n2,2\n", "2 different loads put on"),
        ("mass [kg],force [N],deflection [mm]\n1,1,1\n", "give mass or force"),
        ("mass [kg],deflection [mm]\n1,5\n2,3\n3,1\n", "it falls by"),
    ):
        with pytest.raises(InputError, match=words):
            brief(tmp_path, BOBBIN | {"weights": "w.csv"}, {"w.csv": text})


def test_stated_stiffness_goes_before_the_shape():
    mount = made(BOBBIN | {"along": "8 N/mm"})
    assert float(mount.curves().tangent(0.0)[0]) == 8e3
    assert "along" not in mount.within
    assert "across" in mount.within
    assert Shape(**{k: v for k, v in BOBBIN.items() if k != "compound"}).fields()["captive"]


DATA = Path(__file__).parents[2] / "data"
CATALOGUE = read_mounts(DATA / "catalogue.csv")


def test_the_catalogue_is_large_enough_and_says_that_it_is_invented():
    head = (DATA / "catalogue.csv").read_text("utf-8").splitlines()[0]
    assert "Invented" in head
    assert len(CATALOGUE) >= 30
    assert len({name.rstrip(" 0123456789") for name in CATALOGUE}) >= 5


@pytest.mark.parametrize("name", CATALOGUE)
def test_every_row_of_the_catalogue_is_a_plausible_mount(name):
    mount = CATALOGUE[name]
    along, across = mount.curves().tangent(0.0)
    assert 1e3 < along < 3e6
    assert 1e3 < across < 1e6
    assert mount.source == "invented"
    assert mount.grade == "geometry"
    assert not mount.faults
    d = np.linspace(-1.0, 1.0, 81)[:, None] * 1e-3
    assert np.all(np.diff(mount.curves().force(np.broadcast_to(d, (81, 2))), axis=0) >= 0)
    for low, high in mount.within.values():
        assert 0.1 < low <= 1 <= high < 10


@pytest.mark.heavy
def test_a_copy_of_the_catalogue_is_a_table_of_a_brief(tmp_path):
    text = STARTER.read_text("utf-8")
    start, end = text.index("[mount.ring]"), text.index("[mounts]")
    head = '[mounts]\ntable = "mine.csv"\nuse = "bobbin 3"\n'
    (tmp_path / "case.toml").write_text(
        text[:start] + text[end:].replace("[mounts]", head, 1).replace("[mounts] ", "#"), "utf-8"
    )
    (tmp_path / "mine.csv").write_text((DATA / "catalogue.csv").read_text("utf-8"), "utf-8")
    result = assess(read_brief(tmp_path / "case.toml").design)
    assert result.status in ("fail", "incomplete")
    assert as_data(result)["bands"][0]["mount"] == "bobbin 3"


def test_a_name_that_stands_twice_in_a_table_gets_a_line(tmp_path):
    (tmp_path / "m.csv").write_text("name,rated load [N]\na,30\na,40\n", "utf-8")
    with pytest.raises(InputError, match=r"line 3 \('a'\): the name stands in line 2 too"):
        read_mounts(tmp_path / "m.csv")


def test_a_sheet_of_the_compound_goes_before_the_table():
    """T2 and T10 of a sheet: twice and ten times as stiff there, rigid below the last."""
    mount = made(BOBBIN | {"stiffening": {"T2": -30.0, "T10": -42.0}})
    assert [mount.cold(t)[0] for t in (-30.0, -42.0)] == pytest.approx([2.0, 10.0])
    assert mount.cold(-42.5)[0] == math.inf
    assert "cold stiffness" not in mount.within


def test_a_sheet_is_read_from_a_brief(tmp_path):
    case = brief(tmp_path, BOBBIN)
    cold = case.changed("mount.ring.stiffening", {"T2": "-30 °C"})
    assert cold.mounts["ring"].cold_points == ((-30.0, 2.0, 2.0),)
    for given, words in (
        ({"T3": "-30 °C"}, "mount.ring.stiffening.T3 = '-30 °C': unknown key"),
        ({"T2": "-42 °C", "T10": "-30 °C"}, "mount.ring.stiffening.T10 = -30 °C: must be colder"),
        ({}, "nothing is given"),
    ):
        with pytest.raises(InputError) as caught:
            case.changed("mount.ring.stiffening", given)
        assert words in str(caught.value)


@pytest.mark.parametrize(
    "names",
    [
        ("grommet 3", "bobbin 2", "rubber nut 2", "bush 1"),
        ("rubber nut 4", "rubber nut 1", "grommet 7", "grommet 2"),
    ],
)
def test_stiff_and_kinked_mounts_come_to_rest_everywhere_in_their_bands(names):
    """Each variant rests in every attitude, and its loads carry the weight."""
    design = read_brief(STARTER).design
    places = [
        replace(place, mount=CATALOGUE[name])
        for place, name in zip(design.places, names, strict=True)
    ]
    response = respond(replace(design, places=places).variants())
    assert response.pose.found.all()
    force = response.suspension.repeated().mount_force(response.pose).sum(axis=-2)
    np.testing.assert_allclose(np.linalg.norm(force, axis=-1), 8 * G0, rtol=1e-8)


def test_a_kind_beside_a_stated_stiffness_says_how_it_sits_and_needs_no_rubber():
    stated = {"along": "10 N/mm", "across": "8 N/mm", "dynamic_ratio": 1.2}
    ring = {"kind": "ring", "hole": "8 mm", "washer": "24 mm"}
    out = mount_fields({**stated, **ring}, {})
    assert out["sizes"] == Sizes(**ring)
    assert (out["along"], out.get("notes", [])) == ("10 N/mm", [])
    with pytest.raises(InputError, match="kind = 'rinf': write one of pad"):
        mount_fields({**stated, "kind": "rinf"}, {})
    with pytest.raises(InputError, match="or state along and across"):
        mount_fields({**ring, "along": "10 N/mm", "dynamic_ratio": 1.2}, {})


def test_a_stated_stiffness_comes_from_no_hardness():
    both = {"along": "30 N/mm", "across": "10 N/mm"}
    out = mount_fields({**BOBBIN, **both}, {})
    assert not any("stiffness from" in note for note in out["notes"])
    assert any("stiffness from" in note for note in mount_fields(BOBBIN, {})["notes"])

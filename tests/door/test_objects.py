"""Bad input to the objects: one message that names argument, value and way out."""

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import isolator
from isolator import mount as mount_module
from isolator import payload as payload_module
from isolator import trip as trip_module
from isolator.case import Case
from isolator.curve import Curve
from isolator.mount import Mount, Place, Sizes
from isolator.payload import Part, Payload
from isolator.pulse import Pulse
from isolator.sine import Dwell, Sine
from isolator.tapped import tapped
from isolator.trip import Condition, Landing, Leg, Spectrum, road
from isolator.units import InputError

BOX = ["400 mm", "300 mm", "150 mm"]
HERE = ["0 mm", "0 mm", "0 mm"]
RISING = {"deflection": ["1 mm", "4 mm"], "force": ["8 N", "60 N"]}


def part(**changed: object) -> Part:
    return Part(**{"name": "fan", "mass": "2 kg", "position": HERE, "size": BOX} | changed)


def payload(**changed: object) -> Payload:
    return Payload(**{"mass": "8 kg", "size": BOX} | changed)


def mount(**changed: object) -> Mount:
    given = {"name": "ring", "along": "9 N/mm", "across": "6 N/mm", "dynamic_ratio": 1.2}
    return Mount(**given | changed)


def place(**changed: object) -> Place:
    return Place(**{"mount": mount(), "position": HERE} | changed)


def leg(**changed: object) -> Leg:
    return Leg(**{"name": "by van"} | changed)


def spectrum(**changed: object) -> Spectrum:
    given = {"frequency": ["10 Hz", "40 Hz"], "density": ["0.01 g0^2/Hz"] * 2, "name": "ours"}
    return Spectrum.of(**given | changed)


def parts(*each: Part) -> Payload:
    return Payload.of_parts(each, size=BOX)


def bolt(name: str, *position: str) -> Part:
    return Part(name=name, mass="1 kg", position=position, shape="point")


MISTAKES: dict[str, tuple[Callable[[], object], list[str]]] = {
    # what is wrong: what makes it, and words of the message: argument, value, way out
    "part unit": (lambda: part(mass="2 N"), ["Part.mass", "2 N", "kg"]),
    "part size of two": (lambda: part(size=["1 mm", "2 mm"]), ["Part.size", "a list of 3"]),
    "part negative size": (
        lambda: part(size=["-1 mm", "2 mm", "3 mm"]),
        ["Part.size", "-1 mm", "above 0"],
    ),
    "part shape": (lambda: part(shape="ball"), ["Part.shape", "'ball'", "box, cylinder or point"]),
    "part without size": (
        lambda: part(size=None),
        ["Part.size of 'fan'", "missing", 'shape = "point"'],
    ),
    "part axis": (lambda: part(shape="cylinder", axis="r"), ["Part.axis", "'r'", "x, y or z"]),
    "oval cylinder": (
        lambda: part(shape="cylinder"),
        ["Part.size of 'fan'", "400 mm and 300 mm", "one diameter"],
    ),
    "part kind": (lambda: part(kind="radio"), ["Part.kind", "not a kind", "fan, mast, other"]),
    "part component": (
        lambda: part(component="relay"),
        ["Part.component", "no such type", "bga"],
    ),
    "part blades": (
        lambda: part(speed="900 rpm", blades=3.5),
        ["Part.blades", "3.5", "a whole number"],
    ),
    "part amplification alone": (
        lambda: part(amplification=8),
        ["Part.resonance of 'fan'", "give both, or neither"],
    ),
    "part amplification": (
        lambda: part(resonance="80 Hz", amplification=0.5),
        ["Part.amplification", "0.5", "1 to 1000"],
    ),
    "part speed": (lambda: part(speed=1000), ["Part.speed", "without a unit"]),
    "case lighter than its parts": (
        lambda: Case(mass="1.9 kg", parts=[part()]),
        ["Case.mass = 1.9 kg", "weigh 2 kg", "weigh the case with them in"],
    ),
    "no parts": (lambda: parts(), ["parts = []", "at least one"]),
    "two parts of one name": (
        lambda: parts(part(), part()),
        ["parts", "'fan'", "each part its own"],
    ),
    "one point": (
        lambda: parts(bolt("a", *HERE)),
        ["Payload.inertia", "0 kg·m²", "need a size"],
    ),
    "points in a line": (
        lambda: parts(bolt("a", *HERE), bolt("b", "10 mm", "20 mm", "70 mm")),
        ["Payload.inertia", "above 0", "beside their line"],
    ),
    "payload mass": (lambda: payload(mass="0 kg"), ["Payload.mass", "0 kg", "above 0"]),
    "payload fragility": (
        lambda: payload(fragility="40 g"),
        ["Payload.fragility", "40 g", "'40 g0'"],
    ),
    "critical velocity alone": (
        lambda: payload(critical_velocity="3 m/s"),
        ["Payload.critical_velocity", "without fragility", "add fragility"],
    ),
    "record as a tried pulse": (
        lambda: payload(
            fragility="9 g0",
            fragility_pulse=Pulse.of_record(["0 g0", "9 g0", "0 g0"], rate="1 kHz"),
        ),
        ["Payload.fragility_pulse", "a record", "shape and duration"],
    ),
    "inertia of two": (
        lambda: payload(inertia=["0.1 kg*m^2", "0.1 kg*m^2"]),
        ["Payload.inertia", "shape (2,)", "three moments", "3 × 3"],
    ),
    "inertia without symmetry": (
        lambda: payload(
            inertia=[[f"{v} kg*m^2" for v in row] for row in ((1, 0.2, 0), (0, 1, 0), (0, 0, 1))]
        ),
        ["Payload.inertia", "not symmetric", "both sides"],
    ),
    "negative inertia": (
        lambda: payload(inertia=["-0.1 kg*m^2", "0.1 kg*m^2", "0.1 kg*m^2"]),
        ["Payload.inertia", "-0.1 kg·m²", "above 0"],
    ),
    "inertia of no body": (
        lambda: payload(inertia=["0.1 kg*m^2", "0.1 kg*m^2", "0.3 kg*m^2"]),
        ["Payload.inertia", "0.3 kg·m²", "sum", "check which moment"],
    ),
    "mass that may be nothing": (
        lambda: payload(mass_within="8 kg"),
        ["Payload.mass_within = 8 kg", "not below the mass of 8 kg", "slip of units"],
    ),
    "mass within": (lambda: payload(mass_within="-1 kg"), ["Payload.mass_within", "at least 0 kg"]),
    "centre within": (
        lambda: payload(centre=HERE, centre_within=["1 mm", "-1 mm", "1 mm"]),
        ["Payload.centre_within[1]", "-1 mm"],
    ),
    "centre within nothing": (
        lambda: payload(centre_within=HERE),
        ["Payload.centre_within stands without centre", "give the centre"],
    ),
    "leg lid": (lambda: leg(lid="ajar"), ["Leg.lid", "'ajar'", "closed or open"]),
    "case gap": (lambda: Case(floor="-2 mm"), ["Case.floor", "-2 mm", "at least 0 mm"]),
    "case measured": (
        lambda: Case(measured="lying"),
        ["Case.measured", "'lying'", "hanging", "or out"],
    ),
    "case restitution": (
        lambda: Case(restitution=1.4),
        ["Case.restitution", "1.4", "outside 0 to 1"],
    ),
    "mount dynamic ratio": (
        lambda: mount(dynamic_ratio=0.8),
        ["Mount.dynamic_ratio", "0.8", "outside 1 to 10"],
    ),
    "a tap on a curve that begins flat": (
        lambda: tapped(
            mount(along={"deflection": ["1 mm", "9 mm"], "force": ["0 N", "50 N"]}), 9e3, 9e3
        ),
        ["Mount.along", "begins flat", "leave out dynamic_along"],
    ),
    "mount without dynamic ratio": (
        lambda: mount(dynamic_ratio=None),
        ["Mount.dynamic_ratio", "nothing is given", "write a number"],
    ),
    "mount loss factor": (
        lambda: mount(loss_factor=5),
        ["Mount.loss_factor", "5", "outside 0.001 to 2"],
    ),
    "cold factor alone": (
        lambda: mount(cold_factor=3.0),
        ["Mount.cold_factor of 'ring'", "both or neither"],
    ),
    "cold temperature alone": (
        lambda: mount(cold_temperature="-20 °C"),
        ["Mount.cold_factor of 'ring'", "both or neither"],
    ),
    "warm cold": (
        lambda: mount(cold_factor=3.0, cold_temperature="10 °C"),
        ["Mount.cold_temperature", "10 °C", "below 5 °C", "lower"],
    ),
    "cold points beside a factor": (
        lambda: mount(cold_factor=3.0, cold_temperature="-20 °C", cold_points=[(-20.0, 2.0, 4.0)]),
        ["Mount.cold_points of 'ring'", "keep one"],
    ),
    "mount band": (
        lambda: mount(within={"along": (1.1, 1.2)}),
        ["Mount.within 'along' = 1.1 to 1.2", "around 1"],
    ),
    "mount creep": (
        lambda: mount(creep=(0.1, 0.05)),
        ["Mount.creep = 0.1 to 0.05", "lower end first"],
    ),
    "condition attitude": (
        lambda: Condition(name="up", attitude="up"),
        ["Condition.attitude = 'up'", "lid up"],
    ),
    "condition of nothing": (
        lambda: Condition(name="same"),
        ["Condition.name = 'same': nothing is changed", "temperature, age"],
    ),
    "sizes that cross": (
        lambda: Sizes(hole="20 mm", washer="16 mm"),
        ["Sizes.hole = 20 mm", "below washer = 16 mm", "exchanged"],
    ),
    "payload mains": (
        lambda: Payload(mass="1 kg", size=["1 m"] * 3, mains="yes"),
        ["Payload.mains", "'yes'", "true or false"],
    ),
    "mount stacked": (lambda: mount().stacked("tower"), ["stacking", "'tower'", "opposed pair"]),
    "mount pair": (
        lambda: mount(captive=None).stacked("opposed pair"),
        ["captive is not given", "opposed pair", "give true or false"],
    ),
    "mount captive": (lambda: mount(captive="yes"), ["Mount.captive", "'yes'", "true or false"]),
    "mount grade": (
        lambda: mount(grade="guess"),
        ["Mount.grade", "'guess'", "measured, curve, geometry, rating"],
    ),
    "mount stiffness": (
        lambda: mount(along="9 kg/mm"),
        ["Mount.along", "kg/mm is no stiffness", "'9 kgf/mm'"],
    ),
    "travel beyond the curve": (
        lambda: mount(along=RISING, travel="9 mm"),
        ["Mount.travel", "9 mm", "4 mm", "add a point"],
    ),
    "travel across beyond the curve": (
        lambda: mount(across=RISING, travel_across="9 mm"),
        ["Mount.travel_across", "9 mm", "4 mm", "shorter"],
    ),
    "curve of other keys": (
        lambda: mount(along={"travel": ["1 mm"], "force": ["8 N"]}),
        ["Mount.along", "travel, force", "deflection and force"],
    ),
    "curve of unequal lists": (
        lambda: mount(along={"deflection": ["1 mm", "2 mm"], "force": ["8 N"]}),
        ["Mount.along", "2 deflections and 1 forces", "as many"],
    ),
    "curve that falls": (
        lambda: mount(across={"deflection": ["1 mm", "2 mm"], "force": ["8 N", "7 N"]}),
        ["Mount.across", "must not fall"],
    ),
    "push of a word": (
        lambda: place(push="down"),
        ["Place.push", "'down'", "-z", "three numbers"],
    ),
    "push of two": (lambda: place(push=[0.0, 1.0]), ["Place.push", "[0.0, 1.0]", "three finite"]),
    "push of nothing": (lambda: place(push=[0, 0, 0]), ["Place.push", "[0, 0, 0]", "not all zero"]),
    "push of words": (lambda: place(push=["a", "b", "c"]), ["Place.push", "three finite numbers"]),
    "place": (
        lambda: place(position=["1 mm", "x", "3 mm"]),
        ["Place.position[1]", "'x'", "'-40 mm'"],
    ),
    "spectrum of one line": (
        lambda: spectrum(frequency=["10 Hz"], density=["1 g0^2/Hz"]),
        ["ours", "1 frequencies and 1 densities", "two or more"],
    ),
    "spectrum of unequal lists": (
        lambda: spectrum(frequency=["10 Hz", "20 Hz", "40 Hz"]),
        ["ours", "3 frequencies and 2 densities", "as many"],
    ),
    "spectrum out of order": (
        lambda: spectrum(frequency=["40 Hz", "10 Hz"]),
        ["ours: frequency 2 = 10 Hz", "40 Hz", "sort"],
    ),
    "spectrum of nothing": (
        lambda: spectrum(density=["0 g0^2/Hz", "0.01 g0^2/Hz"]),
        ["ours: density[0]", "above 0"],
    ),
    "spectrum of too many lines": (
        lambda: spectrum(frequency=[f"{n} Hz" for n in range(1, 202)], density=["1 g0^2/Hz"] * 201),
        ["ours has 201 lines", "200", "envelope"],
    ),
    "unknown road": (
        lambda: road("us highway truck"),
        ["road = 'us highway truck'", "'us highway truck 810'", "isolator roads"],
    ),
    "attitude": (
        lambda: leg(attitude="upside down"),
        ["Leg.attitude", "'upside down'", "lid up, lid down"],
    ),
    "landing": (lambda: leg(landings=["flat"]), ["landing", "'flat'", "on the left end"]),
    "level": (lambda: leg(level=0), ["Leg.level", "0 ", "outside 0 to 100"]),
    "crest": (lambda: leg(crest=0.5), ["Leg.crest", "0.5", "outside 1 to 10"]),
    "road axis": (
        lambda: leg(road={"up": spectrum()}),
        ["Leg.road axis", "'up'", "vertical, transverse, longitudinal"],
    ),
    "one case axis twice": (
        lambda: leg(axes={"vertical": "z", "transverse": "z"}),
        ["Leg.axes", "'transverse': 'z'", "its own case axis x, y or z"],
    ),
    "case axis": (lambda: leg(axes={"vertical": "w"}), ["Leg.axes", "'w'", "x, y or z"]),
    "road axis of the axes": (lambda: leg(axes={"up": "z"}), ["Leg.axes", "'up'", "vertical"]),
    "axes that leave one out": (
        lambda: leg(axes={"vertical": "z"}),
        ["Leg.axes", "each of vertical, transverse, longitudinal"],
    ),
    "no landing": (lambda: leg(landings=[]), ["Leg.landings", "drops to False"]),
    "a landing twice": (
        lambda: leg(landings=["lid up", "lid up"]),
        ["Leg.landings", "each landing once"],
    ),
    "a direction of zeros": (
        lambda: Landing(name="none", down=[0, 0, 0]),
        ["Landing.down", "not all zero"],
    ),
    "a landing with the name of a face": (
        lambda: leg(own=[Landing(name="lid up", down=[0, 0, 1])]),
        ["Leg.own", "'lid up'", "its own"],
    ),
    "drop": (lambda: leg(drop="0 m"), ["Leg.drop", "0 m", "above 0"]),
    "a drop beside its table": (
        lambda: leg(drop="1 m", drop_table="ista 1a"),
        ["Leg.drop = 1", "keep one"],
    ),
    "way of a pulse": (
        lambda: leg(pulse=Pulse(shape="rectangle", peak="1 g0", duration="1 ms", ways=["up"])),
        ["Leg.pulse", "'up'", "vertical"],
    ),
    "way of a sine": (
        lambda: leg(sine=Sine(dwell=Dwell(level="1 g0"), ways=["up"])),
        ["Leg.sine", "'up'", "vertical"],
    ),
    "duration": (lambda: leg(duration="3 m"), ["Leg.duration", "3 m"]),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_message(mistake: str) -> None:
    make, words = MISTAKES[mistake]
    with pytest.raises(InputError) as caught:
        make()
    for line in caught.value.lines:
        assert "\n" not in line
        assert len(line) < 250
    for word in words:
        assert word in str(caught.value)


def test_every_refusal_of_these_modules_is_reached() -> None:
    """The lines that raise, seen from the tracebacks of the mistakes above."""
    modules = (payload_module, mount_module, trip_module)
    wanted = {
        (Path(m.__file__).name, number)
        for m in modules
        for number, line in enumerate(Path(m.__file__).read_text("utf-8").splitlines(), start=1)
        if re.match(r"\s+raise InputError\(", line)
    }
    reached = set()
    for make, _ in MISTAKES.values():
        with pytest.raises(InputError) as caught:
            make()
        last = caught.traceback[-1]
        reached.add((Path(str(last.path)).name, last.lineno + 1))
    assert wanted - reached == set()


def test_what_is_right_is_taken() -> None:
    """The objects that the mistakes are made from; numbers may be text, axes signed."""
    assert part().own_inertia().shape == (3, 3)
    assert leg(level="50 %", crest="1.5").level == 0.5
    assert leg(level="50 %", crest="1.5").crest == 1.5
    assert Case(restitution="40 %").restitution == 0.4
    assert mount(loss_factor="10 %").loss_factor == 0.1
    np.testing.assert_allclose(place(push=[0, 3, -4]).direction(), [0.0, 0.6, -0.8])
    np.testing.assert_array_equal(place(push="+x").direction(), [1.0, 0.0, 0.0])
    assert np.isnan(Case(floor="3 mm").by_face()[0])
    assert Case(floor="3 mm").by_face()[4] == 0.003


def test_a_curve_limits_a_mount_on_both_sides() -> None:
    """Limits are pushed, pulled, across."""
    points = {"deflection": ["-2 mm", "4 mm"], "force": ["-9 N", "60 N"]}
    both = mount(along=points, captive=True)
    np.testing.assert_allclose(both.limits(), [0.004, 0.002, np.nan])
    shorter = mount(along=points, captive=True, travel="3 mm")
    np.testing.assert_allclose(shorter.limits()[:2], [0.003, 0.002])
    mirrored = mount(along=RISING, captive=True, travel="3 mm")
    np.testing.assert_allclose(mirrored.limits()[:2], [0.003, 0.003])
    loose = mount(along=points, captive=False)
    np.testing.assert_array_equal(loose.limits()[:2], [0.004, np.inf])
    np.testing.assert_array_equal(mount(along=points).limits()[:2], [0.004, np.nan])
    stated = mount(travel="5 mm", travel_across="2 mm", captive=True)
    np.testing.assert_allclose(stated.limits(), [0.005, 0.005, 0.002])
    assert mount(captive=False).curves().force([-0.01, 0.01])[0] == 0.0
    assert mount(captive=True).curves().force([-0.01, 0.01])[0] == pytest.approx(-90.0)
    given = mount(along=Curve.through([0.001], [9.0]))
    assert given.curves().force([0.002, 0.0])[0] == pytest.approx(18.0)


def test_cold() -> None:
    rubber = mount(loss_factor=0.1, cold_factor=4, cold_temperature="-27 °C", cold_loss_factor=0.3)
    assert rubber.cold(None) == rubber.cold(23.0) == rubber.cold(40.0) == (1.0, 0.1)
    assert rubber.cold(5.0)[0] == pytest.approx(rubber.cold(4.999)[0], rel=1e-3)  # no step
    assert rubber.cold(-27.0) == pytest.approx((4.0, 0.3))
    assert rubber.cold(-2.0) == pytest.approx((2.0, 0.2))
    assert rubber.cold(-30.0)[0] == np.inf
    assert np.isnan(rubber.cold(50.0)[0])
    assert np.isnan(mount().cold(0.0)[0])
    assert np.isnan(mount().cold(20.0)[1])


def test_the_axes_of_a_leg() -> None:
    ours = spectrum()
    upright = leg(road={"vertical": ours})
    assert upright.case_axes() == {"vertical": "z", "transverse": "y", "longitudinal": "x"}
    assert upright.spectrum("z") == ours
    assert upright.spectrum("x") is None
    ended = leg(attitude="on the left end", road={"vertical": ours})
    assert ended.spectrum("x") == ours
    turned = {"vertical": "y", "transverse": "z", "longitudinal": "x"}
    said = leg(road={"vertical": ours}, axes=turned)
    assert said.spectrum("y") == ours
    assert said.spectrum("z") is None
    assert leg(temperature="41 °F").temperature_c() == 5.0


@pytest.mark.parametrize("given", [None, 3, {"payload": {}}], ids=str)
@pytest.mark.parametrize(
    ("function", "says"),
    [
        ("assess", "case = .*a Design, a Brief or the path of one"),
        ("survival", "case = .*a Design, a Brief or the path of one"),
        ("window", "case = .*a Brief or the path of one"),
        ("site", "case = .*a Brief or the path of one"),
        ("chance", "case = .*a Brief or the path of one"),
        ("choose", "case = .*a Brief or the path of one"),
        ("panel", "case = .*a Brief or the path of one"),
        ("choice", "brief = .*as read_brief gives one"),
        ("advise", "brief = .*as read_brief gives one"),
        ("drill_templates", "brief = .*as read_brief gives one"),
        ("page", "assessment = .*as assess gives one"),
        ("as_data", "assessment = .*as assess gives one"),
        ("build_sheet", "assessment = .*as assess gives one"),
        ("ring_down", "recording = .*as read_recording gives one"),
        ("read_recording", "path = .*the path of a CSV or WAV file"),
        ("read_brief", "path = .*the path of a brief"),
        ("read_mounts", "path = .*the path of a CSV file of mounts"),
        ("trip_record", "record = .*a Recording, the path of one or blocks of one"),
    ],
)
def test_what_is_no_case_at_all_gets_one_line(function, says, given):
    with pytest.raises(InputError) as error:
        getattr(isolator, function)(given)
    (line,) = error.value.lines
    assert re.fullmatch(says, line)
    assert ("nothing is given" if given is None else "does not fit") in line


def test_a_page_is_saved_of_an_assessment(tmp_path):
    for save in (isolator.save_report, isolator.save_sheet):
        with pytest.raises(InputError, match=r"assessment = 3: .*, as assess gives one"):
            save(3, tmp_path)


def test_a_ring_down_is_held_against_a_brief():
    starter = isolator.read_brief(Path(__file__).parents[2] / "data" / "starter" / "case.toml")
    with pytest.raises(InputError, match=r"brief = 3: .*, as read_brief gives one"):
        isolator.correct(3, None, "tap.csv")
    with pytest.raises(InputError, match=r"tap = None: .*, as ring_down gives one"):
        isolator.correct(starter, None, "tap.csv")

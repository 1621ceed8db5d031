"""Bad input to the formulas: one message that names argument, value, limit and way out."""

import math

import pytest

from isolator import formulas
from isolator.units import InputError


@pytest.mark.parametrize(
    ("call", "arguments", "words"),
    [
        ("natural_frequency", {"stiffness": 12.0, "mass": "8 kg"}, ["stiffness", "12.0"]),
        ("natural_frequency", {"stiffness": "12 N/mm", "mass": "7,8 kg"}, ["mass", "7.8 kg"]),
        ("natural_frequency", {"stiffness": "12 lb/in", "mass": "8 kg"}, ["stiffness", "lbf/in"]),
        ("natural_frequency", {"stiffness": "12 N/mm", "mass": "0 kg"}, ["mass", "0 kg"]),
        ("natural_frequency", {"stiffness": "-1 N/mm", "mass": "8 kg"}, ["stiffness", "-1 N/mm"]),
        ("natural_frequency_from_deflection", {"deflection": "3 kg"}, ["deflection", "3 kg"]),
        ("natural_frequency_from_deflection", {"deflection": "nan mm"}, ["deflection"]),
        ("static_deflection", {"stiffness": "12 N", "mass": "8 kg"}, ["stiffness", "12 N"]),
        ("stiffness_for", {"natural_frequency": "60 rad/s", "mass": "8 kg"}, ["Hz", "60 rad/s"]),
        ("stiffness_for", {"natural_frequency": ["9 Hz", "9"], "mass": "8 kg"}, ["9"]),
        (
            "transmissibility",
            {"frequency": "20 Hz", "natural_frequency": "10 Hz"},
            ["damping_ratio", "loss_factor", "exactly one"],
        ),
        (
            "transmissibility",
            {
                "frequency": "20 Hz",
                "natural_frequency": "10 Hz",
                "damping_ratio": 0.1,
                "loss_factor": 0.2,
            },
            ["damping_ratio", "0.1", "loss_factor", "0.2", "exactly one"],
        ),
        (
            "transmissibility",
            {"frequency": "20 Hz", "natural_frequency": "10 Hz", "damping_ratio": -0.1},
            ["damping_ratio", "-0.1"],
        ),
        (
            "transmissibility",
            {"frequency": "20 Hz", "natural_frequency": "10 Hz", "loss_factor": math.nan},
            ["loss_factor", "nan"],
        ),
        (
            "linear_drop",
            {"height": "0 m", "natural_frequency": "10 Hz", "gravity": True},
            ["height", "0 m"],
        ),
        (
            "linear_drop",
            {"height": "1 m", "natural_frequency": "10 Hz", "gravity": "9.81 m/s²"},
            ["gravity", "9.81", "gravity=True", "gravity=False"],
        ),
        (
            "linear_drop",
            {"height": "1 m", "natural_frequency": "10 Hz", "gravity": False, "restitution": 1.5},
            ["restitution", "1.5"],
        ),
        (
            "linear_drop",
            {"height": "1 m", "natural_frequency": "10 Hz", "gravity": True, "restitution": 0.4},
            ["restitution", "0.4", "gravity=False"],
        ),
    ],
)
def test_message(call: str, arguments: dict, words: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        getattr(formulas, call)(**arguments)
    for word in words:
        assert word in str(caught.value)


def test_gravity_is_an_explicit_choice() -> None:
    with pytest.raises(TypeError, match="gravity"):
        formulas.linear_drop(height="1 m", natural_frequency="10 Hz")


def test_lists_that_do_not_pair_up() -> None:
    with pytest.raises(InputError, match="stiffness has 2, mass has 3"):
        formulas.natural_frequency(stiffness=["1 N/mm", "2 N/mm"], mass=["1 kg", "2 kg", "3 kg"])

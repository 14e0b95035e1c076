"""A rule is kept or broken, and the line says which and what to do."""

import numpy as np
import pytest
from astropy import units as u

from planner.checks import Rule, check, check_units, did_you_mean
from planner.errors import LINKING, STEERING, InvalidInputError
from planner.rig import Telescope


def test_the_line_names_value_rule_and_remedy():
    with pytest.raises(InvalidInputError) as caught:
        Telescope(name="x", aperture=100 * u.mm, focal_length=0 * u.mm)
    assert str(caught.value) == (
        "focal_length = 0.0 mm: must be at least 5 mm. Give the focal length; a reducer comes on top."
    )
    assert caught.value.name == "focal_length"


@pytest.mark.parametrize("bad", [-5 * u.mm, np.nan * u.mm, np.inf * u.mm, 3 * u.kg, 3.0, "3 mm", None])
def test_what_is_no_positive_length_is_refused(bad):
    with pytest.raises(InvalidInputError, match="focal_length"):
        Telescope(name="x", aperture=100 * u.mm, focal_length=bad)


def test_values_are_held_in_the_rules_unit():
    assert Telescope(name="x", aperture=10 * u.cm, focal_length=1 * u.m).focal_length.unit == u.mm


@pytest.mark.parametrize(
    ("value", "rule", "words"),
    [
        (1.5, Rule(kind="whole"), "whole number"),
        (True, Rule(kind="number"), "finite number"),
        ("red", Rule(kind="choice", choices=("mono", "bayer")), "one of mono, bayer"),
        ("  ", Rule(kind="text"), "at least one character"),
        (1, Rule(kind="truth"), "true or false"),
    ],
)
def test_plain_kinds(value, rule, words):
    with pytest.raises(InvalidInputError, match=words):
        check("thing", value, rule)


def test_nearest_names_are_offered():
    assert did_you_mean("focal_lenght", ["focal_length", "aperture"]) == "Did you mean focal_length?"


@check_units
def area(width: u.Quantity[u.m], height: u.Quantity[u.m] | None = None, *, share: u.Quantity[u.one] = 1.0,
         warmth: u.Quantity[u.deg_C] = 0 * u.deg_C, name: str = "") -> u.Quantity[u.m**2]:
    """Stand for any function of quantities."""
    return width * (width if height is None else height) * share


def test_a_function_takes_any_unit_that_converts():
    assert area(2 * u.m, 50 * u.cm) == 1 * u.m**2
    assert area(2 * u.m, height=None, share=0.5, warmth=280 * u.K, name="x") == 2 * u.m**2
    assert area(300 * u.cm).unit == u.m**2


@pytest.mark.parametrize("call", [lambda: area(2.0), lambda: area("2 m"), lambda: area(None), lambda: area(np.ones(3)),
                                  lambda: area(1 * u.m, 3), lambda: area(1 * u.m, share="half")])
def test_a_function_refuses_what_has_no_unit(call):
    with pytest.raises(TypeError, match=r"area: (width|height|share) = .*: must carry a unit"):
        call()


@pytest.mark.parametrize("call", [lambda: area(2 * u.s), lambda: area(2 * u.m, height=2 * u.kg),
                                  lambda: area(2 * u.m, share=2 * u.m), lambda: area(2 * u.m, warmth=3 * u.hPa)])
def test_a_function_refuses_a_unit_that_does_not_convert(call):
    with pytest.raises(u.UnitsError, match=r"area: (width|height|share|warmth) = .*: must have a unit like"):
        call()


def test_a_missing_argument_is_still_missing():
    with pytest.raises(TypeError, match="width"):
        area()


@pytest.mark.parametrize("name", ["![x](http://example.org/x)", "[x](y)", "a\u202eb", "a\x1b[31m", "a\nb", "x" * 201])
def test_a_name_that_would_act_on_a_page_or_a_terminal_is_refused_and_shown_without_it(name):
    with pytest.raises(InvalidInputError, match=r"must (be one line|hold no marks|have at most 200)") as refused:
        check("name", name, Rule(kind="text"))
    assert not LINKING.search(str(refused.value))
    assert not STEERING.search(str(refused.value))

"""Angles as people type them."""

import pytest
from astropy import units as u

from planner.checks import Rule
from planner.errors import InvalidInputError
from planner.files.angles import typed_angle
from planner.files.quantities import parse_option, parse_quantity

DEGREES = Rule(unit=u.deg, kind="quantity", at_least=-180, at_most=180)


@pytest.mark.parametrize(("text", "value"), [
    # 24′ is 0.4°, 36′ 18″ is 0.605°: sixtieths.
    ("47.4", 47.4), ("47,4", 47.4), ("-31,8", -31.8), ("−31.8", -31.8), ("47° 24′ N", 47.4), ("47 24 S", -47.4),
    ("N 47 24", 47.4), ("47°24'0\"N", 47.4), ("30 36 18 s", -30.605), ("30°36.3' S", -30.605), ("47d24m", 47.4),
    ("0 30 S", -0.5), ("-0 30", -0.5), ("47.4N", 47.4),
])
def test_a_latitude_in_any_spelling(text, value):
    assert typed_angle("latitude", text) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("text", [
    "91", "47 60 N", "-47 N", "47 24 E", "47.5 30", "north", "", "47 24 18 9", "N", "S47N"])
def test_what_is_no_latitude_is_refused(text):
    with pytest.raises(InvalidInputError, match=r"Write it like 47\.4"):
        typed_angle("latitude", text)


def test_longitudes_have_letters_of_their_own():
    assert typed_angle("longitude", "70° 42′ W") == pytest.approx(-70.7)
    assert typed_angle("longitude", "180") == 180
    with pytest.raises(InvalidInputError):
        typed_angle("longitude", "70 N")


@pytest.mark.parametrize(("name", "text", "value"), [
    ("latitude", "47°24'N", 47.4), ("--latitude", "31 48 S", -31.8), ("latitude_deg", "−31° 48′", -31.8),
    ("longitude", "7.5 W", -7.5), ("site.longitude", "149 36 18 E", 149.605), ("hour_angle", "-15 30", -15.5),
])
def test_a_file_and_an_option_take_degrees_and_minutes(name, text, value):
    assert parse_quantity(name, text, DEGREES).to_value(u.deg) == pytest.approx(value, abs=1e-9)
    assert parse_option(name, text, DEGREES).to_value(u.deg) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(("name", "text"), [
    ("latitude", "47 degrees"), ("latitude", "2820 arcmin"), ("longitude", "47°"), ("altitude", "47 deg")])
def test_a_unit_is_no_letter_for_a_side(name, text):
    assert parse_quantity(name, text, DEGREES).to_value(u.deg) == pytest.approx(47)


@pytest.mark.parametrize(("name", "text", "words"), [
    ("latitude", "47 60 N", "minutes and seconds below 60"), ("latitude", "47 24 E", "must be"),
    ("hour_angle", "30 S", "must "), ("latitude", "95 N", "at most 90"), ("longitude", "-7 W", "standing for the sign"),
])
def test_what_is_no_such_angle_is_refused_as_it_was_typed(name, text, words):
    with pytest.raises(InvalidInputError, match=words) as refused:
        parse_option(name, text, DEGREES)
    assert refused.value.value == text

"""Numbers and sizes as people type them."""

import pytest

from planner.checks import Rule
from planner.errors import InvalidInputError
from planner.files.forms.typed import typed_number, typed_size

DEGREES = Rule(at_least=0, at_most=85, remedy="Give degrees.")


@pytest.mark.parametrize(("text", "value"), [("29.5", 29.5), ("29,5", 29.5), (" 30 ", 30), (",5", 0.5), ("7.", 7)])
def test_a_decimal_mark_is_a_point_or_a_comma(text, value):
    assert typed_number("limit", text, DEGREES) == value


@pytest.mark.parametrize(("text", "words"), [
    ("999", "must be at most 85"), ("-1", "must be at least 0"), ("1,234.5", "at most one decimal point or comma"),
    ("1 234", "at most one"), ("1e3", "must be at most 85"), ("1e", "a number"), ("", "a number"), ("nan", "a number"),
])
def test_anything_else_is_refused_with_its_value(text, words):
    with pytest.raises(InvalidInputError, match=words) as refused:
        typed_number("limit", text, DEGREES)
    assert refused.value.value == text


@pytest.mark.parametrize(("text", "value"), [("60", 60), ("60 s", 60), ("1 min", 60), ("1,5min", 90), ("0.5 h", 1800),
                                           ("1e3", 1000), ("6e-1 min", 36)])
def test_where_a_label_names_its_unit_another_will_do(text, value):
    assert typed_number("Length of one (s)", text, Rule(at_least=1, at_most=7200)) == pytest.approx(value)


def test_another_unit_keeps_the_rule_and_its_kind():
    for text, words in (("3 h", "at most 7200"), ("5 m", "must have a unit like s"), ("10 potatoes", "no known unit")):
        with pytest.raises(InvalidInputError, match=words):
            typed_number("Length of one (s)", text, Rule(at_least=1, at_most=7200))


@pytest.mark.parametrize(("text", "arcmin"), [
    ("3x2 deg", (180, 120)), ("2 × 3deg", (180, 120)), ("190′ × 60′", (190, 60)), ("1°", (60, 60)),
    ("3,5 X 2 deg", (210, 120)), ("1 deg x 30 arcmin", (60, 30)),
])
def test_a_size_is_one_angle_or_two(text, arcmin):
    assert [side.to_value("arcmin") for side in typed_size("size", text)] == pytest.approx(arcmin)


@pytest.mark.parametrize(("text", "words"), [
    ("3x2", "with their unit"), ("30", "with their unit"), ("abc", "one angle or two"), ("", "one angle"),
    ("2x3x4 deg", "one angle or two"), ("0x2 deg", "more than 0"), ("3 kg", "unit like arcmin"),
    ("200 deg", "at most 10800"),
])
def test_what_is_no_size_is_refused_with_how_to_write_it(text, words):
    with pytest.raises(InvalidInputError, match=rf"{words}.*Write it like \"3x2 deg\"") as refused:
        typed_size("size", text)
    assert refused.value.value == text

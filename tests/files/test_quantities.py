"""Quantities as people write them."""

import contextlib
import re

import hypothesis
import numpy as np
import pytest
from astropy import units as u
from hypothesis import strategies as st

from planner.checks import Rule
from planner.errors import InvalidInputError
from planner.files.quantities import parse_option, parse_quantity, quantity_text

LENGTH, ANGLE = Rule(unit=u.mm), Rule(unit=u.deg)


@pytest.mark.parametrize(
    ("text", "rule", "value"),
    [
        ("3.8 um", LENGTH, 3.8 * u.um), ("3.8µm", LENGTH, 3.8 * u.um), ("3.8 μm", LENGTH, 3.8 * u.um),
        (" 2  m ", LENGTH, 2 * u.m), ("8 inches", LENGTH, 203.2 * u.mm), ("-1.5e-3 m", LENGTH, -1.5 * u.mm),
        ("47°", ANGLE, 47 * u.deg), ("−2 arcmin", ANGLE, -2 * u.arcmin), ("2.3″", ANGLE, 2.3 * u.arcsec),
        ("4'", ANGLE, 4 * u.arcmin), ("6″/h", Rule(unit=u.arcsec / u.h), 6 * u.arcsec / u.h),
        ("1.5 e-", Rule(unit=u.electron), 1.5 * u.electron), ("2e-3 e-/s", Rule(unit=u.electron / u.s),
                                                             0.002 * u.electron / u.s),
        ("0.8 e-/ADU", Rule(unit=u.electron / u.adu), 0.8 * u.electron / u.adu),
        ("21.2 mag/arcsec²", Rule(unit=u.mag / u.arcsec**2), 21.2 * u.mag / u.arcsec**2),
        ("21.2 mag/arcsec^2", Rule(unit=u.mag / u.arcsec**2), 21.2 * u.mag / u.arcsec**2),
        ("0.1 arcsec/sqrt(min)", Rule(unit=u.arcsec / u.min**0.5), 0.1 * u.arcsec / u.min**0.5),
        ("0.1 arcsec/min(1/2)", Rule(unit=u.arcsec / u.min**0.5), 0.1 * u.arcsec / u.min**0.5),
        ("-5 °C", Rule(unit=u.deg_C), -5 * u.deg_C), ("-5 C", Rule(unit=u.deg_C), -5 * u.deg_C),
        ("23.1e-6 1/K", Rule(unit=1 / u.K), 23.1e-6 / u.K), (".5 s", Rule(unit=u.s), 0.5 * u.s),
    ],
)
def test_spellings(text, rule, value):
    read = parse_quantity("x", text, rule)
    np.testing.assert_allclose(read.to_value(value.unit), value.value, rtol=1e-12)


def test_fahrenheit_means_a_temperature():
    # 50 F is 10 C: fixed points 32 F = 0 C, 212 F = 100 C.
    read = parse_quantity("x", "50 F", Rule(unit=u.deg_C))
    assert read.to_value(u.deg_C, u.temperature()) == pytest.approx(10)


@pytest.mark.parametrize("bad", ["", "mm", "3", "3,8 um", "3.8 xx", "1 2 mm", "mm 3", None, 3, True, ["3 mm"],
                                 "3.8 um; drop", "0x10 mm", "3 mm(", "1_000 mm", "٣ mm "])
def test_what_is_no_quantity_is_refused_with_an_example(bad):
    with pytest.raises(InvalidInputError, match="a number with a unit like mm"):
        parse_quantity("x", bad, LENGTH)


UNITS = [u.mm, u.arcsec / u.h, u.electron / u.adu, u.mag / u.arcsec**2, u.arcsec / u.min**0.5, u.deg_C, 1 / u.K]


@hypothesis.given(st.floats(-1e12, 1e12, allow_subnormal=False), st.sampled_from(UNITS))
def test_what_is_written_is_read_back(value, unit):
    read = parse_quantity("x", quantity_text(value * unit), Rule(unit=unit))
    assert read.unit == unit
    np.testing.assert_allclose(read.value, value, rtol=1e-9)


@hypothesis.given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    with contextlib.suppress(InvalidInputError):
        assert isinstance(parse_quantity("x", text, LENGTH), u.Quantity)


@pytest.mark.parametrize(("text", "hint"), [("2,3 arcsec", '"2.3 arcsec"'), ("1,000 mm", '"1.000 mm", or "1000 mm".'),
                                            ("−0,5", '"−0.5".'), ("0,125 mm", '"0.125 mm".')])
def test_a_decimal_comma_is_refused_with_the_point_in_its_place(text, hint):
    with pytest.raises(InvalidInputError, match=re.escape(f"Write a decimal point: {hint}")):
        parse_quantity("x", text, Rule(unit=u.arcsec, kind="quantity"))


@pytest.mark.parametrize("text", ["60", "60 s", " 60.0 ", "6e1", "1 min"])
def test_a_bare_number_in_an_option_has_the_rules_unit(text):
    assert parse_option("--length", text, Rule(unit=u.s, kind="quantity")) == 60 * u.s


@pytest.mark.parametrize("text", ["47°24′ E", "60 h", "3600"])
def test_an_option_that_is_refused_is_told_as_it_was_typed(text):
    with pytest.raises(InvalidInputError, match=f"--latitude = {text}: must "):
        parse_option("--latitude", text, Rule(unit=u.deg, kind="quantity", at_most=90))


@pytest.mark.parametrize("text", ["inf", "nan", "-inf"])
def test_what_is_no_finite_number_is_refused_as_such(text):
    with pytest.raises(InvalidInputError, match="must be a finite value"):
        parse_option("--length", text, Rule(unit=u.s, kind="quantity"))

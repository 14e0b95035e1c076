"""Concrete by age beside its published rows: limits, inversion, refusals."""

import math

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.errors import InvalidInputError
from planner.pier import age_at_share, concrete_age, maturity_factor, strength_share


@pytest.mark.parametrize("cement", ["R", "N", "S"])
def test_whole_at_28_days_and_no_more_than_the_limit(cement):
    assert strength_share(28 * u.day, cement=cement) == 1
    assert strength_share(1e9 * u.day, cement=cement) < math.exp({"R": 0.20, "N": 0.25, "S": 0.38}[cement])


@pytest.mark.parametrize("cement", ["R", "N", "S"])
def test_age_of_a_share_inverts_the_law(cement):
    shares = np.linspace(0.1, 1.1, 11)
    ages = [age_at_share(share, cement=cement).value for share in shares]
    assert_allclose(strength_share(ages * u.day, cement=cement).value, shares, rtol=1e-12)


def test_a_share_that_never_comes_is_refused():
    with pytest.raises(InvalidInputError, match=r"share = 1.5: must be more than 0 and less than 1\.28"):
        age_at_share(1.5)


def test_cold_waits_longer():
    warm, cold = (concrete_age(25 * u.MPa, temperature=t * u.deg_C) for t in (20, 5))
    assert_allclose((cold.bolt_age / warm.bolt_age).value,
                    (maturity_factor(20 * u.deg_C) / maturity_factor(5 * u.deg_C)).value)
    assert "Bolt the mount down after" in cold.answer
    # The day in words is the first whole day on which the strength is there.
    assert strength_share(math.ceil(cold.bolt_age.value) * u.day * maturity_factor(5 * u.deg_C)) >= 0.7


def test_slow_cement_waits_longer():
    ages = [concrete_age(25 * u.MPa, cement=cement).bolt_age.value for cement in "RNS"]
    assert ages == sorted(ages)
    assert 3 < ages[1] < 7  # class N at 20 C by the code's own law: less than the week of common practice (no source)


@pytest.mark.parametrize(("call", "line"), [
    (lambda: strength_share(0 * u.day), "age = 0.0 d: must be more than 0 d"),
    (lambda: strength_share(7 * u.day, cement="X"), "cement = X: must be one of R, N, S"),
    (lambda: maturity_factor(-5 * u.deg_C), "temperature = -5.0 deg_C: must be at least 0 deg_C"),
    (lambda: strength_share(7), "must carry a unit"),
])
def test_refusals(call, line):
    with pytest.raises(InvalidInputError) as refused:
        call()
    assert line in str(refused.value)


def test_stiffness_grows_more_slowly_than_strength():
    # EN 1992-1-1 eq. 3.5, from memory: E(t) = (f(t)/f)^0.3 E. At 7 days of class N, 0.7788^0.3 = 0.928.
    found = concrete_age(25 * u.MPa)
    seventh = list(found.age.value).index(7)
    whole = list(found.age.value).index(28)
    # 1e-3: at 20 C the maturity's exponent is 0.002, not 0.
    assert_allclose((found.modulus[seventh] / found.modulus[whole]).value, 0.928, atol=1e-3)

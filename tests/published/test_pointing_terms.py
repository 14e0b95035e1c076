"""The pointing model against first-order terms and a simulated set of pointings made by an independent program."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose
from published.truth_set import SIDES, rows_of, true_parameters, true_set
from tracking.pointings import mount_from_sky, sky_from_mount

from planner.tracking import PointingTerms, polar_error

LATITUDE = 47.5
# Displayed minus true, first order (P. T. Wallace, Proc. SPIE 4848, 125 (2002) and 7019, 701908 (2008), derived
# anew): dHA, dDec as functions of H, dec, latitude and the side (+1 direct, -1 reversed).
FIRST_ORDER = {
    "hour_angle_zero": lambda h, d, p, s: (-1 + 0 * h, 0 * h),
    "declination_zero": lambda h, d, p, s: (0 * h, -s + 0 * h),
    "collimation": lambda h, d, p, s: (s / np.cos(d), 0 * h),
    "axes_not_square": lambda h, d, p, s: (-s * np.tan(d), 0 * h),
    "polar_altitude": lambda h, d, p, s: (np.sin(h) * np.tan(d), np.cos(h)),
    "polar_azimuth": lambda h, d, p, s: (np.cos(h) * np.tan(d), -np.sin(h)),
    "tube_flexure": lambda h, d, p, s: (-np.sin(h) * np.cos(p) / np.cos(d),
                                   np.sin(p) * np.cos(d) - np.cos(p) * np.sin(d) * np.cos(h)),
}


@pytest.mark.parametrize("side", ["east", "west"])
@pytest.mark.parametrize("latitude", [LATITUDE, -33.0])
@pytest.mark.parametrize("name", FIRST_ORDER)
def test_first_order_terms(name, side, latitude):
    # 8 directions, both pier sides, 7 terms; largest error 1e-8 of the term. Central difference over 2 arcsec.
    h, d = np.radians([-70.0, -40, -20, -5, 10, 30, 55, 80]), np.radians([-25.0, 70, 10, 40, -10, 60, 0, 35])
    dh, dd = 0.0, 0.0
    for sign in (1, -1):
        seen = mount_from_sky(PointingTerms(**{name: sign * u.arcsec}), latitude=latitude * u.deg,
                              hour_angle=h * u.rad, declination=d * u.rad, pier_side=side)
        dh = dh + sign * (seen.hour_angle.to_value(u.rad) - h) / np.radians(2 / 3600)
        dd = dd + sign * (seen.declination.to_value(u.rad) - d) / np.radians(2 / 3600)
    expected = FIRST_ORDER[name](h, d, np.radians(latitude), 1 if side == "east" else -1)
    # 1e-8 is the row's tolerance; 1e-15 rad of rounding over 2 arcsec leaves 1e-10.
    assert_allclose(dh, expected[0], atol=1e-8)
    assert_allclose(dd, expected[1], atol=1e-8)


@pytest.fixture(scope="module")
def truth():
    rows, about = rows_of("all"), true_set()
    columns = {name: np.array([float(row[name]) for row in rows]) * u.deg for name in (
        "true_ha_deg", "true_dec_deg", "disp_ha_deg", "disp_dec_deg")}
    sides = [SIDES[row["pier_side"]] for row in rows]
    terms = PointingTerms(**{name: value * u.arcsec for name, value in true_parameters(about).items()})
    return terms, about["latitude_deg"] * u.deg, columns, sides


def test_forward_model_on_the_truth_set(truth):
    # Forward: 112 pointings by rigid rotations, both pier sides, noiseless. The columns have nine decimals:
    # 1.8e-6 arcsec of rounding on either side, times sec dec.
    terms, latitude, columns, sides = truth
    seen = mount_from_sky(terms, latitude=latitude, hour_angle=columns["true_ha_deg"],
                          declination=columns["true_dec_deg"], pier_side=sides)
    assert_allclose((seen.hour_angle - columns["disp_ha_deg"]).to_value(u.arcsec), 0, atol=1e-5)
    assert_allclose((seen.declination - columns["disp_dec_deg"]).to_value(u.arcsec), 0, atol=1e-5)


def test_inverse_model_on_the_truth_set(truth):
    # As above, from what the mount displays to the sky.
    terms, latitude, columns, sides = truth
    seen = sky_from_mount(terms, latitude=latitude, hour_angle=columns["disp_ha_deg"],
                          declination=columns["disp_dec_deg"], pier_side=sides)
    assert_allclose((seen.hour_angle - columns["true_ha_deg"]).to_value(u.arcsec), 0, atol=1e-5)
    assert_allclose((seen.declination - columns["true_dec_deg"]).to_value(u.arcsec), 0, atol=1e-5)


def test_polar_error_of_the_terms():
    # polar_altitude is the altitude error in the north; polar_azimuth is the azimuth error times cos(latitude), to
    # first order.
    error = polar_error(PointingTerms(polar_altitude=60 * u.arcsec, polar_azimuth=-30 * u.arcsec), latitude=60 * u.deg)
    assert_allclose(error.altitude_error.to_value(u.arcmin), 1, atol=1e-3)
    assert_allclose(error.azimuth_error.to_value(u.arcmin), -1, atol=1e-3)

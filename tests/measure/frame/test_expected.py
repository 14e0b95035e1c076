"""Predicted against measured: frames drawn by GalSim as the rig should make them agree with the prediction."""

import re
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from measure.frame_sim import Sky, draw

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.measure.frame.expected import compare, expected_stars
from planner.measure.frame.text import prediction_rows
from planner.measure.stars.star_field import measure_frame

SIDEREAL_ARCSEC_PER_S = 15.0410672
PLACE = {"declination": 0 * u.deg, "hour_angle": 0 * u.deg}


@pytest.fixture(scope="module")
def parts():
    """A rig whose only fault is its drive's rate, a site and a filter."""
    owned = load_equipment(packaged_data("equipment.toml"))
    rig = owned.rig("nebulae")
    still = 0 * u.arcsec / u.h
    mount = replace(rig.mount, periodic=(), jitter=0 * u.arcsec, wander=0 * u.arcsec / u.min**0.5, encoder_counts=None,
                    polar_altitude_error=0 * u.arcmin, polar_azimuth_error=0 * u.arcmin, flexure_ra=still,
                    flexure_dec=still, rate_error_ppm=20000.0)
    return replace(rig, mount=mount), owned.site("hill"), rig.filters[0]


@pytest.mark.parametrize("seconds", [6, 12])
def test_a_frame_of_this_rig_agrees_with_its_prediction(parts, seconds):
    rig, site, band = parts
    expected = expected_stars(rig, site, band, exposure=seconds * u.s, **PLACE)
    scale = (rig.camera.pixel_pitch / rig.telescope.focal_length).to(u.arcsec, u.dimensionless_angles()) / u.pix
    # The trail by hand; the drift of refraction, some 300 ppm, is 1.5 % of it.
    length = 20000e-6 * SIDEREAL_ARCSEC_PER_S * seconds / scale.value
    still = expected.still_fwhm[1].value / scale.value
    # Drawn as pure air of nearly that width: the pixel widens a star of 2.8 pixels by about 0.09.
    image, _ = draw(Sky(fwhm=still - 0.09, trail=length, angle=0, stars=150, size=400, seed=1))
    found = measure_frame(image)
    comparison = compare(found, expected, scale)
    assert found.elongation == pytest.approx(expected.elongation[1], abs=0.015)
    assert comparison.fwhm.value == pytest.approx(expected.fwhm[1].value, rel=0.03)
    assert all("as expected for this rig" in sentence for sentence in comparison.sentences)
    assert abs((expected.position_angle.value - 90 + 90) % 180 - 90) < 3  # a drive error lies east-west


def test_a_better_or_worse_frame_is_called_so(parts):
    rig, site, band = parts
    expected = expected_stars(rig, site, band, exposure=3 * u.s, **PLACE)
    scale = 0.97 * u.arcsec / u.pix
    round_star = measure_frame(draw(Sky(fwhm=2.0, stars=100, size=300, seed=2))[0])
    long_star = measure_frame(draw(Sky(fwhm=4.5, trail=8.0, stars=60, size=400, seed=3))[0])
    better, worse = (compare(field, expected, scale).sentences for field in (round_star, long_star))
    assert "narrower" in better[0]
    assert "did better" in better[1]
    assert "wider" in worse[0]
    assert "more than the mount's table says" in worse[1]


def test_a_guided_frame_is_held_against_no_motion(parts):
    rig, site, band = parts
    expected = expected_stars(rig, site, band, exposure=300 * u.s, guided=True, **PLACE)
    assert expected.guided
    assert np.all(expected.elongation == 0)
    assert np.all(expected.fwhm == expected.still_fwhm)


def test_words_and_the_numbers_beside_them_agree(parts):
    # Read back from the sentence itself, as a person would: the range it names holds what it calls expected.
    rig, site, band = parts
    expected = expected_stars(rig, site, band, exposure=3 * u.s, **PLACE)
    low, high = expected.elongation[[0, 2]]
    field = measure_frame(draw(Sky(fwhm=2.0, stars=100, size=300, seed=2))[0])
    heard = set()
    for value in (low - 0.1, low - 0.011, low - 0.009, high, high + 0.009, high + 0.021, high + 0.1):
        for error in (0.0002, 0.0052):
            found = compare(replace(field, elongation=value, elongation_error=error), expected, 1 * u.arcsec / u.pix)
            measured, least, most, slack = (float(figure.replace("−", "-")) for figure in re.findall(
                r"-?[0-9.]*[0-9]", found.sentences[1].replace("8 of 10 ", "").split(":")[0]))
            within = least - slack <= measured <= most + slack
            assert found.sentences[1].endswith("as expected for this rig.") == within, found.sentences[1]
            heard.add(within)
    assert heard == {True, False}
    wide, still = prediction_rows(found)[:2]
    assert wide["measured"] == still["measured"]  # no trail in this frame, and yet two predictions
    assert wide["in 8 of 10"] != still["in 8 of 10"]
    name, least, most = re.match(r"(.*) [0-9.]+″ measured, ([0-9.]+) to ([0-9.]+)″", found.sentences[0]).groups()
    assert f"{name} (″)" == still[""]
    assert f"{least} to {most}" == still["in 8 of 10"]

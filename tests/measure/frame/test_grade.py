"""Grades and trends of series, from simulated frames."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from measure.frame_sim import Sky, draw

from planner.measure.frame.grade import grades, trends, wider_than_expected
from planner.measure.stars.star_field import measure_frame

TOLERANCE = {"tolerated_axis_ratio": 0.9, "tolerated_growth": 0.2}


def field(**sky):
    return measure_frame(draw(Sky(**{"fwhm": 3.0, "stars": 120, "size": 300, "seed": 1, **sky}))[0])


@pytest.fixture(scope="module")
def good():
    return field()


def verdicts(fields):
    return [grade.verdict for grade in grades(fields, **TOLERANCE)]


def test_one_frame(good):
    assert verdicts([good]) == ["keep"]
    assert verdicts([field(trail=3.5)]) == ["reject"]  # minor/major 0.78
    assert verdicts([field(coma=0.2)]) == ["look"]  # round in the middle, 0.15 in the corners
    assert verdicts([field(fwhm=0.5)]) == ["look"]  # sharper than the pixels tell is no reason to lose a frame
    assert verdicts([field(stars=1, flux=(5e4, 5e4))]) == ["look"]
    assert verdicts([measure_frame(np.random.default_rng(1).normal(1000, 10, (100, 100)))]) == ["reject"]


def test_at_the_limit_is_to_be_looked_at(good):
    frame = replace(good, elongation=0.099, elongation_error=0.004, elongation_significant=True)
    assert verdicts([frame]) == ["look"]
    assert verdicts([replace(frame, elongation=0.085)]) == ["keep"]
    assert verdicts([replace(frame, elongation=0.115)]) == ["reject"]


def test_in_a_series_width_and_clouds_count(good):
    series = [good] * 6
    blurred = replace(good, fwhm=good.fwhm * 1.3)
    cloud, thin = replace(good, found=good.found // 5), replace(good, found=good.found // 2)
    assert verdicts([*series, blurred, cloud, thin]) == ["keep"] * 6 + ["reject", "reject", "look"]
    reasons = [" ".join(grade.reasons) for grade in grades([*series, blurred, cloud, thin], **TOLERANCE)]
    assert "FWHM 30 % above the best" in reasons[6]
    assert "cloud" in reasons[7]
    assert "thin cloud" in reasons[8]
    assert verdicts([blurred]) == ["keep"]  # alone there is nothing to be wider than


def test_a_frame_of_which_no_star_can_be_measured_is_lost_where_others_can(good):
    doubled = replace(good, parts=None, stars=good.stars.chosen(np.zeros(0, dtype=int)), reason="no usable star")
    assert verdicts([*[good] * 6, doubled, replace(doubled, narrow=True)])[6:] == ["reject", "look"]
    assert verdicts([doubled]) == ["look"]
    assert grades([replace(doubled, narrow=True)], **TOLERANCE)[0].faults == {"stars"}  # not of its width


def test_a_bright_sky_takes_more_than_it_brings(good):
    # A plain mean of N frames of noise 1 and one of variance r: (N + 1)/sqrt(N + r) against sqrt(N).
    for variance, count in ((1.5, 40), (2.5, 40)):
        better = (count + 1) / np.sqrt(count + variance) > np.sqrt(count)
        [*_, grade] = grades([good] * 7, **TOLERANCE, noise=np.array([1.0] * 6 + [variance]))
        assert (grade.verdict == "keep") == better
    [*_, grade] = grades([good] * 7, **TOLERANCE, noise=np.array([1.0] * 6 + [12]))
    assert (grade.verdict, grade.faults) == ("reject", {"sky"})


def test_alone_a_frame_wider_than_its_rig_makes_stars_is_to_be_looked_at(good):
    [kept] = grades([good], **TOLERANCE)
    assert wider_than_expected(kept).verdict == "look"
    [lost] = grades([replace(good, elongation=0.3)], **TOLERANCE)
    assert wider_than_expected(lost) == lost


def test_a_trend_is_told_from_noise(good):
    random = np.random.default_rng(3)
    hours = np.linspace(0, 3, 40)
    noisy = [replace(good, fwhm=(3 + 0.2 * hour + random.normal(0, 0.05)) * u.pix,
                     elongation=0.05 + random.normal(0, 0.01)) for hour in hours]
    found = {trend.name: trend for trend in trends(noisy, hours)}
    assert found["FWHM"].significant
    assert found["FWHM"].per_hour == pytest.approx(0.2, abs=0.03)
    assert found["FWHM"].low < 0.2 < found["FWHM"].high
    assert not found["elongation"].significant
    assert not found["stars"].significant
    slight = {one.name: one for one in trends([replace(one, background=1000 - 0.1 * hour) for one, hour in
                                               zip(noisy, hours, strict=True)], hours)}
    assert not slight["background"].significant  # sure, and nothing to a sky of 1000
    assert slight["background"].chance < 1e-9
    assert trends(noisy[:4], hours[:4]) == []
    assert trends(noisy, np.zeros(40)) == []

"""Where the night goes and what widens the star: each step against the room that works it out by itself."""

import datetime

import numpy as np
import pytest
from astropy import units as u

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.advice.answer import BROAD_DEPRESSION, LOWEST_ALTITUDE, advise
from planner.session.advice.star_strip import RECOMMENDED, star_strip
from planner.session.advice.waterfall import night_waterfall, star_waterfall
from planner.session.worth.times import times_of
from planner.session.worth.useful_hours import useful_hours
from planner.session.worth.usefulness import usefulness

DARK, MOONLIT = datetime.date(2026, 11, 10), datetime.date(2026, 11, 22)  # new Moon on the 9th, full on the 24th


@pytest.fixture(scope="module")
def demo():
    return load_equipment(packaged_data("equipment.toml"))


def ask(demo, date=DARK, rig="nebulae", target="NGC 7331"):
    return advise(find_target(target), demo.rig(rig), demo.site("hill"), date, with_changes=False)


def steps(found):
    return dict(zip(found.names, found.levels.value, strict=True))


@pytest.mark.parametrize("date", [DARK, MOONLIT])
def test_airmass_and_moon_leave_the_useful_hours(demo, date):
    advice = ask(demo, date)
    found = useful_hours(
        u.Quantity([advice.target.ra]), u.Quantity([advice.target.dec]),
        usefulness(advice.rig, advice.site, advice.band), date, 1, depression=BROAD_DEPRESSION,
        minimum_altitude=LOWEST_ALTITUDE, mount=advice.rig.mount)
    level = steps(night_waterfall(advice))
    assert level["outside the limits"] == pytest.approx(found.up[0, 0].to_value(u.h), rel=0.01)
    # Nine moments against sixteen cells; beside a bright Moon the mean of the sky stands for its course.
    assert level["Moon"] == pytest.approx(found.useful[0, 0].to_value(u.h), rel=0.03 if date == DARK else 0.1)


def test_the_rest_is_speed_flips_and_focus(demo):
    advice = ask(demo)
    found, sub = night_waterfall(advice), advice.better
    level = steps(found)
    assert level["subs not kept"] / level["gusts"] == pytest.approx(sub.kept)
    assert level["flips"] == pytest.approx(level["Moon"] * (1 - 4 / 60 / advice.window.hours.to_value(u.h)), rel=0.01)
    focus = times_of(advice.rig, advice.site)
    assert level["focus"] / level["flips"] == pytest.approx(float(focus.refocus / (focus.refocus + focus.focus)))
    assert level["width by motion"] / level["focus"] == pytest.approx(sub.speed)
    assert np.all(np.diff(found.levels.value) <= 0)
    assert found.title.startswith("90 s guided")


def test_the_star_grows_from_the_seeing_to_the_one_on_the_sensor(demo):
    for rig in ("nebulae", "wide"):
        advice = ask(demo, rig=rig)
        found = star_waterfall(advice)
        level = steps(found)
        # Kolmogorov: the width goes with the wavelength to the power of -0.2; the site's is at 500 nm.
        colour = (advice.scene.band.centre / (500 * u.nm)).to_value(u.one) ** -0.2
        assert level["seeing in the zenith"] == pytest.approx(advice.site.seeing.to_value(u.arcsec) * colour, rel=1e-3)
        assert np.all(np.diff(found.levels.value) >= 0)
        way = "guided" if advice.need.better is advice.need.guided else "unguided"
        drawn = next(star for star in star_strip(advice.scene, advice.need, advice.star)
                     if star.method == way and star.role == RECOMMENDED)
        assert found.levels[-1].value == pytest.approx(drawn.fwhm.to_value(u.arcsec), rel=0.03)


def test_no_star_is_kept_and_nothing_flows(demo):
    never = ask(demo, target="NGC 104")
    assert night_waterfall(never) is None
    assert star_waterfall(never) is None

"""What if: figures that are tried against the same figures written into the equipment."""

import datetime
from dataclasses import replace

import pytest
from astropy import units as u
from astropy.units import allclose
from numpy.testing import assert_allclose

from planner.exposure.guide_need import PLAIN_GUIDER
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.advice.answer import advise
from planner.session.advice.glance import glance, glance_after
from planner.session.advice.what_if import GUIDE_SCOPE, NO_GUIDER, WhatIf, present_figures, what_if_text, with_figures

NIGHT = datetime.date(2026, 11, 10)


@pytest.fixture(scope="module")
def demo():
    return load_equipment(packaged_data("equipment.toml"))


def test_nothing_tried_is_the_same(demo):
    rig, site = demo.rig("nebulae"), demo.site("hill")
    assert with_figures(rig, site, WhatIf()) == (rig, site)
    assert what_if_text(WhatIf(), present_figures(rig, site)) == ""


def test_each_figure_is_changed_and_no_other(demo):
    rig, site = demo.rig("nebulae"), demo.site("hill")
    what = WhatIf(polar_error=1 * u.arcmin, periodic_error=6 * u.arcsec, seeing=1.8 * u.arcsec,
                  sky_brightness=20 * u.mag / u.arcsec**2, focal_factor=0.8, guider=NO_GUIDER)
    other, elsewhere = with_figures(rig, site, what)
    found = present_figures(other, elsewhere)
    assert allclose(found.polar_error, 1 * u.arcmin, rtol=1e-3)  # angles of a few arcmin add as on a plane
    assert allclose(found.periodic_error, 6 * u.arcsec)
    assert found.seeing == 1.8 * u.arcsec
    assert found.sky_brightness == 20 * u.mag / u.arcsec**2
    assert allclose(other.telescope.focal_length, 0.8 * rig.telescope.focal_length)
    assert other.guider is None
    assert other.camera == rig.camera
    assert other.mount.jitter == rig.mount.jitter
    # The axis keeps its direction from the pole.
    share = rig.mount.polar_azimuth_error / rig.mount.polar_altitude_error
    assert allclose(other.mount.polar_azimuth_error / other.mount.polar_altitude_error, share)
    assert "polar error 1.0′" in what_if_text(what, present_figures(rig, site))


def test_an_axis_on_the_pole_is_moved_and_a_drive_without_terms_stays(demo):
    rig, site = demo.rig("nebulae"), demo.site("hill")
    perfect = replace(rig, mount=replace(rig.mount, polar_altitude_error=0 * u.arcmin, polar_azimuth_error=0 * u.arcmin,
                                         periodic=(), errors={}))
    tried, _ = with_figures(perfect, site, WhatIf(polar_error=2 * u.arcmin, periodic_error=5 * u.arcsec))
    assert allclose(present_figures(tried, site).polar_error, 2 * u.arcmin)
    assert present_figures(tried, site).periodic_error is None


def test_what_a_guide_scope_brings_is_what_the_verdict_says_it_would(demo):
    alone, site = replace(demo.rig("nebulae"), guider=None), demo.site("hill")
    said = advise(find_target("NGC 7331"), alone, site, NIGHT, with_changes=False).need.with_guider
    rig, _ = with_figures(alone, site, WhatIf(guider=GUIDE_SCOPE))
    assert rig.guider == PLAIN_GUIDER
    need = advise(find_target("NGC 7331"), rig, site, NIGHT, with_changes=False).need
    assert max(need.guided.ladder.speed) / max(need.unguided.ladder.speed) == pytest.approx(said, rel=0.02)


def test_other_hours_are_the_hours_of_every_line(demo):
    advice = advise(find_target("NGC 7331"), demo.rig("nebulae"), demo.site("hill"), NIGHT, with_changes=False)
    rows = dict(glance_after(advice, 40 * u.h))
    assert rows["Depth"].endswith("in 40 h")
    assert rows["Without guiding"].endswith("of 40 h were lost")
    assert dict(glance_after(advice, 11.5 * u.h))["Depth"].endswith("in 11.5 h")  # as asked for, not rounded


def test_without_the_search_for_changes_the_answer_is_the_same(demo):
    asked = (find_target("NGC 7331"), demo.rig("nebulae"), demo.site("hill"), NIGHT)
    full, quick = advise(*asked), advise(*asked, with_changes=False)
    assert glance(quick) == glance(full)
    assert full.need.changes
    assert not quick.need.changes


def test_a_reducer_shortens_a_pick_off_too_and_leaves_a_guide_scope(demo):
    for rig in (demo.rig("nebulae"), demo.rig("travel")):
        tried, _ = with_figures(rig, demo.site(), WhatIf(focal_factor=0.8))
        factor = 0.8 if rig.guider.off_axis else 1
        assert_allclose(tried.guider.focal_length.value, factor * rig.guider.focal_length.value)
        assert_allclose(tried.guider.off_axis_offset.value * factor, rig.guider.off_axis_offset.value)

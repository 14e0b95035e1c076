"""Neighbours in one field: places and sizes after the catalogues, fields worked out by hand."""

import datetime
from dataclasses import replace

from astropy import units as u

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.session.night.plan import plan_night
from planner.session.projects.neighbours import one_job
from planner.session.projects.request import Need, Request
from planner.visibility import Target

DEMO = load_equipment(packaged_data("equipment.toml"))
RIG = DEMO.rig("nebulae")
LUMINANCE, RED = RIG.filters[0], RIG.filters[1]
# M 31 and M 110: 36.6' apart (by the cosine rule), 178' x 63' and 22' x 11' across (OpenNGC, from memory).
GREAT = Target(name="M 31", ra=10.6847 * u.deg, dec=41.2690 * u.deg, size_major=178 * u.arcmin)
SMALL = Target(name="M 110", ra=10.0921 * u.deg, dec=41.6853 * u.deg, size_major=22 * u.arcmin)


def wide(rig=RIG):
    """Return the rig with a field of 3 deg or more on its shorter side: tan(1.5 deg) = 0.0262 of the focal length."""
    camera = rig.camera
    short = min(camera.rows, camera.columns) * camera.pixel_pitch
    return replace(rig, telescope=replace(rig.telescope, focal_length=(short / 2 / 0.0262).to(u.mm)))


def wishes(**done):
    return [Request(target=SMALL, needs=(Need(band=LUMINANCE, hours=8 * u.h, done=done.get("small", 0) * u.h),)),
            Request(target=GREAT, needs=(Need(band=LUMINANCE, hours=5 * u.h, done=done.get("great", 0) * u.h),
                                         Need(band=RED, hours=2 * u.h)))]


def test_hours_of_one_count_for_the_other():
    (small, great), main = one_job(wishes(small=1, great=2), wide())
    assert main == {"M 110": "M 31"}
    assert small.needs[0].done >= small.needs[0].hours
    assert [(need.band.name, need.hours.value, need.done.value) for need in great.needs] == [
        (LUMINANCE.name, 8, 3), (RED.name, 2, 0)]


def test_a_field_that_holds_one_alone_leaves_two_jobs():
    # 36.6' + 11' to its far edge: a field of 2 x 40' does not hold it.
    narrow = replace(wide(), telescope=replace(wide().telescope, focal_length=wide().telescope.focal_length * 90 / 40))
    joint, main = one_job(wishes(), narrow)
    assert not main
    assert list(joint) == wishes()


def test_a_plan_says_whose_frames_show_the_neighbour():
    found = plan_night(wishes(), wide(), DEMO.site("hill"), datetime.date(2026, 11, 10))
    assert {block.target.name for block in found.blocks} == {"M 31"}
    small = next(one for one in found.outlooks if one.request.target.name == "M 110")
    assert small.reason == "In the field of M 31: one job, the hours of one count for the other."

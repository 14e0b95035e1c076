"""A project and what a night wants of it: mosaics panel by panel."""

import datetime

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import SkyCoord
from exposure.rigs import rig
from numpy.testing import assert_allclose

from planner.optics import field_of_view
from planner.session.projects.framing import framing
from planner.session.projects.project import DoneNight, Project
from planner.session.projects.project_requests import panel_notes, panel_targets, project_requests
from planner.visibility.target import Target

RIG = rig()  # a field of 1.31 x 0.87 deg
LARGE = Target("large", 10 * u.deg, 60 * u.deg, size_major=180 * u.arcmin, size_minor=60 * u.arcmin,
               position_angle=35 * u.deg)
NIGHT = {"night": datetime.date(2026, 10, 12), "filter": "green"}


def project(**more):
    return Project(target="large", wanted={"green": 4 * u.h}, mosaic=True, **more)


def test_panels_lie_where_the_framing_has_them():
    # Along the frame's width and height, its height at the position angle of the camera: offsets by astropy.
    panels = panel_targets(LARGE, RIG)
    camera = RIG.camera
    field = field_of_view(camera.pixel_pitch, camera.columns, camera.rows, RIG.telescope.focal_length)
    places = [place for row in framing(field, LARGE).rows for place in row]
    assert len(panels) == len(places) > 1
    turn = panels[0].camera_angle.to_value(u.rad)
    for panel, (across, up) in zip(panels, places, strict=True):
        east, north = (part.to_value(u.arcmin) for part in
                       SkyCoord(LARGE.ra, LARGE.dec).spherical_offsets_to(SkyCoord(panel.ra, panel.dec)))
        # 0.1 arcmin: a plane against a sphere over a degree.
        assert_allclose([east * np.cos(turn) - north * np.sin(turn), east * np.sin(turn) + north * np.cos(turn)],
                        [across, up], atol=0.1)


def test_each_panel_has_its_own_nights_and_its_share_of_those_that_name_none():
    done = (DoneNight(time=1 * u.h, panel=2, **NIGHT), DoneNight(time=2 * u.h, **NIGHT))
    requests = project_requests(project(done=done, priority=2.0), LARGE, RIG)
    share = 2 / len(requests)
    assert [request.needs[0].done.value for request in requests] == pytest.approx(
        [share, 1 + share, *[share] * (len(requests) - 2)])
    assert sum(request.priority for request in requests) == pytest.approx(2)
    assert {request.needs[0].hours.value for request in requests} == {4.0}


def test_one_frame_is_no_mosaic_and_the_camera_angle_is_said_once():
    small = Target("large", 10 * u.deg, 60 * u.deg, size_major=10 * u.arcmin)
    assert [request.target.name for request in project_requests(project(), small, RIG)] == ["large"]
    notes = panel_notes([request.target for request in project_requests(project(), LARGE, RIG)])
    assert len(notes) == 1
    assert "35°" in notes[0]


def test_a_rig_without_the_filter_has_nothing_to_do():
    assert project_requests(Project(target="large", wanted={"other": 4 * u.h}), LARGE, RIG) == ()


def test_a_mosaic_is_shown_by_panel():
    done = (DoneNight(time=1 * u.h, panel=2, **NIGHT), DoneNight(time=2 * u.h, panel=1, **NIGHT))
    assert [(one.target, one.left("green").value) for one in project(done=done).by_panel(3)] == [
        ("large panel 1", 2.0), ("large panel 2", 3.0), ("large panel 3", 4.0)]


def test_hours_of_no_panel_are_shared_alike_and_nothing_is_lost():
    done = (DoneNight(time=3 * u.h, counted=1.5 * u.h, **NIGHT), DoneNight(time=1 * u.h, panel=2, **NIGHT))
    parts = project(done=done).by_panel(3)
    assert [one.counted_time("green").value for one in parts] == [0.5, 1.5, 0.5]
    assert [one.done_time("green").value for one in parts] == [1.0, 2.0, 1.0]
    assert project(done=done).by_panel(1) == (project(done=done),)  # one frame holds it

"""Which targets are at hand, and what is wanted of them."""

import pytest
from astropy import units as u

from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.projects.wanted import left_to_do, own_projects, project_of, requests_for, standing_list
from planner.files.targets import find_target

DEMO = load_equipment(packaged_data("equipment.toml"))
RIG, HILL, PADDOCK = DEMO.rig(), DEMO.site("hill"), DEMO.site("paddock")


@pytest.fixture
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    folder = tmp_path / "planner"
    folder.mkdir()
    return folder


def test_the_demo_list_stands_in_until_there_is_one(own_folder):
    assert standing_list(HILL).is_demo
    assert len(standing_list(HILL).targets) == 10
    (own_folder / "targets.csv").write_text("name\nM 31\nNGC 224\nM 33\n")
    mine = standing_list(HILL)
    assert not mine.is_demo
    assert [target.name for target in mine.targets] == ["M 31", "M 33"]


def test_the_demos_list_is_of_the_sites_own_sky(own_folder):
    for site, least in ((HILL, 7), (PADDOCK, 10)):
        places = standing_list(site).targets
        # At upper transit the altitude is 90 deg less the difference of latitude and declination.
        high = [90 * u.deg - abs(site.latitude - place.dec) for place in places]
        assert sum(altitude > 30 * u.deg for altitude in high) >= least


def test_a_project_says_what_is_wanted(own_folder):
    assert own_projects() is None
    (own_folder / "projects.toml").write_text(
        '[[project]]\ntarget = "M 33"\npriority = 2\nwanted = {L = "8 h"}\n'
        'done = [{night = 2026-01-10, filter = "L", time = "3 h"}]\n')
    m33, m31 = find_target("M 33"), find_target("M 31")
    first, second, third = requests_for([(m33, None), (m31, None)], RIG, own_projects()) + requests_for(
        [(m33, 5.0)], RIG, None)
    assert [need.band.name for need in first.needs] == ["L"]
    assert (first.needs[0].hours, first.needs[0].done, first.priority) == (8 * u.h, 3 * u.h, 2)
    assert second.priority == 1
    assert len(second.needs) > 1
    assert third.priority == 5
    assert len(third.needs) > 1


def test_a_project_is_known_by_any_of_its_names(own_folder):
    (own_folder / "projects.toml").write_text(
        '[[project]]\ntarget = "no such thing"\nwanted = {L = "1 h"}\n\n'
        '[[project]]\ntarget = "Triangulum"\nwanted = {L = "8 h"}\n')
    projects = own_projects()
    assert project_of(find_target("M 33"), projects).target == "Triangulum"
    assert project_of(find_target("NGC 598"), projects).target == "Triangulum"
    assert project_of(find_target("M 31"), projects) is None
    assert left_to_do([find_target("M 33"), find_target("M 31")], projects) == [{"L": 8 * u.h}, None]

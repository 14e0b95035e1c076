"""Questions whose answer an observer of experience knows (common practice, no source), put to the demo equipment.

Telescopes of 400, 800 and 2100 mm focal length and 80, 200 and 300 mm aperture; the longest carries only the small
sensor within the rating of the mount.
"""

from dataclasses import replace

import pytest
from astropy import units as u

from planner.exposure.depth import Goal
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.advice.answer import filter_named
from planner.session.match.combinations import weigh_combinations
from planner.session.match.set_ups import set_ups

DUST = Goal(brightness=26 * u.mag / u.arcsec**2)


@pytest.fixture(scope="module")
def demo():
    demo = load_equipment(packaged_data("equipment.toml"))
    return replace(demo, cameras=tuple(camera for camera in demo.cameras if camera.name != "full-frame"))


@pytest.mark.parametrize(("name", "band", "ranking", "goal", "seeing", "telescope"), [
    ("NGC 7662", "L", None, None, 2.0, "long"),  # a planetary nebula of 17 arcsec in good air: focal length
    ("M 31", "L", None, None, None, "middle"),  # few panels, and twice the aperture of what holds it in one
    ("NGC 7023", "L", "surface", DUST, None, "middle"),  # dust of 18 arcmin: the widest aperture that holds it in one
    ("NGC 7331", "L", None, None, None, "long"),  # a small galaxy
    ("M 13", "L", None, None, None, "middle"),  # a globular: all of it, not six panels of it
    ("NGC 7000", "Ha", "surface", None, None, "short"),  # four degrees of hydrogen: the field
])
def test_the_answer_is_that_of_an_expert(demo, name, band, ranking, goal, seeing, telescope):
    rig = demo.rigs[0]
    site = demo.site() if seeing is None else replace(demo.site(), seeing=seeing * u.arcsec)
    asked = weigh_combinations(demo, rig, site, filter_named(rig, band), target=find_target(name), goal=goal,
                               ranking=ranking, binnings=(1,))
    first, *rest = set_ups(asked)
    assert first.choice.telescope.name == telescope
    assert first.works
    assert not first.reason
    if asked.ranking == "stars":
        assert first.choice.framing.panels == 1
    light = [row for row in rest if row.works and not row.reason]
    assert first.choice.framing.panels <= min(row.choice.framing.panels for row in light) + 3

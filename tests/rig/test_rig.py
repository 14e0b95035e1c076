"""What a rig makes of its parts together."""

from dataclasses import replace

import pytest
from astropy import units as u
from exposure.rigs import CAMERA, GUIDER, TELESCOPE, WORM_MOUNT
from exposure.rigs import rig as rig_of

LOADED = {"telescope": replace(TELESCOPE, mass=9.5 * u.kg), "camera": replace(CAMERA, mass=1 * u.kg),
          "guider": replace(GUIDER, mass=1.5 * u.kg)}  # 12 kg


@pytest.mark.parametrize(("rated", "said"), [
    (None, ""), (12 * u.kg, ""), (11.9 * u.kg, "at least 12.0 kg on a mount rated for 11.9 kg")])
def test_a_load_beyond_the_rating_is_named(rated, said):
    rig = replace(rig_of(), mount=replace(WORM_MOUNT, payload=rated), **LOADED)
    assert rig.load == 12 * u.kg
    assert rig.too_heavy == said
    assert (said in rig.load_notes[0]) if said else rig.load_notes == ()


def test_masses_that_nobody_gave_weigh_nothing():
    assert replace(rig_of(), guider=None).load == 0 * u.kg

"""A CCD's own binning is told with the advice, as match finds it."""

import datetime
from dataclasses import replace

import pytest
from astropy import units as u
from exposure.rigs import CAMERA, GUIDER, SITE
from session.owned import LONG, OWNED, RIG, SMALL

from planner.rig import Filter
from planner.session.advice.answer import advise
from planner.session.match.own_binning import own_binning_lines

NIGHT = datetime.date(2026, 10, 10)
HYDROGEN = Filter(name="hydrogen", centre=656.3 * u.nm, width=6 * u.nm)
# Through a line filter read noise rules: nine pixels read once against nine times.
CCD = replace(CAMERA, read_noise=12 * u.electron, register_well=1e5 * u.electron)


@pytest.mark.parametrize(("camera", "binning", "said"), [
    (CCD, 1, True), (CCD, 3, False), (replace(CCD, register_well=None), 1, False)])
def test_a_faster_binning_of_a_ccd_is_said(camera, binning, said):
    rig = replace(RIG, telescope=LONG, camera=camera, binning=binning, guider=GUIDER.on(LONG), filters=(HYDROGEN,))
    owned = replace(OWNED, rigs=(rig,))
    advice = advise(SMALL, owned.rig(), SITE, NIGHT, with_changes=False)
    lines = own_binning_lines(owned, advice, lambda target, rig: None)
    assert bool(lines) is said
    assert all(line.startswith("Binning 3 on the sensor") and "hours for fine detail" in line for line in lines)

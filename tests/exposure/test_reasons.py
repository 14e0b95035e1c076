"""What the reasons say of what nobody measured: gusts, and what the air leaves of guiding."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import FRICTION_MOUNT, GREEN, GUIDER, SITE, rig

from planner.exposure import observing_scene
from planner.exposure.guide_need import guide_need
from planner.exposure.reasons import _outcome

WINDOW = np.linspace(-3, 3, 9) * u.hourangle
# A fast step of the ladder decides: gusts limit a mount that could track for long.
STEADY = replace(FRICTION_MOUNT, polar_altitude_error=0 * u.arcmin, polar_azimuth_error=0 * u.arcmin)


def need_of(hours):
    scene = observing_scene(rig(mount=STEADY, guider=GUIDER), replace(SITE, disturbance_interval=hours * u.h), GREEN,
                            declination=40 * u.deg, hour_angle=WINDOW)
    return guide_need(scene)


@pytest.mark.parametrize("hours", [0.5, 1.0])
def test_where_gusts_limit_half_and_double_are_what_following_them_gives(hours):
    need = need_of(hours)
    assert need.guided.limited_above_by == "gusts"
    text = next(reason for reason in need.reasons if reason.startswith("Guided, "))
    assert f"gusts (taken to come every {hours:g} h" in text
    often, seldom = (need_of(hours * factor).guided.recommended.value for factor in (0.5, 2))
    if often == seldom:
        assert "half or twice as often gives the same" in text
    else:
        assert f"{often:g} s if twice as often, {seldom:g} s if half as often" in text


def test_a_rig_without_guider_is_told_its_own_share():
    scene = observing_scene(rig(mount=STEADY), SITE, GREEN, declination=40 * u.deg, hour_angle=WINDOW)
    need = guide_need(scene)
    share = 100 * need.unguided.ladder.speed.max() / need.perfect_speed
    assert f"unguided reaches {share:.0f} % of what a perfect mount" in need.reasons[0]


@pytest.mark.parametrize(("share", "words"), [(0.498, "does not quite reach 50 %"), (0.45, "does not reach 50 %")])
def test_a_share_that_is_shown_as_the_one_asked_for_is_said_to_fall_just_short(share, words):
    ladder = SimpleNamespace(speed=np.array([0.1, share]))
    need = SimpleNamespace(verdict="neither", guided=None, unguided=SimpleNamespace(ladder=ladder), perfect_speed=1.0,
                           guider_is_enough=True, with_guider=2.0, repair=None)
    assert words in _outcome(need, 0.5)


def test_what_guiding_leaves_is_a_range_where_the_air_leads():
    reason = need_of(3.0).reasons[-1]
    assert "depending on wind and outer scale" in reason
    assert ("about" in reason) or (" to " in reason)

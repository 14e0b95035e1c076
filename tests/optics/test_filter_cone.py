"""The band of an interference filter in a cone of light, ray by ray."""

import numpy as np
import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.optics.filter_cone import EFFECTIVE_INDEX, cone_share


@pytest.mark.parametrize(("width", "ratio", "obstruction"), [
    (5, 2.0, 0.0), (3, 2.2, 0.4), (3, 3.0, 0.35), (6, 1.5, 0.5), (5, 2.8, 0.0), (7, 5.0, 0.3)])
def test_rays_over_the_pupil(width, ratio, obstruction):
    # Snell's law in a layer of index n; the band's middle goes with the cosine inside it, as the path difference does
    # (Born & Wolf, Principles of Optics, 7.6). Rings of equal area of the pupil, sine condition.
    radius = np.sqrt(np.linspace(obstruction**2, 1, 200001))
    inside = np.arcsin(radius / (2 * ratio) / EFFECTIVE_INDEX)
    passed = 656.3 - 656.3 * np.cos(inside) <= width / 2
    found = cone_share(656.3 * u.nm, width * u.nm, focal_ratio=ratio, obstruction=obstruction)
    # 1 %: the closed form leaves out the fourth power of the angle.
    assert_allclose(found, passed.mean(), atol=0.01)


def test_slow_light_and_broad_bands_lose_nothing():
    assert cone_share(656.3 * u.nm, 5 * u.nm, focal_ratio=4) == 1
    assert cone_share(550 * u.nm, 300 * u.nm, focal_ratio=1) == 1

"""Steps of the advice one by one, as tests ask for them."""

import numpy as np
from astropy import units as u

from planner.exposure.integration import _cycle, _integration
from planner.exposure.light.photons import _photon_zero_point
from planner.exposure.share_grid import kept_share
from planner.exposure.star_motion import unguided_motion
from planner.exposure.sub_exposure import FINE, SUB_LADDER, speed_curve, sub_exposure_of


def kept(scene, exposure=SUB_LADDER):
    """Return the share of unguided subs of some lengths that stay round and small."""
    return kept_share(scene, unguided_motion(scene)).at(np.atleast_1d(exposure.to_value(u.s)))[0]


def photon_zero_point(wavelength):
    """Return the photon flux of magnitude 0 outside the atmosphere."""
    return _photon_zero_point(wavelength.to_value(u.nm)) * u.photon / (u.s * u.cm**2 * u.AA)


def recommend_sub_exposure(scene, *, motion=None, star_magnitudes=None):
    """Return the length of one sub-exposure, unguided unless a motion is given."""
    shares = kept_share(scene, unguided_motion(scene) if motion is None else motion)
    return sub_exposure_of(scene, speed_curve(scene, shares, FINE), star_magnitudes=star_magnitudes)


def signal_to_noise_after(scene, sub, *, clock_time, area=None):
    """Return what a time on the clock brings: whole frames that fit, and the ratio of their sum."""
    frames = int((clock_time / _cycle(scene, sub)).to_value(u.one) * (1 + 1e-12))
    return _integration(scene, sub, frames=frames, area=area)

"""The kept share by brute force: random drive phases and starts, the star's path sampled in time, sub by sub."""

import numpy as np
from astropy import units as u

from planner.exposure.star_motion import field_places, middle_hour_angles

SECONDS_PER_DEG = 86164.0905 / 360


def monte_carlo_kept(scene, motion, exposure_s, *, subs, samples=200, seed=1):
    """Return the kept share at one length [s] from so many random subs, each a path of so many samples."""
    rng = np.random.default_rng(seed)
    track, middles = motion.track, middle_hour_angles(scene).to_value(u.deg)
    begin = rng.uniform(middles[0], middles[-1], subs) - exposure_s / SECONDS_PER_DEG / 2
    when = (np.arange(samples) + 0.5) / samples * exposure_s
    known = track.hour_angle.to_value(u.deg)
    at = begin[:, None] + when / SECONDS_PER_DEG
    ra, dec = (np.interp(at, known, axis.to_value(u.arcsec)) for axis in (track.ra, track.dec))
    maps = np.stack([np.interp(at, known, entry) for entry in track.field_map.reshape(-1, 4).T], axis=-1)
    # Each sub has a seeing of its own, wider low down; its star's variance with it, as far as the air makes it.
    part = min(float((scene.seeing_fwhm / scene.response.still.fwhm).value) ** 2, 1)
    thick = np.sin(scene.altitude.to_value(u.rad)) ** -0.6  # airmass to the 0.6: Roddier 1981, from memory
    thick = np.interp(begin + exposure_s / SECONDS_PER_DEG / 2, scene.hour_angle.to_value(u.deg), thick / thick.mean())
    wider = 1 + part * (thick**2 * np.exp(2 * scene.site.seeing_spread * rng.normal(size=subs)) - 1)
    phases = rng.uniform(0, 2 * np.pi, (subs, 1, len(motion.periods)))
    turns = 2 * np.pi * when[:, None] / motion.periods.to_value(u.s)
    swing = motion.amplitudes.to_value(u.arcsec) * np.cos(scene.declination.to_value(u.rad))
    walked = motion.wander.to_value(u.arcsec / u.s**0.5) * np.sqrt(exposure_s / samples) * np.cumsum(
        rng.normal(size=(2, subs, samples)), axis=-1)  # a path of steps, nothing of series or modes
    ra, dec = ra + (np.sin(turns + phases) * swing).sum(axis=-1) + walked[0], dec + walked[1]
    stars = [_star(scene, motion, ra + (maps[..., 0] - 1) * east + maps[..., 1] * north,
                   dec + maps[..., 2] * east + (maps[..., 3] - 1) * north, wider)
             for east, north in field_places(scene).to_value(u.arcsec)]
    elongation, width = np.moveaxis(np.array(stars), 1, 0)  # (2, places, subs)
    width *= np.sqrt(1 + part * (thick**2 - 1))  # the same night's air, thick low down
    typical = np.median(width[0])
    return np.mean((elongation.max(axis=0) <= 1 - scene.rig.tolerated_axis_ratio)
                   & (width.max(axis=0) <= typical * (1 + scene.rig.tolerated_growth)))


def _star(scene, motion, x, y, wider):
    """Return elongation and growth by motion of the star in each sub, its variance `wider` than usual by a factor."""
    x, y = x - x.mean(axis=1, keepdims=True), y - y.mean(axis=1, keepdims=True)
    jitter = motion.jitter.to_value(u.arcsec)
    step = (motion.encoder_step.to_value(u.arcsec) * np.cos(scene.declination.to_value(u.rad))) ** 2 / 12
    xx, yy, xy = (x * x).mean(axis=1), (y * y).mean(axis=1), (x * y).mean(axis=1)
    angle = np.arctan2(2 * xy, xx + jitter[0] ** 2 + step - yy - jitter[1] ** 2) / 2
    along = x * np.cos(angle)[:, None] + y * np.sin(angle)[:, None]
    across = y * np.cos(angle)[:, None] - x * np.sin(angle)[:, None]
    more = np.array([np.cos(angle) ** 2, np.sin(angle) ** 2]).T @ (jitter**2 + [step, 0])
    less = np.array([np.sin(angle) ** 2, np.cos(angle) ** 2]).T @ (jitter**2 + [step, 0])
    path = (along**2).mean(axis=1)
    major, minor = path + more, (across**2).mean(axis=1) + less
    kurtosis = ((along**4).mean(axis=1) - 3 * path**2) / major**2
    effect = scene.response.at(major / wider * u.arcsec**2, minor / wider * u.arcsec**2, kurtosis)
    return effect.elongation, (effect.fwhm / scene.response.still.fwhm).value

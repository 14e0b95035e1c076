"""Logs and sightings of an invented mount, from generators that do not use `planner.measure`."""

import numpy as np
from astropy import units as u
from tracking.pointings import mount_from_sky

from planner.constants import SIDEREAL_RATE
from planner.measure.drift.model import DriftLog
from planner.measure.pointing.results import PointingData
from planner.tracking import PointingTerms, smooth_track


def noise(rng, time_s, jitter, wander):
    """Return white noise (arcsec rms) plus a random walk (arcsec per root second)."""
    steps = wander * np.sqrt(np.diff(time_s, prepend=time_s[0]))
    return jitter * rng.normal(size=time_s.size) + np.cumsum(steps * rng.normal(size=time_s.size))


def plain_log(seed, *, rows=300, step=3.0, rates=(1.2, -0.7), terms=(), jitter=0.25, wander=0.02, gap=90.0, spikes=0):
    """Return a log by numpy alone: uneven steps, a gap in the middle, straight drifts (arcsec/min), sinusoids in RA."""
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.uniform(0.6 * step, 1.4 * step, rows))
    time_s[rows // 2:] += gap
    ra, dec = (rate / 60 * time_s + noise(rng, time_s, jitter, wander) for rate in rates)
    for period, amplitude, phase in terms:
        ra = ra + amplitude * np.sin(2 * np.pi * time_s / period + phase)
    bad = rng.choice(rows, spikes, replace=False)
    ra[bad] += rng.choice([-1, 1], spikes) * rng.uniform(15, 60, spikes)
    return DriftLog(time=time_s * u.s, ra=ra * u.arcsec, dec=dec * u.arcsec)


def mount_log(seed, mount, *, minutes, hour_angle, declination, latitude, rows=400, jitter=0.2):
    """Return a log of a rig's mount: everything smooth from `planner.tracking`, its periodic terms, white noise."""
    rng = np.random.default_rng(seed)
    time_s = np.linspace(0, 60 * minutes, rows)
    track = smooth_track(
        latitude=latitude * u.deg, declination=declination * u.deg,
        hour_angle=hour_angle * u.deg + (SIDEREAL_RATE * time_s * u.s).to(u.deg),
        polar_altitude_error=mount.polar_altitude_error, polar_azimuth_error=mount.polar_azimuth_error, rate=mount.rate,
        rate_error_ppm=mount.rate_error_ppm, flexure_ra=mount.flexure_ra, flexure_dec=mount.flexure_dec)
    drive = sum(term.amplitude.to_value(u.arcsec) * np.sin(2 * np.pi * time_s / term.period.to_value(u.s) + 1 + i)
                for i, term in enumerate(mount.periodic)) * np.cos(np.radians(declination))
    wander = mount.wander.to_value(u.arcsec / u.s**0.5)
    return DriftLog(
        time=time_s * u.s, ra=track.ra + (drive + noise(rng, time_s, jitter, wander)) * u.arcsec,
        dec=track.dec + noise(rng, time_s, jitter, wander) * u.arcsec, declination=declination * u.deg,
        hour_angle=hour_angle * u.deg, latitude=latitude * u.deg)


TERMS = PointingTerms(hour_angle_zero=100 * u.arcsec, declination_zero=-50 * u.arcsec, collimation=60 * u.arcsec,
                      axes_not_square=40 * u.arcsec, polar_altitude=120 * u.arcsec, polar_azimuth=-90 * u.arcsec,
                      tube_flexure=20 * u.arcsec)


def sightings(seed, *, count=60, error=1.5, terms=TERMS, latitude=47.5, sides=("east", "west"), twice_a_turn=0.0,
              wrong=0):
    """Return sightings of a mount by `mount_from_sky`, with noise, an error of the polar axis and some wrong rows."""
    rng = np.random.default_rng(seed)
    hour_angle = rng.uniform(-75, 75, count) * u.deg
    declination = np.sign(latitude) * np.degrees(np.arcsin(rng.uniform(-0.3, 0.9, count))) * u.deg
    side = rng.choice(sides, count)
    shown = mount_from_sky(terms, latitude=latitude * u.deg, hour_angle=hour_angle, declination=declination,
                           pier_side=side)
    off = error * rng.normal(size=(2, count))
    off[0] /= np.cos(declination.to_value(u.rad))
    off[0] += twice_a_turn * np.sin(2 * hour_angle.to_value(u.rad))
    off[0, :wrong] += rng.choice([-1, 1], wrong) * 60
    return PointingData(
        hour_angle=hour_angle, declination=declination, mount_hour_angle=shown.hour_angle + off[0] * u.arcsec,
        mount_declination=shown.declination + off[1] * u.arcsec, pier_side=tuple(side), latitude=latitude * u.deg)

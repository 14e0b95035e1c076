"""Skyfield with DE421, the independent ephemeris of these tests."""

import functools
import os
import warnings

import numpy as np
from skyfield import almanac
from skyfield.api import Star, load, load_file, wgs84
from skyfield_data import get_skyfield_data_path


@functools.cache
def ephemeris():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about the age of a file that is not used
        folder = get_skyfield_data_path()
    return load_file(os.path.join(folder, "de421.bsp"))


@functools.cache
def timescale():
    return load.timescale(builtin=True)


def at(time):
    """Return an astropy time as Skyfield's."""
    return timescale().from_astropy(time)


def observer(site):
    return ephemeris()["earth"] + wgs84.latlon(site.latitude.value, site.longitude.value, site.height.value)


def star(target):
    return Star(ra_hours=target.ra.value / 15, dec_degrees=target.dec.value)


def found(function, site, body, start, end, **options):
    """Return the events of one kind between two astropy times as TT Julian dates."""
    times, real = function(observer(site), body, at(start), at(end), **options)
    return np.array([time.tt for time, yes in zip(times, real, strict=True) if yes])


def risings(*args, **options):
    return found(almanac.find_risings, *args, **options)


def settings(*args, **options):
    return found(almanac.find_settings, *args, **options)


def transits(site, body, start, end):
    times = almanac.find_transits(observer(site), body, at(start), at(end))
    return np.array([time.tt for time in times])


def seconds(time, jd_tt):
    """Return how much later an astropy time (or times) is than a TT Julian date [s]."""
    return (at(time).tt - jd_tt) * 86400


def altitude_deg(site, body, jd_tt):
    """Return apparent-place, airless altitudes [deg]."""
    return observer(site).at(timescale().tt_jd(jd_tt)).observe(body).apparent().altaz()[0].degrees

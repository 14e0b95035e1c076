"""Where a mount with errors looks, and what it displays: the pointing model's geometry with units, for either side."""

from types import SimpleNamespace

import numpy as np
from astropy import units as u

from planner.tracking.mount_frame import angles_of, axes_towards, drooped, sky_axes, tube_axes, undrooped
from planner.tracking.pointing_model import geometry_of


def sky_from_mount(terms, *, latitude, hour_angle, declination, pier_side="east"):
    """Return where the tube really looks when the mount displays an hour angle and a declination."""
    def convert(geometry, h, d):
        if geometry.reversed:
            h, d = h + np.pi, np.pi - d
        return angles_of(drooped(tube_axes(geometry, h, d)[..., 0], geometry))

    return _for_each_side(convert, terms, latitude, hour_angle, declination, pier_side)


def mount_from_sky(terms, *, latitude, hour_angle, declination, pier_side="east"):
    """Return what the mount displays when the tube looks at a direction: the inverse of `sky_from_mount`."""
    def convert(geometry, h, d):
        axis1, axis2 = axes_towards(geometry, undrooped(sky_axes(h, d)[..., 0], geometry))
        return (axis1 - np.pi, np.pi - axis2) if geometry.reversed else (axis1, axis2)

    return _for_each_side(convert, terms, latitude, hour_angle, declination, pier_side)


def _for_each_side(convert, terms, latitude, hour_angle, declination, pier_side):
    phi = latitude.to_value(u.rad)
    h, d, side = np.broadcast_arrays(hour_angle.to_value(u.rad), declination.to_value(u.rad), np.asarray(pier_side))
    found = np.empty((2, *h.shape))
    for name in np.unique(side):
        chosen = side == name
        found[:, chosen] = convert(geometry_of(terms, phi, str(name)), h[chosen], d[chosen])
    hour_angle, declination = np.degrees(np.remainder(found + np.pi, 2 * np.pi) - np.pi) * u.deg
    return SimpleNamespace(hour_angle=hour_angle, declination=declination)

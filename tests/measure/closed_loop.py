"""A mount with known faults as an observer with a stopwatch would see it: a drift log and solved positions.

Independent of `planner`: the tube is a vector turned about the axis by the drive, the star one that the sky turns and
the air lifts; the sensor sees the difference. Angles in radians inside, arcsec in the files.
"""

import numpy as np

OMEGA = 15.041067  # arcsec of hour angle per second (IERS Conventions 2010)
ARCSEC = np.pi / 648000
# Refraction 58.3 tan z - 0.067 tan^3 z arcsec at 1010 hPa and 10 deg C (Explanatory Supplement 1992, sec. 3.281; from
# memory), scaled with the density of the air.
REFRACTION = (58.3, -0.067)


def turned(axis, angle, vector):
    """Return vectors (..., 3) turned right-handed about a unit axis by angles (...), Rodrigues' formula."""
    angle = np.asarray(angle)[..., None]
    along = np.sum(axis * vector, axis=-1, keepdims=True)
    return vector * np.cos(angle) + np.cross(axis, vector) * np.sin(angle) + axis * along * (1 - np.cos(angle))


def pole(latitude, altitude_error, azimuth_error):
    """Return the axis towards the elevated pole (x north, y west, z up); errors in arcmin, east of the pole positive.

    In the south the axis points at azimuth 180 deg, and east of the pole is towards smaller azimuths.
    """
    altitude = abs(latitude) + altitude_error * 60 * ARCSEC
    azimuth = azimuth_error * 60 * ARCSEC if latitude > 0 else np.pi - azimuth_error * 60 * ARCSEC
    return np.array([np.cos(altitude) * np.cos(azimuth), -np.cos(altitude) * np.sin(azimuth), np.sin(altitude)])


def lifted(direction, air):
    """Return directions (n, 3) raised by refraction; `air` is the density against 1010 hPa and 10 deg C."""
    distance = np.arccos(direction[..., 2])
    tangent = np.tan(distance)
    bend = air * (REFRACTION[0] * tangent + REFRACTION[1] * tangent**3) * ARCSEC
    across = np.hypot(direction[..., 0], direction[..., 1])[..., None]
    apparent = distance - bend
    return np.concatenate([direction[..., :2] / across * np.sin(apparent)[..., None],
                           np.cos(apparent)[..., None]], axis=-1)


def star(latitude, declination, hour_angle):
    """Return directions (n, 3) of a star, x north, y west, z up."""
    x = np.cos(declination) * np.cos(hour_angle)  # towards the meridian on the equator
    west, north = np.cos(declination) * np.sin(hour_angle), np.sin(declination) + 0 * hour_angle
    return np.stack([np.cos(latitude) * north - np.sin(latitude) * x, west,
                     np.sin(latitude) * north + np.cos(latitude) * x], axis=-1)


def about(axis, direction):
    """Return angles of directions (n, 3) about the axis, increasing to the west in the north, from the first one."""
    flat = direction - np.sum(direction * axis, axis=-1, keepdims=True) * axis
    sine = np.sum(np.cross(flat[0], flat) * axis, axis=-1)
    return np.unwrap(np.arctan2(sine, flat @ flat[0]))


def smooth_path(mount, *, latitude, declination, hour_angle, time, air):
    """Return where the star goes on the sensor, east and north in arcsec (n,), without noise and periodic terms."""
    hours = hour_angle + OMEGA * ARCSEC * time
    seen = lifted(star(latitude, declination, hours), air)
    axis = pole(latitude, mount["altitude"], mount["azimuth"])
    sense = -1 if latitude > 0 else 1  # the sky turns clockwise about the north pole, seen from within
    angle = sense * OMEGA * ARCSEC * time
    if mount["rate"] == "king":
        shown = lifted(pole(latitude, 0, 0)[None], air)[0]
        angle = about(shown, seen)
    angle = angle + sense * mount["ppm"] * 1e-6 * OMEGA * ARCSEC * time
    north_pole = axis if latitude > 0 else -axis
    tube = turned(axis, angle, np.broadcast_to(seen[0], seen.shape))
    east = np.cross(north_pole, tube)
    east /= np.linalg.norm(east, axis=-1, keepdims=True)
    north = np.cross(tube, east)
    off = seen - tube
    creep = time / 3600
    return (np.sum(off * east, axis=-1) / ARCSEC + mount["flexure_ra"] * creep,
            np.sum(off * north, axis=-1) / ARCSEC + mount["flexure_dec"] * creep)


def drift_log(mount, seed, *, latitude, declination, hour_angle, minutes, step, centroid, air):
    """Return the text of a drift log: a row about every `step` seconds, each with its centroid noise (arcsec rms).

    Angles in degrees. Rows are exposures short against the jitter, which is white from row to row.
    """
    rng = np.random.default_rng(seed)
    time = np.arange(0, minutes * 60, step) + rng.uniform(-0.2, 0.2, round(minutes * 60 / step)) * step
    time -= time[0]
    place = np.radians([latitude, declination, hour_angle])
    paths = smooth_path(mount, latitude=place[0], declination=place[1], hour_angle=place[2], time=time, air=air)
    drive = sum(size * np.sin(2 * np.pi * (time / period + rng.uniform())) for period, size in mount["periodic"])
    coder = mount["step"] * rng.uniform(-0.5, 0.5, time.size)
    walk = mount["wander"] * np.sqrt(np.diff(time, prepend=0) / 60)
    rows = []
    for path, extra in zip(paths, (np.cos(place[1]) * (drive + coder), 0), strict=True):
        path = path + extra + np.cumsum(walk * rng.normal(size=time.size))
        path = path + np.hypot(mount["jitter"], centroid) * rng.normal(size=time.size)
        rows.append(path - path[0])
    return "\n".join([f"# dec_deg: {declination}", f"# hour_angle_deg: {hour_angle}", f"# latitude_deg: {latitude}",
                      "time_s,ra_arcsec,dec_arcsec",
                      *(f"{t:.2f},{x:.3f},{y:.3f}" for t, x, y in zip(time, *rows, strict=True)), ""])


def solved_positions(mount, seed, *, latitude, declination, hour_angles, error, air):
    """Return the text of a file of solved positions while only the RA axis turned, each good to `error` arcsec."""
    rng = np.random.default_rng(seed)
    phi = np.radians(latitude)
    axis = pole(phi, mount["altitude"], mount["azimuth"])
    turn = np.radians(np.asarray(hour_angles) - hour_angles[0]) * (-1 if latitude > 0 else 1)
    first = lifted(star(phi, np.radians(declination), np.radians(hour_angles[:1])), air)
    seen = turned(axis, turn, np.broadcast_to(first, (turn.size, 3)))
    true = seen
    for _ in range(3):  # the true direction whose apparent one the tube looks at
        true = true + seen - lifted(true, air)
        true /= np.linalg.norm(true, axis=-1, keepdims=True)
    true = true + error * ARCSEC * rng.normal(size=true.shape)
    true /= np.linalg.norm(true, axis=-1, keepdims=True)
    north = np.cos(phi) * true[:, 0] + np.sin(phi) * true[:, 2]
    meridian = np.cos(phi) * true[:, 2] - np.sin(phi) * true[:, 0]
    hours, places = np.degrees(np.arctan2(true[:, 1], meridian)), np.degrees(np.arcsin(north))
    return "\n".join([f"# latitude_deg: {latitude}", "hour_angle_deg,declination_deg",
                      *(f"{h:.6f},{d:.6f}" for h, d in zip(hours, places, strict=True)), ""])

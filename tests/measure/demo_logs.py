"""The demo measurements of the data folder, made again from their seeds: python tests/measure/demo_logs.py.

Invented mount, invented errors; independent of `planner`: small-angle formulas and plain rotations written here.
"""

from pathlib import Path

import numpy as np

DATA = Path(__file__).parents[2] / "data"
OMEGA = 15.041067  # arcsec of hour angle per second (IERS Conventions 2010)
LATITUDE = 47.4
ORIGIN = "Origin: invented for this project, made by tests/measure/demo_logs.py"


def drift_demo():
    """Return the text of a drift log: 50 minutes of a star near the meridian, with a worm of 501 s."""
    rng = np.random.default_rng(20261125)
    time = np.arange(0, 3000, 4.0) + rng.uniform(-0.6, 0.6, 750)
    time = np.delete(time, np.arange(402, 430))  # a cloud
    dec, hour_angle, altitude, azimuth = np.radians(12.0), np.radians(-14.0), 2.5 * 60, -3.0 * 60
    hour = hour_angle + np.radians(OMEGA * time / 3600)
    across = azimuth * np.cos(np.radians(LATITUDE))
    east = -(altitude * np.sin(hour) + across * np.cos(hour)) * np.sin(dec) + 40e-6 * OMEGA * np.cos(dec) * time
    north = altitude * np.cos(hour) - across * np.sin(hour)
    # Refraction of 58.3 arcsec tan z towards the zenith, which lies at the parallactic angle.
    phi = np.radians(LATITUDE)
    parallactic = np.arctan2(np.sin(hour), np.tan(phi) * np.cos(dec) - np.sin(dec) * np.cos(hour))
    bend = 58.3 * np.tan(np.arccos(np.sin(phi) * np.sin(dec) + np.cos(phi) * np.cos(dec) * np.cos(hour)))
    east, north = east + bend * np.sin(parallactic), north + bend * np.cos(parallactic)
    worm = 6.0 * np.sin(2 * np.pi * time / 501 + 0.7) + 1.1 * np.sin(2 * np.pi * time / 250.5 + 2.1)
    step = 0.25 * np.sqrt(np.diff(time, prepend=time[0]) / 60)
    paths = [path + np.cumsum(step * rng.normal(size=time.size)) + 0.35 * rng.normal(size=time.size)
             for path in (east + np.cos(dec) * worm, north)]
    paths = [path - path[0] for path in paths]
    for row in (57, 311, 640):
        paths[0][row] += rng.choice([-1, 1]) * 25  # a gust
    rows = [f"{t:.2f},{x:.3f},{y:.3f}" for t, x, y in zip(time, *paths, strict=True)]
    rows.insert(120, rows[119])  # written twice
    return "\n".join([
        "# Demo drift log: an unguided star on a worm drive, a row every 4 s, with a cloud and three gusts.",
        f"# {ORIGIN} (seed 20261125).", "# dec_deg: 12.0", "# hour_angle_deg: -14.0", f"# latitude_deg: {LATITUDE}",
        "time_s,ra_arcsec,dec_arcsec", *rows, ""])


def turn(axis, angle):
    """Return a right-handed rotation about x, y or z (0, 1, 2)."""
    matrix, cosine, sine = np.eye(3), np.cos(angle), np.sin(angle)
    first, second = (axis + 1) % 3, (axis + 2) % 3
    matrix[first, first] = matrix[second, second] = cosine
    matrix[second, first], matrix[first, second] = sine, -sine
    return matrix


def direction(hour, dec):
    """Return the unit vector: x to hour angle 0 on the equator, y east, z to the north pole."""
    return np.array([np.cos(dec) * np.cos(hour), -np.cos(dec) * np.sin(hour), np.sin(dec)])


def angles(vector):
    """Return hour angle and declination in degrees."""
    return np.degrees(np.arctan2(-vector[1], vector[0])), np.degrees(np.arcsin(np.clip(vector[2], -1, 1)))


def pointing_demo():
    """Return the text of a pointing file: 48 sightings on both sides of the pier, one of them wrong."""
    rng = np.random.default_rng(20261126)
    arcsec = np.radians(1 / 3600)
    terms = {"ha": -340, "dec": 210, "collimation": 95, "axes": -60, "up": 150, "east": -122, "flexure": 30}
    size = {name: value * arcsec for name, value in terms.items()}
    zenith = direction(0, np.radians(LATITUDE))
    rows = []
    while len(rows) < 48:
        west = len(rows) % 2 == 1
        hour = rng.uniform(-70, 5) if west else rng.uniform(-5, 70)
        dec = np.degrees(np.arcsin(rng.uniform(-0.2, 0.95)))
        if direction(*np.radians([hour, dec])) @ zenith < np.sin(np.radians(25)):
            continue
        axis1, axis2 = np.radians([hour + 180, 180 - dec] if west else [hour, dec])
        tube = turn(0, -size["east"]) @ turn(1, size["up"]) @ turn(2, -(axis1 + size["ha"])) @ turn(0, size["axes"])
        look = tube @ turn(1, -(axis2 + size["dec"])) @ [np.cos(size["collimation"]), np.sin(size["collimation"]), 0]
        look = look - size["flexure"] * (zenith - (look @ zenith) * look)
        true_hour, true_dec = angles(look / np.linalg.norm(look))
        noise = rng.normal(size=2) * 2.0 / 3600 / np.array([np.cos(np.radians(dec)), 1])
        if len(rows) == 30:
            noise[0] += 90 / 3600  # centred on the wrong star
        rows.append(f"{true_hour:.6f},{true_dec:.6f},{hour + noise[0]:.6f},{dec + noise[1]:.6f},"
                    f"{'west' if west else 'east'}")
    return "\n".join([
        "# Demo pointing file: where solved frames show that the telescope looked, and what the mount displayed.",
        f"# {ORIGIN} (seed 20261126).", f"# latitude_deg: {LATITUDE}",
        "hour_angle_deg,declination_deg,mount_hour_angle_deg,mount_declination_deg,pier_side", *rows, ""])


def polar_demo():
    """Return the text of a positions file: six frames solved while only the RA axis turned, 2.5' high, 3' west."""
    rng = np.random.default_rng(20261127)
    phi = np.radians(LATITUDE)
    altitude, azimuth = np.radians(LATITUDE + 2.5 / 60), np.radians(-3.0 / 60)
    north, east, up = direction(np.pi, np.pi / 2 - phi), np.array([0.0, 1.0, 0.0]), direction(0, phi)
    axis = np.cos(altitude) * (np.cos(azimuth) * north + np.sin(azimuth) * east) + np.sin(altitude) * up
    first = direction(np.radians(-55), np.radians(62))
    rows = []
    for angle in np.radians([0, -22, -44, -66, -88, -110]):
        around = np.cos(angle) * first + np.sin(angle) * np.cross(axis, first)
        look = around + (1 - np.cos(angle)) * (axis @ first) * axis + np.radians(1.5 / 3600) * rng.normal(size=3)
        look /= np.linalg.norm(look)
        zenith_distance = np.arccos(look @ up)
        bend = np.radians(58.3 / 3600) * np.tan(zenith_distance)  # below 70 deg, to a second of arc, at 1010 hPa, 10 C
        towards = (up - np.cos(zenith_distance) * look) / np.sin(zenith_distance)
        hour, dec = angles(np.cos(bend) * look - np.sin(bend) * towards)
        rows.append(f"{hour:.5f},{dec:.5f}")
    return "\n".join([
        "# Demo positions: six frames solved while only the RA axis turned; true places of date, without refraction.",
        f"# {ORIGIN} (seed 20261127).", f"# latitude_deg: {LATITUDE}", "hour_angle_deg,declination_deg", *rows, ""])


DEMOS = {"drift_demo.csv": drift_demo, "pointing_demo.csv": pointing_demo, "polar_demo.csv": polar_demo}

if __name__ == "__main__":
    for name, make in DEMOS.items():
        (DATA / name).write_text(make(), encoding="utf-8")

"""Solved FITS frames straight into `planner drift`, `polar` and `pointing`; the sky is turned by astropy."""

import json
from dataclasses import dataclass

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.io import fits
from astropy.time import Time
from files.equipment_text import GOOD
from measure.polar.test_alignment import turned

from planner.cli import run
from planner.files.equipment import load_equipment
from planner.files.logs import frames_drift, read_all_solved

PLACE = EarthLocation(lat=47 * u.deg, lon=11 * u.deg, height=0 * u.m)
START = Time("2026-03-14T20:00:00")
HALF = 15 * u.s  # of the exposure


@dataclass(frozen=True)
class Observer:
    """A folder of frames beside an equipment file at 47 N, 11 E."""

    folder: object
    capsys: object

    def write(self, ra_deg, dec_deg, middle, **more):
        number = len(list(self.folder.glob("*.fits")))
        header = fits.Header({
            "DATE-OBS": (middle - HALF).isot, "EXPTIME": 30.0, "CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN",
            "CRVAL1": float(ra_deg), "CRVAL2": float(dec_deg), "CRPIX1": 16.5, "CRPIX2": 12.5, "CD1_1": -3e-4,
            "CD1_2": 0.0, "CD2_1": 0.0, "CD2_2": 3e-4, **more})
        fits.PrimaryHDU(np.zeros((24, 32), np.uint16), header).writeto(self.folder / f"f{number:02d}.fits")

    def ask(self, *words):
        equipment = self.folder / "equipment.toml"
        equipment.write_text(GOOD, encoding="utf-8")
        code = run([*map(str, words), "--equipment", str(equipment)])
        return code, *self.capsys.readouterr()

    def answer(self, *words):
        code, out, err = self.ask(*words, "--json")
        assert code == 0, err
        return json.loads(out)


@pytest.fixture
def observer(tmp_path, capsys):
    return Observer(tmp_path, capsys)


def through_the_air(look, times):
    """Return ICRS places that a tube sees when it looks at local directions (n, 3), north, east, up."""
    frame = AltAz(obstime=times, location=PLACE, pressure=1013 * u.hPa, temperature=10 * u.deg_C, obswl=0.55 * u.um,
                  relative_humidity=0.0)
    return SkyCoord(az=np.arctan2(look[:, 1], look[:, 0]) * u.rad, alt=np.arcsin(look[:, 2]) * u.rad, frame=frame).icrs


def test_polar_axis_from_frames(observer):
    times = START + np.arange(4) * 3 * u.min
    look = turned(47.0, -11.0, 16.0, first=(95, 35), angles=np.array([0, 20, 40, 60.0]))
    for place, time in zip(through_the_air(look, times), times, strict=True):
        observer.write(place.ra.deg, place.dec.deg, time)
    found = observer.answer("polar", observer.folder)
    assert found["altitude_error_arcmin"] == pytest.approx(-11, abs=0.15)
    assert found["azimuth_error_arcmin"] == pytest.approx(16, abs=0.15)


def test_drift_from_frames(observer):
    # The mount goes 3 arcsec a minute west and 1 south: the star goes east and north in the frames.
    times = START + np.arange(20) * 30 * u.s
    minutes = (times - START).to_value(u.min)
    for ra, dec, time in zip(80 - 3 * minutes / 3600 / np.cos(np.radians(10)), 10 - minutes / 3600, times, strict=True):
        observer.write(ra, dec, time)
    found = observer.answer("drift", *observer.folder.glob("*.fits"))
    assert found["ra_rate_arcsec_per_min"] == pytest.approx(3, abs=0.02)
    assert found["dec_rate_arcsec_per_min"] == pytest.approx(1, abs=0.02)
    hours = (Time(START).sidereal_time("apparent", longitude=PLACE.lon) - 80.35 * u.deg).wrap_at(180 * u.deg)
    # 80.35 deg: the place of 80 deg (J2000) in 2026, by the general precession of 50.3 arcsec a year.
    log = frames_drift(read_all_solved(list(observer.folder.glob("*.fits"))), load_equipment(
        observer.folder / "equipment.toml").site())
    assert log.hour_angle.to_value(u.deg) == pytest.approx(hours.deg, abs=0.1)
    assert log.exposure == 30 * u.s


def test_pointing_from_frames(observer):
    # The mount reads 120 arcsec too little in declination on the east side, and as much too much on the west.
    rng = np.random.default_rng(4)
    for index in range(12):
        side, time = ("EAST", "WEST")[index % 2], START + index * 2 * u.min
        hour = (1 if side == "EAST" else -1) * rng.uniform(15, 70)
        dec = rng.uniform(-5, 60)
        ra = (time.sidereal_time("apparent", longitude=PLACE.lon).deg - hour) % 360
        observer.write(ra, dec, time, RA=ra, DEC=dec + (-120 if side == "EAST" else 120) / 3600)
    found = observer.answer("pointing", observer.folder, "--terms", "hour_angle_zero,declination_zero",
                            "--no-harmonics")
    # Refraction, which the mount does not know, moves stars by a minute of arc; only the difference of both sides is
    # looked at here.
    assert found["terms"]["declination_zero"]["value_arcsec"] == pytest.approx(120, abs=40)
    assert found["sightings"] == 12


@pytest.mark.parametrize(("command", "change", "words"), [
    ("polar", {"CTYPE1": "LINEAR"}, "CTYPE1 = LINEAR: has no world coordinates"),
    ("drift", {"DATE-OBS": "yesterday"}, "DATE-OBS = yesterday: must be the start"),
    ("pointing", {}, "RA and DEC = (missing): must be what the mount displayed"),
    ("pointing", {"RA": 80.0, "DEC": 10.0}, "the solved place itself"),
])
def test_a_frame_that_does_not_tell_is_one_line(observer, command, change, words):
    for minute in range(3):
        observer.write(80.0, 10.0, START + minute * u.min, **change)
    code, out, err = observer.ask(command, observer.folder)
    assert (code, out) == (2, "")
    assert words in err
    assert [line for line in err.strip().splitlines() if not line.startswith("Latitude 47 deg from the site")] == [
        err.strip().splitlines()[-1]]


def test_two_tables_are_no_frames(observer):
    for name in ("a.csv", "b.csv"):
        (observer.folder / name).write_text("time_s,ra_arcsec,dec_arcsec\n", encoding="utf-8")
    code, _, err = observer.ask("drift", observer.folder / "a.csv", observer.folder / "b.csv")
    assert code == 2
    assert "is not a FITS file" in err


def test_a_frame_at_the_meridian_does_not_tell_the_side_of_the_pier(observer):
    for minute in range(3):
        time = START + minute * u.min
        ra = time.sidereal_time("apparent", longitude=PLACE.lon).deg
        observer.write(ra, 10.0, time, RA=ra + 0.1, DEC=10.0)
    code, _, err = observer.ask("pointing", observer.folder)
    assert code == 2
    assert "too near the meridian to tell the side of the pier. Leave the frame out, or give --pier-side." in err

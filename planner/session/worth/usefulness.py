"""What an hour is worth: a useful hour is one under a moonless sky at the zenith.

An hour on the clock counts by the rate at which it adds squared signal-to-noise, relative to the zenith of the same
site on a moonless night, for one rig and filter and faint detail as fine as a star (its own photon noise left out):

    usefulness = (S / S_zenith)² · (sky_zenith + dark + read_noise²/t) / (sky + dark + read_noise²/t) · (A_zenith / A)

S falls with the air the light crosses; the sky is airglow, moonlight and twilight in the filter's band, all in
electrons per second and pixel; t is the fastest sub-exposure on a mount that moves no star; A is the noise-equivalent
area of a star, which grows with the seeing. Two hours worth 0.5 give what one hour of the best sky gives. What the
camera and the mount lose comes on top: useful hours times the speed in the zenith are the equivalent hours that a night
is planned by (`planner.session.night.slots.slot_worth`).
"""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.light.noise import PIXEL_RATE, dark_rate, total_read_noise
from planner.exposure.light.photons import LightPath
from planner.exposure.light.saturation import filled_after
from planner.exposure.speed import SUB_LADDER, speed
from planner.fields import Key, told
from planner.rig import Filter, Rig, Site
from planner.session.worth.star_growth import star_growth
from planner.sky import moonlight, refraction_from_true

NODES_DEG = np.arange(0.0, 91.0)  # true altitudes; 1 deg apart keeps usefulness within 0.002
STEPS = 1024  # of a sine from 0 to 1: 0.06 deg of altitude at 30 deg
_MIDDLES = np.minimum((np.arange(STEPS + 1) + 0.5) / STEPS, 1.0)
_ASIDE = 90 * u.deg  # separation at which moonlight is tabulated

HOURS_MEAN = ("useful hours: dark, within the limits, weighted by the rate of squared signal-to-noise on faint detail "
              "as fine as a star, relative to the moonless zenith of this site; moonlight and twilight count as "
              "brightness. up_hours are not weighted")


@dataclass(frozen=True, kw_only=True)
class Usefulness:
    """What usefulness rests on, for one rig, site and filter."""

    rig: Annotated[Rig, "that the hours are for"]
    site: Annotated[Site, "where"]
    band: Annotated[Filter, "that the hours are for", Key("filter")]
    sub_exposure: Annotated[u.Quantity[u.s], "the fastest on a mount that moves no star, moonless zenith",
                            Key("reference_sub_exposure_s")]
    clock_share: float  # of the clock that counts with it: collecting, and not spoiled by gusts and clouds
    still_rate: u.Quantity[PIXEL_RATE]  # noise that no sky changes: dark current and read noise² over the sub
    zenith_sky: u.Quantity[PIXEL_RATE]  # moonless
    hours_mean = told(str, "what the hours count", lambda _: HOURS_MEAN)

    @property
    def light(self) -> LightPath:
        """The way of the light to a pixel."""
        return LightPath(self.rig, self.band, self.site)

    @property
    def zenith_noise(self) -> u.Quantity[PIXEL_RATE]:
        """Variance per second and pixel under the moonless zenith."""
        return self.zenith_sky + self.still_rate

    def of(self, altitude: u.Quantity[u.deg], *, moon_altitude: u.Quantity[u.deg] | None = None,
           moon_separation: u.Quantity[u.deg] | None = None, moon_phase_angle: u.Quantity[u.deg] | None = None,
           sun_altitude: u.Quantity[u.deg] | None = None) -> u.Quantity[u.one]:
        """Return the usefulness towards an apparent altitude.

        `altitude` (any shape): apparent, above the horizon. `moon_altitude`, `moon_separation`, `moon_phase_angle` and
        `sun_altitude` (broadcast): as in `LightPath.sky`.
        Returns (shape of the broadcast): 1 at the moonless zenith, 0 to 1 elsewhere.
        """
        sky = self.light.sky(altitude=altitude, moon_altitude=moon_altitude, moon_separation=moon_separation,
                             moon_phase_angle=moon_phase_angle, sun_altitude=sun_altitude)
        signal = self.light.passed(altitude)
        growth = star_growth(self.rig, self.site, altitude)
        return (signal**2 / growth * self.zenith_noise / (sky + self.still_rate)).to(u.one)


def usefulness(rig: Rig, site: Site, band: Filter) -> Usefulness:
    """Return what an hour is measured against, for one rig, site and filter."""
    light = LightPath(rig, band, site)
    zenith, dark = light.sky(altitude=90 * u.deg), light.dark
    noise = total_read_noise(rig.camera, binning=rig.binning)
    curve = speed(SUB_LADDER, overhead=rig.overhead(SUB_LADDER), background_rate=zenith + dark, read_noise=noise,
                  disturbance_interval=site.disturbance_interval,
                  kept=filled_after(rig.camera, zenith / rig.binning**2 + dark_rate(rig.camera)) > SUB_LADDER)
    best = int(np.argmax(curve.speed))
    sub = SUB_LADDER[best]
    read = noise.to_value(u.electron) ** 2 / sub.to_value(u.s) * PIXEL_RATE
    return Usefulness(rig=rig, site=site, band=band, sub_exposure=sub, still_rate=dark + read, zenith_sky=zenith,
                      clock_share=float(curve.collecting[best] * curve.survives[best]))


@dataclass(frozen=True)
class MomentTables:
    """Usefulness for many directions at some moments, from tables; the grid form of `Usefulness.of`.

    Moonlight is a product of a function of the separation and one of altitude and moment (Krisciunas & Schaefer 1991,
    eq. 15), so that one table of separation and one of altitude by moment hold all of it. The tables are stepped in the
    sine of the altitude and of half the separation, fine enough to be read without interpolation.
    """

    noise: np.ndarray  # over what counts of the signal, moonless, by moment and sine of altitude, (t, STEPS + 1)
    moon: np.ndarray  # moonlight at 90 deg from the Moon over the same, (up, STEPS + 1)
    row: np.ndarray  # of each moment in `moon`, −1 with the Moon down, (t,)
    separation: np.ndarray  # moonlight by the sine of half the separation over that at 90 deg, (STEPS + 1,)

    def at(self, moment: np.ndarray, sine: np.ndarray, cosine: np.ndarray | None) -> np.ndarray:
        """Return the usefulness (m, n) at moments by number (m,), all with the Moon up or all with it down.

        `sine` is that of the true altitude, `cosine` that of the Moon's separation, both (m, n) and used up.
        """
        places = _steps(sine)
        noise = np.take(self.noise.ravel(), places + (moment * (STEPS + 1))[:, np.newaxis])
        if cosine is not None:
            np.sqrt(np.maximum(0.5 - 0.5 * cosine, 0, out=cosine), out=cosine)
            places += (self.row[moment] * (STEPS + 1))[:, np.newaxis]
            noise += np.take(self.separation, _steps(cosine)) * np.take(self.moon.ravel(), places)
        return 1 / noise


def _steps(sine: np.ndarray) -> np.ndarray:
    """Return the step of the tables that holds each sine, 0 to `STEPS`."""
    sine *= STEPS
    return np.maximum(sine.astype(np.int32), 0).astype(np.intp)


def moment_tables(measure: Usefulness, *, moon_altitude: u.Quantity[u.deg], moon_phase_angle: u.Quantity[u.deg],
                  sun_altitude: u.Quantity[u.deg]) -> MomentTables:
    """Return the tables of moments (t,); the Moon's altitude is apparent."""
    rig, site, light = measure.rig, measure.site, measure.light
    true = NODES_DEG * u.deg
    altitude = np.minimum(true + refraction_from_true(true, pressure=site.station_pressure,
                                                      temperature=site.temperature).to(u.deg), 90 * u.deg)
    dark = light.sky(altitude=altitude).to_value(PIXEL_RATE)
    lit = light.sky(altitude=90 * u.deg, sun_altitude=sun_altitude).to_value(PIXEL_RATE)
    up = np.flatnonzero(moon_altitude.value > 0)
    moon = light.sky(
        altitude=altitude, moon_altitude=moon_altitude[up, np.newaxis], moon_separation=_ASIDE,
        moon_phase_angle=moon_phase_angle[up, np.newaxis]).to_value(PIXEL_RATE) - dark
    row = np.full(len(moon_altitude), -1)
    row[up] = np.arange(len(up))
    signal = light.passed(altitude) ** 2 / star_growth(rig, site, altitude)
    signal *= measure.zenith_noise.to_value(PIXEL_RATE)
    glow = np.maximum(lit - dark[-1], 0.0)
    sines = np.sin(np.radians(NODES_DEG))
    dark, signal = (np.interp(_MIDDLES, sines, table) for table in (dark + measure.still_rate.value, signal))
    node = np.clip(np.searchsorted(sines, _MIDDLES, side="right") - 1, 0, len(sines) - 2)
    part = (_MIDDLES - sines[node]) / (sines[node + 1] - sines[node])
    moon = moon.take(node, axis=1) * ((1 - part) / signal) + moon.take(node + 1, axis=1) * (part / signal)
    noise = dark / signal + np.outer(glow, 1 / signal)
    return MomentTables(noise=noise.astype(np.float32), moon=moon.astype(np.float32), row=row,
                        separation=_by_separation())


def _by_separation() -> np.ndarray:
    """Return moonlight by separation over that at 90 deg: the same at every altitude, phase and extinction."""
    angles = np.append(2 * np.degrees(np.arcsin(_MIDDLES)), _ASIDE.value) * u.deg
    light = 10 ** (-0.4 * moonlight(moon_altitude=45 * u.deg, altitude=45 * u.deg, separation=angles,
                                    phase_angle=0 * u.deg, extinction=0.2 * u.mag).value)
    return (light[:-1] / light[-1]).astype(np.float32)

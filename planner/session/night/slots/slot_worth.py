"""What an hour is worth: for every target and filter at every slot of the night, and with which subs.

One *equivalent hour* is an hour with a perfect camera on a perfect mount, the target in the zenith, no Moon, no
twilight. At another moment an hour counts for

    worth = speed · (T / T₀)² · (B₀ / B) · (A₀ / A)

with `speed` of the best sub-exposure there (`planner.exposure.speed`: overhead, read noise, lost frames), the
transmission of the air T, the electrons per second and pixel of sky and dark current B (moonlight and twilight
included), and the noise-equivalent area of a star A, which grows with the seeing; the zero is the zenith on a dark
night. It is the rate at which squared signal-to-noise accrues relative to that best case, so that hours add up. The
source counts as fainter than the sky: the faint parts decide how long to stay, and all targets are judged alike.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.exposure.depth import GOAL_AREA
from planner.exposure.guided_share import EVEN
from planner.exposure.light.noise import PIXEL_RATE, total_read_noise
from planner.exposure.light.photons import LightPath
from planner.exposure.light.saturation import filled_after
from planner.exposure.speed import SUB_LADDER, speed_losses
from planner.rig import Filter, Rig, Site
from planner.session.night.motion import MIDDLES, MountMotion
from planner.session.worth.star_growth import star_growth
from planner.session.worth.usefulness import Usefulness
from planner.sky import airmass
from planner.visibility import MoonPlace, Target, moon, places
from planner.visibility.darkness import sun_altitude

STEPS, ABOVE = 256, 1 + 1e-9  # of background; of its brightest, so that the last step holds it


@dataclass(frozen=True, kw_only=True)
class SkyOverNight:
    """Where targets and the Moon stand at the middle of the slots; grids are (targets, slots)."""

    times: Time
    altitude: u.Quantity[u.deg]  # apparent
    hour_angle: u.Quantity[u.deg]
    moon: MoonPlace
    moon_separation: u.Quantity[u.deg]
    sun_altitude: u.Quantity[u.deg]  # (slots,)

    def of(self, rows: list[int]) -> "SkyOverNight":
        """Return that of some of the targets."""
        return replace(self, **{name: getattr(self, name)[rows]
                                for name in ("altitude", "hour_angle", "moon_separation")})


@dataclass(frozen=True, kw_only=True)
class FilterWorth:
    """One target through one filter over the night."""

    # (methods, lengths, slots), equivalent hours per hour, unguided first; NaN never, 0 where the target is down
    rate: np.ndarray
    # (methods, lengths, slots), of the clock that the shutter is open for frames that are kept
    open_share: np.ndarray
    open_rate: np.ndarray  # (methods, lengths, slots), equivalent hours per hour of open shutter of kept frames
    still_rate: np.ndarray  # (slots,), equivalent hours per hour on a mount that moves no star
    # equivalent hours that a signal-to-noise ratio of 1 takes on the goal's area; NaN without known brightness
    hours_for: float

    @property
    def best(self) -> np.ndarray:
        """Rate with the best method and length at each slot, (slots,)."""
        return self.rate.max(axis=(0, 1))

    def mount_share(self, slots: np.ndarray) -> float:
        """Return what some slots bring with the best method's best length over that of a mount that moves no star."""
        still = self.still_rate[slots].sum()
        return float(self.by_method(slots).max() * slots.size / still) if still > 0 else 1.0

    def from_rate(self, least: float) -> "FilterWorth":
        """Return the worth without the slots in which the best rate is less."""
        return replace(self, rate=np.where(self.best < least, 0.0, self.rate))

    def by_method(self, slots: slice | np.ndarray) -> np.ndarray:
        """Return the mean rate of each method's best length in some slots, (methods,)."""
        return self.rate[:, :, slots].mean(axis=2).max(axis=1)


def guiding_pays(brought: np.ndarray) -> bool:
    """Say whether to guide by what each method brings, (methods,): as in an advice, where the two are not even."""
    return len(brought) > 1 and bool(brought[1] > (1 + EVEN) * brought[0])


def sky_over_night(targets: list[Target], site: Site, times: Time) -> SkyOverNight:
    """Return the geometry of a night for targets (n,) at times (k,)."""
    where, place = places(targets, site, times), moon(site, times)
    return SkyOverNight(times=times, altitude=where.apparent_altitude, hour_angle=where.hour_angle, moon=place,
                        moon_separation=place.separations_from(targets), sun_altitude=sun_altitude(site, times))


def filter_worths(targets: list[Target], motions: list[MountMotion | None], rig: Rig, site: Site, band: Filter,
                  sky: SkyOverNight, growth: np.ndarray) -> list[FilterWorth | None]:
    """Return the worth of one filter for each target; None where there is no motion, for a target never up.

    `growth` is that of `area_growth`, (targets, slots).
    """
    light, pixels = _SkyLight.of(rig, site, band, sky, growth), 0.0
    background = light.background[:, np.newaxis]
    collecting, read, survives = _losses(rig, site, background)
    left = read * _unfilled(rig, background) * (light.left * light.best / light.background)[:, np.newaxis]
    still = (collecting * survives * left).max(axis=1)
    if any(target.surface_brightness is not None for target in targets):
        pixels = LightPath(rig, band, site).pixels(GOAL_AREA)
    worths: list[FilterWorth | None] = []
    for row, (target, motion) in enumerate(zip(targets, motions, strict=True)):
        if motion is None:
            worths.append(None)
            continue
        kept, shown = motion.at(sky.hour_angle[row])
        share, open_rate = kept * collecting * survives, shown * left[row]
        source = 0.0 if target.surface_brightness is None else light.of_zero * 10 ** (
            -0.4 * target.surface_brightness.to_value(u.mag / u.arcsec**2))
        # For a signal-to-noise ratio of 1: (S + sky + dark) / (S² pixels).
        hours = (source + light.best) / (source**2 * pixels) / 3600 if source > 0 else np.nan
        worths.append(FilterWorth(rate=share * open_rate, open_share=share, open_rate=open_rate, hours_for=hours,
                                  still_rate=motion.air_at(sky.hour_angle[row]) * still[row]))
    return worths


def most_rates(rig: Rig, site: Site, band: Filter, sky: SkyOverNight, growth: np.ndarray) -> np.ndarray:
    """Return what an hour can count for at most, on a mount that moves no star, (targets, slots)."""
    light = _SkyLight.of(rig, site, band, sky, growth)
    # What the camera leaves grows with the background: that of the next brighter step is no less.
    steps = np.geomspace(light.background.min(), light.background.max() * ABOVE, STEPS)
    collecting, read, survives = _losses(rig, site, steps)
    most = (collecting * read * survives).max(axis=0)
    return most[np.searchsorted(steps, light.background)] * light.left * light.best / light.background


def moon_leaves(rig: Rig, site: Site, band: Filter, sky: SkyOverNight) -> np.ndarray:
    """Return sky and dark current without the Moon over those with it, (targets, slots)."""
    lit, dark = (_background(LightPath(rig, band, site), sky, moonlit=moonlit) for moonlit in (True, False))
    return dark / lit


@dataclass(frozen=True)
class _SkyLight:
    """Electrons per second and pixel behind targets over a night."""

    background: np.ndarray  # of sky and dark current, (targets, slots)
    left: np.ndarray  # squared signal over the area of a star, relative to the zenith; 0 where down, (targets, slots)
    best: float  # background in the moonless zenith
    of_zero: float  # of a surface of 0 mag/arcsec² there

    @classmethod
    def of(cls, rig: Rig, site: Site, band: Filter, sky: SkyOverNight, growth: np.ndarray) -> "_SkyLight":
        up = sky.altitude.value > 0
        air = airmass(_above(sky)).value
        light = LightPath(rig, band, site)
        of_zero = light.surface(0 * u.mag / u.arcsec**2, airmass=np.append(1.0, air.ravel())).to_value(PIXEL_RATE)
        passed = (of_zero[1:] / of_zero[0]).reshape(air.shape)
        return cls(background=_background(light, sky), left=passed**2 / growth * up,
                   best=float(light.zenith_background.to_value(PIXEL_RATE)), of_zero=float(of_zero[0]))


def _above(sky: SkyOverNight) -> u.Quantity[u.deg]:
    """Return the apparent altitudes, some other where a target is down."""
    return np.where(sky.altitude.value > 0, sky.altitude.value, 45.0) * u.deg


def _background(light: LightPath, sky: SkyOverNight, *, moonlit: bool = True) -> np.ndarray:
    """Return the electrons per second and pixel of sky and dark current, (targets, slots)."""
    moon = {"moon_altitude": sky.moon.apparent_altitude, "moon_separation": sky.moon_separation,
            "moon_phase_angle": sky.moon.phase_angle} if moonlit else {}
    found = light.dark + light.sky(altitude=_above(sky), sun_altitude=sky.sun_altitude, **moon)
    return np.asarray(found.to_value(PIXEL_RATE))


def _losses(rig: Rig, site: Site, background: float | np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what collecting, reading and disturbances leave at each length, (…, lengths, slots)."""
    return speed_losses(
        SUB_LADDER.to_value(u.s)[:, np.newaxis], rig.overhead(SUB_LADDER).to_value(u.s)[:, np.newaxis], background,
        total_read_noise(rig.camera, binning=rig.binning).to_value(u.electron),
        site.disturbance_interval.to_value(u.s))


def _unfilled(rig: Rig, background: float | np.ndarray) -> np.ndarray:
    """Return whether sky and dark current alone leave room in a pixel, (…, lengths, slots)."""
    full = filled_after(rig.camera, background / rig.binning**2 * PIXEL_RATE)
    return SUB_LADDER[:, np.newaxis] < full


def area_growth(rig: Rig, site: Site, sky: SkyOverNight) -> np.ndarray:
    """Return the noise-equivalent area of a still star over that in the zenith, (targets, slots)."""
    return star_growth(rig, site, _above(sky))


def kept_of_useful(measure: Usefulness, motions: Sequence[MountMotion]) -> list[float]:
    """Return the share of each target's useful hours whose stars the air does not make too wide, without Moon."""
    altitudes = [motion.scene.altitude for motion in motions]
    useful = measure.of(u.Quantity(np.concatenate(altitudes))).value
    each = np.split(useful, np.cumsum([one.size for one in altitudes])[:-1])
    return [float(np.average(motion.air, weights=np.interp(MIDDLES, np.linspace(0, 1, known.size), known)))
            for motion, known in zip(motions, each, strict=True)]


def zenith_speed(rig: Rig, site: Site, band: Filter, motion: MountMotion, *,
                 over: Callable[..., np.ndarray] = np.mean) -> float:
    """Return what an hour in the moonless zenith counts for with a target's mount motion, in equivalent hours.

    `over`: which motion of the target's hours, their mean or, with `np.max`, the best, which no slot of a plan exceeds.
    With the best method and length, as in `FilterWorth.rate`. The mean times `kept_of_useful` is the step from useful
    hours to equivalent ones (`planner.session.worth.usefulness`).
    """
    background = LightPath(rig, band, site).zenith_background.to_value(PIXEL_RATE)
    collecting, read, survives = _losses(rig, site, background)
    losses = (collecting * read * survives * _unfilled(rig, background))[:, 0]
    return float((over(motion.kept * motion.light, axis=2) * losses).max())

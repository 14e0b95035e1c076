"""Advice for one target on one night: guide or not, how long a sub-exposure, and how much time in all."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.checks import given
from planner.constants import SIDEREAL_DAY
from planner.exposure.depth import Depth, Goal, depth_after, goal_for
from planner.exposure.guide_need import GuideNeed, guide_need
from planner.exposure.guide_star import GuideStar
from planner.exposure.integration import Integration, integration_time
from planner.exposure.light.photons import SURFACE_BRIGHTNESS
from planner.exposure.scene import STILL, Scene, observing_scene
from planner.exposure.sub_exposure import SubExposure
from planner.exposure.uncertainty import Certainty, certainty
from planner.fields import Key, Spread
from planner.optics import FieldOfView, field_of_view, image_scale
from planner.rig import Filter, Rig, Site
from planner.rig.equipment import find_by_name
from planner.session.advice.guide_star import NearbyStars, guide_star, in_camera
from planner.tracking import GuideLoop
from planner.visibility import MoonPlace, Night, TargetWindow, moon, night, target_window, utc_time
from planner.visibility.darkness import DARKEST, sun_altitude
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.kernels.pieces import hour_angle_at
from planner.visibility.moving_targets import motion_notes, placed
from planner.visibility.target import Target

LOWEST_ALTITUDE = 30 * u.deg  # airmass 2 (common practice, no source)
BROAD_DEPRESSION = 18 * u.deg  # astronomical twilight
NARROW_DEPRESSION = 12 * u.deg  # nautical: a narrow band tolerates some twilight (common practice, no source)
SAMPLES = 9  # hour angles over the window
OTHER_NIGHT = 3 * u.hourangle  # either side of transit, where tonight has no window


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What to do about one target, and everything the verdict rests on."""

    target: Annotated[Target, Spread("target.", only="name ra dec size_from size_elsewhere brightness_from")]
    rig: Annotated[Rig, "its name"]
    site: Annotated[Site, "its name"]
    band: Annotated[Filter, "its name", Key("filter")]
    night: Night
    window: Annotated[TargetWindow, Spread("window.", only="maximum_altitude reason hours")]
    lowest_altitude: Annotated[u.Quantity[u.deg], "apparent, below which no sub is taken",
                               Key("window.lowest_altitude_deg")]
    tonight: Annotated[bool, "false: not observable this night; the verdict is for the hours around transit on another"]
    moon: MoonPlace | None  # over the window
    skylight: Mapping[str, u.Quantity]  # as of `Hours`
    scene: Scene | None  # None: the target never stands high enough here
    need: Annotated[GuideNeed | None, Spread()]
    star: Annotated[GuideStar | None, "brightest in the catalogue, or the one to expect; null without a guider",
                    Key("guide_star")]
    goal: Goal
    total: Annotated[Integration | None, "for the goal, with the better of the two methods; null where no sub is kept"]
    depth: Annotated[Depth | None, "what the window's hours reach; null where no sub is kept"]
    notes: Annotated[tuple[str, ...], "on the rig, the night and a target that moves"]

    @property
    def field(self) -> FieldOfView:
        """The sky that the camera sees."""
        camera = self.rig.camera
        return field_of_view(camera.pixel_pitch, camera.columns, camera.rows, self.rig.telescope.focal_length)

    @property
    def image_scale(self) -> Annotated[u.Quantity[u.arcsec / u.pix], "sky per pixel, binning included"]:
        """Sky per pixel, binning included."""
        return image_scale(self.rig.camera.pixel_pitch, self.rig.telescope.focal_length, binning=self.rig.binning)

    @property
    def sky_brightness(self) -> Annotated[u.Quantity[u.mag / u.arcsec**2] | None, "behind this filter, Vega, mean over "
                                          "the window in flux", Key("sky_mag_per_arcsec2")]:
        """The sky behind this filter, mean over the window in flux, Vega magnitudes at the filter's wavelength."""
        if self.scene is None:
            return None
        at_zero = self.scene.light.surface(0 * SURFACE_BRIGHTNESS)
        return -2.5 * np.log10((self.scene.sky_rate / at_zero).to_value(u.one)) * SURFACE_BRIGHTNESS

    @property
    def star_fwhm(self) -> Annotated[u.Quantity[u.arcsec] | None, "width of a star without motion, pixel and binning "
                                     "included, mean over the picture"]:
        """Width of a star without motion, pixel and binning included; of the mean blur over the picture."""
        return None if self.scene is None else self.scene.still_width()

    @property
    def corner_fwhm(self) -> u.Quantity[u.arcsec] | None:
        """Width of a star without motion in the corner of the picture; None where the telescope has but one blur."""
        blur = self.rig.telescope.corner_blur
        return None if blur is None or self.scene is None else self.scene.still_width(blur)

    @cached_property
    def certainty(self) -> Annotated[Certainty | None, "way and length that are best over what the inputs leave open",
                                     Key("best_on_average")]:
        """How sure the verdict is, over what the inputs leave open; worked out when first asked for."""
        return None if self.scene is None or self.need is None else certainty(self.scene, self.need)

    def knowing(self, sure: Certainty | None) -> "Advice":
        """Return the same with how sure it is, worked out elsewhere by `exposure.uncertainty.certainty`."""
        known = replace(self)
        vars(known)["certainty"] = sure
        return known

    @property
    def verdict(self) -> GuideNeed:
        """The verdict, for those who have seen that `need` is there."""
        if self.need is None:
            raise ValueError("this advice has no verdict: the target never stands high enough")
        return self.need

    @property
    def better(self) -> SubExposure | None:
        """The sub-exposure of the method that the verdict names."""
        return None if self.need is None else self.need.better


@dataclass(frozen=True, kw_only=True)
class Hours:
    """When a target is up within all limits, and what the Moon does meanwhile."""

    hour_angle: u.Quantity[u.deg] | None  # (h,); None: never high enough
    length: u.Quantity[u.h] | None = None  # clock time of tonight's windows; None: around transit on another night
    skylight: Mapping[str, u.Quantity]  # Moon and twilight as `observing_scene` wants them; empty where none counts
    moon: MoonPlace | None = None
    absence: str = ""  # why these are not tonight's


@dataclass(frozen=True, kw_only=True)
class Judged:
    """What a rig does in some hours: the verdict, and the time and depth of its better way."""

    scene: Scene
    need: GuideNeed
    star: GuideStar | None
    total: Integration | None  # for the goal; None where no sub is kept
    depth: Depth | None  # what the hours reach


def filter_named(rig: Rig, name: str | None) -> Filter:
    """Return the rig's filter of that name, its first one if no name is given."""
    return find_by_name("filter", rig.filters, name)


def depression_for(band: Filter) -> u.Quantity[u.deg]:
    """Return how deep the Sun must be for this filter: 18 deg, or 12 deg for a narrow band."""
    return NARROW_DEPRESSION if band.narrow else BROAD_DEPRESSION


def night_for(band: Filter, site: Site, date: datetime.date | str) -> Night:
    """Return a night as dark as a filter wants it, its darkest hours where it is not for long."""
    return night(site, date, depression=depression_for(band), least=DARKEST)


def advise(target: Target, rig: Rig, site: Site, date: datetime.date, *, band: Filter | None = None,
           lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE, goal: Goal | None = None,
           stars: NearbyStars | None = None, with_changes: bool = True) -> Advice:
    """Return the advice for one target on one night.

    Parameters
    ----------
    date : datetime.date
        Local date of the evening.
    band : Filter, optional
        One of the rig's; its first one if absent.
    lowest_altitude : Quantity [deg], scalar
        Apparent, below which no sub is taken.
    goal : Goal, optional
        What the total exposure is for; what it leaves open is the usual goal of the filter (`goal_for`).
    stars : NearbyStars, optional
        Catalogue stars within `stars_reach`: the guide star, and those that saturate.
    with_changes : bool
        As for `guide_need`.

    Returns
    -------
    Advice
        Without a verdict where the target never stands high enough at this site; `window.reason` says why.
    """
    band, target = rig.filters[0] if band is None else band, placed(target, site, date)
    dark = night_for(band, site, date)
    window = target_window(target, site, dark, minimum_altitude=lowest_altitude, mount=rig.mount)
    hours = hours_within(window, target, site, lowest_altitude)
    asked = Advice(target=target, rig=rig, site=site, band=band, night=dark, window=window, moon=hours.moon,
                   skylight=hours.skylight, lowest_altitude=lowest_altitude, goal=goal_for(band, goal),
                   tonight=hours.length is not None, scene=None, need=None, star=None, total=None, depth=None,
                   notes=(*rig.load_notes, *dark.notes, *motion_notes(target, date)))
    if hours.hour_angle is None:
        return asked
    found = judge(rig, site, band, asked.goal, hours, declination=target.dec, target=target, stars=stars,
                  with_changes=with_changes)
    return replace(asked, **vars(found))


def hours_within(window: TargetWindow, target: Target, site: Site, lowest: u.Quantity[u.deg]) -> Hours:
    """Return the hours of a window with their Moon and twilight; those around transit, without, where it has none."""
    if not window.windows:
        return Hours(hour_angle=hours_around_transit(target.dec, site, lowest), skylight={}, absence=window.absence)
    hours = window_samples(window)
    times = _times_at(window, hours)
    place = moon(site, times)
    skylight = {"sun_altitude": sun_altitude(site, times)}
    if place is not None:
        skylight |= {"moon_altitude": place.apparent_altitude, "moon_separation": place.separation_from(target),
                     "moon_phase_angle": place.phase_angle}
    return Hours(hour_angle=hours, length=window.hours, skylight=skylight, moon=place)


def judge(rig: Rig, site: Site, band: Filter, goal: Goal, hours: Hours, *, declination: u.Quantity[u.deg],
          target: Target | None = None, stars: NearbyStars | None = None, with_changes: bool = False,
          with_reasons: bool = True, start: GuideLoop | None = None,
          near: GuideLoop | None = None) -> Judged:
    """Return what a rig does in some hours.

    Parameters
    ----------
    goal : Goal
        From `goal_for`.
    hours : Hours
        With hour angles.
    target : Target, optional
        Gives the place of the guide star; without it the one to expect where stars are fewest.
    stars : NearbyStars, optional
        Catalogue stars within `stars_reach`, or farther.
    with_changes, with_reasons, start, near
        As for `guide_need`.
    """
    scene = observing_scene(rig, site, band, declination=declination, hour_angle=given(hours.hour_angle),
                            brightness=goal.brightness, line=goal.line, length=hours.length,
                            motion=STILL if target is None else target.motion, **hours.skylight)
    star = None if target is None else guide_star(rig, target, stars)
    need = guide_need(scene, guide_star=star, star_magnitudes=None if stars is None else in_camera(rig, stars),
                      with_changes=with_changes, with_reasons=with_reasons, start=start, near=near)
    total = depth = None
    if need.better.speed > 0:
        if scene.signal_rate.value > 0:
            total = integration_time(scene, need.better, signal_to_noise=goal.ratio, area=goal.area)
        depth = depth_after(scene, need.better, scene.length, goal)
    return Judged(scene=scene, need=need, star=star, total=total, depth=depth)


def window_samples(window: TargetWindow) -> u.Quantity[u.deg]:
    """Return hour angles spread evenly over all windows of the night, shape (SAMPLES,), in the order of time.

    They run on beyond 180 deg where a window holds the lower culmination, their middle within it.
    """
    edges = np.array([[h.to_value(u.deg) for h in pair] for pair in window.hour_angle])
    lengths = edges[:, 1] - edges[:, 0]
    edges[:, 0] += 360 * np.cumsum(np.diff(edges[:, 0], prepend=edges[0, 0]) < 0)
    places = np.linspace(0, lengths.sum(), SAMPLES)
    before = np.concatenate([[0], np.cumsum(lengths)[:-1]])
    which = np.clip(np.searchsorted(before, places, side="right") - 1, 0, len(lengths) - 1)
    hours = edges[which, 0] + places - before[which]
    return (hours - 360 * np.round(hours.mean() / 360)) * u.deg


def hours_around_transit(declination: u.Quantity[u.deg], site: Site, lowest: u.Quantity[u.deg],
                         ) -> u.Quantity[u.deg] | None:
    """Return the hour angles, at most 3 h from transit, with a target high enough, shape (SAMPLES,); None if never."""
    declination = declination.to_value(u.rad)
    limit = float(hour_angle_at(lowest.to_value(u.rad), np.sin(declination), np.cos(declination),
                                site.latitude.to_value(u.rad)))
    if limit == 0:
        return None
    reach = min(np.degrees(limit), OTHER_NIGHT.to_value(u.deg))
    return np.linspace(-reach, reach, SAMPLES) * u.deg


def _times_at(window: TargetWindow, hours: u.Quantity[u.deg]) -> Time:
    """Return the times of hour angles within the night, from the transit at the sidereal rate."""
    day = SIDEREAL_DAY.to_value(u.day)
    times = mjd_tt(window.transit) + hours.to_value(u.cycle) * day
    middle = (mjd_tt(window.windows[0][0]) + mjd_tt(window.windows[-1][1])) / 2
    return utc_time(times + np.round((middle - times) / day) * day)  # known only modulo a sidereal day

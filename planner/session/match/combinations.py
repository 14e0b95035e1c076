"""Every camera, telescope, reducer and binning the observer owns, weighed for one target on a mount that moves no star.

At the best length of one sub-exposure, two times on the clock: until a *surface* reaches the wanted signal-to-noise
ratio on the goal's area of sky, and until a *fine detail* does: a point that holds the light of that area, spread by
air, optics and pixel over the noise-equivalent area of the star image. The first does not care for sharpness, the
second grows with the square of the star's width. What a real mount makes of a set-up is
`planner.session.match.set_ups`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.exposure.depth import Goal, goal_for
from planner.exposure.noise import PIXEL_RATE, dark_rate, signal_to_noise, total_read_noise
from planner.exposure.photons import line_electron_rate, recorded_band, sky_electron_rate, surface_electron_rate
from planner.exposure.scene import HOUR_ANGLE
from planner.exposure.speed import SUB_LADDER, speed
from planner.exposure.sub_exposure import TIE
from planner.optics import StarImage, field_of_view, image_scale, star_image
from planner.rig import Camera, Equipment, Filter, Reducer, Rig, Site, Telescope
from planner.session.advice.answer import LOWEST_ALTITUDE, hours_around_transit
from planner.session.match.combination import Combination, Noise, Rates
from planner.session.match.framing import OVERLAP, framing
from planner.session.match.ranking import RANKINGS
from planner.sky import airmass, refraction_from_true, seeing
from planner.visibility.target import Target

BINNINGS = (1, 2, 3)
NO_PIXEL = 1e-3  # of the true pixel: so small that it blurs nothing
BINNING_RULE = Rule(kind="whole", at_least=1, at_most=8, remedy="Give 1, 2, 3 or 4.")


@dataclass(frozen=True, kw_only=True)
class Combinations:
    """Everything the observer owns, weighed on a mount that moves no star."""

    target: Target | None
    rig: Rig  # gives mount, guider, filters and tolerances
    site: Site
    band: Filter
    goal: Goal
    declination: u.Quantity[u.deg]
    hour_angle: u.Quantity[u.hourangle] | None  # for which it holds; None: the target never stands high enough
    ranking: str  # a key of RANKINGS
    overlap: float
    weighed: tuple[Combination, ...]
    notes: tuple[str, ...]


def weigh_combinations(
    equipment: Equipment, rig: Rig, site: Site, band: Filter, *, target: Target | None = None,
    goal: Goal | None = None, ranking: str = "detail", binnings: Sequence[int] = BINNINGS, overlap: float = OVERLAP,
    lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE,
) -> Combinations:
    """Return every combination of the equipment, weighed for a target, or for any field that passes overhead.

    Parameters
    ----------
    equipment : Equipment
        Its telescopes, reducers and cameras are combined.
    rig : Rig
        Its mount, guider and tolerances are used.
    site : Site
        Its seeing counts: replace it for another night's.
    band : Filter
    target : Target, optional
        Without it, a field that culminates at the zenith; then figures are per square degree.
    goal : Goal, optional
        The catalogue's mean surface brightness if absent, or 24 mag/arcsec2 where there is none, with a note.
    ranking : str
        A key of `RANKINGS`.
    binnings : sequence of int
        Pixels per side added into one, 1 to 8.
    overlap : float
        Share of a mosaic panel's side that its neighbour repeats.
    lowest_altitude : Quantity [deg], scalar
        Apparent, below which nothing is taken; hours more than 3 h from transit are left out too. No Moon counts.

    Returns
    -------
    Combinations
        Without any where the target never stands high enough.

    Raises
    ------
    InvalidInputError
        If there is no telescope or camera, or a value breaks its rule.
    """
    if ranking not in RANKINGS:
        raise InvalidInputError("rank", ranking, f"must be one of {', '.join(RANKINGS)}", "Leave it out for detail.")
    for kind, items in (("telescope", equipment.telescopes), ("camera", equipment.cameras)):
        if not items:
            raise InvalidInputError(kind, "none", "must be in the equipment file", f"Add a [[{kind}]] table.")
    sizes = tuple(dict.fromkeys(check("binning", size, BINNING_RULE) for size in binnings))
    goal = goal_for(band, goal)
    declination = site.latitude if target is None else target.dec
    hours = hours_around_transit(declination, site, lowest_altitude)
    found = Combinations(target=target, rig=rig, site=site, band=band, goal=goal, declination=declination,
                         hour_angle=hours, ranking=ranking, overlap=overlap, weighed=(), notes=())
    if hours is None:
        return found
    return replace(found, weighed=tuple(
        combination for train in optical_trains(equipment) for camera in equipment.cameras
        for combination in _weighed(found, *train, camera, sizes)))


def optical_trains(equipment: Equipment) -> list[tuple[Telescope, Reducer | None, Telescope]]:
    """Return every telescope alone and behind each reducer that fits it: (telescope, reducer, as it works)."""
    return [(telescope, reducer, telescope if reducer is None else reducer.behind(telescope))
            for telescope in equipment.telescopes
            for reducer in (None, *(item for item in equipment.reducers if item.fits(telescope)))]


def _weighed(asked: Combinations, telescope: Telescope, reducer: Reducer | None, train: Telescope, camera: Camera,
             binnings: Sequence[int]) -> list[Combination]:
    """Return one camera behind one train, at every binning."""
    rig = replace(asked.rig, telescope=train, camera=camera, binning=1)
    air = _air(asked)
    recorded = recorded_band(camera, asked.band)
    width = seeing(asked.site.seeing, airmass=air, wavelength=recorded.band.centre).mean()
    light = _light(asked, rig, recorded.band, air)
    lit = _lit(train, camera)
    field = field_of_view(camera.pixel_pitch * lit, camera.columns, camera.rows, train.focal_length)
    star = {"seeing_fwhm": width, "wavelength": recorded.band.centre, "aperture": train.aperture,
            "obstruction": train.obstruction, "focus_blur_fwhm": train.optical_blur}
    scale = image_scale(camera.pixel_pitch, train.focal_length)
    before = star_image(image_scale=NO_PIXEL * scale, **star).fwhm
    framed = framing(field, asked.target, overlap=asked.overlap)
    found = []
    for binning in binnings:
        scale = image_scale(camera.pixel_pitch, train.focal_length, binning=binning)
        image = star_image(image_scale=scale, **star)
        found.append(Combination(
            camera=camera, telescope=telescope, reducer=reducer, binning=binning, train=train, image_scale=scale,
            field=field, lit=lit, star=image, seeing_fwhm=width, fwhm_before_pixel=before, framing=framed,
            **_times(asked, rig, light, image, binning, recorded.share)))
    return found


def _air(asked: Combinations) -> u.Quantity[u.one]:
    return airmass(_altitude(asked))


def _altitude(asked: Combinations) -> u.Quantity[u.deg]:
    """Return the apparent altitude over the window: sin h = sin φ sin δ + cos φ cos δ cos H."""
    hours = check("hour_angle", asked.hour_angle, HOUR_ANGLE)
    site, declination = asked.site, asked.declination
    sine = np.sin(site.latitude) * np.sin(declination)
    sine = sine + np.cos(site.latitude) * np.cos(declination) * np.cos(hours)
    true = np.degrees(np.arcsin(np.clip(sine.value, -1, 1))) * u.deg
    return true + refraction_from_true(true, pressure=site.station_pressure, temperature=site.temperature).to(u.deg)


class _Light(NamedTuple):
    source: u.Quantity[PIXEL_RATE]  # of one unbinned pixel, mean over the window
    sky: u.Quantity[PIXEL_RATE]


def _light(asked: Combinations, rig: Rig, band: Filter, air: u.Quantity[u.one]) -> _Light:
    """Return the rates of one unbinned pixel, mean over the window in flux."""
    goal, site = asked.goal, asked.site
    through: dict = {"airmass": air.value, "height": site.height}
    source = 0 * PIXEL_RATE
    if goal.brightness is not None:
        source = source + surface_electron_rate(goal.brightness, rig, band, **through).mean()
    if goal.line is not None:
        source = source + line_electron_rate(goal.line, rig, band, **through).mean()
    if not source.value > 0:
        raise InvalidInputError("line", goal.line, f"must lie inside the filter {band.name}", "Choose another filter.")
    return _Light(source, sky_electron_rate(rig, site, band, altitude=_altitude(asked)).mean())


def _lit(train: Telescope, camera: Camera) -> float:
    """Return the side of the largest field of the sensor's shape inside the image circle, over the sensor's side."""
    if train.image_circle is None:
        return 1.0
    diagonal = camera.pixel_pitch * float(np.hypot(camera.columns, camera.rows))
    return min(1.0, float((train.image_circle / diagonal).to_value(u.one)))


def _times(asked: Combinations, rig: Rig, light: _Light, image: StarImage, binning: int, pixel_share: float) -> dict:
    """Return the best length of a sub-exposure, its noise and the two times on the clock."""
    rates = [(rate * binning**2).to_value(PIXEL_RATE) for rate in light]
    rates.append(dark_rate(rig.camera, binning=binning).to_value(PIXEL_RATE))
    read = total_read_noise(rig.camera, binning=binning)
    scale = image_scale(rig.camera.pixel_pitch, rig.telescope.focal_length, binning=binning)
    found = Rates(source=rates[0], background=sum(rates[1:]), read_noise=read,
                  pixels_per_arcsec2=pixel_share / scale.to_value(u.arcsec / u.pix) ** 2)
    area, spread = asked.goal.area.to_value(u.arcsec**2), image.noise_equivalent_area.to_value(u.arcsec**2)
    surface, detail = (clock(asked, rig.overhead(SUB_LADDER), found, sky) for sky in (area, spread))
    length = surface[0]
    parts = np.array([*(rate * length.to_value(u.s) for rate in rates), read.to_value(u.electron) ** 2])
    shares = dict(zip(("source", "sky", "dark", "read"), (parts / parts.sum()).tolist(), strict=True))
    return {"sub_exposure": length, "surface_time": surface[1], "detail_time": detail[1], "noise": Noise(**shares),
            "rates": found}


def clock(asked: Combinations, overhead: u.Quantity[u.s], rates: Rates, spread_arcsec2: np.ndarray | float, *,
          kept: np.ndarray | float = 1.0) -> tuple[u.Quantity[u.s], u.Quantity[u.h]]:
    """Return the fastest length of a sub-exposure, ties within 1 % to the shorter, and the time on the clock.

    Frames are counted in parts, but one is the least: no length is fast that is longer than the whole task.

    Parameters
    ----------
    asked : Combinations
    overhead : Quantity [s], shape (n,)
        Of each step of `SUB_LADDER`.
    rates : Rates
    spread_arcsec2 : array (n,) or float
        Sky over which the light of the goal's area is spread.
    kept : array (n,) or float
        Share of the subs; where it is 0 the time is infinite.
    """
    length_s = SUB_LADDER.to_value(u.s)
    signal = rates.source * asked.goal.area.to_value(u.arcsec**2) * rates.pixels_per_arcsec2
    one = signal_to_noise(signal * length_s * u.electron, background=rates.background * length_s * u.electron,
                          read_noise=rates.read_noise, pixels=spread_arcsec2 * rates.pixels_per_arcsec2).value
    losses = speed(SUB_LADDER, overhead=overhead, background_rate=rates.background * PIXEL_RATE,
                   read_noise=rates.read_noise, disturbance_interval=asked.site.disturbance_interval)
    with np.errstate(divide="ignore"):
        frames = np.maximum((asked.goal.ratio / one) ** 2, 1.0) / (losses.survives * kept)
    times = frames * (SUB_LADDER + overhead).to(u.h)
    step = int(np.argmax(times <= times.min() / TIE))
    return SUB_LADDER[step], times[step]

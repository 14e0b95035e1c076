"""Which objects fit this rig on a night or in a month: every object of a catalogue, ranked by one score.

    figure = fit · h / h_best · h / (h + T)

h: useful hours in the nights asked for; h_best: those of the best placed object that fits; T: useful hours that the
object takes to the wanted signal-to-noise; fit: 1 where it fills 30 to 90 % of the field, less where it is lost in it
or spills over (common practice, no source). The last factor is one half where the hours are just what it takes.

Brightness is the catalogue's, else the magnitude spread over the size (a cluster as if its light were smooth). Where
there is neither a typical value is assumed and marked. Through a narrow band only what holds glowing gas is listed,
with a typical line brightness: times that rest on an assumption are an order of magnitude.
"""

import datetime
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.exposure.depth import GOAL_AREA
from planner.exposure.light.photons import PIXEL_RATE, LightPath
from planner.fields import Key, Spread, told
from planner.optics import field_of_view
from planner.rig import Filter, Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE, depression_for
from planner.session.projects.default_request import line_of
from planner.session.worth.useful_hours import CELLS, FEW, useful_hours
from planner.session.worth.usefulness import Usefulness, usefulness
from planner.sky import mean_surface_brightness
from planner.visibility.target import SkyObjects

FULL_FROM, FULL_TO = 0.3, 0.9  # share of the field an object spans at best (common practice, no source)
SMALLEST_FIT = 0.1  # below it an object is a dot in the picture, or nearly all of it lies outside
CLUSTER_IN_NEBULA = "cluster with nebula"
GLOWING = ("emission nebula", CLUSTER_IN_NEBULA, "planetary nebula", "supernova remnant", "nebula")
NOT_SHOWN = ("star", "double star", "nova", "not existing", "duplicate", "other")
# Where a catalogue gives no brightness (common practice, no source): a faint nebula, and the line of one.
CATALOGUE_RATIO = 10.0  # wanted on the mean surface of an object (common practice, no source)
ASSUMED_BRIGHTNESS = 23.5 * u.mag / u.arcsec**2
ASSUMED_LINE = 30 * u.R
SHOWN = 3  # names of those beside an object
COUNT = Rule(kind="whole", at_least=1, at_most=1000, remedy="Count the objects to list, 1 to 1000.")
WANTED = Rule(more_than=0, at_most=1e6, remedy="Give a signal-to-noise ratio, e.g. 10.")

FIGURE_MEANS = ("fit x hours / hours of the best placed x hours / (hours + time needed); fit is 1 for an object that "
                "spans 30 to 90 % of the field; time needed is in useful hours, to the signal-to-noise ratio on "
                "25 arcsec2")


@dataclass(frozen=True)
class FittingObject:
    """One of them."""

    found: "FittingObjects"
    at: int  # its row
    name = told(str, "of the object", lambda one: str(one.found.objects.name[one.at]))
    common_name = told(str, "what it is called", lambda one: str(one.found.objects.common_name[one.at]))
    in_field = told(tuple[str, ...], "objects of a lower score that a frame of it shows",
                    lambda one: one.found.in_field[one.at])
    kind = told(str, "what it is", lambda one: str(one.found.objects.kind[one.at]))
    ra = told(u.deg, "right ascension, ICRS", lambda one: one.found.objects.ra[one.at])
    dec = told(u.deg, "declination, ICRS", lambda one: one.found.objects.dec[one.at])
    size = told(u.arcmin, "larger diameter", lambda one: one.found.objects.size_major[one.at])
    fit = told(float, "in the field, 1 at best", lambda one: float(one.found.fit[one.at]))
    hours = told(u.h, "useful ones, of all nights together", lambda one: one.found.useful[one.at], key="hours")
    up = told(u.h, "on the clock", lambda one: one.found.up[one.at], key="up_hours")
    time = told(u.h, "useful hours to the wanted signal-to-noise", lambda one: one.found.time[one.at],
                key="time_needed_h")
    assumed = told(bool, "whether the catalogue gives no brightness", lambda one: bool(one.found.assumed[one.at]),
                   key="brightness_assumed")
    figure = told(float, "its score", lambda one: float(one.found.figure[one.at]))


@dataclass(frozen=True)
class FittingObjects:
    """The objects that suit best, columns of equal length, best first."""

    measure: Annotated[Usefulness, Spread()]
    dates: tuple[datetime.date, ...]
    field: Annotated[tuple[u.Quantity[u.deg], u.Quantity[u.deg]], "width and height", Key("field_deg")]
    signal_to_noise: Annotated[float, "wanted on the mean surface"]
    objects: SkyObjects
    fit: np.ndarray
    useful: u.Quantity[u.h]  # in all the nights together
    up: u.Quantity[u.h]
    time: u.Quantity[u.h]  # useful hours to the wanted signal-to-noise
    assumed: np.ndarray  # whether the brightness is assumed
    figure: np.ndarray
    in_field: tuple[tuple[str, ...], ...]  # of each, objects of a lower figure that a frame of it shows
    considered: Annotated[int, "objects in all"]
    left_out: Annotated[dict[str, int], "how many, by why"]
    first_night = told(datetime.date, "its evening", lambda found: found.dates[0])
    last_night = told(datetime.date, "its evening", lambda found: found.dates[-1])
    figure_means = told(str, "what the score is", lambda _: FIGURE_MEANS)
    rows = told(tuple[FittingObject, ...], "best first", lambda found: [
        FittingObject(found, at) for at in range(len(found.objects))], key="objects")

    def also(self, at: int) -> str:
        """Return what else one is called, and what its frames show beside it."""
        names, more = self.in_field[at][:SHOWN], len(self.in_field[at][SHOWN:])
        beside = f"with {', '.join(names)}{f' and {more} more' if more else ''}" if names else ""
        return "; ".join(filter(None, (str(self.objects.common_name[at]), beside)))


def fitting_objects(objects: SkyObjects, rig: Rig, site: Site, first: datetime.date | str, *, nights: int = 1,
                    band: Filter | None = None, lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE,
                    signal_to_noise: float | None = None, count: int = 20, kind: str | None = None) -> FittingObjects:
    """Return the objects that fit a rig best in some nights.

    Parameters
    ----------
    objects : SkyObjects
        The whole catalogue.
    first : datetime.date or str
        The first evening.
    nights : int
        1 for a night, 28 to 31 for a month.
    band : Filter, optional
        One of the rig's; its first one if absent.
    signal_to_noise : float, optional
        Wanted on 25 arcsec², as in `planner.session.advice.answer.GOAL_AREA`.
    count : int
        Of objects to return at most.
    kind : str, optional
        A word of the kind, e.g. ``galaxy``.

    Raises
    ------
    InvalidInputError
        For a kind that the catalogue has not, a count or a ratio out of range.
    """
    band = rig.filters[0] if band is None else band
    count, wanted = check("count", count, COUNT), check(
        "signal_to_noise", CATALOGUE_RATIO if signal_to_noise is None else signal_to_noise, WANTED)
    left_out: dict[str, int] = {}
    total = len(objects)
    if kind is not None:
        objects = _kept(objects, _of_kind(objects, kind), f"not {kind}", left_out)
    objects = _kept(objects, ~np.isin(objects.kind, NOT_SHOWN), "stars and void entries", left_out)
    if band.narrow:
        objects = _kept(objects, np.isin(objects.kind, GLOWING), "without glowing gas", left_out)
    objects = _kept(objects, np.isfinite(objects.size_major.value), "without a size", left_out)
    field = field_of_view(rig.camera.pixel_pitch, rig.camera.columns, rig.camera.rows, rig.telescope.focal_length)
    fit = fit_in_field(objects.size_major, objects.size_minor, field.width, field.height)
    objects, fit = _kept(objects, fit >= SMALLEST_FIT, "too small or too large", left_out), fit[fit >= SMALLEST_FIT]
    measure = usefulness(rig, site, band)
    found = useful_hours(objects.ra, objects.dec, measure, first, nights, depression=depression_for(band),
                         minimum_altitude=lowest_altitude, mount=rig.mount, cells=CELLS if nights == 1 else FEW)
    hours = found.useful.sum(axis=1).to_value(u.h)
    time, assumed = hours_needed(objects, measure, wanted)
    figure = fit * hours / max(hours.max(initial=0.0), 1e-9) * hours / (hours + time.value)
    left_out["never up in the dark"] = int(np.sum(hours <= 0))
    order = np.argsort(-figure, kind="stable")
    best, in_field = one_a_field(objects, order[figure[order] > 0], min(field.width, field.height) / 2, count)
    left_out["in the field of one that is listed"] = sum(map(len, in_field))
    return FittingObjects(
        measure=measure, dates=found.cells.dates, field=(field.width, field.height), signal_to_noise=wanted,
        objects=objects.chosen(best), fit=fit[best], useful=hours[best] * u.h, up=found.up.sum(axis=1)[best],
        time=time[best], assumed=assumed[best], figure=figure[best], in_field=in_field, considered=total,
        left_out={why: number for why, number in left_out.items() if number})


def one_a_field(objects: SkyObjects, order: np.ndarray, reach: u.Quantity[u.deg], count: int
                ) -> tuple[np.ndarray, tuple[tuple[str, ...], ...]]:
    """Return the first objects of an order (n,), at most so many, and of each the names of those it stands for.

    An object of which three quarters of the length lie within `reach` of a larger one before it is shown by that one's
    frames.
    """
    ra, dec = objects.ra.to_value(u.rad), objects.dec.to_value(u.rad)
    place = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=1)
    size = objects.size_major.value
    inside = np.cos(np.maximum(reach.to_value(u.rad) - objects.size_major.to_value(u.rad) / 4, 0))
    chosen: list[int] = []
    beside: list[list[str]] = []
    for at in order.tolist():
        near = place[chosen] @ place[at] if chosen else np.zeros(0)
        shown_by = np.flatnonzero((near > inside[at]) & (size[chosen] >= size[at]))
        if shown_by.size:
            beside[int(shown_by[0])].append(str(objects.name[at]))
        elif len(chosen) == count:
            break
        else:
            chosen.append(at)
            beside.append([])
    return np.array(chosen, dtype=int), tuple(map(tuple, beside))


def _of_kind(objects: SkyObjects, kind: str) -> np.ndarray:
    """Say which objects are of a kind that has a word in it."""
    found = np.char.find(objects.kind.astype(str), kind) >= 0
    if not found.any():
        known = sorted({str(one) for one in objects.kind} - set(NOT_SHOWN))
        raise InvalidInputError("kind", kind, "is not in the catalogue", f"Give a word of: {', '.join(known)}.")
    return found


def _kept(objects: SkyObjects, keep: np.ndarray, why: str, left_out: dict[str, int]) -> SkyObjects:
    """Return the objects to keep; count the others."""
    left_out[why] = int(np.sum(~keep))
    return objects.chosen(keep)


def fit_in_field(size_major: u.Quantity[u.arcmin], size_minor: u.Quantity[u.arcmin], width: u.Quantity[u.deg],
                 height: u.Quantity[u.deg]) -> np.ndarray:
    """Return how well objects fill a field, 0 to 1, with the camera turned along them.

    `size_major` and `size_minor` (n,): a missing (NaN) smaller one counts as the larger. `width` and `height`: of the
    field, the larger first or not.
    Returns (n,): with q the larger of the object's sides over the field's: q/0.3 below 0.3, 1 to 0.9, (0.9/q)² beyond.
    """
    sides = sorted((width.to_value(u.arcmin), height.to_value(u.arcmin)))
    major = size_major.to_value(u.arcmin)
    minor = np.where(np.isfinite(size_minor.value), size_minor.to_value(u.arcmin), major)
    span = np.maximum(np.maximum(major / sides[1], minor / sides[0]), 1e-9)
    return np.minimum(np.minimum(span / FULL_FROM, 1.0), (FULL_TO / span) ** 2)


def hours_needed(objects: SkyObjects, measure: Usefulness, signal_to_noise: float
                 ) -> tuple[u.Quantity[u.h], np.ndarray]:
    """Return the useful hours that objects take to a signal-to-noise ratio, and whether their brightness is assumed.

    The CCD equation under the moonless zenith with the reference sub-exposure; overhead and spoiled frames count, the
    mount's own losses do not. Shape (n,) each.
    """
    band, light = measure.band, LightPath(measure.rig, measure.band, measure.site)
    brightness, assumed = _brightness(objects)
    rate = light.surface(brightness, airmass=1.0).to_value(PIXEL_RATE)
    if band.narrow:
        of_one = light.line(1 * u.R, airmass=1.0).to_value(PIXEL_RATE)
        known = line_of(band) == "Ha" and np.isfinite(objects.line_brightness.value)
        assumed = ~np.broadcast_to(known, len(objects))
        rate = of_one * np.where(assumed, ASSUMED_LINE.value, objects.line_brightness.value)
    noise = rate + measure.zenith_noise.to_value(PIXEL_RATE)
    per_hour = light.pixels(GOAL_AREA) * rate**2 / noise * 3600 * measure.clock_share
    return signal_to_noise**2 / per_hour * u.h, assumed


def _brightness(objects: SkyObjects) -> tuple[u.Quantity, np.ndarray]:
    """Return surface brightnesses, and where they are assumed."""
    minor = u.Quantity(np.where(np.isfinite(objects.size_minor.value), objects.size_minor, objects.size_major))
    spread = mean_surface_brightness(objects.magnitude, size_major=objects.size_major, size_minor=minor)
    known = u.Quantity(np.where(np.isfinite(objects.surface_brightness.value), objects.surface_brightness, spread))
    # Of a cluster in a nebula the magnitude is that of its stars: spread over the nebula it makes no fainter a one.
    starlight = (objects.kind == CLUSTER_IN_NEBULA) & (known > ASSUMED_BRIGHTNESS)
    assumed = ~np.isfinite(known.value) | starlight
    return u.Quantity(np.where(assumed, ASSUMED_BRIGHTNESS, known)), assumed

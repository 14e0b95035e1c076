"""What a night's frames count for: their open-shutter time in equivalent hours, as a plan would have counted it."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.checks import Rule, check, given
from planner.errors import InvalidInputError
from planner.exposure.speed import SUB_LADDER
from planner.rig import Filter, Rig, Site
from planner.session.advice.answer import LOWEST_ALTITUDE, night_for, window_samples
from planner.session.advice.guide_star import NearbyStars
from planner.session.night.model import Block
from planner.session.night.motion import mount_motion, stand_ins
from planner.session.night.slots.slot_worth import (
    FilterWorth,
    area_growth,
    filter_worths,
    guiding_pays,
    sky_over_night,
)
from planner.session.night.slots.windows import Slots, slots_of
from planner.visibility import Night, Target, target_window, utc_time
from planner.visibility.clock import clock_text
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.moving_targets import placed

STEP = 5 * u.min
LEAST_SHARE = 0.1  # of the clock that kept frames had: who kept less would have gone home
OPEN = Rule(unit=u.h, more_than=0, at_most=24)


@dataclass(frozen=True, kw_only=True)
class Counted:
    """Equivalent hours of a night's kept frames, and the stretch of time that they are taken to come from."""

    hours: u.Quantity[u.h]
    start: Time
    end: Time
    clear: u.Quantity[u.h]  # of the clock in the dark above limits and skyline, from the start given; no more counts


def counted_hours(target: Target, rig: Rig, site: Site, band: Filter, date: datetime.date | str,
                  open_shutter: u.Quantity[u.h], *, sub_exposure: u.Quantity[u.s] | None = None,
                  start: Time | None = None, lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE,
                  stars: NearbyStars | None = None) -> Counted | None:
    """Return what kept frames of one target, filter and night count for.

    Parameters
    ----------
    target, rig, site, band
        What was imaged, with what, from where.
    date : datetime.date or str
        The evening's date on the site's clock.
    open_shutter : Quantity [h], scalar
        Of the frames that were kept.
    sub_exposure : Quantity [s], scalar, optional
        Length of one; the best one if not known.
    start : Time, optional
        When the first began; if not known, the stretch of the night that is best for it.
    stars : NearbyStars, optional
        Catalogue stars around the target, to guide on.

    Returns
    -------
    Counted or None
        None where the target is not up in the dark that night. Lost frames are not in it, for only kept ones count.
        Time beyond that in which it stands clear of limits and skyline counts nothing.

    Raises
    ------
    InvalidInputError
        If the time is not more than 0 or more than from sunset to sunrise, or the target is not up in the dark from the
        start given.
    """
    dark = night_for(band, site, date)
    target = placed(target, site, dark.date)
    hours = _possible(open_shutter, dark)
    window = target_window(target, site, dark, minimum_altitude=lowest_altitude, mount=rig.mount)
    slots = slots_of({0.0: dark}, STEP)
    if not window.windows or slots is None:
        return None
    sky = sky_over_night([target], site, utc_time(slots.middles))
    motion = mount_motion(target, rig, site, stand_ins(rig, site)[band.name], window_samples(window), stars)
    worth = given(filter_worths([target], [motion], rig, site, band, sky, area_growth(rig, site, sky))[0])
    clear = np.array([[float(mjd_tt(edge)) for edge in one] for one in window.windows])
    found = _counted(worth, slots, clear, hours, sub_exposure, None if start is None else float(mjd_tt(start)))
    if found is None and start is not None:
        up = f"{clock_text(window.windows[0][0], site)} to {clock_text(window.windows[-1][1], site)}"
        raise InvalidInputError("start", clock_text(utc_time(float(mjd_tt(start))), site),
                                "must lie where the target is up in the dark", f"That was from {up}.")
    return found


def counted_as_planned(blocks: Sequence[Block], open_shutter: u.Quantity[u.h]) -> u.Quantity[u.h]:
    """Return what kept frames of some blocks of a plan count for, at the rate that the plan gave them."""
    planned = sum((block.sub_count * block.sub_exposure for block in blocks), 0 * u.s)
    hours = sum((block.equivalent_hours for block in blocks), 0 * u.h)
    return (hours * (open_shutter / planned)).to(u.h)


def _possible(open_shutter: u.Quantity[u.h], dark: Night) -> float:
    """Return the hours, refused where they are more than lie between sunset and sunrise."""
    hours = float(check("open_shutter", open_shutter, OPEN).value)
    sunset, sunrise = dark.sunset or dark.start, dark.sunrise or dark.end
    most = float((sunrise - sunset).to_value(u.h))
    if hours > most:
        raise InvalidInputError("open shutter", f"{hours:.2f} h", f"must be at most the {most:.1f} h from sunset to "
                                "sunrise", "Give the time of one night's kept frames.")
    return hours


def _counted(worth: FilterWorth, slots: Slots, clear: np.ndarray, hours: float, sub: u.Quantity | None,
             start: float | None) -> Counted | None:
    """Take the frames' time from the slots where they were, or from the best in a row; None if nothing is there.

    `clear`: the windows, MJD (n, 2).
    """
    inside = np.logical_or.reduce((slots.edges[1:] > clear[:, :1]) & (slots.edges[:-1] < clear[:, 1:]))
    method, length = _method(worth, inside, sub)
    rate = np.where(inside, worth.open_rate[method, length], 0.0)
    share = np.maximum(worth.open_share[method, length], LEAST_SHARE)
    begin = start
    if begin is None:
        days = hours / share[inside].mean() / 24
        begin = max(clear[0, 0], float(slots.edges[_best_start(rate, max(1, round(days / slots.length)))]))
    kept = np.append(0.0, np.cumsum(share)) * slots.length * 24  # hours up to each edge
    end = float(np.interp(np.interp(begin, slots.edges, kept) + hours, kept, slots.edges))
    overlap = np.clip(np.minimum(slots.edges[1:], end) - np.maximum(slots.edges[:-1], begin), 0, None)
    weight = overlap * share * (rate > 0)
    if not weight.sum() > 0:
        return None
    up = 24 * float(np.clip(clear[:, 1] - np.maximum(clear[:, 0], -np.inf if start is None else start), 0, None).sum())
    return Counted(hours=min(hours, up) * float(weight @ rate / weight.sum()) * u.h, start=utc_time(begin),
                   end=utc_time(min(end, clear[-1, 1])), clear=up * u.h)


def _method(worth: FilterWorth, inside: np.ndarray, sub: u.Quantity | None) -> tuple[int, int]:
    """Return the places of method and length: guided where a plan would, the length given or the best one."""
    method = int(guiding_pays(worth.by_method(np.flatnonzero(inside))))
    if sub is None:
        return method, int(worth.rate[method][:, inside].mean(axis=1).argmax())
    return method, int(np.abs(np.log(SUB_LADDER.to_value(u.s) / sub.to_value(u.s))).argmin())


def _best_start(rate: np.ndarray, count: int) -> int:
    """Return the first of so many slots in a row that bring most."""
    sums = np.concatenate([[0.0], np.cumsum(rate)])
    if count >= len(rate):
        return int(np.argmax(rate > 0))
    return int(np.argmax(sums[count:] - sums[:-count]))

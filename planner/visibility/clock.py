"""Nights, dates and the site's own clock."""

import datetime
from zoneinfo import ZoneInfo

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.rig import Site
from planner.visibility.earth_rotation import FIRST_MJD, LAST_MJD, MJD_ZERO, mjd_tt, utc_from_tt

MJD_OF_ORDINAL_ZERO = -678576  # datetime.date(1858, 11, 17).toordinal() is 678576, and its MJD is 0
FIRST_DATE, LAST_DATE = (datetime.date.fromordinal(int(mjd) + shift - MJD_OF_ORDINAL_ZERO)
                         for mjd, shift in ((FIRST_MJD, 1), (LAST_MJD, -1)))
EVENING = 0.75  # 18 h local mean solar time names the night
_UTC = datetime.UTC


def as_date(date: datetime.date | str) -> datetime.date:
    """Return the evening's date of a night, from a date or an ISO text such as ``2026-11-25``.

    Raises InvalidInputError if the text is no date, or the date is outside FIRST_DATE to LAST_DATE, for which the
    Earth's rotation and the Sun's place are known.
    """
    try:
        day = datetime.date.fromisoformat(date.strip()) if isinstance(date, str) else date
        mjd = day.toordinal() + MJD_OF_ORDINAL_ZERO
    except (ValueError, AttributeError):
        raise InvalidInputError("night", date, "must be a date", "Write it like 2026-11-25.") from None
    if not FIRST_MJD < mjd < LAST_MJD:
        raise InvalidInputError("night", date, f"must lie between {FIRST_DATE} and {LAST_DATE}",
                                "Give the evening's local date.")
    return datetime.date(day.year, day.month, day.day)


def evenings(first: datetime.date | str, count: int) -> tuple[datetime.date, ...]:
    """Return the evenings of so many nights in a row; refuse more than there are until `LAST_DATE`."""
    day = as_date(first)
    most = (LAST_DATE - day).days + 1
    if count > most:
        raise InvalidInputError("nights", count, f"must be at most {most} from {day} on, for the Sun's place is known "
                                f"to {LAST_DATE}", "Begin earlier, or count fewer nights.")
    return tuple(day + datetime.timedelta(days=shift) for shift in range(count))


def lived(date: datetime.date, site: Site) -> datetime.date:
    """Return a date that the site's clock has shown; refuse one that was left out when it crossed the date line."""
    evening = datetime.datetime.combine(date, datetime.time(18), ZoneInfo(site.time_zone))
    if evening.astimezone(_UTC).astimezone(ZoneInfo(site.time_zone)).date() != date:
        raise InvalidInputError("night", date, f"never was on the clocks of {site.time_zone}",
                                "Give the evening before or after.")
    return date


def evening_date(now: datetime.datetime, site: Site) -> datetime.date:
    """Return the local date of the evening that names the night now running or coming.

    `now`: a moment with its time zone. `site`: gives the clock.
    From local noon on that of the coming night, before it that of the night just past.
    """
    return (now.astimezone(ZoneInfo(site.time_zone)) - datetime.timedelta(hours=12)).date()


def local_time(time: Time, site: Site) -> datetime.datetime:
    """Return a moment on the site's clock, with its zone."""
    return _local(float(mjd_tt(time)), site)


def clock_text(time: Time, site: Site) -> str:
    """Return a moment on the site's clock to the nearest minute, zone written out: ``23:11 CEST``."""
    return clock_of(float(mjd_tt(time)), site)


def to_second(time: Time) -> datetime.datetime:
    """Return a moment to the nearest second, in UTC."""
    utc = time if time.scale == "utc" else time.utc
    moment = _moment(float(utc.jd1 - MJD_ZERO) + float(utc.jd2))
    return (moment + datetime.timedelta(seconds=0.5)).replace(microsecond=0)


def utc_text(time: Time) -> str:
    """Return a moment to the nearest second as ISO 8601: ``2026-11-25T22:11:03Z``."""
    return f"{to_second(time):%Y-%m-%dT%H:%M:%SZ}"


def _local(tt: float, site: Site) -> datetime.datetime:
    """Return MJD in TT on the site's clock."""
    return _moment(float(utc_from_tt(tt))).astimezone(ZoneInfo(site.time_zone))


def _moment(utc: float) -> datetime.datetime:
    """Return MJD in UTC as a moment."""
    day = int(np.floor(utc))
    start = datetime.datetime.fromordinal(day - MJD_OF_ORDINAL_ZERO).replace(tzinfo=_UTC)
    return start + datetime.timedelta(days=utc - day)


def clock_of(tt: float, site: Site) -> str:
    rounded = _local(tt + 30 / 86400, site)
    return f"{rounded:%H:%M} {_zone_name(rounded)}"


def _zone_name(moment: datetime.datetime) -> str:
    """Return the zone's short name; zones without one are written as their offset."""
    name = moment.tzname() or "UTC"
    return f"UTC{name.replace('-', '−')}" if name[:1] in "+-" else name


def mean_midnight(site: Site, date: datetime.date) -> float:
    """Return MJD (UTC) of the mean solar midnight of the night whose evening has that date on the site's clock."""
    longitude = site.longitude.to_value(u.deg)
    longitude -= 360 if longitude > 180 else 0
    evening = date.toordinal() + MJD_OF_ORDINAL_ZERO + EVENING - longitude / 360
    zone = ZoneInfo(site.time_zone)
    for shift in (0, -1, 1):
        at = datetime.datetime(1858, 11, 17, tzinfo=_UTC) + datetime.timedelta(days=evening + shift)
        if at.astimezone(zone).date() == date:
            return evening + shift + 0.25
    return evening + 0.25


def clock_change(start: float, end: float, site: Site) -> str:
    """Say when the clocks change between two moments (MJD in TT), or return an empty text."""
    before, after = _local(start, site), _local(end, site)
    if before.utcoffset() == after.utcoffset():
        return ""
    for _ in range(20):
        middle = (start + end) / 2
        if _local(middle, site).utcoffset() == before.utcoffset():
            start = middle
        else:
            end = middle
    change = _local(end, site)
    hours = (after.utcoffset() - before.utcoffset()).total_seconds() / 3600  # type: ignore[operator]
    way = "forward" if hours > 0 else "back"
    return (f"The clocks go {way} by {abs(hours):g} h during this night, at "
            f"{change.astimezone(_UTC):%H:%M} UTC (from {' to '.join(_told_apart(before, change))}).")


def _told_apart(before: datetime.datetime, after: datetime.datetime) -> tuple[str, str]:
    """Return the names of two zones, or their offsets where they share a name."""
    names = _zone_name(before), _zone_name(after)
    return names if names[0] != names[1] else (f"{before:UTC%z}", f"{after:UTC%z}")

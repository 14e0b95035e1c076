"""Seasons for the tests: the hours of targets in the dark of many nights, as the product's two steps give them."""

from types import SimpleNamespace

from planner.visibility import season_dark, up_hours


def season_hours(ra, dec, site, first, nights, *, least=None, **limits):
    found = season_dark(site, first, nights, **({} if least is None else {"least": least}))
    hours = up_hours(ra, dec, site, found.start, found.end, **limits)
    return SimpleNamespace(dates=found.dates, start=found.start, end=found.end, dark_hours=found.hours,
                           hours=hours.of(0, hours.count))

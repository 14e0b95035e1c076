"""A season and a sweep as plain numbers, texts and lists: what `--json` prints."""

from typing import Any

from astropy import units as u

from planner.session.worth.usefulness import Usefulness
from planner.session.year.objects import FittingObjects
from planner.session.year.season import Season, SeasonTarget, ToDo

HOURS_MEAN = ("useful hours: dark, within the limits, weighted by the rate of squared signal-to-noise on faint detail "
              "as fine as a star, relative to the moonless zenith of this site; moonlight and twilight count as "
              "brightness. up_hours are not weighted")
FIGURE_MEANS = ("fit x hours / hours of the best placed x hours / (hours + time needed); fit is 1 for an object that "
                "spans 30 to 90 % of the field; time needed is in useful hours, to the signal-to-noise ratio on "
                "25 arcsec2")


def measure_document(measure: Usefulness) -> dict[str, Any]:
    """Return what the hours are measured against."""
    return {"rig": measure.rig.name, "site": measure.site.name, "filter": measure.band.name,
            "hours_mean": HOURS_MEAN, "reference_sub_exposure_s": measure.sub_exposure.to_value(u.s)}


def season_document(season: Season) -> dict[str, Any]:
    """Return the season with keys that end in their unit; a night is its evening's local date."""
    return measure_document(season.measure) | {
        "first_night": season.dates[0].isoformat(), "last_night": season.dates[-1].isoformat(),
        "lowest_altitude_deg": season.lowest_altitude.to_value(u.deg),
        "sun_below_deg": season.depression.to_value(u.deg),
        "nights": [{"night": date.isoformat(), "dark_hours": float(dark), "moon_illumination": float(lit)}
                   for date, dark, lit in zip(season.dates, season.dark_hours.to_value(u.h),
                                              season.moon_illumination.value, strict=True)],
        "targets": [_target(season, row) for row in season.targets], "notes": list(season.notes),
    }


def _target(season: Season, row: SeasonTarget) -> dict[str, Any]:
    best = row.fortnight
    return {
        "name": row.target.name, "ra_deg": row.target.ra.to_value(u.deg), "dec_deg": row.target.dec.to_value(u.deg),
        "nights": [{"night": date.isoformat(), "hours": float(useful), "up_hours": float(up)}
                   for date, useful, up in zip(season.dates, row.useful.to_value(u.h), row.up.to_value(u.h),
                                               strict=True)],
        "best_night": None if row.best_night is None else row.best_night.isoformat(),
        "best_fortnight": None if best is None else {
            "first_night": best.first.isoformat(), "last_night": best.last.isoformat(),
            "hours": float(best.hours.to_value(u.h))},
        "total_hours": float(row.total.to_value(u.h)), "total_up_hours": float(row.up.sum().to_value(u.h)),
        "to_do": _to_do(row.to_do), "reason": row.reason,
    }


def _to_do(to_do: ToDo | None) -> dict[str, Any] | None:
    if to_do is None:
        return None
    return {"left": [{"filter": name, "hours": float(time.to_value(u.h))} for name, time in to_do.left.items()],
            "clear_nights_needed": to_do.nights,
            "finished_if_all_clear": None if to_do.finished is None else to_do.finished.isoformat()}


def objects_document(found: FittingObjects) -> dict[str, Any]:
    """Return a sweep with keys that end in their unit."""
    objects = found.objects
    return measure_document(found.measure) | {
        "first_night": found.dates[0].isoformat(), "last_night": found.dates[-1].isoformat(),
        "field_deg": [side.to_value(u.deg) for side in found.field], "signal_to_noise": found.signal_to_noise,
        "figure_means": FIGURE_MEANS, "considered": found.considered, "left_out": found.left_out,
        "objects": [{
            "name": str(objects.name[at]), "common_name": str(objects.common_name[at]),
            "in_field": list(found.in_field[at]),
            "kind": str(objects.kind[at]), "ra_deg": float(objects.ra[at].to_value(u.deg)),
            "dec_deg": float(objects.dec[at].to_value(u.deg)),
            "size_arcmin": float(objects.size_major[at].to_value(u.arcmin)), "fit": float(found.fit[at]),
            "hours": float(found.useful[at].to_value(u.h)), "up_hours": float(found.up[at].to_value(u.h)),
            "time_needed_h": float(found.time[at].to_value(u.h)), "brightness_assumed": bool(found.assumed[at]),
            "figure": float(found.figure[at])} for at in range(len(objects))],
    }

"""Where the Earth stands in its turn, offline: UT1, leap seconds and the pole, from data that ship with astropy.

Importing this module applies the settings without which astropy refuses, or tries to download, when the bundled
tables are older than a month, without loading astropy's own reader of them (a twentieth of a second that no answer
needs). `visibility` imports it first. Inside the room time is a plain float: the Modified
Julian Date in Terrestrial Time (`mjd_tt`), which has no leaps; `mjd_tt` and `utc_time` translate at the boundary.

The bundled table holds measured and predicted UT1−UTC, to about a year ahead. Past its end the last value is held.
"""

import functools
import warnings
from typing import Any

import astropy_iers_data  # type: ignore[import-untyped]
import erfa
import numpy as np
from astropy import units as u
from astropy.config import get_config
from astropy.time import Time
from astropy.utils.exceptions import AstropyWarning

get_config("astropy.utils.iers.iers").update({"auto_download": False, "auto_max_age": None})
warnings.filterwarnings("ignore", ".*polar motions.*", AstropyWarning)
warnings.filterwarnings("ignore", ".*dubious year.*", erfa.ErfaWarning)

MJD_ZERO = 2400000.5
DAY_S = 86400.0
TT_MINUS_TAI_S = 32.184
FIRST_MJD, LAST_MJD = 41684.0, 87704.0  # 1973 Jan 2 (start of the table) to 2099 Jan 1 (erfa.epv00 ends in 2100)
# Row of finals2000A.all: MJD in columns 8-15, pole x 19-27, y 38-46, UT1-UTC flag 58, UT1-UTC 59-68
# (readme.finals2000A of the IERS, one-based columns).
_ROW = np.dtype([("a", "S7"), ("mjd", "S8"), ("b", "S3"), ("x", "S9"), ("c", "S10"), ("y", "S9"), ("d", "S11"),
                 ("flag", "S1"), ("ut1", "S10"), ("e", "S120")])
_ARCSEC = np.pi / 180 / 3600
_SPANS_DAYS = np.array([0, 1, 2, 5, 10, 20, 30, 40, 50]) * 365  # over which the table's past is looked at


@functools.cache
def _leap_seconds() -> tuple[np.ndarray, np.ndarray]:
    """Return the MJD (UTC) at which TAI−UTC changed since 1972, and its values in seconds."""
    table = erfa.leap_seconds.get()
    table = table[table["year"] >= 1972]
    mjd = np.array([erfa.cal2jd(int(row["year"]), int(row["month"]), 1)[1] for row in table])
    return mjd, np.array(table["tai_utc"], float)


@functools.cache
def _table() -> tuple[np.ndarray, ...]:
    """Return MJD (UTC), UT1−TAI [s], pole x and y [rad] by day, and the last measured day."""
    rows = np.fromfile(astropy_iers_data.IERS_A_FILE, dtype=_ROW)
    rows = rows[np.char.strip(rows["ut1"]) != b""]
    mjd = rows["mjd"].astype(float)
    ut1_minus_tai = rows["ut1"].astype(float) - _tai_minus_utc(mjd)
    return (mjd, ut1_minus_tai, rows["x"].astype(float) * _ARCSEC, rows["y"].astype(float) * _ARCSEC,
            mjd[rows["flag"] == b"I"][-1])


def _tai_minus_utc(mjd_utc: float | np.ndarray) -> Any:
    """Return TAI−UTC in seconds at dates since 1972; the last known value is held."""
    changed, value = _leap_seconds()
    return value[np.maximum(np.searchsorted(changed, mjd_utc, side="right") - 1, 0)]


def tt_from_utc(mjd_utc: float | np.ndarray) -> Any:
    """Return MJD in TT of an MJD in UTC; a day with a leap second is stretched, as in ERFA."""
    day = np.floor(mjd_utc)
    before = _tai_minus_utc(day)
    length = DAY_S + _tai_minus_utc(day + 1) - before
    return day + ((mjd_utc - day) * length + before + TT_MINUS_TAI_S) / DAY_S


def utc_from_tt(mjd_tt: float | np.ndarray) -> Any:
    """Return MJD in UTC of an MJD in TT: the inverse of `tt_from_utc`."""
    tai = mjd_tt - TT_MINUS_TAI_S / DAY_S
    day = np.floor(tai)
    # The UTC day starts TAI-UTC after the TAI day of the same number.
    day = np.where((tai - day) * DAY_S < _tai_minus_utc(day), day - 1, day)
    before = _tai_minus_utc(day)
    length = DAY_S + _tai_minus_utc(day + 1) - before
    return day + ((tai - day) * DAY_S - before) / length


def ut1_minus_tt_s(mjd_tt: np.ndarray) -> np.ndarray:
    """Return UT1−TT in seconds, held past either end of the table."""
    mjd, ut1_minus_tai = _table()[:2]
    return np.interp(mjd_tt, mjd, ut1_minus_tai) - TT_MINUS_TAI_S


def pole_xy(mjd_tt: float | np.ndarray) -> Any:
    """Return the pole's x and y in radians, held past either end of the table."""
    mjd, _, x, y, _ = _table()
    return np.interp(mjd_tt, mjd, x), np.interp(mjd_tt, mjd, y)


def _held_seconds(mjd_tt: float | np.ndarray) -> Any:
    """Return how far UT1 may be off, in seconds: 0 within the table, growing past its end.

    As far as a value held for as long would have strayed in the table's past (rms), at the longest span's pace beyond.
    """
    days, strayed = np.maximum(np.asarray(mjd_tt) - _table()[0][-1], 0.0), _strayed_seconds()
    return np.interp(days, _SPANS_DAYS, strayed) * np.maximum(days / _SPANS_DAYS[-1], 1.0)


@functools.cache
def _strayed_seconds() -> np.ndarray:
    """Return the rms change of UT1−TAI over each of `_SPANS_DAYS` in the table, in seconds."""
    _, ut1_minus_tai, *_ = _table()
    return np.array([0.0, *(np.sqrt(np.mean((ut1_minus_tai[span:] - ut1_minus_tai[:-span])**2))
                            for span in _SPANS_DAYS[1:])])


def mjd_tt(times: Time) -> np.ndarray:
    """Return astropy times as plain floats, MJD in TT, same shape."""
    utc = times if times.scale == "utc" else times.utc
    return tt_from_utc((utc.jd1 - MJD_ZERO) + utc.jd2)


def elapsed(start: Time, end: Time) -> u.Quantity[u.s]:
    """Return the time from one moment to another; astropy's own difference reads a table first, for 0.1 s."""
    return (mjd_tt(end) - mjd_tt(start)) * DAY_S * u.s


def later(moment: Time, by: u.Quantity[u.s]) -> Time:
    """Return a moment so much later, or earlier by a negative time."""
    return utc_time(mjd_tt(moment) + by.to_value(u.day))


def utc_time(mjd_tt: float | np.ndarray) -> Time:
    """Return plain floats, MJD in TT, as astropy times in UTC, same shape, shown as ISO 8601."""
    utc = np.asarray(utc_from_tt(mjd_tt), dtype=float)
    day = np.floor(utc)
    times = Time(MJD_ZERO + day, utc - day, format="jd", scale="utc")
    times.format = "isot"
    return times


def shown_as_time(name: str) -> "functools.cached_property[Time]":
    """Return a property that shows a field, MJD in TT, as an astropy time, made when asked for: it takes 0.1 ms."""
    return functools.cached_property(lambda owner: utc_time(getattr(owner, name)))


def earth_rotation_note(times: Time) -> str:
    """Say how far dates beyond the Earth-rotation table are affected, or return an empty text.

    `times` (any shape): the latest of them decides.
    """
    latest = np.max(mjd_tt(times))
    held = float(_held_seconds(latest))
    if held < 0.05:
        return ""
    end = utc_time(_table()[0][-1]).isot[:10]
    return (f"The Earth's rotation is predicted to {end} only; event times may be off by about {held:.1f} s "
            f"({15 * held:.0f} arcsec of hour angle).")

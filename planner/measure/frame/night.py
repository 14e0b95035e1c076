"""What frames of one night say together: where the focus went, tilt and corners, which way the field moved, the air."""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.fields import Key, Many
from planner.measure.drift.model import DriftLog
from planner.measure.frame.expected import still_width
from planner.measure.frame.grade import REJECT
from planner.measure.frame.model import FrameReport, Known
from planner.measure.frame.sky_trail import Cause, cause_of
from planner.rig import Site

FEWEST = 6  # frames
SOFTER = 0.05  # of a FWHM over the sharp one: the focus has begun to go (common practice, no source)
FOCUS_GAIN = 18.0  # twice the logarithm of the likelihood, of errors with wide wings: two in a thousand still focuses
LEAST_MISFIT = 1e-9  # of logarithms: frames that are copies of one fit any line
STEEPEST = 3.0  # times the sharp width: blur at the end of the series that is tried
LEAST_COOLING = 0.5  # K from the onset to the end, below which the blur is not put down to it
STRAIGHT = 0.3  # of the way of the field, that its motion may stray from a straight line
SEEINGS = (0.2, 15.0)  # arcsec
STEP = 1e-3  # of the seeing, to see how a width follows it
MODEL_ERROR = 0.05  # of the seeing: what focus, motion and the optics' own blur leave (common practice, no source)
USUAL_SPREAD, USUAL_WEIGHT = 0.15, 5  # of the logarithm of the seeing over nights, and how many nights that counts


@dataclass(frozen=True, kw_only=True)
class FocusDrift:
    """A focus that goes: blur that grows evenly from the moment on at which the focus was right."""

    first: int  # frame from which stars are 5 % wider than they were
    sharp: Annotated[u.Quantity[u.pix], "FWHM while the focus was right", Key("sharp_fwhm_pixels")]
    last: Annotated[u.Quantity[u.pix], "FWHM at the end", Key("last_fwhm_pixels")]
    temperatures: Annotated[u.Quantity[u.deg_C] | None, "then and at the end; null where not known, or hardly changed",
                            Many()]
    refocus_every: Annotated[u.Quantity[u.K] | None, "change of temperature that asks for focus"]


@dataclass(frozen=True, kw_only=True)
class NightSeeing:
    """The seeing of one night, as a site's table gives it: FWHM at the zenith, 500 nm."""

    night: Annotated[str, "date of its evening"]
    value: Annotated[u.Quantity[u.arcsec], "FWHM at the zenith, 500 nm", Key("zenith_500_nm_arcsec")]
    error: Annotated[u.Quantity[u.arcsec], "of that"]
    frames: Annotated[int, "that it is taken from"]


def focus_drift(place: np.ndarray, width: np.ndarray, degrees: np.ndarray) -> FocusDrift | None:
    """Return where the focus began to go; None where the widths do not show it.

    Parameters
    ----------
    place : ndarray (n,)
        Times or numbers of the frames, rising.
    width : ndarray (n,)
        FWHM without trails, pix; NaN where there is none.
    degrees : ndarray (n,)
        Temperature, deg C; NaN where it is not known.

    Notes
    -----
    The blur of a focus that moves evenly grows evenly and adds to the star in quadrature:
    :math:`w^2 = a^2\\,[1 + r^2\\,(x - x_0)_+^2]`. Least absolute logarithms, so that single wide frames do not count.
    """
    good = np.isfinite(width)
    if good.sum() < FEWEST or np.ptp(place[good]) == 0:
        return None
    x, log_width = (place[good] - place[good][0]) / np.ptp(place[good]), np.log(width[good])
    ratio = np.geomspace(0.2, STEEPEST, 40)[:, None, None]
    begin = x[:-3][:, None]
    growth = 0.5 * np.log1p((ratio * np.maximum(x - begin, 0) / (1 - begin)) ** 2)
    sharp = np.median(log_width - growth, axis=-1)
    misfit = np.abs(log_width - growth - sharp[..., None]).sum(axis=-1)
    best = np.unravel_index(np.argmin(misfit), misfit.shape)
    still = max(np.abs(log_width - np.median(log_width)).sum(), LEAST_MISFIT)
    if 2 * x.size * np.log(still / max(misfit[best], LEAST_MISFIT)) < FOCUS_GAIN or growth[best][-1] < 2 * SOFTER:
        return None
    blur = float(np.sqrt((1 + SOFTER) ** 2 - 1) / ratio[best[0], 0, 0])  # share of the way at which stars are softer
    start = float(begin[best[1], 0])
    first = int(np.flatnonzero(good)[np.searchsorted(x, start + blur * (1 - start)).clip(0, x.size - 1)])
    temperatures = every = None
    if np.isfinite(degrees[good]).all():
        at = np.interp([start, start + blur * (1 - start), 1.0], x, degrees[good])
        if abs(at[2] - at[0]) > LEAST_COOLING:
            temperatures, every = at[1:] * u.deg_C, abs(at[2] - at[0]) * blur * u.K
    size = float(np.exp(sharp[best]))
    return FocusDrift(first=first, sharp=size * u.pix, last=size * float(np.exp(growth[best][-1])) * u.pix,
                      temperatures=temperatures, refocus_every=every)


def field_motion(log: DriftLog) -> Cause | None:
    """Return how the stars moved over a series, which knows the sense; None where they did not go along a line.

    None too where all times are one: header times may be rounded, and frames copied.
    """
    time, ways = log.time.to_value(u.s), (log.ra.to_value(u.arcsec), log.dec.to_value(u.arcsec))
    if time.size < FEWEST or np.ptp(time) == 0:
        return None
    lines = [np.polynomial.Polynomial.fit(time, way, 1) for way in ways]
    moved = np.array([line(time[-1]) - line(time[0]) for line in lines])
    off = np.hypot(*(np.std(way - line(time)) for way, line in zip(ways, lines, strict=True)))
    if off > STRAIGHT * np.hypot(*moved):
        return None
    return cause_of(moved[0] * u.arcsec, moved[1] * u.arcsec, (time[-1] - time[0]) * u.s, declination=log.declination,
                    hour_angle=log.hour_angle, latitude=log.latitude)


def night_seeing(frames: tuple[FrameReport, ...], known: Known) -> NightSeeing | None:
    """Return the seeing at which this rig's stars would be as wide as those of the typical frame that is not rejected.

    None where rig, site, filter, time or place is not known, or stars are narrower than any seeing makes them.
    """
    used = [item for item in frames if item.comparison is not None and item.start is not None
            and item.grade.verdict != REJECT]
    if known.rig is None or known.site is None or known.band is None or not used:
        return None
    rig, site, band = known.rig, known.site, known.band
    pairs = [given(item.comparison) for item in used]
    ratios = np.array([float(pair.still_fwhm / pair.expected.still_fwhm[1]) for pair in pairs])
    place = int(np.argsort(ratios)[ratios.size // 2])
    middle, measured = used[place], pairs[place].still_fwhm.to_value(u.arcsec)

    def off(seeing: float) -> float:
        width = still_width(rig, replace(site, seeing=seeing * u.arcsec), band,
                            declination=given(middle.dec), hour_angle=given(middle.hour_angle))
        return float(width.to_value(u.arcsec)) - measured

    from scipy.optimize import brentq

    if off(SEEINGS[0]) > 0 or off(SEEINGS[1]) < 0:
        return None
    value = brentq(off, *SEEINGS, xtol=1e-3)
    # Where pixels and optics make most of a width, its error counts several times in the seeing.
    steepness = STEP * measured / (off(value * (1 + STEP)) - off(value))
    own = np.median([float(item.field.fwhm_error / item.field.fwhm) for item in used])
    of_width = max(float(np.std(np.log(ratios))), float(own)) / np.sqrt(ratios.size)
    relative = np.hypot(MODEL_ERROR, steepness * of_width)
    return NightSeeing(night=_evening(middle, site), value=value * u.arcsec, error=value * relative * u.arcsec,
                       frames=len(used))


def why_no_seeing(frames: tuple[FrameReport, ...], known: Known) -> tuple[str, str]:
    """Return why `night_seeing` tells nothing, without a full stop, and what to do about it."""
    good = [item for item in frames if item.grade.verdict != REJECT]
    if not good:
        return "needs a frame that is not rejected", "Leave out what went wrong, or take other frames."
    first = good[0]
    needed = {"rig": (known.rig, ""), "site": (known.site, ""),
              "target": (first.dec, ", for the headers hold no RA and DEC"),
              "time of the frames": (first.start, ", DATE-OBS, in the headers"), "exposure": (first.exposure, "")}
    lacking = {name: how for name, (there, how) in needed.items() if there is None}
    if lacking:
        remedy = " and ".join(f"the {name}{how}" for name, how in lacking.items())
        return f"lacks {' and '.join(f'the {name}' for name in lacking)}", f"Give {remedy}."
    return "is told from stars as this rig makes them", " ".join(first.notes) or (
        f"These are wider or narrower than any seeing from {SEEINGS[0]:g} to {SEEINGS[1]:g}″ makes them.")


def _evening(item: FrameReport, site: Site) -> str:
    """Return the date of the evening on which a frame's night began, by the Sun's time at the site."""
    return (item.start + (site.longitude.to_value(u.hourangle) - 12) * u.h).isot[:10]


def site_seeing(nights: list[tuple[float, float]], before: tuple[float, float]) -> tuple[float, float, float]:
    """Return a site's usual seeing, its standard error (arcsec), and the spread of its logarithm over nights.

    `nights`: seeing and error of nights that were measured, arcsec. `before`: what the site's table said before the
    first of them, and its error: it counts as a night.
    """
    values, errors = np.array([before, *nights]).T
    logs, own = np.log(values), errors / values
    middle = float(np.mean(logs))
    squares = np.sum(np.maximum((logs[1:] - middle) ** 2 - own[1:] ** 2, 0))
    spread = float(np.sqrt((USUAL_WEIGHT * USUAL_SPREAD**2 + squares) / (USUAL_WEIGHT + len(nights))))
    weights = 1 / (spread**2 + own**2)
    value = float(np.exp(weights @ logs / weights.sum()))
    return value, value / float(np.sqrt(weights.sum())), spread

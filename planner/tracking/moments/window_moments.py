"""The star's motion in windows of time, as moments in closed forms: the hot path under `exposure_motion`, plain floats.

A window of the smooth track is a short Legendre series; a periodic term is a sinusoid. Their variances and
covariances over the window are exact: sum of c_n^2/(2n+1) for the series, sinc for pairs of sinusoids, spherical
Bessel functions for one with the other (the Fourier transform of P_n is 2 i^n j_n). Nothing is sampled, so nothing
aliases however many turns of a worm fit into an exposure.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RAD_PER_S
from planner.errors import InvalidInputError
from planner.tracking.drift import SmoothTrack
from planner.tracking.moments.drive_moments import (
    CUBE_NODES,
    CUBE_RULE,
    ORDER,
    Drive,
    KnownDrive,
    Places,
    Powers,
    gauss,
)
from planner.tracking.moments.walk import LEFT_OVER, shaken_covariance
from planner.tracking.mount_frame import Array

SERIES_NODES = 6
SERIES_NORM = 1 / (2 * np.arange(1, ORDER + 1) + 1)  # mean square of each Legendre polynomial
TRACK_SLACK_RAD = 1e-9
SERIES_RULE = gauss(SERIES_NODES)
# From values at the nodes to Legendre coefficients 1 to ORDER, and from those to values at the nodes of the cube.
PROJECTOR = (np.polynomial.legendre.legvander(SERIES_RULE[0], ORDER)[:, 1:] * SERIES_RULE[1][:, None]
             * (2 * np.arange(1, ORDER + 1) + 1))
ON_CUBE_NODES = np.polynomial.legendre.legvander(CUBE_RULE[0], ORDER)[:, 1:].T


@dataclass(frozen=True)
class Moments:
    """Covariance [arcsec2] of the star's motion in each window, (t, k*h, p), and what turns it to its long axis."""

    ra: Array
    dec: Array
    across: Array

    @property
    def half(self) -> Array:
        """Half of the difference between the variances along the two principal axes."""
        square = self.ra - self.dec  # written over from here on: these arrays are large
        square *= square
        square *= 0.25
        square += self.across * self.across
        return np.sqrt(square, out=square)

    def principal(self) -> tuple[Array, Array]:
        """Return the variances along the direction of most motion and across it."""
        mean, half = self.ra + self.dec, self.half
        mean *= 0.5
        minor = mean - half
        mean += half
        return mean, np.maximum(minor, 0, out=minor)


class ExposureGrid:
    """Exposures of some lengths from some hour angles at some places of the field, over all phases of the drive.

    Of the smooth motion (`smooth_series`) at so many places and of a drive; in the units of their names: `seconds`
    (t,), `jitter_arcsec` (2,), the walk's rms after one second, and the encoder's step on the sky. `walks` (2, ORDER,
    p) are drawn beside the phases; without them the walk counts by its expectation, as round. `shakes` (3, p) say how
    the jitter of each sub is spread, of which the share `slow` (2,) resembles itself for `memory_s`; without them it
    counts by its expectation. `air_arcsec2` (3, h) is a blur that each hour angle adds: ra-ra, dec-dec and ra-dec. A
    steady creep goes along with `creeps` (2, p) per second.
    """

    def __init__(self, series: Array, drive: Drive | KnownDrive, *, places: int, seconds: Array, jitter_arcsec: Array,
                 walk_arcsec: float, step_arcsec: float, walks: Array | None = None, shakes: Array | None = None,
                 memory_s: float = 0.0, slow: Array | None = None, air_arcsec2: Array | None = None,
                 creeps: Array | None = None) -> None:
        self.places, self.series, self.drive = places, series, drive
        self.air = np.zeros((3, self.series.shape[2] // self.places)) if air_arcsec2 is None else air_arcsec2
        walked = walk_arcsec**2 * seconds  # s²T
        self.walk = None if walks is None else np.sqrt(walked)[:, None, None] * walks[:, None]  # (2, t, ORDER, p)
        if creeps is not None:
            self.walk = np.zeros((2, seconds.size, ORDER, creeps.shape[1])) if self.walk is None else self.walk
            self.walk[:, :, 0] += seconds[:, None] / 2 * creeps[:, None]
        self.shaken = None if shakes is None else shaken_covariance(jitter_arcsec, memory_s, seconds, shakes, slow)
        self.extra = (jitter_arcsec[:, None] ** 2 * (shakes is None) + walked * (1 / 6 if walks is None else LEFT_OVER)
                      + np.array([[step_arcsec**2 / 12], [0]]))
        self.extra_cumulant = self.drive.fast_cumulant - step_arcsec**4 / 120

    def known(self) -> "ExposureGrid":
        """Return the same windows with what their drive does worked out, to be asked again by `part`."""
        return self._with(self.series, self.drive.known(), self.extra, self.extra_cumulant, self.walk, self.shaken)

    def part(self, lengths: Places, places: Places, phases: slice, *, series: Array, drive_scale: float
             ) -> "ExposureGrid":
        """Return some of known windows, their smooth motion replaced and their periodic terms scaled.

        `series` has the shape of this one's; `lengths` and `places` are indices.
        """
        whole = series.reshape(*series.shape[:2], self.places, -1, ORDER)
        chosen = whole[:, lengths][:, :, places]
        drive = self.drive.known().part(lengths, phases, drive_scale)
        other = self._with(chosen.reshape(2, len(lengths), -1, ORDER), drive, self.extra[:, lengths],
                           self.extra_cumulant[lengths] + drive.fast_cumulant - self.drive.fast_cumulant[lengths],
                           None if self.walk is None else self.walk[:, lengths][..., phases],
                           None if self.shaken is None else self.shaken[:, lengths][..., phases])
        other.places = chosen.shape[2]
        return other

    def _with(self, series: Array, drive: Drive | KnownDrive, extra: Array, extra_cumulant: Array,
              walk: Array | None, shaken: Array | None) -> "ExposureGrid":
        """Return windows of other parts at the same places."""
        other = object.__new__(ExposureGrid)
        other.places, other.series, other.drive, other.air = self.places, series, drive, self.air
        other.extra, other.extra_cumulant, other.walk, other.shaken = extra, extra_cumulant, walk, shaken
        return other

    def moments(self) -> Moments:
        """Return the covariance of the motion about its mean."""
        found = _covariance(self.series, self.drive, self.extra, self.walk)
        if self.shaken is not None:
            found = tuple(part + shaken[:, None, :] for part, shaken in zip(found, self.shaken, strict=True))
        if not np.any(self.air):
            return Moments(*found)
        return Moments(*(part + np.tile(blur, self.places)[:, None]
                         for part, blur in zip(found, self.air, strict=True)))

    def kurtosis(self, moments: Moments, *, places: int | None = None, lengths: int | None = None) -> Array:
        """Return the excess kurtosis along the direction of most motion, (t, k*h, p).

        At the first `places`, or all; for the first `lengths`, or all.
        """
        rows = self.series.shape[2] // self.places * (self.places if places is None else places)
        count = self.series.shape[1] if lengths is None else lengths
        moments = Moments(moments.ra[:count, :rows], moments.dec[:count, :rows], moments.across[:count, :rows])
        half = moments.half
        # Cosine of the double angle to east^2 and north^2 of the major direction; round motion counts as eastward.
        cosine = np.divide((moments.ra - moments.dec) / 2, half, out=np.ones_like(half), where=half > 0)
        east2, north2 = (1 + cosine) / 2, (1 - cosine) / 2
        east_north = np.copysign(np.sqrt(east2 * north2), moments.across)
        cumulants = _fourth_cumulants(self.series[:, :count, :rows], self.drive.powers(count))
        extra = self.extra_cumulant[:count, :, None]
        fourth = (east2 * (east2 * (cumulants[0] + extra) + 4 * east_north * cumulants[1])
                  + 6 * east2 * north2 * cumulants[2]
                  + north2 * (4 * east_north * cumulants[3] + north2 * cumulants[4]))
        major = (moments.ra + moments.dec) / 2 + half
        return np.divide(fourth, major * major, out=np.zeros_like(major), where=major > 0)

    def by_place(self, values: Array) -> Array:
        """Return values (t, k*h, p) as (k, t, h, p)."""
        t, rows, p = values.shape
        starts = self.series.shape[2] // self.places
        return values.reshape(t, rows // starts, starts, p).swapaxes(0, 1)


def smooth_series(track: SmoothTrack, seconds: Array, start: Array, places: Array) -> Array:
    """Return Legendre coefficients 1 to ORDER of the smooth motion [arcsec], (2 axes, t, k*h, ORDER)."""
    nodes, _ = SERIES_RULE
    turned = seconds * SIDEREAL_RAD_PER_S
    h = np.atleast_2d(start)[:, :, None] + turned[:, None, None] * (nodes + 1) / 2
    known = track.hour_angle.to_value(u.rad)
    if h.min() < known[0] - TRACK_SLACK_RAD or h.max() > known[-1] + TRACK_SLACK_RAD:
        raise InvalidInputError("hour_angle", f"{np.degrees(start.min()):.3f} to {np.degrees(start.max()):.3f} deg",
                                f"must keep exposures of {seconds.max():g} s inside the track",
                                "Compute the track from the first start to the end of the longest exposure.")
    signals = np.column_stack([track.ra.to_value(u.arcsec), track.dec.to_value(u.arcsec),
                               track.field_map.reshape(-1, 4) - [1, 0, 0, 1]])
    parts = np.moveaxis(_hermite(known, signals, h), -1, 0) @ PROJECTOR  # (6, t, h, ORDER)
    ra = parts[0][:, None] + np.tensordot(places, parts[2:4], axes=(1, 0)).swapaxes(0, 1)
    dec = parts[1][:, None] + np.tensordot(places, parts[4:6], axes=(1, 0)).swapaxes(0, 1)
    return np.stack([ra, dec]).reshape(2, seconds.size, -1, ORDER)


def _hermite(known: Array, signals: Array, wanted: Array) -> Array:
    """Interpolate signals (n, s) at wanted points (...,) by cubic Hermite pieces, (..., s).

    By hand, because scipy.interpolate adds 0.3 s to the start of a command that takes 1 s.
    """
    slopes = np.gradient(signals, known, axis=0, edge_order=2 if known.size > 2 else 1)
    step = np.diff(known)
    rise, d0, d1 = np.diff(signals, axis=0), slopes[:-1] * step[:, None], slopes[1:] * step[:, None]
    left = np.clip(np.searchsorted(known, wanted) - 1, 0, known.size - 2)
    x = ((wanted - known[left]) / step[left])[..., None]
    value = (d0 + d1 - 2 * rise)[left]
    for coefficient in (3 * rise - 2 * d0 - d1, d0, signals):
        value *= x
        value += coefficient[left]
    return value


def _covariance(series: Array, drive: Drive | KnownDrive, extra: Array, walk: Array | None) -> tuple[Array, ...]:
    """Return var(ra), var(dec) and cov(ra, dec) [arcsec2], each (t, k*h, p)."""
    ra, dec = series
    # What meets the smooth motion, as means of P_n with it; what is the same from every hour angle, (t, 1, p).
    with_ra, with_dec, alone = _moving(drive, walk)
    smooth = [np.sum(a * b * SERIES_NORM, axis=-1)[..., None] for a, b in ((ra, ra), (dec, dec), (ra, dec))]
    variance_ra = (2 * ra) @ with_ra
    variance_ra += smooth[0] + extra[0][:, None, None]
    variance_ra += alone[0]
    across = dec @ with_ra
    across += smooth[2]
    variance_dec = smooth[1] + extra[1][:, None, None]
    if with_dec is None:
        return variance_ra, np.broadcast_to(variance_dec, across.shape), across
    across += ra @ with_dec
    across += alone[2]
    variance_dec = (2 * dec) @ with_dec + variance_dec
    variance_dec += alone[1]
    return variance_ra, variance_dec, across


def _moving(drive: Drive | KnownDrive, walk: Array | None) -> tuple[Array, Array | None, list[Array]]:
    """Return the means of P_n with the motion in RA and in Dec (t, ORDER, p), and its own covariance (t, 1, p) each."""
    mixed, own = drive.with_legendre, drive.variance[:, None, :]
    if walk is None:
        return mixed, None, [own]
    ra, dec = walk
    with_ra, with_dec = (part * SERIES_NORM[:, None] for part in walk)
    squares = [np.sum(a * b, axis=1, keepdims=True) for a, b in ((ra, with_ra + 2 * mixed), (dec, with_dec),
                                                                (dec, with_ra + mixed))]
    return mixed + with_ra, with_dec, [own + squares[0], squares[1], squares[2]]


def _fourth_cumulants(series: Array, powers: Powers) -> list[Array]:
    """Return the fourth cumulants of smooth and slow motion, ra^4, ra^3 dec .. dec^4, each (t, k*h, p)."""
    thrice, pp, pppp = powers
    twice, once = thrice[:, :2 * CUBE_NODES], thrice[:, :CUBE_NODES]
    _, weights = CUBE_RULE
    x, y = series @ ON_CUBE_NODES  # (t, r, CUBE_NODES)
    xx, xy, yy = x * x, x * y, y * y
    x2, x1y, y2, x4, x3y, x2y2, xy3, y4 = (
        (monomial @ weights)[..., None] for monomial in (xx, xy, yy, xx * xx, xx * xy, xx * yy, xy * yy, yy * yy))
    v20, v11 = (2 * x) @ once + x2 + pp, y @ once + x1y
    with_all = [np.concatenate(parts, axis=-1) @ weight for parts, weight in (
        ((4 * xx * x, 6 * xx, 4 * x), thrice), ((3 * xx * y, 3 * xy, y), thrice), ((2 * xy * y, yy), twice),
        ((yy * y,), once))]
    return [
        with_all[0] + (x4 + pppp) - 3 * v20 * v20,
        with_all[1] + x3y - 3 * v20 * v11,
        with_all[2] + x2y2 - v20 * y2 - 2 * v11 * v11,
        with_all[3] + xy3 - 3 * v11 * y2,
        y4 - 3 * y2 * y2,
    ]

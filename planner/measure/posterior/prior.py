"""What is known of a mount before the log: each figure with a spread, its own standard error where it has one."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.exposure.uncertainty.inputs import CLASS_SPREAD, POLAR_SHARE, TYPED_SPREAD
from planner.rig import Mount
from planner.rig.mount import AXIS_UNKNOWN

# Standard deviations; common practice, no source. Periods: logarithm, of a class and of a typed figure.
PERIOD_SPREAD = {True: 0.15, False: 0.1}
RATE_UNKNOWN, RATE_SHARE = 200.0, 0.3  # ppm; of a figure that somebody typed
POLAR_TYPED = 1 * u.arcmin  # each way: an axis set up anew
POLAR_KEPT = 0.1 * u.arcmin  # one that was measured by itself, without an error in the file
FLEXURE_KNOWN, FLEXURE_OPEN = 2.0, 30.0  # arcsec/h
UNKNOWN_SIZE, UNKNOWN_SPREAD = 0.3, 1.5  # arcsec, or arcsec in a minute: a noise that the file gives as nothing


@dataclass(frozen=True, kw_only=True)
class Normal:
    """A figure with its standard deviation."""

    mean: float
    sigma: float


@dataclass(frozen=True, kw_only=True)
class Size:
    """A figure that cannot be negative: its median, and the standard deviation of its logarithm."""

    median: float
    spread: float


@dataclass(frozen=True, kw_only=True)
class TermPrior:
    """A periodic term on the equator: seconds, arcsec; the spreads are of logarithms."""

    period: Size
    amplitude: Size


@dataclass(frozen=True, kw_only=True)
class MountPrior:
    """A mount before the log."""

    rate: Normal  # ppm
    altitude: Normal  # arcmin
    azimuth: Normal
    flexure_ra: Normal  # arcsec/h
    flexure_dec: Normal
    jitter: Size  # arcsec
    wander: Size  # arcsec in a minute
    terms: tuple[TermPrior, ...]


def prior_of(mount: Mount, *, keep_axis: bool = False) -> MountPrior:
    """Return what the mount's table says before the log; with `keep_axis` its polar axis was measured by itself."""
    spread = TYPED_SPREAD if mount.drive_class is None else CLASS_SPREAD
    altitude, azimuth = (_axis(mount, key, keep_axis) for key in mount.axis)
    open_flexure = FLEXURE_OPEN if keep_axis else FLEXURE_KNOWN
    return MountPrior(
        rate=_rate(mount), altitude=altitude, azimuth=azimuth,
        flexure_ra=_flexure(mount, "flexure_ra", FLEXURE_KNOWN),
        flexure_dec=_flexure(mount, "flexure_dec", open_flexure),
        jitter=_size(mount, "jitter", spread["jitter"]), wander=_size(mount, "wander", spread["wander"]),
        terms=tuple(TermPrior(
            period=Size(median=term.period.to_value(u.s), spread=_spread(
                term.relative_error("period"), PERIOD_SPREAD[mount.drive_class is not None and not term.errors])),
            amplitude=Size(median=term.amplitude.to_value(u.arcsec), spread=_spread(
                term.relative_error("amplitude"), spread["periodic error"])))
            for term in mount.periodic if term.amplitude > 0))


def _spread(relative: float | None, usual: float) -> float:
    return usual if relative is None else float(np.sqrt(np.log1p(relative**2)))


def _rate(mount: Mount) -> Normal:
    """Return the drive's rate error; of a class only its size is known."""
    value = mount.rate_error_ppm
    if "rate_error_ppm" in mount.errors:
        return Normal(mean=value, sigma=float(mount.errors["rate_error_ppm"]))
    if mount.drive_class is not None:
        return Normal(mean=0.0, sigma=abs(value) or RATE_UNKNOWN)
    return Normal(mean=value, sigma=float(np.hypot(RATE_UNKNOWN, RATE_SHARE * value)))


def _axis(mount: Mount, key: str, keep: bool) -> Normal:
    """Return one angle of the polar axis in arcmin."""
    usual = max(POLAR_SHARE * np.hypot(*mount.axis.values()), POLAR_TYPED) if mount.axis_given else AXIS_UNKNOWN
    error = mount.errors.get(key, POLAR_KEPT if keep else usual)
    return Normal(mean=mount.axis[key].to_value(u.arcmin), sigma=u.Quantity(error).to_value(u.arcmin))


def _flexure(mount: Mount, key: str, usual: float) -> Normal:
    unit = u.arcsec / u.h
    error = mount.errors.get(key)
    return Normal(mean=getattr(mount, key).to_value(unit),
                  sigma=usual if error is None else u.Quantity(error).to_value(unit))


def _size(mount: Mount, key: str, usual: float) -> Size:
    value = float(getattr(mount, key).value)
    if value == 0:
        return Size(median=UNKNOWN_SIZE, spread=UNKNOWN_SPREAD)
    return Size(median=value, spread=_spread(mount.relative_error(key), usual))

"""The one question to a drift log: what it says of the mount, what speaks against it, and the mount that it makes."""

from dataclasses import dataclass, replace
from typing import Annotated, Any

from astropy import units as u

from planner.constants import OUTER_SCALE
from planner.exposure.guide_star import GUIDE_BAND
from planner.fields import Key, Spread, told
from planner.measure.drift.camera_turn import CameraTurn, camera_turn, turned_back
from planner.measure.drift.causes import ImpliedPolarError, implied_polar_error
from planner.measure.drift.doubts import Doubt, doubts_of, latitude_doubt
from planner.measure.drift.model import DriftLog, DriftReport
from planner.measure.drift.report import analyse_drift
from planner.measure.posterior.mount import NOISE_KNOWN, FigureChange, MeasuredMount, measured_mount
from planner.rig import Rig, Site, Telescope
from planner.sky import airmass, seeing
from planner.tracking import image_motion

STATED = 0.05  # relative error of a centroid noise that the observer gives
USUAL_ALTITUDE = 60 * u.deg  # where the log does not say where the star stood


@dataclass(frozen=True, kw_only=True)
class DriftAnswer:
    """Everything that follows from a log."""

    report: Annotated[DriftReport, Spread()]
    turn: Annotated[CameraTurn | None, Spread("camera_")]  # solved from the log and taken out
    doubts: Annotated[tuple[Doubt, ...], "what speaks against the log"]
    polar: Annotated[ImpliedPolarError | None, "polar axis that explains the drift in Dec; null where the log does not "
                     "say where the star was, or Dec may have been held"]
    measured: MeasuredMount | None  # None: the log gives no declination, or nobody's mount made it
    noise: u.Quantity | None  # arcsec, taken off the jitter
    remarks: Annotated[tuple[str, ...], "what else is to be known of the mount", Key("mount_notes")]
    fingerprint: str  # of the log as it was handed in
    changes = told(tuple[FigureChange, ...], "in the mount's table",
                   lambda answer: () if answer.measured is None else answer.measured.figures)

    @property
    def blocked(self) -> tuple[Doubt, ...]:
        """What keeps the log out of the equipment file."""
        return tuple(doubt for doubt in self.doubts if doubt.blocks)


def drift_answer(
    log: DriftLog, rig: Rig | None, site: Site | None, *, centroid_noise: u.Quantity | None = None,
    keep_axis: bool = False, worm_period: u.Quantity | None = None,
) -> DriftAnswer:
    """Return what a drift log says.

    Parameters
    ----------
    log : DriftLog
        Of an unguided star.
    rig : Rig or None
        Whose mount made it; None: nobody's, and no mount follows.
    site : Site or None
        Its latitude stands in for one that the log does not give; its air bends the path.
    centroid_noise : Quantity [arcsec], scalar, optional
        How well a row places the star, air included; what the air does in the telescope if not given.
    keep_axis : bool
        The polar axis in the mount's table was measured by itself.
    worm_period : Quantity [s], scalar, optional
        Of the mount, if it is known: the periodic terms of its table then stand where it says.

    Raises
    ------
    InvalidInputError
        As for `analyse_drift` and `measured_mount`.
    """
    air: dict[str, Any] = {} if site is None else {"pressure": site.station_pressure, "temperature": site.temperature}
    if site is not None and log.latitude is None:
        log = replace(log, latitude=site.latitude)
    mount, fingerprint = None if rig is None else rig.mount, log.fingerprint
    report = analyse_drift(log, **air)
    turn = camera_turn(report)
    if turn is not None:
        report = analyse_drift(turned_back(log, turn), **air)
    noise, remarks = centroid_noise, [] if turn is None else [turn.note]
    if site is not None and log.site is not None and log.site.lower() != site.name.lower():
        remarks.append(f'The log is from "{log.site}", the air that is taken off is that of "{site.name}".')
    if noise is None and rig is not None and site is not None:
        noise, words = _of_air(rig, site, report)
        remarks.append(words)
    elsewhere = None if site is None else latitude_doubt(log.latitude, site)
    measured, doubts = None, (*doubts_of(report, mount), *([] if elsewhere is None else [elsewhere]))
    if mount is not None and log.declination is not None:
        measured = measured_mount(mount, report, air, doubts=doubts, keep_axis=keep_axis, worm_period=worm_period,
                                  noise_known=NOISE_KNOWN if centroid_noise is None else STATED,
                                  centroid_noise=0 * u.arcsec if noise is None else noise)
        remarks += measured.notes
    return DriftAnswer(report=report, turn=turn, doubts=doubts, noise=noise, measured=measured,
                       polar=None if any("Dec" in doubt.axes for doubt in doubts) else
                       implied_polar_error(report, mount, **air), remarks=tuple(remarks), fingerprint=fingerprint)


def _of_air(rig: Rig, site: Site, report: DriftReport) -> tuple[u.Quantity, str]:
    """Return what the air adds to the scatter of the rows, and a sentence that says so."""
    exposure = report.step if report.log.exposure is None else report.log.exposure
    noise = centroid_noise_of_air(rig.telescope, site, exposure=exposure)
    return noise, (
        f"{noise.value:.2f}″ of the jitter is put down to the air ({site.seeing.value:g}″ seeing, "
        f"{rig.telescope.aperture.to_value(u.mm):g} mm, exposures of {exposure.to_value(u.s):.3g} s); what measuring "
        "the star adds, and what of the pier's sway is faster than a second, still counts as jitter; advice on a rig "
        "that names a pier counts that sway once.")


def centroid_noise_of_air(
    telescope: Telescope, site: Site, *, exposure: u.Quantity[u.s]
) -> u.Quantity[u.arcsec]:
    """Return how far the air moves a star from row to row, rms per axis.

    `telescope`: through which the log was taken. `site`: its seeing counts. `exposure`: of one row: the longer, the
    more of the motion is averaged away.
    The least a row can err: photon and read noise of the star come on top.
    """
    width = seeing(site.seeing, airmass=airmass(USUAL_ALTITUDE), wavelength=GUIDE_BAND.centre)
    motion = image_motion(seeing_fwhm=width, wavelength=GUIDE_BAND.centre, aperture=telescope.aperture,
                          outer_scale=OUTER_SCALE)
    return motion.rms(exposure)

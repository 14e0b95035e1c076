"""How a rig moves its stars, unguided and guided, and what share of its subs that leaves: tracking meets the image.

Exposures begin at hour angles spread evenly over the window (those of long subs may run past its end by at most 30
minutes). The worst of the field's centre and its four corners decides whether a sub is kept.
"""

from dataclasses import dataclass, field

import numpy as np
from astropy import units as u

from planner.exposure.kept_share import KeptShare, margins
from planner.exposure.scene import Scene
from planner.exposure.speed import SUB_LADDER
from planner.rig import Mount
from planner.tracking import PointingTerms, SmoothTrack, encoder_step, exposure_motion, guided_track, smooth_track

START_COUNT = 9  # hour angles at which exposures begin
TRACK_STEP_DEG = 1.0
LONGEST = SUB_LADDER[-1]
LONGEST_TURN = LONGEST.to_value(u.s) * 360 / 86164.0905 * u.deg  # hour angle that the longest sub spans
# Lengths at which motion is computed [s]; between them margins run as powers of the length.
NODES = np.geomspace(SUB_LADDER[0].value, LONGEST.value, 41) * u.s
# Drive phases by number of periodic terms, and the step between neighbours among them: one circle for one term.
PHASES: dict[int, tuple[int, tuple[int, ...]]] = {0: (1, ()), 1: (48, (1,))}
MANY_PHASES: tuple[int, tuple[int, ...]] = (89, ())  # two terms or more: an even scatter, each phase for itself
NEGLIGIBLE = 1e-3  # difference between places, in units of the still star's variance: 5e-4 in elongation
NO_WANDER = 0 * u.arcsec / u.min**0.5


@dataclass(frozen=True, kw_only=True)
class StarMotion:
    """What moves a star on the sensor, in the terms of `tracking.exposure_motion`."""

    track: SmoothTrack
    periods: u.Quantity[u.s] = field(default_factory=lambda: [] * u.s)
    amplitudes: u.Quantity[u.arcsec] = field(default_factory=lambda: [] * u.arcsec)
    jitter: u.Quantity[u.arcsec] = field(default_factory=lambda: [0, 0] * u.arcsec)  # rms in ra and dec
    wander: u.Quantity = field(default_factory=lambda: NO_WANDER)
    encoder_step: u.Quantity[u.arcsec] = field(default_factory=lambda: 0 * u.arcsec)


def unguided_motion(scene: Scene) -> StarMotion:
    """Return the motion of a star while the mount follows its drive alone."""
    mount = scene.rig.mount
    track = smooth_track(rate=mount.rate, rate_error_ppm=mount.rate_error_ppm, flexure_ra=mount.flexure_ra,
                         flexure_dec=mount.flexure_dec, **_place(scene))
    terms = [term for term in mount.periodic if term.amplitude > 0]
    return StarMotion(
        track=track, periods=u.Quantity([term.period for term in terms], u.s),
        amplitudes=u.Quantity([term.amplitude for term in terms], u.arcsec),
        jitter=u.Quantity([mount.jitter, mount.jitter]), wander=mount.wander,
        encoder_step=0 * u.arcsec if mount.encoder_counts is None else encoder_step(mount.encoder_counts))


def guided_motion(scene: Scene, *, ra_rms: u.Quantity[u.arcsec], dec_rms: u.Quantity[u.arcsec],
                  guide_star_offset: u.Quantity[u.deg]) -> StarMotion:
    """Return the motion of a star while a loop holds a guide star.

    What the loop leaves (`ra_rms`, `dec_rms`, scalar) is faster than a sub-exposure and acts as jitter; the field
    turns about the guide star (offset east and north of the field centre, shape (2,)), and guider and camera creep.
    """
    guider = scene.rig.guider
    creep = 0 * u.arcsec / u.h if guider is None else guider.differential_flexure
    track = guided_track(guide_star_offset=guide_star_offset, differential_flexure=creep, **_place(scene))
    return StarMotion(track=track, jitter=u.Quantity([ra_rms, dec_rms]))


def start_hour_angles(scene: Scene, count: int = START_COUNT) -> u.Quantity[u.deg]:
    """Return the hour angles at which exposures begin, shape (count,); one where the window is one moment."""
    hours = scene.hour_angle.to_value(u.deg)
    if hours[-1] == hours[0]:
        return hours[:1] * u.deg
    starts = np.interp(np.linspace(0, 1, count), np.linspace(0, 1, hours.size), hours)
    room = min(LONGEST_TURN.value, (hours[-1] - hours[0]) / 2)
    return (hours[0] + (starts - hours[0]) * (1 - room / (hours[-1] - hours[0]))) * u.deg


def kept_share(scene: Scene, motion: StarMotion, *, nodes: u.Quantity[u.s] = NODES, starts: int = START_COUNT,
               phases: int | None = None) -> KeptShare:
    """Return the kept share of a motion, to be asked at any length between its nodes.

    Fewer nodes, starts or drive phases than the default are coarser: within 1 % of 20,000 random subs for none or one
    periodic term, 3 % for several.
    """
    count, steps = PHASES.get(len(motion.periods), MANY_PHASES)
    if phases is not None:
        count = min(count, phases)
    moved = exposure_motion(
        motion.track, duration=nodes, hour_angle=start_hour_angles(scene, starts), declination=scene.declination,
        phases=count, periods=motion.periods, amplitudes=motion.amplitudes,
        jitter=motion.jitter, wander=motion.wander, encoder_step=motion.encoder_step, offsets=field_places(scene))
    return share_of(scene, moved.variance_major.value, moved.variance_minor.value, moved.excess_kurtosis, nodes,
                    phase_steps=steps)


def share_of(scene, major_arcsec2, minor_arcsec2, kurtosis, nodes, *, phase_steps):
    """Return the kept share of variances (k, t, h, p) [arcsec2]; light is that of the field's centre (k = 0)."""
    still = scene.response.still
    chosen = _centre_and_worst(major_arcsec2, minor_arcsec2, kurtosis, scene.response._still_variance)
    elongation, width, area = scene.response._at(*chosen)
    margin = margins(elongation, width / still.fwhm.to_value(u.arcsec) - 1,
                     tolerated_axis_ratio=scene.rig.tolerated_axis_ratio, tolerated_growth=scene.rig.tolerated_growth)
    light = still.noise_equivalent_area.to_value(u.arcsec**2) / area[0]
    return KeptShare(exposure_s=nodes.to_value(u.s), log_margin=margin, light=light, phase_steps=phase_steps)


def _centre_and_worst(major, minor, kurtosis, still_variance):
    """Return the motion at the centre, and below it that at the place most elongated, where places differ at all."""
    centre = [values[:1] for values in (major, minor, kurtosis)]
    if np.ptp(major, axis=0).max() <= NEGLIGIBLE * still_variance:
        return centre
    worst = np.argmax((still_variance + major) / (still_variance + minor), axis=0)[np.newaxis]
    return [np.concatenate([first, np.take_along_axis(values, worst, axis=0)])
            for first, values in zip(centre, (major, minor, kurtosis), strict=True)]


def field_places(scene: Scene) -> u.Quantity[u.deg]:
    """Return the places that decide, east and north of the field centre: the centre and four corners, shape (5, 2)."""
    camera, focal_length = scene.rig.camera, scene.rig.telescope.focal_length
    half = np.array([camera.columns, camera.rows]) / 2 * (camera.pixel_pitch / focal_length).to_value(u.one)
    signs = np.array([[0, 0], [1, 1], [1, -1], [-1, 1], [-1, -1]])
    return np.degrees(np.arctan(signs * half)) * u.deg


def _place(scene):
    """Return what both kinds of track need: the mount's axis, the air, the target and its hour angles."""
    mount, site = scene.rig.mount, scene.site
    starts = start_hour_angles(scene).value
    end = starts[-1] + LONGEST_TURN.value * (1 + 1e-6)
    hours = np.linspace(starts[0], end, max(int(np.ceil((end - starts[0]) / TRACK_STEP_DEG)), 8) + 1)
    return {"latitude": site.latitude, "declination": scene.declination, "hour_angle": hours * u.deg,
            "polar_altitude_error": mount.polar_altitude_error, "polar_azimuth_error": mount.polar_azimuth_error,
            "pressure": site.station_pressure, "temperature": site.temperature, "wavelength": scene.band.centre,
            "pointing_terms": tube_terms(mount)}


def tube_terms(mount: Mount) -> PointingTerms | None:
    """Return the part of a pointing model that a rig's mount holds beside its polar axis: a tube that bends.

    The other terms of a model, constant angles between axes and tube, do not move a star while the polar axis turns.
    """
    return PointingTerms(flexure=mount.tube_flexure) if mount.tube_flexure != 0 else None

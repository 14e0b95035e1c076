"""How a rig moves its stars, unguided and guided: tracking meets the image.

The middles of the exposures are spread evenly over the window; the longest begin up to 15 minutes before it and end as
late after it. What share of the subs that leaves: `share_grid`.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_DAY, SIDEREAL_RAD_PER_S
from planner.exposure.light.photons import SQUARE
from planner.exposure.scene import Scene, over_window
from planner.exposure.speed import SUB_LADDER
from planner.rig import Mount
from planner.tracking import GuideLoop, PointingTerms, SmoothTrack, encoder_step, guided_track, smooth_track
from planner.tracking.moments.drive_moments import Drive, Turns
from planner.tracking.moments.walk import JITTER_MEMORY_S
from planner.tracking.moments.window_moments import ExposureGrid, smooth_series
from planner.tracking.own_motion import moving_on

MIDDLE_COUNT = 9  # hour angles of exposures, where nothing else is said
TRACK_STEP_DEG = 1.0
LONGEST = SUB_LADDER[-1]
LONGEST_TURN = (LONGEST / SIDEREAL_DAY).to_value(u.one) * 360 * u.deg  # hour angle that the longest sub spans
# Of what guiding leaves of periodic terms: with more than this share of the still star's variance they keep their
# period; so many at most.
FELT_SHARE, FELT_TERMS = 0.01, 4
QUICK = ("jitter", "drift")  # of what guiding leaves: over within a cycle of the loop
JITTER_MEMORY = JITTER_MEMORY_S * u.s
NO_WANDER, A_WALK = 0 * u.arcsec / u.min**0.5, u.arcsec / u.s**0.5


@dataclass(frozen=True, kw_only=True)
class StarMotion:
    """What moves a star on the sensor, in the terms of `tracking.exposure_motion`."""

    track: SmoothTrack
    periods: u.Quantity[u.s] = field(default_factory=lambda: np.zeros(0) * u.s)
    amplitudes: u.Quantity[u.arcsec] = field(default_factory=lambda: np.zeros(0) * u.arcsec)
    free_amplitudes: u.Quantity[u.arcsec] | None = None  # until a loop corrects them; None: no loop does
    cycle: u.Quantity[u.s] = field(default_factory=lambda: 0 * u.s)  # from one correction to the next
    jitter: u.Quantity[u.arcsec] = field(default_factory=lambda: np.zeros(2) * u.arcsec)  # rms in ra and dec
    wander: u.Quantity = field(default_factory=lambda: NO_WANDER)
    memory: u.Quantity[u.s] = field(default_factory=lambda: JITTER_MEMORY)  # for which slow jitter resembles itself
    slow: np.ndarray = field(default_factory=lambda: np.ones(2))  # share of the jitter's variance in ra and dec
    encoder_step: u.Quantity[u.arcsec] = field(default_factory=lambda: 0 * u.arcsec)
    creep: u.Quantity[u.arcsec / u.s] = field(default_factory=lambda: 0 * u.arcsec / u.s)
    creep_way: np.ndarray | None = None  # (2,), unit vector in ra and dec; None: nobody knows where to
    # By what is not known of the polar axis: standard deviations in ra and dec.
    axis_drift: u.Quantity[u.arcsec / u.s] = field(default_factory=lambda: np.zeros(2) * u.arcsec / u.s)

    def amplitudes_in(self, seconds: np.ndarray) -> np.ndarray:
        """Return the amplitudes that subs of lengths (t,) meet, (t, m) [arcsec].

        Between two corrections the drive runs free: a sub shorter than the loop's cycle c moves as if unguided. In one
        of length t > c the star saws to and fro by what the drive turns in a cycle, as much as on (c/t)² of the free
        motion's variance, beside what the loop leaves over many cycles.
        """
        left = self.amplitudes.to_value(u.arcsec) ** 2
        free = left if self.free_amplitudes is None else self.free_amplitudes.to_value(u.arcsec) ** 2
        alone = np.minimum(self.cycle.to_value(u.s) / seconds, 1)[:, np.newaxis] ** 2
        return np.sqrt(left + alone * (free - left))


def unguided_motion(scene: Scene) -> StarMotion:
    """Return the motion of a star while the mount follows its drive alone, its axis as far as it is known."""
    mount = scene.rig.mount
    track = moving_on(smooth_track(
        rate=mount.rate, rate_error_ppm=mount.rate_error_ppm, flexure_ra=mount.flexure_ra,
        flexure_dec=mount.flexure_dec, **track_place(scene)), scene.motion)
    terms = [term for term in mount.periodic if term.amplitude > 0]
    swaying = 0.0 if scene.rig.sway == 0 else float((scene.rig.sway / scene.rig.jitter) ** 2)
    memory = JITTER_MEMORY if swaying == 0 else np.maximum(scene.rig.sway_memory, JITTER_MEMORY)
    return StarMotion(
        track=track, periods=u.Quantity([term.period for term in terms], u.s),
        amplitudes=u.Quantity([term.amplitude for term in terms], u.arcsec),
        jitter=u.Quantity([scene.rig.jitter, scene.rig.jitter]), wander=mount.wander, memory=memory,
        slow=np.full(2, swaying), axis_drift=_axis_drift(scene),
        encoder_step=0 * u.arcsec if mount.encoder_counts is None else encoder_step(mount.encoder_counts))


def _axis_drift(scene: Scene) -> u.Quantity[u.arcsec / u.s]:
    r"""Return the standard deviation of a star's drift in ra and dec (2,) by what is not known of the polar axis.

    An axis off by :math:`a` in altitude and :math:`z` in azimuth moves a star, on the sky, by

    .. math:: \dot\delta = \omega (z \cos\varphi \cos H - a \sin H), \qquad
              \dot\alpha \cos\delta = \omega \sin\delta (z \cos\varphi \sin H + a \cos H)

    with either sign: both squares are means over the window.
    """
    hours, declination = scene.hour_angle.to_value(u.rad), scene.declination.to_value(u.rad)
    altitude, azimuth = (SIDEREAL_RAD_PER_S * scene.rig.mount.axis_errors.to_value(u.arcsec)) ** 2
    azimuth *= np.cos(scene.site.latitude.to_value(u.rad)) ** 2
    sine, cosine = over_window(np.sin(hours) ** 2), over_window(np.cos(hours) ** 2)
    ra, dec = altitude * cosine + azimuth * sine, altitude * sine + azimuth * cosine
    return np.sqrt([np.sin(declination) ** 2 * ra, dec]) * u.arcsec / u.s


def still_motion(scene: Scene) -> StarMotion:
    """Return the motion on a perfect mount: none but what the air does, and a target that moves by itself."""
    hours = track_place(scene)["hour_angle"]
    none, ones = np.zeros(hours.size), np.tile(np.eye(2), (hours.size, 1, 1))
    return StarMotion(track=moving_on(SmoothTrack(hours, none * u.arcsec, none * u.arcsec, none * u.deg, ones),
                                      scene.motion))


def guided_motion(scene: Scene, loop: GuideLoop, *, guide_star_offset: u.Quantity[u.deg],
                  like: StarMotion | None = None) -> StarMotion:
    """Return the motion of a star while a loop holds a guide star; `like` is that with another loop on the same star.

    What the loop leaves of the largest periodic terms keeps their periods, by which a short sub meets a part of it; the
    rest is faster than a sub-exposure and acts as jitter. The field turns about the guide star (offset east and north
    of the field centre, shape (2,)), and guider and camera creep.
    """
    guider = scene.rig.guider
    creep = 0 * u.arcsec / u.h if guider is None else guider.differential_flexure
    angle = None if guider is None else guider.differential_flexure_angle
    way = None if angle is None else np.array([np.sin(angle), np.cos(angle)])
    track = like.track if like is not None else moving_on(
        guided_track(guide_star_offset=guide_star_offset, **track_place(scene)), scene.motion)
    on_sky = loop.left_amplitudes.to_value(u.arcsec) * np.cos(scene.declination.to_value(u.rad))
    squares = u.Quantity([loop.ra_rms, loop.dec_rms]).to_value(u.arcsec) ** 2
    quick = np.array([sum(row.rms.to_value(u.arcsec) ** 2 for row in loop.terms if row.axis == axis
                          and row.term in QUICK) for axis in ("ra", "dec")])
    felt, left, slow = left_in_subs(on_sky, squares, quick, scene.response.still_variance)
    return StarMotion(track=track, periods=loop.periods[felt], amplitudes=loop.left_amplitudes[felt],
                      free_amplitudes=loop.free_amplitudes[felt], cycle=loop.cycle, jitter=np.sqrt(left) * u.arcsec,
                      memory=loop.memory, slow=slow, creep=creep.to(u.arcsec / u.s), creep_way=way)


def left_in_subs(on_sky: np.ndarray, squares: np.ndarray, quick: np.ndarray, still_variance: float
                 ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return which terms left on the sky (m,) keep their period, what else is left (2,) and the slow share of it (2,).

    In arcsec and arcsec2: `squares` (2,) is all that is left in RA and Dec, `quick` what of it is over within a cycle.
    """
    felt = np.flatnonzero(on_sky**2 / 2 > FELT_SHARE * still_variance)
    felt = felt[np.argsort(-on_sky[felt], kind="stable")][:FELT_TERMS]
    left = np.maximum(squares - np.array([(on_sky[felt] ** 2).sum() / 2, 0.0]), 0.0)
    return felt, left, np.clip(1 - np.divide(quick, left, out=np.ones(2), where=left > 0), 0, 1)


def middle_hour_angles(scene: Scene, count: int = MIDDLE_COUNT) -> u.Quantity[u.deg]:
    """Return the hour angles of the middles of exposures, shape (count,); one where the window is one moment."""
    hours = scene.hour_angle.to_value(u.deg)
    if hours[-1] == hours[0]:
        return hours[:1] * u.deg
    return np.interp(np.linspace(0, 1, count), np.linspace(0, 1, hours.size), hours) * u.deg


def start_hour_angles(scene: Scene, duration: u.Quantity[u.s]) -> u.Quantity[u.deg]:
    """Return the hour angles at which exposures of a length begin, as `middle_hour_angles`."""
    return middle_hour_angles(scene) - (duration / SIDEREAL_DAY).to_value(u.one) * 180 * u.deg


def windows_of(scene: Scene, motion: StarMotion, *, seconds: np.ndarray, start_rad: np.ndarray,
               places_arcsec: np.ndarray, phases: np.ndarray, walks: np.ndarray | None,
               shakes: np.ndarray | None, creeps: np.ndarray | None) -> ExposureGrid:
    """Return exposures of these lengths, from these hour angles, at these places (see `ExposureGrid`)."""
    cosine = np.cos(scene.declination.to_value(u.rad))
    drive = Drive(Turns(seconds, motion.periods.to_value(u.s), phases), motion.amplitudes_in(seconds) * cosine)
    return ExposureGrid(
        smooth_series(motion.track, seconds, start_rad, places_arcsec), drive, places=len(places_arcsec),
        seconds=seconds, jitter_arcsec=motion.jitter.to_value(u.arcsec),
        walk_arcsec=motion.wander.to_value(A_WALK),
        step_arcsec=motion.encoder_step.to_value(u.arcsec) * cosine, walks=walks, shakes=shakes, creeps=creeps,
        memory_s=float(motion.memory.to_value(u.s)), slow=motion.slow,
        air_arcsec2=air_blur(scene, start_rad[0] + SIDEREAL_RAD_PER_S * seconds[0] / 2))


def air_blur(scene: Scene, hour_angle_rad: np.ndarray) -> np.ndarray:
    """Return how far dispersion draws the star out [arcsec2] at hour angles (h,): (3, h), ra-ra, dec-dec, ra-dec."""
    known = scene.hour_angle.to_value(u.rad)
    return np.array([np.interp(hour_angle_rad, known, row) for row in scene.dispersed.to_value(SQUARE)])


def field_places(scene: Scene) -> u.Quantity[u.deg]:
    """Return the places that decide, east and north of the field centre: the centre and four corners, shape (5, 2)."""
    camera, focal_length = scene.rig.camera, scene.rig.telescope.focal_length
    half = np.array([camera.columns, camera.rows]) / 2 * camera.pixel_pitch.to_value(u.mm) / focal_length.to_value(u.mm)
    signs = np.array([[0, 0], [1, 1], [1, -1], [-1, 1], [-1, -1]])
    return np.degrees(np.arctan(signs * half)) * u.deg


def track_place(scene: Scene) -> dict[str, Any]:
    """Return what both kinds of track need: the mount's axis, the air, the target and its hour angles."""
    mount, site = scene.rig.mount, scene.site
    middles, reach = middle_hour_angles(scene).value, LONGEST_TURN.value / 2 * (1 + 1e-6)
    start, end = middles[0] - reach, middles[-1] + reach
    hours = np.linspace(start, end, max(int(np.ceil((end - start) / TRACK_STEP_DEG)), 8) + 1)
    return {"latitude": site.latitude, "declination": scene.declination, "hour_angle": hours * u.deg,
            **mount.axis,
            "pressure": site.station_pressure, "temperature": site.temperature, "wavelength": scene.band.centre,
            "pointing_terms": tube_terms(mount)}


def tube_terms(mount: Mount) -> PointingTerms | None:
    """Return the part of a pointing model that a rig's mount holds beside its polar axis: a tube that bends.

    The other terms of a model, constant angles between axes and tube, do not move a star while the polar axis turns.
    """
    return PointingTerms(tube_flexure=mount.tube_flexure) if mount.tube_flexure != 0 else None

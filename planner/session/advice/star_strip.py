"""What a star will look like at the recommended lengths and at a long one, pixel by pixel, unguided and guided.

Each picture is the typical sub of its length: of the drive's phases at the middle of the window, the one whose wander
is the median. What the air draws out by colour is shared between both axes.
"""

from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_DAY
from planner.exposure.guide_need import GuideNeed
from planner.exposure.guide_star import GuideStar
from planner.exposure.scene import Scene, over_window
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import LONGEST_TURN, StarMotion, field_places, guided_motion, unguided_motion
from planner.exposure.sub_exposure import SubExposure
from planner.exposure.uncertainty import Certainty
from planner.optics import star_image
from planner.rig.choices import Way
from planner.session.advice.text import AS_IT_STANDS

CENTRE = u.Quantity([0, 0], u.deg)
RECOMMENDED = "recommended"
TRACK_SAMPLES = 240
PHASES = 24
SIDE_FWHM = 7.0  # side of a picture, in widths of the still star
SIDEREAL_DEG_PER_S = 360 / SIDEREAL_DAY.to_value(u.s)


@dataclass(frozen=True, kw_only=True)
class StarPicture:
    """One star as the camera records it, without noise."""

    method: Way
    exposure: u.Quantity[u.s]
    share: np.ndarray  # (n, n) of the star's light in each pixel; rows south to north, columns west to east
    fwhm: u.Quantity[u.arcsec]
    elongation: float
    kept: float  # share of the subs of this length and method whose stars are round and small enough
    role: str  # of its length among those of this method: RECOMMENDED, AS_IT_STANDS or empty


def strip_lengths(need: GuideNeed, safer: Certainty | None = None) -> u.Quantity[u.s]:
    """Return the recommended length of each way, and the longest step on the plateau of the better one, ascending.

    `safer`: how sure the verdict is, where the headline names the length that is best on average.
    """
    ladder = SUB_LADDER.to_value(u.s)
    chosen = {float(sub.recommended.to_value(u.s)) for sub in _ways(need).values() if sub.speed > 0} or {60.0}
    if safer is not None:
        chosen.add(float(safer.sub_exposure.to_value(u.s)))
    longest = need.better.longest.to_value(u.s)
    chosen.add(float(ladder[max(int(np.searchsorted(ladder, longest * 1.001)) - 1, 0)]))
    return np.array(sorted(chosen)) * u.s


def _ways(need: GuideNeed) -> dict[Way, SubExposure]:
    ways: dict[Way, SubExposure] = {"unguided": need.unguided}
    return ways if need.guided is None else ways | {"guided": need.guided}


def star_strip(scene: Scene, need: GuideNeed, star: GuideStar | None, safer: Certainty | None = None
               ) -> tuple[StarPicture, ...]:
    """Return the pictures of each way at each of `strip_lengths`, unguided first."""
    motions = _motions(scene, need, star)
    pictures = (_picture(scene, method, motions[method], sub, length) for method, sub in _ways(need).items()
                if method in motions for length in strip_lengths(need, safer))
    return tuple(pictures if safer is None else (_beside(safer, picture) for picture in pictures))


def _beside(safer: Certainty, picture: StarPicture) -> StarPicture:
    """Return a picture with its role where the headline names the safer length."""
    if (picture.method, picture.exposure) == (safer.method, safer.sub_exposure):
        return replace(picture, role=RECOMMENDED)
    return replace(picture, role=AS_IT_STANDS if picture.role else "")


def recommended_stars(scene: Scene, need: GuideNeed, star: GuideStar | None) -> tuple[StarPicture, StarPicture]:
    """Return the better way at its recommended length, in the middle of the picture and in its worst corner.

    A corner has the telescope's blur there, and moves as the field turns and the air lifts it.
    """
    method: Way = "guided" if need.better is need.guided else "unguided"
    motion = _motions(scene, need, star)[method]
    middle, *corners = (_picture(scene, method, motion, need.better, need.better.recommended, place)
                        for place in field_places(scene))
    return middle, max(corners, key=lambda picture: picture.elongation)


def _motions(scene: Scene, need: GuideNeed, star: GuideStar | None) -> dict[str, StarMotion]:
    motions = {"unguided": unguided_motion(scene)}
    if need.loop is not None and star is not None:
        motions["guided"] = guided_motion(scene, need.loop, guide_star_offset=star.offset)
    return motions


def _picture(scene: Scene, method: Way, motion: StarMotion, sub: SubExposure, exposure: u.Quantity[u.s],
             place: u.Quantity[u.deg] = CENTRE) -> StarPicture:
    telescope = scene.rig.telescope
    blur = telescope.optical_blur if telescope.corner_blur is None or not place.value.any() else telescope.corner_blur
    image = star_image(
        seeing_fwhm=scene.seeing_fwhm, wavelength=scene.band.centre, aperture=telescope.aperture,
        obstruction=telescope.obstruction, image_scale=scene.image_scale, focus_blur_fwhm=blur,
        track=_typical_track(scene, motion, exposure.to_value(u.s), place.to_value(u.arcsec)) * u.arcsec,
        jitter_rms=np.hypot(_jitter(motion, exposure), np.sqrt(over_window(scene.dispersed[:2]).mean())))
    pixels = SIDE_FWHM * scene.response.still.fwhm / (scene.image_scale * u.pix)
    side = int(np.clip(2 * round(pixels.to_value(u.one) / 2) + 1, 9, 31))
    kept = np.interp(exposure.to_value(u.s), sub.ladder.exposure.to_value(u.s), sub.ladder.kept)
    return StarPicture(method=method, exposure=exposure, share=image.render((side, side)), fwhm=image.fwhm,
                       elongation=image.elongation, kept=float(kept),
                       role=RECOMMENDED if sub.speed > 0 and exposure == sub.recommended else "")


def _typical_track(scene: Scene, motion: StarMotion, exposure_s: float, place_arcsec: np.ndarray) -> np.ndarray:
    """Return places (TRACK_SAMPLES, 2) [arcsec], east and north, of the sub whose wander is the median.

    `place_arcsec` (2,) is that of the star from the field's centre.
    """
    time_s = (np.arange(TRACK_SAMPLES) + 0.5) / TRACK_SAMPLES * exposure_s
    track = motion.track
    hours = track.hour_angle.to_value(u.deg)
    middle = (hours[0] + hours[-1] - LONGEST_TURN.to_value(u.deg)) / 2
    at = np.clip(middle + time_s * SIDEREAL_DEG_PER_S, hours[0], hours[-1])
    apart = (track.field_map - track.field_map[0]) @ place_arcsec
    east = np.interp(at, hours, track.ra.to_value(u.arcsec) + apart[:, 0])
    north = np.interp(at, hours, track.dec.to_value(u.arcsec) + apart[:, 1])
    way = np.full(2, 0.5**0.5) if motion.creep_way is None else motion.creep_way  # north-east, as good as any way
    crept = motion.creep.to_value(u.arcsec / u.s) * time_s
    east, north = east + way[0] * crept, north + way[1] * crept
    start = np.arange(PHASES) / PHASES
    swing = np.zeros((PHASES, TRACK_SAMPLES))
    for place, (period, amplitude) in enumerate(zip(motion.periods, motion.amplitudes, strict=True)):
        turns = time_s / period.to_value(u.s) + ((place + 1) * np.sqrt(2) * start)[:, np.newaxis]
        swing += amplitude.to_value(u.arcsec) * np.sin(2 * np.pi * turns)
    wander = east + swing * np.cos(scene.declination.to_value(u.rad))
    typical = np.argsort(wander.var(axis=1), kind="stable")[PHASES // 2]
    return np.stack([wander[typical], north], axis=-1)


def _jitter(motion: StarMotion, exposure: u.Quantity[u.s]) -> u.Quantity[u.arcsec]:
    """Return what is faster than the track: jitter, encoder step and random wander, rms per axis, mean of the axes.

    A random walk of variance s² per second leaves s² t / 6 about its mean; a uniform step leaves step²/12, in one axis.
    """
    fast = np.mean(motion.jitter.to_value(u.arcsec) ** 2)
    walk = motion.wander.to_value(u.arcsec / u.s**0.5) ** 2 * exposure.to_value(u.s) / 6
    return np.sqrt(fast + walk + motion.encoder_step.to_value(u.arcsec) ** 2 / 24) * u.arcsec

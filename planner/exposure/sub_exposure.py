"""How long one sub-exposure: the fastest step of a human ladder, the plateau around it, and what bounds it."""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.kept_share import KeptShare
from planner.exposure.light.noise import dark_rate
from planner.exposure.light.saturation import filled_after, saturated_stars, saturation_magnitude
from planner.exposure.scene import Scene
from planner.exposure.share_grid import kept_share
from planner.exposure.speed import SUB_LADDER, SpeedCurve, speed
from planner.exposure.star_motion import still_motion
from planner.fields import Key, rows
from planner.rig import Rig

PLATEAU = 0.95  # of the best speed
TIE = 0.99  # a shorter sub this close to the best is preferred
# Lengths between the steps of the ladder, for the plateau's ends: 8 % apart at most.
FINE = np.unique(np.concatenate([np.geomspace(SUB_LADDER[0].value, SUB_LADDER[-1].value, 100), SUB_LADDER.value]))
SHORTEST_CONSIDERED = "nothing: the shortest sub considered"
TRAILING = "trailing"
GUSTS = "gusts"
SKY_SATURATES = "saturation by the sky alone"
LONGEST_CONSIDERED = "nothing: the longest sub considered"


@dataclass(frozen=True, kw_only=True)
class SubExposure:
    """The length to set, the plateau around it, and what bounds both."""

    recommended: Annotated[u.Quantity[u.s], "recommended length", Key("sub_exposure_s")]
    shortest: Annotated[u.Quantity[u.s], "of the plateau: at least 95 % of the best speed"]
    longest: Annotated[u.Quantity[u.s], "of the plateau"]
    limited_below_by: Annotated[str, "what makes shorter subs slower: read noise, overhead"]
    limited_above_by: Annotated[str, "what makes longer subs slower: trailing and its cause, gusts, saturation"]
    kept: Annotated[float, "share of subs, at the recommended length", Key("kept_fraction")]
    speed: Annotated[float, "at the recommended length; 1: perfect camera on a perfect mount"]
    ladder: SpeedCurve  # at the steps of SUB_LADDER
    terms: SpeedCurve  # at the recommended length, shape (1,)
    curve: SpeedCurve  # fine, for a chart
    frames: Annotated[int, "in the window, overhead included"]
    data: Annotated[u.Quantity[u.Gbyte], "of those frames, uncompressed and unbinned", Key("data_gigabyte")]
    saturation_magnitude: Annotated[u.Quantity[u.mag], "brightest star not saturated; information, not a limit",
                                    Key("saturation_mag")]
    saturated_stars: Annotated[int | None, "known in the field; null where no stars are known"]
    steps = rows("at lengths that a person would set", lambda sub: zip(
        sub.ladder.exposure, sub.ladder.kept, sub.ladder.speed, strict=True), key="ladder",
        sub_exposure=(u.s, "length"), kept_fraction=(float, "share of subs"),
        speed=(float, "1: perfect camera on a perfect mount"))


def sub_exposure_of(scene: Scene, curve: SpeedCurve, *, star_magnitudes: u.Quantity | None = None) -> SubExposure:
    """Return the length of one sub-exposure of a scene.

    `scene`: from `observing_scene`. `curve`: its speed, from `speed_curve`, at lengths among which are those of
    `SUB_LADDER`: the ends of the plateau are found between them. `star_magnitudes` [mag] (n,): of the stars in the
    field, to count those that saturate.
    Where no length keeps any sub, the shortest one with speed 0. Trailing is named without its cause;
    `guide_need` names it.
    """
    lengths, full = curve.exposure.value, sky_fills_after(scene)
    ladder = _picked(curve, np.searchsorted(lengths, SUB_LADDER.value))
    step = shortest_best(ladder.speed)
    best = int(np.searchsorted(lengths, SUB_LADDER[step].value))
    low, high = _plateau(np.log(lengths), curve.speed, best, np.log(full.to_value(u.s)))
    terms = _picked(curve, np.array([best]))
    frames = _frames(scene, terms)
    limit = _saturation(scene, terms.exposure[0])
    return SubExposure(
        recommended=terms.exposure[0], shortest=np.clip(np.exp(low), lengths[0], lengths[best]) * u.s,
        longest=np.clip(np.exp(high), lengths[best], lengths[-1]) * u.s,
        limited_below_by=_lower_bound(curve, low), limited_above_by=_upper_bound(curve, high, full),
        kept=float(terms.kept[0]), speed=float(terms.speed[0]), ladder=ladder, terms=terms, curve=curve, frames=frames,
        data=frames * _frame_bytes(scene.rig) / 1e9 * u.Gbyte, saturation_magnitude=limit,
        saturated_stars=None if star_magnitudes is None else int(saturated_stars(star_magnitudes, limit)))


def shortest_best(speeds: np.ndarray) -> int:
    """Return the place of the first speed within 1 % of the best."""
    return int(np.argmax(speeds >= TIE * speeds.max()))


def speed_curve(scene: Scene, shares: KeptShare | None, exposure_s: np.ndarray) -> SpeedCurve:
    """Return the speed of a scene at lengths [s], shape (n,); on a mount that moves no star without `shares`."""
    share, light = (1.0, 1.0) if shares is None else shares.at(exposure_s)
    length = exposure_s * u.s
    share = np.where(length < sky_fills_after(scene), share, 0.0)
    return speed(length, overhead=scene.rig.overhead(length), background_rate=scene.background_rate,
                 read_noise=scene.read_noise, disturbance_interval=scene.site.disturbance_interval, kept=share,
                 light=light)


def sky_fills_after(scene: Scene) -> u.Quantity[u.s]:
    """Return the length of sub at which sky and dark current alone fill a pixel: no longer one shows anything."""
    return filled_after(scene.rig.camera, scene.sky_rate / scene.rig.binning**2 + dark_rate(scene.rig.camera))


def named(sub: SubExposure, cause: str) -> SubExposure:
    """Return the same sub-exposure with the cause of trailing named where trailing is its bound."""
    return replace(sub, limited_above_by=f"{TRAILING}: {cause}") if sub.limited_above_by == TRAILING and cause else sub


def perfect_speed(scene: Scene, still: KeptShare | None = None) -> float:
    """Return the best speed of this camera, sky and air on a mount that moves no star; `still` if it is known."""
    return float(speed_curve(scene, still_share(scene) if still is None else still, FINE).speed.max())


def still_share(scene: Scene) -> KeptShare:
    """Return the kept share of a mount that moves no star: what the air alone leaves, the same at every length.

    Less, the longer the sub, of a target that moves by itself.
    """
    nodes = SUB_LADDER if scene.motion.value.any() else SUB_LADDER[::SUB_LADDER.size - 1]
    return kept_share(scene, still_motion(scene), nodes=nodes)


def _picked(curve: SpeedCurve, places: np.ndarray) -> SpeedCurve:
    return SpeedCurve(**{name: values[places] for name, values in vars(curve).items()})


def _plateau(log_length: np.ndarray, values: np.ndarray, best: int, log_full: float) -> tuple[float, float]:
    """Return the ends of the stretch around the best step that stays on the plateau, between grid points too.

    Where a pixel is full between the last point inside and the next, that is the end.
    """
    level = min(PLATEAU * values.max(), values[best])  # the steps of the ladder are wide where subs must be short
    if level == 0:
        return log_length[best], log_length[best]
    inside = values >= level
    below, above = np.flatnonzero(~inside[:best]), np.flatnonzero(~inside[best:]) + best
    low = _crossing(log_length, values, below[-1], level) if below.size else log_length[0]
    high = _crossing(log_length, values, above[0] - 1, level) if above.size else log_length[-1]
    if above.size and log_length[above[0] - 1] < log_full <= log_length[above[0]]:
        high = log_full
    return min(low, log_length[best]), max(high, log_length[best])


def _crossing(log_length: np.ndarray, values: np.ndarray, place: int, level: float) -> float:
    """Return where a straight line from one grid point to the next meets a level."""
    part = np.clip((level - values[place]) / (values[place + 1] - values[place]), 0, 1)
    return log_length[place] + part * (log_length[place + 1] - log_length[place])


def _lower_bound(curve: SpeedCurve, log_shortest: float) -> str:
    """Return in plain words what makes shorter subs slower: the larger loss at the plateau's short end."""
    log_length = np.log(curve.exposure.value)
    if log_shortest <= log_length[0]:
        return SHORTEST_CONSIDERED
    read, clock = (np.interp(log_shortest, log_length, loss) for loss in (curve.read_noise, curve.collecting))
    return "read noise" if read < clock else "overhead"


def _upper_bound(curve: SpeedCurve, log_longest: float, full: u.Quantity) -> str:
    """Return in plain words what makes longer subs slower: the steeper loss at the plateau's long end."""
    log_length = np.log(curve.exposure.value)
    if log_longest >= np.log(full.to_value(u.s)):
        return SKY_SATURATES
    if log_longest >= log_length[-1]:
        return LONGEST_CONSIDERED
    if not np.interp(log_longest, log_length, curve.speed) > 0:
        return TRAILING
    at = log_longest + np.array([-0.1, 0.1])
    tiny = np.finfo(float).tiny
    trailing, gusts = (np.diff(np.log(np.maximum(np.interp(at, log_length, loss), tiny)))[0]
                       for loss in (curve.kept * curve.light, curve.survives))
    return GUSTS if gusts <= trailing else TRAILING


def _frames(scene: Scene, terms: SpeedCurve) -> int:
    cycle = terms.exposure[0] + scene.rig.overhead(terms.exposure[0])
    return int((scene.length / cycle).to_value(u.one))


def _frame_bytes(rig: Rig) -> int:
    """Return the bytes of one frame as read: whole bytes per pixel; binning comes later, in software."""
    return rig.camera.columns * rig.camera.rows * -(-rig.camera.bit_depth // 8)


def _saturation(scene: Scene, exposure: u.Quantity) -> u.Quantity:
    """Return the brightest star that does not saturate: still star, centred on one unbinned pixel, mean air."""
    return saturation_magnitude(
        scene.light, exposure=exposure, central_pixel_fraction=scene.central_pixel_fraction,
        sky_rate=scene.sky_rate, airmass=scene.airmass)

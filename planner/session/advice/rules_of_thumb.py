"""What the usual rules of thumb would say for the same rig, target and night, and what following them would lose.

All are common practice, no source: they are shown beside the answer, never used for it.
"""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.integration import integration_time
from planner.exposure.reasons import percent
from planner.exposure.scene import observing_scene
from planner.exposure.share_grid import kept_share
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import guided_motion, unguided_motion
from planner.exposure.sub_exposure import FINE, SubExposure, speed_curve, sub_exposure_of
from planner.fields import Key
from planner.session.advice.answer import Advice

SKY_OVER_READ = 10  # sky electrons of a sub over read noise squared
GUIDED, UNGUIDED = 300 * u.s, 20 * u.s
PIXELS = (2.0, 3.0)  # across the width of a star
NOTHING = 0.01  # of the speed: a smaller loss is none


@dataclass(frozen=True, kw_only=True)
class RuleOfThumb:
    """One rule, what it says here, and what that loses."""

    rule: Annotated[str, "in words"]
    sub_exposure: Annotated[u.Quantity[u.s] | None, "length that it asks for; null for a rule of binning"]
    binning: Annotated[int, "that it asks for, else the rig's"]
    loses: Annotated[float | None, "share of the speed of the recommended length, negative where it gains; null where "
                     "the rule cannot be followed", Key("loses_fraction")]
    sentence: Annotated[str, "what it says here, and what that loses"]


def rules_of_thumb(advice: Advice) -> tuple[RuleOfThumb, ...]:
    """Return the usual rules for an advice with a verdict; none without."""
    sub = advice.better
    if advice.scene is None or sub is None or not sub.speed > 0:
        return ()
    filled = SKY_OVER_READ * advice.scene.read_noise.value**2 / max(float(advice.scene.sky_rate.value), 1e-9)
    sky = np.clip(filled, SUB_LADDER[0].value, SUB_LADDER[-1].value) * u.s
    round_ = UNGUIDED if advice.rig.guider is None else GUIDED
    return (_length_rule(advice, sub, f"Sky noise {SKY_OVER_READ} times read noise squared", sky),
            _length_rule(advice, sub, f"{GUIDED.value:.0f} s with a guider, {UNGUIDED.value:.0f} s without", round_),
            _pixels(advice, sub))


def _length_rule(advice: Advice, sub: SubExposure, rule: str, length: u.Quantity) -> RuleOfThumb:
    """Return a rule that names a length, worked in the way that the verdict names."""
    curve = sub.curve
    speed = float(np.interp(np.log(length.value), np.log(curve.exposure.value), curve.speed))
    loses = max(1 - speed / sub.speed, 0.0)
    said = "loses nothing" if loses < NOTHING else f"loses {percent(loses)} of the night"
    return RuleOfThumb(rule=rule, sub_exposure=length, binning=advice.rig.binning, loses=loses,
                       sentence=f"{rule}: {_rounded(length)}, {said}.")


def _pixels(advice: Advice, sub: SubExposure) -> RuleOfThumb:
    rule = f"{PIXELS[0]:g} to {PIXELS[1]:g} pixels across a star"
    width, binning = advice.star_fwhm, advice.rig.binning
    pixels = 0.0 if width is None else float((width / advice.image_scale).to_value(u.pix))
    found = RuleOfThumb(rule=rule, sub_exposure=None, binning=binning, loses=None, sentence="")
    if pixels < PIXELS[0] and binning > 1:
        return replace(found, sentence=f"{rule}: {pixels:.1f} here; it asks for less binning.")
    if pixels < PIXELS[0]:
        return replace(found, sentence=(
            f"{rule}: {pixels:.1f} here; it asks for smaller pixels or a longer focal length."))
    wanted = max(round(pixels * binning / np.mean(PIXELS)), 1)
    if pixels <= PIXELS[1] or wanted == binning:
        return replace(found, loses=0.0, sentence=f"{rule}: {pixels:.1f} here, as it is.")
    loses = _loss_by_binning(advice, sub, wanted)
    said = ("" if loses is None else ", no faster" if abs(loses) < NOTHING else
            f", loses {percent(loses)} of the night" if loses > 0 else f", gains {percent(-loses)} of the night")
    return replace(found, binning=wanted, loses=loses, sentence=f"{rule}: {pixels:.1f} here; binning {wanted}{said}.")


def _loss_by_binning(advice: Advice, sub: SubExposure, binning: int) -> float | None:
    """Return what share of the night is lost for the goal with another binning, in the same way of working."""
    scene, need, total = advice.scene, advice.need, advice.total
    if scene is None or need is None or total is None:
        return None
    other = observing_scene(
        replace(advice.rig, binning=binning).as_read(), advice.site, advice.band, declination=scene.declination,
        hour_angle=scene.hour_angle, brightness=advice.goal.brightness, line=advice.goal.line, length=scene.length)
    sky = float((other.image_scale / scene.image_scale) ** 2)
    other = replace(other, sky_rate=scene.sky_rate * sky)  # with the Moon as it is
    motion = unguided_motion(other)
    if sub is need.guided and need.loop is not None and need.guide_star is not None:
        motion = guided_motion(other, need.loop, guide_star_offset=need.guide_star.offset)
    binned = sub_exposure_of(other, speed_curve(other, kept_share(other, motion), FINE))
    if not binned.speed > 0:
        return 1.0
    time = integration_time(other, binned, signal_to_noise=advice.goal.ratio, area=advice.goal.area).clock_time
    return 1 - float((total.clock_time / time).to_value(u.one))


def _rounded(length: u.Quantity) -> str:
    """Return a length with two digits."""
    return f"{float(f'{length.value:.2g}'):g} s"

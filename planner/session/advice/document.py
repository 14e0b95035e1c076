"""An advice with all that `--json` prints and a page lets one download."""

import datetime
from dataclasses import dataclass
from typing import Annotated

from astropy import units as u

from planner.exposure.light.noise import PIXEL_RATE
from planner.exposure.uncertainty import Improvement, MeasurementWorth, OpenInput
from planner.exposure.uncertainty.first_subs import FirstSubs
from planner.fields import Maybe, Spread, rows, told
from planner.session.advice.answer import Advice
from planner.session.advice.colours import ColourLight, colours_at_once
from planner.session.advice.pier_cost import PierCost, cost_of_pier
from planner.session.advice.rules_of_thumb import RuleOfThumb, rules_of_thumb
from planner.tracking import BudgetTerm
from planner.visibility import lit_share
from planner.visibility.clock import utc_text

Several = tuple[u.Quantity, ...]


@dataclass(frozen=True)
class SpeedRatio:
    """One way against the other."""

    speed_ratio: Annotated[float, "of the best speeds"]


@dataclass(frozen=True)
class AdviceAnswer:
    """An advice; what rests on a verdict is null or empty where the target never stands high enough."""

    advice: Annotated[Advice, Spread()]
    target = property(lambda answer: answer.advice.target)
    need = property(lambda answer: answer.advice.need)
    sure = property(lambda answer: answer.advice.certainty)

    night = told(datetime.date, "its evening", lambda answer: answer.advice.night.date)
    size = told(Several, "larger and smaller diameter, as far as they are known", lambda answer: [
        axis for axis in (answer.target.size_major, answer.target.size_minor) if axis is not None], u.arcmin,
        key="target.size_arcmin")
    line = told(u.R, "H-alpha, mean over the object; null if not known", lambda answer: answer.target.line_brightness,
                key="target.mean_halpha_rayleigh")
    surface = told(u.mag / u.arcsec**2, "V, mean over the object; null if not known", lambda answer:
                   answer.target.surface_brightness, key="target.mean_v_mag_per_arcsec2")
    windows = rows("in which it is dark and the target high enough", lambda answer: [
        map(utc_text, window) for window in answer.advice.window.windows], key="window.windows",
        start_utc=(str, "UTC"), end_utc=(str, "UTC"))
    transit = told(str, "upper transit nearest to the middle of the night, UTC", lambda answer:
                   utc_text(answer.advice.window.transit), key="window.transit_utc")
    moon_illumination = told(float, "lit share of its disc; null without a window tonight", lambda answer:
                             None if answer.advice.moon is None else float(lit_share(answer.advice.night.middle)))
    field = told(Several, "width and height of the sky that the camera sees", lambda answer: [
        answer.advice.field.width, answer.advice.field.height], u.deg)
    sky_rate = told(PIXEL_RATE, "of the sky, mean over the window", lambda answer:
                    answer.advice.scene and answer.advice.scene.sky_rate, key="sky_electrons_per_s_per_pixel")
    reasons = told(tuple[str, ...], "for the verdict, or why there is none", lambda answer:
                   answer.need.reasons if answer.need else [answer.advice.window.reason])
    changes = told(tuple[str, ...], "what would change the verdict", lambda answer: [
        change.sentence for change in (answer.need.changes if answer.need else ())])
    error_budget = told(tuple[BudgetTerm, ...], "what moves the star in a recommended sub of the better way",
                        lambda answer: answer.need.better_budget if answer.need else ())
    error_budget_length = told(u.s, "length of that sub", lambda answer:
                               answer.need and answer.need.better.recommended, Maybe(), key="error_budget_s")
    with_guider = told(SpeedRatio | None, "with a plain guide scope over without; null where the rig has a guider",
                       lambda answer: _ratio(answer.need and answer.need.with_guider))
    without_guider = told(SpeedRatio | None, "without guiding over with it; null where the rig cannot guide",
                          lambda answer: _ratio(answer.need and answer.need.without_guider))
    total_exposure = told(u.h, "open shutter of all frames for the goal", lambda answer:
                          answer.advice.total and answer.advice.total.integration_time)
    colours = told(tuple[ColourLight, ...], "of a colour sensor, the one with most light first", lambda answer:
                   colours_at_once(answer.advice))
    rules_of_thumb = told(tuple[RuleOfThumb, ...], "beside the answer, never used for it", lambda answer:
                          rules_of_thumb(answer.advice))
    pier = told(PierCost | None, "what it adds and costs; null for a rig that names none", lambda answer:
                cost_of_pier(answer.advice))
    odds = told(dict[str, float] | None, "of each verdict, over what the inputs leave open", lambda answer:
                answer.sure and answer.sure.odds)
    first_subs = told(FirstSubs | None, "a look at them; null where looking is not worth it", lambda answer:
                      answer.sure and answer.sure.first_subs)
    depth_range = told(Several | None, "in eight draws of ten, against the depth of the inputs as they stand",
                       lambda answer: answer.sure and answer.sure.deeper, u.mag)
    inputs = told(tuple[OpenInput, ...], "that are not known exactly", lambda answer:
                  answer.sure.inputs if answer.sure else ())
    measure_next = told(tuple[MeasurementWorth, ...], "from the most worth down", lambda answer:
                        answer.sure.measure_next if answer.sure else ())
    improve = told(tuple[Improvement, ...], "what can be done where the rig stands first, then by worth",
                   lambda answer: answer.sure.improve if answer.sure else ())


def _ratio(ratio: float | None) -> SpeedRatio | None:
    return None if ratio is None else SpeedRatio(ratio)

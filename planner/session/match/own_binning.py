"""Whether a rig's CCD would do better in another of its own binnings: the rig alone, as one set-up of `set_ups`."""

from dataclasses import replace

from astropy import units as u

from planner.rig import Equipment
from planner.session.advice.answer import Advice
from planner.session.match.combinations import BINNINGS, StarsAround, weigh_combinations
from planner.session.match.ranking import RANKINGS
from planner.session.match.set_ups import AS_GOOD, order_figure, set_ups
from planner.session.match.text import binnings_text, time_text


def own_binning_lines(equipment: Equipment, advice: Advice, stars_around: StarsAround) -> tuple[str, ...]:
    """Return in which of its own binnings the CCD of an advice's rig is clearly faster, in one line; none if in none.

    `stars_around`: as in `weigh_combinations`.
    """
    rig, own = advice.rig, next((one for one in equipment.rigs if one.name == advice.rig.name), None)
    if own is None or own.camera.register_well is None or own.as_read().camera != rig.camera or advice.need is None:
        return ()
    asked = weigh_combinations(
        replace(equipment, telescopes=(rig.telescope,), reducers=(), cameras=(own.camera,)), rig, advice.site,
        advice.band, target=advice.target, goal=advice.goal, lowest_altitude=advice.lowest_altitude,
        date=advice.night.date, stars_around=stars_around, binnings=(*BINNINGS, own.binning))
    best, now = (set_ups(one)[0] for one in (asked, replace(asked, binnings=(own.binning,))))
    hours = [order_figure(asked, row) for row in (best, now)]
    if not hours[0] * (1 + AS_GOOD) < hours[1]:
        return ()
    then, here = (time_text(figure * u.h) for figure in hours)
    return (f"Binning {binnings_text(best)} on the sensor, where charges are added before they are read, takes {then} "
            f"instead of {here}: {RANKINGS[asked.ranking].meaning}, as match counts them.",)

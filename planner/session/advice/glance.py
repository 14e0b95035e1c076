"""The answer in one look: a line each for length, depth, limits, the other way of working, and how sure all of it is.

What the verdict alone tells (`glance`) comes first; what needs the draws (`sureness`) may follow, in rows whose names
are known before.
"""

from astropy import units as u

from planner.exposure.depth import depth_after
from planner.exposure.reasons import GUIDER_GAIN, SKY_FILLS, percent, repair_words
from planner.exposure.sub_exposure import GUSTS, TRAILING
from planner.exposure.uncertainty import Certainty
from planner.session.advice.answer import Advice
from planner.session.advice.pier_cost import pier_lines
from planner.session.advice.text import (
    depth_number,
    depth_text,
    goal_text,
    hours_text,
    length_text,
    line_text,
    odds_text,
    plateau_text,
    safer_text,
    span_text,
    sub_length_text,
    twilight_text,
)
from planner.session.projects.framing import framing

NIGHTS = (3, 10)  # of the same length, whose depth is shown beside that of one
SURENESS = ("How sure", "Measure next")

Row = tuple[str, str]


def glance(advice: Advice, sure: Certainty | None = None) -> tuple[Row, ...]:
    """Return what the verdict tells, as (label, words); nothing where there is none. `sure`: as for `headline`."""
    sub, hours = advice.better, 0 * u.h if advice.scene is None else advice.scene.length
    if advice.need is None or sub is None:
        return ()
    if not advice.need.perfect_speed > 0:
        return (("Sub length", f"none: the {SKY_FILLS}"),)
    if not sub.speed > 0:
        return (("Sub length", "none keeps its stars round"), _other_way(advice, hours))
    return (("Sub length", f"{sub_length_text(advice, sub, sure)}; {plateau_text(sub)} lose less than 5 %"),
            ("Depth", _depth(advice)), ("Limits", _limits(advice)), _other_way(advice, hours),
            *((label, f"{value}: {more}") for label, value, more in pier_lines(advice)))


def glance_after(advice: Advice, hours: u.Quantity[u.h]) -> tuple[Row, ...]:
    """Return the same for some hours on the clock, with the stars and the subs kept, to set answers side by side."""
    rows = dict(glance(advice))
    wide = advice.star_fwhm
    if advice.scene is None or wide is None or advice.better is None or "Depth" not in rows:
        return tuple(rows.items())
    rows |= dict([_other_way(advice, hours)])
    depth = depth_after(advice.scene, advice.better, hours, advice.goal)
    rows["Depth"] = f"{depth_text(depth)} in {span_text(hours)}"
    pixels = (wide / advice.image_scale).to_value(u.pix)
    rows["Stars"] = f"{wide.to_value(u.arcsec):.1f}″ before they move, {pixels:.1f} pixels"
    rows["Subs kept"] = percent(advice.better.kept)
    goal, total = goal_text(advice.goal, advice.band), advice.total
    rows["Goal"] = "none" if total is None else f"{hours_text(total.clock_time)} for {goal}"
    panels = framing(advice.field, advice.target).panels
    if panels > 1:
        rows["Goal"] += f", each of {panels} frames that hold all of the target"
    return tuple(rows.items())


def sureness(advice: Advice) -> tuple[Row, ...]:
    """Return how sure that is and what to measure next, under the names of `SURENESS`."""
    sure = advice.certainty
    if sure is None:
        return ()
    low, high = (length.value for length in sure.best_lengths)
    length = f"{low:g} s" if low == high else f"{low:g} to {high:g} s"
    spreads = "usual spreads: common practice, no source" if sure.assumed else "your own spreads"
    odds = " ".join([f"{odds_text(sure)} ({spreads}); best {length} {sure.method} in eight of ten.",
                     *safer_text(sure, advice)])
    return tuple(zip(SURENESS, (odds, sure.advice), strict=True))


def _depth(advice: Advice) -> str:
    """Return what tonight reaches, and what several such nights would."""
    scene, sub, depth = advice.scene, advice.better, advice.depth
    if scene is None or sub is None or depth is None or depth_text(depth) == "none":
        return "none"
    hours = depth.hours.to_value(u.h)
    night = (f"tonight, {hours:.1f} h{twilight_text(advice)}" if advice.tonight
             else f"in a night of {hours:.1f} h around transit")
    later = [f"{depth_number(depth_after(scene, sub, count * depth.hours, advice.goal))} after {count}"
             for count in NIGHTS]
    return f"{depth_text(depth)} {line_text(advice)}{night}; {', '.join(later)} such nights"


def _limits(advice: Advice) -> str:
    """Return what bounds the length on either side, and what moves the star most."""
    sub, first = advice.verdict.better, advice.verdict.largest_motion
    above, below = (words.replace(f"{TRAILING}: ", f"{TRAILING} by ") for words in
                    (sub.limited_above_by, sub.limited_below_by))
    if above == GUSTS:
        above = f"{GUSTS}, taken to come every {advice.site.disturbance_interval.to_value(u.h):.2g} h"
    moves = f"; most motion: {first}" if first and first not in above else ""
    return f"longer subs: {above}; shorter ones: {below}{moves}"


def _other_way(advice: Advice, hours: u.Quantity[u.h]) -> Row:
    """Return what the way of working not recommended would bring or cost, and a guider for a rig that has none."""
    need = advice.verdict
    if advice.rig.guider is None:
        return "With a guider", _with_guider(need.with_guider, hours)
    if need.verdict == "neither":
        return "Repair first", repair_words(need)
    if need.guided is None or need.without_guider is None:
        return "With guiding", "no guide star is bright enough" if need.guided is None else "no sub stays round"
    guided = need.better is need.guided
    label, other = ("Without guiding", need.unguided) if guided else ("With guiding", need.guided)
    if not other.speed > 0:
        return label, "no length keeps its stars round"
    share = need.without_guider if guided else 1 / need.without_guider
    if need.verdict == "either":
        return label, f"{length_text(other)} subs bring {percent(share)} as much"
    return label, (f"{length_text(other)} subs bring {percent(share)} as much: as if {hours_text((1 - share) * hours)} "
                   f"of {span_text(hours)} were lost")


def _with_guider(ratio: float | None, hours: u.Quantity) -> str:
    if ratio is None:
        return "a guide scope is the first thing to try: unguided, no length keeps its stars round"
    if ratio < GUIDER_GAIN:
        return "a plain guide scope would bring next to nothing"
    return (f"a plain guide scope would make it {ratio:.2g} times as fast: the depth of {span_text(hours)} in "
            f"{hours_text(hours / ratio)}")

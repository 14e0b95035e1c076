"""The words of an advice: what a person reads first, shared by the terminal and the page."""

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.exposure.depth import Depth, Goal, standard_band
from planner.exposure.guide_need import NEITHER, GuideNeed
from planner.exposure.reasons import GUIDER_GAIN, SKY_FILLS, percent
from planner.exposure.sub_exposure import SubExposure
from planner.exposure.uncertainty import Certainty
from planner.rig import Filter, Rig
from planner.rig.mount import AXIS_UNKNOWN
from planner.session.advice.answer import Advice
from planner.session.advice.colours import ColourLight, colours_at_once
from planner.signs import minus, thousands
from planner.tracking.guiding import SWAY
from planner.visibility import Target, clock_text, lit_share

LEAST_DEPTH = 0.1  # mag: a narrower range is not shown
LEAST_GAIN = 0.01  # of the speed: a smaller one is not worth another length
SETTLED = 0.9  # of the draws
FINE = 201  # moments of the window at which the Moon is looked for, between those at which its place is known
VERDICT_NAMES = {"unguided": "unguided", "guided": "guided", "either": "either way", "neither": "neither way"}
VERDICTS = {
    "unguided": "Image unguided", "guided": "Guide", "either": "Guide or not, as you like",
    "neither": "Repair the mount first",
}
STIFFEN = "Stiffen the pier first"
AS_IT_STANDS = "best as it stands"  # the length for the figures as they are, were they known for certain
OTHER_HOURS = "The answer is for the hours around transit, were nothing in the way."
NO_GUIDER = {True: "No guider needed", False: "Works without a guider"}  # by whether one would bring next to nothing


def headline(advice: Advice, sure: Certainty | None = None) -> str:
    """Return the verdict in one line: what to do and the length of one sub, the safer one where it is `sure` better."""
    name = name_text(advice.target)
    if advice.need is None:
        return f"{name}: never high enough from here"
    if not advice.need.perfect_speed > 0:
        return f"The {SKY_FILLS}: no sub is short enough for {name} in {advice.band.name}"
    sub, verdict = advice.better, _verdict_words(advice.need, advice.rig)
    if sub is None or not sub.speed > 0:
        return f"{verdict}: no length keeps round stars of {name} in {advice.band.name}"
    lengths = _lengths_text(advice.need, sub)
    if sure is not None and safer_text(sure, advice):
        if advice.rig.guider is not None and advice.need.verdict != "either":
            verdict = VERDICTS[sure.method]  # of the length that is set
        return f"{verdict}: {_set_text(sure, advice.rig)} for {name} in {advice.band.name} until you know more"
    if advice.need.verdict == "neither":
        return f"{verdict}: until then {lengths} for {name} in {advice.band.name}, {percent(sub.kept)} of them kept"
    return f"{verdict}: {lengths} for {name} in {advice.band.name}"


def _set_text(sure: Certainty, rig: Rig) -> str:
    """Return the length that is best on average, and the method of a rig that has both."""
    return f"{sure.sub_exposure.value:g} s subs" + ("" if rig.guider is None else f" {sure.method}")


def _lengths_text(need: GuideNeed, sub: SubExposure) -> str:
    """Return the length of a sub; of both ways, the faster one first, where either will do."""
    if need.verdict != "either" or need.guided is None:
        return f"{length_text(sub)} subs"
    ways = [(length_text(need.guided), "guided"), (length_text(need.unguided), "unguided")]
    if sub is need.unguided:
        ways.reverse()
    if ways[0][0] == ways[1][0]:
        return f"{ways[0][0]} subs"
    return f"{ways[0][0]} subs {ways[0][1]}, {ways[1][0]} {ways[1][1]},"


def _verdict_words(need: GuideNeed, rig: Rig) -> str:
    if rig.guider is None and need.verdict == "unguided":
        return NO_GUIDER[need.with_guider is not None and need.with_guider < GUIDER_GAIN]
    if need.repair is not None and need.repair.cause == SWAY:
        return STIFFEN
    if need.verdict == "neither" and need.guider_is_enough:
        return "Add a guider first"
    return VERDICTS[need.verdict]


def odds_text(sure: Certainty) -> str:
    """Return the odds of the verdicts that came up, the likeliest first: ``guided in 60, either way in 4 of 64``."""
    words = VERDICT_NAMES | {"neither": "no length good"}
    likely = sorted((share, words[name]) for name, share in sure.odds.items() if share > 0)[::-1]
    odds = ", ".join(f"{name} in {round(share * sure.draws)}" for share, name in likely)
    good = f" (good: {percent(NEITHER)} of a perfect mount's speed)" if sure.odds.get("neither", 0) > 0 else ""
    return f"{odds} of {sure.draws} cases drawn{good}"


def certainty_lines(advice: Advice) -> tuple[str, ...]:
    """Return how sure the verdict is, which length is best on average, and what to measure next."""
    sure = advice.certainty
    if sure is None or advice.need is None:
        return ()
    known = ("With your figures as uncertain as is usual (common practice, no source)" if sure.assumed
             else "With your figures as uncertain as you say")
    lines = [f"{known}: {odds_text(sure)}.", *_axis_text(advice.rig), *safer_text(sure, advice),
             _average_text(sure, advice.need)]
    if (sure.deeper[1] - sure.deeper[0]).value >= LEAST_DEPTH:
        lines.append(_depth_range(sure))
    look = () if sure.first_subs is None or advice.need.verdict == "neither" else (sure.first_subs.sentence,)
    return (*lines, *look, sure.advice, *(change.sentence for change in sure.improve[:1] if change.worth_saying))


def _depth_range(sure: Certainty) -> str:
    """Return by how much the depth may differ; where nothing is kept in a tenth of the cases, that."""
    low, high = (minus(f"{depth.value:+.1f}") for depth in sure.deeper)
    if not np.isfinite(sure.deeper[0].value):
        return f"That length may keep no subs at all; at best its depth is off by {high} mag (nine cases of ten)."
    return f"The depth of this answer may be off by {low} to {high} mag (eight cases of ten)."


def _axis_text(rig: Rig) -> tuple[str, ...]:
    """Return as how near the pole an axis counts that nobody gave; nothing where one was."""
    if rig.mount.axis_given:
        return ()
    return (f"No polar error is given: the axis counts as within {AXIS_UNKNOWN.value:g}′ of the pole each way (common "
            "practice, no source).",)


def _average_text(sure: Certainty, need: GuideNeed) -> str:
    """Return the length that is best on average, and how much it matters."""
    low, high = (length.value for length in sure.best_lengths)
    between = "" if low == high else f"; the best lies between {low:g} and {high:g} s in eight of ten"
    if need.verdict == "neither" and sure.gain >= LEAST_GAIN:
        return f"Until then no one length suits every case{between}."
    text = (f"Over these cases {sure.sub_exposure.value:g} s {sure.method} is best on average, within 1 % of the best "
            f"length in {round(sure.close_share * sure.draws)} of them")
    if sure.close_share >= SETTLED and not sure.worth_measuring:
        return f"{text}: what you do not know does not matter."
    cost = "under 1 %" if sure.at_risk < 0.01 else percent(sure.at_risk)
    return f"{text}{between}. Not knowing costs {cost} on average."


def safer_text(sure: Certainty, advice: Advice) -> tuple[str, ...]:
    """Return what to set until more is known, where that gains on the length of a good way."""
    if sure.gain < LEAST_GAIN or advice.better is None or advice.verdict.verdict == "neither":
        return ()
    return (f"Until you know more, set {_set_text(sure, advice.rig)}: on average they bring {percent(sure.gain)} more "
            f"than {length_text(advice.better)}, which are best only for the figures as they stand. Depth, totals and "
            f"data here, and plans of nights, are told for {length_text(advice.better)}"
            f"{_more_files(advice.better.recommended, sure.sub_exposure, advice.rig)}.",)


def _more_files(told: u.Quantity[u.s], safer: u.Quantity[u.s], rig: Rig) -> str:
    """Return how many times the files a safer length makes; empty where the lengths are one, by two ways of working."""
    ratio = ((told + rig.overhead(told)) / (safer + rig.overhead(safer))).to_value(u.one)
    return "" if told == safer else f"; {safer.value:g} s make {ratio:.2g} times as many files"


def sub_length_text(advice: Advice, sub: SubExposure, sure: Certainty | None) -> str:
    """Return the headline's length, and beside a safer one the length that is best as it stands."""
    if sure is None or not safer_text(sure, advice):
        return length_text(sub)
    return f"{_set_text(sure, advice.rig)} until you know more; {length_text(sub)} {AS_IT_STANDS}"


def name_text(target: Target) -> str:
    """Return the target's name with its shortest other one: ``NGC 224 (M 31)``."""
    other = target.common_name.split(",")[0].strip()
    return f"{target.name} ({other})" if other else target.name


def length_text(sub: SubExposure) -> str:
    """Return the recommended length: ``180 s``."""
    return f"{sub.recommended.to_value(u.s):g} s"


def window_text(advice: Advice) -> str:
    """Return from when to when the target may be observed, on the site's clock."""
    window, site = advice.window, advice.site
    if not window.windows:
        return window.reason
    spans = [f"{clock_text(start, site)[:5]} to {clock_text(end, site)}" for start, end in window.windows]
    return (f"{' and '.join(spans)}, {window.hours.to_value(u.h):.1f} h above {advice.lowest_altitude.value:.0f}°"
            f"{twilight_text(advice)}")


def twilight_text(advice: Advice) -> str:
    """Return down to which Sun a narrow band is taken, `` with the Sun below −12°``; empty for a broad one."""
    return f" with the Sun below −{advice.night.depression.value:g}°" if advice.band.narrow else ""


def moon_text(advice: Advice) -> str:
    """Return the Moon's part in the window."""
    if advice.moon is None:
        return "no Moon counted"
    altitude = advice.moon.altitude.value
    between = np.interp(np.linspace(0, altitude.size - 1, FINE), np.arange(altitude.size), altitude)
    up = float(np.mean(between > 0))
    if up == 0:
        return "Moon down"
    away = advice.moon.separation_from(advice.target).mean().to_value(u.deg)
    lit = percent(float(lit_share(advice.night.middle)))
    return f"Moon {lit} lit, {away:.0f}° away" + ("" if up == 1 else f", up for {percent(up)} of it")


def field_text(advice: Advice) -> str:
    """Return the sides of the field: ``1.68° × 1.12°``."""
    return f"{advice.field.width.to_value(u.deg):.2f}° × {advice.field.height.to_value(u.deg):.2f}°"


def place_lines(advice: Advice) -> tuple[tuple[str, str, str], ...]:
    """Return figures as (label, value, more): tonight, stars, sky, depth, total exposure."""
    scene, star, total = advice.scene, advice.star_fwhm, advice.total
    scale = advice.image_scale.to_value(u.arcsec / u.pix)
    hours = advice.window.hours.to_value(u.h)
    lines = [("Tonight", f"{hours:.1f} h", f"{window_text(advice).rstrip('.')}; {moon_text(advice)}"),
             *_target_lines(advice.target)]
    if scene is None or star is None:
        return tuple(lines)
    lines.append(("Stars", f"{star.to_value(u.arcsec):.1f}″",
                  f"before they move, {star.to_value(u.arcsec) / scale:.1f} {_pixels_text(advice)}"
                  f"{_corner_text(advice)}; field {field_text(advice)}"))
    sky, narrow = advice.sky_brightness, scene.band.origin.narrow
    lines.append(("Sky", "" if sky is None else
                  f"{sky.value:.1f} {'' if narrow else f'{standard_band(scene.band)} '}mag/arcsec²",
                  f"{'at the line, not in V: ' if narrow else ''}{float(scene.sky_rate.value):.2g} electrons per "
                  "second and pixel"))
    if advice.depth is not None:
        lines.append((f"Depth in {advice.depth.hours.value:.1f} h", depth_text(advice.depth),
                      f"{line_text(advice)}signal-to-noise {advice.depth.signal_to_noise:g} on "
                      f"{advice.depth.area.to_value(u.arcsec**2):g} arcsec²{_on_a_pixel(advice)}{_doubling(advice)}"))
        colours = colours_at_once(advice)
        lines += [(f"  in {colour.band.colour}", depth_text(colour.depth), _colour_text(colour))
                  for colour in colours if len(colours) > 1]
    if total is None:
        lines.append(("Total exposure", "none", f"no light of {goal_text(advice.goal, advice.band)} in this filter"))
    else:
        count = "1 sub" if total.frames == 1 else thousands(f"{float(f'{total.frames:.3g}'):,.0f} subs")
        count += f" of {total.sub_exposure.to_value(u.s):g} s"
        lines.append(("Total exposure", hours_text(total.integration_time),
                      f"{count}, {hours_text(total.clock_time)} on the clock, for "
                      f"{goal_text(advice.goal, advice.band)} at that signal-to-noise"))
    return tuple(lines)


def _on_a_pixel(advice: Advice) -> str:
    """Return what the ratio is on one pixel, where that is larger than the area that the depth is told for."""
    depth, pixel = given(advice.depth), (advice.image_scale * u.pix) ** 2
    if pixel <= depth.area:
        return ""
    times = float(np.sqrt((pixel / depth.area).to_value(u.one)))
    ratio, area = (float(f"{value:.2g}") for value in (depth.signal_to_noise * times, pixel.to_value(u.arcsec**2)))
    return f" ({ratio:g} on one pixel, which is {area:g} arcsec²)"


def _pixels_text(advice: Advice) -> str:
    """Return what a pixel of the picture is: ``pixels of 1.96″, each 2 × 2 added after reading``."""
    size, binning = f"pixels of {advice.image_scale.value:.2f}″", advice.rig.binning
    return size if binning == 1 else f"{size}, each {binning} × {binning} added after reading"


def line_text(advice: Advice) -> str:
    """Return at which wavelength the depth of a line is told, ``at 501 nm, ``; empty where it is of a band."""
    if advice.scene is None or advice.depth is None or advice.depth.line is None:
        return ""
    band = advice.scene.band
    return f"at {band.origin.line_near(band.centre).to_value(u.nm):.0f} nm, "


def _corner_text(advice: Advice) -> str:
    """Return how wide a star is in the corner, where the telescope's blur is known there."""
    corner = advice.corner_fwhm
    return "" if corner is None else f", {corner.to_value(u.arcsec):.1f}″ in the corners"


def _colour_text(colour: ColourLight) -> str:
    """Return where a colour lies and how its pixels sample the sky."""
    return (f"around {colour.band.centre.value:.0f} nm, on {percent(colour.band.share)} of the pixels, one every "
            f"{colour.spacing.value:.1f}″; sky {float(colour.sky_rate.value):.2g} electrons per second and pixel")


def _target_lines(target: Target) -> list[tuple[str, str, str]]:
    """Return size and mean brightness of the target as far as they are known, and where they come from."""
    lines = []
    if target.size_major is not None:
        known = [axis for axis in (target.size_major, target.size_minor) if axis is not None]
        axes = [f"{axis.to_value(u.arcmin):.3g}′" for axis in known]
        elsewhere = target.size_elsewhere.replace(" in the", " arcmin in the")
        lines.append(("Size", " × ".join(dict.fromkeys(axes)), "; but ".join(filter(None, (
            size_source(target), elsewhere)))))
    if target.line_brightness is not None:
        lines.append(("Mean Hα", _rayleigh(target.line_brightness),
                      "over the whole extent: its rims are brighter, its outskirts fainter"))
    elif target.surface_brightness is not None:
        lines.append(("Mean brightness", f"{target.surface_brightness.value:.1f} mag/arcsec²", target.brightness_from))
    return lines


def size_source(target: Target) -> str:
    """Return where a target's size comes from."""
    return target.size_from or "NGC/IC catalogue or your list"


def hours_text(time: u.Quantity[u.h]) -> str:
    """Return hours with the digits that their inputs carry, minutes below one."""
    hours = time.to_value(u.h)
    return (f"{hours * 60:.0f} min" if hours < 0.95 else f"{hours:.1f} h" if hours < 9.95
            else thousands(f"{float(f'{hours:.2g}'):,.0f} h"))


def span_text(time: u.Quantity[u.h]) -> str:
    """Return hours that were asked for: three digits, minutes below one."""
    return hours_text(time) if time.to_value(u.h) < 0.95 else f"{time.to_value(u.h):.3g} h"


def _rayleigh(line: u.Quantity[u.R]) -> str:
    size = float(f"{line.to_value(u.R):.2g}")
    return f"{size:.0f} R" if size >= 10 else f"{size:g} R"


def depth_text(depth: Depth) -> str:
    """Return the surface reached: ``26.1 V mag/arcsec²``, ``14 R`` for a line."""
    number = depth_number(depth)
    return number if number == "none" or depth.line is not None else f"{number} {depth.band} mag/arcsec²"


def depth_number(depth: Depth) -> str:
    """Return the surface reached without its band: ``26.1``, ``14 R``."""
    if depth.line is not None:
        return _rayleigh(depth.line) if np.isfinite(depth.line.value) else "none"
    value = float("-inf") if depth.brightness is None else float(depth.brightness.value)
    return f"{value:.1f}" if np.isfinite(value) else "none"


def _doubling(advice: Advice) -> str:
    """Return what twice the time brings: the square root of two in signal-to-noise."""
    depth = advice.depth
    if depth is None or depth.line is None:
        return "; twice the time: 0.4 mag deeper"
    return f"; twice the time: {_rayleigh(depth.line / np.sqrt(2))}" if np.isfinite(depth.line.value) else ""


def goal_text(goal: Goal, band: Filter) -> str:
    """Return the source that a goal names, its band with it."""
    parts = [] if goal.brightness is None else [f"{goal.brightness.value:.1f} {standard_band(band)} mag/arcsec²"]
    return " and ".join(parts + ([] if goal.line is None else [f"{goal.line:g}"]))


def way_rows(advice: Advice) -> tuple[tuple[str, ...], ...]:
    """Return both ways side by side: a label, the unguided value, and the guided one where there is one."""
    need = advice.verdict
    subs = [need.unguided] + ([] if need.guided is None else [need.guided])
    hours = 0.0 if advice.scene is None else advice.scene.length.to_value(u.h)
    return (
        (AS_IT_STANDS, *(length_text(sub) if sub.speed > 0 else "none" for sub in subs)),
        ("95 % of the best", *(plateau_text(sub) for sub in subs)),
        ("shorter: limited by", *(sub.limited_below_by for sub in subs)),
        ("longer: limited by", *(sub.limited_above_by for sub in subs)),
        ("subs kept", *(percent(sub.kept) for sub in subs)),
        (f"subs in {hours:.1f} h", *(thousands(f"{sub.frames:,}") for sub in subs)),
        ("data", *(f"{sub.data.to_value(u.Gbyte):.1f} GB" for sub in subs)),
        ("stars saturate", *(_saturation_text(sub) for sub in subs)),
    )


def plateau_text(sub: SubExposure) -> str:
    """Return the plateau with two digits, its inputs carry no more: ``57 to 1000 s``."""
    if not sub.speed > 0:
        return "none"
    short, long = (float(f"{end.to_value(u.s):.2g}") for end in (sub.shortest, sub.longest))
    return f"{short:g} to {long:g} s"


def _saturation_text(sub: SubExposure) -> str:
    """Return the magnitude above which stars saturate, and how many do."""
    limit = float(sub.saturation_magnitude.value)
    if not np.isfinite(limit):
        return "the sky alone" if limit > 0 else "none"
    # The catalogue ends near magnitude 10: what it holds is the least there can be.
    known = sub.saturated_stars
    count = "" if known is None else f": at least {known} in this field" if known else ": none known in this field"
    return f"brighter than mag {limit:.1f}{count}"

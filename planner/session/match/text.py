"""The words of a choice of combination: what limits each, and what it costs."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from astropy import units as u

from planner.exposure.guide_need import NEITHER
from planner.exposure.reasons import percent
from planner.optics.filter_cone import cone_share
from planner.rig.rig import over_rating
from planner.session.advice.text import OTHER_HOURS, VERDICT_NAMES, depth_text, goal_text
from planner.session.match.combination import Combination, lit_circles
from planner.session.match.combinations import Combinations
from planner.session.match.detail import REACH, held_share
from planner.session.match.goals import SHORT_SUBS, two_stars
from planner.session.match.ranking import RANKINGS
from planner.session.match.set_ups import (
    BEGINNING,
    OVERLOAD,
    PANELS,
    REST,
    TOO_CLOSE,
    SetUp,
    helping_guider,
    order_figure,
    overload,
)
from planner.signs import thousands
from planner.sky.brightness import gathered

WORTH_NAMING = 0.10  # of a star's width: from here on the pixel or the optics limit it (common practice, no source)
DEPTH = {"source": "the target's own light", "sky": "sky", "dark": "dark current", "read": "read noise"}
BRIGHT_CORE = "bright core"
MOUNT = "mount"  # where no way that the rig has is good
FORBIDS, BESIDE = "pixel forbids detail", "detail beside the pixel's limit"
FAR_OVER = 1.0  # of the rating: what weighs twice as much is no temptation (common practice, no source)
YEARS = 1000.0  # hours: more than the clear nights of a year (common practice, no source)
NATURE = ("air", "sky", DEPTH["source"])


class Limit(NamedTuple):
    """What limits a choice: one word, and a sentence."""

    cause: str
    sentence: str


def limits(asked: Combinations, row: SetUp) -> tuple[Limit, ...]:
    """Return what limits a set-up: its field, its sharpness, its depth, its weight."""
    choice = row.choice
    found = [_sharpness(choice), _depth(row)]
    if row.verdict == "neither" and not choice.no_focus:
        found.insert(0, Limit(MOUNT, f"{'Without guiding' if row.loop is None else 'Guided or not'}, the mount leaves "
                              f"less than {percent(NEITHER)} of what a perfect one would bring; the advice for this "
                              "set-up says what to do first."))
    if asked.period < REACH * row.forbidden:
        found.insert(0, _beside_limit(asked, row))
    if choice.framing.panels > 1:
        lengths = [str(len(line)) for line in choice.framing.rows]
        rows = "one row" if len(lengths) == 1 else f"rows of {', '.join(lengths)}"
        found.insert(0, Limit("field", f"One frame holds {percent(choice.framing.share)} of the target: "
                                       f"{choice.framing.panels} panels in {rows}."))
    if row.core is not None and row.core.full:
        found.append(Limit(BRIGHT_CORE, _core(row)))
    passed = 1.0 if not asked.band.narrow or asked.band.curve else cone_share(
        asked.band.centre, asked.band.width, focal_ratio=choice.train.focal_ratio, obstruction=choice.train.obstruction)
    if passed < 1 - WORTH_NAMING:
        found.append(Limit("fast cone in the filter", f"At f/{choice.train.focal_ratio:.1f} slanting rays find the "
                           f"filter's band moved to the blue: {percent(passed)} of the line is left, for layers of "
                           "index 2."))
    if round(choice.lit, 2) < 1:
        circles = lit_circles(choice.train, asked.band)
        cause = min(circles, key=lambda name: circles[name])
        what = ("The optics light {} of the sensor's side" if cause == "image circle" else
                f"The filter, {asked.band.distance:g} before the sensor, lights {{}} of its side")
        found.append(Limit(cause, f"{what.format(percent(choice.lit))}; the rest is "
                                  f"{'dark' if asked.any_circle else 'cut'}."))
    if row.mixes:
        found.append(Limit("both lines in one", "A mono sensor's frames mix both lines of the filter: no picture tells "
                                                "them apart."))
    if overload(asked, row.load) > 0:
        found.append(Limit("load", f"{over_rating(row.load, asked.rig.mount).capitalize()}."))
    return tuple(found)


def _beside_limit(asked: Combinations, row: SetUp) -> Limit:
    """Return what the pixels leave of detail beside the period up to which they hold nothing, or below it."""
    share = held_share(asked, row.forbidden)
    samples = "one pixel" if asked.drizzled else "two samples of the same light"
    wanted, limit = f"Detail of {asked.period.value:.3g}″", f"{row.forbidden.value:.3g}″, {samples}"
    drizzled = "." if asked.drizzled else ("; frames dithered and drizzled hold it down to one pixel of "
                                           f"{row.choice.image_scale.value:.2g}″.")
    if share == 0:
        return Limit(FORBIDS, f"{wanted} is not longer than {limit}: the pixel forbids it{drizzled}")
    part = "" if share == 1 else f", so that {percent(1 - share)} of what is about as fine is lost"
    return Limit(BESIDE, f"{wanted} lies beside {limit}, up to which the pixel holds nothing{part}{drizzled}")


def _core(row: SetUp) -> str:
    """Return what to do where the brightest part is full in the recommended subs."""
    core = row.core
    if core is None or not core.full:
        return ""
    full = f"The target's {core.part} is full after {time_text(core.full_after)}"
    if not core.short_enough:
        return f"{full}, sooner than the shortest sub considered."
    return (f"{full}: beside the subs of {row.sub_exposure.to_value(u.s):g} s take {SHORT_SUBS} of "
            f"{core.short.to_value(u.s):g} s, {time_text(core.clock)}"
            f"{' a panel' if row.choice.framing.panels > 1 else ''}.")


def stars_text(asked: Combinations, row: SetUp) -> str:
    """Return what a set-up makes of stars, where they count: which are full, and from where on two are apart."""
    if asked.ranking != "stars" or not row.works:
        return ""
    return (f"Stars brighter than {row.saturation.value:.1f} mag are full in a sub of "
            f"{row.sub_exposure.to_value(u.s):g} s; two equal ones are seen as two from "
            f"{two_stars(asked, row.choice).value:.1f}″ apart.")


def _sharpness(choice: Combination) -> Limit:
    """Return what of the star's width could be better: the pixel or the optics where they matter, else the air."""
    pixel, optics = choice.resolution_lost, choice.optics_share
    if max(pixel, optics) < WORTH_NAMING:
        return Limit("air", f"The air makes {percent(1 - pixel - optics)} of the star's width.")
    if pixel >= optics:
        filled = choice.picture_fwhm > choice.fwhm
        cause = "The pixel and filling in the colours of its array add" if filled else "The pixel adds"
        return Limit("pixel", f"{cause} {percent(pixel)} of the star's width{' in a picture' if filled else ''}.")
    return Limit("optics", f"Diffraction and blur of the optics add {percent(optics)} of the star's width.")


def _depth(row: SetUp) -> Limit:
    shares = vars(row.noise)
    largest = max(shares, key=lambda part: shares[part])
    name = DEPTH[largest]
    share = percent(shares[largest])
    return Limit(name, f"{name[0].upper()}{name[1:]} makes {share} of the noise variance in a sub of "
                       f"{row.sub_exposure.to_value(u.s):g} s.")


def limited_by(asked: Combinations, row: SetUp) -> str:
    """Return the causes that the observer could change: ``field, pixel``; else those of nature: ``air and sky``."""
    causes = [limit.cause for limit in limits(asked, row)]
    return ", ".join(cause for cause in causes if cause not in NATURE) or " and ".join(causes)


def headline(asked: Combinations, rows: Sequence[SetUp]) -> str:
    """Return the best set-up in one line."""
    where = "a field overhead" if asked.target is None else asked.target.name
    if not rows:
        return f"{where}: never high enough from here"
    if not rows[0].works:
        return f"{where}: no set-up works on this mount"
    doubt = "" if rows[0].verdict != "neither" else (
        ", though not good without guiding" if rows[0].loop is None else ", though neither way is good")
    hours = order_figure(asked, rows[0])
    if not np.isfinite(hours):
        doubt += f", though nothing you own shows detail of {asked.period.value:.3g}″ there"
    elif not doubt and RANKINGS[asked.ranking].figure is None and hours > YEARS:
        doubt += f", though it takes {time_text(hours * u.h)}"
    if rows[0].reason:
        doubt += f", but it is {rows[0].reason}"
    return f"For {where}: {rows[0].name}{doubt}"


def as_good_text(asked: Combinations, rows: Sequence[SetUp], as_good: float) -> str:
    """Return which set-ups are as good as the first, and by what they then stand in order; empty for none."""
    equal = [row.name for row in rows[1:] if row.as_good]
    if not equal or not np.isfinite(order_figure(asked, rows[0])):
        return ""
    timed = RANKINGS[asked.ranking].figure is None
    counted = f", with {BEGINNING:g} to point, centre and focus" if timed and order_figure(asked, rows[0]) < 1 else ""
    apart = "" if asked.apart is None else (
        f" Where neighbours {asked.apart.value:.3g}″ apart show as one, each {percent(TOO_CLOSE)} that they are too "
        f"close count like {percent(as_good)} more.")
    return (f"As good within {percent(as_good)}{counted}: {'; '.join(equal)}. For order simplicity counts too: half "
            f"the panels like {_worth(as_good, PANELS)} less time, half the load, data, focus runs or time for "
            f"the faint surface like {_worth(as_good, REST)}.{apart}")


def _worth(as_good: float, part: float) -> str:
    """Return what a part of the band of equals is of the time: ``2 %``."""
    return f"{100 * ((1 + as_good) ** part - 1):.1g} %"


def held_back_text(asked: Combinations, rows: Sequence[SetUp], as_good: float) -> str:
    """Return the fastest set-up that only its load keeps behind the first; empty where it is not clearly faster."""
    heavy = [row for row in rows if row.works and row.reason and 0 < overload(asked, row.load) < FAR_OVER]
    if not heavy or rows[0].reason or RANKINGS[asked.ranking].figure is not None:
        return ""
    best = min(heavy, key=lambda row: order_figure(asked, row))
    hours = order_figure(asked, best)
    if hours > (1 - as_good) * order_figure(asked, rows[0]):
        return ""
    return f"Faster but for its load: {best.name}, {time_text(hours * u.h)}, {best.reason}."


def guider_text(asked: Combinations, rows: Sequence[SetUp]) -> str:
    """Return which guider of the equipment would help a rig without one, and by how much; empty for none."""
    found = helping_guider(asked, rows)
    if found is None:
        return ""
    guider, row = found
    now, then = (time_text(order_figure(asked, one) * u.h) for one in (rows[0], row))
    return f"Guided with “{guider.name}”, which you own, the first takes {then} instead of {now}."


def set_up_text(row: SetUp) -> str:
    """Return what the mount makes of a set-up: ``guided, 120 s``; what it loses where that is felt."""
    way = row.method if row.verdict == "neither" else VERDICT_NAMES[row.verdict]
    if not row.works:
        return "no focus" if row.choice.no_focus else way
    lost = f", {percent(1 - row.kept)} lost" if row.kept < 1 - WORTH_NAMING / 2 else ""
    return f"{way}, {row.sub_exposure.to_value(u.s):g} s{lost}"


def binnings_text(row: SetUp) -> str:
    """Return the binning advised, with those that are as fast: ``1 (to 3 alike)``."""
    first, last = row.binnings[0], row.binnings[-1]
    return f"{first}" if last == first else f"{first} (to {last} alike)"


def causes_text(asked: Combinations, row: SetUp) -> str:
    """Return what stands against a set-up, else what limits it."""
    return row.reason or limited_by(asked, row)


def ranking_text(asked: Combinations, rows: Sequence[SetUp]) -> str:
    """Return what the choices are ranked on, and what each time and figure means."""
    ranking, goal = RANKINGS[asked.ranking], asked.goal
    meaning = ranking.meaning if asked.target is not None else ranking.meaning_without_target
    drizzled = ", of dithered frames drizzled" if asked.drizzled else ""
    mosaics = any(row.choice.framing.panels > 1 for row in rows)
    heavy = any(row.works and row.reason for row in rows)
    load = (f" A load beyond the mount's rating counts like more time, twice as much for each {percent(OVERLOAD)}"
            f"{'' if rows[0].reason else ', and never stands first'}." if heavy else "")
    body = "in such a surface" if asked.body == 1 else (
        "where the target has its mean light, "
        + thousands(f"{float(f'{asked.body:.2g}'):,.0f} times such a surface"))
    absence = asked.hours.absence and f" {asked.hours.absence} {OTHER_HOURS}"
    lines = (" Of the filter's two lines the one that takes a colour camera longest counts; of a mono camera, which "
             "mixes both, the redder." if asked.band.narrow and len(asked.band.windows) > 1 else "")
    moves = ", two minutes for each move between panels" if mosaics else ""
    return (f"Ranked on {meaning}, {'most' if ranking.most_first else 'least'} first.{load}{absence} Times are on "
            f"the clock, on this mount, under the sky of {counted_hours_text(asked)}{moves}.{lines} "
            f"Surface: until {goal_text(asked.goal, asked.band)} reaches signal-to-noise {goal.signal_to_noise:g} on "
            f"{goal.area.to_value(u.arcsec**2):g} arcsec². Detail: until a pattern in it does, "
            f"{asked.period.value:.3g}″ from bright to bright{drizzled}. Stars: until {star_text(asked)} does. "
            f"Finest: from bright to bright in the finest pattern that these hours bring out {body}.")


def star_text(asked: Combinations) -> str:
    """Return which star counts: ``a star of 18 mag, 4″ beside another``."""
    goal = asked.goal
    magnitude = asked.star
    if magnitude is None and goal.brightness is not None:
        magnitude = gathered(goal.brightness, goal.area)
    star = (f"a star with the light of {goal.area.to_value(u.arcsec**2):g} arcsec² of it" if magnitude is None
            else f"a star of {magnitude.value:.3g} mag")
    return star if asked.apart is None else f"{star}, {asked.apart.value:.3g}″ beside one as bright,"


def counted_hours_text(asked: Combinations) -> str:
    """Return which hours the figures are for: ``this night's 2.9 h`` or ``hours around transit, no Moon``."""
    if asked.hours.length is None:
        return "hours around transit, no Moon"
    return f"this night's {asked.hours.length.to_value(u.h):.1f} h, its Moon counted"


def reach_text(row: SetUp) -> str:
    """Return the depth of the whole target in the night's hours."""
    return "none" if row.depth is None else depth_text(row.depth)


def time_text(time: u.Quantity[u.h]) -> str:
    """Return a time for a person: ``18 s``, ``25 min``, ``3.1 h``, ``140 h``, ``over 100,000 h``."""
    hours = float(time.to_value(u.h))
    if not np.isfinite(hours):
        return "never"
    if hours > 1e5:
        return thousands("over 100,000 h")
    if hours >= 99.5:
        return thousands(f"{float(f'{hours:.2g}'):,.0f} h")
    if hours >= 9.95:
        return f"{hours:.0f} h"
    if hours >= 0.995:
        return f"{hours:.1f} h"
    return f"{hours * 60:.0f} min" if hours >= 1.5 / 60 else f"{hours * 3600:.0f} s"


def finest_text(row: SetUp) -> str:
    """Return the finest detail that the night's hours show: ``4.1″``, ``4.3″ (pixel)`` where they would show finer."""
    if not np.isfinite(row.finest.value):
        return "none"
    return f"{row.finest.value:.2g}″{' (pixel)' if row.finest < 1.01 * row.forbidden else ''}"


def detail_text(asked: Combinations, row: SetUp, per: str) -> str:
    """Say what the time for fine detail is for, and what detail the night's hours show in the target's own light."""
    finest = f"detail down to {finest_text(row)}" if np.isfinite(row.finest.value) else "no detail"
    where = "in it" if asked.body == 1 else "in the target's mean light"
    return (f"of {asked.period.value:.3g}″ in {goal_text(asked.goal, asked.band)}, {per}; the night's hours show "
            f"{finest} {where}")


def width_text(choice: Combination) -> str:
    """Return a star's width as recorded, and that in a picture where filling in the colours of an array widens it."""
    recorded, picture = f"{choice.fwhm.value:.1f}″", f"{choice.picture_fwhm.value:.1f}″"
    wider = "" if picture == recorded else f"; {picture} in a picture with its colours filled in"
    return f"{recorded}, {choice.fwhm_pixels:.1f} pixels of {choice.image_scale.value:.2f}″{wider}"


def sharpest_text(asked: Combinations, row: SetUp) -> str:
    """Return what of sharpness counts for the ranking: a star's width, two stars apart, or the finest detail."""
    if asked.ranking == "sharpness":
        return f"{row.choice.picture_fwhm.value:.1f}″"
    return f"{two_stars(asked, row.choice).value:.1f}″" if asked.ranking == "stars" else finest_text(row)


def field_text(choice: Combination) -> str:
    """Return the lit field: ``1.68° × 1.12°``, or in arcmin where it is small."""
    width, height = choice.field.width.to_value(u.deg), choice.field.height.to_value(u.deg)
    if width < 1:
        return f"{width * 60:.0f}′ × {height * 60:.0f}′"
    return f"{width:.2f}° × {height:.2f}°"


def target_text(asked: Combinations, choice: Combination) -> str:
    """Return the share of the target in one frame, and the panels where it takes more."""
    framed = choice.framing
    if asked.target is None or asked.target.size_major is None:
        return ""
    share = percent(framed.share) if framed.share >= 0.095 else f"{100 * framed.share:.1f} %"
    return share if framed.panels == 1 else f"{share}, {framed.panels} panels"

"""Two set-ups side by side: each figure with the better one, both at once, and luminance and colour shared."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.reasons import percent
from planner.session.match.colour import COLOURS, LINES, Shared, are_two_rigs, picture_time, shared_picture
from planner.session.match.combinations import Combinations
from planner.session.match.goals import two_stars
from planner.session.match.set_ups import CLEARLY, SetUp
from planner.session.match.text import (
    binnings_text,
    causes_text,
    field_text,
    finest_text,
    reach_text,
    set_up_text,
    target_text,
    time_text,
    width_text,
)
from planner.signs import thousands


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a comparison."""

    label: str
    first: str
    second: str
    better: str  # in words; empty where neither is, or where better has no meaning


def side_by_side(asked: Combinations, first: SetUp, second: SetUp) -> tuple[Row, ...]:
    """Return two set-ups, line by line, with which one is better and by how much."""
    both, pair = (first, second), (first.choice, second.choice)

    def row(label: str, texts: Sequence[str], figures: Any = None) -> Row:
        return Row(label=label, first=texts[0], second=texts[1],
                   better="" if figures is None else _better(*(float(value) for value in figures)))

    per = "all panels" if asked.target is not None else "per square degree"
    times = {name: [getattr(one, name) for one in both] for name in ("surface_time", "detail_time", "star_time")}
    rows = [
        row("Rank", [f"{one.rank}" for one in both]),
        row("Focal length, ratio", [f"{c.train.focal_length.to_value(u.mm):.0f} mm, f/{c.train.focal_ratio:.1f}"
                                    for c in pair]),
        row("Pixel on the sky, binning", [f"{c.image_scale.value:.2f}″, {binnings_text(one)}"
                                          for c, one in zip(pair, both, strict=True)]),
        row("Field that is lit", [field_text(c) for c in pair], [1 / c.field_area.value for c in pair]),
        row("Star as recorded", [width_text(c) for c in pair], [c.fwhm.value for c in pair]),
        row("Width lost to the pixel", [percent(c.resolution_lost) for c in pair]),
        row(f"On the mount {asked.rig.mount.name}", [set_up_text(one) for one in both]),
        row(f"Faint surface, {per}", [time_text(time) for time in times["surface_time"]],
            [time.value for time in times["surface_time"]]),
        row(f"Fine detail, {per}", [time_text(time) for time in times["detail_time"]],
            [time.value for time in times["detail_time"]]),
        row("Finest detail in the night's hours", [finest_text(one) for one in both],
            [one.finest.value for one in both]),
        row(f"Faint stars, {per}", [time_text(time) for time in times["star_time"]],
            [time.value for time in times["star_time"]]),
        row("Depth in the night's hours", [reach_text(one) for one in both]),
        row("Raw data", [f"{one.data.value:.2g} GB an hour" for one in both], [one.data.value for one in both]),
        row("Limited by", [causes_text(asked, one) for one in both]),
    ]
    if asked.target is not None and asked.target.size_major is not None:
        rows.insert(4, row("Target in one frame", [target_text(asked, c) for c in pair],
                           [1 / max(c.framing.share, 1e-9) for c in pair]))
    if asked.ranking == "stars":
        rows.append(row("Brightest star that is not full", [f"{one.saturation.value:.1f} mag" for one in both]))
        apart = [two_stars(asked, c) for c in pair]
        rows.append(row("Two equal stars seen as two from", [f"{one.value:.1f}″" for one in apart],
                        [one.value for one in apart]))
    cores = [one.core for one in both if one.core is not None]
    if len(cores) == 2 and any(core.full for core in cores):
        rows.append(row(f"{cores[0].part.capitalize()} full after", [time_text(core.full_after) for core in cores]))
    if are_two_rigs(first, second):
        rows.append(row("Both at once, each on such a mount, faint surface",
                        [time_text(at_once(*times["surface_time"])), ""]))
        rows += _shared(shared_picture(asked, first, second), per)
    if {one.choice.camera.colour for one in both} == {"mono", "bayer"}:
        name, bands = ("OIII and Hα", LINES) if asked.band.narrow else ("Three colours", COLOURS)
        hours = [picture_time(asked, one, bands, ratio=asked.goal.ratio) for one in both]
        rows.append(row(f"{name}, each to the goal, {per}", [
            f"{time_text(time)}, {'at once' if one.choice.camera.colour == 'bayer' else 'one after another'}"
            for time, one in zip(hours, both, strict=True)], [time.value for time in hours]))
    return tuple(rows)


def _shared(found: Shared, per: str) -> list[Row]:
    """Return how two rigs share the parts of a picture."""
    one, other = found.parts

    def takes(shares: tuple[float, float]) -> str:
        return " and ".join(f"{'' if share > 0.995 else f'{percent(share)} of '}the {name}"
                            for name, share in zip(found.parts, shares, strict=True) if share > 0.005) or "nothing"

    texts = {
        f"Alone, {one} and {other}, {per}": [time_text(hours * u.h) for hours in found.alone],
        f"At once, each takes {one} and {other}": [time_text(at_once(*(hours * u.h for hours in found.alone))), ""],
        f"At once, {one} on this one alone, {other} on the other": [time_text(hours * u.h) for hours in found.crossed],
        f"At once, shared best: {time_text(found.hours * u.h)}": [
            takes(found.by_first), takes((1 - found.by_first[0], 1 - found.by_first[1]))]}
    return [Row(label=label, first=first, second=second, better="") for label, (first, second) in texts.items()]


def at_once(one: u.Quantity[u.h], other: u.Quantity[u.h]) -> u.Quantity[u.h]:
    """Return the time of two set-ups on one target: squared signal-to-noise ratios add, each grows with its time."""
    rates = [1 / time.to_value(u.h) for time in (one, other)]
    return (1 / sum(rates) if any(rates) else np.inf) * u.h


def _better(first: float, second: float) -> str:
    """Return which of two figures is better, less being better, and by how much."""
    if max(first, second) <= (1 + CLEARLY) * min(first, second):
        return "alike"
    if not np.isfinite(max(first, second)):
        return "first" if first < second else "second"
    ratio = max(first, second) / min(first, second)
    much = percent(ratio - 1) if ratio < 2 else thousands(f"{float(f'{ratio:.2g}'):,g} times")
    return f"{'first' if first < second else 'second'}, by {much}"

"""What speaks against a drift log: a guide loop, a turned camera, aliases, rates that no mount has, too little time.

Each doubt is one line, *seen: rule. Remedy.*; one that `blocks` keeps the log out of the equipment file until the
observer says that it is right.
"""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.fields import Key
from planner.measure.drift.camera_turn import LARGEST
from planner.measure.drift.corrections import jumps_back
from planner.measure.drift.held import held_odds
from planner.measure.drift.model import FASTER, AxisReport, DriftReport
from planner.measure.drift.report import FAR_S, seen_share
from planner.rig import Mount, PeriodicTerm, Site

# Odds of "held still by a loop" against an unguided mount: odds that high come by chance in one unguided axis of 100 at
# most.
GUIDED_ODDS = 100.0
# From these on an axis may have been held, and tells nothing of the mount: most of ten minutes with a slow loop reach
# one of them. What Dec tells is lost at next to no cost for the advice, what RA tells is not.
QUIET_ODDS, QUIET_JUMPS = {"RA": 12.0, "Dec": 1.5}, 4.75
HARMLESS, LEAST_WORM = 0.25, 0.1  # arcsec of a worm: what a loop hides of a small one matters less
JUMPS_BACK = 5.5  # standard errors: the most of one unguided log in hundreds, simulated
ANTICORRELATED = 4.5  # standard errors of the correlation of one row with the next
FEWEST_FOR_CORRELATION = 40
# arcsec/min: 2 % of the sidereal rate, about half of what the Moon needs; and an axis two degrees off the pole.
FASTEST_RA, FASTEST_DEC = 18.0, 31.0
SHORTEST_MIN = 5.0
# Terms that a drive may have, however fast its gears turn, in seconds; a log that shows less of a wave cannot tell.
SHORTEST_TERM_S, LEAST_SEEN = 5.0, 0.2
FASTEST_ROWS_S = 5.0  # rows further apart than this may take a gear for a slower wave
OTHER_PLACE = 1 * u.deg  # of latitude: further than anybody drives in an hour or rounds a figure
EVEN = 0.05  # scatter of the steps over the step, below which aliases are as good as the wave itself
KNOWN_PERIOD = 0.3  # of the logarithm: two standard deviations of a class's periods
MEASURED_SIGMA, LEAST_KNOWN = 5.0, 0.004  # standard errors of a period that was measured; of the logarithm


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """One thing that speaks against the log."""

    kind: Annotated[str, "what speaks against the log"]
    seen: str
    rule: str
    remedy: str
    blocks: Annotated[bool, "whether it keeps the log out of the equipment file", Key("blocks_saving")] = True
    axes: tuple[str, ...] = ()  # that tell nothing of the mount

    @property
    def sentence(self) -> Annotated[str, "the doubt in words"]:
        """The doubt in words."""
        return f"{self.seen[0].upper()}{self.seen[1:]}: {self.rule}. {self.remedy}"


def doubts_of(report: DriftReport, mount: Mount | None = None) -> tuple[Doubt, ...]:
    """Return what speaks against a log, for the mount that is said to have made it."""
    found = [_short(report), _fast(report), _guided(report, mount), *_aliases(report, mount), _swapped(report),
             _slow_air(report)]
    return tuple(doubt for doubt in found if doubt is not None)


def latitude_doubt(latitude: u.Quantity | None, site: Site) -> Doubt | None:
    """Say that a measurement's own latitude is not that of the site it is taken for."""
    if latitude is None or abs(latitude - site.latitude) < OTHER_PLACE:
        return None
    return Doubt(kind="latitude", seen=f"latitude {latitude.to_value(u.deg):.4g} deg, where the site "
                 f'"{site.name}" lies at {site.latitude.to_value(u.deg):.4g} deg',
                 rule="a measurement taken elsewhere says nothing of how this mount stands here",
                 remedy="Choose the right site, or correct the latitude.")


def _short(report: DriftReport) -> Doubt | None:
    minutes = report.duration.to_value(u.min)
    if minutes >= SHORTEST_MIN:
        return None
    return Doubt(kind="short", seen=f"the log spans {report.duration.to_value(u.s):.3g} s",
                 rule=f"a drive shows little in less than {SHORTEST_MIN:g} minutes",
                 remedy="Log for longer; if the times are minutes or hours, name the column time_min or time_h.")


def _fast(report: DriftReport) -> Doubt | None:
    for name, axis, limit in (("RA", report.ra, FASTEST_RA), ("Dec", report.dec, FASTEST_DEC)):
        rate = axis.rate.to_value(FASTER)
        if abs(rate) > limit + 3 * axis.rate_error.to_value(FASTER):
            return Doubt(kind="rate", seen=f"the star moves by {rate:+.3g}″ a minute in {name}",
                         rule=f"a mount that follows the sky stays below {limit:g}″ a minute",
                         remedy="Check that times are seconds and places arcsec, and that the drive was on.")
    return None


def _guided(report: DriftReport, mount: Mount | None) -> Doubt | None:
    """Name the axes that a loop held, each by itself or both together."""
    axes = {"RA": report.ra, "Dec": report.dec}
    odds = dict(zip(axes, held_odds(report, mount), strict=True))
    together = min(odds.values()) > 0 and sum(odds.values()) > np.log(GUIDED_ODDS)
    still = [name for name in axes if together or odds[name] > np.log(GUIDED_ODDS)]
    shaken = [name for name, axis in axes.items() if _neighbours(axis) < -ANTICORRELATED]
    jumps = {name: jumps_back(axis) for name, axis in axes.items()}
    pushed = [name for name in axes if jumps[name] > JUMPS_BACK]
    held = [name for name in axes if name in (*still, *shaken, *pushed)]
    if not held:
        needed = QUIET_ODDS | {"RA": QUIET_ODDS["RA"] * _room(mount)}
        return _quiet(report, {name: "strays no further than a slow loop lets it" if odds[name] > np.log(needed[name])
                               else "may jump back at regular times" for name in axes
                               if odds[name] > np.log(needed[name]) or jumps[name] > QUIET_JUMPS})
    if still:
        far = report.duration.to_value(u.min) * max(abs(axes[name].rate.to_value(FASTER)) for name in still)
        seen = (f"in {' and '.join(still)} the star ends within {max(far, 0.01):.2g}″ of where it began in "
                f"{report.duration.to_value(u.min):.0f} min")
    elif shaken:
        seen = f"in {' and '.join(shaken)} each row takes back what the one before it was off"
    else:
        seen = f"in {' and '.join(pushed)} the star jumps back at regular times"
    return Doubt(kind="guided", seen=seen, rule=f"that is a log of a star guided in {' and '.join(held)}, which tells "
                 "of the loop and not of the mount", remedy="Log again with all corrections switched off.")


def _quiet(report: DriftReport, seen: dict[str, str]) -> Doubt | None:
    """Say of axes what makes it likely that a loop held them."""
    if not seen:
        return None
    minutes = report.duration.to_value(u.min)
    words = " and ".join(f"in {name} the star {what}" for name, what in seen.items())
    return Doubt(kind="quiet", axes=tuple(seen), seen=f"{words} in these {minutes:.0f} min",
                 rule=f"was this logged while guiding? It may be, so what {' and '.join(seen)} tells is left out",
                 remedy=f"Log for {max(3 * minutes, 30):.0f} min without corrections.", blocks=False)


def _room(mount: Mount | None) -> float:
    """Return how much higher than usual the odds have to be, for a mount whose worm does little harm."""
    if mount is None:
        return 1.0
    worm = max((term.amplitude.to_value(u.arcsec) for term in mount.periodic), default=0.0)
    return 1 + HARMLESS / max(float(worm), LEAST_WORM)


def _neighbours(axis: AxisReport) -> float:
    """Return the correlation of each row with the next in its standard errors; 0 for a short log."""
    left, count = axis.residual_arcsec - axis.residual_arcsec.mean(), axis.residual_arcsec.size
    if count < FEWEST_FOR_CORRELATION:
        return 0.0
    return float(np.sqrt(count) * np.sum(left[1:] * left[:-1]) / max(np.sum(left**2), 1e-12))


def _aliases(report: DriftReport, mount: Mount | None) -> list[Doubt]:
    """Return the terms that may be faster ones, seen once a row; not those that the mount is known to have."""
    steps = np.diff(report.ra.time_s)
    step = float(np.median(steps))
    usual = steps[steps < 1.5 * step]
    if step < FASTEST_ROWS_S or float(np.std(usual)) > EVEN * step:
        return []
    known = [] if mount is None else [(term.period.to_value(u.s), _known_within(term)) for term in mount.periodic]
    found = []
    for term in report.ra.periodic:
        period = term.period.to_value(u.s)
        others = _faster(period, step, report.row_exposure_s)
        if others and not any(abs(np.log(period / one)) < within for one, within in known):
            words = " or ".join(f"{one:.1f} s" for one in others)
            found.append(Doubt(kind="alias", seen=f"the term of {period:.1f} s in rows {step:.3g} s apart",
                               rule=f"a term of {words} would look the same",
                               remedy="Log again with rows half as far apart, or state the period of the worm."))
    return found


def _known_within(term: PeriodicTerm) -> float:
    """Return how far, of the logarithm, a term may lie from one of the table and still be that one."""
    relative = term.relative_error("period")
    return KNOWN_PERIOD if relative is None else max(MEASURED_SIGMA * relative, LEAST_KNOWN)


def _faster(period_s: float, step_s: float, exposure_s: float) -> list[float]:
    """Return the periods that even rows cannot tell from one, the slowest first."""
    others = [1 / abs(k / step_s + sign / period_s) for k in (1, 2) for sign in (-1, 1)]
    return sorted((one for one in others if one >= SHORTEST_TERM_S and seen_share(one, exposure_s) > LEAST_SEEN),
                  reverse=True)


def _slow_air(report: DriftReport) -> Doubt | None:
    """Say that the star wanders fast but not far: what comes back is no walk."""
    if report.far_wander is None:
        return None
    return Doubt(kind="slow air", seen=f"in {FAR_S:g} s the star wanders by less than its seconds promise",
                 rule="a walk does not come back: slow air counts as none, at most "
                 f"{report.far_wander.value:.2f}″ in a minute are left, and terms of less than two minutes stay as "
                 "they were", remedy="Log where the air is quieter, or for longer.", blocks=False)


def _swapped(report: DriftReport) -> Doubt | None:
    """Doubt the columns where a term in Dec is too strong for a camera that can be turned back."""
    largest = [max((term.amplitude.to_value(u.arcsec) for term in axis.periodic), default=0.0)
               for axis in (report.ra, report.dec)]
    if largest[1] <= max(np.tan(LARGEST) * largest[0], 0.3):
        return None
    return Doubt(kind="swapped", seen=f"a periodic term of {largest[1]:.2g}″ is in Dec, of {largest[0]:.2g}″ in RA",
                 rule="only the RA drive turns", remedy="Check which column is which, and the angle of the camera.")

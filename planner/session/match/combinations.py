"""The question: what the observer owns, for one target and goal, in the hours of one night."""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated

from astropy import units as u

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.exposure.depth import Goal, goal_for
from planner.fields import Key, Spread
from planner.rig import Equipment, Filter, Reducer, Rig, Site, Telescope
from planner.session.advice.answer import LOWEST_ALTITUDE, Hours, hours_around_transit, hours_within, night_for
from planner.session.advice.guide_star import NearbyStars
from planner.session.match.ranking import RANKINGS, usual_ranking
from planner.session.projects.framing import OVERLAP, OVERLAP_RULE
from planner.sky import mean_surface_brightness
from planner.visibility import target_window
from planner.visibility.moving_targets import placed
from planner.visibility.target import Target

BINNINGS = (1, 2, 3)
BINNING_RULE = Rule(kind="whole", at_least=1, at_most=8, remedy="Give 1, 2, 3 or 4.")
HYDROGEN = 656.3 * u.nm
FINE_PERIOD = 6 * u.arcsec
PERIOD_RULE = Rule(unit=u.arcsec, kind="quantity", at_least=0.05, at_most=3600, remedy='Write it like "4 arcsec".')
STAR_RULE = Rule(unit=u.mag, kind="quantity", at_least=-2, at_most=35, remedy='Write it like "18 mag".')
APART_RULE = Rule(unit=u.arcsec, kind="quantity", at_least=0.1, at_most=3600, remedy='Write it like "4 arcsec".')
StarsAround = Callable[[Target, Rig], NearbyStars | None]


@dataclass(frozen=True, kw_only=True)
class Combinations:
    """What is weighed, for what."""

    equipment: Equipment
    target: Target | None
    rig: Rig  # gives mount, guider, filters and tolerances
    site: Annotated[Site, "its name"]
    band: Annotated[Filter, "its name", Key("filter")]
    goal: Annotated[Goal, Spread("goal.")]
    body: float  # how many times the goal's brightness the target's own is, 1 or more
    declination: u.Quantity[u.deg]
    hours: Hours
    ranking: Annotated[str, "the figure, as --rank names it", Key("ranked_on.name")]
    binnings: tuple[int, ...]
    overlap: Annotated[float, "share of a panel's side that its neighbour repeats", Key("overlap_fraction")]
    period: Annotated[u.Quantity[u.arcsec], "of the detail wanted, from bright to bright"]
    named: bool  # the observer names the period; of the usual one what is a little finer or coarser does as well
    drizzled: Annotated[bool, "whether dithered frames are put on a finer grid"]
    any_circle: bool  # the whole sensor counts, though the optics light less of it
    any_load: bool  # a load beyond the mount's rating is no reason to stand behind
    stars_around: StarsAround | None
    star: Annotated[u.Quantity[u.mag] | None, "whose time counts for stars; null: as bright as the goal's area",
                    Key("goal.star_mag")] = None
    apart: Annotated[u.Quantity[u.arcsec] | None, "distance of its neighbour, as bright; null: alone",
                     Key("goal.apart_arcsec")] = None
    core: u.Quantity | None = None  # mag/arcsec2 or R of the brightest part; None: the target's mean light


def weigh_combinations(
    equipment: Equipment, rig: Rig, site: Site, band: Filter, *, target: Target | None = None,
    goal: Goal | None = None, ranking: str | None = None, binnings: Sequence[int] = BINNINGS, overlap: float = OVERLAP,
    lowest_altitude: u.Quantity[u.deg] = LOWEST_ALTITUDE, date: datetime.date | None = None,
    stars_around: StarsAround | None = None, period: u.Quantity[u.arcsec] | None = None, drizzled: bool = False,
    any_circle: bool = False, any_load: bool = False, star: u.Quantity[u.mag] | None = None,
    apart: u.Quantity[u.arcsec] | None = None, core: u.Quantity | None = None,
) -> Combinations:
    """Return what is to be weighed, for a target or for any field that passes overhead.

    Parameters
    ----------
    equipment : Equipment
        Its telescopes, reducers and cameras are combined.
    rig : Rig
        Its mount, guider and tolerances are used.
    site : Site
        Its seeing counts: replace it for another night's.
    target : Target, optional
        Without it, a field that culminates at the zenith; then figures are per square degree.
    goal : Goal, optional
        What it leaves open is the usual goal of the filter.
    ranking : str, optional
        A key of `RANKINGS`; `usual_ranking` if absent.
    binnings : sequence of int
        Pixels per side added into one, 1 to 8.
    overlap : float
        Share of a mosaic panel's side that its neighbour repeats.
    lowest_altitude : Quantity [deg], scalar
        Apparent, below which nothing is taken.
    date : datetime.date, optional
        Local date of the evening; without it, or a target, the hours within 3 h of transit count, and no Moon.
    stars_around : callable (target, rig), optional
        The catalogue stars that a rig reaches; without it a guide star is taken as to be expected.
    period : Quantity [arcsec], scalar, optional
        Of the detail wanted; 6 arcsec, or a thousandth of the target's length where that is more.
    drizzled : bool
        As in `planner.optics.contrast`.
    any_circle : bool
        Whether the whole sensor counts where the optics light less of it.
    any_load : bool
        Whether a load beyond the mount's rating ranks no set-up lower.
    star : Quantity [mag], scalar, optional
        Faintest star wanted, Vega magnitude at the filter's wavelength; as bright as the goal's area if absent.
    apart : Quantity [arcsec], scalar, optional
        Distance of a neighbour as bright.
    core : Quantity [mag/arcsec2] or [R], scalar, optional
        Brightest part of the target.

    Raises
    ------
    InvalidInputError
        If there is no telescope or camera, or a value breaks its rule.
    """
    ranking = usual_ranking(target) if ranking is None else ranking
    if ranking not in RANKINGS:
        raise InvalidInputError("rank", ranking, f"must be one of {', '.join(RANKINGS)}",
                                "Leave it out for the usual one.")
    for kind, items in (("telescope", equipment.telescopes), ("camera", equipment.cameras)):
        if not items:
            raise InvalidInputError(kind, "none", "must be in the equipment file", f"Add a [[{kind}]] table.")
    check("overlap", overlap, OVERLAP_RULE)
    if target is not None and target.orbit is not None:
        if date is None:
            raise InvalidInputError("target", target.name, "moves against the stars", "Give the night.")
        target = placed(target, site, date)
    return Combinations(
        equipment=equipment, target=target, rig=rig, site=site, band=band, goal=goal_for(band, goal),
        body=body_over_goal(target, band) if goal is None or (goal.brightness is None and goal.line is None) else 1.0,
        declination=site.latitude if target is None else target.dec, ranking=ranking, overlap=overlap,
        hours=_hours(target, rig, site, band, date, lowest_altitude), stars_around=stars_around,
        period=usual_period(target) if period is None else check("period", period, PERIOD_RULE), drizzled=drizzled,
        named=period is not None,
        any_circle=any_circle, any_load=any_load, core=core,
        star=None if star is None else check("star", star, STAR_RULE),
        apart=None if apart is None else check("apart", apart, APART_RULE),
        binnings=tuple(sorted({check("binning", size, BINNING_RULE) for size in binnings})))


def body_over_goal(target: Target | None, band: Filter) -> float:
    """Return the mean brightness of a target over that of the filter's usual goal; 1 where it is unknown or fainter."""
    goal = goal_for(band)
    if target is None:
        return 1.0
    if goal.line is not None:
        line = target.line_brightness if band.passes(HYDROGEN) else None
        return 1.0 if line is None else max(1.0, float((line / goal.line).to_value(u.one)))
    own = target.surface_brightness
    if own is None and target.magnitude is not None and target.size_major is not None:
        minor = target.size_major if target.size_minor is None else target.size_minor
        own = mean_surface_brightness(target.magnitude, size_major=target.size_major, size_minor=minor)
    if own is None or goal.brightness is None:
        return 1.0
    return max(1.0, float(10 ** (0.4 * (goal.brightness - own).value)))


def usual_period(target: Target | None) -> u.Quantity[u.arcsec]:
    """Return the period of detail that is wanted unless the observer says otherwise.

    About two widths of a star; of a large target a thousandth of its length: a picture of it as a whole, two thousand
    pixels long, shows nothing finer (common practice, no source).
    """
    if target is None or target.size_major is None:
        return FINE_PERIOD
    return max(FINE_PERIOD, (target.size_major / 1000).to(u.arcsec))


def _hours(target: Target | None, rig: Rig, site: Site, band: Filter, date: datetime.date | None,
           lowest: u.Quantity[u.deg]) -> Hours:
    if target is None or date is None:
        declination = site.latitude if target is None else target.dec
        return Hours(hour_angle=hours_around_transit(declination, site, lowest), skylight={})
    dark = night_for(band, site, date)
    window = target_window(target, site, dark, minimum_altitude=lowest, mount=rig.mount)
    return hours_within(window, target, site, lowest)


def optical_trains(equipment: Equipment) -> list[tuple[Telescope, Reducer | None, Telescope]]:
    """Return every telescope alone and behind each reducer that fits it: (telescope, reducer, as it works)."""
    return [(telescope, reducer, telescope if reducer is None else reducer.behind(telescope))
            for telescope in equipment.telescopes
            for reducer in (None, *(item for item in equipment.reducers if item.fits(telescope)))]

"""Which periodic terms the fit has, and at which periods: those of the mount's table, and what a log shows beyond them.

The turn of one wheel and its harmonics stretch together: a class knows their ratios far better than the period.
"""

import numpy as np
from astropy import units as u

from planner.measure.drift.doubts import Doubt
from planner.measure.drift.fit.harmonics import MeasuredTerm
from planner.measure.drift.model import DriftReport
from planner.measure.posterior.fit import Waves
from planner.measure.posterior.prior import MountPrior, Size, TermPrior

SAME_PERIOD = 3.2  # spreads within which a term of the log may be one of the table
SAME_PERIOD_SHARE = 0.02  # of the period, within which it is, once the stretch is known
MATCH_GAIN = 4.0  # logarithm of the odds that a term of the log at a harmonic's period is that harmonic
RESOLVED = 1.5  # turns over the log by which two terms differ that are told apart
CYCLES_OF_KNOWN, CYCLES_OF_NEW = 4.0, 3.0  # in the log: to fix the period of a term, to believe in a new one
# Of the longest term's amplitude, by order: harmonics that a worm may have beside those of its table (common practice,
# no source). They are fitted so that they do not pass for wander, and not told.
SAME_ORDER = 0.15  # of a harmonic's period
UNTOLD = {2: 0.2, 3: 0.1, 4: 0.05}
CERTAIN = 5.0  # errors by which the amplitude of a new term stands out


def chosen_waves(prior: MountPrior, report: DriftReport, doubts: tuple[Doubt, ...], worm_period: u.Quantity | None,
                 to_equator: float) -> tuple[Waves, list[Size], int]:
    """Return the terms of the fit, those of the table first, and how many new ones come next."""
    length = report.duration.to_value(u.s)
    base = max((term.period.median for term in prior.terms), default=0.0)
    family = [_turns_with(term.period.median, base) for term in prior.terms]
    worms = tuple(term for term, own in zip(prior.terms, family, strict=True) if own)
    known = worm_period is not None and base > 0
    shown = [term for term in report.ra.periodic
             if not any(one.kind == "alias" and f"{term.period.to_value(u.s):.1f} s" in one.seen for one in doubts)]
    shift = float(np.log(worm_period.to_value(u.s) / base)) if known and worm_period is not None else _shift(
        worms, shown)
    matches = _matches(prior.terms, family, shown, shift)
    sure = [one is not None and one.period.to_value(u.s) * CYCLES_OF_KNOWN < length for one in matches]
    held = [one for one, own in zip(matches, family, strict=True) if own and one is not None]
    free = not known and not any(own and certain for own, certain in zip(family, sure, strict=True))
    # A term that the log shows holds the family: one beside it is then a wheel of its own, not a reason to stretch.
    loose = free and not held
    usual = [term.period.median * np.exp(shift) if own or one is None else one.period.to_value(u.s)
             for term, one, own in zip(prior.terms, matches, family, strict=True)]
    new = [term for term in shown if all(term is not one for one in matches) and _is_new(term, length)
           and not any(_near(term, period, SAME_PERIOD * one.period.spread if loose and own else 0.0, length)
                       for one, period, own in zip(prior.terms, usual, family, strict=True))]
    sizes = [Size(median=to_equator * term.amplitude.median, spread=term.amplitude.spread) for term in prior.terms]
    sizes += [Size(median=term.amplitude.to_value(u.arcsec), spread=1.0) for term in new]
    longest = int(np.argmax([term.period.median for term in prior.terms])) if prior.terms else 0
    worm = matches[longest] if (free or known) and matches else None
    others = [term for term in shown if all(term is not one for one in (*matches, *new))]
    start, spread = 0.0 if free else shift, max((term.period.spread for term in prior.terms if free), default=0.0)
    orders: dict[int, MeasuredTerm] = {}
    if worm is not None:
        orders = _orders(worm, others)
        if orders and free:  # a worm and its harmonic hold the family, however few their turns
            start, spread = _held(worm, orders, base)
    turning = [order for order, one in orders.items() if one.amplitude > CERTAIN * one.amplitude_error]
    periods = [one.period.to_value(u.s) if one is not None and certain else term.period.median * np.exp(start)
               for term, one, certain in zip(prior.terms, matches, sure, strict=True)]
    periods += [term.period.to_value(u.s) for term in new]
    periods += [periods[longest] / order for order in turning]
    sizes += [Size(median=orders[order].amplitude.to_value(u.arcsec), spread=1.0) for order in turning]
    untold = [(periods[longest] / order, share * sizes[longest].median) for order, share in UNTOLD.items()
              if all(abs(order * one / periods[longest] - 1) > SAME_ORDER for one in periods)] if prior.terms else []
    # Shown, but in too few turns to be told: no wander either.
    unsure = [(one.period.to_value(u.s), one.amplitude.to_value(u.arcsec)) for one in others
              if all(one is not other for other in orders.values())
              and not any(_near(one, period, SAME_PERIOD * term.period.spread if loose and own else 0.0, length)
                          for term, period, own in zip(prior.terms, usual, family, strict=True))
              and all(abs(period / one.period.to_value(u.s) - 1) > SAME_ORDER for period, _ in untold)]
    periods += [period for period, _ in (*untold, *unsure)]
    sizes += [Size(median=size, spread=1.0) for _, size in (*untold, *unsure)]
    # A term that the log does not show turns with those that it shows: as sure as the surest of them, gears apart.
    relative = min((_relative(one) for one, certain, own in zip(matches, sure, family, strict=True)
                    if one is not None and certain and own), default=0.0)
    errors = [one.period_error.to_value(u.s) if one is not None and certain else 0.0 if known else relative * period
              for one, certain, period in zip(matches, sure, periods, strict=False)]
    errors += [term.period_error.to_value(u.s) for term in new] + [0.0] * len(turning + untold + unsure)
    waves = Waves(
        period_s=np.array(periods), period_error_s=np.array(errors), spread=spread,
        amplitude=np.array([size.median for size in sizes]),
        stretches=np.array([free and own for own in family] + [False] * len(new) + [free] * len(turning + untold)
                           + [False] * len(unsure), dtype=bool),
        own_spread=np.array([term.period.spread if free and not own and not certain else 0.0
                             for term, own, certain in zip(prior.terms, family, sure, strict=True)]
                            + [0.0] * (len(periods) - len(prior.terms))))
    return waves, sizes, len(new) + len(turning)


def _orders(worm: MeasuredTerm, others: list[MeasuredTerm]) -> dict[int, MeasuredTerm]:
    """Return by order the terms of the log that are harmonics of the one that stands for the worm."""
    found: dict[int, MeasuredTerm] = {}
    for one in others:
        within = min(2 * float(np.hypot(_relative(one), _relative(worm))), SAME_ORDER)
        for order in UNTOLD:
            if abs(order * float((one.period / worm.period).to_value(u.one)) - 1) < within:
                found.setdefault(order, one)
    return found


def _relative(term: MeasuredTerm) -> float:
    return float((term.period_error / term.period).to_value(u.one))


def _held(worm: MeasuredTerm, orders: dict[int, MeasuredTerm], base: float) -> tuple[float, float]:
    """Return logarithm of the stretch that a worm and its harmonics show, and its error."""
    terms = {1: worm, **orders}
    logs = np.log([order * one.period.to_value(u.s) / base for order, one in terms.items()])
    weights = np.array([_relative(one) ** -2 for one in terms.values()])
    return float(np.average(logs, weights=weights)), float(weights.sum() ** -0.5)


def _shift(terms: tuple[TermPrior, ...], shown: list[MeasuredTerm]) -> float:
    """Return the common logarithm of the stretch at which most terms of the table are shown; 0 if none is."""
    best, top = 0.0, 0.0
    for term in terms:
        for one in shown:
            shift = float(np.log(one.period.to_value(u.s) / term.period.median))
            score = -0.5 * (shift / term.period.spread) ** 2 + sum(_like(each, _match(each, shown, shift))
                                                                  for each in terms)
            if abs(shift) < SAME_PERIOD * term.period.spread and score > top:
                best, top = shift, score
    return best


def _like(term: TermPrior, shown: MeasuredTerm | None) -> float:
    """Return how well a term of the log stands for one of the table, 0 for none."""
    if shown is None:
        return 0.0
    off = np.log(shown.amplitude.to_value(u.arcsec) / term.amplitude.median) / term.amplitude.spread
    return MATCH_GAIN - 0.5 * min(off**2, 2 * MATCH_GAIN)


def _turns_with(period_s: float, base_s: float) -> bool:
    """Return whether a term is the worm's or a low harmonic of it; a gear's ratio to its worm is anybody's."""
    order = round(base_s / period_s)
    return bool(order <= max(UNTOLD) and abs(order * period_s / base_s - 1) < SAME_PERIOD_SHARE)


def _matches(terms: tuple[TermPrior, ...], family: list[bool], shown: list[MeasuredTerm], shift: float
             ) -> list[MeasuredTerm | None]:
    """Return which term of the log each of the table is: at the family's stretch, of gears else the likeliest left."""
    found = [_match(term, shown, shift) for term in terms]
    for place, (term, own) in enumerate(zip(terms, family, strict=True)):
        if not own and found[place] is None:
            left = [one for one in shown if all(one is not other for other in found) and _off(term, one) < SAME_PERIOD]
            likely = [_like(term, one) - 0.5 * _off(term, one) ** 2 for one in left]
            found[place] = left[int(np.argmax(likely))] if left else None
    return found


def _off(term: TermPrior, shown: MeasuredTerm) -> float:
    """Return by how many spreads of its period a term of the log differs from one of the table."""
    return float(abs(np.log(shown.period.to_value(u.s) / term.period.median)) / term.period.spread)


def _match(term: TermPrior, shown: list[MeasuredTerm], shift: float) -> MeasuredTerm | None:
    """Return the largest term of the log at the period of one of the table."""
    def near(one: MeasuredTerm) -> bool:
        within = max(SAME_PERIOD_SHARE, 2 * _relative(one))
        return bool(abs(np.log(one.period.to_value(u.s) / term.period.median) - shift) < within)

    return max((one for one in shown if near(one)), key=lambda one: float(one.amplitude.value), default=None)


def _near(shown: MeasuredTerm, usual_s: float, reach: float, length_s: float) -> bool:
    """Return whether a log of this length cannot tell a term from one of the table, which may stretch so far."""
    period = shown.period.to_value(u.s)
    return bool(abs(np.log(period / usual_s)) < reach or abs(1 / period - 1 / usual_s) * length_s < RESOLVED)


def _is_new(term: MeasuredTerm, length_s: float) -> bool:
    return bool(CYCLES_OF_NEW * term.period.to_value(u.s) < length_s
                and term.amplitude > CERTAIN * term.amplitude_error)

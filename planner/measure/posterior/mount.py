"""The mount's table once a log has spoken: each figure measured, updated or left, with its standard error."""

from dataclasses import dataclass, field, replace
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.drift.doubts import Doubt
from planner.measure.drift.model import DriftReport
from planner.measure.error_text import as_written, rounded, with_error
from planner.measure.posterior.contradiction import STANDS, disagreement, giving_way
from planner.measure.posterior.data import KEYS, LogData, data_of
from planner.measure.posterior.fit import Posterior, Waves, posterior_of
from planner.measure.posterior.periods import chosen_waves
from planner.measure.posterior.prior import MountPrior, Size, prior_of
from planner.rig import Mount, PeriodicTerm
from planner.rig.mount import figure_name
from planner.tracking.drive import encoder_step, step_rms

# A figure whose error the log brought below this share of what it was is measured; above the second it is left.
MEASURED, LEFT = 0.4, 0.9
HIGHEST_DECLINATION = 85 * u.deg  # nearer to the pole the RA axis hardly moves the star
LONGEST_EXPOSURE = 2.5 * u.s  # rows longer than this have averaged the jitter away
NOISE_KNOWN, NOISES = 0.25, 101  # relative error of what the air and the star's image add; trial factors
JITTERS = 121
SLOW_AIR = 0.6  # of the logarithm of a wander: what of slow air lasts for minutes (25 simulated logs)
FIGURES = {"rate_error_ppm": "rate", "polar_altitude_error": "altitude", "polar_azimuth_error": "azimuth",
           "flexure_ra": "flexure_ra", "flexure_dec": "flexure_dec"}
UNITS = {"rate_error_ppm": u.one, "polar_altitude_error": u.arcmin, "polar_azimuth_error": u.arcmin,
         "flexure_ra": u.arcsec / u.h, "flexure_dec": u.arcsec / u.h, "jitter": u.arcsec,
         "wander": u.arcsec / u.min**0.5}


@dataclass(frozen=True, kw_only=True)
class FigureChange:
    """One key of the mount's table, as text, before and after the measurement."""

    key: Annotated[str, "of the mount's table"]
    before: Annotated[str, "its value before"]
    after: Annotated[str, "its value as measured"]
    state: Annotated[str, "measured, updated or left"]


@dataclass(frozen=True, kw_only=True)
class MeasuredMount:
    """The mount's table with what a log says of it."""

    mount: Mount
    figures: tuple[FigureChange, ...]
    notes: tuple[str, ...]
    values: dict[str, Any] = field(default_factory=dict)  # as they are written, with errors; what was left is not there


def measured_mount(
    mount: Mount, report: DriftReport, air: dict[str, u.Quantity], *, doubts: tuple[Doubt, ...] = (),
    centroid_noise: u.Quantity = 0 * u.arcsec, noise_known: float = NOISE_KNOWN, keep_axis: bool = False,
    worm_period: u.Quantity | None = None,
) -> MeasuredMount:
    """Return the mount with what a drift log says of it.

    Parameters
    ----------
    mount : Mount
        As the equipment file has it: its class, or figures with or without errors, is what is known beforehand.
    report : DriftReport
        Of a log that knows its declination at least.
    air : dict
        Pressure and temperature, for refraction.
    doubts : tuple of Doubt
        Terms that may be aliases stay out.
    centroid_noise : Quantity [arcsec], scalar
        How well one row of the log places the star, rms per axis, air included.
    noise_known : float
        Relative standard error of that.
    keep_axis : bool
        The polar axis was measured by itself: declination drift that it leaves is flexure.
    worm_period : Quantity [s], scalar, optional
        Known beforehand; the others of the table keep their ratio to the longest one.

    Raises
    ------
    InvalidInputError
        If the log does not give a declination, or one too near to the pole to tell of the RA drive.
    """
    declination = _usable_declination(report)
    prior, left_out = prior_of(mount, keep_axis=keep_axis), {axis for doubt in doubts for axis in doubt.axes}
    told = "RA" not in left_out, "Dec" not in left_out
    if not told[0]:
        prior, report = replace(prior, terms=()), replace(report, ra=replace(report.ra, periodic=()))
    start = replace(mount, rate_error_ppm=prior.rate.mean)
    shortest = min([term.period.median for term in prior.terms]
                   + [term.period.to_value(u.s) for term in report.ra.periodic] + [60.0])
    data = data_of(report, start, declination, air, shortest, told)
    table_says, prior = prior, giving_way(prior, report, data, keep_axis=keep_axis)
    waves, amplitudes, new = chosen_waves(prior, report, doubts, worm_period, data.to_equator)
    white = (report.jitter.to_value(u.arcsec) / data.rows**0.5 if report.far_wander is None
             else float(np.std(data.dec if told[1] else data.ra)) / 2**0.5)
    found = posterior_of(data, prior, waves, amplitudes, max(white, 5e-3), report.wander.value)
    table = _Table(mount)
    _linear(table, prior, data, found, keep_axis)
    _noises(table, prior, report, found, (centroid_noise, noise_known), data.to_equator)
    if told[0]:
        _periodic(table, prior, data, found, waves, new)
    else:
        table.terms([], "left")
    against = disagreement(table_says, found) if data.placed else ()
    notes = _notes(report, data, table, [key for key, name in FIGURES.items() if name in against])
    return MeasuredMount(mount=table.mount(), figures=tuple(table.figures), notes=notes, values=table.values)


def _usable_declination(report: DriftReport) -> u.Quantity:
    declination = report.log.declination
    if declination is None:
        raise InvalidInputError("dec_deg", "(missing)", "is needed to turn the log into the mount's errors",
                                "Write # dec_deg: 12.3 at the top of the log, or give --dec.")
    if abs(declination) > HIGHEST_DECLINATION:
        raise InvalidInputError("dec_deg", f"{declination.to_value(u.deg):g}",
                                "is too near to the pole to measure the RA drive", "Take a star below 85 deg.")
    return declination


class _Table:
    """The mount's table while it is filled."""

    def __init__(self, before: Mount) -> None:
        self.before = before
        self.values: dict[str, Any] = {}
        self.figures: list[FigureChange] = []
        self._new: dict[str, Any] = {}
        self._errors = dict(before.errors)

    def figure(self, key: str, value: float, error: float, known: float) -> None:
        """Enter one figure; `known` is the standard deviation that it had before."""
        unit, old = UNITS[key], getattr(self.before, key)
        state, before = _state(error, known), _shown(old, self.before.errors.get(key))
        if state == "left":
            self.figures.append(FigureChange(key=key, before=before, after=before, state=state))
            return
        size = rounded(value, error)
        text = as_written(size, error, unit_name(unit))
        self.values[key] = text
        self._new[key] = size if unit == u.one else size * unit
        self._errors[key] = float(f"{error:.2g}") * (1.0 if unit == u.one else unit)
        self.figures.append(FigureChange(key=key, before=before, after=text, state=state))

    def terms(self, terms: list[PeriodicTerm], state: str) -> None:
        """Enter the periodic terms."""
        before = _terms_text(self.before.periodic)
        if state == "left":
            self.figures.append(FigureChange(key="periodic", before=before, after=before, state=state))
            return
        self.values["periodic"] = [_written(term) for term in terms]
        self._new["periodic"] = tuple(terms)
        self.figures.append(FigureChange(key="periodic", before=before, after=_terms_text(terms), state=state))

    def on_the_pier(self) -> None:
        """Enter that the jitter holds the sway of the pier on which it was logged."""
        self.values["jitter_holds_sway"] = self._new["jitter_holds_sway"] = True

    def mount(self) -> Mount:
        """Return the mount with what was entered."""
        return replace(self.before, **self._new, errors=self._errors)

    def state(self, key: str) -> str:
        """Return what became of a key."""
        return next((figure.state for figure in self.figures if figure.key == key), "left")


def _shown(value: Any, error: Any = None) -> str:
    if value is None:
        return "not given"
    size = u.Quantity(value)
    spread = 0.0 if error is None else float(u.Quantity(error).to_value(size.unit))
    return as_written(float(size.value), spread, unit_name(size.unit))


def unit_name(unit: u.UnitBase) -> str:
    """Return a unit as the equipment file has it."""
    return str(unit).replace(" ", "")


def _state(error: float, known: float) -> str:
    return "measured" if error < MEASURED * known else "updated" if error < LEFT * known else "left"


def _size_state(size: float, error: float, before: Size) -> str:
    """Return what became of a size: a log may find next to nothing where much was thought to be, or more."""
    state = _state(error, before.spread * max(size, before.median))
    return "updated" if state == "left" and abs(np.log(size / before.median)) > before.spread else state


def _written(term: PeriodicTerm) -> dict[str, str]:
    """Return a term as it stands in the file."""
    found = {}
    for key, unit in (("period", "s"), ("amplitude", "arcsec")):
        error = float(u.Quantity(term.errors.get(key, 0)).value)
        found[key] = as_written(float(getattr(term, key).value), error, unit)
    return found


def _terms_text(terms: Any) -> str:
    def size(term: PeriodicTerm) -> str:
        error = term.errors.get("amplitude")
        spread = 0.0 if error is None else float(u.Quantity(error).to_value(u.arcsec))
        return with_error(float(term.amplitude.to_value(u.arcsec)), spread)

    return ", ".join(f"{term.period.to_value(u.s):.4g} s: {size(term)} arcsec" for term in terms) or "none"


def _linear(table: _Table, prior: MountPrior, data: LogData, found: Posterior, keep_axis: bool) -> None:
    """Enter drive rate, polar axis and, where the axis is known, flexure."""
    errors = np.sqrt(np.diag(found.covariance))
    for key, name in FIGURES.items():
        place, known = KEYS.index(name), getattr(prior, name)
        if (name.startswith("flexure") and not keep_axis) or (keep_axis and name in ("altitude", "azimuth")):
            continue
        error = errors[place] if data.placed or name == "rate" else known.sigma
        table.figure(key, known.mean + found.mean[place], float(error), known.sigma)


def _noises(table: _Table, prior: MountPrior, report: DriftReport, found: Posterior,
            noise: tuple[u.Quantity, float], to_equator: float) -> None:
    """Enter wander and jitter."""
    wander, before = found.wander, prior.wander
    spread, usual = (wander.spread, wander.median) if report.far_wander is None else (
        np.hypot(wander.spread, SLOW_AIR), max(wander.median, before.median))
    table.figure("wander", wander.median, wander.median * spread, usual * before.spread)
    if _exposure(report) > LONGEST_EXPOSURE:
        table.figure("jitter", prior.jitter.median, prior.jitter.spread, prior.jitter.spread)
        return
    jitter = _jitter(table.before, report, prior.jitter, noise, to_equator)
    table.figure("jitter", jitter.median, jitter.median * jitter.spread, jitter.median * prior.jitter.spread)
    if table.state("jitter") != "left":
        table.on_the_pier()


def _exposure(report: DriftReport) -> u.Quantity[u.s]:
    """Return over how long a row averages."""
    return report.step if report.log.exposure is None else report.log.exposure


def _jitter(mount: Mount, report: DriftReport, prior: Size, noise: tuple[u.Quantity, float],
            to_equator: float) -> Size:
    """Return the white noise less what the star's image, the air and the encoder's steps add, as far as it is known."""
    steps = 0.0 if mount.encoder_counts is None else step_rms(encoder_step(mount.encoder_counts)).to_value(u.arcsec)
    coder = (steps * to_equator) ** 2 / 2  # RA alone has them
    error = np.hypot(report.ra.jitter_error, report.dec.jitter_error).to_value(u.arcsec) / 2
    off = np.linspace(-2.5, 2.5, NOISES)
    rest = report.jitter.to_value(u.arcsec) ** 2 - coder - (noise[0].to_value(u.arcsec) * np.exp(noise[1] * off)) ** 2
    if rest.max() < 0:  # the rows scatter less than they are said to err: that says nothing of the mount
        return prior
    spread = max(2 * report.jitter.to_value(u.arcsec) * error, 1e-6)  # of the squared noise
    logs = np.log(prior.median) + np.linspace(-3.5, 3.5, JITTERS) * max(prior.spread, 0.3)
    for _ in range(3):
        miss = (np.exp(2 * logs)[:, None] - rest) / max(spread, 0.2 * float(np.ptp(rest)) / NOISES)
        log_fit = -0.5 * off**2 - 0.5 * miss**2
        weight = np.exp(log_fit - log_fit.max()).sum(axis=1)
        weight *= np.exp(-0.5 * ((logs - np.log(prior.median)) / prior.spread) ** 2)
        weight /= weight.sum()
        middle = float(weight @ logs)
        width = float(np.sqrt(weight @ (logs - middle) ** 2))
        if width > logs[1] - logs[0]:
            break
        logs = middle + np.linspace(-1, 1, JITTERS) * max(5 * width, 1.5 * (logs[1] - logs[0]))
    return Size(median=float(np.exp(middle)), spread=width)


def _periodic(table: _Table, prior: MountPrior, data: LogData, found: Posterior, waves: Waves,
              new: int) -> None:
    """Enter the periodic terms: those of the table as far as the log tells, then so many new ones."""
    terms, states = [], []
    old = [term for term in table.before.periodic if term.amplitude > 0]
    for index, (term, before) in enumerate(zip(old, prior.terms, strict=True)):
        size, error = (value / data.to_equator for value in found.amplitude[index])
        period = float(waves.period_s[index] * np.exp(found.stretch[index]))
        # Of a wave with fewer than two rows to a turn the rows show another one's turns as well: it stays as it was.
        told = period > 2 * data.step_s * data.rows
        state = _size_state(size, error, before.amplitude) if told else "left"
        states.append(state)
        spread = float(np.hypot(found.stretch_error[index], waves.period_error_s[index] / period))
        moved = _state(max(spread, 1e-4), before.period.spread) != "left"
        errors = dict(term.errors)
        if moved:
            errors["period"] = float(f"{max(spread, 1e-4) * period:.2g}") * u.s
        if state != "left":
            errors["amplitude"] = float(f"{error:.2g}") * u.arcsec
        terms.append(PeriodicTerm(
            period=rounded(period, spread * period) * u.s if moved else term.period, phase=term.phase,
            amplitude=term.amplitude if state == "left" else rounded(size, error) * u.arcsec, errors=errors))
        states += ["updated"] if moved and state == "left" else []
    for index in range(len(old), len(old) + new):
        size, error = (value / data.to_equator for value in found.amplitude[index])
        states.append("measured")
        period = float(waves.period_s[index] * np.exp(found.stretch[index]))  # of a harmonic: as its worm
        spread = max(float(np.hypot(found.stretch_error[index] * period, waves.period_error_s[index])), 1e-4 * period)
        terms.append(PeriodicTerm(period=rounded(period, spread) * u.s, amplitude=rounded(size, error) * u.arcsec,
                                  errors={"amplitude": float(f"{error:.2g}") * u.arcsec,
                                          "period": float(f"{spread:.2g}") * u.s}))
    state = "left" if set(states) <= {"left"} else "measured" if set(states) == {"measured"} else "updated"
    table.terms(terms, state)


def _notes(report: DriftReport, data: LogData, table: _Table, against: list[str]) -> tuple[str, ...]:
    """Return what the log contradicts and what it could not tell, a sentence each."""
    notes = []
    if against:
        about = " and ".join(map(figure_name, against))
        notes.append(f"The log disagrees with the mount's table about {about}: it is off by more than "
                     f"{STANDS:g} of its standard errors there, which were widened to what the log shows.")
    if not data.placed:
        lacks = "hour angle or latitude" if report.log.oriented else "camera_angle_deg, and which way is east is open"
        notes.append(f"The polar axis and the drive rate stay as they were: the log gives no {lacks}.")
    left = [figure.key for figure in table.figures if figure.state == "left"]
    if "jitter" in left and _exposure(report) > LONGEST_EXPOSURE:
        left.remove("jitter")
        notes.append(f"Jitter stays as it was: rows of {_exposure(report).to_value(u.s):.3g} s average it away. What "
                     "scatters from row to row then is mostly the air, and how finely each was measured.")
    if left:
        notes.append(f"Too little in this log of {report.duration.to_value(u.min):.0f} min to say more of "
                     f"{', '.join(map(figure_name, left))} than was known.")
    return tuple(notes)

"""What goes into the analysis of a drift log and what comes out of it."""

from dataclasses import dataclass
from hashlib import blake2b
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.fields import Key, Many, Spread, told
from planner.measure.drift.fit.harmonics import MeasuredTerm
from planner.measure.drift.fit.wander_noise import Differences

FASTER, WALK = u.arcsec / u.min, u.arcsec / u.min**0.5


@dataclass(frozen=True, kw_only=True)
class DriftLog:
    """Places of one unguided star, and what is known about where it was."""

    time: u.Quantity  # (n,) s, any zero point
    ra: u.Quantity  # (n,) arcsec on the sky, east positive
    dec: u.Quantity  # (n,) arcsec, north positive
    declination: u.Quantity | None = None
    hour_angle: u.Quantity | None = None  # at the first row, west positive
    latitude: u.Quantity | None = None
    exposure: u.Quantity | None = None  # of each row; None: not known
    site: str | None = None  # its name
    oriented: bool = True  # it is known which way is east: a worm tells the line of RA, not which end is which

    @property
    def placed(self) -> bool:
        """Whether the log knows where the star stood, and which way it went."""
        return self.oriented and None not in (self.declination, self.hour_angle, self.latitude)

    @property
    def fingerprint(self) -> str:
        """The same for the same rows, in whichever file they are."""
        rows = np.stack([self.time.to_value(u.s), self.ra.to_value(u.arcsec), self.dec.to_value(u.arcsec)])
        return blake2b(rows.astype("<f8").tobytes(), digest_size=12).hexdigest()

    def __post_init__(self) -> None:
        if not self.time.shape == self.ra.shape == self.dec.shape or self.time.ndim != 1:
            raise InvalidInputError("drift log", f"{self.time.shape}, {self.ra.shape}, {self.dec.shape}",
                                    "time, ra and dec must have one row each", "Give three columns of one length.")


@dataclass(frozen=True, kw_only=True)
class AxisReport:
    """One axis of the log; errors are 1 sigma and know of the wander."""

    rate: Annotated[u.Quantity[FASTER], "drift, mean over the log"]
    rate_error: Annotated[u.Quantity[FASTER], "of the drift", Key("rate_arcsec_per_min_error")]
    bend: Annotated[u.Quantity[FASTER / u.h] | None, "mean change of the rate; null where a straight drift is enough",
                    Key("bend_arcsec_per_min_per_h")]
    bend_error: u.Quantity | None
    jitter: Annotated[u.Quantity[u.arcsec], "rms of the white noise", Key("jitter_rms_arcsec")]
    jitter_error: Annotated[u.Quantity[u.arcsec], "of the jitter"]
    wander: Annotated[u.Quantity[WALK], "random walk after one minute", Key("wander_arcsec_per_root_min")]
    wander_error: u.Quantity[WALK]
    wander_bound: Annotated[u.Quantity[WALK] | None, "where no wander is shown: bound of 95 %",
                            Key("wander_below_arcsec_per_root_min")]
    periodic: tuple[MeasuredTerm, ...]
    time_s: np.ndarray  # (n,) rows used, from the first
    residual_arcsec: np.ndarray  # (n,) what the model leaves
    model_arcsec: np.ndarray  # (n,) drift, refraction's bend and periodic terms
    steps_arcsec: np.ndarray  # (n,) how far steps had moved the star; in neither of the two above
    slow_turn: bool = False  # the log may hold a part of one: the rate's error counts it, its terms are not told
    wander_spread = told(WALK, "of the wander, where one is shown",
                         lambda axis: None if axis.wander_bound is not None else axis.wander_error,
                         key="wander_error_arcsec_per_root_min")

    @property
    def used_rows(self) -> dict[str, np.ndarray]:
        """The rows that were used, (n,) each: minutes from the first, place, fit and what it leaves."""
        return {"minutes": self.time_s / 60, "place_arcsec": self.model_arcsec + self.residual_arcsec,
                "fit_arcsec": self.model_arcsec, "left_arcsec": self.residual_arcsec}

    @property
    def places(self) -> tuple[np.ndarray, ...]:
        """Where the star was, (n,) arcsec: without the steps, which hide a loop, and with them, which may be its."""
        place = self.model_arcsec + self.residual_arcsec
        return (place, place + self.steps_arcsec) if np.ptp(self.steps_arcsec) > 0 else (place,)


@dataclass(frozen=True, kw_only=True)
class DriftReport:
    """The log, both axes, and what was done with its rows."""

    log: DriftLog
    ra: Annotated[AxisReport, Spread("ra_")]
    dec: Annotated[AxisReport, Spread("dec_")]
    rows: Annotated[int, "of the log"]
    used: Annotated[int, "rows that the fit used", Key("used_rows")]
    notes: Annotated[tuple[str, ...], "what was done with the rows"]
    outlier_times: Annotated[u.Quantity[u.s], "times of rows that were set aside", Key("outliers_s"), Many()]
    duration: Annotated[u.Quantity[u.s], "from the first row used to the last"]
    step: Annotated[u.Quantity[u.s], "time from row to row"]
    breaks: np.ndarray  # (b,) differences of the used rows across which the star was moved
    row_exposure_s: float  # of one used row, blocks counted; 0 if the log does not say

    far_wander: u.Quantity | None  # rms over both axes, where a wander from second to second does not last
    moved = told(u.s, "times at which the star was moved", lambda report: report.ra.time_s[
        report.breaks + 1] * u.s, Many(), key="steps_s")
    ra_terms = told(tuple[MeasuredTerm, ...], "periodic terms in RA, the largest first",
                    lambda report: report.ra.periodic, key="periodic")
    dec_terms = told(tuple[MeasuredTerm, ...], "periodic terms in Dec", lambda report: report.dec.periodic,
                     key="dec_periodic")

    @property
    def differences(self) -> Differences:
        """Times and noise of the rows that were used."""
        return Differences(self.ra.time_s, self.row_exposure_s, self.breaks)

    @property
    def jitter(self) -> Annotated[u.Quantity[u.arcsec], "white noise per axis, rms over both",
                                  Key("jitter_rms_arcsec")]:
        """White noise per axis, rms over both."""
        return np.sqrt((self.ra.jitter**2 + self.dec.jitter**2) / 2)

    @property
    def wander(self) -> Annotated[u.Quantity[WALK], "random walk per axis after one minute, rms over both",
                                  Key("wander_arcsec_per_root_min")]:
        """Random walk per axis after one minute, rms over both; what lasts of it where not all does."""
        if self.far_wander is not None:
            return self.far_wander
        return np.sqrt((self.ra.wander**2 + self.dec.wander**2) / 2)

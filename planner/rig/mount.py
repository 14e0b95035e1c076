"""The mount: how it follows the sky, and where it stops."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from astropy import units as u

from planner.checks import plain, quantity
from planner.errors import InvalidInputError
from planner.rig.choices import DriveRate, MountDesign
from planner.rig.figures import Figures

AXIS = "polar_altitude_error", "polar_azimuth_error"
AXIS_UNKNOWN = 2 * u.arcmin  # each way, where nobody gave a polar axis: common practice, no source


def figure_name(key: str) -> str:
    """Return a key of the mount's table in words."""
    return "periodic error" if key == "periodic" else key.removesuffix("_ppm").replace("_", " ")


@dataclass(frozen=True, kw_only=True)
class PeriodicTerm(Figures):
    """One periodic error of the RA drive, on the equator of the mount."""

    period: u.Quantity[u.s] = quantity("s", at_least=0.1, at_most=86400, remedy="Give the time of one turn.")
    amplitude: u.Quantity[u.arcsec] = quantity("arcsec", at_least=0, at_most=3600, meaning="zero to peak",
                                               remedy="Give the amplitude: half of peak to peak.")
    phase: u.Quantity[u.deg] | None = quantity("deg", default=None, meaning="at the start, if known")


@dataclass(frozen=True, kw_only=True)
class Mount(Figures):
    """An equatorial mount with everything about it that moves a star on the sensor."""

    name: str = plain("text", remedy="Name the mount.")
    design: MountDesign = plain("choice", default="german equatorial", choices=get_args(MountDesign),
                        remedy="Write german equatorial or fork.")
    rate: DriveRate = plain("choice", default="sidereal", choices=get_args(DriveRate),
                      remedy="Write sidereal, king or model.")
    rate_error_ppm: float = plain("number", default=0.0, at_least=-1e5, at_most=1e5,
                                  meaning="drive too fast: positive",
                                  remedy="Give parts per million of the tracking rate.")
    jitter: u.Quantity[u.arcsec] = quantity("arcsec", default="0 arcsec", at_least=0, at_most=60,
                                            meaning="rms per axis, faster than a second",
                                            remedy="Give the rms per axis.")
    jitter_holds_sway: bool = plain("truth", default=False, meaning="the jitter was logged on the pier in its wind: "
                                    "what its sway adds to it is counted once")
    wander: u.Quantity = quantity("arcsec/min(1/2)", default="0 arcsec/min(1/2)", at_least=0, at_most=60,
                                  meaning="random walk, rms per axis after one minute",
                                  remedy="Write it like 0.1 arcsec/min(1/2).")
    encoder_counts: int | None = plain("whole", default=None, optional=True, at_least=100, at_most=2**40,
                                       meaning="steps per turn of the RA axis",
                                       remedy="Give the steps per turn of the axis, e.g. 16777216.")
    polar_altitude_error: u.Quantity[u.arcmin] | None = quantity(
        "arcmin", default=None, at_least=-600, at_most=600, meaning="axis too high: positive; left out: not known")
    polar_azimuth_error: u.Quantity[u.arcmin] | None = quantity(
        "arcmin", default=None, at_least=-600, at_most=600,
        meaning="axis points east of the pole: positive, as an azimuth angle; left out: not known")
    flexure_ra: u.Quantity[u.arcsec / u.h] = quantity("arcsec/h", default="0 arcsec/h", at_least=-600, at_most=600,
                                                      meaning="drift of the star to the east, on the sky")
    flexure_dec: u.Quantity[u.arcsec / u.h] = quantity("arcsec/h", default="0 arcsec/h", at_least=-600, at_most=600,
                                                       meaning="drift of the star to the north")
    tube_flexure: u.Quantity[u.arcsec] = quantity("arcsec", default="0 arcsec", at_least=-3600, at_most=3600,
                                                  meaning="drop of the tube per sine of the zenith distance")
    tracks_past_meridian: u.Quantity[u.deg] = quantity(
        "deg", default="0 deg", at_least=-90, at_most=180, meaning="hour angle past the meridian before it must flip",
        remedy="Give the hour angle, 0 if it must flip at the meridian.")
    starts_before_meridian: u.Quantity[u.deg] = quantity(
        "deg", default="0 deg", at_least=-90, at_most=180,
        meaning="hour angle before the meridian at which the far side of the pier can begin",
        remedy="Give the hour angle, 0 if only at the meridian.")
    zenith_keep_out: u.Quantity[u.deg] = quantity("deg", default="0 deg", at_least=0, at_most=45,
                                                  meaning="distance from the zenith that the mount avoids")
    slew_rate: u.Quantity[u.deg / u.s] = quantity("deg/s", default="3 deg/s", at_least=0.01, at_most=60)
    flip: u.Quantity[u.min] = quantity("min", default="4 min", at_least=0, at_most=120,
                                       meaning="time a meridian flip costs, centring and focus included")
    settling_time: u.Quantity[u.s] = quantity("s", default="10 s", at_least=0, at_most=600,
                                              meaning="after a slew or a dither")
    payload: u.Quantity[u.kg] | None = quantity("kg", default=None, more_than=0, at_most=10000,
                                                meaning="rated, for imaging")
    periodic: tuple[PeriodicTerm, ...] = plain("other", default=())
    drive_class: str | None = plain("text", default=None, meaning="generic class the figures start from, if any")

    @property
    def peak_to_peak(self) -> u.Quantity[u.arcsec]:
        """What the periodic error spans with all terms at their crest together: twice the sum of the amplitudes."""
        return 2 * sum((term.amplitude for term in self.periodic), 0 * u.arcsec)

    @property
    def axis_given(self) -> bool:
        """Whether somebody said where the polar axis points, or how well that is known."""
        return any(key in self.errors or getattr(self, key) is not None for key in AXIS)

    @property
    def axis(self) -> dict[str, u.Quantity[u.arcmin]]:
        """Errors of its altitude and azimuth by their keys, 0 where not given."""
        errors = self.polar_altitude_error, self.polar_azimuth_error
        return {key: 0 * u.arcmin if error is None else error for key, error in zip(AXIS, errors, strict=True)}

    @property
    def axis_errors(self) -> u.Quantity[u.arcmin]:
        """Standard errors of its altitude and azimuth, (2,): as stated, or usual ones where nobody gave an axis."""
        usual = 0 * u.arcmin if self.axis_given else AXIS_UNKNOWN
        return u.Quantity([self.errors.get(key, usual) for key in AXIS], u.arcmin)

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield periodic terms that are none."""
        if not all(isinstance(term, PeriodicTerm) for term in self.periodic):
            yield InvalidInputError("periodic", self.periodic, "must be a list of periodic terms",
                                    'Write periodic = [{period = "501 s", amplitude = "4 arcsec"}].')

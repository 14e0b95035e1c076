"""How the pier moves under what meets it: its frequency with the mount, its sway in gusts, how soon it is still."""

import math
from dataclasses import dataclass
from typing import Annotated, Any

from astropy import units as u

from planner.fields import Key
from planner.pier.column.beam import Bending, Vibration, bend, vibration
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.standing.actions import wind_force
from planner.pier.column.standing.buckling import falling_share
from planner.pier.column.stiffness import footing_stiffness

# Mount and tube where nobody has measured them; usual are 5 to 12 Hz (common practice, no source).
USUAL_MOUNT = 8 * u.Hz
# Near the ground among trees and houses: EN 1991-1-4 table 4.1 terrain III and eqs. 4.7 and B.1 at its least height of
# 5 m: share of the mean wind that its gusts are, rms, and the length of an eddy. From memory.
ROUGHNESS, LEAST_HEIGHT = 0.3 * u.m, 5 * u.m
TURBULENCE = 1 / math.log(float(LEAST_HEIGHT / ROUGHNESS))
EDDY = 300 * u.m * float(LEAST_HEIGHT / (200 * u.m)) ** (0.67 + 0.05 * math.log(ROUGHNESS.value))
MEMORY = 0.97  # of the spectrum below, in passages of an eddy
GUST = 1 + 7 * TURBULENCE  # pressure of the gust over that of the mean wind, EN 1991-1-4 eq. 4.8
# Of a star that has come to rest; a drive stops or starts in about this time (both common practice, no source).
STILL, RAMP = 0.3 * u.arcsec, 1 * u.s


@dataclass(frozen=True, kw_only=True)
class PierMotion:
    """What the pier adds to the motion of a star, in the softer of its two directions."""

    own_frequency: Annotated[u.Quantity[u.Hz], "of column and foot; 0 where they fall by themselves",
                             Key("frequency_Hz")]
    mount_frequency: Annotated[u.Quantity[u.Hz], "of the mount on a rigid pier"]
    whole_frequency: Annotated[u.Quantity[u.Hz], "of the column with mount and tube on top",
                               Key("frequency_with_mount_Hz")]
    sway: Annotated[u.Quantity[u.arcsec], "rms per axis in the wind; null: without end"]
    memory: u.Quantity[u.s]  # for which the sway resembles itself
    after_touch: Annotated[u.Quantity[u.s], "until the star is at rest", Key("settling_after_touch_s")]
    after_slew: Annotated[u.Quantity[u.s], "until the star is at rest", Key("settling_after_slew_s")]


def pier_motion(column: Column, footing: Footing, loads: TopLoads) -> PierMotion:
    """Return what the pier adds to the motion of a star.

    `column`, `footing` and `loads`: the wind is the gust in `loads`; its damping counts for column, foot and mount
    together.
    Only the tilt of the column's top counts: what gives within the mount is the mount's own. A column that
    falls by itself sways without end: infinite.
    """
    foot = footing_stiffness(footing, column.width).softer
    falling = falling_share(column, loads, foot)
    own = own_frequency(column, loads, foot, falling)
    mount = USUAL_MOUNT if loads.mount_frequency is None else loads.mount_frequency
    whole = with_mount(own, mount)
    if falling >= 1:
        endless = math.inf * u.s
        return PierMotion(own_frequency=own, mount_frequency=mount, whole_frequency=whole, sway=math.inf * u.arcsec,
                          memory=endless, after_touch=endless, after_slew=endless)
    gust = wind_bending(column, loads, foot, falling).angle
    touch = grown(bend(**beam_of(column, foot), force=loads.push,
                       force_height=column.height + loads.push_height), falling).angle
    stop = _stop(loads.mass * max(loads.gyration, loads.centre) ** 2, loads.slew_rate)
    slew = grown(bend(**beam_of(column, foot), moment=stop), falling).angle
    sway, memory = _gusty(gust, whole, loads)
    return PierMotion(
        own_frequency=own, mount_frequency=mount, whole_frequency=whole, sway=sway, memory=memory,
        after_touch=settling_time(touch, whole, loads.damping), after_slew=settling_time(slew, whole, loads.damping))


def own_frequency(column: Column, loads: TopLoads, spring: u.Quantity | None, falling: float) -> u.Quantity[u.Hz]:
    """Return the first frequency of column and load on a mount that does not give; its weight pulls it down a little.

    Times √(1 - N/N_cr); 0 where the column falls by itself.
    """
    return swinging(column, loads, spring).frequency[0] * math.sqrt(max(1 - falling, 0.0))


def swinging(column: Column, loads: TopLoads, spring: u.Quantity | None) -> Vibration:
    """Return how column and load swing on a foot of some rotational stiffness, rigid if None, weight aside."""
    return vibration(**beam_of(column, spring), mass_per_length=column.mass_per_length, top_mass=loads.mass,
                     top_centre=loads.centre.to(u.m), top_inertia=loads.mass * loads.gyration.to(u.m) ** 2)


def with_mount(own: u.Quantity[u.Hz], mount: u.Quantity[u.Hz]) -> u.Quantity[u.Hz]:
    """Return the frequency of a mount on a pier that gives: 1/f² = 1/f₁² + 1/f₂² (Dunkerley, a lower bound)."""
    if own <= 0 * u.Hz:
        return 0 * u.Hz
    return (own**-2 + mount**-2) ** -0.5


def wind_bending(column: Column, loads: TopLoads, spring: u.Quantity | None, falling: float) -> Bending:
    """Return what the gust in `loads` does to the column's top: on telescope and mount, and along a bare column."""
    top = wind_force(loads.wind_area, loads.wind_speed)
    along = 0 * u.N / u.m if loads.sheltered else wind_force(column.width * 1 * u.m, loads.wind_speed) / (1 * u.m)
    return grown(bend(**beam_of(column, spring), force=top, force_height=column.height + loads.centre, line_load=along),
                 falling)


def grown(bending: Bending, falling: float) -> Bending:
    """Return a bending with what the leaning weight adds: over 1 - N/N_cr."""
    left = 1 - falling
    return Bending(deflection=bending.deflection / left, angle=bending.angle / left)


def beam_of(column: Column, spring: u.Quantity | None) -> dict[str, Any]:
    """Return the column as `bend` takes it."""
    return {"length": column.height, "stiffness": column.stiffness, "foot_stiffness": spring}


def settling_time(swing: u.Quantity[u.arcsec], frequency: u.Quantity[u.Hz], damping: float) -> u.Quantity[u.s]:
    """Return how long a swing takes to fall to `STILL`: ln(swing/STILL)/(2π ζ f); 0 for a smaller one."""
    if swing <= STILL:
        return 0 * u.s
    return (math.log(float(swing / STILL)) / (2 * math.pi * damping * frequency)).to(u.s)


def _gusty(gust: u.Quantity, frequency: u.Quantity, loads: TopLoads) -> tuple[u.Quantity, u.Quantity]:
    r"""Return the rms per axis of the sway in a wind whose gusts tilt the top by `gust`, and its memory.

    .. math:: \sigma = \theta_m\,2 I\sqrt{1 + R^2},\qquad
        R^2 = \frac{\pi^2}{2\delta}\,\frac{6.8 f_L}{(1 + 10.2 f_L)^{5/3}}\,R_h^2,\qquad
        R_h = \frac1\eta - \frac{1 - e^{-2\eta}}{2\eta^2}

    with the mean wind's tilt, f_L = f L/v, η = 4.6 b f/v and b the side of the wind's area: EN 1991-1-4 annex B, from
    memory. The wind turns, so each of the two axes has half of the variance. The memory is twice the integral of the
    squared autocorrelation, that of an exponential one: 0.97 L/v for the slow part, by Parseval; the resonance is fast.
    """
    mean = loads.wind_speed / math.sqrt(GUST)
    if mean <= 0 * u.m / u.s:
        return 0 * u.arcsec, EDDY / (1 * u.m / u.s)
    eddies = float((frequency * EDDY / mean).to_value(u.one))
    size = 4.6 * float((frequency * loads.wind_area**0.5 / mean).to_value(u.one))
    small = 1 / size - (1 - math.exp(-2 * size)) / (2 * size**2) if size > 1e-3 else 1.0
    spectrum = 6.8 * eddies / (1 + 10.2 * eddies) ** (5 / 3)
    resonance = math.pi**2 / (2 * 2 * math.pi * loads.damping) * spectrum * small**2
    sway = (gust / GUST * 2 * TURBULENCE * math.sqrt((1 + resonance) / 2)).to(u.arcsec)
    return sway, (MEMORY * EDDY / mean / (1 + resonance)).to(u.s)


def _stop(inertia: u.Quantity, rate: u.Quantity) -> u.Quantity[u.N * u.m]:
    """Return the torque that brings a turning mass to rest within `RAMP`."""
    return (inertia.to(u.kg * u.m**2) * rate.to(u.rad / u.s) / RAMP / u.rad).to(u.N * u.m)

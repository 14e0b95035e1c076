"""What things take besides exposing: slews, centring, focus, filters, flips; and how often the focus wants a look."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.optics import focus_tolerance, refocus_interval
from planner.rig import Rig, Site

# Common practice, no source.
LONG_SLEW = 90 * u.deg  # from one target to the next, at most
CENTRING = 1 * u.min  # a short frame, solved, and a correction
FOCUS = 2 * u.min  # one run through the focus
MINIMUM_BLOCK = 60 * u.min  # on one target
MINIMUM_RUN = 60 * u.min  # of one filter: each has its flats, and its change
FLIP_MARGIN = 5 * u.min  # from a flip, or the end, to where the mount must stop
FILTER_CHANGE = 20 * u.s  # wheel and focus offset
TEMPERATURE_SLOPE = 1 * u.K / u.h  # of the tube on a clear night
BLUR_SHARE = 1 / 3  # of the seeing that focus may add
LEAST_REFOCUS, MOST_REFOCUS = 20 * u.min, 3 * u.h


@dataclass(frozen=True, kw_only=True)
class Times:
    """What a plan counts with."""

    change: u.Quantity[u.min]  # of target: slew, settle, centre, focus; or a flip where that takes longer
    band: u.Quantity[u.min]  # change of filter
    flip: u.Quantity[u.min]
    focus: u.Quantity[u.min]
    refocus: u.Quantity[u.min]  # from one look at the focus to the next
    minimum_block: u.Quantity[u.min]
    minimum_run: u.Quantity[u.min]  # of one filter

    @property
    def collecting(self) -> float:
        """Share of the time that the rhythm of focusing leaves."""
        return float((self.refocus / (self.refocus + self.focus)).to_value(u.one))


def times_of(rig: Rig, site: Site, *, minimum_block: u.Quantity[u.min] = MINIMUM_BLOCK,
             minimum_run: u.Quantity[u.min] = MINIMUM_RUN) -> Times:
    """Return the times of a rig; a change of target may include a flip."""
    mount = rig.mount
    flip = 0 * u.min if mount.design == "fork" else mount.flip.to(u.min)
    band = FILTER_CHANGE.to(u.min)
    still = max(mount.settling_time, rig.sway_settling_time)
    slew = (LONG_SLEW / mount.slew_rate + still).to(u.min) + CENTRING + FOCUS
    return Times(change=max(slew, flip + band), band=band, flip=flip, focus=FOCUS, refocus=_refocus(rig, site),
                 minimum_block=max(minimum_block.to(u.min), minimum_run.to(u.min)), minimum_run=minimum_run.to(u.min))


def _refocus(rig: Rig, site: Site) -> u.Quantity[u.min]:
    """Return how long the focus stays good while the tube cools: 20 minutes to 3 hours."""
    telescope = rig.telescope
    tolerance = focus_tolerance(rig.middle_filter.centre, telescope.focal_ratio, telescope.focal_length,
                                blur=site.seeing * BLUR_SHARE)
    interval = refocus_interval(tolerance, telescope.expansion, telescope.expanding_length, TEMPERATURE_SLOPE)
    return np.clip(interval.to_value(u.min), LEAST_REFOCUS.to_value(u.min), MOST_REFOCUS.to_value(u.min)) * u.min

"""An observer's own astroplan constraints: when they let a target be observed."""

import warnings
from collections.abc import Sequence

import numpy as np
from astropy import units as u
from astropy.time import Time
from astropy.utils.exceptions import AstropyWarning

from planner.rig import Site
from planner.visibility.adapters import fixed_target, observer
from planner.visibility.target import Target

from astroplan import Constraint  # isort: skip  (after the adapters: they apply the offline settings)

STEP = 1 * u.min  # between the moments that are asked: edges are that exact


def allowed_times(constraints: Sequence[Constraint], target: Target, site: Site, start: Time, end: Time
                  ) -> tuple[tuple[Time, Time], ...]:
    """Return the stretches between two moments in which every constraint holds.

    `constraints`: a score counts as held where it is more than 0.
    In the order of time, from the first to the last minute that is allowed; empty if there is none.
    """
    count = max(2, int(np.ceil(((end - start) / STEP).to_value(u.one))) + 1)
    times = start + (end - start) * np.linspace(0, 1, count)
    # A new observer each time: astroplan keeps altitudes by right ascension alone, which two targets may share.
    place, star = observer(site), fixed_target(target)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", AstropyWarning)  # of astroplan's own separations: their error is below a degree
        held = np.all([np.ravel(one(place, star, times=times)) > 0 for one in constraints], axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], held, [False]]).astype(int)))
    return tuple((times[first], times[last - 1]) for first, last in edges.reshape(-1, 2) if last - 1 > first)

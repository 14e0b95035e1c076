"""Between true and apparent altitude at one site, both ways with one formula, on plain floats."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.rig import Site
from planner.sky.refraction import LOWEST, density_factor, refraction_kernel

CLOSE = 1e-5  # deg, 0.04 arcsec


@dataclass(frozen=True)
class Air:
    """The air of a site: `factor` scales refraction with pressure and temperature."""

    factor: float

    def true(self, apparent_deg: float | np.ndarray) -> Any:
        """Return true altitudes of apparent ones [deg]; below −1 deg the refraction of −1 deg is held."""
        return apparent_deg - self.factor * refraction_kernel(np.maximum(apparent_deg, LOWEST)) / 3600

    def apparent(self, true_deg: np.ndarray) -> np.ndarray:
        """Return apparent altitudes of true ones [deg], the exact inverse of `true`."""
        apparent = true_deg + self.factor * refraction_kernel(np.maximum(true_deg, LOWEST)) / 3600
        for _ in range(12):  # shrinks the error at least threefold each time
            before = apparent
            apparent = true_deg + self.factor * refraction_kernel(np.maximum(apparent, LOWEST)) / 3600
            if np.max(np.abs(apparent - before), initial=0) < CLOSE:
                break
        return apparent


def air_at(site: Site) -> Air:
    """Return the air of a site."""
    return Air(float(density_factor(site.station_pressure.to_value(u.hPa), site.temperature.to_value(u.deg_C))))

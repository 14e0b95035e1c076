"""Many objects of the sky as columns, for questions about a whole catalogue."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u


@dataclass(frozen=True)
class SkyObjects:
    """Many objects as columns, (n,) each; NaN where the catalogue knows nothing."""

    name: np.ndarray
    common_name: np.ndarray
    kind: np.ndarray
    ra: u.Quantity[u.deg]
    dec: u.Quantity[u.deg]
    size_major: u.Quantity[u.arcmin]
    size_minor: u.Quantity[u.arcmin]
    magnitude: u.Quantity[u.mag]
    surface_brightness: u.Quantity[u.mag / u.arcsec**2]
    line_brightness: u.Quantity[u.R]  # H-alpha

    def __len__(self) -> int:
        return len(self.name)

    def chosen(self, keep: np.ndarray) -> "SkyObjects":
        """Return some of the objects, by number or by truth value."""
        return SkyObjects(**{name: values[keep] for name, values in vars(self).items()})

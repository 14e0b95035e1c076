"""The fuse of a cable: what it must bear, what it must protect, and what a short circuit must reach."""

import numpy as np
from astropy import units as u

from planner.pier.cable import CORD_AMPERE, FUSE_AMPERE, FUSE_FAULT_FACTOR, FUSE_LOADING, SERIES_MM2, Cable


def fuse_rating(current: u.Quantity[u.A], cross_section: u.Quantity[u.mm**2]) -> u.Quantity[u.A] | None:
    """Return the rating of the fuse for a cable: the smallest of the series that the current loads to at most 80 %.

    Parameters
    ----------
    current : Quantity [A], scalar
        Greatest current of the cable.
    cross_section : Quantity [mm2], scalar
        Of one conductor, in the standard series.

    Returns
    -------
    Quantity [A], scalar, or None
        None if that rating is more than the cable may carry: the fuse would not protect it.
    """
    most = CORD_AMPERE[min(SERIES_MM2, key=lambda area: abs(area - cross_section.to_value(u.mm**2)))]
    wanted = current.to_value(u.A) / FUSE_LOADING
    rating = next((ampere for ampere in FUSE_AMPERE if ampere >= wanted * (1 - 1e-12)), None)
    return None if rating is None or rating > most else rating * u.A


def fuse_in_use(cable: Cable, current: u.Quantity) -> u.Quantity | None:
    """Return the rating of the fuse that is fitted, or else of the one that should be."""
    return fuse_rating(current, cable.cross_section) if cable.fuse is None else cable.fuse


def fuse_advice(cable: Cable, current: u.Quantity, fuse: u.Quantity | None, fault: u.Quantity) -> str:
    """Return what is wrong with the fuse of a cable, or an empty text."""
    if np.isnan(current.value):
        return "No current can be told: mend the cables first."
    fitted = cable.fuse
    if fitted is not None and fitted > cable.may_carry:
        return (f"The {fitted:g} fuse lets more flow than {area_text(cable.cross_section)} may carry "
                f"({cable.may_carry:g}).")
    if fitted is not None and current > fitted:
        return f"The {fitted:g} fuse will open at the peak of {current:.1f}."
    if fuse is None:
        wanted = next((area for area in SERIES_MM2 if fuse_rating(current, area * u.mm**2) is not None), None)
        remedy = f"take {wanted:g} mm²" if wanted else "split the loads over two cables"
        return f"No fuse protects {area_text(cable.cross_section)} at {current:.1f}: {remedy}."
    rating = fuse if fitted is None else fitted
    if fault < FUSE_FAULT_FACTOR * rating:
        return (f"A dead short at its far end gives only {fault:.0f}: too little to open a {rating:g} fuse soon. "
                "Thicker or shorter.")
    return ""


def area_text(cross_section: u.Quantity[u.mm**2]) -> str:
    """Return a cross-section as people write it: ``2.5 mm²``."""
    return f"{cross_section.to_value(u.mm**2):g} mm²"

"""The fuse of a cable: what it must bear, what it must protect, and what a short circuit must reach."""

from astropy import units as u

from planner.pier.wiring.cable import FUSE_AMPERE, FUSE_FAULT_FACTOR, FUSE_LOADING


def fuse_rating(current: u.Quantity[u.A], carries: u.Quantity[u.A]) -> u.Quantity[u.A] | None:
    """Return the rating of the fuse for a cable: the smallest of the series that the current loads to at most 80 %.

    `current`: greatest current of the cable. `carries`: what the cable may carry (`cable.ampacity`).
    None if that rating is more than the cable may carry: the fuse would not protect it.
    """
    wanted = current.to_value(u.A) / FUSE_LOADING
    rating = next((ampere for ampere in FUSE_AMPERE if ampere >= wanted * (1 - 1e-12)), None)
    return None if rating is None or rating > carries.to_value(u.A) else rating * u.A


def protects(rating: u.Quantity | None, carries: u.Quantity, fault: u.Quantity) -> bool:
    """Tell whether a fuse opens before the cable is too hot, and soon after a dead short at the cable's far end."""
    return rating is not None and bool(rating <= carries and fault >= FUSE_FAULT_FACTOR * rating)


def area_text(cross_section: u.Quantity[u.mm**2]) -> str:
    """Return a cross-section as people write it: ``2.5 mm²``."""
    return f"{cross_section.to_value(u.mm**2):g} mm²"

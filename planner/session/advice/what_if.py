"""What if: the same question to a rig and a site of which a few figures are other than they are."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.guide_need import PLAIN_GUIDER
from planner.rig import Guider, Mount, Rig, Site, Telescope
from planner.rig.reducer import Reducer
from planner.tracking.polar_axis import polar_offset

AS_IT_IS, NO_GUIDER, GUIDE_SCOPE = "as it is", "none", "plain guide scope of 50 mm"


@dataclass(frozen=True, kw_only=True)
class WhatIf:
    """Figures that are tried; None stays as it is."""

    polar_error: u.Quantity[u.arcmin] | None = None  # the axis from the pole
    periodic_error: u.Quantity[u.arcsec] | None = None  # peak to peak
    seeing: u.Quantity[u.arcsec] | None = None
    sky_brightness: u.Quantity[u.mag / u.arcsec**2] | None = None
    focal_factor: float = 1.0  # of a reducer or an extender before the camera
    guider: str = AS_IT_IS


@dataclass(frozen=True, kw_only=True)
class Present:
    """The figures as they are."""

    polar_error: u.Quantity[u.arcmin]
    periodic_error: u.Quantity[u.arcsec] | None  # None: no periodic term to make larger or smaller
    seeing: u.Quantity[u.arcsec]
    sky_brightness: u.Quantity[u.mag / u.arcsec**2]


def present_figures(rig: Rig, site: Site) -> Present:
    """Return what `WhatIf` changes, as it is."""
    mount = rig.mount
    altitude, azimuth = mount.axis.values()
    polar = polar_offset(latitude=site.latitude, altitude_error=altitude, azimuth_error=azimuth)
    return Present(polar_error=polar.to(u.arcmin), seeing=site.seeing,
                   periodic_error=mount.peak_to_peak if mount.peak_to_peak > 0 else None,
                   sky_brightness=site.sky_brightness)


def guider_choices(rig: Rig) -> tuple[str, ...]:
    """Return what the guider of a rig may be instead."""
    return (AS_IT_IS, GUIDE_SCOPE) if rig.guider is None else (AS_IT_IS, NO_GUIDER, GUIDE_SCOPE)


def with_figures(rig: Rig, site: Site, what: WhatIf) -> tuple[Rig, Site]:
    """Return rig and site with the figures that are tried.

    Both polar errors grow by one factor, and so do all periodic amplitudes; an axis on the pole is moved up. What is
    known of the error of a changed figure is left out.

    Raises InvalidInputError if a figure breaks its rule.
    """
    now = present_figures(rig, site)
    for key, value in (("seeing", what.seeing), ("sky_brightness", what.sky_brightness)):
        if value is not None:
            tried: dict[str, Any] = {key: value}
            site = replace(site, **tried, errors=_without(site.errors, key))
    mount = _with_periodic(_with_polar(rig.mount, what, now), what, now)
    telescope = rig.telescope
    if what.focal_factor != 1:
        telescope = Reducer(name="a lens", factor=what.focal_factor).behind(telescope)
    return replace(rig, mount=mount, telescope=telescope, guider=_guider(rig, what, telescope)), site


def _with_polar(mount: Mount, what: WhatIf, now: Present) -> Mount:
    if what.polar_error is None:
        return mount
    if now.polar_error > 0:
        factor = float((what.polar_error / now.polar_error).to_value(u.one))
        tried = {key: factor * error for key, error in mount.axis.items()}
    else:
        tried = {"polar_altitude_error": what.polar_error}
    return replace(mount, **tried, errors=_without(mount.errors, *mount.axis))


def _with_periodic(mount: Mount, what: WhatIf, now: Present) -> Mount:
    if what.periodic_error is None or now.periodic_error is None:
        return mount
    factor = float((what.periodic_error / now.periodic_error).to_value(u.one))
    return replace(mount, periodic=tuple(replace(term, amplitude=term.amplitude * factor,
                                                 errors=_without(term.errors, "amplitude")) for term in mount.periodic))


def _guider(rig: Rig, what: WhatIf, telescope: Telescope) -> Guider | None:
    guider = {AS_IT_IS: rig.guider, NO_GUIDER: None, GUIDE_SCOPE: PLAIN_GUIDER}[what.guider]
    return guider if guider is None or what.focal_factor == 1 else guider.on(telescope)


def _without(errors: Mapping[str, Any], *keys: str) -> dict[str, Any]:
    return {key: error for key, error in errors.items() if key not in keys}


def what_if_text(what: WhatIf, now: Present) -> str:
    """Return the figures that are tried, each with the one as it is: ``polar error 1.0′ (3.2′)``; empty if none is."""
    parts = []
    if what.polar_error is not None:
        parts.append(f"polar error {what.polar_error.to_value(u.arcmin):.1f}′ ({now.polar_error.value:.1f}′)")
    if what.periodic_error is not None and now.periodic_error is not None:
        parts.append(f"periodic error {what.periodic_error.to_value(u.arcsec):.1f}″ peak to peak "
                     f"({now.periodic_error.value:.1f}″)")
    if what.seeing is not None:
        parts.append(f"seeing {what.seeing.to_value(u.arcsec):.1f}″ ({now.seeing.to_value(u.arcsec):.1f}″)")
    if what.sky_brightness is not None:
        parts.append(f"sky {what.sky_brightness.value:.1f} mag/arcsec² ({now.sky_brightness.value:.1f})")
    if not np.isclose(what.focal_factor, 1):
        parts.append(f"focal length × {what.focal_factor:g}")
    if what.guider != AS_IT_IS:
        parts.append(f"guider: {what.guider}")
    return "; ".join(parts)

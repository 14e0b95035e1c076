"""The budget of one sub: which cause moves the star how far, unguided and guided, and which is the largest."""

from collections.abc import Collection
from dataclasses import replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.scene import Scene, over_window
from planner.exposure.star_motion import (
    StarMotion,
    air_blur,
    field_places,
    middle_hour_angles,
    start_hour_angles,
    tube_terms,
)
from planner.rig.choices import AXES
from planner.tracking import BudgetTerm, GuideLoop, exposure_motion, motion_budget
from planner.tracking.guiding import SWAY
from planner.tracking.own_motion import moving_on, own_motion_budget

AIR = ("image motion", "dispersion")  # nobody repairs the air
STEADY = (*AIR, "jitter", "guide star noise", SWAY)  # as large in a short sub as in a long one
OPEN_AXIS = "unknown polar error"
POLAR = ("polar altitude error", "polar azimuth error", OPEN_AXIS)


def unguided_budget(scene: Scene, motion: StarMotion, duration: u.Quantity) -> tuple[BudgetTerm, ...]:
    """Return the budget of one unguided sub."""
    mount, site = scene.rig.mount, scene.site
    altitude, azimuth = mount.axis.values()
    known = motion_budget(
        latitude=site.latitude, declination=scene.declination, hour_angle=start_hour_angles(scene, duration),
        duration=duration, polar_altitude_error=altitude, polar_azimuth_error=azimuth,
        rate=mount.rate, rate_error_ppm=mount.rate_error_ppm, flexure_ra=mount.flexure_ra,
        flexure_dec=mount.flexure_dec, pressure=site.station_pressure, temperature=site.temperature,
        wavelength=scene.band.centre, periods=motion.periods, amplitudes=motion.amplitudes, jitter=motion.jitter,
        wander=motion.wander, encoder_step=motion.encoder_step, corner=field_places(scene)[1],
        pointing_terms=tube_terms(mount), dispersion=_dispersed(scene))
    return own_motion_budget(scene.motion, duration) + _with_sway(scene, _with_open_axis(motion, duration, known))


def _with_open_axis(motion: StarMotion, duration: u.Quantity, budget: tuple[BudgetTerm, ...]) -> tuple[BudgetTerm, ...]:
    """Return a budget with the drift of what is not known of the polar axis: a straight trail, 1/12 of its square."""
    drifts = dict(zip(AXES, motion.axis_drift * duration / np.sqrt(12), strict=True))
    if not motion.axis_drift.value.any():
        return budget
    rows = [replace(row, rms=np.hypot(row.rms, drifts[row.axis])) if row.term == "total" else row for row in budget]
    return (*rows, *(BudgetTerm(OPEN_AXIS, axis, drift.to(u.arcsec)) for axis, drift in drifts.items()))


def _dispersed(scene: Scene) -> u.Quantity:
    """Return the rms by which the air draws the star out along RA and Dec, over the window."""
    return np.sqrt(over_window(air_blur(scene, middle_hour_angles(scene).to_value(u.rad))[:2])) * u.arcsec


def guided_budget(scene: Scene, held: StarMotion, loop: GuideLoop, duration: u.Quantity) -> tuple[BudgetTerm, ...]:
    """Return what guiding leaves in one sub: the loop's terms, the centre's drift, the corner's turning, and all."""
    at: dict[str, Any] = {"duration": duration.reshape(1), "hour_angle": start_hour_angles(scene, duration),
                          "phases": 1, "declination": scene.declination}
    moved = exposure_motion(moving_on(held.track, -scene.motion), offsets=field_places(scene)[:2], **at)
    rows = []
    along = np.full(2, 0.5) if held.creep_way is None else held.creep_way**2  # of the creep's variance
    for axis, variance, crept in zip(AXES, (moved.variance_ra, moved.variance_dec),
                                     along * (held.creep * duration) ** 2 / 12, strict=True):
        centre, corner = (np.sqrt(variance[place].mean() + crept) for place in (0, 1))
        rows += [BudgetTerm("rotation about the guide star and flexure of the guider", axis, centre),
                 BudgetTerm("field rotation at the corner", axis, np.sqrt(max(corner**2 - centre**2, 0 * u.arcsec**2)))]
    rows += [BudgetTerm("dispersion", axis, rms)
             for axis, rms in zip(AXES, _dispersed(scene), strict=True)]
    return _with_total((*loop.terms, *rows, *own_motion_budget(scene.motion, duration)))


def _with_total(budget: tuple[BudgetTerm, ...]) -> tuple[BudgetTerm, ...]:
    """Return a budget of causes that know nothing of each other with their sum."""
    squares = {axis: [row.rms.to_value(u.arcsec) ** 2 for row in budget if row.axis == axis] for axis in AXES}
    return (*budget, *(BudgetTerm("total", axis, np.sqrt(sum(squares[axis])) * u.arcsec) for axis in AXES))


def _with_sway(scene: Scene, budget: tuple[BudgetTerm, ...]) -> tuple[BudgetTerm, ...]:
    """Return a budget with the sway of the pier told apart from the jitter that holds it; `SWAY` names it."""
    sway = scene.rig.sway
    if sway == 0:
        return budget
    rows = []
    for row in budget:
        if row.term != "jitter":
            rows.append(row)
            continue
        left = np.sqrt(np.maximum(row.rms**2 - sway**2, 0 * u.arcsec**2))
        rows += [BudgetTerm("jitter", row.axis, left), BudgetTerm(SWAY, row.axis, np.minimum(sway, row.rms))]
    return tuple(rows)


def largest_cause(budget: tuple[BudgetTerm, ...], without: Collection[str] = ()) -> str:
    """Return the cause with the largest motion, some left out."""
    return next(iter(ordered(budget, without)), "")


def growing(budget: tuple[BudgetTerm, ...]) -> str:
    """Return the cause that makes longer subs trail: the largest of those that grow with the sub, if any does."""
    return largest_cause(budget, STEADY) or largest_cause(budget)


def ordered(budget: tuple[BudgetTerm, ...], without: Collection[str] = ()) -> list[str]:
    """Return the causes from the largest motion down, some left out; the polar errors count as one."""
    squares: dict[str, float] = {}
    for row in budget:
        if not row.term.startswith("total") and row.term not in without:
            name = "polar error" if row.term in POLAR else row.term
            squares[name] = squares.get(name, 0.0) + row.rms.to_value(u.arcsec) ** 2
    return sorted(squares, key=lambda name: -squares[name])

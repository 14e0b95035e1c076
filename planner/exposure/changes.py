"""What would change the verdict, solved for: how small one error must become, or how large it may grow.

A star's path is linear in the polar error, so one path without it and one with it give all others; what the drive does
is worked out once and scaled. The search runs on a coarser grid than the verdict; its speeds are scaled to agree with
the verdict's at the present error. Guiding gains from a smaller error too: the guided way is computed anew at the sizes
tried, and between two of them its best speed runs with the square of the error.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.scene import Scene, with_mount
from planner.exposure.share_grid import ShareGrid, share_grid, share_on
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import StarMotion, unguided_motion, windows_of
from planner.exposure.sub_exposure import speed_curve
from planner.rig.choices import DriveRate
from planner.tracking import polar_offset, sidereal_rate
from planner.tracking.moments.window_moments import ExposureGrid, smooth_series

SEARCH_NODES = np.geomspace(SUB_LADDER[0].value, SUB_LADDER[-1].value, 19) * u.s
SEARCH_MIDDLES, SEARCH_PHASES = 4, 89
SHRINKING = (0.5, 0.2, 0.0)  # shares of the present error that are tried first, from large to small
GROWING = (1.5, 3.0, 8.0)
LARGE = {"polar error": 10 * u.arcmin, "periodic error": 20 * u.arcsec}  # growing goes on, up to that
SEARCH_STEPS = 4  # at most, towards the crossing between two of them
CLOSE = 1e-3  # of the goal: near enough to stop
SAFE = 0.95  # of a size found on few exposures: named so much smaller
CURES = {"polar error": "Polar alignment", "periodic error": "Removing the periodic error"}
RATE_NAMES = {"king": "King rate", "model": "rate of a pointing model that knows the mount"}


@dataclass(frozen=True, kw_only=True)
class Change:
    """One quantity and the value at which the verdict turns."""

    what: str  # polar error, periodic error, sub-exposure
    present: u.Quantity
    needed: u.Quantity | None  # None: no value of it alone is enough
    sentence: str


@dataclass(frozen=True)
class Purpose:
    """What the speed searched for would do, in words."""

    make: str  # after "would": "make guiding unnecessary"
    still: str  # a sentence's end where that is so already: "guiding stays unnecessary"


class Search:
    """The best unguided speed of a scene as a function of how its errors are scaled."""

    def __init__(self, scene: Scene, motion: StarMotion, present_speed: float,
                 guided_speed: Callable[[Scene, StarMotion], float] | None = None) -> None:
        """Prepare for a scene whose unguided motion and best speed are known; `guided_speed` is that of the rival."""
        self.scene, self.motion, self.guided_speed = scene, motion, guided_speed
        self.grid = share_grid(scene, motion, nodes=SEARCH_NODES, middles=SEARCH_MIDDLES, phases=SEARCH_PHASES)
        self.windows = windows_of(scene, motion, **_of(self.grid)).known()
        none = with_mount(scene, polar_altitude_error=0 * u.arcmin, polar_azimuth_error=0 * u.arcmin)
        self.without_polar = self._series(none)
        self.untouched = speed_curve(scene, None, SUB_LADDER.value).speed
        self.present, coarse = present_speed, self._coarse_speed()
        self.scale = present_speed / coarse if coarse > 0 else 1.0

    def speed(self, *, polar: float = 1.0, periodic: float = 1.0, rate: DriveRate | None = None) -> float:
        """Return the best speed with the polar error and the periodic amplitudes scaled, or at another rate."""
        if (polar, periodic, rate) == (1.0, 1.0, None):
            return self.present
        return self.scale * self._coarse_speed(polar=polar, periodic=periodic, rate=rate)

    def _coarse_speed(self, *, polar: float = 1.0, periodic: float = 1.0, rate: DriveRate | None = None) -> float:
        series = self.without_polar + polar * (self.windows.series - self.without_polar)
        if rate is not None:
            series = self._series(with_mount(self.scene, rate=rate))
        grid, every = self.grid, slice(None)
        alike = periodic == 0 and grid.walks is None  # all phases
        if alike:
            grid, every = replace(grid, phases=grid.phases[:1], phase_steps=()), slice(1)

        def windows(lengths: Any, places: Any, phases: Any) -> ExposureGrid:
            return self.windows.part(lengths, places, every if alike else phases, series=series, drive_scale=periodic)

        kept, light = share_on(self.scene, grid, windows).at(SUB_LADDER.value)
        return float(np.max(self.untouched * kept * light))

    def rival_speed(self, *, polar: float = 1.0, periodic: float = 1.0) -> float:
        """Return the best guided speed with the polar error and the periodic amplitudes scaled; 0 without a rival."""
        if self.guided_speed is None:
            return 0.0
        mount = self.scene.rig.mount
        terms = tuple(replace(term, amplitude=periodic * term.amplitude) for term in mount.periodic)
        other = with_mount(self.scene, periodic=terms, **{key: polar * error for key, error in mount.axis.items()})
        return self.guided_speed(other, unguided_motion(other))

    def _series(self, scene: Scene) -> np.ndarray:
        return smooth_series(unguided_motion(scene).track, self.grid.seconds, self.grid.start_rad,
                             self.grid.places_arcsec)


def first_crossing(speed_at: Callable[[float], float], goal_at: Callable[[float], float],
                   tried: tuple[float, ...]) -> float | None:
    """Return the scale nearest to 1 at which a speed crosses a goal, on the way through the scales tried; or None.

    The speed need not be monotone: errors that cancel make it rise and fall. The goal may fall as errors grow.
    """
    near, near_goal = 1.0, goal_at(1.0)
    near_gap = speed_at(1.0) - near_goal
    for far in tried:
        speed = speed_at(far)
        # A goal falls as errors grow: short of today's for smaller ones, or beyond it for larger, nothing is crossed.
        decided = speed < goal_at(1.0) if far < 1 else speed >= goal_at(1.0)
        far_goal = near_goal if decided else goal_at(far)
        far_gap = speed - far_goal
        if (far_gap >= 0) != (near_gap >= 0):
            near_goal = goal_at(near)
            slope = (far_goal - near_goal) / (far**2 - near**2)
            return _crossing(lambda s, at=near, goal=near_goal, slope=slope:
                             speed_at(s) - goal - slope * (s**2 - at**2),
                             (near, speed_at(near) - near_goal), (far, far_gap), CLOSE * near_goal)
        near, near_gap, near_goal = far, far_gap, far_goal
    return None


def _crossing(gap_at: Callable[..., float], near: tuple[float, float], far: tuple[float, float], close: float
              ) -> float:
    """Return the scale between two with a gap of either sign at which the gap closes: straight lines, halves between.

    Speeds run nearly straight between the scales tried, so most searches end after one or two.
    """
    for step in range(SEARCH_STEPS):
        scale = (near[0] + far[0]) / 2 if step == 2 else _meeting(near, far)
        middle = (scale, gap_at(scale))
        near, far = (middle, far) if (middle[1] >= 0) == (near[1] >= 0) else (near, middle)
        if abs(middle[1]) <= close:
            break
    return _meeting(near, far)


def _meeting(near: tuple[float, float], far: tuple[float, float]) -> float:
    """Return where a straight line through two gaps of either sign is nothing."""
    return near[0] + (far[0] - near[0]) * near[1] / (near[1] - far[1])


def changes_of(search: Search, goal: float, *, share: float | None = None, reached: bool, purpose: Purpose,
               refraction: bool = True) -> tuple[Change, ...]:
    """Return what polar error and what periodic error would turn the verdict.

    `goal`: speed at which it turns, today. `share`: of the rival's best speed that the goal is; if absent, the goal
    stays where it is. `reached`: the present speed is at or above the goal: how far may an error grow, instead of how
    small must it become. `refraction`: refraction is among the large errors: another tracking rate is worth trying.
    One for each error that is there, one for a better tracking rate where that is enough; where no single one
    is, one for all together.
    """
    errors = _errors(search)

    @cache
    def goal_at(**scales: float) -> float:
        return goal if share is None or set(scales.values()) == {1.0} else share * search.rival_speed(**scales)

    found = []
    for what, (present, key) in errors.items():
        scale = first_crossing(lambda s, key=key: search.speed(**{key: s}),  # type: ignore[misc]
                               lambda s, key=key: goal_at(**{key: s}),  # type: ignore[misc]
                               _growing(what, present) if reached else SHRINKING)
        needed = None if scale is None else _safe(scale, reached) * present
        found.append(Change(what=what, present=present, needed=needed,
                            sentence=_sentence(what, present, needed, reached, purpose)))
    if not reached:
        found += _better_rate(search, goal, purpose) if refraction else []
        if all(change.needed is None for change in found):
            found = [_together(search, goal_at(polar=0.0, periodic=0.0), errors, purpose)]
    return tuple(found)


def _safe(scale: float, growing: bool) -> float:
    """Return the scale short of where the verdict was found to turn, so that who goes there finds it so."""
    return max(SAFE * scale, 1.0) if growing else SAFE * scale


def _growing(what: str, present: u.Quantity) -> tuple[float, ...]:
    """Return the shares of a present error that are tried, up to what nobody would leave as it is."""
    scales = list(GROWING)
    while scales[-1] * present < LARGE[what]:
        scales.append(3 * scales[-1])
    return tuple(scales)


def _better_rate(search: Search, goal: float, purpose: Purpose) -> list[Change]:
    """Return the change to a rate that follows refraction, where that alone is enough."""
    for rate in ("king", "model"):
        if search.scene.rig.mount.rate == "sidereal" and search.speed(rate=rate) >= goal:
            sentence = f"Tracking at the {RATE_NAMES[rate]} instead of the sidereal rate would {purpose.make}."
            return [Change(what="tracking rate", present=sidereal_rate(), needed=sidereal_rate(), sentence=sentence)]
    return []


def _errors(search: Search) -> dict[str, tuple[u.Quantity, str]]:
    """Return the errors that are there: name, present size, and what scales them."""
    mount, errors = search.scene.rig.mount, {}
    altitude, azimuth = mount.axis.values()
    polar = polar_offset(latitude=search.scene.site.latitude, altitude_error=altitude, azimuth_error=azimuth)
    if polar.value > 0:
        errors["polar error"] = (polar, "polar")
    if search.motion.amplitudes.size:
        errors["periodic error"] = (mount.peak_to_peak, "periodic")
    return errors


def _together(search: Search, goal: float, errors: dict[str, tuple[u.Quantity, str]], purpose: Purpose) -> Change:
    """Return the change that takes every error away at once, and whether that is enough."""
    names = " and the ".join(errors)
    enough = len(errors) > 1 and search.speed(polar=0.0, periodic=0.0) >= goal
    sentence = (f"No single change is enough: the {names} must both shrink to {purpose.make}." if enough else
                f"Taking the {names} away altogether would not {purpose.make}: see what else moves the star." if errors
                else f"There is no polar or periodic error whose end would {purpose.make}: see what moves the star.")
    return Change(what=names, present=0 * u.arcsec, needed=0 * u.arcsec if enough else None, sentence=sentence)


def _sentence(what: str, present: u.Quantity, needed: u.Quantity | None, reached: bool, purpose: Purpose) -> str:
    """Return the change in plain words."""
    now, name = f"(now {_shown(what, present, short=reached or needed is not None)})", what.capitalize()
    if reached:
        most = _growing(what, present)[-1] * present if needed is None else needed
        return f"{name} may grow to {_shown(what, most)}{' and more' if needed is None else ''} {now}: {purpose.still}."
    if needed is None:
        return f"{CURES[what]} alone will not {purpose.make} {now}."
    return f"{name} below {_shown(what, needed)} {now} would {purpose.make}."


def _shown(what: str, value: u.Quantity, *, short: bool = False) -> str:
    """Return a size as a person reads it; periodic error as peak to peak, unsaid where that is said before."""
    if what == "periodic error":
        return f"{float(f'{value.to_value(u.arcsec):.2g}'):g}″{'' if short else ' peak to peak'}"
    return f"{float(f'{value.to_value(u.arcmin):.2g}'):g}′"


def _of(grid: ShareGrid) -> dict[str, Any]:
    """Return the fields of a grid that windows are made on."""
    return {name: getattr(grid, name)
            for name in ("seconds", "start_rad", "places_arcsec", "phases", "walks", "shakes", "creeps")}

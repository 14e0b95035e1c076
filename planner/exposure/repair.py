"""What to repair first where neither way is good: the one cause without which the rig would be fastest.

The largest motion is not always the one to repair: jitter widens every star alike, while what draws stars out loses
whole subs. So each cause is taken away by itself and the best speed worked out anew.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from astropy import units as u

from planner.exposure.scene import Scene, with_mount
from planner.rig.mount import AXIS
from planner.tracking.guiding import SWAY

EXACT = dict.fromkeys(AXIS, 0 * u.arcmin)  # and known to be
LEAST_GAIN = 1.01  # of the speed: a cause that brings less is not worth naming
WITHOUT: dict[str, dict[str, Any]] = {
    "periodic error": {"periodic": ()},
    "polar error": {**EXACT, "errors": EXACT},
    "jitter": {"jitter": 0 * u.arcsec},
    "wander": {"wander": 0 * u.arcsec / u.min**0.5},
    "drive rate": {"rate_error_ppm": 0.0},
    "flexure": {"flexure_ra": 0 * u.arcsec / u.h, "flexure_dec": 0 * u.arcsec / u.h},
    "encoder": {"encoder_counts": None},
}
FLEXURE_OF_GUIDER = "flexure between guider and camera"


@dataclass(frozen=True, kw_only=True)
class Repair:
    """The cause to repair first, and the best speed of the rig without it."""

    cause: str
    speed: float


def first_repair(scene: Scene, present: float, best_speed: Callable[[Scene], float]) -> Repair | None:
    """Return the cause whose removal brings most, by the best speed of a scene; None where none brings anything."""
    found = [Repair(cause=cause, speed=best_speed(cured)) for cause, cured in _cured(scene)]
    best = max(found, key=lambda one: one.speed, default=None)
    return best if best is not None and best.speed >= LEAST_GAIN * present else None


def _cured(scene: Scene) -> Iterator[tuple[str, Scene]]:
    """Yield every cause that the rig has, with the scene without it."""
    rig = scene.rig
    for cause, change in WITHOUT.items():
        cured = with_mount(scene, **change)
        if cured.rig.mount != rig.mount:
            yield cause, cured
    if rig.sway > 0:
        yield SWAY, replace(scene, rig=replace(rig, sway=0 * u.arcsec))
    if rig.guider is not None and rig.guider.differential_flexure > 0:
        stiff = replace(rig.guider, differential_flexure=0 * u.arcsec / u.h)
        yield FLEXURE_OF_GUIDER, replace(scene, rig=replace(rig, guider=stiff))

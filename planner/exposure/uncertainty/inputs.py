"""What the inputs of a verdict leave open: each figure's own standard error, else a usual spread; and single draws.

A figure that is a size (an amplitude, a width, a noise) is drawn log-normal about its value, an angle of the polar axis
normal. A smaller star variance in better seeing acts as a larger motion.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.constants import AIR_SPREAD
from planner.exposure.scene import Scene
from planner.fields import told
from planner.rig import Mount, PeriodicTerm
from planner.rig.mount import AXIS
from planner.tracking import GuideLoop

# Standard deviations of natural logarithms: figures of a class of drives, and figures that somebody typed. Common
# practice, no source, until a measurement says better.
CLASS_SPREAD = {"periodic error": 0.5, "jitter": 0.4, "wander": 0.5}
TYPED_SPREAD = {"periodic error": 0.25, "jitter": 0.3, "wander": 0.3}
SKY_SPREAD, READ_NOISE_SPREAD = 0.2, 0.1  # a fifth of a magnitude; from sensor to sensor
POLAR_SHARE = 0.3  # of a polar error that somebody typed
MAG_TO_LOG = 0.4 * np.log(10)
POLAR = dict(zip(("polar altitude", "polar azimuth"), AXIS, strict=True))


@dataclass(frozen=True, kw_only=True)
class OpenInput:
    """One thing that is not known exactly."""

    name: Annotated[str, "of the figure"]
    figure: str  # what it is a figure of: one word for all periodic terms, both polar angles
    spread: Annotated[float, "standard deviation"]
    assumed: Annotated[bool, "whether it is a usual spread, not a standard error that somebody gave"]
    term: PeriodicTerm | None = None  # the one periodic term that it is about
    unit = told(str, "of the spread", lambda item: "arcmin" if item.figure == "polar axis" else "natural logarithm")


def open_inputs(scene: Scene, loop: GuideLoop | None) -> tuple[OpenInput, ...]:
    """Return what is not known exactly, of a scene and of the loop that guides it."""
    mount, site, camera = scene.rig.mount, scene.site, scene.rig.camera
    found = [*_periodic(mount), *_noises(mount), *_axis(mount)]
    relative = site.relative_error("seeing")
    found.append(OpenInput(name="seeing", figure="seeing", assumed=relative is None,
                           spread=float(np.hypot(site.seeing_spread, relative or 0.0))))
    sky = site.errors.get("sky_brightness")
    found.append(OpenInput(name="sky", figure="sky", assumed=sky is None,
                           spread=SKY_SPREAD if sky is None else MAG_TO_LOG * float(u.Quantity(sky).value)))
    noise = camera.relative_error("read_noise")
    found.append(OpenInput(name="read noise", figure="read noise", assumed=noise is None,
                           spread=READ_NOISE_SPREAD if noise is None else _log_spread(noise)))
    if loop is not None:
        found.append(OpenInput(name="image motion", figure="image motion", spread=AIR_SPREAD, assumed=True))
    return tuple(item for item in found if item.spread > 0)


def _periodic(mount: Mount) -> list[OpenInput]:
    """Return one input for each term: a worm, its harmonics and the gears before it err by themselves."""
    found = []
    for term in (one for one in mount.periodic if one.amplitude > 0):
        relative = term.relative_error("amplitude")
        found.append(OpenInput(
            name=f"periodic error of {term.period.value:.4g} s", figure="periodic error", assumed=relative is None,
            spread=_usual(mount)["periodic error"] if relative is None else _log_spread(relative), term=term))
    return found


def _noises(mount: Mount) -> list[OpenInput]:
    found = []
    for name in ("jitter", "wander"):
        relative = mount.relative_error(name)
        if getattr(mount, name) > 0:
            found.append(OpenInput(name=name, figure=name, assumed=relative is None,
                                   spread=_usual(mount)[name] if relative is None else _log_spread(relative)))
    return found


def _axis(mount: Mount) -> list[OpenInput]:
    """Return both angles of the polar axis; where none was given, the axis is somewhere near the pole."""
    usual = POLAR_SHARE * np.hypot(*mount.axis.values()) / np.sqrt(2)
    return [OpenInput(name=name, figure="polar axis", assumed=key not in mount.errors,
                      spread=float((usual if mount.axis_given and key not in mount.errors else error)
                                   .to_value(u.arcmin)))
            for (name, key), error in zip(POLAR.items(), mount.axis_errors, strict=True)]


def _usual(mount: Mount) -> Mapping[str, float]:
    return CLASS_SPREAD if mount.drive_class is not None else TYPED_SPREAD


def _log_spread(relative: float) -> float:
    """Return the standard deviation of the logarithm of a log-normal figure with a relative standard error."""
    return float(np.sqrt(np.log1p(relative**2)))


@dataclass(frozen=True)
class Draw:
    """One draw: each input as many standard deviations off as `off` says, shape (inputs,)."""

    inputs: Sequence[OpenInput]
    off: np.ndarray

    def shift(self, name: str) -> float:
        """Return how far an input is off, in its own unit; 0 for what is known."""
        return sum(item.spread * float(off) for item, off in zip(self.inputs, self.off, strict=True)
                   if item.name == name)

    def factor(self, name: str) -> float:
        """Return by what a size is multiplied."""
        return float(np.exp(self.shift(name)))

    def amplitude_factor(self, term: PeriodicTerm) -> float:
        """Return by what the amplitude of one periodic term is multiplied."""
        return self.factor(next((item.name for item in self.inputs if item.term == term), ""))

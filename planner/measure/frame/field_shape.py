"""How the FWHM changes over the field: a tilted sensor, optics that are softer towards the corners; one frame or many.

A sensor that leans is out of focus by a plane. Where the focus lies to one side of the picture its stars widen from
there to the other side; where it lies in the middle, towards two opposite sides.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.fields import Key
from planner.measure.stars.field_parts import FieldParts

SIGNIFICANT = 4.0
LEAST_WIDTH = 0.1  # pix; smaller changes of the FWHM over the field are not told
SHARED = 0.5  # of the error of one frame, at least: what stars and neighbours that all frames share leave in the mean
SIDES = ("the right", "the upper right", "the top", "the upper left", "the left", "the lower left", "the bottom",
         "the lower right")


@dataclass(frozen=True, kw_only=True)
class Tilt:
    """What a tilt does to the FWHM, pix; the angle runs from +x towards +y."""

    size: Annotated[float, "from corner to corner, or more at two sides than across", Key("corner_to_corner_pixels")]
    error: Annotated[float, "of that", Key("error_pixels")]
    angle_deg: Annotated[float, "towards which stars are wider, from columns towards rows",
                         Key("towards_angle_from_columns_deg")]
    both_sides: Annotated[bool, "whether two opposite sides are wider"]


@dataclass(frozen=True, kw_only=True)
class FieldShape:
    """How the FWHM changes over the field; None where it does not significantly."""

    tilt: Tilt | None
    corners: tuple[float, float] | None  # pix, from the centre to the corners beside what the tilt does; its error


def field_shape(parts: Sequence[FieldParts]) -> FieldShape | None:
    """Return what frames share of the FWHM's change over the field; None where they have too few stars."""
    slope, fold = (_mean([getattr(part, f"fwhm_{name}").value * np.exp(
        turns * 1j * getattr(part, f"fwhm_{name}_angle").to_value(u.rad)) for part in parts],
        [getattr(part, f"fwhm_{name}_error").value for part in parts]) for name, turns in (("slope", 1), ("fold", 2)))
    growth = _mean([part.fwhm_growth.value for part in parts], [part.fwhm_growth_error.value for part in parts])
    if not np.isfinite(growth[0]):
        return None
    tilts = [Tilt(size=abs(value), error=error, angle_deg=float(np.degrees(np.angle(value)) / turns) % (360 / turns),
                  both_sides=turns == 2)
             for (value, error), turns in ((slope, 1), (fold, 2)) if _shown(abs(value), error)]
    corners = float(growth[0].real) - abs(fold[0]) / 2, float(np.hypot(growth[1], fold[1] / 2))
    return FieldShape(tilt=max(tilts, key=lambda one: one.size, default=None),
                      corners=corners if _shown(*corners) else None)


def _mean(values: list[complex], errors: list[float]) -> tuple[complex, float]:
    """Return the mean and its error: the scatter of frames, not below a frame's own, whose stars all frames share."""
    seen, own = np.array(values), np.array(errors)
    good = np.isfinite(seen) & np.isfinite(own)
    if not good.any():
        return complex(np.nan), np.nan
    scatter = float(np.sqrt(np.mean(np.abs(seen[good] - seen[good].mean()) ** 2) / good.sum()))
    shared = np.median(own[good]) * max(SHARED, good.sum() ** -0.5)
    return complex(seen[good].mean()), float(np.hypot(scatter, shared))


def _shown(size: float, error: float) -> bool:
    return bool(abs(size) > max(SIGNIFICANT * error, LEAST_WIDTH))


def shape_lines(shape: FieldShape | None, scale: float, unit: str) -> list[str]:
    """Return how the FWHM changes over the field, in words; `scale` and `unit` are those of a pixel."""
    lines = []
    if shape is not None and shape.corners is not None:
        size, error = (value * scale for value in shape.corners)
        lines.append(f"FWHM {'grows' if size > 0 else 'shrinks'} by {abs(size):.2f} ± {error:.2f}{unit} from the "
                     "centre to the corners: the optics (curvature, distance of the corrector).")
    if shape is not None and shape.tilt is not None:
        tilt = shape.tilt
        ways = [side_text(tilt.angle_deg)] + ([side_text(tilt.angle_deg + 180)] if tilt.both_sides else [])
        lines.append(f"FWHM grows by {tilt.size * scale:.2f} ± {tilt.error * scale:.2f}{unit} "
                     + (f"towards {' and '.join(ways)}, where the middle is in focus" if tilt.both_sides else
                        f"from corner to corner towards {ways[0]}") + ": a tilted sensor or focuser.")
    return lines


def side_text(angle_deg: float) -> str:
    """Return a direction in the image in words."""
    return SIDES[round(angle_deg / 45) % len(SIDES)]

"""Words that a choice may be; a type holds every place that uses one against them."""

from typing import Literal, get_args

Axis = Literal["ra", "dec"]
DriveRate = Literal["sidereal", "king", "model"]
MountDesign = Literal["german equatorial", "fork"]
PierSide = Literal["east", "west"]  # where the telescope is
SensorColour = Literal["mono", "bayer"]
Side = PierSide | Literal[""]  # "" for a mount without sides
Way = Literal["unguided", "guided"]

AXES: tuple[Axis, Axis] = ("ra", "dec")
PIER_SIDES: tuple[PierSide, ...] = get_args(PierSide)

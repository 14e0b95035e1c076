"""Reading and measuring one frame; its pixels are let go."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError, PlannerError
from planner.files.frames.load import read_frame
from planner.files.reading import InMemory
from planner.measure.frame.model import Measured
from planner.measure.frame.picture import stretched
from planner.measure.stars.plane import Counts, Frame
from planner.measure.stars.star_field import measure_frame
from planner.measure.stars.trail_inversion import Optics, optics_of
from planner.rig import Telescope

MEMORY = "Close other programs, or measure fewer frames at a time."


@dataclass(frozen=True, kw_only=True)
class Task:
    """One file and how to measure it; it travels to another process."""

    path: Path | InMemory
    colour: str
    mosaic: str | None
    saturation: float | None
    image_scale: u.Quantity | None  # of the camera's pixels, where the header gives none
    telescope: Telescope | None
    wavelength: u.Quantity | None
    picture: bool = False  # whether to make one

    @property
    def named(self) -> Path:
        """Path of the file, or the name of one in memory."""
        return Path(self.path.name) if isinstance(self.path, InMemory) else self.path


def measure_file(task: Task) -> Measured:
    """Read and measure one file; what is wrong with it comes back as an error."""
    path = task.named
    try:
        frame = read_frame(task.path, colour=task.colour, mosaic=task.mosaic)
        picture = stretched(frame.counts) if task.picture else None
        field = measure_frame(
            frame.counts, saturation=frame.saturation if task.saturation is None else task.saturation,
            optics=_optics(task, frame), pixel_step=frame.pixel_step, second=frame.second,
            overwrite=True)
    except PlannerError as error:
        return Measured(path, error=error)
    except MemoryError:
        return Measured(path, error=InvalidInputError("frame", path, "does not fit into memory", MEMORY))
    return Measured(path, replace(frame, counts=Counts(np.empty((0, 0))), second=None), field, picture=picture)


def _optics(task: Task, frame: Frame) -> Optics | None:
    scale = frame.image_scale if frame.image_scale is not None else task.image_scale
    if task.telescope is None or task.wavelength is None or scale is None:
        return None
    return optics_of(task.telescope, task.wavelength, scale * frame.pixel_step)

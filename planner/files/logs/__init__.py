"""What was written down at the telescope: drift logs, pointing sightings, solved positions. Read `readers.py`."""

from planner.files.logs.readers import (
    PointingFile,
    SolvedPositions,
    read_drift_log,
    read_pointing,
    read_positions,
)
from planner.files.logs.solved import (
    are_frames,
    frames_drift,
    frames_pointing,
    places_of,
    read_all_solved,
)

__all__ = ["PointingFile", "SolvedPositions", "are_frames", "frames_drift", "frames_pointing", "places_of",
           "read_all_solved", "read_drift_log", "read_pointing", "read_positions"]

"""What was written down at the telescope: drift logs, pointing sightings, solved positions. Read `readers.py`."""

from planner.files.logs.readers import (
    PointingFile,
    SolvedPositions,
    read_drift_log,
    read_pointing,
    read_positions,
)

__all__ = ["PointingFile", "SolvedPositions", "read_drift_log", "read_pointing", "read_positions"]

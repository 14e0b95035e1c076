"""The pier file: balance, wiring and column, read and changed.

In: its text. Out: `pier.PierSetup`, or every fault at once. Read `load`, then `edit`.
"""

from planner.files.pier.load import check_pier, load_pier, pier_path, user_pier_path

__all__ = ["check_pier", "load_pier", "pier_path", "user_pier_path"]

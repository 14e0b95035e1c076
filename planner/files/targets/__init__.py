"""What a name in the sky means: the catalogues, a list of one's own, a position as typed, and the stars around it.

In: names. Out: `visibility.Target`, and stars of the field for a guider. Read `find`, then `catalogue` and `nebulae`.
"""

from planner.files.targets.find import each_once, find_each, find_target, find_targets, numbers_of, user_targets_path

__all__ = ["each_once", "find_each", "find_target", "find_targets", "numbers_of", "user_targets_path"]

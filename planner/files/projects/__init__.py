"""Projects: hours wanted and done by target and filter, read, changed, and as what they ask of a night.

In: the text of a project file. Out: `session.projects.Project`, or one fault. Read `load`, then `wanted` and `edit`.
"""

from planner.files.projects.load import (
    COUNTED,
    HOURS,
    LENGTH,
    NIGHT_HOURS,
    SUBS,
    WHAT,
    ProjectFile,
    load_projects,
    name_key,
    parse_projects,
    user_projects_path,
)

__all__ = [
    "COUNTED", "HOURS", "LENGTH", "NIGHT_HOURS", "SUBS", "WHAT", "ProjectFile", "load_projects", "name_key",
    "parse_projects", "user_projects_path",
]

"""Projects: hours wanted and done by target and filter, read, changed, and as what they ask of a night.

In: the text of a project file. Out: `session.projects.Project`, or one fault. Read `load`, then `wanted` and `edit`.
"""

from planner.files.projects.load import ProjectFile, load_projects, user_projects_path

__all__ = ["ProjectFile", "load_projects", "user_projects_path"]

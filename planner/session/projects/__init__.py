"""Projects: what the observer wants of each target, what is done, and what is left to do.

In: project files or kinds of object. Out: `TargetRequest`s that a night's plan fills. Read `project.py`, then
`default_request.py` for what is usually wanted.
"""

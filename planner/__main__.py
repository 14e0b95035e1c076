"""`python -m planner` is the command `planner`."""

from planner.cli import main

main()

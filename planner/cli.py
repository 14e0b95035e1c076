"""The command `planner`: words in, one core call, an answer out."""

import sys


def main() -> None:
    """Run the command line."""
    print("planner: nothing to run yet")
    sys.exit(2)

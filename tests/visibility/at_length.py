"""Nights and windows against DE421 at length: python tests/visibility/at_length.py 250."""

import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from visibility.test_night import events_against_jpl
from visibility.test_windows import windows_against_jpl

if __name__ == "__main__":
    for check in (events_against_jpl, windows_against_jpl):
        check(int(sys.argv[1]))
    print("all within their limits")

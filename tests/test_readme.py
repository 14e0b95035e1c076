"""The README's lines of Python do what they show."""

import doctest
from pathlib import Path

README = Path(__file__).parents[1] / "README.md"


def test_the_lines_of_python_do_what_they_show():
    found = doctest.testfile(str(README), module_relative=False, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert found.attempted > 10
    assert found.failed == 0

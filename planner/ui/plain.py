"""Texts of the observer's own, shown as they are: no mark in a name turns into a heading, a link, a colour or a sum."""

import re

# A colon before a letter or slash begins a picture of its own or an address; these two are broken by a joiner that
# has no width, because the page turns them into pictures and links after the marks are read.
_MARKS = re.compile(r"([\\`*_\[\]$<>~|#])")
_LEADING = re.compile(r":(?=[A-Za-z/+_-])|(?i:(?<=www)\.)")
_JOINER = "\u2060"


def plain(text: object) -> str:
    """Return the text in the page's own marks, so that it reads as it was written."""
    return _LEADING.sub(lambda found: f"{found[0]}{_JOINER}", _MARKS.sub(r"\\\1", str(text)))

"""Texts of the observer's own, shown as they are: no mark in a name turns into a heading, a link, a colour or a sum."""

import re

# A colon before a letter or slash begins a picture of its own or an address; these two are broken by a joiner that
# has no width, because the page turns them into pictures and links after the marks are read.
_MARKS = re.compile(r"([\\`*_\[\]$<>~|#])")
_LEADING = re.compile(r":(?=[A-Za-z/+_-])|(?i:(?<=www)\.)")
_JOINER = "\u2060"
_QUOTED = re.compile(r'(?<![\w=])(?<!= )"([^"\n]+)"(?!\w)')  # not what a file or a command needs as it stands


def plain(text: object) -> str:
    """Return the text in the page's own marks, so that it reads as it was written, in the quotes of the pages."""
    return _LEADING.sub(lambda found: f"{found[0]}{_JOINER}", _MARKS.sub(r"\\\1", curled(str(text))))


def curled(text: str) -> str:
    """Return a text with the quotes of the pages."""
    return _QUOTED.sub(r"“\1”", text)

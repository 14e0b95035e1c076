"""An answer as lines: a label and what there is to say, one below the other, on a phone as on a desk."""

import html
from collections.abc import Iterable
from typing import Any

_STYLE = """
.st-key-verdict h2 {font-size: 1.7rem; padding: 0.1rem 0}
dl.lines {display: grid; grid-template-columns: max-content 1fr; gap: 0.35rem 1rem; margin: 0.8rem 0 0 !important;
  padding: 0; line-height: 1.4}
dl.lines dt {color: #565d64; margin: 0 !important}
dl.lines dd {margin: 0 !important; overflow-wrap: anywhere}
dl.lines dd small {color: #565d64; font-size: 0.9em}
dl.lines dd.later {min-height: 2.8em}
@media (max-width: 640px) {
  .st-key-verdict h2 {font-size: 1.25rem; line-height: 1.25}
  .st-key-verdict {gap: 0.4rem}
  dl.lines {gap: 0.25rem 0.6rem; grid-template-columns: 4.9rem 1fr; line-height: 1.3; font-size: 0.88rem}
  dl.lines dd.later {min-height: 2.6em}
}
"""
WAITING = "being worked out"


def draw_lines(place: Any, rows: Iterable[tuple[str, ...]], later: Iterable[str] = ()) -> None:
    """Draw rows of label, words and what there is to add; those named in `later` keep room for two lines."""
    later = frozenset(later)
    items = [f'<dt>{html.escape(label)}</dt><dd{_class(label in later)}>{html.escape(words)}{_small(more)}</dd>'
             for label, words, *more in rows]
    place.html(f'<style>{_STYLE}</style><dl class="lines">{"".join(items)}</dl>')


def _class(later: bool) -> str:
    return ' class="later"' if later else ""


def _small(more: list[str]) -> str:
    return "".join(f" <small>{html.escape(text)}</small>" for text in more if text)

"""An answer as lines: a label and what there is to say, one below the other, on a phone as on a desk."""

import html
from collections.abc import Iterable
from typing import Any

from planner.ui.plain import curled

_STYLE = """
[data-testid="stMain"] .st-key-verdict h2 {font-size: 1.7rem; padding: 0.1rem 0}
dl.lines {display: grid; grid-template-columns: max-content 1fr; gap: 0.35rem 1rem; margin: 0.8rem 0 0 !important;
  padding: 0; line-height: 1.4}
dl.lines dt {color: #4f565c; margin: 0 !important}
dl.lines dd {margin: 0 !important; overflow-wrap: anywhere}
dl.lines dd small {color: #4f565c; font-size: 0.9em}
dl.lines dd.later {min-height: 2.8em}
table.lines {width: 100%; border-collapse: collapse; line-height: 1.35; font-size: 0.95rem; margin-top: 0.4rem}
table.lines th, table.lines td {text-align: left; padding: 0.2rem 0.5rem 0.2rem 0; vertical-align: top}
table.lines th {font-weight: 400; color: #4f565c}
table.lines td {overflow-wrap: anywhere; width: 44%}
table.lines tr {border-bottom: 1px solid #d9dee3}
table.lines td.other {font-weight: 600}
@media (max-width: 640px) {
  table.lines {font-size: 0.82rem}
  [data-testid="stMain"] .st-key-verdict h2 {font-size: 1.25rem; line-height: 1.25}
  .st-key-verdict {gap: 0.4rem}
  dl.lines {gap: 0.25rem 0.6rem; grid-template-columns: 4.9rem 1fr; line-height: 1.3; font-size: 0.88rem}
  dl.lines dd.later {min-height: 2.6em}
}
"""
WAITING = "being worked out"


def draw_lines(place: Any, rows: Iterable[tuple[str, ...]], later: Iterable[str] = ()) -> None:
    """Draw rows of label, words and what there is to add; those named in `later` keep room for two lines."""
    later = frozenset(later)
    items = [f'<dt>{html.escape(label)}</dt><dd{_class(label in later)}>{_shown(words)}{_small(more)}</dd>'
             for label, words, *more in rows]
    place.html(f'<style>{_STYLE}</style><dl class="lines">{"".join(items)}</dl>')


def draw_table(place: Any, names: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> None:
    """Draw answers side by side: a label, the first one, and others, in bold where they differ from it."""
    head = "".join(f'<th scope="col">{html.escape(name)}</th>' for name in names)
    body = "".join(f'<tr><th scope="row">{html.escape(label)}</th><td>{_shown(first)}</td>'
                   + "".join(f'<td{_other(words != first)}>{_shown(words)}</td>' for words in others) + "</tr>"
                   for label, first, *others in rows)
    place.html(f'<style>{_STYLE}</style><table class="lines"><thead><tr>{head}</tr></thead>'
               f'<tbody>{body}</tbody></table>')


def _shown(words: str) -> str:
    return html.escape(curled(words))


def _other(differs: bool) -> str:
    return ' class="other"' if differs else ""


def _class(later: bool) -> str:
    return ' class="later"' if later else ""


def _small(more: list[str]) -> str:
    return "".join(f" <small>{_shown(text)}</small>" for text in more if text)

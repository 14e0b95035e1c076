"""What in a pier file still is the example of the starting file."""

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from planner.files.packaged import packaged_data
from planner.files.pier.load import LISTS, SINGLES, WHAT, pier_path
from planner.files.reading import read_text


def pier_examples(path: Path | str | None = None) -> list[str]:
    """Return the tables of a pier file that still are the starting file's, repeated ones counted; none of the demo."""
    used, demo = pier_path(path), packaged_data("pier.toml")
    if used == demo:
        return []
    document, starter = (tomllib.loads(read_text(one, what=WHAT)) for one in (used, demo))
    same = [f"[{kind}]" for kind in SINGLES if kind in document and document[kind] == starter.get(kind)]
    counts = {kind: sum(table in starter[kind] for table in _tables(document.get(kind, []))) for kind in LISTS}
    return same + [f"{count} [[{kind}]]" for kind, count in counts.items() if count]


def _tables(tables: Any) -> Sequence[Any]:
    return tables if isinstance(tables, list) else [tables]

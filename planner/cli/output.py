"""What commands print: JSON that is the same byte for byte, tables, and notes on stderr."""

import contextlib
import os
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from planner.files.json_text import json_text

if TYPE_CHECKING:
    from rich.console import Console

quiet = False  # whether notes are left out, as --quiet asks
running: Any = None  # the typer context of the command that runs
PLAIN_WIDTH = 110  # columns when the output is no terminal


def print_json(document: Mapping[str, Any], part: str | None = None) -> None:
    """Print one JSON object, named after the command and the part of it: ``gear``, ``gear_check``, ``pier_power``."""
    words = [*running.command_path.split()[1:], running.invoked_subcommand, part]
    print(json_text(document, "_".join(filter(None, words))))


def console() -> "Console":
    """Return where tables go: colour only on a terminal and without NO_COLOR, a fixed width elsewhere."""
    from rich.console import Console

    columns = os.environ.get("COLUMNS", "")
    fixed = None if sys.stdout.isatty() else int(columns) if columns.isdigit() and int(columns) > 20 else PLAIN_WIDTH
    return Console(file=sys.stdout, width=fixed, highlight=False, soft_wrap=False)


def print_table(title: str, columns: Sequence[str], rows: Iterable[Sequence[Any]], *,
                right: Sequence[str] = ()) -> None:
    """Print a table; cells are printed as text, markup in them is not obeyed; columns in `right` align right."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(title=Text(title, style="bold"), title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for column in columns:
        table.add_column(column, justify="right" if column in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text("" if cell is None else str(cell)) for cell in row))
    console().print(table)


@contextlib.contextmanager
def only_our_words() -> Iterator[None]:
    """Keep what compiled libraries write on standard output out of the answer: the solver talks now and then."""
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        sys.stdout.flush()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def note(text: str) -> None:
    """Print a note on stderr, where it does not disturb the answer."""
    if not quiet:
        print(text, file=sys.stderr)


def unit_key(name: str, unit: Any) -> str:
    """Return a key that ends in its unit: ``gain`` in electron/adu gives ``gain_electron_per_adu``."""
    text = str(unit).replace(" ", "").replace("min(1/2)", "sqrt_min").replace("pix", "pixel")
    text = text.replace("1/", "per_").replace("/", "_per_")
    return f"{name}_{text}" if text else name

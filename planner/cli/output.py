"""What commands print: JSON that is the same byte for byte, tables, and notes on stderr."""

import contextlib
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.cli.streams import waiting
from planner.errors import BAD_INPUT
from planner.files.json_text import json_text
from planner.signs import minus

if TYPE_CHECKING:
    from rich.console import Console

quiet = False  # whether notes are left out, as --quiet asks
running: Any = None  # the typer context of the command that runs
FIGURE = re.compile(r"(?<=[0-9]) (?=%|(?:s|h|min|m|mm|kg|V|A|W|Hz|mag)\b)")
NARROWEST = 20
PLAIN_WIDTH = 110  # columns when the output is no terminal


def print_json(document: Mapping[str, Any], part: str | None = None) -> None:
    """Print one JSON object, named after the command and the part of it: ``gear``, ``gear_check``, ``pier_power``."""
    words = [*running.command_path.split()[1:], running.invoked_subcommand, part]
    print(json_text(document, "_".join(filter(None, words))))


def console() -> "Console":
    """Return where tables go: colour only on a terminal and without NO_COLOR, a fixed width elsewhere."""
    from rich.console import Console

    fixed = None if sys.stdout.isatty() else width()
    return Console(file=sys.stdout, width=fixed, highlight=False, soft_wrap=False)


def width() -> int:
    """Return the columns of the terminal, or of COLUMNS, or what stands for them elsewhere."""
    return max(shutil.get_terminal_size((PLAIN_WIDTH, 0)).columns, NARROWEST)


def print_table(title: str, columns: Sequence[str], rows: Iterable[Sequence[Any]], *, right: Sequence[str] = (),
                boxed: bool = True) -> None:
    """Print a table; cells are printed as text, markup in them is not obeyed; columns in `right` align right.

    Negative numbers get a minus sign. Where the longest words do not fit beside each other, each row is printed as a
    short list.
    """
    from rich import box
    from rich.table import Table
    from rich.text import Text

    cells = [["" if cell is None else minus(str(cell)) for cell in row] for row in rows]
    out = console()
    gap, edges = (3, 2) if boxed else (2, 0)
    room = out.width - gap * (len(columns) - 1) - edges
    widths = _widths(columns, cells, room)
    if sum(widths) > room:
        _print_lists(out, title, columns, cells)
        return
    table = Table(title=Text(title, style="bold"), title_justify="left", box=box.SIMPLE_HEAD if boxed else None,
                  pad_edge=False, min_width=min(len(title) + 1, out.width))
    for number, (column, width) in enumerate(zip(columns, widths, strict=True)):
        table.add_column(column, justify="right" if column in right and number else "left", width=width)
    for row in cells:
        table.add_row(*map(Text, row))
    out.print(table)


def print_lines(*lines: str, hang: int = 0) -> None:
    """Print sentences, each wrapped to the width of tables; the rest of an indented line is indented too, or by `hang`.

    Where the width is less than twice that, what follows is indented by four.
    """
    columns = width()
    for line in "\n".join(lines).split("\n") if lines else ():
        indent = " " * ((hang if 2 * hang < columns else 4) if hang else len(line) - len(line.lstrip()))
        whole = FIGURE.sub("\u00a0", line)  # a figure stays with its unit
        print(textwrap.fill(whole, columns, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
              .replace("\u00a0", " "))


def _widths(columns: Sequence[str], rows: Sequence[Sequence[str]], room: int) -> list[int]:
    """Return a width for each column: where room lacks, the widest gives way, down to its longest word."""
    from rich.cells import cell_len

    texts = list(zip(columns, *rows, strict=True))
    least = [max(cell_len(word) for text in column for word in text.split() or [""]) for column in texts]
    widths = [max(map(cell_len, column)) for column in texts]
    for _ in range(min(sum(widths) - room, sum(widths) - sum(least))):
        spare = [width if width > word else 0 for width, word in zip(widths, least, strict=True)]
        widths[spare.index(max(spare))] -= 1
    return widths


def _print_lists(out: "Console", title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print each row as its name and, beneath it, a line for each cell that holds something."""
    from rich.padding import Padding
    from rich.text import Text

    if title:
        out.print(Text(title, style="bold"))
    for name, *cells in rows:
        out.print(Text(name, style="bold"))
        for column, cell in zip(columns[1:], cells, strict=True):
            if cell:
                out.print(Padding(Text(f"{column}: {cell}" if column else cell), (0, 0, 0, 2)))
    out.print()


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


def print_check(path: Path, problems: Sequence[str], remarks: Sequence[str], json: bool, part: str | None = None
                ) -> None:
    """Print every problem of a file, or that there is none; problems give the exit code of bad input."""
    import typer

    if json:
        from planner.cli.of_file import Checked
        from planner.fields import document

        print_json(document(Checked(file=path, problems=problems, remarks=remarks)), part)
    elif problems:
        print(*problems, sep="\n", file=sys.stderr)
    else:
        print(f"{path}: no problems.")
        print_lines(*remarks)
    if problems:
        raise typer.Exit(BAD_INPUT)


def note(text: str) -> None:
    """Tell a note beside the answer, as soon as there is one."""
    if not quiet:
        waiting.append(text)

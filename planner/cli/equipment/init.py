"""`planner init`: commented files to start from; an existing one is never touched."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.of_file import OfFile
from planner.cli.options import EquipmentOption, JsonOption, new_app
from planner.cli.output import print_json
from planner.errors import InvalidInputError
from planner.fields import document
from planner.files.equipment.start import begin_file

app = new_app()
CHECKS = {"equipment": ("gear --check", "--equipment"), "pier": ("pier check", "--pier"),
          "projects": ("done", "--project"), "targets": ("night", "--targets")}


@app.command()
def init(
    kind: Annotated[str, typer.Argument(metavar="[KIND]", help="equipment, pier, projects or targets.")] = "equipment",
    file: Annotated[Path | None, typer.Option("--file", metavar="FILE", help="Where to write it, instead of the folder "
                                              "of your settings.")] = None,
    equipment: EquipmentOption = None, json: JsonOption = False,
) -> None:
    """Write a commented file to start from; an existing file is never overwritten."""
    if equipment is not None and (file is not None or kind != "equipment"):
        raise InvalidInputError("--equipment", equipment, f"does not go with {'--file' if file else kind}",
                                "Use --file.")
    begin(kind, equipment if file is None else file, json=json)


@dataclass(frozen=True, kw_only=True)
class Begun(OfFile):
    """A file that was begun."""

    written: Annotated[bool, "always: an existing file is refused"] = True


def begin(kind: str, named: Path | None, *, json: bool) -> None:
    """Write one of the observer's files and say what to do next."""
    path = begin_file(kind, named)
    if json:
        print_json(document(Begun(file=path)))
        return
    command, option = CHECKS[kind]
    where = "" if named is None else f' {option} "{path}"'
    print(f"Wrote {path}")
    print(f"Next: change its figures to yours, then run: planner {command}{where}")

"""`planner sources`: where data and libraries come from, under which licence, and the papers behind the formulas."""

from dataclasses import dataclass
from typing import Annotated

from planner.cli.options import JsonOption, new_app
from planner.cli.output import print_json, print_lines, print_table
from planner.fields import Key, document, rows
from planner.files.sources.data_sources import COLUMNS, DATA, LIBRARIES, LIBRARY_COLUMNS
from planner.files.sources.formulas import FormulaReference, formula_references

app = new_app()


@dataclass(frozen=True)
class Sources:
    """Where everything comes from."""

    formulas: Annotated[tuple[FormulaReference, ...], "papers and standards"]
    data = rows("catalogues and tables", lambda _: DATA, data=(str, "what it is"),
                used_for=(str, "in the program", Key("used for")), origin=(str, "where it comes from"),
                licence=(str, "its licence"))
    libraries = rows("that the program rests on", lambda _: LIBRARIES, library=(str, "its name"),
                     licence=(str, "its licence"))


@app.command()
def sources(json: JsonOption = False) -> None:
    """List catalogues and libraries with their licences, and the papers behind the formulas."""
    references = formula_references()
    if json:
        print_json(document(Sources(references)))
        return
    print_table("Data", COLUMNS, DATA)
    print_table("Libraries", LIBRARY_COLUMNS, LIBRARIES)
    print_table("Formulas", ("paper or standard", "used in"),
                [(item.text, ", ".join(item.modules)) for item in references])
    print_lines("Nothing is fetched at run time: all of it is on this machine.")

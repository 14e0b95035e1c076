"""`planner sources`: where data and libraries come from, under which licence, and the papers behind the formulas."""

from planner.cli.options import JsonOption, new_app
from planner.cli.output import print_json, print_lines, print_table
from planner.files.sources.data_sources import COLUMNS, DATA, LIBRARIES, LIBRARY_COLUMNS
from planner.files.sources.formulas import formula_references

app = new_app()


@app.command()
def sources(json: JsonOption = False) -> None:
    """List catalogues and libraries with their licences, and the papers behind the formulas."""
    references = formula_references()
    if json:
        print_json({
            "data": [dict(zip(COLUMNS, row, strict=True)) for row in DATA],
            "libraries": [dict(zip(LIBRARY_COLUMNS, row, strict=True)) for row in LIBRARIES],
            "formulas": [{"reference": item.text, "modules": list(item.modules)} for item in references],
        })
        return
    print_table("Data", COLUMNS, DATA)
    print_table("Libraries", LIBRARY_COLUMNS, LIBRARIES)
    print_table("Formulas", ("paper or standard", "used in"),
                [(item.text, ", ".join(item.modules)) for item in references])
    print_lines("Nothing is fetched at run time: all of it is on this machine.")

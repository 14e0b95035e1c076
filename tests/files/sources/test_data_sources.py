"""The licences that the program names, against those that the installed packages and the data files declare."""

import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from planner.files.sources.data_sources import DATA, LIBRARIES

ROOT = Path(__file__).parents[3]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
ASKED = PROJECT["dependencies"] + [one for name, some in PROJECT["optional-dependencies"].items() if name != "test"
                                   for one in some]
# May be used beside a BSD licence: permissive ones, and a lesser general public licence for a library that is imported.
COMPATIBLE = {"BSD-2-Clause", "BSD-3-Clause", "MIT", "MIT-CMU", "Apache-2.0", "LGPL-3.0-or-later"}
# As packages word them: the family of a licence. Those of file-wise sharing (MPL) bind their own files alone.
WORDS = {"BSD": "BSD", "MIT": "MIT", "Apache": "Apache", "LGPL": "LGPL", "Lesser General Public": "LGPL",
         "MPL-2.0": "MPL", "PSF-2.0": "PSF", "ISC": "ISC", "Redistribution and use in source and binary forms": "BSD"}


def declared(package: Distribution) -> str:
    found = package.metadata
    return " ".join([*(line for line in found.get_all("Classifier", []) if line.startswith("License")),
                     found.get("License-Expression") or found.get("License") or ""])


def families(package: Distribution) -> set[str]:
    return {family for word, family in WORDS.items() if word in declared(package)}


def installed() -> dict[str, Distribution]:
    """Return by name every package that the program and its extras bring, what those need in turn among them."""
    waiting, found = [Requirement(one) for one in ASKED], {}
    while waiting:
        asked = waiting.pop()
        name = re.sub("[-_.]+", "-", asked.name).lower()
        if name in found or (asked.marker and not asked.marker.evaluate({"extra": ""})):
            continue
        try:
            found[name] = distribution(asked.name)
        except PackageNotFoundError:
            raise AssertionError(f"{asked} is not installed") from None
        waiting += [Requirement(one) for one in found[name].requires or []]
    return found


def test_each_library_that_is_asked_for_is_named():
    asked = {Requirement(one).name for one in ASKED}
    assert {name.removesuffix(" (optional)") for name, _ in LIBRARIES} == asked


@pytest.mark.parametrize(("library", "licence"), LIBRARIES)
def test_its_licence_is_the_one_it_declares(library, licence):
    assert licence in COMPATIBLE
    assert licence.split("-")[0] in families(distribution(library.removesuffix(" (optional)")))


def test_what_libraries_need_in_turn_may_be_used_beside_them():
    found = installed()
    assert len(found) > len(LIBRARIES)
    assert [f"{name}: {declared(package)[:80]}" for name, package in found.items() if not families(package)] == []
    # A whole text may speak of other licences, as of the compiler's runtime that a wheel carries; names are short.
    assert [name for name, package in found.items()
            if re.search("(?<!L)GPL|Affero|GNU General", declared(package)[:200])] == []


def test_each_data_file_states_its_origin_and_the_package_its_licences():
    """The text files say it themselves; the demo frame is drawn, the schema is that of our own documents."""
    texts = [path for path in (ROOT / "data").rglob("*") if path.suffix in (".csv", ".toml")]
    assert [path.name for path in texts
            if not re.search("Origin: |Licence of this file: ", path.read_text(encoding="utf-8")[:600])] == []
    others = {path.name for path in (ROOT / "data").rglob("*") if path.is_file()} - {path.name for path in texts}
    assert others == {"documents.json", "frame_demo.fits", "advice.png", "tonight.png"}
    carried = {licence.replace(" ", "-") for _, _, origin, licence in DATA if "data/" in origin}
    assert PROJECT["license"] == " AND ".join(["BSD-3-Clause", *sorted(carried)])

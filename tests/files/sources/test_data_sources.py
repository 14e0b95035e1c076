"""The licences that the program names, against those that the installed packages declare."""

import re
import tomllib
from importlib.metadata import metadata
from pathlib import Path

import pytest

from planner.files.sources.data_sources import LIBRARIES

PROJECT = tomllib.loads((Path(__file__).parents[3] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = [one for name, some in PROJECT["optional-dependencies"].items() if name != "test" for one in some]
# May be used beside a BSD licence: permissive ones, and a lesser general public licence for a library that is imported.
COMPATIBLE = {"BSD-2-Clause", "BSD-3-Clause", "MIT", "Apache-2.0", "LGPL-3.0-or-later"}
WORDS = {"BSD": "BSD", "MIT": "MIT", "Apache": "Apache", "LGPL": "LGPL", "Lesser General Public": "LGPL"}


def test_each_library_that_is_asked_for_is_named():
    asked = {re.split("[<>=]", one)[0] for one in PROJECT["dependencies"] + EXTRAS}
    assert {name.removesuffix(" (optional)") for name, _ in LIBRARIES} == asked


@pytest.mark.parametrize(("library", "licence"), LIBRARIES)
def test_its_licence_is_the_one_it_declares(library, licence):
    assert licence in COMPATIBLE
    found = metadata(library.removesuffix(" (optional)"))
    declared = " ".join([found.get("License-Expression") or found.get("License") or "",
                         *(line for line in found.get_all("Classifier", []) if line.startswith("License"))])
    families = {family for word, family in WORDS.items() if word in declared}
    if "Redistribution and use in source and binary forms" in declared:
        families.add("BSD")
    assert licence.split("-")[0] in families

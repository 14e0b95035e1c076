"""The papers behind the formulas, gathered from where the formulas stand: the docstrings of the modules."""

import re
from dataclasses import dataclass
from pathlib import Path

from planner.files.packaged import PACKAGE

# A numpydoc reference: `.. [KY89] text`, going on over deeper indented lines.
_REFERENCE = re.compile(r"^([ \t]*)\.\. \[(\w+)\][ \t]+(.+(?:\n\1[ \t]+\S.*)*)", re.M)


@dataclass(frozen=True, order=True)
class FormulaReference:
    """A paper or standard and the modules that rest on it."""

    text: str
    modules: tuple[str, ...]


def formula_references(package: Path = PACKAGE) -> tuple[FormulaReference, ...]:
    """Return every reference named in the package's docstrings, by author, with the modules that name it."""
    modules: dict[str, set[str]] = {}
    for path in sorted(package.rglob("*.py")):
        name = ".".join(path.relative_to(package).with_suffix("").parts)
        for _, _, text in _REFERENCE.findall(path.read_text(encoding="utf-8")):
            if not text.startswith("`"):  # a pointer to another docstring
                modules.setdefault(" ".join(text.split()), set()).add(name)
    return tuple(sorted(FormulaReference(text, tuple(sorted(names))) for text, names in modules.items()))

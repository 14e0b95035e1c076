"""Every formula the program uses, and the papers behind them, gathered from where they stand: the docstrings."""

import ast
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from planner.fields import Key
from planner.files.own_files import PACKAGE

ROOMS = ("optics", "sky", "tracking", "exposure", "visibility", "measure", "session", "pier", "rig")
# `.. [KY89] text`, going on over deeper indented lines; one that begins with ` points to another docstring.
_REFERENCE = re.compile(r"^([ \t]*)\.\. \[(\w+)\][ \t]+(.+(?:\n\1[ \t]+\S.*)*)", re.M)
_MATH = re.compile(r"^\.\. math::[ \t]*(.*(?:\n(?:[ \t]+\S.*|[ \t]*$(?=\n[ \t]+\S)))*)", re.M)
_SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}[ \t]*$", re.M)
_INLINE = re.compile(r":math:`([^`]+)`")
_CITED = re.compile(r"\[(\w+)\]_")


@dataclass(frozen=True)
class Formula:
    """One formula: what it gives, how, where it holds and who published it. Texts are Markdown with $LaTeX$."""

    room: str
    module: str  # planner.sky.airmass
    name: str  # of the function, or of the module
    summary: str
    equations: tuple[str, ...]  # LaTeX
    validity: str  # how, with the equations in their place; behaviour out of range and accuracy
    references: tuple[str, ...]

    @property
    def title(self) -> str:
        """The name in words."""
        return self.name.strip("_").replace("_", " ").capitalize().replace("fwhm", "FWHM").replace("Fwhm", "FWHM")

    def holds(self, words: str) -> bool:
        """Return whether every word stands somewhere in it, capitals aside."""
        text = " ".join((self.module, self.title, self.summary, *self.equations, self.validity, *self.references))
        return all(word in text.lower() for word in words.lower().split())


def formulas(package: Path = PACKAGE) -> tuple[Formula, ...]:
    """Return every formula of the package that its docstring writes out or gives a reference for, room by room."""
    papers: dict[str, str] = {}
    found: list[tuple[str, Path, str, str]] = []
    for room in ROOMS:
        for path in sorted((package / room).rglob("*.py")):
            for name, text in _docstrings(path):
                papers |= {key: _one_line(paper) for _, key, paper in _REFERENCE.findall(text)
                           if not paper.startswith("`")}
                if ":math:" in text or ".. math::" in text or _REFERENCE.search(text):
                    found.append((room, path, name, text))
    return tuple(_formula(room, path.relative_to(package), name, text, papers) for room, path, name, text in found)


def _docstrings(path: Path) -> list[tuple[str, str]]:
    """Return the docstrings of a module and of what stands in it, by name, in their order."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    nodes = [tree, *(node for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.ClassDef)))]
    texts = ((getattr(node, "name", path.stem), ast.get_docstring(node)) for node in nodes)
    return [(name, text) for name, text in texts if text]


def _formula(room: str, path: Path, name: str, text: str, papers: dict[str, str]) -> Formula:
    heads = list(_SECTION.finditer(text))
    ends = [*(head.start() for head in heads), len(text)][1:]
    sections = {head[1]: text[head.end():end] for head, end in zip(heads, ends, strict=True)}
    lead = text[: heads[0].start()] if heads else text
    equations = tuple(_one_line(math) for math in _MATH.findall(text))
    prose = _paragraphs(lead)
    own = {key: _one_line(paper) for _, key, paper in _REFERENCE.findall(text) if not paper.startswith("`")}
    pointed = [key for _, key, paper in _REFERENCE.findall(text) if paper.startswith("`")]
    cited = {key: papers[key] for key in [*_CITED.findall(text), *pointed] if key in papers}
    validity = [*prose[1:], _deeper(sections.get("Returns", "")), *_paragraphs(sections.get("Notes", ""))]
    return Formula(
        room=room, module=".".join(("planner", *path.with_suffix("").parts)), name=name,
        summary=_subject(_markdown(prose[0])), equations=equations,
        validity="\n\n".join(_markdown(part) for part in validity if part.strip()),
        references=tuple((own | {key: paper for key, paper in cited.items() if key not in own}).values()))


def _paragraphs(text: str) -> list[str]:
    """Return the paragraphs of a docstring's part, equations among them as $$LaTeX$$, references left out."""
    placed = _MATH.sub(lambda math: f"\n\n$$ {_one_line(math[1])} $$\n\n", text)
    return [part for part in re.split(r"\n\s*\n", _REFERENCE.sub("", placed).strip()) if part.strip()]


def _subject(sentence: str) -> str:
    """Return a sentence about what a function does as one about what it gives."""
    for verb in ("Return ", "Compute "):
        if sentence.startswith(verb):
            rest = sentence.removeprefix(verb)
            return rest[:1].upper() + rest[1:]
    return sentence


def _deeper(section: str) -> str:
    """Return what a section says about its values: the lines set in below their names and types."""
    return "\n".join(line for line in section.splitlines() if line.startswith("    "))


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _markdown(text: str) -> str:
    """Return reStructuredText prose as Markdown on one line."""
    text = _CITED.sub(r"(\1)", _INLINE.sub(r"$\1$", _one_line(text)))
    return text.replace("``", "`")


@dataclass(frozen=True, order=True)
class FormulaReference:
    """A paper or standard and the modules that rest on it."""

    text: Annotated[str, "as the docstrings have it", Key("reference")]
    modules: Annotated[tuple[str, ...], "that rest on it"]


def formula_references(package: Path = PACKAGE) -> tuple[FormulaReference, ...]:
    """Return every reference named in the package's docstrings, by author, with the modules that name it."""
    modules: dict[str, set[str]] = {}
    for path in sorted(package.rglob("*.py")):
        name = ".".join(path.relative_to(package).with_suffix("").parts)
        for _, _, text in _REFERENCE.findall(path.read_text(encoding="utf-8")):
            if not text.startswith("`"):  # a pointer to another docstring
                modules.setdefault(" ".join(text.split()), set()).add(name)
    return tuple(sorted(FormulaReference(text, tuple(sorted(names))) for text, names in modules.items()))

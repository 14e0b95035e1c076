"""The house rules: imports point down, rooms keep to their libraries, importing costs nothing."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import planner

ROOT = Path(planner.__file__).parent
# Lower floors first; rooms on one floor do not import each other.
FLOORS = [
    ["errors"], ["checks", "constants"], ["rig"], ["optics", "sky"], ["tracking"], ["exposure", "visibility"],
    ["session", "measure", "pier"], ["files", "charts"], ["ui", "cli"],
]
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
ONLY_IN = {"streamlit": {"ui"}, "altair": {"charts"}, "astroplan": {"visibility"}, "sep": {"measure"}}
# Still to be divided.
CROWDED = {"files", "ui", "cli", "pier", "visibility"}
FILE_ROOMS = {"files", "cli", "ui"}
MODULES = sorted(path for path in ROOT.rglob("*.py") if "packaged" not in path.parts)


def room_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[0]


def imported_names(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_point_down(path):
    room = room_of(path)
    if room in ("__init__", "__main__"):
        return
    assert room in FLOOR_OF, f"{room} is not a room of the house"
    for name in imported_names(path):
        parts = name.split(".")
        if parts[0] == "planner" and len(parts) > 1 and parts[1] in FLOOR_OF and parts[1] != room:
            assert FLOOR_OF[parts[1]] < FLOOR_OF[room], f"{path} imports {name}"
        if parts[0] in ONLY_IN:
            assert room in ONLY_IN[parts[0]], f"{path} imports {name}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_only_the_file_room_opens_files(path):
    if room_of(path) in FILE_ROOMS:
        return
    calls = [node for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)]
    opened = [node.lineno for node in calls if isinstance(node.func, ast.Name) and node.func.id == "open"]
    assert not opened, f"{path} opens a file on line {opened}"


def test_importing_the_package_costs_nothing():
    code = "import sys, planner; print([m for m in ('astropy.coordinates', 'streamlit', 'numpy') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_command_line_starts_without_the_slow_libraries():
    slow = ("astropy.coordinates", "streamlit", "scipy.optimize", "astroplan", "pandas", "altair")
    code = f"import sys, planner.cli; print([m for m in {slow!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_no_room_is_crowded():
    for folder in {path.parent for path in MODULES}:
        modules = [path for path in folder.glob("*.py") if path.name != "__init__.py"]
        assert len(modules) <= (40 if folder.name in CROWDED else 16), folder


def test_every_room_says_what_it_answers():
    for path in (path for path in MODULES if path.name == "__init__.py" and path.parent.name != "packaged"):
        assert len((ast.get_docstring(ast.parse(path.read_text())) or "").split()) > 5, path


def test_a_class_name_has_one_meaning():
    places = {}
    for path in MODULES:
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(str(path.relative_to(ROOT)))
    assert {name: there for name, there in places.items() if len(there) > 1} == {}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_is_private_stays_in_its_module(path):
    tree = ast.parse(path.read_text())
    taken = [f"{node.module}.{alias.name}" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)
             and (node.module or "").startswith("planner") for alias in node.names
             if alias.name.startswith("_") and not alias.name.startswith("__")]
    assert taken == []


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_is_merely_asserted(path):
    lines = [node.lineno for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Assert)]
    assert not lines, f"{path} asserts on lines {lines}: type it, or raise an error that says what to do"

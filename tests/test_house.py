"""The house rules: imports point down, rooms keep to their libraries, importing costs nothing."""

import ast
import functools
import subprocess
import sys
from pathlib import Path

import pytest

import planner

ROOT = Path(planner.__file__).parent
# Lower floors first; rooms on one floor do not import each other.
FLOORS = [
    ["errors", "signs", "cores"], ["checks", "constants"], ["fields"], ["rig"], ["optics", "sky"], ["tracking"],
    ["exposure", "visibility"], ["session", "measure", "pier"], ["files", "charts"], ["ui", "cli"],
]
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
# The same of sub-rooms; a name may be a module that stands beside them. A drift's answer holds what is known after it.
SUB_FLOORS = {
    "session": [["projects", "optimum", "worth"], ["advice"], ["night", "match"], ["year", "schedule"], ["campaign"]],
    "measure": [["error_text", "robust"], ["stars", "drift posterior", "polar"], ["frame", "pointing"]],
    "pier": [["objection", "cautions", "dew"], ["column", "wiring"], ["balance"], ["setup"]],
}
ONLY_IN = {"streamlit": {"ui"}, "altair": {"charts"}, "astroplan": {"visibility"}, "sep": {"measure"}}
FILE_ROOMS = {"files", "cli", "ui"}
# Public names for those who script, without a caller in the product (README, "In Python").
OUTSIDE = {"planner.optics.star_image.star_image", "planner.optics.image_scale.image_scale",
           "planner.sky.airmass.airmass", "planner.sky.moonlight.moonlight",
           "planner.session.schedule.night_schedule"}
MODULES = sorted(path for path in ROOT.rglob("*.py") if "packaged" not in path.parts)


@functools.cache
def parsed(path):
    return ast.parse(path.read_text())


def room_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[0]


def imported_names(path):
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def test_imports_point_down():
    wrong = []
    for path in MODULES:
        room = room_of(path)
        if room in ("__init__", "__main__"):
            continue
        assert room in FLOOR_OF, f"{room} is not a room of the house"
        for name in imported_names(path):
            parts = name.split(".")
            inside = parts[0] == "planner" and len(parts) > 1 and parts[1] in FLOOR_OF and parts[1] != room
            if (inside and FLOOR_OF[parts[1]] >= FLOOR_OF[room]) or room not in ONLY_IN.get(parts[0], {room}):
                wrong.append(f"{path.relative_to(ROOT)} imports {name}")
    assert wrong == []


@pytest.mark.parametrize("room", SUB_FLOORS)
def test_sub_rooms_import_down(room):
    floor_of = {name: (floor, rooms) for floor, those in enumerate(SUB_FLOORS[room]) for rooms in those
                for name in rooms.split()}
    wrong = []
    for path in (path for path in MODULES if room_of(path) == room and path != ROOT / room / "__init__.py"):
        floor, own = floor_of[path.relative_to(ROOT / room).with_suffix("").parts[0]]
        for name in (name.split(".") for name in imported_names(path) if name.startswith(f"planner.{room}.")):
            there, rooms = floor_of[name[2]]
            wrong += [f"{path.relative_to(ROOT)} imports {'.'.join(name)}"] if there >= floor and rooms != own else []
    assert wrong == []


def test_only_the_file_room_opens_files():
    opened = [f"{path.relative_to(ROOT)}:{node.lineno}" for path in MODULES if room_of(path) not in FILE_ROOMS
              for node in ast.walk(parsed(path)) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
              and node.func.id == "open"]
    assert opened == []


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
        assert len(modules) <= 15, folder


def test_every_room_says_what_it_answers():
    for path in (path for path in MODULES if path.name == "__init__.py" and path.parent.name != "packaged"):
        assert len((ast.get_docstring(parsed(path)) or "").split()) > 5, path


def test_a_class_name_has_one_meaning():
    places = {}
    for path in MODULES:
        for node in parsed(path).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(str(path.relative_to(ROOT)))
    assert {name: there for name, there in places.items() if len(there) > 1} == {}


def test_tests_stand_where_their_module_stands():
    """A test named as one module stands in its folder's twin or above; one of a whole room has a name of its own."""
    tests = Path(__file__).parent
    places = {path.stem: path.parent.relative_to(ROOT) for path in MODULES
              if sum(path.stem == other.stem for other in MODULES) == 1 and room_of(path) != "charts"}
    wrong = []
    for path in (path.relative_to(tests) for path in tests.rglob("test_*.py")):
        if path.parts[0] in FLOOR_OF:
            twin = places.get(path.stem[5:], path.parent)
            wrong += [] if (ROOT / path.parent).is_dir() and path.parent in (twin, *twin.parents) else [str(path)]
    assert wrong == []


def test_what_is_private_stays_in_its_module():
    taken = [f"{path.relative_to(ROOT)} takes {node.module}.{alias.name}" for path in MODULES
             for node in ast.walk(parsed(path)) if isinstance(node, ast.ImportFrom)
             and (node.module or "").startswith("planner") for alias in node.names
             if alias.name.startswith("_") and not alias.name.startswith("__")]
    assert taken == []


def test_siblings_import_each_other_in_earnest():
    """A name that a module needs of its own folder for types alone would hide a circle."""
    hidden = [f"{module_name(path)} takes {node.module}" for path in MODULES if path.name != "__init__.py"
              for asks in ast.walk(parsed(path)) if isinstance(asks, ast.If) and "TYPE_CHECK" in ast.unparse(asks.test)
              for node in asks.body if isinstance(node, ast.ImportFrom)
              and (node.module or "").rpartition(".")[0] == module_name(path).rpartition(".")[0]]
    assert hidden == []


def test_nothing_is_merely_asserted():
    lines = [f"{path.relative_to(ROOT)}:{node.lineno}" for path in MODULES for node in ast.walk(parsed(path))
             if isinstance(node, ast.Assert)]
    assert not lines, "type it, or raise an error that says what to do"


def module_name(path):
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def defined(tree):
    """The public names that a module defines, with their nodes."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name, node
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            for target in getattr(node, "targets", None) or [node.target]:
                if isinstance(target, ast.Name):
                    yield target.id, node


def taken(tree):
    """What a module takes from others: module, name there, name here."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("planner"):
            yield from ((node.module, alias.name, alias.asname or alias.name) for alias in node.names)


def origin(trees, module, name):
    """Where a name is defined, through the packages that pass it on."""
    while module in trees and name not in dict(defined(trees[module])):
        passed = [(there, its) for there, its, here in taken(trees[module]) if here == name]
        if not passed or passed[0] == (module, name):
            return None
        module, name = passed[0]
    return f"{module}.{name}"


def read_names(tree):
    """Every name a module reads, with its line; a text that is a name counts (annotations), an export does not."""
    lists = [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"]
    exports = {id(inner) for node in lists for inner in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            yield node.id, node.lineno
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in exports:
            yield node.value, node.lineno


def called(trees):
    """The names that something in the product reads outside their own definition."""
    found = set()
    for module, tree in trees.items():
        own = {name: (node.lineno, node.end_lineno) for name, node in defined(tree)}
        here = {name: origin(trees, there, its) for there, its, name in taken(tree)}
        for name, line in read_names(tree):
            if name in own:
                first, last = own[name]
                found |= set() if first <= line <= last else {f"{module}.{name}"}
            elif name in here:
                found.add(here[name])
        modules = {name: f"{there}.{its}" for there, its, name in taken(tree) if f"{there}.{its}" in trees}
        found |= {f"{modules[node.value.id]}.{node.attr}" for node in ast.walk(tree) if isinstance(node, ast.Attribute)
                  and isinstance(node.value, ast.Name) and node.value.id in modules}
    return found


def test_every_public_name_has_a_caller():
    trees = {module_name(path): parsed(path) for path in MODULES}
    trees["streamlit_app"] = ast.parse((Path(__file__).parents[1] / "streamlit_app.py").read_text())
    in_use = called(trees)
    idle = {f"{module}.{name}" for module, tree in trees.items() for name, node in defined(tree)
            if not name.startswith("_") and f"{module}.{name}" not in in_use
            and not any("command" in ast.unparse(one) or "callback" in ast.unparse(one)
                        for one in getattr(node, "decorator_list", []))
            and not (name == "page" and module.startswith("planner.ui."))}
    assert idle - OUTSIDE == set(), "called by nothing in the product: use it, or let it go"

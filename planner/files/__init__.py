"""The only room that touches files, by what they hold: `equipment targets projects pier frames logs measured plans`.

In: a file, or what people typed (`forms`). Out: a model of the rooms below, or one clear line. Read `reading` and
`writing`, then the room of the kind of file; `own_files` finds those in use. Names are fetched when first
used, so that a command that reads the equipment does not load the catalogues.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from planner.files.equipment import check_equipment, load_equipment
    from planner.files.own_files import packaged_data
    from planner.files.targets import find_target, find_targets
    from planner.files.targets.stars import field_stars

_HOME = {
    "check_equipment": "equipment", "load_equipment": "equipment", "packaged_data": "own_files",
    "field_stars": "targets.stars", "find_target": "targets", "find_targets": "targets",
}
__all__ = ["check_equipment", "field_stars", "find_target", "find_targets", "load_equipment", "packaged_data"]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)

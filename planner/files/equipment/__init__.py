"""What the observer owns: the equipment file read, written, begun, taken back and tried otherwise.

In: the text of an equipment file. Out: `rig.Equipment`, or every fault of the file at once. Read `load`, then `tables`
(a table of the file becomes a part), `edit` (a part becomes a table again) and `what_if`.
"""

from planner.files.equipment.load import (
    WHAT,
    check_equipment,
    equipment_path,
    equipment_stamp,
    load_equipment,
    parse_equipment,
    user_equipment_path,
)

__all__ = [
    "WHAT", "check_equipment", "equipment_path", "equipment_stamp", "load_equipment", "parse_equipment",
    "user_equipment_path",
]

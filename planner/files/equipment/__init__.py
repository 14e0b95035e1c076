"""What the observer owns: the equipment file read, written, begun, taken back and tried otherwise.

In: the text of an equipment file. Out: `rig.Equipment`, or every fault of the file at once. Read `load`, then `tables`
(a table of the file becomes a part), `edit` (a part becomes a table again) and `what_if`.
"""

from planner.files.equipment.load import check_equipment, equipment_path, load_equipment, user_equipment_path

__all__ = ["check_equipment", "equipment_path", "load_equipment", "user_equipment_path"]

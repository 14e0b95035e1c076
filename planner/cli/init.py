"""`planner init`: a commented equipment file to start from; an existing one is never touched."""

from planner.cli.options import EquipmentOption, JsonOption, new_app
from planner.cli.output import print_json
from planner.files.equipment_start import begin_equipment

app = new_app()


@app.command()
def init(equipment: EquipmentOption = None, json: JsonOption = False) -> None:
    """Write a commented equipment file to start from; an existing file is never overwritten."""
    path = begin_equipment(equipment)
    if json:
        print_json({"file": str(path), "written": True})
        return
    print(f"Wrote {path}")
    where = "" if equipment is None else f' --equipment "{path}"'
    print(f"Next: change its figures to yours, then run: planner gear --check{where}")

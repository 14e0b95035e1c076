"""`planner init`: a commented equipment file to start from; an existing one is never touched."""

from planner.cli.options import EquipmentOption, JsonOption, new_app
from planner.cli.output import print_json
from planner.files.equipment import WHAT, user_equipment_path
from planner.files.packaged import packaged_data
from planner.files.writing import write_new

app = new_app()


@app.command()
def init(equipment: EquipmentOption = None, json: JsonOption = False) -> None:
    """Write a commented equipment file to start from; an existing file is never overwritten."""
    path = equipment.expanduser() if equipment is not None else user_equipment_path()
    write_new(path, packaged_data("starter.toml").read_text(encoding="utf-8"), what=WHAT)
    if json:
        print_json({"file": str(path), "written": True})
        return
    print(f"Wrote {path}")
    where = "" if equipment is None else f' --equipment "{path}"'
    print(f"Next: change its figures to yours, then run: planner gear --check{where}")

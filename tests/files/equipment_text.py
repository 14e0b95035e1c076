"""A small sound equipment file that tests break in one place."""

GOOD = """
[[site]]
name = "home"
latitude = "47 deg"
longitude = "11 deg"

[[telescope]]
name = "long"
aperture = "250 mm"
focal_length = "2000 mm"

[[camera]]
name = "cam"
pixel_pitch = "3.8 um"
columns = 6000
rows = 4000
quantum_efficiency = 0.8
read_noise = "1.5 electron"
full_well = "50000 electron"
gain = "0.8 electron/adu"

[[filter]]
name = "L"
centre = "550 nm"
width = "300 nm"

[[mount]]
name = "worm"
wander = "0.1 arcsec/min(1/2)"
periodic = [{period = "501 s", amplitude = "4 arcsec"}]

[[rig]]
name = "main"
telescope = "long"
camera = "cam"
mount = "worm"
filters = ["L"]
"""


def written(folder, old="", new="", name="equipment.toml"):
    """Write the sound file with one text replaced and return its path."""
    assert old in GOOD
    path = folder / name
    path.write_text(GOOD.replace(old, new, 1) if old else GOOD, encoding="utf-8")
    return path

"""What a guided set-up offers in words, with the figures behind them.

Every figure here is common practice, no source: the middle of what observers quote. They are shown beside their words,
and are there to be replaced by figures of one's own.
"""

from collections.abc import Mapping
from typing import Any

LABEL = "common practice, no source"

# V, zenith, no Moon: mag/arcsec2.
SKIES = {"inner city": 17.5, "town": 18.5, "bright suburb": 19.5, "edge of a suburb": 20.5, "village": 21.0,
         "countryside": 21.4, "remote and dark": 21.8}
# Full width at half maximum in the zenith, 500 nm: arcsec.
SEEINGS = {"very steady": 1.5, "steady": 2.0, "usual": 2.5, "restless": 3.2, "poor": 4.0}
# Share of the diameter that is blocked, and of the light that passes.
TELESCOPES: Mapping[str, Mapping[str, Any]] = {
    "lenses": {"obstruction": 0.0, "transmission": 0.92},
    "mirrors, nothing in the way of the light": {"obstruction": 0.0, "transmission": 0.85},
    "mirrors, a small secondary in the way": {"obstruction": 0.25, "transmission": 0.82},
    "mirrors, a large secondary in the way": {"obstruction": 0.38, "transmission": 0.80},
}
SENSORS: Mapping[str, Mapping[str, Any]] = {
    "recent, cooled": {"quantum_efficiency": 0.8, "read_noise": "1.5 electron", "full_well": "50000 electron",
                       "gain": "0.8 electron/adu", "bit_depth": 16, "dark_current": "0.002 electron/s"},
    "recent, not cooled": {"quantum_efficiency": 0.75, "read_noise": "1.8 electron", "full_well": "15000 electron",
                           "gain": "3.7 electron/adu", "bit_depth": 12, "dark_current": "0.05 electron/s"},
    "a photographer's camera": {"quantum_efficiency": 0.5, "read_noise": "3 electron", "full_well": "40000 electron",
                                "gain": "2.5 electron/adu", "bit_depth": 14, "dark_current": "0.1 electron/s"},
    "older, charge-coupled": {"quantum_efficiency": 0.55, "read_noise": "8 electron", "full_well": "40000 electron",
                              "gain": "0.6 electron/adu", "bit_depth": 16, "dark_current": "0.01 electron/s",
                              "download": "10 s"},
}
# Centre and width: nm. The lines stand at 656.3, 500.7 and 672.4 nm.
FILTERS: Mapping[str, tuple[str, float, float]] = {
    "none, or all visible light": ("L", 550, 300), "red": ("R", 630, 100), "green": ("G", 535, 90),
    "blue": ("B", 450, 110), "H-alpha": ("Ha", 656.3, 7), "oxygen III": ("OIII", 500.7, 7),
    "sulphur II": ("SII", 672.4, 7),
}
DRIVES = {"entry-level worm": "a light mount with a worm gear", "mid-range worm": "a solid mount with a worm gear",
          "strain-wave": "a strain-wave gear, no counterweight", "friction with encoder": "friction drive with encoder",
          "worm with encoder": "worm gear with an encoder on the axis"}
# Error of the polar axis, in altitude and in azimuth: arcmin.
AXES = {"aligned with solved frames": 1.0, "aligned by drift or through a polar telescope": 3.0,
        "aligned by eye": 12.0}
NO_GUIDER, GUIDE_TELESCOPE, PICK_OFF = "none", "a guide telescope", "a pick-off in the main telescope"
GUIDERS = (NO_GUIDER, GUIDE_TELESCOPE, PICK_OFF)
# A small sensor behind the guider, and how far it creeps against the camera.
GUIDE_SENSOR = {"columns": 1200, "rows": 900}
CREEP = {GUIDE_TELESCOPE: "5 arcsec/h", PICK_OFF: "0.5 arcsec/h"}

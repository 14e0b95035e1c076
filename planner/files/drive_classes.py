"""Generic drives to start a mount from that nobody has measured yet.

Every figure here is common practice, no source: the middle of what observers quote for a drive of that kind.
They are there to be replaced by a drift log of one's own. A worm turns once in a sidereal day over its teeth, here
140 or 172; the strain wave's gear is 1 : 210, the roller 1 : 128. The shortest period of each is that of the gears
between motor and axis: a guide loop leaves it or makes it larger.
"""

from collections.abc import Mapping
from typing import Any

LABEL = "common practice, no source; replace by your own drift log"

# The keys of a [[mount]] table, as they would be written there; amplitudes are zero to peak.
DRIVE_CLASSES: Mapping[str, Mapping[str, Any]] = {
    "entry-level worm": {
        "periodic": [
            {"period": "615 s", "amplitude": "15 arcsec"},
            {"period": "307.5 s", "amplitude": "3 arcsec"},
            {"period": "41 s", "amplitude": "2 arcsec"},
        ],
        "jitter": "0.6 arcsec", "wander": "0.8 arcsec/min(1/2)", "rate_error_ppm": 200.0,
    },
    "mid-range worm": {
        "periodic": [
            {"period": "501 s", "amplitude": "5 arcsec"},
            {"period": "250.5 s", "amplitude": "1 arcsec"},
            {"period": "25 s", "amplitude": "0.3 arcsec"},
        ],
        "jitter": "0.25 arcsec", "wander": "0.25 arcsec/min(1/2)", "rate_error_ppm": 50.0,
    },
    "strain-wave": {
        "periodic": [
            {"period": "410 s", "amplitude": "18 arcsec"},
            {"period": "205 s", "amplitude": "5 arcsec"},
            {"period": "68 s", "amplitude": "1.5 arcsec"},
            {"period": "20 s", "amplitude": "0.6 arcsec"},
        ],
        "jitter": "0.5 arcsec", "wander": "0.5 arcsec/min(1/2)", "rate_error_ppm": 100.0,
    },
    "friction with encoder": {
        "periodic": [
            {"period": "673 s", "amplitude": "0.25 arcsec"},
            {"period": "21 s", "amplitude": "0.08 arcsec"},
        ],
        "jitter": "0.12 arcsec", "wander": "0.05 arcsec/min(1/2)", "rate_error_ppm": 20.0,
        "encoder_counts": 16777216,
    },
    "worm with encoder": {
        "periodic": [
            {"period": "501 s", "amplitude": "0.5 arcsec"},
            {"period": "25 s", "amplitude": "0.05 arcsec"},
        ],
        "jitter": "0.2 arcsec", "wander": "0.1 arcsec/min(1/2)", "rate_error_ppm": 20.0,
        "encoder_counts": 16777216,
    },
}

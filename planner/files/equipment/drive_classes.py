"""Generic drives to start a mount from that nobody has measured yet.

Every figure here is common practice, no source: the middle of what observers quote for a drive of that kind.
They are there to be replaced by a drift log of one's own. A worm turns once in a sidereal day over its teeth, here
140 or 172; the strain wave's gear is 1 : 210, the roller 1 : 128. The shortest period of each is that of the gears
between motor and axis: a guide loop leaves it or makes it larger.
"""

from collections.abc import Mapping
from typing import Any

LABEL = "common practice, no source; replace by your own drift log"


def _terms(*terms: tuple[float, float]) -> list[dict[str, str]]:
    """Return periodic terms as an equipment file writes them, from seconds and arcsec."""
    return [{"period": f"{period:g} s", "amplitude": f"{amplitude:g} arcsec"} for period, amplitude in terms]


# The keys of a [[mount]] table, as they would be written there; amplitudes are zero to peak.
DRIVE_CLASSES: Mapping[str, Mapping[str, Any]] = {
    "entry-level worm": {
        "periodic": _terms((615, 15), (307.5, 3), (41, 0.8), (12, 0.5)),
        "jitter": "0.4 arcsec", "wander": "0.4 arcsec/min(1/2)", "rate_error_ppm": 200.0,
    },
    "mid-range worm": {
        "periodic": _terms((501, 5), (250.5, 1), (25, 0.3)),
        "jitter": "0.25 arcsec", "wander": "0.25 arcsec/min(1/2)", "rate_error_ppm": 50.0,
    },
    "strain-wave": {
        "periodic": _terms((410, 18), (205, 5), (68, 1.5), (20, 0.6)),
        "jitter": "0.4 arcsec", "wander": "0.3 arcsec/min(1/2)", "rate_error_ppm": 100.0,
    },
    "friction with encoder": {
        "periodic": _terms((673, 0.4), (21, 0.08)),
        "jitter": "0.15 arcsec", "wander": "0.1 arcsec/min(1/2)", "rate_error_ppm": 20.0,
        "encoder_counts": 16777216,
    },
    "worm with encoder": {
        "periodic": _terms((501, 0.25), (25, 0.05)),
        "jitter": "0.2 arcsec", "wander": "0.1 arcsec/min(1/2)", "rate_error_ppm": 20.0,
        "encoder_counts": 16777216,
    },
}

"""JSON that is the same byte for byte: what `--json` prints and a page hands out."""

import json
import math
from collections.abc import Mapping
from typing import Any

DIGITS = 10  # significant; far beyond any input's accuracy, short of the last bits that differ between machines


def json_text(document: Mapping[str, Any]) -> str:
    """Return the JSON text of a result: keys sorted, floats to 10 significant digits, what is not finite as null."""
    return json.dumps(_plain(document), indent=2, sort_keys=True, allow_nan=False)


def _plain(value: Any) -> Any:
    """Return the value as JSON knows it; numpy scalars and arrays become numbers and lists."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        return _rounded(value)
    if hasattr(value, "unit"):
        raise TypeError(f"{value!r} has a unit; give a plain number under a key that ends in the unit")
    if hasattr(value, "tolist"):  # numpy
        return _plain(value.tolist())
    return [_plain(item) for item in value]


def _rounded(value: float) -> float | None:
    if not math.isfinite(value):
        return None
    return float(f"{value:.{DIGITS}g}") + 0.0  # + 0.0 turns -0.0 into 0.0

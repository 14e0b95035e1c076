"""JSON that is the same byte for byte: what `--json` prints and a page hands out."""

import json
import math
from collections.abc import Mapping
from typing import Any

from planner import __version__
from planner.errors import LONGEST_LINE, PlannerError, plain_text

DIGITS = 10  # significant; far beyond any input's accuracy, short of the last bits that differ between machines


VERSION = 1  # of the documents: goes up when a key goes or changes its meaning


def json_text(document: Mapping[str, Any], name: str) -> str:
    """Return the JSON text of a result: keys sorted, floats to 10 significant digits, what is not finite as null.

    `name`: of the kind of document, such as ``advise``; it stands in the document as ``schema``, with its version.
    """
    return json.dumps(_plain(stamped(document, name)), indent=2, sort_keys=True, allow_nan=False)


def stamped(document: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return a document that says which program made it and what its keys are."""
    return {**document, "planner_version": __version__, "schema": f"{name}/{VERSION}"}


def error_line(error: PlannerError) -> str:
    """Return an error as JSON on one line."""
    parts = {key: None if value is None else plain_text(str(value)[:LONGEST_LINE])
             for key in ("name", "value", "rule", "remedy") for value in [getattr(error, key, None)]}
    return json.dumps(stamped({"error": {"message": str(error), **parts}}, "error"), sort_keys=True)


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

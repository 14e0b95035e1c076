"""A value and its standard error as text: both to the second digit of the error (JCGM 100:2008, 7.2.6)."""

import math

from planner.signs import minus

MOST_DECIMALS = 6


def rounded(value: float, error: float) -> float:
    """Return a value cut to two digits of its error; to four of its own where there is none."""
    if not math.isfinite(error) or error <= 0:
        return float(f"{value:.4g}")
    return round(value, 1 - math.floor(math.log10(error))) + 0.0  # no minus before zero


def _both(value: float, error: float, sign: str) -> tuple[str, str]:
    places = 1 - math.floor(math.log10(float(f"{error:.2g}")))
    decimals = min(max(places, 0), MOST_DECIMALS)
    return f"{round(value, places) + 0.0:{sign}.{decimals}f}", f"{round(error, places):.{decimals}f}"


def as_written(value: float, error: float, unit: str = "") -> str:
    """Return ``0.250 ± 0.050 arcsec`` as the equipment file has it; four digits of a value without an error."""
    text = " ± ".join(_both(value, error, "")) if math.isfinite(error) and error > 0 else f"{value:.4g}"
    return f"{text} {unit}".rstrip()


def with_error(value: float, error: float, unit: str = "", *, sign: str = "") -> str:
    """Return ``0.250″ ± 0.050″`` with the unit behind both and a true minus; "+" as the sign shows it always."""
    if not math.isfinite(error) or error <= 0:
        return minus(f"{value:{sign}.3g}{unit}")
    return minus(" ± ".join(f"{part}{unit}" for part in _both(value, error, sign)))


def as_read(written: str) -> str:
    """Return a figure of the equipment file as a person reads it."""
    for name, sign in (("/min(1/2)", "/√min"), (" arcmin", "′"), (" arcsec", "″")):
        written = written.replace(name, sign)
    return minus(written)

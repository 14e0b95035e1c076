"""A value and its standard error as text: as many digits as the error has meaning, two of it; a true minus sign."""

import math

from planner.signs import minus

MOST_DECIMALS = 6


def rounded(value: float, error: float) -> float:
    """Return a value cut to two digits of its error; to four of its own where there is none."""
    if not math.isfinite(error) or error <= 0:
        return float(f"{value:.4g}")
    return round(value, 1 - math.floor(math.log10(error))) + 0.0  # no minus before zero


def two_digits(error: float) -> str:
    """Return an error with two digits, never as a power of ten."""
    return f"{float(f'{error:.2g}'):.12g}"


def with_error(value: float, error: float, unit: str = "", *, sign: str = "") -> str:
    """Return ``0.25 ± 0.05`` with the unit behind both numbers; "+" as the sign shows it always."""
    if not math.isfinite(error) or error <= 0:
        return minus(f"{value:{sign}.3g}{unit}")
    decimals = min(max(1 - math.floor(math.log10(float(f"{error:.2g}"))), 0), MOST_DECIMALS)
    return minus(f"{value:{sign}.{decimals}f}{unit} ± {error:.{decimals}f}{unit}")


def as_read(written: str) -> str:
    """Return a figure of the equipment file as a person reads it."""
    for name, sign in (("/min(1/2)", "/√min"), (" arcmin", "′"), (" arcsec", "″")):
        written = written.replace(name, sign)
    return minus(written)

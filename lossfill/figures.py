"""Numbers as a repairer reads them."""

from __future__ import annotations

import math

LEAST_FOUND = 0.001
"""What is measured below this, in whatever unit, is rounding where the limit is not as small."""


def rounded(value: float, digits: int) -> str:
    """Write a number with so many significant digits, without an exponent.

    Trailing zeros stay, since they say how well the number is known: 9.40, not 9.4.
    """
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    shown = round(value, decimals)
    if shown != 0 and math.floor(math.log10(abs(shown))) > math.floor(math.log10(abs(value))):
        decimals -= 1  # 9.996 becomes 10.0, not 10.00
    return f"{shown:.{max(decimals, 0)}f}"


def millilitres(volume_ml: float) -> str:
    """Volume with three significant digits, two below 1 ml, where a scan is no better than that."""
    return f"{rounded(volume_ml, 3 if volume_ml >= 1 else 2)} ml"


def square_cm(area_mm2: float) -> str:
    """Area given in mm², told as volumes are: three significant digits, two below 1 cm²."""
    return f"{rounded(area_mm2 / 100.0, 3 if area_mm2 >= 100 else 2)} cm²"


def whole_mm(length_mm: float) -> str:
    """Length to the nearest millimetre, or to a tenth below 10 mm."""
    return f"{length_mm:.0f}" if length_mm >= 9.95 else f"{length_mm:.1f}"


def found_words(value: float, limit: float) -> str:
    """What was measured against a limit; cut short where it is too small to matter to that."""
    least = LEAST_FOUND if limit >= LEAST_FOUND else 0.1 * limit
    return f"below {rounded(least, 1)}" if 0 < abs(value) < least else rounded(value, 2)

"""Numbers as a repairer reads them."""

from __future__ import annotations

import math


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


def whole_mm(length_mm: float) -> str:
    """Length to the nearest millimetre, or to a tenth below 10 mm."""
    return f"{length_mm:.0f}" if length_mm >= 9.95 else f"{length_mm:.1f}"

"""Lengths as they are shown: in millimetres, or in inches for whoever measures in those."""

from __future__ import annotations

import re
from typing import Literal

Shown = Literal["mm", "inch"]

MM_PER_INCH = 25.4

UNITS: dict[Shown, str] = {"mm": "mm", "inch": "in"}
"""How each is written after a number."""

_TOLD = re.compile(
    r"\d+(?:\.\d+)?(?:(?:\s?[×–-]\s?| to | and | or )\d+(?:\.\d+)?)*(?=[ \u00a0]mm\b)"
)
"""Numbers before "mm"; areas and volumes go on after it, and are let alone."""

_UNIT = re.compile(r"(?<=\d)([ \u00a0])mm\b")


def scale_mm(shown: Shown) -> float:
    """How many millimetres the shown unit is."""
    return MM_PER_INCH if shown == "inch" else 1.0


def length(mm: float | None, shown: Shown) -> str:
    """A length in the unit in which lengths are shown, no finer than a scan is."""
    if mm is None:
        return "–"
    return f"{_number(mm, shown)} {UNITS[shown]}"


def told_in(text: str, shown: Shown) -> str:
    """A sentence whose lengths are in millimetres, with them in the unit that is shown."""
    if shown == "mm":
        return text

    def inches(found: re.Match[str]) -> str:
        return re.sub(r"\d+(?:\.\d+)?", lambda one: _told_number(float(one[0])), found[0])

    return _UNIT.sub(r"\1in", _TOLD.sub(inches, text))


def _told_number(mm: float) -> str:
    return "0" if mm == 0 else _number(mm, "inch")


def _number(mm: float, shown: Shown) -> str:
    if shown == "mm":
        return f"{mm:.2f}" if abs(mm) < 1 else f"{mm:.1f}"
    inches = mm / MM_PER_INCH
    # A thousandth of an inch is 0.025 mm: too coarse for steps and gaps.
    decimals = 2 if abs(inches) >= 1 else 3 if abs(mm) >= 1 else 4
    return f"{inches:.{decimals}f}"

"""Quantities as a person writes them, with their unit: 1.8ml, 6 cm2, 3mm."""

from __future__ import annotations

import math
import re
from typing import Literal

from lossfill.errors import InputError

Measured = Literal["volume", "area", "length"]

_INCH_MM = 25.4

_UNITS: dict[Measured, dict[str, float]] = {
    # In ml. The fluid ounce is left out: it is 28.4 ml in one country and 29.6 ml in another.
    "volume": {
        "ml": 1.0,
        "cl": 10.0,
        "l": 1000.0,
        "cm3": 1.0,
        "mm3": 0.001,
        "in3": _INCH_MM**3 / 1000.0,
    },
    "area": {"mm2": 1.0, "cm2": 100.0, "m2": 1e6, "in2": _INCH_MM**2},  # in mm²
    "length": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": _INCH_MM, "um": 0.001},  # in mm
}

_QUANTITY = re.compile(r"\s*([-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?|[-+]?[0-9]+\.)\s*(\D.*)?")

_SAME = str.maketrans({"²": "2", "³": "3", "µ": "u", "μ": "u", "^": ""})


def quantity(words: str, measured: Measured, name: str) -> float:
    """A quantity in ml, mm² or mm.

    Parameters
    ----------
    words : a number and its unit
    measured : what sort of quantity it is
    name : what it is called, for messages, such as "--volume"

    Raises
    ------
    InputError
        Where it has no unit or one that is not known, or is no number above 0.
    """
    units = _UNITS[measured]
    known = ", ".join(units)
    found = _QUANTITY.fullmatch(words)
    if found is None:
        raise InputError(
            f"{name} {words!r} is not a {measured} such as {_example(measured)}: give a number "
            "with a point and its unit"
        )
    if found[2] is None:
        raise InputError(f"{name} {words.strip()} has no unit: add one of {known}")
    unit = found[2].strip().translate(_SAME).lower()
    if unit not in units:
        raise InputError(
            f"{name} {words!r}: '{found[2].strip()}' is no unit of {measured} here; take one of "
            f"{known}"
        )
    value = float(found[1]) * units[unit]
    if not 0 < value < math.inf:
        raise InputError(f"{name} is {words.strip()}, but it must be above 0 and finite")
    return value


def _example(measured: Measured) -> str:
    return {"volume": "1.8ml", "area": "6cm2", "length": "3mm"}[measured]

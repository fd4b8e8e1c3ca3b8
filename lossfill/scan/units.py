"""Which unit the numbers are in, and whether that makes a vessel.

Some formats state the unit (3MF by an attribute, glTF by its standard). STL, PLY, OBJ and OFF do
not. For those only millimetre and metre are tried: they are what scanning programs really write,
and their ranges of plausible vessels (20–1000 in mm, 0.02–1 in m) never overlap, so at most one
fits. Were centimetre and inch tried as well, almost every file would have two readings (90 could
be 90 mm or 90 cm) and nothing could be inferred; they are taken only when asked for. An inferred
unit is always announced with the size it gives, and a unit that makes something no vessel is, asked
for or stated, is refused with the sizes that the other units would give.
"""

from __future__ import annotations

import numpy as np

from lossfill.errors import InputError
from lossfill.mesh import FloatArray
from lossfill.scan.scan import Unit, UnitSource
from lossfill.tolerances import LARGEST_VESSEL_MM, SMALLEST_VESSEL_MM

UNIT_NAMES: dict[str, Unit] = {
    "micron": Unit.MICRON,
    "mm": Unit.MILLIMETRE,
    "cm": Unit.CENTIMETRE,
    "m": Unit.METRE,
    "inch": Unit.INCH,
    "foot": Unit.FOOT,
}
"""How a unit is written in options and messages."""

NOT_STATED = "UNIT NOT IN THE FILE"
"""How the warning of an inferred unit begins."""

_INFERRED = (Unit.MILLIMETRE, Unit.METRE)
_LIKELY = (Unit.MILLIMETRE, Unit.CENTIMETRE, Unit.METRE, Unit.INCH)


def unit_from_name(name: str) -> Unit:
    """Return the unit that a person wrote, such as ``"mm"``.

    Raises
    ------
    InputError
        For a name that is not in ``UNIT_NAMES``; the message lists those that are.
    """
    unit = UNIT_NAMES.get(name.strip().lower())
    if unit is None:
        raise InputError(f"unknown unit {name!r}: use one of {', '.join(UNIT_NAMES)}")
    return unit


def unit_name(unit: Unit) -> str:
    """Return the short name of a unit, such as ``"mm"``."""
    return next(name for name, known in UNIT_NAMES.items() if known is unit)


def settle_unit(
    sides: FloatArray, *, stated: Unit | None, asked: Unit | None, any_size: bool = False
) -> tuple[Unit, UnitSource, tuple[str, ...]]:
    """Decide the unit of a file's numbers.

    Parameters
    ----------
    sides : (3,) sides of the bounding box in the file's own numbers
    stated : unit that the file states, or None
    asked : unit that the person gave, or None; it wins over the file's
    any_size : the scale comes from elsewhere, so no size is refused and none tells the unit

    Returns
    -------
    The unit, how it became known, and what the person should be told.

    Raises
    ------
    InputError
        Where the unit makes the largest side less than 20 mm or more than 1000 mm, or where the
        file states none and neither millimetre nor metre makes a vessel.
    """
    if float(sides.max()) <= 0:
        raise InputError("all its points lie in one place: export the scan again")
    if any_size:
        if asked is not None:
            return asked, "asked", ()
        return (stated, "file", ()) if stated is not None else (Unit.MILLIMETRE, "inferred", ())
    if asked is not None:
        warnings: tuple[str, ...] = ()
        if stated is not None and stated is not asked:
            warnings = (
                f"the file says its unit is {unit_name(stated)}, but {unit_name(asked)} was asked "
                f"for and used: the scan measures {size_text(sides, asked)}",
            )
        _check_size(sides, asked, "was asked for")
        return asked, "asked", warnings
    if stated is not None:
        _check_size(sides, stated, "is the file's own unit")
        return stated, "file", ()
    fitting = [unit for unit in _INFERRED if _is_vessel(sides, unit)]
    if len(fitting) != 1:
        raise InputError(
            f"it states no unit, and neither mm nor m makes a vessel of {_range_text()}; "
            f"{_readings(sides)}; pass the right one with --units"
        )
    return fitting[0], "inferred", (_inferred_warning(sides, fitting[0]),)


def size_text(sides: FloatArray, unit: Unit) -> str:
    """Return the three sides in millimetres, such as ``"88.7 × 88.7 × 43.3 mm"``."""
    return " × ".join(_length(float(side) * unit.mm) for side in sides) + " mm"


def _inferred_warning(sides: FloatArray, unit: Unit) -> str:
    others = [
        f"{name} {_length(float(sides.max()) * other.mm)} mm"
        for name, other in UNIT_NAMES.items()
        if other in _LIKELY and other is not unit and _is_vessel(sides, other)
    ]
    also = f" (the largest side would be in {', in '.join(others)})" if others else ""
    return (
        f"{NOT_STATED}: its numbers were read as {unit_name(unit)}, which makes the scan "
        f"{size_text(sides, unit)}. If the pot is not that size, run again with --units{also}"
    )


def _check_size(sides: FloatArray, unit: Unit, why: str) -> None:
    if _is_vessel(sides, unit):
        return
    raise InputError(
        f"{unit_name(unit)} {why}, which makes the scan {size_text(sides, unit)}; vessels of "
        f"{_range_text()} can be worked on; {_readings(sides)}; pass the right one with --units"
    )


def _readings(sides: FloatArray) -> str:
    largest = float(sides.max())
    sizes = ", ".join(
        f"{name} {_length(largest * unit.mm)} mm" for name, unit in UNIT_NAMES.items()
    )
    return f"its largest side would be: {sizes}"


def _is_vessel(sides: FloatArray, unit: Unit) -> bool:
    largest_mm = float(sides.max()) * unit.mm
    # A side that was rounded to 32 bits in metres may miss 1000 mm by its last digit.
    slack = 4 * float(np.finfo(np.float32).eps)
    return SMALLEST_VESSEL_MM * (1 - slack) <= largest_mm <= LARGEST_VESSEL_MM * (1 + slack)


def _range_text() -> str:
    return f"{SMALLEST_VESSEL_MM:.0f} to {LARGEST_VESSEL_MM:.0f} mm"


def _length(length_mm: float) -> str:
    return f"{length_mm:.1f}" if 1 <= length_mm < 1e7 else f"{length_mm:.3g}"

"""Saturated salt solutions: humidities that hold by themselves, to keep a box or check a logger.

Values: L. Greenspan, Humidity fixed points of binary saturated aqueous solutions, J. Res. NBS 81A
(1977) 89-96. What was seen of it and where:

* equations for NaCl, KCl, MgCl2 and K2SO4, the first three in two transcriptions by different
  hands that agree in every digit, K2SO4 in one; they give a third one's table (5 to 25 °C, one
  decimal) within its rounding, but for a slip there at NaCl and 20 °C;
* values at 25 °C for all seven salts with two decimals, and for NaBr at 20 °C with one, in tables
  printed for calibrating hygrometers.

From memory, and said so where printed: all uncertainties, and NaBr, KI and Mg(NO3)2 away from
25 °C.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lossfill import tolerances as tol
from lossfill.errors import InputError

SOURCE = "Greenspan 1977, J. Res. NBS 81A:89"

EQUATIONS_RANGE_C = (5.0, 50.0)
"""°C; where the equations are used: well within 0 to 80 °C, for which they were fitted."""


@dataclass(frozen=True, slots=True)
class Salt:
    """A salt whose saturated solution holds one humidity above it.

    Parameters
    ----------
    formula : as on the label of the jar, such as "NaCl"
    name : in words
    coefficients : of the humidity in % by rising powers of °C; empty where only points are known
    points : (°C, %) between which it is drawn straight, where there is no equation
    uncertainty_percent : at 25 °C, % relative humidity, from memory
    cautions : keys in the register of cautions
    """

    formula: str
    name: str
    coefficients: tuple[float, ...]
    points: tuple[tuple[float, float], ...]
    uncertainty_percent: float
    cautions: tuple[str, ...] = ("salt",)

    @property
    def range_c(self) -> tuple[float, float]:
        """Temperatures at which its humidity is known, °C."""
        if self.coefficients:
            return EQUATIONS_RANGE_C
        return (self.points[0][0], self.points[-1][0])

    def is_from_memory(self, temperature_c: float) -> bool:
        """Whether its humidity at this temperature rests on values that were not seen."""
        return not self.coefficients and abs(temperature_c - 25.0) > 1e-9


SALTS: tuple[Salt, ...] = (
    Salt("MgCl2", "magnesium chloride", (33.6686, -0.00797397, -0.108988e-2), (), 0.16),
    Salt(
        "Mg(NO3)2",
        "magnesium nitrate",
        (),
        ((20.0, 54.38), (25.0, 52.89), (30.0, 51.40)),
        0.22,
        ("salt", "oxidising salt"),
    ),
    Salt(
        "NaBr",
        "sodium bromide",
        (),
        ((20.0, 59.14), (25.0, 57.57), (30.0, 56.03)),
        0.40,
    ),
    Salt(
        "KI",
        "potassium iodide",
        (),
        ((20.0, 69.90), (25.0, 68.86), (30.0, 67.89)),
        0.24,
    ),
    Salt(
        "NaCl",
        "sodium chloride (table salt, without additives)",
        (75.5164, 0.0398321, -0.265459e-2, 0.2848e-4),
        (),
        0.12,
    ),
    Salt("KCl", "potassium chloride", (88.6190, -0.193340, 0.899706e-3), (), 0.26),
    Salt("K2SO4", "potassium sulphate", (98.7792, -0.0590502), (), 0.45),
)
"""By rising humidity."""

HOW_TO = (
    "Stir the salt with a little water to a slush with crystals left, in a wide shallow tray that "
    "nothing can knock into the vessel; close the box, keep its temperature steady, and wait half "
    "a day or more. Salt must not touch sherds, metal powder or the logger (common practice)."
)
"""What goes with every salt."""


@dataclass(frozen=True, slots=True)
class SaltReading:
    """What a logger showed above a salt once it had settled.

    Parameters
    ----------
    salt : the salt
    reading_percent : what the logger showed, %
    temperature_c : at which, °C
    """

    salt: Salt
    reading_percent: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Correction:
    """A straight line from what a logger shows to what is there.

    Parameters
    ----------
    slope, offset_percent : true = slope x shown + offset
    between_percent : humidities between which it was found; the same twice for one salt
    words : what was done
    """

    slope: float
    offset_percent: float
    between_percent: tuple[float, float]
    words: str


def salt_named(name: str) -> Salt:
    """Find a salt by its formula, whatever its capitals; or by its name.

    Raises
    ------
    InputError
        There is none of that name in the table.
    """
    wanted = name.strip().lower()
    for salt in SALTS:
        if wanted in (salt.formula.lower(), salt.name.split(" (")[0]):
            return salt
    known = ", ".join(salt.formula for salt in SALTS)
    raise InputError(f"no salt {name.strip()!r} in the table; it knows {known}")


def humidity_over(salt: Salt, temperature_c: float) -> float:
    """Relative humidity above a saturated solution, %.

    Raises
    ------
    InputError
        The temperature lies outside what is known of the salt.
    """
    low, high = salt.range_c
    if not low <= temperature_c <= high:
        raise InputError(
            f"the humidity over {salt.formula} is known here from {low:g} to {high:g} °C, not at "
            f"{temperature_c:.4g} °C"
        )
    if salt.coefficients:
        return sum(factor * temperature_c**power for power, factor in enumerate(salt.coefficients))
    (left, start), (right, end) = next(
        pair
        for pair in zip(salt.points, salt.points[1:], strict=False)
        if temperature_c <= pair[1][0]
    )
    return start + (end - start) * (temperature_c - left) / (right - left)


def salts_near(humidity_percent: float, temperature_c: float) -> tuple[tuple[Salt, float], ...]:
    """Salts that hold a humidity near the wanted one, with what they hold, the nearest first."""
    known = [salt for salt in SALTS if salt.range_c[0] <= temperature_c <= salt.range_c[1]]
    held = [(salt, humidity_over(salt, temperature_c)) for salt in known]
    near = [one for one in held if abs(one[1] - humidity_percent) <= tol.SALT_NEAR_PERCENT]
    return tuple(sorted(near, key=lambda one: abs(one[1] - humidity_percent)))


def calibrate(readings: Sequence[SaltReading]) -> Correction:
    """Find a logger's correction from what it showed above salts.

    Parameters
    ----------
    readings : one gives an offset; more give a line, by least squares where there are over two

    Raises
    ------
    InputError
        There is none, two salts are too close together, or the logger is too far off.
    """
    if not readings:
        raise InputError("a correction needs at least one reading above a salt")
    true = [humidity_over(one.salt, one.temperature_c) for one in readings]
    shown = [one.reading_percent for one in readings]
    for one, held in zip(readings, true, strict=True):
        _check_offset(one, held)
    between = (min(true), max(true))
    names = ", ".join(
        f"{one.salt.formula} {held:.1f} %" for one, held in zip(readings, true, strict=True)
    )
    if len(readings) == 1:
        offset = true[0] - shown[0]
        return Correction(1.0, offset, between, f"{offset:+.1f} % by one salt: {names}")
    _check_spread(true)
    slope, offset = _line(shown, true)
    low, high = tol.SALT_SLOPE_RANGE
    if not low <= slope <= high:
        raise InputError(
            f"the salts' readings ask for a slope of {slope:.2f}, outside {low:g} to {high:g}: one "
            "had not settled; wait longer and read again"
        )
    return Correction(slope, offset, between, f"{slope:.3f} x shown {offset:+.1f} % by {names}")


def _line(shown: Sequence[float], true: Sequence[float]) -> tuple[float, float]:
    """Slope and offset by least squares."""
    middle_shown, middle_true = sum(shown) / len(shown), sum(true) / len(true)
    spread = sum((value - middle_shown) ** 2 for value in shown)
    if spread < 1e-9:
        raise InputError("the logger shows the same above every salt: it does not answer at all")
    both = sum(
        (value - middle_shown) * (held - middle_true)
        for value, held in zip(shown, true, strict=True)
    )
    slope = both / spread
    return slope, middle_true - slope * middle_shown


def _check_offset(one: SaltReading, held: float) -> None:
    off = one.reading_percent - held
    if not abs(off) <= tol.SALT_OFFSET_MOST_PERCENT:
        raise InputError(
            f"the logger is {off:+.3g} % off above {one.salt.formula} ({held:.1f} %), more than "
            f"{tol.SALT_OFFSET_MOST_PERCENT:g} %: the salt had not settled, or the sensor is broken"
        )


def _check_spread(true: Sequence[float]) -> None:
    spread = max(true) - min(true)
    if spread < tol.SALT_SPREAD_PERCENT:
        raise InputError(
            f"the salts lie {spread:.1f} % apart, less than {tol.SALT_SPREAD_PERCENT:g} %: take "
            "two different salts, such as NaCl and KCl, or give one reading only"
        )

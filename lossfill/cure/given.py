"""Air, ranges and boxes as a person types them: 21C, 70F, 21C,45%, 65-85, 400x300x300."""

from __future__ import annotations

import re

from lossfill.cure.air import Air
from lossfill.cure.box import volume_of_size_l
from lossfill.cure.salts import SaltReading, salt_named
from lossfill.errors import InputError

_NUMBER = r"([+-]?\d+(?:\.\d+)?)"
_TEMPERATURE = re.compile(rf"{_NUMBER}\s*°?\s*([CF])?", re.IGNORECASE)
_RANGE = re.compile(
    rf"{_NUMBER}\s*(?:°?\s*([CF])|%)?\s*(?:-|–|to)\s*{_NUMBER}\s*(?:°?\s*([CF])|%)?", re.IGNORECASE
)
_PERCENT = re.compile(rf"{_NUMBER}\s*%?")
_SIZE = re.compile(rf"{_NUMBER}\s*[x×]\s*{_NUMBER}\s*[x×]\s*{_NUMBER}\s*(mm|cm|in)?", re.IGNORECASE)
_LITRES = re.compile(rf"{_NUMBER}\s*l(?:itres?|iters?)?", re.IGNORECASE)

_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4}


def celsius_of(fahrenheit: float) -> float:
    """Degrees Fahrenheit in degrees Celsius."""
    return (fahrenheit - 32.0) / 1.8


def temperature_c(text: str) -> float:
    """Read a temperature such as 21, 21C or 70F; °C without a letter.

    Raises
    ------
    InputError
        It is none.
    """
    match = _TEMPERATURE.fullmatch(text.strip())
    if match is None:
        raise InputError(f"{text!r} is no temperature; write 21C or 70F")
    return _in_celsius(match[1], match[2])


def air(text: str) -> Air:
    """Read air such as 21C,45% or 70F,45%.

    Raises
    ------
    InputError
        It is none.
    """
    warm, comma, damp = text.partition(",")
    match = _PERCENT.fullmatch(damp.strip())
    if not comma or match is None:
        raise InputError(f"{text!r} is no air; write temperature and humidity, such as 21C,45%")
    return Air(temperature_c(warm), float(match[1]))


def temperature_range_c(text: str) -> tuple[float, float]:
    """Read a range such as 20-30, 20C-30C or 68F-86F; one letter counts for both.

    Raises
    ------
    InputError
        It is none.
    """
    match = _RANGE.fullmatch(text.strip())
    if match is None or "%" in text:
        raise InputError(f"{text!r} is no range of temperature; write 20-30 or 68F-86F")
    low, first, high, second = match.groups()
    return _in_celsius(low, first or second), _in_celsius(high, second or first)


def percent_range(text: str) -> tuple[float, float]:
    """Read a range of humidity such as 65-85 or 65%-85%.

    Raises
    ------
    InputError
        It is none.
    """
    match = _RANGE.fullmatch(text.strip())
    if match is None or match[2] or match[4]:
        raise InputError(f"{text!r} is no range of humidity; write 65-85")
    return float(match[1]), float(match[3])


def hours_range(text: str) -> tuple[float, float]:
    """Read hours such as 24, or 24-48.

    Raises
    ------
    InputError
        They are none.
    """
    least, _, most = text.strip().removesuffix("h").strip().partition("-")
    try:
        return float(least), float(most or least)
    except ValueError:
        raise InputError(f"{text!r} are no hours; write 24, or 24-48") from None


def volume_l(text: str) -> float:
    """Read a box by its inner size, 400x300x300 (mm; also cm, in), or by litres, 36l.

    Raises
    ------
    InputError
        It is none.
    """
    if match := _LITRES.fullmatch(text.strip()):
        return float(match[1])
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise InputError(
            f"{text!r} is no size of a box; write length x width x height inside in millimetres, "
            "such as 400x300x300, or litres, such as 36l"
        )
    unit = _MM[(match[4] or "mm").lower()]
    return volume_of_size_l(*(float(match[index]) * unit for index in (1, 2, 3)))


def salt_reading(text: str, usual_temperature_c: float) -> SaltReading:
    """Read what a logger showed above a salt: NaCl=73.5, or NaCl=73.5@21C.

    Parameters
    ----------
    text : as typed
    usual_temperature_c : where none is given, °C

    Raises
    ------
    InputError
        It is none, or the salt is unknown.
    """
    name, equals, shown = text.partition("=")
    percent, at, warm = shown.partition("@")
    match = _PERCENT.fullmatch(percent.strip())
    if not equals or match is None or (at and not warm):
        raise InputError(f"{text!r} is no reading above a salt; write NaCl=73.5 or NaCl=73.5@21C")
    where = temperature_c(warm) if at else usual_temperature_c
    return SaltReading(salt_named(name), float(match[1]), where)


def _in_celsius(number: str, letter: str | None) -> float:
    value = float(number)
    return celsius_of(value) if letter and letter.upper() == "F" else value

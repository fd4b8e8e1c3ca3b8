"""Columns of a logger's file: which holds the time, the temperature and the humidity."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

from lossfill import tolerances as tol
from lossfill.cure.logger_dates import DateOrder, order_in_heading
from lossfill.errors import InputError

DELIMITERS = ("\t", ";", ",")

_DERIVED = re.compile(r"dew|frost|wet.?bulb|heat.?index|feels|vpd|absol|g/m|mixing|battery|alarm")
_EXTREME = re.compile(r"\b(min|max|low|high|minimum|maximum|average|avg)\b")
_TIME = re.compile(r"\b(time|timestamp|datetime|zeit|uhrzeit|heure|hora|ora|tijd)\b|date.?time")
_DATE = re.compile(r"\b(date|datum|fecha|data|day|datetime)\b|date.?time")
_TEMPERATURE = re.compile(r"temp|°\s?[cf]\b|℃|℉|\b(celsius|fahrenheit)\b|^\(?[cf]\)?$")
_HUMIDITY = re.compile(r"humid|\br\.?h\.?\b|%\s?rh|feucht|humed|umidit|hygro|vocht|^%$")
_CELSIUS = re.compile(r"°\s?c\b|℃|celsius|centigrade|\bdeg\.?\s?c\b|\(\s?c\s?\)|[_,/\s]c$|^c$")
_FAHRENHEIT = re.compile(r"°\s?f\b|℉|fahrenheit|\bdeg\.?\s?f\b|\(\s?f\s?\)|[_,/\s]f$|^f$")


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the readings stand.

    Parameters
    ----------
    delimiter : between cells
    heading_line : line of the heading, from 1
    width : cells in it
    time : columns whose cells, joined, are date and time
    temperature, humidity : columns
    fahrenheit : whether the heading says °F, or None where it says no unit
    order : of day and month where the heading says it
    warnings : what was chosen among several
    """

    delimiter: str
    heading_line: int
    width: int
    time: tuple[int, ...]
    temperature: int
    humidity: int
    fahrenheit: bool | None
    order: DateOrder | None
    warnings: tuple[str, ...]


def find_columns(lines: Sequence[str]) -> Columns:
    """Find the heading and what stands in its columns.

    Parameters
    ----------
    lines : of the file; what precedes the heading is passed over

    Raises
    ------
    InputError
        No line names a time, a temperature and a humidity.
    """
    head = lines[: tol.LOG_HEADING_LINES]
    for number, line in enumerate(head, 1):
        for delimiter in DELIMITERS:
            columns = _read_heading(split(line, delimiter), delimiter, number)
            if columns is not None:
                return columns
    raise InputError(
        "no heading names a time, a temperature and a humidity, parted by commas, semicolons or "
        "tabs; put a first line such as Time,Temperature (°C),Humidity (%RH)"
    )


def split(line: str, delimiter: str) -> list[str]:
    """Cells of one line, quotes and blanks taken off."""
    row = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    return [cell.strip() for cell in row]


def _read_heading(cells: list[str], delimiter: str, line: int) -> Columns | None:
    names = [cell.lower().replace("º", "°").strip("\ufeff ") for cell in cells]
    humidity = _matching(names, _HUMIDITY, ())
    temperature = _matching(names, _TEMPERATURE, humidity)
    time = _time_columns(names, (*humidity, *temperature))
    if not (humidity and temperature and time):
        return None
    warnings = tuple(
        f"several columns hold a {what}: {cells[found[0]]!r} is read"
        for what, found in (("temperature", temperature), ("humidity", humidity))
        if len(found) > 1
    )
    order = next((order for index in time if (order := order_in_heading(names[index]))), None)
    return Columns(
        delimiter,
        line,
        len(cells),
        time,
        temperature[0],
        humidity[0],
        _unit(names[temperature[0]]),
        order,
        warnings,
    )


def _matching(names: list[str], wanted: re.Pattern[str], taken: Sequence[int]) -> tuple[int, ...]:
    found = [
        index
        for index, name in enumerate(names)
        if wanted.search(name) and not _DERIVED.search(name) and index not in taken
    ]
    plain = [index for index in found if not _EXTREME.search(names[index])]
    return tuple(plain or found)


def _time_columns(names: list[str], taken: Sequence[int]) -> tuple[int, ...]:
    free = [index for index in range(len(names)) if index not in taken]
    dates = [index for index in free if _DATE.search(names[index])]
    times = [index for index in free if _TIME.search(names[index])]
    both = [index for index in times if index in dates or "stamp" in names[index]]
    if both:
        return (both[0],)
    if dates and times:
        return (dates[0], times[0])
    return tuple((dates or times)[:1])


def _unit(name: str) -> bool | None:
    if _FAHRENHEIT.search(name):
        return True
    return False if _CELSIUS.search(name) else None

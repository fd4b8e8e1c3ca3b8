"""Dates and times as loggers write them, and which number is the day.

An order of day and month is never guessed: the numbers must settle it, or the person says it.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from lossfill.errors import InputError


class DateOrder(StrEnum):
    """Order of the numbers in a date; the value is what is typed."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"
    ISO = "iso"


@dataclass(frozen=True, slots=True)
class Written:
    """A date and time taken apart, the order of day and month still open.

    Parameters
    ----------
    line : in the file, from 1
    text : as it stands there
    numbers : year, month, day where `settled`; else first, second, year
    settled : whether the order is certain by the way it is written
    dotted : whether dots part the numbers, as only dates with the day first have it
    time : of the day
    zone : offset from UTC where it is written
    """

    line: int
    text: str
    numbers: tuple[int, int, int]
    settled: bool
    dotted: bool
    time: dt.time
    zone: dt.timezone | None


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_TIME = re.compile(
    r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2})(?:[.,](\d{1,9}))?)?\s*(?:([ap])\.?\s?m\.?)?"
    r"\s*(z|utc|gmt|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})\2\s?(\d{4}|\d{2})(?!\d)")
_DAY_NAMED = re.compile(r"(\d{1,2})[-/. ]+([a-z]{3})[a-z]*\.?[-/., ]+(\d{4}|\d{2})(?!\d)", re.I)
_MONTH_NAMED = re.compile(
    r"([a-z]{3})[a-z]*\.?[-/ ]+(\d{1,2})(?:st|nd|rd|th)?,?[-/ ]+(\d{4})", re.I
)


def take_apart(text: str, line: int) -> Written:
    """Split a cell into date and time.

    Raises
    ------
    InputError
        It holds no date and time.
    """
    found = _date(text.strip())
    if found is None:
        raise _no_time(text, line)
    numbers, settled, dotted, rest = found
    rest = rest.strip(" ,Tt")
    time = _TIME.fullmatch(rest) if rest else None
    if rest and time is None:
        raise _no_time(text, line)
    try:
        clock, zone = _clock(time) if time else (dt.time(0), None)
    except ValueError:
        raise _no_time(text, line) from None
    return Written(line, text.strip(), numbers, settled, dotted, clock, zone)


def order_of(dates: Sequence[Written], asked: DateOrder | None) -> DateOrder:
    """Find which of the two first numbers is the day.

    Parameters
    ----------
    dates : all of the log
    asked : what the person or the heading says, or None

    Raises
    ------
    InputError
        Nothing settles it, or what is asked for cannot be.
    """
    open_dates = [one for one in dates if not one.settled]
    if not open_dates:
        return DateOrder.ISO
    if asked is DateOrder.ISO:
        one = open_dates[0]
        raise InputError(
            f"line {one.line}: {one.text!r} does not begin with the year; give --dates day-first "
            "or month-first"
        )
    if asked is not None:
        return asked
    day_first = any(one.numbers[0] > 12 or one.dotted for one in open_dates)
    month_first = any(one.numbers[1] > 12 for one in open_dates)
    if day_first and month_first:
        bad = next(one for one in open_dates if one.numbers[1] > 12)
        raise InputError(
            f"line {bad.line}: {bad.text!r} has another order of day and month than other lines; "
            "make one file of each kind"
        )
    if day_first or month_first:
        return DateOrder.DAY_FIRST if day_first else DateOrder.MONTH_FIRST
    if all(one.numbers[0] == one.numbers[1] for one in open_dates):
        return DateOrder.DAY_FIRST  # 05/05 is the same either way
    one = open_dates[0]
    raise InputError(
        f"line {one.line}: {one.text!r} may begin with the day or the month, and no line of the "
        "log settles it; give --dates day-first or --dates month-first"
    )


def moment_of(one: Written, order: DateOrder) -> dt.datetime:
    """Date and time, aware where an offset from UTC is written.

    Raises
    ------
    InputError
        There is no such day.
    """
    if one.settled:
        year, month, day = one.numbers
    elif order is DateOrder.DAY_FIRST:
        day, month, year = one.numbers
    else:
        month, day, year = one.numbers
    try:
        date = dt.date(year, month, day)
    except ValueError:
        raise InputError(
            f"line {one.line}: {one.text!r} is no day when read {order.value}; check it, or give "
            "--dates"
        ) from None
    return dt.datetime.combine(date, one.time, tzinfo=one.zone)


def order_in_heading(heading: str) -> DateOrder | None:
    """Order that a heading such as "Date (dd/mm/yyyy)" states."""
    letters = re.sub(
        r"[^dmy]", "", "".join(re.findall(r"\b[dmy]+[-/. ][dmy]+[-/. ][dmy]+", heading.lower()))
    )
    shape = re.sub(r"(.)\1+", r"\1", letters)
    return {"dmy": DateOrder.DAY_FIRST, "mdy": DateOrder.MONTH_FIRST}.get(shape)


def _date(text: str) -> tuple[tuple[int, int, int], bool, bool, str] | None:
    """Numbers of a date, whether their order is settled, whether dots part them, and the rest."""
    if match := _YEAR_FIRST.match(text):
        year, _, month, day = match.groups()
        return (int(year), int(month), int(day)), True, False, text[match.end() :]
    if match := _DAY_NAMED.match(text):
        day, name, year = match.groups()
        if name.lower() in _MONTHS:
            month = _MONTHS.index(name.lower()) + 1
            return (_full_year(year), month, int(day)), True, False, text[match.end() :]
    if match := _MONTH_NAMED.match(text):
        name, day, year = match.groups()
        if name.lower() in _MONTHS:
            month = _MONTHS.index(name.lower()) + 1
            return (int(year), month, int(day)), True, False, text[match.end() :]
    if match := _YEAR_LAST.match(text):
        first, mark, second, year = match.groups()
        numbers = (int(first), int(second), _full_year(year))
        return numbers, False, mark == ".", text[match.end() :]
    return None


def _full_year(digits: str) -> int:
    return int(digits) + (2000 if len(digits) == 2 else 0)


def _clock(match: re.Match[str]) -> tuple[dt.time, dt.timezone | None]:
    hour, minute, second, part, half, zone = match.groups()
    hours = int(hour)
    if half:
        if not 1 <= hours <= 12:
            raise ValueError(hour)
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    micro = int((part or "0").ljust(6, "0")[:6])
    return dt.time(hours, int(minute), int(second or 0), micro), _zone(zone)


def _zone(text: str | None) -> dt.timezone | None:
    if text is None:
        return None
    if text[0] not in "+-":
        return dt.UTC
    sign = -1 if text[0] == "-" else 1
    digits = text[1:].replace(":", "")
    return dt.timezone(sign * dt.timedelta(hours=int(digits[:2]), minutes=int(digits[2:])))


def _no_time(text: str, line: int) -> InputError:
    return InputError(
        f"line {line}: {text.strip()[:40]!r} is no date and time; write it as 2025-03-14 09:30"
    )

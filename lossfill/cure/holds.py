"""When a person works: hours of the day, days off, and the moment that is next allowed."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from lossfill.errors import InputError

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
FIRST_YEAR, LAST_YEAR = 1970, 2100
"""Years of a start: before, rules of summer time are not kept; after, nobody knows them."""

LONGEST_HOLD_DAYS = 366
"""More days off in a row than this are taken for a slip of the pen."""


@dataclass(frozen=True, slots=True)
class DaysOff:
    """Days on which nobody works; what cures goes on curing.

    Parameters
    ----------
    weekdays : 0 for Monday to 6 for Sunday
    ranges : first and last day of each holiday, both off
    """

    weekdays: frozenset[int] = frozenset()
    ranges: tuple[tuple[dt.date, dt.date], ...] = ()

    def __post_init__(self) -> None:
        """Refuse days off that leave no day, or that end before they begin."""
        if not self.weekdays <= frozenset(range(7)):
            raise InputError(f"weekdays off are 0 to 6, not {sorted(self.weekdays)}")
        if len(self.weekdays) == 7:
            raise InputError("all seven days of the week are off: leave one to work on")
        for first, last in self.ranges:
            if last < first:
                raise InputError(f"the days off from {first} end before they begin, on {last}")
            if (last - first).days >= LONGEST_HOLD_DAYS:
                raise InputError(
                    f"days off from {first} to {last} are more than {LONGEST_HOLD_DAYS} in a row: "
                    "start the work after them"
                )

    @property
    def is_asked(self) -> bool:
        """Whether any day is off."""
        return bool(self.weekdays or self.ranges)

    def hold(self, day: dt.date) -> bool:
        """Whether a day is off."""
        return day.weekday() in self.weekdays or any(a <= day <= b for a, b in self.ranges)


@dataclass(frozen=True, slots=True)
class Hours:
    """From when to when work may begin on a day, to the minute."""

    opens: dt.time = dt.time(9)
    closes: dt.time = dt.time(17)

    def __post_init__(self) -> None:
        """Refuse hours that leave no time."""
        if self.closes <= self.opens:
            raise InputError(
                f"working hours {self.opens:%H:%M}-{self.closes:%H:%M} end before they begin: "
                "give them as 9-17"
            )

    def less(self, minutes: float) -> Hours:
        """The hours within which work may begin that goes on to something else so much later.

        Raises
        ------
        InputError
            Where no time is left.
        """
        if minutes <= 0.0:
            return self
        end = dt.datetime.combine(dt.date.min, self.closes) - dt.datetime.combine(
            dt.date.min, dt.time.min
        )
        begin = dt.timedelta(hours=self.opens.hour, minutes=self.opens.minute)
        last = end - dt.timedelta(minutes=minutes)
        if last <= begin:
            raise InputError(
                f"working hours {self.opens:%H:%M}-{self.closes:%H:%M} are too short for steps "
                f"that follow at once over {minutes:g} min: widen them, or plan shorter steps"
            )
        return Hours(self.opens, (dt.datetime.min + last).time())


def days_off_of(words: str) -> DaysOff:
    """Read days off such as "sat,sun,2026-12-24..2026-12-26".

    Raises
    ------
    InputError
        For a word that is no weekday, no date and no range of dates.
    """
    weekdays: set[int] = set()
    ranges: list[tuple[dt.date, dt.date]] = []
    for word in filter(None, (one.strip().lower() for one in words.split(","))):
        named = [n for n, name in enumerate(WEEKDAYS) if len(word) >= 3 and name.startswith(word)]
        if named:
            weekdays.update(named)
            continue
        first, _, last = word.partition("..") if ".." in word else (word, "", word)
        ranges.append((_date(first, word), _date(last, word)))
    return DaysOff(frozenset(weekdays), tuple(sorted(set(ranges))))


def hours_of(words: str) -> Hours:
    """Read working hours such as "9-17" or "8:30-16:45"; "0-24" is round the clock.

    Raises
    ------
    InputError
        For anything else, or where they end before they begin.
    """
    found = re.fullmatch(r"\s*(\d{1,2})(?::(\d\d))?\s*-\s*(\d{1,2})(?::(\d\d))?\s*", words)
    if found is None:
        raise InputError(f"working hours {words!r} are not understood: give them as 9-17")
    opens_h, opens_min, closes_h, closes_min = (int(group or 0) for group in found.groups())
    if (closes_h, closes_min) == (24, 0):  # midnight at the end of the day is no clock time
        closes = dt.time.max
    else:
        closes = _time(closes_h, closes_min, words)
    return Hours(_time(opens_h, opens_min, words), closes)


def in_utc(moment: dt.datetime) -> dt.datetime:
    """The same moment in UTC; a naive one as it is.

    Aware times of one zone compare and add up by the clock on the wall, not by time.
    """
    return moment if moment.tzinfo is None else moment.astimezone(dt.UTC)


def later(moment: dt.datetime, hours: float) -> dt.datetime:
    """The moment so many elapsed hours on, whatever the clocks do meanwhile."""
    # To the second: a sum of waits must not gather rounding that shows in a calendar.
    wait = dt.timedelta(seconds=round(hours * 3600.0))
    then = in_utc(moment) + wait
    return then if moment.tzinfo is None else then.astimezone(moment.tzinfo)


def elapsed_hours(first: dt.datetime, last: dt.datetime) -> float:
    """Hours from one moment to another, whatever the clocks did meanwhile."""
    return (in_utc(last) - in_utc(first)) / dt.timedelta(hours=1)


def is_real(moment: dt.datetime) -> bool:
    """Whether the clocks show such a time; in spring an hour is left out."""
    if moment.tzinfo is None:
        return True
    back = moment.astimezone(dt.UTC).astimezone(moment.tzinfo)
    return back.replace(tzinfo=None) == moment.replace(tzinfo=None)


def next_allowed(moment: dt.datetime, hours: Hours, off: DaysOff) -> dt.datetime:
    """The soonest moment, not before another, at which a sitting may begin."""
    while True:
        day = moment.date()
        if not off.hold(day) and moment.time() < hours.closes:
            opens = dt.datetime.combine(day, hours.opens, tzinfo=moment.tzinfo)
            # Where the clocks skip the opening hour, the day opens as they land.
            opens = later(opens, 0.0)
            if moment.time() >= hours.opens:
                return moment
            # In autumn an hour comes twice: one who is in the second is past the first opening.
            return opens if elapsed_hours(moment, opens) >= 0.0 else opens.replace(fold=1)
        midnight = dt.datetime.combine(
            day + dt.timedelta(days=1), dt.time.min, tzinfo=moment.tzinfo
        )
        moment = later(midnight, 0.0)


def _time(hour: int, minute: int, words: str) -> dt.time:
    try:
        return dt.time(hour, minute)
    except ValueError:
        raise InputError(
            f"working hours {words!r} hold no clock time {hour}:{minute:02}: give them as 9-17"
        ) from None


def _date(words: str, whole: str) -> dt.date:
    try:
        return dt.datetime.strptime(words.strip(), "%Y-%m-%d").date()
    except ValueError:
        raise InputError(
            f"day off {whole!r} is not understood: "
            "give weekdays (sat), dates (2026-12-24) or ranges (2026-12-24..2026-12-26)"
        ) from None

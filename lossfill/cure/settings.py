"""What a repairer chooses of the plan: the start, days off, hours, the waits, and the box."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from dataclasses import dataclass, field
from typing import Literal

from lossfill.cure.holds import FIRST_YEAR, LAST_YEAR, DaysOff, Hours, is_real
from lossfill.errors import InputError

Waits = Literal["usual", "least", "most"]


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """How the work is laid out in time.

    Parameters
    ----------
    start : soonest moment of the first sitting: naive for the clock on the wall, or aware; None
        for days counted from the first, without dates
    zone : time zone by its name in the tz database, such as "Europe/Berlin"; a naive start is read
        in it, an aware one is turned to it
    days_off : days without a sitting; needs a start
    hours : within which a step may begin; it may end after them
    waits : "least" or "most" that is usual for the material, or "usual", midway between the two
    step_min : minutes set aside at the bench for each step; half an hour is a small loss's share
    temperature_c, humidity_percent : in the damp box, or None where not known
    """

    start: dt.datetime | None = None
    zone: str | None = None
    days_off: DaysOff = field(default_factory=DaysOff)
    hours: Hours = field(default_factory=Hours)
    waits: Waits = "usual"
    step_min: float = 30.0
    temperature_c: float | None = None
    humidity_percent: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be planned by."""
        if self.waits not in ("usual", "least", "most"):
            raise InputError(f"waits are usual, least or most, not {self.waits!r}")
        _within(self.step_min, 5.0, 480.0, "minutes for a step")
        _within(self.temperature_c, -40.0, 200.0, "°C in the box")
        _within(self.humidity_percent, 0.0, 100.0, "% relative humidity in the box")
        if self.start is None and (self.zone is not None or self.days_off.is_asked):
            what = "a time zone" if self.zone is not None else "days off"
            raise InputError(f"{what} mean nothing without dates: give a start")
        if self.start is not None and not FIRST_YEAR <= self.start.year <= LAST_YEAR:
            raise InputError(
                f"a start in the year {self.start.year} is outside {FIRST_YEAR} to {LAST_YEAR}"
            )
        begins = self.begins  # an unknown zone is refused here
        if not is_real(begins):
            raise InputError(
                f"{begins:%Y-%m-%d %H:%M} does not exist in {self.zone}: the clocks skip it; "
                "start an hour later"
            )

    @property
    def begins(self) -> dt.datetime:
        """Where the plan counts from: the start, or the opening of a first day without a date."""
        if self.start is None:
            return dt.datetime.combine(NO_DATE, self.hours.opens)
        if self.zone is None:
            return self.start
        zone = _zone(self.zone)
        if self.start.tzinfo is None:
            return self.start.replace(tzinfo=zone)
        return self.start.astimezone(zone)

    def on_the_wall(self, moment: dt.datetime) -> dt.datetime:
        """A moment as the clock at the bench shows it."""
        return moment if moment.tzinfo is None else moment.astimezone(self.begins.tzinfo)


NO_DATE = dt.date(2000, 1, 1)
"""Stands for the first day where there is no start; never shown."""


def start_of(words: str) -> dt.datetime:
    """Read a start such as "2026-12-01 09:00" or "2026-12-01", which is its midnight.

    Raises
    ------
    InputError
        For anything else.
    """
    try:
        return dt.datetime.fromisoformat(words.strip())
    except ValueError:
        raise InputError(
            f"start {words!r} is not a date and time: give it as 2026-12-01 09:00"
        ) from None


def _zone(name: str) -> zoneinfo.ZoneInfo:
    try:
        return zoneinfo.ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # not found; not a name at all; a folder's name
        raise InputError(
            f"time zone {name!r} is not known: give a city's, such as Europe/Berlin"
        ) from None


def _within(value: float | None, low: float, high: float, what: str) -> None:
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise InputError(f"{value:g} {what} are outside {low:g} to {high:g}")

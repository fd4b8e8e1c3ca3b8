"""The plan as an iCalendar file (RFC 5545), for any calendar program.

Each step is an event as long as the bench work is planned to take. The end of each wait is an event
of its own, a moment that blocks no time: what hardens overnight must not fill the calendar with a
bar over days. It rings as the next step on one of the losses is to begin, so that nobody is woken
by what is ready at night. With a time zone, times are given in it and the file says when its
clocks change; without one they float, as on the wall clock of whoever opens the file.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from lossfill.cautions import Work
from lossfill.cure.holds import in_utc, later
from lossfill.cure.plan import Plan, Step
from lossfill.cure.words import losses_words, wait_words
from lossfill.errors import InputError

if TYPE_CHECKING:
    from icalendar import Alarm, Event, Timezone, TimezoneDaylight, TimezoneStandard

PRODUCT: Final = "-//lossfill//cure plan//EN"
"""By which a file of ours is known."""

NAMESPACE: Final = uuid.uuid5(uuid.NAMESPACE_DNS, "cure-plan.lossfill.invalid")
"""For names of events; .invalid is set aside by RFC 2606 and belongs to nobody."""


def calendar_bytes(
    plan: Plan, *, title: str, step_min: float = 30.0, stamp: dt.datetime | None = None
) -> bytes:
    """Write a plan as an iCalendar file.

    Parameters
    ----------
    plan : with dates
    title : of the vessel; stands before each event's name. Events of one title keep their UID when
        the plan moves, so that a calendar program moves them and adds none twice
    step_min : how long each event of bench work is, minutes; as in `PlanSettings`
    stamp : when the file was made; the plan's start where not given, for the same bytes each time

    Raises
    ------
    InputError
        For a plan without dates or without steps.
    """
    from icalendar import Calendar

    moments = [one for step in plan.steps for one in (step.starts, step.ready) if one is not None]
    if not moments:
        raise InputError("a calendar needs dates: give a start such as 2026-12-01 09:00")
    # Line breaks and the like have no place in an event's name.
    name = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    made = _utc(moments[0] if stamp is None else stamp)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    zone = _zone_part(moments)
    if zone is not None:
        calendar.add_component(zone)
    seen: Counter[str] = Counter()
    for step in plan.steps:
        if step.starts is not None and step.work is not Work.CURE:
            event = _event(step, f"{name}: {step.says}", made, seen)
            event.add("dtstart", _written(step.starts))
            event.add("dtend", _written(later(step.starts, step_min / 60.0)))
            event.add("transp", "OPAQUE")
            calendar.add_component(event)
        if step.ready is not None and step.wait_hours[1] > 0.0:
            event = _event(step, f"{name}: ready: {step.says}", made, seen)
            event.add("dtstart", _written(step.ready))
            event.add("transp", "TRANSPARENT")
            event.add_component(_alarm(str(event["summary"]), _rings(plan, step, step.ready)))
            calendar.add_component(event)
    content: bytes = calendar.to_ical()
    return content


def is_ours(content: bytes) -> bool:
    """Whether a file is a calendar that we wrote."""
    return f"PRODID:{PRODUCT}".encode() in content.splitlines()[:4]


def _event(step: Step, summary: str, made: dt.datetime, seen: Counter[str]) -> Event:
    from icalendar import Event

    event = Event()
    summary = f"{summary} ({losses_words(step.losses)})"
    seen[summary] += 1
    event.add("uid", str(uuid.uuid5(NAMESPACE, f"{summary}\n{seen[summary]}")))
    event.add("dtstamp", made)
    event.add("summary", summary)
    event.add("description", "\n".join(_told(step)))
    return event


def _rings(plan: Plan, step: Step, ready: dt.datetime) -> dt.datetime | dt.timedelta:
    """When the next step at the bench on one of its losses begins; as the end of a wait if none.

    In UTC where the zone is known: days between two moments are read in two ways where the clocks
    change meanwhile. RFC 5545 (3.8.6.3) has no floating moment, so that a floating plan tells how
    long after the wait it is.
    """
    following = (
        one.starts
        for one in plan.steps
        if one.starts is not None
        and one.number > step.number
        and one.work is not Work.CURE
        and not set(one.losses).isdisjoint(step.losses)
    )
    moment = next(following, ready)
    return moment - ready if moment.tzinfo is None else in_utc(moment)


def _alarm(words: str, rings: dt.datetime | dt.timedelta) -> Alarm:
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    # A trigger is a duration unless it says otherwise (3.8.6.3).
    value = {"VALUE": "DATE-TIME"} if isinstance(rings, dt.datetime) else {}
    alarm.add("trigger", rings, parameters=value)
    alarm.add("description", words)
    return alarm


def _told(step: Step) -> list[str]:
    least, most = step.wait_hours
    told = [f"Step {step.number}: {step.work.value}, {losses_words(step.losses)}"]
    if step.material:
        told.append(f"Material: {step.material}")
    if most > 0.0:
        box = ", in the damp box" if step.needs_box else ""
        told.append(f"Then wait {wait_words(least, most)}{box}")
    return [*told, *step.cautions]


def _written(moment: dt.datetime) -> dt.datetime:
    """As it goes to the file: by its zone's clock where the file can say that, else in UTC.

    The second of an hour that comes twice cannot be said by the clock (RFC 5545, 3.3.5: the first
    is meant), nor a bare offset at all.
    """
    if moment.tzinfo is None or (_key(moment) and not moment.fold):
        return moment
    return in_utc(moment)


def _key(moment: dt.datetime) -> str | None:
    """Name of a moment's zone; none for UTC, a bare offset and a floating time."""
    name: str | None = getattr(moment.tzinfo, "key", None)
    return None if name == "UTC" else name


def _utc(moment: dt.datetime) -> dt.datetime:
    """In UTC, as DTSTAMP must be; a clock without a zone is read as if it were."""
    if moment.tzinfo is None:
        return moment.replace(tzinfo=dt.UTC, microsecond=0)
    return in_utc(moment).replace(microsecond=0)


def _zone_part(moments: list[dt.datetime]) -> Timezone | None:
    """The rules of a plan's zone, from its first moment to its last; none for UTC and floating.

    The offsets are those of the tz database. The library's own writer gives the onset of summer
    time by the clock after the change, while RFC 5545 (3.6.5) wants that before it.
    """
    from icalendar import Timezone

    zone = moments[0].tzinfo
    name = _key(moments[0])
    if zone is None or name is None:
        return None
    first, last = min(map(in_utc, moments)), max(map(in_utc, moments))
    part = Timezone()
    part.add("tzid", name)
    # The rule in force at the first moment has to begin before it.
    begins = (first - dt.timedelta(days=1)).replace(minute=0, second=0, microsecond=0)
    part.add_component(_rule(begins, begins, zone))
    for change in _changes(begins, last + dt.timedelta(days=1), zone):
        part.add_component(_rule(change - dt.timedelta(seconds=1), change, zone))
    return part


def _changes(first: dt.datetime, last: dt.datetime, zone: dt.tzinfo) -> Iterator[dt.datetime]:
    """The first second of each new offset; no zone changes its clocks twice in a day."""
    day = first
    while day < last:
        following = day + dt.timedelta(days=1)
        if _offset(following, zone) != _offset(day, zone):
            low, high = 0, 86_400  # seconds; the old offset holds at low, the new one at high
            while high - low > 1:
                middle = (low + high) // 2
                is_new = _offset(day + dt.timedelta(seconds=middle), zone) != _offset(day, zone)
                low, high = (low, middle) if is_new else (middle, high)
            yield day + dt.timedelta(seconds=high)
        day = following


def _rule(
    before: dt.datetime, change: dt.datetime, zone: dt.tzinfo
) -> TimezoneStandard | TimezoneDaylight:
    """From a moment on, the offset that holds then; its onset is told by the clock before."""
    from icalendar import TimezoneDaylight, TimezoneStandard

    after = change.astimezone(zone)
    part = TimezoneDaylight() if after.dst() else TimezoneStandard()
    from_offset, to_offset = _offset(before, zone), _offset(change, zone)
    part.add("dtstart", change.replace(tzinfo=None) + from_offset)
    part.add("tzoffsetfrom", from_offset)
    part.add("tzoffsetto", to_offset)
    part.add("tzname", after.tzname() or "")
    return part


def _offset(moment: dt.datetime, zone: dt.tzinfo) -> dt.timedelta:
    offset = moment.astimezone(zone).utcoffset()
    return dt.timedelta(0) if offset is None else offset

"""The plan as an iCalendar file: read back by the library, and its bytes held to RFC 5545."""

from __future__ import annotations

import datetime as dt
import io
import re
import zoneinfo

import icalendar
import pytest
from cure.portions import LACQUER, LACQUER_PASTE, filled, portion, quantities
from dateutil import tz

from lossfill.cautions import Work
from lossfill.cure import Plan, PlanSettings, calendar_bytes, days_off_of, hours_of, plan_for
from lossfill.cure.calendar import is_ours
from lossfill.errors import InputError

BERLIN = zoneinfo.ZoneInfo("Europe/Berlin")
ORDER = quantities(
    *filled(1, 2),
    *filled(2, 3),
    portion(3, "fill", LACQUER_PASTE, 2),
    portion(3, "coat", LACQUER, 4),  # sanded three times: events of one name
)


def plan_from(start: dt.datetime, zone: str | None, **more: object) -> Plan:
    asked = PlanSettings(
        start=start,
        zone=zone,
        days_off=days_off_of("sat,sun"),
        **more,  # type: ignore[arg-type]
    )
    return plan_for(ORDER, asked)


AUTUMN = dt.datetime(2026, 10, 20, 9)


@pytest.mark.parametrize("zone", [None, "Europe/Berlin", "America/New_York", "UTC"])
def test_every_field_is_read_back(zone: str | None) -> None:
    plan = plan_from(AUTUMN, zone)
    read = icalendar.Calendar.from_ical(calendar_bytes(plan, title="tea bowl", step_min=30))
    events = {str(event["uid"]): event for event in read.walk("VEVENT")}
    benches = [event for event in events.values() if "dtend" in event]
    readies = [event for event in events.values() if "dtend" not in event]
    at_bench = [step for step in plan.steps if step.work is not Work.CURE]
    waited = [step for step in plan.steps if step.wait_hours[1] > 0]
    assert (len(benches), len(readies)) == (len(at_bench), len(waited))
    for step, event in zip(at_bench, benches, strict=True):
        assert event["dtstart"].dt == step.starts
        assert event["dtend"].dt - event["dtstart"].dt == dt.timedelta(minutes=30)
        assert str(event["summary"]).startswith(f"tea bowl: {step.says} (loss")
        assert event["transp"] == "OPAQUE"
        told = str(event["description"]).split("\n")
        assert told[0].startswith(f"Step {step.number}: {step.work.value}, loss")
        assert told[-len(step.cautions) :] == list(step.cautions)
        assert (f"Material: {step.material}" in told) == bool(step.material)
        assert any("damp box" in line for line in told) == step.needs_box
    for step, event in zip(waited, readies, strict=True):
        assert event["dtstart"].dt == step.ready
        assert event["transp"] == "TRANSPARENT"
        (alarm,) = event.walk("VALARM")
        assert alarm["action"] == "DISPLAY"
        # It rings as the next step on one of the losses begins; at once after the final cure.
        following = [
            one.starts
            for one in at_bench
            if one.number > step.number and set(one.losses) & set(step.losses)
        ]
        rings = min(following, default=step.ready)
        told = alarm["trigger"].dt
        assert (event["dtstart"].dt + told if zone is None else told) == rings
        assert alarm["description"] == event["summary"]


@pytest.mark.parametrize("zone", [None, "Europe/Berlin", "UTC"])
def test_bytes_keep_the_rules_of_rfc_5545(zone: str | None) -> None:
    content = calendar_bytes(plan_from(AUTUMN, zone), title="Schälchen – größer, 茶; \\ x")
    # 3.1: lines end by CR LF, and hold at most 75 octets without it.
    assert content.endswith(b"\r\n")
    assert content.count(b"\n") == content.count(b"\r") == content.count(b"\r\n")
    folded = content.split(b"\r\n")
    assert max(map(len, folded)) <= 75
    assert any(line.startswith(b" ") for line in folded)  # so that folding was needed at all
    lines = re.sub(r"\r\n[ \t]", "", content.decode("utf-8")).split("\r\n")[:-1]
    assert all(re.fullmatch(r"[A-Z-]+(;[A-Z-]+=[^:;\"]+)*:.*", line) for line in lines)
    # 3.3.11: a comma, a semicolon and a backslash in text are escaped.
    summary = next(line for line in lines if line.startswith("SUMMARY:"))
    assert summary.startswith("SUMMARY:Schälchen – größer\\, 茶\\; \\\\ x: first")
    # 3.6: parts are closed in the order in which they were opened.
    opened: list[str] = []
    for line in lines:
        name, _, value = line.partition(":")
        if name == "BEGIN":
            opened.append(value)
        if name == "END":
            assert opened.pop() == value
    assert opened == []
    # 3.6: PRODID and VERSION once; 3.6.1: UID and DTSTAMP once in each event, DTSTART too.
    head = lines[: lines.index("BEGIN:VEVENT")]
    assert [line for line in head if line.startswith("VERSION")] == ["VERSION:2.0"]
    assert sum(line.startswith("PRODID") for line in head) == 1
    events = "\n".join(lines).split("BEGIN:VEVENT")[1:]
    for event in events:
        for name in ("UID:", "DTSTART", "SUMMARY:"):
            assert len(re.findall(f"^{name}", event, re.MULTILINE)) == 1
        # 3.8.7.2: DTSTAMP is in UTC.
        # 3.8.6.3: an alarm's moment is in UTC, or else a duration.
        for line in re.findall(r"^TRIGGER.*$", event, re.MULTILINE):
            assert re.fullmatch(
                r"TRIGGER(;VALUE=DATE-TIME:\d{8}T\d{6}Z|:P(\d+D)?(T(\d+H)?(\d+M)?(\d+S)?)?)", line
            )
        assert len(re.findall(r"^DTSTAMP:\d{8}T\d{6}Z$", event, re.MULTILINE)) == 1
    # 3.8.4.7: UIDs are unique.
    uids = [line for line in lines if line.startswith("UID:")]
    assert len(set(uids)) == len(uids) == len(events)
    # 3.2.19: each TZID has its VTIMEZONE.
    used = set(re.findall(r"TZID=([^:;]+)", "\n".join(lines)))
    assert used == set(re.findall(r"^TZID:(.+)$", "\n".join(lines), re.MULTILINE))
    assert used == ({"Europe/Berlin"} if zone == "Europe/Berlin" else set())
    forms = {None: r"DTSTART:\d{8}T\d{6}", "UTC": r"DTSTART:\d{8}T\d{6}Z"}
    starts = [line for line in lines if line.startswith("DTSTART") and zone in forms]
    assert all(re.fullmatch(forms[zone], line) for line in starts)


@pytest.mark.parametrize(
    ("start", "zone"),
    [
        (dt.datetime(2026, 10, 20, 9), "Europe/Berlin"),  # summer time ends on 25 October
        (dt.datetime(2026, 3, 26, 9), "Europe/Berlin"),  # it begins on 29 March
        (dt.datetime(2026, 10, 28, 9), "America/New_York"),  # ends on 1 November
        (dt.datetime(2026, 9, 28, 9), "Australia/Lord_Howe"),  # half an hour, on 4 October
        (dt.datetime(2026, 3, 26, 9), "Europe/Dublin"),
        (dt.datetime(2026, 3, 26, 9), "Asia/Kolkata"),
    ],
)
def test_the_rules_of_the_zone_in_the_file_are_the_zones(start: dt.datetime, zone: str) -> None:
    # Read by dateutil, which knows nothing of the zone but what the file says.
    plan = plan_from(start, zone)
    text = calendar_bytes(plan, title="bowl").decode("utf-8")
    rules = tz.tzical(io.StringIO(text.replace("\r\n", "\n"))).get(zone)
    assert rules is not None
    first = start.replace(tzinfo=zoneinfo.ZoneInfo(zone)).astimezone(dt.UTC)
    for hour in range(24 * 14):  # both sides of the change
        moment = first + dt.timedelta(hours=hour)
        here = moment.astimezone(zoneinfo.ZoneInfo(zone))
        said = here.replace(tzinfo=rules)
        assert said.utcoffset() == here.utcoffset(), moment
        assert said.tzname() == here.tzname()


def test_onset_of_summer_time_is_told_by_the_clock_before_it() -> None:
    # RFC 5545, 3.6.5: Berlin's clocks go from 2:00 to 3:00 on 29 March 2026, and back from 3:00.
    spring = calendar_bytes(plan_from(dt.datetime(2026, 3, 26, 9), "Europe/Berlin"), title="x")
    assert (
        b"BEGIN:DAYLIGHT\r\nDTSTART:20260329T020000\r\nTZNAME:CEST\r\n"
        b"TZOFFSETFROM:+0100\r\nTZOFFSETTO:+0200\r\nEND:DAYLIGHT"
    ) in spring
    autumn = calendar_bytes(plan_from(AUTUMN, "Europe/Berlin"), title="x")
    assert b"BEGIN:STANDARD\r\nDTSTART:20261025T030000\r\nTZNAME:CET\r\n" in autumn


def test_the_second_of_an_hour_that_comes_twice_is_told_in_utc() -> None:
    # 12.5 h after 14:00 in summer time is 2:30 once the clocks have gone back: 1:30 UTC.
    start = dt.datetime(2026, 10, 24, 14)
    plan = plan_for(
        quantities(portion(1, "join", filled(1, 1)[0].material)),
        PlanSettings(start=start, zone="Europe/Berlin", hours=hours_of("0-24")),
    )
    ready = plan.steps[0].ready
    assert ready is not None
    assert (ready.hour, ready.minute, ready.fold) == (2, 30, 0)  # 0:30 UTC: still the first
    later_plan = plan_for(
        quantities(portion(1, "join", filled(1, 1)[0].material)),
        PlanSettings(start=start.replace(hour=15), zone="Europe/Berlin", hours=hours_of("0-24")),
    )
    assert b"DTSTART;TZID=Europe/Berlin:20261025T023000" in calendar_bytes(plan, title="x")
    assert b"DTSTART:20261025T013000Z" in calendar_bytes(later_plan, title="x")


def test_an_offset_without_a_zone_is_told_in_utc() -> None:
    start = dt.datetime(2026, 6, 1, 9, tzinfo=dt.timezone(dt.timedelta(hours=2)))
    content = calendar_bytes(plan_from(start, None), title="x")
    assert b"DTSTART:20260601T070000Z" in content
    assert b"TZID" not in content


def test_the_same_plan_gives_the_same_bytes_and_a_moved_one_the_same_names() -> None:
    plan = plan_from(AUTUMN, "Europe/Berlin")
    content = calendar_bytes(plan, title="bowl")
    assert content == calendar_bytes(plan_from(AUTUMN, "Europe/Berlin"), title="bowl")
    uids = re.findall(rb"UID:\S+", content)
    moved = calendar_bytes(plan_from(AUTUMN + dt.timedelta(days=7), "Europe/Berlin"), title="bowl")
    assert moved != content
    assert re.findall(rb"UID:\S+", moved) == uids
    other = calendar_bytes(plan, title="another bowl")
    assert not set(re.findall(rb"UID:\S+", other)) & set(uids)


def test_the_stamp_is_the_start_or_as_given() -> None:
    plan = plan_from(AUTUMN, "Europe/Berlin")
    assert b"DTSTAMP:20261020T070000Z" in calendar_bytes(plan, title="x")
    stamp = dt.datetime(2026, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
    assert b"DTSTAMP:20260102T030405Z" in calendar_bytes(plan, title="x", stamp=stamp)


def test_line_breaks_in_a_title_do_not_break_the_file() -> None:
    content = calendar_bytes(plan_from(AUTUMN, None), title="a\r\nBEGIN:VTODO\x00\x07 b")
    read = icalendar.Calendar.from_ical(content)
    assert not read.walk("VTODO")
    assert str(read.walk("VEVENT")[0]["summary"]).startswith("a BEGIN:VTODO b: first")


def test_a_plan_without_dates_has_no_calendar() -> None:
    plan = plan_for(ORDER, PlanSettings())
    with pytest.raises(InputError, match="a calendar needs dates"):
        calendar_bytes(plan, title="x")
    with pytest.raises(InputError, match="a calendar needs dates"):
        calendar_bytes(Plan((), 0.0), title="x")


def test_a_file_of_ours_is_known() -> None:
    assert is_ours(calendar_bytes(plan_from(AUTUMN, None), title="x"))
    other = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//someone//else//EN\r\nEND:VCALENDAR\r\n"
    assert not is_ours(other)
    assert not is_ours(b"")
    assert not is_ours(b"\x00\xff\n")

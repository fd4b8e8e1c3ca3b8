"""Losses and waits in words, as they stand in the table and in the calendar."""

from __future__ import annotations

import datetime as dt

from lossfill.cure.plan import Plan

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
"""Not by strftime, which follows the language of the machine."""

COLUMNS = ("", "date", "time", "step", "losses", "wait", "ready")


def table_of(plan: Plan, opens: dt.time) -> list[tuple[str, ...]]:
    """The plan as a table: one row of words for each step, under `COLUMNS`.

    Parameters
    ----------
    plan : with dates or without
    opens : when the first day opens, where there are no dates
    """
    rows: list[tuple[str, ...]] = []
    for step in plan.steps:
        date, time = _moment(step.starts, step.hours_from_start, opens, year=True)
        is_waited = step.wait_hours[1] > 0.0
        ready = _moment(step.ready, step.ready_hours_from_start, opens, year=False)
        wait = wait_words(*step.wait_hours) + (", box" if step.needs_box else "")
        losses = ", ".join(str(loss) for loss in step.losses if loss) or "-"
        rows.append(
            (str(step.number), date, time, step.says, losses)
            + ((wait, " ".join(ready)) if is_waited else ("-", "at once"))
        )
    return rows


def _moment(
    moment: dt.datetime | None, hours: float, opens: dt.time, *, year: bool
) -> tuple[str, str]:
    """Day and time of day, counted from the first where there is no date."""
    if moment is not None:
        day = moment.strftime("%Y-%m-%d" if year else "%m-%d")
        return f"{DAYS[moment.weekday()]} {day}", f"{moment:%H:%M}"
    minutes = round(60.0 * hours) + 60 * opens.hour + opens.minute
    return f"day {minutes // 1440 + 1}", f"{minutes % 1440 // 60:02}:{minutes % 60:02}"


def losses_words(losses: tuple[int, ...]) -> str:
    """Which losses, such as "losses 1, 2"; one without a scan has no number."""
    numbers = [str(loss) for loss in losses if loss]
    if not numbers:
        return "as given"
    return f"loss{'es' if len(numbers) > 1 else ''} {', '.join(numbers)}"


def wait_words(least: float, most: float) -> str:
    """A span of hours in the unit that suits it, such as "8-24 h" or "2-14 days"."""
    (low, low_unit), (high, unit) = _in_unit(least), _in_unit(most)
    if low_unit != unit:
        return f"{low} {low_unit}-{high} {unit}"
    return f"{high} {unit}" if low == high else f"{low}-{high} {unit}"


def _in_unit(hours: float) -> tuple[str, str]:
    return (
        (f"{round(hours / 24.0, 1):g}", "days") if hours > 48.0 else (f"{round(hours, 1):g}", "h")
    )

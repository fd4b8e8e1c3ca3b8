"""Losses and waits in words, as they stand in the table and in the calendar."""

from __future__ import annotations

import datetime as dt

from lossfill.cautions import Work
from lossfill.cure.plan import Plan

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
"""Not by strftime, which follows the language of the machine."""

COLUMNS = ("", "date", "time", "step", "losses", "wait", "ready")


def steps_words(plan: Plan) -> str:
    """How many steps there are: a wait alone is none of work."""
    waits = sum(step.work is Work.CURE for step in plan.steps)
    work = len(plan.steps) - waits
    told = f"{work} step{'' if work == 1 else 's'} of work"
    return f"{told} and {waits} of waiting" if waits else told


def table_of(plan: Plan) -> list[tuple[str, ...]]:
    """The plan as a table: one row of words for each step, under `COLUMNS`."""
    rows: list[tuple[str, ...]] = []
    for step in plan.steps:
        is_waited = step.wait_hours[1] > 0.0
        begins = moment_words(step.starts, step.hours_from_start, plan.opens, year=True)
        ready = moment_words(step.ready, step.ready_hours_from_start, plan.opens, year=False)
        wait = wait_words(*step.wait_hours) + (", box" if step.needs_box else "")
        losses = ", ".join(str(loss) for loss in step.losses if loss) or "-"
        rows.append(
            (str(step.number), *begins, step.says, losses)
            + ((wait, " ".join(ready)) if is_waited else ("-", "at once"))
        )
    return rows


def moment_words(
    moment: dt.datetime | None, hours: float, opens: dt.time, *, year: bool
) -> tuple[str, str]:
    """Day and time of day, counted from the first where there is no date.

    Parameters
    ----------
    moment : date and time, or None
    hours : since the first day opened
    opens : when that was
    year : whether a date is told with its year
    """
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
    unit_h, unit = (24.0, "days") if least >= 24.0 and most > 48.0 else (1.0, "h")
    low, high = (f"{round(hours / unit_h, 1):g}" for hours in (least, most))
    return f"{high} {unit}" if low == high else f"{low}-{high} {unit}"

"""When which step may follow, and the air in which lacquer cures."""

from lossfill.cure.calendar import calendar_bytes
from lossfill.cure.holds import DaysOff, Hours, days_off_of, hours_of
from lossfill.cure.plan import Plan, Step
from lossfill.cure.settings import PlanSettings, start_of
from lossfill.cure.steps import plan_for

__all__ = [
    "DaysOff",
    "Hours",
    "Plan",
    "PlanSettings",
    "Step",
    "calendar_bytes",
    "days_off_of",
    "hours_of",
    "plan_for",
    "start_of",
]

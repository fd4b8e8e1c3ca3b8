"""What a record is to be made with: the one thing that every front end hands over."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

from lossfill.cure import Plan, PlanSettings, plan_for
from lossfill.drawing.paper import Paper
from lossfill.make.store import read_design
from lossfill.materials import Material, read_table
from lossfill.mix import MixSettings, Quantities, needs_of, quantities_for
from lossfill.record.fields import NO_FIELDS, ObjectFields


@dataclass(frozen=True, slots=True)
class RecordOrder:
    """What a record is to be made with.

    Parameters
    ----------
    fields : what only people know of the object
    choice : of materials
    plan : when the work begins and in which hours
    table : of materials; None takes the one that comes along
    paper : of the PDF
    day : of the record; None leaves a line to write on
    """

    fields: ObjectFields = NO_FIELDS
    choice: MixSettings = field(default_factory=MixSettings)
    plan: PlanSettings = field(default_factory=PlanSettings)
    table: tuple[Material, ...] | None = None
    paper: Paper = Paper.A4
    day: dt.date | None = None


def reckoned(folder: Path, order: RecordOrder) -> tuple[Quantities, Plan]:
    """What is mixed for the design in a folder, and when.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    record, briefs = read_design(folder)
    table = read_table() if order.table is None else order.table
    quantities = quantities_for(needs_of(record, briefs), order.choice, table)
    return quantities, plan_for(quantities, order.plan)

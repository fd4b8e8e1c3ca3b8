"""What `lossfill cure` does: gather what is to be laid, plan it, write the calendar, and tell."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from lossfill import __version__
from lossfill.cautions import Work, cautions_for
from lossfill.cli.blocks import print_blocks, print_document
from lossfill.cli.mix_commands import Given, gathered
from lossfill.cli.summary import caution_lines, warning_lines
from lossfill.cli.words import LINE_WIDTH, wrapped
from lossfill.cure import Plan, PlanSettings, Step, calendar_bytes, plan_for
from lossfill.cure.words import COLUMNS, steps_words, table_of
from lossfill.cure.write import write_calendar
from lossfill.materials import read_table
from lossfill.mix import MixSettings, quantities_for

STEP_COLUMN = COLUMNS.index("step")
LOSSES_COLUMN = COLUMNS.index("losses")
LOSSES_WIDTH = 12
"""Characters of the numbers of losses before they are broken."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to come of a plan.

    Parameters
    ----------
    calendar : file to write, or None
    title : name of the vessel in it, or None for the folder's
    as_json : whether one document is printed in place of words
    """

    calendar: Path | None = None
    title: str | None = None
    as_json: bool = False


def run_cure(
    folder: Path | None,
    given: Given,
    choice: MixSettings,
    materials: Path | None,
    settings: PlanSettings,
    wanted: Wanted,
) -> None:
    """Plan the work on the losses of a folder, or on one that is given by its figures."""
    _, needs = gathered(folder, given)
    quantities = quantities_for(needs, choice, read_table(materials))
    plan = plan_for(quantities, settings)
    keys = [key for portion in quantities.portions for key in portion.material.cautions]
    works = dict.fromkeys((Work.HANDLE, *(step.work for step in plan.steps), Work.USE))
    cautions = cautions_for(works, keys)
    if wanted.calendar is not None and (needs or settings.start is None):
        title = wanted.title or ("vessel" if folder is None else folder.resolve().name)
        content = calendar_bytes(plan, title=title, step_min=settings.step_min)
        write_calendar(wanted.calendar, content)
    if wanted.as_json:
        print_document(plan_document(plan, cautions, wanted.calendar if needs else None))
        return
    if not plan.steps:
        print_blocks(["No loss was found in this design: there is nothing to plan"])
        return
    print_blocks(
        plan_lines(plan, settings),
        warning_lines(plan.warnings),
        caution_lines(cautions),
        _calendar_lines(wanted.calendar),
    )


def plan_lines(plan: Plan, settings: PlanSettings) -> Iterator[str]:
    """The plan as a table, as wide as other lines are."""
    rows = table_of(plan)
    days = f"{plan.days:.0f} days" if plan.days >= 1.95 else f"{24.0 * plan.days:.0f} hours"
    zone = "" if settings.zone is None else f", times in {settings.zone}"
    heading = f"Plan of the work: {steps_words(plan)}, {days}, by the {_waits(settings)}{zone}"
    yield from wrapped(heading, "", "  ")
    widths = [max(map(len, column)) for column in zip(COLUMNS, *rows, strict=True)]
    widths[LOSSES_COLUMN] = min(widths[LOSSES_COLUMN], LOSSES_WIDTH)
    others = sum(widths) - widths[STEP_COLUMN] + 2 * len(COLUMNS)
    # Half a dozen words are left to the step, however wide the rest.
    widths[STEP_COLUMN] = min(widths[STEP_COLUMN], max(LINE_WIDTH - others, 24))
    for row in (COLUMNS, *rows):
        yield from _row(row, widths)


def _waits(settings: PlanSettings) -> str:
    return {
        "usual": "middle of the usual waits",
        "least": "least of the usual waits",
        "most": "most of the usual waits",
    }[settings.waits]


def _row(cells: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    """One row; a cell that is too long goes on below."""
    columns = [
        textwrap.wrap(cell, width, break_on_hyphens=False) or [""]
        for cell, width in zip(cells, widths, strict=True)
    ]
    for line in range(max(map(len, columns))):
        told = [
            (column[line] if line < len(column) else "").ljust(width)
            for column, width in zip(columns, widths, strict=True)
        ]
        yield "  " + "  ".join(told).rstrip()


def _calendar_lines(calendar: Path | None) -> Iterator[str]:
    if calendar is not None:
        yield "Calendar"
        yield f"  {calendar}"
        yield from wrapped(
            "Bring it into your calendar program; it rings where a wait ends. Brought in anew "
            "after a change of plan, its events are moved.",
            "  ",
        )


def plan_document(plan: Plan, cautions: Sequence[str], calendar: Path | None) -> dict[str, Any]:
    """All of it for programs; times as in ISO 8601."""
    return {
        "program": f"lossfill {__version__}",
        "steps": [_step(step) for step in plan.steps],
        "days": plan.days,
        "warnings": list(plan.warnings),
        "cautions": list(cautions),
        "calendar": None if calendar is None else str(calendar),
    }


def _step(step: Step) -> dict[str, Any]:
    return asdict(step) | {
        "work": step.work.value,
        "starts": None if step.starts is None else step.starts.isoformat(),
        "ready": None if step.ready is None else step.ready.isoformat(),
    }

"""Amounts and plan, for the page: what the command line reckons, as a document to be shown."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import asdict, dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from lossfill.errors import InputError, LossfillError
from lossfill.page.choices import Choices, MixChoices, Stage
from lossfill.page.jobs import Job
from lossfill.page.words import mix as words

if TYPE_CHECKING:
    from lossfill.cure import Plan, PlanSettings
    from lossfill.materials import Material
    from lossfill.mix import MixSettings, Need, Portion, Quantities
    from lossfill.pack.record import FillRecord

CALENDAR_NAME = "plan.ics"

NAME_LENGTH = 60
"""Letters of a vessel's name that a folder bears, short enough for every file system."""

_RESERVED = re.compile(r"con|prn|aux|nul|com\d|lpt\d", re.IGNORECASE)
"""Names that no folder can bear everywhere."""


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What is mixed for a job's losses, and when.

    Parameters
    ----------
    record : of the design
    needs, quantities, plan : what they need, what is mixed for it, and the steps
    settings : by which the plan was made
    """

    record: FillRecord
    needs: tuple[Need, ...]
    quantities: Quantities
    plan: Plan
    settings: PlanSettings


def leave_mix(job: Job, choices: Choices) -> None:
    """Reckon what is mixed and when; leave it as `mix.json`, and the plan as a calendar.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    from lossfill.page.leaving import write_json

    content = _nothing() if is_without_losses(job) else _content(job, choices)
    calendar = content.pop("calendar_bytes")
    _write_calendar(job, calendar)
    write_json(
        job.folder / f"{Stage.MIX.value}.json",
        content | {"calendar": None if calendar is None else CALENDAR_NAME},
    )


def is_without_losses(job: Job) -> bool:
    """Whether no loss is left to be filled, so that there is no pack either."""
    found = job.found(Stage.PIECES)
    return found is not None and not found["pieces"] and not job.pack.exists()


def reckoned(job: Job, choices: Choices) -> Reckoned:
    """What is mixed for the losses of a job's pack, and when.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    from lossfill.cure import plan_for
    from lossfill.make.store import read_design
    from lossfill.materials import read_table
    from lossfill.mix import needs_of, quantities_for

    try:
        record, briefs = read_design(job.pack)
    except LossfillError as error:
        raise InputError(words.PACK_BROKEN) from error
    needs = needs_of(record, briefs)
    settings = plan_settings(choices.mix)
    known = [need.number for need in needs]
    quantities = quantities_for(needs, mix_settings(choices.mix, known), read_table())
    return Reckoned(record, needs, quantities, plan_for(quantities, settings), settings)


def mix_settings(chosen: MixChoices, numbers: list[int] | None = None) -> MixSettings:
    """The choices of materials as the mix takes them; None is as recommended.

    Parameters
    ----------
    numbers : of the losses there are; what was chosen for one that has gone counts no more
    """
    from lossfill.mix import MixSettings

    fills = {
        number: name for number, name in chosen.fill_with if numbers is None or number in numbers
    }
    given = {"join_with": chosen.join_with, "coat_with": chosen.coat, "metal_with": chosen.metal}
    told = {key: name for key, name in given.items() if name is not None}
    return MixSettings(fill_for=fills, coat_sides=chosen.coat_sides, **told)  # type: ignore[arg-type]


def plan_settings(chosen: MixChoices) -> PlanSettings:
    """The choices of time as the plan takes them.

    Raises
    ------
    InputError
        For what is no time, or leaves none.
    """
    from lossfill.cure import PlanSettings, days_off_of, hours_of, start_of

    hours = hours_of(chosen.hours)
    start = None if chosen.start is None else start_of(chosen.start)
    if start is not None and start.time() == dt.time():
        # A day alone: a sitting begins when work may.
        start = dt.datetime.combine(start.date(), hours.opens)
    return PlanSettings(start=start, days_off=days_off_of(chosen.days_off), hours=hours)


def scan_title(job: Job) -> str:
    """What the vessel is called by the file that was dropped.

    The calendar goes by it: it knows its events again by their names, which must not change.
    """
    from lossfill.make.store import vessel_name

    return vessel_name(job.read().title)


def vessel_title(job: Job, choices: Choices) -> str:
    """What the vessel is called: as its record says, else by the file that was dropped."""
    return choices.record.fields.get("title", "").strip() or scan_title(job)


def folder_name(title: str) -> str:
    """A vessel's name as a folder can bear it on any computer."""
    kept = "".join(letter if letter.isalnum() else " " for letter in PurePath(title).name)
    name = "_".join(kept.split())[:NAME_LENGTH].strip("_") or "vessel"
    return f"vessel_{name}" if _RESERVED.fullmatch(name) else name


def calendar_of(made: Reckoned, title: str) -> bytes | None:
    """The plan as a calendar, or None where it has no dates or nothing is done."""
    from lossfill.cure import calendar_bytes

    if made.settings.start is None or not made.plan.steps:
        return None
    return calendar_bytes(made.plan, title=title, step_min=made.settings.step_min)


def _write_calendar(job: Job, content: bytes | None) -> None:
    path = job.folder / CALENDAR_NAME
    if content is None:
        path.unlink(missing_ok=True)
        return
    fresh = path.with_name(f".{path.name}.new")
    fresh.write_bytes(content)
    fresh.replace(path)


def _nothing() -> dict[str, Any]:
    return {"losses": [], "totals": [], "plan": None, "warnings": [], "cautions": []} | {
        "materials": {},
        "calendar_bytes": None,
    }


def _content(job: Job, choices: Choices) -> dict[str, Any]:
    from lossfill.cautions import Work, cautions_for

    made = reckoned(job, choices)
    quantities, plan = made.quantities, made.plan
    keys = [key for portion in quantities.portions for key in portion.material.cautions]
    works = dict.fromkeys((Work.HANDLE, *(step.work for step in plan.steps), Work.USE))
    return {
        "losses": [_loss(made, need) for need in made.needs],
        "totals": [_total(total) for total in quantities.totals],
        "plan": _plan(made),
        "warnings": list(dict.fromkeys((*quantities.warnings, *plan.warnings))),
        "cautions": list(cautions_for(works, keys)),
        "materials": _choosable(),
        "calendar_bytes": calendar_of(made, scan_title(job)),
    }


def _loss(made: Reckoned, need: Need) -> dict[str, Any]:
    from lossfill.mix import MixSettings
    from lossfill.mix.mix import recommended_fill

    part = next(one for one in made.record.losses if one.number == need.number)
    own = [one for one in made.quantities.portions if one.loss == need.number]
    return asdict(need) | {
        "kind": part.kind,
        "clock": part.clock,
        "height_mm": part.height_mm,
        "on_wall": part.on_wall,
        "skin_mm2": need.outer_mm2 + need.inner_mm2,
        "recommended": recommended_fill(need.way, MixSettings()),
        "portions": [_portion(portion) for portion in own],
    }


def _portion(portion: Portion) -> dict[str, Any]:
    """A portion as it is shown; each of its batches is as large as the others."""
    from lossfill.mix.chain import figure

    count = portion.batches
    return {
        "use": portion.use,
        "material": portion.material.name,
        "mass_g": portion.mass_g,
        "error_g": portion.error_ml * portion.material.density_g_ml,
        "volume_ml": portion.volume_ml,
        "is_mixed": portion.material.is_mixed,
        "batches": count,
        "layers": portion.layers,
        "each": [
            {
                "part": one.part,
                "mass_g": one.mass_g / count,
                "volume_ml": None if one.volume_ml is None else one.volume_ml / count,
            }
            for one in portion.amounts
        ],
        "chain": [
            [link.what, link.sum, f"{figure(link.value)} {link.unit}"] for link in portion.chain
        ],
        "notes": list(portion.notes),
        "source": portion.material.source,
        "hint": portion.material.note,
    }


def _total(total: Any) -> dict[str, Any]:
    return {
        "material": total.material.name,
        "mass_g": total.mass_g,
        "error_g": total.error_ml * total.material.density_g_ml,
        "amounts": [asdict(amount) for amount in total.amounts],
        "batches": total.batches,
        "is_mixed": total.material.is_mixed,
    }


def _plan(made: Reckoned) -> dict[str, Any]:
    """The plan as its table says it, with the cautions of each step.

    The last of a step's cautions gives way to data sheets and local rules; it is said once, with
    all of them.
    """
    from lossfill.cautions import DEFERENCE
    from lossfill.cure.words import table_of

    return {
        "rows": [list(row) for row in table_of(made.plan)],
        "cautions": [
            [one for one in step.cautions if one != DEFERENCE] for step in made.plan.steps
        ],
        "days": made.plan.days,
    }


def _choosable() -> dict[str, list[str]]:
    """Names of materials that may be chosen, by what for."""
    from lossfill.materials import read_table
    from lossfill.mix.mix import FILLS, JOINS

    table = read_table()

    def named(fits: Any) -> list[str]:
        return [one.name for one in table if one.kind in fits]

    return {"fill": named(FILLS), "join": named(JOINS)} | _skins(table)


def _skins(table: tuple[Material, ...]) -> dict[str, list[str]]:
    from lossfill.materials import Kind

    return {
        use: [one.name for one in table if one.kind is kind]
        for use, kind in (("coat", Kind.COAT), ("metal", Kind.METAL))
    }

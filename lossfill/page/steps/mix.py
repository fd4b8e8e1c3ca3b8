"""Step 7: what is mixed for each loss and in all, by which plan, and what to take care of."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.figures import rounded
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.mixing import folder_name, scan_title
from lossfill.page.steps.choosing import choosing
from lossfill.page.steps.losses import to_losses, where_of
from lossfill.page.steps.parts import (
    download,
    folded,
    heading,
    measures,
    notes,
    paragraph,
    table,
)
from lossfill.page.words import common
from lossfill.page.words import losses as losses_words
from lossfill.page.words import mix as words

Part = dict[str, Any]


def build(context: Context) -> None:
    """Show amounts and plan beside what may be chosen."""
    found = context.found(Stage.MIX)
    if found is None:
        return
    if not found["losses"]:
        to_losses(context, words.NO_LOSS)
        return
    with ui.element("div").classes("beside"):
        with ui.element("div"):
            heading(words.AMOUNTS, 3)
            for loss in found["losses"]:
                _loss(context, loss)
            _totals(found["totals"])
        with ui.element("div"):
            notes(common.NOTES, context.notes_of(Stage.MIX))
            choosing(context, found)
    _plan(context, found)
    notes(common.CAUTIONS, found["cautions"])


def need_rows(context: Context, loss: Part) -> list[tuple[str, str]]:
    """What is known of a loss before anything is mixed."""
    missing = context.volume(loss["volume_ml"])
    if loss["volume_error_ml"] > 0:
        error = context.volume(loss["volume_error_ml"])
        missing = words.WITH_ERROR.format(value=missing, error=error)
    rows = [(words.MISSING, missing)]
    for name, key in ((words.SKIN, "skin_mm2"), (words.BREAK, "break_mm2")):
        if loss[key] > 0:
            rows.append((name, words.AREA.format(cm2=rounded(loss[key] / 100.0, 3))))
    if loss["depth_mm"] > 0:
        rows.append((words.DEEP, context.length(loss["depth_mm"])))
    if loss["way"]:
        rows.append((words.WAY, loss["way"]))
    return rows


def size_of(portion: Part) -> str:
    """How much of a portion there is in all, how sure that is, and in how many layers."""
    mass = small(portion["mass_g"])
    if portion["use"] == "metal":
        told = [words.GRAMS.format(mass=mass)]
    else:
        volume = small(portion["volume_ml"])
        told = [words.GRAMS_AND_VOLUME.format(mass=mass, volume=volume)]
    if portion["error_g"] > 0:
        told.append(words.ERROR.format(error=small(portion["error_g"])))
    names = {"fill": words.LAYERS, "coat": words.COATS}.get(portion["use"])
    if names is not None:
        told.append(counted(names, portion["layers"]))
    return "; ".join(told)


def batch_words(portion: Part) -> str:
    """How many times it is mixed."""
    names = words.BATCHES if portion["is_mixed"] else words.TAKES
    return counted(names, portion["batches"])


def total_rows(totals: list[Part]) -> list[tuple[str, str, str]]:
    """What to have at hand, with the parts of what is mixed below it."""
    rows = []
    for total in totals:
        told = words.GRAMS.format(mass=small(total["mass_g"]))
        name = total["material"]
        if total["is_mixed"]:
            name = f"{name}, {counted(words.IN_BATCHES, total['batches'])}"
        if total["error_g"] > 0:
            told = words.WITH_ERROR.format(value=told, error=f"{small(total['error_g'])} g")
        rows.append((name, told, ""))
        rows += [
            (f"– {part}", mass, volume) for part, mass, volume in amount_rows(total["amounts"])
        ]
    return rows


def amount_rows(amounts: list[Part]) -> list[tuple[str, str, str]]:
    """What is weighed, or drawn up, of each part."""
    return [
        (
            one["part"],
            words.MASS.format(mass=one["mass_g"]),
            words.NO_SYRINGE
            if one["volume_ml"] is None
            else words.SYRINGE.format(volume=one["volume_ml"]),
        )
        for one in amounts
    ]


def plan_rows(plan: Part) -> list[tuple[str | tuple[str, ...], ...]]:
    """The plan with the cautions below its steps, each list said where it comes up first."""
    first: dict[tuple[str, ...], str] = {}
    rows: list[tuple[str | tuple[str, ...], ...]] = []
    for row, told in zip(plan["rows"], plan["cautions"], strict=True):
        number, day, time, says, losses, wait, ready = row
        cautions = tuple(told)
        if cautions in first:
            cautions = (words.SAME_CARE.format(number=first[cautions]),) if cautions else ()
        else:
            first[cautions] = number
        rows.append((number, day, time, (says, *cautions), losses, wait, ready))
    return rows


def small(value: float) -> str:
    """A mass or a volume, no finer than a bench scale tells it unless it is very small."""
    return f"{value:.2f}" if value >= 0.095 else rounded(value, 2)


def counted(names: tuple[str, str], count: int) -> str:
    """One, or how many."""
    return names[0] if count == 1 else names[1].format(count=count)


def _loss(context: Context, loss: Part) -> None:
    kind = losses_words.KINDS[loss["kind"]]
    with ui.element("section").classes("aside"):
        heading(words.LOSS.format(number=loss["number"], kind=kind), 4)
        paragraph(where_of(context, loss), "quiet")
        measures(need_rows(context, loss))
        if not loss["portions"]:
            paragraph(words.NOTHING)
        for portion in loss["portions"]:
            _portion(context, portion)


def _portion(context: Context, portion: Part) -> None:
    heading(words.USES[portion["use"]].format(material=portion["material"]), 5)
    measures([(words.ALL, size_of(portion))])
    table(batch_words(portion), words.COLUMNS, amount_rows(portion["each"]))
    for note in dict.fromkeys((*portion["notes"], portion["hint"])):
        if note:
            paragraph(context.says(note[:1].upper() + note[1:].rstrip(".") + "."), "quiet")
    with folded(f"{words.HOW} ({portion['material']})"):
        rows = [(what, sum_ or words.HOW_GIVEN, makes) for what, sum_, makes in portion["chain"]]
        table(words.HOW_TABLE, words.HOW_COLUMNS, rows)
        paragraph(words.SOURCE.format(source=portion["source"].rstrip(".")), "quiet")


def _totals(totals: list[Part]) -> None:
    if not totals:
        return
    heading(words.TOTALS, 3)
    paragraph(words.TOTALS_SAY)
    table(words.TOTALS_TABLE, words.TOTAL_COLUMNS, total_rows(totals))


def _plan(context: Context, found: Part) -> None:
    heading(words.PLAN, 3)
    plan = found["plan"]
    days = plan["days"]
    long = (
        words.PLAN_DAYS.format(days=days)
        if days >= 1.95
        else words.PLAN_HOURS.format(hours=24.0 * days)
    )
    paragraph(words.PLAN_SAYS.format(steps=counted(words.STEPS, len(plan["rows"])), days=long))
    if found["calendar"] is None:
        paragraph(words.NO_CALENDAR)
    else:
        name = folder_name(scan_title(context.job))
        download(
            words.CALENDAR,
            context.url(found["calendar"]),
            words.CALENDAR_FILE.format(name=name),
        )
        paragraph(words.CALENDAR_SAYS, "quiet")
    table(words.PLAN_TABLE, words.PLAN_COLUMNS, plan_rows(plan), classes="stacked plan")

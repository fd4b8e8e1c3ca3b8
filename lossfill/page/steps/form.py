"""Step 4: how the missing form was found, what else was tried, and how well it fits."""

from __future__ import annotations

import math
from typing import Any

from nicegui import ui

from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.steps.dropping import scan_place
from lossfill.page.steps.losses import title_of
from lossfill.page.steps.parts import heading, notes, paragraph, table, view_frame
from lossfill.page.steps.pointing import search_again
from lossfill.page.steps.scene import (
    CLAY,
    box_of,
    close_up_mm,
    has_axis,
    loss_marks,
    loss_name,
    place_of,
)
from lossfill.page.steps.taking import group
from lossfill.page.view import Point, Shape, VesselView
from lossfill.page.words import common
from lossfill.page.words import form as words
from lossfill.tolerances import REPEAT_MAX

Part = dict[str, Any]

MAP_MM = 0.5
"""Where the map's colours end: twice what a fingertip feels as a step, as in `misfit.png`."""

BEST = "best"


def build(context: Context) -> None:
    """Show the map beside the ways that were tried."""
    vessel, found = context.found(Stage.VESSEL), context.found(Stage.LOSSES)
    if vessel is None or found is None:
        return
    losses = found["losses"]
    places = {f"#{loss_name(loss['number'])}": loss for loss in losses}

    def picked(name: str, _at: Point) -> None:
        if name in places:
            view.fly_to(place_of(places[name]), close_up_mm(places[name]))

    paragraph(words.WHAT if losses else words.NO_LOSS)
    with ui.element("div").classes("beside"):
        with ui.element("div"):
            with view_frame():
                view = VesselView(
                    [Shape("misfit", context.url("misfit.mesh"), CLAY, values_to=MAP_MM)],
                    box=box_of(vessel),
                    label=words.VIEW,
                    marks=loss_marks(losses),
                    axis=has_axis(vessel),
                    on_pick=picked,
                    on_value=lambda value, at: says.set_text(read(context, value, at)),
                )
            _legend(context)
            says = ui.label(words.READ_HERE).props('role="status"')
            if losses:
                paragraph(words.LOOK)
        with ui.element("div"):
            for loss in losses:
                _trials(context, loss)
            if losses:
                _change(context)
            notes(common.NOTES, context.notes_of(Stage.LOSSES))
    if losses:
        _more(context)


def read(context: Context, value: float | None, at: Point) -> str:
    """What the map says at a place, in words."""
    if value is None or not math.isfinite(value):
        return words.READ_NONE
    says = words.READ_BELOW if value < 0 else words.READ_ABOVE
    return says.format(value=context.length(abs(value)), height=context.length(at[2]))


def trial_rows(context: Context, loss: Part) -> list[tuple[str, str, str, str]]:
    """The ways tried for a loss: name, error, bound, and words."""
    rows = []
    for trial in loss["trials"]:
        chosen = trial["source"] == loss["source"]
        name = words.SHORT[trial["source"]] + (f" ({words.CHOSEN})" if chosen else "")
        says = context.says(trial["says"])
        if trial["error_mm"] is None:
            rows.append((name, words.NOT_TRIED, "–", says))
            continue
        error, bound = context.length(trial["error_mm"]), context.length(trial["bound_mm"])
        rows.append((name, error, bound, says))
    return rows


def _trials(context: Context, loss: Part) -> None:
    _, _, kind = title_of(loss).partition("  ")
    chosen = [trial["source"] for trial in loss["trials"]].index(loss["source"])
    table(
        words.TABLE.format(number=loss["number"], kind=kind),
        (words.WAY, words.EXPECTED, words.BOUND, words.SAYS),
        trial_rows(context, loss),
        strong=chosen,
        classes="stacked",
    )


def _change(context: Context) -> None:
    chosen = context.state.choices.losses
    options = {BEST: words.BEST} | words.WAYS
    if chosen.twin_file is None:
        del options["twin"]
    with group(words.CHANGE):
        radio = ui.radio(options, value=chosen.form or BEST).props("dense").classes("ways")
        if context.state.choices.pieces.dismissed:
            paragraph(words.NEW_SEARCH, "quiet")
        ui.button(
            words.APPLY,
            on_click=lambda: search_again(
                context, form=None if radio.value == BEST else radio.value
            ),
        ).props("no-caps")


def _legend(context: Context) -> None:
    with ui.element("figure").classes("legend"):
        heading(words.MAP, 3)
        ui.element("div").classes("ramp").props('aria-hidden="true"')
        with ui.element("div").classes("ramp-numbers").props('aria-hidden="true"'):
            for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
                ui.label(_signed(context, share * MAP_MM))
        most = context.length(MAP_MM)
        paragraph(words.LEGEND.format(low=most, high=most))


def _signed(context: Context, mm: float) -> str:
    if mm == 0:
        return "0"
    side = words.BELOW if mm < 0 else words.ABOVE
    return f"{context.length(abs(mm))} {side}"


def _more(context: Context) -> None:
    chosen = context.state.choices.losses
    with ui.expansion(words.MORE).classes("more"):
        limits = {"low": 2, "most": REPEAT_MAX}
        repeats = ui.number(words.REPEATS, value=chosen.repeats, min=2, max=REPEAT_MAX, step=1)
        repeats.props("stack-label").classes("wide")
        paragraph(words.REPEATS_SAYS.format(**limits))
        fault = ui.label("").classes("fault").props('role="alert"')

        def search() -> None:
            count = repeats.value
            if count is not None and not (count == int(count) and 2 <= count <= REPEAT_MAX):
                fault.set_text(words.WRONG_REPEATS.format(**limits))
                return
            count = None if count is None else int(count)
            search_again(context, repeats=count, twin_scaled=bool(scaled.value))

        scaled = ui.checkbox(words.TWIN_SCALED, value=chosen.twin_scaled)
        paragraph(words.TWIN_SCALED_SAYS)
        ui.button(words.SEARCH, on_click=search).props("no-caps")
        heading(words.TWIN, 3)
        paragraph(words.TWIN_SAYS)
        if chosen.twin_file is not None:
            paragraph(words.TWIN_IS)
            ui.button(
                words.TWIN_FORGET,
                on_click=lambda: search_again(
                    context,
                    twin_file=None,
                    form=None if chosen.form == "twin" else chosen.form,
                ),
            ).props("outline no-caps")
        scan_place(f"/twin/{context.job.key}", words.TWIN_DROP, lambda _link: None)

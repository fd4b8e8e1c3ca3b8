"""Step 1: is this the right file, and what are its numbers in?"""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.steps.parts import LengthInput, heading, measures, notes, paragraph
from lossfill.page.words import common
from lossfill.page.words import start as words
from lossfill.scan.units import NOT_STATED

Part = dict[str, Any]


def build(context: Context) -> None:
    """Show the size that the file's unit gives, and let it be corrected."""
    found = context.found(Stage.VESSEL)
    chosen = context.state.choices.vessel
    if found is not None:
        tall, because = size_words(context, found)
        heading(tall, 3)
        paragraph(because)
    paragraph(words.IS_NOT if found is not None else words.IS_WHICH)
    with ui.element("div").classes("choices"):
        for unit, name in words.UNITS.items():
            now = found is not None and found["input"]["unit"] == unit
            button = ui.button(name, on_click=lambda unit=unit: _again(context, units=unit))
            look = "unelevated" if now else "flat"
            button.props(f'{look} no-caps aria-pressed="{str(now).lower()}"')
    with ui.expansion(words.MORE).classes("more"):
        wall = LengthInput(context, words.WALL, chosen.wall_mm, least_mm=0.1, step_mm=0.1)
        rim = LengthInput(context, words.RIM, chosen.rim_diameter_mm, least_mm=5.0, step_mm=1.0)
        ui.button(
            words.APPLY,
            on_click=lambda: _again(context, wall_mm=wall.mm, rim_diameter_mm=rim.mm),
        ).props("no-caps")
    if found is not None:
        measures(
            (
                (words.FILE, context.state.title),
                (
                    found["input"]["format"],
                    words.TRIANGLES.format(count=found["input"]["triangles"]),
                ),
            )
        )
        notes(common.NOTES, map(context.says, reading_notes(found)))


def reading_notes(found: Part) -> list[str]:
    """What is to be known of the reading, but for the unit, which the size tells."""
    return [told for told in found.get("reading", ()) if not told.startswith(NOT_STATED)]


def size_words(context: Context, found: Part) -> tuple[str, str]:
    """How large the vessel is, the same as in its measures, and why its scale was taken so."""
    (x0, y0, z0), (x1, y1, z1) = found["box_mm"]
    frame, read = found["frame"], found["input"]
    # Where much of the rim is lost, the vessel is wider than what is left of it.
    wide = max(x1 - x0, y1 - y0, frame.get("rim_diameter_mm") or 0.0)
    tall = words.TALL.format(
        unit=words.UNITS[read["unit"]],
        height=context.length(frame.get("height_mm") or z1 - z0),
        width=context.length(wide),
    )
    return tall, words.BECAUSE["rim" if read["scale"] != 1.0 else read["unit_source"]]


def _again(context: Context, **values: object) -> None:
    context.choose(Stage.VESSEL, **values)
    # Places and numbers of a vessel of another size mean nothing any more.
    context.choose(Stage.LOSSES, pointed_mm=(), pointed_at=())
    context.choose(Stage.PIECES, dismissed=())
    context.start(Stage.VESSEL)

"""How the pieces are shaped: the settings of the piece's step, each with what it is for."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.errors import InputError
from lossfill.fill.settings import LEAST_THICKNESS_MM, FillSettings
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.steps.parts import LengthInput, paragraph
from lossfill.page.steps.taking import group, take
from lossfill.page.words import piece as words
from lossfill.tolerances import CLEARANCE_MAX_MM, FILLET_MAX_MM, SETBACK_MAX_MM


def shaping(context: Context) -> None:
    """Put the settings on the page; they are taken all at once, and the pieces made with them."""
    chosen = context.state.choices.pieces
    with group(words.SHAPE):
        gap = _length(
            context, words.CLEARANCE, words.CLEARANCE_SAYS, chosen.clearance_mm, CLEARANCE_MAX_MM
        )
        outside = _length(
            context,
            words.SETBACK_OUTSIDE,
            words.SETBACK_SAYS,
            chosen.setback_outside_mm,
            SETBACK_MAX_MM,
        )
        inside = _length(
            context, words.SETBACK_INSIDE, "", chosen.setback_inside_mm, SETBACK_MAX_MM
        )
        edges, processes = words_of(context, words.EDGES), words_of(context, process_words())
        edge = _choice(words.EDGE, words.EDGE_SAYS, edges, chosen.setback_edge)
        process = _choice(words.PROCESS, words.PROCESS_SAYS, processes, chosen.process or "")
        fillet = _length(context, words.FILLET, words.FILLET_SAYS, chosen.fillet_mm, FILLET_MAX_MM)
        with ui.element("div").classes("setting"):
            split = ui.checkbox(words.SPLIT, value=chosen.split)
            paragraph(words.SPLIT_SAYS)

        def values() -> dict[str, Any]:
            return checked(
                {
                    "clearance_mm": gap.mm,
                    "setback_outside_mm": outside.mm,
                    "setback_inside_mm": inside.mm,
                    "setback_edge": edge.value,
                    "process": process.value or None,
                    "fillet_mm": fillet.mm,
                    "split": bool(split.value),
                }
            )

        take(context, Stage.PIECES, words.APPLY, values)


def checked(values: dict[str, Any]) -> dict[str, Any]:
    """Refuse what no piece can be shaped by.

    Raises
    ------
    InputError
        With one sentence.
    """
    names = {
        "clearance_mm": words.CLEARANCE,
        "setback_outside_mm": words.SETBACK_OUTSIDE,
        "setback_inside_mm": words.SETBACK_INSIDE,
        "fillet_mm": words.FILLET,
    }
    for key, name in names.items():
        if values[key] is None:
            raise InputError(words.EMPTY.format(name=name))
    FillSettings(**{key: value for key, value in values.items() if key != "split"})
    return values


def process_words() -> dict[str, str]:
    """What each process is called, with the least thickness that it can hold."""
    return {
        name: said.format(least=LEAST_THICKNESS_MM[name]) if name else said  # type: ignore[index]
        for name, said in words.PROCESSES.items()
    }


def words_of(context: Context, options: dict[str, str]) -> dict[str, str]:
    """What a list offers, with its lengths in the unit that is shown."""
    return {name: context.says(said) for name, said in options.items()}


def _length(context: Context, name: str, says: str, mm: float, most_mm: float) -> LengthInput:
    with ui.element("div").classes("setting"):
        made = LengthInput(context, name, mm, most_mm=most_mm)
        if says:
            paragraph(context.says(says))
    return made


def _choice(name: str, says: str, options: dict[str, str], value: str) -> ui.select:
    with ui.element("div").classes("setting"):
        made = ui.select(options, label=name, value=value).classes("wide")
        paragraph(says)
    return made

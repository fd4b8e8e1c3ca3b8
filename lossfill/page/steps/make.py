"""Step 6: tick what is wanted, have it made, and look at each thing before it is used."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.errors import InputError
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.steps.losses import title_of, to_losses
from lossfill.page.steps.made import are_there, made
from lossfill.page.steps.parts import paragraph
from lossfill.page.steps.taking import group, take
from lossfill.page.words import make as words

Part = dict[str, Any]


def build(context: Context) -> None:
    """Show what can be made beside what was made."""
    pieces, searched = context.found(Stage.PIECES), context.found(Stage.LOSSES)
    if pieces is None or searched is None:
        return
    if not pieces["pieces"]:
        to_losses(context, words.NOTHING)
        return
    numbers = sorted({piece["loss"] for piece in pieces["pieces"]})
    losses = [loss for loss in searched["losses"] if loss["number"] in numbers]
    found = context.found(Stage.THINGS)
    if found is None:
        _order(context, losses)
        return
    if not are_there(context, found):
        paragraph(words.GONE)
        _order(context, losses)
        return
    made(context, found, losses, lambda: _order(context, losses))


def checked(values: dict[str, Any]) -> dict[str, Any]:
    """Refuse what cannot be made.

    Raises
    ------
    InputError
        With one sentence.
    """
    from lossfill.make.shrink import Shrink

    if values["shrink_percent"] is None:
        raise InputError(words.SHRINK_EMPTY)
    Shrink(0.01 * values["shrink_percent"], 0.01 * values["shrink_percent"])
    return values


def losses_to_choose(ticked: dict[int, bool]) -> tuple[int, ...]:
    """The losses that are ticked, as a choice: none where all are, so that new ones are too.

    Raises
    ------
    InputError
        Where none is ticked.
    """
    if not any(ticked.values()):
        raise InputError(words.NO_LOSS)
    return () if all(ticked.values()) else tuple(n for n, on in ticked.items() if on)


def _order(context: Context, losses: list[Part]) -> None:
    """Put on the page what can be made; it is taken all at once."""
    chosen = context.state.choices.things
    with group(words.WHAT, "order"):
        boxes = {}
        for name, title in words.NAMES.items():
            with ui.element("div").classes("setting"):
                boxes[name] = ui.checkbox(title, value=name in chosen.names).props("dense")
                paragraph(words.SAYS[name])
        ticked = _losses(losses, chosen.losses)
        with ui.element("div").classes("setting"):
            shrink = ui.number(
                words.SHRINK, value=chosen.shrink_percent, min=0.0, max=99.0, step=0.5, suffix="%"
            ).classes("wide")
            paragraph(words.SHRINK_SAYS)
        paper = ui.select(words.PAPERS, label=words.PAPER, value=chosen.paper).classes("wide")

        def values() -> dict[str, Any]:
            on = {number: bool(box.value) for number, box in ticked.items()}
            return checked(
                {
                    "names": tuple(name for name, box in boxes.items() if box.value),
                    "paper": paper.value,
                    "shrink_percent": shrink.value,
                    "losses": losses_to_choose(on) if on else (),
                }
            )

        take(context, Stage.THINGS, words.MAKE, values)
        paragraph(words.ALL_GONE, "quiet")


def _losses(losses: list[Part], chosen: tuple[int, ...]) -> dict[int, ui.checkbox]:
    """Boxes for the losses, where there is more than one to choose from."""
    if len(losses) < 2:
        return {}
    numbers = {loss["number"] for loss in losses}
    # Of losses chosen in an earlier search none may be left.
    on = numbers & set(chosen) or numbers
    boxes = {}
    with ui.element("div").classes("setting") as group:
        group.props(f'role="group" aria-label="{words.FOR_LOSSES}"')
        ui.label(words.FOR_LOSSES)
        for loss in losses:
            number = loss["number"]
            with ui.element("div"):
                boxes[number] = ui.checkbox(title_of(loss), value=number in on).props("dense")
    return boxes

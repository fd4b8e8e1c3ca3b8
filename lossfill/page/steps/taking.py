"""Choices that are taken all at once: in a frame, with one button, and a sentence where none."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from nicegui import ui

from lossfill.errors import InputError
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.told import sentence


@contextmanager
def group(title: str, classes: str = "") -> Iterator[None]:
    """A frame about choices that belong together, with its title."""
    with ui.element("fieldset").classes(classes):
        with ui.element("legend"):
            ui.label(title)
        yield


def take(
    context: Context,
    stage: Stage,
    label: str,
    values: Callable[[], dict[str, Any]],
    tell: Callable[[str], str] = str,
) -> None:
    """Put the button on the page that takes the choices and has the stage done with them.

    Parameters
    ----------
    label : of the button
    values : what is chosen now; raises InputError for what cannot be, and nothing is changed then
    tell : puts that sentence into other words
    """
    fault = ui.label("").classes("fault").props('role="alert"')

    def pressed() -> None:
        try:
            chosen = values()
        except InputError as error:
            fault.set_text(context.says(tell(sentence(str(error)))))
            return
        context.choose(stage, **chosen)
        context.start(stage)

    ui.button(label, on_click=pressed).props("no-caps")

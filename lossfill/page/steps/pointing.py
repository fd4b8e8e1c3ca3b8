"""Pointing at a loss that the search missed: by a click in the view, or by numbers."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.errors import InputError
from lossfill.form.pointed import angle_of_clock
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.lengths import UNITS, scale_mm
from lossfill.page.steps.parts import paragraph
from lossfill.page.steps.scene import has_axis
from lossfill.page.told import sentence
from lossfill.page.view import Point
from lossfill.page.words import losses as words


class Pointing:
    """The part of the losses' step by which a missed loss is pointed at.

    Parameters
    ----------
    context : of the step
    vessel : what the vessel's stage found
    """

    def __init__(self, context: Context, vessel: dict[str, Any]) -> None:
        self._context, self._vessel = context, vessel
        self.is_on = False

    def build(self) -> None:
        """Put it on the page."""
        if not has_axis(self._vessel):
            paragraph(words.NO_AXIS, "quiet")
            return
        self._button = ui.button(words.MISSING, on_click=lambda: self._turn(not self.is_on))
        self._button.props('outline no-caps aria-expanded="false"')
        with ui.element("div").classes("aside") as self._panel:
            paragraph(words.POINT).props('role="status"')
            with ui.element("div").classes("choices"):
                self._clock = ui.input(words.CLOCK).props("stack-label").classes("wide")
                unit = UNITS[self._context.state.shown]
                self._height = ui.number(words.HEIGHT.format(unit=unit), min=0)
                self._height.props("stack-label").classes("wide")
            self._fault = paragraph("", "fault").props('role="alert"')
            with ui.element("div").classes("choices"):
                ui.button(words.LOOK, on_click=self._by_numbers).props("no-caps")
                ui.button(words.STOP_POINTING, on_click=lambda: self._turn(False)).props(
                    "flat no-caps"
                )
            if self._context.state.choices.pieces.dismissed:
                paragraph(words.NEW_SEARCH, "quiet")
        self._panel.set_visibility(False)
        self._earlier()

    def at(self, place: Point) -> None:
        """Look for a loss at a place that was clicked, vessel coordinates."""
        chosen = self._context.job.read().choices.losses
        search_again(self._context, pointed_mm=(*chosen.pointed_mm, place))

    def _turn(self, is_on: bool) -> None:
        self.is_on = is_on
        self._button.props(f'aria-expanded="{str(is_on).lower()}"')
        self._panel.set_visibility(is_on)

    def _by_numbers(self) -> None:
        high = self._vessel["frame"]["height_mm"]
        try:
            angle = angle_of_clock(self._clock.value or "")
        except InputError as error:
            self._tell(sentence(str(error)))
            return
        scale = scale_mm(self._context.state.shown)
        height = None if self._height.value is None else float(self._height.value) * scale
        if height is None or not 0.0 <= height <= high:
            self._tell(words.WRONG_HEIGHT.format(most=self._context.length(high)))
            return
        chosen = self._context.job.read().choices.losses
        search_again(self._context, pointed_at=(*chosen.pointed_at, (angle, height)))

    def _tell(self, told: str) -> None:
        self._fault.clear()
        with self._fault:
            ui.label(told)

    def _earlier(self) -> None:
        chosen = self._context.state.choices.losses
        count = len(chosen.pointed_mm) + len(chosen.pointed_at)
        if not count:
            return
        paragraph(words.POINTED_ONE if count == 1 else words.POINTED.format(count=count))
        ui.button(
            words.FORGET_POINTED,
            on_click=lambda: search_again(self._context, pointed_mm=(), pointed_at=()),
        ).props("flat dense no-caps")


def search_again(context: Context, **values: Any) -> None:
    """Change how losses are found, and find them.

    What was left alone is known by its number, which may be another's after a search: it comes back
    rather than that another loss is left out unseen.
    """
    context.choose(Stage.LOSSES, **values)
    context.choose(Stage.PIECES, dismissed=())
    context.start(Stage.LOSSES)

"""Step 3: what is missing and where, listed and in the view; what to leave alone, what to add."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.steps.parts import heading, measures, notes, paragraph, view_frame
from lossfill.page.steps.pointing import Pointing
from lossfill.page.steps.scene import (
    CLOSE_UP_MM,
    box_of,
    close_up_mm,
    has_axis,
    loss_marks,
    loss_name,
    loss_shape,
    place_of,
    vessel_shape,
)
from lossfill.page.view import Mark, Point, VesselView
from lossfill.page.words import common
from lossfill.page.words import losses as words

Part = dict[str, Any]


def build(context: Context) -> None:
    """Show the view beside the list."""
    vessel, found = context.found(Stage.VESSEL), context.found(Stage.LOSSES)
    if vessel is None or found is None:
        return
    losses, cracks = found["losses"], found["cracks"]
    pointing = Pointing(context, vessel)
    rows: dict[str, _Row] = {}

    def choose(name: str | None) -> None:
        for own, row in rows.items():
            row.open(own == name)
        view.choose(name)
        if name in rows:
            view.fly_to(place_of(rows[name].loss), close_up_mm(rows[name].loss))

    def picked(name: str, at: Point) -> None:
        if pointing.is_on and name == "vessel":
            pointing.at(at)
        elif (own := name.removeprefix("#")) in rows:
            choose(own)
            rows[own].scroll_to()

    with ui.element("div").classes("beside"):
        with view_frame():
            view = VesselView(
                [vessel_shape(context), *(loss_shape(context, loss) for loss in losses)],
                box=box_of(vessel),
                label=words.VIEW,
                marks=[*loss_marks(losses), *_crack_marks(cracks)],
                axis=has_axis(vessel),
                on_pick=picked,
            )
        with ui.element("div"):
            heading(words.LIST, 3)
            paragraph(count_words(len(losses), can_point=has_axis(vessel)))
            if losses:
                with ui.element("ul").classes("rows loss-list"):
                    for loss in losses:
                        row = _Row(context, loss, choose)
                        rows[loss_name(loss["number"])] = row
            ui.button(words.WHOLE, on_click=lambda: _whole(view, choose)).props(
                "flat dense no-caps"
            )
            pointing.build()
            _cracks(context, cracks, view)
            notes(common.NOTES, context.notes_of(Stage.LOSSES))


def title_of(loss: Part) -> str:
    """Number and kind of a loss."""
    return words.NAME.format(number=loss["number"], kind=words.KINDS[loss["kind"]])


def where_of(context: Context, loss: Part) -> str:
    """Where a loss is; only on a turned wall is there a clock to tell it by."""
    height = context.length(loss["height_mm"])
    if not loss["on_wall"]:
        return words.PLACE_LEVEL.format(height=height)
    return words.PLACE.format(clock=loss["clock"], height=height)


def measures_of(context: Context, loss: Part) -> list[tuple[str, str]]:
    """All that a repairer wants to know of a loss."""
    around, along = (context.length(loss[f"extent_{way}_mm"]) for way in ("around", "along"))
    size = words.SIZE_ON_WALL if loss["on_wall"] else words.SIZE_PLAIN
    low, high = (context.length(value) for value in loss["thickness_mm"])
    rows = [
        (words.SIZE, size.format(around=around, along=along)),
        (words.VOLUME, context.volume(loss["volume_ml"])),
        (words.THICKNESS, words.BETWEEN.format(low=low, high=high)),
    ]
    if loss["kind"] in ("chip", "spall", "foot"):
        rows.append((words.DEPTH, context.length(loss["depth_mm"])))
    rows += [
        (words.JOIN, context.length(loss["join_length_mm"])),
        (
            words.ERROR,
            words.ERROR_SAYS.format(
                expected=context.length(loss["expected_error_mm"]),
                bound=context.length(loss["bound_mm"]),
            ),
        ),
        (words.WAY, loss["way"]),
    ]
    return rows


class _Row:
    """One loss in the list: a button that opens its measures."""

    def __init__(self, context: Context, loss: Part, choose: Callable[[str | None], None]) -> None:
        self.loss = loss
        self._context, self._is_open = context, False
        with ui.element("li") as self._item:
            self._button = ui.element("button").classes("row-head")
            self._button.props('type="button" aria-expanded="false"')
            with self._button:
                self._title = ui.label(title_of(loss)).classes("row-title")
                says = f"{where_of(context, loss)} · {context.volume(loss['volume_ml'])}"
                ui.label(f"{says} · {loss['way']}").classes("row-says")
                self._state = ui.label(words.IS_DISMISSED).classes("row-state")
            name = loss_name(loss["number"])
            self._button.on("click", lambda: choose(None if self._is_open else name))
            with ui.element("div").classes("row-body") as self._body:
                measures(measures_of(context, loss))
                paragraph(context.says(words.WHY.format(reason=loss["way_reason"])))
                self._says = paragraph(words.DISMISSED_SAYS)
                self._leave = ui.button(on_click=self._toggle).props("outline no-caps")
        self.open(False)
        self._dress()

    def open(self, is_open: bool) -> None:
        """Show or hide the measures."""
        self._is_open = is_open
        self._button.props(f'aria-expanded="{str(is_open).lower()}"')
        self._item.classes(add="chosen" if is_open else "", remove="" if is_open else "chosen")
        self._body.set_visibility(is_open)

    def scroll_to(self) -> None:
        """Bring the row into sight."""
        ui.run_javascript(f'getHtmlElement({self._item.id})?.scrollIntoView({{block: "nearest"}});')

    def _toggle(self) -> None:
        number = self.loss["number"]
        gone = set(self._context.job.read().choices.pieces.dismissed) ^ {number}
        self._context.choose(Stage.PIECES, dismissed=tuple(sorted(gone)))
        self._dress()

    def _dress(self) -> None:
        number = self.loss["number"]
        gone = number in self._context.job.read().choices.pieces.dismissed
        self._title.classes(add="struck" if gone else "", remove="" if gone else "struck")
        self._state.set_visibility(gone)
        self._says.set_visibility(gone)
        self._leave.set_text(words.RESTORE if gone else words.DISMISS)
        named = words.RESTORE_NAMED if gone else words.DISMISS_NAMED
        self._leave.props(f'aria-label="{named.format(number=number)}"')


def count_words(count: int, *, can_point: bool) -> str:
    """How many losses there are, and what to do next."""
    if count == 0:
        return words.NONE if can_point else words.NONE_LEVEL
    told = words.FOUND_ONE if count == 1 else words.FOUND.format(count=count)
    return f"{told} {words.HOW}"


def to_losses(context: Context, says: str) -> None:
    """Say why there is nothing to be done at a step, with the way to where that can be changed."""
    paragraph(says)
    ui.link(common.GO_THERE.format(title=words.TITLE), context.link("losses"))


def _whole(view: VesselView, choose: Callable[[str | None], None]) -> None:
    choose(None)
    view.fly_home()


def _middle(crack: Part) -> Point:
    x, y, z = crack["path_mm"][len(crack["path_mm"]) // 2]
    return float(x), float(y), float(z)


def _crack_marks(cracks: list[Part]) -> list[Mark]:
    return [
        Mark(f"crack_{number}", _middle(crack), words.CRACK_MARK.format(number=number))
        for number, crack in enumerate(cracks, start=1)
    ]


def _cracks(context: Context, cracks: list[Part], view: VesselView) -> None:
    if not cracks:
        return
    heading(words.CRACKS, 3)
    paragraph(words.CRACKS_SAY)
    with ui.element("ul").classes("rows"):
        for number, crack in enumerate(cracks, start=1):
            with ui.element("li"):
                said = words.CRACK.format(
                    length=context.length(crack["length_mm"]),
                    width=context.length(crack["width_mm"]),
                    side=words.CRACK_INSIDE if crack["inside"] else words.CRACK_OUTSIDE,
                    clock=crack["clock"],
                    height=context.length(crack["height_mm"]),
                )
                paragraph(f"{words.CRACK_MARK.format(number=number)}  {said}")
                size = max(crack["length_mm"], CLOSE_UP_MM)
                at = _middle(crack)
                button = ui.button(
                    words.SHOW_CRACK, on_click=lambda at=at, size=size: view.fly_to(at, size)
                )
                named = words.SHOW_CRACK_NAMED.format(number=number)
                button.props(f'flat dense no-caps aria-label="{named}"')

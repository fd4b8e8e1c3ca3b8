"""What was made: each thing with its previews, its measured limits, its files and its notes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from lossfill.figures import rounded
from lossfill.page.context import Context
from lossfill.page.jobs import PACK_NAME
from lossfill.page.steps.losses import title_of, where_of
from lossfill.page.steps.parts import heading, notes, paragraph, table, view_frame
from lossfill.page.steps.scene import CLAY, PIECE, Box
from lossfill.page.view import Shape, VesselView
from lossfill.page.words import common
from lossfill.page.words import make as words

Part = dict[str, Any]

LEAST_SHOWN = 0.001
"""What is measured to be less is told as less: its digits are those of the arithmetic."""


def are_there(context: Context, found: Part) -> bool:
    """Whether the pack still holds what was made: new pieces take its place with a new one."""
    names = [name for thing in found["things"] for name in thing["files"]]
    return all((context.job.pack / name).is_file() for name in names)


def made(context: Context, found: Part, losses: list[Part], order: Callable[[], None]) -> None:
    """Put what was made on the page, beside what can be made.

    Parameters
    ----------
    found : what the stage of making left
    losses : those that have a piece, as they were found
    order : puts what can be made on the page
    """
    things = found["things"]
    solids = [thing for thing in things if thing["solids"]]
    show: Callable[[Part], None] | None = None
    with ui.element("div").classes("beside"):
        with ui.element("div"):
            if not things:
                paragraph(words.NONE_SUITED if found["not_made"] else words.NONE_MADE)
            notes(words.MISSED_HEAD, missed(things))
            if solids:
                show = _Solids(context, solids).show
            _contents(things)
            notes(words.NOT_MADE_HEAD, map(context.says, not_made(found["not_made"])))
            notes(common.CAUTIONS, found["cautions"])
        with ui.element("div"):
            order()
    if any(thing["drawings"] for thing in things):
        heading(words.DRAWINGS)
        paragraph(words.SCALE_SAYS)
    for loss in losses:
        own = [thing for thing in things if thing["loss"] == loss["number"]]
        if own:
            heading(f"{title_of(loss)}, {where_of(context, loss)}")
        for thing in own:
            _thing(context, thing, show)


def missed(things: list[Part]) -> list[str]:
    """Limits that were not kept, in one place: among many figures they would be read over."""
    return [
        words.MISSED.format(
            thing=words.NAMES[thing["thing"]], number=thing["loss"], what=proved["what"]
        )
        for thing in things
        for proved in thing["proved"]
        if not proved["passed"]
    ]


def measured_rows(thing: Part) -> list[tuple[str, str, str, str]]:
    """What was measured of a thing, its limit, and in words whether that was kept."""
    return [
        (
            proved["what"],
            _figure(proved["value"]),
            rounded(proved["limit"], 2),
            words.KEPT if proved["passed"] else words.NOT_KEPT,
        )
        for proved in thing["proved"]
    ]


def _figure(value: float | None) -> str:
    if value is None:
        return words.NOT_MEASURED
    return f"below {LEAST_SHOWN:g}" if value < LEAST_SHOWN else rounded(value, 2)


def not_made(told: list[Part]) -> list[str]:
    """What was asked for and not made, with the reason."""
    return [
        words.NOT_MADE.format(thing=words.NAMES[one["thing"]], number=one["loss"], why=one["why"])
        for one in told
    ]


def _contents(things: list[Part]) -> None:
    """Where each thing stands below; there may be many, with large drawings."""
    if not things:
        return
    heading(words.MADE, 3)
    with ui.element("ul").classes("made-list"):
        for thing in things:
            with ui.element("li"):
                ui.link(_name(thing), f"#{_key(thing)}")


class _Solids:
    """One view for all solids, as browsers draw in few views at once; which, is chosen."""

    def __init__(self, context: Context, things: list[Part]) -> None:
        self._context = context
        self._things = {_key(thing): thing for thing in things}
        heading(words.VIEW_HEAD, 3)
        options = {key: _name(thing) for key, thing in self._things.items()}
        self._choice = ui.select(
            options,
            label=words.VIEW_CHOOSE,
            value=_key(things[0]),
            on_change=lambda event: self._draw(self._things[event.value]),
        ).classes("wide")
        self._place = ui.element("div")
        self._draw(things[0])

    def show(self, thing: Part) -> None:
        """Show a thing and bring the view into sight."""
        self._choice.set_value(_key(thing))
        ui.run_javascript(f'getHtmlElement({self._choice.id})?.scrollIntoView({{block: "start"}});')

    def _draw(self, thing: Part) -> None:
        solids = thing["solids"]
        shapes = [
            Shape(one["mesh"], self._context.url(one["mesh"]), (PIECE, CLAY)[k % 2])
            for k, one in enumerate(solids)
        ]
        self._place.clear()
        with self._place:
            with view_frame():
                label = words.VIEW.format(title=_name(thing))
                VesselView(shapes, box=box_about(solids), label=label, axis=False)
            if len(solids) > 1:
                titles = "; ".join(one["title"].rpartition(": ")[2] for one in solids)
                paragraph(words.VIEW_ROW.format(titles=titles))


def box_about(solids: list[Part]) -> Box:
    """Lowest and highest corner of all solids of a thing."""
    lows = zip(*(one["box_mm"][0] for one in solids), strict=True)
    highs = zip(*(one["box_mm"][1] for one in solids), strict=True)
    x0, y0, z0 = (min(values) for values in lows)
    x1, y1, z1 = (max(values) for values in highs)
    return (x0, y0, z0), (x1, y1, z1)


def _key(thing: Part) -> str:
    return f"{thing['thing']}_{thing['loss']}"


def _name(thing: Part) -> str:
    return words.VIEW_ONE.format(thing=words.NAMES[thing["thing"]], number=thing["loss"])


def _thing(context: Context, thing: Part, show: Callable[[Part], None] | None) -> None:
    section = ui.element("section").classes("thing")
    section.props(f'id="{_key(thing)}" tabindex="-1" aria-label="{_name(thing)}"')
    with section:
        heading(words.NAMES[thing["thing"]], 3)
        with ui.element("div").classes("beside"):
            # Drawings want the room; without them it is the notes' own.
            with ui.element("div"):
                for drawing in thing["drawings"]:
                    _drawing(context, drawing)
                if not thing["drawings"]:
                    _told(context, thing)
            with ui.element("div"):
                if show is not None and thing["solids"]:
                    _show_button(thing, show)
                _files(context, thing)
                if thing["drawings"]:
                    _told(context, thing)


def _told(context: Context, thing: Part) -> None:
    """How it is used; and its limits, folded away where all are kept."""
    notes(words.USE, map(context.says, thing["notes"]))
    count = len(thing["proved"])
    if count:
        kept = all(proved["passed"] for proved in thing["proved"])
        says = words.ALL_KEPT.format(count=count) if kept else words.MEASURED
        with ui.expansion(says, value=not kept).classes("more"):
            table(words.MEASURED, words.MEASURED_HEADS, measured_rows(thing))


def _show_button(thing: Part, show: Callable[[Part], None]) -> None:
    named = words.VIEW_SHOW_NAMED.format(thing=words.NAMES[thing["thing"]], number=thing["loss"])
    ui.button(words.VIEW_SHOW, on_click=lambda: show(thing)).props(
        f'outline no-caps aria-label="{named}"'
    )


def _files(context: Context, thing: Part) -> None:
    heading(words.FILES, 4)
    with ui.element("ul").classes("files"):
        for name in thing["files"]:
            with ui.element("li"):
                url = context.url(f"{PACK_NAME}/{name}")
                ui.link(name, url).props(f'download="{name}"')
                paragraph(words.ENDINGS[name.rpartition(".")[2]], "quiet")


def _drawing(context: Context, drawing: Part) -> None:
    """A drawing at its own size, with a bar to hold a ruler to; larger ones are scrolled."""
    title, width, height = drawing["title"], drawing["width_mm"], drawing["height_mm"]
    with ui.element("figure").classes("drawing"):
        with ui.element("div").classes("at-scale").props('role="group" tabindex="0"') as frame:
            frame.props["aria-label"] = words.DRAWING_FRAME.format(title=title)
            # As a picture, so that nothing that stands in the file could run.
            picture = ui.element("img").style(f"width:{width:g}mm;height:{height:g}mm")
            picture.props["src"] = context.url(f"{PACK_NAME}/{drawing['name']}")
            picture.props["alt"] = words.DRAWING_ALT.format(title=title, width=width, height=height)
        with ui.element("figcaption"):
            ui.element("div").classes("bar-50").props('aria-hidden="true"')
            paragraph(f"{words.BAR}. {title[:1].upper()}{title[1:]}.")

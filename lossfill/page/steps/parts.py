"""Parts that several steps are built of: headings, tables of measures, lists of notes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from nicegui import ui

from lossfill.page.context import Context
from lossfill.page.lengths import UNITS, scale_mm
from lossfill.page.told import sentence
from lossfill.page.words import common as words

INCH_DECIMALS = 4
"""Of a field in inches: 0.0001 in is 0.0025 mm, less than any piece is made to."""


def heading(text: str, level: int = 2) -> None:
    """A heading that screen readers can jump to."""
    with ui.element(f"h{level}"):
        ui.html(_escaped(text), sanitize=False)


def paragraph(text: str, classes: str = "") -> ui.element:
    """A paragraph of plain text."""
    with ui.element("p").classes(classes) as made:
        ui.html(_escaped(text), sanitize=False, tag="span")
    return made


def measures(rows: Iterable[tuple[str, str]]) -> None:
    """A list of names and values."""
    with ui.element("dl").classes("measures"):
        for name, value in rows:
            with ui.element("dt"):
                ui.html(_escaped(name), sanitize=False, tag="span")
            with ui.element("dd"):
                ui.html(_escaped(value), sanitize=False, tag="span")


def table(
    caption: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[str | tuple[str, ...]]],
    *,
    strong: int | None = None,
    classes: str = "",
) -> None:
    """A table whose first cell of each row names it.

    Parameters
    ----------
    rows : their cells; of a cell with several texts those after the first are said quietly below
    strong : the row that is marked as chosen
    classes : of the frame about it; "stacked" sets its cells below each other on a narrow screen
    """
    with ui.element("div").classes(f"table {classes}"), ui.element("table"):
        with ui.element("caption"):
            ui.html(_escaped(caption), sanitize=False, tag="span")
        with ui.element("thead"), ui.element("tr"):
            for head in heads:
                with ui.element("th").props('scope="col"'):
                    ui.html(_escaped(head), sanitize=False, tag="span")
        with ui.element("tbody"):
            for number, row in enumerate(rows):
                with ui.element("tr").classes("strong" if number == strong else ""):
                    for column, cell in enumerate(row):
                        with ui.element("td" if column else "th") as made:
                            first, *more = (cell,) if isinstance(cell, str) else cell
                            ui.html(_escaped(first), sanitize=False, tag="span")
                            for one in more:
                                paragraph(one, "quiet")
                        made.props["data-head"] = heads[column]
                        if not column:
                            made.props('scope="row"')


def notes(title: str, sentences: Iterable[str]) -> None:
    """A list of sentences to read, or nothing where there are none."""
    told = list(dict.fromkeys(map(sentence, sentences)))
    if not told:
        return
    with ui.element("section").classes("notes"):
        heading(title, 3)
        with ui.element("ul"):
            for one in told:
                with ui.element("li"):
                    ui.html(_escaped(one), sanitize=False, tag="span")


def download(text: str, link: str, name: str) -> ui.element:
    """A link that is saved as a file of that name."""
    with ui.element("a").classes("download") as made:
        ui.html(_escaped(text), sanitize=False, tag="span")
    made.props["href"], made.props["download"] = link, name
    return made


@contextmanager
def folded(title: str) -> Iterator[None]:
    """What is shown once its title is pressed."""
    with ui.element("details"):
        with ui.element("summary"):
            ui.html(_escaped(title), sanitize=False, tag="span")
        yield


class Range:
    """The browser's own slider: by mouse, finger and keyboard, and with a name.

    Parameters
    ----------
    label : its name
    on_move : told of its value while it moves
    """

    def __init__(
        self,
        label: str,
        on_move: Callable[[float], Any],
        *,
        low: float,
        high: float,
        step: float,
        value: float,
    ) -> None:
        self._element = ui.element("input").classes("range")
        self._element.props(f'type="range" step="{step:g}"')
        self._element.props["aria-label"] = label
        self._element.on(
            "input",
            lambda event: on_move(float(event.args)),
            throttle=0.05,
            js_handler="(event) => emit(event.target.value)",
        )
        self._between(low, high)
        # Not `value`: that would be set back on a slider under the hand at every other change.
        self._element.props["defaultValue"] = f"{value:.4g}"

    def set(self, low: float, high: float, value: float) -> None:
        """Give it other ends and another place."""
        self._between(low, high)
        self._element.update()
        # After its ends, by which the browser bounds its place.
        ui.run_javascript(
            f"setTimeout(() => (getHtmlElement({self._element.id}).value = {value:.4g}), 0);"
        )

    def _between(self, low: float, high: float) -> None:
        self._element.props["min"], self._element.props["max"] = f"{low:.4g}", f"{high:.4g}"

    def set_visibility(self, visible: bool) -> None:
        """Show or hide it."""
        self._element.set_visibility(visible)


class LengthInput:
    """A field for a length, in the unit in which lengths are shown.

    Parameters
    ----------
    context : which unit that is
    name : of the field
    mm : its value, or None for an empty field
    most_mm : the largest that can be entered, or None
    """

    def __init__(
        self,
        context: Context,
        name: str,
        mm: float | None,
        *,
        least_mm: float = 0.0,
        most_mm: float | None = None,
        step_mm: float = 0.05,
    ) -> None:
        self._scale = scale_mm(context.state.shown)
        self._mm, self._most_mm = mm, most_mm
        self._begun, self._most = self._in_unit(mm), self._in_unit(most_mm)
        self._element = ui.number(
            name,
            value=self._begun,
            min=self._in_unit(least_mm),
            max=self._most,
            step=step_mm if self._scale == 1.0 else self._in_unit(step_mm),
            suffix=UNITS[context.state.shown],
        )
        self._element.props("stack-label").classes("wide")

    @property
    def mm(self) -> float | None:
        """What stands in it; untouched, it is to the last digit what it was."""
        value = self._element.value
        if value is None or value == self._begun:
            return None if value is None else self._mm
        if self._most is not None and value == self._most:
            return self._most_mm
        return float(value) * self._scale

    def _in_unit(self, mm: float | None) -> float | None:
        if mm is None or self._scale == 1.0:
            return mm
        return round(mm / self._scale, INCH_DECIMALS)


@contextmanager
def view_frame() -> Iterator[None]:
    """The frame about a 3D view, with how to use it below."""
    with ui.element("figure").classes("view-frame"):
        with ui.element("div").classes("view"):
            yield
        with ui.element("figcaption"):
            ui.html(_escaped(words.VIEW_HELP), sanitize=False, tag="span")


def _escaped(text: str) -> str:
    import html

    return html.escape(text)

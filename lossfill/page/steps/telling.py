"""The fields of the record, each with an example beside it."""

from __future__ import annotations

import re
from typing import Any

from nicegui import ui

from lossfill.page.choices import RecordChoices, Stage
from lossfill.page.context import Context
from lossfill.page.mixing import vessel_title
from lossfill.page.recording import day_of, fields_of
from lossfill.page.steps.parts import heading, paragraph
from lossfill.page.steps.taking import group, take
from lossfill.page.words import record as words
from lossfill.record.fields import keys, parts


def telling(context: Context) -> None:
    """Put the fields on the page; they are taken all at once, and the record written with them."""
    chosen = context.state.choices.record
    heading(words.FIELDS, 3)
    paragraph(words.FIELDS_SAY)
    held = chosen.fields | {"title": vessel_title(context.job, context.state.choices)}
    inputs: dict[str, Any] = {}
    for part, about, inside in parts():
        with group(about.rstrip(".")):
            for one in inside:
                inputs[one.name] = _field(
                    one.name, dict(one.metadata), held.get(one.name, ""), is_day=part == "dates"
                )
    with ui.element("div").classes("setting"):
        day = _day(words.DAY, chosen.day or "")
        paragraph(words.DAY_SAYS)
    with ui.element("div").classes("setting"):
        paper = ui.select(words.PAPERS, label=words.PAPER, value=chosen.paper).classes("wide")

    def values() -> dict[str, Any]:
        told = {name: str(one.value or "").strip() for name, one in inputs.items()}
        return checked(
            {
                "fields": {name: value for name, value in told.items() if value},
                "day": str(day.value or "") or None,
                "paper": paper.value,
            }
        )

    take(context, Stage.RECORD, words.WRITE, values, _by_label)


def checked(values: dict[str, Any]) -> dict[str, Any]:
    """Refuse what no record can be written with.

    Raises
    ------
    InputError
        With one sentence.
    """
    chosen = RecordChoices(**values)
    fields_of(chosen)
    day_of(chosen)
    return values


def _field(name: str, about: dict[str, Any], value: str, *, is_day: bool) -> Any:
    with ui.element("div").classes("setting"):
        if is_day:
            return _day(about["label"], value)
        if about["lines"] > 1:
            made: Any = ui.textarea(about["label"], value=value).props("autogrow stack-label")
        else:
            made = ui.input(about["label"], value=value).props("stack-label")
        made.classes("wide")
        says = words.TITLE_SAYS if name == "title" else words.SUCH_AS
        paragraph(says.format(example=about["example"]))
    return made


def _day(label: str, value: str) -> ui.input:
    made = ui.input(label, value=value).props("type=date stack-label")
    made.classes("wide")
    return made


def _by_label(told: str) -> str:
    """A message with a field's label where it names the field."""
    labels = {one.name: one.metadata["label"] for _, _, inside in parts() for one in inside}
    first = told.partition(" ")[0].lower()
    return re.sub(r"^\S+", labels[first], told) if first in keys() else told

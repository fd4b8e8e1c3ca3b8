"""Step 8: what only people know, the record to look at, and all of it to take away."""

from __future__ import annotations

import re
from typing import Any

from nicegui import ui

from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.recording import is_packed
from lossfill.page.steps.losses import to_losses
from lossfill.page.steps.parts import download, heading, paragraph, table
from lossfill.page.steps.telling import telling
from lossfill.page.words import record as words

Part = dict[str, Any]

MOST_NAMED = 8
"""Empty fields that are told by name; more than that nobody reads."""

PDF, HTML = "record.pdf", "record.html"


def build(context: Context) -> None:
    """Show the record and the pack beside the fields."""
    found = context.found(Stage.RECORD)
    if found is not None and found["zip"] is None:
        to_losses(context, words.NO_PACK)
        return
    if found is not None and _is_behind(context, found):
        paragraph(words.STALE_PACK, "fault").props('role="alert"')
        ui.button(words.AGAIN, on_click=lambda: context.start(Stage.RECORD)).props("no-caps")
    with ui.element("div").classes("beside"):
        with ui.element("div"):
            if found is not None:
                _preview(context, found)
                _pack(context, found)
        with ui.element("div"):
            telling(context)


def empty_words(names: list[str]) -> str:
    """Which fields are left as lines."""
    if not names:
        return words.FULL
    told = words.EMPTY_MANY if len(names) > MOST_NAMED else words.EMPTY
    return told.format(count=len(names), names=", ".join(names))


def kind_of(name: str) -> str:
    """What a file of the pack is."""
    for pattern, kind in words.KINDS:
        if re.fullmatch(pattern, name):
            return kind
    return words.OTHER


def contents(files: list[Part]) -> list[tuple[str, str]]:
    """What is in the pack: what each kind of file is, and which they are."""
    kinds: dict[str, list[str]] = {}
    for kind in (*(kind for _, kind in words.KINDS), words.OTHER):
        kinds[kind] = []
    for one in files:
        told = words.FILE.format(name=one["name"], size=size_words(one["bytes"]))
        kinds[kind_of(one["name"])].append(told)
    return [(kind, ", ".join(names)) for kind, names in kinds.items() if names]


def size_words(count: int) -> str:
    """How large a file is."""
    for unit, many in words.EXTENT_BYTES:
        if count >= many:
            return f"{count / many:.1f} {unit}"
    return words.BYTES.format(count=count)


def _is_behind(context: Context, found: Part) -> bool:
    """Whether something was made since, which the choices for the record do not tell."""
    return (
        context.runner.progress(context.job) is None
        and not context.is_stale(Stage.RECORD)
        and not is_packed(context.job, found)
    )


def _preview(context: Context, found: Part) -> None:
    heading(words.PREVIEW, 3)
    paragraph(empty_words(found["empty"]))
    if not (context.job.pack / HTML).is_file():
        return  # the pieces were shaped anew, and the record went with the old ones
    frame = ui.element("iframe").classes("record")
    frame.props["sandbox"] = ""  # it runs nothing and opens nothing
    frame.props["title"] = words.PREVIEW_NAMED
    frame.props["src"] = context.url(f"pack/{HTML}")
    download(words.PDF, context.url(f"pack/{PDF}"), f"{found['name']}_{PDF}")


def _pack(context: Context, found: Part) -> None:
    heading(words.PACK, 3)
    files = found["files"]
    count = len(files)
    told = words.FILES[0] if count == 1 else words.FILES[1].format(count=count)
    paragraph(words.PACK_SAYS.format(files=told, name=found["name"]))
    path = context.job.folder / found["zip"]
    if path.is_file():
        size = size_words(path.stat().st_size)
        link = download(
            words.DOWNLOAD.format(size=size), context.url(found["zip"]), f"{found['name']}.zip"
        )
        link.classes("main")
    heading(words.NEXT, 3)
    with ui.element("ol").classes("next"):
        for one in words.NEXT_STEPS:
            with ui.element("li"):
                paragraph(one)
    paragraph(words.NEXT_END)
    table(words.CONTENTS, words.COLUMNS, contents(files), classes="stacked")

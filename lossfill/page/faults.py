"""What is about every page, and what is shown where something fails: a sentence, never a trace."""

from __future__ import annotations

import asyncio
import logging
import os
import traceback
from pathlib import Path

from nicegui import app, ui
from nicegui.client import Client
from nicegui.page import page
from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from lossfill.cli.failures import TRACEBACK_SWITCH
from lossfill.errors import LossfillError
from lossfill.page.steps.parts import paragraph
from lossfill.page.told import sentence
from lossfill.page.words import common as words

_BROKEN_OFF = "Cancel %s running task(s)"
"""What the web server says then."""

STYLE = Path(__file__).parent / "style.css"


def dressed(title: str) -> None:
    """Everything about the content that all pages share."""
    ui.add_css(STYLE)
    ui.colors(primary="#1c4f8a")
    with ui.element("a").props('href="#content"').classes("skip"):
        ui.html(words.SKIP, sanitize=False, tag="span")
    with ui.element("header").classes("top"):
        with ui.element("h1"):
            ui.label(title)
        ui.element("div").classes("spacer")
        ui.link(words.ALL_JOBS, "/")
    ui.on_exception(tell)


def only_a_sentence(text: str) -> None:
    """A page that has nothing but a sentence and the way back to the list."""
    dressed(words.TITLE)
    with ui.element("div").props('id="content" tabindex="-1"'):
        paragraph(text).props('role="alert"')
        ui.link(words.ALL_JOBS, "/")


def add_fault_pages() -> None:
    """Show sentences where NiceGUI would show the exception, and keep traces off the terminal."""
    traced = os.environ.get(TRACEBACK_SWITCH, "") not in ("", "0")
    if not traced:
        for name in ("nicegui", "uvicorn.error"):
            logging.getLogger(name).addFilter(_without_trace)
    app.on_page_exception(lambda error: only_a_sentence(what_happened(error)))

    @app.exception_handler(404)
    async def nothing_there(request: Request, _error: Exception) -> Response:
        with Client(page(""), request=request) as client:
            only_a_sentence(words.NO_SUCH_PAGE)
        return client.build_response(request, 404)

    @app.exception_handler(Exception)
    async def fault(_request: Request, error: Exception) -> Response:
        return PlainTextResponse(what_happened(error) + "\n", status_code=500)


def tell(error: Exception) -> None:
    """Say what stopped the thing that was just pressed."""
    ui.notify(what_happened(error), type="negative", timeout=0, close_button=words.CLOSE)


def what_happened(error: Exception) -> str:
    """The sentence for a person."""
    if isinstance(error, LossfillError):
        return sentence(" ".join(str(error).split()))
    if isinstance(error, ValidationError):
        return words.NO_SUCH_CHOICE.format(what=error.errors()[0]["msg"])
    if isinstance(error, OSError):
        return sentence(words.NOT_KEPT.format(why=error.strerror or type(error).__name__))
    return sentence(words.FAULT.format(what=type(error).__name__))


def _without_trace(record: logging.LogRecord) -> bool:
    """Keep the line of a fault and leave out its trace."""
    error = record.exc_info[1] if record.exc_info else None
    # Whatever was still being answered when the page was stopped is broken off on purpose.
    if isinstance(error, asyncio.CancelledError) or str(record.msg).startswith(_BROKEN_OFF):
        return False
    if record.exc_info:
        where = traceback.extract_tb(error.__traceback__)[-1:] if error is not None else []
        place = f" ({Path(where[0].filename).name} line {where[0].lineno})" if where else ""
        record.msg, record.args = f"lossfill: a fault in the page: {error!r}{place}", ()
        record.exc_info = record.exc_text = None
    return True

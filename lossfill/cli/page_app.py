"""The command that opens the page in the browser, and its options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lossfill.cli.app import app

LAST_PORT = 65535
"""Ports are 16-bit numbers (RFC 9293, section 3.1)."""


def _checked(port: int | None) -> int | None:
    if port is not None and not 1 <= port <= LAST_PORT:
        raise typer.BadParameter(f"{port} is no port: give one from 1 to {LAST_PORT}, or none")
    return port


@app.command()
def page(
    port: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            callback=_checked,
            help="Port to listen on, on this computer alone; a free one without it.",
        ),
    ] = None,
    jobs: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Folder that keeps the jobs; without it, one among your own data.",
        ),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only print the link; open no browser.")
    ] = False,
) -> None:
    """Do the whole job in the browser. Ctrl+C stops it."""
    from lossfill.page.jobs import checked_folder, jobs_folder
    from lossfill.page.serve import serve

    serve(checked_folder(jobs_folder() if jobs is None else jobs), port=port, show=not no_browser)

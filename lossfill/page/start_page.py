"""The first page: a scan to begin with, and the vessels that were begun."""

from __future__ import annotations

import shutil
from pathlib import Path

from nicegui import ui

from lossfill.errors import ExportError, LossfillError
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.faults import dressed
from lossfill.page.jobs import Job, every_job, new_job, remove_job
from lossfill.page.shared import Site
from lossfill.page.steps.dropping import scan_place
from lossfill.page.steps.parts import heading, paragraph
from lossfill.page.words import common as words
from lossfill.page.words import start as start_words


def show_start(site: Site) -> None:
    """Show it."""
    dressed(f"{words.TITLE}: {start_words.START}")
    with ui.element("div").props('id="content" tabindex="-1"'):
        paragraph(words.PURPOSE + ".")
        scan_place("/scan", start_words.DROP, lambda link: ui.navigate.to(link))
        if site.demo is not None:
            demo = site.demo
            heading(start_words.DEMO, 3)
            paragraph(start_words.DEMO_SAYS)
            ui.button(start_words.DEMO, on_click=lambda: _demo(site, demo)).props("no-caps")
        heading(start_words.EARLIER)
        _earlier(site)


def _demo(site: Site, demo: Path) -> None:
    job = new_job(site.jobs, demo.name, demo.suffix)
    try:
        shutil.copyfile(demo, job.folder / job.read().scan)
    except OSError as error:
        remove_job(job)
        raise ExportError(
            start_words.DISK_FULL.format(name=demo.name, why=error.strerror)
        ) from error
    Context(job, site.runner, job.read()).choose(Stage.VESSEL, units="millimetre")
    site.runner.start(job, Stage.VESSEL)
    ui.navigate.to(f"/job/{job.key}/scan")


def _earlier(site: Site) -> None:
    jobs = list(every_job(site.jobs))
    if not jobs:
        paragraph(start_words.NO_EARLIER)
    with ui.element("ul").classes("rows"):
        for job in jobs:
            with ui.element("li"):
                try:
                    title = job.read().title
                    ui.link(title, f"/job/{job.key}/scan")
                except LossfillError:
                    title = words.DAMAGED_NAME.format(key=job.key)
                    paragraph(words.DAMAGED_JOB.format(key=job.key))
                button = ui.button(
                    start_words.YES_REMOVE,
                    on_click=lambda job=job, title=title: _ask_to_remove(site, job, title),
                )
                named = start_words.REMOVE.format(title=title).replace('"', "")
                button.props(f'flat dense no-caps aria-label="{named}"')


def _ask_to_remove(site: Site, job: Job, title: str) -> None:
    def remove() -> None:
        site.runner.forget(job)
        remove_job(job)
        ui.navigate.to("/")

    named = start_words.REMOVE.format(title=title).replace('"', "")
    with ui.dialog().props(f'aria-label="{named}"') as asked, ui.card():
        paragraph(start_words.REMOVE_SURE.format(title=title))
        with ui.row():
            ui.button(start_words.YES_REMOVE, on_click=remove).props("no-caps")
            ui.button(start_words.NO_KEEP, on_click=asked.close).props("flat no-caps")
    asked.open()

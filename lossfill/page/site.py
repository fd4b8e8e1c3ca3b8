"""Every page and route, each registered under its link."""

from __future__ import annotations

from nicegui import ui

from lossfill.errors import LossfillError
from lossfill.page.faults import add_fault_pages, only_a_sentence
from lossfill.page.jobs import find_job
from lossfill.page.routes import add_routes
from lossfill.page.shared import Site
from lossfill.page.start_page import show_start
from lossfill.page.step_page import show_step
from lossfill.page.steps import STEPS
from lossfill.page.told import sentence
from lossfill.page.words import common as words


def add_pages(site: Site) -> None:
    """Register every page and route."""
    add_routes(site)
    add_fault_pages()

    @ui.page("/", title=words.TITLE)
    def start() -> None:
        show_start(site)

    @ui.page("/job/{key}/{name}", title=words.TITLE)
    def step(key: str, name: str) -> None:
        job = find_job(site.jobs, key)
        found = next((one for one in STEPS if one.name == name), None)
        if job is None or found is None:
            only_a_sentence(words.NO_SUCH_JOB)
            return
        try:
            state = job.read()
        except LossfillError as error:
            only_a_sentence(sentence(str(error)))
            return
        show_step(site, job, state, found)

"""A step's page and what is about its content: heading, steps, progress, and the way onward."""

from __future__ import annotations

from nicegui import ui

from lossfill.errors import LossfillError
from lossfill.page.choices import NEEDED, Stage
from lossfill.page.context import Context
from lossfill.page.faults import dressed
from lossfill.page.jobs import Job, JobState
from lossfill.page.shared import Site
from lossfill.page.steps import STEPS, Step
from lossfill.page.steps.parts import heading, paragraph
from lossfill.page.told import sentence
from lossfill.page.words import common as words

LOOK_SECONDS = 0.3
"""How often a page looks whether its job has moved on; the server itself is never asked to wait."""


def show_step(site: Site, job: Job, state: JobState, step: Step) -> None:
    """Show one step of one job, and keep it up to date."""
    ui.page_title(words.STEP_TITLE.format(step=step.title, vessel=state.title))
    dressed(state.title)
    _step_links(job, step)
    with ui.element("div").props('id="content" tabindex="-1"'):
        with ui.element("div").style("display:flex;justify-content:space-between;gap:16px"):
            heading(step.title)
            _units(job, state)

        @ui.refreshable
        def content() -> None:
            _content(Context(job, site.runner, job.read()), step)

        progress = _Progress(site, job)
        content()
    seen = _signature(site, job)

    def look() -> None:
        nonlocal seen
        progress.update()
        now = _signature(site, job)
        if now != seen:
            seen = now
            content.refresh()

    ui.timer(LOOK_SECONDS, look)


def _signature(site: Site, job: Job) -> object:
    """What a page shows of its job, all that it must be built anew for."""
    try:
        state = job.read()
    except LossfillError:
        return None
    progress = site.runner.progress(job)
    stale = tuple(state.is_done(stage) for stage in Stage)
    under_way = None if progress is None else progress.stage
    return state.done, state.failed, state.running, state.shown, stale, under_way


def _step_links(job: Job, here: Step) -> None:
    steps = ui.element("nav").classes("steps").props(f'aria-label="{words.STEPS_LABEL}"')
    with steps, ui.element("ol"):
        for number, step in enumerate(STEPS, start=1):
            with ui.element("li"):
                link = ui.link(f"{number} {step.title}", f"/job/{job.key}/{step.name}")
                if step is here:
                    link.props('aria-current="page"')


def _units(job: Job, state: JobState) -> None:
    def show(unit: str) -> None:
        job.write(job.read().model_copy(update={"shown": unit}))

    chosen = ui.select(
        {"mm": "mm", "inch": "inch"},
        label=words.UNITS_LABEL,
        value=state.shown,
        on_change=lambda event: show(event.value),
    )
    chosen.props("dense options-dense").style("min-width:110px")


class _Progress:
    """The bar at the head of a step, there while work is under way."""

    def __init__(self, site: Site, job: Job) -> None:
        self._site, self._job = site, job
        with ui.element("div").classes("progress").props('role="status"') as self._box:
            self._says = ui.label("")
            with ui.element("div").classes("bar") as self._outer:
                self._bar = ui.element("div")
            self._outer.props('role="progressbar" aria-valuemin="0" aria-valuemax="100" ')
            self._outer.props["aria-label"] = words.PROGRESS
            ui.button(words.CANCEL, on_click=lambda: site.runner.cancel(job)).props("no-caps")
        self.update()

    def update(self) -> None:
        """Show how far the work is now."""
        progress = self._site.runner.progress(self._job)
        self._box.set_visibility(progress is not None)
        if progress is None:
            return
        percent = round(100 * progress.share)
        self._says.set_text(words.WORKING.format(says=progress.says or "…"))
        self._bar.style(f"width:{percent}%")
        self._outer.props(f'aria-valuenow="{percent}"')


def _content(context: Context, step: Step) -> None:
    """A step's content, or why it is not there yet; and the way onward."""
    state, stage = context.state, step.needs
    busy, before = context.runner.progress(context.job), _undone_before(context, step)
    if stage in state.failed:
        paragraph(context.says(sentence(state.failed[stage])), "fault").props('role="alert"')
        if busy is None and before is None:
            again = ui.button(words.TRY_AGAIN, on_click=lambda: context.start(stage))
            again.props("outline no-caps")
    if busy is None and state.running is not None:
        paragraph(words.INTERRUPTED)
        running = state.running
        ui.button(words.GO_ON, on_click=lambda: context.start(running)).props("no-caps")
    elif busy is None and before is None and context.is_stale(stage) and stage not in state.failed:
        paragraph(words.STALE)
        ui.button(words.AGAIN, on_click=lambda: context.start(stage)).props("no-caps")
    if busy is None and before is None and _is_unbegun(state, stage):
        paragraph(words.NOT_BEGUN)
        ui.button(words.BEGIN, on_click=lambda: context.start(stage)).props("no-caps")
    if before is not None and busy is None:
        paragraph(words.NOT_YET.format(title=before.title))
        ui.link(words.GO_THERE.format(title=before.title), context.link(before.name))
        return
    step.build(context)
    _onward(context, step)


def _is_unbegun(state: JobState, stage: Stage) -> bool:
    """Whether nothing came of the stage yet: it was stopped, or its page was opened by a link."""
    return stage not in state.done and stage not in state.failed and state.running is None


def _undone_before(context: Context, step: Step) -> Step | None:
    """The first step whose stage has to be done before this one can show anything."""
    for stage in NEEDED[step.needs]:
        if not context.state.is_done(stage):
            return next(one for one in STEPS if one.needs is stage)
    return None


def _onward(context: Context, step: Step) -> None:
    at = STEPS.index(step)
    with ui.element("div").classes("onward"):
        if at > 0:
            ui.link(words.BACK, context.link(STEPS[at - 1].name))
        else:
            ui.element("span")
        if at + 1 < len(STEPS) and step.needs in context.state.done:
            onward = STEPS[at + 1]

            def go() -> None:
                context.start_unless_done(onward.needs)
                ui.navigate.to(context.link(onward.name))

            ui.button(words.NEXT.format(title=onward.title), on_click=go).props("no-caps")

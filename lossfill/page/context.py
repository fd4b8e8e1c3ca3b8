"""What every step of the page is given: the job, its worker, and how to show a length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lossfill.page.choices import NEEDED, SHOWN_ON, Stage, changed
from lossfill.page.jobs import Job, JobState
from lossfill.page.lengths import length, told_in
from lossfill.page.runner import Runner


@dataclass(frozen=True, slots=True)
class Context:
    """One page's view of one job.

    Parameters
    ----------
    job : its folder
    runner : the workers
    state : what stood in `job.json` when the page was built
    """

    job: Job
    runner: Runner
    state: JobState

    def url(self, name: str) -> str:
        """Where the browser finds a file of the job; another link whenever the file is another."""
        path = self.job.folder / name
        stamp = path.stat().st_mtime_ns if path.exists() else 0
        return f"/files/{self.job.key}/{name}?{stamp}"

    def link(self, step: str) -> str:
        """Where a step of this job is."""
        return f"/job/{self.job.key}/{step}"

    def found(self, stage: Stage) -> dict[str, Any] | None:
        """What a stage found, also where a choice has been changed since; see `is_stale`.

        None where what it lies in is another by now: losses are no longer at the places of an
        earlier size, and the numbers of pieces would be those of other losses.
        """
        done, under = self.state.done, SHOWN_ON.get(stage)
        if stage not in done:
            return None
        if under is not None and not done[stage].startswith(f"{done.get(under, '')}."):
            return None
        return self.job.found(stage)

    def is_stale(self, stage: Stage) -> bool:
        """Whether the stage was done with other choices than the present ones."""
        return stage in self.state.done and not self.state.is_done(stage)

    def choose(self, stage: Stage, **values: Any) -> None:
        """Change some choices of a stage; what was worked out with others is then stale.

        Raises
        ------
        pydantic.ValidationError
            Where a value is none that can be chosen.
        """
        state = self.job.read()
        self.job.write(
            state.model_copy(update={"choices": changed(state.choices, stage, **values)})
        )

    def start(self, stage: Stage) -> None:
        """Have a stage done with the present choices."""
        self.runner.start(self.job, stage)

    def start_unless_done(self, stage: Stage) -> None:
        """Have a stage done, unless it is done already or under way in another tab."""
        under_way = self.runner.progress(self.job)
        if under_way is not None and under_way.stage is stage:
            return
        if not self.job.read().is_done(stage):
            self.start(stage)

    def notes_of(self, stage: Stage) -> list[str]:
        """What a stage tells for the first time; a later one repeats all that came before it."""
        earlier = {
            told for one in NEEDED[stage] for told in (self.found(one) or {}).get("warnings", ())
        }
        found = self.found(stage) or {}
        own = (told for told in found.get("warnings", ()) if told not in earlier)
        return [self.says(told) for told in own]

    def length(self, mm: float | None) -> str:
        """A length as it is shown."""
        return length(mm, self.state.shown)

    def says(self, text: str) -> str:
        """A sentence with its lengths in the unit in which lengths are shown."""
        return told_in(text, self.state.shown)

    def volume(self, ml: float | None) -> str:
        """A volume as it is shown: in ml either way, as scales and syringes have it."""
        from lossfill.figures import millilitres

        return "–" if ml is None else millilitres(ml)

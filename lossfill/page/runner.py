"""Keeps a worker for each job that is being worked on, and knows how far it is."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
from dataclasses import dataclass
from typing import Any

from lossfill.errors import LossfillError
from lossfill.page.choices import OVERTAKEN, Choices, Stage
from lossfill.page.jobs import Job
from lossfill.page.words.common import MAYBE_MEMORY, STOPPED_BY_ITSELF

LONGEST_ANSWER = 1 << 20
"""Bytes of one line from a worker."""

_NO_ANSWER = (OSError, EOFError, ValueError, LookupError, TypeError, AttributeError)
"""What a worker that is gone, or says something else than it should, comes to."""


@dataclass(slots=True)
class Progress:
    """How far a job's worker is."""

    stage: Stage
    says: str = ""
    share: float = 0.0


class Runner:
    """Workers by job; the one thing on the server's side that has a state of its own.

    What it knows is only what is under way; all else lies in the jobs' folders.
    """

    def __init__(self) -> None:
        self._workers: dict[str, asyncio.subprocess.Process] = {}
        self._progress: dict[str, Progress] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    def progress(self, job: Job) -> Progress | None:
        """How far the stage under way is, or None where none is."""
        return self._progress.get(job.key)

    def start(self, job: Job, stage: Stage) -> None:
        """Begin a stage with the job's present choices; a stage under way is stopped first."""
        self.cancel(job)
        state = job.read()
        failed = {k: v for k, v in state.failed.items() if k is not stage}
        job.write(state.model_copy(update={"running": stage, "failed": failed}))
        progress = Progress(stage)
        self._progress[job.key] = progress
        task = asyncio.get_running_loop().create_task(
            self._run(job, stage, state.choices, progress)
        )
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def cancel(self, job: Job) -> None:
        """Stop what is under way at once."""
        if self._progress.pop(job.key, None) is None:
            return
        self._end_worker(job)
        # A job whose folder is gone or damaged must still be stopped.
        with contextlib.suppress(LossfillError, OSError):
            job.write(job.read().model_copy(update={"running": None}))

    def forget(self, job: Job) -> None:
        """End a job's worker, busy or idle."""
        self.cancel(job)
        self._end_worker(job)

    def close(self) -> None:
        """End every worker."""
        self._progress.clear()
        for worker in self._workers.values():
            _end(worker)
        self._workers.clear()

    def _end_worker(self, job: Job) -> None:
        worker = self._workers.pop(job.key, None)
        if worker is not None:
            _end(worker)

    async def _run(self, job: Job, stage: Stage, choices: Choices, progress: Progress) -> None:
        outcome = await self._ordered(job, stage, choices, progress)
        if not self._is_wanted(job, progress):
            return
        del self._progress[job.key]
        # Where the folder is gone, or the disk full, the stage stays interrupted: `running` is set.
        with contextlib.suppress(LossfillError, OSError):
            _note(job, stage, choices, outcome)

    def _is_wanted(self, job: Job, progress: Progress) -> bool:
        """Whether a stage was neither stopped nor replaced by another; else it has no say more."""
        return self._progress.get(job.key) is progress

    async def _ordered(
        self, job: Job, stage: Stage, choices: Choices, progress: Progress
    ) -> str | None:
        """Have a stage done; the sentence with which it failed, or None."""
        try:
            worker = await self._worker(job, progress)
            if worker is None:
                return None
            order = {"stage": stage.value, "choices": choices.model_dump(mode="json")}
            assert worker.stdin is not None
            worker.stdin.write((json.dumps(order) + "\n").encode())
            await worker.stdin.drain()
            return await _followed(worker, progress)
        except _NO_ANSWER as error:
            if self._is_wanted(job, progress):
                # It is gone, or said what is no answer and cannot be relied upon any more.
                self._end_worker(job)
            return STOPPED_BY_ITSELF.format(why=" ".join(str(error).split()))

    async def _worker(self, job: Job, progress: Progress) -> asyncio.subprocess.Process | None:
        """The job's worker, or None where the stage was stopped before there was one."""
        worker = self._workers.get(job.key)
        if worker is None or worker.returncode is not None:
            worker = await asyncio.create_subprocess_exec(
                sys.executable,
                "-m",
                "lossfill.page.worker",
                str(job.folder),
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.PIPE,
                stderr=asyncio.subprocess.DEVNULL,
                limit=LONGEST_ANSWER,
                start_new_session=True,
            )
            if not self._is_wanted(job, progress):
                _end(worker)
                return None
            self._workers[job.key] = worker
        return worker


def _note(job: Job, stage: Stage, choices: Choices, outcome: str | None) -> None:
    """Write into the job that a stage was done, or with which sentence it failed."""
    state = job.read()
    done, failed = dict(state.done), dict(state.failed)
    if outcome is None:
        done[stage] = choices.fingerprint(stage)
        # No fingerprint: whatever is chosen, they have to be done again.
        done |= {later: "" for later in OVERTAKEN.get(stage, ()) if later in done}
    else:
        failed[stage] = outcome
    job.write(state.model_copy(update={"running": None, "done": done, "failed": failed}))


async def _followed(process: asyncio.subprocess.Process, progress: Progress) -> str | None:
    """Read a worker's answers until it is done; the sentence with which it failed, or None.

    Raises
    ------
    EOFError
        Where it ends before it is done.
    """
    assert process.stdout is not None
    while line := await process.stdout.readline():
        answer: dict[str, Any] = json.loads(line)
        if "failed" in answer:
            return str(answer["failed"])
        if answer.get("done"):
            return None
        progress.says, progress.share = str(answer["says"]), float(answer["share"])
    raise EOFError(MAYBE_MEMORY)


def _end(process: asyncio.subprocess.Process) -> None:
    with contextlib.suppress(ProcessLookupError):
        process.kill()

"""The workers as the server keeps them: started, stopped at once, replaced, lost."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from page.pages import DEMO, workers_of
from page.test_worker import job_of

from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.jobs import Job, remove_job
from lossfill.page.runner import Runner

pytestmark = pytest.mark.skipif(
    sys.platform != "linux", reason="the list of processes is read as Linux keeps it"
)

SECONDS = 30.0


def run(test: Callable[[Runner], Awaitable[None]]) -> None:
    """Run a test inside an event loop with a runner that is closed afterwards."""

    async def whole() -> None:
        runner = Runner()
        try:
            await asyncio.wait_for(test(runner), 2 * SECONDS)
        finally:
            runner.close()
            await asyncio.sleep(0.05)

    asyncio.run(whole())


async def until(holds: Callable[[], bool], seconds: float = SECONDS) -> float:
    start = time.monotonic()
    while not holds():
        taken = time.monotonic() - start
        assert taken < seconds, f"not within {seconds} s"
        await asyncio.sleep(0.01)
    return time.monotonic() - start


def begun(runner: Runner, job: Job) -> Callable[[], bool]:
    """Whether the worker has said its first step."""

    def said() -> bool:
        progress = runner.progress(job)
        return progress is not None and progress.says != ""

    return said


def left(job: Job) -> list[str]:
    return sorted(path.name for path in job.folder.iterdir())


def demo(jobs: Path) -> Job:
    job = job_of(DEMO.read_bytes(), jobs, "tea_bowl.ply")
    Context(job, Runner(), job.read()).choose(Stage.VESSEL, units="millimetre")
    return job


def test_a_stop_ends_the_process_within_a_second_and_leaves_nothing_half_done(
    tmp_path: Path,
) -> None:
    job = demo(tmp_path)

    async def test(runner: Runner) -> None:
        runner.start(job, Stage.LOSSES)
        await until(begun(runner, job))
        assert job.read().running is Stage.LOSSES
        assert len(workers_of(tmp_path)) == 1
        runner.cancel(job)
        assert runner.progress(job) is None
        assert await until(lambda: not workers_of(tmp_path)) < 1.0
        await asyncio.sleep(0.1)
        state = job.read()
        assert (state.running, state.done, state.failed) == (None, {}, {})
        assert left(job) == ["job.json", "scan.ply"]

    run(test)


def test_a_stop_before_there_is_a_process_leaves_none(tmp_path: Path) -> None:
    job = demo(tmp_path)

    async def test(runner: Runner) -> None:
        runner.start(job, Stage.VESSEL)
        await asyncio.sleep(0)
        runner.cancel(job)
        await asyncio.sleep(0.5)
        await until(lambda: not workers_of(tmp_path), 1.0)
        assert job.read().running is None
        assert job.read().failed == {}

    run(test)


def test_the_same_twice_is_done_once_by_one_process(tmp_path: Path) -> None:
    job = demo(tmp_path)

    async def test(runner: Runner) -> None:
        runner.start(job, Stage.VESSEL)
        runner.start(job, Stage.VESSEL)
        await asyncio.sleep(0)
        runner.start(job, Stage.VESSEL)
        await until(begun(runner, job))
        assert len(workers_of(tmp_path)) == 1
        await until(lambda: runner.progress(job) is None)
        state = job.read()
        assert state.failed == {}
        assert state.is_done(Stage.VESSEL)
        assert len(workers_of(tmp_path)) == 1
        assert left(job) == ["job.json", "scan.ply", "vessel.json", "vessel.mesh"]
        # The process stays, and what it knows with it: the second time takes no reading.
        (number,) = workers_of(tmp_path)
        start = time.monotonic()
        runner.start(job, Stage.VESSEL)
        await until(lambda: runner.progress(job) is None)
        assert workers_of(tmp_path) == [number]
        assert time.monotonic() - start < 2.0
        runner.forget(job)
        await until(lambda: not workers_of(tmp_path), 1.0)

    run(test)


def test_a_process_that_is_killed_from_outside_is_a_sentence(tmp_path: Path) -> None:
    job = demo(tmp_path)

    async def test(runner: Runner) -> None:
        runner.start(job, Stage.VESSEL)
        await until(begun(runner, job))
        (number,) = workers_of(tmp_path)
        os.kill(number, signal.SIGKILL)
        await until(lambda: runner.progress(job) is None, 2.0)
        told = job.read().failed[Stage.VESSEL]
        assert told == ("the work stopped by itself: it may have run out of memory; try again")
        assert job.read().running is None
        # And can be tried again.
        runner.start(job, Stage.VESSEL)
        await until(lambda: runner.progress(job) is None)
        assert job.read().is_done(Stage.VESSEL)
        assert job.read().failed == {}

    run(test)


def test_two_jobs_go_on_beside_each_other_and_one_is_stopped_alone(tmp_path: Path) -> None:
    one, two = demo(tmp_path), job_of(b"nothing", tmp_path)

    async def test(runner: Runner) -> None:
        runner.start(one, Stage.VESSEL)
        runner.start(two, Stage.VESSEL)
        await until(lambda: len(workers_of(tmp_path)) == 2)
        await until(lambda: runner.progress(two) is None)
        assert two.read().failed[Stage.VESSEL].startswith("bowl.ply: ")
        runner.cancel(two)
        await until(lambda: runner.progress(one) is None)
        assert one.read().is_done(Stage.VESSEL)

    run(test)


def test_what_is_no_answer_ends_the_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = demo(tmp_path)
    real = asyncio.create_subprocess_exec
    said = {"text": ""}

    async def other(*words: str, **more: object) -> asyncio.subprocess.Process:
        code = f"import time; print({said['text']!r}, flush=True); time.sleep(60)"
        # The words that name our worker are only there to be found by.
        return await real(sys.executable, "-c", code, *words[2:], **more)  # type: ignore[arg-type]

    monkeypatch.setattr(asyncio, "create_subprocess_exec", other)

    async def test(runner: Runner) -> None:
        for text in (
            "no JSON",
            '{"other": 1}',
            "[]",
            '{"says": "a", "share": "b"}',
            "x" * (2 << 20),
        ):
            said["text"] = text
            runner.start(job, Stage.VESSEL)
            await until(lambda: runner.progress(job) is None)
            assert job.read().failed[Stage.VESSEL].startswith("the work stopped by itself: ")
            await until(lambda: not workers_of(tmp_path), 1.0)

    run(test)


def test_a_job_that_is_removed_or_damaged_in_mid_run_harms_nothing(tmp_path: Path) -> None:
    gone, damaged = demo(tmp_path), demo(tmp_path)

    async def test(runner: Runner) -> None:
        runner.start(gone, Stage.VESSEL)
        runner.start(damaged, Stage.VESSEL)
        await until(lambda: begun(runner, gone)() and begun(runner, damaged)())
        (damaged.folder / "job.json").write_text("{")
        runner.forget(gone)
        remove_job(gone)
        runner.forget(damaged)
        await until(lambda: not workers_of(tmp_path), 1.0)
        assert runner.progress(gone) is runner.progress(damaged) is None

    run(test)


def test_an_end_of_the_page_leaves_the_stage_interrupted(tmp_path: Path) -> None:
    job = demo(tmp_path)

    async def test(runner: Runner) -> None:
        runner.start(job, Stage.VESSEL)
        await until(begun(runner, job))
        runner.close()
        await until(lambda: not workers_of(tmp_path), 1.0)
        await asyncio.sleep(0.1)
        state = job.read()
        # A page that is started later finds it so, and offers to go on.
        assert (state.running, state.done, state.failed) == (Stage.VESSEL, {}, {})

    run(test)

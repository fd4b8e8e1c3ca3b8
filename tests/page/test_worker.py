"""The worker's process: what it answers, and that it never outlives the page."""

from __future__ import annotations

import errno
import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from page.pages import DEMO, ROOT, wait_until

from lossfill.errors import InputError
from lossfill.page import worker as module
from lossfill.page.choices import Choices, Stage
from lossfill.page.jobs import Job, new_job
from lossfill.page.worker import work


def order(stage: str = "vessel", **vessel: Any) -> str:
    choices = Choices().model_dump(mode="json")
    choices["vessel"] |= vessel
    return json.dumps({"stage": stage, "choices": choices}) + "\n"


def answers(job: Job, *orders: str) -> list[dict[str, Any]]:
    told = io.StringIO()
    work(job.folder, orders, told)
    return [json.loads(line) for line in told.getvalue().splitlines()]


def job_of(content: bytes, jobs: Path, name: str = "bowl.ply") -> Job:
    job = new_job(jobs, name, Path(name).suffix)
    (job.folder / job.read().scan).write_bytes(content)
    return job


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (InputError("scan.ply: it is empty"), "bowl.ply: it is empty"),
        (InputError("a\nb"), "a b"),
        (OSError(errno.ENOSPC, "No space left"), "the result could not be kept (No space left)"),
        (MemoryError(), "too large for this computer's memory"),
        (KeyError("x"), "lossfill made a mistake here (KeyError: 'x')"),
    ],
)
def test_whatever_fails_becomes_one_sentence(
    error: Exception, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr(module, "run_stage", fail)
    job = job_of(b"x", tmp_path)
    # It goes on afterwards: the second order is answered too.
    first, second = answers(job, order(), order())
    assert first == second
    assert told in first["failed"]
    assert "\n" not in first["failed"]
    assert "Traceback" not in first["failed"]


def test_it_tells_each_step_and_then_that_it_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[object] = []

    def run(job: Job, stage: Stage, choices: Choices, memory: object, tell: Any) -> None:
        asked.append((job.folder, stage, choices.vessel.units, id(memory)))
        tell("turning", 0.5)

    monkeypatch.setattr(module, "run_stage", run)
    job = job_of(b"x", tmp_path)
    told = answers(job, order("vessel", units="inch"), order("losses"))
    assert told == [{"says": "turning", "share": 0.5}, {"done": True}] * 2
    memory = asked[0][3]  # type: ignore[index]
    assert asked == [
        (job.folder, Stage.VESSEL, "inch", memory),
        (job.folder, Stage.LOSSES, None, memory),
    ]


@contextmanager
def process_of(job: Job, before: str = "") -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-m", "lossfill.page.worker", str(job.folder)]
    if before:
        command[1:3] = [
            "-c",
            f"{before}\nimport runpy\nrunpy.run_module('lossfill.page.worker',"
            " run_name='__main__', alter_sys=False)",
        ]
    process = subprocess.Popen(
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        if not process.stdin.closed:
            process.stdin.close()
        process.stdout.close()


def test_it_ends_when_its_orders_do_in_the_middle_of_a_step(tmp_path: Path) -> None:
    job = job_of(DEMO.read_bytes(), tmp_path)
    # A step that lasts a minute unless the process ends.
    slow = (
        "import time\nimport lossfill.page.stages as stages\n"
        "def run(job, stage, choices, memory, tell):\n"
        "    tell('resting', 0.1)\n"
        "    time.sleep(60)\n"
        "stages.run_stage = run"
    )
    with process_of(job, slow) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(order())
        process.stdin.flush()
        assert json.loads(process.stdout.readline()) == {"says": "resting", "share": 0.1}
        process.stdin.close()
        assert wait_until(lambda: process.poll() is not None, 10) < 5
        assert process.stdout.read() == ""
        assert process.returncode == 0


def test_it_ends_when_idle(tmp_path: Path) -> None:
    with process_of(job_of(b"random bytes", tmp_path)) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(order())
        process.stdin.flush()
        told = {"says": ""}
        while "says" in told:
            told = json.loads(process.stdout.readline())
        assert told["failed"].startswith("bowl.ply: ")
        process.stdin.close()
        process.wait(10)
        assert process.returncode == 0

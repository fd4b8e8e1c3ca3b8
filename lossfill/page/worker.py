"""The process that does one job's long work: `python -m lossfill.page.worker FOLDER`.

It reads one order a line from standard input and answers in lines on standard output, both JSON:

    {"stage": "losses", "choices": {...}}
    {"says": "finding the axis", "share": 0.3}     any number of these
    {"done": true}  or  {"failed": "one sentence"}

Whoever wants it to stop ends the process: nothing that it leaves is half written. It ends by
itself as soon as its orders do, also in the middle of a long step, so that none outlives the page.
"""

from __future__ import annotations

import json
import os
import queue
import sys
import threading
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO, Any

from lossfill.errors import LossfillError
from lossfill.page.choices import Choices, Stage
from lossfill.page.jobs import Job
from lossfill.page.stages import Memory, run_stage
from lossfill.page.words.common import FAULT, NOT_KEPT, TOO_LITTLE_MEMORY


def work(folder: Path, orders: Iterable[str], answers: IO[str]) -> None:
    """Do what is ordered until the orders end."""
    job, memory = Job(folder), Memory()

    def answer(**content: Any) -> None:
        answers.write(json.dumps(content) + "\n")
        answers.flush()

    for line in orders:
        order = json.loads(line)
        stage, choices = Stage(order["stage"]), Choices.model_validate(order["choices"])
        try:
            run_stage(
                job, stage, choices, memory, lambda says, share: answer(says=says, share=share)
            )
        except LossfillError as error:
            answer(failed=_named(job, " ".join(str(error).split())))
        except OSError as error:
            answer(failed=NOT_KEPT.format(why=error.strerror or type(error).__name__))
        except MemoryError:
            answer(failed=FAULT.format(what=TOO_LITTLE_MEMORY))
        except Exception as error:  # noqa: BLE001 – the page must say a sentence, whatever happens
            what = f"{type(error).__name__}: {' '.join(str(error).split())[:200]}"
            answer(failed=FAULT.format(what=what))
        else:
            answer(done=True)


def _named(job: Job, told: str) -> str:
    """What was told, with the file under the name by which the person knows it."""
    try:
        state = job.read()
    except LossfillError:
        return told
    ours = f"{state.scan}: "
    return f"{state.title}: {told.removeprefix(ours)}" if told.startswith(ours) else told


def watched(orders: IO[str]) -> Iterator[str]:
    """The orders as they come; where they end, so does the process, whatever it is doing."""
    waiting: queue.SimpleQueue[str] = queue.SimpleQueue()

    def watch() -> None:
        for line in orders:
            waiting.put(line)
        # Not sys.exit, which would wait for the step in hand.
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()
    while True:
        yield waiting.get()


if __name__ == "__main__":
    # What libraries print must not be taken for an answer.
    channel, sys.stdout = sys.stdout, sys.stderr
    work(Path(sys.argv[1]), watched(sys.stdin), channel)

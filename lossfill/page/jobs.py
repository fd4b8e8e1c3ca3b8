"""A job is a folder: the scan as uploaded, what was chosen, and what came of each stage.

::

    jobs/9f3c…/
        job.json        name, choices, what each stage's result was made with
        scan.ply        the upload, under a name of ours
        vessel.json     what the stage found, for the page; beside it meshes for the view
        losses.json
        pieces.json
        pack/           what a person takes away
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from lossfill.errors import ExportError, InputError
from lossfill.page.choices import Choices, Stage

JOB_NAME = "job.json"
PACK_NAME = "pack"
_ID = re.compile(r"[0-9a-f]{16}")

NAME_LENGTH = 80
"""Characters of an uploaded file's name that are kept, for showing it."""

KIND_LENGTH = 8
"""Characters of its ending that are kept where it is longer than that."""


class JobState(BaseModel):
    """What `job.json` holds.

    Parameters
    ----------
    title : name of the uploaded file, for showing alone
    scan : name of the scan in the folder, ours
    choices : what was chosen
    done : stage to the fingerprint of the choices with which it was done
    failed : stage to the sentence with which it stopped
    running : the stage under way, or None; without a process it was interrupted
    shown : unit in which lengths are shown
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    title: str
    scan: str = Field(pattern=r"^scan\.[a-z0-9]+$")
    choices: Choices = Choices()
    done: dict[Stage, str] = {}
    failed: dict[Stage, str] = {}
    running: Stage | None = None
    shown: Literal["mm", "inch"] = "mm"

    def is_done(self, stage: Stage) -> bool:
        """Whether the stage's result is there and goes with the present choices."""
        return self.done.get(stage) == self.choices.fingerprint(stage)


@dataclass(frozen=True, slots=True)
class Job:
    """One job's folder."""

    folder: Path

    @property
    def key(self) -> str:
        """What it is called in links."""
        return self.folder.name

    @property
    def pack(self) -> Path:
        """The folder that a person takes away."""
        return self.folder / PACK_NAME

    def read(self) -> JobState:
        """What stands in its `job.json`.

        Raises
        ------
        InputError
            Where it cannot be read.
        """
        try:
            return JobState.model_validate_json((self.folder / JOB_NAME).read_bytes())
        except (OSError, ValidationError) as error:
            raise InputError("this job cannot be read any more: start it again") from error

    def write(self, state: JobState) -> None:
        """Write it, whole or not at all."""
        _write_whole(self.folder / JOB_NAME, (state.model_dump_json(indent=1) + "\n").encode())

    def found(self, stage: Stage) -> dict[str, Any] | None:
        """What a stage found, or None where it has not been done."""
        try:
            path = self.folder / f"{stage.value}.json"
            content = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return content if isinstance(content, dict) else None


def jobs_folder() -> Path:
    """Where jobs lie unless another folder is given: a person's own data folder."""
    base = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(base) / "lossfill" / "jobs"


def checked_folder(folder: Path) -> Path:
    """The folder of all jobs, made where it is missing, once it is known that it can be written.

    Raises
    ------
    ExportError
        Where it cannot.
    """
    probe = folder / f".try-{secrets.token_hex(4)}"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        probe.touch(exist_ok=False)
        probe.unlink()
    except OSError as error:
        raise ExportError(
            f"cannot write to the folder {folder} ({error.strerror}): give another with --jobs"
        ) from error
    return folder


def new_job(jobs: Path, title: str, suffix: str) -> Job:
    """Make the folder of a new job; the scan is yet to be put into it as `JobState.scan`.

    Raises
    ------
    ExportError
        Where the disk refuses.
    """
    try:
        jobs.mkdir(parents=True, exist_ok=True)
        job = Job(jobs / secrets.token_hex(8))
        job.folder.mkdir(mode=0o700)
        job.write(JobState(title=shown_name(title), scan=f"scan{suffix}"))
    except OSError as error:
        raise ExportError(f"cannot write to {jobs} ({error.strerror}): free some space") from error
    return job


def find_job(jobs: Path, key: str) -> Job | None:
    """The job of that key, or None; a key can lead nowhere but to a folder of ours."""
    if not _ID.fullmatch(key) or not (jobs / key / JOB_NAME).is_file():
        return None
    return Job(jobs / key)


def every_job(jobs: Path) -> Iterator[Job]:
    """All jobs, the one touched last first."""
    if not jobs.is_dir():
        return
    folders = [one for one in jobs.iterdir() if find_job(jobs, one.name) is not None]
    for folder in sorted(folders, key=lambda one: -(one / JOB_NAME).stat().st_mtime):
        yield Job(folder)


def remove_job(job: Job) -> None:
    """Remove a job with all that lies in it."""
    shutil.rmtree(job.folder, ignore_errors=True)


def shown_name(name: str) -> str:
    """A file's name as it may be shown: its last part, one line, nothing that is no character."""
    last = re.split(r"[/\\]", name)[-1]
    plain = "".join(letter if letter.isprintable() else " " for letter in last)
    shown = " ".join(plain.split())
    if len(shown) > NAME_LENGTH:
        suffix = PurePath(shown).suffix[:KIND_LENGTH]
        shown = shown[: NAME_LENGTH - len(suffix) - 1] + "…" + suffix
    return shown or "scan"


def _write_whole(path: Path, content: bytes) -> None:
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    fresh.write_bytes(content)
    os.replace(fresh, path)

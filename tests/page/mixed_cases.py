"""A job with the tea bowl's pack, as the pieces' stage leaves it, without working it out."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from lossfill.page.choices import Choices, Stage, changed
from lossfill.page.jobs import Job, new_job

STARTED = "2026-12-01T10:00"


def bowl_job(bowl: Path, jobs: Path, *, title: str = "tea_bowl.ply") -> Job:
    """A job whose pack is a copy of a folder."""
    job = new_job(jobs, title, ".ply")
    shutil.copytree(bowl, job.pack)
    (job.folder / "pieces.json").write_text(json.dumps({"pieces": [{"loss": 1}], "files": []}))
    return job


def chosen(**values: Any) -> Choices:
    """Choices with some of the mix."""
    return changed(Choices(), Stage.MIX, **values)


def say_nothing(_says: str, _share: float) -> None:
    """Stands for the page's bar."""

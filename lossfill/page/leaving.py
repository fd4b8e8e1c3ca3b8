"""How a stage leaves what it found: whole, or as it was before, whenever the process is ended."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from lossfill.pack.folder import HOLDER_PREFIX
from lossfill.page.choices import Stage
from lossfill.page.jobs import Job

Tell = Callable[[str, float], None]
"""Told of each step in plain words and the share of the stage that is done, 0 to 1."""


@contextmanager
def fresh_pack(job: Job) -> Iterator[Path]:
    """A folder that takes the pack's place once it is whole.

    The process may be ended at any moment; what an ended one left is cleared away first.
    """
    bring_back_pack(job)
    fresh, old = _beside_pack(job)
    for left in (fresh, old, *job.folder.glob(f"{HOLDER_PREFIX}*")):
        shutil.rmtree(left, ignore_errors=True)
    yield fresh
    if job.pack.exists():
        os.rename(job.pack, old)
    os.rename(fresh, job.pack)
    shutil.rmtree(old, ignore_errors=True)


def remove_pack(job: Job) -> None:
    """Take the pack away, with what a process that was ended left beside it."""
    for path in (job.pack, *_beside_pack(job)):
        shutil.rmtree(path, ignore_errors=True)


def _beside_pack(job: Job) -> tuple[Path, Path]:
    """Where a fresh pack is put together, and where the old one waits to be taken away."""
    fresh, old = (job.folder / f".{job.pack.name}.{which}" for which in ("new", "old"))
    return fresh, old


def bring_back_pack(job: Job) -> None:
    """Put the old pack back where a process was ended between taking it away and its follower."""
    _, old = _beside_pack(job)
    if old.is_dir() and not job.pack.exists():
        os.rename(old, job.pack)


def leave(job: Job, stage: Stage, content: dict[str, Any], files: dict[str, bytes]) -> None:
    """Write what a stage found: whole files in one go, its JSON last, which speaks of them."""
    fresh = {name: job.folder / f".{name}.new" for name in files}
    for name, held in files.items():
        fresh[name].write_bytes(held)
    for name, path in fresh.items():
        path.replace(job.folder / name)
    write_json(job.folder / f"{stage.value}.json", content | {"files": sorted(files)})


def write_json(path: Path, content: dict[str, Any]) -> None:
    """Write a document whole or not at all."""
    fresh = path.with_name(f".{path.name}.new")
    fresh.write_text(json.dumps(content, allow_nan=False), encoding="utf-8")
    fresh.replace(path)

"""Taking in a scan file: straight into the job's folder, checked for kind and size on the way."""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
import time
from collections.abc import AsyncIterator
from pathlib import Path, PurePath

from lossfill.errors import ExportError, InputError
from lossfill.page.jobs import Job, checked_folder, new_job, remove_job, shown_name
from lossfill.page.words import start as words

MOST_MB = 500
KINDS = (".stl", ".ply", ".obj", ".off", ".glb", ".gltf", ".3mf", ".xyz", ".pts")


RECEIVING = ".receiving-"
"""Before the name of a file that is still being received; it is no job before it is whole."""

LEFT_SECONDS = 3600.0
"""A file to which nothing came for so long was left by a page that was ended."""


async def receive(
    jobs: Path, name: str, content: AsyncIterator[bytes], *, declared: int | None = None
) -> Job:
    """Make a job of an uploaded scan.

    Parameters
    ----------
    jobs : folder of all jobs
    name : of the file as the browser gives it; only its ending is used, and what is shown of it
    content : its bytes, as they come
    declared : how many bytes the browser says that there are; only used to refuse the sooner

    Raises
    ------
    InputError
        Where the file is of no known kind, empty, or too large; nothing of it is kept.
    ExportError
        Where the disk refuses.
    """
    title, suffix = _title_and_kind(name, declared)
    checked_folder(jobs)
    kept = jobs / f"{RECEIVING}{secrets.token_hex(8)}"
    try:
        await _kept(kept, title, content)
        return _job_of(jobs, kept, title, suffix)
    finally:
        kept.unlink(missing_ok=True)


def clear_left(jobs: Path) -> None:
    """Remove what a page that was ended in the middle of receiving left."""
    for path in jobs.glob(f"{RECEIVING}*"):
        with contextlib.suppress(OSError):
            if path.stat().st_mtime < time.time() - LEFT_SECONDS:
                path.unlink()


def _job_of(jobs: Path, kept: Path, title: str, suffix: str) -> Job:
    job = new_job(jobs, title, suffix)
    try:
        os.replace(kept, job.folder / job.read().scan)
    except OSError as error:
        remove_job(job)
        raise ExportError(words.DISK_FULL.format(name=title, why=error.strerror)) from error
    return job


def _title_and_kind(name: str, declared: int | None) -> tuple[str, str]:
    """What is shown of a file's name, and its ending, where it can be taken in."""
    title = shown_name(name)
    suffix = PurePath(title).suffix.lower()
    if suffix not in KINDS:
        raise InputError(words.WRONG_KIND.format(name=title))
    if declared is not None:
        _check_size(declared, title)
    return title, suffix


def _check_size(size: int, title: str) -> None:
    if size > MOST_MB * 1_000_000:
        raise InputError(words.TOO_LARGE.format(name=title, most=MOST_MB))


async def receive_twin(
    job: Job, name: str, content: AsyncIterator[bytes], *, declared: int | None = None
) -> str:
    """Keep the scan of another vessel of the set beside a job's own.

    Parameters
    ----------
    job : whose vessel it is another of
    name, content, declared : as for a scan

    Returns
    -------
    Its name in the job's folder, which tells one content from another: results made with an earlier
    twin are then known to be stale.

    Raises
    ------
    InputError, ExportError
        As for a scan; an earlier twin is then still there.
    """
    title, suffix = _title_and_kind(name, declared)
    fresh = job.folder / f".twin.{secrets.token_hex(4)}"
    try:
        kept = f"twin_{(await _kept(fresh, title, content))[:16]}{suffix}"
        fresh.replace(job.folder / kept)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise
    return kept


def drop_other_twins(job: Job, name: str) -> None:
    """Remove the twins that were sent before the one of that name: each may be very large."""
    for path in job.folder.glob("twin_*"):
        if path.name != name:
            path.unlink(missing_ok=True)


async def _kept(path: Path, title: str, content: AsyncIterator[bytes]) -> str:
    """Write what comes, within the limits; its hash."""
    size, seen = 0, hashlib.sha256()
    try:
        with path.open("xb") as file:
            async for part in content:
                size += len(part)
                _check_size(size, title)
                file.write(part)
                seen.update(part)
    except OSError as error:
        why = error.strerror or str(error)
        raise ExportError(words.DISK_FULL.format(name=title, why=why)) from error
    if size == 0:
        raise InputError(words.EMPTY.format(name=title))
    return seen.hexdigest()

"""A twin's scan is taken in as carefully as the vessel's own."""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from lossfill.errors import InputError
from lossfill.page import receive as receiving
from lossfill.page.jobs import Job, new_job
from lossfill.page.receive import drop_other_twins, receive_twin


async def parts(*content: bytes) -> AsyncIterator[bytes]:
    for part in content:
        yield part


def sent(job: Job, name: str, *content: bytes) -> str:
    return asyncio.run(receive_twin(job, name, parts(*content)))


def files_of(job: Job) -> set[str]:
    return {path.name for path in job.folder.iterdir()} - {"job.json"}


def test_it_lies_in_the_job_under_a_name_of_ours(tmp_path: Path) -> None:
    job = new_job(tmp_path, "pot.ply", ".ply")
    name = sent(job, "../../etc/other pot.STL", b"solid", b" a")
    assert name == f"twin_{hashlib.sha256(b'solid a').hexdigest()[:16]}.stl"
    assert (job.folder / name).read_bytes() == b"solid a"
    assert files_of(job) == {name}


def test_another_content_gets_another_name_so_that_results_are_stale(tmp_path: Path) -> None:
    job = new_job(tmp_path, "pot.ply", ".ply")
    assert sent(job, "a.ply", b"one") != sent(job, "a.ply", b"two")
    assert sent(job, "a.ply", b"one") == sent(job, "b.ply", b"o", b"ne")


def test_an_earlier_twin_does_not_stay(tmp_path: Path) -> None:
    job = new_job(tmp_path, "pot.ply", ".ply")
    (job.folder / "scan.ply").touch()
    sent(job, "a.ply", b"one")
    second = sent(job, "a.stl", b"two")
    drop_other_twins(job, second)
    assert files_of(job) == {"scan.ply", second}


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [("a.exe", b"x", "no scan"), ("a.ply", b"", "empty"), ("a.ply", b"xxx", "larger than")],
)
def test_what_is_no_scan_is_refused_and_nothing_of_it_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, content: bytes, says: str
) -> None:
    monkeypatch.setattr(receiving, "MOST_MB", 2e-6)  # two bytes
    job = new_job(tmp_path, "pot.ply", ".ply")
    with pytest.raises(InputError, match=says):
        sent(job, name, content)
    assert files_of(job) == set()

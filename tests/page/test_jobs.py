"""Jobs as folders: found by their keys alone, read or refused, written whole."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from lossfill.errors import ExportError, InputError
from lossfill.page.choices import Choices, Stage, changed
from lossfill.page.jobs import (
    JOB_NAME,
    Job,
    checked_folder,
    every_job,
    find_job,
    jobs_folder,
    new_job,
    remove_job,
)


@pytest.mark.parametrize(
    "key",
    ["", ".", "..", "../x", "0" * 15, "0" * 17, "G" * 16, "A" * 16, "0" * 16 + "\n", "0" * 16],
)
def test_no_key_leads_anywhere_else(key: str, tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    for place in (tmp_path, tmp_path / "jobs", tmp_path / "x"):
        place.mkdir(exist_ok=True)
        (place / JOB_NAME).write_text("{}")
    assert find_job(tmp_path / "jobs", key) is None


def test_the_job_touched_last_comes_first(tmp_path: Path) -> None:
    jobs = [new_job(tmp_path, f"{name}.ply", ".ply") for name in "abc"]
    for job, age in zip(jobs, (20, 0, 10), strict=True):
        os.utime(job.folder / JOB_NAME, (1e9 - age, 1e9 - age))
    assert [job.read().title for job in every_job(tmp_path)] == ["b.ply", "c.ply", "a.ply"]


def test_a_state_comes_back_as_it_was_written(tmp_path: Path) -> None:
    job = new_job(tmp_path, "a.ply", ".ply")
    choices = changed(Choices(), Stage.PIECES, clearance_mm=0.2, dismissed=(2,))
    done = {Stage.VESSEL: choices.fingerprint(Stage.VESSEL)}
    state = job.read().model_copy(update={"choices": choices, "done": done, "shown": "inch"})
    job.write(state)
    assert job.read() == state
    assert job.read().is_done(Stage.VESSEL)
    assert sorted(path.name for path in job.folder.iterdir()) == [JOB_NAME]


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b"{}", b"\xff\xfe", b'{"title": "a", "scan": "s", "more": 1}']
)
def test_a_damaged_job_is_a_sentence(content: bytes, tmp_path: Path) -> None:
    job = new_job(tmp_path, "a.ply", ".ply")
    (job.folder / JOB_NAME).write_bytes(content)
    with pytest.raises(InputError, match="this job cannot be read any more: start it again"):
        job.read()
    assert [one.key for one in every_job(tmp_path)] == [job.key]  # so that it can be removed


def test_a_scan_named_elsewhere_makes_a_job_damaged(tmp_path: Path) -> None:
    job = new_job(tmp_path, "a.ply", ".ply")
    path = job.folder / JOB_NAME
    for scan in ("../scan.ply", "scan.ply/../../x.ply", "job.json", "a.ply"):
        path.write_text(path.read_text().replace('"scan.ply"', f'"{scan}"'))
        with pytest.raises(InputError):
            job.read()
        path.write_text(path.read_text().replace(f'"{scan}"', '"scan.ply"'))
    assert job.read().scan == "scan.ply"


def test_a_damaged_result_is_none(tmp_path: Path) -> None:
    job = new_job(tmp_path, "a.ply", ".ply")
    assert job.found(Stage.VESSEL) is None
    for content in ("", "{", "[]", '"text"'):
        (job.folder / "vessel.json").write_text(content)
        assert job.found(Stage.VESSEL) is None
    (job.folder / "vessel.json").write_text('{"warnings": []}')
    assert job.found(Stage.VESSEL) == {"warnings": []}


def test_a_removed_job_is_gone_whole(tmp_path: Path) -> None:
    job = new_job(tmp_path, "a.ply", ".ply")
    (job.pack / "deep").mkdir(parents=True)
    remove_job(job)
    assert list(tmp_path.iterdir()) == []
    remove_job(Job(tmp_path / "gone"))


def test_jobs_lie_among_a_persons_own_data(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert jobs_folder() == tmp_path / "lossfill" / "jobs"
    monkeypatch.delenv("XDG_DATA_HOME")
    assert jobs_folder() == Path.home() / ".local" / "share" / "lossfill" / "jobs"


def test_a_folder_is_made_and_left_as_it_was(tmp_path: Path) -> None:
    folder = checked_folder(tmp_path / "a" / "b")
    assert list(folder.iterdir()) == []
    assert checked_folder(folder) == folder


def test_a_folder_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for folder in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(ExportError, match=r"cannot write to the folder .* with --jobs"):
            checked_folder(folder)


def test_choices_of_a_late_stage_leave_the_early_ones_done() -> None:
    before = Choices()
    after = changed(before, Stage.PIECES, clearance_mm=0.3)
    same = [before.fingerprint(stage) == after.fingerprint(stage) for stage in Stage]
    assert same == [True, True, False, False, False, False]
    early = changed(before, Stage.VESSEL, units="inch")
    assert all(before.fingerprint(stage) != early.fingerprint(stage) for stage in Stage)

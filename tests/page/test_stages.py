"""What the worker leaves: whole files, and first what the last one speaks of."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from page.test_worker import job_of

from lossfill.page import leaving, stages
from lossfill.page.choices import Choices, Stage, changed
from lossfill.page.jobs import Job


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return job_of(b"x", tmp_path)


def names(job: Job) -> set[str]:
    return {path.name for path in job.folder.iterdir()} - {"job.json", "scan.ply"}


class Ended(BaseException):
    """The process was ended here."""


def leave(job: Job, mark: bytes) -> None:
    files = {"a.mesh": b"a" + mark, "b.mesh": b"b" + mark}
    leaving.leave(job, Stage.VESSEL, {"mark": mark.decode()}, files)


def test_the_document_names_its_files_and_comes_last(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    real = Path.replace

    def seen(path: Path, target: Path) -> Path:
        order.append(Path(target).name)
        return real(path, target)

    monkeypatch.setattr(Path, "replace", seen)
    leave(job, b"1")
    assert order == ["a.mesh", "b.mesh", "vessel.json"]
    found = job.found(Stage.VESSEL)
    assert found == {"mark": "1", "files": ["a.mesh", "b.mesh"]}
    assert names(job) == {"a.mesh", "b.mesh", "vessel.json"}


@pytest.mark.parametrize("moment", range(6))
def test_a_process_ended_at_any_moment_leaves_each_file_whole(
    moment: int, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two files are written, two renamed, then the document is written and renamed."""
    leave(job, b"1")
    steps = 0

    def ending(real: Any) -> Any:
        def step(path: Path, *rest: Any, **more: Any) -> Any:
            nonlocal steps
            if steps == moment:
                if real is not Path.replace and rest and isinstance(rest[0], bytes):
                    with path.open("wb") as half:
                        half.write(rest[0][:1])
                raise Ended
            steps += 1
            return real(path, *rest, **more)

        return step

    with monkeypatch.context() as patched:
        for name in ("write_bytes", "write_text", "replace"):
            patched.setattr(Path, name, ending(getattr(Path, name)))
        with pytest.raises(Ended):
            leave(job, b"2")
    shown = [(job.folder / name).read_bytes() for name in ("a.mesh", "b.mesh")]
    assert shown[0] in (b"a1", b"a2")
    assert shown[1] in (b"b1", b"b2")
    assert job.found(Stage.VESSEL) == {"mark": "1", "files": ["a.mesh", "b.mesh"]}
    leave(job, b"3")
    assert names(job) == {"a.mesh", "b.mesh", "vessel.json"}


def test_a_number_that_is_none_never_reaches_the_browser(job: Job) -> None:
    with pytest.raises(ValueError, match="JSON"):
        leaving.write_json(job.folder / "vessel.json", {"a": float("nan")})
    assert job.found(Stage.VESSEL) is None


def fill_pack(job: Job, mark: str) -> None:
    with leaving.fresh_pack(job) as fresh:
        fresh.mkdir()
        (fresh / "fill.json").write_text(mark)


def test_a_pack_takes_the_last_ones_place_whole(job: Job) -> None:
    fill_pack(job, "1")
    (job.pack / "mould.stl").write_text("made of the first")
    fill_pack(job, "2")
    assert [path.name for path in job.pack.iterdir()] == ["fill.json"]
    assert (job.pack / "fill.json").read_text() == "2"
    assert names(job) == {"pack"}


def test_a_pack_that_fails_leaves_the_last_one(job: Job) -> None:
    fill_pack(job, "1")
    with pytest.raises(FileNotFoundError), leaving.fresh_pack(job) as fresh:
        (fresh / "piece.stl").touch()
    assert (job.pack / "fill.json").read_text() == "1"


@pytest.mark.parametrize("left", ["new", "old", "holder"])
def test_what_an_ended_process_left_of_a_pack_is_cleared(left: str, job: Job) -> None:
    place = job.folder / (".lossfill-x1" if left == "holder" else f".pack.{left}")
    (place / "new").mkdir(parents=True)
    (place / "piece.stl").touch()
    fill_pack(job, "2")
    assert names(job) == {"pack"}
    assert os.listdir(job.pack) == ["fill.json"]


def test_choices_reach_the_road(job: Job) -> None:
    choices = changed(Choices(), Stage.VESSEL, units="inch", wall_mm=4.0)
    choices = changed(choices, Stage.LOSSES, form="twin", twin_file="twin.ply", twin_scaled=True)
    choices = changed(choices, Stage.PIECES, clearance_mm=0.3, setback_edge="step", split=True)
    settings = stages.settings_of(job, choices)
    assert settings.units is not None
    assert settings.units.name == "INCH"
    assert settings.wall_mm == 4.0
    assert settings.twin == job.folder / "twin.ply"
    assert (settings.form, settings.twin_scaled) == ("twin", True)
    assert (settings.clearance_mm, settings.setback_edge, settings.split) == (0.3, "step", True)
    assert json.loads(choices.model_dump_json())["pieces"]["clearance_mm"] == 0.3

"""The record as the page writes it, and the pack as one ZIP."""

from __future__ import annotations

import io
import json
import os
import shutil
import zipfile
from pathlib import Path
from typing import Any

import pytest
from page.mixed_cases import STARTED, bowl_job, chosen, say_nothing

from lossfill.errors import ExportError, InputError
from lossfill.page.choices import Stage, changed
from lossfill.page.jobs import Job
from lossfill.page.recording import (
    ZIP_NAME,
    day_of,
    empty_fields,
    fields_of,
    is_packed,
    leave_record,
    write_zip,
)
from lossfill.page.steps.record import contents, empty_words, kind_of, size_words
from lossfill.page.steps.telling import checked
from lossfill.page.words import record as words
from lossfill.record.fields import NO_FIELDS, keys

HOSTILE = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def written(tea_bowl_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A job whose record is written; it is only read from, or copied."""
    job = bowl_job(tea_bowl_folder, tmp_path_factory.mktemp("jobs"), title="../<b>&pot.ply")
    (job.pack / ".lossfill-left").mkdir()
    (job.pack / ".half.stl").write_text("not whole")
    os.symlink("/etc/hostname", job.pack / "elsewhere.txt")
    (job.pack / "made.json").unlink(missing_ok=True)
    choices = changed(
        chosen(start=STARTED), Stage.RECORD, fields={"owner": HOSTILE}, day="2026-12-24"
    )
    leave_record(job, choices, say_nothing)
    return job


@pytest.fixture
def job(written: Job, tmp_path: Path) -> Job:
    """A copy of it."""
    return Job(Path(shutil.copytree(written.folder, tmp_path / written.key, symlinks=True)))


def found_in(job: Job) -> dict[str, Any]:
    found = job.found(Stage.RECORD)
    assert found is not None
    return found


@pytest.mark.slow
def test_the_zip_is_the_pack(written: Job) -> None:
    found = found_in(written)
    assert found["name"] == "b_pot"
    with zipfile.ZipFile(written.folder / found["zip"]) as packed:
        assert packed.testzip() is None
        held = {name: packed.read(name) for name in packed.namelist()}
    wanted = {
        path.name
        for path in written.pack.iterdir()
        if path.is_file() and not path.name.startswith(".") and not path.is_symlink()
    }
    assert {"record.pdf", "record.html", "fill.json", "piece_1.stl", "plan.ics"} <= wanted
    assert set(held) == {f"b_pot/{name}" for name in wanted}
    assert all((written.pack / name).read_bytes() == held[f"b_pot/{name}"] for name in wanted)
    assert {one["name"]: one["bytes"] for one in found["files"]} == {
        name: len(held[f"b_pot/{name}"]) for name in wanted
    }
    assert held["b_pot/record.pdf"].startswith(b"%PDF")
    assert json.loads(held["b_pot/fill.json"])["format"] == "lossfill fill"


@pytest.mark.slow
def test_what_was_told_is_shown_and_never_obeyed(written: Job) -> None:
    page = (written.pack / "record.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "&lt;b&gt;&amp;pot" in page  # by its file's name, where it was given no other
    assert "<b>&pot" not in page
    assert "2026-12-24" in page


@pytest.mark.slow
def test_the_same_pack_gives_the_same_bytes(written: Job, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    copy.mkdir()
    # Other times, and written in another order.
    for path in sorted(written.pack.glob("[a-z]*.*"), reverse=True):
        if not path.is_symlink():
            (copy / path.name).write_bytes(path.read_bytes())
    write_zip(copy, tmp_path / "again.zip", "b_pot")
    assert (tmp_path / "again.zip").read_bytes() == (written.folder / ZIP_NAME).read_bytes()


@pytest.mark.slow
def test_a_zip_that_breaks_off_leaves_the_last_one(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (job.folder / ZIP_NAME).read_bytes()

    def full(*_words: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copyfileobj", full)
    with pytest.raises(OSError, match="No space"):
        write_zip(job.pack, job.folder / ZIP_NAME, "pot")
    assert (job.folder / ZIP_NAME).read_bytes() == before


@pytest.mark.slow
def test_the_page_can_tell_what_was_made_since(job: Job) -> None:
    found = found_in(job)
    assert is_packed(job, found)
    (job.pack / "made.json").write_text("{}")
    assert not is_packed(job, found)
    (job.pack / "made.json").unlink()
    assert is_packed(job, found)
    # Pieces shaped anew take the whole pack's place: the record went with the old ones.
    (job.pack / "record.html").unlink()
    assert not is_packed(job, found)


@pytest.mark.slow
def test_without_losses_or_with_a_broken_pack_a_sentence_says_so(job: Job) -> None:
    before = (job.folder / ZIP_NAME).read_bytes()
    (job.pack / "fill.json").write_text("{")
    with pytest.raises(InputError, match="make the pieces again under Piece"):
        leave_record(job, chosen(), say_nothing)
    assert (job.folder / ZIP_NAME).read_bytes() == before
    shutil.rmtree(job.pack)
    (job.folder / "pieces.json").write_text(json.dumps({"pieces": [], "files": []}))
    leave_record(job, chosen(), say_nothing)
    found = job.found(Stage.RECORD)
    assert found == {"zip": None, "files": [], "made": None}
    assert is_packed(job, found)
    assert not (job.folder / ZIP_NAME).exists()
    with pytest.raises(ExportError, match="the pack is empty"):
        write_zip(job.pack, job.folder / ZIP_NAME, "pot")


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"fields": {"colour": "red"}}, "no field 'colour'"),
        ({"fields": {"examined": "soon"}}, "write a date"),
        ({"fields": {"state": "x" * 20_001}}, "at most 20000"),
        ({"day": "tomorrow"}, "write a date"),
    ],
)
def test_what_no_record_can_be_written_with_is_refused(values: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError, match=says):
        checked(values)


def test_fields_reach_the_record_as_they_were_told() -> None:
    choices = changed(chosen(), Stage.RECORD, fields={"owner": "A = B", "scanned": "2026-01-02"})
    fields = fields_of(choices.record)
    assert fields.object.owner == "A = B"
    assert str(fields.dates.scanned) == "2026-01-02"
    assert day_of(choices.record) is None
    assert len(empty_fields(NO_FIELDS)) == len(keys())
    assert len(empty_fields(fields)) == len(keys()) - 2
    assert empty_words(["Owner"]) == "Still lines to write on: Owner."
    assert "26 fields" in empty_words(empty_fields(NO_FIELDS))
    assert empty_words([]) == words.FULL


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("piece_1.3mf", "3MF"),
        ("loss_2_mould_upper.stl", "Moulds"),
        ("loss_1_gauges_outer_levels.dxf", "Gauge"),
        ("loss_1.png", "Pictures"),
        ("made.json", "for programs"),
        ("notes.txt", words.OTHER),
    ],
)
def test_every_kind_of_file_has_its_words(name: str, kind: str) -> None:
    assert kind in kind_of(name)


@pytest.mark.slow
def test_the_packs_files_are_told_by_kind(written: Job) -> None:
    told = dict(contents(found_in(written)["files"]))
    assert words.OTHER not in told
    assert told["The record of examination and treatment, for printing"].startswith("record.pdf (")
    assert [size_words(one) for one in (999, 1500, 2_340_000)] == ["999 bytes", "1.5 kB", "2.3 MB"]


@pytest.mark.slow
def test_a_zip_opens_where_rights_are_kept(written: Job) -> None:
    with zipfile.ZipFile(io.BytesIO((written.folder / ZIP_NAME).read_bytes())) as packed:
        assert {entry.external_attr >> 16 for entry in packed.infolist()} == {0o100644}
        assert {entry.compress_type for entry in packed.infolist()} == {zipfile.ZIP_DEFLATED}

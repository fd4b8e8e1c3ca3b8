"""All or nothing: what a folder holds after a run that ends well, and after each that does not."""

from __future__ import annotations

import errno
import json
import os
import stat
from pathlib import Path

import pytest

from lossfill.errors import ExportError
from lossfill.pack import folder as folder_module
from lossfill.pack.folder import FORMAT_NAME, RECORD_NAME, replaced_folder


def write_run(out: Path, **files: str) -> None:
    """One run that writes files and the record that lists them."""
    with replaced_folder(out) as fresh:
        for name, text in files.items():
            (fresh / name).write_text(text)
        record = {"format": FORMAT_NAME, "files": [RECORD_NAME, *files]}
        (fresh / RECORD_NAME).write_text(json.dumps(record))


def write_half(out: Path, error: BaseException) -> None:
    """Run into an error between one file and the next."""
    with replaced_folder(out) as fresh:
        (fresh / "piece").write_text("new")
        raise error


def contents(folder: Path) -> dict[str, str]:
    return {p.name: p.read_text(encoding="utf-8") for p in sorted(folder.iterdir())}


def test_a_new_folder_is_made_with_its_parents(tmp_path: Path):
    out = tmp_path / "a" / "b"
    write_run(out, piece="1")
    assert set(contents(out)) == {"piece", RECORD_NAME}
    assert os.listdir(tmp_path / "a") == ["b"]
    # As any folder that the person makes, not the private mode of a temporary one.
    plain = tmp_path / "plain"
    plain.mkdir()
    assert stat.S_IMODE(out.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


def test_an_empty_folder_is_used_and_stays_the_same_folder(tmp_path: Path):
    inode = tmp_path.stat().st_ino
    write_run(tmp_path, piece="1")
    assert tmp_path.stat().st_ino == inode
    assert set(contents(tmp_path)) == {"piece", RECORD_NAME}


def test_a_second_run_replaces_its_own_files_only(tmp_path: Path):
    write_run(tmp_path, piece_1="old", piece_2="old")
    (tmp_path / "notes.txt").write_text("my own")
    write_run(tmp_path, piece_1="new")
    found = contents(tmp_path)
    assert found.pop(RECORD_NAME)
    assert found == {"piece_1": "new", "notes.txt": "my own"}


def test_a_folder_of_someone_else_is_refused(tmp_path: Path):
    (tmp_path / "photo.jpg").write_text("x")
    with pytest.raises(ExportError, match="not from an earlier run"):
        write_run(tmp_path, piece="1")
    assert contents(tmp_path) == {"photo.jpg": "x"}


@pytest.mark.parametrize("text", ["{}", "[]", "not json", '{"format": "another"}', "\ufeff", "7"])
def test_a_strange_record_does_not_mark_the_folder_as_ours(tmp_path: Path, text: str):
    (tmp_path / RECORD_NAME).write_text(text, encoding="utf-8")
    with pytest.raises(ExportError, match="not from an earlier run"):
        write_run(tmp_path, piece="1")
    assert contents(tmp_path) == {RECORD_NAME: text}


def test_a_record_cannot_lead_out_of_its_folder(tmp_path: Path):
    outside = tmp_path / "outside.txt"
    outside.write_text("keep")
    out = tmp_path / "out"
    out.mkdir()
    names = ["../outside.txt", str(outside), "..", ".", 7, RECORD_NAME]
    (out / RECORD_NAME).write_text(json.dumps({"format": FORMAT_NAME, "files": names}))
    write_run(out, piece="1")
    assert outside.read_text() == "keep"
    assert set(contents(out)) == {"piece", RECORD_NAME}


def test_a_file_of_someone_else_under_our_name_is_kept(tmp_path: Path):
    write_run(tmp_path, piece_1="old")
    (tmp_path / "piece_2").write_text("mine")
    before = contents(tmp_path)
    with pytest.raises(ExportError, match="piece_2, which no earlier run wrote"):
        write_run(tmp_path, piece_1="new", piece_2="new")
    assert contents(tmp_path) == before


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path):
    out = tmp_path / "out"
    out.write_text("x")
    with pytest.raises(ExportError, match="is a file"):
        write_run(out, piece="1")
    assert out.read_text() == "x"


@pytest.mark.parametrize("error", [RuntimeError("bug"), KeyboardInterrupt()])
def test_a_failure_while_writing_leaves_all_as_it_was(tmp_path: Path, error: BaseException):
    for out in (tmp_path / "old", tmp_path / "new" / "deep"):
        if out.name == "old":
            write_run(out, piece="old")
        before = contents(out) if out.exists() else None
        with pytest.raises(type(error)):
            write_half(out, error)
        assert (contents(out) if out.exists() else None) == before
    assert os.listdir(tmp_path) == ["old"]


def test_a_full_disk_is_one_plain_line(tmp_path: Path):
    write_run(tmp_path, piece="old")
    before = contents(tmp_path)
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    with pytest.raises(ExportError, match="No space left") as caught, replaced_folder(tmp_path):
        raise full
    assert "\n" not in str(caught.value)
    assert contents(tmp_path) == before


@pytest.mark.parametrize("fails_at", range(6))
def test_a_failure_half_way_through_the_swap_is_undone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
):
    write_run(tmp_path, piece_1="old", piece_2="old")
    before = contents(tmp_path)
    moves = []
    move = folder_module._move

    def failing(source: Path, target: Path, moved: list[tuple[Path, Path]]) -> None:
        if len(moves) == fails_at:
            raise OSError(errno.EIO, "Input/output error")
        moves.append(target)
        move(source, target, moved)

    monkeypatch.setattr(folder_module, "_move", failing)
    with pytest.raises(ExportError, match="Input/output error"):
        write_run(tmp_path, piece_1="new", piece_3="new")
    assert len(moves) == fails_at
    assert contents(tmp_path) == before


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_permission_is_one_plain_line(tmp_path: Path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(ExportError, match="Permission denied"):
            write_run(tmp_path / "out", piece="1")
    finally:
        tmp_path.chmod(0o700)


def test_a_parent_that_is_a_file_is_one_plain_line(tmp_path: Path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(ExportError, match="cannot write"):
        write_run(tmp_path / "file" / "out", piece="1")


def test_a_link_to_a_folder_is_followed(tmp_path: Path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_run(tmp_path / "link", piece="1")
    assert (tmp_path / "link").is_symlink()
    assert "piece" in contents(tmp_path / "real")

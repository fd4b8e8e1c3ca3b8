"""Taking in a file: its kind, its size, its name, and what is left where it does not come whole."""

from __future__ import annotations

import asyncio
import errno
import os
import time
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from lossfill.errors import ExportError, InputError
from lossfill.page import receive as module
from lossfill.page.jobs import NAME_LENGTH, Job, every_job
from lossfill.page.receive import KINDS, RECEIVING, clear_left, receive


async def parts(*content: bytes) -> AsyncIterator[bytes]:
    for part in content:
        yield part


def received(jobs: Path, name: str, *content: bytes, declared: int | None = None) -> Job:
    return asyncio.run(receive(jobs, name, parts(*content), declared=declared))


def left(jobs: Path) -> list[Path]:
    return sorted(jobs.rglob("*")) if jobs.exists() else []


def test_the_content_comes_into_a_folder_of_its_own(tmp_path: Path) -> None:
    one = received(tmp_path, "bowl.STL", b"solid", b" bowl")
    other = received(tmp_path, "bowl.STL", b"another")
    assert one.folder != other.folder
    assert one.read().title == "bowl.STL"
    assert (one.folder / "scan.stl").read_bytes() == b"solid bowl"
    assert sorted(path.name for path in one.folder.iterdir()) == ["job.json", "scan.stl"]
    if os.name == "posix":
        assert one.folder.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("suffix", KINDS)
def test_every_kind_is_taken(suffix: str, tmp_path: Path) -> None:
    assert received(tmp_path, f"a{suffix.upper()}", b"x").read().scan == f"scan{suffix}"


@pytest.mark.parametrize(
    "name",
    [
        "",
        "scan",
        "bowl.exe",
        "bowl.stl.exe",
        "bowl.stl\0.exe",
        ".stl",
        "bowl.stl/",
        "bowl.npz",
        "bowl.pkl",
        "bowl.html",
        "bowl.st l",
        "..",
        "bowl.stl.",
    ],
)
def test_another_kind_is_refused_before_anything_is_made(name: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no scan that can be read here: export it as STL"):
        received(tmp_path / "jobs", name, b"x")
    assert left(tmp_path) == []


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("../../x.ply", "x.ply"),
        ("..\\..\\x.ply", "x.ply"),
        ("C:\\pots\\x.ply", "x.ply"),
        ("/etc/x.ply", "x.ply"),
        ("a\0b.ply", "a b.ply"),
        ("a\nb\r\t.ply", "a b .ply"),
        # Right-to-left override: it would show as "bowl" + "ylp.exe" turned about.
        ("bowl\u202eexe.ply", "bowl exe.ply"),
        ("\u2066x\u2069.ply", "x .ply"),
        ("<img src=x onerror=alert(1)>.ply", "<img src=x onerror=alert(1)>.ply"),
        ("  Schale äöü 茶碗 .ply", "Schale äöü 茶碗 .ply"),
    ],
)
def test_a_name_is_shown_plain_and_used_for_nothing(name: str, title: str, tmp_path: Path) -> None:
    jobs = tmp_path / "a" / "b" / "jobs"
    job = received(jobs, name, b"x")
    assert job.read().title == title
    assert job.folder.parent == jobs
    made = {path for path in left(tmp_path) if path.is_file()}
    assert made == {job.folder / "job.json", job.folder / "scan.ply"}


def test_a_name_of_three_hundred_characters_is_cut_but_keeps_its_kind(tmp_path: Path) -> None:
    job = received(tmp_path, "x" * 300 + ".ply", b"x")
    title = job.read().title
    assert len(title) == NAME_LENGTH
    assert title.endswith("….ply")
    assert job.read().scan == "scan.ply"


@pytest.mark.parametrize("content", [(), (b"",), (b"", b"")])
def test_an_empty_file_leaves_nothing(content: tuple[bytes, ...], tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"bowl\.ply is empty: export it again"):
        received(tmp_path, "bowl.ply", *content)
    assert left(tmp_path) == []


def test_the_limit_is_five_hundred_megabytes_and_counts_in_the_stream(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert module.MOST_MB == 500
    monkeypatch.setattr(module, "MOST_MB", 1)
    half = b"\0" * 500_000
    assert received(tmp_path / "fits", "a.stl", half, half).folder.is_dir()
    with pytest.raises(InputError, match=r"a\.stl is larger than 1 MB: export a coarser scan"):
        received(tmp_path / "over", "a.stl", half, half, b"\0")
    assert left(tmp_path / "over") == []


def test_what_is_declared_too_large_is_refused_unread(tmp_path: Path) -> None:
    async def never() -> AsyncIterator[bytes]:
        raise AssertionError("it was read")
        yield b""

    with pytest.raises(InputError, match="larger than 500 MB"):
        asyncio.run(receive(tmp_path, "a.stl", never(), declared=500_000_001))
    assert left(tmp_path) == []


def test_a_small_size_declared_for_a_large_file_helps_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_MB", 0)
    with pytest.raises(InputError, match="larger than 0 MB"):
        received(tmp_path, "a.stl", b"xx", declared=0)


def test_a_full_disk_is_a_sentence_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = Path.open

    class Full:
        def __init__(self, file: Any) -> None:
            self._file = file

        def __enter__(self) -> Full:
            return self

        def __exit__(self, *error: object) -> None:
            self._file.close()

        def write(self, part: bytes) -> int:
            if part == b"second":
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return int(self._file.write(part))

    def opened(path: Path, mode: str = "r", *rest: Any, **more: Any) -> Any:
        file = plain(path, mode, *rest, **more)
        return Full(file) if mode == "xb" else file

    monkeypatch.setattr(Path, "open", opened)
    with pytest.raises(ExportError, match=r"could not be kept \(No space left on device\): free"):
        received(tmp_path, "a.stl", b"first", b"second")
    assert left(tmp_path) == []


def test_a_browser_that_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    seen: list[list[str]] = []

    async def broken() -> AsyncIterator[bytes]:
        yield b"first"
        seen.append([path.name for path in left(tmp_path)])
        assert list(every_job(tmp_path)) == []  # no job before the file is whole
        raise ConnectionResetError

    with pytest.raises((ConnectionResetError, ExportError)):
        asyncio.run(receive(tmp_path, "a.stl", broken()))
    assert [name.startswith(RECEIVING) for name in seen[0]] == [True]
    assert left(tmp_path) == []


def test_what_an_ended_page_left_is_cleared_later(tmp_path: Path) -> None:
    old, new, other = (tmp_path / name for name in (f"{RECEIVING}1", f"{RECEIVING}2", "mine"))
    for path in (old, new, other):
        path.touch()
    before = time.time() - module.LEFT_SECONDS - 1
    os.utime(old, (before, before))
    os.utime(other, (before, before))
    clear_left(tmp_path)
    assert left(tmp_path) == sorted([new, other])

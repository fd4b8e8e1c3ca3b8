"""All or nothing: a run either leaves its whole set of files, or the folder as it was.

Files are written to a hidden folder on the same disk and moved over at the very end, each move a
plain rename; a failure half-way puts the old files back. Only files that an earlier record lists
are ever replaced or removed, so a repairer's own notes in the folder stay.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from lossfill.errors import ExportError

RECORD_NAME = "fill.json"
FORMAT_NAME: Final = "lossfill fill"
MADE_NAME = "made.json"
MADE_FORMAT: Final = "lossfill made"
CHECK_FORMAT: Final = "lossfill check"
TREATMENT_NAME = "record.json"
TREATMENT_FORMAT: Final = "lossfill record"
_LAST = (RECORD_NAME, MADE_NAME, TREATMENT_NAME)
"""What lists files is moved after them."""

HOLDER_PREFIX = ".lossfill-"


@contextmanager
def replaced_folder(out: Path) -> Iterator[Path]:
    """Yield an empty folder to write into; when the block ends well, its files become `out`'s.

    Files lie flat in the folder; one of them is the record `fill.json`, which is moved last.

    Parameters
    ----------
    out : made if missing; may hold an earlier record and what it lists, and other files beside it

    Raises
    ------
    ExportError
        Where `out` is no folder, holds files but no record of ours, or holds a file of someone
        else under a name that is needed; or where the disk refuses. `out` is then as before.
    """
    with _filled(out, earlier_files) as fresh:
        yield fresh


@contextmanager
def added_to_folder(out: Path, replaced: frozenset[str]) -> Iterator[Path]:
    """The same for files that are added to a folder of ours; some that are there go.

    Parameters
    ----------
    out : a folder with an earlier record
    replaced : names of files in it that make room, whether or not the new ones bear them again

    Raises
    ------
    ExportError
        As for `replaced_folder`.
    """
    with _filled(out, lambda folder: replaced & frozenset(os.listdir(folder))) as fresh:
        yield fresh


@contextmanager
def _filled(out: Path, going: Callable[[Path], frozenset[str]]) -> Iterator[Path]:
    # The target of a link is written to; the link itself stays.
    out = Path(os.path.realpath(out))
    try:
        earlier = going(out)
        parent, missing = _make_parents(out)
    except OSError as error:
        raise _refused(out, error) from error
    try:
        # Inside `out` where that exists, or a rename could cross from one disk to another.
        holder = Path(tempfile.mkdtemp(prefix=HOLDER_PREFIX, dir=out if out.is_dir() else parent))
    except OSError as error:
        _remove_empty(missing)
        raise _refused(out, error) from error
    try:
        fresh, old = holder / "new", holder / "old"
        fresh.mkdir()
        old.mkdir()
        yield fresh
        _swap(fresh, old, out, earlier)
    except OSError as error:
        _remove_empty(missing, holder)
        raise _refused(out, error) from error
    except BaseException:
        _remove_empty(missing, holder)
        raise
    shutil.rmtree(holder, ignore_errors=True)


def earlier_files(out: Path) -> frozenset[str]:
    """Names in `out` that an earlier run wrote and may therefore be replaced.

    Raises
    ------
    ExportError
        Where `out` is a file, or a folder with something in it but no record of ours.
    """
    if not out.exists():
        return frozenset()
    if not out.is_dir():
        raise ExportError(f"{out} is a file, not a folder: give another folder with --out")
    names = {name for name in os.listdir(out) if not name.startswith(HOLDER_PREFIX)}
    if not names:
        return frozenset()
    listed = listed_files(out / RECORD_NAME, FORMAT_NAME)
    if listed is None:
        raise ExportError(
            f"{out} holds {len(names)} files that are not from an earlier run: "
            "give an empty or new folder with --out"
        )
    # What was made of an earlier design, and was checked against it, goes with it.
    made = listed_files(out / MADE_NAME, MADE_FORMAT) or set()
    made |= listed_files(out / TREATMENT_NAME, TREATMENT_FORMAT) or set()
    for name in names:
        if name.startswith("check_") and name.endswith(".json"):
            made |= listed_files(out / name, CHECK_FORMAT) or set()
    return frozenset((listed | made) & names)


def listed_files(record: Path, format_name: str) -> set[str] | None:
    """Files that a record of ours lists, or None where it is no record of ours."""
    try:
        content = json.loads(record.read_text(encoding="utf-8"))
    except (FileNotFoundError, IsADirectoryError, ValueError):
        return None
    if not isinstance(content, dict) or content.get("format") != format_name:
        return None
    files = content.get("files", [])
    listed = {name for name in files if isinstance(name, str)} if isinstance(files, list) else set()
    # A record is only text that anyone can edit: it must not lead out of the folder.
    return {name for name in listed if name == Path(name).name} | {record.name}


def _swap(fresh: Path, old: Path, out: Path, earlier: frozenset[str]) -> None:
    names = sorted(os.listdir(fresh), key=lambda name: (name in _LAST, name))
    if not out.exists():
        os.rename(fresh, out)
        return
    taken = [name for name in names if (out / name).exists() and name not in earlier]
    if taken:
        raise ExportError(
            f"{out} already holds {taken[0]}, which no earlier run wrote: "
            "move it away or give another folder with --out"
        )
    moved: list[tuple[Path, Path]] = []
    try:
        for name in sorted(earlier):
            _move(out / name, old / name, moved)
        for name in names:
            _move(fresh / name, out / name, moved)
    except BaseException:
        for source, target in reversed(moved):
            os.rename(target, source)
        raise


def _move(source: Path, target: Path, moved: list[tuple[Path, Path]]) -> None:
    os.rename(source, target)
    moved.append((source, target))


def _make_parents(out: Path) -> tuple[Path, list[Path]]:
    """Make the folders above `out`; return the nearest and the list of those that were missing."""
    missing: list[Path] = []
    parent = out.parent
    while not parent.exists():
        missing.append(parent)
        parent = parent.parent
    out.parent.mkdir(parents=True, exist_ok=True)
    return out.parent, missing


def _remove_empty(made: list[Path], holder: Path | None = None) -> None:
    if holder is not None:
        shutil.rmtree(holder, ignore_errors=True)
    for folder in made:  # deepest first
        try:
            folder.rmdir()
        except OSError:
            return  # someone else has put something there meanwhile


def _refused(out: Path, error: OSError) -> ExportError:
    reason = error.strerror or str(error)
    return ExportError(
        f"cannot write to {out} ({reason}): free some space or give another folder with --out"
    )

"""Writes a calendar file whole or not at all, and never over someone else's."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from lossfill.cure.calendar import is_ours
from lossfill.errors import ExportError

HEAD_BYTES = 1024
"""Within which a file of ours says that it is."""


def write_calendar(path: Path, content: bytes) -> None:
    """Write a calendar file; where one of ours lies there already, it is replaced.

    Raises
    ------
    ExportError
        Where something else bears the name, or the disk refuses; what was there is as before.
    """
    # The target of a link is written to; the link itself stays.
    target = Path(os.path.realpath(path))
    try:
        _refuse_others(path, target)
        holder, name = tempfile.mkstemp(prefix=".lossfill-", suffix=".ics", dir=target.parent)
        try:
            with os.fdopen(holder, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(_mode(target))
            os.replace(name, target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise ExportError(
            f"cannot write the calendar {path} ({reason}): give another file with --calendar"
        ) from error


def _refuse_others(path: Path, target: Path) -> None:
    if target.is_dir():
        raise ExportError(f"{path} is a folder: name a file in it, such as {path / 'plan.ics'}")
    if not target.exists():
        return
    with target.open("rb") as file:
        if not is_ours(file.read(HEAD_BYTES)):
            raise ExportError(
                f"{path} was not written by lossfill: move it away, or give another file with "
                "--calendar"
            )


def _mode(target: Path) -> int:
    """Rights of a file as the system would give them; a temporary one is for its owner alone."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask

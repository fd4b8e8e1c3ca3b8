"""The record, and all of the pack as one file."""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lossfill.errors import ExportError, InputError
from lossfill.page.choices import Choices, RecordChoices, Stage
from lossfill.page.jobs import Job
from lossfill.page.mixing import (
    CALENDAR_NAME,
    calendar_of,
    folder_name,
    is_without_losses,
    reckoned,
    scan_title,
    vessel_title,
)
from lossfill.page.words import record as words

if TYPE_CHECKING:
    from lossfill.page.leaving import Tell
    from lossfill.record.fields import ObjectFields

ZIP_NAME = "pack.zip"

_NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The first moment that a ZIP can tell: the same files give the same bytes."""

_RIGHTS = 0o100644 << 16
"""A plain file, to be read by everybody, where the ZIP keeps rights."""

_ZIP_SHARE, _RECORD_SHARE = 0.95, 0.05
"""Of the stage, until which the record is written and from which on."""


def leave_record(job: Job, choices: Choices, tell: Tell) -> None:
    """Write the record into the pack, and the pack as one ZIP; leave `record.json`.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    from lossfill.page.leaving import write_json
    from lossfill.record.fields import with_field
    from lossfill.record.write import write_record

    if is_without_losses(job):
        # What was packed up for losses that are left alone now is not to be taken away.
        (job.folder / ZIP_NAME).unlink(missing_ok=True)
        write_json(job.folder / f"{Stage.RECORD.value}.json", {"zip": None} | contents_of(job))
        return
    title = vessel_title(job, choices)
    # What is never given a name is called by its file, which in a job is a name of ours.
    fields = with_field(fields_of(choices.record), f"title={title}")
    tell("reckoning what is mixed, and when", 0.0)
    made = reckoned(job, choices)
    write_record(
        job.pack,
        fields,
        made.quantities,
        made.plan,
        paper=paper_of(choices.record),
        day=day_of(choices.record),
        progress=lambda says, share: tell(
            says, _RECORD_SHARE + (_ZIP_SHARE - _RECORD_SHARE) * share
        ),
    )
    _leave_calendar(job.pack, calendar_of(made, scan_title(job)))
    tell("packing it up", _ZIP_SHARE)
    name = folder_name(title)
    write_zip(job.pack, job.folder / ZIP_NAME, name)
    content = {"name": name, "zip": ZIP_NAME, "empty": empty_fields(fields)}
    write_json(job.folder / f"{Stage.RECORD.value}.json", content | contents_of(job))


def contents_of(job: Job) -> dict[str, Any]:
    """What is in a pack: its files with their sizes, and a mark of what was made of the design."""
    from lossfill.pack.folder import MADE_NAME

    made = job.pack / MADE_NAME
    mark = hashlib.sha256(made.read_bytes()).hexdigest() if made.is_file() else None
    files = [{"name": one.name, "bytes": one.stat().st_size} for one in pack_files(job.pack)]
    return {"files": files, "made": mark}


def is_packed(job: Job, found: dict[str, Any]) -> bool:
    """Whether the pack is still what was packed up: nothing was made or shaped since."""
    try:
        return contents_of(job) == {"files": found["files"], "made": found["made"]}
    except OSError:
        return False


def pack_files(folder: Path) -> list[Path]:
    """The files that a person takes away, in order of their names; what is hidden is not whole."""
    if not folder.is_dir():
        return []
    return sorted(
        one
        for one in folder.iterdir()
        if not one.name.startswith(".") and one.is_file() and not one.is_symlink()
    )


def write_zip(folder: Path, target: Path, name: str) -> None:
    """Pack a folder's files up, flat under one folder of that name, whole or not at all.

    Raises
    ------
    ExportError
        Where there is nothing to pack.
    """
    files = pack_files(folder)
    if not files:
        raise ExportError(words.EMPTY_PACK)
    fresh = target.with_name(f".{target.name}.new")
    with zipfile.ZipFile(fresh, "w") as packed:
        for path in files:
            entry = zipfile.ZipInfo(f"{name}/{path.name}", _NO_TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3  # or the bytes would tell on which system they were written
            entry.external_attr = _RIGHTS
            entry.file_size = path.stat().st_size  # above 2 GB the entry needs another form
            with path.open("rb") as held, packed.open(entry, "w") as inside:
                shutil.copyfileobj(held, inside, 1 << 20)
    fresh.replace(target)


def fields_of(chosen: RecordChoices) -> ObjectFields:
    """What was told, as the record takes it.

    Raises
    ------
    InputError
        For a field that there is not, or a value that does not suit it.
    """
    from lossfill.record.fields import NO_FIELDS, with_field

    fields = NO_FIELDS
    for key, value in chosen.fields.items():
        fields = with_field(fields, f"{key}={value}")
    return fields


def day_of(chosen: RecordChoices) -> dt.date | None:
    """The date of the record, or None for a line to write on.

    Raises
    ------
    InputError
        For what is no date.
    """
    if not chosen.day:
        return None
    try:
        return dt.date.fromisoformat(chosen.day)
    except ValueError:
        raise InputError(words.NO_DAY.format(day=chosen.day)) from None


def paper_of(chosen: RecordChoices) -> Any:
    """The paper that the PDF is set on."""
    from lossfill.drawing.paper import Paper

    return Paper[chosen.paper.upper()]


def empty_fields(fields: ObjectFields) -> list[str]:
    """Labels of what was not told, and is a line to write on."""
    from lossfill.record.fields import parts

    return [
        one.metadata["label"]
        for part, _, inside in parts()
        for one in inside
        if not getattr(getattr(fields, part), one.name)
    ]


def _leave_calendar(pack: Path, content: bytes | None) -> None:
    from lossfill.cure.write import write_calendar

    path = pack / CALENDAR_NAME
    if content is None:
        path.unlink(missing_ok=True)
    else:
        write_calendar(path, content)

"""What `lossfill record` does: gather what is told and what is reckoned, write, and say where."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lossfill import __version__
from lossfill.cli.blocks import print_blocks, print_document
from lossfill.cli.progress import progress_bar
from lossfill.cli.summary import file_lines, warning_lines
from lossfill.cli.words import wrapped
from lossfill.drawing.paper import Paper
from lossfill.errors import InputError
from lossfill.record.fields import (
    NO_FIELDS,
    ObjectFields,
    blank_file,
    parts,
    read_fields,
    with_field,
)

if TYPE_CHECKING:
    from lossfill.cure import PlanSettings
    from lossfill.mix import MixSettings


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of the object, as typed.

    Parameters
    ----------
    file : TOML, or None
    words : fields as key=value, over those of the file
    day : date of the record, or None for a line to write on
    paper : of the PDF
    """

    file: Path | None
    words: tuple[str, ...]
    day: str | None
    paper: Paper


def run_blank(path: Path) -> None:
    """Write an empty file of all fields; a file that is there is never written over."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(blank_file())
    except FileExistsError as error:
        raise InputError(f"{path} is there already: give another name to --blank") from error
    except OSError as error:
        raise InputError(
            f"{path} cannot be written ({error.strerror}): give another name to --blank"
        ) from error
    print_blocks([f"Empty fields in {path.absolute()}", "  fill it in and name it with --object"])


def run_record(
    folder: Path,
    told: Told,
    choice: MixSettings,
    plan: PlanSettings,
    materials: Path | None,
    *,
    as_json: bool,
) -> None:
    """Write the record of a folder, and say where it is and what is left to fill in."""
    from lossfill.materials import read_table
    from lossfill.record.order import RecordOrder, reckoned
    from lossfill.record.write import write_record

    order = RecordOrder(
        _fields(told), choice, plan, read_table(materials), told.paper, _day(told.day)
    )
    with progress_bar() as progress:
        quantities, steps = reckoned(folder, order)
        names = write_record(
            folder,
            order.fields,
            quantities,
            steps,
            paper=order.paper,
            day=order.day,
            progress=progress,
        )
    empty = _empty(order.fields)
    if as_json:
        program = f"lossfill {__version__}"
        print_document(
            {"program": program, "folder": str(folder), "files": names, "to_fill_in": empty}
        )
        return
    print_blocks(
        file_lines(folder, names),
        _empty_lines(empty),
        warning_lines((*quantities.warnings, *steps.warnings)),
    )


def _fields(told: Told) -> ObjectFields:
    fields = NO_FIELDS if told.file is None else read_fields(told.file)
    for words in told.words:
        fields = with_field(fields, words)
    return fields


def _empty(fields: ObjectFields) -> list[str]:
    return [
        one.name
        for part, _, inside in parts()
        for one in inside
        if not getattr(getattr(fields, part), one.name)
    ]


def _empty_lines(empty: Sequence[str]) -> list[str]:
    """Names of the fields that nobody told."""
    if not empty:
        return []
    return [
        "Left as lines to write on; tell them with --object or --field",
        *wrapped(", ".join(empty), "  ", "  "),
    ]


def _day(words: str | None) -> dt.date | None:
    if words is None:
        return None
    try:
        return dt.datetime.strptime(words, "%Y-%m-%d").date()
    except ValueError:
        raise InputError(f"--date {words!r} is not a date such as 2026-01-31") from None

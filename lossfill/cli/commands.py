"""What each command does: walk the road, then print what was found."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from lossfill.cli import document, summary
from lossfill.cli.blocks import print_blocks, print_document
from lossfill.cli.make_commands import made_lines
from lossfill.cli.progress import progress_bar
from lossfill.errors import ExportError

if TYPE_CHECKING:
    from lossfill.make.write import MakeOrder
    from lossfill.pack.record import FillRecord
    from lossfill.record.order import RecordOrder
    from lossfill.road import Design, Settings


def run_inspect(path: Path, settings: Settings, *, as_json: bool) -> None:
    """Print what the scan shows, up to the vessel's frame."""
    from lossfill.road import inspect

    with progress_bar() as progress:
        found = inspect(path, settings, progress=progress)
    if as_json:
        print_document(
            document.vessel_document(found.scan, found.body, found.frame, found.warnings)
        )
        return
    print_blocks(
        summary.vessel_lines(found.scan, found.frame),
        summary.repair_lines(found.body),
        summary.warning_lines(found.warnings),
    )


def run_measure(path: Path, settings: Settings, *, as_json: bool) -> None:
    """Print the losses and their measures."""
    from lossfill.road import measure

    with progress_bar() as progress:
        found = measure(path, settings, progress=progress)
    if as_json:
        from lossfill.pack.entries import form_summary

        content = document.vessel_document(found.scan, found.body, found.frame, found.warnings)
        losses = [document.loss_document(loss) for loss in found.losses]
        cracks = [document.crack_document(crack) for crack in found.cracks]
        form = form_summary(found.form)
        print_document(content | {"form": form, "losses": losses, "cracks": cracks})
        return
    print_blocks(
        summary.vessel_lines(found.scan, found.frame),
        summary.repair_lines(found.body),
        summary.twin_lines(found.form, settings),
        *(summary.loss_lines(loss, settings.way_rule) for loss in found.losses),
        summary.total_lines(found.losses),
        summary.crack_lines(found.cracks),
        summary.warning_lines(found.warnings),
    )


def run_fill(
    path: Path,
    settings: Settings,
    folder: Path,
    *,
    pictures: bool,
    make: str | None = None,
    as_json: bool,
) -> None:
    """Make the pieces, write the folder, and print both; without a loss nothing is written."""
    from lossfill.pack import write_pack
    from lossfill.pack.entries import make_record
    from lossfill.pack.folder import RECORD_NAME
    from lossfill.pack.record import read_record
    from lossfill.road import design

    order = None if make is None else usual_order(make)
    check_folder(folder)
    with progress_bar() as progress:
        made = design(path, settings, progress=progress)
        if made.losses:
            if progress is not None:
                progress("writing the files", 1.0)
            treatment = _usual_record() if pictures else None
            write_pack(made, folder, pictures=pictures, order=order, treatment=treatment)
    if made.losses:
        # What is said of a piece is what was found on its file, as written and read back.
        record = read_record((folder / RECORD_NAME).read_bytes())
    else:
        record = make_record(made, pieces={}, files=())
    if as_json:
        where = str(folder) if made.losses else None
        print_document({"folder": where} | record.model_dump(mode="json"))
        return
    things = made_lines(folder) if order is not None and made.losses else ()
    print_blocks(
        summary.vessel_lines(made.scan, made.frame),
        summary.repair_lines(made.body),
        summary.twin_lines(made.form, settings),
        *_loss_blocks(made, record, folder),
        summary.total_lines(made.losses),
        summary.order_lines(made.order),
        _mix_lines(record),
        summary.crack_lines(made.cracks),
        *things,
        summary.warning_lines(record.warnings),
        summary.caution_lines(record.cautions if made.losses else ()),
        summary.file_lines(folder, _written(folder, record))
        if made.losses
        else ("Nothing was written.",),
    )


def _usual_record() -> RecordOrder:
    # Loads what plans and calendars need, which a run without pictures does without.
    from lossfill.record.order import RecordOrder

    return RecordOrder()


def _mix_lines(record: FillRecord) -> Iterator[str]:
    """What is mixed in all, where the ways recommended are followed with the usual materials."""
    from lossfill.cli.mix_words import total_lines
    from lossfill.mix.usual import usual_quantities

    return total_lines(
        usual_quantities(record), "To mix, by the ways recommended and with usual materials"
    )


def _written(folder: Path, record: FillRecord) -> tuple[str, ...]:
    """All files of this run but those of things, which are told with each thing."""
    from lossfill.pack.folder import TREATMENT_FORMAT, TREATMENT_NAME, listed_files

    told = listed_files(folder / TREATMENT_NAME, TREATMENT_FORMAT) or set()
    return (*record.files, *sorted(told))


def usual_order(words: str) -> MakeOrder:
    """Things to make from words such as "mould,backing", with the usual settings, dated today."""
    from lossfill.make.things import names_of
    from lossfill.make.write import MakeOrder

    return MakeOrder(names_of([words]), day=date.today())


def check_folder(folder: Path) -> None:
    """Refuse an output folder that cannot be written, before minutes are spent on the work.

    Raises
    ------
    ExportError
        Where the folder is a file, holds what is not ours, or may not be written to.
    """
    from lossfill.pack.folder import earlier_files

    earlier_files(folder)
    nearest = folder.absolute()
    while not nearest.exists():
        nearest = nearest.parent
    if not nearest.is_dir():
        raise ExportError(f"{nearest} is a file, not a folder: give another folder with --out")
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise ExportError(f"{nearest} may not be written to: give another folder with --out")


def _loss_blocks(made: Design, record: FillRecord, folder: Path) -> Iterator[Iterable[str]]:
    """One block for each loss, with its piece where one was made."""
    parts = {part.number: part for part in record.losses}
    for loss in made.losses:
        yield [
            *summary.loss_lines(loss, made.settings.way_rule),
            *summary.piece_lines(parts[loss.number], folder),
        ]

"""The record of a design's folder as PDF and HTML, added to it at once or not at all."""

from __future__ import annotations

import datetime as dt
import json
import platform
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from pydantic import ValidationError

import lossfill
from lossfill.check.record import CheckRecord
from lossfill.cure.plan import Plan
from lossfill.drawing.paper import Paper
from lossfill.errors import ExportError
from lossfill.make.record import read_made_record
from lossfill.make.store import read_upright
from lossfill.mix.quantities import Quantities
from lossfill.pack.folder import (
    CHECK_FORMAT,
    TREATMENT_FORMAT,
    TREATMENT_NAME,
    added_to_folder,
    listed_files,
)
from lossfill.pack.record import FillRecord
from lossfill.record.content import document_of
from lossfill.record.document import Picture
from lossfill.record.fields import NO_FIELDS, ObjectFields
from lossfill.record.page import html_of
from lossfill.record.pictures import CLOSE_TALL_MM, VIEW_TALL_MM, draw_loss, draw_whole, make_scene
from lossfill.record.scale import half_width_mm, text_width_mm
from lossfill.record.sources import Drawn, Sources
from lossfill.record.thickness import draw_thickness
from lossfill.record.typeset import pdf_of

PDF_NAME, HTML_NAME = "record.pdf", "record.html"
MISFIT_NAME = "misfit.png"

LIBRARIES = (
    "numpy",
    "scipy",
    "manifold3d",
    "open3d-cpu",
    "open3d",
    "trimesh",
    "lib3mf",
    "matplotlib",
    "typst",
)
"""What figures, pictures and pages come from."""

Progress = Callable[[str, float], None]


def write_record(
    folder: Path,
    fields: ObjectFields = NO_FIELDS,
    quantities: Quantities | None = None,
    plan: Plan | None = None,
    *,
    paper: Paper = Paper.A4,
    day: dt.date | None = None,
    progress: Progress | None = None,
) -> tuple[str, ...]:
    """Write the record of a folder that `lossfill fill` wrote, as PDF and as HTML.

    An earlier record of ours in the folder goes; the same sources give the same bytes.

    Parameters
    ----------
    folder : holds the design
    fields : what only people know; what is empty becomes a line to write on
    quantities, plan : what is mixed, and when; None leaves lines to write on
    paper : of the PDF; the pictures' scale is chosen for it
    day : of the record; None leaves a line to write on
    progress : told what is done and how far it is

    Returns
    -------
    Names of the files.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do; the folder is then as it was.
    """
    files = record_files(folder, fields, quantities, plan, paper=paper, day=day, progress=progress)
    earlier = listed_files(folder / TREATMENT_NAME, TREATMENT_FORMAT) or set()
    with added_to_folder(folder, frozenset(earlier)) as fresh:
        for name, content in files.items():
            (fresh / name).write_bytes(content)
    return tuple(files)


def record_files(
    folder: Path,
    fields: ObjectFields = NO_FIELDS,
    quantities: Quantities | None = None,
    plan: Plan | None = None,
    *,
    paper: Paper = Paper.A4,
    day: dt.date | None = None,
    progress: Progress | None = None,
) -> dict[str, bytes]:
    """The files of a record by name, as `write_record` adds them to the folder."""
    sources = gather(folder, fields, quantities, plan, paper=paper, day=day, progress=progress)
    document = document_of(sources)
    _say(progress, "setting the pages", 0.8)
    files = {PDF_NAME: pdf_of(document, paper), HTML_NAME: html_of(document)}
    return files | {TREATMENT_NAME: _list_of((*files, TREATMENT_NAME))}


def gather(
    folder: Path,
    fields: ObjectFields,
    quantities: Quantities | None,
    plan: Plan | None,
    *,
    paper: Paper,
    day: dt.date | None,
    progress: Progress | None = None,
) -> Sources:
    """Read all that a record is told from, and draw its pictures."""
    _say(progress, "reading the design", 0.0)
    record, upright = read_upright(folder)
    scene = make_scene(record, upright)
    room = half_width_mm(paper)
    _say(progress, "drawing the vessel", 0.1)
    whole = draw_whole(scene, (room, VIEW_TALL_MM))
    _say(progress, "drawing the losses", 0.35)
    losses = {part.number: draw_loss(scene, part, (room, CLOSE_TALL_MM)) for part in record.losses}
    _say(progress, "measuring the wall", 0.55)
    maps, key = draw_thickness(scene, (room, VIEW_TALL_MM))
    return Sources(
        record=record,
        fields=fields,
        quantities=quantities,
        plan=plan,
        made=read_made_record(folder),
        checks=_checks(folder),
        drawn=Drawn(whole, losses, maps, key, _misfit(folder, record, text_width_mm(paper))),
        day=day,
        versions=_versions(),
    )


def _misfit(folder: Path, record: FillRecord, room_mm: float) -> Picture | None:
    """The map that the design left in the folder, as wide as the page allows."""
    path = folder / MISFIT_NAME
    if MISFIT_NAME not in record.files or not path.exists():
        return None
    from PIL import Image, UnidentifiedImageError

    content = path.read_bytes()
    try:
        with Image.open(path) as opened:
            wide, tall = opened.size
    except UnidentifiedImageError as error:
        raise ExportError(f"{path} is no picture: fill the scan again with pictures") from error
    width_mm = min(room_mm, MOST_TALL_MM * wide / tall)
    return Picture(
        content,
        width_mm,
        width_mm * tall / wide,
        "Misfit of the scanned body from the intact form, from two sides, above and below.",
        "Map of how far the scanned body stands off the intact form, with its bar of colours",
    )


MOST_TALL_MM = 190.0
"""Tallest picture: it goes on a page of letter paper with its heading."""


def _checks(folder: Path) -> tuple[CheckRecord, ...]:
    found = []
    for path in sorted(folder.glob("check_*.json")):
        if listed_files(path, CHECK_FORMAT) is None:
            continue
        try:
            found.append(CheckRecord.model_validate_json(path.read_bytes()))
        except ValidationError as error:
            raise ExportError(
                f"{path} is not a check of this version: move it away, or check the piece again"
            ) from error
    return tuple(found)


def _versions() -> tuple[tuple[str, str], ...]:
    found = [("lossfill", lossfill.__version__), ("Python", platform.python_version())]
    for name in LIBRARIES:
        try:
            found.append((name, version(name)))
        except PackageNotFoundError:
            continue  # open3d comes under one of two names
    return tuple(found)


def _list_of(names: tuple[str, ...]) -> bytes:
    content = {
        "format": TREATMENT_FORMAT,
        "version": 1,
        "program": f"lossfill {lossfill.__version__}",
        "files": names,
    }
    return (json.dumps(content, indent=2) + "\n").encode()


def _say(progress: Progress | None, words: str, share: float) -> None:
    if progress is not None:
        progress(words, share)

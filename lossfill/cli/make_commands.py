"""What `lossfill make` does: read the design, fit anew where that was asked, make, and tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from lossfill.cli.blocks import print_blocks, print_document
from lossfill.cli.progress import progress_bar
from lossfill.cli.summary import file_lines, listed, warning_lines
from lossfill.cli.words import rounded, wrapped
from lossfill.errors import InputError
from lossfill.figures import found_words

if TYPE_CHECKING:
    from lossfill.fill.settings import Edge, FillSettings, Process
    from lossfill.make.brief import Brief
    from lossfill.make.record import MadeRecord, ThingPart
    from lossfill.make.write import MakeOrder
    from lossfill.pack.record import FillRecord
    from lossfill.scan.scan import Unit


@dataclass(frozen=True, slots=True)
class Anew:
    """How pieces are to be shaped and fitted anew; None keeps what the design has.

    Parameters
    ----------
    clearance_mm, setback_outside_mm, setback_inside_mm, setback_edge, process, fillet_mm, split :
        as in `lossfill.Settings`
    wood, humidity : the wood of an insert and the range of relative humidity in percent that it
        will live in; what it moves by is added to the clearance
    """

    clearance_mm: float | None = None
    setback_outside_mm: float | None = None
    setback_inside_mm: float | None = None
    setback_edge: Edge | None = None
    process: Process | None = None
    fillet_mm: float | None = None
    split: bool = False
    wood: str | None = None
    humidity: tuple[float, float] | None = None

    @property
    def is_asked(self) -> bool:
        """Whether anything is to be fitted anew."""
        return self != Anew()


def run_make(
    folder: Path, order: MakeOrder, losses: tuple[int, ...], anew: Anew, *, as_json: bool
) -> None:
    """Make things of a design that lies in a folder, add them to it, and print what was made."""
    from lossfill.make.store import read_design
    from lossfill.make.write import make_in_folder

    with progress_bar() as progress:
        if progress is not None:
            progress("reading the design", 0.0)
        record, every = read_design(folder)
        briefs = chosen(every, losses)
        notes: list[str] = []
        if anew.is_asked:
            briefs = [_fitted_anew(brief, record, anew, notes) for brief in briefs]
            notes.append("the files piece_… in the folder keep the shape of the design")
        order = replace(order, notes=tuple(dict.fromkeys(notes)))
        made = make_in_folder(briefs, folder, order, progress=progress)
    if as_json:
        print_document({"folder": str(folder)} | made.model_dump(mode="json"))
        return
    again = {(name, brief.number) for name in order.names for brief in briefs}
    print_blocks(*made_blocks(made, folder, again), warning_lines(made.notes))


def run_check(
    scan: Path,
    folder: Path,
    piece: str | None,
    units: Unit | None,
    *,
    picture: bool,
    as_json: bool,
) -> None:
    """Check the scan of a made piece, add what was found to the folder, and print it."""
    from lossfill.check import check_piece_scan, lines_of
    from lossfill.check.record import record_of, write_check

    with progress_bar() as progress:
        if progress is not None:
            progress("laying the piece on its design", 0.1)
        checked = check_piece_scan(scan, folder, name=piece, units=units, picture=picture)
        names = write_check(checked, folder)
    if as_json:
        print_document({"folder": str(folder)} | record_of(checked).model_dump(mode="json"))
        return
    first, *others = lines_of(checked)
    print_blocks(
        [first, *(line for words in others for line in wrapped(words, "  ", "    "))],
        file_lines(folder, names),
    )


def chosen(briefs: Sequence[Brief], losses: tuple[int, ...]) -> list[Brief]:
    """Those of the losses asked for; all where none is.

    Raises
    ------
    InputError
        For a number that no loss with a piece bears.
    """
    known = [brief.number for brief in briefs]
    missing = [number for number in losses if number not in known]
    if missing:
        told = ", ".join(map(str, known)) or "none"
        raise InputError(f"there is no piece for loss {missing[0]}: this design has {told}")
    return [brief for brief in briefs if not losses or brief.number in losses]


def _fitted_anew(brief: Brief, record: FillRecord, anew: Anew, notes: list[str]) -> Brief:
    from lossfill.fit.words import entry_words
    from lossfill.make.refit import refit

    part = next(part for part in record.losses if part.number == brief.number)
    settings = _shape(brief, record, anew, notes)
    split = anew.split or record.settings.split
    fresh, fitted = refit(brief, part, settings, split=split, seed=record.settings.seed)
    for piece in fitted.pieces:
        # What was fitted anew stands upright already.
        words = entry_words(piece.entry, np.eye(4), brief.lost.mesh.vertices.mean(axis=0))
        proof = "proved all the way" if piece.proof.passed else "NOT PROVED"
        notes.append(f"piece {piece.name} was fitted anew: it goes in {words}; {proof}")
    notes.extend((*fitted.fill.warnings, *fitted.warnings))
    return fresh


def _shape(brief: Brief, record: FillRecord, anew: Anew, notes: list[str]) -> FillSettings:
    """The settings of the design, with what was asked for instead."""
    from lossfill.fill.settings import FillSettings

    was = record.settings
    given = {
        name: getattr(was, name) if getattr(anew, name) is None else getattr(anew, name)
        for name in (
            "clearance_mm",
            "setback_outside_mm",
            "setback_inside_mm",
            "setback_edge",
            "process",
            "fillet_mm",
        )
    }
    settings = FillSettings(**given)
    if anew.wood is None:
        return settings
    from lossfill.make.insert import wood_gap

    gap = wood_gap(brief, anew.wood, anew.humidity)
    notes.append(gap.says)
    return replace(settings, clearance_mm=settings.clearance_mm + gap.each_side_mm)


def made_blocks(made: MadeRecord, folder: Path, asked: set[tuple[str, int]]) -> Iterator[list[str]]:
    """One block for each thing that this run made, then what to look at again, and what is missing.

    A block holds the thing's proofs, notes and files.
    """
    things = [thing for thing in made.things if (thing.thing, thing.loss) in asked]
    for thing in things:
        yield list(_thing_lines(thing, folder))
    yield list(_missed_lines(things))
    yield list(_not_made_lines(made))


def _missed_lines(things: Sequence[ThingPart]) -> Iterator[str]:
    """What did not keep a limit, in one place: among many figures it would be read over."""
    missed = [
        f"{thing.thing} for loss {thing.loss}: {proved.what}"
        for thing in things
        for proved in thing.proved
        if not proved.passed
    ]
    return listed("Look at these before you use them: a limit was not kept", missed)


def made_lines(folder: Path) -> list[list[str]]:
    """The same of all that lies in a folder, and what was not made."""
    from lossfill.make.record import read_made_record

    made = read_made_record(folder)
    if made is None:
        return []
    every = {(thing.thing, thing.loss) for thing in made.things}
    return list(made_blocks(made, folder, every))


def _thing_lines(thing: ThingPart, folder: Path) -> Iterator[str]:
    yield f"Loss {thing.loss}: {thing.thing}"
    for name in thing.files:
        yield f"  {'file':<12}  {folder / name}"
    for proved in thing.proved:
        found = "not measured" if proved.value is None else found_words(proved.value, proved.limit)
        kept = "may be" if proved.passed else "NOT KEPT, may be"
        words = f"{proved.what}: {found} ({kept} {rounded(proved.limit, 2)})"
        yield from wrapped(words, f"  {'measured':<12}  ", " " * 16)
    for note in thing.notes:
        yield from wrapped(note, f"  {'note':<12}  ", " " * 16)


def _not_made_lines(made: MadeRecord) -> Iterator[str]:
    """What was asked for and not made, with the reason."""
    told = (f"{one.thing} for loss {one.loss}: {one.why}" for one in made.not_made)
    return listed("Not made", told)

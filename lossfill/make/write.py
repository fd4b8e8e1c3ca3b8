"""The files of all that was made, added to a design's folder at once or not at all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import lossfill
from lossfill.drawing import PaperSettings, dxf_bytes, pdf_bytes, svg_bytes
from lossfill.make.brief import Brief
from lossfill.make.formats import USUAL_FORMATS, write_solid
from lossfill.make.made import Made
from lossfill.make.record import MadeRecord, ThingPart, made_record, read_made_record, thing_part
from lossfill.make.things import MakeSettings, Makings, make_things
from lossfill.pack.folder import MADE_NAME, added_to_folder


@dataclass(frozen=True, slots=True)
class MakeOrder:
    """What is to be made, and how it is to be written.

    Parameters
    ----------
    names : keys of `things.MAKERS`
    settings : of each thing
    formats : endings of the files of solids
    day : printed on drawings; None leaves a line to write it on
    notes : how the pieces were fitted anew, for the record
    """

    names: tuple[str, ...]
    settings: MakeSettings = field(default_factory=MakeSettings)
    formats: tuple[str, ...] = USUAL_FORMATS
    day: date | None = None
    notes: tuple[str, ...] = ()


def make_in_folder(
    briefs: Sequence[Brief],
    folder: Path,
    order: MakeOrder,
    *,
    progress: Callable[[str, float], None] | None = None,
) -> MadeRecord:
    """Make things and add them to a folder that `lossfill fill` wrote.

    What the same things for the same losses left there earlier goes; all else stays.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do; the folder is then as it was.
    """
    makings = make_things(briefs, order.names, order.settings, progress=progress)
    record = read_made_record(folder)
    earlier = () if record is None else record.things
    again = {(made.thing, made.number) for made in makings.made}
    going = [name for part in earlier if (part.thing, part.loss) in again for name in part.files]
    staying = tuple(part for part in earlier if (part.thing, part.loss) not in again)
    with added_to_folder(folder, frozenset([*going, MADE_NAME])) as fresh:
        return write_makings(makings, fresh, order, staying=staying)


def write_makings(
    makings: Makings,
    fresh: Path,
    order: MakeOrder,
    *,
    staying: tuple[ThingPart, ...] = (),
    progress: Callable[[str, float], None] | None = None,
) -> MadeRecord:
    """Write things and their record into a folder that holds none yet."""
    parts = []
    for k, made in enumerate(makings.made):
        if progress is not None:
            says = f"writing the {made.thing} for loss {made.number}"
            progress(says, k / len(makings.made))
        parts.append(thing_part(made, tuple(_write(made, fresh, order))))
    parts = sorted([*staying, *parts], key=lambda part: part.loss)
    program = f"lossfill {lossfill.__version__}"
    record = made_record(tuple(parts), makings.not_made, program=program, notes=order.notes)
    (fresh / MADE_NAME).write_bytes((record.model_dump_json(indent=2) + "\n").encode())
    return record


def _write(made: Made, folder: Path, order: MakeOrder) -> list[str]:
    names = [name for solid in made.solids for name in write_solid(solid, folder, order.formats)]
    if made.drawings:
        pdf = f"loss_{made.number}_{made.thing}.pdf"
        paper: PaperSettings = order.settings.paper
        (folder / pdf).write_bytes(pdf_bytes(made.drawings, paper=paper, date=order.day))
        names.append(pdf)
    for drawing in made.drawings:
        for ending, content in (("svg", svg_bytes(drawing)), ("dxf", dxf_bytes(drawing))):
            (folder / f"{drawing.name}.{ending}").write_bytes(content)
            names.append(f"{drawing.name}.{ending}")
    return names

"""Everything that a repairer takes away, written all at once or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lossfill.fill.fill import Check, Fill
    from lossfill.fit.fitted import FittedPiece
    from lossfill.make.store import Arrays
    from lossfill.make.write import MakeOrder
    from lossfill.pack.entries import Written
    from lossfill.pack.record import FillRecord
    from lossfill.record.order import RecordOrder
    from lossfill.road import Design


@dataclass(frozen=True, slots=True)
class Pack:
    """What was written.

    Parameters
    ----------
    folder : where it all lies
    record : `fill.json`
    pieces : the STL file of each piece, by loss number and in the order in which they go in
    pieces_3mf : the 3MF file of each piece, in the same order
    pictures : the PNG files; empty where none were asked for
    checks : the gate's findings on each STL file, in the order of `pieces`
    checks_3mf : the same for each 3MF file
    """

    folder: Path
    record: Path
    pieces: tuple[Path, ...]
    pieces_3mf: tuple[Path, ...]
    pictures: tuple[Path, ...]
    checks: tuple[Check, ...]
    checks_3mf: tuple[Check, ...]


def write_pack(
    design: Design,
    out: Path,
    *,
    pictures: bool = True,
    order: MakeOrder | None = None,
    treatment: RecordOrder | None = None,
) -> Pack:
    """Write the pieces, the record and the pictures of a design.

    Parameters
    ----------
    design : every stage's result
    out : folder to write to; made if missing. An earlier run's files in it are replaced, and
        files that no run wrote are left alone
    pictures : also draw before and after, the misfit map and a sheet for each loss
    order : what else is to be made of the pieces; it has a record of its own, `made.json`
    treatment : also write the treatment record, with quantities and plan, made so

    Returns
    -------
    Pack
        Paths and the gate's findings.

    Raises
    ------
    BooleanError
        Where a piece fails its check.
    ExportError
        Where a file does not read back as written, or the folder cannot be used. Either way the
        folder is then as it was before.
    """
    from lossfill.make.store import STORE_NAME, arrays_of, store_bytes, vessel_name
    from lossfill.pack.entries import make_record
    from lossfill.pack.folder import RECORD_NAME, replaced_folder
    from lossfill.pack.record import record_bytes

    fitted = {one.fill.loss.number: one.pieces for one in design.fitted}
    fills = sorted(design.fills, key=lambda fill: fill.loss.number)
    with replaced_folder(out) as fresh:
        written: dict[int, list[Written]] = {}
        for fill in fills:
            number = fill.loss.number
            written[number] = [
                _write_piece(fill, piece, fresh, vessel_name(design.scan.path.name))
                for piece in fitted.get(number, (None,))
            ]
        drawn = _draw(design) if pictures else {}
        for name, content in drawn.items():
            (fresh / name).write_bytes(content)
        every = [one for ones in written.values() for one in ones]
        # Of a design without a piece nothing more can be made.
        arrays = arrays_of(design) if every else {}
        stores = [STORE_NAME] if every else []
        for name in stores:
            (fresh / name).write_bytes(store_bytes(arrays))
        names = [name for one in every for name in (one.stl, one.threemf)]
        files = [RECORD_NAME, *stores, *names, *drawn]
        record = make_record(design, pieces=written, files=files)
        (fresh / RECORD_NAME).write_bytes(record_bytes(record))
        if order is not None and every:
            _make(arrays, record, order, fresh)
        if treatment is not None and every:
            _tell(treatment, fresh)
    return Pack(
        folder=out,
        record=out / RECORD_NAME,
        pieces=tuple(out / one.stl for one in every),
        pieces_3mf=tuple(out / one.threemf for one in every),
        pictures=tuple(out / name for name in drawn),
        checks=tuple(one.check for one in every),
        checks_3mf=tuple(one.check_3mf for one in every),
    )


def _make(arrays: Arrays, record: FillRecord, order: MakeOrder, fresh: Path) -> None:
    from lossfill.make.store import briefs_of
    from lossfill.make.things import make_what_suits
    from lossfill.make.write import write_makings

    makings = make_what_suits(briefs_of(arrays, record), order.names, order.settings)
    write_makings(makings, fresh, order)


def _tell(order: RecordOrder, fresh: Path) -> None:
    from lossfill.record.order import reckoned
    from lossfill.record.write import record_files

    quantities, plan = reckoned(fresh, order)
    files = record_files(fresh, order.fields, quantities, plan, paper=order.paper, day=order.day)
    for name, content in files.items():
        (fresh / name).write_bytes(content)


def _write_piece(fill: Fill, piece: FittedPiece | None, folder: Path, vessel: str) -> Written:
    """Write one piece, made to slide in where that was asked, and check its files."""
    from lossfill.pack.entries import Written
    from lossfill.pack.gate import check_piece, require_passed
    from lossfill.pack.stl import stl_bytes, without_collapsed
    from lossfill.pack.threemf import write_3mf

    loss = fill.loss
    name = str(loss.number) if piece is None else piece.name
    stl, threemf = f"piece_{name}.stl", f"piece_{name}.3mf"
    mesh = without_collapsed(fill.mesh if piece is None else piece.mesh)
    label = f"lossfill piece {name}, {loss.kind.value}, millimetres, scan coordinates"
    (folder / stl).write_bytes(stl_bytes(mesh, label))
    write_3mf(mesh, folder / threemf, name=f"{vessel}, piece {name}, {loss.kind.value}")
    first, second = (check_piece(folder / file, fill.body_nearby) for file in (stl, threemf))
    for check, file in zip((first, second), (stl, threemf), strict=True):
        require_passed(check, file)
    return Written(stl, threemf, first, second, piece)


def _draw(design: Design) -> dict[str, bytes]:
    from lossfill.make.store import vessel_name
    from lossfill.pack.closeup import draw_closeup
    from lossfill.pack.misfit import draw_misfit
    from lossfill.pack.overview import draw_overview
    from lossfill.pack.studio import make_studio

    studio = make_studio(design)
    title = vessel_name(design.scan.path.name)
    drawn = {
        "before_after.png": draw_overview(studio, title=title),
        "misfit.png": draw_misfit(
            studio, design.form, title=f"{title}: how far the body stands off the intact form"
        ),
    }
    for index, fill in enumerate(studio.fills):
        drawn[f"loss_{fill.loss.number}.png"] = draw_closeup(
            studio, index, design.body, design.frame
        )
    return drawn

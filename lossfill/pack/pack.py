"""Everything that a repairer takes away, written all at once or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lossfill.fill.fill import Check, Fill
    from lossfill.road import Design


@dataclass(frozen=True, slots=True)
class Pack:
    """What was written.

    Parameters
    ----------
    folder : where it all lies
    record : `fill.json`
    pieces : the STL file of each piece, by loss number
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


def write_pack(design: Design, out: Path, *, pictures: bool = True) -> Pack:
    """Write the pieces, the record and the pictures of a design.

    Parameters
    ----------
    design : every stage's result
    out : folder to write to; made if missing. An earlier run's files in it are replaced, and
        files that no run wrote are left alone
    pictures : also draw before and after, the misfit map and a sheet for each loss

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
    from lossfill.pack.entries import make_record
    from lossfill.pack.folder import RECORD_NAME, replaced_folder
    from lossfill.pack.record import record_bytes

    fills = sorted(design.fills, key=lambda fill: fill.loss.number)
    with replaced_folder(out) as fresh:
        checks: dict[int, tuple[Check, Check]] = {}
        names: dict[int, tuple[str, str]] = {}
        for fill in fills:
            number = fill.loss.number
            names[number] = (f"piece_{number}.stl", f"piece_{number}.3mf")
            checks[number] = _write_piece(fill, fresh, names[number], _title(design))
        drawn = _draw(design) if pictures else {}
        for name, content in drawn.items():
            (fresh / name).write_bytes(content)
        files = [RECORD_NAME, *(name for pair in names.values() for name in pair), *drawn]
        record = make_record(design, pieces=names, checks=checks, files=files)
        (fresh / RECORD_NAME).write_bytes(record_bytes(record))
    return Pack(
        folder=out,
        record=out / RECORD_NAME,
        pieces=tuple(out / stl for stl, _ in names.values()),
        pieces_3mf=tuple(out / threemf for _, threemf in names.values()),
        pictures=tuple(out / name for name in drawn),
        checks=tuple(first for first, _ in checks.values()),
        checks_3mf=tuple(second for _, second in checks.values()),
    )


def _write_piece(
    fill: Fill, folder: Path, names: tuple[str, str], vessel: str
) -> tuple[Check, Check]:
    from lossfill.pack.gate import check_piece, require_passed
    from lossfill.pack.stl import stl_bytes, without_collapsed
    from lossfill.pack.threemf import write_3mf

    loss = fill.loss
    mesh = without_collapsed(fill.mesh)
    label = f"lossfill piece {loss.number}, {loss.kind.value}, millimetres, scan coordinates"
    (folder / names[0]).write_bytes(stl_bytes(mesh, label))
    write_3mf(mesh, folder / names[1], name=f"{vessel}, loss {loss.number}, {loss.kind.value}")
    first, second = (check_piece(folder / name, fill.body_nearby) for name in names)
    for check, name in zip((first, second), names, strict=True):
        require_passed(check, name)
    return first, second


def _draw(design: Design) -> dict[str, bytes]:
    from lossfill.pack.closeup import draw_closeup
    from lossfill.pack.misfit import draw_misfit
    from lossfill.pack.overview import draw_overview
    from lossfill.pack.studio import make_studio

    studio = make_studio(design)
    title = _title(design)
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


def _title(design: Design) -> str:
    """The scan's name as words: "tea_bowl.ply" is "tea bowl"."""
    return " ".join(design.scan.path.stem.replace("_", " ").split()) or "vessel"

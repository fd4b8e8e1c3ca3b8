"""Making: does each piece go in, is its clearance true, do its moulds part, are its drawings true?

The same vessels and breaks as for accuracy, scanned with noise. Each piece, split in two where that
keeps more of its seat, is fitted and proved on the product's own road; the clearance is measured on
the piece as shaped; a press mould is made for each. Drawings are measured in the files that were
written, by libraries that had no part in writing them.
"""

from __future__ import annotations

import math
import re
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
from bench_accuracy import BREAKS, NOISES_MM, VESSELS, broken_for, seed_of, whole_of
from bench_figures import Case
from breaking import as_scanned, break_vessel
from make_meshes import write_ply
from real_scans import load_real, subdivide_to, upright

from lossfill import Settings, design, write_pack
from lossfill.drawing.model import Layer
from lossfill.errors import LossfillError
from lossfill.fill.fill import Fill
from lossfill.fill.gap import gap_figures
from lossfill.fit.fitted import Fitted
from lossfill.loss.faces import Faces
from lossfill.make.brief import Brief
from lossfill.make.made import Made
from lossfill.make.store import read_briefs
from lossfill.make.things import MAKERS, MakeSettings, make_things
from lossfill.make.write import MakeOrder, make_in_folder, write_makings
from lossfill.mesh import FloatArray, Mesh
from lossfill.scan import Unit

__all__ = ["Making", "Things", "making_cases", "measure_things", "quick_making", "run_making"]


@dataclass(frozen=True, slots=True)
class Making:
    """One loss of a case.

    Parameters
    ----------
    case, number : which
    pieces : 1, or 2 where it was split
    proved : how many of them are proved to slide in
    whole_lost, lost : share of the seat cut away from one piece, and from what was made of it
    gap_p95_mm : 95 of 100 parts of the seat are off the clearance asked for by no more
    moulds : how many press moulds were made, for as many pieces
    moulds_proved : how many of the losses' moulds kept every limit
    failure : what went wrong, or nothing
    """

    case: Case
    number: int
    pieces: int
    proved: int
    whole_lost: float
    lost: float
    gap_p95_mm: float
    moulds: int
    moulds_proved: int
    failure: str = ""


@dataclass(frozen=True, slots=True)
class Things:
    """All things made for one loss.

    Parameters
    ----------
    seconds : to make and write all of them, once modules are loaded
    made : how many things there are
    files : how many files
    worst_mm : the largest error of a length in a drawing's file, mm per 100 mm
    drawings : how many files of drawings were measured
    kept, measured : proofs whose limit is kept, of all that there are
    """

    seconds: float
    made: int
    files: int
    worst_mm: float
    drawings: int
    kept: int
    measured: int


def making_cases() -> tuple[Case, ...]:
    """Every vessel and break, with noise."""
    return tuple(Case(vessel, kind, NOISES_MM[-1]) for vessel in VESSELS for kind in BREAKS)


def quick_making() -> tuple[Case, ...]:
    """One case for each vessel."""
    return tuple(Case(vessel, "rim_45", NOISES_MM[-1]) for vessel in VESSELS)


def run_making(cases: Iterable[Case]) -> Iterator[Making]:
    """Run cases one after another; each loss comes as soon as it is there."""
    for case in cases:
        broken = broken_for(case, whole_of(case.vessel))
        rng = np.random.default_rng(seed_of("scan", case.vessel, case.kind, f"{case.noise_mm:g}"))
        scan, _ = as_scanned(broken.body, noise_mm=case.noise_mm, rng=rng)
        with tempfile.TemporaryDirectory() as name:
            path = write_ply(scan, Path(name) / "scan.ply")
            try:
                made = design(path, Settings(units=Unit.MILLIMETRE, split=True))
                if not made.fitted:  # a loss that was missed is told by the accuracy
                    continue
                write_pack(made, Path(name) / "fill", pictures=False)
                briefs = {brief.number: brief for brief in read_briefs(Path(name) / "fill")}
            except LossfillError as error:
                yield Making(case, 0, 0, 0, math.nan, math.nan, math.nan, 0, 0, str(error))
                continue
            for fitted in made.fitted:
                yield _judged(case, fitted, briefs[fitted.fill.loss.number])


def measure_things() -> Things:
    """Make all things for the rim piece of the real bowl, some 44 000 triangles, and measure."""
    whole = subdivide_to(upright(load_real("bowl")), 42_000)
    broken = break_vessel(whole, "rim_45", rng=np.random.default_rng(6))
    scan, _ = as_scanned(broken.body, noise_mm=0.0, rng=np.random.default_rng(7))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "fill"
        path = write_ply(scan, Path(name) / "scan.ply")
        write_pack(design(path, Settings(units=Unit.MILLIMETRE)), folder, pictures=False)
        briefs = read_briefs(folder)[:1]
        order = MakeOrder(tuple(MAKERS), day=date(2026, 1, 1))
        # Loads what is loaded once, and gives the drawings as they were meant.
        meant = make_things(briefs, order.names)
        once = Path(name) / "once"
        once.mkdir()
        write_makings(meant, once, order)
        begin = time.perf_counter()
        record = make_in_folder(briefs, folder, order)
        seconds = time.perf_counter() - begin
        worst, n = _drawing_errors(meant.made, folder)
    proofs = [proof for thing in record.things for proof in thing.proved]
    return Things(
        seconds=seconds,
        made=len(record.things),
        files=len(record.files),
        worst_mm=worst,
        drawings=n,
        kept=sum(proof.passed for proof in proofs),
        measured=len(proofs),
    )


def _judged(case: Case, fitted: Fitted, brief: Brief) -> Making:
    pieces = fitted.pieces
    failure, moulds, proved = "", 0, 0
    try:
        mould = MAKERS["mould"](brief, MakeSettings())
        moulds = len(mould.solids) // 2
        proved = int(all(proof.passed for proof in mould.proved))
        failure = "; ".join(proof.what for proof in mould.proved if not proof.passed)
    except LossfillError as error:
        failure = str(error)
    seat = sum(piece.seat_mm2 for piece in pieces)
    return Making(
        case=case,
        number=fitted.fill.loss.number,
        pieces=len(pieces),
        proved=sum(piece.proof.passed for piece in pieces),
        whole_lost=fitted.whole_lost_share,
        lost=sum(piece.seat_lost_mm2 for piece in pieces) / seat if seat > 0 else 0.0,
        gap_p95_mm=_gap_p95_mm(fitted.fill),
        moulds=moulds,
        moulds_proved=proved,
        failure=failure,
    )


def _gap_p95_mm(fill: Fill) -> float:
    faces = Faces.of(fill.loss.solid, fill.loss.form_here)
    skin = Mesh(faces.vertices, faces.faces[~faces.is_break])
    figures = gap_figures(fill.solid, fill.body_nearby, skin=skin, clearance_mm=fill.clearance_mm)
    return figures.error_p95_mm


# --- drawings in their files ---------------------------------------------------------------------


def _drawing_errors(made: tuple[Made, ...], folder: Path) -> tuple[float, int]:
    """The largest error of a length, mm per 100 mm, and in how many files it was looked for."""
    errors = []
    for thing in made:
        for drawing in thing.drawings:
            cut = [line for line in drawing.lines if line.layer is Layer.CUT]
            wanted = sum(_length(line.points, closed=line.closed) for line in cut)
            for found in (
                _svg_length(folder / f"{drawing.name}.svg"),
                _dxf_length(folder / f"{drawing.name}.dxf"),
            ):
                errors.append(abs(found / wanted - 1.0) * 100.0)
        if thing.drawings:
            errors.append(_ruler_error(folder / f"loss_{thing.number}_{thing.thing}.pdf"))
    return max(errors, default=math.nan), len(errors)


def _svg_length(path: Path) -> float:
    """Length of all lines to cut, from the numbers in the file and its physical size, mm."""
    root = ET.parse(path).getroot()
    name = "{http://www.w3.org/2000/svg}"
    scale = float(root.attrib["width"].removesuffix("mm")) / float(
        root.attrib["viewBox"].split()[2]
    )
    group = next(g for g in root.iter(f"{name}g") if g.attrib["id"] == Layer.CUT.value)
    total = 0.0
    for line in group:
        points = np.array([float(x) for x in re.split(r"[ ,]+", line.attrib["points"])])
        total += _length(points.reshape(-1, 2), closed=line.tag == f"{name}polygon")
    return scale * total


def _dxf_length(path: Path) -> float:
    """The same from a DXF, whose unit must be the millimetre."""
    from ezdxf.entities.lwpolyline import LWPolyline
    from ezdxf.filemanagement import readfile

    document = readfile(path)
    if document.header["$INSUNITS"] != 4:
        return math.nan
    total = 0.0
    for line in document.modelspace().query(f'LWPOLYLINE[layer=="{Layer.CUT.value}"]'):
        if isinstance(line, LWPolyline):
            points = np.array([point[:2] for point in line.get_points()])
            total += _length(points, closed=bool(line.closed))
    return total


def _ruler_error(path: Path) -> float:
    """How far the worst ruler of all pages is off its 100 mm; not a number where one is missing."""
    import pdfplumber

    worst = 0.0
    with pdfplumber.open(path) as pages:
        for page in pages.pages:
            drawn = [*page.lines, *page.curves, *page.rects]
            for side in ("width", "height"):
                lengths = [abs(float(one[side])) * 25.4 / 72.0 for one in drawn]
                worst = max(worst, min((abs(x - 100.0) for x in lengths), default=math.nan))
    return worst


def _length(points: FloatArray, *, closed: bool) -> float:
    if closed:
        points = np.concatenate([points, points[:1]])
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())

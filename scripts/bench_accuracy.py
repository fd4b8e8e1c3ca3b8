"""Accuracy: whole vessels are broken, filled on the product's own road, compared with the chunk.

A case is one vessel, one break and one scan noise. The scan is written to a file, the road walks
from that file to the folder of pieces, and each piece is read back from its own file by another
library before it is judged. The truth carries no noise and follows the scan's known pose.

Beside it stands the plain rigid revolve: the same axis, profile and cut, but a form that is
perfectly round, for everything that follows the real vessel's shape is left out.
"""

from __future__ import annotations

import json
import math
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import trimesh
from bench_figures import Case, Outcome, Row
from breaking import Broken, as_scanned, break_vessel
from make_meshes import write_ply
from real_scans import load_real, subdivide_to, upright
from scoring import Truth, match_losses, score_against, truth_of
from vessels import mug

from lossfill import Settings, design, write_pack
from lossfill.errors import LossfillError
from lossfill.form import fit_form
from lossfill.frame import Frame
from lossfill.loss import find_losses
from lossfill.mesh import FloatArray, Mesh, transformed
from lossfill.road import Design
from lossfill.scan import Unit
from lossfill.solids import mesh_from_solid

__all__ = [
    "BREAKS",
    "NOISES_MM",
    "VESSELS",
    "all_cases",
    "broken_for",
    "quick_cases",
    "run_case",
    "run_cases",
    "seed_of",
    "whole_of",
]

VESSELS: dict[str, Callable[[], Mesh]] = {
    "bowl": lambda: upright(load_real("bowl")),
    "ramekin": lambda: upright(load_real("ramekin")),
    # The plate's triangles are up to 15 mm wide: a scanner's noise needs more points.
    "plate": lambda: subdivide_to(upright(load_real("plate")), 40_000),
    "mug": mug,
}
"""Whole vessels by name: three real scans, and an invented mug with a handle."""

BREAKS = ("rim_45", "rim_120", "rim_185", "hole", "chip", "rim_and_hole", "spall")
NOISES_MM = (0.0, 0.05)


def all_cases() -> tuple[Case, ...]:
    """Every vessel, break and noise."""
    return tuple(
        Case(vessel, kind, noise) for vessel in VESSELS for kind in BREAKS for noise in NOISES_MM
    )


def quick_cases() -> tuple[Case, ...]:
    """One case for each vessel."""
    return tuple(Case(vessel, "rim_45", NOISES_MM[-1]) for vessel in VESSELS)


def run_cases(cases: Iterable[Case]) -> Iterator[Outcome]:
    """Run cases one after another; each result comes as soon as it is there."""
    for case in cases:
        yield run_case(case, whole_of(case.vessel))


def run_case(case: Case, whole: Mesh, *, twin: Mesh | None = None) -> Outcome:
    """Break, scan, fill and judge one vessel.

    Parameters
    ----------
    case : what to do; the seeds of every random choice follow from it
    whole : the vessel that it names, on z = 0 with its axis along +z, mm
    twin : another vessel of the set, whose scan is at hand

    Returns
    -------
    Outcome
        Whatever happens: an error of the product is a result here.
    """
    broken = broken_for(case, whole)
    rng = np.random.default_rng(seed_of("scan", case.vessel, case.kind, f"{case.noise_mm:g}"))
    scan, pose = as_scanned(broken.body, noise_mm=case.noise_mm, rng=rng)
    # As the file holds it, so that the clash is measured against what the product was given.
    scan = Mesh(scan.vertices.astype(np.float32).astype(np.float64), scan.faces)
    settings = Settings(units=Unit.MILLIMETRE, form=case.form)
    made: Design | None = None
    pieces: tuple[_Piece, ...] = ()
    failure = None
    begin = time.perf_counter()
    with tempfile.TemporaryDirectory() as name:
        path = write_ply(scan, Path(name) / "scan.ply")
        if twin is not None:
            twin_scan, _ = as_scanned(twin, noise_mm=case.noise_mm, rng=rng)
            settings = replace(settings, twin=write_ply(twin_scan, Path(name) / "twin.ply"))
        begin = time.perf_counter()
        try:
            made = design(path, settings)
            write_pack(made, Path(name) / "fill", pictures=False)
            seconds = time.perf_counter() - begin
            pieces = _shaped(made, Path(name) / "fill")
        except Exception as error:  # noqa: BLE001  one fault may not hide the other cases
            seconds = time.perf_counter() - begin
            failure = f"{type(error).__name__}: {error}"
    truth = _Truth.of(broken, whole, pose, settings.clearance_mm)
    plain = () if made is None else _plain_pieces(made)
    matches = match_losses(tuple(piece.mesh for piece in pieces), truth.chunks)
    plain_of = match_losses(plain, truth.chunks).piece_of_chunk
    rows = []
    for k, cut in enumerate(broken.kinds):
        own, plain_own = matches.piece_of_chunk[k], plain_of[k]
        piece = None if own is None else pieces[own]
        against = truth.of_chunk(k)
        rows.append(
            Row(
                case=case,
                cut=cut,
                score=score_against(against, None if piece is None else piece.mesh, scan),
                found=piece is not None,
                clash_limit_mm3=math.inf if piece is None else piece.clash_limit_mm3,
                stated_mm=math.nan if piece is None else piece.stated_mm,
                bound_mm=math.nan if piece is None else piece.bound_mm,
                plain=score_against(against, None if plain_own is None else plain[plain_own], scan),
                source=None if piece is None else piece.source,
            )
        )
    return Outcome(case, tuple(rows), len(matches.false), failure, seconds)


# --- one case ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A piece as a person gets it: read back from its file, and what the record says of it."""

    mesh: Mesh
    stated_mm: float
    bound_mm: float
    clash_limit_mm3: float
    source: str


@dataclass(frozen=True, slots=True, eq=False)
class _Truth:
    """What is truly missing, in the scan's frame and free of noise."""

    chunks: tuple[Mesh, ...]
    whole: Mesh
    body: Mesh
    clearance_mm: float

    @classmethod
    def of(cls, broken: Broken, whole: Mesh, pose: FloatArray, clearance_mm: float) -> _Truth:
        return cls(
            chunks=tuple(transformed(chunk, pose) for chunk in broken.chunks),
            whole=transformed(whole, pose),
            body=transformed(broken.body, pose),
            clearance_mm=clearance_mm,
        )

    def of_chunk(self, k: int) -> Truth:
        """The k-th chunk made ready for the pieces that are compared with it."""
        return truth_of(self.chunks[k], self.whole, self.body, self.clearance_mm)


def broken_for(case: Case, whole: Mesh) -> Broken:
    """Break the vessel: alike at every noise, and away from a handle."""
    rng = np.random.default_rng(seed_of("break", case.vessel, case.kind))
    return break_vessel(whole, case.kind, rng=rng, angle_deg=case.angle_deg)


def _shaped(made: Design, folder: Path) -> tuple[_Piece, ...]:
    """The pieces as shaped, with what the record states of them.

    Where nothing had to go so that a piece slides in, its file holds that shape, and is read by a
    library that had no part in writing it. What had to go elsewhere is for `bench_making` to tell.
    """
    record = json.loads((folder / "fill.json").read_text(encoding="utf-8"))
    stated = {loss["number"]: loss for loss in record["losses"]}
    pieces = []
    for fitted in made.fitted:
        loss = stated[fitted.fill.loss.number]
        mesh = fitted.fill.mesh
        if fitted.pieces[0].mesh is mesh:
            read = trimesh.load_mesh(folder / loss["piece"])
            mesh = Mesh(np.array(read.vertices), np.array(read.faces, dtype=np.int32))
        limit = loss["check"]["clash_limit_mm3"]
        error, bound = loss["expected_error_mm"], loss["bound_mm"]
        pieces.append(_Piece(mesh, error, bound, limit, loss["source"]))
    return tuple(pieces)


def _plain_pieces(made: Design) -> tuple[Mesh, ...]:
    """Pieces of the plain rigid revolve, without clearance, which does not move the skin."""
    frame = made.frame
    if not isinstance(frame, Frame):
        return ()
    try:
        form = fit_form(frame, stiffness=math.inf)
        # An infinite stiffness alone still follows the rings and the skin at the joins.
        form = replace(form, field_mm=np.zeros_like(form.field_mm), join=None)
        losses = find_losses(made.body, frame, form)
    except LossfillError:
        return ()
    return tuple(mesh_from_solid(loss.solid) for loss in losses)


@cache
def whole_of(vessel: str) -> Mesh:
    """The whole vessel of that name."""
    return VESSELS[vessel]()


def seed_of(*words: str) -> list[int]:
    """Numbers that stay the same on every machine, unlike Python's own hash of a word."""
    return list(" ".join(words).encode())

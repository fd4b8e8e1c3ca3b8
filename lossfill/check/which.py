"""Which piece of a folder a scan shows, and refusing what shows none of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lossfill import tolerances as tol
from lossfill.check.nudge import moved
from lossfill.check.register import Pose, Target, poses, samples_of, size_of, trimmed_rms
from lossfill.check.settings import CheckSettings
from lossfill.errors import AmbiguousShapeError, InputError
from lossfill.frame.samples import Samples
from lossfill.make.brief import Brief, BriefPiece
from lossfill.mesh import BoolArray, Mesh
from lossfill.scan.scan import Scan, Unit
from lossfill.solids import mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The piece that a scan shows.

    Parameters
    ----------
    brief, piece : the loss and the piece
    target : its design, ready to lay the scan on
    samples : of the scan, as it was scanned
    poses : ways in which it lies, best first
    """

    brief: Brief
    piece: BriefPiece
    target: Target
    samples: Samples
    poses: tuple[Pose, ...]


Candidate = tuple[Brief, BriefPiece, Mesh]


def candidates(briefs: tuple[Brief, ...], name: str | None) -> list[Candidate]:
    """The pieces that the scan may show.

    Raises
    ------
    InputError
        Where the folder holds no piece, or none of that name.
    """
    every = [(brief, piece) for brief in briefs for piece in brief.pieces]
    if not every:
        raise InputError("this folder holds no piece: fill the scan of the vessel first")
    chosen = [one for one in every if name is None or one[1].name == name]
    if not chosen:
        names = ", ".join(piece.name for _, piece in every)
        raise InputError(f"this folder holds no piece {name}: it holds {names}")
    return [(brief, piece, mesh_from_solid(piece.solid)) for brief, piece in chosen]


def in_its_unit(scan: Scan, pieces: list[Candidate]) -> Scan:
    """The scan in the unit that makes it the size of a piece, where its file states none.

    Raises
    ------
    InputError
        Where no unit that it may be in makes it the size of any piece.
    """
    size = size_of(scan.mesh)
    sizes = [size_of(mesh) for _, _, mesh in pieces]
    if any(_alike(size, one) for one in sizes):
        return scan
    metres = size * Unit.METRE.mm
    if scan.unit_source == "inferred" and any(_alike(metres, one) for one in sizes):
        mesh = Mesh(scan.mesh.vertices * Unit.METRE.mm, scan.mesh.faces, scan.mesh.colours)
        told = f"the file states no unit; in metres it is {metres:.0f} mm long, as a piece here is"
        return replace(scan, mesh=mesh, unit=Unit.METRE, warnings=(*scan.warnings, told))
    raise InputError(f"{scan.path.name}: {_why_not(size, sizes, pieces)}")


def find_piece(
    scan: Scan, mesh: Mesh, left_out: BoolArray | None, pieces: list[Candidate],
    settings: CheckSettings,
) -> Found:  # fmt: skip
    """Lay the scan on each piece of its size, and keep the one on which it lies best.

    Parameters
    ----------
    mesh, left_out : the scan's triangles, and which of them were not measured

    Raises
    ------
    InputError
        Where it lies on none of them.
    """
    try:
        samples = samples_of(mesh, seed=settings.seed, left_out=left_out)
    except AmbiguousShapeError as error:
        raise InputError(
            f"{scan.path.name}: no surface was scanned: scan the piece again"
        ) from error
    found = []
    for brief, piece, design in pieces:
        target = Target.of(design, seed=settings.seed)
        if _alike(size_of(mesh), target.size_mm):
            ways = poses(samples, target, seed=settings.seed)
            found.append(Found(brief, piece, target, samples, tuple(ways)))
    found = [one for one in found if one.poses]
    found.sort(key=lambda one: one.poses[0].rms_mm)
    for one in found:
        if one.poses[0].rms_mm <= limit_mm(one.target, settings):
            _refuse_mirror_image(scan, one, settings)
            return one
    for one in found:
        _refuse_mirror_image(scan, one, settings)
        if (resized := _resized(one, settings)) is not None:
            return resized
    best = min((one.poses[0].rms_mm for one in found), default=np.inf)
    name = " or ".join(one.piece.name for one in found[:1]) or "any"
    raise InputError(
        f"{scan.path.name}: it does not lie on piece {name} nor on any other asked for: the best "
        f"place leaves {best:.2f} mm (RMS of the nearest {100 * tol.CHECK_TRIM_SCAN:.0f} %), limit "
        f"{max((limit_mm(one.target, settings) for one in found), default=0.0):.2f} mm; "
        "check that it is the right piece, scanned without its stand"
    )


def limit_mm(target: Target, settings: CheckSettings) -> float:
    """The trimmed RMS up to which a scan lies on a design."""
    return min(settings.lies_mm, tol.CHECK_LIES_SHARE * target.size_mm)


def _resized(one: Found, settings: CheckSettings) -> Found | None:
    """The same where the scan lies on its design only at another size, as wet clay does."""
    spread = [np.linalg.norm(s.points - s.points.mean(axis=0), axis=1) for s in
              (one.samples, one.target.samples)]  # fmt: skip
    factor = float(spread[1].mean() / spread[0].mean())
    ways = poses(one.samples.scaled(factor), one.target, seed=settings.seed)
    if not ways or ways[0].rms_mm > tol.CHECK_RESIZED_SHARE * limit_mm(one.target, settings):
        return None
    # About the middle, so that the pose is that of the scan at its own size.
    middle = one.samples.points.mean(axis=0)
    rigid = ways[0].matrix.copy()
    rigid[:3, 3] += rigid[:3, :3] @ ((factor - 1.0) * middle)
    return replace(one, poses=(Pose(rigid, ways[0].rms_mm),))


def _refuse_mirror_image(scan: Scan, one: Found, settings: CheckSettings) -> None:
    """Raise InputError where the mirror image lies far better; a shell nearly lies both ways."""
    limit = limit_mm(one.target, settings)
    own = _nearly_all(one.samples, one.target, one.poses[0])
    if own <= settings.tolerance_mm:
        return
    other = one.samples.moved(np.diag([-1.0, 1.0, 1.0, 1.0]))
    ways = poses(other, one.target, seed=settings.seed)
    if not ways:
        return
    if _nearly_all(other, one.target, ways[0]) < min(limit, tol.CHECK_MIRROR_SHARE * own):
        raise InputError(
            f"{scan.path.name}: it is the mirror image of piece {one.piece.name}: a mould or a "
            "print was made the wrong way round; make it again"
        )


def _nearly_all(samples: Samples, target: Target, pose: Pose) -> float:
    """RMS of all of a scan but its worst places, mm."""
    away = target.surface.distance(moved(samples.points, pose.matrix))
    return trimmed_rms(away, tol.CHECK_TWIN_SHARE)


def _alike(size_mm: float, other_mm: float) -> bool:
    low, high = tol.CHECK_SIZE_RANGE
    return low <= size_mm / other_mm <= high


def _why_not(size_mm: float, sizes: list[float], pieces: list[Candidate]) -> str:
    low, high = min(sizes), max(sizes)
    range_text = f"{low:.0f} mm" if high - low < 1 else f"{low:.0f} to {high:.0f} mm"
    vessel = size_of(mesh_from_solid(pieces[0][0].body))
    if abs(size_mm / vessel - 1.0) < 1.0 - tol.CHECK_SIZE_RANGE[0]:
        return (
            f"it is {size_mm:.0f} mm across its corners, as the whole vessel is, where the pieces "
            f"are {range_text}: give the scan of the piece alone"
        )
    return (
        f"it is {size_mm:.3g} mm across its corners, where the pieces are {range_text}: pass the "
        "right unit with --units, or the scan of the piece"
    )

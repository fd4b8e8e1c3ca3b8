"""Whether a scanned piece slides home along the way that its design was proved for."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.check.checked import GoesIn, Place, Verdict
from lossfill.check.nudge import Points, Pulls, motion_of, moved
from lossfill.check.place import Standing
from lossfill.check.sides import PieceSides
from lossfill.errors import BooleanError
from lossfill.fit.entry import turn_to
from lossfill.fit.overlap import NO_OVERLAP, Overlap
from lossfill.fit.relief import columns, cut_columns
from lossfill.fit.sweep import body_on_the_way, overlap_on_the_way, prove_sweep
from lossfill.loss.sides import Side
from lossfill.make.brief import Brief, BriefPiece
from lossfill.mesh import BoolArray, FloatArray, Mesh, points_over, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, box_between, checked, mesh_from_solid, turned


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """The way home of one piece, and what lies about it.

    Parameters
    ----------
    turn : (3, 3) rows are axes; the piece comes home against the third
    body : the body, and the pieces that went in before
    reach_mm : how far the way is followed; infinite where it leads out of the vessel
    clearance_mm : that the design has
    """

    turn: FloatArray
    body: Solid
    reach_mm: float
    clearance_mm: float

    @staticmethod
    def of(brief: Brief, piece: BriefPiece) -> Way:
        """The way that the design was proved for."""
        body = brief.body
        for before in brief.pieces:
            if before.name == piece.name:
                break
            body = checked(body + before.solid, "body and first piece cannot be joined")
        turn = turn_to(-piece.entry)
        # A way that begins in the hollow of a jar is barred farther out, for the design as well.
        mesh = mesh_from_solid(piece.solid)
        met, _ = body_on_the_way(mesh, body, turn, reach_mm=np.inf)
        reach = np.inf
        if not met.is_empty():
            free = overlap_on_the_way(
                mesh, mesh_from_solid(met), turn, finest_mm=tol.SWEEP_CELLS_MM[0], reach_mm=np.inf
            )
            if free.area_mm2 > tol.CHECK_BARRED_MM2:
                reach = tol.ENTRY_HOLLOW_SHARE * mesh.diagonal_mm
        return Way(turn, body, float(reach), brief.clearance_mm)


def how_it_goes_in(
    solid: Solid, points: Points, way: Way, standing: Standing, sides: PieceSides
) -> tuple[GoesIn, FloatArray]:
    """Try the piece where it fits best, and where that clashes, moved off the body a little.

    Parameters
    ----------
    solid : the scan at its best fit
    points : of the same

    Returns
    -------
    goes_in : what was found
    home : (4, 4) from the best fit to the place that it was found for
    """
    here, far = np.eye(4), 0.0
    trial = _looked_at(solid, way)
    if len(trial.doubtful.cells):
        there = eased(points, way)
        shift = float(np.linalg.norm(moved(points.points, there) - points.points, axis=1).max())
        other = _looked_at(solid.transform(there[:3]), way) if shift > 0.0 else trial
        if other.doubtful.area_mm2 < trial.doubtful.area_mm2:
            here, far, trial = there, shift, other
    return _relieved(trial, way, standing, sides, moved_mm=far), here


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """A piece in one place.

    Parameters
    ----------
    solid : in that place
    met : the body that it could meet on its way
    travel_mm : how long the way is
    doubtful : where it may meet it
    finest_mm : cells in which it is filed
    shared_mm3 : volume shared with the body there
    """

    solid: Solid
    met: Solid
    travel_mm: float
    doubtful: Overlap
    finest_mm: float
    shared_mm3: float


def _looked_at(solid: Solid, way: Way) -> _Trial:
    mesh = mesh_from_solid(solid)
    met, travel = body_on_the_way(mesh, way.body, way.turn, reach_mm=way.reach_mm)
    shared = float(checked(solid ^ way.body, "piece and body cannot be compared").volume())
    # What clashes all over is not filed to the hundredth.
    clash = shared > tol.CHECK_CLASH_MM3
    finest = tol.CHECK_COARSE_CELL_MM if clash else tol.CHECK_CELL_MM
    doubtful = NO_OVERLAP if met.is_empty() else _overlap(solid, met, way, finest)
    if doubtful.area_mm2 > tol.CHECK_CLASH_MM2:
        finest = tol.CHECK_COARSE_CELL_MM
    return _Trial(solid, met, travel, doubtful, finest, shared)


def _overlap(solid: Solid, met: Solid, way: Way, finest_mm: float) -> Overlap:
    return overlap_on_the_way(
        mesh_from_solid(solid),
        mesh_from_solid(met),
        way.turn,
        finest_mm=finest_mm,
        reach_mm=way.reach_mm,
    )


def eased(points: Points, way: Way) -> FloatArray:
    """A motion no longer than the clearance that takes a piece off the body, (4, 4).

    Only what is nearer to the body than touching is pushed; all that is about it weighs a little
    for staying where it is, or the piece would be thrown off.
    """
    low, high = points.points.min(axis=0) - 4.0, points.points.max(axis=0) + 4.0
    near = checked(way.body ^ box_between(low, high), "the body about the piece cannot be cut")
    matrix = np.eye(4)
    if near.is_empty():
        return matrix
    body = Surface(mesh_from_solid(near))
    close = body.distance(points.points) < 1.0
    start = points.points[close]
    for _ in range(tol.CHECK_EASE_STEPS if close.any() else 0):
        here = moved(start, matrix)
        _, normals = body.closest(here)
        short = np.minimum(body.signed_distance(here) - tol.CHECK_EASE_MM, 0.0)
        if not (short < 0).any():
            break
        pulls = Pulls(here, normals, short, np.where(short < 0, 1.0, tol.CHECK_EASE_STAY))
        step = motion_of(pulls)
        far = np.linalg.norm(moved(moved(points.points, matrix), step) - points.points, axis=1)
        if far.max() > way.clearance_mm:
            break
        matrix = step @ matrix
    return matrix


def _relieved(
    trial: _Trial, way: Way, standing: Standing, sides: PieceSides, *, moved_mm: float
) -> GoesIn:
    """File off what is in the way, and prove that the rest goes in."""
    solid, met, doubtful = trial.solid, trial.met, trial.doubtful
    kept, gone = solid, manifold3d.Manifold()
    for _ in range(tol.CHECK_FILE_ROUNDS):
        if len(doubtful.cells) == 0:
            break
        doubtful = _overlap(kept, met, way, trial.finest_mm)
        if len(doubtful.cells) == 0:
            break
        under = columns(doubtful)
        gone += turned(turned(solid, way.turn) ^ under, way.turn.T)
        kept = _largest(cut_columns(kept, under, way.turn))
    else:
        doubtful = _overlap(kept, met, way, trial.finest_mm)
    checked(gone, "what is to be filed off cannot be cut")
    proof = prove_sweep(
        kept,
        mesh_from_solid(kept),
        met,
        way.turn,
        travel_mm=trial.travel_mm,
        doubtful=doubtful,
        rub_mm=0.0,
    )
    mesh = mesh_from_solid(solid)
    every = _places(gone, mesh, standing, sides)
    deepest = max((place.depth_mm for place in every), default=0.0)
    told = tuple(place for place in every if place.depth_mm >= tol.CHECK_FILE_MM)
    verdict: Verdict = "goes in"
    if not gone.is_empty():
        verdict = "may rub" if deepest <= tol.CHECK_RUB_MM else "file first"
    return GoesIn(
        verdict=verdict,
        why="",
        shared_mm3=trial.shared_mm3,
        # A scan may run through itself by its noise: what little it takes twice is no relief.
        relief_mm3=max(float(gone.volume()), 0.0),
        file_mm=deepest,
        places=told[: tol.CHECK_FILE_PLACES],
        moved_mm=moved_mm,
        proof=proof,
    )


def _largest(solid: Solid) -> Solid:
    parts = checked(solid, "the piece cannot be relieved").decompose()
    if not parts:
        raise BooleanError("nothing is left of the piece that could slide into place: make it anew")
    return max(parts, key=lambda part: part.volume())


def _places(gone: Solid, mesh: Mesh, standing: Standing, sides: PieceSides) -> tuple[Place, ...]:
    """Where to file, the largest volume first."""
    surface = Surface(mesh)
    parts = sorted(gone.decompose(), key=lambda part: -part.volume())
    found = []
    for part in parts[: tol.CHECK_FILE_PARTS]:
        one = mesh_from_solid(part)
        # Its corners may all lie on the piece's surface: its deepest place lies between them.
        depth = surface.distance(points_over(one, spacing_mm=tol.CHECK_SPACING_MM))
        # What lies on the piece's own surface is what the file meets.
        on_it: BoolArray = np.less(surface.distance(one.vertices), 1e-3)
        corners: BoolArray = np.all(np.take(on_it, one.faces), axis=1)
        a, b, c = (one.vertices[one.faces[:, k]] for k in range(3))
        vectors = 0.5 * np.cross(b - a, c - a) * corners[:, None]
        area = np.linalg.norm(vectors, axis=1)
        if area.sum() == 0.0:
            continue
        at = (area[:, None] * (a + b + c) / 3).sum(axis=0) / area.sum()
        at = one.vertices[on_it][np.argmin(np.linalg.norm(one.vertices[on_it] - at, axis=1))]
        normal = unit(vectors.sum(axis=0))
        found.append(
            Place(
                side=Side(int(sides.of(at[None], normal[None])[0])),
                depth_mm=max(float(depth.max()) - tol.RELIEF_LIFT_MM, 0.0),
                area_mm2=float(area.sum()),
                volume_mm3=float(part.volume()),
                at=at,
                normal=normal,
                where=standing.where(at),
            )
        )
    return tuple(found)

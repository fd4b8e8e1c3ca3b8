"""From a shaped piece to one that goes in: its entry, its relief, and the proof."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import BooleanError
from lossfill.fill.clearance import cut_clearance
from lossfill.fill.fill import Fill
from lossfill.fill.make import break_mesh, storable
from lossfill.fit.entry import Places, Ways, best_way, entry_of, find_ways, turn_to
from lossfill.fit.fitted import Fitted, FittedPiece
from lossfill.fit.overlap import NO_OVERLAP
from lossfill.fit.relief import columns, cut_columns
from lossfill.fit.split import cut_in_two, find_cut
from lossfill.fit.sweep import body_on_the_way, overlap_on_the_way, prove_sweep
from lossfill.mesh import BoolArray, FloatArray, Mesh, centres, face_vectors, spread_by_area, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class Seat:
    """The break that a piece sits on.

    Parameters
    ----------
    surface : the break, for distances
    clearance_mm : how far the piece stays off it
    """

    surface: Surface
    clearance_mm: float

    def of(self, points: FloatArray) -> BoolArray:
        """Tell which places of a piece, (N, 3), lie on its seat."""
        near: BoolArray = self.surface.distance(points) <= self.clearance_mm + tol.SEAT_NEAR_MM
        return near


@dataclass(frozen=True, slots=True, eq=False)
class Obstacle:
    """What a piece has to get past.

    Parameters
    ----------
    solid : the body, and what was put in before
    surface : the same for rays
    """

    solid: Solid
    surface: Surface

    @staticmethod
    def of(solid: Solid) -> Obstacle:
        """Make a solid ready."""
        return Obstacle(solid, Surface(mesh_from_solid(solid)))


def fit_fill(fill: Fill, body: Obstacle, *, split: bool = False, seed: int = 1) -> Fitted:
    """Find the way in for the piece of one loss, and make it go in that way.

    Parameters
    ----------
    split : part it in two where it would lose more than `tolerances.SEAT_LOST_SHARE` of its seat
        and two parts lose less
    seed : of the places that are looked at

    Raises
    ------
    BooleanError
        Where nothing useful is left of the piece that could go in.
    """
    seat = Seat(Surface(break_mesh(fill.loss)), fill.clearance_mm)
    name = str(fill.loss.number)
    places = places_on(fill.mesh, seat, seed=seed)
    ways = find_ways(places, body.surface)
    chosen = best_way(ways, places)
    rub = _rub(fill)
    whole = fit_along(name, fill.solid, fill.mesh, body, seat, ways, chosen, rub=rub)
    pieces: tuple[FittedPiece, ...] = (whole,)
    if split and whole.seat_lost_share > tol.SEAT_LOST_SHARE:
        parts = _split(fill, body, seat, places, ways, rub)
        if sum(part.seat_lost_mm2 for part in parts) < whole.seat_lost_mm2:
            pieces = parts
    return Fitted(fill, pieces, whole.seat_lost_share, _warnings(pieces, asked=split))


def _split(
    fill: Fill, body: Obstacle, seat: Seat, places: Places, ways: Ways, rub: Solid
) -> tuple[FittedPiece, ...]:
    cut = find_cut(places, ways)
    halves = cut_in_two(fill.solid, cut, fill.clearance_mm)
    tested = cut_in_two(rub, cut, max(fill.clearance_mm, tol.RUB_MM))
    fitted: list[FittedPiece] = []
    beyond = places.points @ cut.normal > cut.at_mm
    steep = ways.out @ cut.normal >= tol.SPLIT_LEAN
    for half, test, letter, mine, allowed in zip(
        halves, tested, "ab", (~beyond, beyond), (np.ones_like(steep), steep), strict=True
    ):
        name = f"{fill.loss.number}{letter}"
        whole, mesh = storable(_largest(half, half, name))
        part_ways = Ways(ways.out, ways.held[:, mine], ways.reach_mm)
        chosen = best_way(part_ways, places.some(mine), allowed)
        same = rub is fill.solid
        fitted.append(
            fit_along(name, whole, mesh, body, seat, part_ways, chosen, rub=whole if same else test)
        )
        body = Obstacle.of(body.solid + fitted[-1].solid)
    return tuple(fitted)


def fit_along(
    name: str,
    solid: Solid,
    mesh: Mesh,
    body: Obstacle,
    seat: Seat,
    ways: Ways,
    chosen: int,
    *,
    rub: Solid,
) -> FittedPiece:
    """Relieve a piece so that it goes in along a direction, and prove it.

    Parameters
    ----------
    solid, mesh : the piece as shaped
    ways, chosen : the directions that were tried, and the one to take
    rub : the same piece, or where its clearance is too small to tell it from touching, the piece
        with the clearance of `tolerances.RUB_MM`; the proof is of that one

    Raises
    ------
    BooleanError
        Where nothing useful is left of the piece.
    """
    turn = turn_to(ways.out[chosen])
    met, travel = body_on_the_way(mesh, body.solid, turn, reach_mm=ways.reach_mm)
    same = rub is solid
    kept, kept_mesh, tested = solid, mesh, rub
    doubtful = NO_OVERLAP
    # A cell that holds both sides of the gap tells nothing, and would be relieved for nothing.
    gap = max(seat.clearance_mm, tol.RUB_MM)
    cells = tuple(min(cell, gap * tol.SWEEP_GAP_SHARE) for cell in tol.SWEEP_CELLS_MM)
    if met.is_empty():
        cells = ()
    else:
        met_mesh = mesh_from_solid(met)
    for n, finest in enumerate(cells, start=1):
        doubtful = overlap_on_the_way(
            kept_mesh if same else mesh_from_solid(tested),
            met_mesh,
            turn,
            finest_mm=finest,
            reach_mm=ways.reach_mm,
        )
        # The last round only looks: what it leaves open is told.
        if len(doubtful.cells) == 0 or n == len(cells):
            break
        gone = columns(doubtful)
        kept, kept_mesh = storable(_largest(cut_columns(kept, gone, turn), solid, name))
        tested = kept if same else _largest(cut_columns(tested, gone, turn), solid, name)
    proof = prove_sweep(
        tested,
        kept_mesh,
        met,
        turn,
        travel_mm=travel,
        doubtful=doubtful,
        rub_mm=0.0 if same else tol.RUB_MM,
    )
    seat_mm2, left_mm2 = _seat_areas(mesh, kept_mesh, seat)
    return FittedPiece(
        name=name,
        mesh=kept_mesh,
        solid=kept,
        entry=entry_of(ways, chosen, travel),
        proof=proof,
        relieved_mm3=max(float(solid.volume() - kept.volume()), 0.0),
        seat_mm2=seat_mm2,
        seat_lost_mm2=max(seat_mm2 - left_mm2, 0.0),
    )


def places_on(mesh: Mesh, seat: Seat, *, seed: int) -> Places:
    """Places spread evenly over a piece by area, those on its seat half way across the gap."""
    points, which = spread_by_area(mesh, tol.ENTRY_PLACES, np.random.default_rng(seed))
    normals, on_seat = unit(face_vectors(mesh)[which]), seat.of(points)
    # A way that would use up all of the gap is not taken for free.
    across_mm = 0.5 * np.where(on_seat, seat.surface.distance(points), 0.0)
    points = points + across_mm[:, None] * normals
    return Places(points, normals, on_seat)


def _rub(fill: Fill) -> Solid:
    """The piece to move: with enough clearance to tell touching from sharing."""
    if fill.clearance_mm >= tol.RUB_MM:
        return fill.solid
    seat = break_mesh(fill.loss)
    return cut_clearance(fill.solid, fill.body_nearby, seat, clearance_mm=tol.RUB_MM)


def _largest(solid: Solid, whole: Solid, name: str) -> Solid:
    parts = solid.decompose()
    best = max(parts, key=lambda part: part.volume(), default=None)
    if best is None or best.volume() < tol.PIECE_SHARE_MIN * whole.volume():
        raise BooleanError(
            f"nothing useful is left of piece {name} that could slide into place: "
            "fill this loss with paste, or split it"
        )
    return best


def _seat_areas(shaped: Mesh, kept: Mesh, seat: Seat) -> tuple[float, float]:
    """Area of the seat before and after it was relieved, mm²."""
    before = _area(shaped, seat.of(centres(shaped)))
    if kept is shaped:
        return before, before
    middles = centres(kept)
    left = seat.of(middles)
    left[left] = Surface(shaped).distance(middles[left]) <= tol.SEAT_KEPT_MM
    return before, _area(kept, left)


def _area(mesh: Mesh, chosen: BoolArray) -> float:
    return float(np.linalg.norm(face_vectors(mesh)[chosen], axis=1).sum())


def _warnings(pieces: tuple[FittedPiece, ...], *, asked: bool) -> tuple[str, ...]:
    told = []
    for piece in pieces:
        if piece.seat_lost_share > tol.SEAT_LOST_SHARE:
            advice = "the gap needs that much more paste" if asked else "try --split"
            told.append(
                f"piece {piece.name} loses {piece.seat_lost_mm2:.0f} mm² of its seat "
                f"({100 * piece.seat_lost_share:.0f} %) so that it can slide in; {advice}"
            )
        if not piece.entry.from_outside:
            told.append(
                f"piece {piece.name} goes in from the hollow of the vessel: only its last "
                f"{piece.entry.travel_mm:.0f} mm were looked at; try whether it passes the mouth"
            )
        if not piece.proof.passed:
            told.append(
                f"piece {piece.name} could not be proved to slide in (it may catch by up to "
                f"{piece.proof.doubtful_mm2:.2g} mm²): try it dry, and file where it catches"
            )
    return tuple(told)

"""The proof that a piece slides home: cut at stations on the way, and bounded between them."""

from __future__ import annotations

import math

import numpy as np

from lossfill import tolerances as tol
from lossfill.fit.fitted import SweepProof
from lossfill.fit.overlap import Overlap, corners_along, overlap_along_z
from lossfill.mesh import FloatArray, Mesh, rounding_mm3
from lossfill.solids import Solid, box_between, checked, mesh_from_solid, turned


def overlap_on_the_way(
    piece: Mesh, body: Mesh, turn: FloatArray, *, finest_mm: float, reach_mm: float
) -> Overlap:
    """Where a piece that rises along the third axis of `turn` meets the body.

    Parameters
    ----------
    piece, body : closed triangles
    turn : (3, 3) rows are the axes
    finest_mm : edge of the finest cells
    reach_mm : what of the body lies farther above the piece than this is left aside
    """
    mine, theirs = corners_along(piece, turn), corners_along(body, turn)
    # On a closed surface the lowest place of a line faces down and the highest up.
    mine = mine[_up(mine) < 0]
    low, high = mine[:, :, :2].min(axis=(0, 1)), mine[:, :, :2].max(axis=(0, 1))
    above = float(mine[:, :, 2].max()) + reach_mm
    plan = theirs[:, :, :2]
    near = ((plan.max(axis=1) >= low) & (plan.min(axis=1) <= high)).all(axis=1)
    near &= theirs[:, :, 2].min(axis=1) <= above
    theirs = theirs[near]
    theirs = theirs[_up(theirs) > 0]
    halvings = math.ceil(math.log2(tol.SWEEP_COARSEST_MM / finest_mm))
    return overlap_along_z(mine, theirs, finest_mm=finest_mm, coarsest_mm=finest_mm * 2.0**halvings)


def prove_sweep(
    piece: Solid,
    mesh: Mesh,
    body: Solid,
    turn: FloatArray,
    *,
    travel_mm: float,
    doubtful: Overlap,
    rub_mm: float,
) -> SweepProof:
    """Cut piece and body with each other on the way home.

    Parameters
    ----------
    piece, mesh : at home
    body : all of it that the piece could meet
    turn : (3, 3) rows are the axes; the piece comes home against the third
    travel_mm : how far off it starts
    doubtful : what `overlap_on_the_way` left open of the same piece
    rub_mm : as `SweepProof` keeps it
    """
    shared = 0.0
    # Seen along the way the walls of what was relieved stand upright, and so do the boxes by which
    # the modeller looks for triangles that meet: boxes about leaning walls would hold all.
    piece, body = turned(piece, turn), turned(body, turn)
    for share in np.linspace(0.0, 1.0, tol.SWEEP_STATIONS) ** 2:
        # Closer together near home, where piece and body are closest.
        there = piece.translate((0.0, 0.0, float(share * travel_mm)))
        both = checked(there ^ body, "the piece on its way and the body cannot be compared")
        shared = max(shared, float(both.volume()))
    return SweepProof(
        stations=tol.SWEEP_STATIONS,
        shared_mm3=shared,
        # Both are rounded.
        shared_limit_mm3=rounding_mm3(mesh, roundings=2.0),
        doubtful_mm2=doubtful.area_mm2,
        cell_mm=doubtful.cell_mm,
        rub_mm=rub_mm,
    )


def body_on_the_way(
    piece: Mesh, body: Solid, turn: FloatArray, *, reach_mm: float
) -> tuple[Solid, float]:
    """The part of a body that a piece could meet on its way, and how long that way is, mm."""
    placed = piece.vertices @ turn.T
    low, high = placed.min(axis=0) - 1.0, placed.max(axis=0) + 1.0
    corners = body.bounding_box()
    box = np.array([[corners[i], corners[j], corners[k]] for i in (0, 3) for j in (1, 4)
                    for k in (2, 5)])  # fmt: skip
    top = float((box @ turn[2]).max()) + 1.0
    high[2] = max(high[2], min(top, high[2] + reach_mm))
    prism = box_between(low, high)
    met = checked(body ^ turned(prism, turn.T), "the body about the piece's way cannot be cut")
    if met.is_empty():
        return met, tol.SWEEP_FREE_MM
    highest = float((mesh_from_solid(met).vertices @ turn[2]).max())
    return met, max(highest - float(placed[:, 2].min()), 0.0) + tol.SWEEP_FREE_MM


def _up(corners: FloatArray) -> FloatArray:
    """Twice the signed area of triangles in plan, (F,): positive where they face up."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    up: FloatArray = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return up

"""The seat's sharp ridges rounded, so that paste in a corner does not hold the piece off."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.fill.ball import Ball
from lossfill.fill.plate import plate_about
from lossfill.mesh import FloatArray, Mesh, points_over
from lossfill.nearest import Surface
from lossfill.solids import Solid


def round_seat(piece: Solid, seat: Mesh, skin: Mesh, *, radius_mm: float) -> Solid:
    """Round the ridges of a piece's seat as far as a ball of the radius cannot reach them.

    The skin and its edge are left where they are: towards it the rounding runs out over one
    radius.

    Parameters
    ----------
    piece : what is to be cut
    seat : its faces along the break, an open mesh
    skin : all its other faces, an open mesh
    radius_mm : more than 0

    Raises
    ------
    BooleanError
        Where the modeller fails.
    """
    hair = tol.ROUND_HAIR_MM
    cell = float(np.clip(radius_mm / 4.0, *tol.ROUND_CELL_MM))
    along, outside = Surface(seat), Surface(skin)

    def depth(points: FloatArray) -> FloatArray:
        # From the seat alone: the ball may roll out through the skin, and so leaves it alone.
        places, normals = along.closest(points)
        away = points - places
        far = np.linalg.norm(away, axis=1)
        return np.asarray(np.where((away * normals).sum(axis=1) > 0, -far, far))

    near = points_over(seat, spacing_mm=2.0 * cell)
    # What the hair leaves of a right-angled ridge, a slightly larger ball takes: its corner lies
    # sqrt(2) - 1 radii beyond the ball.
    ball = Ball.within(
        near, along, depth, radius_mm=radius_mm + hair / (np.sqrt(2.0) - 1.0), cell_mm=cell
    )
    if ball is None:
        return piece
    ridges = near[ball.beyond(near) > hair]
    if len(ridges) == 0:
        return piece

    def value(points: FloatArray) -> FloatArray:
        from_skin = outside.distance(points)
        left = hair + np.maximum(radius_mm - from_skin, 0.0)
        kept = tol.ROUND_KEPT_MM - np.minimum(from_skin, 0.5 * (from_skin - along.distance(points)))
        # The last keeps the cutter from the air above the skin, where the seat has no depth.
        return np.asarray(np.maximum(0.5 * (left - ball.beyond(points)), kept))

    tree = cKDTree(ridges)
    cutter = plate_about(
        ridges,
        lambda points: np.asarray(tree.query(points)[0]),
        value,
        depth_mm=radius_mm,
        cell_mm=cell,
    )
    return piece if cutter is None else piece - cutter.simplify(tol.ROUND_COLLAPSE_MM)

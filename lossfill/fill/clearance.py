"""The gap left along the break for adhesive, cut without moving the skin.

The piece with clearance c is the part of the loss farther than c from the body. Nothing but that
distance is needed: on the skin, the only body within c of the piece is the join itself, so the
skin stays where it is and merely ends c before the join.
"""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.fill.isosurface import isosurface
from lossfill.mesh import FloatArray, Mesh, points_over
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh


def cut_clearance(piece: Solid, body: Solid, break_mesh: Mesh, *, clearance_mm: float) -> Solid:
    """Take away what lies within the clearance of the body.

    Parameters
    ----------
    piece : the loss, exact complement of the body
    body : the body about it
    break_mesh : the triangles of `piece` that lie on the body
    clearance_mm : more than 0

    Raises
    ------
    BooleanError
        Where the modeller fails.
    """
    # The cutter is a plate along the break: its far side lies `behind` inside the body, where
    # there is no piece to be cut, and its near side at the clearance.
    # It lies deep enough that the nearest grid nodes inside the body, up to a cube's diagonal from
    # the near side, still see the body's distance and not the far side's: only then is the near
    # side where it should be.
    cell = tol.CLEARANCE_CELL_MM
    behind = max(clearance_mm + cell, 2 * np.sqrt(3.0) * cell - clearance_mm)
    body_surface = Surface(mesh_from_solid(body))
    break_surface = Surface(break_mesh)

    def value(points: FloatArray) -> FloatArray:
        rim = break_surface.distance(points) - behind
        signed = np.full(len(points), np.inf)
        # Signs cost rays: they are only asked for where they can matter.
        close = rim < 2 * cell
        signed[close] = body_surface.signed_distance(points[close]) - clearance_mm
        both: FloatArray = np.maximum(rim, np.where(close, signed, rim))
        return both

    near = points_over(break_mesh, spacing_mm=cell)
    cutter = isosurface(near, value, cell_mm=cell, reach_mm=behind + 0.5 * cell)
    if cutter is None:
        return piece
    # The break may give by a fiftieth of the clearance for the sake of fewer triangles; the
    # piece's skin is not touched.
    coarser = min(clearance_mm / 50, tol.CUTTER_COLLAPSE_MM)
    return piece - solid_from_mesh(cutter).simplify(coarser)

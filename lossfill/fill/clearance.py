"""The gap left along the break for adhesive, cut without moving the skin.

The piece with clearance c is the part of the loss farther than c from the body. Nothing but that
distance is needed: on the skin, the only body within c of the piece is the join itself, so the
skin stays where it is and merely ends c before the join.
"""

from __future__ import annotations

from lossfill import tolerances as tol
from lossfill.fill.plate import plate_along
from lossfill.mesh import FloatArray, Mesh
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


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
    # Its near side lies at the clearance, its far side inside the body.
    surface = Surface(mesh_from_solid(body))

    def value(points: FloatArray) -> FloatArray:
        return surface.signed_distance(points) - clearance_mm

    cell = tol.CLEARANCE_CELL_MM
    cutter = plate_along(break_mesh, value, depth_mm=clearance_mm, cell_mm=cell)
    if cutter is None:
        return piece
    # The break may give by a little of the clearance for the sake of fewer triangles; the
    # piece's skin is not touched.
    coarser = min(clearance_mm * tol.CUTTER_COLLAPSE_SHARE, tol.CUTTER_COLLAPSE_MM)
    return piece - cutter.simplify(coarser)

"""The gap left along the break for adhesive, cut without moving the skin.

The piece with clearance c is the part of the loss farther than c from the body. Nothing but that
distance is needed: on the skin, the only body within c of the piece is the join itself, so the
skin stays where it is and merely ends c before the join.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.ndimage import map_coordinates, maximum_filter

from lossfill import tolerances as tol
from lossfill.errors import BooleanError
from lossfill.isosurface import HALVINGS, closed_parts, isosurface
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
    # The cutter is a plate along the break: its near side lies at the clearance, its far side
    # inside the body, where there is no piece to be cut. It lies deep enough that the grid nodes
    # about the near side, up to a cube's diagonal away, see the body's distance and not the far
    # side's: only then is the near side where it should be.
    cell = tol.CLEARANCE_CELL_MM
    behind = clearance_mm + np.sqrt(3.0) * cell
    coarse = cell * 2**HALVINGS
    near = points_over(break_mesh, spacing_mm=0.5 * coarse)
    far = _past_reach(near, Surface(break_mesh), reach_mm=behind, grid_mm=coarse)
    surface = Surface(mesh_from_solid(body))

    def value(points: FloatArray) -> FloatArray:
        both = far(points)
        # Past reach the body is not asked: only where the plate's edge meets its near side, out
        # in the air, does that move anything.
        close = both < 0
        signed = surface.signed_distance(points[close]) - clearance_mm
        both[close] = np.maximum(both[close], signed)
        return both

    cutter = isosurface(near, value, cell_mm=cell, reach_mm=behind + 2 * coarse)
    if cutter is None:
        return piece
    # The break may give by a little of the clearance for the sake of fewer triangles; the
    # piece's skin is not touched.
    coarser = min(clearance_mm * tol.CUTTER_COLLAPSE_SHARE, tol.CUTTER_COLLAPSE_MM)
    return piece - _solid(cutter).simplify(coarser)


def _solid(surface: Mesh) -> Solid:
    try:
        return solid_from_mesh(surface)
    except BooleanError:
        closed = closed_parts(surface)
        if closed is None:
            raise
        return solid_from_mesh(closed)


def _past_reach(
    near: FloatArray, surface: Surface, *, reach_mm: float, grid_mm: float
) -> Callable[[FloatArray], FloatArray]:
    """How far points are beyond reach of the break; at least `reach_mm` of it is negative.

    Where the plate ends matters little, so the distance is asked on a coarse grid alone and
    interpolated: that errs by up to half a grid step where the break itself runs between nodes.
    The slope of what is interpolated is at most the square root of three.
    """
    reach = reach_mm + 0.5 * grid_mm
    # Two more layers than reach needs, so that the value's zero lies between nodes that were asked.
    layers = int(np.ceil(reach / grid_mm)) + 2
    low = near.min(axis=0) - (layers + 1) * grid_mm
    held = np.floor((near - low) / grid_mm).astype(np.int64)
    asked = np.zeros(held.max(axis=0) + layers + 2, dtype=bool)
    asked[tuple(held.T)] = True
    asked = maximum_filter(asked, size=2 * layers + 1, mode="constant")
    values = np.full(asked.shape, layers * grid_mm)
    values[asked] = surface.distance(low + grid_mm * np.argwhere(asked))

    def past(points: FloatArray) -> FloatArray:
        place = ((points - low) / grid_mm).T
        beyond = map_coordinates(values, place, order=1, mode="nearest") - reach
        result: FloatArray = beyond / np.sqrt(3.0)
        return result

    return past

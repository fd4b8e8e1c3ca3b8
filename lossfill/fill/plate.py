"""A cutter along a surface: true on its near side, ending where there is nothing to be cut."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.ndimage import map_coordinates, maximum_filter

from lossfill.errors import BooleanError
from lossfill.isosurface import HALVINGS, closed_parts, isosurface
from lossfill.mesh import FloatArray, Mesh, points_over
from lossfill.nearest import Surface
from lossfill.solids import Solid, solid_from_mesh

Value = Callable[[FloatArray], FloatArray]


def plate_along(along: Mesh, value: Value, *, depth_mm: float, cell_mm: float) -> Solid | None:
    """Solid of the places about a surface where a value is negative.

    Parameters
    ----------
    along : the surface that it follows, open or closed
    value : signed function of (M, 3) points that grows no faster than distance
    depth_mm : the value's zero lies no farther than this from the surface where it matters
    cell_mm : edge of the finest cubes

    Returns
    -------
    A closed solid, or None where the value is nowhere negative.

    Raises
    ------
    BooleanError
        Where the modeller fails.
    """
    near = points_over(along, spacing_mm=0.5 * cell_mm * 2**HALVINGS)
    return plate_about(near, Surface(along).distance, value, depth_mm=depth_mm, cell_mm=cell_mm)


def plate_about(
    near: FloatArray, distance: Value, value: Value, *, depth_mm: float, cell_mm: float
) -> Solid | None:
    """Do the same about points.

    Parameters
    ----------
    near : (N, 3) points
    distance : how far places lie from them, or from the surface for which they stand
    value, depth_mm, cell_mm : as in `plate_along`

    Raises
    ------
    BooleanError
        Where the modeller fails.
    """
    # The plate lies deep enough that the grid nodes about its near side, up to a cube's diagonal
    # away, see the value and not the far side's: only then is the near side where it should be.
    behind = depth_mm + np.sqrt(3.0) * cell_mm
    coarse = cell_mm * 2**HALVINGS
    far = _past_reach(near, distance, reach_mm=behind, grid_mm=coarse)

    def within(points: FloatArray) -> FloatArray:
        both = far(points)
        # Past reach the value is not asked: only where the plate's edge meets its near side, out
        # in the air, does that move anything.
        close = both < 0
        if close.any():
            both[close] = np.maximum(both[close], value(points[close]))
        return both

    cutter = isosurface(near, within, cell_mm=cell_mm, reach_mm=behind + 2 * coarse)
    return None if cutter is None else _solid(cutter)


def _solid(surface: Mesh) -> Solid:
    try:
        return solid_from_mesh(surface)
    except BooleanError:
        closed = closed_parts(surface)
        if closed is None:
            raise
        return solid_from_mesh(closed)


def _past_reach(near: FloatArray, distance: Value, *, reach_mm: float, grid_mm: float) -> Value:
    """How far points are beyond reach of the surface; at least `reach_mm` of it is negative.

    Where the plate ends matters little, so the distance is asked on a coarse grid alone and
    interpolated: that errs by up to half a grid step where the surface itself runs between nodes.
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
    values[asked] = distance(low + grid_mm * np.argwhere(asked))

    def past(points: FloatArray) -> FloatArray:
        place = ((points - low) / grid_mm).T
        beyond = map_coordinates(values, place, order=1, mode="nearest") - reach
        result: FloatArray = beyond / np.sqrt(3.0)
        return result

    return past

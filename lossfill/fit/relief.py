"""Taking away what keeps a piece from sliding home, and no more.

Along each line parallel to the way out, all of the piece that lies below the body's highest place
has to go, for it would have to pass through the body; and nothing else has. That is a column over
each cell in which the two overlap, up to the body.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from lossfill import tolerances as tol
from lossfill.fit.overlap import Overlap
from lossfill.mesh import FloatArray, Mesh
from lossfill.solids import Solid, solid_from_mesh, turned


def cut_columns(solid: Solid, gone: Solid, turn: FloatArray) -> Solid:
    """Take columns away from a piece.

    Parameters
    ----------
    solid : the piece
    gone : of `columns`
    turn : (3, 3) rows are the axes in which the columns were found, in which both are cut: the
        modeller looks for triangles that meet by boxes along the axes, and those about the long
        thin triangles of a leaning column's wall would hold most of the piece
    """
    return turned(turned(solid, turn) - gone, turn.T)


def columns(overlap: Overlap) -> Solid:
    """The columns under the body over the cells in which a piece meets it, in the axes of those.

    Parameters
    ----------
    overlap : not empty
    """
    cells, heights = _widened(overlap.cells, overlap.body_mm, overlap.cell_mm)
    bottom = float(overlap.piece_mm.min()) - 1.0
    corners = cells[:, None] + np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.int64)
    nodes, index = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
    index = index.reshape(-1, 4)
    top = np.full(len(nodes), -np.inf)
    np.maximum.at(top, index.ravel(), np.repeat(heights, 4))
    flat = nodes * overlap.cell_mm
    above = np.column_stack([flat, top + tol.RELIEF_LIFT_MM])
    below = np.column_stack([flat, np.full(len(nodes), bottom)])
    n = len(nodes)
    a, b, c, d = index.T
    roof = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    # Each side that no neighbour shares is a wall.
    sides = np.concatenate([index[:, [k, (k + 1) % 4]] for k in range(4)])
    keys = sides[:, 0] * n + sides[:, 1]
    outer = sides[~np.isin(keys, sides[:, 1] * n + sides[:, 0])]
    p, q = outer.T
    walls = np.concatenate([np.stack([q, p, p + n], 1), np.stack([q, p + n, q + n], 1)])
    faces = np.concatenate([roof, roof[:, ::-1] + n, walls])
    placed = np.concatenate([above, below])
    # A column each would be cut with the piece; most of them stand in one flat floor and wall.
    return solid_from_mesh(Mesh(placed, faces)).simplify(tol.RELIEF_COLLAPSE_MM)


def _widened(
    cells: NDArray[np.int64], heights: FloatArray, cell_mm: float
) -> tuple[NDArray[np.int64], FloatArray]:
    """Take in the cells about each, or what stays beside it would touch it along their common side.

    Cells that then touch in a corner alone are joined, for there the columns' walls would meet.
    """
    ring = int(np.ceil(tol.RELIEF_RING_MM / cell_mm))
    low = cells.min(axis=0) - ring - 1
    shape = tuple(cells.max(axis=0) - low + ring + 2)
    image = np.full(shape, -np.inf)
    image[tuple((cells - low).T)] = heights
    image = maximum_filter(image, size=2 * ring + 1, mode="constant", cval=-np.inf)
    while True:
        a, b = image[:-1, :-1], image[1:, :-1]
        c, d = image[1:, 1:], image[:-1, 1:]
        held = [np.isfinite(x) for x in (a, b, c, d)]
        one_way = held[0] & held[2] & ~held[1] & ~held[3]
        other_way = held[1] & held[3] & ~held[0] & ~held[2]
        if not (one_way.any() or other_way.any()):
            break
        b[one_way] = np.maximum(a, c)[one_way]
        a[other_way] = np.maximum(b, d)[other_way]
    kept = np.argwhere(np.isfinite(image))
    return kept + low, image[tuple(kept.T)]

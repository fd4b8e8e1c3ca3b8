"""The surface where a distance equals a value, found by an octree about a break.

Cubes are halved again and again; since the value grows no faster than distance does, a cube whose
middle is farther from the surface than its corner can hold none of it and is dropped. Each cube
that is left is split into six tetrahedra about its diagonal, and each of those is cut where its
corners change sign. Neighbouring cubes split their common face the same way, so the result is
closed and manifold. (Library versions of this work on a dense box; about a break a thousandth of
the box is needed.)
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lossfill.mesh import FloatArray, Mesh, part_of

Keys = NDArray[np.int64]

_CORNERS = np.array([[k & 1, k >> 1 & 1, k >> 2 & 1] for k in range(8)], dtype=np.int64)

HALVINGS = 2
"""The octree's depth: from cubes of about 1 mm, a few of which cover a break, to the finest."""

_TETRAHEDRA = np.array(
    # The six paths from corner 0 to corner 7 along the cube's edges; all share the diagonal.
    [[0, 1, 3, 7], [0, 3, 2, 7], [0, 2, 6, 7], [0, 6, 4, 7], [0, 4, 5, 7], [0, 5, 1, 7]]
)


def isosurface(
    near: FloatArray,
    value: Callable[[FloatArray], FloatArray],
    *,
    cell_mm: float,
    reach_mm: float,
) -> Mesh | None:
    """Triangles of {value = 0}, facing towards positive values.

    Parameters
    ----------
    near : (N, 3) points within `reach_mm` of which the whole surface {value = 0} lies
    value : signed function of (M, 3) points, negative inside, that grows no faster than distance
    cell_mm : edge of the finest cubes
    reach_mm : how far from `near` the surface may lie

    Returns
    -------
    A closed mesh, or None where the value changes sign nowhere.
    """
    coarse = 1 << HALVINGS
    origin = near.min(axis=0) - reach_mm - 2 * coarse * cell_mm
    span = np.ptp(near, axis=0) + 2 * reach_mm
    size = (np.ceil(span / cell_mm).astype(np.int64) // coarse + 6) * coarse
    cubes = _cubes_about(near, origin, cell_mm * coarse, reach_mm) * coarse
    edge = coarse
    while edge > 1:
        cubes = _holding(cubes, edge, origin, cell_mm, value)
        edge //= 2
        cubes = (cubes[:, None] + edge * _CORNERS[None, :]).reshape(-1, 3)
    # The finest are not asked in their middles: their corners, which must be asked, tell as much.
    if len(cubes) == 0:
        return None
    corner_keys = _pack(cubes[:, None] + _CORNERS[None, :], size)
    nodes, index = np.unique(corner_keys, return_inverse=True)
    index = index.reshape(corner_keys.shape)
    places = origin + cell_mm * _unpack(nodes, size)
    values = value(places)
    # Exactly zero would put a vertex on a grid node and fold triangles onto each other.
    values = np.where(np.abs(values) < 1e-6 * cell_mm, 1e-6 * cell_mm, values)
    inside = values < 0
    crossed = inside[index].any(axis=1) & ~inside[index].all(axis=1)
    tetrahedra = index[crossed][:, _TETRAHEDRA].reshape(-1, 4)
    if len(tetrahedra) == 0:
        return None
    ends = _cut(tetrahedra, inside)
    flat = np.sort(ends.reshape(-1, 2), axis=1)
    edges, corners = np.unique(flat[:, 0] * len(nodes) + flat[:, 1], return_inverse=True)
    a, b = edges // len(nodes), edges % len(nodes)
    t = values[a] / (values[a] - values[b])
    # Kept off the nodes for the same reason as above.
    t = np.clip(t, 0.02, 0.98)[:, None]
    p, q = places[a], places[b]
    return Mesh(p + t * (q - p), corners.reshape(-1, 3).astype(np.int32))


def closed_parts(mesh: Mesh) -> Mesh | None:
    """Drop the open parts of an isosurface; None where nothing is left.

    A ray that slips between two triangles gives a place the wrong sign. Far from the surface that
    makes a speck, open where its cubes were dropped; the surface itself stays closed.
    """
    faces = mesh.faces.astype(np.int64)
    n = len(mesh.vertices)
    tail, head = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    links = coo_array((np.ones(len(tail), np.int8), (tail, head)), shape=(n, n)).tocsr()
    label = connected_components(links, directed=False)[1]
    unmatched = ~np.isin(tail * n + head, head * n + tail)
    is_open = np.zeros(n, dtype=bool)
    is_open[label[tail[unmatched]]] = True
    kept = ~is_open[label[mesh.faces[:, 0]]]
    return part_of(mesh, kept) if kept.any() else None


def _cut(tetrahedra: NDArray[np.intp], inside: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Triangles in cut tetrahedra, as pairs of grid nodes per corner: (T, 3, 2)."""
    count = inside[tetrahedra].sum(axis=1)
    found = []
    for n_inside in (1, 3):
        chosen = tetrahedra[count == n_inside]
        lone = inside[chosen] if n_inside == 1 else ~inside[chosen]
        ordered, odd = _lone_first(chosen, lone.argmax(axis=1))
        a, b, c, d = ordered.T
        triangle = np.stack([np.stack([a, k], 1) for k in (b, c, d)], axis=1)
        # The lone corner sees b, c, d counter-clockwise or not, by the parity of the ordering.
        found.append(_oriented(triangle, flip=odd ^ (n_inside == 3)))
    chosen = tetrahedra[count == 2]
    order = np.argsort(~inside[chosen], axis=1, kind="stable")
    a, b, c, d = np.take_along_axis(chosen, order, axis=1).T
    odd = _is_odd(order)
    quad = [np.stack(pair, 1) for pair in ((a, c), (a, d), (b, d), (b, c))]
    found.append(_oriented(np.stack([quad[0], quad[1], quad[2]], axis=1), flip=odd))
    found.append(_oriented(np.stack([quad[0], quad[2], quad[3]], axis=1), flip=odd))
    return np.concatenate(found)


def _lone_first(
    chosen: NDArray[np.intp], lone: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Bring one corner to the front, keeping the others' order."""
    order = np.array([[k, *[j for j in range(4) if j != k]] for k in range(4)])[lone]
    return np.take_along_axis(chosen, order, axis=1), _is_odd(order)


def _is_odd(order: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Parity of a permutation of four."""
    swaps: NDArray[np.int64] = np.zeros(len(order), dtype=np.int64)
    for i in range(4):
        for j in range(i + 1, 4):
            swaps += order[:, i] > order[:, j]
    odd: NDArray[np.bool_] = swaps % 2 == 1
    return odd


def _oriented(triangles: NDArray[np.intp], *, flip: NDArray[np.bool_]) -> NDArray[np.intp]:
    return np.where(flip[:, None, None], triangles[:, ::-1], triangles)


def _cubes_about(near: FloatArray, origin: FloatArray, edge_mm: float, reach_mm: float) -> Keys:
    """Coarse cubes that lie within reach of the points, (K, 3) in cube edges."""
    base = np.floor((near - origin) / edge_mm).astype(np.int64)
    k = int(np.ceil(reach_mm / edge_mm))
    # The box is small in these cubes, and `near` keeps clear of its walls.
    held = np.zeros(base.max(axis=0) + k + 1, dtype=bool)
    held[tuple(base.T)] = True
    return np.argwhere(maximum_filter(held, size=2 * k + 1, mode="constant"))


def _holding(
    cubes: Keys,
    edge: int,
    origin: FloatArray,
    cell_mm: float,
    value: Callable[[FloatArray], FloatArray],
) -> Keys:
    """Keep the cubes that can hold some of the surface."""
    middle = value(origin + cell_mm * (cubes + 0.5 * edge))
    # A hair over half the diagonal, for the values come from 32-bit floats.
    held: Keys = cubes[np.abs(middle) <= 0.5 * np.sqrt(3.0) * edge * cell_mm * 1.001 + 1e-4]
    return held


def _pack(ijk: Keys, size: Keys) -> Keys:
    packed: Keys = (ijk[..., 0] * size[1] + ijk[..., 1]) * size[2] + ijk[..., 2]
    return packed


def _unpack(keys: Keys, size: Keys) -> Keys:
    ij, k = np.divmod(keys, size[2])
    i, j = np.divmod(ij, size[1])
    return np.stack([i, j, k], axis=-1)

"""Joining what a file format has split, and dropping triangles that bound nothing.

Scanners split vertices along texture seams, STL splits all of them. Vertices are only joined along
open edges: elsewhere two vertices in one place are a pinch of a sound surface, and joining them
would tear it.
"""

from __future__ import annotations

import numpy as np

from lossfill.body.topology import Edges, Int64Array, edges_of
from lossfill.mesh import BoolArray, FloatArray, IntArray
from lossfill.scan.weld import weld as join_equal
from lossfill.tolerances import WELD_ROUNDING

NEAR_WELD_MAX = 4_000_000
"""Open vertices past which only equal ones are joined: they bound scraps, not seams, and the search
would cost more memory than the scan does."""


def weld(vertices: FloatArray, faces: IntArray, edges: Edges) -> tuple[IntArray, Edges, int]:
    """Join vertices on open edges that lie in one place, to rounding.

    Returns
    -------
    faces : triangles that name the joined vertices; those that shrank to a line are left out
    edges : their edges
    n_joined : how many vertices were joined to another
    """
    points = _open_vertices(edges)
    if len(points) == 0:
        return faces, edges, 0
    target = np.arange(len(vertices), dtype=np.int32)
    target[points] = points[_first_equal(vertices[points])]
    if (target[points] != points).any():
        faces = without_degenerate(target[faces])
        if len(faces) == 0:
            return faces, edges, len(points)
        edges = edges_of(faces)
    n_joined = int((target[points] != points).sum())
    left = _open_vertices(edges)
    if len(left) == 0 or len(left) > NEAR_WELD_MAX:
        return faces, edges, n_joined
    diagonal = float(np.linalg.norm(np.ptp(vertices, axis=0)))
    nearby = left[_first_within(vertices[left], WELD_ROUNDING * diagonal)]
    if (nearby != left).any():
        n_joined += int((nearby != left).sum())
        target = np.arange(len(vertices), dtype=np.int32)
        target[left] = nearby
        faces = without_degenerate(target[faces])
        edges = edges_of(faces) if len(faces) else edges
    return faces, edges, n_joined


def without_degenerate(faces: IntArray) -> IntArray:
    """Drop triangles that name a vertex twice; their neighbours then meet each other."""
    a, b, c = faces.T
    sound = (a != b) & (b != c) & (c != a)
    return faces if sound.all() else faces[sound]


def repeated_faces(faces: IntArray, edges: Edges) -> BoolArray:
    """Find triangles to drop because others have the same three corners, (F,) bool.

    One of each set stays where the surface around it needs it to be closed; none does where the set
    is a flap of no thickness that stands on a closed surface or by itself.
    """
    corners = np.sort(faces, axis=1)
    order = np.lexsort(corners.T)
    same = (corners[order[1:]] == corners[order[:-1]]).all(axis=1)
    if not same.any():
        return np.zeros(len(faces), dtype=np.bool_)
    group = np.empty(len(faces), dtype=np.int64)
    group[order] = np.concatenate([[0], np.cumsum(~same)])
    size = np.bincount(group)[group]
    others = edges.uses[edges.edge_of_half()].reshape(-1, 3) - size[:, None]
    wanted = (others % 2 == 1).any(axis=1)
    is_first = np.zeros(len(faces), dtype=np.bool_)
    is_first[order[np.concatenate([[True], ~same])]] = True
    drop: BoolArray = (size > 1) & ~(wanted & is_first)
    return drop


def _open_vertices(edges: Edges) -> IntArray:
    is_open = edges.uses == 1
    named = np.zeros(int(edges.high.max()) + 1, dtype=np.bool_)
    named[edges.low[is_open]] = named[edges.high[is_open]] = True
    return np.flatnonzero(named).astype(np.int32)


def _first_equal(points: FloatArray) -> Int64Array:
    """Row of the first point that is equal to each, (N,)."""
    # Places are numbered as they first appear, so each new highest number is a first one.
    _, place = join_equal(points)
    first = np.flatnonzero(np.diff(np.maximum.accumulate(place), prepend=-1))
    return np.asarray(first[place], dtype=np.int64)


def _first_within(points: FloatArray, radius_mm: float) -> Int64Array:
    """Row of the first point of each chain of points closer than `radius_mm`, (N,)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(radius_mm, output_type="ndarray")
    links = coo_array(
        (np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])),
        shape=(len(points), len(points)),
    )
    label = connected_components(links.tocsr(), directed=False)[1]
    _, first = np.unique(label, return_index=True)
    return np.asarray(first[label], dtype=np.int64)

"""Triangles inside a flat outline: filled, refined to an edge length, and made Delaunay.

The outline's own edges are never split or flipped, so a patch always meets the mesh around it edge
for edge.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from lossfill.body.topology import Edges, Int64Array, edges_of
from lossfill.mesh import BoolArray, FloatArray, IntArray

REFINE_ROUNDS = 12
"""Rounds of splitting; each divides the area of what is too large by three."""

FLIP_ROUNDS = 60
"""Rounds of flips between splits; a cap only, as flipping to Delaunay always ends by itself."""


def fill_outline(outlines: list[FloatArray]) -> IntArray:
    """Triangulate polygons (N, 2), outer ones counter-clockwise and holes clockwise.

    Returns (T, 3) triangles that name the points of all outlines in order.
    """
    triangles = manifold3d.triangulate([np.asarray(outline) for outline in outlines])
    return np.asarray(triangles, dtype=np.int32).reshape(-1, 3)


def folded_share(points: FloatArray, triangles: IntArray) -> float:
    """Area of triangles that lie face down as a share of the net area; infinite for no net area."""
    twice = _turn(*(points[triangles[:, k]] for k in range(3)))
    net = float(twice.sum())
    return float(-twice[twice < 0.0].sum()) / net if net > 0.0 else float("inf")


def refine(points: FloatArray, triangles: IntArray, edge_mm: float) -> tuple[FloatArray, IntArray]:
    """Split triangles until none is much larger than one with sides of `edge_mm`.

    Returns the points, the given ones first, and the triangles.
    """
    triangles = make_delaunay(points, triangles)
    limit = 0.9 * edge_mm**2  # twice the area of an equilateral triangle is 0.87 edge²
    for _ in range(REFINE_ROUNDS):
        a, b, c = (points[triangles[:, k]] for k in range(3))
        large = _turn(a, b, c) > 1.5 * limit
        # A split right beside a vertex would only make slivers that flipping cannot mend.
        centre = (a + b + c) / 3.0
        nearest = np.min([np.linalg.norm(corner - centre, axis=1) for corner in (a, b, c)], axis=0)
        large &= nearest > 0.5 * edge_mm
        if not large.any():
            break
        triangles = _split(triangles, large, len(points))
        points = np.concatenate([points, centre[large]])
        triangles = make_delaunay(points, triangles)
    return points, triangles


def make_delaunay(points: FloatArray, triangles: IntArray) -> IntArray:
    """Flip inner edges until each circle through a triangle is empty of its neighbours' corners."""
    for _ in range(FLIP_ROUNDS):
        edges = edges_of(triangles)
        inner = np.flatnonzero(edges.uses == 2)
        start = edges.first[inner]
        one, other = edges.halves[start], edges.halves[start + 1]
        a, b, c = _from_half(triangles, one)
        d = _from_half(triangles, other)[2]
        flip = _in_circle(points, a, b, c, d)
        # Both new triangles must be wound as the old ones were.
        flip &= _turn(points[c], points[a], points[d]) > 0.0
        flip &= _turn(points[d], points[b], points[c]) > 0.0
        flip &= ~_exists(edges, c, d)
        if not flip.any():
            break
        chosen = _apart(one[flip] // 3, other[flip] // 3, len(triangles))
        a, b, c, d = (values[flip][chosen] for values in (a, b, c, d))
        triangles = triangles.copy()
        triangles[one[flip][chosen] // 3] = np.stack([c, a, d], axis=1)
        triangles[other[flip][chosen] // 3] = np.stack([d, b, c], axis=1)
    return triangles


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Twice the signed area of a, b, c: positive where they turn left."""
    ab, ac = b - a, c - a
    twice: FloatArray = ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0]
    return twice


def _split(triangles: IntArray, large: BoolArray, n_points: int) -> IntArray:
    a, b, c = triangles[large].T
    new = np.arange(n_points, n_points + len(a), dtype=np.int32)
    thirds = [np.stack(corner, axis=1) for corner in ((a, b, new), (b, c, new), (c, a, new))]
    return np.concatenate([triangles[~large], *thirds])


def _from_half(
    triangles: IntArray, half: Int64Array
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]:
    face, corner = np.divmod(half, 3)
    return (
        triangles[face, corner],
        triangles[face, (corner + 1) % 3],
        triangles[face, (corner + 2) % 3],
    )


def _in_circle(points: FloatArray, a: IntArray, b: IntArray, c: IntArray, d: IntArray) -> BoolArray:
    """True where the edge a-b should be flipped: the angles at c and d add up to over 180°."""
    to_a, to_b = points[a] - points[c], points[b] - points[c]
    at_a, at_b = points[a] - points[d], points[b] - points[d]
    cos_c, sin_c = (to_a * to_b).sum(1), to_a[:, 0] * to_b[:, 1] - to_a[:, 1] * to_b[:, 0]
    cos_d, sin_d = (at_a * at_b).sum(1), at_b[:, 0] * at_a[:, 1] - at_b[:, 1] * at_a[:, 0]
    total = sin_c * cos_d + cos_c * sin_d
    # A square has a total of exactly zero; rounding must not flip it for ever.
    scale = np.linalg.norm(to_a, axis=1) * np.linalg.norm(to_b, axis=1)
    scale *= np.linalg.norm(at_a, axis=1) * np.linalg.norm(at_b, axis=1)
    return np.asarray(total < -1e-9 * scale)


def _exists(edges: Edges, c: IntArray, d: IntArray) -> BoolArray:
    stride = int(edges.high.max()) + 1
    key = np.minimum(c, d).astype(np.int64) * stride + np.maximum(c, d)
    known: BoolArray = np.isin(key, edges.low * stride + edges.high)
    return known


def _apart(one: Int64Array, other: Int64Array, n_faces: int) -> BoolArray:
    """Choose flips of which no two touch the same triangle."""
    order = np.arange(len(one))
    owner = np.full(n_faces, len(one))
    np.minimum.at(owner, one, order)
    np.minimum.at(owner, other, order)
    return np.asarray((owner[one] == order) & (owner[other] == order))

"""Closing a grid of skin points: over the full turn, or over an arc with flat ends."""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import FloatArray, Mesh


def close_wedge(points: FloatArray) -> Mesh:
    """Close a grid of points (rows along the profile, columns over an arc) with two flat ends.

    Parameters
    ----------
    points : (N, M, 3); the first and last rows lie on the axis, columns ascend counter-clockwise
    """
    n, m = points.shape[:2]
    poles = points[[0, -1]].mean(axis=1)
    poles[:, :2] = 0.0
    inner = points[1:-1]
    rows = n - 2
    vertices = np.vstack([inner.reshape(-1, 3), poles])
    top, bottom = rows * m, rows * m + 1
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(m - 1), indexing="ij")
    a = (i * m + j).ravel()
    skin = [np.stack([a, a + m + 1, a + 1], 1), np.stack([a, a + m, a + m + 1], 1)]
    k = np.arange(m - 1)
    last = (rows - 1) * m
    fans = [
        np.stack([np.full(m - 1, top), k, k + 1], 1),
        np.stack([np.full(m - 1, bottom), last + k + 1, last + k], 1),
    ]
    caps = [_cap(vertices, first, rows, m, (top, bottom)) for first in (0, m - 1)]
    caps[1] = caps[1][:, ::-1]
    return Mesh(vertices, np.vstack([*skin, *fans, *caps]).astype(np.int32))


def _cap(
    vertices: FloatArray, first: int, rows: int, m: int, poles: tuple[int, int]
) -> NDArray[np.intp]:
    """Triangles over one flat end; the outline runs pole, column `first`, pole."""
    outline = np.concatenate([[poles[0]], first + m * np.arange(rows), [poles[1]]])
    p = vertices[outline]
    flat = np.stack([np.hypot(p[:, 0], p[:, 1]), p[:, 2]], axis=1)
    # From the floor over the lip down the outside the outline runs clockwise in (r, z).
    triangles = manifold3d.triangulate([flat[::-1]])
    return outline[::-1][np.asarray(triangles, dtype=np.intp)]


def close_turn(points: FloatArray) -> Mesh:
    """Close a grid of points over the full turn (columns without the repeated last)."""
    n, m = points.shape[:2]
    poles = points[[0, -1]].mean(axis=1)
    poles[:, :2] = 0.0
    rows = n - 2
    vertices = np.vstack([points[1:-1].reshape(-1, 3), poles])
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(m), indexing="ij")
    a, b = (i * m + j).ravel(), (i * m + (j + 1) % m).ravel()
    k = np.arange(m)
    after, last = (k + 1) % m, (rows - 1) * m
    faces = [
        np.stack([a, b + m, b], 1),
        np.stack([a, a + m, b + m], 1),
        np.stack([np.full(m, rows * m), k, after], 1),
        np.stack([np.full(m, rows * m + 1), last + after, last + k], 1),
    ]
    return Mesh(vertices, np.vstack(faces).astype(np.int32))

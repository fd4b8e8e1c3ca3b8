"""Cut polygons into triangles."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError


def triangulate(
    corners: NDArray[np.integer[Any]],
    counts: NDArray[np.integer[Any]] | int,
    vertices: NDArray[np.floating[Any]],
) -> NDArray[np.integer[Any]]:
    """Cut polygons into triangles that keep the polygons' order and winding.

    Convex polygons (nearly all) become a fan from their first corner; the few others are cut one
    by one in the plane that fits them. Polygons of fewer than three corners vanish.

    Parameters
    ----------
    corners : (N,) vertex numbers of all polygons, one after the other
    counts : (P,) corners of each polygon, or one number where all have the same
    vertices : (V, 3)

    Returns
    -------
    (F, 3) triangles; for triangles alone a view of ``corners``.

    Raises
    ------
    InputError
        For a vertex number that does not exist.
    """
    if isinstance(counts, int):
        if counts == 3:
            return corners.reshape(-1, 3)
        counts = np.full(len(corners) // counts, counts)
    if bool((counts == 3).all()):
        return corners.reshape(-1, 3)
    check_indices(corners, len(vertices))
    firsts = np.cumsum(counts) - counts
    made = np.maximum(counts - 2, 0)
    out_firsts = np.cumsum(made) - made
    triangles = np.empty((int(made.sum()), 3), dtype=corners.dtype)
    for size in np.unique(counts[counts >= 3]):
        these = np.flatnonzero(counts == size)
        polygons = corners[firsts[these][:, None] + np.arange(size)]
        hub = np.broadcast_to(polygons[:, :1], (len(these), int(size) - 2))
        fans = np.stack([hub, polygons[:, 1:-1], polygons[:, 2:]], axis=-1)
        if size > 3:
            for bent in np.flatnonzero(~_fans_agree(fans, vertices)):
                fans[bent] = _cut(polygons[bent], vertices, fans[bent])
        triangles[out_firsts[these][:, None] + np.arange(int(size) - 2)] = fans
    return triangles


def check_indices(corners: NDArray[np.integer[Any]], n_vertices: int) -> None:
    """Refuse vertex numbers that do not exist (counted from 0).

    Raises
    ------
    InputError
        With the first number that is out of range.
    """
    if len(corners) == 0:
        return
    low, high = int(corners.min()), int(corners.max())
    if low < 0 or high >= n_vertices:
        raise InputError(
            f"a face uses point number {low if low < 0 else high} (counted from 0), but there are "
            f"{n_vertices} points: the file is damaged; export it again"
        )


def _fans_agree(
    fans: NDArray[np.integer[Any]], vertices: NDArray[np.floating[Any]]
) -> NDArray[np.bool_]:
    """Whether all triangles of each fan (P, T, 3) face the way that their sum does."""
    a, b, c = (vertices[fans[..., k]].astype(np.float64) for k in range(3))
    with np.errstate(invalid="ignore", over="ignore"):
        normals = np.cross(b - a, c - a)
        along = np.einsum("pti,pi->pt", normals, normals.sum(axis=1))
    backward: NDArray[np.bool_] = (along < 0).any(axis=1)
    return ~backward


def _cut(
    polygon: NDArray[np.integer[Any]],
    vertices: NDArray[np.floating[Any]],
    fan: NDArray[np.integer[Any]],
) -> NDArray[np.integer[Any]]:
    """Triangles of one polygon that is not convex; its fan where no clean cut exists."""
    import manifold3d

    points = vertices[polygon].astype(np.float64)
    if not np.isfinite(points).all():
        return fan
    points -= points.mean(axis=0)
    normal = np.cross(points, np.roll(points, -1, axis=0)).sum(axis=0)
    length = float(np.linalg.norm(normal))
    if length == 0:
        return fan
    normal /= length
    across = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    across /= np.linalg.norm(across)
    flat = np.stack([points @ across, points @ np.cross(normal, across)], axis=1)
    cut = np.asarray(manifold3d.triangulate([flat]))
    return polygon[cut] if cut.shape == fan.shape else fan

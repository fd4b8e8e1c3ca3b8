"""One side of a loss as a patch: in one part, thinned where it is dense, with its border."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lossfill import tolerances as tol
from lossfill.errors import UnsuitedError
from lossfill.mesh import FloatArray, IntArray, Mesh, face_vectors, part_of


def one_patch(mesh: Mesh) -> tuple[Mesh, float]:
    """The largest connected part of an open mesh, and the share of the area left out."""
    # Points that coincide are one, or a seam would come apart when laid flat.
    _, first, same = np.unique(mesh.vertices, axis=0, return_index=True, return_inverse=True)
    faces = same.reshape(-1)[mesh.faces]
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    i, j = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    links = coo_array((np.ones(len(i)), (i, j)), shape=(len(first), len(first)))
    _, part = connected_components(links, directed=False)
    welded = Mesh(mesh.vertices[first], faces.astype(np.int32))
    areas = np.linalg.norm(face_vectors(welded), axis=1)
    sums = np.bincount(part[faces[:, 0]], areas)
    largest = int(sums.argmax())
    patch = part_of(welded, part[faces[:, 0]] == largest)
    return patch, float(1.0 - sums[largest] / sums.sum())


def thinned(mesh: Mesh) -> Mesh:
    """The same with no more triangles than flattening needs; its border keeps its place."""
    if len(mesh.faces) <= tol.WRAP_TRIANGLES:
        return mesh
    import open3d

    dense = open3d.geometry.TriangleMesh(
        open3d.utility.Vector3dVector(mesh.vertices.copy()),
        open3d.utility.Vector3iVector(mesh.faces.copy()),
    )
    # Moving the border costs a hundred times what moving the skin does: the outline is what counts.
    thin = dense.simplify_quadric_decimation(tol.WRAP_TRIANGLES, boundary_weight=100.0)
    thin.remove_unreferenced_vertices()
    return Mesh(np.asarray(thin.vertices), np.asarray(thin.triangles))


def borders(mesh: Mesh) -> list[IntArray]:
    """The loops around a patch, counter-clockwise around the outer one, longest first.

    Raises
    ------
    InputError
        Where the patch has no border.
    """
    start, end = mesh.faces.ravel(), np.roll(mesh.faces, -1, axis=1).ravel()
    n = len(mesh.vertices)
    key, back = start.astype(np.int64) * n + end, end.astype(np.int64) * n + start
    free = ~np.isin(key, back)
    after: dict[int, list[int]] = {}
    for a, b in zip(start[free].tolist(), end[free].tolist(), strict=True):
        after.setdefault(a, []).append(b)
    loops = []
    while after:
        first = next(iter(after))
        loop, at = [], first
        while at in after:
            loop.append(at)
            ahead = after[at].pop()
            if not after[at]:
                del after[at]
            at = ahead
        loops.append(np.array(loop, dtype=np.int32))
    if not loops:
        raise UnsuitedError(
            "this side of the loss closes on itself: there is no edge to unroll from"
        )
    return sorted(loops, key=lambda loop: -_length(mesh.vertices[loop]))


def _length(points: FloatArray) -> float:
    return float(np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1).sum())


def where(mesh: Mesh, places: FloatArray, values: FloatArray, level: float) -> list[FloatArray]:
    """Where a value given at the points equals a level: segments in the flat, each (2, 2)."""
    off = values - level
    # A point exactly on the level counts as above it, so that a line passes it once.
    above = off >= 0.0
    mixed = mesh.faces[above[mesh.faces].any(axis=1) & ~above[mesh.faces].all(axis=1)]
    segments = []
    for face in mixed:
        ends = []
        for k in range(3):
            a, b = face[k], face[(k + 1) % 3]
            if above[a] != above[b]:
                share = off[a] / (off[a] - off[b])
                ends.append(places[a] + share * (places[b] - places[a]))
        segments.append(np.stack(ends))
    return segments


def chained(segments: list[FloatArray], axis: int) -> list[FloatArray]:
    """Join segments that run along one axis into lines."""
    if not segments:
        return []
    ordered = sorted((s[np.argsort(s[:, axis])] for s in segments), key=lambda s: float(s[0, axis]))
    lines = [list(ordered[0])]
    for a, b in ordered[1:]:
        if np.linalg.norm(a - lines[-1][-1]) < 1e-3:
            lines[-1].append(b)
        else:
            lines.append([a, b])
    return [np.array(line) for line in lines if len(line) > 1]

"""Meshes for the view: small, upright, and in a form that a browser takes as it is.

The file is two counts (vertices, triangles) as 32-bit integers, then positions (mm) and, where
there is one, a value for each vertex as 32-bit floats, then three corners of each triangle as
32-bit integers, all little-endian.
"""

from __future__ import annotations

import numpy as np

from lossfill.mesh import FloatArray, Mesh

VIEW_TRIANGLES = 160_000
"""Most triangles of the vessel in the view; the design keeps them all."""


def view_bytes(mesh: Mesh, values: FloatArray | None = None) -> bytes:
    """A mesh for the view.

    Parameters
    ----------
    mesh : vessel coordinates, mm
    values : (V,) to be coloured by, or None
    """
    parts = [
        np.array([len(mesh.vertices), len(mesh.faces)], dtype="<u4").tobytes(),
        mesh.vertices.astype("<f4").tobytes(),
        b"" if values is None else np.asarray(values).astype("<f4").tobytes(),
        mesh.faces.astype("<u4").tobytes(),
    ]
    return b"".join(parts)


def thinned(mesh: Mesh) -> Mesh:
    """The mesh with no more triangles than a view is quick with.

    Corners that share a cell are merged, in cells grown until few enough are left: it takes no
    second even for millions of triangles, and moves nothing by more than a cell.
    """
    if len(mesh.faces) <= VIEW_TRIANGLES:
        return mesh
    from lossfill.mesh import area_mm2

    # A closed mesh has about half as many vertices as triangles, each with a cell of its own.
    cell = float(np.sqrt(2.0 * area_mm2(mesh) / VIEW_TRIANGLES))
    for _ in range(8):
        merged = _merged(mesh, cell)
        if len(merged.faces) <= VIEW_TRIANGLES:
            break
        cell *= 1.15
    return merged


def _merged(mesh: Mesh, cell_mm: float) -> Mesh:
    cells = np.floor((mesh.vertices - mesh.bounds[0]) / cell_mm).astype(np.int64)
    wide = cells.max(axis=0) + 1
    key = (cells[:, 0] * wide[1] + cells[:, 1]) * wide[2] + cells[:, 2]
    _, owner, counts = np.unique(key, return_inverse=True, return_counts=True)
    places = np.stack([np.bincount(owner, mesh.vertices[:, k]) / counts for k in range(3)], axis=1)
    faces = owner[mesh.faces]
    a, b, c = faces.T
    faces = faces[(a != b) & (b != c) & (c != a)]
    return Mesh(places, faces.astype(mesh.faces.dtype))

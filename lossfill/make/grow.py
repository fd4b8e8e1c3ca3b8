"""A solid that is a little larger all over, as much as a thin film adds."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.mesh import FloatArray, Mesh, face_vectors, unit
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh


def grown(solid: Solid, by_mm: float) -> Solid:
    """Move every triangle outwards by a little.

    Each corner goes to where the planes of its triangles go, so that flat faces move by exactly so
    much and sharp edges stay sharp. Only for a film's thickness: creases narrower than it fold.

    Parameters
    ----------
    by_mm : 0 or more, mm
    """
    if by_mm == 0:
        return solid
    mesh = mesh_from_solid(solid)
    return solid_from_mesh(Mesh(mesh.vertices + by_mm * _ways(mesh), mesh.faces))


def _ways(mesh: Mesh) -> FloatArray:
    """For each corner the step u with n·u = 1 for the normals n about it, (V, 3)."""
    normals = unit(face_vectors(mesh))
    corners = mesh.vertices[mesh.faces]
    edges = unit(np.roll(corners, -1, axis=1) - corners)
    # By angle, not by area: a flat face counts the same however it is cut into triangles.
    cosines = -(edges * np.roll(edges, 1, axis=1)).sum(axis=2)
    angles = np.arccos(cosines.clip(-1, 1))
    squares = np.zeros((len(mesh.vertices), 3, 3))
    sums = np.zeros((len(mesh.vertices), 3))
    products = normals[:, :, None] * normals[:, None, :]
    for k in range(3):
        np.add.at(squares, mesh.faces[:, k], angles[:, k, None, None] * products)
        np.add.at(sums, mesh.faces[:, k], angles[:, k, None] * normals)
    # Where the planes leave a direction free, the corner does not move along it.
    inverse = np.linalg.pinv(squares, rcond=tol.GROW_FLAT, hermitian=True)
    steps = np.einsum("vij,vj->vi", inverse, sums)
    lengths = np.linalg.norm(steps, axis=1, keepdims=True)
    return np.asarray(steps * np.minimum(1.0, tol.GROW_MITER / np.maximum(lengths, 1e-12)))

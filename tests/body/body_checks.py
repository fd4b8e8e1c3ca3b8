"""What several tests of the body need."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal
from shapes import centroids

from lossfill.body import Body
from lossfill.mesh import BoolArray, FloatArray, Mesh, face_vectors, signed_volume_mm3


def assert_closed(body: Body) -> None:
    """Each edge has two triangles that run along it in opposite ways, and no vertex is idle."""
    faces = body.mesh.faces.astype(np.int64)
    tail, head = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    n = len(body.mesh.vertices)
    assert_array_equal(np.sort(tail * n + head), np.sort(head * n + tail))
    assert_array_equal(np.unique(faces), np.arange(n))
    assert body.patched.shape == (len(faces),)
    assert_allclose(signed_volume_mm3(body.mesh), body.solid.volume(), rtol=1e-9)


def normals(mesh: Mesh) -> FloatArray:
    """Unit normal of each triangle."""
    vectors = face_vectors(mesh)
    unit: FloatArray = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    return unit


def facing_out(mesh: Mesh) -> BoolArray:
    """True for the outer skin of a bowl whose ball is centred at (0, 0, 60)."""
    return np.asarray(((centroids(mesh) - [0.0, 0.0, 60.0]) * normals(mesh)).sum(1) > 0.0)

"""A fair sample of the body's surface: enough to fit by, and no more for a larger scan.

Fitting on a sample keeps the cost of frame and form the same for 40 thousand and for 3 million
triangles; only what lies near a loss is ever looked at in full.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.errors import AmbiguousShapeError
from lossfill.mesh import FloatArray, Mesh


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Points spread evenly over the measured surface.

    Parameters
    ----------
    points : (N, 3) mm
    normals : (N, 3) unit normals of the triangle that each point lies on
    calm_normals : (N, 3) unit normals averaged over `tolerances.NORMAL_CELL_MM`, for noisy scans
    area_mm2 : surface that one sample stands for
    """

    points: FloatArray
    normals: FloatArray
    calm_normals: FloatArray
    area_mm2: float

    def moved(self, matrix: FloatArray) -> Samples:
        """Return the samples under a (4, 4) rigid transform."""
        turn = matrix[:3, :3].T
        return Samples(
            self.points @ turn + matrix[:3, 3],
            self.normals @ turn,
            self.calm_normals @ turn,
            self.area_mm2,
        )

    def thinned(self, n: int) -> Samples:
        """Return about `n` of the samples, evenly; each then stands for more surface."""
        step = max(1, len(self.points) // n)
        return Samples(
            self.points[::step],
            self.normals[::step],
            self.calm_normals[::step],
            self.area_mm2 * step,
        )


def sample_body(body: Body, *, n: int, rng: np.random.Generator) -> Samples:
    """Spread `n` points over the measured part of the body, in scan coordinates.

    Systematic sampling along the running total of area: each triangle gets its share to within
    one point, so the sample is as even as a stratified one, in one pass.

    Raises
    ------
    AmbiguousShapeError
        Where nothing but closed scan holes is left.
    """
    mesh = body.mesh
    vectors, centres = _face_vectors_and_centres(mesh)
    areas = np.linalg.norm(vectors, axis=1)
    if body.patched.any():
        areas = np.where(body.patched, 0.0, areas)
    running = np.cumsum(areas)
    total = float(running[-1])
    if not total > 0:
        raise AmbiguousShapeError("no measured surface is left to fit a shape to")
    step = total / n
    where = np.searchsorted(running, (np.arange(n) + rng.random(n)) * step, side="right")
    face = np.minimum(where, len(areas) - 1)
    u, v = rng.random((2, n))
    over = u + v > 1
    u[over], v[over] = 1 - u[over], 1 - v[over]
    a, b, c = (mesh.vertices[mesh.faces[face, k]] for k in range(3))
    points = a + u[:, None] * (b - a) + v[:, None] * (c - a)
    normals = _unit(vectors[face])
    return Samples(points, normals, _calm(vectors, centres, points, normals), step)


def _face_vectors_and_centres(mesh: Mesh) -> tuple[FloatArray, FloatArray]:
    a = mesh.vertices[mesh.faces[:, 0]]
    b = mesh.vertices[mesh.faces[:, 1]]
    c = mesh.vertices[mesh.faces[:, 2]]
    return 0.5 * np.cross(b - a, c - a), (a + b + c) / 3.0


def _calm(
    vectors: FloatArray, centres: FloatArray, points: FloatArray, normals: FloatArray
) -> FloatArray:
    """Average the area vectors of all triangles in the cell that each point lies in."""
    low = centres.min(axis=0)
    span = centres.max(axis=0) - low
    # The grid stays small for a large vessel: the cell grows with it.
    cell = max(tol.NORMAL_CELL_MM, float((span.prod() / tol.NORMAL_CELLS_MAX) ** (1 / 3)))
    shape = np.floor(span / cell).astype(np.int64) + 1

    def key(at: FloatArray) -> NDArray[np.int64]:
        # Points may overhang the centres' box by part of a triangle.
        ijk = np.clip(np.floor((at - low) / cell).astype(np.int64), 0, shape - 1)
        flat: NDArray[np.int64] = (ijk[:, 0] * shape[1] + ijk[:, 1]) * shape[2] + ijk[:, 2]
        return flat

    face_key, point_key = key(centres), key(points)
    size = int(shape.prod())
    total = np.stack(
        [np.bincount(face_key, weights=vectors[:, k], minlength=size)[point_key] for k in range(3)],
        axis=1,
    )
    length = np.linalg.norm(total, axis=1, keepdims=True)
    return np.where(length > 0, total / np.maximum(length, 1e-300), normals)


def _unit(vectors: FloatArray) -> FloatArray:
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    unit: FloatArray = vectors / np.maximum(length, 1e-300)
    return unit

"""A fair sample of the body's surface: enough to fit by, and no more for a larger scan.

Fitting on a sample keeps the cost of frame and form the same for 40 thousand and for 3 million
triangles; only what lies near a loss is ever looked at in full.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.errors import AmbiguousShapeError
from lossfill.mesh import BoolArray, FloatArray, Mesh, unit

Single = NDArray[np.float32]


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
        """Return the samples under a (4, 4) rigid or mirrored transform: normals stay outward."""
        turn = matrix[:3, :3].T
        return Samples(
            self.points @ turn + matrix[:3, 3],
            self.normals @ turn,
            self.calm_normals @ turn,
            self.area_mm2,
        )

    def scaled(self, factor: float) -> Samples:
        """Return the samples with all lengths times a factor, about the origin."""
        return Samples(
            factor * self.points, self.normals, self.calm_normals, factor**2 * self.area_mm2
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
    return sample_mesh(body.mesh, n=n, rng=rng, left_out=body.patched)


def sample_mesh(
    mesh: Mesh, *, n: int, rng: np.random.Generator, left_out: BoolArray | None = None
) -> Samples:
    """Spread `n` points over a mesh, (F,) `left_out` of its triangles excepted; see `sample_body`.

    Raises
    ------
    AmbiguousShapeError
        Where nothing is left.
    """
    faces = _Faces.of(mesh)
    areas = faces.areas
    if left_out is not None and left_out.any():
        areas = np.where(left_out, 0.0, areas)
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
    normals = unit(np.cross(b - a, c - a))
    return Samples(points, normals, _calm(faces, points, normals), step)


@dataclass(frozen=True, slots=True, eq=False)
class _Faces:
    """All triangles by columns, in single precision about `origin`: they only weigh and average.

    Parameters
    ----------
    vectors, centres : area vectors and middles, three arrays of (F,) each
    origin : (3,) mm
    """

    vectors: tuple[Single, Single, Single]
    centres: tuple[Single, Single, Single]
    origin: FloatArray

    @property
    def areas(self) -> FloatArray:
        """Area of each triangle, (F,) mm²."""
        x, y, z = self.vectors
        result: FloatArray = np.sqrt(x * x + y * y + z * z).astype(np.float64)
        return result

    @staticmethod
    def of(mesh: Mesh) -> _Faces:
        origin = mesh.bounds.mean(axis=0)
        columns = [(mesh.vertices[:, k] - origin[k]).astype(np.float32) for k in range(3)]
        index = [np.ascontiguousarray(mesh.faces[:, k]) for k in range(3)]
        a, b, c = ([np.take(column, corner) for column in columns] for corner in index)
        third = np.float32(1 / 3)
        x, y, z = ((a[k] + b[k] + c[k]) * third for k in range(3))
        for k in range(3):
            b[k] -= a[k]
            c[k] -= a[k]
        half = np.float32(0.5)
        vectors = (
            half * (b[1] * c[2] - b[2] * c[1]),
            half * (b[2] * c[0] - b[0] * c[2]),
            half * (b[0] * c[1] - b[1] * c[0]),
        )
        return _Faces(vectors, (x, y, z), origin)


def _calm(faces: _Faces, points: FloatArray, normals: FloatArray) -> FloatArray:
    """Average the area vectors of the triangles in the cell that each point lies in."""
    # A fine scan has hundreds in a cell: some of them do.
    some = slice(None, None, max(1, len(faces.centres[0]) // tol.NORMAL_TRIANGLES))
    centres = [column[some] for column in faces.centres]
    low = np.array([column.min() for column in centres])
    span = np.array([column.max() for column in centres]) - low
    # The grid stays small for a large vessel: the cell grows with it.
    cell = max(tol.NORMAL_CELL_MM, float((span.prod() / tol.NORMAL_CELLS_MAX) ** (1 / 3)))
    shape = np.floor(span / cell).astype(np.int64) + 1

    def key(columns: list[Single] | list[FloatArray]) -> NDArray[np.int64]:
        # Points may overhang the centres' box by part of a triangle.
        i, j, k = (
            np.clip(((column - low[axis]) / cell).astype(np.int64), 0, shape[axis] - 1)
            for axis, column in enumerate(columns)
        )
        flat: NDArray[np.int64] = (i * shape[1] + j) * shape[2] + k
        return flat

    face_key = key(centres)
    point_key = key([points[:, k] - faces.origin[k] for k in range(3)])
    size = int(shape.prod())

    def summed(values: NDArray[np.floating[Any]]) -> FloatArray:
        in_cells = np.bincount(face_key, values[some], minlength=size).astype(np.float64)
        return in_cells[point_key]

    total = np.stack([summed(vector) for vector in faces.vectors], axis=1)
    length = np.linalg.norm(total, axis=1)
    # Both skins of a thin wall may lie in one cell: together they say nothing.
    agreed = length > tol.NORMAL_AGREEMENT * summed(faces.areas)
    return np.where(agreed[:, None], total / np.maximum(length, 1e-300)[:, None], normals)
